"""The price of loads in legs: linear, never better than lossless, dearer through more boards."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.scenarios.reading import HOUR, MINUTE, RANK, WH, Edits, priced, rig

from sparewatt.errors import BadRequest
from sparewatt.physics import body
from sparewatt.studies.answers import WorthRow
from sparewatt.studies.worth import worth

RADIO = 2  # index of the hut's radio


def row(name: str, load: str, edits: Edits = ()) -> WorthRow:
    """One priced load."""
    return next(r for r in priced(name, edits).rows if r.load == load)


@settings(max_examples=15)
@given(times=st.floats(1.1, 8.0))
def test_twice_the_use_is_twice_the_work(times: float) -> None:
    """Work at the pedals grows with the time it is used, and riding at least as much (longer rides are ridden easier)."""
    once = row("bothy", "radio")
    more = row("bothy", "radio", ((f"load.{RADIO}.use_time", f"{3 * times:.15g} h"),))
    assert more.energy_use == pytest.approx(times * once.energy_use, rel=1e-8)
    assert more.energy_legs.mid == pytest.approx(times * once.energy_legs.mid, rel=1e-8)
    assert more.minutes.mid >= times * once.minutes.mid * (1 - 1e-6)


@pytest.mark.parametrize("name", ["bothy", "camp_laptop", "phone_usb", "hub_relay", "stilt_house"])
def test_no_answer_beats_a_lossless_chain(name: str) -> None:
    """The legs always give more than the appliance gets, and each link passes on less than all."""
    for r in priced(name).rows:
        assert r.energy_legs.low > r.energy_use
        assert all(0 < share < 1 for _link, share in r.chain)
        product = math.prod(share for _link, share in r.chain)
        assert r.energy_use / r.energy_legs.mid == pytest.approx(product, rel=1e-6)


def test_inverter_and_battery_cost_more_than_direct() -> None:
    """The same laptop: board on the rig, board from a battery, inverter from a battery, each dearer than the last."""
    battery = ("battery+", 'chemistry = "agm"\nvoltage = "12 V"\ncapacity = "40 Ah"')
    direct = row("camp_laptop", "laptop on the board")
    stored: Edits = (battery, ("converter.0.at", "load"), ("converter.1.at", "load"))
    by_board = row("camp_laptop", "laptop on the board", stored)
    by_inverter = row("camp_laptop", "laptop through the inverter", stored)
    assert direct.runs == "direct"
    assert by_board.runs == "through the battery"
    assert by_inverter.runs == "through battery and inverter"
    assert direct.energy_legs.mid < by_board.energy_legs.mid < by_inverter.energy_legs.mid


def test_the_receipt_closes() -> None:
    """Food is work over efficiency; breath is what that food burns; a day is a use times its uses."""
    r = row("bothy", "kettle")
    assert r.food.mid == pytest.approx(r.energy_legs.mid / 0.23, rel=0.02)
    assert r.co2_litres == pytest.approx(
        float(body.co2_above_rest(r.energy_legs.mid, efficiency=0.23)), rel=0.02
    )
    assert r.per_day.mid == pytest.approx(2 * r.minutes.mid, rel=1e-9)


def test_a_kilowatt_hour_from_the_wall_socket() -> None:
    """1 kWh at the outlet is about 1.8 kWh of legs by a good rig (hand figure), 2.1 to 2.4 by this hut's."""
    r = row("bothy", "small fridge")
    assert 1.7 <= r.energy_legs.mid / r.energy_use <= 2.4


def test_more_people_share_the_day() -> None:
    """Two people ride half each, a little less because shorter rides are ridden harder; the day's work is the same."""
    alone, two = worth(rig("bothy")), worth(rig("bothy"), people=2)
    assert two.total_per_day.mid <= 0.5 * alone.total_per_day.mid * (1 + 1e-9)
    for a, b in zip(alone.rows, two.rows, strict=True):
        assert b.energy_legs.mid == pytest.approx(a.energy_legs.mid)
        assert RANK[b.verdict] >= RANK[a.verdict]


def test_lamps_radios_and_phones_are_not_refused() -> None:
    """Small things are what legs are for."""
    for name, load in (
        ("bothy", "radio"),
        ("stilt_house", "lamp"),
        ("phone_usb", "phone"),
        ("hub_relay", "relay"),
    ):
        r = row(name, load)
        assert r.verdict == "good use of legs"
        assert r.per_day.mid <= 90 * MINUTE


def test_what_is_refused_is_offered_something() -> None:
    """Each refusal has its reason and at least one other way."""
    for r in priced("bothy").rows:
        if r.verdict == "not by legs":
            assert r.why
            assert 1 <= len(r.nearest_yes) <= 3


def test_a_part_of_the_fridge_as_offered_fits_the_day() -> None:
    """When it offers to use it for a share of the time, that share is hard work and no longer refused."""
    r = row("bothy", "small fridge")
    shed = next(c for c in r.nearest_yes if c.kind == "shed")
    share = float(next(w for w in shed.says.split() if w.isdigit())) / 100
    again = row("bothy", "small fridge", (("load.1.energy_per_use", f"{0.6 * share:.6g} kWh +/- 0.01 kWh"),))
    assert again.verdict == "hard work"
    assert again.per_day.mid <= 4 * HOUR


def test_the_day_adds_up() -> None:
    """The whole day's riding is that of all loads together, not less than any of them."""
    a = priced("bothy")
    assert a.total_per_day.mid >= max(r.per_day.mid for r in a.rows)
    work = (
        sum(r.energy_legs.mid for r in a.rows[:1]) * 2 + a.rows[1].energy_legs.mid + a.rows[2].energy_legs.mid
    )
    assert a.total_per_day.mid >= work / a.sustain.mid * (1 - 1e-9)


def test_a_rig_without_loads_has_nothing_to_price() -> None:
    """It says what to add."""
    with pytest.raises(BadRequest, match="no load"):
        worth(rig("low_volts"))


def test_bands_hold_the_middle() -> None:
    """Work, food and time of every priced load."""
    for name in ("bothy", "camp_laptop", "phone_usb"):
        for r in priced(name).rows:
            for band in (r.energy_legs, r.minutes, r.food, r.per_day):
                assert band.low < band.mid < band.high
            assert r.energy_use / WH > 1
