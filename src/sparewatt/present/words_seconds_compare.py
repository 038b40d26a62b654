"""What differs between two designs in the same scene, in words."""

from __future__ import annotations

import math

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import sentence
from sparewatt.present.words_seconds_reading import in_runs, mean_end, most_of
from sparewatt.present.words_seconds_rows import load_name
from sparewatt.studies.scenes.answers import SceneAnswer

__all__ = ["compare"]


def compare(a: SceneAnswer, other: SceneAnswer, *, label: str = "the other") -> str:
    """What differs between two designs in the same scene; `label` names the second, drawn dashed."""
    parts = [part for part in (_ends_apart(a, other, label), _volts_apart(a, other, label),
                               _served_apart(a, other, label), _pace_apart(a, other, label),
                               _chance_apart(a, other, label)) if part]  # fmt: skip
    return (
        " ".join(parts) if parts else f"Between this one and {label} there is no difference you would notice."
    )


_ENDS = {
    "holds": "holds",
    "stalled": "drags you to a stop",
    "stopped": "comes to rest",
    "hiccups": "never settles",
    "asleep": "stays asleep",
}


def _ends_apart(a: SceneAnswer, b: SceneAnswer, label: str) -> str:
    if a.ends == b.ends:
        return ""
    return f"This one {_ENDS.get(a.ends, a.ends)}; {label} {_ENDS.get(b.ends, b.ends)}."


def _volts_apart(a: SceneAnswer, b: SceneAnswer, label: str) -> str:
    mine, theirs = (most_of(x, "bus_volts") for x in (a, b))
    if not (math.isfinite(mine) and math.isfinite(theirs)) or abs(mine - theirs) < 0.03 * max(mine, theirs):
        return ""
    limit = min((v for _, v in a.limits if math.isfinite(v)), default=math.inf)
    stands = (
        f" The lowest rating is {say.amount(limit, 'V')}."
        if min(mine, theirs) <= limit < max(mine, theirs)
        else ""
    )
    return (
        f"Its volts reach {say.amount(mine, 'V')}; with {label} they reach {say.amount(theirs, 'V')}.{stands}"
    )


def _served_apart(a: SceneAnswer, b: SceneAnswer, label: str) -> str:
    mine, theirs = a.served_time, b.served_time
    if not (math.isfinite(mine) and math.isfinite(theirs)) or abs(mine - theirs) < 0.03 * max(
        a.duration, b.duration
    ):
        return ""
    name = load_name(a)
    return f"{sentence(name)[:-1]} gets what it asks for during {_spell(mine)}; with {label} during {_spell(theirs)}."


def _spell(seconds: float) -> str:
    return say.amount(seconds, "s") if seconds > 0 else "no time at all"


def _pace_apart(a: SceneAnswer, b: SceneAnswer, label: str) -> str:
    mine, theirs = (mean_end(x, "cadence") for x in (a, b))
    if not (math.isfinite(mine) and math.isfinite(theirs)) or abs(mine - theirs) < 0.21:  # 2 turns a minute
        return ""
    return f"You end at {say.turns(mine)}; with {label} at {say.whole_turns(theirs)}."


def _chance_apart(a: SceneAnswer, b: SceneAnswer, label: str) -> str:
    for key, words in (("over volts", "The volts pass a rating"), ("stall", "It drags you to a stop")):
        mine, theirs = (next((c.share for c in x.chances if c.key == key), math.nan) for x in (a, b))
        if (
            math.isfinite(mine)
            and math.isfinite(theirs)
            and abs(mine - theirs) >= 0.1
            and min(a.runs, b.runs) > 1
        ):
            return f"{words} {in_runs(mine, a.runs)}; with {label} {in_runs(theirs, b.runs)}."
    return ""
