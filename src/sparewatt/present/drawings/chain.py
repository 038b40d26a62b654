"""The chain: the rig from legs to load as one stream of watts, its parts standing on the bank, its tolls curling away.

`chain` runs left to right for a desk, `chain_upright` top to bottom for a phone. Both read the same links.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.parts import Rig
from sparewatt.present.drawings.canvas import SMALL, Canvas
from sparewatt.present.drawings.chain_text import facts, limit_words, long_text, said, title, toll_words, watts
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.drawings.sketches import HIGH, sketch, sketch_kind
from sparewatt.present.palette import PRINT, Palette
from sparewatt.rig.outcome import Link

__all__ = ["caption", "chain", "chain_upright"]

HAIR = 2.0  # px: the least a stream is drawn, so that it can be seen
TINY = 0.5  # W: a toll below this is not drawn
BEND = 9.0  # px: inner radius where a toll turns away
caption = said


def chain(
    links: Sequence[Link], *, rig: Rig | None = None, wide: float = 1080, inch: bool = False,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The chain from left to right; legible down to about 900 px wide."""
    return _Along(links, rig, wide, inch).draw().svg(standalone=standalone, palette=palette, cls="dw-wide")


def chain_upright(
    links: Sequence[Link], *, rig: Rig | None = None, wide: float = 344, inch: bool = False,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The chain from top to bottom, for a page 360 px wide."""
    return _Down(links, rig, wide, inch).draw().svg(standalone=standalone, palette=palette, cls="dw-narrow")


class _Reach:
    """One link's stretch of the stream in px: how thick it comes in and goes out, and the toll that turns away."""

    def __init__(self, link: Link, scale: float) -> None:
        self.link = link
        self.known = math.isfinite(link.p_in) and math.isfinite(link.p_out)
        self.t_in = self._thick(link.p_in, scale)
        self.t_out = self._thick(link.p_out, scale)
        self.turns = self.known and link.p_in * link.p_out < 0  # eaten from both ends
        self.back = link.p_in < 0 or link.p_out < 0
        self.bank = max(self.t_in, self.t_out) if self.turns else min(self.t_in, self.t_out)
        self.toll = max(abs(link.toll) * scale, 1.5) if self.known and abs(link.toll) >= TINY else 0.0
        gains = self.known and link.toll < 0
        self.at_start = self.turns or (self.known and abs(link.p_in) >= abs(link.p_out))
        self.cls = "df-sand" if gains else "df-toll"
        self.gains = gains

    @staticmethod
    def _thick(p: float, scale: float) -> float:
        return max(abs(p) * scale, HAIR) if math.isfinite(p) else 16.0

    @property
    def foot(self) -> float:
        """How far the toll reaches beyond the level bank."""
        return self.bank + (self.toll + BEND + 8 if self.toll else 0)


def _scale(links: Sequence[Link], room: float) -> float:
    """px a watt: the stream fits the room, and no toll is thicker than 0.45 of it."""
    flows = [abs(p) for link in links for p in (link.p_in, link.p_out) if math.isfinite(p)]
    tolls = [abs(link.toll) / 0.45 for link in links if math.isfinite(link.toll)]
    return room / max([1.0, *flows, *tolls])


class _Along:
    """Draws the chain left to right."""

    STREAM = 132.0
    EDGE = 12.0

    def __init__(self, links: Sequence[Link], rig: Rig | None, wide: float, inch: bool) -> None:
        self.links = tuple(links)
        self.rig = rig
        scale = _scale(self.links, self.STREAM)
        self.reaches = [_Reach(link, scale) for link in self.links]
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
        self.canvas = Canvas(wide, tall, key="chain", title=title(self.links), desc=long_text(self.links, inch))

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

    def _stream(self, k: int, reach: _Reach) -> None:
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
                _back_mark(c, (xa + xb) / 2 + 16, y0 + thick / 2)
        if reach.toll:
            c.path(self._curl(k, reach), reach.cls, 0)
            if reach.gains:
                c.path(self._curl(k, reach), "dl", 1.5)

    def _run(self, reach: _Reach) -> float:
        """How far along its reach a toll goes before it turns."""
        return max(6.0, min(self.step * 0.3, self.step - BEND - reach.toll - 44))

    def _curl(self, k: int, reach: _Reach) -> str:
        """A strip of the lower bank that turns down: away from the start of the reach, or in at its end."""
        t, y = reach.toll, self.top + reach.bank
        way = 1 if reach.at_start else -1
        x0 = self.x(k) if reach.at_start else self.x(k + 1)
        xa, out, sweep, back = x0 + way * self._run(reach), BEND + t, int(way > 0), int(way < 0)
        return (
            f"M{x0:.1f} {y:.1f}H{xa:.1f}A{out:.1f} {out:.1f} 0 0 {sweep} {xa + way * out:.1f} {y + out:.1f}v8h{-way * t:.1f}v-8"
            f"A{BEND} {BEND} 0 0 {back} {xa:.1f} {y + t:.1f}H{x0:.1f}Z"
        )

    def _numbers(self, k: int, reach: _Reach) -> None:
        """Watts that enter, big; the toll beside its foot, or under it where there is no room."""
        c, size = self.canvas, 26.0 if k == 0 else 22.0
        plain = reach.known and not reach.link.p_in < 0
        if reach.t_in >= size + 8:
            c.text(self.x(k) + 8, self.top + size + 2, watts(reach.link.p_in), size=size, bold=True, halo=not plain)
        else:
            c.text(self.x(k) + 8, self.top + reach.t_in + 19, watts(reach.link.p_in), size=18, bold=True, halo=True)
        words = toll_words(reach.link)
        if not words:
            return
        if not reach.toll:
            c.text(self.x(k) + 8, self.top + reach.t_in + 42, words.text, look=words.look)
            return
        way = 1 if reach.at_start else -1
        foot, low = self._foot(k, reach), self.top + reach.foot
        if self._beside(k, reach):
            c.text(foot + way * 6, low, words.text, size=16, look=words.look, anchor="start" if way > 0 else "end")
            return
        half = width(words.text, 16, bold=words.look == "measured") / 2
        middle = min(max(foot - way * reach.toll / 2, self.x(k) + half), self.x(k + 1) - half)
        c.text(middle, low + 18, words.text, size=16, look=words.look, anchor="middle")

    def _foot(self, k: int, reach: _Reach) -> float:
        """x of the outer edge of a toll's foot."""
        way = 1 if reach.at_start else -1
        return self.x(k if reach.at_start else k + 1) + way * (self._run(reach) + BEND + reach.toll)

    def _beside(self, k: int, reach: _Reach) -> bool:
        """The toll's number fits beside its foot, inside its own reach."""
        words = toll_words(reach.link)
        if not words or not reach.toll:
            return True
        room = self.x(k + 1) + 4 - self._foot(k, reach) if reach.at_start else self._foot(k, reach) - self.x(k)
        return room >= 6 + width(words.text, 16, bold=words.look == "measured")

    def _part(self, k: int, reach: _Reach) -> None:
        """The part stands on the bank under its name; a thin post marks where its reach begins."""
        c, x = self.canvas, self.x(k)
        if k:
            c.line(x, self.top - 6, x, self.top + max(reach.t_in, 8) + 4, "dl", 2)
        sketch(c, sketch_kind(reach.link, self.rig), x + 35, self.top)
        c.lines(x + 8, self.top - HIGH - 10 - (len(self.names[k]) - 1) * 19, self.names[k], size=16, bold=True, step=19)

    def _words(self, k: int, link: Link) -> None:
        """Facts, then the nearest limit with a bar that says how much of it is used."""
        c, x, y = self.canvas, self.x(k) + 8, self.low + 4
        for words, look in self.facts[k]:
            c.text(x, y, words, look=look)
            y += 19
        if self.limits[k]:
            _use_bar(c, x, self.limits_at - 5, self.step - 16, link)
            c.lines(x, self.limits_at + 18, self.limits[k], step=18, cls="dt" if link.binds else "dt-soft")

    def _mouth(self) -> None:
        """Where the stream arrives: an open end and the number that matters."""
        c, last = self.canvas, self.reaches[-1]
        x, thick = self.x(len(self.links)), last.t_out
        if last.link.p_out >= 0:
            c.path(f"M{x:.1f} {self.top:.1f}L{x + 12:.1f} {self.top + thick / 2:.1f}L{x:.1f} {self.top + thick:.1f}", "dl", 3)
        y = self.top + max(thick / 2, 10) + 9
        long = c.text(x + 18, y, watts(last.link.p_out), size=28, bold=True)
        c.text(x + 18 + long + 3, y, "W", size=20, bold=True)

    def _binds(self, k: int, reach: _Reach) -> None:
        """A thick bracket round the part that binds, and the word."""
        c, x0, x1 = self.canvas, self.x(k) + 1, self.x(k + 1) - 3
        y0, y1 = 14.0, self.top + max(reach.t_in, reach.t_out, 12) + 2
        word = "binds"
        mid, half = (x0 + x1) / 2, width(word, 17, bold=True) / 2 + 6
        c.path(f"M{mid - half:.1f} {y0}H{x0:.1f}V{y1:.1f}h9M{mid + half:.1f} {y0}H{x1:.1f}V{y1:.1f}h-9", "dl-acc", 4)
        c.text(mid, y0 + 6, word, size=17, bold=True, anchor="middle", cls="dt-acc")


class _Down:
    """Draws the chain top to bottom: pictures left of the level bank, tolls and words right of the stream."""

    STREAM = 96.0
    BANK = 66.0  # x of the level bank

    def __init__(self, links: Sequence[Link], rig: Rig | None, wide: float, inch: bool) -> None:
        self.links = tuple(links)
        self.rig = rig
        self.wide = wide
        scale = _scale(self.links, self.STREAM)
        self.reaches = [_Reach(link, scale) for link in self.links]
        self.words = self.BANK + self.STREAM + 16
        room = wide - self.words - 2
        self.names = [wrap(link.name, room, 17, bold=True, most=3) for link in self.links]
        self.facts = [facts(link, room, inch) for link in self.links]
        self.limits = [wrap(link.limit, room, SMALL, most=4) if link.limit else [] for link in self.links]
        self.tops = [6.0]
        for k in range(len(self.links)):
            self.tops.append(self.tops[-1] + self._tall(k))
        self.canvas = Canvas(wide, self.tops[-1] + 48, key="upright", title=title(self.links), desc=long_text(self.links, inch))

    def _tall(self, k: int) -> float:
        reach = self.reaches[k]
        words = 24 + (len(self.names[k]) - 1) * 20 + 19 * len(self.facts[k])
        words += 14 + 19 * len(self.limits[k]) if self.limits[k] else 0
        words += max(26.0, 14 + reach.toll + (0 if reach.at_start else BEND + 8)) if toll_words(reach.link) else 4
        return max(74.0, words + 8, reach.toll + 2 * BEND + 30)

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

    def _stream(self, k: int, reach: _Reach) -> None:
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

    def _curl(self, k: int, reach: _Reach) -> str:
        """A strip of the right bank that turns out before the end of the reach, or in after its beginning."""
        t, x = reach.toll, self.BANK + reach.bank
        way = 1 if reach.at_start else -1
        y0 = self.tops[k] if reach.at_start else self.tops[k + 1]
        out = BEND + t
        end = self.tops[k + 1] - 10 if reach.at_start else self.tops[k + 1] - out - 8
        ya, sweep, back = end - way * out, int(way < 0), int(way > 0)
        return (
            f"M{x:.1f} {y0:.1f}V{ya:.1f}A{out:.1f} {out:.1f} 0 0 {sweep} {x + out:.1f} {ya + way * out:.1f}h8v{-way * t:.1f}h-8"
            f"A{BEND} {BEND} 0 0 {back} {x + t:.1f} {ya:.1f}V{y0:.1f}Z"
        )

    def _part(self, k: int, reach: _Reach) -> None:
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

    def _text(self, k: int, reach: _Reach) -> None:
        """Name, facts and limit at the right; the toll's number at the end of its curl."""
        c, link = self.canvas, reach.link
        y = c.lines(self.words, self.tops[k] + 21, self.names[k], size=17, bold=True, step=20)
        for words, look in self.facts[k]:
            c.text(self.words, y, words, look=look)
            y += 19
        if self.limits[k]:
            _use_bar(c, self.words, y - 7, self.wide - self.words - 4, link)
            c.lines(self.words, y + 14, self.limits[k], step=18, cls="dt" if link.binds else "dt-soft")
        toll = toll_words(link)
        if toll:
            low = self.tops[k + 1] - 10 if reach.at_start else self.tops[k + 1] - BEND - 8
            x = self.BANK + reach.bank + reach.toll + BEND + 14 if reach.toll else self.words
            c.text(x, low - reach.toll / 2 + 5, toll.text, size=16, look=toll.look)

    def _mouth(self) -> None:
        c, last, y = self.canvas, self.reaches[-1], self.tops[-1]
        if last.link.p_out >= 0:
            c.path(f"M{self.BANK} {y:.1f}L{self.BANK + last.t_out / 2:.1f} {y + 11:.1f}L{self.BANK + last.t_out:.1f} {y:.1f}", "dl", 3)
        long = c.text(self.BANK, y + 42, watts(last.link.p_out), size=28, bold=True)
        c.text(self.BANK + long + 3, y + 42, "W", size=20, bold=True)


def _use_bar(c: Canvas, x: float, y: float, room: float, link: Link) -> None:
    """How much of the limit is used: a rule, filled as far as it goes, and the share."""
    if not math.isfinite(link.used):
        return
    words = f"{round(link.used * 100)}\u2009%"
    long = c.text(x + room, y + 5, words, anchor="end", bold=link.binds, cls="dt" if link.binds else "dt-soft")
    room -= long + 7
    c.line(x, y, x + room, y, "dl-rule", 2)
    c.line(x, y, x + room * min(max(link.used, 0.0), 1.0), y, "dl-acc" if link.binds else "dl", 4)
    c.line(x + room, y - 5, x + room, y + 5, "dl", 2)


def _back_mark(c: Canvas, x: float, y: float) -> None:
    """A pointer against the stream: watts that run backwards."""
    c.path(f"M{x + 6:.1f} {y - 8:.1f}L{x - 6:.1f} {y:.1f}L{x + 6:.1f} {y + 8:.1f}", "dl", 3)
