"""What a run-down says: steady drag and speed-proportional drag over inertia, and with a known disc the inertia itself.

The model is exact: J dw/dt = -(T0 + b w), so that w = (w0 + a/c) exp(-c t) - a/c with a = T0/J and c = b/J. A soft loss
keeps a stray reading from bending the curve; spreads come from the curvature, and grow when the points scatter more than
their own spreads say.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.rig.outcome import Caveat
from sparewatt.studies.bench.answers import Constant, SpeedRun
from sparewatt.studies.phone.coast_fit import angle_at, solved, speed_at
from sparewatt.studies.phone.film import Passes
from sparewatt.studies.phone.sound import FAST, SLOW, listen

__all__ = [
    "Coast", "coast_down", "coast_from_passes", "coast_from_sound", "coast_from_volts",
]  # fmt: skip

F = NDArray[np.float64]

FEWEST = 5  # speeds that a run-down must have
LEAST_FALL = 0.10  # share of its speed that it must lose
TOP = 0.985  # of the highest speed: the run-down begins where it was last as fast
ABOUT = 4  # passes that make a speed when looking for where the run-down begins
MISCOUNTED = 9.0  # chi2 per degree of a count of turns from which it is not to be trusted
RISES = 1.03  # speed over the one before that ends a run-down
APART = 0.25  # relative spread of a constant from which it is not told apart from the other
NINETY = 1.6449
METER_GAIN = 0.008  # spread of a cheap meter's scale on volts; common practice, no source
BY_FILM = 0.02  # s, spread of a time read from a film of a meter
NOT_APART = "steady drag and drag that grows with speed appear only together here: let it run down to a fifth of its speed"

DRIVEN = "The steady drag comes out below zero. Something drove it, or the first moments were still pushed."
RUBBING = "Drag falls with speed here, which a free wheel does not do. Look for a rubbing part or a push."


@dataclass(frozen=True, slots=True, kw_only=True)
class Coast:
    """A fitted run-down. drag_rate: T0/J; damping_rate: b/J; w_start: speed at the first point used.

    covariance: of (w_start, drag_rate, damping_rate). time, seen, fitted, sd: the points used. chi2_per_degree: near 1
    when the points scatter as their spreads say.
    """

    w_start: Constant
    drag_rate: Constant
    damping_rate: Constant
    covariance: F
    time: F
    seen: F
    fitted: F
    sd: F
    chi2_per_degree: float
    origin: str
    caveats: tuple[Caveat, ...] = ()

    def decel(self, w: float) -> tuple[float, float]:
        """How fast it slows at a speed, and the spread of that: known well even where its two parts are not."""
        pull = np.array([0.0, 1.0, w])
        rate = self.drag_rate.value + self.damping_rate.value * w
        return rate, math.sqrt(max(float(pull @ self.covariance @ pull), 0.0))


# ---- one run-down ---------------------------------------------------------------------------------------------------


def coast_down(run: SpeedRun, *, start: float = math.nan, stop: float = math.nan) -> Coast:
    """The drag of a run-down from speed against time. start, stop: the part to use, s; else from the last fast moment on.

    Refused while the run leaves an octave or a frame rate open: half the speed would be half the drag.
    """
    _settled(run, "run-down")
    part = _part(run, start, stop)
    time, speed, sd = run.time[part] - run.time[part][0], run.speed[part], run.sd[part]
    return _fitted(time, speed, sd, origin=run.origin)


def coast_from_volts(
    times: Sequence[float],
    volts: Sequence[float],
    *,
    k_emf: float,
    k_sd: float = 0.0,
    digit: float = math.nan,
    timing: float = BY_FILM,
    gain_sd: float = METER_GAIN,
) -> Coast:
    """The drag of a run-down from a filmed voltmeter on the open machine, whose volts are k_emf times its speed.

    digit: the last digit of the meter, V; else the smallest step in the readings. timing: spread of a time, s (0.15 by
    stopwatch). The spreads of k_emf and of the meter's scale are shared by all readings and are added at the end.
    """
    time, v = np.asarray(times, dtype=np.float64), np.asarray(volts, dtype=np.float64)
    _check_pairs(time, v, k_emf)
    step = digit if math.isfinite(digit) else _last_digit(v)
    slope = np.polyval(np.polyder(np.polyfit(time, v, 2)), time)
    sd = np.hypot(0.6 * step, slope * timing)
    run = SpeedRun(
        time=time,
        speed=v / k_emf,
        sd=sd / k_emf,
        origin="filmed volts of the open machine",
        clear=True,
        says="",
    )
    part = _part(run, math.nan, math.nan)
    shared = math.hypot(k_sd / k_emf, gain_sd)
    return _fitted(
        time[part] - time[part][0], run.speed[part], run.sd[part], origin=run.origin, shared=shared
    )


def coast_from_sound(
    data: bytes,
    *,
    heard: str = "flags",
    marks: int = 1,
    low: float = SLOW,
    high: float = FAST,
    counted: float = math.nan,
    name: str = "recording",
) -> Coast:
    """The drag of a run-down from its sound: ticks are counted, a tone is followed. See `sound.speed_from_sound`."""
    found = listen(data, heard=heard, marks=marks, low=low, high=high, counted=counted, name=name)
    _settled(found.run, name)
    if found.passes is None or found.passes.time[-1] < found.run.time[-1]:
        return coast_down(found.run)
    counted_out = coast_from_passes(found.passes)
    # One tick counted too many spoils the count from there on, but not the speeds on either side.
    if counted_out.chi2_per_degree > MISCOUNTED:
        return coast_down(found.run)
    return dataclasses.replace(counted_out, origin=found.run.origin)


def coast_from_passes(passes: Passes) -> Coast:
    """The drag of a run-down from the times at which a flag passed: the count of turns is fitted, not its slope.

    From the last fast moment on. The speed must be slow enough for a film to count every turn.
    """
    begin = _last_fast(passes)
    time, turns = passes.time[begin:] - passes.time[begin], passes.turns[begin:] - passes.turns[begin]
    if time.size < FEWEST + 2:
        raise _too_few(time.size, FEWEST + 2)
    guess = np.polyfit(time, 2 * math.pi * turns, 2)
    first = np.array([guess[1], max(-2 * guess[0], 1e-3 * abs(guess[1])), 0.0])

    def turned(x: F) -> F:
        return np.asarray(angle_at(time, x[1], x[2], x[3]) / (2 * math.pi) + x[0])

    # What is uncertain is the time, so a count's spread is that times the speed.
    sd = np.maximum(np.gradient(turns, time), 1e-9) * passes.timing
    x, covariance, chi2 = solved(turned, turns, sd, np.concatenate(([0.0], first)))
    speed = speed_at(time, x[1], x[2], x[3])
    inner = covariance[1:, 1:]
    return _told(x[1:], inner, time, turns, turned(x), sd, chi2, "passes of a flag", float(speed[-1]), 0.0)


def _fitted(time: F, speed: F, sd: F, *, origin: str, shared: float = 0.0) -> Coast:
    if time.size < FEWEST:
        raise _too_few(time.size, FEWEST)
    if speed[-1] > (1 - LEAST_FALL) * speed[0]:
        raise BadRequest(
            Problem(
                where="run-down",
                problem="it hardly slows down in this recording",
                hint="let go and keep recording until it stands",
            )
        )
    line = np.polyfit(time, speed, 1, w=1 / sd)
    first = np.array([line[1], -line[0], 0.0])

    def model(x: F) -> F:
        return speed_at(time, x[0], x[1], x[2])

    x, covariance, chi2 = solved(model, speed, sd, first)
    return _told(x, covariance, time, speed, model(x), sd, chi2, origin, float(speed[-1]), shared)


def _told(
    x: F, covariance: F, time: F, seen: F, fitted: F, sd: F, chi2: float, origin: str, last: float, shared: float
) -> Coast:  # fmt: skip
    scaled = np.array([x[0], x[1], 0.0])  # a scale of all speeds leaves the damping as it is
    covariance = covariance + shared**2 * np.outer(scaled, scaled)
    spread = np.sqrt(np.diag(covariance))
    middle = 0.5 * (x[0] + last)
    total = x[1] + x[2] * middle
    together = spread[1] > APART * abs(total)
    why = NOT_APART if together else ""
    constants = [
        _constant("w_start", x[0], spread[0], "rad/s", ""),
        _constant("drag_rate", x[1], spread[1], "rad/s^2", why),
        _constant("damping_rate", x[2], spread[2], "1/s", why),
    ]
    caveats = []
    for k, text in ((1, DRIVEN), (2, RUBBING)):
        if x[k] < -2 * spread[k]:
            caveats.append(Caveat(where="run-down", text=text))
    if last > 0.4 * x[0]:
        text = "It was followed over less than the upper half of its speeds. Steady drag shows best near the end."
        caveats.append(Caveat(where="run-down", text=text))
    return Coast(
        w_start=constants[0], drag_rate=constants[1], damping_rate=constants[2], covariance=covariance, time=time,
        seen=seen, fitted=fitted, sd=sd, chi2_per_degree=chi2, origin=origin, caveats=tuple(caveats),
    )  # fmt: skip


# ---- helpers --------------------------------------------------------------------------------------------------------


def _part(run: SpeedRun, start: float, stop: float) -> slice:
    """The points of the run-down: from the last fast moment until it stands, speeds up again or ends."""
    time, speed = run.time, run.speed
    if math.isfinite(start) or math.isfinite(stop):
        a = int(np.searchsorted(time, start)) if math.isfinite(start) else 0
        b = int(np.searchsorted(time, stop, side="right")) if math.isfinite(stop) else time.size
    else:
        a, b = int(np.flatnonzero(speed >= TOP * float(np.max(speed)))[-1]), time.size
    if b - a < FEWEST:
        raise _too_few(b - a, FEWEST)
    b = _before_it_rises(speed, run.sd, a, b)
    if b - a < FEWEST:
        raise _too_few(b - a, FEWEST)
    return slice(a, b)


def _before_it_rises(speed: F, sd: F, a: int, b: int) -> int:
    """Where it speeds up again, if it does: three readings in a row above the three before, not a stray one."""
    for k in range(a + 3, b - 2):
        before, after = float(np.median(speed[k - 3 : k])), float(np.median(speed[k : k + 3]))
        if after > RISES * before + 3 * float(np.median(sd[k : k + 3])):
            return k
    return b


def _constant(name: str, value: float, sd: float, unit: str, why: str, key: str = "") -> Constant:
    reach = math.nan if why else NINETY * sd
    return Constant(
        name=name, value=float(value), sd=math.nan if why else float(sd), low=float(value - reach),
        high=float(value + reach), unit=unit, why_no_sd=why, key=key,
    )  # fmt: skip


def _last_fast(passes: Passes) -> int:
    """The last pass at which it was as fast as ever, each speed over a few passes."""
    over = min(ABOUT, passes.time.size - 1)
    rate = (passes.turns[over:] - passes.turns[:-over]) / (passes.time[over:] - passes.time[:-over])
    best = int(np.flatnonzero(rate >= TOP * float(np.max(rate)))[-1])
    return best if best > over else 0


def _settled(run: SpeedRun, where: str) -> None:
    if not run.clear:
        text = (
            run.caveats[0].text
            if run.caveats
            else "Count the turns by eye for 5 seconds, and give that count."
        )
        raise BadRequest(
            Problem(
                where=where,
                problem="the speed of this run is not settled: it may be off by a whole factor",
                hint=text[0].lower() + text[1:],
            )
        )


def _too_few(have: int, need: int) -> BadRequest:
    return BadRequest(
        Problem(
            where="run-down",
            read=f"{max(have, 0)} readings",
            problem=f"at least {need} readings along the run-down are needed",
            hint="keep recording until it stands, or read the film more often",
        )
    )


def _last_digit(v: F) -> float:
    """The smallest step in which the readings are written."""
    for step in (1.0, 0.1, 0.01):
        if np.all(np.abs(v / step - np.round(v / step)) < 1e-6):
            return step
    return 0.001


def _check_pairs(time: F, volts: F, k_emf: float) -> None:
    problems = []
    if (
        time.shape != volts.shape
        or time.ndim != 1
        or not (np.isfinite(time).all() and np.isfinite(volts).all())
    ):
        problems.append(
            Problem(where="volts", problem="each time needs its volts", hint="pairs of seconds and volts")
        )
    elif time.size < FEWEST:
        raise _too_few(time.size, FEWEST)
    elif not (np.diff(time) > 0).all():
        problems.append(
            Problem(
                where="times",
                problem="each time must come after the one before",
                hint="put the pairs in order",
            )
        )
    elif not (volts > 0).all():
        problems.append(
            Problem(
                where="volts",
                problem="a reading is zero or below",
                hint="write volts without the minus, and leave out what comes after it stands",
            )
        )
    if not (math.isfinite(k_emf) and k_emf > 0):
        problems.append(
            Problem(
                where="volts for each turn",
                problem="the machine's constant must be known first",
                hint="drill and meter: open volts at a known speed",
            )
        )
    if problems:
        raise BadRequest(*problems)
