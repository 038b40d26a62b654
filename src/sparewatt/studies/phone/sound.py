"""Speed against time from a phone's sound recording: a flag that ticks, or the tone of teeth, commutator bars or poles.

A rhythm alone cannot always say whether it is the turning itself, half of it or twice: then the run says so (`clear` is
False, `other` holds the factors), and `settled` takes the one check that decides, a count of turns by eye.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics.bench import mark_speed
from sparewatt.rig.outcome import Caveat
from sparewatt.studies.bench.answers import SpeedRun
from sparewatt.studies.phone import sound_octave, sound_ticks, sound_tone
from sparewatt.studies.phone.film import Passes
from sparewatt.studies.phone.sound_flags import JOIN, SAME, joined, piece_of
from sparewatt.studies.phone.sound_wav import Recording, read_wav

__all__ = ["FAST", "HEARD", "SLOW", "Heard", "listen", "settled", "speed_from_sound"]

F = NDArray[np.float64]

RPM = 2 * math.pi / 60
HEARD = ("flags", "tone")
SLOW, FAST = 20 * RPM, 6000 * RPM  # what is looked for unless said otherwise
SHORTEST_GAP = 0.006  # s; ticks that follow faster run together into a tone
CLIPPED = 0.02
NEAR_HUM = 0.006
STEADY = 0.004  # share within which a tone does not move
AGREES = 0.2  # share within which a counted speed picks out one of several

CHECK = (
    "Count the turns by eye for 5 seconds, at a slow steady speed if need be, and give that count; "
    "or stick on another number of flags and record again."
)
ODD_BARS = "A commutator with an odd number of bars sounds twice as often as it has bars. Count turns once to be sure."


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What a recording says: speed against time, and where one flag or more ticked, the ticks themselves.

    passes: of the longest stretch without a break, None for a tone. They are right when `run` is clear.
    """

    run: SpeedRun
    passes: Passes | None = None


def speed_from_sound(
    data: bytes,
    *,
    heard: str = "flags",
    marks: int = 1,
    low: float = SLOW,
    high: float = FAST,
    counted: float = math.nan,
    name: str = "recording",
) -> SpeedRun:
    """Speed against time from the bytes of a WAV file.

    heard: "flags" (one tick for each of `marks` flags) or "tone" (`marks` teeth, bars or poles in a turn).
    low, high: between which shaft speeds to look, rad/s. counted: a speed counted by eye, rad/s, that settles an octave.
    """
    return listen(data, heard=heard, marks=marks, low=low, high=high, counted=counted, name=name).run


def listen(
    data: bytes,
    *,
    heard: str = "flags",
    marks: int = 1,
    low: float = SLOW,
    high: float = FAST,
    counted: float = math.nan,
    name: str = "recording",
) -> Heard:
    """The same, with the ticks beside the speeds."""
    _check(heard, marks, low, high)
    recording = read_wav(data, name)
    found = (
        _by_ticks(recording, marks, low, high, name)
        if heard == "flags"
        else Heard(run=_by_tone(recording, marks, low, high, name))
    )
    run, passes = found.run, found.passes
    if recording.clipped > CLIPPED:
        text = "The recording is overdriven, which adds false lines. Hold the phone further away."
        run = dataclasses.replace(run, caveats=(*run.caveats, Caveat(where="sound", text=text)))
    if math.isfinite(counted):
        before = run.speed
        run = settled(run, counted)
        if passes is not None:
            passes = dataclasses.replace(passes, turns=passes.turns * float(run.speed[0] / before[0]))
    return Heard(run=run, passes=passes)


def settled(run: SpeedRun, counted: float) -> SpeedRun:
    """The run with its octave settled by a speed counted by eye in its first 5 seconds (rad/s).

    Refused when no reading of the recording is near that speed.
    """
    if not (math.isfinite(counted) and counted > 0):
        raise BadRequest(
            Problem(
                where="counted speed",
                read=f"{counted:g}",
                problem="the counted speed must be above zero",
                hint="turns in 5 seconds, times 12, is turns a minute",
            )
        )
    first = run.time <= run.time[0] + 5.0
    seen = float(np.median(run.speed[first]))
    options = sorted({1.0, *run.other}, key=lambda factor: abs(math.log(seen * factor / counted)))
    best = options[0]
    if abs(math.log(seen * best / counted)) > AGREES:
        raise BadRequest(
            Problem(
                where="counted speed",
                read=f"{counted / RPM:.0f} turns a minute",
                problem=f"the recording says {seen / RPM:.0f} turns a minute in its first seconds"
                + (", or " + ", ".join(f"{seen * x / RPM:.0f}" for x in run.other) if run.other else ""),
                hint="count again at the same time as you record, and look at the number of flags or teeth",
            )
        )
    return dataclasses.replace(
        run,
        speed=run.speed * best,
        sd=run.sd * best,
        clear=True,
        other=(),
        says="The count of turns settles it.",
    )


# ---- ticks ----------------------------------------------------------------------------------------------------------


def _by_ticks(recording: Recording, marks: int, low: float, high: float, name: str) -> Heard:
    env = sound_ticks.envelope(recording.sound, recording.rate)
    shortest = max(2 * math.pi / (marks * high), SHORTEST_GAP)
    found = sound_ticks.chains(env, shortest, max(2 * math.pi / low, 2 * shortest), marks)
    if not found:
        raise _nothing(
            name,
            "no steady ticking was found in it",
            "a stiff card that slaps a flag of tape, the phone within half a metre, 5 seconds or more; "
            "ticks that run together are a tone",
        )
    pieces = [piece for piece in (piece_of(env, chain, marks) for chain in found) if piece.time.size]
    if not pieces:
        raise _nothing(
            name, "the ticks in it follow no smooth speed", "let it run steadily, and record again"
        )
    pieces, other = joined(pieces, marks)
    time = np.concatenate([piece.time for piece in pieces])
    speed = mark_speed(np.concatenate([piece.rate for piece in pieces]))
    sd = mark_speed(np.concatenate([piece.sd for piece in pieces]))
    what = "1 flag" if marks == 1 else f"{marks} flags"
    run = SpeedRun(
        time=time, speed=speed, sd=sd, origin=f"sound of {what}", clear=not other,
        says=_says(other, "ticks"), other=other, caveats=_doubts(other, "ticks"),
    )  # fmt: skip
    return Heard(run=run, passes=max(pieces, key=lambda piece: piece.ticks).passes)


# ---- tone -----------------------------------------------------------------------------------------------------------


def _by_tone(recording: Recording, marks: int, low: float, high: float, name: str) -> SpeedRun:
    bottom, top = (marks * w / (2 * math.pi) for w in (low, high))
    top = min(top, 0.4 * recording.rate)
    tone = sound_tone.hear(recording.sound, recording.rate, bottom, top) if top > 1.2 * bottom else None
    if tone is None:
        raise _nothing(
            name,
            "no steady tone was found in it",
            "the phone against the housing, nothing else running, and the number of teeth or bars right; "
            "or stick on a flag and let it tick",
        )
    power, ground = sound_octave.orders_of_tone(
        recording.sound, recording.rate, tone.time[tone.longest], tone.pitch[tone.longest]
    )
    beat = sound_octave.beat(power, ground=ground, single=True)
    factor = float(mark_speed(beat.factor, marks=marks)) * _one_octave(tone)
    caveats = [*_doubts(beat.other, "tone"), Caveat(where="sound", text=ODD_BARS)]
    if _is_hum(tone.pitch):
        text = "The tone stands still where mains hum does. Switch off what hums, or change the speed, and record again."
        caveats.append(Caveat(where="sound", text=text))
    return SpeedRun(
        time=tone.time, speed=tone.pitch * factor, sd=tone.sd * factor, origin=f"tone of {marks} in a turn",
        clear=not beat.other, says=_says(beat.other, "tone"), other=beat.other, caveats=tuple(caveats),
    )  # fmt: skip


def _one_octave(tone: sound_tone.Tone) -> F:
    """Factors that bring pitches heard an octave off, next to the longest run, to where that run is."""
    factor = np.ones(tone.pitch.size)
    for way, first in ((1, tone.longest.stop), (-1, tone.longest.start - 1)):
        for k in range(first, tone.pitch.size if way > 0 else -1, way):
            beside = k - way
            jump = math.log(float(tone.pitch[k] / (tone.pitch[beside] * factor[beside])))
            if abs(float(tone.time[k] - tone.time[beside])) > JOIN:
                break
            near = min((1.0, 0.5, 2.0, 1 / 3, 3.0), key=lambda x: abs(jump + math.log(x)))
            factor[k] = near if abs(jump + math.log(near)) < SAME else 1.0
    return factor


def _is_hum(pitch: F) -> bool:
    middle = float(np.median(pitch))
    if float(np.median(np.abs(pitch / middle - 1))) > STEADY:
        return False
    return any(
        abs(middle / hum - round(middle / hum)) < NEAR_HUM * middle / hum
        for hum in sound_octave.HUM
        if middle < 8 * hum
    )


# ---- words ----------------------------------------------------------------------------------------------------------


def _fraction(factor: float) -> str:
    names = {1 / 3: "a third of", 0.5: "half", 2.0: "twice", 3.0: "three times"}
    for value, word in names.items():
        if abs(factor / value - 1) < 0.01:
            return word
    return f"{factor:g} times" if factor > 1 else f"1/{1 / factor:g} of"


def _says(other: tuple[float, ...], what: str) -> str:
    if not other:
        return "One speed fits the sound."
    listed = " or ".join(_fraction(x) for x in other)
    return f"The {what} fit {listed} this speed as well."


def _doubts(other: tuple[float, ...], what: str) -> tuple[Caveat, ...]:
    if not other:
        return ()
    listed = " or ".join(_fraction(x) for x in other)
    text = f"The true speed may be {listed} what is shown: the {what} alone cannot tell. {CHECK}"
    return (Caveat(where="sound", text=text),)


def _nothing(name: str, problem: str, hint: str) -> BadRequest:
    return BadRequest(Problem(where=name, problem=problem, hint=hint))


def _check(heard: str, marks: int, low: float, high: float) -> None:
    problems = []
    if heard not in HEARD:
        problems.append(
            Problem(
                where="heard",
                read=heard,
                problem="it is not known what to listen for",
                hint=" or ".join(HEARD),
            )
        )
    if marks < 1:
        problems.append(
            Problem(
                where="marks",
                read=f"{marks}",
                problem="one mark or more must pass in a turn",
                hint="1 for one flag",
            )
        )
    if not 0 < low < high < math.inf:
        problems.append(
            Problem(
                where="speeds to look between",
                read=f"{low / RPM:g} to {high / RPM:g} turns a minute",
                problem="the lower must be above zero and below the higher",
                hint="20 to 6,000 turns a minute holds most machines",
            )
        )
    if problems:
        raise BadRequest(*problems)
