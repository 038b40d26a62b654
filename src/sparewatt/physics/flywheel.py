"""The flywheel: what each push of the legs needs, what a wheel holds, and what it does when it breaks or runs on.

Put the wheel on a slow shaft behind guards. A ceiling here is a workshop habit for unknown scrap, not a burst margin.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "RIM_CEILINGS",
    "RIM_DRILLED",
    "RIPPLE_USUAL",
    "brake_torque",
    "carry_time",
    "disc_inertia",
    "disc_mass",
    "disc_stress",
    "energy_between",
    "energy_swing_curve",
    "energy_swing_pedal",
    "flicker_rate",
    "hoop_inertia",
    "hoop_stress",
    "inertia_for_ripple",
    "inertia_of_gyration",
    "referred_inertia",
    "rim_ceiling",
    "rim_speed",
    "ring_inertia",
    "run_down_time",
    "speed_drop",
    "speed_for_rim",
    "speed_ripple",
    "stored_energy",
    "swing_share",
    "unbalance_allowed",
    "unbalance_force",
    "volts_ripple_share",
]

F = NDArray[np.float64]

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


def _f(x: ArrayLike) -> F:
    return np.asarray(x, dtype=np.float64)


def _out(x: ArrayLike) -> F:
    """The array itself, or a plain np.float64 where the inputs were numbers."""
    result: F = np.asarray(x, dtype=np.float64)[()]
    return result


# ---- what each push needs -------------------------------------------------------------------------------------------


def energy_swing_pedal(p_rider: ArrayLike, *, w_crank: ArrayLike, torque_ripple: ArrayLike) -> F:
    """Energy that comes in surplus during each push and is missed between pushes.

    energy_swing = torque_ripple * p_rider / w_crank

    Exact for torque T (1 + torque_ripple cos 2 theta) against a steady load; torque_ripple 0.6 to 0.9 seated.
    Worked: energy_swing_pedal(150.0, w_crank=6.2832, torque_ripple=0.8) = 19.1
    Source: [turning_moment]
    """
    return _f(torque_ripple) * _f(p_rider) / _f(w_crank)


def energy_swing_curve(torque_curve: ArrayLike, angle: ArrayLike) -> F:
    """The energy swing of any torque curve over one full cycle, against its own mean.

    energy_swing = max(E) - min(E),  E(angle) = integral of (torque_curve - its mean)

    Exact for straight lines between the points. Both arrays run along the last axis over one cycle, ends included.
    Worked: energy_swing_curve([0.0, 90.0, 0.0], [0.0, 1.5708, 3.1416]) = 35.34
    Source: [turning_moment]
    """
    torque, at = _f(torque_curve), _f(angle)
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
    return _out(high - low)


def swing_share(energy_swing: ArrayLike, energy_cycle: ArrayLike) -> F:
    """The energy swing as a share of the work of one cycle.

    share = energy_swing / energy_cycle

    The older books call it the coefficient of fluctuation of energy.
    Worked: swing_share(11.78, 424.1) = 0.02778
    Source: [turning_moment]
    """
    return _f(energy_swing) / _f(energy_cycle)


def speed_ripple(energy_swing: ArrayLike, *, inertia: ArrayLike, w_wheel: ArrayLike) -> F:
    """Speed ripple, top to bottom over the mean, that an energy swing leaves on a wheel.

    ripple = energy_swing / (inertia * w_wheel^2)

    Exact with w_wheel the mean of highest and lowest. Above 2 the wheel would stop: it cannot carry that swing.
    Worked: speed_ripple(19.1, inertia=0.0234, w_wheel=157.08) = 0.0331
    Source: [turning_moment]
    """
    return _f(energy_swing) / (_f(inertia) * _f(w_wheel) ** 2)


def inertia_for_ripple(energy_swing: ArrayLike, *, w_wheel: ArrayLike, ripple_wanted: ArrayLike) -> F:
    """The inertia that holds the speed ripple to what is wanted.

    inertia = energy_swing / (ripple_wanted * w_wheel^2)

    Counts only the wheel: machine and roller help a little more.
    Worked: inertia_for_ripple(11.94, w_wheel=31.416, ripple_wanted=0.05) = 0.242
    Source: [turning_moment]
    """
    return _f(energy_swing) / (_f(ripple_wanted) * _f(w_wheel) ** 2)


def volts_ripple_share(ripple: ArrayLike, *, v_emf: ArrayLike, v_bus: ArrayLike) -> F:
    """The ripple of the bus volts when the machine's own volts ripple with its speed and the current is steady.

    share = ripple * v_emf / v_bus

    A battery or a large capacitor on the bus holds it far below this.
    Worked: volts_ripple_share(0.033, v_emf=16.0, v_bus=14.0) = 0.0377
    Source: [back_emf]
    """
    return _f(ripple) * _f(v_emf) / _f(v_bus)


def flicker_rate(w_crank: ArrayLike, *, pushes: ArrayLike = 2.0) -> F:
    """How many times a second the legs' pulse passes through to a lamp.

    rate = pushes * w_crank / (2 * pi)

    Two pushes a turn. From about 3 a second flicker disturbs some people; above 0.10 ripple it is seen.
    Worked: flicker_rate(9.4248) = 3.000
    Source: [turning_moment]
    """
    return _f(pushes) * _f(w_crank) / (2.0 * np.pi)


# ---- inertia --------------------------------------------------------------------------------------------------------


def disc_mass(radius: ArrayLike, thickness: ArrayLike, *, density: ArrayLike) -> F:
    """Mass of a flat round plate.

    mass = pi * radius^2 * thickness * density

    Without a centre hole.
    Worked: disc_mass(0.2, 0.01, density=7850.0) = 9.865
    Source: [rigid_body]
    """
    return np.pi * _f(radius) ** 2 * _f(thickness) * _f(density)


def disc_inertia(mass: ArrayLike, radius: ArrayLike) -> F:
    """Inertia of a flat round plate about its axle.

    inertia = mass * radius^2 / 2

    Even thickness, small centre hole.
    Worked: disc_inertia(50.0, 0.3) = 2.25
    Source: [rigid_body]
    """
    return 0.5 * _f(mass) * _f(radius) ** 2


def ring_inertia(mass: ArrayLike, *, radius_inner: ArrayLike, radius_outer: ArrayLike) -> F:
    """Inertia of a thick ring about its axle.

    inertia = mass * (radius_inner^2 + radius_outer^2) / 2

    Even thickness; spokes and hub left out.
    Worked: ring_inertia(10.0, radius_inner=0.15, radius_outer=0.2) = 0.3125
    Source: [rigid_body]
    """
    return 0.5 * _f(mass) * (_f(radius_inner) ** 2 + _f(radius_outer) ** 2)


def hoop_inertia(mass: ArrayLike, radius: ArrayLike) -> F:
    """Inertia of mass that all sits at one radius: a rim, a tyre, a filled tube.

    inertia = mass * radius^2

    An upper bound for anything with spokes or a web.
    Worked: hoop_inertia(2.0, 0.31) = 0.1922
    Source: [rigid_body]
    """
    return _f(mass) * _f(radius) ** 2


def inertia_of_gyration(mass: ArrayLike, radius_gyration: ArrayLike) -> F:
    """Inertia from mass and radius of gyration.

    inertia = mass * radius_gyration^2

    For wheels whose maker gives that radius.
    Worked: inertia_of_gyration(12.0, 0.08) = 0.0768
    Source: [rigid_body]
    """
    return _f(mass) * _f(radius_gyration) ** 2


def referred_inertia(inertia: ArrayLike, *, ratio: ArrayLike) -> F:
    """A wheel's inertia as it is felt on a shaft that turns `ratio` times slower.

    inertia = inertia * ratio^2

    Only while the two shafts are locked: past a freewheel the slow side feels nothing.
    Worked: referred_inertia(0.02, ratio=7.0) = 0.98
    Source: [rigid_body]
    """
    return _f(inertia) * _f(ratio) ** 2


# ---- what it holds and how it runs on -------------------------------------------------------------------------------


def stored_energy(inertia: ArrayLike, w_wheel: ArrayLike) -> F:
    """Energy in a turning wheel.

    energy = inertia * w_wheel^2 / 2

    Any speed.
    Worked: stored_energy(0.16, 41.888) = 140.4
    Source: [rigid_body]
    """
    return 0.5 * _f(inertia) * _f(w_wheel) ** 2


def energy_between(inertia: ArrayLike, *, w_high: ArrayLike, w_low: ArrayLike) -> F:
    """Energy given off between two speeds.

    energy = inertia * (w_high^2 - w_low^2) / 2

    Negative where the wheel speeds up.
    Worked: energy_between(2.25, w_high=31.416, w_low=29.322) = 143.1
    Source: [rigid_body]
    """
    return 0.5 * _f(inertia) * (_f(w_high) ** 2 - _f(w_low) ** 2)


def speed_drop(energy_swing: ArrayLike, *, inertia: ArrayLike, w_wheel: ArrayLike) -> F:
    """Highest less lowest speed about a known mean.

    drop = energy_swing / (inertia * w_wheel)

    Half of it lies on each side of w_wheel.
    Worked: speed_drop(56000.0, inertia=21060.0, w_wheel=12.566) = 0.2116
    Source: [turning_moment]
    """
    return _f(energy_swing) / (_f(inertia) * _f(w_wheel))


def carry_time(inertia: ArrayLike, *, w_high: ArrayLike, w_low: ArrayLike, p_load: ArrayLike) -> F:
    """How long a wheel carries a load alone while it falls from one speed to another.

    duration = inertia * (w_high^2 - w_low^2) / (2 * p_load)

    p_load is the power taken off the wheel's own shaft, losses included. inf with no load.
    Worked: carry_time(0.16, w_high=41.888, w_low=0.0, p_load=100.0) = 1.404
    Source: [rigid_body]
    """
    with np.errstate(divide="ignore"):
        return energy_between(inertia, w_high=w_high, w_low=w_low) / _f(p_load)


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
    fixed, viscous, w = _f(t_coulomb), _f(b_viscous), _f(w_wheel)
    x = viscous * w / fixed
    # ln(1+x)/x tends to 1: written so that no viscous drag is not 0/0.
    tiny = np.abs(x) < 1e-9
    factor = np.where(tiny, 1.0 - 0.5 * x, np.log1p(x) / np.where(tiny, 1.0, x))
    return _out(_f(inertia) * w / fixed * factor)


def brake_torque(inertia: ArrayLike, w_wheel: ArrayLike, *, duration: ArrayLike) -> F:
    """The brake that stops a wheel in a given time.

    torque = inertia * w_wheel / duration

    The wheel's own drag helps and is left out.
    Worked: brake_torque(0.16, 41.888, duration=5.0) = 1.340
    Source: [rigid_body]
    """
    return _f(inertia) * _f(w_wheel) / _f(duration)


# ---- how it breaks --------------------------------------------------------------------------------------------------


def rim_speed(w_wheel: ArrayLike, radius: ArrayLike) -> F:
    """Speed of the rim.

    v_rim = w_wheel * radius

    radius is the outermost point.
    Worked: rim_speed(151.84, 0.225) = 34.16
    Source: [rigid_body]
    """
    return _f(w_wheel) * _f(radius)


def rim_ceiling(v_rim_limit: ArrayLike, *, rim_share: ArrayLike = 1.0) -> F:
    """The rim speed not to pass, after anything that weakens the wheel.

    v_rim = rim_share * v_rim_limit

    Take v_rim_limit from RIM_CEILINGS, rim_share from RIM_DRILLED for a drilled or welded wheel.
    Worked: rim_ceiling(25.0, rim_share=0.5) = 12.5
    Source: [rim_practice]
    """
    return _f(rim_share) * _f(v_rim_limit)


def speed_for_rim(v_rim_limit: ArrayLike, radius: ArrayLike) -> F:
    """The shaft speed at which the rim reaches its ceiling.

    w_wheel = v_rim_limit / radius

    Hold the over-speed (120 turns a minute in the highest gear, and a quarter more) against it.
    Worked: speed_for_rim(25.0, 0.225) = 111.1
    Source: [rim_practice]
    """
    return _f(v_rim_limit) / _f(radius)


def hoop_stress(v_rim: ArrayLike, *, density: ArrayLike) -> F:
    """Stress in a thin turning rim.

    stress = density * v_rim^2

    Thin ring, no spokes. A flaw or a weld fails far below the strength in a table.
    Worked: hoop_stress(25.0, density=7200.0) = 4.5e6
    Source: [rotating_ring]
    """
    return _f(density) * _f(v_rim) ** 2


def disc_stress(v_rim: ArrayLike, *, density: ArrayLike, poisson: ArrayLike = 0.3) -> F:
    """Largest stress in a solid turning disc, at its centre.

    stress = (3 + poisson) / 8 * density * v_rim^2

    Even thickness and no hole. A small centre hole doubles it.
    Worked: disc_stress(40.0, density=7850.0) = 5.181e6
    Source: [rotating_ring]
    """
    return (3.0 + _f(poisson)) / 8.0 * _f(density) * _f(v_rim) ** 2


def unbalance_force(mass: ArrayLike, *, offset: ArrayLike, w_wheel: ArrayLike) -> F:
    """The turning force of a wheel whose centre of mass is off its axle.

    force = mass * offset * w_wheel^2

    Stiff shaft, below any resonance of the frame.
    Worked: unbalance_force(12.0, offset=0.001, w_wheel=151.84) = 276.7
    Source: [rigid_body]
    """
    return _f(mass) * _f(offset) * _f(w_wheel) ** 2


def unbalance_allowed(w_wheel: ArrayLike, *, balance_grade: ArrayLike) -> F:
    """How far the centre of mass may be off the axle for a balance grade.

    offset = balance_grade / w_wheel

    balance_grade in m/s (grade 16 is 0.016 m/s). Rigid rotors.
    Worked: unbalance_allowed(157.08, balance_grade=0.016) = 1.0186e-4
    Source: [iso21940]
    """
    return _f(balance_grade) / _f(w_wheel)
