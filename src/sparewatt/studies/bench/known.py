"""The bench: all readings of a rig in one joint fit, what they make known, and what to read next.

Constants start from what the rig file, a nameplate or a typical part says and are narrowed by every reading together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.rig.fill import Filled
from sparewatt.studies.bench.answers import Entry, NextReading
from sparewatt.studies.bench.known_asked import asked_names, delivered
from sparewatt.studies.bench.known_equations import batches_of, why_silent
from sparewatt.studies.bench.known_offers import Offer, offers
from sparewatt.studies.bench.known_rig import Bench, bench_of
from sparewatt.studies.bench.known_rows import Made
from sparewatt.studies.bench.known_taken import Taken, Unusable, taken_of
from sparewatt.studies.bench.procedures import EFFORTS, guide
from sparewatt.studies.bench.reading_groups import settled
from sparewatt.studies.fit.fitting import Fit, fit
from sparewatt.studies.fit.next_reading import answer_of, variance_drop

__all__ = ["Known", "know", "know_taken", "measure_next"]

F = NDArray[np.float64]
Asked = Callable[[Mapping[str, F]], ArrayLike]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A rig, its readings and their joint fit: what `odd`, `known_cards` and `measure_next` work from."""

    bench: Bench
    taken: tuple[Taken, ...]
    unusable: tuple[Unusable, ...]
    made: Made
    fit: Fit
    places: tuple[tuple[int, Taken], ...]  # of each row of the fit: its batch and its reading

    @property
    def now(self) -> dict[str, float]:
        """Value of every constant as known so far: from the readings, else from before."""
        values = {name: u.start for name, u in self.bench.unknowns.items()}
        values.update(
            {n: float(v) for n, v in zip(self.fit.names, self.fit.values, strict=True) if n in values}
        )
        return values


def know(filled: Filled, entries: Iterable[Entry]) -> Known:
    """Fit all readings of a rig together."""
    taken, unusable = taken_of(settled(entries))
    return know_taken(bench_of(filled), taken, unusable)


def know_taken(
    bench: Bench, taken: Iterable[Taken], unusable: tuple[Unusable, ...] = (), *, start: Fit | None = None
) -> Known:
    """The same for readings already put together. start: an earlier fit to begin from."""
    taken = tuple(taken)
    made = batches_of(bench, taken)
    names = list(dict.fromkeys((*made.names, *asked_names(bench))))
    unknowns = [bench.unknowns[name] for name in names] + made.own
    inner = None
    if start is not None:
        held = dict(zip(start.names, start.inner, strict=True))
        every = [u.name for u in unknowns] + list(made.gains)
        if all(name in held for name in every):
            inner = [float(held[name]) for name in every]
    found = fit(made.batches, unknowns, gains=tuple(made.gains.values()), start=inner)
    places = tuple((n, rows.taken[int(k)]) for n, rows in enumerate(made.rows) for k in rows.index)
    return Known(bench=bench, taken=taken, unusable=unusable, made=made, fit=found, places=places)


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def measure_next(
    known: Known, asked: Asked | None = None, *, most: int = 5, hardest: str = "steady"
) -> tuple[NextReading, ...]:
    """What to read next: the pass of a procedure that takes most variance off the asked answer per minute of work.

    asked: a function of the constants; None: watts delivered for 75 W of legs. hardest: no effort beyond this is offered
    (`procedures.may_ride` gives it).
    """
    answer = answer_of(known.fit, asked or delivered(known.bench))
    open_to = [
        o for o in offers(known.bench, known.now)
        if EFFORTS.index(guide(o.procedure).effort) <= EFFORTS.index(hardest) and not why_silent(known.bench, o.kind)
    ]  # fmt: skip
    made = [batches_of(known.bench, o.taken) for o in open_to]
    unknowns = {n: known.bench.unknowns[n] for m in made for n in m.names}
    own = {u.name: u for m in made for u in m.own}
    gains = {g.name: g for m in made for g in m.gains.values()}
    shares = variance_drop(
        known.fit, answer.slope, [m.batches for m in made],
        unknowns=(*unknowns.values(), *own.values()), gains=tuple(gains.values()),
    )  # fmt: skip
    rows = [_next(o, float(s), answer.sd) for o, s in zip(open_to, shares, strict=True)]
    rows.sort(key=lambda r: -r.gain_per_minute)
    return tuple(r for r in rows if r.gain > 0.005)[:most]


def _next(offer: Offer, share: float, sd: float) -> NextReading:
    told = guide(offer.procedure).procedure
    return NextReading(
        what=told.title, procedure=offer.procedure, why="; ".join(told.fixes), gain=share, minutes=told.minutes,
        gain_per_minute=share / told.minutes, sd_now=sd, sd_then=sd * math.sqrt(max(1 - share, 0.0)), at=offer.at,
    )  # fmt: skip
