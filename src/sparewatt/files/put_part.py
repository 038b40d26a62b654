"""Puts a whole part, as from a label, into a rig file: every value, spread, origin and note as it is on the label.

What already says the same stays as it is written, comments stay, and all is written in one go or not at all.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, MutableMapping
from typing import Any

from sparewatt.errors import BadRequest, BadRig, CannotWrite, Problem
from sparewatt.files.edit import Edited, replace_text
from sparewatt.files.read import Loaded, read_text
from sparewatt.files.toml import BOM
from sparewatt.files.walk import exact_and_plate, fields_of
from sparewatt.files.write import measured_text, quoted
from sparewatt.parts import Measured, Rig, Spec

__all__ = ["put_part"]


def put_part(loaded: Loaded, where: str, part: Any) -> Edited:
    """Puts a part in the place of the one at `where` ("machine", "converter.0"), or behind the others ("converter").

    BadRequest when no part of that sort belongs there; BadRig when the rig would not hold together with it.
    """
    name, index = _place(loaded.rig, where, part)
    plain = loaded.text.removeprefix(BOM)
    lead = loaded.text[: len(loaded.text) - len(plain)]
    there = getattr(loaded.rig, name)
    old = there if index is None else there[index] if index < len(there) else None
    for way in (_in_place, _anew) if old is not None else (_anew,):
        text = way(plain, name, index, part, old)
        if text is not None and _holds(text, name, index, part):
            return replace_text(loaded, lead + text)
    if text is not None:
        replace_text(
            dataclasses.replace(loaded, path=None), lead + text
        )  # says what does not hold together, if that is it
    says = "this part cannot be put in here without disturbing the rest of the file."
    raise CannotWrite(Problem(where, says, "copy the numbers by hand", file=str(loaded.path or "")))


def _place(rig: Rig, where: str, part: Any) -> tuple[str, int | None]:
    """Field of the rig, and which of several; one more than there are for a new one."""
    name, _, number = where.strip().partition(".")
    spec = fields_of(Rig).get(name)
    if spec is None or spec.part is None or type(part) is not spec.part:
        fitting = [key for key, one in fields_of(Rig).items() if one.part is type(part)]
        raise BadRequest(
            Problem(where, "a part of this sort does not belong here.", " or ".join(fitting), where)
        )
    if spec.kind == "part":
        return name, None
    count = len(getattr(rig, name))
    if number and not (number.isascii() and number.isdigit() and int(number[:9]) < count):
        raise BadRequest(
            Problem(where, f"there are only {count} of these.", f'"{name}" adds one behind them', where)
        )
    return name, int(number) if number else count


def _holds(text: str, name: str, index: int | None, part: Any) -> bool:
    """Whether the text reads as a rig that has just this part at this place."""
    try:
        there = getattr(read_text(text).rig, name)
    except BadRig:
        return False
    return bool((there if index is None else there[index]) == part)


# ---- key by key, so that comments and spellings stay ----


def _in_place(text: str, name: str, index: int | None, part: Any, old: Any) -> str | None:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        document = tomlkit.parse(text)
        table: Any = document[name] if index is None else document[name][index]
        assert isinstance(table, MutableMapping)
        for key, spec in fields_of(type(part)).items():
            if getattr(part, key) == getattr(old, key):
                continue
            if spec.part is not None:
                return None
            table.pop(key, None)
            toml = _value(part, key, spec)
            if toml:
                table[key] = tomlkit.value(toml)
        return tomlkit.dumps(document)
    except (TOMLKitError, ValueError, KeyError, IndexError, TypeError, AttributeError, AssertionError):
        return None


# ---- the whole table anew ----


def _anew(text: str, name: str, index: int | None, part: Any, old: Any) -> str | None:
    """The table taken out and written afresh in its place, or written behind the rest."""
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    header = f"[{name}]" if index is None else f"[[{name}]]"
    if old is None:
        gap = "" if not text or text.endswith("\n\n") else "\n" if text.endswith("\n") else "\n\n"
        return text + gap + "\n".join(_lines(part, header, name)) + "\n"
    try:
        document = tomlkit.parse(text)
        fresh = tomlkit.parse("\n".join(_lines(part, header, name)) + "\n\n")[name]
        if index is None:
            document[name] = fresh
        else:
            document[name][index] = fresh[0]
        return tomlkit.dumps(document)
    except (TOMLKitError, ValueError, KeyError, IndexError, TypeError, AttributeError):
        return None


def _lines(part: Any, header: str, path: str) -> Iterator[str]:
    yield header
    for key, spec in fields_of(type(part)).items():
        toml = _value(part, key, spec) if spec.part is None else ""
        if toml:
            yield f"{key} = {toml}"
    for key, spec in fields_of(type(part)).items():
        if spec.part is not None:
            for one in getattr(part, key) or ():
                yield from _lines(one, f"[[{path}.{key}]]", f"{path}.{key}")


def _value(part: Any, key: str, spec: Spec) -> str:
    """The value as TOML; "" when the part does not give it."""
    value = getattr(part, key)
    plain = type(part).__dataclass_fields__[key].default
    if value is None or (value == plain and not spec.needed) or value == ():
        return ""
    if isinstance(value, Measured):
        exact, plate = exact_and_plate(type(part))
        return measured_text(value, key, spec, exact=key in exact, plate=key in plate)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return f"[{', '.join(f'[{item[0]!r}, {item[1]!r}]' if isinstance(item, tuple) else repr(item) for item in value)}]"
    return quoted(value) if isinstance(value, str) else repr(value)
