"""The flywheel: what each push of the legs needs, what a wheel holds, and what it does when it breaks or runs on.

Put the wheel on a slow shaft behind guards. A ceiling here is a workshop habit for unknown scrap, not a burst margin.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "RIM_CEILINGS", "RIM_DRILLED", "RIPPLE_USUAL", "brake_torque", "disc_inertia", "energy_swing_curve",
    "energy_swing_pedal", "inertia_for_ripple", "rim_ceiling", "rim_speed", "ring_inertia", "run_down_time",
    "speed_for_rim", "speed_ripple", "stored_energy", "unbalance_force",
]  # fmt: skip


# Rim speeds not to pass, in m/s, by what the wheel is made of. Common practice, no source.
RIM_CEILINGS: Final = {
    "machined steel disc": 40.0,
    "unknown cast iron": 25.0,
    "bicycle rim as built": 20.0,
    "plywood or board": 12.0,
    "concrete or filled rim": 6.0,
}

# The share of the ceiling left where the wheel has been drilled or welded. Common practice, no source.
RIM_DRILLED: Final = 0.5

# Speed ripple usually asked of a direct-current generator: on the same shaft, and by belt.
RIPPLE_USUAL: Final = {"direct": 0.0143, "belt": 0.029}


# ---- what each push needs -------------------------------------------------------------------------------------------


def energy_swing_pedal(p_rider: ArrayLike, *, w_crank: ArrayLike, torque_ripple: ArrayLike) -> F:
    """Energy that comes in surplus during each push and is missed between pushes.

    energy_swing = torque_ripple * p_rider / w_crank

    Exact for torque T (1 + torque_ripple cos 2 theta) against a steady load; torque_ripple 0.6 to 0.9 seated.
    Worked: energy_swing_pedal(150.0, w_crank=6.2832, torque_ripple=0.8) = 19.1
    Source: [turning_moment]
    """
    return arr(torque_ripple) * arr(p_rider) / arr(w_crank)


def energy_swing_curve(torque_curve: ArrayLike, angle: ArrayLike) -> F:
    """The energy swing of any torque curve over one full cycle, against its own mean.

    energy_swing = max(E) - min(E),  E(angle) = integral of (torque_curve - its mean)

    Exact for straight lines between the points. Both arrays run along the last axis over one cycle, ends included.
    Worked: energy_swing_curve([0.0, 90.0, 0.0], [0.0, 1.5708, 3.1416]) = 35.34
    Source: [turning_moment]
    """
    torque, at = arr(torque_curve), arr(angle)
    step = np.diff(at, axis=-1)
    work = np.sum(0.5 * (torque[..., 1:] + torque[..., :-1]) * step, axis=-1)
    over = torque - (work / (at[..., -1] - at[..., 0]))[..., np.newaxis]
    before, after = over[..., :-1], over[..., 1:]
    ends = np.cumsum(0.5 * (before + after) * step, axis=-1)
    starts = ends - 0.5 * (before + after) * step
    # Highest and lowest lie where the curve crosses its mean, which may be inside a slice.
    crosses = before * after < 0.0
    share = np.where(crosses, before / np.where(crosses, before - after, 1.0), 0.0)
    turns = starts + 0.5 * before * share * step
    high = np.maximum(ends.max(axis=-1), np.maximum(turns.max(axis=-1), 0.0))
    low = np.minimum(ends.min(axis=-1), np.minimum(turns.min(axis=-1), 0.0))
    return out(high - low)


def speed_ripple(energy_swing: ArrayLike, *, inertia: ArrayLike, w_wheel: ArrayLike) -> F:
    """Speed ripple, top to bottom over the mean, that an energy swing leaves on a wheel.

    ripple = energy_swing / (inertia * w_wheel^2)

    Exact with w_wheel the mean of highest and lowest. Above 2 the wheel would stop: it cannot carry that swing.
    Worked: speed_ripple(19.1, inertia=0.0234, w_wheel=157.08) = 0.0331
    Source: [turning_moment]
    """
    return arr(energy_swing) / (arr(inertia) * arr(w_wheel) ** 2)


def inertia_for_ripple(energy_swing: ArrayLike, *, w_wheel: ArrayLike, ripple_wanted: ArrayLike) -> F:
    """The inertia that holds the speed ripple to what is wanted.

    inertia = energy_swing / (ripple_wanted * w_wheel^2)

    Counts only the wheel: machine and roller help a little more.
    Worked: inertia_for_ripple(11.94, w_wheel=31.416, ripple_wanted=0.05) = 0.242
    Source: [turning_moment]
    """
    return arr(energy_swing) / (arr(ripple_wanted) * arr(w_wheel) ** 2)


# ---- inertia --------------------------------------------------------------------------------------------------------


def disc_inertia(mass: ArrayLike, radius: ArrayLike) -> F:
    """Inertia of a flat round plate about its axle.

    inertia = mass * radius^2 / 2

    Even thickness, small centre hole.
    Worked: disc_inertia(50.0, 0.3) = 2.25
    Source: [rigid_body]
    """
    return 0.5 * arr(mass) * arr(radius) ** 2


def ring_inertia(mass: ArrayLike, *, radius_inner: ArrayLike, radius_outer: ArrayLike) -> F:
    """Inertia of a thick ring about its axle.

    inertia = mass * (radius_inner^2 + radius_outer^2) / 2

    Even thickness; spokes and hub left out.
    Worked: ring_inertia(10.0, radius_inner=0.15, radius_outer=0.2) = 0.3125
    Source: [rigid_body]
    """
    return 0.5 * arr(mass) * (arr(radius_inner) ** 2 + arr(radius_outer) ** 2)


# ---- what it holds and how it runs on -------------------------------------------------------------------------------


def stored_energy(inertia: ArrayLike, w_wheel: ArrayLike) -> F:
    """Energy in a turning wheel.

    energy = inertia * w_wheel^2 / 2

    Any speed.
    Worked: stored_energy(0.16, 41.888) = 140.4
    Source: [rigid_body]
    """
    return 0.5 * arr(inertia) * arr(w_wheel) ** 2


def run_down_time(
    inertia: ArrayLike, w_wheel: ArrayLike, *, t_coulomb: ArrayLike, b_viscous: ArrayLike = 0.0
) -> F:
    """Seconds from a speed to a standstill against friction alone.

    duration = (inertia / b_viscous) * ln(1 + b_viscous * w_wheel / t_coulomb),
    and inertia * w_wheel / t_coulomb where b_viscous is 0

    t_coulomb must be above 0: a wheel with only viscous drag never stops. Air drag left out, so this is an upper bound.
    Worked: run_down_time(0.16, 41.888, t_coulomb=0.05) = 134.0
    Source: [rigid_body]
    """
    fixed, viscous, w = arr(t_coulomb), arr(b_viscous), arr(w_wheel)
    x = viscous * w / fixed
    # ln(1+x)/x tends to 1: written so that no viscous drag is not 0/0.
    tiny = np.abs(x) < 1e-9
    factor = np.where(tiny, 1.0 - 0.5 * x, np.log1p(x) / np.where(tiny, 1.0, x))
    return out(arr(inertia) * w / fixed * factor)


def brake_torque(inertia: ArrayLike, w_wheel: ArrayLike, *, duration: ArrayLike) -> F:
    """The brake that stops a wheel in a given time.

    torque = inertia * w_wheel / duration

    The wheel's own drag helps and is left out.
    Worked: brake_torque(0.16, 41.888, duration=5.0) = 1.340
    Source: [rigid_body]
    """
    return arr(inertia) * arr(w_wheel) / arr(duration)


# ---- how it breaks --------------------------------------------------------------------------------------------------


def rim_speed(w_wheel: ArrayLike, radius: ArrayLike) -> F:
    """Speed of the rim.

    v_rim = w_wheel * radius

    radius is the outermost point.
    Worked: rim_speed(151.84, 0.225) = 34.16
    Source: [rigid_body]
    """
    return arr(w_wheel) * arr(radius)


def rim_ceiling(v_rim_limit: ArrayLike, *, rim_share: ArrayLike = 1.0) -> F:
    """The rim speed not to pass, after anything that weakens the wheel.

    v_rim = rim_share * v_rim_limit

    Take v_rim_limit from RIM_CEILINGS, rim_share from RIM_DRILLED for a drilled or welded wheel.
    Worked: rim_ceiling(25.0, rim_share=0.5) = 12.5
    Source: [rim_practice]
    """
    return arr(rim_share) * arr(v_rim_limit)


def speed_for_rim(v_rim_limit: ArrayLike, radius: ArrayLike) -> F:
    """The shaft speed at which the rim reaches its ceiling.

    w_wheel = v_rim_limit / radius

    Hold the over-speed (a sprint in the highest gear, and a quarter more) against it.
    Worked: speed_for_rim(25.0, 0.225) = 111.1
    Source: [rim_practice]
    """
    return arr(v_rim_limit) / arr(radius)


def unbalance_force(mass: ArrayLike, *, offset: ArrayLike, w_wheel: ArrayLike) -> F:
    """The turning force of a wheel whose centre of mass is off its axle.

    force = mass * offset * w_wheel^2

    Stiff shaft, below any resonance of the frame.
    Worked: unbalance_force(12.0, offset=0.001, w_wheel=151.84) = 276.7
    Source: [rigid_body]
    """
    return arr(mass) * arr(offset) * arr(w_wheel) ** 2
