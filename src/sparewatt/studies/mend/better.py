"""What would help most: changes ranked by the watts they bring for coin and for work, each solved on the changed rig.

Prices are the rig file's, else plain guesses; minutes of work are common practice, no source. Watts are into the battery at
the same effort, or, where a load or a board's screw sets them, the most that would still have a running point.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import SparewattError
from sparewatt.parts import Measured, Rig, Stage
from sparewatt.rig.asking import Ask
from sparewatt.rig.circuit import circuit_of
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.fill import Filled, exact, fill
from sparewatt.rig.operating import State, operate
from sparewatt.rig.outcome import Band, Mode, Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.bench.answers import Improvement
from sparewatt.studies.guard.findings import put_first
from sparewatt.studies.judging import RANK, judge
from sparewatt.studies.tries import Try, coins_for, gears, pulleys, round2, swap
from sparewatt.studies.tries_boards import boards

__all__ = ["gained", "improvements", "no_worse"]

F = NDArray[np.float64]
DRAWS = 96
MINUTE = 60.0
HOUR_COINS = 6.0  # what an hour of work weighs beside coins: about a pulley
LEAST_WATTS, LEAST_SHARE = 0.5, 0.01
COINS = {"wire_per_metre": 1.0, "diode": 2.0, "ideal": 8.0, "oil": 1.0, "belt": 10.0}
GRIP_ROOM = 1.3  # press on this much harder than the hardest push needs
PULLEYS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Idea:
    """One change to try: what it makes of the filled rig, what it costs, minutes of work."""

    key: str
    says: str
    rig: Rig
    ask: Ask
    edits: tuple[tuple[str, str], ...]
    cost: float
    minutes: float
    caveat: str = ""


def improvements(rig: Rig | Filled, ask: Ask, *, most: int = 8) -> tuple[Improvement, ...]:
    """Changes that bring watts at the same effort, the one that brings most for its coin and work first.

    None makes the answer worse, and none brings something that must be put right first.
    """
    filled = rig if isinstance(rig, Filled) else fill(rig)
    ask = dataclasses.replace(ask, draws=DRAWS, cadence=None)
    if refusal(filled.rig, ask.load) is not None:
        return ()
    best: dict[str, tuple[Improvement, Idea]] = {}
    for idea in _ideas(operate(filled, ask)):
        made = _made(idea, filled, ask)
        if made is not None and (made.key not in best or made.watts.mid > best[made.key][0].watts.mid):
            best[made.key] = made, idea
    rows = sorted(
        best.values(), key=lambda r: -r[0].watts.mid / (0.5 + r[0].cost + HOUR_COINS * r[0].work / 3600)
    )
    good = (row for row, idea in rows if no_worse(filled, ask, fill(idea.rig), idea.ask))
    return tuple(islice(good, most))


def gained(was: Filled, ask: Ask, now: Filled, again: Ask) -> F | None:
    """Watts (cols,) that a changed rig brings over the old one; None where it does not run."""
    ask, again = (dataclasses.replace(each, draws=DRAWS, cadence=None) for each in (ask, again))
    if refusal(now.rig, again.load) is not None:
        return None
    old, new = operate(was, ask), operate(now, again)
    if new.stop not in (Stop.FOUND, Stop.PINNED):
        return None
    capped = _capped(old)
    return np.asarray(_watts(new, capped) - _watts(old, capped))


def no_worse(was: Filled, ask: Ask, now: Filled, again: Ask) -> bool:
    """Whether the answer to a changed rig is no harder, and nothing new must be put right first."""
    ask, again = (dataclasses.replace(each, draws=DRAWS, cadence=None) for each in (ask, again))
    if RANK[judge(now, again).verdict] < RANK[judge(was, ask).verdict]:
        return False
    return {f.key for f in put_first(now, again)} <= {f.key for f in put_first(was, ask)}


def _capped(solved: State) -> bool:
    """Whether a load, or the screw or print of a board, sets the watts and not the legs."""
    held = int(solved.found.mode[solved.gear, 0]) in (Mode.REGULATES, Mode.LIMITED)
    return solved.bound.hookup.battery is None or held


def _watts(solved: State, capped: bool) -> F:
    """What counts (cols,): watts into battery and load, or the most that would run; 0 where nothing holds."""
    bound, g = solved.bound, solved.gear
    if capped:
        return edge_watts(bound, g, solved.ask.effort)[0]
    found = solved.found
    i = found.i_battery[g]
    into = (found.v_out[g] - i * bound.extras["r_battery_wire"]) * i + found.p_load[g]
    return np.asarray(np.where(np.isfinite(found.w_hold[g]) & np.isfinite(into), into, 0.0))


def _made(idea: Idea, was: Filled, ask: Ask) -> Improvement | None:
    """The idea solved; None where it brings nothing or breaks something."""
    try:
        now = fill(idea.rig)
        more = gained(was, ask, now, idea.ask)
    except SparewattError:  # such a rig cannot be
        return None
    if more is None:
        return None
    old, mid, hours = operate(was, ask), float(more[0]), idea.minutes / 60
    capped = _capped(old)
    if not mid > max(LEAST_WATTS, LEAST_SHARE * float(_watts(old, capped)[0])):
        return None
    return Improvement(
        key=idea.key, says=idea.says, watts=Band.of(more[1:], mid), cost=idea.cost, work=idea.minutes * MINUTE,
        per_coin=mid / idea.cost if idea.cost > 0 else math.inf, per_hour=mid / hours if hours > 0 else math.inf,
        edits=idea.edits, caveat="; ".join(x for x in (idea.caveat, _use(old, capped)) if x),
    )  # fmt: skip


def _use(solved: State, capped: bool) -> str:
    """What must be done besides for the watts to arrive."""
    if not capped or solved.bound.hookup.battery is None:
        return ""
    return "turn the amps screw up to use it, no further than the battery's case allows"


def _ideas(solved: State) -> Iterator[Idea]:
    yield from _tried(solved)
    yield from _line(solved)
    yield from _drive(solved)
    yield from _machine(solved)


def _tried(solved: State) -> Iterator[Idea]:
    """Gears, pulleys and boards as the nearest yes tries them."""
    for key, tries, minutes in (
        ("gear", gears(solved), 1.0),
        ("pulley", islice(pulleys(solved), PULLEYS), 45.0),
        ("board", boards(solved), 60.0),
    ):
        for each in tries:
            rig = _same_spread(solved.filled.rig, each)
            yield Idea(
                key=key, says=each.says, rig=rig, ask=dataclasses.replace(each.ask, draws=DRAWS), edits=each.edits,
                cost=each.cost, minutes=minutes,
            )  # fmt: skip


def _same_spread(old: Rig, attempt: Try) -> Rig:
    """The tried rig with a changed size known as well as the old one, so that the same draws go with it."""
    stages = []
    for was, now in zip(old.stage, attempt.rig.stage, strict=True):
        new: dict[str, Any] = {}
        for name in ("driven_diameter", "ratio"):
            a, b = getattr(was, name), getattr(now, name)
            if a is not None and b is not None and b.sd == 0 < a.sd:
                new[name] = dataclasses.replace(b, sd=a.sd / a.value * b.value)
        stages.append(dataclasses.replace(now, **new))
    return dataclasses.replace(attempt.rig, stage=tuple(stages))


def _line(solved: State) -> Iterator[Idea]:
    """Thicker wire, clean contacts, a diode that keeps fewer volts."""
    rig, ask = solved.filled.rig, solved.ask
    way = [b for b in circuit_of(rig).path(solved.bound.hookup.name) if b.kind != "load"]
    for k, wire in enumerate(rig.wire):
        if all(piece.where != f"wire.{k}" for branch in way for piece in branch.wires):
            continue
        if wire.size is None or wire.length is None or wire.contact_resistance is None:
            continue
        run = f"{wire.run} run to the {wire.to}" if wire.to else f"{wire.run} run"
        key = f"{wire.run} to {wire.to}" if wire.to else wire.run
        mm2 = round2(2 * wire.size.value * 1e6)
        thick = dataclasses.replace(wire, size=wire.size.scaled(mm2 * 1e-6 / wire.size.value))
        metre = coins_for(rig, "wire_per_metre")
        yield Idea(
            key=f"wire {key}", says=f"use wire of {mm2:g} mm2 for the {run}", ask=ask, minutes=20.0,
            rig=dataclasses.replace(rig, wire=swap(rig.wire, k, thick)), edits=((f"wire.{k}.size", f"{mm2:g} mm2"),),
            cost=2 * wire.length.value * (metre if math.isfinite(metre) else COINS["wire_per_metre"]),
        )  # fmt: skip
        ohms = round2(0.4 * wire.contact_resistance.value)
        clean = dataclasses.replace(wire, contact_resistance=_changed(wire.contact_resistance, ohms))
        yield Idea(
            key=f"contacts {key}", says=f"clean and tighten every clip and screw of the {run}", ask=ask,
            rig=dataclasses.replace(rig, wire=swap(rig.wire, k, clean)), cost=0.0, minutes=10.0,
            edits=((f"wire.{k}.contact_resistance", f"{1000 * ohms:g} mohm"),),
        )  # fmt: skip
    yield from _diode(solved)


def _diode(solved: State) -> Iterator[Idea]:
    rig, ask = solved.filled.rig, solved.ask
    diode, machine = rig.diode, rig.machine
    if (
        diode is None
        or diode.kind not in ("silicon", "schottky")
        or machine is None
        or machine.kind != "pm_dc"
    ):
        return
    cost = coins_for(rig, "diode")
    cost = cost if math.isfinite(cost) else COINS["diode"]
    for kind, says, volts, ohms, coins in (
        ("schottky", "a low-drop diode", 0.5, 0.0, cost),
        ("ideal", "a transistor that works as a diode", 0.02, 0.01, max(4 * cost, COINS["ideal"])),
    ):
        if kind == diode.kind:
            continue
        new = dataclasses.replace(
            diode, kind=kind, drop=_changed(diode.drop, volts), resistance=exact(ohms),
        )  # fmt: skip
        edits = (
            ("diode.kind", kind),
            ("diode.drop", f"{1000 * volts:g} mV"),
            ("diode.resistance", f"{1000 * ohms:g} mohm"),
        )
        yield Idea(
            key=f"diode {kind}", says=f"put in {says}", ask=ask, rig=dataclasses.replace(rig, diode=new), edits=edits,
            cost=coins, minutes=30.0, caveat="its rating: twice the amps and volts that can come",
        )  # fmt: skip


def _changed(old: Measured | None, value: float) -> Measured:
    """A changed value, known as well (as a share) as the old one was."""
    if old is None or old.value == 0:
        return exact(value)
    return dataclasses.replace(old, value=value, sd=old.sd * value / old.value)


def _drive(solved: State) -> Iterator[Idea]:
    """Less drag, a tyre pressed as hard as it must be, a belt that keeps less."""
    rig, ask = solved.filled.rig, solved.ask

    def with_stage(k: int, stage: Stage) -> Rig:
        return dataclasses.replace(rig, stage=swap(rig.stage, k, stage))

    for k, stage in enumerate(rig.stage):
        name = stage.name or stage.kind.replace("_", " ")
        if stage.drag_torque is not None and stage.drag_torque.value > 0:
            drag = round2(0.5 * stage.drag_torque.value)
            yield Idea(
                key=f"drag {k}", says=f"clean, line up and oil the bearings of the {name}", ask=ask, minutes=30.0,
                rig=with_stage(k, dataclasses.replace(stage, drag_torque=_changed(stage.drag_torque, drag))),
                edits=((f"stage.{k}.drag_torque", f"{drag:g} N*m"),), cost=COINS["oil"],
            )  # fmt: skip
        if stage.kind == "roller" and stage.press_force is not None:
            yield from _pressed(solved, k, stage, name)
        if stage.kind == "v_belt" and stage.efficiency is not None and stage.efficiency.value < 0.965:
            better = dataclasses.replace(stage, efficiency=_changed(stage.efficiency, 0.97))
            yield Idea(
                key=f"belt {k}", says=f"put a ribbed belt in place of the {name}", ask=ask, rig=with_stage(k, better),
                edits=((f"stage.{k}.efficiency", "97 %"),), cost=COINS["belt"], minutes=60.0,
                caveat="its pulleys must be ribbed too",
            )  # fmt: skip


def _pressed(solved: State, k: int, stage: Stage, name: str) -> Iterator[Idea]:
    """The roller pressed on no harder than the hardest push needs."""
    rig, stages = solved.filled.rig, solved.bound.stages
    assert stage.press_force is not None
    mu = stage.friction.value if stage.friction is not None else 0.6
    w = float(solved.found.w_hold[solved.gear, 0])
    p = float(solved.found.p_rider[solved.gear, 0])
    peaks = solved.swings[solved.gear].peaks
    if not (math.isfinite(w) and w > 0 and peaks):
        return
    turned = w * float(np.prod(stages.ratio[:k, solved.gear, 0])) if k else w
    v = turned * float(stages.surface[k, 0])
    force = round(GRIP_ROOM * peaks[k] * p / (mu * v), -1) if v > 0 else math.nan
    if math.isfinite(force) and 30 <= force < 0.85 * stage.press_force.value:
        eased = dataclasses.replace(stage, press_force=_changed(stage.press_force, force))
        yield Idea(
            key=f"press {k}", says=f"press the {name} on with {force:.0f} N, about {force / 9.81:.0f} kg on a kitchen scale",
            rig=dataclasses.replace(rig, stage=swap(rig.stage, k, eased)), ask=solved.ask, cost=0.0, minutes=10.0,
            edits=((f"stage.{k}.press_force", f"{force:.0f} N"),), caveat="dry and clean only; wet or dusty it slips",
        )  # fmt: skip


def _machine(solved: State) -> Iterator[Idea]:
    """Brushes cleaned, friction less, the machine cooler."""
    rig, ask, machine = solved.filled.rig, solved.ask, solved.filled.rig.machine
    if machine is None:
        return
    if machine.kind == "pm_dc" and machine.brush_drop is not None and machine.brush_drop.value > 0.6:
        volts = round2(0.8 * machine.brush_drop.value)
        yield Idea(
            key="brushes", says="clean the brushes and what they run on", ask=ask, minutes=30.0, cost=0.0,
            rig=dataclasses.replace(
                rig, machine=dataclasses.replace(machine, brush_drop=_changed(machine.brush_drop, volts))
            ),
            edits=(("machine.brush_drop", f"{volts:g} V"),), caveat="battery unhooked; do not breathe the dust",
        )  # fmt: skip
    if machine.friction is not None and machine.friction.value > 0:
        drag = round2(0.8 * machine.friction.value)
        yield Idea(
            key="machine bearings", says="give the machine new bearings, or clean and grease them", ask=ask, cost=3.0,
            rig=dataclasses.replace(rig, machine=dataclasses.replace(machine, friction=_changed(machine.friction, drag))),
            edits=(("machine.friction", f"{drag:g} N*m"),), minutes=60.0,
        )  # fmt: skip
    if machine.thermal_resistance is not None:
        ohms = round2(0.6 * machine.thermal_resistance.value)
        cooler = dataclasses.replace(machine, thermal_resistance=_changed(machine.thermal_resistance, ohms))
        yield Idea(
            key="cooler", says="let air through the machine: holes at both ends and a small fan on its shaft",
            ask=ask, rig=dataclasses.replace(rig, machine=cooler), cost=1.0, minutes=45.0,
            edits=(("machine.thermal_resistance", f"{ohms:g} K/W"),),
            caveat="no holes over the winding; a mesh that keeps fingers and chips out",
        )  # fmt: skip
