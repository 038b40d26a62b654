"""The electrical side at a moment: volts at the output, amps into each board and out of it, and its way of running."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit, small
from sparewatt.rig.motion_boards import conduct_load, hold, let_back, own_board, rest_volts, sagged, watts_out
from sparewatt.rig.motion_bus import shared_bus

__all__ = ["electric"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@small
def electric(y: F, rigs: int, q: F, mv: F, du: I, su: F, gi: I, gf: F, oc: F, res: F) -> None:
    """Output volts res[0], tool volts res[1], then for rig k from 2 + 3 k: amps into its board, amps out, way of running.

    `rates` adds for rig k, from 2 + 3 rigs + 2 k: the torque its drive passes on at the machine's shaft, the rider's push.
    A single rig's board adds how far it is from passing through (7, V) and the share of what is asked that it serves (8).
    """
    tool = oc[ix.O_MOTOR] > 0.0 and gi[ix.I_RUNS] == 1 and gi[ix.I_PLUGGED] == 1
    it = y[5 * rigs] if tool else 0.0
    a, g, p = gf[ix.F_A], gf[ix.F_G], gf[ix.F_P]
    res[1] = 0.0
    on = int(oc[ix.O_MON])
    if rigs > 1:
        if tool and on == 1:
            _v_tool, extra = own_board(1e9, it, oc)
            shared_bus(y, rigs, q, mv, du, su, gi, a, g, p + extra, res)
            if extra > res[0] * oc[ix.O_OIN]:  # its board takes in all the amps it can
                shared_bus(y, rigs, q, mv, du, su, gi, a + oc[ix.O_OIN], g, p, res)
            res[1], extra = own_board(res[0], it, oc)
            return
        shared_bus(y, rigs, q, mv, du, su, gi, a + it, g, p, res)
        res[1] = res[0]
        return
    v = y[4]
    kind = int(q[0, ix.Q_KIND])
    if tool and on == 2:
        a = a + it
    held, p_held = su[0, ix.U_HELD], su[0, ix.U_PHELD]
    if kind == ix.NONE:
        u = v
        if tool and on == 1:
            res[1], extra = own_board(u, it, oc)
            p = p + extra
        res[0] = u
        of_tool = it if tool and on == 2 else 0.0
        i = conduct_load(u, a - of_tool, g, p) + of_tool if gi[ix.I_PLUGGED] == 1 else 0.0
        res[2], res[3], res[4] = i, i, float(ix.DIRECT)
        if tool and on != 1:
            res[1] = u
        return
    # With its blocking diode gone the battery comes back through a step-down board, awake or not
    back = mv[0, ix.M_BACKFEED] if du[0, ix.D_DIODE] == 1 or du[0, ix.D_DIODE] == 3 else math.inf
    if du[0, ix.D_AWAKE] == 0:
        if tool and on == 1:
            res[1], extra = own_board(1e9, it, oc)
            u = rest_volts(a, g, p + extra)
            if extra > u * oc[ix.O_OIN]:  # its board takes in all the amps it can
                u = rest_volts(a + oc[ix.O_OIN], g, p)
            res[1], extra = own_board(u, it, oc)
            p = p + extra
        u, i = let_back(v, a, g, p, back)
        res[0], res[2], res[3], res[4] = u, i, i, float(ix.ASLEEP)
        if tool and on == 2:
            res[1] = u
        return
    loss, limit, soft = q[0, ix.Q_LOSS], q[0, ix.Q_LIMIT], su[0, ix.U_SOFT]
    l0, l1, l2 = q[0, ix.Q_L0], q[0, ix.Q_L1], q[0, ix.Q_L2]
    if tool and (on == 0 or (on == 2 and g == 0.0 and p == 0.0 and a == it)):  # nothing else holds the output
        _tool_on_board(v, it, kind, loss, limit, soft, q, mv, res)
        return
    if tool:
        if on == 1:
            near = held if held > 1.0 else q[0, ix.Q_SET]
            res[1], extra = own_board(near, it, oc)
            p = p + extra
        held, p_held = hold(a, g, p, q[0, ix.Q_SET], mv[0, ix.M_ISET], l0, l1, l2)
        if on == 2:
            res[1] = held
    if soft < 1.0 and oc[ix.O_BATTERY] > 0.0 and gi[ix.I_HOOKED] == 1:
        # Beside a battery a rising board pushes its share of the amps, and the battery's volts follow
        amps = soft * (a + g * held + p / held)
        amps = amps if amps > 0.0 else 0.0
        held, soft = rest_volts(a - amps, g, p), 1.0
        watts = held * amps
        p_held = watts + l0 + l1 * watts + l2 * watts * watts
    i = p_held * soft / (v if v > ix.LEAST_VOLTS else ix.LEAST_VOLTS)
    label, u = ix.REGULATES, held
    if g > 0.0 and a + g * held + p / held < 0.0:  # a battery above the setting: nothing flows into it
        u = rest_volts(a, g, p)
    if i > limit:
        i, label = limit, ix.LIMITED
        u = sagged(a, g, p, watts_out(v * limit, l0, l1, l2), held)
    u_through, edge, pushed = v - loss, held + loss, 0.0
    if kind == ix.BOOST:
        _pass_through(v, u_through, i, u, p_held, soft, label, l0, l1, l2, a, g, p, res)
        return
    if kind == ix.BUCK and v < ix.BLEND * edge:
        i_through = conduct_load(u_through, a, g, p) * soft
        if i_through < 0.0:
            u_through, i_through = let_back(v, a, g, p, back)
        if v > edge:
            share = (v - edge) / ((ix.BLEND - 1.0) * edge)
            i_edge = conduct_load(held, a, g, p) * soft
            i_edge = 0.0 if i_edge < 0.0 else (limit if i_edge > limit else i_edge)
            _pushes(v, u, p_held, soft, label, i, l0, l1, l2, res)
            pushed = share * res[3] + (1.0 - share) * i_edge
            i, label = share * i + (1.0 - share) * i_edge, ix.DROPS_OUT
        elif i_through <= limit:
            i, u, label = i_through, u_through, ix.DROPS_OUT
            pushed = i
        else:
            i, label = limit, ix.LIMITED
            u = sagged(a, g, p, watts_out(v * limit, l0, l1, l2), held)
    res[0], res[2], res[4] = u, i, float(label)
    if label == ix.DROPS_OUT:
        res[3], res[8] = pushed, soft
    else:
        _pushes(v, u, p_held, soft, label, i, l0, l1, l2, res)


@small
def _pushes(
    v: float,
    u: float,
    p_held: float,
    soft: float,
    label: int,
    i: float,
    l0: float,
    l1: float,
    l2: float,
    res: F,
) -> None:
    """Amps a board pushes out while it holds or is limited, and the share of what is asked that this serves."""
    if label == ix.LIMITED:
        watts, res[8] = watts_out(v * i, l0, l1, l2), 1.0
    else:
        watts, res[8] = soft * watts_out(p_held, l0, l1, l2), soft
    res[3] = watts / u if u > 1e-4 else 0.0


@small
def _pass_through(
    v: float, u_through: float, i: float, u: float, p_held: float, soft: float, label: int, l0: float, l1: float,
    l2: float, a: float, g: float, p: float, res: F,
) -> None:  # fmt: skip
    """A step-up board: with more volts behind it than it makes, what comes goes straight through its diode, whatever the
    board would limit. i, u, label: as long as it steps up. It goes over within a narrow band of volts."""
    res[7] = u - u_through
    if u_through <= u:
        res[0], res[2], res[4] = u, i, float(label)
        _pushes(v, u, p_held, soft, label, i, l0, l1, l2, res)
        return
    share = (u_through - u) / ((ix.BLEND - 1.0) * (u if u > ix.LEAST_VOLTS else ix.LEAST_VOLTS))
    share = share if share < 1.0 else 1.0
    passed = conduct_load(u_through, a, g, p)
    if passed < 0.0:  # the battery stands above what comes through
        passed, u_through = 0.0, rest_volts(a, g, p)
    served = share + (1.0 - share) * (1.0 if label == ix.LIMITED else soft)
    res[0], res[2], res[4] = u_through, share * passed + (1.0 - share) * i, float(ix.PASSES)
    res[3], res[8] = served * passed, served


@jit
def _tool_on_board(
    v: float, it: float, kind: int, loss: float, limit: float, soft: float, q: F, mv: F, res: F
) -> None:
    """A motor alone on the rig's board: its amps are a state, so the board's limits decide the volts."""
    l0, l1, l2 = q[0, ix.Q_L0], q[0, ix.Q_L1], q[0, ix.Q_L2]
    u, label = q[0, ix.Q_SET] * soft, ix.REGULATES
    cap = mv[0, ix.M_ISET]
    if cap < 1e9:
        share = (1.0 + ix.AMPS_BAND - it / cap) / (2.0 * ix.AMPS_BAND)
        u = u * (1.0 if share > 1.0 else (0.0 if share < 0.0 else share))
    if limit < 1e9 and it > 1e-6:
        most = watts_out(v * limit, l0, l1, l2) / it
        if u > most:
            u, label = most, ix.LIMITED
    p = u * it
    i = (p + l0 + l1 * p + l2 * p * p) / (v if v > ix.LEAST_VOLTS else ix.LEAST_VOLTS)
    # A wire at one end of its range, a board at the other; it goes over within a narrow band of volts
    res[7] = u - (v - loss)
    over = -res[7] / ((ix.BLEND - 1.0) * (u if u > ix.LEAST_VOLTS else ix.LEAST_VOLTS))
    share = 1.0 if over > 1.0 else (0.0 if over < 0.0 else over)
    if kind == ix.BUCK and share < 1.0:
        i, label = share * i + (1.0 - share) * it, ix.DROPS_OUT
        u = u if res[7] < 0.0 else v - loss
    if kind == ix.BOOST and over > 0.0:
        i, u, label = share * it + (1.0 - share) * i, v - loss, ix.PASSES
    if u < 0.0:
        u = 0.0
    res[0], res[1], res[2], res[3], res[4], res[8] = u, u, i, it, float(label), 1.0
