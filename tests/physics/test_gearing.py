"""Ratios and chains, against worked examples of two texts on machines and a published range of efficiencies."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.physics.same import array_equals_scalar

from sparewatt.physics import gearing as g

COVERS = ["B01", "B20", "B21", "C05"]

RPM = 2 * math.pi / 60
INCH, FOOT, POUND, HORSE = 0.0254, 0.3048, 4.4482216152605, 745.6999
KHURMI = "Khurmi & Gupta, Theory of Machines, 14th ed. 2009"
WENTZELL = "T. H. Wentzell, Machine Design, 2007"

_STEP = {"w_driven": 200.0, "eta_stage": 0.95, "drag_torque": 0.02, "drag_slope": 1e-5, "creep": 0.01}
_CHAIN = {"pull": 190.0, "teeth_driver": 42.0, "teeth_driven": 18.0}
SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "tooth_ratio": ({"teeth_driver": 48.0, "teeth_driven": 16.0}, "1"),
    "diameter_ratio": ({"d_driver": 0.75, "d_driven": 0.45, "creep": 0.02}, "1"),
    "total_ratio": ({"ratios": (2.4, 15.0)}, "1"),
    "driven_speed": ({"w_driver": 6.283, "stage_ratio": 35.0}, "rad/s"),
    "driving_torque": ({"torque_driven": 0.3, "stage_ratio": 10.0, **_STEP}, "N*m"),
    "stage_loss": ({"torque_driven": 0.3, "stage_ratio": 10.0, **_STEP}, "W"),
    "stage_efficiency": ({"torque_driven": 0.3, **_STEP}, "1"),
    "freewheel_torque": ({"torque": 16.0, "w_driver": 6.0, "w_driven": 5.0, "stage_ratio": 1.0}, "N*m"),
    "chain_sprocket_diameter": ({"teeth": 18.0}, "m"),
    "chain_speed": ({"w_driver": 188.5, "teeth": 12.0}, "m/s"),
    "chain_pull": ({"torque": 16.0, "teeth": 42.0}, "N"),
    "chain_links": ({"centre_distance": 0.42, "teeth_driver": 42.0, "teeth_driven": 18.0}, "1"),
    "chain_loss_share": (_CHAIN, "1"),
    "chain_efficiency": (_CHAIN, "1"),
    "development": ({"stage_ratio": 3.0, "circumference": 2.111}, "m"),
}


# ---- published figures ----------------------------------------------------------------------------------------------


def test_two_belts_to_a_dynamo() -> None:
    """B01: 150 rpm over 750/450 and 900/150 mm: 1500 rpm, 1440.6 with 2 % slip each (Khurmi & Gupta, Ex 11.1), 0.05 %."""
    steps = [g.diameter_ratio(0.750, 0.450), g.diameter_ratio(0.900, 0.150)]
    assert g.driven_speed(150.0, stage_ratio=g.total_ratio(steps)) == pytest.approx(1500, rel=5e-4), KHURMI
    steps = [g.diameter_ratio(0.750, 0.450, creep=0.02), g.diameter_ratio(0.900, 0.150, creep=0.02)]
    assert g.driven_speed(150.0, stage_ratio=g.total_ratio(steps)) == pytest.approx(1440.6, rel=5e-4)


def test_chain_speed_and_pull() -> None:
    """B20: 12 teeth of half an inch, 1800 rpm, 5.31 hp: 900 ft/min and 194.6 lb (Wentzell, Ex 14.4 p 321), 0.1 %."""
    assert g.chain_speed(1800 * RPM, teeth=12) == pytest.approx(900 * FOOT / 60, rel=1e-3), WENTZELL
    pull = g.chain_pull(5.31 * HORSE / (1800 * RPM), teeth=12)
    assert pull / POUND == pytest.approx(194.6, rel=1e-3)


@pytest.mark.parametrize("teeth", [11, 15, 21])
@pytest.mark.parametrize("watts", [50, 100, 150, 200])
def test_chain_efficiency_in_the_published_range(teeth: int, watts: float) -> None:
    """B21: 52-11 to 52-21 at 50 to 200 W lie within 80.9 and 98.6 % (Spicer and others 2001, from memory); 60 rpm."""
    pull = g.chain_pull(watts / (60 * RPM), teeth=52)
    assert g.CHAIN_RANGE[0] <= pull <= g.CHAIN_RANGE[1]
    assert 0.809 <= g.chain_efficiency(pull, teeth_driver=52, teeth_driven=teeth) <= 0.986


def test_development() -> None:
    """C05: 48/16 and 2.111 m round make 6.333 m a turn (definition), 0.1 %."""
    assert g.development(g.tooth_ratio(48, 16), circumference=2.111) == pytest.approx(6.333, rel=1e-3)


# ---- limits and shapes ----------------------------------------------------------------------------------------------

loss = st.floats(0.0, 0.2)


@given(pull=st.floats(5, 500), more=st.floats(1.01, 5), n=st.integers(11, 60), m=st.integers(11, 60))
def test_chain_loss_falls_with_pull_and_teeth(pull: float, more: float, n: int, m: int) -> None:
    """A tighter chain and larger sprockets lose a smaller share; the share is never nothing."""
    case = {"teeth_driver": n, "teeth_driven": m}
    here = g.chain_loss_share(pull, **case)
    assert 0 < g.chain_loss_share(pull * more, **case) < here
    assert g.chain_loss_share(pull, teeth_driver=n + 1, teeth_driven=m) < here
    assert g.chain_efficiency(pull, **case) == pytest.approx(1 - here)


@given(
    t=st.floats(0.01, 5), w=st.floats(1, 500), ratio=st.floats(0.2, 30), eta=st.floats(0.5, 1), d=loss, c=loss
)
def test_power_of_one_step_closes(t: float, w: float, ratio: float, eta: float, d: float, c: float) -> None:
    """Power in is power passed on plus the step's loss, and the efficiency says the same."""
    case = {"w_driven": w, "eta_stage": eta, "drag_torque": d, "drag_slope": d / 1000, "creep": c}
    w_driver = w / ratio
    p_in = g.driving_torque(t, stage_ratio=ratio, **case) * w_driver
    assert p_in == pytest.approx(t * w + g.stage_loss(t, stage_ratio=ratio, **case), rel=1e-9)
    assert g.stage_efficiency(t, **case) == pytest.approx(t * w / p_in, rel=1e-9)


def test_a_perfect_step_costs_nothing() -> None:
    """With no loss at all the torque is the ratio times over and the power the same."""
    assert g.driving_torque(2.0, w_driven=30.0, stage_ratio=5.0) == pytest.approx(10.0)
    assert g.stage_loss(2.0, w_driven=30.0, stage_ratio=5.0) == pytest.approx(0.0, abs=1e-12)


def test_drag_takes_a_larger_share_of_a_small_load() -> None:
    """Fixed drag makes the same step far worse at 30 W than at 120 W (common practice, no source)."""
    light, heavy = (g.stage_efficiency(p / 200.0, w_driven=200.0, drag_torque=0.05) for p in (30.0, 120.0))
    assert light == pytest.approx(0.75)
    assert heavy == pytest.approx(12 / 13)


def test_freewheel_lets_go() -> None:
    """It passes a push at equal speed, nothing when the rider stops or pulls back, nothing while the hub runs ahead."""
    got = g.freewheel_torque([16.0, 0.0, -5.0, 16.0], w_driver=[6.0, 0.0, 6.0, 5.0], w_driven=6.0)
    np.testing.assert_array_equal(got, [16.0, 0.0, 0.0, 0.0])


def test_sprocket_and_chain_length() -> None:
    """Many teeth make the sprocket the circle of its pitches; equal sprockets need twice the distance and the teeth."""
    assert g.chain_sprocket_diameter(5000) == pytest.approx(5000 * 0.0127 / math.pi, rel=1e-6)
    assert g.chain_sprocket_diameter(6) == pytest.approx(2 * 0.0127)
    assert g.chain_links(0.508, teeth_driver=20, teeth_driven=20) == pytest.approx(2 * 0.508 / 0.0127 + 20)


@pytest.mark.parametrize("name", sorted(set(SAMPLES) - {"total_ratio"}))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    array_equals_scalar(getattr(g, name), SAMPLES[name][0])


def test_total_ratio_of_many_drives() -> None:
    """A table of drives gives one ratio a row."""
    np.testing.assert_allclose(g.total_ratio([[2.0, 3.0], [4.0, 5.0]]), [6.0, 20.0])
