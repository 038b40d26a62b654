"""The words beside the lines of a panel: what each line is, what each rating is, where it holds, and the highest moment."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings import labels as tags
from sparewatt.present.drawings.axes import Axis
from sparewatt.present.drawings.canvas import SMALL, Canvas
from sparewatt.present.drawings.labels import Box, Label
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.drawings.seconds_curve import strokes
from sparewatt.present.drawings.seconds_marks import spread
from sparewatt.present.drawings.seconds_panels import Line, Panel
from sparewatt.present.drawings.seconds_text import limit_words, peak, say_in
from sparewatt.present.numbers import rpm
from sparewatt.present.words_seconds_rows import moment
from sparewatt.studies.scenes.answers import SceneAnswer

__all__ = ["Side", "Tag", "draw_inside", "draw_side", "steady", "wanted"]

F = NDArray[np.float64]
STEP = 18.0  # px from one line of words to the next
OFF = 30.0  # px from the right edge of the panel to the words


@dataclass(frozen=True, slots=True)
class Side:
    """One panel as its labels see it."""

    answer: SceneAnswer
    panel: Panel
    x: Axis
    y: Axis
    unit: float
    inch: bool
    drawn: list[tuple[Line, list[tuple[F, F]]]]
    poles: list[float]
    upright: bool
    first: bool  # it is the upper panel


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """Words for something in a panel. at: its points in px; inside: it stands in the panel on every sheet."""

    words: str
    at: tuple[tuple[float, float], ...]
    bold: bool = False
    cls: str = "dt"
    inside: bool = False
    wish: str = ""
    rank: int = 0  # the lowest are placed first
    steady: bool = False  # it belongs to a ring at the right edge


def wanted(side: Side) -> list[Tag]:
    """Every label of a panel."""
    return sorted(
        [*_steady(side), *_peak(side), *_stall(side), *_limits(side), *_lines(side)], key=lambda tag: tag.rank
    )


def steady(answer: SceneAnswer, panel: Panel) -> list[tuple[bool, float]]:
    """(holds, rad/s) of the points of steady riding that lie in the panel."""
    both = ((True, answer.steady.w_hold), (False, answer.steady.w_tip))
    return [(holds, w) for holds, w in both if math.isfinite(w) and panel.low <= panel.shown(w) <= panel.high]


def _steady(side: Side) -> list[Tag]:
    if side.panel.key != "cadence":
        return []
    return [
        Tag(
            words=f"{'holds at' if holds else 'tips over below'} {rpm(w)}",
            at=((side.x.end - 10, side.y(side.panel.shown(w))),),
            bold=True,
            wish="above" if holds else "below",
            steady=True,
        )
        for holds, w in steady(side.answer, side.panel)
    ]


def _limits(side: Side) -> list[Tag]:
    found = []
    for k, (name, value) in enumerate(side.panel.limits):
        at = tuple((side.x(t), side.y(value)) for t in (side.x.high, side.x.high * 0.1, side.x.high * 0.4))
        words = limit_words(side.panel, name, value, side.inch)
        found.append(
            Tag(words=words, at=at, cls="dt-acc" if k == 0 else "dt-soft", wish="above", rank=1, bold=k == 0)
        )
    if side.panel.beyond and not side.panel.limits:
        name, value = side.panel.beyond[0]
        words = f"{limit_words(side.panel, name, value, side.inch)}, above this picture"
        found.append(Tag(words=words, at=((side.x.end, side.y.end),), cls="dt-soft", wish="below", rank=5))
    return found


def _lines(side: Side) -> list[Tag]:
    """A name at the end of every line, where there is more than one or the panel does not say it."""
    many = len(side.panel.lines) > 1
    found = []
    for line, runs in side.drawn:
        if not runs or not (many and line.words):
            continue
        px, py = np.concatenate([r[0] for r in runs]), np.concatenate([r[1] for r in runs])
        spots = [px.size - 1, *(int(s * (px.size - 1)) for s in (0.1, 0.3, 0.5, 0.7, 0.9))]
        if line.other and side.upright and not side.first:
            continue  # a narrow sheet says it once
        mine = sum(not other.other for other in side.panel.lines)
        words = (
            f"{side.panel.lines[0].words}, {line.words} (dashed)" if mine > 1 else f"{line.words} (dashed)"
        )
        words = words if line.other else line.words
        cls = "dt-soft" if line.rank == 1 and not line.other else "dt"
        at = tuple((float(px[k]), float(py[k])) for k in spots)
        found.append(
            Tag(
                words=words,
                at=at,
                cls=cls,
                bold=line.rank == 0 and not line.other,
                rank=3 if line.other else 2,
            )
        )
    return found


def _peak(side: Side) -> list[Tag]:
    """The highest moment of the main line, when it stands out from where the line begins and ends."""
    found = peak(side.panel)
    if found is None:
        return []
    most, at, over = found
    spot = (side.x(min(at / side.unit, side.x.high)), side.y(min(most, side.panel.high)))
    words = f"{say_in(side.panel, most, side.inch)} at {moment(at, side.answer.duration)}"
    return [
        Tag(words=words, at=(spot,), bold=True, cls="dt-acc" if over else "dt", inside=True, wish="right")
    ]


def _stall(side: Side) -> list[Tag]:
    """Where the crank comes to stand."""
    if side.panel.key != "cadence":
        return []
    first = next((h for h in side.answer.happenings if h.key == "stalls" and h.unit_of == 0), None)
    if first is None or not 0 <= first.at / side.unit <= side.x.high:
        return []
    spot = (side.x(first.at / side.unit), side.y(max(0.0, side.panel.low)))
    words = f"stands still at {moment(first.at, side.answer.duration)}"
    return [Tag(words=words, at=(spot,), bold=True, cls="dt-acc", inside=True, wish="above")]


# ---- drawing ---------------------------------------------------------------------------------------------------------


def draw_side(c: Canvas, side: Side, found: list[Tag], end: float) -> None:
    """Words right of the panel, level with what it names as far as they keep apart; the last are left to the text."""
    left = side.x.end + OFF
    kept = [(tag, wrap(tag.words, end - left, SMALL, bold=tag.bold, most=2)) for tag in found]
    low, high = side.y.end - 14, side.y.start + 12
    dropped: list[Tag] = []
    while sum(len(lines) for _, lines in kept) * STEP > high - low:
        dropped.append(kept.pop()[0])
    kept.sort(key=lambda k: k[0].at[0][1])
    sizes = [len(lines) * STEP for _, lines in kept]
    placed = spread([tag.at[0][1] for tag, _ in kept], sizes, low, high) or []
    for (tag, lines), middle, size in zip(kept, placed, sizes, strict=True):
        first = middle - size / 2 + 14
        y = tag.at[0][1]
        from_x = side.x.end + (12 if tag.steady else 3)
        c.line(from_x, y, left - 5, middle, "dl-acc" if tag.cls == "dt-acc" else "dl-soft", 1.5)
        c.lines(left, first, lines, step=STEP, bold=tag.bold, cls=tag.cls)
    c.desc += "".join(f" {tag.words}." for tag in dropped)


def draw_inside(c: Canvas, side: Side, found: list[Tag]) -> None:
    """Words inside the panel, off its lines as far as possible."""
    if not found:
        return
    ink: list[tuple[float, float]] = []
    for _, runs in side.drawn:
        for px, py in runs:
            ink += _dots(px, py)
    for line, _ in side.drawn:
        for x, top, low in strokes(line, side.x, side.y, side.unit):
            ink += [(x, top + 3), (x, (top + low) / 2), (x, low - 3)]
    ink += [(side.x.start + 7 * k, side.y(v)) for _, v in side.panel.limits
            for k in range(int((side.x.end - side.x.start) / 7))]  # fmt: skip
    ink += [(x, y) for x in side.poles for y in np.arange(side.y.end, side.y.start, 7.0).tolist()]
    end = c.wide - 4 if side.upright else side.x.end - 4
    frame = Box(side.x.start + 5, side.y.end - 4, end, side.y.start - 4)
    hatched = []
    if side.panel.limits:
        hatched = [Box(side.x.start, side.y.end, side.x.end, side.y(side.panel.limits[0][1]))]
    blocked = _draw_steady(c, side, [tag for tag in found if tag.steady], ink)
    asked = [
        Label(words=tag.words, anchors=tag.at, bold=tag.bold, cls=tag.cls, wish=tag.wish,
              most=min(210.0, side.x.end - side.x.start - 10)) for tag in found if not tag.steady
    ]  # fmt: skip
    placed, dropped = tags.place(asked, frame, ink=ink, blocked=blocked, dear=hatched)
    covered = [p.box for p in placed if any(_in(p.box, x, y) for x, y in ink)]
    tags.draw(c, placed, halo=[*hatched, *covered])
    c.desc += "".join(f" {label.words}." for label in dropped)


def _in(box: Box, x: float, y: float) -> bool:
    return box.x0 - 2 < x < box.x1 + 2 and box.y0 < y < box.y1


def _draw_steady(c: Canvas, side: Side, found: list[Tag], ink: list[tuple[float, float]]) -> list[Box]:
    """Words left of the rings at the right edge, on the side with less ink; the boxes they and the rings take."""
    boxes = [Box(side.x.end - 10, y - 10, side.x.end + 10, y + 10) for tag in found for _, y in tag.at]
    taken = list(boxes)
    for tag in found:
        x, y = tag.at[0]
        long = width(tag.words, SMALL, bold=True)
        ways = (-10.0, 5.0, 20.0) if tag.wish == "above" else (5.0, 20.0, -10.0)
        best: tuple[float, float, Box] | None = None
        for k, down in enumerate(ways):
            box = Box(x - 4 - long, y + down - 12, x - 4, y + down + 4)
            inside = side.y.end - 6 <= box.y0 and box.y1 <= side.y.start
            if not inside or any(box.touches(other) for other in taken):
                continue
            cost = sum(_in(box, px, py) for px, py in ink) + 2 * k
            if best is None or cost < best[0]:
                best = (cost, y + down, box)
        if best is None:
            c.desc += f" {tag.words}."
            continue
        c.text(x - 4, best[1], tag.words, bold=True, anchor="end", halo=best[0] >= 1)
        taken.append(best[2])
    return taken


def _dots(px: F, py: F) -> list[tuple[float, float]]:
    """Points along a line, one every 6 px or so."""
    if px.size < 2:
        return []
    long = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(px), np.diff(py)))])
    if not long[-1] > 0:
        return []
    at = np.linspace(0.0, long[-1], min(max(2, int(long[-1] / 6)), 1500))
    return list(zip(np.interp(at, long, px).tolist(), np.interp(at, long, py).tolist(), strict=True))
