"""The charge curve: how full the battery is and what it still takes, hour by hour, and where useful leg time ends."""

from __future__ import annotations

import math

from sparewatt.present.drawings import labels as tags
from sparewatt.present.drawings.axes import Axis, bottom, ticks
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.labels import Box, Label
from sparewatt.present.numbers import THIN
from sparewatt.present.palette import PRINT, Palette
from sparewatt.present.words_numbers import time, time_span
from sparewatt.studies.answers import ChargePlan

__all__ = ["caption", "charge_curve"]


def charge_curve(
    plan: ChargePlan,
    *,
    wide: float = 560,
    key: str = "charge",
    cls: str = "dw-wide",
    standalone: bool = False,
    palette: Palette = PRINT,
) -> str:
    """Two strips over one clock: state of charge, and amps; draw it 344 wide for a phone."""
    curve = [point for point in plan.curve if all(map(math.isfinite, point))]
    c = Canvas(wide, 372, key=key, title="Charging, hour by hour", desc=_long_text(plan))
    if len(curve) < 2:
        c.high = 40
        c.text(4, 24, "There is no charge curve for this question.", size=17)
        return c.svg(standalone=standalone, palette=palette, cls=cls)
    hours = curve[-1][0] > 7200
    unit = 3600.0 if hours else 60.0
    x = Axis(0.0, curve[-1][0] / unit, 58, wide - 16)
    full, amps = Axis(0.0, 1.0, 170, 34), Axis(0.0, max(a for _, _, a in curve) * 1.15 or 1.0, 310, 216)
    c.text(2, 20, "how full", cls="dt-soft")
    ends = next((t for t, s, _ in curve if s >= plan.useful_end), curve[-1][0])
    filled = [(x(t / unit), full(s)) for t, s, _ in curve if t <= ends]
    c.area([(x(0), full(0)), *filled, (filled[-1][0], full(0))], "df-sand")
    c.curve([(x(t / unit), full(s)) for t, s, _ in curve], "dl", 3)
    for share in (0.0, 0.5, 1.0):
        c.line(x.start - 5, full(share), x.start, full(share))
        c.text(x.start - 9, full(share) + 5, f"{share * 100:.0f}{THIN}%", anchor="end")
    c.line(x.start, full(0), x.end, full(0), "dl-rule", 2)
    c.line(x.start, full(1), x.start, full(0))
    c.text(2, 203, "amps it takes", cls="dt-soft")
    c.curve([(x(t / unit), amps(a)) for t, _, a in curve], "dl", 3)
    c.line(x.start, amps.end, x.start, amps.start)
    for tick in ticks(0.0, amps.high, 4):
        c.line(x.start - 5, amps(tick), x.start, amps(tick))
        c.text(x.start - 9, amps(tick) + 5, f"{tick:g}", anchor="end")
    bottom(c, x, 310, "hours of riding" if hours else "minutes of riding", most=6)
    if ends < curve[-1][0]:
        _useful_end(c, plan, x(ends / unit), [(x(t / unit), amps(a)) for t, _, a in curve], (x, amps))
    return c.svg(standalone=standalone, palette=palette, cls=cls)


def _useful_end(
    c: Canvas, plan: ChargePlan, at: float, ink: list[tuple[float, float]], axes: tuple[Axis, Axis]
) -> None:
    """The line after which pedalling mostly waits for the battery."""
    x, amps = axes
    c.line(at, 24, at, amps.start, "dl-acc", 3)
    ink = ink + [(at, y) for y in range(216, 310, 6)]
    words = f"useful leg time ends here, {plan.useful_end * 100:.0f}{THIN}% full"
    label = Label(
        words=words,
        anchors=[(at, 225), (at, 260), (at, 290)],
        bold=True,
        cls="dt-acc",
        most=150,
        wish="right",
    )
    placed, _ = tags.place([label], Box(x.start + 4, amps.end, x.end, amps.start - 3), ink=ink)
    tags.draw(c, placed)


def caption(plan: ChargePlan) -> str:
    """The sentence under the charge curve."""
    when = f"After {time_span(plan.useful_time)}"
    if plan.useful_time.low < 0.1 * plan.useful_time.high:  # how full it is to begin with is hardly known
        when = f"Within {time(plan.useful_time.high)}"
    full = f"{plan.useful_end * 100:.0f}{THIN}% full"
    then = "after that, ride for something else and let it fill slowly"
    return f"{when} it is {full} and takes less than you can give; {then}."


def _long_text(plan: ChargePlan) -> str:
    steps = "; ".join(f"{state * 100:.0f} % after {time_span(span)}" for state, span in plan.times)
    return f"{caption(plan)} {steps}.".replace(" .", ".")
