"""Lists typed, pasted or kept in a file: passes of a flag on a film, and readings in columns, one moment on each line.

    0    12.31              0; 12,31                time, volts
    0.5  11.02              0,5; 11,02              0.5 s, 11.02 V

Columns stand apart by blanks, tabs, semicolons, or commas when nothing else parts them. A comma inside a number is its
point. A first line without digits names the columns. Lines that begin with # are left alone.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.errors import BadRequest, Problem
from sparewatt.quantities import BadText
from sparewatt.studies.bench.reading_kinds import Kind, Reading, units_for

__all__ = ["LONGEST", "Passed", "columns_of", "passes_in"]

LONGEST = 2000  # lines; a film read frame by frame has fewer
_CLOCK = re.compile(r"(?:(\d+):)?(\d{1,2}):(\d{1,2}(?:[.,]\d+)?)")
_STARTS = re.compile(r"[-+]?[.,]?\d")


@dataclass(frozen=True, slots=True)
class Passed:
    """Passes as written down. in_seconds: by a clock; else numbers of frames."""

    values: tuple[float, ...]
    in_seconds: bool


def passes_in(text: str, where: str, *, filmed: bool) -> Passed:
    """Frame numbers, seconds, or times such as 1:02.35 from a text. Whole numbers are frames where there is a film."""
    lines = _lines(text, where)
    if len(lines) > 1 and all(re.fullmatch(r"\d+,\d+", line) for line in lines):
        lines = [line.replace(",", ".") for line in lines]  # one on each line: the comma is its point
    pieces = [piece for line in lines for cell in _cells(line) for piece in cell.split()]
    values, seconds, problems = [], not filmed, []
    for piece in pieces:
        clock = _CLOCK.fullmatch(piece)
        if clock:
            hours, minutes, rest = (float((x or "0").replace(",", ".")) for x in clock.groups())
            values.append(3600 * hours + 60 * minutes + rest)
            seconds = True
            continue
        if piece.casefold() in ("s", "sec", "frame", "frames"):
            seconds = seconds or piece.casefold().startswith("s")
            continue
        plain = piece.casefold().removesuffix("s").replace(",", ".")
        try:
            values.append(float(plain) if _STARTS.match(plain) else float("nan"))
        except ValueError:
            values.append(float("nan"))
        if values[-1] != values[-1]:
            problems.append(
                Problem(where, "this is no number of a frame and no time.", "12 or 0.41 or 1:02.35", piece)
            )
        seconds = seconds or "." in plain or plain != piece.casefold().replace(",", ".")
    if problems:
        raise BadRequest(*problems[:5])
    return Passed(tuple(values), seconds)


def columns_of(text: str, kind: Kind, where: str, names: Sequence[str] = ()) -> list[list[tuple[str, str]]]:
    """Each line as (what, text with its unit), in the order of the columns: as named, as the first line says, or usual."""
    lines = _lines(text, where)
    if lines and not any(c.isdigit() for c in lines[0]):
        head = [re.sub(r"[^\w]", "", word.casefold()) for word in re.split(r"[\s,;]+", lines[0]) if word]
        names = [word for word in head if word in kind.whats]
        if len(names) != len(head):
            hint = "name the columns " + ", ".join(kind.whats)
            raise BadRequest(
                Problem(where, "the first line names a column that is not read here.", hint, lines[0][:60])
            )
        lines = lines[1:]
    names = tuple(names) or usual_columns(kind)
    found, problems = [], []
    for number, line in enumerate(lines, 1):
        cells = _cells(line)
        if len(cells) != len(names):
            says = f"line {number} has {len(cells)} values and needs {len(names)}: {', '.join(names)}."
            problems.append(Problem(where, says, " ".join(_example(kind, names)), line[:60]))
            continue
        row = [(what, _with_unit(cell, kind[what].unit)) for what, cell in zip(names, cells, strict=True)]
        problems += [p for what, cell in row for p in _wrong(where, number, cell, kind[what])]
        found.append(row)
    if not lines:
        problems.append(Problem(where, "the list is empty.", " ".join(_example(kind, names))))
    if problems:
        raise BadRequest(*problems[:5])
    return found


def usual_columns(kind: Kind) -> tuple[str, ...]:
    """The columns of a kind when nobody names them: what has to be there and is read anew at each moment."""
    first = kind.either[0] if kind.either else ""
    return tuple(what for what in kind.moments if kind[what].needed or what in (first, "time"))


def _example(kind: Kind, names: Sequence[str]) -> list[str]:
    return [f"{n}{'.5' if kind[what].unit == 's' else ''}" for n, what in enumerate(names)]


def _lines(text: str, where: str) -> list[str]:
    lines = [line.strip() for line in text.replace("\ufeff", "").splitlines()]
    lines = [line for line in lines if line and not line.startswith("#")]
    if len(lines) > LONGEST:
        raise BadRequest(
            Problem(where, f"this list has more than {LONGEST} lines.", "take every second or tenth")
        )
    return lines


def _cells(line: str) -> list[str]:
    """The values of one line; a unit behind its number stays with it."""
    if ";" in line or "\t" in line:
        cells = [" ".join(cell.split()) for cell in re.split(r"[;\t]", line)]
    elif " " in line:
        cells = []
        for word in line.split():
            word = word.rstrip(",")
            if cells and word and not _STARTS.match(word):
                cells[-1] += f" {word}"  # its unit
            elif word:
                cells.append(word)
    else:
        cells = line.split(",")
    return [re.sub(r"(?<=\d),(?=\d)", ".", cell.strip()) for cell in cells if cell.strip()]


def _with_unit(cell: str, unit: str) -> str:
    bare = not any(c.isalpha() or c in "%\u00b0" for c in re.sub(r"[eE](?=[-+]?\d)", "", cell))
    return f"{cell} {units_for(unit)[0]}" if bare and unit not in ("1", "yes") else cell


def _wrong(where: str, number: int, cell: str, reading: Reading) -> list[Problem]:
    from sparewatt.files.readings import value_of

    try:
        value_of(cell, "", reading)
    except BadText as bad:
        return [Problem(where, f"line {number}, {reading.what}: {bad.problem}", bad.hint, bad.read)]
    return []
