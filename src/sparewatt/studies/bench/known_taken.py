"""Lines of the readings file put together: what was read at one time, each value with its spread and its meter's gain.

Lines of one kind under one mark belong together; without a mark a new reading begins when a value comes again. A value
that stands several times in one reading was repeated and the middle counts, its spread divided by the root of how many.
The digits of a meter are taken as limits (JCGM 100, 4.3.7), its percentage as one gain that all its readings share.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.reading_groups import uneven
from sparewatt.studies.bench.reading_kinds import KINDS, Kind, Reading, speed_of
from sparewatt.studies.bench.reading_meters import last_digit, meter_for

__all__ = ["Taken", "Unusable", "Value", "kind_of", "taken_of", "value_of"]

F = NDArray[np.float64]
EACH_METER = ("same_battery",)  # kinds where every meter's reading stands alone
ABOVE_ZERO = (
    "mass", "height", "string_radius", "fall_time", "arm", "disc_mass", "disc_diameter", "held_for", "crank_turns",
    "machine_turns", "cadence", "volts_in", "volts_out",
)  # fmt: skip
OWN_SHARE = ("rad/s", "s", "m")  # units whose percentage differs from reading to reading


@dataclass(frozen=True, slots=True, kw_only=True)
class Value:
    """One value of a reading, or all of a series. sd: its own scatter. gain: name of what its readings share, "" none."""

    value: F
    sd: F
    gain: str = ""
    gain_sd: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One reading: the values that were read together. entries: the lines it is made of."""

    kind: str
    at: str
    values: dict[str, Value]
    entries: tuple[Entry, ...] = ()
    part: str = ""
    used: bool = True
    temperature: float = math.nan
    number: int = 0  # counted within its kind

    @property
    def key(self) -> str:
        """Name of the reading: its kind and its mark."""
        return f"{self.kind} {self.at or self.number}"

    @property
    def size(self) -> int:
        """How many times the values were read along the series."""
        return max((v.value.size for v in self.values.values()), default=0)

    @property
    def lines(self) -> tuple[int, ...]:
        """Where its values stand in the readings file."""
        return tuple(e.line for e in self.entries if e.line)

    def __contains__(self, what: str) -> bool:
        return what in self.values


@dataclass(frozen=True, slots=True, kw_only=True)
class Unusable:
    """A reading that cannot be used as it stands, and why."""

    kind: str
    at: str
    why: str
    lines: tuple[int, ...]


@dataclass(slots=True)
class _Group:
    kind: Kind
    at: str
    part: str
    entries: list[Entry] = field(default_factory=list)


def kind_of(entry: Entry) -> tuple[str, str]:
    """(kind, what) of an entry; what may be written in full ("open_volts.volts")."""
    kind, dot, what = entry.what.partition(".")
    return (kind, what) if dot else (entry.procedure, entry.what)


def taken_of(entries: Iterable[Entry]) -> tuple[tuple[Taken, ...], tuple[Unusable, ...]]:
    """The readings that entries make up, in order, and those that lack something."""
    taken: list[Taken] = []
    unusable: list[Unusable] = []
    count: dict[str, int] = {}
    for group in _groups(entries, unusable):
        key = group.kind.key
        count[key] = count.get(key, 0) + 1
        made = _made(group, count[key])
        if isinstance(made, Taken):
            taken.append(made)
        else:
            unusable.append(made)
    return tuple(taken), tuple(unusable)


def _groups(entries: Iterable[Entry], unusable: list[Unusable]) -> list[_Group]:
    groups: list[_Group] = []
    marked: dict[tuple[str, str, str], _Group] = {}
    running: dict[tuple[str, str], _Group] = {}
    for entry in entries:
        key, what = kind_of(entry)
        kind = KINDS.get(key)
        if kind is None or what not in kind.whats:
            why = "there is no kind of reading of that name" if kind is None else f"it has no value '{what}'"
            unusable.append(Unusable(kind=key, at=entry.at, why=why, lines=(entry.line,)))
            continue
        entry = dataclasses.replace(entry, procedure=key, what=what)
        place = (key, entry.at, f"{entry.part} {entry.meter}" if key in EACH_METER else entry.part)
        group = marked.get(place) if entry.at else running.get((key, place[2]))
        seen = {e.what for e in group.entries} if group else set()
        if group is None or (not entry.at and not kind.series and what in seen):
            group = _Group(kind, entry.at, entry.part)
            groups.append(group)
            if entry.at:
                marked[place] = group
            else:
                running[(key, place[2])] = group
        group.entries.append(entry)
    return groups


def _made(group: _Group, number: int) -> Taken | Unusable:
    by_what: dict[str, list[Entry]] = {}
    for entry in group.entries:
        by_what.setdefault(entry.what, []).append(entry)
    kept = {what: [e for e in found if e.used] for what, found in by_what.items()}
    used = all(kept.values())
    chosen = kept if used else by_what
    values = {what: _value(group.kind, group.kind[what], found) for what, found in chosen.items()}
    values = _with_speed(values)
    lines = tuple(e.line for e in group.entries if e.line)
    odd = uneven(group.kind, group.entries)
    if odd:
        return Unusable(kind=group.kind.key, at=group.at, why=odd, lines=lines)
    lacks = [v.says for v in group.kind.values if v.needed and v.what not in values]
    if group.kind.either and not any(w in values for w in group.kind.either):
        lacks.append(group.kind[group.kind.either[0]].says)
    if lacks:
        return Unusable(kind=group.kind.key, at=group.at, why=f"it lacks: {'; '.join(lacks)}", lines=lines)
    flat = [
        group.kind[w].says
        for w, v in values.items()
        if w in ABOVE_ZERO and w in group.kind.whats and not (v.value > 0).all()
    ]
    if flat:
        return Unusable(
            kind=group.kind.key, at=group.at, why=f"this must be above zero: {'; '.join(flat)}", lines=lines
        )
    temperatures = [e.temperature for e in group.entries if math.isfinite(e.temperature)]
    return Taken(
        kind=group.kind.key, at=group.at, part=group.part, values=values, entries=tuple(group.entries), used=used,
        temperature=float(np.mean(temperatures)) if temperatures else math.nan, number=number,
    )  # fmt: skip


def _value(kind: Kind, reading: Reading, entries: list[Entry]) -> Value:
    each = [value_of(reading, e) for e in entries]
    if len(each) == 1:
        return each[0]
    v = np.concatenate([one.value for one in each])
    sd = np.concatenate([one.sd for one in each])
    first = each[0]
    if kind.series and reading.what in kind.moments:
        return Value(value=v, sd=sd, gain=first.gain, gain_sd=first.gain_sd)
    middle = np.array([float(np.median(v))])
    spread = np.array([float(np.sqrt(np.mean(sd**2) / len(each)))])
    return Value(value=middle, sd=spread, gain=first.gain, gain_sd=first.gain_sd)


def value_of(reading: Reading, entry: Entry) -> Value:
    """One entry as a value with its own scatter and the gain that its meter's readings share."""
    meter = meter_for(reading.unit, entry.meter, reading.meter)
    v = entry.value / meter.mean_factor
    if math.isfinite(entry.sd):
        return Value(value=np.array([v]), sd=np.array([entry.sd]))
    step = last_digit(entry.value, entry.scale, reading.unit) if meter.digits else 0.0
    own = math.hypot(meter.digits * step / math.sqrt(3), step / math.sqrt(12), meter.fixed)
    if not meter.share or (reading.unit in OWN_SHARE and meter.mean_factor == 1.0):
        return Value(value=np.array([v]), sd=np.array([math.hypot(own, meter.share * v)]))
    name = f"{meter.key} {entry.meter.casefold().strip()}".strip()
    return Value(value=np.array([v]), sd=np.array([own]), gain=name, gain_sd=meter.share)


def _with_speed(values: dict[str, Value]) -> dict[str, Value]:
    """Speed from turns counted in a time, where that is how it was read."""
    if "speed" in values or not {"turns", "turn_time"} <= set(values):
        return values
    turns, time = values["turns"], values["turn_time"]
    speed = speed_of({"turns": float(turns.value[0]), "turn_time": float(time.value[0])})
    if not speed > 0:
        return values
    share = math.hypot(float(turns.sd[0] / turns.value[0]), float(time.sd[0] / time.value[0]))
    return {**values, "speed": Value(value=np.array([speed]), sd=np.array([share * speed]))}
