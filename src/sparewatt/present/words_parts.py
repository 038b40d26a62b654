"""The words that all sections share: verdicts, outcomes, cells, and the single things an answer is made of.

Short, second person, present tense. `words` has the sentences of `match` and gives these under its own name too.
"""

from __future__ import annotations

import math

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.rig.edges import Edges
from sparewatt.rig.outcome import Band, Caveat, Link, Stop
from sparewatt.studies.answers import Change, GearRow, Room, Setting, Shares, Unknown

__all__ = [
    "CELL_WORDS", "CHECK_WORDS", "STOP_DO", "VERDICT_WORDS", "caveat", "cell", "change", "edge_of", "edges", "gear",
    "link", "room", "setting", "shares", "spare", "stop_do", "unknown", "verdict",
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
    Stop.KEEPS: "Take drag away, or let the machine work at the volts it likes and step them up or down with a board.",
    Stop.SLIPS: "Press the roller harder, tighten the belt, keep it dry, or take a bigger roller or pulley.",
    Stop.UNRIDABLE: "Change the pulley or the gear, not the legs; or put a board in between, which lets the cadence go.",
    Stop.DRAGS: "Take drag away first: the tyre off the roller, a lighter belt, a slower machine.",
    Stop.NOT_ON_DC: "Leave it off this rig.",
    Stop.DEPENDED_ON: "Keep a battery for two nights behind it, and ask the clinic what to do when it fails.",
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


def edge_of(e: Edges, which: str) -> float:
    """Watts of one of the three edges."""
    return {"legs": e.legs, "machine": e.machine, "board": e.board}.get(which, math.nan)


def edges(e: Edges, which: str = "") -> str:
    """One of the three edges (the lowest unless named) as a sentence."""
    which = which or e.lowest
    name = {"legs": "Your legs bind", "machine": "The machine binds", "board": "The board binds"}[which]
    return f"{name}: {say.watts(edge_of(e, which))} is the most that has a running point."


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
    total = f"Together they give {say.amount(sum(amps), 'A')}"
    if s.bare:
        each = say.and_list([f"{row.rider} {say.amount(row.amps.mid, 'A')}" for row in s.rows])
        return f"{total}: {each}. Each adds what the legs push."
    if most <= 1.3 * max(least, 1e-6) and all(row.holds for row in s.rows):
        return f"{total}, and each carries a fair share: {say.amount(least, 'A')} to {say.amount(most, 'A')}."
    crushed = max(s.rows, key=lambda row: row.amps.mid)
    idle = [row.name for row in s.rows if row.amps.mid < 0.1 * most]
    easy = "the others" if len(idle) in (0, len(s.rows) - 1) else say.and_list(idle)
    heavy = f"{crushed.name} carries {say.amount(most, 'A')} of {say.amount(sum(amps), 'A')}" + (
        "" if crushed.holds else " and is dragged to a stop"
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
