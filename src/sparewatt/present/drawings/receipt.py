"""The receipt: what one use of an appliance costs the legs, toll by toll, printed like a till slip."""

from __future__ import annotations

import math

from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.present.numbers import Shown, about, amount
from sparewatt.present.palette import PRINT, Palette
from sparewatt.present.words_numbers import time_span
from sparewatt.quantities.units import factor
from sparewatt.studies.answers import WorthRow

__all__ = ["caption", "worth_receipt"]

ROW = 46.0


def worth_receipt(
    row: WorthRow,
    *,
    wide: float = 344,
    key: str = "receipt",
    cls: str = "",
    standalone: bool = False,
    palette: Palette = PRINT,
) -> str:
    """The receipt of one load; the same drawing serves desk and phone."""
    return _Receipt(row, wide, key).draw().svg(standalone=standalone, palette=palette, cls=cls)


def caption(row: WorthRow) -> str:
    """The sentence under the receipt."""
    share = row.energy_use / row.energy_legs.mid if row.energy_legs.mid else math.nan
    takes, costs = amount(row.energy_use, "J").text, about(row.energy_legs, "J").text
    text = f"One use of the {row.load} takes {takes} and costs the legs {costs}"
    if math.isfinite(share):
        text += f", so {share * 100:.0f}\u2009% of the work arrives"
    return f"{text}: {time_span(row.minutes)} of riding."


class _Receipt:
    def __init__(self, row: WorthRow, wide: float, key: str) -> None:
        self.row, self.wide = row, wide
        left = row.energy_legs.mid
        self.steps: list[tuple[str, float, float]] = []  # name, before, after
        for name, share in row.chain:
            self.steps.append((name, left, left * share))
            left *= share
        unit, scale = (
            ("Wh", factor("Wh"))
            if row.energy_legs.mid >= 360 or not math.isfinite(row.energy_legs.mid)
            else ("J", 1.0)
        )
        self.unit, self.scale = unit, scale
        self.full = (
            max(row.energy_legs.mid, row.energy_use, 1e-9) if math.isfinite(row.energy_legs.mid) else 1.0
        )
        self.names = wrap(row.load, wide - 8, 20, bold=True)
        self.canvas = Canvas(
            wide,
            62 + 22 * len(self.names) + ROW * (len(self.steps) + 2) + 96,
            key=key,
            title=f"Receipt for one use of {row.load}",
            desc=_long_text(row),
        )

    def _say(self, joules: float) -> str:
        value = joules / self.scale
        if not math.isfinite(value):
            return "?"
        return (
            f"{value:.0f}" if abs(value) >= 9.95 else f"{value:.1f}" if abs(value) >= 0.95 else f"{value:.2g}"
        )

    def draw(self) -> Canvas:
        c = self.canvas
        y = c.lines(2, 22, self.names, size=20, bold=True, step=22)
        c.text(2, y + 2, f"one use, {self.row.runs}", cls="dt-soft")
        c.text(self.wide - 2, y + 2, self.unit, anchor="end", cls="dt-soft")
        y += 14
        self._double(y)
        y = self._line(y, "from the legs", self.row.energy_legs.mid, None, bold=True)
        for name, before, after in self.steps:
            y = self._line(y, name, after, before)
        self._double(y + 6)
        y = self._line(y + 8, f"the {self.row.load} gets", self.row.energy_use, None, bold=True)
        self._totals(y + 8)
        return c

    def _double(self, y: float) -> None:
        self.canvas.line(0, y, self.wide, y, "dl", 2)
        self.canvas.line(0, y + 4, self.wide, y + 4, "dl", 1.5)

    def _line(self, y: float, name: str, value: float, before: float | None, *, bold: bool = False) -> float:
        """One line: name, number at the right, and under them the bar of what is left with the toll at its end."""
        c = self.canvas
        toll = None if before is None else before - value
        number = self._say(value) if toll is None else f"\u2212{self._say(toll)}"
        room = self.wide - width(number, 18, bold=bold) - 16
        c.text(2, y + 24, wrap(name, room, 17, bold=bold, most=1)[0], size=17, bold=bold)
        c.text(self.wide - 2, y + 24, number, size=18, bold=bold, anchor="end")
        if math.isfinite(value):
            long = max(value / self.full, 0.0) * (self.wide - 4)
            c.rect(2, y + 31, max(long, 1.5), 11, "df-sand")
            if before is not None and toll and toll > 0:
                c.rect(
                    2 + long, y + 31, max((before - value) / self.full * (self.wide - 4), 1.5), 11, "df-toll"
                )
        return y + ROW

    def _totals(self, y: float) -> None:
        """What it means: minutes of riding, and food."""
        c = self.canvas
        self._double(y)
        rows: list[tuple[str, Shown]] = [("riding", Shown(time_span(self.row.minutes), ""))]
        if math.isfinite(self.row.food.mid):
            kcal = factor("kcal")
            food = self.row.food
            step = (
                10.0 ** math.floor(math.log10(max((food.high - food.low) / kcal / 4, 1)))
                if math.isfinite(food.low)
                else 10.0
            )
            low, high = (
                (round(x / kcal / step) * step for x in (food.low, food.high))
                if math.isfinite(food.low)
                else (food.mid / kcal,) * 2
            )
            text = f"{low:.0f} to {high:.0f}" if low != high else f"{low:.0f}"
            rows.append(("food", Shown(text, "kcal", "guessed")))
        if math.isfinite(self.row.co2_litres):
            rows.append(
                ("breathed out above rest", Shown(f"{self.row.co2_litres * 1000:.0f}", "litres of CO2"))
            )
        y += 30
        for name, shown in rows:
            c.text(2, y, name, size=17)
            c.text(
                self.wide - 2,
                y,
                shown.text,
                size=19,
                bold=True,
                anchor="end",
                look=shown.look if shown.look == "guessed" else "",
            )
            y += 29


def _long_text(row: WorthRow) -> str:
    links = "; ".join(f"{name} passes on {share * 100:.0f} %" for name, share in row.chain)
    return f"{caption(row)} On the way: {links}."
