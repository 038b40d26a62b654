"""Universal-motor tools on direct current: what they draw idle, in light and in rated work, and held still."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Converter, Load, Measured
from sparewatt.physics import appliances
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill_electric import light_torque, tool_plate

__all__ = ["STATES", "ToolState", "locked_amps", "tool_state"]

F = NDArray[np.float64]
STATES = {"idle": 0.0, "light": 1 / 3, "rated": 1.0}  # share of the torque its motor is rated for
DRAWS = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolState:
    """A tool at some share of its rated torque: nominal and draws."""

    share: float
    volts: float
    amps: float
    watts: F  # (draws + 1,)
    speed_share: float  # of its rated-load speed
    stalls: bool  # the motor itself cannot push that torque on these volts, or within the amps limit
    limited: bool  # the amps screw is what stops it


def tool_state(load: Load, board: Converter | None, share: float, volts: float, seed: int = 1) -> ToolState:
    """The tool idle (share 0), in light work (a third of its motor's torque, own drag included) or at its rated torque (1).

    Within the board's amps limit.

    On an inverter it runs as on its own mains.
    """
    plate = tool_plate(load)
    on_ac = board is not None and board.kind == "inverter"
    draws = Draws(DRAWS, seed)
    constants = {
        "k_series": draws.column("tool.k", Measured(plate.k_series, plate.k_series_sd, "nameplate")),
        "r_motor": draws.column("tool.r", Measured(plate.r_motor, plate.r_motor_sd, "nameplate")),
        "i_sat": draws.column("tool.sat", Measured(plate.i_sat, plate.i_sat_sd, "typical")),
        "t_coulomb": draws.column("tool.tc", Measured(plate.t_coulomb, plate.t_coulomb_sd, "typical")),
        "t_fan": draws.column("tool.fan", Measured(plate.t_fan, plate.t_fan_sd, "typical")),
    }
    v_motor = volts * (0.95 if on_ac else 1.0)
    torque = 0.0
    if share > 0:
        inside = float(appliances.series_torque(plate.i_rated, k_series=plate.k_series, i_sat=plate.i_sat))
        drag = {"t_coulomb": plate.t_coulomb, "t_fan": plate.t_fan}
        torque = (
            light_torque(plate.torque_rated, inside, plate.w_rated, **drag)
            if share < 1
            else plate.torque_rated
        )
    at = appliances.series_operating_point(torque, v_bus=v_motor, **constants)
    amps = np.asarray(at.i_motor)
    caps = (
        [m.value for m in (board.set_current, board.output_current) if m is not None]
        if board is not None
        else []
    )
    cap = math.inf if on_ac or not caps else min(caps)
    limited = bool(amps[0] > cap)
    return ToolState(
        share=share,
        volts=volts,
        amps=float(min(amps[0], cap)),
        watts=np.minimum(amps, cap) * volts,
        speed_share=0.0 if limited or at.stalled[0] else float(np.asarray(at.w_motor)[0]) / plate.w_rated,
        stalls=bool(at.stalled[0]) or limited,
        limited=limited,
    )


def locked_amps(load: Load, board: Converter | None, volts: float) -> tuple[float, float]:
    """(amps a tool is held back to, amps it would take held still)."""
    plate = tool_plate(load)
    caps = (
        [
            m.value
            for m in (board.set_current, board.output_current_short or board.output_current)
            if m is not None
        ]
        if board is not None
        else []
    )
    locked = float(appliances.locked_current(volts, r_motor=plate.r_motor))
    return min([*caps, locked]), locked
