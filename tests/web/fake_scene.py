"""Stand-in for the task that plays a scene: the words are read in earnest, the motion is a toy."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.script import Script, in_gear, script_from_words, script_of
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Caveat, Stop
from sparewatt.studies.scenes.answers import (
    Chance,
    Entry,
    Happening,
    Peak,
    SceneAnswer,
    Side,
    StepRow,
    Track,
)
from sparewatt.studies.scenes.seconds import scene_named
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import number, open_place

F = NDArray[np.float64]
RPM = 2 * math.pi / 60


def scene(
    place: Any,
    *,
    name: str | None = None,
    words: str | None = None,
    runs: int = 200,
    changes: tuple[tuple[str, str], ...] = (),
    **given: Any,
) -> Answer:
    """A toy ride: faster with more effort, lighter while the plug is out."""
    loaded, origin = open_place(place, changes)
    filled = fill(loaded.rig)
    if name and words:
        raise BadRequest(Problem("words", "not both", "leave one out"))
    if name:
        script = script_of(filled, scene_named(filled, name))
    else:
        amounts = {k: number(k, v) for k, v in given.items() if k in ("effort", "cadence", "duration")}
        script = script_from_words(filled, words or "riding along", **(given | amounts))
    script = in_gear(script, filled, script.ask.gear or "42/21")
    study = play(script, runs, heavy=bool(changes))
    return Answer(
        section="scene",
        answer=f"It holds at {study.track('cadence').values[-1] / RPM:.0f} turns a minute with {script.ask.effort:.0f} W.",
        verdict=None,
        results={"runs_count": runs},
        nearest_yes=(
            {
                "says": "a 57 mm pulley instead of 40 mm",
                "gives": "the volts stay under 30 V",
                "edits": [["stage.1.driven_diameter", "57 mm"]],
            },
        ),
        caveats=("The machine's drag was read at one speed.",),
        sources=("IEC60228",),
        study=study,
        rig=filled.rig,
        origin=origin,
    )


def play(script: Script, runs: int, *, heavy: bool = False) -> SceneAnswer:
    """Made-up motion for a script."""
    t = np.linspace(0, script.duration, 301)
    out = np.zeros_like(t)
    for act in script.steps:
        if act.kind in ("unplug", "plug"):
            out[t >= act.at] = float(act.kind == "unplug")
    turns = (40 + 0.2 * script.ask.effort + 18 * out) * RPM * (0.8 if heavy else 1.0)
    volts = turns / RPM * 0.25
    spread = np.linspace(0, script.duration, 61)
    return SceneAnswer(
        name=script.name,
        ask=script.ask,
        gear=script.ask.gear or "",
        start=script.start,
        holds=script.holds,
        steps=tuple(StepRow(at=a.at, text=a.text, understood=a.understood) for a in script.steps),
        duration=script.duration,
        times=t,
        tracks=(
            _track("cadence", "turns a minute at the crank", "rad/s", t, turns, spread, runs),
            _track("bus_volts", "volts at the bus", "V", t, volts, spread, runs),
            _track("machine_amps", "amps out of the machine", "A", t, 4.0 - 3.0 * out, spread, runs),
            _track("rider_power", "watts at the pedals", "W", t, script.ask.effort - 60 * out, spread, runs),
            _track("reserve", "reserve left", "J", t, 18e3 - 40.0 * t, spread, runs),
        ),
        spread_times=spread,
        happenings=tuple(
            Happening(at=a.at + 0.4, key="clamp_starts", says="", value=30.0) for a in script.steps if a.kind == "unplug"
        ),
        ledger=(
            Entry(key="rider", name="legs", side="in", joules=3000.0),
            Entry(key="copper", name="machine winding", side="toll", joules=900.0),
            Entry(key="charge", name="into the battery", side="delivered", joules=2100.0),
        ),
        closes=1e-4,
        chances=(Chance(key="stall", says="", share=0.03),) if runs else (),
        peaks=(
            Peak(key="bus volts", name="clamp", unit="V", value=float(volts.max()), low=20.0, high=40.0, limit=18.0, at=5.5),
        ),
        served_time=script.duration,
        ends="holds",
        runs=runs,
        steady=Side(w_hold=60 * RPM, w_tip=31 * RPM, stop=Stop.FOUND),
        meter=(95.0, 104.0),
        limits=(("clamp", 18.0),),
        caveats=(Caveat("machine", "its drag was read at one speed"),),
        sources=("IEC60228",),
    )  # fmt: skip


def _track(key: str, name: str, unit: str, t: F, values: F, spread: F, runs: int) -> Track:
    values = np.broadcast_to(np.asarray(values, dtype=float), t.shape).copy()
    at = np.interp(spread, t, values)
    return Track(
        key=key, name=name, unit=unit, values=values, least=values, most=values,
        low=at * 0.9 if runs else None, high=at * 1.1 if runs else None,
    )  # fmt: skip
