"""A rig that moves: numbers for the kernel from a filled rig and its bound constants, and the playing of one script.

`bind_motion` adds inertias, lags, fuses and the tool's motor to what `bind` already knows; `play` runs one or many columns
of it. The kernel is `motion_step` (compiled; `plain_kernel` is the same source run as plain Python).
"""

from __future__ import annotations

import math
import sys
import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import lru_cache
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Rig
from sparewatt.rig import compiling, steady
from sparewatt.rig import motion_slots as ix
from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.motion_bind import Moving, bind_motion, join_rigs
from sparewatt.rig.motion_layout import Act, Chan, Geo, Move, Out, Shared, Sum

__all__ = [
    "TOLERANCE", "Moving", "Played", "Start", "at_once", "bind_motion", "channel", "compile_aside", "join_rigs", "kernel",
    "plain_kernel", "play", "ready", "warm",
]  # fmt: skip

F = NDArray[np.float64]
KERNELS = tuple(
    f"sparewatt.rig.motion_{part}"
    for part in ("store", "boards", "bus", "electric", "forces", "solver", "events", "slow", "step")
)  # each imports only those before it
TOLERANCE = 2e-4
BUDGET = 4_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """How a script begins."""

    gear: int | tuple[int, ...] = 0  # one for all rigs or one for each
    w_crank: F | float = 0.0  # rad/s, a number or one for each column; 0: from standstill
    holds: int = 0  # 0 effort, 1 cadence, 2 power
    want: float | tuple[float, ...] = 0.0  # W or rad/s, one for all riders or one for each
    switched_on: bool = False
    work: float = 1.0  # share of a tool's rated torque, or of another load's watts
    settle: float = 0.0  # s run and forgotten before the clock starts
    tires: bool = True
    heats: bool = True
    winding: float = math.nan  # K; NaN: the air's
    case: float = math.nan
    charge: float = math.nan  # NaN: as in the rig file
    longest: float = 0.1  # s, of one step
    even: bool = False  # the push is even over the turn


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What one column did."""

    times: F
    rows: F  # (n, channels)
    least: F
    most: F
    sums: F  # (Sum.COUNT,) J
    stores: F  # (2,) J in wheels, coils and capacitors at start and end
    peaks: F  # (channels, 2): highest value, when
    events: F  # (n, 4): s, code, rig, value
    status: int  # 0 done, 1 gave up counting steps, 2 stuck
    steps: int
    rigs: int

    @property
    def followed(self) -> int:
        """How many samples were reached before it was given up; all of them where it was not."""
        return int(np.isfinite(self.rows[:, 0]).sum())


def channel(name: Chan | Shared, rigs: int = 1, rig: int = 0) -> int:
    """Column of a channel in `Played.rows`."""
    return len(Chan) * rig + int(name) if isinstance(name, Chan) else len(Chan) * rigs + int(name)


# ---- the kernel, compiled or plain -----------------------------------------------------------------------------------


def kernel() -> ModuleType:
    """The compiled kernel."""
    from sparewatt.rig import motion_step

    return motion_step


@lru_cache(maxsize=1)
def plain_kernel() -> ModuleType:
    """The same source as plain Python."""
    return compiling.plain_twin(KERNELS)


_ready = threading.Event()


def ready() -> bool:
    """Whether the compiled kernel can answer at once (compiled in this process already)."""
    return _ready.is_set()


def at_once() -> bool:
    """Whether the compiled kernel answers without a wait: loaded already, or its machine code lies on disk."""
    return _ready.is_set() or compiling.is_cached()


_sent = threading.Event()


def compile_aside() -> None:
    """Have the kernel compiled by a process of its own, one on this machine, while the plain twin answers."""
    if _sent.is_set():
        return
    _sent.set()
    compiling.compile_aside([sys.executable, "-m", "sparewatt.rig.warm"])


# ---- playing ---------------------------------------------------------------------------------------------------------


def play(
    moving: Moving,
    script: Sequence[tuple[float, Act, int, float]],
    start: Start,
    *,
    duration: float,
    times: F,
    columns: Sequence[int] = (0,),
    tolerance: float = TOLERANCE,
    budget: int = BUDGET,
    plain: bool = False,
) -> list[Played]:
    """Play a script on the given columns. script: (s, act, rig, value) sorted by time; times: where samples are wanted."""
    module = plain_kernel() if plain else kernel()
    acts = np.array([[t, float(a), float(k), v] for t, a, k, v in script], dtype=float).reshape(-1, 4)
    flows = dict(zip(columns, _first_flows(moving, start, columns, plain), strict=True))

    def one(col: int) -> Played:
        states = _first_states(moving, start, col, flows[col], module)
        return _play_one(module, moving, acts, start, states, duration, times, col, tolerance, budget)

    if plain or len(columns) < 4:
        played = [one(c) for c in columns]
    else:
        played = [one(columns[0])]  # compile once, not in two threads
        with ThreadPoolExecutor(2) as pool:
            played += pool.map(one, columns[1:])
    if not plain:
        _ready.set()
    return played


def _play_one(
    module: ModuleType,
    m: Moving,
    acts: F,
    start: Start,
    states: tuple[Any, ...],
    duration: float,
    times: F,
    col: int,
    tol: float,
    budget: int,
) -> Played:
    rigs = m.rigs
    mv = m.mv[col].copy()
    mv[:, Move.HEATS], mv[:, Move.TIRES] = float(start.heats), float(start.tires)
    table = m.table
    if start.even:
        mv[:, Move.RIPPLE], table = 0.0, m.table[:, :0]
    fixed = (rigs, m.q[col], mv, m.geo[col], table, m.oc[col], m.ocv, m.fuses)
    if start.settle > 0:
        none = np.zeros((0, 4))
        quiet = np.array([start.settle])
        room = _room(rigs, 1)
        left = states[2][:, ix.U_LEFT].copy()
        gf = states[4].copy()
        module.run(*fixed, none, *states, start.settle, quiet, tol, budget, *room)
        states[2][:, ix.U_LEFT], states[2][:, ix.U_FUSE] = left, 0.0
        states[4][ix.F_DBOARD], states[4][ix.F_DBATTERY], states[4][ix.F_DLOAD] = 0.0, 0.0, 0.0
        states[4][ix.F_SOC], states[4][ix.F_OCV] = gf[ix.F_SOC], gf[ix.F_OCV]
        states[4][ix.F_TON] -= start.settle
        states[4][ix.F_TQUIT] -= start.settle
    room = _room(rigs, times.size)
    status = module.run(*fixed, acts, *states, duration, times, tol, budget, *room)
    rows, least, most, sums, stores, peaks, events, count = room[:8]
    return Played(
        times=times,
        rows=rows,
        least=least,
        most=most,
        sums=sums,
        stores=stores,
        peaks=peaks,
        events=events[: min(int(count[0]), events.shape[0])],
        status=int(status),
        steps=int(count[1]),
        rigs=rigs,
    )


def _room(rigs: int, n: int) -> tuple[Any, ...]:
    """Arrays a run of n samples writes its answer into, and those it works in."""
    states, channels = 5 * rigs + 2, len(Chan) * rigs + len(Shared)
    return (
        np.full((n, channels), np.nan),
        np.zeros((n, channels)),
        np.zeros((n, channels)),
        np.zeros(int(Sum.COUNT)),
        np.zeros(2),
        np.zeros((channels, 2)),
        np.zeros((4000, 4)),
        np.zeros(2, dtype=np.int64),
        np.zeros((20, max(channels, int(Sum.COUNT)))),
        np.zeros((states, states)),
        np.zeros((states, states)),
        np.zeros((6, states)),
        np.zeros((rigs, 4)),
        np.zeros((rigs, 2)),
        np.zeros((2, states), dtype=np.int64),
    )


def _first_cadence(start: Start, col: int) -> float:
    return float(start.w_crank[col]) if isinstance(start.w_crank, np.ndarray) else float(start.w_crank)


def _first_flows(m: Moving, start: Start, columns: Sequence[int], plain: bool = True) -> F:
    """(columns, rigs, 4): amps and volts of each machine at the start, amps and volts of its output."""
    cols = list(columns)
    w0 = np.array([_first_cadence(start, col) for col in cols])
    loaded = ((w0 > 0) & start.switched_on) | (m.oc[cols, Out.HAS_BATTERY] > 0)
    flows = np.zeros((len(cols), m.rigs, 4))
    if not w0.any():  # everything stands: the steady map has nothing to say
        return flows
    for k in range(m.rigs):
        q = m.q[cols, k].T.copy()
        q[[Param.A, Param.G, Param.P]] *= loaded
        w = w0 * m.geo[cols, k, gear_of(start, k, m), Geo.RATIO]
        flows[:, k] = _steady_flows(q, w, plain)
        idle = ~np.isfinite(flows[:, k]).all(axis=1) | ~loaded
        flows[idle, k, 0] = flows[idle, k, 2] = 0.0
        flows[idle, k, 1] = np.maximum(q[Param.K_EMF] * w - q[Param.V_DROP], 0.0)[idle]
        flows[w0 <= 0, k] = 0.0
    return flows


def _steady_flows(q: F, w: F, plain: bool) -> F:
    """(columns, 4): amps and volts of a machine at its own speed, amps and volts at the output, from the steady map."""
    if plain:
        at = steady.operate(q, w)
        return np.stack([at.i_out, at.v_bus, at.i_demand, at.v_out], axis=1)
    from sparewatt.rig import fast

    none = np.zeros((1, w.size))
    found = fast.torques(q, np.ones(1), np.ascontiguousarray(w[None, :]), none, none, none)[:, 0, :, 0]
    return np.stack([found[2], found[3], found[5], found[4]], axis=1)


def _first_states(
    m: Moving, start: Start, col: int, flows: F | None = None, module: ModuleType | None = None
) -> tuple[Any, ...]:
    """y, du, su, gi, gf at the start of a script. flows: of each rig, as `_first_flows` finds them."""
    rigs = m.rigs
    if flows is None:
        flows = _first_flows(m, start, (col,))[0]
    y = np.zeros(5 * rigs + 2)
    du = np.zeros((rigs, ix.N_DU), dtype=np.int64)
    su, gi, gf = np.zeros((rigs, ix.N_SU)), np.zeros(ix.N_GI, dtype=np.int64), np.zeros(ix.N_GF)
    oc, mv, q = m.oc[col], m.mv[col], m.q[col]
    w0 = _first_cadence(start, col)
    soc = float(oc[Out.SOC]) if math.isnan(start.charge) else start.charge
    gi[ix.I_SWITCH], gi[ix.I_HOOKED], gi[ix.I_PLUGGED] = int(start.switched_on), 1, 1
    gi[ix.I_CLIP] = 1
    gi[ix.I_RUNS] = int(start.switched_on and w0 > 0)
    gf[ix.F_TON] = -1e9
    gf[ix.F_TQUIT] = -1e9
    gf[ix.F_WORK] = start.work
    gf[ix.F_LONGEST] = start.longest
    gf[ix.F_SOC] = soc
    gf[ix.F_OCV0] = float(np.interp(oc[Out.SOC], m.ocv[0], m.ocv[1]))
    gf[ix.F_OCV] = float(oc[Out.V_REST] + np.interp(soc, m.ocv[0], m.ocv[1]) - gf[ix.F_OCV0])
    gf[ix.F_YIELD] = 1.0 / oc[Out.R_STORE]
    gi[ix.I_ENDS] = 1 if soc >= ix.FULL else (-1 if soc <= ix.EMPTIED else 0)
    if oc[Out.HAS_BATTERY] > 0:
        gf[ix.F_RISE] = (module or kernel()).answer(_first_charge(oc, flows, start, w0), soc, oc)
    for k in range(rigs):
        ratio = float(m.geo[col, k, gear_of(start, k, m), Geo.RATIO])
        y[5 * k], y[5 * k + 1], y[5 * k + 2] = math.pi / 4 + 0.9 * k, w0, w0 * ratio
        air = float(mv[k, Move.T_AIR])
        su[k, ix.U_TW] = air if math.isnan(start.winding) else start.winding
        su[k, ix.U_TC] = air if math.isnan(start.case) else start.case
        su[k, ix.U_K], su[k, ix.U_R] = q[k, Param.K_EMF], q[k, Param.R_SOURCE]
        su[k, ix.U_LEFT] = mv[k, Move.RESERVE]
        su[k, ix.U_WAVG] = w0
        su[k, ix.U_WANT] = want_of(start, k)
        du[k, ix.D_ENGAGED], du[k, ix.D_GEAR], du[k, ix.D_CLAMP] = 1, gear_of(start, k, m), 1
        du[k, ix.D_PEDALS] = du[k, ix.D_HERE] = 1
        du[k, ix.D_HOLDS], du[k, ix.D_MOVING] = start.holds, int(w0 > 0.6)
        du[k, ix.D_DIODE] = 0 if q[k, Param.HAS_DIODE] > 0 else 1
        _first_volts(m, start, col, k, w0, flows[k], gf[ix.F_OCV] + gf[ix.F_RISE], y, du, su)
    return y, du, su, gi, gf


def _first_charge(oc: F, flows: F, start: Start, w0: float) -> float:
    """Amps into the battery at the start: what the rigs push less what a load takes meanwhile; nothing at a standstill."""
    if w0 <= 0:
        return 0.0
    amps, u = float(np.sum(flows[:, 2])), float(np.max(flows[:, 3]))
    if start.switched_on and u > 0:
        amps -= start.work * float(oc[Out.LOAD_A] + oc[Out.LOAD_G] * u + oc[Out.LOAD_P] / u)
    return amps


def gear_of(start: Start, rig: int, m: Moving) -> int:
    """Index of the gear one rig starts in."""
    gear = start.gear[rig] if isinstance(start.gear, tuple) else start.gear
    return min(gear, int(m.geo.shape[2]) - 1)


def want_of(start: Start, rig: int) -> float:
    """What the rider of one rig holds from the start."""
    return float(start.want[rig]) if isinstance(start.want, tuple) else float(start.want)


def _first_volts(
    m: Moving, start: Start, col: int, k: int, w0: float, flow: F, stored: float, y: F, du: Any, su: F
) -> None:
    """Amps and volts of one rig at the start, and the push that carries it there. stored: volts of an idle battery."""
    q, mv, oc = m.q[col, k], m.mv[col, k], m.oc[col]
    i, v = float(flow[0]), float(flow[1])
    torque = _ask(m, col, k, du[k, ix.D_GEAR], w0, i) if w0 > 0 else 0.0
    y[5 * k + 3], y[5 * k + 4] = i, v
    du[k, ix.D_CONDUCTS] = 1 if i > 1e-9 else (-1 if i < -1e-9 else 0)
    if int(q[Param.KIND]) != Kind.NONE:
        wake = mv[Move.V_WAKE] if i == 0 else q[Param.V_SLEEP]
        du[k, ix.D_AWAKE] = int(v >= wake)
        su[k, ix.U_SOFT] = float(v >= wake)
    elif oc[Out.HAS_BATTERY] > 0 and w0 == 0:
        y[5 * k + 4] = stored
    if start.holds == 0:
        push = 4 * want_of(start, k) / float(mv[Move.W_TOP])
    else:
        push = torque / max(1 - w0 / float(mv[Move.W_SPRINT]), 0.05)
    su[k, ix.U_PUSH] = su[k, ix.U_PUSH1] = su[k, ix.U_TRIM] = push if w0 > 0 or start.holds == 0 else 0.0


def _ask(m: Moving, col: int, k: int, gear: int, w: float, i: float) -> float:
    """Crank torque of one rig at a steady cadence and machine current."""
    q, g = m.q[col, k], m.geo[col, k, gear]
    w_g = w * float(g[Geo.RATIO])
    shaft = (
        (float(q[Param.K_EMF]) - float(q[Param.R_SPEED]) * i) * i
        + float(q[Param.T_COULOMB])
        + float(q[Param.B_VISCOUS]) * w_g
        + float(g[Geo.DRAG_AFTER])
        + float(g[Geo.SLOPE_AFTER]) * w_g
    )
    return float(g[Geo.GAIN]) * shaft + float(g[Geo.DRAG_BEFORE]) + float(g[Geo.SLOPE_BEFORE]) * w


def warm() -> None:
    """Compile the kernel, or load it from the cache, so that the first scene does not wait."""
    from sparewatt.parts import Battery, Machine, Ride, Rider, Stage
    from sparewatt.rig.bind import bind
    from sparewatt.rig.fill import exact, fill

    rig = Rig(
        name="warm",
        rider=(Rider(name="you"),),
        stage=(
            Stage(kind="chain", driver_teeth=(42,), driven_teeth=(18,)),
            Stage(kind="direct", ratio=exact(15.0)),
        ),
        machine=Machine(emf_constant=exact(0.075), resistance=exact(0.25)),
        battery=Battery(voltage=exact(12.0), capacity=exact(36 * 3600.0), chemistry="flooded"),
        ride=Ride(),
    )
    filled = fill(rig)
    moving = bind_motion(filled, bind(filled, "charge", draws=0))
    play(moving, (), Start(w_crank=6.0, want=100.0), duration=0.01, times=np.array([0.0, 0.01]))
