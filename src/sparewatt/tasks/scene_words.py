"""Scenes in words: the one that shows the seconds behind a steady answer, and the usual one of a rig.

Every text here is a script that the same rig reads back (`studies.script.script_from_words`), so that a page can put it in
a link and a terminal behind a command.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sparewatt.errors import SparewattError
from sparewatt.language.telling import TOOLS, amount, quoted, told_step
from sparewatt.parts import Rig
from sparewatt.present.words_numbers import clause
from sparewatt.rig.bind import find_rider, gear_names
from sparewatt.rig.hookup import find_load, hookup
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import Finding, GuardAnswer, LoadAnswer, LoadsAnswer, MatchAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import CHARGE, Given, load_named, number

__all__ = ["Show", "scene_of_answer", "scenes_of_answer", "usual_load", "usual_words"]

COMES_ON, BITES, LETS_GO = 5.0, 12.0, 22.0  # s
USUAL, LONG, HOUR = 30.0, 60.0, 3600.0  # s a scene lasts
FAST = 120.0 * 0.10471975511965977  # rad/s: as fast as legs spin without a load
# Outcomes that are a slow sink: the load comes on and the legs lose turn by turn.
_SINKS = frozenset({Stop.STALLS, Stop.EDGE_MACHINE, Stop.EDGE_BOARD, Stop.DRAGS, Stop.UNFAIR, Stop.KEEPS})


@dataclass(frozen=True, slots=True, kw_only=True)
class Show:
    """A scene that shows seconds. of: "" the whole answer, else the load or the key of the finding that it belongs to."""

    of: str
    says: str  # what is seen: "the garden pump comes on"
    words: str  # the script


def scene_of_answer(answer: Answer, of: str = "", *, effort: Given = None, load: str | None = None) -> str:
    """The words of the scene that shows the seconds of an answer, or of one load or finding in it; "" without one."""
    shows = scenes_of_answer(answer, effort=effort, load=load)
    return next((show.words for show in shows if show.of == of), "")


def scenes_of_answer(answer: Answer, *, effort: Given = None, load: str | None = None) -> tuple[Show, ...]:
    """Every scene that shows seconds of a steady answer of `match`, `loads` or `guard`.

    effort, load: what was asked, where the study does not keep it (`loads` keeps no effort, `guard` no load).
    """
    study, rig = answer.study, answer.rig
    found: Iterator[Show] = iter(())
    if isinstance(study, MatchAnswer):
        found = _of_match(study, rig)
    elif isinstance(study, LoadsAnswer):
        found = _of_loads(study, rig, number("effort", effort))
    elif isinstance(study, GuardAnswer):
        found = _of_guard(study, rig, usual_load(rig, load))
    return tuple(found)


def usual_load(rig: Rig, asked: str | None = None) -> str:
    """The load asked for, else what the rig usually runs, else charging, else its first load; "" where there is none."""
    wanted = asked or (rig.ride.load if rig.ride else "")
    if wanted:
        return load_named(rig, wanted) or ""
    return CHARGE if rig.battery is not None else rig.load[0].name if rig.load else ""


def usual_words(rig: Rig, load: str) -> str:
    """The usual scene: riding along, the load comes on after 5 s, and 25 s more; for a charge, from rest."""
    if load == CHARGE:
        return _words(rig, load, rest=True)
    return _words(rig, load, steps=_starting(rig, load))


# ---- the three sections ----------------------------------------------------------------------------------------------


def _of_match(m: MatchAnswer, rig: Rig) -> Iterator[Show]:
    """Charging: up from rest. Else the load comes on; where it does not hold, there is time to see it sink."""
    ask = m.ask
    if not _playable(rig, ask.load):
        return
    gear = m.gear or ask.gear or ""
    given: dict[str, Any] = {"rider": ask.rider, "gear": gear, "effort": ask.effort, "cadence": ask.cadence}
    if find_load(rig, ask.load) is None:
        rest = ask.cadence is None
        says = "coming up from rest" if rest else "riding along"
        yield Show(of="", says=says, words=_words(rig, CHARGE, rest=rest, **given))
        return
    sinks = m.stop in _SINKS
    says = f"{_the(ask.load)} comes on" + (" and drags you down" if sinks else "")
    steps = (_on(ask.load),) if sinks else _starting(rig, ask.load)
    yield Show(
        of="", says=says, words=_words(rig, ask.load, steps=steps, lasts=LONG if sinks else USUAL, **given)
    )


def _of_loads(a: LoadsAnswer, rig: Rig, effort: float | None) -> Iterator[Show]:
    """One scene an appliance: it starts, and a tool is leaned on and let go; then an hour of charging."""
    for row in a.rows:
        if row.dc == "stop" or not _playable(rig, row.load):
            continue
        steps = _starting(rig, row.load)
        words = _words(rig, row.load, steps=steps, rider=a.rider, gear=_gear_of(row), effort=effort)
        played = next((x for x in (s.seconds for s in row.states) if x), "")
        if played and len(steps) > 1:  # how a tool starts was played; how it works is another scene
            yield Show(of=f"{row.load}: start", says=f"{_the(row.load)} starts", words=played)
            yield Show(of=row.load, says=f"{_the(row.load)} at work", words=words)
        else:
            yield Show(of=row.load, says=f"{_the(row.load)} starts", words=played or words)
    if a.charge is not None and _playable(rig, CHARGE):
        words = _words(rig, CHARGE, rider=a.rider, effort=effort, lasts=HOUR)
        yield Show(of=CHARGE, says="an hour of charging", words=words)


def _gear_of(row: LoadAnswer) -> str:
    """The gear of the hardest work it does, else the first that was tried."""
    works = [s.gear for s in row.states if s.works and s.gear]
    return works[-1] if works else next((s.gear for s in row.states if s.gear), "")


def _of_guard(a: GuardAnswer, rig: Rig, load: str) -> Iterator[Show]:
    """One scene a finding that is about seconds: the one it was found by, else one in the gear where it is worst."""
    for found in a.findings:
        told = _SECONDS.get(found.key.partition(":")[0])
        if found.seconds:
            yield Show(of=found.key, says=clause(found.title), words=found.seconds)
        elif told is not None:
            named = found.key.partition(": ")[2] if found.key.startswith("flicker:") else ""
            what = named or (CHARGE if told.charge and rig.battery is not None else load)
            if what and _playable(rig, what) and _reaches(found):
                yield Show(of=found.key, says=told.seen(rig), words=told.words(rig, what))


def _reaches(found: Finding) -> bool:
    """Volts to be touched are a matter of seconds where it is the machine that makes them."""
    return found.key != "touch volts" or "machine" in found.at


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seconds:
    """How one sort of hazard is shown. tops: in the gear that makes the most volts."""

    says: str
    steps: tuple[str, ...] = ()
    tops: bool = False
    charge: bool = False
    on: bool = True  # the load is on from the start; else it comes on
    lasts: float = USUAL

    def seen(self, rig: Rig) -> str:
        """What is seen, with the gear where there is a choice."""
        return self.says + (" in the hardest gear" if self.tops and len(gear_names(rig)) > 1 else "")

    def words(self, rig: Rig, load: str) -> str:
        """The script of this hazard on this rig."""
        gear = "top" if self.tops else ""
        steps = self.steps if self.on or load == CHARGE else (_on(load), *self.steps)
        rest = not self.on and load == CHARGE
        return _words(rig, load, on=self.on, rest=rest, gear=gear, steps=steps, lasts=self.lasts)


_PULL, _HALT = "at 5 s pull the plug", "at 5 s stop pedalling"
_RACE = f"at 5 s {told_step('cadence', '', FAST)}"
_SECONDS: dict[str, _Seconds] = {
    "over-volts": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "load rejection": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "touch volts": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "machine speed": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "passes through": _Seconds(says="you spin fast", steps=(_RACE,), tops=True),
    "capacitor stays charged": _Seconds(
        says="the plug is pulled and you stop", steps=(_PULL, "at 10 s stop pedalling"), lasts=LONG
    ),
    "no diode": _Seconds(says="you stop and the battery drives the rig", steps=(_HALT,), charge=True),
    "run-down": _Seconds(says="you stop and it turns on", steps=(_HALT,), lasts=LONG),
    "chatters": _Seconds(says="the load comes on", on=False),
    "inverter alone": _Seconds(says="the load comes on", on=False),
    "shared bus": _Seconds(says="the load comes on", on=False),
    "flicker": _Seconds(says="a lamp over a few turns of the crank"),
    "winding too hot": _Seconds(says="an hour of riding", lasts=HOUR),
    "hot case": _Seconds(says="an hour of riding", lasts=HOUR),
    "charging amps": _Seconds(says="an hour of charging", charge=True, lasts=HOUR),
    "no volts limit": _Seconds(says="an hour of charging", charge=True, lasts=HOUR),
}  # fmt: skip


# ---- the words -------------------------------------------------------------------------------------------------------


def _words(
    rig: Rig,
    load: str,
    *,
    steps: tuple[str, ...] = (),
    on: bool = False,
    rest: bool = False,
    rider: str = "",
    gear: str = "",
    effort: float | None = None,
    cadence: float | None = None,
    lasts: float = USUAL,
) -> str:
    """A script of this rig; what the rig would take by itself is left out."""
    way = "from rest" if rest else "along"
    head = []
    if rider and rider != find_rider(rig, None).name:
        head.append(f"{quoted(rider)} rides {way}")
    elif rest:
        head.append(way)
    if cadence is not None:
        head.append(f"holding {amount(cadence, ('rpm',), 'rad/s', 3)}")
    if effort is not None:
        head.append(f"at an effort worth {amount(effort, ('W',), 'W', 3)}")
    if gear and len(gear_names(rig)) > 1:
        head.append("in the top gear" if gear == "top" else f"in gear {gear}")
    if load == CHARGE:
        head.append("charging the battery")
    else:
        head.append(f"with {_marked(load)} {'on' if on else 'off'}")
    head.append(f"for {amount(lasts, ('s', 'min', 'h') if lasts < HOUR else ('h',), 's', 3)}")
    return "; ".join([", ".join(head), *steps])


def _starting(rig: Rig, load: str) -> tuple[str, ...]:
    """It comes on; a tool is leaned on and let go."""
    found = find_load(rig, load)
    if found is None or found.kind not in TOOLS:
        return (_on(load),)
    works = "lean on it" if found.kind == "universal_motor" else told_step("work", load, 1.0)
    return _on(load), f"at {BITES:g} s {works}", f"at {LETS_GO:g} s let go"


def _on(load: str) -> str:
    return f"at {COMES_ON:g} s {told_step('on', load, 0.0)}"


def _the(name: str) -> str:
    return name if name.casefold().startswith("the ") else f"the {name}"


def _marked(load: str) -> str:
    """The load as a script names it."""
    return told_step("on", load, 0.0).removeprefix("switch ").removesuffix(" on")


def _playable(rig: Rig, load: str) -> bool:
    """Whether a scene with this load can be played at all."""
    try:
        hookup(rig, load)
        return refusal(rig, load) is None
    except SparewattError:
        return False
