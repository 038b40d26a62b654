"""What hangs on the rig as numbers: battery, loads, wires and the board that holds them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Converter, Load, Measured, Rig
from sparewatt.physics import appliances, store, wire
from sparewatt.rig.circuit import CHARGE, SHARED, Branch, circuit_of
from sparewatt.rig.columns import Columns
from sparewatt.rig.hookup import board_index
from sparewatt.rig.layout import Bound, Hookup, Kind, Param

__all__ = [
    "appliance_demand",
    "bind_board",
    "bind_output",
    "board_loss",
    "hold_board",
    "rest_voltage",
    "scaled",
    "source_ohms",
    "wire_ohms",
]

F = NDArray[np.float64]
WORKING_SHARE = (
    0.62  # share of the asked effort that reaches the battery; only places the tangent of its charge curve
)


def wire_ohms(branches: Iterable[Branch], columns: Columns, default: str = "") -> F:
    """Both conductors and the contacts of the wires on some branches (ohm).

    default: name of a run that has 10 mohm of contacts when the file names no wire there.
    """
    total = np.zeros(columns.draws.draws + 1)
    found = {piece.where: piece.part for branch in branches for piece in branch.wires}
    for where, part in found.items():
        length, area = columns.get(part, where, "length"), columns.get(part, where, "size")
        copper = 2 * wire.conductor_resistance(length=length, area=area)
        total = total + copper + columns.get(part, where, "contact_resistance")
    if not found and default:
        total = total + columns.draws.column(f"wire.{default}.contacts", Measured(0.01, 0.005, "typical"))
    return total


def source_ohms(rig: Rig, joined: Hookup, columns: Columns) -> F:
    """Wire from the machine to the board, or without one on to the battery or to where several rigs join."""
    way = circuit_of(rig).path(joined.name)
    total = wire_ohms(_of(way, "machine"), columns, "machine")
    if joined.board is not None:
        return total + wire_ohms(_of(way, "feed")[:1], columns)
    return total + wire_ohms(_of(way, "output"), columns)


def _of(way: Iterable[Branch], *kinds: str) -> list[Branch]:
    return [branch for branch in way if branch.kind in kinds]


def bind_output(
    rig: Rig, joined: Hookup, columns: Columns, params: F, extras: dict[str, F], effort: float
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
    rig: Rig, joined: Hookup, columns: Columns, extras: dict[str, F], effort: float
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
    r_wire = np.zeros_like(r_cell)
    if joined.board is not None:
        r_wire = wire_ohms(_of(circuit_of(rig).path(CHARGE), "output"), columns, "board")
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
        "i_likely": likely + np.zeros_like(r),
    }
    return -v_back / r, 1.0 / r


def _bind_load(rig: Rig, joined: Hookup, columns: Columns, extras: dict[str, F]) -> tuple[F, F, F, F]:
    """Demand of the appliance at the output, its wire included: a, g, p and the volts below which it quits.

    Only wire that the file names is counted here: ahead of a board at the load, and from there to the load.
    """
    load = joined.load
    assert load is not None
    where = f"load.{rig.load.index(load)}"
    power = columns.get(load, where, "power")
    # A load is run at the volts somebody sets: their doubt lies in the board, not here
    volts = np.full_like(power, load.voltage.value if load.voltage is not None else 12.0)
    quit_ = columns.get(load, where, "voltage_min")
    ahead, behind = _load_ohms(rig, joined, columns)
    zero = np.zeros_like(power)
    extras |= {"p_load": power, "v_load": volts}
    if joined.load_board is not None:
        k = board_index(rig, joined.load_board)
        loss = board_loss(joined.load_board, columns, f"converter.{k}")
        lost = behind * (power / volts) ** 2
        watts = power + lost
        watts = watts + loss[0] + loss[1] * watts + loss[2] * watts**2
        fed = joined.battery.voltage.value if joined.battery is not None and joined.battery.voltage else volts
        quit_ = columns.get(joined.load_board, f"converter.{k}", "input_min")
        quit_ = quit_ + np.where(quit_ > 0, ahead * watts / np.maximum(quit_, 1.0), 0.0)
        lost = lost + ahead * (watts / fed) ** 2
        watts = watts + ahead * (watts / fed) ** 2
        extras |= {
            "p_load_board": watts,
            "p_load_wire": lost,
            "r_load_wire": zero,
            "r_motor_wire": behind,
            "v_quit": quit_,
        }
        extras |= {"load_a": zero, "load_g": zero, "load_p": watts}
        return zero, zero, watts, quit_
    r = ahead + behind
    a, g, p = appliance_demand(load, power, volts)
    # behind the wire: i = a + g (u - r i) for what follows the volts; what takes steady watts pays for the wire on top
    lost = r * (p / volts) ** 2
    quit_ = quit_ + np.where(quit_ > 0, r * (a + g * quit_ + p / np.maximum(quit_, 1.0)), 0.0)
    a, g, p = a / (1 + g * r), g / (1 + g * r), p + lost
    extras |= {
        "p_load_wire": lost,
        "r_load_wire": r,
        "r_motor_wire": r,
        "v_quit": quit_,
        "load_a": a,
        "load_g": g,
        "load_p": p,
    }
    return a, g, p, quit_


def _load_ohms(rig: Rig, joined: Hookup, columns: Columns) -> tuple[F, F]:
    """Wire from what holds the volts (battery or board) to the load's own board, and from there to the load.

    What each of several rigs has of its own carries its share only.
    """
    way = circuit_of(rig).path(joined.name)
    from_store = [k for k, b in enumerate(way) if b.kind == "outlets"]
    boards = [k for k, b in enumerate(way) if b.kind == "board"]
    first = from_store[0] if from_store else boards[0] + 1 if boards else len(way) - 1
    rest = [b for b in way[first:] if b.end != SHARED]
    own = [b for b in way[first:] if b.end == SHARED]
    cut = next((k for k, b in enumerate(rest) if b.kind == "board"), len(rest) - 1)
    ahead = wire_ohms(rest[:cut], columns) + wire_ohms(own, columns) / (1 + len(rig.neighbour))
    return ahead, wire_ohms(rest[cut:], columns)


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


def board_loss(board: Converter, columns: Columns, where: str) -> tuple[F, F, F]:
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


def bind_board(joined: Hookup, rig: Rig, columns: Columns, params: F, extras: dict[str, F]) -> None:
    """The board on the rig: its kind, limits, and what it takes in while it holds its setting."""
    board = joined.board
    params[Param.KIND] = Kind.NONE
    params[Param.I_LIMIT] = np.inf
    params[Param.V_HELD] = params[Param.V_SET] = np.maximum(params[Param.U_REST], 1.0)
    if board is None:
        return
    where = f"converter.{board_index(rig, board)}"
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


def scaled(bound: Bound, size: F | float) -> Bound:
    """The same rig with the asked load `size` times as large; for a charge through a board, its amps limit so scaled."""
    params, extras = bound.params.copy(), dict(bound.extras)
    if bound.hookup.load is not None:
        for row, key in ((Param.A, "load_a"), (Param.G, "load_g"), (Param.P, "load_p")):
            params[row] += (size - 1) * extras[key]
            extras[key] = extras[key] * size
        for key in ("p_load", "p_load_wire"):
            extras[key] = extras[key] * size
        extras["r_load_wire"] = extras["r_load_wire"] / size
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
    """Output volts at or below the setting at which the demand equals the amps limit (a already less the limit).

    A resistor or battery sags to it; constant power, alone or the most of what is asked, cannot be held by an amps limit:
    its volts collapse, and a quarter of the setting stands for that.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        disc = np.sqrt(np.maximum(a * a - 4 * g * p, 0.0))
        u = np.where(g > 0, (-a + disc) / (2 * g), 0.25 * v_set)
    return np.asarray(np.where(np.isfinite(u) & (u > 0) & (u <= v_set), u, 0.25 * v_set))
