"""The one judge: what the legs can do with an asked load, in one of the three verdict words."""

from __future__ import annotations

import math

import numpy as np

from sparewatt.rig.endurance import HOURS_FACTOR, time_for
from sparewatt.rig.operating import LIKELY, PASSABLE, State, uncomfortable
from sparewatt.rig.outcome import Stop

__all__ = ["verdict_of"]

SHORT_SPARE = 0.10  # below this share of the load the edge is too near for comfort


def verdict_of(solved: State, spare: float = math.nan) -> str:
    """One of the three verdict words for the reported gear: does it work, likely enough, with room, and for long enough?"""
    g, found, ask = solved.gear, solved.found, solved.ask
    if solved.stop not in (Stop.FOUND, Stop.PINNED) or solved.chances[g] < PASSABLE:
        return "not by legs"
    p = found.p_rider[g]
    t = time_for(p, solved.bound.critical_power, solved.bound.work_reserve)
    lasts = (
        float(np.nanmean(np.where(np.isfinite(p), t >= 0.999 * ask.duration, np.nan)[1:]))
        if p.size > 1
        else float(t[0] >= 0.999 * ask.duration)
    )
    p_load = solved.bound.extras.get("p_load", np.array([math.nan]))[0]
    tight = math.isfinite(spare) and math.isfinite(p_load) and spare < SHORT_SPARE * p_load
    if lasts < 0.25:
        return "not by legs"
    if solved.chances[g] < LIKELY or tight or lasts < 0.45:
        return "hard work"
    if uncomfortable(solved):
        return "hard work"
    hard = float(p[0]) > 1.02 * HOURS_FACTOR * float(solved.bound.critical_power[0])
    return "hard work" if hard else "good use of legs"
