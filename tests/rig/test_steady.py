"""The plain solver: closed forms, power balance at every solution, arrays equal scalars, monotone facts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from tests.rig.rigs import any_table, regulated, table

from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.outcome import Mode
from sparewatt.rig.steady import crank_torque, operate

speeds = st.floats(5.0, 900.0)


def test_resistor_straight_on_the_machine() -> None:
    """Ohm's law by hand: 0.075 V*s/rad at 200 rad/s behind 0.25 ohm into 4.75 ohm pushes 3 A at 14.25 V."""
    state = operate(table(g=1 / 4.75), 200.0)

    assert state.i_out == pytest.approx(3.0, rel=1e-12)
    assert state.v_bus == pytest.approx(14.25, rel=1e-12)


def test_largest_power_into_constant_power() -> None:
    """16 V less 1.5 V of brushes behind 0.9 ohm gives at most 58 W, behind 0.25 ohm 210 W (algebra: V^2/4R)."""
    for r, most in ((0.9, 58.4), (0.25, 210.25)):
        q = regulated(most * 0.999, r_source=r, v_drop=1.5, k_emf=0.1)
        assert operate(q, 160.0).mode == Mode.REGULATES
        q = regulated(most * 1.001, r_source=r, v_drop=1.5, k_emf=0.1)
        assert operate(q, 160.0).mode == Mode.CHATTERS


def test_constant_power_root() -> None:
    """Row P11 of the check values: 24 V behind 0.5 ohm feeding 100 W settles at 21.695 V."""
    state = operate(regulated(100.0, r_source=0.5, k_emf=0.1), 240.0)

    assert state.v_bus == pytest.approx(21.695, abs=5e-4)


def test_battery_pins_the_speed() -> None:
    """By hand: (0.075*250 - 1.7 - 13.0)/(0.25 + 0.02) amps into a battery of 13 V behind 20 mohm."""
    q = table(v_drop=1.7, a=-13.0 / 0.02, g=1 / 0.02, has_store=1.0, u_rest=13.0)
    state = operate(q, 250.0)

    assert state.i_out == pytest.approx((0.075 * 250 - 1.7 - 13.0) / 0.27, rel=1e-9)
    assert operate(q, 150.0).i_out == 0.0
    assert operate(q, 150.0).mode == Mode.ASLEEP


def test_missing_diode_lets_the_battery_drive() -> None:
    """Below its cut-in the machine without a diode draws from the battery and its torque is negative."""
    q = table(has_diode=0.0, a=-12.6 / 0.02, g=1 / 0.02, has_store=1.0, u_rest=12.6)
    state = operate(q, 100.0)

    assert state.mode == Mode.DRIVEN
    assert state.i_out < 0
    assert state.torque_shaft < 0


def test_step_up_board_passes_straight_through() -> None:
    """Above its set volts and its diode a step-up board is a wire: output follows input."""
    q = regulated(50.0, kind=Kind.BOOST, volts=28.0, v_loss=0.5, v_sleep=8.0)
    state = operate(q, 600.0)

    assert state.mode == Mode.PASSES
    assert state.v_out > 28.0
    assert state.v_bus == pytest.approx(state.v_out + 0.5)


def test_step_down_board_drops_out() -> None:
    """Below set volts plus its loss a step-down board's output sags with its input."""
    q = table(
        kind=float(Kind.BUCK), v_loss=0.6, v_sleep=6.0, g=0.2, v_set=14.0, v_held=14.0, p_held=14 * 14 * 0.2
    )
    state = operate(q, 180.0)

    assert state.mode == Mode.DROPS_OUT
    assert state.v_out == pytest.approx(state.v_bus - 0.6)


def test_amps_limit_of_the_board_is_the_edge() -> None:
    """A 12 A board at about 10 V passes about 120 W in, whatever is printed on it."""
    q = regulated(200.0, r_source=0.05, i_limit=12.0, v_sleep=8.0)
    state = operate(q, 10.6 / 0.075)

    assert state.mode == Mode.LIMITED
    assert state.v_bus * state.i_out == pytest.approx(120, rel=0.01)


def test_a_step_up_board_out_of_amps_passes_where_its_volts_have_sagged() -> None:
    """20 V of machine behind 0.5 ohm, a board set to 14.4 V that takes in 5 A, 12.4 V of battery behind 0.05 ohm. By hand:
    the board would push 5.0 A at 12.7 V with 17.5 V ahead of it, so its diode conducts: (20 - 0.4 - u)/0.5 = (u - 12.4)/0.05
    gives 13.055 V and 13.1 A."""
    held = 14.4 * (14.4 - 12.4) / 0.05
    q = table(
        kind=float(Kind.BOOST), r_source=0.5, v_loss=0.4, v_sleep=8.0, v_set=14.4, v_held=14.4, i_limit=5.0,
        a=-12.4 / 0.05, g=1 / 0.05, p_held=held, has_store=1.0, u_rest=12.4,
    )  # fmt: skip
    state = operate(q, 20.0 / 0.075)

    assert state.mode == Mode.PASSES
    assert state.v_out == pytest.approx((19.6 / 0.5 + 12.4 / 0.05) / (1 / 0.5 + 1 / 0.05), rel=1e-9)
    assert state.i_out == pytest.approx(13.09, abs=0.01)


@given(q=any_table(), w=speeds)
def test_power_balances_at_every_solution(q: np.ndarray, w: float) -> None:
    """Shaft watts equal friction, copper, drops and what leaves; board watts in equal out and loss (1e-9)."""
    s = operate(q[:, 0], w)
    p = {row: float(q[row, 0]) for row in Param}
    i = float(s.i_out)
    shaft = float(s.torque_shaft) * w
    friction = (p[Param.T_COULOMB] + p[Param.B_VISCOUS] * w) * w
    copper = i * i * p[Param.R_SOURCE]
    drops = i * p[Param.V_DROP]
    scale = max(1.0, abs(shaft))
    assert abs(shaft - friction - copper - drops - float(s.v_bus) * i) <= 1e-9 * scale
    if s.mode in (Mode.REGULATES, Mode.LIMITED):
        out = float(s.v_out * s.i_demand)
        loss = p[Param.LOSS_0] + p[Param.LOSS_1] * out + p[Param.LOSS_2] * out * out
        assert abs(float(s.v_bus) * i - out - loss) <= 1e-9 * scale
    if s.mode in (Mode.DIRECT, Mode.PASSES, Mode.DROPS_OUT):
        want = p[Param.A] + p[Param.G] * float(s.v_out) + p[Param.P] / float(s.v_out)
        at_limit = (
            s.mode == Mode.DROPS_OUT and float(s.v_out) == p[Param.V_HELD]
        )  # the amps screw holds the rest back
        assert float(s.i_demand) - want <= 1e-7 * max(1.0, abs(p[Param.A]))
        assert at_limit or want - float(s.i_demand) <= 1e-7 * max(1.0, abs(p[Param.A]))
        assert float(s.v_bus) * i >= float(s.v_out) * float(s.i_demand) - 1e-7 * scale


@given(q=any_table(), w=st.lists(speeds, min_size=2, max_size=5))
def test_arrays_equal_scalars(q: np.ndarray, w: list[float]) -> None:
    """One call with many speeds gives what many calls give."""
    many = operate(np.repeat(q, len(w), axis=1), np.array(w))
    for k, speed in enumerate(w):
        one = operate(q[:, 0], speed)
        assert one.mode == many.mode[k]
        assert float(one.i_out) == float(many.i_out[k])
        assert float(one.torque_shaft) == float(many.torque_shaft[k])


@given(q=any_table(), w=speeds, n=st.floats(1.2, 3.0))
def test_ratio_and_constant_scale_together(q: np.ndarray, w: float, n: float) -> None:
    """n times the ratio equals the same ratio with n times K and the friction seen n times as fast."""
    fast = q.copy()
    fast[Param.K_EMF] *= n
    fast[Param.T_COULOMB] *= n
    fast[Param.B_VISCOUS] *= n * n
    fast[Param.R_SPEED] *= n
    geared = crank_torque(q[:, 0], w, ratio=n, gain=n, drag=0.0, slope=0.0)
    stronger = crank_torque(fast[:, 0], w, ratio=1.0, gain=1.0, drag=0.0, slope=0.0)

    assert geared == pytest.approx(stronger, rel=1e-9, abs=1e-9)


@given(watts=st.floats(5, 200), w=st.floats(100, 900), r=st.floats(0.05, 1.0), thicker=st.floats(0.2, 0.99))
def test_thicker_wire_never_asks_more_of_the_legs(watts: float, w: float, r: float, thicker: float) -> None:
    """Less resistance never takes away a running point and never raises the torque of one."""
    thin = operate(regulated(watts, r_source=r), w)
    thick = operate(regulated(watts, r_source=r * thicker), w)
    assume(thin.mode == Mode.REGULATES)

    assert thick.mode == Mode.REGULATES
    assert thick.torque_shaft <= thin.torque_shaft * (1 + 1e-12)


@given(watts=st.floats(1, 100), w=st.floats(100, 900))
def test_lossless_limit(watts: float, w: float) -> None:
    """With no resistance, no drops and no friction the shaft gives exactly the load's watts."""
    state = operate(regulated(watts, r_source=0.0)[:, 0], w)
    assume(state.mode == Mode.REGULATES)

    assert float(state.torque_shaft) * w == pytest.approx(watts, rel=1e-12)


def test_no_current_no_torque() -> None:
    """A frictionless open machine asks nothing."""
    assert operate(table()[:, 0], 0.0).torque_shaft == 0.0
    assert not math.isnan(float(operate(table()[:, 0], 0.0).v_out))
