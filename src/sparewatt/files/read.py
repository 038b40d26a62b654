"""Reads a rig file: TOML with units in plain strings becomes a `Rig`, or every complaint about it at once."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sparewatt.errors import BadRig, NotFound, Problem
from sparewatt.files.check import check_rig
from sparewatt.files.spots import lines_of, spots
from sparewatt.files.values import shown
from sparewatt.files.walk import Walk, fields_of, rig_from
from sparewatt.parts.records import Rig
from sparewatt.parts.values import How

__all__ = ["RIG_FILE", "Loaded", "Origin", "digest_of", "find_rig", "read_rig", "read_text", "rig_of"]

RIG_FILE = "rig.toml"
LARGEST = 2_000_000  # bytes; a rig file by hand has some thousands
_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
_BOM = "\ufeff"

# What the TOML reader says, in plain words: (piece of its message, what is the matter, what to try).
_BROKEN: tuple[tuple[str, str, str], ...] = (
    (
        "Expected newline or end of document",
        "something follows the value on this line.",
        'put a value with its unit in quotes: "0.9 ohm"',
    ),
    (
        "Expected '=' after a key",
        'this line is neither a header nor "key = value".',
        "write a key, an equals sign and a value",
    ),
    (
        "Invalid statement",
        'this line is neither a header nor "key = value".',
        "keys are letters without accents, digits and _",
    ),
    (
        "Invalid initial character",
        "this key has letters that a key cannot have.",
        "use letters, digits and _ only",
    ),
    (
        "Invalid value",
        "this value cannot be read.",
        'put texts and values with a unit in quotes: "0.9 ohm"; write true or false without',
    ),
    ("Unterminated string", "a text starts here and never ends.", "add the closing quote"),
    ('Expected "\'"', "a text starts here and never ends.", "add the closing quote"),
    (
        "Illegal character",
        "there is a letter here that a text on one line cannot hold.",
        "close the quotes at the end of the line",
    ),
    ("Unescaped", "a backslash stands in a text.", "write it twice, or use single quotes"),
    ("Unclosed array", "a list starts here and never ends.", "add the closing square bracket"),
    (
        "Unclosed inline table",
        "a table in curly brackets starts here and never ends.",
        "close it on the same line",
    ),
    (
        "at the end of a table declaration",
        "a header lacks its closing bracket.",
        "write [machine], or [[load]] for one of several",
    ),
    (
        "at the end of an array declaration",
        "a header lacks its closing brackets.",
        "write [[load]] with two on each side",
    ),
    ("Cannot overwrite a value", "this key is given twice.", "keep one of the two lines"),
    (
        "Cannot declare",
        "this header stands twice.",
        "keep one of the two, or use double brackets if there are several such parts",
    ),
    ("Cannot redefine", "this header stands twice.", "keep one of the two"),
    ("Cannot mutate", "this table is given in two ways.", "keep one of the two"),
    ("Duplicate inline table key", "a key is given twice in one table.", "keep one of the two"),
    ("Invalid date", "this looks like a date that does not exist.", "put it in quotes"),
)


@dataclass(frozen=True, slots=True)
class Origin:
    """One number of the file: its key path, the text as written, how it is known, its note and line."""

    where: str
    written: str
    how: How
    note: str
    line: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """A rig file that was read and found usable.

    path: the file (None for text that is in no file); text: as read, byte for byte; digest: of those bytes, to notice
    an edit by somebody else; data: the plain TOML; lines: dotted key path -> line; origins: every number with a unit.
    """

    rig: Rig
    path: Path | None
    text: str
    digest: str
    data: dict[str, Any]
    lines: dict[str, int]
    origins: tuple[Origin, ...]


def find_rig(place: str | Path) -> Path:
    """The rig file of a folder, or the file itself."""
    path = Path(place)
    if path.is_dir():
        path = path / RIG_FILE
    if not path.is_file():
        raise NotFound(
            Problem(
                str(path),
                f"there is no {path.name} here.",
                "name a folder with a rig.toml in it, or start a new rig",
            )
        )
    return path


def read_rig(place: str | Path) -> Loaded:
    """The rig of a folder or file; BadRig with every problem at once when it cannot be used."""
    path = find_rig(place)
    try:
        raw = path.read_bytes()
    except OSError as bad:
        raise NotFound(
            Problem(str(path), f"the file cannot be read: {bad.strerror or 'no reason given'}.")
        ) from None
    if len(raw) > LARGEST:
        raise BadRig(
            Problem(
                "", f"this file is larger than {LARGEST // 1_000_000} MB; it is no rig file.", file=str(path)
            )
        )
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as bad:
        line = raw.count(b"\n", 0, bad.start) + 1
        raise BadRig(
            Problem(
                "",
                "this line has a letter that is not UTF-8.",
                "save the file as UTF-8 text",
                file=str(path),
                line=line,
            )
        ) from None
    return read_text(text, path)


def read_text(text: str, path: Path | None = None) -> Loaded:
    """The rig that a text describes, as if it stood in the file `path`."""
    file = str(path) if path else ""
    plain = text.removeprefix(_BOM)
    data = _toml(plain, file)
    rig = rig_of(data, plain, file)
    lines = lines_of(data, plain)
    return Loaded(
        rig=rig,
        path=path,
        text=text,
        digest=digest_of(text),
        data=data,
        lines=lines,
        origins=tuple(_origins(rig, data, lines)),
    )


def rig_of(data: dict[str, Any], text: str = "", file: str = "") -> Rig:
    """The rig that plain TOML data describe; `text` is where lines are counted."""
    walk = Walk(spots(text), file)
    rig = rig_from(data, walk)
    check_rig(rig, walk)
    if walk.problems:
        raise BadRig(*sorted(walk.problems, key=lambda problem: problem.line or 0))
    return rig


def digest_of(text: str) -> str:
    """Fingerprint of a text as it stands in a file."""
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as bad:
        message = str(bad)
        place = _PLACE.search(message)
        line = int(place.group(1)) if place and place.group(1) else text.rstrip().count("\n") + 1
        said = _PLACE.sub("", message)
        says, hint = next(
            ((says, hint) for piece, says, hint in _BROKEN if piece in said),
            ("this line cannot be read.", "look for a missing quote or bracket"),
        )
        read = (text.splitlines() or [""])[min(line, len(text.splitlines()) or 1) - 1].strip()
    except (ValueError, RecursionError):
        line, says, hint, read = (
            None,
            "the file holds a number or a nesting too large to read.",
            "look for a stray run of digits or brackets",
            "",
        )
    raise BadRig(Problem("", says, hint, shown(read), file, line))


def _origins(part: Any, data: dict[str, Any], lines: dict[str, int], above: str = "") -> list[Origin]:
    found: list[Origin] = []
    for name, spec in fields_of(type(part)).items():
        where = f"{above}{name}"
        held, written = getattr(part, name), data.get(name)
        if held is None or written is None:
            continue
        if spec.kind == "measured":
            plain = written["value"] if isinstance(written, dict) else written
            found.append(
                Origin(
                    where, plain if isinstance(plain, str) else repr(plain), held.how, held.note, lines[where]
                )
            )
        elif spec.kind == "part":
            found += _origins(held, written, lines, f"{where}.")
        elif spec.kind == "parts":
            for index, (one, its) in enumerate(zip(held, written, strict=True)):
                found += _origins(one, its, lines, f"{where}.{index}.")
    return found
