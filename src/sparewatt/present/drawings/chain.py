"""The chain: the rig from legs to load as one stream of watts, its parts standing on the bank, its tolls curling away.

`chain` runs left to right for a desk, `chain_upright` top to bottom for a phone. Both read the same links.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.parts import Rig
from sparewatt.present.drawings.canvas import SMALL, Canvas
from sparewatt.present.drawings.chain_parts import BEND, Reach, back_mark, nothing, scale, use_bar
from sparewatt.present.drawings.chain_text import (
    facts,
    limit_words,
    long_text,
    said,
    title,
    toll_words,
    watts,
)
from sparewatt.present.drawings.chain_upright import chain_upright
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.drawings.sketches import HIGH, sketch, sketch_kind
from sparewatt.present.palette import PRINT, Palette
from sparewatt.rig.outcome import Link

__all__ = ["caption", "chain", "chain_upright"]

caption = said


def chain(
    links: Sequence[Link], *, rig: Rig | None = None, wide: float = 1080, inch: bool = False,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The chain from left to right; legible down to about 900 px wide."""
    if not links:
        return nothing(wide, "chain").svg(standalone=standalone, palette=palette, cls="dw-wide")
    return _Along(links, rig, wide, inch).draw().svg(standalone=standalone, palette=palette, cls="dw-wide")


class _Along:
    """Draws the chain left to right."""

    STREAM = 132.0
    EDGE = 12.0

    def __init__(self, links: Sequence[Link], rig: Rig | None, wide: float, inch: bool) -> None:
        self.links = tuple(links)
        self.rig = rig
        per_watt = scale(self.links, self.STREAM)
        self.reaches = [Reach(link, per_watt) for link in self.links]
        self.end = 18 + width(watts(self.links[-1].p_out), 28, bold=True) + 30
        self.step = (wide - self.EDGE - self.end) / len(self.links)
        room = self.step - 12
        self.names = [wrap(link.name, room, 16, bold=True, most=3) for link in self.links]
        self.facts = [facts(link, room, inch) for link in self.links]
        self.limits = [wrap(link.limit, room, SMALL, most=5) if link.limit else [] for link in self.links]
        self.top = 30 + max(len(n) for n in self.names) * 19 + 8 + HIGH + 8  # y of the level bank
        feet = [r.foot + (0 if self._beside(k, r) else 20) for k, r in enumerate(self.reaches)]
        self.low = self.top + max([0.8 * self.STREAM, *feet]) + 30
        self.limits_at = self.low + max(len(f) for f in self.facts) * 19
        tall = self.limits_at + max(len(m) for m in self.limits) * 18 + 20
        self.canvas = Canvas(
            wide, tall, key="chain", title=title(self.links), desc=long_text(self.links, inch)
        )

    def x(self, k: float) -> float:
        return self.EDGE + k * self.step

    def draw(self) -> Canvas:
        c = self.canvas
        for k, reach in enumerate(self.reaches):
            c.open(limit_words(reach.link), data=reach.link.key)
            self._stream(k, reach)
            c.close()
        c.line(self.x(0), self.top, self.x(len(self.links)), self.top, "dl", 2)
        for k, reach in enumerate(self.reaches):
            self._part(k, reach)
            self._numbers(k, reach)
            self._words(k, reach.link)
        self._mouth()
        for k, reach in enumerate(self.reaches):
            if reach.link.binds:
                self._binds(k, reach)
        return c

    def _stream(self, k: int, reach: Reach) -> None:
        """One reach of the stream and the toll that leaves it."""
        c, x0, x1, y0 = self.canvas, self.x(k), self.x(k + 1), self.top
        if not reach.known:
            edge = reach.t_in if math.isfinite(reach.link.p_in) else reach.t_out
            c.rect(x0, y0, x1 - x0, edge, c.pattern("dots"))
            c.line(x0, y0 + edge, x1, y0 + edge, "dl-soft", 2, "5 5")
            return
        middle = (x0 + x1) / 2 if reach.turns else x1
        parts = [(x0, middle, reach.t_in if reach.turns else reach.bank, reach.link.p_in < 0)]
        if reach.turns:
            parts.append((middle, x1, reach.t_out, reach.link.p_out < 0))
        for xa, xb, thick, back in parts:
            c.rect(xa, y0, xb - xa, thick, c.pattern("dashes") if back else "df-sand")
            c.line(xa, y0 + thick, xb, y0 + thick, "dl", 1.5)
            if back:
                back_mark(c, (xa + xb) / 2 + 16, y0 + thick / 2)
        if reach.toll:
            c.path(self._curl(k, reach), reach.cls, 0)
            if reach.gains:
                c.path(self._curl(k, reach), "dl", 1.5)

    def _run(self, reach: Reach) -> float:
        """How far along its reach a toll goes before it turns."""
        return max(6.0, min(self.step * 0.3, self.step - BEND - reach.toll - 44))

    def _curl(self, k: int, reach: Reach) -> str:
        """A strip of the lower bank that turns down: away from the start of the reach, or in at its end."""
        t, y = reach.toll, self.top + reach.bank
        way = 1 if reach.at_start else -1
        x0 = self.x(k) if reach.at_start else self.x(k + 1)
        xa, out, sweep, back = x0 + way * self._run(reach), BEND + t, int(way > 0), int(way < 0)
        return (
            f"M{x0:.1f} {y:.1f}H{xa:.1f}A{out:.1f} {out:.1f} 0 0 {sweep} {xa + way * out:.1f} {y + out:.1f}"
            f"v8h{-way * t:.1f}v-8A{BEND} {BEND} 0 0 {back} {xa:.1f} {y + t:.1f}H{x0:.1f}Z"
        )

    def _numbers(self, k: int, reach: Reach) -> None:
        """Watts that enter, big; the toll beside its foot, or under it where there is no room."""
        c, size = self.canvas, 26.0 if k == 0 else 22.0
        plain = reach.known and not reach.link.p_in < 0
        if reach.t_in >= size + 8:
            c.text(
                self.x(k) + 8,
                self.top + size + 2,
                watts(reach.link.p_in),
                size=size,
                bold=True,
                halo=not plain,
            )
        else:
            c.text(
                self.x(k) + 8,
                self.top + reach.t_in + 19,
                watts(reach.link.p_in),
                size=18,
                bold=True,
                halo=True,
            )
        words = toll_words(reach.link)
        if not words:
            return
        if not reach.toll:
            c.text(self.x(k) + 8, self.top + reach.t_in + 42, words.text, look=words.look)
            return
        way = 1 if reach.at_start else -1
        foot, low = self._foot(k, reach), self.top + reach.foot
        if self._beside(k, reach):
            c.text(
                foot + way * 6,
                low,
                words.text,
                size=16,
                look=words.look,
                anchor="start" if way > 0 else "end",
            )
            return
        half = width(words.text, 16, bold=words.look == "measured") / 2
        middle = min(max(foot - way * reach.toll / 2, self.x(k) + half), self.x(k + 1) - half)
        c.text(middle, low + 18, words.text, size=16, look=words.look, anchor="middle")

    def _foot(self, k: int, reach: Reach) -> float:
        """x of the outer edge of a toll's foot."""
        way = 1 if reach.at_start else -1
        return self.x(k if reach.at_start else k + 1) + way * (self._run(reach) + BEND + reach.toll)

    def _beside(self, k: int, reach: Reach) -> bool:
        """The toll's number fits beside its foot, inside its own reach."""
        words = toll_words(reach.link)
        if not words or not reach.toll:
            return True
        room = (
            self.x(k + 1) + 4 - self._foot(k, reach) if reach.at_start else self._foot(k, reach) - self.x(k)
        )
        return room >= 6 + width(words.text, 16, bold=words.look == "measured")

    def _part(self, k: int, reach: Reach) -> None:
        """The part stands on the bank under its name; a thin post marks where its reach begins."""
        c, x = self.canvas, self.x(k)
        if k:
            c.line(x, self.top - 6, x, self.top + max(reach.t_in, 8) + 4, "dl", 2)
        sketch(c, sketch_kind(reach.link, self.rig), x + 35, self.top)
        c.lines(
            x + 8,
            self.top - HIGH - 10 - (len(self.names[k]) - 1) * 19,
            self.names[k],
            size=16,
            bold=True,
            step=19,
        )

    def _words(self, k: int, link: Link) -> None:
        """Facts, then the nearest limit with a bar that says how much of it is used."""
        c, x, y = self.canvas, self.x(k) + 8, self.low + 4
        for words, look in self.facts[k]:
            c.text(x, y, words, look=look)
            y += 19
        if self.limits[k]:
            use_bar(c, x, self.limits_at - 5, self.step - 16, link)
            c.lines(x, self.limits_at + 18, self.limits[k], step=18, cls="dt" if link.binds else "dt-soft")

    def _mouth(self) -> None:
        """Where the stream arrives: an open end and the number that matters."""
        c, last = self.canvas, self.reaches[-1]
        x, thick = self.x(len(self.links)), last.t_out
        if last.link.p_out >= 0:
            c.path(
                f"M{x:.1f} {self.top:.1f}L{x + 12:.1f} {self.top + thick / 2:.1f}L{x:.1f} {self.top + thick:.1f}",
                "dl",
                3,
            )
        y = self.top + max(thick / 2, 10) + 9
        long = c.text(x + 18, y, watts(last.link.p_out), size=28, bold=True)
        c.text(x + 18 + long + 3, y, "W", size=20, bold=True)

    def _binds(self, k: int, reach: Reach) -> None:
        """A thick bracket round the part that binds, and the word."""
        c, x0, x1 = self.canvas, self.x(k) + 1, self.x(k + 1) - 3
        y0, y1 = 14.0, self.top + max(reach.t_in, reach.t_out, 12) + 2
        word = "binds"
        mid, half = (x0 + x1) / 2, width(word, 17, bold=True) / 2 + 6
        c.path(
            f"M{mid - half:.1f} {y0}H{x0:.1f}V{y1:.1f}h9M{mid + half:.1f} {y0}H{x1:.1f}V{y1:.1f}h-9",
            "dl-acc",
            4,
        )
        c.text(mid, y0 + 6, word, size=17, bold=True, anchor="middle", cls="dt-acc")
