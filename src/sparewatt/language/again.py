"""Bouts that come again and again: "at 0 s hold an even 225 W; at 25 s hold an even 40 W; again every 85 s; for 1 h"."""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Sequence
from typing import Protocol, TypeVar

from sparewatt.errors import Problem
from sparewatt.language.plan import Place
from sparewatt.quantities import BadText, parse

__all__ = ["again_every", "repeated", "without_again"]

MOST_STEPS = 600  # in one scene
ROUNDS = 3  # times a block must come before it is told as one
_AGAIN = re.compile(
    r"(?P<open>^|[;\n.])\s*(?P<all>(?:and\s+|then\s+)*(?:all\s+(?:of\s+)?(?:it|this|that)\s+)?"
    r"(?:(?:again|over)(?:\s+and\s+(?:again|over))?|(?:and\s+)?so\s+on|repeat(?:ed|s|ing)?(?:\s+(?:it|this|that|all))?),?"
    r"\s+every\s+(?P<span>[^;\n,]+?))\s*(?=$|[;\n,]|\.\s|\.$)",
    re.IGNORECASE,
)


class Timed(Protocol):
    """Anything that happens at a moment."""

    @property
    def at(self) -> float:
        """When (s)."""
        ...


T = TypeVar("T", bound="Timed")


def without_again(text: str) -> tuple[str, float | None, list[Problem]]:
    """The text with "again every 85 s" blanked out (letters keep their places), the seconds, and what is wrong with it."""
    found = list(_AGAIN.finditer(text))
    if not found:
        return text, None, []
    problems: list[Problem] = []
    every: float | None = None
    for one in found:
        first, end = one.span("all")
        text = text[:first] + " " * (end - first) + text[end:]
        where = Place.letters(first, end)
        if every is not None:
            hint = "tell everything that comes again before one of it"
            problems.append(where.problem("this is said twice.", hint, one["all"]))
            continue
        try:
            every = float(parse(one["span"], "s").value)
        except BadText as bad:
            problems.append(
                where.problem(bad.problem, bad.hint or 'for example "again every 85 s"', one["all"])
            )
            continue
        if not (math.isfinite(every) and every > 0):
            problems.append(where.problem("nothing comes again so soon.", '"again every 85 s"', one["all"]))
            every = None
    return text, every, problems


def repeated(steps: Sequence[T], every: float | None, lasts: float | None) -> tuple[list[T], list[Problem]]:
    """The steps, all of them again after so many seconds, and again, until the scene ends."""
    known = [s for s in steps if math.isfinite(s.at)]
    if every is None or not known:
        why = "there is no step that could come again."
        return list(steps), [] if every is None else [Problem("words", why, '"at 5 s hold an even 200 W"')]
    if lasts is None:
        hint = 'say how long it lasts: "for 1 h"'
        return list(steps), [Problem("words", "this comes again and again without an end.", hint)]
    first, last = min(s.at for s in known), max(s.at for s in known)
    if last - first >= every:
        hint = f"let it come again after more than {last - first:g} s"
        return list(steps), [Problem("words", "it comes again before it is through.", hint)]
    rounds = math.ceil(max(lasts - first, 0.0) / every)
    if rounds * len(steps) > MOST_STEPS:
        hint = f"{MOST_STEPS} steps are the most: a shorter ride, or a longer time from one to the next"
        return list(steps), [Problem("words", "these are too many steps.", hint)]
    more = [
        dataclasses.replace(s, at=s.at + k * every)  # type: ignore[type-var]
        for k in range(1, rounds + 1)
        for s in known
        if s.at + k * every < lasts
    ]
    return [*steps, *more], []


def again_every(steps: Sequence[tuple[float, object]], lasts: float) -> tuple[int, float]:
    """How many steps (when, and what happens) come again and again to the end, and how often; (0, 0.0) where none do."""
    times, does = [at for at, _ in steps], [what for _, what in steps]
    for size in range(1, len(steps) // ROUNDS + 1):
        every = times[size] - times[0]
        if not every > times[size - 1] - times[0]:
            continue
        rounds = math.ceil(max(lasts - times[0], 0.0) / every)
        if (rounds - 1) * size > len(steps):
            continue
        told = times[:size]
        told += [
            at + k * every for k in range(1, rounds + 1) for at in times[:size] if at + k * every < lasts
        ]
        if told == times and all(does[k] == does[k - size] for k in range(size, len(does))):
            return size, every
    return 0, 0.0
