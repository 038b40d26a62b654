"""One rig at one cadence, and where its rider and its load meet: the plain, readable solver on arrays.

At a given crank speed the machine is a straight-line source (open volts less drops, behind a resistance), and whatever hangs
on it draws a current of the form a + g u + p/u within each way of running (see `Mode`). Each way is solved in closed
form, checked for being what it claims, and taken in a fixed order. `sparewatt.rig.fast` is the compiled twin; a test
holds the two equal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.physics import bus, machine
from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.outcome import Mode

__all__ = ["Operation", "crank_torque", "operate"]

F = NDArray[np.float64]
SLACK = 1e-9  # relative room when a point is checked against the limits of its own way of running


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """State of the electrical side and the torque it asks, arrays of one shape."""

    mode: NDArray[np.int64]
    i_out: F  # A out of the machine
    v_bus: F  # V at the board's input
    v_out: F  # V at the output
    i_demand: F  # A into battery and load together
    torque_shaft: F  # N*m


def operate(params: F, w_shaft: ArrayLike) -> Operation:
    """Solve the electrical side at a machine speed.

    params: (len(Param), ...) as laid out in `Param`; w_shaft: rad/s, broadcast against params[0].
    Highest-volts solution of each way of running; see `Mode` for the order.
    """
    w = np.asarray(w_shaft, dtype=float)
    q = {p: params[p] for p in Param}
    v_open = machine.emf(w, k_emf=q[Param.K_EMF]) - q[Param.V_DROP]
    r = q[Param.R_SOURCE] + q[Param.R_SPEED] * w
    shape = np.broadcast_shapes(w.shape, q[Param.K_EMF].shape)
    v_open, r = np.broadcast_to(v_open, shape), np.broadcast_to(r, shape)
    q = {p: np.broadcast_to(x, shape) for p, x in q.items()}
    mode, i, v, u, need = _board(q, v_open, r)
    direct = _direct(q, v_open, r)
    none = q[Param.KIND] == Kind.NONE
    mode, i, v, u, need = (np.where(none, d, b) for d, b in zip(direct, (mode, i, v, u, need), strict=True))
    torque = machine.shaft_torque(
        w,
        i_out=i,
        k_emf=q[Param.K_EMF] - q[Param.R_SPEED] * i,
        t_coulomb=q[Param.T_COULOMB],
        b_viscous=q[Param.B_VISCOUS],
    )
    return Operation(
        mode=mode.astype(np.int64), i_out=i, v_bus=v, v_out=u, i_demand=need, torque_shaft=np.asarray(torque)
    )


def crank_torque(
    params: F, w_crank: ArrayLike, *, ratio: ArrayLike, gain: ArrayLike, drag: ArrayLike, slope: ArrayLike
) -> F:
    """Torque the rig asks at the crank (N*m) at a crank speed (rad/s): gain*T_shaft + drag + slope*w_crank."""
    w = np.asarray(w_crank, dtype=float)
    state = operate(params, w * np.asarray(ratio))
    return np.asarray(np.asarray(gain) * state.torque_shaft + np.asarray(drag) + np.asarray(slope) * w)


def _demand(q: dict[Param, F], u: F) -> F:
    return np.asarray(q[Param.A] + q[Param.G] * u + q[Param.P] / u)


def _node(q: dict[Param, F], v_open: F, r: F) -> F:
    """Highest u with (v_open - u)/r = a + g u + p/u; NaN when there is none."""
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(
            bus.node_voltage(v_open, r_source=r, i_constant=q[Param.A], g_load=q[Param.G], p_load=q[Param.P])
        )


def _direct(q: dict[Param, F], v_open: F, r: F) -> tuple[F, F, F, F, F]:
    """No board: the machine feeds the output itself."""
    diode, store, rest = q[Param.HAS_DIODE] > 0, q[Param.HAS_STORE] > 0, q[Param.U_REST]
    u = _node(q, v_open, r)
    with np.errstate(invalid="ignore", divide="ignore"):
        i = (v_open - u) / r
        flows = np.isfinite(u) & (u >= q[Param.U_QUIT]) & (u > 0) & ((i > 0) | ~diode)
        driven = flows & (i < 0)
        blocked = ~flows | (i <= 0) & diode
        idle_mode = np.where(
            ~store & (v_open > q[Param.U_QUIT]) & (v_open > 0) & (q[Param.P] > 0), Mode.CHATTERS, Mode.ASLEEP
        )
        mode = np.where(blocked, idle_mode, np.where(driven, Mode.DRIVEN, Mode.DIRECT))
        i = np.where(blocked, 0.0, i)
        u = np.where(blocked, np.where(store, rest, np.maximum(v_open, 0.0)), u)
        need = np.where(blocked, 0.0, i)
    return mode, i, u, u, need


def _board(q: dict[Param, F], v_open: F, r: F) -> tuple[F, F, F, F, F]:
    """A board on the rig: passes, regulates, limited, drops out, chatters or sleeps, tried in that order."""
    buck, boost = q[Param.KIND] == Kind.BUCK, q[Param.KIND] == Kind.BOOST
    loss, held, power, limit = q[Param.V_LOSS], q[Param.V_HELD], q[Param.P_HELD], q[Param.I_LIMIT]
    sleep, quit_ = q[Param.V_SLEEP], q[Param.U_QUIT]
    with np.errstate(invalid="ignore", divide="ignore"):
        u_through = _node(q, v_open - loss, r)
        i_through = _demand(q, u_through)
        through = (
            np.isfinite(u_through)
            & (u_through + loss >= sleep * (1 - SLACK))
            & (u_through >= quit_)
            & (i_through > 0)
        )
        passes = boost & through & (u_through >= held * (1 - SLACK))

        v_reg = np.asarray(bus.constant_power_voltage(v_open, r_source=r, p_load=power))
        i_reg = power / v_reg
        regulates = np.isfinite(v_reg) & (v_reg >= sleep * (1 - SLACK)) & (i_reg <= limit * (1 + SLACK))
        regulates &= ~buck | (v_reg - loss >= held * (1 - SLACK))
        regulates &= ~boost | (v_reg - loss <= held * (1 + SLACK))
        regulates &= held >= quit_

        v_lim = v_open - r * limit
        p_lim = _watts_out(q, v_lim * limit)
        u_lim = _output_volts(q, p_lim, held)
        limited = np.isfinite(v_lim) & (v_lim >= sleep) & (power > v_lim * limit) & (u_lim > 0) & (p_lim > 0)
        limited &= ~buck | (v_lim - loss >= u_lim)
        sags_below = boost & limited & through & (v_lim - loss > u_lim)  # more comes through than it pushes
        limited &= ~boost | (v_lim - loss <= u_lim)

        drops = buck & through & (i_through <= limit) & (u_through < held)
        # Between dropping out and regulating the input stands at the held volts plus the loss; the board eats the rest
        v_between = held + loss
        i_between = (v_open - v_between) / r
        between = (
            buck
            & (u_through >= held)
            & (i_between > 0)
            & (i_between <= limit)
            & (v_between >= sleep)
            & (held >= quit_)
        )
        choices = [passes, regulates, limited, sags_below, drops, between, v_open >= sleep]
        codes = [
            Mode.PASSES, Mode.REGULATES, Mode.LIMITED, Mode.PASSES, Mode.DROPS_OUT, Mode.DROPS_OUT, Mode.CHATTERS
        ]  # fmt: skip
        mode = np.select(choices, codes, Mode.ASLEEP)
        rest = np.where(q[Param.HAS_STORE] > 0, q[Param.U_REST], 0.0)
        i = np.select(choices[:6], [i_through, i_reg, limit, i_through, i_through, i_between], 0.0)
        v = np.select(
            choices[:6],
            [u_through + loss, v_reg, v_lim, u_through + loss, u_through + loss, v_between],
            np.maximum(v_open, 0.0),
        )
        u = np.select(choices[:6], [u_through, held, u_lim, u_through, u_through, held], rest)
        held_amps = _demand_held(q)
        need = np.select(
            choices[:6], [i_through, held_amps, p_lim / u_lim, i_through, i_through, held_amps], 0.0
        )
    return mode, i, v, u, need


def _demand_held(q: dict[Param, F]) -> F:
    """Amps into battery and load while the board regulates: watts out over held volts."""
    return np.asarray(_watts_out(q, q[Param.P_HELD]) / q[Param.V_HELD])


def _watts_out(q: dict[Param, F], p_in: F) -> F:
    """Watts out of the board from watts in, the inverse of p_in = p + l0 + l1 p + l2 p^2 (root form free of 0/0)."""
    b, c = 1.0 + q[Param.LOSS_1], p_in - q[Param.LOSS_0]
    return np.asarray(2 * c / (b + np.sqrt(np.maximum(b * b + 4 * q[Param.LOSS_2] * c, 0.0))))


def _output_volts(q: dict[Param, F], p_out: F, held: F) -> F:
    """Output volts at which battery and load together take p_out watts: g u^2 + a u + (p - p_out) = 0, higher root.

    Where only constant power hangs there (a = g = 0) the volts collapse; half the held volts stands for "sags away".
    """
    g, a, c = q[Param.G], q[Param.A], q[Param.P] - p_out
    disc = np.sqrt(np.maximum(a * a - 4 * g * c, 0.0))
    with np.errstate(invalid="ignore", divide="ignore"):
        curved = np.where(a <= 0, (-a + disc) / (2 * g), -2 * c / (a + disc))
        straight = np.where(a > 0, -c / a, 0.5 * held)
    u = np.where(g > 0, curved, straight)
    return np.asarray(np.where(np.isfinite(u), np.minimum(u, held), 0.5 * held))
