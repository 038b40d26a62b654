"""Finds numbers with units and known words in a start sentence, and where they stand."""

from __future__ import annotations

import re
from dataclasses import dataclass

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


# sort of unit, spellings, the unit text written to the rig file ("": the number alone)
_UNITS: tuple[tuple[str, str, str], ...] = (
    ("Ah", r"mAh|mah", "mAh"),
    ("Ah", r"Ah|ah|[Aa]mp(?:ere)?s?[- ]?hours?", "Ah"),
    ("Wh", r"kwh|kilowatt[- ]?hours?", "kWh"),
    ("Wh", r"wh|watt[- ]?hours?", "Wh"),
    ("V", r"volts?|v(?: ?(?:dc|[aA]c))?", "V"),
    ("W", r"kw|kilowatts?", "kW"),
    ("W", r"watts?|w", "W"),
    ("hp", r"hp|horse ?power|bhp", "hp"),
    ("rpm", r"rpm|r\.p\.m\.?|rev(?:olution)?s?(?: ?/ ?| per | a )min(?:ute)?|turns (?:a|per) minute|/min", "rpm"),
    ("A", r"[Aa]mp(?:ere)?s?|A|a(?=\s*(?:[,;.)]|$|[0-9]))", "A"),
    ("kg", r"kg|kilos?|kilograms?", "kg"),
    ("kg", r"lbs?|pounds?", "lb"),
    ("years", r"years?[- ]olds?|years? of [Aa]ge|yrs?(?: old)?|y\.?o\.?|years?", ""),
    ("h", r"hours?|hrs?|h", "h"),
    ("min", r"minutes?|mins?", "min"),
    ("m3", r"m3|cubic met(?:er|re)s?", "m3"),
    ("m3", r"cubic f(?:ee|oo)t|cu ?ft", "ft3"),
    ("length", r"mm|millimet(?:er|re)s?", "mm"),
    ("length", r"cm|centimet(?:er|re)s?", "cm"),
    ("length", r"inch(?:es)?|in(?= (?:wheel|roller|pulley|tyre|tire|rim))|\"", "in"),
    ("teeth", r"teeth|tooth|t", ""),
    ("ohm", r"ohms?|\u03c9", "ohm"),
    ("people", r"people|persons|riders|[Aa]dults|of us", ""),
)  # fmt: skip
_NUMBER = (
    r"(?<![0-9.,/])([0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]{1,3}(?:,[0-9]{3})+(?![0-9])"
    r"|[0-9]+(?:[.,][0-9]+)?|\.[0-9]+)"
)
_FIND = re.compile(
    _NUMBER
    + r"[ -]?(?:"
    + "|".join(f"(?P<u{k}>{spell})" for k, (_, spell, _t) in enumerate(_UNITS))
    + r")(?![a-z])"
)
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
    for m in _FIND.finditer(plain):
        index = next(k for k in range(len(_UNITS)) if m.group(f"u{k}") is not None)
        sort, _spell, unit = _UNITS[index]
        value, number = _number(m.group(1))
        found.append(Quantity(f"{number} {unit}".strip(), sort, value, m.start(), m.end()))
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
