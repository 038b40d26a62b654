"""Puts labels beside the things they name, so that none covers another.

Every label has one or more anchors (points it may belong to). All places on a fine grid inside the frame are tried at
once. Places that touch another label or a blocked box are out; of the rest the cheapest is taken, where distance from
the anchor, drawn lines underneath, and a wish that is not met (right, left, above, below) have a price. A label that
lands away from its anchor gets a thin leader line.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings.canvas import SMALL, Canvas
from sparewatt.present.drawings.letters import width, wrap

__all__ = ["Box", "Label", "Placed", "draw", "place"]

F = NDArray[np.float64]
STEP = 5.0
NEAR = 16.0  # px from anchor to box that need no leader
CLOSE = 60.0  # px from an anchor that are looked at before the whole frame is
TRIED = 30  # places of an anchor that are tried before it is given up
GAP = 4.0  # px kept free round every label


@dataclass(frozen=True, slots=True)
class Box:
    """An upright box: left, top, right, bottom."""

    x0: float
    y0: float
    x1: float
    y1: float

    def touches(self, other: Box) -> bool:
        """They share some area."""
        return self.x0 < other.x1 and other.x0 < self.x1 and self.y0 < other.y1 and other.y0 < self.y1

    def grown(self, by: float) -> Box:
        """The box with a margin."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """Words for a point or line. The first in a list is placed first."""

    words: str
    anchors: Sequence[tuple[float, float]]
    size: float = SMALL
    bold: bool = False
    cls: str = "dt"
    look: str = ""
    wish: str = ""  # "right", "left", "above", "below"
    most: float = 210.0  # px: longer words are broken
    worth: float = 1e9  # a place that costs more is not taken


@dataclass(frozen=True, slots=True)
class Placed:
    """A label with its box, its lines, and the leader line from anchor to box where one is needed."""

    label: Label
    lines: tuple[str, ...]
    box: Box
    leader: tuple[float, float, float, float] | None = field(default=None)


def place(
    labels: Sequence[Label], frame: Box, *, ink: Sequence[tuple[float, float]] = (), blocked: Sequence[Box] = (),
    dear: Sequence[Box] = (),
) -> tuple[list[Placed], list[Label]]:  # fmt: skip
    """Places for the labels, and the labels for which there was none. ink: points on drawn lines; dear: boxes to avoid."""
    drawn = _Ink(frame, ink)
    taken = [box.grown(1) for box in blocked]
    placed: list[Placed] = []
    left: list[Label] = []
    for label in labels:
        best: tuple[float, Placed] | None = None
        for lines in _breaks(label):
            if best is not None and best[0] <= 6 * (len(lines) - 1):
                continue
            found = _best(label, lines, frame, drawn, taken, dear, placed)
            if found and (best is None or found[0] + 6 * (len(lines) - 1) < best[0]):
                best = (found[0] + 6 * (len(lines) - 1), found[1])
        if best is None or best[0] > label.worth:
            left.append(label)
            continue
        placed.append(best[1])
        taken.append(best[1].box.grown(GAP))
        if best[1].leader:
            drawn.add(_along(*best[1].leader))
    return placed, left


def draw(canvas: Canvas, placed: Sequence[Placed], *, halo: Sequence[Box] = ()) -> None:
    """Draw the labels; those over a `halo` box get paper behind them."""
    for one in placed:
        if one.leader:
            canvas.line(*one.leader, "dl-soft", 1.5)
    for one in placed:
        label, step = one.label, one.label.size * 1.2
        paper = any(one.box.touches(box) for box in halo)
        for k, words in enumerate(one.lines):
            y = one.box.y0 + label.size * 0.86 + k * step
            canvas.text(
                one.box.x0,
                y,
                words,
                size=label.size,
                bold=label.bold,
                cls=label.cls,
                look=label.look,
                halo=paper,
            )


def _breaks(label: Label) -> list[list[str]]:
    """The words on one line (if they are not too long), and on two or three."""
    heavy = label.bold or label.look == "measured"
    whole = width(label.words, label.size, bold=heavy)
    longest = max(width(word, label.size, bold=heavy) for word in label.words.split(" ")) + 1
    options = [[label.words]] if whole <= label.most else []
    for parts in (1.85, 2.6):
        if whole > 90:
            lines = wrap(label.words, max(whole / parts, longest), label.size, bold=heavy)
            if lines not in options and len(lines) <= 4:
                options.append(lines)
    return options or [wrap(label.words, label.most, label.size, bold=heavy)]


@dataclass(frozen=True, slots=True)
class _Grid:
    """All places of one label: left edges, upper edges, and what each place costs before distance (inf: taken)."""

    xs: F
    ys: F
    wide: float
    high: float
    price: F  # (ys, xs)


class _Ink:
    """How many points of drawn lines lie in a box, from sums over a raster: the same work however many points."""

    FINE = STEP / 2  # px of one raster cell

    def __init__(self, frame: Box, points: Sequence[tuple[float, float]]) -> None:
        self.left, self.top = frame.x0 - 2 * STEP, frame.y0 - 2 * STEP
        columns = int((frame.x1 + 2 * STEP - self.left) / self.FINE) + 1
        rows = int((frame.y1 + 2 * STEP - self.top) / self.FINE) + 1
        self.counts = np.zeros((rows, columns))
        self.sums = np.zeros((rows + 1, columns + 1))
        self.add(np.array(points, dtype=float).reshape(-1, 2))

    def add(self, points: F) -> None:
        """More points; those off the raster do not matter to any place."""
        rows, columns = self.counts.shape
        k = np.floor((points[:, 0] - self.left) / self.FINE).astype(int)
        g = np.floor((points[:, 1] - self.top) / self.FINE).astype(int)
        on = (k >= 0) & (k < columns) & (g >= 0) & (g < rows)
        if on.any():
            found = np.bincount(g[on] * columns + k[on], minlength=rows * columns)
            self.counts += found.reshape(rows, columns)
            self.sums[1:, 1:] = self.counts.cumsum(axis=0).cumsum(axis=1)

    def under(self, xs: F, ys: F, wide: float, high: float) -> F:
        """Points within 4 px of a box of this size, for every left edge and upper edge."""
        rows, columns = self.counts.shape
        k0, k1 = (
            np.clip(np.rint((xs + off - self.left) / self.FINE).astype(int), 0, columns)
            for off in (-4.0, wide + 4.0)
        )
        g0, g1 = (
            np.clip(np.rint((ys + off - self.top) / self.FINE).astype(int), 0, rows)[:, None]
            for off in (-4.0, high + 4.0)
        )
        counted: F = self.sums[g1, k1] - self.sums[g0, k1] - self.sums[g1, k0] + self.sums[g0, k0]
        return counted


def _best(
    label: Label,
    lines: list[str],
    frame: Box,
    ink: _Ink,
    taken: list[Box],
    dear: Sequence[Box],
    placed: list[Placed],
) -> tuple[float, Placed] | None:
    wide = max(width(words, label.size, bold=label.bold or label.look == "measured") for words in lines)
    high = label.size * (1.08 + 1.2 * (len(lines) - 1))
    if frame.x1 - frame.x0 < wide or frame.y1 - frame.y0 < high:
        return None
    xs = np.arange(frame.x0, frame.x1 - wide + 0.1, STEP)
    ys = np.arange(frame.y0, frame.y1 - high + 0.1, STEP)
    price = 15.0 * np.minimum(ink.under(xs, ys, wide, high), 12)
    for box in dear:
        price[_over(box, xs, ys, wide, high)] += 25.0
    for box in taken:
        price[_over(box, xs, ys, wide, high)] = np.inf
    grid = _Grid(xs, ys, wide, high, price)
    best: tuple[float, Placed] | None = None
    for anchor in label.anchors:
        found = _near(label, lines, grid, anchor, placed, CLOSE)
        if found is None or found[0] > CLOSE:  # nothing further off can be cheaper than its distance
            found = _near(label, lines, grid, anchor, placed, math.inf)
        if found is not None and (best is None or found[0] < best[0]):
            best = found
    return best


def _over(box: Box, xs: F, ys: F, wide: float, high: float) -> tuple[slice, slice]:
    """Rows and columns of the places that touch a box."""
    x0, y0 = float(xs[0]), float(ys[0])
    return (
        slice(max(math.floor((box.y0 - high - y0) / STEP) + 1, 0), max(math.ceil((box.y1 - y0) / STEP), 0)),
        slice(max(math.floor((box.x0 - wide - x0) / STEP) + 1, 0), max(math.ceil((box.x1 - x0) / STEP), 0)),
    )


def _near(
    label: Label, lines: list[str], grid: _Grid, anchor: tuple[float, float], placed: list[Placed], reach: float
) -> tuple[float, Placed] | None:  # fmt: skip
    """The cheapest place for one anchor, among those within reach of it."""
    (ax, ay), wide, high = anchor, grid.wide, grid.high
    dx = np.maximum(np.maximum(grid.xs - ax, ax - grid.xs - wide), 0)
    dy = np.maximum(np.maximum(grid.ys - ay, ay - grid.ys - high), 0)
    columns, rows = np.flatnonzero(dx <= reach), np.flatnonzero(dy <= reach)
    if not columns.size or not rows.size:
        return None
    window = (slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1))
    x, y = grid.xs[window[1]], grid.ys[window[0]]
    far = np.hypot(dx[window[1]][None, :], dy[window[0]][:, None])
    cost = grid.price[window] + far + np.where(far < 3, 12.0, 0.0) + np.where(far > NEAR, 10.0, 0.0)
    cost = (cost + _wish(label.wish, x, y, wide, high, ax, ay)).ravel()
    few = np.sort(np.argpartition(cost, min(TRIED, cost.size - 1))[:TRIED])
    for k in few[np.argsort(cost[few], kind="stable")]:
        if not math.isfinite(cost[k]):
            return None
        left, top = float(x[k % x.size]), float(y[k // x.size])
        box = Box(left, top, left + wide, top + high)
        leader = _leader(ax, ay, box) if far.flat[k] > NEAR else None
        if leader and any(_crosses(leader, other.box) for other in placed):
            continue
        return float(cost[k]), Placed(label, tuple(lines), box, leader)
    return None


def _wish(wish: str, x: F, y: F, wide: float, high: float, ax: float, ay: float) -> F:
    """14 where a wish is not met; a column for above and below, a row for right and left."""
    met = {
        "right": x[None, :] >= ax, "left": x[None, :] + wide <= ax,
        "above": y[:, None] + high <= ay, "below": y[:, None] >= ay,
    }.get(wish)  # fmt: skip
    return np.zeros((1, 1)) if met is None else np.where(met, 0.0, 14.0)


def _leader(ax: float, ay: float, box: Box) -> tuple[float, float, float, float]:
    """From just off the anchor to the nearest point of the box."""
    bx, by = min(max(ax, box.x0 - 3), box.x1 + 3), min(max(ay, box.y0 - 1), box.y1 + 1)
    far = math.hypot(bx - ax, by - ay)
    start = min(7.0, far / 3) / far
    return (ax + (bx - ax) * start, ay + (by - ay) * start, bx, by)


def _along(x1: float, y1: float, x2: float, y2: float) -> F:
    count = max(2, int(math.hypot(x2 - x1, y2 - y1) / 6))
    return np.column_stack([np.linspace(x1, x2, count), np.linspace(y1, y2, count)])


def _crosses(leader: tuple[float, float, float, float], box: Box) -> bool:
    """Some of the line lies inside the box: the part of it between the box's sides overlaps the part between its ends."""
    x1, y1, x2, y2 = leader
    first, last = 0.0, 1.0
    for start, way, low, high in ((x1, x2 - x1, box.x0, box.x1), (y1, y2 - y1, box.y0, box.y1)):
        if way == 0.0:
            if not low < start < high:
                return False
            continue
        one, other = sorted(((low - start) / way, (high - start) / way))
        first, last = max(first, one), min(last, other)
    return first < last
