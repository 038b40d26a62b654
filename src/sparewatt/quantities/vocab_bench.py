"""Names used by the chapter on the bench: brakes, falling weights, run-downs, lever arms, films, heat of loads."""

from __future__ import annotations

from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES"]

_BRAKES: Final[dict[str, Q]] = {
    "mass_hung": Q("kg", "weight hung on the pulled end of a brake rope"),
    "mass_scale": Q("kg", "what a kitchen or hanging scale shows"),
    "radius_drum": Q("m", "radius of the wheel that a brake rope lies on"),
    "radius_rope": Q("m", "half the thickness of a brake rope"),
    "w_drum": Q("rad/s", "speed of the wheel that a brake rope lies on"),
}

_FALLS: Final[dict[str, Q]] = {
    "height_drop": Q("m", "height a weight falls from rest"),
    "radius_string": Q("m", "from the middle of the shaft to the middle of the string"),
}

_RUN_DOWN: Final[dict[str, Q]] = {}

_READINGS: Final[dict[str, Q]] = {
    "i_points": Q("A", "amps of several readings, along the last axis"),
    "t_read": Q("s", "times of several readings, rising, along the last axis"),
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
