"""Spreads a second way: fit again, many times at once, to readings made anew or drawn anew.

parametric: new values of y, of x, of the centre of each prior and gain, each drawn with its own spread around the fit;
rows: the readings themselves drawn with replacement, priors and gains drawn as before. Seeded. Source: [bootstrap]
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.fit.fitting import Fit
from sparewatt.studies.fit.problem import Data
from sparewatt.studies.fit.solve import solve_stack

__all__ = ["bootstrap", "bootstrap_covariance"]

F = NDArray[np.float64]
AT_ONCE = 64


def bootstrap(
    found: Fit, *, draws: int = 256, seed: int = 1, kind: Literal["parametric", "rows"] = "parametric"
) -> F:
    """Inner values (draws, p) of the fits to new readings. Use `found.problem.natural` for the constants themselves."""
    rng = np.random.default_rng(seed)
    out = []
    for begin in range(0, draws, AT_ONCE):
        number = min(AT_ONCE, draws - begin)
        data = _parametric(found, rng, number) if kind == "parametric" else _rows(found, rng, number)
        out.append(solve_stack(found.problem, data, found.inner))
    return np.concatenate(out)


def bootstrap_covariance(found: Fit, inner: F) -> F:
    """Covariance of the constants in natural units from bootstrap inner values."""
    return np.atleast_2d(np.cov(found.problem.natural(inner), rowvar=False))


def _centres(found: Fit, rng: np.random.Generator, number: int) -> F:
    p = found.problem
    noise = rng.standard_normal((number, p.held.size)) * p.prior_sd
    return np.asarray(found.inner[p.held] + noise)


def _parametric(found: Fit, rng: np.random.Generator, number: int) -> Data:
    p = found.problem
    wide = found.widened
    truth = np.empty(p.n)
    x: list[tuple[F, ...]] = []
    for block, hat in zip(p.blocks, found.x_best, strict=True):
        truth[block.rows] = p.read(block, found.inner, hat)
        x.append(
            tuple(
                h + wide * s * rng.standard_normal((number, h.size)) if (s > 0).any() else h[None]
                for h, s in zip(hat, block.x_sd, strict=True)
            )
        )
    y = truth + wide * p.sd * rng.standard_normal((number, p.n))
    weights = np.broadcast_to(found.counts.astype(np.float64), (number, p.n))
    return Data(y, tuple(x), _centres(found, rng, number), weights)


def _rows(found: Fit, rng: np.random.Generator, number: int) -> Data:
    p = found.problem
    at = np.flatnonzero(found.counts)
    picks = rng.integers(0, at.size, (number, at.size))
    weights = np.zeros((number, p.n))
    for k in range(number):
        weights[k, at] = np.bincount(picks[k], minlength=at.size)
    y = np.broadcast_to(p.data.y, (number, p.n))
    x = tuple(tuple(c[None] for c in block) for block in p.data.x)
    return Data(y, x, _centres(found, rng, number), weights)
