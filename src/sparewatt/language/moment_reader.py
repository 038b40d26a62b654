"""Reads one typed moment of a ride piece by piece: names, numbers with units, gears, loads, how it felt.

A number with its unit needs no name; a name needs no unit. Whatever cannot be read is kept as a problem.
"""

from __future__ import annotations

import dataclasses
import difflib
import math
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.amounts import fitting, unit_at
from sparewatt.language.moment import FEELS, STAMP, Moment, feel_of
from sparewatt.language.names import find
from sparewatt.language.vocabulary import vocabulary
from sparewatt.quantities.units import BadText, parse

__all__ = ["EXAMPLE", "MOST_LETTERS", "MOST_MOMENTS", "NAMES", "NUMBERS", "moment_of", "moments_told"]

MOST_LETTERS, MOST_MOMENTS = 400, 40
EXAMPLE = "cadence 62, 11.4 V, 3.1 A, heavy"
# What is asked -> (unit in SI, unit of a bare number, least, most, in words)
NUMBERS: dict[str, tuple[str, str, float, float, str]] = {
    "cadence": ("rad/s", "rpm", 0.0, 32.0, "0 to 300 turns a minute"),
    "speed": ("rad/s", "rpm", 0.0, 3200.0, "0 to 30000 turns a minute"),
    "volts": ("V", "V", -1000.0, 1000.0, "-1000 to 1000 V"),
    "amps": ("A", "A", -500.0, 500.0, "-500 to 500 A"),
    "volts_out": ("V", "V", -1000.0, 1000.0, "-1000 to 1000 V"),
    "amps_out": ("A", "A", -500.0, 500.0, "-500 to 500 A"),
    "heat": ("K", "degC", 230.0, 600.0, "-40 to 320 degC"),
    "effort": ("W", "W", 1.0, 2500.0, "1 to 2500 W"),
    "ridden": ("s", "min", 0.0, 864e3, "0 s to 10 days"),
}
WORDS = ("feel", "gear", "load", "joined", "meter", "volts_meter", "amps_meter", "at")
NAMES = vocabulary().moment  # what people call them; the longest that fits counts
_BY_NAME = sorted(
    ((said, what) for what, all_ in NAMES.items() for said in all_), key=lambda pair: -len(pair[0])
)
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d+)?|\.\d+)(?:[eE][+-]?\d+)?(?![.\d])", re.ASCII)
_SPREAD = re.compile(r"\s*(?:\+/-|±)\s*(\d+(?:[.,]\d+)?|\.\d+)")
_GAP = re.compile(
    r"(?:[\s,;:&]|\.(?!\d)|(?:and|the|was|is|it|with|of|a|in|on|legs|then)\b(?!\s*=))+", re.IGNORECASE
)
_WORD = re.compile(r"\"([^\"]*)\"|'([^']*)'|([^\s,;]+)")
_OUT = re.compile(
    r"\s*(?:out\b|behind (?:it|the board)\b|at the battery\b|into the battery\b)", re.IGNORECASE
)
_SHAFT = re.compile(r"\s*(?:at|of) the (?:machine|shaft|motor)\b", re.IGNORECASE)
_CRANK = re.compile(r"\s*(?:at|of) the (?:crank|pedals)\b|\s*(?:of|at) the case\b", re.IGNORECASE)
# Said without a name -> what it means
_FLAGS: tuple[tuple[re.Pattern[str], str, Any], ...] = tuple(
    (re.compile(said, re.IGNORECASE), what, value)
    for said, what, value in (
        (r"(?:nothing (?:joined|connected|on it)|wires open)\b", "joined", "nothing"),
        (r"(?:lamp (?:joined|on it)|on lamp)\b", "joined", "lamp"),
        (r"(?:turned )?(?:by )?drill\b", "drill", True),
        (r"(?:when )?(?:all )?well\b", "fine", True),
    )
)
_BY_UNIT = {NUMBERS[what][0]: what for what in ("cadence", "volts", "amps", "effort", "heat", "ridden")}
_FEEL_WORDS = 3


def moment_of(
    text: str,
    *,
    gears: Sequence[str] = (),
    loads: Sequence[str] = (),
    where: str = "moment",
    fine: bool = False,
) -> Moment:
    """One typed moment; BadRequest with everything in it that cannot be used. fine: read when all was still well."""
    if len(text) > MOST_LETTERS:
        raise BadRequest(
            Problem(where, "this is too long for one moment.", f"{MOST_LETTERS} letters", text[:40])
        )
    reader = Reader(" ".join(text.split()), where, gears, loads)
    reader.read()
    found = reader.found
    meter = found.pop("meter", "")
    for one in ("volts_meter", "amps_meter"):
        found.setdefault(one, meter)
    found["fine"] = bool(found.get("fine")) or fine
    said = any(
        what in found
        for what in ("cadence", "speed", "volts", "amps", "volts_out", "amps_out", "heat", "feel")
    )
    if not said and not reader.problems:
        reader.problem("there is no reading in it.", f"type what you saw: {EXAMPLE}")
    if found.get("joined") == "lamp" and "amps" not in found and not reader.problems:
        reader.problem(
            "with a lamp joined the amps are needed too.", "lamp joined, 600 rpm at the machine, 8 V, 2 A"
        )
    if reader.problems:
        raise BadRequest(*reader.problems)
    return Moment(**found, spreads=tuple(reader.spreads))


def moments_told(
    told: Iterable[str | Moment],
    well: Iterable[str | Moment] = (),
    *,
    gears: Sequence[str],
    loads: Sequence[str],
) -> tuple[Moment, ...]:
    """Typed moments, those from when all was well first; everything that cannot be read at once."""
    problems: list[Problem] = []
    found: list[Moment] = []
    for word, fine, all_ in (("well", True, list(well)), ("moment", False, list(told))):
        if len(all_) > MOST_MOMENTS:
            hint = f"type the last few; {MOST_MOMENTS} at most"
            problems.append(Problem(word, f"{len(all_)} moments are more than are read.", hint))
            continue
        for n, one in enumerate(all_, 1):
            where = f"{word} {n}" if len(all_) > 1 else word
            try:
                made = one if isinstance(one, Moment) else moment_of(
                    one, gears=gears, loads=loads, where=where, fine=fine
                )  # fmt: skip
            except BadRequest as bad:
                problems.extend(bad.problems)
                continue
            found.append(dataclasses.replace(made, fine=made.fine or fine))
    if problems:
        raise BadRequest(*problems)
    return tuple(found)


class Reader:
    """One text being read: where we are, what was found, what cannot be used."""

    def __init__(self, text: str, where: str, gears: Sequence[str], loads: Sequence[str]) -> None:
        self.text, self.where, self.gears, self.loads = text, where, gears, loads
        self.at = 0
        self.found: dict[str, Any] = {}
        self.spreads: list[tuple[str, float]] = []
        self.problems: list[Problem] = []

    def problem(self, says: str, hint: str, read: str = "") -> None:
        """One more thing to put right."""
        self.problems.append(Problem(self.where, says, hint, read or self.text[:60]))

    def put(self, what: str, value: Any, read: str) -> None:
        """A value; twice the same is asked about."""
        if what in self.found:
            hint = "say which is which: 11.4 V, 13.1 V out" if what in ("volts", "amps") else "leave one out"
            self.problem(f"{what.replace('_', ' ')} stands there twice.", hint, read)
        self.found.setdefault(what, value)

    def match(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """What stands here, and past it."""
        hit = pattern.match(self.text, self.at)
        if hit is not None:
            self.at = hit.end()
        return hit

    # ---- pieces ------------------------------------------------------------------------------------------------------

    def read(self) -> None:
        """All of it."""
        steps: tuple[Callable[[], bool], ...] = (
            self._flag, self._own_gear, self._named, self._stamp, self._number, self._feel,
        )  # fmt: skip
        while True:
            self.match(_GAP)
            if self.at >= len(self.text):
                return
            before = self.at
            if not any(step() for step in steps):
                self.at = before
                self._unknown()

    def _flag(self) -> bool:
        for pattern, what, value in _FLAGS:
            hit = self.match(pattern)
            if hit is not None:
                self.put(what, value, hit[0])
                return True
        return False

    def _own_gear(self) -> bool:
        """A gear by its name in the rig file."""
        rest = self.text[self.at :].casefold()
        for name in sorted(self.gears, key=len, reverse=True):
            after = rest[len(name) : len(name) + 1]
            if "/" in name and rest.startswith(name.casefold()) and not after.isalnum():
                self.at += len(name)
                self.put("gear", name, name)
                return True
        return False

    def _named(self) -> bool:
        rest = self.text[self.at :].casefold()
        for said, what in _BY_NAME:
            if not rest.startswith(said) or (rest[len(said) : len(said) + 1].isalnum()):
                continue
            self.at += len(said)
            signed = self.match(re.compile(r"\s*[=:]\s*")) is not None
            self.match(re.compile(r"\s+"))
            if what in NUMBERS and (self._value_of(what) or signed):
                return True
            if what in NUMBERS:
                bad = self.match(_WORD)
                self.problem(f"{said} wants a number.", f"{said} {_EXAMPLES[what]}", bad[0] if bad else said)
                return True
            if what in WORDS:
                self._word_of(what, said)
                return True
        return False

    def _value_of(self, what: str) -> bool:
        """The number that follows a name."""
        begin = self.at
        hit = self.match(_NUMBER)
        if hit is None:
            bad = _WORD.match(self.text, self.at)
            if bad is not None and self.text[begin - 1 : begin] in ("=", ":"):
                self.at = bad.end()
                self.problem(f"{what.replace('_', ' ')} wants a number.", _EXAMPLES[what], bad[0])
                return True
            return False
        spread = self.match(_SPREAD)
        si, name = NUMBERS[what][:2]
        unit = unit_at(self.text, self.at)
        if unit is not None and (not self.text[self.at].isspace() or _is_unit(unit[0], si)):
            name, self.at = unit
        self.match(_CRANK)
        self._amount(what, hit[0], name, spread, self.text[begin : self.at])
        return True

    def _number(self) -> bool:
        """A number with its unit, which says what it is."""
        begin = self.at
        hit = self.match(_NUMBER)
        if hit is None:
            return False
        spread = self.match(_SPREAD)
        unit = unit_at(self.text, self.at)
        fits = None if unit is None else fitting(unit[0], _BY_UNIT)
        if unit is None or fits is None:
            says = "this number does not say what it is."
            self.problem(
                says, f"give it a unit or a name: {EXAMPLE}", self.text[begin : begin + 40].split(",")[0]
            )
            if unit is not None and not self.text[self.at].isspace():
                self.at = unit[1]
            return True
        name, what = fits[0], _BY_UNIT[fits[1]]
        self.at = unit[1]
        if what in ("volts", "amps") and self.match(_OUT):
            what += "_out"
        elif what == "cadence" and self.match(_SHAFT):
            what = "speed"
        else:
            self.match(_CRANK)
            self.match(_SHAFT)
        self._amount(what, hit[0], name, spread, self.text[begin : self.at])
        return True

    def _amount(self, what: str, digits: str, unit: str, spread: re.Match[str] | None, read: str) -> None:
        si, _bare, least, most, span = NUMBERS[what]
        unit = (fitting(unit, (si,)) or (unit, si))[0]
        try:
            value = parse(f"{digits.replace(',', '.')} {unit}", si).value
            if spread is not None:
                zero = parse(f"0 {unit}", si).value
                wide = parse(f"{spread[1].replace(',', '.')} {unit}", si).value - zero
                if wide > 0:
                    self.spreads.append((what, wide))
        except BadText as bad:
            self.problem(bad.problem.rstrip(".") + ".", bad.hint or _EXAMPLES[what], read.strip())
            return
        if not least <= value <= most or not math.isfinite(value):
            self.problem(f"{what.replace('_', ' ')} cannot be that much or that little.", span, read.strip())
            return
        self.put(what, value, read.strip())

    def _stamp(self) -> bool:
        hit = self.match(STAMP)
        if hit is not None:
            self.put("at", hit[0], hit[0])
        return hit is not None

    def _word_of(self, what: str, said: str) -> None:
        """The words that follow a name."""
        if what == "at" and not STAMP.match(self.text, self.at):
            return  # "at the crank", "at rest": a word that says nothing here
        known = {"gear": self.gears, "load": self.loads, "feel": (), "joined": ()}.get(what, ())
        if what == "feel":
            if not self._feel():
                bad = self.match(_WORD)
                self.problem("that is no feel that is known here.", ", ".join(FEELS), bad[0] if bad else said)
            return
        rest = self.text[self.at :].lstrip("\"'").casefold()
        for name in sorted(known, key=len, reverse=True):
            if rest.startswith(name.casefold()):
                quoted = len(self.text[self.at :]) - len(self.text[self.at :].lstrip("\"'"))
                self.at += len(name) + 2 * min(quoted, 1)
                self.put(what, name, name)
                return
        hit = self.match(_WORD)
        word = next((g for g in hit.groups() if g is not None), "") if hit else ""
        if not word:
            self.problem(f"{said} wants a word.", f"{said}={_EXAMPLES.get(what, 'yellow')}")
        elif what in ("gear", "load"):
            self._not_here(what, word, known)
        elif what == "joined" and word.casefold() not in ("load", "nothing", "lamp"):
            self.problem("joined is one of three words.", "load, nothing, lamp", word)
        else:
            self.put(what, word.casefold() if what == "joined" else word, word)

    def _not_here(self, what: str, word: str, known: Sequence[str]) -> None:
        """A name that does not stand there whole: the one name it can only be, else said to be none."""
        look = find(word, known, what)
        if look.name:
            self.put(what, look.name, word)
            return
        hint = f'did you mean "{look.near}"? ' if look.near else ""
        here = ", ".join(known) or "none in the file"
        self.problem(f'this rig has no {what} "{word}".', f"{hint}{what}s here: {here}", word)

    def _feel(self) -> bool:
        """How it feels, in as many words as fit."""
        hit = re.compile(r"[\"']?((?:[A-Za-z]+)(?:\s+[A-Za-z]+){0,2})").match(self.text, self.at)
        if hit is None:
            return False
        words = hit[1].split()
        for many in range(min(len(words), _FEEL_WORDS), 0, -1):
            said = re.compile(r"[\"']?" + r"\s+".join(map(re.escape, words[:many])) + r"\b[\"']?")
            if feel_of(" ".join(words[:many])) and self.match(said):
                self.put("feel", feel_of(" ".join(words[:many])), " ".join(words[:many]))
                return True
        return False

    def _unknown(self) -> None:
        hit = self.match(_WORD)
        word = hit[0] if hit else self.text[self.at :]
        if hit is None:
            self.at = len(self.text)
        names = [said for said, _what in _BY_NAME] + list(FEELS)
        close = difflib.get_close_matches(word.casefold().split("=")[0], names, n=1, cutoff=0.6)
        hint = f'did you mean "{close[0]}"? ' if close else ""
        self.problem(f'"{word[:40]}" is not understood.', f"{hint}write it like: {EXAMPLE}", word[:40])


_EXAMPLES = {
    "cadence": "62 rpm", "speed": "900 rpm", "volts": "11.4 V", "amps": "3.1 A", "volts_out": "13.1 V",
    "amps_out": "2.4 A", "heat": "45 degC", "effort": "100 W", "ridden": "20 min", "gear": "42/18", "load": "charge",
}  # fmt: skip


def _is_unit(word: str, si: str) -> bool:
    """Whether a word behind a number is a unit, be it of something else."""
    if word in ("in", "at", "h"):
        return word == "h" and si == "s"  # words of the next piece sooner than inches
    try:
        parse(f"1 {word}", si)
    except BadText as bad:
        return fitting(word, (si,)) is not None or "measures something else" in bad.problem
    return True
