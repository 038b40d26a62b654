"""Bolts, welds, shafts, bearings, plates and the base: what holds the rig together and upright.

Handbook strengths are for sound new steel. Scrap, rust, an unknown weld or a burnt bolt has less: look and test by hand.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "GRAVITY", "NUT_FACTOR", "PROOF_LOADS", "PROOF_STRESS", "SIDE_PUSH", "SLOT_DISTANCES", "SLOT_WIDTHS",
    "STRESS_AREAS", "base_width", "bearing_far", "bearing_life", "bearing_near", "bolt_group_shear", "bolt_slip_load",
    "bolt_stretch", "bolt_torque", "guard_distance", "nip_time", "nut_turn", "proof_load", "proof_preload",
    "shaft_bending_stress", "shaft_shear_stress", "shear_max", "strip_sag", "strip_stress", "weld_load",
    "weld_load_angled",
]  # fmt: skip


# Throat of a fillet weld over its leg, and the shear share of the distortion-energy rule.
_THROAT: Final = 0.5**0.5
GRAVITY: Final = 9.80665

# Torque over preload and diameter. Dry plain steel, oiled, waxed or greased. Common practice, no source.
NUT_FACTOR: Final = {"dry": 0.20, "oiled": 0.15, "greased": 0.12}

# Metric coarse threads: stress area in m2.
STRESS_AREAS: Final = {
    "M5": 14.2e-6,
    "M6": 20.1e-6,
    "M8": 36.6e-6,
    "M10": 58.0e-6,
    "M12": 84.3e-6,
    "M16": 157.0e-6,
}

# Proof load in newton by strength class and coarse thread, and proof stress in pascal up to M16.
PROOF_LOADS: Final = {
    "8.8": {"M6": 11600.0, "M8": 21200.0, "M10": 33700.0, "M12": 48900.0},
    "10.9": {"M6": 16700.0, "M8": 30400.0, "M10": 48100.0, "M12": 70000.0},
}
PROOF_STRESS: Final = {"4.6": 225.0e6, "8.8": 580.0e6, "10.9": 830.0e6}

# A slot up to this wide (m) may sit no nearer to a moving nip than the distance beside it (m). From memory.
SLOT_WIDTHS: Final = (0.004, 0.006, 0.008, 0.010, 0.012, 0.020, 0.030, 0.120)
SLOT_DISTANCES: Final = (0.002, 0.010, 0.020, 0.080, 0.100, 0.120, 0.850, 0.850)

# A rider who stands and sprints pushes the saddle sideways this hard, in newton. Common practice, no source.
SIDE_PUSH: Final = 250.0


# ---- bolts ----------------------------------------------------------------------------------------------------------


def proof_load(stress_proof: ArrayLike, *, area_bolt: ArrayLike) -> F:
    """The pull a bolt takes without a lasting stretch.

    force = stress_proof * area_bolt

    New bolt with a head mark that can be read. No mark: count it as the weakest class.
    Worked: proof_load(580.0e6, area_bolt=84.3e-6) = 48894
    Source: [iso898]
    """
    return arr(stress_proof) * arr(area_bolt)


def proof_preload(force_proof: ArrayLike, *, proof_share: ArrayLike = 0.75) -> F:
    """The clamp force to aim at.

    preload = proof_share * force_proof

    0.75 for bolts that come off again.
    Worked: proof_preload(33700.0) = 25275
    Source: [bolt_preload]
    """
    return arr(proof_share) * arr(force_proof)


def bolt_torque(preload: ArrayLike, *, d_bolt: ArrayLike, nut_factor: ArrayLike = NUT_FACTOR["dry"]) -> F:
    """The wrench torque for a clamp force.

    torque = nut_factor * d_bolt * preload

    The nut factor scatters by a quarter either way, so the clamp force does too.
    Worked: bolt_torque(25275.0, d_bolt=0.010) = 50.55
    Source: [bolt_preload]
    """
    return arr(nut_factor) * arr(d_bolt) * arr(preload)


def bolt_stretch(
    preload: ArrayLike, *, length_grip: ArrayLike, area_bolt: ArrayLike, modulus: ArrayLike
) -> F:
    """How much a bolt stretches under its preload.

    stretch = preload * length_grip / (area_bolt * modulus)

    Within the proof load; the clamped parts taken as stiff.
    Worked: bolt_stretch(20000.0, length_grip=0.04, area_bolt=58.0e-6, modulus=205.0e9) = 6.728e-5
    Source: [hooke]
    """
    return arr(preload) * arr(length_grip) / (arr(area_bolt) * arr(modulus))


def nut_turn(stretch: ArrayLike, *, pitch: ArrayLike) -> F:
    """How far to turn the nut past snug for a stretch.

    angle = 2 * pi * stretch / pitch

    From snug, with clean flat faces.
    Worked: nut_turn(6.728e-5, pitch=0.0015) = 0.2818
    Source: [hooke]
    """
    return 2.0 * np.pi * arr(stretch) / arr(pitch)


def bolt_slip_load(
    preload: ArrayLike, *, n_bolts: ArrayLike, mu_joint: ArrayLike, n_faces: ArrayLike = 1.0
) -> F:
    """The sideways load that clamped plates hold by friction alone.

    force = mu_joint * n_faces * n_bolts * preload

    mu_joint 0.15 to 0.2 for clean steel, less with paint or grease (common practice, no source).
    Worked: bolt_slip_load(15000.0, n_bolts=4.0, mu_joint=0.15) = 9000
    Source: [friction]
    """
    return arr(mu_joint) * arr(n_faces) * arr(n_bolts) * arr(preload)


def bolt_group_shear(force: ArrayLike, moment: ArrayLike, *, x_bolts: ArrayLike, y_bolts: ArrayLike) -> F:
    """The largest sideways load on one bolt of a group, from a force along y and a moment about the group's centre.

    Each bolt takes force / n, and moment * r / sum(r^2) at right angles to its radius r; the two are added as arrows.

    Bolts of one size, stiff plate. x_bolts and y_bolts run along the last axis.
    Worked: bolt_group_shear(400.0, 60.0, x_bolts=[0.04, 0.04, -0.04, -0.04], y_bolts=[0.03, -0.03, 0.03, -0.03]) = 384.7
    Source: [bolt_group]
    """
    x, y = arr(x_bolts), arr(y_bolts)
    x = x - x.mean(axis=-1, keepdims=True)
    y = y - y.mean(axis=-1, keepdims=True)
    polar = np.sum(x**2 + y**2, axis=-1, keepdims=True)
    turn = arr(moment)[..., np.newaxis] / polar
    along_x = -turn * y
    along_y = arr(force)[..., np.newaxis] / x.shape[-1] + turn * x
    worst: F = np.hypot(along_x, along_y).max(axis=-1)
    return worst


# ---- welds and stresses ---------------------------------------------------------------------------------------------


def weld_load(stress_allowed: ArrayLike, *, weld_leg: ArrayLike, length_weld: ArrayLike) -> F:
    """The load a fillet weld carries at an allowed throat stress.

    force = stress_allowed * weld_leg * length_weld / sqrt(2)

    length_weld is all runs together.
    Worked: weld_load(80.0e6, weld_leg=0.012, length_weld=0.12) = 81459
    Source: [fillet_weld]
    """
    return arr(stress_allowed) * _THROAT * arr(weld_leg) * arr(length_weld)


def weld_load_angled(
    stress_electrode: ArrayLike,
    *,
    weld_leg: ArrayLike,
    length_weld: ArrayLike,
    angle_load: ArrayLike,
    strength_factor: ArrayLike = 0.75,
) -> F:
    """Design strength of a fillet weld loaded at an angle to its run.

    force = strength_factor * 0.6 * stress_electrode * (1 + 0.5 * sin(angle_load)^1.5) * weld_leg * length_weld / sqrt(2)

    angle_load from 0 (along the run) to pi/2 (across it). The plate beside the weld must be checked as well.
    Worked: weld_load_angled(482.6e6, weld_leg=0.006, length_weld=0.1, angle_load=0.0) = 92137
    Source: [fillet_weld_angled]
    """
    rise = 1.0 + 0.5 * np.abs(np.sin(arr(angle_load))) ** 1.5
    throat = weld_load(stress_electrode, weld_leg=weld_leg, length_weld=length_weld)
    return arr(strength_factor) * 0.6 * rise * throat


def shear_max(stress_normal: ArrayLike, *, stress_shear: ArrayLike) -> F:
    """Largest shear stress where a pull and a shear act together.

    stress = sqrt(stress_shear^2 + (stress_normal / 2)^2)

    Plane stress with one normal stress. Keep it below half the yield stress, with a margin.
    Worked: shear_max(60.5e6, stress_shear=15.0e6) = 3.3765e7
    Source: [combined_stress]
    """
    return np.hypot(arr(stress_shear), 0.5 * arr(stress_normal))


# ---- shafts and bearings --------------------------------------------------------------------------------------------


def shaft_shear_stress(torque: ArrayLike, *, d_shaft: ArrayLike) -> F:
    """Shear stress at the skin of a round shaft.

    stress = 16 * torque / (pi * d_shaft^3)

    Plain shaft; a keyway or a flat takes a quarter to a half off what it holds.
    Worked: shaft_shear_stress(20.0, d_shaft=0.012) = 5.895e7
    Source: [shaft]
    """
    return 16.0 * arr(torque) / (np.pi * arr(d_shaft) ** 3)


def shaft_bending_stress(moment: ArrayLike, *, d_shaft: ArrayLike) -> F:
    """Bending stress at the skin of a round shaft.

    stress = 32 * moment / (pi * d_shaft^3)

    Plain shaft. It turns over on every turn, so fatigue sets the limit.
    Worked: shaft_bending_stress(20.0, d_shaft=0.015) = 6.036e7
    Source: [shaft]
    """
    return 32.0 * arr(moment) / (np.pi * arr(d_shaft) ** 3)


def bearing_near(force: ArrayLike, *, length_overhang: ArrayLike, length_between: ArrayLike) -> F:
    """Load on the near bearing from a pulley that hangs out beyond it.

    near = force * (1 + length_overhang / length_between)

    Two bearings, stiff shaft.
    Worked: bearing_near(300.0, length_overhang=0.04, length_between=0.10) = 420
    Source: [statics]
    """
    return arr(force) * (1.0 + arr(length_overhang) / arr(length_between))


def bearing_far(force: ArrayLike, *, length_overhang: ArrayLike, length_between: ArrayLike) -> F:
    """Load on the far bearing from a pulley that hangs out beyond the near one; it pulls the other way.

    far = force * length_overhang / length_between

    Two bearings, stiff shaft.
    Worked: bearing_far(300.0, length_overhang=0.04, length_between=0.10) = 120
    Source: [statics]
    """
    return arr(force) * arr(length_overhang) / arr(length_between)


def bearing_life(load_bearing: ArrayLike, *, load_dynamic: ArrayLike, life_exponent: ArrayLike = 3.0) -> F:
    """Turns that nine of ten bearings outlast.

    turns = 1e6 * (load_dynamic / load_bearing)^life_exponent

    3 for balls, 10/3 for rollers. Clean, greased, steady load; an old bearing with play has used its own up already.
    Worked: bearing_life(420.0, load_dynamic=5000.0) = 1.687e9
    Source: [iso281]
    """
    return 1.0e6 * (arr(load_dynamic) / arr(load_bearing)) ** arr(life_exponent)


# ---- plate, reaction, base ------------------------------------------------------------------------------------------


def strip_stress(force: ArrayLike, *, length_span: ArrayLike, width: ArrayLike, thickness: ArrayLike) -> F:
    """Bending stress of a flat strip on two supports with a force in the middle.

    stress = (force * length_span / 4) / (width * thickness^2 / 6)

    Below yield, sag small against span. Built-in ends halve it.
    Worked: strip_stress(500.0, length_span=0.2, width=0.1, thickness=0.006) = 4.167e7
    Source: [beam]
    """
    return 0.25 * arr(force) * arr(length_span) / (arr(width) * arr(thickness) ** 2 / 6.0)


def strip_sag(
    force: ArrayLike, *, length_span: ArrayLike, width: ArrayLike, thickness: ArrayLike, modulus: ArrayLike
) -> F:
    """Sag of a flat strip on two supports with a force in the middle.

    sag = force * length_span^3 / (48 * modulus * width * thickness^3 / 12)

    Below yield, sag small against span.
    Worked: strip_sag(500.0, length_span=0.2, width=0.1, thickness=0.006, modulus=200.0e9) = 2.315e-4
    Source: [beam]
    """
    second_moment = arr(width) * arr(thickness) ** 3 / 12.0
    return arr(force) * arr(length_span) ** 3 / (48.0 * arr(modulus) * second_moment)


def base_width(
    mass: ArrayLike, *, force_side: ArrayLike, height_force: ArrayLike, gravity: ArrayLike = GRAVITY
) -> F:
    """The least width of the base that stays down under a sideways push.

    width = 2 * force_side * height_force / (mass * gravity)

    mass is rider and rig, centred over the base, on level ground. A soft floor or a lean needs more.
    Worked: base_width(90.0, force_side=250.0, height_force=1.0) = 0.5665
    Source: [statics]
    """
    return 2.0 * arr(force_side) * arr(height_force) / (arr(mass) * arr(gravity))


# ---- guards ---------------------------------------------------------------------------------------------------------


def guard_distance(
    opening: ArrayLike, *, slot_widths: ArrayLike = SLOT_WIDTHS, slot_distances: ArrayLike = SLOT_DISTANCES
) -> F:
    """How far a slot in a guard must be from what moves behind it.

    The distance beside the first slot width that is at or above the opening; nan for a wider opening (an arm goes in).

    For slots and people of fourteen and over. Where children are about, close the guard all round.
    Worked: guard_distance(0.010) = 0.080
    Source: [iso13857]
    """
    width = arr(opening)
    at = np.searchsorted(arr(slot_widths), width * (1.0 - 1e-12), side="left")
    padded = np.append(arr(slot_distances), np.nan)
    return out(padded[np.minimum(at, padded.size - 1)])


def nip_time(length_reach: ArrayLike, *, v_belt: ArrayLike) -> F:
    """How long a belt takes to draw a hand in.

    duration = length_reach / v_belt

    Nobody lets go within a tenth of a second.
    Worked: nip_time(0.3, v_belt=6.0) = 0.050
    Source: [statics]
    """
    return arr(length_reach) / arr(v_belt)
