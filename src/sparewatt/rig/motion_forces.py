"""Forces of the moving rig: what each state's rate of change is, and what can be read off at a moment.

State of rig k, five numbers from 5 k: crank angle, crank speed, machine speed, machine amps, bus volts; after the rigs the
tool's amps and speed. Ways of being (freewheel engaged, diode conducting, board awake...) are whole numbers in `du` and
`gi`, slow states (push, reserve, temperatures, charge) floats in `su` and `gf`. Compiled by `rig.compiling.jit`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit, small
from sparewatt.rig.motion_boards import conduct_load
from sparewatt.rig.motion_electric import electric
from sparewatt.rig.motion_store import kept_amps, most_amps

__all__ = ["clamp_amps", "mean_torque", "observe", "rates", "shape_at"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@small
def shape_at(k: int, theta: float, ripple: float, table: F) -> float:
    """Push at a crank angle over its mean of the turn: two lobes, or a table over one turn (straight lines, closed)."""
    n = table.shape[1]
    if n == 0:
        return 1.0 - ripple * math.cos(2.0 * theta)
    x = theta / (2.0 * math.pi)
    x = (x - math.floor(x)) * n
    at = int(x)
    if at >= n:
        at = n - 1
    left, right = table[k, at], table[k, at + 1 if at + 1 < n else 0]
    value: float = left + (right - left) * (x - at)
    return value


@small
def mean_torque(k: int, w: float, du: I, su: F, mv: F) -> float:
    """Mean push of the turn at a crank speed, N*m: what the rider means to push, within what the legs still have."""
    if du[k, ix.D_PEDALS] == 0 or du[k, ix.D_HERE] == 0:
        return 0.0
    speed = w if w > 0.0 else 0.0
    top = mv[k, ix.M_WTOP] if du[k, ix.D_HOLDS] == 0 else mv[k, ix.M_WSPRINT]
    torque = su[k, ix.U_PUSH] * (1.0 - speed / top)
    best = mv[k, ix.M_PEAK]
    if mv[k, ix.M_TIRES] > 0.0 and mv[k, ix.M_WORK] > 0.0:
        share = su[k, ix.U_LEFT] / mv[k, ix.M_WORK]
        share = 0.0 if share < 0.0 else (1.0 if share > 1.0 else share)
        best = mv[k, ix.M_CP] + (mv[k, ix.M_PEAK] - mv[k, ix.M_CP]) * share
    most = 4.0 * best / mv[k, ix.M_WSPRINT] * (1.0 - speed / mv[k, ix.M_WSPRINT])
    if torque > most:
        torque = most
    return torque if torque > 0.0 else 0.0


@small
def flux(i: float, oc: F) -> float:
    """Volts per speed (and torque per amp) of the tool's motor at a current."""
    if oc[ix.O_MOTOR] == 1.0:
        value: float = oc[ix.O_MK] * i / (1.0 + i / oc[ix.O_MSAT])
        return value
    return float(oc[ix.O_MK])


@small
def clamp_amps(k: int, v: float, mv: F, du: I) -> float:
    """Amps of the over-voltage clamp at bus volts v."""
    v_on = mv[k, ix.M_VCLAMP]
    if not v_on < 1e9 or v <= v_on or du[k, ix.D_CLAMP] == 0:
        return 0.0
    share = (v - v_on) / (ix.CLAMP_BAND * v_on)
    value: float = (share if share < 1.0 else 1.0) * v / mv[k, ix.M_RCLAMP]
    return value


@small
def shaft_ask(k: int, w: float, i: float, k_emf: float, q: F) -> float:
    """Torque the machine asks of its shaft; negative where the battery drives it."""
    dry = w / ix.STILL if abs(w) < ix.STILL else (1.0 if w > 0.0 else -1.0)
    value: float = (k_emf - q[k, ix.Q_RSPEED] * i) * i + q[k, ix.Q_TC] * dry + q[k, ix.Q_B] * w
    return value


@small
def train(
    k: int, theta: float, w_c: float, w_g: float, i: float, du: I, su: F, mv: F, q: F, geo: F, table: F
) -> tuple[float, float, float, float]:
    """(crank acceleration, machine acceleration, torque passed at the machine's shaft, rider torque)."""
    j = du[k, ix.D_GEAR]
    push = mean_torque(k, w_c, du, su, mv) * shape_at(k, theta, mv[k, ix.M_RIPPLE], table)
    ahead = (
        geo[k, j, ix.G_DB] * (w_c / 0.02 if abs(w_c) < 0.02 else (1.0 if w_c > 0.0 else -1.0))
        + geo[k, j, ix.G_SB] * w_c
    )
    if du[k, ix.D_PEDALS] == 0 or du[k, ix.D_HERE] == 0:
        push = -geo[k, j, ix.G_JC] * w_c / ix.LEGS_STOP if (mv[k, ix.M_FREE] > 0.0 or w_c < 0.0) else 0.0
    dry = w_g / ix.STILL if abs(w_g) < ix.STILL else (1.0 if w_g > 0.0 else -1.0)
    ask = shaft_ask(k, w_g, i, su[k, ix.U_K], q) + geo[k, j, ix.G_DA] * dry + geo[k, j, ix.G_SA] * w_g
    if du[k, ix.D_ENGAGED] == 0:
        return (push - ahead) / geo[k, j, ix.G_JC], -ask / geo[k, j, ix.G_JS], 0.0, push
    n, gain = geo[k, j, ix.G_RATIO], geo[k, j, ix.G_GAIN]
    accel = (push - ahead - gain * ask) / (geo[k, j, ix.G_JC] + gain * n * geo[k, j, ix.G_JS])
    passed = ask + geo[k, j, ix.G_JS] * n * accel
    if passed < 0.0 and mv[k, ix.M_FREE] == 0.0:  # torque comes back from the machine: losses turn round
        gain = n * n / gain
        accel = (push - ahead - gain * ask) / (geo[k, j, ix.G_JC] + gain * n * geo[k, j, ix.G_JS])
        passed = ask + geo[k, j, ix.G_JS] * n * accel
    return accel, n * accel, passed, push


@small
def tool_torque(w: float, oc: F, gf: F) -> float:
    """Torque that holds the tool back: brushes and bearings, its fan, and the work."""
    dry = w / 2.0 if w < 2.0 else 1.0
    value: float = (oc[ix.O_MTC] + gf[ix.F_WORK] * oc[ix.O_MTOOL]) * dry + oc[ix.O_MFAN] * w * w
    return value


@small
def rates(
    y: F, rigs: int, q: F, mv: F, geo: F, table: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, dy: F
) -> None:
    """Rate of change of every fast state."""
    electric(y, rigs, q, mv, du, su, gi, gf, oc, res)
    for k in range(rigs):
        b = 5 * k
        j = du[k, ix.D_GEAR]
        w_c = y[b + 1]
        w_g = geo[k, j, ix.G_RATIO] * w_c if du[k, ix.D_ENGAGED] == 1 else y[b + 2]
        i = y[b + 3] if du[k, ix.D_CONDUCTS] != 0 else 0.0
        v = y[b + 4]
        a_c, a_g, passed, push = train(k, y[b], w_c, w_g, i, du, su, mv, q, geo, table)
        res[2 + 3 * rigs + 2 * k], res[3 + 3 * rigs + 2 * k] = passed, push
        dy[b] = w_c
        dy[b + 1] = a_c
        dy[b + 2] = a_g
        if du[k, ix.D_CONDUCTS] == 0:
            dy[b + 3] = 0.0
        else:
            drop = q[k, ix.Q_DROP] if du[k, ix.D_CONDUCTS] > 0 else -mv[k, ix.M_BRUSH]
            dy[b + 3] = (su[k, ix.U_K] * w_g - drop - (su[k, ix.U_R] + q[k, ix.Q_RSPEED] * w_g) * i - v) / mv[
                k, ix.M_IND
            ]
        out = res[2 + 3 * k] + clamp_amps(k, v, mv, du) + mv[k, ix.M_BLEED] * v
        dy[b + 4] = (i - out) / mv[k, ix.M_CAP]
    t = 5 * rigs
    dy[t], dy[t + 1] = 0.0, 0.0
    if oc[ix.O_MOTOR] > 0.0:
        i, w = y[t], y[t + 1]
        if gi[ix.I_RUNS] == 1 and gi[ix.I_PLUGGED] == 1:
            dy[t] = (
                res[1] - oc[ix.O_MBRUSH] * (i / 0.02 if i < 0.02 else 1.0) - oc[ix.O_MR] * i - flux(i, oc) * w
            ) / oc[ix.O_ML]
            if i <= 0.0 and dy[t] < 0.0:
                dy[t] = 0.0
        dy[t + 1] = (flux(i, oc) * i - tool_torque(w, oc, gf)) / oc[ix.O_MJ]
        if w <= 0.0 and dy[t + 1] < 0.0:
            dy[t + 1] = 0.0


@jit
def observe(
    y: F, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, row: F, power: F
) -> None:
    """What can be read at a moment: channels into `row`, watts of every ledger line into `power`.

    Reads `res` as `rates` left it for the same states.
    """
    for n in range(ix.N_SUMS):
        power[n] = 0.0
    u = res[0]
    pushed = 0.0
    for k in range(rigs):
        b = 5 * k
        j = du[k, ix.D_GEAR]
        w_c, v = y[b + 1], y[b + 4]
        w_g = geo[k, j, ix.G_RATIO] * w_c if du[k, ix.D_ENGAGED] == 1 else y[b + 2]
        i = y[b + 3] if du[k, ix.D_CONDUCTS] != 0 else 0.0
        passed, push = res[2 + 3 * rigs + 2 * k], res[3 + 3 * rigs + 2 * k]
        i_in, i_out = res[2 + 3 * k], res[3 + 3 * k]
        i_clamp = clamp_amps(k, v, mv, du)
        if du[k, ix.D_PEDALS] == 1 and du[k, ix.D_HERE] == 1:
            power[ix.S_RIDER] += push * w_c
        else:
            power[ix.S_LEGS] -= push * w_c
            push = 0.0
        gain = geo[k, j, ix.G_GAIN]
        if passed < 0.0 and mv[k, ix.M_FREE] == 0.0:
            gain = geo[k, j, ix.G_RATIO] * geo[k, j, ix.G_RATIO] / gain
        through = (gain - geo[k, j, ix.G_RATIO]) * passed * w_c if du[k, ix.D_ENGAGED] == 1 else 0.0
        ahead = (
            geo[k, j, ix.G_DB] * (w_c / 0.02 if abs(w_c) < 0.02 else (1.0 if w_c > 0.0 else -1.0))
            + geo[k, j, ix.G_SB] * w_c
        )
        dry = w_g / ix.STILL if abs(w_g) < ix.STILL else (1.0 if w_g > 0.0 else -1.0)
        power[ix.S_DRIVE] += (
            through + ahead * w_c + (geo[k, j, ix.G_DA] * dry + geo[k, j, ix.G_SA] * w_g) * w_g
        )
        power[ix.S_FRICTION] += (q[k, ix.Q_TC] * dry + q[k, ix.Q_B] * w_g) * w_g
        r_wind = mv[k, ix.M_RNOW] + (su[k, ix.U_R] - q[k, ix.Q_R])
        power[ix.S_COPPER] += r_wind * i * i
        power[ix.S_WIRE] += (su[k, ix.U_R] - r_wind) * i * i
        drop = q[k, ix.Q_DROP] if du[k, ix.D_CONDUCTS] > 0 else -mv[k, ix.M_BRUSH]
        power[ix.S_DROPS] += drop * i
        power[ix.S_BLEED] += mv[k, ix.M_BLEED] * v * v
        power[ix.S_CLAMP] += i_clamp * v
        source = u + mv[k, ix.M_LEAD] * i_out if rigs > 1 else u
        label = int(res[4 + 3 * k])
        kind = int(q[k, ix.Q_KIND])
        if kind == ix.NONE and rigs > 1:
            source = v
        if i_in < 0.0 and kind != ix.NONE:
            power[ix.S_BOARD] += (v - u) * i_in
            pushed += i_in
        else:
            power[ix.S_BOARD] += v * i_in - source * i_out
            pushed += i_out
        power[ix.S_LEAD] += (source - u) * i_out
        c = 12 * k
        row[c + ix.C_WC], row[c + ix.C_WS], row[c + ix.C_AMPS], row[c + ix.C_VBUS] = w_c, w_g, i, v
        row[c + ix.C_AOUT], row[c + ix.C_PRIDER], row[c + ix.C_TCRANK] = i_out, push * w_c, push
        row[c + ix.C_RESERVE], row[c + ix.C_TW] = su[k, ix.U_LEFT], su[k, ix.U_TW]
        row[c + ix.C_TM] = mv[k, ix.M_AIR] + mv[k, ix.M_MSHARE] * (su[k, ix.U_TC] - mv[k, ix.M_AIR])
        row[c + ix.C_PCLAMP] = i_clamp * v
        row[c + ix.C_LABEL] = float(label)
    plugged = gi[ix.I_PLUGGED] == 1
    running = gi[ix.I_RUNS] == 1 and plugged
    i_batt = 0.0
    if oc[ix.O_BATTERY] > 0.0 and gi[ix.I_HOOKED] == 1 and plugged:
        i_batt = (u - gf[ix.F_OCV] - gf[ix.F_ETA] - gf[ix.F_RISE]) / oc[ix.O_RSTORE]
        power[ix.S_BWIRE] = oc[ix.O_RBW] * i_batt * i_batt
        power[ix.S_BATTERY] = (u - oc[ix.O_RBW] * i_batt) * i_batt
        if i_batt > 0.0:
            most = most_amps(gf[ix.F_SOC], oc[ix.O_CAP], oc[ix.O_TAIL])
            kept = kept_amps(i_batt, most, oc[ix.O_ETA], oc[ix.O_ETATAIL])
            power[ix.S_GAS] = (u - oc[ix.O_RBW] * i_batt) * (i_batt - kept)
            power[ix.S_BATTERY] -= power[ix.S_GAS]
    if plugged:
        power[ix.S_FIELD] = oc[ix.O_FIELD] if u > ix.LEAST_VOLTS else 0.0
    p_draw, p_load = 0.0, 0.0
    t = 5 * rigs
    if running:
        size = gf[ix.F_SURGE]
        if oc[ix.O_MOTOR] > 0.0:
            i = y[t]
            if int(oc[ix.O_MON]) == 1:
                p_load = res[1] * i
                p_draw = p_load + oc[ix.O_OL0] + oc[ix.O_OL1] * p_load + oc[ix.O_OL2] * p_load * p_load
                p_draw = conduct_load(u, 0.0, 0.0, p_draw) * u
            else:
                p_draw = p_load = u * i
        else:
            p_draw = (conduct_load(u, size * oc[ix.O_LA], size * oc[ix.O_LG], size * oc[ix.O_LP])) * u
            p_load = p_draw
            if oc[ix.O_LWATTS] > 0.0:
                p_load = size * oc[ix.O_LWATTS]
            elif oc[ix.O_RLOAD] > 0.0 and u > 0.0:
                p_load -= oc[ix.O_RLOAD] * (p_draw / u) ** 2
            if u <= ix.LEAST_VOLTS:
                p_load = 0.0
    if (
        rigs == 1
        and du[0, ix.D_AWAKE] == 1
        and int(q[0, ix.Q_KIND]) != ix.NONE
        and (oc[ix.O_MOTOR] == 0.0 or int(oc[ix.O_MON]) != 0)
    ):
        ramp = res[8]  # behind a board that is still rising everything gets its share only
        p_draw, p_load, i_batt = ramp * p_draw, ramp * p_load, ramp * i_batt
        power[ix.S_BATTERY], power[ix.S_BWIRE] = ramp * power[ix.S_BATTERY], ramp * power[ix.S_BWIRE]
        power[ix.S_GAS] = ramp * power[ix.S_GAS]
        power[ix.S_FIELD] = ramp * power[ix.S_FIELD]
    got = u * pushed - power[ix.S_FIELD]
    if (
        rigs > 1 and gf[ix.F_G] <= 0.0 and p_draw > got >= 0.0
    ):  # fixed watts that cannot be had: what there is
        p_draw, p_load = got, p_load * got / p_draw
    power[ix.S_LOAD] = p_draw
    # What is pushed out and not taken: nothing but what a switching costs; tests hold it near zero
    power[ix.S_SWITCHED] = u * pushed - (p_draw + u * i_batt + power[ix.S_FIELD])
    s = 12 * rigs
    row[s + ix.H_VOUT], row[s + ix.H_ABATT], row[s + ix.H_PLOAD], row[s + ix.H_SOC] = (
        u,
        i_batt,
        p_load,
        gf[ix.F_SOC],
    )
    row[s + ix.H_TAMPS], row[s + ix.H_TSPEED] = y[t], y[t + 1]
    row[s + ix.H_PBATT] = power[ix.S_BATTERY] + power[ix.S_GAS]
    row[s + ix.H_VBATT] = (
        gf[ix.F_OCV] + gf[ix.F_ETA] + gf[ix.F_RISE] + (oc[ix.O_RSTORE] - oc[ix.O_RBW]) * i_batt
    )
    row[s + ix.H_SERVED] = (
        1.0
        if (running and u >= oc[ix.O_QUIT] and u <= oc[ix.O_UMAX]) or (oc[ix.O_LWATTS] < 0.0 and i_batt > 0.0)
        else 0.0
    )
