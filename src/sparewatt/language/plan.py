"""A ride as it is meant, before it is set against a rig: what is said of its start, and what happens when."""

from __future__ import annotations

from dataclasses import dataclass, fields

from sparewatt.errors import Problem

__all__ = ["LIGHT", "Place", "Plan", "Said", "Start"]

LIGHT = 1 / 3  # share of the rated push of light work


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What is said of a ride beside its steps (SI, names as the rig has them); None for what is not."""

    rider: str | None = None
    load: str | None = None
    gear: str | None = None
    effort: float | None = None
    cadence: float | None = None
    duration: float | None = None
    holds: str | None = None
    start: str | None = None
    switched_on: bool | None = None

    def over(self, other: Start) -> Start:
        """This start, with the other one where nothing is said here."""
        mine = {f.name: getattr(self, f.name) for f in fields(self)}
        return Start(**{key: getattr(other, key) if value is None else value for key, value in mine.items()})


@dataclass(frozen=True, slots=True)
class Said:
    """What one step says, names found but not yet set against the scene.

    kind: as in an Act, or "sprint", "ease", "unplug_load", "plug_load", "diode_back". target: a load as the rig calls it
    ("" for the one hooked up), a gear or "+1", or the number of a rig on the bus.
    """

    kind: str
    target: str = ""
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where something was told: in words, and from which letter to which, or in which step (both from 1; else 0)."""

    where: str = ""
    begin: int = 0
    end: int = 0

    @classmethod
    def letters(cls, start: int, end: int) -> Place:
        """A piece of typed words, from 0 and one past."""
        return cls(f"words, letters {start + 1} to {end}", start + 1, end)

    def problem(self, why: str, hint: str, read: str) -> Problem:
        """What is to be put right here."""
        return Problem(self.where, why, hint, read, begin=self.begin, end=self.end)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A ride to be told or played. steps: when (s), and what happens then."""

    start: Start = Start()
    steps: tuple[tuple[float, Said], ...] = ()
