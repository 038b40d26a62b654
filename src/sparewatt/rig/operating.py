"""The solved question that `match`, `loads` and the nearest yes all stand on: one rig, one ask, every gear, every draw."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rig
from sparewatt.rig import solve
from sparewatt.rig.asking import Ask
from sparewatt.rig.bind import bind, reheat
from sparewatt.rig.edges import asked_watts, edge_watts
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.limits import SECONDS, Limit, for_seconds, limits_at, peaks_of, slips
from sparewatt.rig.outcome import Band, Crossings, Mode, Point, Stop
from sparewatt.rig.stations import Joined, join, station_of, stations_of
from sparewatt.rig.swing import STILL, Swing, swing_at, turning
from sparewatt.rig.warming import Heat, Working, warm_up

__all__ = [
    "LIKELY", "PASSABLE", "RPM", "State", "bands", "ceiling_limits", "delivered", "gear_stop", "operate", "overspeed",
    "ranked_gears", "uncomfortable", "works",
]  # fmt: skip

F = NDArray[np.float64]
RPM = 2 * math.pi / 60
OVERSPEED = 120 * RPM  # what anybody spins for a moment (common practice, no source)
LIKELY, PASSABLE = 0.80, 0.50  # shares of draws: "it works" and "it may work"
KEPT = 0.2  # of the legs' watts: a rig that delivers less is not worth riding (common practice, no source)
RIDDEN = (0.4, 2.2)  # of the comfortable cadence: outside it nobody rides (common practice, no source)
SHORT_SPARE = (
    0.10  # of the load: an edge nearer than this is too near for comfort (common practice, no source)
)
COMFORT = (0.65, 1.75)  # of the comfortable cadence: outside it is hard work (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One ask solved: numbers bound (hot), crossings over gears and draws, and the gear that is best."""

    ask: Ask
    filled: Filled
    bound: Bound
    found: Crossings
    nominal_w: F  # (gears, 8)
    nominal_kind: NDArray[np.int64]
    gear: int
    stops: tuple[Stop, ...]  # per gear
    chances: F  # per gear
    warmth: Heat
    swings: tuple[Swing, ...]  # per gear, at its holding point
    at: Point | None  # the nominal running point of the reported gear (or at the asked cadence)
    limits: tuple[Limit, ...]  # what each part may stand against what it sees there, the fullest first
    joined: Joined | None = None  # every rig on the shared node, when there are several

    @property
    def stop(self) -> Stop:
        """Outcome in the reported gear."""
        return self.stops[self.gear]


def overspeed(rig: Rig) -> float:
    """Crank speed (rad/s) at which open volts, rims and rotor are judged: 120 turns a minute, or the fastest sprint that the
    file gives for a rider."""
    given = [r.sprint_cadence for r in rig.rider if r.sprint_cadence is not None]
    return max([OVERSPEED, *(w.value for w in given if w.how != "typical")])


def ceiling_limits(bound: Bound) -> list[tuple[str, float]]:
    """Ratings that open volts could pass: (what, volts), lowest first."""
    rig, joined = bound.rig, bound.hookup
    found: list[tuple[str, float]] = []
    if joined.board is not None and joined.board.input_max is not None:
        found.append((f"{joined.board.name}, input", joined.board.input_max.value))
    if rig.bus is not None and rig.bus.capacitor_voltage is not None:
        found.append(("bus capacitor", rig.bus.capacitor_voltage.value))
    if (
        joined.load is not None
        and joined.board is None
        and joined.battery is None
        and joined.load.voltage_max is not None
    ):
        found.append((joined.load.name, joined.load.voltage_max.value))
    return sorted(found, key=lambda item: item[1])


def operate(rig: Rig | Filled, ask: Ask) -> State:
    """Solve a question at the temperatures the machine reaches, all gears and draws. The same question of the same rig is
    solved once: every section gets the very same state."""
    return _operate(rig if isinstance(rig, Filled) else fill(rig), ask)


@lru_cache(maxsize=48)
def _operate(filled: Filled, ask: Ask) -> State:
    alone = filled
    if filled.rig.neighbour:
        stations = stations_of(filled)
        me = station_of(stations, ask.rider)
        alone = Filled(rig=stations[me].rig, assumed=filled.assumed) if me else filled
    if ask.duration <= SECONDS:
        alone = for_seconds(alone)
    bound = bind(alone, ask.load, ask.rider, effort=ask.effort, draws=ask.draws, seed=ask.seed)
    if ask.gear is not None and ask.gear not in bound.gears:
        known = ", ".join(bound.gears)
        raise BadRequest(
            Problem(
                where="gear",
                read=ask.gear,
                problem=f"this rig has no gear '{ask.gear}'",
                hint=f"gears: {known}",
            )
        )
    joined = join(filled, ask, _settle) if filled.rig.neighbour else None
    settled, warmth = _settle(bound.nominal(), ask) if joined is None else (-1, joined.me.ridden.heat)
    inertias = turning(bound)
    cold = bound
    bound, found, w, kind, swings = _hot(cold, ask, warmth, inertias, joined)
    gear = _pick(bound, ask, found) if joined is None else joined.me.gear
    if (
        joined is None and gear != settled
    ):  # with all its doubts it is better ridden in another gear: as warm as there
        warmth = _warmed(cold.nominal(), ask, gear, inertias)
        bound, found, w, kind, swings = _hot(cold, ask, warmth, inertias, joined)
    stops = tuple(gear_stop(bound, ask, found, g) for g in range(len(bound.gears)))
    if joined is not None and joined.unfair:
        stops = (Stop.UNFAIR,) * len(stops)
    at = _point(bound, ask, gear, float(found.w_hold[gear, 0]), warmth)
    turns = swings[gear] if ask.cadence is None else _swing(bound, ask, gear, ask.cadence, inertias)
    return State(
        ask=ask,
        filled=filled,
        bound=bound,
        found=found,
        nominal_w=w,
        nominal_kind=kind,
        gear=gear,
        stops=stops,
        chances=_chances(found, joined),
        warmth=warmth,
        swings=swings,
        at=at,
        limits=() if at is None else limits_at(bound, at, turns, warmth, ask.duration),
        joined=joined,
    )


def _working(warm: Bound, ask: Ask, gear: int, inertias: list[float]) -> Working:
    """What warms the machine where it runs: amps, their swing with each push, speed."""
    w = ask.cadence
    if w is None:
        w = float(solve.crossings(warm, ask.effort)[0].w_hold[gear, 0])
    if not math.isfinite(w):
        return Working(0.0, 1.0, 0.0)
    at = solve.point(warm, gear, w)
    return Working(at.i_out, swing_at(warm, gear, w, ask.effort, inertias).form, at.w_shaft)


def _swing(bound: Bound, ask: Ask, gear: int, w: float, inertias: list[float]) -> Swing:
    return swing_at(bound, gear, w, ask.effort, inertias) if math.isfinite(w) and w > 0 else STILL


def _gripping(bound: Bound, found: Crossings, swings: tuple[Swing, ...]) -> Crossings:
    """The crossings with those struck out as served where tyre or belt slips on each push."""
    with np.errstate(invalid="ignore", divide="ignore"):
        torque = found.p_rider / found.w_hold
        slip = slips(bound, torque, found.w_hold, peaks_of(bound, swings))
    return dataclasses.replace(found, served=np.asarray(found.served & ~slip), slips=slip)


def _point(bound: Bound, ask: Ask, gear: int, hold: float, warmth: Heat) -> Point | None:
    """The point to show: at the asked cadence, else at the holding point; None when there is none."""
    w = ask.cadence if ask.cadence is not None else hold
    if not math.isfinite(w):
        return None
    return solve.point(bound, gear, w, winding=warmth.winding, magnet=warmth.magnet)


def _hot(
    cold: Bound, ask: Ask, warmth: Heat, inertias: list[float], joined: Joined | None
) -> tuple[Bound, Crossings, F, NDArray[np.int64], tuple[Swing, ...]]:
    """The rig as warm as that, with the demand it really has, and where it runs in every gear."""
    bound = reheat(cold, warmth.winding, warmth.magnet)
    if joined is not None:
        bound = joined.share_of(bound)
    found, w, kind = solve.crossings(bound, ask.effort)
    swings = tuple(
        _swing(bound, ask, g, float(found.w_hold[g, 0]), inertias) for g in range(len(bound.gears))
    )
    return bound, _gripping(bound, found, swings), w, kind, swings


def _warmed(cold: Bound, ask: Ask, gear: int, inertias: list[float]) -> Heat:
    """How warm the ride makes the machine in one gear."""
    return warm_up(cold, ask.duration, lambda warm: _working(warm, ask, gear, inertias))


def _settle(cold: Bound, ask: Ask) -> tuple[int, Heat]:
    """The gear a rig is best ridden in, and how warm it gets there."""
    inertias = turning(cold)
    gear = _pick(cold, ask, solve.crossings(cold, ask.effort)[0])
    warmth = _warmed(cold, ask, gear, inertias)
    hot = reheat(cold, warmth.winding, warmth.magnet)
    best = _pick(hot, ask, solve.crossings(hot, ask.effort)[0])
    # warm it may be better ridden in another gear: then as warm as it gets there
    return (gear, warmth) if best == gear else (best, _warmed(cold, ask, best, inertias))


def works(found: Crossings) -> NDArray[np.bool_]:
    """(gears, cols): a holding point at which the load gets what it asks for, at volts it survives."""
    return np.asarray(found.served & np.isfinite(found.w_hold))


def _chances(found: Crossings, joined: Joined | None) -> F:
    """Per gear the share of the draws in which it works, and in which nobody beside it is dragged to a stop."""
    ok = works(found)
    if joined is not None:
        ok = ok & joined.wide(joined.all_hold, ok.shape[1])
    return np.asarray(ok[:, 1:].mean(axis=1) if ok.shape[1] > 1 else ok[:, 0].astype(float))


def _pick(bound: Bound, ask: Ask, found: Crossings) -> int:
    """The asked gear, else the one that serves most at the most comfortable cadence without breaking anything."""
    if ask.gear is not None:
        return bound.gears.index(ask.gear)
    return int(np.argmax(_scores(bound, ask, found)))


def _scores(bound: Bound, ask: Ask, found: Crossings) -> F:
    comfortable = bound.rider.cadence.value if bound.rider.cadence else 65 * RPM
    limits = ceiling_limits(bound)
    lowest = limits[0][1] if limits else math.inf
    ok = works(found).mean(axis=1)
    w = np.nan_to_num(found.w_hold[:, 0], nan=0.0)
    off = (w - comfortable) / (0.35 * comfortable)
    useful = np.where(
        bound.hookup.battery is not None and bound.hookup.load is None,
        np.maximum(found.p_out[:, 0], 0.0),
        1.0,
    )
    open_at_work = bound.params[Param.K_EMF, 0] * bound.ratio[:, 0] * np.maximum(1.25 * w, 0.0)
    breaks = np.where(open_at_work > lowest, 0.3, 1.0)
    near = np.exp(-(off**2)) * np.where(_tight(bound, ask.effort), 0.3, 1.0)
    dead = 1e-6 * near * (np.nan_to_num(found.i_out[:, 0]) > 0)
    return np.asarray(
        np.nan_to_num(ok * (0.05 + near) * (useful + 1e-3) * breaks) + dead - 1e-12 * np.abs(off)
    )


def _tight(bound: Bound, effort: float) -> NDArray[np.bool_]:
    """(gears,): whether the edge is too near the load for comfort; never where a battery takes what comes."""
    one = bound.nominal()
    asked = float(asked_watts(one)[0])
    edges = [float(edge_watts(one, g, effort)[0][0]) for g in range(len(bound.gears))]
    return np.array([edge < (1 + SHORT_SPARE) * asked for edge in edges])


def ranked_gears(solved: State) -> list[int]:
    """Gears from best to worst."""
    return list(np.argsort(-_scores(solved.bound, solved.ask, solved.found)))


def gear_stop(bound: Bound, ask: Ask, found: Crossings, g: int) -> Stop:
    """Why the nominal rig does, or does not, run in one gear."""
    w, mode = float(found.w_hold[g, 0]), Mode(int(found.mode[g, 0]))
    store, board = bound.params[Param.HAS_STORE, 0] > 0, bound.hookup.board
    if math.isfinite(w) and found.i_out[g, 0] > 0 and found.served[g, 0]:
        if (
            store
            and bound.hookup.load is None
            and found.p_out[g, 0] - _field(bound) < KEPT * found.p_rider[g, 0]
        ):
            return Stop.KEEPS
        if store and bound.hookup.load is None and _overfills(bound, float(found.i_battery[g, 0])):
            return Stop.OVERFILLS
        if ask.cadence is None and not _ridden(bound, w):
            return Stop.UNRIDABLE
        return Stop.PINNED if store and board is None else Stop.FOUND
    if math.isfinite(w) and found.slips is not None and found.slips[g, 0]:
        return Stop.SLIPS
    if math.isfinite(w) and mode == Mode.LIMITED:
        return Stop.EDGE_BOARD
    if math.isfinite(w) and found.i_out[g, 0] > 0:
        high = bound.hookup.load.voltage_max if bound.hookup.load else None
        if store and bound.hookup.load is None:
            return Stop.KEEPS
        over = high is not None and found.v_out[g, 0] > high.value
        return Stop.BREAKS if over or mode == Mode.PASSES else Stop.TOO_FEW_VOLTS
    return _why_not(bound, ask, g)


def _field(bound: Bound) -> float:
    """Watts the field coil of an alternator takes from the output; 0 for machines with magnets."""
    return float(bound.extras["p_field"][0]) if "p_field" in bound.extras else 0.0


def _ridden(bound: Bound, w: float) -> bool:
    """Whether anybody would turn the crank at this speed for more than a moment."""
    liked = bound.rider.cadence.value if bound.rider.cadence else 65 * RPM
    return RIDDEN[0] * liked <= w <= RIDDEN[1] * liked


def _overfills(bound: Bound, amps: float) -> bool:
    """Whether the battery is charged past its limit; a limit that is only typical is given a third more room."""
    limit = bound.hookup.battery.charge_current if bound.hookup.battery is not None else None
    if limit is None:
        return False
    return amps > (1.33 if limit.how in ("typical", "guess") else 1.05) * limit.value


def _why_not(bound: Bound, ask: Ask, g: int) -> Stop:
    """The reason for no served holding point: looks along the load line of the nominal rig."""
    cadence = np.linspace(0.05, 1.0, 160) * float(bound.w_top[0])
    torque, mode, _i, _v, _u, _need = solve.lines(bound, cadence)[:, g, 0]
    able = float(solve.rider_line(bound, ask.effort)[0]) * (1 - cadence / float(bound.w_top[0]))
    store = bound.params[Param.HAS_STORE, 0] > 0
    awake = ~np.isin(mode, (Mode.ASLEEP, Mode.CHATTERS))
    idle = ~awake
    if (
        idle[0]
        and able[int(0.3 * cadence.size)] < torque[int(0.3 * cadence.size)]
        and not awake[: int(0.3 * cadence.size)].any()
    ):
        return Stop.DRAGS
    reach = awake & (cadence < 0.97 * bound.w_top[0])
    if not reach.any():
        if (mode == Mode.CHATTERS).any():
            return (
                Stop.EDGE_BOARD
                if math.isfinite(bound.params[Param.I_LIMIT, 0]) and bound.hookup.board
                else Stop.EDGE_MACHINE
            )
        return (
            Stop.NEVER_CHARGES if store else (Stop.NEVER_WAKES if bound.hookup.board else Stop.TOO_FEW_VOLTS)
        )
    full = np.isin(mode, (Mode.REGULATES, Mode.DIRECT, Mode.PASSES)) | ((mode == Mode.LIMITED) & store)
    if not full.any():
        return Stop.EDGE_BOARD if (mode == Mode.LIMITED).any() else Stop.TOO_FEW_VOLTS
    if (able >= torque)[full].any():
        return Stop.CHATTERS
    return Stop.STALLS


def uncomfortable(solved: State) -> bool:
    """Whether the holding cadence is far from what this rider likes."""
    liked = solved.bound.rider.cadence.value if solved.bound.rider.cadence else 65 * RPM
    w = float(solved.found.w_hold[solved.gear, 0])
    return bool(w < COMFORT[0] * liked or w > COMFORT[1] * liked)


def delivered(bound: Bound, found: Crossings) -> F:
    """(gears, cols) watts into the battery's posts, or into the load when that is what was asked."""
    if bound.hookup.load is not None:
        return found.p_load
    i = found.i_battery
    return np.asarray((found.v_out - i * bound.extras["r_battery_wire"]) * i)


def bands(solved: State, values: F, *, only_working: bool = True) -> Band:
    """Band of one row (cols,) in the reported gear: nominal in the middle, draws where it works around it."""
    ok = works(solved.found)[solved.gear] if only_working else np.ones(values.shape, dtype=bool)
    kept = np.where(ok, values, np.nan)
    if values.size <= 1:
        return Band(float(values[0]), math.nan, math.nan)
    mid = float(values[0]) if ok[0] and np.isfinite(values[0]) else None
    return Band.of(kept[1:], mid)
