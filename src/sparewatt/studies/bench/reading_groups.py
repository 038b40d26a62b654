"""Lines of the readings file made ready to be put together: what stays is taken over, what lost its partner steps aside.

How far a weight falls is measured once and holds for later falls too. In a run-down the first time goes with the first
volts: when one of the two is set aside, its partner must not slip into the place of the next.
"""

from __future__ import annotations

import dataclasses
from collections import Counter
from collections.abc import Iterable

from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.reading_kinds import KINDS, Kind

__all__ = ["settled", "uneven"]


def settled(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """The same lines, each reading whole: values that stay are copied into readings that leave them out, and in a series
    every moment with a line that is not used is not used at all. Lines of a kind that is not known pass as they are."""
    entries = tuple(entries)
    groups: dict[tuple[str, str, str], list[int]] = {}
    for place, entry in enumerate(entries):
        groups.setdefault((entry.procedure, entry.part, entry.at), []).append(place)
    changed = dict(enumerate(entries))
    behind: dict[int, list[Entry]] = {}
    kept: dict[tuple[str, str], dict[str, Entry]] = {}
    for (key, part, at), places in groups.items():
        kind = KINDS.get(key)
        if kind is None or not at:
            continue
        lines = [entries[place] for place in places]
        if kind.series:
            lost = _lost(kind, lines)
            changed |= {
                place: dataclasses.replace(changed[place], used=False)
                for n, place in enumerate(places)
                if n in lost
            }
        stay = kept.setdefault((key, part), {})
        there = {line.what for line in lines}
        behind[places[-1]] = [dataclasses.replace(e, at=at) for what, e in stay.items() if what not in there]
        stay.update({e.what: e for e in lines if e.used and e.what in kind.whats and kind[e.what].stays})
    return tuple(e for place in range(len(entries)) for e in (changed[place], *behind.get(place, ())))


def uneven(kind: Kind, entries: Iterable[Entry]) -> str:
    """Why the moments of a series do not come out even: a time without its volts; "" when they do.

    A value read once goes with all the others, but not where times are given, nor a time with several others.
    """
    lines = [line for line in entries if line.what in kind.moments] if kind.series else []
    counts = Counter(line.what for line in lines)
    most = max(counts.values(), default=0)
    if all(count == most or (count == 1 and "time" not in counts) for count in counts.values()):
        return ""
    told = " and ".join(f"'{what}' {count}" for what, count in counts.items())
    return f"each moment needs all of its values, and there are {told} of them{_alone(counts, lines)}"


def _alone(counts: Counter[str], lines: list[Entry]) -> str:
    """Which line stands alone, where values that belong together stand together."""
    moments: list[list[Entry]] = []
    for line in lines:
        if not moments or line.what in {lines[0].what, *(other.what for other in moments[-1])}:
            moments.append([])
        moments[-1].append(line)
    short = [moment for moment in moments if len(moment) < len(counts)]
    if not short or len(short) == len(moments) or not short[0][0].line:
        return ""
    lacks = " and ".join(f"'{what}'" for what in counts if what not in {line.what for line in short[0]})
    return f"; by line {short[0][0].line} there is no {lacks}"


def _lost(kind: Kind, lines: list[Entry]) -> set[int]:
    """Places in a series that belong to a moment of which one line is not used."""
    columns: dict[str, list[int]] = {}
    for n, line in enumerate(lines):
        if line.what in kind.moments:
            columns.setdefault(line.what, []).append(n)
    moments = [column for column in columns.values() if len(column) > 1]
    bad = {turn for column in moments for turn, n in enumerate(column) if not lines[n].used}
    return {column[turn] for column in moments for turn in bad if turn < len(column)}
