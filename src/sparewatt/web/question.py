"""The question a page stands for, read from its address and written back into it: the address is the only state.

Query names are those of the command line: rider, load, gear, effort, cadence, duration, people, and `try` once for each
change tried on the rig without writing it ("key = text"). `units` and `room` say how the page is shown, and `health` is the
one word that stands for the answers before any effort, so that nobody has to give them twice. The page of a scene
has more: its name in the rig file or its words, how it starts, what the rider holds, and `beside` once for each change of
the design set beside it; no other page's address carries those.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from sparewatt.errors import BadRequest, Problem

__all__ = [
    "DRAG_DRAWS", "FULL_DRAWS", "FULL_RUNS", "HEALTH", "TEXT_LIMIT", "TRY_LIMIT", "TRY_TEXT", "WORDS_LIMIT", "Question",
]  # fmt: skip

FULL_DRAWS = 1024
FULL_RUNS = 200  # of a scene, behind its bands
DRAG_DRAWS = 128  # while a slider moves; the full spread follows when it is let go
TEXT_LIMIT = 200
TRY_TEXT = 1500  # a change may add a part of several lines
TRY_LIMIT = 12
WORDS_LIMIT = 20_000  # more than a script takes: a text a little too long comes back with what to do
SCENE = "/scene"
_ASKED = ("rider", "load", "gear", "effort", "cadence", "duration")
_OF_A_SCENE = ("name", "words", "holds", "start")
_SPACES = dict.fromkeys(map(ord, "\u00a0\u2009\u202f"), " ")  # what a shown number has before its unit
_BARE = re.compile(r"\s*[+-]?(\d+([.,]\d*)?|[.,]\d+)\s*")
_UNITS = {"effort": "W", "cadence": "rpm", "duration": "min"}  # what a bare number in a box of the page means
_LIMITS = {**dict.fromkeys(("try", "value", "beside", "other"), TRY_TEXT), "words": WORDS_LIMIT}
UNITS = ("metric", "inch")
ROOMS = ("auto", "light", "dark")
HEALTH = ("no", "yes")  # every answer before any effort was no; at least one was yes


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
    name: str | None = None
    words: str | None = None  # "" tells of no step at all
    holds: str | None = None
    start: str | None = None
    beside: tuple[tuple[str, str], ...] = ()
    units: str = "metric"
    room: str = "auto"
    health: str = ""  # one word for all answers before any effort: "no" to every one, "yes" to at least one

    @staticmethod
    def read(pairs: Iterable[tuple[str, str]]) -> Question:
        """From query pairs. Unknown names are left out, so that an old bookmark still opens; bad values are named."""
        problems: list[Problem] = []
        given: dict[str, Any] = {}
        changes: dict[str, list[tuple[str, str]]] = {"try": [], "beside": []}
        key = {"value": "", "other": ""}
        for name, value in pairs:
            value = _read(name, value)
            limit = _LIMITS.get(name, TEXT_LIMIT)
            if len(value) > limit or not value.replace("\n", " ").isprintable():
                says = f"this is more than {limit} letters, or letters that cannot be shown"
                problems.append(Problem(name[:40], says, "fewer", value[:40]))
            elif name in (*_ASKED, *_OF_A_SCENE) and (value or name == "words"):
                given[name] = (
                    f"{value} {_UNITS[name]}" if name in _UNITS and _BARE.fullmatch(value) else value
                )
            elif name == "people" and value:
                given[name] = _people(value, problems)
            elif name == "units":
                given[name] = _one_of(name, value, UNITS, problems)
            elif name == "room":
                given[name] = _one_of(name, value, ROOMS, problems)
            elif name == "health":
                given[name] = value if value in HEALTH else ""
            elif name in changes and value:
                changes[name].append(_try(name, value, problems))
            elif name in ("key", "other_key"):
                key["value" if name == "key" else "other"] = value
            elif name in key and key[name] and value:  # the two boxes of "change a part"
                changes["try" if name == "value" else "beside"].append((key[name], value))
        for name, tried in changes.items():
            if len(tried) > TRY_LIMIT:
                hint = f"keep some first; {TRY_LIMIT} can be tried together"
                problems.append(Problem(name, f"{len(tried)} changes at once", hint))
        if problems:
            raise BadRequest(*problems)
        tries, beside = (tuple(dict(changes[name]).items()) for name in ("try", "beside"))
        return Question(**given, tries=tries, beside=beside)

    @staticmethod
    def of_a_scene(pairs: Iterable[tuple[str, str]]) -> Question:
        """The same for a scene, where a bare length counts seconds."""
        return Question.read((k, f"{v} s" if k == "duration" and _BARE.fullmatch(v) else v) for k, v in pairs)

    def pairs(self, path: str = "") -> list[tuple[str, str]]:
        """The query pairs of this question on that page, plain defaults left out."""
        scene = path.startswith(SCENE)
        asked = [(n, getattr(self, n)) for n in (*_ASKED, "people", *(_OF_A_SCENE if scene else ()))]
        found = [(n, str(v)) for n, v in asked if v is not None]
        found += [("try", f"{k} = {v}") for k, v in self.tries]
        found += [("beside", f"{k} = {v}") for k, v in self.beside] if scene else []
        found += [("units", self.units)] if self.units != "metric" else []
        found += [("room", self.room)] if self.room != "auto" else []
        return found + ([("health", self.health)] if self.health else [])

    def link(self, path: str, **changes: Any) -> str:
        """The address of `path` with this question, changed as asked."""
        query = urlencode(dataclasses.replace(self, **changes).pairs(path))
        return f"{path}?{query}" if query else path

    def seconds(self, words: str) -> str:
        """The address of the page that plays these words on the same rig; empty when there are none."""
        shown = Question(words=words, tries=self.tries, units=self.units, room=self.room, health=self.health)
        return shown.link(SCENE) if words else ""

    def shown(self, path: str) -> str:
        """The address of another page that keeps only how pages are shown."""
        return Question(units=self.units, room=self.room, health=self.health).link(path)

    def with_try(self, edits: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
        """The tried changes with these on top."""
        return tuple({**dict(self.tries), **dict(edits)}.items())

    def without_try(self, key: str) -> tuple[tuple[str, str], ...]:
        """The tried changes less one."""
        return tuple(pair for pair in self.tries if pair[0] != key)

    def asked(self, *names: str) -> dict[str, Any]:
        """Keyword arguments for a task."""
        return {name: getattr(self, name) for name in names}


def _read(name: str, value: str) -> str:
    """A value as it was meant. Words stay letter by letter as typed, so that what is said of a letter finds it."""
    plain = value.translate(_SPACES).replace("\r\n", "\n")
    if name != "words":
        return plain.strip()
    return "".join(c if c.isprintable() or c == "\n" else " " for c in plain) if plain.strip() else ""


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


def _try(name: str, value: str, problems: list[Problem]) -> tuple[str, str]:
    key, sign, text = value.partition("=")
    if not sign or not key.strip() or not text.strip():
        problems.append(
            Problem(name, "a change is written key = value", "stage.1.driven_diameter = 57 mm", value)
        )
    return key.strip(), text.strip()
