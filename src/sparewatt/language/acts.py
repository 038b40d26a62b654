"""What happens in a scene: one act, and the steps as read set against what is hooked up, who rides and which gear."""

from __future__ import annotations

import dataclasses
import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sparewatt.errors import Problem
from sparewatt.language.names import CHARGE, Names
from sparewatt.language.plan import Place, Said
from sparewatt.language.telling import understood
from sparewatt.parts import Rig
from sparewatt.quantities import render

__all__ = ["KINDS", "Act", "Scened", "settled", "staged"]

KINDS = (
    "on", "off", "unplug", "plug", "unhook", "hook", "shift", "effort", "cadence", "power", "stop", "pedal", "work",
    "leave", "join", "diode_short", "diode_open", "diode_good", "diode_back", "clamp_off", "clamp_on",
)  # fmt: skip
EASED = 0.6  # of the present effort, when the rider eases off (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """One step of a script.

    kind: one of KINDS. target: the load for "on", "off" and "work", the gear for "shift", the number of the rig on the
    bus for "leave" and "join" (1 the main one). value: W, rad/s or a share, 0 where the kind has none.
    """

    at: float  # s
    kind: str
    target: str
    value: float
    text: str  # as written
    understood: str  # "shift to 42/14"


@dataclass(frozen=True, slots=True, kw_only=True)
class Scened:
    """What the steps are set against. load: "charge" or a load; "" and battery None when that is not known."""

    rig: Rig
    names: Names
    load: str
    battery: bool | None
    effort: float
    peak: float
    holds: str
    start: str
    cadence: float | None
    duration: float


@dataclass(frozen=True, slots=True)
class _No:
    why: str
    hint: str = ""


@dataclass
class _Held:
    """What the rider holds at this moment of the script."""

    kind: str
    watts: float


def staged(
    scene: Scened, told: Sequence[tuple[Said, float, str, Place]]
) -> tuple[tuple[Act, ...], tuple[Place, ...], list[Problem]]:
    """The acts of the steps told (what, when, as written, where) in order of time, where each stands, and what cannot be."""
    acts: list[Act] = []
    places: list[Place] = []
    problems: list[Problem] = []
    held = _Held(scene.holds, scene.effort)
    for said, at, text, where in told:
        wrong = _when(at, scene.duration)
        got = _check(scene, said, held)
        problems += [where.problem(no.why, no.hint, text) for no in (wrong, got) if isinstance(no, _No)]
        if isinstance(got, Said):
            if got.kind in ("effort", "power", "cadence"):
                held = _Held(got.kind, held.watts if got.kind == "cadence" else got.value)
            if wrong is None and math.isfinite(at):
                words = understood(scene.rig, got.kind, got.target, got.value)
                places.append(where)
                acts.append(
                    Act(at=at, kind=got.kind, target=got.target, value=got.value, text=text, understood=words)
                )
    return tuple(acts), tuple(places), problems


def _when(at: float, lasts: float) -> _No | None:
    if at < 0:
        return _No("this is before the scene starts.", '"at 0 s" or later')
    if at > lasts:
        return _No(
            f"this is after the scene ends, at {render(lasts, 's')}.",
            "make the scene longer, or the step earlier",
        )
    return None


def _check(scene: Scened, said: Said, held: _Held) -> Said | _No:
    """The step as an act of this scene, or why it cannot be one."""
    group = _GROUPS.get(said.kind)
    return said if group is None else group(scene, said, held)


def _load(scene: Scened, said: Said, held: _Held) -> Said | _No:
    """on, off, work: of the load that is hooked up."""
    if not scene.load:
        return dataclasses.replace(said, target=said.target or "")
    if said.target and said.target != scene.load:
        what = "only the battery" if scene.load == CHARGE else f'only the "{scene.load}"'
        return _No(
            f'the "{said.target}" is not hooked up in this scene: {what} is.',
            f'hook it up from the start: load = "{said.target}", or "with the {said.target} on"',
        )
    if scene.load == CHARGE:
        loads = ", ".join(f'"{name}"' for name in scene.names.loads)
        return _No(
            "no load is hooked up in this scene: it charges the battery.",
            '"unhook the battery" or "hook the battery up"' + (f"; or hook up {loads}" if loads else ""),
        )
    return dataclasses.replace(said, target=scene.load)


def _plug_load(scene: Scened, said: Said, held: _Held) -> Said | _No:
    """Unplugging the load leaves a battery that is hooked up where it is, so it is the load's switch then."""
    checked = _load(scene, said, held)
    if isinstance(checked, _No):
        return checked
    pulled = said.kind == "unplug_load"
    if scene.battery:
        return Said("off" if pulled else "on", checked.target)
    return Said("unplug" if pulled else "plug")


def _battery(scene: Scened, said: Said, held: _Held) -> Said | _No:
    if not scene.names.battery:
        return _No("this rig has no battery.", "leave this step out, or add [battery] to the rig file")
    if scene.battery is False:
        return _No(
            f'no battery is hooked up in this scene: the "{scene.load}" runs without one.',
            "leave this step out",
        )
    return said


def _diode(scene: Scened, said: Said, held: _Held) -> Said | _No:
    if scene.rig.diode is None or scene.rig.diode.kind == "none":
        return _No(
            "this rig has no blocking diode, so none can fail.",
            "leave this step out, or add [diode] to the rig file",
        )
    return said


def _clamp(scene: Scened, said: Said, held: _Held) -> Said | _No:
    if scene.rig.clamp is None:
        return _No("this rig has no clamp.", "leave this step out, or add [clamp] to the rig file")
    return said


def _sprint(scene: Scened, said: Said, held: _Held) -> Said | _No:
    return Said("effort", "", scene.peak)


def _ease(scene: Scened, said: Said, held: _Held) -> Said | _No:
    if held.kind == "cadence":
        return _No(
            "the cadence is held here, so there is no effort to ease off from.",
            '"hold 50 rpm" or "ride at 60 W"',
        )
    return Said(held.kind, "", EASED * held.watts)


_GROUPS: dict[str, Callable[[Scened, Said, _Held], Said | _No]] = {
    **dict.fromkeys(("on", "off", "work"), _load),
    **dict.fromkeys(("unplug_load", "plug_load"), _plug_load),
    **dict.fromkeys(("unhook", "hook"), _battery),
    **dict.fromkeys(("diode_short", "diode_open", "diode_good", "diode_back"), _diode),
    **dict.fromkeys(("clamp_off", "clamp_on"), _clamp),
    "sprint": _sprint,
    "ease": _ease,
}


def settled(
    acts: Sequence[Act], gears: Sequence[str], gear: str | None, rig: Rig, places: Sequence[Place] = ()
) -> tuple[tuple[Act, ...], list[Problem]]:
    """The acts with every "+1" and "-1" made a gear by name from where the rider is then, as far as that is known."""
    out: list[Act] = []
    problems: list[Problem] = []
    for act, place in itertools.zip_longest(acts, places):
        if act.kind != "shift" or act.target[:1] not in "+-":
            gear = act.target if act.kind == "shift" else gear
            out.append(act)
            continue
        if gear is None:
            out.append(act)
            continue
        rank = list(gears).index(gear) + int(act.target)
        if not 0 <= rank < len(gears):
            which = "harder" if act.target.startswith("+") else "easier"
            gear_words = f"gears from easy to hard: {', '.join(gears)}"
            where = place if place and place.where else Place(f"at {render(act.at, 's')}")
            problems.append(
                where.problem(f"there is no such {which} gear than {gear}.", gear_words, act.text)
            )
            continue
        gear = gears[rank]
        out.append(dataclasses.replace(act, target=gear, understood=understood(rig, "shift", gear, 0.0)))
    return tuple(out), problems
