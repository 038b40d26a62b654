"""Lines against time: thinned to what the picture can show, with the ripple between samples and the band of the runs."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings.axes import Axis
from sparewatt.present.drawings.canvas import Canvas, num
from sparewatt.present.drawings.seconds_panels import Line

__all__ = ["above", "band", "calm", "pieces", "ripple", "strokes", "thin"]

F = NDArray[np.float64]
TOOTH = 4.0  # px from one stroke of the ripple to the next
SEEN = 4.0  # px: a ripple lower than this is inside the line
LOOK = 44.0  # px either side of which, in all, turns are counted
FAST = 7.0  # turns in so many px that can no longer be told apart
FLAT = 0.3  # px: a point this near to the line through its neighbours is left out


def calm(line: Line, across: float, up: float, cuts: Sequence[float]) -> Line:
    """The line with its mean where it swings up and down faster than the picture can show; the swing goes to its ripple.

    across: px a second; up: px a unit of the line; cuts: s at which something is done, over which nothing is averaged.
    Swings count from `SEEN` px, and are too fast when there are `FAST` turns in `LOOK` px (a push of the legs in an
    hour's ride, a board that chatters).
    """
    n, t = line.v.size, np.asarray(line.t, dtype=float)
    whole = n > 2 and bool(np.isfinite(line.v).all()) and float(t[-1] - t[0]) > 0
    if not whole or not (math.isfinite(across) and across > 0 and math.isfinite(up)):
        return line
    each = (float(t[-1] - t[0]) * across) / (n - 1)  # px a sample
    reach = max(int(LOOK / 2 / each), 2)
    if each > LOOK / FAST:
        return line
    places = np.searchsorted(t, [c for c in cuts if t[0] < c < t[-1]])
    bounds = [0, *(int(k) for k in np.unique(places)), n]
    v, least, most = line.v.copy(), line.least.copy(), line.most.copy()
    for part in (slice(a, b) for a, b in pairwise(bounds) if b - a > reach):
        own = line.v[part]
        close = _moving(_turns(own * up), reach) * (2 * reach + 1) >= FAST
        if not close.any():
            continue
        close = _moving(close.astype(float), reach // 2) > 0
        if own.size - 1 - (last := int(np.flatnonzero(close)[-1])) <= reach:
            close[last:] = True  # a swing that is cut off has no turn that could be counted
        mean = _moving(_moving(own, max(reach // 3, 1)), max(reach // 3, 1))
        near = max(int(TOOTH / 2 / each), 1)
        v[part] = np.where(close, mean, own)
        least[part] = np.where(
            close, np.fmin(line.least[part], _widest(own, near, np.minimum)), line.least[part]
        )
        most[part] = np.where(
            close, np.fmax(line.most[part], _widest(own, near, np.maximum)), line.most[part]
        )
    return dataclasses.replace(line, v=v, least=least, most=most)


def _turns(y: F) -> F:
    """1 where a line turns round after a swing that can be seen, else 0."""
    step = np.sign(np.diff(y))
    at = np.flatnonzero(step[1:] * step[:-1] < 0) + 1
    found = np.zeros(y.size)
    if at.size > 1:
        far = np.abs(np.diff(y[at])) > SEEN
        found[at[1:][far]] = 1.0
    return found


def _moving(values: F, reach: int) -> F:
    """The mean over so many samples either side (fewer at the ends)."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    at = np.arange(values.size)
    first, last = np.maximum(at - reach, 0), np.minimum(at + reach + 1, values.size)
    mean: F = (total[last] - total[first]) / (last - first)
    return mean


def _widest(values: F, reach: int, pick: np.ufunc) -> F:
    """The lowest or highest over so many samples either side."""
    found = values
    for k in range(1, reach + 1):
        found = pick(found, np.concatenate([values[k:], np.repeat(values[-1], k)]))
        found = pick(found, np.concatenate([np.repeat(values[0], k), values[:-k]]))
    return found


def thin(x: F, y: F) -> tuple[F, F]:
    """At most four points a px: the first, the lowest, the highest and the last; then none that lies on a straight line."""
    column = np.floor(x).astype(np.int64)
    starts = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
    if x.size > 2 * starts.size:
        ends = np.append(starts[1:], x.size) - 1
        order = np.lexsort((y, column))
        keep = np.unique(np.concatenate([starts, ends, order[starts], order[ends]]))
        x, y = x[keep], y[keep]
    for first in (1, 2, 1, 2):
        if x.size < 4:
            break
        middle = np.arange(first, x.size - 1, 2)
        run = x[middle + 1] - x[middle - 1]
        share = np.where(run > 0, (x[middle] - x[middle - 1]) / np.where(run > 0, run, 1.0), 0.5)
        straight = y[middle - 1] + share * (y[middle + 1] - y[middle - 1])
        near = (np.abs(y[middle] - straight) < FLAT) & (run > 0)
        keep = np.setdiff1d(np.arange(x.size), middle[near], assume_unique=True)
        x, y = x[keep], y[keep]
    return x, y


def pieces(line: Line, x: Axis, y: Axis, unit: float) -> list[tuple[F, F]]:
    """The unbroken pieces of a line in px, thinned; samples without a number and beyond the axis break it."""
    t = np.asarray(line.t) / unit
    good = np.isfinite(line.v) & np.isfinite(t) & (t <= x.high * (1 + 1e-9)) & (t >= x.low)
    found = []
    for run in _runs(good):
        px, py = _map(x, t[run]), _map(y, np.clip(line.v[run], y.low, y.high))
        if px.size > 1:
            found.append(thin(px, py))
    return found


def above(px: F, py: F, edge: float) -> list[list[tuple[float, float]]]:
    """The stretches of a piece that lie above an edge in the picture (px down the sheet), cut where they cross it."""
    over = py < edge
    found = []
    for run in _runs(over):
        points = list(zip(px[run].tolist(), py[run].tolist(), strict=True))
        for k, end in ((run.start - 1, 0), (run.stop, len(points))):
            if 0 <= k < px.size:
                inner = run.start if end == 0 else run.stop - 1
                share = (edge - py[k]) / (py[inner] - py[k])
                points.insert(len(points) if end else 0, (float(px[k] + share * (px[inner] - px[k])), edge))
        if len(points) > 1:
            found.append(points)
    return found


def _runs(good: NDArray[np.bool_]) -> list[slice]:
    """Stretches where all is known."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(np.int8)))
    return [slice(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _map(axis: Axis, values: F) -> F:
    return axis.start + (values - axis.low) / (axis.high - axis.low) * (axis.end - axis.start)


def strokes(line: Line, x: Axis, y: Axis, unit: float) -> list[tuple[float, float, float]]:
    """(x, top, low) of the strokes that show the ripple, where it is higher than the line is thick."""
    t = np.asarray(line.t) / unit
    good = np.isfinite(line.least) & np.isfinite(line.most) & (t <= x.high * (1 + 1e-9)) & (t >= x.low)
    if not good.any():
        return []
    px = _map(x, t[good])
    top, low = (_map(y, np.clip(v[good], y.low, y.high)) for v in (line.most, line.least))
    teeth = np.floor((px - x.start) / TOOTH).astype(np.int64)
    starts = np.flatnonzero(np.diff(teeth, prepend=teeth[0] - 1))
    highest, lowest = np.minimum.reduceat(top, starts), np.maximum.reduceat(low, starts)
    if (
        starts.size > 1 and px.size < 1.5 * starts.size
    ):  # fewer samples than teeth: each sample speaks for its gap
        at = x.start + (np.arange(int(teeth[0]), int(teeth[-1]) + 1) + 0.5) * TOOTH
        which = np.clip(np.searchsorted(px[starts], at), 0, starts.size - 1)
        highest, lowest = highest[which], lowest[which]
    else:
        at = x.start + (teeth[starts] + 0.5) * TOOTH
    swing = lowest - highest > SEEN
    return [
        (float(a), float(b), float(c))
        for a, b, c in zip(at[swing], highest[swing], lowest[swing], strict=True)
    ]


def ripple(c: Canvas, found: list[tuple[float, float, float]], end: float) -> None:
    """Draw those strokes."""
    if found:
        c.path("".join(f"M{num(a)} {num(b)}V{num(d)}" for a, b, d in found if a <= end), "dl-soft", 1.5)


def band(c: Canvas, line: Line, x: Axis, y: Axis, unit: float) -> bool:
    """The band in which nine runs of ten lie; whether there was one."""
    if line.band is None:
        return False
    t, low, high = line.band
    shown = t / unit
    good = np.isfinite(low) & np.isfinite(high) & (shown <= x.high * (1 + 1e-9)) & (shown >= x.low)
    drawn = False
    for run in _runs(good):
        px = _map(x, shown[run])
        if px.size < 2:
            continue
        edges = [_map(y, np.clip(v[run], y.low, y.high)) for v in (high, low)]
        over, under = (thin(px, edge) for edge in edges)
        back = zip(under[0][::-1], under[1][::-1], strict=True)
        c.area([*zip(*over, strict=True), *back], "df-band")
        drawn = True
    return drawn
