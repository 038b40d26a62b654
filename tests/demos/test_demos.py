"""The demo rigs: in order, sincere about what is guessed, and each shows the physics it is there for."""

from __future__ import annotations

import re
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from sparewatt import tasks
from sparewatt.files import demo_list, demo_text, read_text
from sparewatt.files.read import Loaded
from sparewatt.studies.answers import GuardAnswer, LoadsAnswer, MatchAnswer
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.tasks import Answer

KEYS = [demo.key for demo in demo_list()]


@cache
def loaded(key: str) -> Loaded:
    """A demo, read."""
    return read_text(demo_text(key))


@cache
def asked(section: str, key: str) -> Answer:
    """The answer of a section for a demo, worked out once."""
    answer = getattr(tasks, section)(loaded(key))
    assert isinstance(answer, Answer)
    return answer


def matched(key: str) -> MatchAnswer:
    """The match of a demo."""
    study = asked("match", key).study
    assert isinstance(study, MatchAnswer)
    return study


def test_there_are_three_with_short_words() -> None:
    """Three demos, asked for by one short small word each."""
    assert len(KEYS) == 3
    assert all(re.fullmatch(r"[a-z]{3,10}", key) for key in KEYS)


@pytest.mark.parametrize("key", KEYS)
def test_a_demo_is_in_order_and_tells_its_story(key: str) -> None:
    """It reads without a problem, has a story, and says how its numbers are known: some measured, some guessed."""
    rig = loaded(key).rig
    assert len(rig.story.split()) > 30
    hows = {origin.how for origin in loaded(key).origins}
    assert {"measured", "nameplate", "guess"} <= hows
    assert rig.fuse
    assert rig.wire


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("section", ["worth", "match", "loads", "guard", "heap"])
def test_every_question_has_an_answer(key: str, section: str) -> None:
    """All five sections answer every demo, in words."""
    answer = asked(section, key)
    assert answer.answer[-1] in ".!?"
    assert answer.verdict


@pytest.mark.parametrize("key", KEYS)
def test_the_chain_closes(key: str) -> None:
    """What comes into a link is what left the one before, and no link makes watts."""
    chain = matched(key).chain
    for before, after in pairwise(chain):
        assert after.p_in == pytest.approx(before.p_out, rel=1e-6, abs=1e-6)
    assert all(link.toll >= -1e-9 for link in chain)


def test_the_hut_holds_and_tips_on_a_regulated_board() -> None:
    """A board that holds its amps makes two crossings: it holds in the comfortable range and tips over below."""
    m = matched("skerry")
    assert m.verdict == "good use of legs"
    assert m.stop.name == "FOUND"
    assert 55 < m.hold.mid * 60 / 6.2832 < 100
    assert m.tip.mid < m.hold.low
    assert m.spare.mid > 0
    assert 60 < m.delivered.mid < 80  # hand: 5.5 A into a half-full 12 V battery at about 13 V


def test_the_hut_kettle_is_refused_and_the_lamps_are_not() -> None:
    """Heat is not by legs; light, radio and phone are."""
    study = asked("loads", "skerry").study
    assert isinstance(study, LoadsAnswer)
    verdicts = {row.load: row.verdict for row in study.rows}
    assert verdicts["electric kettle"] == "not by legs"
    assert [v for name, v in verdicts.items() if name != "electric kettle"] == ["good use of legs"] * 3


def test_the_hut_has_its_two_planted_findings() -> None:
    """A wall switch made for AC in the machine's run, and a fuse 600 mm from the post."""
    study = asked("guard", "skerry").study
    assert isinstance(study, GuardAnswer)
    found = {(f.check, f.title) for f in study.findings if f.check != "not refused"}
    assert any(check == "stop" and "direct current" in title for check, title in found)
    assert any(check == "look again" and "fuse" in title.lower() for check, title in found)
    assert sum(check == "stop" for check, _ in found) == 1


def test_the_school_yard_does_not_share_until_it_is_told_to() -> None:
    """The board set highest carries everything and its rider stalls; the offered change makes the others carry too."""
    m = matched("schoolyard")
    assert m.verdict == "not by legs"
    assert m.shares is not None
    amps = {row.name: row.amps.mid for row in m.shares.rows}
    assert amps["fourth frame"] > 0.9 * sum(amps.values())
    assert not next(row for row in m.shares.rows if row.name == "fourth frame").holds
    fair = [row.amps.mid for row in m.shares.fair_rows]
    assert max(fair) < 2 * min(fair)
    assert m.nearest_yes


def test_the_school_yard_runs_with_boards_set_alike() -> None:
    """With one setting on all four boards everybody holds."""
    same = tuple((f"neighbour.{k}.converter.set_voltage", "27.4 V") for k in range(3))
    answer = tasks.match(loaded("schoolyard"), changes=same)
    assert isinstance(answer.study, MatchAnswer)
    assert answer.study.shares is not None
    assert all(row.holds for row in answer.study.shares.rows)
    assert answer.verdict != "not by legs"


def test_the_cellar_is_pinned_by_its_battery_and_runs_out_of_air() -> None:
    """Straight onto a battery the pace is set by volts; arms give half of what legs do; the closed room is the limit."""
    m = matched("cellar")
    assert m.stop.name == "PINNED"
    assert m.tip.mid != m.tip.mid
    assert m.hour_power.mid < 0.8 * matched("skerry").hour_power.mid
    study = asked("guard", "cellar").study
    assert isinstance(study, GuardAnswer)
    titles = " ".join(f.title for f in study.findings if f.check != "not refused").lower()
    assert "air" in titles
    assert "volts limit" in titles
    assert "drive" in titles


def played(key: str, name: str, **asked: Any) -> Answer:
    """A scene of a demo, played once."""
    return tasks.scene(loaded(key), name=name, runs=0, **asked)


def at_the_end(answer: Answer, key: str) -> float:
    """The mean of a track over the last 5 s of a scene."""
    assert isinstance(answer.study, SceneAnswer)
    late = answer.study.times >= answer.study.duration - 5
    return float(answer.study.track(key).values[late].mean())


@pytest.mark.parametrize("key", KEYS)
def test_every_demo_has_a_scene_of_its_own(key: str) -> None:
    """The first scene is what `scene` plays without a name."""
    first = loaded(key).rig.scene[0].name
    answer = tasks.scene(loaded(key), runs=0)
    assert isinstance(answer.study, SceneAnswer)
    assert answer.study.name == first


def test_the_hut_gets_stuck_from_rest_unless_the_battery_comes_last() -> None:
    """As the comments in its file say: about 44 turns from rest, about 87 with the battery hooked up last."""
    stuck, free = (
        at_the_end(played("skerry", name), "cadence")
        for name in ("up from rest", "up from rest, battery last")
    )
    tip = matched("skerry").tip.mid
    assert stuck < tip < free
    assert stuck * 60 / 6.2832 == pytest.approx(44, abs=2)
    assert free * 60 / 6.2832 == pytest.approx(87, abs=2)


def test_the_huts_clamp_takes_the_pulled_plug() -> None:
    """No rating is passed when the plug goes, and the clamp is why."""
    answer = played("skerry", "the plug is pulled")
    assert answer.results["against"] == []
    assert "clamp" in answer.answer
    bare = played("skerry", "the plug is pulled", gear="42/14", changes=[("clamp.voltage", "90 V")])
    assert "over a rating" in bare.results["against"]  # type: ignore[operator]


def test_the_pump_runs_when_the_boards_are_set_alike() -> None:
    """Off and on as the boards are; with one setting the pump gets its watts, also when one rider has stepped off."""
    assert (
        "the board of rig 4 sleeps and wakes again and again"
        in played("schoolyard", "the pump comes on").answer
    )
    same = tuple((f"neighbour.{k}.converter.set_voltage", "27.4 V") for k in range(3))
    alike = played("schoolyard", "the pump comes on", changes=same)
    assert alike.results["against"] == []
    assert at_the_end(alike, "load_power") == pytest.approx(150, abs=3)
    assert at_the_end(alike, "rider_power 4") == pytest.approx(0, abs=1)


def test_without_its_diode_the_cellars_battery_turns_the_machine() -> None:
    """Vesna rests and amps run backwards."""
    answer = played("cellar", "the diode is gone")
    assert "the battery drives the machine" in answer.answer
    assert at_the_end(answer, "battery_amps") < 0
