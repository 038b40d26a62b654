"""The node that several rigs share: the volts at which what they push is what is asked, and who is dragged to a stop."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.bind_output import hold_board, rest_voltage, scaled
from sparewatt.rig.layout import Bound, Kind, Param

__all__ = ["Carried", "Given", "Node", "carry", "with_demand"]

F = NDArray[np.float64]
B = NDArray[np.bool_]
I = NDArray[np.int64]  # noqa: E741
LEAST_LEAD = 1e-3  # ohm, of contacts alone; the moving rig uses the same
NONE_OF_IT = 1e-9  # share of a load that stands for nothing
SCAN, FINE = 28, 160  # volts looked at from the top down, with legs and without
CLOSE = 1e-7  # of the amps asked for: how closely the node's sum must close


@dataclass(frozen=True, slots=True, kw_only=True)
class Node:
    """What is asked at the node, i = a + g u + p/u, and the volts below which the load quits; arrays (cols,)."""

    a: F
    g: F
    p: F
    quit: F
    usual: F  # V: what the load is made for, or the battery at rest
    store: bool

    @classmethod
    def of(cls, bound: Bound) -> Node:
        """What hangs on one rig's output, without its own field coil."""
        q, store = bound.params, bool(bound.params[Param.HAS_STORE, 0] > 0)
        p = q[Param.P] - bound.extras.get("p_field", 0.0)
        rest = q[Param.U_REST] if store else bound.extras["v_load"]
        return cls(a=q[Param.A], g=q[Param.G], p=p, quit=q[Param.U_QUIT], usual=rest, store=store)

    def nominal(self) -> Node:
        """The same for the nominal rigs only."""
        return self.take(np.array([0]))

    def take(self, columns: I) -> Node:
        """The same for some columns."""
        rows = {name: getattr(self, name)[columns] for name in ("a", "g", "p", "quit", "usual")}
        return dataclasses.replace(self, **rows)

    def asks(self, u: F) -> F:
        """Amps at volts u."""
        return np.asarray(self.a + self.g * u + self.p / u)


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What one rig is asked in the end, or when it was dragged to a stop; arrays (cols,)."""

    amps: F  # A from this rig
    others: F  # A from all others meanwhile
    volts: F  # V of the node
    enough: B  # whether together it is what the node asks for

    def take(self, columns: I) -> Given:
        """The same for some columns."""
        return Given(
            amps=self.amps[columns],
            others=self.others[columns],
            volts=self.volts[columns],
            enough=self.enough[columns],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """Amps, volts and who holds, for every rig and column."""

    first: F  # (rigs, cols) A asked of each before anybody is dragged to a stop
    given: tuple[Given, ...]
    volts: F
    first_volts: F
    p_rider: F
    w_hold: F
    holds: B
    order: I  # (rigs,) of the nominal rigs: 0 holds, 1 the first that is dragged to a stop
    carried: B


@dataclass(frozen=True, slots=True)
class _Push:
    """What the rigs push at some volts of the node, and where they hold."""

    amps: F
    w: F
    p_rider: F
    holds: B


def with_demand(bound: Bound, node: Node, lead: float, got: Given) -> Bound:
    """One rig with what it is asked in the joint state: its part of the load, or the battery with the others' amps on it."""
    lead = max(lead, LEAST_LEAD)
    if not node.store:
        v = got.volts if bound.hookup.board is None else bound.params[Param.V_SET]
        part = got.amps * (got.volts + lead * got.amps) / (v * node.asks(v))
        in_all = got.amps / np.maximum(
            got.amps + got.others, NONE_OF_IT
        )  # too few for the load: its part of all of it
        return scaled(bound, np.maximum(np.where(got.enough, part, in_all), NONE_OF_IT))
    a, g = (
        node.a + 2 * node.p / got.volts - got.others,
        node.g - node.p / got.volts**2,
    )  # steady watts: a tangent
    params = bound.params.copy()
    params[Param.A], params[Param.G] = a / (1 + g * lead), g / (1 + g * lead)
    params[Param.P] = bound.extras.get("p_field", 0.0)
    params[Param.U_REST] = rest_voltage(params[Param.A], params[Param.G], params[Param.P])
    if bound.hookup.board is not None:
        hold_board(params, bound.extras["i_set"])
    extras = {**bound.extras, "r_lead": np.full(bound.cols, lead)}
    return dataclasses.replace(bound, params=params, extras=extras)


def carry(
    bounds: Sequence[Bound],
    leads: F,
    node: Node,
    gears: Sequence[int] | None,
    efforts: Sequence[float] | None,
) -> Carried:
    """The joint state; without gears and efforts what boards would carry on tireless legs, bare machines an equal part."""
    leads = np.maximum(leads, LEAST_LEAD)
    n, cols = len(bounds), bounds[0].cols
    if gears is None or efforts is None:
        return _tireless(bounds, leads, node)
    push = _Legs(bounds, leads, gears, efforts)
    alive = np.ones((n, cols), dtype=bool)
    order = np.zeros((n, cols), dtype=np.int64)
    amps, others, at_volts = np.zeros((n, cols)), np.zeros((n, cols)), np.zeros((n, cols))
    sums = np.zeros((n, cols), dtype=bool)
    p_rider, w_hold = np.full((n, cols), np.nan), np.full((n, cols), np.nan)
    volts, carried = np.zeros(cols), np.zeros(cols, dtype=bool)
    first, first_volts, open_ = np.zeros((n, cols)), np.zeros(cols), np.arange(cols)
    for turn in range(n + 1):
        u, enough, got = _settle(push, node, alive, open_)
        live = alive[:, open_]
        beside = got.amps.sum(axis=0) - got.amps
        for row, new in (
            (amps, got.amps),
            (others, beside),
            (at_volts, u),
            (p_rider, got.p_rider),
            (w_hold, got.w),
        ):
            row[:, open_] = np.where(live, new, row[:, open_])
        sums[:, open_] = np.where(live, enough, sums[:, open_])
        volts[open_], carried[open_] = u, enough
        if turn == 0:
            first, first_volts = amps.copy(), volts.copy()
        fails = live & ~got.holds
        hurt = fails.any(axis=0)
        if not hurt.any():
            break
        worst = np.argmax(np.where(fails, got.amps, -1.0) / np.array(efforts)[:, None], axis=0)
        open_, worst = open_[hurt], worst[hurt]
        alive[worst, open_] = False
        order[worst, open_] = turn + 1
    return Carried(
        first=first,
        given=tuple(
            Given(amps=amps[k], others=others[k], volts=at_volts[k], enough=sums[k]) for k in range(n)
        ),
        volts=volts,
        first_volts=first_volts,
        p_rider=np.where(alive, p_rider, np.nan),
        w_hold=np.where(alive, w_hold, np.nan),
        holds=alive,
        order=order[:, 0],
        carried=carried & alive.any(axis=0),
    )


def _tireless(bounds: Sequence[Bound], leads: F, node: Node) -> Carried:
    """What is asked of each before legs are counted."""
    n, cols = len(bounds), bounds[0].cols
    alive = np.ones((n, cols), dtype=bool)
    boards = np.array([b.hookup.board is not None for b in bounds])
    volts, carried = node.usual.copy(), np.ones(cols, dtype=bool)
    if boards.any():
        volts, carried = _board_volts(bounds, leads, node, alive)
        amps = _board_amps(bounds, leads, volts, alive)
    else:
        amps = np.zeros((n, cols)) if node.store else np.tile(node.asks(volts) / n, (n, 1))
    nothing = np.full((n, cols), np.nan)
    return Carried(
        first=amps,
        given=tuple(
            Given(amps=amps[k], others=amps.sum(axis=0) - amps[k], volts=volts, enough=carried)
            for k in range(n)
        ),
        volts=volts,
        first_volts=volts,
        p_rider=nothing,
        w_hold=nothing,
        holds=alive,
        order=np.zeros(n, dtype=np.int64),
        carried=carried,
    )


def _board_amps(bounds: Sequence[Bound], leads: F, u: F, alive: B) -> F:
    """Amps that boards ask of their riders at node volts u (..., cols): set volts behind a lead, up to the amps screw."""
    rows = []
    for k, bound in enumerate(bounds):
        if bound.hookup.board is None:
            rows.append(np.zeros(u.shape))
            continue
        amps = np.clip((bound.params[Param.V_SET] - u) / leads[k], 0.0, bound.extras["i_set"])
        rows.append(np.where(alive[k], amps, 0.0))
    return np.stack(rows)


def _board_volts(bounds: Sequence[Bound], leads: F, node: Node, alive: B) -> tuple[F, B]:
    """Highest volts at which tireless boards push what is asked, and whether there are any."""
    top = np.max([np.where(alive[k], b.params[Param.V_SET], 1.0) for k, b in enumerate(bounds)], axis=0)
    if node.store:
        top = np.maximum(top, node.usual)
    grid = top * np.linspace(1.0, 0.05, FINE)[:, None]
    over = _board_amps(bounds, leads, grid, alive).sum(axis=0) - node.asks(grid)
    enough = over >= 0
    found = enough.any(axis=0)
    at = np.where(found, np.argmax(enough, axis=0), np.argmax(over, axis=0))
    low = np.take_along_axis(grid, at[None], axis=0)[0]
    high = np.take_along_axis(grid, np.maximum(at - 1, 0)[None], axis=0)[0]
    for _ in range(50):
        middle = 0.5 * (low + high)
        up = _board_amps(bounds, leads, middle, alive).sum(axis=0) >= node.asks(middle)
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    return np.where(found, low, np.take_along_axis(grid, at[None], axis=0)[0]), found


class _Legs:
    """What the rigs push with the legs on them, at any volts of the node."""

    def __init__(
        self, bounds: Sequence[Bound], leads: F, gears: Sequence[int], efforts: Sequence[float]
    ) -> None:
        self.bounds, self.leads = bounds, leads
        self.starts = [4 * effort / b.w_top for b, effort in zip(bounds, efforts, strict=True)]
        self.drives = [
            tuple(np.ascontiguousarray(x[g : g + 1]) for x in (b.ratio, b.gain, b.drag, b.slope))
            for b, g in zip(bounds, gears, strict=True)
        ]

    def at(self, u: F, alive: B, columns: I) -> _Push:
        """Amps, cadence, rider's watts and whether each holds at node volts u, for some columns."""
        rows = [self._one(k, u, columns) for k in range(len(self.bounds))]
        amps, w, p_rider, holds = (np.stack(x) for x in zip(*rows, strict=True))
        return _Push(np.where(alive[:, columns], amps, 0.0), w, p_rider, holds)

    def _one(self, k: int, u: F, columns: I) -> tuple[F, F, F, B]:
        from sparewatt.rig import fast  # late: it loads the compiler

        bound, lead = self.bounds[k], float(self.leads[k])
        params = np.ascontiguousarray(bound.params[:, columns])
        params[Param.A], params[Param.G] = -u / lead, 1 / lead
        params[Param.P] = bound.extras["p_field"][columns] if "p_field" in bound.extras else 0.0
        params[Param.U_QUIT], params[Param.HAS_STORE] = 0.0, 1.0
        params[Param.U_REST] = rest_voltage(params[Param.A], params[Param.G], params[Param.P])
        boarded = bound.hookup.board is not None
        if boarded:
            hold_board(params, bound.extras["i_set"][columns])
        ratio, gain, drag, slope = (np.ascontiguousarray(x[:, columns]) for x in self.drives[k])
        w, _kind, picked, state = fast.crossings(
            params, ratio, gain, drag, slope, self.starts[k][columns], bound.w_top[columns]
        )
        at = picked[0, :, 0]
        holds = at >= 0
        amps = (state[0, :, 3] - u) / lead
        if boarded or bool((params[Param.HAS_DIODE] > 0).all()):
            amps = np.maximum(np.where(state[0, :, 4] > 0, amps, 0.0), 0.0)
        if boarded:
            asked = np.clip((params[Param.V_SET] - u) / lead, 0.0, bound.extras["i_set"][columns])
            amps = np.where(holds, amps, asked)
        w_hold = np.take_along_axis(w[0], np.maximum(at, 0)[:, None], axis=1)[:, 0]
        return np.where(np.isfinite(amps), amps, 0.0), w_hold, state[0, :, 5], holds

    def highest(self, alive: B, columns: I) -> F:
        """Volts of the node above which nobody pushes anything."""
        rows = []
        for k, bound in enumerate(self.bounds):
            q = bound.params[:, columns]
            able = q[Param.K_EMF] * self.drives[k][0][0, columns] * bound.w_top[columns] - q[Param.V_DROP]
            kind = q[Param.KIND]
            top = np.where(kind == Kind.NONE, able, q[Param.V_SET])
            top = np.where(kind == Kind.BOOST, np.maximum(able, top), top)
            rows.append(np.where(alive[k, columns], np.maximum(top, 0.1), 0.1))
        return np.asarray(np.max(rows, axis=0))


def _settle(legs: _Legs, node: Node, alive: B, columns: I) -> tuple[F, B, _Push]:
    """Node volts, whether they carry what is asked, and what each pushes there, for some columns."""
    here, live = node.take(columns), alive[:, columns]
    u, enough = here.usual.copy(), np.zeros(columns.size, dtype=bool)
    boards = [b.hookup.board is not None for b in legs.bounds]
    taken = [_taken(b, columns) for b in legs.bounds]
    if any(boards):
        u, enough = _board_volts(taken, legs.leads, here, live)
    got = legs.at(u, alive, columns)
    left = np.abs(got.amps.sum(axis=0) - here.asks(u)) > CLOSE * np.maximum(np.abs(here.asks(u)), 1.0)
    if not left.any():
        return u, enough & (u >= here.quit), got
    some = columns[left]
    u[left], enough[left] = _search(
        lambda x: legs.at(x, alive, some).amps.sum(axis=0) - node.take(some).asks(x),
        legs.highest(alive, some),
        here.usual[left] if node.store else None,
    )
    return u, enough & (u >= here.quit), legs.at(u, alive, columns)


def _taken(bound: Bound, columns: I) -> Bound:
    extras = {"i_set": bound.extras["i_set"][columns]} if "i_set" in bound.extras else {}
    return dataclasses.replace(bound, params=bound.params[:, columns], extras=extras)


def _search(over: Callable[[F], F], top: F, rest: F | None) -> tuple[F, B]:
    """Highest volts at which as much is pushed as is asked, and whether there are any; else the volts nearest to it.

    With a battery they lie between its rest and the highest volts; otherwise they are looked for from the top down.
    """
    if rest is not None:
        high = np.maximum(top, rest) * 1.001
        low, best, found = rest, rest, np.ones(top.shape, dtype=bool)
        f_low, f_high = over(low), over(high)
    else:
        high, f_high = top.copy(), over(top)
        low, f_low, best, most = high.copy(), f_high.copy(), high.copy(), f_high.copy()
        found = f_high >= 0
        for step in range(1, SCAN):
            u = np.where(found, low, top * (1.0 - (step / SCAN) ** 2 * 0.95))
            f = over(u)
            better = ~found & (f > most)
            best, most = np.where(better, u, best), np.where(better, f, most)
            high, f_high = np.where(found | (f >= 0), high, u), np.where(found | (f >= 0), f_high, f)
            low, f_low = np.where(found, low, u), np.where(found, f_low, f)
            found = found | (f >= 0)
            if found.all():
                break
    side = np.zeros(top.shape)
    u = low
    for turn in range(60):
        straight = (low * f_high - high * f_low) / np.where(f_high == f_low, 1.0, f_high - f_low)
        u = np.where((turn % 6 < 5) & (straight > low) & (straight < high), straight, 0.5 * (low + high))
        f = over(u)
        if np.all((np.abs(f) < CLOSE) | (high - low < 1e-12 * high) | ~found):
            break
        up = f >= 0
        f_high = np.where(up & (side == 1), 0.5 * f_high, f_high)
        f_low = np.where(~up & (side == -1), 0.5 * f_low, f_low)
        low, f_low = np.where(up, u, low), np.where(up, f, f_low)
        high, f_high = np.where(up, high, u), np.where(up, f_high, f)
        side = np.where(up, 1.0, -1.0)
    return np.where(found, u, best), found
