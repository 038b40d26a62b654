"""Several rigs on one pair of wires: who rides which, how hard, and the one steady state they reach together.

Each rig feeds the shared node through its own lead. `join` looks for the highest volts of the node at which what all of
them push is what is asked there. A rider whose share is more than these legs have is dragged to a stop and drops out, and
the rest must carry it, until nothing changes. Everything that speaks of several rigs reads this one state.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Converter, Measured, Neighbour, Rider, Rig
from sparewatt.rig.asking import Ask
from sparewatt.rig.bind import bind, find_rider, reheat
from sparewatt.rig.bind_output import hold_board
from sparewatt.rig.circuit import main_board
from sparewatt.rig.draws import Draws
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.endurance import power_for
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.node import Given, Node, carry, with_demand
from sparewatt.rig.warming import Heat

__all__ = ["Carrier", "Joined", "Ridden", "Station", "effort_of", "join", "station_of", "stations_of"]

F = NDArray[np.float64]
B = NDArray[np.bool_]
LEAD = 0.02  # ohm of a lead nobody has measured (common practice, no source)
HOUR = 3600.0  # s of a usual ride that the file does not tell of
JOINT_DRAWS = 48  # of an answer's draws that are solved for all rigs together; the rest repeat them
SET_SD = 0.02  # V: how well volts screws are set apart on one meter (common practice, no source)
OTHERS = 7919  # seeds of the other rigs are so far apart: like parts are not the same part


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One rig on the shared node: what it is made of, who rides it and the lead that joins it."""

    name: str
    rig: Rig  # filled in, alone
    rider: str
    lead: float  # ohm
    board: Converter | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridden:
    """One rig with its rider on it, before anything is asked of it."""

    station: Station
    effort: float  # W
    gear: int
    heat: Heat
    bound: Bound  # hot, alone on the whole load


@dataclass(frozen=True, slots=True, kw_only=True)
class Carrier:
    """What one rig does in the joint state; arrays have a column for the nominal rigs and one for each joint draw."""

    ridden: Ridden
    bound: Bound  # with the demand that it really has
    first: F  # A asked of it before anybody is dragged to a stop
    given: Given  # what it is asked in the end, or when it was dragged to a stop
    watts: F  # W it puts on the node in the end
    edge: float  # W: the most these legs can put out, nominal
    p_rider: F  # W at the pedals, NaN where it does not hold
    w_hold: F  # rad/s at the crank, NaN where it does not hold
    holds: B
    order: int  # 0: holds; 1: the first to be dragged to a stop, 2: the next

    @property
    def station(self) -> Station:
        """The rig itself."""
        return self.ridden.station

    @property
    def gear(self) -> int:
        """Index of the gear it is ridden in."""
        return self.ridden.gear

    @property
    def amps(self) -> F:
        """Amps it puts on the node in the end."""
        return np.where(self.holds, self.given.amps, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """The steady state of all rigs on the shared node."""

    carriers: tuple[Carrier, ...]
    asked: int  # which of them the question is about
    volts: F  # of the node in the end
    first_volts: F  # of the node before anybody is dragged to a stop
    wanted: F  # A the node asks for, or the battery takes, before anybody is dragged to a stop
    carried: B  # whether the load gets what it asks for in the end
    bare: bool  # no boards between: every rider adds what the legs push
    node: Node  # what is asked

    @property
    def amps(self) -> F:
        """Amps on the shared node in the end."""
        return np.asarray(sum(c.amps for c in self.carriers))

    @property
    def watts(self) -> F:
        """Watts on the shared node in the end."""
        return self.amps * self.volts

    @property
    def all_hold(self) -> B:
        """Whether nobody is dragged to a stop and the load gets what it asks for."""
        return np.asarray(np.all([c.holds for c in self.carriers], axis=0) & self.carried)

    @property
    def me(self) -> Carrier:
        """The rig the question is about."""
        return self.carriers[self.asked]

    @property
    def unfair(self) -> bool:
        """Whether somebody is dragged to a stop by a share that everybody could carry if it were an equal one."""
        equal = float(self.wanted[0] * self.first_volts[0]) / len(self.carriers)
        fair = not self.bare and all(c.edge >= equal for c in self.carriers)
        return fair and any(c.order > 0 for c in self.carriers)

    def with_more_lead(self, ohms: float) -> Joined:
        """The same riders with so much more resistance in every lead."""
        riders = tuple(
            dataclasses.replace(c.ridden, station=dataclasses.replace(c.station, lead=c.station.lead + ohms))
            for c in self.carriers
        )
        return _joined(riders, self.node, self.asked)

    def asked_with_more_lead(self, ohms: float) -> F:
        """Amps (rigs,) that the boards would ask of tireless legs with so much more resistance in every lead, nominal."""
        bounds = [c.ridden.bound.nominal() for c in self.carriers]
        leads = np.array([c.station.lead + ohms for c in self.carriers])
        return carry(bounds, leads, self.node.nominal(), None, None).first[:, 0]

    def wide(self, values: NDArray[Any], cols: int) -> NDArray[Any]:
        """Joint columns (cols,) as many as an answer has: the nominal one first, the draws again and again."""
        return np.asarray(values[_again(values.size, cols)])

    def share_of(self, bound: Bound) -> Bound:
        """The rig the question is about, bound alone with all its draws, with the demand that it really has."""
        given = self.me.given.take(_again(self.volts.size, bound.cols))
        return with_demand(bound, Node.of(bound), self.me.station.lead, given)


def _again(size: int, cols: int) -> NDArray[np.int64]:
    """Indices that repeat the draws of `size` columns up to `cols`, the nominal one first and once."""
    return np.concatenate([[0], 1 + np.arange(cols - 1) % (size - 1)] if size > 1 else [np.zeros(cols, int)])


def stations_of(filled: Filled) -> tuple[Station, ...]:
    """Every rig on the shared node, the main one first. A neighbour is the main rig with its own parts in their place."""
    rig = filled.rig
    lead = rig.bus.lead_resistance.value if rig.bus and rig.bus.lead_resistance else LEAD
    found = [_station(rig.name, dataclasses.replace(rig, neighbour=()), lead)]
    for other in rig.neighbour:
        own = other.lead_resistance.value if other.lead_resistance else lead
        found.append(_station(other.name, _merged(rig, other), own))
    return tuple(found)


def _station(name: str, rig: Rig, lead: float) -> Station:
    return Station(name=name, rig=rig, rider=find_rider(rig, None).name, lead=lead, board=main_board(rig))


def _merged(rig: Rig, other: Neighbour) -> Rig:
    board = main_board(rig)
    converters = rig.converter
    if other.converter is not None and board is not None:
        given = {
            f.name: getattr(other.converter, f.name)
            for f in dataclasses.fields(Converter)
            if getattr(other.converter, f.name) not in (None, "", ())
        }
        given["name"] = board.name
        converters = tuple(dataclasses.replace(b, **given) if b == board else b for b in rig.converter)
    ride = (
        dataclasses.replace(rig.ride, rider=other.rider) if rig.ride is not None and other.rider else rig.ride
    )
    return fill(
        dataclasses.replace(
            rig,
            neighbour=(),
            machine=other.machine or rig.machine,
            stage=other.stage or rig.stage,
            diode=other.diode or rig.diode,
            converter=converters,
            ride=ride,
        )
    ).rig


def station_of(stations: tuple[Station, ...], rider: str) -> int:
    """The rig this rider sits on: the main one unless the file puts the rider on another."""
    names = [station.rider.casefold() for station in stations]
    return names.index(rider.casefold()) if rider.casefold() in names else 0


def effort_of(person: Rider, ask: Ask, rig: Rig) -> float:
    """Watts at the pedals of one of several riders: the asked rider's are the question's; every other gives what that rider
    holds for the asked time. A moment is cut out of the usual ride: nobody sprints because it is short."""
    if person.name.casefold() == ask.rider.casefold():
        return ask.effort
    assert person.critical_power and person.work_reserve and person.peak_power
    usual = rig.ride.duration.value if rig.ride is not None and rig.ride.duration is not None else HOUR
    lasts = max(ask.duration, usual)
    cp, reserve, peak = person.critical_power.value, person.work_reserve.value, person.peak_power.value
    return float(power_for(cp, reserve, lasts, peak))


def join(filled: Filled, ask: Ask, settle: Callable[[Bound, Ask], tuple[int, Heat]]) -> Joined:
    """The joint steady state. settle: gear and temperatures of one rig for its own demand (nominal, cold)."""
    stations = list(stations_of(filled))
    me = station_of(tuple(stations), ask.rider)
    if stations[me].rider.casefold() != ask.rider.casefold():
        stations[me] = dataclasses.replace(stations[me], rider=find_rider(filled.rig, ask.rider).name)
    draws = min(ask.draws, JOINT_DRAWS)
    asks = [_own_ask(station, ask, k == me, draws) for k, station in enumerate(stations)]
    cold = [
        _bound(station, own, ask.seed + OTHERS * k)
        for k, (station, own) in enumerate(zip(stations, asks, strict=True))
    ]
    screws = Draws(draws, ask.seed)
    cold = [_screwed(bound, screws, k) for k, bound in enumerate(cold)]
    leads = np.array([station.lead for station in stations])
    node = Node.of(cold[0])
    guess = carry([b.nominal() for b in cold], leads, node.nominal(), None, None)
    settled = [
        settle(with_demand(b.nominal(), node.nominal(), leads[k], guess.given[k]), asks[k])
        for k, b in enumerate(cold)
    ]
    hot = [reheat(b, heat.winding, heat.magnet) for b, (_gear, heat) in zip(cold, settled, strict=True)]
    return _joined(
        tuple(
            Ridden(station=station, effort=own.effort, gear=gear, heat=heat, bound=bound)
            for station, own, (gear, heat), bound in zip(stations, asks, settled, hot, strict=True)
        ),
        node,
        me,
    )


def _joined(riders: tuple[Ridden, ...], node: Node, me: int) -> Joined:
    """The joint state of rigs that are bound, hot, and in gear."""
    leads = np.array([one.station.lead for one in riders])
    found = carry(
        [one.bound for one in riders],
        leads,
        node,
        [one.gear for one in riders],
        [one.effort for one in riders],
    )
    carriers = []
    for k, one in enumerate(riders):
        given = found.given[k]
        bound = with_demand(one.bound, node, leads[k], given)
        carriers.append(
            Carrier(
                ridden=one,
                bound=bound,
                first=found.first[k],
                given=given,
                watts=np.where(found.holds[k], given.amps * found.volts, 0.0),
                edge=float(edge_watts(bound.nominal(), one.gear, one.effort)[0][0]),
                p_rider=found.p_rider[k],
                w_hold=found.w_hold[k],
                holds=found.holds[k],
                order=int(found.order[k]),
            )
        )
    return Joined(
        carriers=tuple(carriers),
        asked=me,
        volts=found.volts,
        first_volts=found.first_volts,
        wanted=found.first.sum(axis=0),
        carried=found.carried,
        bare=all(one.bound.hookup.board is None for one in riders),
        node=node,
    )


def _own_ask(station: Station, ask: Ask, asked: bool, draws: int) -> Ask:
    if asked:
        return dataclasses.replace(ask, draws=draws)
    return dataclasses.replace(
        ask,
        rider=station.rider,
        effort=effort_of(find_rider(station.rig, station.rider), ask, station.rig),
        gear=None,
        cadence=None,
        draws=draws,
    )


def _bound(station: Station, ask: Ask, seed: int) -> Bound:
    filled = Filled(rig=station.rig, assumed=())
    return bind(filled, ask.load, station.rider, effort=ask.effort, draws=ask.draws, seed=seed)


def _screwed(bound: Bound, screws: Draws, k: int) -> Bound:
    """The same rig with its volts screw as well set as one meter allows; what all boards read wrong alike is no matter."""
    volts = float(bound.params[Param.V_SET, 0])
    if bound.hookup.board is None:
        return bound
    params = bound.params.copy()
    params[Param.V_SET] = screws.column(f"set.{k}", Measured(volts, SET_SD, "measured"))
    hold_board(params, bound.extras["i_set"])
    return dataclasses.replace(bound, params=params)
