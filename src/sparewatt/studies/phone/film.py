"""Speed from a film: the frames, or the seconds, at which a flag passed one place.

A film looks the same for all speeds a whole number of turns per frame apart, forwards or backwards. One film with a slow
camera therefore gives several speeds; a second film at another frame rate, or at another speed in a known ratio (the volts
of the open machine give it), leaves one.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics.bench import film_speed
from sparewatt.rig.outcome import Caveat
from sparewatt.studies.bench.answers import SpeedRun
from sparewatt.studies.phone.speed_fit import local_rates, straight_rate

__all__ = ["FAST", "SEEMS", "Passes", "passes_of", "speed_from_film", "speed_from_two_films"]

F = NDArray[np.float64]
N = NDArray[np.int64]

RPM = 2 * math.pi / 60
FAST = 6000 * RPM  # speeds above are not thought of unless said otherwise
SEEMS = ("", "forwards", "backwards")
MOST_WRAPS = 400
BY_HAND = 0.15  # s, spread of a stopwatch pressed by hand; common practice, no source
MISSED = (1.6, 2.5)  # a gap of so many of its neighbours' holds a missed pass
STRETCHES = 6
STRAIGHT = 1.3  # scatter over the spread of one timing up to which the speed is steady
AGREE = 0.01  # within which two films say the same, besides their spreads
RATE_SAYS = (
    "A phone's frame rate is seldom exactly what it says. A stopwatch in the picture shows what it was; "
    "half a percent is usual without one."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passes:
    """When a flag passed one place. time: s; turns: of the shaft since the first, as the film shows it.

    timing: spread of one time, s. frame_rate: of the film, NaN where a clock was read. marks: equal flags in a turn.
    seems: which way it seems to turn against the true way, "" when nobody knows. filled: passes that were missed.
    """

    time: F
    turns: F
    timing: float
    frame_rate: float = math.nan
    marks: int = 1
    seems: str = ""
    filled: int = 0

    @property
    def wrap(self) -> float:
        """Speed between two that look alike, rad/s; infinite without a film."""
        return 2 * math.pi * self.frame_rate / self.marks if math.isfinite(self.frame_rate) else math.inf


def passes_of(
    readings: Sequence[float],
    *,
    frame_rate: float = math.nan,
    in_frames: bool = True,
    marks: int = 1,
    turns_each: float = math.nan,
    seems: str = "",
    timing: float = math.nan,
) -> Passes:
    """Passes as read: frame numbers with the film's frame rate, or seconds (in_frames False) with or without a film.

    turns_each: turns from one noted pass to the next (10 when every tenth was noted); one mark's share unless given.
    """
    values = np.asarray(readings, dtype=np.float64)
    filmed = math.isfinite(frame_rate)
    _check(values, frame_rate, in_frames, marks, turns_each, seems)
    time = values / frame_rate if in_frames else values
    if not math.isfinite(timing):
        timing = 1.0 / (frame_rate * math.sqrt(12.0)) if filmed else BY_HAND
    gaps = _gaps(time)
    each = turns_each if math.isfinite(turns_each) else 1.0 / marks
    return Passes(
        time=time - time[0], turns=np.concatenate(([0.0], np.cumsum(gaps))) * each, timing=timing,
        frame_rate=frame_rate, marks=marks, seems=seems, filled=int(gaps.sum() - gaps.size),
    )  # fmt: skip


def _gaps(time: F) -> N:
    """Passes from one noted one to the next: 2 where a gap stands out as twice the gaps beside it."""
    gap = np.diff(time)
    count = np.ones(gap.size, dtype=np.int64)
    for k in range(gap.size):
        beside = [gap[j] for j in (k - 1, k + 1) if 0 <= j < gap.size]
        if len(beside) == 2 and all(MISSED[0] < gap[k] / g < MISSED[1] for g in beside):
            count[k] = 2
    return count


def speed_from_film(passes: Passes, *, low: float = 0.0, high: float = FAST) -> SpeedRun:
    """Speed against time, and the speeds between low and high (rad/s) that look the same on this film.

    The slowest is shown unless the way it seems to turn says otherwise; `other` are the rest over it, by its middle speed.
    """
    run = _seen(passes)
    middle = float(np.median(run.speed))
    options = _options(passes, middle, low, high)
    if not options:
        raise BadRequest(
            Problem(
                where="film",
                read=f"{middle / RPM:.0f} turns a minute seen",
                problem="no speed that looks like this lies between the speeds looked for",
                hint="widen them, or look at the frame rate and at the way it seems to turn",
            )
        )
    shown = _shifted(run, passes, options[0])
    first = options[0].speed
    return _told(shown, tuple(option.speed / first for option in options[1:]), passes)


def speed_from_two_films(
    first: Passes,
    second: Passes,
    *,
    ratio: float = 1.0,
    ratio_sd: float = 0.0,
    low: float = 0.0,
    high: float = FAST,
) -> tuple[SpeedRun, SpeedRun]:
    """Both runs with the speeds that agree: ratio is the second speed over the first (1: another frame rate, same speed).

    ratio from the volts of the open machine holds to 2 %: then ratio_sd 0.02. Refused when nothing agrees.
    """
    if not (math.isfinite(ratio) and ratio > 0):
        raise BadRequest(
            Problem(
                where="ratio",
                read=f"{ratio:g}",
                problem="it must be above zero",
                hint="second volts over first",
            )
        )
    films = (first, second)
    runs = [_seen(film) for film in films]
    middles = [float(np.median(run.speed)) for run in runs]
    sets = [_options(film, middle, low, high) for film, middle in zip(films, middles, strict=True)]
    spreads = [float(np.median(run.sd / run.speed)) / math.sqrt(run.speed.size) for run in runs]
    room = AGREE + 3 * math.hypot(*spreads, ratio_sd)
    pairs = [
        (abs(math.log(b.speed / (a.speed * ratio))), a, b)
        for a in sets[0]
        for b in sets[1]
        if a.speed > 0 and b.speed > 0
    ]
    agreeing = sorted((pair for pair in pairs if pair[0] < room), key=lambda pair: pair[1].speed)
    if not agreeing:
        raise BadRequest(
            Problem(
                where="two films",
                problem="no speed fits both",
                hint="check both frame rates, whether the speed was the same, and the ratio of the volts",
            )
        )
    told = []
    for k, (run, film) in enumerate(zip(runs, films, strict=True)):
        options = [(pair[1], pair[2])[k] for pair in agreeing]
        shown = _shifted(run, film, options[0])
        others = tuple(sorted({o.speed / options[0].speed for o in options[1:]}))
        told.append(_told(shown, others, film))
    return told[0], told[1]


# ---- what a film allows ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Option:
    """One true speed: whole turns hidden between frames, and whether it is seen backwards."""

    speed: float
    wraps: int
    backwards: bool


def _seen(passes: Passes) -> SpeedRun:
    """The speed as the film shows it."""
    turns = passes.turns
    rates = straight_rate(passes.time, turns, least_jitter=passes.timing)
    if turns.size >= 6 and rates.jitter > STRAIGHT * passes.timing:
        size = max(3, turns.size // STRETCHES)
        rates = local_rates(passes.time, turns, size=size, least_jitter=passes.timing)
    if rates.time.size == 0:
        raise BadRequest(
            Problem(
                where="film",
                problem="the passes follow no steady or smoothly changing speed",
                hint="look the frame numbers over, and note every pass",
            )
        )
    origin = "film" if math.isfinite(passes.frame_rate) else "passes timed by a clock"
    return SpeedRun(
        time=rates.time,
        speed=2 * math.pi * rates.rate,
        sd=2 * math.pi * rates.sd,
        origin=origin,
        clear=True,
        says="",
    )


def _options(passes: Passes, seen: float, low: float, high: float) -> list[_Option]:
    """True speeds that look like the one seen, slowest first."""
    if not math.isfinite(passes.wrap):
        return [_Option(seen, 0, False)] if low <= seen <= high else []
    found = []
    for wraps in range(min(MOST_WRAPS, math.ceil(high / passes.wrap) + 1) + 1):
        for backwards in (False, True):
            if (backwards and passes.seems == "forwards") or (not backwards and passes.seems == "backwards"):
                continue
            if backwards and wraps == 0:
                continue  # the same as forwards when nobody knows which way is true
            speed = _speed(passes, -seen if backwards else seen, wraps)
            if low <= speed <= high:
                found.append(_Option(speed, wraps, backwards))
    return sorted(found, key=lambda option: option.speed)


def _speed(passes: Passes, seen: float, wraps: int) -> float:
    return float(film_speed(seen, frame_rate=passes.frame_rate, n_wraps=wraps, marks=passes.marks))


def _shifted(run: SpeedRun, passes: Passes, option: _Option) -> SpeedRun:
    if not math.isfinite(passes.wrap):
        return run
    sign = -1.0 if option.backwards else 1.0
    speed = film_speed(
        sign * run.speed, frame_rate=passes.frame_rate, n_wraps=option.wraps, marks=passes.marks
    )
    return dataclasses.replace(run, speed=np.asarray(speed))


def _told(run: SpeedRun, other: tuple[float, ...], passes: Passes) -> SpeedRun:
    caveats = []
    if other:
        listed = ", ".join(f"{float(np.median(run.speed)) * x / RPM:.0f}" for x in other[:4])
        more = " and more" if len(other) > 4 else ""
        caveats.append(
            f"On this film {listed}{more} turns a minute would look the same. Film it again at another frame rate, "
            "or at another speed and note the open volts at both."
        )
    if math.isfinite(passes.frame_rate):
        caveats.append(RATE_SAYS)
    if passes.filled:
        many = "one pass was" if passes.filled == 1 else f"{passes.filled} passes were"
        caveats.append(f"A gap stands out as twice its neighbours: {many} taken as not noted down.")
    says = "One speed fits the film." if not other else "Several speeds look the same on this film."
    if not math.isfinite(passes.frame_rate):
        says = "Timed by a clock."
    return dataclasses.replace(
        run,
        clear=not other,
        other=other,
        says=says,
        caveats=tuple(Caveat(where="film", text=x) for x in caveats),
    )


def _check(values: F, frame_rate: float, in_frames: bool, marks: int, turns_each: float, seems: str) -> None:
    problems = []
    if values.ndim != 1 or values.size < 2 or not np.isfinite(values).all():
        problems.append(
            Problem(
                where="passes", problem="two numbers or more are needed", hint="the frame number of each pass"
            )
        )
    elif not (np.diff(values) > 0).all():
        k = int(np.argmin(np.diff(values) > 0))
        problems.append(
            Problem(
                where=f"pass {k + 2}",
                read=f"{values[k + 1]:g} after {values[k]:g}",
                problem="each pass must come after the one before",
                hint="if two passes fall into one frame the camera is too slow: note every tenth pass, or film faster",
            )
        )
    if (in_frames and not math.isfinite(frame_rate)) or (math.isfinite(frame_rate) and frame_rate <= 0):
        problems.append(
            Problem(
                where="frame rate",
                read=f"{frame_rate:g}",
                problem="it must be above zero",
                hint="30, 60, 120 or 240",
            )
        )
    if marks < 1 or turns_each <= 0:
        problems.append(
            Problem(where="marks", problem="marks and turns must be above zero", hint="1 for one flag")
        )
    if seems not in SEEMS:
        problems.append(
            Problem(
                where="seems", read=seems, problem="not a way to turn", hint="forwards, backwards, or nothing"
            )
        )
    if problems:
        raise BadRequest(*problems)
