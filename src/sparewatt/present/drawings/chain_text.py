"""Words and numbers on the chain: facts of a link, its toll, its limit, the sentence under the picture."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.present.drawings.letters import width
from sparewatt.present.numbers import THIN, Look, Shown, amount, look_of, rpm
from sparewatt.rig.outcome import Link

__all__ = ["facts", "limit_words", "long_text", "said", "title", "toll_words", "watts"]

NOTHING = 5e-4  # A, V, N*m: less than this is nothing at all on a bicycle
MINUS = "\u2212"


def watts(p: float) -> str:
    """Watts as a bare number: whole above ten, one decimal below."""
    if not math.isfinite(p):
        return "?"
    text = f"{p:.0f}" if abs(p) >= 9.95 or abs(p) < 0.05 else f"{p:.1f}"
    return "0" if float(text) == 0 else text.replace("-", MINUS)


def toll_words(link: Link) -> Shown | None:
    """What the link keeps, or gives; None where it is nothing that shows."""
    look = look_of(link.how)
    if not math.isfinite(link.toll):
        return Shown("toll not known", "", look)
    if abs(link.toll) < 0.5:
        return None
    sign = MINUS if link.toll > 0 else "+"
    return Shown(f"{sign}{watts(abs(link.toll))}", "W", look)


def facts(link: Link, room: float, inch: bool) -> list[tuple[str, Look]]:
    """What the link sees, one or two facts a line: volts and amps, turns, push, warmth."""
    electric = [amount(x, unit).text for x, unit in ((link.volts, "V"), (link.amps, "A")) if _shows(x)]
    turning = [amount(link.torque, "N*m", inch=inch).text] if _shows(link.torque) else []
    if _shows(link.speed):
        turns = f"{rpm(link.speed)} turns/min"
        turning.insert(0, turns if width(turns, 15) <= room else f"{rpm(link.speed)}{THIN}/min")
    warm = [amount(link.temperature, "K", inch=inch).text] if math.isfinite(link.temperature) else []
    lines: list[str] = []
    for group in (turning, electric, warm):
        for words in group:
            joined = f"{lines[-1]}, {words}" if lines and words in group[1:] else words
            if lines and words in group[1:] and width(joined, 15) <= room:
                lines[-1] = joined
            else:
                lines.append(words)
    return [(line, "computed") for line in lines]


def _shows(x: float) -> bool:
    """There is a number, and it is more than what arithmetic leaves of nothing: half a milliamp, a millivolt."""
    return math.isfinite(x) and abs(x) >= NOTHING


def limit_words(link: Link) -> str:
    """The nearest limit and how much of it is used."""
    if not link.limit:
        return ""
    if not math.isfinite(link.used):
        return link.limit
    return f"{round(link.used * 100)}{THIN}% of: {link.limit}"


def title(links: Sequence[Link]) -> str:
    """A short title for those who do not see the picture."""
    return f"Where the watts go, from {links[0].name} to {links[-1].name}"


def long_text(links: Sequence[Link], inch: bool = False) -> str:
    """The picture as text, with its numbers."""
    parts = []
    for link in links:
        seen = ", ".join(words for words, _ in facts(link, 9e9, inch))
        toll = toll_words(link)
        text = f"{link.name}: {watts(link.p_in)} W in, {watts(link.p_out)} W out"
        text += f", {toll.text}" if toll else ""
        text += f"; {seen}" if seen else ""
        text += f"; {limit_words(link)}" if link.limit else ""
        parts.append(text + ("; this binds" if link.binds else ""))
    return ". ".join(parts) + "."


def said(links: Sequence[Link]) -> str:
    """The sentence under the chain."""
    if not links:
        return "There is no chain to show."
    first, last = links[0], links[-1]
    if not (math.isfinite(first.p_in) and math.isfinite(last.p_out)):
        return f"Of the {watts(first.p_in)}{THIN}W that go in, it is not known how much arrives."
    text = f"{watts(first.p_in)}{THIN}W from the legs, {watts(last.p_out)}{THIN}W arrive at {_the(last)}"
    tolls = [link for link in links if math.isfinite(link.toll) and link.toll >= 0.5]
    if tolls:
        worst = max(tolls, key=lambda link: link.toll)
        text += f"; {_the(worst)} keeps the most, {watts(worst.toll)}{THIN}W"
    binding = next((link for link in links if link.binds), None)
    return text + (f". What binds: {_the(binding)}." if binding else ".")


def _the(link: Link) -> str:
    return link.name if link.key == "legs" or link.name.startswith(("the ", "your ")) else f"the {link.name}"
