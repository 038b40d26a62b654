"""The words of a scene as its page handles them: what stands in the box, each step as a row, and a step moved or taken out.

The words may say more than the steps: who rides, from rest, in which gear. As soon as a step or a box is changed by its
button, the words keep the steps alone, and the boxes hold what the words said; nothing is lost on the way.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.building import on_at_first
from sparewatt.language.names import CHARGE
from sparewatt.language.plan import Plan, Start
from sparewatt.language.script import Script, script_from_words, script_of
from sparewatt.language.telling import amount, told
from sparewatt.quantities.units import BadText, parse
from sparewatt.rig.fill import Filled
from sparewatt.studies.scenes.seconds import scene_named
from sparewatt.tasks.ask import number
from sparewatt.web.question import Question

__all__ = ["BOXES", "Row", "Told", "edited", "joined", "kept", "read", "step_size", "with_boxes"]

_EDIT = re.compile(r"([0-9]{1,3}) (?:(x)|([+-][0-9]{1,6}(?:\.[0-9]{1,3})?))")
_STEPS = (0.1, 0.5, 1.0, 5.0, 10.0, 60.0, 300.0)  # s that one press moves a step
_FITTING = 25  # presses that take a step from one end of the scene to the other, about


@dataclass(frozen=True, slots=True)
class Row:
    """One step: when (s), the words for it, and how they were understood."""

    at: float
    text: str
    understood: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A scene as told. plain: its words without what the boxes can say; lead: what they say before the steps even so.

    own: for each box that somebody filled, who did: "asked" (the address), "scene" (the rig file), "words".
    """

    words: str
    plain: str
    lead: str
    rows: tuple[Row, ...]
    own: dict[str, str]
    script: Script
    named: bool = False  # it is a scene of the rig file as it stands there


def _watts(value: float) -> str:
    return amount(value, ("W",), "W")


def _turns(value: float) -> str:
    return amount(value, ("rpm",), "rad/s")


def _time(value: float) -> str:
    return amount(value, ("s",), "s")


# box -> where a script has it, and how it is written
BOXES: dict[str, tuple[Callable[[Script], Any], Callable[[Any], str]]] = {
    "rider": (lambda s: s.ask.rider, str),
    "load": (lambda s: s.ask.load, str),
    "gear": (lambda s: s.ask.gear, str),
    "effort": (lambda s: s.ask.effort, _watts),
    "cadence": (lambda s: s.cadence, _turns),
    "duration": (lambda s: s.ask.duration, _time),
    "holds": (lambda s: s.holds, str),
    "start": (lambda s: s.start, str),
}
_USUAL = {"holds": "effort", "start": "riding"}  # what a rig file means when it says nothing
_AMOUNTS = ("effort", "cadence", "duration")


def read(filled: Filled, q: Question) -> Told:
    """The scene of a question, read but not played; every complaint about its words and boxes at once."""
    if q.name is not None and not _retold(filled, q):
        scene = scene_named(filled, q.name)
        script = script_of(filled, scene)
        own = {box: "scene" for box in BOXES if getattr(scene, box) not in (None, "", _USUAL.get(box))}
        own |= {box: "asked" for box in BOXES if getattr(q, box) is not None}
        rows, lead = _rows(script)
        plain = joined(lead, rows)
        return Told(words=plain, plain=plain, lead=lead, rows=rows, own=own, script=script, named=True)
    words = q.words or ""
    given, wrong = _given(q)
    try:
        script = script_from_words(filled, words, **given)
    except BadRequest as bad:
        raise BadRequest(*wrong, *bad.problems) from None
    if wrong:
        raise BadRequest(*wrong)
    rows, lead = _rows(script)
    plain = joined(lead, rows)
    said = [box for box in BOXES if getattr(script.said, box) not in (None, _USUAL.get(box))]
    own = dict.fromkeys(given, "asked") | dict.fromkeys(said, "words")
    return Told(words=words, plain=plain, lead=lead, rows=rows, own=own, script=script)


def _retold(filled: Filled, q: Question) -> bool:
    """Whether words were given beside the name of a scene that are not those of the scene itself."""
    if q.words is None or q.name is None:
        return False
    script = script_of(filled, scene_named(filled, q.name))
    rows, lead = _rows(script)
    return " ".join(q.words.split()) != joined(lead, rows)


def _given(q: Question) -> tuple[dict[str, Any], list[Problem]]:
    """What the boxes say in SI, and what is wrong with them."""
    found: dict[str, Any] = {}
    wrong: list[Problem] = []
    for box in BOXES:
        value = getattr(q, box)
        if value is None:
            continue
        try:
            found[box] = number(box, value) if box in _AMOUNTS else value
        except BadRequest as bad:
            wrong += bad.problems
    return found, wrong


def _rows(script: Script) -> tuple[tuple[Row, ...], str]:
    """Every step as it was told, and what has to be said before them: whether the load is on, where they do not show it."""
    rows = tuple(Row(act.at, " ".join(act.text.split()), act.understood) for act in script.steps)
    if script.ask.load == CHARGE or script.switched_on == on_at_first(script.steps):
        return rows, ""
    return rows, told(Plan(start=Start(load=script.ask.load, switched_on=script.switched_on)))


def joined(lead: str, rows: tuple[Row, ...]) -> str:
    """The words of these steps, in the order of time: "with the saw on; at 5 s shift up"."""
    told = sorted(rows, key=lambda row: row.at)
    return "; ".join([*([lead] if lead else []), *(f"at {_time(row.at)} {row.text}" for row in told)])


def with_boxes(told: Told, q: Question, words: str) -> Question:
    """The question with these words, every box holding what the words or the rig file said of it."""
    filled_in: dict[str, Any] = {}
    for box, (get, write) in BOXES.items():
        value = get(told.script)
        if told.own.get(box) in ("scene", "words"):
            filled_in[box] = None if value is None else write(value)
    return dataclasses.replace(q, name=None, words=words or None, **filled_in)


def step_size(duration: float) -> float:
    """Seconds that one press moves a step of a scene of this length."""
    return max([s for s in _STEPS if s <= duration / _FITTING], default=_STEPS[0])


def edited(told: Told, edit: str, when: str, more: str) -> str:
    """The words after a button was pressed: "2 +1" moves a step, "2 x" takes it out, "add" puts `more` in at `when`."""
    if edit == "add":
        return _added(told, when, more)
    found = _EDIT.fullmatch(edit)
    if found is None or int(found[1]) >= len(told.rows):
        raise BadRequest(
            Problem("step", "there is no such step to change.", "press a button beside a step", edit[:20])
        )
    k, gone, by = int(found[1]), found[2], found[3]
    rows = list(told.rows)
    if gone:
        del rows[k]
    else:
        at = min(max(round(rows[k].at + float(by), 3), 0.0), told.script.duration)
        rows[k] = dataclasses.replace(rows[k], at=at)
    return joined(told.lead, tuple(rows))


def _added(told: Told, when: str, more: str) -> str:
    """One more step: at its time, or some way behind the last one."""
    if not more:
        raise BadRequest(Problem("step", "nothing is said to happen.", "choose what happens, then add it"))
    if when:
        bare = when.replace(".", "", 1).isdigit()
        try:
            at = parse(f"{when} s" if bare else when, "s").value
        except BadText as bad:
            raise BadRequest(Problem("step", bad.problem, bad.hint or "20 s", when)) from None
    else:
        last = max([row.at for row in told.rows], default=0.0)
        at = min(last + 5 * step_size(told.script.duration), told.script.duration)
    return joined(told.lead, (*told.rows, Row(at, more, more)))


def kept(told: Told, name: str, q: Question) -> list[tuple[str, str]]:
    """The scene as edits of the rig file: one [[scene]], then its steps; `{n}` stands for its number there."""
    given, _ = _given(q)
    values = {"name": name, "load": told.script.ask.load}
    for box, (get, write) in BOXES.items():
        value = given[box] if told.named and box in given else get(told.script)
        if box in told.own and value is not None:
            values[box] = write(value)
    lines = {
        key: values[key]
        for key in ("name", "rider", "load", "gear", "start", "holds", *_AMOUNTS)
        if key in values
    }
    if told.lead:
        lines["switched_on"] = "true" if told.script.switched_on else "false"
    steps = [{"at": _time(row.at), "do": row.text} for row in told.rows]
    return [("scene+", _table(lines)), *(("scene.{n}.step+", _table(step)) for step in steps)]


def _table(values: dict[str, str]) -> str:
    return "\n".join(f"{key} = {_quoted(text)}" for key, text in values.items())


def _quoted(text: str) -> str:
    if text in ("true", "false"):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
