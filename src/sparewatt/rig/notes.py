"""Typical values with their spread, and the list of what had to be assumed."""

from __future__ import annotations

import dataclasses
from typing import TypeVar

from sparewatt.parts import Measured

__all__ = ["Notes", "exact", "typical", "value_of"]

T = TypeVar("T")


class Notes:
    """Collects what was assumed while parts are filled."""

    def __init__(self) -> None:
        self.lines: list[tuple[str, str]] = []

    def put(self, part: T, where: str, says: str = "", **typical: Measured | None) -> T:
        """`part` with each empty field replaced by its typical value; each replacement is noted."""
        new: dict[str, Measured] = {}
        for name, value in typical.items():
            if getattr(part, name) is None and value is not None:
                new[name] = value
                if value.how in ("typical", "guess"):
                    self.lines.append(
                        (f"{where}.{name}", says or "not in the rig file; a typical value stands in")
                    )
        return dataclasses.replace(part, **new) if new else part  # type: ignore[type-var]


def typical(value: float, spread: float, note: str = "") -> Measured:
    """A typical value with a relative spread (one standard deviation)."""
    return Measured(value, abs(value) * spread, "typical", note)


def exact(value: float, note: str = "") -> Measured:
    """A chosen setting with no spread."""
    return Measured(value, 0.0, "computed", note)


def value_of(measured: Measured | None) -> float | None:
    """The bare number, or None."""
    return None if measured is None else measured.value
