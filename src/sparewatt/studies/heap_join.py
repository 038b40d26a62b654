"""Every way to join machines, boards, gears and pulleys of a heap for one load, solved and ranked."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np

from sparewatt.parts import Battery, Converter, Load, Machine, Measured, Rig
from sparewatt.physics import appliances
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.edges import spare_band
from sparewatt.rig.fill import Filled, exact, fill
from sparewatt.rig.hookup import boards_on_rig, hookup
from sparewatt.rig.operating import RPM, State, bands, ceiling_limits, delivered, operate, overspeed
from sparewatt.rig.outcome import Band, Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import Change, Combination
from sparewatt.studies.guard.findings import put_first
from sparewatt.studies.judging import RANK, Judgement, judge, running_verdict
from sparewatt.studies.nearest import offers

__all__ = ["best_joins", "cheapest_purchase", "wanted_volts"]

PULLEYS = (0.5, 0.7, 1.0, 1.4, 2.0)  # times the driven pulley there is
KEEP, FINE_DRAWS, LOOK_CLOSER = 5, 128, 8
BUYABLE = ("pulley", "board", "battery")
KIND_WORDS = {
    "buck": "step-down",
    "boost": "step-up",
    "buck_boost": "step-up-and-down",
    "inverter": "inverter",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Join:
    """One way to join the parts: the rig it makes, and its names."""

    rig: Rig
    machine: Machine
    board: Converter | None
    drive: str
    cost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One way to join the parts, what the judge says of it, and what must be put right first."""

    join: Join
    filled: Filled
    judged: Judgement
    solved: State
    stops: frozenset[str]

    @property
    def name(self) -> tuple[str, str, str]:
        """What it is made of."""
        return self.join.machine.name, self.join.drive, self.join.board.name if self.join.board else ""

    @property
    def merit(self) -> tuple[float, ...]:
        """Better word first, then fewer things to put right, then as it runs."""
        return float(RANK[self.judged.verdict]), -float(len(self.stops)), *_merit(self.solved)


def wanted_volts(rig: Rig, load: str | None) -> float:
    """The volts the asked load wants from the bus."""
    name = (load or (rig.ride.load if rig.ride else "") or "charge").casefold()
    asked = next((x for x in rig.load if x.name.casefold() == name), None)
    if asked is not None and (asked.without_battery or rig.battery is None) and asked.voltage is not None:
        return asked.voltage.value
    if rig.battery is not None and rig.battery.voltage is not None:
        return (
            rig.battery.charge_voltage.value
            if rig.battery.charge_voltage
            else 1.1 * rig.battery.voltage.value
        )
    first = next((x for x in rig.load if x.voltage is not None), None)
    return first.voltage.value if first is not None and first.voltage is not None else 13.0


def best_joins(
    rig: Rig, load: str | None, machines: list[Machine], bins: tuple[Machine | Converter | Battery, ...]
) -> tuple[tuple[Combination, ...], Judged | None]:
    """The best five combinations, explained, and the best one judged (None when nothing can be tried)."""
    usable = [m for m in machines if m.kind not in appliances.MACHINE_REFUSALS]
    bare = _with_bins(rig, bins)
    if not usable or not (bare.load or bare.battery):
        return (), None
    ask = ask_for(bare, load=load, draws=0)
    ask = dataclasses.replace(ask, gear=None, cadence=None)
    if refusal(dataclasses.replace(fill(bare).rig, machine=usable[0]), ask.load) is not None:
        return (), None
    tried = [(join, operate(join.rig, ask)) for join in _joins(bare, ask, usable)]
    tried.sort(key=lambda item: _merit(item[1]), reverse=True)
    seen: set[tuple[str, str]] = set()
    close: list[Join] = []
    for join, _quick in tried:
        key = (join.machine.name, join.board.name if join.board else "")
        if key in seen and len(close) >= LOOK_CLOSER // 2:
            continue
        seen.add(key)
        close.append(join)
        if len(close) >= LOOK_CLOSER:
            break
    today = _today(rig, load, usable)
    made = [_judged(join, dataclasses.replace(ask, draws=FINE_DRAWS)) for join in close]
    if today is not None:
        made = [today, *(one for one in made if one.stops <= today.stops and one.name != today.name)]
    made.sort(key=lambda one: one.merit, reverse=True)
    kept = made[:KEEP]
    if today is not None and today not in kept:
        kept[-1] = today
    return tuple(_combination(one) for one in kept), (made[0] if made else None)


def _judged(join: Join, ask: Ask) -> Judged:
    filled = fill(join.rig)
    return Judged(
        join=join,
        filled=filled,
        judged=judge(filled, ask),
        solved=operate(filled, ask),
        stops=frozenset(f.key for f in put_first(filled, ask)),
    )


def _today(rig: Rig, load: str | None, usable: list[Machine]) -> Judged | None:
    """The rig as it stands, asked as every section asks it; None where its machine is none to ride."""
    if (
        rig.machine is None
        or rig.machine.kind in appliances.MACHINE_REFUSALS
        or not (rig.load or rig.battery)
    ):
        return None
    filled = fill(rig)
    ask = ask_for(filled.rig, load=load)
    if refusal(filled.rig, ask.load) is not None:
        return None
    board = hookup(filled.rig, ask.load).board
    drive = _pulley(filled.rig, 1.0)[1] or "the drive as it is"
    return _judged(Join(rig=rig, machine=usable[0], board=board, drive=drive, cost=0.0), ask)


def _with_bins(rig: Rig, bins: tuple[Machine | Converter | Battery, ...]) -> Rig:
    """The rig alone, with the loose boards, and the first loose battery where it has none."""
    boards = tuple(
        x for x in bins if isinstance(x, Converter) and all(x.name != b.name for b in rig.converter)
    )
    batteries = [x for x in bins if isinstance(x, Battery)]
    return dataclasses.replace(
        rig,
        neighbour=(),
        converter=(*rig.converter, *boards),
        battery=rig.battery or (batteries[0] if batteries else None),
    )


def _joins(rig: Rig, ask: Ask, machines: list[Machine]) -> list[Join]:
    """Every machine x board (and none) x pulley size; gears are tried inside each solution."""
    full = fill(rig).rig
    load = next((x for x in rig.load if x.name.casefold() == ask.load.casefold()), None)
    direct = load is None or rig.battery is None or bool(load.without_battery)
    volts = wanted_volts(full, ask.load)
    boards: list[Converter | None] = [None]
    boards += [b for b in boards_on_rig(rig) if b.kind != "inverter" and _reaches(b, volts)]
    if not direct:
        volts = wanted_volts(full, "charge")
    found = []
    for machine in machines:
        for board in boards:
            joined = _joined(rig, load, machine, board, volts)
            for factor in PULLEYS:
                changed, drive = _pulley(joined, factor)
                if drive is not None:
                    found.append(
                        Join(
                            rig=changed,
                            machine=machine,
                            board=board,
                            drive=drive,
                            cost=_cost(rig, machine, board, factor),
                        )
                    )
    return found


def _reaches(board: Converter, volts: float) -> bool:
    low = board.output_min.value if board.output_min is not None else 0.0
    high = board.output_max.value if board.output_max is not None else math.inf
    return low <= volts <= high


def _joined(rig: Rig, load: Load | None, machine: Machine, board: Converter | None, volts: float) -> Rig:
    """The rig with this machine and only this board on it, its volts screw set for what is wanted."""
    on_rig = [b.name for b in boards_on_rig(rig)]
    users = {x.through for x in rig.load if rig.battery is not None and not x.without_battery}
    kept = tuple(b for b in rig.converter if b.name not in on_rig or (b.name in users and b.at != "rig"))
    name = board.name if board is not None else ""
    if board is not None:
        kept = (
            *(b for b in kept if b.name != name),
            dataclasses.replace(board, at="rig", set_voltage=exact(volts)),
        )
    names = {b.name for b in kept}
    loads = tuple(_through(x, load, name, rig, names) for x in rig.load)
    battery = dataclasses.replace(rig.battery, through=name) if rig.battery is not None else None
    return dataclasses.replace(rig, machine=machine, converter=kept, load=loads, battery=battery)


def _through(x: Load, asked: Load | None, name: str, rig: Rig, names: set[str]) -> Load:
    """The load hung on this board where it hangs on the rig itself; on its own board otherwise."""
    if rig.battery is not None and not x.without_battery:
        return x if x.through in names else dataclasses.replace(x, through="")
    return dataclasses.replace(x, through=name) if x is asked or x.through not in names else x


def _pulley(rig: Rig, factor: float) -> tuple[Rig, str | None]:
    """The last pulley or roller at another size, and the drive in words; None where there is none to change."""
    places = [k for k, s in enumerate(rig.stage) if s.driven_diameter is not None and s.ratio is None]
    if not places:
        return rig, "the drive as it is" if factor == 1.0 else None
    k = places[-1]
    old = rig.stage[k].driven_diameter
    assert old is not None
    size = round(old.value * factor * 1000)
    thing = "roller" if rig.stage[k].kind == "roller" else "pulley"
    if factor == 1.0:
        return rig, f"the {old.value * 1000:.0f} mm {thing}"
    stage = dataclasses.replace(rig.stage[k], driven_diameter=Measured(size / 1000, 0.0005, "computed"))
    stages = (*rig.stage[:k], stage, *rig.stage[k + 1 :])
    return dataclasses.replace(rig, stage=stages), f"a {size} mm {thing}"


def _cost(rig: Rig, machine: Machine, board: Converter | None, factor: float) -> float:
    """What it costs, in the rig's own coin; parts without a price are there already."""
    pulley = rig.prices.pulley.value if rig.prices and rig.prices.pulley else 6.0
    total = 0.0 if factor == 1.0 else pulley
    bought = [machine.price, *(s.price for s in rig.stage)]
    bought += [part.price for part in (board, rig.battery) if part is not None]
    return total + sum(price.value for price in bought if price is not None)


def _spare(solved: State) -> float:
    """Spare watts (NaN for a battery, which takes what comes)."""
    if solved.bound.hookup.load is None:
        return math.nan
    return spare_band(solved.bound, solved.gear, solved.ask.effort).mid


def _merit(solved: State) -> tuple[float, float]:
    """Better verdict first; then chance, watts per watt of legs, and a cadence near the comfortable one."""
    spare = _spare(solved)
    word = running_verdict(solved, spare)
    g, found = solved.gear, solved.found
    w, legs = float(found.w_hold[g, 0]), float(found.p_rider[g, 0])
    if not (math.isfinite(w) and math.isfinite(legs) and legs > 0):
        return float(RANK[word]), 0.0
    out = float(found.p_load[g, 0] if solved.bound.hookup.load is not None else found.p_out[g, 0])
    comfortable = solved.bound.rider.cadence.value if solved.bound.rider.cadence else 65 * RPM
    near = math.exp(-(((w - comfortable) / (0.35 * comfortable)) ** 2))
    room = 1.0 if not math.isfinite(spare) else 0.5 + 0.5 * math.tanh(2 * spare / max(out, 1.0))
    limits = ceiling_limits(solved.bound)
    k = solved.bound.extras["k_emf_cold"][0] * float(np.max(solved.bound.ratio[:, 0]))
    open_volts = k * overspeed(solved.bound.rig)
    breaks = 0.6 if limits and open_volts > limits[0][1] else 1.0
    return float(RANK[word]), float(solved.chances[g]) * max(out, 0.0) / legs * (0.1 + near) * room * breaks


def _combination(one: Judged) -> Combination:
    """One combination with its reason."""
    join, solved = one.join, one.solved
    g, found = solved.gear, solved.found
    hold = bands(solved, found.w_hold[g])
    return Combination(
        machine=join.machine.name,
        drive=join.drive,
        board=join.board.name if join.board else "no board",
        gear=solved.bound.gears[g],
        hold=hold,
        delivered=bands(solved, delivered(solved.bound, found)[g]),
        spare=_spare(solved),
        chance=float(solved.chances[g]),
        cost=join.cost,
        verdict=one.judged.verdict,
        why=_why(one, hold),
    )


def _why(one: Judged, hold: Band) -> str:
    """Why it ranks where it does, in one sentence."""
    join, solved = one.join, one.solved
    g, found = solved.gear, solved.found
    if one.judged.verdict == "not by legs" or solved.stop not in (Stop.FOUND, Stop.PINNED):
        return one.judged.why
    legs = float(found.p_rider[g, 0])
    out = float(found.p_load[g, 0] if solved.bound.hookup.load is not None else found.p_out[g, 0])
    comfortable = solved.bound.rider.cadence.value if solved.bound.rider.cadence else 65 * RPM
    pace = ""
    if math.isfinite(hold.mid) and not 0.8 < hold.mid / comfortable < 1.25:
        pace = (
            f", but {hold.mid / RPM:.0f} turns is {'slow' if hold.mid < comfortable else 'fast'} for "
            "these legs"
        )
    held = (
        "the battery pins the cadence"
        if solved.stop == Stop.PINNED
        else f"the {KIND_WORDS[join.board.kind]} board holds its setting"
        if join.board
        else "it runs straight off the machine"
    )
    share = f"{100 * out / legs:.0f} of each 100 W of legs arrive" if legs > 0 else "nothing arrives"
    risk = (
        f"; it works in {100 * float(solved.chances[g]):.0f} of 100 rigs built from such plates"
        if solved.chances[g] < 0.95
        else ""
    )
    return f"{held}; {share}{pace}{risk}"


def cheapest_purchase(best: Judged | None) -> Change | None:
    """The cheapest thing to buy that lifts the best combination's verdict; None when it needs none or none helps."""
    if best is None or best.judged.verdict == "good use of legs":
        return None
    useful = [
        c
        for c in offers(best.filled, best.judged)
        if c.kind in BUYABLE and c.proven and math.isfinite(c.cost)
    ]
    return min(useful, key=lambda c: (c.cost, c.size), default=None)
