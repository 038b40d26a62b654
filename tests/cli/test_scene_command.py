"""`sparewatt scene`: what it prints, what it writes, when it says no, and the commands that other answers end with."""

from __future__ import annotations

import dataclasses
import json
import shlex
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.present import scene_samples
from tests.tasks import made

from sparewatt.cli import main
from sparewatt.files import read_rig
from sparewatt.language.script import Script, script_from_words
from sparewatt.rig.fill import Filled, fill
from sparewatt.studies.scenes import seconds
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.tasks import scenes

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Runs a command line in this process, 80 letters wide: exit code, stdout, stderr."""
    monkeypatch.setenv("COLUMNS", "80")

    def go(*words: str) -> tuple[int, str, str]:
        code = main(list(words))
        shown = capsys.readouterr()
        assert "Traceback" not in shown.out + shown.err
        return code, shown.out, shown.err

    return go


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo rig of the cellar, written out."""
    folder = tmp_path_factory.mktemp("rig") / "cellar"
    assert main(["demo", "cellar", str(folder)]) == 0
    return folder


class Stub:
    """Plays nothing: gives made scenes one after another and notes what was asked."""

    def __init__(self, *given: SceneAnswer) -> None:
        self.given = list(given)
        self.scripts: list[Script] = []
        self.rigs: list[Filled] = []
        self.runs: list[int] = []

    def __call__(self, filled: Filled, script: Script, *, runs: int = 200) -> SceneAnswer:
        self.scripts.append(script)
        self.rigs.append(filled)
        self.runs.append(runs)
        given = self.given.pop(0) if len(self.given) > 1 else self.given[0]
        return dataclasses.replace(given, name=script.name, gear=script.ask.gear or "72/12")


@pytest.fixture
def plays(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Stub]:
    """Puts made scenes in the place of played ones."""

    def put(*given: SceneAnswer) -> Stub:
        stub = Stub(*given)
        monkeypatch.setattr(seconds, "play_scene", stub)
        monkeypatch.setattr(scenes, "_nearest", lambda *_: (made.change(),))
        return stub

    return put


def flat(text: str) -> str:
    """Without line breaks."""
    return " ".join(text.split())


# ---- the terminal ----


def test_it_tells_the_scene_from_the_first_sentence_to_the_meter(rig: Path, run: Run, plays: Any) -> None:
    """The answer first, then what happens by number and time, how sure, ratings, the work and the meter."""
    scene = scene_samples.rejection()
    plays(scene)
    code, out, err = run("scene", str(rig))
    assert (code, err) == (0, "")
    body = json.loads(run("scene", str(rig), "--json")[1])
    assert flat(out).startswith(flat(body["answer"]))
    heads = [
        "The scene: the diode is gone",
        "What happens",
        "How sure",
        "The most of everything",
        "Where the work goes",
    ]
    assert [out.index(head) for head in heads] == sorted(out.index(head) for head in heads)
    assert "What binds: the step-up board" in flat(out)
    assert f"Nearest yes: {made.change().says[0].upper()}{made.change().says[1:]}" in flat(out)
    assert body["nearest_yes"][0]["says"] == made.change().says
    for happening in body["results"]["happenings"]:
        assert f"{happening['number_count']}" in out
        assert flat(happening["says"]) in flat(out)
    assert "too much" in out
    assert "Mean volts times mean amps" in out


def test_the_scene_is_drawn_in_letters(rig: Path, run: Run, plays: Any) -> None:
    """A line of bars for the cadence with its ends, and the clock below."""
    plays(scene_samples.stalls())
    out = run("scene", str(rig))[1]
    line = next(line for line in out.splitlines() if line.startswith("cadence"))
    assert line.endswith("a minute")
    assert set("▁▂▃▄▅▆▇█") & set(line)


def test_a_scene_that_was_played_once_claims_no_chances(rig: Path, run: Run, plays: Any) -> None:
    """With --runs 0 nothing is said about other runs."""
    stub = plays(dataclasses.replace(scene_samples.holds(), runs=0, chances=()))
    out = run("scene", str(rig), "--runs", "0")[1]
    assert stub.runs == [0]
    assert "How sure" not in out
    assert " runs" not in out.replace("nine runs of ten", "")


# ---- what is asked ----


def test_every_option_reaches_the_scene(rig: Path, run: Run, plays: Any) -> None:
    """Words, rider, load, gear, effort, cadence, what is held, length, runs, and changes that are tried."""
    stub = plays(scene_samples.holds())
    words = "scene {} --words|at 5 s stop pedalling|--rider|Jory|--load|charge|--gear|72/12|--effort|80 W|--cadence|50 rpm"
    more = "--hold|cadence|--duration|20 s|--runs|8|--try|battery.charge = 90 %"
    parts = [*words.format(rig).split(" ", 2)[:2], "--words", *words.split("|")[1:], *more.split("|")]
    assert run(*parts)[0] == 0
    (script,) = stub.scripts
    ask = script.ask
    assert (ask.rider, ask.load, ask.gear, ask.effort, script.duration) == (
        "Jory",
        "charge",
        "72/12",
        80.0,
        20.0,
    )
    assert (script.holds, script.cadence) == ("cadence", pytest.approx(5.236, rel=1e-3))
    assert [a.kind for a in script.steps] == ["stop"]
    assert stub.runs == [8]
    battery = stub.rigs[0].rig.battery
    assert battery is not None
    assert battery.charge is not None
    assert battery.charge.value == pytest.approx(0.9)


def test_it_can_start_from_rest(rig: Path, run: Run, plays: Any) -> None:
    """--from-rest, for a scene of the file too."""
    stub = plays(scene_samples.holds())
    run("scene", str(rig), "the diode", "--from-rest")
    assert (stub.scripts[0].name, stub.scripts[0].start) == ("the diode is gone", "rest")


def test_two_designs_beside_each_other(rig: Path, run: Run, plays: Any) -> None:
    """--beside plays a second rig and tells what differs; --try changes both."""
    stub = plays(scene_samples.rejection(), scene_samples.rejection(clamp=True))
    words = ("scene", str(rig), "--beside", "battery.charge = 90 %", "--try", "battery.capacity = 20 Ah")
    out = run(*words)[1]
    assert "Beside it: battery.charge = 90 %" in flat(out)
    assert "with the changed one they reach" in flat(out)
    assert [f.rig.battery.capacity.value / 3600 for f in stub.rigs] == [20, 20]
    assert [f.rig.battery.charge.value for f in stub.rigs] == pytest.approx([0.6, 0.9])
    body = json.loads(run(*words, "--json")[1])
    assert body["results"]["beside"]["changes"] == [["battery.charge", "90 %"]]


def test_json_is_one_strict_object(rig: Path, run: Run, plays: Any) -> None:
    """The published object of `match`, nothing else on either stream."""
    plays(scene_samples.hiccup())
    code, out, err = run("scene", str(rig), "--json")
    body = json.loads(out, parse_constant=lambda name: pytest.fail(f"{name} in the JSON"))
    assert (code, err, body["ok"], body["section"], body["verdict"]) == (0, "", True, "match", None)
    assert body["results"]["name"] == "the diode is gone"


@pytest.mark.parametrize(
    ("scene", "code"),
    [
        (scene_samples.holds(), 0),
        (dataclasses.replace(scene_samples.stalls(), served_time=90.0), 1),
        (dataclasses.replace(scene_samples.rejection(), served_time=90.0), 1),
        (dataclasses.replace(scene_samples.rejection(clamp=True), served_time=90.0), 0),
        (dataclasses.replace(scene_samples.holds(), served_time=0.0), 1),
    ],
)
def test_strict_turns_a_no_into_exit_code_1(
    scene: SceneAnswer, code: int, rig: Path, run: Run, plays: Any
) -> None:
    """A stall, a rating passed, a load that goes without: 1 with --strict, 0 without."""
    plays(scene)
    assert run("scene", str(rig), "--json")[0] == 0
    assert run("scene", str(rig), "--json", "--strict")[0] == code


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["pump"], "the diode is gone"),
        (["--words", "at 5 s switch the moon on"], "moon"),
        (["--words", "at 50 s stop pedalling", "--duration", "20 s"], "after the scene ends"),
        (["the diode", "--words", "at 5 s stop pedalling"], "not both"),
        (["--runs", "-3"], "runs"),
        (["--hold", "breath"], "effort"),
        (["--beside", "battery.charge"], "--beside"),
        (["--beside", "battery.chrge = 90 %"], "charge"),
        (["--effort", "much"], "effort"),
    ],
)
def test_bad_words_are_named_with_a_remedy(
    words: list[str], part: str, rig: Path, run: Run, plays: Any
) -> None:
    """Exit code 2, place and remedy on stderr; with --json as one object; nothing was played."""
    stub = plays(scene_samples.holds())
    code, out, err = run("scene", str(rig), *words)
    assert (code, out) == (2, "")
    assert part in err
    assert json.loads(run("scene", str(rig), *words, "--json")[1])["ok"] is False
    assert not stub.scripts


# ---- files ----


def test_table_and_picture_are_written(rig: Path, run: Run, plays: Any, tmp_path: Path) -> None:
    """The CSV has a row a sample with units in its head; the SVG stands alone; the JSON names both."""
    scene = scene_samples.rejection()
    plays(scene)
    table, picture = tmp_path / "s.csv", tmp_path / "s.svg"
    body = json.loads(run("scene", str(rig), "--csv", str(table), "--svg", str(picture), "--json")[1])
    assert body["results"]["files"] == [str(table), str(picture)]
    lines = table.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("time_s,cadence_rad_s")
    assert len(lines) == 1 + scene.times.size
    root = ET.fromstring(picture.read_text(encoding="utf-8"))
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "Written" in run("scene", str(rig), "--csv", str(table))[1]


def test_a_rig_file_is_never_written_over(rig: Path, run: Run, plays: Any) -> None:
    """Named as the table by mistake, it is left alone and that is said."""
    plays(scene_samples.holds())
    before = (rig / "rig.toml").read_bytes()
    code, _, err = run("scene", str(rig), "--csv", str(rig / "rig.toml"))
    assert code == 2
    assert "left alone" in err
    assert (rig / "rig.toml").read_bytes() == before


# ---- from the steady answers ----


@pytest.mark.parametrize(
    "words", [("match",), ("loads",), ("guard",), ("match", "--try", "battery.charge = 90 %")]
)
def test_a_steady_answer_ends_with_the_command_for_its_seconds(
    words: tuple[str, ...], rig: Path, run: Run
) -> None:
    """Every command can be copied: it names the rig, the changes that were tried, and words the rig can play."""
    section, *more = words
    out = run(section, str(rig), *more)[1]
    tail = out[out.index("Second by second") :]
    commands = [
        line[line.index("sparewatt scene") :] for line in tail.splitlines() if "sparewatt scene" in line
    ]
    assert commands
    assert tail.rstrip().splitlines()[-1].endswith(commands[-1])
    filled = fill(read_rig(rig).rig)
    for command in commands:
        parts = shlex.split(command)
        assert parts[:3] == ["sparewatt", "scene", str(rig)]
        assert parts[3:-2] == list(more)
        assert parts[-2] == "--words"
        script_from_words(filled, parts[-1])


def test_the_json_of_a_steady_answer_has_no_line_behind_it(rig: Path, run: Run) -> None:
    """One object, as before."""
    assert json.loads(run("match", str(rig), "--json")[1])["ok"] is True


# ---- for real ----


def test_a_scene_played_for_real(rig: Path, run: Run) -> None:
    """The demo scene of the cellar: the battery turns the machine when the arms rest."""
    code, out, err = run("scene", str(rig), "--runs", "8")
    assert (code, err) == (0, "")
    assert "the battery drives the machine" in flat(out)
    assert "8 runs" in out
