"""Will it run and for how long: never yes on the wrong current, run times that fall faster than the amps grow."""

from __future__ import annotations

import math

import pytest
from tests.scenarios.reading import HOUR, RANK, Edits, appliance, asked, rig, run, state

from sparewatt.errors import BadRequest
from sparewatt.physics import appliances, rider
from sparewatt.rig.outcome import Stop
from sparewatt.studies.loads import loads

KINDS = ("induction_motor", "transformer", "unknown")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("watts", [5.0, 40.0, 400.0])
def test_never_yes_for_what_direct_current_burns(kind: str, watts: float) -> None:
    """However small."""
    edits = (("load.3.kind", kind), ("load.3.power", f"{watts:g} W"))
    row = loads(rig("dairy", edits), only="old box without a label").rows[0]
    assert (row.dc, row.verdict, row.stop) == ("stop", "not by legs", Stop.NOT_ON_DC)
    assert row.states == ()


@pytest.mark.parametrize("trigger", ["electronic", "unknown"])
def test_a_trigger_nobody_has_looked_at(trigger: str) -> None:
    """Electronic is a stop; not known is not a plain yes."""
    row = loads(rig("dairy", (("load.2.trigger", trigger),)), only="dough mixer with a dial").rows[0]
    assert row.dc != "not refused"
    assert (row.dc == "stop") == (trigger == "electronic" or row.verdict == "not by legs")


def test_a_230_volt_heater_on_110_volts() -> None:
    """It gives (110/230)^2 = 0.229 of its plate (Ohm's law), and a battery of 12 V hardly warms it."""
    for volts, share in ((110.0, 0.229), (230.0, 1.0), (12.0, 0.0027)):
        watts = float(appliances.resistive_power(volts, p_rated=1000.0, v_rated=230.0))
        assert watts == pytest.approx(1000.0 * share, rel=0.01)


@pytest.mark.parametrize("factor", [1.5, 2.0, 5.0, 20.0])
def test_run_time_falls_faster_than_the_amps_grow(factor: float) -> None:
    """Lead-acid gives less at higher current, so twice the watts run for less than half the time."""
    one = appliance(run("stilt_house"), "lamp").run
    edits = (("load.0.power", f"{10 * factor:g} W +/- 0.5 W"),)
    many = appliance(run("stilt_house", edits), "lamp").run
    assert one is not None and many is not None
    assert many.amps.mid == pytest.approx(factor * one.amps.mid, rel=1e-6)
    assert many.time.mid < one.time.mid / factor


def test_lithium_hardly_minds_the_current() -> None:
    """For twice the watts close to half the time, and nearer to it than lead-acid."""
    edits = (("load.0.power", "12 W +/- 0.5 W"),)
    one, two = (appliance(run("hub_relay", e), "relay").run for e in ((), edits))
    assert one is not None and two is not None
    assert 0.9 < 2 * two.time.mid / one.time.mid <= 1.0


def test_a_battery_in_the_cold_gives_less() -> None:
    """Lead-acid at -10 degC runs the lamp for less time."""
    warm = appliance(run("stilt_house"), "lamp").run
    cold = appliance(run("stilt_house", (("battery.temperature", "-10 degC"),)), "lamp").run
    assert warm is not None and cold is not None
    assert cold.time.mid < 0.85 * warm.time.mid


def test_an_inverter_stops_before_the_battery_is_used_up() -> None:
    """Its cut-off is met early: the kettle's 95 A leave less than half of the label."""
    kettle = appliance(run("bothy"), "kettle").run
    assert kettle is not None
    assert kettle.amps.mid * kettle.time.mid / 3600 < 60.0
    assert kettle.cutoff >= 10.5


@pytest.mark.parametrize("watts", [250.0, 400.0, 900.0])
def test_a_load_above_the_edge_is_a_no(watts: float) -> None:
    """Whatever its energy would be over a day."""
    edits = (("load.0.power", f"{watts:g} W +/- 5 W"), ("load.0.use_time", "10 s"))
    row = loads(rig("camp_laptop", edits), only="laptop on the board", effort=150.0).rows[0]
    assert row.verdict == "not by legs"
    assert not state(row, "rated").works
    assert row.stop in (Stop.STALLS, Stop.EDGE_BOARD, Stop.EDGE_MACHINE, Stop.CHATTERS)


def test_more_work_asks_for_more_legs() -> None:
    """Idle, light, rated: amps, torque and watts at the pedals rise."""
    edits: Edits = (("converter.0.set_current", "6 A"), ("rider.0.critical_power", "350 W"))
    row = appliance(run("barn_drill", edits), "corded drill")
    idle, light, rated = (state(row, s) for s in ("idle", "light", "rated"))
    assert idle.amps < light.amps < rated.amps
    assert idle.torque_share < light.torque_share < rated.torque_share
    assert idle.speed_share > light.speed_share > rated.speed_share or not rated.works
    assert idle.p_rider.mid < light.p_rider.mid


def test_no_breather_no_morning() -> None:
    """The same bouts with hardly a breather come to an end; with more they go on."""
    short = appliance(run("barn_drill", (("load.0.breather", "2 s"),)), "corded drill").bout
    usual = appliance(run("barn_drill"), "corded drill").bout
    assert short is not None and usual is not None
    assert math.isfinite(short.cycles)
    assert math.isinf(usual.cycles)
    assert short.reserve_after < usual.reserve_after


def test_unbroken_time_is_reserve_over_what_is_above_critical_power() -> None:
    """t = W'/(P - CP) [Monod and Scherrer 1965, from memory]."""
    bout = appliance(run("barn_drill"), "corded drill").bout
    assert bout is not None
    assert bout.longest.mid == pytest.approx(16e3 / (bout.p_bout - 190.0), rel=0.02)


def test_the_second_wind_of_the_hand_model() -> None:
    """225 W for 25 s, 60 s at 40 W, CP 170 W, W' 14 kJ: 13.2 kJ after one breather, 12.2 after a dozen (hand model)."""
    pattern = {
        "p_bout": 225.0, "t_bout": 25.0, "p_breather": 40.0, "t_breather": 60.0,
        "critical_power": 170.0, "work_reserve": 14e3,
    }  # fmt: skip
    one = float(rider.reserve_over_cycles(1, **pattern).after_breather)
    dozen = float(rider.reserve_over_cycles(12, **pattern).after_breather)
    assert one / 1e3 == pytest.approx(13.2, abs=0.25)
    assert dozen / 1e3 == pytest.approx(12.2, abs=0.5)


def test_only_one_load_when_one_is_asked() -> None:
    """And a name that is not there is refused with those that are."""
    assert [r.load for r in loads(rig("bothy"), only="radio").rows] == ["radio"]
    with pytest.raises(BadRequest, match="radio"):
        loads(rig("bothy"), only="toaster")


def test_a_battery_serves_whether_or_not_anyone_rides() -> None:
    """A lamp on a battery works, and how long is the battery's matter."""
    row = appliance(run("stilt_house"), "lamp")
    assert state(row, "rated").works
    assert math.isinf(state(row, "rated").time.mid)
    assert row.run is not None
    assert row.run.time.mid > 10 * HOUR


def test_a_lamps_cold_filament_does_not_trip_a_battery() -> None:
    """Ten times the amps for a moment: 36 Ah hardly sags; a start that the battery cannot feed is said to fail."""
    edits = (("load.0.kind", "lamp"), ("load.0.power", "21 W +/- 1 W"))
    assert state(appliance(run("stilt_house", edits), "lamp"), "start").works


def test_loads_and_match_agree_on_a_laptop() -> None:
    """At the same effort both say that it runs, in the same gear, at the same legs."""
    row = loads(rig("camp_laptop"), only="laptop on the board", effort=150.0).rows[0]
    a = asked("camp_laptop", effort=150.0)
    rated = state(row, "rated")
    assert rated.works
    assert rated.gear == a.gear
    assert rated.p_rider.mid == pytest.approx(a.rider.mid, rel=0.03)
    assert RANK[a.verdict] > 0


def test_a_load_somebody_depends_on_needs_two_nights_of_battery() -> None:
    """Stop while half of the battery is less than two nights of it, whatever legs could do (common practice, no source)."""
    lamp = rig("stilt_house").load[0]
    assert lamp.power is not None and lamp.use_time is not None
    night = lamp.power.value * lamp.use_time.value * (lamp.uses_per_day.value if lamp.uses_per_day else 1.0)
    for share, stops in ((0.99, True), (1.01, False)):
        capacity = f"{share * 2 * night / (0.5 * 12.0) / 3600:.6g} Ah"
        edits = (("load.0.life_support", "true"), ("battery.capacity", capacity), ("battery.health", "1"))
        row = loads(rig("stilt_house", edits), only="lamp").rows[0]
        assert (row.stop is Stop.DEPENDED_ON) == stops
        assert (row.verdict == "not by legs" and row.states == ()) or not stops
        assert not [change for change in row.nearest_yes if change.kind == "shed"]


def test_what_no_battery_carries_is_not_for_legs_alone() -> None:
    """Straight off the legs, nobody's life hangs on a rider, however little it takes."""
    edits = (("load.0.life_support", "true"),)
    row = loads(rig("phone_usb", edits)).rows[0]
    assert row.stop is Stop.DEPENDED_ON
    assert "two nights" in row.nearest_yes[0].says
