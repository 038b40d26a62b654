"""What a phone said, ready to be written down: one steady speed, or a run-down as a short list of moments.

A recording holds hundreds of speeds. A run-down is written down as at most sixteen of them, each the weighted mean of its
neighbours, so that the list beside the rig can still be read by eye; over so short a piece its curve is a straight line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.bench.answers import FittedPicture, ReadingRow, SpeedRun
from sparewatt.studies.phone.coast import Coast
from sparewatt.studies.phone.coast_fit import speed_at

__all__ = ["Phoned", "moments_of", "picture_of", "steady_of", "wanders"]

F = NDArray[np.float64]
NINETY = 1.6449
MOST = 16
FALLS = 0.15  # share of its speed that a run loses before it counts as no steady speed
FILM_SHARE, SOUND_SHARE = (
    0.005,
    0.001,
)  # of a speed: a phone's frame rate, its sound clock; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Phoned:
    """What was heard, seen or typed. how: "sound", "film", "clock" or "volts".

    run: speed against time; None where volts were typed. coast: the fitted run-down; None for a steady speed.
    speed, speed_sd: one steady speed in rad/s; NaN for a run-down. others: the speeds that fit just as well.
    moments: (s, rad/s or V, its spread) as they go into the readings. clear: nothing is left open.
    """

    how: str
    origin: str
    run: SpeedRun | None
    coast: Coast | None
    speed: Band
    speed_sd: float
    others: tuple[float, ...]
    moments: tuple[tuple[float, float, float], ...]
    clear: bool
    says: str
    caveats: tuple[Caveat, ...] = ()
    sources: tuple[str, ...] = ()

    @property
    def falls(self) -> bool:
        """A run-down and not one steady speed."""
        return self.coast is not None


def steady_of(run: SpeedRun) -> tuple[Band, float]:
    """One speed for a steady run, and its spread: how it wandered, with what a phone's clock may be off."""
    weight = 1 / np.maximum(run.sd, 1e-12) ** 2
    mean = float(np.sum(run.speed * weight) / np.sum(weight))
    wander = float(np.std(run.speed)) if run.speed.size > 1 else 0.0
    own = float(1 / math.sqrt(np.sum(weight)))
    clock = {"film": FILM_SHARE, "passes timed by a clock": 0.0}.get(run.origin, SOUND_SHARE)
    sd = math.hypot(own, wander, clock * mean)
    return Band(mean, mean - NINETY * sd, mean + NINETY * sd, "measured"), sd


def wanders(run: SpeedRun) -> bool:
    """Whether the run loses or gains so much speed that one number does not say it."""
    return float(np.max(run.speed) - np.min(run.speed)) > FALLS * float(np.median(run.speed))


def moments_of(
    run: SpeedRun, *, begin: float = -math.inf, most: int = MOST
) -> tuple[tuple[float, float, float], ...]:
    """A run from `begin` on as a few moments, time counted from where it begins."""
    keep = run.time >= begin
    time, speed, sd = run.time[keep], run.speed[keep], np.maximum(run.sd[keep], 1e-9)
    found = []
    for piece in np.array_split(np.arange(time.size), min(most, time.size)):
        weight = 1 / sd[piece] ** 2
        total = float(np.sum(weight))
        t, w = (float(np.sum(x[piece] * weight) / total) for x in (time, speed))
        found.append((t, w, max(1 / math.sqrt(total), SOUND_SHARE * w)))
    start = float(time[0]) if time.size else 0.0
    return tuple((t - start, w, spread) for t, w, spread in found)


def picture_of(found: Phoned) -> FittedPicture | None:
    """A run-down as a picture: its moments, the line through them and its 90 % band; None for a steady speed."""
    down = found.coast
    if down is None:
        return None
    x = np.array([down.w_start.value, down.drag_rate.value, down.damping_rate.value])
    seen = list(found.moments)
    if found.how == "volts":
        seen = list(zip(down.time.tolist(), down.seen.tolist(), down.sd.tolist(), strict=True))
    x[0] += _later(np.array(seen), x)
    time = np.linspace(0.0, float(down.time[-1]), 41)
    line = speed_at(time, *x)
    step = 1e-5 * np.maximum(np.abs(x), 1e-3)
    slopes = [
        (speed_at(time, *(x + d)) - speed_at(time, *(x - d))) / (2 * d[k])
        for k, d in enumerate(np.diag(step))
    ]
    table = np.stack(slopes, axis=1)
    reach = NINETY * np.sqrt(np.maximum(np.sum((table @ down.covariance) * table, axis=1), 0.0))
    points = tuple(
        ReadingRow(
            key=f"{n}", says="", procedure="run_down", at="", x=t, seen=w, fitted=math.nan, sd=sd,
            residual=float((w - speed_at(np.array([t]), *x)[0]) / sd),
            unit="rad/s",
        )
        for n, (t, w, sd) in enumerate(seen)
    )  # fmt: skip
    return FittedPicture(
        procedure="run_down", says="", x_name="time", x_unit="s", y_name="speed", y_unit="rad/s", x=time, y=line,
        low=line - reach, high=line + reach, points=points,
    )  # fmt: skip


def _later(seen: F, x: F) -> float:
    """What to add to the starting speed where the moments are counted from another instant than the fit."""
    t, w, sd = seen.T
    fade = np.exp(-x[2] * t)
    weight = fade / sd**2
    return float(np.sum((w - speed_at(t, *x)) * weight) / np.sum(fade * weight))
