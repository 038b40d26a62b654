"""Operating points a second: the compiled solver against a root finder in a loop and against a hand-written compiled loop.

All three solve the same thing: the highest bus volts at which a machine behind its resistance and drops feeds a board that
takes constant power, then the torque at the crank. The loop over scipy's brentq is what one would write first; the
hand-written compiled loop is the same closed form with nothing around it.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numba
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from sparewatt.rig import fast
from sparewatt.rig.layout import Kind, Param

F = NDArray[np.float64]
POINTS, PLAIN_POINTS = 400_000, 4_000


def rig_table(cols: int) -> F:
    """Parameter table of a step-up board on a scooter motor, a column a draw."""
    rng = np.random.default_rng(3)
    q = np.zeros((len(Param), cols))
    q[Param.K_EMF] = 0.075 * (1 + 0.03 * rng.standard_normal(cols))
    q[Param.R_SOURCE] = 0.28 * (1 + 0.1 * rng.standard_normal(cols))
    q[Param.V_DROP], q[Param.T_COULOMB], q[Param.B_VISCOUS] = 1.7, 0.04, 5e-5
    q[Param.HAS_DIODE], q[Param.KIND], q[Param.V_SLEEP], q[Param.V_LOSS] = 1, Kind.BOOST, 9.0, 0.5
    q[Param.V_SET], q[Param.V_HELD], q[Param.I_LIMIT] = 28.0, 28.0, 12.0
    q[Param.P], q[Param.LOSS_0], q[Param.LOSS_1] = 80.0, 0.5, 0.14
    q[Param.P_HELD] = 80.0 + 0.5 + 0.14 * 80.0
    return q


def by_brentq(q: F, w: F, ratio: float, gain: float) -> F:
    """One root find a point, plain Python."""
    out = np.empty(w.size)
    for k in range(w.size):
        d = k % q.shape[1]
        v_open = q[Param.K_EMF, d] * w[k] * ratio - q[Param.V_DROP, d]
        r, p = q[Param.R_SOURCE, d], q[Param.P_HELD, d]
        i = 0.0
        if v_open > 2 * math.sqrt(r * p):
            v = brentq(lambda v, a=v_open, r=r, p=p: (a - v) / r - p / v, v_open / 2, v_open, xtol=1e-12)
            if (
                v >= q[Param.V_SLEEP, d]
                and p / v <= q[Param.I_LIMIT, d]
                and v - q[Param.V_LOSS, d] <= q[Param.V_SET, d]
            ):
                i = p / v
        torque = q[Param.K_EMF, d] * i + q[Param.T_COULOMB, d] + q[Param.B_VISCOUS, d] * w[k] * ratio
        out[k] = gain * torque
    return out


@numba.njit(cache=True)
def by_hand(q: F, w: F, ratio: float, gain: float, out: F) -> None:
    """The same chain, with the same six numbers out, as one bare compiled loop for this board alone."""
    for d in range(q.shape[1]):
        for k in range(w.size):
            speed = w[k] * ratio
            v_open = q[0, d] * speed - q[3, d]
            r, p, loss = q[1, d], q[11, d], q[9, d]
            mode, i, v, u, need = 0.0, 0.0, max(v_open, 0.0), 0.0, 0.0
            if v_open >= q[8, d]:
                mode = 6.0
            root = v_open - loss
            disc = root * root - 4.0 * r * q[18, d]
            done = False
            if disc >= 0.0:
                through = 0.5 * (root + math.sqrt(disc))
                if through >= q[22, d] and through + loss >= q[8, d]:
                    done = True
                    i = q[18, d] / through
                    mode, v, u, need = 3.0, through + loss, through, i
            disc = v_open * v_open - 4.0 * r * p
            if not done and v_open > 0.0 and disc >= 0.0:
                volts = 0.5 * (v_open + math.sqrt(disc))
                amps = p / volts
                if volts >= q[8, d] and amps <= q[12, d] and volts - loss <= q[22, d]:
                    done = True
                    mode, i, v, u = 1.0, amps, volts, q[10, d]
                    need = (p - q[13, d]) / (1.0 + q[14, d]) / u
            if not done:
                volts = v_open - r * q[12, d]
                if volts >= q[8, d] and p > volts * q[12, d]:
                    p_out = (volts * q[12, d] - q[13, d]) / (1.0 + q[14, d])
                    mode, i, v, u = 2.0, q[12, d], volts, 0.5 * q[10, d]
                    need = p_out / u
            out[0, d, k] = gain * (q[0, d] * i + q[4, d] + q[5, d] * speed)
            out[1, d, k] = mode
            out[2, d, k] = i
            out[3, d, k] = v
            out[4, d, k] = u
            out[5, d, k] = need


def best_of(run: Callable[[], object], times: int = 5) -> float:
    """Shortest of several runs, seconds."""
    best = math.inf
    for _ in range(times):
        start = time.perf_counter()
        run()
        best = min(best, time.perf_counter() - start)
    return best


def measure() -> list[tuple[str, float, str, str]]:
    """Rows of (what, value, unit, bound)."""
    cols, cadences = 400, POINTS // 400
    q, w = rig_table(cols), np.linspace(3.0, 13.0, cadences)
    one = np.ones((1, cols))
    args = (q, w, 35 * one, 36 * one, 0 * one, 0 * one)
    fast.torques(*args)
    hand_out = np.empty((6, cols, cadences))
    by_hand(q, w, 35.0, 36.0, hand_out)
    times = [
        (
            best_of(lambda: fast.torques(*args), 1),
            best_of(lambda: by_hand(q, w, 35.0, 36.0, np.empty((6, cols, cadences))), 1),
        )
        for _ in range(40)
    ]  # turn by turn, so that whatever else the machine does meets both
    ours, hand = (POINTS / min(t[side] for t in times) for side in (0, 1))
    some = np.tile(w, PLAIN_POINTS // cadences + 1)[:PLAIN_POINTS]
    plain = PLAIN_POINTS / best_of(lambda: by_brentq(q, some, 35.0, 36.0), 2)
    same = np.allclose(fast.torques(*args)[:, 0], hand_out, rtol=1e-9)
    return [
        ("operating points, compiled solver", ours, "points/s", ""),
        ("operating points, scipy brentq in a loop", plain, "points/s", ""),
        ("operating points, hand-written compiled loop", hand, "points/s", ""),
        ("ratio to the brentq loop", ours / plain, "x", ">= 100"),
        ("hand-written loop over ours", hand / ours, "x", "<= 2.5"),
        ("same answers as the hand-written loop", float(same), "1 = yes", ">= 1"),
    ]
