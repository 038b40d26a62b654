"""What a touch can do: body impedance, touch current, extra-low-voltage limits, hot surfaces.

The figures are for healthy adults and one path, hand to hand. A child, a wet floor, a wound or a heart condition
are not in them. Nothing here says that a touch does no harm.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "BODY_OHMS", "BODY_VOLTS", "BURN_TEMPS", "CAPACITOR_JOLT", "SELV_AC", "SELV_DC", "SELV_DC_PEAK", "SELV_DC_PEAK_60",
    "SELV_RIPPLE", "TOUCH_AC_DRY", "TOUCH_DC_DRY", "TOUCH_DC_WET", "body_impedance", "burn_stage", "ripple_share",
    "touch_current", "touch_limit", "touch_stage",
]  # fmt: skip


# Top to bottom over rms of a sine.
_SINE_SPAN: Final = 8.0**0.5

# Impedance of the body, hand to hand, dry, large contact: touch volts, then ohm for 5, 50 and 95 % of people.
BODY_VOLTS: Final = (25.0, 50.0, 75.0, 100.0, 125.0, 220.0)
BODY_OHMS: Final = {
    5: (1750.0, 1450.0, 1250.0, 1200.0, 1125.0, 1000.0),
    50: (3250.0, 2625.0, 2200.0, 1875.0, 1625.0, 1350.0),
    95: (6100.0, 4375.0, 3500.0, 3200.0, 2875.0, 2125.0),
}

# Extra-low-voltage limits in volt: alternating rms, ripple-free direct, peaks of 120 V and 60 V systems, ripple share rms.
SELV_AC: Final = 50.0
SELV_DC: Final = 120.0
SELV_DC_PEAK: Final = 140.0
SELV_DC_PEAK_60: Final = 70.0
SELV_RIPPLE: Final = 0.10

# Where bare parts may be touched: dry indoors, and damp or sweating, in volt.
TOUCH_AC_DRY: Final = 25.0
TOUCH_DC_DRY: Final = 60.0
TOUCH_DC_WET: Final = 30.0

# Bare metal, in kelvin, that burns within the seconds in BURN_SECONDS (8 h, 10 min, 1 min, 1 s). From memory.
BURN_TEMPS: Final = (316.15, 321.15, 324.15, 338.15)
CAPACITOR_JOLT: Final = 20.0


def body_impedance(
    v_touch: ArrayLike,
    *,
    body_volts: ArrayLike = BODY_VOLTS,
    body_ohms: ArrayLike = BODY_OHMS[5],
    wet_factor: ArrayLike = 1.0,
) -> F:
    """Impedance of a body, hand to hand, at a touch voltage.

    A straight line between the table's points, times wet_factor. Below the first point (25 V) its value is kept,
    which is lower than the truth, so that the current comes out too high. Above the last point (220 V): nan.

    The default is the 5 % column: 95 % of people have more. The table is for alternating current, dry and a large
    contact; for direct current it is an upper bound of the current. wet_factor 0.5 is a usual guess for a soaked hand.
    Worked: body_impedance(110.0) = 1170
    Source: [iec479_1984]
    """
    v, volts, ohms = arr(v_touch), arr(body_volts), arr(body_ohms)
    inside = np.interp(v, volts, ohms)
    return out(np.where(v <= volts[-1], inside, np.nan) * arr(wet_factor))


def touch_current(
    v_touch: ArrayLike,
    *,
    body_volts: ArrayLike = BODY_VOLTS,
    body_ohms: ArrayLike = BODY_OHMS[5],
    wet_factor: ArrayLike = 1.0,
) -> F:
    """The current through a person who bridges v_touch from hand to hand.

    i_touch = v_touch / body_impedance(v_touch)

    Same range and same table as body_impedance. It counts the whole voltage across the body: no shoes, no floor.
    Worked: touch_current(110.0) = 0.0940
    Source: [iec479_1984]
    """
    v = arr(v_touch)
    return v / body_impedance(v, body_volts=body_volts, body_ohms=body_ohms, wet_factor=wet_factor)


def touch_limit(
    is_wet: ArrayLike, *, v_limit_dry: ArrayLike = TOUCH_DC_DRY, v_limit_wet: ArrayLike = TOUCH_DC_WET
) -> F:
    """The direct volts above which no bare part may be in reach.

    v_limit_wet where is_wet is not 0, else v_limit_dry.

    Ripple-free direct current (ripple at or below 10 % rms). Sweat counts as wet.
    Worked: touch_limit(1.0) = 30.0
    Source: [elv_touch] [elv_wet]
    """
    return out(np.where(arr(is_wet) != 0.0, arr(v_limit_wet), arr(v_limit_dry)))


def touch_stage(
    v_touch: ArrayLike,
    *,
    v_limit_wet: ArrayLike = TOUCH_DC_WET,
    v_limit_dry: ArrayLike = TOUCH_DC_DRY,
    v_limit_elv: ArrayLike = SELV_DC,
) -> F:
    """How far a direct voltage stands above the limits: 0 none passed, 1 wet, 2 dry, 3 extra-low voltage itself.

    Counts the limits that v_touch is above (a voltage exactly at a limit has not passed it).

    For ripple-free direct current.
    Worked: touch_stage(110.0) = 2
    Source: [elv_touch] [elv_wet] [selv]
    """
    v = arr(v_touch)
    passed = [
        np.asarray(v > arr(limit), dtype=np.float64) for limit in (v_limit_wet, v_limit_dry, v_limit_elv)
    ]
    return out(passed[0] + passed[1] + passed[2])


def ripple_share(v_ripple: ArrayLike, v_bus: ArrayLike) -> F:
    """Rms ripple as a share of the mean, for a sine-shaped ripple given top to bottom.

    share = v_ripple / (2 * sqrt(2) * v_bus)

    Direct current counts as ripple-free at or below 0.10.
    Worked: ripple_share(14.0, 100.0) = 0.0495
    Source: [selv]
    """
    return arr(v_ripple) / (_SINE_SPAN * arr(v_bus))


def burn_stage(t_surface: ArrayLike, *, burn_temps: ArrayLike = BURN_TEMPS) -> F:
    """How hot a bare metal surface is to the skin: how many of the burn steps it has reached.

    0 below the 8 h step, then 8 h, 10 min, 1 min, and 4 where it burns within a second.

    Bare metal only; wood and plastic may be hotter before they burn. The steps are from memory.
    Worked: burn_stage(330.0) = 3
    Source: [iso13732]
    """
    t = arr(t_surface)
    return out(np.sum(t[..., np.newaxis] >= arr(burn_temps), axis=-1))
