"""One appliance in each way of running: started, idle, light and rated work, at the gentlest effort that holds it."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from sparewatt.parts import Load, Measured
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.endurance import time_for
from sparewatt.rig.fill import Filled
from sparewatt.rig.fitting import misfit
from sparewatt.rig.hookup import hookup
from sparewatt.rig.operating import PASSABLE, State, bands, operate
from sparewatt.rig.outcome import Band, Stop
from sparewatt.studies.answers import LoadState
from sparewatt.studies.judging import Judgement
from sparewatt.studies.load_starts import Started, start_of
from sparewatt.studies.tools import STATES, tool_state

__all__ = ["load_states"]

NAN = math.nan
DRAWS = 256


def load_states(filled: Filled, load: Load, judged: Judgement, effort: float | None) -> tuple[LoadState, ...]:
    """Start, and then each way of running that makes sense for the kind. effort: what was asked for, None for the habit."""
    started = start_of(filled, load.name, judged.ask.rider)
    if load.kind == "universal_motor":
        found = tuple(
            _tool(filled, load, judged.ask, effort, state, share) for state, share in STATES.items()
        )
        return (_as_state(started, found[0]), *found)
    rated = _run(filled, load, judged.ask, "rated")
    return (_as_state(started, rated) if rated.works else dataclasses.replace(rated, state="start"), rated)


def _as_state(started: Started, now: LoadState) -> LoadState:
    """A start as one of the ways of running."""
    if started.kind == "as it runs":
        return dataclasses.replace(now, state="start")
    nan = Band(NAN, NAN, NAN)
    return LoadState(
        state="start",
        works=started.works,
        chance=started.chance,
        gear=started.gear,
        stop=started.stop,
        p_load=Band(started.p_load, NAN, NAN),
        p_rider=Band(started.p_rider, NAN, NAN),
        hold=Band(started.w_crank, NAN, NAN),
        amps=started.amps,
        volts=started.volts,
        speed_share=NAN,
        torque_share=NAN,
        time=Band(started.able, NAN, NAN) if started.works else nan,
        says=started.says,
        seconds=started.seconds,
    )


def _tool(filled: Filled, load: Load, ask: Ask, effort: float | None, state: str, share: float) -> LoadState:
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
        stop = Stop.TOO_FEW_VOLTS if not tool.limited else Stop.EDGE_BOARD
        return _cannot(state, stop, tool.amps, volts, share, says)
    power = (
        load.power
        if state == "light"
        else Measured(float(tool.watts[0]), float(np.std(tool.watts[1:])), "nameplate")
    )
    k = filled.rig.load.index(load)
    working = dataclasses.replace(
        filled.rig,
        load=(*filled.rig.load[:k], dataclasses.replace(load, power=power), *filled.rig.load[k + 1 :]),
    )
    if state != "light":
        ask = ask_for(
            working, rider=ask.rider, load=load.name, effort=effort, duration=ask.duration, draws=ask.draws
        )
    ran = _run(Filled(rig=working, assumed=filled.assumed), working.load[k], ask, state)
    return dataclasses.replace(
        ran, amps=tool.amps, volts=volts, speed_share=tool.speed_share, torque_share=share
    )


def _run(filled: Filled, load: Load, ask: Ask, state: str) -> LoadState:
    """One way of running, read from the state of the question."""
    wrong = misfit(filled.rig, load.name)
    volts = load.voltage.value if load.voltage else NAN
    watts = load.power.value if load.power else NAN
    amps = watts / volts if volts else NAN
    share = 1.0 if state == "rated" else NAN
    if wrong is not None:
        return _cannot(state, wrong[0], amps, volts, share, wrong[1])
    if hookup(filled.rig, load.name).battery is not None:
        return _from_battery(state, load)
    solved = operate(filled, ask)
    if solved.stop in (Stop.FOUND, Stop.PINNED) and solved.chances[solved.gear] >= PASSABLE:
        return _found(solved, state, load)
    return _cannot(state, solved.stop, amps, volts, share, solved.stop.value)


def _found(solved: State, state: str, load: Load) -> LoadState:
    g, bound = solved.gear, solved.bound
    p = solved.found.p_rider[g]
    t = time_for(p, bound.critical_power, bound.work_reserve)
    volts = load.voltage.value if load.voltage else NAN
    watts = float(solved.found.p_load[g, 0])
    return LoadState(
        state=state,
        works=True,
        chance=float(solved.chances[g]),
        gear=bound.gears[g],
        stop=solved.stop,
        p_load=bands(solved, solved.found.p_load[g]),
        p_rider=bands(solved, p),
        hold=bands(solved, solved.found.w_hold[g]),
        amps=watts / volts if volts else NAN,
        volts=volts,
        speed_share=NAN,
        torque_share=NAN,
        time=bands(solved, np.minimum(t, 86400.0)),
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
