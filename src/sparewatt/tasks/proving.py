"""Every offer is made again the way a person would make it: its edits on the rig file, its question asked anew."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import TypeVar

from sparewatt.errors import SparewattError
from sparewatt.files import Loaded, tried
from sparewatt.rig.asking import Ask
from sparewatt.rig.fill import Filled, fill
from sparewatt.studies.answers import Change, LoadsAnswer, MatchAnswer, WorthAnswer
from sparewatt.studies.bench.answers import Improvement
from sparewatt.studies.guard.findings import put_first
from sparewatt.studies.judging import RANK, judge
from sparewatt.studies.mend.better import gained, no_worse

A = TypeVar("A", MatchAnswer, LoadsAnswer, WorthAnswer)
HELD = 0.9  # of the watts promised, at least, when it is made in the file
__all__ = ["brought", "proved", "with_proved"]


def proved(loaded: Loaded, filled: Filled, ask: Ask, changes: Iterable[Change]) -> tuple[Change, ...]:
    """The offers that keep what they promise when they are followed: a better word, and nothing new to put right first.

    An offer that was never said to be proven (advice in words) is left as it is.
    """
    return tuple(
        c for c in changes if not c.proven or not (c.edits or c.ask) or _keeps(loaded, filled, ask, c)
    )


def _keeps(loaded: Loaded, filled: Filled, ask: Ask, change: Change) -> bool:
    again = dataclasses.replace(change.ask or ask, draws=ask.draws, seed=ask.seed)
    try:
        now = fill(tried(loaded, change.edits).rig) if change.edits else filled
        judged = judge(now, again)
        stops = {f.key for f in put_first(now, again)}
    except SparewattError:
        return False
    had = {f.key for f in put_first(filled, ask)}
    return RANK[judged.verdict] > RANK[judge(filled, ask).verdict] and stops <= had


def brought(
    loaded: Loaded, filled: Filled, ask: Ask, offers: Iterable[Improvement]
) -> tuple[Improvement, ...]:
    """The improvements that bring their watts when their edits are made in the file, and make nothing worse."""
    return tuple(offer for offer in offers if not offer.edits or _brings(loaded, filled, ask, offer))


def _brings(loaded: Loaded, filled: Filled, ask: Ask, offer: Improvement) -> bool:
    try:
        now = fill(tried(loaded, offer.edits).rig)
        more = gained(filled, ask, now, ask)
        return (
            more is not None and float(more[0]) >= HELD * offer.watts.mid and no_worse(filled, ask, now, ask)
        )
    except SparewattError:
        return False


def with_proved(loaded: Loaded, filled: Filled, found: A) -> A:
    """The answer with only those offers left that were made again and held."""
    if isinstance(found, MatchAnswer):
        return dataclasses.replace(found, nearest_yes=proved(loaded, filled, found.ask, found.nearest_yes))
    rows = tuple(
        dataclasses.replace(row, nearest_yes=proved(loaded, filled, ask, row.nearest_yes))
        for row, ask in zip(found.rows, found.asks, strict=True)
    )
    return dataclasses.replace(found, rows=rows)
