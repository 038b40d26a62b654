"""Belts, against worked examples of two texts on machines, two standards, and geometry."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.physics.same import array_equals_scalar

from sparewatt.physics import belts as b

COVERS = [
    "B03",
    "B04",
    "B05",
    "B06",
    "B08",
    "B09",
    "B10",
    "B11",
    "B12",
    "B13",
    "B14",
    "B15",
    "B16",
    "B17",
    "B18",
]

RPM = 2 * math.pi / 60
INCH, POUND = 0.0254, 4.4482216152605
KHURMI = "Khurmi & Gupta, Theory of Machines, 14th ed. 2009"
WENTZELL = "T. H. Wentzell, Machine Design, 2007"

_PULLEYS = {"d_small": 0.05, "d_large": 0.30, "centre_distance": 0.45}
SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "open_length": (_PULLEYS, "m"),
    "crossed_length": (_PULLEYS, "m"),
    "wrap_angle": (_PULLEYS, "1"),
    "wrap_angle_large": (_PULLEYS, "1"),
    "wrap_angle_crossed": (_PULLEYS, "1"),
    "centre_from_length": ({"belt_length": 1.5, "d_small": 0.05, "d_large": 0.30}, "m"),
    "tension_ratio": ({"wrap": 2.6, "friction": 0.3, "wedge_angle": 0.66}, "1"),
    "centrifugal_tension": ({"mass_per_length": 0.06, "v_belt": 3.0}, "N"),
    "pull_at_slip": ({"f_pretension": 120.0, "grip_ratio": 4.0, "f_centrifugal": 0.5}, "N"),
    "pretension_needed": ({"pull": 50.0, "grip_ratio": 4.0, "f_centrifugal": 0.5, "margin_wanted": 1.3}, "N"),
    "tensions": ({"pull": 50.0, "f_pretension": 120.0}, ("N", "N")),
    "shaft_load": ({"f_tight": 145.0, "f_slack": 95.0, "wrap": 2.6}, "N"),
    "span_frequency": ({"f_pretension": 120.0, "span": 0.4, "mass_per_length": 0.06}, "1/s"),
    "ribbed_ratio": ({"d_driver": 0.14, "d_driven": 0.045, "line_offset": 2e-3}, "1"),
    "belt_ribs": ({"p_pass": 170.0, "p_rib": 50.0}, "1"),
    "tooth_pulley_diameter": ({"teeth": 20.0, "tooth_pitch": 5e-3}, "m"),
    "teeth_in_mesh": ({"teeth": 20.0, "wrap": 2.6}, "1"),
}  # fmt: skip


# ---- published figures ----------------------------------------------------------------------------------------------


def test_open_length() -> None:
    """B03: pulleys of 4 and 6 in, 19 in apart: 53.7606 in (exact geometry of Wentzell, Ex 14.2 p 310), 1e-4."""
    assert b.open_length(d_small=4.0, d_large=6.0, centre_distance=19.0) == pytest.approx(
        53.7606, abs=1e-4
    ), WENTZELL


def test_power_at_slip() -> None:
    """B04: 0.6 m, 200 rpm, mu 0.25, 160 deg, 2500 N: 7.89 kW (Khurmi & Gupta, Ex 11.4 p 342), 0.1 %."""
    slack = 2500.0 / b.tension_ratio(wrap=math.radians(160), friction=0.25)
    assert (2500.0 - slack) * 200 * RPM * 0.3 == pytest.approx(7890, rel=1e-3), KHURMI


def test_rope_round_a_drum() -> None:
    """B05: 9000 N, 2.5 turns, mu 0.25, 0.3 m at 20 rpm: 177.3 N holds it, 2.772 kW (Khurmi & Gupta, Ex 11.5), 0.1 %."""
    slack = 9000 / b.tension_ratio(wrap=2.5 * 2 * math.pi, friction=0.25)
    assert slack == pytest.approx(177.3, rel=1e-3), KHURMI
    assert (9000.0 - slack) * 20 * RPM * 0.15 == pytest.approx(2772, rel=1e-3)


def test_crossed_belt() -> None:
    """B06: 0.45 and 0.20 m, 1.95 m apart, 1000 N, mu 0.25, 200 rpm: 4.975 m, 3.4765 rad, 2.736 kW, 0.1 %.

    Khurmi & Gupta, Ex 11.6 p 344, recomputed.
    """
    case = {"d_small": 0.20, "d_large": 0.45, "centre_distance": 1.95}
    assert b.crossed_length(**case) == pytest.approx(4.975, rel=1e-3), KHURMI
    wrap = b.wrap_angle_crossed(**case)
    assert wrap == pytest.approx(3.4765, rel=1e-3)
    slack = 1000.0 / b.tension_ratio(wrap=wrap, friction=0.25)
    assert (1000.0 - slack) * 200 * RPM * 0.225 == pytest.approx(2736, rel=1e-3)


def test_power_from_the_tension_it_was_fitted_with() -> None:
    """B08: 2000 N each side, mu 0.3, 150 deg, r 0.2 m, 500 rpm: 15.65 kW (Khurmi & Gupta, Ex 11.12 p 353), 0.2 %."""
    pull = b.pull_at_slip(2000.0, grip_ratio=b.tension_ratio(wrap=math.radians(150), friction=0.3))
    assert pull * 500 * RPM * 0.2 == pytest.approx(15650, rel=2e-3), KHURMI


def most_power(most: float, mass: float, ratio: float) -> tuple[float, float]:
    """Belt speed at which a tight side of `most` newtons passes on most watts, and those watts, over a fine grid."""
    speed = np.linspace(0.1, math.sqrt(most / mass), 200001)
    power = (most - b.centrifugal_tension(mass, v_belt=speed)) * (1 - 1 / ratio) * speed
    return float(speed[np.argmax(power)]), float(power.max())


def test_best_speed_of_a_flat_belt() -> None:
    """B09: 100 x 6 mm, 1000 kg/m3, 2 MPa, 120 deg, mu 0.3: 25.82 m/s and 9.64 kW (Khurmi & Gupta, Ex 11.10), 0.1 %."""
    area = 100e-3 * 6e-3
    ratio = float(b.tension_ratio(wrap=math.radians(120), friction=0.3))
    assert most_power(2e6 * area, 1000 * area, ratio) == pytest.approx((25.82, 9640), rel=1e-3), KHURMI


def test_width_tension_and_length() -> None:
    """B10: 0.6 and 0.24 m, 3 m apart, 4 kW, 300 rpm, mu 0.3, 10 N/mm: 178.0 mm, 1249.6 N, 7.330 m, 0.1 %.

    Khurmi & Gupta, Ex 11.15 p 356.
    """
    case = {"d_small": 0.24, "d_large": 0.60, "centre_distance": 3.0}
    ratio = b.tension_ratio(wrap=b.wrap_angle(**case), friction=0.3)
    pull = 4000.0 / (300 * RPM * 0.12)
    fitted = b.pretension_needed(pull, grip_ratio=ratio)
    assert fitted == pytest.approx(1249.6, rel=1e-3), KHURMI
    assert b.tensions(pull, f_pretension=fitted).tight / 10e3 == pytest.approx(0.1780, rel=1e-3)
    assert b.open_length(**case) == pytest.approx(7.330, rel=1e-3)


def test_v_belt_at_its_best_speed() -> None:
    """B11: 30 deg groove, 20 x 20 mm, 0.35 kg/m, 1.4 MPa, 140 deg, mu 0.15: 23.09 m/s, 6.53 kW, 0.2 %.

    Khurmi & Gupta, Ex 11.18 p 363.
    """
    ratio = float(b.tension_ratio(wrap=math.radians(140), friction=0.15, wedge_angle=math.radians(30)))
    assert most_power(1.4e6 * 400e-6, 0.35, ratio) == pytest.approx((23.09, 6530), rel=2e-3), KHURMI


def test_two_v_belts() -> None:
    """B12: 750 mm2, 1200 kg/m3, 7 MPa, mu 0.12, half a turn, 30 deg, 0.3 m, 1500 rpm: 171.69 kW; best at 2807 rpm, 0.1 %.

    Khurmi & Gupta, Ex 11.17 p 362.
    """
    most, m, speed = 7e6 * 750e-6, 1200 * 750e-6, 1500 * RPM * 0.15
    ratio = float(b.tension_ratio(wrap=math.pi, friction=0.12, wedge_angle=math.radians(30)))
    power = 2 * (most - b.centrifugal_tension(m, v_belt=speed)) * (1 - 1 / ratio) * speed
    assert power == pytest.approx(171.69e3, rel=1e-3), KHURMI
    assert most_power(most, m, ratio)[0] / 0.15 / RPM == pytest.approx(2807, rel=1e-3)


def test_load_on_the_shaft() -> None:
    """B13: 0.40 and 0.25 m, 2 m apart, mu 0.4, 1200 N: 351.9 N slack, 8.48 kW at 10 m/s, 1551 N on the shaft, 0.1 %.

    Khurmi & Gupta, Ex 11.16 p 357.
    """
    wrap = b.wrap_angle(d_small=0.25, d_large=0.40, centre_distance=2.0)
    slack = 1200.0 / b.tension_ratio(wrap=wrap, friction=0.4)
    assert slack == pytest.approx(351.9, rel=1e-3), KHURMI
    assert (1200.0 - slack) * 10.0 == pytest.approx(8480, rel=1e-3)
    assert b.shaft_load(1200.0, f_slack=slack, wrap=wrap) == pytest.approx(1551, rel=1e-3)


def test_flat_belt_pull_on_the_shaft() -> None:
    """B14: 2 hp at 2450 rpm, r 3 in, slack side 10 lb: 51.43 lb in, 27.14 lb tight, 37.14 lb on the shaft, 0.1 %.

    Wentzell, Ex 14.1 p 306.
    """
    torque = 2 * 745.6999 / (2450 * RPM)
    assert torque / (POUND * INCH) == pytest.approx(51.43, rel=1e-3), WENTZELL
    pull = torque / (3 * INCH)
    sides = b.tensions(pull, f_pretension=10 * POUND + pull / 2)
    assert sides.tight / POUND == pytest.approx(27.14, rel=1e-3)
    load = b.shaft_load(sides.tight, f_slack=sides.slack, wrap=math.pi)
    assert load / POUND == pytest.approx(37.14, rel=1e-3)


def test_rib_pitches() -> None:
    """B15: PH, PJ, PK, PL, PM have 1.60, 2.34, 3.56, 4.70, 9.40 mm between ribs (ISO 9982), exact."""
    assert [1000 * b.RIB_PITCH[p] for p in ("PH", "PJ", "PK", "PL", "PM")] == pytest.approx(
        [1.60, 2.34, 3.56, 4.70, 9.40]
    )


def test_ribbed_ratio() -> None:
    """B16, B17: PK from 45 mm, line 2 mm outside (ISO 9981:2020): 140 on 45 mm is 2.939, not 3.111; 0.1 %."""
    assert b.RIB_SMALLEST["PK"] == 45e-3
    assert b.LINE_OFFSET["PK"] == 2e-3
    assert b.ribbed_ratio(0.140, 0.045, line_offset=b.LINE_OFFSET["PK"]) == pytest.approx(2.939, rel=1e-3)
    assert b.ribbed_ratio(0.140, 0.045) == pytest.approx(3.111, rel=1e-3)


def test_ranges_of_efficiency() -> None:
    """B18: V belts 95 to 98 % new and 93 % worn, cogged 2 points better, toothed 98 % (US DOE tip sheet) [doe_belts]."""
    new, cogged = b.EFFICIENCY_RANGE["V, new"], b.EFFICIENCY_RANGE["V, cogged"]
    assert new == (0.95, 0.98)
    assert b.EFFICIENCY_RANGE["V, worn"][0] == 0.93
    assert cogged[0] == pytest.approx(new[0] + 0.02)
    assert b.EFFICIENCY_RANGE["toothed"] == (0.98, 0.98)
    assert all(0 < low <= high < 1 for low, high in b.EFFICIENCY_RANGE.values())


# ---- limits and shapes ----------------------------------------------------------------------------------------------

wheels = st.tuples(st.floats(0.02, 1.0), st.floats(0.02, 1.0), st.floats(1.02, 8.0))


@given(wheels)
def test_length_and_distance_are_inverse(case: tuple[float, float, float]) -> None:
    """Shaft distance to belt length and back, either pulley larger."""
    d1, d2, far = case
    centre = far * (d1 + d2) / 2
    length = b.open_length(d_small=d1, d_large=d2, centre_distance=centre)
    assert b.centre_from_length(length, d_small=d1, d_large=d2) == pytest.approx(centre, rel=1e-9)


@given(wheels)
def test_crossed_belt_is_longer_and_wraps_more(case: tuple[float, float, float]) -> None:
    """Crossing a belt lengthens it and gives both pulleys more wrap than the larger one had open."""
    d1, d2 = sorted(case[:2])
    open_case = {"d_small": d1, "d_large": d2, "centre_distance": case[2] * (d1 + d2) / 2}
    assert b.crossed_length(**open_case) > b.open_length(**open_case)
    assert b.wrap_angle_crossed(**open_case) > b.wrap_angle_large(**open_case)
    assert b.wrap_angle(**open_case) <= math.pi <= b.wrap_angle_large(**open_case)


def test_equal_pulleys() -> None:
    """Two equal pulleys: half a turn of wrap each, length twice the distance plus once round."""
    case = {"d_small": 0.1, "d_large": 0.1, "centre_distance": 0.4}
    assert b.wrap_angle(**case) == pytest.approx(math.pi)
    assert b.open_length(**case) == pytest.approx(0.8 + 0.1 * math.pi)


def test_belts_that_cannot_be() -> None:
    """A pulley inside the other, or a belt too short to go round, gives NaN and no number."""
    assert np.isnan(b.open_length(d_small=0.1, d_large=0.5, centre_distance=0.1))
    assert np.isnan(b.centre_from_length(1.0, d_small=0.1, d_large=0.5))


@given(
    pull=st.floats(1, 500),
    mu=st.floats(0.1, 0.8),
    wrap=st.floats(1.5, 4.5),
    fling=st.floats(0, 50),
    m=st.floats(1, 3),
)
def test_pretension_and_pull_are_inverse(pull: float, mu: float, wrap: float, fling: float, m: float) -> None:
    """Fitted with the tension found, the belt slips at just the margin asked for; its slack side then still pulls."""
    e = b.tension_ratio(wrap=wrap, friction=mu)
    fitted = b.pretension_needed(pull, grip_ratio=e, f_centrifugal=fling, margin_wanted=m)
    limit = b.pull_at_slip(fitted, grip_ratio=e, f_centrifugal=fling)
    assert limit / pull == pytest.approx(m, rel=1e-9)
    tight, slack = b.tensions(limit, f_pretension=fitted)
    assert (tight - fling) / (slack - fling) == pytest.approx(e, rel=1e-6)


@given(a=st.floats(0.3, math.pi), c=st.floats(0.3, math.pi), mu=st.floats(0.05, 0.8), wrap=st.floats(1, 5))
def test_narrower_groove_grips_harder(a: float, c: float, mu: float, wrap: float) -> None:
    """The wedge only ever helps, and a flat face is a groove of half a turn."""
    narrow, wide = sorted((a, c))
    ratio = [b.tension_ratio(wrap=wrap, friction=mu, wedge_angle=g) for g in (narrow, wide, math.pi)]
    assert ratio[0] >= ratio[1] >= ratio[2] * (1 - 1e-12)
    assert ratio[2] == pytest.approx(math.exp(mu * wrap))


@given(tight=st.floats(0, 1e3), slack=st.floats(0, 1e3), wrap=st.floats(0, 2 * math.pi))
def test_shaft_load_lies_between(tight: float, slack: float, wrap: float) -> None:
    """Never more than both tensions together, never less than their difference."""
    load = b.shaft_load(tight, f_slack=slack, wrap=wrap)
    assert abs(tight - slack) - 1e-5 <= load <= tight + slack + 1e-5


def test_ribs_are_whole() -> None:
    """One watt more than three ribs pass on takes a fourth."""
    np.testing.assert_array_equal(b.belt_ribs([150.0, 151.0], p_rib=50.0), [3, 4])


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    array_equals_scalar(getattr(b, name), SAMPLES[name][0])
