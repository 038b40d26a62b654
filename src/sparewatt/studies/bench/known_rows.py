"""Readings of one kind as a table, and the batches that tables become."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.bench.known_rig import Bench
from sparewatt.studies.bench.known_taken import Taken
from sparewatt.studies.fit.fitting import Batch, Gain, Model, Unknown

__all__ = ["Made", "P", "Rows"]

F = NDArray[np.float64]
P = Mapping[str, F]
FELT = 5.0  # K, how far off a temperature by the hand or a cheap thermometer is


@dataclass(slots=True)
class Rows:
    """Readings of one kind as a table with a line for each time a series was read. Missing values are NaN."""

    bench: Bench
    taken: Sequence[Taken]
    single: bool = False  # one line for a whole series
    index: NDArray[np.int64] = field(init=False)

    def __post_init__(self) -> None:
        each = np.arange(len(self.taken))
        self.index = each if self.single else np.repeat(each, [t.size for t in self.taken])

    def only(self, *whats: str) -> Rows:
        """The readings that have all these values."""
        return Rows(self.bench, [t for t in self.taken if all(w in t.values for w in whats)])

    def value(self, what: str) -> F:
        """One column."""
        return _joined([_wide(t, what, "value") for t in self.taken])

    def sd(self, what: str) -> F:
        """The scatter of one column."""
        return _joined([_wide(t, what, "sd") for t in self.taken])

    def gain(self, what: str) -> tuple[str, ...]:
        """Whose gain each line of a column carries."""
        names = [t.values[what].gain if what in t.values else "" for t in self.taken]
        return tuple(names[k] for k in self.index)

    def tape(self, what: str) -> tuple[str, ...]:
        """The same for a size that was taped or weighed once: its whole spread is one gain for each value written."""
        return tuple(f"{what} {v:.6g}" for v in self.value(what))

    def has(self, what: str) -> NDArray[np.bool_]:
        """Lines whose reading has this value."""
        return np.array([what in self.taken[k].values for k in self.index], dtype=bool)

    def temperature(self) -> tuple[F, F]:
        """(temperature, 1 where one is written): 0 where none is."""
        t = np.array([self.taken[k].temperature for k in self.index], dtype=np.float64)
        warm = self.value("machine_heat")
        t = np.where(np.isfinite(warm), warm, t)
        told = np.isfinite(t)
        return np.where(told, t, 0.0), told.astype(np.float64)

    @property
    def keys(self) -> tuple[str, ...]:
        """Name of each line."""
        counted: dict[int, int] = {}
        names = []
        for k in map(int, self.index):
            counted[k] = counted.get(k, 0) + 1
            many = self.taken[k].size > 1 and not self.single
            names.append(self.taken[k].key + (f" #{counted[k]}" if many else ""))
        return tuple(names)

    @property
    def used(self) -> NDArray[np.bool_]:
        """Lines of readings that the reader counts in."""
        return np.array([self.taken[k].used for k in self.index], dtype=bool)


def _wide(t: Taken, what: str, column: str) -> F:
    if what not in t.values:
        return np.full(t.size, np.nan)
    v: F = getattr(t.values[what], column)
    return np.broadcast_to(v, (t.size,))


def _joined(columns: list[F]) -> F:
    return np.concatenate(columns) if columns else np.empty(0)


@dataclass(slots=True)
class Made:
    """Batches of one or more kinds, with the names of the constants they touch and what else they bring along."""

    batches: list[Batch] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    rows: list[Rows] = field(default_factory=list)
    touches: list[tuple[str, ...]] = field(default_factory=list)  # constants in each batch's equation
    shows: list[tuple[str, str]] = field(default_factory=list)  # (value answered for, value it hangs on)
    names: dict[str, None] = field(default_factory=dict)
    own: list[Unknown] = field(default_factory=list)
    gains: dict[str, Gain] = field(default_factory=dict)

    def put(
        self,
        kind: str,
        rows: Rows,
        model: Model,
        y: str | tuple[F, F, Sequence[str]],
        x: Sequence[str | tuple[F, F]],
        names: Sequence[str],
        *,
        tapes: Sequence[str] = (),
        warm: bool = False,
        tag: str = "",
        shows: str = "",
    ) -> None:
        """Take in one batch: y and x by the names of values, or as (values, spread[, gains]).

        shows: name of y where it is given as numbers. tapes: sizes read once, whose whole spread is shared; they come
        after x. warm: temperature columns come last.
        """
        n = rows.index.size
        none = ("",) * n
        seen = (rows.value(y), rows.sd(y), rows.gain(y)) if isinstance(y, str) else y
        columns: list[F] = []
        spreads: list[F] = []
        gains: list[Sequence[str]] = []
        for one in x:
            column, spread, gain = (
                (rows.value(one), rows.sd(one), rows.gain(one)) if isinstance(one, str) else (*one, none)
            )
            columns.append(column)
            spreads.append(spread)
            gains.append(gain)
        for size in tapes:
            columns.append(rows.value(size))
            spreads.append(np.zeros(n))
            gains.append(rows.tape(size))
        if warm:
            t, told = rows.temperature()
            columns += [t, told]
            spreads += [FELT * told, np.zeros(n)]
            gains += [none, none]
        self._note(rows, [w for w in (y, *x) if isinstance(w, str)], tapes)
        self.kinds.append(kind)
        self.rows.append(rows)
        self.touches.append(tuple(names))
        self.shows.append(
            (y if isinstance(y, str) else shows, next((w for w in x if isinstance(w, str)), ""))
        )
        self.names.update(dict.fromkeys((*names, "room") if warm else names))
        keys = tuple(f"{key}{tag}" for key in rows.keys)
        self.batches.append(
            Batch(
                model=model, y=seen[0], sd=seen[1], gain=tuple(seen[2]), x=tuple(columns), x_sd=tuple(spreads),
                x_gain=tuple(gains), keys=keys, used=rows.used, name=kind,
            )
        )  # fmt: skip

    def put_gain(self, rows: Rows, what: str) -> None:
        """Take in the gains of a column that goes into a batch as bare numbers."""
        self._note(rows, [what], ())

    def _note(self, rows: Rows, whats: Sequence[str], tapes: Sequence[str]) -> None:
        for t in rows.taken:
            for what in whats:
                v = t.values.get(what)
                if v is not None and v.gain:
                    self.gains.setdefault(v.gain, Gain(name=v.gain, sd=v.gain_sd))
        for what in tapes:
            shared = rows.taken[0].values[what].gain_sd
            for name, v, sd in zip(rows.tape(what), rows.value(what), rows.sd(what), strict=True):
                self.gains.setdefault(name, Gain(name=name, sd=max(math.hypot(sd / v, shared), 1e-4)))
