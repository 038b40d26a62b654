"""Parameter tables and rigs for the solver's tests: plain machines on plain loads, and random ones for properties."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st
from numpy.typing import NDArray

from sparewatt.rig.layout import Kind, Param

F = NDArray[np.float64]
RPM = 2 * math.pi / 60


def table(**values: float) -> F:
    """(len(Param), 1) table of a machine with a blocking diode; unnamed rows are zero, limits open."""
    q = np.zeros((len(Param), 1))
    start = {
        "k_emf": 0.075,
        "r_source": 0.25,
        "has_diode": 1.0,
        "i_limit": np.inf,
        "v_held": 12.0,
        "v_set": 12.0,
    }
    for name, value in (start | values).items():
        q[Param[name.upper()]] = value
    return q


def regulated(
    watts: float, *, kind: Kind = Kind.BUCK_BOOST, volts: float = 28.0, eta: float = 1.0, **values: float
) -> F:
    """A board that holds `volts` into a constant-power load of `watts`."""
    loss = 1 / eta - 1
    return table(
        kind=float(kind), v_held=volts, v_set=volts, p=watts, p_held=watts * (1 + loss), loss_1=loss, **values
    )


@st.composite
def any_table(draw: st.DrawFn) -> F:
    """A random machine, board, battery and load that could exist on a bench."""
    store = draw(st.booleans())
    kind = draw(st.sampled_from([Kind.NONE, Kind.BUCK, Kind.BOOST, Kind.BUCK_BOOST]))
    values = {
        "k_emf": draw(st.floats(0.02, 0.6)),
        "r_source": draw(st.floats(0.05, 3.0)),
        "r_speed": draw(st.sampled_from([0.0, 0.002])),
        "v_drop": draw(st.floats(0.0, 3.0)),
        "t_coulomb": draw(st.floats(0.0, 0.2)),
        "b_viscous": draw(st.floats(0.0, 3e-4)),
        "has_diode": draw(st.sampled_from([1.0, 1.0, 0.0])),
        "kind": float(kind),
        "v_sleep": draw(st.floats(4.0, 12.0)),
        "v_loss": draw(st.floats(0.0, 1.0)),
        "i_limit": draw(st.sampled_from([np.inf, 5.0, 12.0])),
        "loss_0": draw(st.floats(0.0, 2.0)),
        "loss_1": draw(st.floats(0.02, 0.3)),
        "loss_2": draw(st.sampled_from([0.0, 2e-4])),
        "p": draw(st.floats(0.0, 300.0)),
        "g": draw(st.sampled_from([0.0, 0.1, 0.5])),
    }
    v_set = draw(st.floats(10.0, 40.0))
    if store:
        r, back = draw(st.floats(0.01, 0.3)), draw(st.floats(5.5, 30.0))
        values |= {"a": -back / r, "g": 1 / r, "has_store": 1.0}
        disc = (back / r) ** 2 - 4 * values["p"] / r
        values["u_rest"] = (back / r + math.sqrt(disc)) * r / 2 if disc > 0 else back / 2
        v_set = back + draw(st.floats(0.2, 3.0))
    elif kind == Kind.NONE:
        values["u_quit"] = draw(st.sampled_from([0.0, 9.0]))
    values["v_set"] = values["v_held"] = v_set
    q = table(**values)
    from sparewatt.rig.bind import hold_board

    if kind != Kind.NONE:
        hold_board(q, np.array([draw(st.sampled_from([np.inf, 2.0, 6.0]))]))
    return q
