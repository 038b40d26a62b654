"""Finds numbers with units and known words in a start sentence, and where they stand."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sparewatt.language.amounts import BODY, fitting, unit_at
from sparewatt.language.vocabulary import MachineWord, Thing, vocabulary

__all__ = ["Anchor", "Quantity", "anchors_in", "plain_text", "quantities_in"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number with its unit. text: as the rig file takes it; unit: the sort of unit; value: the bare number."""

    text: str
    unit: str
    value: float
    start: int
    end: int


_TAKES = {
    "battery": {"V", "Ah", "Wh", "A"},
    "machine": {"V", "A", "W", "hp", "rpm", "ohm"},
    "load": {"V", "A", "W", "hp", "Wh", "h", "min", "ohm"},
    "rider": {"kg", "years", "people", "rpm"},
    "effort": {"W", "rpm", "h", "min"},
    "drive": {"length", "teeth", "pair", "ratio"},
    "board": {"V", "A", "W"},
    "fuse": {"A"},
    "place": {"m3", "V"},
    "ill": set(),
}


@dataclass(frozen=True, slots=True)
class Anchor:
    """A known word: what sort of part it means, and which one."""

    kind: str
    key: str
    start: int
    end: int
    thing: Thing | None = None
    machine: MachineWord | None = None

    def takes(self, unit: str) -> bool:
        """Can a number with this unit belong to it?"""
        return unit in _TAKES[self.kind]


_SIGNS = str.maketrans({
    "\u2019": "'", "\u2018": "'", "\u201c": '"', "\u201d": '"', "\u2013": "-", "\u2014": ";", "\u00a0": " ", "\u2009": " ",
    "\u202f": " ",
    "\u00d7": "x", "\u2126": "\u03a9", "\u00b3": "3", "\t": " ", "\r": " ",
})  # fmt: skip


_AMPS = re.compile(r"(?<=[0-9 ])A(?![A-Za-z])|\bA(?=h\b)")


def plain_text(text: str) -> str:
    """Small letters and plain signs, letter for letter, so that places stay the same. The A of amps stays a capital."""
    mapped = text.translate(_SIGNS)
    amps = {m.start() for m in _AMPS.finditer(mapped)}
    return "".join(c if k in amps or len(c.lower()) != 1 else c.lower() for k, c in enumerate(mapped))


_NUMBER = re.compile(rf"(?<![0-9.,/]){BODY}", re.ASCII)
# what a number may be of -> the sort of unit
_SORTS = {
    "V": "V", "W": "W", "A": "A", "C": "Ah", "J": "Wh", "kg": "kg", "rad/s": "rpm", "ohm": "ohm", "m^3": "m3", "s": "min",
    "m": "length",
}  # fmt: skip
# sorts that are no units: spellings, and what is written behind the number
_OWN = (
    ("years", re.compile(r"(?:years?[- ]olds?|years? of age|yrs?(?: old)?|y\.?o\.?|years?)(?![a-z])"), ""),
    ("teeth", re.compile(r"(?:teeth|tooth|t)(?![a-z])"), ""),
    ("people", re.compile(r"(?:people|persons|riders|adults|of us)(?![a-z])"), ""),
    ("length", re.compile(r"\"|in(?= (?:wheel|roller|pulley|tyre|tire|rim))"), "in"),
)
_NO_UNIT = re.compile(
    r"in\b|a\b(?! min|\s*(?:[,;.)]|$|[0-9]))"
)  # words of the sentence sooner than inches and amps
_WORDS = "|".join(sorted((w.replace("-", "[ -]") for w in vocabulary().spelled), key=len, reverse=True))
_WORDED = re.compile(rf"\b(half an?|an?|{_WORDS})[ -](hours?|minutes?|years?[- ]olds?|years? of age)\b")
_WHO = r"he|she|who|son|daughter|child|wife|husband|mother|father|friend|neighbou?r|pupil|partner|grand[a-z]+"
_AGE = re.compile(
    rf"\b(?:i am|i'm|im|[Aa]ged?(?: of)?|(?:{_WHO}) is)\s+(?:now |only |already |nearly |almost |about |over )?"
    rf"([0-9]{{1,3}}|{_WORDS})\b(?!\s*(?:[a-z]{{0,3}}\b)?(?:kg|kilo|lb|pound|w\b|v\b|people|riders|adults|of us))"
)
_DECADE = re.compile(
    r"\b(?:in|past) (?:my|his|her|their|our) (?:(?:early|mid|late)[- ])?"
    r"(twent|thirt|fort|fift|sixt|sevent|eight|ninet)ies\b"
)
_PAIR = re.compile(
    r"(?<![0-9/.])([1-6][0-9])\s*[/x:]\s*([1-6][0-9])(?!\.?[0-9/]|\s*(?:v|w|A|hp|volt|watt|amp)\b)"
)
_RATIO = re.compile(
    r"\b1\s*(?::|to)\s*([0-9]{1,3})\b|\b([0-9]{1,3})\s*(?::|to)\s*1\b"
    r"|\bratio(?: of| is)?\s+([0-9]{1,3}(?:\.[0-9]+)?)\b(?!\s*(?::|to\b))"
)


def quantities_in(plain: str) -> list[Quantity]:
    """Every number with a unit, tooth pair, ratio and age, in order, none overlapping."""
    found: list[Quantity] = []
    for m in _NUMBER.finditer(plain):
        found += _measured(plain, m)
    for m in _PAIR.finditer(plain):
        found.append(Quantity(f"{m.group(1)}/{m.group(2)}", "pair", float(m.group(1)), m.start(), m.end()))
    for m in _RATIO.finditer(plain):
        number = next(g for g in m.groups() if g)
        found.append(Quantity(number, "ratio", float(number), m.start(), m.end()))
    for m in _AGE.finditer(plain):
        years = _spelled(m.group(1))
        found.append(Quantity(f"{years:g}", "years", years, m.start(1), m.end(1)))
    for m in _DECADE.finditer(plain):
        years = 5.0 + _spelled(f"{m.group(1)}y")
        found.append(Quantity(f"{years:g}", "years", years, m.start(), m.end()))
    for m in _WORDED.finditer(plain):
        count = 0.5 if m.group(1).startswith("half") else _spelled(m.group(1))
        unit = {"h": "h", "m": "min", "y": ""}[m.group(2)[0]]
        found.append(Quantity(f"{count:g} {unit}".strip(), unit or "years", count, m.start(), m.end()))
    found = [q for q in found if q.value > 0]
    kept: list[Quantity] = []
    for q in sorted(found, key=lambda q: (q.start, -(q.end - q.start))):
        if not kept or q.start >= kept[-1].end:
            kept.append(q)
    return kept


def _measured(plain: str, number: re.Match[str]) -> list[Quantity]:
    """The number with the unit that stands behind it, when it is one a sentence is read with."""
    value, figures = _number(number.group())
    at = number.end() + (plain[number.end() : number.end() + 1] in (" ", "-"))
    for sort, words, unit in _OWN:
        own = words.match(plain, at)
        if own is not None:
            return [Quantity(f"{figures} {unit}".strip(), sort, value, number.start(), own.end())]
    told = None if _NO_UNIT.match(plain, at) else unit_at(plain, at, "")
    fits = None if told is None else fitting(told[0], _SORTS)
    unit = "" if fits is None else fits[0]
    if (
        told is None
        or fits is None
        or unit not in vocabulary().start_units
        or plain[told[1] : told[1] + 1].isalpha()
    ):
        return []
    sort = unit if unit in ("h", "hp") else _SORTS[fits[1]]
    return [Quantity(f"{figures} {unit}", sort, value, number.start(), told[1])]


def _spelled(text: str) -> float:
    """A number in figures or in words: 71, seventy-one, a."""
    if text.isdigit():
        return float(text)
    return float(vocabulary().spelled.get(text.replace(" ", "-"), 1))


def _number(text: str) -> tuple[float, str]:
    """Value and the text a rig file takes; a comma before exactly three figures parts thousands, else it is decimal."""
    if "/" in text:
        whole, _, part = text.rpartition(" ")
        top, bottom = part.split("/")
        return (float(whole or 0) + (float(top) / float(bottom) if float(bottom) else 0.0)), text
    plain = (
        text.replace(",", "") if re.fullmatch(r"[0-9]{1,3}(?:,[0-9]{3})+", text) else text.replace(",", ".")
    )
    return float(plain), plain


def anchors_in(plain: str, quantities: list[Quantity]) -> list[Anchor]:
    """Every known word in order, the longer name taken where two overlap (illness, machines, things, then the rest)."""
    taken = [Anchor("ill", m.group(), m.start(), m.end()) for m in vocabulary().illness.finditer(plain)]

    def free(start: int, end: int) -> bool:
        return all(end <= a.start or start >= a.end for a in taken) and all(
            end <= q.start or start >= q.end for q in quantities
        )

    def look(
        words: str, kind: str, key: str = "", thing: Thing | None = None, machine: MachineWord | None = None
    ) -> None:
        for m in re.finditer(rf"(?<![a-z-])(?:{words})(?![a-z])", plain):
            start = m.start() + len(m.group()) - len(m.group().lstrip())
            if free(start, m.end()):
                taken.append(Anchor(kind, key, start, m.end(), thing, machine))

    for word in vocabulary().machines:
        look(word.words, "machine", word.name, machine=word)
    for thing in vocabulary().things:
        look(thing.words, "load", thing.name, thing=thing)
    for other in vocabulary().others:
        look(other.words, other.kind, other.key)
    return sorted(taken, key=lambda a: a.start)
