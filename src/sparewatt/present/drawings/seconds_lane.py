"""The lane of the board: when it sleeps (dots), passes the volts straight through (crosses), or feeds nothing (chevrons)."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparewatt.present.drawings.axes import Axis
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.words_seconds_rows import series
from sparewatt.studies.scenes.answers import Happening, SceneAnswer

__all__ = ["HIGH", "Spell", "draw_lane", "lane_words", "spells"]

HIGH = 18.0  # two repeats of the dots
NARROW = 14.0  # px: a shorter spell is one column of its pattern
MOST_BEATS = 400
CLOSE = 5.0  # px between such columns
_KINDS = (
    (
        "chevrons",
        frozenset({"load_quits", "drops_out"}),
        frozenset({"load_restarts", "holds_again", "passes"}),
    ),
    ("crosses", frozenset({"passes"}), frozenset({"holds_again", "drops_out", "sleeps"})),
    ("dots", frozenset({"sleeps"}), frozenset({"wakes"})),
)
_ORDER = {pattern: k for k, (pattern, _, _) in enumerate(_KINDS)}
_WORDS = {
    "dots": "dots, asleep",
    "crosses": "crosses, passing straight through",
    "chevrons": "chevrons, load not served",
}


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch of time in which the board does not hold its setting."""

    pattern: str
    start: float
    end: float


def spells(a: SceneAnswer) -> list[Spell]:
    """Every stretch of the main rig, from the happenings that begin and end it."""
    found: list[Spell] = []
    mine = sorted((h for h in a.happenings if h.unit_of == 0 and math.isfinite(h.at)), key=lambda h: h.at)
    for pattern, begins, ends in _KINDS:
        found += [s for h in mine if h.key in begins for s in _beats(pattern, h)]
        since: float | None = None
        seen = False
        for h in mine:
            if h.key in begins and series(h) is not None:
                since, seen = None, True
            elif h.key in begins and since is None:
                since, seen = h.at, True
            elif h.key in ends:
                if since is not None:
                    found.append(Spell(pattern, since, h.at))
                elif not seen and pattern == "dots":
                    found.append(Spell(pattern, 0.0, h.at))  # the first that is heard of it is that it wakes
                since, seen = None, True
        if since is not None:
            found.append(Spell(pattern, since, a.duration))
    return sorted((s for s in found if s.end > s.start), key=lambda s: (_ORDER[s.pattern], s.start))


def _beats(pattern: str, h: Happening) -> list[Spell]:
    """A series told in one happening: half of every beat, because more is not known of it."""
    run = series(h)
    if run is None or not run.period > 0:
        return []
    starts = [h.at + k * run.period for k in range(min(run.times, MOST_BEATS))]
    return [Spell(pattern, t, t + 0.5 * run.period) for t in starts]


def lane_words(found: list[Spell]) -> str:
    """The words over the lane: only what is there."""
    there = [words for pattern, words in _WORDS.items() if any(s.pattern == pattern for s in found)]
    return f"the board: {'; '.join(there)}"


def draw_lane(c: Canvas, found: list[Spell], x: Axis, y: float, unit: float) -> None:
    """The lane with its upper edge at y."""
    pattern, marked = "", -CLOSE
    for spell in found:
        first, last = (min(max(x(t / unit), x.start), x.end) for t in (spell.start, spell.end))
        if spell.pattern != pattern:
            pattern, marked = spell.pattern, -CLOSE
        if last - first < NARROW:
            middle = (first + last) / 2
            if middle - marked >= CLOSE:
                _mark(c, spell.pattern, middle, y)
                marked = middle
            continue
        c.rect(first, y, last - first, HIGH, "df-paper")
        c.rect(first, y, last - first, HIGH, c.pattern(spell.pattern))
        c.line(first, y, first, y + HIGH, "dl-soft", 2)
        c.line(last, y, last, y + HIGH, "dl-soft", 2)
    c.line(x.start, y, x.end, y, "dl-rule", 1.5)
    c.line(x.start, y + HIGH, x.end, y + HIGH, "dl-rule", 1.5)


def _mark(c: Canvas, pattern: str, x: float, y: float) -> None:
    """A spell too short for its pattern: one column of it."""
    if pattern == "dots":
        for down in (4.5, 13.5):
            c.ring(x, y + down, 1.5, "df-soft", 0)
    elif pattern == "crosses":
        c.path(f"M{x:.1f} {y + 5.5:.1f}v7m-3.5 -3.5h7", "dl-soft", 1.8)
    else:
        c.path(f"M{x - 2:.1f} {y + 6:.1f}l4 3l-4 3", "dl-soft", 2)
