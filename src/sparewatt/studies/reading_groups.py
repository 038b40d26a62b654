"""Lines of the readings file put together again into the readings they were: volts with the speed they were read at."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median

from sparewatt.studies.answers_bench import Entry
from sparewatt.studies.reading_kinds import KINDS, Kind

__all__ = ["Taken", "taken"]

NAN = math.nan


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One reading. values: the middle of each value's repeats; rows: in a series, one mapping for each moment.

    missing: values that the kind needs and nobody read. entries: every line of it, those not used as well.
    """

    kind: str
    at: str
    part: str
    values: Mapping[str, float]
    rows: tuple[Mapping[str, float], ...]
    missing: tuple[str, ...]
    entries: tuple[Entry, ...]

    @property
    def lines(self) -> tuple[int, ...]:
        """Where it stands in the readings file."""
        return tuple(entry.line for entry in self.entries)


def taken(entries: Iterable[Entry]) -> tuple[Taken, ...]:
    """The readings in the order in which their first lines stand; lines of a kind that is not known are passed over."""
    groups: dict[tuple[str, str, str], list[Entry]] = {}
    for entry in entries:
        if entry.procedure in KINDS:
            groups.setdefault((entry.procedure, entry.part, entry.at), []).append(entry)
    kept: dict[tuple[str, str], dict[str, float]] = {}
    found = []
    for (key, part, at), lines in groups.items():
        kind = KINDS[key]
        stay = kept.setdefault((key, part), {})
        values = _middles(lines)
        stay.update({what: values[what] for what in values if what in kind.whats and kind[what].stays})
        values = {**stay, **values}
        found.append(
            Taken(
                kind=key,
                at=at,
                part=part,
                values=values,
                rows=_moments(kind, lines) if kind.series else (),
                missing=_missing(kind, values),
                entries=tuple(lines),
            )
        )
    return tuple(found)


def _middles(lines: list[Entry]) -> dict[str, float]:
    """Each value once: the middle of what was read and is used."""
    read: dict[str, list[float]] = {}
    for line in lines:
        if line.used:
            read.setdefault(line.what, []).append(line.value)
    return {what: median(values) for what, values in read.items()}


def _moments(kind: Kind, lines: list[Entry]) -> tuple[Mapping[str, float], ...]:
    """First time with first volts, second with second; a moment of which one line is not used falls out whole."""
    columns = {
        what: column
        for what in kind.whats
        if (column := [line for line in lines if line.what == what]) and not kind[what].stays
    }
    longest = max((len(column) for column in columns.values()), default=0)
    columns = {what: column for what, column in columns.items() if len(column) > 1 or longest == 1}
    shortest = min((len(column) for column in columns.values()), default=0)
    moments = [{what: column[n] for what, column in columns.items()} for n in range(shortest)]
    return tuple(
        {what: line.value for what, line in moment.items()}
        for moment in moments
        if all(line.used for line in moment.values())
    )


def _missing(kind: Kind, values: Mapping[str, float]) -> tuple[str, ...]:
    needed = [value.what for value in kind.values if value.needed and value.what not in values]
    if kind.either and not any(what in values for what in kind.either):
        needed.append(" or ".join(kind.either))
    return tuple(needed)
