"""Rigs for the tests of scripts: one with everything on it, one with nothing but a lamp, and two that share a pump."""

from __future__ import annotations

import dataclasses

from sparewatt.parts import (
    Battery,
    Clamp,
    Converter,
    Diode,
    Load,
    Machine,
    Measured,
    Neighbour,
    Ride,
    Rider,
    Rig,
    Stage,
)
from sparewatt.rig.fill import Filled, fill

RIG = Rig(
    name="Bench by the barn",
    rider=(
        Rider(name="Runa", peak_power=Measured(700.0), critical_power=Measured(170.0), work_reserve=Measured(12e3)),
        Rider(name="Tove"),
    ),
    stage=(
        Stage(kind="chain", driver_teeth=(42,), driven_teeth=(24, 14, 18, 16, 21)),
        Stage(kind="ribbed_belt", driver_diameter=Measured(0.6), driven_diameter=Measured(0.06)),
    ),
    machine=Machine(kind="pm_dc"),
    diode=Diode(kind="schottky"),
    clamp=Clamp(voltage=Measured(34.0), resistance=Measured(3.0)),
    converter=(
        Converter(name="step-down board", kind="buck", set_voltage=Measured(14.2)),
        Converter(name="tool board", kind="boost", set_voltage=Measured(60.0)),
    ),
    battery=Battery(voltage=Measured(12.0), capacity=Measured(36 * 3600.0), through="step-down board"),
    load=(
        Load(name="bench saw", kind="universal_motor", power=Measured(60.0), through="tool board", without_battery=True),
        Load(name="chart lamp", kind="led", power=Measured(10.0), voltage=Measured(12.0)),
        Load(name="door lamp", kind="led", power=Measured(5.0), voltage=Measured(12.0)),
    ),
    ride=Ride(rider="Runa", load="charge", effort=Measured(120.0), duration=Measured(3600.0)),
)  # fmt: skip
BARE = Rig(
    name="Lamp and crank",
    rider=(Rider(name="Vesna"),),
    stage=(Stage(kind="ribbed_belt", driver_diameter=Measured(0.6), driven_diameter=Measured(0.06)),),
    machine=Machine(kind="pm_dc"),
    load=(Load(name="table lamp", kind="led", power=Measured(10.0), voltage=Measured(12.0)),),
    ride=Ride(effort=Measured(50.0), load="table lamp"),
)
FOUR = dataclasses.replace(
    RIG,
    name="Yard",
    rider=(Rider(name="Imke"), Rider(name="Osei"), Rider(name="Lio")),
    ride=Ride(rider="Imke", load="bench saw", effort=Measured(90.0)),
    neighbour=(Neighbour(name="second frame", rider="Osei"), Neighbour(name="third frame", rider="Lio")),
)


def filled(rig: Rig = RIG) -> Filled:
    """The rig with nothing missing."""
    return fill(rig)
