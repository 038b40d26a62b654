"""Belts: lengths and wraps, when they slip, how tight they must be, what they pull on the shafts and keep for themselves.

Flat, V, V-ribbed and toothed belts share one geometry. A wedge angle is the whole angle of the groove (pi for a flat
belt). Tensions are per belt, all ribs together; pulls are tight side less slack side.
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "EFFICIENCY_RANGE", "LINE_OFFSET", "RIB_PITCH", "RIB_SMALLEST", "Tensions", "belt_ribs", "centre_from_length",
    "centrifugal_tension", "crossed_length", "open_length", "pretension_needed", "pull_at_slip", "ribbed_ratio",
    "shaft_load", "span_frequency", "teeth_in_mesh", "tension_ratio", "tensions", "tooth_pulley_diameter",
    "wrap_angle", "wrap_angle_crossed", "wrap_angle_large",
]  # fmt: skip

# Rib pitch of V-ribbed belts by profile (m), groove angle, smallest effective diameter and the offset of the pitch line
# from the effective one, where the standard text was seen.
RIB_PITCH: Final = {"PH": 1.60e-3, "PJ": 2.34e-3, "PK": 3.56e-3, "PL": 4.70e-3, "PM": 9.40e-3}
RIB_SMALLEST: Final = {"PK": 45e-3}
LINE_OFFSET: Final = {"PK": 2e-3}

# Share of the power passed on at full load: low, high. Light loads do far worse: the drag does not shrink with them
# [doe_belts].
EFFICIENCY_RANGE: Final = {
    "V, new": (0.95, 0.98), "V, worn": (0.93, 0.93), "V, cogged": (0.97, 0.99), "toothed": (0.98, 0.98),
}  # fmt: skip


class Tensions(NamedTuple):
    """Tension of the tight and of the slack side."""

    tight: F
    slack: F


# ---- geometry -------------------------------------------------------------------------------------------------------


def open_length(*, d_small: ArrayLike, d_large: ArrayLike, centre_distance: ArrayLike) -> F:
    """Length of an open belt, exact.

    L = 2 C cos(b) + pi/2 * (d_small + d_large) + b * (d_large - d_small),  sin(b) = (d_large - d_small) / (2 C)

    Pitch diameters; NaN where one pulley stands inside the other.
    Worked: open_length(d_small=4.0, d_large=6.0, centre_distance=19.0) = 53.7606
    Source: [belt_geometry]
    """
    d1, d2, c = arr(d_small), arr(d_large), arr(centre_distance)
    with np.errstate(invalid="ignore"):
        b = np.arcsin((d2 - d1) / (2 * c))
    return out(2 * c * np.cos(b) + math.pi / 2 * (d1 + d2) + b * (d2 - d1))


def crossed_length(*, d_small: ArrayLike, d_large: ArrayLike, centre_distance: ArrayLike) -> F:
    """Length of a crossed belt, exact.

    L = 2 C cos(b) + (pi/2 + b) * (d_small + d_large),  sin(b) = (d_small + d_large) / (2 C)

    Turns the driven pulley the other way round. Flat belts only; the sides rub where they cross.
    Worked: crossed_length(d_small=0.20, d_large=0.45, centre_distance=1.95) = 4.975
    Source: [belt_geometry]
    """
    d1, d2, c = arr(d_small), arr(d_large), arr(centre_distance)
    with np.errstate(invalid="ignore"):
        b = np.arcsin((d1 + d2) / (2 * c))
    return out(2 * c * np.cos(b) + (math.pi / 2 + b) * (d1 + d2))


def wrap_angle(*, d_small: ArrayLike, d_large: ArrayLike, centre_distance: ArrayLike) -> F:
    """Angle over which an open belt lies on the smaller pulley: where it slips first.

    wrap = pi - 2 asin((d_large - d_small) / (2 C))

    Worked: wrap_angle(d_small=0.25, d_large=0.40, centre_distance=2.0) = 3.0666
    Source: [belt_geometry]
    """
    with np.errstate(invalid="ignore"):
        return out(math.pi - 2 * np.arcsin((arr(d_large) - arr(d_small)) / (2 * arr(centre_distance))))


def wrap_angle_large(*, d_small: ArrayLike, d_large: ArrayLike, centre_distance: ArrayLike) -> F:
    """Angle over which an open belt lies on the larger pulley: a full turn less the wrap of the smaller one.

    Worked: wrap_angle_large(d_small=0.25, d_large=0.40, centre_distance=2.0) = 3.2166
    Source: [belt_geometry]
    """
    small = wrap_angle(d_small=d_small, d_large=d_large, centre_distance=centre_distance)
    return out(2 * math.pi - small)


def wrap_angle_crossed(*, d_small: ArrayLike, d_large: ArrayLike, centre_distance: ArrayLike) -> F:
    """Angle over which a crossed belt lies on either pulley.

    wrap = pi + 2 asin((d_small + d_large) / (2 C))

    Worked: wrap_angle_crossed(d_small=0.20, d_large=0.45, centre_distance=1.95) = 3.4765
    Source: [belt_geometry]
    """
    with np.errstate(invalid="ignore"):
        return out(math.pi + 2 * np.arcsin((arr(d_small) + arr(d_large)) / (2 * arr(centre_distance))))


def centre_from_length(belt_length: ArrayLike, *, d_small: ArrayLike, d_large: ArrayLike) -> F:
    """Shaft distance for an open belt of a given length: the inverse of `open_length`.

    Newton's rule from the usual short form; exact to rounding. NaN for a belt too short to go round both pulleys.
    Worked: centre_from_length(53.7606, d_small=4.0, d_large=6.0) = 19.0000
    Source: [belt_geometry]
    """
    length, d1, d2 = np.broadcast_arrays(arr(belt_length), arr(d_small), arr(d_large))
    half = np.abs(d2 - d1) / 2
    fits = length > math.pi * np.maximum(d1, d2)
    # Start above the root: L is convex in C, so Newton then falls onto it from one side and cannot leave the domain.
    c = np.where(fits, length / 2 + half, 1.0 + half)
    for _ in range(60):
        cos = np.sqrt(np.where(fits, 1 - (half / c) ** 2, 1.0))
        excess = (
            2 * c * cos
            + math.pi / 2 * (d1 + d2)
            + 2 * half * np.arcsin(np.where(fits, half / c, 0.0))
            - length
        )
        c = np.where(fits, np.maximum(c - excess / (2 * np.maximum(cos, 1e-9)), half * (1 + 1e-12)), c)
    return out(np.where(fits, c, np.nan))


# ---- grip -----------------------------------------------------------------------------------------------------------


def tension_ratio(*, wrap: ArrayLike, friction: ArrayLike, wedge_angle: ArrayLike = math.pi) -> F:
    """Tight over slack tension at the moment of slipping, centrifugal tension taken off both.

    ratio = exp(friction * wrap / sin(wedge_angle / 2))

    wedge_angle pi for a flat belt, about 0.66 (38 deg) in a V groove, 0.70 (40 deg) between ribs. A V belt on a flat
    pulley is a flat belt there.
    Worked: tension_ratio(wrap=2.7925, friction=0.25) = 2.010
    Source: [euler_eytelwein]
    """
    return out(np.exp(arr(friction) * arr(wrap) / np.sin(arr(wedge_angle) / 2)))


def centrifugal_tension(mass_per_length: ArrayLike, *, v_belt: ArrayLike) -> F:
    """Tension that only holds the belt on its curve and presses nothing.

    f = mass_per_length * v_belt^2

    Worked: centrifugal_tension(0.35, v_belt=23.09) = 186.6
    Source: [belt_power]
    """
    return out(arr(mass_per_length) * arr(v_belt) ** 2)


def pull_at_slip(f_pretension: ArrayLike, *, grip_ratio: ArrayLike, f_centrifugal: ArrayLike = 0.0) -> F:
    """Most pull a belt passes on when it is fitted with a given tension in each side.

    pull = 2 * (f_pretension - f_centrifugal) * (grip_ratio - 1) / (grip_ratio + 1)

    Fixed shafts, a belt that stretches evenly: what the tight side gains the slack side loses.
    Worked: pull_at_slip(2000.0, grip_ratio=2.1933) = 1494.8
    Source: [belt_power]
    """
    e = arr(grip_ratio)
    return out(2 * (arr(f_pretension) - arr(f_centrifugal)) * (e - 1) / (e + 1))


def pretension_needed(
    pull: ArrayLike, *, grip_ratio: ArrayLike, f_centrifugal: ArrayLike = 0.0, margin_wanted: ArrayLike = 1.0
) -> F:
    """Tension to fit a belt with, each side, so that it passes on a pull: the inverse of `pull_at_slip`.

    f = margin_wanted * pull / 2 * (grip_ratio + 1) / (grip_ratio - 1) + f_centrifugal

    margin_wanted above 1 keeps it from slipping when the friction is less than thought, or the push peaks.
    Worked: pretension_needed(1061.0, grip_ratio=2.4786) = 1248.1
    Source: [belt_power]
    """
    e = arr(grip_ratio)
    return out(arr(margin_wanted) * arr(pull) / 2 * (e + 1) / (e - 1) + arr(f_centrifugal))


def tensions(pull: ArrayLike, *, f_pretension: ArrayLike) -> Tensions:
    """Tension of both sides while a belt passes on a pull, shafts fixed.

    tight = f_pretension + pull / 2,  slack = f_pretension - pull / 2

    A slack side below zero means the belt hangs loose and has slipped.
    Worked: tensions(50.0, f_pretension=120.0).tight = 145.0
    Source: [belt_power]
    """
    half, base = np.broadcast_arrays(arr(pull) / 2, arr(f_pretension))
    return Tensions(tight=out(base + half), slack=out(base - half))


def shaft_load(f_tight: ArrayLike, *, f_slack: ArrayLike, wrap: ArrayLike) -> F:
    """Force of a belt on the shaft of a pulley.

    force = sqrt(f_tight^2 + f_slack^2 - 2 * f_tight * f_slack * cos(wrap))

    At standstill both are the tension it was fitted with. Take the centrifugal tension off both when it counts.
    Worked: shaft_load(1200.0, f_slack=351.9, wrap=3.0666) = 1551
    Source: [statics]
    """
    t1, t2 = arr(f_tight), arr(f_slack)
    return out(np.sqrt(t1**2 + t2**2 - 2 * t1 * t2 * np.cos(arr(wrap))))


def span_frequency(f_pretension: ArrayLike, *, span: ArrayLike, mass_per_length: ArrayLike) -> F:
    """Note that a free span hums when plucked: a way to read its tension with a phone.

    f = sqrt(f_pretension / mass_per_length) / (2 * span)

    A limp span, long beside its width; a stiff or short one hums higher.
    Worked: span_frequency(120.0, span=0.40, mass_per_length=0.06) = 55.9
    Source: [string]
    """
    return out(np.sqrt(arr(f_pretension) / arr(mass_per_length)) / (2 * arr(span)))


# ---- ribs and teeth -------------------------------------------------------------------------------------------------


def ribbed_ratio(d_driver: ArrayLike, d_driven: ArrayLike, *, line_offset: ArrayLike = 0.0) -> F:
    """Driven turns for each driving turn of a V-ribbed belt, from effective diameters (over the ribs of the pulley).

    ratio = (d_driver + 2 * line_offset) / (d_driven + 2 * line_offset)

    The belt turns on a line that lies line_offset outside the effective diameter (LINE_OFFSET), on both pulleys.
    Worked: ribbed_ratio(0.140, 0.045, line_offset=0.002) = 2.939
    Source: [iso9981]
    """
    return out((arr(d_driver) + 2 * arr(line_offset)) / (arr(d_driven) + 2 * arr(line_offset)))


def belt_ribs(p_pass: ArrayLike, *, p_rib: ArrayLike) -> F:
    """Whole ribs (or whole belts) that pass on a power, from what one may pass on at that speed and size.

    n = the next whole number up from p_pass / p_rib

    p_rib from the maker's table; where there is none, a PJ rib on 20 to 40 mm at 1500 turns a minute takes about 50 W
    and a PK rib on 45 to 60 mm about 200 W (common practice, no source).
    Worked: belt_ribs(180.0, p_rib=50.0) = 4
    Source: [rib_practice]
    """
    return out(np.ceil(arr(p_pass) / arr(p_rib)))


def tooth_pulley_diameter(teeth: ArrayLike, *, tooth_pitch: ArrayLike) -> F:
    """Pitch diameter of a toothed-belt pulley; the belt's cord runs here, outside the tips of the teeth.

    d = teeth * tooth_pitch / pi

    Worked: tooth_pulley_diameter(20, tooth_pitch=0.005) = 0.03183
    Source: [belt_geometry]
    """
    return out(arr(teeth) * arr(tooth_pitch) / math.pi)


def teeth_in_mesh(teeth: ArrayLike, *, wrap: ArrayLike) -> F:
    """Teeth of a pulley that are in the belt: below 6 a tooth may shear or jump.

    n = teeth * wrap / (2 pi)

    Not rounded: count whole ones only.
    Worked: teeth_in_mesh(20, wrap=2.6) = 8.28
    Source: [belt_geometry] [tooth_practice]
    """
    return out(arr(teeth) * arr(wrap) / (2 * math.pi))
