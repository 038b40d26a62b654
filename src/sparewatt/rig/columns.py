"""Columns of draws by part and field name, and the least certain origin among them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import spec_of
from sparewatt.rig.draws import Draws

__all__ = ["WORST", "Columns", "worst_of"]

F = NDArray[np.float64]
WORST = ("guess", "typical", "nameplate", "computed", "measured")


class Columns:
    """Hands out columns by part and field name, with the field's own description."""

    def __init__(self, draws: Draws) -> None:
        self.draws = draws

    def get(self, part: Any, where: str, name: str, default: float = 0.0) -> F:
        """Column of `part.name`; `default` when the part is silent."""
        if part is None:
            return np.full(self.draws.draws + 1, default)
        spec = spec_of(type(part).__dataclass_fields__[name])
        return self.draws.column(f"{where}.{name}", getattr(part, name), spec, default)


def worst_of(columns: Columns, prefix: str) -> str:
    """Least certain origin among the inputs whose key starts with prefix."""
    hows = {how for key, how in columns.draws.hows.items() if key.startswith(prefix)}
    return next((how for how in WORST if how in hows), "measured")
