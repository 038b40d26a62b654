"""The chain from top to bottom, for a phone or a column of a sheet: the same links, the same scale of watts."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.parts import Rig
from sparewatt.present.drawings.canvas import SMALL, Canvas
from sparewatt.present.drawings.chain_parts import BEND, Reach, nothing, scale, use_bar
from sparewatt.present.drawings.chain_text import facts, limit_words, long_text, title, toll_words, watts
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.drawings.sketches import HIGH, sketch, sketch_kind
from sparewatt.present.palette import PRINT, Palette
from sparewatt.rig.outcome import Link

__all__ = ["chain_upright"]


def chain_upright(
    links: Sequence[Link], *, rig: Rig | None = None, wide: float = 344, inch: bool = False,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The chain from top to bottom, for a page 360 px wide."""
    if not links:
        return nothing(wide, "upright").svg(standalone=standalone, palette=palette, cls="dw-narrow")
    return _Down(links, rig, wide, inch).draw().svg(standalone=standalone, palette=palette, cls="dw-narrow")


class _Down:
    """Draws the chain top to bottom: pictures left of the level bank, tolls and words right of the stream."""

    STREAM = 96.0
    BANK = 66.0  # x of the level bank

    def __init__(self, links: Sequence[Link], rig: Rig | None, wide: float, inch: bool) -> None:
        self.links = tuple(links)
        self.rig = rig
        self.wide = wide
        per_watt = scale(self.links, self.STREAM)
        self.reaches = [Reach(link, per_watt) for link in self.links]
        self.words = self.BANK + self.STREAM + 16
        room = wide - self.words - 2
        self.names = [wrap(link.name, room, 17, bold=True, most=3) for link in self.links]
        self.facts = [facts(link, room, inch) for link in self.links]
        self.limits = [wrap(link.limit, room, SMALL, most=4) if link.limit else [] for link in self.links]
        self.tops = [6.0]
        for k in range(len(self.links)):
            self.tops.append(self.tops[-1] + self._tall(k))
        self.canvas = Canvas(
            wide, self.tops[-1] + 48, key="upright", title=title(self.links), desc=long_text(self.links, inch)
        )

    def _tall(self, k: int) -> float:
        reach = self.reaches[k]
        words = 24.0 + (len(self.names[k]) - 1) * 20 + 19 * len(self.facts[k])
        words += 14 + 19 * len(self.limits[k]) if self.limits[k] else 0
        words += (
            max(26.0, 14 + reach.toll + (0 if reach.at_start else BEND + 8)) if toll_words(reach.link) else 4
        )
        least = 100.0 if reach.link.binds else 74.0
        return max(least, words + 8, reach.toll + 2 * BEND + 30)

    def draw(self) -> Canvas:
        c = self.canvas
        for k, reach in enumerate(self.reaches):
            c.open(limit_words(reach.link), data=reach.link.key)
            self._stream(k, reach)
            c.close()
        c.line(self.BANK, self.tops[0], self.BANK, self.tops[-1], "dl", 2)
        for k, reach in enumerate(self.reaches):
            self._part(k, reach)
            self._text(k, reach)
        self._mouth()
        return c

    def _stream(self, k: int, reach: Reach) -> None:
        c, x0, y0, y1 = self.canvas, self.BANK, self.tops[k], self.tops[k + 1]
        if not reach.known:
            edge = reach.t_in if math.isfinite(reach.link.p_in) else reach.t_out
            c.rect(x0, y0, edge, y1 - y0, c.pattern("dots"))
            c.line(x0 + edge, y0, x0 + edge, y1, "dl-soft", 2, "5 5")
            return
        middle = (y0 + y1) / 2 if reach.turns else y1
        parts = [(y0, middle, reach.t_in if reach.turns else reach.bank, reach.link.p_in < 0)]
        if reach.turns:
            parts.append((middle, y1, reach.t_out, reach.link.p_out < 0))
        for ya, yb, thick, back in parts:
            c.rect(x0, ya, thick, yb - ya, c.pattern("dashes") if back else "df-sand")
            c.line(x0 + thick, ya, x0 + thick, yb, "dl", 1.5)
        if reach.toll:
            c.path(self._curl(k, reach), reach.cls, 0)
            if reach.gains:
                c.path(self._curl(k, reach), "dl", 1.5)

    def _curl(self, k: int, reach: Reach) -> str:
        """A strip of the right bank that turns out before the end of the reach, or in after its beginning."""
        t, x = reach.toll, self.BANK + reach.bank
        way = 1 if reach.at_start else -1
        y0 = self.tops[k] if reach.at_start else self.tops[k + 1]
        out = BEND + t
        end = self.tops[k + 1] - 10 if reach.at_start else self.tops[k + 1] - out - 8
        ya, sweep, back = end - way * out, int(way < 0), int(way > 0)
        return (
            f"M{x:.1f} {y0:.1f}V{ya:.1f}A{out:.1f} {out:.1f} 0 0 {sweep} {x + out:.1f} {ya + way * out:.1f}"
            f"h8v{-way * t:.1f}h-8A{BEND} {BEND} 0 0 {back} {x + t:.1f} {ya:.1f}V{y0:.1f}Z"
        )

    def _part(self, k: int, reach: Reach) -> None:
        c, y0 = self.canvas, self.tops[k]
        if k:
            c.line(self.BANK - 6, y0, self.BANK + max(reach.t_in, 8) + 4, y0, "dl", 2)
        sketch(c, sketch_kind(reach.link, self.rig), 34, y0 + 14 + HIGH)
        show, size = watts(reach.link.p_in), 24.0 if k == 0 else 21.0
        if reach.t_in >= width(show, size, bold=True) + 10:
            plain = reach.known and reach.link.p_in >= 0
            c.text(self.BANK + 7, y0 + size + 2, show, size=size, bold=True, halo=not plain)
        else:
            c.text(self.BANK + reach.t_in + 7, y0 + 22, show, size=17, bold=True, halo=True)
        if reach.link.binds:
            y1 = self.tops[k + 1] - 3
            c.path(f"M14 {y0 + 3:.1f}H3V{y1:.1f}H14", "dl-acc", 4)
            c.text(10, min(y0 + 14 + HIGH + 22, y1 - 8), "binds", size=17, bold=True, cls="dt-acc")

    def _text(self, k: int, reach: Reach) -> None:
        """Name, facts and limit at the right; the toll's number at the end of its curl."""
        c, link = self.canvas, reach.link
        y = c.lines(self.words, self.tops[k] + 21, self.names[k], size=17, bold=True, step=20)
        for words, look in self.facts[k]:
            c.text(self.words, y, words, look=look)
            y += 19
        if self.limits[k]:
            use_bar(c, self.words, y - 7, self.wide - self.words - 4, link)
            c.lines(self.words, y + 14, self.limits[k], step=18, cls="dt" if link.binds else "dt-soft")
        toll = toll_words(link)
        if toll:
            low = self.tops[k + 1] - 10 if reach.at_start else self.tops[k + 1] - BEND - 8
            x = self.BANK + reach.bank + reach.toll + BEND + 14 if reach.toll else self.words
            c.text(x, low - reach.toll / 2 + 5, toll.text, size=16, look=toll.look)

    def _mouth(self) -> None:
        c, last, y = self.canvas, self.reaches[-1], self.tops[-1]
        if last.link.p_out >= 0:
            c.path(
                f"M{self.BANK} {y:.1f}L{self.BANK + last.t_out / 2:.1f} {y + 11:.1f}L{self.BANK + last.t_out:.1f} {y:.1f}",
                "dl",
                3,
            )
        long = c.text(self.BANK, y + 42, watts(last.link.p_out), size=28, bold=True)
        c.text(self.BANK + long + 3, y + 42, "W", size=20, bold=True)
