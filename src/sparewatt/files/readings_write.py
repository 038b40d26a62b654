"""Adds to the readings file and sets lines aside: every byte that was there stays, and nothing is half-written."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sparewatt.errors import BadRequest, ChangedElsewhere, NotFound, Problem
from sparewatt.files.cells import Record, cell_text, records, separator
from sparewatt.files.readings import (
    COLUMNS,
    NO_PART,
    Readings,
    decoded,
    header_of,
    kind_of,
    one_of,
    read_readings,
    readings_path,
    readings_text,
    value_of,
    warmth,
)
from sparewatt.files.whole import digest_of_bytes, only_one, write_whole
from sparewatt.quantities import BadText
from sparewatt.studies.bench.answers import Procedure, Slot
from sparewatt.studies.bench.procedures import places
from sparewatt.studies.bench.reading_kinds import READINGS, Kind
from sparewatt.studies.bench.reading_meters import range_for

__all__ = ["Added", "add_reading", "blank", "set_aside", "take_back"]

HEAD = "# Readings of this rig, one value on each line. Never take a line out: write no: and the reason under used.\n"
_BOM = "\ufeff"
Texts = str | Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Added:
    """The readings after a reading was added, its mark, and the lines on which its values stand."""

    readings: Readings
    at: str
    lines: tuple[int, ...]


def add_reading(
    place: str | Path,
    procedure: str,
    values: Mapping[str, str] | Iterable[tuple[str, str]],
    *,
    at: str = "",
    meter: Texts = "",
    scale: Texts = "",
    temperature: str = "",
    who: str = "",
    note: str = "",
    part: str = "",
    digest: str | None = None,
    now: datetime.datetime | None = None,
) -> Added:
    """Writes the values of one reading behind all that the file holds; texts stay as they were typed.

    procedure: kind of reading ("open_volts"); values: what -> text ("12.3 V"), or pairs in order when one is repeated.
    at: mark that they share, the present time when empty; a mark that is there already joins that reading.
    meter, scale: one text for all values, or what -> text. digest: of the file as the caller saw it, when that matters.
    BadRequest with every problem at once; then nothing was written.
    """
    pairs = list(values.items()) if isinstance(values, Mapping) else list(values)
    pairs = [(what, text.strip()) for what, text in pairs if text.strip()]
    kind = _checked(procedure, pairs, temperature, (at, part, who, note))
    path = readings_path(place)
    with only_one(path.parent):
        raw = _raw(path, digest)
        text = decoded(raw or b"", path)
        before = readings_text(text, path, partly=True)
        mark = " ".join(at.split()) or _fresh_mark(before, kind.key, now)
        told = {
            "at": mark,
            "procedure": kind.key,
            "temperature": temperature,
            "who": who,
            "note": note,
            "part": part,
        }
        rows = [
            {**told, "what": what, "value": value, "range": _for(scale, what), "meter": _for(meter, what)}
            for what, value in pairs
        ]
        if not part and before.rows and _same_reading(before, kind.key, mark):
            rows[0]["part"] = NO_PART
        after = _appended(text, rows)
        write_whole(path, after.encode("utf-8"), raw)
    readings = read_readings(path, partly=True)
    lines = tuple(row.line for row in readings.rows[-len(rows) :])
    return Added(readings, mark, lines)


def set_aside(place: str | Path, line: int, why: str, *, digest: str | None = None) -> Readings:
    """Marks the row on this line as not used, with the reason; it stays in the file and in the list."""
    reason = " ".join(why.split())
    if not reason:
        raise BadRequest(Problem("used", "a reading is set aside for a reason.", 'such as "clip fell off"'))
    return _marked(place, line, f"no: {reason}", digest)


def take_back(place: str | Path, line: int, *, digest: str | None = None) -> Readings:
    """Uses the row on this line again."""
    return _marked(place, line, "yes", digest)


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


def _checked(
    procedure: str, pairs: Sequence[tuple[str, str]], temperature: str, texts: Iterable[str]
) -> Kind:
    """The kind of reading, once everything that was typed can be read; BadRequest with all that cannot."""
    problems = []
    try:
        kind = kind_of(procedure)
    except BadText as bad:
        raise BadRequest(Problem("procedure", bad.problem, bad.hint, bad.read)) from None
    if not pairs:
        problems.append(Problem(procedure, "no value was given.", ", ".join(kind.whats)))
    for what, text in pairs:
        try:
            value_of(text, "", one_of(kind, what))
        except BadText as bad:
            problems.append(Problem(f"{procedure}.{what}", bad.problem, bad.hint, bad.read))
    try:
        warmth(temperature)
    except BadText as bad:
        problems.append(Problem("temperature", bad.problem, bad.hint, bad.read))
    if any("\x00" in text for text in texts):
        problems.append(Problem("note", "there is a letter here that a file cannot hold.", "type it again"))
    if problems:
        raise BadRequest(*problems)
    return kind


def _for(texts: Texts, what: str) -> str:
    return texts if isinstance(texts, str) else texts.get(what, "")


def _fresh_mark(before: Readings, kind: str, now: datetime.datetime | None) -> str:
    """The present time, with a number behind it when this kind has such a mark already."""
    moment = now or datetime.datetime.now(tz=datetime.UTC).astimezone()
    plain = moment.strftime("%Y-%m-%d %H:%M:%S")
    taken = {row.entry.at for row in (*before.rows, *before.waiting) if row.entry.procedure == kind}
    marks = (plain if n == 1 else f"{plain} ({n})" for n in range(1, len(taken) + 2))
    return next(mark for mark in marks if mark not in taken)


def _same_reading(before: Readings, kind: str, mark: str) -> bool:
    last = before.rows[-1].entry
    return bool(last.part) and (last.procedure, last.at) == (kind, mark)


def _appended(text: str, rows: Sequence[Mapping[str, str]]) -> str:
    """The text with rows behind it, in its own separator, line breaks and columns; a new header when columns lack."""
    plain = text.removeprefix(_BOM)
    mark = separator(plain)
    names = _last_header(plain, mark)
    ending = "\r\n" if text.count("\r\n") * 2 > text.count("\n") else "\n"
    new: list[str] = []
    if not text.strip(_BOM + " \t\r\n"):
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


def _marked(place: str | Path, line: int, used: str, digest: str | None) -> Readings:
    path = readings_path(place)
    with only_one(path.parent):
        raw = _raw(path, digest)
        if raw is None:
            raise NotFound(Problem(str(path), "there are no readings here yet.", "take one first"))
        write_whole(path, _with_used(decoded(raw, path), path, line, used).encode("utf-8"), raw)
    return read_readings(path, partly=True)


def _with_used(text: str, path: Path, line: int, used: str) -> str:
    """The text with the `used` cell of one row changed; when there is no such column, its header gets one."""
    plain = text.removeprefix(_BOM)
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


def _raw(path: Path, digest: str | None) -> bytes | None:
    """The file's bytes, None when it is not there; ChangedElsewhere when it is not the one the caller saw."""
    try:
        raw: bytes | None = path.read_bytes()
    except FileNotFoundError:
        raw = None
    except OSError as bad:
        says = f"the file cannot be read: {bad.strerror or 'no reason given'}."
        raise NotFound(Problem(str(path), says)) from None
    if digest is not None and digest_of_bytes(raw) != digest:
        says = "the file was changed elsewhere since it was read; nothing was written."
        raise ChangedElsewhere(Problem(str(path), says, "read it again, then make the change"))
    return raw


# ---- an empty sheet ----


def _waiting(slot: Slot, mark: str) -> str:
    reading = READINGS[slot.what]
    unit = "" if slot.unit in ("1", "yes") else slot.unit
    scale = reading.scale if slot.high == reading.high else range_for(reading.unit, slot.high)
    told = {"at": mark, "procedure": reading.kind, "what": reading.what, "unit": unit, "range": scale}
    return ",".join(cell_text(told.get(name, ""), ",") for name in COLUMNS)
