"""The phone as an instrument: speed from sound or film, a run-down from either or from typed volts, kept as a reading."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.files.lists import columns_of, passes_in
from sparewatt.files.readings_write import NewReading
from sparewatt.present import words_phone
from sparewatt.quantities import BadText, parse, render
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.reading_kinds import KINDS, Kind
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import Where, open_place
from sparewatt.tasks.benching import bench_write, new_reading
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_bench import PHONE
from sparewatt.tasks.questions import answered

if TYPE_CHECKING:
    from sparewatt.studies.bench.answers import SpeedRun
    from sparewatt.studies.phone.coast import Coast
    from sparewatt.studies.phone.film import Passes
    from sparewatt.studies.phone.phoned import Phoned

__all__ = ["FALLS", "STEADY", "bench_list", "phone", "phone_keep"]

Pairs = Iterable[tuple[str, str]]
STEADY = tuple(
    k.key for k in KINDS.values() if "speed" in k.whats and not k.series
)  # what one speed may belong to
FALLS = ("run_down", "run_down_disc", "run_down_rig")
NAN = math.nan
WIDEST = "0 to 6000 rpm"
RATIO_SD = 0.02  # of the volts of two spins, which say how their speeds compare


def phone(
    place: Where,
    *,
    sound: bytes = b"",
    name: str = "recording",
    flags: int = 1,
    tone: int = 0,
    film: str = "",
    rate: str = "",
    again: str = "",
    again_rate: str = "",
    ratio: str = "",
    volts: str = "",
    counted: str = "",
    between: str = "",
    seems: str = "",
    falls: bool = False,
) -> Answer:
    """How fast does it turn? From a WAV file, from the passes of a flag on a film, or from volts against time.

    flags: in a turn; tone: teeth, bars or poles in a turn, when a tone is listened to. film: frames or times of the passes,
    rate: frames a second; again: the same of a second film, ratio: its open volts over the first one's. volts: seconds and
    volts of the open machine, line by line. counted: turns counted by eye; between: where to look; falls: it runs down.
    """
    loaded, origin = open_place(place)
    filled = fill(loaded.rig)
    given = [bool(sound), bool(film.strip()), bool(volts.strip())]
    if sum(given) != 1:
        says = "one recording, one list of passes or one list of volts is looked at at a time."
        raise BadRequest(Problem("phone", says, "a WAV file, or the frames at which a flag passed"))
    low, high = _between(between)
    eye = _number("counted", counted, "rad/s", NAN)
    if sound:
        found = _heard(sound, name, flags, tone, low, high, eye, falls)
    elif film.strip():
        first = _passes(film, rate, flags, seems, "film")
        second = _passes(again, again_rate or rate, flags, seems, "second film") if again.strip() else None
        found = _filmed(first, second, _number("ratio", ratio, "1", 1.0), low, high, eye, falls)
    else:
        found = _typed(volts, filled)
    return answered(
        "bench", filled, origin, found, flatten(PHONE, found), answer=words_phone.phone_answer(found),
        verdict=None if found.clear else "look again",
    )  # fmt: skip


def _heard(
    sound: bytes, name: str, flags: int, tone: int, low: float, high: float, eye: float, falls: bool
) -> Phoned:
    from sparewatt.studies.phone import coast
    from sparewatt.studies.phone.phoned import wanders
    from sparewatt.studies.phone.sound import SLOW, listen

    how = {"heard": "tone" if tone else "flags", "marks": tone or flags, "low": max(low, SLOW), "high": high}
    run = listen(sound, counted=eye, name=name, **how).run  # type: ignore[arg-type]
    down = None
    if falls and run.clear:
        down = coast.coast_from_sound(sound, counted=eye, name=name, **how)  # type: ignore[arg-type]
    elif run.clear and wanders(run):
        down = _perhaps(run)
    return _told("sound", run, down)


def _filmed(
    first: Passes, second: Passes | None, ratio: float, low: float, high: float, eye: float, falls: bool
) -> Phoned:
    from sparewatt.studies.phone import coast, film
    from sparewatt.studies.phone.phoned import wanders
    from sparewatt.studies.phone.sound import settled

    if second is None:
        run = film.speed_from_film(first, low=low, high=high)
    else:
        sd = 0.0 if ratio == 1.0 else RATIO_SD
        run, _other = film.speed_from_two_films(first, second, ratio=ratio, ratio_sd=sd, low=low, high=high)
    if math.isfinite(eye):
        run = settled(run, eye)
    down: Coast | None = None
    if falls and run.clear:
        down = coast.coast_from_passes(first) if run.speed.size < coast.FEWEST else coast.coast_down(run)
    elif run.clear and wanders(run):
        down = _perhaps(run)
    return _told("film" if math.isfinite(first.frame_rate) else "clock", run, down)


def _perhaps(run: SpeedRun) -> Coast | None:
    """The run-down of a run that loses much speed, where it is one."""
    from sparewatt.studies.phone.coast import coast_down

    try:
        return coast_down(run)
    except BadRequest:
        return None


def _typed(text: str, filled: Filled) -> Phoned:
    from sparewatt.physics.machine import BRIDGE_FACTOR
    from sparewatt.studies.bench.known_rig import THREE
    from sparewatt.studies.phone.coast import coast_from_volts
    from sparewatt.studies.phone.phoned import Phoned

    rows = columns_of(text, KINDS["run_down"], "volts", ("time", "volts"))
    pairs = [
        tuple(parse(cell, u).value for (_, cell), u in zip(row, ("s", "V"), strict=True)) for row in rows
    ]
    machine = filled.rig.machine
    assert machine is not None and machine.emf_constant is not None
    factor = BRIDGE_FACTOR if machine.kind in THREE else 1.0
    k = machine.emf_constant
    times, volts = ([pair[n] for pair in pairs] for n in (0, 1))
    down = coast_from_volts(times, volts, k_emf=k.value * factor, k_sd=k.sd * factor)
    nothing = Band(NAN, NAN, NAN, "measured")
    return Phoned(
        how="volts", origin="typed volts", run=None, coast=down, speed=nothing, speed_sd=NAN, others=(),
        moments=tuple((t, v, NAN) for t, v in pairs), clear=True, says="", caveats=down.caveats,
        sources=("dc_machine", "coast_down"),
    )  # fmt: skip


def _told(how: str, run: SpeedRun, down: Coast | None) -> Phoned:
    from sparewatt.studies.phone.phoned import Phoned, moments_of, steady_of

    speed, sd = steady_of(run)
    begin = float(run.time[-1] - down.time[-1]) if down is not None else -math.inf
    moments = moments_of(run, begin=max(begin, float(run.time[0]))) if down is not None else ()
    return Phoned(
        how=how, origin=run.origin, run=run, coast=down, speed=speed, speed_sd=sd,
        others=tuple(x * speed.mid for x in run.other), moments=moments, clear=run.clear, says=run.says,
        caveats=(*run.caveats, *(down.caveats if down is not None else ())),
        sources=("coast_down",) if down is not None else (),
    )  # fmt: skip


# ---- what was typed ----


def _passes(text: str, rate: str, flags: int, seems: str, where: str) -> Passes:
    from sparewatt.studies.phone.film import passes_of

    frames = _rate(rate, where)
    read = passes_in(text, where, filmed=math.isfinite(frames))
    return passes_of(read.values, frame_rate=frames, in_frames=not read.in_seconds, marks=flags, seems=seems)


def _rate(text: str, where: str) -> float:
    """Frames a second: "120", "120/s" or "29.97 fps"; NaN when none is given."""
    plain = (
        text.casefold()
        .replace("fps", "")
        .replace("/s", "")
        .replace("frames a second", "")
        .replace(",", ".")
        .strip()
    )
    if not plain:
        return NAN
    try:
        return float(plain)
    except ValueError:
        raise BadRequest(
            Problem(f"{where} rate", "this is no number of frames a second.", "120", text[:40])
        ) from None


def _number(where: str, text: str, unit: str, otherwise: float) -> float:
    if not text.strip():
        return otherwise
    bare = not any(c.isalpha() for c in text) and unit == "rad/s"
    try:
        return parse(f"{text} rpm" if bare else text, unit).value
    except BadText as bad:
        raise BadRequest(Problem(where, bad.problem, bad.hint, bad.read)) from None


def _between(text: str) -> tuple[float, float]:
    """Lowest and highest speed to look for."""
    low, _, high = (text or WIDEST).casefold().partition(" to ")
    if not high:
        says = "this says from where to where to look, so it has two ends."
        raise BadRequest(Problem("between", says, "300 to 2000 rpm", text[:60]))
    bare = not any(c.isalpha() for c in low)
    unit = high.strip().partition(" ")[2] or "rpm"
    return _number("between", f"{low} {unit}" if bare else low, "rad/s", 0.0), _number(
        "between", high, "rad/s", NAN
    )


# ---- kept ----


def phone_keep(
    place: str | Path, found: Phoned, kind: str, values: Mapping[str, str] | Pairs = (), *, meter: str = "", scale: str = "",
    note: str = "", digest: str | None = None, now: datetime.datetime | None = None, **told: Any,
) -> Answer:  # fmt: skip
    """Write what the phone said down as a reading of this kind, with what was read beside it, and say what is known now."""
    more = list(values.items()) if isinstance(values, Mapping) else list(values)
    pairs = reading_of(found, kind, more)
    meters = {what: meter for what, _ in more} | {"speed": found.how, "time": "film", "volts": meter}
    new = NewReading(
        kind=kind, values=pairs, meter=meters, scale={"volts": scale}, note=note or found.origin, **told
    )
    return bench_write(place, [new], digest=digest, now=now)


def reading_of(found: Phoned, kind: str, more: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """The values of a reading of this kind: what was typed, and what the phone said."""
    if not found.clear:
        says = "the speed is not settled: it may be off by a whole factor, so it is not written down."
        raise BadRequest(Problem("phone", says, "count turns by eye, or say between which speeds to look"))
    fitting = FALLS if found.falls else STEADY
    if kind not in fitting:
        what = "A run-down" if found.falls else "A steady speed"
        raise BadRequest(
            Problem("phone", f"{what} does not belong to this kind of reading.", ", ".join(fitting), kind)
        )
    if not found.falls:
        return [
            *more,
            ("speed", f"{render(found.speed.mid, 'rpm', 5)} +/- {render(found.speed_sd, 'rpm', 2)}"),
        ]
    value, unit = ("volts", "V") if found.how == "volts" else ("speed", "rad/s")
    pairs = list(more)
    for t, v, sd in found.moments:
        spread = f" +/- {sd:.3g} {unit}" if math.isfinite(sd) else ""
        pairs += [
            ("time", f"{t:.3f} s" + ("" if unit == "V" else " +/- 0.002 s")),
            (value, f"{v:.6g} {unit}{spread}"),
        ]
    return pairs


def bench_list(
    place: str | Path, kind: str, text: str, values: Pairs = (), *, digest: str | None = None,
    now: datetime.datetime | None = None, **told: Any,
) -> Answer:  # fmt: skip
    """Write a whole list of readings down, all of it or nothing. The rest as in `list_readings`."""
    return bench_write(place, list_readings(kind, text, values, **told), digest=digest, now=now)


def list_readings(
    kind: str, text: str, values: Pairs = (), *, columns: Sequence[str] = (), **told: Any
) -> list[NewReading]:
    """What a list says: a series is one reading, anything else is one reading a line.

    values: what holds for all of it ("disc_mass", "1 kg"). told: as in `new_reading`.
    """
    from sparewatt.files.readings import kind_of

    try:
        of: Kind = kind_of(kind)
    except BadText as bad:
        raise BadRequest(Problem("list", bad.problem, bad.hint, bad.read)) from None
    rows = columns_of(text, of, "list", columns)
    more = list(values)
    whole = [[pair for row in rows for pair in row]] if of.series else rows
    return [new_reading(kind, [*more, *pairs], **told) for pairs in whole]
