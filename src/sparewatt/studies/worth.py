"""Is it worth the legs: energy per use through the whole chain at its actual power, minutes, food, breath."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Load, Measured, Rig
from sparewatt.physics import body
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import find_rider
from sparewatt.rig.draws import Draws
from sparewatt.rig.endurance import DAY_FACTOR, HOURS_FACTOR
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.operating import PASSABLE, operate, works
from sparewatt.rig.outcome import Band, Caveat, Stop
from sparewatt.rig.refusals import lifeline, refusal
from sparewatt.studies.answers import Change, Unknown, WorthAnswer, WorthRow
from sparewatt.studies.nearest import instead_of_refused, no_electricity
from sparewatt.studies.unknowns import READINGS, variance_shares

__all__ = ["worth"]

F = NDArray[np.float64]
DRAWS, SEED = 1024, 1
COLD_DAY = 0.3 * 3.6e6  # J a day: a motor that takes more for cooling is not fed by people, however many
GOOD_DAY, HARD_DAY = 90 * 60.0, 4 * 3600.0  # s of riding a day: a pleasure, and the most one person gives
TYPICAL_RIG = Measured(0.60, 0.06, "typical", "pedals to the battery's posts")
TYPICAL_INVERTER = Measured(0.85, 0.03, "typical", "inverter at a fitting load")
# Watt-hours out over watt-hours in at the posts, gentle cycles that stop short of full (common practice, no source;
# whole cycles of lead-acid are published near 0.70).
STORED = {"flooded": 0.83, "agm": 0.85, "gel": 0.84, "lifepo4": 0.94, "lithium_other": 0.93}
SOURCES = ("critical_power", "moseley_2001", "oxygen_energy", "battery_efficiency")


def worth(rig: Rig | Filled, rider: str | None = None, people: int = 1) -> WorthAnswer:
    """Price of every load of the rig in legs; `people` riders share the day."""
    filled = rig if isinstance(rig, Filled) else fill(rig)
    if not filled.rig.load:
        raise BadRequest(
            Problem(
                where="load",
                problem="there is no load to price",
                hint="add a [[load]] with its watts and how long one use lasts",
            )
        )
    person = find_rider(filled.rig, rider)
    draws = Draws(DRAWS, SEED)
    where = f"rider.{filled.rig.rider.index(person)}"
    legs = _Legs(
        cp=draws.column(f"{where}.critical_power", person.critical_power),
        reserve=draws.column(f"{where}.work_reserve", person.work_reserve),
        efficiency=draws.column(f"{where}.efficiency", person.efficiency, default=0.23),
    )
    charge = _charge_share(filled, person.name, draws)
    rows = tuple(_row(filled, load, legs, charge, draws, people, person.name) for load in filled.rig.load)
    total = sum((np.asarray(r[1]) for r in rows), np.zeros(DRAWS + 1))
    riding = legs.seconds_for(total / people)
    shares = variance_shares(riding[1:], draws.scores)
    return WorthAnswer(
        rider=person.name,
        sustain=_band(HOURS_FACTOR * legs.cp),
        rows=tuple(r[0] for r in rows),
        total_per_day=_band(riding),
        unknowns=tuple(
            _unknown(key, share, draws, filled.rig)
            for key, share in sorted(shares.items(), key=lambda x: -x[1])[:4]
            if share >= 0.03
        ),
        caveats=tuple(
            Caveat("rig file", f"{key}: {says}")
            for key, says in filled.assumed
            if key.startswith(("load", "rider"))
        ),
        sources=SOURCES,
    )


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class _Legs:
    """What one rider gives: columns."""

    cp: F
    reserve: F
    efficiency: F

    def seconds_for(self, energy: F) -> F:
        """Riding time for that much work at the pedals, at the power that can be held for just that time."""
        t = energy / (HOURS_FACTOR * self.cp)
        for _ in range(12):
            t = energy / self.power(t)
        return np.asarray(t)

    def power(self, t: F) -> F:
        """Watts that can be held for t seconds (an hour's power and below; nobody charges a phone at a sprint)."""
        share = np.clip(np.log(np.maximum(t, 1.0) / 3600.0) / math.log(8.0), 0.0, 1.0)
        return np.asarray((HOURS_FACTOR + share * (DAY_FACTOR - HOURS_FACTOR)) * self.cp)


def _charge_share(filled: Filled, rider: str, draws: Draws) -> tuple[F, tuple[tuple[str, float], ...]]:
    """Share of pedal work that reaches the battery's posts, at an hour's power, from this rig where it can be solved."""
    typical = draws.column("chain.typical", TYPICAL_RIG)
    if filled.rig.battery is None or refusal(filled.rig, "charge") is not None:
        return typical, (("rig, typical", float(typical[0])),)
    ask = ask_for(filled.rig, rider=rider, load="charge", duration=3600.0, draws=DRAWS, seed=SEED)
    solved = operate(filled, ask)
    g = solved.gear
    ok = works(solved.found)[g]
    if not ok[0]:
        return typical, (("rig, typical (yours does not charge yet)", float(typical[0])),)
    x = solved.bound.extras
    i = solved.found.i_battery[g]
    share = (solved.found.v_out[g] - i * x["r_battery_wire"]) * i / solved.found.p_rider[g]
    share = np.where(ok & np.isfinite(share) & (share > 0.02), share, share[0])
    draws.scores.update(
        {
            k: v
            for k, v in solved.bound.scores.items()
            if k.split(".")[0] in ("machine", "stage", "diode", "wire", "converter")
        }
    )
    return np.asarray(share), (("rig, pedals to battery", float(share[0])),)


def _row(
    filled: Filled,
    load: Load,
    legs: _Legs,
    charge: tuple[F, tuple[tuple[str, float], ...]],
    draws: Draws,
    people: int,
    rider: str,
) -> tuple[WorthRow, F]:
    """One load, and its work at the pedals a day, (draws + 1,)."""
    rig, where = filled.rig, f"load.{filled.rig.load.index(load)}"
    use = _energy_per_use(load, where, draws)
    share, chain, runs = _path(filled, load, charge, draws, rider)
    at_legs = use / share
    per_day = load.uses_per_day.value if load.uses_per_day else 1.0
    riding = legs.seconds_for(at_legs * per_day / people) / per_day
    food = at_legs / legs.efficiency
    day = float(riding[0]) * per_day
    verdict = "good use of legs" if day <= GOOD_DAY else "hard work" if day <= HARD_DAY else "not by legs"
    hot = load.kind == "heater" and float(use[0]) > 20 * 3600
    cold = load.kind == "induction_motor" and float(use[0]) * per_day > COLD_DAY
    if hot or cold:
        verdict = "not by legs"
    changes: tuple[Change, ...] = ()
    why = _why(load, verdict, hot)
    line = lifeline(rig, load)
    stop = Stop.DEPENDED_ON if line is not None and not line.enough else Stop.FOUND
    if stop is Stop.DEPENDED_ON:
        verdict, why = "not by legs", stop.value
        changes = instead_of_refused(filled, ask_for(rig, rider=rider, load=load.name), stop)
    elif verdict == "not by legs":
        ask = ask_for(rig, rider=rider, load=load.name)
        changes = _instead(load, ask, day, per_day, people, never=hot or cold)
    row = WorthRow(
        load=load.name,
        verdict=verdict,
        energy_use=float(use[0]),
        energy_legs=_band(at_legs),
        chain=chain,
        minutes=_band(riding),
        food=_band(food),
        food_above_rest=float(food[0]),
        co2_litres=float(body.co2_above_rest(at_legs[0], efficiency=legs.efficiency[0])),
        per_day=_band(riding * per_day),
        runs=runs,
        why=why,
        nearest_yes=changes,
        sources=SOURCES,
        stop=stop,
    )
    return row, at_legs * per_day


def _energy_per_use(load: Load, where: str, draws: Draws) -> F:
    """Joules at the appliance in one use."""
    if load.energy_per_use is not None:
        return draws.column(f"{where}.energy_per_use", load.energy_per_use)
    usual = 300.0 if load.kind == "universal_motor" else 3600.0
    seconds = load.use_time.value if load.use_time else usual
    return draws.column(f"{where}.power", load.power) * seconds


def _path(
    filled: Filled, load: Load, charge: tuple[F, tuple[tuple[str, float], ...]], draws: Draws, rider: str
) -> tuple[F, tuple[tuple[str, float], ...], str]:
    """Share of pedal work that reaches the appliance, the links of it, and how it is run."""
    rig = filled.rig
    joined = hookup(rig, load.name)
    needs_ac = load.kind in ("induction_motor", "transformer") or (
        load.kind == "heater" and joined.load_board is None and joined.board is None
    )
    if joined.battery is None and not needs_ac and refusal(rig, load.name) is None:
        direct = _direct_share(filled, load, rider)
        if direct is not None:
            return direct
    share, chain = charge
    battery = rig.battery
    chemistry = battery.chemistry if battery else "agm"
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


def _board_share(load: Load, board: object, draws: Draws) -> F:
    """Watts out over watts in of the load's own board at the load's watts, its idle included."""
    from sparewatt.parts import Converter

    if not isinstance(board, Converter):
        return draws.column("inverter.typical", TYPICAL_INVERTER)
    watts = load.power.value if load.power else 50.0
    eta = draws.column(f"board.{board.name}.efficiency", board.efficiency, default=0.88)
    idle = draws.column(f"board.{board.name}.idle_power", board.idle_power, default=1.0)
    return np.asarray(watts / (watts / eta + idle))


def _direct_share(
    filled: Filled, load: Load, rider: str
) -> tuple[F, tuple[tuple[str, float], ...], str] | None:
    """Share passed on when the load runs straight off the rig; None when it does not hold."""
    seconds = min(load.bout.value if load.bout else load.use_time.value if load.use_time else 3600.0, 3600.0)
    ask = ask_for(filled.rig, rider=rider, load=load.name, duration=seconds, draws=DRAWS, seed=SEED)
    solved = operate(filled, ask)
    g = solved.gear
    if solved.stop != Stop.FOUND or solved.chances[g] < PASSABLE:
        return None
    share = solved.found.p_load[g] / solved.found.p_rider[g]
    share = np.where(np.isfinite(share) & (share > 0), share, share[0])
    return np.asarray(share), (("pedals to the appliance", float(share[0])),), "direct"


def _instead(
    load: Load, ask: Ask, day: float, per_day: float, people: int, *, never: bool
) -> tuple[Change, ...]:
    """No electricity where heat or motion is wanted; else less of it, or more people."""
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
    if share > 0.05 and load.kind != "heater" and not load.life_support:
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


def _why(load: Load, verdict: str, hot: bool) -> str:
    if hot:
        return "heat is energy, not cleverness: every watt-hour of it comes from legs"
    if load.kind == "induction_motor" and verdict == "not by legs":
        return "cold is energy too, and the compressor runs day and night"
    if verdict == "not by legs":
        return "it takes more hours of riding a day than one person has"
    if verdict == "hard work":
        return "it takes hours of riding a day"
    return "its energy is small"


def _band(values: F) -> Band:
    return Band.of(values[1:], float(values[0]))


def _unknown(key: str, share: float, draws: Draws, rig: Rig) -> Unknown:
    name, measure, minutes = READINGS.get(
        key.rsplit(".", 1)[-1], (key.rsplit(".", 1)[-1].replace("_", " "), "", 10.0)
    )
    parts = key.split(".")
    if parts[0] == "load" and parts[1].isdigit():
        name = f"{name} ({rig.load[int(parts[1])].name})"
    return Unknown(
        key=key, name=name, share=share, how=draws.hows.get(key, "typical"), measure=measure, minutes=minutes
    )
