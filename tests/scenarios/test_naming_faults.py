"""From sparse readings, typed as people say them, name the fault: it stands first, with a check that tells it from the next.

The hut is invented. Its numbers are small enough for a pencil: volts of the machine are 0.075 V for each radian a second
of a shaft that turns 35 times as fast as the crank in 42/18 (42/18 * 600/40): 13.2 V at 48 turns a minute,
15.9 V at 58.
What each fault does to a meter is common practice, no source.
"""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path

import pytest

from sparewatt import tasks
from sparewatt.files import read_rig, tried
from sparewatt.tasks import Answer
from sparewatt.tasks.keys_mend import Ranked

HUT = Path(__file__).with_name("ferry_hut.toml")
WELL = "58 rpm, 2024 rpm at the machine, 13.4 V, 5.0 A, as usual, 42/18"
# The story, what is typed now, what was typed when all was well, and the faults that may stand first
STORIES: dict[str, tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]] = {
    # It charges as ever, but the clamp shows nothing: a clamp that sees only alternating current.
    "the clamp shows nothing": (("57 rpm in 42/18, 13.6 V, 13.1 V out, 0.03 A, meter clamp, as usual",), (), ("ac_clamp",)),
    # 13.2 V at 48 turns a minute is right, but for its sign.
    "less than nothing": (("48 rpm in 42/18, nothing joined, -13.2 V",), (), ("leads_swapped",)),
    # The crank turns 64 where 58 made the same volts and amps, and the shaft turns no faster than before: 2015 for 64 * 35.
    "faster for the same": (
        (
            "64 rpm, 2015 rpm at the machine, 13.4 V, 5 A, as usual, 42/18",
            "73 rpm, 2063 rpm at the machine, 13.6 V, 7.4 A, hard, 42/18",
        ),
        (WELL,),
        ("slip",),
    ),
    # 19.2 V at 70 turns a minute is the machine with nothing joined (0.075 * 70 * 35 * 2 pi / 60 = 19.2): the line is open.
    "nothing flows": (
        ("70 rpm 42/18, 19.2 V, 0 A, 12.3 V at the battery, very easy",),
        (),
        ("meter_fuse", "open_diode", "open_line", "reversed_diode"),
    ),
    # Ten volts and a little at rest: six cells of two volts less one.
    "two volts short": (
        ("49 rpm 42/18, 11.3 V, 5.0 A, 10.8 V out, as usual", "40 rpm, nothing joined, 10.5 V, 10.1 V out, 42/18"),
        (),
        ("battery_cell",),
    ),
    # 30 V is 2.2 times the 13.5 V that these amps go with: the dial on the wave.
    "thirty volts": (("58 rpm 42/18, 30 V, 4.8 A, as usual", "60 rpm 42/18, 30.4 V, 5.9 A, as usual"), (), ("meter_on_ac",)),
    # 15.2 V at the machine and 12.6 V at the battery: 2.6 V go at 4.1 A, 0.6 ohm where two screws and a diode are.
    "volts that go missing on the way": (
        ("62 rpm 42/18, 15.2 V, 4.1 A, 12.6 V out, as usual", "68 rpm 42/18, 16.2 V, 5.6 A, 12.7 V out, hard"),
        ("58 rpm 42/18, 13.4 V, 4.8 A, 12.9 V out, as usual",),
        ("loose_contact",),
    ),
    # The shaft turns half as fast as the file's 40 mm roller says: it is 80 mm across, or its radius was written.
    "half the turns": (
        ("58 rpm, 1015 rpm at the machine, 7.95 V, nothing joined, 42/18",
         "74 rpm, 1295 rpm at the machine, 10.2 V, nothing joined"),
        (),
        ("wrong_number",),
    ),
}  # fmt: skip
FINE = ("57.5 rpm, 13.4 V, 4.6 A, 12.9 V out, as usual, 42/18",)


@lru_cache(maxsize=32)
def asked(story: str) -> Answer:
    """What the task says of a story."""
    now, well, _fault = STORIES[story]
    return tasks.mend(HUT, moments=now, well=well, better=False)


def ranked(answer: Answer) -> Ranked:
    """The study of an answer."""
    assert isinstance(answer.study, Ranked)
    return answer.study


@pytest.mark.parametrize("story", list(STORIES))
def test_the_planted_fault_stands_first(story: str) -> None:
    """What the story is about comes first, and the sentence names it."""
    answer = asked(story)
    first = ranked(answer).found.answer.causes[0]
    assert first.key in STORIES[story][2], answer.answer
    assert first.name in answer.answer
    assert answer.verdict in ("look again", "stop")
    assert answer.results["against"]


@pytest.mark.parametrize("story", list(STORIES))
def test_the_check_tells_it_from_the_next(story: str) -> None:
    """Its two outcomes do not overlap where a number is read, and are seldom mixed up where it is yes or no."""
    found = ranked(asked(story)).found
    first, trial = found.answer.causes[0], found.more[0].trial
    assert trial is not None
    assert first.separates == found.answer.causes[1].key
    if trial.read:
        one, other = trial.one.band, trial.other.band
        assert one.low > other.high or one.high < other.low
    else:
        assert abs(trial.one.yes - trial.other.yes) > 0.6
    assert trial.minutes <= 15


@pytest.mark.parametrize("story", ["less than nothing", "two volts short"])
def test_what_can_hurt_stops_the_ride(story: str) -> None:
    """Swapped leads and a dead cell are looked at before anybody rides on."""
    answer = asked(story)
    assert answer.verdict == "stop"
    assert answer.answer.startswith("Stop riding until you have looked.")


def test_the_wrong_number_comes_with_the_edit_that_puts_it_right() -> None:
    """Written into the file, the same readings have nothing wrong with them."""
    answer = asked("half the turns")
    edits = ranked(answer).right[0]
    assert [key for key, _text in edits] == ["stage.1.driven_diameter"]
    mended = tried(read_rig(HUT), edits)
    roller = mended.rig.stage[1].driven_diameter
    assert roller is not None
    assert roller.value == pytest.approx(0.080, rel=0.05)
    again = tasks.mend(mended, moments=STORIES["half the turns"][0], better=False)
    assert ranked(again).found.answer.causes[0].key == "normal"
    assert again.verdict == "not refused"


def test_a_rig_that_is_well_is_left_alone() -> None:
    """What the pencil says it should read is called well."""
    answer = tasks.mend(HUT, moments=FINE, better=False)
    assert answer.verdict == "not refused"
    assert answer.results["against"] == []
    assert "Nothing seems wrong" in answer.answer


def test_a_tired_rider_is_no_fault_of_the_rig() -> None:
    """The same pace and amps, only much harder: the rider comes before every part of the rig."""
    now = ("57.5 rpm, 13.4 V, 4.6 A, 12.9 V out, very hard, 42/18, after 20 min",)
    well = ("58 rpm, 13.4 V, 4.8 A, 12.9 V out, as usual, 42/18, after 5 min",)
    causes = ranked(tasks.mend(HUT, moments=now, well=well, better=False)).found.answer.causes
    keys = [c.key for c in causes if c.key != "normal"]
    assert keys[0] == "tired_rider"


def test_one_word_of_feel_is_answered_with_doubt() -> None:
    """A single "hard" tells next to nothing, and no cause is then said to be likely."""
    found = ranked(tasks.mend(HUT, moments=("hard",), better=False)).found
    sick = [c.likelihood for c in found.answer.causes if c.key != "normal"]
    assert max(sick) < 0.5
    assert math.isclose(sum(c.likelihood for c in found.answer.causes), 1.0)
