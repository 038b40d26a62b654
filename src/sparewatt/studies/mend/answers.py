"""What the fault-finder takes and gives beside `answers_bench.MendAnswer`: moments of a ride, and each cause in full."""

from __future__ import annotations

from dataclasses import dataclass

from sparewatt.language.moment import Moment
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import MendAnswer

__all__ = ["CauseMore", "Foretold", "Mended", "Told", "Trial"]

NAN = float("nan")


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """One reading against what a cause predicts for it. moment: which of the moments, from 0. off: in spreads."""

    moment: int
    what: str
    seen: float
    band: Band
    unit: str
    off: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a check shows if one cause holds: a share of yes, or a band with its unit. NaN where it is not that kind."""

    yes: float = NAN
    band: Band = Band(NAN, NAN, NAN)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One cheap check, what it shows under two causes, and how much it tells between them (bits, 1 settles it).

    do: what to do. yes, no: what is then seen, where it is a matter of yes or no. shows, unit: what is read otherwise.
    """

    key: str
    do: str
    minutes: float
    bits: float
    one: Told
    other: Told
    yes: str = ""
    no: str = ""
    shows: str = ""
    unit: str = ""

    @property
    def read(self) -> bool:
        """Whether it gives a number rather than a yes or a no."""
        return bool(self.unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseMore:
    """A cause in full: what it predicts for each reading, how large it would be, and the check against the next cause.

    support: how many times better than the leading cause it explains the readings, prior odds apart. number: key in the
    rig file that would be wrong and what would fit there (SI); size: how large the fault is, as a band in `unit`.
    """

    key: str
    prior: float
    support: float
    foretold: tuple[Foretold, ...]
    size: Band
    unit: str = ""
    number: str = ""
    value: float = NAN
    value_unit: str = ""
    trial: Trial | None = None
    way: str = ""  # which of several ways it can be
    only: tuple[int, ...] = ()  # the moments it is about, where not all


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """The fault-finder's full result. more: in the order of `answer.causes`.

    alike: pairs of causes that these readings cannot tell apart. limited: what holds back a rig with nothing wrong,
    "board", "passes", "asleep" or "". odd: even the best cause leaves a reading this many spreads off.
    """

    answer: MendAnswer
    moments: tuple[Moment, ...]
    more: tuple[CauseMore, ...]
    alike: tuple[tuple[str, str], ...] = ()
    limited: str = ""
    odd: float = 0.0

    def cause(self, key: str) -> CauseMore:
        """One cause by its key."""
        return next(each for each in self.more if each.key == key)
