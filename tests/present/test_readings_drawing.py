"""The picture of the fault-finder: a lane for each reading, a band for each cause, and in words what does not fit."""

from __future__ import annotations

import re
from functools import lru_cache
from xml.etree import ElementTree

import pytest
from tests.studies.mend_rigs import RPM, hut

from sparewatt.language.moment import Moment
from sparewatt.present.drawings.readings import caption, readings
from sparewatt.studies.mend.answers import Mended
from sparewatt.studies.mend.causes import mend


@lru_cache(maxsize=2)
def found(several: bool = False) -> Mended:
    """Volts that go missing on the way to the battery, at one moment or two."""
    one = Moment(cadence=62 * RPM, volts=15.2, amps=4.1, volts_out=12.6, feel="as usual", gear="42/18")
    two = Moment(cadence=68 * RPM, volts=16.2, amps=5.6, volts_out=12.7, feel="hard", gear="42/18")
    return mend(hut(), (one, two) if several else (one,), better=False)


@pytest.mark.parametrize("upright", [False, True])
def test_it_is_a_drawing_whose_words_say_its_numbers(upright: bool) -> None:
    """Well-formed, classes instead of colours, a title, and every lane told in the text alternative."""
    m = found(True)
    drawn = readings(m, upright=upright)
    root = ElementTree.fromstring(drawn)
    assert root.attrib["role"] == "img"
    assert not re.search(r'(fill|stroke)="(?!url|none)', drawn)
    desc = next(e.text for e in root if e.tag.endswith("desc"))
    assert desc is not None
    assert "you read 15.2" in desc
    assert m.answer.causes[0].name in desc
    assert "nothing is wrong gives" in desc


@pytest.mark.parametrize("upright", [False, True])
def test_nothing_sticks_out_and_no_letter_is_small(upright: bool) -> None:
    """Every shape lies inside its sheet; 15 px and more."""
    root = ElementTree.fromstring(readings(found(True), upright=upright))
    wide, high = (float(x) for x in root.attrib["viewBox"].split()[2:])
    for shape in root.iter():
        if shape.tag.endswith("rect"):
            x, w = float(shape.attrib["x"]), float(shape.attrib["width"])
            assert 0 <= x <= x + w <= wide
            assert float(shape.attrib["y"]) <= high
        if shape.tag.endswith("text"):
            assert float(shape.attrib["font-size"]) >= 15
            assert 0 < float(shape.attrib["y"]) <= high


def test_what_does_not_fit_says_so() -> None:
    """Somewhere a cause misses a reading, drawn hollow and said in words."""
    drawn = readings(found(True))
    assert "does not fit" in drawn
    assert "ds-box" in drawn


def test_the_sentence_under_it_can_stand_alone() -> None:
    """It names the first cause, and what it does not take in."""
    says = caption(found(True))
    assert says.startswith("Each line is what you read.")
    assert found(True).answer.causes[0].name in says
    assert says.endswith(".")


def test_without_readings_there_is_no_picture() -> None:
    """Only how it felt: nothing to draw."""
    m = mend(hut(), [Moment(feel="hard")], better=False)
    assert readings(m) == ""
    assert caption(m) == ""
