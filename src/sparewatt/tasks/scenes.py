"""A ride second by second: a scene of the rig file, typed words, or the one that shows what the steady answer says."""

from __future__ import annotations

import dataclasses
import importlib.util
from collections.abc import Iterable, Sequence
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.plan import Start
from sparewatt.language.script import Script, in_gear, script_from_plan, script_from_words, script_of
from sparewatt.language.telling import asked_time
from sparewatt.parts import Measured, Scene
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.outcome import Caveat
from sparewatt.studies.answers import Change
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import Given, Where, load_named, number, open_place
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_scene import SCENE, Beside, Told
from sparewatt.tasks.questions import answered
from sparewatt.tasks.scene_words import (
    Show,
    scene_of_answer,
    scenes_of_answer,
    usual_load,
    usual_plan,
)

__all__ = [
    "Show", "against", "asked_time", "compare", "scene", "scene_filled", "scene_of_answer",
    "scenes_of_answer",
]  # fmt: skip

Changes = Iterable[tuple[str, str]]
MOST_RUNS = 2000
SERVED_SHARE = 0.6  # of the time it is meant to be fed: less is not served (common practice, no source)
LEFT_OUT = "not in the rig file"  # so begins what is said of a number that the motion needs and the file does not give
NEAREST = "sparewatt.studies.scenes.nearest_seconds"


def scene(
    place: Where,
    *,
    name: str | None = None,
    words: str | None = None,
    rider: str | None = None,
    load: str | None = None,
    gear: str | None = None,
    effort: Given = None,
    cadence: Given = None,
    holds: str | None = None,
    start: str | None = None,
    duration: Given = None,
    runs: int = 200,
    changes: Changes = (),
) -> Answer:
    """What happens second by second? The scene of that name, or as typed; else the rig's first one, else its usual one.

    What is given beside the name goes before what the file says; what the words say goes before what is given beside them.
    """
    loaded, origin = open_place(place, changes)
    asked: dict[str, Any] = {
        "name": name, "words": words, "rider": rider, "load": load, "gear": gear, "effort": effort, "cadence": cadence,
        "holds": holds, "start": start, "duration": duration, "runs": runs,
    }  # fmt: skip
    return scene_filled(fill(loaded.rig), origin, **asked)


def scene_filled(filled: Filled, origin: str, *, runs: int = 200, **asked: Any) -> Answer:
    """The same for a rig that is filled already."""
    return _answered(filled, origin, _played(filled, _script(filled, runs, **asked), runs), offers=runs > 0)


def compare(
    place: Where, changes: Changes, *, tried: Changes = (), runs: int = 200, **asked: Any
) -> tuple[Answer, Answer]:
    """Two answers for one chart: the rig as it is, and with the changes, in the same scene.

    tried: changes that both have. The results of the first hold those of the second under `beside`.
    """
    edits = tuple(changes)
    both, origin = open_place(place, tried)
    other, _ = open_place(both, edits)
    filled, varied = fill(both.rig), fill(other.rig)
    script, rival = (_script(one, runs, **asked) for one in (filled, varied))
    mine, theirs = _played(filled, script, runs), _played(varied, rival, runs)
    second = _answered(varied, origin, theirs, offers=False)
    first = _answered(filled, origin, mine, offers=runs > 0, beside=(edits, theirs, second.answer))
    return first, second


# ---- the script ------------------------------------------------------------------------------------------------------


def _script(
    filled: Filled, runs: int, *, name: str | None = None, words: str | None = None, rider: str | None = None,
    load: str | None = None, gear: str | None = None, effort: Given = None, cadence: Given = None,
    holds: str | None = None, start: str | None = None, duration: Given = None,
) -> Script:  # fmt: skip
    """The script that is asked for; raises BadRequest with everything at once that cannot be used."""
    watts, pace, time = _numbers(runs, effort=effort, cadence=cadence, duration=duration)
    given: dict[str, Any] = {
        "rider": rider or None, "load": load or None, "gear": gear or None, "effort": watts, "cadence": pace,
        "duration": time, "holds": holds or None, "start": start or None,
    }  # fmt: skip
    if name and words:
        hint = "leave one of them out"
        raise BadRequest(Problem("words", "a scene is played by its name or in words, not both.", hint, name))
    if words and words.strip():
        return script_from_words(filled, words, **given)
    found = _named(filled, name) if name else _first(filled, load)
    if found is not None:
        return script_of(filled, _with(found, given))
    plan = usual_plan(filled.rig, usual_load(filled.rig, load))
    return script_from_plan(filled, plan, name="as you usually ride", given=Start(**given))


def _numbers(runs: int, **given: Given) -> tuple[float | None, ...]:
    """The amounts in SI; every one that cannot be used at once."""
    problems: list[Problem] = []
    out: list[float | None] = []
    for name, value in given.items():
        try:
            out.append(number(name, value))
        except BadRequest as bad:
            problems.extend(bad.problems)
    if not 0 <= runs <= MOST_RUNS:
        hint = f"a whole number from 0 to {MOST_RUNS}"
        problems.append(Problem("runs", "this many runs are not played.", hint, str(runs)))
    if problems:
        raise BadRequest(*problems)
    return tuple(out)


def _named(filled: Filled, name: str) -> Scene:
    """The scene of that name, or the only one whose name begins so."""
    from sparewatt.studies.scenes.seconds import scene_named

    begins = [s for s in filled.rig.scene if s.name.casefold().startswith(name.strip().casefold())]
    return begins[0] if len(begins) == 1 else scene_named(filled, name.strip())


def _first(filled: Filled, load: str | None) -> Scene | None:
    """The rig's first scene; with a load asked for, the first one that is about it."""
    scenes = filled.rig.scene
    if not load:
        return scenes[0] if scenes else None
    wanted = load_named(filled.rig, load)
    return next((s for s in scenes if script_of(filled, s).ask.load == wanted), None)


def _with(found: Scene, given: dict[str, Any]) -> Scene:
    """The scene of the file, with what was given beside its name."""
    measured: dict[str, Any] = {
        key: Measured(given[key]) for key in ("effort", "cadence", "duration") if given[key] is not None
    }
    plain: dict[str, Any] = {
        key: given[key] for key in ("rider", "load", "gear", "holds", "start") if given[key]
    }
    return dataclasses.replace(found, **measured, **plain)


# ---- the answer ------------------------------------------------------------------------------------------------------


def _played(filled: Filled, script: Script, runs: int) -> Told:
    from sparewatt.studies.scenes.seconds import play_scene

    found = play_scene(filled, script, runs=runs)
    ridden = in_gear(script, filled, found.gear)
    return Told(
        scene=found, script=ridden, asked=asked_time(ridden), against=against(found, ridden), runs=runs
    )


def _answered(
    filled: Filled,
    origin: str,
    told: Told,
    *,
    offers: bool,
    beside: tuple[tuple[tuple[str, str], ...], Told, str] | None = None,
) -> Answer:
    from sparewatt.present import words_seconds

    if beside is not None:
        edits, theirs, said = beside
        differs = words_seconds.compare(told.scene, theirs.scene, label="the changed one")
        told = dataclasses.replace(
            told, beside=Beside(changes=edits, answer=said, differs=differs, told=theirs)
        )
    return answered(
        "match",
        filled,
        origin,
        told.scene,
        flatten(SCENE, told),
        answer=words_seconds.scene_answer(told.scene, filled.rig),
        verdict=None,
        nearest=_nearest(filled, told.script) if offers else (),
        caveats=[*_fewer(told), *_counted(filled, told.scene.caveats)],
    )


def _nearest(filled: Filled, script: Script) -> Sequence[Change]:
    """Changes after which the scene goes well, each proven by playing it; none where nothing goes wrong."""
    if importlib.util.find_spec(NEAREST) is None:
        return ()
    found: Sequence[Change] = importlib.import_module(NEAREST).nearest_seconds(filled, script)
    return found


def _fewer(told: Told) -> list[Caveat]:
    """What must be said when there are not as many runs as were asked for."""
    got = told.scene.runs
    if got >= told.runs:
        return []
    bands = f"the bands come from {got}" if got else "none was played, so nothing here has a band"
    return [Caveat(where="runs", text=f"You asked for {told.runs} runs; {bands}")]


def _counted(filled: Filled, caveats: Sequence[Caveat]) -> list[Caveat]:
    """What the rig file leaves out is told once: as a count, and by name what the motion alone needs."""
    alone: dict[str, list[str]] = {}
    for c in caveats:
        if c.text.startswith(LEFT_OUT):
            part, _, field = c.where.partition(".")
            alone.setdefault(part, []).append(field.rpartition(".")[2].replace("_", " "))
    named = "; ".join(f"{part}: {', '.join(dict.fromkeys(fields))}" for part, fields in alone.items())
    known = f"The rig file says nothing of what only its motion needs, so typical values stand in ({named})"
    return [
        *(c for c in caveats if not c.text.startswith(LEFT_OUT)),
        *([Caveat(where="motion", text=known)] if named else []),
        *(Caveat(where="rig file", text=f"{key}: {says}") for key, says in filled.assumed),
    ]


def against(found: SceneAnswer, script: Script) -> tuple[str, ...]:
    """What makes the scene a no, as short words; none when it is a yes."""
    keys = {h.key for h in found.happenings}
    asked = asked_time(script)
    starved = found.served_time < SERVED_SHARE * asked or found.ends == "asleep"
    reasons = (
        ("stalls", found.ends == "stalled" or "stalls" in keys),
        ("over a rating", any(p.over for p in found.peaks) or bool(keys & {"over_volts", "over_load_volts"})),
        ("a fuse opens", "fuse_opens" in keys),
        ("goes off and on", found.ends == "hiccups"),
        ("not served", asked > 0 and starved),
    )
    return tuple(words for words, so in reasons if so)
