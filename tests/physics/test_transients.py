"""The seconds between steady states: textbook examples, published gates, plain limits, and solvers of somebody else."""

from __future__ import annotations

import inspect
import itertools
import re
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad, solve_ivp
from scipy.linalg import expm
from tests.physics.same import array_equals_scalar

from sparewatt.physics import bus, converter, flywheel, protection, store
from sparewatt.physics import transients as tr

RPM = 2 * np.pi / 60
_MOTOR = {"r_wind": 0.5, "inductance": 1.5e-3, "k_emf": 0.05, "inertia": 2.5e-4, "b_viscous": 1e-4}
_COAST = {"t_coulomb": 0.05, "b_viscous": 1e-3}
_RACE = {"w_crank": 6.28, "torque_start": 30.0, "inertia": 1.5, "w_top": 13.6}
_BOARD = {"v_set": 19.0, "c_out": 2.2e-3, "eta_board": 0.9}
_TURN = tuple(np.linspace(0.0, 2 * np.pi, 12, endpoint=False))
_PULSE = tuple(12.0 * (1 + 0.6 * np.cos(np.array(_TURN))))

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "rc_volts": (
        {"duration": 0.4, "v_start": 2.0, "v_open": 120.0, "r_path": 47e3, "capacitance": 15e-6},
        "V",
    ),
    "rl_current": (
        {"duration": 3e-3, "i_start": 0.5, "v_open": 120.0, "r_path": 10.0, "inductance": 0.04},
        "A",
    ),
    "coast_speed": ({"duration": 30.0, "w_wheel": 41.9, "inertia": 0.16, **_COAST}, "rad/s"),
    "coast_time": ({"inertia": 0.16, "w_high": 41.9, "w_low": 20.0, **_COAST}, "s"),
    "coast_angle": ({"inertia": 0.16, "w_high": 41.9, "w_low": 20.0, **_COAST}, "rad"),
    "dc_decay": (dict(_MOTOR), ("1/s", "1/s", "rad/s")),
    "dc_run_up": ({"duration": 0.03, "v_bus": 8.0, "t_coulomb": 0.02, **_MOTOR}, ("rad/s", "A")),
    "dc_peak_current": ({"v_bus": 8.0, "t_coulomb": 0.02, **_MOTOR}, ("A", "s")),
    "percent_flicker": ({"light_high": 1.3, "light_low": 0.8}, "1"),
    "bulb_flicker": ({"v_ripple": 1.2, "v_bus": 12.0, "exponent_light": 3.4}, "1"),
    "strip_flicker": ({"v_ripple": 1.2, "v_bus": 12.0, "v_knee": 9.6}, "1"),
    "lag_share": ({"frequency": 3.0, "time_constant": 0.05}, "1"),
    "meter_samples": ({"v_samples": _PULSE, "i_samples": _PULSE[2:] + _PULSE[:2]}, ("V", "A", "W", "W", "1")),
    "race_speed": ({"duration": 0.5, **_RACE}, "rad/s"),
    "race_time": ({"inertia": 1.5, "w_low": 6.28, "w_high": 10.0, "torque_start": 30.0, "w_top": 13.6}, "s"),
    "clamp_use": (
        {"reaction_time": 0.9, "v_clamp": 32.0, "ratio": 50.0, "k_emf": 0.075, **_RACE},
        ("s", "W", "J"),
    ),
    "hold_up_volts": ({"duration": 0.1, "capacitance": 0.01, "v_bus": 28.0, "p_load": 20.0}, "V"),
    "lag_step": ({"duration": 0.4, "reaction_time": 0.5}, "1"),
    "sag_time": ({"inertia": 1.5, "w_high": 7.0, "w_low": 5.0, "p_crank": 150.0, "torque_mean": 15.0}, "s"),
    "hiccup_rhythm": (
        {
            "v_wake": 16.0,
            "v_sleep": 10.0,
            "r_source": 0.9,
            "p_load": 40.0,
            "p_crank": 70.0,
            "torque_mean": 7.0,
            "inertia": 0.8,
            "ratio": 30.0,
            "k_emf": 0.075,
            "v_drop": 1.0,
        },
        ("s", "s", "s"),
    ),
}
BY_WORD = {"fuse_opening_time", "fuse_band"}

BIRD = "J. Bird, Electrical Circuit Theory and Technology, ch 17, in an open transcription of its examples"
KLUEVER = "C. A. Kluever, Dynamic Systems, 2015, example 10.1, constants in an open transcription"
SHEETS = "gates as printed on fuse makers' data sheets"


# ---- published figures ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("setup", "volts", "places"),
    [
        ({"duration": 0.705, "v_start": 0.0, "v_open": 120.0, "r_path": 47e3, "capacitance": 15e-6}, 75.85, 0.005),
        ({"duration": 0.48867, "v_start": 0.0, "v_open": 120.0, "r_path": 47e3, "capacitance": 15e-6}, 60.0, 0.005),
        ({"duration": 1.5, "v_start": 24.0, "v_open": 0.0, "r_path": 220e3, "capacitance": 4e-6}, 4.36, 0.01),
        ({"duration": 0.007, "v_start": 0.0, "v_open": 10.0, "r_path": 24e3, "capacitance": 0.5e-6}, 4.42, 0.005),
        ({"duration": 1.0, "v_start": 100.0, "v_open": 0.0, "r_path": 50e3, "capacitance": 16e-6}, 28.7, 0.05),
    ],
)  # fmt: skip
def test_a_capacitor_through_a_resistor(setup: dict[str, float], volts: float, places: float) -> None:
    """Bird, examples 17.1, 17.2, 17.4, 17.5: volts on the way up and on the way down (17.2 by its own formula)."""
    assert tr.rc_volts(**setup) == pytest.approx(volts, abs=places), BIRD


@pytest.mark.parametrize(
    ("setup", "amps"),
    [
        ({"duration": 0.01, "v_open": 60.0, "r_path": 20.0, "inductance": 0.1}, 2.59),
        ({"duration": 0.00347, "v_open": 60.0, "r_path": 20.0, "inductance": 0.1}, 1.5),
        ({"duration": 0.004, "v_open": 120.0, "r_path": 10.0, "inductance": 0.04}, 7.59),
        ({"duration": 0.3, "v_open": 120.0, "r_path": 15.0, "inductance": 3.0}, 6.21),
    ],
)
def test_a_coil_through_a_resistor(setup: dict[str, float], amps: float) -> None:
    """Bird, examples 17.7, 17.8, 17.9: current growing in a coil, to the digits printed."""
    assert tr.rl_current(i_start=0.0, **setup) == pytest.approx(amps, abs=0.006), BIRD


def test_a_shorted_winding_dies_away() -> None:
    """Bird, example 17.10 (constants): 15 ohm, 2 s, from 110 V: by its formula 7.33*exp(-1.5) = 1.64 A after 3 s."""
    i = tr.rl_current(3.0, i_start=110.0 / 15.0, v_open=0.0, r_path=15.0, inductance=30.0)
    assert i == pytest.approx(1.64, abs=0.005), BIRD


def test_run_up_of_a_textbook_motor() -> None:
    """Kluever 10.1: s^2 + 333.7 s + 6800 = 0 by hand, roots -21.80 and -311.9, 156.9 rad/s in the end on 8 V."""
    decay = tr.dc_decay(**_MOTOR)
    assert decay.slow + decay.fast == pytest.approx(333.73, abs=0.01), KLUEVER
    assert decay.slow * decay.fast == pytest.approx(6800.0, abs=0.1)
    assert decay.slow == pytest.approx(21.80, abs=0.005)
    assert decay.fast == pytest.approx(311.93, abs=0.01)
    assert decay.w_ring == 0.0
    assert tr.dc_run_up(2.0, v_bus=8.0, **_MOTOR).w_shaft == pytest.approx(156.86, abs=0.01)


def test_the_same_motor_with_a_light_rotor_swings() -> None:
    """Kluever 10.1, second rotor of 4e-6 kg m2: damping 0.275, undamped 652 rad/s (by hand), so it overshoots."""
    decay = tr.dc_decay(**{**_MOTOR, "inertia": 4e-6})
    natural = np.hypot(decay.slow, decay.w_ring)
    assert natural == pytest.approx(651.9, abs=0.1), KLUEVER
    assert decay.slow / natural == pytest.approx(0.2748, abs=1e-4)
    top = np.max(tr.dc_run_up(np.linspace(0, 0.05, 4001), v_bus=8.0, **{**_MOTOR, "inertia": 4e-6}).w_shaft)
    assert top / 156.863 == pytest.approx(1.0 + np.exp(-np.pi * decay.slow / decay.w_ring), abs=1e-4)


@pytest.mark.parametrize(
    ("kind", "multiple", "soonest", "latest"),
    [
        ("blade", 1.35, 0.75, 600.0),
        ("blade", 1.6, 0.25, 50.0),
        ("blade", 2.0, 0.15, 5.0),
        ("blade", 3.5, 0.08, 0.5),
        ("blade", 6.0, 0.03, 0.1),
        ("glass_quick", 2.75, 0.05, 2.0),
        ("glass_quick", 4.0, 0.01, 0.3),
        ("glass_slow", 2.75, 0.6, 10.0),
        ("glass_slow", 4.0, 0.15, 3.0),
        ("glass_slow", 10.0, 0.02, 0.3),
    ],
)
def test_a_fuse_keeps_its_gates(kind: str, multiple: float, soonest: float, latest: float) -> None:
    """ISO 8820-3 and IEC 60127-2 sheets 2 and 3 as printed on makers' sheets: the gates, and a middle between them."""
    band = tr.fuse_band(multiple, fuse_kind=kind)
    assert band.earliest == pytest.approx(soonest, rel=1e-12), SHEETS
    assert band.latest == pytest.approx(latest, rel=1e-12), SHEETS
    middle = tr.fuse_opening_time(multiple, fuse_kind=kind)
    assert middle == pytest.approx(np.sqrt(soonest * latest), rel=1e-12)


@pytest.mark.parametrize(
    ("kind", "multiple", "latest"),
    [("glass_quick", 2.1, 1800.0), ("glass_quick", 10.0, 0.02), ("glass_slow", 2.1, 120.0)],
)
def test_a_gate_with_one_side(kind: str, multiple: float, latest: float) -> None:
    """IEC 60127-2: at 2.1 and 10 times only the latest opening is promised; the middle lies below it."""
    assert tr.fuse_band(multiple, fuse_kind=kind).latest == pytest.approx(latest, rel=1e-12), SHEETS
    assert tr.fuse_opening_time(multiple, fuse_kind=kind) < latest


@pytest.mark.parametrize(
    ("kind", "holds", "seconds"),
    [
        ("blade", 1.1, 360e3),
        ("glass_quick", 1.5, 3600.0),
        ("glass_slow", 1.5, 3600.0),
        ("bolted", 1.0, 14400.0),
    ],
)
def test_a_fuse_holds_its_load(kind: str, holds: float, seconds: float) -> None:
    """At the holding multiple it lasts at least the time of its gate, below it for good (bolted from memory)."""
    assert tr.fuse_band(holds, fuse_kind=kind).earliest == pytest.approx(seconds)
    below = tr.fuse_band(holds * 0.999, fuse_kind=kind)
    assert below == (np.inf, np.inf)
    assert np.isinf(tr.fuse_opening_time(holds * 0.999, fuse_kind=kind))


def test_bolted_fuses() -> None:
    """ISO 8820-5 gates from memory: 2 times in 1 to 15 s, 6 times in 0.1 to 1 s."""
    assert tr.fuse_band(2.0, fuse_kind="bolted") == pytest.approx((1.0, 15.0))
    assert tr.fuse_band(6.0, fuse_kind="bolted") == pytest.approx((0.1, 1.0))


def test_flicker_by_its_definition() -> None:
    """CIE vocabulary: the difference over the sum; 3.4 times the volts' swing for a bulb's small ripple (exponent)."""
    assert tr.percent_flicker(3.0, 1.0) == 0.5
    assert tr.bulb_flicker(0.012, v_bus=12.0) == pytest.approx(3.4 * 0.0005, rel=1e-5)
    assert tr.strip_flicker(0.012, v_bus=12.0, v_knee=9.6) == pytest.approx(5.0 * 0.0005, rel=1e-9)


# ---- worked by hand -------------------------------------------------------------------------------------------------


def test_a_bare_crank_races() -> None:
    """1.5 kg m2 and a steady 16 N m: 60 to 110 turns a minute in 0.49 s (workshop case, by hand)."""
    assert tr.race_time(1.5, w_low=60 * RPM, w_high=110 * RPM, torque_start=16.0) == pytest.approx(
        0.491, abs=5e-4
    )
    assert tr.race_speed(0.491, w_crank=60 * RPM, torque_start=16.0, inertia=1.5) / RPM == pytest.approx(
        110, abs=0.1
    )


# ---- against solvers of somebody else -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "motor",
    [
        _MOTOR,
        {**_MOTOR, "inertia": 4e-6},
        {**_MOTOR, "b_viscous": 0.0},
        {**_MOTOR, "inductance": 1e-6},
        {**_MOTOR, "r_wind": 0.01},
    ],
)
def test_run_up_against_a_matrix_exponential(motor: dict[str, float]) -> None:
    """Speed and current of the closed form are those of scipy's matrix exponential, friction included, to 1e-8."""
    fixed, v = 0.02, 8.0
    r, coil, k, j, b = (motor[n] for n in ("r_wind", "inductance", "k_emf", "inertia", "b_viscous"))
    system = np.array([[-r / coil, -k / coil], [k / j, -b / j]])
    drive = np.array([v / coil, -fixed / j])
    dead = -coil / r * np.log1p(-r * fixed / (k * v))
    settled = -np.linalg.solve(system, drive)
    for t in (dead, dead + 1e-3, 0.02, 0.1, 1.0):
        state = settled + expm(system * (t - dead)) @ (np.array([fixed / k, 0.0]) - settled)
        at = tr.dc_run_up(t, v_bus=v, t_coulomb=fixed, **motor)
        assert at.i_motor == pytest.approx(state[0], rel=1e-8, abs=1e-8)
        assert at.w_shaft == pytest.approx(state[1], rel=1e-8, abs=1e-7)


@pytest.mark.parametrize("motor", [_MOTOR, {**_MOTOR, "inertia": 4e-6}, {**_MOTOR, "inertia": 1e-2}])
def test_the_peak_current_is_the_highest_of_many(motor: dict[str, float]) -> None:
    """No moment of a finely sampled run-up has more current, and one has as much."""
    peak = tr.dc_peak_current(v_bus=8.0, t_coulomb=0.02, **motor)
    t = np.linspace(0.0, 3.0 * float(peak.duration), 30001)
    amps = tr.dc_run_up(t, v_bus=8.0, t_coulomb=0.02, **motor).i_motor
    assert np.max(amps) == pytest.approx(peak.i_motor, rel=1e-7)
    assert t[np.argmax(amps)] == pytest.approx(peak.duration, rel=1e-3)
    assert peak.i_motor < 8.0 / 0.5


def test_coasting_against_a_solver() -> None:
    """Speed and angle of a coasting wheel are those of scipy's Runge-Kutta, to 1e-7."""
    j, fixed, b = 0.16, 0.05, 1e-3
    run = solve_ivp(
        lambda _t, y: [-(fixed + b * y[0]) / j, y[0]], (0.0, 60.0), [41.9, 0.0], rtol=1e-10, atol=1e-10
    )
    w = tr.coast_speed(60.0, w_wheel=41.9, inertia=j, t_coulomb=fixed, b_viscous=b)
    assert w == pytest.approx(run.y[0, -1], rel=1e-7)
    angle = tr.coast_angle(j, w_high=41.9, w_low=w, t_coulomb=fixed, b_viscous=b)
    assert angle == pytest.approx(run.y[1, -1], rel=1e-7)


@pytest.mark.parametrize("torque", [0.0, 1e-9, 1e-3, 5.0, 15.0, 21.0])
def test_sagging_against_an_integral(torque: float) -> None:
    """The closed form is the integral of J w/(p - T w), with nobody pushing and with nearly enough, to 1e-9."""
    by_sum, _ = quad(lambda w: 1.5 * w / (150.0 - torque * w), 5.0, 7.0, epsabs=0, epsrel=1e-12)
    t = tr.sag_time(1.5, w_high=7.0, w_low=5.0, p_crank=150.0, torque_mean=torque)
    assert t == pytest.approx(by_sum, rel=1e-9)


def test_two_lags_against_a_solver() -> None:
    """The step of two lags of a quarter second each is what scipy makes of them, to 1e-8."""
    run = solve_ivp(
        lambda _t, y: [(1.0 - y[0]) / 0.25, (y[0] - y[1]) / 0.25], (0.0, 0.9), [0.0, 0.0], rtol=1e-11, atol=1e-12
    )  # fmt: skip
    assert tr.lag_step(0.9, reaction_time=0.5) == pytest.approx(run.y[1, -1], abs=1e-8)


def test_late_legs_are_late_by_their_reaction_time() -> None:
    """The area between the wanted step and what they do is the reaction time, so a steady torque gains T*t_r/J."""
    area, _ = quad(lambda t: 1.0 - float(tr.lag_step(t, reaction_time=0.5)), 0.0, 20.0)
    assert area == pytest.approx(0.5, rel=1e-6)


# ---- limits ---------------------------------------------------------------------------------------------------------


def test_no_resistor_no_wait_and_no_limit() -> None:
    """Without resistance a capacitor is full at once and a coil's current climbs steadily."""
    full = {"v_start": 1.0, "v_open": 12.0, "r_path": 0.0, "capacitance": 1e-3}
    assert tr.rc_volts(0.0, **full) == 1.0
    assert tr.rc_volts(1e-9, **full) == 12.0
    assert tr.rl_current(0.5, i_start=1.0, v_open=12.0, r_path=0.0, inductance=2.0) == pytest.approx(4.0)
    near = [
        float(tr.rl_current(0.5, i_start=1.0, v_open=12.0, r_path=r, inductance=2.0)) for r in (0.0, 1e-13, 1e-10)
    ]  # fmt: skip
    np.testing.assert_allclose(near, 4.0, rtol=1e-9)


def test_an_emptying_capacitor_is_that_of_the_protection_chapter() -> None:
    """The time through its bleeder brings it just to the rest volts."""
    t = protection.discharge_time(4.7e-3, 110.0, v_rest=60.0, r_bleed=1000.0)
    assert tr.rc_volts(t, v_start=110.0, v_open=0.0, r_path=1000.0, capacitance=4.7e-3) == pytest.approx(60.0)


def test_coasting_without_one_of_the_drags() -> None:
    """Constant drag alone: a straight line; viscous alone: an exponential, for ever, through J w/b; none: for good."""
    assert tr.coast_speed(10.0, w_wheel=40.0, inertia=0.16, t_coulomb=0.05) == pytest.approx(
        40 - 0.05 / 0.16 * 10
    )
    assert tr.coast_speed(10.0, w_wheel=40.0, inertia=0.16, b_viscous=0.01) == pytest.approx(
        40 * np.exp(-0.625)
    )
    assert tr.coast_speed(10.0, w_wheel=40.0, inertia=0.16) == 40.0
    assert tr.coast_speed(1e4, w_wheel=40.0, inertia=0.16, t_coulomb=0.05, b_viscous=1e-3) == 0.0
    assert tr.coast_angle(0.16, w_high=40.0, w_low=0.0, t_coulomb=0.05) == pytest.approx(0.16 * 1600 / 0.1)
    assert tr.coast_angle(0.16, w_high=40.0, w_low=0.0, b_viscous=0.01) == pytest.approx(0.16 * 40 / 0.01)
    assert np.isinf(tr.coast_time(0.16, w_high=40.0, w_low=0.0, b_viscous=0.01))
    assert np.isinf(tr.coast_time(0.16, w_high=40.0, w_low=10.0))
    assert np.isinf(tr.coast_angle(0.16, w_high=40.0, w_low=10.0))
    assert tr.coast_time(0.16, w_high=0.0, w_low=0.0) == 0.0
    assert tr.coast_angle(0.16, w_high=0.0, w_low=0.0) == 0.0


@pytest.mark.parametrize("b", [0.0, 1e-15, 1e-12, 1e-9, 1e-7])
def test_coasting_has_no_jump_where_viscous_drag_vanishes(b: float) -> None:
    """Ever less viscous drag comes smoothly to none."""
    kept = {"inertia": 0.16, "t_coulomb": 0.05, "b_viscous": b}
    assert tr.coast_speed(20.0, w_wheel=40.0, **kept) == pytest.approx(40 - 0.05 / 0.16 * 20, rel=1e-4)
    assert tr.coast_time(w_high=40.0, w_low=5.0, **kept) == pytest.approx(0.16 * 35 / 0.05, rel=1e-4)
    assert tr.coast_angle(w_high=40.0, w_low=5.0, **kept) == pytest.approx(0.16 * 1575 / 0.1, rel=1e-4)


@pytest.mark.parametrize("fixed", [0.0, 1e-12, 1e-9])
def test_coasting_has_no_jump_where_constant_drag_vanishes(fixed: float) -> None:
    """Ever less constant drag comes smoothly to none, at any speed above the standstill."""
    kept = {"inertia": 0.16, "t_coulomb": fixed, "b_viscous": 0.01}
    assert tr.coast_time(w_high=40.0, w_low=5.0, **kept) == pytest.approx(16.0 * np.log(8.0), rel=1e-6)
    assert tr.coast_angle(w_high=40.0, w_low=5.0, **kept) == pytest.approx(16.0 * 35.0, rel=1e-6)


def test_run_down_is_that_of_the_flywheel_chapter() -> None:
    """To the standstill both chapters give one time."""
    here = tr.coast_time(0.16, w_high=41.9, w_low=0.0, **_COAST)
    assert here == pytest.approx(flywheel.run_down_time(0.16, 41.9, **_COAST), rel=1e-12)


def test_a_motor_without_a_coil_has_one_time_constant() -> None:
    """No inductance: w_end*(1 - exp(-t/mechanical)) and full current at once; a tiny one comes to the same."""
    bare = {**_MOTOR, "inductance": 0.0}
    mechanical = 2.5e-4 * 0.5 / (0.05**2 + 0.5 * 1e-4)
    at = tr.dc_run_up(0.03, v_bus=8.0, **bare)
    end = 0.05 * 8.0 / (0.05**2 + 0.5 * 1e-4)
    assert at.w_shaft == pytest.approx(end * (1 - np.exp(-0.03 / mechanical)), rel=1e-12)
    assert tr.dc_peak_current(v_bus=8.0, **bare) == (16.0, 0.0)
    small = {**_MOTOR, "inductance": 1e-10}
    assert tr.dc_run_up(0.03, v_bus=8.0, **small).w_shaft == pytest.approx(at.w_shaft, rel=1e-6)
    assert tr.dc_run_up(0.03, v_bus=8.0, **small).i_motor == pytest.approx(at.i_motor, rel=1e-6)
    assert tr.dc_peak_current(v_bus=8.0, **small).i_motor == pytest.approx(16.0, rel=1e-5)


def test_friction_that_the_standstill_torque_cannot_pass() -> None:
    """It stands for ever at v/R; just above, it starts when the current has grown enough."""
    for coil in (0.0, 1.5e-3):
        stuck = {**_MOTOR, "inductance": coil, "t_coulomb": 0.9}
        assert tr.dc_run_up(5.0, v_bus=8.0, **stuck) == pytest.approx((0.0, 16.0))
        assert tr.dc_peak_current(v_bus=8.0, **{**_MOTOR, "t_coulomb": 0.9}) == (16.0, np.inf)
    dead = 3e-3 * np.log(2.0)
    half = {**_MOTOR, "t_coulomb": 0.4}
    assert tr.dc_run_up(dead * 0.999, v_bus=8.0, **half).w_shaft == 0.0
    assert tr.dc_run_up(dead * 1.01, v_bus=8.0, **half).w_shaft > 0.0


def test_a_motor_that_only_approaches_its_current() -> None:
    """Heavy viscous drag on a light rotor: the current never passes where it settles."""
    slow = {"r_wind": 0.5, "inductance": 0.1, "k_emf": 0.05, "inertia": 2.5e-4, "b_viscous": 0.05}
    peak = tr.dc_peak_current(v_bus=8.0, **slow)
    assert np.isinf(peak.duration)
    assert peak.i_motor == pytest.approx(tr.dc_run_up(100.0, v_bus=8.0, **slow).i_motor, rel=1e-9)


def test_a_lamp_that_goes_out_between_pushes() -> None:
    """Full swing of the volts is full swing of the light; none is none; a lamp that never lights has no flicker."""
    assert tr.bulb_flicker([0.0, 24.0, 30.0], v_bus=12.0).tolist() == [0.0, 1.0, 1.0]
    assert tr.strip_flicker([0.0, 5.0], v_bus=12.0, v_knee=9.6).tolist() == [0.0, 1.0]
    assert np.isnan(tr.strip_flicker(1.0, v_bus=6.0, v_knee=9.6))


def test_meters_on_a_resistor_and_on_a_battery() -> None:
    """Samples of a resistor give the closed correction of the bus chapter, of a battery none; no current, no factor."""
    pulse = 1 + 0.6 * np.cos(np.linspace(0, 2 * np.pi, 64, endpoint=False))
    ohm = tr.meter_samples(12.0 * pulse, i_samples=3.0 * pulse)
    assert ohm.factor == pytest.approx(bus.meter_correction(0.6), rel=1e-12)
    cell = tr.meter_samples(np.full(64, 13.0), i_samples=3.0 * pulse)
    assert cell.factor == pytest.approx(1.0, rel=1e-12)
    assert np.isnan(tr.meter_samples(np.full(64, 13.0), i_samples=np.zeros(64)).factor)
    both = tr.meter_samples(np.stack([12.0 * pulse, np.full(64, 13.0)]), i_samples=3.0 * pulse)
    np.testing.assert_allclose(both.factor, [float(ohm.factor), 1.0], rtol=1e-12)


def test_racing_at_its_limits() -> None:
    """No top: steady torque; never past the top; there already: no time; no push: never."""
    assert tr.race_speed(2.0, w_crank=5.0, torque_start=10.0, inertia=2.0) == pytest.approx(15.0)
    assert tr.race_speed(1e6, w_crank=5.0, torque_start=10.0, inertia=2.0, w_top=12.0) == pytest.approx(12.0)
    near = tr.race_speed(2.0, w_crank=5.0, torque_start=10.0, inertia=2.0, w_top=1e14)
    assert near == pytest.approx(15.0, rel=1e-9)
    assert np.isinf(tr.race_time(1.5, w_low=5.0, w_high=12.0, torque_start=30.0, w_top=12.0))
    assert tr.race_time(1.5, w_low=5.0, w_high=5.0, torque_start=30.0, w_top=12.0) == 0.0
    assert np.isinf(tr.race_time(1.5, w_low=5.0, w_high=6.0, torque_start=0.0))


def test_racing_starts_with_the_push_of_the_riders_line() -> None:
    """The first gain of speed is the torque of the rider's line over the inertia."""
    gained = tr.race_speed(1e-6, **_RACE) - 6.28
    push = 30.0 * (1 - 6.28 / 13.6) / 1.5
    assert gained / 1e-6 == pytest.approx(push, rel=1e-5)


def test_a_clamp_that_is_not_reached_takes_nothing() -> None:
    """Too short, or set above the end of the rider's line: all zeros; set at the working volts: from the start."""
    legs = {"ratio": 50.0, "k_emf": 0.075, **_RACE}
    assert tr.clamp_use(0.1, v_clamp=32.0, **legs) == (0.0, 0.0, 0.0)
    assert tr.clamp_use(9.0, v_clamp=60.0, **legs) == (0.0, 0.0, 0.0)
    at_once = tr.clamp_use(0.6, v_clamp=6.28 * 3.75, **legs)
    assert at_once.duration == pytest.approx(0.6)
    assert at_once.energy == pytest.approx(at_once.p_clamp * 0.6)


def test_hold_up_is_the_reverse_of_the_store_chapter() -> None:
    """After the time the capacitor lasts to 10 V it is at 10 V; after it is empty there is no answer."""
    t = store.capacitor_time(0.01, v_high=28.0, v_low=10.0, p_load=20.0)
    assert tr.hold_up_volts(t, capacitance=0.01, v_bus=28.0, p_load=20.0) == pytest.approx(10.0)
    assert np.isnan(tr.hold_up_volts(1.0, capacitance=0.01, v_bus=28.0, p_load=20.0))


def test_legs_that_are_not_late() -> None:
    """No reaction time follows everything at once; before the step there is nothing; long after, everything."""
    assert tr.lag_step([-1.0, 0.0, 1e-9], reaction_time=0.0).tolist() == [0.0, 0.0, 1.0]
    assert tr.lag_step(-1.0, reaction_time=0.5) == 0.0
    assert tr.lag_step(100.0, reaction_time=0.5) == pytest.approx(1.0)
    assert tr.lag_step(0.839 * 0.5, reaction_time=0.5) == pytest.approx(0.5, abs=1e-3)


def test_sagging_at_its_limits() -> None:
    """Nobody pushing: what the wheel holds over the watts; enough push never sags; no room, no time."""
    alone = tr.sag_time(1.5, w_high=7.0, w_low=5.0, p_crank=150.0)
    assert alone == pytest.approx(0.5 * 1.5 * (7.0**2 - 5.0**2) / 150.0)
    assert np.isinf(tr.sag_time(1.5, w_high=7.0, w_low=5.0, p_crank=140.0, torque_mean=20.0))
    assert tr.sag_time(1.5, w_high=5.0, w_low=5.0, p_crank=140.0, torque_mean=2.0) == 0.0


def test_the_rhythm_against_a_board_played_by_hand() -> None:
    """Racing and sagging solved by scipy with the board's own volts deciding give the two times, to 1e-6."""
    case = SAMPLES["hiccup_rhythm"][0]
    pitch = case["ratio"] * case["k_emf"]

    def lets_go(_t: float, y: np.ndarray) -> float:
        e = pitch * y[0] - case["v_drop"]
        v = bus.constant_power_voltage(e, r_source=case["r_source"], p_load=case["p_load"])
        return float(v) - case["v_sleep"]

    def wakes(_t: float, y: np.ndarray) -> float:
        return pitch * float(y[0]) - case["v_drop"] - case["v_wake"]

    lets_go.terminal = wakes.terminal = True  # type: ignore[attr-defined]
    high = (case["v_wake"] + case["v_drop"]) / pitch
    sag = solve_ivp(
        lambda _t, y: [(case["torque_mean"] - case["p_crank"] / y[0]) / case["inertia"]],
        (0.0, 5.0), [high], events=lets_go, rtol=1e-10, atol=1e-10, max_step=0.01,
    )  # fmt: skip
    race = solve_ivp(
        lambda _t, _y: [case["torque_mean"] / case["inertia"]], (0.0, 5.0), sag.y[:, -1], events=wakes, rtol=1e-10
    )  # fmt: skip
    found = tr.hiccup_rhythm(**case)
    assert found.sag == pytest.approx(sag.t[-1], rel=1e-6)
    assert found.race == pytest.approx(race.t[-1], rel=1e-6)
    assert found.period == found.sag + found.race


def test_a_board_without_enough_hysteresis_rattles() -> None:
    """Waking at or below the restart volts of the converter chapter leaves no time asleep or awake."""
    case = {**SAMPLES["hiccup_rhythm"][0]}
    case["v_wake"] = float(
        converter.restart_voltage(case["v_sleep"], r_source=case["r_source"], p_load=case["p_load"])
    )
    assert tr.hiccup_rhythm(**{**case, "v_wake": case["v_wake"] * 0.99}) == (0.0, 0.0, 0.0)
    assert tr.hiccup_rhythm(**{**case, "v_wake": case["v_wake"] * 1.05}).period > 0.0
    assert np.isinf(tr.hiccup_rhythm(**{**case, "v_wake": 16.0, "torque_mean": 0.0}).race)
    assert np.isinf(tr.hiccup_rhythm(**{**case, "v_wake": 16.0, "torque_mean": 20.0}).sag)


def test_fuse_curves_are_plain_tables() -> None:
    """Every kind of the rig file has a curve of rising multiples and falling seconds, in plain numbers."""
    assert set(tr.FUSE_CURVES) == set(tr.FUSE_GATES) == {"blade", "glass_quick", "glass_slow", "bolted"}
    for multiples, seconds in tr.FUSE_CURVES.values():
        assert len(multiples) == len(seconds)
        assert all(type(x) is float for x in (*multiples, *seconds))
        assert all(a < b for a, b in itertools.pairwise(multiples))
        assert all(a > b for a, b in itertools.pairwise(seconds))


def test_far_above_its_gates_a_fuse_takes_the_same_joule_integral() -> None:
    """Ten times the current of the last gate opens it in a hundredth of the time."""
    for kind, (multiples, seconds) in tr.FUSE_CURVES.items():
        far = tr.fuse_opening_time(10.0 * multiples[-1], fuse_kind=kind)
        assert far == pytest.approx(seconds[-1] / 100.0, rel=1e-12)


# ---- properties -----------------------------------------------------------------------------------------------------


@given(st.sampled_from(sorted(tr.FUSE_CURVES)), st.floats(0.1, 100.0), st.floats(1.0, 5.0))
def test_more_current_never_opens_a_fuse_later(kind: str, multiple: float, more: float) -> None:
    """The middle and both sides only fall, and the middle stays between the sides."""
    here = (tr.fuse_band(multiple, fuse_kind=kind), tr.fuse_opening_time(multiple, fuse_kind=kind))
    there = (
        tr.fuse_band(multiple * more, fuse_kind=kind),
        tr.fuse_opening_time(multiple * more, fuse_kind=kind),
    )
    slack = 1 + 1e-12
    assert here[0].earliest <= here[1] * slack
    assert here[1] <= here[0].latest * slack
    assert there[1] <= here[1] * slack
    assert there[0].earliest <= here[0].earliest * slack
    assert there[0].latest <= here[0].latest * slack


@given(
    st.floats(0.01, 5.0), st.floats(1.0, 300.0), st.floats(0.0, 2.0), st.floats(0.0, 0.1), st.floats(0.0, 1.0)
)  # fmt: skip
def test_coasting_closes_its_energy(j: float, w: float, fixed: float, b: float, share: float) -> None:
    """The time to a speed brings it to that speed, and the energy given off is drag times angle, bounded both ways."""
    assume(fixed + b > 1e-6)
    low = share * w
    t = tr.coast_time(j, w_high=w, w_low=low, t_coulomb=fixed, b_viscous=b)
    if not np.isfinite(t):
        return
    at = tr.coast_speed(t, w_wheel=w, inertia=j, t_coulomb=fixed, b_viscous=b)
    assert at == pytest.approx(low, rel=1e-7, abs=1e-7 * w)
    angle = tr.coast_angle(j, w_high=w, w_low=low, t_coulomb=fixed, b_viscous=b)
    given_off = flywheel.stored_energy(j, w) - flywheel.stored_energy(j, low)
    slack = 1e-12 * j * w * w  # a difference of squares, which loses digits where the speeds are close
    assert (fixed + b * low) * angle <= given_off * (1 + 1e-9) + slack
    assert given_off <= (fixed + b * w) * angle * (1 + 1e-9) + slack


@given(
    st.floats(0.05, 5.0), st.floats(1e-5, 0.1), st.floats(0.01, 1.0), st.floats(1e-6, 0.1), st.floats(0.0, 1e-2),
    st.floats(0.0, 0.9), st.floats(0.0, 3.0),
)  # fmt: skip
def test_run_up_closes_its_energy(
    r: float, coil: float, k: float, j: float, b: float, held: float, span: float
) -> None:
    """Speed never falls below zero, and electrical work is heat, friction and what coil and rotor hold, to 1e-6."""
    v = 12.0
    fixed = held * k * v / r
    motor = {"r_wind": r, "inductance": coil, "k_emf": k, "inertia": j, "t_coulomb": fixed, "b_viscous": b}
    electrical, mechanical = coil / r, j * r / (k * k + r * b)
    # No more of it than the sum below follows: a few swings, and not too many electrical time constants.
    swing = np.sqrt(coil * j) / k
    end = span * min(electrical + mechanical, 40.0 * electrical, 20.0 * swing)
    nodes, weights = np.polynomial.legendre.leggauss(64)
    pieces = np.linspace(0.0, end, 9)
    dead = -coil / r * np.log1p(-held)
    pieces = np.sort(np.append(pieces, min(dead, end)))
    half, middle = 0.5 * np.diff(pieces)[:, None], 0.5 * (pieces[1:] + pieces[:-1])[:, None]
    at = tr.dc_run_up(middle + half * nodes, v_bus=v, **motor)
    spent = v * at.i_motor - r * at.i_motor**2 - (fixed + b * at.w_shaft) * at.w_shaft
    last = tr.dc_run_up(end, v_bus=v, **motor)
    held_energy = 0.5 * coil * last.i_motor**2 + 0.5 * j * last.w_shaft**2
    scale = v * float(np.sum(half * weights * at.i_motor))
    assert np.sum(half * weights * spent) == pytest.approx(held_energy, rel=1e-6, abs=1e-6 * scale + 1e-12)
    assert np.min(at.w_shaft) >= -1e-9 * k * v / (r * b + k * k)


@given(
    st.floats(0.1, 5.0),
    st.floats(1.0, 12.0),
    st.floats(1.0, 80.0),
    st.floats(1.01, 3.0),
    st.floats(0.0, 0.95),
)
def test_the_time_to_race_to_a_speed_races_to_it(
    j: float, w: float, torque: float, top: float, share: float
) -> None:
    """race_time and race_speed undo each other, below the end of the rider's line."""
    high = w + share * (top - 1.0) * w
    t = tr.race_time(j, w_low=w, w_high=high, torque_start=torque, w_top=top * w)
    assert tr.race_speed(t, w_crank=w, torque_start=torque, inertia=j, w_top=top * w) == pytest.approx(
        high, rel=1e-9
    )


@given(st.lists(st.floats(0.1, 100.0), min_size=2, max_size=30), st.floats(0.1, 10.0))
def test_meters_never_read_high_on_a_resistor(volts: list[float], ohms: float) -> None:
    """Mean volts times mean amps never exceeds the true watts of a resistor (a mean square is never below)."""
    read = tr.meter_samples(volts, i_samples=np.array(volts) / ohms)
    assert read.factor >= 1.0 - 1e-12


@given(st.floats(0.0, 1.0), st.floats(0.0, 1.0), st.floats(5.0, 30.0))
def test_more_ripple_is_never_less_flicker(a: float, b: float, v: float) -> None:
    """Both lamps swing deeper with more ripple, and never beyond dark."""
    low, high = sorted((a, b))
    for lamp in (
        lambda r: tr.bulb_flicker(2 * r * v, v_bus=v),
        lambda r: tr.strip_flicker(2 * r * v, v_bus=v, v_knee=0.8 * v),
    ):
        assert 0.0 <= lamp(low) <= lamp(high) + 1e-12 <= 1.0 + 2e-12


# ---- every function -------------------------------------------------------------------------------------------------

WORKED = re.compile(r"^Worked: (?P<call>.+?\S)\s= (?P<printed>[^=]+?)\nSource: \[", re.MULTILINE | re.DOTALL)
FUNCTIONS = sorted(name for name in tr.__all__ if inspect.isfunction(getattr(tr, name)))


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_worked_number_is_right(name: str) -> None:
    """The call printed in the docstring, made for real, gives what is printed beside it, to about three digits."""
    found = WORKED.findall(inspect.getdoc(getattr(tr, name)) or "")
    assert len(found) == 1
    call, printed = (re.sub(r"\s+", " ", text) for text in found[0])
    assert call.startswith(name + "(")
    got, wanted = (
        np.hstack([np.ravel(x) for x in np.atleast_1d(eval(text, dict(vars(tr))))])
        for text in (call, printed)
    )
    assert got == pytest.approx(wanted, rel=6e-4)


@pytest.mark.parametrize("name", sorted(set(SAMPLES) - {"meter_samples"}))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    array_equals_scalar(getattr(tr, name), SAMPLES[name][0])


@pytest.mark.parametrize("kind", sorted(tr.FUSE_CURVES))
def test_fuses_take_arrays(kind: str) -> None:
    """An array of multiples gives what each gives alone, never below the first gate and at the gates themselves."""
    m = np.array([0.5, 1.0, 1.5, 2.1, 5.0, 40.0])
    many = tr.fuse_opening_time(m, fuse_kind=kind)
    each = [tr.fuse_opening_time(float(x), fuse_kind=kind) for x in m]
    assert all(type(x) is np.float64 for x in each)
    np.testing.assert_array_equal(many, each)
    np.testing.assert_array_equal(
        tr.fuse_band(m, fuse_kind=kind).latest, [tr.fuse_band(float(x), fuse_kind=kind).latest for x in m]
    )
    assert np.isnan(tr.fuse_opening_time(np.nan, fuse_kind=kind))


def test_every_function_has_a_sample() -> None:
    """The sample table leaves out only the functions that look a word up."""
    assert set(SAMPLES) | BY_WORD == set(FUNCTIONS)
