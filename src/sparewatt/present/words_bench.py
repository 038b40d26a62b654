"""The bench in sentences: what is known now, which reading is odd and why, what to read next."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import sentence
from sparewatt.quantities import render
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import (
    BenchAnswer,
    Constant,
    CrossCheck,
    NextReading,
    ReadingRow,
    Suspect,
)
from sparewatt.studies.bench.told import Told

__all__ = [
    "bench_answer", "check_line", "constant_line", "each_once", "next_line", "reading_line", "suspect_line", "tightened",
    "told_line",
]  # fmt: skip

TOO_HOT = 333.15  # K, at which nobody holds on
WORTH_TELLING = 0.8  # of its former spread: a constant is "narrowed" below it


def bench_answer(a: BenchAnswer, entries: int) -> str:
    """The one sentence at the top: what to stop at, what the readings made known, what is odd, what to do next."""
    stops = " ".join(told_line(one) for one in a.told if one.stops)
    return " ".join(part for part in (stops, _known_so_far(a, entries)) if part)


def _known_so_far(a: BenchAnswer, entries: int) -> str:
    if not a.fitted.rows and entries:
        return "None of these readings bears on a constant of the rig."
    if not a.fitted.rows:
        first = a.next_readings[0] if a.next_readings else None
        start = f" Start with: {next_line(first)}" if first else ""
        return f"Nothing is measured yet; the rig stands on its labels and on typical values.{start}"
    known = [c for part in a.parts for c in part.constants]
    parts = [_known(known, len(a.fitted.rows))]
    if a.suspects:
        parts.append(sentence(_odd(a)))
    parts.append(f"For {a.asked} that means {_band(a.asked_band, 'W')}.")
    if a.next_readings:
        parts.append(f"Next: {next_line(a.next_readings[0])}")
    return " ".join(parts)


def _known(constants: list[Constant], readings: int) -> str:
    count = f"{readings} reading" + ("" if readings == 1 else "s")
    if not constants:
        return f"{count} so far, and nothing is known better by them yet."
    best = min(constants, key=lambda c: c.sd / abs(c.value) if c.value else math.inf)
    more = f" and {len(constants) - 1} more" if len(constants) > 1 else ""
    make = "makes" if readings == 1 else "make"
    return f"{count} {make} known: {best.says} {_band(best.band, best.unit)}{more}."


def _odd(a: BenchAnswer) -> str:
    one = a.suspects[0]
    count = "one reading does" if len(a.suspects) == 1 else f"{len(a.suspects)} readings do"
    why = f": most likely {one.name}" if one.cause else ", and no usual slip explains it"
    return f"{count} not fit{why}"


def _band(band: Band, unit: str) -> str:
    return say.span(band, unit)


def tightened(c: Constant) -> str:
    """How much narrower a constant is than before any reading; empty when it is not."""
    if (
        not (math.isfinite(c.before_sd) and math.isfinite(c.sd))
        or c.before_sd <= 0
        or c.sd > WORTH_TELLING * c.before_sd
    ):
        return ""
    return f"{c.before_sd / c.sd:.1f} times narrower than before"


def constant_line(c: Constant) -> str:
    """One constant: what it is, its value and band, or why it has none."""
    if not math.isfinite(c.sd):
        return sentence(f"{c.says}: {render(c.value, c.unit)}, with no band: {c.why_no_sd}")
    narrow = tightened(c)
    return sentence(f"{c.says}: {_band(c.band, c.unit)}" + (f", {narrow}" if narrow else ""))


def reading_line(row: ReadingRow) -> str:
    """One reading against the fit."""
    lines = ", ".join(str(line) for line in row.lines)
    where = f"line {lines}: " if lines else ""
    seen, fitted = render(row.seen, row.unit), render(row.fitted, row.unit)
    if not row.used:
        return sentence(f"{where}{row.says}, {seen}; not used: {row.left_out}")
    off = f"{abs(row.residual):.1f} times its usual error {'above' if row.residual > 0 else 'below'}"
    return sentence(f"{where}{row.says}, {seen}; the fit says {fitted}, so it lies {off}")


MANY = 4  # odd readings of one cause that are named line by line


def suspect_line(s: Suspect, rows: dict[str, ReadingRow]) -> str:
    """An odd reading: which, why, and what to do about it. It stays in the file whatever is done.

    Several readings that are odd for one reason are told as what they are: their lines, or all of them together.
    """
    held = [rows[key] for key in dict.fromkeys((s.row, *s.rows)) if key in rows]
    if len(held) > MANY:
        whole = len(held) == len(rows)
        which = f"All {len(held)} readings together" if whole else f"{len(held)} readings"
        seen, do = "" if whole else f" ({held[0].says})", "do not fit"
    elif len(held) > 1:
        which, seen, do = f"Lines {_lines(held)}", f" ({held[0].says})", "do not fit"
    else:
        which = f"Line {_lines(held)}" if held and held[0].lines else s.row
        seen = f" ({held[0].says}, {render(held[0].seen, held[0].unit)})" if held else ""
        do = "does not fit"
    if not s.cause:
        return f"{which}{seen} {do}, and no usual slip explains it. {sentence(s.redo)}"
    if not math.isfinite(s.factor):  # nothing is off by a factor: the readings as a whole are strange
        return f"{which}{seen}: {s.name}. {sentence(s.says)} {sentence(s.redo)}"
    one = "it" if len(held) < 2 else "each"
    factor = f" It would fit if {one} were {s.factor:.3g} times as large." if s.factor else ""
    return f"{which}{seen} {do}: {s.name}. {sentence(s.says)}{factor} {sentence(s.redo)}"


def _lines(rows: Sequence[ReadingRow]) -> str:
    """Every line that some readings stand on."""
    return ", ".join(dict.fromkeys(str(line) for row in rows for line in row.lines))


def each_once(found: Sequence[NextReading]) -> list[NextReading]:
    """Each procedure once, at its best gain."""
    best: dict[str, NextReading] = {}
    for one in found:
        best.setdefault(one.procedure, one)
    return list(best.values())


_AT = {"volts": ("V",), "amps": ("A",)}


def next_line(n: NextReading) -> str:
    """What to read next, what it takes and what it gives."""
    where = []
    for name, value in n.at:
        if name == "speed":
            where.append(f"at {say.turns(value)}")
        elif name in _AT:
            where.append(f"at about {say.amount(value, _AT[name][0])}")
    place = f" ({', '.join(where)})" if where else ""
    return f"{n.what}{place}: it takes {say.percent(n.gain)} of the doubt away in {n.minutes:.0f} min."


def check_line(c: CrossCheck) -> str:
    """Two ways to one number."""
    both = f"{_band(c.one, c.unit)} one way, {_band(c.other, c.unit)} the other"
    if c.agrees:
        return sentence(f"{c.says}: {both}; they agree")
    return sentence(f"{c.says}: {both}; they do not agree. {c.hint}")


_APPLIANCE = {
    "heater": "a heater: on direct current at its label's volts it gives its label's watts",
    "series motor": "a series motor with brushes: it runs on direct current, and its switch may not open",
    "switch-mode supply": "a supply with a converter inside: it may start on 110 V direct current; try on an amps limit",
    "motor with a dial or trigger": "a motor behind a dial or trigger: the trigger will not stop it. Not on direct current",
    "induction motor": "a motor with a capacitor: direct current burns it. Not on this rig",
    "transformer or induction motor": "iron without brushes: direct current burns it. Not on this rig",
    "unknown": "not told by these looks. Leave it off the rig until you know",
}


def told_line(one: Told) -> str:
    """What readings say besides the constants, and what to do about it."""
    v = one.values
    if one.key == "wrong_way":
        says = f"the first turn shows {say.amount(v[0], 'V')}: swap the two machine wires now, before any board is joined"
    elif one.key == "right_way":
        says = "the first turn shows plus on the wire meant as plus"
    elif one.key == "shares":
        each = [f"{name} {say.percent(share)}" for name, share in zip(one.names, v, strict=True)]
        says = f"of the watts on the bus {say.and_list(each)}; within a tenth of each other is fair"
    elif one.key == "appliance":
        says = f"{one.names[0]} is {_APPLIANCE[one.names[1]]}"
    elif one.key == "weak_cell":
        says = f"cell {one.names[0]} is {v[1]:.3f} below the best: charge full and read again; if it stays, it is worn"
    elif one.key == "even_cells":
        says = f"the cells lie within {v[1]:.3f} of each other, as good ones do"
    elif one.key == "warm_board":
        hot = " It is too hot to hold: less amps, or a piece of tin to cool it." if v[1] > TOO_HOT else ""
        says = f"{one.names[0] or 'the board'} is {v[0]:.0f} K warmer than the air after ten minutes.{hot}"
    elif one.key == "leads":
        says = f"your meter's leads have {say.amount(v[0], 'ohm')}: take that off each small resistance"
    else:
        says = f"the clamp's lamp stayed dark at {say.amount(v[0], 'V')}: find out why before a board is joined on"
    return sentence(says)
