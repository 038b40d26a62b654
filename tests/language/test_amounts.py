"""Numbers with units as people type them: one way to read them for sentence, scene and moment of a ride."""

from __future__ import annotations

import pytest

from sparewatt.language.amounts import fitting, unit_at
from sparewatt.language.anchors import plain_text, quantities_in
from sparewatt.language.lexer import tokens_of
from sparewatt.language.moment_reader import moment_of
from sparewatt.language.vocabulary import vocabulary
from sparewatt.quantities import parse

# what is typed -> (SI unit, value); the factors are definitions (1 turn is 2 pi, 1 hp is 550 ft lbf/s)
TYPED = [
    ("62 rpm", "rad/s", 6.4926), ("62 r.p.m.", "rad/s", 6.4926), ("62 turns a minute", "rad/s", 6.4926),
    ("62 revs per minute", "rad/s", 6.4926), ("62 a minute", "rad/s", 6.4926), ("90 watts", "W", 90.0),
    ("0.09 kilowatts", "W", 90.0), ("90 w", "W", 90.0), ("1 horse power", "W", 745.7),
]  # fmt: skip


@pytest.mark.parametrize(("text", "si", "value"), TYPED)
def test_an_amount_is_the_same_in_sentence_scene_and_moment(text: str, si: str, value: float) -> None:
    """The same words give the same amount, whoever reads them."""
    (token,) = tokens_of(text)
    assert token.value == pytest.approx(value, rel=1e-4)
    (quantity,) = quantities_in(plain_text(text))
    assert parse(quantity.text, si).value == pytest.approx(value, rel=1e-4)
    moment = moment_of(f"{text}, heavy")
    assert (moment.cadence if si == "rad/s" else moment.effort) == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize("unit", [unit for unit, _ in vocabulary().units])
def test_every_unit_of_the_vocabulary_is_one_of_quantities(unit: str) -> None:
    """What a spelling stands for can be read as a number's unit."""
    assert parse(f"1 {unit}", _si(unit)).value > 0


def _si(unit: str) -> str:
    kinds = ("rad/s", "C", "J", "W", "V", "A", "kg", "m", "K", "m^3", "ohm", "s", "1")
    fits = fitting(unit, kinds)
    assert fits is not None, unit
    return fits[1]


def test_an_area_is_no_length_and_a_word_is_no_unit() -> None:
    """Wire of 2.5 mm2 is not a wheel of 2.5 mm; "3 a day" is not 3 A; "40 in a box" is not 40 inches."""
    assert quantities_in(plain_text("2.5 mm2 wire")) == []
    assert quantities_in(plain_text("charge phones, 3 a day, 40 in a box")) == []
    assert unit_at("12 zorkmids", 2) == ("zorkmids", 11)
    assert fitting("zorkmids", ("V", "W")) is None
