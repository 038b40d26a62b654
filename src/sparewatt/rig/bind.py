"""Records into numbers: the one place where parts meet formulas.

`bind` reads a filled rig and gives `Bound`: one column for the nominal rig and one for each draw of what is uncertain.
"""

from __future__ import annotations

import dataclasses
import itertools
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Converter, Load, Measured, Rider, Rig, Stage, Wire, spec_of
from sparewatt.parts.records import BELTS
from sparewatt.physics import appliances, heat, roller, store, wire
from sparewatt.physics import machine as machine_physics
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import hookup
from sparewatt.rig.layout import Bound, Hookup, Kind, Param, Stages

__all__ = ["bind", "find_rider", "gear_names", "hold_board", "reheat", "scaled"]

F = NDArray[np.float64]
WORST = ("guess", "typical", "nameplate", "computed", "measured")
WORKING_SHARE = (
    0.62  # share of the asked effort that reaches the battery; only places the tangent of its charge curve
)


def find_rider(rig: Rig, name: str | None) -> Rider:
    """The rider of that name; the usual one, else the first, when no name is given."""
    wanted = name or (rig.ride.rider if rig.ride else "") or rig.rider[0].name
    for rider in rig.rider:
        if rider.name.casefold() == wanted.casefold():
            return rider
    known = ", ".join(f"'{r.name}'" for r in rig.rider)
    raise BadRequest(
        Problem(
            where="rider",
            read=wanted,
            problem=f"there is no rider called '{wanted}'",
            hint=f"riders: {known}",
        )
    )


def gear_names(rig: Rig) -> tuple[str, ...]:
    """Every gear as "driver/driven", in the order of the file; one gear called "single" when nothing shifts."""
    choices = [_stage_gears(stage) for stage in rig.stage]
    shifting = [k for k, names in enumerate(choices) if len(names) > 1] or [
        k for k, s in enumerate(rig.stage) if s.driver_teeth
    ][:1]
    names = []
    for combination in itertools.product(*choices) if choices else [()]:
        label = " + ".join(combination[k] for k in shifting if combination[k])
        names.append(label or "single")
    return tuple(names)


def _stage_gears(stage: Stage) -> list[str]:
    if stage.driver_teeth and stage.driven_teeth:
        return [f"{a}/{b}" for a in stage.driver_teeth for b in stage.driven_teeth]
    return [""]


class _Columns:
    """Hands out columns by part and field name, with the field's own description."""

    def __init__(self, draws: Draws) -> None:
        self.draws = draws

    def get(self, part: Any, where: str, name: str, default: float = 0.0) -> F:
        """Column of `part.name`; `default` when the part is silent."""
        if part is None:
            return np.full(self.draws.draws + 1, default)
        spec = spec_of(type(part).__dataclass_fields__[name])
        return self.draws.column(f"{where}.{name}", getattr(part, name), spec, default)


def bind(
    filled: Filled,
    load: str,
    rider: str | None = None,
    *,
    effort: float = 100.0,
    draws: int = 1024,
    seed: int = 1,
) -> Bound:
    """Numbers for one rig, load and rider.

    effort (W) only places the tangent of the battery's charge curve. Cold winding and magnets: see `reheat`.
    """
    rig = filled.rig
    joined = hookup(rig, load)
    columns = _Columns(Draws(draws, seed))
    params = np.zeros((len(Param), draws + 1))
    extras: dict[str, F] = {}
    _bind_source(rig, joined, columns, params, extras)
    _bind_output(rig, joined, columns, params, extras, effort)
    _bind_board(joined, rig, columns, params, extras)
    gears, ratio, gain, drag, slope, stages = _bind_drive(rig, columns)
    person = find_rider(rig, rider)
    where = f"rider.{rig.rider.index(person)}"
    return Bound(
        rig=rig,
        hookup=joined,
        rider=person,
        gears=gears,
        params=params,
        ratio=ratio,
        gain=gain,
        drag=drag,
        slope=slope,
        stages=stages,
        w_top=columns.get(person, where, "top_cadence"),
        critical_power=columns.get(person, where, "critical_power"),
        work_reserve=columns.get(person, where, "work_reserve"),
        p_peak=columns.get(person, where, "peak_power"),
        extras=extras,
        scores=dict(columns.draws.scores),
        hows=dict(columns.draws.hows),
        assumed=tuple(sorted({f"{key}: {says}" for key, says in filled.assumed})),
    )


def reheat(bound: Bound, winding: float, magnet: float) -> Bound:
    """The same rig with its copper and magnets at these temperatures (K)."""
    params = bound.params.copy()
    magnets = bound.rig.machine.magnets if bound.rig.machine else "unknown"
    r = bound.extras["r_wind_cold"] * heat.copper_factor(winding)
    k = bound.extras["k_emf_cold"] * heat.magnet_factor(magnet, magnets=magnets)
    params[Param.R_SOURCE] += r - bound.extras["r_wind"]
    params[Param.K_EMF] = k
    return dataclasses.replace(bound, params=params, extras={**bound.extras, "r_wind": r})


def _bind_source(rig: Rig, joined: Hookup, columns: _Columns, params: F, extras: dict[str, F]) -> None:
    """Machine, diode and the wire up to the board (or battery, or load)."""
    machine, diode = rig.machine, rig.diode
    assert machine is not None and diode is not None
    k = columns.get(machine, "machine", "emf_constant")
    r = columns.get(machine, "machine", "resistance")
    r_speed = np.zeros_like(k)
    v_diode = columns.get(diode, "diode", "drop")
    if machine.kind == "pm_three_phase":
        source = machine_physics.bridge_source(
            k_line=k,
            r_line=r,
            inductance=columns.get(machine, "machine", "inductance"),
            pole_pairs=float(machine.pole_pairs or 4),
        )
        k, r, r_speed = source.k_emf, source.r_wind, source.r_per_speed
    blocks = diode.kind != "none" or machine.kind in ("pm_three_phase", "alternator")
    run = "board" if joined.board is not None else "battery"
    r_wire = run_resistance(rig, columns, "machine")
    extras |= {
        "k_emf_cold": k,
        "r_wind_cold": r,
        "r_wind": r,
        "r_diode": columns.get(diode, "diode", "resistance"),
        "v_diode": v_diode,
        "v_brush": columns.get(machine, "machine", "brush_drop"),
        "r_wire": r_wire,
        "to": np.full_like(k, float(run == "board")),
    }
    params[Param.K_EMF] = k
    params[Param.R_SOURCE] = r + extras["r_diode"] + r_wire
    params[Param.R_SPEED] = r_speed
    params[Param.V_DROP] = extras["v_brush"] + v_diode
    params[Param.T_COULOMB] = columns.get(machine, "machine", "friction")
    params[Param.B_VISCOUS] = columns.get(machine, "machine", "friction_slope")
    params[Param.HAS_DIODE] = float(blocks)


def run_resistance(rig: Rig, columns: _Columns, run: str) -> F:
    """Both conductors and the contacts of one run of wire (ohm); 10 mohm of contacts when the file names no such run."""
    total = np.zeros(columns.draws.draws + 1)
    found: list[tuple[int, Wire]] = [(k, w) for k, w in enumerate(rig.wire) if w.run == run]
    for k, w in found:
        where = f"wire.{k}"
        length, area = columns.get(w, where, "length"), columns.get(w, where, "size")
        copper = 2 * wire.conductor_resistance(length=length, area=area)
        total = total + copper + columns.get(w, where, "contact_resistance")
    if not found:
        total = total + columns.draws.column(f"wire.{run}.contacts", Measured(0.01, 0.005, "typical"))
    return total


def _bind_output(
    rig: Rig, joined: Hookup, columns: _Columns, params: F, extras: dict[str, F], effort: float
) -> None:
    """What hangs on the output: battery as open volts behind a resistance, loads as a + g u + p/u."""
    n = params.shape[1]
    a, g, p, quit_ = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    if joined.load is not None:
        a, g, p, quit_ = _bind_load(rig, joined, columns, extras)
    if rig.machine is not None and rig.machine.kind == "alternator":
        field = columns.get(rig.machine, "machine", "field_voltage") * columns.get(
            rig.machine, "machine", "field_current"
        )
        extras["p_field"] = field
        p = p + field
    if joined.battery is not None:
        a_store, g_store = _bind_battery(rig, joined, columns, extras, effort)
        a, g = a + a_store, g + g_store
        quit_ = np.zeros(n)
        params[Param.HAS_STORE] = 1.0
        params[Param.U_REST] = rest_voltage(a, g, p)
    params[Param.A], params[Param.G], params[Param.P], params[Param.U_QUIT] = a, g, p, quit_


def rest_voltage(a: F, g: F, p: F) -> F:
    """Output volts with nothing from the rig: higher root of a + g u + p/u = 0 (a is negative: the battery gives)."""
    disc = np.sqrt(np.maximum(a * a - 4 * g * p, 0.0))
    return np.asarray((-a + disc) / (2 * g))


def _bind_battery(
    rig: Rig, joined: Hookup, columns: _Columns, extras: dict[str, F], effort: float
) -> tuple[F, F]:
    """Norton form of the battery with its wire, tangent to its charge curve at the likely current."""
    battery = joined.battery
    assert battery is not None and battery.voltage is not None and battery.capacity is not None
    soc = columns.get(battery, "battery", "charge", 0.5)
    temperature = columns.get(battery, "battery", "temperature", 293.15)
    volts = float(battery.voltage.value)
    v_open = store.open_circuit_voltage(
        soc, temperature=temperature, v_name=volts, chemistry=battery.chemistry
    )
    r_cell = columns.get(battery, "battery", "resistance")
    r_wire = (
        run_resistance(rig, columns, "board" if joined.board is not None else "battery")
        if joined.board is not None
        else 0.0
    )
    capacity = battery.capacity.value * columns.get(battery, "battery", "health", 1.0)
    likely = max(0.02 * battery.capacity.value / 3600, WORKING_SHARE * effort / volts)
    if (
        battery.charge_current is not None
        and joined.board is not None
        and joined.board.set_current is not None
    ):
        likely = min(likely, joined.board.set_current.value)
    rise, slope = store.charge_rise(likely, capacity=capacity, chemistry=battery.chemistry, v_name=volts)
    v_back = v_open + rise - slope * likely
    r = r_cell + r_wire + slope
    extras |= {
        "v_open": v_open,
        "v_back": v_back,
        "r_store": r,
        "r_battery_wire": r_wire + np.zeros_like(r),
        "r_cell": r_cell,
        "v_slope": slope + np.zeros_like(r),
    }
    return -v_back / r, 1.0 / r


def _bind_load(rig: Rig, joined: Hookup, columns: _Columns, extras: dict[str, F]) -> tuple[F, F, F, F]:
    """Demand of the appliance at the output: a, g, p and the volts below which it quits."""
    load = joined.load
    assert load is not None
    where = f"load.{rig.load.index(load)}"
    power = columns.get(load, where, "power")
    volts = columns.get(load, where, "voltage")
    quit_ = columns.get(load, where, "voltage_min")
    a, g, p = appliance_demand(load, power, volts)
    extras |= {"p_load": power, "v_load": volts, "load_a": a, "load_g": g, "load_p": p}
    if joined.load_board is not None:
        k = rig.converter.index(joined.load_board)
        loss = board_loss(joined.load_board, columns, f"converter.{k}")
        watts = power + loss[0] + loss[1] * power + loss[2] * power**2
        extras |= {"p_load_board": watts}
        zero = np.zeros_like(power)
        extras |= {"load_a": zero, "load_g": zero, "load_p": watts}
        return zero, zero, watts, columns.get(joined.load_board, f"converter.{k}", "input_min")
    return a, g, p, quit_


def appliance_demand(load: Load, power: F, volts: F) -> tuple[F, F, F]:
    """i(u) = a + g u + p/u of an appliance that takes `power` at `volts`: exact for resistors and regulated electronics,
    a tangent at its own volts for lamps and motors."""
    zero = np.zeros_like(power)
    if load.kind == "heater":
        return zero, power / volts**2, zero
    if load.kind in ("lamp", "dc_motor", "universal_motor"):
        exponent = {"lamp": appliances.BULB_EXPONENT, "dc_motor": 1.4, "universal_motor": 0.8}[load.kind]
        i = power / volts
        return i * (1 - exponent), exponent * i / volts, zero
    return zero, zero, power


def board_loss(board: Converter, columns: _Columns, where: str) -> tuple[F, F, F]:
    """Loss of a board as l0 + l1 p + l2 p^2 of the watts out: from one efficiency and idle watts, or fitted to a curve."""
    n = columns.draws.draws + 1
    idle = columns.get(board, where, "idle_power")
    if board.efficiency_curve:
        points = np.asarray(board.efficiency_curve, dtype=float)
        watts, eta = points[:, 0], points[:, 1]
        loss = watts * (1 / eta - 1)
        table = np.stack([np.ones_like(watts), watts, watts**2], axis=1)[:, : min(3, watts.size)]
        from scipy.optimize import nnls

        weight = 1 / np.maximum(watts, 1.0)
        fitted = np.zeros(3)
        fitted[: table.shape[1]], _residual = nnls(table * weight[:, None], loss * weight)
        spread = columns.draws.column(f"{where}.efficiency", Measured(1.0, 0.08, "measured"))
        return fitted[0] * spread, fitted[1] * spread, fitted[2] * spread
    eta = columns.get(board, where, "efficiency", 0.9)
    return idle, 1 / eta - 1, np.zeros(n)


def _bind_board(joined: Hookup, rig: Rig, columns: _Columns, params: F, extras: dict[str, F]) -> None:
    """The board on the rig: its kind, limits, and what it takes in while it holds its setting."""
    board = joined.board
    params[Param.KIND] = Kind.NONE
    params[Param.I_LIMIT] = np.inf
    params[Param.V_HELD] = params[Param.V_SET] = np.maximum(params[Param.U_REST], 1.0)
    if board is None:
        return
    where = f"converter.{rig.converter.index(board)}"
    kinds = {
        "buck": Kind.BUCK,
        "boost": Kind.BOOST,
        "buck_boost": Kind.BUCK_BOOST,
        "inverter": Kind.BUCK_BOOST,
    }
    params[Param.KIND] = kinds[board.kind]
    params[Param.V_SLEEP] = columns.get(board, where, "input_min")
    params[Param.V_LOSS] = columns.get(board, where, "drop")
    params[Param.V_SET] = columns.get(board, where, "set_voltage")
    params[Param.I_LIMIT] = columns.get(board, where, "input_current", math.inf)
    params[Param.LOSS_0], params[Param.LOSS_1], params[Param.LOSS_2] = board_loss(board, columns, where)
    limits = [m.value for m in (board.set_current, board.output_current) if m is not None]
    extras["i_set"] = np.full(params.shape[1], min(limits) if limits else math.inf)
    hold_board(params, extras["i_set"])


def hold_board(params: F, i_set: F) -> None:
    """Fill in what the board holds (V_HELD) and takes in (P_HELD) for the demand and settings already in `params`."""
    a, g, p, v_set = params[Param.A], params[Param.G], params[Param.P], params[Param.V_SET]
    asked = a + g * v_set + p / v_set
    capped = asked > i_set
    limit = np.where(np.isfinite(i_set), i_set, 0.0)
    held = np.where(capped, _volts_at(a - limit, g, p, v_set), v_set)
    p_out = np.maximum(held * np.minimum(asked, i_set), 0.0)
    params[Param.V_HELD] = held
    params[Param.P_HELD] = (
        p_out + params[Param.LOSS_0] + params[Param.LOSS_1] * p_out + params[Param.LOSS_2] * p_out**2
    )


def scaled(bound: Bound, size: float) -> Bound:
    """The same rig with the asked load `size` times as large; for a charge through a board, its amps limit so scaled."""
    params, extras = bound.params.copy(), dict(bound.extras)
    if bound.hookup.load is not None:
        for row, key in ((Param.A, "load_a"), (Param.G, "load_g"), (Param.P, "load_p")):
            params[row] += (size - 1) * extras[key]
            extras[key] = extras[key] * size
        extras["p_load"] = extras["p_load"] * size
        if "p_load_board" in extras:
            extras["p_load_board"] = extras["p_load_board"] * size
    elif "i_set" in extras:
        extras["i_set"] = extras["i_set"] * size
    if bound.hookup.battery is not None:
        params[Param.U_REST] = rest_voltage(params[Param.A], params[Param.G], params[Param.P])
    if bound.hookup.board is not None:
        hold_board(params, extras["i_set"])
    return dataclasses.replace(bound, params=params, extras=extras)


def _volts_at(a: F, g: F, p: F, v_set: F) -> F:
    """Output volts at which the demand equals the amps limit (a already less the limit); 0 where it never does.

    A resistor or battery sags to it; pure constant power cannot be held by an amps limit: its volts collapse.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        disc = np.sqrt(np.maximum(a * a - 4 * g * p, 0.0))
        u = np.where(g > 0, (-a + disc) / (2 * g), 0.25 * v_set)
    return np.asarray(np.where(np.isfinite(u) & (u > 0), np.minimum(u, v_set), 0.25 * v_set))


def _bind_drive(rig: Rig, columns: _Columns) -> tuple[tuple[str, ...], F, F, F, F, Stages]:
    """Speed ratio, torque gain, drag and drag slope of every gear, all seen at the crank."""
    gears = gear_names(rig)
    cols, n = columns.draws.draws + 1, len(rig.stage)
    each = [_bind_stage(stage, f"stage.{k}", columns) for k, stage in enumerate(rig.stage)]
    choices = list(itertools.product(*[range(len(_stage_gears(s))) for s in rig.stage])) if n else [()]
    ratio = np.ones((n, len(gears), cols))
    for row, combination in enumerate(choices):
        for k, pick in enumerate(combination):
            ratio[k, row] = each[k]["ratio"][pick]
    total = np.ones((len(gears), cols))
    gain, drag, slope = (
        np.ones((len(gears), cols)),
        np.zeros((len(gears), cols)),
        np.zeros((len(gears), cols)),
    )
    free = np.ones((len(gears), cols))  # speed ratio from the crank to the driven shaft of the stage at hand
    force = np.ones((len(gears), cols))  # torque at the crank per torque on that shaft
    for k in range(n):
        free = free * ratio[k]
        geometric = ratio[k] / (1 - each[k]["creep"])
        force = force * geometric / each[k]["efficiency"]
        drag = drag + force * each[k]["drag"]
        slope = slope + force * each[k]["slope"] * free
    total, gain = free, force
    how = tuple(_worst(columns, f"stage.{k}.") for k in range(n))
    stack = {
        key: np.stack([e[key] for e in each]) if n else np.zeros((0, cols))
        for key in ("efficiency", "drag", "slope", "rolling", "surface", "grip")
    }
    stages = Stages(
        names=tuple(s.name or _STAGE_WORDS[s.kind] for s in rig.stage),
        kinds=tuple(s.kind for s in rig.stage),
        ratio=ratio,
        how=how,
        **stack,
    )
    return gears, total, gain, drag, slope, stages


_STAGE_WORDS = {
    "chain": "chain",
    "gears": "gears",
    "roller": "tyre on roller",
    "rim_wheel": "wheel on rim",
    "flat_belt": "flat belt",
    "v_belt": "V belt",
    "ribbed_belt": "ribbed belt",
    "toothed_belt": "toothed belt",
    "direct": "coupling",
}


def _bind_stage(stage: Stage, where: str, columns: _Columns) -> dict[str, Any]:
    """One step of the drive as columns: ratios of its gears (creep included), losses, rolling and grip."""
    cols = columns.draws.draws + 1
    creep = columns.get(stage, where, "creep")
    driver, driven = (
        columns.get(stage, where, "driver_diameter", math.nan),
        columns.get(stage, where, "driven_diameter", math.nan),
    )
    if stage.ratio is not None:
        ratios = [columns.get(stage, where, "ratio")]
    elif stage.driver_teeth and stage.driven_teeth:
        ratios = [np.full(cols, a / b) for a in stage.driver_teeth for b in stage.driven_teeth]
    elif stage.kind == "direct":
        ratios = [np.ones(cols)]
    else:
        ratios = [driver / driven]
    if not all(np.isfinite(r).all() and (r > 0).all() for r in ratios):
        raise BadRequest(
            Problem(
                where=where,
                problem=f"the step '{stage.name or stage.kind}' has no ratio",
                hint="give driver_teeth and driven_teeth, or driver_diameter and driven_diameter, or ratio",
            )
        )
    drag, rolling, grip = columns.get(stage, where, "drag_torque"), np.zeros(cols), np.full(cols, np.inf)
    if stage.kind in ("roller", "rim_wheel"):
        press, mu = columns.get(stage, where, "press_force"), columns.get(stage, where, "friction")
        grip = roller.grip_limit(press_force=press, friction=mu)
        rolling = roller.rolling_force(
            rolling=columns.get(stage, where, "rolling"),
            press_force=press,
            d_tyre=_or(driver, 0.67),
            d_roller=_or(driven, 0.04),
        )
        drag = drag + rolling * _or(driven, 0.04) / 2
    elif stage.kind in BELTS and stage.kind != "toothed_belt":
        grip = _belt_grip(stage, where, columns, driver, driven)
    return {
        "ratio": [r * (1 - creep) for r in ratios],
        "creep": creep,
        "efficiency": columns.get(stage, where, "efficiency", 1.0),
        "drag": drag,
        "slope": columns.get(stage, where, "drag_slope"),
        "rolling": rolling,
        "surface": driver / 2,
        "grip": grip,
    }


def _belt_grip(stage: Stage, where: str, columns: _Columns, driver: F, driven: F) -> F:
    """Largest pull a belt passes on before it slips on its smaller pulley (N), inf where sizes are not known."""
    from sparewatt.physics import belts

    if stage.driver_diameter is None or stage.driven_diameter is None:
        return np.full(columns.draws.draws + 1, np.inf)
    big, small = np.maximum(driver, driven), np.minimum(driver, driven)
    centre = columns.get(stage, where, "centre_distance", float(1.2 * np.max(big)))
    wrap = belts.wrap_angle(d_small=small, d_large=big, centre_distance=centre)
    wedge = columns.get(stage, where, "wedge_angle", math.pi)
    tension = columns.get(stage, where, "tension")
    e = belts.tension_ratio(wrap=wrap, friction=columns.get(stage, where, "friction"), wedge_angle=wedge)
    return np.asarray(2 * tension * (e - 1) / (e + 1))


def _or(column: F, default: float) -> F:
    return np.where(np.isfinite(column), column, default)


def _worst(columns: _Columns, prefix: str) -> str:
    """Least certain origin among the inputs whose key starts with prefix."""
    hows = {how for key, how in columns.draws.hows.items() if key.startswith(prefix)}
    return next((how for how in WORST if how in hows), "measured")
