"""Copper wire: gauges and metric sizes, resistance, volts lost, amps it may carry.

Lengths are one way unless a function says otherwise; a circuit has two conductors. Tables that a code sets are for a first
look: the code where you live decides.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "AMPACITY", "AWG_SIZES", "CIRCULAR_MIL", "IEC_CLASS_2", "IEC_CLASS_5", "METRIC_SIZES", "RESISTIVITY",
    "SMALL_LIMIT", "ambient_factor_exact", "bundle_factor", "conductor_resistance", "copper_temperature_factor",
    "derated_ampacity", "drop_share", "gauge_area", "gauge_diameter", "gauge_of_area", "iec_resistance",
    "iec_temperature_factor", "resistance_per_length", "voltage_drop",
]  # fmt: skip

RESISTIVITY: Final = 1.7241e-8  # ohm*m, annealed copper at 20 degC
CIRCULAR_MIL: Final = math.pi / 4 * 2.54e-5**2  # m^2

# Gauges sold, thickest first (0 is 1/0, -1 is 2/0 ...), and metric sizes in m^2.
AWG_SIZES: Final = (-3, -2, -1, 0, 1, 2, 3, 4, 6, 8, 10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30)
METRIC_SIZES: Final = tuple(
    x * 1e-6 for x in (0.35, 0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0)
)

# Largest resistance in ohm/m at 20 degC of plain copper by nominal size in mm2: solid and stranded, and fine-stranded.
IEC_CLASS_2: Final = {
    0.5: 36.0e-3, 0.75: 24.5e-3, 1.0: 18.1e-3, 1.5: 12.1e-3, 2.5: 7.41e-3, 4.0: 4.61e-3, 6.0: 3.08e-3, 10.0: 1.83e-3,
    16.0: 1.15e-3, 25.0: 0.727e-3, 35.0: 0.524e-3, 50.0: 0.387e-3,
}  # fmt: skip
IEC_CLASS_5: Final = {
    0.5: 39.0e-3, 0.75: 26.0e-3, 1.0: 19.5e-3, 1.5: 13.3e-3, 2.5: 7.98e-3, 4.0: 4.95e-3, 6.0: 3.30e-3, 10.0: 1.91e-3,
    16.0: 1.21e-3, 25.0: 0.780e-3, 35.0: 0.554e-3, 50.0: 0.386e-3,
}  # fmt: skip

# Amps by gauge for copper, not more than three conductors, air at 30 degC, by the insulation's temperature column.
AMPACITY: Final = {
    "60 C": {
        14: 15, 12: 20, 10: 30, 8: 40, 6: 55, 4: 70, 3: 85, 2: 95, 1: 110, 0: 125, -1: 145, -2: 165, -3: 195,
    },
    "75 C": {
        14: 20, 12: 25, 10: 35, 8: 50, 6: 65, 4: 85, 3: 100, 2: 115, 1: 130, 0: 150, -1: 175, -2: 200, -3: 230,
    },
}  # fmt: skip
SMALL_LIMIT: Final = {18: 7, 16: 10, 14: 15, 12: 20, 10: 30}

_BUNDLE_STEPS: Final = (3, 6, 9, 20, 30, 40)
_BUNDLE_FACTORS: Final = (1.0, 0.80, 0.70, 0.50, 0.45, 0.40, 0.35)

# ---- geometry -------------------------------------------------------------------------------------------------------


def gauge_diameter(gauge: ArrayLike, *, d_gauge36: ArrayLike = 0.127e-3) -> F:
    """Diameter of bare solid wire of an American gauge.

    d = d_gauge36 * 92^((36 - gauge) / 39)

    1/0 is gauge 0, 2/0 is -1, 4/0 is -3.
    Worked: gauge_diameter(10) = 2.5882e-3
    Source: [astm_b258]
    """
    return out(arr(d_gauge36) * 92.0 ** ((36 - arr(gauge)) / 39))


def gauge_area(gauge: ArrayLike, *, d_gauge36: ArrayLike = 0.127e-3) -> F:
    """Copper area of an American gauge.

    area = pi / 4 * gauge_diameter^2

    Stranded wire of a gauge has the same copper within 2 %.
    Worked: gauge_area(12) = 3.3088e-6
    Source: [astm_b258]
    """
    return out(math.pi / 4 * gauge_diameter(gauge, d_gauge36=d_gauge36) ** 2)


def gauge_of_area(area: ArrayLike, *, d_gauge36: ArrayLike = 0.127e-3) -> F:
    """American gauge of a copper area, not rounded: 15.04 is a hair thinner than 15.

    gauge = 36 - 39 * ln(d / d_gauge36) / ln(92)

    Worked: gauge_of_area(1.6336e-6) = 15.04
    Source: [astm_b258]
    """
    d = np.sqrt(4 * arr(area) / math.pi)
    return out(36 - 39 * np.log(d / arr(d_gauge36)) / math.log(92))


# ---- resistance -----------------------------------------------------------------------------------------------------


def copper_temperature_factor(
    t_wire: ArrayLike, *, alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15
) -> F:
    """Resistance of copper over its resistance at 20 degC.

    factor = 1 + alpha_copper * (t_wire - t_ref)

    From about -50 to 200 degC.
    Worked: copper_temperature_factor(348.15) = 1.2162
    Source: [iec60028]
    """
    return out(1 + arr(alpha_copper) * (arr(t_wire) - arr(t_ref)))


def iec_temperature_factor(t_wire: ArrayLike, *, t_ref: ArrayLike = 293.15, t_zero: ArrayLike = 43.15) -> F:
    """Factor that brings a resistance measured at t_wire to 20 degC, as the cable standard prints it.

    factor = (t_ref - t_zero) / (t_wire - t_zero), in degC 250 / (230 + t)

    5 to 90 degC.
    Worked: iec_temperature_factor(343.15) = 0.833
    Source: [iec60228]
    """
    return out((arr(t_ref) - arr(t_zero)) / (arr(t_wire) - arr(t_zero)))


def resistance_per_length(
    area: ArrayLike, *, t_wire: ArrayLike = 293.15, resistivity: ArrayLike = RESISTIVITY,
    alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15,
) -> F:  # fmt: skip
    """Resistance of each metre of one conductor.

    r = resistivity / area * (1 + alpha_copper * (t_wire - t_ref))

    resistivity at t_ref; pure annealed copper unless given. Copper-clad aluminium has 1.5 times as much.
    Worked: resistance_per_length(5.2612e-6) = 3.277e-3
    Source: [iec60028]
    """
    warm = copper_temperature_factor(t_wire, alpha_copper=alpha_copper, t_ref=t_ref)
    return out(arr(resistivity) / arr(area) * warm)


def conductor_resistance(
    *, length: ArrayLike, area: ArrayLike, t_wire: ArrayLike = 293.15, resistivity: ArrayLike = RESISTIVITY,
    alpha_copper: ArrayLike = 0.00393, t_ref: ArrayLike = 293.15,
) -> F:  # fmt: skip
    """Resistance of one conductor, one way.

    r = resistivity * length / area * (1 + alpha_copper * (t_wire - t_ref))

    Worked: conductor_resistance(length=10.0, area=2.5e-6) = 0.0690
    Source: [iec60028]
    """
    each = resistance_per_length(
        area, t_wire=t_wire, resistivity=resistivity, alpha_copper=alpha_copper, t_ref=t_ref
    )
    return out(arr(length) * each)


def iec_resistance(area: ArrayLike, *, wire_class: str = "5") -> F:
    """Largest resistance of each metre at 20 degC that the cable standard allows for a nominal size.

    wire_class "5": fine-stranded; "2": stranded or solid. NaN for an area that is not a nominal size.
    Worked: iec_resistance(4.0e-6) = 4.95e-3
    Source: [iec60228]
    """
    table = {"5": IEC_CLASS_5, "2": IEC_CLASS_2, "1": IEC_CLASS_2}.get(wire_class)
    if table is None:
        raise BadRequest(
            Problem(
                where="wire_class",
                read=wire_class,
                problem=f"there is no class '{wire_class}' here",
                hint="'5' or '2'",
            )
        )
    sizes, ohms = np.array(list(table)) * 1e-6, np.array(list(table.values()))
    return _looked_up(arr(area), sizes, ohms, 1e-3)


def _looked_up(x: F, keys: F, values: F, within: float) -> F:
    """values where x is one of the keys (to a share `within`, or 1e-9 of zero), NaN elsewhere."""
    near = np.abs(x[..., None] - keys) <= within * np.abs(keys) + 1e-12
    found = np.where(near.any(axis=-1), values[np.argmax(near, axis=-1)], np.nan)
    return out(found)


# ---- volts lost -----------------------------------------------------------------------------------------------------


def voltage_drop(i_wire: ArrayLike, *, length: ArrayLike, r_per_length: ArrayLike) -> F:
    """Volts lost in a run, there and back.

    drop = 2 * length * i_wire * r_per_length

    Worked: voltage_drop(20.0, length=5.0, r_per_length=4.95e-3) = 0.990
    Source: [ohm]
    """
    return out(2 * arr(length) * arr(i_wire) * arr(r_per_length))


def drop_share(v_lost: ArrayLike, *, v_bus: ArrayLike) -> F:
    """Volts lost as a share of the bus volts: 3 % or less is the usual aim.

    Worked: drop_share(0.36, v_bus=12.0) = 0.03
    Source: [drop_practice]
    """
    return out(arr(v_lost) / arr(v_bus))


# ---- amps it may carry ----------------------------------------------------------------------------------------------


def ambient_factor_exact(t_air: ArrayLike, *, t_limit: ArrayLike, t_base: ArrayLike = 303.15) -> F:
    """Share of the ampacity that is left in air of a temperature, by the formula behind the table.

    factor = sqrt((t_limit - t_air) / (t_limit - t_base))

    t_limit is the temperature the insulation may reach; NaN in warmer air than that.
    Worked: ambient_factor_exact(313.15, t_limit=348.15) = 0.8819
    Source: [nec_310]
    """
    with np.errstate(invalid="ignore"):
        return out(np.sqrt((arr(t_limit) - arr(t_air)) / (arr(t_limit) - arr(t_base))))


def bundle_factor(n_carrying: ArrayLike) -> F:
    """Share of the ampacity that is left when several conductors that carry current run together for more than 0.6 m.

    Up to 3: 1; 4 to 6: 0.80; 7 to 9: 0.70; 10 to 20: 0.50; 21 to 30: 0.45; 31 to 40: 0.40; more: 0.35.
    Worked: bundle_factor(6) = 0.80
    Source: [nec_310]
    """
    place = np.searchsorted(np.array(_BUNDLE_STEPS), arr(n_carrying))
    return out(np.array(_BUNDLE_FACTORS)[place])


def derated_ampacity(i_base: ArrayLike, *, factor_air: ArrayLike = 1.0, factor_bundle: ArrayLike = 1.0) -> F:
    """Ampacity after the air and the neighbours are counted.

    i = i_base * factor_air * factor_bundle

    Worked: derated_ampacity(35.0, factor_bundle=0.80) = 28.0
    Source: [nec_310]
    """
    return out(arr(i_base) * arr(factor_air) * arr(factor_bundle))
