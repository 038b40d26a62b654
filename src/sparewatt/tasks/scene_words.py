"""Scenes that show the seconds behind a steady answer, and the usual one of a rig: plans, told in words that read back."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass

from sparewatt.errors import SparewattError
from sparewatt.language.plan import Plan, Said, Start
from sparewatt.language.telling import TOOLS, TOP, told
from sparewatt.parts import Rig
from sparewatt.present.words_numbers import clause
from sparewatt.rig.bind import find_rider, gear_names
from sparewatt.rig.hookup import find_load, hookup
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import Finding, GuardAnswer, LoadAnswer, LoadsAnswer, MatchAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import CHARGE, Given, load_named, number

__all__ = ["Show", "scene_of_answer", "scenes_of_answer", "usual_load", "usual_plan"]

Steps = tuple[tuple[float, Said], ...]
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
    words: str  # the script, for a link or a command


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


def usual_plan(rig: Rig, load: str) -> Plan:
    """The usual scene: riding along, the load comes on after 5 s, and 25 s more; for a charge, from rest."""
    if load == CHARGE:
        return _plan(rig, load, rest=True)
    return _plan(rig, load, steps=_starting(rig, load))


# ---- the three sections ----------------------------------------------------------------------------------------------


def _of_match(m: MatchAnswer, rig: Rig) -> Iterator[Show]:
    """Charging: up from rest. Else the load comes on; where it does not hold, there is time to see it sink."""
    ask = m.ask
    if not _playable(rig, ask.load):
        return
    gear = m.gear or ask.gear or ""
    given = Start(rider=ask.rider, gear=gear, effort=ask.effort, cadence=ask.cadence)
    if find_load(rig, ask.load) is None:
        rest = ask.cadence is None
        says = "coming up from rest" if rest else "riding along"
        yield Show(of="", says=says, words=told(_plan(rig, CHARGE, given, rest=rest), digits=3))
        return
    sinks = m.stop in _SINKS
    says = f"{_the(ask.load)} comes on" + (" and drags you down" if sinks else "")
    steps = (_on(ask.load),) if sinks else _starting(rig, ask.load)
    plan = _plan(rig, ask.load, given, steps=steps, lasts=LONG if sinks else USUAL)
    yield Show(of="", says=says, words=told(plan, digits=3))


def _of_loads(a: LoadsAnswer, rig: Rig, effort: float | None) -> Iterator[Show]:
    """One scene an appliance: it starts, and a tool is leaned on and let go; then an hour of charging."""
    for row in a.rows:
        if row.dc == "stop" or not _playable(rig, row.load):
            continue
        steps = _starting(rig, row.load)
        given = Start(rider=a.rider, gear=_gear_of(row), effort=effort)
        words = told(_plan(rig, row.load, given, steps=steps), digits=3)
        played = next((x for x in (s.seconds for s in row.states) if x), "")
        if played and len(steps) > 1:  # how a tool starts was played; how it works is another scene
            yield Show(of=f"{row.load}: start", says=f"{_the(row.load)} starts", words=played)
            yield Show(of=row.load, says=f"{_the(row.load)} at work", words=words)
        else:
            yield Show(of=row.load, says=f"{_the(row.load)} starts", words=played or words)
    if a.charge is not None and _playable(rig, CHARGE):
        plan = _plan(rig, CHARGE, Start(rider=a.rider, effort=effort), lasts=HOUR)
        words = told(plan, digits=3)
        yield Show(of=CHARGE, says="an hour of charging", words=words)


def _gear_of(row: LoadAnswer) -> str:
    """The gear of the hardest work it does, else the first that was tried."""
    works = [s.gear for s in row.states if s.works and s.gear]
    return works[-1] if works else next((s.gear for s in row.states if s.gear), "")


def _of_guard(a: GuardAnswer, rig: Rig, load: str) -> Iterator[Show]:
    """One scene a finding that is about seconds: the one it was found by, else one in the gear where it is worst."""
    for found in a.findings:
        shown = _SECONDS.get(found.key.partition(":")[0])
        if found.seconds:
            yield Show(of=found.key, says=clause(found.title), words=found.seconds)
        elif shown is not None:
            named = found.key.partition(": ")[2] if found.key.startswith("flicker:") else ""
            what = named or (CHARGE if shown.charge and rig.battery is not None else load)
            if what and _playable(rig, what) and _reaches(found):
                yield Show(of=found.key, says=shown.seen(rig), words=told(shown.plan(rig, what), digits=3))


def _reaches(found: Finding) -> bool:
    """Volts to be touched are a matter of seconds where it is the machine that makes them."""
    return found.key != "touch volts" or "machine" in found.at


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seconds:
    """How one sort of hazard is shown. tops: in the gear that makes the most volts."""

    says: str
    steps: Steps = ()
    tops: bool = False
    charge: bool = False
    on: bool = True  # the load is on from the start; else it comes on
    lasts: float = USUAL

    def seen(self, rig: Rig) -> str:
        """What is seen, with the gear where there is a choice."""
        return self.says + (" in the hardest gear" if self.tops and len(gear_names(rig)) > 1 else "")

    def plan(self, rig: Rig, load: str) -> Plan:
        """The scene of this hazard on this rig."""
        given = Start(gear=TOP) if self.tops else Start()
        steps = self.steps if self.on or load == CHARGE else (_on(load), *self.steps)
        rest = not self.on and load == CHARGE
        return _plan(rig, load, given, on=self.on, rest=rest, steps=steps, lasts=self.lasts)


_PULL, _HALT = (5.0, Said("unplug")), (5.0, Said("stop"))
_RACE = (5.0, Said("cadence", value=FAST))
_SECONDS: dict[str, _Seconds] = {
    "over-volts": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "load rejection": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "touch volts": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "machine speed": _Seconds(says="the plug is pulled", steps=(_PULL,), tops=True),
    "passes through": _Seconds(says="you spin fast", steps=(_RACE,), tops=True),
    "capacitor stays charged": _Seconds(
        says="the plug is pulled and you stop", steps=(_PULL, (10.0, Said("stop"))), lasts=LONG
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


# ---- the plans -------------------------------------------------------------------------------------------------------


def _plan(
    rig: Rig, load: str, given: Start | None = None, *, steps: Steps = (), on: bool = False, rest: bool = False,
    lasts: float = USUAL,
) -> Plan:  # fmt: skip
    """A scene of this rig; what the rig would take by itself is left out."""
    start = given or Start()
    start = dataclasses.replace(
        start,
        rider=start.rider if start.rider and start.rider != find_rider(rig, None).name else None,
        start="rest" if rest else None,
        holds=None if start.cadence is None else "cadence",
        gear=start.gear if start.gear and len(gear_names(rig)) > 1 else None,
        load=load,
        switched_on=None if load == CHARGE else on,
        duration=lasts,
    )
    return Plan(start=start, steps=steps)


def _starting(rig: Rig, load: str) -> Steps:
    """It comes on; a tool is leaned on and let go."""
    found = find_load(rig, load)
    if found is None or found.kind not in TOOLS:
        return (_on(load),)
    return _on(load), (BITES, Said("work", load, 1.0)), (LETS_GO, Said("work", load, 0.0))


def _on(load: str) -> tuple[float, Said]:
    return COMES_ON, Said("on", load)


def _the(name: str) -> str:
    return name if name.casefold().startswith("the ") else f"the {name}"


def _playable(rig: Rig, load: str) -> bool:
    """Whether a scene with this load can be played at all."""
    try:
        hookup(rig, load)
        return refusal(rig, load) is None
    except SparewattError:
        return False
