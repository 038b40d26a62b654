"""The bench as guided procedures: what each makes known, its cautions first, its steps, and the place for each reading.

The words stand as data in `procedure_texts`, one file for each procedure. Before any effort come the questions of
`screening`; one yes takes away every hard effort and leaves the gentle way. Nobody keeps the answers.
"""

from __future__ import annotations

import dataclasses
import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rider
from sparewatt.rig.endurance import spared
from sparewatt.rig.fill import Filled
from sparewatt.studies.bench.answers import Procedure, Slot, Step
from sparewatt.studies.bench.procedures_expected import expected
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS

__all__ = [
    "EFFORTS",
    "ORDER",
    "Guide",
    "Place",
    "Question",
    "Screening",
    "expected",
    "for_rig",
    "guide",
    "guides",
    "may_ride",
    "offered",
    "places",
    "screening",
    "why_not",
]

# How hard a body works: not at all; so lightly that one could sing; a sentence comes easily; to the limit.
EFFORTS = ("none", "gentle", "steady", "maximal")

ORDER = (
    "rules",
    "spin_open", "spin_loaded", "locked_shaft", "run_free", "run_down", "falling_weight", "lever_torque",
    "board_power", "board_limits", "board_screws",
    "battery_dip", "battery_run",
    "appliance_look",
    "first_turn", "top_speed", "dummy_ride", "ratio_and_slip", "step_ride", "edge_ride", "load_drop", "rope_brake",
    "gentle_steps", "hard_efforts", "hour_ride", "group_ride",
    "settle",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question to answer for oneself before any effort."""

    key: str
    asks: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Screening:
    """What is asked before any effort, and the signs at which to stop. Source: common practice; no number protects.

    yes: what a yes leads to. still: what is said while a question is open. limit: how hard is never too hard.
    """

    says: str
    questions: tuple[Question, ...]
    yes: str
    still: str
    limit: str
    stop_signs: tuple[str, ...]
    stop: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """A procedure and what goes with it. effort: one of EFFORTS. keys: constants of the rig file that it bears on."""

    procedure: Procedure
    chapter: str
    effort: str
    keys: tuple[str, ...]

    @property
    def key(self) -> str:
        """Key of the procedure."""
        return self.procedure.key


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One box to write in: number of its step from 0, its value, which reading it belongs to (from 1), which repeat."""

    step: int
    slot: Slot
    mark: int
    turn: int


def guides() -> tuple[Guide, ...]:
    """Every procedure, in the order in which a build meets them."""
    return tuple(_guide(key) for key in ORDER)


def guide(key: str) -> Guide:
    """The procedure of that key; BadRequest with the nearest one for any other text."""
    if key not in ORDER:
        close = difflib.get_close_matches(key, ORDER, n=1, cutoff=0.5)
        hint = f'did you mean "{close[0]}"?' if close else ", ".join(ORDER)
        raise BadRequest(Problem("procedure", f'there is no procedure called "{key}".', hint, key))
    return _guide(key)


@lru_cache(maxsize=1)
def screening() -> Screening:
    """The questions before any effort, and the stop signs."""
    told = _text("screening")
    return Screening(
        says=told["says"],
        questions=tuple(Question(**question) for question in told["question"]),
        yes=told["yes"],
        still=told["open"],
        limit=told["limit"],
        stop_signs=tuple(told["stop_signs"]),
        stop=told["stop"],
    )


def may_ride(answers: Mapping[str, bool] | None, rider: Rider | None = None) -> str:
    """The hardest effort that answers to the questions leave open; "none" until all are answered.

    answers: question key -> True for yes. One yes leaves "gentle", and so does a rider whom the rig file has as unwell or
    not grown up; a no to each leaves "maximal".
    """
    asked = [question.key for question in screening().questions]
    given = answers or {}
    if any(given.get(key) not in (True, False) for key in asked):
        return "none"
    gentle = any(given[key] for key in asked) or (rider is not None and spared(rider))
    return "gentle" if gentle else "maximal"


def why_not(one: Guide, answers: Mapping[str, bool] | None, rider: Rider | None = None) -> str:
    """Why these answers, or who rides, keep a procedure back, in words; "" when it is offered."""
    most = may_ride(answers, rider)
    if EFFORTS.index(one.effort) <= EFFORTS.index(most):
        return ""
    return screening().still if most == "none" else screening().yes


def offered(answers: Mapping[str, bool] | None = None, rider: Rider | None = None) -> tuple[Guide, ...]:
    """The procedures that these answers leave open to this rider, in order."""
    return tuple(one for one in guides() if not why_not(one, answers, rider))


def for_rig(one: Guide, filled: Filled) -> Procedure:
    """The procedure with, at each place for a reading, what this rig should show."""
    likely = expected(filled, one.procedure)
    steps = []
    for step in one.procedure.steps:
        slots = []
        for slot in step.slots:
            low, high = likely.get(slot.what, (slot.low, slot.high))
            slots.append(dataclasses.replace(slot, low=low, high=high))
        steps.append(dataclasses.replace(step, slots=tuple(slots)))
    return dataclasses.replace(one.procedure, steps=tuple(steps))


def places(procedure: Procedure) -> tuple[Place, ...]:
    """Every box of a procedure in order, with the reading that it belongs to.

    A value joins the reading begun before it when that one lacks it (a radius, then a height, then a time); a repeat is
    a reading of its own, except in a series, and except for values that stay and are only read once more.
    """
    found: list[Place] = []
    under: dict[str, tuple[int, set[str]]] = {}
    count = 0
    for number, step in enumerate(procedure.steps):
        for slots in _by_kind(step.slots):
            kind = READINGS[slots[0].what].kind
            stay = {slot.what for slot in slots if READINGS[slot.what].stays}
            together = KINDS[kind].series or len(stay) == len(slots)
            for turn in range(slots[0].repeat):
                asked = {
                    slot.what
                    for slot in slots
                    if turn == 0 or slot.what not in stay or len(stay) == len(slots)
                }
                mark, held = under.get(kind, (0, set()))
                if not mark or (turn == 0 and asked & held) or (turn > 0 and not together):
                    count += 1
                    mark, held = count, set()
                under[kind] = (mark, held | asked)
                found += [
                    Place(step=number, slot=slot, mark=mark, turn=turn)
                    for slot in slots
                    if slot.what in asked
                ]
    return tuple(found)


def _by_kind(slots: tuple[Slot, ...]) -> list[list[Slot]]:
    found: dict[str, list[Slot]] = {}
    for slot in slots:
        found.setdefault(READINGS[slot.what].kind, []).append(slot)
    return list(found.values())


# ---- from the texts ----


def _text(name: str) -> dict[str, Any]:
    place = files("sparewatt.studies.bench") / "procedure_texts" / f"{name}.toml"
    return tomllib.loads(place.read_text(encoding="utf-8"))


@lru_cache(maxsize=len(ORDER))
def _guide(key: str) -> Guide:
    told = _text(key)
    steps = tuple(_step(step) for step in told["step"])
    rides = told["effort"] != "none"
    asked = screening()
    kinds = dict.fromkeys(READINGS[slot.what].kind for step in steps for slot in step.slots)
    made = Procedure(
        key=key,
        title=told["title"],
        why=told["why"],
        minutes=float(told["minutes"]),
        needs=tuple(told["needs"]),
        fixes=tuple(told["fixes"]),
        steps=steps,
        readings=tuple(kinds),
        cautions=(*told["cautions"], *((asked.limit,) if rides and told["effort"] != "maximal" else ())),
        screens=tuple(question.asks for question in asked.questions) if rides else (),
        stop_signs=(*asked.stop_signs, asked.stop) if rides else (),
        typical=told["typical"],
        sources=tuple(told.get("sources", ())),
    )
    return Guide(
        procedure=made,
        chapter=told["chapter"],
        effort=told["effort"],
        keys=tuple(told.get("keys", ())),
    )


def _step(told: Mapping[str, Any]) -> Step:
    """One step; `reads` names single values ("falling_weight.mass") or a whole kind ("open_volts")."""
    slots = []
    for name in told.get("reads", ()):
        kind, _, what = name.partition(".")
        for value in (KINDS[kind][what],) if what else KINDS[kind].values:
            slots.append(
                Slot(
                    what=value.key,
                    says=value.says,
                    unit=value.units[0],
                    low=value.low,
                    high=value.high,
                    needed=value.needed or bool(what),
                    repeat=int(told.get("repeat", 1)),
                )
            )
    return Step(says=told["says"], slots=tuple(slots), caution=told.get("caution", ""))
