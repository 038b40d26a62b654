"""The words of `worth` and `loads`: what a use costs the legs, what starts, what runs, for how long, and the charge."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.quantities.units import render
from sparewatt.rig.outcome import Band, Stop
from sparewatt.studies.answers import (
    Bout,
    ChargePlan,
    LoadAnswer,
    LoadsAnswer,
    LoadState,
    RunPlan,
    WorthAnswer,
    WorthRow,
)

__all__ = [
    "bout", "charge", "kilocalories", "load_answer", "load_state", "loads_answer", "run", "worst_verdict", "worth_answer",
    "worth_row",
]  # fmt: skip

ORDER = ("not by legs", "hard work", "good use of legs")
_STATES = {
    "start": "start",
    "idle": "run unloaded",
    "light": "do light work",
    "rated": "work at its rated load",
}


def worst_verdict(verdicts: Sequence[str]) -> str | None:
    """The hardest of some verdicts; None of none."""
    return min(verdicts, key=ORDER.index) if verdicts else None


def kilocalories(joules: float) -> str:
    """Food energy as people say it: "120 kcal"."""
    return render(joules, "kcal", 2) if math.isfinite(joules) else say.NO_NUMBER


# ---- worth ----


def worth_answer(a: WorthAnswer, people: int = 1, *, total: bool = True) -> str:
    """The answer to "is it worth the legs?", what is not worth them first."""
    if not a.rows:
        return "There is nothing in the rig file to run. Add a load and ask again."
    parts = [_refused(row) for row in a.rows if row.verdict == "not by legs"]
    hard = [_priced(row) for row in a.rows if row.verdict == "hard work"]
    good = [_priced(row) for row in a.rows if row.verdict == "good use of legs"]
    if hard:
        parts.append(f"Hard work: {say.and_list(hard)}.")
    if good:
        parts.append(f"A good use of legs: {say.and_list(good)}.")
    day = a.total_per_day.mid
    if total and len(a.rows) > 1 and math.isfinite(day):
        what = (
            "All of it is"
            if all(row.verdict != "not by legs" for row in a.rows)
            else "With everything it would be"
        )
        each = f" for each of the {people} of you" if people > 1 else ""
        parts.append(f"{what} {say.time(day)} of riding a day{each}.")
    return " ".join(parts)


def _refused(row: WorthRow) -> str:
    if row.stop is Stop.DEPENDED_ON:
        return _depended(row.load)
    price = f"one use is {say.time_span(row.minutes)} of riding" if _known(row.minutes) else clause(row.why)
    why = f" {sentence(row.why)}" if row.why and _known(row.minutes) else ""
    return f"Not by legs: {row.load}, because {price}.{why}"


def _depended(load: str) -> str:
    return f"Stop: not {say.the(load)} by legs, because {Stop.DEPENDED_ON.value}."


def _priced(row: WorthRow) -> str:
    return f"{row.load} ({say.time_span(row.minutes)} of riding a use)" if _known(row.minutes) else row.load


def _known(band: Band) -> bool:
    return math.isfinite(band.mid)


def worth_row(row: WorthRow) -> str:
    """One load's price in legs, food and breath, as sentences."""
    if row.stop is Stop.DEPENDED_ON:
        return f"{_depended(row.load)} {_cost(row)}"
    return f"{_cost(row)} {sentence(row.why)}".strip()


def _cost(row: WorthRow) -> str:
    legs = say.about(row.energy_legs, "J").removeprefix("about ")
    first = f"One use of {row.load} is {say.time_span(row.minutes)} of riding: about {legs} of legs"
    food = (
        f" and {kilocalories(row.food_above_rest)} of food above sitting still"
        if math.isfinite(row.food_above_rest)
        else ""
    )
    runs = f" It runs {row.runs}." if row.runs else ""
    return f"{first}{food}.{runs}"


# ---- loads ----


def loads_answer(a: LoadsAnswer) -> str:
    """The answer to "will it run, and how long?", the no first; one appliance at length, several in a line each."""
    if not a.rows:
        return (
            charge(a.charge)
            if a.charge
            else "There is nothing in the rig file to run. Add a load and ask again."
        )
    rows = sorted(a.rows, key=lambda row: ORDER.index(row.verdict))
    many = len(rows) > 2
    plain = [row for row in rows if many and _runs_all(row)]
    parts = [load_answer(row, brief=many) for row in rows if row not in plain]
    if plain:
        parts.append(f"Yes: {say.and_list([say.the(row.load) for row in plain])}, for as long as you like.")
    if a.charge is not None and len(rows) == 1:
        parts.append(charge(a.charge))
    return " ".join(parts)


def _runs_all(row: LoadAnswer) -> bool:
    """It does everything it is for, without end."""
    good = row.verdict == "good use of legs" and row.dc != "stop" and all(s.works for s in row.states)
    return (
        good
        and row.run is None
        and bool(row.states)
        and _held(row.states[-1].time) == " for as long as you like"
    )


def load_answer(row: LoadAnswer, *, brief: bool = False) -> str:
    """One appliance: refused on direct current, or what it does and what it does not."""
    name = say.the(row.load)
    if row.stop is Stop.DEPENDED_ON:
        return _depended(row.load)
    if row.dc == "stop":
        return f"No, not {name}, because {clause(row.dc_why)}."
    works = [s for s in row.states if s.works]
    fails = [s for s in row.states if not s.works]
    if row.verdict == "not by legs" or not works:
        return _no(row, works, fails, brief=brief)
    opening = "Yes" if row.verdict == "good use of legs" else "Yes, but it is hard work"
    held = _on_a_charge(row.run) if row.run is not None else _held(works[-1].time)
    parts = [f"{opening}: {name} will {_list(works)}{held}."]
    if fails:
        parts.append(f"It will not {_list(fails, 'or')}: {_reason(fails[0])}.")
    if not brief:
        parts += [sentence(row.dc_why)] if row.dc == "look again" else []
        parts += [bout(row.bout)] if row.bout is not None else []
        parts += [run(row.run)] if row.run is not None else []
    return " ".join(parts)


def _no(row: LoadAnswer, works: list[LoadState], fails: list[LoadState], *, brief: bool) -> str:
    """The refusal: the way of running that fails and why, else the study's own reason; then what is left."""
    name = say.the(row.load)
    by_energy = row.verdict == "not by legs" and row.why not in ("", row.dc_why, row.stop.value)
    if fails and not by_energy:
        first = f"No, {name} will not {_list(fails, 'or')}, because {_reason(fails[0])}."
    else:
        first = f"No, not {name}, because {clause(row.why or row.stop.value)}."
    return f"{first} It will {_list(works)}." if works and fails and not brief and not by_energy else first


def _reason(s: LoadState) -> str:
    """Why a way of running fails: the study's own clause, else the outcome."""
    return clause(s.says) if s.says else s.stop.value


def _list(states: list[LoadState], last: str = "and") -> str:
    return say.and_list([_STATES[s.state] for s in states]).replace(" and ", f" {last} ")


def _on_a_charge(r: RunPlan) -> str:
    """How long the battery alone runs it."""
    return f", {say.time_span(r.time)} on a full battery" if math.isfinite(r.time.mid) else ""


def _held(t: Band) -> str:
    if math.isinf(t.mid) or (math.isfinite(t.low) and t.low > 8 * 3600):
        return " for as long as you like"
    return f" for {say.time_span(t)}" if math.isfinite(t.mid) else ""


def load_state(s: LoadState) -> str:
    """One way of running, as a sentence."""
    what = _STATES[s.state]
    if not s.works:
        return f"It will not {what}: {_reason(s)}."
    sure = "" if s.chance >= 0.8 else f", {say.chance(s.chance)} with what is known"
    on = f" on {s.gear}" if s.gear and s.gear != "single" else ""
    pace = f" at {say.turns_span(s.hold)}{on}" if math.isfinite(s.hold.mid) else ""
    legs = (
        f"; your legs give {say.about(s.p_rider, 'W')}{_held(s.time)}" if math.isfinite(s.p_rider.mid) else ""
    )
    speed = f"; it turns at {say.percent(s.speed_share)} of its speed" if math.isfinite(s.speed_share) else ""
    return f"It will {what}{pace}{sure}{speed}{legs}."


def bout(b: Bout) -> str:
    """Work and rest."""
    spell = f"Work {say.time(b.bout)}, rest {say.time(b.breather)}"
    if math.isinf(b.cycles):
        return f"{spell}: you can go on like that."
    return f"{spell}: after about {round(b.cycles)} of these your reserve is gone."


def run(r: RunPlan) -> str:
    """How long a battery runs a load."""
    legs = (
        f" Putting it back is {say.time_span(r.legs_time)} of riding."
        if math.isfinite(r.legs_time.mid)
        else ""
    )
    alone = f"The battery alone runs {say.the(r.load)} for {say.time_span(r.time)}"
    return f"{alone}; stop at {say.amount(r.cutoff, 'V', digits=3)}.{legs}"


def charge(c: ChargePlan) -> str:
    """Charging, with where useful leg time ends."""
    stop = f"stop charging at {say.amount(c.set_voltage, 'V', digits=3)}"
    parts = [f"The battery takes {say.span(c.accepted, 'A')} of what you give; {stop}."]
    if math.isfinite(c.accepted.mid) and math.isfinite(c.amps.mid) and c.accepted.mid < 0.9 * c.amps.mid:
        most = f"at most {say.amount(c.current_limit, 'A')}" if math.isfinite(c.current_limit) else "no more"
        parts[0] = f"Your legs could give {say.span(c.amps, 'A')}, but it takes {most}; {stop}."
    if math.isfinite(c.ride_gain.mid):
        parts.append(f"One ride as asked puts back {_gain(c.ride_gain)} of it.")
    if math.isfinite(c.useful_end) and c.useful_end < 0.995:
        parts.append(
            f"Past {say.percent(c.useful_end)} full it takes less than you can give: stop there, or ride for something else."
        )
    return " ".join(parts)


def _gain(b: Band) -> str:
    low, high = (
        (round(100 * x) for x in (b.low, b.high))
        if math.isfinite(b.low) and math.isfinite(b.high)
        else (0, 0)
    )
    return f"{low} to {high} %" if low != high else f"about {say.percent(b.mid)}"


def stopped(stop: Stop) -> str:
    """An outcome as a sentence."""
    return sentence(stop.value)
