"""The words of `guard` and `heap`: hazards with what to do, sizes with reasons, and what to buy, keep or leave."""

from __future__ import annotations

import math

from sparewatt.parts import Rider
from sparewatt.present import words_numbers as say
from sparewatt.present.words import change
from sparewatt.present.words_numbers import clause, sentence
from sparewatt.rig.endurance import CAREFUL_AGE, spared
from sparewatt.studies.answers import Combination, Finding, GuardAnswer, HeapAnswer, JudgedMachine, Sized

__all__ = [
    "combination", "finding", "guard_answer", "heap_answer", "machine", "rider_caution", "sized", "worst_first",
]  # fmt: skip
GENTLE = "keep to an effort at which you can speak a whole sentence; no efforts to the limit"

_RANK = {"stop": 0, "look again": 1, "not refused": 2}


def worst_first(findings: tuple[Finding, ...]) -> list[Finding]:
    """Findings with the worst first: by check, then by what it can do."""
    return sorted(findings, key=lambda f: (_RANK[f.check], -f.severity, f.title))


def guard_answer(a: GuardAnswer) -> str:
    """The answer to "what can hurt?": the worst first, the rest counted."""
    found = [f for f in worst_first(a.findings) if f.check != "not refused"]
    small = [s for s in a.sizes if s.check != "not refused"]
    if not found:
        first = "Nothing that was looked at speaks against this rig; that is not a promise."
        return " ".join([first, *(sized(s) for s in small[:2])])
    head = found[0]
    opening = "Stop" if head.check == "stop" else "Look again"
    title = clause(head.title)
    title = title[:1].lower() + title[1:] if title[1:2].islower() else title
    parts = [f"{opening}: {title}. {sentence(head.says)} {sentence(head.do)}"]
    stops = sum(f.check == "stop" for f in found[1:])
    looks = len(found) - 1 - stops
    more = [f"{stops} more to put right" if stops else "", f"{looks} to look at again" if looks else ""]
    if any(more):
        parts.append(f"Then {say.and_list([m for m in more if m])}.")
    return " ".join(parts)


def finding(f: Finding, source: str = "") -> str:
    """One hazard: what is so here, what to do, and where the limit comes from (source: readable text for its key)."""
    word = {"stop": "Stop", "look again": "Look again", "not refused": "Not refused"}[f.check]
    said = source or (f.source if " " in f.source else "")
    source = f" Limit from: {clause(said)}." if said else ""
    return f"{word}. {sentence(f.title)} {sentence(f.says)} {sentence(f.do)}{source}".replace(
        "  ", " "
    ).strip()


def sized(s: Sized, *, inch: bool = False) -> str:
    """One thing sized: what to take, and why."""
    have = f"you have {_size(s.have, s.unit, inch)}, " if math.isfinite(s.have) else ""
    need = f"it needs {_size(s.need, s.unit, inch)}" if math.isfinite(s.need) else "look at it"
    word = {"stop": " Stop: change it.", "look again": " Look again.", "not refused": ""}[s.check]
    pick = f" Take {clause(s.pick)}." if s.pick else ""
    return f"{sentence(f'{s.what}: {have}{need}')}{pick} {sentence(s.why)}{word}".replace("  ", " ").strip()


def _size(value: float, unit: str, inch: bool) -> str:
    return say.amount(value, unit, inch=inch) if unit else f"{value:.3g}"


# ---- heap ----


def heap_answer(a: HeapAnswer) -> str:
    """The answer to "what have I got, and is it any good?": what to leave, what to join, the cheapest useful purchase."""
    parts = []
    leave = [m for m in a.machines if m.refused or m.call == "leave"]
    best = a.combinations[0] if a.combinations else None
    if best is None or best.verdict == "not by legs":
        why = f": {clause(best.why)}" if best is not None and best.why else ""
        parts.append(f"No, nothing on this heap does it{why}.")
    else:
        parts.append(combination(best))
    if leave:
        parts.append(
            "Leave " + say.and_list([f"the {m.name} ({clause(m.refused or m.why)})" for m in leave]) + "."
        )
    if a.purchase is not None:
        parts.append(f"The cheapest thing that helps: {change(a.purchase)}")
    return " ".join(parts)


def rider_caution(rider: Rider, said: str = "") -> str:
    """What a rider who is unwell, not grown up or old should do first; "" for anybody else. said: the words told of it."""
    age = math.nan if rider.age is None else rider.age.value
    if rider.fitness == "unwell":
        told = f'You wrote "{said}". ' if said else ""
        return f"{told}Ask a doctor first. Until then {GENTLE}. Stop at pain in the chest, a faint feeling or cold sweat."
    if spared(rider):
        return f"At {age:.0f}, {GENTLE}."
    if age >= CAREFUL_AGE:
        return f"At {age:.0f}, ask a doctor before you push hard. Until then {GENTLE}."
    return ""


def combination(c: Combination) -> str:
    """One way to join the parts."""
    board = f" with the {c.board}" if c.board and c.board not in ("none", "no board") else " with no board"
    gear = f" on {c.gear}" if c.gear and c.gear != "single" else ""
    drive = f" through {c.drive}" if c.drive else ""
    lands = f"you ride at {say.turns_span(c.hold)}{gear} and {say.about(c.delivered, 'W')} comes out"
    if c.verdict == "not by legs":
        return f"The {c.machine}{drive}{board} does not do it: {clause(c.why)}."
    room = f" {say.watts(c.spare)} to spare." if math.isfinite(c.spare) and c.spare > 0 else ""
    return f"Use the {c.machine}{drive}{board}: {lands}.{room} {sentence(c.why)}".replace("  ", " ").strip()


def machine(m: JudgedMachine) -> str:
    """One machine of the heap: take it or leave it, and why."""
    if m.refused:
        return f"Leave the {m.name}: {clause(m.refused)}."
    opening = {
        "buy": f"Take the {m.name}",
        "only if free": f"Take the {m.name} only if it is free",
        "leave": f"Leave the {m.name}",
    }[m.call]
    odd = "".join(f" On its label: {clause(text)}." for text in m.odd)
    board = f" It needs {clause(m.board)}." if m.board else ""
    return f"{opening}: {clause(m.why)}.{board}{odd}"
