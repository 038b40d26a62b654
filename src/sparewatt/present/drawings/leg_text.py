"""The leg picture in words."""

from __future__ import annotations

import math

from sparewatt.present.numbers import amount, band, rpm
from sparewatt.quantities.units import factor
from sparewatt.rig.outcome import Band
from sparewatt.studies.answers import MatchAnswer

__all__ = ["caption", "long_text", "span", "turns"]


def turns(w: float) -> float:
    """rad/s as turns a minute."""
    return w / factor("rpm")


def span(b: Band, middle: float) -> str:
    """Turns a minute as "76 to 88", or the middle alone where there is no band."""
    if math.isfinite(b.low) and math.isfinite(b.high):
        return band(b, "rad/s").number
    return rpm(middle)


def caption(answer: MatchAnswer) -> str:
    """The sentence under the leg picture; it can stand alone."""
    kinds = {cross.kind: cross for cross in answer.picture.crossings}
    if answer.picture.cadence.size == 0:
        return f"There are no lines to draw: {answer.stop.value}."
    if "holds" not in kinds:
        who = answer.ask.rider
        return f"The load line stays above what {who} can push at every cadence: {answer.stop.value}."
    pace = span(answer.hold, kinds["holds"].w_crank)
    text = f"The lines cross where the rig runs: it holds at {pace} turns a minute (solid ring)"
    if "tips" in kinds:
        text += f"; below {rpm(kinds['tips'].w_crank)} it drags you to a stop (hollow ring)"
    if math.isfinite(answer.picture.breaks) and turns(answer.picture.breaks) < 150:
        text += f". Above {rpm(answer.picture.breaks)} the {answer.picture.breaks_what} may break (hatch)"
    return text + ". The band is what these legs give in nine rides of ten."


def long_text(answer: MatchAnswer, inch: bool = False) -> str:
    """The picture as text, with its numbers."""
    p = answer.picture
    parts = [caption(answer)]
    for cross in p.crossings:
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
        parts.append(f"Gear {row.gear}: {where}; {amount(row.ceiling, 'V').text} open at 120 turns a minute.")
    return " ".join(parts)
