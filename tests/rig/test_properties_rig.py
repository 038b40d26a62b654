"""What must hold for whole rigs whatever their numbers: scaling, limits, monotone facts, repeatability, honest bands."""

from __future__ import annotations

import dataclasses
import math
import pickle
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.scenarios.reading import RPM, Edits, asked, loaded, rig

from sparewatt.files import read_text, to_toml
from sparewatt.rig import solve
from sparewatt.rig.asking import ask_for
from sparewatt.rig.bind import bind, reheat
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.endurance import power_for, time_for
from sparewatt.rig.fill import fill
from sparewatt.rig.layout import Bound
from sparewatt.rig.operating import operate
from sparewatt.rig.outcome import Band, Crossings
from sparewatt.rig.refusals import refusal
from sparewatt.studies.match import match
from sparewatt.studies.shares import shares_of

ks = st.floats(0.04, 0.3)
ohms = st.floats(0.05, 1.5)
efforts = st.floats(40.0, 250.0)
CLOSE = 1e-9


def bound_of(name: str, edits: Edits = (), *, effort: float = 120.0, load: str | None = None) -> Bound:
    """A rig file's nominal numbers, copper cold."""
    filled = fill(rig(name, edits))
    ask = ask_for(filled.rig, load=load, effort=effort, draws=0)
    return bind(filled, ask.load, ask.rider, effort=effort, draws=0)


def at(bound: Bound, effort: float) -> Crossings:
    """Where it holds."""
    return solve.crossings(bound, effort)[0]


def machine(k: float, r: float) -> Edits:
    """A machine of these constants, and a pulley that keeps N K near 2.6 so that it charges 12 V at a usual pace."""
    return (
        ("machine.emf_constant", f"{k:.9g} V*s/rad +/- 0.0001"),
        ("machine.resistance", f"{r:.9g} ohm +/- 0.0001"),
        ("stage.1.driven_diameter", f"{600 * (42 / 18) * k / 2.6:.9g} mm"),
    )


# ---- scaling ----------------------------------------------------------------------------------------------------------


@given(n=st.floats(1.2, 3.0), effort=efforts)
def test_ratio_and_machine_scale_together(n: float, effort: float) -> None:
    """n times the ratio with a machine of K/n, friction/n and slope/n^2 is the same rig at the crank."""
    plain: Edits = (
        ("stage.1.drag_torque", "0 N*m"),
        ("machine.friction", "0.05 N*m +/- 0.01"),
        ("machine.friction_slope", "6e-5 N*m*s/rad +/- 1e-5"),
    )
    geared = (
        ("stage.1.drag_torque", "0 N*m"),
        ("stage.1.driven_diameter", f"{40 / n:.12g} mm"),
        ("machine.emf_constant", f"{0.075 / n:.12g} V*s/rad +/- 0.001"),
        ("machine.friction", f"{0.05 / n:.12g} N*m +/- 0.01"),
        ("machine.friction_slope", f"{6e-5 / n**2:.12g} N*m*s/rad +/- 1e-5"),
    )
    a, b = at(bound_of("stilt_house", plain), effort), at(bound_of("stilt_house", geared), effort)
    for field in ("w_hold", "i_out", "v_bus", "p_rider", "i_battery"):
        assert getattr(b, field)[0, 0] == pytest.approx(getattr(a, field)[0, 0], rel=1e-7, nan_ok=True), field


@given(p=st.floats(50, 600), cp=st.floats(60, 350), reserve=st.floats(4e3, 3e4))
def test_twice_the_rider_at_twice_the_power_lasts_as_long(p: float, cp: float, reserve: float) -> None:
    """Doubling critical power and reserve with doubled power leaves the time unchanged, and the inverse agrees."""
    once = time_for(np.array([p]), np.array([cp]), np.array([reserve]))
    twice = time_for(np.array([2 * p]), np.array([2 * cp]), np.array([2 * reserve]))
    assert twice[0] == once[0] or twice[0] == pytest.approx(once[0], rel=1e-12)
    for seconds in (60.0, 1200.0, 2700.0, 7200.0):
        watts = float(power_for(cp, reserve, seconds, 1e6))
        assert float(power_for(2 * cp, 2 * reserve, seconds, 2e6)) == pytest.approx(2 * watts, rel=1e-12)
        back = time_for(np.array([watts]), np.array([cp]), np.array([reserve]))
        assert back[0] == pytest.approx(seconds, rel=1e-9)


# ---- limits -----------------------------------------------------------------------------------------------------------

IDEAL: Edits = (
    ("stage.0.efficiency", "1"),
    ("stage.1.efficiency", "1"),
    ("stage.1.drag_torque", "0 N*m"),
    ("stage.1.creep", "0"),
    ("machine.brush_drop", "0 V"),
    ("machine.friction", "0 N*m"),
    ("machine.friction_slope", "0 N*m*s/rad"),
    ("diode.drop", "0 V"),
    ("wire+", 'run = "machine"\nlength = "1 mm"\nsize = "100 mm2"\ncontact_resistance = "0 ohm"'),
)


@settings(max_examples=20)
@given(effort=efforts)
def test_without_losses_all_arrives(effort: float) -> None:
    """R, drops, friction and drag to nothing: what the legs give is what the battery gets, within a few parts in 1e5."""
    bound = bound_of("stilt_house", (*IDEAL, ("machine.resistance", "1e-7 ohm")))
    found = at(bound, effort)
    point = solve.point(bound, 0, float(found.w_hold[0, 0]))
    assert point.p_rider > 0
    assert point.p_battery == pytest.approx(point.p_rider, rel=5e-5)


@pytest.mark.parametrize(
    "name", ["stilt_house", "camp_laptop", "barn_drill", "hub_relay", "garden_pump", "low_volts"]
)
def test_tolls_add_up(name: str) -> None:
    """What the legs give, less every toll, is what arrives, to a part in a million."""
    a = asked(name, draws=16)
    assert a.point is not None
    arrives = a.point.p_load if a.point.p_load > 0 else a.point.p_battery
    tolls = sum(link.toll for link in a.chain if link.key not in ("legs", "load"))
    assert a.point.p_rider - tolls == pytest.approx(arrives, rel=1e-6)
    assert all(link.toll >= -1e-9 for link in a.chain)


def test_less_of_every_loss_brings_more() -> None:
    """Taking the losses away one after the other never lowers what arrives."""
    edits: Edits = ()
    last = float(at(bound_of("stilt_house"), 100.0).i_battery[0, 0])
    for edit in (*IDEAL, ("machine.resistance", "1e-7 ohm")):
        edits = (*edits, edit)
        now = float(at(bound_of("stilt_house", edits), 100.0).i_battery[0, 0])
        assert now >= last - 1e-9, edit
        last = now


# ---- monotone facts ---------------------------------------------------------------------------------------------------


@settings(max_examples=30)
@given(k=ks, r=ohms, thin=st.floats(0.5, 10.0), factor=st.floats(1.05, 4.0), effort=efforts)
def test_thicker_wire_never_delivers_less(
    k: float, r: float, thin: float, factor: float, effort: float
) -> None:
    """At the battery's posts, for any machine; and it never costs the legs more for a regulated load."""

    def wire(mm2: float) -> Edits:
        return (("wire+", f'run = "machine"\nlength = "6 m"\nsize = "{mm2:.6g} mm2"'),)

    a = at(bound_of("stilt_house", (*machine(k, r), *wire(thin))), effort)
    b = at(bound_of("stilt_house", (*machine(k, r), *wire(thin * factor))), effort)
    assert b.i_battery[0, 0] >= a.i_battery[0, 0] - CLOSE
    c = at(bound_of("camp_laptop", wire(thin)), effort)
    d = at(bound_of("camp_laptop", wire(thin * factor)), effort)
    if np.isfinite(c.w_hold[0, 0]) and c.served[0, 0]:
        assert d.served[0, 0]
        assert d.w_hold[0, 0] >= c.w_hold[0, 0] - CLOSE


@settings(max_examples=30)
@given(k=ks, r=ohms, rise=st.floats(1.0, 120.0), effort=efforts)
def test_a_hotter_motor_never_raises_the_edge(k: float, r: float, rise: float, effort: float) -> None:
    """Copper and magnets warmer by any amount: neither the legs' edge nor the lowest of the three moves up.

    Half a percent of room, because the edge is looked for on a grid of cadences.
    """
    both = (("machine.emf_constant", f"{k:.6g} V*s/rad"), ("machine.resistance", f"{r:.6g} ohm"))
    cold = bound_of("camp_laptop", both)
    hot = reheat(cold, 293.15 + rise, 293.15 + 0.5 * rise)
    for of_cold, of_hot in zip(edge_watts(cold, 0, effort)[:2], edge_watts(hot, 0, effort)[:2], strict=True):
        assert of_hot[0] <= of_cold[0] * 1.005 + CLOSE


@settings(max_examples=30)
@given(k=ks, r=ohms, effort=efforts, more=st.floats(1.01, 2.5))
def test_a_bigger_effort_never_lowers_the_amps(k: float, r: float, effort: float, more: float) -> None:
    """Straight on a battery and through a board."""
    plain = bound_of("stilt_house", machine(k, r))
    assert at(plain, effort * more).i_battery[0, 0] >= at(plain, effort).i_battery[0, 0] - CLOSE
    board = bound_of("hub_relay")
    a, b = at(board, effort), at(board, effort * more)
    for gear in range(2):
        if a.served[gear, 0]:
            assert b.i_battery[gear, 0] >= a.i_battery[gear, 0] - 1e-6


@settings(max_examples=20)
@given(effort=st.floats(120.0, 400.0), share=st.floats(0.3, 0.95))
def test_a_smaller_load_is_never_harder(effort: float, share: float) -> None:
    """Shedding load never loses a holding point, and the legs give less or spin faster."""
    big = at(bound_of("clinic_store"), effort)
    edit = (("load.0.power", f"{120 * share:.6g} W"),)
    small = at(bound_of("clinic_store", edit), effort)
    if np.isfinite(big.w_hold[0, 0]) and big.served[0, 0]:
        assert small.w_hold[0, 0] >= big.w_hold[0, 0] - CLOSE


# ---- sharing ----------------------------------------------------------------------------------------------------------


@settings(max_examples=15)
@given(n=st.integers(1, 4), lead=st.floats(0.01, 0.5), watts=st.floats(30.0, 300.0))
def test_identical_rigs_share_equally(n: int, lead: float, watts: float) -> None:
    """However many, each board alike carries the same amps and nothing has to be added."""
    edits = (
        ("bus+", f'lead_resistance = "{lead:.6g} ohm"'),
        ("load.0.power", f"{watts:.12g} W"),
        *(("neighbour+", f'name = "rig {k}"') for k in range(n)),
    )
    found = rig("clinic_store", edits)
    shares = shares_of(operate(fill(found), ask_for(found, effort=180.0)))
    assert shares is not None
    amps = [row.amps.mid for row in shares.rows]
    assert len(amps) == n + 1
    assert amps == pytest.approx([amps[0]] * (n + 1), rel=1e-6)
    assert sum(amps) == pytest.approx(shares.wanted, rel=1e-3)
    assert shares.fair_resistance == 0.0


# ---- repeatability ----------------------------------------------------------------------------------------------------

RIGS = ["stilt_house", "clinic_store", "camp_laptop", "hub_relay", "alpine_three", "phone_usb"]


@pytest.mark.parametrize("name", RIGS)
def test_the_same_question_gives_the_same_bytes(name: str) -> None:
    """Asked twice, the whole answer is equal byte for byte."""
    found = rig(name)
    answers = [match(found, ask_for(found, draws=128)) for _ in range(2)]
    assert pickle.dumps(answers[0]) == pickle.dumps(answers[1])


@pytest.mark.parametrize(
    "name", [*RIGS, "barn_drill", "bothy", "garden_pump", "twin_riders", "washer_motor", "dairy"]
)
def test_written_out_and_read_back_the_answer_stays(name: str) -> None:
    """A rig written as TOML and read again is the same rig, and answers the same."""
    first = rig(name)
    second = read_text(to_toml(first)).rig
    assert second == first
    if refusal(first, ask_for(first).load) is None:
        a, b = (match(r, ask_for(r, draws=64), nearest=False) for r in (first, second))
        assert pickle.dumps(a) == pickle.dumps(b)


# ---- honest bands -----------------------------------------------------------------------------------------------------


def bands_in(answer: Any) -> list[tuple[str, Band]]:
    """Every band of an answer with its name."""
    found = []
    for f in dataclasses.fields(answer):
        value = getattr(answer, f.name)
        if isinstance(value, Band) and math.isfinite(value.low):
            found.append((f.name, value))
    return found


@pytest.mark.parametrize(
    "name", ["stilt_house", "low_volts", "hub_relay", "arm_crank", "twin_riders", "school_six_volt"]
)
def test_bands_hold_their_middle(name: str) -> None:
    """Where a rig surely works, the nominal answer lies inside its band, and the band has a width."""
    a = asked(name)
    assert a.chance > 0.95
    rows = bands_in(a)
    assert {"hold", "delivered", "rider"} <= {field for field, _ in rows}
    for field, band in rows:
        middle = (
            min(band.mid, 24 * 3600.0) if field == "time_to_limit" else band.mid
        )  # its band stops at a day
        assert band.low <= middle <= band.high, field
    assert a.hold.low < a.hold.high


@pytest.mark.parametrize("name", ["stilt_house", "low_volts", "camp_laptop"])
def test_more_draws_do_not_narrow_the_band(name: str) -> None:
    """The band says what is not known; drawing more often must not make it look better known."""
    found = rig(name)
    effort = 150.0
    widths = []
    for draws in (256, 1024, 4096):
        a = match(found, ask_for(found, effort=effort, draws=draws), nearest=False)
        widths.append([a.hold.high - a.hold.low, a.rider.high - a.rider.low])
    ratio = np.array(widths[2]) / np.array(widths[0])
    assert np.all((ratio > 0.8) & (ratio < 1.25))


@pytest.mark.parametrize("seed", [2, 3, 4])
def test_another_seed_gives_nearly_the_same_band(seed: int) -> None:
    """The draws are a sample, and its chance moves the band's ends by less than half a turn."""
    found = rig("stilt_house")
    a, b = (match(found, ask_for(found, seed=s), nearest=False) for s in (1, seed))
    assert b.hold.low / RPM == pytest.approx(a.hold.low / RPM, abs=0.5)
    assert b.hold.high / RPM == pytest.approx(a.hold.high / RPM, abs=0.5)


def test_a_reading_narrows_the_band() -> None:
    """The same rig with its constants read off a plate only is known worse, and the band says so."""
    bench = asked("stilt_house")
    plate = asked("stilt_house", (("machine.emf_constant", ""), ("machine.resistance", "")))
    assert plate.hold.high - plate.hold.low > 2 * (bench.hold.high - bench.hold.low)
    assert plate.hold.low < bench.hold.mid < plate.hold.high
    assert loaded("stilt_house").origins
