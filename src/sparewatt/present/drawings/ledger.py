"""The energy ledger of a scene as one stream: what goes in, the tolls that turn away, what stays in store, what arrives.

The manner is that of the chain in watts, but in joules or watt-hours over the whole scene: in = delivered + tolls + change
in stores. What a store gives joins the stream at its start; what it keeps leaves at the end, outlined: it is not lost.
`upright` runs from top to bottom, for a phone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.present.drawings.canvas import SMALL, Canvas, num
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.numbers import THIN
from sparewatt.present.palette import PRINT, Palette
from sparewatt.present.words_seconds import ledger_rows, ledger_sentence
from sparewatt.present.words_seconds_reading import energy, energy_unit
from sparewatt.studies.scenes.answers import Entry, SceneAnswer

__all__ = ["caption", "ledger"]

caption = ledger_sentence
WIDE, NARROW = 1080.0, 344.0
MOST_TOLLS = 7
SMALLEST = 0.015  # share of what goes in below which tolls are told together
TINY = 1e-3  # share of the largest entry below which one is nothing
BEND = 9.0
HAIR = 1.5
MINUS = "\u2212"


@dataclass(frozen=True, slots=True)
class Flow:
    """One part of the stream: its name, joules (positive), and "in", "delivered", "toll" or "store"."""

    name: str
    joules: float
    side: str


def ledger(
    answer: SceneAnswer, *, upright: bool = False, wide: float | None = None, key: str = "", cls: str | None = None,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The ledger of one scene as a drawing."""
    ways = cls if cls is not None else ("dw-narrow" if upright else "dw-wide")
    flows = _flows(answer.ledger)
    sheet, name = wide or (NARROW if upright else WIDE), key or ("ledger-n" if upright else "ledger")
    if not any(f.side == "in" for f in flows):
        c = Canvas(sheet, 40, key=name, title="Where the energy goes", desc="There is no energy to show.")
        c.text(4, 24, "There is no energy to show.", size=17)
        return c.svg(standalone=standalone, palette=palette, cls=ways)
    drawing = _Ledger(answer, flows, sheet, name)
    c = drawing.down() if upright else drawing.along()
    return c.svg(standalone=standalone, palette=palette, cls=ways)


def _flows(entries: Sequence[Entry]) -> list[Flow]:
    """What goes in, what turns away and what comes out, all positive; small tolls together."""
    known = [e for e in entries if math.isfinite(e.joules)]
    least = TINY * max([0.0, *(abs(e.joules) for e in known)])
    known = [e for e in known if abs(e.joules) > least]
    into = [Flow(e.name, e.joules, "in") for e in known if e.side == "in" and e.joules > 0]
    total = sum(f.joules for f in into) or 1.0
    into += [
        Flow(f"out of {_bare(e.name)}", -e.joules, "in") for e in known if e.side != "in" and e.joules < 0
    ]
    tolls = [Flow(e.name, e.joules, "toll") for e in known if e.side == "toll" and e.joules > 0]
    tolls += [
        Flow(f"back into {_bare(e.name)}", -e.joules, "toll")
        for e in known
        if e.side == "in" and e.joules < 0
    ]
    outs = [Flow(e.name, e.joules, "delivered") for e in known if e.side == "delivered" and e.joules > 0]
    outs += [
        Flow(f"into {_bare(e.name)}", e.joules, "store") for e in known if e.side == "store" and e.joules > 0
    ]
    few = ((into, "in", 3), (tolls, "toll", MOST_TOLLS), (outs, "store", 3))
    return [flow for flows, side, most in few for flow in _few(flows, side, most, total)]


def _few(flows: list[Flow], side: str, most: int, total: float) -> list[Flow]:
    """At most so many, in their order; the smallest are told as one."""
    big = sorted((f for f in flows if f.joules >= SMALLEST * total), key=lambda f: -f.joules)[:most]
    rest = [f for f in flows if f not in big]
    if len(rest) < 2:
        return flows
    told = Flow(f"{len(rest)} more together", sum(f.joules for f in rest), side)
    return [*(f for f in flows if f in big), told]


def _bare(name: str) -> str:
    """A part without the way that leads into it: "into the battery" and "battery" are the battery."""
    for way in ("into ", "in ", "out of "):
        name = name.removeprefix(way)
    return (
        name if name[:1].isupper() or name.startswith(("the ", "your ", "what ", "wheels")) else f"the {name}"
    )


class _Ledger:
    """One ledger being drawn."""

    STREAM = 130.0
    DOWN = 92.0

    def __init__(self, answer: SceneAnswer, flows: list[Flow], wide: float, key: str) -> None:
        self.into = [f for f in flows if f.side == "in"]
        self.tolls = [f for f in flows if f.side == "toll"]
        self.outs = [f for f in flows if f.side in ("delivered", "store")]
        self.total = max(sum(f.joules for f in self.into), 1e-12)
        self.unit = energy_unit(
            sum(e.joules for e in answer.ledger if e.side == "in" and math.isfinite(e.joules))
        )
        self.wide = wide
        self.canvas = Canvas(
            wide, 60, key=key, title=f"Where the energy goes: {answer.name}", desc=_long_text(answer)
        )

    def say(self, joules: float) -> str:
        """A bare number in the unit of the picture."""
        return energy(joules, self.unit)

    # along --------------------------------------------------------------------------------------------------------
    def along(self) -> Canvas:
        """From left to right: what goes in stands stacked at the left, tolls curl down, what arrives stands at the right."""
        c = self.canvas
        scale = self.STREAM / self.total
        end = max(self._room(f) for f in [*self.outs, Flow("", 0.0, "delivered")]) + 34
        start = max(self._room(f) for f in self.into) + 28
        tallest = max(self._stack(self.into), self._stack(self.outs))
        arrives = self.total - sum(f.joules for f in self.tolls)
        top = max(
            14.0,
            (self._stack(self.into) - self.STREAM) / 2 + 6,
            (self._stack(self.outs) - max(arrives, 0.0) * scale) / 2 + 6,
        )
        step = (self.wide - start - end) / max(len(self.tolls), 1)
        left, edges, bank = self.total, [], [(start, top), (start, top + self.STREAM)]
        for k, toll in enumerate(self.tolls):
            left = max(left - toll.joules, 0.0)
            y = top + left * scale
            edges.append(y)
            bank += [(start + k * step, y), (start + (k + 1) * step, y)]
        bank = bank if self.tolls else [*bank, (self.wide - end, top + self.STREAM)]
        c.area([*bank, (self.wide - end, top)], "df-sand")
        c.curve(bank[1:], "dl", 1.5)
        c.line(start, top, self.wide - end, top, "dl", 2)
        low = top + self.STREAM
        for k, (toll, y) in enumerate(zip(self.tolls, edges, strict=True)):
            t = max(toll.joules * scale, HAIR)
            c.open(f"{toll.name}: {self.say(toll.joules)} {self.unit}", data="toll")
            c.path(
                _curl(start + k * step, y, t, max(8.0, min(step * 0.25, step - BEND - t - 30))), "df-toll", 0
            )
            c.close()
            low = max(low, y + t + BEND + 10)
        words = [
            self._toll_words(start + k * step, low + 12, step, toll) for k, toll in enumerate(self.tolls)
        ]
        self._stacked(self.into, start - 12, top, scale, self.STREAM, left_side=True)
        self._mouths(self.wide - end, top, scale, left)
        c.high = max([*words, low, top + (self.STREAM + tallest) / 2]) + 6
        return c

    def _room(self, f: Flow) -> float:
        lines = wrap(f.name, 150, SMALL)
        number = width(f"{self.say(f.joules)}{THIN}{self.unit}", 22, bold=True)
        return max([number, *(width(w, SMALL) for w in lines)])

    def _stack(self, flows: Sequence[Flow]) -> float:
        return sum(self._tall(f) for f in flows)

    def _tall(self, f: Flow) -> float:
        return 30.0 + 18 * len(wrap(f.name, 150, SMALL))

    def _toll_words(self, x: float, y: float, step: float, toll: Flow) -> float:
        """The toll's number and name under its curl."""
        c = self.canvas
        c.text(x + 4, y + 6, f"{MINUS}{self.say(toll.joules)}", size=18, bold=True)
        return c.lines(x + 4, y + 26, wrap(toll.name, step - 10, SMALL, most=3), step=18, cls="dt-soft")

    def _stacked(
        self, flows: Sequence[Flow], x: float, top: float, scale: float, thick: float, *, left_side: bool
    ) -> float:  # fmt: skip
        """Flows beside the end of the stream, each with a bracket as thick as it is and its words level with it."""
        c = self.canvas
        middles, y = [], top
        for f in flows:
            t = f.joules * scale
            middles.append(y + t / 2)
            y += t
        sizes = [self._tall(f) for f in flows]
        placed, at = [], top + thick / 2 - sum(sizes) / 2
        for size in sizes:
            placed.append(at + size / 2)
            at += size
        y = top
        way = -1 if left_side else 1
        for f, middle, wanted, size in zip(flows, placed, middles, sizes, strict=True):
            t = f.joules * scale
            if len(flows) > 1:
                c.line(x, y + 1, x, y + max(t - 1, 2), "dl", 3)
                c.line(x, wanted, x + way * 8, middle, "dl-soft", 1.5)
            self._words(f, x + way * (12 if len(flows) > 1 else 2), middle - size / 2 + 20, left_side)
            y += t
        return at

    def _words(self, f: Flow, x: float, y: float, left_side: bool) -> None:
        c = self.canvas
        number, side = self.say(f.joules), "end" if left_side else "start"
        c.text(x, y, f"{number}{THIN}{self.unit}", size=22, bold=True, anchor=side)
        c.lines(x, y + 18, wrap(f.name, 150, SMALL), step=18, anchor=side, cls="dt-soft")

    def _mouths(self, x: float, top: float, scale: float, left: float) -> float:
        """What arrives as an open end, what stays in store as an outlined box."""
        c = self.canvas
        total = sum(f.joules for f in self.outs)
        share = left / total if total > 0 else 0.0
        y = top
        for f in self.outs:
            t = max(f.joules * share * scale, HAIR)
            if f.side == "delivered":
                c.path(f"M{num(x)} {num(y)}L{num(x + 11)} {num(y + t / 2)}L{num(x)} {num(y + t)}", "dl", 3)
            else:
                c.rect(x, y + 1, 11, max(t - 2, 2), "ds-box", 2)
            y += t
        return (
            self._stacked(self.outs, x + 18, top, scale * share, left * scale, left_side=False)
            if self.outs
            else y
        )

    # down ---------------------------------------------------------------------------------------------------------
    def down(self) -> Canvas:
        """From top to bottom: words right of the stream, tolls turn out to the right."""
        c = self.canvas
        scale = self.DOWN / self.total
        bank, y = 6.0, 8.0
        words = bank + self.DOWN + 22
        room = self.wide - words - 2
        top = y
        for f in self.into:
            y = self._line(f, words, y, room)
        y += 4
        left = self.total
        edge = [(bank + self.DOWN, top), (bank + self.DOWN, y)]
        curls: list[tuple[float, float, float]] = []
        said: list[tuple[float, Flow, list[str]]] = []
        for toll in self.tolls:
            t = max(toll.joules * scale, HAIR)
            left = max(left - toll.joules, 0.0)
            after = left * scale
            lines = wrap(toll.name, room, SMALL, most=3)
            tall = max(30.0 + 18 * len(lines), t + 2 * BEND + 16)
            edge += [(bank + after, y), (bank + after, y + tall)]
            curls.append((bank + after, y, t))
            said.append((y, toll, lines))
            y += tall
        c.area([(bank, top), *edge, (bank, y)], "df-sand")
        c.curve(edge, "dl", 1.5)
        for (x, at, t), (_, toll, lines) in zip(curls, said, strict=True):
            c.open(f"{toll.name}: {self.say(toll.joules)} {self.unit}", data="toll")
            c.path(_curl_down(x, at, t, words - 10), "df-toll", 0)
            c.close()
            c.text(words, at + 20, f"{MINUS}{self.say(toll.joules)}", size=18, bold=True)
            c.lines(words, at + 38, lines, step=18, cls="dt-soft")
        c.line(bank, top, bank, y, "dl", 2)
        end = self._mouths_down(bank, y, scale, left, words, room)
        c.high = end + 6
        return c

    def _line(self, f: Flow, x: float, y: float, room: float) -> float:
        c = self.canvas
        c.text(x, y + 20, f"{self.say(f.joules)}{THIN}{self.unit}", size=22, bold=True)
        return c.lines(x, y + 39, wrap(f.name, room, SMALL, most=3), step=18, cls="dt-soft") + 2

    def _mouths_down(
        self, bank: float, y: float, scale: float, left: float, words: float, room: float
    ) -> float:
        c = self.canvas
        total = sum(f.joules for f in self.outs)
        share = left / total if total > 0 else 0.0
        x = bank
        for f in self.outs:
            t = max(f.joules * share * scale, HAIR)
            if f.side == "delivered":
                c.path(f"M{num(x)} {num(y)}L{num(x + t / 2)} {num(y + 11)}L{num(x + t)} {num(y)}", "dl", 3)
            else:
                c.rect(x + 1, y, max(t - 2, 2), 11, "ds-box", 2)
            x += t
        y += 4
        for f in self.outs:
            y = self._line(f, words, y, room)
        return y


def _curl(x: float, y: float, t: float, run: float) -> str:
    """A strip of thickness t that lies under the stream at y and turns down after `run`."""
    out = BEND + t
    xa = x + run
    return (
        f"M{x:.1f} {y:.1f}H{xa:.1f}A{out:.1f} {out:.1f} 0 0 1 {xa + out:.1f} {y + out:.1f}"
        f"v8h{-t:.1f}v-8A{BEND} {BEND} 0 0 0 {xa:.1f} {y + t:.1f}H{x:.1f}Z"
    )


def _curl_down(x: float, y: float, t: float, end: float) -> str:
    """A strip beside the stream at x that turns out to the right."""
    out = BEND + t
    reach = max(end - x - out, 4.0)
    return (
        f"M{x:.1f} {y:.1f}V{y + 6:.1f}A{out:.1f} {out:.1f} 0 0 0 {x + out:.1f} {y + 6 + out:.1f}"
        f"h{reach:.1f}v{-t:.1f}h{-reach:.1f}A{BEND} {BEND} 0 0 1 {x + t:.1f} {y + 6:.1f}V{y:.1f}Z"
    )


def _long_text(answer: SceneAnswer) -> str:
    lines = "; ".join(f"{row.name}, {row.side}: {row.amount}" for row in ledger_rows(answer))
    return f"{ledger_sentence(answer)} {lines}."
