"""The nearest yes: for each refusal the smallest changes that turn it, each solved again before it is offered.

Edits are (key path, text) pairs for the rig file: "stage.1.driven_diameter" sets one value; a path ending in "+" adds a
part, its text being the TOML body of that part.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from functools import lru_cache

from sparewatt.parts import Battery, Converter, Load, Rig
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled, exact, fill
from sparewatt.rig.hookup import turned
from sparewatt.rig.operating import RPM, State, operate
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import LIFE_DO, refusal
from sparewatt.studies.answers import Change, Shares
from sparewatt.studies.judging import RANK, Judgement, judge, running_verdict
from sparewatt.studies.pricing import HARD_DAY, Price, price
from sparewatt.studies.shares import shares_of
from sparewatt.studies.tries import Try, coins_for, efforts, gears, pulleys, riders, sheds, swap_load
from sparewatt.studies.tries_boards import batteries, boards

__all__ = ["instead_of_refused", "nearest_yes", "no_electricity", "offers"]

_BOARD_LINES = """name = "charging board"
kind = "buck_boost"
at = "rig"
set_voltage = "14.2 V"
set_current = "3 A"
input_max = "80 V"
input_current = "15 A\""""
_BATTERY_LINES = """name = "added battery"
chemistry = "agm"
voltage = "12 V"
capacity = "40 Ah"
through = "charging board\""""
KEEP = 3
SURE = 0.6  # share of draws in which an offer must work
SLOWEST, FASTEST, FASTEST_PINNED, LEAST_SHARE = (
    0.65,
    1.75,
    1.4,
    0.3,
)  # of the comfortable cadence (a battery pins it); of the legs' watts


def offers(filled: Filled, judged: Judgement, *, people: int = 1) -> tuple[Change, ...]:
    """What could be changed where the answer is not a plain yes: the same offers in every section."""
    return _offers(filled, judged.ask, people)


@lru_cache(maxsize=64)
def _offers(filled: Filled, ask: Ask, people: int) -> tuple[Change, ...]:
    judged = judge(filled, ask)
    if judged.state is None or judged.stop is Stop.DEPENDED_ON:
        return instead_of_refused(filled, judged.ask, judged.stop)
    if judged.verdict == "good use of legs":
        return ()
    if judged.views[0].key == "day" and judged.cost is not None:
        load = next(x for x in filled.rig.load if x.name == judged.ask.load)
        cost = (
            judged.cost
            if people == 1
            else price(filled, judged.ask, Draws(0, judged.ask.seed), people=people)
        )
        return _less_of_it(load, judged.ask, cost, people) if judged.verdict == "not by legs" else ()
    return nearest_yes(judged.state, judged.verdict, shares_of(judged.state))


def nearest_yes(solved: State, verdict: str, shares: Shares | None = None) -> tuple[Change, ...]:
    """Up to three changes of different kinds, smallest first, each proven by solving the changed rig.

    A change counts when it lifts the verdict at least one word.
    """
    found: list[Change] = []
    shares = shares or shares_of(solved)
    if shares is not None and solved.stop is Stop.UNFAIR:
        return _fairer(solved, shares)
    if solved.bound.hookup.load is not None and solved.bound.hookup.load.motion:
        found.append(no_electricity(solved.ask, solved.bound.hookup.load, 0.4))
    # Hard work that works needs no smaller load; only a better fit of what is there
    families = (
        (efforts, gears, pulleys)
        if verdict == "hard work"
        else (efforts, gears, sheds, pulleys, boards, batteries, riders)
    )
    for family in families:
        change = _first_proven(family(solved), verdict)
        if change is not None:
            found.append(change)
    load = solved.bound.hookup.load
    if load is not None and load.kind == "heater":
        found.append(no_electricity(solved.ask, load, 0.6))
    if not found and verdict == "not by legs":
        found.append(_do_without(solved.ask))
    return tuple(sorted(found, key=lambda change: change.size)[:KEEP])


def _fairer(solved: State, shares: Shares) -> tuple[Change, ...]:
    """A piece of thin wire in each lead, or the amps screws, when with it every rider holds."""
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
    if board is not None:
        amps_each = math.ceil(100 * shares.limit_each) / 100
        limited, key = turned(rig, board, solved.bound.hookup.load, "set_current", exact(amps_each))
        # with no battery beside them the screws alone may not make it a yes: then it is advice, and not proven
        holds = judge(fill(limited), solved.ask).verdict != "not by legs"
        says = f"turn every board's amps screw to {amps_each:.2f} A and keep a battery on the bus"
        screws = ((key, f"{amps_each:.2f} A"),) if holds else ()
        found.append(
            _shared(solved, says, "then each gives its share and no more", screws, 0.06, proven=holds)
        )
    return tuple(found)


def _shared(
    solved: State,
    says: str,
    gives: str,
    edits: tuple[tuple[str, str], ...],
    size: float,
    *,
    proven: bool = True,
) -> Change:
    return Change(
        kind="share",
        says=says,
        gives=gives,
        edits=edits,
        ask=solved.ask,
        proven=proven,
        cost=math.nan,
        size=size,
    )


def _first_proven(tries: Iterator[Try], verdict: str) -> Change | None:
    """The first try whose solved verdict is better: nominal first, then with draws and at a cadence somebody holds."""
    for attempt in tries:
        filled = fill(attempt.rig)
        if refusal(filled.rig, attempt.ask.load) is not None:
            continue
        for ask in _asks(filled, attempt):
            quick = operate(filled, dataclasses.replace(ask, draws=0))
            if RANK[running_verdict(quick)] <= RANK[verdict] or not _ridable(quick):
                continue
            judged = judge(filled, ask)
            full = judged.state
            sure = full is not None and full.chances[full.gear] >= SURE and _ridable(full)
            if full is not None and sure and RANK[judged.verdict] > RANK[verdict]:
                return _change(dataclasses.replace(attempt, ask=ask), full)
    return None


def _asks(filled: Filled, attempt: Try) -> Iterator[Ask]:
    """The question as it was, and on a changed rig also as nobody has to push harder than it then needs."""
    ask = attempt.ask
    yield ask
    if attempt.edits and filled.rig.load and ask.load != "charge":
        eased = ask_for(filled.rig, rider=ask.rider, load=ask.load, duration=ask.duration).effort
        if eased < 0.97 * ask.effort:
            yield dataclasses.replace(ask, effort=eased)


def _ridable(solved: State) -> bool:
    """Whether an offered point is worth having: a cadence people hold, and a fair share of the legs' watts delivered."""
    g, found = solved.gear, solved.found
    liked = solved.bound.rider.cadence.value if solved.bound.rider.cadence else 65 * RPM
    charging = solved.bound.hookup.load is None
    pinned = charging and solved.bound.hookup.board is None
    if not SLOWEST * liked <= found.w_hold[g, 0] <= (FASTEST_PINNED if pinned else FASTEST) * liked:
        return False
    return not charging or bool(found.p_out[g, 0] >= LEAST_SHARE * found.p_rider[g, 0])


def _change(attempt: Try, full: State) -> Change:
    g = full.gear
    rpm = float(full.found.w_hold[g, 0]) / RPM
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
    if stop == Stop.DEPENDED_ON:
        return (_look(LIFE_DO),)
    load = next((x for x in rig.load if x.name.casefold() == ask.load.casefold()), None)
    if load is None:
        return ()
    found = [no_electricity(ask, load, 0.3)] if load.motion else []
    if load.kind == "unknown":
        says = "open it and look: brushes, a heavy iron block, a capacitor, or a label that says 100 to 240 V"
        found.append(_look(says))
    elif load.power is not None and load.power.value <= 300:
        change = _first_proven(iter([_through_inverter(rig, load, ask)]), "not by legs")
        if change is not None:
            found.append(change)
    if not found:
        found.append(_do_without(ask))
    return tuple(found)


def _look(says: str) -> Change:
    return Change(kind="look", says=says, gives="", edits=(), ask=None, proven=False, cost=0.0, size=0.1)


def _through_inverter(rig: Rig, load: Load, ask: Ask) -> Try:
    """The load on an inverter from the battery; with a battery and a charging board added where there is none."""
    k = rig.load.index(load)
    inverter = Converter(name="added inverter", kind="inverter", at="load")
    with_it = dataclasses.replace(load, through="added inverter", without_battery=None)
    changed = dataclasses.replace(swap_load(rig, k, with_it), converter=(*rig.converter, inverter))
    edits = [("converter+", 'name = "added inverter"\nkind = "inverter"\nat = "load"')]
    says, cost = "run it from the battery through an inverter, which makes AC again", coins_for(rig, "board")
    if rig.battery is None:
        battery = Battery(
            name="added battery",
            chemistry="agm",
            voltage=exact(12.0),
            capacity=exact(40 * 3600.0),
            through="charging board",
        )
        charger = Converter(
            name="charging board",
            kind="buck_boost",
            at="rig",
            set_voltage=exact(14.2),
            set_current=exact(3.0),
            input_max=exact(80.0),
            input_current=exact(15.0),
        )
        changed = dataclasses.replace(changed, battery=battery, converter=(*changed.converter, charger))
        edits += [
            (
                "converter+",
                _BOARD_LINES,
            ),
            (
                "battery+",
                _BATTERY_LINES,
            ),
        ]
        says = "charge a 12 V battery of 40 Ah and run it from that through an inverter, which makes AC again"
        cost += coins_for(rig, "battery") + coins_for(rig, "board")
    edits.append((f"load.{k}.through", "added inverter"))
    if load.without_battery:
        edits.append((f"load.{k}.without_battery", ""))
    return Try(
        kind="board",
        says=says,
        rig=changed,
        ask=dataclasses.replace(ask, gear=None),
        edits=tuple(edits),
        cost=cost,
        size=0.5,
    )


def _do_without(ask: Ask) -> Change:
    """When nothing turns the no: leave it off, and what legs are good for."""
    says = "leave it off this rig and spend the legs on light, radio and a phone"
    return Change(
        kind="no electricity", says=says, gives="", edits=(), ask=ask, proven=False, cost=math.nan, size=1.0
    )


def no_electricity(ask: Ask, load: Load, size: float) -> Change:
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


def _less_of_it(load: Load, ask: Ask, cost: Price, people: int) -> tuple[Change, ...]:
    """No electricity where heat or motion is wanted; else less of it, or more people."""
    day, per_day, never = cost.day, cost.per_day, cost.hot or cost.cold
    found: list[Change] = []
    if load.kind == "heater" or load.motion:
        found.append(no_electricity(ask, load, 0.2))
    if load.kind == "induction_motor" and not load.motion:
        found.append(
            Change(
                kind="no electricity",
                says="keep it cool with an insulated box, shade and night air, and spend the legs on lamp and radio",
                gives="",
                edits=(),
                ask=None,
                proven=False,
                cost=math.nan,
                size=0.2,
            )
        )
    share = HARD_DAY / day
    if share > 0.05 and load.kind != "heater":
        uses = per_day * share
        says = (
            f"use it {uses:.0f} times a day instead of {per_day:.0f}"
            if uses >= 1
            else f"use it for {100 * share:.0f} % of that time"
        )
        found.append(
            Change(
                kind="shed",
                says=says,
                gives="fits into four hours of riding a day",
                edits=(),
                ask=None,
                proven=True,
                cost=0.0,
                size=0.5,
            )
        )
    crew = math.ceil(people * day / HARD_DAY)
    if crew <= 12 and not never:
        found.append(
            Change(
                kind="riders",
                says=f"share it between {crew} riders a day",
                gives="",
                edits=(),
                ask=None,
                proven=True,
                cost=math.nan,
                size=0.8,
            )
        )
    return tuple(sorted(found, key=lambda c: c.size)[:3])
