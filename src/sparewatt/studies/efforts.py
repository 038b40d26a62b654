"""What a rider holds for how long, and the full question made from what was given, the rig's habits and plain defaults."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rider, Rig
from sparewatt.rig.bind import bind, find_rider, scaled
from sparewatt.rig.fill import fill
from sparewatt.rig.hookup import hookup
from sparewatt.studies.answers import Ask
from sparewatt.studies.refusals import refusal

__all__ = ["DAY_FACTOR", "HOURS_FACTOR", "ask_for", "power_for", "time_for"]

F = NDArray[np.float64]
# Shares of critical power that can be planned on for an hour and for a working day (common practice, no source; published
# ranges 0.6 to 0.85 and 0.4 to 0.5).
HOURS_FACTOR, DAY_FACTOR = 0.75, 0.50
# A rider eases off to where the edge is this much of the load, and nearly surely (nine draws of ten) at least EASY_LEAST
EASY_SPARE, EASY_LEAST, EASY_DRAWS = 1.18, 1.05, 64


def power_for(rider_cp: F | float, reserve: F | float, duration: float, p_peak: F | float) -> F:
    """Watts at the pedals a rider holds for `duration` seconds.

    Up to half an hour from critical power and reserve; an hour and a day by the usual shares of critical power, joined by
    straight lines in the logarithm of time. Source: [critical_power], shares common practice.
    """
    cp, w = np.asarray(rider_cp, dtype=float), np.asarray(reserve, dtype=float)
    short = np.minimum(cp + w / max(duration, 1.0), p_peak)
    half, hour, day = 1800.0, 3600.0, 8 * 3600.0
    at_half = cp + w / half
    if duration <= half:
        return np.asarray(short)
    if duration <= hour:
        t = math.log(duration / half) / math.log(hour / half)
        return np.asarray(at_half + t * (HOURS_FACTOR * cp - at_half))
    t = min(1.0, math.log(duration / hour) / math.log(day / hour))
    return np.asarray(HOURS_FACTOR * cp + t * (DAY_FACTOR - HOURS_FACTOR) * cp)


def time_for(p_rider: F, cp: F, reserve: F) -> F:
    """Seconds this power can be held: the inverse of `power_for`; inf at or below the all-day share."""
    half, hour, day = 1800.0, 3600.0, 8 * 3600.0
    at_half, at_hour, at_day = cp + reserve / half, HOURS_FACTOR * cp, DAY_FACTOR * cp
    with np.errstate(divide="ignore", invalid="ignore"):
        short = reserve / (p_rider - cp)
        middle = half * np.exp((at_half - p_rider) / (at_half - at_hour) * math.log(hour / half))
        long = hour * np.exp((at_hour - p_rider) / (at_hour - at_day) * math.log(day / hour))
    t = np.where(p_rider >= at_half, short, np.where(p_rider >= at_hour, middle, long))
    return np.asarray(np.where(p_rider <= at_day, np.inf, t))


def _eased(rig: Rig, rider: str, load: str, gear: str | None, most: float) -> float:
    """The effort nobody needs to be told: `most`, or less when a lighter one runs the load with EASY_SPARE in hand.

    A battery takes what comes, so charging is ridden at `most`.
    """
    from sparewatt.studies.edges import asked_watts, edge_watts

    if refusal(rig, load) is not None or hookup(rig, load).battery is not None:
        return most
    bound = bind(fill(rig), load, rider, effort=most, draws=EASY_DRAWS)
    if rig.neighbour:
        bound = scaled(bound, 1 / (1 + len(rig.neighbour)))
    asked = asked_watts(bound)
    if gear is not None and gear not in bound.gears:
        return most
    gears = range(len(bound.gears)) if gear is None else [bound.gears.index(gear)]

    def eases(effort: float) -> bool:
        for g in gears:
            room = edge_watts(bound, g, effort)[0] / asked
            if room[0] > EASY_SPARE and np.percentile(room[1:], 10) > EASY_LEAST:
                return True
        return False

    if not np.isfinite(asked).all() or not eases(most):
        return most
    low, high = 0.0, most
    for _ in range(12):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if eases(middle) else (middle, high)
    return high


def _rider_numbers(rig: Rig, name: str) -> tuple[float, float, float]:
    rider: Rider = find_rider(rig, name)
    assert rider.critical_power and rider.work_reserve and rider.peak_power
    return rider.critical_power.value, rider.work_reserve.value, rider.peak_power.value


def ask_for(
    rig: Rig,
    *,
    rider: str | None = None,
    load: str | None = None,
    gear: str | None = None,
    effort: float | None = None,
    duration: float | None = None,
    cadence: float | None = None,
    draws: int = 1024,
    seed: int = 1,
) -> Ask:
    """A full question from what was given, the rig's own [ride] habits, and plain defaults.

    Default effort: what this rider holds for the asked time.
    """
    if not rig.rider:
        rig = fill(rig).rig
    ride = rig.ride
    person = find_rider(rig, rider)
    wanted = load or (ride.load if ride else "")
    if not wanted:
        wanted = "charge" if rig.battery is not None else (rig.load[0].name if rig.load else "")
    if not wanted:
        raise BadRequest(
            Problem(
                where="load",
                problem="there is nothing to run",
                hint="add a [[load]] or a [battery] to the rig file",
            )
        )
    usual = ride.duration.value if ride and ride.duration else 3600.0
    seconds = duration if duration is not None else usual
    same = (
        ride is not None
        and person.name == find_rider(rig, None).name
        and seconds == usual
        and wanted == (ride.load or wanted)
    )
    if effort is None and ride and ride.effort and same:
        effort = ride.effort.value
    if gear is None and ride and ride.gear:
        gear = ride.gear if load is None else None
    if effort is None:
        cp, reserve, peak = _rider_numbers(fill(rig).rig, person.name)
        effort = float(power_for(cp, reserve, seconds, peak))
        effort = _eased(rig, person.name, wanted, gear, effort)
    return Ask(
        rider=person.name,
        load=wanted,
        gear=gear,
        effort=effort,
        duration=seconds,
        cadence=cadence,
        draws=draws,
        seed=seed,
    )
