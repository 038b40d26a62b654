"""Quotients that closed forms of motion are made of, each written so that its limit is a number and not 0/0."""

from __future__ import annotations

import numpy as np

from sparewatt.physics._arrays import F

__all__ = ["arccosh_share", "fade_share", "log_rest", "log_share"]


def fade_share(x: F) -> F:
    """(1 - exp(-x))/x: 1 at 0, 0 at infinity."""
    tiny = np.abs(x) < 1e-12
    return np.where(tiny, 1.0 - 0.5 * x, -np.expm1(-x) / np.where(tiny, 1.0, x))


def log_share(y: F) -> F:
    """ln(1 + y)/y: 1 at 0, 0 at infinity."""
    tiny = np.abs(y) < 1e-12
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = np.where(tiny, 1.0 - 0.5 * y, np.log1p(y) / np.where(tiny, 1.0, y))
    return np.where(np.isposinf(y), 0.0, share)


def log_rest(y: F) -> F:
    """(y - ln(1 + y))/y^2: 1/2 at 0, 0 at infinity."""
    near = np.abs(y) < 1e-2
    small = np.where(near, y, 0.0)
    series = np.polynomial.polynomial.polyval(small, [1 / 2, -1 / 3, 1 / 4, -1 / 5, 1 / 6, -1 / 7, 1 / 8])
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        whole = np.where(near, 1.0, y)  # divided by twice: its square could be too large
        share = np.where(near, series, (y - np.log1p(y)) / whole / whole)
    return np.where(np.isposinf(y), 0.0, share)


def arccosh_share(x: F) -> F:
    """arccosh(x)/sqrt(x^2 - 1), below 1 arccos(x)/sqrt(1 - x^2): 1 at 1; inf at -1 and below."""
    near, inner = np.abs(x - 1.0) < 1e-4, (x > -1.0) & (x < 1.0)
    step = x - 1.0
    series = 1.0 - step / 3.0 + 2.0 * step**2 / 15.0
    low = np.where(inner & ~near, x, 0.0)
    high = np.where((x > 1.0) & ~near, x, 2.0)
    below = np.arccos(low) / np.sqrt((1.0 - low) * (1.0 + low))
    above = np.arccosh(high) / np.sqrt((high - 1.0) * (high + 1.0))
    return np.where(near, series, np.where(inner, below, np.where(x > 1.0, above, np.inf)))
