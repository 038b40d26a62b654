"""The five questions of the sections: load the rig, call the study, say it, gather caveats and sources."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.files import Loaded
from sparewatt.present import words, words_guard, words_loads
from sparewatt.rig.asking import Ask
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.outcome import Caveat
from sparewatt.studies.answers import Change
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import Given, Where, ask_from, load_named, number, open_place, rider_named
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_match import CHANGE, MATCH
from sparewatt.tasks.keys_more import GUARD, HEAP, LOADS, STOP, WORTH
from sparewatt.tasks.proving import with_proved

__all__ = [
    "Changes",
    "answered",
    "first_of",
    "guard",
    "heap",
    "loads",
    "match",
    "match_filled",
    "worth",
    "worth_filled",
]

Changes = Iterable[tuple[str, str]]


def match(
    place: Where,
    *,
    rider: str | None = None,
    load: str | None = None,
    gear: str | None = None,
    effort: Given = None,
    cadence: Given = None,
    duration: Given = None,
    draws: int = 1024,
    changes: Changes = (),
    nearest: bool = True,
) -> Answer:
    """What ratio, volts and settings? nearest=False: without the search for what could be changed."""
    loaded, origin = open_place(place, changes)
    filled = fill(loaded.rig)
    return match_filled(
        filled,
        origin,
        loaded if nearest else None,
        rider=rider,
        load=load,
        gear=gear,
        effort=effort,
        cadence=cadence,
        duration=duration,
        draws=draws,
    )


def match_filled(filled: Filled, origin: str, loaded: Loaded | None, **asked: Any) -> Answer:
    """The same for a rig that is filled already. loaded: the file behind it, on which offers are tried; None: no offers."""
    from sparewatt.studies.match import match as study

    found = study(filled, ask_from(filled.rig, **asked), nearest=loaded is not None)
    found = with_proved(loaded, filled, found) if loaded is not None else found
    return answered(
        "match",
        filled,
        origin,
        found,
        flatten(MATCH, found),
        answer=words.match_answer(found, filled.rig),
        verdict=found.verdict,
        nearest=found.nearest_yes,
        asks=[found.ask],
    )


def worth(place: Where, *, rider: str | None = None, people: int = 1, changes: Changes = ()) -> Answer:
    """Is it worth the legs?"""
    loaded, origin = open_place(place, changes)
    return worth_filled(fill(loaded.rig), origin, loaded, rider=rider, people=people)


def worth_filled(
    filled: Filled, origin: str, loaded: Loaded, *, rider: str | None = None, people: int = 1
) -> Answer:
    """The same for a rig that is filled already."""
    from sparewatt.studies.worth import worth as study

    if not 1 <= people <= 1000:
        raise BadRequest(
            Problem(
                "people",
                "this many people do not share one rig.",
                "a whole number from 1 to 1000",
                str(people),
            )
        )
    found = with_proved(loaded, filled, study(filled, rider_named(filled.rig, rider), people))
    return answered(
        "worth",
        filled,
        origin,
        found,
        flatten(WORTH, found),
        answer=words_loads.worth_answer(found, people),
        verdict=words_loads.worst_verdict([row.verdict for row in found.rows]),
        nearest=[change for row in found.rows for change in row.nearest_yes],
        more=[key for row in found.rows for key in row.sources],
        asks=found.asks,
    )


def loads(
    place: Where,
    *,
    rider: str | None = None,
    load: str | None = None,
    effort: Given = None,
    duration: Given = None,
    changes: Changes = (),
) -> Answer:
    """Will it run, and how long?"""
    from sparewatt.studies.loads import loads as study

    loaded, origin = open_place(place, changes)
    filled = fill(loaded.rig)
    ask = ask_from(filled.rig, rider=rider, load=load, effort=effort, duration=duration)
    only = load_named(filled.rig, load)
    found = study(filled, ask.rider, number("effort", effort), number("duration", duration), only=only)
    found = with_proved(loaded, filled, found)
    return answered(
        "loads",
        filled,
        origin,
        found,
        flatten(LOADS, found),
        answer=words_loads.loads_answer(found),
        verdict=words_loads.worst_verdict([row.verdict for row in found.rows]),
        nearest=[change for row in found.rows for change in row.nearest_yes],
        caveats=[*found.caveats, *(c for row in found.rows for c in row.caveats)],
        more=[key for row in found.rows for key in row.sources],
        asks=found.asks or [ask],
    )


def guard(place: Where, *, load: str | None = None, changes: Changes = ()) -> Answer:
    """What size, what fuse, what can hurt?"""
    from sparewatt.studies.guard.findings import guard as study

    loaded, origin = open_place(place, changes)
    filled = fill(loaded.rig)
    found = study(filled, load_named(filled.rig, load))
    return answered(
        "guard",
        filled,
        origin,
        found,
        flatten(GUARD, found),
        answer=words_guard.guard_answer(found),
        verdict=found.check,
        more=[f.source for f in found.findings] + [s.source for s in found.sizes],
    )


def heap(place: Where, *, load: str | None = None, changes: Changes = ()) -> Answer:
    """What have I got, and is it any good?"""
    from sparewatt.studies.heap import heap as study

    loaded, origin = open_place(place, changes)
    filled = fill(loaded.rig)
    found = study(filled, load_named(filled.rig, load))
    best = found.combinations[0].verdict if found.combinations else "not by legs"
    return answered(
        "heap",
        filled,
        origin,
        found,
        flatten(HEAP, found),
        answer=words_guard.heap_answer(found),
        verdict=best,
        nearest=[found.purchase] if found.purchase else [],
        asks=[ask_from(filled.rig, load=load)],
    )


def answered(
    section: str,
    filled: Filled,
    origin: str,
    found: Any,
    results: dict[str, object],
    *,
    answer: str,
    verdict: str | None,
    nearest: Sequence[Change] = (),
    caveats: Sequence[Caveat] | None = None,
    more: Sequence[str] = (),
    asks: Sequence[Ask] = (),
) -> Answer:
    """The answer object that terminal, JSON, page and paper share."""
    said = _caveats(found.caveats if caveats is None else caveats)
    return Answer(
        section=section,
        answer=answer,
        verdict=verdict,
        results=results,
        nearest_yes=tuple(flatten(CHANGE, change) for change in nearest),
        caveats=tuple(dict.fromkeys(said)),
        sources=tuple(dict.fromkeys(key for key in [*found.sources, *more] if key)),
        study=found,
        rig=filled.rig,
        origin=origin,
        first=first_of(filled, asks),
    )


def first_of(filled: Filled, asks: Sequence[Ask]) -> tuple[dict[str, object], ...]:
    """What must be put right before any of these questions is ridden; `leads` where it is not about some other load."""
    from sparewatt.studies.guard.findings import put_first

    stops = {f.key: f for ask in asks for f in put_first(filled, ask)}
    named = {ask.load for ask in asks}
    return tuple({**flatten(STOP, f), "leads": not f.load or f.load in named} for f in stops.values())


def _caveats(found: Sequence[Caveat]) -> list[str]:
    """As sentences; what the file leaves out is counted, not listed: `check` lists it."""
    own = [c for c in found if c.where != "rig file"]
    left_out = len({c.text for c in found if c.where == "rig file"})
    counted = (
        f"The rig file leaves out {left_out} numbers and typical values stand in for them; check lists them."
    )
    return [words.caveat(c) for c in own] + ([counted.replace("1 numbers", "1 number")] if left_out else [])
