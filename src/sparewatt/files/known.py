"""What the bench made known, put where it is used: constants into rig.toml, and what ties them together into known.toml.

In rig.toml each constant stands as measured, with its spread and a note, in the unit that stood there, rounded to a
hundredth of its spread; comments stay. Beside it, known.toml keeps every digit, the correlations, and which readings
they come from.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from sparewatt.errors import BadRig, Problem
from sparewatt.files.address import address
from sparewatt.files.edit import Edited, as_read, changed, replace_text
from sparewatt.files.given import text_of
from sparewatt.files.read import Loaded
from sparewatt.files.toml import data_of
from sparewatt.files.whole import bytes_there, only_one, write_whole
from sparewatt.files.write import quoted_line
from sparewatt.parts import Measured, Rig
from sparewatt.parts.values import Spec
from sparewatt.quantities import BadText, natural_unit, parse
from sparewatt.quantities.units import unit_of
from sparewatt.studies.bench.answers import Constant, KnownPart

__all__ = ["KNOWN_FILE", "Known", "Written", "known_path", "read_known", "write_known"]

KNOWN_FILE = "known.toml"
HEAD = (
    "# What the bench made known, with every digit: written by the bench, read by the bench. The constants themselves\n"
    "# stand in rig.toml, and what stands there goes first. Without this file only their correlations are lost.\n"
)
FINE = 100.0  # parts of a spread that a constant is rounded to in rig.toml


@dataclass(frozen=True, slots=True)
class Known:
    """One part with its constants and correlations, and the marks of the readings that they come from."""

    part: KnownPart
    used: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Written:
    """The rig file after its constants were written; what stands in known.toml now; constants that were not written, why."""

    edited: Edited
    known: tuple[Known, ...]
    left: tuple[tuple[str, str], ...]


def known_path(place: str | Path) -> Path:
    """The known.toml of a folder, or beside a rig file."""
    path = Path(place)
    return (path if path.is_dir() else path.parent) / KNOWN_FILE


def write_known(
    loaded: Loaded, parts: Iterable[Known], *, changes: Sequence[tuple[str, str]] = ()
) -> Written:
    """Writes each constant that has a key and a spread into the rig file, in one go, and all of them into known.toml.

    changes: further (key path, typed text) to write with them, such as an efficiency curve. A part that known.toml holds
    already is replaced by the new one. BadRig when a constant cannot stand in the rig file; then nothing was written.
    """
    parts = tuple(parts)
    told: list[tuple[str, str]] = []
    left: list[tuple[str, str]] = []
    for known in parts:
        for constant in known.part.constants:
            why = _why_not(constant)
            if why:
                left.append((constant.name, why))
            else:
                told += _changes(loaded, constant, known.part)
    told += changes
    draft = changed(loaded, told)  # every fault at once, before anything is written
    if loaded.path is not None:
        as_read(loaded.path, loaded.digest)
    kept = _keep(loaded, parts) if loaded.path is not None else parts
    return Written(replace_text(loaded, draft.text), kept, tuple(left))


def read_known(place: str | Path) -> tuple[Known, ...]:
    """What known.toml holds, to the last digit; nothing when there is no such file."""
    path = known_path(place)
    raw = bytes_there(path)
    return () if raw is None else _from_text(raw, path)


# ---- into the rig file ----


def _why_not(constant: Constant) -> str:
    """Why a constant does not go into the rig file; "" when it does."""
    if not constant.key:
        return "a rig file has no place for it."
    if not math.isfinite(constant.value):
        return constant.why_no_sd or "it has no value."
    if not math.isfinite(constant.sd):
        return constant.why_no_sd or "its spread is not known."
    if constant.how not in ("measured", "computed"):
        return "the readings tell no more of it than the rig file did."
    return ""


def _changes(loaded: Loaded, constant: Constant, part: KnownPart) -> list[tuple[str, str]]:
    """The value with its spread, then the note beside it; how it is known, when that is by computing."""
    spec = address(loaded.data, constant.key).spec
    unit = _unit_there(loaded, constant, spec)
    told = [(constant.key, _text(constant.value, constant.sd, unit))]
    if constant.how != "measured":
        told.append((f"{constant.key}.how", constant.how))
    count = f"{part.readings} reading" + ("s" if part.readings != 1 else "")
    note = part.note or ", ".join(piece for piece in ("bench", count, part.at) if piece)
    return [*told, (f"{constant.key}.note", note)]


def _text(value: float, sd: float, unit: str) -> str:
    """Value and spread in `unit`: the value to a hundredth of the spread, the spread to three digits."""
    known = unit_of(unit)
    number, spread = (value - known.offset) / known.factor, sd / known.factor
    name = "" if unit == "1" else f" {unit}"
    behind = name if known.offset == 0 else " K"
    if spread <= 1e-12 * abs(number):  # finer than digits can tell
        return f"{number!r}{name} +/- {spread!r}{behind}"
    digits = 2 - math.floor(math.log10(spread))
    rounded, rough = (f"{round(x, digits):.{max(0, digits)}f}" for x in (number, spread))
    return f"{rounded}{name} +/- {rough}{behind}"


def _unit_there(loaded: Loaded, constant: Constant, spec: Spec) -> str:
    """The unit in which the file states this constant now; else the one that people use."""
    written = next((origin.written for origin in loaded.origins if origin.where == constant.key), "")
    try:
        return parse(written, spec.unit).unit_text or "1"
    except BadText:
        return natural_unit(constant.value, spec.unit) if spec.unit != "1" else "1"


def _held(rig: Rig, key: str) -> Measured | None:
    held: Any = rig
    for step in key.split("."):
        if isinstance(held, tuple):
            held = held[int(step)] if step.isdigit() and int(step) < len(held) else None
        else:
            held = getattr(held, step, None)
        if held is None:
            return None
    return held if isinstance(held, Measured) else None


# ---- into and out of known.toml ----


def _keep(loaded: Loaded, parts: tuple[Known, ...]) -> tuple[Known, ...]:
    """Puts the parts into known.toml beside the rig file; others that it holds stay."""
    assert loaded.path is not None
    path = known_path(loaded.path)
    with only_one(path.parent):
        raw = bytes_there(path)
        fresh = {known.part.part: known for known in parts}
        old = _from_text(raw, path) if raw is not None else ()
        merged = [fresh.pop(known.part.part, known) for known in old] + list(fresh.values())
        write_whole(path, known_text(merged).encode("utf-8"), raw)
    return tuple(merged)


def known_text(parts: Iterable[Known]) -> str:
    """The text of known.toml; reading it back gives the same parts, bit for bit."""
    return HEAD + "".join(line + "\n" for known in parts for line in _part_lines(known))


def _part_lines(known: Known) -> Iterator[str]:
    part = known.part
    yield ""
    yield "[[part]]"
    yield f"part = {quoted_line(part.part)}"
    yield f"name = {quoted_line(part.name)}"
    yield f"readings = {part.readings}"
    yield f"at = {quoted_line(part.at)}"
    yield f"note = {quoted_line(part.note)}"
    yield f"used = [{', '.join(quoted_line(mark) for mark in known.used)}]"
    yield f"names = [{', '.join(quoted_line(constant.name) for constant in part.constants)}]"
    yield "correlation = ["
    for row in np.atleast_2d(part.correlation) if part.constants else ():
        yield f"    [{', '.join(repr(float(x)) for x in row)}],"
    yield "]"
    for constant in part.constants:
        yield ""
        yield "[[part.constant]]"
        for field in dataclasses.fields(Constant):
            value = getattr(constant, field.name)
            if value != field.default and not (isinstance(value, float) and math.isnan(value)):
                yield f"{field.name} = {quoted_line(value) if isinstance(value, str) else repr(float(value))}"


def _from_text(raw: bytes, path: Path) -> tuple[Known, ...]:
    try:
        return tuple(_known(table) for table in data_of(text_of(raw, path)).get("part", ()))
    except (BadRig, ValueError, KeyError, TypeError, AttributeError):
        says = "this file was written by the bench and cannot be read any more."
        hint = "move it out of the way and let the bench fit again: it is made anew from the readings"
        raise BadRig(Problem("", says, hint, file=str(path))) from None


def _known(table: dict[str, Any]) -> Known:
    constants = tuple(_constant(one) for one in table.get("constant", ()))
    n = len(constants)
    correlation = np.array(table["correlation"], dtype=np.float64).reshape(n, n)
    part = KnownPart(
        part=_string(table["part"]),
        name=_string(table["name"]),
        constants=constants,
        correlation=correlation,
        readings=int(table["readings"]),
        at=_string(table["at"]),
        note=_string(table["note"]),
    )
    return Known(part, tuple(_string(mark) for mark in table["used"]))


def _constant(table: dict[str, Any]) -> Constant:
    """A constant; what is left out is as in a fresh one, and NaN where it has no usual value."""
    told: dict[str, Any] = dict.fromkeys(("value", "sd", "low", "high"), math.nan)
    for field in dataclasses.fields(Constant):
        if field.name in table:
            value = table[field.name]
            told[field.name] = _string(value) if field.type == "str" else float(value)
    return Constant(**told)


def _string(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError
    return value
