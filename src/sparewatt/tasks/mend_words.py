"""A moment of a ride as somebody types it: "cadence 62, 11.4 V, 3.1 A, heavy", or "cadence=62rpm volts=11.4V feel=hard".

Whatever cannot be read is named, all of it at once, in which moment it stands and what would be read.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence

from sparewatt.errors import BadRequest, Problem
from sparewatt.studies.mend.answers import Moment
from sparewatt.tasks.mend_reader import EXAMPLE, STAMP, Reader

__all__ = ["EXAMPLE", "MOST_LETTERS", "MOST_MOMENTS", "moment_of", "moment_text", "moments_told"]

MOST_LETTERS, MOST_MOMENTS = 400, 40


def moment_of(
    text: str,
    *,
    gears: Sequence[str] = (),
    loads: Sequence[str] = (),
    where: str = "moment",
    fine: bool = False,
) -> Moment:
    """One typed moment; BadRequest with everything in it that cannot be used. fine: read when all was still well."""
    if len(text) > MOST_LETTERS:
        raise BadRequest(
            Problem(where, "this is too long for one moment.", f"{MOST_LETTERS} letters", text[:40])
        )
    reader = Reader(" ".join(text.split()), where, gears, loads)
    reader.read()
    found = reader.found
    meter = found.pop("meter", "")
    for one in ("volts_meter", "amps_meter"):
        found.setdefault(one, meter)
    found["fine"] = bool(found.get("fine")) or fine
    said = any(
        what in found
        for what in ("cadence", "speed", "volts", "amps", "volts_out", "amps_out", "heat", "feel")
    )
    if not said and not reader.problems:
        reader.problem("there is no reading in it.", f"type what you saw: {EXAMPLE}")
    if found.get("joined") == "lamp" and "amps" not in found and not reader.problems:
        reader.problem(
            "with a lamp joined the amps are needed too.", "lamp joined, 600 rpm at the machine, 8 V, 2 A"
        )
    if reader.problems:
        raise BadRequest(*reader.problems)
    return Moment(**found, spreads=tuple(reader.spreads))


def moments_told(
    told: Iterable[str | Moment],
    well: Iterable[str | Moment] = (),
    *,
    gears: Sequence[str],
    loads: Sequence[str],
) -> tuple[Moment, ...]:
    """Typed moments, those from when all was well first; everything that cannot be read at once."""
    problems: list[Problem] = []
    found: list[Moment] = []
    for word, fine, all_ in (("well", True, list(well)), ("moment", False, list(told))):
        if len(all_) > MOST_MOMENTS:
            hint = f"type the last few; {MOST_MOMENTS} at most"
            problems.append(Problem(word, f"{len(all_)} moments are more than are read.", hint))
            continue
        for n, one in enumerate(all_, 1):
            where = f"{word} {n}" if len(all_) > 1 else word
            try:
                made = one if isinstance(one, Moment) else moment_of(
                    one, gears=gears, loads=loads, where=where, fine=fine
                )  # fmt: skip
            except BadRequest as bad:
                problems.extend(bad.problems)
                continue
            found.append(dataclasses.replace(made, fine=made.fine or fine))
    if problems:
        raise BadRequest(*problems)
    return tuple(found)


_TELL = (("cadence", "rpm"), ("speed", "rpm"), ("volts", "V"), ("amps", "A"), ("volts_out", "V"), ("amps_out", "A"),
         ("heat", "degC"), ("effort", "W"), ("ridden", "min"))  # fmt: skip


def moment_text(m: Moment) -> str:
    """A moment as it could be typed; read again it is the same to the digits shown."""
    from sparewatt.quantities.units import render

    parts = [f"at={m.at}"] if STAMP.fullmatch(m.at) else []
    parts += ["by drill"] if m.drill else []
    parts += [f"{m.joined} joined"] if m.joined != "load" else []
    for what, unit in _TELL:
        value = getattr(m, what)
        if math.isfinite(value):
            parts.append(f"{what.replace('_', ' ')} {render(value, unit, 4)}")
    parts += [m.feel] if m.feel else []
    parts += [f'gear "{m.gear}"'] if m.gear else []
    parts += [f'load "{m.load}"'] if m.load else []
    parts += [
        f'{key.replace("_", " ")} "{getattr(m, key)}"'
        for key in ("volts_meter", "amps_meter")
        if getattr(m, key)
    ]
    return ", ".join(parts)
