"""Speed from the times at which a mark passed: short stretches of passes, each fitted on its own.

Within a stretch the count of passes is a parabola in time, which is exact for a steady drag. Its slope in the middle is the
rate. Stretches share no pass, so the spreads of neighbouring speeds are independent, as a later fit wants them.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Rates", "even_out", "local_rates", "straight_rate"]

F = NDArray[np.float64]
N = NDArray[np.int64]

LEAST = 3  # turns that a stretch must have for uneven marks to show
HUBER = 1.5  # spreads beyond which a pass counts for less
OUTLIER = 5.0  # and beyond which it does not count
ROUNDS = 12
TO_SPREAD = 1.4826  # median of absolute residuals to standard deviation


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Passes in a second at some times, with one standard deviation each.

    jitter: spread of one timing, s. stretch: for each pass the rate it went into, -1 where it did not fit.
    """

    time: F
    rate: F
    sd: F
    jitter: float
    stretch: N


def local_rates(time: F, count: F | N, *, size: int, least_jitter: float = 0.0) -> Rates:
    """Rates in stretches of `size` passes or a little more. least_jitter: what the timing cannot be better than, s.

    Which passes fit is judged in a wider stretch, half as much again on either side; stretches with too few left go.
    """
    edges = _edges(time.size, size)
    reach = size // 2
    wide = [(max(0, a - reach), min(time.size, b + reach)) for a, b in edges]
    weight = np.ones(time.size)
    jitter = max(least_jitter, 1e-9)
    for _ in range(ROUNDS):
        off, freed = np.empty(time.size), np.empty(time.size)
        for (a, b), (low, high) in zip(edges, wide, strict=True):
            _, resid = _fitted(time[low:high], count[low:high], weight[low:high])
            off[a:b] = resid[a - low : b - low]
            freed[a:b] = _freedom(high - low)
        jitter = max(least_jitter, _spread(off * freed), 1e-9)
        pull = np.abs(off) / jitter
        fresh = np.where(pull > OUTLIER, 1e-6, np.minimum(1.0, HUBER / np.maximum(pull, HUBER)))
        if np.allclose(fresh, weight, atol=1e-3):
            break
        weight = fresh
    good = [(a, b) for a, b in edges if np.sum(weight[a:b] > 0.01) > max(2, 0.6 * (b - a))]
    rows = [_slope(time[a:b], count[a:b], weight[a:b], jitter) for a, b in good]
    at, rate, sd = (np.array(column) for column in zip(*rows, strict=True)) if rows else (np.zeros(0),) * 3
    stretch = np.full(time.size, -1, dtype=np.int64)
    for k, (a, b) in enumerate(good):
        stretch[a:b] = np.where(weight[a:b] > 0.01, k, -1)
    return Rates(time=at, rate=rate, sd=sd, jitter=jitter, stretch=stretch)


def even_out(time: F, count: F | N, marks: int) -> F:
    """The count with each mark of a turn at its own angle: marks stuck on by eye are not evenly spread.

    Each mark's usual distance from a smooth curve is the angle it sits off by.
    """
    number = np.asarray(count, dtype=np.float64)
    which = np.asarray(count, dtype=np.int64) % marks
    size = 2 * LEAST * marks
    if marks < 2 or time.size < size:
        return number
    shift = np.zeros(marks)
    for _ in range(3):
        placed = number + shift[which]
        off = np.concatenate([_off_angle(time[a:b], placed[a:b]) for a, b in _edges(time.size, size)])
        step = np.array([np.median(off[which == k]) if np.any(which == k) else 0.0 for k in range(marks)])
        shift -= step - step.mean()
    return number + shift[which]


def _off_angle(time: F, count: F) -> F:
    """How far ahead of a smooth curve each count is."""
    usual = (time[-1] - time[0]) / (count[-1] - count[0])
    return np.asarray(_fitted(time, count, np.ones(time.size))[1] / usual)


def straight_rate(time: F, count: F | N, *, least_jitter: float = 0.0) -> Rates:
    """One rate for all passes: a straight line."""
    n = count - count.mean()
    gap = float(n @ time / (n @ n))
    off = time - time.mean() - gap * n
    jitter = max(least_jitter, float(np.sqrt(off @ off / max(time.size - 2, 1))), 1e-9)
    sd_gap = jitter / float(np.sqrt(n @ n))
    return Rates(
        time=np.array([time.mean()]), rate=np.array([1 / gap]), sd=np.array([sd_gap / gap**2]), jitter=jitter,
        stretch=np.zeros(time.size, dtype=np.int64),
        )  # fmt: skip


def _spread(off: F) -> float:
    """Standard deviation without the outliers."""
    middle = TO_SPREAD * float(np.median(np.abs(off)))
    near = off[np.abs(off) <= OUTLIER * middle]
    return max(middle, float(np.sqrt(np.mean(near**2)))) if near.size else middle


def _edges(n: int, size: int) -> list[tuple[int, int]]:
    """Stretches of equal length, `size` passes or a little more."""
    parts = max(1, n // size)
    cuts = np.linspace(0, n, parts + 1).round().astype(int).tolist()
    return list(itertools.pairwise(cuts))


def _terms(n: int) -> int:
    return 3 if n >= 5 else 2


def _freedom(n: int) -> float:
    """What residuals are short of because the curve bends towards its points."""
    return float(np.sqrt(n / (n - _terms(n)))) if n > _terms(n) else 1.0


def _fitted(time: F, count: F | N, weight: F) -> tuple[F, F]:
    """Coefficients of count against time about the middle, and residuals as times."""
    table = np.vander(time - time.mean(), _terms(time.size), increasing=True)
    root = np.sqrt(weight)
    coef: F = np.linalg.lstsq(table * root[:, None], (count - count[0]) * root, rcond=None)[0]
    slope = float(coef[1]) if coef[1] != 0 else 1.0
    return coef, (count - count[0] - table @ coef) / slope


def _slope(time: F, count: F | N, weight: F, jitter: float) -> tuple[float, float, float]:
    coef, _ = _fitted(time, count, weight)
    table = np.vander(time - time.mean(), coef.size, increasing=True)
    spread = np.linalg.inv(table.T @ (weight[:, None] * table))[1, 1]
    rate = float(coef[1])
    return float(time.mean()), rate, abs(rate) * jitter * float(np.sqrt(spread))
