"""Every no that offers a change: the change, made in the rig file and asked again, is accepted."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.scenarios.reading import HERE, RANK, Edits, asked, loaded

from sparewatt.files import read_rig, tried
from sparewatt.files.edit import made
from sparewatt.studies.answers import Change, MatchAnswer
from sparewatt.studies.match import match

SOLID = (("load.0.power", "150 W +/- 2 W"),)
CASES: list[tuple[str, Edits, dict[str, float]]] = [
    ("clinic_store", (), {}),
    ("clinic_store", SOLID, {}),
    ("clinic_store", (("stage.1.driven_diameter", "28 mm"), ("load.0.power", "130 W +/- 1 W")), {}),
    ("clinic_store", (("stage.1.driven_diameter", "20 mm"),), {}),
    ("clinic_store", (("stage.1.driven_diameter", "70 mm"),), {}),
    ("clinic_store", (("machine.resistance", "1.2 ohm +/- 0.1 ohm"),), {}),
    ("clinic_store", (("converter.0.input_current", "5 A +/- 0.3 A"),), {}),
    ("clinic_store", (("converter.0.kind", "buck"), ("converter.0.set_voltage", "28 V")), {}),
    ("school_six_volt", (), {}),
    ("school_six_volt", (("battery.capacity", "5 Ah"), ("battery.charge_current", "1.5 A")), {}),
    ("stilt_house", (("stage.1.driven_diameter", "150 mm"),), {}),
    ("stilt_house", (("stage.1.driven_diameter", "100 mm"),), {}),
    ("stilt_house", (), {"effort": 300.0, "duration": 3600.0}),
    ("barn_drill", (), {"effort": 200.0}),
    ("barn_drill", (), {"effort": 120.0, "duration": 3600.0}),
    ("barn_drill", (), {"duration": 3600.0}),
    ("barn_drill", (("stage.1.driven_diameter", "200 mm"),), {}),
    ("camp_laptop", SOLID, {}),
    ("camp_laptop", (("stage.1.driven_diameter", "160 mm"),), {}),
    ("camp_laptop", (("load.0.power", "400 W +/- 5 W"),), {}),
    ("alpine_three", (), {}),
    ("low_volts", (), {"effort": 350.0}),
    ("low_volts", (("stage.1.driven_diameter", "300 mm"),), {}),
    ("arm_crank", (), {"effort": 90.0}),
    ("phone_usb", (("stage.1.driven_diameter", "150 mm"),), {}),
    ("phone_usb", (("load.0.power", "40 W +/- 2 W"),), {}),
    ("hub_relay", (("converter.0.set_current", "12 A"),), {}),
    ("garden_pump", (("load.0.power", "200 W +/- 5 W"),), {}),
    ("garden_pump", (("stage.1.driven_teeth", "[60]"),), {}),
]


def again(name: str, edits: Edits, change: Change) -> MatchAnswer:
    """The question as the change puts it, on the rig with the change's own edits."""
    assert change.ask is not None
    return match(tried(loaded(name, edits), change.edits).rig, change.ask, nearest=False)


@pytest.mark.parametrize(("name", "edits", "ask"), CASES)
def test_each_offer_is_a_yes_when_made(name: str, edits: Edits, ask: dict[str, float]) -> None:
    """The verdict is refused, something is offered, and each proven offer lifts the verdict at least one word."""
    a = asked(name, edits, nearest=True, **ask)
    assert a.verdict == "not by legs"
    proven = [c for c in a.nearest_yes if c.proven]
    assert proven
    for change in proven:
        b = again(name, edits, change)
        assert RANK[b.verdict] > RANK[a.verdict], change.says


@pytest.mark.parametrize("name", ["clinic_store", "alpine_three", "school_six_volt"])
def test_offers_are_few_sorted_and_said(name: str) -> None:
    """At most three, smallest first, each with a sentence."""
    offers = asked(name, nearest=True).nearest_yes
    assert 1 <= len(offers) <= 3
    assert [c.size for c in offers] == sorted(c.size for c in offers)
    assert all(len(c.says) > 10 for c in offers)


def test_a_good_rig_is_offered_nothing() -> None:
    """Where the answer is yes there is nothing to change."""
    assert asked("stilt_house", nearest=True).nearest_yes == ()


def test_an_offer_written_to_the_file_reads_back_the_same(tmp_path: Path) -> None:
    """Made on disk instead of tried in memory, the change gives the same rig."""
    for change in asked("clinic_store", nearest=True).nearest_yes:
        path = tmp_path / f"{change.kind}.toml"
        path.write_text((HERE / "clinic_store.toml").read_text(encoding="utf-8"), encoding="utf-8")
        made(read_rig(path), change.edits)
        assert read_rig(path).rig == tried(loaded("clinic_store"), change.edits).rig
