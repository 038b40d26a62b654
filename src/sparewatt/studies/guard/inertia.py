"""Turning masses of a rig, seen at any shaft, and the energy swing of the legs."""

from __future__ import annotations

import numpy as np

from sparewatt.parts import Flywheel
from sparewatt.physics import flywheel
from sparewatt.physics.rider import PEAK_SHARE
from sparewatt.studies.guard.scene import Scene
from sparewatt.studies.guard.words import value

__all__ = [
    "TORQUE_RIPPLE",
    "energy_swing",
    "inertia_of",
    "shaft_ratio",
    "wheel_radius",
]

TORQUE_RIPPLE = PEAK_SHARE  # of the mean torque, up and down, in each half turn


def energy_swing(p_rider: float, w_crank: float) -> float:
    """Joules in surplus during each push."""
    return float(flywheel.energy_swing_pedal(p_rider, w_crank=w_crank, torque_ripple=TORQUE_RIPPLE))


def wheel_radius(wheel: Flywheel) -> float:
    """Outermost radius (m)."""
    return value(wheel.diameter) / 2


def inertia_of(wheel: Flywheel) -> float:
    """Inertia of one wheel: a disc, or a rim with its mass at nine tenths of the radius."""
    mass, radius = value(wheel.mass), wheel_radius(wheel)
    if wheel.shape == "rim":
        return float(flywheel.ring_inertia(mass, radius_inner=0.8 * radius, radius_outer=radius))
    return float(flywheel.disc_inertia(mass, radius))


def shaft_ratio(scene: Scene, after_stage: int, gear: int) -> float:
    """Turns of the shaft after that step of the drive for each turn of the crank."""
    ratio = scene.solved.bound.stages.ratio
    return float(np.prod(ratio[: min(after_stage, ratio.shape[0]), gear, 0]))


def wheel_place(scene: Scene, wheel: Flywheel) -> int:
    """After which step of the drive a wheel sits; the last one (the machine's own shaft) when the file does not say."""
    return len(scene.rig.stage) if wheel.after_stage is None else wheel.after_stage
