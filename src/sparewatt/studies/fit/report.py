"""What a solution is worth: covariance from the curvature, constants that cannot be told apart, flags on the whole."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.fit.problem import Problem

__all__ = ["Spread", "flags_of", "spread_of", "together_words"]

F = NDArray[np.float64]

HARDLY = 1.5  # standard deviation of a direction, in sizes of the constants, beyond which it is not known
PART = 0.05  # share of a direction that makes a constant belong to it
TOO_GOOD = 0.2  # chi2 per degree that is better than meters can be
TOO_FEW = 6


class Spread(NamedTuple):
    """Covariance of the inner values (NaN for what is not known), and each unknown direction."""

    covariance: F
    blind: tuple[tuple[F, tuple[int, ...]], ...]  # (direction in inner units, members)
    leverage: F  # of each reading, 0 where it does not count


def spread_of(
    problem: Problem, u: F, counts: NDArray[np.bool_], scatter: float = 1.0, *, fine: bool = False
) -> Spread:
    """Curvature at the solution: J^T J of readings, priors and gains, with what it cannot see taken out.

    scatter: how many times the given spreads the readings really scatter; priors and gains keep theirs.
    """
    data = problem.data
    everyone = type(data)(data.y, data.x, data.centres, np.ones(problem.n))
    j = problem.jacobian(u, everyone, fine=fine)
    weight = np.concatenate((counts / scatter, np.ones(problem.held.size)))
    jw = j * weight[:, None]
    free = np.arange(problem.p) < problem.n_unknowns
    free[problem.held] = False
    covariance, blind = _invert(jw, problem.size_of(u), free)
    lever = np.einsum("ij,jk,ik->i", j[: problem.n], covariance, j[: problem.n]) / scatter**2
    for _, members in blind:
        for k in members:
            covariance[k, :] = covariance[:, k] = np.nan
    return Spread(covariance, blind, np.where(counts, lever, -lever))


def _invert(j: F, size: F, free: NDArray[np.bool_]) -> tuple[F, tuple[tuple[F, tuple[int, ...]], ...]]:
    """Covariance over the directions that the rows of j see, and the directions that they do not.

    A direction is not seen when a move of HARDLY times the size of a constant changes the readings by less than one
    standard deviation; of its constants only those with no prior (`free`) are unknown. Looked for with each constant
    measured by its own size, so that one that hardly shows does not blur the others.
    """
    p = j.shape[1]
    if p == 0:
        return np.empty((0, 0)), ()
    _, s, vt = np.linalg.svd(j * size, full_matrices=True)
    s = np.concatenate((s, np.zeros(p - s.size)))
    hidden = s * HARDLY < 1.0
    if not hidden.any():
        norm = np.linalg.norm(j, axis=0)
        _, s, vt = np.linalg.svd(j / norm, full_matrices=False)
        moves = vt / norm
        return (moves.T / s**2) @ moves, ()
    moves = vt * size
    blind = []
    for v in _untangled(vt[hidden]):
        share = np.abs(v) / np.max(np.abs(v))
        members = tuple(int(k) for k in np.flatnonzero((share > PART) & free))
        if members:
            blind.append((v * size, members))
    # A hidden direction that a prior holds is known as well as the prior says; one that nothing holds is left out.
    bound = ~hidden | (np.max(np.abs(vt) * ~free, axis=1, initial=0.0) > PART)
    covariance = (moves[bound].T / s[bound] ** 2) @ moves[bound]
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


def together_words(
    names: tuple[str, ...], values: F, direction: F, members: tuple[int, ...], vanished: NDArray[np.bool_]
) -> str:
    """Why constants of one unseen direction have no spread of their own. values, direction: in natural units.

    vanished: positive constants that the fit has driven far below where they started.
    """
    if len(members) == 1 and vanished[members[0]]:
        return f"{names[members[0]]} is too small to show in these readings"
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
