"""Compiled twin of `sparewatt.rig.steady`: operating points and crossings for many gears and draws.

Same formulas, same order of the ways of running, one scalar at a time. `tests/rig/test_fast.py` holds it equal to the plain
twin; `benchmarks` says what it is worth. Compiled code is cached on disk; `warm()` compiles ahead of the first question.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.compiling import kept
from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.outcome import Mode

__all__ = ["crossings", "torques", "warm"]

F = NDArray[np.float64]
MAX_CROSSINGS = 8
HOLDS, TIPS, CHATTERS = 1, 2, 3
GRID = 72
SLACK = 1e-9
_jit = kept
_small = partial(kept, forceinline=True)  # inlined by LLVM: a call a point would cost as much as the point

K_EMF, R_SOURCE, R_SPEED, V_DROP = (
    int(Param.K_EMF),
    int(Param.R_SOURCE),
    int(Param.R_SPEED),
    int(Param.V_DROP),
)
T_COULOMB, B_VISCOUS, HAS_DIODE, KIND = (
    int(Param.T_COULOMB),
    int(Param.B_VISCOUS),
    int(Param.HAS_DIODE),
    int(Param.KIND),
)
V_SLEEP, V_LOSS, V_HELD, P_HELD = int(Param.V_SLEEP), int(Param.V_LOSS), int(Param.V_HELD), int(Param.P_HELD)
I_LIMIT, LOSS_0, LOSS_1, LOSS_2 = int(Param.I_LIMIT), int(Param.LOSS_0), int(Param.LOSS_1), int(Param.LOSS_2)
A, G, P, U_QUIT = int(Param.A), int(Param.G), int(Param.P), int(Param.U_QUIT)
HAS_STORE, U_REST = int(Param.HAS_STORE), int(Param.U_REST)
NONE, BUCK, BOOST = int(Kind.NONE), int(Kind.BUCK), int(Kind.BOOST)
ASLEEP, REGULATES, LIMITED, PASSES = (
    int(Mode.ASLEEP),
    int(Mode.REGULATES),
    int(Mode.LIMITED),
    int(Mode.PASSES),
)
DROPS_OUT, DIRECT, M_CHATTERS, DRIVEN = (
    int(Mode.DROPS_OUT),
    int(Mode.DIRECT),
    int(Mode.CHATTERS),
    int(Mode.DRIVEN),
)


@_small
def _node(v_open: float, r: float, a: float, g: float, p: float) -> float:
    """Highest u with (v_open - u)/r = a + g u + p/u; NaN when there is none."""
    b = v_open - r * a
    lead = 1.0 + r * g
    disc = b * b - 4.0 * lead * r * p
    if disc < 0.0:
        return math.nan
    return (b + math.sqrt(disc)) / (2.0 * lead)


@_small
def _watts_out(q: F, d: int, p_in: float) -> float:
    b = 1.0 + q[LOSS_1, d]
    c = p_in - q[LOSS_0, d]
    p_out: float = 2.0 * c / (b + math.sqrt(max(b * b + 4.0 * q[LOSS_2, d] * c, 0.0)))
    return p_out


@_small
def _output_volts(q: F, d: int, p_out: float, held: float) -> float:
    g, a, c = q[G, d], q[A, d], q[P, d] - p_out
    if g > 0.0:
        disc = math.sqrt(max(a * a - 4.0 * g * c, 0.0))
        u = (-a + disc) / (2.0 * g) if a <= 0.0 else -2.0 * c / (a + disc)
    elif a > 0.0:
        u = -c / a
    else:
        u = 0.5 * held
    least: float = min(u, held)
    return least


@_small
def _state(q: F, d: int, w: float, amps_held: float) -> tuple[int, float, float, float, float]:
    """Mode, machine amps, bus volts, output volts, amps into battery and load at shaft speed w, draw d.

    amps_held: what flows out while the board regulates (`_amps_held`), the same at every speed.
    """
    v_open = q[K_EMF, d] * w - q[V_DROP, d]
    r = q[R_SOURCE, d] + q[R_SPEED, d] * w
    store = q[HAS_STORE, d] > 0.0
    quit_ = q[U_QUIT, d]
    kind = int(q[KIND, d])
    if kind == NONE:
        u = _node(v_open, r, q[A, d], q[G, d], q[P, d])
        if not math.isnan(u) and u > 0.0 and u >= quit_:
            i = (v_open - u) / r
            if i > 0.0:
                return DIRECT, i, u, u, i
            if q[HAS_DIODE, d] <= 0.0 and i < 0.0:
                return DRIVEN, i, u, u, i
        chatters = (not store) and v_open > quit_ and v_open > 0.0 and q[P, d] > 0.0
        rest = q[U_REST, d] if store else max(v_open, 0.0)
        return (M_CHATTERS if chatters else ASLEEP), 0.0, rest, rest, 0.0

    loss, held, power, limit = q[V_LOSS, d], q[V_HELD, d], q[P_HELD, d], q[I_LIMIT, d]
    sleep = q[V_SLEEP, d]
    through = False
    u_through = 0.0
    i_through = 0.0
    if kind == BOOST or kind == BUCK:
        u_through = _node(v_open - loss, r, q[A, d], q[G, d], q[P, d])
        if not math.isnan(u_through) and u_through + loss >= sleep * (1.0 - SLACK) and u_through >= quit_:
            i_through = q[A, d] + q[G, d] * u_through + (q[P, d] / u_through if q[P, d] != 0.0 else 0.0)
            through = i_through > 0.0
    if kind == BOOST and through and u_through >= held * (1.0 - SLACK):
        return PASSES, i_through, u_through + loss, u_through, i_through

    disc = v_open * v_open - 4.0 * r * power
    if v_open > 0.0 and disc >= 0.0 and held >= quit_:
        v = 0.5 * (v_open + math.sqrt(disc))
        i = power / v
        if v >= sleep * (1.0 - SLACK) and i <= limit * (1.0 + SLACK):
            if (kind != BUCK or v - loss >= held * (1.0 - SLACK)) and (
                kind != BOOST or v - loss <= held * (1.0 + SLACK)
            ):
                return REGULATES, i, v, held, amps_held

    v = v_open - r * limit
    if math.isfinite(v) and v >= sleep and power > v * limit:
        p_out = _watts_out(q, d, v * limit)
        u = _output_volts(q, d, p_out, held)
        if u > 0.0 and p_out > 0.0 and (kind != BUCK or v - loss >= u) and (kind != BOOST or v - loss <= u):
            return LIMITED, limit, v, u, p_out / u
        if (
            kind == BOOST and through and u > 0.0 and p_out > 0.0
        ):  # what is left of its volts: more comes through
            return PASSES, i_through, u_through + loss, u_through, i_through

    if kind == BUCK and through and i_through <= limit and u_through < held:
        return DROPS_OUT, i_through, u_through + loss, u_through, i_through
    if kind == BUCK and u_through >= held and held >= quit_:
        i = (v_open - held - loss) / r
        if 0.0 < i <= limit and held + loss >= sleep:
            return DROPS_OUT, i, held + loss, held, amps_held
    rest = q[U_REST, d] if store else 0.0
    return (M_CHATTERS if v_open >= sleep else ASLEEP), 0.0, max(v_open, 0.0), rest, 0.0


@_jit
def _amps_held(q: F, d: int) -> float:
    if q[KIND, d] == NONE:
        return 0.0
    amps: float = _watts_out(q, d, q[P_HELD, d]) / q[V_HELD, d]
    return amps


@_jit
def _operate(q: F, d: int, w: float) -> tuple[int, float, float, float, float]:
    return _state(q, d, w, _amps_held(q, d))


@_jit
def _excess(
    q: F, d: int, w: float, ratio: float, gain: float, drag: float, slope: float, t_start: float, w_top: float
) -> float:
    """Rider torque less the torque the rig asks, N*m at the crank."""
    _mode, i, _v, _u, _n = _state(q, d, w * ratio, 0.0)
    torque = (q[K_EMF, d] - q[R_SPEED, d] * i) * i + q[T_COULOMB, d] + q[B_VISCOUS, d] * w * ratio
    excess: float = t_start * (1.0 - w / w_top) - (gain * torque + drag + slope * w)
    return excess


@_jit
def _refine(
    q: F, d: int, lo: float, hi: float, f_lo: float, f_hi: float,
    ratio: float, gain: float, drag: float, slope: float, t_start: float, w_top: float,
) -> tuple[float, float]:  # fmt: skip
    """Root of the excess in (lo, hi) by the Illinois rule, falling back on halving at a jump; returns w and |f| there."""
    side = 0
    w = lo
    f = f_lo
    for k in range(90):
        if k < 40 and f_hi != f_lo:
            w = (lo * f_hi - hi * f_lo) / (f_hi - f_lo)
            if not (lo < w < hi):
                w = 0.5 * (lo + hi)
        else:
            w = 0.5 * (lo + hi)
        f = _excess(q, d, w, ratio, gain, drag, slope, t_start, w_top)
        if f == 0.0 or hi - lo < 1e-13 * hi:
            break
        if (f > 0.0) == (f_lo > 0.0):
            lo, f_lo = w, f
            if side == -1:
                f_hi *= 0.5
            side = -1
        else:
            hi, f_hi = w, f
            if side == 1:
                f_lo *= 0.5
            side = 1
        if abs(f) < 1e-11 * t_start:
            break
    return w, abs(f)


@_jit
def _search(
    q: F, d: int, ratio: float, gain: float, drag: float, slope: float, t_start: float, w_top: float,
    out_w: F, out_kind: NDArray[np.int64],
) -> int:  # fmt: skip
    """All crossings of one gear and draw, rising; returns how many. out_kind: HOLDS, TIPS or CHATTERS."""
    n = 0
    step = w_top / GRID
    w0, w1 = 0.25 * step, 0.25 * step
    f0 = _excess(q, d, w0, ratio, gain, drag, slope, t_start, w_top)
    f1 = f0
    for k in range(1, GRID + 1):
        w2 = step * k
        f2 = _excess(q, d, w2, ratio, gain, drag, slope, t_start, w_top)
        if f0 < f1 and f1 > f2 and f0 < 0.0 and f1 < 0.0 and f2 < 0.0:
            # a hidden hump between grid points: look for its top
            lo, hi = w0, w2
            for _ in range(40):
                m1, m2 = lo + 0.382 * (hi - lo), lo + 0.618 * (hi - lo)
                if _excess(q, d, m1, ratio, gain, drag, slope, t_start, w_top) < _excess(
                    q, d, m2, ratio, gain, drag, slope, t_start, w_top
                ):
                    lo = m1
                else:
                    hi = m2
            top = 0.5 * (lo + hi)
            f_top = _excess(q, d, top, ratio, gain, drag, slope, t_start, w_top)
            if f_top > 0.0 and n + 2 <= MAX_CROSSINGS:
                w, _f = _refine(q, d, w0, top, f0, f_top, ratio, gain, drag, slope, t_start, w_top)
                out_w[n], out_kind[n] = w, TIPS
                w, _f = _refine(q, d, top, w2, f_top, f2, ratio, gain, drag, slope, t_start, w_top)
                out_w[n + 1], out_kind[n + 1] = w, HOLDS
                n += 2
        if (f1 > 0.0) != (f2 > 0.0) and n < MAX_CROSSINGS:
            w, f = _refine(q, d, w1, w2, f1, f2, ratio, gain, drag, slope, t_start, w_top)
            jump = f > 1e-7 * t_start
            if f1 > 0.0:
                out_w[n], out_kind[n] = w, CHATTERS if jump else HOLDS
                n += 1
            else:
                out_w[n], out_kind[n] = w, TIPS
                n += 1
        w0, f0, w1, f1 = w1, f1, w2, f2
    return n


@_jit
def _choose(q: F, d: int, ratio: float, ws: F, kinds: NDArray[np.int64], n: int) -> tuple[int, int, int]:
    """Indices of the holding point to report, the tipping point below it, and a chatter point; -1 where none.

    A served point that does not pass straight through comes first, then a served one, then any that draws current.
    """
    best, best_rank, chatter = -1, -1, -1
    for k in range(n):
        if kinds[k] == CHATTERS:
            chatter = k
        if kinds[k] != HOLDS:
            continue
        mode, i, _v, _u, _need = _operate(q, d, ws[k] * ratio)
        rank = 0
        if i > 0.0:
            served = (
                mode == REGULATES
                or mode == DIRECT
                or mode == DROPS_OUT
                or (mode == LIMITED and q[HAS_STORE, d] > 0.0)
            )
            rank = 3 if served else (2 if mode == PASSES else 1)
        if rank >= best_rank:
            best, best_rank = k, rank
    tip = -1
    if best >= 0:
        for k in range(best - 1, -1, -1):
            if kinds[k] == TIPS:
                tip = k
                break
    return best, tip, chatter


@_jit
def _crossings(
    q: F, ratio: F, gain: F, drag: F, slope: F, t_start: F, w_top: F, first: int, last: int,
    found_w: F, found_kind: NDArray[np.int64], picked: NDArray[np.int64], state: F,
) -> None:  # fmt: skip
    for d in range(first, last):
        for g in range(ratio.shape[0]):
            ws, kinds = found_w[g, d], found_kind[g, d]
            n = _search(
                q, d, ratio[g, d], gain[g, d], drag[g, d], slope[g, d], t_start[d], w_top[d], ws, kinds
            )
            best, tip, chatter = _choose(q, d, ratio[g, d], ws, kinds, n)
            picked[g, d, 0], picked[g, d, 1], picked[g, d, 2] = best, tip, chatter
            if best >= 0:
                w = ws[best]
                mode, i, v, u, need = _operate(q, d, w * ratio[g, d])
                torque = (
                    (q[K_EMF, d] - q[R_SPEED, d] * i) * i
                    + q[T_COULOMB, d]
                    + q[B_VISCOUS, d] * w * ratio[g, d]
                )
                state[g, d, 0] = mode
                state[g, d, 1] = i
                state[g, d, 2] = v
                state[g, d, 3] = u
                state[g, d, 4] = need
                state[g, d, 5] = (gain[g, d] * torque + drag[g, d] + slope[g, d] * w) * w


@_jit
def _torques(q: F, w: F, ratio: F, gain: F, drag: F, slope: F, out: F) -> None:
    for g in range(ratio.shape[0]):
        for d in range(ratio.shape[1]):
            held, n, up, base, lean = _amps_held(q, d), ratio[g, d], gain[g, d], drag[g, d], slope[g, d]
            k_emf, r_speed, t_coulomb, b_viscous = (
                q[K_EMF, d],
                q[R_SPEED, d],
                q[T_COULOMB, d],
                q[B_VISCOUS, d],
            )
            for k in range(w.shape[0]):
                mode, i, v, u, need = _state(q, d, w[k] * n, held)
                torque = (k_emf - r_speed * i) * i + t_coulomb + b_viscous * w[k] * n
                out[0, g, d, k] = up * torque + base + lean * w[k]
                out[1, g, d, k] = mode
                out[2, g, d, k] = i
                out[3, g, d, k] = v
                out[4, g, d, k] = u
                out[5, g, d, k] = need


def torques(params: F, w: F, ratio: F, gain: F, drag: F, slope: F) -> F:
    """Array (6, gears, cols, cadences): crank torque, mode, machine amps, bus volts, output volts, output amps."""
    out = np.empty((6, *ratio.shape, w.size))
    _torques(params, np.ascontiguousarray(w), ratio, gain, drag, slope, out)
    return out


def crossings(
    params: F, ratio: F, gain: F, drag: F, slope: F, t_start: F, w_top: F
) -> tuple[F, NDArray[np.int64], NDArray[np.int64], F]:
    """All crossings of every gear and draw.

    Returns w (gears, cols, 8) NaN-padded; kind (same shape; 1 holds, 2 tips, 3 chatters, 0 none); picked (gears, cols, 3):
    index of the reported holding point, the tipping point below it, and a chatter point (-1 none); state
    (gears, cols, 6) at the holding point: mode, machine amps, bus volts, output volts, output amps, rider watts.
    """
    gears, cols = ratio.shape
    found_w = np.full((gears, cols, MAX_CROSSINGS), np.nan)
    found_kind = np.zeros((gears, cols, MAX_CROSSINGS), dtype=np.int64)
    picked = np.full((gears, cols, 3), -1, dtype=np.int64)
    state = np.full((gears, cols, 6), np.nan)

    def run(first: int, last: int) -> None:
        _crossings(
            params, ratio, gain, drag, slope, t_start, w_top, first, last, found_w, found_kind, picked, state
        )

    if cols < 512:
        run(0, cols)
    else:
        half = cols // 2
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(run, (0, half), (half, cols)))
    return found_w, found_kind, picked, state


def warm() -> None:
    """Compile (or load from the cache) every kernel with a tiny rig, so that the first question does not wait."""
    q = np.zeros((len(Param), 1))
    q[K_EMF], q[R_SOURCE], q[HAS_DIODE], q[G], q[V_HELD], q[I_LIMIT] = 0.1, 0.2, 1.0, 0.5, 12.0, np.inf
    one = np.ones((1, 1))
    crossings(q, 10 * one, 10 * one, 0 * one, 0 * one, np.array([20.0]), np.array([13.0]))
    torques(q, np.array([5.0]), 10 * one, 10 * one, 0 * one, 0 * one)
