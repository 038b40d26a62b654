"""The node against algebra worked by hand, an independent root finder, and workshop cases of several riders."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from sparewatt.physics import bus as b

COVERS = ["P09", "P11"]

RPM = 2 * np.pi / 60
_PIN = {"k_emf": 0.075, "r_wind": 0.25, "v_open": 13.2, "r_store": 0.02, "v_brush": 1.2, "v_diode": 0.5}

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "constant_power_roots": ({"v_open": 24.0, "r_source": 0.5, "p_load": 100.0}, ("V", "V")),
    "constant_power_voltage": ({"v_open": 24.0, "r_source": 0.5, "p_load": 100.0}, "V"),
    "edge_power": ({"v_open": 28.5, "r_source": 0.9}, "W"),
    "stability_resistance": ({"v_bus": 21.7, "p_load": 100.0}, "ohm"),
    "node_voltage": ({"v_open": 24.0, "r_source": 0.5, "i_constant": 1.0, "g_load": 0.1, "p_load": 50.0}, "V"),
    "cut_in_speed": ({"v_open": 12.6, "k_emf": 0.075, "v_brush": 1.2, "v_diode": 0.5}, "rad/s"),
    "pinned_current": ({"w_shaft": 206.4, **_PIN}, "A"),
    "pinned_speed": ({"i_out": 7.6, **_PIN}, "rad/s"),
    "pinned_slope": ({"k_emf": 0.075, "r_wind": 0.25, "r_store": 0.02}, "rad/(s*A)"),
    "share_currents": (
        {"v_sources": (28.0, 28.3, 28.6), "r_sources": (0.35, 0.3, 0.4), "i_constant": 3.0, "g_load": 0.05, "p_load": 30.0},
        ("V", "A"),
    ),
    "meter_correction": ({"torque_ripple": 0.6}, "1"),
}  # fmt: skip


def test_most_power_of_a_resistive_source() -> None:
    """P11 (algebra): 24 V, 0.5 ohm, 100 W: edge 288 W, 21.695 V, holds while the source is below 4.71 ohm; 0.1 %."""
    assert b.edge_power(24.0, r_source=0.5) == pytest.approx(288.0, rel=0.001)
    v = b.constant_power_voltage(24.0, r_source=0.5, p_load=100.0)
    assert v == pytest.approx(21.695, rel=0.001)
    assert b.stability_resistance(v, p_load=100.0) == pytest.approx(4.71, rel=0.001)


def test_negative_input_resistance() -> None:
    """P09 (Erickson 17.2, 17.3): step-down by half into 3 ohm looks like -12 ohm, exact: what a source may have at most."""
    v_in = 20.0
    assert b.stability_resistance(v_in, p_load=(0.5 * v_in) ** 2 / 3.0) == pytest.approx(12.0, rel=1e-12)


def test_edges_of_two_machines() -> None:
    """Worked by hand with 1.5 V of brushes: 0.9 ohm gives 58 W from 16 V and 226 W from 30 V; 0.25 ohm 210 and 812 W."""
    for r, low, high in ((0.9, 58.0, 226.0), (0.25, 210.0, 812.0)):
        assert b.edge_power(16.0 - 1.5, r_source=r) == pytest.approx(low, abs=0.6)
        assert b.edge_power(30.0 - 1.5, r_source=r) == pytest.approx(high, abs=0.6)


def test_the_edge_is_where_the_roots_meet() -> None:
    """At the edge both running points are one, at half the open volts; just beyond it there is none."""
    e = 12.0
    edge = float(b.edge_power(e, r_source=0.9))
    roots = b.constant_power_roots(e * (1 + 1e-12), r_source=0.9, p_load=edge)
    assert roots.high == pytest.approx(0.5 * e, rel=1e-5)
    assert roots.low == pytest.approx(0.5 * e, rel=1e-5)
    assert np.isnan(b.constant_power_voltage(e * 0.999, r_source=0.9, p_load=edge))


def test_edge_limits() -> None:
    """No resistance: no edge. No volts: no power."""
    assert b.edge_power(12.0, r_source=0.0) == np.inf
    assert b.edge_power(-1.0, r_source=0.5) == 0.0
    assert b.edge_power(0.0, r_source=0.0) == 0.0


@given(e=st.floats(1.0, 200.0), r=st.floats(1e-6, 5.0), share=st.floats(1e-3, 1.0))
def test_both_running_points_balance(e: float, r: float, share: float) -> None:
    """At both points source watts are load watts plus lost watts, to 1e-9."""
    p = share * b.edge_power(e, r_source=r) * (1 - 1e-9)
    for v in b.constant_power_roots(e, r_source=r, p_load=p):
        i = (e - v) / r
        assert abs(v * i - p) <= 1e-9 * (p + e * e / r)
        assert abs(e * i - v * i - r * i * i) <= 1e-9 * (1 + e * abs(i))


@given(
    e=st.floats(5.0, 100.0), r=st.floats(0.01, 3.0), a=st.floats(-20.0, 5.0), g=st.floats(0.0, 20.0), p=st.floats(0.0, 200.0)
)  # fmt: skip
def test_node_against_a_root_finder(e: float, r: float, a: float, g: float, p: float) -> None:
    """The highest root equals the one a general-purpose root finder (scipy, brentq) finds from above."""
    v = b.node_voltage(e, r_source=r, i_constant=a, g_load=g, p_load=p)

    def spare(x: float) -> float:
        return (e - x) / r - a - g * x - p / x

    top = e + abs(a) * r + 1.0
    if np.isnan(v):
        grid = np.linspace(1e-3, top, 4000)
        assert np.all((e - grid) / r - a - g * grid - p / grid < 1e-6)
        return
    assert spare(v * (1 + 1e-9) + 1e-9) <= 1e-9
    below = v * (1 - 1e-6) - 1e-9
    if spare(below) > 0.0:
        assert brentq(spare, below, top, xtol=1e-13) == pytest.approx(v, rel=1e-6)


def test_node_special_cases() -> None:
    """A stiff source, a battery, and a pure constant-power load come out as their own formulas."""
    assert b.node_voltage(12.0, r_source=0.0, p_load=50.0) == 12.0
    battery = b.node_voltage(15.0, r_source=0.25, i_constant=-12.6 / 0.02, g_load=1 / 0.02)
    assert battery == pytest.approx((15.0 / 0.25 + 12.6 / 0.02) / (1 / 0.25 + 1 / 0.02))
    assert b.node_voltage(24.0, r_source=0.5, p_load=100.0) == b.constant_power_voltage(
        24.0, r_source=0.5, p_load=100.0
    )
    assert b.node_voltage(12.0, r_source=1.0, g_load=1.0) == 6.0
    assert np.isnan(b.node_voltage(1.0, r_source=1.0, i_constant=5.0))


@given(e=st.floats(10.0, 60.0), r=st.floats(0.05, 2.0), more=st.floats(0.0, 1.0), p=st.floats(1.0, 60.0))
def test_thicker_wire_never_lowers_the_volts(e: float, r: float, more: float, p: float) -> None:
    """Less resistance on the way never gives a constant-power load fewer volts, nor a resistor fewer watts."""
    thin = b.node_voltage(e, r_source=r + more, p_load=p)
    thick = b.node_voltage(e, r_source=r, p_load=p)
    assert np.isnan(thin) or thick >= thin * (1 - 1e-12)
    assert b.edge_power(e, r_source=r) >= b.edge_power(e, r_source=r + more)


@pytest.mark.parametrize(
    ("watts", "rpm", "amps"), [(50.0, 56.3, 2.3), (75.0, 57.6, 3.7), (100.0, 58.8, 5.1), (150.0, 61.1, 7.6)]
)
def test_a_battery_pins_the_cadence(watts: float, rpm: float, amps: float) -> None:
    """Scooter motor (K 0.075, 0.25 ohm), 35 to 1, 12 V battery: cut-in 52; the cadences and amps of the workshop table
    (common practice, no source), and the watts left for drag are 15 to 25 % of the pedals'."""
    del watts
    pin = {**_PIN, "r_store": 0.0}
    assert b.cut_in_speed(12.6, k_emf=0.075, v_brush=1.2, v_diode=0.5) / 35.0 / RPM == pytest.approx(
        52.0, abs=0.1
    )
    assert b.pinned_speed(amps, **pin) / 35.0 / RPM == pytest.approx(rpm, abs=0.15)
    assert b.pinned_current(rpm * RPM * 35.0, **pin) == pytest.approx(amps, abs=0.15)


def test_pinned_current_and_speed_are_inverse() -> None:
    """Speed of a current gives the current back; below cut-in nothing flows."""
    assert b.pinned_current(b.pinned_speed(4.4, **_PIN), **_PIN) == pytest.approx(4.4)
    assert b.pinned_current(0.99 * b.pinned_speed(0.0, **_PIN), **_PIN) == 0.0


@pytest.mark.parametrize(("ohms", "amps"), [(0.05, (0.0, 0.25, 6.25)), (0.35, (1.3, 2.2, 3.0))])
def test_three_riders_on_one_bus(ohms: float, amps: tuple[float, ...]) -> None:
    """28.0, 28.3, 28.6 V and 6.5 A (by hand): short leads crush one rider, 0.35 ohm each is bearable."""
    at = b.share_currents([28.0, 28.3, 28.6], r_sources=ohms, i_constant=6.5)
    assert at.i_out == pytest.approx(amps, abs=0.05)
    assert at.i_out.sum() == pytest.approx(6.5, rel=1e-12)


def test_two_equal_rigs_share_equally() -> None:
    """Two identical rigs carry half each, whatever hangs on the node."""
    at = b.share_currents([30.0, 30.0], r_sources=[0.4, 0.4], i_constant=1.0, g_load=0.1, p_load=40.0)
    assert at.i_out[0] == at.i_out[1]
    assert 2 * at.i_out[0] == pytest.approx(1.0 + 0.1 * at.v_bus + 40.0 / at.v_bus)


@given(
    v=st.lists(st.floats(5.0, 40.0), min_size=1, max_size=5), r=st.lists(st.floats(0.02, 2.0), min_size=5, max_size=5),
    a=st.floats(-5.0, 10.0), g=st.floats(0.0, 2.0), p=st.floats(0.0, 100.0),
)  # fmt: skip
def test_sharing_is_a_solution_and_the_highest(
    v: list[float], r: list[float], a: float, g: float, p: float
) -> None:
    """Currents add up to the demand to 1e-9, none is negative, and no higher node volts would do."""
    r = r[: len(v)]
    at = b.share_currents(v, r_sources=r, i_constant=a, g_load=g, p_load=p)

    def spare(x: float) -> float:
        return sum(max(0.0, (e - x) / s) for e, s in zip(v, r, strict=True)) - a - g * x - p / x

    if a == g == p == 0.0:
        assert at.v_bus == max(v)
        return
    if np.isnan(at.v_bus):
        if a >= 0.0:  # a negative demand (a battery) can hold the node above every source
            grid = np.linspace(1e-2, max(v), 3000)
            assert all(spare(float(x)) <= 1e-6 for x in grid)
        return
    assert np.all(at.i_out >= 0.0)
    demand = a + g * at.v_bus + p / at.v_bus
    assert abs(at.i_out.sum() - demand) <= 1e-8 * (1 + abs(demand)) + 1e-11 * max(v) / min(r)
    for x in np.linspace(at.v_bus * 1.0001, max(v) * 1.01, 50):
        assert spare(float(x)) <= 1e-6


def test_sharing_over_arrays_equals_one_at_a_time() -> None:
    """Loads along other axes give the same as one call each."""
    p = np.array([10.0, 60.0, 200.0, 5000.0])
    v, r = np.array([28.0, 28.6, 24.0]), np.array([0.3, 0.2, 0.5])
    many = b.share_currents(v, r_sources=r, p_load=p)
    for k, watts in enumerate(p):
        one = b.share_currents(v, r_sources=r, p_load=watts)
        assert np.array_equal(many.v_bus[k], one.v_bus, equal_nan=True)
        assert np.array_equal(many.i_out[k], one.i_out, equal_nan=True)
    assert np.isnan(many.v_bus[3])


def test_meter_correction_by_averaging() -> None:
    """18 % at 0.6 and 32 % at 0.8, against a mean taken point by point over one push."""
    angle = np.linspace(0, 2 * np.pi, 4096, endpoint=False)
    for ripple, share in ((0.6, 1.18), (0.8, 1.32)):
        pulse = 1 + ripple * np.cos(angle)
        assert b.meter_correction(ripple) == pytest.approx(
            np.mean(pulse * pulse) / np.mean(pulse) ** 2, rel=1e-12
        )
        assert b.meter_correction(ripple) == pytest.approx(share, abs=0.005)


def test_arrays_equal_numbers() -> None:
    """An array gives what each of its numbers gives."""
    e = np.array([10.0, 20.0, 40.0])
    v = b.node_voltage(e, r_source=0.4, g_load=0.1, p_load=20.0)
    assert all(v[k] == b.node_voltage(x, r_source=0.4, g_load=0.1, p_load=20.0) for k, x in enumerate(e))
    assert isinstance(b.edge_power(10.0, r_source=1.0), np.float64)
