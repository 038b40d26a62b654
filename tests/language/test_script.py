"""A ride told in words: every kind of step in many everyday phrasings, its times, and what is said of the start."""

from __future__ import annotations

import dataclasses
import itertools
import math

import pytest
from tests.language.script_rigs import BARE, FOUR, RIG, filled

from sparewatt.errors import BadRequest
from sparewatt.language.lexer import tokens_of
from sparewatt.language.names import names_of
from sparewatt.language.phrases import PHRASES
from sparewatt.language.script import (
    KINDS,
    Act,
    Script,
    examples,
    in_gear,
    script_from_words,
    script_of,
)
from sparewatt.language.steps import Refused, Said, read_step
from sparewatt.parts import Load, Measured, Rig, Scene, SceneStep, Stage
from sparewatt.rig import motion_layout
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill

RPM = 2 * math.pi / 60

# rig, load hooked up ("": as the words say), kind, target, value, ways to say it
SAYINGS: tuple[tuple[Rig, str, str, str, float, tuple[str, ...]], ...] = (
    (RIG, "", "on", "bench saw", 0.0, (
        "switch the saw on", "switch on the saw", "saw on", "turn on the bench saw", "turn the saw on",
        "start the saw", "the saw starts", "the saw is switched on", "the saw goes on", "Saw On",
        "SWITCH THE BENCH SAW ON", "run the saw", "set the saw going", "flick the saw on",
        "power up the saw", "put the saw on", "start the saw up", "use the saw", "fire up the saw",
    )),
    (RIG, "bench saw", "on", "bench saw", 0.0, (
        "switch on", "switch it on", "turn it on", "start it", "it starts", "it goes on",
        "switch the tool on", "the load comes on", "turn on", "on",
    )),
    (RIG, "", "off", "bench saw", 0.0, (
        "switch the saw off", "saw off", "turn off the saw", "stop the saw", "the saw stops",
        "shut the saw down", "shut down the saw", "the saw goes off", "kill the saw",
        "turn the bench saw off", "the saw is off", "the saw is turned off again",
    )),
    (RIG, "bench saw", "off", "bench saw", 0.0, (
        "switch off", "switch it off", "it stops", "off", "turn off the load",
    )),
    (RIG, "", "on", "chart lamp", 0.0, (
        "chart lamp on", "switch the chart lamp on", "light the chart lamp", "turn the chart on",
    )),
    (RIG, "", "unplug", "", 0.0, (
        "pull the plug", "pull out the plug", "unplug", "unplug it", "unplug everything",
        "the plug falls out", "the plug comes out", "the plug slips out", "the plug is pulled",
        "the plug is pulled out", "plug out", "yank the plug", "somebody pulls the plug",
        "knock the plug out", "take the plug out", "disconnect everything", "the plug works loose",
        "the plug is out", "pull the plug out",
    )),
    (RIG, "", "plug", "", 0.0, (
        "plug it back in", "plug back in", "plug in", "plug it in", "put the plug back",
        "put the plug back in", "push the plug in", "the plug goes back in", "reconnect everything",
        "plug everything back in", "plug it back", "plug in again", "plug it in again",
        "the plug is back in",
    )),
    (RIG, "", "unhook", "", 0.0, (
        "unhook the battery", "disconnect the battery", "take the battery off", "battery off",
        "the battery comes off", "the battery clip comes off", "battery falls off", "remove the battery",
        "unplug the battery", "pull the battery out", "detach the battery", "stop charging",
        "the battery is unhooked", "take off the battery", "the battery is disconnected",
        "lose the battery", "battery out",
    )),
    (RIG, "", "hook", "", 0.0, (
        "hook the battery up", "hook up the battery", "connect the battery", "reconnect the battery",
        "hook the battery back up", "battery on", "battery back on", "plug the battery in",
        "put the battery back", "start charging", "the battery goes back on",
        "the battery is hooked up again", "clip the battery on", "join the battery",
    )),
    (RIG, "", "shift", "42/18", 0.0, (
        "shift to 42/18", "shift to third", "third gear", "go to third", "change to third",
        "shift into third gear", "gear 3", "shift to gear 3", "shift to the third gear", "3rd gear",
        "42/18", "change gear to 42/18", "click into third", "put it in third", "in third gear",
        "shift to 3", "shift to 18", "shift to 42:18", "shift to 42-18", "shift to the 18 teeth",
        "select third gear", "shift back to third", "go back to third gear", "shift to 42 / 18",
        "shift down to third", "she shifts to third", "take the third gear", "shift gear to third",
        "into third", "shift third",
    )),
    (RIG, "", "shift", "42/14", 0.0, (
        "top gear", "shift to top gear", "highest gear", "shift to the highest gear", "hardest gear",
        "fifth gear", "go into top", "shift to top", "high gear",
    )),
    (RIG, "", "shift", "42/24", 0.0, (
        "lowest gear", "shift to the lowest gear", "easiest gear", "bottom gear", "first gear", "low gear",
        "go down to first gear", "shift to first",
    )),
    (RIG, "", "shift", "+1", 0.0, (
        "shift up", "change up", "gear up", "up a gear", "up one gear", "shift up a gear",
        "shift up one gear", "one gear up", "go up a gear", "harder gear", "shift to a harder gear",
        "next gear", "higher gear", "shift to a higher gear", "Runa shifts up", "shift gear up",
        "click up",
    )),
    (RIG, "", "shift", "-1", 0.0, (
        "shift down", "change down", "gear down", "down a gear", "shift down one gear", "easier gear",
        "shift to an easier gear", "drop down a gear", "lower gear", "go down a gear", "drop a gear",
    )),
    (RIG, "", "shift", "-2", 0.0, (
        "shift down two gears", "two gears down", "shift down 2", "down 2 gears",
    )),
    (RIG, "", "effort", "", 200.0, (
        "ride at 200 W", "push 200 W", "effort 200 W", "an effort of 200 W",
        "ride at an effort worth 200 W", "push at 200 W", "work at 200 W", "effort to 200 W",
        "raise the effort to 200 W", "pedal at 200 watts", "pedal with 200 W", "200 W", "push 0.2 kW",
        "Runa rides at 200 W", "she pushes 200 W", "I push 200 W", "effort 200",
        "keep the effort at 200 W", "ease off to 200 W", "change the effort to 200 W", "put in 200 W",
        "push up to 200 W", "ride with an effort of 200 W", "hold an effort of 200 W", "give 200 W",
        "go to 200 W",
    )),
    (RIG, "", "cadence", "", 70 * RPM, (
        "hold 70 rpm", "spin at 70", "spin at 70 rpm", "ride at 70 rpm", "keep 70 rpm",
        "hold a cadence of 70 rpm", "cadence 70", "cadence 70 rpm", "70 rpm", "hold 70 turns a minute",
        "pedal at 70 turns per minute", "turn at 70 rpm", "hold the cadence at 70 rpm",
        "speed up to 70 rpm", "slow down to 70 rpm", "go to 70 rpm", "keep the cadence at 70",
        "spin at seventy", "hold 70 revs a minute", "change cadence to 70 rpm", "keep an even 70 rpm",
        "hold at 70 rpm", "hold 70 revolutions per minute", "spin 70",
    )),
    (RIG, "", "power", "", 150.0, (
        "hold 150 W", "give an even 150 W", "hold a steady 150 W", "hold an even 150 W", "even 150 W",
        "steady 150 W", "keep 150 W", "keep the power at 150 W", "hold the power at 150 W", "power 150 W",
        "ride at a constant 150 W", "ride at an even 150 W", "give a steady 150 watts", "hold 150 W even",
        "power 150", "ride steadily at 150 W", "keep a constant power of 150 W",
    )),
    (RIG, "", "stop", "", 0.0, (
        "stop pedalling", "stop", "feet still", "coast", "stop pedaling", "stops", "rest", "take a rest",
        "feet off the pedals", "hold the feet still", "keep your feet still", "stop turning the pedals",
        "legs stop", "Runa stops pedalling", "she stops", "stop riding", "stop the legs", "rest the legs",
        "legs still", "the rider stops", "the rider stops pedalling", "take your feet off the pedals",
        "coasts", "halt", "freewheel",
    )),
    (RIG, "", "pedal", "", 0.0, (
        "pedal again", "pedal", "start pedalling", "start pedalling again", "go on", "go on pedalling",
        "carry on", "keep pedalling", "resume pedalling", "ride on", "pedal on", "ride again",
        "starts to pedal again", "Runa pedals again", "legs go again", "resume", "keep riding",
        "carry on pedalling",
    )),
    (RIG, "bench saw", "work", "bench saw", 1.0, (
        "the blade bites", "lean on it", "push hard", "lean on the saw", "the saw bites", "push it hard",
        "push the saw hard", "full load", "work hard", "start cutting", "cut", "bites", "the bit bites",
        "lean hard on it", "press hard", "lean in", "cut hard", "work at 100 %", "full work",
        "lean into it",
    )),
    (RIG, "bench saw", "work", "bench saw", 0.5, (
        "work at 50 %", "work at half", "work at 50%", "half work", "half load", "load at 50 %",
        "run the saw at 50 %", "saw at 50 %", "work it at 50 %", "work at 0.5", "lean on it at 50 %",
        "work at 50 per cent", "the saw works at 50 %", "work the saw at 50 %",
        "lean on the saw with half",
    )),
    (RIG, "bench saw", "work", "bench saw", 1 / 3, (
        "light work", "work lightly", "light load", "push lightly", "lean lightly", "light cut",
        "cut gently", "work at a third", "lean lightly on it", "a light touch",
    )),
    (RIG, "bench saw", "work", "bench saw", 0.0, (
        "let go", "release", "let it go", "let go of it", "let go of the saw", "release the saw",
        "lift off", "lift the saw", "lift it out", "stop cutting", "no load", "the blade comes free",
        "run free", "lift the saw off", "the blade is free", "blade free",
    )),
    (RIG, "chart lamp", "work", "chart lamp", 0.5, (
        "dim the lamp to 50 %", "run the chart lamp at 50 %", "turn the lamp down to half", "lamp at 50 %",
        "chart lamp to half", "set the lamp to 50 %", "dim it to 50 %", "dim the chart lamp to half",
    )),
    (FOUR, "", "leave", "2", 0.0, (
        "Osei steps off", "second frame steps off", "rider 2 gets off", "rider 2 steps off",
        "Osei gets off", "Osei climbs off", "Osei leaves", "the second rider steps off", "rig 2 steps off",
        "Osei hops off", "the second rig steps off", "Osei quits",
        "the rider of the second frame steps off", "frame 2 steps off", "Osei drops out", "osei comes off",
        "Osei steps down", "Osei gets off the bike",
    )),
    (FOUR, "", "join", "3", 0.0, (
        "Lio steps on", "Lio steps back on", "Lio gets back on", "third frame steps on", "rider 3 gets on",
        "Lio joins", "Lio joins in", "Lio comes back", "Lio returns", "rider three steps on",
        "Lio climbs back on", "Lio is back", "the third rider joins again", "Lio gets on again",
    )),
    (FOUR, "", "leave", "1", 0.0, (
        "Imke steps off", "rig 1 steps off", "the rider steps off", "the first rider steps off",
        "the main rig steps off",
    )),
    (RIG, "", "diode_short", "", 0.0, (
        "the diode fails short", "the diode is missing", "diode missing", "no diode", "diode shorts",
        "the diode is shorted", "the diode is gone", "without the diode", "take the diode out",
        "take out the diode", "diode short-circuits", "bypass the diode", "diode fails shorted",
        "short the diode", "remove the diode", "the diode is bridged", "bridge the diode",
    )),
    (RIG, "", "diode_open", "", 0.0, (
        "the diode fails open", "diode open", "the diode is open", "diode opens", "the diode breaks open",
    )),
    (RIG, "", "diode_back", "", 0.0, (
        "diode reversed", "the diode is reversed", "the diode is in backwards",
        "diode the wrong way round", "turn the diode round", "reverse the diode",
        "the diode is put in backwards", "reversed diode",
    )),
    (RIG, "", "diode_good", "", 0.0, (
        "diode good again", "the diode is mended", "the diode is fixed", "replace the diode",
        "put the diode back", "mend the diode", "the diode is whole again", "diode back in",
        "the diode is replaced",
    )),
    (RIG, "", "clamp_off", "", 0.0, (
        "clamp off", "the clamp fails", "turn the clamp off", "switch off the clamp", "no clamp",
        "the clamp is missing", "disconnect the clamp", "without the clamp", "take the clamp off",
        "the clamp goes off", "the clamp is off", "the clamp stops", "switch the clamp off",
    )),
    (RIG, "", "clamp_on", "", 0.0, (
        "clamp on", "turn the clamp on", "switch the clamp back on", "the clamp is back", "clamp back on",
        "connect the clamp", "switch on the clamp", "the clamp goes back on", "reconnect the clamp",
    )),
    (RIG, "", "effort", "", 700.0, (
        "sprint", "sprint all out", "all out", "go all out", "flat out", "Runa sprints", "she sprints",
        "full sprint", "sprints", "sprinting", "push flat out", "sprint hard", "give it everything",
    )),
    (RIG, "", "effort", "", 72.0, (
        "ease off", "ease up", "take it easy", "go easy", "she eases off", "slacken off", "ride easier",
        "easing off",
    )),
    (RIG, "chart lamp", "off", "chart lamp", 0.0, (
        "unplug the lamp", "unplug the chart lamp", "pull the lamp's plug out",
    )),
    (RIG, "bench saw", "unplug", "", 0.0, (
        "unplug the saw", "pull the saw plug out",
    )),
    (RIG, "bench saw", "plug", "", 0.0, (
        "plug the saw back in", "plug in the saw", "connect the saw",
    )),
)  # fmt: skip


def told(rig: Rig, text: str, **given: object) -> Script:
    """The script of these words, ridden at 120 W unless they say otherwise."""
    return script_from_words(filled(rig), text, **{"effort": 120.0, **given})  # type: ignore[arg-type]


def one(script: Script) -> Act:
    """Its only step."""
    (act,) = script.steps
    return act


@pytest.mark.parametrize(
    ("rig", "load", "kind", "target", "value", "text"),
    [(*row[:5], text) for row in SAYINGS for text in row[5]],
)
def test_many_ways_of_saying_one_thing(
    rig: Rig, load: str, kind: str, target: str, value: float, text: str
) -> None:
    """Every phrasing of the table is read as its kind, target and value."""
    act = one(told(rig, f"at 5 s {text}", load=load or None))
    assert (act.at, act.kind, act.target) == (5.0, kind, target)
    assert act.value == pytest.approx(value, rel=1e-12)
    assert act.text == text
    assert act.understood


def test_the_table_has_every_kind_of_act() -> None:
    """No kind is left without its ways of saying it, and no step has a kind that is not in the list."""
    assert {row[2] for row in SAYINGS} == set(KINDS)


def test_every_kind_is_one_the_moving_rig_knows() -> None:
    """What a script may hold, the model can play."""
    assert {kind.upper() for kind in KINDS} <= set(motion_layout.Act.__members__)


@pytest.mark.parametrize(
    "text", ["SWITCH THE SAW ON", "  please   switch the saw on now ", "Switch\tthe Bench SAW on."]
)
def test_capitals_spaces_and_small_words_do_not_matter(text: str) -> None:
    """Case, articles, spaces and politeness are passed over."""
    assert one(told(RIG, f"at 5 s {text}")).kind == "on"


def test_every_phrase_of_the_vocabulary_can_be_reached() -> None:
    """Each way in the list, said as short as it goes, is read as its own kind: none hides behind another."""
    fill_in = {"{load}": "bench saw", "{who}": "Osei", "{w}": "100 W", "{r}": "70 rpm", "{p}": "50 %", "{n}": "3",
               "{o}": "third", "{g}": "42/18", "{k}": "two"}  # fmt: skip
    work = dict.fromkeys(("let_go", "light", "full", "share"), "work")
    names = names_of(FOUR)
    for kind, text in PHRASES:
        pieces = text.split()
        needed = [p for p in pieces if not p.endswith("?")] or [pieces[-1].removesuffix("?")]
        for choice in itertools.product(*(piece.split("|") for piece in needed)):
            cog = {"{n}": "18"} if {"tooth", "teeth", "cog", "sprocket"} & set(choice) else {}
            said = " ".join({**fill_in, **cog}.get(word, word.replace("_", " ")) for word in choice)
            got = read_step(tokens_of(said), names, "Imke", "bench saw")
            if isinstance(got, Refused):  # a number without its unit, or stepping off without saying who
                assert got.firm and (
                    kind == "bare" or (kind in ("leave", "join") and "{who}" not in choice)
                ), said
            else:
                assert got.kind == work.get(kind, kind) or said == "push 3", said


# ---- when ----


@pytest.mark.parametrize(
    ("text", "times"),
    [
        ("at 5 s saw on; at 12 s shift to third; at 20 s pull the plug", (5, 12, 20)),
        ("5 s: saw on, 12 s: shift to third, 20 s: pull the plug", (5, 12, 20)),
        ("5s saw on\n12s third gear\n20s unplug", (5, 12, 20)),
        ("at 5 s saw on, at 12 s shift up, at 20 s pull the plug", (5, 12, 20)),
        ("at 5 s switch the saw on at 12 s shift to third at 20 s pull the plug", (5, 12, 20)),
        ("switch the saw on at 5 s, shift to third at 12 s and pull the plug at 20 s", (5, 12, 20)),
        ("At 5 s switch the saw on. At 12 s shift up. Then 8 s later pull the plug!", (5, 12, 20)),
        ("after 5 s saw on, after 12 s shift up, after 20 s stop", (5, 12, 20)),
        ("at 5 s saw on; 7 s later shift up; 8 s after that stop", (5, 12, 20)),
        ("at 5 s saw on; then 7 s later shift up; another 8 s later stop", (5, 12, 20)),
        ("at 5 s saw on; then after 7 s shift up; after another 8 s stop", (5, 12, 20)),
        ("at 20 s stop; at 5 s saw on; at 12 s shift up", (5, 12, 20)),
        ("at 5 s saw on and push hard, shift up; at 12 s stop", (5, 5, 5, 12)),
        ("at 5 s saw on, shift up at 12 s", (5, 12)),
        ("saw on at 5 s and push hard, at 12 s shift up", (5, 5, 12)),
        ("at 1 min 20 s saw on; at 2 minutes shift up; at 1:45 stop; at 0.5 min let go", (30, 80, 105, 120)),
        ("at 1 minute and 5 seconds saw on", (65,)),
        ("at five seconds saw on; half a minute: stop; at ten secs let go", (5, 10, 30)),
        ("t = 5 s: saw on; @ 9 s stop; [12 s] pedal; 15 s in, lean on it; 18 s into the ride let go", (5, 9, 12, 15, 18)),
        ("- 5 s: saw on\n* 6 s - shift up\n1. at 7 s stop\n2) at 8 s pedal", (5, 6, 7, 8)),
        ("at the start saw on; at once push hard; at 3 s stop", (0, 0, 3)),
        ("from 5 s on hold 70 rpm", (5,)),
        ("at 500 ms saw on; at 0.01 h stop", (0.5, 36)),
    ],
)  # fmt: skip
def test_times_stand_before_or_behind_what_happens(text: str, times: tuple[float, ...]) -> None:
    """The time of each step, in order, however it is put."""
    assert [act.at for act in told(RIG, text).steps] == pytest.approx(times, rel=1e-12)


def test_steps_of_one_moment_stay_in_the_order_told() -> None:
    """Sorted by time, and by the telling within one moment."""
    steps = told(RIG, "at 9 s stop; at 5 s saw on and push hard; at 5 s shift up").steps
    assert [act.kind for act in steps] == ["on", "work", "shift", "stop"]


@pytest.mark.parametrize(
    ("steps", "lasts"),
    [("", 30.0), ("; at 12 s stop", 30.0), ("; at 25 s stop", 35.0), ("; at 20 min stop", 1210.0)],
)
def test_a_scene_lasts_half_a_minute_or_ten_seconds_past_its_last_step(steps: str, lasts: float) -> None:
    """Unless it says how long."""
    assert told(RIG, f"riding{steps}").duration == lasts
    assert told(RIG, f"riding{steps}; for 40 min").duration == 2400.0


# ---- the start ----


def test_what_is_said_of_the_start() -> None:
    """Rider, cadence, gear, load, switch and length, each from the words."""
    script = told(RIG, "Tove rides along at 60 rpm in third gear with the saw off for 40 s; at 5 s saw on")
    assert script.ask.rider == "Tove" and script.ask.load == "bench saw" and script.ask.gear == "42/18"
    assert script.start == "riding" and script.holds == "effort" and script.switched_on is False
    assert script.cadence == pytest.approx(60 * RPM) and script.duration == 40.0


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("from rest", "start", "rest"), ("from a standstill", "start", "rest"), ("standing still", "start", "rest"),
        ("starting from rest", "start", "rest"), ("with the pedals still", "start", "rest"),
        ("riding along", "start", "riding"), ("already riding", "start", "riding"),
        ("holding 60 rpm", "holds", "cadence"), ("holding an even 150 W", "holds", "power"),
        ("at an effort worth 150 W", "holds", "effort"), ("with the saw on", "switched_on", True),
        ("with the bench saw already running", "switched_on", True), ("with the saw off", "switched_on", False),
        ("with the saw switched off", "switched_on", False),
    ],
)  # fmt: skip
def test_one_thing_said_of_the_start(text: str, field: str, value: object) -> None:
    """Each way to say how it starts, alone and before a step."""
    assert getattr(told(RIG, text), field) == value
    assert getattr(told(RIG, f"{text}, at 5 s stop"), field) == value
    assert getattr(told(RIG, f"{text}; at 5 s stop"), field) == value


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("charging the battery", "load", "charge"), ("with the chart lamp hooked up", "load", "chart lamp"),
        ("Tove rides", "rider", "Tove"), ("with Tove on the saddle", "rider", "Tove"), ("rider Tove", "rider", "Tove"),
        ("in top gear", "gear", "42/14"), ("in gear 2", "gear", "42/21"), ("in 42/16", "gear", "42/16"),
        ("at 150 W", "effort", 150.0), ("pushing 150 W", "effort", 150.0), ("lasting 50 s", "duration", 50.0),
        ("for 1 min in all", "duration", 60.0),
    ],
)  # fmt: skip
def test_one_thing_asked_at_the_start(text: str, field: str, value: object) -> None:
    """Each way to say who, what, which gear, how hard and how long."""
    assert getattr(told(RIG, text).ask, field) == value


def test_words_go_before_what_is_given_beside_them() -> None:
    """A cadence in the words counts, and what the words leave open is as given."""
    script = told(
        RIG, "riding at 60 rpm; at 5 s stop", cadence=9.0, rider="Tove", gear="third", duration=20.0
    )
    assert script.cadence == pytest.approx(60 * RPM)
    assert (script.ask.rider, script.ask.gear, script.duration) == ("Tove", "42/18", 20.0)


def test_a_time_behind_a_way_of_riding_makes_it_a_step() -> None:
    """ "hold 70 rpm at 5 s" happens at 5 s; "riding at 60 rpm at 5 s saw on" is the start and a step."""
    assert one(told(RIG, "hold 70 rpm at 5 s")).kind == "cadence"
    script = told(RIG, "riding at 60 rpm at 5 s saw on")
    assert script.cadence == pytest.approx(60 * RPM) and one(script).kind == "on"


def test_no_words_are_a_ride_without_steps() -> None:
    """An empty text plays the rig's usual question."""
    script = script_from_words(filled(), "")
    assert script.steps == () and script.ask.load == "charge" and script.ask.effort == 120.0


# ---- what is not said ----


def test_what_is_not_said_is_as_for_a_steady_ride() -> None:
    """Rider, load and effort are those of the steady question; only the time is the scene's."""
    usual = ask_for(RIG)
    ask = script_from_words(filled(), "at 5 s stop").ask
    assert (ask.rider, ask.load, ask.gear, ask.effort) == (usual.rider, usual.load, usual.gear, usual.effort)
    assert ask.duration == 30.0
    other = ask_for(RIG, load="bench saw")
    assert script_from_words(filled(), "with the saw on").ask.effort == other.effort


def test_the_load_that_is_named_first_is_the_one_hooked_up() -> None:
    """The rig usually charges; a scene about the saw is about the saw."""
    assert told(RIG, "at 5 s switch the saw on; at 9 s saw off").ask.load == "bench saw"
    assert told(RIG, "at 5 s stop").ask.load == "charge"


@pytest.mark.parametrize(
    ("text", "on"),
    [
        ("at 5 s switch the saw on", False),
        ("at 5 s switch the saw off", True),
        ("at 9 s saw off; at 5 s saw on", False),
        ("at 5 s saw off; at 9 s saw on", True),
        ("with the saw on; at 5 s switch the saw on", True),
        ("with the saw hooked up; at 5 s pull the plug", True),
    ],
)
def test_a_load_is_on_unless_the_first_step_switches_it_on(text: str, on: bool) -> None:
    """What the script does first says how the switch stands at the start."""
    assert told(RIG, text).switched_on is on


def test_a_held_cadence_is_the_riders_own_unless_said() -> None:
    """Holding the cadence without a number holds the one that is comfortable."""
    person = next(r for r in filled().rig.rider if r.name == "Tove")
    assert person.cadence is not None
    assert told(RIG, "Tove rides", holds="cadence").cadence == person.cadence.value
    assert told(RIG, "Tove rides").cadence is None


def test_easing_off_is_a_share_of_what_is_held_then() -> None:
    """60 % of the present effort each time; an even power stays an even power."""
    steps = told(RIG, "at 5 s ease off; at 6 s ride at 200 W; at 7 s ease off; at 8 s ease off").steps
    assert [act.value for act in steps] == pytest.approx([72.0, 200.0, 120.0, 72.0])
    steps = told(RIG, "at 5 s hold 150 W; at 6 s ease off").steps
    assert [(act.kind, act.value) for act in steps] == [("power", 150.0), ("power", pytest.approx(90.0))]


def test_unplugging_the_load_leaves_a_battery_where_it_is() -> None:
    """With a battery beside it the load alone goes; without one the plug is the plug."""
    assert one(told(RIG, "at 5 s unplug the chart lamp")).kind == "off"
    assert one(told(RIG, "at 5 s unplug the saw")).kind == "unplug"


# ---- names ----


def test_a_last_word_is_enough_when_it_fits_one_name_only() -> None:
    """ "saw" is the bench saw; "lamp" alone could be two, unless one of them is hooked up."""
    assert one(told(RIG, "at 5 s saw on")).target == "bench saw"
    with pytest.raises(BadRequest, match=r"could be .chart lamp. or .door lamp."):
        told(RIG, "at 5 s lamp on")
    assert one(told(RIG, "at 5 s lamp on", load="door lamp")).target == "door lamp"


def test_names_with_separators_numbers_or_grammar_in_them() -> None:
    """A whole name is taken as one, and quotes take any name."""
    loads = tuple(
        Load(name=name, kind="led", power=Measured(5.0), voltage=Measured(12.0))
        for name in (
            "lamp and fan",
            "5 W lamp",
            "hall, left",
            "on",
            "the beast",
            'the "old" one',
            "saw at 5 s",
        )
    )
    rig = dataclasses.replace(RIG, load=loads)
    for text, name in (
        ("switch the lamp and fan on", "lamp and fan"),
        ("the 5 w lamp on", "5 W lamp"),
        ("switch hall, left on", "hall, left"),
        ('switch "on" on', "on"),
        ("switch the beast on", "the beast"),
        ("switch “the 'old' one” on", 'the "old" one'),
        ("switch the saw at 5 s on", "saw at 5 s"),
    ):
        assert one(told(rig, f"at 7 s {text}")).target == name, text


def test_gears_are_counted_from_the_easiest_whatever_the_file_says() -> None:
    """The file lists 24, 14, 18, 16, 21; the first gear is 42/24, the top one 42/14. 42/24 turns slowest: 1.75 per turn."""
    assert names_of(RIG).gears == ("42/24", "42/21", "42/18", "42/16", "42/14")
    pairs = Stage(kind="chain", driver_teeth=(48, 28), driven_teeth=(14, 28))
    two = dataclasses.replace(RIG, stage=(pairs, *RIG.stage[1:]))
    assert names_of(two).gears == ("28/28", "48/28", "28/14", "48/14")
    assert one(told(two, "at 5 s second gear")).target == "48/28"


def test_shifts_up_and_down_become_gears_once_the_first_is_known() -> None:
    """From a gear that is named they are resolved at once; from "the best" when the caller says which that is."""
    named = told(RIG, "in third gear; at 5 s shift up; at 6 s shift up; at 7 s shift down two gears")
    assert [act.target for act in named.steps] == ["42/16", "42/14", "42/18"]
    open_ = told(RIG, "at 5 s shift up; at 6 s shift to second; at 7 s shift up")
    assert open_.ask.gear is None
    assert [act.target for act in open_.steps] == ["+1", "42/21", "42/18"]
    known = in_gear(open_, filled(), "42/24")
    assert known.ask.gear == "42/24"
    assert (known.steps[0].target, known.steps[0].understood) == ("42/21", "shift to 42/21")


def test_no_gear_is_beyond_the_last() -> None:
    """Shifting past the hardest or the easiest gear is said to be impossible."""
    with pytest.raises(BadRequest, match="no such harder gear than 42/14"):
        told(RIG, "in top gear; at 5 s shift up")
    with pytest.raises(BadRequest, match="no such easier gear than 42/24"):
        in_gear(told(RIG, "at 5 s shift down"), filled(), "42/24")
    with pytest.raises(BadRequest, match="no gear"):
        in_gear(told(RIG, "at 5 s shift down"), filled(), "42/23")


# ---- scenes of the file ----


def test_a_scene_of_the_file_is_the_script_of_its_words() -> None:
    """Everything a [[scene]] can say."""
    scene = Scene(
        name="saw in third gear", rider="tove", load="saw", gear="third", start="rest", holds="cadence",
        effort=Measured(110.0), cadence=Measured(60 * RPM), duration=Measured(25.0), switched_on=True,
        step=(SceneStep(at=Measured(12.0), do="shift up and push hard"), SceneStep(at=Measured(5.0), do="Saw off")),
    )  # fmt: skip
    script = script_of(filled(), scene, draws=64, seed=3)
    assert script.name == "saw in third gear"
    assert (script.ask.rider, script.ask.load, script.ask.gear) == ("Tove", "bench saw", "42/18")
    assert (script.ask.effort, script.ask.duration, script.ask.draws, script.ask.seed) == (110.0, 25.0, 64, 3)
    assert (script.start, script.holds, script.cadence, script.switched_on) == (
        "rest",
        "cadence",
        60 * RPM,
        True,
    )
    assert [(a.at, a.kind, a.target, a.text) for a in script.steps] == [
        (5.0, "off", "bench saw", "Saw off"),
        (12.0, "shift", "42/16", "shift up"),
        (12.0, "work", "bench saw", "push hard"),
    ]


def test_a_scene_that_says_little_has_the_rigs_habits() -> None:
    """Only a name: it rides as usual for half a minute."""
    script = script_of(filled(), Scene(name="just riding"))
    assert (script.ask.rider, script.ask.load, script.ask.effort, script.duration) == (
        "Runa",
        "charge",
        120.0,
        30.0,
    )
    assert (script.start, script.holds, script.cadence, script.switched_on) == (
        "riding",
        "effort",
        None,
        True,
    )


@pytest.mark.parametrize(
    ("rig", "load"),
    [(RIG, "bench saw"), (RIG, "chart lamp"), (RIG, "charge"), (FOUR, "bench saw"), (BARE, "table lamp")],
)
def test_every_example_offered_is_read(rig: Rig, load: str) -> None:
    """Nothing is suggested on a rig that the same rig would then refuse."""
    offered = examples(fill(rig), load)
    assert len(offered) >= 8
    for text in offered:
        assert len(told(rig, f"at 5 s {text}", load=load, gear=None).steps) == 1, text


def test_what_is_said_in_short_words_names_this_rigs_parts() -> None:
    """The understood words are rounded and short."""
    text = (
        "at 1 s saw on; at 2 s shift to third; at 3 s ride at 200 W; at 4 s hold 70 rpm; at 5 s hold 150 W; "
        "at 6 s light work; at 7 s let go; at 8 s Osei steps off; at 9 s ease off"
    )
    assert [act.understood for act in told(FOUR, text).steps] == [
        "switch the bench saw on",
        "shift to 42/18",
        "ride at an effort worth 200 W",
        "hold 70 rpm",
        "hold an even 150 W",
        "lean on the bench saw with 33.3 % of its rated push",
        "let go of the bench saw",
        "Osei of second frame steps off",
        "hold an even 90 W",
    ]


def test_a_readable_kind_is_said_of_every_step() -> None:
    """The kinds a step can be read as are the list, and the shorthands that become one of them."""
    assert {kind for kind, _ in PHRASES} - set(KINDS) == {
        "sprint", "ease", "let_go", "light", "full", "share", "unplug_load", "plug_load", "bare",
    }  # fmt: skip
    assert isinstance(read_step(tokens_of("sprint"), names_of(RIG), "Runa"), Said)
