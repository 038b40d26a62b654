"""How long a charge takes: within every limit, slower near full, in step with what the legs give."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.scenarios.reading import HOUR, Edits, asked, run

from sparewatt.studies.answers import ChargePlan


def plan(name: str, edits: Edits = (), **ask: float) -> ChargePlan:
    """The charge plan of a rig file."""
    found = run(name, edits, **ask).charge
    assert found is not None
    return found


@pytest.mark.parametrize(
    "name", ["stilt_house", "school_six_volt", "hub_relay", "arm_crank", "low_volts", "bothy"]
)
def test_levels_come_one_after_the_other(name: str) -> None:
    """Fuller takes longer, and the last fifth takes longer for its share than the middle."""
    times = plan(name).times
    levels, seconds = [x for x, _ in times], [t.mid for _, t in times]
    assert levels == sorted(levels)
    assert seconds == sorted(seconds)
    assert all(t.low <= t.mid <= t.high for _, t in times)


@pytest.mark.parametrize("name", ["stilt_house", "school_six_volt", "arm_crank"])
def test_the_last_fifth_is_slow(name: str) -> None:
    """From 80 to 98 % a lead-acid battery takes at least twice as long for each percent as below 70 %."""
    times = {level: t.mid for level, t in plan(name).times}
    early = (times[0.7] - times[0.6]) / 10
    late = (times[0.98] - times[0.8]) / 18
    assert late > 1.5 * early


@settings(max_examples=12)
@given(effort=st.floats(25.0, 250.0))
def test_nothing_beyond_the_case_is_accepted(effort: float) -> None:
    """Amps accepted are the lesser of what legs give and what the case allows; more effort never charges slower."""
    p = plan("school_six_volt", effort=effort)
    assert p.accepted.mid == pytest.approx(min(p.amps.mid, p.current_limit))
    more = plan("school_six_volt", effort=1.2 * effort)
    assert more.ride_gain.mid >= p.ride_gain.mid - 1e-9
    assert dict(more.times)[0.8].mid <= dict(p.times)[0.8].mid + 1e-6


def test_the_plan_agrees_with_match() -> None:
    """The same amps and watts as the point that `match` shows."""
    p, a = plan("stilt_house"), asked("stilt_house")
    assert a.point is not None
    assert p.amps.mid == pytest.approx(a.point.i_battery, rel=1e-6)
    assert p.p_battery.mid == pytest.approx(a.delivered.mid, rel=0.01)


def test_what_went_in_is_what_came_out_of_the_legs() -> None:
    """Charge gained is amps times time, less what is lost to gassing; never more."""
    p = plan("stilt_house")
    capacity = 36 * 3600 * 0.85
    given_charge = p.accepted.mid * 2 * HOUR
    assert 0.85 * given_charge <= p.ride_gain.mid * capacity <= given_charge * (1 + 1e-9)


def test_the_curve_ends_where_the_times_say() -> None:
    """State of charge rises along it, amps never rise, and its end is the time to 98 %."""
    p = plan("school_six_volt")
    seconds, soc, amps = zip(*p.curve, strict=True)
    assert list(seconds) == sorted(seconds)
    assert list(soc) == sorted(soc)
    assert list(amps) == sorted(amps, reverse=True)
    assert soc[-1] == pytest.approx(0.98, abs=0.01)
    assert seconds[-1] == pytest.approx(dict(p.times)[0.98].mid, rel=0.02)


def test_useful_leg_time_ends_where_the_battery_takes_less() -> None:
    """A bigger current meets the taper sooner."""
    slow, fast = plan("stilt_house", effort=60.0), plan("stilt_house", effort=130.0)
    assert fast.useful_end < slow.useful_end
    assert 0.5 < fast.useful_end < 0.95


def test_volts_follow_the_temperature_of_lead_and_not_of_lithium() -> None:
    """About -4 mV a cell and kelvin for lead-acid; none for lithium iron phosphate (row L23 of the check values)."""
    warm = plan("stilt_house", (("battery.temperature", "25 degC"),)).set_voltage
    cold = plan("stilt_house", (("battery.temperature", "5 degC"),)).set_voltage
    assert cold - warm == pytest.approx(6 * 0.004 * 20, rel=0.05)
    a, b = (plan("hub_relay", (("battery.temperature", f"{t} degC"),)).set_voltage for t in (25, 10))
    assert a == b


def test_a_rig_that_never_charges_says_so() -> None:
    """No amps, no time: infinite, with the reason."""
    p = plan("stilt_house", (("stage.1.driven_diameter", "200 mm"),))
    assert p.accepted.mid == 0.0
    assert all(math.isinf(t.mid) for _level, t in p.times)
    assert "battery" in p.says


def test_a_rig_without_a_battery_has_no_plan() -> None:
    """Nothing to charge."""
    assert run("camp_laptop").charge is None


def test_an_old_battery_fills_sooner_because_it_holds_less() -> None:
    """At 60 % health the same amps fill it faster, and its share gained in a ride is larger."""
    new, old = (plan("stilt_house", (("battery.health", h),)) for h in ("100 % +/- 1 %", "60 % +/- 1 %"))
    assert old.ride_gain.mid > 1.3 * new.ride_gain.mid
    assert dict(old.times)[0.8].mid < dict(new.times)[0.8].mid
