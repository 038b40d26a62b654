"""The one vocabulary: every name that a formula, a chart axis or an answer may use, with its unit and its sentence."""

from __future__ import annotations

from importlib import import_module
from types import MappingProxyType
from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES", "TABLES", "merged"]

# The tables that make up the vocabulary, in the order in which their sentences win.
TABLES: Final = ("vocab_human", "vocab_drive", "vocab_electric", "vocab_guard", "vocab_motion", "vocab_bench")


def merged(tables: dict[str, dict[str, Q]]) -> dict[str, Q]:
    """All tables as one; a name that two of them give different units is refused, else the first sentence stands."""
    names: dict[str, Q] = {}
    came_from: dict[str, str] = {}
    for table, rows in tables.items():
        for name, quantity in rows.items():
            known = names.setdefault(name, quantity)
            came_from.setdefault(name, table)
            if known.unit != quantity.unit:
                raise ValueError(
                    f"'{name}' is in {known.unit} in {came_from[name]} and in {quantity.unit} in {table}"
                )
    return names


NAMES: Final = MappingProxyType(
    merged({table: import_module(f"sparewatt.quantities.{table}").NAMES for table in TABLES})
)
