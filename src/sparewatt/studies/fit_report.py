"""What a solution is worth: covariance from the curvature, constants that cannot be told apart, flags on the whole."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.fit_problem import Problem

__all__ = ["Spread", "flags_of", "spread_of", "together_words"]

F = NDArray[np.float64]

SAME = 1e-7  # singular value, over the largest, below which a direction is not seen at all
HARDLY = 3.0  # standard deviation of a direction, in sizes of the constants, beyond which it is not known
PART = 0.05  # share of a direction that makes a constant belong to it
TOO_GOOD = 0.2  # chi2 per degree that is better than meters can be
TOO_FEW = 6


class Spread(NamedTuple):
    """Covariance of the inner values (NaN for what is not known), each unknown direction, and the plain information."""

    covariance: F
    blind: tuple[tuple[F, tuple[int, ...]], ...]  # (direction in inner units, members)
    information: F  # J^T J with priors
    leverage: F  # of each reading, 0 where it does not count


def spread_of(
    problem: Problem, u: F, counts: NDArray[np.bool_], scatter: float = 1.0, *, fine: bool = False
) -> Spread:
    """Curvature at the solution: J^T J of readings, priors and gains, with what it cannot see taken out.

    scatter: how many times the given spreads the readings really scatter, where only that is known.
    """
    data = problem.data
    everyone = type(data)(data.y, data.x, data.centres, np.ones(problem.n))
    j = problem.jacobian(u, everyone, fine=fine)
    weight = np.concatenate((counts.astype(np.float64), np.ones(problem.held.size)))
    jw = j * weight[:, None]
    covariance, blind = _invert(jw, problem.size_of(u) / scatter, problem.n_unknowns)
    lever = np.einsum("ij,jk,ik->i", j[: problem.n], covariance, j[: problem.n])
    for _, members in blind:
        for k in members:
            covariance[k, :] = covariance[:, k] = np.nan
    return Spread(covariance, blind, jw.T @ jw, np.where(counts, lever, -lever))


def _invert(j: F, size: F, n_unknowns: int) -> tuple[F, tuple[tuple[F, tuple[int, ...]], ...]]:
    """Covariance over the directions that the rows of j see, and the directions that they do not.

    Columns are scaled to one length first, so that only true likeness of columns makes a direction unseen.
    """
    p = j.shape[1]
    if p == 0:
        return np.empty((0, 0)), ()
    norm = np.linalg.norm(j, axis=0)
    norm = np.where(norm > 0, norm, 1.0)
    _, s, vt = np.linalg.svd(j / norm, full_matrices=True)
    s = np.concatenate((s, np.zeros(p - s.size)))
    moves = vt / norm  # each row: what the constants do along one direction
    reach = np.max(np.abs(moves) / size, axis=1)
    blind_at = (s < SAME * max(float(s[0]), 1e-300)) | (reach > HARDLY * s)
    seen = ~blind_at
    covariance = (moves[seen].T / s[seen] ** 2) @ moves[seen]
    blind = []
    for v in _untangled(moves[blind_at] / size):
        share = np.abs(v) / np.max(np.abs(v))
        members = tuple(int(k) for k in np.flatnonzero(share > PART) if k < n_unknowns)
        blind.append((v * size, members))
    return covariance, tuple(blind)


def _untangled(rows: F) -> F:
    """The unseen directions in the form that names fewest constants each (reduced echelon, largest pivots first)."""
    m = rows.copy()
    done: list[int] = []
    for r in range(m.shape[0]):
        free = np.abs(m[r:]).copy()
        free[:, done] = 0.0
        at = np.unravel_index(int(np.argmax(free)), free.shape)
        top, col = int(at[0]) + r, int(at[1])
        m[[r, top]] = m[[top, r]]
        m[r] /= m[r, col]
        for k in range(m.shape[0]):
            if k != r:
                m[k] -= m[k, col] * m[r]
        done.append(col)
    return m


def together_words(names: tuple[str, ...], values: F, direction: F, members: tuple[int, ...]) -> str:
    """Why constants of one unseen direction have no spread of their own. values, direction: in natural units."""
    if len(members) == 1:
        return f"no reading tells anything about {names[members[0]]} yet"
    listed = ", ".join(names[k] for k in members[:-1]) + " and " + names[members[-1]]
    if len(members) == 2:
        a, b = members
        one, other = direction[a], direction[b]
        share_one, share_other = one / values[a], other / values[b]
        for how, x, y in (
            ("sum", one, -other),
            ("difference", one, other),
            ("product", share_one, -share_other),
            ("ratio", share_one, share_other),
        ):
            if math.isfinite(x) and math.isfinite(y) and abs(x - y) <= 0.02 * max(abs(x), abs(y)):
                return f"{listed} appear only as a {how} in these readings"
    return f"{listed} appear only together in these readings"


def flags_of(chi2: float, degrees: float, readings: int, torn: bool) -> tuple[tuple[str, ...], float]:
    """Sentences on the fit as a whole, and the chance of a sum this large when the meters are as good as assumed."""
    from scipy.special import gammaincc

    flags: list[str] = []
    chance = float(gammaincc(degrees / 2, chi2 / 2)) if degrees > 0.5 else math.nan
    if torn:
        flags.append(
            "More than a third of the readings do not go together. Say which ones you trust, or read again."
        )
    if degrees > 0.5 and readings >= TOO_FEW and chi2 / degrees < TOO_GOOD:
        flags.append(
            "The readings agree better than these meters can. Rounded or copied numbers look like that."
        )
    if math.isfinite(chance) and chance < 0.01:
        flags.append("The readings scatter more than these meters should. The spreads are widened to match.")
    return tuple(flags), chance
