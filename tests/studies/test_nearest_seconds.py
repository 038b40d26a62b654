"""The nearest yes of a scene that goes wrong: each offer, made in the file or ridden as told, is played again and works."""

from __future__ import annotations

from functools import cache

import pytest
from tests.scenarios.reading import Edits, loaded
from tests.studies.guard_rigs import AH, clean_rig, clinic, m, with_part

from sparewatt.files import Loaded, demo_text, read_text, tried
from sparewatt.language.script import script_from_words
from sparewatt.parts import Load, Ride, Rig
from sparewatt.rig.fill import fill
from sparewatt.studies.answers import Change
from sparewatt.studies.scenes.nearest_seconds import TROUBLES, nearest_seconds, troubles_of

LAMP = """
name = "Lamp"
[[rider]]
name = "Ansa"
mass = "70 kg"
critical_power = "150 W +/- 8 W"
work_reserve = "14 kJ +/- 2 kJ"
[[stage]]
name = "chain"
kind = "chain"
driver_teeth = [42]
driven_teeth = [18]
[[stage]]
name = "belt"
kind = "toothed_belt"
driver_diameter = "600 mm"
driven_diameter = "60 mm"
[machine]
emf_constant = "0.15 V*s/rad +/- 0.003 V*s/rad"
resistance = "0.4 ohm +/- 0.03 ohm"
[diode]
kind = "schottky"
[[load]]
name = "lamp"
kind = "lamp"
power = "80 W +/- 2 W"
voltage = "16 V"
voltage_max = "30 V"
[ride]
load = "lamp"
effort = "100 W"
"""
SPRINT = "in gear 42/14; for 8 s; at 1 s sprint; at 3 s pull the plug"
CASES: list[tuple[str, str, Edits, str, str]] = [
    ("flicker", "lamp", (), "for 6 s", "flywheel"),
    ("over volts", "skerry", (("clamp.voltage", "70 V"),), SPRINT, "clamp"),
    ("pulses", "clinic_store", (), "from rest; for 20 s; with the cold box on", "shed"),
    ("pulses", "clinic_store", (), "for 12 s; with the cold box on; at 150 W", "effort"),
    ("pulses", "schoolyard", (), "for 10 s", "share"),
]


@cache
def file_of(name: str, edits: Edits = ()) -> Loaded:
    """A rig file of the scenarios, of the demos, or the lamp above, with edits tried on it."""
    if name == "lamp":
        return tried(read_text(LAMP), edits)
    if name in ("skerry", "cellar", "schoolyard"):
        return tried(read_text(demo_text(name)), edits)
    return loaded(name, edits)


@cache
def offers(name: str, edits: Edits, words: str) -> tuple[Change, ...]:
    """What is offered for a scene in words."""
    filled = fill(file_of(name, edits).rig)
    return nearest_seconds(filled, script_from_words(filled, words))


@pytest.mark.parametrize(("trouble", "name", "edits", "words", "kind"), CASES)
def test_each_offer_works_when_it_is_made(
    trouble: str, name: str, edits: Edits, words: str, kind: str
) -> None:
    """The scene goes wrong; what is offered is made in the file and ridden as told, and then nothing goes wrong."""
    filled = fill(file_of(name, edits).rig)
    wrong, _share = troubles_of(filled, script_from_words(filled, words))
    assert trouble in wrong
    found = offers(name, edits, words)
    if kind:
        assert kind in {change.kind for change in found}
    for change in found:
        changed = fill(tried(file_of(name, edits), change.edits).rig)
        left, share = troubles_of(changed, script_from_words(changed, change.words), runs=20)
        assert left == frozenset(), change.says
        assert share >= 0.6, change.says
        assert change.proven
        assert change.says[-1] not in ".!"


def test_offers_are_few_sorted_and_of_different_kinds() -> None:
    """At most three, smallest first."""
    for _trouble, name, edits, words, _kind in CASES:
        found = offers(name, edits, words)
        assert len(found) <= 3
        assert [c.size for c in found] == sorted(c.size for c in found)
        assert len({c.kind for c in found}) == len(found)


@pytest.mark.parametrize(
    ("rig", "words"),
    [
        (clean_rig(), "at 2 s pull the plug"),
        (clean_rig(), "from rest; for 20 s"),
        (clinic(40.0, 90.0), "at 220 W; from rest; for 20 s; with the cold box on"),
        (read_text(demo_text("skerry")).rig, "for 8 s; at 1 s sprint; at 3 s pull the plug"),
    ],
)
def test_a_scene_that_goes_well_is_offered_nothing(rig: Rig, words: str) -> None:
    """No trouble, no change."""
    filled = fill(rig)
    script = script_from_words(filled, words)
    assert troubles_of(filled, script)[0] == frozenset()
    assert nearest_seconds(filled, script) == ()


def test_pedalling_first_is_offered_where_it_helps() -> None:
    """With the load on from a standing start the board pulses; with the load switched on later it does not."""
    filled = fill(with_part(clinic(40.0, 90.0), "load.0", power=m(105.0)))
    script = script_from_words(filled, "from rest; at 170 W; for 20 s; with the cold box on")
    assert "pulses" in troubles_of(filled, script)[0]
    order = next(c for c in nearest_seconds(filled, script) if c.kind == "order")
    assert order.edits == ()
    assert "switch the cold box on" in order.words
    assert order.says.startswith("pedal first")
    assert order.size < 0.05


def test_a_wider_gap_between_sleeping_and_waking_is_offered_where_it_helps() -> None:
    """A board that wakes at a few volts more than it sleeps at takes the load again too early."""
    filled = fill(with_part(clinic(50.0, 80.0), "converter.0", restart=m(11.2)))
    script = script_from_words(filled, "from rest; at 180 W; for 20 s; with the cold box on")
    assert "pulses" in troubles_of(filled, script)[0]
    wider = next(c for c in nearest_seconds(filled, script, runs=0) if c.kind == "hysteresis")
    path, text = wider.edits[0]
    assert path == "converter.0.restart"
    volts = float(text.removesuffix(" V"))
    assert volts > 11.2
    changed = fill(with_part(clinic(50.0, 80.0), "converter.0", restart=m(volts)))
    assert troubles_of(changed, script)[0] == frozenset()


def test_another_gear_is_offered_for_volts() -> None:
    """What passes the rating in the hardest gear does not in an easier one."""
    rig = with_part(
        with_part(clean_rig(), "stage.0", driven_teeth=(11, 18)), "converter.0", input_max=m(55.0)
    )
    filled = fill(rig)
    script = script_from_words(filled, "in gear 42/11; for 6 s; at 1 s pull the plug")
    assert "over volts" in troubles_of(filled, script)[0]
    gear = next(c for c in nearest_seconds(filled, script) if c.kind == "gear")
    assert gear.ask is not None
    assert gear.ask.gear == "42/18"
    assert "in gear 42/18" in gear.words


def test_a_bigger_capacitor_is_offered_for_board_and_coil() -> None:
    """A bus that swings against the coil: more farads hold it still."""
    filled = fill(with_part(clean_rig(), "bus", capacitance=m(3e-4)))
    script = script_from_words(filled, "at 150 W; for 6 s")
    assert "swings" in troubles_of(filled, script)[0]
    more = next(c for c in nearest_seconds(filled, script) if c.kind == "capacitor")
    assert more.edits == (("bus.capacitance", "2.2 mF"),)


def short_of_a_load() -> Rig:
    """A heater of so few ohms straight on the machine that the legs cannot turn it."""
    heater = Load(
        name="heater", kind="heater", power=m(5000.0), voltage=m(12.0), voltage_max=m(30.0), trigger="none"
    )
    rig = clean_rig(
        battery=None, fuse=(), converter=(), bus=None, wire=(), load=(heater,),
        ride=Ride(load="heater", effort=m(60.0), duration=m(AH)),
    )  # fmt: skip
    return with_part(rig, "machine", resistance=m(0.05))


def test_what_goes_wrong_is_named_on_planted_scenes() -> None:
    """Each trouble on a scene that has it, and none on the clean rig's."""
    planted = {
        "over volts": (
            with_part(clean_rig(), "converter.0", input_max=m(38.0)),
            "for 6 s; at 1 s pull the plug",
        ),
        "fuse": (with_part(clean_rig(), "fuse.0", rating=m(4.0)), "for 10 s; at 1 s sprint"),
        "pulses": (clinic(35.0, 60.0), "for 12 s"),
        "unserved": (clinic(35.0, 60.0), "at 60 W; for 12 s"),
        "over load volts": (clinic(50.0, 90.0), "for 6 s; at 1 s sprint"),
        "stall": (short_of_a_load(), "for 12 s; at 3 s switch the heater on"),
        "swings": (with_part(clean_rig(), "bus", capacitance=m(3e-4)), "at 150 W; for 6 s"),
        "flicker": (read_text(LAMP).rig, "for 6 s"),
    }
    for trouble, (rig, words) in planted.items():
        filled = fill(rig)
        assert trouble in troubles_of(filled, script_from_words(filled, words))[0], trouble
    filled = fill(clean_rig())
    assert troubles_of(filled, script_from_words(filled, "for 6 s"))[0] == frozenset()
    assert set(TROUBLES) == set(planted)


def test_a_stall_is_offered_a_smaller_load() -> None:
    """Fewer watts of the heater, or a wheel that carries it over."""
    filled = fill(short_of_a_load())
    found = nearest_seconds(filled, script_from_words(filled, "for 12 s; at 3 s switch the heater on"))
    assert {"shed", "flywheel"} & {c.kind for c in found}


def test_what_the_script_switches_off_is_no_trouble() -> None:
    """A load that is told to be off, unplugged, or left by its rider is not missed."""
    filled = fill(clean_rig())
    for words in (
        "for 8 s; at 2 s unhook the battery",
        "for 8 s; at 2 s pull the plug; at 5 s plug it back in",
        "for 12 s; at 2 s stop pedalling",
        "with the lamp on; for 8 s; at 2 s switch the lamp off",
    ):
        assert troubles_of(filled, script_from_words(filled, words))[0] == frozenset(), words


def test_what_is_thrown_out_early_changes_no_offer(monkeypatch: pytest.MonkeyPatch) -> None:
    """What has gone wrong for good in the first seconds is not played to the end; without that the offers are the same."""
    filled = fill(short_of_a_load())
    script = script_from_words(filled, "for 24 s; at 3 s switch the heater on")
    quick = nearest_seconds(filled, script)
    monkeypatch.setattr("sparewatt.studies.scenes.nearest_seconds.MUCH", 0.0)
    assert quick == nearest_seconds(filled, script)
    assert quick
