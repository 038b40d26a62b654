"""The nearest yes: for each refusal the smallest changes that turn it, each solved again before it is offered.

Edits are (key path, text) pairs for the rig file: "stage.1.driven_diameter" sets one value; a path ending in "+" adds a
part, its text being the TOML body of that part.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import TypeVar

import numpy as np

from sparewatt.parts import Battery, Converter, Load, Measured, Neighbour, Rig
from sparewatt.rig.fill import Filled, exact, fill
from sparewatt.rig.outcome import Stop
from sparewatt.studies import core
from sparewatt.studies.answers import Ask, Change, Shares
from sparewatt.studies.core import Solved
from sparewatt.studies.edges import asked_watts, edge_watts, spare_band

__all__ = ["instead_of_refused", "nearest_yes"]

T = TypeVar("T")
KEEP = 3
PROVE_DRAWS = 256
SIZES = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
PULLEYS = (1.1, 0.9, 1.2, 0.8, 1.35, 0.75, 1.5, 0.67, 1.75, 0.57, 2.0, 0.5, 2.5, 0.4, 3.0, 0.33)
SPELLS = (0.5, 0.25, 0.1, 0.05, 0.02, 0.01)
RANK = {"not by legs": 0, "hard work": 1, "good use of legs": 2}
COINS = {"pulley": 6.0, "board": 12.0, "battery": 40.0}


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Try:
    """One change to try: the rig and ask it makes, and how it is said."""

    kind: str
    says: str
    rig: Rig
    ask: Ask
    edits: tuple[tuple[str, str], ...]
    cost: float
    size: float


def nearest_yes(solved: Solved, verdict: str, shares: Shares | None = None) -> tuple[Change, ...]:
    """Up to three changes of different kinds, smallest first, each proven by solving the changed rig.

    A change counts when it lifts the verdict at least one word.
    """
    found: list[Change] = []
    unfair = shares is not None and not all(row.holds for row in shares.rows)
    if unfair and shares is not None:
        return _fairer(solved, shares)
    if solved.bound.hookup.load is not None and solved.bound.hookup.load.motion:
        found.append(_no_electricity(solved.ask, solved.bound.hookup.load, 0.4))
    for family in (_efforts, _gears, _sheds, _pulleys, _boards, _batteries, _riders):
        change = _first_proven(family(solved), verdict)
        if change is not None:
            found.append(change)
    load = solved.bound.hookup.load
    if load is not None and load.kind == "heater":
        found.append(_no_electricity(solved.ask, load, 0.6))
    return tuple(sorted(found, key=lambda change: change.size)[:KEEP])


def _fairer(solved: Solved, shares: Shares) -> tuple[Change, ...]:
    """A piece of thin wire in each lead, or the amps screws, when with it every rider holds."""
    from sparewatt.studies.shares import shares_of

    rig, found = solved.filled.rig, []
    if shares.fair_resistance > 0 and all(row.holds for row in shares.fair_rows):
        main = (
            rig.bus.lead_resistance.value if rig.bus and rig.bus.lead_resistance else 0.02
        ) + shares.fair_resistance
        edits = [("bus.lead_resistance", f"{main:.3g} ohm")]
        for k, other in enumerate(rig.neighbour):
            if other.lead_resistance is not None:
                edits.append(
                    (
                        f"neighbour.{k}.lead_resistance",
                        f"{other.lead_resistance.value + shares.fair_resistance:.3g} ohm",
                    )
                )
        amps = " / ".join(f"{row.amps.mid:.1f}" for row in shares.fair_rows)
        wire = f"{shares.wire_length:.1f} m there and back of {1e6 * shares.wire_area:.2g} mm2 wire"
        says = f"add about {shares.fair_resistance:.2g} ohm to each lead: {wire}"
        found.append(_shared(solved, says, f"then they carry {amps} A", tuple(edits), 0.05))
    board = solved.bound.hookup.board
    if board is not None and board in rig.converter:
        k, amps_each = rig.converter.index(board), math.ceil(100 * shares.limit_each) / 100
        limited = dataclasses.replace(board, set_current=exact(amps_each))
        trial = shares_of(
            Filled(rig=dataclasses.replace(rig, converter=_swap(rig.converter, k, limited)), assumed=()),
            solved.ask,
        )
        if trial is not None and all(row.holds for row in trial.rows):
            says = f"turn every board's amps screw to {amps_each:.2f} A and keep a battery on the bus"
            found.append(
                _shared(
                    solved,
                    says,
                    "then each gives its share and no more",
                    ((f"converter.{k}.set_current", f"{amps_each:.2f} A"),),
                    0.06,
                )
            )
    return tuple(found)


def _shared(solved: Solved, says: str, gives: str, edits: tuple[tuple[str, str], ...], size: float) -> Change:
    return Change(
        kind="share",
        says=says,
        gives=gives,
        edits=edits,
        ask=solved.ask,
        proven=True,
        cost=math.nan,
        size=size,
    )


def _first_proven(tries: Iterator[_Try], verdict: str) -> Change | None:
    """The first try whose solved verdict is better: nominal first, then with draws."""
    for attempt in tries:
        filled = fill(attempt.rig)
        if core.refusal(filled.rig, attempt.ask.load) is not None:
            continue
        quick = core.solve_ask(filled, dataclasses.replace(attempt.ask, draws=0))
        if RANK[core.verdict_of(quick)] <= RANK[verdict]:
            continue
        full = core.solve_ask(filled, dataclasses.replace(attempt.ask, draws=PROVE_DRAWS))
        if RANK[_verdict(full)] > RANK[verdict]:
            return _change(attempt, full)
    return None


def _verdict(solved: Solved) -> str:
    from sparewatt.studies.edges import edges_at

    return core.verdict_of(solved, spare_band(solved, edges_at(solved, None)).mid)


def _change(attempt: _Try, full: Solved) -> Change:
    g = full.gear
    rpm = float(full.found.w_hold[g, 0]) / core.RPM
    watts = float(full.found.p_load[g, 0] if full.bound.hookup.load is not None else full.found.p_out[g, 0])
    gives = (
        f"holds at about {rpm:.0f} turns a minute with {watts:.0f} W delivered" if math.isfinite(rpm) else ""
    )
    return Change(
        kind=attempt.kind,
        says=attempt.says,
        gives=gives,
        edits=attempt.edits,
        ask=attempt.ask,
        proven=True,
        cost=attempt.cost,
        size=attempt.size,
    )


def _efforts(solved: Solved) -> Iterator[_Try]:
    """Ride for less time, at what the rider can then give; or ease off to what can be held."""
    ask, bound = solved.ask, solved.bound
    cp, reserve, peak = (float(x[0]) for x in (bound.critical_power, bound.work_reserve, bound.p_peak))
    held = float(core.power_for(cp, reserve, ask.duration, peak))
    if ask.effort > 1.05 * held:
        easier = dataclasses.replace(ask, effort=round(held, 0), cadence=None)
        yield _Try(
            kind="effort",
            says=f"ease off to {held:.0f} W, which this rider can hold that long",
            rig=solved.filled.rig,
            ask=easier,
            edits=(),
            cost=0.0,
            size=0.1,
        )
    if (
        solved.stop == Stop.OVERFILLS
        and bound.hookup.battery is not None
        and bound.hookup.battery.charge_current is not None
    ):
        over = float(solved.found.i_battery[solved.gear, 0]) / bound.hookup.battery.charge_current.value
        for share in (1.0, 0.9, 0.8, 0.7):
            softer = float(np.floor(ask.effort * share / over / 5) * 5)
            easier = dataclasses.replace(ask, effort=softer, cadence=None)
            yield _Try(
                kind="effort",
                says=f"ride softer, worth about {softer:.0f} W, so that the battery gets no more than it may take",
                rig=solved.filled.rig,
                ask=easier,
                edits=(),
                cost=0.0,
                size=0.1,
            )
        return
    for share in SPELLS:
        seconds = _round_time(ask.duration * share)
        if seconds < 15:
            return
        effort = float(core.power_for(cp, reserve, seconds, peak))
        if effort <= 1.03 * ask.effort:
            continue
        shorter = dataclasses.replace(ask, duration=seconds, effort=round(effort, 0), cadence=None, gear=None)
        yield _Try(
            kind="shorter",
            says=f"ride it in bouts of {_time_words(seconds)}, pushing worth {effort:.0f} W",
            rig=solved.filled.rig,
            ask=shorter,
            edits=(),
            cost=0.0,
            size=0.12 * math.log2(1 / share),
        )


def _gears(solved: Solved) -> Iterator[_Try]:
    """Another sprocket that is already there."""
    if solved.ask.gear is None:
        return
    for g in core.ranked_gears(solved):
        name = solved.bound.gears[g]
        if g != solved.gear:
            ask = dataclasses.replace(solved.ask, gear=name, cadence=None)
            yield _Try(
                kind="gear",
                says=f"shift to {name}",
                rig=solved.filled.rig,
                ask=ask,
                edits=(),
                cost=0.0,
                size=0.05,
            )


def _sheds(solved: Solved) -> Iterator[_Try]:
    """A smaller load, or fewer charging amps."""
    bound, rig, ask = solved.bound, solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    load, board = bound.hookup.load, bound.hookup.board
    if load is not None:
        k = rig.load.index(load)
        assert load.power is not None
        for m in SIZES:
            watts = _round2(load.power.value * m)
            smaller = dataclasses.replace(
                load, power=dataclasses.replace(load.power, value=watts, sd=load.power.sd * m)
            )
            yield _Try(
                kind="shed",
                says=f"shed load: run no more than {watts:g} W of it",
                rig=_swap_load(rig, k, smaller),
                ask=ask,
                edits=((f"load.{k}.power", f"{watts:g} W"),),
                cost=0.0,
                size=(1 - m) * 0.8,
            )
    elif board is not None:
        edge = float(edge_watts(bound, solved.gear, ask.effort)[0][0])
        volts = float(bound.params[_HELD, 0])
        k = rig.converter.index(board)
        for m in (0.85, 0.7, 0.5):
            amps = _round2(m * edge / max(volts, 1.0))
            if amps <= 0.05:
                continue
            turned = dataclasses.replace(board, set_current=exact(amps))
            yield _Try(
                kind="shed",
                says=f"turn the amps screw of the {board.name} down to {amps:g} A",
                rig=dataclasses.replace(rig, converter=_swap(rig.converter, k, turned)),
                ask=ask,
                edits=((f"converter.{k}.set_current", f"{amps:g} A"),),
                cost=0.0,
                size=0.08,
            )


def _pulleys(solved: Solved) -> Iterator[_Try]:
    """Another size of the last pulley or roller that is not a sprocket."""
    rig, ask = solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    places = [k for k, s in enumerate(rig.stage) if s.driven_diameter is not None and s.ratio is None]
    if not places:
        return
    k = places[-1]
    old = rig.stage[k].driven_diameter
    assert old is not None
    for f in PULLEYS:
        mm = float(round(old.value * f * 1000))
        stage = dataclasses.replace(rig.stage[k], driven_diameter=Measured(mm / 1000, 0.0005, "computed"))
        yield _Try(
            kind="pulley",
            says=f"fit a {mm:.0f} mm {'roller' if stage.kind == 'roller' else 'pulley'} in place of the {old.value * 1000:.0f} mm one",
            rig=dataclasses.replace(rig, stage=_swap(rig.stage, k, stage)),
            ask=ask,
            edits=((f"stage.{k}.driven_diameter", f"{mm:.0f} mm"),),
            cost=_price(rig, "pulley"),
            size=0.15 + 0.4 * abs(math.log(f)),
        )


def _boards(solved: Solved) -> Iterator[_Try]:
    """A board that steps both ways, one that steps down, or one that takes in more amps; also with another pulley."""
    bound, rig, ask = solved.bound, solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    board, cost = bound.hookup.board, _price(rig, "board")
    if board is None:
        target = (
            bound.hookup.battery.charge_voltage
            if bound.hookup.battery
            else bound.hookup.load.voltage
            if bound.hookup.load
            else None
        )
        if target is None:
            return
        edge = float(edge_watts(bound, solved.gear, ask.effort)[0][0])
        amps = _round2(max(0.3, 0.75 * edge / target.value))
        for kind in ("buck", "buck_boost"):
            new = Converter(
                name="added board",
                kind=kind,
                at="rig",
                set_voltage=exact(target.value),
                set_current=exact(amps),
                input_max=exact(80.0),
                input_current=exact(15.0),
            )
            changed = _with_board(rig, new, bound.hookup.load)
            yield _Try(
                kind="board",
                says=f"put a {_KIND_WORDS[kind]} board between machine and load, set to {target.value:g} V and {amps:g} A",
                rig=changed,
                ask=ask,
                edits=_board_edits(rig, new, bound.hookup.load),
                cost=cost,
                size=0.55,
            )
        return
    k = rig.converter.index(board)
    for kind, amps_in in ((board.kind, 20.0), ("buck_boost", 15.0)):
        if kind == board.kind and (board.input_current is None or board.input_current.value >= amps_in):
            continue
        wider = dataclasses.replace(
            board,
            kind=kind,
            input_current=exact(amps_in),
            input_min=exact(6.0),
            restart=exact(6.5),
            input_max=exact(80.0),
            drop=exact(0.0),
            efficiency=None,
            efficiency_curve=None,
        )
        swapped = dataclasses.replace(rig, converter=_swap(rig.converter, k, wider))
        edits = [
            (f"converter.{k}.kind", kind),
            (f"converter.{k}.input_current", f"{amps_in:g} A"),
            (f"converter.{k}.input_min", "6 V"),
            (f"converter.{k}.restart", "6.5 V"),
            (f"converter.{k}.input_max", "80 V"),
            (f"converter.{k}.drop", "0 V"),
        ]
        if kind != board.kind:
            edits.append((f"converter.{k}.efficiency", ""))
        yield _Try(
            kind="board",
            says=f"use a {_KIND_WORDS[kind]} board that takes in {amps_in:g} A from 6 V up",
            rig=swapped,
            ask=ask,
            edits=tuple(edits),
            cost=cost,
            size=0.5,
        )


def _batteries(solved: Solved) -> Iterator[_Try]:
    """A battery in between: the ride fills it, the load takes from it."""
    bound, rig = solved.bound, solved.filled.rig
    load = bound.hookup.load
    if load is None or bound.hookup.battery is not None or load.power is None:
        return
    edge = float(edge_watts(bound, solved.gear, solved.ask.effort)[0][0])
    through = bound.hookup.board
    low_volts = load.voltage is not None and load.voltage.value <= 30 and through is None
    volts = (
        load.voltage.value
        if low_volts and load.voltage
        else (24.0 if bound.params[0, 0] * float(bound.ratio[solved.gear, 0]) * 7 > 26 else 12.0)
    )
    volts = min((6.0, 12.0, 24.0), key=lambda v: abs(v - volts))
    amps = _round2(max(0.3, 0.7 * edge / (volts * 1.15)))
    hours = math.ceil(max(7.0, 6 * amps))
    battery = Battery(
        name="battery in between",
        chemistry="agm",
        voltage=exact(volts),
        capacity=exact(hours * 3600.0),
        through="charging board",
    )
    charger = Converter(
        name="charging board",
        kind="buck_boost",
        at="rig",
        set_voltage=exact(volts * 1.19),
        set_current=exact(amps),
        input_max=exact(80.0),
        input_current=exact(15.0),
    )
    boards = tuple(
        dataclasses.replace(b, at="load") if through is not None and b == through else b
        for b in rig.converter
    )
    changed = dataclasses.replace(
        rig,
        battery=battery,
        converter=(*boards, charger),
        diode=rig.diode if rig.diode and rig.diode.kind != "none" else None,
    )
    ask = dataclasses.replace(solved.ask, load="charge", gear=None, cadence=None)
    edits: list[tuple[str, str]] = []
    if through is not None:
        edits.append((f"converter.{rig.converter.index(through)}.at", "load"))
    edits += [
        (
            "converter+",
            f'name = "charging board"\nkind = "buck_boost"\nat = "rig"\nset_voltage = "{volts * 1.19:g} V"\nset_current = "{amps:g} A"\ninput_max = "80 V"\ninput_current = "15 A"',
        ),
        (
            "battery+",
            f'name = "battery in between"\nchemistry = "agm"\nvoltage = "{volts:g} V"\ncapacity = "{hours:g} Ah"\nthrough = "charging board"',
        ),
    ]
    minutes = 60 * 0.8 * volts * 1.1 * amps / load.power.value
    says = f"put a {volts:g} V battery of {hours:g} Ah in between: an hour of riding runs it about {_time_words(60 * minutes)}"
    yield _Try(
        kind="battery",
        says=says,
        rig=changed,
        ask=ask,
        edits=tuple(edits),
        cost=_price(rig, "battery") + _price(rig, "board"),
        size=0.7,
    )


def _riders(solved: Solved) -> Iterator[_Try]:
    """More riders on like rigs, sharing the load."""
    bound, rig, ask = solved.bound, solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    if bound.hookup.load is None:
        return
    edge, asked = edge_watts(bound, solved.gear, ask.effort)[0][0], asked_watts(bound)[0]
    if not (math.isfinite(edge) and edge > 1 and math.isfinite(asked)):
        return
    have = 1 + len(rig.neighbour)
    first = max(have + 1, math.ceil(1.15 * have * asked / edge))
    for n in range(first, min(first + 2, 7)):
        new = tuple(Neighbour(name=f"rig {k + 1}") for k in range(have, n))
        edits = tuple(("neighbour+", f'name = "{x.name}"') for x in new)
        yield _Try(
            kind="riders",
            says=f"share it between {n} riders on like rigs",
            rig=dataclasses.replace(rig, neighbour=(*rig.neighbour, *new)),
            ask=ask,
            edits=edits,
            cost=math.nan,
            size=0.45 + 0.25 * (n - have),
        )


def instead_of_refused(filled: Filled, ask: Ask, stop: Stop) -> tuple[Change, ...]:
    """What to do about a load that must not be on DC, or a machine that makes nothing."""
    rig = filled.rig
    if stop == Stop.NO_MACHINE:
        return (
            Change(
                kind="board",
                says="look for a machine with magnets: a walking-machine, scooter or fan motor with two wires and brushes",
                gives="",
                edits=(),
                ask=None,
                proven=False,
                cost=math.nan,
                size=1.0,
            ),
        )
    load = next((x for x in rig.load if x.name.casefold() == ask.load.casefold()), None)
    if load is None:
        return ()
    found = [_no_electricity(ask, load, 0.3)] if load.motion else []
    if rig.battery is not None and load.power is not None and load.power.value <= 300:
        inverter = Converter(name="added inverter", kind="inverter", at="load")
        k = rig.load.index(load)
        changed = dataclasses.replace(
            _swap_load(rig, k, dataclasses.replace(load, through="added inverter")),
            converter=(*rig.converter, inverter),
        )
        edits = (
            ("converter+", 'name = "added inverter"\nkind = "inverter"\nat = "load"'),
            (f"load.{k}.through", "added inverter"),
        )
        attempt = _Try(
            kind="board",
            says="run it from the battery through an inverter, which makes AC again",
            rig=changed,
            ask=dataclasses.replace(ask, gear=None),
            edits=edits,
            cost=_price(rig, "board"),
            size=0.5,
        )
        change = _first_proven(iter([attempt]), "not by legs")
        if change is not None:
            found.append(change)
    return tuple(found)


def _no_electricity(ask: Ask, load: Load, size: float) -> Change:
    """Motion by belt, heat by fire: no electricity at all."""
    if load.kind == "heater":
        says = (
            "make this heat with a stove, an insulated pot or the sun, and keep the legs for lamp and radio"
        )
    else:
        says = "drive it from the crank by a belt, with no electricity at all"
    return Change(
        kind="no electricity",
        says=says,
        gives="",
        edits=(),
        ask=dataclasses.replace(ask),
        proven=False,
        cost=math.nan,
        size=size,
    )


_KIND_WORDS = {
    "buck": "step-down",
    "boost": "step-up",
    "buck_boost": "step-up-and-down",
    "inverter": "inverter",
}
_HELD = 10  # Param.V_HELD


def _with_board(rig: Rig, board: Converter, load: Load | None) -> Rig:
    if load is None and rig.battery is not None:
        return dataclasses.replace(
            rig,
            converter=(*rig.converter, board),
            battery=dataclasses.replace(rig.battery, through=board.name),
        )
    assert load is not None
    k = rig.load.index(load)
    return dataclasses.replace(
        _swap_load(rig, k, dataclasses.replace(load, through=board.name)), converter=(*rig.converter, board)
    )


def _board_edits(rig: Rig, board: Converter, load: Load | None) -> tuple[tuple[str, str], ...]:
    assert board.set_voltage is not None and board.set_current is not None
    body = (
        f'name = "{board.name}"\nkind = "{board.kind}"\nat = "rig"\nset_voltage = "{board.set_voltage.value:g} V"\n'
        f'set_current = "{board.set_current.value:g} A"\ninput_max = "80 V"\ninput_current = "15 A"'
    )
    user = (
        ("battery.through", board.name)
        if load is None
        else (f"load.{rig.load.index(load)}.through", board.name)
    )
    return (("converter+", body), user)


def _swap_load(rig: Rig, k: int, load: Load) -> Rig:
    return dataclasses.replace(rig, load=_swap(rig.load, k, load))


def _swap(parts: tuple[T, ...], k: int, part: T) -> tuple[T, ...]:
    return (*parts[:k], part, *parts[k + 1 :])


def _price(rig: Rig, what: str) -> float:
    given = getattr(rig.prices, what, None) if rig.prices is not None else None
    return float(given.value) if given is not None else COINS.get(what, math.nan)


def _round2(x: float) -> float:
    """Two significant digits."""
    if x <= 0 or not math.isfinite(x):
        return x
    digits = 1 - math.floor(math.log10(x))
    return float(np.round(x, digits))


def _round_time(seconds: float) -> float:
    for step in (3600, 600, 300, 60, 30, 10):
        if seconds >= 2 * step:
            return float(round(seconds / step) * step)
    return float(round(seconds))


def _time_words(seconds: float) -> str:
    if seconds >= 5400:
        return f"{seconds / 3600:.1f} h".replace(".0 h", " h")
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
