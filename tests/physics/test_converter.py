"""Boards against worked examples of power-electronics textbooks and against workshop figures."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewatt.physics import bus
from sparewatt.physics import converter as c

COVERS = ["P02", "P03", "P04", "P05", "P06", "P07", "P08", "P12", "P13"]

BIMBHRA = "P. S. Bimbhra, Power Electronics, Ex 7.2, 7.5, 7.15"
ERICKSON = "Erickson & Maksimovic, Fundamentals of Power Electronics, chapter 5 and sections 17.2, 17.3"
_LOSS = {"loss_0": 0.5, "loss_1": 0.06, "loss_2": 2e-4}

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "buck_boost_duty": ({"v_in": 220.0, "v_out": 660.0}, "1"),
    "critical_buck": ({"duty": 0.4}, "1"),
    "critical_boost": ({"duty": 0.6}, "1"),
    "critical_buck_boost": ({"duty": 0.6}, "1"),
    "buck_ratio": ({"duty": 0.4, "k_conduction": 0.2}, "1"),
    "boost_ratio": ({"duty": 0.6, "k_conduction": 0.048}, "1"),
    "boost_ratio_light": ({"duty": 0.6, "k_conduction": 0.048}, "1"),
    "buck_boost_ratio": ({"duty": 0.25, "k_conduction": 0.3}, "1"),
    "chopped_output": ({"v_in": 230.0, "duty": 0.4, "v_closed": 2.0}, ("V", "V", "1")),
    "chopper_current": (
        {"v_in": 220.0, "duty": 0.5, "r_load": 10.0, "inductance": 15e-3, "frequency": 1250.0}, ("A", "A", "A")
    ),
    "board_loss": ({"p_out": 100.0, **_LOSS}, "W"),
    "input_power": ({"p_out": 100.0, **_LOSS}, "W"),
    "output_power": ({"p_in": 108.5, **_LOSS}, "W"),
    "input_capacitance": ({"v_bus": 20.0, "p_load": 136.0, "inductance": 1e-3, "r_source": 0.25}, "F"),
    "board_edge": ({"v_in": 10.0, "i_limit": 12.0, "eta_board": 0.875}, "W"),
    "honest_power": (
        {"v_in": 12.0, "i_limit": 12.0, "eta_board": 0.85, "p_print": 1200.0, "share_honest": 0.5}, "W"
    ),
    "boost_output": ({"v_in": 30.0, "v_set": 14.4, "v_loss": 0.5}, "V"),
    "restart_voltage": ({"v_sleep": 10.0, "r_source": 0.9, "p_load": 40.0}, "V"),
}  # fmt: skip


def test_buck_boost_with_a_changed_pulse() -> None:
    """P02 (Bimbhra Ex 7.5): 220 to 660 V, on for 120 us; with the off time trebled in the same cycle 73.33 V, 0.1 %."""
    duty = c.buck_boost_duty(220.0, v_out=660.0)
    off = 3 * (1 - duty)
    assert 220.0 * c.buck_boost_ratio(1 - off, k_conduction=10.0) == pytest.approx(73.33, rel=0.001), BIMBHRA
    assert 220.0 * c.buck_boost_ratio(duty, k_conduction=10.0) == pytest.approx(660.0)


def test_chopper_with_a_switch_drop() -> None:
    """P03 (Bimbhra Ex 7.2): 230 V, 0.4, 2 V: mean 91.2 V, rms 144.2 V, 99.13 %; 0.1 %."""
    found = c.chopped_output(230.0, duty=0.4, v_closed=2.0)
    assert tuple(found) == pytest.approx((91.2, 144.2, 0.9913), rel=0.001), BIMBHRA


def test_chopper_ripple_current() -> None:
    """P04 (Bimbhra Ex 7.15): 220 V, 10 ohm, 15 mH, 1250 Hz, 0.5: 12.458, 9.542, 2.916 A; 0.1 %."""
    found = c.chopper_current(220.0, duty=0.5, r_load=10.0, inductance=15e-3, frequency=1250.0)
    assert tuple(found) == pytest.approx((12.458, 9.542, 2.916), rel=0.001), BIMBHRA


def test_boundary_of_conduction() -> None:
    """P05 (Erickson eq. 5.4 to 5.6, exact): at the critical number both laws of each board give the same ratio."""
    for duty in (0.1, 0.4, 0.6, 0.9):
        for critical, ratio in (
            (c.critical_buck, c.buck_ratio), (c.critical_boost, c.boost_ratio), (c.critical_buck_boost, c.buck_boost_ratio)
        ):  # fmt: skip
            k = critical(duty)
            assert ratio(duty, k_conduction=k * (1 + 1e-12)) == pytest.approx(
                ratio(duty, k_conduction=k * (1 - 1e-12)), rel=1e-9
            ), ERICKSON
    assert c.critical_buck(0.3) == pytest.approx(0.7)
    assert c.critical_boost(0.3) == pytest.approx(0.3 * 0.49)


def test_smallest_coil() -> None:
    """P06: 12 to 30 V, 50 ohm, 25 kHz: 96 uH, 0.1 %: twice coil and cycles over the resistor is then the critical number."""
    k = c.critical_boost(1 - 12.0 / 30.0)
    assert k * 50.0 / (2 * 25e3) == pytest.approx(96e-6, rel=0.001)
    assert 12.0 * c.boost_ratio(0.6, k_conduction=1.001 * k) == pytest.approx(30.0)


def test_step_up_at_light_load() -> None:
    """P07: 12 V, 0.6, 48 uH, 50 ohm, 25 kHz: K 0.048, ratio 3.284, 39.41 V where the simple law says 30; 0.1 %."""
    k = 2 * 48e-6 * 25e3 / 50.0
    assert k == pytest.approx(0.048, rel=0.001)
    assert c.boost_ratio(0.6, k_conduction=k) == pytest.approx(3.284, rel=0.001)
    assert 12 * c.boost_ratio(0.6, k_conduction=k) == pytest.approx(39.41, rel=0.001)
    assert 12 * c.boost_ratio(0.6, k_conduction=1.0) == pytest.approx(30.0)


def test_step_down_at_light_load() -> None:
    """P08: 12 V, 0.4167, 10 uH, 10 ohm, 100 kHz: K 0.20 below 0.583, ratio 0.5938, 7.126 V; 0.1 %."""
    k = 2 * 10e-6 * 100e3 / 10.0
    assert k == pytest.approx(0.20, rel=0.001)
    assert c.critical_buck(0.4167) == pytest.approx(0.583, rel=0.001)
    assert c.buck_ratio(0.4167, k_conduction=k) == pytest.approx(0.5938, rel=0.001)
    assert 12 * c.buck_ratio(0.4167, k_conduction=k) == pytest.approx(7.126, rel=0.001)


def test_damping_band() -> None:
    """P12 (Routh condition): 1 mH, 1 mF, 24 V, 100 W: 0.1736 to 5.76 ohm, 0.1 %."""
    need = c.input_capacitance(24.0, p_load=100.0, inductance=1e-3, r_source=0.1736)
    assert need == pytest.approx(1e-3, rel=0.001)
    assert bus.stability_resistance(24.0, p_load=100.0) == pytest.approx(5.76, rel=0.001)


def test_damping_band_against_eigenvalues() -> None:
    """Inside the band the linearised circuit's eigenvalues lie left of zero, outside one lies right (numpy)."""
    v, p, coil, cap = 24.0, 100.0, 1e-3, 1e-3
    low = coil * p / (cap * v * v)
    assert c.input_capacitance(v, p_load=p, inductance=coil, r_source=low) == pytest.approx(cap)
    high = bus.stability_resistance(v, p_load=p)
    for r, steady in ((0.9 * low, False), (1.1 * low, True), (0.99 * high, True), (1.01 * high, False)):
        matrix = np.array([[-r / coil, -1 / coil], [1 / cap, p / (cap * v * v)]])
        assert bool(np.linalg.eigvals(matrix).real.max() < 0.0) == steady


def test_chopped_field_current() -> None:
    """P13 (Fitzgerald Ex 11.1): 240 V, 0.75, 187 ohm, 4.2 H, 1 ms: 0.963 A, 21.4 mA (bridge that reverses); 0.5 %."""
    assert c.chopped_output(240.0, duty=0.75).mean / 187.0 == pytest.approx(0.963, rel=0.005)
    found = c.chopper_current(480.0, duty=0.75, r_load=187.0, inductance=4.2, frequency=1000.0)
    assert found.ripple == pytest.approx(21.4e-3, rel=0.005)


def test_small_ripple_is_the_limit_of_the_exact_one() -> None:
    """With a large coil the exact ripple becomes volts times both shares of the cycle over coil and cycles."""
    exact = c.chopper_current(24.0, duty=0.3, r_load=1.0, inductance=1.0, frequency=1000.0)
    assert exact.ripple == pytest.approx(24.0 * 0.3 * 0.7 / 1000.0, rel=1e-5)
    assert 0.5 * (exact.high + exact.low) == pytest.approx(0.3 * 24.0, rel=1e-5)


def test_capacitor_at_the_input() -> None:
    """1 mH, 136 W, 0.25 ohm, 20 V: 1.4 mF (by hand)."""
    need = c.input_capacitance(20.0, p_load=136.0, inductance=1e-3, r_source=0.25)
    assert need == pytest.approx(1.4e-3, rel=0.04)


@given(p=st.floats(0.0, 500.0), l0=st.floats(0.0, 10.0), l1=st.floats(0.0, 0.3), l2=st.floats(0.0, 1e-3))
def test_input_and_output_power_are_inverse(p: float, l0: float, l1: float, l2: float) -> None:
    """Watts out of the watts in are the watts out, to 1e-9, and the loss makes up the difference."""
    taken = c.input_power(p, loss_0=l0, loss_1=l1, loss_2=l2)
    assert abs(c.output_power(taken, loss_0=l0, loss_1=l1, loss_2=l2) - p) <= 1e-9 * (1 + taken)
    assert taken - p == pytest.approx(c.board_loss(p, loss_0=l0, loss_1=l1, loss_2=l2), abs=1e-9)


def test_board_that_says_1200_watts() -> None:
    """12 A at 10 V is 120 W in and about 105 W out, whatever is printed on it (by hand)."""
    edge = c.board_edge(10.0, i_limit=12.0, eta_board=0.875)
    assert edge == pytest.approx(105.0)
    assert c.honest_power(10.0, i_limit=12.0, eta_board=0.875, p_print=1200.0) == edge
    assert c.honest_power(60.0, i_limit=30.0, eta_board=0.9, p_print=1200.0) == 600.0


def test_step_up_board_passes_volts_through() -> None:
    """Set to 14.4 V with 30 V in it gives 29.5 V (by hand)."""
    assert c.boost_output(30.0, v_set=14.4, v_loss=0.5) == 29.5
    assert c.boost_output(12.0, v_set=14.4, v_loss=0.5) == 14.4


def test_restart_breaks_the_pulsing() -> None:
    """At the waking volts found, open volts just above find a running point above the sleep volts; just below do not."""
    for sleep, r, p in ((10.0, 0.9, 40.0), (10.0, 0.9, 200.0), (8.5, 0.25, 120.0)):
        wake = c.restart_voltage(sleep, r_source=r, p_load=p)
        above = bus.constant_power_voltage(wake * 1.0001, r_source=r, p_load=p)
        below = bus.constant_power_voltage(wake * 0.9999, r_source=r, p_load=p)
        assert above >= sleep
        assert np.isnan(below) or below < sleep
    assert (
        c.restart_voltage(10.0, r_source=0.9, p_load=40.0) / 10.0 - 1.0 > 0.2
    )  # a fifth is wanted (common practice, no source)


@given(v=st.floats(5.0, 60.0), d=st.floats(0.05, 0.95))
def test_ideal_boards_balance(v: float, d: float) -> None:
    """With a coil that never stops, the ratios are d, 1/(1 - d) and d/(1 - d), and duty and ratio are inverse."""
    firm = 10.0
    assert c.buck_ratio(d, k_conduction=firm) == pytest.approx(d)
    assert c.boost_ratio(d, k_conduction=firm) == pytest.approx(1 / (1 - d))
    assert c.buck_boost_duty(v, v_out=v * c.buck_boost_ratio(d, k_conduction=firm)) == pytest.approx(d)


def test_arrays_equal_numbers() -> None:
    """An array gives what each of its numbers gives."""
    d = np.array([0.2, 0.5, 0.8])
    k = np.array([[0.05], [0.5]])
    table = c.boost_ratio(d, k_conduction=k)
    assert all(table[a, b] == c.boost_ratio(d[b], k_conduction=k[a, 0]) for a in range(2) for b in range(3))
    assert isinstance(c.critical_boost(0.4), np.float64)
    assert math.isinf(c.boost_ratio(1.0, k_conduction=1.0))
