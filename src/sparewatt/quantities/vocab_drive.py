"""Names used by the chapters on gearing, rollers, belts and wire."""

from __future__ import annotations

from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES"]

_GEARING: Final[dict[str, Q]] = {
    "centre_distance": Q("m", "distance between two shafts"),
    "d_driven": Q("m", "diameter of the driven face"),
    "d_driver": Q("m", "diameter of the driving face"),
    "d_pin": Q("m", "diameter on which a chain link turns"),
    "mu_pin": Q("1", "friction of a chain link on its pin"),
    "pull": Q("N", "tight side less slack side of a belt or chain"),
    "pull_drag": Q("N", "pull a chain needs to run at no load"),
    "pull_slack": Q("N", "tension of a chain's slack side"),
    "ratio": Q("1", "turns of the machine for each turn of the crank"),
    "teeth": Q("1", "how many teeth"),
    "teeth_driven": Q("1", "how many teeth the driven wheel has"),
    "teeth_driver": Q("1", "how many teeth the driving wheel has"),
    "tooth_pitch": Q("m", "distance from tooth to tooth of a chain or toothed belt"),
}

_ROLLER: Final[dict[str, Q]] = {
    "bead_diameter": Q("m", "diameter of the rim where the tyre's bead sits"),
    "d_roller": Q("m", "diameter of the roller"),
    "d_tyre": Q("m", "outer diameter of the tyre, or of the wheel pressed on"),
    "friction": Q("1", "grip coefficient between two faces"),
    "margin_wanted": Q("1", "how many times the bare need is wanted"),
    "p_pass": Q("W", "power that a step passes on, positive towards the machine"),
    "press_force": Q("N", "force that presses two faces together"),
    "rolling": Q("1", "drag of a tyre on a flat road over the force on it"),
    "section": Q("m", "width of a tyre as printed, also taken for its height"),
    "tyre": Q("1", "the size printed on a tyre, as text"),
}

_BELTS: Final[dict[str, Q]] = {
    "belt_length": Q("m", "length of a belt along its pitch line"),
    "d_large": Q("m", "pitch diameter of the larger pulley"),
    "d_small": Q("m", "pitch diameter of the smaller pulley"),
    "f_centrifugal": Q("N", "tension that only holds a belt on its curve"),
    "f_pretension": Q("N", "tension a belt is fitted with, each side"),
    "f_slack": Q("N", "tension of the slack side"),
    "f_tight": Q("N", "tension of the tight side"),
    "grip_ratio": Q("1", "tight over slack tension at the moment of slipping"),
    "line_offset": Q("m", "how far the pitch line lies outside the effective diameter"),
    "mass_per_length": Q("kg/m", "mass of each metre of a belt"),
    "p_rib": Q("W", "power one rib, or one of several belts, may pass on"),
    "span": Q("m", "length of a belt between two pulleys"),
    "v_belt": Q("m/s", "speed of a belt"),
    "wedge_angle": Q("rad", "whole angle of a groove, pi for a flat face"),
    "wrap": Q("rad", "angle over which a belt lies on a pulley"),
}

_WIRE: Final[dict[str, Q]] = {
    "alpha_copper": Q(
        "1/K", "how much the resistance of copper grows for each kelvin, at the reference temperature"
    ),
    "area": Q("m^2", "copper area of one conductor"),
    "d_gauge36": Q("m", "diameter of gauge 36, from which all American gauges are counted"),
    "factor_air": Q("1", "share of the ampacity left in warm air"),
    "factor_bundle": Q("1", "share of the ampacity left in a bundle"),
    "gauge": Q("1", "American wire gauge as a number; 1/0 is 0, 2/0 is -1, 4/0 is -3"),
    "i_base": Q("A", "ampacity before any correction"),
    "i_wire": Q("A", "current a conductor carries, or may carry"),
    "length": Q("m", "length of a run, one way"),
    "n_carrying": Q("1", "how many conductors that carry current lie together"),
    "r_per_length": Q("ohm/m", "resistance of each metre of one conductor"),
    "resistivity": Q("ohm*m", "resistance of a cube of one metre, at the reference temperature"),
    "t_base": Q("K", "temperature of the air for which a table is made"),
    "t_ref": Q("K", "temperature at which a constant is stated"),
    "t_wire": Q("K", "temperature of a conductor"),
    "t_zero": Q("K", "temperature at which a straight line of resistance would reach zero"),
    "v_lost": Q("V", "volts lost in a run, there and back"),
    "wire_class": Q("1", "a word: class of strands in the cable standard"),
}

NAMES: Final[dict[str, Q]] = {**_GEARING, **_ROLLER, **_BELTS, **_WIRE}
