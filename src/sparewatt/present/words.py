"""Answers as they are said aloud: one sentence first, then what binds, then what to do.

Short, second person, present tense. Every function takes frozen results of a study (and the filled rig, where parts have
names) and gives text. What will not work is said first; the reason stands in the sentence. This module has the words that
all sections share and those of `match`; `words_loads` and `words_guard` have the others.
"""

from __future__ import annotations

import math

from sparewatt.parts import Rig
from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Band, Caveat, Link, Mode, Stop
from sparewatt.studies.answers import Change, Edges, GearRow, MatchAnswer, Room, Setting, Shares, Unknown

__all__ = [
    "CELL_WORDS", "CHECK_WORDS", "STOP_DO", "VERDICT_WORDS", "caveat", "cell", "change", "edges", "gear", "hold_time",
    "link", "match_answer", "match_because", "match_binds", "match_do", "room", "setting", "shares", "spare", "stop_do",
    "unknown", "verdict",
]  # fmt: skip

VERDICT_WORDS = {
    "good use of legs": "Legs do this well.",
    "hard work": "Legs can do this, and you will feel it.",
    "not by legs": "Do not ask legs for this.",
}
CHECK_WORDS = {
    "not refused": "Nothing that was looked at speaks against it. That is not a promise.",
    "look again": "Look at this before you ride.",
    "stop": "Put this right before you ride.",
}
STOP_DO: dict[Stop, str] = {
    Stop.FOUND: "Ride on.",
    Stop.PINNED: "If the pace feels wrong, change the gear or the pulley; pushing harder will not change it.",
    Stop.STALLS: "Shed load, ride harder for a shorter time, or put a battery between legs and load.",
    Stop.EDGE_MACHINE: "Turn the machine faster with a smaller pulley on it, or take one with less winding resistance.",
    Stop.EDGE_BOARD: "Give the board more volts with a faster machine, take a board that accepts more amps, or shed load.",
    Stop.CHATTERS: "Start with the load off, get up to speed, then switch it on; if it still pulses, shed load.",
    Stop.NEVER_CHARGES: "Turn the machine faster: a harder gear, or a smaller pulley on it.",
    Stop.NEVER_WAKES: "Turn the machine faster with a harder gear or a smaller pulley, or take a board that wakes earlier.",
    Stop.TOO_FEW_VOLTS: "Turn the machine faster, or put a step-up board in between.",
    Stop.BREAKS: "Turn the machine slower, or put a step-down board in between that stands the volts.",
    Stop.OVERFILLS: "Set the amps screw lower, ride easier, or put two batteries side by side.",
    Stop.UNFAIR: "Set the same amps limit on every board, or add a little resistance in each lead.",
    Stop.DRAGS: "Take drag away first: the tyre off the roller, a lighter belt, a slower machine.",
    Stop.NOT_ON_DC: "Leave it off this rig.",
    Stop.NO_MACHINE: "Look for one with magnets inside: short its two wires, turn it by hand, and it pulls back.",
}
CELL_WORDS = {
    "rideable": "You can ride here.",
    "asleep": "Too slow: nothing flows yet.",
    "not enough legs": "This asks for more than your legs have.",
    "tips over": "It tips over here: a moment's slack and it drags you to a stop.",
    "passes through": "The board passes the volts straight through here and holds nothing back.",
    "may break": "Something may break here: the volts or the amps pass a part's limit.",
    "too hot": "The winding gets too hot here before you are done.",
    "slips": "It slips here on every push.",
    "not served": "It turns here, but the load does not get what it needs.",
}
_MODES = {
    Mode.PASSES: "The board passes the volts straight through there.",
    Mode.DROPS_OUT: "The board has too few volts there and its output sags.",
    Mode.LIMITED: "The board takes in all the amps it can there.",
    Mode.CHATTERS: "The board wakes and sleeps, again and again, there.",
    Mode.DRIVEN: "The battery drives the machine there: no diode stops it.",
}


def verdict(word: str) -> str:
    """What a verdict or check word means, as a sentence."""
    return VERDICT_WORDS.get(word) or CHECK_WORDS[word]


def cell(word: str) -> str:
    """What a cell of the room to ride in means, as a sentence."""
    return CELL_WORDS[word]


def stop_do(stop: Stop) -> str:
    """What to do about an outcome."""
    return STOP_DO[stop]


def caveat(c: Caveat) -> str:
    """A caveat as one sentence, its place first unless the text names it."""
    return (
        sentence(c.text)
        if not c.where or c.where.casefold() in c.text.casefold()
        else f"{c.where[0].upper()}{c.where[1:]}: {clause(c.text)}."
    )


# ---- match ----


def match_answer(a: MatchAnswer, rig: Rig) -> str:
    """The answer to "what ratio, volts and settings?" as spoken sentences, the no first."""
    if a.stop not in (Stop.FOUND, Stop.PINNED) or not math.isfinite(a.hold.mid):
        if a.ask.cadence is not None and a.stop in (Stop.FOUND, Stop.PINNED):
            return _at_cadence(a, rig)
        return _no(a, rig)
    if a.ask.cadence is not None:
        return _at_cadence(a, rig)
    ride = f"{_pace(a)} and {_gets(a, rig)}."
    if a.verdict == "not by legs":
        return f"{_why_not(a, rig)} {_would(ride)}"
    return " ".join(part for part in (ride, _tenure(a), _hard(a, rig)) if part)


def _pace(a: MatchAnswer) -> str:
    on = f" on {a.gear}" if a.gear and a.gear != "single" else ""
    return f"Ride at {say.turns_span(a.hold)}{on}"


def _would(ride: str) -> str:
    return f"While it lasts: {ride[0].lower()}{ride[1:]}"


def _gets(a: MatchAnswer, rig: Rig) -> str:
    """Where the watts go, as the end of a sentence."""
    joined = hookup(rig, a.ask.load)
    if joined.load is None:
        return f"{say.about(a.delivered, 'W')} goes into the battery"
    gets = f"{say.the(joined.load.name)} gets its {say.watts(a.delivered.mid)}"
    if joined.battery is None or a.point is None:
        return gets
    share = a.point.p_battery
    if share > 1.0:
        return f"{gets} with about {say.watts(share)} left over for the battery"
    if share < -1.0:
        return f"{gets}, about {say.watts(-share)} of it from the battery"
    return gets


def hold_time(t: Band, duration: float) -> str:
    """How long it can be held against how long was asked, as a clause about "you"."""
    if math.isnan(t.mid) and math.isnan(t.low):
        return ""
    if t.low >= duration or (t.mid >= duration and say.time(t.low) == say.time(duration)):
        return f"you can hold this for {say.time(duration)}"
    if t.mid >= duration:
        return f"you can most likely hold this for {say.time(duration)}, on a poor day for {say.time(t.low)}"
    return f"you can hold this for {say.time_span(t)}, not for {say.time(duration)}"


def _tenure(a: MatchAnswer) -> str:
    held = hold_time(a.time_to_limit, a.ask.duration)
    if math.isfinite(a.tip.mid):
        edge = f"below {say.whole_turns(a.tip.mid)} it will drag you to a stop"
    elif a.stop is Stop.PINNED:
        edge = "the battery sets the pace, so pushing harder brings amps, not turns"
    else:
        edge = ""
    return sentence("; ".join(part for part in (held, edge) if part))


def _hard(a: MatchAnswer, rig: Rig) -> str:
    """Why it is hard work, when it is and the time does not say so already."""
    if a.verdict != "hard work":
        return ""
    if a.chance < 0.8:
        return f"With what is known of the parts it holds {say.chance(a.chance)}."
    if math.isfinite(a.spare.mid) and a.edges.lowest and a.spare.mid < 0.1 * max(a.delivered.mid, 1.0):
        return f"There is hardly any room: {say.watts(max(a.spare.mid, 0.0))} more and it stops, {match_because(a, rig)}."
    if math.isfinite(a.hour_power.mid) and a.rider.mid > a.hour_power.mid:
        return f"It asks for {say.watts(a.rider.mid)} at the pedals; for an hour count on {say.watts(a.hour_power.mid)}."
    return ""


def _why_not(a: MatchAnswer, rig: Rig) -> str:
    """Why a running point is still no answer: too unlikely, too short, or past a limit."""
    t, asked = a.time_to_limit, a.ask.duration
    if a.chance < 0.5:
        return f"No: with what is known of the parts it holds only {say.chance(a.chance)}, {match_because(a, rig)}."
    if not (t.mid >= asked):
        need = f"it takes {say.watts(a.rider.mid)} at the pedals and you can hold that for {say.time_span(t)}"
        return f"No, not for {say.time(asked)}, because {need}."
    return f"No, {match_because(a, rig)}."


def _at_cadence(a: MatchAnswer, rig: Rig) -> str:
    """The answer when one cadence was asked about."""
    assert a.ask.cadence is not None
    at, p = say.turns(a.ask.cadence), a.point
    on = f" on {a.gear}" if a.gear and a.gear != "single" else ""
    if p is None or p.i_out <= 0:
        wake = next((row.wakes for row in a.gears if row.gear == a.gear), math.nan)
        from_ = f" It starts at {say.whole_turns(wake)}." if math.isfinite(wake) else ""
        return f"No: at {at}{on} nothing flows.{from_}"
    need = f"At {at}{on} the rig asks for {say.watts(p.p_rider)} at the pedals"
    if not p.served:
        return f"No. {need} and the load still does not get what it needs. {_MODES.get(p.mode, '')}".strip()
    held = hold_time(Band(a.time_to_limit.mid, a.time_to_limit.low, a.time_to_limit.high), a.ask.duration)
    watts = p.p_load if hookup(rig, a.ask.load).load is not None else p.p_battery
    where = "the load" if hookup(rig, a.ask.load).load is not None else "the battery"
    first = "No. " if a.verdict == "not by legs" else ""
    return " ".join(
        x
        for x in (
            f"{first}{need} and {say.watts(watts)} reaches {where}.",
            sentence(held),
            _MODES.get(p.mode, ""),
        )
        if x
    )


def _no(a: MatchAnswer, rig: Rig) -> str:
    """A refusal: what stops it, with its numbers, and why."""
    name = say.the(a.ask.load) if a.ask.load != "charge" else "the battery"
    if a.stop in (Stop.NOT_ON_DC, Stop.NO_MACHINE):
        return f"No. {sentence(a.binds_says)}"
    if a.stop is Stop.UNFAIR and a.shares is not None:
        return f"No. {shares(a.shares)}"
    because = match_because(a, rig)
    cause = {
        Stop.STALLS: f"{name} asks for more than these legs have at any cadence",
        Stop.EDGE_MACHINE: f"the machine cannot pass what {name} takes at the volts it makes",
        Stop.EDGE_BOARD: f"the board cannot take in what {name} needs at the volts it gets",
        Stop.CHATTERS: f"the board wakes, sags and sleeps with {name} on it, and never settles",
        Stop.BREAKS: f"where it would run, the volts pass what a part stands{_breaks(a)}",
    }.get(a.stop, a.stop.value)
    return f"No: {cause}{', ' + because if because and a.stop is not Stop.BREAKS else ''}."


def _breaks(a: MatchAnswer) -> str:
    row = next((row for row in a.gears if row.gear == a.gear), None)
    if row is None or not row.breaks_what:
        return ""
    return f": {row.breaks_what} from {say.whole_turns(row.breaks)} turns a minute up"


_NO_VOLTS = (Stop.NEVER_CHARGES, Stop.NEVER_WAKES, Stop.TOO_FEW_VOLTS)


def match_because(a: MatchAnswer, rig: Rig) -> str:
    """The limit that binds, with its number, as a clause that starts with "because"."""
    board = hookup(rig, a.ask.load).board
    if a.stop in _NO_VOLTS:
        top = max((row.ceiling for row in a.gears), default=math.nan)
        return (
            f"because even at 120 turns a minute it makes only {say.amount(top, 'V')} open"
            if math.isfinite(top)
            else ""
        )
    if a.stop is Stop.OVERFILLS:
        return _overfills(a, rig)
    if a.stop is Stop.DRAGS:
        return "because turning the rig takes it all before the first watt comes out"
    lowest = _binding_edge(a)
    edge = _edge(a.edges, lowest)
    number = f" ({say.watts(edge)} is the edge)" if math.isfinite(edge) and edge > 0 else ""
    if board is not None and lowest == "board":
        if board.input_current is not None:
            return (
                f"because the {board.name} takes at most {say.amount(board.input_current.value, 'A')}{number}"
            )
        if board.output_current is not None:
            return f"because the {board.name} gives at most {say.amount(board.output_current.value, 'A')}{number}"
    if lowest == "machine":
        machine = rig.machine.name if rig.machine and rig.machine.name else "machine"
        return f"because the {machine} keeps too much as heat in its own winding{number}"
    return f"because your legs hold an effort worth {say.watts(a.ask.effort)} and tolls come off that{number}"


def _binding_edge(a: MatchAnswer) -> str:
    """Which edge the outcome names, else the lowest."""
    named = {Stop.EDGE_BOARD: "board", Stop.EDGE_MACHINE: "machine", Stop.STALLS: "legs"}
    return named.get(a.stop, a.edges.lowest)


def _overfills(a: MatchAnswer, rig: Rig) -> str:
    limit = rig.battery.charge_current.value if rig.battery and rig.battery.charge_current else math.nan
    flows = a.point.i_battery if a.point is not None else math.nan
    if not (math.isfinite(limit) and math.isfinite(flows)):
        return "because nothing holds the amps back"
    return f"because {say.amount(flows, 'A')} flows and the case allows {say.amount(limit, 'A')}"


def match_binds(a: MatchAnswer, rig: Rig) -> str:
    """What binds, after the answer: the largest toll, the edge and the spare."""
    if a.stop in (Stop.NOT_ON_DC, Stop.NO_MACHINE):
        return f"The {'machine' if a.stop is Stop.NO_MACHINE else 'load'} binds: what it is made of, not its size."
    if a.stop in (Stop.OVERFILLS, Stop.UNFAIR):
        return f"The {'battery binds' if a.stop is Stop.OVERFILLS else 'boards bind: they are set a little apart'}."
    parts = []
    if a.stop is Stop.PINNED:
        parts.append("The battery binds: it holds your cadence.")
    elif a.stop in _AT_AN_EDGE and math.isfinite(_edge(a.edges, _binding_edge(a))):
        parts.append(edges(a.edges, _binding_edge(a)))
    if math.isfinite(a.spare.mid) and a.stop is Stop.FOUND:
        parts.append(spare(a.spare))
    worst = max(
        (x for x in a.chain if x.key not in ("legs", "battery", "load")), key=lambda x: x.toll, default=None
    )
    if worst is not None and worst.toll > 0.5 and a.stop in (Stop.FOUND, Stop.PINNED):
        parts.append(f"The largest toll: {link(worst)}")
    return " ".join(parts) or (
        "The volts bind, not the legs." if a.stop in _NO_VOLTS else sentence(a.binds_says)
    )


_AT_AN_EDGE = (Stop.FOUND, Stop.STALLS, Stop.EDGE_MACHINE, Stop.EDGE_BOARD, Stop.CHATTERS)


def _edge(e: Edges, which: str) -> float:
    return {"legs": e.legs, "machine": e.machine, "board": e.board}.get(which, math.nan)


def edges(e: Edges, which: str = "") -> str:
    """One of the three edges (the lowest unless named) as a sentence."""
    which = which or e.lowest
    name = {"legs": "Your legs bind", "machine": "The machine binds", "board": "The board binds"}[which]
    return f"{name}: {say.watts(_edge(e, which))} is the most that has a running point."


def spare(band: Band) -> str:
    """The room between load and edge."""
    if band.mid <= 0:
        return "There is nothing to spare."
    return f"Spare: {say.span(band, 'W')} before it tips over."


def link(x: Link) -> str:
    """What one link of the chain keeps, and its limit when that is near."""
    near = (
        f" It is at {say.percent(x.used)} of its limit: {clause(x.limit)}."
        if x.limit and math.isfinite(x.used) and x.used > 0.8
        else ""
    )
    return f"{x.name} keeps {say.watts(max(x.toll, 0.0))} of {say.watts(x.p_in)}.{near}"


def match_do(a: MatchAnswer) -> str:
    """What to do: the nearest yes, else what the outcome asks for; "" when there is nothing to change."""
    if a.nearest_yes:
        return f"Nearest yes: {change(a.nearest_yes[0])}"
    return "" if a.verdict == "good use of legs" or a.stop in (Stop.FOUND, Stop.UNFAIR) else stop_do(a.stop)


def change(c: Change) -> str:
    """One change and what it gives, with its price when that is known."""
    cost = f"Cost: about {c.cost:.0f}." if math.isfinite(c.cost) and c.cost > 0 else ""
    untried = c.edits and not c.proven
    unproven = "This one was not solved again; try it on the page first." if untried else ""
    return " ".join(part for part in (sentence(c.says), sentence(c.gives), cost, unproven) if part)


def gear(row: GearRow) -> str:
    """One gear as a sentence."""
    if row.stop in (Stop.FOUND, Stop.PINNED) and math.isfinite(row.hold.mid):
        tip = f"; it tips over below {say.whole_turns(row.tip.mid)}" if math.isfinite(row.tip.mid) else ""
        risky = (
            f"; {row.breaks_what} may break from {say.whole_turns(row.breaks)} up"
            if row.breaks_what and math.isfinite(row.breaks)
            else ""
        )
        return f"On {row.gear} it holds at {say.turns_span(row.hold)} with {say.about(row.delivered, 'W')}{tip}{risky}."
    return f"On {row.gear} it does not run: {row.stop.value}."


def room(r: Room) -> str:
    """How much room to ride in there is, and what closes it when there is none."""
    if r.cells.size == 0:
        return "There is no room to ride in."
    free = r.cells == 0
    if not free.any():
        first, second = r.closing or ("not enough legs", "not enough legs")
        both = (
            f"{clause(CELL_WORDS[first])} on one side, {clause(CELL_WORDS[second])} on the other"
            if first != second
            else clause(CELL_WORDS[first])
        )
        return f"There is no room to ride in: {both[0].lower()}{both[1:]}."
    where = r.cadence[free.any(axis=0)]
    names = [r.gears[k] for k in range(len(r.gears)) if free[k].any()]
    gears = (
        f" in {names[0]}"
        if len(names) == 1 and names[0] != "single"
        else f" over {len(names)} gears"
        if len(names) > 1
        else ""
    )
    return f"You can ride from {say.whole_turns(where.min())} to {say.whole_turns(where.max())} turns a minute{gears}."


def unknown(u: Unknown) -> str:
    """What to measure, and how much of the doubt it takes away."""
    doubt = f"{u.name[0].upper()}{u.name[1:]} makes {say.percent(u.share)} of the doubt in this answer."
    return f"{doubt} {sentence(u.measure)} That takes {say.time(60 * u.minutes)}." if u.measure else doubt


def setting(s: Setting, *, inch: bool = False) -> str:
    """One line of the settings card: what to set, to what, why, and what the meter shows."""
    shown = ""
    if s.unit and math.isfinite(s.value):
        shown = say.amount(s.value, s.unit, inch=inch, digits=2 if s.unit == "rad/s" else 3)
    plain = s.unit in ("1", "")
    to = f": {shown}" if shown and not plain else ""
    reads = f"{shown} {clause(s.meter)}" if shown and plain else clause(s.meter)
    meter = f"Meter: {reads}." if s.meter else ""
    return " ".join(part for part in (sentence(s.what + to), sentence(s.why), meter) if part)


def shares(s: Shares) -> str:
    """How several rigs share one bus, and the wire that makes it fair."""
    amps = [row.amps.mid for row in s.rows]
    least, most = min(amps), max(amps)
    if most <= 1.3 * max(least, 1e-6):
        return f"The rigs share fairly: {say.amount(least, 'A')} to {say.amount(most, 'A')} each."
    crushed = max(s.rows, key=lambda row: row.amps.mid)
    idle = [row.name for row in s.rows if row.amps.mid < 0.1 * most]
    easy = "the others" if len(idle) in (0, len(s.rows) - 1) else say.and_list(idle)
    heavy = f"{crushed.name} carries {say.amount(most, 'A')} of {say.amount(sum(amps), 'A')}" + (
        "" if crushed.holds else " and stalls"
    )
    fair = (
        f"Add about {say.amount(s.fair_resistance, 'ohm')} in each lead"
        if math.isfinite(s.fair_resistance) and s.fair_resistance > 0
        else ""
    )
    limit = (
        f"set each board to give at most {say.amount(s.limit_each, 'A')}"
        if math.isfinite(s.limit_each)
        else ""
    )
    cure = sentence(", or ".join(x for x in (fair, limit) if x))
    return f"They do not share by themselves: {heavy}, and {easy} hardly feel it. {cure}".strip()
