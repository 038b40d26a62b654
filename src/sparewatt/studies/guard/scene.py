"""What all hazard checks look at: the rig as written, the rig filled in, what it makes and carries, and how to say it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Battery, Converter, Load, Machine, Measured, Place, Rider, Rig
from sparewatt.physics import protection
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import find_rider
from sparewatt.rig.circuit import CHARGE, Branch, Circuit, circuit_of
from sparewatt.rig.endurance import power_for
from sparewatt.rig.fill import Filled, exact, fill
from sparewatt.rig.hookup import charging_board
from sparewatt.rig.operating import RPM, State, operate, overspeed
from sparewatt.rig.stations import stations_of
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.flows import Flow, flows_of, too_big
from sparewatt.studies.guard.seconds import pulled
from sparewatt.studies.scenes.plays import Plays

__all__ = ["MARGIN", "Check", "Scene", "as_written", "scene_of"]

F = NDArray[np.float64]
NAN = math.nan
MARGIN = (
    1.25  # rating over the ceiling; also the speed margin of a spinning wheel (common practice, no source)
)
CLAMP_SECONDS = 10.0
STOUT = 50e-6  # m^2
CLAMP_BEARS = 0.75  # of what a sprint puts into a clamp: below it gives up (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One rig looked at as a whole. `written` is the rig file; `rig` has typical values where the file is silent.

    solved: the asked load at the asked effort; hard: every load (and the charge) at the most the strongest rider holds.
    ceilings: open volts of each gear at `fastest`, cold. w_work: crank speed of the usual ride. fastest: of a sprint.
    """

    written: Rig
    rig: Rig
    ask: Ask
    solved: State
    hard: tuple[State, ...]
    ceilings: F
    ratio: F
    k_emf: float
    w_work: float
    fastest: float
    p_rider: float
    p_sprint: float
    flows: dict[str, Flow]  # by branch of the circuit
    too_big: tuple[str, ...]  # loads no wire is sized for: they would empty the battery within the hour
    charging: float  # A into the battery from all rigs at the asked effort
    plays: Plays  # its scenes, second by second
    filled: Filled

    @property
    def circuit(self) -> Circuit:
        """The circuit of the rig, filled in."""
        return circuit_of(self.rig)

    @property
    def written_circuit(self) -> Circuit:
        """The circuit of the rig as written."""
        return circuit_of(self.written)

    @property
    def from_machine(self) -> Flow:
        """What leaves the machine."""
        return self.flows["machine lead"]

    def carried(self) -> list[tuple[Branch, Flow]]:
        """The branches of this rig and of what all share, as written, each with what it carries."""
        branches = self.written_circuit.branches
        return [(b, self.flows[b.name]) for b in branches if b.station == 0 and b.name in self.flows]

    @property
    def gears(self) -> tuple[str, ...]:
        """Names of the gears."""
        return self.solved.bound.gears

    @property
    def machine(self) -> Machine:
        """The machine, filled in."""
        assert self.rig.machine is not None
        return self.rig.machine

    @property
    def place(self) -> Place:
        """Where it stands, as written, or nothing known."""
        return self.written.place or Place()

    @property
    def battery(self) -> Battery | None:
        """The battery, filled in."""
        return self.rig.battery

    @property
    def top(self) -> int:
        """Index of the fastest gear."""
        return int(np.argmax(self.ceilings))

    @property
    def ceiling(self) -> float:
        """Open volts in a sprint in the fastest gear, or what the clamp holds if that is less."""
        return float(min(np.max(self.ceilings), self.clamped))

    @property
    def clamped(self) -> float:
        """Volts the clamp holds when the plug is pulled in a sprint; inf without one, or with one that gives up."""
        return clamp_holds(self.filled, self.ask.load)

    @property
    def rigs(self) -> int:
        """How many rigs, this one included."""
        return 1 + len(self.rig.neighbour)

    @property
    def riders(self) -> tuple[Rider, ...]:
        """All riders of the file, filled in."""
        return self.rig.rider

    @property
    def air(self) -> float:
        """Air temperature (K)."""
        assert self.rig.place is not None and self.rig.place.temperature is not None
        return self.rig.place.temperature.value

    def gear(self, g: int) -> str:
        """A gear in words."""
        return "in the only gear" if len(self.gears) == 1 else f"in {self.gears[g]}"

    def boards(self) -> tuple[Converter, ...]:
        """Boards that the machine feeds, each once."""
        found: list[Converter] = []
        for solved in (self.solved, *self.hard):
            board = solved.bound.hookup.board
            if board is not None and board not in found:
                found.append(board)
        return tuple(found)

    def bare_loads(self) -> tuple[Load, ...]:
        """Loads that hang on the machine itself: no board, no battery."""
        return tuple(
            s.bound.hookup.load
            for s in self.hard
            if s.bound.hookup.load is not None
            and s.bound.hookup.board is None
            and s.bound.hookup.battery is None
        )

    def feeding(self, load: Load) -> Converter | None:
        """The board whose output a load hangs on; None when it hangs on battery or machine."""
        for s in self.hard:
            if s.bound.hookup.load == load:
                joined = s.bound.hookup
                if joined.load_board is not None:
                    return joined.load_board
                return joined.board if joined.battery is None else None
        return None

    def on_battery(self, load: Load) -> bool:
        """Whether the battery feeds this load."""
        return any(s.bound.hookup.load == load and s.bound.hookup.battery is not None for s in self.hard)

    def charger(self) -> Converter | None:
        """The board that charges the battery."""
        return charging_board(self.rig)


Check = tuple[str, Callable[[Scene], list[Finding] | None]]


def scene_of(
    rig: Rig | Filled, load: str | None = None, ask: Ask | None = None, *, quiet: bool = False
) -> Scene:
    """Everything the checks need, solved once. quiet: nothing is played."""
    written = as_written(rig.rig) if isinstance(rig, Filled) else rig
    filled = rig if isinstance(rig, Filled) else fill(rig)
    asked = ask if ask is not None else ask_for(filled.rig, load=load, draws=0)
    person = find_rider(filled.rig, asked.rider)
    effort = max([asked.effort, *(_value(r.critical_power) for r in filled.rig.rider)])
    names = [x.name for x in filled.rig.load] + (["charge"] if filled.rig.battery is not None else [])
    asks = tuple(
        dataclasses.replace(
            asked, load=name, gear=None, cadence=None, effort=effort, duration=1800.0, draws=0
        )
        for name in names
    )
    hard = tuple(operate(filled, one) for one in asks)
    stout = _stout(filled)
    most = hard if stout is filled else tuple(operate(stout, one) for one in asks)
    solved = operate(filled, asked)
    ratio = np.asarray(solved.bound.ratio[:, 0])
    k = float(solved.bound.extras["k_emf_cold"][0])
    fastest = overspeed(filled.rig)
    ceilings = np.asarray(protection.volts_ceiling(fastest, ratio=ratio, k_emf=k))
    w_work, p_rider = _working(solved, person, written)
    return Scene(
        written=written,
        rig=filled.rig,
        ask=asked,
        solved=solved,
        hard=hard,
        ceilings=ceilings,
        ratio=ratio,
        k_emf=k,
        w_work=w_work,
        fastest=fastest,
        p_rider=p_rider,
        p_sprint=_sprint(filled.rig.rider),
        charging=_charging(solved, hard, filled.rig),
        flows=flows_of(filled.rig, most, _others(stout, asks), effort),
        too_big=tuple(s.ask.load for s in hard if too_big(s)),
        plays=Plays(filled, asked, quiet=quiet),
        filled=filled,
    )


@lru_cache(maxsize=32)
def clamp_holds(filled: Filled, load: str) -> float:
    """Volts the clamp holds when the plug is pulled in a sprint; inf without one, or with one that gives up."""
    clamp = filled.rig.clamp
    if clamp is None or clamp.voltage is None or clamp.resistance is None:
        return math.inf
    raced = pulled(Plays(filled, ask_for(filled.rig, load=load, draws=0)), sprint=True)
    if not raced or (
        clamp.power is not None and clamp.power.value < CLAMP_BEARS * max(r.watts for r in raced)
    ):
        return math.inf
    return max(r.volts for r in raced)


T = TypeVar("T")


def as_written(part: T) -> T:
    """A filled part with the typical and computed stand-ins taken out again, so that silence can be told from knowledge."""
    found: dict[str, object] = {}
    printed: frozenset[str] = getattr(type(part), "PLATE", frozenset())
    for field in dataclasses.fields(part):  # type: ignore[arg-type]
        old = getattr(part, field.name)
        if isinstance(old, Measured):
            stand_in = old.how == "typical" or (old.how == "computed" and old.sd == 0)
            if stand_in or (old.how == "nameplate" and field.name not in printed):
                found[field.name] = None
        elif isinstance(old, tuple) and old and dataclasses.is_dataclass(old[0]):
            found[field.name] = tuple(as_written(x) for x in old)
        elif dataclasses.is_dataclass(old) and not isinstance(old, type):
            found[field.name] = as_written(old)
    return dataclasses.replace(part, **found)  # type: ignore[type-var]


def _value(known: Measured | None, default: float = 0.0) -> float:
    return default if known is None else known.value


def _working(solved: State, rider: Rider, written: Rig) -> tuple[float, float]:
    """Crank speed and watts at the pedals of the usual ride."""
    if solved.ask.cadence is not None:
        return solved.ask.cadence, solved.ask.effort
    held = float(solved.found.w_hold[solved.gear, 0])
    usual = (
        written.ride.cadence.value if written.ride is not None and written.ride.cadence is not None else 0.0
    )
    if not math.isfinite(held):
        return max(usual, _value(rider.cadence, 65 * RPM)), solved.ask.effort
    watts = float(solved.found.p_rider[solved.gear, 0])
    return max(usual, held), watts if math.isfinite(watts) else solved.ask.effort


def _sprint(riders: tuple[Rider, ...]) -> float:
    """The most any of them gives for ten seconds (W)."""
    return max(
        float(
            power_for(
                _value(r.critical_power),
                _value(r.work_reserve),
                CLAMP_SECONDS,
                _value(r.peak_power, math.inf),
            )
        )
        for r in riders
    )


def _charging(solved: State, hard: tuple[State, ...], rig: Rig) -> float:
    """Amps into the battery from all rigs at the asked effort, nothing else drawing."""
    if rig.battery is None:
        return 0.0
    charge = next(s for s in hard if s.bound.hookup.load is None)
    again = operate(
        solved.filled, dataclasses.replace(charge.ask, effort=solved.ask.effort, duration=solved.ask.duration)
    )
    if (
        again.joined is not None
    ):  # what is asked of each before anybody is dragged to a stop: all of it can come
        return float(sum(max(float(one.first[0]), 0.0) for one in again.joined.carriers))
    amps = np.where(np.isfinite(again.found.w_hold[:, 0]), again.found.i_battery[:, 0], np.nan)
    most = float(np.nanmax(amps)) if np.isfinite(amps).any() else 0.0
    return max(0.0, most)


def _stout(filled: Filled) -> Filled:
    """The rig with wires that take nothing to speak of: the most amps that any wire may come to carry, so that a thicker one
    asks for nothing new."""
    if not filled.rig.wire:
        return filled
    wires = tuple(dataclasses.replace(w, size=exact(max(_value(w.size), STOUT))) for w in filled.rig.wire)
    return dataclasses.replace(filled, rig=dataclasses.replace(filled.rig, wire=wires))


def _others(filled: Filled, asks: tuple[Ask, ...]) -> tuple[State, ...]:
    """With several rigs: the part of each other rig, and each load on one rig alone."""
    rig = filled.rig
    if not rig.neighbour:
        return ()
    stations = stations_of(filled)
    own = [
        station.rig
        for station, n in zip(stations[1:], rig.neighbour, strict=True)
        if n.machine is not None or n.stage or n.converter is not None
    ]
    parts = [dataclasses.replace(ask, rider=station.rider) for station in stations[1:] for ask in asks]
    alone = (Filled(rig=dataclasses.replace(one, neighbour=()), assumed=()) for one in (rig, *own))
    loads = [ask for ask in asks if ask.load != CHARGE]
    return (
        *(operate(filled, ask) for ask in parts),
        *(operate(one, ask) for one in alone for ask in loads),
    )
