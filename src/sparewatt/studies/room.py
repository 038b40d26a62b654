"""The room to ride in: cadence x gear, with the first limit that closes each cell."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics.rider import PEAK_SHARE
from sparewatt.rig import solve
from sparewatt.rig.bind import scaled
from sparewatt.rig.endurance import power_for
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.operating import RPM, State, ceiling_limits
from sparewatt.rig.outcome import Mode
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
    passing = (mode == Mode.PASSES) & (not store)
    tests = [
        (open_volts > lowest) | (passing & (u > high)) | (i > amps),
        mode == Mode.ASLEEP,
        (mode == Mode.CHATTERS) | ((mode == Mode.LIMITED) & (not store)),
        mode == Mode.PASSES,
        _slips(bound, torque, cadence),
        torque > able,
        steeper & (not (store and bound.hookup.board is None)),
        _too_hot(bound, i, ask.duration),
    ]
    codes = [5, 1, 8, 4, 7, 2, 3, 6]
    return np.select(tests, codes, 0).astype(np.int64)


def _slips(bound: Bound, torque: F, cadence: F) -> NDArray[np.bool_]:
    """Where a roller, wheel or belt would slip on the peak of each push (peak over mean: the two-lobe shape's 1 + a)."""
    out = np.zeros(torque.shape, dtype=bool)
    s = bound.stages
    for g in range(torque.shape[0]):
        at = torque[g].copy()
        speed_ratio = 1.0
        for k in range(len(s.names)):
            radius, grip = float(s.surface[k, 0]), float(s.grip[k, 0])
            if math.isfinite(radius) and math.isfinite(grip):
                out[g] |= at * (1 + PEAK_SHARE) / radius > grip
            part = bound.rig.stage[k]
            creep = part.creep.value if part.creep is not None else 0.0
            ratio = float(s.ratio[k, g, 0])
            speed_ratio *= ratio
            geometric = ratio / (1 - creep)
            at = (
                at * float(s.efficiency[k, 0]) / geometric
                - float(s.drag[k, 0])
                - float(s.slope[k, 0]) * cadence * speed_ratio
            )
    return out


def _too_hot(bound: Bound, i: F, duration: float) -> NDArray[np.bool_]:
    machine, place = bound.rig.machine, bound.rig.place
    if (
        machine is None
        or place is None
        or not (
            machine.thermal_resistance
            and machine.thermal_time
            and machine.winding_limit
            and place.temperature
        )
    ):
        return np.zeros(i.shape, dtype=bool)
    rise = i**2 * float(bound.extras["r_wind"][0]) * machine.thermal_resistance.value
    share = -math.expm1(-duration / machine.thermal_time.value)
    return np.asarray(place.temperature.value + rise * share > machine.winding_limit.value)
