"""Tyres and rollers, against printed tyre sizes and the definitions."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.physics.same import array_equals_scalar

from sparewatt.errors import BadRequest
from sparewatt.physics import gearing as g
from sparewatt.physics import roller as r

COVERS = ["C01", "C02", "C03", "C04", "C06", "C08"]

TABLE = "ISO 5775 table of bead seats seen with its inch names"
_PRESS = {"rolling": 0.008, "press_force": 400.0, "d_tyre": 0.672, "d_roller": 0.030}
_PASS = {"p_pass": 250.0, "v_surface": 6.6, "torque_ripple": 0.7}

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "outer_diameter": ({"bead_diameter": 0.622, "section": 0.037}, "m"),
    "circumference": ({"diameter": 0.672}, "m"),
    "curvature_factor": ({"d_tyre": 0.672, "d_roller": 0.03}, "1"),
    "rolling_force": (_PRESS, "N"),
    "rolling_power": ({"v_surface": 6.3, **_PRESS}, "W"),
    "grip_limit": ({"press_force": 200.0, "friction": 0.6}, "N"),
    "surface_pull": (_PASS, "N"),
    "grip_margin": ({"press_force": 200.0, "friction": 0.6, **_PASS}, "1"),
    "press_needed": ({"friction": 0.6, "margin_wanted": 1.3, **_PASS}, "N"),
    "creep_loss": ({"p_pass": 100.0, "creep": 0.02}, "W"),
    "slip_share": ({"ratio_loaded": 34.0, "ratio": 35.0}, "1"),
}
LOOKUPS = {"roller_caveat"}  # answers with a sentence


# ---- published figures ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("printed", "bead"),
    [
        ("20 x 1.75", 406), ("24 x 1.75", 507), ("26 x 2.1", 559), ("26 x 1 3/8", 590), ("650B", 584), ("700C", 622),
        ("27 x 1 1/4", 630),
    ],
)  # fmt: skip
def test_bead_seats(printed: str, bead: int) -> None:
    """C01: 20, 24, 26 in, 26 x 1 3/8, 650B, 700C and 27 in sit on 406, 507, 559, 590, 584, 622, 630 mm, exact."""
    found = r.tyre_sizes(printed)
    assert [round(1000 * size.bead_diameter) for size in found] == [bead], TABLE


@pytest.mark.parametrize(("printed", "mm"), [("23-622", 668), ("37-590", 664), ("40-635", 715)])
def test_outer_diameters(printed: str, mm: int) -> None:
    """C02: 23-622, 37-590, 40-635 measure 668, 664, 715 mm over the tyre (worked in a text on English tyres), exact."""
    assert r.tyre_diameter(printed) == pytest.approx(mm / 1000, abs=1e-9)


def test_twenty_six_inch_is_five_rims() -> None:
    """C03: "26" may be 559, 571, 584, 590 or 597 mm (same text), exact; the tool names them and does not choose."""
    assert [round(1000 * size.bead_diameter) for size in r.tyre_sizes("26")] == [559, 571, 584, 590, 597]
    with pytest.raises(BadRequest, match=r"559 mm.*571 mm.*584 mm.*590 mm.*597 mm"):
        r.tyre_diameter('26"')


def test_circumference() -> None:
    """C04: 25-622 is 2111 mm round (geometry; roll-out tables give about 2105), 0.5 %."""
    round_it = r.circumference(r.tyre_diameter("25-622"))
    assert round_it == pytest.approx(2.111, rel=5e-3)
    assert round_it == pytest.approx(2.105, rel=5e-3)


def test_step_up_by_a_roller() -> None:
    """C06: 60 rpm, 48/16, a wheel of 672 mm on 30 mm: 4032 rpm (definition), 0.1 %."""
    steps = [g.tooth_ratio(48, 16), g.diameter_ratio(0.672, 0.030)]
    assert g.driven_speed(60.0, stage_ratio=g.total_ratio(steps)) == pytest.approx(4032, rel=1e-3)


def test_tyre_on_a_small_roller() -> None:
    """C08: 0.008, 400 N, 6.333 m/s, 672 on 30 mm: factor 4.837, 20.3 W on the flat, 98.0 W on the roller, 1 %."""
    assert r.curvature_factor(0.672, 0.030) == pytest.approx(4.837, rel=0.01)
    flat = r.rolling_power(6.333, **{**_PRESS, "d_roller": 1e12})
    assert flat == pytest.approx(20.3, rel=0.01)
    assert r.rolling_power(6.333, **_PRESS) == pytest.approx(98.0, rel=0.01)
    assert "22 times smaller" in r.roller_caveat(0.672, 0.030)
    assert r.roller_caveat(0.672, 0.070) == ""


def test_pull_and_grip_of_a_pedal_rig() -> None:
    """250 W at 6.6 m/s pull 38 N, 64 N at the peak; 80 N wet slips, 200 N dry holds 140 N (common practice, no source)."""
    assert r.surface_pull(250.0, v_surface=6.6) == pytest.approx(38, abs=0.5)
    assert r.surface_pull(250.0, v_surface=6.6, torque_ripple=0.7) == pytest.approx(64, abs=0.5)
    wet = r.grip_margin(**_PASS, press_force=80.0, friction=0.45)
    dry = r.grip_margin(**_PASS, press_force=200.0, friction=0.7)
    assert wet < 1 < dry
    assert r.grip_limit(press_force=80.0, friction=0.45) == pytest.approx(36)
    assert r.grip_limit(press_force=200.0, friction=0.7) == pytest.approx(140)


# ---- sizes as people write them -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("printed", "bead", "section"),
    [
        ("37-622", 622, 37), ("37 - 622 (700x35C)", 622, 37), ("47x507", 507, 47), ("700 x 35C", 622, 35),
        ("26x1.75", 559, 44.45), ("26 x 1 3/8", 590, 34.925), ("26x1-3/8", 590, 34.925), ('26" x 2', 559, 50.8),
        ("28 x 1 5/8 x 1 3/8", 622, 34.925), ("28 x 1 1/2", 635, 38.1), ("27.5 x 2.25", 584, 57.15),
        ("12 1/2 x 2 1/4", 203, 57.15), ("20 x 1 3/8", 451, 34.925), ("16 x 1 3/8", 349, 34.925),
        ("650x38B", 584, 38), ("29 in x 2.2", 622, 55.88),
    ],
)  # fmt: skip
def test_printed_sizes_are_read(printed: str, bead: float, section: float) -> None:
    """ISO, French and inch sizes give the rim and the section; a fraction and its decimal are different rims."""
    (found,) = r.tyre_sizes(printed)
    assert 1000 * found.bead_diameter == pytest.approx(bead)
    assert 1000 * found.section == pytest.approx(section)


@pytest.mark.parametrize(
    "printed", ["", "foo", "26 x 0", "622-37", "37-62", "26 x 1 7/9", "99 x 2", "26 x 1 x", "x"]
)
def test_what_is_no_size_is_refused(printed: str) -> None:
    """A text that is no tyre size is refused with what to read instead."""
    assert r.tyre_sizes(printed) == ()
    with pytest.raises(BadRequest, match="37-622"):
        r.tyre_diameter(printed)


def test_size_without_a_section() -> None:
    """One rim but no thickness still gives no diameter."""
    with pytest.raises(BadRequest, match="how thick"):
        r.tyre_diameter("700C")


@given(text=st.text(max_size=20))
def test_reading_never_stumbles(text: str) -> None:
    """Whatever is typed gives a list of sizes, maybe an empty one."""
    assert isinstance(r.tyre_sizes(text), tuple)


def test_every_inch_rim_is_a_known_bead_seat() -> None:
    """The table of inch names points at bead seats of the standard only."""
    assert {mm for rims in r.INCH_RIMS.values() for mm in rims.values()} <= set(r.BEAD_SEATS)


# ---- limits and shapes ----------------------------------------------------------------------------------------------


@given(a=st.floats(0.01, 5), b=st.floats(0.01, 5), tyre=st.floats(0.2, 0.8))
def test_smaller_roller_drags_more(a: float, b: float, tyre: float) -> None:
    """Drag falls with the roller's size, and on an endless one it is the road's."""
    small, large = sorted((a, b))
    assert r.curvature_factor(tyre, small) >= r.curvature_factor(tyre, large) > 1
    assert r.curvature_factor(tyre, 1e12) == pytest.approx(1.0)


@given(p=st.floats(5, 400), v=st.floats(0.5, 15), mu=st.floats(0.2, 1), a=st.floats(0, 1), m=st.floats(1, 3))
def test_press_and_margin_are_inverse(p: float, v: float, mu: float, a: float, m: float) -> None:
    """Pressed as hard as asked for, the margin is the one wanted."""
    press = r.press_needed(p, v_surface=v, friction=mu, torque_ripple=a, margin_wanted=m)
    margin = r.grip_margin(p, v_surface=v, press_force=press, friction=mu, torque_ripple=a)
    assert margin == pytest.approx(m, rel=1e-12)


def test_slip_steps() -> None:
    """Below 2 % good, above 5 % slipping (common practice, no source)."""
    assert r.slip_share(34.5, ratio=35.0) < r.SLIP_STEPS[0] < r.slip_share(33.8, ratio=35.0) < r.SLIP_STEPS[1]
    assert r.slip_share(35.0, ratio=35.0) == 0
    assert r.FRICTION["wet or dusty"][1] < r.FRICTION["dry"][0]
    assert math.isclose(r.creep_loss(100.0, creep=0.02), 2.0)


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    array_equals_scalar(getattr(r, name), SAMPLES[name][0])


def test_many_tyres_at_once() -> None:
    """Diameters broadcast against rollers."""
    tyres, rollers = np.array([[0.5], [0.7]]), np.array([0.03, 0.06])
    force = r.rolling_force(rolling=0.01, press_force=200.0, d_tyre=tyres, d_roller=rollers)
    assert force.shape == (2, 2)
