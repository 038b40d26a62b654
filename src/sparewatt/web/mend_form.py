"""The rows of the fault-finder's form: boxes of the address turned into moments as typed, and moments back into boxes.

A row is one moment. Its boxes are `r1_cadence`, `r1_volts` ...; `ride` and `well` in an address are whole moments in words.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.moment import Moment, moment_text
from sparewatt.language.moment_reader import moment_of
from sparewatt.quantities.units import render

__all__ = ["BOXES", "MOST_ROWS", "Form", "Row", "pairs_of", "read"]

MOST_ROWS = 12
LETTERS = 200
# Box -> (words on the page, unit shown behind the words, example)
BOXES: dict[str, tuple[str, str, str]] = {
    "cadence": ("Turns a minute", "rpm", "62"),
    "volts": ("Volts of the machine", "V", "11.4"),
    "amps": ("Amps of the machine", "A", "3.1"),
    "volts_out": ("Volts behind the board", "V", ""),
    "amps_out": ("Amps behind the board", "A", ""),
    "ridden": ("Minutes ridden", "min", ""),
}
_OTHERS = ("feel", "gear", "when", "more")
_NAME = re.compile(r"r(\d{1,2})_([a-z_]+)", re.ASCII)
NAN = math.nan


@dataclass(frozen=True, slots=True)
class Row:
    """One moment as it stands in its boxes."""

    boxes: dict[str, str] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()

    @property
    def well(self) -> bool:
        """Whether it is from when all was well."""
        return self.boxes.get("when") == "well"

    @property
    def text(self) -> str:
        """The moment as it would be typed; empty when nothing stands in it."""
        said = [f"{name.replace('_', ' ')} {text}" for name in BOXES if (text := self.boxes.get(name, ""))]
        said += [f'feel "{feel}"'] if (feel := self.boxes.get("feel", "")) else []
        more = self.boxes.get("more", "")
        if not said and not more:
            return ""
        said += [f'gear "{gear}"'] if (gear := self.boxes.get("gear", "")) else []
        return ", ".join([*said, *([more] if more else [])])


@dataclass(frozen=True, slots=True)
class Form:
    """All rows, whether the readings file counts too, up to when all was well, and what is to be put right."""

    rows: tuple[Row, ...]
    readings: bool = False
    well_until: str = ""
    problems: tuple[Problem, ...] = ()

    def texts(self, *, well: bool) -> tuple[str, ...]:
        """The moments as typed, of now or of when all was well."""
        return tuple(row.text for row in self.rows if row.text and row.well == well)

    @property
    def asks(self) -> bool:
        """Whether there is anything to judge by."""
        return self.readings or bool(self.well_until) or any(row.text for row in self.rows)


def read(pairs: Iterable[tuple[str, str]], gears: Sequence[str], loads: Sequence[str]) -> Form:
    """The form that an address stands for. What cannot be read stays in its box, with what to put right beside it."""
    boxes: dict[int, dict[str, str]] = {}
    whole: list[tuple[str, bool]] = []
    kept: dict[str, str] = {}
    problems: list[Problem] = []
    for name, value in pairs:
        text = " ".join(value.split())
        if len(text) > LETTERS or not text.isprintable():
            if name in ("ride", "well", "well_until") or _NAME.fullmatch(name):
                problems.append(
                    Problem(name[:20], f"this is more than {LETTERS} letters.", "fewer", text[:40])
                )
            continue
        row = _NAME.fullmatch(name)
        if row is not None and (row[2] in BOXES or row[2] in _OTHERS) and int(row[1]) <= MOST_ROWS:
            boxes.setdefault(int(row[1]), {})[row[2]] = text
        elif name in ("ride", "well") and text:
            whole.append((text, name == "well"))
        elif name in ("readings", "well_until", "rows"):
            kept[name] = text
    typed = [Row(boxes[n]) for n in sorted(boxes)]
    typed = [row for row in typed if row.text] + [_boxed(text, well, gears, loads) for text, well in whole]
    if len(typed) > MOST_ROWS:
        hint = f"the last few tell most; {MOST_ROWS} at most"
        problems.append(Problem("moments", f"{len(typed)} moments are more than are read.", hint))
    rows = [_judged(row, n, gears, loads) for n, row in enumerate(typed[:MOST_ROWS], 1)]
    wanted = int(kept["rows"]) if kept.get("rows", "").isascii() and kept.get("rows", "").isdigit() else 0
    while len(rows) < min(max(wanted, len(rows), 2), MOST_ROWS):
        rows.append(Row())
    return Form(
        tuple(rows), kept.get("readings", "") in ("on", "yes", "true"), kept.get("well_until", ""),
        (*problems, *(p for row in rows for p in row.problems)),
    )  # fmt: skip


def _judged(row: Row, n: int, gears: Sequence[str], loads: Sequence[str]) -> Row:
    """The row with what is to be put right in it."""
    try:
        moment_of(row.text, gears=gears, loads=loads, where=f"moment {n}")
    except BadRequest as bad:
        return dataclasses.replace(row, problems=bad.problems)
    return row


def _boxed(text: str, well: bool, gears: Sequence[str], loads: Sequence[str]) -> Row:
    """A moment in words, put into the boxes; what has no box stays in words."""
    try:
        m = moment_of(text, gears=gears, loads=loads)
    except BadRequest:
        return Row({"more": text, "when": "well" if well else ""})
    wide = {what for what, _sd in m.spreads}
    boxes = {
        name: render(getattr(m, name), unit, 4, "").removesuffix(unit).strip()
        for name, (_words, unit, _example) in BOXES.items()
        if math.isfinite(getattr(m, name)) and name not in wide
    }
    rest: Moment = dataclasses.replace(m, feel="", gear="", fine=False, **dict.fromkeys(boxes, NAN))  # type: ignore[arg-type]
    more = text if wide else moment_text(rest)
    boxes = {} if wide else boxes
    own = {} if wide else {"feel": m.feel, "gear": m.gear}
    return Row(boxes | own | {"more": more, "when": "well" if well or m.fine else ""})


def pairs_of(form: Form) -> list[tuple[str, str]]:
    """The address of the form, one whole moment each."""
    found = [("well" if row.well else "ride", row.text) for row in form.rows if row.text]
    found += [("readings", "on")] if form.readings else []
    return found + ([("well_until", form.well_until)] if form.well_until else [])
