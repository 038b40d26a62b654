"""Sentences: every outcome, cell, verdict, way of running and hazard can be said, the no first, with its reason."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from tests.tasks import made

from sparewatt.present import words, words_guard, words_loads
from sparewatt.present import words_numbers as say
from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import Edges
from sparewatt.rig.outcome import Band, Caveat, Mode, Stop
from sparewatt.studies.answers import Room

NEVER = re.compile(r"\b(error|invalid|optimal|safe|safely|guarantee\w*|nan|inf|None)\b", re.IGNORECASE)


def spoken(text: str) -> str:
    """The text, after looking that it could be said aloud on a page."""
    assert text
    assert not NEVER.search(text), text
    assert text[0].isupper(), text
    assert text[-1] in ".!?", text
    assert "  " not in text
    assert ".." not in text
    assert not re.search(r"\d\.\d{3,}", text), f"more digits than anybody knows: {text}"
    return text


# ---- numbers ----


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (40, "40 seconds"),
        (420, "7 minutes"),
        (1800, "half an hour"),
        (3600, "an hour"),
        (7200, "2 hours"),
        (9000, "2.5 hours"),
        (86400, "a day"),
        (3 * 86400, "3 days"),
        (math.inf, "as long as you like"),
    ],
)
def test_a_time_is_said_the_way_people_say_it(seconds: float, said: str) -> None:
    """Times take the unit and the roundness of speech."""
    assert say.time(seconds) == said


def test_a_band_keeps_no_digit_it_does_not_know() -> None:
    """Bands are "low to high"; the middle is rounded to where the band leaves it known."""
    assert say.turns_span(Band(82 * made.RPM, 76 * made.RPM, 88 * made.RPM)) == "76 to 88 turns a minute"
    assert say.span(Band(66.2, 62.1, 71.7), "W") == "62 to 72 W"
    assert say.about(Band(66.23, 50.0, 82.0), "W") == "about 66 W"
    assert say.about(Band(1234.0, 800.0, 1700.0), "W") == "about 1200 W"


def test_a_chance_is_never_called_certain() -> None:
    """The ends stay one and nine in ten."""
    assert say.chance(1.0) == "about 9 times in 10"
    assert say.chance(0.0) == "about 1 time in 10"


# ---- match ----


def test_a_yes_names_pace_watts_time_and_the_edge() -> None:
    """The model sentence: pace, gear, watts, how long, and where it drags you to a stop."""
    said = spoken(words.match_answer(made.match(), made.rig()))
    assert said == (
        "Ride at 76 to 88 turns a minute on 42/18 and about 91 W goes into the battery. "
        "You can hold this for an hour; below 52 it will drag you to a stop."
    )


@pytest.mark.parametrize("stop", [s for s in Stop if s not in (Stop.FOUND, Stop.PINNED)])
def test_every_refusal_says_no_first_and_why(stop: Stop) -> None:
    """A refused outcome starts with No, gives its reason, and comes with something to do."""
    answer = made.refused(stop)
    said = spoken(words.match_answer(answer, made.rig()))
    assert said.startswith("No")
    assert "because" in said or stop in (Stop.NOT_ON_DC, Stop.NO_MACHINE, Stop.BREAKS)
    spoken(words.match_do(answer))
    spoken(words.match_binds(answer, made.rig()))


@pytest.mark.parametrize("stop", list(Stop))
def test_every_outcome_has_something_to_do(stop: Stop) -> None:
    """No outcome leaves a person without a next step."""
    spoken(words.stop_do(stop))


def test_the_board_that_binds_is_named_with_its_amps() -> None:
    """The reason in the sentence is the part and its limit."""
    said = words.match_answer(made.refused(Stop.EDGE_BOARD), made.rig())
    assert "because the step-up board takes at most 12 A" in said


def test_a_pinned_answer_says_what_pushing_harder_does() -> None:
    """The battery holds the pace: amps, not turns."""
    said = spoken(
        words.match_answer(made.match(stop=Stop.PINNED, tip=made.NONE, spare=made.NONE), made.rig())
    )
    assert "pushing harder brings amps, not turns" in said


def test_too_short_a_ride_is_a_no_with_the_time_it_can_be_held() -> None:
    """A running point that legs cannot hold for as long as asked is refused first."""
    answer = made.match(verdict="not by legs", time_to_limit=Band(180, 150, 240), rider=made.band(300))
    said = spoken(words.match_answer(answer, made.rig()))
    assert said.startswith("No, not for an hour, because it takes 300 W at the pedals")
    assert "2.5 to 4 minutes" in said


def test_an_unlikely_answer_says_how_often_it_holds() -> None:
    """Doubt about the parts is said as so many times in ten."""
    assert "about 3 times in 10" in spoken(
        words.match_answer(made.match(verdict="not by legs", chance=0.3), made.rig())
    )
    assert "about 7 times in 10" in spoken(
        words.match_answer(made.match(verdict="hard work", chance=0.7), made.rig())
    )


def test_hard_work_says_why() -> None:
    """Hard for want of room, or because it asks more than an hour's power."""
    tight = made.match(verdict="hard work", spare=Band(3, -4, 9))
    assert "hardly any room" in spoken(words.match_answer(tight, made.rig()))
    strong = made.match(verdict="hard work", rider=made.band(190))
    assert "for an hour count on" in spoken(words.match_answer(strong, made.rig()))


def test_an_asked_cadence_is_answered_at_that_cadence() -> None:
    """What the rig asks for there, whether the load is served, and whether anything flows."""
    ask = Ask(rider="Bela", load="charge", gear=None, effort=150, duration=3600, cadence=80 * made.RPM)
    assert spoken(words.match_answer(made.match(ask=ask), made.rig())).startswith(
        "At 80 turns a minute on 42/18 the rig asks for 120 W"
    )
    still = made.match(ask=ask, point=made.point(amps=0.0))
    assert spoken(words.match_answer(still, made.rig())).startswith(
        "No: at 80 turns a minute on 42/18 nothing flows. It starts at 44."
    )
    hungry = made.match(ask=ask, point=made.point(served=False, mode=Mode.LIMITED))
    assert spoken(words.match_answer(hungry, made.rig())).startswith("No.")


def test_a_load_on_the_battery_says_who_gives_and_who_takes() -> None:
    """With a battery in between, the rest goes into it or comes out of it."""
    ask = Ask(rider="Bela", load="lamp", gear=None, effort=100, duration=3600)
    spare = made.match(ask=ask, delivered=made.band(8))
    assert "left over for the battery" in spoken(words.match_answer(spare, made.rig()))
    short = made.match(
        ask=ask, delivered=made.band(8), point=dataclasses.replace(made.point(), p_battery=-30.0)
    )
    assert "about 30 W of it from the battery" in spoken(words.match_answer(short, made.rig()))


@pytest.mark.parametrize("cell", Room.CELLS)
def test_every_cell_of_the_room_is_a_sentence(cell: str) -> None:
    """The key under the room to ride in can stand alone."""
    spoken(words.cell(cell))
    code = Room.CELLS.index(cell)
    closed = made.room((code,) * 4, closing=(cell, "not enough legs")) if code else made.room()
    spoken(words.room(closed))


@pytest.mark.parametrize("word", [*words.VERDICT_WORDS, *words.CHECK_WORDS])
def test_every_verdict_and_check_word_is_explained(word: str) -> None:
    """Each fixed word has a sentence; no other word is used."""
    spoken(words.verdict(word))


@pytest.mark.parametrize("lowest", ["legs", "machine", "board"])
def test_each_edge_can_bind(lowest: str) -> None:
    """Whichever edge is lowest is named with its watts."""
    edges = Edges(legs=90.0, machine=80.0, board=70.0, lowest=lowest)
    assert {"legs": "90 W", "machine": "80 W", "board": "70 W"}[lowest] in spoken(words.edges(edges))
    spoken(words.match_binds(made.match(edges=edges), made.rig()))
    assert words.match_because(made.match(edges=edges), made.rig()).startswith("because ")


def test_gears_links_unknowns_and_changes_are_sentences() -> None:
    """The lines of the detail part."""
    for row in made.match().gears:
        spoken(words.gear(row))
    for link in made.links():
        assert words.link(link).endswith(".")
    spoken(words.unknown(made.match().unknowns[0]))
    for line in made.match().settings:
        spoken(words.setting(line))
    spoken(words.unknown(dataclasses.replace(made.match().unknowns[0], measure="")))
    assert spoken(words.change(made.change(cost=6.0))).endswith("Cost: about 6.")
    assert "not solved again" in spoken(words.change(made.change(proven=False)))
    assert spoken(words.spare(Band(-3, -9, 4))) == "There is nothing to spare."


def test_unfair_shares_name_who_carries_and_the_cure() -> None:
    """The crushed rider is named, with the resistance and the amps limit that make it fair."""
    said = spoken(words.shares(made.shares()))
    assert "frame 3 carries 6.2 A" in said
    assert "300 mohm" in said or "0.3 ohm" in said or "0.30 ohm" in said
    assert "at most 2.2 A" in said
    fair = spoken(words.shares(made.shares((2.0, 2.1, 2.2))))
    assert fair.startswith("Together they give 6.3 A")
    assert "a fair share" in fair


def test_a_caveat_names_its_place_once() -> None:
    """The place stands first unless the sentence names it."""
    assert (
        words.caveat(Caveat("board", "the board passes the volts straight through"))
        == "The board passes the volts straight through."
    )
    assert words.caveat(Caveat("rig file", "wire.0.length: typical")) == "Rig file: wire.0.length: typical."


# ---- worth and loads ----


def test_worth_says_what_is_not_by_legs_first() -> None:
    """The kettle is refused before the lamp is praised; a shared day says the share of each."""
    answer = made.worth(
        made.worth_row(),
        made.worth_row("kettle", "not by legs", 18000),
        made.worth_row("laptop", "hard work", 9000),
    )
    said = spoken(words_loads.worth_answer(answer, people=3))
    assert said.startswith("Not by legs: kettle, because one use is")
    assert said.index("Hard work: laptop") < said.index("A good use of legs: lamp")
    assert "for each of the 3 of you" in said
    spoken(words_loads.worth_answer(made.worth()))
    spoken(words_loads.worth_row(made.worth_row()))


@pytest.mark.parametrize("name", ["start", "idle", "light", "rated"])
@pytest.mark.parametrize("works", [True, False])
def test_every_way_of_running_can_be_said(name: str, works: bool) -> None:
    """Start, idle, light and rated work, done or not."""
    said = spoken(words_loads.load_state(made.state(name, works=works)))
    assert said.startswith("It will not " if not works else "It will ")
    spoken(
        words_loads.load_state(made.state(name, works=works, chance=0.6, time=Band(math.inf, 3e4, math.inf)))
    )


@pytest.mark.parametrize("verdict", words.VERDICT_WORDS)
def test_every_appliance_verdict_can_be_said(verdict: str) -> None:
    """Yes, hard, and no; long and short; with battery and without."""
    for brief in (True, False):
        said = spoken(
            words_loads.load_answer(made.load_row(verdict=verdict, run=made.run_plan()), brief=brief)
        )
        assert said.startswith("No" if verdict == "not by legs" else "Yes")


def test_what_must_not_be_on_direct_current_is_refused_with_its_reason() -> None:
    """The direct-current check comes before anything else."""
    row = made.load_row(dc="stop", dc_why="It has no brushes.", verdict="not by legs", states=())
    assert words_loads.load_answer(row) == "No, not the drill, because it has no brushes."
    said = spoken(
        words_loads.loads_answer(
            made.loads(made.load_row(), row, made.load_row(load="lamp", verdict="good use of legs"))
        )
    )
    assert said.startswith("No, not the drill")
    assert "will not start, because the load asks" in spoken(
        words_loads.load_answer(made.load_row(states=(made.state("start", works=False),)))
    )


def test_bouts_and_charging_are_said() -> None:
    """Work and rest that can go on, or that end; the charge with its limit and its useful end."""
    assert "you can go on like that" in spoken(words_loads.bout(made.load_row().bout))
    assert "after about 4" in spoken(words_loads.bout(dataclasses.replace(made.load_row().bout, cycles=4.2)))
    assert "12 to 16 %" in spoken(words_loads.charge(made.charge_plan()))
    limited = made.charge_plan(amps=made.band(12.0), accepted=made.band(9.0))
    assert "at most 9.0 A" in spoken(words_loads.charge(limited)) or "at most 9 A" in words_loads.charge(
        limited
    )
    spoken(words_loads.loads_answer(made.loads(charge=made.charge_plan())))
    spoken(words_loads.loads_answer(made.loads()))


# ---- guard and heap ----


@pytest.mark.parametrize("check", words.CHECK_WORDS)
def test_every_finding_says_what_is_so_and_what_to_do(check: str) -> None:
    """A hazard is a word, what is so on this rig, what to do, and where the limit comes from."""
    said = spoken(words_guard.finding(made.finding(check)))
    assert "Fit 10 A at the post." in said
    assert "common practice" in said


def test_guard_leads_with_the_worst_and_never_promises() -> None:
    """Stop before look again; with nothing found it says that this is no promise."""
    mild = made.finding("look again", title="Thin wire", severity=2)
    said = spoken(words_guard.guard_answer(made.guard(mild, made.finding())))
    assert said.startswith("Stop: no fuse at the battery. A short gives about 800 A. Fit 10 A at the post.")
    assert "1 to look at again" in said
    assert "not a promise" in spoken(words_guard.guard_answer(made.guard(check="not refused")))
    spoken(words_guard.sized(made.guard().sizes[0]))


def test_heap_names_the_join_what_to_leave_and_what_to_buy() -> None:
    """The best join, the machines to leave with reasons, the cheapest thing that helps; or an honest no."""
    said = spoken(words_guard.heap_answer(made.heap()))
    assert "Use the scooter motor through rim belt with no board" in said
    assert "Leave the fridge motor (it has no magnets)" in said
    assert spoken(words_guard.heap_answer(made.heap(combinations=()))).startswith(
        "No, nothing on this heap does it"
    )
    for machine in made.heap().machines:
        for call in ("buy", "only if free", "leave"):
            spoken(words_guard.machine(dataclasses.replace(machine, call=call)))
