"""Ratios and chains: teeth, diameters, what one step of the drive costs, and what a gear means on the road.

A ratio is driven turns for each driving turn, so above 1 the driven shaft is the faster one.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "BICYCLE_PITCH", "CHAIN_RANGE", "chain_efficiency", "chain_links", "chain_loss_share", "chain_pull", "chain_speed",
    "chain_sprocket_diameter", "development", "diameter_ratio", "driven_speed", "driving_torque", "freewheel_torque",
    "stage_efficiency", "stage_loss", "tooth_ratio", "total_ratio",
]  # fmt: skip

BICYCLE_PITCH: Final = 0.0127  # m: half an inch

# Chain pulls (N) for which the loss law was set beside published efficiencies.
CHAIN_RANGE: Final = (30.0, 400.0)


# ---- ratios ---------------------------------------------------------------------------------------------------------


def tooth_ratio(teeth_driver: ArrayLike, teeth_driven: ArrayLike) -> F:
    """Driven turns for each driving turn, by counting teeth; nothing slips.

    ratio = teeth_driver / teeth_driven

    Worked: tooth_ratio(48, 16) = 3.0
    Source: [drive_ratio]
    """
    return out(arr(teeth_driver) / arr(teeth_driven))


def diameter_ratio(d_driver: ArrayLike, d_driven: ArrayLike, *, creep: ArrayLike = 0.0) -> F:
    """Driven turns for each driving turn of faces that grip: belt, tyre on roller, wheel on rim.

    ratio = d_driver / d_driven * (1 - creep)

    Diameters where the faces run together: a squashed tyre, a belt's pitch line. creep is the share of speed lost under
    load, 1 to 3 % while it grips.
    Worked: diameter_ratio(0.750, 0.450, creep=0.02) = 1.6333
    Source: [drive_ratio]
    """
    return out(arr(d_driver) / arr(d_driven) * (1 - arr(creep)))


def total_ratio(ratios: ArrayLike) -> F:
    """Machine turns for each crank turn of steps in a row: the product along the last axis.

    Worked: total_ratio([2.4, 15.0]) = 36.0
    Source: [drive_ratio]
    """
    return out(np.prod(arr(ratios), axis=-1))


def driven_speed(w_driver: ArrayLike, *, stage_ratio: ArrayLike) -> F:
    """Speed of the driven shaft.

    w_driven = stage_ratio * w_driver

    Worked: driven_speed(6.283, stage_ratio=35.0) = 219.9
    Source: [drive_ratio]
    """
    return out(arr(stage_ratio) * arr(w_driver))


# ---- what a step costs ----------------------------------------------------------------------------------------------


def driving_torque(
    torque_driven: ArrayLike, *, w_driven: ArrayLike, stage_ratio: ArrayLike, eta_stage: ArrayLike = 1.0,
    drag_torque: ArrayLike = 0.0, drag_slope: ArrayLike = 0.0, creep: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Torque on the driving shaft of one step for a torque taken from the driven one.

    torque = (torque_driven + drag_torque + drag_slope * w_driven) * stage_ratio / (1 - creep) / eta_stage

    eta_stage is the part of the loss that grows with the torque passed on; the drags are felt on the driven shaft, load
    or no load. Creep costs speed and no torque, so the bare ratio of the faces, stage_ratio / (1 - creep), passes the torque
    on. Turning forward, power from the crank to the machine.
    Worked: driving_torque(0.30, w_driven=200.0, stage_ratio=10.0, eta_stage=0.95, drag_torque=0.02, drag_slope=1e-5) = 3.389
    Source: [drive_losses]
    """
    carried = arr(torque_driven) + arr(drag_torque) + arr(drag_slope) * arr(w_driven)
    return out(carried * arr(stage_ratio) / (1 - arr(creep)) / arr(eta_stage))


def stage_loss(
    torque_driven: ArrayLike, *, w_driven: ArrayLike, stage_ratio: ArrayLike, eta_stage: ArrayLike = 1.0,
    drag_torque: ArrayLike = 0.0, drag_slope: ArrayLike = 0.0, creep: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Watts that one step keeps for itself: power put in less power passed on.

    loss = driving_torque * w_driven / stage_ratio - torque_driven * w_driven

    Worked: stage_loss(0.30, w_driven=200.0, stage_ratio=10.0, eta_stage=0.95, drag_torque=0.02, drag_slope=1e-5) = 7.789
    Source: [drive_losses]
    """
    torque = driving_torque(
        torque_driven, w_driven=w_driven, stage_ratio=stage_ratio, eta_stage=eta_stage, drag_torque=drag_torque,
        drag_slope=drag_slope, creep=creep,
    )  # fmt: skip
    return out((torque / arr(stage_ratio) - arr(torque_driven)) * arr(w_driven))


def stage_efficiency(
    torque_driven: ArrayLike, *, w_driven: ArrayLike, eta_stage: ArrayLike = 1.0, drag_torque: ArrayLike = 0.0,
    drag_slope: ArrayLike = 0.0, creep: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Share of the power that one step passes on, drags and creep counted: it falls as the load gets lighter.

    share = torque_driven / (torque_driven + drag_torque + drag_slope * w_driven) * eta_stage * (1 - creep)

    Worked: stage_efficiency(0.30, w_driven=200.0, eta_stage=0.95, drag_torque=0.02, drag_slope=1e-5) = 0.8851
    Source: [drive_losses]
    """
    useful = arr(torque_driven)
    carried = useful + arr(drag_torque) + arr(drag_slope) * arr(w_driven)
    return out(useful / carried * arr(eta_stage) * (1 - arr(creep)))


def freewheel_torque(
    torque: ArrayLike, *, w_driver: ArrayLike, w_driven: ArrayLike, stage_ratio: ArrayLike = 1.0
) -> F:
    """Torque that a freewheel passes on from its driving side.

    torque where it is positive and the driving side has caught up (w_driver * stage_ratio >= w_driven), else 0

    So a rider can stop while the machine spins on, cannot brake it with the feet, and is not turned by it.
    Worked: freewheel_torque(16.0, w_driver=6.0, w_driven=6.0) = 16.0
    Source: [freewheel]
    """
    caught = arr(w_driver) * arr(stage_ratio) >= arr(w_driven) * (1 - 1e-12)
    return out(np.where(caught & (arr(torque) > 0), arr(torque), 0.0))


# ---- chains ---------------------------------------------------------------------------------------------------------


def chain_sprocket_diameter(teeth: ArrayLike, *, tooth_pitch: ArrayLike = BICYCLE_PITCH) -> F:
    """Pitch diameter of a chain sprocket: through the middles of the pins.

    d = tooth_pitch / sin(pi / teeth)

    Worked: chain_sprocket_diameter(18) = 0.07314
    Source: [chain_geometry]
    """
    return out(arr(tooth_pitch) / np.sin(math.pi / arr(teeth)))


def chain_speed(w_driver: ArrayLike, *, teeth: ArrayLike, tooth_pitch: ArrayLike = BICYCLE_PITCH) -> F:
    """Mean speed of a chain.

    v = teeth * tooth_pitch * w_driver / (2 pi)

    Worked: chain_speed(188.5, teeth=12) = 4.572
    Source: [chain_geometry]
    """
    return out(arr(teeth) * arr(tooth_pitch) * arr(w_driver) / (2 * math.pi))


def chain_pull(torque: ArrayLike, *, teeth: ArrayLike, tooth_pitch: ArrayLike = BICYCLE_PITCH) -> F:
    """Mean pull of the tight side of a chain from the torque on one sprocket.

    pull = 2 pi * torque / (teeth * tooth_pitch)

    Mean over a tooth; a push of the legs peaks higher (`rider.peak_to_mean`).
    Worked: chain_pull(16.0, teeth=42) = 188.5
    Source: [chain_geometry]
    """
    return out(2 * math.pi * arr(torque) / (arr(teeth) * arr(tooth_pitch)))


def chain_links(
    centre_distance: ArrayLike, *, teeth_driver: ArrayLike, teeth_driven: ArrayLike,
    tooth_pitch: ArrayLike = BICYCLE_PITCH,
) -> F:  # fmt: skip
    """Links of a chain for two sprockets, before rounding up to the next even number.

    links = 2 C / p + (n1 + n2) / 2 + ((n1 - n2) / 2 pi)^2 * p / C

    The usual short form of the geometry, good while the shafts stand more than about one large diameter apart.
    Worked: chain_links(0.42, teeth_driver=42, teeth_driven=18) = 96.58
    Source: [chain_geometry]
    """
    n1, n2, long = arr(teeth_driver), arr(teeth_driven), arr(centre_distance) / arr(tooth_pitch)
    return out(2 * long + (n1 + n2) / 2 + ((n1 - n2) / (2 * math.pi)) ** 2 / long)


def chain_loss_share(
    pull: ArrayLike, *, teeth_driver: ArrayLike, teeth_driven: ArrayLike, mu_pin: ArrayLike = 0.15,
    d_pin: ArrayLike = 3.6e-3, tooth_pitch: ArrayLike = BICYCLE_PITCH, pull_slack: ArrayLike = 5.0,
    pull_drag: ArrayLike = 3.0,
) -> F:  # fmt: skip
    """Share of the power that a chain keeps.

    share = pi * mu_pin * d_pin / tooth_pitch * (1/n1 + 1/n2) * (1 + 2 * pull_slack / pull) + pull_drag / pull

    Each link turns through 2 pi / n on its pin on the way in and on the way out of a sprocket, under the tight pull
    (pull + pull_slack) on one side and the slack pull on the other; pull_drag is what oil, seals and a guide take at no
    load. So the loss falls with tension and with teeth, and is never nothing. Published efficiencies run from 0.81 to
    0.986 for pulls of 30 to 400 N (CHAIN_RANGE); this law gives 0.94 to 0.98 there, since the low end came from the
    difference of two nearly equal torques. A chain that is dry or out of line loses two or three times as much.
    Worked: chain_loss_share(190.0, teeth_driver=42, teeth_driven=18) = 0.02695
    Source: [chain_pins] [spicer_2001]
    """
    bend = (
        math.pi
        * arr(mu_pin)
        * arr(d_pin)
        / arr(tooth_pitch)
        * (1 / arr(teeth_driver) + 1 / arr(teeth_driven))
    )
    return out(bend * (1 + 2 * arr(pull_slack) / arr(pull)) + arr(pull_drag) / arr(pull))


def chain_efficiency(
    pull: ArrayLike, *, teeth_driver: ArrayLike, teeth_driven: ArrayLike, mu_pin: ArrayLike = 0.15,
    d_pin: ArrayLike = 3.6e-3, tooth_pitch: ArrayLike = BICYCLE_PITCH, pull_slack: ArrayLike = 5.0,
    pull_drag: ArrayLike = 3.0,
) -> F:  # fmt: skip
    """Share of the power that a chain passes on: 1 less `chain_loss_share`, never 1.

    With hardly any pull it falls to nothing and below: there is then no power to pass on.
    Worked: chain_efficiency(190.0, teeth_driver=42, teeth_driven=18) = 0.9731
    Source: [chain_pins] [spicer_2001]
    """
    return out(
        1 - chain_loss_share(
            pull, teeth_driver=teeth_driver, teeth_driven=teeth_driven, mu_pin=mu_pin, d_pin=d_pin,
            tooth_pitch=tooth_pitch, pull_slack=pull_slack, pull_drag=pull_drag,
        )
    )  # fmt: skip


# ---- on the road ----------------------------------------------------------------------------------------------------


def development(stage_ratio: ArrayLike, *, circumference: ArrayLike) -> F:
    """Distance a wheel rolls in one turn of the crank.

    development = stage_ratio * circumference

    Worked: development(3.0, circumference=2.111) = 6.333
    Source: [drive_ratio]
    """
    return out(arr(stage_ratio) * arr(circumference))
