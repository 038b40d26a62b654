"""What a reading is read with, and how far off it is taken to be until its owner knows better.

The figures are what a cheap meter, scale, tape or watch does (common practice, no source). A share is one standard
deviation that all readings of that meter have in common; digits and the fixed part differ from reading to reading.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparewatt.quantities import BadText, parse

__all__ = ["FEELS", "METERS", "Meter", "last_digit", "meter_for", "range_for", "reading_sd"]

COUNTS = 2000  # a three-and-a-half digit display counts to 1999


@dataclass(frozen=True, slots=True, kw_only=True)
class Meter:
    """An instrument and its usual error. share: of the value, in common; digits: of the last place; fixed: in SI.

    mean_factor: what it reads on average over what is true (a drill's plate promises more than the drill does under load).
    words: pieces of the name a person may give it that point to it.
    """

    key: str
    says: str
    unit: str
    share: float = 0.0
    digits: float = 0.0
    fixed: float = 0.0
    mean_factor: float = 1.0
    words: tuple[str, ...] = ()


# A drill's plate: the true speed is 25 % below to 5 % above it, taken as a 90 % band of the truth.
_PLATE_LOW, _PLATE_HIGH = 0.75, 1.05
_BAND = 3.289707  # widths of a 90 % band in standard deviations of a normal distribution

METERS: dict[str, Meter] = {
    meter.key: meter
    for meter in (
        Meter(key="volts", says="meter on DC volts: 0.8 % and 2 digits", unit="V", share=0.008, digits=2),
        Meter(key="amps", says="meter on its 10 A socket: 2 % and 3 digits", unit="A", share=0.02, digits=3),
        Meter(key="ohms", says="meter on ohms: 1 % and 0.3 ohm of leads", unit="ohm", share=0.01, fixed=0.3),
        Meter(key="kitchen_scale", says="kitchen scale: 0.3 % and 2 g", unit="kg", share=0.003, fixed=0.002,
              words=("scale", "balance")),
        Meter(key="tape", says="tape: 1 mm", unit="m", fixed=0.001, words=("tape", "ruler", "rule")),
        Meter(key="stopwatch", says="stopwatch by hand: 0.15 s", unit="s", fixed=0.15,
              words=("stopwatch", "watch", "clock", "hand")),
        Meter(key="film", says="times off a film: 0.02 s", unit="s", fixed=0.02,
              words=("film", "video", "phone", "camera", "sound", "wav")),
        Meter(key="filmed_speed", says="speed off a film or a sound: 0.5 %", unit="rad/s", share=0.005,
              words=("film", "video", "phone", "camera", "sound", "wav")),
        Meter(key="counted_speed", says="turns counted by eye against a watch: 3 %", unit="rad/s", share=0.03,
              words=("count", "eye", "watch")),
        Meter(key="drill_plate", says="the speed on a drill's plate: 25 % below to 5 % above", unit="rad/s",
              share=(_PLATE_HIGH - _PLATE_LOW) / _BAND, mean_factor=2 / (_PLATE_HIGH + _PLATE_LOW),
              words=("plate", "label")),
        Meter(key="count", says="counted: a tenth of a turn at each end", unit="1", fixed=0.1),
        Meter(key="thermometer", says="thermometer: 2 K", unit="K", fixed=2.0, words=("thermo", "probe")),
        Meter(key="hand", says="by the feel of a hand: 8 K", unit="K", fixed=8.0, words=("hand", "feel", "touch")),
        Meter(key="hydrometer", says="hydrometer: 0.005", unit="1", fixed=0.005, words=("hydrometer",)),
        Meter(key="answer", says="yes or no", unit="yes"),
    )
}  # fmt: skip

_USUAL = {"V": "volts", "A": "amps", "ohm": "ohms", "kg": "kitchen_scale", "m": "tape", "s": "film",
          "rad/s": "filmed_speed", "1": "count", "K": "hand", "yes": "answer"}  # fmt: skip


def meter_for(unit: str, name: str = "", usual: str = "") -> Meter:
    """The instrument meant by the name in the readings file; without a telling name the `usual` one, or the unit's."""
    spoken = name.casefold()
    for meter in METERS.values():
        if meter.unit == unit and any(word in spoken for word in meter.words):
            return meter
    return METERS[usual or _USUAL[unit]]


# How warm a case feels to the back of a hand, K (common practice, no source; at 333 K metal burns within seconds).
FEELS: dict[str, float] = {
    "cold": 285.0, "cool": 293.0, "warm": 308.0, "hot": 323.0, "too hot to hold": 338.0,
}  # fmt: skip

_RANGES: dict[str, tuple[tuple[float, str], ...]] = {
    "V": ((2, "2 V"), (20, "20 V"), (200, "200 V"), (1000, "1000 V")),
    "A": ((0.2, "200 mA"), (10, "10 A")),
    "ohm": ((200, "200 ohm"), (2e3, "2 kohm"), (200e3, "200 kohm"), (2e6, "2 Mohm"), (20e6, "20 Mohm")),
}


def range_for(unit: str, high: float) -> str:
    """The meter's range to start on when the reading may go as high as this; "" where there is nothing to turn.

    Worked: 24 V is read on 200 V; 2 A is read on 10 A.
    """
    ranges = _RANGES.get(unit, ())
    return next((name for top, name in ranges if high <= top), ranges[-1][1] if ranges else "")


def last_digit(value: float, scale: str, unit: str) -> float:
    """One step of the last digit, in SI, of a meter that counts to 1999.

    scale: the range as written ("20 V", "200 mV"); without one, the smallest range of 2, 20, 200 that holds the value.
    Worked: 12.3 V on "200 V" steps by 0.1 V; without a range it is taken on 20 V, which steps by 0.01 V.
    """
    return _top(value, scale, unit) / COUNTS


def reading_sd(
    value: float, unit: str, *, name: str = "", scale: str = "", usual: str = ""
) -> tuple[float, float]:
    """Standard deviation of a reading in SI: (its own part, the share it has in common with that meter's others)."""
    meter = meter_for(unit, name, usual)
    own = math.hypot(meter.digits * last_digit(value, scale, unit) if meter.digits else 0.0, meter.fixed)
    return own, meter.share


def _top(value: float, scale: str, unit: str) -> float:
    """The top of the meter's range."""
    try:
        top = abs(parse(scale.replace("DC", "").replace("AC", ""), unit).value)
    except BadText:
        top = 0.0
    if top > 0:
        return top
    size = max(abs(value), 0.2)
    return 2 * 10.0 ** math.ceil(math.log10(size / 2) - 1e-12)
