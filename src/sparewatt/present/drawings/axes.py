"""A plain pair of axes: round ticks, words people say, hairlines only where they help."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.labels import Box

__all__ = ["Axis", "bottom", "ticks", "upright"]


@dataclass(frozen=True, slots=True)
class Axis:
    """Maps a number to px along one direction."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """px of a number."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)


def ticks(low: float, high: float, most: int = 7) -> list[float]:
    """Round numbers from low to high, at most so many."""
    if not (math.isfinite(low) and math.isfinite(high)) or high <= low:
        return []
    rough = (high - low) / max(most, 1)
    unit = 10.0 ** math.floor(math.log10(rough))
    step = next(unit * m for m in (1, 2, 5, 10) if unit * m >= rough * 0.999)
    first = math.ceil(low / step - 1e-9)
    return [k * step for k in range(first, math.floor(high / step + 1e-9) + 1)]


def say(value: float) -> str:
    """A tick's number without needless digits."""
    return f"{value:g}".replace("-", "\u2212")


def bottom(canvas: Canvas, axis: Axis, y: float, words: str, *, most: int = 7) -> float:
    """The axis along the lower edge with its words under the right end; returns the y below everything."""
    canvas.line(axis.start, y, axis.end, y, "dl", 2)
    for tick in ticks(axis.low, axis.high, most):
        x = axis(tick)
        canvas.line(x, y, x, y + 6, "dl", 2)
        canvas.text(x, y + 22, say(tick), anchor="middle")
    canvas.text(axis.end, y + 43, words, anchor="end", cls="dt-soft")
    return y + 52


def upright(canvas: Canvas, axis: Axis, x: float, words: str, *, most: int = 5) -> None:
    """The axis at the left with its words above the upper end."""
    canvas.line(x, axis.start, x, axis.end, "dl", 2)
    for tick in ticks(axis.low, axis.high, most):
        y = axis(tick)
        canvas.line(x - 6, y, x, y, "dl", 2)
        canvas.text(x - 10, y + 5, say(tick), anchor="end")
    canvas.text(2, axis.end - 14, words, cls="dt-soft")


def frame(x: Axis, y: Axis) -> Box:
    """The box the two axes span."""
    return Box(min(x.start, x.end), min(y.start, y.end), max(x.start, x.end), max(y.start, y.end))
