"""A scene played second by second: one nominal run, many spread runs, and what they say. The question of every
"show me its seconds".
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.script import Script, in_gear, script_of
from sparewatt.language.telling import asked_time
from sparewatt.parts import Scene
from sparewatt.rig.asking import Ask
from sparewatt.rig.bind import bind, reheat
from sparewatt.rig.bind_load import work_torque_share
from sparewatt.rig.fill import Filled
from sparewatt.rig.layout import Bound
from sparewatt.rig.motion import (
    TOLERANCE,
    Moving,
    Played,
    Start,
    at_once,
    bind_motion,
    compile_aside,
    join_rigs,
    play,
)
from sparewatt.rig.motion_layout import Act, Out
from sparewatt.rig.operating import RPM, State, operate
from sparewatt.rig.outcome import Caveat
from sparewatt.rig.refusals import refusal
from sparewatt.rig.stations import OTHERS, Ridden
from sparewatt.studies.scenes.answers import SceneAnswer, Side, StepRow
from sparewatt.studies.scenes.seconds_events import happenings_of
from sparewatt.studies.scenes.seconds_read import (
    caveats_of,
    chances_of,
    ending,
    ledger_of,
    limits_of,
    meter_of,
    peaks_of,
    served_time,
    sources_of,
    tracks_of,
)

__all__ = ["LIGHT", "RUNS", "Scored", "play_scene", "scene_named", "stage_scene"]

F = NDArray[np.float64]
RUNS = 200  # spread runs behind the bands
LONG = 900.0  # s: from here on a scene starts with a cold machine, as a real hour does
EVEN = 7200.0  # s: from here on it is followed with an even push and in long steps, its happenings located all the same
LONG_STEPS = 20_000  # of even push in one scene, at least
SETTLE = 3.0  # s ridden and forgotten before the clock starts
SHORT = (
    0.05  # s of it where there is no point to stay at: coil and capacitor come to rest, the legs hardly move
)
FINEST, MOST_SAMPLES, SPREAD_SAMPLES = 0.05, 1800, 121
SPREAD_BUDGET = 100_000  # steps a spread run may take
RIGS_RUNS, FEWEST_RUNS, MOST_RUNS = (
    64,
    8,
    24,
)  # spread runs of several rigs on one bus, by how many they are: all cost much
PLAIN_LIMIT, PLAIN_TOLERANCE = (
    90.0,
    1e-3,
)  # s played push by push, and how closely, while nothing is compiled yet
NOT_READY = Caveat(
    where="scene",
    text="The quick way of playing is being made ready, once on each machine; until then a scene is played once, without "
    "bands. Ask again in a minute.",
)
LIGHT = 1 / 3  # of its rated torque: what a tool does unless the script says more
HOLDS = {"effort": 0, "cadence": 1, "power": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """A script made ready for the kernel."""

    script: Script
    solved: State
    moving: Moving
    acts: tuple[tuple[float, Act, int, float], ...]
    start: Start
    gear: int


def scene_named(filled: Filled, name: str) -> Scene:
    """The scene of that name in the rig file."""
    for scene in filled.rig.scene:
        if scene.name.casefold() == name.casefold():
            return scene
    known = ", ".join(f"'{s.name}'" for s in filled.rig.scene) or "none: add a [[scene]], or tell it in words"
    raise BadRequest(
        Problem(
            where="scene", read=name, problem=f"there is no scene called '{name}'", hint=f"scenes: {known}"
        )
    )


def play_scene(filled: Filled, script: Script | Scene, *, runs: int = RUNS, seed: int = 1) -> SceneAnswer:
    """Play a script on a filled rig: the nominal run in full, and `runs` spread runs for the bands."""
    if isinstance(script, Scene):
        script = script_of(filled, script)
    scored = stage_scene(filled, script, runs=runs, seed=seed)
    duration = scored.script.duration
    count = int(np.clip(math.ceil(duration / FINEST), 200, MOST_SAMPLES)) + 1
    times = np.linspace(0.0, duration, count)
    spread_times = np.linspace(0.0, duration, min(SPREAD_SAMPLES, count))
    ready = (
        at_once() or scored.moving.rigs > 1
    )  # several rigs played plainly would take longer than compiling
    if not ready:
        compile_aside()
    main = play(
        scored.moving,
        scored.acts,
        _smooth(scored.start, duration) if duration > (EVEN if ready else PLAIN_LIMIT) else scored.start,
        duration=duration,
        times=times,
        tolerance=TOLERANCE if ready else PLAIN_TOLERANCE,
        plain=not ready,
    )[0]
    if main.status == 2:
        raise BadRequest(
            Problem(
                where="scene",
                problem="the rig's numbers are so far apart that its motion cannot be followed",
                hint="look for a value that is a thousand times too large or small in the rig file",
            )
        )
    spread = _spread(scored, duration, spread_times) if runs > 0 and ready else []
    answer = _answer(scored, main, spread, spread_times)
    if ready:
        return answer
    return dataclasses.replace(answer, caveats=(NOT_READY, *answer.caveats))


def _spread(scored: Scored, duration: float, times: F) -> list[Played]:
    """The spread runs: every draw of the rig's numbers, or of several rigs the first few."""
    cols, rigs = scored.moving.cols, scored.moving.rigs
    return play(
        scored.moving,
        scored.acts,
        scored.start if duration < LONG else _smooth(scored.start, duration),
        duration=duration,
        times=times,
        columns=tuple(range(1, min(cols, _most_runs(rigs, cols - 1) + 1))),
        tolerance=1e-3,
        budget=SPREAD_BUDGET if rigs == 1 else SPREAD_BUDGET // 4,
    )


def _most_runs(rigs: int, runs: int) -> int:
    """How many spread runs are played of those asked for."""
    return runs if rigs == 1 else min(runs, max(FEWEST_RUNS, min(MOST_RUNS, RIGS_RUNS // rigs)))


def _smooth(start: Start, duration: float) -> Start:
    """The same with an even push and long steps, for what is about heat, charge and reserve."""
    return dataclasses.replace(start, even=True, longest=max(2.0, duration / LONG_STEPS))


def _answer(scored: Scored, main: Played, spread: list[Played], spread_times: F) -> SceneAnswer:
    solved, script, moving = scored.solved, scored.script, scored.moving
    ledger, closes = ledger_of(main)
    hold = float(solved.found.w_hold[scored.gear, 0])
    return SceneAnswer(
        name=script.name,
        ask=script.ask,
        gear=moving.gears[0][scored.gear],
        start=script.start,
        holds=script.holds,
        steps=tuple(StepRow(at=a.at, text=a.text, understood=a.understood) for a in script.steps),
        duration=script.duration,
        times=main.times,
        tracks=tracks_of(moving, main, spread, script.duration),
        spread_times=spread_times,
        happenings=happenings_of(moving, main, script),
        ledger=ledger,
        closes=closes,
        chances=chances_of(moving, spread, script),
        peaks=peaks_of(moving, main, spread),
        served_time=served_time(main),
        ends=ending(moving, main, script),
        runs=len(spread),
        steady=Side(
            w_hold=hold, w_tip=float(solved.found.w_tip[scored.gear, 0]), stop=solved.stops[scored.gear]
        ),
        meter=meter_of(main),
        limits=limits_of(moving),
        caveats=caveats_of(scored.moving, main, spread),
        sources=sources_of(moving),
        asked=asked_time(script),
    )


def stage_scene(filled: Filled, script: Script, *, runs: int = RUNS, seed: int = 1) -> Scored:
    """Solve the steady question behind a script, choose its gear, and make numbers for the kernel of it."""
    runs = _most_runs(1 + len(filled.rig.neighbour), runs)
    ask = dataclasses.replace(script.ask, draws=runs, seed=seed)
    refused = refusal(filled.rig, ask.load)
    if refused is not None:
        raise BadRequest(
            Problem(
                where=f"load '{ask.load}'",
                problem=f"{refused[0].value}, so it is not played: {refused[1]}",
                hint="play another load, or look at what `loads` says of this one",
            )
        )
    solved = operate(filled, ask)
    gear = solved.gear if ask.gear is None else solved.bound.gears.index(ask.gear)
    script = in_gear(script, filled, solved.bound.gears[gear])
    moving, start = _moving(filled, solved, script, gear, seed)
    acts, start = _acts(script, moving, start)
    return Scored(script=script, solved=solved, moving=moving, acts=acts, start=start, gear=gear)


def _moving(filled: Filled, solved: State, script: Script, gear: int, seed: int) -> tuple[Moving, Start]:
    """Numbers of all rigs on the bus, and the state the script starts from."""
    ask, bound = solved.ask, solved.bound
    warm = solved.warmth
    air, winding, case, magnet = warm.air, warm.winding, warm.case, warm.magnet
    if script.duration >= LONG:
        bound = reheat(bound, air, air)
        winding = case = magnet = air
    efforts, gears = [ask.effort], [gear]
    if solved.joined is not None:
        riders = [carrier.ridden for carrier in solved.joined.carriers]
        efforts = [one.effort for one in riders]
        gears = [gear if k == solved.joined.asked else one.gear for k, one in enumerate(riders)]
        bounds = [_alone(one, ask, seed + OTHERS * k, winding, magnet) for k, one in enumerate(riders)]
        parts = [bind_motion(Filled(rig=b.rig, assumed=()), b) for b in bounds]
        moving = join_rigs(parts[0], parts[1:], [one.station.lead for one in riders])
    else:
        moving = bind_motion(filled, bound)
    start = Start(
        gear=tuple(gears) if len(gears) > 1 else gear,
        w_crank=_first_cadence(solved, script, gear, moving),
        holds=HOLDS[script.holds],
        want=tuple(efforts) if len(efforts) > 1 else efforts[0],
        switched_on=script.switched_on and script.ask.load != "charge",
        work=_first_work(moving),
        winding=winding,
        case=case,
    )
    return moving, start


def _alone(one: Ridden, ask: Ask, seed: int, winding: float, magnet: float) -> Bound:
    """One of several rigs, bound with all draws of the scene."""
    filled = Filled(rig=one.station.rig, assumed=())
    bound = bind(filled, ask.load, one.station.rider, effort=one.effort, draws=ask.draws, seed=seed)
    return reheat(bound, winding, magnet)


def _first_work(moving: Moving) -> float:
    """A tool starts in light work; anything else takes its watts."""
    load = moving.bounds[0].hookup.load
    if load is None or moving.oc[0, Out.MOTOR] != 1.0:
        return 1.0
    return work_torque_share(load, LIGHT)


def _first_cadence(solved: State, script: Script, gear: int, moving: Moving) -> F | float:
    """Cadence at the start of each column: standstill, what the script says, or where the effort settles."""
    if script.start == "rest":
        return 0.0
    if script.cadence is not None:
        return script.cadence
    liked = solved.bound.rider.cadence
    comfortable = liked.value if liked is not None else 65 * RPM
    if not _loaded(script):
        return comfortable
    hold = solved.found.w_hold[gear]
    if moving.rigs > 1 or not math.isfinite(hold[0]):
        return float(hold[0]) if math.isfinite(hold[0]) else comfortable
    return np.asarray(np.where(np.isfinite(hold), hold, comfortable))


def _loaded(script: Script) -> bool:
    """Whether something is fed from the start."""
    return script.switched_on or script.ask.load == "charge"


_KINDS = {
    "on": Act.ON, "off": Act.OFF, "unplug": Act.UNPLUG, "plug": Act.PLUG, "unhook": Act.UNHOOK, "hook": Act.HOOK,
    "shift": Act.SHIFT, "effort": Act.EFFORT, "cadence": Act.CADENCE, "power": Act.POWER, "stop": Act.STOP,
    "pedal": Act.PEDAL, "work": Act.WORK, "leave": Act.LEAVE, "join": Act.JOIN, "diode_short": Act.DIODE_SHORT,
    "diode_open": Act.DIODE_OPEN, "diode_good": Act.DIODE_GOOD, "diode_back": Act.DIODE_BACK,
    "clamp_off": Act.CLAMP_OFF, "clamp_on": Act.CLAMP_ON,
}  # fmt: skip


def _acts(
    script: Script, moving: Moving, start: Start
) -> tuple[tuple[tuple[float, Act, int, float], ...], Start]:
    """The script for the kernel. A rider with nothing to push keeps the cadence even until the load comes on."""
    acts: list[tuple[float, Act, int, float]] = []
    light = script.start == "riding" and not _loaded(script) and script.holds != "cadence"
    waiting = light
    load = moving.bounds[0].hookup.load
    for step in script.steps:
        kind, rig, value = _KINDS[step.kind], 0, step.value
        if kind == Act.SHIFT:
            value = float(moving.gears[0].index(step.target))
        elif kind in (Act.LEAVE, Act.JOIN):
            rig = int(step.target) - 1
        elif kind == Act.WORK and load is not None:
            value = work_torque_share(load, step.value)
        if kind in (Act.EFFORT, Act.CADENCE, Act.POWER, Act.STOP):
            waiting = False
        acts.append((step.at, kind, rig, value))
        if kind == Act.ON and waiting:
            waiting = False
            wants = start.want if isinstance(start.want, tuple) else (start.want,) * moving.rigs
            held = Act.POWER if script.holds == "power" else Act.EFFORT
            acts += [(step.at, held, k, wants[k]) for k in range(moving.rigs)]
    if light or script.holds == "cadence":
        first = start.w_crank if isinstance(start.w_crank, float) else float(np.asarray(start.w_crank)[0])
        if script.holds == "cadence" and script.cadence is not None:
            first = script.cadence
        start = dataclasses.replace(start, holds=1, want=first if first > 0 else 65 * RPM)
    steady = script.start == "riding" and (light or script.holds == "cadence" or _holds(script, start))
    still = SHORT if script.start == "riding" and _loaded(script) else 0.0
    return tuple(acts), dataclasses.replace(start, settle=SETTLE if steady else still)


def _holds(script: Script, start: Start) -> bool:
    """Whether the start is a point the rig stays at, so that a few seconds may be ridden before the clock starts."""
    return script.cadence is None and isinstance(start.w_crank, np.ndarray)
