"""What both chains are made of: a reach of the stream in px, the bar of a limit, the mark of watts that run backwards."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.present.drawings.canvas import Canvas
from sparewatt.rig.outcome import Link

__all__ = ["BEND", "Reach", "back_mark", "nothing", "scale", "use_bar"]

HAIR = 2.0  # px: the least a stream is drawn, so that it can be seen
TINY = 0.5  # W: a toll below this is not drawn
BEND = 9.0  # px: inner radius where a toll turns away


class Reach:
    """One link's stretch of the stream in px: how thick it comes in and goes out, and the toll that turns away."""

    def __init__(self, link: Link, per_watt: float) -> None:
        self.link = link
        self.known = math.isfinite(link.p_in) and math.isfinite(link.p_out)
        self.t_in = self._thick(link.p_in, per_watt)
        self.t_out = self._thick(link.p_out, per_watt)
        self.turns = self.known and link.p_in * link.p_out < 0  # eaten from both ends
        self.back = link.p_in < 0 or link.p_out < 0
        self.bank = max(self.t_in, self.t_out) if self.turns else min(self.t_in, self.t_out)
        self.toll = max(abs(link.toll) * per_watt, 1.5) if self.known and abs(link.toll) >= TINY else 0.0
        gains = self.known and link.toll < 0
        self.at_start = self.turns or (self.known and abs(link.p_in) >= abs(link.p_out))
        self.cls = "df-sand" if gains else "df-toll"
        self.gains = gains

    @staticmethod
    def _thick(p: float, per_watt: float) -> float:
        return max(abs(p) * per_watt, HAIR) if math.isfinite(p) else 16.0

    @property
    def foot(self) -> float:
        """How far the toll reaches beyond the level bank."""
        return self.bank + (self.toll + BEND + 8 if self.toll else 0)


def scale(links: Sequence[Link], room: float) -> float:
    """px a watt: the stream fits the room, and no toll is thicker than 0.45 of it."""
    flows = [abs(p) for link in links for p in (link.p_in, link.p_out) if math.isfinite(p)]
    tolls = [abs(link.toll) / 0.45 for link in links if math.isfinite(link.toll)]
    return room / max([1.0, *flows, *tolls])


def use_bar(c: Canvas, x: float, y: float, room: float, link: Link) -> None:
    """How much of the limit is used: a rule, filled as far as it goes, and the share."""
    if not math.isfinite(link.used):
        return
    words = f"{round(link.used * 100)}\u2009%"
    long = c.text(
        x + room, y + 5, words, anchor="end", bold=link.binds, cls="dt" if link.binds else "dt-soft"
    )
    room -= long + 7
    c.line(x, y, x + room, y, "dl-rule", 2)
    c.line(x, y, x + room * min(max(link.used, 0.0), 1.0), y, "dl-acc" if link.binds else "dl", 4)
    c.line(x + room, y - 5, x + room, y + 5, "dl", 2)


def back_mark(c: Canvas, x: float, y: float) -> None:
    """A pointer against the stream: watts that run backwards."""
    c.path(f"M{x + 6:.1f} {y - 8:.1f}L{x - 6:.1f} {y:.1f}L{x + 6:.1f} {y + 8:.1f}", "dl", 3)


def nothing(wide: float, key: str) -> Canvas:
    """A sentence where there is no chain."""
    canvas = Canvas(wide, 40, key=key, title="Where the watts go", desc="There is no chain to show.")
    canvas.text(4, 24, "There is no chain to show.", size=17)
    return canvas
