"""What follows from a fit: predictions with their band, answers with their spread, and what one more reading would bring.

All to first order from the covariance, or from draws where the answer bends. Source: [gum] [gum_monte_carlo]
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.studies.fit import Fit
from sparewatt.studies.fit_problem import STEP, Batch, Problem

__all__ = ["Answered", "answer_of", "interval", "predict", "propagate", "variance_drop"]

F = NDArray[np.float64]
Asked = Callable[[Mapping[str, F]], ArrayLike]
Z90 = 1.6448536269514722


class Answered(NamedTuple):
    """An answer that hangs on the constants: its value, its standard deviation, its slope to each inner value."""

    value: float
    sd: float
    slope: F


class Predicted(NamedTuple):
    """What one kind of reading should show, its standard deviation from the constants, and its 90 % band."""

    value: F
    sd: F
    low: F
    high: F


def propagate(function: Callable[..., ArrayLike], values: ArrayLike, covariance: ArrayLike) -> tuple[F, F]:
    """Values of `function(x1, x2, ...)` and their covariance, to first order.

    u(y) = C u(x) C^T with C the slopes at the values, by central differences a hundredth of a standard deviation wide.
    Several answers: let the function return them along the first axis. Source: [gum]
    """
    x = np.asarray(values, dtype=np.float64)
    cov = np.atleast_2d(np.asarray(covariance, dtype=np.float64))
    h = np.where(np.diag(cov) > 0, 0.01 * np.sqrt(np.diag(cov)), STEP * np.maximum(np.abs(x), 1.0))
    columns = []
    for k in range(x.size):
        e = np.zeros(x.size)
        e[k] = h[k]
        up = np.asarray(function(*(x + e)), dtype=np.float64)
        down = np.asarray(function(*(x - e)), dtype=np.float64)
        columns.append(np.atleast_1d(up - down) / (2 * h[k]))
    slope = np.stack(columns, axis=-1)
    return np.atleast_1d(np.asarray(function(*x), dtype=np.float64)), slope @ cov @ slope.T


def interval(draws: ArrayLike, *, share: float = 0.9, shortest: bool = False) -> tuple[float, float]:
    """Interval that holds a share of the draws: equal tails, or the shortest there is. Source: [gum_monte_carlo]"""
    y = np.sort(np.asarray(draws, dtype=np.float64))
    if not shortest:
        tail = 50 * (1 - share)
        return float(np.percentile(y, tail)), float(np.percentile(y, 100 - tail))
    inside = int(np.floor(share * y.size))
    at = int(np.argmin(y[inside:] - y[: y.size - inside]))
    return float(y[at]), float(y[at + inside])


def predict(found: Fit, batch: Batch) -> Predicted:
    """What readings like those of `batch` should show (its y is not looked at), with the band of the line itself."""
    problem = _with(found, batch)
    value, j = _rows(problem, found.inner)
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", j, np.nan_to_num(found.inner_covariance), j), 0.0))
    return Predicted(value, sd, value - Z90 * sd, value + Z90 * sd)


def answer_of(found: Fit, asked: Asked) -> Answered:
    """An answer computed from the constants, with its spread. `asked` gets name -> array and works on whole arrays."""
    u, p = found.inner, found.problem
    h = p.steps(u, STEP)
    guesses = np.concatenate((u[None], u + np.diag(h), u - np.diag(h)))
    natural = p.natural(guesses)
    y = np.asarray(asked({name: natural[:, k] for k, name in enumerate(found.names)}), dtype=np.float64)
    y = np.broadcast_to(y, (guesses.shape[0],))
    slope = (y[1 : 1 + p.p] - y[1 + p.p :]) / (2 * h)
    variance = float(slope @ np.nan_to_num(found.inner_covariance) @ slope)
    return Answered(float(y[0]), float(np.sqrt(max(variance, 0.0))), slope)


def variance_drop(found: Fit, slope: F, batches: Sequence[Batch]) -> F:
    """Share of the variance of an answer that each set of further readings would take away (0 to 1).

    With information A and new rows a = (df/du)/sd: C_new = (A + a^T a)^-1. A gain that a batch names and the fit does
    not have yet comes in with its own prior spread (0.01) and does not average down.
    """
    have = np.nan_to_num(found.inner_covariance)
    now = float(slope @ have @ slope)
    if not now > 0:
        return np.zeros(len(batches))
    shares = np.zeros(len(batches))
    for k, batch in enumerate(batches):
        problem = _with(found, batch)
        _, j = _rows(problem, found.inner)
        _, sd, _ = problem.fitted(found.inner)
        rows = j / sd[:, None]
        side = rows @ have @ slope
        inner = np.eye(rows.shape[0]) + rows @ have @ rows.T
        shares[k] = float(side @ np.linalg.solve(inner, side)) / now
    return shares


def _with(found: Fit, batch: Batch) -> Problem:
    return Problem([batch], found.problem.unknowns, found.problem.gains)


def _rows(problem: Problem, inner: F) -> tuple[F, F]:
    """(what each row shows, its slope to each inner value) at x as given."""
    h = problem.steps(inner, STEP)
    guesses = np.concatenate((inner[None], inner + np.diag(h), inner - np.diag(h)))
    block = problem.blocks[0]
    value = problem.read(block, guesses, block.x)
    slope = (value[1 : 1 + problem.p] - value[1 + problem.p :]) / (2 * h[:, None])
    return value[0], slope.T
