"""A scripted ride: what happens when, from a rig file's [[scene]] or from typed words, checked before it is played.

Times and amounts in SI. What cannot be read is refused with everything that is wrong at once, never guessed.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.acts import KINDS, Act, settled
from sparewatt.language.again import repeated, without_again
from sparewatt.language.building import Step, built
from sparewatt.language.lexer import Token, merged, tokens_of
from sparewatt.language.names import Names, names_of
from sparewatt.language.phrases import reserved
from sparewatt.language.plan import Place, Plan, Start
from sparewatt.language.starts import STARTS_LIKE, start_said
from sparewatt.language.steps import UNREAD, Refused, read_step
from sparewatt.language.telling import examples, tell, told_step
from sparewatt.language.times import Trouble, pieces_of, split
from sparewatt.parts import Measured, Scene
from sparewatt.rig.asking import Ask
from sparewatt.rig.fill import Filled

__all__ = [
    "KINDS",
    "LONGEST",
    "Act",
    "Script",
    "examples",
    "in_gear",
    "script_from_plan",
    "script_from_words",
    "script_of",
    "tell",
]

LONGEST = 4000  # letters; more is not a scene


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """A ride told step by step, with every name found and every default filled in.

    ask.gear None: it starts in the best gear, and a shift up or down before any other has the target "+1" or "-1" until
    `in_gear` says which gear that is. cadence: the turns it starts at or holds; None: where the effort settles. said: what
    the words or the rig file said of the start themselves.
    """

    name: str
    ask: Ask
    start: str  # "riding" or "rest"
    holds: str  # "effort", "cadence" or "power"
    cadence: float | None  # rad/s
    switched_on: bool
    steps: tuple[Act, ...]  # by time, those of one moment in the order told
    said: Start = field(default=Start(), compare=False)

    @property
    def duration(self) -> float:
        """How long it lasts (s)."""
        return self.ask.duration


def script_of(filled: Filled, scene: Scene, *, draws: int = 1024, seed: int = 1) -> Script:
    """The script of a scene of the rig file; raises BadRequest with everything in it that cannot be used."""
    names = names_of(filled.rig)
    where = f'scene "{scene.name}"'
    wish = Start(
        rider=scene.rider or None,
        load=scene.load or None,
        gear=scene.gear or None,
        effort=_value(scene.effort),
        cadence=_value(scene.cadence),
        duration=_value(scene.duration),
        holds=scene.holds or None,
        start=scene.start or None,
        switched_on=scene.switched_on,
    )
    steps: list[Step] = []
    for number, step in enumerate(scene.step, 1):
        steps += _told_steps(step.do, _value(step.at), Place(f"{where}, step {number}", number), names)
    return _script(filled, scene.name, wish, wish, steps, [], where, draws, seed)


def script_from_words(
    filled: Filled, text: str, *, name: str = "in words", rider: str | None = None, load: str | None = None,
    gear: str | None = None, effort: float | None = None, cadence: float | None = None, duration: float | None = None,
    holds: str | None = None, start: str | None = None, switched_on: bool | None = None, draws: int = 1024, seed: int = 1,
) -> Script:  # fmt: skip
    """The script that the words tell: "from rest; at 5 s switch the saw on; at 12 s shift to third; at 20 s pull the plug".

    What the words say of the start goes before what is given beside them. Raises BadRequest with everything at once.
    """
    if len(text) > LONGEST:
        raise BadRequest(
            Problem("words", f"this is {len(text)} letters long.", f"tell it in {LONGEST}", text[:40])
        )
    names = names_of(filled.rig)
    plain, every, unread = without_again(text)
    tokens = _tokens(plain, names)
    parts = split(tokens, lambda piece: _lead(piece, names))
    steps = [Step(c.tokens, c.at, _slice(text, c.tokens), _letters(c.tokens)) for c in parts.clauses]
    said, troubles = _start(parts.leads, names)
    given = Start(
        rider=rider or None, load=load or None, gear=gear or None, effort=effort, cadence=cadence, duration=duration,
        holds=holds, start=start, switched_on=switched_on,
    )  # fmt: skip
    whole = said.over(given)
    steps, endless = repeated(steps, every, whole.duration)
    wrong = [*unread, *endless, *(_timed_or_not(t, text, names) for t in (*parts.troubles, *troubles))]
    return _script(filled, name, whole, said, steps, wrong, "", draws, seed)


def script_from_plan(
    filled: Filled,
    plan: Plan,
    *,
    name: str = "in words",
    given: Start | None = None,
    draws: int = 1024,
    seed: int = 1,
) -> Script:
    """The script of a plan; what the plan says of the start goes before what is given beside it."""
    steps = [
        Step((), at, told_step(said.kind, said.target, said.value), Place(), said) for at, said in plan.steps
    ]
    return _script(filled, name, plan.start.over(given or Start()), plan.start, steps, [], "", draws, seed)


def in_gear(script: Script, filled: Filled, gear: str) -> Script:
    """The same script starting in this gear, with every "shift up" and "shift down" made a gear by name."""
    names = names_of(filled.rig)
    if gear not in names.gears:
        here = f"gears from easy to hard: {', '.join(names.gears)}"
        raise BadRequest(Problem("gear", f'there is no gear "{gear}".', here, gear))
    acts, problems = settled(script.steps, names.gears, gear, filled.rig)
    if problems:
        raise BadRequest(*problems)
    return dataclasses.replace(script, ask=dataclasses.replace(script.ask, gear=gear), steps=acts)


def _script(
    filled: Filled, name: str, start: Start, said: Start, steps: Sequence[Step], wrong: Sequence[Problem], where: str,
    draws: int, seed: int,
) -> Script:  # fmt: skip
    try:
        made = built(filled, start, steps, wrong, where, draws, seed)
    except BadRequest as bad:
        raise BadRequest(*dict.fromkeys(sorted(bad.problems, key=lambda p: p.begin))) from None
    return Script(
        name=name,
        ask=made.ask,
        start=made.start,
        holds=made.holds,
        cadence=made.cadence,
        switched_on=made.switched_on,
        steps=made.acts,
        said=said,
    )


def _value(number: Measured | None) -> float | None:
    return None if number is None else number.value


def _tokens(text: str, names: Names) -> list[Token]:
    """The marks of the text, names of several words taken whole unless all their words mean something else."""
    own = [
        n
        for n in names.everything()
        if any(t.kind == "word" and t.word not in reserved() for t in tokens_of(n))
    ]
    return merged(tokens_of(text), own)


def _told_steps(text: str, at: float | None, where: Place, names: Names) -> list[Step]:
    """One [[scene.step]]: its words may tell several things of the same moment."""
    tokens = [dataclasses.replace(t, kind="sep") if t.kind == "end" else t for t in _tokens(text, names)]
    pieces = pieces_of(tokens)
    when = math.nan if at is None else at
    if at is None:
        return [Step((), when, text, where, Refused("this does not say when.", hint='at = "5 s"'))]
    if not pieces:
        return [Step((), when, text, where, Refused("nothing is said to happen here."))]
    if any(piece.then for piece in pieces[1:]):
        return [Step((), when, text, where, Refused("this tells of two moments.", hint="make it two steps"))]
    return [
        Step(p.tokens, when, _slice(text, p.tokens) if len(pieces) > 1 else text.strip(), where)
        for p in pieces
    ]


def _lead(piece: Sequence[Token], names: Names) -> str:
    """Whether a piece is said of the start, or of how long it lasts."""
    got = start_said(piece, names)
    return "" if got is None else "lasts" if got == ({"duration": got[0].get("duration")}, None) else "start"


def _start(leads: Sequence[Sequence[Token]], names: Names) -> tuple[Start, list[Trouble]]:
    """What is said of the start as one wish."""
    said: dict[str, object] = {}
    troubles: list[Trouble] = []
    for piece in leads:
        got, trouble = start_said(piece, names) or ({}, None)
        if trouble is not None:
            troubles.append(trouble)
        elif any(key in said and said[key] != value for key, value in got.items()):
            troubles.append(Trouble(tuple(piece), "this was said otherwise before.", "say it once"))
        else:
            said |= got
    return Start(**said), troubles  # type: ignore[arg-type]


def _timed_or_not(trouble: Trouble, text: str, names: Names) -> Problem:
    """A trouble of the text as a problem; a piece without a time that is no step either is said to be not understood."""
    problem, hint = trouble.problem, trouble.hint
    read = read_step(trouble.tokens, names, "") if trouble.untimed else None
    if isinstance(read, Refused) and read.firm:
        problem, hint = read.why, read.hint
    elif isinstance(read, Refused):
        problem, hint = (
            UNREAD,
            f'a time and a step, such as "at 5 s pull the plug"; or of the start: {STARTS_LIKE}',
        )
    return _letters(trouble.tokens).problem(problem, hint, _slice(text, trouble.tokens))


def _slice(text: str, tokens: Sequence[Token]) -> str:
    return text[tokens[0].start : tokens[-1].end].strip() if tokens else ""


def _letters(tokens: Sequence[Token]) -> Place:
    return Place.letters(tokens[0].start, tokens[-1].end) if tokens else Place("words")
