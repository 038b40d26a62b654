"""The families of change that the nearest yes of a scene tries: each yields rigs and scripts, smallest first, unproven."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator

from sparewatt.language.names import CHARGE
from sparewatt.language.script import Act, Script
from sparewatt.parts import Bus, Converter, Measured, Rig
from sparewatt.quantities import render
from sparewatt.rig.endurance import most_asked, power_for
from sparewatt.rig.fill import Filled, exact
from sparewatt.rig.motion import Played
from sparewatt.studies.scenes.seconds import Scored
from sparewatt.studies.tries import round2, swap, swap_load

__all__ = [
    "Family", "SceneTry", "boards_alike", "efforts", "gears", "hystereses", "leads", "orders", "sheds", "softer_starts",
]  # fmt: skip

WAITS = (4.0, 7.0, 10.0)  # s of pedalling before the load is switched on
EFFORTS = (1.1, 0.9, 1.25, 0.8, 1.5, 0.7, 0.6, 2.0, 0.5)
SIZES = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2)
RESTARTS = (1.2, 1.35, 1.5, 1.75, 2.0, 2.5)  # over the volts at which it goes to sleep
LEADS = (0.1, 0.2, 0.35, 0.5)  # ohm
SOFT = (0.2, 0.5, 1.0, 2.0)  # s


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class SceneTry:
    """One change to try: the rig and script it makes, and how it is said."""

    kind: str
    says: str
    rig: Rig
    script: Script
    edits: tuple[tuple[str, str], ...] = ()
    cost: float = 0.0
    size: float


Family = Callable[[Filled, Scored, Played], Iterator[SceneTry]]


def orders(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """Pedal first and switch on later; or start in an easier gear and shift once it runs."""
    script, load = scored.script, scored.script.ask.load
    if load == CHARGE:
        return
    on = next((k for k, a in enumerate(script.steps) if a.kind == "on"), None)
    loaded = script.switched_on or on is not None
    if not loaded:
        return
    first = 0.0 if script.switched_on else script.steps[on or 0].at
    for wait in WAITS:
        later = _switched_on_at(script, load, first + wait)
        yield SceneTry(
            kind="order",
            says=f"pedal first with the {load} off, and switch it on at {render(first + wait, 's')}, up to speed",
            rig=filled.rig,
            script=later,
            size=0.02 + 0.002 * wait,
        )
    gears = scored.solved.bound.gears
    for easier in range(scored.gear - 1, -1, -1):
        start = later_at = first + WAITS[0]
        began = dataclasses.replace(
            _switched_on_at(script, load, start), ask=dataclasses.replace(script.ask, gear=gears[easier])
        )
        back = Act(
            at=later_at + 3.0, kind="shift", target=gears[scored.gear], value=0.0, text="", understood=""
        )
        yield SceneTry(
            kind="order",
            says=f"start in the easier gear {gears[easier]}, switch on at {render(start, 's')}, and shift to "
            f"{gears[scored.gear]} once it runs",
            rig=filled.rig,
            script=_with_step(_lasting(began, back.at + 5.0), back),
            size=0.04,
        )


def _switched_on_at(script: Script, load: str, at: float) -> Script:
    """The script with the load off at first and switched on at a moment; what came after comes as much later."""
    kept = [a for a in script.steps if a.kind != "on"]
    on = next((a for a in script.steps if a.kind == "on"), None)
    before = 0.0 if script.switched_on or on is None else on.at
    shift = at - before
    moved = [
        dataclasses.replace(a, at=a.at + shift) if a.at >= before and (a.at > 0 or shift > 0) else a
        for a in kept
    ]
    step = Act(at=at, kind="on", target=load, value=0.0, text="", understood=f"switch the {load} on")
    made = dataclasses.replace(
        script, switched_on=False, steps=tuple(sorted([*moved, step], key=lambda a: a.at))
    )
    return _lasting(made, script.duration + shift)


def _lasting(script: Script, seconds: float) -> Script:
    longer = math.ceil(max(seconds, script.duration))
    return dataclasses.replace(script, ask=dataclasses.replace(script.ask, duration=float(longer)))


def _with_step(script: Script, step: Act) -> Script:
    return dataclasses.replace(script, steps=tuple(sorted([*script.steps, step], key=lambda a: a.at)))


def gears(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """Another gear from the start, the nearest first."""
    names = scored.solved.bound.gears
    if any(a.kind == "shift" for a in scored.script.steps):
        return
    for g in sorted(range(len(names)), key=lambda g: (abs(g - scored.gear), g)):
        if g != scored.gear:
            yield SceneTry(
                kind="gear",
                says=f"ride it in {names[g]}",
                rig=filled.rig,
                script=dataclasses.replace(
                    scored.script, ask=dataclasses.replace(scored.script.ask, gear=names[g])
                ),
                size=0.05 + 0.01 * abs(g - scored.gear),
            )


def efforts(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """Push harder, within what this rider gives for as long as the scene lasts; or softer."""
    script, bound = scored.script, scored.solved.bound
    if script.holds == "cadence":
        return
    cp, reserve, peak = (float(x[0]) for x in (bound.critical_power, bound.work_reserve, bound.p_peak))
    able = min(float(power_for(cp, reserve, script.duration, peak)), most_asked(bound.rider))
    for factor in EFFORTS:
        watts = round2(script.ask.effort * factor)
        if watts > able or watts == script.ask.effort:
            continue
        harder = factor > 1
        yield SceneTry(
            kind="effort",
            says=f"push {'harder' if harder else 'softer'}, worth {watts:g} W instead of {script.ask.effort:.3g} W",
            rig=filled.rig,
            script=dataclasses.replace(script, ask=dataclasses.replace(script.ask, effort=watts)),
            size=0.1 + 0.2 * abs(math.log(factor)),
        )


def hystereses(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """A board that wakes at more volts: the legs are faster by then, and what turns carries it over."""
    board, k = _board(filled, scored)
    if board is None or board.restart is None or board.input_min is None:
        return
    for factor in RESTARTS:
        volts = round2(board.input_min.value * factor)
        if volts <= 1.05 * board.restart.value or (
            board.input_max is not None and volts > 0.8 * board.input_max.value
        ):
            continue
        yield SceneTry(
            kind="hysteresis",
            says=f"set the {board.name} to wake at {volts:g} V instead of {board.restart.value:.3g} V",
            rig=_boarded(filled.rig, k, dataclasses.replace(board, restart=exact(volts))),
            script=scored.script,
            edits=((f"converter.{k}.restart", f"{volts:g} V"),),
            size=0.08 + 0.05 * math.log(factor),
        )


def softer_starts(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """A board that takes its time to rise."""
    board, k = _board(filled, scored)
    if board is None:
        return
    now = board.soft_start.value if board.soft_start is not None else 0.0
    for seconds in SOFT:
        if seconds > 1.5 * now:
            yield SceneTry(
                kind="soft start",
                says=f"slow the rise of the {board.name} to {render(seconds, 's')}",
                rig=_boarded(filled.rig, k, dataclasses.replace(board, soft_start=exact(seconds))),
                script=scored.script,
                edits=((f"converter.{k}.soft_start", f"{seconds:g} s"),),
                size=0.16 + 0.02 * seconds,
            )


def _board(filled: Filled, scored: Scored) -> tuple[Converter | None, int]:
    board = scored.solved.bound.hookup.board
    if board is None:
        return None, -1
    k = next(k for k, one in enumerate(filled.rig.converter) if one.name == board.name)
    return filled.rig.converter[k], k


def _boarded(rig: Rig, k: int, board: Converter) -> Rig:
    return dataclasses.replace(rig, converter=swap(rig.converter, k, board))


def sheds(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """A smaller load."""
    load = scored.solved.bound.hookup.load
    if load is None or load.life_support or load.kind in ("universal_motor", "dc_motor"):
        return
    k = next(k for k, one in enumerate(filled.rig.load) if one.name == load.name)
    mine = filled.rig.load[k]
    assert mine.power is not None
    for m in SIZES:
        watts = round2(mine.power.value * m)
        spread = max(mine.power.sd * m, 0.001 * watts)
        smaller = dataclasses.replace(mine, power=Measured(watts, spread, "measured"))
        yield SceneTry(
            kind="shed",
            says=f"shed load: run no more than {watts:g} W of it",
            rig=swap_load(filled.rig, k, smaller),
            script=scored.script,
            edits=((f"load.{k}.power", f"{watts:g} W +/- {spread:.3g} W"),),
            size=(1 - m) * 0.8,
        )


def boards_alike(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """Several rigs on one bus: every board set to the same volts."""
    rig, board = filled.rig, scored.solved.bound.hookup.board
    if board is None or board.set_voltage is None:
        return
    volts = board.set_voltage.value
    other = [
        k
        for k, one in enumerate(rig.neighbour)
        if one.converter is not None
        and one.converter.set_voltage is not None
        and one.converter.set_voltage.value != volts
    ]
    if not other:
        return
    made = tuple(
        dataclasses.replace(one, converter=dataclasses.replace(one.converter, set_voltage=exact(volts)))
        if k in other and one.converter is not None
        else one
        for k, one in enumerate(rig.neighbour)
    )
    yield SceneTry(
        kind="share",
        says=f"set every board to the same {render(volts, 'V', 3)}, one after the other with the same meter",
        rig=dataclasses.replace(rig, neighbour=made),
        script=scored.script,
        edits=tuple((f"neighbour.{k}.converter.set_voltage", f"{volts:.4g} V") for k in other),
        size=0.05,
    )


def leads(filled: Filled, scored: Scored, played: Played) -> Iterator[SceneTry]:
    """Several rigs on one bus: thin wire in each lead, so that no board carries everyone."""
    rig = filled.rig
    bus = rig.bus or Bus()
    now = bus.lead_resistance.value if bus.lead_resistance is not None else 0.02
    for more in LEADS:
        main = round2(now + more)
        each = [
            (k, round2((one.lead_resistance.value if one.lead_resistance is not None else now) + more))
            for k, one in enumerate(rig.neighbour)
        ]
        made = tuple(
            dataclasses.replace(one, lead_resistance=exact(ohms))
            for one, (_k, ohms) in zip(rig.neighbour, each, strict=True)
        )
        yield SceneTry(
            kind="share",
            says=f"add about {more:g} ohm to each lead, with thin wire",
            rig=dataclasses.replace(
                rig, bus=dataclasses.replace(bus, lead_resistance=exact(main)), neighbour=made
            ),
            script=scored.script,
            edits=(
                ("bus.lead_resistance", f"{main:g} ohm"),
                *((f"neighbour.{k}.lead_resistance", f"{ohms:g} ohm") for k, ohms in each),
            ),
            size=0.06 + 0.01 * more,
        )
