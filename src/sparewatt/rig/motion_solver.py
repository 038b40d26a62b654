"""One step of the moving rig: Jacobian, factors, stages and the interpolation between step ends.

The six-stage, stiffly accurate Rosenbrock pair of order 4(3) known as RODAS [rodas]; the Jacobian from formulas for one
rig, by differences otherwise, over the states that move in the present way of being.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit, small
from sparewatt.rig.motion_electric import electric
from sparewatt.rig.motion_forces import clamp_amps, mean_torque, rates, shape_at

__all__ = ["active", "between", "follow", "lowest", "step"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@jit
def active(rigs: int, du: I, gi: I, oc: F, index: I) -> int:
    """Which states move in the present way of being."""
    n = 0
    for k in range(rigs):
        b = 5 * k
        index[n], index[n + 1] = b, b + 1
        n += 2
        if du[k, ix.D_ENGAGED] == 0:
            index[n] = b + 2
            n += 1
        if du[k, ix.D_CONDUCTS] != 0:
            index[n] = b + 3
            n += 1
        index[n] = b + 4
        n += 1
    if oc[ix.O_MOTOR] > 0.0:
        if gi[ix.I_RUNS] == 1:
            index[n] = 5 * rigs
            n += 1
        index[n] = 5 * rigs + 1
        n += 1
    return n


@jit
def follow(y: F, rigs: int, geo: F, du: I) -> None:
    """The machine turns with the crank while the freewheel is engaged."""
    for k in range(rigs):
        if du[k, ix.D_ENGAGED] == 1:
            y[5 * k + 2] = geo[k, du[k, ix.D_GEAR], ix.G_RATIO] * y[5 * k + 1]


@jit
def _jacobian_one(
    y: F,
    q: F,
    mv: F,
    geo: F,
    table: F,
    du: I,
    su: F,
    gi: I,
    gf: F,
    oc: F,
    res: F,
    y2: F,
    jac: F,
) -> None:
    """The Jacobian of one rig without a tool, from its formulas; only the board's law is differenced. Reads `res` as
    `rates` left it for the same states."""
    j = du[0, ix.D_GEAR]
    theta, w_c, v = y[0], y[1], y[4]
    turns = du[0, ix.D_ENGAGED] == 1
    flows = du[0, ix.D_CONDUCTS] != 0
    ratio, gain, j_c, j_s = (
        geo[0, j, ix.G_RATIO],
        geo[0, j, ix.G_GAIN],
        geo[0, j, ix.G_JC],
        geo[0, j, ix.G_JS],
    )
    w_g = ratio * w_c if turns else y[2]
    i = y[3] if flows else 0.0
    passed = res[2 + 3]
    push = mean_torque(0, w_c, du, su, mv)
    if du[0, ix.D_PEDALS] == 0 or du[0, ix.D_HERE] == 0:
        d_push, d_turn = (-j_c / ix.LEGS_STOP if (mv[0, ix.M_FREE] > 0.0 or w_c < 0.0) else 0.0), 0.0
    else:
        shape = shape_at(0, theta, mv[0, ix.M_RIPPLE], table)
        d_turn = push * (shape_at(0, theta + 1e-6, mv[0, ix.M_RIPPLE], table) - shape) * 1e6
        d_push = (mean_torque(0, w_c + 1e-6, du, su, mv) - push) * 1e6 * shape
    d_ahead = geo[0, j, ix.G_SB] + (geo[0, j, ix.G_DB] / 0.02 if abs(w_c) < 0.02 else 0.0)
    d_ask = q[0, ix.Q_B] + geo[0, j, ix.G_SA]
    if abs(w_g) < ix.STILL:
        d_ask += (q[0, ix.Q_TC] + geo[0, j, ix.G_DA]) / ix.STILL
    d_amps = su[0, ix.U_K] - 2.0 * q[0, ix.Q_RSPEED] * i
    n = 4 + (0 if turns else 1) - (0 if flows else 1)
    for r in range(n):
        for c in range(n):
            jac[r, c] = 0.0
    at_i = 2 if turns else 3
    at_v = n - 1
    jac[0, 1] = 1.0
    if turns:
        if passed < 0.0 and mv[0, ix.M_FREE] == 0.0:
            gain = ratio * ratio / gain
        inertia = j_c + gain * ratio * j_s
        jac[1, 0] = d_turn / inertia
        jac[1, 1] = (d_push - d_ahead - gain * ratio * d_ask) / inertia
        if flows:
            jac[1, at_i] = -gain * d_amps / inertia
    else:
        jac[1, 0] = d_turn / j_c
        jac[1, 1] = (d_push - d_ahead) / j_c
        jac[2, 2] = -d_ask / j_s
        if flows:
            jac[2, at_i] = -d_amps / j_s
    if flows:
        coil = mv[0, ix.M_IND]
        jac[at_i, 1 if turns else 2] = (
            (su[0, ix.U_K] - q[0, ix.Q_RSPEED] * i) * (ratio if turns else 1.0) / coil
        )
        jac[at_i, at_i] = -(su[0, ix.U_R] + q[0, ix.Q_RSPEED] * w_g) / coil
        jac[at_i, at_v] = -1.0 / coil
        jac[at_v, at_i] = 1.0 / mv[0, ix.M_CAP]
    before, label = res[2], res[4]
    for s in range(y.shape[0]):
        y2[s] = y[s]
    step = 1e-7 * (abs(v) + 1.0)
    y2[4] = v + step
    electric(y2, 1, q, mv, du, su, gi, gf, oc, res)
    if (
        res[4] != label
    ):  # the board passes to another way of running just there: a slope across the jump is none
        step = -step
        y2[4] = v + step
        electric(y2, 1, q, mv, du, su, gi, gf, oc, res)
    slope = (res[2] - before + clamp_amps(0, v + step, mv, du) - clamp_amps(0, v, mv, du)) / step
    jac[at_v, at_v] = -(slope + mv[0, ix.M_BLEED]) / mv[0, ix.M_CAP]


@small
def _labels(rigs: int, res: F) -> float:
    """The ways of running of all boards as one number."""
    total = 0.0
    for k in range(rigs):
        total = 10.0 * total + res[4 + 3 * k]
    return total


@jit
def _jacobian(
    y: F, f0: F, n: int, index: I, rigs: int, q: F, mv: F, geo: F, table: F, du: I, su: F, gi: I, gf: F, oc: F, res: F,
    y2: F, f2: F, jac: F,
) -> None:  # fmt: skip
    """The Jacobian over the moving states by forward differences.

    The states of one rig form a chain: angle, crank, machine, amps, volts, tool's amps, tool's speed, each touching only
    its neighbours. So every third of them can be moved at once, and those of several rigs together: on a shared bus rigs
    touch each other by their volts alone. Volts there, and a tool, are moved one by one.
    """
    labels = _labels(rigs, res)
    if rigs > 1:
        for r in range(n):
            for c in range(n):
                jac[r, c] = 0.0
    for turn in range(3 + (n if rigs > 1 else 0)):
        if turn >= 3 and not _alone(index[turn - 3], rigs):
            continue
        size = 1e-7
        for _turn in range(2):
            for s in range(y.shape[0]):
                y2[s] = y[s]
            at = -1
            for j in range(n):
                at = 0 if index[j] % 5 == 0 and index[j] < 5 * rigs and rigs > 1 else at + 1
                if _moves(j, at, turn, index[j], rigs):
                    y2[index[j]] += size * (abs(y[index[j]]) + 1.0)
            follow(y2, rigs, geo, du)
            rates(y2, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, f2)
            if _labels(rigs, res) == labels:
                break
            size = (
                -size
            )  # a board passes to another way of running just there: a slope across the jump is none
        at = -1
        for j in range(n):
            at = 0 if index[j] % 5 == 0 and index[j] < 5 * rigs and rigs > 1 else at + 1
            if not _moves(j, at, turn, index[j], rigs):
                continue
            step = size * (abs(y[index[j]]) + 1.0)
            from_, to = (0, n) if turn >= 3 else (j - 1 if at > 0 else j, j + 2 if j + 2 < n else n)
            for r in range(from_, to):
                jac[r, j] = (f2[index[r]] - f0[index[r]]) / step


@small
def _alone(s: int, rigs: int) -> bool:
    """Whether a state of several rigs is moved by itself: volts on the bus, and what belongs to a tool."""
    return s >= 5 * rigs or s % 5 == 4


@small
def _moves(j: int, at: int, turn: int, s: int, rigs: int) -> bool:
    """Whether a state, the at-th of its chain, is moved in this turn."""
    if rigs == 1:
        return at % 3 == turn
    if turn >= 3:
        return j == turn - 3
    return at % 3 == turn and not _alone(s, rigs)


@small
def _factor_chain(jac: F, h: float, n: int, m: F) -> None:
    """LU factors of 4/h - jac for a chain, each state touching its neighbours only; the diagonal is kept inverted."""
    for r in range(n):
        d = 4.0 / h - jac[r, r]
        if r > 0:
            m[r, r - 1] = -jac[r, r - 1] * m[r - 1, r - 1]
            m[r - 1, r] = -jac[r - 1, r]
            d -= m[r, r - 1] * m[r - 1, r]
        m[r, r] = 1.0 / d


@small
def _solve_chain(m: F, n: int, x: F) -> None:
    """x from the factors of a chain, in place."""
    before = x[0]
    for r in range(1, n):
        before = x[r] - m[r, r - 1] * before
        x[r] = before
    after = before * m[n - 1, n - 1]
    x[n - 1] = after
    for r in range(n - 2, -1, -1):
        after = (x[r] - m[r, r + 1] * after) * m[r, r]
        x[r] = after


@jit
def _factor_full(jac: F, h: float, n: int, m: F, pivot: I) -> None:
    """LU factors of 4/h - jac, rows exchanged."""
    for r in range(n):
        for c in range(n):
            m[r, c] = -jac[r, c]
        m[r, r] += 4.0 / h
    for c in range(n):
        best = c
        for r in range(c + 1, n):
            if abs(m[r, c]) > abs(m[best, c]):
                best = r
        pivot[c] = best
        if best != c:
            for j in range(n):
                m[c, j], m[best, j] = m[best, j], m[c, j]
        for r in range(c + 1, n):
            m[r, c] = m[r, c] / m[c, c]
            f = m[r, c]
            if f != 0.0:
                for j in range(c + 1, n):
                    m[r, j] -= f * m[c, j]


@jit
def _solve_full(m: F, n: int, pivot: I, x: F) -> None:
    """x from the factors with rows exchanged, in place."""
    for c in range(n):
        other = pivot[c]
        if other != c:
            x[c], x[other] = x[other], x[c]
    for r in range(1, n):
        for c in range(r):
            x[r] -= m[r, c] * x[c]
    for r in range(n - 1, -1, -1):
        for c in range(r + 1, n):
            x[r] -= m[r, c] * x[c]
        x[r] = x[r] / m[r, r]


@small
def _adds(stage: int, k: F, r: int) -> float:
    """What a stage adds to state r from the stages before it, where it looks at the rates."""
    x = 0.0
    if stage == 1:
        x = 1.544 * k[0, r]
    elif stage == 2:
        x = 0.9466785280815826 * k[0, r] + 0.2557011698983284 * k[1, r]
    elif stage == 3:
        x = 3.314825187068521 * k[0, r] + 2.896124015972201 * k[1, r] + 0.9986419139977817 * k[2, r]
    elif stage > 3:
        x = (
            1.221224509226641 * k[0, r] + 6.019134481288629 * k[1, r] + 12.53708332932087 * k[2, r]
            - 0.6878860361058950 * k[3, r]
        )  # fmt: skip
    if stage == 5:
        x += k[4, r]
    return x


@small
def _leans(stage: int, k: F, r: int) -> float:
    """How a stage leans on those before it, times the length of the step."""
    x = 0.0
    if stage == 1:
        x = -5.6688 * k[0, r]
    elif stage == 2:
        x = -2.430093356833875 * k[0, r] - 0.2063599157091915 * k[1, r]
    elif stage == 3:
        x = -0.1073529058151375 * k[0, r] - 9.594562251023355 * k[1, r] - 20.47028614809616 * k[2, r]
    elif stage == 4:
        x = (
            7.496443313967647 * k[0, r] - 10.24680431464352 * k[1, r] - 33.99990352819905 * k[2, r]
            + 11.70890893206160 * k[3, r]
        )  # fmt: skip
    elif stage == 5:
        x = (
            8.083246795921522 * k[0, r] - 7.981132988064893 * k[1, r] - 31.52159432874371 * k[2, r]
            + 16.31930543123136 * k[3, r] - 6.058818238834054 * k[4, r]
        )  # fmt: skip
    return x


@jit
def step(
    y: F, h: float, n: int, index: I, rigs: int, q: F, mv: F, geo: F, table: F, du: I, su: F, gi: I, gf: F, oc: F,
    res: F, jac: F, m: F, pivot: I, k: F, f1: F, y2: F, f2: F, y1: F, d2: F, d3: F, tol: float, scale: F,
) -> float:  # fmt: skip
    """One step of length h from y into y1 by the six-stage pair; returns the scaled size of its error estimate."""
    for s in range(y.shape[0]):
        y2[s] = y1[s] = y[s]
        d2[s] = d3[s] = 0.0
    for stage in range(6):
        for r in range(n):
            y2[index[r]] = y[index[r]] + _adds(stage, k, r)
        follow(y2, rigs, geo, du)
        rates(y2, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, f1)
        if stage == 0:
            if rigs == 1 and oc[ix.O_MOTOR] == 0.0:
                _jacobian_one(y, q, mv, geo, table, du, su, gi, gf, oc, res, y2, jac)
            else:
                _jacobian(y, f1, n, index, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, y2, f2, jac)
            if rigs == 1:
                _factor_chain(jac, h, n, m)
            else:
                _factor_full(jac, h, n, m, pivot)
        for r in range(n):
            k[stage, r] = f1[index[r]] + _leans(stage, k, r) / h
        if rigs == 1:
            _solve_chain(m, n, k[stage])
        else:
            _solve_full(m, n, pivot, k[stage])
    err = 0.0
    for r in range(n):
        s = index[r]
        y1[s] = y2[s] + k[5, r]
        size = scale[s] + tol * (abs(y[s]) if abs(y[s]) > abs(y1[s]) else abs(y1[s]))
        err += (k[5, r] / size) ** 2
        d2[s] = (
            10.12623508344586 * k[0, r] - 7.487995877610167 * k[1, r] - 34.80091861555747 * k[2, r]
            - 7.992771707568823 * k[3, r] + 1.025137723295662 * k[4, r]
        )  # fmt: skip
        d3[s] = (
            -0.6762803392801253 * k[0, r] + 6.087714651680015 * k[1, r] + 16.43084320892478 * k[2, r]
            + 24.76722511418386 * k[3, r] - 6.594389125716872 * k[4, r]
        )  # fmt: skip
    follow(y1, rigs, geo, du)
    value: float = math.sqrt(err / n)
    return value


@jit
def between(y0: F, y1: F, d2: F, d3: F, x: float, out: F) -> None:
    """States at share x of the step, by the pair's own third-order interpolation (steady for stiff states too)."""
    for s in range(y0.shape[0]):
        out[s] = (1.0 - x) * y0[s] + x * (y1[s] + (1.0 - x) * (d2[s] + x * d3[s]))


@jit
def lowest(y0: float, y1: float, d2: float, d3: float) -> tuple[float, float]:
    """The share of the step at which one state's interpolation is lowest, and what it is there."""
    b, c, d = y1 - y0 + d2, d3 - d2, -d3
    at, value = (0.0, y0) if y0 < y1 else (1.0, y1)
    disc = c * c - 3.0 * b * d
    if disc <= 0.0:
        return at, value
    # the minimum of y0 + b x + c x^2 + d x^3, in the form that does not cancel
    root = math.sqrt(disc)
    x = -b / (c + root) if c > 0.0 else ((root - c) / (3.0 * d) if d != 0.0 else -1.0)
    if 0.0 < x < 1.0:
        low = y0 + x * (b + x * (c + x * d))
        if low < value:
            at, value = x, low
    return at, value
