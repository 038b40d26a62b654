"""The words of `mend`: what is most likely wrong and how likely, the check that settles it, and what would help most."""

from __future__ import annotations

import math

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import Cause, Improvement, MendAnswer, Sign
from sparewatt.studies.mend.answers import CauseMore, Foretold, Mended, Trial

__all__ = [
    "alike", "care", "cause", "cause_size", "check", "fits", "foretold", "given", "improvement", "limited", "mend_answer",
    "missing", "nothing_read", "odds", "sign", "stop_lines", "stops", "what_read", "wrong_number",
]  # fmt: skip

WHAT = {
    "cadence": "turns at the crank", "speed": "turns of the machine", "volts": "volts of the machine",
    "amps": "amps of the machine", "volts_out": "volts behind it", "amps_out": "amps behind it",
    "heat": "the machine's case",
}  # fmt: skip
_LIMITS = {
    "board": "The board takes in all the amps it can: that is what holds it back.",
    "passes": "The board passes the volts straight through there, so its settings do nothing.",
    "sags": "The board has too few volts there, so its output follows them.",
    "chatters": "The board wakes and sleeps there, again and again: ride faster before the load comes on, or shed load.",
    "asleep": "Nothing flows yet at that pace: ride faster or take a harder gear.",
}
# How large a fault is, by its key: what stands before the figure and behind it
_SIZES = {
    "slip": ("it loses", "of its speed at a usual push"),
    "drag": ("it takes", "of a usual push"),
    "hot_copper": ("the winding would be", "hotter than expected"),
    "weak_magnet": ("they would have lost", "of their strength"),
    "worn_brush": ("they would keep", "more than they should"),
    "loose_contact": ("it would have", ""),
    "board_limit": ("it would stop at", "in"),
    "tired_rider": ("the legs give", "of what they usually do"),
    "battery_resistance": ("it would have", "more inside"),
    "battery_full": ("it would stand", "higher"),
    "battery_cell": ("it would stand", "lower"),
}
_KELVIN = 273.15
# What can hurt at a check, by its key (common practice, no source)
_TURNS = "keep fingers, hair and laces out of what turns"
_CARE = {
    "heat": "a hot machine burns skin, so use the thermometer and not a hand",
    "chalk": _TURNS, "turns": _TURNS, "tug": f"{_TURNS}, and touch no bare metal", "hand_spin": _TURNS,
    "across": f"{_TURNS}, and let the points touch one wire each",
    "lead": f"{_TURNS}, and let the points touch one post each",
    "brushes": "let it stand still and cool first",
    "fuse": "put a fuse at the battery's post, and let go of the bulb before it is hot",
    "known_amps": "put a fuse at the battery's post, and let go of the bulb before it is hot",
    "dip": "put a fuse at the battery's post; the bulb gets hot",
    "both_sides": "with nothing behind it the volts can be far above what you are used to: stay below what the board stands",
    "open_volts": "with nothing joined the volts are high: touch no bare wire",
    "load_up": "stop when anything smells or is too hot to touch",
}  # fmt: skip
STOP_SHARE = 0.1  # from here on a cause that can hurt is worth stopping for


def odds(share: float) -> str:
    """A likelihood as people say it: "about 7 in 10", "more than 19 in 20"; the ends are never called certain."""
    if share > 0.95:
        return "more than 19 in 20"
    if share < 0.05:
        return "less than 1 in 20"
    if share < 0.095:
        return "less than 1 in 10"
    return f"about {min(9, round(10 * share))} in 10"


def mend_answer(m: Mended) -> str:
    """The answer to "what is wrong?": the likeliest cause with its odds, what it would be, and the check that settles it."""
    a = m.answer
    first, more = a.causes[0], m.more[0]
    if first.key == "normal":
        return _well(m)
    if first.likelihood < 0.5:
        opening = f"It is not clear yet. First in line: {first.name} ({odds(first.likelihood)})"
        opening += f", then {a.causes[1].name} ({odds(a.causes[1].likelihood)})."
    else:
        opening = f"Most likely {first.name} ({odds(first.likelihood)})."
    stop = "Stop riding until you have looked." if first.stops else ""
    parts = [
        stop,
        opening,
        sentence(cause_size(first, more)),
        check(a, first, more, short=True),
        _twin(m),
        _left_over(m),
    ]
    return " ".join(part for part in parts if part)


def stops(a: MendAnswer) -> tuple[Cause, ...]:
    """The causes that are worth getting off for: those that can hurt or break something, and are likely enough."""
    return tuple(c for c in a.causes if c.stops and c.likelihood >= STOP_SHARE)


def stop_lines(a: MendAnswer) -> list[str]:
    """Warnings that come before everything else."""
    return [
        f"Stop riding until you have looked: it may be that {c.name} ({odds(c.likelihood)}). "
        f"{sentence(c.explanation)} Disconnect the battery before you touch a wire."
        for c in stops(a)
    ]


def nothing_read(a: MendAnswer, example: str) -> str:
    """No reading yet: what to type, and what would help most."""
    first = a.improvements[0] if a.improvements else None
    told = f'Type what you read while riding and how it felt, as in "{example}".'
    if first is None:
        return f"{told} Nothing that is known here brings a rider more at the same effort."
    return f"{told} What would help most: {clause(first.says)}; it brings {say.about(first.watts, 'W')}."


def _well(m: Mended) -> str:
    """Nothing is wrong, as far as this shows."""
    a = m.answer
    parts = [
        f"Nothing seems wrong ({odds(a.healthy)}): the readings lie where this rig puts them.",
        limited(m),
    ]
    if len(a.causes) > 1 and a.causes[1].likelihood >= 0.05:
        second = a.causes[1]
        parts.append(f"If something is, then most likely {second.name} ({odds(second.likelihood)}).")
        parts.append(check(a, second, m.more[1], short=True))
    parts.append(_left_over(m))
    return " ".join(part for part in parts if part)


def _twin(m: Mended) -> str:
    """That the first cause cannot be told from another by these readings."""
    first = m.answer.causes[0].key
    pair = next((pair for pair in m.alike if first in pair), None)
    return alike(m.answer, pair) if pair is not None else ""


def _left_over(m: Mended) -> str:
    """That readings do not go even with the best cause."""
    if not m.odd:
        return ""
    if sum(not fits(f) for f in m.more[0].foretold) > 1:
        return "Several readings do not go with this: one was mistyped, or two things are wrong at once."
    return "One reading does not go with this; read that one again."


def alike(a: MendAnswer, pair: tuple[str, str]) -> str:
    """Two causes that these readings cannot tell apart."""
    names = [next(c.name for c in a.causes if c.key == key) for key in pair]
    return f"These readings alone cannot tell whether {names[0]} or {names[1]}."


def limited(m: Mended) -> str:
    """What holds back a rig with nothing wrong; "" when nothing does."""
    return _LIMITS.get(m.limited, "")


def cause(a: MendAnswer, c: Cause, more: CauseMore) -> str:
    """One cause in full: how likely, why, how large, and the check that tells it from the next."""
    size = cause_size(c, more)
    parts = [
        f"{sentence(c.name)[:-1]}, {odds(c.likelihood)}.",
        sentence(c.explanation),
        sentence(size),
        check(a, c, more),
    ]
    return " ".join(part for part in parts if part)


def cause_size(c: Cause, more: CauseMore) -> str:
    """How large it would be, or which way: a clause; "" where there is nothing to add."""
    if c.key == "wrong_number":
        return wrong_number(more)
    if c.key == "wrong_winding":
        return wrong_number(more)
    if c.key == "wrong_gear":
        return f"{c.size} would fit"
    if c.key in ("meter_on_ac", "miscount"):
        return clause(c.size)
    before, behind = _SIZES.get(c.key, ("", ""))
    if not before:
        return ""
    where = f" {c.size}" if c.key == "loose_contact" and c.size else ""
    return f"{before} {_sized(more.size, more.unit)}{where} {behind}".strip()


def wrong_number(more: CauseMore) -> str:
    """Which number in the rig file, and what would fit there."""
    return f"what would fit: {more.number} = {say.span(_value(more), more.value_unit)}"


def _value(more: CauseMore) -> Band:
    """What would fit in the rig file, as a band as wide as the size is known."""
    low, high = more.size.low / more.size.mid, more.size.high / more.size.mid
    ends = sorted((more.value * low, more.value * high, more.value / low, more.value / high))
    narrow = (ends[1], ends[2])
    return Band(more.value, min(narrow), max(narrow))


def _sized(band: Band, unit: str) -> str:
    """A size as a band: shares in per cent, K as a difference."""
    if unit == "1":
        low, high = 100 * band.low, 100 * band.high
        return f"{low:.0f} to {high:.0f} %" if f"{low:.0f}" != f"{high:.0f}" else f"about {high:.0f} %"
    if unit == "K":
        return f"{round(band.low, -1):.0f} to {round(band.high, -1):.0f} K"
    return say.span(band, unit)


def check(a: MendAnswer, c: Cause, more: CauseMore, *, short: bool = False) -> str:
    """The one check that tells a cause from the next: what to do, what it shows if so and if not, how long it takes."""
    t = more.trial
    if t is None:
        return "No cheap check tells it from the next one." if len(a.causes) > 1 and not short else ""
    other = next((x.name for x in a.causes if x.key == c.separates), "not")
    so, not_so = _outcomes(t)
    told = f"Check: {_inside(t.do)}"
    if t.read:
        told = f"{sentence(told)} Expect {so} if {c.name}, {not_so} if {other}."
    else:
        told = f"{sentence(told)} If {c.name}, {so}; if {other}, {not_so}."
    if not short:
        told = f"{told} It takes {_minutes(t.minutes)}."
    return f"{told} Mind: {care(t)}." if care(t) else told


def care(t: Trial) -> str:
    """What can hurt at a check; "" where nothing much can."""
    return _CARE.get(t.key, "")


def _inside(do: str) -> str:
    """Something to do, as it stands inside a sentence."""
    return f"{do[0].lower()}{do[1:]}".rstrip(".")


def _minutes(minutes: float) -> str:
    """How long a check takes."""
    return "a minute" if minutes <= 1.5 else say.time(60 * minutes)


def _outcomes(t: Trial) -> tuple[str, str]:
    """What the check shows under its two causes."""
    if t.read:
        return _read(t.one.band, t.unit), _read(t.other.band, t.unit)
    return (t.yes, t.no) if t.one.yes > t.other.yes else (t.no, t.yes)


def _read(band: Band, unit: str) -> str:
    """A band of a reading: temperatures in degrees, bare numbers bare, nothing below nothing."""
    if unit == "K":
        return f"{band.low - _KELVIN:.0f} to {band.high - _KELVIN:.0f} °C"
    if unit == "1":
        return f"{say.span(band, '1')} turns of the machine for one of the crank"
    if abs(band.mid) < 0.06 and band.high < 0.3:
        return "next to nothing"
    return say.span(Band(band.mid, max(band.low, 0.0) if band.mid >= 0 else band.low, band.high), unit)


def fits(f: Foretold) -> bool:
    """Whether a reading goes with what a cause predicts for it."""
    return abs(f.off) < 2


def what_read(f: Foretold) -> tuple[str, str]:
    """(which reading, what was read), for a row of a table."""
    return sentence(WHAT[f.what])[:-1], _one(f.seen, f.unit)


def given(f: Foretold) -> str:
    """What a cause predicts for a reading, as a band."""
    return _read(f.band, f.unit)


def foretold(f: Foretold) -> str:
    """One reading against what a cause predicts for it."""
    far = "" if fits(f) else " That does not fit."
    return f"{sentence(WHAT[f.what])[:-1]}: you read {_one(f.seen, f.unit)}; this gives {_read(f.band, f.unit)}.{far}"


def sign(s: Sign) -> str:
    """One reading against what a rig with nothing wrong shows."""
    word = "as expected" if abs(s.z) < 1.65 else ("less than expected" if s.z < 0 else "more than expected")
    at = f"{s.says}: " if s.says else ""
    line = f"{at}{WHAT[s.what]} {_one(s.seen, s.unit)}, {word} ({_read(s.expected, s.unit)})."
    return line[0].upper() + line[1:]


def _one(value: float, unit: str) -> str:
    """One reading as it was read."""
    return f"{value - _KELVIN:.0f} °C" if unit == "K" else say.amount(value, unit, digits=3)


def missing(a: MendAnswer) -> str:
    """The reading that would tell most about which cause it is; "" when none is needed."""
    return f"To know more: {_inside(a.missing[0].what)}." if a.missing else ""


def _cost(cost: float, coin: str) -> str:
    """What it costs as the end of a sentence; "" when nobody knows."""
    if not math.isfinite(cost):
        return ""
    named = coin.removesuffix("s") if round(cost) == 1 else coin
    return f"costs about {cost:.0f} {named}" if cost > 0 else "costs nothing"


def improvement(i: Improvement, coin: str = "coins") -> str:
    """One change, what it brings, what it costs and how long it takes."""
    cost = _cost(i.cost, coin)
    work = f"takes {say.time(i.work)}" if i.work > 0 else ""
    what = " and ".join(part for part in (cost, work) if part)
    brings = f"{sentence(i.says)} It brings {say.about(i.watts, 'W')}" + (f", {what}." if what else ".")
    doubt = "" if i.watts.low > 0 else " With what is known of the parts it may bring nothing."
    care = f" Mind: {clause(i.caveat)}." if i.caveat else ""
    return f"{brings}{doubt}{care}"
