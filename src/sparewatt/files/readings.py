"""The readings beside a rig: `readings.csv`, one value on each line, as a person may write it by hand.

    at, procedure, what, value, unit, range, meter, temperature, who, note, used, part
    10:05, open_volts, volts, 12.3, V, 20 V, yellow meter, 22 degC, Ansa, , ,
    10:05, open_volts, speed, 1480 rpm, , , film, , , , ,

An empty `at` or `procedure` means the same as on the line above, and so does an empty `part` within one reading ("-" says
none). The unit stands in its column or behind the value; a spread may follow ("12.3 V +/- 0.1"). A line with no value is
a place that waits for one. `used` may say "no", with a reason after a colon; nothing is ever taken out. Columns that are
not known here are kept. The header may come again, further down.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from sparewatt.errors import BadRig, Problem, visible
from sparewatt.files.cells import Record, records, separator
from sparewatt.files.given import raw_of, text_of, why_strange
from sparewatt.files.toml import BOM
from sparewatt.files.values import nearest
from sparewatt.files.whole import digest_of_bytes
from sparewatt.quantities import BadText, natural_unit, parse, render
from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.reading_groups import settled
from sparewatt.studies.bench.reading_kinds import KINDS, Kind, Reading
from sparewatt.studies.bench.reading_meters import FEELS

__all__ = [
    "COLUMNS",
    "READINGS_FILE",
    "Readings",
    "Row",
    "read_readings",
    "readings_path",
    "readings_text",
    "value_of",
]

READINGS_FILE = "readings.csv"
COLUMNS = (
    "at",
    "procedure",
    "what",
    "value",
    "unit",
    "range",
    "meter",
    "temperature",
    "who",
    "note",
    "used",
    "part",
)
NEEDED = ("at", "procedure", "what", "value")
DITTO = ("at", "procedure", "part")  # in this order: a new reading has no part but its own
NO_PART = "-"
FINEST = 1e-9  # share of a value by which no meter tells it
LARGEST = 5_000_000  # bytes; ten years of readings have some hundred thousand
_YES = {
    "": True,
    "yes": True,
    "y": True,
    "true": True,
    "1": True,
    "no": False,
    "n": False,
    "false": False,
    "0": False,
}
_EXPONENT = re.compile(r"(?<=[0-9.])[eE](?=[+-]?[0-9])")


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One line of the file. why: reason for not being used; extra: cells of columns that are not known here."""

    entry: Entry
    why: str = ""
    extra: Mapping[str, str] = field(default_factory=dict)

    @property
    def line(self) -> int:
        """Number of its line, from 1."""
        return self.entry.line


@dataclass(frozen=True, slots=True, kw_only=True)
class Readings:
    """Everything the readings file says. digest: of its bytes, "" when there is no file yet.

    waiting: lines whose value is still empty. problems: lines that could not be read; they are in none of the others.
    """

    path: Path
    rows: tuple[Row, ...] = ()
    waiting: tuple[Row, ...] = ()
    problems: tuple[Problem, ...] = ()
    digest: str = ""

    @property
    def entries(self) -> tuple[Entry, ...]:
        """Every value that was read, also those not used, in the order of the file."""
        return tuple(row.entry for row in self.rows)

    @property
    def ready(self) -> tuple[Entry, ...]:
        """The same made ready to be fitted: what stays is taken over, and a moment is set aside whole."""
        return settled(self.entries)


def readings_path(place: str | Path) -> Path:
    """The readings file of a folder, of a rig file, or the file itself."""
    path = Path(place)
    if path.suffix.lower() == ".csv":
        return path
    return (path if path.is_dir() or not path.suffix else path.parent) / READINGS_FILE


def read_readings(place: str | Path, *, partly: bool = False) -> Readings:
    """The readings beside a rig; none when there is no file yet.

    BadRig with every problem at once, or, with `partly`, the lines that can be read and the problems beside them.
    """
    path = readings_path(place)
    raw = raw_readings(path)
    if raw is None:
        return Readings(path=path)
    return readings_text(text_of(raw, path), path, partly=partly, digest=digest_of_bytes(raw))


def raw_readings(path: Path) -> bytes | None:
    """The bytes of a readings file, None when there is none yet."""
    try:
        return raw_of(path, LARGEST, "no list of readings")
    except FileNotFoundError:
        return None


def readings_text(text: str, path: Path, *, partly: bool = False, digest: str = "") -> Readings:
    """The readings that a text holds, as if it stood in `path`."""
    reader = _taken(text, str(path))
    if reader.problems and not partly:
        raise BadRig(*reader.problems)
    return Readings(
        path=path,
        rows=tuple(reader.rows),
        waiting=tuple(reader.waiting),
        problems=tuple(reader.problems),
        digest=digest,
    )


@lru_cache(maxsize=4)
def _taken(text: str, name: str) -> _Reader:
    """A text read once: a page that redraws asks for the same lines several times over."""
    reader = _Reader(name)
    plain = text.removeprefix(BOM)
    for record in records(plain, separator(plain)):
        reader.take(record)
    return reader


def header_of(record: Record) -> dict[str, int] | None:
    """Column name -> place when this row is a header (it names the columns that are needed); else None."""
    names = [" ".join(cell.text.casefold().split()) for cell in record.cells]
    return (
        {name: n for n, name in reversed(list(enumerate(names)))} if {"what", "value"} <= set(names) else None
    )


def value_of(text: str, unit_cell: str, reading: Reading) -> tuple[float, float, str]:
    """What a cell says of one reading: SI value, its spread (NaN when none is given), the unit as written, or BadText."""
    if reading.unit == "yes":
        word = text.strip().casefold()
        if not word or word not in _YES:
            raise BadText(text, "this is neither yes nor no.", accepted="yes, no")
        return float(_YES[word]), math.nan, ""
    found = parse(_with_unit(text, unit_cell), reading.unit)
    if not reading.low <= found.value <= reading.high:
        low, high = (render(v, natural_unit(v, reading.unit)) for v in (reading.low, reading.high))
        says = "no rig shows that; look at the unit and at the point."
        raise BadText(text, says, accepted=f"{low} to {high}")
    if (
        found.sd is not None
        and not FINEST * max(abs(found.value), 1e-3) <= found.sd <= reading.high - reading.low
    ):
        says = "no meter is that sure, or that unsure."
        raise BadText(
            text, says, accepted="a spread as the meter has it, or none: then the usual one is taken"
        )
    return found.value, math.nan if found.sd is None else found.sd, found.unit_text


def warmth(text: str) -> float:
    """A temperature in K from "45 degC", or from how it feels ("warm"); NaN for nothing."""
    word = " ".join(text.casefold().split())
    if not word:
        return math.nan
    if word in FEELS:
        return FEELS[word]
    try:
        return parse(text, "K").value
    except BadText as bad:
        raise BadText(bad.read, bad.problem, accepted="45 degC, or " + ", ".join(FEELS)) from None


def kind_of(name: str) -> Kind:
    """The kind of reading of that name; BadText with the nearest one."""
    if name in KINDS:
        return KINDS[name]
    says = f'"{name}" is no kind of reading.' if name else "the kind of reading is missing."
    raise BadText(name, says, accepted=", ".join(KINDS), nearest=nearest(name, KINDS))


def one_of(kind: Kind, what: str) -> Reading:
    """The value of that name in a kind; BadText with the nearest one."""
    if what in kind.whats:
        return kind[what]
    says = f'"{what}" is not read in {kind.key}.' if what else "what was read is missing."
    raise BadText(what, says, accepted=", ".join(kind.whats), nearest=nearest(what, kind.whats))


def _with_unit(text: str, unit_cell: str) -> str:
    """The value with the unit from its own column, unless it carries one already."""
    bare = _EXPONENT.sub("", text).replace("+/-", "").replace(" to ", " ")
    if not unit_cell.strip() or any(c.isalpha() or c in '%"\u00b0\u2033' for c in bare):
        return text
    head, mark, tail = text.replace("\u00b1", "+/-").partition("+/-")
    return f"{head.strip()} {unit_cell.strip()}" + (f" +/- {tail.strip()}" if mark else "")


class _Reader:
    """Takes one row after the other; keeps what was read, what waits, and what is wrong."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.columns: dict[str, int] = {}
        self.above = dict.fromkeys(DITTO, "")
        self.rows: list[Row] = []
        self.waiting: list[Row] = []
        self.problems: list[Problem] = []

    def take(self, record: Record) -> None:
        header = header_of(record)
        if header is not None:
            self._header(record, header)
        elif not self.columns:
            names = ", ".join(COLUMNS)
            self._wrong(record, "", "there is no header above this line.", f"begin the file with: {names}")
            self.columns = {
                name: n for n, name in enumerate(COLUMNS)
            }  # read on as usual; each further fault shows too
        elif any(cell.text for cell in record.cells):
            self._row(record)

    def _header(self, record: Record, header: dict[str, int]) -> None:
        self.columns = header
        self.above = dict.fromkeys(DITTO, "")
        for name in NEEDED:
            if name not in header:
                close = nearest(name, header)
                self._wrong(
                    record, name, f'the column "{name}" is missing.', f'rename "{close}"' if close else ""
                )
        names = [" ".join(cell.text.casefold().split()) for cell in record.cells]
        for name in dict.fromkeys(name for name in names if name and names.count(name) > 1):
            self._wrong(record, name, f'the column "{name}" stands twice.', "keep one of the two", name)

    def _row(self, record: Record) -> None:
        cells = {name: record.cells[n].text for name, n in self.columns.items() if n < len(record.cells)}
        if len(record.cells) > max(self.columns.values()) + 1:
            more = [cell.text for cell in record.cells[max(self.columns.values()) + 1 :] if cell.text]
            if more:
                hint = "put a text with a comma in it in double quotes"
                self._wrong(record, "", "there are more cells here than columns.", hint, more[0])
                return
        above = dict(self.above)
        for name in DITTO:
            cells[name] = self.above[name] = cells.get(name, "") or above[name]
            if name != "part" and cells[name] != above[name]:
                above["part"] = ""  # another reading: its part is not that of the line above
        if cells["part"] == NO_PART:
            cells["part"] = self.above["part"] = ""
        self._entry(record, cells)

    def _entry(self, record: Record, cells: dict[str, str]) -> None:
        told = len(self.problems)
        where = ".".join(cells.get(name, "") for name in ("procedure", "what")).strip(".")
        if not cells["at"]:
            self._wrong(
                record,
                where,
                "nothing says when this was read, nor does the line above.",
                'such as "10:05", or "1"',
            )
        for name, text in cells.items():
            if why_strange(text):
                self._wrong(record, name, why_strange(text), "take it out", visible(text))
        value, sd, unit, warm, used = math.nan, math.nan, "", math.nan, True
        try:
            reading = one_of(kind_of(cells["procedure"]), cells.get("what", ""))
            if cells.get("value", ""):
                value, sd, unit = value_of(cells["value"], cells.get("unit", ""), reading)
        except BadText as bad:
            self._wrong(record, where, bad.problem, bad.hint, bad.read)
        try:
            warm = warmth(cells.get("temperature", ""))
        except BadText as bad:
            self._wrong(record, "temperature", bad.problem, bad.hint, bad.read)
        word, _, why = cells.get("used", "").partition(":")
        try:
            used = _YES[word.strip().casefold()]
        except KeyError:
            self._wrong(record, "used", "this is neither yes nor no.", '"yes", or "no: clip fell off"', word)
        if len(self.problems) > told:
            return
        entry = Entry(
            what=cells["what"], value=value, procedure=cells["procedure"], at=cells["at"], unit=unit,
            scale=cells.get("range", ""), meter=cells.get("meter", ""), temperature=warm, who=cells.get("who", ""),
            note=cells.get("note", ""), part=cells["part"], sd=sd, used=used, line=record.line,
        )  # fmt: skip
        extra = {name: text for name, text in cells.items() if name and name not in COLUMNS and text}
        row = Row(entry=entry, why=why.strip(), extra=extra)
        (self.rows if cells.get("value", "") else self.waiting).append(row)

    def _wrong(self, record: Record, where: str, problem: str, hint: str = "", read: str = "") -> None:
        self.problems.append(Problem(where, problem, hint, read[:60], self.file, record.line))
