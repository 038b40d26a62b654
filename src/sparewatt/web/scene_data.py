"""The numbers that the play-head reads off while a scene plays on the page: a few tracks at even times."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.words_seconds import rows
from sparewatt.present.words_seconds_reading import smoothed, track_of
from sparewatt.present.words_seconds_rows import load_name, moment
from sparewatt.quantities.units import unit_of
from sparewatt.studies.scenes.answers import SceneAnswer, Track

__all__ = ["read_out"]

F = NDArray[np.float64]
MOST = 601  # moments sent


@dataclass(frozen=True, slots=True)
class _Hand:
    """One number beside the picture: its track, its words, the unit shown, and digits behind the point."""

    key: str
    words: str
    unit: str
    sign: str
    digits: int
    even: bool = False  # legs push in beats: told as the mean over a turn, else nobody can read it


def _hands(a: SceneAnswer) -> list[_Hand]:
    load = "the battery" if a.ask.load == "charge" else load_name(a)
    hands = [
        _Hand("cadence", "turns a minute", "rpm", "", 0),
        _Hand("bus_volts", "volts at the bus", "V", "V", 1),
        _Hand("machine_amps", "amps of the machine", "A", "A", 1, even=True),
        _Hand("rider_power", "watts of your legs", "W", "W", 0, even=True),
        _Hand("load_power", f"watts into {load}", "W", "W", 0, even=True),
        _Hand("reserve", "reserve left", "kJ", "kJ", 1),
        _Hand("tool_speed", f"turns a minute of {load}", "rpm", "", 0),
    ]
    if a.ask.load == "charge":
        hands[4] = _Hand("battery_amps", "amps into the battery", "A", "A", 1, even=True)
    return hands


def read_out(a: SceneAnswer) -> dict[str, Any]:
    """Everything a script needs to play the scene: the clock, the numbers, and what happens when."""
    stride = max(1, math.ceil((a.times.size - 1) / (MOST - 1)))
    times = a.times[::stride]
    hands = []
    for hand in _hands(a):
        track = track_of(a, hand.key)
        if track is None or track.values.size != a.times.size or not np.isfinite(track.values).any():
            continue
        if hand.key == "tool_speed" and not np.nanmax(np.abs(track.values)) > 1.0:
            continue
        values = _shown(a, track, hand)[::stride]
        hands.append(
            {
                "key": hand.key,
                "words": hand.words,
                "unit": hand.sign,
                "digits": hand.digits,
                "values": [round(v, hand.digits) if math.isfinite(v) else None for v in values.tolist()],
            }
        )
    return {
        "duration": a.duration,
        "runs": a.runs,
        "every": float(times[1] - times[0]) if times.size > 1 else max(a.duration, 1.0),
        "hands": hands,
        "happens": [
            {
                "number": row.number,
                "at": round(row.at, 4),
                "when": moment(row.at, a.duration),
                "says": row.says,
            }
            for row in rows(a)
        ],
    }


def _shown(a: SceneAnswer, track: Track, hand: _Hand) -> F:
    """A track in the unit shown, the mean over a turn where that is what can be read."""
    values = np.asarray(track.values, dtype=float)
    if hand.even:
        mean = smoothed(a.times, values)
        values = np.where(np.isfinite(mean), mean, values)
    unit = unit_of(hand.unit)
    return np.asarray((values - unit.offset) / unit.factor)
