"""What the rig page shows: each part as boxes with their origin, and the text with what is wrong beside its line."""

from __future__ import annotations

import dataclasses
import difflib
from collections.abc import Mapping, Sequence
from typing import Any

from sparewatt.errors import BadRequest, BadRig, Problem
from sparewatt.parts import Measured, Rig, Spec, spec_of
from sparewatt.present import numbers
from sparewatt.web import rigfile, rigwords
from sparewatt.web.desk import Desk
from sparewatt.web.rigfile import Sheet
from sparewatt.web.speech import plain

__all__ = ["both", "context", "differing", "says", "split_edit"]

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
    return {
        "title": "Rig file",
        "text": text,
        "lines": _lines(text, standing) if told and ("text" in typed or rig is None) else [],
        "problems": standing,
        "parts": _parts(rig, filled, sheet, inch, standing, typed) if rig is not None else [],
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


def _parts(
    rig: Rig,
    filled: Rig | None,
    sheet: Sheet,
    inch: bool,
    problems: Sequence[Problem],
    typed: Mapping[str, list[str]],
) -> list[dict[str, Any]]:
    written = rigfile.written(sheet)
    whole = {path: part for path, _, part in rigwords.parts_of(filled)} if filled is not None else {}
    top = [
        _field("", f, rig, rig, written, inch, problems, typed)
        for f in dataclasses.fields(rig)
        if spec_of(f).kind == "text"
    ]
    found = [{"title": "The build", "path": "build", "given": top, "rest": [], "more": False}]
    for path, kind, part in rigwords.parts_of(rig):
        fields = [
            _field(f"{path}.", f, part, whole.get(path, part), written, inch, problems, typed)
            for f in dataclasses.fields(part)
            if spec_of(f).part is None
        ]
        found.append(
            {
                "title": rigwords.part_words(kind, part),
                "path": path,
                "given": [f for f in fields if f["given"] or f["problem"]],
                "rest": [f for f in fields if not f["given"] and not f["problem"]],
                "more": any(
                    spec_of(f).part is not None and getattr(part, f.name) for f in dataclasses.fields(part)
                ),
            }
        )
    return found


def _field(
    above: str,
    f: dataclasses.Field[Any],
    part: Any,
    whole: Any,
    written: Mapping[str, str],
    inch: bool,
    problems: Sequence[Problem],
    typed: Mapping[str, list[str]],
) -> dict[str, Any]:
    spec: Spec = spec_of(f)
    key = f"{above}{f.name}"
    value, used = getattr(part, f.name), getattr(whole, f.name)
    text = typed[key][-1] if key in typed else written.get(key, "")
    return {
        "key": key,
        "words": rigwords.field_words(f.name),
        "says": spec.says,
        "spec": spec,
        "text": text,
        "given": key in written,
        "look": numbers.look_of(value.how) if isinstance(value, Measured) else "",
        "how": value.how if isinstance(value, Measured) else "",
        "note": value.note if isinstance(value, Measured) else "",
        "placeholder": ""
        if key in written
        else plain(used, spec.unit, inch=inch, digits=3)
        if isinstance(used, Measured)
        else "",
        "used": key not in written and isinstance(used, Measured),
        "example": spec.example,
        "problem": next((p for p in problems if p.where == key), None),
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
