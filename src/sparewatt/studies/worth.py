"""Is it worth the legs: energy per use through the whole chain at its actual power, minutes, food, breath."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Load, Rig
from sparewatt.physics import body
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import find_rider
from sparewatt.rig.draws import Draws
from sparewatt.rig.endurance import HOURS_FACTOR
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.outcome import Band, Caveat, Stop
from sparewatt.studies.answers import Unknown, WorthAnswer, WorthRow
from sparewatt.studies.judging import hardest, judge, why_day
from sparewatt.studies.nearest import offers
from sparewatt.studies.pricing import Legs, day_verdict, legs_of, price
from sparewatt.studies.unknowns import READINGS, variance_shares

__all__ = ["worth"]

F = NDArray[np.float64]
DRAWS, SEED = 1024, 1
SOURCES = ("critical_power", "moseley_2001", "oxygen_energy", "battery_efficiency")


def worth(
    rig: Rig | Filled,
    rider: str | None = None,
    people: int = 1,
    effort: float | None = None,
    duration: float | None = None,
) -> WorthAnswer:
    """Price of every load of the rig in legs; `people` riders share the day."""
    filled = rig if isinstance(rig, Filled) else fill(rig)
    if not filled.rig.load:
        raise BadRequest(
            Problem(
                where="load",
                problem="there is no load to price",
                hint="add a [[load]] with its watts and how long one use lasts",
            )
        )
    person = find_rider(filled.rig, rider)
    draws = Draws(DRAWS, SEED)
    legs = legs_of(filled, person.name, draws)
    asks = tuple(
        ask_for(filled.rig, rider=person.name, load=x.name, effort=effort, duration=duration)
        for x in filled.rig.load
    )
    rows = tuple(
        _row(filled, load, ask, draws, people, legs) for load, ask in zip(filled.rig.load, asks, strict=True)
    )
    total = sum((np.asarray(r[1]) for r in rows), np.zeros(DRAWS + 1))
    riding = legs.seconds_for(total / people)
    shares = variance_shares(riding[1:], draws.scores)
    return WorthAnswer(
        rider=person.name,
        sustain=_band(HOURS_FACTOR * legs.cp),
        rows=tuple(r[0] for r in rows),
        total_per_day=_band(riding),
        unknowns=tuple(
            _unknown(key, share, draws, filled.rig)
            for key, share in sorted(shares.items(), key=lambda x: -x[1])[:4]
            if share >= 0.03
        ),
        caveats=tuple(
            Caveat("rig file", f"{key}: {says}")
            for key, says in filled.assumed
            if key.startswith(("load", "rider"))
        ),
        sources=SOURCES,
        asks=asks,
    )


def _row(filled: Filled, load: Load, ask: Ask, draws: Draws, people: int, legs: Legs) -> tuple[WorthRow, F]:
    """One load, and its work at the pedals a day, (draws + 1,)."""
    judged = judge(filled, ask)
    cost = price(filled, ask, draws, people=people)  # on the draws that all loads share
    verdict = hardest([*(v.verdict for v in judged.views if v.key != "day"), day_verdict(cost)])
    why = next((v.why for v in judged.views if v.key != "day" and v.verdict == verdict), why_day(cost))
    food = cost.at_legs / legs.efficiency
    row = WorthRow(
        load=load.name,
        verdict=verdict,
        energy_use=float(cost.use[0]),
        energy_legs=_band(cost.at_legs),
        chain=cost.chain,
        minutes=_band(cost.riding),
        food=_band(food),
        food_above_rest=float(food[0]),
        co2_litres=float(body.co2_above_rest(cost.at_legs[0], efficiency=legs.efficiency[0])),
        per_day=_band(cost.riding * cost.per_day),
        runs=cost.runs,
        why=why,
        nearest_yes=offers(filled, judged, people=people) if verdict != "good use of legs" else (),
        sources=SOURCES,
        stop=judged.stop if judged.stop is Stop.DEPENDED_ON else Stop.FOUND,
    )
    return row, cost.at_legs * cost.per_day


def _band(values: F) -> Band:
    return Band.of(values[1:], float(values[0]))


def _unknown(key: str, share: float, draws: Draws, rig: Rig) -> Unknown:
    name, measure, minutes = READINGS.get(
        key.rsplit(".", 1)[-1], (key.rsplit(".", 1)[-1].replace("_", " "), "", 10.0)
    )
    parts = key.split(".")
    if parts[0] == "load" and parts[1].isdigit():
        name = f"{name} ({rig.load[int(parts[1])].name})"
    return Unknown(
        key=key, name=name, share=share, how=draws.hows.get(key, "typical"), measure=measure, minutes=minutes
    )
