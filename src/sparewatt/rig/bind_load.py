"""Numbers of an appliance in motion: its law at the output, its first amps, or its motor and the board that feeds it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Load, Measured
from sparewatt.physics import appliances
from sparewatt.rig.bind_output import board_loss
from sparewatt.rig.columns import Columns
from sparewatt.rig.fill_electric import light_torque, tool_plate
from sparewatt.rig.fill_motion import OWN_SHARE, small_motor
from sparewatt.rig.hookup import board_index
from sparewatt.rig.layout import Bound
from sparewatt.rig.motion_layout import Out

__all__ = ["bind_load", "work_torque_share"]

F = NDArray[np.float64]
# s: a filament warms, an element warms, a transformer fills its core, a supply its capacitor (common practice, no source)
SURGE_TIME = {"lamp": 0.05, "heater": 0.5, "transformer": 0.05}
SUPPLY_TIME = 0.01


def bind_load(load: Load, where: str, bound: Bound, columns: Columns, oc: F) -> None:
    """The appliance: its law at the output, the volts it quits at, its surge, or its motor."""
    x = bound.extras
    oc[:, Out.LOAD_A], oc[:, Out.LOAD_G], oc[:, Out.LOAD_P] = x["load_a"], x["load_g"], x["load_p"]
    own = bound.hookup.load_board
    quit_ = x["v_quit"]
    oc[:, Out.QUIT] = quit_
    if own is None and load.voltage_max is not None:
        oc[:, Out.U_MAX] = load.voltage_max.value
    if own is not None and own.restart is not None:
        oc[:, Out.RESTART] = np.maximum(own.restart.value, 1.001 * np.asarray(quit_))
    oc[:, Out.R_LOAD_WIRE] = x["r_load_wire"]
    if "p_load_board" in x or np.any(x["p_load_wire"] > 0):
        oc[:, Out.LOAD_WATTS] = x["p_load"]
    told = load.start_factor is not None and load.start_factor.how != "typical"
    # A board of its own starts softly; an inverter does not: it is asked for the start, and asks for it at its input
    hard = own is None or own.kind == "inverter"
    motor = load.kind in ("universal_motor", "dc_motor")
    if hard and (load.kind in SURGE_TIME or (told and not (own is not None and motor))):
        oc[:, Out.SURGE] = _start(load, where, bound, columns)
        oc[:, Out.T_SURGE] = SURGE_TIME.get(load.kind, SUPPLY_TIME)
    if load.kind in ("universal_motor", "dc_motor"):
        _motor(load, where, bound, columns, oc)
        oc[:, Out.QUIT] = 0.0 if own is None else quit_


def _start(load: Load, where: str, bound: Bound, columns: Columns) -> F:
    """Amps at the moment of starting over running amps: behind an inverter no more than its own input takes."""
    surge = columns.get(load, where, "start_factor", 1.0)
    own, battery = bound.hookup.load_board, bound.hookup.battery
    most = None if own is None else own.input_current_short or own.input_current
    if most is None or battery is None or battery.voltage is None:
        return surge
    running = np.maximum(bound.extras["load_p"], 1e-9)
    return np.minimum(surge, np.maximum(most.value * battery.voltage.value / running, 1.0))


def _motor(load: Load, where: str, bound: Bound, columns: Columns, oc: F) -> None:
    """A tool's motor: constants, its inertia and coil, and the board that feeds it."""
    own, board = bound.hookup.load_board, bound.hookup.board
    if load.kind == "universal_motor":
        plate = tool_plate(load)

        def draw(key: str, mid: float, sd: float) -> F:
            return columns.draws.column(f"tool.{key}", Measured(mid, sd, "nameplate"))

        oc[:, Out.MOTOR] = 1.0
        oc[:, Out.MOTOR_K] = draw("k", plate.k_series, plate.k_series_sd)
        oc[:, Out.MOTOR_R] = draw("r", plate.r_motor, plate.r_motor_sd)
        oc[:, Out.MOTOR_SAT] = draw("sat", plate.i_sat, plate.i_sat_sd)
        oc[:, Out.MOTOR_TC] = draw("tc", plate.t_coulomb, plate.t_coulomb_sd)
        oc[:, Out.MOTOR_FAN] = draw("fan", plate.t_fan, plate.t_fan_sd)
        oc[:, Out.MOTOR_TOOL] = plate.torque_rated
    else:
        motor = small_motor(load)
        oc[:, Out.MOTOR] = 2.0
        oc[:, Out.MOTOR_K], oc[:, Out.MOTOR_R] = motor.k_emf, motor.r_motor
        oc[:, Out.MOTOR_TC] = OWN_SHARE * motor.torque_run
        # what it drives grows with the square of speed, as fans and pumps do; the work share scales nothing else
        oc[:, Out.MOTOR_FAN] = (1 - OWN_SHARE) * motor.torque_run / motor.w_run**2
        oc[:, Out.MOTOR_TOOL] = 0.5 * motor.torque_run
    oc[:, Out.MOTOR_R] += bound.extras["r_motor_wire"]
    oc[:, Out.MOTOR_J], oc[:, Out.MOTOR_L] = (
        columns.get(load, where, "inertia"),
        columns.get(load, where, "inductance"),
    )
    if own is not None:
        k = board_index(bound.rig, own)
        key = f"converter.{k}"
        oc[:, Out.MOTOR_ON] = 1.0
        oc[:, Out.OWN_SET] = columns.get(own, key, "set_voltage")
        limits = [
            m.value
            for m in (own.set_current, own.output_current_short or own.output_current)
            if m is not None
        ]
        oc[:, Out.OWN_AMPS] = min(limits) if limits else math.inf
        most_in = "input_current" if own.input_current_short is None else "input_current_short"
        oc[:, Out.OWN_IN] = columns.get(own, key, most_in, math.inf)
        loss = board_loss(own, columns, key)
        oc[:, Out.OWN_L0], oc[:, Out.OWN_L1], oc[:, Out.OWN_L2] = loss
    elif board is not None and bound.hookup.battery is None:
        oc[:, Out.MOTOR_ON] = 0.0
    else:
        oc[:, Out.MOTOR_ON] = 2.0


def work_torque_share(load: Load, share: float) -> float:
    """Share of the rated torque at the tool for a share of work: a third is light work, one is what it is rated for."""
    if load.kind != "universal_motor" or share <= 0:
        return max(share, 0.0)
    plate = tool_plate(load)
    inside = float(appliances.series_torque(plate.i_rated, k_series=plate.k_series, i_sat=plate.i_sat))
    light = (
        light_torque(plate.torque_rated, inside, plate.w_rated, t_coulomb=plate.t_coulomb, t_fan=plate.t_fan)
        / plate.torque_rated
    )
    return float(np.interp(share, (0.0, 1 / 3, 1.0), (0.0, light, 1.0))) if share <= 1 else share
