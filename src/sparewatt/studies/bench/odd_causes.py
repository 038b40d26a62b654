"""The usual causes of a reading that does not fit: what each does to which value. Common practice, no source.

A cause multiplies what is written: written = factor * true. Where the factor is not one number it has a range.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["CAUSES", "COPIED", "ROUNDED", "OddCause", "causes_for"]

RPM = 60 / (2 * math.pi)
HALF_WAVE = math.pi / math.sqrt(
    2
)  # a cheap meter on AC shows 2.22 times the direct volts, lead the right way round


@dataclass(frozen=True, slots=True, kw_only=True)
class OddCause:
    """One cause. factors: numbers it multiplies by; low, high: range instead. needs: value it must be read with.

    units, whats, kinds: where it can happen (() anywhere). weight: how common it is beside the others.
    special: "" or how the factor hangs on the rest of the reading ("per_thousand", "gear", "swapped").
    """

    key: str
    name: str
    says: str
    redo: str
    factors: tuple[float, ...] = ()
    low: float = math.nan
    high: float = math.nan
    units: tuple[str, ...] = ()
    whats: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    weight: float = 1.0
    special: str = ""
    keeps_sd: bool = False  # the spread of the value is as written, not scaled with it


_DRILL = ("open_volts", "open_volts_back", "loaded_volts")
_VOLTS_IN = (
    "volts", "volts_in", "volts_out", "rest_volts", "loaded_volts", "recovered_volts",
)  # fmt: skip

CAUSES: tuple[OddCause, ...] = (
    OddCause(
        key="low_gear", name="the drill was in its low gear",
        says="The shaft turned at 0.3 to 0.6 of the speed written: low gear, a slipping chuck, or a film that fooled you.",
        redo="Look at the gear of the drill, tighten the chuck, film the shaft itself at two speeds and read again.",
        low=1 / 0.6, high=1 / 0.3, units=("rad/s",), kinds=_DRILL, weight=3.0,
    ),
    OddCause(
        key="chuck_slips", name="the chuck slipped, or the speed is the drill's and not the shaft's",
        says="The shaft turned more slowly than written.",
        redo="Tighten the chuck and film the shaft itself.",
        low=1 / 0.95, high=1 / 0.6, units=("rad/s",), kinds=_DRILL, weight=1.0,
    ),
    OddCause(
        key="rpm_and_rad", name="turns a minute and radians a second were mixed up",
        says="One turn a minute is 0.105 rad/s.",
        redo="Write the speed again with its unit beside it.",
        factors=(RPM, 1 / RPM), units=("rad/s",), weight=2.0,
    ),
    OddCause(
        key="second_and_minute", name="turns a second and turns a minute, or seconds and minutes, were mixed up",
        says="A minute has 60 seconds.",
        redo="Write the value again with its unit beside it.",
        factors=(60.0, 1 / 60), units=("rad/s", "s"), weight=1.5,
    ),
    OddCause(
        key="counted_twice", name="each turn was counted twice, or every second one missed",
        says="Two flags on the chuck, or a sound heard an octave off.",
        redo="One flag only. Count again at a slow speed.",
        factors=(2.0, 0.5), units=("rad/s",), weight=0.3,
    ),
    OddCause(
        key="slow_motion", name="the film was played in slow motion",
        says="The film ran at 120 or 240 frames a second and was timed at 30.",
        redo="Put a stopwatch in the picture and read the time off it.",
        factors=(4.0, 8.0), units=("s",), weight=1.0, keeps_sd=True,
    ),
    OddCause(
        key="milli", name="thousandths and wholes were mixed up",
        says="Millivolts for volts, milliamps for amps, grams for kilograms, millimetres for metres, or the other way.",
        redo="Look at the range of the meter and write the unit beside the value.",
        factors=(1000.0, 0.001), units=("V", "A", "kg", "m", "s"), weight=2.0,
    ),
    OddCause(
        key="decimal", name="the point slipped by one place",
        says="The value is ten times too large or too small.",
        redo="Read it again and look where the point stands.",
        factors=(10.0, 0.1), units=("V", "A", "kg", "m", "s", "rad/s", "1"), weight=0.7,
    ),
    OddCause(
        key="volts_per_thousand", name="volts per 1,000 turns a minute were written for volts",
        says="The value is what a sheet gives for 1,000 turns a minute.",
        redo="Write what the meter shows at the speed beside it.",
        units=("V",), whats=("volts",), kinds=("open_volts", "open_volts_back", "top_volts"), special="per_thousand",
    ),
    OddCause(
        key="diameter", name="diameter and radius were mixed up",
        says="The size is twice, or half, of what it is taken for.",
        redo="Tape it again: the radius goes from the middle of the shaft to the middle of the string.",
        factors=(2.0, 0.5), units=("m",), whats=("string_radius", "radius", "disc_diameter"), weight=3.0,
    ),
    OddCause(
        key="swapped", name="turns of crank and machine were swapped",
        says="The two numbers stand in each other's place.",
        redo="Write the turns of the crank under crank, those of the machine under machine.",
        units=("1",), whats=("machine_turns",), special="swapped", weight=2.0,
    ),
    OddCause(
        key="teeth", name="another gear was ridden, or teeth are swapped in the rig file",
        says="The speeds belong to another pair of sprockets.",
        redo="Count the teeth that the chain lies on, and look at the order in the rig file.",
        whats=("cadence", "crank_turns"), special="gear", weight=2.0,
    ),
    OddCause(
        key="ac_range", name="the meter stood on AC",
        says="On AC a cheap meter shows nothing, or about 2.2 times, where the volts do not alternate.",
        redo="Turn the meter to DC volts, the sign with the straight line, and read again.",
        factors=(HALF_WAVE,), units=("V",), whats=_VOLTS_IN, weight=1.5,
    ),
    OddCause(
        key="ac_range", name="the meter stood on AC",
        says="On AC a meter shows nearly nothing where the volts do not alternate.",
        redo="Turn the meter to DC volts, the sign with the straight line, and read again.",
        low=0.001, high=0.08, units=("V",), whats=_VOLTS_IN, weight=1.5,
    ),
    OddCause(
        key="wrong_socket", name="the lead sat in the wrong socket of the meter, or its fuse is blown",
        says="The meter shows nothing at all. With the lead in the amps socket it shorts what it is put across.",
        redo="Move the lead to the right socket before you touch anything else, test the meter's fuse, and read again.",
        low=-0.001, high=0.001, units=("V", "A"), weight=1.5,
    ),
    OddCause(
        key="ac_clamp", name="the clamp reads AC only",
        says="A clamp without DC in its name shows next to nothing on direct current.",
        redo="Use the meter's amps socket, or a clamp that says DC.",
        low=0.001, high=0.1, units=("A",), weight=2.0,
    ),
    OddCause(
        key="sign", name="the leads were swapped, or the sign was left out",
        says="The value has the wrong sign.",
        redo="Mark the + wire, swap the tips, and write the sign.",
        factors=(-1.0,), units=("V", "A", "kg"), weight=2.0,
    ),
    OddCause(
        key="newtons", name="newtons were written for kilograms",
        says="A kilogram pulls with 9.81 newtons.",
        redo="Look at the unit on the scale.",
        factors=(9.80665,), units=("kg",), weight=0.7,
    ),
    OddCause(
        key="pounds", name="pounds were written for kilograms",
        says="A kilogram is 2.2 pounds.",
        redo="Look at the unit on the scale.",
        factors=(2.20462,), units=("kg",), weight=0.7,
    ),
)  # fmt: skip


ROUNDED = OddCause(
    key="rounded", name="the value was rounded by hand",
    says="It stands on a round number, and what the rounding may hide explains how far it is off.",
    redo="Write every digit that the meter shows.", weight=0.5,
)  # fmt: skip
COPIED = OddCause(
    key="copied", name="the value is the same as on another line",
    says="Two readings that should differ carry the same number to the last digit.",
    redo="Read it again where it belongs.", weight=0.3,
)  # fmt: skip


def causes_for(kind: str, what: str, unit: str) -> tuple[OddCause, ...]:
    """Causes that can touch one value of one kind of reading."""
    return tuple(
        c
        for c in CAUSES
        if (not c.units or unit in c.units)
        and (not c.whats or what in c.whats)
        and (not c.kinds or kind in c.kinds)
    )
