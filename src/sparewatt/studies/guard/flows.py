"""Volts and amps of every branch of the circuit, over all that may be asked of the rig, and of a dead short there."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparewatt.parts import Battery, Converter, Measured, Rig
from sparewatt.physics import protection, wire
from sparewatt.rig.circuit import CHARGE, Branch, Circuit, Piece, circuit_of
from sparewatt.rig.operating import State, overspeed

__all__ = ["Flow", "Guarded", "battery_side", "flows_of", "guarded", "too_big", "way_ohms"]

LEGS_SHARE = 0.7  # of the effort that reaches the wire where no ride holds, to have some amps to size by
CONTACTS = 0.002  # ohm of the clamps at a battery's posts (common practice, no source)
MOST_SURGE = 6.0  # times the running amps: a battery and its cable give no more for a moment (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Flow:
    """One branch at the hardest that lasts: working volts, amps for hours and for a moment, the amps of a dead short that a
    battery drives (0 where only legs push), and the most volts it can ever see."""

    volts: float
    amps: float
    ceiling: float
    short: float = 0.0
    fault: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Guarded:
    """The branches that one fuse guards, the fuse (None where one is missing) and the branch it sits on."""

    fuse: Piece | None
    at: Branch
    branches: tuple[Branch, ...]


def flows_of(rig: Rig, hard: Sequence[State], others: Sequence[State], effort: float) -> dict[str, Flow]:
    """A flow for each branch that carries something, of the first rig's branches and of what all share.

    hard: each load and the charge; with several rigs each rig takes its share. others: the part of the other rigs, and
    the same loads on one rig alone, for when the rest steps off or is set too low.
    """
    circuit = circuit_of(rig)
    flows: dict[str, Flow] = {}
    for s in (*hard, *others):
        for name, flow in _of_ask(circuit, s, effort).items():
            flows[name] = _wider(flows.get(name), flow)
    if rig.battery is not None:
        _from_battery(circuit, rig.battery, hard, others, flows)
    reached = battery_side(circuit)
    return {
        name: dataclasses.replace(f, fault=_fault(circuit, rig, circuit.branch(name)))
        if name in reached
        else f
        for name, f in flows.items()
    }


def too_big(s: State) -> bool:
    """Whether a load would empty its battery within the hour: no wire is sized for that."""
    battery = s.bound.hookup.battery
    if s.bound.hookup.load is None or battery is None:
        return False
    return _drawn(s) / _value(battery.voltage) > _value(battery.capacity) / 3600.0


def way_ohms(branches: Sequence[Branch]) -> float:
    """Both conductors and the contacts of all wires on some branches; 10 mohm of contacts where none is named."""
    total = 0.0
    for piece in (p for b in branches for p in b.wires):
        length, size, contacts = (getattr(piece.part, k) for k in ("length", "size", "contact_resistance"))
        total += 2 * float(wire.conductor_resistance(length=_value(length), area=_value(size)))
        total += _value(contacts, 0.01)
    return total or 0.01


def guarded(circuit: Circuit) -> tuple[Guarded, ...]:
    """Every fuse with what is behind it, seen from what can burn it: the battery, else the machine.

    What the battery can reach and no fuse guards stands under a fuse that is missing, at its post.
    """
    found: dict[str, list[Branch]] = {}
    place: dict[str, tuple[Piece | None, Branch]] = {}
    seen: set[str] = set()

    def walk(branch: Branch, key: str, up: bool) -> None:
        if branch.name in seen:
            return
        seen.add(branch.name)
        if branch.fuses:
            piece = min(branch.fuses, key=lambda p: _value(getattr(p.part, "rating", None), math.inf))
            key = f"{branch.name} {piece.where}"
            place[key] = (piece, branch)
        found.setdefault(key, []).append(branch)
        for other, on in _onward(circuit, branch, up):
            walk(other, key, on)

    post = next((b for b in circuit.branches if b.kind == "post"), None)
    if post is not None:
        place["missing"] = (None, post)
        walk(post, "missing", True)
    for branch in circuit.branches:
        if branch.kind != "board":
            walk(branch, "legs", False)
    return tuple(
        Guarded(fuse=place[key][0], at=place[key][1], branches=tuple(branches))
        for key, branches in found.items()
        if key in place and (key != "missing" or len(branches) > 1)
    )


def battery_side(circuit: Circuit) -> frozenset[str]:
    """Names of all branches that the battery can burn: what it reaches without a board between."""
    stack = [(b, True) for b in circuit.branches if b.kind == "post"]
    found: set[str] = set()
    while stack:
        branch, up = stack.pop()
        if branch.name not in found:
            found.add(branch.name)
            stack += _onward(circuit, branch, up)
    return frozenset(found)


def _onward(circuit: Circuit, branch: Branch, up: bool) -> list[tuple[Branch, bool]]:
    """Branches that a current goes on into, never through a board; up: against the way from the machine."""
    node = branch.start if up else branch.end
    return [
        (b, b.end == node)
        for b in circuit.branches
        if b.kind not in ("board", "post")
        and not (b.second or b.unhooked)
        and (b.start == node or (up and b.end == node and b.kind in ("output", "machine")))
        and b.name != branch.name
    ]


def _value(known: Measured | None, default: float = 0.0) -> float:
    return default if known is None else known.value


def _drawn(s: State) -> float:
    """Watts that a load takes where the battery or a board feeds it."""
    return float(s.bound.extras.get("p_load_board", s.bound.extras["p_load"])[0])


def _share(s: State) -> float:
    """How many times as large all of the load is as the part that this rig has of it."""
    if s.joined is None or s.bound.hookup.load is None:
        return 1.0
    return float(s.joined.me.ridden.bound.extras["p_load"][0] / s.bound.extras["p_load"][0])


def _of_ask(circuit: Circuit, s: State, effort: float) -> dict[str, Flow]:
    """What one ask puts through the branches on its way."""
    joined, found = s.bound.hookup, s.found
    k, ratio = s.bound.extras["k_emf_cold"][0], s.bound.ratio[:, 0]
    ceiling = float(np.max(protection.volts_ceiling(overspeed(s.filled.rig), ratio=ratio, k_emf=k)))
    if too_big(s):
        return {}
    volts_out = _output_volts(s)
    held = np.isfinite(found.w_hold[:, 0]) & (found.i_out[:, 0] > 0)
    if held.any():
        best = int(np.argmax(np.where(held, found.i_out[:, 0], -1.0)))
        amps, volts = float(found.i_out[best, 0]), float(found.v_bus[best, 0])
        if joined.board is None and joined.battery is not None:
            volts = max(volts, _value(joined.battery.low_voltage))
        amps_out = float(np.max(np.where(held, found.p_out[:, 0] / volts_out, 0.0)))
    elif s.filled.rig.neighbour or not circuit.shared:
        volts = min(volts_out, max(ceiling, 1.0))
        amps, amps_out = LEGS_SHARE * effort / volts, LEGS_SHARE * effort / volts_out
    else:
        return {}  # one rig alone does not hold it, so it does not carry it for hours
    most_out = _most_out(joined.board, volts_out, ceiling)
    flows = {}
    boards = 0
    for branch in circuit.path(joined.name):
        boards += branch.kind == "board"
        if branch.kind == "outlets":
            break
        if (branch.kind in ("machine", "feed") and boards == 0) or (
            branch.kind == "output" and joined.board is None
        ):
            flows[branch.name] = Flow(volts=volts, amps=amps, ceiling=ceiling, short=amps)
        elif branch.kind == "output" and boards == 1:
            flows[branch.name] = Flow(volts=volts_out, amps=amps_out, ceiling=most_out, short=amps_out)
    if joined.load is not None:
        flows |= _of_load(circuit, s, ceiling, most_out)
    return flows


def _of_load(circuit: Circuit, s: State, ceiling: float, most_out: float) -> dict[str, Flow]:
    """The lead of a load, and what feeds its own board: all rigs together."""
    joined = s.bound.hookup
    assert joined.load is not None
    share = _share(s)
    watts, at = share * float(s.bound.extras["p_load"][0]), float(s.bound.extras["v_load"][0])
    surge = min(_value(joined.load.start_factor, 1.0), MOST_SURGE)
    if joined.load_board is not None:
        most = _most_out(joined.load_board, _value(joined.load_board.set_voltage, at), 0.0)
    elif joined.battery is not None:
        most = _value(joined.battery.charge_voltage)
    else:
        most = ceiling if joined.board is None else most_out
    lead = circuit.lead(joined.load)
    flows = {lead.name: Flow(volts=at, amps=watts / at, ceiling=max(most, at), short=surge * watts / at)}
    feeds = [
        b
        for b in circuit.path(joined.name)
        if b.kind == "feed" and isinstance(_fed_board(circuit, b), Converter)
    ]
    if joined.load_board is not None and feeds:
        battery = joined.battery
        low = _value(battery.low_voltage, 0.9 * _value(battery.voltage)) if battery else _output_volts(s)
        volts = _value(battery.voltage) if battery else _output_volts(s)
        full = _value(battery.charge_voltage) if battery else most_out
        amps = share * _drawn(s) / low
        flows[feeds[-1].name] = Flow(volts=volts, amps=amps, ceiling=full, short=amps)
    return flows


def _fed_board(circuit: Circuit, feed: Branch) -> Converter | None:
    found = [b.part for b in circuit.from_node(feed.end) if isinstance(b.part, Converter)]
    return found[0] if found else None


def _output_volts(s: State) -> float:
    joined = s.bound.hookup
    if joined.board is not None and joined.board.set_voltage is not None:
        return joined.board.set_voltage.value
    if joined.battery is not None and joined.battery.charge_voltage is not None:
        return joined.battery.charge_voltage.value
    return float(s.bound.extras["v_load"][0]) if "v_load" in s.bound.extras else 12.0


def _most_out(board: Converter | None, volts: float, ceiling: float) -> float:
    """The most volts behind a board: what it is set to, and what a step-up board lets through."""
    return max(volts, ceiling) if board is not None and board.kind == "boost" else volts


def _from_battery(
    circuit: Circuit, battery: Battery, hard: Sequence[State], others: Sequence[State], flows: dict[str, Flow]
) -> None:
    """The run from the battery with all that may be on at once, and the battery's own post with the charge of all rigs."""
    rigs = len(circuit.stations)
    low, full = _value(battery.low_voltage, 0.9 * _value(battery.voltage)), _value(battery.charge_voltage)
    fed = [s for s in hard if s.bound.hookup.load is not None and s.bound.hookup.battery is not None]
    drawn = sum(_drawn(s) * _share(s) for s in fed if not too_big(s)) / low
    if drawn > 0:
        flows["from the battery"] = Flow(volts=_value(battery.voltage), amps=drawn, ceiling=full, short=drawn)
    amps = [s.found.i_battery[:, 0] for s in (*hard, *others) if s.bound.hookup.load is None]
    into = max((float(np.max(np.nan_to_num(i))) for i in amps), default=0.0)
    lines = [
        flows[b.name].amps
        for b in circuit.path(CHARGE)
        if b.kind in ("output", "machine") and b.name in flows
    ]
    into = into if into > 0.0 else lines[-1] * rigs if lines else 0.0
    if into > 0 or drawn > 0:
        most = max(into, drawn)
        flows["battery post"] = Flow(volts=_value(battery.voltage), amps=most, ceiling=full, short=most)


def _wider(old: Flow | None, new: Flow) -> Flow:
    """The harder of two flows in one branch: most amps, fewest volts to lose from, highest ceiling."""
    if old is None:
        return new
    return Flow(
        volts=min(old.volts, new.volts),
        amps=max(old.amps, new.amps),
        ceiling=max(old.ceiling, new.ceiling),
        short=max(old.short, new.short),
    )


def _fault(circuit: Circuit, rig: Rig, branch: Branch) -> float:
    """Amps that the battery drives into a dead short at the near end of a branch that it reaches."""
    battery = rig.battery
    assert battery is not None
    before = [b for b in circuit.branches if b.kind == "outlets" and b.wires and branch.start == b.end]
    ohms = _value(battery.resistance) + CONTACTS + (way_ohms(before) if before else 0.0)
    return float(
        protection.prospective_current(_value(battery.charge_voltage, _value(battery.voltage)), ohms)
    )
