"""Heat of the machine against worked examples, an independent integration of the two bodies, and limits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sparewatt.physics import heat as h

COVERS = ["M17", "M18", "M19", "M20", "M22", "M23"]

DUBEY = "G. K. Dubey, Fundamentals of Electrical Drives, Ex 4.1 p 47 and Ex 4.5 p 56"
_COPPER = {"alpha_copper": 0.00393, "t_ref": 293.15}
_BODIES = {"r_th_wind": 0.4, "r_th_case": 1.0, "t_air": 298.15, "p_case": 10.0, "r_wind": 0.25, **_COPPER}
_BOUT = {
    "t_wind": 300.0,
    "t_case": 299.0,
    "i_out": 12.0,
    "c_wind": 200.0,
    "c_case": 1500.0,
    "p_brush": 5.0,
    **_BODIES,
}

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "copper_factor": ({"t_wind": 353.15, **_COPPER}, "1"),
    "magnet_factor": ({"t_magnet": 353.15, "beta_magnet": -0.002, "t_ref": 293.15}, "1"),
    "continuous_current": ({"t_limit": 378.15, "v_brush": 1.2, **_BODIES}, "A"),
    "temperature_after": ({"duration": 1800.0, "t_start": 293.15, "t_end": 353.15, "time_constant": 1700.0}, "K"),
    "time_to_reach": ({"t_limit": 343.15, "t_start": 293.15, "t_end": 353.15, "time_constant": 1800.0}, "s"),
    "two_body_after": ({"duration": 600.0, **_BOUT}, ("K", "K")),
    "duty_extremes": (
        {"t_on": 400.0, "t_off": 310.0, "time_on": 10.0, "time_off": 20.0, "time_constant": 60.0, "time_constant_off": 80.0},
        ("K", "K"),
    ),
    "duty_rms": ({"i_out": 10.0, "time_on": 25.0, "time_off": 60.0}, "A"),
    "continuous_from_short": ({"p_short": 100e3, "duration": 1800.0, "time_constant": 4800.0, "loss_ratio": 0.49}, "W"),
    "life_factor": ({"t_wind": 403.15, "t_limit": 428.15, "t_halving": 10.0}, "1"),
}  # fmt: skip


def test_hot_resistance() -> None:
    """M17 (Bird, ch 3 Ex 8): 100 ohm at 0 degC with 0.0043/K is 130.1 ohm at 70 degC, 0.05 %."""
    factor = h.copper_factor(343.15, alpha_copper=0.0043, t_ref=273.15)
    assert 100.0 * factor == pytest.approx(130.1, rel=0.0005)


def test_copper_at_75_degrees() -> None:
    """1.2162 at 75 degC from 0.00393/K at 20 degC (IEC 60028, from memory), 0.2 %."""
    assert h.copper_factor(348.15) == pytest.approx(1.2162, rel=0.002)


@pytest.mark.parametrize(("name", "celsius"), [("A", 105), ("E", 120), ("B", 130), ("F", 155), ("H", 180)])
def test_insulation_classes(name: str, celsius: float) -> None:
    """M18 (IEC 60085 table): hot-spot limits, exact."""
    assert h.INSULATION[name] == pytest.approx(celsius + 273.15, abs=1e-9)


def test_life_for_25_kelvin_below() -> None:
    """M19: 5.66 times the life for 25 K below the class (10 K rule), 1 %."""
    assert h.life_factor(h.INSULATION["F"] - 25.0, t_limit=h.INSULATION["F"]) == pytest.approx(5.66, rel=0.01)


def test_class_f_budget() -> None:
    """M20: 40 degC air + 105 K rise + 10 K hot spot = 155 degC, exact."""
    assert pytest.approx(313.15 + 105.0 + 10.0, abs=1e-9) == h.INSULATION["F"]


def test_duty_cycle_extremes() -> None:
    """M22 (Dubey Ex 4.1): lowest rise 40 K, 15 K idle, 10 s on 20 s off, 60 s: highest 49.9, settling at 104.4; 0.2 %."""
    high = 15.0 + (40.0 - 15.0) / np.exp(-20.0 / 60.0)
    steady = h.temperature_after(10.0, t_start=40.0, t_end=0.0, time_constant=60.0)
    steady = (high - steady) / (1.0 - np.exp(-10.0 / 60.0))
    found = h.duty_extremes(
        t_on=104.4, t_off=15.0, time_on=10.0, time_off=20.0, time_constant=60.0, time_constant_off=60.0
    )
    assert found.high == pytest.approx(49.9, rel=0.002), DUBEY
    assert found.low == pytest.approx(40.0, rel=0.002)
    assert steady == pytest.approx(104.4, rel=0.002)


def test_continuous_rating_from_half_an_hour() -> None:
    """M23 (Dubey Ex 4.5): 100 kW for 30 min, 80 min, constant loss 0.49 of copper loss: 48.37 kW, 0.2 %."""
    long = h.continuous_from_short(100e3, duration=1800.0, time_constant=4800.0, loss_ratio=0.49)
    assert long == pytest.approx(48.37e3, rel=0.002), DUBEY


def test_hot_machine_loses_a_third_of_its_edge() -> None:
    """At +60 K: R +23 %, K of ferrite -12 %, edge -36 to -37 % (worked by hand from the two coefficients)."""
    assert h.copper_factor(353.15) == pytest.approx(1.236, abs=0.001)
    assert h.magnet_factor(353.15, magnets="ferrite") == pytest.approx(0.88)
    edge = h.magnet_factor(353.15, magnets="ferrite") ** 2 / h.copper_factor(353.15)
    assert edge == pytest.approx(0.627, abs=0.001)


def test_magnet_coefficients() -> None:
    """Ferrite -0.2, neodymium between -0.09 and -0.12, alnico -0.02 % per kelvin (magnet makers' pages, read)."""
    assert h.MAGNET_SLOPE["ferrite"] == -0.002
    assert -0.0012 <= h.MAGNET_SLOPE["rare_earth"] <= -0.0009
    assert h.MAGNET_SLOPE["alnico"] == -0.0002
    assert h.MAGNET_SLOPE["ferrite"] <= h.MAGNET_SLOPE["unknown"] <= h.MAGNET_SLOPE["rare_earth"]


def test_two_bodies_against_an_integrator() -> None:
    """The closed solution equals a general-purpose integrator's (scipy, DOP853) to 1e-8, settling or running away."""
    for amps in (0.0, 12.0, 40.0):
        args = {**_BOUT, "i_out": amps}

        def rates(_t: float, y: np.ndarray, amps: float = amps) -> list[float]:
            copper = amps**2 * 0.25 * (1 + 0.00393 * (y[0] - 293.15))
            across = (y[0] - y[1]) / 0.4
            return [(copper + 5.0 - across) / 200.0, (10.0 + across - (y[1] - 298.15) / 1.0) / 1500.0]

        done = solve_ivp(rates, (0.0, 900.0), [300.0, 299.0], method="DOP853", rtol=1e-11, atol=1e-9)
        found = h.two_body_after(900.0, **args)
        assert found.t_wind == pytest.approx(done.y[0, -1], rel=1e-8)
        assert found.t_case == pytest.approx(done.y[1, -1], rel=1e-8)


def test_two_bodies_settle_where_the_steady_answer_says() -> None:
    """After many time constants both answers agree; at the start nothing has changed."""
    steady = h.steady_temperatures(12.0, p_brush=5.0, **_BODIES)
    late = h.two_body_after(1e6, **_BOUT)
    assert late.t_wind == pytest.approx(steady.t_wind, rel=1e-12)
    assert late.t_case == pytest.approx(steady.t_case, rel=1e-12)
    assert h.two_body_after(0.0, **_BOUT).t_wind == pytest.approx(300.0, rel=1e-14)


def test_steady_heat_balances() -> None:
    """All heat leaves through the case; winding heat through the winding's resistance (conservation of energy)."""
    at = h.steady_temperatures(12.0, p_brush=5.0, **_BODIES)
    assert (at.t_case - 298.15) / 1.0 == pytest.approx(at.p_wind + 10.0, rel=1e-12)
    assert (at.t_wind - at.t_case) / 0.4 == pytest.approx(at.p_wind, rel=1e-12)
    assert at.p_wind == pytest.approx(144.0 * 0.25 * h.copper_factor(at.t_wind) + 5.0, rel=1e-12)


def test_runaway_is_said_and_not_a_number_that_looks_fine() -> None:
    """1.4 K/W, 0.25 ohm: the spiral closes at sqrt(1/(1.4*0.25*0.00393)) = 26.96 A (by hand)."""
    i = np.array([26.9, 27.0, 40.0])
    at = h.steady_temperatures(i, **_BODIES)
    assert at.runs_away.tolist() == [False, True, True]
    assert np.isfinite(at.t_wind[0])
    assert (
        np.all(np.isinf(at.t_wind[1:]))
        and np.all(np.isinf(at.t_case[1:]))
        and np.all(np.isinf(at.p_wind[1:]))
    )


def test_continuous_current_settles_at_the_limit() -> None:
    """Fed back, the current settles the winding exactly at the limit; less room, less current; no room, none."""
    i = h.continuous_current(h.INSULATION["B"], **_BODIES)
    assert h.steady_temperatures(i, **_BODIES).t_wind == pytest.approx(h.INSULATION["B"], rel=1e-12)
    with_brush = h.continuous_current(h.INSULATION["B"], v_brush=1.2, **_BODIES)
    assert h.steady_temperatures(with_brush, p_brush=1.2 * with_brush, **_BODIES).t_wind == pytest.approx(
        403.15, rel=1e-12
    )
    assert h.continuous_current(300.0, **{**_BODIES, "p_case": 50.0}) == 0.0


def test_time_to_reach_inverts_temperature_after() -> None:
    """The time found gives the limit back; a limit never reached is infinite; one already passed is 0."""
    part = {"t_start": 293.15, "t_end": 353.15, "time_constant": 1800.0}
    t = h.time_to_reach(343.15, **part)
    assert h.temperature_after(t, **part) == pytest.approx(343.15)
    assert h.time_to_reach(360.0, **part) == np.inf
    assert h.time_to_reach(290.0, **part) == 0.0


@given(i=st.floats(0.0, 25.0), r=st.floats(0.01, 0.25), more=st.floats(1.0, 1.5))
def test_more_never_cools(i: float, r: float, more: float) -> None:
    """More current or more resistance never settles cooler."""
    part = {k: v for k, v in _BODIES.items() if k != "r_wind"}
    base = h.steady_temperatures(i, r_wind=r, **part).t_wind
    assert h.steady_temperatures(i * more, r_wind=r, **part).t_wind >= base * (1 - 1e-12)
    assert h.steady_temperatures(i, r_wind=r * more, **part).t_wind >= base * (1 - 1e-12)


@given(on=st.floats(1.0, 3000.0), off=st.floats(1.0, 3000.0))
def test_duty_lies_between_its_ends(on: float, off: float) -> None:
    """A repeating duty stays between the two temperatures it is drawn to, and repeats."""
    part = {
        "t_on": 400.0,
        "t_off": 300.0,
        "time_on": on,
        "time_off": off,
        "time_constant": 900.0,
        "time_constant_off": 1500.0,
    }
    at = h.duty_extremes(**part)
    assert 300.0 - 1e-9 <= at.low <= at.high <= 400.0 + 1e-9
    again = h.temperature_after(on, t_start=at.low, t_end=400.0, time_constant=900.0)
    assert again == pytest.approx(at.high, rel=1e-12)


def test_duty_rms() -> None:
    """25 s on and 60 s off heats like sqrt(25/85) of the current (mean of squares, by hand)."""
    assert h.duty_rms(10.0, time_on=25.0, time_off=60.0) == pytest.approx(10.0 * np.sqrt(25.0 / 85.0))


def test_arrays_equal_numbers() -> None:
    """An array gives what each of its numbers gives."""
    i = np.array([2.0, 9.0, 15.0])
    at = h.steady_temperatures(i, **_BODIES)
    late = h.two_body_after(600.0, **{**_BOUT, "i_out": i})
    for k, x in enumerate(i):
        assert at.t_wind[k] == h.steady_temperatures(x, **_BODIES).t_wind
        assert late.t_case[k] == h.two_body_after(600.0, **{**_BOUT, "i_out": x}).t_case
    assert isinstance(h.copper_factor(300.0), np.float64)
