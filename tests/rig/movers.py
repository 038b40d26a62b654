"""Moving rigs made of bare numbers, for tests that hold the kernel against something outside it.

Everything that is not named is out of the way: no drag, no reserve to empty, no warmth, no fuse, no clamp, nothing on the
output; a rider of even push along a straight line.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Battery, Machine, Rider, Rig, Stage
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import exact, fill
from sparewatt.rig.layout import Param
from sparewatt.rig.motion import Moving, Played, Start, bind_motion, channel, play
from sparewatt.rig.motion_layout import Act, Chan, Event, Geo, Move, Out, Shared

__all__ = ["Scene", "happened", "mover", "ride", "series", "shared"]

F = NDArray[np.float64]
Scene = Sequence[tuple[float, Act, int, float]]

_PARAM = {
    "k_emf": 0.075,
    "r_source": 0.25,
    "has_diode": 1.0,
    "i_limit": math.inf,
    "v_held": 12.0,
    "v_set": 12.0,
}
_MOVE = {
    "inductance": 1e-3,
    "capacitance": 1e-4,
    "v_clamp": math.inf,
    "r_clamp": 1.0,
    "r_lead": 1e-3,
    "freewheel": 1.0,
    "i_set": math.inf,
    "v_rated": math.inf,
    "v_back_feed": math.inf,
    "r_th_in": 1.0,
    "r_th_out": 1.0,
    "c_wind": 1e3,
    "c_case": 1e4,
    "t_air": 293.15,
    "w_top": 15.0,
    "w_sprint": 24.0,
    "critical": 1e6,
    "reserve": 1e9,
    "peak": 1e6,
    "reaction": 0.5,
}
_GEO = {"ratio": 30.0, "gain": 30.0, "j_crank": 0.4, "j_shaft": 1e-3}
_OUT = {
    "r_store": 1.0,
    "capacity": 1e12,
    "soc": 0.5,
    "v_full": 1e6,
    "tail": 3600.0,
    "u_max": math.inf,
    "surge": 1.0,
    "t_surge": 0.05,
    "t_retry": 0.5,
    "motor_r": 1.0,
    "motor_l": 1.0,
    "motor_j": 1.0,
    "motor_sat": 1e9,
    "own_amps": math.inf,
    "own_in": math.inf,
    "eta_fill": 1.0,
    "eta_tail": 1.0,
    "i_gas": 1.0,
}


@lru_cache(maxsize=1)
def _any() -> Moving:
    """Some rig, whose numbers are all put aside."""
    rig = Rig(
        name="bare",
        rider=(Rider(name="you"),),
        stage=(Stage(kind="direct", ratio=exact(30.0)),),
        machine=Machine(emf_constant=exact(0.075), resistance=exact(0.25)),
        battery=Battery(voltage=exact(12.0), capacity=exact(36 * 3600.0), chemistry="flooded"),
    )
    filled = fill(rig)
    return bind_motion(filled, bind(filled, "charge", draws=0))


def mover(
    *,
    param: dict[str, float] | None = None,
    move: dict[str, float] | None = None,
    geo: dict[str, float] | Sequence[dict[str, float]] | None = None,
    output: dict[str, float] | None = None,
    table: Sequence[float] = (),
    fuses: F | None = None,
) -> Moving:
    """One rig from named numbers; geo may be one gear or several. Thermal constants follow those of `param`."""
    q, mv = _row(Param, _PARAM | (param or {})), _row(Move, _MOVE | (move or {}))
    mv[Move.K_COLD], mv[Move.R_COLD], mv[Move.R_WIND_NOW] = (
        q[Param.K_EMF], q[Param.R_SOURCE], q[Param.R_SOURCE],
    )  # fmt: skip
    gears = [geo or {}] if geo is None or isinstance(geo, dict) else list(geo)
    rows = np.stack([_row(Geo, _GEO | gear) for gear in gears])
    return dataclasses.replace(
        _any(),
        q=q[None, None, :],
        mv=mv[None, None, :],
        geo=rows[None, None, :, :],
        table=np.asarray(table, dtype=float)[None, :],
        oc=_row(Out, _OUT | (output or {}))[None, :],
        ocv=np.array([[0.0, 1.0], [0.0, 0.0]]),
        fuses=np.full((4, 7), np.inf) if fuses is None else fuses,
    )


def _row(names: type[Param] | type[Move] | type[Geo] | type[Out], values: dict[str, float]) -> F:
    row = np.zeros(len(names))
    for name, value in values.items():
        row[names[name.upper()]] = value
    return row


def shared(first: Moving, second: Moving, leads: Sequence[float]) -> Moving:
    """Two rigs on one bus, with the first one's output."""
    mv = np.concatenate([first.mv, second.mv], axis=1)
    mv[:, :, Move.R_LEAD] = np.asarray(leads)
    return dataclasses.replace(
        first,
        q=np.concatenate([first.q, second.q], axis=1),
        mv=mv,
        geo=np.concatenate([first.geo, second.geo], axis=1),
        table=np.concatenate([first.table, second.table], axis=0),
    )


def ride(
    moving: Moving,
    times: F,
    *,
    script: Scene = (),
    tolerance: float = 1e-5,
    plain: bool = False,
    **start: object,
) -> Played:
    """The rig played up to the last time; it must get there."""
    begin = Start(**({"tires": False, "heats": False} | start))  # type: ignore[arg-type]
    done = play(
        moving, script, begin, duration=float(times[-1]), times=times, tolerance=tolerance, plain=plain
    )[0]
    assert done.status == 0
    return done


def series(done: Played, name: Chan | Shared, rig: int = 0) -> F:
    """One channel of a ride."""
    return np.asarray(done.rows[:, channel(name, done.rigs, rig)])


def happened(done: Played, event: Event, rig: int = 0) -> F:
    """When something happened, s."""
    rows = done.events
    return np.asarray(rows[(rows[:, 1] == event) & (rows[:, 2] == rig), 0])
