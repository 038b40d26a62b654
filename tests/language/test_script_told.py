"""A script said back in words: read again, the words give the same script."""

from __future__ import annotations

import dataclasses
import functools

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from tests.language.script_rigs import BARE, FOUR, RIG, filled

from sparewatt.errors import BadRequest
from sparewatt.language.names import fold, names_of
from sparewatt.language.script import KINDS, Act, Script, script_from_words, tell
from sparewatt.language.telling import understood
from sparewatt.parts import Load, Measured, Neighbour, Rider, Rig
from sparewatt.rig.asking import Ask
from sparewatt.rig.fill import Filled, fill

HARD_NAMES = ("saw", "bench saw", "on", "at 5 s", "lamp, hall", 'the "big" one', "5 W", "it", "rest", "light", "and then",
              "charging", "42/14", "ärgerlich ß", "a\nb", "second", "rides along")  # fmt: skip


def same(one: Script, other: Script) -> bool:
    """Whether they differ in nothing but how their steps were written."""
    plain = [
        dataclasses.replace(s, steps=tuple(dataclasses.replace(a, text="") for a in s.steps))
        for s in (one, other)
    ]
    return plain[0] == plain[1]


@functools.cache
def named(load: str, rider: str, beside: str) -> Filled:
    """The rig with everything, its names chosen."""
    rig = dataclasses.replace(
        FOUR,
        rider=(Rider(name=rider), Rider(name="somebody else")),
        ride=None,
        load=(
            Load(name=load, kind="universal_motor", power=Measured(60.0), voltage=Measured(24.0)),
            RIG.load[1],
        ),
        neighbour=(Neighbour(name="rig 3"), Neighbour(name=beside, rider="somebody else")),
    )
    return fill(rig)


def acts_of(rig: Rig, load: str, gear: str | None, lasts: float) -> st.SearchStrategy[tuple[Act, ...]]:
    """Any acts that fit this rig with this load hooked up, sorted by time."""
    names = names_of(rig)

    def act(kind: str, target: str, value: float, share: float) -> Act:
        words = understood(rig, kind, target, value)
        return Act(at=share * lasts, kind=kind, target=target, value=value, text="", understood=words)

    def of(kind: str) -> st.SearchStrategy[Act]:
        targets = {
            "shift": st.sampled_from(names.gears),
            "leave": st.sampled_from(["1", "2", "3"]),
            "join": st.sampled_from(["1", "2", "3"]),
        }
        values = {
            "effort": st.floats(0, 2500, exclude_min=True),
            "power": st.floats(0, 2500, exclude_min=True),
            "cadence": st.floats(0, 32, exclude_min=True),
            "work": st.floats(0, 10).map(abs) | st.sampled_from([1 / 3, 0.5, 1.0]),
        }
        target = targets.get(kind, st.just(load if kind in ("on", "off", "work") else ""))
        return st.builds(act, st.just(kind), target, values.get(kind, st.just(0.0)), st.floats(0, 1).map(abs))

    kinds = [k for k in KINDS if load != "charge" or k not in ("on", "off", "work")]
    some = st.lists(st.sampled_from(kinds).flatmap(of), max_size=6)
    return some.map(lambda acts: tuple(sorted(acts, key=lambda act: act.at)))


@st.composite
def scripts(draw: st.DrawFn) -> tuple[Filled, Script]:
    """A rig and any script that fits it."""
    letters = st.text(st.characters(codec="utf-8"), min_size=1, max_size=8).filter(
        lambda text: bool(fold(text))
    )
    load, rider, beside = draw(st.tuples(*[st.sampled_from(HARD_NAMES) | letters] * 3))
    assume(
        fold(load) not in ("charge", "chart lamp")
        and fold(rider) != "somebody else"
        and fold(beside) != "rig 3"
    )
    rig = named(load, rider, beside)
    hooked = draw(st.sampled_from([load, "chart lamp", "charge"]))
    gear = draw(st.none() | st.sampled_from(names_of(FOUR).gears))
    holds, start = (
        draw(st.sampled_from(["effort", "cadence", "power"])),
        draw(st.sampled_from(["riding", "rest"])),
    )
    turns = st.floats(0, 32, exclude_min=True)
    free = holds == "effort" or holds == "power"
    cadence = draw(turns if not free else st.none() if start == "rest" else st.none() | turns)
    lasts = draw(st.floats(0, 2.592e6, exclude_min=True) | st.sampled_from([30.0, 90.0, 5400.0]))
    ask = Ask(
        rider=rider, load=hooked, gear=gear, effort=draw(st.floats(0, 2500, exclude_min=True)), duration=lasts
    )
    steps = draw(acts_of(rig.rig, hooked, gear, lasts))
    on = True if hooked == "charge" else draw(st.booleans())
    return rig, Script(
        name="in words", ask=ask, start=start, holds=holds, cadence=cadence, switched_on=on, steps=steps
    )  # fmt: skip


@given(scripts())
def test_what_is_told_is_read_back_the_same(case: tuple[Filled, Script]) -> None:
    """Any script that fits a rig, whatever its parts are called, comes back from its own words to the last digit."""
    rig, script = case
    text = tell(script)
    assume(len(text) <= 4000)
    again = script_from_words(rig, text)
    assert same(again, script)
    assert tell(again) == text


@pytest.mark.parametrize(
    "text",
    [
        "at 5 s switch the saw on; at 12 s shift to third; at 20 s pull the plug",
        "from rest, with the saw on; at 5 s shift up; then 2 s later shift down; at 9 s sprint; at 9 s ease off, light work",
        "holding 65 rpm in top gear for 2 min; at 5 s the diode fails short; at 6 s clamp off; at 7 s stop",
        "Tove rides at 60 rpm, holding an even 80 W, with the chart lamp on; at 5 s unhook the battery; 1 s later stop",
    ],
)
def test_typed_words_and_what_is_told_of_them_agree(text: str) -> None:
    """From words to script to words to script."""
    script = script_from_words(filled(), text)
    assert same(script_from_words(filled(), tell(script)), script)


def test_told_words_are_plain() -> None:
    """They read as a person would write them; rounded amounts on request."""
    script = script_from_words(
        filled(),
        "from rest, with the saw off, in top gear; at 5 s saw on; at 1:30 hold 70 rpm",
        effort=100 / 3,
    )
    head = "Runa rides from rest, at an effort worth {} W, in gear 42/14, with the bench saw off, for 100 s; "
    steps = "at 5 s switch the bench saw on; at 90 s hold 70 rpm"
    assert tell(script) == head.format("33.333333333333336") + steps
    assert tell(script, digits=3) == head.format("33.3") + steps


def test_bouts_that_come_again_are_told_once_and_read_back_the_same() -> None:
    """All that is told comes again after so long, to the end; said back it is short and reads to the same steps."""
    words = "with the table lamp on; at 5 s hold an even 60 W; at 20 s hold an even 20 W; again every 30 s; for 2 min"
    one = script_from_words(filled(BARE), words)
    assert [act.at for act in one.steps] == [5, 20, 35, 50, 65, 80, 95, 110]
    assert tell(one).endswith("; at 5 s hold an even 60 W; at 20 s hold an even 20 W; again every 30 s")
    assert same(script_from_words(filled(BARE), tell(one)), dataclasses.replace(one, name="in words"))


@pytest.mark.parametrize(
    ("words", "why"),
    [
        ("at 5 s hold 60 rpm; again every 30 s", "without an end"),
        ("at 5 s hold 60 rpm; at 50 s hold 70 rpm; again every 30 s; for 5 min", "before it is through"),
        ("at 5 s hold 60 rpm; again every 10 s; for 3 h", "too many steps"),
        ("again every 10 s; for 3 h", "no step"),
        ("at 5 s hold 60 rpm; again every few; for 3 h", "number"),
    ],
)
def test_bouts_that_cannot_come_again_are_refused(words: str, why: str) -> None:
    """Without an end, too soon, too often, or with nothing to come again: one sentence says it."""
    with pytest.raises(BadRequest) as bad:
        script_from_words(filled(BARE), words)
    assert len(bad.value.problems) == 1
    assert why in bad.value.problems[0].problem
