"""The frozen results of worth, heap, loads and guard. Plain data in SI: sentences about causes, no rounding, no drawing."""

from __future__ import annotations

from dataclasses import dataclass, field

from sparewatt.rig.asking import Ask
from sparewatt.rig.outcome import Band, Caveat, Stop
from sparewatt.studies.answers_match import Change, Unknown

__all__ = [
    "Bout",
    "ChargePlan",
    "Combination",
    "Finding",
    "GuardAnswer",
    "HeapAnswer",
    "JudgedMachine",
    "LoadAnswer",
    "LoadState",
    "LoadsAnswer",
    "RunPlan",
    "Sized",
    "WorthAnswer",
    "WorthRow",
]


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
    stop: Stop = Stop.FOUND  # DEPENDED_ON: its battery does not carry somebody for two nights


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
    asks: tuple[Ask, ...] = ()  # the questions that the rows answer


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
    """One way of running: start, idle, light work, rated work. seconds: words of the scene that shows a start."""

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
    seconds: str = ""


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
    asks: tuple[Ask, ...] = ()  # the questions that the rows answer


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One hazard judged on this rig.

    check: "not refused", "look again" or "stop". at: where the decision is taken ("match", "loads", "guard", "worth",
    and a link key). value/threshold in `unit` (SI), NaN when not a number. source: key in references, or
    "common practice, no source". seconds: words of the scene that shows it, as `script_from_words` reads them; "" when
    it is no matter of seconds.
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
    seconds: str = ""
    load: str = ""  # the one load it is about; "" where it is about the rig


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
    edits: tuple[tuple[str, str], ...] = ()  # keys and texts that put it in, where it is not right yet


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardAnswer:
    """Sizes with reasons, and the hazards register for this rig."""

    check: str
    sizes: tuple[Sized, ...]
    findings: tuple[Finding, ...]
    quiet: tuple[str, ...] = field(default=())  # titles of hazards looked at and not found
    caveats: tuple[Caveat, ...] = ()
    sources: tuple[str, ...] = ()
