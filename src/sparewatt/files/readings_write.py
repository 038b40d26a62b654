"""Adds to the readings file and sets lines aside: every byte that was there stays, and nothing is half-written."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from sparewatt.errors import BadRequest, NotFound, Problem
from sparewatt.files.cells import Record, cell_text, records, separator
from sparewatt.files.given import text_of, why_strange
from sparewatt.files.readings import (
    COLUMNS,
    NO_PART,
    Readings,
    header_of,
    kind_of,
    one_of,
    raw_readings,
    readings_path,
    readings_text,
    value_of,
    warmth,
)
from sparewatt.files.toml import BOM
from sparewatt.files.whole import changed_elsewhere, digest_of_bytes, only_one, write_whole
from sparewatt.quantities import BadText
from sparewatt.studies.bench.answers import Entry, Procedure, Slot
from sparewatt.studies.bench.known_taken import taken_of
from sparewatt.studies.bench.procedures import places
from sparewatt.studies.bench.reading_groups import uneven
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS
from sparewatt.studies.bench.reading_meters import range_for

__all__ = ["Added", "NewReading", "add_reading", "blank", "set_aside", "take_back", "write_readings"]

MOST_TOLD = 5  # problems of one list
HEAD = "# Readings of this rig, one value on each line. Never take a line out: write no: and the reason under used.\n"
Texts = str | Mapping[str, str]
Pairs = Mapping[str, str] | Iterable[tuple[str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewReading:
    """One reading to be written down. values: what -> text ("12.3 V"), or pairs in order when one is repeated.

    at: mark that they share, the present time when empty; a mark that is there already joins that reading.
    meter, scale: one text for all values, or what -> text.
    """

    kind: str
    values: Pairs
    at: str = ""
    part: str = ""
    meter: Texts = ""
    scale: Texts = ""
    temperature: str = ""
    who: str = ""
    note: str = ""

    @property
    def pairs(self) -> list[tuple[str, str]]:
        """Every value that says something."""
        told = self.values.items() if isinstance(self.values, Mapping) else self.values
        return [(what, text.strip()) for what, text in told if text.strip()]


@dataclass(frozen=True, slots=True)
class Added:
    """The readings after some were added, the mark of each, and the lines on which their values stand."""

    readings: Readings
    marks: tuple[str, ...]
    lines: tuple[int, ...]

    @property
    def at(self) -> str:
        """The mark of the last."""
        return self.marks[-1]


def write_readings(
    place: str | Path,
    new: Sequence[NewReading] = (),
    *,
    used: Mapping[int, str] = MappingProxyType({}),
    whole: bool = False,
    digest: str | None = None,
    now: datetime.datetime | None = None,
) -> Added:
    """Writes readings behind all that the file holds, and what lines say under `used`: all of it in one go, or nothing.

    Texts stay as they were typed. whole: a reading that lacks a value is refused too; else it may be joined later.
    digest: of the file as the caller saw it, when that matters. BadRequest with every problem at once.
    """
    _refuse_unreadable(new)
    path = readings_path(place)
    with only_one(path.parent):
        raw = raw_readings(path)
        if digest is not None and digest_of_bytes(raw) != digest:
            raise changed_elsewhere(path)
        if used and raw is None:
            raise NotFound(Problem("", "there are no readings here yet.", "take one first", file=str(path)))
        text = text_of(raw or b"", path)
        for line, word in used.items():
            text = _with_used(text, path, line, word)
        marks, rows = _rows(new, readings_text(text, path, partly=True), now)
        text = _appended(text, rows) if rows else text
        fresh = text.encode("utf-8")
        after = readings_text(text, path, partly=True, digest=digest_of_bytes(fresh))
        lines = tuple(row.line for row in after.rows[len(after.rows) - len(rows) :])
        _refuse_broken(after, set(lines), whole)
        if fresh != raw:
            write_whole(path, fresh, raw)
    return Added(after, marks, lines)


def add_reading(
    place: str | Path, kind: str, values: Pairs, *, digest: str | None = None, now: datetime.datetime | None = None,
    **told: Any,
) -> Added:  # fmt: skip
    """The same for one reading. told: as in `NewReading`."""
    return write_readings(place, [NewReading(kind=kind, values=values, **told)], digest=digest, now=now)


def set_aside(place: str | Path, line: int, why: str, *, digest: str | None = None) -> Readings:
    """Marks the row on this line as not used, with the reason; it stays in the file and in the list."""
    return write_readings(place, used={line: aside_word(why)}, digest=digest).readings


def take_back(place: str | Path, *lines: int, digest: str | None = None) -> Readings:
    """Uses the rows on these lines again."""
    return write_readings(place, used=dict.fromkeys(lines, "yes"), digest=digest).readings


def aside_word(why: str) -> str:
    """What stands under `used` of a line that is left out for this reason."""
    reason = " ".join(why.split())
    if not reason:
        says = "Say why it is left out: whoever reads the file next wants to know."
        raise BadRequest(Problem("why", says, "clip fell off"))
    if why_strange(reason):
        raise BadRequest(Problem("why", why_strange(reason), "type it again"))
    return f"no: {reason}"


def blank(procedure: Procedure, *, day: str = "") -> str:
    """A readings file for one procedure with a line waiting for each value, its unit and the range to start on.

    day: begins the mark of each reading, so that today's sheet is told from last week's; the procedure's key when empty.
    """
    lines = [
        HEAD + f"# {procedure.title}",
        *(f"# Caution: {text}" for text in procedure.cautions),
        ",".join(COLUMNS),
    ]
    boxes = places(procedure)
    for number, step in enumerate(procedure.steps):
        lines.append(f"# {number + 1}. {step.says}" + (f" {step.caution}" if step.caution else ""))
        lines += [
            _waiting(box.slot, f"{day or procedure.key} {box.mark}") for box in boxes if box.step == number
        ]
    return "\n".join(lines) + "\n"


# ---- what is added ----


def _refuse_unreadable(new: Sequence[NewReading]) -> None:
    """BadRequest with all that was typed and cannot be read."""
    problems = [problem for one in new for problem in _unreadable(one)]
    if problems:
        raise BadRequest(*problems[:MOST_TOLD])


def _unreadable(one: NewReading) -> Iterator[Problem]:
    try:
        kind = kind_of(one.kind)
    except BadText as bad:
        yield Problem("procedure", bad.problem, bad.hint, bad.read)
        return
    if not one.pairs:
        yield Problem(one.kind, "no value was given.", ", ".join(kind.whats))
    for what, text in one.pairs:
        try:
            value_of(text, "", one_of(kind, what))
        except BadText as bad:
            yield Problem(f"{one.kind}.{what}", bad.problem, bad.hint, bad.read)
    try:
        warmth(one.temperature)
    except BadText as bad:
        yield Problem("temperature", bad.problem, bad.hint, bad.read)
    more = [
        each
        for texts in (one.meter, one.scale)
        for each in ((texts,) if isinstance(texts, str) else texts.values())
    ]
    strange = next(
        (why for text in (one.at, one.part, one.who, one.note, *more) if (why := why_strange(text))), ""
    )
    if strange:
        yield Problem("note", strange, "type it again")


def _rows(
    new: Sequence[NewReading], before: Readings, now: datetime.datetime | None
) -> tuple[tuple[str, ...], list[dict[str, str]]]:
    """The mark of each reading, and the cells of all their lines."""
    taken = {(row.entry.procedure, row.entry.at) for row in (*before.rows, *before.waiting)}
    last = before.rows[-1].entry if before.rows else None
    above = (last.procedure, last.at, last.part) if last is not None else ("", "", "")
    marks, rows = [], []
    for one in new:
        mark = " ".join(one.at.split()) or _fresh_mark(one.kind, taken, now)
        taken.add((one.kind, mark))
        marks.append(mark)
        told = {"at": mark, "procedure": one.kind, "temperature": one.temperature, "who": one.who, "note": one.note,
                "part": one.part}  # fmt: skip
        if not one.part and above[2] and above[:2] == (one.kind, mark):
            told["part"] = NO_PART
        for what, value in one.pairs:
            more = {"range": _for(one.scale, what), "meter": _for(one.meter, what)}
            rows.append({**told, **more, "what": what, "value": value})
            told["part"] = one.part
        above = (one.kind, mark, one.part)
    return tuple(marks), rows


def _refuse_broken(after: Readings, lines: set[int], whole: bool) -> None:
    """BadRequest when what was added makes a reading that cannot be used; a series must come out even at any time."""
    if not lines:
        return
    problems = [
        Problem(one.kind, f"{one.why}; nothing was written.", "give every value of the reading", one.at)
        for one in taken_of(after.ready)[1]
        if lines & set(one.lines)
        and (whole or (KINDS[one.kind].series and uneven(KINDS[one.kind], _joined(after, one.kind, one.at))))
    ]
    if problems:
        raise BadRequest(*problems[:MOST_TOLD])


def _joined(after: Readings, kind: str, at: str) -> list[Entry]:
    return [entry for entry in after.entries if (entry.procedure, entry.at) == (kind, at)]


def _for(texts: Texts, what: str) -> str:
    return texts if isinstance(texts, str) else texts.get(what, "")


def _fresh_mark(kind: str, taken: set[tuple[str, str]], now: datetime.datetime | None) -> str:
    """The present time, with a number behind it when this kind has such a mark already."""
    plain = (now or datetime.datetime.now(tz=datetime.UTC).astimezone()).strftime("%Y-%m-%d %H:%M:%S")
    marks = (plain if n == 1 else f"{plain} ({n})" for n in itertools.count(1))
    return next(mark for mark in marks if (kind, mark) not in taken)


def _appended(text: str, rows: Sequence[Mapping[str, str]]) -> str:
    """The text with rows behind it, in its own separator, line breaks and columns; a new header when columns lack."""
    plain = text.removeprefix(BOM)
    mark = separator(plain)
    names = _last_header(plain, mark)
    ending = "\r\n" if text.count("\r\n") * 2 > text.count("\n") else "\n"
    new: list[str] = []
    if not text.strip(BOM + " \t\r\n"):
        new.append(HEAD.rstrip("\n").replace("\n", ending))
    if any(value and name not in names for row in rows for name, value in row.items()):
        names = [*names, *(name for name in COLUMNS if name not in names)] if names else list(COLUMNS)
        new.append(mark.join(cell_text(name, mark) for name in names))
    for row in rows:
        new.append(mark.join(cell_text(" ".join(row.get(name, "").split()), mark) for name in names))
    gap = ending if text and not text.endswith(("\n", "\r")) else ""
    return text + gap + ending.join(new) + ending


def _last_header(text: str, mark: str) -> list[str]:
    """Column names in force at the end of the file, in order; empty when it has no header."""
    names: list[str] = []
    for record in records(text, mark):
        if header_of(record) is not None:
            names = [" ".join(cell.text.casefold().split()) for cell in record.cells]
    return names


# ---- what is set aside ----


def _with_used(text: str, path: Path, line: int, used: str) -> str:
    """The text with the `used` cell of one row changed; when there is no such column, its header gets one."""
    plain = text.removeprefix(BOM)
    lead = text[: len(text) - len(plain)]
    mark = separator(plain)
    header: Record | None = None
    for record in records(plain, mark):
        if header_of(record) is not None:
            header = record
        elif record.line == line and header is not None:
            return lead + _changed(plain, header, record, used, mark)
    raise BadRequest(
        Problem("line", "no reading stands on this line.", "read the file again", str(line), str(path))
    )


def _changed(text: str, header: Record, record: Record, used: str, mark: str) -> str:
    columns = header_of(header) or {}
    at = columns.get("used", len(header.cells))
    said = cell_text(used, mark)
    if at < len(record.cells):
        cell = record.cells[at]
        text = text[: cell.start] + said + text[cell.end :]
    else:
        text = text[: record.end] + mark * (at - len(record.cells) + 1) + said + text[record.end :]
    if "used" not in columns:
        text = text[: header.end] + mark + "used" + text[header.end :]
    return text


# ---- an empty sheet ----


def _waiting(slot: Slot, mark: str) -> str:
    reading = READINGS[slot.what]
    unit = "" if slot.unit in ("1", "yes") else slot.unit
    scale = reading.scale if slot.high == reading.high else range_for(reading.unit, slot.high)
    told = {"at": mark, "procedure": reading.kind, "what": reading.what, "unit": unit, "range": scale}
    return ",".join(cell_text(told.get(name, ""), ",") for name in COLUMNS)
