"""Whether what feeds a load makes the volts that the load stands, and each board takes the volts that feed it."""

from __future__ import annotations

from sparewatt.parts import Measured, Rig
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Stop

__all__ = ["misfit"]

# Battery over load volts that most things made for a battery stand (common practice, no source).
LOW, HIGH = 0.75, 1.35
CAN_FEED = 1.02  # of a limit: how closely a print is read


def misfit(rig: Rig, load_name: str) -> tuple[Stop, str] | None:
    """What is wrong with the volts or the watts on the way to a load (or to the battery), as outcome and cause; None when
    nothing is. Only settings and labels are looked at; what the machine makes is for the solver."""
    joined = hookup(rig, load_name)
    load, battery, board, own = joined.load, joined.battery, joined.board, joined.load_board
    if battery is not None and board is not None and board.set_voltage is not None:
        low = _charge_floor(battery.voltage, battery.charge_voltage)
        if board.set_voltage.value < low and load is None:
            return (
                Stop.TOO_FEW_VOLTS,
                f"the {board.name} is set to {board.set_voltage.value:.3g} V, below the battery it should fill: turn it up",
            )
    if load is None or load.voltage is None:
        return None
    if own is not None or (board is not None and battery is None):
        feeding = own or board
        assert feeding is not None
        named = feeding.kind != "inverter" or bool(load.input_text)
        if named and feeding.set_voltage is not None:
            wrong = _against(
                load.name, feeding.set_voltage.value, load.voltage_min, load.voltage_max, feeding.name
            )
            if wrong is not None:
                return wrong
    if battery is not None and battery.voltage is not None:
        charged = _volts(battery.charge_voltage, battery.voltage.value)
        if own is None:
            volts, made_for = battery.voltage.value, load.voltage.value
            if not LOW * made_for <= volts <= HIGH * made_for:
                stop = Stop.TOO_FEW_VOLTS if volts < made_for else Stop.BREAKS
                return (
                    stop,
                    f"it is made for {made_for:g} V and the battery gives {volts:g} V; put a board in between",
                )
        elif own.input_max is not None and own.input_max.value < _volts(
            battery.charge_voltage, battery.voltage.value
        ):
            return (
                Stop.BREAKS,
                f"the {own.name} stands {own.input_max.value:.3g} V; the battery is charged at {charged:.3g} V",
            )
        elif own.input_current is not None and load.power is not None:
            eta = own.efficiency.value if own.efficiency is not None else 0.88
            most = own.input_current.value * battery.voltage.value * eta
            if load.power.value > CAN_FEED * most:
                return (
                    Stop.EDGE_BOARD,
                    f"its board passes {most:.0f} W at most from {battery.voltage.value:g} V",
                )
    return None


def _against(
    name: str, volts: float, least: Measured | None, most: Measured | None, board: str
) -> tuple[Stop, str] | None:
    """Set volts of a board against what its load stands and needs."""
    if most is not None and volts > CAN_FEED * most.value:
        return (
            Stop.BREAKS,
            f"the {board} is set to {volts:.3g} V and the {name} stands {most.value:.3g} V: turn the screw down",
        )
    if least is not None and volts * CAN_FEED < least.value:
        return (
            Stop.TOO_FEW_VOLTS,
            f"the {board} is set to {volts:.3g} V; the {name} needs {least.value:.3g} V: turn it up",
        )
    return None


def _charge_floor(name: Measured | None, charge: Measured | None) -> float:
    """Volts below which nothing goes into a battery worth the name."""
    nominal = name.value if name is not None else 12.0
    return min(1.05 * nominal, 0.95 * _volts(charge, 1.15 * nominal))


def _volts(known: Measured | None, other: float) -> float:
    return known.value if known is not None else other
