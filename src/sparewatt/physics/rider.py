"""The rider: torque against cadence, within a turn, how long an effort lasts, what is left in reserve.

The rider's line is straight: full torque at standstill, none at the top cadence. Held effort and sprint are the same
line with other numbers. Powers are at the crank, means over whole turns.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics._arrays import F, arr, out
from sparewatt.physics.body import co2_above_rest

__all__ = [
    "ARM_SHARE", "DAY_SHARE", "FITNESS", "HOUR_SHARE", "HOUR_SHARE_UNTRAINED", "PEAK_SHARE", "TRUSTED_DURATION",
    "Crossings", "CycleReserve", "Fit", "Limits", "TypicalRider", "altitude_factor", "co2_above_rest", "crossings",
    "cycles_to_floor", "fit_critical_power", "implied_reserve", "power_for_time", "recovery_constant", "reserve_after",
    "reserve_over_cycles", "reserve_regained_double", "short_power", "time_to_limit", "torque_start_for_effort",
    "typical_rider",
]  # fmt: skip

B = NDArray[np.bool_]

# Share of critical power that is held for an hour (0.75 to 0.85; 0.6 to 0.7 untrained) and all day (0.4 to 0.5).
# Common practice, no source.
HOUR_SHARE: Final = 0.80
HOUR_SHARE_UNTRAINED: Final = 0.65
DAY_SHARE: Final = 0.45

# Size of the twice-a-turn part of the torque of two legs over its mean: 0.6 to 0.9 (common practice); measured
# all-out efforts peak at 1.62 times the mean.
PEAK_SHARE: Final = 0.7

# Durations between which two numbers describe how long an effort lasts.
TRUSTED_DURATION: Final = (120.0, 900.0)

# Power of arms over power of legs. Common practice, no source.
ARM_SHARE: Final = 0.6


class Limits(NamedTuple):
    """What a word for training stands for: critical power (W/kg, low and high), reserve (J/kg), peak (W/kg), shares."""

    cp_low: float
    cp_high: float
    reserve: float
    peak: float
    hour_share: float
    day_share: float


FITNESS: Final = {
    "unwell": Limits(0.8, 1.5, 120.0, 4.0, 0.60, 0.40),
    "not fit": Limits(1.5, 2.5, 170.0, 7.0, HOUR_SHARE_UNTRAINED, DAY_SHARE),
    "active": Limits(2.5, 3.5, 210.0, 9.0, HOUR_SHARE, DAY_SHARE),
    "fit": Limits(3.2, 4.4, 240.0, 11.0, 0.85, 0.55),
    "athlete": Limits(4.2, 5.6, 270.0, 14.0, 0.90, 0.70),
}


class Crossings(NamedTuple):
    """Cadences where the rider's line meets a constant-power load: it holds at the first, tips over below the second."""

    w_hold: F
    w_tip: F


class CycleReserve(NamedTuple):
    """Reserve left at the end of a bout, and at the end of the breather that follows it."""

    after_bout: F
    after_breather: F


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalRider:
    """What people of one body and training give, in SI, each with one standard deviation (wide on purpose)."""

    critical_power: float
    critical_power_sd: float
    work_reserve: float
    work_reserve_sd: float
    peak_power: float
    peak_power_sd: float
    hour_share: float
    day_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """Critical power and reserve from timed efforts, what was left out, and what the numbers cannot say.

    covariance: of (critical power, reserve), common power scale included. residual: measured less fitted power, one
    for each effort. ignored: places of the efforts that were left out. spare_points: efforts beyond the two needed;
    with none, the spread rests on the assumed noise alone.
    """

    critical_power: float
    critical_power_sd: float
    work_reserve: float
    work_reserve_sd: float
    covariance: F
    residual: F
    ignored: tuple[int, ...]
    spare_points: int
    caveats: tuple[str, ...]


# ---- the line -------------------------------------------------------------------------------------------------------


def torque_start_for_effort(p_best: ArrayLike, w_top: ArrayLike) -> F:
    """Torque at standstill of the line whose best is p_best: turns "an effort worth 100 W" into a line.

    torque_start = 4 * p_best / w_top

    Worked: torque_start_for_effort(96.0, 12.0) = 32.0
    Source: [torque_cadence]
    """
    return out(4 * arr(p_best) / arr(w_top))


def short_power(w_crank: ArrayLike, *, peak_power: ArrayLike, w_sprint: ArrayLike) -> F:
    """Most power for a few seconds at a cadence: the sprint line, whatever the reserve says.

    p = 4 * peak_power * (w_crank / w_sprint) * (1 - w_crank / w_sprint)

    From standstill to w_sprint, the cadence at which a sprint has nothing left to push with.
    Worked: short_power(10.0, peak_power=600.0, w_sprint=20.0) = 600.0
    Source: [torque_cadence]
    """
    x = arr(w_crank) / arr(w_sprint)
    return out(4 * arr(peak_power) * x * (1 - x))


def crossings(
    p_load: ArrayLike, *, p_best: ArrayLike, w_top: ArrayLike, eta_drive: ArrayLike = 1.0
) -> Crossings:
    """The two cadences at which the rider's line meets a load that takes constant power.

    w = w_top / 2 * (1 +- sqrt(1 - p_load / (eta_drive * p_best)))

    The fast one holds, the slow one tips over; both NaN beyond the edge, where no cadence carries the load. The slow
    one is written as a quotient, so that it keeps its digits for a small load. Drive loss in proportion only.
    Worked: crossings(60.0, p_best=110.0, w_top=13.614).w_hold = 11.396
    Source: [constant_power_load]
    """
    x = arr(p_load) / (arr(eta_drive) * arr(p_best))
    with np.errstate(invalid="ignore"):
        root = np.sqrt(1 - x)
    half = arr(w_top) / 2
    return Crossings(w_hold=out(half * (1 + root)), w_tip=out(half * x / (1 + root)))


# ---- how long -------------------------------------------------------------------------------------------------------


def time_to_limit(
    p_rider: ArrayLike, *, critical_power: ArrayLike, work_reserve: ArrayLike, p_max: ArrayLike = math.inf
) -> F:
    """How long a constant power can be held.

    t = work_reserve / (p_rider - critical_power) - work_reserve / (p_max - critical_power)

    inf at or below critical power (by this law; hours are limited by other things, see HOUR_SHARE). 0 at and above
    p_max, which cannot be reached at all. With p_max left at inf this is the two-number law, good for 2 to 15 min.
    Worked: time_to_limit(225.0, critical_power=170.0, work_reserve=14000.0) = 254.5
    Source: [critical_power] [morton_1996]
    """
    p, cp, w, top = np.broadcast_arrays(arr(p_rider), arr(critical_power), arr(work_reserve), arr(p_max))
    with np.errstate(divide="ignore", invalid="ignore"):
        held = w / (p - cp) - w / (top - cp)
    return out(np.where(p <= cp, np.inf, np.where(p >= top, 0.0, held)))


def power_for_time(
    duration: ArrayLike, *, critical_power: ArrayLike, work_reserve: ArrayLike, p_max: ArrayLike = math.inf
) -> F:
    """The most power that lasts a given time: the inverse of `time_to_limit`.

    p = critical_power + work_reserve / (duration + work_reserve / (p_max - critical_power))

    Good for 2 to 15 min; p_max makes it usable for less. Beyond half an hour it promises too much.
    Worked: power_for_time(180.0, critical_power=287.0, work_reserve=16000.0) = 375.9
    Source: [critical_power] [morton_1996]
    """
    cp, w = arr(critical_power), arr(work_reserve)
    return out(cp + w / (arr(duration) + w / (arr(p_max) - cp)))


def implied_reserve(p_rider: ArrayLike, *, duration: ArrayLike, critical_power: ArrayLike) -> F:
    """Work above critical power in an effort held to the limit.

    work_reserve = (p_rider - critical_power) * duration

    Efforts of very different length imply different reserves: the two-number law has its range.
    Worked: implied_reserve(366.0, duration=203.0, critical_power=242.0) = 25172
    Source: [critical_power] [pallares_2020]
    """
    return out((arr(p_rider) - arr(critical_power)) * arr(duration))


def altitude_factor(
    altitude: ArrayLike, *, altitude_free: ArrayLike = 1500.0, loss_per_height: ArrayLike = 1e-4
) -> F:
    """Share of critical power that is left at a height above the sea.

    factor = 1 - loss_per_height * (altitude - altitude_free) above altitude_free, 1 below it

    About 1 % for each 100 m above 1500 m, up to some 4000 m.
    Worked: altitude_factor(2500.0) = 0.90
    Source: [altitude_practice]
    """
    above = arr(altitude) - arr(altitude_free)
    return out(1 - arr(loss_per_height) * np.where(above > 0, above, 0.0))


# ---- the reserve ----------------------------------------------------------------------------------------------------


def _segment(p: F, t: F, cp: F, w: F) -> tuple[F, F]:
    """One stretch at constant power as B -> exp(L) B + b: exponent L (0 above critical power) and b."""
    with np.errstate(invalid="ignore"):
        exponent = np.where(p > cp, 0.0, -(cp - p) * t / w)
        step = np.where(p > cp, -(p - cp) * t, -w * np.expm1(exponent))
    return exponent, step


def reserve_after(
    duration: ArrayLike, *, p_rider: ArrayLike, critical_power: ArrayLike, work_reserve: ArrayLike,
    reserve_start: ArrayLike,
) -> F:  # fmt: skip
    """Reserve left after a stretch at constant power.

    above critical power: B = B0 - (p_rider - critical_power) * t
    at or below it:       B = W - (W - B0) * exp(-(critical_power - p_rider) * t / W),  W = work_reserve

    The filling is the differential form, linear in the deficit. A negative answer means the stretch cannot be ridden.
    Worked: reserve_after(60.0, p_rider=40.0, critical_power=170.0, work_reserve=14000.0, reserve_start=12625.0) = 13212
    Source: [skiba_2015] [critical_power]
    """
    p, t, cp, w, b0 = np.broadcast_arrays(
        arr(p_rider), arr(duration), arr(critical_power), arr(work_reserve), arr(reserve_start)
    )
    exponent, step = _segment(p, t, cp, w)
    return out(np.exp(exponent) * b0 + step)


def recovery_constant(
    power_below: ArrayLike, *, tau_span: ArrayLike = 546.0, tau_floor: ArrayLike = 316.0,
    tau_per_power: ArrayLike = 0.01,
) -> F:  # fmt: skip
    """Time constant with which the reserve comes back, from how far below critical power one rides.

    tau = tau_span * exp(-tau_per_power * power_below) + tau_floor

    Mean of seven trained riders; power_below is critical power less the mean power of the easy stretches, 0 or more.
    Worked: recovery_constant(100.0) = 516.9
    Source: [skiba_2012]
    """
    return out(arr(tau_span) * np.exp(-arr(tau_per_power) * arr(power_below)) + arr(tau_floor))


def reserve_regained_double(
    duration: ArrayLike,
    *,
    share_fast: ArrayLike = 0.5067,
    tau_fast: ArrayLike = 21.5,
    tau_slow: ArrayLike = 388.0,
) -> F:
    """Share of the spent reserve that is back after an easy stretch, quick half and slow half.

    share = 1 - share_fast * exp(-t / tau_fast) - (1 - share_fast) * exp(-t / tau_slow)

    Ten trained riders, 15 to 360 s of rest after a ramp to the limit; after a second ramp tau_slow was 716 s.
    Worked: reserve_regained_double(120.0) = 0.636
    Source: [chorley_2022]
    """
    t, a = arr(duration), arr(share_fast)
    return out(-a * np.expm1(-t / arr(tau_fast)) - (1 - a) * np.expm1(-t / arr(tau_slow)))


class _Cycle(NamedTuple):
    """One bout and one breather as B -> exp(bout) B + bout_step -> ...; turn: exponent and step of both together."""

    bout: F
    bout_step: F
    turn: F
    turn_step: F
    start: F


def _cycle(
    p_bout: ArrayLike, t_bout: ArrayLike, p_breather: ArrayLike, t_breather: ArrayLike, critical_power: ArrayLike,
    work_reserve: ArrayLike, reserve_start: ArrayLike | None,
) -> _Cycle:  # fmt: skip
    start = work_reserve if reserve_start is None else reserve_start
    p1, t1, p2, t2, cp, w, b0 = np.broadcast_arrays(
        arr(p_bout),
        arr(t_bout),
        arr(p_breather),
        arr(t_breather),
        arr(critical_power),
        arr(work_reserve),
        arr(start),
    )
    one, one_step = _segment(p1, t1, cp, w)
    two, two_step = _segment(p2, t2, cp, w)
    return _Cycle(one, one_step, one + two, np.exp(two) * one_step + two_step, b0)


def reserve_over_cycles(
    n_cycles: ArrayLike, *, p_bout: ArrayLike, t_bout: ArrayLike, p_breather: ArrayLike, t_breather: ArrayLike,
    critical_power: ArrayLike, work_reserve: ArrayLike, reserve_start: ArrayLike | None = None,
) -> CycleReserve:  # fmt: skip
    """Reserve in the n-th cycle of bout and breather, in closed form.

    Each stretch maps the reserve by B -> e B + b (`reserve_after`), so n cycles are a geometric sum; exact for any n.
    n_cycles counts from 1; reserve_start is a full reserve unless given. A negative answer cannot be ridden.
    Worked: reserve_over_cycles(1, p_bout=225.0, t_bout=25.0, p_breather=40.0, t_breather=60.0, critical_power=170.0,
    work_reserve=14000.0).after_breather = 13212
    Source: [skiba_2015]
    """
    c = _cycle(p_bout, t_bout, p_breather, t_breather, critical_power, work_reserve, reserve_start)
    n = arr(n_cycles)
    return CycleReserve(
        after_bout=out(np.exp(c.bout) * _after(c, n - 1) + c.bout_step), after_breather=out(_after(c, n))
    )


def _after(c: _Cycle, n: F) -> F:
    """Reserve after n whole cycles."""
    flat = c.turn == 0
    with np.errstate(divide="ignore", invalid="ignore"):
        turns = np.where(flat, n, np.expm1(n * c.turn) / np.where(flat, 1.0, np.expm1(c.turn)))
    return np.exp(n * c.turn) * c.start + c.turn_step * turns


def _settled(c: _Cycle) -> F:
    """Reserve at the end of a cycle after endless cycles."""
    flat = c.turn == 0
    with np.errstate(divide="ignore", invalid="ignore"):
        fixed = -c.turn_step / np.where(flat, 1.0, np.expm1(c.turn))
    return np.where(flat, np.where(c.turn_step < 0, -np.inf, c.start), fixed)


def cycles_to_floor(
    *, p_bout: ArrayLike, t_bout: ArrayLike, p_breather: ArrayLike, t_breather: ArrayLike, critical_power: ArrayLike,
    work_reserve: ArrayLike, reserve_start: ArrayLike | None = None, reserve_floor: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Number of the cycle in which the reserve first falls to the floor: 1 in the first, inf when it never does.

    From the closed form of `reserve_over_cycles`; the lowest point is looked for at both ends of each stretch.
    Worked: cycles_to_floor(p_bout=225.0, t_bout=25.0, p_breather=170.0, t_breather=60.0, critical_power=170.0,
    work_reserve=14000.0) = 11
    Source: [skiba_2015]
    """
    c = _cycle(p_bout, t_bout, p_breather, t_breather, critical_power, work_reserve, reserve_start)
    floor = arr(reserve_floor)
    last = _settled(c)
    with np.errstate(invalid="ignore"):
        last_bout = np.exp(c.bout) * last + c.bout_step
    first = np.exp(c.bout) * c.start + c.bout_step
    in_bout = _first_at(first, last_bout, c.turn, c.turn_step, floor)
    in_breather = _first_at(_after(c, arr(1.0)), last, c.turn, c.turn_step, floor)
    return out(np.minimum(in_bout, in_breather))


def _first_at(first: F, last: F, exponent: F, step: F, floor: F) -> F:
    """Smallest whole n >= 1 at which a sequence that runs straight from `first`, or bends towards `last`, is at floor."""
    with np.errstate(divide="ignore", invalid="ignore"):
        straight = 1 + np.ceil((first - floor) / -np.where(step < 0, step, -np.inf))
        bent = 1 + np.ceil(np.log((floor - last) / (first - last)) / exponent)
    later = np.where(
        exponent == 0, np.where(step < 0, straight, np.inf), np.where(last < floor, bent, np.inf)
    )
    return np.where(first <= floor, 1.0, later)


# ---- knowing a rider ------------------------------------------------------------------------------------------------


def fit_critical_power(
    powers: ArrayLike, durations: ArrayLike, *, effort_sd: float = 0.02, time_sd: float = 0.08, scale_sd: float = 0.05,
    duration_low: float = TRUSTED_DURATION[0], duration_high: float = TRUSTED_DURATION[1],
) -> Fit:  # fmt: skip
    """Critical power and reserve from two or more efforts held to the limit.

    p = critical_power + work_reserve / t, least squares weighted by the noise of power and time in each effort, plus
    a power scale that all efforts share (it moves both numbers together). With three or more efforts the spread grows
    when they disagree by more than the noise. Efforts outside 2 to 15 min are left out when two within remain, else
    used with a caveat.
    Worked: fit_critical_power([300.0, 220.0], [180.0, 720.0]).critical_power = 193.3
    Source: [critical_power] [pallares_2020]
    """
    p, t = np.atleast_1d(arr(powers)), np.atleast_1d(arr(durations))
    _check_efforts(p, t)
    within = (t >= duration_low) & (t <= duration_high)
    used = within if np.unique(t[within]).size >= 2 else np.ones(t.shape, dtype=bool)
    x = 1 / t
    theta, cov = _weighted_line(p[used], x[used], effort_sd, time_sd)
    if not (theta > 0).all():
        raise BadRequest(
            Problem(
                where="efforts",
                problem="the longer effort has too much power, or the shorter one too little: no reserve comes out",
                hint="give efforts held to the limit, the shorter one with more watts",
            )
        )
    cov = cov + scale_sd**2 * np.outer(theta, theta)
    sd = np.sqrt(np.diag(cov))
    ignored = tuple(int(k) for k in np.flatnonzero(~used))
    return Fit(
        critical_power=float(theta[0]), critical_power_sd=float(sd[0]), work_reserve=float(theta[1]),
        work_reserve_sd=float(sd[1]), covariance=cov, residual=p - theta[0] - theta[1] * x, ignored=ignored,
        spare_points=int(used.sum()) - 2,
        caveats=_fit_caveats(t, within, used, duration_low, duration_high),
    )  # fmt: skip


def _check_efforts(p: F, t: F) -> None:
    if p.shape != t.shape or p.ndim != 1 or np.unique(t).size < 2:
        raise BadRequest(
            Problem(
                where="efforts",
                problem="two efforts of different length are needed",
                hint="ride one of 3 minutes and one of 12 minutes, each to the limit",
            )
        )
    for k in range(p.size):
        if not (np.isfinite(p[k]) and np.isfinite(t[k]) and p[k] > 0 and t[k] > 0):
            raise BadRequest(
                Problem(
                    where=f"effort {k + 1}",
                    read=f"{p[k]:g} W for {t[k]:g} s",
                    problem="power and time must both be above zero",
                    hint="take this effort out, or put its numbers right",
                )
            )


def _weighted_line(p: F, x: F, effort_sd: float, time_sd: float) -> tuple[F, F]:
    """(critical power, reserve) and covariance of p = cp + w x; the noise of time counts through w, hence the rounds."""
    table = np.stack([np.ones_like(x), x], axis=1)
    theta = np.linalg.lstsq(table, p, rcond=None)[0]
    cov = np.zeros((2, 2))
    for _ in range(4):
        weight = 1 / np.hypot(effort_sd * p, time_sd * theta[1] * x) ** 2
        normal = table.T @ (weight[:, None] * table)
        cov = np.linalg.inv(normal)
        theta = cov @ (table.T @ (weight * p))
    spare = p.size - 2
    if spare > 0:
        excess = float(np.sum(weight * (p - table @ theta) ** 2)) / spare
        cov = cov * max(1.0, excess)
    return arr(theta), arr(cov)


def _fit_caveats(t: F, within: B, used: B, low: float, high: float) -> tuple[str, ...]:
    words = [
        "all efforts share the scale of one power reading; that cancels when you plan on the same rig",
    ]
    span = f"{low / 60:g} to {high / 60:g} minutes"
    for k in np.flatnonzero(~within):
        what = "left out" if not used[k] else "used for want of a better one: trust the numbers less"
        words.append(f"effort {int(k) + 1} lasted {t[k]:.0f} s, outside {span}; it was {what}")
    if used.sum() == 2:
        words.append("two efforts fix two numbers; only a third one would show whether they agree")
    return tuple(words)


def typical_rider(*, mass: float, age: float, fitness: str = "not fit", uses: str = "legs") -> TypicalRider:
    """What people of one body and training give, with a wide spread: for a rider who was never measured.

    Critical power is the middle of the W/kg range of the word (its ends are taken as a 90 % band), less 0.8 % for each
    year past 35; reserve and peak go with body mass in the same way. Arms give about 0.6 of legs. Adults; never a
    judgement of one person.
    Worked: typical_rider(mass=70.0, age=30.0, fitness="not fit").critical_power = 140.0
    Source: [typical_legs] [arms_practice] [age_practice]
    """
    if fitness not in FITNESS:
        words = ", ".join(f"'{word}'" for word in FITNESS)
        raise BadRequest(
            Problem(where="fitness", read=fitness, problem=f"there is no word '{fitness}' here", hint=words)
        )
    kind = FITNESS[fitness]
    size = mass * (1 - 0.008) ** max(age - 35.0, 0.0) * (ARM_SHARE if uses == "arms" else 1.0)
    cp = size * (kind.cp_low + kind.cp_high) / 2
    half_band = (kind.cp_high - kind.cp_low) / (kind.cp_high + kind.cp_low)
    return TypicalRider(
        critical_power=cp, critical_power_sd=cp * math.hypot(half_band / 1.645, 0.12),
        work_reserve=size * kind.reserve, work_reserve_sd=0.35 * size * kind.reserve,
        peak_power=size * kind.peak, peak_power_sd=0.25 * size * kind.peak,
        hour_share=kind.hour_share, day_share=kind.day_share,
    )  # fmt: skip
