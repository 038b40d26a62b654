"""One step of a script read: from its marks to what happens, or the reason why it cannot be used."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.language.lexer import Token, joined
from sparewatt.language.names import Names, asked_load, fold, gear_of, station_of
from sparewatt.language.phrases import RIDER, Heard, heard
from sparewatt.language.plan import LIGHT, Said
from sparewatt.quantities import factor, render

__all__ = ["Refused", "nearest_step", "read_step"]

MOST_WATTS, MOST_TURNS = 2500.0, 32.0  # W and rad/s: the limits a rig file has
MOST_WORK = 10.0  # of the rated push: more has been written without its %
_SHARES = {"half": 0.5, "quarter": 0.25, "full": 1.0}
_WORK = {"let_go": 0.0, "light": LIGHT, "full": 1.0}
_NEVER = frozenset({"not", "never", "don't", "doesn't", "dont", "cannot", "can't", "nobody", "nothing"})
_LENGTH = 'make its end a step of its own: "at 5 s hold 70 rpm; 3 s later pedal at 50 rpm"'
UNREAD = "this is not understood."


@dataclass(frozen=True, slots=True)
class Refused:
    """Why a step cannot be used; near: the name or words that were probably meant."""

    why: str
    near: str = ""
    hint: str = ""
    firm: bool = False  # the words are clear, so no other reading is looked for


def read_step(tokens: Sequence[Token], names: Names, rider: str, hooked: str = "") -> Said | Refused:
    """The first reading of these marks whose names are found on this rig, with this rider and this load hooked up."""
    for token in tokens:
        if token.problem is not None:
            return Refused(token.problem.problem, hint=token.problem.hint, firm=True)
        if token.word in _NEVER:
            hint = "leave it out, or tell what happens instead"
            return Refused(
                "this tells what does not happen; a scene tells only what does.", hint=hint, firm=True
            )
    if any(token.kind == "s" for token in tokens):
        return Refused("a step happens at one moment; it has no length.", hint=_LENGTH, firm=True)
    soft: list[tuple[Heard, Refused]] = []
    for one in heard(tokens):
        got = _resolved(one, names, rider, hooked)
        if isinstance(got, Said) or got.firm:
            return got
        soft.append((one, got))
    near = [got for _, got in soft if got.near]
    clear = [got for one, got in soft if _clear(one)]
    return next(iter(near + clear), Refused(UNREAD))


def _clear(one: Heard) -> bool:
    """Whether the words around a name leave no doubt that it is a name."""
    load, who = one.slots.get("load", ()), one.slots.get("who", ())
    if one.kind in ("on", "off"):
        return bool(one.words & {"switch", "start"}) and 0 < len(load) <= 4
    return one.kind in ("leave", "join") and "step" in one.words and 0 < len(who) <= 4


def _resolved(one: Heard, names: Names, rider: str, hooked: str) -> Said | Refused:
    """One reading with its names looked up and its amounts weighed."""
    if one.kind not in ("leave", "join") and "who" in one.slots:
        seat, look = station_of(one.slots["who"], names, rider)
        if not seat:
            return Refused(
                look.why, look.near if len(one.slots["who"]) <= 2 else "", _here("rider", names.riders)
            )
        if seat > 1 and one.kind in RIDER:
            who = joined(one.slots["who"])
            hint = f'"{who} steps off" or "{who} steps back on"'
            return Refused("only the rider of the main rig can be told how to ride.", hint=hint, firm=True)
    if one.kind in ("leave", "join"):
        return _seat(one, names, rider)
    if one.kind == "shift":
        return _gear(one, names)
    target = ""
    if "load" in one.slots:
        load = asked_load(one.slots["load"], names, hooked)
        if load.why and any(
            asked_load(one.slots["load"][k:], names, "").name for k in range(1, len(one.slots["load"]))
        ):
            return Refused(UNREAD)  # the name is known, so it is the words before it that are not
        if load.why:
            return Refused(load.why, load.near, _here("load", names.loads))
        target = load.name
    return _valued(one, target)


def _here(kind: str, known: Sequence[str]) -> str:
    return f"{kind}s here: " + (", ".join(f'"{name}"' for name in known) or "none in the file")


def _valued(one: Heard, target: str) -> Said | Refused:
    """The kinds that carry an amount, and those that carry none."""
    if one.kind in _WORK:
        return Said("work", target, _WORK[one.kind])
    if one.kind == "share":
        return _share(one, target)
    if one.kind in ("effort", "power"):
        value = _number(one, "w", 1.0)
        if not 0 < value <= MOST_WATTS:
            hint = f'watts above 0 and up to {MOST_WATTS:.0f}; "stop pedalling" for none'
            return Refused("no rider gives that many watts.", hint=hint, firm=True)
        return Said(one.kind, "", value)
    if one.kind == "cadence":
        value = _number(one, "r", factor("rpm"))
        if not 0 < value <= MOST_TURNS:
            hint = f'above 0 and up to {render(MOST_TURNS, "rpm")}; "stop pedalling" for none'
            return Refused("no rider turns that fast or that slowly.", hint=hint, firm=True)
        return Said("cadence", "", value)
    if one.kind == "bare":
        said = one.slots["n"][0].text
        return Refused("this number has no unit.", hint=f'"hold {said} rpm", "ride at {said} W"', firm=True)
    return Said(one.kind, target)


def _number(one: Heard, slot: str, alone: float) -> float:
    """The amount of a step; a number alone counts in `alone`."""
    return one.slots[slot][0].value if slot in one.slots else one.slots["n"][0].value * alone


def _share(one: Heard, target: str) -> Said | Refused:
    word = next((w for w in _SHARES if w in one.words), "")
    if "o" in one.slots:
        value = LIGHT if one.slots["o"][0].value == 3 else math.nan
    else:
        value = _SHARES[word] if word else _number(one, "p", 1.0)
    if not 0 <= value <= MOST_WORK:
        return Refused(
            "no tool is worked at that share.", hint='"work at 50 %", "light work" or "let go"', firm=True
        )
    return Said("work", target, value)


def _gear(one: Heard, names: Names) -> Said | Refused:
    if len(names.gears) < 2:
        return Refused(
            "this rig has one gear, so nothing can be shifted.", hint="leave this step out", firm=True
        )
    look = gear_of(one.slots, one.words, names)
    if look.why:
        hint = f"gears from easy to hard: {', '.join(names.gears)}"
        return Refused(look.why, f"shift to {look.near}" if look.near else "", hint, firm=True)
    return Said("shift", look.name)


def _seat(one: Heard, names: Names, rider: str) -> Said | Refused:
    who = one.slots.get("who", ())
    if not names.beside:
        known = not who or station_of(who, names, rider)[0] > 0 or _is_rider(who, names)
        hint = '"stop pedalling" or "pedal again"'
        return Refused(
            "only one rides here, so nobody can step off and leave the rest riding.", hint=hint, firm=known
        )
    seats = [f"rig {k}" for k in range(1, len(names.beside) + 2)]
    hint = f"say who: {', '.join(seats)}, or a rider by name"
    if not who:
        return Refused("several ride here, and this does not say who.", hint=hint, firm=True)
    number, look = station_of(who, names, rider)
    if not number:
        return Refused(look.why, look.near, hint, firm=_is_rider(who, names))
    return Said(one.kind, str(number))


def _is_rider(who: Sequence[Token], names: Names) -> bool:
    return any(fold(joined(who)) == fold(name) for name in names.riders)


def nearest_step(text: str, offered: Sequence[str]) -> str:
    """The example closest to what was written, with the written number in it when each has one."""
    plain = fold(text)
    known = {fold(one): one for one in reversed(offered)}
    close = difflib.get_close_matches(plain, known, n=1, cutoff=0.6)
    if not close:
        return ""
    best = known[close[0]]
    number = r"(?<![\w./])[0-9]+(?:\.[0-9]+)?(?![\w./])"
    mine, its = re.findall(number, text), re.findall(number, best)
    return re.sub(number, mine[0], best) if len(mine) == len(its) == 1 else best
