"""How warm the machine gets on a ride: winding and case as two bodies, swing of amps and warmth of copper counted.

The same two-body law as the moving rig steps; here in closed form from a cold machine to the end of the ride.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparewatt.physics import heat
from sparewatt.rig.bind import reheat
from sparewatt.rig.fill_motion import INNER_SHARE, MAGNET_SHARE, WINDING_SHARE
from sparewatt.rig.layout import Bound, Param

__all__ = ["Heat", "Working", "bodies_after", "warm_up"]

ROUNDS = 4
HOTTEST = 400.0  # K above the air: where it never settles, this stands for "burnt"


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Temperatures (K) at the end of the ride, and where they would settle."""

    air: float
    winding: float
    case: float
    magnet: float
    longrun: float  # winding, were the ride never to end
    limit: float
    lasts: float  # s until the winding passes its limit; inf when it never does


@dataclass(frozen=True, slots=True)
class Working:
    """What warms the machine at a running point: mean amps, their mean square over the square of the mean, shaft speed."""

    amps: Any  # float, or an array of points
    form: float
    w_shaft: Any


def warm_up(cold: Bound, duration: float, working: Callable[[Bound], Working]) -> Heat:
    """The machine after `duration` s from cold.

    working: the running point of a rig that is as warm as it is given. The point taken for the whole ride is that of the
    rig half-way warm. A rig that holds while cold and lets go as the copper warms is told at the warmth where it let go.
    """
    machine, place = cold.rig.machine, cold.rig.place
    assert machine is not None and place is not None and place.temperature is not None
    assert machine.thermal_resistance and machine.thermal_time and machine.winding_limit
    air, limit = place.temperature.value, machine.winding_limit.value
    winding = case = longrun = air
    lasts = math.inf
    ran = False
    bound = cold
    for _ in range(ROUNDS):
        at = working(bound)
        if at.amps <= 0 and ran:
            break
        ran = ran or at.amps > 0
        end = bodies_after(cold, duration, at)
        settled = heat.steady_temperatures(at.amps * np.sqrt(at.form), **_heats(cold, at))
        winding, case = (min(float(t), air + HOTTEST) for t in end)
        longrun = min(float(settled.t_wind), air + HOTTEST)
        lasts = _until(cold, at, limit) if longrun > limit else math.inf
        bound = reheat(cold, 0.5 * (air + winding), _magnet(air, 0.5 * (air + case)))
    return Heat(
        air=air,
        winding=winding,
        case=case,
        magnet=_magnet(air, case),
        longrun=longrun,
        limit=limit,
        lasts=lasts,
    )


def _magnet(air: float, case: float) -> float:
    return air + MAGNET_SHARE * (case - air)


def bodies_after(cold: Bound, duration: float, at: Working) -> heat.Bodies:
    """Winding and case (K) after `duration` s from cold at a steady running point; arrays of points give arrays."""
    machine = cold.rig.machine
    assert machine is not None and machine.thermal_resistance and machine.thermal_time
    heats = _heats(cold, at)
    capacity = machine.thermal_time.value / machine.thermal_resistance.value
    return heat.two_body_after(
        duration, t_wind=heats["t_air"], t_case=heats["t_air"], i_out=at.amps * np.sqrt(at.form),
        c_wind=WINDING_SHARE * capacity, c_case=(1 - WINDING_SHARE) * capacity, **heats,
    )  # fmt: skip


def _heats(cold: Bound, at: Working) -> dict[str, Any]:
    """Heat sources and ways out of the nominal machine."""
    machine, place = cold.rig.machine, cold.rig.place
    assert machine is not None and machine.thermal_resistance and place is not None and place.temperature
    r_th = machine.thermal_resistance.value
    drag = cold.params[Param.T_COULOMB, 0] + cold.params[Param.B_VISCOUS, 0] * at.w_shaft
    return {
        "r_wind": float(cold.extras["r_wind_cold"][0]),
        "r_th_wind": INNER_SHARE * r_th,
        "r_th_case": (1 - INNER_SHARE) * r_th,
        "t_air": place.temperature.value,
        "p_brush": at.amps * float(cold.extras["v_brush"][0]),
        "p_case": at.w_shaft * drag,
    }


def _until(cold: Bound, at: Working, limit: float) -> float:
    """Seconds until the winding of a machine that gets too hot passes its limit, by halving."""
    machine = cold.rig.machine
    assert machine is not None and machine.thermal_time
    low, high = 0.0, 20 * machine.thermal_time.value
    for _ in range(40):
        middle = 0.5 * (low + high)
        too_long = float(bodies_after(cold, middle, at).t_wind) > limit
        low, high = (low, middle) if too_long else (middle, high)
    return high
