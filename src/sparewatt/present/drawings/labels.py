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
    dots = np.array(ink, dtype=float).reshape(-1, 2)
    taken = [box.grown(1) for box in blocked]
    placed: list[Placed] = []
    left: list[Label] = []
    for label in labels:
        best: tuple[float, Placed] | None = None
        for lines in _breaks(label):
            found = _best(label, lines, frame, dots, taken, dear, placed)
            if found and (best is None or found[0] + 6 * (len(lines) - 1) < best[0]):
                best = (found[0] + 6 * (len(lines) - 1), found[1])
        if best is None or best[0] > label.worth:
            left.append(label)
            continue
        placed.append(best[1])
        taken.append(best[1].box.grown(GAP))
        if best[1].leader:
            dots = np.vstack([dots, _along(*best[1].leader)])
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


def _best(
    label: Label,
    lines: list[str],
    frame: Box,
    dots: F,
    taken: list[Box],
    dear: Sequence[Box],
    placed: list[Placed],
) -> tuple[float, Placed] | None:
    wide = max(width(words, label.size, bold=label.bold or label.look == "measured") for words in lines)
    high = label.size * (1.08 + 1.2 * (len(lines) - 1))
    if frame.x1 - frame.x0 < wide or frame.y1 - frame.y0 < high:
        return None
    xs, ys = np.meshgrid(
        np.arange(frame.x0, frame.x1 - wide + 0.1, STEP), np.arange(frame.y0, frame.y1 - high + 0.1, STEP)
    )
    x, y = xs.ravel(), ys.ravel()
    free = np.ones(x.size, dtype=bool)
    for box in taken:
        free &= ~((x < box.x1) & (x + wide > box.x0) & (y < box.y1) & (y + high > box.y0))
    x, y = x[free], y[free]
    if x.size == 0:
        return None
    price = _prices(x, y, wide, high, dots, dear)
    best: tuple[float, Placed] | None = None
    for ax, ay in label.anchors:
        far = np.hypot(
            np.maximum(np.maximum(x - ax, ax - x - wide), 0), np.maximum(np.maximum(y - ay, ay - y - high), 0)
        )
        cost = (
            price
            + far
            + np.where(far < 3, 12.0, 0.0)
            + np.where(far > NEAR, 10.0, 0.0)
            + _wish(label.wish, x, y, wide, high, ax, ay)
        )
        for k in np.argsort(cost, kind="stable")[:30]:
            if best is not None and cost[k] >= best[0]:
                break
            box = Box(float(x[k]), float(y[k]), float(x[k] + wide), float(y[k] + high))
            leader = _leader(ax, ay, box) if far[k] > NEAR else None
            if leader and any(_crosses(leader, other.box) for other in placed):
                continue
            best = (float(cost[k]), Placed(label, tuple(lines), box, leader))
            break
    return best


def _prices(x: F, y: F, wide: float, high: float, dots: F, dear: Sequence[Box]) -> F:
    """What lies under each place: points of drawn lines, and boxes better left alone."""
    price = np.zeros(x.size)
    if dots.size:
        inside = (
            (dots[:, 0] > x[:, None] - 4) & (dots[:, 0] < x[:, None] + wide + 4)
            & (dots[:, 1] > y[:, None] - 4) & (dots[:, 1] < y[:, None] + high + 4)
        )  # fmt: skip
        price += 15.0 * np.minimum(inside.sum(axis=1), 12)
    for box in dear:
        price += 25.0 * ((x < box.x1) & (x + wide > box.x0) & (y < box.y1) & (y + high > box.y0))
    return price


def _wish(wish: str, x: F, y: F, wide: float, high: float, ax: float, ay: float) -> F:
    met = {
        "right": x >= ax, "left": x + wide <= ax, "above": y + high <= ay, "below": y >= ay,
    }.get(wish)  # fmt: skip
    return np.zeros(x.size) if met is None else np.where(met, 0.0, 14.0)


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
    points = _along(*leader)
    return bool(
        np.any(
            (points[:, 0] > box.x0)
            & (points[:, 0] < box.x1)
            & (points[:, 1] > box.y0)
            & (points[:, 1] < box.y1)
        )
    )
