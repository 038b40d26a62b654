"""Numbers as people read them: no more digits than are known, a thin space before the unit, and the look that says how
each is known.

Three looks only. Measured is bold and underlined, computed is upright, guessed is slanted with dots under it; on a terminal
bold, plain, and slanted with ~ in front. `Shown` is small data, so that page, terminal and paper each render it.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from html import escape
from typing import Literal

from sparewatt.parts import Measured
from sparewatt.quantities.units import factor, natural_unit, render, render_band, unit_of
from sparewatt.rig.outcome import Band

__all__ = [
    "LOOKS",
    "THIN",
    "Look",
    "Shown",
    "about",
    "amount",
    "band",
    "data",
    "html",
    "known",
    "look_of",
    "raised",
    "rpm",
    "terminal",
]

Look = Literal["measured", "computed", "guessed"]
LOOKS: tuple[Look, ...] = ("measured", "computed", "guessed")
THIN = "\u2009"
NOT_KNOWN = "not known"
_LOOK_OF: dict[str, Look] = {"measured": "measured", "typical": "guessed", "guess": "guessed"}
_PRETTY = {
    "N*m": "N·m", "lbf*ft": "lbf·ft", "degC": "°C", "degF": "°F", "mm2": "mm²", "m3": "m³", "ft3": "ft³", "m3/h": "m³/h",
    "deg": "°", "V*s/rad": "V·s/rad", "kg*m^2": "kg·m²",
}  # fmt: skip
_SQUARES = re.compile(r"(?<=\d [mc]m)2\b|(?<=\d m)[23]\b")
HALF_BAND = 1.6448536269514722  # standard deviations in half of a 90 % band of a normal distribution


@dataclass(frozen=True, slots=True)
class Shown:
    """A number ready to be shown: its digits, its unit in people's letters (may be empty), and its look."""

    number: str
    unit: str
    look: Look = "computed"

    @property
    def text(self) -> str:
        """Digits, thin space, unit."""
        return f"{self.number}{THIN}{self.unit}" if self.unit else self.number


def look_of(how: str) -> Look:
    """The look of an origin: nameplate and computed values look alike; typical and guess are guessed."""
    return _LOOK_OF.get(how, "computed")


def band(b: Band, unit: str, *, inch: bool = False) -> Shown:
    """A 90 % band of a quantity whose SI unit is `unit`: "76 to 88". One number where both ends round to the same."""
    if not (math.isfinite(b.low) and math.isfinite(b.high)):
        return amount(b.mid, unit, b.how, inch=inch)
    if _nothing(max(abs(b.low), abs(b.high)), unit):
        return amount(0.0, unit, b.how, inch=inch)
    told = _said(max(abs(b.low), abs(b.high)), unit, inch)
    return _shown(render_band(b.low, b.high, told), told, look_of(b.how))


def about(b: Band, unit: str, *, inch: bool = False) -> Shown:
    """The middle of a band, rounded to where the band leaves it known."""
    told = _said(abs(b.mid), unit, inch)
    return _shown(render(b.mid, told, _digits(b, told)), told, look_of(b.how))


def amount(value: float, unit: str, how: str = "computed", *, inch: bool = False, digits: int = 2) -> Shown:
    """One number without a band, at two digits unless told otherwise (whole numbers below 1000 keep their digits)."""
    if math.isinf(value):
        return Shown("no limit" if value > 0 else NOT_KNOWN, "", look_of(how))
    if _nothing(value, unit):
        value = 0.0
    told = _said(abs(value), unit, inch)
    if math.isfinite(value):
        size = abs((value - unit_of(told).offset) / unit_of(told).factor)
        digits = max(digits, min(3, math.floor(math.log10(size)) + 1)) if size >= 1 else digits
    return _shown(render(value, told, digits), told, look_of(how))


def known(m: Measured | None, unit: str, *, inch: bool = False) -> Shown:
    """A constant of a part: as a 90 % band when it has a spread, alone when it was counted or set."""
    if m is None:
        return Shown(NOT_KNOWN, "")
    if m.sd == 0.0:
        return amount(m.value, unit, m.how, inch=inch, digits=3)
    half = HALF_BAND * m.sd
    return band(Band(m.value, m.value - half, m.value + half, m.how), unit, inch=inch)


def rpm(w: float) -> str:
    """Turns a minute as a whole number, without the words; "?" when there is none."""
    return (
        render(w, "rpm", max(1, len(str(abs(round(w / factor("rpm"))))))).partition(" ")[0]
        if math.isfinite(w)
        else "?"
    )


def html(shown: Shown) -> str:
    """For a page: a span whose class says the look."""
    return f'<span class="n n-{shown.look}">{escape(shown.text)}</span>'


def terminal(shown: Shown, *, colour: bool = True) -> str:
    """For a terminal: bold, plain, slanted with ~ in front. Without colour only the ~ and stars remain."""
    if shown.look == "measured":
        return f"\x1b[1m{shown.text}\x1b[0m" if colour else f"*{shown.text}*"
    if shown.look == "guessed":
        return f"~\x1b[3m{shown.text}\x1b[0m" if colour else f"~{shown.text}"
    return shown.text


def data(shown: Shown) -> dict[str, str]:
    """For paper: plain data that a template reads."""
    return {"number": shown.number, "unit": shown.unit, "look": shown.look}


def raised(text: str) -> str:
    """The same words with mm2, cm2, m2 and m3 as people write them."""
    return _SQUARES.sub(lambda found: "²" if found[0] == "2" else "³", text)


def _nothing(value: float, unit: str) -> bool:
    """What arithmetic leaves of nothing: a ten-millionth of a watt is no watt at all."""
    return unit in ("A", "V", "W", "N*m") and abs(value) < 1e-7


def _said(size: float, unit: str, inch: bool) -> str:
    if unit == "rad/s":
        return "rpm"
    return natural_unit(size or 1.0, unit, inch=inch) if math.isfinite(size) else unit


def _shown(text: str, unit: str, look: Look) -> Shown:
    number = text.removesuffix(f" {unit}").replace("-", "\u2212")
    if text == NOT_KNOWN:
        return Shown(NOT_KNOWN, "", look)
    if unit == "rpm":
        return Shown(number, "turns a minute", look)
    return Shown(number, "" if unit == "1" else _PRETTY.get(unit, unit), look)


def _digits(b: Band, unit: str) -> int:
    """Significant digits of the middle that its band leaves known."""
    spread = (b.high - b.low) / factor(unit)
    size = abs((b.mid - unit_of(unit).offset) / factor(unit))
    if not math.isfinite(spread) or spread <= 0 or size == 0 or not math.isfinite(size):
        return 2
    return max(1, math.floor(math.log10(size)) + 1 - math.floor(math.log10(spread / 4)))
