"""Answers as they are said aloud: one sentence first, then what binds, then what to do.

Short, second person, present tense. Every function takes frozen results of a study (and the filled rig, where parts have
names) and gives text. What will not work is said first; the reason stands in the sentence. `words_parts` has what all
sections share (and it is named here too); `words_loads` and `words_guard` have the other sections.
"""

from __future__ import annotations

import math

from sparewatt.parts import Rig
from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.present.words_parts import (
    CELL_WORDS,
    CHECK_WORDS,
    STOP_DO,
    VERDICT_WORDS,
    caveat,
    cell,
    change,
    edge_of,
    edges,
    gear,
    link,
    room,
    setting,
    shares,
    spare,
    stop_do,
    unknown,
    verdict,
)  # fmt: skip
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Band, Link, Mode, Stop
from sparewatt.studies.answers import MatchAnswer

__all__ = [
    "CELL_WORDS", "CHECK_WORDS", "STOP_DO", "VERDICT_WORDS", "caveat", "cell", "change", "edges", "gear", "hold_time",
    "link", "match_answer", "match_because", "match_binds", "match_do", "room", "setting", "shares", "spare", "stop_do",
    "unknown", "verdict",
]  # fmt: skip

_MODES = {
    Mode.PASSES: "The board passes the volts straight through there.",
    Mode.DROPS_OUT: "The board has too few volts there and its output sags.",
    Mode.LIMITED: "The board takes in all the amps it can there.",
    Mode.CHATTERS: "The board wakes and sleeps, again and again, there.",
    Mode.DRIVEN: "The battery drives the machine there: no diode stops it.",
}


_AT_AN_EDGE = (Stop.FOUND, Stop.STALLS, Stop.EDGE_MACHINE, Stop.EDGE_BOARD, Stop.CHATTERS)


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
    if a.shares is not None:
        return f"your share of {say.the(joined.load.name)} is {say.watts(a.delivered.mid)}"
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
    if a.why:
        return f"Hard work, because {clause(a.why)}."
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
    if a.why:
        return f"No: {clause(a.why)}."
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


def _unridable(a: MatchAnswer) -> str:
    """The cadence it settles at."""
    w = a.point.w_crank if a.point is not None else math.nan
    pace = f", about {say.whole_turns(w)} turns a minute" if math.isfinite(w) else ""
    return f"because the drive asks for it{pace}"


def match_because(a: MatchAnswer, rig: Rig) -> str:
    """The limit that binds, with its number, as a clause that starts with "because"."""
    board = hookup(rig, a.ask.load).board
    if a.stop in _NO_VOLTS:
        top = max(a.gears, key=lambda row: row.ceiling, default=None)
        if top is None or not math.isfinite(top.ceiling):
            return ""
        pace = say.whole_turns(top.fastest)
        return f"because even at {pace} turns a minute it makes only {say.amount(top.ceiling, 'V')} open"
    if a.stop is Stop.OVERFILLS:
        return _overfills(a, rig)
    if a.stop is Stop.KEEPS:
        return _keeps(a)
    if a.stop is Stop.UNRIDABLE:
        return _unridable(a)
    if a.stop is Stop.DRAGS:
        return "because turning the rig takes it all before the first watt comes out"
    lowest = _binding_edge(a)
    edge = edge_of(a.edges, lowest)
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


def _keeps(a: MatchAnswer) -> str:
    p = a.point
    worst = _worst_toll(a)
    if p is None or worst is None:
        return "because the tolls on the way take it"
    arrives = f"of {say.watts(p.p_rider)} at the pedals {say.watts(max(p.p_battery, 0.0))} arrives"
    return f"because {arrives}, and the {worst.name} alone keeps {say.watts(worst.toll)}"


def _worst_toll(a: MatchAnswer) -> Link | None:
    return max(
        (x for x in a.chain if x.key not in ("legs", "battery", "load")), key=lambda x: x.toll, default=None
    )


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
    elif math.isfinite(a.screw):
        parts.append(f"The amps screw binds: it lets {say.amount(a.screw, 'A', digits=3)} through.")
    elif a.stop in _AT_AN_EDGE and math.isfinite(edge_of(a.edges, _binding_edge(a))):
        parts.append(edges(a.edges, _binding_edge(a)))
    if math.isfinite(a.spare.mid) and a.stop is Stop.FOUND:
        parts.append(spare(a.spare))
    worst = _worst_toll(a)
    if worst is not None and worst.toll > 0.5 and a.stop in (Stop.FOUND, Stop.PINNED, Stop.KEEPS):
        parts.append(f"The largest toll: {link(worst)}")
    return " ".join(parts) or (
        "The volts bind, not the legs." if a.stop in _NO_VOLTS else sentence(a.binds_says)
    )


def match_do(a: MatchAnswer) -> str:
    """What to do: the nearest yes, else what the outcome asks for; "" when there is nothing to change."""
    if a.nearest_yes:
        return f"Nearest yes: {change(a.nearest_yes[0])}"
    return "" if a.verdict == "good use of legs" or a.stop in (Stop.FOUND, Stop.UNFAIR) else stop_do(a.stop)
