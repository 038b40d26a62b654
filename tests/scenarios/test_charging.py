"""Rigs that charge a battery, from their files alone. The ranges come from hand models and are ours; no outside source.

Where a careful computation lands outside a hand range the case stays, with its inputs and the reason beside it.
"""

from __future__ import annotations

import math

import pytest
from tests.scenarios.reading import (
    AH,
    HOUR,
    RANK,
    RPM,
    appliance,
    asked,
    gear,
    holds,
    loaded,
    priced,
    rig,
    run,
    state,
)

from sparewatt import tasks
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Stop
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard import findings as guard

# ---- house on stilts: a scooter motor straight on a 12 V battery ------------------------------------------------------


def test_evening_light_for_a_house_on_stilts() -> None:
    """Yes: 57 to 61 turns, 4.6 to 5.4 A, 62 to 72 W into the battery, pinned there by it."""
    a = asked("stilt_house")
    assert a.verdict == "good use of legs"
    assert a.stop == Stop.PINNED
    assert a.binds == "battery"
    assert a.point is not None
    assert 57 <= a.hold.mid / RPM <= 61
    assert 4.6 <= a.point.i_battery <= 5.4
    assert 62 <= a.delivered.mid <= 72
    assert math.isnan(a.tip.mid)


def test_cut_in_of_the_stilt_house() -> None:
    """The battery begins to take at about 52 turns; about 30 W stay in the rig."""
    a = asked("stilt_house")
    assert gear(a).wakes / RPM == pytest.approx(52, abs=1)
    electric = [x for x in a.chain if x.key in ("machine", "diode", "wire")]
    assert sum(x.toll for x in electric) == pytest.approx(30, abs=5)


def test_amp_hours_of_two_hours_on_the_stilts() -> None:
    """9 to 10 Ah in two hours, which run a 10 W lamp for 9 to 11 h the next day.

    The lamp's hours come out at the top of the range because a lamp of 0.83 A draws less than the 20-hour current that
    the amp-hours are counted at; at the battery's 12 V and no better than one amp-hour back for each put in it is 11 h.
    """
    answer = run("stilt_house")
    plan = answer.charge
    battery = fill(rig("stilt_house")).rig.battery
    assert plan is not None
    assert battery is not None and battery.capacity is not None and battery.health is not None
    assert plan.amps.mid * 2 == pytest.approx(9.5, abs=0.7)
    stored = plan.ride_gain.mid * battery.capacity.value * battery.health.value
    assert 8.5 <= stored / AH <= 10
    lamp = appliance(answer, "lamp").run
    assert lamp is not None
    assert 9 <= stored / lamp.amps.mid / HOUR <= 11.5


def test_the_settings_of_the_stilt_house() -> None:
    """It is told at which volts to stop: 14.4 V by the hand model; 14.7 V at 25 degC for flooded cells, 14.8 V at 20 degC.

    The hand range took the figure of a sealed battery. This one is flooded, and at 20 degC.
    """
    stop = next(s for s in asked("stilt_house").settings if s.what == "stop charging at")
    assert 14.4 <= stop.value <= 14.9


@pytest.mark.parametrize(
    ("watts", "turns", "amps"), [(50.0, 56.3, 2.3), (75.0, 57.6, 3.7), (100.0, 58.8, 5.1), (150.0, 61.1, 7.6)]
)
def test_pushing_harder_brings_amps_not_turns(watts: float, turns: float, amps: float) -> None:
    """The hand table of this rig: from 50 to 150 W the cadence moves by five turns, the amps threefold.

    Asked for the first minute, with the copper cold as in the hand table: after two hours at 150 W the winding is 47 K
    warmer and the cadence 3 turns higher. The battery stands half a volt lower than the table's 13.2 V at small currents.
    """
    a = asked("stilt_house", effort=watts, duration=60.0)
    assert a.point is not None
    assert a.hold.mid / RPM == pytest.approx(turns, rel=0.04)
    assert a.point.i_battery == pytest.approx(amps, rel=0.08)


def test_the_stilt_house_in_sentences() -> None:
    """The answer as it is said names the pace, the watts and the reason."""
    said = " ".join(tasks.match(loaded("stilt_house"), draws=256).answer.split())
    assert "turns a minute" in said
    assert "battery" in said


# ---- a 6 V battery that somebody wants full in half an hour -----------------------------------------------------------


def test_a_small_battery_cannot_be_hurried() -> None:
    """No at 100 W: the legs would push more than twice what its case allows."""
    a = asked("school_six_volt", nearest=True)
    assert a.verdict == "not by legs"
    assert a.stop == Stop.OVERFILLS
    assert a.point is not None
    assert a.point.i_battery > 2 * 3.6


def test_what_the_six_volt_battery_takes() -> None:
    """3.6 A, 24 to 26 W at its charging volts; half an hour gives about 15 %; 20 to 80 % take about two hours."""
    plan = run("school_six_volt").charge
    assert plan is not None
    assert plan.current_limit == pytest.approx(3.6)
    assert plan.accepted.mid == pytest.approx(3.6)
    assert 24 <= plan.accepted.mid * plan.set_voltage <= 26.5
    assert plan.ride_gain.low <= 0.15 <= plan.ride_gain.high
    assert plan.ride_gain.mid == pytest.approx(0.15, abs=0.03)
    eighty = dict(plan.times)[0.8]
    assert eighty.mid / HOUR == pytest.approx(2.0, abs=0.25)
    assert dict(plan.times)[0.98].mid - eighty.mid > 2 * HOUR
    assert 7.2 <= plan.set_voltage <= 7.35
    assert plan.useful_end < 0.85


def test_the_pupil_rides_easier() -> None:
    """Nearest yes: ride at 40 to 60 W, which the battery can take.

    The hand range says 45 to 60 W. With 0.25 ohm, 1.7 V of brushes and diode and 6.6 V at the posts (not the 7.2 V of the
    charging set-point) 3.6 A take 43 W of legs, so the answer, in steps of 5 W, is 40 W.
    """
    a = asked("school_six_volt", nearest=True)
    first = a.nearest_yes[0]
    assert first.kind == "effort"
    assert first.ask is not None
    assert 40 <= first.ask.effort <= 60
    b = asked("school_six_volt", effort=first.ask.effort)
    assert b.verdict == "good use of legs"
    assert b.point is not None
    assert b.point.i_battery <= 3.6


def test_brushes_and_diode_take_a_fifth_at_six_volts() -> None:
    """At 6 V brushes and diode take 20 to 25 % of the bus, at 12 V 11 to 14 %."""
    for name, low, high in (("school_six_volt", 0.19, 0.27), ("stilt_house", 0.11, 0.14)):
        parts = fill(rig(name)).rig
        assert parts.machine is not None and parts.machine.brush_drop is not None
        assert parts.diode is not None and parts.diode.drop is not None
        assert parts.battery is not None and parts.battery.voltage is not None
        drops = parts.machine.brush_drop.value + parts.diode.drop.value
        point = asked(name, effort=40.0).point
        assert point is not None
        assert low <= drops / point.v_out <= high


# ---- two riders straight on one 12 V battery --------------------------------------------------------------------------


# What each holds for the twenty minutes asked about is 140 W and 60 W: W = critical power + reserve / 1200 s
TWENTY_MINUTES = (("rider.0.critical_power", "127.5 W"), ("rider.1.critical_power", "52.5 W"))


@pytest.mark.parametrize(
    ("rider", "watts", "amps", "turns"), [("Ama", 140.0, 7.0, 61.0), ("Esi", 60.0, 2.9, 57.5)]
)
def test_twin_rigs_share_by_torque(rider: str, watts: float, amps: float, turns: float) -> None:
    """140 W and 60 W riders on twin rigs: 7.0 and 2.9 A at 61 and 57.5 turns, so neither drags the other.

    The hand model holds the battery at 13.5 V for both. Here it stands where both together lift it, 13.0 V, and the
    drags of the file leave the lighter rider 2.7 A.
    """
    a = asked("twin_riders", TWENTY_MINUTES, rider=rider, effort=watts)
    assert a.point is not None
    assert a.point.i_out == pytest.approx(amps, abs=0.25)
    assert a.hold.mid / RPM == pytest.approx(turns, abs=2)


def test_nobody_is_crushed_on_a_shared_battery() -> None:
    """No resistor is called for: each adds its own amps."""
    shares = asked("twin_riders").shares
    assert shares is not None
    assert all(row.holds for row in shares.rows)
    assert shares.fair_resistance == 0.0


# ---- a high-volt motor worked at low volts ----------------------------------------------------------------------------


def test_a_high_volt_motor_at_low_volts_loses_a_third_in_copper() -> None:
    """At 14 V, 7 A and 0.9 ohm copper takes 6.3 V of 21.8 (29 %).

    In the first seconds, copper cold: 32 %, because the posts stand at 13.2 V and not at 14, so 7.7 A flow instead of 7.
    """
    a = asked("low_volts", effort=195.0, duration=5.0)
    p = a.point
    assert p is not None
    assert p.i_out == pytest.approx(7.0, rel=0.12)
    machine = fill(rig("low_volts")).rig.machine
    assert machine is not None and machine.resistance is not None and machine.brush_drop is not None
    copper = p.emf - machine.brush_drop.value - p.v_machine
    assert copper / p.emf == pytest.approx(0.29, abs=0.04)
    worst = max((x for x in a.chain if x.key != "legs"), key=lambda x: x.toll)
    assert worst.key == "machine"
    assert "machine" in a.binds_says


def test_the_same_motor_does_better_stepped_down() -> None:
    """Run near its best speed through a step-down board, less of the same effort is lost."""
    board = (
        ("converter+", 'name = "step-down"\nkind = "buck"\nset_voltage = "14.4 V"\ninput_max = "80 V"'),
        ("battery.through", "step-down"),
        ("stage.1.driven_diameter", "45 mm"),
        ("converter.0.set_current", "8 A"),
    )  # fmt: skip
    plain, stepped = asked("low_volts", effort=195.0), asked("low_volts", board, effort=195.0)
    assert stepped.stop in (Stop.FOUND, Stop.PINNED)
    assert stepped.delivered.mid / stepped.rider.mid > 1.1 * plain.delivered.mid / plain.rider.mid


# ---- a hub machine and a protected lithium battery --------------------------------------------------------------------


def test_a_hub_machine_charges_lithium_through_its_board() -> None:
    """Three wires, a bridge, and a board that holds 4 A: good use, with a tipping point well below the pace."""
    a = asked("hub_relay")
    assert a.verdict == "good use of legs"
    assert a.stop == Stop.FOUND
    assert a.point is not None
    assert a.point.i_battery == pytest.approx(4.0, rel=0.01)
    assert a.tip.mid < 0.5 * a.hold.mid
    assert any(x.name == "bridge" for x in a.chain)
    assert a.spare.mid > 10


def test_a_relay_that_listens_all_day() -> None:
    """48 Wh a day through a lithium battery: about 80 Wh of legs, 40 min for a rider of 165 W."""
    row = priced("hub_relay").rows[0]
    assert row.verdict == "good use of legs"
    assert row.energy_legs.mid / 3600 == pytest.approx(80, rel=0.1)
    assert row.minutes.mid / 60 == pytest.approx(40, abs=6)


def finding(name: str, edits: tuple[tuple[str, str], ...], part: str) -> list[Finding]:
    """Findings of the hazards register whose key or title has this word."""
    return [f for f in guard.guard(rig(name, edits)).findings if part in f"{f.key} {f.title}".casefold()]


def test_lithium_with_and_without_protection() -> None:
    """A bare pack is a stop; a protected one is not. Never lead-acid volts for lithium: 14.4 V, no standing charge."""
    bare = finding("hub_relay", (("battery.protected", "false"),), "lithium")
    assert any(f.check == "stop" for f in bare)
    assert all(f.check != "stop" for f in finding("hub_relay", (), "lithium"))
    plan = run("hub_relay").charge
    assert plan is not None
    assert plan.set_voltage == pytest.approx(14.4, abs=0.01)
    assert math.isnan(plan.float_voltage)


# ---- a vehicle alternator ---------------------------------------------------------------------------------------------


ALTERNATOR = (
    ("machine.emf_constant", "0.10 V*s/rad +/- 0.005"),
    ("machine.resistance", "0.15 ohm +/- 0.02"),
)


def test_a_vehicle_alternator_eats_its_own_field() -> None:
    """Its field takes 36 W before the first useful watt, so of 100 W of legs less than a third arrives."""
    a = asked("vehicle_alternator", ALTERNATOR)
    good = asked("stilt_house")
    assert a.delivered.mid < 0.3 * a.rider.mid
    assert a.delivered.mid < 0.5 * good.delivered.mid
    assert any("field" in c.text for c in a.caveats)


# ---- arms instead of legs ---------------------------------------------------------------------------------------------


def test_a_hand_crank_fills_a_small_battery_slowly() -> None:
    """35 W of arms bring 1.4 to 1.8 A into 7 Ah: within its limit, an eighth of it in half an hour."""
    a = asked("arm_crank")
    plan = run("arm_crank").charge
    assert a.verdict == "good use of legs"
    assert a.point is not None
    assert 1.4 <= a.point.i_battery <= 1.8
    assert plan is not None
    assert plan.ride_gain.mid == pytest.approx(0.125, abs=0.03)
    assert plan.current_limit == pytest.approx(1.75)


def test_arms_give_less_than_legs() -> None:
    """The same person turning with arms has less than two thirds of the legs' power (common practice, no source)."""
    arms = asked("arm_crank").hour_power
    legs = asked("arm_crank", (("rider.0.uses", "legs"),)).hour_power
    assert arms.mid < 0.66 * legs.mid


# ---- the stilt house copied with another motor ------------------------------------------------------------------------


def test_a_copy_with_a_stronger_motor_needs_a_larger_pulley() -> None:
    """K 0.11, R 0.45: a 57 to 61 mm pulley (N near 24) brings back the cadence; amps at 100 W 4.4 to 5.1."""
    motor = (("machine.emf_constant", "0.11 V*s/rad +/- 0.002"), ("machine.resistance", "0.45 ohm +/- 0.05"))
    first = asked("stilt_house")
    same_pulley = asked("stilt_house", motor)
    larger = asked("stilt_house", (*motor, ("stage.1.driven_diameter", "57 mm")))
    assert same_pulley.hold.mid < 0.75 * first.hold.mid
    assert larger.hold.mid / RPM == pytest.approx(first.hold.mid / RPM, abs=3)
    assert larger.point is not None
    assert 4.4 <= larger.point.i_battery <= 5.1
    assert larger.point.ratio == pytest.approx(24, abs=0.6)


def test_every_charging_answer_has_one_holding_point() -> None:
    """A battery pins the speed: one solid ring, no tipping point, whatever the effort."""
    for effort in (40.0, 100.0, 160.0):
        a = asked("stilt_house", effort=effort)
        assert len(holds(a)) == 1
        assert RANK[a.verdict] >= 0
        assert state(appliance(run("stilt_house"), "lamp"), "rated").works
