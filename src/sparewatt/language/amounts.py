"""Numbers with their units wherever people type them: one shape of a number, one way to spell a unit.

What a unit is worth is in `quantities`; the ways of writing one that it does not list are in `vocabulary.toml`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache

from sparewatt.language.vocabulary import vocabulary
from sparewatt.quantities import BadText, parse

__all__ = ["BODY", "SPACE", "fitting", "known", "unit_at"]

# a fraction, a whole with a fraction, thousands parted by commas, or a decimal with a point or a comma
BODY = (
    r"(?:[0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+(?![0-9])|"
    r"(?:[0-9]+(?:[.,][0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
)
SPACE = " \t\u00a0\u2009\u202f"
_UNIT = re.compile(r"%|\u00b5?[^\W\d_]+(?:[*/][^\W\d_]+)*(?:[23](?![0-9.]))?", re.IGNORECASE)


@cache
def _spellings() -> re.Pattern[str]:
    """Every way to write a unit that is told in the vocabulary, each in a group of its own."""
    ways = (f"(?P<u{k}>{words})" for k, (_, words) in enumerate(vocabulary().units))
    return re.compile(rf"(?:{'|'.join(ways)})(?![^\W\d_])", re.IGNORECASE)


def unit_at(text: str, at: int, gap: str = SPACE) -> tuple[str, int] | None:
    """The unit that stands here, as `quantities` spells it where that is known, and its end. gap: passed over first."""
    while at < len(text) and text[at] in gap:
        at += 1
    told = _spellings().match(text, at)
    if told is not None:
        return vocabulary().units[int((told.lastgroup or "u0")[1:])][0], told.end()
    unit = _UNIT.match(text, at)
    return None if unit is None else (unit.group(), unit.end())


def fitting(unit: str, kinds: Iterable[str]) -> tuple[str, str] | None:
    """The unit in the case in which it reads as one of these SI units, the exact one before others, and which; else None."""
    for spelled in dict.fromkeys((unit, unit.lower(), unit.upper() if len(unit) == 1 else unit)):
        for si in kinds:
            if known(spelled, si):
                return spelled, si
    return None


@cache
def known(unit: str, si: str) -> bool:
    """Whether this is a unit of that quantity."""
    try:
        parse(f"1 {unit}", si)
    except BadText:
        return False
    return True
