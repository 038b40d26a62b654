"""The compiled solver equals its plain twin; crossings equal their closed form and are labelled by their slope."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.rig.rigs import RPM, any_table, regulated

from sparewatt.rig import fast
from sparewatt.rig.layout import Param
from sparewatt.rig.steady import crank_torque, operate

ONE = np.ones((1, 1))


@given(
    q=any_table(),
    w=st.lists(st.floats(0.2, 20.0), min_size=1, max_size=6, unique=True),
    ratio=st.floats(3, 70),
)
def test_compiled_equals_plain(q: np.ndarray, w: list[float], ratio: float) -> None:
    """Every state at every speed, to rounding."""
    cadence = np.array(w)
    got = fast.torques(q, cadence, ratio * ONE, 1.05 * ratio * ONE, 0.3 * ONE, 0.01 * ONE)[:, 0, 0]
    plain = operate(q, cadence * ratio)
    torque = crank_torque(q, cadence, ratio=ratio, gain=1.05 * ratio, drag=0.3, slope=0.01)

    assert np.array_equal(got[1].astype(int), plain.mode)
    for row, want in ((0, torque), (2, plain.i_out), (3, plain.v_bus), (4, plain.v_out), (5, plain.i_demand)):
        np.testing.assert_allclose(got[row], want, rtol=1e-9, atol=1e-9)


def crossings_of(
    q: np.ndarray, t_start: float, w_top: float, ratio: float = 35.0
) -> tuple[list[float], list[int]]:
    """Cadences and kinds of one frictionless rig."""
    w, kind, _picked, _state = fast.crossings(
        q, ratio * ONE, ratio * ONE, 0 * ONE, 0 * ONE, np.array([t_start]), np.array([w_top])
    )
    found = kind[0, 0] > 0
    return list(w[0, 0][found]), list(kind[0, 0][found])


@pytest.mark.parametrize(
    ("load", "holds", "tips"),
    [(60.0, 109.0, 21.0), (80.0, 99.0, 31.0), (95.0, 89.0, 41.0)],
)
def test_published_crossings_of_a_constant_power_load(load: float, holds: float, tips: float) -> None:
    """Rider worth 110 W at best, 130 turns: w = w0/2 (1 +- sqrt(1 - P/Pedge)) (hand model, algebra exact)."""
    w_top = 130 * RPM
    t_start = 4 * 110.0 / w_top
    q = regulated(load, r_source=0.0)
    w, kind = crossings_of(q, t_start, w_top)
    exact = [w_top / 2 * (1 - math.sqrt(1 - load / 110)), w_top / 2 * (1 + math.sqrt(1 - load / 110))]

    assert kind[-2:] == [fast.TIPS, fast.HOLDS]
    assert w[-2:] == pytest.approx(exact, rel=1e-9)
    assert w[-1] / RPM == pytest.approx(holds, abs=0.6)
    assert w[-2] / RPM == pytest.approx(tips, abs=0.6)


def test_beyond_the_edge_there_is_no_point() -> None:
    """111 W asked of a rider worth 110 W has no running point; 109.99 W has two close together."""
    w_top = 130 * RPM
    t_start = 4 * 110.0 / w_top

    assert fast.HOLDS not in crossings_of(regulated(111.0, r_source=0.0), t_start, w_top)[1]
    w, kind = crossings_of(regulated(109.99, r_source=0.0), t_start, w_top)
    assert kind[-2:] == [fast.TIPS, fast.HOLDS]
    assert w[-1] - w[-2] < 0.03 * w_top


@given(q=any_table(), effort=st.floats(20, 600), top=st.floats(9, 20), ratio=st.floats(3, 70))
def test_crossings_are_where_the_lines_meet(q: np.ndarray, effort: float, top: float, ratio: float) -> None:
    """At each holding or tipping point rider and rig torque agree; just above a holding point the rig wins."""
    t_start = 4 * effort / top
    w, kind = crossings_of(q, t_start, top, ratio)
    for value, what in zip(w, kind, strict=True):
        if what == fast.CHATTERS:
            continue

        def excess(x: float) -> float:
            return t_start * (1 - x / top) - float(
                crank_torque(q[:, 0], x, ratio=ratio, gain=ratio, drag=0.0, slope=0.0)
            )

        if what == fast.HOLDS:
            assert abs(excess(value)) < 1e-6 * t_start
            assert excess(value * (1 + 1e-5)) <= 1e-9 * t_start


@given(watts=st.floats(10, 90), scale=st.floats(1.1, 3.0))
def test_more_effort_holds_faster(watts: float, scale: float) -> None:
    """A harder push never lowers the holding cadence of a constant-power load."""
    w_top = 130 * RPM
    q = regulated(watts, r_source=0.1)
    weak, _k = crossings_of(q, 4 * 110 / w_top, w_top)
    strong, _k = crossings_of(q, 4 * 110 * scale / w_top, w_top)

    assert strong[-1] >= weak[-1]


def test_table_rows_match_the_kernel() -> None:
    """The kernel's row numbers are the layout's."""
    assert fast.U_REST == Param.U_REST == len(Param) - 2
