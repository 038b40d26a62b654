"""Typed text split into steps, each with its time: "at 5 s", "5 s:", "after 5 s", "then 3 s later", before or behind it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from sparewatt.language.lexer import Token, joined
from sparewatt.language.vocabulary import ARTICLES
from sparewatt.quantities import BadText, parse, render

__all__ = ["Clause", "Split", "Trouble", "pieces_of", "split"]

_DURING = frozenset({"for", "lasting", "lasts", "last", "until", "till", "during", "within"})
_OPENS = frozenset({"from", "with", "in", "for"})
_START = frozenset({"start", "beginning"})
_BULLETS = frozenset("-*\u2013\u2014\u00b7>,:)")
_AGAIN = frozenset({"another", "further"})


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something in the text that cannot be used: the marks it is about, one sentence, and what to write instead."""

    tokens: tuple[Token, ...]
    problem: str
    hint: str = ""
    near: bool = False  # the hint names what was probably meant
    untimed: bool = False  # it may be said of the start as well as being a step


@dataclass(frozen=True, slots=True)
class Clause:
    """One step: its marks and its time in s, NaN when that could not be told."""

    tokens: tuple[Token, ...]
    at: float


@dataclass(frozen=True, slots=True)
class Split:
    """A text taken apart: what is said of the start, the steps with their times, and what could not be used."""

    leads: tuple[tuple[Token, ...], ...]
    clauses: tuple[Clause, ...]
    troubles: tuple[Trouble, ...]


@dataclass(frozen=True, slots=True)
class _Mark:
    """A time in the text.

    mode: "at" from the start; "after" from the start unless that is back in time; "later" from the step before.
    """

    first: int
    last: int  # one past
    seconds: float
    mode: str


@dataclass(frozen=True, slots=True)
class _Piece:
    tokens: tuple[Token, ...]
    then: bool


@dataclass
class _State:
    """What the splitting knows while it goes through the text."""

    lead: Callable[[Sequence[Token]], str]
    leads: list[tuple[Token, ...]] = field(default_factory=list)
    clauses: list[Clause] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    last: float = 0.0
    began: bool = False

    def untimed(self, piece: _Piece) -> None:
        said = joined(piece.tokens)
        hint = f'"at 5 s {said}"' + (f' or "3 s later {said}"' if self.began else "")
        self.troubles.append(Trouble(piece.tokens, "this does not say when.", hint, untimed=True))

    def time_of(self, mark: _Mark, tokens: Sequence[Token]) -> float:
        """Seconds from the start, or NaN after noting why not."""
        said = tuple(tokens[mark.first : mark.last])
        if mark.mode == "after" and self.began and mark.seconds < self.last:
            span = render(mark.seconds, "s")
            self.troubles.append(
                Trouble(
                    said,
                    f"this could be {span} from the start or {span} after the step before.",
                    f'"at {span}" or "{span} later"',
                )
            )
            return math.nan
        return self.last + mark.seconds if mark.mode == "later" else mark.seconds

    def take(self, pieces: Sequence[_Piece], at: float, *, inherits: bool) -> None:
        """These pieces happen at this time; a later one that begins with "then" needs a time of its own."""
        for k, piece in enumerate(pieces):
            if piece.then and (inherits or k > 0):
                self.untimed(piece)
            else:
                self.clauses.append(Clause(piece.tokens, at))


def split(tokens: Sequence[Token], lead: Callable[[Sequence[Token]], str]) -> Split:
    """The text as start, steps and troubles.

    `lead` tells what is said of the start from a step: "start", or "lasts" for how long it lasts, or "".
    """
    state = _State(lead)
    segment: list[Token] = []
    for token in [*tokens, Token("end", "", 0, 0)]:
        if token.kind != "end":
            segment.append(token)
        else:
            counted = token.text == "." and len(segment) == 1 and segment[0].kind == "n"
            if segment and not counted:  # "1." at the head of a line counts the steps
                _segment(_without_bullet(segment), state)
            segment = []
    return Split(tuple(state.leads), tuple(state.clauses), tuple(state.troubles))


def _without_bullet(tokens: list[Token]) -> list[Token]:
    """A line without its dash, star or number in a list."""
    while tokens and tokens[0].kind in ("sep", "odd") and tokens[0].text in _BULLETS:
        tokens = tokens[1:]
    if len(tokens) > 1 and tokens[0].kind == "n" and tokens[1].text == ")":
        tokens = tokens[2:]
    return tokens


def _segment(tokens: list[Token], state: _State) -> None:
    """One sentence or line."""
    bare = _bare_time(tokens)
    marks = _marks(tokens)
    if bare is not None:
        state.troubles.append(bare)
        state.began = True
        rest = pieces_of(tokens[tokens.index(bare.tokens[-1]) + 1 :])
        state.take([] if marks else rest, math.nan, inherits=False)
        return
    bounds = [0, *(mark.last for mark in marks)]
    ends = [*(mark.first for mark in marks), len(tokens)]
    bucket = pieces_of(tokens[: ends[0]])
    while bucket and state.lead(bucket[0].tokens) in (("lasts",) if state.began else ("lasts", "start")):
        if len(bucket) == 1 and marks and _happens(bucket[0].tokens, tokens, marks[0]):
            break
        state.leads.append(bucket.pop(0).tokens)
    now = math.nan
    ahead, current = False, False  # the time in force stands ahead of what happens then; there is one
    for k, mark in enumerate(marks):
        trails = _trails(tokens, mark, bucket, current, ahead)
        if trails and current and ahead:
            state.take(bucket[:-1], now, inherits=False)
            bucket = bucket[-1:]
        elif not trails:
            _close(bucket, now, state, marks[k - 1] if current else None, tokens, ahead)
        now, current, ahead = state.time_of(mark, tokens), True, not trails
        state.began, state.last = True, state.last if math.isnan(now) else now
        if trails:
            state.take(bucket, now, inherits=False)
        bucket = pieces_of(tokens[bounds[k + 1] : ends[k + 1]])
    _close(bucket, now, state, marks[-1] if current else None, tokens, ahead)


def _happens(piece: Sequence[Token], tokens: Sequence[Token], mark: _Mark) -> bool:
    """Whether "ride at 60 rpm at 5 s" tells a step, and not the start before one."""
    before, behind = tokens[mark.first - 1], tokens[mark.last : mark.last + 1]
    closed = tokens[mark.last - 1].kind == "sep" or not behind or behind[0].word in ("and", "then")
    return (
        before.kind != "sep" and closed and not piece[0].word.endswith("ing") and piece[0].word not in _OPENS
    )


def _trails(tokens: Sequence[Token], mark: _Mark, bucket: list[_Piece], current: bool, ahead: bool) -> bool:
    """Whether the time stands behind what happens then ("saw on at 5 s")."""
    if not bucket or mark.first == 0:
        return False
    before = tokens[mark.first - 1]
    if before.kind == "sep" or before.word in ("and", "then"):
        return False
    return not current or not ahead or len(bucket) >= 2


def _close(
    bucket: list[_Piece],
    now: float,
    state: _State,
    mark: _Mark | None,
    tokens: Sequence[Token],
    ahead: bool,
) -> None:
    """What is left before the next time, or at the end, belongs to the time in force."""
    if mark is None:
        for piece in bucket:
            state.untimed(piece)
    elif not bucket and ahead:
        said = tuple(tokens[mark.first : mark.last])
        state.troubles.append(
            Trouble(said, "nothing is said to happen then.", f'"{joined(said)} pull the plug"')
        )
    else:
        state.take(bucket, now, inherits=not ahead)


def _bare_time(tokens: Sequence[Token]) -> Trouble | None:
    """A time without its unit at the beginning of a step."""
    at = 0
    while at < len(tokens) and (tokens[at].word in ("then", "and") or tokens[at].kind == "sep"):
        at += 1
    led = at < len(tokens) and tokens[at].word in ("at", "after")
    at += led
    if at >= len(tokens) or tokens[at].kind not in ("n", "bad"):
        return None
    number, behind = tokens[at], tokens[at + 1 : at + 2]
    if number.kind == "bad" and number.problem is not None:
        return Trouble((number,), number.problem.problem, number.problem.hint or '"at 5 s"')
    if not led and not (behind and behind[0].text == ":"):
        return None
    unit = behind[0] if behind and behind[0].kind == "word" and len(tokens) > at + 2 else None
    try:
        parse(f"{number.text} {unit.text if unit else ''}", "s")
    except BadText as bad:
        odd = unit is not None and "measures something else" in bad.problem
        problem = bad.problem if odd else "the time has no unit."
        said = (number, unit) if odd and unit is not None else (number,)
        return Trouble(
            said, problem, f'"at {number.text.lstrip("+")} s" or "at {number.text.lstrip("+")} min"'
        )
    return None


def _marks(tokens: Sequence[Token]) -> list[_Mark]:
    """Every time in the sentence, with the small words that belong to it."""
    marks: list[_Mark] = []
    at = 0
    while at < len(tokens):
        mark = _start_mark(tokens, at) or _mark(tokens, at, marks[-1].last if marks else 0)
        if mark is None:
            at += 1
        else:
            marks.append(mark)
            at = mark.last
    return marks


def _start_mark(tokens: Sequence[Token], at: int) -> _Mark | None:
    """ "at the start", "at the beginning", "at once"."""
    if tokens[at].word != "at":
        return None
    behind = [token.word for token in tokens[at + 1 : at + 3]]
    if behind[:1] == ["once"] or (behind and behind[0] in _START):
        return _Mark(at, at + 2, 0.0, "at")
    if len(behind) == 2 and behind[0] == "the" and behind[1] in _START:
        return _Mark(at, at + 3, 0.0, "at")
    return None


def _mark(tokens: Sequence[Token], at: int, least: int) -> _Mark | None:
    """The time whose first amount stands here."""
    if tokens[at].kind != "s":
        return None
    last, seconds = _amounts(tokens, at)
    before, behind = (
        tokens[at - 1].word if at > least else "",
        tokens[last].word if last < len(tokens) else "",
    )
    then_all = [t.word for t in tokens[last : last + 2]] == ["in", "all"]
    if before in _DURING or behind == "long" or then_all:
        return None
    first, mode = at, "at"
    while first > least and (tokens[first - 1].word in _AGAIN or tokens[first - 1].text in ("@", "=")):
        first -= 1
        mode = "later" if tokens[first].word in _AGAIN else mode
    if first > least and tokens[first - 1].word in ("at", "after", "from", "t"):
        first -= 1
        mode = "after" if tokens[first].word == "after" and mode == "at" else mode
        if first > least and tokens[first - 1].word == "at":
            first -= 1
    led = first < at
    last, later = _tail(tokens, last, tokens[first].word)
    then = first > least and tokens[first - 1].word == "then"
    if later or (then and mode == "after"):
        mode = "later"
    elif then and not led:
        mode = "after"
    return _Mark(first, last, seconds, mode)


def _amounts(tokens: Sequence[Token], at: int) -> tuple[int, float]:
    """One amount of time, or several in falling units: 1 min 20 s."""
    last, seconds, size = at + 1, tokens[at].value, _size(tokens[at])
    while True:
        nearer = last + (last < len(tokens) and tokens[last].word == "and")
        if nearer >= len(tokens) or tokens[nearer].kind != "s" or not 0 < _size(tokens[nearer]) < size:
            return last, seconds
        seconds += tokens[nearer].value
        size, last = _size(tokens[nearer]), nearer + 1


def _size(token: Token) -> float:
    """Seconds in the unit this amount is written in; 0 for a clock time."""
    unit = token.text.split()[-1].lstrip("+-\u22120123456789./").casefold()
    known = {"d": 86400.0, "h": 3600.0, "m": 60.0, "s": 1.0}
    return 0.0 if ":" in token.text else 1e-3 if unit == "ms" else known.get(unit[:1], 0.0)


def _tail(tokens: Sequence[Token], last: int, lead: str) -> tuple[int, bool]:
    """The small words behind a time, and whether they make it one from the step before."""
    words = [token.word for token in tokens[last : last + 3]] + ["", "", ""]
    later = False
    if words[0] in ("later", "afterwards", "more"):
        last, later = last + 1 + (words[1] == "later"), True
    elif words[0] == "after" and words[1] in ("that", "this"):
        last, later = last + 2, True
    elif words[0] == "into" and (words[1] in ("it", "ride") or words[1] in ARTICLES):
        last += 2 if words[1] in ("it", "ride") else 3
    else:
        closed = last + 1 >= len(tokens) or tokens[last + 1].text in (",", ":")
        last += (words[0] in ("on", "onward", "onwards") and lead == "from") or (words[0] == "in" and closed)
    while last < len(tokens) and tokens[last].kind == "sep":
        last += 1
    return min(last, len(tokens)), later


def pieces_of(tokens: Sequence[Token]) -> list[_Piece]:
    """A run of marks cut at commas, "and" and "then"."""
    out: list[_Piece] = []
    held: list[Token] = []
    then = False
    for token in [*tokens, Token("sep", ",", 0, 0)]:
        if token.kind != "sep" and token.word not in ("and", "then"):
            held.append(token)
            continue
        if held:
            out.append(_Piece(tuple(held), then))
            held, then = [], False
        then = then or token.word == "then"
    return out
