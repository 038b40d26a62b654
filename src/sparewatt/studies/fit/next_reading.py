"""What follows from a fit: predictions with their band, answers with their spread, and what one more reading would bring.

All to first order from the covariance, or from draws where the answer bends. Source: [gum] [gum_monte_carlo]
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.studies.fit.fitting import Fit
from sparewatt.studies.fit.problem import STEP, Batch, Gain, Problem, Unknown

__all__ = [
    "Answered",
    "Predicted",
    "answer_of",
    "curve_of",
    "interval",
    "predict",
    "propagate",
    "variance_drop",
]

F = NDArray[np.float64]
Asked = Callable[[Mapping[str, F]], ArrayLike]
Z90 = 1.6448536269514722
NOT_KNOWN = 10.0  # sizes of a constant that nothing is known of


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


def curve_of(found: Fit, curve: Callable[[Mapping[str, F]], F]) -> Predicted:
    """A whole line computed from the constants, with its band. `curve` gets name -> (guesses, 1), gives (guesses, n)."""
    u, p = found.inner, found.problem
    h = p.steps(u, STEP)
    guesses = np.concatenate((u[None], u + np.diag(h), u - np.diag(h)))
    y = np.asarray(curve(p.params(guesses)), dtype=np.float64)
    y = np.broadcast_to(y, (guesses.shape[0], y.shape[-1]))
    j = ((y[1 : 1 + p.p] - y[1 + p.p :]) / (2 * h[:, None])).T
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", j, np.nan_to_num(found.inner_covariance), j), 0.0))
    return Predicted(y[0], sd, y[0] - Z90 * sd, y[0] + Z90 * sd)


class Foretold(NamedTuple):
    """Readings against a fit that does not have them: how far off, and the covariance of that, fit and meters both."""

    seen: F
    value: F
    covariance: F


def foretell(
    found: Fit, batches: Sequence[Batch], *, unknowns: Sequence[Unknown] = (), gains: Sequence[Gain] = ()
) -> Foretold:
    """What readings should show by a fit that was made without them."""
    problem, inner, have = _widened(found, batches, unknowns, gains)
    value = problem.plain(inner, problem.data)
    _, sd, _ = problem.fitted(inner)
    j = _scaled_rows(problem, inner) * sd[:, None]
    return Foretold(problem.data.y, value, np.diag(sd**2) + j @ have @ j.T)


def variance_drop(
    found: Fit,
    slope: F,
    offers: Sequence[Batch | Sequence[Batch]],
    *,
    unknowns: Sequence[Unknown] = (),
    gains: Sequence[Gain] = (),
) -> F:
    """Share of the variance of an answer that each offer of further readings would take away (0 to 1).

    With rows a = (df/du)/sd the variance falls by (a C c)^T (1 + a C a^T)^-1 (a C c), c the slope of the answer.
    unknowns, gains: what the offers touch beyond the fit; they come in with their own prior, or as good as unknown.
    """
    shares = np.zeros(len(offers))
    for k, offer in enumerate(offers):
        problem, inner, have = _widened(
            found, [offer] if isinstance(offer, Batch) else offer, unknowns, gains
        )
        c = np.zeros(problem.p)
        c[[problem.names.index(n) for n in found.names]] = slope
        now = float(c @ have @ c)
        if not now > 0:
            continue
        rows = _scaled_rows(problem, inner)
        side = rows @ have @ c
        shares[k] = float(side @ np.linalg.solve(np.eye(rows.shape[0]) + rows @ have @ rows.T, side)) / now
    return shares


def _widened(
    found: Fit, batches: Sequence[Batch], unknowns: Sequence[Unknown], gains: Sequence[Gain]
) -> tuple[Problem, F, F]:
    """(problem of the batches alone, inner values, covariance) over all that the fit and the batches know."""
    old = found.problem
    more = [u for u in unknowns if u.name not in old.names]
    extra = [g for g in gains if g.name not in old.names]
    problem = Problem(batches, (*old.unknowns, *more), (*old.gains, *extra))
    inner = problem.start.copy()
    place = [problem.names.index(n) for n in old.names]
    inner[place] = found.inner
    size = problem.size_of(inner)
    have = np.diag((NOT_KNOWN * size) ** 2)
    at = np.array(problem.held, dtype=np.int64)
    have[at, at] = problem.prior_sd**2
    have[np.ix_(place, place)] = np.nan_to_num(found.inner_covariance)
    blind = [k for k, n in zip(place, old.names, strict=True) if not np.isfinite(found.sd_of(n))]
    have[blind, blind] = (NOT_KNOWN * size[blind]) ** 2
    return problem, inner, have


def _scaled_rows(problem: Problem, inner: F) -> F:
    h = problem.steps(inner, STEP)
    guesses = np.concatenate((inner[None], inner + np.diag(h), inner - np.diag(h)))
    value = problem.plain(guesses, problem.data)
    slope = (value[1 : 1 + problem.p] - value[1 + problem.p :]) / (2 * h[:, None])
    _, sd, _ = problem.fitted(inner)
    return np.asarray((slope / sd).T)


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
