"""The one judge of a question: what the legs can do, and what must be put right first. Every section shows this.

What the legs can do is the hardest of several views: is it refused, do the volts fit, does it start, does it run and for how
long, and how much of the day does it take. What must be put right first is every stop that the hazards of the rig bring.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sparewatt.rig.asking import Ask
from sparewatt.rig.draws import Draws
from sparewatt.rig.edges import spare_band
from sparewatt.rig.endurance import HOURS_FACTOR, time_for
from sparewatt.rig.fill import Filled
from sparewatt.rig.fitting import misfit
from sparewatt.rig.hookup import hookup
from sparewatt.rig.operating import LIKELY, PASSABLE, SHORT_SPARE, State, operate, uncomfortable
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import lifeline, refusal
from sparewatt.studies.load_starts import start_of
from sparewatt.studies.pricing import Price, day_verdict, price

__all__ = ["RANK", "Judgement", "View", "hardest", "judge", "running_verdict", "why_day"]

RANK = {"not by legs": 0, "hard work": 1, "good use of legs": 2}


@dataclass(frozen=True, slots=True)
class View:
    """One view of a question. key: "refused", "depended on", "fit", "runs", "starts" or "day"; why: a cause."""

    key: str
    verdict: str
    stop: Stop
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """What the legs can do with one question. views: every view that was taken, the hardest first."""

    ask: Ask
    state: State | None  # None where it is refused before anything is solved
    cost: Price | None  # None for a plain charge
    views: tuple[View, ...]

    @property
    def verdict(self) -> str:
        """One of the three verdict words."""
        return self.views[0].verdict

    @property
    def stop(self) -> Stop:
        """How it ends: the outcome of the hardest view."""
        return self.views[0].stop

    @property
    def why(self) -> str:
        """The cause behind the hardest view."""
        return self.views[0].why


@lru_cache(maxsize=64)
def judge(filled: Filled, ask: Ask) -> Judgement:
    """What the legs can do with this question."""
    refused = refusal(filled.rig, ask.load)
    cost = None if ask.load == "charge" else price(filled, ask, Draws(ask.draws, ask.seed))
    if refused is not None:
        return Judgement(ask=ask, state=None, cost=cost, views=(View("refused", "not by legs", *refused),))
    state = operate(filled, ask)
    views = []
    wrong = misfit(filled.rig, ask.load)
    if wrong is not None:
        views.append(View("fit", "not by legs", *wrong))
    stored = hookup(filled.rig, ask.load)
    if cost is None or stored.battery is None:
        spare = spare_band(state.bound, state.gear, ask.effort).mid
        views.append(View("runs", running_verdict(state, spare), state.stop, state.stop.value))
    if cost is not None and (
        (wrong is None and views and views[0].verdict != "not by legs") or stored.battery is not None
    ):
        started = start_of(filled, ask.load, ask.rider)
        if not started.works:
            views.append(View("starts", "not by legs", started.stop, started.says))
    if cost is not None:
        views.append(View("day", day_verdict(cost), Stop.FOUND, why_day(cost)))
    line = lifeline(filled.rig, stored.load) if stored.load is not None else None
    if line is not None and not line.enough:
        views.append(View("depended on", "not by legs", Stop.DEPENDED_ON, Stop.DEPENDED_ON.value))
    never = cost is not None and (cost.hot or cost.cold)
    views.sort(key=lambda v: (RANK[v.verdict], v.key != "depended on", not (never and v.key == "day")))
    return Judgement(ask=ask, state=state, cost=cost, views=tuple(views))


def why_day(cost: Price) -> str:
    """What a day of it takes, as a cause."""
    if cost.hot:
        return "heat is energy, not cleverness: every watt-hour of it comes from legs"
    if cost.cold:
        return "cold is energy too, and the compressor runs day and night"
    return {
        "not by legs": "it takes more hours of riding a day than one person has",
        "hard work": "it takes hours of riding a day",
        "good use of legs": "its energy is small",
    }[day_verdict(cost)]


def hardest(verdicts: list[str]) -> str:
    """The hardest of some verdicts."""
    return min(verdicts, key=lambda word: RANK[word])


def running_verdict(state: State, spare: float = math.nan) -> str:
    """Does it run in the reported gear, likely enough, with room, and for long enough? One of the three verdict words."""
    g, found, ask = state.gear, state.found, state.ask
    if state.stop not in (Stop.FOUND, Stop.PINNED) or state.chances[g] < PASSABLE:
        return "not by legs"
    p = found.p_rider[g]
    t = time_for(p, state.bound.critical_power, state.bound.work_reserve)
    lasts = (
        float(np.nanmean(np.where(np.isfinite(p), t >= 0.999 * ask.duration, np.nan)[1:]))
        if p.size > 1
        else float(t[0] >= 0.999 * ask.duration)
    )
    p_load = state.bound.extras.get("p_load", np.array([math.nan]))[0]
    tight = math.isfinite(spare) and math.isfinite(p_load) and spare < SHORT_SPARE * p_load
    if lasts < 0.25:
        return "not by legs"
    if state.chances[g] < LIKELY or tight or lasts < 0.45 or uncomfortable(state):
        return "hard work"
    hard = float(p[0]) > 1.02 * HOURS_FACTOR * float(state.bound.critical_power[0])
    return "hard work" if hard else "good use of legs"
