"""Finding the constants: a robust pass, then least squares on the readings that belong together, alone or in stacks.

The soft loss is quadratic near zero and linear in the tails, on readings only: a prior or the gain of a meter stays
quadratic. The stacked solver works on many copies of one problem at once (a bootstrap), all in arrays.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.fit.problem import Data, Problem

__all__ = ["SOFT", "moved_by", "over_own", "solve", "solve_stack", "split"]

F = NDArray[np.float64]
B = NDArray[np.bool_]

SOFT = 1.5  # standardised residual from which the soft loss turns from quadratic to linear
TAIL = 20.0  # where it turns from linear to logarithmic when the linear one leaves too many readings out
NO_SAY = 1e4  # from which a reading has no say in the robust pass
OUT, BACK = 4.0, 3.5  # standardised residual that sets a reading aside, and that takes it back
POLISH = 24
ALONE = 1e-5  # what is left of 1 - leverage where a reading alone fixes a constant
ENOUGH = 75  # evaluations that a search from near by may take
SOFT_STEPS, SOFT_TRIES = 40, 12
NEAR = 1e-3  # of a standard deviation: near enough where the spreads are what they are said to be
CLOSE = 0.05  # of a standard deviation: as near as the robust pass needs to come
MOST_OUT = 0.34  # no more than a third of the readings are set aside


def solve(problem: Problem, data: Data, start: F, *, near: bool = False) -> F:
    """Inner values at the lowest sum of squares, from `start`; within bounds. near: the start is close already."""
    if problem.p == 0:
        return start
    if near:
        u, settled = _polish(problem, data, start, NEAR)
        if settled:
            return u
    best = _search(problem, data, start, "trf", ENOUGH if near else 8 * ENOUGH)
    free = not np.isfinite(problem.low).any() and not np.isfinite(problem.high).any()
    if free and problem.n + problem.held.size >= problem.p:
        other = _search(problem, data, start, "lm", 8 * ENOUGH)
        best = other if other[1] < best[1] * (1 - 1e-9) else best
    return _polish(problem, data, best[0], 0.0)[0]


def _softly(problem: Problem, data: Data, start: F, tail: float) -> F:
    """Inner values near the lowest sum of the soft loss: weighted damped steps, the spread of each reading held per step.

    The weight of a reading is 1/sqrt(1 + (r/SOFT)^2), the slope of sqrt(1 + (r/SOFT)^2): quadratic near zero, linear far.
    From `tail` on the loss grows with the logarithm only, and from NO_SAY on not at all: a value in the wrong unit may
    lie a million spreads off, and must not outweigh all the rest.
    """
    u, damp = start, 1e-4
    n = problem.n
    for _ in range(SOFT_STEPS):
        _, sd, _ = problem.fitted(u, data)
        r = _finite(problem.residuals(u, data, sd))
        j = _finite(problem.jacobian(u, data, sd))
        weight = np.ones(r.size)
        size = np.abs(r[:n])
        weight[:n] = np.minimum(1, (tail / np.maximum(size, tail)) ** 2) / np.sqrt(
            1 + (np.minimum(size, tail) / SOFT) ** 2
        )
        weight[:n][size > NO_SAY] = 0.0
        normal, slope = (j * weight[:, None]).T @ j, j.T @ (weight * r)
        diag = np.maximum(np.diag(normal), 1e-12 * max(float(np.max(np.diag(normal))), 1e-300))
        cost = _soft_cost(r, n, tail)
        for _ in range(SOFT_TRIES):
            step: F = np.asarray(-np.linalg.solve(normal + np.diag(damp * diag), slope), dtype=np.float64)
            new = moved_by(problem, u, step)
            if _soft_cost(_finite(problem.residuals(new, data, sd)), n, tail) <= cost:
                damp = max(0.1 * damp, 1e-9)
                break
            damp *= 10
        else:
            return u
        moved = float(np.max(np.abs(new - u) * np.sqrt(diag), initial=0.0))
        u = new
        if moved < CLOSE:
            break
    return u


def moved_by(problem: Problem, u: F, step: F) -> F:
    """One step on, within bounds, no constant moving by more than twice its size."""
    far = float(np.max(np.abs(step) / problem.size_of(u), initial=0.0))
    return np.clip(u + step * min(1.0, 2.0 / max(far, 1e-300)), problem.low, problem.high)


def _soft_cost(r: F, n: int, tail: float) -> float:
    size = np.minimum(np.abs(r[:n]), NO_SAY)
    near = np.minimum(size, tail)
    root = np.sqrt(1 + (near / SOFT) ** 2)
    beyond = 2 * near**2 / root * np.log(size / np.maximum(near, 1e-300), where=size > near, out=np.zeros(n))
    return float(np.sum(2 * SOFT**2 * (root - 1) + beyond) + np.sum(r[n:] ** 2))


def _search(problem: Problem, data: Data, start: F, method: Any, most: int) -> tuple[F, float]:
    from scipy.optimize import least_squares

    def residuals(u: F) -> F:
        return _finite(problem.residuals(u, data))

    def slopes(u: F) -> F:
        return _finite(problem.jacobian(u, data))

    options: dict[str, Any] = {} if method == "lm" else {"bounds": (problem.low, problem.high)}
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        found = least_squares(
            residuals, start, jac=slopes, method=method, x_scale="jac", ftol=1e-10, xtol=1e-10, gtol=1e-10,
            max_nfev=most, **options,
        )  # fmt: skip
    return np.asarray(found.x, dtype=np.float64), float(found.cost)


def _finite(x: F) -> F:
    """A guess so far off that the model has no number there counts as very bad."""
    return np.nan_to_num(x, nan=1e30, posinf=1e30, neginf=-1e30)


def _polish(problem: Problem, data: Data, u: F, enough: float) -> tuple[F, bool]:
    """(plain steps to the last digits, each kept only when the sum does not rise; whether they came to a stand).

    enough: a step of so many standard deviations, or of 1e-9 of each constant's size, is a stand.
    """
    cost = float(np.sum(_finite(problem.residuals(u, data)) ** 2))
    for _ in range(POLISH):
        r = problem.residuals(u, data)
        j = problem.jacobian(u, data)
        if not (np.isfinite(r).all() and np.isfinite(j).all()):
            return u, False
        scale = np.linalg.norm(j, axis=0)
        scale[scale == 0] = 1.0
        left, s, right = np.linalg.svd(j / scale, full_matrices=False)
        s = np.where(s > 1e-9 * max(float(np.max(s, initial=0.0)), 1e-300), s, np.inf)
        step: F = -(right.T @ ((left.T @ r) / s)) / scale
        sd = np.sqrt(np.sum((right.T / s) ** 2, axis=1)) / scale
        new = moved_by(problem, u, step)
        trial = float(np.sum(_finite(problem.residuals(new, data)) ** 2))
        still = np.abs(new - u) <= np.maximum(enough * sd, 1e-9 * problem.size_of(u))
        if not trial <= cost * (1 + 1e-13):
            return u, bool(np.all(still)) or trial <= cost + 1e-9
        u, cost = new, trial
        if bool(np.all(still)):
            return u, True
    return u, False


def split(problem: Problem, start: F, *, robust: bool) -> tuple[F, B, bool]:
    """(inner values, readings that count, whether too many disagree to say which are odd)."""
    data = problem.data
    held = bool((problem.held < problem.n_unknowns).any())  # something is known before the readings
    if not robust or problem.n < (2 if held else 3):
        return solve(problem, data, start), problem.used.copy(), False
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        soft, counts = _together(problem, data, start, NO_SAY)
    if counts.all():
        return solve(problem, data, soft, near=True), counts, False
    room = max(int(MOST_OUT * problem.used.sum()), 1)
    if (problem.used & ~counts).sum() > room:
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            other, fewer = _together(problem, data, start, TAIL)
        if fewer.sum() > counts.sum():
            soft, counts = other, fewer
    u = soft
    for _ in range(4):
        if (problem.used & ~counts).sum() > room:
            return soft, problem.used.copy(), True
        u = solve(problem, _counting(data, counts), u, near=True)
        r, t = studentised(problem, u, counts)
        back = (np.abs(t) <= BACK) & (
            np.abs(r) <= 3 * OUT
        )  # near in itself, not only for want of knowing better
        new = problem.used & np.where(counts, np.abs(t) <= OUT, back)
        if (new == counts).all():
            break
        counts = new
    return u, counts, False


def _together(problem: Problem, data: Data, start: F, tail: float) -> tuple[F, B]:
    """(inner values of a robust pass, readings that lie near it)."""
    soft = _softly(problem, data, start, tail)
    value, sd, _ = problem.fitted(soft, data)
    return soft, problem.used & (np.abs((data.y - value) / sd) <= OUT)


def _counting(data: Data, counts: B) -> Data:
    return Data(data.y, data.x, data.centres, counts.astype(np.float64))


def studentised(problem: Problem, u: F, counts: B) -> tuple[F, F]:
    """(residual of each reading, the same over its own spread with the fit's: its square is the drop of the sum)."""
    value, sd, _ = problem.fitted(u)
    r = (problem.data.y - value) / sd
    everyone = _counting(problem.data, np.ones(problem.n, dtype=bool))
    j = problem.jacobian(u, everyone)
    rows, rest = j[: problem.n], j[problem.n :]
    inside = np.concatenate((rows[counts], rest))
    lever = np.einsum("ij,jk,ik->i", rows, np.linalg.pinv(inside.T @ inside, hermitian=True), rows)
    return r, over_own(r, np.where(counts, lever, -lever))


def over_own(residual: F, leverage: F) -> F:
    """Residuals over their own spread: r/sqrt(1 - leverage). 0 where a reading alone fixes a constant: nothing to judge."""
    room = 1 - leverage
    return np.where(room > ALONE, residual / np.sqrt(np.maximum(room, ALONE)), 0.0)


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
