"""The words the start sentence may use, from `vocabulary.toml`: things to run, machines, riders, quiet words."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

__all__ = ["MachineWord", "OtherWord", "Person", "Thing", "Vocabulary", "vocabulary"]

Rows = tuple[tuple[str, str], ...]


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
class Vocabulary:
    """Everything the start sentence is read with. links, verbs, others: words that are no names."""

    things: tuple[Thing, ...]
    machines: tuple[MachineWord, ...]
    others: tuple[OtherWord, ...]
    illness: re.Pattern[str]
    ages: tuple[tuple[str, float], ...]
    fitness: Rows
    people: tuple[Person, ...]
    numbers: dict[str, int]
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
        numbers=data["numbers"],
        links=links,
        not_names=links | verbs,
        quiet=links | verbs | others,
    )
