"""The exact run-down of a shaft, and the robust least squares that fits it."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

__all__ = ["angle_at", "solved", "speed_at"]

F = NDArray[np.float64]


def speed_at(time: F, w: float, a: float, c: float) -> F:
    """Speed of a run-down, smooth through c = 0, not stopped at standstill so that a fit can pass it."""
    x = c * time
    return np.asarray(w * np.exp(-x) - a * time * _rest(x))


def angle_at(time: F, w: float, a: float, c: float) -> F:
    """Angle turned: the integral of the speed."""
    x = c * time
    tiny = np.abs(x) < 1e-4
    near = 0.5 - x / 6.0 + x * x / 24.0
    far = (x + np.expm1(-x)) / np.where(tiny, 1.0, x * x)
    return np.asarray(w * time * _rest(x) - a * time**2 * np.where(tiny, near, far))


def _rest(x: F) -> F:
    """(1 - exp(-x))/x."""
    tiny = np.abs(x) < 1e-8
    return np.asarray(np.where(tiny, 1.0 - 0.5 * x, -np.expm1(-x) / np.where(tiny, 1.0, x)))


def solved(model: Callable[[F], F], seen: F, sd: F, first: F) -> tuple[F, F, float]:
    """Constants, covariance, and chi2 for each degree, by least squares with a soft loss."""
    from scipy.optimize import least_squares

    scale = np.maximum(np.abs(first), 1e-3 * float(np.max(np.abs(first))) + 1e-12)
    wide = 1.0  # first with spreads as wide as the scatter, so that small spreads do not make everything an outlier

    def off(x: F) -> F:
        return (model(x) - seen) / (sd * wide)

    plain = least_squares(off, first, x_scale=scale)
    wide = max(1.0, 1.4826 * float(np.median(np.abs(plain.fun))))
    x = np.asarray(least_squares(off, plain.x, x_scale=scale, loss="soft_l1").x)
    weight = 1.0 / np.sqrt(1.0 + off(x) ** 2)
    z = off(x) * wide
    chi2 = float(np.sum(weight * z * z) / max(1, seen.size - first.size))
    table = _slopes(off, x, 1e-5 * scale) * wide
    normal = table.T @ (weight[:, None] * table)
    unit = np.sqrt(np.maximum(np.diag(normal), 1e-300))
    covariance = np.linalg.pinv(normal / np.outer(unit, unit), hermitian=True) / np.outer(unit, unit)
    return x, np.asarray(covariance) * max(1.0, chi2), chi2


def _slopes(off: Callable[[F], F], x: F, step: F) -> F:
    """How each residual moves with each constant."""
    columns = []
    for k in range(x.size):
        move = np.zeros(x.size)
        move[k] = step[k]
        columns.append((off(x + move) - off(x - move)) / (2 * step[k]))
    return np.stack(columns, axis=1)
