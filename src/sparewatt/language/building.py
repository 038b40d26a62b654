"""A script put together: wishes and steps set against the rig, defaults filled in, everything that is wrong at once."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.acts import Act, Scened, settled, staged
from sparewatt.language.lexer import Token, tokens_of
from sparewatt.language.names import CHARGE, Names, find, fold, names_of
from sparewatt.language.phrases import heard
from sparewatt.language.plan import Place, Said, Start
from sparewatt.language.steps import MOST_TURNS, MOST_WATTS, UNREAD, Refused, nearest_step, read_step
from sparewatt.language.telling import plain_words
from sparewatt.parts.records import HOLDS, STARTS
from sparewatt.quantities import render
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import find_rider
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import find_load, hookup

__all__ = ["USUAL", "Made", "Step", "built", "on_at_first"]

USUAL, AFTER = (
    30.0,
    10.0,
)  # s: how long a scene lasts when nobody says, and what follows its last step at least
MOST = 2.592e6  # s, thirty days
SHOWN = 9  # examples named in a hint
_SWITCHING = frozenset({"on", "off", "work", "unplug_load", "plug_load"})


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to read: its marks, when, as written, where it stands, and what it says where that is known already."""

    tokens: tuple[Token, ...]
    at: float
    text: str
    where: Place
    read: Said | Refused | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Everything a script is made of but its name."""

    ask: Ask
    start: str
    holds: str
    cadence: float | None
    switched_on: bool
    acts: tuple[Act, ...]


def built(
    filled: Filled,
    wish: Start,
    steps: Sequence[Step],
    wrong: Sequence[Problem],
    where: str,
    draws: int,
    seed: int,
) -> Made:
    """The script of these wishes and steps; raises BadRequest with every problem of both."""
    names = names_of(filled.rig)
    problems: list[Problem] = list(wrong)
    fields = _Fields(names, where, problems)
    rider = fields.rider(wish.rider)
    load = fields.load(wish.load)
    gear = fields.gear(wish.gear)
    fields.amounts(wish)
    who = rider or _usual_rider(filled, problems)
    read = [(step, step.read or read_step(step.tokens, names, who, load or "")) for step in steps]
    if wish.load is None:
        load = _named_load(filled, [got for _, got in read])
    ask = _asked(filled, wish, rider, load, gear, steps, draws, seed, problems) if not fields.lost else None
    scene = _scened(filled, names, ask, wish, problems)
    acts, places = _acts(filled, scene, read, problems)
    if problems or ask is None:
        raise BadRequest(*problems)
    if gear is None and ask.gear is not None:  # the rig's own habit, in the spelling of its gears
        ask = dataclasses.replace(ask, gear=fields.gear(ask.gear))
    acts, late = settled(acts, names.gears, ask.gear, filled.rig, places)
    problems += late
    switched_on = _switched_on(wish, ask, acts, fields)
    if problems:
        raise BadRequest(*problems)
    return Made(
        ask=ask,
        start=scene.start,
        holds=scene.holds,
        cadence=scene.cadence,
        switched_on=switched_on,
        acts=acts,
    )


@dataclass
class _Fields:
    """What is said beside the steps, set against the rig."""

    names: Names
    where: str
    problems: list[Problem]
    lost: bool = False  # the question cannot be asked

    def _note(self, key: str, why: str, hint: str, read: object) -> None:
        self.problems.append(Problem(", ".join(filter(None, (self.where, key))), why, hint, str(read)))

    def rider(self, given: str | None) -> str | None:
        if given is None:
            return None
        look = find(given, self.names.riders, "rider")
        return self._found("rider", look.name, look.why, look.near, self.names.riders, given)

    def load(self, given: str | None) -> str | None:
        if given is None:
            return None
        known = (*self.names.loads, *((CHARGE,) if self.names.battery else ()))
        look = find(given, known, "load")
        if not look.name and self.names.battery and fold(given) in ("charging", "battery"):
            return CHARGE
        return self._found("load", look.name, look.why, look.near, known, given)

    def _found(
        self, key: str, name: str, why: str, near: str, known: Sequence[str], given: str
    ) -> str | None:
        if name:
            return name
        self.lost = True
        here = f"{key}s here: " + (", ".join(f'"{one}"' for one in known) or "none in the file")
        self._note(key, why, f'did you mean "{near}"? {here}' if near else here, given)
        return None

    def gear(self, given: str | None) -> str | None:
        """The gear of that name or in words ("third", "top")."""
        gears = self.names.gears
        if given is None:
            return None
        exact = [one for one in gears if fold(one) == fold(given)]
        if exact:
            return exact[0]
        said: Said | Refused = Refused(f'there is no gear "{given}".')
        tokens = [t for t in tokens_of(given) if t.kind != "end"]
        if any(one.kind == "shift" for one in heard([*tokens_of("shift to"), *tokens])):
            said = read_step([*tokens_of("shift to"), *tokens], self.names, "")
        if isinstance(said, Said) and said.kind == "shift" and said.target[:1] not in "+-":
            return said.target
        why = (
            said.why
            if isinstance(said, Refused)
            else "a scene starts in one gear, not up or down from another."
        )
        self.lost = True
        self._note("gear", why, f"gears from easy to hard: {', '.join(gears)}", given)
        return None

    def amounts(self, wish: Start) -> None:
        """Efforts, cadences, durations and choices that nobody can ride."""
        for key, value, most, unit, shown in (
            ("effort", wish.effort, MOST_WATTS, "W", '"100 W"'),
            ("cadence", wish.cadence, MOST_TURNS, "rpm", '"65 rpm"'),
            ("duration", wish.duration, MOST, "s", '"30 s"'),
        ):
            if value is not None and not 0 < value <= most:
                self.lost = True
                hint = f"{shown}; above 0 and up to {render(most, unit)}"
                self._note(
                    key, "this is zero, below zero, or more than a scene takes.", hint, render(value, unit)
                )
        for key, word, known in (("holds", wish.holds, HOLDS), ("start", wish.start, STARTS)):
            if word is not None and word not in known:
                self._note(key, f'"{word}" is not one of the ways.', ", ".join(known), word)
        if wish.start == "rest" and wish.cadence is not None and wish.holds != "cadence":
            why = "a ride from rest does not start at a cadence."
            self._note(
                "cadence", why, "leave the cadence out, hold it, or start riding", render(wish.cadence, "rpm")
            )

    def no_switch(self) -> None:
        """Charging was said to be switched off."""
        hint = 'leave it out, or let a step at 0 s "unhook the battery"'
        self._note("switched_on", "charging has no switch that could be off.", hint, "false")


def _usual_rider(filled: Filled, problems: list[Problem]) -> str:
    try:
        return find_rider(filled.rig, None).name
    except BadRequest as bad:
        problems.extend(bad.problems)
        return ""


def _named_load(filled: Filled, read: Sequence[Said | Refused]) -> str | None:
    """The first load a step names, when it is not the usual one: it is the one hooked up then."""
    for got in read:
        if isinstance(got, Said) and got.kind in _SWITCHING and got.target:
            ride = filled.rig.ride
            usual = ride.load if ride else ""
            return None if fold(usual) == fold(got.target) else got.target
    return None


def _asked(
    filled: Filled, wish: Start, rider: str | None, load: str | None, gear: str | None, steps: Sequence[Step],
    draws: int, seed: int, problems: list[Problem],
) -> Ask | None:  # fmt: skip
    """The question behind the scene: effort and the rest by the rig's habits, how long by the scene."""
    last = max((step.at for step in steps if math.isfinite(step.at)), default=0.0)
    lasts = wish.duration if wish.duration is not None else max(USUAL, min(last + AFTER, MOST))
    try:
        ask = ask_for(
            filled.rig, rider=rider, load=load, gear=gear, effort=wish.effort, draws=draws, seed=seed
        )
        found = find_load(filled.rig, ask.load)
        hookup(filled.rig, ask.load)
    except BadRequest as bad:
        problems.extend(bad.problems)
        return None
    return dataclasses.replace(ask, load=CHARGE if found is None else found.name, duration=lasts)


def _scened(filled: Filled, names: Names, ask: Ask | None, wish: Start, problems: list[Problem]) -> Scened:
    """What the steps are set against."""
    holds = wish.holds or "effort"
    cadence = wish.cadence
    load, battery, rider, effort, lasts = "", None, "", math.nan, wish.duration or math.inf
    peak = math.nan
    if ask is not None:
        load = ask.load
        battery = hookup(filled.rig, ask.load).battery is not None
        rider, effort, lasts = ask.rider, ask.effort, ask.duration
        person = find_rider(filled.rig, rider)
        peak = person.peak_power.value if person.peak_power else math.nan
        if cadence is None and holds == "cadence":
            ride = filled.rig.ride
            own = (ride.cadence if ride else None) or person.cadence
            cadence = own.value if own else None
    return Scened(
        rig=filled.rig, names=names, load=load, battery=battery, effort=effort, peak=peak, holds=holds,
        start=wish.start or "riding", cadence=cadence, duration=lasts,
    )  # fmt: skip


def _acts(
    filled: Filled, scene: Scened, read: Sequence[tuple[Step, Said | Refused]], problems: list[Problem]
) -> tuple[tuple[Act, ...], tuple[Place, ...]]:
    """Every step that can be used, by time, and where each stands; the others are noted."""
    told: list[tuple[Step, Said]] = []
    offered = plain_words(scene.names, filled.rig, scene.load or CHARGE, battery=scene.battery is not False)
    switches = [f"switch the {name} {way}" for name in scene.names.loads for way in ("on", "off")]
    for step, got in read:
        if isinstance(got, Refused):
            problems.append(_refusal(step, got, offered, switches))
        else:
            told.append((step, got))
    told.sort(key=lambda pair: (math.isnan(pair[0].at), pair[0].at))
    acts, places, wrong = staged(scene, [(said, step.at, step.text, step.where) for step, said in told])
    problems += wrong
    return acts, places


def _refusal(step: Step, got: Refused, offered: Sequence[str], more: Sequence[str]) -> Problem:
    """What cannot be read, what was probably meant, and what would be."""
    near = got.near or ("" if got.firm or got.hint else nearest_step(step.text, [*offered, *more]))
    shown = _spread(offered)
    listed = got.hint or ("" if got.firm else "steps here: " + ", ".join(f'"{one}"' for one in shown))
    hint = " ".join(filter(None, (f'did you mean "{near}"?' if near else "", listed)))
    return step.where.problem(got.why or UNREAD, hint, step.text)


def _spread(offered: Sequence[str]) -> list[str]:
    """A few of the examples, taken evenly from all of them."""
    if len(offered) <= SHOWN:
        return list(offered)
    return [offered[round(k * (len(offered) - 1) / (SHOWN - 1))] for k in range(SHOWN)]


def _switched_on(wish: Start, ask: Ask, acts: Sequence[Act], fields: _Fields) -> bool:
    """As told; else as its steps show."""
    if ask.load == CHARGE:
        if wish.switched_on is False:
            fields.no_switch()
        return True
    if wish.switched_on is not None:
        return wish.switched_on
    return on_at_first(acts)


def on_at_first(acts: Sequence[Act]) -> bool:
    """Whether the load is on at the start when nobody says: not where the first step about it switches it on."""
    return next((act.kind for act in acts if act.kind in ("on", "off")), "off") != "on"
