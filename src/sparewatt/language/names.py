"""The names a script may use on one rig: its loads, its gears from easy to hard, its riders and the rigs beside it."""

from __future__ import annotations

import difflib
import itertools
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.language.lexer import Token, joined
from sparewatt.language.vocabulary import ARTICLES
from sparewatt.parts import Rig
from sparewatt.rig.bind import gear_names

__all__ = ["CHARGE", "Look", "Names", "asked_load", "find", "fold", "gear_of", "names_of", "station_of"]

CHARGE = "charge"
_IT = frozenset({"it", "load", "tool", "appliance", "thing", "that", "this", "motor"})
_ME = frozenset({"rider", "she", "he", "they", "i", "we", "you", "main rig", "main rider", "main frame"})
_HARD = frozenset({"top", "highest", "hardest", "high"})
_EASY = frozenset({"lowest", "easiest", "low", "bottom"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """What things are called on one rig. gears: easiest for the legs first; beside: name and rider of every further rig."""

    loads: tuple[str, ...]
    riders: tuple[str, ...]
    gears: tuple[str, ...]
    driven: tuple[str, ...]  # of each gear, the driven teeth, when they alone tell it apart; else ""
    beside: tuple[tuple[str, str], ...]
    battery: bool

    def everything(self) -> tuple[str, ...]:
        """Every name of a load, a rider or a rig."""
        return (*self.loads, *self.riders, *(name for name, _ in self.beside))


@dataclass(frozen=True, slots=True)
class Look:
    """What looking a name up gave: the name, or why not and what is near."""

    name: str = ""
    why: str = ""
    near: str = ""


def names_of(rig: Rig) -> Names:
    """The names of one rig."""
    gears = gear_names(rig)
    choices = [
        [a / b for a in stage.driver_teeth for b in stage.driven_teeth] or [1.0] for stage in rig.stage
    ]
    ratios = [math.prod(pick) for pick in itertools.product(*choices)]
    order = sorted(range(len(gears)), key=lambda k: ratios[k])
    ranked = tuple(gears[k] for k in order)
    ends = [gear.rpartition("/")[2] for gear in ranked]
    return Names(
        loads=tuple(load.name for load in rig.load),
        riders=tuple(rider.name for rider in rig.rider),
        gears=ranked,
        driven=tuple(end if ends.count(end) == 1 and len(ranked) > 1 else "" for end in ends),
        beside=tuple((other.name, other.rider) for other in rig.neighbour),
        battery=rig.battery is not None,
    )


def fold(text: str) -> str:
    """A name as it is compared: small letters, single spaces, plain quotes."""
    plain = re.sub('["\u201c\u201d\u00ab\u00bb\u2018\u2019]', "'", text)
    return " ".join(plain.casefold().split())


def _bare(text: str) -> list[str]:
    words = [word.removesuffix("'s") for word in fold(text).split()]
    return [word for word in words if word not in ARTICLES] or words


def find(asked: str, known: Sequence[str], kind: str) -> Look:
    """The one name that is meant: in full, or by words at its end or its beginning that fit no other."""
    exact = [name for name in known if fold(name) == fold(asked)] or [
        n for n in known if _bare(n) == _bare(asked)
    ]
    if len(exact) == 1:
        return Look(exact[0])
    words = _bare(asked)
    if words and not exact:
        tails = [name for name in known if _bare(name)[-len(words) :] == words]
        heads = [name for name in known if _bare(name)[: len(words)] == words]
        fitting = tails or heads
        if len(fitting) == 1:
            return Look(fitting[0])
        exact = fitting
    if len(exact) > 1:
        listed = " or ".join(f'"{name}"' for name in exact)
        return Look(why=f'"{asked}" could be {listed}.', near=exact[0])
    return Look(why=f'there is no {kind} called "{asked}".', near=_near(asked, known))


def _near(asked: str, known: Sequence[str]) -> str:
    """The name closest in spelling, or the one whose last word is."""
    whole = {fold(name): name for name in reversed(known)}
    close = difflib.get_close_matches(fold(asked), whole, n=1, cutoff=0.6)
    if close:
        return whole[close[0]]
    tails = {_bare(name)[-1]: name for name in reversed(known) if _bare(name)}
    last = _bare(asked)[-1] if _bare(asked) else ""
    close = difflib.get_close_matches(last, tails, n=1, cutoff=0.6)
    return tails[close[0]] if close else ""


def asked_load(tokens: Sequence[Token], names: Names, hooked: str) -> Look:
    """The load that is meant; an empty name without a reason: the one that is hooked up.

    Where the words fit several loads, the one that is hooked up is meant if it is among them.
    """
    asked = joined(tokens)
    quoted = len(tokens) == 1 and tokens[0].kind == "q"
    found = find(asked, names.loads, "load")
    if not found.name and not quoted and " ".join(_bare(asked)) in _IT:
        return Look()
    if not found.name and hooked and find(asked, (hooked,), "load").name:
        return Look(hooked)
    return found


def station_of(tokens: Sequence[Token], names: Names, rider: str) -> tuple[int, Look]:
    """Which rig on the bus is meant, 1 the main one; 0 and why when none is."""
    asked = joined(tokens)
    numbered = _numbered(tokens)
    if numbered and any(token.word == "number" for token in tokens):
        return _counted_rig(numbered, names)
    by_name = find(asked, [name for name, _ in names.beside], "rig")
    if by_name.name:
        return [name for name, _ in names.beside].index(by_name.name) + 2, by_name
    if numbered:
        return _counted_rig(numbered, names)
    if " ".join(_bare(asked)) in _ME:
        return 1, Look()
    person = find(asked, names.riders, "rider")
    if not person.name:
        return 0, Look(why=person.why, near=person.near or by_name.near)
    seats = [rider, *(who for _, who in names.beside)]
    sits = [k + 1 for k, who in enumerate(seats) if fold(who) == fold(person.name)]
    if len(sits) == 1:
        return sits[0], Look(person.name)
    if sits:
        return 0, Look(why=f"{person.name} is named on more than one rig here.", near=f"rig {sits[0]}")
    return 0, Look(why=f"{person.name} does not ride in this scene.")


def _counted_rig(number: int, names: Names) -> tuple[int, Look]:
    if number <= len(names.beside) + 1:
        return number, Look()
    return 0, Look(why=f"there are only {len(names.beside) + 1} rigs on the bus.")


def _numbered(tokens: Sequence[Token]) -> int:
    """2 of "rider 2", "second frame", "rig number 2"; else 0."""
    words = [t for t in tokens if t.word not in ARTICLES and t.word != "number"]
    if len(words) != 2:
        return 0
    kinds = {t.kind for t in words}
    noun = next((t.word for t in words if t.kind == "word"), "")
    if noun in ("rig", "rider", "frame", "station", "bike") and kinds & {"n", "o"}:
        value = next(t.value for t in words if t.kind in ("n", "o"))
        return int(value) if value == int(value) and 1 <= value <= 1000 else 0
    return 0


def gear_of(slots: dict[str, tuple[Token, ...]], words: frozenset[str], names: Names) -> Look:
    """The gear a shift is to: its name, or "+1", "-2" for so many harder or easier than the one it is in."""
    gears = names.gears
    if "g" in slots:
        return _by_teeth(joined(slots["g"]), names)
    if "o" in slots:
        return _counted(slots["o"][0].value, gears)
    if "n" in slots:
        return _by_number(slots["n"][0].value, words, names)
    if words & _HARD:
        return Look(gears[-1])
    if words & _EASY:
        return Look(gears[0])
    by = slots["k"][0].value if "k" in slots else 1.0
    if by != int(by) or not 1 <= by < 100:
        return Look(why="gears are shifted a whole number at a time.")
    harder = bool(words & {"up", "higher", "harder", "next"}) and not words & {"lower", "easier"}
    return Look(f"{'+' if harder else '-'}{int(by)}")


def _by_teeth(asked: str, names: Names) -> Look:
    plain = re.sub(r"\s*\+\s*", " + ", re.sub(r"\s*[/:xX\u00d7-]\s*", "/", asked))
    if plain in names.gears:
        return Look(plain)
    close = difflib.get_close_matches(plain, names.gears, n=1, cutoff=0.5)
    return Look(why=f'there is no gear "{plain}".', near=close[0] if close else "")


def _counted(value: float, gears: tuple[str, ...]) -> Look:
    if value == int(value) and 1 <= value <= len(gears):
        return Look(gears[int(value) - 1])
    return Look(why=f"there are {len(gears)} gears, counted from the easiest.")


def _by_number(value: float, words: frozenset[str], names: Names) -> Look:
    """A number alone: the gear so counted from the easiest, or the one with so many teeth on its driven side."""
    teeth = str(int(value)) if value == int(value) and abs(value) < 1000 else ""
    cog = names.gears[names.driven.index(teeth)] if teeth and teeth in names.driven else ""
    counted = _counted(value, names.gears)
    if words & {"tooth", "teeth", "cog", "sprocket"}:
        return Look(cog) if cog else Look(why=f"no gear is told by {teeth or value} driven teeth alone.")
    if "gear" in words or not cog:
        return counted
    if counted.name:
        return Look(why=f'"{teeth}" could be the gear so counted or the one with so many teeth.', near=cog)
    return Look(cog)
