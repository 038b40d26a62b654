"""Will it run, and how long: each appliance started, idle, in light and rated work; bouts and breathers; the battery."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Load, Rig
from sparewatt.physics import appliances
from sparewatt.physics import rider as rider_physics
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import find_rider
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Caveat, Stop
from sparewatt.studies.answers import Bout, LoadAnswer, LoadsAnswer, LoadState
from sparewatt.studies.charge import charge_plan, run_plan
from sparewatt.studies.judging import judge
from sparewatt.studies.load_states import load_states
from sparewatt.studies.nearest import offers

__all__ = ["loads"]

F = NDArray[np.float64]
NAN = math.nan
SHOWN_BOUTS = 8
REST_POWER = 40.0  # W at the pedals while resting on the bike
SOURCES = (
    "dc_rules",
    "series_plate",
    "critical_power",
    "skiba_2015",
    "acceptance",
    "charge_volts",
    "peukert",
)
DRAWS = 256


def loads(
    rig: Rig | Filled,
    rider: str | None = None,
    effort: float | None = None,
    duration: float | None = None,
    only: str | None = None,
) -> LoadsAnswer:
    """Every load of the rig (or `only` one) and its battery, for one rider."""
    filled = rig if isinstance(rig, Filled) else fill(rig)
    named = [x for x in filled.rig.load if only is None or x.name.casefold() == only.casefold()]
    if only is not None and only.casefold() != "charge" and not named:
        known = ", ".join(f"'{x.name}'" for x in filled.rig.load)
        raise BadRequest(
            Problem(
                where="load", read=only, problem=f"there is no load called '{only}'", hint=f"loads: {known}"
            )
        )
    person = find_rider(filled.rig, rider).name
    charge = None
    if filled.rig.battery is not None:
        charge = charge_plan(
            filled, ask_for(filled.rig, rider=person, load="charge", effort=effort, duration=duration)
        )
    delivered = charge.p_battery.mid if charge is not None and charge.accepted.mid > 0 else None
    asks = tuple(
        ask_for(filled.rig, rider=person, load=load.name, effort=effort, duration=duration) for load in named
    )
    rows = tuple(_answer(filled, load, ask, effort, delivered) for load, ask in zip(named, asks, strict=True))
    caveats = tuple(
        Caveat("rig file", f"{key}: {says}")
        for key, says in filled.assumed
        if key.startswith(("load", "battery"))
    )
    return LoadsAnswer(rider=person, rows=rows, charge=charge, caveats=caveats, sources=SOURCES, asks=asks)


def _answer(
    filled: Filled, load: Load, ask: Ask, effort: float | None, delivered: float | None
) -> LoadAnswer:
    """One load, judged as everywhere, with each way of running it."""
    judged = judge(filled, ask)
    joined = hookup(filled.rig, load.name)
    feeding = joined.load_board or joined.board
    on_ac = feeding is not None and feeding.kind == "inverter"
    rule = appliances.dc_suitability(load.kind, trigger=load.trigger)
    if on_ac:
        rule = appliances.Suitability("not refused", "The inverter makes AC for it.")
    changes = offers(filled, judged)
    if judged.state is None or judged.stop is Stop.DEPENDED_ON:
        refused = judged.state is None
        return LoadAnswer(
            load=load.name,
            verdict=judged.verdict,
            dc="stop" if refused else rule.check,
            dc_why=judged.why if refused else rule.why,
            states=(),
            bout=None,
            run=None,
            stop=judged.stop,
            why=judged.why,
            nearest_yes=changes,
            sources=SOURCES,
        )
    states = load_states(filled, load, judged, effort)
    best = next((s for s in reversed(states) if s.works and s.state in ("light", "rated")), None)
    runs = best is not None and joined.battery is not None
    bout = None
    if best is not None and joined.battery is None and math.isfinite(best.p_rider.mid):
        short = best.time.mid < ask.duration or load.kind == "universal_motor" or load.bout is not None
        bout = _bout(filled, load, ask.rider, best) if short else None
    return LoadAnswer(
        load=load.name,
        verdict=judged.verdict,
        dc=rule.check,
        dc_why=rule.why,
        states=states,
        bout=bout,
        run=run_plan(filled, load, ask, delivered) if runs else None,
        stop=judged.stop,
        why=judged.why if judged.verdict != "good use of legs" else rule.why,
        nearest_yes=changes,
        sources=SOURCES,
    )


def _bout(filled: Filled, load: Load, rider: str, best: LoadState) -> Bout:
    """Work and rest: the reserve over a dozen cycles, and the longest unbroken bout."""
    person = find_rider(filled.rig, rider)
    assert person.critical_power and person.work_reserve
    cp, reserve = person.critical_power.value, person.work_reserve.value
    bout = load.bout.value if load.bout else 25.0
    breather = load.breather.value if load.breather else 2 * bout
    pattern = {
        "p_bout": best.p_rider.mid,
        "t_bout": bout,
        "p_breather": REST_POWER,
        "t_breather": breather,
        "critical_power": cp,
        "work_reserve": reserve,
    }
    count = float(rider_physics.cycles_to_floor(**pattern))
    dozen = float(rider_physics.reserve_over_cycles(12, **pattern).after_breather)
    says = (
        "this can go on"
        if not math.isfinite(count)
        else f"the reserve lasts about {max(count - 1, 0):.0f} bouts"
    )
    return Bout(
        full=reserve,
        points=_saw(best.p_rider.mid, bout, breather, cp, reserve),
        bout=bout,
        breather=breather,
        p_bout=best.p_rider.mid,
        p_rest=REST_POWER,
        longest=best.time,
        cycles=count if not math.isfinite(count) else max(count - 1, 0.0),
        reserve_after=dozen,
        says=says,
    )


def _saw(
    p_bout: float, bout: float, breather: float, cp: float, reserve: float
) -> tuple[tuple[float, float], ...]:
    """(s, J left) at every turn of work and rest over the first bouts, until the reserve is gone."""
    points, left, t = [(0.0, reserve)], reserve, 0.0
    for _ in range(SHOWN_BOUTS):
        for power, seconds in ((p_bout, bout), (REST_POWER, breather)):
            left = float(
                rider_physics.reserve_after(
                    seconds, p_rider=power, critical_power=cp, work_reserve=reserve, reserve_start=left
                )
            )
            t += seconds
            points.append((t, max(left, 0.0)))
            if left <= 0:
                return tuple(points)
    return tuple(points)
