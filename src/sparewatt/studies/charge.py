"""How long a battery takes to charge, where useful leg time ends, and how long it runs a load."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Load
from sparewatt.physics import store
from sparewatt.rig.asking import Ask
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import hookup
from sparewatt.rig.operating import State, bands, delivered, operate, works
from sparewatt.rig.outcome import Band, Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import ChargePlan, RunPlan
from sparewatt.studies.pricing import STORED
from sparewatt.studies.settings import charge_volts

__all__ = ["charge_plan", "run_plan"]

F = NDArray[np.float64]
LEVELS = (0.5, 0.6, 0.7, 0.8, 0.9, 0.98)
CURVE_POINTS = 60


def charge_plan(filled: Filled, ask: Ask) -> ChargePlan | None:
    """The charge plan of this rig's battery at the asked effort; None when there is no battery."""
    battery = filled.rig.battery
    if battery is None or refusal(filled.rig, "charge") is not None:
        return None
    assert (
        battery.voltage
        and battery.capacity
        and battery.charge_current
        and battery.charge_voltage
        and battery.temperature
    )
    solved = operate(filled, dataclasses.replace(ask, load="charge", cadence=None))
    g = solved.gear
    amps = np.where(works(solved.found)[g], np.maximum(solved.found.i_battery[g], 0.0), 0.0)
    draws = Draws(ask.draws, ask.seed)
    limit = draws.column("battery.charge_current", battery.charge_current)
    accepted = np.minimum(amps, limit)
    soc = np.clip(draws.column("battery.charge", battery.charge, default=0.5), 0.02, 0.97)
    usual = store.CHEMISTRIES[battery.chemistry]
    capacity = battery.capacity.value * draws.column("battery.health", battery.health, default=0.9)
    tail = float(
        store.cold_tail_time(
            battery.temperature.value, tail_time=usual.tail_time, chemistry=battery.chemistry
        )
    )
    model: dict[str, Any] = {"capacity": capacity, "tail_time": tail}
    eta: dict[str, Any] = {"eta_bulk": 0.99, "eta_tail": 0.99} if battery.chemistry.startswith("li") else {}
    giving = np.maximum(accepted, 1e-6)
    times = tuple(
        (level, _time(store.charge_time(soc, soc_end=level, i_charge=giving, **model, **eta), accepted))
        for level in LEVELS
        if level > soc[0]
    )
    knee = np.clip(np.asarray(store.acceptance_knee(giving, **model)), 0.0, 1.0)
    useful = float(knee[0]) if accepted[0] > 0 else math.nan
    useful_time = _time(
        store.charge_time(soc, soc_end=np.maximum(knee, soc), i_charge=giving, **model, **eta), accepted
    )
    after = store.charge_after(ask.duration, soc=soc, i_charge=giving, **model, **eta)
    gain = np.where(accepted > 0, np.asarray(after) - soc, 0.0)
    volts = charge_volts(battery)
    hold = store.set_points(
        chemistry=battery.chemistry, v_name=battery.voltage.value, temperature=battery.temperature.value
    ).hold
    return ChargePlan(
        chemistry=battery.chemistry,
        set_voltage=volts,
        set_voltage_25=battery.charge_voltage.value,
        current_limit=battery.charge_current.value,
        amps=_held(solved, amps),
        accepted=_held(solved, accepted),
        p_battery=_held(solved, delivered(solved.bound, solved.found)[g]),
        efficiency=float(eta.get("eta_bulk", 0.95)),
        times=times,
        useful_end=useful,
        useful_time=useful_time,
        ride_gain=_band(gain),
        float_voltage=float(hold),
        says=_says(solved.stop, amps, limit),
        curve=_curve(float(soc[0]), float(accepted[0]), float(capacity[0]), tail),
    )


def _held(solved: State, values: F) -> Band:
    """The band every section shows of what the running state gives; nothing where it does not run."""
    if not works(solved.found)[solved.gear, 0]:
        return Band(0.0, 0.0, 0.0)
    return bands(solved, values)


def _says(stop: Stop, amps: F, limit: F) -> str:
    """Why the plan is as it is, as a cause for words to dress."""
    if amps[0] <= 0:
        return stop.value
    if amps[0] > 1.05 * limit[0]:
        return "the legs give more than the battery may take"
    return "the battery takes all the legs give until it nears full"


def _time(seconds: F, amps: F) -> Band:
    t = np.where(amps > 0, np.maximum(np.asarray(seconds), 0.0), np.inf)
    if not np.isfinite(t[0]):
        return Band(math.inf, math.nan, math.nan)
    return _band(np.minimum(t, 1e7))


def _band(values: F) -> Band:
    return (
        Band.of(values[1:], float(values[0]))
        if values.size > 1
        else Band(float(values[0]), math.nan, math.nan)
    )


def _curve(soc: float, amps: float, capacity: float, tail: float) -> tuple[tuple[float, float, float], ...]:
    """(s, state of charge, A) along the charge."""
    if amps <= 0:
        return ()
    end = float(store.charge_time(soc, soc_end=0.98, capacity=capacity, i_charge=amps, tail_time=tail))
    if not math.isfinite(end):
        return ()
    knee = float(store.acceptance_knee(amps, capacity=capacity, tail_time=tail))
    points = []
    for t in np.linspace(0.0, end, CURVE_POINTS):
        s = float(store.charge_after(t, soc=soc, capacity=capacity, i_charge=amps, tail_time=tail))
        i = amps if s < knee else float(store.acceptance_current(s, capacity=capacity, tail_time=tail))
        points.append((float(t), s, min(amps, i)))
    return tuple(points)


def run_plan(filled: Filled, load: Load, ask: Ask, delivered: float | None) -> RunPlan | None:
    """How long the battery runs this load from the charge it has when full to its low mark; None without a battery.

    delivered: watts at the battery's posts that riding gives, for the riding that puts it back.
    """
    battery = filled.rig.battery
    joined = hookup(filled.rig, load.name)
    if battery is None or joined.battery is None or load.power is None:
        return None
    assert (
        battery.voltage
        and battery.capacity
        and battery.resistance
        and battery.temperature
        and battery.low_voltage
    )
    draws = Draws(ask.draws, ask.seed)
    watts = draws.column("load.power", load.power)
    if joined.load_board is not None:
        board = joined.load_board
        eta = draws.column("board.efficiency", board.efficiency, default=0.88)
        watts = watts / eta + draws.column("board.idle_power", board.idle_power, default=1.0)
    usual = store.CHEMISTRIES[battery.chemistry]
    nominal = float(
        store.open_circuit_voltage(0.6, v_name=battery.voltage.value, chemistry=battery.chemistry)
    )
    amps = watts / (0.98 * nominal)
    capacity = battery.capacity.value * draws.column("battery.health", battery.health, default=0.9)
    cutoff = battery.low_voltage.value
    if joined.load_board is not None and joined.load_board.input_min is not None:
        cutoff = max(cutoff, joined.load_board.input_min.value)
    r = draws.column("battery.resistance", battery.resistance)
    left = store.charge_to_cutoff(
        cutoff,
        i_load=amps,
        r_store=r,
        capacity=capacity,
        v_name=battery.voltage.value,
        chemistry=battery.chemistry,
        temperature=battery.temperature.value,
    )
    depth = np.clip(1 - np.maximum(np.asarray(left), 0.0), 0.0, 1.0)
    lead = not battery.chemistry.startswith("li")
    cold = float(store.cold_share(battery.temperature.value)) if lead else 1.0
    seconds = np.asarray(
        store.run_time(
            amps, capacity=capacity, peukert=usual.peukert, depth=depth, share_cold=min(cold, 1.05)
        )
    )
    seconds = np.where(depth > 0.02, seconds, 0.0)
    back = _band(np.full(1, math.nan))
    if delivered is not None and delivered > 0:
        back = _band(amps * seconds * nominal / STORED[battery.chemistry] / delivered)
    says = (
        "the cut-off of its board is met before it is used up"
        if cutoff > battery.low_voltage.value
        else "down to its low mark"
    )
    return RunPlan(
        load=load.name, amps=_band(amps), time=_band(seconds), cutoff=cutoff, legs_time=back, says=says
    )
