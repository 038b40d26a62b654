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
from sparewatt.physics import roller as r

COVERS = ["C01", "C02", "C03", "C04", "C08"]

TABLE = "ISO 5775 table of bead seats seen with its inch names"
_PRESS = {"rolling": 0.008, "press_force": 400.0, "d_tyre": 0.672, "d_roller": 0.030}

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "outer_diameter": ({"bead_diameter": 0.622, "section": 0.037}, "m"),
    "curvature_factor": ({"d_tyre": 0.672, "d_roller": 0.03}, "1"),
    "rolling_force": (_PRESS, "N"),
    "grip_limit": ({"press_force": 200.0, "friction": 0.6}, "N"),
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
    round_it = math.pi * r.tyre_diameter("25-622")
    assert round_it == pytest.approx(2.111, rel=5e-3)
    assert round_it == pytest.approx(2.105, rel=5e-3)


def test_tyre_on_a_small_roller() -> None:
    """C08: 0.008, 400 N, 6.333 m/s, 672 on 30 mm: factor 4.837, 20.3 W on the flat, 98.0 W on the roller, 1 %."""
    assert r.curvature_factor(0.672, 0.030) == pytest.approx(4.837, rel=0.01)
    assert 6.333 * r.rolling_force(**{**_PRESS, "d_roller": 1e12}) == pytest.approx(20.3, rel=0.01)
    assert 6.333 * r.rolling_force(**_PRESS) == pytest.approx(98.0, rel=0.01)
    assert "22 times smaller" in r.roller_caveat(0.672, 0.030)
    assert r.roller_caveat(0.672, 0.070) == ""


def test_grip_of_a_pedal_rig() -> None:
    """Pressed with 80 N a wet tyre holds 36 N, with 200 N a dry one 140 N; wet grips less (common practice, no source)."""
    assert r.grip_limit(press_force=80.0, friction=0.45) == pytest.approx(36)
    assert r.grip_limit(press_force=200.0, friction=0.7) == pytest.approx(140)
    assert r.FRICTION["wet or dusty"][1] < r.FRICTION["dry"][0]


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


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    array_equals_scalar(getattr(r, name), SAMPLES[name][0])


def test_many_tyres_at_once() -> None:
    """Diameters broadcast against rollers."""
    tyres, rollers = np.array([[0.5], [0.7]]), np.array([0.03, 0.06])
    force = r.rolling_force(rolling=0.01, press_force=200.0, d_tyre=tyres, d_roller=rollers)
    assert force.shape == (2, 2)
