"""What happens in a scene, one row a happening, in plain words: the numbered list beside the picture.

What comes back again and again (a board that sleeps and wakes, a freewheel that lets go at every stroke) is told twice and
then counted, so that an hour still fits a page. The numbers of the rows are those of the rings and flags in the picture.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.studies.scenes.answers import Happening, SceneAnswer, StepRow

__all__ = [
    "HAPPENING_WORDS",
    "HURTS",
    "Row",
    "Series",
    "board_name",
    "happening",
    "load_name",
    "moment",
    "often",
    "part_place",
    "rows",
    "series",
]

FAMILIES: dict[str, tuple[tuple[str, ...], str]] = {
    "sleep": (("sleeps", "wakes"), "The board sleeps and wakes again"),
    "free": (("freewheel_opens", "freewheel_takes"), "The freewheel lets go and takes up again"),
    "diode": (("diode_conducts", "diode_blocks", "flows_back"), "The machine gives current and stops again"),
    "drives": (("battery_drives",), "The battery drives the machine again"),
    "limit": (("limited", "unlimited"), "The board comes to its limit and off it again"),
    "pass": (("passes", "drops_out", "holds_again"), "The board loses its setting and holds it again"),
    "clamp": (("clamp_starts", "clamp_ends"), "The clamp burns watts and lets go again"),
    "load": (("load_quits", "load_restarts"), "The load quits and starts again"),
    "guard": (
        ("protects_full", "protects_empty", "protects_amps", "protection_closes"),
        "The pack's protection opens and closes again",
    ),
    "stall": (("stalls", "moves_again"), "The crank stands still and moves again"),
}
_FAMILY = {key: name for name, (keys, _) in FAMILIES.items() for key in keys}
KEPT = 2  # of a family that are told one by one before the rest is counted
MANY = 4  # of a family that are all told one by one
CROWD = 14  # from so many rows on, what only tells of the boards and diodes at work is counted from its first time
QUIET = frozenset({"diode", "limit", "pass", "free"})
MOST_ROWS = 60  # more than this, and what repeats is counted over the whole scene
# What can hurt a person, a part or the ride: the accent is for these alone.
HURTS = frozenset(
    {"stalls", "over_volts", "over_load_volts", "fuse_opens", "battery_drives", "protects_full"}
)
# What happens to the legs of the one who reads this: told to them, not about them. The study names the parts better.
_YOURS = frozenset({"stalls", "moves_again", "reserve_empty", "freewheel_opens", "freewheel_takes"})
# A study may tell a series in one happening; what it says of it.
_TIMES = re.compile(r"(\d+) times until ([\d.]+) s\b")
_RHYTHM = re.compile(r"about (?:([\d.]+) times a second|every ([\d.]+) s\b)")
HAPPENING_WORDS: dict[str, str] = {
    "freewheel_opens": "The freewheel lets go: the rig runs on without your legs",
    "freewheel_takes": "The freewheel takes up: your legs drive the rig again",
    "diode_conducts": "The diode carries: amps leave the machine",
    "diode_blocks": "The diode blocks: nothing leaves the machine",
    "sleeps": "The board goes to sleep{at V}: the load is gone and your legs race",
    "wakes": "The board wakes{at V}",
    "limited": "The board is at its limit: it takes in {A or} and no more",
    "unlimited": "The board has room again",
    "passes": "The volts go straight through the board{at V}: it holds nothing back",
    "holds_again": "The board holds its setting again",
    "drops_out": "The board has too few volts{at V} and its output sags",
    "clamp_starts": "The clamp starts to burn what is too much{at V}",
    "clamp_ends": "The clamp lets go",
    "load_quits": "{Load} quits: too few volts{at V}",
    "load_restarts": "{Load} starts again{at V}",
    "fuse_opens": "A fuse opens{at A}",
    "stalls": "The crank stands still: it takes more than your legs give",
    "moves_again": "The crank turns",
    "reserve_empty": "Your reserve is empty: from here on only the pace you can hold for long is left",
    "over_volts": "The volts{now V} pass what a part on the bus stands",
    "over_load_volts": "The volts{now V} pass what {load} stands",
    "full_volts": "The battery is at its charging volts{now V}: from here on it takes less and less",
    "battery_full": "The battery is full{at V}: what still goes in makes gas and heat, not charge",
    "battery_empty": "The battery is empty{at V}: its volts fall away",
    "protects_full": "The pack is full and its protection opens: the bus goes on{at V}",
    "protects_empty": "The pack is empty and its protection opens: nothing comes out any more",
    "protects_amps": "The pack's protection opens: too many amps for it",
    "protection_closes": "The pack's protection closes again",
    "flows_back": "Nothing blocks: current swings back into the machine",
    "battery_drives": "The battery drives the machine: the rig can turn by itself",
    "tool_at_speed": "{Load} is up to speed{at turns}",
    "script": "The next step of the scene",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row. until: the last time of what is counted (else `at`); times: how often; told: a step of the scene."""

    number: int
    at: float
    until: float
    key: str
    says: str
    told: bool = False
    times: int = 1
    unit_of: int = 0

    @property
    def hurts(self) -> bool:
        """It can hurt a person, a part or the ride."""
        return self.key in HURTS


@dataclass(frozen=True, slots=True)
class Series:
    """What repeats, told in one happening: how often, s from one to the next, and the last time."""

    times: int
    period: float
    until: float


def series(h: Happening) -> Series | None:
    """The series that one happening stands for; None where it stands for itself."""
    count, rhythm = _TIMES.search(h.says), _RHYTHM.search(h.says)
    if count is None or rhythm is None:
        return None
    a_second, each = rhythm.groups()
    period = 1.0 / float(a_second) if a_second and float(a_second) > 0 else float(each or "nan")
    return Series(int(count[1]), period, float(count[2]))


def load_name(answer: SceneAnswer) -> str:
    """The load inside a sentence, with its article; the battery when there is only charging."""
    return "the battery" if answer.ask.load == "charge" else say.the(answer.ask.load)


def part_place(name: str) -> tuple[str, str]:
    """A part as a peak names it ("step-up board, input"), and where on it: ("the step-up board", " at its input")."""
    head, _, tail = name.partition(", ")
    return say.the(head), f" at its {tail}" if tail in ("input", "output") else f" ({tail})" if tail else ""


def board_name(name: str) -> str:
    """A board inside a sentence."""
    return say.the(name) if name else "the board"


def moment(t: float, duration: float) -> str:
    """A time on the clock of a scene of this length: "5.0 s", "12 min 30 s", "1 h 5 min"."""
    if not math.isfinite(t):
        return say.NO_NUMBER
    if duration <= 180.0:
        return f"{t:.2f} s" if duration < 3.0 else f"{t:.1f} s"
    whole = round(t)
    if duration <= 7200.0:
        minutes, seconds = divmod(whole, 60)
        return (
            " ".join(
                part for part in (f"{minutes} min" * (minutes > 0), f"{seconds} s" * (seconds > 0)) if part
            )
            or "0 s"
        )
    hours, rest = divmod(round(whole / 60), 60)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def often(period: float) -> str:
    """How often something comes back: "about twice a second", "about every 3 seconds"."""
    if not (math.isfinite(period) and period > 0):
        return ""
    a_second = 1.0 / period
    if a_second >= 0.75:
        count = round(a_second)
        return f"about {'once' if count == 1 else 'twice' if count == 2 else f'{count} times'} a second"
    return f"about every {say.time(period)}"


def happening(h: Happening, answer: SceneAnswer) -> str:
    """One happening as a sentence."""
    own, given = HAPPENING_WORDS.get(h.key), h.says.strip()
    if given and (h.told or own is None or h.key not in _YOURS or h.unit_of > 0 or series(h) is not None):
        return sentence(given)
    text = _filled(own, h.value, load_name(answer)) if own else h.key.replace("_", " ")
    return _told_of(h.unit_of, text)


def _told_of(unit: int, text: str) -> str:
    """A sentence about the main rig and its rider, or about one of the other rigs and theirs."""
    if unit > 0:
        for mine, theirs in (
            ("dragged you", "dragged them"),
            ("your", "their"),
            ("Your", "Their"),
            ("you ", "they "),
        ):
            text = text.replace(mine, theirs)
        text = f"on rig {unit + 1} {clause(text)}"
    return sentence(text)


def _filled(words: str, value: float, load: str) -> str:
    """The sentence with its load and its number; without the number where there is none."""
    known = math.isfinite(value)
    volts = say.amount(value, "V", digits=3 if abs(value) < 20 else 2) if known else ""
    amps = say.amount(value, "A") if known else ""
    turns = say.amount(value, "rad/s") if known else ""
    for mark, text in (
        ("{Load}", load[:1].upper() + load[1:]),
        ("{load}", load),
        ("{at V}", f" at {volts}" if known else ""),
        ("{now V}", f", {volts}," if known else ""),
        ("{at A}", f" at {amps}" if known else ""),
        ("{at turns}", f", {turns}" if known else ""),
        ("{A or}", amps if known else "what it can"),
    ):
        words = words.replace(mark, text)
    return words.replace(",:", ":")


def rows(answer: SceneAnswer) -> tuple[Row, ...]:
    """Every row in the order of time, steps of the scene before what they bring about, numbered from 1."""
    steps = [s for s in answer.steps if math.isfinite(s.at) and 0 <= s.at <= answer.duration]
    told = _steps(steps, answer.duration)
    found = sorted(
        (h for h in answer.happenings if not h.told and math.isfinite(h.at) and h.at <= answer.duration),
        key=lambda h: h.at,
    )
    cuts = [s.at for s in steps] if len(told) == len(steps) else []
    drafts = _drafts(found, cuts, answer)
    if len(drafts) > CROWD:
        drafts = _drafts(found, cuts, answer, crowded=True)
    if len(drafts) > MOST_ROWS:
        drafts = _drafts(found, [], answer, crowded=True)
    if not told:
        told = [
            (h.at, h.at, "script", happening(h, answer), True, 1, 0)
            for h in answer.happenings
            if h.told and math.isfinite(h.at)
        ]
    every = sorted([*told, *drafts], key=lambda d: (d[0], not d[4]))
    return tuple(
        Row(number=k, at=at, until=until, key=key, says=says, told=is_told, times=times, unit_of=unit)
        for k, (at, until, key, says, is_told, times, unit) in enumerate(every, 1)
    )


Draft = tuple[float, float, str, str, bool, int, int]


def _steps(steps: Sequence[StepRow], duration: float) -> list[Draft]:
    """One draft a step; a step that comes again and again, as in an hour of bouts, is told twice and then counted."""
    same: dict[str, list[float]] = {}
    for s in steps:
        same.setdefault(sentence(s.understood or s.text), []).append(s.at)
    drafts: list[Draft] = []
    for says, ats in same.items():
        single = ats if len(ats) <= MANY else ats[:KEPT]
        drafts += [(at, at, "script", says, True, 1, 0) for at in single]
        if rest := ats[len(single) :]:
            each = (rest[-1] - rest[0]) / (len(rest) - 1)
            text = f"{says[:-1]} {len(rest)} more times, about every {say.time(each)}, until {moment(rest[-1], duration)}"
            drafts.append((rest[0], rest[-1], "script", sentence(text), True, len(rest), 0))
    return drafts


def _drafts(
    found: Sequence[Happening], cuts: Sequence[float], answer: SceneAnswer, *, crowded: bool = False
) -> list[Draft]:
    """One draft a happening; what repeats between two steps is told twice and then counted.

    crowded: what only tells of boards and diodes at work is counted from the start, over the whole scene.
    """
    groups: dict[tuple[int, int, str], list[Happening]] = {}
    for h in found:
        family = _FAMILY.get(h.key, h.key)
        piece = 0 if crowded and _quiet(family, h.unit_of) else sum(cut <= h.at for cut in cuts)
        groups.setdefault((piece, h.unit_of, family), []).append(h)
    drafts: list[Draft] = []
    for (_, unit, family), members in groups.items():
        whole = crowded and _quiet(family, unit) and len(members) > 1 and not any(series(h) for h in members)
        single = members if len(members) <= MANY and not whole else () if whole else members[:KEPT]
        for h in single:
            run = series(h)
            until, times = (max(run.until, h.at), run.times) if run else (h.at, 1)
            drafts.append((h.at, until, h.key, happening(h, answer), False, times, unit))
        rest = members[len(single) :]
        if rest:
            drafts.append(_counted(family, rest, answer.duration, unit, more=bool(single)))
    return drafts


def _quiet(family: str, unit: int) -> bool:
    """What a crowded list counts from the first time on; of the other rigs, the board that sleeps and wakes too."""
    return family in QUIET or (unit > 0 and family == "sleep")


def _counted(family: str, rest: Sequence[Happening], duration: float, unit: int, *, more: bool) -> Draft:
    """What comes back again and again, as one row."""
    keys, words = FAMILIES.get(family, ((family,), "The same again"))
    counts = {key: sum(h.key == key for h in rest) for key in keys}
    times = max(counts.values())
    lead = max(keys, key=lambda key: counts[key])
    ats = [h.at for h in rest if h.key == lead]
    rhythm = often((ats[-1] - ats[0]) / (len(ats) - 1)) if len(ats) > 1 else ""
    count = f"once{' more' * more}" if times == 1 else f"{times}{' more' * more} times"
    words = words if more else words.removesuffix(" again")
    until = f", until {moment(rest[-1].at, duration)}" if rest[-1].at - rest[0].at > 1.0 or more else ""
    text = f"{words} {count}{', ' + rhythm if rhythm and until else ''}{until}"
    return (rest[0].at, rest[-1].at, lead, _told_of(unit, text), False, times, unit)
