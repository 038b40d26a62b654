"""Typical values that only matter while things change: inertias, lags, soft starts, tools' coils. Kept apart from `fill`, so
that an answer about steady riding does not list what it never used.

Common practice, no source, unless a line names one.
"""

from __future__ import annotations

import dataclasses
import math

from sparewatt.parts import Load, Rig, Stage
from sparewatt.rig.fill import Filled
from sparewatt.rig.fill_electric import tool_plate
from sparewatt.rig.notes import Notes, typical

__all__ = ["INNER_SHARE", "MAGNET_SHARE", "fill_motion", "freewheel_stage"]

MAGNET_SHARE = 0.5  # of the case's warm-up that reaches the magnets
INNER_SHARE = 0.35  # of the thermal resistance that lies between winding and case
WINDING_SHARE = 0.12  # of a machine's heat capacity that is copper
INERTIA_PER_WATT = 1.3e-7  # kg*m^2 of rotor for each plate watt of a hand tool
COIL_TIME = 8e-3  # s, inductance over resistance of a universal motor
RUN_UP = 0.15  # s, mechanical time constant of a small permanent-magnet motor with what it turns
LEGS, ARMS = 0.4, 0.15  # kg*m^2 felt at the crank
PEAK_TO_MEAN = 1.62  # of maximal effort, [pedal_peak]
REACTION = 0.5  # s, between 0.3 and 0.8
SOFT_START = 0.1  # s from waking to full output
WHEEL_FROM = 0.35  # m across: above it a wheel with a rim, below it a plain disc
RIM_MASS = 1.5  # kg of rim, tyre and spokes of a bicycle wheel, taken at its rim
DISC_MASS = 40.0  # kg/m^2 of a small pulley's face
OWN_SHARE = 0.3  # of what a small motor pushes that its own bearings and brushes take


def fill_motion(filled: Filled) -> Filled:
    """The filled rig with what its motion needs on top, and what was assumed for that alone."""
    notes = Notes()
    rig = filled.rig
    new = dataclasses.replace(
        rig,
        rider=tuple(
            notes.put(
                r,
                f"rider.{k}",
                leg_inertia=typical(ARMS if r.uses == "arms" else LEGS, 0.3),
                peak_to_mean=None if r.push_curve else typical(PEAK_TO_MEAN, 0.06),
                reaction_time=typical(REACTION, 0.25),
            )
            for k, r in enumerate(rig.rider)
        ),
        stage=tuple(_fill_stage(rig, k, stage, notes) for k, stage in enumerate(rig.stage)),
        converter=tuple(
            notes.put(c, f"converter.{k}", soft_start=typical(SOFT_START, 0.4))
            for k, c in enumerate(rig.converter)
        ),
        load=tuple(_fill_load(load, f"load.{k}", notes) for k, load in enumerate(rig.load)),
    )
    return Filled(rig=new, assumed=tuple(notes.lines))


def freewheel_stage(rig: Rig, legs: bool) -> int:
    """Index of the step whose driven side may run on, -1 when the drive is rigid.

    What the file says; else the hub at the end of the first chain of a leg-driven rig.
    """
    said = [k for k, stage in enumerate(rig.stage) if stage.freewheel]
    if said:
        return said[-1]
    if not legs or any(stage.freewheel is False for stage in rig.stage):
        return -1
    return next((k for k, stage in enumerate(rig.stage) if stage.kind == "chain"), -1)


def _wheel(diameter: float) -> float:
    """Inertia of a wheel or pulley of that size (kg*m^2)."""
    if diameter >= WHEEL_FROM:
        return 0.9 * RIM_MASS * (diameter / 2) ** 2
    return DISC_MASS * math.pi / 4 * diameter**2 * diameter**2 / 8


def _fill_stage(rig: Rig, k: int, stage: Stage, notes: Notes) -> Stage:
    """Inertia of wheel and pulley on the driven shaft: what this step drives, and what drives the next one."""
    if stage.inertia is not None:
        return stage
    total = 0.0
    driven = stage.driven_diameter
    if driven is not None:
        total += _wheel(driven.value)
    following = rig.stage[k + 1] if k + 1 < len(rig.stage) else None
    if following is not None and following.driver_diameter is not None:
        total += _wheel(following.driver_diameter.value)
    return notes.put(stage, f"stage.{k}", inertia=typical(max(total, 1e-5), 0.35))


def _fill_load(load: Load, where: str, notes: Notes) -> Load:
    """Inertia and coil of a motor."""
    if load.kind == "universal_motor":
        plate = tool_plate(load)
        watts = load.plate_power.value if load.plate_power else 600.0
        return notes.put(
            load,
            where,
            inertia=typical(INERTIA_PER_WATT * watts, 0.4),
            inductance=typical(COIL_TIME * plate.r_motor, 0.4),
        )
    if load.kind == "dc_motor":
        motor = small_motor(load)
        return notes.put(
            load,
            where,
            inertia=typical(RUN_UP * motor.k_emf**2 / motor.r_motor, 0.5),
            inductance=typical(2e-3 * motor.r_motor, 0.4),
        )
    return load


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class SmallMotor:
    """A permanent-magnet motor as a load: what its watts, volts and surge at start say of it."""

    k_emf: float  # V*s/rad
    r_motor: float  # ohm
    w_run: float  # rad/s at its own volts and watts
    torque_run: float  # N*m inside at that speed


def small_motor(load: Load) -> SmallMotor:
    """Constants of a small motor that takes `power` at `voltage` and `start_factor` times those amps when held still."""
    assert load.power is not None and load.voltage is not None
    amps = load.power.value / load.voltage.value
    surge = load.start_factor.value if load.start_factor is not None else 4.0
    r = load.voltage.value / (max(surge, 1.5) * amps)
    w = load.plate_speed.value if load.plate_speed is not None else 3000 * 2 * math.pi / 60
    k = (load.voltage.value - r * amps) / w
    return SmallMotor(k_emf=k, r_motor=r, w_run=w, torque_run=k * amps)
