"""Numbers as people read them: digits that are known, thin space, three looks."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewatt.parts import Measured
from sparewatt.present import numbers
from sparewatt.present.drawings.letters import width, wrap
from sparewatt.rig.outcome import Band

THIN = "\u2009"
BANDS = [
    (Band(91, 84, 97), "W", f"84 to 97{THIN}W"),
    (Band(8.5, 7.96, 9.21), "rad/s", f"76 to 88{THIN}turns a minute"),
    (Band(4000, 3000, 5000), "s", f"50 to 83{THIN}min"),
    (Band(310, 300, 320), "K", f"27 to 47{THIN}°C"),
    (Band(3, 3, 3), "A", f"3{THIN}A"),
    (Band(math.nan, math.nan, math.nan), "W", "not known"),
    (Band(1e5, 9e4, 1.1e5), "J", f"25 to 31{THIN}Wh"),
]


@pytest.mark.parametrize(("band", "unit", "text"), BANDS)
def test_bands(band, unit, text):
    """A band is low to high in the unit a person would say. Worked by hand: 7.96 rad/s * 60/(2 pi) = 76.0."""
    assert numbers.band(band, unit).text == text


def test_inch_and_pound():
    """Where inches are used, lengths, masses and warmth follow. Source: 25.4 mm an inch, 0.45359237 kg a pound."""
    assert numbers.amount(0.0254, "m", inch=True).text == f"1{THIN}in"
    assert numbers.amount(0.45359237, "kg", inch=True).text == f"1{THIN}lb"
    assert numbers.amount(273.15, "K", inch=True).unit == "°F"


@given(mid=st.floats(0.5, 900), share=st.floats(0.01, 0.5))
def test_no_more_digits_than_known(mid, share):
    """The digits of a band move it by less than a fifth of its own length."""
    low, high = mid * (1 - share), mid * (1 + share)
    number = numbers.band(Band(mid, low, high), "W").number
    first, _, last = number.partition(" to ")
    assert abs(float(first) - low) <= 0.2 * (high - low) + 1e-9
    assert abs(float(last or first) - high) <= 0.2 * (high - low) + 1e-9
    assert len(number.replace(" to ", "")) <= 10


def test_three_looks():
    """Measured, computed and guessed, whatever the origin is called."""
    assert [numbers.look_of(how) for how in ("measured", "computed", "nameplate", "typical", "guess")] == [
        "measured",
        "computed",
        "computed",
        "guessed",
        "guessed",
    ]


def test_looks_on_page_terminal_and_paper():
    """The same number in its look: a class on the page, letters on the terminal, plain data for paper."""
    one = numbers.Shown("91", "W", "guessed")
    assert numbers.html(one) == f'<span class="n n-guessed">91{THIN}W</span>'
    assert numbers.terminal(one, colour=False) == f"~91{THIN}W"
    assert numbers.terminal(numbers.Shown("91", "W", "measured")) == f"\x1b[1m91{THIN}W\x1b[0m"
    assert numbers.data(one) == {"number": "91", "unit": "W", "look": "guessed"}
    assert "<" not in numbers.html(numbers.Shown("<b>", ""))[30:].replace("</span>", "")


def test_counted_constants_have_no_band():
    """A set value stands alone; a measured one shows its band (1.645 standard deviations either side)."""
    assert numbers.known(Measured(14.2, 0.0), "V").text == f"14.2{THIN}V"
    assert numbers.known(Measured(100.0, 10.0), "W").text == f"84 to 116{THIN}W"
    assert numbers.known(None, "W").text == "not known"


def test_no_limit():
    """What never ends is said so."""
    assert numbers.amount(math.inf, "s").text == "no limit"


def test_nothing_is_zero():
    """What arithmetic leaves of nothing is 0, and a small amount stays what it is."""
    assert numbers.amount(-3.5e-14, "A").text == f"0{THIN}A"
    assert numbers.band(Band(1e-12, -1e-11, 2e-11), "W").text == f"0{THIN}W"
    assert numbers.amount(0.004, "A").text == f"4{THIN}mA"


@given(
    text=st.text(st.characters(codec="ascii", categories=["L", "N"], include_characters=" -"), max_size=80),
    room=st.floats(40, 300),
)
def test_wrapped_lines_fit(text, room):
    """No line is wider than its room, and no letter is lost."""
    lines = wrap(text, room, 15)
    assert all(width(line, 15) <= room for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_clipped_text_says_so():
    """Words that must fit on one line end in an ellipsis, and fit."""
    (line,) = wrap("a name that goes on and on", 80, 15, most=1)
    assert line.endswith("\u2026")
    assert width(line, 15) <= 80
