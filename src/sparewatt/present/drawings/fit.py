"""The fit of one kind of reading: the line with its 90 % band, every reading with its error bar, and what is left over.

A reading that counts is a solid dot. One that does not fit is a hollow diamond with its line in the readings file beside
it; one that was left out by hand is a cross. Below the line stands how far each lies off it, in its own usual errors.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.drawings import labels as tags
from sparewatt.present.drawings.axes import Axis, bottom, frame, upright
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.labels import Box, Label
from sparewatt.present.numbers import amount, band
from sparewatt.present.palette import PRINT, Palette
from sparewatt.quantities.units import factor
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import FittedPicture, ReadingRow
from sparewatt.studies.bench.reading_kinds import KINDS

__all__ = ["caption", "drawable", "fit_picture", "heading"]

F = NDArray[np.float64]
HALF = 1.6448536269514722  # standard deviations in half of a 90 % band of a normal distribution
MOST_OFF = 4.0  # usual errors shown below the line; what lies further off stands at the edge
LEFT_OUT, ODD = "left out", "odd"
# SI unit -> unit of the axis, and its words
_AXIS = {"rad/s": ("rpm", "turns a minute"), "1": ("1", ""), "K": ("K", "K")}
_WORDS = {
    ("speed", "rad/s"): "turns a minute of the shaft",
    ("time", "s"): "seconds since it was let go",
    ("crank_turns", "1"): "turns of the crank",
    ("machine_turns", "1"): "turns of the machine",
    ("watts out", "W"): "watts out of the board",
    ("watts lost", "W"): "watts it keeps",
}


def drawable(picture: FittedPicture) -> bool:
    """There is a line and a reading to draw."""
    return picture.x.size > 1 and bool(np.isfinite(picture.y).any()) and bool(_shown(picture.points))


def heading(picture: FittedPicture) -> str:
    """What the picture shows, for the words above it."""
    kind = KINDS.get(picture.procedure)
    says = kind.says if kind is not None else picture.procedure
    return says[:1].upper() + says[1:]


def axis_words(name: str, unit: str) -> str:
    """An axis in words people say."""
    said = _WORDS.get((name, unit))
    if said:
        return said
    words = _AXIS.get(unit, (unit, unit))[1]
    return name if name in ("volts", "amps", "watts") else f"{name}, {words}" if words else name


def fit_picture(
    picture: FittedPicture, *, odd: Mapping[str, str] | None = None, wide: float = 560, key: str = "fit",
    cls: str = "dw-wide", standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The line, its band, the readings, and the residuals under them. odd: key of a reading -> the cause, in a few words."""
    p = _in_units(picture)
    odd = odd or {}
    roomy = wide > 500
    high = round(wide * (0.52 if roomy else 0.78))
    left = 58.0
    c = Canvas(wide, high + 190, key=key, title=heading(picture), desc=caption(picture, odd))
    x = Axis(
        min(0.0, float(p.x[0])) if p.x[0] < 0.3 * p.x[-1] else float(p.x[0]), float(p.x[-1]), left, wide - 14
    )
    y = _height(p, Axis(0.0, 1.0, high, 34))
    _band(c, p, x, y)
    ink = _line(c, p, x, y)
    wanted = [_bar(c, point, x, y, odd, ink) for point in _shown(p.points)]
    bottom(c, x, high, "", most=6 if roomy else 4)
    upright(c, y, left, axis_words(picture.y_name, picture.y_unit))
    box = frame(x, y)
    inner = Box(box.x0 + 6, box.y0, box.x1 - 2, box.y1 - 4)
    placed, _left = tags.place(
        [one for one in wanted if one is not None], inner, ink=ink, blocked=_boxes(p, x, y)
    )
    tags.draw(c, placed)
    _below(c, p, x, high, odd)
    c.text(wide - 14, high + 186, axis_words(picture.x_name, picture.x_unit), anchor="end", cls="dt-soft")
    return c.svg(standalone=standalone, palette=palette, cls=cls)


def caption(picture: FittedPicture, odd: Mapping[str, str] | None = None) -> str:
    """How many readings lie on the line, which do not, and what the line says at its middle."""
    points = _shown(picture.points)
    off = [point for point in points if not point.used]
    count = len(points) - len(off)
    said = f"{count} reading{'' if count == 1 else 's'} make{'s' if count == 1 else ''} the line"
    if off:
        named = [_named(point, odd or {}) for point in off[:4]]
        more = f" and {len(off) - 4} more" if len(off) > 4 else ""
        said += f"; not counted: {'; '.join(named)}{more}"
    return f"{said}. {_middle(picture)}"


def _named(point: ReadingRow, odd: Mapping[str, str]) -> str:
    why = LEFT_OUT if _by_hand(point) else odd.get(point.key, ODD)
    return f"line {point.lines[0]}, {why}" if point.lines else why


def _middle(picture: FittedPicture) -> str:
    """What the line says where the used readings lie, with its band."""
    used = [point.x for point in picture.points if point.used]
    at = max(used, default=float(picture.x[-1]))
    where = amount(at, picture.x_unit, digits=3).text
    what = _WORDS.get((picture.x_name, picture.x_unit), picture.x_name) if picture.x_unit == "1" else ""
    at_all = f"At {where} {what}".rstrip()
    lines = (picture.y, picture.low, picture.high)
    mid, low, high = (float(np.interp(at, picture.x, line)) for line in lines)
    if not (math.isfinite(low) and math.isfinite(high)):
        return f"{at_all} it says {amount(mid, picture.y_unit, digits=3).text}; no band can be given yet."
    said = band(Band(mid, low, high, "measured"), picture.y_unit).text
    return f"{at_all} it says {said}, nine times out of ten."


# ---- in the units of the axes ----


def _in_units(picture: FittedPicture) -> FittedPicture:
    fx, fy = (factor(_AXIS.get(unit, (unit, ""))[0]) for unit in (picture.x_unit, picture.y_unit))
    points = tuple(
        replace(point, x=point.x / fx, seen=point.seen / fy, sd=point.sd / fy) for point in picture.points
    )
    return replace(
        picture,
        x=picture.x / fx,
        y=picture.y / fy,
        low=picture.low / fy,
        high=picture.high / fy,
        points=points,
    )


def _shown(points: Sequence[ReadingRow]) -> list[ReadingRow]:
    return [point for point in points if math.isfinite(point.x) and math.isfinite(point.seen)]


def _height(p: FittedPicture, y: Axis) -> Axis:
    """An axis that holds the line and what counts; a reading far off does not squash the rest."""
    line = np.concatenate([v[np.isfinite(v)] for v in (p.y, p.low, p.high)])
    reach = float(np.ptp(p.y[np.isfinite(p.y)])) or 1.0
    middle = p.y[np.isfinite(p.y)]
    line = line[(line > middle.min() - reach) & (line < middle.max() + reach)]
    used = [point for point in _shown(p.points) if point.used]
    seen = [point.seen + side * HALF * point.sd for point in used for side in (-1, 1)]
    low, high = min([float(line.min()), *seen]), max([float(line.max()), *seen])
    near = [
        point.seen for point in _shown(p.points)
        if not point.used and low - 0.6 * (high - low) < point.seen < high + 0.6 * (high - low)
    ]  # fmt: skip
    low, high = min([low, *near]), max([high, *near])
    low = 0.0 if 0 <= low < 0.5 * high else low
    room = 0.08 * ((high - low) or abs(high) or 1.0)
    return replace(y, low=low - (room if low else 0.0), high=high + room)


# ---- the upper part ----


def _band(c: Canvas, p: FittedPicture, x: Axis, y: Axis) -> None:
    known = np.isfinite(p.low) & np.isfinite(p.high)
    if known.sum() < 2:
        return
    xs, low, high = p.x[known], np.clip(p.low[known], y.low, y.high), np.clip(p.high[known], y.low, y.high)
    up = [(x(float(a)), y(float(b))) for a, b in zip(xs, high, strict=True)]
    down = [(x(float(a)), y(float(b))) for a, b in zip(xs, low, strict=True)]
    c.area([*up, *reversed(down)], "df-band")


def _line(c: Canvas, p: FittedPicture, x: Axis, y: Axis) -> list[tuple[float, float]]:
    points = [
        (x(float(a)), y(float(b)))
        for a, b in zip(p.x, p.y, strict=True)
        if np.isfinite(b) and y.low <= b <= y.high
    ]
    c.curve(points, "dl", 2.5)
    close = []
    for (x1, y1), (x2, y2) in itertools.pairwise(points):
        steps = max(1, int(math.hypot(x2 - x1, y2 - y1) / 8))
        close += [(x1 + (x2 - x1) * k / steps, y1 + (y2 - y1) * k / steps) for k in range(steps)]
    return close


def _bar(
    c: Canvas, point: ReadingRow, x: Axis, y: Axis, odd: Mapping[str, str], ink: list[tuple[float, float]]
) -> Label | None:
    """One reading: its 90 % error bar and its mark; the words beside it when it does not count."""
    at, inside = x(point.x), min(max(point.seen, y.low), y.high)
    beyond = inside != point.seen
    here = y(inside)
    half = HALF * point.sd
    if math.isfinite(half) and not beyond:
        top, low = (y(min(max(v, y.low), y.high)) for v in (point.seen + half, point.seen - half))
        if low - top > 12:
            c.line(at, top, at, low, "dl", 1.5)
            c.line(at - 4, top, at + 4, top, "dl", 1.5)
            c.line(at - 4, low, at + 4, low, "dl", 1.5)
    _mark(c, point, at, here)
    if beyond:
        way = -1 if point.seen > y.high else 1
        c.path(f"M{at - 5:.1f} {here - way * 10:.1f}l5 {way * 7}l5 {-way * 7}", "dl-acc", 2)
    ink += [(at + a, here + b) for a in (-6, 0, 6) for b in (-6, 0, 6)]
    if point.used:
        return None
    words = _named(point, odd)
    return Label(
        words=words, anchors=[(at, here)], cls="dt-acc" if not _by_hand(point) else "dt-soft", bold=True
    )


def _boxes(p: FittedPicture, x: Axis, y: Axis) -> list[Box]:
    """Where the marks that have words stand."""
    at = [(x(o.x), y(min(max(o.seen, y.low), y.high))) for o in _shown(p.points) if not o.used]
    return [Box(a - 10, b - 11, a + 10, b + 11) for a, b in at]


def _by_hand(point: ReadingRow) -> bool:
    return point.left_out.startswith("you put")


def _mark(c: Canvas, point: ReadingRow, x: float, y: float) -> None:
    if point.used:
        c.ring(x, y, 4, "df-ink", 0)
    elif _by_hand(point):
        c.path(f"M{x - 6:.1f} {y - 6:.1f}l12 12m0 -12l-12 12", "dl-soft", 2.5)
    else:
        c.path(f"M{x:.1f} {y - 9:.1f}l9 9l-9 9l-9 -9Z", "ds-boxacc", 2.5)


# ---- what is left over ----


def _below(c: Canvas, p: FittedPicture, x: Axis, high: float, odd: Mapping[str, str]) -> None:
    """How far each reading lies off the line, in its own usual errors; nine in ten lie in the band."""
    y = Axis(-MOST_OFF, MOST_OFF, high + 160, high + 68)
    c.text(2, high + 52, "how far off the line, in usual errors", cls="dt-soft")
    c.area([(x.start, y(HALF)), (x.end, y(HALF)), (x.end, y(-HALF)), (x.start, y(-HALF))], "df-band")
    c.line(x.start, y(0), x.end, y(0), "dl", 1.5)
    for tick in (-3, 0, 3):
        c.text(x.start - 10, y(tick) + 5, f"{tick:+d}".replace("-", "\u2212") if tick else "0", anchor="end")
    far: list[tuple[float, float, str]] = []
    for point in _shown(p.points):
        if not math.isfinite(point.residual):
            continue
        at, inside = x(point.x), min(max(point.residual, -MOST_OFF), MOST_OFF)
        c.line(at, y(0), at, y(inside), "dl" if point.used else "dl-acc", 2)
        _mark(c, point, at, y(inside))
        if inside != point.residual:
            far.append((at, y(inside), f"{point.residual:+.0f}".replace("-", "\u2212")))
    marks = [Box(at - 9, up - 9, at + 9, up + 9) for at, up, _ in far]
    wanted = [
        Label(words=words, anchors=[(at, up)], bold=True, cls="dt-acc", worth=70, wish="right")
        for at, up, words in far
    ]
    placed, _left = tags.place(wanted, Box(x.start, high + 58, x.end, high + 172), blocked=marks)
    tags.draw(c, placed)
