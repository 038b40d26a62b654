"""Heat in the machine: hot copper, hot magnets, how warm it gets, how long it may work, what heat does to its life.

Temperatures are in kelvin. Two bodies: the winding, which makes the copper's heat, and the case with its magnets, which
takes friction and iron heat and gives everything to the air.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "INSULATION", "MAGNET_SLOPE", "Bodies", "DutyHeat", "SteadyHeat", "continuous_current", "continuous_from_short",
    "copper_factor", "duty_extremes", "duty_rms", "life_factor", "magnet_factor", "steady_temperatures",
    "temperature_after", "time_to_reach", "two_body_after",
]  # fmt: skip


# Hot-spot limits of insulation classes in K (105, 120, 130, 155, 180 degC).
INSULATION: Final = {"A": 378.15, "E": 393.15, "B": 403.15, "F": 428.15, "H": 453.15}

# Change of magnet strength for each kelvin, as a share of its strength at 20 degC. Unknown: between ferrite and rare earth.
MAGNET_SLOPE: Final = {"ferrite": -0.002, "rare_earth": -0.0011, "alnico": -0.0002, "unknown": -0.0017}


class SteadyHeat(NamedTuple):
    """Settled temperatures (K), heat made in the winding (W), and whether it never settles (infinite values then)."""

    t_wind: F
    t_case: F
    p_wind: F
    runs_away: NDArray[np.bool_]


class Bodies(NamedTuple):
    """Temperatures of winding and case, K."""

    t_wind: F
    t_case: F


class DutyHeat(NamedTuple):
    """Lowest and highest temperature of a repeating duty, once it repeats exactly."""

    low: F
    high: F


# ---- what heat does to the constants --------------------------------------------------------------------------------


def copper_factor(t_wind: ArrayLike, *, alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15) -> F:
    """Resistance of copper over its resistance at the reference temperature.

    factor = 1 + alpha_copper*(t_wind - t_ref)

    alpha_copper belongs to t_ref: 0.00393/K at 20 degC. From -50 to 200 degC. Aluminium: 0.0040/K.
    Worked: copper_factor(353.15) = 1.2358
    Source: [iec60028]
    """
    return out(1.0 + arr(alpha_copper) * (arr(t_wind) - arr(t_ref)))


def magnet_factor(
    t_magnet: ArrayLike,
    *,
    magnets: str = "unknown",
    beta_magnet: ArrayLike | None = None,
    t_ref: ArrayLike = 293.15,
) -> F:
    """Strength of a magnet, and so of k_emf, over its strength at the reference temperature.

    factor = 1 + beta_magnet*(t_magnet - t_ref)

    Loss that comes back on cooling. Past its limit (rare earth from about 80 degC in cheap grades, ferrite when very
    cold) part of the strength is lost for good, which this does not show.
    Worked: magnet_factor(353.15, magnets="ferrite") = 0.88
    Source: [magnet_temperature]
    """
    beta = MAGNET_SLOPE[magnets] if beta_magnet is None else beta_magnet
    return out(1.0 + arr(beta) * (arr(t_magnet) - arr(t_ref)))


# ---- where the temperature settles ----------------------------------------------------------------------------------


def steady_temperatures(
    i_out: ArrayLike, *, r_wind: ArrayLike, r_th_wind: ArrayLike, r_th_case: ArrayLike, t_air: ArrayLike,
    p_brush: ArrayLike = 0.0, p_case: ArrayLike = 0.0, alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15,
) -> SteadyHeat:  # fmt: skip
    """Where winding and case settle, with the winding's resistance following its own temperature.

    t_wind = t_air + r_th_case*p_case + (r_th_wind + r_th_case)*(i_out^2*r_wind*copper_factor(t_wind) + p_brush)

    State in closed form. r_wind at t_ref; r_th_wind from winding to case, r_th_case from case to air; p_case is
    friction and iron heat. Where (r_th_wind + r_th_case)*i_out^2*r_wind*alpha_copper reaches 1, each warmer winding
    makes more heat than it can pass on: runs_away is true and the temperatures are infinite.
    Worked: steady_temperatures(10.0, r_wind=0.25, r_th_wind=0.4, r_th_case=1.0, t_air=293.15, p_case=10.0).t_wind = 345.3
    Source: [two_body_heat]
    """
    heat20, alpha, ref = arr(i_out) ** 2 * arr(r_wind), arr(alpha_copper), arr(t_ref)
    r1, r2 = arr(r_th_wind), arr(r_th_case)
    gain = (r1 + r2) * heat20 * alpha
    cold = arr(t_air) + r2 * arr(p_case) + (r1 + r2) * (heat20 * (1.0 - alpha * ref) + arr(p_brush))
    runs_away = np.asarray(gain >= 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        t_wind = np.where(runs_away, np.inf, cold / (1.0 - gain))
        p_wind = np.where(runs_away, np.inf, heat20 * (1.0 + alpha * (t_wind - ref)) + arr(p_brush))
    t_case = np.where(runs_away, np.inf, arr(t_air) + r2 * (np.where(runs_away, 0.0, p_wind) + arr(p_case)))
    return SteadyHeat(out(t_wind), out(t_case), out(p_wind), runs_away)


def continuous_current(
    t_limit: ArrayLike, *, r_wind: ArrayLike, r_th_wind: ArrayLike, r_th_case: ArrayLike, t_air: ArrayLike,
    p_case: ArrayLike = 0.0, v_brush: ArrayLike = 0.0, alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15,
) -> F:  # fmt: skip
    """The current that settles the winding exactly at a limit.

    r_wind*copper_factor(t_limit)*i^2 + v_brush*i = (t_limit - t_air - r_th_case*p_case)/(r_th_wind + r_th_case)

    0 where friction alone brings it to the limit. Half of the brushes' heat goes elsewhere in truth; counting all of it
    is on the cool side.
    Worked: continuous_current(378.15, r_wind=0.25, r_th_wind=0.4, r_th_case=1.0, t_air=293.15) = 13.49
    Source: [two_body_heat]
    """
    room = (arr(t_limit) - arr(t_air) - arr(r_th_case) * arr(p_case)) / (arr(r_th_wind) + arr(r_th_case))
    room = np.maximum(room, 0.0)
    r = arr(r_wind) * copper_factor(t_limit, alpha_copper=alpha_copper, t_ref=t_ref)
    v = arr(v_brush)
    # Root form that stays exact as r goes to zero.
    root = v + np.sqrt(v * v + 4.0 * r * room)
    with np.errstate(divide="ignore", invalid="ignore"):
        return out(np.where(room > 0.0, 2.0 * room / root, 0.0))


# ---- on the way there -----------------------------------------------------------------------------------------------


def temperature_after(
    duration: ArrayLike, *, t_start: ArrayLike, t_end: ArrayLike, time_constant: ArrayLike
) -> F:
    """Temperature of one body on its way to where it settles.

    t = t_end + (t_start - t_end)*exp(-duration/time_constant)

    Worked: temperature_after(1800.0, t_start=293.15, t_end=353.15, time_constant=1800.0) = 331.08
    Source: [dubey]
    """
    end = arr(t_end)
    return out(end + (arr(t_start) - end) * np.exp(-arr(duration) / arr(time_constant)))


def time_to_reach(t_limit: ArrayLike, *, t_start: ArrayLike, t_end: ArrayLike, time_constant: ArrayLike) -> F:
    """Time until one body reaches a limit on its way to where it settles; infinite when it never does.

    duration = time_constant*ln((t_end - t_start)/(t_end - t_limit)), 0 when it starts there or beyond

    Worked: time_to_reach(343.15, t_start=293.15, t_end=353.15, time_constant=1800.0) = 3225
    Source: [dubey]
    """
    limit, start, end = arr(t_limit), arr(t_start), arr(t_end)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = arr(time_constant) * np.log((end - start) / (end - limit))
    t = np.where(end > limit, t, np.inf)
    return out(np.where(start >= limit, 0.0, t))


BURNT = (
    300.0  # growth, as a power of e, beyond which the temperature of a winding that runs away is no number
)


def two_body_after(
    duration: ArrayLike, *, t_wind: ArrayLike, t_case: ArrayLike, i_out: ArrayLike, r_wind: ArrayLike,
    r_th_wind: ArrayLike, r_th_case: ArrayLike, c_wind: ArrayLike, c_case: ArrayLike, t_air: ArrayLike,
    p_brush: ArrayLike = 0.0, p_case: ArrayLike = 0.0, alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15,
) -> Bodies:  # fmt: skip
    """Winding and case after a bout at constant current, exactly, resistance following temperature.

    c_wind*dTw/dt = i^2*r_wind*copper_factor(Tw) + p_brush - (Tw - Tc)/r_th_wind
    c_case*dTc/dt = p_case + (Tw - Tc)/r_th_wind - (Tc - t_air)/r_th_case

    State with the two real eigenvalues; also right where the winding runs away. t_wind, t_case: at the start.
    Worked: two_body_after(600.0, t_wind=293.15, t_case=293.15, i_out=10.0, r_wind=0.25, r_th_wind=0.4, r_th_case=1.0,
    c_wind=200.0, c_case=1500.0, t_air=293.15).t_wind = 309.7
    Source: [two_body_heat]
    """
    time, heat20 = arr(duration), arr(i_out) ** 2 * arr(r_wind)
    cw, cc, g1, g2 = arr(c_wind), arr(c_case), 1.0 / arr(r_th_wind), 1.0 / arr(r_th_case)
    alpha, ref, air = arr(alpha_copper), arr(t_ref), arr(t_air)
    a11, a12 = (heat20 * alpha - g1) / cw, g1 / cw
    a21, a22 = g1 / cc, -(g1 + g2) / cc
    # Temperatures above the air, so that the inputs are the heats alone.
    b1 = (heat20 * (1.0 + alpha * (air - ref)) + arr(p_brush)) / cw
    b2 = arr(p_case) / cc
    x1, x2 = arr(t_wind) - air, arr(t_case) - air
    mean, half = 0.5 * (a11 + a22), np.sqrt((0.5 * (a11 - a22)) ** 2 + a12 * a21)
    fast, slow = mean - half, mean + half
    time = np.minimum(
        time, BURNT / np.maximum(slow, 1e-12)
    )  # a winding that runs away is long burnt, and floats end
    # exp(A t) = s0 + s1 A, and its integral likewise, from the two eigenvalues (never equal: a12*a21 > 0).
    e_fast, e_slow = np.exp(fast * time), np.exp(slow * time)
    q_fast, q_slow = _grown(fast, time), _grown(slow, time)

    def applied(f_fast: F, f_slow: F, y1: F, y2: F) -> tuple[F, F]:
        slope = (f_slow - f_fast) / (slow - fast)
        base = f_fast - slope * fast
        return (
            base * y1 + slope * (a11 * y1 + a12 * y2),
            base * y2 + slope * (a21 * y1 + a22 * y2),
        )

    free = applied(e_fast, e_slow, x1, x2)
    driven = applied(q_fast, q_slow, b1, b2)
    return Bodies(out(air + free[0] + driven[0]), out(air + free[1] + driven[1]))


def _grown(rate: F, time: F) -> F:
    """Integral of exp(rate*s) over s from 0 to time, without 0/0 at rate 0."""
    tiny = np.abs(rate * time) < 1e-12
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(tiny, time, np.expm1(rate * time) / np.where(tiny, 1.0, rate))


# ---- bouts and ratings ----------------------------------------------------------------------------------------------


def duty_extremes(
    *, t_on: ArrayLike, t_off: ArrayLike, time_on: ArrayLike, time_off: ArrayLike, time_constant: ArrayLike,
    time_constant_off: ArrayLike,
) -> DutyHeat:  # fmt: skip
    """Between which temperatures a repeating bout and breather swings, once it repeats.

    high = t_on + (low - t_on)*exp(-time_on/time_constant), low = t_off + (high - t_off)*exp(-time_off/time_constant_off)

    t_on, t_off: where it would settle if it went on or off for good (or rises above the air, all alike).
    Worked: duty_extremes(t_on=104.4, t_off=15.0, time_on=10.0, time_off=20.0, time_constant=60.0,
    time_constant_off=60.0) = (40.0, 49.9)
    Source: [dubey]
    """
    a, b = np.exp(-arr(time_on) / arr(time_constant)), np.exp(-arr(time_off) / arr(time_constant_off))
    on, off = arr(t_on), arr(t_off)
    with np.errstate(divide="ignore", invalid="ignore"):
        high = (on * (1.0 - a) + off * a * (1.0 - b)) / (1.0 - a * b)
    low = off + (high - off) * b
    return DutyHeat(out(low), out(high))


def duty_rms(i_out: ArrayLike, *, time_on: ArrayLike, time_off: ArrayLike) -> F:
    """The steady current that heats copper as much as a bout with breathers.

    i = i_out*sqrt(time_on/(time_on + time_off))

    Good while one cycle is short against the time constant.
    Worked: duty_rms(10.0, time_on=25.0, time_off=60.0) = 5.423
    Source: [dubey]
    """
    on = arr(time_on)
    return out(arr(i_out) * np.sqrt(on / (on + arr(time_off))))


def continuous_from_short(
    p_short: ArrayLike, *, duration: ArrayLike, time_constant: ArrayLike, loss_ratio: ArrayLike = 0.0
) -> F:
    """Power a machine may give for hours when its plate is for a short time only.

    p = p_short / sqrt((1 + loss_ratio)/(1 - exp(-duration/time_constant)) - loss_ratio)

    loss_ratio: constant loss over copper loss, at the continuous rating. Reaches the same temperature either way.
    Worked: continuous_from_short(100e3, duration=1800.0, time_constant=4800.0, loss_ratio=0.49) = 48370
    Source: [dubey]
    """
    return out(arr(p_short) / _overload(duration, time_constant, loss_ratio))


def _overload(duration: ArrayLike, time_constant: ArrayLike, loss_ratio: ArrayLike) -> F:
    a = arr(loss_ratio)
    with np.errstate(divide="ignore"):
        return np.sqrt((1.0 + a) / -np.expm1(-arr(duration) / arr(time_constant)) - a)


# ---- limits and life ------------------------------------------------------------------------------------------------


def life_factor(t_wind: ArrayLike, *, t_limit: ArrayLike, t_halving: ArrayLike = 10.0) -> F:
    """Life of insulation over its life at the limit of its class.

    factor = 2^((t_limit - t_wind)/t_halving)

    A rule of thumb; good within some 30 K of the limit.
    Worked: life_factor(403.15, t_limit=428.15) = 5.66
    Source: [ten_kelvin_rule]
    """
    return out(np.exp2((arr(t_limit) - arr(t_wind)) / arr(t_halving)))
