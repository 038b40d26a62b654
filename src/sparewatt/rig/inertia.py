"""Turning masses of a rig: of one wheel, and of everything on each shaft from the crank to the machine."""

from __future__ import annotations

from sparewatt.parts import Flywheel, Rider, Rig
from sparewatt.physics import flywheel

__all__ = ["inertia_of", "shaft_inertias"]

RIM_INSIDE = 0.8  # of the radius, where the mass of a rim begins (common practice, no source)


def inertia_of(wheel: Flywheel) -> float:
    """Inertia of one wheel (kg*m^2): a disc, or a rim with its mass at nine tenths of the radius."""
    mass = wheel.mass.value if wheel.mass is not None else 0.0
    radius = wheel.diameter.value / 2 if wheel.diameter is not None else 0.0
    if wheel.shape == "rim":
        return float(flywheel.ring_inertia(mass, radius_inner=RIM_INSIDE * radius, radius_outer=radius))
    return float(flywheel.disc_inertia(mass, radius))


def shaft_inertias(rig: Rig, rider: Rider) -> list[float]:
    """Inertia (kg*m^2) on the crank (legs included) and on the driven shaft of each step, as `fill_motion` fills them in."""
    on = [rider.leg_inertia.value if rider.leg_inertia is not None else 0.0]
    on += [stage.inertia.value if stage.inertia is not None else 0.0 for stage in rig.stage]
    if rig.machine is not None and rig.machine.inertia is not None:
        on[-1] += rig.machine.inertia.value
    for wheel in rig.flywheel:
        last = len(rig.stage)
        on[last if wheel.after_stage is None else min(wheel.after_stage, last)] += inertia_of(wheel)
    return on
