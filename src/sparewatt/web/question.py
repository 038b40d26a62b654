"""The question a page stands for, read from its address and written back into it: the address is the only state.

Query names are those of the command line: rider, load, gear, effort, cadence, duration, people, and `try` once for each
change tried on the rig without writing it ("key = text"). `units` and `room` say how the page is shown.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from sparewatt.errors import BadRequest, Problem

__all__ = ["DRAG_DRAWS", "FULL_DRAWS", "TEXT_LIMIT", "TRY_LIMIT", "TRY_TEXT", "Question"]

FULL_DRAWS = 1024
DRAG_DRAWS = 128  # while a slider moves; the full spread follows when it is let go
TEXT_LIMIT = 200
TRY_TEXT = 1500  # a change may add a part of several lines
TRY_LIMIT = 12
_SPACES = dict.fromkeys(map(ord, "\u00a0\u2009\u202f"), " ")  # what a shown number has before its unit
_BARE = re.compile(r"\s*[+-]?(\d+([.,]\d*)?|[.,]\d+)\s*")
_UNITS = {"effort": "W", "cadence": "rpm", "duration": "min"}  # what a bare number in a box of the page means
UNITS = ("metric", "inch")
ROOMS = ("auto", "light", "dark")


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What is asked; None where the rig file's own usual question, or the best of all, stands in."""

    rider: str | None = None
    load: str | None = None
    gear: str | None = None
    effort: str | None = None
    cadence: str | None = None
    duration: str | None = None
    people: int | None = None
    tries: tuple[tuple[str, str], ...] = ()
    units: str = "metric"
    room: str = "auto"

    @staticmethod
    def read(pairs: Iterable[tuple[str, str]]) -> Question:
        """From query pairs. Unknown names are left out, so that an old bookmark still opens; bad values are named."""
        problems: list[Problem] = []
        given: dict[str, Any] = {}
        tries: list[tuple[str, str]] = []
        key = ""
        for name, value in pairs:
            value = value.translate(_SPACES).strip()
            limit = TRY_TEXT if name in ("try", "value") else TEXT_LIMIT
            if len(value) > limit or not value.replace("\n", " ").isprintable():
                problems.append(
                    Problem(
                        name[:40],
                        f"this is more than {limit} letters, or letters that cannot be shown",
                        "fewer",
                        value[:40],
                    )
                )
            elif name in ("rider", "load", "gear", "effort", "cadence", "duration") and value:
                given[name] = (
                    f"{value} {_UNITS[name]}" if name in _UNITS and _BARE.fullmatch(value) else value
                )
            elif name == "people" and value:
                given[name] = _people(value, problems)
            elif name == "units":
                given[name] = _one_of(name, value, UNITS, problems)
            elif name == "room":
                given[name] = _one_of(name, value, ROOMS, problems)
            elif name == "try" and value:
                tries.append(_try(value, problems))
            elif name == "key":
                key = value
            elif name == "value" and key and value:  # the two boxes of "change a part"
                tries.append((key, value))
        if len(tries) > TRY_LIMIT:
            problems.append(
                Problem(
                    "try",
                    f"{len(tries)} changes at once",
                    f"keep some first; {TRY_LIMIT} can be tried together",
                )
            )
        if problems:
            raise BadRequest(*problems)
        return Question(**given, tries=tuple(dict(tries).items()))

    def pairs(self) -> list[tuple[str, str]]:
        """The query pairs of this question, plain defaults left out."""
        asked = [
            (n, getattr(self, n))
            for n in ("rider", "load", "gear", "effort", "cadence", "duration", "people")
        ]
        found = [(n, str(v)) for n, v in asked if v is not None]
        found += [("try", f"{k} = {v}") for k, v in self.tries]
        found += [("units", self.units)] if self.units != "metric" else []
        return found + ([("room", self.room)] if self.room != "auto" else [])

    def link(self, path: str, **changes: Any) -> str:
        """The address of `path` with this question, changed as asked."""
        query = urlencode(dataclasses.replace(self, **changes).pairs())
        return f"{path}?{query}" if query else path

    def shown(self, path: str) -> str:
        """The address of another page that keeps only how pages are shown."""
        return Question(units=self.units, room=self.room).link(path)

    def with_try(self, edits: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
        """The tried changes with these on top."""
        return tuple({**dict(self.tries), **dict(edits)}.items())

    def without_try(self, key: str) -> tuple[tuple[str, str], ...]:
        """The tried changes less one."""
        return tuple(pair for pair in self.tries if pair[0] != key)

    def asked(self, *names: str) -> dict[str, Any]:
        """Keyword arguments for a task."""
        return {name: getattr(self, name) for name in names}


def _one_of(name: str, value: str, words: tuple[str, ...], problems: list[Problem]) -> str:
    if value in words:
        return value
    problems.append(Problem(name, f"{value!r} is not one of the choices", " or ".join(words), value))
    return words[0]


def _people(value: str, problems: list[Problem]) -> int:
    if value.isascii() and value.isdigit() and 1 <= int(value) <= 1000:
        return int(value)
    problems.append(
        Problem("people", f"{value!r} is not a number of people", "a whole number from 1 to 1000", value)
    )
    return 1


def _try(value: str, problems: list[Problem]) -> tuple[str, str]:
    key, sign, text = value.partition("=")
    if not sign or not key.strip() or not text.strip():
        problems.append(
            Problem("try", "a change is written key = value", "stage.1.driven_diameter = 57 mm", value)
        )
    return key.strip(), text.strip()
