"""Brings an older rig file up to date: comments, order and spellings stay, and every answer is as it was.

A wire, fuse, switch or socket of the run "load" stood for one in the lead of each load; now each load has its own, named
by `to`.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from typing import Any

from sparewatt.errors import BadRig, CannotWrite, Problem
from sparewatt.files.edit import Edited, replace_text
from sparewatt.files.read import Loaded
from sparewatt.files.toml import BOM, data_of
from sparewatt.files.write import quoted

__all__ = ["brought_up_to_date"]

KINDS = ("wire", "fuse", "switch", "socket")
_HEADER = re.compile(r"\s*\[")


def brought_up_to_date(loaded: Loaded) -> tuple[Edited, tuple[str, ...]]:
    """The file with one piece for each load where one stood for all, and the keys of what was split."""
    split = tuple(_shared(loaded))
    if not split:
        return Edited(loaded, loaded.text), ()
    loads = [load.name for load in loaded.rig.load]
    plain = loaded.text.removeprefix(BOM)
    lines = plain.splitlines(keepends=True)
    data = copy.deepcopy(loaded.data)
    for kind, k in sorted(split, key=lambda at: -loaded.lines[f"{at[0]}.{at[1]}"]):
        _split_lines(lines, loaded.lines[f"{kind}.{k}"] - 1, loaded.data[kind][k], loads)
    for kind, k in sorted(split, reverse=True):
        data[kind][k : k + 1] = [_with(data[kind][k], load) for load in loads]
    text = "".join(lines)
    try:
        same = data_of(text) == data
    except BadRig:
        same = False
    if not same:
        where = f"{split[0][0]}.{split[0][1]}"
        says = "this file is laid out in a way that cannot be brought up to date without disturbing the rest."
        hint = 'copy the piece once for each load by hand, and give each a line such as to = "lamp"'
        raise CannotWrite(Problem(where, says, hint, file=str(loaded.path or "")))
    lead = loaded.text[: len(loaded.text) - len(plain)]
    return replace_text(loaded, lead + text), tuple(f"{kind}.{k}" for kind, k in split)


def _shared(loaded: Loaded) -> Iterator[tuple[str, int]]:
    """Pieces that stand for one in the lead of each of several loads."""
    if len(loaded.rig.load) < 2:
        return
    for kind in KINDS:
        for k, piece in enumerate(getattr(loaded.rig, kind)):
            if piece.run == "load" and not piece.to:
                yield kind, k


def _with(table: dict[str, Any], load: str) -> dict[str, Any]:
    """One piece as it is for one load."""
    named = {"name": f"{table['name']} for the {load}"} if table.get("name") else {}
    return {**copy.deepcopy(table), **named, "to": load}


def _split_lines(lines: list[str], at: int, table: dict[str, Any], loads: list[str]) -> None:
    """The lines of one table made into one for each load; what is said in comments stays with the first."""
    end = next((k for k in range(at + 1, len(lines)) if _HEADER.match(lines[k])), len(lines))
    while end > at + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    block = lines[at:end]
    close = "\r\n" if block[0].endswith("\r\n") else "\n"
    if not block[-1].endswith(("\n", "\r")):
        block[-1] += close
    made: list[str] = []
    for n, load in enumerate(loads):
        new = _with(table, load)
        made += ([close] if n else []) + [_line(x, new, close, plain=n > 0) for x in block]
        made.append(f"to = {quoted(load)}{close}")
    lines[at:end] = [x for x in made if x]


def _line(line: str, new: dict[str, Any], close: str, *, plain: bool) -> str:
    """One line of a piece with its new name; in a copy without its comment."""
    if line.lstrip().startswith("#"):
        return "" if plain else line
    key = line.partition("=")[0].strip()
    comment = _comment(line)
    if key == "name" and "name" in new:
        return f"name = {quoted(new['name'])}{'' if plain or not comment else ' ' + comment}{close}"
    return line.removesuffix(close).removesuffix(comment).rstrip() + close if plain and comment else line


def _comment(line: str) -> str:
    """The comment at the end of a line, "" where there is none; a # within quotes is none."""
    quote = ""
    for k, letter in enumerate(line):
        if quote:
            quote = "" if letter == quote and line[k - 1] != "\\" else quote
        elif letter in "\"'":
            quote = letter
        elif letter == "#":
            return line[k:].rstrip("\r\n")
    return ""
