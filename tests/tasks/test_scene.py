"""Scenes as answers: which script is played, what speaks against it, the scene behind each steady answer, files, JSON."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from tests.present import scene_samples
from tests.tasks import made

from sparewatt import tasks
from sparewatt.errors import BadRequest
from sparewatt.files import demo_list, demo_text, read_text
from sparewatt.files.read import Loaded
from sparewatt.language.script import Script, script_from_words
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.outcome import Caveat, Stop
from sparewatt.studies.answers import Change
from sparewatt.studies.scenes import seconds
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.tasks import scenes
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.scenes import against, asked_time

SHED = """
name = "Saw shed"
[[rider]]
name = "Ansa"
fitness = "fit"
[[rider]]
name = "Bela"
[[stage]]
kind = "chain"
driver_teeth = [42]
driven_teeth = [14, 18, 21]
[[stage]]
kind = "flat_belt"
driver_diameter = "600 mm"
driven_diameter = "50 mm"
[machine]
name = "scooter motor"
plate_voltage = "24 V"
plate_power = "250 W"
plate_speed = "2650 rpm"
plate_current = "13.5 A"
[diode]
kind = "schottky"
[battery]
name = "shed battery"
chemistry = "agm"
voltage = "24 V"
capacity = "12 Ah"
[[load]]
name = "saw"
kind = "universal_motor"
power = "90 W"
voltage = "24 V"
[[load]]
name = "lamp"
kind = "led"
power = "8 W"
voltage = "24 V"
"""
SCENES = """
[[scene]]
name = "lamp at dusk"
load = "lamp"
effort = "80 W"
[[scene.step]]
at = "5 s"
do = "switch the lamp on"
[[scene]]
name = "saw bites"
rider = "Bela"
load = "saw"
duration = "25 s"
[[scene.step]]
at = "4 s"
do = "switch the saw on"
[[scene.step]]
at = "10 s"
do = "the blade bites"
"""


def shed(more: str = "") -> Loaded:
    """A rig with a battery, a tool and a lamp."""
    return read_text(SHED + more)


class Stub:
    """Plays nothing: notes what was asked and gives a made scene of it."""

    def __init__(self, given: SceneAnswer) -> None:
        self.given = given
        self.scripts: list[Script] = []
        self.rigs: list[Filled] = []
        self.runs: list[int] = []
        self.offered: list[Script] = []

    def offer(self, filled: Filled, script: Script) -> tuple[Change, ...]:
        """One made change for every scene it is asked about."""
        self.offered.append(script)
        return (made.change(),)

    def __call__(self, filled: Filled, script: Script, *, runs: int = 200) -> SceneAnswer:
        self.scripts.append(script)
        self.rigs.append(filled)
        self.runs.append(runs)
        gear = script.ask.gear or "42/18"
        return dataclasses.replace(
            self.given, name=script.name, ask=script.ask, gear=gear, start=script.start
        )


@pytest.fixture
def stub(monkeypatch: pytest.MonkeyPatch) -> Stub:
    """The study of scenes, stubbed."""
    found = Stub(scene_samples.holds())
    monkeypatch.setattr(seconds, "play_scene", found)
    monkeypatch.setattr(scenes, "_nearest", found.offer)
    return found


# ---- which script ----


def test_a_scene_is_found_by_its_name_or_by_how_it_begins(stub: Stub) -> None:
    """Capitals do not matter; the script is that of the file."""
    for name in ("saw bites", "SAW", "Saw Bites "):
        tasks.scene(shed(SCENES), name=name)
    assert [s.name for s in stub.scripts] == ["saw bites"] * 3
    assert stub.scripts[0].ask.rider == "Bela"
    assert [(a.at, a.kind) for a in stub.scripts[0].steps] == [(4.0, "on"), (10.0, "work")]
    assert stub.runs == [200] * 3


def test_a_name_that_is_not_there_gets_those_that_are(stub: Stub) -> None:
    """The refusal lists the scenes of the file; without any it says how to make one."""
    with pytest.raises(BadRequest) as bad:
        tasks.scene(shed(SCENES), name="pump")
    assert "lamp at dusk" in bad.value.problems[0].hint
    with pytest.raises(BadRequest) as none:
        tasks.scene(shed(), name="pump")
    assert "[[scene]]" in none.value.problems[0].hint
    assert not stub.scripts


def test_words_are_played_as_typed(stub: Stub) -> None:
    """What the words say goes before what is given beside them, and what is given fills the rest."""
    tasks.scene(
        shed(SCENES), words="from rest, at 90 W; at 6 s switch the lamp on", gear="42/21", effort="120 W"
    )
    script = stub.scripts[0]
    assert (script.start, script.ask.load, script.ask.gear, script.ask.effort) == (
        "rest",
        "lamp",
        "42/21",
        90.0,
    )


def test_a_name_and_words_together_are_refused(stub: Stub) -> None:
    """One or the other."""
    with pytest.raises(BadRequest, match="not both"):
        tasks.scene(shed(SCENES), name="saw bites", words="at 5 s switch the lamp on")
    assert not stub.scripts


def test_without_either_the_first_scene_is_played(stub: Stub) -> None:
    """The first of the file; with a load asked for, the first that is about it; else the usual one of that load."""
    tasks.scene(shed(SCENES))
    tasks.scene(shed(SCENES), load="saw")
    tasks.scene(shed(SCENES), load="charge")
    assert [s.name for s in stub.scripts] == ["lamp at dusk", "saw bites", "as you usually ride"]


def test_what_is_given_beside_a_name_goes_before_the_file(stub: Stub) -> None:
    """Rider, gear, effort, pace, what is held, the start and the length."""
    tasks.scene(
        shed(SCENES), name="saw bites", rider="Ansa", gear="42/14", effort="140 W", cadence="60 rpm", holds="cadence",
        duration="40 s", runs=8,
    )  # fmt: skip
    script = stub.scripts[0]
    assert (script.ask.rider, script.ask.gear, script.ask.effort, script.duration) == (
        "Ansa",
        "42/14",
        140.0,
        40.0,
    )
    assert (script.holds, script.cadence) == ("cadence", pytest.approx(6.2832, rel=1e-4))
    assert stub.runs == [8]
    tasks.scene(shed(SCENES), name="lamp", start="rest")
    assert stub.scripts[1].start == "rest"


def test_a_rig_without_scenes_has_a_usual_one(stub: Stub) -> None:
    """A load comes on after 5 s and 25 s follow; a tool is leaned on and let go; a charge begins from rest."""
    for load in ("lamp", "saw", "charge"):
        tasks.scene(shed(), load=load)
    lamp, saw, charge = stub.scripts
    assert [(a.at, a.kind) for a in lamp.steps] == [(5.0, "on")]
    assert (lamp.start, lamp.switched_on, lamp.duration) == ("riding", False, 30.0)
    assert [(a.kind, a.value) for a in saw.steps] == [("on", 0.0), ("work", 1.0), ("work", 0.0)]
    assert (charge.start, charge.steps) == ("rest", ())


def test_all_that_cannot_be_used_is_said_at_once(stub: Stub) -> None:
    """Amounts and the number of runs together; names of the start together."""
    with pytest.raises(BadRequest) as bad:
        tasks.scene(shed(), effort="100 V", duration="-5 s", runs=-1)
    assert [p.where for p in bad.value.problems] == ["effort", "duration", "runs"]
    with pytest.raises(BadRequest) as names:
        tasks.scene(shed(), words="at 5 s switch the moon on", rider="Zed", gear="9/9")
    assert len(names.value.problems) == 3
    assert not stub.scripts


def test_changes_are_tried_on_the_rig(stub: Stub) -> None:
    """The study gets the changed rig; the file stays as it is."""
    tasks.scene(shed(), load="lamp", changes=[("battery.capacity", "50 Ah")])
    battery = stub.rigs[0].rig.battery
    assert battery is not None
    assert battery.capacity is not None
    assert battery.capacity.value == 50 * 3600


def test_two_designs_play_the_same_scene(stub: Stub) -> None:
    """As it is, and with the changes; what both have is tried on both; the first answer carries the second's numbers."""
    first, second = tasks.compare(
        shed(SCENES), [("battery.capacity", "50 Ah")], tried=[("load.lamp.power", "9 W")], name="lamp", runs=4
    )
    assert [f.rig.battery.capacity.value / 3600 for f in stub.rigs] == [12, 50]  # type: ignore[union-attr]
    assert [f.rig.load[1].power.value for f in stub.rigs] == [9, 9]  # type: ignore[union-attr]
    assert [s.name for s in stub.scripts] == ["lamp at dusk"] * 2
    beside: Any = first.results["beside"]
    assert beside["changes"] == [["battery.capacity", "50 Ah"]]
    assert beside["results"]["ends"] == second.results["ends"]
    assert beside["answer"] == second.answer
    assert second.results["beside"] is None


CLAMP = """
[clamp]
voltage = "45 V"
resistance = "4 ohm"
[[neighbour]]
name = "second frame"
rider = "Maret"
[[rider]]
name = "Maret"
"""


def phrases() -> list[tuple[str, str]]:
    """(row, phrase) of everything that the page on scenes says may be written."""
    page = Path(__file__).resolve().parents[2] / "docs" / "how-to" / "play-a-scene.md"
    table = page.read_text(encoding="utf-8").split("| what | how you may say it |")[1].split("\n\n")[0]
    rows = [line.split("|")[1:3] for line in table.splitlines() if '"' in line]
    return [(row.strip(), phrase) for row, told in rows for phrase in re.findall('"([^"]+)"', told)]


@pytest.mark.parametrize(("row", "phrase"), phrases())
def test_every_phrase_of_the_page_is_read(row: str, phrase: str) -> None:
    """What the how-to page says may be written reads on a rig that has the parts it names."""
    filled = fill(shed(CLAMP).rig)
    if row == "the start":
        assert script_from_words(filled, f"{phrase}; at 5 s pull the plug").steps
        return
    load = None if row == "the battery alone" else "saw"
    script = script_from_words(filled, f"in gear 42/18; at 5 s {phrase}", load=load)
    assert len(script.steps) == 1


# ---- the answer ----


def test_a_scene_is_an_answer_of_match(stub: Stub) -> None:
    """Same object as every other answer, without a verdict; what the file leaves out is counted."""
    left_out = Caveat("stage.0.inertia", "not in the rig file; a typical value stands in")
    stub.given = dataclasses.replace(stub.given, caveats=(Caveat("belt 2", "It slips."), left_out))
    answer = tasks.scene(shed(SCENES))
    assert (answer.section, answer.verdict, answer.study.name) == ("match", None, "lamp at dusk")  # type: ignore[attr-defined]
    assert answer.answer[-1] in ".!?"
    assert answer.caveats[0] == "Belt 2: it slips."
    assert "stage: inertia" in answer.caveats[1]
    assert answer.caveats[2].startswith("The rig file leaves out ")
    assert len(answer.caveats) == 3
    json.dumps(answer.as_dict(), allow_nan=False)


@pytest.mark.parametrize(
    ("asked", "played", "says"),
    [
        (20, 0, "You asked for 20 runs; none was played, so nothing here has a band."),
        (200, 24, "You asked for 200 runs; the bands come from 24."),
        (20, 20, ""),
        (0, 0, ""),
    ],
)
def test_fewer_runs_than_asked_for_are_said(stub: Stub, asked: int, played: int, says: str) -> None:
    """What is played instead of what was asked stands first among the caveats, and as two numbers in the JSON."""
    stub.given = dataclasses.replace(stub.given, runs=played)
    answer = tasks.scene(shed(), words="at 5 s switch the lamp on", runs=asked).as_dict()
    assert answer["results"]["runs_count"] == played
    assert answer["results"]["runs_asked_count"] == asked
    told = [line for line in answer["caveats"] if "asked for" in line]
    assert told == ([says] if says else [])
    assert not told or answer["caveats"][0] == told[0]


def test_a_nearest_yes_is_looked_for_once(stub: Stub) -> None:
    """For the rig as it is, in the gear that was ridden; not for a quick look with one run, nor for the design beside it."""
    assert tasks.scene(shed(SCENES)).nearest_yes[0]["says"] == made.change().says
    assert tasks.scene(shed(SCENES), runs=0).nearest_yes == ()
    first, second = tasks.compare(shed(SCENES), [("battery.capacity", "50 Ah")], runs=4)
    assert (len(first.nearest_yes), second.nearest_yes) == (1, ())
    assert [s.ask.gear for s in stub.offered] == ["42/18"] * 2


TIMES = [
    ("with the lamp on, for 20 s", 20.0),
    ("at 5 s switch the lamp on; for 20 s", 15.0),
    ("at 5 s switch the lamp on; at 8 s pull the plug; at 12 s plug it back in; for 20 s", 11.0),
    ("charging, for 20 s; at 0 s unhook the battery; at 6 s hook the battery up", 14.0),
    ("with the lamp on, for 20 s; at 6 s unhook the battery", 20.0),
    ("charging, for 20 s; at 5 s stop pedalling; at 9 s pedal again", 16.0),
    ("with the lamp on, for 20 s; at 5 s switch the lamp off", 5.0),
]


@pytest.mark.parametrize(("words", "seconds_asked"), TIMES)
def test_how_long_it_was_meant_to_be_fed(words: str, seconds_asked: float) -> None:
    """Counted by hand from the script: on, joined up, and somebody pedals."""
    assert asked_time(script_from_words(fill(shed().rig), words)) == pytest.approx(seconds_asked)


NOES = [
    (scene_samples.holds(), ()),
    (dataclasses.replace(scene_samples.stalls(), served_time=20.0), ("stalls",)),
    (dataclasses.replace(scene_samples.rejection(), served_time=20.0), ("over a rating",)),
    (dataclasses.replace(scene_samples.rejection(clamp=True), served_time=20.0), ()),
    (dataclasses.replace(scene_samples.holds(), served_time=1.0), ("not served",)),
    (dataclasses.replace(scene_samples.holds(), ends="asleep"), ("not served",)),
    (dataclasses.replace(scene_samples.holds(), ends="hiccups"), ("goes off and on",)),
]


@pytest.mark.parametrize(("found", "reasons"), NOES)
def test_what_makes_a_scene_a_no(found: SceneAnswer, reasons: tuple[str, ...]) -> None:
    """A stall, a rating that is passed, a load that goes without."""
    script = script_from_words(fill(shed().rig), "at 5 s switch the lamp on; for 20 s")
    assert against(found, script) == reasons


def test_a_load_that_nobody_wants_fed_is_not_missed() -> None:
    """The plug is pulled at once: nothing is asked, so nothing is missing."""
    script = script_from_words(fill(shed().rig), "charging, for 20 s; at 0 s pull the plug")
    assert against(dataclasses.replace(scene_samples.holds(), served_time=0.0), script) == ()


# ---- the scene behind a steady answer ----


def read_back(answer: Answer) -> list[Script]:
    """Every scene of the answer, read on its own rig."""
    filled = fill(answer.rig)
    return [script_from_words(filled, show.words) for show in tasks.scenes_of_answer(answer)]


@pytest.mark.parametrize("key", [demo.key for demo in demo_list()])
def test_every_steady_answer_has_its_seconds(key: str) -> None:
    """Match has one scene, loads one an appliance and an hour of charging; all read back on the same rig."""
    loaded = read_text(demo_text(key))
    match = tasks.match(loaded, draws=64)
    (script,) = read_back(match)
    assert script.ask.effort == pytest.approx(match.study.ask.effort, rel=5e-3)  # type: ignore[attr-defined]
    gears = match.study.gears  # type: ignore[attr-defined]
    assert script.ask.gear == (match.study.gear if len(gears) > 1 else None)  # type: ignore[attr-defined]
    loads = tasks.loads(loaded)
    shows = tasks.scenes_of_answer(loads)
    read = read_back(loads)
    assert {show.of for show in shows} >= {row.load for row in loads.study.rows if row.dc != "stop"}  # type: ignore[attr-defined]
    assert all(s.ask.load == show.of for s, show in zip(read, shows, strict=True))
    assert [s.duration for s in read if s.ask.load == "charge"] == ([3600.0] if loaded.rig.battery else [])


def answer_of(study: object, rig: Any = None, section: str = "match") -> Answer:
    """An answer around a made study."""
    return Answer(
        section=section, answer="So.", verdict=None, results={}, nearest_yes=(), caveats=(), sources=(), study=study,
        rig=rig if rig is not None else made.rig(),
    )  # fmt: skip


def test_a_stall_is_given_time_to_sink() -> None:
    """The load comes on after 5 s and a minute is played."""
    show = tasks.scenes_of_answer(answer_of(made.refused(Stop.STALLS)))[0]
    assert "drags you down" in show.says
    (script,) = read_back(answer_of(made.refused(Stop.STALLS)))
    assert (script.duration, [a.kind for a in script.steps]) == (60.0, ["on"])


def test_a_machine_that_makes_nothing_has_no_seconds() -> None:
    """What is refused before any solving cannot be played."""
    rig = made.rig()
    assert rig.machine is not None
    series = dataclasses.replace(rig, machine=dataclasses.replace(rig.machine, kind="series"))
    assert tasks.scene_of_answer(answer_of(made.refused(Stop.NO_MACHINE), series)) == ""


def test_a_tool_is_started_leaned_on_and_let_go() -> None:
    """The scene of a tool in `loads`, at the effort that was asked."""
    answer = answer_of(made.loads(made.load_row(load="saw")), fill(shed().rig).rig, "loads")
    words = tasks.scene_of_answer(answer, "saw", effort="130 W")
    script = script_from_words(fill(shed().rig), words)
    assert [(a.at, a.kind) for a in script.steps] == [(5.0, "on"), (12.0, "work"), (22.0, "work")]
    assert script.ask.effort == 130.0


def test_a_start_that_was_played_is_handed_on() -> None:
    """The scene in which `loads` saw a tool start, beside the one of the tool at work; of a lamp it is the only one."""
    rig = fill(shed().rig).rig
    start = made.state("start", seconds="at 2 s switch the saw on; for 10 s")
    shows = tasks.scenes_of_answer(
        answer_of(made.loads(made.load_row(load="saw", states=(start,))), rig, "loads")
    )
    assert [(show.of, "lean on it" in show.words) for show in shows] == [("saw: start", False), ("saw", True)]
    assert shows[0].words == start.seconds
    lamp = made.loads(made.load_row(load="lamp", states=(made.state("start", seconds="for 9 s"),)))
    assert [show.words for show in tasks.scenes_of_answer(answer_of(lamp, rig, "loads"))] == ["for 9 s"]


FINDINGS = [
    ("over-volts: step-down board", "unplug"), ("load rejection", "unplug"), ("machine speed", "unplug"),
    ("passes through: board", "cadence"), ("no diode", "stop"), ("run-down: disc", "stop"), ("shared bus", "on"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "kind"), FINDINGS)
def test_a_hazard_of_seconds_has_its_scene(key: str, kind: str) -> None:
    """The plug pulled in the hardest gear, the race, the stop, the load that comes on."""
    answer = answer_of(made.guard(made.finding(key=key)), fill(shed().rig).rig, "guard")
    words = tasks.scene_of_answer(answer, key, load="lamp")
    script = script_from_words(fill(shed().rig), words)
    assert script.steps[0].kind == kind
    assert script.steps[0].at == 5.0
    if kind in ("unplug", "cadence"):
        assert script.ask.gear == "42/14"


def test_a_hazard_found_by_playing_it_shows_that_scene() -> None:
    """The words that `guard` played are handed on as they are, under the title of the finding."""
    found = made.finding(key="over-volts: board", title="Too many volts.", seconds="at 1 s sprint; for 7 s")
    shows = tasks.scenes_of_answer(answer_of(made.guard(found), fill(shed().rig).rig, "guard"))
    assert [(show.of, show.says, show.words) for show in shows] == [
        ("over-volts: board", "too many volts", "at 1 s sprint; for 7 s")
    ]


def test_a_hazard_that_is_no_matter_of_seconds_has_none() -> None:
    """A missing fuse is not played."""
    answer = answer_of(made.guard(made.finding(key="no fuse")), fill(shed().rig).rig, "guard")
    assert tasks.scenes_of_answer(answer) == ()


# ---- for real ----


def test_a_scene_played_for_real() -> None:
    """The diode of the cellar fails: strict JSON, a ledger that closes, and words that play the same again."""
    loaded = read_text(demo_text("cellar"))
    answer = tasks.scene(loaded, name="the diode is gone", runs=8)
    out: Any = json.loads(json.dumps(answer.as_dict(), allow_nan=False))
    results = out["results"]
    assert "battery drives the machine" in answer.answer
    assert results["ends"] == "stopped"
    assert results["runs_count"] == 8
    assert abs(results["ledger_left_share"]) < 1e-3
    put_in, out_of_it = (
        sum(row["energy_J"] for row in results["ledger"] if (row["side"] == "in") == way)
        for way in (True, False)
    )
    assert out_of_it == pytest.approx(put_in, rel=2e-3)
    assert {"cadence", "bus_volts"} <= {t["key"] for t in results["tracks"]}
    assert all(len(t["values"]) == len(results["times_s"]) for t in results["tracks"])
    assert all(len(t["values_p05"]) == len(results["spread_times_s"]) for t in results["tracks"])
    again = tasks.scene(loaded, words=results["words"], runs=0)
    first, second = (a.study.track("cadence").values for a in (answer, again))  # type: ignore[attr-defined]
    assert np.array_equal(first, second)
    assert again.results["tracks"][0]["values_p05"] is None  # type: ignore[index]
