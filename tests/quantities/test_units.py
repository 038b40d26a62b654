"""Numbers with units: every size against an independent units library, every refusal, and no other kind of failure."""

from __future__ import annotations

import math
import timeit

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewatt.quantities import (
    BadText,
    dimension,
    factor,
    natural_unit,
    parse,
    parse_wire_size,
    render,
    render_band,
)
from sparewatt.quantities.table import BASES, FOR_PEOPLE, PHRASES, REFUSED, UNITS

ORACLE = pint.UnitRegistry(case_sensitive=True)
# Our spelling -> the oracle's, where they differ. Hertz is a cycle a second here and an inverse second there.
TWIN = {
    "L": "liter",
    "l": "liter",
    "mL": "milliliter",
    "ml": "milliliter",
    "in": "inch",
    "ft": "foot",
    "h": "hour",
    "d": "day",
    "hr": "hour",
    "sec": "second",
    "min": "minute",
    "lbs": "pound",
    "lb": "pound",
    "kilo": "kilogram",
    "kilos": "kilogram",
    "tonne": "metric_ton",
    "tonnes": "metric_ton",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "ozf": "ounce_force",
    "oz": "ounce",
    "Nm": "newton*meter",
    "mNm": "millinewton*meter",
    "kNm": "kilonewton*meter",
    "kgcm": "kilogram_force*centimeter",
    "Wh": "watt_hour",
    "mWh": "milliwatt*hour",
    "kWh": "kilowatt*hour",
    "MWh": "megawatt*hour",
    "cal": "calorie",
    "kcal": "kilocalorie",
    "Ah": "ampere*hour",
    "mAh": "milliampere*hour",
    "kAh": "kiloampere*hour",
    "hp": "horsepower",
    "deg": "degree",
    "krpm": "kilorpm",
    "rev": "turn",
    "revs": "turn",
    "revolutions": "revolution",
    "turns": "turn",
    "%": "percent",
    "K": "kelvin",
    "mK": "millikelvin",
    "dK": "kelvin",
    "degC": "delta_degC",
    "degF": "delta_degF",
    "amps": "ampere",
    "amp": "ampere",
    "yd": "yard",
    "inches": "inch",
    "feet": "foot",
    "cycle": "count",
    "cycles": "count",
    "T": "tesla",
    "g": "gram",
    "siemens": "siemens",
    "henries": "henry",
    "1": "dimensionless",
    "C": "coulomb",
    "mohm": "milliohm",
    "kohm": "kiloohm",
    "Mohm": "megaohm",
    "uohm": "microohm",
    "minutes": "minute",
    "ppm": "ppm",
    "mC": "millicoulomb",
    "uC": "microcoulomb",
    "kC": "kilocoulomb",
    "hPa": "hectopascal",
    "mbar": "millibar",
    "mT": "millitesla",
    "uT": "microtesla",
    "cfm": "foot**3/minute",
}
BASE_NAMES = ("[length]", "[mass]", "[time]", "[current]", "[temperature]")


def oracle(unit: str) -> pint.Quantity:
    """One `unit` in SI base units, by the independent library."""
    return ORACLE.Quantity(1.0, TWIN.get(unit, unit)).to_base_units()


@pytest.mark.parametrize("name", sorted(UNITS))
def test_every_spelling_has_the_size_and_dimension_of_the_oracle(name: str) -> None:
    """Each row of the table agrees with pint to 1e-12 and in its five physical dimensions. Source: pint 0.25."""
    theirs = oracle(name)
    assert factor(name) == pytest.approx(theirs.magnitude, rel=1e-12, abs=0)
    powers = {key: int(value) for key, value in theirs.dimensionality.items()}
    assert dimension(name)[:5] == tuple(powers.get(base, 0) for base in BASE_NAMES)


@pytest.mark.parametrize(
    ("text", "theirs"),
    [
        ("V*s/rad", "volt*second/radian"),
        ("V/rpm", "volt/rpm"),
        ("V/krpm", "volt/rpm/1000"),
        ("V per 1000 rpm", "volt/rpm/1000"),
        ("V/1000 rpm", "volt/rpm/1000"),
        ("N*m", "newton*meter"),
        ("N m", "newton*meter"),
        ("N\u00b7m", "newton*meter"),
        ("N*m/A", "newton*meter/ampere"),
        ("N*m*s/rad", "newton*meter*second/radian"),
        ("N*m/rpm", "newton*meter/rpm"),
        ("kgf*cm", "kilogram_force*centimeter"),
        ("lbf*ft", "pound_force*foot"),
        ("kg*m^2", "kilogram*meter**2"),
        ("g cm2", "gram*centimeter**2"),
        ("mm\u00b2", "millimeter**2"),
        ("ft3", "foot**3"),
        ("m3/h", "meter**3/hour"),
        ("L/min", "liter/minute"),
        ("cfm", "foot**3/minute"),
        ("W/kg", "watt/kilogram"),
        ("W/(m^2*K)", "watt/(meter**2*kelvin)"),
        ("K/W", "kelvin/watt"),
        ("degC/W", "delta_degC/watt"),
        ("degF/W", "delta_degF/watt"),
        ("m/s^2", "meter/second**2"),
        ("m s-2", "meter/second**2"),
        ("m/s/s", "meter/second**2"),
        ("J/(kg*K)", "joule/(kilogram*kelvin)"),
        ("Wh/day", "watt*hour/day"),
        ("ohm/km", "ohm/kilometer"),
        ("mohm/m", "milliohm/meter"),
        ("km/h", "kilometer/hour"),
        ("turns a minute", "turn/minute"),
        ("rev/min", "turn/minute"),
        ("1/K", "1/kelvin"),
        ("kcal/h", "kilocalorie/hour"),
    ],
)
def test_compound_units_have_the_size_of_the_oracle(text: str, theirs: str) -> None:
    """Products, quotients and powers agree with pint. Source: pint 0.25."""
    expected = ORACLE.Quantity(theirs).to_base_units().magnitude
    assert factor(text) == pytest.approx(expected, rel=1e-12, abs=0)


SIMPLE = [
    name
    for name in sorted(UNITS)
    if name not in ("degC", "degF", "1", "Hz", "kHz", "mHz", "MHz", "hertz", "cycle", "cycles")
]


@given(
    st.lists(st.tuples(st.sampled_from(SIMPLE), st.integers(-3, 3).filter(bool)), min_size=1, max_size=3),
    st.lists(st.tuples(st.sampled_from(SIMPLE), st.integers(1, 3)), min_size=0, max_size=2),
    st.sampled_from(["*", " ", "\u00b7", " * "]),
)
def test_random_compounds_have_the_size_of_the_oracle(
    above: list[tuple[str, int]], below: list[tuple[str, int]], times: str
) -> None:
    """Any product over any product, built at random, agrees with pint. Source: pint 0.25."""
    text = times.join(f"{name}^{power}" for name, power in above)
    if below:
        text += "/(" + times.join(f"{name}{power}" for name, power in below) + ")"
    expected = 1.0
    for name, power in [*above, *((n, -p) for n, p in below)]:
        expected *= float(oracle(name).magnitude) ** power
    assert factor(text) == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12 V", "V", 12.0),
        ("12.5V", "V", 12.5),
        (".5 V", "V", 0.5),
        ("1e-3 F", "F", 1e-3),
        ("3/16 in", "m", 4.7625e-3),  # 0.1875 * 25.4 mm
        ("1 1/4 in", "m", 31.75e-3),  # 1.25 * 25.4 mm
        ("1-1/4 in", "m", 31.75e-3),
        ('3/8"', "m", 9.525e-3),
        ("-5 degC", "K", 268.15),
        ("\u22125 \u00b0C", "K", 268.15),
        ("68 degF", "K", 293.15),  # 68 degF is 20 degC
        ("300 K", "K", 300.0),
        ("10 K", "dK", 10.0),
        ("10 degC", "dK", 10.0),  # a difference of 10 degC is 10 K
        ("4000 rpm", "rad/s", 418.8790204786391),  # 4000 * 2 pi / 60
        ("4000 RPM", "rad/s", 418.8790204786391),
        ("36 Ah", "C", 129600.0),
        ("2000 kcal", "J", 8.368e6),
        ("93 %", "1", 0.93),
        ("0.93", "1", 0.93),
        ("12\u202fV", "V", 12.0),
        ("12\u00a0V", "V", 12.0),
        ("12 V per 1000 rpm", "V*s/rad", 0.11459155902616465),  # 12 / (1000 * 2 pi / 60)
        ("0.07 N*m/A", "V*s/rad", 0.07),
        ("4.7 \u00b5F", "F", 4.7e-6),
        ("5 \u2126", "ohm", 5.0),
        ("38\u00b0", "rad", math.radians(38)),
    ],
)
def test_numbers_as_people_write_them(text: str, unit: str, value: float) -> None:
    """Fractions, mixed numbers, signs, spaces and scales give the value worked out by hand."""
    read = parse(text, unit)
    assert read.value == pytest.approx(value, rel=1e-12, abs=0)
    assert read.sd is None


@pytest.mark.parametrize(
    ("text", "unit", "value", "sd"),
    [
        ("0.9 ohm +/- 0.05", "ohm", 0.9, 0.05),
        ("0.9 ohm \u00b1 0.05", "ohm", 0.9, 0.05),
        ("0.9 ohm +/- 50 mohm", "ohm", 0.9, 0.05),
        ("21 A +/- 5 %", "A", 21.0, 1.05),
        ("-20 A +/- 5 %", "A", -20.0, 1.0),
        ("20 degC +/- 2", "K", 293.15, 2.0),
        ("20 degC +/- 2 K", "K", 293.15, 2.0),
        ("68 degF +/- 9 degF", "K", 293.15, 5.0),
        ("0.87 +/- 0.02", "1", 0.87, 0.02),
        ("93 % +/- 2 %", "1", 0.93, 0.02),  # points
        ("93 % +/- 2", "1", 0.93, 0.02),
        ("0.8 +/- 5 %", "1", 0.8, 0.04),  # share of the value
        ("0.8 to 1.0 ohm", "ohm", 0.9, 0.1 / 1.6448536269514722),
        ("800 mohm to 1 ohm", "ohm", 0.9, 0.1 / 1.6448536269514722),
        ("10 to 20 degC", "K", 288.15, 5 / 1.6448536269514722),
        ("60 rpm +/- 0", "rad/s", 2 * math.pi, 0.0),
    ],
)
def test_spreads_and_ranges(text: str, unit: str, value: float, sd: float) -> None:
    """A spread is one standard deviation; a range is a 90 % band, 1.645 standard deviations each side (normal table)."""
    read = parse(text, unit)
    assert read.value == pytest.approx(value, rel=1e-12, abs=0)
    assert read.sd == pytest.approx(sd, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("2,5 A", "A", "use a point"),
        ("20,000 rpm", "rad/s", "nothing between thousands"),
        ("20 000 rpm", "rad/s", "two numbers"),
        ("1/0 in", "m", "0 below its stroke"),
        ("1 1/0 in", "m", "0 below its stroke"),
        ("1e999 A", "A", "too large"),
        ("1e308 MWh", "J", "too large"),
        ("1e-999 A", "A", "too small"),
        ("1 A +/- 1e999", "A", "too large"),
        ("12", "ohm", "unit is missing"),
        ("0", "ohm", "unit is missing"),
        ("", "ohm", "no number"),
        ("ohm", "ohm", "does not start with a number"),
        ("nan ohm", "ohm", "does not start with a number"),
        ("inf ohm", "ohm", "does not start with a number"),
        ("about 5 ohm", "ohm", "does not start with a number"),
        ("0.8-1.0 ohm", "ohm", 'the word "to"'),
        ("1.0 to 0.8 ohm", "ohm", "smaller number"),
        ("1 to 2 to 3 ohm", "ohm", '"to" between'),
        ("1 to 2 ohm +/- 1", "ohm", '"to" between'),
        ("5 kg", "m", "measures something else"),
        ("20 C", "K", '"degC"'),
        ("20 F", "K", '"degF"'),
        ("4000 1/min", "rad/s", '"rpm"'),
        ("4000 Hz", "rad/s", "measures something else"),
        ("1 V/Hz", "V*s/rad", "measures something else"),
        ("50 rpm", "Hz", "measures something else"),
        ("3 deg", "1", "measures something else"),
        ("21 a", "A", '"A"'),
        ("5 omh", "ohm", '"ohm"'),
        ("5 mw", "W", '"mW"'),
        ("5 MOHM", "ohm", "not a unit"),
        ("500 VA", "W", "not always watts"),
        ("2.5 AWG", "m^2", "wire gauge"),
        ("5 W/m K", "W/(m*K)", "two ways"),
        ("5 W/m*K", "W/(m*K)", "two ways"),
        ("5 m^99", "m", "not a unit"),
        ("5 (((m", "m", "not a unit"),
        ("20 degC +/- 5 %", "K", "in degrees"),
        ("1 A +/- -1", "A", "cannot be negative"),
        ("1 A +/-", "A", "no number"),
        ("1 A +/- 1 V", "A", "measures something else"),
        ("9" * 5000 + " A", "A", "longer than"),
        ("\u0665 A", "A", "does not start with a number"),
    ],
)
def test_what_cannot_be_read_for_certain_is_refused(text: str, unit: str, says: str) -> None:
    """Each refusal says what is the matter in its own words."""
    with pytest.raises(BadText) as caught:
        parse(text, unit)
    assert says in str(caught.value)
    assert caught.value.read.startswith(text[:40])


PIECES = [
    "0",
    "1",
    "12",
    "1e999",
    "1e-999",
    ".",
    "5.",
    "-",
    "+",
    "/",
    "3/0",
    "1/2",
    " ",
    "  ",
    "\t",
    "\n",
    "to",
    " to ",
    "+/-",
    "+/- ",
    "\u00b1",
    "%",
    ",",
    "ohm",
    "m",
    "V",
    "in",
    "degC",
    "K",
    "rpm",
    "1000 rpm",
    " per ",
    "^",
    "^2",
    "2",
    "-1",
    "^-9",
    "*",
    "(",
    ")",
    "AWG",
    "\u00b2",
    "\u0665",
    '"',
    "a",
    "e",
]


@settings(max_examples=500)
@given(
    st.lists(st.sampled_from(PIECES), max_size=12).map("".join),
    st.sampled_from(sorted(set(FOR_PEOPLE) - {"wire_size"})),
)
def test_nothing_but_a_finite_number_or_a_refusal_comes_out(text: str, unit: str) -> None:
    """Texts built from the grammar's own pieces never leak another kind of failure."""
    try:
        read = parse(text, unit)
    except BadText:
        return
    assert math.isfinite(read.value)
    assert read.sd is None or (math.isfinite(read.sd) and read.sd >= 0)


@given(st.lists(st.sampled_from(PIECES), max_size=8).map("".join))
def test_a_wire_size_is_an_area_or_a_refusal(text: str) -> None:
    """Wire sizes leak no other kind of failure either."""
    try:
        area = parse_wire_size(text)
    except BadText:
        return
    assert 0 < area <= 1e-3


@pytest.mark.parametrize(
    ("text", "area_mm2"),
    [
        ("12 AWG", 3.3088),  # reference row W03, exact from the ASTM B258 diameter formula
        ("AWG 12", 3.3088),
        ("10 awg", math.pi / 4 * 2.5882**2),  # W01
        ("4/0 AWG", math.pi / 4 * 11.684**2),  # W02
        ("0000 AWG", math.pi / 4 * 11.684**2),
        ("2.5 mm2", 2.5),
        ("2.5 mm\u00b2", 2.5),
        ("0.01 cm^2", 1.0),
    ],
)
def test_wire_sizes(text: str, area_mm2: float) -> None:
    """Gauges follow ASTM B258; areas are read as they stand."""
    assert parse_wire_size(text) == pytest.approx(area_mm2 * 1e-6, rel=1e-4, abs=0)


@pytest.mark.parametrize(
    "text",
    ["2.5 mm", "41 AWG", "5/0 AWG", "0/0 AWG", "3.5 AWG", "AWG", "-1 AWG", "0 mm2", "14", "9999999 mm2"],
)
def test_wire_sizes_refused(text: str) -> None:
    """A diameter, a gauge off the table or a bare number is not taken for a wire size."""
    with pytest.raises(BadText):
        parse_wire_size(text)


@given(
    st.floats(1e-6, 1e6),
    st.sampled_from(
        ["rpm", "mohm", "degF", "degC", "Ah", "in", "kWh", "hp", "V/krpm", "m3/h", "1", "N*m*s/rad"]
    ),
    st.integers(3, 9),
)
def test_what_is_written_reads_back(value: float, unit: str, digits: int) -> None:
    """render and parse are inverse to each other within the digits that are shown."""
    known = {"degF": 459.67 * 5 / 9, "degC": 273.15}.get(unit, 0.0)
    si = value * factor(unit) + known
    back = parse(render(si, unit, digits), unit).value
    assert back == pytest.approx(si, rel=10.0 ** (1 - digits), abs=1e-9 * factor(unit))


@pytest.mark.parametrize(
    ("low", "high", "unit", "says"),
    [
        (76.2 * math.pi / 30, 88.4 * math.pi / 30, "rpm", "76 to 88 rpm"),
        (0.951, 1.049, "ohm", "0.95 to 1.05 ohm"),
        (812.0, 853.0, "W", "810 to 850 W"),
        (12.0, 12.0, "V", "12 V"),
        (-3.2, 5.1, "W", "-3 to 5 W"),
        (5.1, -3.2, "W", "-3 to 5 W"),
        (0.4, 0.8, "1", "0.4 to 0.8"),
        (283.15, 293.15, "degC", "10 to 20 degC"),
        (math.nan, 1.0, "W", "not known"),
    ],
)
def test_bands_show_no_more_digits_than_are_known(low: float, high: float, unit: str, says: str) -> None:
    """The step of the last digit is between a fortieth and a quarter of the band."""
    assert render_band(low, high, unit) == says


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e5))
def test_a_shown_band_stays_close_to_the_band(low: float, width: float) -> None:
    """Rounding moves neither end by more than an eighth of the band."""
    text = render_band(low, low + width, "W").removesuffix(" W")
    first, _, last = text.partition(" to ")
    assert abs(float(first) - low) <= width / 8 + 1e-9 * abs(low)
    assert abs(float(last) - low - width) <= width / 8 + 1e-9 * abs(low)


def test_units_for_people_in_both_systems() -> None:
    """Small ohms become mohm, lengths inches where inches are used, thermometers their own scale."""
    assert render(0.0202, natural_unit(0.0202, "ohm")) == "20.2 mohm"
    assert natural_unit(0.03, "m") == "mm"
    assert natural_unit(0.03, "m", inch=True) == "in"
    assert natural_unit(293.0, "K", inch=True) == "degF"
    assert natural_unit(7200.0, "s") == "h"
    assert natural_unit(90.0, "s") == "s"
    for unit in FOR_PEOPLE:
        for inch in (False, True):
            if unit not in ("wire_size", "dK"):
                assert dimension(natural_unit(1.0, unit, inch=inch))[:5] == dimension(unit)[:5]


def test_spellings_offered_to_people_can_be_read() -> None:
    """Everything named under Accepted is read, as the right kind of quantity; phrases stand for known units."""
    for unit, offer in FOR_PEOPLE.items():
        if unit in ("1", "wire_size"):
            continue
        for spelling in offer.split(", "):
            parse(f"1 {spelling}", unit)
    for phrase, meaning in PHRASES.items():
        assert factor(phrase) == factor(meaning)
    assert not set(REFUSED) & set(UNITS)
    assert len(BASES) == len(dimension("V"))


def test_reading_is_quick() -> None:
    """A value with its spread is read in a few microseconds (ten times what it took when written)."""
    best = min(timeit.repeat(lambda: parse("0.9 ohm +/- 0.05", "ohm"), number=2000, repeat=5)) / 2000
    assert best < 40e-6
