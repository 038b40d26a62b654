"""The published numbers: one table per section says each key, where it comes from and what it means.

The same table makes the JSON and the reference page, so neither can drift. A key ends in its SI unit; a band is three keys
(plain, _p05, _p95); a number that is not there is null, and the key with _why says why.
"""

from __future__ import annotations

import enum
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparewatt.rig.outcome import Band

__all__ = ["UNIT_ENDS", "Key", "band", "documented", "flatten", "mixed", "number", "rows", "text", "whole"]

# What a key of a number may end in; "share" is a part of 1, "count" a whole number, "ratio" a plain factor.
UNIT_ENDS = (
    "rad_per_s",
    "N_m",
    "V_s_per_rad",
    "N_m_per_rad_per_s",
    "W",
    "V",
    "A",
    "J",
    "s",
    "K",
    "m2",
    "m3",
    "m",
    "ohm",
    "share",
    "count",
    "ratio",
    "coin",
    "C",
)
NOTHING = "does not apply here"


@dataclass(frozen=True, slots=True)
class Key:
    """One published key. kind: "number", "band", "text", "flag", "count", "list", "rows" (objects, see `of`), "mixed"."""

    name: str
    kind: str
    get: Callable[[Any], Any]
    says: str
    why: str = NOTHING
    of: tuple[Key, ...] = ()


def _from(name: str) -> Callable[[Any], Any]:
    return lambda thing: getattr(thing, name)


def number(name: str, get: Callable[[Any], Any] | str, says: str, why: str = NOTHING) -> Key:
    """A number in the SI unit that its name ends in."""
    return Key(name, "number", _from(get) if isinstance(get, str) else get, says, why)


def band(name: str, get: Callable[[Any], Any] | str, says: str, why: str = NOTHING) -> Key:
    """An uncertain number: the nominal value and its 5 % and 95 % points."""
    return Key(name, "band", _from(get) if isinstance(get, str) else get, says, why)


def text(name: str, get: Callable[[Any], Any] | str, says: str) -> Key:
    """Words."""
    return Key(name, "text", _from(get) if isinstance(get, str) else get, says)


def whole(name: str, get: Callable[[Any], Any] | str, says: str) -> Key:
    """A whole number, or true and false."""
    return Key(name, "count", _from(get) if isinstance(get, str) else get, says)


def mixed(name: str, get: Callable[[Any], Any] | str, says: str, why: str = NOTHING) -> Key:
    """A number whose SI unit stands in the key "unit" beside it, or a list of numbers or words."""
    return Key(name, "mixed", _from(get) if isinstance(get, str) else get, says, why)


def rows(name: str, get: Callable[[Any], Any] | str, says: str, of: Sequence[Key], why: str = NOTHING) -> Key:
    """A list of objects, or one object (null when there is none)."""
    return Key(name, "rows", _from(get) if isinstance(get, str) else get, says, why, tuple(of))


def flatten(keys: Sequence[Key], thing: Any) -> dict[str, object]:
    """The published object for one result."""
    out: dict[str, object] = {}
    for key in keys:
        value = key.get(thing)
        if key.kind == "rows":
            out[key.name] = _objects(key, value)
            if value is None:
                out[f"{key.name}_why"] = key.why
        elif key.kind == "band":
            _put_band(out, key, value)
        else:
            out[key.name] = _plain(value)
            if out[key.name] is None:
                out[f"{key.name}_why"] = _why(key, value)
    return out


def _objects(key: Key, value: Any) -> object:
    if value is None:
        return None
    if isinstance(value, list | tuple):
        return [flatten(key.of, item) for item in value]
    return flatten(key.of, value)


def _put_band(out: dict[str, object], key: Key, value: Band) -> None:
    for end, x in (("", value.mid), ("_p05", value.low), ("_p95", value.high)):
        out[key.name + end] = _plain(x)
    if any(out[key.name + end] is None for end in ("", "_p05", "_p95")):
        out[f"{key.name}_why"] = _why(key, value.mid if not math.isfinite(value.mid) else value.high)


def _why(key: Key, value: Any) -> str:
    endless = isinstance(value, float | np.floating) and math.isinf(value)
    return "without end" if endless and key.why == NOTHING else key.why


def _plain(value: Any) -> object:
    """JSON's own types; no number that is not finite."""
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, enum.Enum):
        return value.name.lower()
    if isinstance(value, np.ndarray):
        if value.dtype.kind == "f" and np.isfinite(value).all():
            return value.tolist()
        return [_plain(x) for x in value.tolist()]
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, dict):
        return {str(k): _plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(x) for x in value]
    raise TypeError(f"{type(value).__name__} has no place in the published object")


def documented(keys: Sequence[Key], above: str = "") -> list[tuple[str, str, str]]:
    """(path, kind, sentence) of every key, depth first; a list of objects shows as "name[]"."""
    out: list[tuple[str, str, str]] = []
    for key in keys:
        out.append((above + key.name, key.kind, key.says))
        if key.of:
            out += documented(key.of, f"{above}{key.name}[].")
    return out
