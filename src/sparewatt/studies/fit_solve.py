"""Finding the constants: a robust pass, then least squares on the readings that belong together, alone or in stacks.

The soft loss is quadratic near zero and linear in the tails, on readings only: a prior or the gain of a meter stays
quadratic. The stacked solver works on many copies of one problem at once (a bootstrap), all in arrays.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.fit_problem import Data, Problem

__all__ = ["SOFT", "solve", "solve_stack", "split"]

F = NDArray[np.float64]
B = NDArray[np.bool_]

SOFT = 1.5  # standardised residual from which the soft loss turns from quadratic to linear
OUT, BACK = 4.0, 3.5  # standardised residual that sets a reading aside, and that takes it back
POLISH = 24
MOST_OUT = 0.34  # no more than a third of the readings are set aside


def _soft(n: int) -> Any:
    """Loss of the optimiser: soft on the first n residuals, plain on the rest."""

    def loss(z: F) -> F:
        rho = np.stack((z, np.ones_like(z), np.zeros_like(z)))
        root = np.sqrt(1 + z[:n] / SOFT**2)
        rho[0, :n] = 2 * SOFT**2 * (root - 1)
        rho[1, :n] = 1 / root
        rho[2, :n] = -1 / (2 * SOFT**2 * root**3)
        return rho

    return loss


def solve(problem: Problem, data: Data, start: F, *, near: bool = False) -> F:
    """Inner values at the lowest sum of squares, from `start`; within bounds. near: the start is close already."""
    if problem.p == 0:
        return start
    if near:
        u, settled = _polish(problem, data, start)
        if settled:
            return u
    best = _search(problem, data, start, "trf")
    free = not np.isfinite(problem.low).any() and not np.isfinite(problem.high).any()
    if free and problem.n + problem.held.size >= problem.p:
        other = _search(problem, data, start, "lm")
        best = other if other[1] < best[1] * (1 - 1e-9) else best
    return _polish(problem, data, best[0])[0]


def _softly(problem: Problem, data: Data, start: F) -> F:
    """Inner values at the lowest sum of the soft loss, the spread of each reading held fast for a round at a time."""
    u = start
    for _ in range(4):
        _, sd, _ = problem.fitted(u, data)
        new, _ = _search(problem, data, u, "trf", sd)
        if float(np.max(np.abs(new - u), initial=0.0)) < 1e-3:
            return new
        u = new
    return u


def _search(problem: Problem, data: Data, start: F, method: Any, sd: F | None = None) -> tuple[F, float]:
    """sd given: the soft loss, with the spread of each reading held at sd."""
    from scipy.optimize import least_squares

    def residuals(u: F) -> F:
        return _finite(problem.residuals(u, data, sd))

    def slopes(u: F) -> F:
        return _finite(problem.jacobian(u, data, sd))

    tight = 1e-10 if sd is None else 1e-5
    options: dict[str, Any] = {} if method == "lm" else {"bounds": (problem.low, problem.high)}
    options |= {} if sd is None else {"loss": _soft(problem.n)}
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        found = least_squares(
            residuals, start, jac=slopes, method=method, x_scale="jac", ftol=tight, xtol=tight, gtol=tight,
            max_nfev=600 if sd is None else 60, **options,
        )  # fmt: skip
    return np.asarray(found.x, dtype=np.float64), float(found.cost)


def _finite(x: F) -> F:
    """A guess so far off that the model has no number there counts as very bad."""
    return np.nan_to_num(x, nan=1e30, posinf=1e30, neginf=-1e30)


def _polish(problem: Problem, data: Data, u: F) -> tuple[F, bool]:
    """(plain steps to the last digits, each kept only when the sum does not rise; whether they came to a stand)."""
    cost = float(np.sum(_finite(problem.residuals(u, data)) ** 2))
    for _ in range(POLISH):
        r = problem.residuals(u, data)
        j = problem.jacobian(u, data)
        if not (np.isfinite(r).all() and np.isfinite(j).all()):
            return u, False
        scale = np.linalg.norm(j, axis=0)
        scale[scale == 0] = 1.0
        step = -np.linalg.lstsq(j / scale, r, rcond=1e-11)[0] / scale
        new = np.clip(u + step, problem.low, problem.high)
        trial = float(np.sum(_finite(problem.residuals(new, data)) ** 2))
        tiny = bool(np.all(np.abs(new - u) <= 1e-6 * problem.size_of(u)))
        if not trial <= cost * (1 + 1e-13):
            return u, tiny
        small = bool(np.all(np.abs(new - u) <= 1e-9 * problem.size_of(u)))
        u, cost = new, trial
        if small:
            return u, True
    return u, False


def split(problem: Problem, start: F, *, robust: bool) -> tuple[F, B, bool]:
    """(inner values, readings that count, whether too many disagree to say which are odd)."""
    data = problem.data
    held = bool((problem.held < problem.n_unknowns).any())  # something is known before the readings
    if not robust or problem.n < (2 if held else 3):
        return solve(problem, data, start), problem.used.copy(), False
    soft = _softly(problem, data, start)
    value, sd, _ = problem.fitted(soft, data)
    far = np.abs((data.y - value) / sd)
    counts = problem.used & (far <= OUT)
    if counts.all():
        return solve(problem, data, soft, near=True), counts, False
    room = max(int(MOST_OUT * problem.used.sum()), 1)
    u = soft
    for _ in range(4):
        if (problem.used & ~counts).sum() > room:
            return soft, problem.used.copy(), True
        u = solve(problem, _counting(data, counts), u, near=True)
        t = studentised(problem, u, counts)
        new = problem.used & np.where(counts, np.abs(t) <= OUT, np.abs(t) <= BACK)
        if (new == counts).all():
            break
        counts = new
    return u, counts, False


def _counting(data: Data, counts: B) -> Data:
    return Data(data.y, data.x, data.centres, counts.astype(np.float64))


def studentised(problem: Problem, u: F, counts: B) -> F:
    """Residual of each reading over its own spread with the fit's: squared it is the drop of the sum without it."""
    value, sd, _ = problem.fitted(u)
    r = (problem.data.y - value) / sd
    everyone = _counting(problem.data, np.ones(problem.n, dtype=bool))
    j = problem.jacobian(u, everyone)
    rows, rest = j[: problem.n], j[problem.n :]
    inside = np.concatenate((rows[counts], rest))
    lever = np.einsum("ij,jk,ik->i", rows, np.linalg.pinv(inside.T @ inside, hermitian=True), rows)
    room = np.where(counts, 1 - lever, 1 + lever)
    return np.where(room > 1e-9, r / np.sqrt(np.maximum(room, 1e-9)), 0.0)


def solve_stack(problem: Problem, data: Data, start: F, *, rounds: int = 12) -> F:
    """Inner values (S, p) for S copies of the problem that differ in their data, all from `start`."""
    copies = data.y.shape[0]
    u = np.tile(start, (copies, 1))
    damp = np.full(copies, 1e-3)
    r = problem.residuals(u, data)
    cost = np.sum(r * r, axis=-1)
    for _ in range(rounds):
        j = problem.jacobian(u, data)
        normal = np.swapaxes(j, -1, -2) @ j
        slope = np.einsum("sij,si->sj", j, r)
        diag = np.maximum(np.einsum("sjj->sj", normal), 1e-12)
        step = -np.linalg.solve(
            normal + (damp[:, None] * diag)[:, :, None] * np.eye(problem.p), slope[..., None]
        )[..., 0]
        new = np.clip(u + step, problem.low, problem.high)
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            r_new = _finite(problem.residuals(new, data))
        cost_new = np.sum(r_new * r_new, axis=-1)
        better = cost_new <= cost
        u = np.where(better[:, None], new, u)
        r = np.where(better[:, None], r_new, r)
        settled = bool((np.abs(cost - cost_new) < 1e-6 * (1 + cost))[better].all()) and bool(better.any())
        cost = np.where(better, cost_new, cost)
        damp = np.where(better, np.maximum(damp * 0.1, 1e-9), damp * 10)
        if settled:
            break
    return u
