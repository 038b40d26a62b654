"""A battery that fills and empties: what it takes, what of that stays in it, what crowding does to its volts, and where its
protection steps in. One law for the steady answers (numbers or arrays) and, compiled, for the moving rig.

The three laws are written with numpy's functions of single numbers alone, so that the very same text serves both.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Battery
from sparewatt.physics import gas, store

__all__ = ["Storing", "crowding", "kept_amps", "most_amps", "storing_of", "volts_limit"]

F = NDArray[np.float64]
DESIGN = 5.0  # what the standard on ventilation multiplies gassing amps by, to be on the safe side [en50272]
GAS_VOLTS = 0.13 / 1.386  # V a cell, for each e-fold of gassing: four times between 2.27 and 2.40 V [en50272]
BULK, TAIL = 0.95, 0.80  # charge kept of charge put in, early and at the end, lead-acid [battery_efficiency]
LITHIUM_KEPT = 0.99
# V a cell at which a lithium pack's protection opens, charging and on load, and the share of charge at whose rested volts
# it closes again (common practice, no source)
OPENS = {"lifepo4": (3.65, 2.50), "lithium_other": (4.25, 2.70)}
CLOSES = (0.97, 0.05)
MOST_RATE = (
    2.0 / 3600.0
)  # of its capacity, 1/s: amps either way beyond which it opens (common practice, no source)


class Storing(NamedTuple):
    """Figures of one battery at its temperature. Volts that are not watched are NaN, amps infinite."""

    tail_time: float  # s
    eta_bulk: float  # charge kept of charge put in
    eta_tail: float
    v_full: float  # V, charging volts at its temperature
    v_gas: float  # V for each e-fold of gassing
    i_gas: F  # A of gas at the charging volts
    v_high: float  # V at which its protection opens, and below which it lets charge in again
    v_high_back: float
    v_low: float
    v_low_back: float
    i_open: F


def storing_of(battery: Battery, capacity: F) -> Storing:
    """The figures of a battery. capacity: what its age leaves, C, a number or one for each draw."""
    assert battery.voltage is not None and battery.charge_voltage is not None
    kind, chemistry = store.CHEMISTRIES[battery.chemistry], battery.chemistry
    cells = float(store.cells_in_series(battery.voltage.value, chemistry=chemistry))
    temperature = battery.temperature.value if battery.temperature is not None else store.T_REF
    lithium = chemistry in OPENS
    full = store.temperature_compensated(
        battery.charge_voltage.value, temperature=temperature, v_per_kelvin=kind.per_kelvin, n_cells=cells
    )
    high = low = high_back = low_back = np.nan
    i_open: Any = np.full_like(np.asarray(capacity, dtype=float), np.inf)
    if lithium and battery.protected is not False:
        high, low = (cells * v for v in OPENS[chemistry])
        high_back, low_back = store.open_circuit_voltage(
            np.asarray(CLOSES), v_name=battery.voltage.value, chemistry=chemistry, temperature=temperature
        )
        allowed = battery.charge_current.value if battery.charge_current is not None else 0.0
        i_open = np.maximum(MOST_RATE * np.asarray(capacity), 1.5 * allowed)
    return Storing(
        tail_time=float(store.cold_tail_time(temperature, tail_time=kind.tail_time, chemistry=chemistry)),
        eta_bulk=LITHIUM_KEPT if lithium else BULK,
        eta_tail=LITHIUM_KEPT if lithium else TAIL,
        v_full=float(full),
        v_gas=cells * GAS_VOLTS,
        i_gas=np.asarray(capacity) * gas.GASSING["flooded"][1] / DESIGN,
        v_high=float(high),
        v_high_back=float(high_back),
        v_low=float(low),
        v_low_back=float(low_back),
        i_open=i_open,
    )


def volts_limit(battery: Battery) -> float:
    """Most volts at the posts that do it no harm: where its protection opens, else the highest of the usual settings."""
    assert battery.voltage is not None and battery.charge_voltage is not None
    temperature = battery.temperature.value if battery.temperature is not None else store.T_REF
    if battery.chemistry in OPENS:
        cells = float(store.cells_in_series(battery.voltage.value, chemistry=battery.chemistry))
        return cells * OPENS[battery.chemistry][0]
    points = store.set_points(
        chemistry=battery.chemistry, v_name=battery.voltage.value, temperature=temperature
    )
    own = storing_of(battery, np.asarray(1.0)).v_full
    return float(np.nanmax([own, points.absorb, points.equalise]))


def most_amps(soc: Any, capacity: Any, tail_time: Any) -> Any:
    """Most amps that go into charge: `store.acceptance_current`, nothing beyond full."""
    return np.maximum(1.0 - soc, 0.0) * capacity / tail_time


def kept_amps(i: Any, most: Any, eta_bulk: Any, eta_tail: Any) -> Any:
    """Amps that raise its charge of i amps into it (below 0: out of it, all of which lower it). The rest makes gas and heat.

    eta*min(i, most), eta eta_bulk up to 0.95 of most and eta_tail from most on
    """
    charging = np.maximum(i, 0.0)
    late = np.minimum(np.maximum(20.0 * charging / np.maximum(most, 1e-9) - 19.0, 0.0), 1.0)
    return (eta_bulk + (eta_tail - eta_bulk) * late) * np.minimum(charging, most) + np.minimum(i, 0.0)


def crowding(i: Any, most: Any, gap: Any, v_gas: Any, i_gas: Any) -> Any:
    """Volts by which a battery near full stands above what rest, rise and resistance make of i amps into it.

    max(gap, 0)*min(i/(most + i_gas), 1)^4 + v_gas*ln(1 + max(i - most - i_gas, 0)/i_gas)

    gap: V from there up to its charging volts. So at these it takes what `most_amps` says and the gassing amps, and what is
    pushed in beyond lifts the volts and makes gas.
    """
    charging = np.maximum(i, 0.0)
    over = np.minimum(charging / (most + i_gas), 1.0)
    return np.maximum(gap, 0.0) * over**4 + v_gas * np.log1p(np.maximum(charging - most - i_gas, 0.0) / i_gas)
