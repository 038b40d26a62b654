"""The table of units that are read: each spelling with its size in SI and its dimension.

Sizes are exact by definition (SI brochure, 9th edition; international yard and pound agreement of 1959 for inch and pound;
standard gravity 9.80665 m/s^2; thermochemical calorie 4.184 J; mechanical horsepower 550 ft*lbf/s). Tests compare every
spelling with an independent units library.

Angle and cycle are counted as dimensions of their own, so that a turn, a radian and a hertz are never taken for one another.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["BASES", "FOR_PEOPLE", "PHRASES", "REFUSED", "UNITS", "Dimension", "Unit"]

Dimension = tuple[int, int, int, int, int, int, int]
BASES = ("length", "mass", "time", "current", "temperature", "angle", "cycle")

_PREFIX = {
    "p": 1e-12,
    "n": 1e-9,
    "u": 1e-6,
    "m": 1e-3,
    "c": 1e-2,
    "d": 1e-1,
    "h": 1e2,
    "k": 1e3,
    "M": 1e6,
    "": 1.0,
}
_INCH, _POUND, _GRAVITY = 0.0254, 0.45359237, 9.80665


@dataclass(frozen=True, slots=True)
class Unit:
    """factor: SI amount of one unit; offset: SI value at its zero (thermometer scales only)."""

    factor: float
    dimension: Dimension
    offset: float = 0.0


def _dim(
    length: int = 0,
    mass: int = 0,
    time: int = 0,
    current: int = 0,
    temperature: int = 0,
    angle: int = 0,
    cycle: int = 0,
) -> Dimension:
    return (length, mass, time, current, temperature, angle, cycle)


_ONE = _dim()
_LENGTH, _MASS, _TIME, _CURRENT, _WARMTH = (
    _dim(1),
    _dim(0, 1),
    _dim(time=1),
    _dim(current=1),
    _dim(temperature=1),
)
_FORCE, _ENERGY, _POWER, _CHARGE = _dim(1, 1, -2), _dim(2, 1, -2), _dim(2, 1, -3), _dim(time=1, current=1)
_VOLTS, _PRESSURE, _VOLUME = _dim(2, 1, -3, -1), _dim(-1, 1, -2), _dim(3)
_TURNING = _dim(time=-1, angle=1)

# (size, dimension, spellings that take prefixes, the prefixes, spellings that stand alone)
_ROWS: tuple[tuple[float, Dimension, str, str, str], ...] = (
    (1.0, _LENGTH, "m", "u m c d k", "metre metres meter meters"),
    (_INCH, _LENGTH, "", "", "in inch inches"),
    (12 * _INCH, _LENGTH, "", "", "ft foot feet"),
    (36 * _INCH, _LENGTH, "", "", "yd yard yards"),
    (5280 * 12 * _INCH, _LENGTH, "", "", "mile miles"),
    (1e-3, _MASS, "g", "m k", "gram grams"),
    (1.0, _MASS, "", "", "kilo kilos kilogram kilograms"),
    (1e3, _MASS, "", "", "tonne tonnes"),
    (_POUND, _MASS, "", "", "lb lbs pound pounds"),
    (_POUND / 16, _MASS, "", "", "oz"),
    (1.0, _TIME, "s", "n u m", "sec second seconds"),
    (60.0, _TIME, "", "", "min minute minutes"),
    (3600.0, _TIME, "", "", "h hr hour hours"),
    (86400.0, _TIME, "", "", "d day days"),
    (1.0, _CURRENT, "A", "u m k", "amp amps ampere amperes"),
    (1.0, _WARMTH, "K", "m", "kelvin"),
    (1.0, _FORCE, "N", "m k", "newton newtons"),
    (_GRAVITY, _FORCE, "", "", "kgf"),
    (_POUND * _GRAVITY, _FORCE, "", "", "lbf"),
    (_POUND * _GRAVITY / 16, _FORCE, "", "", "ozf"),
    (1.0, _ENERGY, "J", "m k M", "joule joules"),
    (1.0, _ENERGY, "Nm", "m k", ""),
    (_GRAVITY / 100, _ENERGY, "", "", "kgcm"),
    (3600.0, _ENERGY, "Wh", "m k M", ""),
    (4.184, _ENERGY, "cal", "k", ""),
    (1.0, _POWER, "W", "u m k M", "watt watts"),
    (550 * 12 * _INCH * _POUND * _GRAVITY, _POWER, "", "", "hp horsepower"),
    (1.0, _VOLTS, "V", "u m k", "volt volts"),
    (1.0, _dim(2, 1, -3, -2), "ohm", "u m k M", "ohms"),
    (1.0, _dim(-2, -1, 3, 2), "S", "u m k", "siemens"),
    (1.0, _dim(-2, -1, 4, 2), "F", "p n u m", "farad farads"),
    (1.0, _dim(2, 1, -2, -2), "H", "u m", "henry henries"),
    (1.0, _dim(2, 1, -2, -1), "Wb", "u m", ""),
    (1.0, _dim(0, 1, -2, -1), "T", "u m", ""),
    (1.0, _CHARGE, "C", "u m k", "coulomb coulombs"),
    (3600.0, _CHARGE, "Ah", "m k", ""),
    (1.0, _PRESSURE, "Pa", "h k M", ""),
    (1e5, _PRESSURE, "bar", "m", ""),
    (_POUND * _GRAVITY / _INCH**2, _PRESSURE, "", "", "psi"),
    (1e-3, _VOLUME, "L l", "m", "litre litres liter liters"),
    ((12 * _INCH) ** 3 / 60, _dim(3, time=-1), "", "", "cfm"),
    (1609.344 / 3600, _dim(1, time=-1), "", "", "mph"),
    (1.0, _dim(angle=1), "rad", "m", "radian radians"),
    (math.pi / 180, _dim(angle=1), "", "", "deg degree degrees"),
    (2 * math.pi, _dim(angle=1), "", "", "turn turns rev revs revolution revolutions"),
    (2 * math.pi / 60, _TURNING, "rpm", "k", ""),
    (1.0, _dim(time=-1, cycle=1), "Hz", "m k M", "hertz"),
    (1.0, _dim(cycle=1), "", "", "cycle cycles"),
    (0.01, _ONE, "", "", "% percent"),
    (1e-6, _ONE, "", "", "ppm"),
    (1.0, _ONE, "", "", "1"),
)


def _build() -> dict[str, Unit]:
    units: dict[str, Unit] = {}
    for size, dimension, stems, prefixes, alone in _ROWS:
        spelled = [(p + stem, _PREFIX[p] * size) for stem in stems.split() for p in ["", *prefixes.split()]]
        spelled += [(name, size) for name in alone.split()]
        for name, factor in spelled:
            assert name not in units, f"two units are spelled {name}"
            units[name] = Unit(factor, dimension)
    units["degC"] = Unit(1.0, _WARMTH, 273.15)
    units["degF"] = Unit(5 / 9, _WARMTH, 459.67 * 5 / 9)
    units["dK"] = Unit(1.0, _WARMTH)
    return units


UNITS: dict[str, Unit] = _build()

# Whole unit texts that the grammar of products and quotients would not read, and what they stand for.
PHRASES: dict[str, str] = {
    "turns a minute": "rpm",
    "turns per minute": "rpm",
    "turns/minute": "rpm",
    "r/min": "rpm",
    "turns a second": "turn/s",
    "amp hours": "Ah",
    "amp-hours": "Ah",
    "watt hours": "Wh",
    "watt-hours": "Wh",
    "kilowatt hours": "kWh",
    "V/1000 rpm": "V/krpm",
    "V per 1000 rpm": "V/krpm",
    "volts per 1000 rpm": "V/krpm",
    "mV per rpm": "mV/rpm",
    '"': "in",
    "\u2033": "in",
}

# Spellings that look like a unit but would be misread, and what to write instead.
REFUSED: dict[str, str] = {
    "VA": "VA is volts times amps, which is not always watts; read a wattmeter, or write the watts you expect in W",
    "kVA": "kVA is volts times amps, which is not always watts; write the watts you expect in kW",
    "AWG": "AWG is a wire gauge, which belongs only in the size of a wire",
    "PS": "PS is metric horsepower; write the watts (1 PS is 735.5 W)",
    "CV": "CV is metric horsepower; write the watts (1 CV is 735.5 W)",
    "gal": "gallons differ from place to place; write litres (L)",
    "Cal": "write kcal for food energy, or cal for the small unit",
    "month": "months differ in length; write days",
    "year": "years differ in length; write days",
}

# SI unit -> spellings a person may use, named when something else was read.
FOR_PEOPLE: dict[str, str] = {
    "1": "a plain number, or a share in %",
    "rad/s": "rpm, turns a minute, rad/s",
    "rad": "deg, rad, turns",
    "V": "V, mV, kV",
    "A": "A, mA",
    "W": "W, kW, hp",
    "ohm": "ohm, mohm, kohm",
    "F": "F, mF, uF",
    "H": "H, mH, uH",
    "C": "Ah, mAh, C",
    "J": "Wh, kWh, J, kJ, kcal",
    "K": "degC, degF, K",
    "dK": "K",
    "K/W": "K/W",
    "m": "mm, cm, m, in, ft",
    "m^2": "mm2, cm2, m2",
    "m^3": "m3, L",
    "m^3/s": "m3/h, L/min, cfm",
    "kg": "kg, g, lb",
    "kg*m^2": "kg*m^2",
    "s": "s, min, h, days",
    "N": "N, kgf, lbf",
    "N*m": "N*m, lbf*ft",
    "N*m*s/rad": "N*m*s/rad, N*m/rpm",
    "V*s/rad": "V*s/rad, V/rpm, V/krpm, V per 1000 rpm, N*m/A",
    "Hz": "Hz",
    "m/s": "m/s, km/h, mph",
    "Pa": "Pa, kPa, bar, psi",
    "wire_size": "mm2 or AWG",
}
