"""A rig written as a fresh file reads back as the same rig, bit for bit."""

from __future__ import annotations

import dataclasses
import math
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.files.samples import HUT, TEXTS, records

from sparewatt.errors import BadRig
from sparewatt.files import read_text, to_toml
from sparewatt.files.values import read_value
from sparewatt.files.walk import Walk, exact_and_plate, fields_of, parts_of, rig_from
from sparewatt.files.write import measured_text, quoted
from sparewatt.parts import Measured, Rig


@settings(max_examples=150)
@given(records(), st.booleans())
def test_any_rig_reads_back_the_same(rig: Rig, comments: bool) -> None:
    """Every field of every part, with any number, spread, origin, note and text, survives the file."""
    walk = Walk({})
    assert rig_from(tomllib.loads(to_toml(rig, comments=comments)), walk) == rig
    assert walk.problems == []


def test_a_file_of_ours_written_anew_means_the_same() -> None:
    """The hut's rig, written fresh, is read and checked whole and is the same rig; written again it is the same text."""
    rig = read_text(HUT).rig
    text = to_toml(rig)
    assert read_text(text).rig == rig
    assert to_toml(read_text(text).rig) == text


def test_numbers_are_written_as_people_say_them() -> None:
    """Turns a minute, amp-hours, mm2 and degrees, with no digits that were not given; each line says what it is."""
    text = to_toml(read_text(HUT).rig)
    for line in [
        'capacity = "36 Ah"',
        'winding_limit = "130 degC"',
        'emf_constant = "12 V/krpm"',
        'critical_power = "170 W +/- 15 W"',
        'resistance = { value = "0.9 ohm", spread = "0.05 ohm", how = "measured", note = "four readings" }',
        'plate_voltage = "95 V"',
        "driven_teeth = [18, 21]",
        "protected = false",
        "efficiency_curve = [[5.0, 0.78], [50.0, 0.9]]",
    ]:
        assert f"\n{line}  # " in text, line
    assert "\n[machine]  # The machine.\n" in text


@given(TEXTS)
def test_quoted_text_reads_back(text: str) -> None:
    """Quotes, backslashes, line ends and control letters survive."""
    assert tomllib.loads(f"a = {quoted(text)}\n")["a"] == text


@pytest.mark.parametrize(
    ("value", "name", "toml"),
    [
        (Measured(0.9, 0.315, "guess"), "resistance", '"0.9 ohm"'),
        (Measured(0.9, 0.05, "measured"), "resistance", '"0.9 ohm +/- 0.05 ohm"'),
        (Measured(0.02, 0.002, "nameplate"), "resistance", '{ value = "20 mohm", how = "nameplate" }'),
        (Measured(95.0, 9.5, "nameplate"), "plate_voltage", '"95 V"'),
        (Measured(2.0, 0.0, "measured"), "mass", '"2 kg"'),
        (Measured(15.0, 5.25, "guess"), "price", "15"),
    ],
)
def test_the_shortest_text_is_chosen(value: Measured, name: str, toml: str) -> None:
    """A number is written as plainly as its spread and origin allow."""
    record = read_text(HUT).rig.machine
    assert record is not None
    exact, plate = exact_and_plate(type(record))
    assert (
        measured_text(value, name, fields_of(type(record))[name], exact=name in exact, plate=name in plate)
        == toml
    )


@pytest.mark.parametrize(
    "value", [Measured(-1.0), Measured(math.nan), Measured(1.0, math.inf), Measured(1e9)]
)
def test_a_rig_that_cannot_stand_in_a_file_is_refused(value: Measured) -> None:
    """A number that reading would refuse is not written either."""
    rig = read_text(HUT).rig
    assert rig.machine is not None
    with pytest.raises(BadRig) as caught:
        to_toml(dataclasses.replace(rig, machine=dataclasses.replace(rig.machine, resistance=value)))
    assert caught.value.problems[0].where == "resistance"


def test_every_example_in_the_descriptions_is_accepted() -> None:
    """What the reference page shows as an example can be put into a file as it stands."""
    shown = 0
    for _, _, record in [("", None, Rig), *parts_of()]:
        for name, spec in fields_of(record).items():
            if not spec.example:
                continue
            bare = spec.kind in ("counts", "curve")
            data = tomllib.loads(f"value = {spec.example if bare else quoted(spec.example)}")
            assert read_value(data["value"], name, spec)
            shown += 1
    assert shown > 100
