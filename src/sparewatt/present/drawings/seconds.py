"""A scene second by second: stacked panels over one clock, with what you do as flags and what the rig does as rings.

Cadence stands first, with the holding point (solid ring) and the tipping point (hollow ring) of steady riding at its right
edge; then volts with each rating, watts, and what else moves in this scene. A second design is drawn dashed. The play-head
is a group of its own, so that a page can move it; `data-t0`, `data-t1`, `data-x0` and `data-x1` of the root say where a
second lies.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings.axes import Axis, ticks
from sparewatt.present.drawings.canvas import Canvas, num
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.drawings.seconds_curve import above, band, calm, pieces, ripple, strokes
from sparewatt.present.drawings.seconds_labels import Side, draw_inside, draw_side, steady, wanted
from sparewatt.present.drawings.seconds_lane import HIGH as LANE
from sparewatt.present.drawings.seconds_lane import draw_lane, lane_words, spells
from sparewatt.present.drawings.seconds_marks import ROW, draw_flags, draw_rings, flags, rings
from sparewatt.present.drawings.seconds_panels import Line, Panel, clock, panels
from sparewatt.present.drawings.seconds_text import long_text, peak, title
from sparewatt.present.palette import PRINT, Palette
from sparewatt.present.words_seconds import picture_sentence
from sparewatt.present.words_seconds_rows import rows
from sparewatt.studies.scenes.answers import SceneAnswer

__all__ = ["caption", "seconds"]

F = NDArray[np.float64]
caption = picture_sentence
WIDE, NARROW = 1080.0, 344.0
WIDER = 40.0  # px on either side of a file: the widest common sans is a fifth wider than our letters
SIDE = 214.0  # px right of the panels, for words
HEAD = 28.0  # px of words over a panel
GAP = 16.0
TALL = {"cadence": 150.0, "volts": 150.0}
LOW = 112.0
STRIP = 42.0  # px from the last panel to the line of the clock


def seconds(
    answer: SceneAnswer, *, beside: SceneAnswer | None = None, upright: bool = False, inch: bool = False,
    head: float | None = None, beside_label: str = "", wide: float | None = None, key: str = "", cls: str | None = None,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The picture of a scene. head: time of the play-head, which is hidden without one; upright: for a phone."""
    label = beside_label or (beside.name if beside is not None and beside.name != answer.name else "changed")
    drawing = _Scene(
        answer,
        beside,
        upright,
        inch,
        label,
        wide or (NARROW if upright else WIDE),
        key or ("seconds-n" if upright else "seconds"),
    )
    canvas = drawing.draw(head)
    svg = canvas.svg(
        standalone=standalone,
        palette=palette,
        cls=cls if cls is not None else ("dw-narrow" if upright else "dw-wide"),
        margin=WIDER,
    )
    return svg.replace("<svg ", f"<svg {drawing.places()} ", 1)


class _Scene:
    """One picture being drawn."""

    def __init__(
        self,
        answer: SceneAnswer,
        beside: SceneAnswer | None,
        upright: bool,
        inch: bool,
        label: str,
        wide: float,
        key: str,
    ) -> None:
        self.answer, self.upright, self.inch = answer, upright, inch
        self.panels = panels(answer, beside, upright=upright, inch=inch, label=label)
        self.unit, self.unit_name = clock(answer.duration)
        last = answer.duration if math.isfinite(answer.duration) and answer.duration > 0 else 1.0
        margin = max([34.0, *(self._room(panel) for panel in self.panels)])
        self.x = Axis(0.0, last / self.unit, margin, wide - (12 if upright else SIDE))
        self.panels = [self._calmed(panel) for panel in self.panels]
        self.rows = rows(answer)
        told = [(row, self.x(row.at / self.unit)) for row in self.rows if row.told]
        self.poles = [x for _, x in told]
        self.flags, self.flag_rows = flags(told, 2, wide - 2, 5 if upright else 3)
        self.spells = spells(answer)
        self.lane_lines = wrap(lane_words(self.spells), wide - 6, 15)
        self.canvas = Canvas(
            wide, 60, key=key, title=title(answer, beside, label), desc=long_text(answer, self.panels, inch)
        )
        self.top = 2 + ROW * self.flag_rows + (8 if self.flag_rows else 0)
        self.bottom = self.top

    @staticmethod
    def _room(panel: Panel) -> float:
        """px that the numbers of a panel's axis need."""
        said = [width(f"{t:g}", 15) for t in ticks(panel.low, panel.high, 4)]
        return max([0.0, *said]) + 16

    def _calmed(self, panel: Panel) -> Panel:
        """The panel with the mean of whatever swings too fast to be drawn, and the swing as ripple."""
        across = (self.x.end - self.x.start) / (self.x.high * self.unit)
        cuts = [s.at for s in self.answer.steps]
        up = self._high(panel) / (panel.high - panel.low)
        return dataclasses.replace(panel, lines=tuple(calm(line, across, up, cuts) for line in panel.lines))

    def _high(self, panel: Panel) -> float:
        if self.upright:
            return 128.0 if panel.key in TALL else 104.0
        return TALL.get(panel.key, LOW)

    def _lane_head(self) -> float:
        """px of the words over the lane of the board."""
        return HEAD + 18 * (len(self.lane_lines) - 1)

    def places(self) -> str:
        """Where the clock lies in px, for a script."""
        last = self.x.high * self.unit
        return f'data-t0="0" data-t1="{last:.6g}" data-x0="{num(self.x.start)}" data-x1="{num(self.x.end)}"'

    def draw(self, head: float | None) -> Canvas:
        c = self.canvas
        if not self.panels or not any(panel.key == "cadence" for panel in self.panels):
            c.text(4, 24, "There is nothing to draw for this scene.", size=17)
            c.high = 40
            return c
        y = self.top
        frames: list[tuple[Panel, Axis]] = []
        for panel in self.panels:
            top = y + HEAD
            frames.append((panel, Axis(panel.low, panel.high, top + self._high(panel), top)))
            y = top + self._high(panel) + GAP
            if panel.key == "volts" and self.spells:
                y += self._lane_head() + LANE
        self.bottom = y - GAP
        for panel, axis in frames:
            self._ground(panel, axis)
        draw_flags(c, self.flags, self.poles, 2, self.bottom)
        for panel, axis in frames:
            self._panel(panel, axis)
        low = self._clock()
        self._play_head(head)
        c.high = low
        return c

    # panels -------------------------------------------------------------------------------------------------------
    def _ground(self, panel: Panel, y: Axis) -> None:
        """What lies under everything: the hatch above the lowest rating, and the bands."""
        c = self.canvas
        if panel.limits:
            edge = y(panel.limits[0][1])
            c.rect(self.x.start, y.end, self.x.end - self.x.start, edge - y.end, c.pattern("hatch"))
        for line in panel.lines:
            if line.rank == 0 or len(panel.lines) <= 2:
                band(c, line, self.x, y, self.unit)

    def _panel(self, panel: Panel, y: Axis) -> None:
        c, x = self.canvas, self.x
        c.raw(
            f'<g data-key="{panel.key}" data-y0="{num(y.start)}" data-y1="{num(y.end)}"'
            f' data-v0="{panel.low:.6g}" data-v1="{panel.high:.6g}">'
        )
        c.text(
            2, y.end - 10, wrap(panel.words, c.wide - 6, 15, most=1)[0], cls="dt-soft", halo=bool(self.flags)
        )
        for tick in ticks(panel.low, panel.high, 4):
            c.line(x.start - 6, y(tick), x.start, y(tick), "dl", 2)
            c.text(x.start - 10, y(tick) + 5, f"{tick:g}".replace("-", "\u2212"), anchor="end")
        if panel.low < 0 < panel.high:
            c.line(x.start, y(0), x.end, y(0), "dl-rule", 1.5)
        for k, (_, value) in enumerate(panel.limits):
            c.line(
                x.start, y(value), x.end, y(value), "dl-acc" if k == 0 else "dl-soft", 2.5 if k == 0 else 1.5
            )
        drawn = [(line, pieces(line, x, y, self.unit)) for line in panel.lines]
        for line in panel.lines:
            if not line.other and len(panel.lines) <= 3:
                ripple(c, strokes(line, x, y, self.unit), x.end)
        for line, runs in reversed(drawn):
            for px, py in runs:
                self._stroke(panel, line, list(zip(px.tolist(), py.tolist(), strict=True)))
        self._over(panel, y, drawn)
        c.line(x.start, y.start, x.start, y.end, "dl", 2)
        c.line(x.start, y.start, x.end, y.start, "dl", 2)
        if panel.key == "cadence":
            self._rings_of_steady(panel, y)
        first = panel is self.panels[0]
        side = Side(self.answer, panel, x, y, self.unit, self.inch, drawn, self.poles, self.upright, first)
        found = wanted(side)
        draw_inside(c, side, [tag for tag in found if tag.inside or self.upright])
        if not self.upright:
            draw_side(c, side, [tag for tag in found if not tag.inside], c.wide - 4)
        c.close()
        if panel.key == "volts" and self.spells:
            top = y.start + self._lane_head() + 6
            for k, words in enumerate(reversed(self.lane_lines)):
                c.text(2, top - 7 - 18 * k, words, cls="dt-soft", halo=bool(self.flags))
            draw_lane(c, self.spells, x, top, self.unit)

    def _stroke(self, panel: Panel, line: Line, points: list[tuple[float, float]]) -> None:
        """One piece of a line; the heaviest gets paper on both sides, so that it stands out of its own ripple."""
        c = self.canvas
        if line.other:
            c.curve(points, "dl", 2.5, "9 5")
        elif line.rank == 0:
            c.curve(points, "dl-paper", 6)
            c.curve(points, "dl", 3)
        else:
            c.curve(points, "dl-soft" if line.rank == 1 else "dl", 2 if line.rank == 1 else 1.5)

    def _over(self, panel: Panel, y: Axis, drawn: list[tuple[Line, list[tuple[F, F]]]]) -> None:
        """What of the main line is over the lowest rating, in the accent and heavier, with a dot on its highest moment."""
        if not panel.limits or panel.lines[0].other:
            return
        edge = y(panel.limits[0][1])
        for px, py in drawn[0][1]:
            for points in above(px, py, edge):
                self.canvas.curve(points, "dl-acc", 5)
        found = peak(panel)
        if found is not None and found[2]:
            self.canvas.ring(
                self.x(min(found[1] / self.unit, self.x.high)), y(min(found[0], panel.high)), 5, "df-acc", 0
            )

    def _rings_of_steady(self, panel: Panel, y: Axis) -> None:
        """Where it holds and where it tips when ridden evenly, at the right edge."""
        for solid, w in steady(self.answer, panel):
            self.canvas.ring(self.x.end, y(panel.shown(w)), 8, "ds-ring", 3)
            if solid:
                self.canvas.ring(self.x.end, y(panel.shown(w)), 4, "df-ink", 0)

    # clock --------------------------------------------------------------------------------------------------------
    def _clock(self) -> float:
        """The line of the clock with the rings on it; returns the y below everything."""
        c, x = self.canvas, self.x
        doings = [
            (row, x(row.at / self.unit), min(x(row.until / self.unit), x.end))
            for row in self.rows
            if not row.told
        ]
        y = self.bottom + (STRIP if doings else 10)
        c.line(x.start, y, x.end, y, "dl", 2)
        least = 22 + (8 if doings else 0)
        for tick in ticks(x.low, x.high, 5 if self.upright else 10):
            c.line(x(tick), y, x(tick), y + 7, "dl", 2)
            c.text(x(tick), y + least, f"{tick:g}", anchor="middle")
        found = rings([d for d in doings if d[1] <= x.end + 1], x.start - 10, x.end + 10)
        draw_rings(c, found, self.bottom, y)
        if self.upright:
            c.text(x.end, y + least + 21, self.unit_name, anchor="end", cls="dt-soft")
            return y + least + 28
        c.text(x.end + 24, y + least, self.unit_name, cls="dt-soft")
        return y + least + 8

    def _play_head(self, head: float | None) -> None:
        """The play-head: drawn at 0 and moved to its time; hidden until there is one."""
        c = self.canvas
        at = self.x(min(max((head or 0.0) / self.unit, 0.0), self.x.high))
        seen = "" if head is not None else ' visibility="hidden"'
        c.raw(f'<g id="{c.key}-head" data-head="" transform="translate({num(at)} 0)"{seen}>')
        c.line(0, self.top + 4, 0, self.bottom, "dl-paper", 6)
        c.line(0, self.top + 4, 0, self.bottom, "dl", 2.5)
        c.area([(-8, self.top + 1), (8, self.top + 1), (0, self.top + 13)], "df-ink")
        c.close()
