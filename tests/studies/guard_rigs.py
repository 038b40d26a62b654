"""Rigs for the tests of guard and heap, built from records: one with nothing to say against it, and the known bad ones."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from sparewatt.parts import (
    Battery,
    Bus,
    Converter,
    Diode,
    Flywheel,
    Fuse,
    Load,
    Machine,
    Measured,
    Neighbour,
    Place,
    Ride,
    Rider,
    Rig,
    Stage,
    Switch,
    Wire,
)

RPM = 2 * math.pi / 60
C0 = 273.15
AH = 3600.0
MM2 = 1e-6


def m(value: float, sd: float = 0.0) -> Measured:
    """A constant as measured."""
    return Measured(value, sd)


def stage(teeth: tuple[int, int], *, guarded: bool | None = True) -> Stage:
    """A chain."""
    return Stage(
        name="chain",
        kind="chain",
        driver_teeth=(teeth[0],),
        driven_teeth=(teeth[1],),
        creep=m(0.0),
        guarded=guarded,
    )


def belt(driver: float, driven: float, **more: Any) -> Stage:
    """A toothed belt, which cannot slip."""
    given: dict[str, Any] = {
        "name": "belt",
        "kind": "toothed_belt",
        "driver_diameter": m(driver),
        "driven_diameter": m(driven),
        "centre_distance": m(0.5),
        "creep": m(0.0),
        "guarded": True,
    } | more
    return Stage(**given)


def clean_rig(**changes: Any) -> Rig:
    """A step-down charger for a 12 V battery with a lamp, everything measured, marked, fused and guarded."""
    rig = Rig(
        name="Clean",
        rider=(
            Rider(
                name="Ansa",
                mass=m(70.0),
                age=m(40.0),
                critical_power=m(150.0, 8.0),
                work_reserve=m(14e3, 2e3),
            ),
        ),
        stage=(stage((42, 18)), belt(0.6, 0.06)),
        flywheel=(
            Flywheel(
                name="small plate",
                after_stage=1,
                mass=m(2.0),
                diameter=m(0.25),
                material="steel_disc",
                off_centre=m(1e-4),
                guarded=True,
            ),
        ),
        machine=Machine(
            name="fan motor",
            emf_constant=m(0.15, 0.003),
            resistance=m(0.4, 0.03),
            friction=m(0.06, 0.006),
            friction_slope=m(5e-5),
            current_limit=m(15.0),
            speed_limit=m(6000 * RPM),
            brush_drop=m(1.2, 0.1),
            thermal_resistance=m(1.0),
            thermal_time=m(2400.0),
            mass=m(2.5),
            inertia=m(5e-4),
            inductance=m(1e-3),
        ),
        diode=Diode(
            kind="schottky", current_rating=m(20.0), voltage_rating=m(150.0), thermal_resistance=m(6.0)
        ),
        wire=(
            Wire(run="machine", length=m(1.5), size=m(4 * MM2)),
            Wire(run="board", length=m(1.0), size=m(6 * MM2)),
            Wire(run="battery", length=m(1.0), size=m(4 * MM2)),
            Wire(run="load", length=m(3.0), size=m(1.5 * MM2)),
        ),
        fuse=(
            Fuse(
                run="battery",
                rating=m(15.0),
                dc_voltage=m(32.0),
                breaking_current=m(4000.0),
                from_post=m(0.15),
            ),
            Fuse(run="load", rating=m(5.0), dc_voltage=m(32.0)),
        ),
        switch=(Switch(name="lamp switch", run="load", dc_voltage=m(32.0), dc_current=m(10.0), poles=2),),
        bus=Bus(capacitance=m(10e-3), capacitor_voltage=m(80.0)),
        converter=(
            Converter(
                name="step-down board",
                kind="buck",
                at="rig",
                set_voltage=m(14.4),
                set_current=m(8.0),
                input_max=m(80.0),
                input_min=m(8.0),
                input_current=m(12.0),
                efficiency=m(0.93, 0.01),
                power_rating=m(600.0),
            ),
        ),
        battery=Battery(
            name="hut battery",
            chemistry="flooded",
            voltage=m(12.0),
            capacity=m(100 * AH),
            resistance=m(0.006),
            charge=m(0.5),
            charge_voltage=m(14.4),
            charge_current=m(20.0),
            through="step-down board",
            voltage_limited=True,
            in_room=False,
            temperature=m(C0 + 18),
        ),
        load=(
            Load(
                name="lamp",
                kind="led",
                power=m(10.0),
                voltage=m(12.0),
                voltage_max=m(15.0),
                lights_people=True,
                trigger="none",
                use_time=m(4 * AH),
            ),
        ),
        place=Place(
            volume=m(60.0),
            closed=False,
            wet=False,
            children=False,
            people_resting=0,
            house_wiring=False,
            temperature=m(C0 + 18),
        ),
        ride=Ride(rider="Ansa", load="charge", effort=m(80.0), duration=m(AH)),
    )
    return dataclasses.replace(rig, **changes)


def with_part(rig: Rig, part: str, **fields: Any) -> Rig:
    """The rig with some fields of one part changed; "load.0" names the first of several."""
    name, _, index = part.partition(".")
    old = getattr(rig, name)
    if index:
        new = (*old[: int(index)], dataclasses.replace(old[int(index)], **fields), *old[int(index) + 1 :])
    else:
        new = dataclasses.replace(old, **fields)
    return dataclasses.replace(rig, **{name: new})


def cellar() -> Rig:
    """Four riders in a shut cellar of 12 m3, a flooded 12 V 200 Ah bank, 20 A all night and no volts limit."""
    return Rig(
        name="Cellar",
        rider=(Rider(name="one", critical_power=m(160.0, 10.0)),),
        stage=(stage((42, 18)), belt(0.6, 0.04)),
        machine=Machine(emf_constant=m(0.075), resistance=m(0.25), friction=m(0.04), brush_drop=m(1.2)),
        diode=Diode(kind="schottky"),
        converter=(
            Converter(
                name="amps board",
                kind="buck_boost",
                at="rig",
                set_current=m(5.0),
                input_min=m(8.0),
                input_current=m(20.0),
            ),
        ),
        fuse=(Fuse(run="battery", rating=m(40.0)),),
        battery=Battery(
            name="bank",
            chemistry="flooded",
            voltage=m(12.0),
            capacity=m(200 * AH),
            charge=m(0.5),
            voltage_limited=False,
            in_room=True,
            through="amps board",
        ),
        neighbour=tuple(Neighbour(name=f"rig {k}") for k in (2, 3, 4)),
        place=Place(volume=m(12.0), closed=True),
        ride=Ride(load="charge", effort=m(120.0), duration=m(8 * AH)),
    )


def garage(after_stage: int = 2, *, guarded: bool | None = None, effort: float = 150.0) -> Rig:
    """A cast plate of 12 kg and 0.45 m across: on the motor at 1450 turns (2900 in a sprint), or on a 400-turn shaft."""
    return Rig(
        name="Garage",
        rider=(Rider(name="Dale", mass=m(85.0), critical_power=m(200.0), cadence=m(60 * RPM)),),
        stage=(stage((40, 6)), belt(0.29, 0.08)),
        machine=Machine(emf_constant=m(0.15), resistance=m(0.6), friction=m(0.08)),
        diode=Diode(kind="schottky"),
        battery=Battery(chemistry="flooded", voltage=m(12.0), capacity=m(60 * AH)),
        flywheel=(
            Flywheel(
                name="cast plate",
                after_stage=after_stage,
                mass=m(12.0),
                diameter=m(0.45),
                material="cast_iron",
                off_centre=m(1e-3),
                guarded=guarded,
            ),
        ),
        ride=Ride(load="charge", effort=m(effort), cadence=m(60 * RPM), duration=m(AH)),
    )


def clinic(ratio: float = 50.0, input_max: float = 30.0) -> Rig:
    """A 24 V motor, a step-up board to 28 V and a fixed 120 W load; 43 V open at 110 turns with a ratio of 50."""
    return Rig(
        name="Clinic",
        rider=(
            Rider(
                name="Thandi", critical_power=m(185.0, 5.0), work_reserve=m(15e3), top_cadence=m(130 * RPM)
            ),
        ),
        stage=(stage((42, 18)), belt(0.6, 0.6 * (42 / 18) / ratio, efficiency=m(0.98), drag_torque=m(0.0))),
        machine=Machine(
            name="24 V motor",
            emf_constant=m(0.075),
            resistance=m(0.25),
            brush_drop=m(1.2),
            friction=m(0.04),
            friction_slope=m(5e-5),
        ),
        diode=Diode(kind="schottky"),
        converter=(
            Converter(
                name="step-up board",
                kind="boost",
                set_voltage=m(28.0),
                input_current=m(12.0),
                input_min=m(10.0),
                input_max=m(input_max),
                efficiency=m(0.88),
            ),
        ),
        load=(
            Load(
                name="cold box",
                kind="electronics",
                voltage=m(28.0),
                power=m(120.0),
                through="step-up board",
                trigger="none",
            ),
        ),
        ride=Ride(load="cold box", effort=m(180.0), duration=m(1800.0)),
    )
