"""What a script cannot say: each refusal is one clear sentence with a way out, and all come at once."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.language.script_rigs import BARE, FOUR, RIG, filled

from sparewatt.errors import BadRequest, Problem, SparewattError
from sparewatt.language.phrases import PHRASES
from sparewatt.language.script import LONGEST, Script, script_from_words, script_of
from sparewatt.parts import Measured, Ride, Rig, Scene, SceneStep

NEVER_SAID = re.compile(r"\b(?:[Ee]rror|[Ii]nvalid|[Oo]ptimal|[Ss]afe|[Gg]uaranteed|None|nan)\b")


def refused(rig: Rig, text: str, **given_: object) -> tuple[Problem, ...]:
    """The problems of these words."""
    with pytest.raises(BadRequest) as caught:
        script_from_words(filled(rig), text, **{"effort": 120.0, **given_})  # type: ignore[arg-type]
    return caught.value.problems


def only(problems: tuple[Problem, ...]) -> Problem:
    """The one problem there is."""
    (problem,) = problems
    return problem


@pytest.mark.parametrize(
    ("rig", "text", "read", "says", "hints"),
    [
        # times
        (RIG, "at -3 s saw on", "saw on", "before the scene starts", "at 0 s"),
        (RIG, "at 40 s stop; for 30 s", "stop", "after the scene ends, at 30 s", "longer"),
        (RIG, "at 5 switch the saw on", "5", "the time has no unit", '"at 5 s"'),
        (RIG, "5: saw on", "5", "the time has no unit", '"at 5 s"'),
        (RIG, "at 5 V switch the saw on", "5 V", "measures something else", '"at 5 s"'),
        (RIG, "at 2,5 s saw on", "2,5 s", "a comma is not read", "s, min"),
        (RIG, "pull the plug", "pull the plug", "does not say when", '"at 5 s pull the plug"'),
        (RIG, "at 5 s saw on; stop", "stop", "does not say when", '"3 s later stop"'),
        (RIG, "at 5 s saw on, then stop", "stop", "does not say when", '"3 s later stop"'),
        (RIG, "at 5 s saw on; after 3 s stop", "after 3 s", "3 s from the start or 3 s after", '"3 s later"'),
        (RIG, "at 5 s", "at 5 s", "nothing is said to happen then", "pull the plug"),
        (RIG, "at 5 s hold 70 rpm for 3 s", "hold 70 rpm for 3 s", "has no length", "3 s later"),
        (RIG, "at 1e999 s stop", "1e999 s", "too large", "min"),
        # words
        (RIG, "at 5 s swich the saw on", "swich the saw on", "not understood", '"switch the bench saw on"'),
        (RIG, "at 5 s shfit up", "shfit up", "not understood", 'did you mean "shift up"'),
        (RIG, "at 5 s hodl 80 rpm", "hodl 80 rpm", "not understood", 'did you mean "hold 80 rpm"'),
        (RIG, "at 5 s don't switch the saw on", "don't switch the saw on", "does not happen", "leave it out"),
        (RIG, "at 5 s hold 70", "hold 70", "no unit", '"hold 70 rpm"'),
        (RIG, "at 5 s hold 7,5 rpm", "hold 7,5 rpm", "a comma is not read", ""),
        (RIG, "form rest; at 5 s stop", "form rest", "not understood", '"from rest"'),
        # names
        (RIG, "at 5 s switch the sow on", "switch the sow on", 'no load called "sow"', 'did you mean "bench saw"'),
        (RIG, "at 5 s lamp on", "lamp on", 'could be "chart lamp" or "door lamp"', "chart lamp"),
        (RIG, "with the sow on; at 5 s stop", "sow", 'no load called "sow"', 'did you mean "bench saw"'),
        (RIG, "Tovi rides; at 5 s stop", "Tovi", 'no rider called "Tovi"', 'did you mean "Tove"'),
        (RIG, "at 5 s shift to 42/15", "shift to 42/15", 'no gear "42/15"', "42/24, 42/21, 42/18, 42/16, 42/14"),
        (RIG, "at 5 s sixth gear", "sixth gear", "5 gears", "42/24"),
        (RIG, "in 42/15; at 5 s stop", "42/15", 'no gear "42/15"', "42/14"),
        (RIG, "in top gear; at 5 s shift up", "shift up", "no such harder gear than 42/14", "easy to hard"),
        # amounts
        (RIG, "at 5 s ride at 0 W", "ride at 0 W", "no rider gives", "stop pedalling"),
        (RIG, "at 5 s ride at 3 kW", "ride at 3 kW", "no rider gives", "2500"),
        (RIG, "at 5 s hold 700 rpm", "hold 700 rpm", "no rider turns", "306 rpm"),
        (RIG, "at 5 s hold -10 rpm", "hold -10 rpm", "no rider turns", "stop pedalling"),
        (RIG, "with the saw on; at 5 s work at 50", "work at 50", "no tool", '"work at 50 %"'),
        # what this rig, or this scene, does not have
        (BARE, "at 5 s shift up", "shift up", "one gear", "leave this step out"),
        (BARE, "at 5 s top gear", "top gear", "one gear", "leave this step out"),
        (BARE, "at 5 s unhook the battery", "unhook the battery", "no battery", "[battery]"),
        (BARE, "at 5 s hook the battery up", "hook the battery up", "no battery", "[battery]"),
        (BARE, "at 5 s the diode fails short", "the diode fails short", "no blocking diode", "[diode]"),
        (BARE, "at 5 s clamp off", "clamp off", "no clamp", "[clamp]"),
        (BARE, "at 5 s Vesna steps off", "Vesna steps off", "only one rides here", "stop pedalling"),
        (BARE, "at 5 s step off", "step off", "only one rides here", "stop pedalling"),
        (RIG, "with the saw on; at 5 s unhook the battery", "unhook the battery", 'the "bench saw" runs without', "leave"),
        (RIG, "at 5 s saw on; at 6 s chart lamp on", "chart lamp on", "only the \"bench saw\"", "with the chart lamp on"),
        (RIG, "charging; at 6 s chart lamp on", "chart lamp on", "only the battery is", "with the chart lamp on"),
        (RIG, "charging; at 6 s switch it on", "switch it on", "it charges the battery", "unhook the battery"),
        (RIG, "charging; at 6 s lean on it", "lean on it", "it charges the battery", "bench saw"),
        (RIG, "holding 60 rpm; at 5 s ease off", "ease off", "the cadence is held", "ride at 60 W"),
        (FOUR, "at 5 s step off", "step off", "does not say who", "rig 1, rig 2, rig 3"),
        (FOUR, "at 5 s rig 7 steps off", "rig 7 steps off", "only 3 rigs", "rig 1"),
        (FOUR, "at 5 s Bob steps off", "Bob steps off", 'no rider called "Bob"', "rig 1"),
        (FOUR, "at 5 s Osei rides at 200 W", "Osei rides at 200 W", "only the rider of the main rig", "Osei steps off"),
        (FOUR, "Osei rides; at 5 s Imke steps off", "Imke steps off", "Imke does not ride in this scene", "rig 1"),
        (FOUR, "Osei rides; at 5 s Osei steps off", "Osei steps off", "more than one rig", "rig 1"),
        # the start
        (RIG, "from rest, riding along; at 5 s stop", "riding along", "said otherwise before", "once"),
        (RIG, "from rest at 60 rpm; at 5 s stop", "60 rpm", "from rest does not start at a cadence", "hold it"),
    ],
)  # fmt: skip
def test_one_thing_wrong_is_one_clear_sentence(rig: Rig, text: str, read: str, says: str, hints: str) -> None:
    """What was read, what is wrong with it and what to try; the words a page never uses are not in it."""
    problem = only(refused(rig, text))
    assert problem.read == read
    assert says in problem.problem
    assert hints in problem.hint
    assert problem.problem[-1] == "."
    assert not NEVER_SAID.search(problem.sentence()), problem.sentence()


def test_the_place_is_told_in_letters() -> None:
    """The letters of the typed text, counted from one, are the part that was read."""
    text = "from rest; at 5 s saw on; at 9 s blah blah; at 12 s stop"
    problem = only(refused(RIG, text))
    found = re.fullmatch(r"words, letters ([0-9]+) to ([0-9]+)", problem.where)
    assert found is not None
    assert text[int(found[1]) - 1 : int(found[2])] == problem.read == "blah blah"


def test_everything_wrong_comes_at_once_and_in_order() -> None:
    """Bad times, words, names, amounts and parts in one text: each is there, in the order written."""
    text = (
        "with the sow on; at 5 swich it on; at 6 s shift to 42/15; stop; at 7 s ride at 9 kW; at 8 s Bob rides off; "
        "at 90 s let go; at -1 s stop; for 30 s"
    )
    problems = refused(RIG, text)
    assert [p.read for p in problems] == [
        "sow", "5", "swich it on", "shift to 42/15", "stop", "ride at 9 kW", "Bob rides off", "let go", "let go", "stop",
    ]  # fmt: skip
    assert len({(p.where, p.problem) for p in problems}) == len(problems)


def test_steps_are_listed_with_this_rigs_own_names() -> None:
    """What would be accepted is said with the names of the rig, and nothing that it lacks."""
    hint = only(refused(BARE, "at 5 s xyzzy plugh")).hint
    assert '"switch the table lamp on"' in hint and "battery" not in hint and "shift" not in hint


def test_a_scene_of_the_file_says_scene_and_step() -> None:
    """Scene name, field or number of the step; all of them."""
    scene = Scene(
        name="odd one", rider="Bob", load="sow", gear="seventh", effort=Measured(2600.0), duration=Measured(20.0),
        step=(
            SceneStep(at=Measured(5.0), do="blah"),
            SceneStep(at=Measured(6.0), do="stop"),
            SceneStep(at=Measured(25.0), do="stop"),
            SceneStep(at=Measured(7.0), do="at 9 s stop"),
            SceneStep(at=None, do="stop"),
            SceneStep(at=Measured(8.0), do="  "),
            SceneStep(at=Measured(9.0), do="stop, then pedal"),
        ),
    )  # fmt: skip
    with pytest.raises(BadRequest) as caught:
        script_of(filled(), scene)
    assert [(p.where, p.read) for p in caught.value.problems] == [
        ('scene "odd one", rider', "Bob"),
        ('scene "odd one", load', "sow"),
        ('scene "odd one", gear', "seventh"),
        ('scene "odd one", effort', "2600 W"),
        ('scene "odd one", step 1', "blah"),
        ('scene "odd one", step 3', "stop"),
        ('scene "odd one", step 4', "at 9 s stop"),
        ('scene "odd one", step 5', "stop"),
        ('scene "odd one", step 6', "  "),
        ('scene "odd one", step 7', "stop, then pedal"),
    ]
    says = {p.where[-6:]: p.problem for p in caught.value.problems}
    assert "after the scene ends" in says["step 3"] and "no length" in says["step 4"]
    assert "when" in says["step 5"] and "nothing" in says["step 6"] and "two moments" in says["step 7"]


def test_what_is_given_beside_the_words_is_checked_too() -> None:
    """Names, amounts and choices that came with the words."""
    problems = refused(
        RIG, "at 5 s stop", rider="Bob", load="sow", gear="shift up", effort=-1.0, cadence=99.0, duration=0.0,
        holds="tight", start="flying",
    )  # fmt: skip
    assert [p.where for p in problems] == [
        "rider",
        "load",
        "gear",
        "effort",
        "cadence",
        "duration",
        "holds",
        "start",
    ]
    assert [p.where for p in refused(RIG, "", load="charge", switched_on=False)] == ["switched_on"]
    assert only(refused(RIG, "x" * (LONGEST + 1))).where == "words"


def test_a_habit_of_the_rig_that_is_not_there_is_said() -> None:
    """A [ride] whose gear or load the rig lacks stops the scene with a sentence."""
    for ride, where in ((Ride(gear="42/13", load="charge"), "gear"), (Ride(load="toaster"), "load")):
        problems = refused(dataclasses.replace(RIG, ride=ride), "at 5 s stop")
        assert [p.where for p in problems] == [where]
    assert only(refused(dataclasses.replace(BARE, load=(), ride=None), "at 5 s stop")).where == "load"


# ---- whatever is typed ----

OTHER_WORDS = (
    "at after then later and , ; : . - from rest with for in the saw lamp chart bench Tove Runa Osei rides gear third "
    "42/18 42 / 5 s 12 s 70 rpm 100 W 50 % 1e9 -3 2,5 1:30 half a minute \" ' \u201c \u201d ( ) + = @ & don't 1/2 000 "
    "\u00b2 \u00b5 \u00df"
)
VOCABULARY = sorted(
    {word for _, text in PHRASES for word in re.findall(r"[a-z]+", re.sub(r"\{\w+\}", "", text))}
    | set(OTHER_WORDS.split())
    | {"\n"}
)


def read_or_refused(rig: Rig, text: str) -> Script | None:
    """The script, or None when it was refused in the project's own way."""
    try:
        return script_from_words(filled(rig), text, effort=120.0)
    except SparewattError as bad:
        problems = bad.problems
    assert problems and all(p.where and p.problem for p in problems)
    return None


@settings(max_examples=150)
@given(st.lists(st.sampled_from(VOCABULARY), max_size=25))
def test_any_row_of_words_is_read_or_refused(words: list[str]) -> None:
    """Words of the vocabulary in any order never do anything else."""
    script = read_or_refused(FOUR, " ".join(words))
    if script is not None:
        assert all(0 <= act.at <= script.duration and math.isfinite(act.value) for act in script.steps)


@settings(max_examples=150)
@given(st.text(max_size=120), st.sampled_from(["", "at 5 s ", "with ", "at "]))
def test_any_text_is_read_or_refused(text: str, head: str) -> None:
    """Neither does any text at all, alone or where a step, a time or a start is due."""
    read_or_refused(RIG, head + text)


@settings(max_examples=100)
@given(
    st.lists(st.tuples(st.none() | st.floats(allow_nan=False), st.text(max_size=30)), max_size=4),
    st.lists(st.sampled_from(VOCABULARY), max_size=8),
    st.text(max_size=8),
)
def test_any_scene_is_read_or_refused(
    steps: list[tuple[float | None, str]], words: list[str], name: str
) -> None:
    """A [[scene]] with any names and any steps."""
    told = [
        SceneStep(at=None if at is None else Measured(at), do=do)
        for at, do in [*steps, (5.0, " ".join(words))]
    ]
    scene = Scene(
        name=name, rider=name[:2], load=name[2:4], gear=name[4:], effort=Measured(100.0), step=tuple(told)
    )
    problems: tuple[Problem, ...] = ()
    try:
        script = script_of(filled(), scene)
    except SparewattError as bad:
        problems = bad.problems
    assert problems or script.name == name


@given(
    st.integers(1, 900),
    st.sampled_from(["saw ", "at 5 s ", "on ", "Tove ", "5 ", ", ", '"', "a", "at ", "42/"]),
)
def test_long_texts_do_not_take_long(count: int, piece: str) -> None:
    """One piece said hundreds of times is answered like any other text (the time limit is the test run's own)."""
    read_or_refused(RIG, (piece * count)[:LONGEST])
