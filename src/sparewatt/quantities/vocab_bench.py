"""Names used by the chapter on the bench: brakes, falling weights, run-downs, lever arms, films, heat of loads."""

from __future__ import annotations

from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES"]

_BRAKES: Final[dict[str, Q]] = {
    "length_lever": Q("m", "distance from the middle of the shaft to where a lever presses on a scale"),
    "mass_hung": Q("kg", "weight hung on the pulled end of a brake rope"),
    "mass_scale": Q("kg", "what a kitchen or hanging scale shows"),
    "radius_drum": Q("m", "radius of the wheel that a brake rope lies on"),
    "radius_rope": Q("m", "half the thickness of a brake rope"),
    "w_drum": Q("rad/s", "speed of the wheel that a brake rope lies on"),
}

_FALLS: Final[dict[str, Q]] = {
    "acceleration": Q("m/s^2", "how fast a falling weight gains speed, downward"),
    "acceleration_heavy": Q("m/s^2", "the same with the heavier weight"),
    "acceleration_light": Q("m/s^2", "the same with the lighter weight"),
    "height_drop": Q("m", "height a weight falls from rest"),
    "mass_heavy": Q("kg", "the heavier of two falling weights"),
    "mass_light": Q("kg", "the lighter of two falling weights"),
    "radius_string": Q("m", "from the middle of the shaft to the middle of the string"),
}

_RUN_DOWN: Final[dict[str, Q]] = {
    "damping_rate": Q("1/s", "speed-proportional drag over inertia, against the motion"),
    "decel_bare": Q("rad/s^2", "how fast the bare shaft loses speed, at a speed"),
    "decel_disc": Q("rad/s^2", "how fast it loses speed with a known disc on it, at the same speed"),
    "drag_rate": Q("rad/s^2", "steady drag over inertia, against the motion"),
    "i_idle": Q("A", "current of a machine that runs free as a motor, positive into it"),
    "inertia_disc": Q("kg*m^2", "moment of inertia of a known disc about the shaft"),
    "time_step": Q("s", "time from one reading to the next"),
    "torque_fast": Q("N*m", "drag torque at the higher of two speeds"),
    "torque_slow": Q("N*m", "drag torque at the lower of two speeds"),
    "w_first": Q("rad/s", "speed at the first of three equal steps of time"),
    "w_last": Q("rad/s", "speed at the last of three equal steps of time"),
    "w_middle": Q("rad/s", "speed at the middle of three equal steps of time"),
}

_READINGS: Final[dict[str, Q]] = {
    "charge_given": Q("C", "charge a battery gave from full to its end volts"),
    "eta_first": Q("1", "watts out over watts in as read with the meters one way round"),
    "eta_sd": Q("1", "standard deviation of an efficiency"),
    "eta_swapped": Q("1", "the same with the two meters exchanged"),
    "i_in": Q("A", "amps into a board"),
    "i_points": Q("A", "amps of several readings, along the last axis"),
    "p_talk": Q("W", "power at which a sentence becomes hard to say"),
    "share_talk": Q("1", "that power over critical power"),
    "t_read": Q("s", "times of several readings, rising, along the last axis"),
    "torque_falling": Q("N*m", "torques read while the amps are turned down, one for each of i_points"),
    "torque_rising": Q("N*m", "torques read while the amps are turned up, one for each of i_points"),
    "v_back": Q("V", "volts of a battery some seconds after a load was taken off"),
    "v_before": Q("V", "volts of a battery at rest, before a load is put on"),
    "v_under": Q("V", "volts of a battery some seconds after a load was put on"),
}

_EAR_AND_FILM: Final[dict[str, Q]] = {
    "frame_rate": Q("1/s", "frames a camera takes in a second"),
    "marks": Q("1", "flags, teeth or bars that pass in one turn"),
    "n_passes": Q("1", "how many passes of a mark were timed"),
    "n_wraps": Q("1", "whole turns between two frames that a film does not show, any sign"),
    "timing_sd": Q("s", "standard deviation of one timing"),
    "w_seen": Q("rad/s", "speed a film seems to show, negative when it seems to turn backwards"),
}

_HEAT: Final[dict[str, Q]] = {
    "area_surface": Q("m^2", "area that gives heat to the air"),
    "d_body": Q("m", "diameter of something round and long that lies level in still air"),
    "emissivity": Q("1", "share of black-body radiation that a surface gives"),
    "k_air": Q("W/(m*K)", "heat conductivity of air at the reference temperature"),
    "nu_air": Q("m^2/s", "viscosity of air over its density, at the reference temperature"),
    "prandtl": Q("1", "viscosity of air over its spreading of heat"),
    "sigma_radiation": Q("W/(m^2*K^4)", "constant of black-body radiation"),
}

NAMES: Final[dict[str, Q]] = {**_BRAKES, **_FALLS, **_RUN_DOWN, **_READINGS, **_EAR_AND_FILM, **_HEAT}
