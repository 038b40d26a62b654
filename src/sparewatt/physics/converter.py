"""Boards that change volts: duty and conduction, efficiency, limits, passing through, dropping out, restarting.

Two views: inside (duty ratios, coil current) for choosing and judging a board, outside (watts in, watts out, limits) for
solving a rig.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "STEP_UP_FAR", "Chopped", "ChopperCurrent", "board_edge", "board_loss", "boost_output", "boost_ratio",
    "boost_ratio_light", "buck_boost_duty", "buck_boost_ratio", "buck_ratio", "chopped_output", "chopper_current",
    "critical_boost", "critical_buck", "critical_buck_boost", "honest_power", "input_capacitance", "input_power",
    "output_power", "restart_voltage",
]  # fmt: skip


# Above this step-up ratio expect less than 80 %. Common practice, no source.
STEP_UP_FAR: Final = 5.0


class Chopped(NamedTuple):
    """Mean volts, rms volts and efficiency of a chopper on a resistor."""

    mean: F
    rms: F
    efficiency: F


class ChopperCurrent(NamedTuple):
    """Highest and lowest coil current, and their difference."""

    high: F
    low: F
    ripple: F


# ---- duty -----------------------------------------------------------------------------------------------------------


def buck_boost_duty(v_in: ArrayLike, *, v_out: ArrayLike) -> F:
    """Share of the time the switch of a board that does both is on.

    duty = v_out/(v_in + v_out)

    Worked: buck_boost_duty(220.0, v_out=660.0) = 0.75
    Source: [erickson]
    """
    v = arr(v_out)
    return out(v / (arr(v_in) + v))


def critical_buck(duty: ArrayLike) -> F:
    """Critical conduction number of a step-down board.

    k = 1 - duty

    Worked: critical_buck(0.4167) = 0.5833
    Source: [erickson]
    """
    return out(1.0 - arr(duty))


def critical_boost(duty: ArrayLike) -> F:
    """Critical conduction number of a step-up board.

    k = duty*(1 - duty)^2

    Worked: critical_boost(0.6) = 0.096
    Source: [erickson]
    """
    d = arr(duty)
    return out(d * (1.0 - d) ** 2)


def critical_buck_boost(duty: ArrayLike) -> F:
    """Critical conduction number of a board that does both.

    k = (1 - duty)^2

    Worked: critical_buck_boost(0.6) = 0.16
    Source: [erickson]
    """
    return out((1.0 - arr(duty)) ** 2)


def buck_ratio(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in of a step-down board, with the coil current stopping or not.

    duty where k_conduction >= 1 - duty, else 2/(1 + sqrt(1 + 4*k_conduction/duty^2))

    Loss-free, no controller.
    Worked: buck_ratio(0.4167, k_conduction=0.2) = 0.5938
    Source: [erickson]
    """
    d, k = arr(duty), arr(k_conduction)
    with np.errstate(divide="ignore"):
        light = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * k / d**2))
    return out(np.where(k >= critical_buck(d), d, light))


def boost_ratio(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in of a step-up board, with the coil current stopping or not.

    1/(1 - duty) where k_conduction >= duty*(1 - duty)^2, else (1 + sqrt(1 + 4*duty^2/k_conduction))/2

    Loss-free, no controller: a fixed duty drives the volts up at light load.
    Worked: boost_ratio(0.6, k_conduction=0.048) = 3.284
    Source: [erickson]
    """
    d, k = arr(duty), arr(k_conduction)
    with np.errstate(divide="ignore"):
        full = 1.0 / (1.0 - d)
    return out(np.where(k >= critical_boost(d), full, boost_ratio_light(d, k_conduction=k)))


def boost_ratio_light(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in of a step-up board whose coil current stops in each cycle.

    ratio = (1 + sqrt(1 + 4*duty^2/k_conduction))/2

    Worked: boost_ratio_light(0.6, k_conduction=0.048) = 3.284
    Source: [erickson]
    """
    with np.errstate(divide="ignore"):
        return out(0.5 * (1.0 + np.sqrt(1.0 + 4.0 * arr(duty) ** 2 / arr(k_conduction))))


def buck_boost_ratio(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in (both taken positive) of a board that does both.

    duty/(1 - duty) where k_conduction >= (1 - duty)^2, else duty/sqrt(k_conduction)

    Worked: buck_boost_ratio(0.25, k_conduction=2.0) = 0.3333
    Source: [erickson]
    """
    d, k = arr(duty), arr(k_conduction)
    with np.errstate(divide="ignore"):
        return out(np.where(k >= critical_buck_boost(d), d / (1.0 - d), d / np.sqrt(k)))


def chopped_output(v_in: ArrayLike, *, duty: ArrayLike, v_closed: ArrayLike = 0.0) -> Chopped:
    """A resistor behind a switch that opens and closes, with no coil.

    mean = duty*(v_in - v_closed); rms = sqrt(duty)*(v_in - v_closed); efficiency = 1 - v_closed/v_in

    Worked: chopped_output(230.0, duty=0.4, v_closed=2.0) = (91.2, 144.2, 0.9913)
    Source: [bimbhra]
    """
    d, v = arr(duty), arr(v_in) - arr(v_closed)
    return Chopped(out(d * v), out(np.sqrt(d) * v), out(v / arr(v_in) + 0.0 * d))


def chopper_current(
    v_in: ArrayLike, *, duty: ArrayLike, r_load: ArrayLike, inductance: ArrayLike, frequency: ArrayLike
) -> ChopperCurrent:
    """Coil current of a chopper on resistor and coil, exactly.

    high = (v_in/r)*(1 - exp(-D T r/L))/(1 - exp(-T r/L)), low = (v_in/r)*(exp(D T r/L) - 1)/(exp(T r/L) - 1)

    Worked: chopper_current(220.0, duty=0.5, r_load=10.0, inductance=15e-3, frequency=1250.0) = (12.458, 9.542, 2.916)
    Source: [bimbhra]
    """
    r, d = arr(r_load), arr(duty)
    cycle = r / (arr(inductance) * arr(frequency))
    full = arr(v_in) / r
    high = full * np.expm1(-d * cycle) / np.expm1(-cycle)
    low = full * np.exp((d - 1.0) * cycle) * np.expm1(-d * cycle) / np.expm1(-cycle)
    return ChopperCurrent(out(high), out(low), out(high - low))


# ---- watts in, watts out --------------------------------------------------------------------------------------------


def board_loss(p_out: ArrayLike, *, loss_0: ArrayLike, loss_1: ArrayLike, loss_2: ArrayLike) -> F:
    """Watts a board keeps.

    p_loss = loss_0 + loss_1*p_out + loss_2*p_out^2

    loss_0 is the idle draw; the others stand for diodes and for resistance.
    Worked: board_loss(100.0, loss_0=0.5, loss_1=0.06, loss_2=2e-4) = 8.5
    Source: [loss_polynomial]
    """
    p = arr(p_out)
    return out(arr(loss_0) + (arr(loss_1) + arr(loss_2) * p) * p)


def input_power(
    p_out: ArrayLike, *, loss_0: ArrayLike = 0.0, loss_1: ArrayLike = 0.0, loss_2: ArrayLike = 0.0
) -> F:
    """Watts a board takes in for some watts out.

    p_in = p_out + loss_0 + loss_1*p_out + loss_2*p_out^2

    Worked: input_power(100.0, loss_0=0.5, loss_1=0.06, loss_2=2e-4) = 108.5
    Source: [loss_polynomial]
    """
    return out(arr(p_out) + board_loss(p_out, loss_0=loss_0, loss_1=loss_1, loss_2=loss_2))


def output_power(
    p_in: ArrayLike, *, loss_0: ArrayLike = 0.0, loss_1: ArrayLike = 0.0, loss_2: ArrayLike = 0.0
) -> F:
    """Watts a board gives for some watts in: the inverse of `input_power`.

    p_out = 2*(p_in - loss_0)/(b + sqrt(b^2 + 4*loss_2*(p_in - loss_0))), b = 1 + loss_1

    Negative below the idle draw: it then gives nothing and its input sags.
    Worked: output_power(108.5, loss_0=0.5, loss_1=0.06, loss_2=2e-4) = 100
    Source: [loss_polynomial]
    """
    c, b = arr(p_in) - arr(loss_0), 1.0 + arr(loss_1)
    return out(2.0 * c / (b + np.sqrt(b * b + 4.0 * arr(loss_2) * c)))


def input_capacitance(
    v_bus: ArrayLike, *, p_load: ArrayLike, inductance: ArrayLike, r_source: ArrayLike
) -> F:
    """Smallest capacitor at a board's input that keeps it from swinging against the machine's coil.

    capacitance = inductance*p_load/(r_source*v_bus^2)

    Fit five times as much, of a low-loss kind.
    Worked: input_capacitance(20.0, p_load=136.0, inductance=1e-3, r_source=0.25) = 1.36e-3
    Source: [damping_band]
    """
    return out(arr(inductance) * arr(p_load) / (arr(r_source) * arr(v_bus) ** 2))


# ---- limits ---------------------------------------------------------------------------------------------------------


def board_edge(v_in: ArrayLike, *, i_limit: ArrayLike, eta_board: ArrayLike) -> F:
    """The board's own edge: most watts it passes on at some input volts.

    p_edge = v_in*i_limit*eta_board

    Worked: board_edge(10.0, i_limit=12.0, eta_board=0.875) = 105
    Source: [constant_power_load]
    """
    return out(arr(v_in) * arr(i_limit) * arr(eta_board))


def honest_power(
    v_in: ArrayLike,
    *,
    i_limit: ArrayLike,
    eta_board: ArrayLike,
    p_print: ArrayLike,
    share_honest: ArrayLike = 0.5,
) -> F:
    """Watts to expect from a board for hours.

    p = min(v_in*i_limit*eta_board, share_honest*p_print)

    The print holds at the highest input volts with a fan: half of it is common practice, no source.
    Worked: honest_power(12.0, i_limit=12.0, eta_board=0.85, p_print=1200.0) = 122.4
    Source: [board_print]
    """
    return out(
        np.minimum(board_edge(v_in, i_limit=i_limit, eta_board=eta_board), arr(share_honest) * arr(p_print))
    )


def boost_output(v_in: ArrayLike, *, v_set: ArrayLike, v_loss: ArrayLike = 0.0) -> F:
    """Volts out of a step-up board.

    v_out = max(v_set, v_in - v_loss)

    Above its setting it is a coil and a diode: it holds back neither volts nor amps.
    Worked: boost_output(30.0, v_set=14.4, v_loss=0.5) = 29.5
    Source: [erickson]
    """
    return out(np.maximum(arr(v_set), arr(v_in) - arr(v_loss)))


# ---- waking and sleeping --------------------------------------------------------------------------------------------


def restart_voltage(v_sleep: ArrayLike, *, r_source: ArrayLike, p_load: ArrayLike) -> F:
    """Waking volts above which a board stops pulsing on and off.

    v = v_sleep + r_source*p_load/v_sleep, or 2*sqrt(r_source*p_load) where the point collapses before v_sleep

    When the board lets go, the volts spring back to what the machine makes open. Waking only above that means the next
    start finds a running point. p_load: watts the board takes in.
    Worked: restart_voltage(10.0, r_source=0.9, p_load=40.0) = 13.6
    Source: [brown_out]
    """
    v, rp = arr(v_sleep), arr(r_source) * arr(p_load)
    return out(np.where(v * v >= rp, v + rp / v, 2.0 * np.sqrt(rp)))
