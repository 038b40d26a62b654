"""Several rigs on one bus: the volts at which what their boards push equals what is asked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit
from sparewatt.rig.motion_boards import conduct_load, rest_volts, watts_out

__all__ = ["shared_bus"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@jit
def _unit_amps(k: int, u: float, v: float, q: F, mv: F, du: I, su: F) -> tuple[float, float, int, float]:
    """Amps one rig's board pushes into a shared bus at u, its own volts ahead of its lead, its way of running, and how far
    it is a wire (1) rather than a board (0): it goes over within a narrow band of volts."""
    kind = int(q[k, ix.Q_KIND])
    r = mv[k, ix.M_LEAD]
    if kind == ix.NONE:
        return (v - u) / r, v, ix.DIRECT, 1.0
    if du[k, ix.D_AWAKE] == 0:
        return 0.0, u, ix.ASLEEP, 1.0
    through, limit = v - q[k, ix.Q_LOSS], q[k, ix.Q_LIMIT]
    label, source = ix.REGULATES, q[k, ix.Q_SET] * su[k, ix.U_SOFT]
    if kind == ix.BUCK and through < source:
        label, source = ix.DROPS_OUT, through
    i = (source - u) / r
    if i > 0.0:
        cap = mv[k, ix.M_ISET]
        if cap < 1e9:  # an amps screw gives way a little as the volts sink, so that they can find their place
            cap = cap * (1.0 + ix.AMPS_BAND * (1.0 - u / q[k, ix.Q_SET]))
            i = i if i < cap else cap
        if limit < 1e9:
            most = watts_out(v * limit, q[k, ix.Q_L0], q[k, ix.Q_L1], q[k, ix.Q_L2]) / (u if u > 0.5 else 0.5)
            if i > most:
                i, label = most, ix.LIMITED
        source = u + r * i
    else:
        i = 0.0
    over = (through - source) / ((ix.BLEND - 1.0) * (source if source > ix.LEAST_VOLTS else ix.LEAST_VOLTS))
    wire = 0.0
    if kind == ix.BUCK:
        wire = 1.0 - over
    elif kind == ix.BOOST and over > 0.0:  # more comes straight through than the board would push
        label, source, wire = ix.PASSES, through, over
        i = (source - u) / r
        i = i if i > 0.0 else 0.0
    return i, source, label, (1.0 if wire > 1.0 else (0.0 if wire < 0.0 else wire))


@jit
def _surplus(u: float, y: F, rigs: int, q: F, mv: F, du: I, su: F, a: float, g: float, p: float) -> float:
    total = -conduct_load(u, a, g, p)
    for k in range(rigs):
        i, _source, _label, _wire = _unit_amps(k, u, y[5 * k + 4], q, mv, du, su)
        total += i
    return total


@jit
def shared_bus(
    y: F, rigs: int, q: F, mv: F, du: I, su: F, gi: I, a: float, g: float, p: float, res: F
) -> None:
    """Highest volts of a bus shared by several rigs at which what they push equals what is asked."""
    if gi[ix.I_PLUGGED] == 0:
        a, g, p = 0.0, 0.0, 0.0
    high = 0.0
    for k in range(rigs):
        _i, source, _label, _wire = _unit_amps(k, 1e6, y[5 * k + 4], q, mv, du, su)
        if (du[k, ix.D_AWAKE] == 1 or int(q[k, ix.Q_KIND]) == ix.NONE) and source > high:
            high = source
    rest = rest_volts(a, g, p)
    high = (high if high > rest else rest) + 1e-9
    low, f_low, f_high = high, -1.0, _surplus(high, y, rigs, q, mv, du, su, a, g, p)
    found = f_high >= 0.0
    step = 0.01
    while not found and low > 0.05 * high:
        low = low - step * high
        step = step * 1.4
        f_low = _surplus(low, y, rigs, q, mv, du, su, a, g, p)
        if f_low > 0.0:
            break
        high, f_high = low, f_low
    u = 0.0 if high <= 0.01 else high
    if f_low > 0.0 and not found:
        side = 0
        for n in range(60):
            u = (low * f_high - high * f_low) / (f_high - f_low) if n < 40 else 0.5 * (low + high)
            f = _surplus(u, y, rigs, q, mv, du, su, a, g, p)
            if abs(f) < 1e-10 or high - low < 1e-12 * high:
                break
            if f > 0.0:
                low, f_low = u, f
                if side == 1:
                    f_high *= 0.5
                side = 1
            else:
                high, f_high = u, f
                if side == -1:
                    f_low *= 0.5
                side = -1
    elif not found:
        u = 0.25 * high if p > 0.0 else 0.0
    res[0] = u
    for k in range(rigs):
        v = y[5 * k + 4]
        i, source, label, wire = _unit_amps(k, u, v, q, mv, du, su)
        res[2 + 3 * k], res[3 + 3 * k], res[4 + 3 * k] = i, i, float(label)
        if wire < 1.0:
            p_out = i * source
            low_v = v if v > ix.LEAST_VOLTS else ix.LEAST_VOLTS
            board = (p_out + q[k, ix.Q_L0] + q[k, ix.Q_L1] * p_out + q[k, ix.Q_L2] * p_out * p_out) / low_v
            res[2 + 3 * k] = wire * i + (1.0 - wire) * board
