"""Names used by the chapters on the rider and on the body that rides or rests."""

from __future__ import annotations

from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES"]

_LINE: Final[dict[str, Q]] = {
    "eta_drive": Q("1", "share of the power at the crank that reaches the place in question"),
    "p_best": Q("W", "most power of a rider's line, the legs' edge at that effort"),
    "p_crank": Q("W", "power taken at the crank, mean over a turn, positive out of the rider"),
    "p_load": Q("W", "power a load takes, positive into the load"),
    "p_rider": Q("W", "power of the rider at the crank, mean over a turn"),
    "peak_power": Q("W", "most power a rider gives for a few seconds"),
    "torque_mean": Q("N*m", "crank torque, mean over a turn"),
    "torque_start": Q("N*m", "mean crank torque a rider's line has at standstill"),
    "w_crank": Q("rad/s", "crank speed, positive when pedalled forward"),
    "w_sprint": Q("rad/s", "cadence at which a sprint has nothing left to push with"),
    "w_top": Q("rad/s", "cadence at which a held effort's torque line reaches zero"),
}

_ENDURANCE: Final[dict[str, Q]] = {
    "altitude": Q("m", "height above the sea"),
    "altitude_free": Q("m", "height above the sea up to which nothing is lost"),
    "critical_power": Q("W", "power that can be held for about half an hour without drawing on the reserve"),
    "duration": Q("s", "how long something lasts or takes"),
    "duration_high": Q("s", "longest effort that the two-number law describes"),
    "duration_low": Q("s", "shortest effort that the two-number law describes"),
    "durations": Q("s", "how long each of several efforts was held"),
    "effort_sd": Q("1", "standard deviation of the power of one effort, as a share of it"),
    "loss_per_height": Q("1/m", "share of critical power lost for each metre of height"),
    "n_cycles": Q("1", "how many cycles, counted from 1"),
    "p_bout": Q("W", "power of the rider in the hard part of a pattern"),
    "p_breather": Q("W", "power of the rider in the easy part of a pattern"),
    "p_max": Q("W", "power that cannot be passed even for a moment"),
    "power_below": Q("W", "critical power less the power ridden, positive while the reserve fills"),
    "powers": Q("W", "power held in each of several efforts"),
    "reserve_floor": Q("J", "reserve not to fall below"),
    "reserve_start": Q("J", "reserve at the start, at most the full one"),
    "scale_sd": Q("1", "standard deviation of the power scale all efforts share, as a share"),
    "share_fast": Q("1", "share of the spent reserve that comes back quickly"),
    "t_bout": Q("s", "length of the hard part of a pattern"),
    "t_breather": Q("s", "length of the easy part of a pattern"),
    "tau_fast": Q("s", "time constant of the quick part of the recovery"),
    "tau_floor": Q("s", "time constant of recovery far below critical power"),
    "tau_per_power": Q("1/W", "how fast the time constant shrinks with power below critical power"),
    "tau_slow": Q("s", "time constant of the slow part of the recovery"),
    "tau_span": Q("s", "how much longer recovery takes just below critical power"),
    "time_constant": Q("s", "time in which a difference shrinks to 1/e of itself"),
    "time_sd": Q("1", "standard deviation of the time to the limit, as a share of it"),
    "work_reserve": Q("J", "work a fresh rider can do above critical power"),
}

_BODY: Final[dict[str, Q]] = {
    "activity": Q("1", "heat of a person over that of one sitting quietly"),
    "age": Q("1", "age in years"),
    "area_ref": Q("m^2", "skin area of the reference body"),
    "basal_fixed": Q("W", "part of the basal power that does not go with mass"),
    "basal_per_mass": Q("W/kg", "part of the basal power that goes with mass"),
    "co2_per_energy": Q(
        "1/K", "carbon dioxide for each joule: volume times pressure over energy and temperature"
    ),
    "efficiency": Q("1", "work at the crank over the food energy burnt for it"),
    "energy": Q("J", "an amount of energy, never negative"),
    "fitness": Q("1", "a word for training: unwell, not fit, active, fit, athlete"),
    "height": Q("m", "height of a body"),
    "height_ref": Q("m", "height of the reference body"),
    "latent_heat": Q("J/kg", "heat that evaporates a mass of water from skin"),
    "mass": Q("kg", "mass of a body"),
    "mass_ref": Q("kg", "mass of the reference body"),
    "met": Q("W/m^2", "heat of a person sitting quietly, for each area of skin"),
    "oxygen_per_mass": Q("m^3/(kg*s)", "oxygen a body takes up for its mass, no load on the crank"),
    "oxygen_per_work": Q("m^3/J", "oxygen a body takes up for each joule at the crank"),
    "p_basal": Q("W", "power a body turns over lying awake and fasting"),
    "p_dry": Q("W", "heat a body gives off without sweating"),
    "p_rest": Q("W", "power a body turns over without pushing"),
    "skin_area": Q("m^2", "skin area of a body"),
    "uses": Q("1", "a word: legs or arms"),
}

NAMES: Final[dict[str, Q]] = {**_LINE, **_ENDURANCE, **_BODY}
