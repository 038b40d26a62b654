"""Fuses, diodes, switches on direct current, capacitors, the clamp, and over-volts margins.

Every margin, ladder and threshold is a named parameter with a unit and a default that says where it comes from.
Nothing here decides what is allowed: it gives the number, and the study that asks puts the caution beside it.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "ARC_GROWS", "ARC_LIVES", "FUSE_LEAD_BARE", "FUSE_LEAD_SHEATHED", "FUSE_SIZES", "K2_PVC_COPPER", "SURGE_FACTOR",
    "SWITCH_AMPS", "SWITCH_VOLTS", "adiabatic_area", "arc_stage", "balance_resistance", "bleeder_power",
    "bleeder_resistance", "capacitor_energy", "clamp_volts", "diode_amps_needed", "diode_heat", "diode_volts_needed",
    "discharge_time", "dump_resistance", "fuse_floor", "fuse_size", "heat_path_allowed", "over_volts_needed",
    "prospective_current", "switch_amps_on_dc", "volts_ceiling",
]  # fmt: skip


# Fuse sizes a workshop finds in blade, strip and bolt-down form, in ampere. Common practice, no source.
FUSE_SIZES: Final = (
    1.0, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0, 70.0, 80.0,
    100.0, 125.0, 150.0, 175.0, 200.0, 225.0, 250.0, 300.0, 400.0,
)  # fmt: skip

# How far from the battery post the fuse may sit, in metre: bare lead, and lead in a sheath from the post on.
FUSE_LEAD_BARE: Final = 0.178
FUSE_LEAD_SHEATHED: Final = 1.83

# One limit switch marked 10 A at 250 V alternating current: what the same contact may break on direct current.
SWITCH_VOLTS: Final = (14.0, 30.0, 125.0, 250.0)
SWITCH_AMPS: Final = (10.0, 6.0, 0.5, 0.25)

# Starting current over steady current, for choosing a contact.
SURGE_FACTOR: Final = {"resistive": 1.0, "motor": 6.0, "lamp": 10.0}

# Above both numbers an arc can live (volts, ampere); above the second pair it grows. Common practice, no source.
ARC_LIVES: Final = (12.0, 0.5)
ARC_GROWS: Final = (30.0, 1.0)

# Joule integral a conductor may take, per area squared: (115 A s^0.5/mm2)^2 in A^2*s/m^4.
K2_PVC_COPPER: Final = (115.0e6) ** 2


# ---- fuses and conductors -------------------------------------------------------------------------------------------


def fuse_floor(i_load: ArrayLike, *, fuse_margin: ArrayLike = 1.25) -> F:
    """The smallest fuse that carries a steady current for hours.

    i_fuse >= fuse_margin * i_load

    Holds for loads that last three hours or more, and for fuses at room temperature.
    Worked: fuse_floor(16.0) = 20.0
    Source: [continuous_load_rule]
    """
    return arr(fuse_margin) * arr(i_load)


def fuse_size(
    i_load: ArrayLike, i_wire: ArrayLike, *, fuse_margin: ArrayLike = 1.25, fuse_sizes: ArrayLike = FUSE_SIZES
) -> F:
    """The smallest size on the ladder that carries the load and still guards the wire.

    fuse_margin * i_load <= i_fuse <= i_wire; nan where no size fits between, so that a thicker wire must be chosen.

    i_load and i_wire are never negative. fuse_sizes rises along its only axis.
    Worked: fuse_size(7.0, 15.0) = 10.0
    Source: [continuous_load_rule] [fuse_ladder]
    """
    ladder = arr(fuse_sizes)
    # Rounding must not push an exact 1.25 x 8 A = 10 A up to the next size.
    need = np.asarray(fuse_floor(i_load, fuse_margin=fuse_margin)) * (1.0 - 1e-12)
    at = np.searchsorted(ladder, need, side="left")
    padded = np.append(ladder, np.nan)
    size = padded[np.minimum(at, ladder.size)]
    return out(np.where(size <= arr(i_wire), size, np.nan))


def prospective_current(v_open: ArrayLike, r_path: ArrayLike) -> F:
    """The current a dead short would draw, which the fuse must be able to break.

    i_fault = v_open / r_path

    r_path is the source's own resistance and both leads up to the short. A battery's resistance at
    fault currents is lower than at charging currents, so the true value may be higher.
    Worked: prospective_current(12.6, 0.020) = 630
    Source: [ohm]
    """
    return arr(v_open) / arr(r_path)


def adiabatic_area(i_fault: ArrayLike, t_clear: ArrayLike, *, k2_conductor: ArrayLike = K2_PVC_COPPER) -> F:
    """The conductor area that survives a fault until the fuse clears.

    area = sqrt(i_fault^2 * t_clear / k2_conductor)

    For clearing times up to 5 s (no heat leaves the copper). The default is PVC-covered copper.
    Worked: adiabatic_area(1000.0, 0.1) = 2.75e-6
    Source: [iec60364_adiabatic]
    """
    return np.sqrt(arr(i_fault) ** 2 * arr(t_clear) / arr(k2_conductor))


# ---- diodes ---------------------------------------------------------------------------------------------------------


def diode_amps_needed(i_mean: ArrayLike, *, diode_amps_margin: ArrayLike = 2.0) -> F:
    """The average-current rating to look for.

    i_rated = diode_amps_margin * i_mean

    The factor covers pulsing legs and a warm diode.
    Worked: diode_amps_needed(10.0) = 20.0
    Source: [diode_practice]
    """
    return arr(diode_amps_margin) * arr(i_mean)


def diode_volts_needed(v_reverse: ArrayLike, *, diode_volts_margin: ArrayLike = 2.0) -> F:
    """The reverse-volts rating to look for.

    v_rated = diode_volts_margin * v_reverse

    v_reverse is the most the diode ever holds back: the battery on charge with the machine still.
    Worked: diode_volts_needed(14.8) = 29.6
    Source: [diode_practice]
    """
    return arr(diode_volts_margin) * arr(v_reverse)


def diode_heat(
    i_mean: ArrayLike, *, v_diode: ArrayLike, r_diode: ArrayLike = 0.0, form_factor: ArrayLike = 1.0
) -> F:
    """Heat made in one conducting diode.

    p_heat = v_diode * i_mean + r_diode * (form_factor * i_mean)^2

    form_factor is rms over mean current (1 for smooth current). A bridge has two in the path: double it.
    Worked: diode_heat(10.0, v_diode=0.45, r_diode=0.005) = 5.0
    Source: [diode_loss]
    """
    i = arr(i_mean)
    return arr(v_diode) * i + arr(r_diode) * (arr(form_factor) * i) ** 2


def heat_path_allowed(p_heat: ArrayLike, *, t_limit: ArrayLike, t_air: ArrayLike) -> F:
    """The largest thermal resistance, part to air, that keeps a part at or below its limit.

    r_th <= (t_limit - t_air) / p_heat

    Negative where the air itself is above the limit: no heat sink helps.
    Worked: heat_path_allowed(5.0, t_limit=398.15, t_air=313.15) = 17.0
    Source: [heat_path]
    """
    return (arr(t_limit) - arr(t_air)) / arr(p_heat)


# ---- switches on direct current -------------------------------------------------------------------------------------


def switch_amps_on_dc(
    v_switch: ArrayLike, *, switch_volts: ArrayLike = SWITCH_VOLTS, switch_amps: ArrayLike = SWITCH_AMPS
) -> F:
    """What a mechanical contact may break on direct current, from the points on its data sheet.

    A straight line between the points on log-log paper. Below the first point the current stays level, because
    the warmth of the contact sets it there and not the arc. Above the last point: nan, the sheet says nothing.

    The default points are one switch marked 10 A at 250 V alternating current; another switch has its own.
    Worked: switch_amps_on_dc(110.0) = 0.6247
    Source: [switch_dc_sheet]
    """
    v, volts, amps = arr(v_switch), arr(switch_volts), arr(switch_amps)
    held = np.maximum(v, volts[0])
    line = (
        np.exp(np.interp(np.log(held / volts[0]), np.log(volts / volts[0]), np.log(amps / amps[0]))) * amps[0]
    )
    return out(np.where(v <= volts[-1], line, np.nan))


def arc_stage(
    v_open: ArrayLike,
    i_load: ArrayLike,
    *,
    v_arc_lives: ArrayLike = ARC_LIVES[0],
    i_arc_lives: ArrayLike = ARC_LIVES[1],
    v_arc_grows: ArrayLike = ARC_GROWS[0],
    i_arc_grows: ArrayLike = ARC_GROWS[1],
) -> F:
    """Whether opening this circuit draws an arc that stays: 0 no, 1 it can live, 2 it grows.

    A stage is reached when volts and current are both at or above its pair.

    For small copper or silver contacts in air and a resistive load; an inductive load arcs earlier.
    Worked: arc_stage(110.0, 2.0) = 2
    Source: [dc_arc_practice]
    """
    v, i = arr(v_open), arr(i_load)
    lives = (v >= arr(v_arc_lives)) & (i >= arr(i_arc_lives))
    grows = (v >= arr(v_arc_grows)) & (i >= arr(i_arc_grows))
    return out(np.where(grows, 2.0, np.where(lives, 1.0, 0.0)))


# ---- capacitors -----------------------------------------------------------------------------------------------------


def capacitor_energy(capacitance: ArrayLike, v_bus: ArrayLike) -> F:
    """Energy held in a capacitor.

    energy = capacitance * v_bus^2 / 2

    Holds for constant capacitance.
    Worked: capacitor_energy(470.0e-6, 110.0) = 2.84
    Source: [capacitor_laws]
    """
    return 0.5 * arr(capacitance) * arr(v_bus) ** 2


def bleeder_resistance(
    capacitance: ArrayLike, v_bus: ArrayLike, *, v_rest: ArrayLike, duration: ArrayLike
) -> F:
    """The largest bleeder that brings a capacitor down to v_rest in the time given.

    r_bleed = duration / (capacitance * ln(v_bus / v_rest)); inf where v_bus is at or below v_rest already.

    The usual rule for capacitors up to 600 V is 50 V within 60 s; here 60 V within 5 s of stopping is the practice.
    Worked: bleeder_resistance(4.7e-3, 100.0, v_rest=50.0, duration=60.0) = 18417
    Source: [capacitor_residual] [capacitor_laws]
    """
    fall = np.log(np.maximum(arr(v_bus) / arr(v_rest), 1.0))
    with np.errstate(divide="ignore"):
        return arr(duration) / (arr(capacitance) * fall)


def discharge_time(capacitance: ArrayLike, v_bus: ArrayLike, *, v_rest: ArrayLike, r_bleed: ArrayLike) -> F:
    """How long a capacitor takes through its bleeder down to v_rest.

    duration = r_bleed * capacitance * ln(v_bus / v_rest); 0 where it is there already.

    Holds with every source disconnected and the machine at a standstill. Prove it with a meter all the same.
    Worked: discharge_time(4.7e-3, 110.0, v_rest=60.0, r_bleed=1000.0) = 2.849
    Source: [capacitor_laws]
    """
    return arr(r_bleed) * arr(capacitance) * np.log(np.maximum(arr(v_bus) / arr(v_rest), 1.0))


def bleeder_power(v_bus: ArrayLike, *, r_bleed: ArrayLike) -> F:
    """What the bleeder turns into heat all the time the bus is up.

    p_heat = v_bus^2 / r_bleed

    Choose a part rated at twice this (common practice, no source).
    Worked: bleeder_power(110.0, r_bleed=1000.0) = 12.1
    Source: [ohm]
    """
    return arr(v_bus) ** 2 / arr(r_bleed)


def balance_resistance(
    v_bus: ArrayLike, *, n_series: ArrayLike, v_rated: ArrayLike, i_leak_spread: ArrayLike
) -> F:
    """The largest balancing resistor across each of several capacitors in series.

    r_balance = (n_series * v_rated - v_bus) / ((n_series - 1) * i_leak_spread)

    Zero or less where the string is not rated for the bus. i_leak_spread is the largest difference in leakage.
    Worked: balance_resistance(16.0, n_series=7.0, v_rated=2.7, i_leak_spread=2.0e-3) = 241.7
    Source: [series_capacitors]
    """
    n = arr(n_series)
    return (n * arr(v_rated) - arr(v_bus)) / ((n - 1.0) * arr(i_leak_spread))


# ---- the clamp and over-volts ---------------------------------------------------------------------------------------


def volts_ceiling(w_crank: ArrayLike, *, ratio: ArrayLike, k_emf: ArrayLike) -> F:
    """The open volts at a crank speed: the ceiling when w_crank is the over-speed cadence.

    v_ceiling = k_emf * ratio * w_crank

    Cold machine, no slip, no load. Check it in every gear.
    Worked: volts_ceiling(12.566, ratio=50.0, k_emf=0.075) = 47.12
    Source: [back_emf]
    """
    return arr(k_emf) * arr(ratio) * arr(w_crank)


def over_volts_needed(v_ceiling: ArrayLike, *, volts_margin: ArrayLike = 1.25) -> F:
    """The rating every part on the bus should have.

    v_rated >= volts_margin * v_ceiling

    The margin covers a keener rider, a cold magnet and a slipped gear.
    Worked: over_volts_needed(43.2) = 54.0
    Source: [over_volts_practice]
    """
    return arr(volts_margin) * arr(v_ceiling)


def clamp_volts(v_bus: ArrayLike, *, clamp_margin: ArrayLike = 1.12) -> F:
    """Where to set the clamp: above working volts, below the weakest rating.

    v_clamp = clamp_margin * v_bus

    v_bus is the highest normal working volts. 1.10 to 1.15 is usual (common practice, no source).
    Worked: clamp_volts(28.8) = 32.256
    Source: [over_volts_practice]
    """
    return arr(clamp_margin) * arr(v_bus)


def dump_resistance(v_clamp: ArrayLike, *, p_clamp: ArrayLike) -> F:
    """The largest dump resistor that holds the bus at the clamp volts against a given power.

    r_dump = v_clamp^2 / p_clamp

    A larger resistor lets the volts rise above the clamp.
    Worked: dump_resistance(32.0, p_clamp=400.0) = 2.56
    Source: [ohm]
    """
    return arr(v_clamp) ** 2 / arr(p_clamp)
