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
from sparewatt.rig.endurance import HOURS_FACTOR
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.operating import LIKELY, operate
from sparewatt.rig.outcome import Caveat, Stop
from sparewatt.rig.refusals import lifeline, refusal
from sparewatt.studies.answers import Bout, Change, LoadAnswer, LoadsAnswer, LoadState, MatchAnswer, WorthRow
from sparewatt.studies.charge import charge_plan, run_plan
from sparewatt.studies.load_states import load_states
from sparewatt.studies.nearest import instead_of_refused, nearest_yes
from sparewatt.studies.worth import worth

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
    charge = None
    delivered: F | None = None
    person = find_rider(filled.rig, rider).name
    if filled.rig.battery is not None:
        ask = ask_for(
            filled.rig,
            rider=person,
            load="charge",
            effort=effort,
            duration=duration or _usual(filled.rig),
            draws=1024,
        )
        charge = charge_plan(filled, ask)
        if charge is not None and charge.accepted.mid > 0:
            delivered = np.full(1, charge.p_battery.mid)
    priced: dict[str, WorthRow] = {}
    if filled.rig.battery is not None and named:
        priced = {row.load: row for row in worth(filled, person).rows}
    rows = tuple(
        _answer(filled, load, person, effort, duration, delivered, priced.get(load.name)) for load in named
    )
    caveats = tuple(
        Caveat("rig file", f"{key}: {says}")
        for key, says in filled.assumed
        if key.startswith(("load", "battery"))
    )
    return LoadsAnswer(rider=person, rows=rows, charge=charge, caveats=caveats, sources=SOURCES)


def _usual(rig: Rig) -> float:
    return rig.ride.duration.value if rig.ride and rig.ride.duration else 3600.0


def _answer(
    filled: Filled,
    load: Load,
    rider: str,
    effort: float | None,
    duration: float | None,
    delivered: F | None,
    row: WorthRow | None,
) -> LoadAnswer:
    joined = hookup(filled.rig, load.name)
    feeding = joined.load_board or joined.board
    on_ac = feeding is not None and feeding.kind == "inverter"
    rule = appliances.dc_suitability(load.kind, trigger=load.trigger)
    if on_ac:
        rule = appliances.Suitability("not refused", "The inverter makes AC for it.")
    seconds = duration or (
        load.bout.value if load.bout else load.use_time.value if load.use_time else _usual(filled.rig)
    )
    refused = refusal(filled.rig, load.name)
    if refused is not None and refused[0] == Stop.NO_MACHINE and joined.battery is None:
        rule = appliances.Suitability("stop", refused[1])
    line = lifeline(filled.rig, load)
    hangs = line is not None and not line.enough
    if rule.check == "stop" or hangs:
        stop = Stop.DEPENDED_ON if hangs else refused[0] if refused is not None else Stop.NOT_ON_DC
        ask = Ask(rider=rider, load=load.name, gear=None, effort=effort or 100.0, duration=seconds)
        instead = instead_of_refused(filled, ask, stop)
        return LoadAnswer(
            load=load.name,
            verdict="not by legs",
            dc=rule.check,
            dc_why=rule.why,
            states=(),
            bout=None,
            run=None,
            stop=stop,
            why=stop.value if hangs else rule.why,
            nearest_yes=instead,
            sources=SOURCES,
        )
    states = load_states(filled, load, rider, effort)
    run = run_plan(
        filled,
        load,
        ask_for(filled.rig, rider=rider, load=load.name, effort=100.0, draws=DRAWS),
        delivered,
    )
    works = [s for s in states if s.works and s.state in ("light", "rated")]
    run = run if works else None
    starts = next((s for s in states if s.state == "start"), None)
    best = works[-1] if works else None
    stored = row if joined.battery is not None else None
    cp = find_rider(filled.rig, rider).critical_power
    hour = HOURS_FACTOR * cp.value if cp is not None else math.inf
    verdict = _verdict(best, starts, states, seconds, stored.verdict if stored else "", hour)
    bout = None
    short = best is not None and (
        best.time.mid < seconds or load.kind == "universal_motor" or load.bout is not None
    )
    if best is not None and short and math.isfinite(best.p_rider.mid) and joined.battery is None:
        bout = _bout(filled, load, rider, best)
    stop = (
        Stop.FOUND
        if best is not None
        else next((s.stop for s in states if not s.works and s.stop != Stop.FOUND), Stop.STALLS)
    )
    changes: tuple[Change, ...] = ()
    unfair = (
        _unfair(filled, load, rider, effort, seconds) if filled.rig.neighbour and stored is None else None
    )
    if unfair is not None:
        verdict, stop, changes = unfair.verdict, unfair.stop, unfair.nearest_yes
    elif stored is not None:
        changes = stored.nearest_yes
    elif verdict != "good use of legs":
        ask = ask_for(filled.rig, rider=rider, load=load.name, effort=effort, duration=seconds, draws=DRAWS)
        changes = nearest_yes(operate(filled, ask), verdict)
    why = rule.why
    if stored is not None and (best is not None or stored.verdict == "not by legs"):
        why = stored.why
    elif best is None or unfair is not None:
        why = stop.value
    return LoadAnswer(
        load=load.name,
        verdict=verdict,
        dc=rule.check,
        dc_why=rule.why,
        states=states,
        bout=bout,
        run=run,
        stop=stop,
        why=why,
        nearest_yes=changes,
        sources=SOURCES,
    )


def _unfair(
    filled: Filled, load: Load, rider: str, effort: float | None, seconds: float
) -> MatchAnswer | None:
    """The match answer when several rigs on the bus do not share and one rider is crushed; None when they share."""
    from sparewatt.studies.match import match

    ask = ask_for(filled.rig, rider=rider, load=load.name, effort=effort, duration=seconds, draws=DRAWS)
    answer = match(filled, ask)
    return answer if answer.stop == Stop.UNFAIR else None


def _verdict(
    best: LoadState | None,
    starts: LoadState | None,
    states: tuple[LoadState, ...],
    seconds: float,
    priced: str,
    hour: float,
) -> str:
    """Runs as long as it is wanted on what can be held for an hour: good; in bouts: hard work; else not by legs.

    Rated work is not asked of a tool: light work is what direct current of half its volts can give.
    """
    if best is None or (starts is not None and not starts.works):
        return "not by legs"
    if priced:
        return priced
    enough = best.time.mid >= 0.999 * seconds
    everything = all(s.works for s in states if s.state != "rated" or best.state == "rated")
    if best.time.mid < 10:
        return "not by legs"
    easy = enough and everything and best.chance >= LIKELY and best.p_rider.mid <= 1.02 * hour
    return "good use of legs" if easy else "hard work"


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
