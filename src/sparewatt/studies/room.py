"""The room to ride in: cadence x gear, with the first limit that closes each cell."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import solve
from sparewatt.rig.bind import scaled
from sparewatt.rig.endurance import power_for
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.limits import peaks_of, slips
from sparewatt.rig.operating import RPM, State, ceiling_limits
from sparewatt.rig.outcome import Mode
from sparewatt.rig.warming import Working, bodies_after
from sparewatt.studies.answers import Room

__all__ = ["room_to_ride"]

F = NDArray[np.float64]
MIN_CADENCE, MAX_CADENCE = 30 * RPM, 130 * RPM
LOAD_SIZES = (0.5, 0.75, 1.0, 1.25)


def room_to_ride(solved: State, sizes: tuple[float, ...] = LOAD_SIZES) -> Room:
    """Cadence x gear grid with the first limit that closes each cell, and how the room shrinks with the size of the load."""
    bound, ask = solved.bound, solved.ask
    cadence = np.arange(MIN_CADENCE, MAX_CADENCE + 0.1 * RPM, 5 * RPM)
    cells = _cells(solved, bound, cadence)
    w = ask.cadence if ask.cadence is not None else float(solved.found.w_hold[solved.gear, 0])
    chosen = (solved.gear, int(np.argmin(np.abs(cadence - w)))) if math.isfinite(w) else None
    closing = None
    if not (cells == 0).any():
        codes, counts = np.unique(cells, return_counts=True)
        ranked = codes[np.argsort(-counts)]
        first = Room.CELLS[int(ranked[0])]
        second = Room.CELLS[int(ranked[1])] if ranked.size > 1 else first
        closing = (first, second)
    by_load = tuple((m, int((_cells(solved, scaled(bound, m), cadence) == 0).sum())) for m in sizes)
    return Room(
        cadence=cadence, gears=bound.gears, cells=cells, chosen=chosen, closing=closing, by_load=by_load
    )


def _cells(solved: State, bound: Bound, cadence: F) -> NDArray[np.int64]:
    """Index into Room.CELLS of every (gear, cadence), nominal rig; the first limit met in the order below wins."""
    ask = solved.ask
    torque, mode, i, _v, u, _need = solve.lines(bound, cadence)[:, :, 0]
    power = max(
        ask.effort,
        float(power_for(bound.critical_power[0], bound.work_reserve[0], ask.duration, bound.p_peak[0])),
    )
    w_top = float(bound.w_top[0])
    able = 4 * power / w_top * (1 - cadence / w_top)
    step = 0.5 * RPM
    beside = solve.lines(bound, np.maximum(cadence - step, 0.1))[0, :, 0]
    steeper = (torque - beside) / step < -torque / np.maximum(w_top - cadence, 1e-6)
    store = bool(bound.params[Param.HAS_STORE, 0] > 0)
    limits = ceiling_limits(bound)
    open_volts = bound.params[Param.K_EMF, 0] * bound.ratio[:, :1] * cadence
    lowest = limits[0][1] if limits else math.inf
    load = bound.hookup.load
    high = (
        load.voltage_max.value
        if load is not None and load.voltage_max is not None and not store
        else math.inf
    )
    machine = bound.rig.machine
    amps = machine.current_limit_short.value if machine and machine.current_limit_short else math.inf
    form = solved.swings[solved.gear].form
    at = Working(np.maximum(i, 0.0), form, bound.ratio[:, :1] * cadence)
    winding = bodies_after(solved.bound, ask.duration, at).t_wind
    passing = (mode == Mode.PASSES) & (not store)
    tests = [
        (open_volts > lowest) | (passing & (u > high)) | (i > amps),
        mode == Mode.ASLEEP,
        (mode == Mode.CHATTERS) | ((mode == Mode.LIMITED) & (not store)),
        mode == Mode.PASSES,
        slips(
            bound.nominal(), torque, np.broadcast_to(cadence, torque.shape), peaks_of(bound, solved.swings)
        ),
        torque > able,
        steeper & (not (store and bound.hookup.board is None)),
        winding > solved.warmth.limit,
    ]
    codes = [5, 1, 8, 4, 7, 2, 3, 6]
    return np.select(tests, codes, 0).astype(np.int64)
