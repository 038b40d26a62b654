"""Numbers with units, read from the way people write them and written back for people to read.

    0.9 ohm          3/16 in         1 1/4 in        1e-3 F        60 rpm         12 V per 1000 rpm
    0.9 ohm +/- 0.05        21 A +/- 5 %        0.8 to 1.0 ohm

Everything becomes a float in SI. A spread after `+/-` is one standard deviation, in the same unit unless it names its own;
in % it is a share of the value, except that a value itself in % takes it as points. A range is taken as a 90 % band.
After a slash, several factors need brackets: W/(m^2*K). What cannot be read for certain is refused, never guessed.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import lru_cache

from sparewatt.quantities.compound import NO_DIMENSION, STRANGE, BadText, clean, dimension, factor, unit_of
from sparewatt.quantities.table import BASES, FOR_PEOPLE, PHRASES, UNITS, Dimension, Unit

__all__ = [
    "BASES", "BadText", "Parsed", "accepted", "dimension", "factor", "natural_unit",
    "parse", "parse_wire_size", "render", "render_band", "unit_of",
]  # fmt: skip

BAND = 1.6448536269514722  # half of a 90 % band in standard deviations of a normal distribution
_NUMBER = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_AMOUNT = re.compile(
    rf"\s*([+-]?)\s*(?:([0-9]+)(?: +|-)([0-9]+)/([0-9]+)|([0-9]+)/([0-9]+)|({_NUMBER}))\s*(\S.*?)?\s*",
    re.ASCII | re.DOTALL,
)
_RANGE = re.compile(r"(.*\S)\s+to\s+(\S.*)", re.ASCII | re.DOTALL)
_AWG = re.compile(r"(?:AWG\s*)?([0-9]+(?:/0)?)(?:\s*AWG)?", re.ASCII | re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Parsed:
    """A number read from text: SI value, SI standard deviation (None when the text gives none), and the unit as written."""

    value: float
    sd: float | None
    unit_text: str


def parse(text: str, unit: str) -> Parsed:
    """The number that `text` says, in the SI `unit` wanted; raises BadText and nothing else for text it cannot use."""
    plain = clean(text)
    head, mark, tail = plain.partition("+/-")
    if " to " in plain:
        return _range(text, plain, unit)
    number, unit_text = _amount(text, head, unit)
    found = _fitting(text, unit_text, unit)
    value = _finite(text, number * found.factor + found.offset, number)
    if not mark:
        return Parsed(value, None, unit_text)
    return Parsed(value, _spread(text, tail, unit, value, unit_text, found), unit_text)


def parse_wire_size(text: str) -> float:
    """Area of copper in m^2 from a wire gauge ("14 AWG", "4/0 AWG") or an area ("2.5 mm2").

    Gauge n has a diameter of 0.127 mm * 92^((36 - n)/39). Worked: 12 AWG is 3.309 mm2. Source: [astm_b258].
    """
    plain = clean(text).strip()
    if "awg" not in plain.lower():
        try:
            area = parse(text, "m^2").value
        except BadText as bad:
            raise BadText(
                text, bad.problem, accepted='an area such as "2.5 mm2", or a gauge such as "14 AWG"'
            ) from None
        if not 0 < area <= 1e-3:
            raise BadText(
                text,
                "a wire has more than 0 and at most 1000 mm2 of copper.",
                accepted='"2.5 mm2" or "14 AWG"',
            )
        return area
    match = _AWG.fullmatch(plain)
    gauge = _gauge(match.group(1)) if match else None
    if gauge is None:
        raise BadText(
            text,
            "this is not a wire gauge.",
            accepted='"40 AWG" to "0 AWG", "1/0 AWG" to "4/0 AWG", or an area in mm2',
        )
    diameter = 0.127e-3 * math.pow(92.0, (36 - gauge) / 39.0)
    return math.pi / 4 * diameter * diameter


def _gauge(digits: str) -> int | None:
    if len(digits) > 4:
        return None
    gauge = int(digits.removesuffix("/0"))
    if digits.endswith("/0"):
        gauge = 1 - gauge
    elif gauge == 0:
        gauge = 1 - len(digits)
    return gauge if -3 <= gauge <= 40 and digits != "0/0" else None


def accepted(unit: str) -> str:
    """The spellings to offer a person where `unit` is wanted."""
    return FOR_PEOPLE.get(unit, unit)


# ---- reading ----


def _amount(text: str, piece: str, unit: str) -> tuple[float, str]:
    """Number and unit text of one piece ("1 1/4 in")."""
    match = _AMOUNT.fullmatch(piece)
    if match is None or "," in piece:
        raise BadText(text, _why_no_number(piece), accepted=accepted(unit))
    sign, whole, above, below, top, bottom, plain, rest = match.groups()
    if plain is not None:
        number = float(plain)
        if number == 0.0 and plain.lower().partition("e")[0].strip("0.") != "":
            raise BadText(text, "this number is too small to be used.", accepted=accepted(unit))
    else:
        under = float(below or bottom)
        if under == 0.0:
            raise BadText(text, "a fraction cannot have 0 below its stroke.", accepted=accepted(unit))
        number = float(whole or 0) + float(above or top) / under
    if not math.isfinite(number):
        raise BadText(text, "this number is too large to be used.", accepted=accepted(unit))
    return (-number if sign == "-" else number), rest or ""


def _why_no_number(piece: str) -> str:
    piece = piece.strip()
    if not piece:
        return "there is no number here."
    if "," in piece:
        return (
            'a comma is not read: use a point for decimals ("2.5"), and nothing between thousands ("20000").'
        )
    return "this does not start with a number."


def _fitting(text: str, unit_text: str, unit: str) -> Unit:
    """The unit that was read, if it measures the same thing as the wanted `unit`."""
    found = _cached_fit(unit_text, unit)
    if isinstance(found, Unit):
        return found
    problem, nearest = found
    raise BadText(text, problem, accepted=accepted(unit), nearest=nearest)


@lru_cache(maxsize=2048)
def _cached_fit(unit_text: str, unit: str) -> Unit | tuple[str, str]:
    wanted = unit_of(unit)
    if not unit_text:
        if wanted.dimension == NO_DIMENSION:
            return UNITS["1"]
        return "the unit is missing.", ""
    if unit_text[0].isdigit() and not unit_text.startswith("1/"):
        return 'there are two numbers here; write one, with nothing between thousands ("20000").', ""
    if unit_text[0] == "-" and unit_text[1:2].isdigit():
        return 'write a range with the word "to": 0.8 to 1.0.', ""
    try:
        found = unit_of(unit_text)
    except BadText as bad:
        return bad.problem, bad.nearest or (
            _nearest(unit_text, wanted.dimension) if bad.problem.endswith(STRANGE) else ""
        )
    if not _same_kind(found.dimension, wanted.dimension):
        return f'"{unit_text}" measures something else.', _instead(unit_text, wanted.dimension)
    return Unit(found.factor, found.dimension) if unit == "dK" else found


def _same_kind(found: Dimension, wanted: Dimension) -> bool:
    """Angles must match where they are the matter (speeds, angles, plain numbers), and may be left out elsewhere (N*m/A)."""
    if found == wanted:
        return True
    spinning = wanted[0] == wanted[1] == wanted[3] == wanted[4] == 0
    return not spinning and found[:5] == wanted[:5] and found[6] == wanted[6] and 0 in (found[5], wanted[5])


def _instead(unit_text: str, wanted: Dimension) -> str:
    """degC for C, degF for F, rpm for 1/min: the spelling that was probably meant."""
    for meant in ("deg" + unit_text, {"1/min": "rpm", "min-1": "rpm", "min^-1": "rpm"}.get(unit_text, "")):
        if meant in UNITS and UNITS[meant].dimension == wanted:
            return meant
    return ""


def _nearest(unit_text: str, wanted: Dimension) -> str:
    """The known spelling closest to the one read, first among those that measure the right thing."""
    fitting = [name for name, unit in UNITS.items() if unit.dimension == wanted]
    for pool in (fitting, [*UNITS, *PHRASES]):
        lowered = {name.lower(): name for name in reversed(pool)}
        close = difflib.get_close_matches(unit_text.lower(), lowered, n=1, cutoff=0.6)
        if close:
            return lowered[close[0]]
    return ""


def _finite(text: str, value: float, number: float) -> float:
    if not math.isfinite(value):
        raise BadText(text, "this number is too large to be used.")
    if value == 0.0 and number != 0.0:
        raise BadText(text, "this number is too small to be used.")
    return value


def _spread(text: str, tail: str, unit: str, value: float, unit_text: str, found: Unit) -> float:
    """The standard deviation after +/-."""
    number, spread_text = _amount(text, tail, unit)
    if number < 0:
        raise BadText(text, "a spread cannot be negative.", accepted='"+/- 0.05" or "+/- 5 %"')
    if not spread_text:
        return _finite(text, number * found.factor, number)
    if spread_text in ("%", "percent") and unit_text not in ("%", "percent"):
        if found.dimension == UNITS["K"].dimension:
            raise BadText(
                text, "the spread of a temperature is given in degrees, not in %.", accepted='"+/- 5 K"'
            )
        return _finite(text, abs(value) * number / 100, 0.0)
    wanted = "dK" if found.dimension == UNITS["K"].dimension else unit
    return _finite(text, number * _fitting(text, spread_text, wanted).factor, number)


def _range(text: str, plain: str, unit: str) -> Parsed:
    """A range "low to high unit": middle, and the standard deviation of which it is the 90 % band."""
    match = _RANGE.fullmatch(plain)
    if match is None or "+/-" in plain or " to " in match.group(1):
        raise BadText(
            text,
            'a range is two numbers with "to" between them.',
            accepted=f'"0.8 to 1.0" and {accepted(unit)}',
        )
    high, high_text = _amount(text, match.group(2), unit)
    low, low_text = _amount(text, match.group(1), unit)
    low_unit, high_unit = _fitting(text, low_text or high_text, unit), _fitting(text, high_text, unit)
    bottom = _finite(text, low * low_unit.factor + low_unit.offset, low)
    top = _finite(text, high * high_unit.factor + high_unit.offset, high)
    if top < bottom:
        raise BadText(text, "the smaller number of a range comes first.", accepted=accepted(unit))
    middle, half = bottom / 2 + top / 2, top / 2 - bottom / 2
    return Parsed(middle, half / BAND, high_text)


# ---- writing ----


def render(value: float, unit: str, digits: int = 3, space: str = " ") -> str:
    """An SI value as text in `unit` with so many significant digits: render(6.283, "rpm") is "60 rpm"."""
    if not math.isfinite(value):
        return "not known"
    return _with_unit(_rounded(_shown(value, unit), digits), unit, space)


def render_band(low: float, high: float, unit: str, space: str = " ") -> str:
    """A 90 % band as text, with no more digits than it leaves known: "76 to 88 rpm"."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return "not known"
    bottom, top = sorted((_shown(low, unit), _shown(high, unit)))
    width = top - bottom
    if width <= 1e-9 * max(abs(bottom), abs(top)):
        return render(low, unit, 3, space)
    step = math.floor(math.log10(width / 4))
    first, last = _stepped(bottom, step), _stepped(top, step)
    return _with_unit(first if first == last else f"{first} to {last}", unit, space)


def natural_unit(value: float, unit: str, *, inch: bool = False) -> str:
    """The unit in which a person would say an SI value: mohm for 0.02 ohm, rpm for rad/s, in for m where inches are used."""
    size = abs(value)
    fixed = {"rad/s": "rpm", "C": "Ah", "rad": "deg", "V*s/rad": "V/krpm", "m^2": "mm2"}
    local = {"K": ("degC", "degF"), "kg": ("kg", "lb"), "m^3/s": ("m3/h", "cfm"), "m^3": ("m3", "ft3"), "N": ("N", "lbf"),
             "N*m": ("N*m", "lbf*ft"), "m/s": ("m/s", "mph")}  # fmt: skip
    if unit in fixed:
        return fixed[unit]
    if unit in local:
        return local[unit][inch]
    if unit == "m":
        return ("in" if size < 0.9 else "ft") if inch else ("mm" if size < 1.0 else "m")
    steps = _STEPS.get(unit, ())
    return next((name for least, name in steps if size >= least), steps[-1][1] if steps and size else unit)


_STEPS: dict[str, tuple[tuple[float, str], ...]] = {
    "s": ((172800.0, "days"), (7200.0, "h"), (120.0, "min"), (0.5, "s"), (0.0, "ms")),
    "J": ((3.6e6, "kWh"), (360.0, "Wh"), (0.0, "J")),
    "W": ((1e4, "kW"), (0.1, "W"), (0.0, "mW")),
    "ohm": ((1e6, "Mohm"), (1e3, "kohm"), (0.1, "ohm"), (0.0, "mohm")),
    "F": ((0.5, "F"), (1e-3, "mF"), (0.0, "uF")),
    "H": ((0.1, "H"), (1e-4, "mH"), (0.0, "uH")),
    "V": ((0.1, "V"), (0.0, "mV")),
    "A": ((0.1, "A"), (0.0, "mA")),
}


def _shown(value: float, unit: str) -> float:
    known = unit_of(unit)
    return (value - known.offset) / known.factor


def _with_unit(number: str, unit: str, space: str) -> str:
    return number if unit == "1" else f"{number}{space}{unit}"


def _rounded(value: float, digits: int) -> str:
    if value == 0.0:
        return "0"
    return _stepped(value, math.floor(math.log10(abs(value))) + 1 - digits, trim=True)


def _stepped(value: float, step: int, *, trim: bool = False) -> str:
    """`value` rounded to a whole number of 10**step, without an exponent unless it is very large or small."""
    if abs(value) >= 1e12 or 0 < abs(value) < 1e-9:
        return f"{value:.{max(0, math.floor(math.log10(abs(value))) - step)}e}"
    text = f"{round(value, -step):.{max(0, -step)}f}"
    if trim and "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if float(text) == 0.0 else text
