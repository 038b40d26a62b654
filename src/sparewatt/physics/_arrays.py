"""The two small steps that chapters take at the door and at the way out: array in, array or plain number out."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["F", "arr", "out"]

F = NDArray[np.float64]


def arr(x: ArrayLike) -> F:
    """The input as an array of floats."""
    return np.asarray(x, dtype=np.float64)


def out(x: ArrayLike) -> F:
    """The array itself, or a plain np.float64 where all inputs were numbers."""
    result: F = np.asarray(x, dtype=np.float64)[()]
    return result
