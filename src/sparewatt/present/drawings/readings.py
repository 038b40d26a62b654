"""What was read while riding, against what each of the first causes gives: a band each, and one line for the reading.

A band that the line crosses goes with the reading; one that it misses does not, and says so. `upright`: for a phone.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from sparewatt.present import words_mend as say
from sparewatt.present.drawings.canvas import SMALL, Canvas
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.palette import PRINT, Palette
from sparewatt.rig.outcome import Band
from sparewatt.studies.mend.answers import Foretold, Mended

__all__ = ["caption", "readings"]

WIDE, NARROW = 1080.0, 344.0
MOST, CAUSES = 6, 3
BAR, STEP, HEAD, GAP, LINE = 14.0, 25.0, 27.0, 20.0, 18.0
MARGIN = 0.12  # of the span of a lane, on either side
LEAST = 3.0  # px: the narrowest band that can be seen


@dataclass(frozen=True, slots=True)
class Lane:
    """One reading: its words, and for each cause (its name, its band, whether it fits)."""

    title: str
    seen: float
    rows: tuple[tuple[str, Foretold], ...]


def caption(m: Mended) -> str:
    """The sentence under the picture, which can stand alone."""
    lanes = _lanes(m)
    if not lanes:
        return ""
    first = m.answer.causes[0].name
    missed = [lane.title.split(",")[0].lower() for lane in lanes if not say.fits(lane.rows[0][1])]
    if missed:
        return (
            f"Each line is what you read. If {first}, the bands take in all of them but: {'; '.join(missed)}."
        )
    return f"Each line is what you read. If {first}, every band takes its line in."


def readings(
    m: Mended, *, upright: bool = False, wide: float | None = None, key: str = "", cls: str | None = None,
    standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """Each reading against what each cause gives; "" when there is nothing to compare."""
    lanes = _lanes(m)
    if not lanes:
        return ""
    sheet = wide or (NARROW if upright else WIDE)
    name = key or ("readings-n" if upright else "readings")
    high = sum(_head(lane, sheet) + GAP + _row_height(upright) * len(lane.rows) for lane in lanes)
    c = Canvas(sheet, high, key=name, title="What you read, against what each cause gives", desc=_told(lanes))
    y = 0.0
    for lane in lanes:
        y = _lane(c, lane, y, upright)
    ways = cls if cls is not None else ("dw-narrow" if upright else "dw-wide")
    return c.svg(standalone=standalone, palette=palette, cls=ways)


def _title(lane: Lane, room: float) -> list[str]:
    return wrap(lane.title, room, SMALL, bold=True)


def _head(lane: Lane, room: float) -> float:
    """Height of a lane's title."""
    return HEAD + LINE * (len(_title(lane, room)) - 1)


def _row_height(upright: bool) -> float:
    return STEP + 2 * LINE if upright else STEP


def _lanes(m: Mended) -> list[Lane]:
    """The readings on which the causes differ most, in the order they were read."""
    causes = m.answer.causes
    told = [n for n, c in enumerate(causes[:CAUSES]) if n < 2 or c.likelihood >= 0.01]
    well = next((n for n, c in enumerate(causes) if c.key == "normal"), None)
    told = [n for n in told if n != well] + ([well] if well is not None else [])
    if not told or not m.more[told[0]].foretold:
        return []
    several = len(m.moments) > 1
    found: list[tuple[float, int, Lane]] = []
    for k, first in enumerate(m.more[told[0]].foretold):
        row = tuple((causes[n].name, m.more[n].foretold[k]) for n in told)
        if not all(math.isfinite(f.band.mid) for _name, f in row):
            continue
        what, read = say.what_read(first)
        at = f"{m.moments[first.moment].at}: ".capitalize() if several else ""
        title = f"{at}{what.lower() if several else what}, you read {read}"
        mids = [f.band.mid for _name, f in row]
        spread = max(min(f.band.high - f.band.low for _name, f in row), 1e-9)
        found.append((-(max(mids) - min(mids)) / spread, k, Lane(title, first.seen, row)))
    best = sorted(found)[:MOST]
    return [lane for _far, _k, lane in sorted(best, key=lambda one: one[1])]


def _lane(c: Canvas, lane: Lane, y: float, upright: bool) -> float:
    """One reading drawn; gives where the next one begins."""
    c.lines(0, y + 17, _title(lane, c.wide), size=SMALL, step=LINE, bold=True)
    y += _head(lane, c.wide)
    words = 0.0 if upright else 330.0
    left, right = words + 4, c.wide - (6 if upright else 300)
    low = min([lane.seen, *(f.band.low for _n, f in lane.rows)])
    high = max([lane.seen, *(f.band.high for _n, f in lane.rows)])
    pad = MARGIN * max(high - low, 1e-9)
    low, high = low - pad, high + pad

    def across(value: float) -> float:
        return left + (right - left) * (value - low) / (high - low)

    top = y
    for name, f in lane.rows:
        says = say.given(f) + ("" if say.fits(f) else ", does not fit")
        if upright:
            c.text(0, y + 13, _short(name, c.wide), size=SMALL)
            c.text(10, y + 13 + LINE, _short(says, c.wide - 10), size=SMALL)
            y += 2 * LINE
        else:
            c.text(words - 10, y + 13, _short(name, words - 14), size=SMALL, anchor="end")
            c.text(right + 12, y + 13, _short(says, c.wide - right - 12), size=SMALL)
        _bar(c, across, f.band, y, say.fits(f))
        if upright:
            c.line(across(lane.seen), y - 2, across(lane.seen), y + BAR + 6, "dl", 3)
        y += STEP
    if not upright:
        c.line(across(lane.seen), top - 2, across(lane.seen), y - 6, "dl", 3)
    c.line(0, y + 3, c.wide, y + 3, "dl-rule", 1.5)
    return y + GAP


def _bar(c: Canvas, across: Callable[[float], float], band: Band, y: float, fits: bool) -> None:
    """A band: filled where it goes with the reading, hollow where it does not."""
    x, wide = across(band.low), max(across(band.high) - across(band.low), LEAST)
    c.rect(x, y + 2, wide, BAR, "df-sand" if fits else "ds-box", 0 if fits else 2)


def _short(text: str, room: float) -> str:
    """The text, or as much of it as there is room for."""
    if width(text, SMALL) <= room:
        return text
    while text and width(f"{text}…", SMALL) > room:
        text = text[:-1]
    return f"{text.rstrip()}…"


def _told(lanes: list[Lane]) -> str:
    """The numbers of the picture."""
    return " ".join(
        f"{lane.title}. " + "; ".join(
            f"{name} gives {say.given(f)}" + ("" if say.fits(f) else ", which does not fit") for name, f in lane.rows
        ) + "."
        for lane in lanes
    )  # fmt: skip
