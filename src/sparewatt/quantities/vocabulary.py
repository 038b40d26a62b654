"""The one vocabulary: every name that a formula takes, with its unit and its sentence."""

from __future__ import annotations

from importlib import import_module
from types import MappingProxyType
from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES", "TABLES", "merged"]

TABLES: Final = ("vocab_human", "vocab_drive", "vocab_electric", "vocab_guard", "vocab_motion", "vocab_bench")


def merged(tables: dict[str, dict[str, Q]]) -> dict[str, Q]:
    """All tables as one; a name that two of them give is refused."""
    names: dict[str, Q] = {}
    came_from: dict[str, str] = {}
    for table, rows in tables.items():
        for name, quantity in rows.items():
            if name in names:
                raise ValueError(f"'{name}' is in {came_from[name]} and in {table}")
            names[name], came_from[name] = quantity, table
    return names


NAMES: Final = MappingProxyType(
    merged({table: import_module(f"sparewatt.quantities.{table}").NAMES for table in TABLES})
)
