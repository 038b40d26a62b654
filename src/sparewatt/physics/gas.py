"""The air of a room: hydrogen from charging, carbon dioxide and oxygen, warmth and moisture, and noise.

A room is taken as one well-mixed volume. A pocket under the ceiling, or above the cells, can be far worse than the mean.
An estimate never stands in for a meter or an alarm.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "AIR_PER_CHARGE", "CO2_8_HOURS", "CO2_DANGER", "CO2_LEAVE", "CO2_OUTDOOR", "CO2_PLAN", "CO2_REST", "CO2_SHORT",
    "ENERGY_PER_OXYGEN", "GASSING", "HEAT_STOP", "HYDROGEN_EXPLODES", "HYDROGEN_PLAN", "OXYGEN_FLOOR",
    "OXYGEN_OUTDOOR", "PRESSURE_STANDARD", "SHELTER_AIR", "SHELTER_FLOOR", "SHELTER_VOLUME", "THERMAL_VOLTS",
    "T_STANDARD", "WATER_PER_CHARGE", "air_for_co2", "air_for_hydrogen", "air_per_charge_for", "co2_breath",
    "fan_air_power", "gas_per_charge", "gas_share_at", "gas_time_to", "gassing_current", "heat_index_room",
    "hydrogen_flow", "hydrogen_time", "level_at_distance", "level_sum", "noise_time", "oxygen_breath",
    "relative_humidity", "room_flow", "room_temperature_at", "room_temperature_settled", "saturation_pressure",
    "vapour_flow", "vent_area", "water_lost", "wet_bulb",
]  # fmt: skip


# Boltzmann constant over elementary charge, in V/K: the gas constant over the Faraday constant, both exact since 2019.
THERMAL_VOLTS: Final = 8.617333262e-5
PRESSURE_STANDARD: Final = 101325.0
T_STANDARD: Final = 273.15

# Water split per coulomb and cell, in kg/C: 18.015 g/mol over two Faraday constants.
WATER_PER_CHARGE: Final = 18.015e-3 / (2.0 * 96485.33212)

# Hydrogen in air, as a share of volume: where it can explode, and where planning stops. The second is common practice.
HYDROGEN_EXPLODES: Final = 0.04
HYDROGEN_PLAN: Final = 0.01

# Fresh air per coulomb of gassing current and cell, in m3/C: 0.05 m3 for each ampere-hour.
AIR_PER_CHARGE: Final = 0.05 / 3600.0

# Gassing current as a share of capacity, in 1/s: mA per Ah over 3.6 million. (float, boost) by kind of cell.
GASSING: Final = {"flooded": (5.0 / 3.6e6, 20.0 / 3.6e6), "valve-regulated": (1.0 / 3.6e6, 8.0 / 3.6e6)}

# Carbon dioxide as a share of volume. Workplace limits: 8 h, 15 min, immediately dangerous.
CO2_OUTDOOR: Final = 4.0e-4
CO2_8_HOURS: Final = 0.005
CO2_SHORT: Final = 0.03
CO2_DANGER: Final = 0.04
# Shelter habit, from memory: plan below, stop all effort, open up or leave.
CO2_PLAN: Final = 0.01
CO2_LEAVE: Final = 0.02

# Fresh air (m3/s), room (m3) and floor (m2) per sedentary person in a shelter: 5 ft3/min, 65 ft3, 5 ft2.
SHELTER_AIR: Final = 5.0 * 0.3048**3 / 60.0
SHELTER_VOLUME: Final = 65.0 * 0.3048**3
SHELTER_FLOOR: Final = 5.0 * 0.3048**2

# A resting adult's carbon dioxide, in m3/s (0.22 L/min, common figure from memory).
CO2_REST: Final = 0.22e-3 / 60.0
OXYGEN_OUTDOOR: Final = 0.2095
OXYGEN_FLOOR: Final = 0.195
ENERGY_PER_OXYGEN: Final = 20.9e6

# Heat index of wet bulb and globe at which moderate work stops for people not used to heat, in kelvin. From memory.
HEAT_STOP: Final = (301.15, 303.15)


# ---- hydrogen -------------------------------------------------------------------------------------------------------


def gas_per_charge(
    t_air: ArrayLike, *, pressure: ArrayLike = PRESSURE_STANDARD, thermal_volts: ArrayLike = THERMAL_VOLTS
) -> F:
    """Hydrogen made per coulomb of overcharge in each cell.

    volume per charge = thermal_volts * t_air / (2 * pressure)

    Faraday's law and the ideal gas: two electrons a molecule. Every ampere the plates no longer take makes gas.
    Worked: gas_per_charge(298.15) = 1.2678e-7
    Source: [faraday] [ieee484]
    """
    return arr(thermal_volts) * arr(t_air) / (2.0 * arr(pressure))


def hydrogen_flow(i_gas: ArrayLike, *, n_cells: ArrayLike, h2_per_charge: ArrayLike) -> F:
    """Hydrogen given off by a string of cells.

    flow = h2_per_charge * n_cells * i_gas

    i_gas is the part of the charging current that only gasses; late in an unlimited charge it is all of it.
    Worked: hydrogen_flow(20.0, n_cells=6.0, h2_per_charge=1.2678e-7) = 1.521e-5
    Source: [faraday]
    """
    return arr(h2_per_charge) * arr(n_cells) * arr(i_gas)


def gassing_current(capacity: ArrayLike, *, gassing: ArrayLike) -> F:
    """The gassing current to plan ventilation with.

    i_gas = gassing * capacity

    Only for a charger that holds its voltage limit; take `gassing` from GASSING. Without a limit use the whole current.
    Worked: gassing_current(720000.0, gassing=5.5556e-6) = 4.0
    Source: [en50272]
    """
    return arr(gassing) * arr(capacity)


def air_per_charge_for(
    h2_per_charge: ArrayLike, *, share_limit: ArrayLike = HYDROGEN_EXPLODES, air_margin: ArrayLike = 5.0
) -> F:
    """Fresh air per coulomb and cell that keeps hydrogen below a limit with a margin.

    air per charge = air_margin * h2_per_charge * (1 - share_limit) / share_limit

    With hydrogen at 0 C, a 4 % limit and a margin of 5 this is the standard's 0.05 m3 per ampere-hour.
    Worked: air_per_charge_for(1.1667e-7) = 1.400e-5
    Source: [en50272]
    """
    limit = arr(share_limit)
    return arr(air_margin) * arr(h2_per_charge) * (1.0 - limit) / limit


def air_for_hydrogen(
    i_gas: ArrayLike, *, n_cells: ArrayLike, air_per_charge: ArrayLike = AIR_PER_CHARGE
) -> F:
    """Fresh air that a charging battery needs.

    q_air = air_per_charge * n_cells * i_gas

    The mean of the room; the pocket above the cells needs its own way out.
    Worked: air_for_hydrogen(4.0, n_cells=6.0) = 3.333e-4
    Source: [iec62485]
    """
    return arr(air_per_charge) * arr(n_cells) * arr(i_gas)


def vent_area(q_air: ArrayLike, *, vent_speed: ArrayLike = 1.0 / 10.08) -> F:
    """Free area of each of two openings, one low and one high, for natural ventilation.

    area = q_air / vent_speed

    The default is the rule 28 cm2 for each m3/h (air at about 0.1 m/s). Openings on opposite walls, or 2 m apart.
    Worked: vent_area(3.3333e-4) = 3.360e-3
    Source: [iec62485]
    """
    return arr(q_air) / arr(vent_speed)


def hydrogen_time(
    i_gas: ArrayLike,
    *,
    n_cells: ArrayLike,
    volume_room: ArrayLike,
    h2_per_charge: ArrayLike,
    share_limit: ArrayLike = HYDROGEN_PLAN,
) -> F:
    """How long a sealed room takes to reach a hydrogen share.

    duration = share_limit * volume_room / (h2_per_charge * n_cells * i_gas); inf with no gassing.

    Well mixed, no leak, from none. Use gas_time_to with the air flow for a room that leaks.
    Worked: hydrogen_time(5.0, n_cells=6.0, volume_room=20.0, h2_per_charge=1.2678e-7) = 52585
    Source: [faraday]
    """
    with np.errstate(divide="ignore"):
        return (
            arr(share_limit)
            * arr(volume_room)
            / hydrogen_flow(i_gas, n_cells=n_cells, h2_per_charge=h2_per_charge)
        )


def water_lost(
    charge_over: ArrayLike, *, n_cells: ArrayLike, water_per_charge: ArrayLike = WATER_PER_CHARGE
) -> F:
    """Water split into gas by overcharge, over all cells.

    mass = water_per_charge * n_cells * charge_over

    Flooded cells; a valve-regulated cell turns most of it back while its overcharge stays small.
    Worked: water_lost(3600.0, n_cells=1.0) = 3.361e-4
    Source: [faraday]
    """
    return arr(water_per_charge) * arr(n_cells) * arr(charge_over)


# ---- one room, one gas ----------------------------------------------------------------------------------------------


def gas_share_at(
    duration: ArrayLike,
    *,
    share_start: ArrayLike,
    share_out: ArrayLike,
    g_gas: ArrayLike,
    q_air: ArrayLike,
    volume_room: ArrayLike,
) -> F:
    """Share of a gas in a room after a time, with steady sources and steady fresh air.

    d(share)/dt = (g_gas - q_air * (share - share_out)) / volume_room, solved in closed form:
    share = share_start + (g_gas + q_air * (share_out - share_start)) * duration / volume_room * f(x),
    f(x) = (1 - exp(-x)) / x, x = q_air * duration / volume_room, f(0) = 1

    Well mixed; shares small enough not to change the volume. For oxygen g_gas is negative. Chain it for changing rosters.
    Worked: gas_share_at(3600.0, share_start=0.0006, share_out=0.0004, g_gas=2.2e-5, q_air=0.0, volume_room=60.0) = 0.00192
    Source: [room_mass_balance]
    """
    t, start, volume, q = arr(duration), arr(share_start), arr(volume_room), arr(q_air)
    x = q * t / volume
    tiny = np.abs(x) < 1e-9
    factor = np.where(tiny, 1.0 - 0.5 * x, -np.expm1(-x) / np.where(tiny, 1.0, x))
    return out(start + (arr(g_gas) + q * (arr(share_out) - start)) * t / volume * factor)


def gas_time_to(
    share_limit: ArrayLike,
    *,
    share_start: ArrayLike,
    share_out: ArrayLike,
    g_gas: ArrayLike,
    q_air: ArrayLike,
    volume_room: ArrayLike,
) -> F:
    """The air clock: how long until the share of a gas in a room reaches a level from below.

    duration = volume_room * rise / rate * g(y), rise = share_limit - share_start,
    rate = g_gas + q_air * (share_out - share_start), y = q_air * rise / rate, g(y) = -ln(1 - y) / y, g(0) = 1;
    0 where the level is reached already, inf where the room settles below it

    Same room as gas_share_at. For oxygen falling to a floor give all shares and the source with their signs turned.
    Worked: gas_time_to(0.005, share_start=0.0006, share_out=0.0004, g_gas=2.2e-5, q_air=0.0, volume_room=60.0) = 12000
    Source: [room_mass_balance]
    """
    q, start = arr(q_air), arr(share_start)
    rise = arr(share_limit) - start
    rate = arr(g_gas) + q * (arr(share_out) - start)
    climbs = (rise > 0.0) & (rate > 0.0)
    y = q * rise / np.where(climbs, rate, 1.0)
    reaches = climbs & (y < 1.0)
    within = np.where(reaches, y, 0.0)
    tiny = np.abs(within) < 1e-9
    factor = np.where(tiny, 1.0 + 0.5 * within, -np.log1p(-within) / np.where(tiny, 1.0, within))
    finite = arr(volume_room) * rise / np.where(reaches, rate, 1.0) * factor
    return out(np.where(rise <= 0.0, 0.0, np.where(reaches, finite, np.inf)))


def air_for_co2(g_gas: ArrayLike, *, share_limit: ArrayLike, share_out: ArrayLike = CO2_OUTDOOR) -> F:
    """Fresh air that holds a room at a level.

    q_air = g_gas / (share_limit - share_out)

    share_limit above share_out; otherwise no flow is enough and the number is negative or inf.
    Worked: air_for_co2(2.9167e-5, share_limit=0.005) = 6.341e-3
    Source: [room_mass_balance]
    """
    with np.errstate(divide="ignore"):
        return arr(g_gas) / (arr(share_limit) - arr(share_out))


def oxygen_breath(p_metabolic: ArrayLike, *, energy_per_oxygen: ArrayLike = ENERGY_PER_OXYGEN) -> F:
    """Oxygen a person takes up, at 0 C and standard pressure.

    flow = p_metabolic / energy_per_oxygen

    20.9 MJ/m3 holds for mixed food at steady effort.
    Worked: oxygen_breath(416.0) = 1.990e-5
    Source: [energy_per_oxygen]
    """
    return arr(p_metabolic) / arr(energy_per_oxygen)


def co2_breath(
    p_metabolic: ArrayLike,
    *,
    breath_quotient: ArrayLike = 0.9,
    energy_per_oxygen: ArrayLike = ENERGY_PER_OXYGEN,
) -> F:
    """Carbon dioxide a person breathes out, at 0 C and standard pressure.

    flow = breath_quotient * p_metabolic / energy_per_oxygen

    breath_quotient 0.85 to 0.95 for steady effort, above 1 for a sprint.
    Worked: co2_breath(416.0) = 1.791e-5
    Source: [energy_per_oxygen]
    """
    return arr(breath_quotient) * oxygen_breath(p_metabolic, energy_per_oxygen=energy_per_oxygen)


def room_flow(
    q_standard: ArrayLike,
    *,
    t_air: ArrayLike,
    pressure: ArrayLike = PRESSURE_STANDARD,
    t_standard: ArrayLike = T_STANDARD,
    pressure_standard: ArrayLike = PRESSURE_STANDARD,
) -> F:
    """A gas flow stated at 0 C and standard pressure, as it is in a warm room.

    flow = q_standard * (t_air / t_standard) * (pressure_standard / pressure)

    Ideal gas.
    Worked: room_flow(2.41e-5, t_air=298.15) = 2.631e-5
    Source: [ideal_gas]
    """
    return arr(q_standard) * (arr(t_air) / arr(t_standard)) * (arr(pressure_standard) / arr(pressure))


# ---- warmth, fan, noise ---------------------------------------------------------------------------------------------


def room_temperature_settled(
    p_heat: ArrayLike,
    *,
    t_out: ArrayLike,
    q_air: ArrayLike,
    ua_walls: ArrayLike,
    heat_per_air: ArrayLike = 1206.0,
) -> F:
    """Where the air of a room settles with steady heat inside.

    t_air = t_out + p_heat / (heat_per_air * q_air + ua_walls)

    t_out for both fresh air and walls. The walls' uptake is rarely known: give it as a range. Moisture left out.
    Worked: room_temperature_settled(1200.0, t_out=283.15, q_air=0.0417, ua_walls=100.0) = 291.13
    Source: [room_heat_balance]
    """
    return arr(t_out) + arr(p_heat) / (arr(heat_per_air) * arr(q_air) + arr(ua_walls))


def room_temperature_at(
    duration: ArrayLike,
    *,
    t_start: ArrayLike,
    t_settled: ArrayLike,
    heat_capacity: ArrayLike,
    ua_room: ArrayLike,
) -> F:
    """Air temperature of a room on its way to where it settles.

    t_air = t_settled + (t_start - t_settled) * exp(-ua_room * duration / heat_capacity)

    ua_room counts walls and fresh air together; heat_capacity counts air and whatever warms with it.
    Worked: room_temperature_at(3600.0, t_start=288.15, t_settled=298.15, heat_capacity=5.0e5, ua_room=150.0) = 294.75
    Source: [room_heat_balance]
    """
    settled = arr(t_settled)
    return settled + (arr(t_start) - settled) * np.exp(-arr(ua_room) * arr(duration) / arr(heat_capacity))


def vapour_flow(
    water_rate: ArrayLike,
    *,
    t_air: ArrayLike,
    pressure: ArrayLike = PRESSURE_STANDARD,
    r_vapour: ArrayLike = 461.5,
) -> F:
    """Water given off by people, as a flow of vapour for the room's mass balance.

    flow = water_rate * r_vapour * t_air / pressure

    Ideal gas. Put it into gas_share_at as the source; walls that soak it up or shed it are left out.
    Worked: vapour_flow(1.3889e-4, t_air=298.15) = 1.886e-4
    Source: [ideal_gas]
    """
    return arr(water_rate) * arr(r_vapour) * arr(t_air) / arr(pressure)


def saturation_pressure(
    t_air: ArrayLike,
    *,
    p_magnus: ArrayLike = 611.2,
    magnus_factor: ArrayLike = 17.62,
    t_magnus: ArrayLike = 243.12,
    t_ice: ArrayLike = T_STANDARD,
) -> F:
    """Vapour pressure over water at a temperature.

    p = p_magnus * exp(magnus_factor * (t_air - t_ice) / (t_magnus + t_air - t_ice))

    -45 to 60 C, within 0.4 %.
    Worked: saturation_pressure(298.15) = 3160
    Source: [magnus]
    """
    above = arr(t_air) - arr(t_ice)
    return arr(p_magnus) * np.exp(arr(magnus_factor) * above / (arr(t_magnus) + above))


def relative_humidity(
    vapour_share: ArrayLike, *, p_saturated: ArrayLike, pressure: ArrayLike = PRESSURE_STANDARD
) -> F:
    """Relative humidity of air that holds a share of vapour.

    humidity = vapour_share * pressure / p_saturated

    Above 1 the walls run with water; the share in the air then stays at 1.
    Worked: relative_humidity(0.0156, p_saturated=3161.0) = 0.500
    Source: [ideal_gas]
    """
    return arr(vapour_share) * arr(pressure) / arr(p_saturated)


def wet_bulb(
    t_air: ArrayLike,
    *,
    p_vapour: ArrayLike,
    pressure: ArrayLike = PRESSURE_STANDARD,
    psychrometer: ArrayLike = 6.62e-4,
    p_magnus: ArrayLike = 611.2,
    magnus_factor: ArrayLike = 17.62,
    t_magnus: ArrayLike = 243.12,
    t_ice: ArrayLike = T_STANDARD,
) -> F:
    """Temperature a wet cloth in moving air comes to.

    Solves p_vapour = saturation_pressure(t_wet) - psychrometer * pressure * (t_air - t_wet) by halving.

    0 to 60 C, vapour at or below saturation.
    Worked: wet_bulb(298.15, p_vapour=1580.0) = 291.1
    Source: [psychrometer] [magnus]
    """

    def saturated(at: F) -> F:
        return saturation_pressure(
            at, p_magnus=p_magnus, magnus_factor=magnus_factor, t_magnus=t_magnus, t_ice=t_ice
        )

    air, vapour, depth = arr(t_air), arr(p_vapour), arr(psychrometer) * arr(pressure)
    # At the lower end the left side would be below nothing: the answer lies between there and the air itself.
    low, high = air - saturated(air) / depth, air
    for _ in range(60):
        middle = 0.5 * (low + high)
        too_warm = saturated(middle) - depth * (air - middle) > vapour
        low, high = np.where(too_warm, low, middle), np.where(too_warm, middle, high)
    return out(0.5 * (low + high))


def heat_index_room(t_air: ArrayLike, *, t_wet: ArrayLike, wet_weight: ArrayLike = 0.7) -> F:
    """Wet-bulb globe temperature in a room without sun, walls as warm as the air.

    t_index = wet_weight * t_wet + (1 - wet_weight) * t_air

    Hold it against HEAT_STOP. Hot walls or a lamp need a real globe reading.
    Worked: heat_index_room(303.15, t_wet=298.15) = 299.65
    Source: [iso7243]
    """
    weight = arr(wet_weight)
    return weight * arr(t_wet) + (1.0 - weight) * arr(t_air)


def fan_air_power(q_air: ArrayLike, *, pressure_rise: ArrayLike) -> F:
    """Power in the air that a fan moves.

    p_air = q_air * pressure_rise

    The fan's motor takes three to five times as much in small sizes.
    Worked: fan_air_power(0.041667, pressure_rise=250.0) = 10.417
    Source: [energy_balance]
    """
    return arr(q_air) * arr(pressure_rise)


def level_sum(sound_levels: ArrayLike) -> F:
    """Level of several sounds together, along the last axis.

    level = 10 * log10(sum(10^(sound_levels / 10)))

    For sounds that do not keep step with each other.
    Worked: level_sum([80.0, 80.0]) = 83.01
    Source: [decibel]
    """
    together: F = np.sum(10.0 ** (arr(sound_levels) / 10.0), axis=-1)
    return 10.0 * np.log10(together)


def level_at_distance(sound_level: ArrayLike, *, distance_known: ArrayLike, distance: ArrayLike) -> F:
    """Level of a small source at another distance.

    level = sound_level + 20 * log10(distance_known / distance)

    Free field only: in a room the level hardly falls past a metre or two.
    Worked: level_at_distance(90.0, distance_known=8.0, distance=1.0) = 108.06
    Source: [decibel]
    """
    return arr(sound_level) + 20.0 * np.log10(arr(distance_known) / arr(distance))


def noise_time(
    sound_level: ArrayLike,
    *,
    level_day: ArrayLike = 85.0,
    level_exchange: ArrayLike = 3.0,
    duration_day: ArrayLike = 28800.0,
) -> F:
    """How long a level may last before a day's allowance of noise is used up.

    duration = duration_day / 2^((sound_level - level_day) / level_exchange)

    Workplace recommendation for adults, nothing else loud that day. Some ears are hurt sooner.
    Worked: noise_time(88.0) = 14400
    Source: [niosh_noise]
    """
    return arr(duration_day) / 2.0 ** ((arr(sound_level) - arr(level_day)) / arr(level_exchange))
