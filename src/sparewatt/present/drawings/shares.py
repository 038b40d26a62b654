"""Shares: how several rigs on one bus split the load, as they are and with the lead that makes it fair."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.numbers import amount, band
from sparewatt.present.palette import PRINT, Palette
from sparewatt.studies.answers import Shares, StationRow

__all__ = ["caption", "shares_bar"]


def shares_bar(
    shares: Shares,
    *,
    wide: float = 344,
    key: str = "shares",
    cls: str = "",
    standalone: bool = False,
    palette: Palette = PRINT,
) -> str:
    """Two groups of bars on one scale of amps: as they are, and made fair."""
    groups = [("as they are", shares.rows)]
    if shares.fair_rows:
        groups.append((f"with {amount(shares.fair_resistance, 'ohm').text} in each lead", shares.fair_rows))
    every = [
        x for _, rows in groups for row in rows for x in (row.amps.high, row.amps.mid) if math.isfinite(x)
    ]
    scale = (wide - 8) / max([0.1, *every])
    tall = sum(40 + sum(_row_height(row, wide) for row in rows) for _, rows in groups) + 6
    c = Canvas(wide, tall, key=key, title="How the rigs share the load", desc=_long_text(shares))
    y = 0.0
    for title, rows in groups:
        c.text(2, y + 22, title, size=17, cls="dt-soft")
        y += 34
        for row in rows:
            _bar(c, row, y, scale)
            y += _row_height(row, wide)
        y += 6
    return c.svg(standalone=standalone, palette=palette, cls=cls)


def _row_height(row: StationRow, wide: float) -> float:
    return 54 + 19 * len(wrap(row.says, wide - 4, 15) if row.says else [])


def _bar(c: Canvas, row: StationRow, y: float, scale: float) -> None:
    """Name and amps on a line, the bar with its band under it, and what the rider feels."""
    amps = amount(row.amps.mid, "A", row.amps.how).text
    room = c.wide - width(amps, 17, bold=True) - 16
    c.text(2, y + 18, wrap(row.name, room, 16, bold=True, most=1)[0], size=16, bold=True)
    c.text(c.wide - 2, y + 18, amps, size=17, bold=True, anchor="end")
    c.line(2, y + 23, 2, y + 45, "dl", 2)
    if math.isfinite(row.amps.mid):
        c.rect(2, y + 26, max(row.amps.mid, 0) * scale, 16, "df-sand" if row.holds else c.pattern("dots"))
        if row.amps.high > row.amps.low:
            c.line(2 + row.amps.low * scale, y + 34, 2 + row.amps.high * scale, y + 34, "dl", 2)
            for a in (row.amps.low, row.amps.high):
                c.line(2 + a * scale, y + 29, 2 + a * scale, y + 39, "dl", 2)
    if row.says:
        c.lines(2, y + 62, wrap(row.says, c.wide - 4, 15), step=19, cls="dt-soft")


def caption(shares: Shares) -> str:
    """The sentence under the bars."""
    finite = [row for row in shares.rows if math.isfinite(row.amps.mid)]
    if not finite:
        return "How these rigs share is not known."
    most, least = max(finite, key=lambda r: r.amps.mid), min(finite, key=lambda r: r.amps.mid)
    text = f"{most.name} gives {band(most.amps, 'A').text} and {least.name} {band(least.amps, 'A').text}"
    if shares.fair_rows and math.isfinite(shares.fair_resistance):
        text += f"; {amount(shares.fair_resistance, 'ohm').text} in each lead evens it out"
    return text + "."


def _long_text(shares: Shares) -> str:
    def told(rows: Sequence[StationRow]) -> str:
        return "; ".join(f"{row.name}, {row.rider}: {band(row.amps, 'A').text}" for row in rows)

    return f"{caption(shares)} As they are: {told(shares.rows)}. Made fair: {told(shares.fair_rows)}."
