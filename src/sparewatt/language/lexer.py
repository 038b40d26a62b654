"""Typed text cut into marks: words, amounts with their units, gears, names in quotes, and what separates them.

Only the shape of the text is looked at here; what the words mean is in `script_phrases`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sparewatt.language.amounts import BODY, fitting, unit_at
from sparewatt.language.vocabulary import vocabulary
from sparewatt.quantities import BadText, parse

__all__ = ["Token", "joined", "merged", "tokens_of"]

# What an amount may be of, and the letter its mark is known by.
_KINDS = {"s": "s", "W": "w", "rad/s": "r", "1": "p"}
_NUMBER = re.compile(rf"(?P<sign>(?<![\w.])[-+\u2212] ?)?(?P<body>{BODY})", re.ASCII)
_CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9](?:\.[0-9]+)?)(?![0-9:/])", re.ASCII)
_PAIR = r"[0-9]+ ?(?:/|:|-|[xX](?![A-Za-z])|\u00d7) ?[0-9]+"
_GEAR = re.compile(rf"{_PAIR}(?: ?\+ ?{_PAIR})*(?![0-9]|[.,:][0-9])", re.ASCII)
_ORDINAL = re.compile(r"([0-9]{1,3})(?:st|nd|rd|th)\b", re.ASCII | re.IGNORECASE)
_HALF = re.compile(r"half an? (minute|hour|second)\b", re.ASCII | re.IGNORECASE)
_WORD = re.compile(r"[^\W\d_](?:\w|['\u2019-](?=\w))*")
_QUOTED = re.compile(r'"([^"]*)"|\u201c([^\u201d]*)\u201d|\u00ab([^\u00bb]*)\u00bb')
_BREAK = re.compile(r"[;\n!?\u2022]+")
_TO_GEAR = frozenset({"to", "into", "in", "gear", "shift", "shifts"})


@dataclass(frozen=True, slots=True)
class Token:
    """One mark of a text.

    kind: "word"; "s", "w", "r", "p" an amount of time, watts, turning or share; "n" a number alone; "o" first, second,
    third; "g" a gear such as 42/14; "q" a name in quotes or found whole; "sep" comma, colon, dash and the like; "end" what
    closes a step; "odd" anything else; "bad" a number that cannot be read. text: as written (a name without its quotes).
    """

    kind: str
    text: str
    start: int
    end: int
    value: float = math.nan
    problem: BadText | None = None

    @property
    def word(self) -> str:
        """The word in small letters, with a plain apostrophe; empty for what is no word."""
        return self.text.casefold().replace("\u2019", "'") if self.kind == "word" else ""


def joined(tokens: Sequence[Token]) -> str:
    """The marks as one text, single spaces between."""
    return " ".join(token.text for token in tokens)


def tokens_of(text: str) -> list[Token]:
    """Every mark of the text, in order."""
    found: list[Token] = []
    at = 0
    while at < len(text):
        if text[at].isspace() and text[at] != "\n":
            at += 1
            continue
        token = _next(text, at, found[-1] if found else None)
        found.append(token)
        at = token.end
    return found


def merged(tokens: Sequence[Token], names: Iterable[str]) -> list[Token]:
    """The same marks, with every name of several words that stands in them whole made into one mark."""
    shapes = sorted(((_shape(tokens_of(name)), name) for name in names), key=lambda pair: -len(pair[0]))
    shapes = [pair for pair in shapes if len(pair[0]) > 1]
    out: list[Token] = []
    at = 0
    while at < len(tokens):
        for shape, name in shapes:
            piece = tokens[at : at + len(shape)]
            if _shape(piece) == shape:
                out.append(Token("q", name, piece[0].start, piece[-1].end))
                at += len(shape)
                break
        else:
            out.append(tokens[at])
            at += 1
    return out


def _shape(tokens: Sequence[Token]) -> tuple[str, ...]:
    return tuple(" ".join(token.text.split()).casefold() for token in tokens)


def _next(text: str, at: int, before: Token | None) -> Token:
    """The mark that starts here."""
    if (quoted := _QUOTED.match(text, at)) is not None:
        return Token("q", next(g for g in quoted.groups() if g is not None), at, quoted.end())
    if (half := _HALF.match(text, at)) is not None:
        return Token("s", half.group(), at, half.end(), parse(f"0.5 {half.group(1)}", "s").value)
    if (ordinal := _ORDINAL.match(text, at)) is not None:
        return Token("o", ordinal.group(), at, ordinal.end(), float(ordinal.group(1)))
    return _number(text, at, before) or _word(text, at) or _sign(text, at)


def _number(text: str, at: int, before: Token | None) -> Token | None:
    """An amount, a gear, a clock time or a number alone."""
    clock = _CLOCK.match(text, at)
    to_gear = before is not None and before.word in _TO_GEAR
    if clock is not None and not to_gear:
        seconds = 60.0 * float(clock.group(1)) + float(clock.group(2))
        return Token("s", clock.group(), at, clock.end(), seconds)
    number = _NUMBER.match(text, at)
    if number is None:
        return None
    sign = "-" if (number.group("sign") or "").strip() in ("-", "\u2212") else ""
    if number.group("sign") and number.group("sign")[-1:] == " ":
        return None  # a dash with a space behind it separates, it does not make the number negative
    amount = _with_unit(text, at, number.end(), sign + number.group("body"))
    if amount is not None:
        return amount
    gear = _GEAR.match(text, at)
    if gear is not None:
        return Token("g", gear.group(), at, gear.end())
    body = number.group("body").split()[0]
    end = number.end() if body == number.group("body") else number.start("body") + len(body)
    return _plain(text[at:end], sign + body, at, end)


def _plain(written: str, body: str, at: int, end: int) -> Token:
    try:
        return Token("n", written, at, end, parse(body, "1").value)
    except BadText as bad:
        return Token("bad", written, at, end, problem=bad)


def _with_unit(text: str, start: int, end: int, body: str) -> Token | None:
    """The amount whose number ends here, when a unit of time, watts, turning or share follows."""
    unit = unit_at(text, end)
    fits = None if unit is None else fitting(unit[0], _KINDS)
    if unit is None or fits is None:
        return None
    spelled, si = fits
    try:
        value = parse(f"{body} {spelled}", si).value
    except BadText as bad:  # the unit is fine, so it is the number that is not
        return Token("bad", text[start : unit[1]], start, unit[1], problem=bad)
    return Token(_KINDS[si], text[start : unit[1]], start, unit[1], value)


def _word(text: str, at: int) -> Token | None:
    match = _WORD.match(text, at)
    if match is None:
        return None
    word, end = match.group().casefold(), match.end()
    if word in vocabulary().spelled:
        body = str(vocabulary().spelled[word])
        return _with_unit(text, at, end, body) or _plain(text[at:end], body, at, end)
    if word in vocabulary().ordinals:
        return Token("o", match.group(), at, end, float(vocabulary().ordinals[word]))
    return Token("word", match.group(), at, end)


def _sign(text: str, at: int) -> Token:
    stop = _BREAK.match(text, at)
    if stop is not None:
        return Token("end", stop.group(), at, stop.end())
    if text[at] == "." and (at + 1 == len(text) or text[at + 1].isspace()):
        return Token("end", ".", at, at + 1)
    if text[at] in ",:&\u2013\u2014-@=*+()[]|":
        return Token("sep", text[at], at, at + 1)
    return Token("odd", text[at], at, at + 1)
