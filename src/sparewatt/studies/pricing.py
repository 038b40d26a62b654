"""What one use of a load costs the legs: energy through the whole chain at its actual power, and the riding for it.

The chain of a load that runs straight off the rig is that of its own running state; a load that a battery feeds pays for the
charge at an hour's power, for what the battery keeps, and for its own board.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Converter, Load, Measured
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import find_rider
from sparewatt.rig.draws import Draws
from sparewatt.rig.endurance import HOURS_FACTOR, power_for
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import hookup
from sparewatt.rig.operating import PASSABLE, operate, works
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import refusal

__all__ = ["GOOD_DAY", "HARD_DAY", "STORED", "Legs", "Price", "day_verdict", "legs_of", "price"]

F = NDArray[np.float64]
COLD_DAY = 0.3 * 3.6e6  # J a day: a motor that takes more for cooling is not fed by people, however many
HOT_USE = 20 * 3600.0  # J a use: heat beyond this is not made by legs
GOOD_DAY, HARD_DAY = 90 * 60.0, 4 * 3600.0  # s of riding a day: a pleasure, and the most one person gives
TYPICAL_RIG = Measured(0.60, 0.06, "typical", "pedals to the battery's posts")
TYPICAL_INVERTER = Measured(0.85, 0.03, "typical", "inverter at a fitting load")
# Watt-hours out over watt-hours in at the posts, gentle cycles that stop short of full (common practice, no source;
# whole cycles of lead-acid are published near 0.70).
STORED = {"flooded": 0.83, "agm": 0.85, "gel": 0.84, "lifepo4": 0.94, "lithium_other": 0.93}


@dataclass(frozen=True, slots=True, kw_only=True)
class Legs:
    """What one rider gives: columns (draws + 1,)."""

    cp: F
    reserve: F
    efficiency: F

    def power(self, t: F) -> F:
        """Watts that can be held for t seconds: an hour's power and below, nobody charges a phone at a sprint."""
        return power_for(self.cp, self.reserve, np.maximum(t, 3600.0), math.inf)

    def seconds_for(self, energy: F) -> F:
        """Riding time for that much work at the pedals, at the power that can be held for just that time."""
        t = energy / (HOURS_FACTOR * self.cp)
        for _ in range(12):
            t = energy / self.power(t)
        return np.asarray(t)


@dataclass(frozen=True, slots=True, kw_only=True)
class Price:
    """One load's price: arrays (draws + 1,), nominal first."""

    use: F  # J at the appliance, one use
    at_legs: F  # J at the pedals, one use
    riding: F  # s of riding, one use
    per_day: float  # uses a day
    chain: tuple[tuple[str, float], ...]  # (link, share passed on) at the actual power
    runs: str  # how it is run: "direct", "through the battery", "through battery and inverter"
    hot: bool  # heat that legs do not make
    cold: bool  # cooling that people do not feed

    @property
    def day(self) -> float:
        """Seconds of riding a day for each rider."""
        return float(self.riding[0]) * self.per_day


def legs_of(filled: Filled, rider: str, draws: Draws) -> Legs:
    """The rider as columns of these draws."""
    person = find_rider(filled.rig, rider)
    where = f"rider.{filled.rig.rider.index(person)}"
    return Legs(
        cp=draws.column(f"{where}.critical_power", person.critical_power),
        reserve=draws.column(f"{where}.work_reserve", person.work_reserve),
        efficiency=draws.column(f"{where}.efficiency", person.efficiency, default=0.23),
    )


def price(filled: Filled, ask: Ask, draws: Draws, *, people: int = 1) -> Price:
    """The price of the load of this question; `people` riders share the day."""
    load = next(x for x in filled.rig.load if x.name == ask.load)
    legs = legs_of(filled, ask.rider, draws)
    use = _energy_per_use(load, f"load.{filled.rig.load.index(load)}", draws)
    share, chain, runs = _path(filled, load, ask, draws)
    at_legs = use / share
    per_day = load.uses_per_day.value if load.uses_per_day else 1.0
    return Price(
        use=use,
        at_legs=at_legs,
        riding=legs.seconds_for(at_legs * per_day / people) / per_day,
        per_day=per_day,
        chain=chain,
        runs=runs,
        hot=load.kind == "heater" and float(use[0]) > HOT_USE,
        cold=load.kind == "induction_motor" and float(use[0]) * per_day > COLD_DAY,
    )


def day_verdict(cost: Price) -> str:
    """What the hours of riding a day say of it, in one of the three verdict words."""
    if cost.hot or cost.cold:
        return "not by legs"
    return (
        "good use of legs" if cost.day <= GOOD_DAY else "hard work" if cost.day <= HARD_DAY else "not by legs"
    )


def _energy_per_use(load: Load, where: str, draws: Draws) -> F:
    """Joules at the appliance in one use."""
    if load.energy_per_use is not None:
        return draws.column(f"{where}.energy_per_use", load.energy_per_use)
    usual = 300.0 if load.kind == "universal_motor" else 3600.0
    seconds = load.use_time.value if load.use_time else usual
    return draws.column(f"{where}.power", load.power) * seconds


def _path(filled: Filled, load: Load, ask: Ask, draws: Draws) -> tuple[F, tuple[tuple[str, float], ...], str]:
    """Share of pedal work that reaches the appliance, the links of it, and how it is run."""
    joined = hookup(filled.rig, load.name)
    needs_ac = load.kind in ("induction_motor", "transformer") or (
        load.kind == "heater" and joined.load_board is None and joined.board is None
    )
    if joined.battery is None and not needs_ac and refusal(filled.rig, load.name) is None:
        direct = _direct_share(filled, ask)
        if direct is not None:
            return direct
    share, chain = _charge_share(filled, ask.rider, draws)
    chemistry = filled.rig.battery.chemistry if filled.rig.battery else "agm"
    stored = draws.column("battery.energy", Measured(STORED[chemistry], 0.04, "typical"))
    share, chain = share * stored, (*chain, ("battery, in and out", float(stored[0])))
    runs = "through the battery"
    board = joined.load_board
    if board is not None or needs_ac:
        passed = _board_share(load, board, draws)
        share, chain = (
            share * passed,
            (*chain, (board.name if board else "inverter, typical", float(passed[0]))),
        )
        if needs_ac or (board is not None and board.kind == "inverter"):
            runs = "through battery and inverter"
    return share, chain, runs


def _board_share(load: Load, board: Converter | None, draws: Draws) -> F:
    """Watts out over watts in of the load's own board at the load's watts, its idle included."""
    if board is None:
        return draws.column("inverter.typical", TYPICAL_INVERTER)
    watts = load.power.value if load.power else 50.0
    eta = draws.column(f"board.{board.name}.efficiency", board.efficiency, default=0.88)
    idle = draws.column(f"board.{board.name}.idle_power", board.idle_power, default=1.0)
    return np.asarray(watts / (watts / eta + idle))


def _direct_share(filled: Filled, ask: Ask) -> tuple[F, tuple[tuple[str, float], ...], str] | None:
    """Share passed on when the load runs straight off the rig, in the very state the question is answered with; None when it
    does not hold."""
    state = operate(filled, dataclasses.replace(ask, cadence=None))
    g = state.gear
    if state.stop != Stop.FOUND or state.chances[g] < PASSABLE:
        return None
    share = state.found.p_load[g] / state.found.p_rider[g]
    share = np.where(np.isfinite(share) & (share > 0), share, share[0])
    return np.asarray(share), (("pedals to the appliance", float(share[0])),), "direct"


def _charge_share(filled: Filled, rider: str, draws: Draws) -> tuple[F, tuple[tuple[str, float], ...]]:
    """Share of pedal work that reaches the battery's posts, at an hour's power, from this rig where it can be solved."""
    typical = draws.column("chain.typical", TYPICAL_RIG)
    if filled.rig.battery is None or refusal(filled.rig, "charge") is not None:
        return typical, (("rig, typical", float(typical[0])),)
    ask = ask_for(filled.rig, rider=rider, load="charge", duration=3600.0, draws=draws.draws, seed=draws.seed)
    state = operate(filled, ask)
    g = state.gear
    ok = works(state.found)[g]
    if not ok[0]:
        return typical, (("rig, typical (yours does not charge yet)", float(typical[0])),)
    x = state.bound.extras
    i = state.found.i_battery[g]
    share = (state.found.v_out[g] - i * x["r_battery_wire"]) * i / state.found.p_rider[g]
    share = np.where(ok & np.isfinite(share) & (share > 0.02), share, share[0])
    mechanical = ("machine", "stage", "diode", "wire", "converter")
    draws.scores.update({k: v for k, v in state.bound.scores.items() if k.split(".")[0] in mechanical})
    return np.asarray(share), (("rig, pedals to battery", float(share[0])),)
