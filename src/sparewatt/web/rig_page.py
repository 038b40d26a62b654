"""What the rig page shows: each part as boxes with their origin, and the text with what is wrong beside its line."""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sparewatt.errors import BadRequest, BadRig, Problem
from sparewatt.parts import Measured, Rig, Spec, spec_of
from sparewatt.present import numbers
from sparewatt.web import rigfile, rigwords
from sparewatt.web.desk import Desk
from sparewatt.web.rigfile import Sheet
from sparewatt.web.speech import plain

__all__ = ["both", "context", "differing", "says", "split_edit"]

BRIEF = 5  # values said beside the title of a folded part
AROUND = 2  # lines shown before and after a line with a problem


def split_edit(text: str) -> tuple[str, str]:
    """ "key = text" into its two halves."""
    key, sign, value = text.partition("=")
    if not sign or not key.strip():
        raise BadRequest(
            Problem("edit", "a change is written key = value", "stage.1.driven_diameter = 57 mm", text[:80])
        )
    return key.strip(), value.strip()


def says(desk: Desk, edits: Sequence[tuple[str, str]]) -> str:
    """What a set of edits does, in words for the undo strip."""
    rig = desk.rig()
    pieces = [
        f"{_words(rig, key)} is now {rigwords.value_words(key, text)}"
        if text
        else f"{_words(rig, key)} was taken out"
        for key, text in edits
    ]
    more = f", and {len(pieces) - 3} more" if len(pieces) > 3 else ""
    return "; ".join(pieces[:3])[:300] + more + "." if pieces else "Nothing was changed."


def _words(rig: Rig | None, key: str) -> str:
    words = rigwords.key_words(rig, key) if rig is not None else key
    return words[:1].upper() + words[1:]


def differing(sheet: Sheet, typed: Mapping[str, str]) -> list[tuple[str, str]]:
    """The typed boxes that differ from the file."""
    now = rigfile.written(sheet)
    return [(key, text) for key, text in typed.items() if text != now.get(key, "")]


def context(
    desk: Desk, inch: bool, problems: Sequence[Problem] = (), typed: Mapping[str, list[str]] | None = None
) -> dict[str, Any]:
    """Names for rig.html. problems: of the last try; typed: what its form held."""
    sheet = desk.sheet()
    rig, filled, standing = desk.rig(), None, tuple(problems)
    if rig is not None:
        filled = desk.filled(rig)
    else:
        try:
            rigfile.checked(sheet.text)
        except BadRig as reason:
            standing = standing or reason.problems
    typed = typed or {}
    text = typed["text"][-1].replace("\r\n", "\n") if "text" in typed else sheet.text
    told = {p.line: p for p in standing if p.line is not None}
    shown = bool(told) and ("text" in typed or rig is None)
    reading = _Reading(rigfile.written(sheet), inch, standing, typed)
    return {
        "title": "Rig file",
        "text": text,
        "lines": _lines(text, standing) if shown else [],
        "problems": standing,
        "parts": _parts(rig, filled or rig, reading) if rig is not None else [],
        "path": str(sheet.path),
        "seen": typed.get("seen", [sheet.seen])[-1],
    }


def _lines(text: str, problems: Sequence[Problem]) -> list[dict[str, Any]]:
    """The lines around each problem, with the problem beside its line; a gap is a line without a number."""
    by_line: dict[int, list[Problem]] = {}
    for p in problems:
        if p.line is not None:
            by_line.setdefault(p.line, []).append(p)
    lines = text.split("\n")
    shown: list[dict[str, Any]] = []
    last = 0
    for no, line in enumerate(lines, 1):
        if any(abs(no - told) <= AROUND for told in by_line):
            if last and no > last + 1:
                shown.append({"no": "", "text": "", "problems": []})
            shown.append({"no": no, "text": line, "problems": by_line.get(no, [])})
            last = no
    return shown


@dataclass(frozen=True, slots=True)
class _Reading:
    """What the boxes are filled from: the file, how numbers are shown, and the last try with what was wrong in it."""

    written: Mapping[str, str]
    inch: bool
    problems: Sequence[Problem]
    typed: Mapping[str, list[str]]


def _parts(rig: Rig, filled: Rig, reading: _Reading) -> list[dict[str, Any]]:
    """Every part of the file with its boxes, first the build itself."""
    whole = {path: part for path, _, part in rigwords.parts_of(filled)}
    own = [f for f in dataclasses.fields(rig) if spec_of(f).kind == "text"]
    found = [_part("The build", "build", [_field("", f, rig, rig, reading) for f in own], more=False)]
    for path, kind, part in rigwords.parts_of(rig):
        plain_fields = [f for f in dataclasses.fields(part) if spec_of(f).part is None]
        fields = [_field(f"{path}.", f, part, whole.get(path, part), reading) for f in plain_fields]
        more = any(getattr(part, f.name) for f in dataclasses.fields(part) if spec_of(f).part is not None)
        found.append(_part(rigwords.part_words(kind, part), path, fields, more=more))
    return found


def _part(title: str, path: str, fields: list[dict[str, Any]], *, more: bool) -> dict[str, Any]:
    given = [f for f in fields if f["given"] or f["problem"]]
    said = [
        f"{f['words']} {f['text']}" for f in given if f["key"].rpartition(".")[2] not in ("name", "story")
    ]
    return {
        "title": title,
        "path": path,
        "brief": ", ".join(said[:BRIEF]) + (f", and {len(said) - BRIEF} more" if len(said) > BRIEF else ""),
        "given": given,
        "rest": [f for f in fields if not f["given"] and not f["problem"]],
        "more": more,
        "open": any(f["problem"] for f in fields),
    }


def _field(above: str, f: dataclasses.Field[Any], part: Any, whole: Any, reading: _Reading) -> dict[str, Any]:
    """One box: what the file says, how it is known, or the typical value that is used when the file says nothing."""
    spec: Spec = spec_of(f)
    key = f"{above}{f.name}"
    value, used = getattr(part, f.name), getattr(whole, f.name)
    given = key in reading.written
    known = isinstance(value, Measured)
    return {
        "key": key,
        "words": rigwords.field_words(f.name),
        "says": spec.says,
        "spec": spec,
        "text": reading.typed[key][-1] if key in reading.typed else reading.written.get(key, ""),
        "given": given,
        "look": numbers.look_of(value.how) if known else "",
        "how": value.how if known else "",
        "note": value.note if known else "",
        "placeholder": plain(used, spec.unit, inch=reading.inch, digits=3)
        if isinstance(used, Measured) and not given
        else "",
        "used": isinstance(used, Measured) and not given,
        "example": spec.example,
        "problem": next((p for p in reading.problems if p.where == key), None),
    }


def both(sheet: Sheet, wanted: str | list[tuple[str, str]]) -> dict[str, Any]:
    """Both versions of a file that was changed elsewhere: what is on disk, and what was about to be written."""
    mine = wanted if isinstance(wanted, str) else ""
    lines = difflib.unified_diff(sheet.text.splitlines(), mine.splitlines(), lineterm="", n=2) if mine else ()
    return {
        "theirs": sheet.text,
        "mine": mine,
        "edits": [] if isinstance(wanted, str) else wanted,
        "difference": list(lines)[2:],
        "seen": sheet.seen,
    }
