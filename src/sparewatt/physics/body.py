"""A body that rides or rests: breath, heat, sweat and food.

Gas volumes are at 0 degC and standard pressure unless a function says otherwise.
"""

from __future__ import annotations

from typing import Final

from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out
from sparewatt.physics.gas import ENERGY_PER_OXYGEN

__all__ = [
    "BASAL", "EFFICIENCY", "MET", "RESTING_WATTS", "acsm_arm_oxygen", "acsm_leg_oxygen", "basal_power", "body_area",
    "co2_above_rest", "co2_resting", "food_energy", "heat_given_off", "heat_of_activity", "metabolic_power",
    "sweat_rate",
]  # fmt: skip

# What a body turns over while sitting on the machine without pushing (W). Common practice, no source.
RESTING_WATTS: Final = 90.0

# Work at the crank over food energy, low and high: all of the food, and only the food above rest.
EFFICIENCY: Final = {"gross": (0.18, 0.25), "delta": (0.22, 0.28)}

MET: Final = 58.2  # W/m^2, a seated person at rest

# Basal power by sex and least age: W per kg of body mass, and W.
_MJ_DAY = 1e6 / 86400
BASAL: Final = {
    ("male", 18): (0.063 * _MJ_DAY, 2.896 * _MJ_DAY),
    ("male", 30): (0.048 * _MJ_DAY, 3.653 * _MJ_DAY),
    ("male", 60): (0.049 * _MJ_DAY, 2.459 * _MJ_DAY),
    ("female", 18): (0.062 * _MJ_DAY, 2.036 * _MJ_DAY),
    ("female", 30): (0.034 * _MJ_DAY, 3.538 * _MJ_DAY),
    ("female", 60): (0.038 * _MJ_DAY, 2.755 * _MJ_DAY),
}


# ---- breath, heat, food ---------------------------------------------------------------------------------------------


def metabolic_power(
    p_rider: ArrayLike, *, efficiency: ArrayLike = 0.23, p_rest: ArrayLike = RESTING_WATTS
) -> F:
    """All the power a body turns over while riding.

    p_metabolic = p_rest + p_rider / efficiency

    efficiency counts only what is burnt above rest (0.22 to 0.28 with legs). With p_rest = 0 it is the gross form.
    Worked: metabolic_power(75.0) = 416.1
    Source: [rider_heat] [moseley_2001]
    """
    return out(arr(p_rest) + arr(p_rider) / arr(efficiency))


def heat_given_off(p_rider: ArrayLike, *, p_metabolic: ArrayLike) -> F:
    """Heat a rider gives to the room.

    p_heat = p_metabolic - p_rider

    The work itself turns to heat too, wherever the electricity is used.
    Worked: heat_given_off(100.0, p_metabolic=505.05) = 405.0
    Source: [rider_heat]
    """
    return out(arr(p_metabolic) - arr(p_rider))


def sweat_rate(p_heat: ArrayLike, *, p_dry: ArrayLike, latent_heat: ArrayLike = 2.43e6) -> F:
    """Water a body must evaporate to stay in balance: what has to be drunk.

    rate = (p_heat - p_dry) / latent_heat

    p_dry is what leaves through skin and clothes without sweat (about 100 W at rest in a cool room, none at 35 degC).
    More drips off where the air is moist. Negative: the body cools.
    Worked: sweat_rate(343.0, p_dry=100.0) = 1.00e-4
    Source: [sweat_heat]
    """
    return out((arr(p_heat) - arr(p_dry)) / arr(latent_heat))


def food_energy(energy: ArrayLike, *, efficiency: ArrayLike = 0.23) -> F:
    """Food burnt above rest for some work at the crank.

    food = energy / efficiency

    Worked: food_energy(3.6e5, efficiency=0.24) = 1.5e6
    Source: [moseley_2001]
    """
    return out(arr(energy) / arr(efficiency))


def co2_above_rest(
    energy: ArrayLike, *, efficiency: ArrayLike = 0.23, breath_quotient: ArrayLike = 0.9,
    energy_per_oxygen: ArrayLike = ENERGY_PER_OXYGEN,
) -> F:  # fmt: skip
    """Carbon dioxide breathed out above rest for some work at the crank, as a volume at 0 degC and standard pressure.

    volume = breath_quotient * energy / (efficiency * energy_per_oxygen)

    Worked: co2_above_rest(3.6e5, efficiency=0.24) = 0.0646
    Source: [moseley_2001] [oxygen_energy]
    """
    return out(arr(breath_quotient) * food_energy(energy, efficiency=efficiency) / arr(energy_per_oxygen))


def acsm_leg_oxygen(
    p_rider: ArrayLike, *, mass: ArrayLike, oxygen_per_work: ArrayLike = 10.8e-6 / 60,
    oxygen_per_mass: ArrayLike = 7.0e-6 / 60,
) -> F:  # fmt: skip
    """Oxygen a rider takes up with the legs, by the walking-and-cycling equations of the sports physicians.

    oxygen_flow = oxygen_per_work * p_rider + oxygen_per_mass * mass

    10.8 mL a minute for each watt, 7 mL a minute for each kg. Steady effort, 50 to 200 W.
    Worked: acsm_leg_oxygen(100.0, mass=75.0) = 2.675e-5
    Source: [acsm_cycling]
    """
    return out(arr(oxygen_per_work) * arr(p_rider) + arr(oxygen_per_mass) * arr(mass))


def acsm_arm_oxygen(
    p_rider: ArrayLike, *, mass: ArrayLike, oxygen_per_work: ArrayLike = 18.0e-6 / 60,
    oxygen_per_mass: ArrayLike = 3.5e-6 / 60,
) -> F:  # fmt: skip
    """Oxygen a person takes up while cranking with the arms.

    oxygen_flow = oxygen_per_work * p_rider + oxygen_per_mass * mass

    18 mL a minute for each watt, 3.5 mL a minute for each kg. Steady effort, 25 to 125 W.
    Worked: acsm_arm_oxygen(50.0, mass=70.0) = 1.908e-5
    Source: [acsm_arms]
    """
    return out(arr(oxygen_per_work) * arr(p_rider) + arr(oxygen_per_mass) * arr(mass))


# ---- people at rest -------------------------------------------------------------------------------------------------


def body_area(
    mass: ArrayLike, height: ArrayLike, *, area_ref: ArrayLike = 1.8097, mass_ref: ArrayLike = 70.0,
    height_ref: ArrayLike = 1.70,
) -> F:  # fmt: skip
    """Skin area of a body.

    area = area_ref * (mass / mass_ref)^0.425 * (height / height_ref)^0.725

    The formula of Du Bois written about a body of 70 kg and 1.70 m. Adults.
    Worked: body_area(85.0, 1.80) = 2.049
    Source: [dubois_1916]
    """
    weight, tall = arr(mass) / arr(mass_ref), arr(height) / arr(height_ref)
    return out(arr(area_ref) * weight**0.425 * tall**0.725)


def heat_of_activity(activity: ArrayLike, *, skin_area: ArrayLike = 1.8, met: ArrayLike = MET) -> F:
    """Heat of a person by what they do: 1 is sitting quietly, 0.7 asleep, 1.2 standing.

    p_heat = activity * met * skin_area

    Worked: heat_of_activity(1.0) = 104.8
    Source: [ashrae_met]
    """
    return out(arr(activity) * arr(met) * arr(skin_area))


def basal_power(mass: ArrayLike, *, basal_per_mass: ArrayLike, basal_fixed: ArrayLike) -> F:
    """Power a body turns over lying awake and fasting; the two numbers by sex and age are in BASAL.

    p_basal = basal_per_mass * mass + basal_fixed

    Worked: basal_power(85.0, basal_per_mass=0.7292, basal_fixed=33.52) = 95.50
    Source: [schofield]
    """
    return out(arr(basal_per_mass) * arr(mass) + arr(basal_fixed))


def co2_resting(
    p_basal: ArrayLike, *, activity: ArrayLike = 1.0, breath_quotient: ArrayLike = 0.85, t_air: ArrayLike = 273.15,
    pressure: ArrayLike = 101325.0, co2_per_energy: ArrayLike = 1.823e-5,
) -> F:  # fmt: skip
    """Carbon dioxide a person at rest or at light work breathes out, at the temperature and pressure of the air.

    flow = breath_quotient * activity * p_basal * co2_per_energy * t_air / pressure

    Building people, activity 1 to about 4; co2_per_energy is 0.000211 L/s kPa/K for each MJ a day, in SI.
    Worked: co2_resting(95.5) = 3.989e-6
    Source: [persily_2017]
    """
    per_watt = arr(co2_per_energy) * arr(t_air) / arr(pressure)
    return out(arr(breath_quotient) * arr(activity) * arr(p_basal) * per_watt)
