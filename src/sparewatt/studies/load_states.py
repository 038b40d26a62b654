"""One appliance in each way of running: started, idle, light and rated work, at the gentlest effort that holds it."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from sparewatt.parts import Load, Measured
from sparewatt.rig.asking import ask_for
from sparewatt.rig.endurance import time_for
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import hookup
from sparewatt.rig.layout import Hookup
from sparewatt.rig.operating import LIKELY, PASSABLE, State, bands, operate
from sparewatt.rig.outcome import Band, Stop
from sparewatt.studies.answers import LoadState
from sparewatt.studies.load_starts import plain_start, tool_start
from sparewatt.studies.tools import STATES, tool_state

__all__ = ["load_states"]

NAN = math.nan
DRAWS = 256
FITTING = (
    0.75,
    1.35,
)  # battery over load volts that most things made for the battery stand (common practice, no source)
SPELLS = (3600.0, 600.0, 120.0, 30.0, 10.0)  # s: efforts tried, gentlest first


def load_states(filled: Filled, load: Load, rider: str, effort: float | None) -> tuple[LoadState, ...]:
    """Start, and then each way of running that makes sense for the kind."""
    if load.kind == "universal_motor":
        found = [_tool(filled, load, rider, effort, state, share) for state, share in STATES.items()]
        return (_tool_start(filled, load, rider), *found)
    rated = _run(filled, load, rider, effort, "rated", load.power)
    return (plain_start(filled, load, rider, rated), rated)


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
    """A tool let run up: on a battery that fits, or from legs."""
    joined = hookup(filled.rig, load.name)
    idle = _run(filled, load, rider, None, "start", load.power, spells=(10.0,))
    if joined.battery is not None and not idle.works:
        return idle
    return tool_start(filled, load, rider, idle)


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
    joined = hookup(rig, load.name)
    if joined.battery is not None:
        return _unfit(state, changed, joined) or _from_battery(state, changed)
    solved: State | None = None
    for seconds in spells:
        ask = ask_for(rig, rider=rider, load=load.name, effort=effort, duration=seconds, draws=DRAWS)
        ask = dataclasses.replace(ask, gear=None)
        solved = operate(asked, ask)
        enough = PASSABLE if seconds == spells[-1] or effort is not None else LIKELY
        if solved.stop in (Stop.FOUND, Stop.PINNED) and solved.chances[solved.gear] >= enough:
            return _found(solved, state, changed)
        if effort is not None:
            break
    assert solved is not None
    volts = load.voltage.value if load.voltage else NAN
    watts = power.value if power else NAN
    amps = watts / volts if volts else NAN
    return _cannot(state, solved.stop, amps, volts, 1.0 if state == "rated" else NAN, solved.stop.value)


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


def _unfit(state: str, load: Load, joined: Hookup) -> LoadState | None:
    """Why a load cannot run from this battery: made for other volts, or more than its board takes in."""
    battery, board = joined.battery, joined.load_board
    assert (
        battery is not None
        and battery.voltage is not None
        and load.voltage is not None
        and load.power is not None
    )
    volts, made_for, watts = battery.voltage.value, load.voltage.value, load.power.value
    if board is None and not FITTING[0] * made_for <= volts <= FITTING[1] * made_for:
        stop = Stop.TOO_FEW_VOLTS if volts < made_for else Stop.BREAKS
        says = f"it is made for {made_for:g} V and the battery gives {volts:g} V; put a board in between"
        return _cannot(state, stop, NAN, volts, NAN, says)
    if board is not None and board.input_current is not None:
        eta = board.efficiency.value if board.efficiency is not None else 0.88
        most = board.input_current.value * volts * eta
        if watts > 1.02 * most:
            return _cannot(
                state,
                Stop.EDGE_BOARD,
                watts / made_for,
                made_for,
                NAN,
                f"its board passes {most:.0f} W at most from {volts:g} V",
            )
    return None


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
