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
    most = max(
        [
            0.1,
            *(
                x
                for _, rows in groups
                for row in rows
                for x in (row.amps.high, row.amps.mid)
                if math.isfinite(x)
            ),
        ]
    )
    left = 14 + max(width(row.name, 16, bold=True) for row in shares.rows)
    scale = (wide - left - 84) / most
    tall = sum(40 + sum(_row_height(row, wide, left) for row in rows) for _, rows in groups) + 6
    c = Canvas(wide, tall, key=key, title="How the rigs share the load", desc=_long_text(shares))
    y = 0.0
    for title, rows in groups:
        c.text(2, y + 22, title, size=17, cls="dt-soft")
        y += 34
        for row in rows:
            _bar(c, row, y, left, scale)
            y += _row_height(row, wide, left)
        y += 6
    return c.svg(standalone=standalone, palette=palette, cls=cls)


def _row_height(row: StationRow, wide: float, left: float) -> float:
    return 34 + 19 * len(wrap(row.says, wide - left - 4, 15) if row.says else [])


def _bar(c: Canvas, row: StationRow, y: float, left: float, scale: float) -> None:
    c.text(2, y + 20, row.name, size=16, bold=True)
    c.line(left, y + 3, left, y + 27, "dl", 2)
    if math.isfinite(row.amps.mid):
        long = max(row.amps.mid, 0) * scale
        c.rect(left, y + 6, long, 18, "df-sand" if row.holds else c.pattern("dots"))
        if row.amps.high > row.amps.low:
            c.line(left + row.amps.low * scale, y + 15, left + row.amps.high * scale, y + 15, "dl", 2)
            for a in (row.amps.low, row.amps.high):
                c.line(left + a * scale, y + 10, left + a * scale, y + 20, "dl", 2)
        end = left + max(long, (row.amps.high if math.isfinite(row.amps.high) else 0) * scale)
        c.text(end + 8, y + 21, amount(row.amps.mid, "A", row.amps.how).text, size=16, bold=True)
    if row.says:
        c.lines(left, y + 44, wrap(row.says, c.wide - left - 4, 15), step=19, cls="dt-soft")


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
