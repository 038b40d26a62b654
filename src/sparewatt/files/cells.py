"""Rows of cells as text, with the place of each cell, so that one cell can be changed and every other byte stays.

Cells are parted by commas, semicolons or tabs (whichever the header uses); a cell may stand in double quotes, doubled
inside. A line that starts with # is a comment. A quote that never closes, or closes in the middle of a word, is a letter.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

__all__ = ["Cell", "Record", "cell_text", "records", "separator"]

SEPARATORS = ",;\t"
_LINE_END = re.compile(r"[\n\r]")
_CELL_END = {mark: re.compile(rf"[{mark}\n\r]") for mark in SEPARATORS}


@dataclass(frozen=True, slots=True)
class Cell:
    """What a cell says, and from where to where it stands in the text, quotes included."""

    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Record:
    """One row: number of its first line from 1, its cells, and where it ends (before the line break)."""

    line: int
    cells: tuple[Cell, ...]
    end: int


def separator(text: str) -> str:
    """What parts the cells: the separator that the first row has most of; a comma when it has none."""
    for line in text.splitlines():
        if line.strip() and not line.lstrip().startswith("#"):
            return max(SEPARATORS, key=lambda mark: (line.count(mark), mark == ","))
    return ","


def records(text: str, mark: str) -> Iterator[Record]:
    """Every row that is neither empty nor a comment."""
    at, line = 0, 1
    while at < len(text):
        stop = _line_end(text, at)
        plain = text[at:stop].strip()
        if not plain or plain.startswith("#"):
            row_end = stop
        else:
            cells, row_end = _row(text, at, mark)
            yield Record(line, cells, row_end)
        after = _past_break(text, row_end)
        line += _breaks(text[at:after])
        at = after


def cell_text(value: str, mark: str) -> str:
    """A value as it stands in a cell: in quotes only where it must be."""
    risky = value.strip() != value or value[:1] in ('"', "#") or any(c in value for c in (mark, "\n", "\r"))
    return '"' + value.replace('"', '""') + '"' if risky else value


def _row(text: str, at: int, mark: str) -> tuple[tuple[Cell, ...], int]:
    cells = []
    while True:
        cell, after = _quoted(text, at, mark) or _plain(text, at, mark)
        cells.append(cell)
        if after >= len(text) or text[after] != mark:
            return tuple(cells), after
        at = after + 1


def _plain(text: str, at: int, mark: str) -> tuple[Cell, int]:
    found = _CELL_END[mark].search(
        text, at
    )  # letter by letter took longer than all else about a readings file
    stop = found.start() if found else len(text)
    piece = text[at:stop]
    start = at + len(piece) - len(piece.lstrip()) if piece.strip() else stop
    return Cell(piece.strip(), start, start + len(piece.strip())), stop


def _quoted(text: str, at: int, mark: str) -> tuple[Cell, int] | None:
    """A cell in quotes; None when it is none, or its quotes do not close where a cell ends."""
    start = at
    while start < len(text) and text[start] == " ":
        start += 1
    if text[start : start + 1] != '"':
        return None
    stop, said = start + 1, []
    while True:
        close = text.find('"', stop)
        if close < 0:
            return None
        said.append(text[stop:close])
        if text[close + 1 : close + 2] != '"':
            break
        said.append('"')
        stop = close + 2
    after = close + 1
    while after < len(text) and text[after] == " ":
        after += 1
    if after < len(text) and text[after] not in (mark, "\n", "\r"):
        return None
    return Cell("".join(said), start, close + 1), after


def _line_end(text: str, at: int) -> int:
    found = _LINE_END.search(text, at)
    return found.start() if found else len(text)


def _past_break(text: str, at: int) -> int:
    if text[at : at + 2] == "\r\n":
        return at + 2
    return min(at + 1, len(text))


def _breaks(piece: str) -> int:
    return piece.count("\n") + piece.count("\r") - piece.count("\r\n")
