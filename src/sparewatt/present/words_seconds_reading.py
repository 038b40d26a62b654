"""Reads single numbers out of a scene for its sentences: means at the end, highest values, shares of the runs."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.present import words_numbers as say
from sparewatt.quantities.units import factor
from sparewatt.studies.scenes.answers import SceneAnswer, Track

__all__ = [
    "TURN_TIME",
    "delay",
    "energy",
    "energy_unit",
    "in_runs",
    "mean_end",
    "most_of",
    "smoothed",
    "track_of",
]

F = NDArray[np.float64]
TURN_TIME = 1.0  # s: about one turn of the crank


def track_of(a: SceneAnswer, key: str) -> Track | None:
    """The track of that key, where there is one."""
    return next((t for t in a.tracks if t.key == key), None)


def most_of(a: SceneAnswer, key: str) -> float:
    """The highest value of a track, ripple included."""
    track = track_of(a, key)
    if track is None or not np.isfinite(track.most).any():
        return math.nan
    return float(np.nanmax(track.most))


def mean_end(a: SceneAnswer, key: str) -> float:
    """The mean over the last tenth of the scene, at least 2 s of it where there are."""
    track = track_of(a, key)
    if track is None or not a.times.size:
        return math.nan
    last = float(a.times[-1])
    near = (a.times >= last - max(0.1 * a.duration, min(2.0, 0.3 * a.duration))) & np.isfinite(track.values)
    return float(track.values[near].mean()) if near.any() else math.nan


def smoothed(t: F, values: F) -> F:
    """The mean over the turn before each moment: legs push in beats, and that is not what "at first" means."""
    if t.size < 3 or not t[-1] > t[0]:
        return values
    count = max(1, round(TURN_TIME / (float(t[-1] - t[0]) / (t.size - 1))))
    if count == 1 or count >= t.size:
        return values
    total = np.concatenate([[0.0], np.cumsum(np.where(np.isfinite(values), values, 0.0))])
    first = np.maximum(np.arange(1, t.size + 1) - count, 0)
    mean: F = (total[1:] - total[first]) / (np.arange(1, t.size + 1) - first)
    mean[: count - 1] = np.nan
    return mean


def in_runs(share: float, runs: int) -> str:
    """A share of the runs as a count of them: "in 62 of 200 runs"."""
    count = round(min(max(share, 0.0), 1.0) * runs)
    which = "all" if count == runs else f"{count} of" if count else "not one of"
    return f"in {which} {runs} runs"


def delay(seconds: float) -> str:
    """A short wait as it is said: "0.8 s", "7.2 s", "80 s", "12 min"."""
    return f"{seconds:.1f} s" if 0.1 <= seconds < 9.95 else say.amount(seconds, "s")


def energy_unit(total: float) -> str:
    """The unit in which the energy of a scene is told: joules for a short one, watt-hours for a ride."""
    return "Wh" if total >= 7200.0 else "J"


def energy(joules: float, unit: str) -> str:
    """A bare number of that unit, three digits at most."""
    value = abs(joules) / factor(unit)
    if value < 0.005:
        return "0"
    sign = "\u2212" if joules < 0 else ""
    if not math.isfinite(value):
        return "?"
    if value >= 999.5:
        return f"{sign}{round(value, 2 - math.floor(math.log10(value))):.0f}"
    return f"{sign}{value:.0f}" if value >= 9.95 else f"{sign}{value:.2g}"
