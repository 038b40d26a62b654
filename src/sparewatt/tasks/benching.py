"""The bench: procedures to follow, readings to keep beside the rig, and what they make known."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.files import read_rig
from sparewatt.files.known import Known, write_known
from sparewatt.files.put_part import put_part
from sparewatt.files.readings import Readings, read_readings
from sparewatt.files.readings_write import NewReading, aside_word, write_readings
from sparewatt.present import words_bench
from sparewatt.rig.bind import find_rider
from sparewatt.rig.fill import fill
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import Where, open_place
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_bench import BENCH, PROCEDURE
from sparewatt.tasks.questions import Changes, answered

if TYPE_CHECKING:
    from sparewatt.studies.bench.answers import BenchAnswer
    from sparewatt.studies.bench.procedures import Guide, Screening

__all__ = [
    "bench", "bench_add", "bench_blank", "bench_guide", "bench_guides", "bench_keep",
    "bench_labels", "bench_questions", "bench_readings", "bench_restore", "bench_write", "new_reading",
]  # fmt: skip


def bench(place: Where, *, answers: Mapping[str, bool] | None = None, changes: Changes = ()) -> Answer:
    """What is it really? All readings beside the rig in one fit. answers: to the questions before any effort."""
    from sparewatt.studies.bench.known_cards import bench_answer
    from sparewatt.studies.bench.procedures import may_ride

    loaded, origin = open_place(place, changes)
    readings = bench_readings(origin, partly=True)
    filled = fill(loaded.rig)
    found = bench_answer(filled, readings.ready, hardest=may_ride(answers, find_rider(filled.rig, None)))
    said = answered(
        "bench",
        filled,
        origin,
        found,
        flatten(BENCH, found),
        answer=words_bench.bench_answer(found, len(readings.entries)),
        verdict=found.gate,
    )
    if not readings.problems:
        return said
    import dataclasses

    told = tuple(problem.sentence() for problem in readings.problems)
    return dataclasses.replace(said, caveats=(*said.caveats, *told))


def bench_readings(origin: str, *, partly: bool = False) -> Readings:
    """The readings beside a rig file; none when it was never written to a disk."""
    return read_readings(origin, partly=partly) if origin else Readings(path=Path("readings.csv"))


def bench_guides(place: Where, answers: Mapping[str, bool] | None = None) -> tuple[tuple[Guide, str], ...]:
    """Every procedure with this rig's own likely readings, each with why it is not offered ("" when it is)."""
    from sparewatt.studies.bench import procedures

    loaded, _origin = open_place(place)
    filled = fill(loaded.rig)
    rider = find_rider(filled.rig, None)
    return tuple(
        (_for_rig(one, filled), procedures.why_not(one, answers, rider)) for one in procedures.guides()
    )


def bench_questions() -> Screening:
    """The questions before any effort, and the signs at which to stop."""
    from sparewatt.studies.bench import procedures

    return procedures.screening()


def bench_guide(place: Where, key: str, answers: Mapping[str, bool] | None = None) -> Answer:
    """One procedure, step by step, with this rig's own likely readings; refused when the answers forbid its effort."""
    from sparewatt.studies.bench import procedures

    loaded, origin = open_place(place)
    filled = fill(loaded.rig)
    one = procedures.guide(key)
    no = procedures.why_not(one, answers, find_rider(filled.rig, None))
    if no:
        raise BadRequest(Problem(f"procedure '{key}'", no, "choose one that asks less of a body", key))
    ready = _for_rig(one, filled)
    return Answer(
        section="bench",
        answer=f"{ready.procedure.title}, about {ready.procedure.minutes:.0f} min. {ready.procedure.why}",
        verdict=None,
        results=flatten(PROCEDURE, ready),
        nearest_yes=(),
        caveats=(),
        sources=tuple(ready.procedure.sources),
        study=ready,
        rig=filled.rig,
        origin=origin,
    )


def _for_rig(one: Guide, filled: object) -> Guide:
    import dataclasses

    from sparewatt.studies.bench import procedures

    return dataclasses.replace(one, procedure=procedures.for_rig(one, filled))  # type: ignore[arg-type]


def bench_add(
    place: str | Path, kind: str, values: Mapping[str, str] | Iterable[tuple[str, str]], *, digest: str | None = None,
    now: datetime.datetime | None = None, **told: Any,
) -> Answer:  # fmt: skip
    """Write one reading down beside the rig, and say what is known with it. told: as in `new_reading`."""
    return bench_write(place, [new_reading(kind, values, **told)], digest=digest, now=now)


def new_reading(
    kind: str,
    values: Mapping[str, str] | Iterable[tuple[str, str]],
    *,
    meter: str = "",
    scale: str = "",
    **told: Any,
) -> NewReading:
    """A reading with one named meter and one range, each put to the values that it goes with. told: as in `NewReading`."""
    pairs = list(values.items()) if isinstance(values, Mapping) else list(values)
    meters, scales = read_with(kind, dict.fromkeys(what for what, _ in pairs), meter, scale)
    return NewReading(kind=kind, values=pairs, meter=meters, scale=scales, **told)


def bench_write(
    place: str | Path, new: Sequence[NewReading] = (), *, aside: Mapping[int, str] = MappingProxyType({}),
    back: Iterable[int] = (), digest: str | None = None, now: datetime.datetime | None = None,
) -> Answer:  # fmt: skip
    """Write readings down, leave lines out for a reason and let others count again: all of it, or nothing."""
    used = {line: aside_word(why) for line, why in aside.items()} | dict.fromkeys(back, "yes")
    write_readings(read_rig(place).path or place, new, used=used, whole=True, digest=digest, now=now)
    return bench(place)


def read_with(
    kind: str, whats: Iterable[str], meter: str, scale: str
) -> tuple[dict[str, str], dict[str, str]]:
    """Which values one named meter and one range go with: a film with speeds, "20 V" with volts, a yellow meter with both
    volts and amps."""
    from sparewatt.quantities import BadText, parse
    from sparewatt.studies.bench.reading_kinds import READINGS
    from sparewatt.studies.bench.reading_meters import METERS

    units = {what: READINGS[f"{kind}.{what}"].unit for what in whats if f"{kind}.{what}" in READINGS}
    spoken = meter.casefold()
    meant = {one.unit for one in METERS.values() if any(word in spoken for word in one.words)} & set(
        units.values()
    )
    meant = meant or {"V", "A", "ohm"} & set(units.values()) or set(units.values())

    def fits(unit: str) -> bool:
        try:
            parse(scale.replace("DC", "").replace("AC", ""), unit)
        except BadText:
            return False
        return True

    ranged = {what for what, unit in units.items() if scale and fits(unit)} or set(units)
    return {w: meter for w, unit in units.items() if unit in meant}, {w: scale for w in units if w in ranged}


def bench_keep(place: str | Path) -> tuple[Answer, tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Write what is known now into the rig file: (answer, keys written, (constant, why it was left) of the rest)."""
    answer = bench(place)
    found: BenchAnswer = answer.study  # type: ignore[assignment]
    if not found.parts:
        raise BadRequest(
            Problem(
                "bench",
                "no reading makes any constant better known yet.",
                "read something first: bench lists what",
            )
        )
    used = tuple(dict.fromkeys(row.key for row in found.fitted.rows if row.used))
    written = write_known(read_rig(place), [Known(part=part, used=used) for part in found.parts])
    keys = tuple(c.key for part in found.parts for c in part.constants if c.key)
    left = dict(written.left)
    return bench(place), tuple(k for k in keys if k not in left), written.left


def bench_blank(place: Where, key: str, *, paper: str = "a4", inch: bool = False) -> bytes:
    """A procedure printed blank, boxes for every reading (PDF)."""
    from sparewatt.present.bench_sheet import bench_sheet_pdf
    from sparewatt.studies.bench import procedures

    loaded, _origin = open_place(place)
    return bench_sheet_pdf(procedures.guide(key), filled=fill(loaded.rig), paper=paper, inch=inch)


def bench_labels(
    place: Where, parts: Iterable[str] = (), *, date: str = "", paper: str = "a4", inch: bool = False
) -> bytes:
    """Labels with codes for the parts of a rig (PDF); all that have constants when none is named."""
    from sparewatt.present.labels import label_of, labels_pdf

    loaded, _origin = open_place(place)
    rig = loaded.rig
    named = list(parts) or _labelled(rig)
    if not named:
        raise BadRequest(
            Problem("labels", "this rig has no part with constants to print.", "measure one first")
        )
    return labels_pdf([label_of(rig, where, date=date) for where in named], paper=paper, inch=inch)


def _labelled(rig: object) -> list[str]:
    """Machine, battery and boards of a rig, as places in its file."""
    found = [name for name in ("machine", "battery") if getattr(rig, name) is not None]
    return found + [f"converter.{k}" for k in range(len(getattr(rig, "converter", ())))]


def bench_restore(place: str | Path, text: str, where: str = "") -> Answer:
    """Put the part that a label's text holds into the rig file, every number as it was."""
    from sparewatt.present.label_text import from_text

    label = from_text(text)
    kind = type(label.part).__name__.lower()
    put_part(read_rig(place), where or kind, label.part)
    return bench(place)
