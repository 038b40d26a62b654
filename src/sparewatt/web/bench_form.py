"""The form of a procedure: its rows are readings; what was typed in it, and what of it can be written down.

Every row is written as soon as it is whole. What cannot be read, or lacks a partner, stays typed with the reason beside
it. A row that was written shows what stands in the readings file on its lines; the file is looked at, not the form.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sparewatt.errors import BadRequest, ChangedElsewhere, Problem
from sparewatt.studies.bench.procedures import Guide, Place, places
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS, Kind, units_for
from sparewatt.web.bench_desk import BenchDesk

if TYPE_CHECKING:
    from sparewatt.files.readings import Readings

__all__ = ["Row", "Sheet", "Typed", "fresh", "read", "write"]

TOOL_UNITS = ("V", "A", "ohm", "rad/s", "kg", "m", "s")  # what is read with an instrument that may be named
LONG = 200  # letters of a box


@dataclass(frozen=True, slots=True)
class Row:
    """One row of boxes: what is read at one moment, at one step."""

    key: str  # "3-2-0": step, reading, moment of a series
    step: int
    mark: int
    kind: Kind
    places: tuple[tuple[int, Place], ...]  # number of the box, and the box

    @property
    def begins(self) -> bool:
        """The first row of its reading at this step."""
        return self.key.endswith("-0")


@dataclass(slots=True)
class Typed:
    """What the form held. marks: reading -> the mark it was begun under; lines: box -> line it stands on."""

    text: dict[int, str] = field(default_factory=dict)
    unit: dict[int, str] = field(default_factory=dict)
    lines: dict[int, int] = field(default_factory=dict)
    marks: dict[int, str] = field(default_factory=dict)
    parts: dict[int, str] = field(default_factory=dict)
    meter: dict[str, str] = field(default_factory=dict)
    scale: dict[str, str] = field(default_factory=dict)
    why: dict[int, str] = field(default_factory=dict)
    aside: int = 0
    back: int = 0
    warm: str = ""
    who: str = ""
    note: str = ""
    seen: str | None = None


@dataclass(slots=True)
class Sheet:
    """A procedure with its form after a try. told: key of a box, row or field -> what to put right beside it."""

    guide: Guide
    typed: Typed
    rows: tuple[Row, ...]
    told: dict[str, Problem] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    written: list[int] = field(default_factory=list)  # lines, in this go
    said: str = ""
    last: str = ""  # key of the last row written
    elsewhere: bool = False

    @property
    def wrong(self) -> bool:
        """Something is to be put right."""
        return bool(self.told or self.problems)


def rows_of(guide: Guide) -> tuple[Row, ...]:
    """The rows of a procedure, in order."""
    found: dict[tuple[int, int, int], list[tuple[int, Place]]] = {}
    for number, place in enumerate(places(guide.procedure)):
        kind = KINDS[READINGS[place.slot.what].kind]
        turn = place.turn if kind.series else 0
        if kind.series and READINGS[place.slot.what].stays:
            turn = 0
        found.setdefault((place.step, place.mark, turn), []).append((number, place))
    return tuple(
        Row(
            key=f"{step}-{mark}-{turn}", step=step, mark=mark, places=tuple(held),
            kind=KINDS[READINGS[held[0][1].slot.what].kind],
        )
        for (step, mark, turn), held in found.items()
    )  # fmt: skip


# ---- what was typed ----


def read(form: Mapping[str, list[str]]) -> Typed:
    """The fields of the form; names that are not its own are left alone."""
    typed = Typed()
    whole: dict[str, dict[int, str]] = {
        "v": typed.text, "u": typed.unit, "at": typed.marks, "part": typed.parts, "why": typed.why,
    }  # fmt: skip
    lines: dict[int, str] = {}
    for name, values in form.items():
        value = " ".join(values[-1].split())[:LONG]
        stem, _, rest = name.partition(".")
        if stem in ("meter", "range") and rest in TOOL_UNITS:
            (typed.meter if stem == "meter" else typed.scale)[rest] = value
        elif rest.isdecimal() and len(rest) < 7:
            whole.get(stem, lines if stem == "w" else {})[int(rest)] = value
    typed.lines = {box: int(text) for box, text in lines.items() if text.isdecimal()}
    typed.aside, typed.back = (_whole(form, name) for name in ("aside", "back"))
    typed.warm, typed.who, typed.note = (
        form.get(name, [""])[-1].strip()[:LONG] for name in ("warm", "who", "note")
    )
    typed.seen = form["seen"][-1] if "seen" in form else None
    return typed


def _whole(form: Mapping[str, list[str]], name: str) -> int:
    text = form.get(name, [""])[-1]
    return int(text) if text.isdecimal() and len(text) < 9 else 0


# ---- what can be written ----


def write(bench: BenchDesk, guide: Guide, typed: Typed) -> Sheet:
    """Write every whole row down, leave out and take back what was asked; what is left is told beside its box."""
    sheet = Sheet(guide, typed, rows_of(guide))
    seen = typed.seen if typed.seen is not None else bench.readings().digest
    try:
        seen = _moved(bench, sheet, seen)
        for row in sheet.rows:
            if _filled(row, typed):
                seen = _row(bench, sheet, row, seen)
    except ChangedElsewhere:
        sheet.elsewhere = True
        says = (
            "The readings file was changed elsewhere since this page was shown. Nothing was written over it."
        )
        sheet.problems.append(
            Problem("readings.csv", says, "look at the list of readings, then press the button again")
        )
    if not sheet.written and not sheet.wrong and not sheet.said:
        says = "Nothing is typed yet."
        sheet.problems.append(Problem("", says, "put a number in a box, then press Enter"))
    return sheet


def _moved(bench: BenchDesk, sheet: Sheet, seen: str) -> str:
    """Leave readings out and take them back."""
    typed = sheet.typed
    asked = {line: why for line, why in typed.why.items() if why}
    if typed.aside and typed.aside not in asked:
        says = "Say why it is left out: whoever reads the file next wants to know."
        sheet.told[f"why.{typed.aside}"] = Problem("why", says, "clip fell off")
    if asked:
        seen = bench.aside(asked, seen)
        lines = " and ".join(f"{line}" for line in asked)
        sheet.said = f"Line {lines} is left out. It stays in the file, and you can take it back."
        typed.why = {line: why for line, why in typed.why.items() if line not in asked}
        _forget(sheet, bench.readings())
    if typed.back:
        seen = bench.back(lines_aside(bench.readings(), typed.back), seen)
        sheet.said = f"Line {typed.back} counts again."
    return seen


def lines_aside(readings: Readings, line: int) -> list[int]:
    """The lines of the same reading that are not used."""
    mine = next((row.entry for row in readings.rows if row.line == line), None)
    if mine is None:
        return [line]
    near = [
        r
        for r in readings.rows
        if (r.entry.procedure, r.entry.part, r.entry.at) == (mine.procedure, mine.part, mine.at)
    ]
    if KINDS[mine.procedure].series:
        return [line]
    return [row.line for row in near if not row.entry.used]


def _forget(sheet: Sheet, readings: Readings) -> None:
    """Boxes of a row that was left out wait for another reading."""
    gone = {row.line for row in readings.rows if not row.entry.used}
    for row in sheet.rows:
        boxes = [n for n, _ in row.places]
        if gone & {sheet.typed.lines.get(n, 0) for n in boxes}:
            for n in boxes:
                sheet.typed.lines.pop(n, None)
                sheet.typed.text.pop(n, None)
            if not row.kind.series:
                sheet.typed.marks.pop(row.mark, None)


def _filled(row: Row, typed: Typed) -> bool:
    return any(typed.text.get(n, "") for n, _ in row.places if n not in typed.lines)


def _row(bench: BenchDesk, sheet: Sheet, row: Row, seen: str) -> str:
    """Write one row, or say what keeps it from being written."""
    from sparewatt.files.readings_write import NewReading

    typed = sheet.typed
    given = {n: place for n, place in row.places if typed.text.get(n, "") and n not in typed.lines}
    lacking = _lacking(row, typed)
    if lacking is not None:
        n, problem = lacking
        sheet.told[f"v.{n}"] = problem
    reading = NewReading(
        kind=row.kind.key,
        values=[(READINGS[p.slot.what].what, _whole_text(n, p, typed)) for n, p in given.items()],
        at=typed.marks.get(row.mark, ""),
        part=typed.parts.get(row.mark, ""),
        meter=_by_what(row.kind, typed.meter),
        scale=_by_what(row.kind, typed.scale),
        temperature=typed.warm,
        who=typed.who,
        note=typed.note,
    )  # fmt: skip
    wrong = list(_unreadable(given, typed))
    for key, problem in wrong:
        sheet.told.setdefault(key, problem)
    if wrong or lacking is not None:
        return seen
    try:
        typed.marks[row.mark], lines, seen = bench.add(reading, seen)
    except BadRequest as reason:
        for problem in reason.problems:
            where = next((f"v.{n}" for n, p in given.items() if p.slot.what == problem.where), "")
            sheet.told[where or ("warm" if problem.where == "temperature" else f"v.{min(given)}")] = problem
        return seen
    typed.lines |= dict(zip(given, lines, strict=False))
    sheet.written += lines
    sheet.last = row.key
    typed.note = ""
    said = ", ".join(text for _, text in reading.pairs)
    sheet.said = f"Written on line {lines[0]}: {said}."
    return seen


def _whole_text(n: int, place: Place, typed: Typed) -> str:
    """What a box says, with the unit beside it, or the usual one."""
    return with_unit(typed.text[n], typed.unit.get(n) or units_for(READINGS[place.slot.what].unit)[0])


def _unreadable(given: Mapping[int, Place], typed: Typed) -> Iterator[tuple[str, Problem]]:
    """Every box that cannot be read, with what would be."""
    from sparewatt.files.readings import value_of
    from sparewatt.quantities import BadText

    for n, place in given.items():
        text = _whole_text(n, place, typed)
        try:
            value_of(text, "", READINGS[place.slot.what])
        except BadText as bad:
            yield f"v.{n}", Problem(place.slot.says, bad.problem, bad.hint, typed.text[n])


def _lacking(row: Row, typed: Typed) -> tuple[int, Problem] | None:
    """The box that must be filled too before this row says anything."""
    full = {
        p.slot.what.partition(".")[2]: n for n, p in row.places if typed.text.get(n, "") or n in typed.lines
    }
    boxes = {p.slot.what.partition(".")[2]: (n, p) for n, p in row.places}
    for what, (n, place) in boxes.items():
        if what not in full and place.slot.needed and READINGS[place.slot.what].needed:
            return n, Problem(
                place.slot.says, "This one belongs to it, and the box is empty.", "write it too"
            )
    either = [what for what in row.kind.either if what in boxes]
    if len(either) == len(row.kind.either) and either and not any(what in full for what in either):
        n, place = boxes[either[0]]
        other = boxes[either[1]][1].slot.says
        return n, Problem(
            place.slot.says, "One of these belongs to it, and all are empty.", f"this, or {other}"
        )
    if "turns" in full and "turn_time" in boxes and "turn_time" not in full:
        n, place = boxes["turn_time"]
        return n, Problem(place.slot.says, "Turns say a speed only with their time.", "the seconds they took")
    return None


def with_unit(text: str, unit: str) -> str:
    """The number with the unit chosen beside it, unless it carries one."""
    bare = text.replace("+/-", "").replace(" to ", " ")
    if (
        not unit
        or unit in ("1", "yes")
        or any(c.isalpha() or c in '%\u00b0"\u2033' for c in bare.replace("e", "").replace("E", ""))
    ):
        return text
    head, sign, tail = text.replace("\u00b1", "+/-").partition("+/-")
    return f"{head.strip()} {unit}" + (f" +/- {tail.strip()}" if sign else "")


def _by_what(kind: Kind, chosen: Mapping[str, str]) -> dict[str, str]:
    return {value.what: chosen.get(value.unit, "") for value in kind.values}


def fresh(guide: Guide) -> Sheet:
    """The form with nothing typed."""
    return Sheet(guide, Typed(), rows_of(guide))
