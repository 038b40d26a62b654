"""Every kind of reading, in one place: what is read together, in which unit, and which procedure asks for it.

A reading is a handful of values read together (volts and the speed they were read at). In the readings file each value
is one line; lines with the same mark under `at` and the same kind belong together. When a value stands several times
under one mark, it was repeated and the middle counts, except in a series (a run-down, a discharge, a timed effort): there
the first time goes with the first volts, the second with the second, and so on. Some values stay (how far a weight falls,
the length of a lever): a later reading of the same kind that leaves them out takes over the last one given.
`reading_groups.settled` makes lines ready by these rules.

Speeds are of the machine's shaft unless the kind says otherwise; cadence is of the crank. Volts and amps are positive as
the machine drives them when pedalled forward; a machine run as a motor off a battery has positive volts and amps too.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["KINDS", "READINGS", "Kind", "Reading", "speed_of", "units_for"]

NAN = float("nan")

# Units to offer in a form, the first one first; the rest of what people write is understood as well.
_UNITS: dict[str, tuple[str, ...]] = {
    "V": ("V", "mV"),
    "A": ("A", "mA"),
    "ohm": ("ohm", "mohm", "kohm"),
    "rad/s": ("rpm", "rad/s", "turn/s"),
    "s": ("s", "min", "h"),
    "kg": ("kg", "g", "lb"),
    "m": ("mm", "cm", "m", "in"),
    "K": ("degC", "degF", "K"),
    "1": ("1", "%"),
    "yes": ("yes",),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One value of a kind of reading. key: "kind.what". low, high: what any rig could show, SI; procedures: who asks.

    meter: key of the instrument it is usually read with (`reading_meters.METERS`). scale: the range to turn the meter to.
    stays: given once, it holds for later readings of its kind too.
    """

    key: str
    kind: str
    what: str
    says: str
    unit: str
    meter: str
    low: float
    high: float
    scale: str = ""
    needed: bool = True
    stays: bool = False
    procedures: tuple[str, ...] = ()

    @property
    def units(self) -> tuple[str, ...]:
        """Units people write it in, the usual one first."""
        return units_for(self.unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What is read together. series: the same values again and again along a time; part: what `part` names, if any.

    either: at least one of these must be there (a speed, or turns counted in a time); () when there is no such choice.
    """

    key: str
    says: str
    values: tuple[Reading, ...]
    procedures: tuple[str, ...]
    series: bool = False
    part: str = ""
    either: tuple[str, ...] = ()

    @property
    def whats(self) -> tuple[str, ...]:
        """Names of its values."""
        return tuple(value.what for value in self.values)

    @property
    def moments(self) -> tuple[str, ...]:
        """Names of what is read anew at each moment."""
        return tuple(value.what for value in self.values if not value.stays and value.what != "held_for")

    def __getitem__(self, what: str) -> Reading:
        return self.values[self.whats.index(what)]


def units_for(unit: str) -> tuple[str, ...]:
    """Units to offer where the SI unit is `unit`."""
    return _UNITS[unit]


def speed_of(values: Mapping[str, float]) -> float:
    """Speed in rad/s: as read, else from turns counted in a time; NaN when neither was read.

    speed = 2*pi*turns/turn_time. Worked: 24 turns in 5 s are 30.16 rad/s.
    """
    if "speed" in values:
        return values["speed"]
    if values.get("turn_time", 0.0) > 0 and "turns" in values:
        return 2 * math.pi * values["turns"] / values["turn_time"]
    return NAN


# unit -> (usual meter, range to turn it to, lowest, highest value that any rig could show)
_USUAL: dict[str, tuple[str, str, float, float]] = {
    "V": ("volts", "200 V", -500, 500),
    "A": ("amps", "10 A", -100, 100),
    "ohm": ("ohms", "200 ohm", 0, 50e6),
    "rad/s": ("filmed_speed", "", 0, 3000),
    "s": ("film", "", 0, 200e3),
    "kg": ("kitchen_scale", "", 0, 100),
    "m": ("tape", "", 0, 5),
    "K": ("hand", "", 220, 450),
    "1": ("count", "", 0, 10e3),
    "yes": ("answer", "", 0, 1),
}
_LIMITS: dict[str, tuple[float, float]] = {
    "cadence": (0, 35),
    "volts_out": (-400, 400),
    "cell_density": (1.0, 1.4),
    "arm": (0.02, 2),
    "scale": (-100, 100),
}
_METER = {
    "cell_density": "hydrometer",
    "turn_time": "stopwatch",
    "held_for": "stopwatch",
    "cadence": "counted_speed",
}
_SCALE = {"rest_volts": "20 V", "loaded_volts": "20 V", "recovered_volts": "20 V", "lead_ohms": "200 ohm"}

_SPEED = (
    ("speed?", "Speed of the machine's shaft", "rad/s"),
    ("turns?", "or: turns you counted", "1"),
    ("turn_time?", "and in how long", "s"),
)
_OUT = (("volts", "Volts across the two wires of the machine", "V"), ("amps", "Amps out of the machine", "A"))
_BOARD = (
    ("volts_in", "Volts going into the board", "V"),
    ("amps_in", "Amps going into the board", "A"),
    ("volts_out", "Volts coming out of the board", "V"),
    ("amps_out", "Amps coming out of the board", "A"),
)
_BEHIND = (
    ("volts_out?", "Volts behind the board, or at the battery", "V"),
    ("amps_out?", "Amps behind the board, or into the battery", "A"),
)
_CADENCE = ("cadence", "Turns a minute at the crank", "rad/s")
_WARM = ("machine_heat?", "How warm the machine's case is", "K")

# kind, what it is, values (? marks one that may be left out, ! one that stays), procedures that ask for it, series?,
# what `part` names
_TABLE: tuple[tuple[str, str, tuple[tuple[str, str, str], ...], str, bool, str], ...] = (
    ("lead_ohms", "ohms of the meter's own leads, tips together",
     (("ohms", "Ohms with the two tips touching", "ohm"),), "rules", False, ""),
    ("same_battery", "each of your meters on the same battery, one after the other",
     (("volts", "Volts this meter shows", "V"),), "rules", False, ""),
    ("open_volts", "volts with nothing connected, at a speed",
     (("volts", "Volts with nothing connected", "V"), *_SPEED), "spin_open spin_loaded step_ride", False, ""),
    ("open_volts_back", "the same with the shaft turned the other way, both written without a minus",
     (("volts", "Volts turned the other way", "V"), *_SPEED), "spin_open", False, ""),
    ("loaded_volts", "volts and amps with bulbs on, at a speed",
     (*_OUT, *_SPEED), "spin_loaded", False, ""),
    ("locked_volts", "volts and amps pushed through the machine with its shaft held",
     (("volts", "Volts across the machine", "V"), ("amps", "Amps through it", "A")), "locked_shaft", False, ""),
    ("winding_ohms", "ohmmeter on machine and case: only whether it is open or touching",
     (("ohms", "Ohms between the two wires", "ohm"), ("case_ohms?", "Ohms from a wire to the case", "ohm")),
     "locked_shaft", False, ""),
    ("run_free", "the machine as a motor off a battery, shaft free",
     (("volts", "Volts across the running machine", "V"), ("amps", "Amps it takes running free", "A"),
      ("speed?", "Speed of its shaft, if you filmed it", "rad/s")), "run_free", False, ""),
    ("run_down", "volts (or speed) against time as the machine alone comes to rest",
     (("time", "Seconds since you let go", "s"), ("volts?", "Volts of the open machine", "V"),
      ("speed?", "or: speed of its shaft", "rad/s")), "run_down", True, ""),
    ("run_down_disc", "the same with a known disc on the shaft",
     (("time", "Seconds since you let go", "s"), ("volts?", "Volts of the open machine", "V"),
      ("speed?", "or: speed of its shaft", "rad/s"), ("disc_mass!", "Mass of the disc", "kg"),
      ("disc_diameter!", "Disc, across", "m")), "run_down", True, ""),
    ("run_down_rig", "the same with the whole drive turning along, chain off or freewheeling",
     (("time", "Seconds since you let go", "s"), ("volts?", "Volts of the open machine", "V"),
      ("speed?", "or: speed of the machine's shaft", "rad/s")), "run_down", True, ""),
    ("falling_weight", "how long a weight on a string round the shaft takes to fall",
     (("mass!", "What hangs on the string", "kg"), ("height!", "How far it falls", "m"),
      ("string_radius!", "From the middle of the shaft to the middle of the string", "m"),
      ("fall_time", "From letting go to the floor", "s")), "falling_weight", False, ""),
    ("board_power", "volts and amps into and out of a board", _BOARD, "board_power", False, "board"),
    ("board_sleeps", "input volts at which the board drops out",
     (("volts_in", "Input volts when it went out", "V"),), "board_limits", False, "board"),
    ("board_wakes", "input volts at which it comes back",
     (("volts_in", "Input volts when it came back", "V"),), "board_limits", False, "board"),
    ("board_limit", "where the output sags: the most the board passes", _BOARD, "board_limits", False, "board"),
    ("board_idle", "what the board takes with nothing behind it",
     (("volts_in", "Volts going into the board", "V"), ("amps_in", "Amps it takes for itself", "A")),
     "board_power", False, "board"),
    ("board_heat", "how warm the board is after ten minutes",
     (("heat", "Board", "K"), ("air", "Air", "K")), "board_limits", False, "board"),
    ("board_set", "what the two screws are set to",
     (("volts_out!", "Volts set, nothing behind it", "V"), ("amps_out?", "Amps set", "A")), "board_screws", False, "board"),
    ("battery_dip", "battery volts before, under and after a bulb",
     (("rest_volts", "Volts at rest", "V"), ("loaded_volts", "Volts 5 s after the bulb went on", "V"),
      ("amps", "Amps through the bulb", "A"), ("recovered_volts?", "Volts 5 s after it went off", "V")),
     "battery_dip", False, ""),
    ("battery_rest", "battery volts after hours of rest",
     (("volts", "Volts on the posts", "V"), ("rested?", "How long it has rested", "s")), "battery_run", False, ""),
    ("battery_run", "volts and amps against time as the battery runs down",
     (("time", "Since the bulb went on", "s"), ("volts", "Volts on the posts", "V"), ("amps", "Amps out", "A")),
     "battery_run", True, ""),
    ("cell_density", "hydrometer in one cell after another",
     (("density", "What the float shows", "1"),), "battery_dip", False, "cell"),
    ("hand_turns", "machine turns for turns of the crank, by hand",
     (("crank_turns", "Turns of the crank", "1"), ("machine_turns", "Turns of the machine", "1")),
     "ratio_and_slip", False, "gear"),
    ("riding", "what the meters show on a steady ride",
     (_CADENCE, *_OUT, ("speed?", "Speed of the machine's shaft, if you filmed it", "rad/s"), *_BEHIND, _WARM),
     "ratio_and_slip dummy_ride step_ride hour_ride", False, "gear"),
    ("hard_effort", "an effort held as evenly as it can be, to its end",
     (("held_for", "How long it was held", "s"), ("time?", "Since the start", "s"), *_OUT, _CADENCE),
     "hard_efforts", True, "rider"),
    ("gentle_step", "the step at which a sentence became hard to say",
     (*_OUT, _CADENCE, ("step?", "Which step it was", "1")), "gentle_steps", False, "rider"),
    ("rope_brake", "a rope over the flywheel between a weight and a scale",
     (("weight!", "Mass of the hanging weight", "kg"), ("scale", "What the scale shows, averaged", "kg"),
      ("radius!", "Radius of the wheel under the rope", "m"), ("rope!", "Thickness of the rope", "m"),
      ("speed", "Speed of that wheel", "rad/s"), ("volts?", "Volts across the machine meanwhile", "V"),
      ("amps?", "Amps out of the machine meanwhile", "A"), ("cadence?", "Turns a minute at the crank", "rad/s")),
     "rope_brake", False, "shaft"),
    ("lever_torque", "a lever on the held shaft pressing a scale, current from a battery",
     (("amps", "Amps through the machine", "A"), ("arm!", "From the middle of the shaft to the scale's foot", "m"),
      ("rising?", "Scale, coming up from less current", "kg"), ("falling?", "Scale, coming down from more", "kg")),
     "lever_torque", False, ""),
    ("appliance_look", "what an appliance is, without power",
     (("ohms?", "Ohms across the plug, switch on", "ohm"), ("brushes", "Brushes to be seen?", "yes"),
      ("dial", "A dial, or a trigger that changes the speed?", "yes"), ("iron", "A heavy block of iron?", "yes"),
      ("capacitor", "A large capacitor?", "yes"), ("range", "Does the label say 100-240 V?", "yes")),
     "appliance_look", False, "load"),
    ("top_volts", "highest volts with nothing connected, at a fast cadence in one gear",
     (("volts", "Highest volts", "V"), _CADENCE), "top_speed", False, "gear"),
    ("first_turn", "sign of the volts at one hand turn a second, crank forward",
     (("volts", "Volts, with their sign", "V"), _CADENCE), "first_turn", False, "gear"),
    ("edge_ride", "the cadence at which it tips over",
     (_CADENCE, ("volts?", "Volts across the machine just before", "V"), ("amps?", "Amps just before", "A")),
     "edge_ride", False, "gear"),
    ("load_drop", "highest volts as the load is pulled off",
     (("volts_before", "Volts before", "V"), ("amps_before", "Amps before", "A"),
      ("peak_volts", "Highest volts on the film", "V"), _CADENCE,
      ("clamp?", "Did the clamp's lamp light?", "yes")), "load_drop", False, "gear"),
    ("group_share", "volts and amps of one rider's rig among several",
     (*_OUT, _CADENCE), "group_ride", False, "rider"),
)  # fmt: skip


def _kind(
    key: str, says: str, values: tuple[tuple[str, str, str], ...], procedures: str, series: bool, part: str
) -> Kind:
    asks = tuple(procedures.split())
    made = tuple(_value(key, *value, asks) for value in values)
    left_out = {value.what for value in made if not value.needed}
    either = next(
        (
            pair
            for pair in (("speed", "turns"), ("volts", "speed"), ("rising", "falling"))
            if left_out.issuperset(pair)
        ),
        (),
    )
    return Kind(key=key, says=says, values=made, procedures=asks, series=series, part=part, either=either)


def _value(kind: str, name: str, says: str, unit: str, procedures: tuple[str, ...]) -> Reading:
    what = name.rstrip("?!")
    meter, scale, low, high = _USUAL[unit]
    told = kind if kind == "cell_density" else what
    low, high = _LIMITS.get(told, (low, high))
    return Reading(
        key=f"{kind}.{what}",
        kind=kind,
        what=what,
        says=says,
        unit=unit,
        meter=_METER.get(told, meter),
        low=low,
        high=high,
        scale=_SCALE.get(told, scale),
        needed=not name.endswith("?"),
        stays=name.endswith("!"),
        procedures=procedures,
    )


KINDS: dict[str, Kind] = {row[0]: _kind(*row) for row in _TABLE}
READINGS: dict[str, Reading] = {value.key: value for kind in KINDS.values() for value in kind.values}
