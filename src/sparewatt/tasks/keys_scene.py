"""Published keys of `scene`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from sparewatt.language.acts import Act
from sparewatt.language.script import Script, tell
from sparewatt.present import words_seconds
from sparewatt.studies.scenes.answers import Peak, SceneAnswer, Track
from sparewatt.tasks.keys import Key, flatten, mixed, number, rows, text, whole

__all__ = ["SCENE", "Beside", "Told"]

ONCE = "it was played once only"
NO_STEADY = "ridden evenly there is no such point"
NO_METER = "it is not told over whole turns of the crank here"
_STEP_UNITS = {"effort": "W", "power": "W", "cadence": "rad/s", "work": "1"}
_HAPPENING_UNITS = {
    "fuse_opens": "A", "reserve_empty": "W", "stalls": "rad/s", "moves_again": "rad/s", "tool_at_speed": "rad/s",
    "freewheel_opens": "rad/s", "freewheel_takes": "rad/s", "script": "",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """A second design in the same scene."""

    changes: tuple[tuple[str, str], ...]
    answer: str
    differs: str  # what differs, in words
    told: Told


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """A scene played, with the script it was played from and what speaks against it."""

    scene: SceneAnswer
    script: Script
    asked: float  # s in which the load, or the battery, was meant to be fed
    against: tuple[str, ...]
    runs: int  # that were asked for
    beside: Beside | None = None
    files: tuple[str, ...] = ()


def _of(name: str) -> Any:
    return lambda t: getattr(t.scene, name)


def _value(act: Act) -> float:
    return act.value if act.kind in _STEP_UNITS else math.nan


_STEP: tuple[Key, ...] = (
    number("time_s", "at", "When."),
    text("text", "text", "As it was written."),
    text("understood", "understood", "As it was understood."),
    text("kind", "kind", "What sort of step, as one word."),
    text("target", lambda s: s.target or None, "The load, the gear or the number of the rig; null when there is none."),
    mixed("value", _value, "The new watts, speed or share, in the unit beside it.", "a step of this kind has no number"),
    text("unit", lambda s: _STEP_UNITS.get(s.kind, ""), "SI unit of the value."),
)  # fmt: skip

_HAPPENING: tuple[Key, ...] = (
    whole("number_count", lambda r: r["row"].number, "Its number, as in the picture."),
    number("time_s", lambda r: r["row"].at, "When."),
    number("until_s", lambda r: r["row"].until, "The last time, of what comes again and again."),
    whole("times_count", lambda r: r["row"].times, "How often, of what comes again and again."),
    text("key", lambda r: r["row"].key, "What sort, as one word; script for a step of the scene."),
    text("says", lambda r: r["row"].says, "In words."),
    whole("told", lambda r: r["row"].told, "It is a step of the scene, not something that the rig did."),
    whole("rig_count", lambda r: r["row"].unit_of + 1, "Which rig on the bus; 1 is the main one."),
    mixed("value", lambda r: r["value"], "Volts, amps, watts or speed at that moment, in the unit beside it.",
          "no number belongs to it"),
    text("unit", lambda r: _HAPPENING_UNITS.get(r["row"].key, "V"), "SI unit of the value."),
)  # fmt: skip

_TRACK: tuple[Key, ...] = (
    text("key", "key", "Which quantity; with a number behind it, of that rig on the bus."),
    text("name", "name", "What it is."),
    text("unit", "unit", "SI unit of its numbers."),
    mixed("values", "values", "At the times of times_s."),
    mixed("least", "least", "Lowest since the time before."),
    mixed("most", "most", "Highest since the time before."),
    mixed("values_p05", lambda t: _edge(t, "low"), "5 % point of the runs, at the times of spread_times_s.", ONCE),
    mixed("values_p95", lambda t: _edge(t, "high"), "95 % point of the runs, at the times of spread_times_s.", ONCE),
)  # fmt: skip

_PEAK: tuple[Key, ...] = (
    text("key", "key", "Which quantity."),
    text("name", "name", "The part, and where on it."),
    text("unit", "unit", "SI unit of its numbers."),
    mixed("value", "value", "The most that is reached.", "it is never reached"),
    mixed("value_p05", lambda p: _spread(p, p.low), "5 % point of the runs.", ONCE),
    mixed("value_p95", lambda p: _spread(p, p.high), "95 % point of the runs.", ONCE),
    mixed("limit", "limit", "What the part stands.", "no rating is known"),
    whole("over", "over", "The rating is passed."),
    number("time_s", "at", "When the most is reached.", "it is a sum over the whole scene"),
)

PLAYED: tuple[Key, ...] = (
    text("name", _of("name"), "The scene."),
    text("words", lambda t: tell(t.script), "The whole scene in words; typed again they play the same."),
    text("told", lambda t: tell(t.script, digits=3), "The same with rounded amounts, to be read."),
    text("rider", lambda t: t.scene.ask.rider, "Who rides."),
    text("load", lambda t: t.scene.ask.load, "What is hooked up, or charge."),
    text("gear", _of("gear"), "The gear it starts in."),
    text("start", _of("start"), "riding or rest."),
    text("holds", _of("holds"), "What the rider keeps even at first: effort, cadence or power."),
    number("effort_W", lambda t: t.scene.ask.effort, "The effort it starts with: what it is worth at its best cadence."),
    number("duration_s", _of("duration"), "How long it lasts."),
    whole("runs_count", _of("runs"), "How many runs with the parts as they may be the bands come from."),
    whole("runs_asked_count", lambda t: t.runs, "How many such runs were asked for; a caveat says why there are fewer."),
    text("ends", _of("ends"), "How it stands at the end: holds, free, stalled, stopped, hiccups or asleep."),
    mixed("against", lambda t: list(t.against),
          "What makes it a no: stalls, over a rating, a fuse opens, goes off and on, not served; empty for a yes."),
    number("served_s", _of("served_time"), "How long the load gets what it asks for."),
    number("asked_s", lambda t: t.asked, "How long it was meant to be fed."),
    text("binds_says", lambda t: words_seconds.scene_binds(t.scene), "What binds, in words."),
    rows("steps", lambda t: t.script.steps, "What was told to happen, by time.", _STEP),
    rows("happenings", lambda t: _happenings(t.scene), "What happens, by time.", _HAPPENING),
    rows("chances", _of("chances"), "How many of the runs do what.", (
        text("key", "key", "stall, over volts, over load volts, hiccup, fuse or served."),
        text("says", "says", "In words."),
        number("chance_share", "share", "Share of the runs."),
    )),
    rows("peaks", _of("peaks"), "The most of everything against what the parts stand.", _PEAK),
    rows("ledger", _of("ledger"), "Where the work of the legs goes.", (
        text("key", "key", "Which line."),
        text("name", "name", "What it is."),
        text("side", "side", "in, delivered, toll or store."),
        number("energy_J", "joules", "How much; below zero where it is taken out."),
    )),
    number("ledger_left_share", _of("closes"), "What the ledger leaves over, as a share of all that goes in."),
    number("meter_W", lambda t: t.scene.meter[0], "Mean volts times mean amps at the bus over the last turns.", NO_METER),
    number("meter_true_W", lambda t: t.scene.meter[1], "The true mean watts there.", NO_METER),
    number("steady_cadence_rad_per_s", lambda t: t.scene.steady.w_hold, "Crank speed where it holds when ridden evenly.",
           NO_STEADY),
    number("steady_tip_rad_per_s", lambda t: t.scene.steady.w_tip, "Crank speed below which it drags you to a stop.",
           NO_STEADY),
    text("steady_stop", lambda t: t.scene.steady.stop, "Outcome of riding evenly, as one word."),
    text("steady_stop_says", lambda t: t.scene.steady.stop.value, "Outcome of riding evenly, as a sentence."),
    rows("limits", lambda t: [{"name": name, "volts": volts} for name, volts in t.scene.limits],
         "Ratings of the volts on the bus.", (
        text("name", lambda limit: limit["name"], "The part, and where on it."),
        number("limit_V", lambda limit: limit["volts"], "What it stands.", "no rating is known"),
    )),
    mixed("times_s", _of("times"), "The times of the values of all tracks."),
    mixed("spread_times_s", _of("spread_times"), "The times of their 5 % and 95 % points."),
    rows("tracks", _of("tracks"), "Every quantity against time.", _TRACK),
)  # fmt: skip

SCENE: tuple[Key, ...] = (
    *PLAYED,
    rows("beside", "beside", "A second design in the same scene.", (
        mixed("changes", lambda b: [list(pair) for pair in b.changes], "Pairs of key path and text that make it."),
        text("answer", "answer", "Its answer, as sentences."),
        text("differs", "differs", "What differs, as sentences."),
        mixed("results", lambda b: flatten(PLAYED, b.told), "Its numbers: the same keys as above."),
    ), "no second design was asked for"),
    mixed("files", lambda t: list(t.files), "Files that were written."),
)  # fmt: skip


def _happenings(a: SceneAnswer) -> list[dict[str, object]]:
    """The numbered rows, each with the number that was found with it."""
    found = {(h.key, h.at, h.unit_of): h.value for h in a.happenings}
    return [
        {"row": row, "value": found.get((row.key, row.at, row.unit_of), math.nan)}
        for row in words_seconds.rows(a)
    ]


def _edge(track: Track, name: str) -> object:
    edge = getattr(track, name)
    return None if edge is None or not len(edge) else edge


def _spread(peak: Peak, value: float) -> float:
    """The edge of the runs; nothing where there is only one run, and both edges are the run itself."""
    return math.nan if peak.low == peak.high == peak.value else value
