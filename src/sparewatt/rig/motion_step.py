"""The moving rig through time: adaptive steps with every happening located, not stepped over.

A step is tried (`motion_solver`), its gauges are read (`motion_events`); where one crosses zero the step is tried again up
to there. Slow states (`motion_slow`) advance once a step. Energy is summed by Simpson's rule, each line from its own
formula.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit, small
from sparewatt.rig.motion_electric import electric
from sparewatt.rig.motion_events import act_out, gauges, happen, is_label, note
from sparewatt.rig.motion_forces import observe, rates
from sparewatt.rig.motion_slow import advance_slow, answer, longest_step, midway, put_back, refresh, try_load
from sparewatt.rig.motion_solver import active, between, follow, lowest, step

__all__ = ["answer", "run"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@jit
def _stored(y: F, rigs: int, mv: F, geo: F, du: I) -> float:
    """Energy in wheels, coils and capacitors, J."""
    total = 0.0
    for k in range(rigs):
        b = 5 * k
        j_now = du[k, ix.D_GEAR]
        total += 0.5 * geo[k, j_now, ix.G_JC] * y[b + 1] ** 2 + 0.5 * geo[k, j_now, ix.G_JS] * y[b + 2] ** 2
        total += 0.5 * mv[k, ix.M_IND] * y[b + 3] ** 2 + 0.5 * mv[k, ix.M_CAP] * y[b + 4] ** 2
    return total


@small
def _friction_watts(w: float, k: int, q: F) -> float:
    """What a machine's bearings and brushes rub away at a speed."""
    value: float = (q[k, ix.Q_TC] + q[k, ix.Q_B] * abs(w)) * abs(w)
    return value


@small
def _look(
    y: F, rigs: int, q: F, mv: F, geo: F, table: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, dy: F, row: F, power: F
) -> None:  # fmt: skip
    """What can be read at these states, with no rates known of them yet."""
    rates(y, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, dy)
    observe(y, rigs, q, mv, geo, du, su, gi, gf, oc, res, row, power)


@small
def _gauge(
    y: F, rigs: int, q: F, mv: F, geo: F, table: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, dy: F, out: F
) -> None:
    """The gauges at these states, with no rates known of them yet."""
    rates(y, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, dy)
    gauges(y, rigs, q, mv, geo, du, su, gi, gf, oc, res, out)


@jit
def _left_over(p0: F, pm: F, p1: F, h: float, y: F, y1: F, rigs: int, mv: F, geo: F, du: I) -> float:
    """What Simpson's rule on a step's watts leaves unexplained, as a share of the watts that turn over in it."""
    net, gross = 0.0, 0.01
    for n in range(ix.N_SUMS):
        mean = (p0[n] + 4.0 * pm[n] + p1[n]) / 6.0
        net += mean if n == ix.S_RIDER else -mean
        gross += abs(mean)
    gap = net * h - (_stored(y1, rigs, mv, geo, du) - _stored(y, rigs, mv, geo, du))
    return abs(gap) / (gross * h)


@jit
def _extremes(row: F, t: float, channels: int, at: int, least: F, most: F, peaks: F) -> None:
    """Keep what is lowest and highest since the sample before sample `at`, and highest of all with its time."""
    sampled = at < least.shape[0]
    for n in range(channels):
        value = row[n]
        if value > peaks[n, 0]:
            peaks[n, 0], peaks[n, 1] = value, t
        if sampled:
            if value < least[at, n]:
                least[at, n] = value
            if value > most[at, n]:
                most[at, n] = value


@jit
def run(
    rigs: int, q: F, mv: F, geo: F, table: F, oc: F, ocv: F, fuses: F, script: F, y: F, du: I, su: F, gi: I, gf: F,
    duration: float, times: F, tol: float, budget: int, rows: F, least: F, most: F, sums: F, stores: F, peaks: F,
    events: F, count: I, work: F, jac: F, m: F, ks: F, each: F, kept: F, places: I,
) -> int:  # fmt: skip
    """Play one script on one set of numbers; fills rows (n, channels) at `times`, least and most since the sample before,
    sums (J), stores (start, end, J), peaks (channels, 2: value, time), events; returns ix.OK, ix.BUDGET or ix.STUCK.

    work, jac, m, ks, each, kept, places: room to work in, as `motion._room` makes it; nothing is allocated here."""
    ny = 5 * rigs + 2
    nch = 12 * rigs + ix.N_SHARED
    ng = ix.GAUGES * rigs + ix.COMMON
    y1, y2, ym, d2, d3 = work[0], work[1], work[2], work[3], work[4]
    f1, f2, res, seen, scale = work[5], work[6], work[7], work[8], work[9]
    gauge0, gauge1, gauge2 = work[10], work[11], work[12]
    row, row_mid, row_s = work[13], work[14], work[15]
    p0, pm, p1, mean = work[16], work[17], work[18], work[19]
    pivot, index = places[0], places[1]
    for k in range(rigs):
        scale[5 * k], scale[5 * k + 1], scale[5 * k + 2] = 30.0 * tol, 3.0 * tol, 60.0 * tol
        scale[5 * k + 3], scale[5 * k + 4] = 3.0 * tol, 10.0 * tol
    scale[5 * rigs], scale[5 * rigs + 1] = tol, 300.0 * tol
    t, h, at, act, steps = 0.0, 1e-4, 0, 0, 0
    burst, burst_at = 0, 0.0
    n_act = script.shape[0]
    stores[0] = _stored(y, rigs, mv, geo, du)
    least[:, :] = np.inf
    most[:, :] = -np.inf
    peaks[:, 0] = -np.inf
    fresh = True
    least_cut = ix.SHORTEST
    marked, mark = -1, 1.0  # a label gauge that has just crossed, and the side it is on now
    while True:
        while act < n_act and script[act, 0] <= t + 1e-9:
            mover = int(script[act, 2])
            pulled = du[mover, ix.D_ENGAGED]
            act_out(
                int(script[act, 1]),
                int(script[act, 2]),
                script[act, 3],
                t,
                y,
                rigs,
                q,
                mv,
                geo,
                du,
                su,
                gi,
                gf,
                oc,
                sums,
            )
            note(events, count, t, ix.E_SCRIPT, mover, float(act))
            if pulled == 1 and du[mover, ix.D_ENGAGED] == 0:  # an easier gear lets the machine run ahead
                note(events, count, t, ix.E_OPENS, mover, y[5 * mover + 1])
            act += 1
            fresh = True
        if fresh:
            refresh(t, rigs, q, mv, du, su, gi, gf, oc)
            electric(y, rigs, q, mv, du, su, gi, gf, oc, res)
            if try_load(t, rigs, q, du, su, gi, gf, oc, res[0], events, count):
                refresh(t, rigs, q, mv, du, su, gi, gf, oc)
            # Let everything settle that is already past its mark
            for _settle in range(20):
                _gauge(y, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, f1, gauge0)
                hit = -1
                for n in range(ng):
                    if not is_label(n, rigs) and gauge0[n] < -1e-9:
                        hit = n
                        break
                if hit < 0:
                    break
                happen(hit, False, t, y, rigs, q, mv, geo, du, su, gi, gf, oc, res, events, count, sums)
                refresh(t, rigs, q, mv, du, su, gi, gf, oc)
            if marked >= 0:
                gauge0[marked] = mark
                marked = -1
            follow(y, rigs, geo, du)
            _look(y, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, f1, row, p0)
            _extremes(row, t, nch, at, least, most, peaks)
            while at < times.shape[0] and times[at] <= t + 1e-12:
                for n in range(nch):
                    rows[at, n] = row[n]
                _extremes(row, t, nch, at, least, most, peaks)
                at += 1
            h = h if h < 1e-3 else 1e-3
            fresh = False
        if t >= duration - 1e-9:
            break
        until = duration
        if act < n_act and script[act, 0] < until:
            until = script[act, 0]
        h = h if h < gf[ix.F_LONGEST] else gf[ix.F_LONGEST]
        h = longest_step(t, h, until, y, rigs, mv, du, su, gi, gf, oc, fuses, row, geo, table)
        if h < 1e-11:
            h = 1e-11
        n_act_states = active(rigs, du, gi, oc, index)
        hit = -1
        tries, cuts, whole = 0, 0, 0.0
        while True:
            steps += 1
            tries += 1
            moved = midway(t, h, rigs, q, mv, geo, du, su, gi, gf, oc, kept)
            err = step(
                y, h, n_act_states, index, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, jac, m, pivot, ks, f1, y2, f2,
                y1, d2, d3, tol, scale,
            )  # fmt: skip
            if not err < 1e30:
                err = 1e6
            if err > 1.0 and h > 1e-10:
                put_back(rigs, su, kept)
                shrink = 0.9 / math.sqrt(math.sqrt(err))
                h = h * (shrink if shrink > 0.1 else 0.1)
                hit = -1
                if tries > 60:
                    return ix.STUCK
                continue
            _gauge(y1, rigs, q, mv, geo, table, du, su, gi, gf, oc, res, f1, gauge1)
            first, found = 1.0, -1
            for n in range(ng):
                crossed = gauge1[n] < 0.0 and gauge0[n] >= 0.0
                if is_label(n, rigs):
                    crossed = (gauge1[n] < 0.0) != (gauge0[n] < 0.0)
                elif gauge1[n] < -1e-9:
                    crossed = True
                lo, hi, g_lo, g_hi, side = 0.0, 1.0, gauge0[n], gauge1[n], 0
                k = n // ix.GAUGES
                if (
                    not crossed
                    and g_lo > 0.0
                    and n - ix.GAUGES * k == 1
                    and k < rigs
                    and du[k, ix.D_CONDUCTS] != 0
                ):
                    # amps may dip below nothing and come back within one step
                    s = 5 * k + 3
                    hi, g_hi = lowest(g_lo, g_hi, du[k, ix.D_CONDUCTS] * d2[s], du[k, ix.D_CONDUCTS] * d3[s])
                    crossed = g_hi < -1e-9
                if not crossed:
                    continue
                x = 0.0
                if (g_hi < 0.0) != (g_lo < 0.0):
                    x = hi
                    for turn in range(24):
                        x = (lo * g_hi - hi * g_lo) / (g_hi - g_lo) if turn < 12 else 0.5 * (lo + hi)
                        between(y, y1, d2, d3, x, ym)
                        follow(ym, rigs, geo, du)
                        _gauge(ym, rigs, q, mv, geo, table, du, su, gi, gf, oc, seen, f2, gauge2)
                        if abs(gauge2[n]) < 1e-10 or (hi - lo) * h < 1e-9:
                            break
                        if (gauge2[n] < 0.0) == (g_hi < 0.0):
                            hi, g_hi = x, gauge2[n]
                            if side == 1:
                                g_lo *= 0.5
                            side = 1
                        else:
                            lo, g_lo = x, gauge2[n]
                            if side == -1:
                                g_hi *= 0.5
                            side = -1
                if x < first or found < 0:
                    first, found = x, n
            if found < 0:
                hit = -1
                # cut just short of a happening: go further next time, or slow gauges take for ever
                least_cut = 4.0 * least_cut if cuts > 0 else ix.SHORTEST
                break
            hit = found
            if first > 1.0 - 1e-6 or h <= least_cut or cuts > 8:
                least_cut = ix.SHORTEST
                break
            cuts += 1
            whole = h if h > whole else whole
            put_back(rigs, su, kept)
            h = h * first
            if h < least_cut:
                h = least_cut
        # the step stands
        observe(y1, rigs, q, mv, geo, du, su, gi, gf, oc, res, row_s, p1)
        # its watts, from its start on, are those of the push and of the battery that stand for it
        if moved or oc[ix.O_BATTERY] > 0.0:
            _look(y, rigs, q, mv, geo, table, du, su, gi, gf, oc, seen, f2, row_mid, p0)
        between(y, y1, d2, d3, 0.5, ym)
        follow(ym, rigs, geo, du)
        _look(ym, rigs, q, mv, geo, table, du, su, gi, gf, oc, seen, f2, row_mid, pm)
        if h > ix.LEDGER_STEP and _left_over(p0, pm, p1, h, y, y1, rigs, mv, geo, du) > ix.LEDGER:
            put_back(rigs, su, kept)  # three readings of its watts are too few for what its push does
            h = 0.5 * h
            continue
        while at < times.shape[0] and times[at] <= t + h + 1e-12:
            between(y, y1, d2, d3, (times[at] - t) / h, y2)
            follow(y2, rigs, geo, du)
            if moved:  # what is shown is the push at that time, not the one that stands for the step
                put_back(rigs, su, kept)
                midway(t, 2.0 * (times[at] - t), rigs, q, mv, geo, du, su, gi, gf, oc, kept)
            _look(y2, rigs, q, mv, geo, table, du, su, gi, gf, oc, seen, f2, rows[at], mean)
            _extremes(rows[at], times[at], nch, at, least, most, peaks)
            at += 1
            if moved:
                put_back(rigs, su, kept)
                midway(t, h, rigs, q, mv, geo, du, su, gi, gf, oc, kept)
        for n in range(ix.N_SUMS):
            mean[n] = (p0[n] + 4.0 * pm[n] + p1[n]) / 6.0
            sums[n] += mean[n] * h
        _extremes(row_mid, t + 0.5 * h, nch, at, least, most, peaks)
        _extremes(row_s, t + h, nch, at, least, most, peaks)
        for k in range(rigs):
            c = 12 * k
            each[k, 0] = (row[c] + 4.0 * row_mid[c] + row_s[c]) / 6.0
            each[k, 1] = (row[c + 2] ** 2 + 4.0 * row_mid[c + 2] ** 2 + row_s[c + 2] ** 2) / 6.0
            each[k, 2] = (row[c + 2] + 4.0 * row_mid[c + 2] + row_s[c + 2]) / 6.0
            each[k, 3] = (
                _friction_watts(row[c + 1], k, q)
                + 4.0 * _friction_watts(row_mid[c + 1], k, q)
                + _friction_watts(row_s[c + 1], k, q)
            ) / 6.0
        t += h
        for n in range(ny):
            y[n] = y1[n]
        burst += 1
        if t - burst_at > 0.01:
            burst, burst_at = 0, t
        before = gi[ix.I_RUNS] + 2 * gi[ix.I_PLUGGED] + 4 * gi[ix.I_HOOKED]
        events_before = count[0]
        put_back(rigs, su, kept)
        advance_slow(
            t, h, y, rigs, q, mv, geo, du, su, gi, gf, oc, ocv, fuses, each, row, row_mid, row_s, events, count, sums
        )  # fmt: skip
        for n in range(nch):
            row[n] = row_s[n]
        for n in range(ix.N_SUMS):
            p0[n] = p1[n]
        grow = 0.9 / math.sqrt(math.sqrt(err if err > 1e-4 else 1e-4))
        longer = h * (grow if grow < 3.0 else 3.0)
        longer = (
            longer if longer > whole else whole
        )  # a step cut short by a happening says nothing about the next
        if hit >= 0:
            happen(
                hit, gauge0[hit] < 0.0, t, y, rigs, q, mv, geo, du, su, gi, gf, oc, res, events, count, sums
            )
            fresh = True
            if is_label(hit, rigs):
                marked, mark = hit, (-1e-12 if gauge0[hit] >= 0.0 else 1e-12)
        if gi[ix.I_RUNS] + 2 * gi[ix.I_PLUGGED] + 4 * gi[ix.I_HOOKED] != before or count[0] != events_before:
            fresh = True
        if not fresh:
            refresh(t, rigs, q, mv, du, su, gi, gf, oc)
            if gi[ix.I_SWITCH] == 1 and gi[ix.I_RUNS] == 0:
                electric(y, rigs, q, mv, du, su, gi, gf, oc, res)
                if try_load(t, rigs, q, du, su, gi, gf, oc, res[0], events, count):
                    fresh = True
        if not fresh:
            for n in range(ng):
                gauge0[n] = gauge1[n]
            h = longer
        else:
            h = longer if longer < 1e-3 else 1e-3
        count[1] = steps
        if steps > budget or burst > 20000:
            stores[1] = _stored(y, rigs, mv, geo, du)
            return ix.BUDGET
    stores[1] = _stored(y, rigs, mv, geo, du)
    return ix.OK
