"""Chains: their pull, their length, and what they keep for themselves."""

from __future__ import annotations

import math
from typing import Final

from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "BICYCLE_PITCH",
    "CHAIN_RANGE",
    "chain_efficiency",
    "chain_links",
    "chain_loss_share",
    "chain_pull",
]

BICYCLE_PITCH: Final = 0.0127  # m: half an inch

# Chain pulls (N) for which the loss law was set beside published efficiencies.
CHAIN_RANGE: Final = (30.0, 400.0)


# ---- chains ---------------------------------------------------------------------------------------------------------


def chain_pull(torque: ArrayLike, *, teeth: ArrayLike, tooth_pitch: ArrayLike = BICYCLE_PITCH) -> F:
    """Mean pull of the tight side of a chain from the torque on one sprocket.

    pull = 2 pi * torque / (teeth * tooth_pitch)

    Mean over a tooth; a push of the legs peaks higher.
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
