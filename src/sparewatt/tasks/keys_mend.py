"""Published keys of `mend`."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sparewatt.language.moment import Moment
from sparewatt.present import words_mend
from sparewatt.studies.bench.answers import Cause, Improvement
from sparewatt.studies.mend.answers import CauseMore, Foretold, Mended
from sparewatt.tasks.keys import Key, band, mixed, number, rows, text, whole

__all__ = ["MEND", "Ranked"]

NOT_READ = "it was not read"
NO_CHECK = "no cheap check tells it from the next"
Edits = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranked:
    """What the fault-finder found, with the edit that puts each wrong number right, and what speaks against riding on."""

    found: Mended
    right: tuple[Edits, ...]
    against: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    """One cause with everything about it."""

    ranked: Ranked
    n: int

    @property
    def cause(self) -> Cause:
        return self.ranked.found.answer.causes[self.n]

    @property
    def more(self) -> CauseMore:
        return self.ranked.found.more[self.n]


def _causes(r: Ranked) -> list[_Row]:
    return [_Row(r, n) for n in range(len(r.found.answer.causes))]


def _c(name: str) -> Callable[[_Row], Any]:
    return lambda row: getattr(row.cause, name)


def _pairs(edits: Edits) -> list[list[str]]:
    return [[key, value] for key, value in edits]


def _moment(name: str) -> Callable[[Moment], Any]:
    return lambda m: getattr(m, name)


def _at(r: _Row, f: Foretold) -> str:
    return r.ranked.found.moments[f.moment].at


_MOMENT: tuple[Key, ...] = (
    text("name", _moment("at"), "What it is called; empty where there is only one."),
    whole("well", _moment("fine"), "Whether it was read when all was still well."),
    text("joined", _moment("joined"), "What was joined: load, nothing or lamp."),
    whole("drill", _moment("drill"), "Whether a drill turned the machine."),
    number("cadence_rad_per_s", _moment("cadence"), "Of the crank.", NOT_READ),
    number("speed_rad_per_s", _moment("speed"), "Of the machine.", NOT_READ),
    number("machine_V", _moment("volts"), "Volts of the machine.", NOT_READ),
    number("machine_A", _moment("amps"), "Amps of the machine.", NOT_READ),
    number("out_V", _moment("volts_out"), "Volts behind the board or at the battery.", NOT_READ),
    number("out_A", _moment("amps_out"), "Amps behind the board or into the battery.", NOT_READ),
    number("case_K", _moment("heat"), "Of the machine's case.", NOT_READ),
    number("effort_W", _moment("effort"), "What the rider meant to give.", NOT_READ),
    number("ridden_s", _moment("ridden"), "Since setting off.", NOT_READ),
    text("feel", lambda m: m.feel or None, "How it felt."),
    text("gear", lambda m: m.gear or None, "The gear that was noted."),
    text("load", lambda m: m.load or None, "What was run."),
)

_SIGN: tuple[Key, ...] = (
    text("moment", "says", "The moment it was read in."),
    text("what", "what", "Which reading, as one word."),
    mixed("read", "seen", "What was read, in the unit beside it."),
    mixed(
        "expected", lambda s: s.expected.mid, "What a rig with nothing wrong shows.", "it has no such reading"
    ),
    mixed(
        "expected_p05", lambda s: s.expected.low, "The low end of its 90 % band.", "it has no such reading"
    ),
    mixed(
        "expected_p95", lambda s: s.expected.high, "The high end of its 90 % band.", "it has no such reading"
    ),
    text("unit", "unit", "SI unit of the four numbers."),
    number("off_ratio", "z", "How far apart, in standard deviations."),
    text("says", words_mend.sign, "In words."),
)

_FORETOLD: tuple[Key, ...] = (
    text("moment", lambda p: _at(*p), "The moment it was read in."),
    text("what", lambda p: p[1].what, "Which reading, as one word."),
    mixed("read", lambda p: p[1].seen, "What was read, in the unit beside it."),
    mixed("gives", lambda p: p[1].band.mid, "What this cause gives.", "it has no such reading"),
    mixed("gives_p05", lambda p: p[1].band.low, "The low end of its 90 % band.", "it has no such reading"),
    mixed("gives_p95", lambda p: p[1].band.high, "The high end of its 90 % band.", "it has no such reading"),
    text("unit", lambda p: p[1].unit, "SI unit of the four numbers."),
    number("off_ratio", lambda p: p[1].off, "How far the reading is from it, in spreads."),
    text("says", lambda p: words_mend.foretold(p[1]), "In words."),
)  # fmt: skip

_CHECK: tuple[Key, ...] = (
    text("do", lambda r: r.cause.check, "What to do."),
    text(
        "mind",
        lambda r: (words_mend.care(r.more.trial) if r.more.trial else "") or None,
        "What can hurt at it.",
    ),
    text("if_so", lambda r: r.cause.if_so, "What it shows if this cause holds."),
    text("if_not", lambda r: r.cause.if_not, "What it shows if the other one does."),
    text("separates", lambda r: r.cause.separates, "Key of the cause it tells this one from."),
    number("time_s", lambda r: 60 * r.cause.minutes, "How long it takes."),
)

_CAUSE: tuple[Key, ...] = (
    text("key", _c("key"), "The cause as one word; normal when nothing is wrong."),
    text("name", _c("name"), "In words."),
    number("likelihood_share", _c("likelihood"), "How likely; all causes together make 1."),
    whole("stops", _c("stops"), "Whether to stop riding until it was looked at."),
    text("explanation", _c("explanation"), "Why it shows as it does."),
    text("size", lambda r: words_mend.cause_size(r.cause, r.more) or None, "How large it would be, in words."),
    rows("check", lambda r: r if r.cause.check else None, "The one check that tells it from the next.", _CHECK,
         NO_CHECK),
    rows("gives", lambda r: [(r, f) for f in r.more.foretold], "What it gives for each reading.", _FORETOLD),
    text("number", lambda r: r.more.number or None, "Key of the number in the rig file that would be wrong."),
    mixed("edits", lambda r: _pairs(r.ranked.right[r.n]), "Edits of the rig file that put it right, key and text."),
    text("says", lambda r: words_mend.cause(r.ranked.found.answer, r.cause, r.more), "All of it in words."),
)  # fmt: skip


def _endless(name: str) -> Callable[[Improvement], Any]:
    return lambda i: getattr(i, name)


_BETTER: tuple[Key, ...] = (
    text("key", "key", "What sort of change, as one word."),
    text("says", "says", "What to do."),
    band("gain_W", "watts", "Watts it brings at the same effort."),
    number("cost_coin", "cost", "What it costs.", "nobody knows its price"),
    number("work_s", "work", "Time in the workshop."),
    number("per_coin_W", _endless("per_coin"), "Watts for one coin.", "it costs nothing, or nobody knows its price"),
    number("per_hour_W", _endless("per_hour"), "Watts for one hour of work.", "it takes no time"),
    mixed("edits", lambda i: _pairs(i.edits), "Edits of the rig file that say the same."),
    text("caveat", lambda i: i.caveat or None, "What to mind."),
)  # fmt: skip

_NEXT: tuple[Key, ...] = (
    text("do", "what", "What to read."),
    text("procedure", lambda n: n.procedure or None, "The procedure of the bench that says how."),
    number("gain_share", "gain", "Share of the doubt that it takes away."),
    number("time_s", lambda n: 60 * n.minutes, "How long it takes."),
)

MEND: tuple[Key, ...] = (
    number("well_share", lambda r: r.found.answer.healthy, "How likely it is that nothing is wrong.",
           "nothing was read"),
    mixed("against", lambda r: list(r.against), "Keys of the causes that speak against riding on as it is."),
    text("held_by", lambda r: r.found.limited or None,
         "What holds back a rig with nothing wrong: board, passes, sags, chatters or asleep."),
    number("odd_ratio", lambda r: r.found.odd or math.nan,
           "By how many spreads even the best cause leaves a reading off.", "no reading is far off"),
    mixed("alike", lambda r: [list(pair) for pair in r.found.alike],
          "Pairs of causes that these readings cannot tell apart."),
    rows("moments", lambda r: r.found.moments, "What was read.", _MOMENT),
    rows("signs", lambda r: r.found.answer.signs, "Each reading against a rig with nothing wrong.", _SIGN),
    rows("causes", _causes, "What it can be, the likeliest first.", _CAUSE),
    rows("next_readings", lambda r: r.found.answer.missing, "Readings that would tell most, the best first.", _NEXT),
    rows("improvements", lambda r: r.found.answer.improvements,
         "What would help most: by watts for coin and work, the best first.", _BETTER),
)  # fmt: skip
