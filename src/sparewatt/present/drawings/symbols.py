"""Circuit symbols of our own drawing after IEC 60617, on a sheet that can be laid along or turned upright.

A symbol is drawn in its own directions: "along" the wire and "across" it. On an upright sheet along runs down the page.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparewatt.present.drawings.canvas import Canvas

__all__ = ["Sheet"]


@dataclass(slots=True)
class Sheet:
    """A canvas with directions: (along, across) becomes (x, y), or (y, x) on an upright sheet."""

    canvas: Canvas
    upright: bool = False

    def at(self, a: float, b: float) -> tuple[float, float]:
        """px of a point."""
        return (b, a) if self.upright else (a, b)

    def line(
        self, a1: float, b1: float, a2: float, b2: float, cls: str = "dl", stroke: float = 2.5, dash: str = ""
    ) -> None:
        """A straight line."""
        self.canvas.line(*self.at(a1, b1), *self.at(a2, b2), cls, stroke, dash)

    def box(
        self, a: float, b: float, long: float, deep: float, cls: str = "ds-box", stroke: float = 2.5
    ) -> None:
        """A box whose corner nearest the origin is (a, b)."""
        x, y = self.at(a, b)
        wide, high = (deep, long) if self.upright else (long, deep)
        self.canvas.rect(x, y, wide, high, cls, stroke)

    def shape(self, points: list[tuple[float, float]], cls: str = "ds-box", stroke: float = 2.5) -> None:
        """A closed outline."""
        d = "".join(
            f"{'M' if k == 0 else 'L'}{x:.1f} {y:.1f}"
            for k, (x, y) in enumerate(self.at(a, b) for a, b in points)
        )
        self.canvas.path(d + "Z", cls, stroke)

    def dot(self, a: float, b: float) -> None:
        """A joint."""
        self.canvas.ring(*self.at(a, b), 4, "df-ink", 0)

    # in the wire ---------------------------------------------------------------------------------------------------
    def diode(self, a: float, b: float, long: float) -> None:
        """Current passes in the direction of the triangle."""
        m = a + long / 2
        self.line(a, b, a + long, b)
        self.shape([(m - 10, b - 11), (m + 10, b), (m - 10, b + 11)])
        self.line(m + 10, b - 12, m + 10, b + 12, stroke=3)

    def fuse(self, a: float, b: float, long: float, *, missing: bool = False) -> None:
        """A box with the wire running through; broken and in accent where one belongs but none is fitted."""
        m, half = a + long / 2, 19.0
        if missing:
            self.line(a, b, a + long, b)
            corners = [(m - half, b - 9), (m + half, b - 9), (m + half, b + 9), (m - half, b + 9)]
            d = "".join(
                f"{'M' if k == 0 else 'L'}{x:.1f} {y:.1f}"
                for k, (x, y) in enumerate(self.at(p, q) for p, q in corners)
            )
            self.canvas.path(d + "Z", "dl-acc", 3, "6 4")
            return
        self.box(m - half, b - 9, 2 * half, 18)
        self.line(a, b, a + long, b)

    def switch(self, a: float, b: float, long: float) -> None:
        """Open contact."""
        m = a + long / 2
        self.line(a, b, m - 16, b)
        self.line(m + 16, b, a + long, b)
        self.line(m - 16, b, m + 13, b - 15, stroke=3)
        self.dot(m - 16, b)
        self.dot(m + 16, b)

    # from rail to rail ---------------------------------------------------------------------------------------------
    def machine(self, a: float, b1: float, b2: float) -> None:
        """A circle between the rails, marked G by the caller."""
        m = (b1 + b2) / 2
        self.line(a, b1, a, b2)
        self.canvas.ring(*self.at(a, m), 25, "ds-box", 3)

    def battery(self, a: float, b1: float, b2: float) -> None:
        """Two cells; the long thin plate is plus."""
        m = (b1 + b2) / 2
        self.line(a, b1, a, m - 14)
        self.line(a, m + 14, a, b2)
        for k, (half, stroke) in enumerate(((20, 2.5), (10, 6), (20, 2.5), (10, 6))):
            b = m - 14 + k * 28 / 3
            self.line(a - half, b, a + half, b, stroke=stroke)

    def capacitor(self, a: float, b1: float, b2: float) -> None:
        """Two plates."""
        m = (b1 + b2) / 2
        self.line(a, b1, a, m - 6)
        self.line(a, m + 6, a, b2)
        self.line(a - 18, m - 6, a + 18, m - 6, stroke=3.5)
        self.line(a - 18, m + 6, a + 18, m + 6, stroke=3.5)

    def resistor(self, a: float, b1: float, b2: float, *, switched: bool = False) -> None:
        """A plain box; with a contact above it when it is switched in."""
        m = (b1 + b2) / 2 + (14 if switched else 0)
        top = m - 22
        if switched:
            self.line(a, b1, a, top - 28)
            self.line(a, top - 28, a - 13, top - 4, stroke=3)
            self.line(a, top - 4, a, top)
            self.dot(a, top - 28)
            self.dot(a, top - 4)
        else:
            self.line(a, b1, a, top)
        self.box(a - 9, top, 18, 44)
        self.line(a, m + 22, a, b2)

    def lamp(self, a: float, b1: float, b2: float) -> None:
        """A circle with a cross."""
        m, r = (b1 + b2) / 2, 19
        self.line(a, b1, a, b2)
        self.canvas.ring(*self.at(a, m), r, "ds-box", 2.5)
        h = r * 0.707
        self.line(a - h, m - h, a + h, m + h)
        self.line(a - h, m + h, a + h, m - h)

    def load(self, a: float, b1: float, b2: float) -> None:
        """Any appliance: a box."""
        m = (b1 + b2) / 2
        self.line(a, b1, a, b2)
        self.box(a - 22, m - 22, 44, 44)

    # in the wire, with a third wire to minus -------------------------------------------------------------------------
    def board(self, a: float, b: float, long: float, stub: float, *, ac: bool = False) -> None:
        """A box in the wire with a slant: direct current in, direct (or alternating) current out; minus on its side."""
        m, half = a + long / 2, 28.0
        self.line(a, b, m - half, b)
        self.line(m + half, b, a + long, b)
        self.box(m - half, b - half, 2 * half, 2 * half)
        self.line(m - half, b + half, m + half, b - half)
        self.line(m, b + half, m, b + half + stub)
        for side in (-1, 1):
            x, y = self.at(m + side * 13, b + side * 13)
            if side > 0 and ac:
                self.canvas.path(f"M{x - 9:.1f} {y:.1f}q4.5 -11 9 0t9 0", "dl", 2.5)
                continue
            self.canvas.line(x - 9, y - 3, x + 9, y - 3, "dl", 2.5)
            self.canvas.line(x - 9, y + 4, x + 9, y + 4, "dl", 2.5, "4 3")

    def socket(self, a: float, b: float, long: float) -> None:
        """A pin that goes into a half ring."""
        m = a + long / 2
        self.line(a, b, m - 4, b)
        self.line(m + 12, b, a + long, b)
        self.line(m - 16, b, m - 4, b, stroke=6)
        ring = [
            (m + 12 - 12 * math.sin(t), b + 12 * math.cos(t)) for t in (math.pi * k / 12 for k in range(13))
        ]
        self.canvas.curve([self.at(*point) for point in ring], "dl", 2.5)

    def plug(self, a: float, b: float) -> None:
        """A loose end with a pin, to be put over by hand."""
        self.line(a, b, a, b + 26)
        self.line(a, b + 26, a, b + 44, stroke=6)

    def minus(self, a: float, b: float, *, across: bool = True) -> None:
        """The short thick bar of minus."""
        x, y = self.at(a, b)
        dx, dy = (13.0, 0.0) if across else (0.0, 13.0)
        self.canvas.line(x - dx, y - dy, x + dx, y + dy, "dl", 5)
