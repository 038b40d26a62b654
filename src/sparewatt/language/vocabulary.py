"""The words that people may use, from `vocabulary.toml`: one place for the sentence, the scene and the moment of a ride."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

__all__ = ["ARTICLES", "MachineWord", "OtherWord", "Person", "Thing", "Vocabulary", "vocabulary"]

Rows = tuple[tuple[str, str], ...]
ARTICLES = frozenset({"the", "a", "an"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """One sort of thing to run. words: regular expression of its names; the rest as the rig file takes it.

    volts: 0 for whatever the mains is where you are. extra: more lines of its table, as TOML. stores: it is charged, so
    two of them are two uses, not twice the watts.
    """

    name: str
    words: str
    kind: str
    watts: float
    volts: float
    hours: float
    uses: float = 1.0
    energy: str = ""
    extra: Rows = ()
    stores: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineWord:
    """One sort of motor people find. plate: the usual label, used when the sentence gives none."""

    name: str
    words: str
    kind: str
    plate: Rows = ()
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherWord:
    """A word for what is no thing to run and no machine: a battery, a board, a roller, a place."""

    kind: str
    words: str
    key: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who may ride: what the rider is called, and a usual age."""

    words: str
    name: str
    age: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneWords:
    """What a scene is read with. quiet: passed over; forms: a word -> what it stands for; phrases, leads: kind and way."""

    quiet: frozenset[str]
    forms: dict[str, str]
    phrases: Rows
    leads: Rows
    rider: frozenset[str]
    reserved: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Vocabulary:
    """Every word that means something. links, verbs, others: words that are no names; spelled: numbers in words.

    moment: what is read of a ride -> what people call it; feels: how it goes -> what people say.
    """

    things: tuple[Thing, ...]
    machines: tuple[MachineWord, ...]
    others: tuple[OtherWord, ...]
    illness: re.Pattern[str]
    ages: tuple[tuple[str, float], ...]
    fitness: Rows
    people: tuple[Person, ...]
    spelled: dict[str, int]
    ordinals: dict[str, int]
    counts: dict[str, int]
    units: Rows
    start_units: frozenset[str]
    scene: SceneWords
    moment: dict[str, tuple[str, ...]]
    feels: dict[str, tuple[str, ...]]
    links: frozenset[str]
    not_names: frozenset[str]
    quiet: frozenset[str]

    def machine(self, name: str) -> MachineWord:
        """The machine of that name."""
        return next(m for m in self.machines if m.name == name)


@cache
def vocabulary() -> Vocabulary:
    """The words, read once."""
    data = tomllib.loads(
        resources.files("sparewatt.language").joinpath("vocabulary.toml").read_text(encoding="utf-8")
    )
    spelled = _spelled(data["numbers"]["ones"].split(), data["numbers"]["tens"].split())
    links, verbs, others = (frozenset(data["quiet"][name].split()) for name in ("links", "verbs", "others"))
    return Vocabulary(
        things=tuple(Thing(**{**row, "extra": tuple(row.get("extra", {}).items())}) for row in data["thing"]),
        machines=tuple(
            MachineWord(**{**row, "plate": tuple(row.get("plate", {}).items())}) for row in data["machine"]
        ),
        others=tuple(OtherWord(**row) for row in data["other"]),
        illness=re.compile(
            rf"(?<!\bno )(?<!\bnot )(?<!\bnever )(?<!\bwithout )\b(?:{'|'.join(data['illness']['words'])})(?![a-z])"
        ),
        ages=tuple((row["words"], row["years"]) for row in data["age"]),
        fitness=tuple((row["words"], row["means"]) for row in data["fitness"]),
        people=tuple(Person(**row) for row in data["person"]),
        spelled=spelled,
        ordinals={word: n for n, word in enumerate(data["numbers"]["ordinals"].split(), 1)},
        counts=spelled | data["numbers"]["counts"],
        units=tuple(data["units"].items()),
        start_units=frozenset(data["numbers"]["units"].split()),
        scene=_scene(data["scene"]),
        moment={what: tuple(said.split(", ")) for what, said in data["moment"]["names"].items()},
        feels={feel: tuple(said.split(", ")) for feel, said in data["moment"]["feels"].items()},
        links=links,
        not_names=links | verbs,
        quiet=links | verbs | others,
    )


def _spelled(ones: list[str], tens: list[str]) -> dict[str, int]:
    """one to ninety-nine."""
    found = {word: n for n, word in enumerate(ones, 1)} | {word: 10 * n for n, word in enumerate(tens, 2)}
    return found | {f"{ten}-{one}": found[ten] + found[one] for ten in tens for one in ones[:9]}


def _scene(data: dict[str, Any]) -> SceneWords:
    def rows(text: str) -> Rows:
        for name, ways in data["choices"].items():
            text = text.replace(f"{{{name}}}", ways)
        kept = (line for line in text.splitlines() if line and not line.startswith("#"))
        return tuple((kind, way) for kind, way in (line.split(": ") for line in kept))

    forms = rows(data["forms"])
    return SceneWords(
        quiet=ARTICLES | set(data["quiet"].split()),
        forms={form: base for base, others in forms for form in others.split()},
        phrases=rows(data["phrases"]),
        leads=rows(data["leads"]),
        rider=frozenset(data["rider"].split()),
        reserved=frozenset(data["reserved"].split()),
    )
