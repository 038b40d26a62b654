"""What happens in a played scene, in order: the rig's own events, each a sentence, and the steps of the script."""

from __future__ import annotations

import math

import numpy as np

from sparewatt.language.script import Script
from sparewatt.rig.motion import Moving, Played, channel
from sparewatt.rig.motion_layout import Chan, Event, Out, Shared
from sparewatt.studies.scenes.answers import Happening
from sparewatt.studies.scenes.seconds_words import sentence_of

__all__ = ["happenings_of", "list_ended"]

MOST_EVENTS = 4000  # as many as the list of a played scene has room for
JUMP = 1.0  # s in which the bus finds its new volts
TURNS = 0.05  # of the speed on its plate: a tool below that stands as good as still
FAILED = {"diode_short", "diode_open", "diode_back"}


def list_ended(main: Played) -> float:
    """When the list of happenings was full; infinity where it was not."""
    return float(main.events[-1, 0]) if len(main.events) >= MOST_EVENTS else math.inf


def happenings_of(moving: Moving, main: Played, script: Script) -> tuple[Happening, ...]:
    """The located events in order, each a sentence, and the script's steps."""
    found: list[Happening] = []
    for at, code, rig, value in main.events:
        event = Event(int(code))
        if event == Event.SCRIPT:
            continue
        if event == Event.PROTECTS_FULL:
            value = _jumps_to(main, float(at), float(value))
        key, says = _told(event, moving, script, float(at), int(rig), float(value))
        found.append(
            Happening(
                at=float(at),
                key=key,
                says=says,
                unit_of=int(rig) if event != Event.FUSE_OPENS else 0,
                value=float(value),
            )
        )
    found += _tool_at_speed(moving, main)
    told = [Happening(at=step.at, key="script", says=step.understood, told=True) for step in script.steps]
    return tuple(sorted(found + told, key=lambda h: (h.at, not h.told)))


def _told(event: Event, moving: Moving, script: Script, at: float, rig: int, value: float) -> tuple[str, str]:
    """Key and sentence of one event, as the diode and the battery stand by then."""
    key, says = event.name.lower(), sentence_of(event, moving, rig, value)
    whose = "" if moving.rigs == 1 else f" of rig {rig + 1}"
    if event == Event.BATTERY_DRIVES and not _battery_is_there(moving, script, at):
        return (
            "flows_back",
            f"Nothing blocks: current swings back from the capacitor into the machine{whose}.",
        )
    if event == Event.DIODE_BLOCKS and not _diode_works(moving, script, at, rig):
        return key, f"The machine's volts{whose} fall below the bus: it gives nothing."
    return key, says


def _battery_is_there(moving: Moving, script: Script, at: float) -> bool:
    """Whether a battery is joined up just before a moment."""
    there = {"plug": True, "unplug": True, "hook": True, "unhook": True}
    for step in script.steps:
        if step.kind in there and step.at <= at + 1e-9:
            there["plug" if step.kind in ("plug", "unplug") else "hook"] = step.kind in ("plug", "hook")
    return bool(moving.oc[0, Out.HAS_BATTERY] > 0) and there["plug"] and there["hook"]


def _diode_works(moving: Moving, script: Script, at: float, rig: int) -> bool:
    """Whether there is a diode that still blocks just before a moment. The script breaks that of the main rig alone."""
    diode = moving.bounds[rig].rig.diode if rig < len(moving.bounds) else None
    works = diode is not None and diode.kind != "none"
    if rig > 0:
        return works
    for step in script.steps:
        if step.at <= at + 1e-9 and (step.kind in FAILED or step.kind == "diode_good"):
            works = step.kind == "diode_good"
    return works


def _jumps_to(main: Played, at: float, volts: float) -> float:
    """The highest volts of the bus within JUMP of a moment (at least to the next sample), not below those given."""
    k = int(np.searchsorted(main.times, at))
    after = slice(k, max(int(np.searchsorted(main.times, at + JUMP)), k + 1) + 1)
    high = main.most[after][:, [channel(Chan.V_BUS, main.rigs, rig) for rig in range(main.rigs)]].max(
        initial=volts
    )
    return float(high)


def _tool_at_speed(moving: Moving, main: Played) -> list[Happening]:
    """When a tool first gets within a tenth of the speed it settles at."""
    if not moving.oc[0, Out.MOTOR] > 0:
        return []
    speed = main.rows[:, channel(Shared.TOOL_SPEED, main.rigs)]
    top = float(np.max(speed))
    load = moving.bounds[0].hookup.load
    rated = load.plate_speed.value if load is not None and load.plate_speed is not None else 0.0
    if not top > max(1.0, TURNS * rated):
        return []
    k = int(np.argmax(speed >= 0.9 * top))
    return [
        Happening(
            at=float(main.times[k]),
            key="tool_at_speed",
            says="The tool is up to nine tenths of the highest speed it reaches here.",
            value=float(speed[k]),
        )
    ]
