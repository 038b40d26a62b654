"""The three edges against cadence: what the legs, the machine and the board could each pass. The lowest binds."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings import labels as tags
from sparewatt.present.drawings.axes import Axis, bottom, frame, upright
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.labels import Box, Label
from sparewatt.present.numbers import amount, rpm
from sparewatt.present.palette import PRINT, Palette
from sparewatt.quantities.units import factor
from sparewatt.rig.edges import EdgeCurves

__all__ = ["caption", "drawable", "edges_picture"]

F = NDArray[np.float64]
NAMES = ("legs", "machine", "board")
DASHES = {"legs": "", "machine": "12 5", "board": "3 4"}


def drawable(curves: EdgeCurves) -> bool:
    """There is something to draw: at some cadence some edge lets a watt through."""
    low = _lowest(curves)
    return curves.cadence.size > 1 and bool(np.isfinite(low).any()) and float(low[np.isfinite(low)].max()) > 0


def _lowest(curves: EdgeCurves) -> F:
    table = [np.where(np.isfinite(v), v, np.inf) for v in (curves.legs, curves.machine, curves.board)]
    return np.asarray(np.min(table, axis=0))


def edges_picture(
    curves: EdgeCurves, *, wide: float = 560, key: str = "edges", cls: str = "dw-wide", standalone: bool = False,
    palette: Palette = PRINT,
) -> str:  # fmt: skip
    """Watts at the output that each part could pass, against cadence; what is asked for as a line across."""
    lines, load = {"legs": curves.legs, "machine": curves.machine, "board": curves.board}, curves.asked
    t = np.asarray(curves.cadence) / factor("rpm")
    lowest = _lowest(curves)
    shown = np.where(np.isfinite(lowest), lowest, np.nan)
    top = max(float(np.nanmax(shown)) * 1.6, load * 1.3 if math.isfinite(load) else 1.0, 1.0)
    high = wide * 0.6 if wide > 500 else wide * 0.9
    c = Canvas(
        wide,
        high + 54,
        key=key,
        title="Three edges against cadence",
        desc=caption(curves),
    )
    x, y = Axis(float(t[0]), float(t[-1]), 50, wide - 14), Axis(0.0, top, high, 34)
    area = [(x(a), y(min(b, top))) for a, b in zip(t, shown, strict=True) if np.isfinite(b)]
    c.area([(area[0][0], y(0)), *area, (area[-1][0], y(0))], "df-sand")
    ink: list[tuple[float, float]] = []
    wanted: list[Label] = []
    for name in NAMES:
        points = [(x(a), y(b)) for a, b in zip(t, lines[name], strict=True) if np.isfinite(b) and b <= top]
        if len(points) < 2:
            continue
        c.curve(points, "dl", 3, DASHES[name])
        ink += points[:: max(1, len(points) // 60)]
        words = "your legs" if name == "legs" else f"the {name}"
        wanted.append(
            Label(
                words=words,
                anchors=[points[int(s * (len(points) - 1))] for s in (0.15, 0.5, 0.85)],
                bold=True,
                size=16,
            )
        )
    c.curve(area, "dl-acc", 4)
    if math.isfinite(load) and load <= top:
        c.line(x.start, y(load), x.end, y(load), "dl-soft", 2, "9 5")
        ink += [(x.start + k * 7, y(load)) for k in range(int((x.end - x.start) / 7))]
        wanted.append(
            Label(
                words=f"asked: {amount(load, 'W').text}",
                anchors=[(x.start + 60, y(load)), (x.end - 60, y(load))],
                cls="dt-soft",
            )
        )
    bottom(c, x, high, "turns a minute at the crank", most=6 if wide > 500 else 4)
    upright(c, y, x.start, "watts that can arrive")
    box = frame(x, y)
    placed, _left = tags.place(wanted, Box(box.x0 + 4, box.y0, box.x1 - 2, box.y1 - 3), ink=ink)
    tags.draw(c, placed)
    return c.svg(standalone=standalone, palette=palette, cls=cls)


def caption(curves: EdgeCurves) -> str:
    """Which edge is the lowest, stretch by stretch, as one sentence."""
    cadence, load = curves.cadence, curves.asked
    table = np.vstack(
        [np.where(np.isfinite(v), v, np.inf) for v in (curves.legs, curves.machine, curves.board)]
    )
    which, runs = np.argmin(table, axis=0), []
    start = 0
    for k in range(1, which.size + 1):
        if k == which.size or which[k] != which[start]:
            runs.append((NAMES[int(which[start])], start, k - 1))
            start = k
    text = "; ".join(_run(name, cadence, first, last) for name, first, last in _long_runs(runs, which.size))
    best = float(np.nanmax(np.min(table, axis=0)))
    asked = f" You ask for {amount(load, 'W').text}." if math.isfinite(load) else ""
    return f"What limits you: {text}. The most that can arrive is {amount(best, 'W').text}.{asked}"


def _long_runs(runs: Sequence[tuple[str, int, int]], size: int) -> Sequence[tuple[str, int, int]]:
    kept = [run for run in runs if run[2] - run[1] >= 0.04 * size]
    return kept or runs


def _run(name: str, cadence: F, first: int, last: int) -> str:
    part = "your legs" if name == "legs" else f"the {name}"
    return f"{part} from {rpm(float(cadence[first]))} to {rpm(float(cadence[last]))} turns a minute"
