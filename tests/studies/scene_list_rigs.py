"""Invented rigs for the list of scenes that must come out right: every number known, the push even unless it matters.

The drive has no drag and no creep, so that a scene can be held against a formula of one line. What is told and what is read
go through the same task as the command and the page.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from sparewatt.parts import Battery, Bus, Converter, Diode, Load, Machine, Place, Rider, Rig, Stage, Wire
from sparewatt.rig.fill import exact, fill
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.tasks.scenes import scene_filled

__all__ = [
    "BRUSH",
    "IDEAL",
    "J_LEGS",
    "J_ROTOR",
    "LAMP",
    "LAMP_OHMS",
    "RPM",
    "W_TOP",
    "J",
    "K",
    "N",
    "R",
    "a_board",
    "bare",
    "boxed",
    "first",
    "geared",
    "keys",
    "last",
    "machine",
    "play",
    "pulsing",
    "push",
    "spread",
    "stored",
    "told",
]  # fmt: skip

RPM = 2 * math.pi / 60
K, R, N = 0.10, 0.40, 24.0  # V*s/rad, ohm, machine turns a crank turn
BRUSH = 0.8  # V
W_TOP = 130 * RPM
J_LEGS, J_ROTOR = 0.5, 1e-3  # kg*m^2
J = J_LEGS + J_ROTOR * N**2  # kg*m^2 felt at the crank
LAMP_OHMS = 12.0**2 / 60.0
ROOM = 293.15  # K
LAMP = Load(name="wire lamp", kind="heater", power=exact(60.0), voltage=exact(12.0), voltage_max=exact(60.0),
            trigger="mechanical", start_factor=exact(1.0))  # fmt: skip


def bare(**changes: Any) -> Rig:
    """A crank, a belt, a machine, and a coil of wire that glows: nothing between them."""
    rig = Rig(
        name="Loft",
        rider=(
            Rider(
                name="Ilse", mass=exact(70.0), critical_power=exact(170.0), work_reserve=exact(14e3),
                cadence=exact(65 * RPM),
                top_cadence=exact(W_TOP), sprint_cadence=exact(150 * RPM), peak_power=exact(700.0), peak_to_mean=exact(1.0),
                reaction_time=exact(0.4), leg_inertia=exact(J_LEGS),
            ),
        ),
        stage=(
            Stage(kind="direct", ratio=exact(N), efficiency=exact(1.0), drag_torque=exact(0.0), drag_slope=exact(0.0),
                  creep=exact(0.0), inertia=exact(0.0), freewheel=True),
        ),
        machine=Machine(
            name="loom motor", emf_constant=exact(K), resistance=exact(R), brush_drop=exact(BRUSH), friction=exact(0.0),
            friction_slope=exact(0.0), inertia=exact(J_ROTOR), inductance=exact(1e-3), current_limit=exact(20.0),
            current_limit_short=exact(60.0), speed_limit=exact(6000 * RPM), winding_limit=exact(403.15),
            thermal_resistance=exact(1.5), thermal_time=exact(1800.0), magnets="rare_earth",
        ),
        bus=Bus(capacitance=exact(1e-3), capacitor_voltage=exact(100.0)),
        load=(LAMP,),
        wire=tuple(
            Wire(run=run, length=exact(0.01), size=exact(16e-6), contact_resistance=exact(0.0))
            for run in ("machine", "board", "battery", "load")
        ),
        place=Place(temperature=exact(ROOM)),
    )  # fmt: skip
    return dataclasses.replace(rig, **changes)


def push(watts: float) -> float:
    """N*m at standstill of an effort worth so much at its best cadence: a line down to nothing at W_TOP."""
    return 4 * watts / W_TOP


def machine(**changes: float) -> Machine:
    """The loom motor with other numbers."""
    found = bare().machine
    assert found is not None
    given: dict[str, Any] = {key: exact(value) for key, value in changes.items()}
    return dataclasses.replace(found, **given)


def told(rig: Rig, words: str) -> tuple[str, SceneAnswer]:
    """What a page or a terminal says of a scene in words, and its numbers."""
    answer = scene_filled(fill(rig), "here", words=words, runs=0)
    assert isinstance(answer.study, SceneAnswer)
    return answer.answer, answer.study


def play(rig: Rig, words: str) -> SceneAnswer:
    """The numbers alone."""
    return told(rig, words)[1]


def keys(a: SceneAnswer) -> list[str]:
    """What the rig did, in order."""
    return [h.key for h in a.happenings if not h.told]


def first(a: SceneAnswer, key: str) -> float:
    """When something happens first."""
    return next(h.at for h in a.happenings if h.key == key)


def last(a: SceneAnswer, key: str, count: int = 40) -> float:
    """The mean of the last samples of a track."""
    return float(a.track(key).values[-count:].mean())


def spread(a: SceneAnswer, key: str, *, since: float) -> float:
    """Highest less lowest of a track over its mean, from a time on."""
    late, track = a.times >= since, a.track(key)
    return float((track.most[late].max() - track.least[late].min()) / track.values[late].mean())


IDEAL = Diode(kind="ideal", drop=exact(0.0), resistance=exact(1e-4), current_rating=exact(60.0),
              voltage_rating=exact(150.0))  # fmt: skip


def boxed(watts: float = 100.0, sleeps: float = 10.0, wakes: float = 14.0, **changes: Any) -> Rig:
    """The same with a box of steady watts behind a board that loses nothing, hardly any copper, and a good capacitor."""
    rig = bare()
    assert rig.machine is not None
    given: dict[str, Any] = {
        "load": (
            Load(name="cold box", kind="electronics", power=exact(watts), voltage=exact(12.0), voltage_min=exact(8.0),
                 voltage_max=exact(30.0), through="deck board", trigger="none"),
        ),
        "converter": (
            Converter(name="deck board", kind="buck_boost", set_voltage=exact(12.0), input_min=exact(sleeps),
                      restart=exact(wakes), input_max=exact(60.0), input_current=exact(100.0), efficiency=exact(1.0),
                      idle_power=exact(0.0), soft_start=exact(0.001)),
        ),
        "diode": IDEAL,
        "bus": Bus(capacitance=exact(0.02), capacitor_voltage=exact(80.0)),
        "machine": dataclasses.replace(
            rig.machine, resistance=exact(0.03), brush_drop=exact(0.0), inductance=exact(1e-4)
        ),
    }  # fmt: skip
    return bare(**(given | changes))


def geared(**changes: Any) -> Rig:
    """The bare rig with three gears, 16, 24 and 32 machine turns a crank turn, and nothing lost in them."""
    free: dict[str, Any] = {
        "efficiency": exact(1.0), "drag_torque": exact(0.0), "drag_slope": exact(0.0), "creep": exact(0.0),
        "inertia": exact(0.0),
    }  # fmt: skip
    stages = (
        Stage(kind="chain", driver_teeth=(48,), driven_teeth=(24, 16, 12), freewheel=True, **free),
        Stage(kind="direct", ratio=exact(8.0), **free),
    )
    return bare(**({"stage": stages, "diode": IDEAL} | changes))


def pulsing(**changes: Any) -> Rig:
    """The bare rig with legs that push in beats: hardest push 1.62 of the mean."""
    rig = bare(**changes)
    return dataclasses.replace(
        rig, rider=(dataclasses.replace(rig.rider[0], peak_to_mean=exact(1.62)), *rig.rider[1:])
    )


def stored(*, board: Converter | None = None, **changes: Any) -> Rig:
    """The bare rig on a small battery, straight or through a board."""
    battery = Battery(
        name="shelf battery", chemistry="agm", voltage=exact(12.0), capacity=exact(7 * 3600.0), resistance=exact(0.03),
        charge=exact(0.6), charge_voltage=exact(14.4), temperature=exact(298.15), health=exact(1.0),
        through=board.name if board is not None else "",
    )  # fmt: skip
    given: dict[str, Any] = {"battery": battery, "diode": IDEAL}
    if board is not None:
        given["converter"] = (board,)
    return bare(**(given | changes))


def a_board(kind: str, name: str, volts: float, **changes: Any) -> Converter:
    """A board that loses a tenth, with room on every side."""
    given: dict[str, Any] = {
        "input_min": exact(6.0), "restart": exact(7.0), "input_max": exact(60.0), "input_current": exact(30.0),
        "efficiency": exact(0.9), "soft_start": exact(0.05), "idle_power": exact(0.0),
    }  # fmt: skip
    return Converter(name=name, kind=kind, set_voltage=exact(volts), **(given | changes))
