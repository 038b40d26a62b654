"""Reads a rig file: TOML with units in plain strings becomes a `Rig`, or every complaint about it at once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sparewatt.errors import BadRig, NotFound, Problem
from sparewatt.files.check import check_rig
from sparewatt.files.given import raw_of, text_of
from sparewatt.files.spots import lines_of, spots
from sparewatt.files.toml import BOM, data_of
from sparewatt.files.walk import Walk, fields_of, rig_from
from sparewatt.parts.records import Rig
from sparewatt.parts.values import How

__all__ = [
    "RIG_FILE",
    "Loaded",
    "Origin",
    "digest_of",
    "find_rig",
    "read_rig",
    "read_text",
    "rig_of",
    "rig_text",
]

RIG_FILE = "rig.toml"
LARGEST = 2_000_000  # bytes; a rig file by hand has some thousands


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
    return path / RIG_FILE if path.is_dir() else path


def read_rig(place: str | Path) -> Loaded:
    """The rig of a folder or file; BadRig with every problem at once when it cannot be used."""
    path = find_rig(place)
    return read_text(rig_text(path), path)


def rig_text(path: Path) -> str:
    """The text of a rig file, whether it makes a rig or not; NotFound or BadRig when it is none."""
    try:
        return text_of(raw_of(path, LARGEST, "no rig file"), path)
    except FileNotFoundError:
        says = f"there is no {path.name} here; it may have been moved, or never was."
        hint = "put it back, name a folder with a rig.toml in it, or start a new rig"
        raise NotFound(Problem("", says, hint, file=str(path))) from None


def read_text(text: str, path: Path | None = None) -> Loaded:
    """The rig that a text describes, as if it stood in the file `path`."""
    file = str(path) if path else ""
    plain = text.removeprefix(BOM)
    data = data_of(plain, file)
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
