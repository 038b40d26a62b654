"""Bout and breather: the work reserve going down with every bout and coming back in every breather, a saw with a slope."""

from __future__ import annotations

import math
from itertools import pairwise

from sparewatt.present.drawings import labels as tags
from sparewatt.present.drawings.axes import Axis, bottom
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.labels import Box, Label
from sparewatt.present.numbers import amount, band
from sparewatt.present.palette import PRINT, Palette
from sparewatt.studies.answers import Bout

__all__ = ["bout_saw", "caption"]


def bout_saw(
    bout: Bout, *, wide: float = 560, key: str = "bouts", cls: str = "dw-wide", standalone: bool = False,
    palette: Palette = PRINT,
) -> str:  # fmt: skip
    """The reserve of a rested rider along the first bouts; draw it 344 wide for a phone."""
    full = bout.full
    good = [(t, max(j, 0.0)) for t, j in bout.points if math.isfinite(t) and math.isfinite(j)]
    c = Canvas(wide, 290, key=key, title="Bout and breather", desc=f"{caption(bout)} {bout.says}")
    if len(good) < 2 or not full > 0:
        c.high = 40
        c.text(4, 24, "There is no bout to draw for this question.", size=17)
        return c.svg(standalone=standalone, palette=palette, cls=cls)
    unit, words = (60.0, "minutes") if good[-1][0] > 180 else (1.0, "seconds")
    x, y = Axis(0.0, good[-1][0] / unit, 62, wide - 16), Axis(0.0, 1.0, 228, 44)
    c.text(2, 22, "reserve left", cls="dt-soft")
    c.area(
        [(x(0), y(0)), *((x(t / unit), y(j / full)) for t, j in good), (x(good[-1][0] / unit), y(0))],
        "df-sand",
    )
    c.curve([(x(t / unit), y(j / full)) for t, j in good], "dl", 3)
    for share, name in ((1.0, "rested"), (0.5, "half"), (0.0, "spent")):
        c.line(x.start - 5, y(share), x.start, y(share))
        c.text(x.start - 9, y(share) + 5, name, anchor="end")
    c.line(x.start, y(1), x.start, y(0))
    bottom(c, x, 228, words)
    _name(c, bout, [(t, j / full) for t, j in good], x, y, unit)
    gone = next((t for t, j in good if j <= 0.0), math.nan)
    if math.isfinite(gone):
        at = x(gone / unit)
        c.line(at, y(1) - 8, at, y(0), "dl-acc", 3)
        c.text(at - 8, y(1) - 2, "the legs stop here", bold=True, cls="dt-acc", anchor="end", halo=True)
    return c.svg(standalone=standalone, palette=palette, cls=cls)


def _name(c: Canvas, bout: Bout, points: list[tuple[float, float]], x: Axis, y: Axis, unit: float) -> None:
    """Say once which slope is work and which is rest."""

    def at(t: float) -> tuple[float, float]:
        level = next((j for s, j in points if s >= t), points[-1][1])
        return (x(t / unit), y(level))

    wanted = [
        Label(words=f"{amount(bout.bout, 's').text} of work", anchors=[at(bout.bout * 0.45)], wish="right"),
        Label(
            words=f"{amount(bout.breather, 's').text} of rest",
            anchors=[at(bout.bout + bout.breather * k) for k in (0.5, 0.75)],
            wish="above",
        ),
    ]
    ink = [
        (x((t + (s - t) * k / 12) / unit), y(j + (i - j) * k / 12))
        for (t, j), (s, i) in pairwise(points)
        for k in range(12)
    ]
    placed, _ = tags.place(wanted, Box(x.start + 4, y.end - 18, x.end - 4, y.start - 3), ink=ink)
    tags.draw(c, placed)


def caption(bout: Bout) -> str:
    """The sentence under the saw."""
    work, power, rest = (
        amount(bout.bout, "s").text,
        amount(bout.p_bout, "W").text,
        amount(bout.breather, "s").text,
    )
    text = f"{work} of work at {power}, then {rest} of rest"
    if math.isinf(bout.cycles):
        return f"{text}: this can go on."
    count = max(0, math.floor(bout.cycles)) if math.isfinite(bout.cycles) else 0
    bouts = f"{count} bout" if count == 1 else f"{count} bouts"
    return (
        f"{text}: {bouts} until the reserve is gone. One unbroken bout lasts {band(bout.longest, 's').text}."
    )
