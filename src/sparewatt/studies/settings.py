"""The settings card: what to turn, in which order, to what, and what the meter will show."""

from __future__ import annotations

import dataclasses
import math

from sparewatt.parts import Battery, Converter
from sparewatt.physics import store
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.fill import Filled, exact
from sparewatt.rig.layout import Param
from sparewatt.rig.operating import State, operate
from sparewatt.rig.outcome import Point
from sparewatt.studies.answers import Setting

__all__ = ["charge_volts", "settings_card"]


def charge_volts(battery: Battery) -> float:
    """Charging volts of a battery at its own temperature (V): its set-point moved by its millivolts per kelvin."""
    assert battery.temperature is not None and battery.voltage is not None
    usual = store.CHEMISTRIES[battery.chemistry]
    cells = store.cells_in_series(battery.voltage.value, chemistry=battery.chemistry)
    at_25 = battery.charge_voltage.value if battery.charge_voltage else float(cells) * usual.absorb
    return float(
        store.temperature_compensated(
            at_25, temperature=battery.temperature.value, v_per_kelvin=usual.per_kelvin, n_cells=cells
        )
    )


ROOM = 0.85  # share of the edge that the amps screw is set to, so that a tired leg does not tip over


def settings_card(solved: State, at: Point | None) -> tuple[Setting, ...]:
    """Lines in the order they are done: gear, volts screw, amps screw, join the battery, pace, where to stop."""
    joined = solved.bound.hookup
    lines = [_gear(solved)]
    board = joined.board
    if board is not None and board.set_voltage is not None:
        amps, why = wise_amps(solved)
        lines += _screws(board, amps, why)
        at = _as_set(solved, board, amps) if amps is not None and at is not None else at
    if at is not None:
        lines.append(
            Setting(
                what="pace",
                value=at.w_crank,
                unit="rad/s",
                why="where this effort settles",
                meter="count turns for fifteen seconds, times four",
            )
        )
        lines.append(
            Setting(
                what="bus volts while riding",
                value=at.v_bus,
                unit="V",
                why="what the meter shows at the machine side when all is well",
                meter="200 V DC range, at the board's input",
            )
        )
        if at.i_board_out > 0:
            lines.append(
                Setting(
                    what="amps while riding",
                    value=at.i_board_out,
                    unit="A",
                    why="what reaches battery or load",
                    meter="10 A socket, in series; move the lead back after",
                )
            )
    battery = joined.battery
    if battery is not None and battery.temperature is not None and battery.voltage is not None:
        stop = charge_volts(battery)
        lines.append(
            Setting(
                what="stop charging at",
                value=stop,
                unit="V",
                why="its charging volts at the battery's temperature",
                meter="at the battery posts",
            )
        )
    return tuple(lines)


def _gear(solved: State) -> Setting:
    name = solved.bound.gears[solved.gear]
    w = float(solved.found.w_tip[solved.gear, 0])
    sleeps = solved.bound.hookup.board is not None and solved.bound.hookup.load is not None
    spin_up = math.isfinite(w) or sleeps
    why = "spin up before the load is switched on" if spin_up else "the gear that suits your cadence"
    return Setting(
        what=f"gear {name}",
        value=float(solved.bound.ratio[solved.gear, 0]),
        unit="1",
        why=why,
        meter="turns of the machine per turn of the crank",
    )


def wise_amps(solved: State) -> tuple[float | None, str]:
    """Where the amps screw belongs and why, in steps that a meter shows; None where it is left alone."""
    bound = solved.bound
    joined, board = bound.hookup, bound.hookup.board
    assert board is not None
    edge = float(edge_watts(bound.nominal(), solved.gear, solved.ask.effort)[0][0])
    held = float(bound.params[Param.V_HELD, 0])
    own_way = ("universal_motor", "heater", "lamp", "dc_motor")
    if joined.load is not None and joined.battery is None and joined.load.kind not in own_way:
        return None, ""
    caps = [ROOM * edge / held] if held > 0 and edge > 0 else []
    wise = caps[0] if caps else math.inf
    if joined.battery is not None and joined.battery.charge_current is not None:
        caps.append(joined.battery.charge_current.value)
    if board.output_current is not None:
        caps.append(board.output_current.value)
    if not caps:
        return None, ""
    amps = min(caps)
    if board.set_current is not None and board.set_current.value <= amps:
        return board.set_current.value, "as in the rig file, and within what legs, battery and board allow"
    step = 10.0 ** (math.floor(math.log10(amps)) - 1)
    why = (
        "what these legs push with a seventh in hand; more and you stall"
        if amps == wise
        else "what the battery or the board allows"
    )
    return math.floor(amps / step) * step, why


def _as_set(solved: State, board: Converter, amps: float) -> Point | None:
    """The running point once the screws stand as the card says: what the meter shows then."""
    if board.set_current is not None and board.set_current.value <= amps:
        return solved.at
    rig = solved.filled.rig
    k = next(n for n, one in enumerate(rig.converter) if one.name == board.name)
    turned = dataclasses.replace(rig.converter[k], set_current=exact(amps))
    changed = dataclasses.replace(rig, converter=(*rig.converter[:k], turned, *rig.converter[k + 1 :]))
    gear = solved.bound.gears[solved.gear]
    ask = dataclasses.replace(solved.ask, gear=gear, draws=0)
    return operate(Filled(rig=changed, assumed=solved.filled.assumed), ask).at


def _screws(board: Converter, amps: float | None, why: str) -> list[Setting]:
    """Volts first with nothing joined, then amps into a dummy lamp, then the battery."""
    assert board.set_voltage is not None
    lines = [
        Setting(
            what=f"{board.name}: volts screw",
            value=board.set_voltage.value,
            unit="V",
            why="set first, battery and load unhooked",
            meter="200 V DC range, at the board's output",
        )
    ]
    if amps is not None:
        lines.append(
            Setting(
                what=f"{board.name}: amps screw",
                value=amps,
                unit="A",
                why=why,
                meter="10 A socket, into a dummy lamp, battery unhooked",
            )
        )
    return lines
