"""Changes a rig file in place: comments and order stay, only what was checked is written, never over somebody else's edit.

Each change returns the text as it was before, so that it can be put back with `replace_text`.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sparewatt.errors import BadRequest, BadRig, CannotWrite, Problem, SparewattError
from sparewatt.files.address import Address, address, typed
from sparewatt.files.read import Loaded, digest_of, read_text, rig_of, rig_text
from sparewatt.files.toml import BOM, data_of
from sparewatt.files.walk import fields_of
from sparewatt.files.whole import changed_elsewhere, only_one, refused, write_whole

__all__ = [
    "Edited", "add_part", "as_read", "changed", "made", "remove_part", "replace_text", "set_value", "tried", "write_new",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Edited:
    """The rig file after a change, and its whole text before it."""

    loaded: Loaded
    before: str


def set_value(loaded: Loaded, where: str, text: str) -> Edited:
    """Writes what a person typed for one key ("machine.resistance", "0.9 ohm +/- 0.05"); an empty text takes the key out."""
    return _apply(loaded, where, lambda data: _set(data, where, text))


def add_part(loaded: Loaded, kind: str, values: Mapping[str, str]) -> Edited:
    """Adds a table ("load", "battery", "neighbour.0.stage") with what a person typed for its keys."""
    return _apply(loaded, kind, lambda data: _add(data, kind, values))


def remove_part(loaded: Loaded, where: str) -> Edited:
    """Takes out a whole table ("load.1", "load.corded drill", "battery")."""
    return _apply(loaded, where, lambda data: _remove(data, where))


def replace_text(loaded: Loaded, text: str) -> Edited:
    """Puts a whole text in place of the file's, as for undo; it is checked like any other."""
    return Edited(_save(loaded, read_text(text, loaded.path)), loaded.text)


def tried(loaded: Loaded, changes: Iterable[tuple[str, str]]) -> Loaded:
    """The rig with changes of (key path, typed text) tried on it; nothing is written, and the text stays as read.

    A path that ends in "+" adds a part, its text being that part's own TOML lines: ("converter+", 'name = "board"').
    """
    data = copy.deepcopy(loaded.data)
    for where, text in changes:
        _step(where, text)[1](data)
    return replace(loaded, rig=rig_of(data, "", str(loaded.path or "")), data=data)


def made(loaded: Loaded, changes: Iterable[tuple[str, str]]) -> Edited:
    """The same changes as `tried`, written to the file all in one go or not at all."""
    return replace_text(loaded, changed(loaded, changes).text)


def changed(loaded: Loaded, changes: Iterable[tuple[str, str]]) -> Loaded:
    """The same changes made in the text, comments kept; nothing is written."""
    return _drafted(loaded, [_step(where, text) for where, text in changes])


def write_new(path: str | Path, text: str) -> Loaded:
    """Writes a rig file that is not there yet, with the folders above it; the text is checked first."""
    target = Path(path)
    loaded = read_text(text, target)
    if target.exists():
        raise CannotWrite(
            Problem(
                "",
                "there is a file of this name already, and it is left alone.",
                "choose another folder",
                file=str(target),
            )
        )
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as bad:
        raise refused(target, bad) from None
    with only_one(target.resolve().parent):
        write_whole(target, text.encode("utf-8"), None)
    return loaded


# ---- what changes, as plain data ----


@dataclass(frozen=True, slots=True)
class _Change:
    """One change: the table it is made in, the key or index there, and the new value (None takes it out)."""

    table: tuple[str | int, ...]
    key: str | int
    value: Any


_Step = tuple[str, Callable[[dict[str, Any]], _Change]]  # where, and what makes the change in plain data


def _step(where: str, text: str) -> _Step:
    """A change by its key path and typed text; a path that ends in "+" adds a part."""
    if where.endswith("+"):
        return where, lambda data: _add(data, where[:-1], _lines(where, text))
    return where, lambda data: _set(data, where, text)


def _set(data: dict[str, Any], where: str, text: str) -> _Change:
    place = address(data, where)
    if place.spec.part is not None:
        raise BadRequest(Problem(where, "this is a whole table, not one value.", "name a key in it", text))
    *above, key = place.path
    value = typed(text, place.spec) if text.strip() else None
    if place.inner:
        value = _inner(_at(data, place.path), place, text.strip())
    return _made(data, _Change(tuple(above), key, value))


def _inner(held: Any, place: Address, text: str) -> Any:
    """A number's table with one of its keys changed; a plain text becomes the table's value."""
    table = dict(held) if isinstance(held, dict) else {"value": held} if held is not None else {}
    if text:
        table[place.inner] = typed(text, place.spec) if place.inner == "value" else text
    else:
        table.pop(place.inner, None)
    return table or None


def _lines(where: str, text: str) -> dict[str, Any]:
    """A part given as its own TOML lines."""
    try:
        return data_of(text)
    except BadRig as bad:
        says = f"these lines cannot be read: {bad.problems[0].problem}"
        hint = 'write them as in a rig file: name = "board"'
        raise BadRequest(Problem(where, says, hint, bad.problems[0].read)) from None


def _add(data: dict[str, Any], kind: str, values: Mapping[str, Any]) -> _Change:
    place = address(data, kind)
    if place.spec.part is None or isinstance(place.path[-1], int):
        raise BadRequest(Problem(kind, "this is not a kind of part.", 'name a table, such as "load"'))
    *above, key = place.path
    known = fields_of(place.spec.part)
    table = {
        name: typed(text, known[name]) if isinstance(text, str) and name in known else text
        for name, text in values.items()
        if not isinstance(text, str) or text.strip()
    }
    if place.spec.kind == "part":
        if _at(data, place.path) is not None:
            raise BadRequest(
                Problem(kind, "there is one already, and there can be only one.", "change that one")
            )
        return _made(data, _Change(tuple(above), key, table))
    return _made(data, _Change(place.path, len(_at(data, place.path) or []), table))


def _remove(data: dict[str, Any], where: str) -> _Change:
    place = address(data, where)
    if (
        place.spec.part is None
        or _at(data, place.path) is None
        or (place.spec.kind == "parts" and isinstance(place.path[-1], str))
    ):
        raise BadRequest(
            Problem(where, "there is no such part to take out.", 'name one, such as "load.0" or "battery"')
        )
    *above, key = place.path
    return _made(data, _Change(tuple(above), key, None))


def _at(data: Any, path: Iterable[str | int]) -> Any:
    for step in path:
        if isinstance(data, dict):
            data = data.get(str(step))
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return None
    return data


def _made(data: Any, change: _Change) -> _Change:
    """Makes the change in plain data or in a document that keeps comments; tables on the way are made as needed."""
    holder = data
    for depth, step in enumerate(change.table):
        below = change.table[depth + 1] if depth + 1 < len(change.table) else change.key
        if isinstance(holder, dict) and step not in holder:
            if change.value is None:
                return change
            holder[step] = _fresh(data, isinstance(below, int))
        holder = holder[step]
    if change.value is None:
        if isinstance(change.key, int) or change.key in holder:
            del holder[change.key]
        if isinstance(change.key, int) and not holder:
            del _holder_of(data, change.table)[change.table[-1]]
    elif isinstance(change.key, int):
        holder.append(_item(data, change.value))
    else:
        holder[change.key] = _item(data, change.value)
    return change


def _holder_of(data: Any, table: tuple[str | int, ...]) -> Any:
    for step in table[:-1]:
        data = data[step]
    return data


def _keeps_comments(data: Any) -> bool:
    return type(data).__module__.startswith("tomlkit")


def _fresh(data: Any, many: bool) -> Any:
    if not _keeps_comments(data):
        return [] if many else {}
    import tomlkit

    return tomlkit.aot() if many else tomlkit.table()


def _item(data: Any, value: Any) -> Any:
    """A value as the document holds it: a part under a header, a number's table in curly brackets, long text on lines."""
    if not _keeps_comments(data):
        return copy.deepcopy(value)
    import tomlkit

    if isinstance(value, dict):
        table = tomlkit.inline_table() if "value" in value else tomlkit.table()
        table.update(value)
        return table
    if isinstance(value, str) and "\n" in value:
        return tomlkit.string(value, multiline=True)
    return value


# ---- from the change to the disk ----


def _apply(loaded: Loaded, where: str, change_of: Callable[[dict[str, Any]], _Change]) -> Edited:
    return Edited(_save(loaded, _drafted(loaded, [(where, change_of)])), loaded.text)


def _drafted(loaded: Loaded, steps: Sequence[_Step]) -> Loaded:
    """All changes made at once in the text and checked together; the same when nothing changes."""
    data = copy.deepcopy(loaded.data)
    changes = [change_of(data) for _, change_of in steps]
    if data == loaded.data:
        return loaded
    rig_of(data, loaded.text.removeprefix(BOM), str(loaded.path or ""))
    where = steps[0][0] if len(steps) == 1 else ""
    text = _edited_text(loaded, where, changes)
    if data_of(text) != data:
        raise _by_hand(loaded, where)
    return read_text(text, loaded.path)


def _edited_text(loaded: Loaded, where: str, changes: Sequence[_Change]) -> str:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    plain = loaded.text.removeprefix(BOM)
    lead = loaded.text[: len(loaded.text) - len(plain)]
    try:
        document = tomlkit.parse(plain if plain.endswith("\n") or not plain else plain + "\n")
        for change in changes:
            _made(document, change)
        text = tomlkit.dumps(document)
        data_of(text)
    except (TOMLKitError, BadRig, ValueError, KeyError, IndexError, TypeError, AttributeError):
        raise _by_hand(loaded, where) from None
    return lead + text


def _by_hand(loaded: Loaded, where: str) -> CannotWrite:
    says = "this file is laid out in a way that cannot be changed here without disturbing the rest."
    return CannotWrite(
        Problem(where, says, "make this change in the file by hand", file=str(loaded.path or ""))
    )


def _save(old: Loaded, new: Loaded) -> Loaded:
    """Writes the new text if it differs, provided that the file is still the one that was read."""
    if old.path is None:
        return new
    with only_one(old.path.resolve().parent):
        before = as_read(old.path, old.digest)
        if new.text != old.text:
            write_whole(old.path, new.text.encode("utf-8"), before)
    return new


def as_read(path: Path, digest: str) -> bytes:
    """The file's bytes; ChangedElsewhere when they are not those that were read."""
    try:
        now = rig_text(path)
    except SparewattError:
        raise changed_elsewhere(path) from None
    if digest_of(now) != digest:
        raise changed_elsewhere(path)
    return now.encode("utf-8")
