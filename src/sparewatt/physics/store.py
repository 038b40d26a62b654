"""What stores the ride for later: volts against charge, what it accepts, what it gives back, cold, age, capacitors.

Charge is in coulomb (1 Ah is 3600 C), the state of charge a share of the 20-hour capacity. Batteries are made of cells
in series; tables are for one cell. Use the maker's own figures wherever there are any.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "CHEMISTRIES", "COULOMBIC_USUAL", "ENERGY_USUAL", "FREEZE_GRAVITY", "FREEZE_POINT", "GRAVITY_CHARGE",
    "GRAVITY_VALUE", "SHARE_COLD", "TEMPERATURE_COLD", "Chemistry", "Rise", "SetPoints", "Wells", "acceptance_current",
    "acceptance_knee", "aged_capacity", "battery_voltage", "capacitor_time", "cells_in_series", "charge_after",
    "charge_current_limit", "charge_rise", "charge_time", "charge_to_cutoff", "cold_share", "cold_tail_time",
    "coulombic_efficiency",
    "energy_efficiency", "freezing_point", "open_circuit_voltage", "peukert_time", "polarisation",
    "rest_voltage_from_gravity", "run_time", "self_discharge", "set_points", "specific_gravity", "state_of_charge",
    "temperature_compensated", "two_well_capacity", "two_well_current", "two_well_run_time", "two_well_step",
    "typical_resistance",
]  # fmt: skip

HOUR: Final = 3600.0
T_REF: Final = 298.15

# Usual efficiencies of lead-acid over a full cycle, charge and energy (within ten points).
COULOMBIC_USUAL: Final = 0.85
ENERGY_USUAL: Final = 0.70

# Specific gravity at 25 degC against state of charge, cells filled with 1.265 acid: middles of the published ranges.
GRAVITY_CHARGE: Final = (0.0, 0.25, 0.5, 0.75, 1.0)
GRAVITY_VALUE: Final = (1.120, 1.160, 1.190, 1.225, 1.265)

# Specific gravity and freezing point of the acid (32, 19, 5, -16, -62, -90 degF).
FREEZE_GRAVITY: Final = (1.000, 1.100, 1.150, 1.200, 1.250, 1.280)
FREEZE_POINT: Final = (273.150, 265.928, 258.150, 246.483, 220.928, 205.372)

# Capacity of lead-acid at discharges over an hour, over that at 25 degC. Below 0 degC from memory.
TEMPERATURE_COLD: Final = (253.15, 273.15, 278.15, 283.15, 288.15, 293.15, 298.15, 303.15, 308.15, 313.15)
SHARE_COLD: Final = (0.60, 0.84, 0.88, 0.90, 0.94, 0.99, 1.00, 1.03, 1.04, 1.05)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chemistry:
    """Usual figures of one kind of battery, for one cell at 25 degC.

    soc, volts: rested open-circuit curve. absorb, hold: charging volts and volts for standing full (nan: do not hold).
    equalise: nan where it must not be done. cutoff: where to stop under load. per_kelvin: change of the charging volts.
    ocv_per_kelvin: change of the rested volts. charge_rate: charging amps over capacity, 1/s. tail_time: s.
    wells: share in the free well, exchange rate 1/s, all charge over the 20-hour capacity. peukert: exponent.
    resistance: over the usual resistance of lead-acid. rise, sag: size of the volts' rise on charge and sag on load, V.
    tiring: growth of sag and resistance on load from full to empty, as a share.
    month: share of charge lost in a month at 20 degC. cold_limit: do not charge below, K.
    """

    soc: tuple[float, ...]
    volts: tuple[float, ...]
    absorb: float
    hold: float
    equalise: float
    cutoff: float
    per_kelvin: float
    ocv_per_kelvin: float
    charge_rate: float
    tail_time: float
    wells: tuple[float, float, float]
    peukert: float
    resistance: float
    rise: float
    sag: float
    tiring: float
    month: float
    cold_limit: float


_LEAD = (0.0, 0.25, 0.5, 0.75, 1.0)
_LITHIUM = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)
NAN: Final = math.nan

CHEMISTRIES: Final = {
    "flooded": Chemistry(
        soc=_LEAD, volts=(1.967, 2.010, 2.040, 2.075, 2.108), absorb=2.45, hold=2.25, equalise=2.58, cutoff=1.80,
        per_kelvin=-0.004, ocv_per_kelvin=2e-4, charge_rate=0.2 / HOUR, tail_time=1.0 * HOUR,
        wells=(0.558, 0.2856 / HOUR, 1.138), peukert=1.17, resistance=1.0, rise=0.035, sag=0.010, tiring=1.2, month=0.05,
        cold_limit=253.15,
    ),
    "agm": Chemistry(
        soc=_LEAD, volts=(1.967, 2.017, 2.058, 2.100, 2.142), absorb=2.40, hold=2.27, equalise=NAN, cutoff=1.80,
        per_kelvin=-0.004, ocv_per_kelvin=2e-4, charge_rate=0.25 / HOUR, tail_time=0.8 * HOUR,
        wells=(0.687, 1.312 / HOUR, 1.017), peukert=1.10, resistance=1.0, rise=0.035, sag=0.010, tiring=1.2, month=0.03,
        cold_limit=253.15,
    ),
    "gel": Chemistry(
        soc=_LEAD, volts=(1.967, 2.000, 2.058, 2.108, 2.142), absorb=2.35, hold=2.25, equalise=NAN, cutoff=1.80,
        per_kelvin=-0.004, ocv_per_kelvin=2e-4, charge_rate=0.2 / HOUR, tail_time=1.2 * HOUR,
        wells=(0.60, 0.6 / HOUR, 1.06), peukert=1.15, resistance=1.3, rise=0.035, sag=0.012, tiring=1.2, month=0.03,
        cold_limit=253.15,
    ),
    "lifepo4": Chemistry(
        soc=_LITHIUM, volts=(2.80, 3.18, 3.235, 3.265, 3.285, 3.290, 3.295, 3.315, 3.325, 3.330, 3.390), absorb=3.60,
        hold=NAN, equalise=NAN, cutoff=2.80, per_kelvin=0.0, ocv_per_kelvin=0.0, charge_rate=0.5 / HOUR,
        tail_time=0.15 * HOUR, wells=(0.95, 4.0 / HOUR, 1.002), peukert=1.03, resistance=1.0, rise=0.012, sag=0.012,
        tiring=0.3, month=0.025, cold_limit=273.15,
    ),
    "lithium_other": Chemistry(
        soc=_LITHIUM, volts=(3.00, 3.42, 3.52, 3.58, 3.62, 3.68, 3.77, 3.86, 3.95, 4.05, 4.18), absorb=4.15, hold=NAN,
        equalise=NAN, cutoff=3.00, per_kelvin=0.0, ocv_per_kelvin=0.0, charge_rate=0.5 / HOUR, tail_time=0.3 * HOUR,
        wells=(0.95, 4.0 / HOUR, 1.002), peukert=1.04, resistance=1.3, rise=0.012, sag=0.012, tiring=0.3, month=0.03,
        cold_limit=273.15,
    ),
}  # fmt: skip


class SetPoints(NamedTuple):
    """Volts of the whole battery at its temperature: charging, standing full (nan: must not), equalising (nan: must
    not), and where to stop under load."""

    absorb: F
    hold: F
    equalise: F
    cutoff: F


class Rise(NamedTuple):
    """Rise of the terminal volts over rested volts while charging, beyond the plain resistance, and its slope (ohm)."""

    rise: F
    slope: F


class Wells(NamedTuple):
    """Charge at hand and charge still bound, C."""

    free: F
    bound: F


def _line(x: F, xs: ArrayLike, ys: ArrayLike) -> F:
    """Straight lines between points, the end lines running on."""
    x_, y_ = arr(xs), arr(ys)
    k = np.clip(np.searchsorted(x_, x, side="right") - 1, 0, x_.size - 2)
    slope = (y_[k + 1] - y_[k]) / (x_[k + 1] - x_[k])
    return np.asarray(y_[k] + slope * (x - x_[k]))


# ---- volts ----------------------------------------------------------------------------------------------------------


def cells_in_series(v_name: ArrayLike, *, chemistry: str) -> F:
    """Cells in a battery of that name.

    lead: v_name/2. lifepo4: 4 for each 12 V of name, or v_name/3.2. lithium_other: 3 for 12 V, 7 for 24 V, or v_name/3.65

    Lithium counts are whole numbers. Look at the label: a "48 V" lithium battery may have 15 or 16 cells.
    Worked: cells_in_series(12.0, chemistry="agm") = 6
    Source: [lfp_basics]
    """
    v = arr(v_name)
    if chemistry == "lifepo4":
        plain = np.isclose(np.mod(v, 12.0), 0.0)
        return out(np.where(plain, v / 3.0, np.round(v / 3.2)))
    if chemistry == "lithium_other":
        return out(np.round(v / 3.65))
    return out(v / 2.0)


def open_circuit_voltage(
    soc: ArrayLike,
    *,
    v_name: ArrayLike,
    chemistry: str,
    temperature: ArrayLike = T_REF,
    t_ref: ArrayLike = T_REF,
) -> F:
    """Volts of a battery that has rested for some hours.

    v = n_cells*(curve(soc) + ocv_per_kelvin*(temperature - t_ref)), straight lines between the points of the curve

    soc beyond 0 to 1 follows the end lines. A reading within an hour of charging is too high. The curve of lithium is
    so flat in the middle that volts tell little of its charge.
    Worked: open_circuit_voltage(0.5, v_name=12.0, chemistry="flooded") = 12.24
    Source: [rest_volts] [rest_volts_agm] [rest_volts_lithium]
    """
    kind = CHEMISTRIES[chemistry]
    cell = _line(arr(soc), kind.soc, kind.volts) + kind.ocv_per_kelvin * (arr(temperature) - arr(t_ref))
    return out(cells_in_series(v_name, chemistry=chemistry) * cell)


def state_of_charge(
    v_open: ArrayLike,
    *,
    v_name: ArrayLike,
    chemistry: str,
    temperature: ArrayLike = T_REF,
    t_ref: ArrayLike = T_REF,
) -> F:
    """State of charge from rested volts: the inverse of `open_circuit_voltage`.

    May come out a little beyond 0 or 1. Within 10 to 15 points for lead-acid after four hours of rest.
    Worked: state_of_charge(12.24, v_name=12.0, chemistry="flooded") = 0.5
    Source: [rest_volts] [rest_volts_agm] [rest_volts_lithium]
    """
    kind = CHEMISTRIES[chemistry]
    cell = arr(v_open) / cells_in_series(v_name, chemistry=chemistry)
    return out(_line(cell - kind.ocv_per_kelvin * (arr(temperature) - arr(t_ref)), kind.volts, kind.soc))


def polarisation(i_store: ArrayLike, *, v_tafel: ArrayLike, i_tafel: ArrayLike, n_cells: ArrayLike) -> F:
    """Volts by which the cells' own chemistry answers a current, beyond plain resistance.

    v = n_cells*v_tafel*asinh(i_store/i_tafel)

    In proportion for small currents, with the logarithm for large ones. Odd in the current.
    Worked: polarisation(3.6, v_tafel=0.035, i_tafel=0.36, n_cells=6.0) = 0.6297
    Source: [tafel]
    """
    return out(arr(n_cells) * arr(v_tafel) * np.arcsinh(arr(i_store) / arr(i_tafel)))


def charge_rise(i_store: ArrayLike, *, capacity: ArrayLike, chemistry: str, v_name: ArrayLike) -> Rise:
    """Rise of the volts over rested volts while it charges (plain resistance comes on top), and the rise's slope.

    rise = n_cells*rise_cell*asinh(i/i0), slope = n_cells*rise_cell/sqrt(i^2 + i0^2), i0 = capacity in 100 hours

    For the middle of the charge; above the knee the volts run up to the charger's setting (see `acceptance_current`).
    Worked: charge_rise(3.6, capacity=129600.0, chemistry="flooded", v_name=12.0).rise = 0.63
    Source: [tafel]
    """
    kind = CHEMISTRIES[chemistry]
    i, i0 = arr(i_store), arr(capacity) / (100.0 * HOUR)
    n = cells_in_series(v_name, chemistry=chemistry)
    rise = polarisation(i, v_tafel=kind.rise, i_tafel=i0, n_cells=n)
    return Rise(rise, out(n * kind.rise / np.sqrt(i * i + i0 * i0)))


def battery_voltage(
    soc: ArrayLike, *, i_store: ArrayLike, r_store: ArrayLike, capacity: ArrayLike, v_name: ArrayLike, chemistry: str,
    temperature: ArrayLike = T_REF,
) -> F:  # fmt: skip
    """Terminal volts while a current flows (positive charges, negative discharges).

    v = open_circuit_voltage + g*(r_store*i_store + n_cells*c*asinh(i_store/i0)), c the rise on charge or the sag on load
    g = 1 on charge, 1 + tiring*(1 - soc) on load

    Settled volts some minutes after a change. i0 = capacity in 100 hours. tiring stands for acid running short inside
    the plates.
    Worked: battery_voltage(0.5, i_store=-7.2, r_store=0.01, capacity=129600.0, v_name=12.0, chemistry="agm") = 11.877
    Source: [tafel] [rest_volts_agm]
    """
    kind = CHEMISTRIES[chemistry]
    i = arr(i_store)
    n = cells_in_series(v_name, chemistry=chemistry)
    v_tafel = np.where(i >= 0.0, kind.rise, kind.sag)
    answer = polarisation(i, v_tafel=v_tafel, i_tafel=arr(capacity) / (100.0 * HOUR), n_cells=n)
    tired = np.where(i < 0.0, 1.0 + kind.tiring * (1.0 - arr(soc)), 1.0)
    rested = open_circuit_voltage(soc, v_name=v_name, chemistry=chemistry, temperature=temperature)
    return out(rested + tired * (arr(r_store) * i + answer))


def typical_resistance(
    *, capacity: ArrayLike, v_name: ArrayLike, chemistry: str, r_ref: ArrayLike = 0.030, capacity_ref: ArrayLike = 25200.0,
    v_ref: ArrayLike = 12.0,
) -> F:  # fmt: skip
    """Usual internal resistance of a healthy battery, posts to posts.

    r = r_ref*(v_name/v_ref)*(capacity_ref/capacity)^0.67 times a figure of the chemistry

    Runs through 30, 16 and 5 mohm for 12 V lead-acid of 7, 18 and 100 Ah. Half to double is normal; twice is worn.
    Worked: typical_resistance(capacity=64800.0, v_name=12.0, chemistry="agm") = 0.01594
    Source: [battery_resistance]
    """
    size = (arr(capacity_ref) / arr(capacity)) ** 0.67
    return out(CHEMISTRIES[chemistry].resistance * arr(r_ref) * arr(v_name) / arr(v_ref) * size)


# ---- charging: volts and amps ---------------------------------------------------------------------------------------


def temperature_compensated(
    v_charge: ArrayLike, *, temperature: ArrayLike, v_per_kelvin: ArrayLike, n_cells: ArrayLike = 1.0,
    t_ref: ArrayLike = T_REF,
) -> F:  # fmt: skip
    """Charging volts at some battery temperature.

    v = v_charge + n_cells*v_per_kelvin*(temperature - t_ref)

    Lead-acid -3 to -5 mV a cell and kelvin; lithium none. Makers usually stop at 0 and 50 degC.
    Worked: temperature_compensated(2.30, temperature=308.15, v_per_kelvin=-0.003) = 2.27
    Source: [charge_temperature]
    """
    return out(arr(v_charge) + arr(n_cells) * arr(v_per_kelvin) * (arr(temperature) - arr(t_ref)))


def set_points(
    *, chemistry: str, v_name: ArrayLike, temperature: ArrayLike = T_REF, t_ref: ArrayLike = T_REF
) -> SetPoints:
    """Where to set the volts for a battery, and where to stop taking from it.

    n_cells times the chemistry's volts; charging volts moved by its mV per kelvin

    Usual values: the label or the maker's sheet goes first. nan in hold or equalise means it must not be done.
    Worked: set_points(chemistry="agm", v_name=12.0).absorb = 14.4
    Source: [charge_volts] [lfp_basics]
    """
    kind = CHEMISTRIES[chemistry]
    n = cells_in_series(v_name, chemistry=chemistry)

    def moved(volts: float) -> F:
        return temperature_compensated(
            n * volts, temperature=temperature, v_per_kelvin=kind.per_kelvin, n_cells=n, t_ref=t_ref
        )

    flat = 0.0 * arr(temperature)
    return SetPoints(moved(kind.absorb), moved(kind.hold), moved(kind.equalise), out(n * kind.cutoff + flat))


def charge_current_limit(*, capacity: ArrayLike, chemistry: str, charge_rate: ArrayLike | None = None) -> F:
    """Most charging amps for a battery of that size.

    i = charge_rate*capacity; usual: flooded and gel C/5, agm C/4, lithium C/2

    The figure on the case goes first. charge_rate in 1/s.
    Worked: charge_current_limit(capacity=25200.0, chemistry="agm") = 1.75
    Source: [charge_amps]
    """
    rate = CHEMISTRIES[chemistry].charge_rate if charge_rate is None else charge_rate
    return out(arr(rate) * arr(capacity))


def acceptance_current(soc: ArrayLike, *, capacity: ArrayLike, tail_time: ArrayLike) -> F:
    """Most amps a battery takes at its charging volts.

    i = (1 - soc)*capacity/tail_time

    So the current falls exponentially with time constant tail_time (0.7 to 1.5 h for lead-acid) once the volts are up.
    Worked: acceptance_current(0.8, capacity=129600.0, tail_time=3600.0) = 7.2
    Source: [acceptance]
    """
    return out((1.0 - arr(soc)) * arr(capacity) / arr(tail_time))


def cold_tail_time(
    temperature: ArrayLike,
    *,
    tail_time: ArrayLike,
    chemistry: str,
    t_doubling: ArrayLike = 20.0,
    t_ref: ArrayLike = T_REF,
) -> F:
    """Time constant of the last of a charge at a temperature; infinite where charging does harm.

    tail_time*2^((t_ref - T)/t_doubling); for lithium tail_time alone, and infinite below its cold limit

    So lead-acid takes less than half at freezing of what it takes at 25 degC; lithium takes nothing in frost.
    Worked: cold_tail_time(278.15, tail_time=3600.0, chemistry="agm") = 7200
    Source: [cold_acceptance]
    """
    kind, t = CHEMISTRIES[chemistry], arr(temperature)
    lead = not chemistry.startswith("li")
    slower = (
        2.0 ** ((arr(t_ref) - t) / arr(t_doubling)) if lead else np.where(t < kind.cold_limit, np.inf, 1.0)
    )
    return out(arr(tail_time) * slower)


def acceptance_knee(i_charge: ArrayLike, *, capacity: ArrayLike, tail_time: ArrayLike) -> F:
    """State of charge at which a charge turns from steady amps to steady volts.

    soc = 1 - i_charge*tail_time/capacity

    0.8 for C/5 and one hour. Beyond this mark stronger legs fill nothing faster. Below 0: volts limit from the start.
    Worked: acceptance_knee(7.2, capacity=129600.0, tail_time=3600.0) = 0.8
    Source: [acceptance]
    """
    return out(1.0 - arr(i_charge) * arr(tail_time) / arr(capacity))


def charge_time(
    soc: ArrayLike, *, soc_end: ArrayLike, capacity: ArrayLike, i_charge: ArrayLike, tail_time: ArrayLike,
    eta_bulk: ArrayLike = 0.95, eta_tail: ArrayLike = 0.80,
) -> F:  # fmt: skip
    """Time to charge, first at steady amps, then at steady volts with the current dying away.

    (knee - soc)*capacity/(eta_bulk*i_charge) + tail_time*ln((1 - knee)/(1 - soc_end))/eta_tail

    The knee from `acceptance_knee`, kept between soc and soc_end. eta: charge stored over charge put in (the rest makes
    gas and heat). Completely full takes for ever: ask for 0.98 or so.
    Worked: charge_time(0.5, soc_end=0.98, capacity=129600.0, i_charge=7.2, tail_time=3600.0) = 16046
    Source: [acceptance]
    """
    start, end, q = arr(soc), arr(soc_end), arr(capacity)
    knee = acceptance_knee(i_charge, capacity=capacity, tail_time=tail_time)
    turn = np.minimum(np.maximum(knee, start), np.maximum(end, start))
    with np.errstate(divide="ignore", invalid="ignore"):
        bulk = (turn - start) * q / (arr(eta_bulk) * arr(i_charge))
        tail = arr(tail_time) * np.log((1.0 - turn) / (1.0 - np.maximum(end, turn))) / arr(eta_tail)
    return out(bulk + np.where(end > turn, tail, 0.0))


def charge_after(
    duration: ArrayLike, *, soc: ArrayLike, capacity: ArrayLike, i_charge: ArrayLike, tail_time: ArrayLike,
    eta_bulk: ArrayLike = 0.95, eta_tail: ArrayLike = 0.80,
) -> F:  # fmt: skip
    """State of charge after some time on the charger: the inverse of `charge_time`.

    soc + eta_bulk*i_charge*t/capacity up to the knee, then 1 - (1 - knee)*exp(-eta_tail*(t - t_knee)/tail_time)

    Worked: charge_after(16046.0, soc=0.5, capacity=129600.0, i_charge=7.2, tail_time=3600.0) = 0.98
    Source: [acceptance]
    """
    t, start, q = arr(duration), arr(soc), arr(capacity)
    rate = arr(eta_bulk) * arr(i_charge) / q
    turn = np.maximum(acceptance_knee(i_charge, capacity=capacity, tail_time=tail_time), start)
    with np.errstate(divide="ignore", invalid="ignore"):
        t_turn = np.where(turn > start, (turn - start) / rate, 0.0)
    bulk = start + rate * t
    tail = 1.0 - (1.0 - turn) * np.exp(-arr(eta_tail) * np.maximum(t - t_turn, 0.0) / arr(tail_time))
    return out(np.where(t <= t_turn, bulk, tail))


def coulombic_efficiency(
    soc: ArrayLike, *, eta_bulk: ArrayLike = 0.95, eta_full: ArrayLike = 0.5, soc_knee: ArrayLike = 0.8
) -> F:
    """Charge stored over charge put in, falling as a lead-acid battery fills.

    eta_bulk up to soc_knee, then a straight line to eta_full at soc = 1

    Worked: coulombic_efficiency(0.9) = 0.725
    Source: [battery_efficiency]
    """
    knee = arr(soc_knee)
    over = np.maximum(arr(soc) - knee, 0.0) / (1.0 - knee)
    return out(arr(eta_bulk) + (arr(eta_full) - arr(eta_bulk)) * over)


def energy_efficiency(charge_out: ArrayLike, *, charge_in: ArrayLike, v_out: ArrayLike, v_in: ArrayLike) -> F:
    """Watt-hours out over watt-hours in, over one whole cycle.

    eta = charge_out*v_out/(charge_in*v_in), mean volts

    Worked: energy_efficiency(648e3, charge_in=720e3, v_out=2.0, v_in=2.5) = 0.72
    Source: [dhogal]
    """
    return out(arr(charge_out) * arr(v_out) / (arr(charge_in) * arr(v_in)))


# ---- capacity against rate ------------------------------------------------------------------------------------------


def peukert_time(
    i_load: ArrayLike, *, capacity: ArrayLike, peukert: ArrayLike, duration_rated: ArrayLike = 20.0 * HOUR
) -> F:
    """Hours a full battery lasts at steady amps, by Peukert's law.

    t = duration_rated*(capacity/(i_load*duration_rated))^peukert

    Between about a fifth and twenty times the rated current; it promises too much at very small currents.
    Worked: peukert_time(25.0, capacity=360e3, peukert=1.25) = 9630
    Source: [peukert]
    """
    rated = arr(duration_rated)
    with np.errstate(divide="ignore"):
        return out(rated * (arr(capacity) / (arr(i_load) * rated)) ** arr(peukert))


def two_well_capacity(duration: ArrayLike, *, q_max: ArrayLike, c_well: ArrayLike, k_well: ArrayLike) -> F:
    """Charge a full battery gives if it is emptied in some time, by the two-well model.

    q = q_max*k*c*t/(1 - exp(-k t) + c*(k t - 1 + exp(-k t)))

    q_max: all charge, at no rate. From c_well*q_max at once to q_max in infinite time. k_well is the model's combined
    rate.
    Worked: two_well_capacity(3600.0, q_max=360e3, c_well=0.315, k_well=0.43/3600) = 130.1e3
    Source: [kinetic_battery]
    """
    kt, c = arr(k_well) * arr(duration), arr(c_well)
    gone = -np.expm1(-kt)
    with np.errstate(divide="ignore", invalid="ignore"):
        q = arr(q_max) * c * kt / (gone + c * (kt - gone))
    return out(np.where(kt == 0.0, arr(q_max) * c, q))


def two_well_step(
    *, q_free: ArrayLike, q_bound: ArrayLike, i_load: ArrayLike, duration: ArrayLike, c_well: ArrayLike,
    k_well: ArrayLike,
) -> Wells:  # fmt: skip
    """Both wells after some time at steady amps (negative amps charge).

    free' = free*e + (k c q0 - i)*(1 - e)/k - i*c*(k t - 1 + e)/k
    bound' = bound*e + q0*(1 - c)*(1 - e) - i*(1 - c)*(k t - 1 + e)/k,  e = exp(-k t), q0 = free + bound

    Exact, for any length of step. A negative free well means it gave out on the way.
    Worked: two_well_step(q_free=113.4e3, q_bound=246.6e3, i_load=20.0, duration=3600.0, c_well=0.315,
    k_well=0.43/3600).free = 50634
    Source: [kinetic_battery]
    """
    free, bound, i, t = arr(q_free), arr(q_bound), arr(i_load), arr(duration)
    c, k = arr(c_well), arr(k_well)
    total, kt = free + bound, k * t
    gone = -np.expm1(-kt)
    e, lag = 1.0 - gone, kt - gone
    new_free = free * e + (total * k * c - i) * gone / k - i * c * lag / k
    new_bound = bound * e + total * (1.0 - c) * gone - i * (1.0 - c) * lag / k
    return Wells(out(new_free), out(new_bound))


def two_well_current(
    duration: ArrayLike, *, q_free: ArrayLike, q_bound: ArrayLike, c_well: ArrayLike, k_well: ArrayLike
) -> F:
    """Most steady amps the wells can give for some time.

    i = (k*free*e + k*c*q0*(1 - e))/(1 - e + c*(k t - 1 + e)),  e = exp(-k t)

    Worked: two_well_current(3600.0, q_free=113.4e3, q_bound=246.6e3, c_well=0.315, k_well=0.43/3600) = 36.13
    Source: [kinetic_battery]
    """
    k, c, kt = arr(k_well), arr(c_well), arr(k_well) * arr(duration)
    gone = -np.expm1(-kt)
    free = arr(q_free)
    top = k * (free * (1.0 - gone) + c * (free + arr(q_bound)) * gone)
    with np.errstate(divide="ignore"):
        return out(top / (gone + c * (kt - gone)))


def two_well_run_time(
    i_load: ArrayLike, *, q_free: ArrayLike, q_bound: ArrayLike, c_well: ArrayLike, k_well: ArrayLike
) -> F:
    """Time until the free well is empty at steady amps.

    the t at which `two_well_current` equals i_load

    Found by halving between the time all charge would last and the time the free well alone would. Infinite for no load.
    Worked: two_well_run_time(36.13, q_free=113.4e3, q_bound=246.6e3, c_well=0.315, k_well=0.43/3600) = 3600
    Source: [kinetic_battery]
    """
    i, free, bound, c, k = np.broadcast_arrays(
        arr(i_load), arr(q_free), arr(q_bound), arr(c_well), arr(k_well)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = free / i, (free + bound) / i
    busy = np.asarray((i > 0.0) & (free > 0.0))
    low, high = np.where(busy, low, 1.0), np.where(busy, high, 1.0)
    for _ in range(80):
        mid = 0.5 * (low + high)
        lasts = two_well_current(mid, q_free=free, q_bound=bound, c_well=c, k_well=k) >= i
        low, high = np.where(lasts, mid, low), np.where(lasts, high, mid)
    return out(np.where(busy, 0.5 * (low + high), np.where(i > 0.0, 0.0, np.inf)))


# ---- running from it ------------------------------------------------------------------------------------------------


def run_time(
    i_load: ArrayLike, *, capacity: ArrayLike, peukert: ArrayLike, depth: ArrayLike = 1.0, share_cold: ArrayLike = 1.0,
    duration_rated: ArrayLike = 20.0 * HOUR,
) -> F:  # fmt: skip
    """How long a battery runs a load of steady amps.

    t = depth*share_cold*capacity*(i_rated/i_load)^(peukert - 1)/i_load,  i_rated = capacity/duration_rated

    depth: share of the charge that is taken (from `charge_to_cutoff`, or half to make it last for years).
    Worked: run_time(2.0, capacity=64800.0, peukert=1.17, depth=0.5) = 14144
    Source: [peukert]
    """
    whole = peukert_time(i_load, capacity=capacity, peukert=peukert, duration_rated=duration_rated)
    return out(arr(depth) * arr(share_cold) * whole)


def charge_to_cutoff(
    v_cutoff: ArrayLike, *, i_load: ArrayLike, r_store: ArrayLike, capacity: ArrayLike, v_name: ArrayLike,
    chemistry: str, r_path: ArrayLike = 0.0, temperature: ArrayLike = T_REF,
) -> F:  # fmt: skip
    """State of charge at which a device's low-volts cut-off is met under load.

    the soc at which battery_voltage(soc, -i_load) = v_cutoff + r_path*i_load

    r_path: leads up to where the device measures. 0 or below: the battery is empty before it cuts off; above 1: it cuts
    off at once, full battery or not. Exact on the straight pieces of the curve.
    Worked: charge_to_cutoff(10.5, i_load=25.0, r_store=0.016, capacity=64800.0, v_name=12.0, chemistry="agm",
    r_path=0.04) = 0.6755
    Source: [tafel] [rest_volts_agm]
    """
    kind = CHEMISTRIES[chemistry]
    n = cells_in_series(v_name, chemistry=chemistry)
    i, q = arr(i_load), arr(capacity)
    load = arr(r_store) * i + polarisation(i, v_tafel=kind.sag, i_tafel=q / (100.0 * HOUR), n_cells=n)
    warmth = n * kind.ocv_per_kelvin * (arr(temperature) - T_REF)
    wanted = (arr(v_cutoff) + arr(r_path) * i - warmth)[..., np.newaxis]
    points, volts = arr(kind.soc), arr(kind.volts)
    # Loaded volts at each point of the curve, along the last axis; between points they run straight as well.
    curve = n[..., np.newaxis] * volts - load[..., np.newaxis] * (1.0 + kind.tiring * (1.0 - points))
    k = np.clip(np.sum(curve <= wanted, axis=-1, keepdims=True) - 1, 0, points.size - 2)
    shape = np.broadcast_shapes(curve.shape[:-1], k.shape[:-1])
    curve = np.broadcast_to(curve, (*shape, points.size))
    k = np.broadcast_to(k, (*shape, 1))
    low, high = np.take_along_axis(curve, k, -1)[..., 0], np.take_along_axis(curve, k + 1, -1)[..., 0]
    start, stop = points[k[..., 0]], points[k[..., 0] + 1]
    return out(start + (stop - start) * (wanted[..., 0] - low) / (high - low))


# ---- cold, standing, age --------------------------------------------------------------------------------------------


def cold_share(
    temperature: ArrayLike, *, t_points: ArrayLike = TEMPERATURE_COLD, share_points: ArrayLike = SHARE_COLD
) -> F:
    """Capacity of a lead-acid battery over its capacity at 25 degC.

    straight lines through a published table (0 to 40 degC) and 0.60 at -20 degC, the end lines running on

    For discharges of more than an hour. Faster ones lose more.
    Worked: cold_share(273.15) = 0.84
    Source: [cold_capacity]
    """
    return out(_line(arr(temperature), t_points, share_points))


def specific_gravity(
    soc: ArrayLike, *, soc_points: ArrayLike = GRAVITY_CHARGE, sg_points: ArrayLike = GRAVITY_VALUE
) -> F:
    """Density of the acid over that of water, against state of charge.

    straight lines between the middles of the published ranges

    Cells filled with 1.265 acid, 25 degC, after mixing.
    Worked: specific_gravity(0.5) = 1.19
    Source: [gravity]
    """
    return out(_line(arr(soc), soc_points, sg_points))


def rest_voltage_from_gravity(
    gravity_acid: ArrayLike, *, n_cells: ArrayLike, v_gravity: ArrayLike = 1.0, v_offset: ArrayLike = 0.845
) -> F:
    """Rested volts of a lead-acid battery from its acid.

    v = n_cells*(v_gravity*gravity_acid + v_offset)

    A rule of thumb, good to about 0.05 V for 12 V.
    Worked: rest_voltage_from_gravity(1.265, n_cells=6.0) = 12.66
    Source: [gravity_volts]
    """
    return out(arr(n_cells) * (arr(v_gravity) * arr(gravity_acid) + arr(v_offset)))


def freezing_point(
    gravity_acid: ArrayLike, *, sg_points: ArrayLike = FREEZE_GRAVITY, t_points: ArrayLike = FREEZE_POINT
) -> F:
    """Temperature at which the acid of that density freezes and the case splits.

    straight lines between the points of a published table, 1.000 to 1.280

    Worked: freezing_point(1.200) = 246.48
    Source: [acid_freezing]
    """
    return out(_line(arr(gravity_acid), sg_points, t_points))


def self_discharge(
    soc: ArrayLike, *, duration: ArrayLike, leak_rate: ArrayLike, temperature: ArrayLike = 293.15,
    t_ref: ArrayLike = 293.15, t_doubling: ArrayLike = 10.0,
) -> F:  # fmt: skip
    """State of charge after standing.

    soc*exp(-leak_rate*2^((temperature - t_ref)/t_doubling)*duration)

    leak_rate: share of the charge lost in a second at t_ref; 3 to 5 % a month is 1.1e-8 to 1.9e-8 1/s. Old flooded
    batteries lose 5 to 15 % a month.
    Worked: self_discharge(1.0, duration=2.6266e6, leak_rate=1.9e-8) = 0.9513
    Source: [self_discharge]
    """
    rate = arr(leak_rate) * np.exp2((arr(temperature) - arr(t_ref)) / arr(t_doubling))
    return out(arr(soc) * np.exp(-rate * arr(duration)))


def aged_capacity(
    capacity: ArrayLike, *, n_cycles: ArrayLike, n_life: ArrayLike, share_end: ArrayLike = 0.8
) -> F:
    """What is left of the capacity after some cycles.

    capacity*(1 - (1 - share_end)*n_cycles/n_life)

    n_life: cycles to share_end at that depth of discharge, from the maker. Straight down; a battery kept half full
    goes much faster. Falls to 0 in the end and stays there.
    Worked: aged_capacity(129600.0, n_cycles=200.0, n_life=400.0) = 116640
    Source: [battery_age]
    """
    share = 1.0 - (1.0 - arr(share_end)) * arr(n_cycles) / arr(n_life)
    return out(arr(capacity) * np.where(share > 0.0, share, 0.0))


# ---- capacitors -----------------------------------------------------------------------------------------------------


def capacitor_time(capacitance: ArrayLike, *, v_high: ArrayLike, v_low: ArrayLike, p_load: ArrayLike) -> F:
    """How long a capacitor feeds a constant-power load between two volts.

    t = capacitance*(v_high^2 - v_low^2)/(2*p_load)

    Its own resistance left out.
    Worked: capacitor_time(58.0, v_high=16.0, v_low=8.0, p_load=20.0) = 278.4
    Source: [capacitor]
    """
    return out(0.5 * arr(capacitance) * (arr(v_high) ** 2 - arr(v_low) ** 2) / arr(p_load))
