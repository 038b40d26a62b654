"""What changes slowly in a moving rig and advances once a step: the rider's push and reserve, heat, charge, fuses; and how
long a step those allow."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit
from sparewatt.rig.motion_boards import hold
from sparewatt.rig.motion_events import battery_joined, note
from sparewatt.rig.motion_forces import mean_torque
from sparewatt.rig.motion_store import crowding, kept_amps, most_amps

__all__ = [
    "advance_slow",
    "answer",
    "fuse_rate",
    "lag",
    "longest_step",
    "midway",
    "put_back",
    "refresh",
    "try_load",
    "want_of",
]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@jit
def refresh(t: float, rigs: int, q: F, mv: F, du: I, su: F, gi: I, gf: F, oc: F) -> None:
    """What hangs on the output now, and what each board holds for it."""
    a, g, p = 0.0, 0.0, 0.0
    surge = 1.0
    if gi[ix.I_RUNS] == 1 and oc[ix.O_SURGE] > 1.0:
        late = (t - gf[ix.F_TON]) / oc[ix.O_TSURGE]
        if late < 40.0:
            surge = 1.0 + (oc[ix.O_SURGE] - 1.0) * math.exp(-late)
    if oc[ix.O_MOTOR] == 0.0:
        surge *= gf[ix.F_WORK]  # a load without a motor: that share of what it takes
    gf[ix.F_SURGE] = surge
    if gi[ix.I_PLUGGED] == 1:
        if oc[ix.O_BATTERY] > 0.0 and gi[ix.I_HOOKED] == 1:
            a -= (gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE]) / oc[ix.O_RSTORE]
            g += 1.0 / oc[ix.O_RSTORE]
        p += oc[ix.O_FIELD]
        if gi[ix.I_RUNS] == 1 and oc[ix.O_MOTOR] == 0.0:
            a += surge * oc[ix.O_LA]
            g += surge * oc[ix.O_LG]
            p += surge * oc[ix.O_LP]
    gf[ix.F_A], gf[ix.F_G], gf[ix.F_P] = a, g, p
    for k in range(rigs):
        if int(q[k, ix.Q_KIND]) != ix.NONE:
            su[k, ix.U_HELD], su[k, ix.U_PHELD] = hold(
                a, g, p, q[k, ix.Q_SET], mv[k, ix.M_ISET], q[k, ix.Q_L0], q[k, ix.Q_L1], q[k, ix.Q_L2]
            )


@jit
def want_of(k: int, du: I, su: F, mv: F, geo: F) -> float:
    """The push (N*m at standstill of the line in use) that the rider aims for now."""
    if du[k, ix.D_HOLDS] == 0:
        want: float = 4.0 * su[k, ix.U_WANT] / mv[k, ix.M_WTOP]
        return want
    w = su[k, ix.U_WAVG]
    room = 1.0 - w / mv[k, ix.M_WSPRINT]
    room = room if room > 0.05 else 0.05
    most = 4.0 * mv[k, ix.M_PEAK] / mv[k, ix.M_WSPRINT]
    if du[k, ix.D_HOLDS] == 2:
        want = su[k, ix.U_WANT] / (w if w > 0.5 else 0.5) / room
    else:
        j_now = du[k, ix.D_GEAR]
        j = (
            geo[k, j_now, ix.G_JC]
            + geo[k, j_now, ix.G_GAIN] * geo[k, j_now, ix.G_RATIO] * geo[k, j_now, ix.G_JS]
        )
        want = su[k, ix.U_TRIM] + j / (2.0 * mv[k, ix.M_REACT]) * (su[k, ix.U_WANT] - w) / room
    return 0.0 if want < 0.0 else (most if want > most else want)


@jit
def lag(push1: float, push: float, want: float, tau: float, h: float) -> tuple[float, float]:
    """Two equal first-order lags after h with a steady aim: exact."""
    if push1 == want and push == want:
        return push1, push
    e = math.exp(-h / tau)
    d1, d2 = push1 - want, push - want
    return want + d1 * e, want + (d2 + d1 * h / tau) * e


@jit
def midway(
    t: float, h: float, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F, kept: F
) -> bool:
    """Put push, soft start and surge where they are at the middle of a step, to stand for the whole of it. kept: push and
    soft start as they were. Whether anything moved."""
    moved = False
    for k in range(rigs):
        kept[k, 0], kept[k, 1] = su[k, ix.U_PUSH], su[k, ix.U_SOFT]
        want = want_of(k, du, su, mv, geo)
        _first, push = lag(su[k, ix.U_PUSH1], su[k, ix.U_PUSH], want, 0.5 * mv[k, ix.M_REACT], 0.5 * h)
        if push != su[k, ix.U_PUSH]:
            su[k, ix.U_PUSH] = push
            moved = True
        if du[k, ix.D_AWAKE] == 1 and su[k, ix.U_SOFT] < 1.0:
            soft = su[k, ix.U_SOFT] + 0.5 * h / mv[k, ix.M_SOFT]
            su[k, ix.U_SOFT] = soft if soft < 1.0 else 1.0
            moved = True
    if gi[ix.I_RUNS] == 1 and oc[ix.O_SURGE] > 1.0 and t - gf[ix.F_TON] < 40.0 * oc[ix.O_TSURGE]:
        refresh(t + 0.5 * h, rigs, q, mv, du, su, gi, gf, oc)
        moved = True
    return moved


@jit
def put_back(rigs: int, su: F, kept: F) -> None:
    """Push and soft start as they were before `midway`."""
    for k in range(rigs):
        su[k, ix.U_PUSH], su[k, ix.U_SOFT] = kept[k, 0], kept[k, 1]


@jit
def fuse_rate(i: float, which: int, fuses: F) -> float:
    """Share of its life a fuse loses a second at a current. fuses: rating, points, ln multiples..., ln seconds..."""
    rating = fuses[which, 0]
    if not rating < 1e9:
        return 0.0
    n = int(fuses[which, 1])
    x = abs(i) / rating
    if x < fuses[which, fuses.shape[1] - 1]:
        return 0.0
    x = math.log(x)
    k = 0
    while k < n - 2 and x > fuses[which, 3 + k]:
        k += 1
    x0, x1, s0, s1 = (
        fuses[which, 2 + k],
        fuses[which, 3 + k],
        fuses[which, 2 + n + k],
        fuses[which, 3 + n + k],
    )
    rate: float = math.exp(-(s0 + (s1 - s0) * (x - x0) / (x1 - x0)))
    return rate


@jit
def _open_volts(soc: float, ocv: F) -> float:
    """Rested volts of the battery from its table, end lines continued."""
    n = ocv.shape[1]
    k = 0
    while k < n - 2 and soc > ocv[0, k + 1]:
        k += 1
    x0, x1 = ocv[0, k], ocv[0, k + 1]
    value: float = ocv[1, k] + (ocv[1, k + 1] - ocv[1, k]) * (soc - x0) / (x1 - x0)
    return value


@jit
def answer(i: float, soc: float, oc: F) -> float:
    """Volts by which a battery that charges (i above 0) or gives has settled beyond what its resistance answers at once:
    the tangent to `store.charge_rise` that the steady map uses, or `store.battery_voltage` on load."""
    if i >= 0.0:
        share = i / oc[ix.O_RAMPS] if oc[ix.O_RAMPS] > 0.0 else 1.0
        value: float = (oc[ix.O_RISE] + oc[ix.O_RSLOPE] * i) * (share if share < 1.0 else 1.0)
        return value
    tired = oc[ix.O_TIRING] * (1.0 - soc)
    sunk = oc[ix.O_SAG] * math.asinh(i / oc[ix.O_SAMPS]) if oc[ix.O_SAG] > 0.0 else 0.0
    return float((1.0 + tired) * sunk + tired * (oc[ix.O_RSTORE] - oc[ix.O_RBW]) * i)


@jit
def _store(
    t: float, h: float, i: float, u: float, y: F, rigs: int, mv: F, gi: I, gf: F, oc: F, ocv: F, row: F, events: F,
    count: I, sums: F,
) -> None:  # fmt: skip
    """Advance the battery: charge that stays in it, rested volts, what answers within a minute, its protection."""
    stands = gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE]
    # how far its amps give way to its own volts, as the last step showed: volts that are held from outside give way most
    if abs(stands - gf[ix.F_STOOD]) > 1e-5 and gf[ix.F_STOOD] > 0.0:
        gave = (gf[ix.F_IWAS] - i) / (stands - gf[ix.F_STOOD])
        gf[ix.F_YIELD] = (
            0.0 if gave < 0.0 else (gave if gave * oc[ix.O_RSTORE] < 1.0 else 1.0 / oc[ix.O_RSTORE])
        )
    gf[ix.F_STOOD], gf[ix.F_IWAS] = stands, i
    most = most_amps(gf[ix.F_SOC], oc[ix.O_CAP], oc[ix.O_TAIL])
    soc = gf[ix.F_SOC] + kept_amps(i, most, oc[ix.O_ETA], oc[ix.O_ETATAIL]) * h / oc[ix.O_CAP]
    gf[ix.F_SOC] = 0.0 if soc < 0.0 else (1.0 if soc > 1.0 else soc)
    open_volts = oc[ix.O_VREST] + _open_volts(gf[ix.F_SOC], ocv) - gf[ix.F_OCV0]
    fallen = gf[ix.F_SOC] / ix.CLIFF
    gf[ix.F_OCV] = open_volts * (fallen if fallen < 1.0 else 1.0)
    most = most_amps(gf[ix.F_SOC], oc[ix.O_CAP], oc[ix.O_TAIL])
    room = oc[ix.O_FULL] - gf[ix.F_OCV] - gf[ix.F_RISE]
    extra, more = 0.0, 0.0
    takes = most + oc[ix.O_IGAS]
    step = 0.01 * abs(i) + 1e-4
    if i > 0.0:
        extra = crowding(i, most, room - i * oc[ix.O_RSTORE], oc[ix.O_VGAS], oc[ix.O_IGAS])
        more = crowding(i + step, most, room - (i + step) * oc[ix.O_RSTORE], oc[ix.O_VGAS], oc[ix.O_IGAS])
    settled = answer(i, gf[ix.F_SOC], oc)
    steep = ((more - extra if i > 0.0 else 0.0) + answer(i + step, gf[ix.F_SOC], oc) - settled) / step
    back = 0.5 + gf[ix.F_YIELD] * (steep if steep > 0.0 else 0.0)
    share = h / (ix.SETTLE + back * h)
    share = share if share < 1.0 else 1.0
    # near full a few millivolts are as good as all its amps: no more at once than these can follow
    moves = gf[ix.F_YIELD] * abs(extra - gf[ix.F_ETA] + settled - gf[ix.F_RISE]) * share
    if moves > 0.5 * takes:
        share = share * 0.5 * takes / moves
    gf[ix.F_ETA] += (extra - gf[ix.F_ETA]) * share
    gf[ix.F_RISE] += (settled - gf[ix.F_RISE]) * share
    joined = gi[ix.I_HOOKED] == 1 and gi[ix.I_PLUGGED] == 1
    if joined and rigs == 1 and (row[ix.C_LABEL] == ix.DIRECT or row[ix.C_LABEL] == ix.DROPS_OUT):
        # the bus hangs on the battery and goes with it at once; what its capacitor takes is the battery's
        v = y[4]
        y[4] += (gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE] - stands) / (oc[ix.O_RSTORE] * gf[ix.F_G])
        sums[ix.S_BATTERY] -= 0.5 * mv[0, ix.M_CAP] * (y[4] * y[4] - v * v)
    if gi[ix.I_FULL] == 0 and i > 0.0 and u >= oc[ix.O_FULL] * 0.9985:
        gi[ix.I_FULL] = 1
        note(events, count, t, ix.E_FULL, 0, u)
    elif gi[ix.I_FULL] == 1 and u < 0.99 * oc[ix.O_FULL]:
        gi[ix.I_FULL] = 0
    _ends(t, u, gi, gf, events, count)
    if oc[ix.O_VHIGH] > 0.0:
        _guard(t, h, i, gi, gf, oc, events, count)


@jit
def _ends(t: float, u: float, gi: I, gf: F, events: F, count: I) -> None:
    """Tell when the battery is full and when it is empty."""
    soc = gf[ix.F_SOC]
    if gi[ix.I_ENDS] != 1 and soc >= ix.FULL:
        gi[ix.I_ENDS] = 1
        note(events, count, t, ix.E_BFULL, 0, u)
    elif gi[ix.I_ENDS] != -1 and soc <= ix.EMPTIED:
        gi[ix.I_ENDS] = -1
        note(events, count, t, ix.E_BEMPTY, 0, u)
    elif (gi[ix.I_ENDS] == 1 and soc < ix.FULL - ix.REARM) or (
        gi[ix.I_ENDS] == -1 and soc > ix.EMPTIED + ix.REARM
    ):
        gi[ix.I_ENDS] = 0


@jit
def _guard(t: float, h: float, i: float, gi: I, gf: F, oc: F, events: F, count: I) -> None:
    """A pack's protection: how long its amps are too many, and when it closes again."""
    state, stands = gi[ix.I_GUARD], gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE]
    closes = False
    if state == ix.CLOSED:
        gf[ix.F_OVER] = gf[ix.F_OVER] + h if abs(i) > oc[ix.O_IOPEN] else 0.0
        if gf[ix.F_OVER] >= ix.TRIP:
            gi[ix.I_GUARD], gf[ix.F_OVER] = ix.AMPS_OPEN, 0.0
            note(events, count, t, ix.E_GAMPS, 0, i)
            battery_joined(gi)
    else:
        gf[ix.F_OVER] += h
        if state == ix.AMPS_OPEN:
            closes = gf[ix.F_OVER] >= ix.WAIT
        elif state == ix.FULL_OPEN or state == ix.GIVES:
            closes = gf[ix.F_OVER] >= ix.REST and stands < oc[ix.O_VHIGHBACK]
        else:
            closes = stands > oc[ix.O_VLOWBACK]
    if closes:
        gi[ix.I_GUARD], gf[ix.F_OVER] = ix.CLOSED, 0.0
        note(events, count, t, ix.E_GCLOSES, 0, stands)
        battery_joined(gi)


@jit
def advance_slow(
    t: float, h: float, y: F, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F, ocv: F, fuses: F,
    each: F, was: F, mid: F, row: F, events: F, count: I, sums: F,
) -> None:  # fmt: skip
    """Advance what changes slowly over a step just taken. each: (rigs, 4) means of crank speed, amps squared, amps and
    friction watts of each rig; was, mid, row: channels at its start, middle and end."""
    for k in range(rigs):
        felt, want = su[k, ix.U_WAVG], want_of(k, du, su, mv, geo)
        share = h / (ix.FILTER_W + 0.5 * h)
        su[k, ix.U_WAVG] += (each[k, 0] - felt) * (share if share < 1.0 else 1.0)
        felt = 0.5 * (felt + su[k, ix.U_WAVG])
        if du[k, ix.D_HOLDS] == 1 and du[k, ix.D_PEDALS] == 1:
            j_now = du[k, ix.D_GEAR]
            j = (
                geo[k, j_now, ix.G_JC]
                + geo[k, j_now, ix.G_GAIN] * geo[k, j_now, ix.G_RATIO] * geo[k, j_now, ix.G_JS]
            )
            aim = su[k, ix.U_TRIM] + j / (12.0 * mv[k, ix.M_REACT] ** 2) * (su[k, ix.U_WANT] - felt) * (
                h
                if h < mv[k, ix.M_REACT]
                else mv[k, ix.M_REACT]  # no more at once than in the time the legs take to answer
            )
            most = 4.0 * mv[k, ix.M_PEAK] / mv[k, ix.M_WSPRINT]
            su[k, ix.U_TRIM] = 0.0 if aim < 0.0 else (most if aim > most else aim)
        want = 0.5 * (want + want_of(k, du, su, mv, geo))
        su[k, ix.U_PUSH1], su[k, ix.U_PUSH] = lag(
            su[k, ix.U_PUSH1], su[k, ix.U_PUSH], want, 0.5 * mv[k, ix.M_REACT], h
        )
        # The reserve feels the mean of the turn: what the push within it swings above critical power is not spent
        p = 0.5 * su[k, ix.U_PAVG]
        su[k, ix.U_PAVG] = mean_torque(k, su[k, ix.U_WAVG], du, su, mv) * su[k, ix.U_WAVG]
        p += 0.5 * su[k, ix.U_PAVG]
        cp, full = mv[k, ix.M_CP], mv[k, ix.M_WORK]
        if p > cp:
            su[k, ix.U_LEFT] -= (p - cp) * h
            if su[k, ix.U_LEFT] < 0.0:
                su[k, ix.U_LEFT] = 0.0
            if su[k, ix.U_LEFT] <= ix.EMPTY * full and du[k, ix.D_EMPTY] == 0:
                du[k, ix.D_EMPTY] = 1
                note(events, count, t, ix.E_EMPTY, k, p)
        elif full > 0.0:
            su[k, ix.U_LEFT] = full - (full - su[k, ix.U_LEFT]) * math.exp(-(cp - p) * h / full)
            if su[k, ix.U_LEFT] > 2.0 * ix.EMPTY * full:
                du[k, ix.D_EMPTY] = 0
        if du[k, ix.D_AWAKE] == 1 and su[k, ix.U_SOFT] < 1.0:
            soft = su[k, ix.U_SOFT] + h / mv[k, ix.M_SOFT]
            su[k, ix.U_SOFT] = soft if soft < 1.0 - 1e-9 else 1.0
        if mv[k, ix.M_HEATS] > 0.0:
            r_now = mv[k, ix.M_RCOLD] * (1.0 + 0.00393 * (su[k, ix.U_TW] - 293.15))
            watts = each[k, 1] * r_now + mv[k, ix.M_BRUSH] * abs(each[k, 2])
            aim = su[k, ix.U_TC] + watts * mv[k, ix.M_RTHIN]
            was_w = su[k, ix.U_TW]
            su[k, ix.U_TW] = aim + (was_w - aim) * math.exp(-h / (mv[k, ix.M_RTHIN] * mv[k, ix.M_CWIND]))
            # what left the winding over the step went into the case, whatever the length of the step
            inward = watts - mv[k, ix.M_CWIND] * (su[k, ix.U_TW] - was_w) / h
            aim = mv[k, ix.M_AIR] + (each[k, 3] + inward) * mv[k, ix.M_RTHOUT]
            su[k, ix.U_TC] = aim + (su[k, ix.U_TC] - aim) * math.exp(
                -h / (mv[k, ix.M_RTHOUT] * mv[k, ix.M_CCASE])
            )
            magnet = mv[k, ix.M_AIR] + mv[k, ix.M_MSHARE] * (su[k, ix.U_TC] - mv[k, ix.M_AIR])
            su[k, ix.U_K] = mv[k, ix.M_KCOLD] * (1.0 + mv[k, ix.M_MAGNET] * (magnet - 293.15))
            su[k, ix.U_R] = (
                q[k, ix.Q_R]
                - mv[k, ix.M_RNOW]
                + mv[k, ix.M_RCOLD] * (1.0 + 0.00393 * (su[k, ix.U_TW] - 293.15))
            )
        rate = fuse_rate(math.sqrt(each[k, 1]), 0, fuses)
        su[k, ix.U_FUSE] += rate * h
        if su[k, ix.U_FUSE] >= 1.0 and du[k, ix.D_DIODE] != 2:
            du[k, ix.D_DIODE] = 2
            du[k, ix.D_CONDUCTS] = 0
            sums[ix.S_SWITCHED] += 0.5 * mv[k, ix.M_IND] * y[5 * k + 3] * y[5 * k + 3]
            y[5 * k + 3] = 0.0
            note(events, count, t, ix.E_FUSE, k, math.sqrt(each[k, 1]))
    s = 12 * rigs
    i_batt, u = row[s + 1], row[s]
    if oc[ix.O_BATTERY] > 0.0:
        _store(t, h, i_batt, u, y, rigs, mv, gi, gf, oc, ocv, row, events, count, sums)
    _fuse(1, was[4], mid[4], row[4], h, t, gf, gi, ix.F_DBOARD, ix.I_FUSE_BOARD, fuses, events, count)
    _fuse(
        2,
        was[s + 1],
        mid[s + 1],
        i_batt,
        h,
        t,
        gf,
        gi,
        ix.F_DBATTERY,
        ix.I_FUSE_BATTERY,
        fuses,
        events,
        count,
    )
    if u > 0.5 and was[s] > 0.5 and mid[s] > 0.5:
        _fuse(
            3, was[s + 2] / was[s], mid[s + 2] / mid[s], row[s + 2] / u, h, t, gf, gi, ix.F_DLOAD, ix.I_FUSE_LOAD, fuses,
            events, count,
        )  # fmt: skip
    if gi[ix.I_FUSE_BOARD] == 1:
        gi[ix.I_PLUGGED] = 0
    if gi[ix.I_FUSE_BATTERY] == 1:
        battery_joined(gi)
    if gi[ix.I_FUSE_LOAD] == 1:
        gi[ix.I_SWITCH], gi[ix.I_RUNS] = 0, 0
        y[5 * rigs] = 0.0


@jit
def _fuse(
    which: int,
    i0: float,
    i_mid: float,
    i: float,
    h: float,
    t: float,
    gf: F,
    gi: I,
    slot: int,
    flag: int,
    fuses: F,
    events: F,
    count: I,
) -> None:
    if gi[flag] == 1:
        return
    gf[slot] += (
        h
        * (fuse_rate(i0, which, fuses) + 4.0 * fuse_rate(i_mid, which, fuses) + fuse_rate(i, which, fuses))
        / 6.0
    )
    if gf[slot] >= 1.0:
        gi[flag] = 1
        note(events, count, t, ix.E_FUSE, which, i)


@jit
def _longest_of_store(h: float, i: float, gi: I, gf: F, oc: F) -> float:
    """The longest step that the battery allows: to where it is told full or empty, and no great part of what it holds."""
    soc = gf[ix.F_SOC]
    rate = (
        kept_amps(i, most_amps(soc, oc[ix.O_CAP], oc[ix.O_TAIL]), oc[ix.O_ETA], oc[ix.O_ETATAIL])
        / oc[ix.O_CAP]
    )
    if rate > 0.0:
        left = (ix.FULL - soc) / rate + 1e-6
        if soc < ix.FULL and gi[ix.I_ENDS] != 1 and left < h:
            h = left
    elif rate < 0.0:
        left = (soc - ix.EMPTIED) / -rate + 1e-6
        if soc > ix.EMPTIED and gi[ix.I_ENDS] != -1 and left < h:
            h = left
        part = 0.1 * (soc + 1e-3 * ix.CLIFF) / -rate
        h = h if h < part else part
    if oc[ix.O_VHIGH] > 0.0:
        if gi[ix.I_GUARD] == ix.CLOSED and abs(i) > oc[ix.O_IOPEN]:
            left = ix.TRIP - gf[ix.F_OVER] + 1e-7
            h = h if h < left else left
        elif gi[ix.I_GUARD] == ix.AMPS_OPEN:
            left = ix.WAIT - gf[ix.F_OVER] + 1e-7
            h = h if h < left else left
    return h


@jit
def longest_step(
    t: float, h: float, until: float, y: F, rigs: int, mv: F, du: I, su: F, gi: I, gf: F, oc: F, fuses: F, row: F,
    geo: F, table: F,
) -> float:  # fmt: skip
    """The longest step that slow states, timers and the script allow."""
    for k in range(rigs):
        if (mv[k, ix.M_RIPPLE] > 0.0 or table.shape[1] > 0) and du[k, ix.D_PEDALS] == 1:
            part = (ix.TABLE_STEP if table.shape[1] > 0 else ix.TURN_STEP) / (abs(y[5 * k + 1]) + 1.0)
            h = h if h < part else part
        if du[k, ix.D_AWAKE] == 1 and su[k, ix.U_SOFT] < 1.0:
            part = mv[k, ix.M_SOFT] / 8.0
            left = (1.0 - su[k, ix.U_SOFT]) * mv[k, ix.M_SOFT]
            part = part if part < left else left
            h = h if h < part else part
        want = want_of(k, du, su, mv, geo)
        if abs(want - su[k, ix.U_PUSH]) > 0.01 * (abs(want) + 0.1):
            part = 0.1 * mv[k, ix.M_REACT]
            h = h if h < part else part
        spare = su[k, ix.U_LEFT] - ix.EMPTY * mv[k, ix.M_WORK]
        if su[k, ix.U_PAVG] > mv[k, ix.M_CP] and spare > 0.0:
            left = spare / (su[k, ix.U_PAVG] - mv[k, ix.M_CP]) + 1e-6
            h = h if h < left else left
        rate = fuse_rate(y[5 * k + 3], 0, fuses)
        if rate > 0.0 and su[k, ix.U_FUSE] < 1.0:
            part = 0.05 / rate
            left = (1.0 - su[k, ix.U_FUSE]) / rate * 1.0001 + 1e-7
            part = part if part < left else left
            h = h if h < part else part
    s = 12 * rigs
    if oc[ix.O_BATTERY] > 0.0:
        h = _longest_of_store(h, row[s + ix.H_ABATT], gi, gf, oc)
    for which in range(1, 4):
        amps = (
            row[4]
            if which == 1
            else (row[s + 1] if which == 2 else (row[s + 2] / row[s] if row[s] > 0.5 else 0.0))
        )
        rate = fuse_rate(amps, which, fuses)
        if rate > 0.0:
            done = gf[ix.F_DBOARD] if which == 1 else (gf[ix.F_DBATTERY] if which == 2 else gf[ix.F_DLOAD])
            if done < 1.0:
                part = 0.05 / rate
                left = (1.0 - done) / rate * 1.0001 + 1e-7
                part = part if part < left else left
                h = h if h < part else part
    if gi[ix.I_RUNS] == 1 and oc[ix.O_SURGE] > 1.0 and t - gf[ix.F_TON] < 6.0 * oc[ix.O_TSURGE]:
        part = oc[ix.O_TSURGE] / 8.0
        h = h if h < part else part
    if gi[ix.I_SWITCH] == 1 and gi[ix.I_RUNS] == 0:
        wait = gf[ix.F_TQUIT] + oc[ix.O_RETRY] - t
        if 0.0 < wait < h:
            h = wait
    if t + h > until:
        h = until - t
    return h


@jit
def try_load(
    t: float, rigs: int, q: F, du: I, su: F, gi: I, gf: F, oc: F, u: float, events: F, count: I
) -> bool:
    """Whether a load that waits comes on now."""
    if (
        gi[ix.I_SWITCH] == 0
        or gi[ix.I_RUNS] == 1
        or gi[ix.I_PLUGGED] == 0
        or t < gf[ix.F_TQUIT] + oc[ix.O_RETRY] - 1e-9
    ):
        return False
    backed = oc[ix.O_BATTERY] > 0.0 and gi[ix.I_HOOKED] == 1
    alone = rigs == 1 and int(q[0, ix.Q_KIND]) != ix.NONE and not backed
    if alone and (du[0, ix.D_AWAKE] == 0 or su[0, ix.U_SOFT] < 1.0):
        return False
    again = oc[ix.O_RESTART] if oc[ix.O_RESTART] > oc[ix.O_QUIT] and gf[ix.F_TQUIT] > -1e8 else oc[ix.O_QUIT]
    limit = again if backed or rigs > 1 or int(q[0, ix.Q_KIND]) != ix.NONE else ix.RESTART * oc[ix.O_QUIT]
    if u < limit:
        return False
    gi[ix.I_RUNS] = 1
    gf[ix.F_TON] = t
    note(events, count, t, ix.E_RESTARTS, 0, u)
    return True
