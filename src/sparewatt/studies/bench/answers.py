"""The frozen results of the bench and the fault-finder. Plain data in SI: sentences about causes, no rounding, no drawing.

One value as read is an `Entry` (one line of the readings file). Entries that were read together (volts and the speed
they were read at) share `procedure` and `at`; together they make one reading, shown as a `ReadingRow`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.outcome import Band, Caveat

if TYPE_CHECKING:
    from sparewatt.studies.bench.told import Told

__all__ = [
    "BenchAnswer",
    "Cause",
    "Constant",
    "CrossCheck",
    "Dummy",
    "Entry",
    "Fitted",
    "FittedPicture",
    "Improvement",
    "KnownPart",
    "MendAnswer",
    "NextReading",
    "Procedure",
    "ReadingRow",
    "Sign",
    "Slot",
    "SpeedRun",
    "Step",
    "Suspect",
]

F = NDArray[np.float64]
NAN = float("nan")


# ---- what is read ---------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One value as it was read: one line of the readings file, in SI.

    procedure: key of the kind of reading ("open_volts", see `reading_kinds.KINDS`). what: which value of it ("volts").
    at: when it was read, or any mark that values read together share. sd: what the reader wrote as its spread, NaN when
    the meter decides. unit, scale: as written ("mV", "200 V"). meter: which meter, by name; two entries with one
    meter share its gain. temperature: of the part, K, NaN when nobody felt it. part: which part of several of its kind
    ("step-up board"), "" for the only one. used: the reader's own yes or no.
    """

    what: str
    value: float
    procedure: str = ""
    at: str = ""
    unit: str = ""
    scale: str = ""
    meter: str = ""
    temperature: float = NAN
    who: str = ""
    note: str = ""
    part: str = ""
    sd: float = NAN
    used: bool = True
    line: int = 0  # in the readings file; 0: typed in just now


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRow:
    """One reading and how it sits with the fit. lines: where its entries stand in the readings file.

    seen, fitted, sd: in `unit`, the value that the model answers for. residual: (seen - fitted)/sd, on the scale where
    one in three is beyond 1. used: counted in full. left_out: why it was not ("" when used): a sentence.
    odd: key of the suspect it belongs to, "" for none. pull: how much the first constant it bears on moves without it,
    in standard deviations of that constant.
    """

    key: str
    says: str
    procedure: str
    at: str
    x: float
    seen: float
    fitted: float
    sd: float
    residual: float
    unit: str
    weight: float = 1.0
    used: bool = True
    left_out: str = ""
    odd: str = ""
    chi2_drop: float = NAN  # how much chi2 falls without it
    pull: float = NAN
    lines: tuple[int, ...] = ()


# ---- what comes out -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Constant:
    """One fitted constant: value, one standard deviation, 90 % band, how it is known.

    sd is NaN when the readings cannot tell it apart from others; then why_no_sd says which appear only together.
    key: where it goes in the rig file ("machine.emf_constant"), "" when the rig file has no place for it.
    before: spread before any reading (from the plate or a typical part), NaN when there was none.
    """

    name: str
    value: float
    sd: float
    low: float
    high: float
    unit: str = "1"
    how: str = "measured"
    why_no_sd: str = ""
    key: str = ""
    says: str = ""
    before: float = NAN
    before_sd: float = NAN

    @property
    def band(self) -> Band:
        """The same as a band."""
        return Band(self.value, self.low, self.high, self.how)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """A joint fit: constants in order, their correlations, and every reading with its residual.

    flags: sentences on the fit as a whole ("the readings agree better than the meters can: rounded or copied?").
    method: "curvature" or "bootstrap", where the spreads come from.
    """

    names: tuple[str, ...]
    constants: tuple[Constant, ...]
    correlation: F  # (n, n), NaN in rows and columns of constants without a spread
    covariance: F  # (n, n) in the units of the constants
    rows: tuple[ReadingRow, ...]
    chi2: float
    degrees: float
    flags: tuple[str, ...] = ()
    method: str = "curvature"
    gains: tuple[Constant, ...] = ()  # what each shared meter turned out to read over true

    @property
    def chi2_per_degree(self) -> float:
        """NaN when there are no more readings than constants."""
        return self.chi2 / self.degrees if self.degrees > 0 else NAN

    def __getitem__(self, name: str) -> Constant:
        return self.constants[self.names.index(name)]

    def between(self, one: str, other: str) -> float:
        """Correlation of two constants."""
        return float(self.correlation[self.names.index(one), self.names.index(other)])


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedPicture:
    """The line through one kind of reading with its 90 % band, and the readings as points."""

    procedure: str
    says: str
    x_name: str
    x_unit: str
    y_name: str
    y_unit: str
    x: F
    y: F
    low: F
    high: F
    points: tuple[ReadingRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownPart:
    """A part with its constants, their spread and correlations: what goes on a label and into the rig file."""

    part: str  # "machine", "battery", "converter.0", "rider.0", "stage.0"
    name: str
    constants: tuple[Constant, ...]
    correlation: F
    readings: int
    at: str = ""  # date of the last reading
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A reading that does not fit, and the named cause that would explain it.

    cause: key of the cause, "" when none of them does. factor: what the reading would be multiplied by.
    chi2_left: the square of its standardised residual once the cause is assumed.
    others: keys of causes that explain it nearly as well. redo: what to do about it, one sentence.
    """

    row: str
    rows: tuple[str, ...]
    cause: str
    name: str
    says: str
    redo: str
    factor: float
    residual: float
    chi2_before: float
    chi2_after: float
    chi2_left: float = NAN
    likelihood: float = NAN
    others: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NextReading:
    """One reading worth taking next. gain: share of the variance of the asked answer that it takes away."""

    what: str
    procedure: str
    why: str
    gain: float
    minutes: float
    gain_per_minute: float
    sd_now: float = NAN
    sd_then: float = NAN
    at: tuple[tuple[str, float], ...] = ()  # where to take it: (("speed", 150.0),)


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCheck:
    """Two ways to the same number that must agree: energy in against energy out, K from volts against K from torque."""

    says: str
    one: Band
    other: Band
    unit: str
    agrees: bool
    apart: float  # in standard deviations of the difference
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchAnswer:
    """Everything the bench knows about one rig after the readings so far."""

    rig: str
    fitted: Fitted
    parts: tuple[KnownPart, ...]
    suspects: tuple[Suspect, ...]
    next_readings: tuple[NextReading, ...]
    asked: str  # what "next" was ranked for, in words
    asked_band: Band  # the asked answer with what is known now
    pictures: tuple[FittedPicture, ...] = ()
    checks: tuple[CrossCheck, ...] = ()
    caveats: tuple[Caveat, ...] = ()
    sources: tuple[str, ...] = ()
    gate: str = "not refused"  # check word of the whole
    told: tuple[Told, ...] = ()  # what readings say that is no constant


# ---- how to read it -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A place for one value in a step. unit: what the form offers first. low, high: SI, what makes sense here."""

    what: str
    says: str
    unit: str
    low: float = NAN
    high: float = NAN
    needed: bool = True
    repeat: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step, short enough for dirty hands; slots: what to write down at this step. caution: before doing it."""

    says: str
    slots: tuple[Slot, ...] = ()
    caution: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Procedure:
    """A bench procedure. readings: keys of `reading_kinds.KINDS` that it yields. screens: questions before any effort."""

    key: str
    title: str
    why: str
    minutes: float
    needs: tuple[str, ...]
    fixes: tuple[str, ...]
    steps: tuple[Step, ...]
    readings: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    screens: tuple[str, ...] = ()
    stop_signs: tuple[str, ...] = ()
    typical: str = ""
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeedRun:
    """Speed against time from a recording or film time stamps. other: the readings that the sound allows just as well."""

    time: F  # s
    speed: F  # rad/s
    sd: F
    origin: str
    clear: bool  # False: an octave or the frame rate leaves more than one reading
    says: str
    other: tuple[float, ...] = ()  # factors by which all speeds may be off
    caveats: tuple[Caveat, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Dummy:
    """A dummy load from the junk drawer: what is joined how, what it takes, its first gulp and its heat."""

    says: str
    items: tuple[tuple[str, int], ...]  # (what, how many)
    series: int
    parallel: int
    volts: float
    amps: float
    watts: float
    cold_amps: float  # at switch-on
    surface: Band  # K
    guard: str
    stands: str  # what it must stand on or hang from
    off: float  # share by which watts miss what was wanted
    caveats: tuple[Caveat, ...] = ()


# ---- what is wrong --------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """One thing seen while riding against what the model expects. z: how far apart in standard deviations."""

    what: str
    seen: float
    expected: Band
    unit: str
    z: float
    says: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One cause with its likelihood (all causes with "nothing is wrong" sum to 1) and the check that settles it.

    check: one thing to do. if_so, if_not: what it then shows. separates: key of the next cause that the check rules out.
    size: how large the fault would be ("resistance 1.4 times the card"), in words; factor: the same as a number.
    """

    key: str
    name: str
    likelihood: float
    explanation: str
    check: str
    if_so: str = ""
    if_not: str = ""
    separates: str = ""
    minutes: float = NAN
    size: str = ""
    factor: float = NAN
    stops: bool = False  # a stop-level matter until checked


@dataclass(frozen=True, slots=True, kw_only=True)
class Improvement:
    """One change and what it brings. watts: more into load or battery at the same effort. cost in the rig's own coin.

    work: s of workshop time. per_coin, per_hour: watts for one coin, for one hour of work; inf when it costs nothing.
    """

    key: str
    says: str
    watts: Band
    cost: float
    work: float
    per_coin: float
    per_hour: float
    edits: tuple[tuple[str, str], ...] = ()
    caveat: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MendAnswer:
    """What was seen, the ranked causes, and the ranked improvements."""

    rig: str
    signs: tuple[Sign, ...]
    causes: tuple[Cause, ...]
    healthy: float  # likelihood that nothing is wrong
    improvements: tuple[Improvement, ...]
    says: str
    missing: tuple[NextReading, ...] = ()  # readings that would separate the causes
    caveats: tuple[Caveat, ...] = ()
    sources: tuple[str, ...] = field(default=())
