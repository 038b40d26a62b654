"""The rig file as the pages handle it: its text, the mark by which a change elsewhere is noticed, what stands at a key.

All reading, checking and writing is done by `sparewatt.files`; this keeps a text that cannot be used yet showable.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from sparewatt.errors import BadRig
from sparewatt.files import RIG_FILE, Loaded, read_text, replace_text
from sparewatt.files.edit import changed
from sparewatt.files.read import digest_of, rig_text
from sparewatt.files.toml import data_of
from sparewatt.parts import Rig

__all__ = [
    "NAME",
    "TEXT_LIMIT",
    "Sheet",
    "checked",
    "edited",
    "loaded_of",
    "name_of",
    "read",
    "rig_of",
    "write",
    "written",
]

NAME = RIG_FILE
TEXT_LIMIT = 200_000  # letters of a rig file that a page takes


@dataclass(frozen=True, slots=True)
class Sheet:
    """The text of a rig file as read, whether it can be used or not, and the mark of that text."""

    path: Path
    text: str
    seen: str


def read(path: Path) -> Sheet:
    """The file as it is on disk now."""
    text = rig_text(path)
    return Sheet(path, text, digest_of(text))


def write(sheet: Sheet, text: str) -> None:
    """Put a text in place of the file's, whole or not at all, if the file is still as read."""
    new = loaded_of(text, sheet.path)
    before = Loaded(
        rig=new.rig, path=sheet.path, text=sheet.text, digest=sheet.seen, data={}, lines={}, origins=()
    )
    replace_text(before, text)


@lru_cache(maxsize=32)
def loaded_of(text: str, path: Path | None = None) -> Loaded:
    """The text read as a rig file; every complaint at once when it cannot be used."""
    return read_text(text, path)


def rig_of(sheet: Sheet) -> Rig | None:
    """The rig, or None while the file cannot be used."""
    try:
        return loaded_of(sheet.text, sheet.path).rig
    except BadRig:
        return None


def checked(text: str) -> str:
    """The same text, if it reads as a rig."""
    loaded_of(text)
    return text


def edited(text: str, edits: Sequence[tuple[str, str]]) -> str:
    """The text with values changed and parts added, comments kept; all that does not fit is complained of at once.

    A key that ends in + adds a part of that kind, given as its TOML lines.
    """
    loaded = loaded_of(text)
    return changed(loaded, [(_seat(loaded, key, value), value) for key, value in edits]).text


def _seat(loaded: Loaded, key: str, value: str) -> str:
    """Where a typed value goes: into a number's own table when it has one, so that its note and origin stay."""
    return f"{key}.value" if value and isinstance(_at(loaded.data, key), dict) else key


def name_of(text: str) -> str:
    """What a rig file calls the build, also when other lines of it cannot be used."""
    try:
        return str(data_of(text).get("name", "")) or "this rig"
    except BadRig:
        return "this rig"


def written(sheet: Sheet) -> dict[str, str]:
    """What stands at each key, as a person would type it into a box."""
    try:
        return _flat(loaded_of(sheet.text, sheet.path).data, "")
    except BadRig:
        return {}


def _flat(table: Mapping[str, Any], above: str) -> dict[str, str]:
    found: dict[str, str] = {}
    for name, value in table.items():
        key = f"{above}{name}"
        if isinstance(value, dict) and "value" in value:
            found[key] = str(value["value"])
        elif isinstance(value, dict):
            found |= _flat(value, f"{key}.")
        elif isinstance(value, list) and value and all(isinstance(item, dict) for item in value):
            for index, item in enumerate(value):
                found |= _flat(item, f"{key}.{index}.")
        else:
            found[key] = _typed(value)
    return found


def _typed(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        inner = ", ".join(_typed(item) for item in value)
        return (
            f"[{inner}]"
            if any(isinstance(item, list) for item in value) or any(isinstance(item, float) for item in value)
            else inner
        )
    return str(value).strip()


def _at(data: Any, key: str) -> Any:
    for step in key.split("."):
        if isinstance(data, dict):
            data = data.get(step)
        elif isinstance(data, list) and step.isdigit() and int(step) < len(data):
            data = data[int(step)]
        else:
            return None
    return data
