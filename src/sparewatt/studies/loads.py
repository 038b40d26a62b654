"""Will it run, and how long: each appliance started, idle, in light and rated work; bouts and breathers; the battery."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Load, Measured, Rig
from sparewatt.physics import appliances
from sparewatt.physics import rider as rider_physics
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Band, Caveat, Stop
from sparewatt.studies import core
from sparewatt.studies.answers import (
    Ask,
    Bout,
    Change,
    LoadAnswer,
    LoadsAnswer,
    LoadState,
    MatchAnswer,
    WorthRow,
)
from sparewatt.studies.charge import charge_plan, run_plan
from sparewatt.studies.core import Solved
from sparewatt.studies.nearest import instead_of_refused, nearest_yes
from sparewatt.studies.tools import STATES, spin_up, tool_state
from sparewatt.studies.worth import worth

__all__ = ["loads"]

F = NDArray[np.float64]
NAN = math.nan
SPELLS = (3600.0, 600.0, 120.0, 30.0, 10.0)  # s: efforts tried, gentlest first
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
    person = core.find_rider(filled.rig, rider).name
    if filled.rig.battery is not None:
        ask = core.ask_for(
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
    if rule.check == "stop":
        ask = Ask(rider=rider, load=load.name, gear=None, effort=effort or 100.0, duration=seconds)
        instead = instead_of_refused(filled, ask, Stop.NOT_ON_DC)
        return LoadAnswer(
            load=load.name,
            verdict="not by legs",
            dc=rule.check,
            dc_why=rule.why,
            states=(),
            bout=None,
            run=None,
            stop=Stop.NOT_ON_DC,
            why=rule.why,
            nearest_yes=instead,
            sources=SOURCES,
        )
    states = _states(filled, load, rider, effort)
    run = run_plan(
        filled,
        load,
        core.ask_for(filled.rig, rider=rider, load=load.name, effort=100.0, draws=DRAWS),
        delivered,
    )
    works = [s for s in states if s.works and s.state in ("light", "rated")]
    starts = next((s for s in states if s.state == "start"), None)
    best = works[-1] if works else None
    stored = row if joined.battery is not None else None
    verdict = _verdict(best, starts, states, seconds, stored.verdict if stored else "")
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
        ask = core.ask_for(
            filled.rig, rider=rider, load=load.name, effort=effort, duration=seconds, draws=DRAWS
        )
        changes = nearest_yes(core.solve_ask(filled, ask), verdict)
    why = stop.value if best is None or unfair is not None else stored.why if stored is not None else rule.why
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

    ask = core.ask_for(filled.rig, rider=rider, load=load.name, effort=effort, duration=seconds, draws=DRAWS)
    answer = match(filled, ask)
    return answer if answer.stop == Stop.UNFAIR else None


def _verdict(
    best: LoadState | None,
    starts: LoadState | None,
    states: tuple[LoadState, ...],
    seconds: float,
    priced: str,
) -> str:
    """Runs for as long as it is wanted: good; in bouts or only light: hard work; else not by legs."""
    if best is None or (starts is not None and not starts.works):
        return "not by legs"
    if priced:
        return priced
    enough = best.time.mid >= 0.999 * seconds
    everything = all(s.works for s in states)
    if best.time.mid < 10:
        return "not by legs"
    return "good use of legs" if enough and everything and best.chance >= core.LIKELY else "hard work"


def _states(filled: Filled, load: Load, rider: str, effort: float | None) -> tuple[LoadState, ...]:
    """Start, and then each way of running that makes sense for the kind."""
    if load.kind == "universal_motor":
        found = [_tool(filled, load, rider, effort, state, share) for state, share in STATES.items()]
        return (_tool_start(filled, load, rider), *found)
    rated = _run(filled, load, rider, effort, "rated", load.power)
    return (_start(filled, load, rider, rated), rated)


def _tool(
    filled: Filled, load: Load, rider: str, effort: float | None, state: str, share: float
) -> LoadState:
    """A tool in one way of working: first whether the motor can, then whether the legs can."""
    joined = hookup(filled.rig, load.name)
    board = joined.load_board or joined.board
    volts = load.voltage.value if load.voltage else 110.0
    tool = tool_state(load, board, share, volts)
    if tool.stalls:
        says = (
            "the amps screw holds it back: it slows to a stop"
            if tool.limited
            else "on these volts the motor cannot push that hard"
        )
        return _cannot(
            state, Stop.TOO_FEW_VOLTS if not tool.limited else Stop.EDGE_BOARD, tool.amps, volts, share, says
        )
    spread = float(np.std(tool.watts[1:]))
    ran = _run(filled, load, rider, effort, state, Measured(float(tool.watts[0]), spread, "nameplate"))
    return dataclasses.replace(
        ran, amps=tool.amps, volts=volts, speed_share=tool.speed_share, torque_share=share
    )


def _tool_start(filled: Filled, load: Load, rider: str) -> LoadState:
    """Run-up on the board's amps limit: the hardest moment is just before it is up to speed."""
    joined = hookup(filled.rig, load.name)
    board = joined.load_board or joined.board
    volts = load.voltage.value if load.voltage else 110.0
    seconds, limit, locked = spin_up(load, board, volts)
    idle = tool_state(load, board, 0.0, volts)
    peak = max(float(idle.watts[0]), min(volts * limit, 3.0 * float(idle.watts[0])))
    ran = _run(filled, load, rider, None, "start", Measured(peak, 0.1 * peak, "typical"), spells=(10.0,))
    held = f"runs up in about {seconds:.1f} s" if math.isfinite(seconds) else "never runs up"
    says = f"{held}, held back to {limit:.1f} A (it would take {locked:.1f} A standing still)"
    return dataclasses.replace(
        ran, amps=limit, volts=volts, works=ran.works and math.isfinite(seconds), says=says
    )


def _start(filled: Filled, load: Load, rider: str, rated: LoadState) -> LoadState:
    """The inrush of a plain load: from the battery if there is one, else from what the legs can give for seconds."""
    factor = load.start_factor.value if load.start_factor else 1.5
    joined = hookup(filled.rig, load.name)
    battery = joined.battery
    if battery is not None and battery.resistance and battery.voltage and load.power:
        amps = factor * load.power.value / battery.voltage.value
        cutoff = (
            joined.load_board.input_min.value
            if joined.load_board and joined.load_board.input_min
            else 0.75 * battery.voltage.value
        )
        sag = battery.voltage.value * 1.02 - amps * battery.resistance.value
        works = sag > cutoff
        says = f"takes {amps:.0f} A for a moment; the battery sags to about {sag:.1f} V"
        stop = Stop.FOUND if works else Stop.TOO_FEW_VOLTS
        return dataclasses.replace(
            rated, state="start", works=works, stop=stop, amps=amps, volts=sag, says=says, chance=float(works)
        )
    board = joined.board
    soft = board is not None and (board.set_current is not None or board.kind != "inverter")
    if soft or factor <= 1.6 or load.power is None:
        return dataclasses.replace(
            rated, state="start", says="starts softly: the board holds the first amps back"
        )
    return _run(filled, load, rider, None, "start", load.power.scaled(min(factor, 3.0)), spells=(10.0,))


def _run(
    filled: Filled,
    load: Load,
    rider: str,
    effort: float | None,
    state: str,
    power: Measured | None,
    spells: tuple[float, ...] = SPELLS,
) -> LoadState:
    """Solve the load at some watts, with the gentlest effort that holds it."""
    k = filled.rig.load.index(load)
    parts = filled.rig.load
    changed = dataclasses.replace(load, power=power)
    rig = dataclasses.replace(filled.rig, load=(*parts[:k], changed, *parts[k + 1 :]))
    asked = Filled(rig=rig, assumed=filled.assumed)
    if hookup(rig, load.name).battery is not None:
        return _from_battery(state, changed)
    person = core.find_rider(rig, rider)
    assert person.critical_power and person.work_reserve and person.peak_power
    numbers = (person.critical_power.value, person.work_reserve.value)
    solved: Solved | None = None
    for seconds in spells:
        worth = (
            effort
            if effort is not None
            else float(core.power_for(*numbers, seconds, person.peak_power.value))
        )
        ask = Ask(rider=rider, load=load.name, gear=None, effort=worth, duration=seconds, draws=DRAWS)
        solved = core.solve_ask(asked, ask)
        enough = core.PASSABLE if seconds == spells[-1] or effort is not None else core.LIKELY
        if solved.stop in (Stop.FOUND, Stop.PINNED) and solved.chances[solved.gear] >= enough:
            return _found(solved, state, changed)
        if effort is not None:
            break
    assert solved is not None
    volts = load.voltage.value if load.voltage else NAN
    watts = power.value if power else NAN
    amps = watts / volts if volts else NAN
    return _cannot(state, solved.stop, amps, volts, 1.0 if state == "rated" else NAN, solved.stop.value)


def _found(solved: Solved, state: str, load: Load) -> LoadState:
    g, bound = solved.gear, solved.bound
    p = solved.found.p_rider[g]
    t = core.time_for(p, bound.critical_power, bound.work_reserve)
    volts = load.voltage.value if load.voltage else NAN
    watts = float(solved.found.p_load[g, 0])
    return LoadState(
        state=state,
        works=True,
        chance=float(solved.chances[g]),
        gear=bound.gears[g],
        stop=solved.stop,
        p_load=core.bands(solved, solved.found.p_load[g]),
        p_rider=core.bands(solved, p),
        hold=core.bands(solved, solved.found.w_hold[g]),
        amps=watts / volts if volts else NAN,
        volts=volts,
        speed_share=NAN,
        torque_share=NAN,
        time=core.bands(solved, np.minimum(t, 86400.0)),
        says="",
    )


def _from_battery(state: str, load: Load) -> LoadState:
    """A load on a battery runs whether or not anyone rides."""
    nan = Band(NAN, NAN, NAN)
    volts = load.voltage.value if load.voltage else NAN
    watts = load.power.value if load.power else NAN
    return LoadState(
        state=state,
        works=True,
        chance=1.0,
        gear="",
        stop=Stop.FOUND,
        p_load=Band(watts, NAN, NAN),
        p_rider=nan,
        hold=nan,
        amps=watts / volts if volts else NAN,
        volts=volts,
        speed_share=NAN,
        torque_share=NAN,
        time=Band(math.inf, NAN, NAN),
        says="runs from the battery, with or without a rider",
    )


def _cannot(state: str, stop: Stop, amps: float, volts: float, share: float, says: str) -> LoadState:
    nan = Band(NAN, NAN, NAN)
    return LoadState(
        state=state,
        works=False,
        chance=0.0,
        gear="",
        stop=stop,
        p_load=nan,
        p_rider=nan,
        hold=nan,
        amps=amps,
        volts=volts,
        speed_share=NAN,
        torque_share=share,
        time=Band(0.0, NAN, NAN),
        says=says,
    )


def _bout(filled: Filled, load: Load, rider: str, best: LoadState) -> Bout:
    """Work and rest: the reserve over a dozen cycles, and the longest unbroken bout."""
    person = core.find_rider(filled.rig, rider)
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
