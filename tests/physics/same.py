"""One check that the chapters' tests share: an array gives what its numbers give one at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

STRETCH = np.array([0.97, 1.0, 1.02])


def array_equals_scalar(function: Callable[..., Any], sample: dict[str, Any]) -> None:
    """Every number of the sample stretched three ways: all at once as arrays, and one way at a time."""
    numbers = {k: v for k, v in sample.items() if isinstance(v, float)}
    rest = {k: v for k, v in sample.items() if k not in numbers}
    many = function(**{k: v * STRETCH for k, v in numbers.items()}, **rest)
    each = [function(**{k: v * s for k, v in numbers.items()}, **rest) for s in STRETCH.tolist()]
    rows = [(many, each)]
    if isinstance(many, tuple):
        rows = [(many[k], [one[k] for one in each]) for k in range(len(many))]
    for together, alone in rows:
        assert together.shape == STRETCH.shape
        assert all(type(x) is np.float64 for x in alone)
        np.testing.assert_allclose(together, alone, rtol=1e-13)
