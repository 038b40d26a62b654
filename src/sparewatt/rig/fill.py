"""Put a typical value with a wide spread wherever the rig file is silent, and say so.

Typical values here are common practice, no source, unless a line names one. Machine constants come from the nameplate
when there is one (`physics.machine.from_nameplate`), a rider's from timed efforts when there are two or more.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np

from sparewatt.parts import (
    Bus,
    Diode,
    Machine,
    Measured,
    Place,
    Ride,
    Rider,
    Rig,
    Stage,
    Wire,
)
from sparewatt.physics import belts, roller
from sparewatt.physics import machine as machine_physics
from sparewatt.physics import rider as rider_physics
from sparewatt.rig.fill_electric import fill_battery, fill_converter, fill_load
from sparewatt.rig.notes import Notes, exact, typical, value_of

__all__ = ["Filled", "exact", "fill", "fill_machine", "typical"]

RPM = 2 * math.pi / 60
KELVIN = 273.15


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """A rig with nothing missing that the solver needs, and what had to be assumed (key path, sentence)."""

    rig: Rig
    assumed: tuple[tuple[str, str], ...]


def fill(rig: Rig) -> Filled:
    """The rig with every constant the solver needs, and the list of what was assumed."""
    notes = Notes()
    place = notes.put(rig.place or Place(), "place", temperature=typical(KELVIN + 20, 0.02))
    machine = fill_machine(rig.machine or Machine(), "machine", notes)
    battery = fill_battery(rig.battery, place, notes) if rig.battery else None
    loads = tuple(fill_load(load, f"load.{k}", rig, notes) for k, load in enumerate(rig.load))
    boards = tuple(
        fill_converter(c, f"converter.{k}", rig, battery, notes) for k, c in enumerate(rig.converter)
    )
    filled = dataclasses.replace(
        rig,
        place=place,
        rider=tuple(
            fill_rider(r, f"rider.{k}", notes) for k, r in enumerate(rig.rider or (Rider(name="you"),))
        ),
        stage=tuple(fill_stage(s, f"stage.{k}", notes, wet=bool(place.wet)) for k, s in enumerate(rig.stage)),
        machine=machine,
        diode=fill_diode(rig.diode, bool(rig.battery), machine, notes),
        wire=tuple(fill_wire(w, f"wire.{k}", notes) for k, w in enumerate(rig.wire)),
        bus=rig.bus or Bus(),
        battery=battery,
        load=loads,
        converter=boards,
        ride=rig.ride or Ride(),
    )
    return Filled(rig=filled, assumed=tuple(notes.lines))


def fill_rider(rider: Rider, where: str, notes: Notes) -> Rider:
    """Power, reserve and cadence of a rider: fitted from timed efforts, else typical for body and training."""
    rider = notes.put(rider, where, mass=typical(70, 0.15), age=typical(40, 0.3))
    assert rider.mass is not None and rider.age is not None
    timed = [e for e in rider.effort if e.power is not None and e.time is not None]
    if len(timed) >= 2 and (rider.critical_power is None or rider.work_reserve is None):
        fit = rider_physics.fit_critical_power(
            np.array([e.power.value for e in timed if e.power]),
            np.array([e.time.value for e in timed if e.time]),
        )
        rider = notes.put(
            rider,
            where,
            critical_power=Measured(
                fit.critical_power, fit.critical_power_sd, "computed", "from timed efforts"
            ),
            work_reserve=Measured(fit.work_reserve, fit.work_reserve_sd, "computed", "from timed efforts"),
        )
    assert rider.mass is not None and rider.age is not None
    guess = rider_physics.typical_rider(
        mass=rider.mass.value, age=rider.age.value, fitness=rider.fitness or "not fit", uses=rider.uses
    )
    arms = rider.uses == "arms"
    return notes.put(
        rider,
        where,
        critical_power=Measured(guess.critical_power, guess.critical_power_sd, "typical"),
        work_reserve=Measured(guess.work_reserve, guess.work_reserve_sd, "typical"),
        peak_power=Measured(guess.peak_power, guess.peak_power_sd, "typical"),
        cadence=typical((60 if arms else 65) * RPM, 0.08),
        top_cadence=typical((120 if arms else 130) * RPM, 0.06),
        sprint_cadence=typical((140 if arms else 150) * RPM, 0.08),
        efficiency=typical(0.17 if arms else 0.23, 0.08),
    )


_STAGE_TYPICAL: dict[str, dict[str, tuple[float, float]]] = {
    "chain": {"efficiency": (0.97, 0.01), "drag_torque": (0.0, 0.0), "creep": (0.0, 0.0)},
    "gears": {"efficiency": (0.95, 0.02), "drag_torque": (0.01, 0.5), "creep": (0.0, 0.0)},
    "roller": {
        "efficiency": (0.995, 0.003),
        "drag_torque": (0.01, 0.5),
        "creep": (0.015, 0.4),
        "friction": (0.6, 0.15),
        "rolling": (0.008, 0.25),
        "press_force": (200.0, 0.3),
    },
    "rim_wheel": {
        "efficiency": (0.99, 0.005),
        "drag_torque": (0.01, 0.5),
        "creep": (0.02, 0.4),
        "friction": (0.6, 0.2),
        "rolling": (0.015, 0.3),
        "press_force": (80.0, 0.3),
    },
    "flat_belt": {
        "efficiency": (0.98, 0.01),
        "drag_torque": (0.015, 0.4),
        "creep": (0.005, 0.4),
        "friction": (0.35, 0.2),
        "tension": (120.0, 0.3),
    },
    "v_belt": {
        "efficiency": (0.95, 0.015),
        "drag_torque": (0.04, 0.4),
        "creep": (0.01, 0.4),
        "friction": (0.3, 0.2),
        "tension": (150.0, 0.3),
    },
    "ribbed_belt": {
        "efficiency": (0.97, 0.01),
        "drag_torque": (0.02, 0.4),
        "creep": (0.005, 0.4),
        "friction": (0.35, 0.2),
        "tension": (120.0, 0.3),
    },
    "toothed_belt": {
        "efficiency": (0.98, 0.008),
        "drag_torque": (0.015, 0.4),
        "creep": (0.0, 0.0),
        "tension": (80.0, 0.3),
    },
    "direct": {"efficiency": (1.0, 0.0), "drag_torque": (0.0, 0.0), "creep": (0.0, 0.0)},
}
WET_SPREAD = 0.25  # of the grip in the wet: 0.3 to 0.5 in the table of physics.roller
WEDGE = {"v_belt": math.radians(38), "ribbed_belt": math.radians(40)}


def fill_stage(stage: Stage, where: str, notes: Notes, *, wet: bool = False) -> Stage:
    """Losses, grip and tension of one step of the drive. wet: what grips by friction grips less."""
    table = _STAGE_TYPICAL[stage.kind or "direct"]
    quiet = {k: exact(v) for k, (v, s) in table.items() if s == 0}
    loud = {k: typical(v, s) for k, (v, s) in table.items() if s > 0}
    if wet and "friction" in loud:
        loud["friction"] = typical(table["friction"][0] * roller.WET_SHARE, WET_SPREAD)
    if stage.kind in WEDGE:
        quiet["wedge_angle"] = exact(WEDGE[stage.kind])
    quiet["drag_slope"] = exact(0.0)
    if stage.kind == "roller" and stage.driver_diameter is None and stage.tyre:
        loud.pop("driver_diameter", None)
        quiet["driver_diameter"] = Measured(
            float(roller.tyre_diameter(stage.tyre)),
            0.004,
            "computed",
            f"tyre {stage.tyre}, a little squashed",
        )
    if stage.tooth_pitch is not None:
        quiet |= {
            f"{side}_diameter": exact(
                float(belts.tooth_pulley_diameter(max(teeth), tooth_pitch=stage.tooth_pitch.value))
            )
            for side, teeth in (("driver", stage.driver_teeth), ("driven", stage.driven_teeth))
            if teeth
        }
    return notes.put(notes.put(stage, where, "", **loud), where, "", **quiet)


def fill_machine(machine: Machine, where: str, notes: Notes) -> Machine:
    """Constants of the machine: from its own measurements, else its nameplate, else a typical one of the kind."""
    plate = machine_physics.from_nameplate(
        voltage=value_of(machine.plate_voltage),
        current=value_of(machine.plate_current),
        speed=value_of(machine.plate_speed),
        power=value_of(machine.plate_power),
    )
    if machine.kind == "alternator":
        machine = _fill_alternator(machine, where, notes)
    shape = 1 / machine_physics.BRIDGE_FACTOR if machine.kind == "pm_three_phase" else 1.0
    how = "nameplate" if plate.from_plate else "typical"
    machine = notes.put(
        machine,
        where,
        "" if plate.from_plate else "no constants and no nameplate; a typical machine stands in",
        emf_constant=Measured(plate.k_emf * shape, plate.k_emf_sd * shape, how, "from the nameplate"),  # type: ignore[arg-type]
        resistance=Measured(plate.r_wind, plate.r_wind_sd, how, "from the nameplate"),  # type: ignore[arg-type]
        friction=Measured(plate.t_coulomb, plate.t_coulomb_sd, "typical"),
        friction_slope=Measured(plate.b_viscous, plate.b_viscous_sd, "typical"),
        current_limit=Measured(plate.i_continuous, plate.i_continuous * 0.1, how),  # type: ignore[arg-type]
    )
    assert machine.emf_constant and machine.resistance and machine.current_limit
    three = machine.kind in ("pm_three_phase", "alternator")
    speed = machine.plate_speed.value * 1.3 if machine.plate_speed else 5000 * RPM
    mass = (
        machine.mass.value if machine.mass else min(6.0, max(0.3, 0.4 + 1.6 * (plate.p_rated / 250) ** 0.75))
    )
    return notes.put(
        machine,
        where,
        brush_drop=exact(0.0) if three else typical(1.2, 0.25),
        inertia=typical(4e-4 * mass**1.5, 0.5),
        inductance=typical(1e-3, 0.5),
        current_limit_short=machine.current_limit.scaled(1.8),
        speed_limit=typical(speed, 0.1),
        winding_limit=typical(KELVIN + 130, 0.03),
        thermal_resistance=typical(2.2 / mass**0.6, 0.3),
        thermal_time=typical(1500 * mass**0.3, 0.25),
        mass=typical(mass, 0.3),
    )


def _fill_alternator(machine: Machine, where: str, notes: Notes) -> Machine:
    """A usual vehicle alternator at its field current: line volts per speed, windings, coil and drag."""
    usual = machine_physics.ALTERNATOR_USUAL
    machine = notes.put(
        machine, where, field_voltage=typical(12.0, 0.05), field_current=typical(usual["i_field"], 0.2)
    )
    assert machine.field_current is not None
    line = math.sqrt(1.5) * usual["k_field"] * machine.field_current.value
    machine = notes.put(
        machine,
        where,
        emf_constant=typical(line, 0.2),
        resistance=typical(2 * usual["r_phase"], 0.3),
        inductance=typical(2 * usual["l_phase"], 0.2),
        friction=typical(0.15, 0.4),
        friction_slope=typical(2e-4, 0.5),
    )
    return (
        machine if machine.pole_pairs else dataclasses.replace(machine, pole_pairs=int(usual["pole_pairs"]))
    )


def fill_diode(diode: Diode | None, stores: bool, machine: Machine, notes: Notes) -> Diode:
    """Drop of the blocking diode; a rig file that names none has none, and a bridge blocks by itself."""
    if machine.kind in ("pm_three_phase", "alternator"):
        base = diode or Diode(kind="silicon")
        return notes.put(
            base, "diode", drop=typical(1.8 if base.kind == "silicon" else 1.0, 0.12), resistance=exact(0.0)
        )
    base = diode or Diode(kind="none")
    if diode is None and stores:
        notes.lines.append(("diode", "no blocking diode is named, so none is assumed"))
    drops = {
        "schottky": typical(0.5, 0.12),
        "silicon": typical(0.9, 0.08),
        "ideal": typical(0.02, 0.5),
        "none": exact(0.0),
    }
    ohms = {"ideal": typical(0.01, 0.4)}
    return notes.put(base, "diode", drop=drops[base.kind], resistance=ohms.get(base.kind, exact(0.0)))


def fill_wire(wire: Wire, where: str, notes: Notes) -> Wire:
    """Size and contacts of one run."""
    return notes.put(
        wire,
        where,
        length=typical(2.0, 0.3),
        size=typical(2.5e-6, 0.3),
        contact_resistance=typical(0.01, 0.4),
    )
