"""Rigs and wishes that get a no, with its reason and its nearest yes. Ranges from hand models, no outside source."""

from __future__ import annotations

import pytest
from tests.scenarios.reading import HOUR, WH, appliance, asked, loaded, priced, rig, run

from sparewatt import tasks
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.guard import findings as guard
from sparewatt.studies.worth import worth

# ---- a stone hut: kettle, fridge, radio -------------------------------------------------------------------------------


def test_a_kettle_is_heat() -> None:
    """Each kettle is 170 Wh at the element, 340 to 420 Wh of legs, 4.5 to 5.6 h at about 75 W. Not by legs."""
    row = next(r for r in priced("bothy").rows if r.load == "kettle")
    assert row.verdict == "not by legs"
    assert row.energy_use / WH == pytest.approx(170)
    assert 340 <= row.energy_legs.mid / WH <= 420
    assert 4.5 <= row.minutes.mid / HOUR <= 5.6
    assert row.runs == "through battery and inverter"
    assert row.nearest_yes[0].kind == "no electricity"
    assert "stove" in row.nearest_yes[0].says
    assert "lamp and radio" in row.nearest_yes[0].says


def test_a_fridge_is_cold() -> None:
    """0.6 kWh a day is 16 to 20 h of riding a day. Not by legs; keep it cool some other way."""
    row = next(r for r in priced("bothy").rows if r.load == "small fridge")
    assert row.verdict == "not by legs"
    assert 16 <= row.per_day.mid / HOUR <= 20
    assert row.nearest_yes[0].kind == "no electricity"
    assert "cool" in row.nearest_yes[0].says


def test_a_radio_is_what_legs_are_for() -> None:
    """5 W for three hours: a quarter of an hour of riding."""
    row = next(r for r in priced("bothy").rows if r.load == "radio")
    assert row.verdict == "good use of legs"
    assert row.per_day.mid < 0.5 * HOUR


def test_the_hut_in_sentences() -> None:
    """The no comes with its reason."""
    said = tasks.worth(loaded("bothy")).answer.casefold()
    assert "kettle" in said
    assert "fridge" in said


@pytest.mark.parametrize("load", ["kettle", "small fridge"])
def test_loads_and_worth_agree_on_the_hut(load: str) -> None:
    """Both questions give the same verdict."""
    by_load = appliance(run("bothy"), load)
    by_worth = next(r for r in priced("bothy").rows if r.load == load)
    assert by_load.verdict == by_worth.verdict == "not by legs"
    assert by_load.nearest_yes


@pytest.mark.parametrize("load", ["kettle", "small fridge"])
def test_no_crowd_makes_heat_or_cold_a_yes(load: str) -> None:
    """Heat and cold stay a no however many ride, and sharing is not offered for them."""
    row = next(r for r in priced("bothy").rows if r.load == load)
    assert all(change.kind != "riders" for change in row.nearest_yes)
    crowd = next(r for r in worth(rig("bothy"), people=12).rows if r.load == load)
    assert crowd.verdict == "not by legs"


# ---- parts that make nothing, loads that must not be on direct current ------------------------------------------------


@pytest.mark.parametrize("kind", ["series", "induction"])
def test_a_machine_without_magnets_is_refused(kind: str) -> None:
    """A washing machine's motor has brushes but no magnets; an induction motor has neither. Look for magnets."""
    a = asked("washer_motor", (("machine.kind", kind),), nearest=True)
    assert a.verdict == "not by legs"
    assert a.stop == Stop.NO_MACHINE
    assert a.binds == "machine"
    assert "magnets" in a.nearest_yes[0].says
    assert a.delivered.mid != a.delivered.mid


@pytest.mark.parametrize(
    ("load", "word"),
    [
        ("churn", "burns"),
        ("halogen lamp with its iron block", "transformer"),
        ("dough mixer with a dial", "latches"),
        ("old box without a label", "look"),
    ],
)
def test_loads_that_must_not_be_on_direct_current(load: str, word: str) -> None:
    """Induction motor, transformer, electronic trigger, unknown: never yes on direct current, with the reason said."""
    row = appliance(run("dairy"), load)
    assert row.verdict == "not by legs"
    assert row.dc == "stop"
    assert word in row.dc_why.casefold()
    assert row.states == ()
    a = asked("dairy", load=load)
    assert a.stop == Stop.NOT_ON_DC
    assert a.verdict == "not by legs"


@pytest.mark.parametrize("load", ["churn", "dough mixer with a dial"])
def test_what_turns_can_be_belted(load: str) -> None:
    """Motion needs no electricity: a belt from the crank."""
    assert any(
        c.kind == "no electricity" and "belt" in c.says for c in appliance(run("dairy"), load).nearest_yes
    )


def test_a_transformer_may_run_on_an_inverter() -> None:
    """With a battery and an inverter the same lamp gets its AC back."""
    edits = (
        ("battery+", 'chemistry = "agm"\nvoltage = "12 V"\ncapacity = "60 Ah"'),
        ("converter+", 'name = "inverter"\nkind = "inverter"\nat = "load"'),
        ("load.1.through", "inverter"),
    )
    row = appliance(run("dairy", edits), "halogen lamp with its iron block")
    assert row.dc == "not refused"
    assert row.stop == Stop.FOUND


# ---- a cast plate on the motor's shaft, a bank in a closed cellar -----------------------------------------------------


def test_a_cast_plate_on_the_motor_shaft_is_a_stop() -> None:
    """12 kg of unknown casting, 0.45 m, at 1,425 turns a minute: 34 m/s at the rim against 25. Stop."""
    found = [f for f in guard.guard(rig("garage_plate")).findings if f.unit == "m/s" and f.check == "stop"]
    assert found
    assert found[0].value >= 34
    assert found[0].threshold <= 25


def test_the_same_plate_on_the_middle_shaft() -> None:
    """At 360 turns a minute its rim does 9 m/s riding, below 25 even when spun too fast."""
    edits = (("flywheel.0.after_stage", "1"),)
    found = [f for f in guard.guard(rig("garage_plate", edits)).findings if f.unit == "m/s"]
    assert all(f.check != "stop" for f in found)


def test_a_bank_charging_in_a_closed_cellar_is_a_stop() -> None:
    """Four riders, 200 Ah of flooded cells, no volts limit, 12 m3 and the vents shut: up to 54 L/h of hydrogen. Stop."""
    edits = (
        ("battery.capacity", "200 Ah"),
        ("battery.in_room", "true"),
        ("battery.voltage_limited", "false"),
        ("battery.charge_current", "20 A"),
        ("neighbour+", 'name = "two"'),
        ("neighbour+", 'name = "three"'),
        ("neighbour+", 'name = "four"'),
        ("place+", 'volume = "12 m3"\nclosed = "true"\nfresh_air = "0 m3/h"'),
    )
    answer = guard.guard(rig("twin_riders", edits))
    assert answer.check == "stop"
    said = " ".join(f"{f.title} {f.says}" for f in answer.findings if f.check == "stop").casefold()
    assert "hydrogen" in said
    assert "air" in said or "breath" in said


def test_a_no_says_why() -> None:
    """Every refusal here comes with a reason in words."""
    for name, load in (
        ("washer_motor", None),
        ("dairy", "churn"),
        ("clinic_store", None),
        ("school_six_volt", None),
    ):
        a = asked(name) if load is None else asked(name, load=load)
        assert a.verdict == "not by legs"
        assert len(a.binds_says.split()) >= 2
        assert a.stop.value
    assert refusal(rig("dairy"), "churn") is not None
