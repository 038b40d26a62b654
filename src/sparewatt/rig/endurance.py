"""What a rider can hold for how long, and the inverse: joined from critical power, an hour's share and a day's share."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Rider

__all__ = ["CAREFUL_AGE", "DAY_FACTOR", "HOURS_FACTOR", "most_asked", "power_for", "spared", "time_for"]

F = NDArray[np.float64]
# Shares of critical power that can be planned on for an hour and for a working day (common practice, no source; published
# ranges 0.6 to 0.85 and 0.4 to 0.5).
HOURS_FACTOR, DAY_FACTOR = 0.75, 0.50
# A sentence is still said with ease at this share of critical power; it comes in pieces at 0.8 to 0.9 (common practice)
TALKING = 0.80
CAREFUL_AGE = 65.0  # years; common practice, no source
GROWN = 18.0  # years: below, the questions before any effort leave only the gentle way too


def spared(rider: Rider) -> bool:
    """Whether nothing to the limit is asked of this rider: unwell, or not grown up. It judges nobody's health."""
    return rider.fitness == "unwell" or (rider.age is not None and rider.age.value < GROWN)


def most_asked(rider: Rider) -> float:
    """The most watts that may be offered or taken for granted, however short: those at which a spared rider still talks."""
    if not spared(rider) or rider.critical_power is None:
        return math.inf
    return TALKING * rider.critical_power.value


def power_for(rider_cp: F | float, reserve: F | float, duration: F | float, p_peak: F | float) -> F:
    """Watts at the pedals a rider holds for `duration` seconds.

    Up to half an hour from critical power and reserve; an hour and a day by the usual shares of critical power, joined by
    straight lines in the logarithm of time. Source: [critical_power], shares common practice.
    """
    cp, w, t = (np.asarray(x, dtype=float) for x in (rider_cp, reserve, duration))
    half, hour, day = 1800.0, 3600.0, 8 * 3600.0
    short = np.minimum(cp + w / np.maximum(t, 1.0), p_peak)
    at_half = cp + w / half
    t = np.maximum(t, half)
    middle = at_half + np.log(t / half) / math.log(hour / half) * (HOURS_FACTOR * cp - at_half)
    late = np.clip(np.log(t / hour) / math.log(day / hour), 0.0, 1.0)
    long = HOURS_FACTOR * cp + late * (DAY_FACTOR - HOURS_FACTOR) * cp
    return np.asarray(np.where(np.asarray(duration) <= half, short, np.where(t <= hour, middle, long)))


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
