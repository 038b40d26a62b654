"""The nearest yes of a scene that goes wrong: the smallest changes that put it right, each played before it is offered.

Edits are those of `nearest`; a change of the ride itself (its gear, its effort, when what is switched) is told in the words
of the new scene.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from sparewatt.errors import SparewattError
from sparewatt.language.script import Script, script_of, tell
from sparewatt.parts import Scene
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.motion import Played, at_once, compile_aside, play
from sparewatt.studies.answers import Change
from sparewatt.studies.guard.words import listed
from sparewatt.studies.scenes.nearest_troubles import GONE, TROUBLES, known_by, troubles
from sparewatt.studies.scenes.seconds import LONG, Scored, stage_scene
from sparewatt.studies.scenes.tries_seconds import (
    Family,
    SceneTry,
    boards_alike,
    efforts,
    gears,
    hystereses,
    leads,
    orders,
    sheds,
    softer_starts,
)
from sparewatt.studies.tries_parts import capacitors, clamps, flywheels

__all__ = ["TROUBLES", "nearest_seconds", "troubles_of"]

KEEP = 3
RUNS = 40  # spread runs that an offer is proven with
MANY_RIGS_RUNS = 12
EARLY, MUCH = 1.5, 0.6  # times as long as it took to go wrong, when that is not most of the scene
SURE = 0.7  # share of them in which it must work
EVERY, MOST_SAMPLES = 0.025, 2400  # s between samples, and how many at most
BUDGET = 60_000  # steps a run may take

_ALL: tuple[Family, ...] = (orders, gears, efforts, hystereses, softer_starts, capacitors, flywheels, sheds)
_SHARED: tuple[Family, ...] = (boards_alike, leads, gears, efforts, sheds)  # for several rigs on one bus
_VOLTS: tuple[Family, ...] = (gears, efforts, clamps, capacitors)
_FAMILIES: dict[str, tuple[Family, ...]] = {
    "stall": (orders, gears, efforts, flywheels, sheds),
    "pulses": _ALL,
    "over volts": _VOLTS,
    "over load volts": _VOLTS,
    "fuse": (gears, efforts, sheds, softer_starts),
    "unserved": _ALL,
    "swings": (capacitors, sheds),
    "flicker": (gears, flywheels, capacitors, efforts),
}


def nearest_seconds(
    filled: Filled, script: Script | Scene, *, runs: int = RUNS, seed: int = 1
) -> tuple[Change, ...]:
    """Up to three changes of different kinds, smallest first; none when nothing goes wrong.

    Each is played with the change made: the nominal run and `runs` spread ones; what is offered has no trouble in the
    nominal run and in at least SURE of the others. None while the quick way of playing is still being compiled.
    """
    if not at_once():
        compile_aside()
        return ()
    if isinstance(script, Scene):
        script = script_of(filled, script)
    scored = stage_scene(filled, script, runs=0, seed=seed)
    played = _played(scored)[0]
    wrong = troubles(scored, played)
    if not wrong:
        return ()
    soon = known_by(scored, played)
    families = list(dict.fromkeys(f for key in TROUBLES if key in wrong for f in _FAMILIES[key]))
    if played.rigs > 1:  # each run costs as much as dozens of one rig alone
        families, runs = list(_SHARED), min(runs, MANY_RIGS_RUNS)
    found: list[Change] = []
    for family in families:
        for attempt in family(filled, scored, played):
            later = max(attempt.script.duration - script.duration, 0.0)
            change = _proven(attempt, wrong, runs, seed, EARLY * soon + later)
            if change is not None:
                found.append(change)
                break
        if found and played.rigs > 1:
            break
    found.sort(key=lambda change: change.size)
    kinds: dict[str, Change] = {}
    for change in found:
        kinds.setdefault(change.kind, change)
    return tuple(kinds.values())[:KEEP]


def troubles_of(
    filled: Filled, script: Script, *, runs: int = 0, seed: int = 1
) -> tuple[frozenset[str], float]:
    """What goes wrong in the nominal run of a scene, and the share of spread runs in which nothing does."""
    scored = stage_scene(filled, script, runs=runs, seed=seed)
    main, *spread = _played(scored)
    share = float(np.mean([not troubles(scored, one) for one in spread])) if spread else math.nan
    return troubles(scored, main), share


def _played(scored: Scored, until: float = math.inf) -> list[Played]:
    """All columns of a staged scene; until: only so far, on the same samples."""
    duration = scored.script.duration
    count = min(math.ceil(duration / EVERY), MOST_SAMPLES) + 1
    times = np.linspace(0.0, duration, count)
    times = times[times <= until] if until < duration else times
    start = scored.start
    if duration >= LONG:
        start = dataclasses.replace(start, even=True, longest=2.0)
    return play(
        scored.moving,
        scored.acts,
        start,
        duration=float(times[-1]),
        times=times,
        columns=tuple(range(scored.moving.cols)),
        tolerance=5e-4,
        budget=BUDGET,
    )


def _wrong_early(scored: Scored, early: float, sure: float) -> bool:
    """Whether too many runs have gone wrong for good by then. One run alone is the nominal one."""
    if not early < MUCH * scored.script.duration:
        return False
    main, *spread = _played(scored, early)
    looked = spread or [main]
    return float(np.mean([not math.isfinite(known_by(scored, one)) for one in looked])) < sure


def _proven(attempt: SceneTry, wrong: frozenset[str], runs: int, seed: int, early: float) -> Change | None:
    """The change when it works: nominal first, which throws out most, then the spread runs.

    early: s by which the scene as it is has gone wrong. Most of what does not help goes wrong by then too, and what has
    gone wrong for good by then need not be played to the end.
    """
    filled = fill(attempt.rig)
    try:
        if _wrong_early(stage_scene(filled, attempt.script, runs=0, seed=seed), early, 1.0):
            return None
        if troubles_of(filled, attempt.script, seed=seed)[0]:
            return None
        if runs and _wrong_early(stage_scene(filled, attempt.script, runs=runs, seed=seed), early, SURE):
            return None
        after, share = troubles_of(filled, attempt.script, runs=runs, seed=seed)
    except SparewattError:
        return None
    if after or not (share >= SURE or runs == 0):
        return None
    gone = listed([GONE[key] for key in TROUBLES if key in wrong])
    counted = f", in {round(share * runs)} of {runs} runs with the doubts of this rig" if runs else ""
    return Change(
        kind=attempt.kind,
        says=attempt.says,
        gives=f"then {gone}{counted}",
        edits=attempt.edits,
        ask=attempt.script.ask,
        proven=True,
        cost=attempt.cost,
        size=attempt.size,
        words=tell(attempt.script),
    )
