"""Key paths as people and pages write them ("load.1.power", "load.corded drill.power"), and typed text for a field."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from sparewatt.errors import BadRequest, BadRig, Problem
from sparewatt.files.spots import Path
from sparewatt.files.toml import data_of
from sparewatt.files.values import FLAG_WORDS, MEASURED_KEYS, nearest, shown
from sparewatt.files.walk import fields_of
from sparewatt.parts.records import Rig
from sparewatt.parts.values import Spec

__all__ = ["Address", "address", "typed"]

_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?")
_WHOLE = re.compile(r"[+-]?[0-9]{1,18}")


@dataclass(frozen=True, slots=True)
class Address:
    """A place in the rig file: its path, the description of what stands there, and, inside a number, which of its keys."""

    path: Path
    spec: Spec
    inner: str = ""


def address(data: dict[str, Any], where: str) -> Address:
    """The place that a dotted key path names; an item of a list by its number from 0, or by its name."""
    record: type = Rig
    held: Any = data
    path: Path = ()
    rest = where.strip()
    while True:
        word, _, rest = rest.partition(".")
        specs = fields_of(record)
        spec = specs.get(word)
        if spec is None:
            raise _unknown(where, word, list(specs))
        path = (*path, word)
        held = held.get(word) if isinstance(held, dict) else None
        if spec.part is None:
            return _inside(where, path, spec, rest)
        if spec.kind == "parts" and rest:
            index, rest = _index(where, held if isinstance(held, list) else [], rest)
            path = (*path, index)
            held = held[index] if isinstance(held, list) else None
        if not rest:
            return Address(path, spec)
        record = spec.part


def typed(text: str, spec: Spec) -> Any:
    """The TOML value for a text typed into a form; text that does not fit is passed on for the check to name."""
    plain = text.strip()
    match spec.kind:
        case "measured" if spec.unit == "1" and _NUMBER.fullmatch(plain):
            return int(plain) if _WHOLE.fullmatch(plain) else float(plain)
        case "count" if _WHOLE.fullmatch(plain):
            return int(plain)
        case "flag" if plain.lower() in FLAG_WORDS:
            return FLAG_WORDS[plain.lower()]
        case "counts":
            words = plain.strip("[]").replace(",", " ").split()
            return [int(word) for word in words] if all(_WHOLE.fullmatch(word) for word in words) else plain
        case "curve":
            return _list_or_text(plain)
        case "text":
            return text.strip("\r\n") if "\n" in text else plain
        case _:
            return plain


def _list_or_text(text: str) -> Any:
    try:
        return data_of(f"value = {text}").get("value", text)
    except BadRig:
        return text


def _inside(where: str, path: Path, spec: Spec, rest: str) -> Address:
    if not rest:
        return Address(path, spec)
    if spec.kind != "measured" or rest not in MEASURED_KEYS:
        raise _unknown(where, rest, list(MEASURED_KEYS) if spec.kind == "measured" else [])
    return Address(path, spec, rest)


def _index(where: str, items: list[Any], rest: str) -> tuple[int, str]:
    """Which item of a list: by number, else by the longest name that fits."""
    word, _, after = rest.partition(".")
    if word.isascii() and word.isdigit():
        if int(word[:9]) < len(items):
            return int(word), after
        raise BadRequest(Problem(where, f"there are only {len(items)} of these.", "count from 0", word))
    names = {str(item.get("name", "")): index for index, item in enumerate(items) if isinstance(item, dict)}
    for name in sorted(names, key=len, reverse=True):
        if name and (rest == name or rest.startswith(name + ".")):
            return names[name], rest[len(name) + 1 :]
    raise _unknown(where, word, [name for name in names if name])


def _unknown(where: str, word: str, known: list[str]) -> BadRequest:
    close = nearest(word, known)
    hint = (
        f'did you mean "{close}"?' if close else "known here: " + (", ".join(known) or "nothing below this")
    )
    word = shown(word)
    return BadRequest(Problem(shown(where), f'there is no "{word}" in a rig file at this place.', hint, word))
