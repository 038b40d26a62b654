"""What the fault-finder takes and gives beside `answers_bench.MendAnswer`: moments of a ride, and each cause in full."""

from __future__ import annotations

from dataclasses import dataclass

from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import MendAnswer

__all__ = ["FEELS", "JOINED", "CauseMore", "Foretold", "Mended", "Moment", "Told", "Trial", "feel_of"]

NAN = float("nan")
FEELS = ("very easy", "easy", "as usual", "hard", "very hard")
JOINED = ("load", "nothing", "lamp")
_SPOKEN = {
    "very easy": ("no load", "nothing", "free", "dead", "very light"),
    "easy": ("light", "lighter", "easier", "low"),
    "as usual": ("usual", "normal", "ok", "fine", "fair", "steady", "moderate", "medium", "same"),
    "hard": ("heavy", "harder", "heavier", "tough", "high"),
    "very hard": ("very heavy", "all out", "stalls", "stalling", "cannot hold it"),
}


def feel_of(spoken: str) -> str:
    """One of FEELS for what people say ("heavy", "Normal"); "" where it is none of them."""
    said = " ".join(spoken.casefold().split())
    return next((feel for feel, words in _SPOKEN.items() if said == feel or said in words), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What was read at one time; anything may be NaN or "". SI, volts and amps positive as pedalled forward.

    cadence: of the crank; speed: of the machine's shaft; volts, amps: at the machine's two wires; volts_out, amps_out:
    behind the board, or at the battery. heat: of the machine's case (K). feel: one of FEELS. effort: W at the pedals that
    the rider meant to give. ridden: s since setting off. gear, load: as in the rig file, "" what the rig is usually asked.
    joined: one of JOINED: the load, nothing at all, or a lamp whose watts nobody knows. drill: turned by a drill, no legs.
    fine: read when all was still well. spreads: what the reader wrote as the spread of a value.
    """

    at: str = ""
    cadence: float = NAN
    speed: float = NAN
    volts: float = NAN
    amps: float = NAN
    volts_out: float = NAN
    amps_out: float = NAN
    heat: float = NAN
    feel: str = ""
    effort: float = NAN
    ridden: float = NAN
    gear: str = ""
    load: str = ""
    joined: str = "load"
    drill: bool = False
    fine: bool = False
    volts_meter: str = ""
    amps_meter: str = ""
    spreads: tuple[tuple[str, float], ...] = ()
    lines: tuple[int, ...] = ()


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
