"""The frozen results of a scene: what happens second by second, what it costs, and how sure it is. Plain data in SI."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.asking import Ask
from sparewatt.rig.outcome import Caveat, Stop

__all__ = ["Chance", "Entry", "Happening", "Peak", "SceneAnswer", "Side", "StepRow", "Track"]

F = NDArray[np.float64]
SAME = 1e-3  # share of a rating that a played scene cannot tell apart from it


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One quantity against time. low and high: 5 % and 95 % over the spread runs at `SceneAnswer.spread_times`, or None.

    key: "cadence", "machine_speed", "machine_amps", "bus_volts", "output_volts", "output_amps", "battery_amps",
    "rider_power", "load_power", "winding", "magnet", "reserve", "charge", "tool_amps", "tool_speed", "crank_torque",
    "clamp_power"; with more rigs on the bus also "cadence 2", "output_amps 2", "bus_volts 2", "rider_power 2" and so on.
    """

    key: str
    name: str  # words for the axis: "turns a minute at the crank"
    unit: str  # SI unit of `values`
    values: F  # (n,) at SceneAnswer.times
    least: F  # (n,) lowest since the sample before (ripple seen even when samples are far apart)
    most: F  # (n,)
    low: F | None = None  # (m,)
    high: F | None = None  # (m,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """One located event. key names its sort (see rig.motion.EVENTS); says is a sentence about the rig."""

    at: float  # s
    key: str
    says: str
    unit_of: int = 0  # which rig on the bus, 0 the main one
    value: float = float("nan")  # V, A or rad/s at that moment, where one belongs to it
    told: bool = False  # it is a step of the script, not something the rig did


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the energy ledger of the scene."""

    key: str
    name: str
    side: str  # "in", "delivered", "toll" or "store"
    joules: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Chance:
    """How many of the spread runs did something."""

    key: str  # "stall", "over volts", "hiccup", "served", "fuse"
    says: str
    share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Peak:
    """The highest value of something against what its part stands."""

    key: str  # "bus volts", "machine amps", "output volts", "clamp energy", ...
    name: str  # "step-up board, input"
    unit: str
    value: float
    low: float  # 5 % and 95 % over the spread runs
    high: float
    limit: float  # inf where nothing is rated
    at: float  # s

    @property
    def over(self) -> bool:
        """Whether it passes the rating in the nominal run."""
        return self.value > self.limit * (1 + SAME)


@dataclass(frozen=True, slots=True, kw_only=True)
class StepRow:
    """One step of the script as it was understood."""

    at: float
    text: str  # as written
    understood: str  # "switch on the saw"


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """What the map of steady riding says of the same question, for the picture: NaN where there is none."""

    w_hold: float
    w_tip: float
    stop: Stop


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneAnswer:
    """A scene played: tracks, happenings, ledger, chances."""

    name: str
    ask: Ask
    gear: str  # where it starts
    start: str  # "riding" or "rest"
    holds: str  # "effort", "cadence" or "power"
    steps: tuple[StepRow, ...]
    duration: float  # s
    times: F  # (n,) s
    tracks: tuple[Track, ...]
    spread_times: F  # (m,) s
    happenings: tuple[Happening, ...]
    ledger: tuple[Entry, ...]
    closes: float  # what the ledger leaves over, as a share of all that went in
    chances: tuple[Chance, ...]
    peaks: tuple[Peak, ...]
    served_time: float  # s the load got what it asks for
    ends: str  # "holds", "free" (nothing is fed), "stalled", "stopped", "hiccups", "asleep": how it stands at the end
    runs: int  # spread runs behind the bands
    steady: Side
    meter: tuple[
        float, float
    ]  # mean V times mean A at the bus, and the true mean watts there, over the last turns
    limits: tuple[tuple[str, float], ...]  # ratings of volts drawn beside the bus volts
    caveats: tuple[Caveat, ...]
    sources: tuple[str, ...]
    asked: float = math.nan  # s in which the load, or the battery, was meant to be fed by legs that push

    def track(self, key: str) -> Track:
        """The track of that key; KeyError when the scene has none."""
        for track in self.tracks:
            if track.key == key:
                return track
        raise KeyError(key)
