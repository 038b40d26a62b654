"""The boxes of a procedure as a page shows them: what to type, in which unit, what is likely, what stands in the file."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from sparewatt.parts import Rig
from sparewatt.present.words_numbers import span
from sparewatt.quantities import render
from sparewatt.rig.bind_drive import gear_names
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import Entry, Slot
from sparewatt.studies.bench.procedures import Place
from sparewatt.studies.bench.reading_kinds import READINGS, Reading, units_for
from sparewatt.studies.bench.reading_meters import FEELS, range_for
from sparewatt.web.bench_form import Row, Sheet, Typed

if TYPE_CHECKING:
    from sparewatt.files.readings import Readings

__all__ = ["names"]

RANGES = {
    "V": ("200 mV", "2 V", "20 V", "200 V", "1000 V"),
    "A": ("200 mA", "2 A", "10 A", "20 A"),
    "ohm": ("200 ohm", "2 kohm", "20 kohm", "200 kohm", "2 Mohm"),
}
TOOLS = {
    "V": ("Volts, with", ()),
    "A": ("Amps, with", ()),
    "ohm": ("Ohms, with", ()),
    "rad/s": ("Speed, from", ("film", "sound", "counted by eye", "drill plate")),
    "kg": ("Weight, with", ("kitchen scale",)),
    "m": ("Lengths, with", ("tape",)),
    "s": ("Times, with", ("film", "stopwatch")),
}
SIGNED = ("first_turn.volts", "rope_brake.scale")  # a keyboard that has a minus
# The other way to say the same, folded: of a spun shaft most film the speed, of one that runs down most film the volts.
INSTEAD: dict[tuple[str, ...], tuple[str, ...]] = {
    ("speed", "turns"): ("turns", "turn_time"),
    ("volts", "speed"): ("speed",),
}
BY_NAME = ("board", "gear", "rider", "load")  # what `part` may be picked from


def names(sheet: Sheet, rig: Rig, readings: Readings) -> dict[str, Any]:
    """Names for the form of guide.html."""
    stands = {row.line: row.entry for row in readings.rows if row.entry.used}
    _verified(sheet, stands)
    nxt = _next(sheet)
    steps = []
    for number, step in enumerate(sheet.guide.procedure.steps):
        rows = [_row_names(sheet, row, rig, stands, nxt) for row in sheet.rows if row.step == number]
        steps.append({"says": step.says, "caution": step.caution, "rows": rows})
    return {
        "steps": steps,
        "tools": _tools(sheet),
        "feels": tuple(FEELS),
        "typed": sheet.typed,
        "amiss": sheet.told,
        "problems": sheet.problems,
        "said": sheet.said,
        "elsewhere": sheet.elsewhere,
        "seen_readings": readings.digest,
        "marks": sheet.typed.marks,
        "boxes": sum(len(row.places) for row in sheet.rows),
    }


def _verified(sheet: Sheet, stands: Mapping[int, Entry]) -> None:
    """A box counts as written only while its line in the file says so."""
    what = {n: p.slot.what for row in sheet.rows for n, p in row.places}
    sheet.typed.lines = {
        n: line
        for n, line in sheet.typed.lines.items()
        if n in what and line in stands and f"{stands[line].procedure}.{stands[line].what}" == what[n]
    }


def _next(sheet: Sheet) -> str:
    """The box where typing goes on: the first with something to put right, else the first empty one behind the last row."""
    if sheet.told:
        return next((key for key in _keys(sheet) if key in sheet.told), next(iter(sheet.told)))
    if not sheet.last:
        return ""
    behind = [row.key for row in sheet.rows].index(sheet.last) + 1
    for row in sheet.rows[behind:]:
        for n, _ in row.places:
            if n not in sheet.typed.lines:
                return f"v.{n}"
    return ""


def _keys(sheet: Sheet) -> Iterable[str]:
    return (f"v.{n}" for row in sheet.rows for n, _ in row.places)


def _row_names(sheet: Sheet, row: Row, rig: Rig, stands: Mapping[int, Entry], nxt: str) -> dict[str, Any]:
    typed = sheet.typed
    fields = [_box(sheet, row, n, place, stands, nxt) for n, place in row.places]
    open_boxes = [f for f in fields if not f["line"]]
    lines = [f["line"] for f in fields if f["line"]]
    return {
        "key": row.key,
        "kind": row.kind.key,
        "says": row.kind.says,
        "mark": row.mark,
        "number": _number(sheet, row),
        "first": _first_of_kind(sheet, row),
        "fields": fields,
        "done": bool(lines) and not [f for f in open_boxes if f["needed"]],
        "counted": any(f["counted"] for f in fields),
        "instead": "or count turns" if "turns" in row.kind.either else "or speeds, not volts",
        "button": _has_button(sheet, row),
        "counted_open": any(f["counted"] and (f["text"] or f["problem"]) for f in fields),
        "lines": lines,
        "part": _part(row, rig, typed) if row.begins else None,
    }


def _has_button(sheet: Sheet, row: Row) -> bool:
    """In a series one button at the next moment and one at the end will do; Enter works in every box."""
    if not row.kind.series:
        return True
    mine = [r for r in sheet.rows if (r.step, r.mark) == (row.step, row.mark)]
    waiting = [
        r
        for r in mine
        if any(n not in sheet.typed.lines for n, p in r.places if READINGS[p.slot.what].needed)
    ]
    return row in (mine[-1], *waiting[:1])


def _number(sheet: Sheet, row: Row) -> int:
    mine = [r.key for r in sheet.rows if r.kind.key == row.kind.key and r.step == row.step]
    return mine.index(row.key) + 1


def _first_of_kind(sheet: Sheet, row: Row) -> bool:
    """The first of equal rows at its step: the one whose labels show."""
    whats = [p.slot.what for _, p in row.places]
    mine = [r for r in sheet.rows if r.step == row.step and [p.slot.what for _, p in r.places] == whats]
    return mine[0].key == row.key


def _part(row: Row, rig: Rig, typed: Typed) -> dict[str, Any] | None:
    """The box that says which board, gear or cell, where there are several."""
    if not row.kind.part:
        return None
    choices = _choices(row.kind.part, rig)
    if row.kind.part in BY_NAME and len(choices) < 2:
        return None
    return {"word": row.kind.part, "choices": choices, "text": typed.parts.get(row.mark, "")}


def _choices(part: str, rig: Rig) -> list[str]:
    if part == "board":
        return [board.name for board in rig.converter if board.name]
    if part == "gear":
        return list(gear_names(rig))
    named: Iterable[Any] = {"rider": rig.rider, "load": rig.load}.get(part, ())
    return [one.name for one in named if one.name]


def _box(
    sheet: Sheet, row: Row, n: int, place: Place, stands: Mapping[int, Entry], nxt: str
) -> dict[str, Any]:
    slot, kind, typed = place.slot, READINGS[place.slot.what], sheet.typed
    line = typed.lines.get(n, 0)
    units = units_for(kind.unit) if kind.unit not in ("1", "yes") else ()
    text = typed.text.get(n, "")
    if line:
        text = _stands(stands[line])
    return {
        "n": n,
        "says": slot.says,
        "what": slot.what,
        "unit": typed.unit.get(n)
        if typed.unit.get(n) in units
        else (_usual(sheet, row, slot.what) or (units[0] if units else "")),
        "units": units,
        "text": text,
        "line": line,
        "yes": kind.unit == "yes",
        "keys": "text" if slot.what in SIGNED else "decimal",
        "likely": _likely(slot, kind),
        "needed": slot.needed and kind.needed,
        "spare": not (slot.needed and kind.needed) and kind.what not in row.kind.either,
        "counted": kind.what in INSTEAD.get(row.kind.either, ()),
        "problem": sheet.told.get(f"v.{n}"),
        "focus": nxt == f"v.{n}",
    }


def _usual(sheet: Sheet, row: Row, what: str) -> str:
    """The unit chosen for the same value further up."""
    above = [
        sheet.typed.unit[n] for r in sheet.rows for n, p in r.places
        if p.slot.what == what and sheet.typed.unit.get(n) and sheet.typed.text.get(n)
    ]  # fmt: skip
    return above[-1] if above and above[-1] in units_for(READINGS[what].unit) else ""


def _stands(entry: Entry) -> str:
    """A value of the file, in the unit it was written in."""
    reading = READINGS[f"{entry.procedure}.{entry.what}"]
    if reading.unit == "yes":
        return "yes" if entry.value else "no"
    return render(entry.value, entry.unit or reading.units[0], 4)


def _likely(slot: Slot, kind: Reading) -> str:
    """What this rig should show here; nothing where any rig could show the same."""
    if (slot.low, slot.high) == (kind.low, kind.high) or not (
        math.isfinite(slot.low) and math.isfinite(slot.high)
    ):
        return ""
    return span(Band((slot.low + slot.high) / 2, slot.low, slot.high), kind.unit).removeprefix("about ")


def _tools(sheet: Sheet) -> list[dict[str, Any]]:
    """What is read with which meter, one line for each quantity of this procedure."""
    found: dict[str, dict[str, Any]] = {}
    for row in sheet.rows:
        for _, place in row.places:
            kind = READINGS[place.slot.what]
            if kind.unit not in TOOLS or kind.unit in found:
                continue
            words, offers = TOOLS[kind.unit]
            high = place.slot.high if place.slot.high != kind.high else math.nan
            found[kind.unit] = {
                "unit": kind.unit,
                "words": words,
                "offers": offers,
                "meter": sheet.typed.meter.get(kind.unit, ""),
                "ranges": RANGES.get(kind.unit, ()),
                "range": sheet.typed.scale.get(kind.unit, ""),
                "start": kind.scale if math.isnan(high) else range_for(kind.unit, high),
            }
    return list(found.values())
