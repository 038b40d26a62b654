"""The settings card: what to turn, in which order, to what, and what the meter will show."""

from __future__ import annotations

import math

from sparewatt.physics import store
from sparewatt.rig.layout import Param
from sparewatt.rig.outcome import Point
from sparewatt.studies.answers import Setting
from sparewatt.studies.core import Solved
from sparewatt.studies.edges import edge_watts

__all__ = ["settings_card"]

ROOM = 0.85  # share of the edge that the amps screw is set to, so that a tired leg does not tip over


def settings_card(solved: Solved, at: Point | None) -> tuple[Setting, ...]:
    """Lines in the order they are done: gear, volts screw, amps screw, join the battery, pace, where to stop."""
    bound = solved.bound
    joined, rig = bound.hookup, bound.rig
    lines = [_gear(solved)]
    board = joined.board
    if board is not None and board.set_voltage is not None:
        lines += _screws(solved)
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
        points = store.set_points(chemistry=battery.chemistry, v_name=battery.voltage.value)
        stop = store.compensated(
            points.absorb,
            temperature=battery.temperature.value,
            chemistry=battery.chemistry,
            v_name=battery.voltage.value,
        )
        if battery.charge_voltage is not None and abs(battery.charge_voltage.value - points.absorb) > 1e-9:
            shift = battery.charge_voltage.value - points.absorb
            stop = stop + shift
        lines.append(
            Setting(
                what="stop charging at",
                value=float(stop),
                unit="V",
                why="its charging volts at the battery's temperature",
                meter="at the battery posts",
            )
        )
    return tuple(lines)


def _gear(solved: Solved) -> Setting:
    name = solved.bound.gears[solved.gear]
    w = float(solved.found.w_tip[solved.gear, 0])
    why = "spin up before the load is switched on" if math.isfinite(w) else "the gear that suits your cadence"
    return Setting(
        what=f"gear {name}",
        value=float(solved.bound.ratio[solved.gear, 0]),
        unit="1",
        why=why,
        meter="turns of the machine per turn of the crank",
    )


def _screws(solved: Solved) -> list[Setting]:
    """Volts first with nothing joined, then amps into a dummy lamp, then the battery."""
    bound = solved.bound
    joined, board = bound.hookup, bound.hookup.board
    assert board is not None and board.set_voltage is not None
    lines = [
        Setting(
            what=f"{board.name}: volts screw",
            value=board.set_voltage.value,
            unit="V",
            why="set first, battery and load unhooked",
            meter="200 V DC range, at the board's output",
        )
    ]
    edge = float(edge_watts(bound, solved.gear, solved.ask.effort)[0][0])
    held = float(bound.params[Param.V_HELD, 0])
    if (
        joined.load is not None
        and joined.battery is None
        and joined.load.kind not in ("universal_motor", "heater", "lamp", "dc_motor")
    ):
        return lines
    wise = ROOM * edge / held if held > 0 else math.nan
    caps = [wise]
    if joined.battery is not None and joined.battery.charge_current is not None:
        caps.append(joined.battery.charge_current.value)
    if board.output_current is not None:
        caps.append(board.output_current.value)
    amps = min(caps)
    if board.set_current is not None and board.set_current.value <= amps:
        amps, why = (
            board.set_current.value,
            "as in the rig file, and within what legs, battery and board allow",
        )
    elif amps == wise:
        why = "what these legs push with a seventh in hand; more and you stall"
    else:
        why = "what the battery or the board allows"
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
