"""The gear ladder: one rung a gear, with the cadence that holds and the volts an open circuit reaches at 120 turns."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.present.drawings.axes import Axis, ticks
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.leg import draw_lane
from sparewatt.present.drawings.leg_text import span
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.numbers import about, amount
from sparewatt.present.palette import PRINT, Palette
from sparewatt.studies.answers import GearRow

__all__ = ["caption", "gear_ladder"]

RUNG = 45.0  # px a gear, five repeats of the dots
FIRST, LAST = 20.0, 140.0  # turns a minute shown


def gear_ladder(
    rows: Sequence[GearRow], *, chosen: str = "", ratings: Sequence[tuple[str, float]] = (), wide: float = 860,
    key: str = "ladder", cls: str = "dw-wide", standalone: bool = False, palette: Palette = PRINT,
) -> str:  # fmt: skip
    """One rung a gear. ratings: (part, volts that break it), lowest first; draw it 344 wide for a phone."""
    return (
        _Ladder(rows, chosen, ratings, wide, key).draw().svg(standalone=standalone, palette=palette, cls=cls)
    )


def caption(rows: Sequence[GearRow], ratings: Sequence[tuple[str, float]] = ()) -> str:
    """The sentence under the ladder."""
    holding = [row.gear for row in rows if math.isfinite(row.hold.mid)]
    if not rows:
        return "There are no gears to show."
    text = f"It holds in {_listed(holding)}." if holding else "It holds in no gear."
    if ratings:
        part, volts = min(ratings, key=lambda pair: pair[1])
        over = [row.gear for row in rows if row.ceiling > volts]
        limit = f"the {amount(volts, 'V').text} that the {part} stands"
        text += (
            f" At 120 turns with nothing connected {_listed(over)} go past {limit}."
            if over
            else f" No gear goes past {limit}."
        )
    return text


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}" if names else "none"


class _Ladder:
    def __init__(
        self,
        rows: Sequence[GearRow],
        chosen: str,
        ratings: Sequence[tuple[str, float]],
        wide: float,
        key: str,
    ) -> None:
        self.rows, self.chosen = tuple(rows), chosen
        self.ratings = sorted(ratings, key=lambda pair: pair[1])
        self.narrow = wide < 600
        left = 18 + max([30.0, *(width(row.gear, 16, bold=True) for row in self.rows)])
        split = wide - 14 if self.narrow else left + (wide - left) * 0.52
        self.x = Axis(FIRST, LAST, left, split)
        most = max(
            [
                1.0,
                *(row.ceiling for row in self.rows if math.isfinite(row.ceiling)),
                *(v for _, v in self.ratings[:1]),
            ]
        )
        start = left if self.narrow else split + 46
        self.v = Axis(0.0, most * 1.12, start, wide - 14)
        self.rung = RUNG + (27 if self.narrow else 0)
        self.top = 36.0
        self.foot = self.top + self.rung * len(self.rows)
        self.notes = self._rating_lines(wide)
        tall = self.foot + 54 + 20 * sum(len(lines) for lines in self.notes) + (32 if self.narrow else 0)
        self.canvas = Canvas(
            wide, tall, key=key, title="Gear ladder", desc=_long_text(self.rows, self.ratings)
        )

    def _rating_lines(self, wide: float) -> list[list[str]]:
        room = wide - self.v.start if not self.narrow else wide - 8
        return [wrap(f"{amount(volts, 'V').text}: {part}", room, 15) for part, volts in self.ratings]

    def draw(self) -> Canvas:
        c = self.canvas
        c.text(self.x.start, 18, "turns a minute that hold", cls="dt-soft")
        if not self.narrow:
            c.text(self.v.start, 18, "volts with nothing connected, at 120 turns", cls="dt-soft")
        self._axes()
        for k, row in enumerate(self.rows):
            self._rung(self.top + k * self.rung, row)
        return c

    def _rung(self, y: float, row: GearRow) -> None:
        c, middle = self.canvas, 9 * round((y + 20) / 9)
        chosen = row.gear == self.chosen
        c.open(_row_words(row), data=row.gear)
        c.text(self.x.start - 10, middle + 5, row.gear, size=16, bold=chosen, anchor="end")
        draw_lane(c, self.x, middle, row, chosen)
        base = middle + 25 if self.narrow else middle
        if math.isfinite(row.ceiling):
            over = bool(self.ratings) and row.ceiling > self.ratings[0][1]
            end = self.v(row.ceiling)
            c.rect(self.v.start, base - 5, end - self.v.start, 10, "df-sand")
            if over:
                first = self.v(self.ratings[0][1])
                c.rect(first, base - 5, end - first, 10, c.pattern("hatch"))
            c.line(end, base - 8, end, base + 8, "dl-acc" if over else "dl", 3)
            words = amount(row.ceiling, "V").text
            long = width(words, 15, bold=over)
            if end + 7 + long <= self.canvas.wide:
                c.text(end + 7, base + 5, words, bold=over, cls="dt-acc" if over else "dt", halo=True)
            else:
                c.text(end - 7, base + 5, words, bold=over, anchor="end", cls="dt", halo=True)
        c.close()

    def _axes(self) -> None:
        c, y = self.canvas, self.foot
        c.line(self.x.start, y, self.x.end, y, "dl", 2)
        for tick in ticks(FIRST, LAST, 6 if not self.narrow else 4):
            c.line(self.x(tick), y, self.x(tick), y + 6, "dl", 2)
            c.text(self.x(tick), y + 22, f"{tick:.0f}", anchor="middle")
        if self.narrow:
            c.text(self.v.start, y + 46, "second bar: volts open at 120 turns", cls="dt-soft")
        low = y + (32 if self.narrow else 0)
        at = low + (42 if self.narrow else 26)
        for (_, volts), lines in zip(self.ratings, self.notes, strict=True):
            x = self.v(volts)
            if self.narrow and x <= self.v.end:
                for k in range(len(self.rows)):
                    base = 9 * round((self.top + k * self.rung + 20) / 9) + 25
                    c.line(
                        x,
                        base - 10,
                        x,
                        base + 10,
                        "dl-acc",
                        2.5,
                        "" if volts == self.ratings[0][1] else "4 4",
                    )
            elif x <= self.v.end:
                c.line(x, self.top - 4, x, y + 6, "dl-acc", 2.5, "" if volts == self.ratings[0][1] else "8 5")
            at = c.lines(
                2 if self.narrow else self.v.start,
                at,
                lines,
                step=20,
                cls="dt-acc" if volts == self.ratings[0][1] else "dt-soft",
            )


def _row_words(row: GearRow) -> str:
    holds = (
        f"holds at {span(row.hold, row.hold.mid)} turns a minute, {about(row.delivered, 'W').text} arrive"
        if math.isfinite(row.hold.mid)
        else row.stop.value
    )
    return f"{row.gear}: {holds}; {amount(row.ceiling, 'V').text} open at 120 turns"


def _long_text(rows: Sequence[GearRow], ratings: Sequence[tuple[str, float]]) -> str:
    limits = "; ".join(f"{part} stands {amount(volts, 'V').text}" for part, volts in ratings)
    return ". ".join(_row_words(row) for row in rows) + "." + (f" {limits}." if limits else "")
