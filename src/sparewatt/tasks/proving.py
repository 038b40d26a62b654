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
from sparewatt.studies.guard.findings import put_first
from sparewatt.studies.judging import RANK, judge

A = TypeVar("A", MatchAnswer, LoadsAnswer, WorthAnswer)
__all__ = ["proved", "with_proved"]


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


def with_proved(loaded: Loaded, filled: Filled, found: A) -> A:
    """The answer with only those offers left that were made again and held."""
    if isinstance(found, MatchAnswer):
        return dataclasses.replace(found, nearest_yes=proved(loaded, filled, found.ask, found.nearest_yes))
    rows = tuple(
        dataclasses.replace(row, nearest_yes=proved(loaded, filled, ask, row.nearest_yes))
        for row, ask in zip(found.rows, found.asks, strict=True)
    )
    return dataclasses.replace(found, rows=rows)
