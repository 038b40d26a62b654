"""The leg picture in words."""

from __future__ import annotations

import math

from sparewatt.present.numbers import amount, band, rpm
from sparewatt.quantities.units import factor
from sparewatt.rig.outcome import Band, Crossing
from sparewatt.studies.answers import MatchAnswer

__all__ = ["caption", "crossings", "load_words", "long_text", "main_crossings", "span", "turns"]


def turns(w: float) -> float:
    """rad/s as turns a minute."""
    return w / factor("rpm")


def span(b: Band, middle: float) -> str:
    """Turns a minute as "76 to 88", or the middle alone where there is no band."""
    if math.isfinite(b.low) and math.isfinite(b.high):
        return band(b, "rad/s").number
    return rpm(middle)


def load_words(answer: MatchAnswer) -> str:
    """The load, and the gear when there is more than one."""
    gear = answer.gear if len(answer.gears) > 1 else ""
    return f"{answer.ask.load} on {gear}" if gear else answer.ask.load


def main_crossings(answer: MatchAnswer) -> tuple[Crossing | None, Crossing | None]:
    """The holding point that the answer speaks of, and the tipping point next below it."""
    holds = [cross for cross in answer.picture.crossings if cross.kind == "holds"]
    if not holds:
        return None, None
    spoken = answer.hold.mid if math.isfinite(answer.hold.mid) else max(c.w_crank for c in holds)
    hold = min(holds, key=lambda c: abs(c.w_crank - spoken))
    below = [c for c in answer.picture.crossings if c.kind == "tips" and c.w_crank < hold.w_crank]
    return hold, max(below, key=lambda c: c.w_crank, default=None)


def crossings(answer: MatchAnswer) -> list[tuple[Crossing, bool]]:
    """The crossings to show, those the answer speaks of first and marked so; of two at one cadence only the first."""
    main = [cross for cross in main_crossings(answer) if cross is not None]
    rank = {"holds": 0, "chatters": 1, "tips": 2}
    others = sorted(answer.picture.crossings, key=lambda c: rank.get(c.kind, 3))
    shown: list[tuple[Crossing, bool]] = [(cross, True) for cross in main]
    for cross in others:
        if all(abs(turns(cross.w_crank) - turns(had.w_crank)) > 2.5 for had, _ in shown):
            shown.append((cross, False))
    return shown


def caption(answer: MatchAnswer) -> str:
    """The sentence under the leg picture; it can stand alone."""
    p = answer.picture
    if p.cadence.size == 0:
        return f"There are no lines to draw: {answer.stop.value}."
    hold, tip = main_crossings(answer)
    if hold is None:
        who = answer.ask.rider
        return f"The load line stays above what {who} can push at every cadence: {answer.stop.value}."
    pace = span(answer.hold, hold.w_crank)
    text = f"The lines cross where the rig runs: it holds at {pace} turns a minute (solid ring)"
    if tip is not None:
        text += f"; below {rpm(tip.w_crank)} it drags you to a stop (hollow ring)"
    if math.isfinite(p.breaks) and turns(p.breaks) < 150:
        text += f". Above {rpm(p.breaks)}, {p.breaks_what}: may break (hatch)"
    return text + ". The band is what these legs give in nine rides of ten."


def long_text(answer: MatchAnswer, inch: bool = False) -> str:
    """The picture as text, with its numbers."""
    p = answer.picture
    parts = [caption(answer)]
    for cross, _ in crossings(answer):
        word = {"holds": "Holding point", "tips": "Tipping point"}.get(cross.kind, "It chatters")
        parts.append(
            f"{word}: {rpm(cross.w_crank)} turns a minute, {amount(cross.torque_crank, 'N*m', inch=inch).text}."
        )
    if math.isfinite(answer.spare.mid):
        parts.append(f"Spare: {band(answer.spare, 'W').text}.")
    for words, w in (
        ("Nothing flows below", p.wakes),
        ("Volts pass straight through from", p.passes),
        ("Comfortable cadence", p.comfortable),
    ):
        if math.isfinite(w):
            parts.append(f"{words}: {rpm(w)} turns a minute.")
    for row in answer.gears:
        where = f"holds at {span(row.hold, row.hold.mid)}" if math.isfinite(row.hold.mid) else row.stop.value
        parts.append(
            f"Gear {row.gear}: {where}; {amount(row.ceiling, 'V').text} open at {rpm(row.fastest)} turns a minute."
        )
    return " ".join(parts)
