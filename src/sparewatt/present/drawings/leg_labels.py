"""The words that stand in the leg picture, each with the point it belongs to; the first are placed first."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings.axes import Axis
from sparewatt.present.drawings.labels import Label
from sparewatt.present.drawings.leg_text import crossings, load_words, span, turns
from sparewatt.present.numbers import amount, band, rpm
from sparewatt.quantities.units import factor
from sparewatt.rig.outcome import Band
from sparewatt.studies.answers import MatchAnswer

__all__ = ["View", "wanted"]

F = NDArray[np.float64]
Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """The drawing as the labels see it: axes, lines in drawn units, the spare's bracket, the ends of the edge line."""

    x: Axis
    y: Axis
    high: float  # y of the lower axis
    unit: str
    turns: F
    rider: F
    load: F
    bracket: tuple[float, float, float] | None
    edge: tuple[Point, Point] | None

    def sees(self, w: float) -> bool:
        """That cadence (rad/s) is inside the picture."""
        return self.x.low < turns(w) < self.x.high

    def on(self, values: F, shares: tuple[float, ...]) -> list[Point]:
        """Points on the visible part of a line, at these shares of its length."""
        seen = [
            (self.x(t), self.y(v))
            for t, v in zip(self.turns, values, strict=True)
            if np.isfinite(v) and 0 < v <= self.y.high
        ]
        return [seen[int(s * (len(seen) - 1))] for s in shares] if seen else []


def wanted(answer: MatchAnswer, view: View) -> list[Label]:
    """Every label of the picture."""
    labels = [*_points(answer, view), *_spare(answer.spare, view), *_breaks(answer, view)]
    legs, load = view.on(view.rider, (0.1, 0.2, 0.3)), view.on(view.load, (0.12, 0.25, 0.85, 0.95))
    labels += [Label(words="your legs", anchors=legs, wish="above")] if legs else []
    name = load_words(answer)
    labels += [Label(words=name, anchors=load, cls="dt-acc", bold=True, wish="above")] if load else []
    return [*labels, *_marks(answer, view), *_minor(answer, view)]


def _where(answer: MatchAnswer, view: View, main: bool) -> list[tuple[str, float, Point]]:
    """Kind, cadence and place of the crossings of one rank that are inside the picture."""
    found = []
    for cross, is_main in crossings(answer):
        at = (view.x(turns(cross.w_crank)), view.y(cross.torque_crank / factor(view.unit)))
        if is_main == main and math.isfinite(at[0]) and math.isfinite(at[1]) and at[1] >= view.y.end:
            found.append((cross.kind, cross.w_crank, at))
    return found


def _points(answer: MatchAnswer, view: View) -> list[Label]:
    """The holding and the tipping point the answer speaks of."""
    labels = []
    for kind, w, at in _where(answer, view, True):
        holds = kind == "holds"
        words = f"holds at {span(answer.hold, w)}" if holds else f"tips over below {rpm(w)}"
        labels.append(
            Label(words=words, anchors=[at], bold=True, size=17, wish="above" if holds else "below")
        )
    return labels


def _minor(answer: MatchAnswer, view: View) -> list[Label]:
    """The other crossings, where there is room for a word."""
    verbs = {"holds": "would hold at", "tips": "tips over at", "chatters": "chatters at"}
    return [
        Label(words=f"{verbs.get(kind, kind)} {rpm(w)}", anchors=[at], worth=70)
        for kind, w, at in _where(answer, view, False)
    ]


def _spare(spare: Band, view: View) -> list[Label]:
    """What is left between load and edge, or what is missing."""
    if view.bracket is None:
        return []
    x, top, low = view.bracket
    if spare.mid >= 0:
        return [Label(words=f"spare {band(spare, 'W').text}", anchors=[(x, low), (x, top)], wish="below")]
    short = band(Band(-spare.mid, -spare.high, -spare.low, spare.how), "W").text
    return [
        Label(
            words=f"short by {short}",
            anchors=[(x, top), (x, low)],
            bold=True,
            size=17,
            cls="dt-acc",
            wish="above",
        )
    ]


def _breaks(answer: MatchAnswer, view: View) -> list[Label]:
    """What may break, and from where on."""
    p = answer.picture
    if not turns(p.breaks) < view.x.high:
        return []
    x = view.x(max(turns(p.breaks), view.x.low))
    words = f"{p.breaks_what} may break above {rpm(p.breaks)}"
    words += f", past {amount(p.breaks_volts, 'V').text}" if math.isfinite(p.breaks_volts) else ""
    anchors = [(x, y) for y in (70, 120, 200)]
    return [Label(words=words, anchors=anchors, cls="dt-acc", wish="right", most=150)]


def _marks(answer: MatchAnswer, view: View) -> list[Label]:
    """Passing through, asleep, comfortable, and the edge of the legs."""
    p, labels = answer.picture, []
    if view.sees(p.passes):
        at = [(view.x(turns(p.passes)), y) for y in (view.y.end + 20, view.y.end + 80, view.high - 90)]
        words = f"passes straight through from {rpm(p.passes)}"
        labels.append(Label(words=words, anchors=at, cls="dt-soft", most=130))
    if view.sees(p.wakes):
        x = view.x(turns(p.wakes))
        at = [(x, view.high - 34), (x - 20, view.high - 27)]
        labels.append(Label(words=f"asleep below {rpm(p.wakes)}", anchors=at, cls="dt-soft", wish="above"))
    if view.sees(p.comfortable):
        at = [(view.x(turns(p.comfortable)), view.high - 15)]
        labels.append(Label(words=f"comfortable {rpm(p.comfortable)}", anchors=at, wish="above"))
    if view.edge and math.isfinite(answer.edges.legs):
        words = f"edge of the legs, {amount(answer.edges.legs, 'W').text} out"
        labels.append(Label(words=words, anchors=view.edge, cls="dt-soft", wish="above", most=150, worth=60))
    return labels
