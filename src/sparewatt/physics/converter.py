"""Boards that change volts: duty and conduction, efficiency, limits, passing through, dropping out, restarting.

Two views: inside (duty ratios, coil current) for choosing and judging a board, outside (watts in, watts out, limits) for
solving a rig.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "HYSTERESIS_WANTED", "STEP_UP_FAR", "Chopped", "ChopperCurrent", "Curve", "DampingBand", "board_edge",
    "board_loss", "boost_duty", "boost_inductance", "boost_output", "boost_ratio", "boost_ratio_light",
    "buck_boost_duty", "buck_boost_ratio", "buck_duty", "buck_output", "buck_ratio", "chopped_output",
    "chopper_current", "chopper_ripple", "conduction_number", "critical_boost", "critical_buck", "critical_buck_boost",
    "damping_band", "efficiency_at", "honest_power", "input_capacitance", "input_current", "input_power",
    "input_resistance", "inverter_efficiency", "inverter_input", "lockout_power", "output_power", "pass_through_speed",
    "passes_through", "restart_voltage", "steps_far",
]  # fmt: skip

F = NDArray[np.float64]

# Above this step-up ratio expect less than 80 %. Common practice, no source.
STEP_UP_FAR: Final = 5.0
# Gap between switching off and waking again, as a share of the lower volts, that usually stops pulsing. Common practice.
HYSTERESIS_WANTED: Final = 0.2


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


class Curve(NamedTuple):
    """Efficiency read off a curve, and whether it was read beyond the curve's ends (held flat there)."""

    efficiency: F
    outside: NDArray[np.bool_]


class DampingBand(NamedTuple):
    """Source resistance between which a constant-power load behind coil and capacitor is steady; empty if low >= high."""

    low: F
    high: F


def _f(x: ArrayLike) -> F:
    return np.asarray(x, dtype=np.float64)


def _out(x: ArrayLike) -> F:
    """The array itself, or a plain np.float64 where the inputs were numbers."""
    result: F = np.asarray(x, dtype=np.float64)[()]
    return result


# ---- duty -----------------------------------------------------------------------------------------------------------


def buck_duty(v_in: ArrayLike, *, v_out: ArrayLike) -> F:
    """Share of the time the switch of a step-down board is on.

    duty = v_out/v_in

    Loss-free, coil current never zero. Above 1: it cannot.
    Worked: buck_duty(36.0, v_out=14.4) = 0.4
    Source: [erickson]
    """
    return _out(_f(v_out) / _f(v_in))


def boost_duty(v_in: ArrayLike, *, v_out: ArrayLike) -> F:
    """Share of the time the switch of a step-up board is on.

    duty = 1 - v_in/v_out

    Loss-free, coil current never zero. Below 0: the volts pass through.
    Worked: boost_duty(24.0, v_out=110.0) = 0.7818
    Source: [erickson]
    """
    return _out(1.0 - _f(v_in) / _f(v_out))


def buck_boost_duty(v_in: ArrayLike, *, v_out: ArrayLike) -> F:
    """Share of the time the switch of a board that does both is on.

    duty = v_out/(v_in + v_out)

    Worked: buck_boost_duty(220.0, v_out=660.0) = 0.75
    Source: [erickson]
    """
    out = _f(v_out)
    return _out(out / (_f(v_in) + out))


def conduction_number(inductance: ArrayLike, *, r_load: ArrayLike, frequency: ArrayLike) -> F:
    """How firmly the coil keeps its current through one cycle.

    k = 2*inductance*frequency/r_load

    Above the critical number of the board the coil current never stops and the simple duty laws hold.
    Worked: conduction_number(48e-6, r_load=50.0, frequency=25e3) = 0.048
    Source: [erickson]
    """
    return _out(2.0 * _f(inductance) * _f(frequency) / _f(r_load))


def critical_buck(duty: ArrayLike) -> F:
    """Critical conduction number of a step-down board.

    k = 1 - duty

    Worked: critical_buck(0.4167) = 0.5833
    Source: [erickson]
    """
    return _out(1.0 - _f(duty))


def critical_boost(duty: ArrayLike) -> F:
    """Critical conduction number of a step-up board.

    k = duty*(1 - duty)^2

    Worked: critical_boost(0.6) = 0.096
    Source: [erickson]
    """
    d = _f(duty)
    return _out(d * (1.0 - d) ** 2)


def critical_buck_boost(duty: ArrayLike) -> F:
    """Critical conduction number of a board that does both.

    k = (1 - duty)^2

    Worked: critical_buck_boost(0.6) = 0.16
    Source: [erickson]
    """
    return _out((1.0 - _f(duty)) ** 2)


def buck_ratio(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in of a step-down board, with the coil current stopping or not.

    duty where k_conduction >= 1 - duty, else 2/(1 + sqrt(1 + 4*k_conduction/duty^2))

    Loss-free, no controller.
    Worked: buck_ratio(0.4167, k_conduction=0.2) = 0.5938
    Source: [erickson]
    """
    d, k = _f(duty), _f(k_conduction)
    with np.errstate(divide="ignore"):
        light = 2.0 / (1.0 + np.sqrt(1.0 + 4.0 * k / d**2))
    return _out(np.where(k >= critical_buck(d), d, light))


def boost_ratio(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in of a step-up board, with the coil current stopping or not.

    1/(1 - duty) where k_conduction >= duty*(1 - duty)^2, else (1 + sqrt(1 + 4*duty^2/k_conduction))/2

    Loss-free, no controller: a fixed duty drives the volts up at light load.
    Worked: boost_ratio(0.6, k_conduction=0.048) = 3.284
    Source: [erickson]
    """
    d, k = _f(duty), _f(k_conduction)
    with np.errstate(divide="ignore"):
        full = 1.0 / (1.0 - d)
    return _out(np.where(k >= critical_boost(d), full, boost_ratio_light(d, k_conduction=k)))


def boost_ratio_light(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in of a step-up board whose coil current stops in each cycle.

    ratio = (1 + sqrt(1 + 4*duty^2/k_conduction))/2

    Worked: boost_ratio_light(0.6, k_conduction=0.048) = 3.284
    Source: [erickson]
    """
    with np.errstate(divide="ignore"):
        return _out(0.5 * (1.0 + np.sqrt(1.0 + 4.0 * _f(duty) ** 2 / _f(k_conduction))))


def buck_boost_ratio(duty: ArrayLike, *, k_conduction: ArrayLike) -> F:
    """Volts out over volts in (both taken positive) of a board that does both.

    duty/(1 - duty) where k_conduction >= (1 - duty)^2, else duty/sqrt(k_conduction)

    Worked: buck_boost_ratio(0.25, k_conduction=2.0) = 0.3333
    Source: [erickson]
    """
    d, k = _f(duty), _f(k_conduction)
    with np.errstate(divide="ignore"):
        return _out(np.where(k >= critical_buck_boost(d), d / (1.0 - d), d / np.sqrt(k)))


def boost_inductance(duty: ArrayLike, *, r_load: ArrayLike, frequency: ArrayLike) -> F:
    """Smallest coil that keeps a step-up board's current going.

    inductance = duty*(1 - duty)^2*r_load/(2*frequency)

    Worked: boost_inductance(0.6, r_load=50.0, frequency=25e3) = 96e-6
    Source: [erickson]
    """
    return _out(critical_boost(duty) * _f(r_load) / (2.0 * _f(frequency)))


def chopped_output(v_in: ArrayLike, *, duty: ArrayLike, v_closed: ArrayLike = 0.0) -> Chopped:
    """A resistor behind a switch that opens and closes, with no coil.

    mean = duty*(v_in - v_closed); rms = sqrt(duty)*(v_in - v_closed); efficiency = 1 - v_closed/v_in

    Worked: chopped_output(230.0, duty=0.4, v_closed=2.0) = (91.2, 144.2, 0.9913)
    Source: [bimbhra]
    """
    d, v = _f(duty), _f(v_in) - _f(v_closed)
    return Chopped(_out(d * v), _out(np.sqrt(d) * v), _out(v / _f(v_in) + 0.0 * d))


def chopper_current(
    v_in: ArrayLike, *, duty: ArrayLike, r_load: ArrayLike, inductance: ArrayLike, frequency: ArrayLike
) -> ChopperCurrent:
    """Coil current of a chopper on resistor and coil, exactly.

    high = (v_in/r)*(1 - exp(-D T r/L))/(1 - exp(-T r/L)), low = (v_in/r)*(exp(D T r/L) - 1)/(exp(T r/L) - 1)

    Worked: chopper_current(220.0, duty=0.5, r_load=10.0, inductance=15e-3, frequency=1250.0) = (12.458, 9.542, 2.916)
    Source: [bimbhra]
    """
    r, d = _f(r_load), _f(duty)
    cycle = r / (_f(inductance) * _f(frequency))
    full = _f(v_in) / r
    high = full * np.expm1(-d * cycle) / np.expm1(-cycle)
    low = full * np.exp((d - 1.0) * cycle) * np.expm1(-d * cycle) / np.expm1(-cycle)
    return ChopperCurrent(_out(high), _out(low), _out(high - low))


def chopper_ripple(v_swing: ArrayLike, *, duty: ArrayLike, inductance: ArrayLike, frequency: ArrayLike) -> F:
    """Coil ripple, top to bottom, where the coil is large against its resistor.

    ripple = v_swing*duty*(1 - duty)/(inductance*frequency)

    v_swing: between the two volts the coil is switched to (twice the supply for a bridge that reverses it).
    Worked: chopper_ripple(480.0, duty=0.75, inductance=4.2, frequency=1000.0) = 0.02143
    Source: [fitzgerald]
    """
    d = _f(duty)
    return _out(_f(v_swing) * d * (1.0 - d) / (_f(inductance) * _f(frequency)))


# ---- watts in, watts out --------------------------------------------------------------------------------------------


def efficiency_at(p_out: ArrayLike, *, p_points: ArrayLike, eta_points: ArrayLike) -> Curve:
    """Efficiency off a measured curve.

    straight lines between the points, flat beyond both ends (outside is true there)

    Straight lines never overshoot, so the answer stays between its neighbours. p_points must rise.
    Worked: efficiency_at(60.0, p_points=[5.0, 50.0, 150.0], eta_points=[0.78, 0.9, 0.87]) = (0.897, False)
    Source: [interpolation]
    """
    p, points = _f(p_out), _f(p_points)
    eta = np.interp(p, points, _f(eta_points))
    return Curve(_out(eta), np.asarray((p < points[0]) | (p > points[-1])))


def board_loss(p_out: ArrayLike, *, loss_0: ArrayLike, loss_1: ArrayLike, loss_2: ArrayLike) -> F:
    """Watts a board keeps.

    p_loss = loss_0 + loss_1*p_out + loss_2*p_out^2

    loss_0 is the idle draw; the others stand for diodes and for resistance.
    Worked: board_loss(100.0, loss_0=0.5, loss_1=0.06, loss_2=2e-4) = 8.5
    Source: [loss_polynomial]
    """
    p = _f(p_out)
    return _out(_f(loss_0) + (_f(loss_1) + _f(loss_2) * p) * p)


def input_power(
    p_out: ArrayLike, *, loss_0: ArrayLike = 0.0, loss_1: ArrayLike = 0.0, loss_2: ArrayLike = 0.0
) -> F:
    """Watts a board takes in for some watts out.

    p_in = p_out + loss_0 + loss_1*p_out + loss_2*p_out^2

    Worked: input_power(100.0, loss_0=0.5, loss_1=0.06, loss_2=2e-4) = 108.5
    Source: [loss_polynomial]
    """
    return _out(_f(p_out) + board_loss(p_out, loss_0=loss_0, loss_1=loss_1, loss_2=loss_2))


def output_power(
    p_in: ArrayLike, *, loss_0: ArrayLike = 0.0, loss_1: ArrayLike = 0.0, loss_2: ArrayLike = 0.0
) -> F:
    """Watts a board gives for some watts in: the inverse of `input_power`.

    p_out = 2*(p_in - loss_0)/(b + sqrt(b^2 + 4*loss_2*(p_in - loss_0))), b = 1 + loss_1

    Negative below the idle draw: it then gives nothing and its input sags.
    Worked: output_power(108.5, loss_0=0.5, loss_1=0.06, loss_2=2e-4) = 100
    Source: [loss_polynomial]
    """
    c, b = _f(p_in) - _f(loss_0), 1.0 + _f(loss_1)
    return _out(2.0 * c / (b + np.sqrt(b * b + 4.0 * _f(loss_2) * c)))


def input_current(p_load: ArrayLike, *, v_in: ArrayLike, eta_board: ArrayLike) -> F:
    """Amps a regulating board draws.

    i = p_load/(eta_board*v_in)

    The lower its input volts, the more amps for the same load.
    Worked: input_current(105.0, v_in=10.0, eta_board=0.875) = 12
    Source: [constant_power_load]
    """
    return _out(_f(p_load) / (_f(eta_board) * _f(v_in)))


def input_resistance(v_in: ArrayLike, *, p_load: ArrayLike) -> F:
    """Slope resistance of a regulating board's input: negative.

    r = -v_in^2/p_load

    p_load: the watts it takes in.
    Worked: input_resistance(24.0, p_load=100.0) = -5.76
    Source: [erickson_input]
    """
    return _out(-(_f(v_in) ** 2) / _f(p_load))


def damping_band(
    v_bus: ArrayLike, *, p_load: ArrayLike, inductance: ArrayLike, capacitance: ArrayLike
) -> DampingBand:
    """Source resistance for which coil, capacitor and a constant-power load do not swing.

    inductance*p_load/(capacitance*v_bus^2) < r_source < v_bus^2/p_load

    Too little and it rings ever higher, too much and it collapses. Small swings.
    Worked: damping_band(24.0, p_load=100.0, inductance=1e-3, capacitance=1e-3) = (0.1736, 5.76)
    Source: [damping_band]
    """
    high = _f(v_bus) ** 2 / _f(p_load)
    return DampingBand(_out(_f(inductance) / (_f(capacitance) * high)), _out(high + 0.0 * _f(inductance)))


def input_capacitance(
    v_bus: ArrayLike, *, p_load: ArrayLike, inductance: ArrayLike, r_source: ArrayLike
) -> F:
    """Smallest capacitor at a board's input that keeps it from swinging against the machine's coil.

    capacitance = inductance*p_load/(r_source*v_bus^2)

    Fit five times as much, of a low-loss kind.
    Worked: input_capacitance(20.0, p_load=136.0, inductance=1e-3, r_source=0.25) = 1.36e-3
    Source: [damping_band]
    """
    return _out(_f(inductance) * _f(p_load) / (_f(r_source) * _f(v_bus) ** 2))


# ---- limits ---------------------------------------------------------------------------------------------------------


def board_edge(v_in: ArrayLike, *, i_limit: ArrayLike, eta_board: ArrayLike) -> F:
    """The board's own edge: most watts it passes on at some input volts.

    p_edge = v_in*i_limit*eta_board

    Worked: board_edge(10.0, i_limit=12.0, eta_board=0.875) = 105
    Source: [constant_power_load]
    """
    return _out(_f(v_in) * _f(i_limit) * _f(eta_board))


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
    return _out(
        np.minimum(board_edge(v_in, i_limit=i_limit, eta_board=eta_board), _f(share_honest) * _f(p_print))
    )


def boost_output(v_in: ArrayLike, *, v_set: ArrayLike, v_loss: ArrayLike = 0.0) -> F:
    """Volts out of a step-up board.

    v_out = max(v_set, v_in - v_loss)

    Above its setting it is a coil and a diode: it holds back neither volts nor amps.
    Worked: boost_output(30.0, v_set=14.4, v_loss=0.5) = 29.5
    Source: [erickson]
    """
    return _out(np.maximum(_f(v_set), _f(v_in) - _f(v_loss)))


def passes_through(v_in: ArrayLike, *, v_set: ArrayLike, v_loss: ArrayLike = 0.0) -> F:
    """1 where a step-up board passes its input straight through, else 0.

    v_in - v_loss > v_set

    Worked: passes_through(30.0, v_set=14.4, v_loss=0.5) = 1
    Source: [erickson]
    """
    return _out(_f(v_in) - _f(v_loss) > _f(v_set))


def pass_through_speed(
    v_set: ArrayLike, *, k_emf: ArrayLike, v_loss: ArrayLike = 0.0, v_drop: ArrayLike = 0.0, i_out: ArrayLike = 0.0,
    r_source: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Machine speed from which a step-up board passes the volts straight through.

    w = (v_set + v_loss + v_drop + r_source*i_out)/k_emf

    With no load (i_out = 0) it starts slowest. v_drop: brushes and diode between machine and board.
    Worked: pass_through_speed(14.4, k_emf=0.22, v_loss=0.5, v_drop=1.7) = 75.45
    Source: [erickson]
    """
    return _out((_f(v_set) + _f(v_loss) + _f(v_drop) + _f(r_source) * _f(i_out)) / _f(k_emf))


def buck_output(v_in: ArrayLike, *, v_set: ArrayLike, v_loss: ArrayLike = 0.0) -> F:
    """Volts out of a step-down board.

    v_out = min(v_set, v_in - v_loss)

    Below its setting plus v_loss it drops out: the output follows the input.
    Worked: buck_output(13.0, v_set=14.4, v_loss=0.6) = 12.4
    Source: [erickson]
    """
    return _out(np.minimum(_f(v_set), _f(v_in) - _f(v_loss)))


def steps_far(v_in: ArrayLike, *, v_out: ArrayLike, ratio_far: ArrayLike = STEP_UP_FAR) -> F:
    """1 where a board must step up further than it does well, else 0.

    v_out/v_in > ratio_far

    Above about five to one expect less than 80 % (common practice, no source).
    Worked: steps_far(12.0, v_out=110.0) = 1
    Source: [board_print]
    """
    return _out(_f(v_out) / _f(v_in) > _f(ratio_far))


# ---- waking and sleeping --------------------------------------------------------------------------------------------


def restart_voltage(v_sleep: ArrayLike, *, r_source: ArrayLike, p_load: ArrayLike) -> F:
    """Waking volts above which a board stops pulsing on and off.

    v = v_sleep + r_source*p_load/v_sleep, or 2*sqrt(r_source*p_load) where the point collapses before v_sleep

    When the board lets go, the volts spring back to what the machine makes open. Waking only above that means the next
    start finds a running point. p_load: watts the board takes in.
    Worked: restart_voltage(10.0, r_source=0.9, p_load=40.0) = 13.6
    Source: [brown_out]
    """
    v, rp = _f(v_sleep), _f(r_source) * _f(p_load)
    return _out(np.where(v * v >= rp, v + rp / v, 2.0 * np.sqrt(rp)))


def lockout_power(v_sleep: ArrayLike, *, v_open: ArrayLike, r_source: ArrayLike) -> F:
    """Most watts a board can take in before its own draw sends it to sleep.

    p = v_sleep*(v_open - v_sleep)/r_source while v_sleep >= v_open/2, else the electrical edge v_open^2/(4*r_source)

    0 where the open volts are below v_sleep.
    Worked: lockout_power(10.0, v_open=16.0, r_source=0.9) = 66.67
    Source: [brown_out]
    """
    v, e, r = _f(v_sleep), _f(v_open), _f(r_source)
    with np.errstate(divide="ignore", invalid="ignore"):
        p = np.where(v >= 0.5 * e, v * (e - v) / r, e * e / (4.0 * r))
    return _out(np.where(e > v, p, 0.0))


# ---- inverters ------------------------------------------------------------------------------------------------------


def inverter_input(p_load: ArrayLike, *, eta_board: ArrayLike, p_idle: ArrayLike) -> F:
    """Watts an inverter takes from its battery.

    p_in = p_idle + p_load/eta_board

    p_idle 5 to 12 W for a small one (common practice, no source); it is paid with nothing plugged in.
    Worked: inverter_input(20.0, eta_board=0.9, p_idle=8.0) = 30.22
    Source: [loss_polynomial]
    """
    return _out(_f(p_idle) + _f(p_load) / _f(eta_board))


def inverter_efficiency(p_load: ArrayLike, *, eta_board: ArrayLike, p_idle: ArrayLike) -> F:
    """Share of an inverter's input that reaches its load.

    share = p_load/(p_idle + p_load/eta_board)

    Worked: inverter_efficiency(20.0, eta_board=0.9, p_idle=8.0) = 0.6618
    Source: [loss_polynomial]
    """
    return _out(_f(p_load) / inverter_input(p_load, eta_board=eta_board, p_idle=p_idle))
