"""The frozen results of match. Plain data in SI: sentences about causes, no rounding, no drawing."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import EdgeCurves, Edges
from sparewatt.rig.outcome import Band, Caveat, Crossing, Link, Mode, Point, Stop

__all__ = [
    "CHECKS",
    "VERDICTS",
    "Change",
    "GearRow",
    "LegPicture",
    "MatchAnswer",
    "Room",
    "Setting",
    "Shares",
    "StationRow",
    "Unknown",
]

F = NDArray[np.float64]
VERDICTS = ("good use of legs", "hard work", "not by legs")
CHECKS = ("not refused", "look again", "stop")


@dataclass(frozen=True, slots=True, kw_only=True)
class GearRow:
    """One gear: does it hold, where, with what, and how high the open volts can go."""

    gear: str
    ratio: float
    stop: Stop
    chance: float  # share of draws in which it holds and serves the load
    hold: Band  # rad/s at the crank
    tip: Band  # rad/s at the crank; NaN when pinned
    delivered: Band  # W into battery or load
    rider: Band  # W at the pedals
    mode: Mode
    bus_volts: Band
    wakes: float  # rad/s where the board wakes or the battery starts to take, NaN if never
    passes: float  # rad/s where volts pass straight through, NaN if never
    breaks: float  # rad/s where open volts pass the lowest rating, NaN if no rating is passed below 150 rpm
    breaks_what: str
    fastest: float  # rad/s at the crank: 120 turns a minute, or the fastest sprint that the file gives
    ceiling: float  # V open there
    best: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LegPicture:
    """Lines of the leg picture on one cadence axis (rad/s) and torque in N*m at the crank.

    rider, rider_low, rider_high: the rider line of this effort and its 90 % band. load: load line in the chosen gear
    (NaN where asleep or beyond what the machine can pass). other_loads: the same for every other gear.
    """

    cadence: F
    rider: F
    rider_low: F
    rider_high: F
    load: F
    other_loads: dict[str, F]
    crossings: tuple[Crossing, ...]
    passes: float  # rad/s, NaN when never
    breaks: float
    breaks_what: str
    breaks_volts: float
    wakes: float
    comfortable: float  # rad/s


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Cadence x gear grid for the asked load. cell codes: see CELLS. closing: the two limits that close it when empty."""

    CELLS = (
        "rideable",
        "asleep",
        "not enough legs",
        "tips over",
        "passes through",
        "may break",
        "too hot",
        "slips",
        "not served",
    )
    cadence: F  # rad/s, cell centres
    gears: tuple[str, ...]
    cells: NDArray[np.int64]  # (gears, cadences): index in CELLS
    chosen: tuple[int, int] | None  # (gear, cadence) index of the point asked about
    closing: tuple[str, str] | None
    by_load: tuple[
        tuple[float, int], ...
    ]  # (share of the load, number of rideable cells) for several sizes of the load


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One line of the settings card: what to set, to what, in which order, and what the meter will show."""

    what: str
    value: float
    unit: str
    why: str
    meter: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One uncertain input: its share of the variance of the answer, and the reading that would narrow it."""

    key: str
    name: str
    share: float
    how: str
    measure: str  # what to do, one sentence; "" when it cannot be measured
    minutes: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One nearest-yes change. kind is one of the fixed family; edits are rig-file edits that make it so.

    kind: "shed", "shorter", "gear", "pulley", "board", "battery", "riders", "no electricity", "effort", "share", "look";
    of a scene also "order", "hysteresis", "soft start", "capacitor", "clamp", "flywheel".
    edits: pairs (key path, text) that a rig file takes; ask: what the question becomes; proven: the changed rig was solved
    (of a scene: played) and accepted. cost: in the rig's own coin, NaN unknown. size: how big a change it is, smaller is
    nearer. words: the scene as it is ridden then, as `script_from_words` reads it; "" where no scene was asked about.
    """

    kind: str
    says: str
    gives: str
    edits: tuple[tuple[str, str], ...]
    ask: Ask | None
    proven: bool
    cost: float
    size: float
    words: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """One rig of several on the bus: its amps and what its rider feels."""

    name: str
    rider: str
    amps: Band
    p_rider: float
    holds: bool
    says: str
    order: int = 0  # 1: the first to be dragged to a stop, 2: the next; 0: holds
    watts: float = 0.0  # W it puts on the bus in the end


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """How several rigs share one bus, as they are and with the resistor that makes it fair."""

    rows: tuple[StationRow, ...]
    bus_volts: float
    wanted: float  # A
    watts: float  # W on the bus in the end, from all of them
    fair_resistance: float  # ohm to add in each lead
    fair_rows: tuple[StationRow, ...]
    limit_each: float  # A: current limit to set on each board instead
    wire_length: float  # m of wire_area, there and back, that makes the resistance
    wire_area: float  # m^2
    bare: bool = False  # no boards: every rider adds what the legs push


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchAnswer:
    """Everything `match` knows about one question."""

    ask: Ask
    verdict: str
    stop: Stop
    gear: str
    point: Point | None  # nominal running point (or the point at the asked cadence)
    chain: tuple[Link, ...]
    binds: str  # key of the link that binds
    binds_says: str
    hold: Band
    tip: Band
    chance: float
    delivered: Band  # W into the battery or the load
    rider: Band  # W at the pedals
    edges: Edges
    spare: Band  # W between the load and the edge, NaN when pinned
    time_to_limit: Band  # s the rider can hold this; inf when below the all-day effort
    hour_power: Band  # W this rider can hold for an hour
    gears: tuple[GearRow, ...]
    picture: LegPicture
    room: Room
    settings: tuple[Setting, ...]
    unknowns: tuple[Unknown, ...]
    nearest_yes: tuple[Change, ...]
    shares: Shares | None
    caveats: tuple[Caveat, ...]
    sources: tuple[str, ...]
    edge_curves: EdgeCurves | None = None
    why: str = ""  # what speaks against it where it runs all the same: its day, its start, its volts
    screw: float = float(
        "nan"
    )  # A at which the board's amps screw holds the charge back, NaN when something else does
    hot: tuple[float, float, float] = (
        float("nan"),
        float("nan"),
        float("nan"),
    )  # winding K: after the ride, in the long run, limit
