"""Names used by the chapter on the seconds between steady states."""

from __future__ import annotations

from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES"]

_TRANSIENTS: Final[dict[str, Q]] = {
    "c_out": Q("F", "capacitance that a board must fill at its output"),
    "damping": Q("1", "damping of a swing: 1 just does not swing, negative grows"),
    "frequency_high": Q("1/s", "pulses of light in a second above which they hardly trouble anybody"),
    "frequency_low": Q("1/s", "pulses of light in a second below which they seldom trouble anybody"),
    "fuse_kind": Q("1", "how a fuse is made: blade, glass_quick, glass_slow or bolted"),
    "i_samples": Q("A", "amps sampled at equal steps of time, along the last axis"),
    "i_start": Q("A", "current at the start, same direction as the volts that drive it"),
    "light_high": Q("1", "most light in a cycle, in any unit"),
    "light_low": Q("1", "least light in a cycle, in the same unit as the most"),
    "overload": Q("1", "current over the amps printed on a fuse"),
    "reaction_time": Q("s", "how late the legs answer to a change of feel"),
    "soft_start": Q("s", "time in which a board's output rises from nothing to its setting"),
    "v_samples": Q("V", "volts sampled at equal steps of time, along the last axis"),
    "v_start": Q("V", "volts of a capacitor at the start"),
    "v_wake": Q("V", "input volts above which a sleeping board wakes"),
}

NAMES: Final[dict[str, Q]] = {**_TRANSIENTS}
