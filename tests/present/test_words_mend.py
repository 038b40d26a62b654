"""The fault-finder in words: the likeliest cause with its odds, one check with both its outcomes, and no promise."""

from __future__ import annotations

import dataclasses
import math
from functools import lru_cache

import pytest
from tests.present.test_seconds_words import spoken
from tests.studies.mend_rigs import RIGS, RPM, hut

from sparewatt.files import demo_text, read_text
from sparewatt.language.moment import Moment
from sparewatt.present import words_mend as words
from sparewatt.rig.asking import ask_for
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import Improvement, NextReading
from sparewatt.studies.mend.answers import Mended
from sparewatt.studies.mend.causes import improvements, mend

RIDES: dict[str, tuple[Moment, ...]] = {
    "clamp": (
        Moment(cadence=57 * RPM, volts=13.6, volts_out=13.1, amps=0.03, amps_meter="clamp", feel="as usual", gear="42/18"),
    ),
    "swapped": (Moment(cadence=48 * RPM, volts=-13.2, joined="nothing", gear="42/18"),),
    "slip": (
        Moment(cadence=58 * RPM, speed=212.0, volts=13.4, amps=5.0, feel="as usual", fine=True, gear="42/18"),
        Moment(cadence=64 * RPM, speed=211.0, volts=13.4, amps=5.0, feel="as usual", gear="42/18"),
        Moment(cadence=73 * RPM, speed=216.0, volts=13.6, amps=7.4, feel="hard", gear="42/18"),
    ),
    "open": (Moment(cadence=70 * RPM, volts=19.2, amps=0.0, volts_out=12.3, feel="very easy", gear="42/18"),),
    "normal": (Moment(cadence=57.5 * RPM, volts=13.4, amps=4.6, volts_out=12.9, feel="as usual", gear="42/18"),),
    "hot": (Moment(cadence=59 * RPM, volts=13.2, amps=4.0, heat=345.0, feel="as usual", gear="42/18", ridden=1800.0),),
    "amps only": (Moment(amps=4.0),),
    "cell": (Moment(cadence=49 * RPM, volts=11.3, amps=5.0, volts_out=10.8, feel="as usual", gear="42/18"),
             Moment(cadence=40 * RPM, volts=10.5, joined="nothing", volts_out=10.1, gear="42/18")),
}  # fmt: skip


@lru_cache(maxsize=32)
def told(name: str) -> Mended:
    """The fault-finder on one of the rides."""
    return mend(hut(), RIDES[name], better=False)


@pytest.mark.parametrize("name", list(RIDES))
def test_everything_it_says_can_be_said_aloud(name: str) -> None:
    """Answer, causes, checks, signs and predictions are plain sentences with no more digits than are known."""
    m = told(name)
    spoken(words.mend_answer(m))
    for c, more in zip(m.answer.causes, m.more, strict=True):
        spoken(words.cause(m.answer, c, more))
        for f in more.foretold:
            spoken(words.foretold(f))
    for s in m.answer.signs:
        spoken(words.sign(s))
    for pair in m.alike:
        assert "cannot tell" in spoken(words.alike(m.answer, pair))


def test_the_answer_names_cause_odds_and_check() -> None:
    """A slipping tyre: cause with its odds, how much it slips, and one check with what it shows under both causes."""
    m = told("slip")
    text = words.mend_answer(m)
    assert text.startswith("Most likely the tyre slips (")
    assert "in 10)" in text or "in 20)" in text
    assert "of its speed at a usual push" in text
    assert "Check: " in text
    assert m.more[0].trial is not None
    other = next(c.name for c in m.answer.causes if c.key == m.answer.causes[0].separates)
    assert other in text


def test_a_healthy_ride_is_said_to_be_one() -> None:
    """Nothing wrong is said first, as what it seems, not as a promise."""
    text = words.mend_answer(told("normal"))
    assert text.startswith("Nothing seems wrong (")


def test_what_can_hurt_is_said_first() -> None:
    """Swapped leads, a dead cell: stop before anything else."""
    assert words.mend_answer(told("swapped")).startswith(
        "Stop riding until you have looked. Most likely the leads are swapped"
    )
    assert words.mend_answer(told("cell")).startswith("Stop riding")


def test_a_clamp_is_named_with_its_check() -> None:
    """The check for a clamp is a known current, and both outcomes are said."""
    text = words.mend_answer(told("clamp"))
    assert "Most likely the amps meter sees AC only" in text
    assert ("Check: " in text and "; if " in text) or " if " in text


@pytest.mark.parametrize(
    ("share", "says"),
    [(0.999, "more than 19 in 20"), (0.93, "about 9 in 10"), (0.72, "about 7 in 10"), (0.5, "about 5 in 10"),
     (0.08, "less than 1 in 10"), (0.01, "less than 1 in 20")],
)  # fmt: skip
def test_odds_are_tenths_and_never_certain(share: float, says: str) -> None:
    """Likelihoods are said in tenths; the ends are never called certain."""
    assert words.odds(share) == says


def test_unclear_is_said_to_be_unclear() -> None:
    """With no cause above a half the first two are named, and none is called most likely."""
    m = told("slip")
    causes = [
        dataclasses.replace(c, likelihood=x) for c, x in zip(m.answer.causes, (0.4, 0.35, 0.1), strict=False)
    ]
    unclear = dataclasses.replace(
        m, answer=dataclasses.replace(m.answer, causes=(*causes, *m.answer.causes[3:]))
    )
    text = words.mend_answer(unclear)
    assert text.startswith("It is not clear yet. First in line: ")
    assert "Most likely" not in text


def test_a_wrong_number_is_named_with_what_would_fit() -> None:
    """The key of the rig file and the value that fits stand in the sentence."""
    m = told("slip")
    k = next(n for n, c in enumerate(m.answer.causes) if c.key == "wrong_number")
    text = words.cause(m.answer, m.answer.causes[k], m.more[k])
    assert m.more[k].number in text
    assert "What would fit: " in text


def test_a_limit_is_told_where_nothing_is_wrong() -> None:
    """A board at its limit is named as what holds a healthy rig back."""
    m = dataclasses.replace(told("normal"), limited="board")
    assert "takes in all the amps it can" in words.mend_answer(m)
    assert words.limited(told("normal")) == ""


def test_improvements_say_watts_coins_time_and_care() -> None:
    """What it brings, what it costs, how long it takes, and what to mind."""
    rig = read_text(demo_text("cellar")).rig
    lines = [spoken(words.improvement(i)) for i in improvements(rig, ask_for(rig))]
    assert all("It brings about " in line and " W" in line for line in lines)
    assert any("costs nothing" in line for line in lines)
    one = Improvement(
        key="x", says="oil it", watts=Band(3.0, -1.0, 5.0), cost=1.0, work=1800.0, per_coin=3.0, per_hour=6.0,
        caveat="Let it stop first",
    )  # fmt: skip
    assert words.improvement(one) == (
        "Oil it. It brings about 3 W, costs about 1 coin and takes half an hour. "
        "With what is known of the parts it may bring nothing. Mind: let it stop first."
    )
    free = dataclasses.replace(one, cost=0.0, work=0.0, watts=Band(3.0, 2.0, 4.0), caveat="")
    assert words.improvement(free) == "Oil it. It brings about 3 W, costs nothing."
    unknown = dataclasses.replace(free, cost=math.nan)
    assert words.improvement(unknown) == "Oil it. It brings about 3 W."


def test_the_next_reading_is_said_only_when_it_helps() -> None:
    """What to read next is a sentence; a clear case asks for nothing."""
    more = NextReading(
        what="Film the shaft.", procedure="riding", why="", gain=0.5, minutes=5.0, gain_per_minute=0.1
    )
    vague = dataclasses.replace(told("amps only").answer, missing=(more,))
    assert words.missing(vague) == "To know more: film the shaft."
    assert words.missing(dataclasses.replace(vague, missing=())) == ""


def test_other_rigs_speak_too() -> None:
    """A board rig and one with no battery give sentences as well."""
    for name in ("skerry", "lamp"):
        m = mend(RIGS[name](), [Moment(cadence=7.0, volts=20.0, amps=2.0, feel="hard")], better=False)
        spoken(words.mend_answer(m))


def test_what_can_hurt_at_a_check_is_said_with_it() -> None:
    """A hot machine, turning parts and high volts are named where the check is told, in the answer too."""
    hot = told("hot")
    first = words.cause(hot.answer, hot.answer.causes[0], hot.more[0])
    trial = hot.more[0].trial
    assert trial is not None
    assert words.care(trial)
    assert f"Mind: {words.care(trial)}." in first
    assert f"Mind: {words.care(trial)}." in words.mend_answer(hot)


def test_warnings_name_what_is_likely_enough_and_can_hurt() -> None:
    """Swapped leads are one; a rig that is well has none; with nothing read it asks for readings."""
    lines = words.stop_lines(told("swapped").answer)
    assert len(lines) == 1
    assert "leads are swapped" in spoken(lines[0])
    assert words.stop_lines(told("normal").answer) == []
    bare = dataclasses.replace(told("normal").answer, causes=(), signs=(), improvements=())
    assert "Type what you read" in spoken(words.nothing_read(bare, "62 rpm, 11 V"))


def test_readings_that_go_with_nothing_are_said_one_or_several() -> None:
    """One is to be read again; several may be two faults at once."""
    m = told("hot")
    far = [dataclasses.replace(f, off=9.0) for f in m.more[0].foretold]
    for wrong, says in ((1, "One reading does not go"), (2, "two things are wrong at once")):
        row = tuple(far[:wrong]) + tuple(dataclasses.replace(f, off=0.1) for f in far[wrong:])
        more = (dataclasses.replace(m.more[0], foretold=row), *m.more[1:])
        assert says in words.mend_answer(dataclasses.replace(m, more=more, odd=9.0))
