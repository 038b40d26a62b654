"""First rides against what is reckoned: the cadence at which it tips over, and how high the volts jump as the load drops.

Source: [constant_power_load] [over_volts_practice]
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import SparewattError
from sparewatt.parts import Measured
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import CrossCheck
from sparewatt.studies.bench.known import Known
from sparewatt.studies.bench.known_machine import ELECTRIC, hot_k
from sparewatt.studies.bench.known_taken import Taken
from sparewatt.studies.fit.next_reading import answer_of
from sparewatt.studies.match import match

__all__ = ["ride_checks"]

F = NDArray[np.float64]
Z90 = 1.6448536269514722
NEAR = 4 * 2 * math.pi / 60  # how near a reckoned edge should lie, rad/s
READ_SD = 1 * 2 * math.pi / 60  # of a cadence read off a film as it goes, rad/s
PEAK_SD = 0.03  # of a jump read off a film
DRAWS = 128


def ride_checks(known: Known) -> list[CrossCheck]:
    """The edge as it was ridden against the edge reckoned, and the jump of the volts against the open machine."""
    return [*_edges(known), *_jumps(known)]


def _v(t: Taken, what: str) -> float:
    return float(t.values[what].value[0])


def _band(value: float, sd: float) -> Band:
    return Band(value, value - Z90 * sd, value + Z90 * sd)


def _edges(known: Known) -> list[CrossCheck]:
    by_gear: dict[str, list[float]] = {}
    for t in known.taken:
        if t.kind == "edge_ride" and t.used:
            by_gear.setdefault(t.part, []).append(_v(t, "cadence"))
    found = []
    for gear, cadences in by_gear.items():
        tip = _reckoned(known, gear)
        if not math.isfinite(tip.mid):
            continue
        seen = float(np.mean(cadences))
        sd = max(float(np.std(cadences, ddof=1)) if len(cadences) > 1 else READ_SD, READ_SD) / math.sqrt(
            len(cadences)
        )
        tip_sd = (tip.high - tip.low) / (2 * Z90) if math.isfinite(tip.high - tip.low) else NEAR
        apart = abs(seen - tip.mid) / max(math.hypot(sd, tip_sd), 1e-12)
        agrees = abs(seen - tip.mid) <= NEAR or apart <= 3
        hint = "Ride with another load or effort than the rig file says? Else measure resistance and friction next."
        found.append(
            CrossCheck(
                says="the cadence at which it tips over, as ridden and as reckoned", one=_band(seen, sd), other=tip,
                unit="rad/s", agrees=agrees, apart=apart, hint="" if agrees else hint,
            )
        )  # fmt: skip
    return found


def _reckoned(known: Known, gear: str) -> Band:
    """Where it tips over with what the readings say of the machine."""
    now: Mapping[str, float] = dict(zip(known.fit.names, known.fit.sd, strict=True))
    fitted: Any = {
        name: Measured(known.fit[name], float(sd))
        for name, sd in now.items()
        if name in (*ELECTRIC, "friction", "friction_slope") and math.isfinite(sd)
    }
    rig = dataclasses.replace(known.bench.rig, machine=dataclasses.replace(known.bench.machine, **fitted))
    nothing = Band(math.nan, math.nan, math.nan)
    try:
        filled = fill(rig)
        ask = ask_for(filled.rig, gear=gear or None, draws=DRAWS)
        answer = match(filled, ask, nearest=False)
    except SparewattError:
        return nothing
    named = gear or answer.gear
    return next((row.tip for row in answer.gears if row.gear == named), nothing)


def _jumps(known: Known) -> list[CrossCheck]:
    found = []
    for t in known.taken:
        if t.kind != "load_drop" or not t.used:
            continue
        teeth = float(known.bench.teeth[known.bench.gear(t.part)])
        w_c = _v(t, "cadence")

        def open_volts(p: Mapping[str, F], w: float = w_c * teeth) -> F:
            whole = {n: np.full(1, u.start) for n, u in known.bench.unknowns.items()} | dict(p)
            return np.asarray(hot_k(known.bench, whole, np.zeros(1), np.zeros(1)) * w * whole["ratio"])

        reckoned = answer_of(known.fit, open_volts)
        peak = _v(t, "peak_volts")
        sd = PEAK_SD * peak
        apart = (peak - reckoned.value) / max(math.hypot(sd, reckoned.sd), 1e-12)
        hint = "It jumped above the volts of the open machine: cadence or gear were not as written, or the meter misread."
        found.append(
            CrossCheck(
                says="volts as the load drops: highest seen, and the open machine at that cadence, which they cannot pass",
                one=_band(peak, sd), other=_band(reckoned.value, reckoned.sd), unit="V", agrees=apart <= 3,
                apart=abs(apart), hint="" if apart <= 3 else hint,
            )
        )  # fmt: skip
    return found
