"""The frozen results that studies return. Plain data in SI: sentences about causes, no rounding, no drawing."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.outcome import Band, Caveat, Crossing, Link, Mode, Point, Stop

__all__ = [
    "Ask",
    "Bout",
    "Change",
    "ChargePlan",
    "Combination",
    "EdgeCurves",
    "Edges",
    "Finding",
    "GearRow",
    "GuardAnswer",
    "HeapAnswer",
    "JudgedMachine",
    "LegPicture",
    "LoadAnswer",
    "LoadState",
    "LoadsAnswer",
    "MatchAnswer",
    "Room",
    "RunPlan",
    "Setting",
    "Shares",
    "Sized",
    "StationRow",
    "Unknown",
    "WorthAnswer",
    "WorthRow",
]

F = NDArray[np.float64]
VERDICTS = ("good use of legs", "hard work", "not by legs")
CHECKS = ("not refused", "look again", "stop")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """The question: names from the rig file, SI numbers. gear None: look in every gear and take the best."""

    rider: str
    load: str  # name of a load, or "charge"
    gear: str | None
    effort: float  # W, the effort's worth at its best cadence
    duration: float  # s
    cadence: float | None = None  # rad/s: look at this cadence instead of where the effort settles
    draws: int = 1024
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """The three edges at the point, as watts at the board's output (or at battery or load): the lowest binds."""

    legs: float
    machine: float
    board: float  # inf when nothing limits
    lowest: str  # "legs", "machine" or "board"


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeCurves:
    """The three edges against cadence (rad/s), W at the output; asked: what the load takes, NaN when a battery takes all."""

    cadence: F
    legs: F
    machine: F
    board: F  # inf where nothing limits
    asked: float


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
    ceiling: float  # V open at 120 turns a minute
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

    kind: "shed", "shorter", "gear", "pulley", "board", "battery", "riders", "no electricity", "effort", "share".
    edits: pairs (key path, text) that a rig file takes; ask: what the question becomes; proven: the changed rig was solved
    and accepted. cost: in the rig's own coin, NaN unknown. size: how big a change it is, smaller is nearer.
    """

    kind: str
    says: str
    gives: str
    edits: tuple[tuple[str, str], ...]
    ask: Ask | None
    proven: bool
    cost: float
    size: float


@dataclass(frozen=True, slots=True, kw_only=True)
class StationRow:
    """One rig of several on the bus: its amps and what its rider feels."""

    name: str
    rider: str
    amps: Band
    p_rider: float
    holds: bool
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shares:
    """How several rigs share one bus, as they are and with the resistor that makes it fair."""

    rows: tuple[StationRow, ...]
    bus_volts: float
    wanted: float
    fair_resistance: float  # ohm to add in each lead
    fair_rows: tuple[StationRow, ...]
    limit_each: float  # A: current limit to set on each board instead
    wire_length: float  # m of wire_area, there and back, that makes the resistance
    wire_area: float  # m^2


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
    hot: tuple[float, float, float] = (
        float("nan"),
        float("nan"),
        float("nan"),
    )  # winding K: after the ride, in the long run, limit


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthRow:
    """One load and what it costs the legs per use."""

    load: str
    verdict: str
    energy_use: float  # J at the appliance, one use
    energy_legs: Band  # J at the pedals, one use
    chain: tuple[tuple[str, float], ...]  # (link, share passed on) at the actual power
    minutes: Band  # s of riding, one use, at the hour power
    food: Band  # J of food, one use
    food_above_rest: float  # J
    co2_litres: float  # m^3 of CO2 above rest
    per_day: Band  # s of riding a day
    runs: str  # how it is run: "direct", "through the battery", "through battery and inverter"
    why: str
    nearest_yes: tuple[Change, ...]
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthAnswer:
    """All loads of a rig and their price in legs."""

    rider: str
    sustain: Band  # W at the pedals for an hour
    rows: tuple[WorthRow, ...]
    total_per_day: Band  # s of riding
    unknowns: tuple[Unknown, ...]
    caveats: tuple[Caveat, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedMachine:
    """One machine of the heap: constants with spread, best power and speed, what board it needs, buy or leave."""

    name: str
    kind: str
    refused: str  # "" or the reason
    k_emf: Band
    r_wind: Band
    brush_drop: Band
    friction: Band
    stiffness: float  # K^2/R
    best: tuple[tuple[float, float, float, float], ...]  # (W delivered, rad/s, V, W lost) for several powers
    board: str
    call: str  # "buy", "only if free", "leave"
    why: str
    odd: tuple[str, ...]  # what on the plate does not agree with itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """One way to join the parts on the heap, judged for the asked load."""

    machine: str
    drive: str
    board: str
    gear: str
    hold: Band
    delivered: Band
    spare: float
    chance: float
    cost: float
    verdict: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class HeapAnswer:
    """The heap ranked for one load."""

    machines: tuple[JudgedMachine, ...]
    combinations: tuple[Combination, ...]
    purchase: Change | None
    caveats: tuple[Caveat, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bout:
    """Short work and rest: how often it can be repeated."""

    bout: float
    breather: float
    p_bout: float  # W at the pedals
    p_rest: float
    longest: Band  # s of one unbroken bout until the reserve is gone
    cycles: float  # inf when it can go on
    reserve_after: float  # J left after a dozen
    says: str
    full: float = float("nan")  # J of a rested rider
    points: tuple[tuple[float, float], ...] = ()  # (s, J left) over the first bouts


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadState:
    """One way of running: start, idle, light work, rated work."""

    state: str  # "start", "idle", "light", "rated"
    works: bool
    chance: float
    gear: str
    stop: Stop
    p_load: Band
    p_rider: Band
    hold: Band
    amps: float
    volts: float
    speed_share: float  # of rated-load speed, NaN when it does not turn
    torque_share: float  # of rated torque
    time: Band  # s it can be held by this rider
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RunPlan:
    """How long a battery runs a load."""

    load: str
    amps: Band
    time: Band  # s
    cutoff: float  # V
    legs_time: Band  # s of riding to put it back
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChargePlan:
    """Charging: current, limits, time to each level, hours of legs, where useful leg time ends."""

    chemistry: str
    set_voltage: float  # V at the battery's temperature
    set_voltage_25: float
    current_limit: float  # A
    amps: Band  # A this rider and rig give
    accepted: Band  # A the battery takes of it
    p_battery: Band
    efficiency: float
    times: tuple[tuple[float, Band], ...]  # (state of charge reached, s)
    useful_end: float  # state of charge where it takes less than you can give
    useful_time: Band  # s
    ride_gain: Band  # share of capacity gained in the asked duration
    float_voltage: float
    says: str
    curve: tuple[tuple[float, float, float], ...] = ()  # (s, state of charge, A)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadAnswer:
    """One appliance: does it start, run, how long, what to change."""

    load: str
    verdict: str
    dc: str  # "not refused", "look again", "stop"
    dc_why: str
    states: tuple[LoadState, ...]
    bout: Bout | None
    run: RunPlan | None
    stop: Stop
    why: str
    nearest_yes: tuple[Change, ...]
    sources: tuple[str, ...] = ()
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadsAnswer:
    """All appliances and the battery."""

    rider: str
    rows: tuple[LoadAnswer, ...]
    charge: ChargePlan | None
    caveats: tuple[Caveat, ...]
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One hazard judged on this rig.

    check: "not refused", "look again" or "stop". at: where the decision is taken ("match", "loads", "guard", "worth",
    and a link key). value/threshold in `unit` (SI), NaN when not a number. source: key in references, or
    "common practice, no source".
    """

    key: str
    title: str
    check: str
    says: str
    do: str
    value: float
    threshold: float
    unit: str
    source: str
    at: tuple[str, ...]
    severity: int  # 1 nuisance, 2 broken part, 3 injury, 4 death or fire


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """One thing sized: what is needed, what is there, margin, reason."""

    what: str
    need: float
    have: float  # NaN when the file says nothing
    unit: str
    check: str
    pick: str  # the standard size to take, in words ("2.5 mm2 or 14 AWG")
    why: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardAnswer:
    """Sizes with reasons, and the hazards register for this rig."""

    check: str
    sizes: tuple[Sized, ...]
    findings: tuple[Finding, ...]
    quiet: tuple[str, ...] = field(default=())  # titles of hazards looked at and not found
    caveats: tuple[Caveat, ...] = ()
    sources: tuple[str, ...] = ()
