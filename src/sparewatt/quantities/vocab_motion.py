"""Names used by the chapter on the seconds between steady states."""

from __future__ import annotations

from typing import Final

from sparewatt.quantities.q import Q

__all__ = ["NAMES"]

_TRANSIENTS: Final[dict[str, Q]] = {
    "fuse_kind": Q("1", "how a fuse is made: blade, glass_quick, glass_slow or bolted"),
    "i_samples": Q("A", "amps sampled at equal steps of time, along the last axis"),
    "i_start": Q("A", "current at the start, same direction as the volts that drive it"),
    "light_high": Q("1", "most light in a cycle, in any unit"),
    "light_low": Q("1", "least light in a cycle, in the same unit as the most"),
    "overload": Q("1", "current over the amps printed on a fuse"),
    "reaction_time": Q("s", "how late the legs answer to a change of feel"),
    "v_samples": Q("V", "volts sampled at equal steps of time, along the last axis"),
    "v_start": Q("V", "volts of a capacitor at the start"),
    "v_wake": Q("V", "input volts above which a sleeping board wakes"),
}

NAMES: Final[dict[str, Q]] = {**_TRANSIENTS}
