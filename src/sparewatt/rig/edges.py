"""The three edges: the most the legs, the machine and the board can pass on, and the spare above the load."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import bus
from sparewatt.rig import solve
from sparewatt.rig.layout import Bound, Kind, Param
from sparewatt.rig.outcome import Band

__all__ = ["EdgeCurves", "Edges", "asked_watts", "edge_curves", "edge_watts", "edges_at", "spare_band"]

F = NDArray[np.float64]
GRID = 96


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """The three edges at the point, as watts at the board's output (or at battery or load): the lowest binds."""

    legs: float
    machine: float
    board: float  # inf when nothing limits
    lowest: str  # "legs", "machine" or "board"


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeCurves:
    """The three edges against cadence (rad/s), W at the output; asked: what the load takes, NaN when a battery takes all."""

    cadence: F
    legs: F
    machine: F
    board: F  # inf where nothing limits
    asked: float


def _along(bound: Bound, gear: int, effort: float) -> tuple[F, F, F, F, F]:
    """Cadences and, at each, watts into the board that legs, machine and board could pass, and the lowest that runs.

    All (cadences, cols). The rider's torque, less drags, leaves the amps the legs can push; the machine passes at most
    V^2/4R; the board takes at most its amps limit.
    """
    share = np.linspace(0.04, 0.985, GRID)[:, None]
    q = {p: bound.params[p][None, :] for p in Param}
    w = share * bound.w_top[None, :]
    start = solve.rider_line(bound, effort)[None, :]
    ratio, gain = bound.ratio[gear][None, :], bound.gain[gear][None, :]
    w_shaft = w * ratio
    torque = (start * (1 - share) - bound.drag[gear][None, :] - bound.slope[gear][None, :] * w) / gain
    amps = (torque - q[Param.T_COULOMB] - q[Param.B_VISCOUS] * w_shaft) / q[Param.K_EMF]
    v_open = q[Param.K_EMF] * w_shaft - q[Param.V_DROP]
    r = q[Param.R_SOURCE] + q[Param.R_SPEED] * w_shaft
    amps = np.clip(amps, 0.0, np.maximum(v_open, 0.0) / (2 * r))
    legs = np.where(v_open > 0, (v_open - r * amps) * amps, 0.0)
    machine = np.where(v_open > 0, bus.edge_power(np.maximum(v_open, 0.0), r_source=r), 0.0)
    capped = np.minimum(amps, q[Param.I_LIMIT])
    v = v_open - r * capped
    finite = np.where(np.isfinite(q[Param.I_LIMIT]), q[Param.I_LIMIT], 0.0)
    v_at_limit = np.maximum(v_open - r * np.minimum(finite, v_open / (2 * r)), 0.0)
    board = np.where(np.isfinite(q[Param.I_LIMIT]), v_at_limit * finite, np.inf)
    awake = (v_open > 0) & (v >= q[Param.V_SLEEP])
    kind = q[Param.KIND]
    awake &= np.where(kind == Kind.BUCK, v - q[Param.V_LOSS] >= q[Param.V_HELD], True)
    awake &= np.where(kind == Kind.BOOST, v - q[Param.V_LOSS] <= q[Param.V_HELD] * 1.0001, True)
    lowest = np.where(awake, np.minimum(np.minimum(legs, machine), v * capped), 0.0)
    return w, legs, machine, board, lowest


def edge_watts(bound: Bound, gear: int, effort: float) -> tuple[F, F, F, F, F]:
    """Largest watts out that have a running point, per column, and each edge there: the best cadence's lowest of three.

    Returns (combined, legs alone, machine, board, cadence of the combined edge), each (cols,).
    """
    w, legs, machine, board, lowest = _along(bound, gear, effort)
    best = np.argmax(lowest, axis=0)[None, :]

    def at(x: F) -> F:
        return np.asarray(np.take_along_axis(x, best, axis=0)[0])

    return (
        _out(bound, at(lowest)),
        _out(bound, np.max(legs, axis=0)),
        _out(bound, at(machine)),
        _out(bound, at(board)),
        at(w),
    )


def edge_curves(bound: Bound, gear: int, effort: float) -> EdgeCurves:
    """The three edges of the nominal rig against cadence, watts at the output."""
    one = bound.nominal()
    w, legs, machine, board, _lowest = _along(one, gear, effort)
    asked = float(asked_watts(one)[0])
    out = [_out(one, x)[:, 0] for x in (legs, machine, board)]
    return EdgeCurves(cadence=w[:, 0], legs=out[0], machine=out[1], board=out[2], asked=asked)


def _out(bound: Bound, p_in: F) -> F:
    """Watts out of the board (or the same watts when there is none)."""
    if bound.hookup.board is None:
        return p_in
    b = 1 + bound.params[Param.LOSS_1]
    c = np.where(np.isfinite(p_in), p_in, 0.0) - bound.params[Param.LOSS_0]
    out = 2 * c / (b + np.sqrt(np.maximum(b * b + 4 * bound.params[Param.LOSS_2] * c, 0.0)))
    return np.asarray(np.where(np.isfinite(p_in), np.maximum(out, 0.0), np.inf))


def asked_watts(bound: Bound) -> F:
    """Watts the load asks at the output, per column; NaN when a battery takes whatever comes."""
    if bound.hookup.board is None:
        if bound.hookup.battery is not None:
            return np.full(bound.cols, math.nan)
        return np.asarray(bound.extras["p_load"])
    p_in = bound.params[Param.P_HELD]
    return _out(bound, p_in)


def edges_at(bound: Bound, gear: int, effort: float) -> Edges:
    """The three edges of the nominal rig in the reported gear."""
    combined, legs, machine, board, _w = edge_watts(bound.nominal(), gear, effort)
    values = {"legs": float(legs[0]), "machine": float(machine[0]), "board": float(board[0])}
    near = min(values, key=lambda key: values[key])
    # A board limit that no cadence within reach can lift binds even where its own edge looks larger
    lowest = near if values[near] <= 1.02 * float(combined[0]) or near != "legs" else "board"
    return Edges(legs=values["legs"], machine=values["machine"], board=values["board"], lowest=lowest)


def spare_band(bound: Bound, gear: int, effort: float) -> Band:
    """Edge less the load, W at the output, with its band; NaN when a battery pins the cadence or takes what it gets."""
    asked = asked_watts(bound)
    if not np.isfinite(asked[0]):
        return Band(math.nan, math.nan, math.nan)
    combined = edge_watts(bound, gear, effort)[0]
    spare = combined - asked
    if spare.size <= 1:
        return Band(float(spare[0]), math.nan, math.nan)
    return Band.of(spare[1:], float(spare[0]))
