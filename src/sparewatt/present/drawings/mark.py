"""A band as a mark in a line of text: a line for the scale, a bar from the 5 % to the 95 % point, a tick at the middle."""

from __future__ import annotations

import math
from html import escape

from sparewatt.present.drawings.canvas import num
from sparewatt.present.numbers import band, look_of
from sparewatt.present.palette import PRINT, Palette, file_css
from sparewatt.rig.outcome import Band

__all__ = ["band_mark"]


def band_mark(
    b: Band,
    unit: str,
    *,
    low: float,
    high: float,
    wide: float = 120,
    inch: bool = False,
    standalone: bool = False,
    palette: Palette = PRINT,
) -> str:
    """The mark on a scale from low to high (SI). A thick bar is measured, a thin one computed, a dotted one guessed."""
    words = band(b, unit, inch=inch).text
    tall = 18.0

    def x(value: float) -> float:
        return 3 + min(max((value - low) / (high - low), 0.0), 1.0) * (wide - 6) if high > low else wide / 2

    thick, dash = {"measured": (8, ""), "computed": (4, ""), "guessed": (4, ' stroke-dasharray="3 2"')}[
        look_of(b.how)
    ]
    body = f'<line class="dl-rule" x1="3" y1="9" x2="{num(wide - 3)}" y2="9" stroke-width="1.5"/>'
    if math.isfinite(b.low) and math.isfinite(b.high):
        body += f'<line class="dl" x1="{num(x(b.low))}" y1="9" x2="{num(x(b.high))}" y2="9" stroke-width="{thick}"{dash}/>'
    if math.isfinite(b.mid):
        body += f'<line class="dl" x1="{num(x(b.mid))}" y1="1.5" x2="{num(x(b.mid))}" y2="16.5" stroke-width="3"/>'
    style = f"<style>{file_css(palette)}</style>" if standalone else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="dw dw-inline" width="{num(wide)}" height="{num(tall)}"'
        f' viewBox="0 0 {num(wide)} {num(tall)}"'
        f' role="img" aria-label="{escape(words, quote=True)}"><title>{escape(words)}</title>{style}{body}</svg>'
    )
