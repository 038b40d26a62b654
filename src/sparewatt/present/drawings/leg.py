"""The leg picture: what these legs can push against what the load asks, at every cadence.

The rider line with its 90 % band, the load line of the chosen gear, the holding point (solid ring), the tipping
point (hollow ring), the spare between the lines, and where volts break something (hatch). A load of constant power has
the same line at the crank in every gear, so the other gears are lanes under the axis: only what a gear changes.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings import labels as tags
from sparewatt.present.drawings.axes import Axis, bottom, frame, upright
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.labels import Box
from sparewatt.present.drawings.leg_labels import View, wanted
from sparewatt.present.drawings.leg_text import (
    caption,
    crossings,
    load_words,
    long_text,
    main_crossings,
    span,
    turns,
)
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.palette import PRINT, Palette
from sparewatt.quantities.units import factor
from sparewatt.studies.answers import GearRow, LegPicture, MatchAnswer

__all__ = ["caption", "leg_picture"]

F = NDArray[np.float64]
Point = tuple[float, float]
LANE = 27.0  # three repeats of the dots, so that every lane looks the same
MOST_LANES = 9


def leg_picture(
    answer: MatchAnswer, *, wide: float = 640, lanes: bool = True, inch: bool = False, key: str = "leg",
    cls: str = "dw-wide", standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The leg picture of one answer; draw it 344 wide for a phone."""
    return _Leg(answer, wide, lanes, inch, key).draw().svg(standalone=standalone, palette=palette, cls=cls)


class _Leg:
    """One leg picture being drawn."""

    def __init__(self, answer: MatchAnswer, wide: float, lanes: bool, inch: bool, key: str) -> None:
        self.answer = answer
        self.picture: LegPicture = answer.picture
        self.unit = "lbf*ft" if inch else "N*m"
        self.rows = _shown_rows(answer) if lanes and len(answer.gears) > 1 else ()
        self.high = 0.62 * wide if wide > 500 else 0.98 * wide
        self.turns = self.picture.cadence / factor("rpm")
        self.empty = self.turns.size == 0
        if self.empty:
            self.canvas = Canvas(wide, 60, key=key, title=_title(answer), desc=long_text(answer, inch))
            return
        self.rider, self.load = self._push(self.picture.rider), self._push(self.picture.load)
        top = float(np.nanmax(self._push(self.picture.rider_high))) * 1.06 or 1.0
        # names of gears set the left margin
        margin = max(46.0, 18 + max([0.0, *(width(row.gear, 15, bold=True) for row in self.rows)]))
        self.x = Axis(10 * math.floor(float(self.turns[0]) / 10), float(self.turns[-1]), margin, wide - 12)
        self.y = Axis(0.0, top, self.high, 34)
        self.frame = frame(self.x, self.y)
        lanes_high = 38 + LANE * len(self.rows) if self.rows else 0
        self.canvas = Canvas(
            wide, self.high + 52 + lanes_high, key=key, title=_title(answer), desc=long_text(answer, inch)
        )
        self.bracket: tuple[float, float, float] | None = None
        self.edge: tuple[Point, Point] | None = None
        self.ink: list[Point] = []
        self.blocked: list[Box] = []
        self.hatched: list[Box] = []

    def _push(self, torque: F) -> F:
        return torque / factor(self.unit)

    def draw(self) -> Canvas:
        c = self.canvas
        if self.empty:
            for k, words in enumerate(
                wrap(f"There are no lines to draw: {self.answer.stop.value}.", c.wide - 8, 17)
            ):
                c.text(4, 22 + 22 * k, words, size=17)
            return c
        self._zones()
        band_top = np.clip(self._push(self.picture.rider_high), 0.0, None)
        band_low = np.clip(self._push(self.picture.rider_low), 0.0, None)
        outline = [*self._points(band_top), *reversed(self._points(band_low))]
        c.area(outline, "df-band")
        self._edge_line()
        c.curve(self._points(self.rider), "dl", 2.5)
        self._note(self._points(self.rider))
        for run in self._runs(self.load):
            c.curve(run, "dl-acc", 4)
            self._note(run)
        self._spare_bracket()
        below = bottom(c, self.x, self.high, "turns a minute at the crank", most=7 if c.wide > 500 else 5)
        upright(c, self.y, self.x.start, f"push at the crank, {self.unit.replace('*', '·')}")
        self._comfortable()
        rings = self._rings()
        self._lanes(below)
        self._labels()
        for x, y, solid, radius in rings:
            _ring(c, x, y, solid, radius)
        return c

    # lines --------------------------------------------------------------------------------------------------------
    def _points(self, values: F) -> list[Point]:
        return [(self.x(t), self.y(v)) for t, v in zip(self.turns, values, strict=True) if np.isfinite(v)]

    def _runs(self, values: F) -> list[list[Point]]:
        """Unbroken pieces of a line, cut at the top of the picture."""
        runs: list[list[Point]] = []
        last: tuple[float, float] | None = None
        for t, v in zip(self.turns, values, strict=True):
            if not np.isfinite(v):
                last = None
                continue
            inside = v <= self.y.high
            if last is None or (not inside and last[1] > self.y.high):
                if inside:
                    runs.append([(self.x(t), self.y(v))])
            else:
                cross = (
                    last[0] + (t - last[0]) * (self.y.high - last[1]) / (v - last[1]) if v != last[1] else t
                )
                if last[1] > self.y.high:
                    runs.append([(self.x(cross), self.y(self.y.high))])
                if inside:
                    runs[-1].append((self.x(t), self.y(v)))
                else:
                    runs[-1].append((self.x(cross), self.y(self.y.high)))
            last = (float(t), float(v))
        return [run for run in runs if len(run) > 1]

    def _note(self, points: list[Point]) -> None:
        """Remember a drawn line, a dot every few px, so that labels keep off it."""
        for (x1, y1), (x2, y2) in pairwise(points):
            steps = max(1, int(math.hypot(x2 - x1, y2 - y1) / 7))
            self.ink += [(x1 + (x2 - x1) * k / steps, y1 + (y2 - y1) * k / steps) for k in range(steps)]

    def _zones(self) -> None:
        """Hatch where something may break, a broken line where volts pass through, dots where nothing flows yet."""
        c, p = self.canvas, self.picture
        if turns(p.breaks) < self.x.high:
            x = self.x(max(turns(p.breaks), self.x.low))
            c.rect(x, self.y.end, self.x.end - x, self.high - self.y.end, c.pattern("hatch"))
            c.line(x, self.y.end, x, self.high, "dl-acc", 2)
            self.hatched.append(Box(x, self.y.end, self.x.end, self.high))
            self._note([(x, self.y.end), (x, self.high)])
        if self.x.low < turns(p.passes) < self.x.high:
            x = self.x(turns(p.passes))
            c.line(x, self.y.end, x, self.high, "dl-soft", 2, "9 5")
            self._note([(x, self.y.end), (x, self.high)])
        if self.x.low < turns(p.wakes):
            x = min(self.x(turns(p.wakes)), self.x.end)
            c.rect(self.x.start, self.high - 26, x - self.x.start, 26, c.pattern("dots"))
            c.line(x, self.high - 34, x, self.high, "dl-soft", 2)
            self.blocked.append(Box(self.x.start, self.high - 26, x, self.high))

    def _edge_line(self) -> None:
        """The load these legs can just hold: the thin line that touches the rider line at its best cadence."""
        power = self.turns * self.rider
        k = int(np.nanargmax(power))
        if not np.isfinite(power[k]) or power[k] <= 0:
            return
        near = (self.turns > self.turns[k] * 0.72) & (self.turns < self.turns[k] * 1.32)
        points = [(self.x(t), self.y(power[k] / t)) for t in self.turns[near]]
        self.canvas.curve(points, "dl-soft", 1.5, "4 4")
        self.edge = (points[0], points[-1])

    def _widest(self) -> int | None:
        """Where between tipping and holding point the lines are furthest apart in watts (or, without a point, closest)."""
        gap = (self.rider - self.load) * self.turns
        hold, tip = main_crossings(self.answer)
        if hold is not None:
            between = self.turns < turns(hold.w_crank)
            between &= self.turns > (turns(tip.w_crank) if tip else turns(hold.w_crank) * 0.5)
            gap = np.where(between, gap, np.nan)
        return int(np.nanargmax(gap)) if np.isfinite(gap).any() else None

    def _spare_bracket(self) -> None:
        """The spare, or what is missing, as a bracket between the two lines."""
        k = self._widest()
        spare = self.answer.spare
        if k is None or not math.isfinite(spare.mid):
            return
        x = self.x(float(self.turns[k]))
        top, low = self.y(float(self.rider[k])), self.y(float(self.load[k]))
        if min(top, low) < self.y.end:
            return
        cls = "dl" if spare.mid >= 0 else "dl-acc"
        self.canvas.line(x, top, x, low, cls, 2)
        for y in (top, low):
            self.canvas.line(x - 6, y, x + 6, y, cls, 2.5)
        self.bracket = (x, top, low)

    def _comfortable(self) -> None:
        t = turns(self.picture.comfortable)
        if self.x.low < t < self.x.high:
            x = self.x(t)
            self.canvas.area([(x, self.high - 1), (x - 7, self.high - 14), (x + 7, self.high - 14)], "df-ink")
            self.blocked.append(Box(x - 8, self.high - 15, x + 8, self.high))

    def _rings(self) -> list[tuple[float, float, bool, float]]:
        """Place, kind and size of every ring; those the answer speaks of are larger."""
        rings = []
        for cross, main in crossings(self.answer):
            x, y = self.x(turns(cross.w_crank)), self.y(cross.torque_crank / factor(self.unit))
            if math.isfinite(x) and math.isfinite(y) and self.y.end - 5 <= y <= self.high + 5:
                radius = 9.0 if main else 6.0
                rings.append((x, y, cross.kind == "holds", radius))
                self.blocked.append(Box(x - radius - 2, y - radius - 2, x + radius + 2, y + radius + 2))
        return rings

    def _view(self) -> View:
        """What the labels need to know of the drawing."""
        return View(
            x=self.x, y=self.y, high=self.high, unit=self.unit, turns=self.turns, rider=self.rider, load=self.load,
            bracket=self.bracket, edge=self.edge,
        )  # fmt: skip

    # words --------------------------------------------------------------------------------------------------------
    def _labels(self) -> None:
        placed, left = tags.place(
            wanted(self.answer, self._view()), Box(self.x.start + 4, self.y.end + 1, self.x.end - 2, self.high - 3),
            ink=self.ink, blocked=self.blocked, dear=self.hatched,
        )  # fmt: skip
        tags.draw(self.canvas, placed, halo=self.hatched)
        self.canvas.desc += "".join(f" {label.words}." for label in left)

    # lanes --------------------------------------------------------------------------------------------------------
    def _lanes(self, y: float) -> None:
        """One lane a gear on the same cadence axis: asleep, holds, tips over, passes through, may break."""
        if not self.rows:
            return
        c = self.canvas
        c.text(2, y + 14, "what each gear changes", cls="dt-soft")
        for k, row in enumerate(self.rows):
            middle = 9 * round((y + 42) / 9) + k * LANE
            chosen = row.gear == self.answer.gear
            c.open(_lane_words(row), data=row.gear)
            c.text(self.x.start - 10, middle + 5, row.gear, bold=chosen, anchor="end")
            draw_lane(c, self.x, middle, row, chosen)
            c.close()


def draw_lane(c: Canvas, x: Axis, y: float, row: GearRow, chosen: bool) -> None:
    """One gear's lane: dots asleep, crosses passing through, hatch breaking, bar and rings where it holds and tips."""
    half = 9.0
    c.line(x.start, y, x.end, y, "dl" if chosen else "dl-rule", 2)
    asleep = min(max(turns(row.wakes), x.low), x.high) if math.isfinite(row.wakes) else x.low
    passes = min(max(turns(row.passes), x.low), x.high) if math.isfinite(row.passes) else x.high
    breaks = min(max(turns(row.breaks), x.low), x.high) if math.isfinite(row.breaks) else x.high
    for first, last, name in (
        (x.low, asleep, "dots"),
        (passes, breaks, "crosses"),
        (breaks, x.high, "hatch"),
    ):
        if last > first:
            c.rect(x(first), y - half, x(last) - x(first), 2 * half, c.pattern(name))
            edge = last if name == "dots" else first
            c.line(x(edge), y - half, x(edge), y + half, "dl-acc" if name == "hatch" else "dl-soft", 2)
    low, high = (
        (min(max(turns(w), x.low), x.high) for w in (row.hold.low, row.hold.high))
        if math.isfinite(row.hold.mid)
        else (0.0, 0.0)
    )
    if math.isfinite(row.hold.mid):
        if high > low:
            c.rect(x(low), y - 6, x(high) - x(low), 12, "df-sand")
            c.path(f"M{x(low):.1f} {y - 6:.1f}V{y + 6:.1f}M{x(high):.1f} {y - 6:.1f}V{y + 6:.1f}", "dl", 2)
        if x.low <= turns(row.tip.mid) <= x.high:
            _ring(c, x(turns(row.tip.mid)), y, False, 6)
        if x.low <= turns(row.hold.mid) <= x.high:
            _ring(c, x(turns(row.hold.mid)), y, True, 6)


def _ring(c: Canvas, x: float, y: float, solid: bool, radius: float) -> None:
    """Solid: the rig holds. Hollow: it tips over."""
    c.ring(x, y, radius, "ds-ring", 3)
    if solid:
        c.ring(x, y, radius * 0.5, "df-ink", 0)


def _shown_rows(answer: MatchAnswer) -> tuple[GearRow, ...]:
    """At most so many gears, those round the chosen one."""
    rows = answer.gears
    if len(rows) <= MOST_LANES:
        return rows
    at = next((k for k, row in enumerate(rows) if row.gear == answer.gear), 0)
    first = min(max(at - MOST_LANES // 2, 0), len(rows) - MOST_LANES)
    return rows[first : first + MOST_LANES]


def _lane_words(row: GearRow) -> str:
    holds = f"holds at {span(row.hold, row.hold.mid)}" if math.isfinite(row.hold.mid) else row.stop.value
    return f"{row.gear}: {holds}"


def _title(answer: MatchAnswer) -> str:
    return f"Leg picture: {answer.ask.rider}, {load_words(answer)}"
