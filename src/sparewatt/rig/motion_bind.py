"""Numbers of a rig in motion from its records: inertias, lags, fuses, the tool's motor and the output's law, beside what
`bind` already knows.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Rig
from sparewatt.physics import converter, flywheel, heat, store
from sparewatt.physics.transients import FUSE_CURVES
from sparewatt.rig.bind_load import bind_load
from sparewatt.rig.columns import Columns
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled
from sparewatt.rig.fill_motion import (
    INNER_SHARE,
    MAGNET_SHARE,
    WINDING_SHARE,
    fill_motion,
    freewheel_stage,
)
from sparewatt.rig.hookup import board_index, path_fuses
from sparewatt.rig.layout import Bound, Hookup, Param
from sparewatt.rig.motion_layout import Geo, Move, Out
from sparewatt.rig.storing import storing_of

__all__ = ["Moving", "bind_motion", "join_rigs"]

F = NDArray[np.float64]
DIRECT_CAP = 1e-4  # F across a bus that has no board and no capacitor: what the appliances themselves carry
BOARD_CAP = 1e-3  # F at the input of a board (common practice, no source)
NODE_MARGIN = 1.5  # a capacitor that is not in the file is taken this much above what keeps the node quiet
RISING = 0.1  # of the likely charging amps: below it the charge's lift fades to nothing with the amps
RETRY = 0.5  # s an appliance waits before it tries again (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moving:
    """One or more rigs on one output as kernel numbers; axis 0 is the column (0 nominal), axis 1 the rig."""

    filled: Filled  # with what its motion needs
    bounds: tuple[Bound, ...]
    gears: tuple[tuple[str, ...], ...]
    q: F  # (cols, rigs, Param)
    mv: F  # (cols, rigs, Move)
    geo: F  # (cols, rigs, gears, Geo)
    table: F  # (rigs, points): push over one turn, no points: two lobes
    oc: F  # (cols, Out)
    ocv: F  # (2, points): charge and rested volts of the battery
    fuses: F  # (4, width): machine, board, battery, load
    capacitance_assumed: bool

    @property
    def cols(self) -> int:
        """Columns: draws + 1."""
        return int(self.q.shape[0])

    @property
    def rigs(self) -> int:
        """Rigs on the output."""
        return int(self.q.shape[1])


def bind_motion(filled: Filled, bound: Bound, *, hot: bool = True) -> Moving:
    """Numbers of one rig in motion. bound: of the same filled rig, cold or at the temperatures to start from.

    The draws of what only motion needs follow those of `bound` (same seed, further dimensions).
    """
    moving = fill_motion(Filled(rig=bound.rig, assumed=()))
    rig = moving.rig
    draws = Draws(bound.cols - 1, 1, scores=dict(bound.scores))
    columns = Columns(draws)
    person = rig.rider[_rider_index(bound)]
    where = f"rider.{_rider_index(bound)}"
    geo = _geometry(rig, bound, columns, columns.get(person, where, "leg_inertia"), person.uses != "arms")
    mv = _constants(rig, bound, columns)
    mv[:, Move.REACTION] = columns.get(person, where, "reaction_time")
    mv[:, Move.W_SPRINT] = columns.get(person, where, "sprint_cadence")
    table = np.zeros(0)
    if person.push_curve:
        table = _push_table(person.push_curve)
    else:
        mv[:, Move.RIPPLE] = np.maximum(columns.get(person, where, "peak_to_mean") - 1, 0.0)
    mv[:, Move.FREEWHEEL] = float(freewheel_stage(rig, person.uses != "arms") >= 0)
    oc, ocv = _output(rig, bound, columns)
    assumed = _capacitor(rig, bound, mv)
    return Moving(
        filled=Filled(rig=rig, assumed=moving.assumed),
        bounds=(bound,),
        gears=(bound.gears,),
        q=np.ascontiguousarray(bound.params.T[:, None, :]),
        mv=mv[:, None, :],
        geo=geo[:, None, :, :],
        table=table[None, :],
        oc=oc,
        ocv=ocv,
        fuses=_fuses(rig, bound.hookup),
        capacitance_assumed=assumed,
    )


def join_rigs(main: Moving, others: Sequence[Moving], leads: Sequence[float]) -> Moving:
    """Several rigs on one output: the main one's battery and load, each rig's own lead (ohm) to the shared bus."""
    all_ = (main, *others)
    gears = max(m.geo.shape[2] for m in all_)
    points = max(m.table.shape[1] for m in all_)

    def padded(geo: F) -> F:
        return np.concatenate([geo, np.repeat(geo[:, :, -1:], gears - geo.shape[2], axis=2)], axis=2)

    def tabled(m: Moving) -> F:
        if m.table.shape[1] == points:
            return m.table
        ripple = m.mv[0, :, Move.RIPPLE][:, None]
        at = 2 * np.pi * np.arange(points) / points
        made = 1 - ripple * np.cos(2 * at) if m.table.shape[1] == 0 else _resampled(m.table, points)
        return np.asarray(made)

    mv = np.concatenate([m.mv for m in all_], axis=1).copy()
    mv[:, :, Move.R_LEAD] = np.maximum(np.asarray(leads, dtype=float)[None, :], 1e-3)
    return dataclasses.replace(
        main,
        bounds=tuple(b for m in all_ for b in m.bounds),
        gears=tuple(g for m in all_ for g in m.gears),
        q=np.concatenate([m.q for m in all_], axis=1),
        mv=mv,
        geo=np.concatenate([padded(m.geo) for m in all_], axis=1),
        table=np.concatenate([tabled(m) for m in all_], axis=0),
        capacitance_assumed=any(m.capacitance_assumed for m in all_),
    )


def _resampled(table: F, points: int) -> F:
    at = np.arange(points) / points * table.shape[1]
    wrapped = np.concatenate([table, table[:, :1]], axis=1)
    return np.stack([np.interp(at, np.arange(wrapped.shape[1]), row) for row in wrapped])


def _rider_index(bound: Bound) -> int:
    return next(k for k, r in enumerate(bound.rig.rider) if r.name == bound.rider.name)


def _push_table(curve: Sequence[tuple[float, float]], points: int = 72) -> F:
    """A push curve (degrees, push) over one turn at even angles, its mean made one."""
    degrees, push = np.asarray(curve, dtype=float).T
    at = np.arange(points) * 360.0 / points
    table = np.interp(at, degrees, push, period=360.0)
    return np.asarray(table / np.mean(table))


def _geometry(rig: Rig, bound: Bound, columns: Columns, legs: F, uses_legs: bool) -> F:
    """(cols, gears, Geo): the drive split where the freewheel sits."""
    s, n, gears, cols = bound.stages, len(rig.stage), len(bound.gears), bound.cols
    free_at = freewheel_stage(rig, uses_legs)
    geo = np.zeros((cols, gears, len(Geo)))
    inertia = [np.asarray(legs)] + [
        columns.get(stage, f"stage.{k}", "inertia") for k, stage in enumerate(rig.stage)
    ]
    inertia[-1] = inertia[-1] + columns.get(rig.machine, "machine", "inertia")
    for k, wheel in enumerate(rig.flywheel):
        place = min(n if wheel.after_stage is None else wheel.after_stage, n)
        mass, radius = (
            columns.get(wheel, f"flywheel.{k}", "mass"),
            columns.get(wheel, f"flywheel.{k}", "diameter") / 2,
        )
        own = (
            flywheel.ring_inertia(mass, radius_inner=0.8 * radius, radius_outer=radius)
            if wheel.shape == "rim"
            else flywheel.disc_inertia(mass, radius)
        )
        inertia[place] = inertia[place] + own
    for g in range(gears):
        turns, force = np.ones(cols), np.ones(cols)
        before, slope_before, after, slope_after = (np.zeros(cols) for _ in range(4))
        j_crank, shafts = inertia[0].copy(), []
        for k, stage in enumerate(rig.stage):
            creep = stage.creep.value if stage.creep is not None else 0.0
            turns = turns * s.ratio[k, g]
            geometric = _geometric(bound, k, g, creep)
            force = force * geometric / s.efficiency[k]
            drag, slope = force * s.drag[k], force * s.slope[k] * turns
            if k <= free_at or free_at < 0:
                before, slope_before = before + drag, slope_before + slope
            else:
                after, slope_after = after + drag, slope_after + slope
            if k < free_at:
                j_crank = j_crank + inertia[k + 1] * turns**2
            else:
                shafts.append((inertia[k + 1], turns))
        ratio, gain = bound.ratio[g], bound.gain[g]
        if not shafts:
            shafts = [(inertia[-1], np.ones(cols))]
            j_crank = np.asarray(legs).copy() if n == 0 else j_crank
        geo[:, g, Geo.RATIO], geo[:, g, Geo.GAIN] = ratio, gain
        scale = bound.drag[g] / np.where(before + after > 0, before + after, 1.0)
        lean = bound.slope[g] / np.where(slope_before + slope_after > 0, slope_before + slope_after, 1.0)
        geo[:, g, Geo.DRAG_BEFORE], geo[:, g, Geo.SLOPE_BEFORE] = before * scale, slope_before * lean
        geo[:, g, Geo.DRAG_AFTER] = after * scale / gain
        geo[:, g, Geo.SLOPE_AFTER] = slope_after * lean / (gain * ratio)
        geo[:, g, Geo.J_CRANK] = j_crank
        geo[:, g, Geo.J_SHAFT] = sum(j * (turns / ratio) ** 2 for j, turns in shafts)
    return geo


def _geometric(bound: Bound, k: int, g: int, creep: float) -> F:
    return np.asarray(bound.stages.ratio[k, g] / (1 - creep))


def _constants(rig: Rig, bound: Bound, columns: Columns) -> F:
    """(cols, Move): everything of one rig that is not drive or output."""
    machine, board, diode = rig.machine, bound.hookup.board, rig.diode
    assert machine is not None and machine.thermal_resistance is not None and machine.thermal_time is not None
    mv = np.zeros((bound.cols, len(Move)))
    mv[:, Move.INDUCTANCE] = np.maximum(columns.get(machine, "machine", "inductance"), 1e-5)
    bus = rig.bus
    mv[:, Move.CAPACITANCE] = columns.get(bus, "bus", "capacitance") if bus is not None else 0.0
    if bus is not None and bus.bleeder is not None:
        mv[:, Move.G_BLEED] = 1 / columns.get(bus, "bus", "bleeder")
    mv[:, Move.V_CLAMP], mv[:, Move.R_CLAMP] = np.inf, 1.0
    if rig.clamp is not None:
        mv[:, Move.V_CLAMP] = columns.get(rig.clamp, "clamp", "voltage")
        mv[:, Move.R_CLAMP] = columns.get(rig.clamp, "clamp", "resistance")
    mv[:, Move.I_SET], mv[:, Move.V_RATED], mv[:, Move.V_BACK_FEED] = np.inf, np.inf, np.inf
    if board is not None:
        where = f"converter.{board_index(bound.rig, board)}"
        same = rig.converter[board_index(bound.rig, board)]
        wake = columns.get(same, where, "restart")
        mv[:, Move.V_WAKE] = np.maximum(wake, bound.params[Param.V_SLEEP] * 1.001)
        mv[:, Move.T_SOFT] = columns.get(same, where, "soft_start")
        mv[:, Move.I_SET] = bound.extras["i_set"]
        if board.kind == "buck" and bound.hookup.battery is not None:
            mv[:, Move.V_BACK_FEED] = 0.7
    rated = [
        m.value for m in (board.input_max if board else None, bus.capacitor_voltage if bus else None) if m
    ]
    if rated:
        mv[:, Move.V_RATED] = min(rated)
    mv[:, Move.V_BRUSH] = bound.extras["v_brush"]
    mv[:, Move.R_COLD], mv[:, Move.K_COLD] = bound.extras["r_wind_cold"], bound.extras["k_emf_cold"]
    mv[:, Move.R_WIND_NOW] = bound.extras["r_wind"]
    mv[:, Move.MAGNET_SLOPE] = heat.MAGNET_SLOPE.get(
        machine.magnets or "unknown", heat.MAGNET_SLOPE["unknown"]
    )
    r_th = columns.get(machine, "machine", "thermal_resistance")
    mv[:, Move.R_TH_IN], mv[:, Move.R_TH_OUT] = INNER_SHARE * r_th, (1 - INNER_SHARE) * r_th
    capacity = columns.get(machine, "machine", "thermal_time") / r_th
    mv[:, Move.C_WIND], mv[:, Move.C_CASE] = WINDING_SHARE * capacity, (1 - WINDING_SHARE) * capacity
    air = (
        rig.place.temperature.value if rig.place is not None and rig.place.temperature is not None else 293.15
    )
    mv[:, Move.T_AIR], mv[:, Move.MAGNET_SHARE] = air, MAGNET_SHARE
    mv[:, Move.W_TOP], mv[:, Move.CRITICAL] = bound.w_top, bound.critical_power
    mv[:, Move.RESERVE], mv[:, Move.PEAK] = bound.work_reserve, bound.p_peak
    mv[:, Move.HEATS] = mv[:, Move.TIRES] = 1.0
    assert diode is not None
    return mv


def _capacitor(rig: Rig, bound: Bound, mv: F) -> bool:
    """Fill in a capacitor the file does not name: enough to keep board and coil from swinging. True when assumed."""
    if rig.bus is not None and rig.bus.capacitance is not None:
        mv[:, Move.CAPACITANCE] = np.maximum(mv[:, Move.CAPACITANCE], 1e-6)
        return False
    if bound.hookup.board is None:
        mv[:, Move.CAPACITANCE] = DIRECT_CAP
        return False
    watts = np.maximum(bound.params[Param.P_HELD], 10.0)
    volts = np.maximum(bound.params[Param.V_SLEEP], 3.0)
    quiet = converter.input_capacitance(
        volts, p_load=watts, inductance=mv[:, Move.INDUCTANCE], r_source=bound.params[Param.R_SOURCE]
    )
    mv[:, Move.CAPACITANCE] = np.maximum(BOARD_CAP, NODE_MARGIN * np.asarray(quiet))
    return True


def _output(rig: Rig, bound: Bound, columns: Columns) -> tuple[F, F]:
    """(cols, Out) and the battery's rested volts against charge."""
    oc, x = np.zeros((bound.cols, len(Out))), bound.extras
    oc[:, Out.R_STORE], oc[:, Out.CAPACITY], oc[:, Out.TAIL], oc[:, Out.ETA_FILL] = 1.0, 1.0, 3600.0, 0.95
    oc[:, Out.ETA_TAIL], oc[:, Out.V_GAS], oc[:, Out.I_GAS] = 0.95, 1.0, 1.0
    oc[:, Out.U_MAX] = oc[:, Out.OWN_AMPS] = oc[:, Out.OWN_IN] = np.inf
    oc[:, Out.SURGE], oc[:, Out.T_SURGE], oc[:, Out.T_RETRY] = 1.0, 0.05, RETRY
    oc[:, Out.MOTOR_R] = oc[:, Out.MOTOR_L] = oc[:, Out.MOTOR_J] = oc[:, Out.MOTOR_SAT] = 1.0
    ocv = np.array([[0.0, 1.0], [0.0, 0.0]])
    battery = rig.battery if bound.hookup.battery is not None else None
    if battery is not None:
        assert (
            battery.capacity is not None
            and battery.voltage is not None
            and battery.charge_voltage is not None
        )
        oc[:, Out.HAS_BATTERY] = 1.0
        oc[:, Out.V_REST], oc[:, Out.R_STORE] = x["v_open"], x["r_cell"] + x["r_battery_wire"]
        oc[:, Out.RISE], oc[:, Out.RISE_SLOPE] = x["v_back"] - x["v_open"], x["v_slope"]
        oc[:, Out.RISE_AMPS] = RISING * x["i_likely"]

        oc[:, Out.R_BATTERY_WIRE] = x["r_battery_wire"]
        oc[:, Out.CAPACITY] = battery.capacity.value * columns.get(battery, "battery", "health", 1.0)
        oc[:, Out.SOC] = columns.get(battery, "battery", "charge", 0.5)
        kind = store.CHEMISTRIES[battery.chemistry]
        cells = store.cells_in_series(battery.voltage.value, chemistry=battery.chemistry)
        oc[:, Out.SAG], oc[:, Out.TIRING] = kind.sag * cells, kind.tiring
        oc[:, Out.SAG_AMPS] = oc[:, Out.CAPACITY] / 360_000.0  # the current of a hundred hours
        law = storing_of(battery, oc[:, Out.CAPACITY])
        oc[:, Out.V_FULL], oc[:, Out.TAIL] = law.v_full, law.tail_time
        oc[:, Out.ETA_FILL], oc[:, Out.ETA_TAIL] = law.eta_bulk, law.eta_tail
        oc[:, Out.V_GAS], oc[:, Out.I_GAS] = law.v_gas, law.i_gas
        if law.v_high > 0:
            oc[:, Out.V_HIGH], oc[:, Out.V_HIGH_BACK] = law.v_high, law.v_high_back
            oc[:, Out.V_LOW], oc[:, Out.V_LOW_BACK] = law.v_low, law.v_low_back
            oc[:, Out.I_OPEN] = law.i_open
        grid = np.linspace(-0.1, 1.1, 49)
        temperature = battery.temperature.value if battery.temperature is not None else 293.15
        ocv = np.stack(
            [
                grid,
                store.open_circuit_voltage(
                    grid, v_name=battery.voltage.value, chemistry=battery.chemistry, temperature=temperature
                ),
            ]
        )
    if "p_field" in x:
        oc[:, Out.FIELD] = x["p_field"]
    load = bound.hookup.load
    if load is None:
        oc[:, Out.LOAD_WATTS] = -1.0
        return oc, ocv
    index = bound.rig.load.index(load)
    bind_load(rig.load[index], f"load.{index}", bound, columns, oc)
    return oc, ocv


def _fuses(rig: Rig, joined: Hookup) -> F:
    """(4, width) rating, points, ln multiples, ln seconds, first multiple: fuses of machine, board, battery, load."""
    width = 5 + 2 * max(len(m) for m, _s in FUSE_CURVES.values())
    table = np.full((4, width), np.inf)
    for k, fuses in enumerate(path_fuses(rig, joined)):
        if not fuses:
            continue
        fuse, rating = min(fuses, key=lambda pair: pair[1])
        multiples, seconds = (np.asarray(x, dtype=float) for x in FUSE_CURVES[fuse.kind or "blade"])
        far = 1e3  # beyond the curve: the same square of amps times time
        seconds = np.append(seconds, seconds[-1] * (multiples[-1] / far) ** 2)
        multiples = np.append(multiples, far)
        n = len(multiples)
        table[k, 0], table[k, 1], table[k, -1] = rating, n, multiples[0]
        table[k, 2 : 2 + n], table[k, 2 + n : 2 + 2 * n] = np.log(multiples), np.log(seconds)
    return table
