"""A scene in words: what happens first that matters, what binds, how sure it is, where the energy goes, what differs.

Short, second person, present tense. Every function takes a frozen `SceneAnswer` and gives text; the list of happenings and
its numbers are made in `words_seconds_rows`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparewatt.parts import Rig
from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.present.words_seconds_compare import compare
from sparewatt.present.words_seconds_hurts import Hurt, caused, ends_well, hurts
from sparewatt.present.words_seconds_reading import (
    TURN_TIME,
    delay,
    energy,
    energy_unit,
    in_runs,
    mean_end,
    most_of,
    smoothed,
    track_of,
)
from sparewatt.present.words_seconds_rows import Row, load_name, moment, part_place, rows
from sparewatt.rig.outcome import Band, Stop
from sparewatt.studies.scenes.answers import Peak, SceneAnswer

__all__ = [
    "LedgerRow", "Row", "chances", "compare", "happenings", "ledger_rows", "ledger_sentence", "meter_line",
    "picture_sentence", "rows", "scene_answer", "scene_binds", "steady_line",
]  # fmt: skip

SIDES = {"in": "goes in", "delivered": "delivered", "toll": "toll", "store": "stored"}
_CHANCES = {
    "stall": "It drags you to a stop",
    "over volts": "The volts pass what a part stands",
    "hiccup": "The board sleeps and wakes, again and again,",
    "served": "The load gets what it asks for most of the time it is on",
    "fuse": "A fuse opens",
}
UNSEEN = 5e-4  # share of what goes in below which a toll is left out of the list
FIRST = 6.0  # s after the first step that count as "at first"
# The same as things, for those that never happen.
_NOUNS = {
    "stall": "a stall",
    "over volts": "volts over a rating",
    "over load volts": "too many volts for the load",
    "hiccup": "a board that sleeps and wakes again and again",
    "fuse": "an open fuse",
}
FEEDS = 0.5  # s of running on that are worth telling
STANDS = 0.5  # rad/s below which a shaft is said to stand
WARM_ROOM = 298.15  # K, from which warming is counted
_ENOUGH = 0.15  # share of the runs from which an unlucky ending belongs into the answer


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerRow:
    """One line of the energy ledger: its side in words, its name, joules, and its share of all that went in."""

    side: str
    name: str
    joules: float
    amount: str
    share: str


# ---- the answer ------------------------------------------------------------------------------------------------------


def scene_answer(a: SceneAnswer, rig: Rig) -> str:
    """What happens first that matters, in one breath; what holds is told as plainly as what does not."""
    found = hurts(a, rig)
    if found:
        parts = [sentence(caused(a, found[0]))]
        parts += [sentence(_more(a, one)) for one in found[1:3]]
        if a.ends == "holds" and ends_well(found):
            parts.append("In the end it holds.")
        return " ".join(parts)
    text = _holds(a) if a.ends in ("holds", "free") else _other_end(a)
    return " ".join(part for part in (text, _unlucky(a)) if part)


def _more(a: SceneAnswer, one: Hurt) -> str:
    """A second thing that matters, with its time."""
    when = f"at {moment(one.at, a.duration)} " if math.isfinite(one.at) else ""
    return f"{when}{one.says}{one.rest}"


def _holds(a: SceneAnswer) -> str:
    """It runs: how fast, what arrives, what the legs feel at first and after."""
    if a.ends == "free":
        return _free(a)
    if (stuck := _stuck(a)) != "":
        return stuck
    first = "It holds."
    speedy = next((h for h in a.happenings if h.key == "tool_at_speed"), None)
    feel = _legs(a)
    if speedy is not None:
        since = max((s.at for s in a.steps if s.at <= speedy.at), default=0.0)
        span = delay(speedy.at - since) if speedy.at > since else ""
        name = load_name(a)
        up = f"{name} is up to speed {span} after you switch it on" if span else f"{name} is at speed at once"
        return f"{first} {sentence(f'{up}; {feel}' if feel else up)}"
    told = [x for x in (_clamped(a), _pace(a), feel) if x]
    return " ".join(part for part in (first, sentence("; ".join(told))) if part)


def _free(a: SceneAnswer) -> str:
    """Nothing is fed any more: where the legs and the volts end up."""
    last, volts = mean_end(a, "cadence"), most_of(a, "bus_volts")
    told = _clamped(a) or (f"the volts rise to {say.amount(volts, 'V')}" if math.isfinite(volts) else "")
    pace = f"you spin at {say.turns(last)} with nothing to push" if math.isfinite(last) else ""
    rest = sentence("; ".join(x for x in (pace, told) if x))
    return f"Nothing passes what it stands. {rest}"


def _stuck(a: SceneAnswer) -> str:
    """It stays at a slow running point though it would hold at a faster one, when the map has both."""
    last, hold, tip = mean_end(a, "cadence"), a.steady.w_hold, a.steady.w_tip
    if not (math.isfinite(tip) and math.isfinite(last)) or last > tip or a.holds == "cadence":
        return ""
    return (
        f"It gets stuck low: you settle at {say.turns(last)}, though it would hold at {say.whole_turns(hold)}. "
        f"Below {say.whole_turns(tip)} it does not let you up. Get up to speed first, and only then give it the load."
    )


def _clamped(a: SceneAnswer) -> str:
    """The clamp at work: what it burns, and the volts it keeps."""
    starts = next((h for h in a.happenings if h.key == "clamp_starts" and h.unit_of == 0), None)
    if starts is None:
        return ""
    burns, volts = most_of(a, "clamp_power"), most_of(a, "bus_volts")
    watts = f" burns up to {say.watts(burns)} and" if burns > 0.5 else ""
    return f"the clamp{watts} keeps the volts at {say.amount(volts, 'V')}" if math.isfinite(volts) else ""


def _other_end(a: SceneAnswer) -> str:
    """Nothing hurts, and it does not run on either."""
    if a.ends == "stopped":
        return _stopped(a)
    return {
        "stalled": "It stands still in the end: the load asks for more than your legs give.",
        "hiccups": "It never settles: the board sleeps and wakes to the end.",
        "asleep": f"Nothing flows: the board never wakes for long, and {load_name(a)} gets nothing.",
    }.get(a.ends, sentence(a.ends.replace("_", " ")))


def _stopped(a: SceneAnswer) -> str:
    """The legs stop: what the wheels still feed, and how long they turn."""
    since = max(
        (h.at for h in a.happenings if h.key == "freewheel_opens" and h.unit_of == 0), default=math.nan
    )
    moves = _last(a, "machine_speed", STANDS, since)
    turning = moves >= a.duration * (1 - 1e-9)
    rest = "" if turning else ", the rig comes to rest"
    text = f"You stop{rest}{',' if rest else ''} and no part is asked for more than it stands."
    fed = _last(a, "load_power", 0.5, since)
    if fed - since >= FEEDS and fed < a.duration:
        text += f" What still turns feeds {load_name(a)} for {delay(fed - since)} more."
    if turning:
        text += " The machine still turns at the end: keep your hands away until it stands."
    elif moves - since >= FEEDS:
        text += f" The machine turns on for {delay(moves - since)}: keep your hands away until it stands."
    return text


def _last(a: SceneAnswer, key: str, floor: float, since: float) -> float:
    """The last moment at which a track is above a floor, after another moment."""
    track = track_of(a, key)
    if track is None or not math.isfinite(since):
        return math.nan
    above = a.times[(a.times > since) & (track.values > floor)]
    return float(above[-1]) if above.size else math.nan


def _pace(a: SceneAnswer) -> str:
    """Where it settles and what the load gets there."""
    last = mean_end(a, "cadence")
    gets = mean_end(a, "load_power")
    pace = f"you settle at {say.turns(last)}" if math.isfinite(last) else ""
    if a.ask.load == "charge":
        amps = mean_end(a, "battery_amps")
        arrives = f"{say.amount(amps, 'A')} go into the battery" if amps > 0.01 else ""
    else:
        arrives = f"{load_name(a)} gets {say.watts(gets)}" if gets > 0.1 else ""
    return " and ".join(part for part in (pace, arrives) if part)


def _legs(a: SceneAnswer) -> str:
    """What the legs feel: the hardest moment after the first step, and what is left of it at the end."""
    track = track_of(a, "rider_power")
    after = mean_end(a, "rider_power")
    if track is None or not math.isfinite(after):
        return ""
    since = min((s.at for s in a.steps if s.at <= a.duration), default=0.0)
    smooth = smoothed(a.times, track.values)
    early = smooth[(a.times >= since + TURN_TIME) & (a.times <= since + FIRST) & np.isfinite(smooth)]
    most = float(early.max()) if early.size else after
    if most > 1.1 * max(after, 1.0):
        return f"your legs feel {say.watts(most)} at first and {say.watts(after)} after"
    return f"your legs feel {say.watts(after)}"


def _unlucky(a: SceneAnswer) -> str:
    """What the runs say against a good ending, when enough of them do."""
    if a.ends != "holds" or a.runs < 2:
        return ""
    for key, words in (("over volts", "the volts pass what a part stands"), ("stall", "it drags you to a stop"),
                       ("hiccup", "the board sleeps and wakes, again and again")):  # fmt: skip
        share = next((c.share for c in a.chances if c.key == key), 0.0)
        if share >= _ENOUGH:
            return f"But {in_runs(share, a.runs)} {words}."
    return ""


# ---- what binds, chances ---------------------------------------------------------------------------------------------


def scene_binds(a: SceneAnswer) -> str:
    """The part nearest to what it stands, or past it."""
    rated = [p for p in a.peaks if math.isfinite(p.limit) and p.limit > 0 and math.isfinite(p.value)]
    if not rated:
        return f"{_whole(steady_line(a))}No rating is known that this scene could pass.".strip()
    worst = max(rated, key=_use)
    most, limit = _peak_amount(worst, worst.value), _peak_amount(worst, worst.limit)
    when = f" at {moment(worst.at, a.duration)}" if math.isfinite(worst.at) else ""
    part, where = part_place(worst.name)
    if worst.over:
        return f"What binds: {part} sees {most}{where}{when} and stands {limit}.{_spread(worst, a)}"
    share = say.percent(max(_use(worst), 0.0))
    nearest = f"Nothing passes its rating. Nearest is {part}{where}: {most}{when} of the {limit} it stands"
    return f"{nearest}, {share}.{_spread(worst, a)}"


def _use(p: Peak) -> float:
    """How much of what it stands a part is asked for; warmth is counted from a warm room, not from absolute zero."""
    cold = WARM_ROOM if p.unit == "K" else 0.0
    return (p.value - cold) / (p.limit - cold) if p.limit > cold else p.value / p.limit


def _spread(p: Peak, a: SceneAnswer) -> str:
    """The 90 % band of a peak over the runs."""
    if a.runs < 2 or not (math.isfinite(p.low) and math.isfinite(p.high)) or p.low >= p.high:
        return ""
    if not p.unit or p.high - p.low < 0.02 * abs(p.value):
        return ""
    said = say.span(Band(p.value, p.low, p.high), p.unit)
    return f" Nine runs of ten reach {said}." if " to " in said else ""


def _peak_amount(p: Peak, value: float) -> str:
    return say.amount(value, p.unit) if p.unit else f"{value:.3g}"


def steady_line(a: SceneAnswer) -> str:
    """What the map of steady riding says of the same question."""
    hold, tip = a.steady.w_hold, a.steady.w_tip
    if not math.isfinite(hold):
        return "" if a.steady.stop is Stop.FOUND else sentence(f"ridden evenly: {a.steady.stop.value}")
    edge = f" and tips over below {say.whole_turns(tip)}" if math.isfinite(tip) else ""
    return f"Ridden evenly it holds at {say.turns(hold)}{edge}."


def _whole(text: str) -> str:
    return f"{text} " if text else ""


def chances(a: SceneAnswer) -> list[str]:
    """How many of the runs did what, and last what happened in none; nothing when it was played once."""
    if a.runs < 2:
        return []
    known = [c for c in a.chances if math.isfinite(c.share)]
    never = [c for c in known if round(c.share * a.runs) <= 0 and c.key in _NOUNS]
    found = [
        sentence(f"{_chance(a, c.key) or clause(c.says) or c.key} {in_runs(c.share, a.runs)}")
        for c in known
        if c not in never
    ]
    if never:
        found.append(f"Not once in {a.runs} runs: {_or_list([_NOUNS[c.key] for c in never])}.")
    return found


def _chance(a: SceneAnswer, key: str) -> str:
    """What one share of the runs is the share of."""
    if key == "served" and a.ask.load == "charge":
        return "The battery is charged most of the time it is hooked up"
    return _CHANCES.get(key, "")


def _or_list(words: list[str]) -> str:
    return " or ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


# ---- lists -----------------------------------------------------------------------------------------------------------


def happenings(a: SceneAnswer) -> list[tuple[str, str]]:
    """(time, sentence) of every row of the list; row n is ring or flag n of the picture."""
    return [(moment(row.at, a.duration), row.says) for row in rows(a)]


def ledger_rows(a: SceneAnswer) -> list[LedgerRow]:
    """The energy ledger, one row an entry, in the order of the chain."""
    total = sum(e.joules for e in a.ledger if e.side == "in" and math.isfinite(e.joules))
    unit = energy_unit(total)
    return [
        LedgerRow(
            side=_side(e.side, e.joules),
            name=e.name,
            joules=e.joules,
            amount=f"{energy(e.joules if e.side in ('in', 'toll') else abs(e.joules), unit)} {unit}",
            share=say.percent(abs(e.joules) / total) if total > 0 else "",
        )
        for e in a.ledger
        if e.side != "toll" or not abs(e.joules) < UNSEEN * total
        if not (e.key == "load" and e.joules == 0.0 and a.ask.load == "charge")
    ]


def _side(side: str, joules: float) -> str:
    if side in ("store", "delivered") and joules < 0:
        return "taken out"
    return SIDES.get(side, side)


def ledger_sentence(a: SceneAnswer) -> str:
    """The ledger as one sentence: what went in, what arrived, what kept the most."""
    known = [e for e in a.ledger if math.isfinite(e.joules)]
    put_in = sum(e.joules for e in known if e.side == "in")
    if not known or not put_in > 0:
        return "Nothing goes in, so there is nothing to tell of."
    given = sum(max(e.joules, 0.0) for e in known if e.side == "delivered")
    stored = sum(e.joules for e in known if e.side == "store")
    stored += sum(min(e.joules, 0.0) for e in known if e.side == "delivered")
    unit = energy_unit(put_in)
    text = f"{energy(put_in, unit)} {unit} from the legs, {energy(given, unit)} {unit} delivered"
    if abs(stored) > 0.005 * put_in:
        text += (
            f", {energy(abs(stored), unit)} {unit} {'put in store' if stored > 0 else 'taken out of store'}"
        )
    tolls = [e for e in known if e.side == "toll" and e.joules > 0]
    if tolls:
        worst = max(tolls, key=lambda e: e.joules)
        text += f"; the largest toll is {clause(worst.name)}, {energy(worst.joules, unit)} {unit}"
    return f"{text}. {_closes(a)}".strip()


def _closes(a: SceneAnswer) -> str:
    if not math.isfinite(a.closes):
        return ""
    return f"The ledger closes within {max(abs(a.closes) * 100, 0.01):.2g} % of what went in."


def meter_line(a: SceneAnswer) -> str:
    """What a meter that shows mean volts and mean amps would tell, against the true mean watts."""
    shown, true = a.meter
    if true < -0.5:
        return f"What feeds the bus gives {say.watts(-true)} back to the machine at the end."
    if not (math.isfinite(shown) and math.isfinite(true)) or abs(true) < 0.5:
        return ""
    off = shown / true - 1.0
    if abs(off) < 0.01:
        return (
            f"Mean volts times mean amps gives {say.watts(shown)} at the bus, within 1 % of the true watts."
        )
    way = "less" if off < 0 else "more"
    first = (
        f"Mean volts times mean amps gives {say.watts(shown)} at the bus; the true mean is {say.watts(true)}"
    )
    return f"{first}. Read that way, a meter tells {say.percent(abs(off))} {way} than there is."


# ---- the picture and its rival ---------------------------------------------------------------------------------------


def picture_sentence(a: SceneAnswer) -> str:
    """The sentence under the picture; it can stand alone."""
    cadence = track_of(a, "cadence")
    if cadence is None or a.times.size < 2:
        return "There is nothing to draw for this scene."
    finite = cadence.values[np.isfinite(cadence.values)]
    if not finite.size:
        return "There is nothing to draw for this scene."
    late = cadence.values[
        np.isfinite(cadence.values) & (a.times >= a.times[-1] - min(2.0, 0.05 * a.duration))
    ]
    ends = (float(finite[0]), float(late.mean()) if late.size else float(finite[-1]))
    first, last = (w if abs(w) > 0.5 * STANDS else 0.0 for w in ends)
    same = say.whole_turns(first) == say.whole_turns(last)
    pace = (
        f"ends where it began, at {say.turns(last)},"
        if same
        else f"goes from {say.whole_turns(first)} to {say.turns(last)}"
    )
    text = f"{a.name}, {say.time(a.duration)}: the cadence {pace}"
    volts = track_of(a, "bus_volts")
    if volts is not None and np.isfinite(volts.most).any():
        text += f" and the bus reaches {say.amount(float(np.nanmax(volts.most)), 'V')}"
    told = {row.told for row in rows(a)}
    doings = {True: "Numbered flags are what you do", False: "Numbered rings are what the rig does"}
    marks = f" {say.and_list([doings[k] for k in (False, True) if k in told])}." if told else ""
    marks = marks.replace("and Numbered flags", "and flags")
    band = " The shaded band is nine runs of ten." if any(t.low is not None for t in a.tracks) else ""
    hold = " Rings at the right edge: ridden evenly it holds at the solid one and tips over below the hollow one."
    rings = hold if math.isfinite(a.steady.w_hold) and math.isfinite(a.steady.w_tip) else ""
    return f"{sentence(text)}{rings}{band}{marks}"
