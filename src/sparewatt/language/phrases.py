"""The phrases of `vocabulary.toml` tried on the marks of a text: many everyday ways to say each thing that can happen."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from sparewatt.language.lexer import Token
from sparewatt.language.vocabulary import vocabulary

__all__ = ["FORMS", "PHRASES", "QUIET", "Heard", "Phrase", "compiled", "encoded", "heard", "reserved", "slot"]

QUIET, FORMS = vocabulary().scene.quiet, vocabulary().scene.forms
PHRASES = vocabulary().scene.phrases  # kind and a way to say it
RIDER = vocabulary().scene.rider  # kinds that may name their rider first
_SUBJECT = r"(?:(?:rider |she |he |they |i |we |you |somebody |someone )|(?P<who>(?:\S+ )+?))??"
LONGEST = 40  # marks in one step; more is not one step


@dataclass(frozen=True, slots=True)
class Phrase:
    """One way to say one kind of thing."""

    kind: str
    text: str
    pattern: re.Pattern[str]


@dataclass(frozen=True, slots=True)
class Heard:
    """A phrase that fits: kind, the words of its slots as marks, and the plain words in it."""

    kind: str
    slots: dict[str, tuple[Token, ...]]
    words: frozenset[str]


def encoded(tokens: Sequence[Token]) -> tuple[str, list[tuple[int, int]]]:
    """The marks as one line the phrases can be tried on, and for each piece of it where it starts and which mark it is."""
    line, places = "", []
    for index, token in enumerate(tokens):
        if token.kind in ("word", "q"):
            code = "#q" if token.kind == "q" else FORMS.get(token.word, token.word)
            if code in QUIET and code == token.word:
                continue
        else:
            code = f"#{token.kind}"
        places.append((len(line), index))
        line += code + " "
    return line, places


def compiled(text: str) -> str:
    """A phrase as a regular expression over an encoded line."""
    seen: dict[str, int] = {}
    return "".join(_piece(piece, seen) for piece in text.split())


def _piece(piece: str, seen: dict[str, int]) -> str:
    maybe = piece.endswith("?")
    ways = [_way(way, seen) for way in piece.removesuffix("?").split("|")]
    return f"(?:{'|'.join(ways)})" + ("?" if maybe else "")


def _way(way: str, seen: dict[str, int]) -> str:
    if not way.startswith("{"):
        return "".join(re.escape(FORMS.get(word, word)) + " " for word in way.split("_"))
    name = way.strip("{}")
    seen[name] = seen.get(name, 0) + 1
    label = name if seen[name] == 1 else f"{name}{seen[name]}"
    inner = {"load": r"(?:\S+ )+?", "who": r"(?:\S+ )+?", "one": r"\S+ ", "k": "#n "}.get(name, f"#{name} ")
    return f"(?P<{label}>{inner})"


@cache
def phrases() -> tuple[Phrase, ...]:
    """Every phrase, ready to be tried."""
    out = []
    for kind, text in PHRASES:
        head = "" if kind in ("leave", "join") else _SUBJECT
        out.append(Phrase(kind, text, re.compile(head + compiled(text))))
    return tuple(out)


def heard(tokens: Sequence[Token]) -> Iterator[Heard]:
    """Every reading of one step, the likelier first."""
    line, places = encoded(tokens)
    if not line or len(places) > LONGEST:
        return
    for phrase in phrases():
        match = phrase.pattern.fullmatch(line)
        if match is not None:
            yield _heard(phrase.kind, match, tokens, places)


def slot(
    match: re.Match[str], label: str, tokens: Sequence[Token], places: list[tuple[int, int]]
) -> tuple[Token, ...]:
    """The marks that stand in one slot of a phrase that fits; none when it was left out."""
    if match.groupdict().get(label) is None:
        return ()
    first, last = match.span(label)
    inside = [index for start, index in places if first <= start < last]
    return tuple(tokens[inside[0] : inside[-1] + 1])


def _heard(kind: str, match: re.Match[str], tokens: Sequence[Token], places: list[tuple[int, int]]) -> Heard:
    filled = {name: slot(match, name, tokens, places) for name in match.groupdict()}
    slots = {name.rstrip("0123456789"): got for name, got in filled.items() if got}
    return Heard(kind, slots, frozenset(match.group().split()))


@cache
def reserved() -> frozenset[str]:
    """Words that mean something to a script, so that a name made of them has to stand in quotes."""
    v = vocabulary()
    words = {way for _, text in PHRASES for way in re.findall(r"[a-z'-]+", re.sub(r"\{\w+\}", "", text))}
    return (
        QUIET | set(FORMS) | set(FORMS.values()) | set(v.spelled) | set(v.ordinals) | words | v.scene.reserved
    )
