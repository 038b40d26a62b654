"""Several rigs on one bus: who carries what, and the piece of wire that makes it fair."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Converter, Measured, Neighbour, Rig
from sparewatt.physics import bus, wire
from sparewatt.rig import solve
from sparewatt.rig.asking import Ask
from sparewatt.rig.bind import bind
from sparewatt.rig.bind_output import rest_voltage
from sparewatt.rig.circuit import main_board
from sparewatt.rig.draws import Draws
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.endurance import power_for
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.layout import Param
from sparewatt.rig.outcome import Band
from sparewatt.studies.answers import Shares, StationRow

__all__ = ["shares_of", "station_rigs"]

F = NDArray[np.float64]
FAIR_SPREAD = 0.40  # largest share of the mean by which riders may still differ
DRAWS, ROUNDS = 128, 8
THIN_WIRE = 0.35e-6  # m^2
SET_SD = 0.02  # V: how well a volts screw can be read on one meter
CRUSHED = "carries more than these legs have and is dragged to a stop"


def station_rigs(filled: Filled) -> list[tuple[str, Rig, float]]:
    """(name, rig of that station alone, lead resistance) of every rig on the bus, the main one first."""
    rig = filled.rig
    lead = rig.bus.lead_resistance.value if rig.bus and rig.bus.lead_resistance else 0.02
    found = [(rig.name, dataclasses.replace(rig, neighbour=()), lead)]
    for other in rig.neighbour:
        found.append(
            (other.name, _merged(rig, other), other.lead_resistance.value if other.lead_resistance else lead)
        )
    return found


def _merged(rig: Rig, other: Neighbour) -> Rig:
    """The main rig with what the neighbour names put in its place."""
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


def shares_of(filled: Filled, ask: Ask) -> Shares | None:
    """How the stations share the bus for this ask: boards as set volts behind leads, bare machines by their own line."""
    stations = station_rigs(filled)
    boards = [main_board(rig) for _name, rig, _lead in stations]
    if any(board is None or board.set_voltage is None for board in boards):
        return _bare_shares(filled, ask, stations)
    sets = np.array([b.set_voltage.value for b in boards if b and b.set_voltage])
    leads = np.array([lead for _n, _r, lead in stations])
    limits = np.array([_limit(b) for b in boards if b])
    wanted = _wanted_amps(filled, ask, float(np.max(sets)))
    edges = np.array([_edge(rig, ask) for _name, rig, _lead in stations])
    rows, volts = _rows(stations, sets, leads, limits, wanted, edges, ask)
    fair = _fair_resistance(sets, leads, limits, wanted)
    fair_rows, _v = _rows(stations, sets, leads + fair, limits, wanted, edges, ask)
    per_metre = float(wire.conductor_resistance(length=1.0, area=THIN_WIRE))
    return Shares(
        rows=rows,
        bus_volts=volts,
        wanted=wanted,
        fair_resistance=fair,
        fair_rows=fair_rows,
        limit_each=1.02 * wanted / len(stations),
        wire_length=fair / (2 * per_metre),
        wire_area=THIN_WIRE,
    )


def _limit(board: Converter) -> float:
    caps = [m.value for m in (board.set_current, board.output_current) if m is not None]
    return min(caps) if caps else math.inf


def _wanted_amps(filled: Filled, ask: Ask, volts: float) -> float:
    """Amps the bus asks for: the load's, or the battery's allowed charging amps."""
    rig = filled.rig
    load = next((x for x in rig.load if x.name.casefold() == ask.load.casefold()), None)
    if load is not None and load.power is not None:
        return load.power.value / (load.voltage.value if load.voltage else volts)
    if rig.battery is not None and rig.battery.charge_current is not None:
        return rig.battery.charge_current.value
    return 1.0


def _edge(rig: Rig, ask: Ask) -> float:
    """Most watts this station's rider can put on the bus."""
    plain = dataclasses.replace(rig, neighbour=())
    load = ask.load
    bound = bind(
        Filled(rig=plain, assumed=()),
        load,
        plain.ride.rider if plain.ride and plain.ride.rider else None,
        effort=ask.effort,
        draws=0,
    )
    person_power = float(
        power_for(bound.critical_power[0], bound.work_reserve[0], ask.duration, bound.p_peak[0])
    )
    return max(float(edge_watts(bound, g, person_power)[0][0]) for g in range(len(bound.gears)))


def _rows(
    stations: list[tuple[str, Rig, float]], sets: F, leads: F, limits: F, wanted: float, edges: F, ask: Ask
) -> tuple[tuple[StationRow, ...], float]:
    amps, volts = _share(sets, leads, limits, wanted)
    amps, v = np.atleast_1d(amps), float(np.asarray(volts))
    drawn = Draws(256, ask.seed)
    shifts = np.stack([drawn.column(f"set.{k}", _screw(float(s)))[1:] for k, s in enumerate(sets)], axis=-1)
    many, _volts = _share(shifts, leads, limits, wanted)
    rows = []
    mean = wanted / len(stations)
    for k, (name, rig, _lead) in enumerate(stations):
        watts = float(amps[k] * v)
        holds = watts <= edges[k]
        if not holds:
            says = CRUSHED
        elif amps[k] < 0.1 * mean:
            says = "feels nothing"
        elif amps[k] > 1.5 * mean:
            says = "carries most of it"
        else:
            says = "carries a fair share"
        rider = rig.ride.rider if rig.ride and rig.ride.rider else rig.rider[0].name
        rows.append(
            StationRow(
                name=name,
                rider=rider,
                amps=Band.of(many[:, k], float(amps[k])),
                p_rider=_legs_for(rig, ask, watts),
                holds=bool(holds),
                says=says,
            )
        )
    return tuple(rows), v


def _screw(volts: float) -> Measured:
    return Measured(volts, SET_SD, "measured")


def _legs_for(rig: Rig, ask: Ask, watts: float) -> float:
    """Watts at the pedals for these watts on the bus, at the share this chain passes on at its edge."""
    plain = dataclasses.replace(rig, neighbour=())
    bound = bind(
        Filled(rig=plain, assumed=()),
        ask.load,
        plain.ride.rider if plain.ride and plain.ride.rider else None,
        effort=ask.effort,
        draws=0,
    )
    table = [edge_watts(bound, g, ask.effort) for g in range(len(bound.gears))]
    g = int(np.argmax([t[0][0] for t in table]))
    w = float(table[g][4][0])
    shaft_drag = bound.params[Param.T_COULOMB, 0] + bound.params[Param.B_VISCOUS, 0] * w * bound.ratio[g, 0]
    idle = float(bound.gain[g, 0] * shaft_drag + bound.drag[g, 0]) * w
    best = float(table[g][0][0])
    if best <= 0:
        return math.nan
    able = 4 * ask.effort * (w / bound.w_top[0]) * (1 - w / bound.w_top[0])
    return float(idle + max(able - idle, 0.0) * watts / best)


def _share(sets: F, leads: F, limits: F, wanted: float) -> tuple[F, F]:
    """Amps of every board (last axis) and volts of the bus; a board at its amps limit gives just that and no more."""
    full = np.zeros(sets.shape, dtype=bool)
    amps, volts = np.zeros(sets.shape), np.zeros(sets.shape[:-1])
    for _ in range(sets.shape[-1]):
        left = wanted - np.sum(np.where(full, limits, 0.0), axis=-1)
        found = bus.share_currents(np.where(full, -1e3, sets), r_sources=leads, i_constant=left)
        amps, volts = np.where(full, limits, found[1]), np.asarray(found[0])
        over = ~full & (amps > limits)
        if not over.any():
            break
        full |= over
    return amps, volts


def _fair_resistance(sets: F, leads: F, limits: F, wanted: float) -> float:
    """Smallest resistance to add to every lead so that no rider differs from the mean by more than FAIR_SPREAD of it."""
    mean = wanted / sets.size

    def uneven(extra: float) -> float:
        amps, _v = _share(sets, leads + extra, limits, wanted)
        return float(np.max(np.abs(np.asarray(amps) - mean)) / mean)

    if uneven(0.0) <= FAIR_SPREAD:
        return 0.0
    high = 0.05
    while uneven(high) > FAIR_SPREAD and high < 20:
        high *= 2
    low = high / 2
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if uneven(middle) > FAIR_SPREAD else (low, middle)
    return high


def _bare_shares(filled: Filled, ask: Ask, stations: list[tuple[str, Rig, float]]) -> Shares | None:
    """Machines straight on one battery: each rider's own torque sets the amps; together they lift its volts a little."""
    bounds, riders, efforts = [], [], []
    for _name, rig, _lead in stations:
        rider = rig.ride.rider if rig.ride and rig.ride.rider else rig.rider[0].name
        bound = bind(
            Filled(rig=rig, assumed=()), ask.load, rider, effort=ask.effort, draws=DRAWS, seed=ask.seed
        )
        own = float(power_for(bound.critical_power[0], bound.work_reserve[0], ask.duration, bound.p_peak[0]))
        bounds.append(bound)
        riders.append(rider)
        efforts.append(ask.effort if rider == ask.rider else own)
    if not bounds[0].params[Param.HAS_STORE].all():
        return None  # no battery to pin them: each is taken to carry its part
    amps = np.zeros((len(bounds), DRAWS + 1))
    watts, volts, gears = np.zeros(len(bounds)), math.nan, [0] * len(bounds)
    for _ in range(ROUNDS):
        for k, bound in enumerate(bounds):
            params = bound.params.copy()
            params[Param.A] -= amps.sum(axis=0) - amps[k]
            params[Param.U_REST] = rest_voltage(params[Param.A], params[Param.G], params[Param.P])
            found, _w, _kind = solve.crossings(dataclasses.replace(bound, params=params), efforts[k])
            gears[k] = int(np.nanargmax(np.nan_to_num(found.i_out[:, 0], nan=-1.0)))
            amps[k] = np.maximum(np.nan_to_num(found.i_out[gears[k]]), 0.0)
            watts[k], volts = float(found.p_rider[gears[k], 0]), float(found.v_out[gears[k], 0])
    rows = tuple(
        StationRow(
            name=stations[k][0],
            rider=riders[k],
            amps=Band.of(amps[k, 1:], float(amps[k, 0])),
            p_rider=float(watts[k]),
            holds=bool(amps[k, 0] > 0),
            says="adds what the legs push" if amps[k, 0] > 0 else "does not reach the battery's volts",
        )
        for k in range(len(bounds))
    )
    total = float(amps[:, 0].sum())
    return Shares(
        rows=rows,
        bus_volts=volts,
        wanted=total,
        fair_resistance=0.0,
        fair_rows=rows,
        limit_each=total / max(len(rows), 1),
        wire_length=0.0,
        wire_area=THIN_WIRE,
        bare=True,
    )
