"""Readings that could be taken next on this rig, each as it would be written, with the likely place to take it.

Bulbs of 21 and 55 W at 12 V, a hand drill, two bottles, a known disc of 1 kg and 15 cm: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.known_rig import Bench
from sparewatt.studies.bench.known_taken import Taken, taken_of

__all__ = ["Offer", "offers"]

RPM = 2 * math.pi / 60
GRAVITY = 9.80665
DRILL = 2200 * RPM
BULBS = (1.75, 4.6, 6.3)  # A at 12 V: 21 W, 55 W, both
Known = Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """One pass of a procedure: the readings it would yield. at: where to take the most telling one."""

    procedure: str
    kind: str
    taken: tuple[Taken, ...]
    at: tuple[tuple[str, float], ...]


def offers(bench: Bench, now: Known) -> tuple[Offer, ...]:
    """Everything that can be read on this rig. now: value of each constant as known so far."""
    found = []
    for procedure, kind, build in _BUILDS:
        rows = build(bench, now)
        entries = [
            Entry(what=what, value=value, procedure=kind, at=f"next {n}")
            for n, row in enumerate(rows)
            for what, values in row.items()
            for value in (values if isinstance(values, tuple) else (values,))
        ]
        taken, _ = taken_of(entries)
        if taken:
            last = rows[-1]
            at = tuple((w, v) for w, v in last.items() if isinstance(v, float) and w in _SHOWN)
            found.append(Offer(procedure=procedure, kind=kind, taken=taken, at=at))
    return tuple(found)


_SHOWN = ("speed", "amps", "volts", "mass", "cadence", "held_for")
Row = dict[str, float | tuple[float, ...]]
Build = Callable[[Bench, Known], list[Row]]


def _k(bench: Bench, now: Known) -> float:
    return now["emf_constant"] * bench.volts_factor


def _top(bench: Bench) -> float:
    limit = bench.machine.speed_limit.value if bench.machine.speed_limit else DRILL
    return min(DRILL, limit)


def _open(bench: Bench, now: Known) -> list[Row]:
    return [{"volts": _k(bench, now) * w, "speed": w} for w in (f * _top(bench) for f in (0.4, 0.7, 1.0))]


def _loaded(bench: Bench, now: Known) -> list[Row]:
    """At the speed that gives about 12 V, or the drill's top."""
    rows: list[Row] = []
    for i in BULBS:
        w = min((12 + now["brush_drop"] + now["resistance"] * i) / _k(bench, now), _top(bench))
        v = max(_k(bench, now) * w - now["brush_drop"] - now["resistance"] * i, 1.0)
        rows.append({"volts": v, "amps": i, "speed": w})
    return rows


def _locked(bench: Bench, now: Known) -> list[Row]:
    return [{"volts": now["resistance"] * i + now["brush_drop"], "amps": i} for i in (1.2, 2.4, 3.6)]


def _free(bench: Bench, now: Known) -> list[Row]:
    i = now["friction"] / _k(bench, now)
    return [{"volts": v, "amps": i} for v in (12.6, 25.2)]


def _stop(now: Known, w: float) -> float:
    return now["inertia"] * w / (now["friction"] + 0.5 * now["friction_slope"] * w)


def _down(bench: Bench, now: Known) -> list[Row]:
    w = _top(bench)
    t = tuple(f * _stop(now, w) for f in (0.0, 0.15, 0.3, 0.45, 0.6, 0.75))
    return [{"time": t, "volts": tuple(_k(bench, now) * w * (1 - x / _stop(now, w)) for x in t)}]


def _down_disc(bench: Bench, now: Known) -> list[Row]:
    mass, across = 1.0, 0.15
    heavier = dict(now) | {"inertia": now["inertia"] + mass * across**2 / 8}
    return [dict(_down(bench, heavier)[0], disc_mass=mass, disc_diameter=across)]


def _fall(bench: Bench, now: Known) -> list[Row]:
    r, h = 0.02, 1.0
    rows: list[Row] = []
    for m in (2.0, 2.0, 4.0, 4.0):
        pull = m * GRAVITY * r - now["friction"]
        if pull <= 0:
            continue
        a = r * pull / (now["inertia"] + m * r * r)
        rows.append({"mass": m, "height": h, "string_radius": r, "fall_time": math.sqrt(2 * h / a)})
    return rows


def _lever(bench: Bench, now: Known) -> list[Row]:
    arm = 0.2
    k = now["emf_constant"] / GRAVITY / arm
    return [{"amps": i, "arm": arm, "rising": k * i, "falling": k * i} for i in (2.0, 4.0, 6.0)]


def _power(bench: Bench, now: Known) -> list[Row]:
    k = bench.board("") if bench.boards else None
    if k is None:
        return []
    v_in, v_out = 24.0, 13.8
    rows: list[Row] = []
    for p in (15.0, 40.0, 75.0, 120.0):
        taken = p + now[f"loss_0.{k}"] + now[f"loss_1.{k}"] * p + now[f"loss_2.{k}"] * p * p
        rows.append({"volts_in": v_in, "amps_in": taken / v_in, "volts_out": v_out, "amps_out": p / v_out})
    return rows


def _dip(bench: Bench, now: Known) -> list[Row]:
    if bench.battery is None or bench.battery.voltage is None:
        return []
    v = 1.05 * bench.battery.voltage.value
    sag = now["battery_resistance"] * BULBS[1]
    return [
        {"rest_volts": v, "loaded_volts": v - sag, "recovered_volts": v, "amps": BULBS[1]} for _ in range(3)
    ]


def _run(bench: Bench, now: Known) -> list[Row]:
    battery = bench.battery
    if battery is None or battery.capacity is None or battery.voltage is None:
        return []
    amps = battery.capacity.value / 36e3
    empty = 1.7 * battery.voltage.value / 2
    lasts = 0.8 * battery.capacity.value / amps
    return [{"time": (0.0, lasts), "volts": (1.03 * battery.voltage.value, empty), "amps": (amps, amps)}]


def _turns(bench: Bench, now: Known) -> list[Row]:
    n = float(bench.teeth[bench.gear("")]) * bench.unknowns["ratio"].start
    return [{"crank_turns": 20.0, "machine_turns": 20.0 * n}]


def _ride(bench: Bench, now: Known) -> list[Row]:
    n = float(bench.teeth[bench.gear("")]) * now.get("ratio", bench.unknowns["ratio"].start)
    rows: list[Row] = []
    for w_c, i in ((6.0, 2.0), (6.5, 4.0), (7.0, 6.0)):
        v = max(_k(bench, now) * w_c * n - now["brush_drop"] - now["resistance"] * i, 1.0)
        rows.append({"cadence": w_c, "volts": v, "amps": i, "speed": w_c * n})
    return rows


def _efforts(bench: Bench, now: Known) -> list[Row]:
    cp, reserve = (now.get(n, bench.unknowns[n].start) for n in ("critical_power.0", "work_reserve.0"))
    rows: list[Row] = []
    for t in (180.0, 720.0):
        watts = 0.7 * (cp + reserve / t)
        rows.append({"held_for": t, "volts": 14.0, "amps": watts / 14.0, "cadence": 6.8})
    return rows


def _talking(bench: Bench, now: Known) -> list[Row]:
    cp = now.get("critical_power.0", bench.unknowns["critical_power.0"].start)
    return [{"volts": 14.0, "amps": 0.6 * cp / 14.0, "cadence": 6.8}]


_BUILDS: tuple[tuple[str, str, Build], ...] = (
    ("spin_open", "open_volts", _open),
    ("spin_loaded", "loaded_volts", _loaded),
    ("locked_shaft", "locked_volts", _locked),
    ("run_free", "run_free", _free),
    ("run_down", "run_down", _down),
    ("run_down", "run_down_disc", _down_disc),
    ("falling_weight", "falling_weight", _fall),
    ("lever_torque", "lever_torque", _lever),
    ("board_power", "board_power", _power),
    ("battery_dip", "battery_dip", _dip),
    ("battery_run", "battery_run", _run),
    ("ratio_and_slip", "hand_turns", _turns),
    ("step_ride", "riding", _ride),
    ("hard_efforts", "hard_effort", _efforts),
    ("gentle_steps", "gentle_step", _talking),
)
