"""A rig file in the making, table by table, and the comments for what typical values will stand in for."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from sparewatt.files import read_text
from sparewatt.files.walk import fields_of
from sparewatt.files.write import quoted
from sparewatt.parts import Measured, Rig
from sparewatt.quantities.units import natural_unit, render, render_band
from sparewatt.rig.fill import fill

__all__ = ["Draft", "guess", "with_stand_ins"]

HALF_BAND = 1.645


@dataclass
class Draft:
    """A rig file in the making. heard, guessed: sentences for the person; text: the file."""

    heard: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)
    primary: str = ""

    def table(self, header: str, rows: list[tuple[str, str, str]], why: str = "") -> None:
        """One table: (key, TOML value, comment)."""
        self.lines.append("")
        if why:
            self.lines.append(f"# {why}")
        self.lines.append(header)
        self.lines += [f"{key} = {value}" + (f"  # {note}" if note else "") for key, value, note in rows]

    @property
    def text(self) -> str:
        """The file."""
        return "\n".join(self.lines).strip() + "\n"


def guess(value: str, note: str = "") -> str:
    """A value that says of itself that it is a guess."""
    tail = f", note = {quoted(note)}" if note else ""
    return f'{{ value = {quoted(value)}, how = "guess"{tail} }}'


def with_stand_ins(text: str) -> str:
    """The file with a comment under each table for every number that a typical value will stand in for."""
    loaded = read_text(text)
    filled = fill(loaded.rig)
    notes: dict[str, list[str]] = {}
    for where, _says in filled.assumed:
        part, _, name = where.rpartition(".")
        value = _value_at(filled.rig, where)
        if part and value is not None and _value_at(loaded.rig, where) is None:
            notes.setdefault(part, []).append(f"#   {name} = {_banded(value, part, name)}")
    return _after_tables(text, notes)


def _value_at(rig: Rig, where: str) -> Measured | None:
    at: object = rig
    for step in where.split("."):
        at = at[int(step)] if step.isdigit() and isinstance(at, tuple) else getattr(at, step, None)
        if at is None:
            return None
    return at if isinstance(at, Measured) else None


def _banded(value: Measured, part: str, name: str) -> str:
    record: type = Rig
    for step in part.split("."):
        if not step.isdigit():
            found = fields_of(record)[step].part
            assert found is not None
            record = found
    unit = fields_of(record)[name].unit
    unit = "m^2" if unit == "wire_size" else unit
    said = natural_unit(value.value, unit)
    low, high = value.value - HALF_BAND * value.sd, value.value + HALF_BAND * value.sd
    shown = render(value.value, said, 2)
    return f'"{shown}"' + (f"   9 in 10 lie from {render_band(low, high, said)}" if value.sd > 0 else "")


def _after_tables(text: str, notes: dict[str, list[str]]) -> str:
    """Puts each table's notes behind its last line."""
    counts: dict[str, int] = {}
    out: list[str] = []
    pending: list[str] = []
    for line in text.splitlines():
        header = re.fullmatch(r"(\[\[?)([a-z_.]+)\]\]?", line.strip())
        if (header or not line.strip()) and pending:
            out += ["# not known yet; until you write it here, this stands in:", *pending]
            pending = []
        if header:
            name = header.group(2)
            if header.group(1) == "[[":
                counts[name] = counts.get(name, -1) + 1
                name = f"{name}.{counts[name]}"
            pending = list(notes.get(name, []))
        out.append(line)
    if pending:
        out += ["# not known yet; until you write it here, this stands in:", *pending]
    return "\n".join(out) + "\n"
