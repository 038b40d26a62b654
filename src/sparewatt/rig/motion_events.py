"""What can happen to a moving rig: gauges whose zero is a happening, what it changes, and the acts of a script."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit

__all__ = ["act_out", "battery_joined", "gauges", "happen", "is_label", "join", "note"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@jit
def gauges(y: F, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, out: F) -> None:
    """Gauges: a state of being ends where its gauge falls below zero; a label changes where its gauge changes sign.

    Reads `res` as `rates` left it for the same states.
    """
    u = res[0]
    for k in range(rigs):
        b, c = 5 * k, ix.GAUGES * k
        j_now = du[k, ix.D_GEAR]
        w_c, v = y[b + 1], y[b + 4]
        w_g = geo[k, j_now, ix.G_RATIO] * w_c if du[k, ix.D_ENGAGED] == 1 else y[b + 2]
        i = y[b + 3]
        for n in range(ix.GAUGES):
            out[c + n] = 1.0
        if mv[k, ix.M_FREE] > 0.0:
            if du[k, ix.D_ENGAGED] == 1:
                out[c] = res[2 + 3 * rigs + 2 * k]
            else:
                out[c] = w_g - geo[k, j_now, ix.G_RATIO] * w_c
        emf = su[k, ix.U_K] * w_g
        if du[k, ix.D_CONDUCTS] == 1:
            out[c + 1] = i
        elif du[k, ix.D_CONDUCTS] == -1:
            out[c + 1] = -i
        elif du[k, ix.D_DIODE] == 2:
            out[c + 1] = 1.0
        else:
            forward = v + q[k, ix.Q_DROP] - emf
            out[c + 1] = forward
            if du[k, ix.D_DIODE] == 3:
                out[c + 1] = emf + mv[k, ix.M_BRUSH] - v
            elif du[k, ix.D_DIODE] == 1:
                backward = emf + mv[k, ix.M_BRUSH] - v
                out[c + 1] = forward if forward < backward else backward
        kind = int(q[k, ix.Q_KIND])
        if kind != ix.NONE:
            out[c + 2] = v - q[k, ix.Q_SLEEP] if du[k, ix.D_AWAKE] == 1 else mv[k, ix.M_WAKE] - v
            if du[k, ix.D_AWAKE] == 1:
                label = int(res[4 + 3 * k])
                low_v = v if v > 0.3 else 0.3
                if rigs == 1 and (oc[ix.O_MOTOR] == 0.0 or gi[ix.I_RUNS] == 0):
                    out[c + 3] = q[k, ix.Q_LIMIT] - su[k, ix.U_PHELD] * su[k, ix.U_SOFT] / low_v
                    if label == ix.PASSES:
                        out[c + 3] = 1.0
                else:
                    out[c + 3] = -1.0 if label == ix.LIMITED else 1.0
                held = (
                    su[k, ix.U_HELD]
                    if rigs == 1 and (oc[ix.O_MOTOR] == 0.0 or gi[ix.I_RUNS] == 0)
                    else q[k, ix.Q_SET]
                )
                if kind == ix.BOOST:
                    out[c + 4] = res[7] if rigs == 1 else (-1.0 if label == ix.PASSES else 1.0)
                elif kind == ix.BUCK:
                    out[c + 4] = v - q[k, ix.Q_LOSS] - held
        if mv[k, ix.M_VCLAMP] < 1e9 and du[k, ix.D_CLAMP] == 1:
            out[c + 5] = mv[k, ix.M_VCLAMP] - v
        out[c + 6] = w_c - ix.STOPPED if du[k, ix.D_MOVING] == 1 else ix.STARTED - w_c
        if mv[k, ix.M_RATED] < 1e9:
            out[c + 7] = mv[k, ix.M_RATED] - v
    c = ix.GAUGES * rigs
    out[c], out[c + 1], out[c + 2] = 1.0, 1.0, 1.0
    if oc[ix.O_VHIGH] > 0.0 and gi[ix.I_CLIP] == 1 and gi[ix.I_PLUGGED] == 1:
        out[c + 2] = _guard_gauge(u, gi, gf, oc)
    up = rigs > 1 or int(q[0, ix.Q_KIND]) == ix.NONE or du[0, ix.D_AWAKE] == 0 or su[0, ix.U_SOFT] >= 1.0
    if up and gi[ix.I_RUNS] == 1 and oc[ix.O_QUIT] > 0.0 and gi[ix.I_PLUGGED] == 1:
        out[c] = u - oc[ix.O_QUIT]
    if gi[ix.I_RUNS] == 1 and oc[ix.O_UMAX] < 1e9 and gi[ix.I_PLUGGED] == 1:
        out[c + 1] = oc[ix.O_UMAX] - u


@jit
def _guard_gauge(u: float, gi: I, gf: F, oc: F) -> float:
    """How far a pack's protection is from its next move."""
    stands = gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE]
    state = gi[ix.I_GUARD]
    i = (u - stands) / oc[ix.O_RSTORE]
    cells = u - oc[ix.O_RBW] * i
    value: float = oc[ix.O_VHIGH] - cells if i > 0.0 else cells - oc[ix.O_VLOW]
    if state == ix.FULL_OPEN:
        value = u - stands
    elif state == ix.EMPTY_OPEN:
        value = stands - u
    elif state == ix.GIVES:
        value = ix.TRICKLE - i
    elif state == ix.TAKES:
        value = ix.TRICKLE + i
    elif state == ix.AMPS_OPEN:
        value = 1.0
    return value


@jit
def _guard_moves(t: float, u: float, gi: I, gf: F, oc: F, events: F, count: I) -> None:
    """A pack's protection opens, or lets amps through the way that is allowed."""
    state = gi[ix.I_GUARD]
    if state == ix.CLOSED:
        charging = u > gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE]
        gi[ix.I_GUARD] = ix.FULL_OPEN if charging else ix.EMPTY_OPEN
        gf[ix.F_OVER] = 0.0
        note(events, count, t, ix.E_GFULL if charging else ix.E_GEMPTY, 0, u)
    elif state == ix.FULL_OPEN:
        gi[ix.I_GUARD] = ix.GIVES
    elif state == ix.GIVES:
        gi[ix.I_GUARD] = ix.FULL_OPEN
    elif state == ix.EMPTY_OPEN:
        gi[ix.I_GUARD] = ix.TAKES
    elif state == ix.TAKES:
        gi[ix.I_GUARD] = ix.EMPTY_OPEN
    battery_joined(gi)


@jit
def battery_joined(gi: I) -> None:
    """Whether amps can flow to and from the battery: its clip, its fuse and its protection."""
    state = gi[ix.I_GUARD]
    through = state == ix.CLOSED or state == ix.GIVES or state == ix.TAKES
    gi[ix.I_HOOKED] = 1 if gi[ix.I_CLIP] == 1 and gi[ix.I_FUSE_BATTERY] == 0 and through else 0


@jit
def is_label(n: int, rigs: int) -> bool:
    """Whether a gauge only marks a change of label (either way), not the end of a state of being."""
    if n >= ix.GAUGES * rigs:
        return n == ix.GAUGES * rigs + 1
    c = n % ix.GAUGES
    return c == 3 or c == 4 or c == 5 or c == 7


@jit
def note(events: F, count: I, t: float, code: int, rig: int, value: float) -> None:
    """Write one happening down, as far as there is room; the count goes on."""
    k = count[0]
    if k < events.shape[0]:
        events[k, 0], events[k, 1], events[k, 2], events[k, 3] = t, float(code), float(rig), value
    count[0] = k + 1


@jit
def happen(
    n: int, rising: bool, t: float, y: F, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F, res: F,
    events: F, count: I, sums: F,
) -> None:  # fmt: skip
    """Carry out what gauge n stands for. rising: the gauge came from below zero (labels only)."""
    if n >= ix.GAUGES * rigs:
        if n == ix.GAUGES * rigs:
            gi[ix.I_RUNS] = 0
            gf[ix.F_TQUIT] = t
            if oc[ix.O_MOTOR] > 0.0:
                y[5 * rigs] = 0.0
            note(events, count, t, ix.E_QUITS, 0, res[0])
        elif n == ix.GAUGES * rigs + 2:
            _guard_moves(t, res[0], gi, gf, oc, events, count)
        elif not rising:
            note(events, count, t, ix.E_OVERLOAD, 0, res[0])
        return
    k, c = n // ix.GAUGES, n % ix.GAUGES
    b = 5 * k
    v = y[b + 4]
    if c == 0:
        if du[k, ix.D_ENGAGED] == 1:
            du[k, ix.D_ENGAGED] = 0
            y[b + 2] = geo[k, du[k, ix.D_GEAR], ix.G_RATIO] * y[b + 1]
            note(events, count, t, ix.E_OPENS, k, y[b + 1])
        else:
            join(k, y, geo, mv, du, sums)
            note(events, count, t, ix.E_TAKES, k, y[b + 1])
    elif c == 1:
        if du[k, ix.D_CONDUCTS] != 0:
            sums[ix.S_SWITCHED] += 0.5 * mv[k, ix.M_IND] * y[b + 3] * y[b + 3]
            du[k, ix.D_CONDUCTS] = 0
            y[b + 3] = 0.0
            note(events, count, t, ix.E_BLOCKS, k, v)
        else:
            emf = su[k, ix.U_K] * (
                geo[k, du[k, ix.D_GEAR], ix.G_RATIO] * y[b + 1] if du[k, ix.D_ENGAGED] == 1 else y[b + 2]
            )
            forward = emf - q[k, ix.Q_DROP] - v >= v - emf - mv[k, ix.M_BRUSH]
            du[k, ix.D_CONDUCTS] = 1 if (forward and du[k, ix.D_DIODE] != 3) or du[k, ix.D_DIODE] == 0 else -1
            y[b + 3] = 0.0
            note(events, count, t, ix.E_CONDUCTS if du[k, ix.D_CONDUCTS] == 1 else ix.E_DRIVES, k, v)
    elif c == 2:
        if du[k, ix.D_AWAKE] == 1:
            du[k, ix.D_AWAKE] = 0
            su[k, ix.U_SOFT] = 0.0
            note(events, count, t, ix.E_SLEEPS, k, v)
            if rigs == 1 and (oc[ix.O_BATTERY] == 0.0 or gi[ix.I_HOOKED] == 0) and gi[ix.I_RUNS] == 1:
                gi[ix.I_RUNS] = 0
                gf[ix.F_TQUIT] = t - oc[ix.O_RETRY]
                if oc[ix.O_MOTOR] > 0.0:
                    y[5] = 0.0
        else:
            du[k, ix.D_AWAKE] = 1
            su[k, ix.U_SOFT] = 0.0 if mv[k, ix.M_SOFT] > 0.0 else 1.0
            note(events, count, t, ix.E_WAKES, k, v)
    elif c == 3:
        note(events, count, t, ix.E_UNLIMITED if rising else ix.E_LIMITED, k, v)
    elif c == 4:
        if rising:
            note(events, count, t, ix.E_HOLDS, k, v)
        else:
            note(events, count, t, ix.E_PASSES if int(q[k, ix.Q_KIND]) == ix.BOOST else ix.E_DROPS, k, v)
    elif c == 5:
        note(events, count, t, ix.E_CLAMPENDS if rising else ix.E_CLAMPS, k, v)
    elif c == 6:
        if du[k, ix.D_MOVING] == 1:
            du[k, ix.D_MOVING] = 0
            if du[k, ix.D_PEDALS] == 1 and du[k, ix.D_HERE] == 1:
                note(events, count, t, ix.E_STALLS, k, y[b + 1])
        else:
            du[k, ix.D_MOVING] = 1
            note(events, count, t, ix.E_MOVES, k, y[b + 1])
    elif c == 7 and not rising:
        note(events, count, t, ix.E_OVER, k, v)


@jit
def join(k: int, y: F, geo: F, mv: F, du: I, sums: F) -> None:
    """Crank and machine come to one speed, as two masses that stick; what they lose is the clutch's toll."""
    b = 5 * k
    j_now = du[k, ix.D_GEAR]
    w_c, w_g = y[b + 1], y[b + 2]
    n, gain, j_c, j_s = (
        geo[k, j_now, ix.G_RATIO],
        geo[k, j_now, ix.G_GAIN],
        geo[k, j_now, ix.G_JC],
        geo[k, j_now, ix.G_JS],
    )
    before = 0.5 * j_c * w_c * w_c + 0.5 * j_s * w_g * w_g
    kick = (n * w_c - w_g) / (1.0 / j_s + n * gain / j_c)
    w_c = w_c - gain * kick / j_c
    y[b + 1], y[b + 2] = w_c, n * w_c
    du[k, ix.D_ENGAGED] = 1
    sums[ix.S_CLUTCH] += before - 0.5 * j_c * w_c * w_c - 0.5 * j_s * n * n * w_c * w_c


@jit
def act_out(
    kind: int, rig: int, value: float, t: float, y: F, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F,
    sums: F,
) -> None:  # fmt: skip
    """Carry out one step of the script."""
    b = 5 * rig
    if kind == ix.A_ON:
        if gi[ix.I_SWITCH] == 0:
            gi[ix.I_SWITCH] = 1
            gf[ix.F_TQUIT] = -1e9
    elif kind == ix.A_OFF:
        gi[ix.I_SWITCH], gi[ix.I_RUNS] = 0, 0
        y[5 * rigs] = 0.0
    elif kind == ix.A_UNPLUG:
        gi[ix.I_PLUGGED] = 0
        y[5 * rigs] = 0.0
    elif kind == ix.A_PLUG:
        if gi[ix.I_FUSE_BOARD] == 0:
            gi[ix.I_PLUGGED] = 1
    elif kind == ix.A_UNHOOK:
        gi[ix.I_CLIP] = 0
        battery_joined(gi)
    elif kind == ix.A_HOOK:
        if gi[ix.I_FUSE_BATTERY] == 0:
            gi[ix.I_CLIP] = 1
            battery_joined(gi)
    elif kind == ix.A_SHIFT:
        was = du[rig, ix.D_GEAR]
        old = geo[rig, was]
        w_c = y[b + 1]
        w_g = old[ix.G_RATIO] * w_c if du[rig, ix.D_ENGAGED] == 1 else y[b + 2]
        y[b + 2] = w_g
        du[rig, ix.D_GEAR] = int(value)
        new = geo[rig, int(value)]
        sums[ix.S_CLUTCH] += (
            0.5 * (old[ix.G_JC] - new[ix.G_JC]) * w_c * w_c + 0.5 * (old[ix.G_JS] - new[ix.G_JS]) * w_g * w_g
        )
        if new[ix.G_RATIO] * w_c >= w_g or mv[rig, ix.M_FREE] == 0.0:
            join(rig, y, geo, mv, du, sums)
        else:
            du[rig, ix.D_ENGAGED] = 0
    elif kind == ix.A_EFFORT or kind == ix.A_CADENCE or kind == ix.A_POWER:
        holds = 0 if kind == ix.A_EFFORT else (1 if kind == ix.A_CADENCE else 2)
        w = y[b + 1] if y[b + 1] > 0.0 else 0.0
        old_top = mv[rig, ix.M_WTOP] if du[rig, ix.D_HOLDS] == 0 else mv[rig, ix.M_WSPRINT]
        new_top = mv[rig, ix.M_WTOP] if holds == 0 else mv[rig, ix.M_WSPRINT]
        room = 1.0 - w / new_top
        share = (1.0 - w / old_top) / (room if room > 0.05 else 0.05)
        share = share if share > 0.0 else 0.0
        su[rig, ix.U_PUSH] *= share
        su[rig, ix.U_PUSH1] *= share
        du[rig, ix.D_HOLDS] = holds
        su[rig, ix.U_WANT] = value
        su[rig, ix.U_TRIM] = su[rig, ix.U_PUSH1] if holds == 1 else 0.0
    elif kind == ix.A_STOP:
        du[rig, ix.D_PEDALS] = 0
    elif kind == ix.A_PEDAL:
        du[rig, ix.D_PEDALS] = 1
        su[rig, ix.U_PUSH], su[rig, ix.U_PUSH1] = 0.0, 0.0
    elif kind == ix.A_WORK:
        gf[ix.F_WORK] = value
    elif kind == ix.A_LEAVE:
        du[rig, ix.D_HERE] = 0
    elif kind == ix.A_JOIN:
        du[rig, ix.D_HERE] = 1
        su[rig, ix.U_PUSH], su[rig, ix.U_PUSH1] = 0.0, 0.0
    elif kind == ix.A_SHORT:
        du[rig, ix.D_DIODE] = 1
    elif kind == ix.A_OPEN or kind == ix.A_BACK:
        du[rig, ix.D_DIODE] = 2 if kind == ix.A_OPEN else 3
        du[rig, ix.D_CONDUCTS] = 0
        sums[ix.S_SWITCHED] += 0.5 * mv[rig, ix.M_IND] * y[b + 3] * y[b + 3]
        y[b + 3] = 0.0
    elif kind == ix.A_GOOD:
        du[rig, ix.D_DIODE] = 0
        if du[rig, ix.D_CONDUCTS] < 0:
            sums[ix.S_SWITCHED] += 0.5 * mv[rig, ix.M_IND] * y[b + 3] * y[b + 3]
            du[rig, ix.D_CONDUCTS] = 0
            y[b + 3] = 0.0
    elif kind == ix.A_CLAMPOFF:
        du[rig, ix.D_CLAMP] = 0
    elif kind == ix.A_CLAMPON:
        du[rig, ix.D_CLAMP] = 1
