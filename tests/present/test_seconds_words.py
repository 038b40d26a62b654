"""A scene in words: what happens first that matters, said with its cause, its numbers, and no word that promises."""

from __future__ import annotations

import csv
import dataclasses
import io
import math
import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.present import reading, samples, scene_samples
from tests.present.test_seconds_picture import answers

from sparewatt.parts import Converter
from sparewatt.present import words_seconds
from sparewatt.present.csv_scene import scene_csv
from sparewatt.present.drawings.ledger import caption, ledger
from sparewatt.present.drawings.seconds_lane import spells
from sparewatt.present.palette import DARK, LIGHT, PRINT, page_css
from sparewatt.present.words_seconds_reading import delay, energy, mean_end, smoothed
from sparewatt.present.words_seconds_rows import HAPPENING_WORDS, happening, moment, often, rows
from sparewatt.rig.outcome import Stop
from sparewatt.studies.scenes.answers import Chance, Entry, Happening, Peak, SceneAnswer, Side, StepRow

NEVER = re.compile(r"\b(error|invalid|optimal|safe|safely|guarantee\w*|nan|inf|None)\b", re.IGNORECASE)
RIG = samples.rig()
SCENES = {name: made() for name, made in scene_samples.ALL.items()}
# Every sort of happening that the moving rig can report.
KEYS = (
    "freewheel_opens", "freewheel_takes", "diode_conducts", "diode_blocks", "sleeps", "wakes", "limited", "unlimited",
    "passes", "holds_again", "drops_out", "clamp_starts", "clamp_ends", "load_quits", "load_restarts", "fuse_opens",
    "stalls", "moves_again", "reserve_empty", "over_volts", "over_load_volts", "full_volts", "flows_back", "battery_drives",
    "tool_at_speed", "script", "battery_full", "battery_empty", "protects_full", "protects_empty", "protects_amps",
    "protection_closes",
)  # fmt: skip
CLAMPED = (
    "It holds. The clamp burns up to 150 W and keeps the volts at 39 V; you settle at 103 turns a minute; "
    "your legs feel 138 W at first and 74 W after."
)
HICCUP = (
    "Switch the saw on at 3 s and the board sleeps 1.2 s later, wakes and sleeps again about twice a second: "
    "it never gets going."
)


def spoken(text: str) -> str:
    """The text, after looking that it could be said aloud on a page."""
    assert text
    assert not NEVER.search(text), text
    assert text[0].isupper() or text[0].isdigit(), text
    assert text[-1] in ".!?", text
    assert "  " not in text
    assert ".." not in text
    assert " ," not in text
    assert "{" not in text
    assert not re.search(r"\d\.\d{3,}", text), f"more digits than anybody knows: {text}"
    return text


def everything(a: SceneAnswer) -> list[str]:
    """All sentences about a scene that say something."""
    found = [
        words_seconds.scene_answer(a, RIG),
        words_seconds.scene_binds(a),
        words_seconds.picture_sentence(a),
        words_seconds.ledger_sentence(a),
        words_seconds.steady_line(a),
        words_seconds.meter_line(a),
        *words_seconds.chances(a),
        *(says for _, says in words_seconds.happenings(a)),
    ]
    return [text for text in found if text]


# ---- the answer ----


@pytest.mark.parametrize(
    ("name", "said"),
    [
        (
            "holds",
            "It holds. The saw is up to speed 0.8 s after you switch it on; your legs feel 244 W at first and 190 W after.",
        ),
        ("stalls", "Switch the saw on at 4 s and the saw drags you to a stop 7.2 s later."),
        (
            "hiccup",
            HICCUP,
        ),
        (
            "rejection",
            "Pull the plug at 12 s and the volts climb to 46 V within 1.8 s: the step-up board stands 45 V at its input.",
        ),
        (
            "rejection with a clamp",
            CLAMPED,
        ),
        (
            "hour",
            "Hold 210 W at 40 min and your reserve is empty 80 s later; from then on 111 W is what your legs give.",
        ),
        (
            "two rigs",
            "It holds. You settle at 67 turns a minute and the village radio gets 82 W; your legs feel 140 W.",
        ),
    ],
)
def test_the_answer_says_what_happens_first(name: str, said: str) -> None:
    """One breath: the step, what it brings about, when, and against what."""
    assert words_seconds.scene_answer(SCENES[name], RIG) == said


@pytest.mark.parametrize("name", SCENES)
def test_every_sentence_can_be_spoken(name: str) -> None:
    """Capital, full stop, no word that promises or blames, no more digits than anybody knows."""
    for text in everything(SCENES[name]):
        spoken(text)


@settings(max_examples=80)
@given(a=answers())
def test_any_scene_can_be_told(a: SceneAnswer) -> None:
    """Whatever the numbers, the sentences hold no number that is not there and no word that is not said."""
    for text in everything(a):
        assert not NEVER.search(text), text
        assert text[-1] in ".!?"


def test_the_board_has_its_own_name() -> None:
    """The board of the load is called as the rig file calls it."""
    rig = dataclasses.replace(RIG, converter=(Converter(name="blue box", kind="boost"),))
    rig = dataclasses.replace(
        rig, battery=None, load=(dataclasses.replace(RIG.load[0], name="saw", through="blue box"),)
    )
    assert "and the blue box sleeps 1.2 s later" in words_seconds.scene_answer(scene_samples.hiccup(), rig)


def test_without_a_step_it_counts_from_the_start() -> None:
    """Nothing was switched: the time is that of the scene, or from setting off."""
    a = dataclasses.replace(scene_samples.stalls(), steps=())
    assert words_seconds.scene_answer(a, RIG) == "The saw drags you to a stop after 11 s."
    rest = dataclasses.replace(a, start="rest")
    assert words_seconds.scene_answer(rest, RIG) == "You set off, and the saw drags you to a stop 11 s later."


def test_the_first_comes_first() -> None:
    """A rating passed after the stall stands second; the earlier thing has the cause."""
    peak = Peak(key="v", name="step-up board, input", unit="V", value=52, low=50, high=55, limit=45, at=15.0)
    a = dataclasses.replace(scene_samples.stalls(), peaks=(peak,))
    text = words_seconds.scene_answer(a, RIG)
    assert text.startswith("Switch the saw on at 4 s and the saw drags you to a stop 7.2 s later.")
    assert text.endswith("At 15.0 s the volts climb to 52 V: the step-up board stands 45 V at its input.")


def test_luck_is_told() -> None:
    """It holds in the ride that is drawn, but not in enough of the others."""
    a = dataclasses.replace(scene_samples.holds(), chances=(Chance(key="stall", says="", share=0.3),))
    assert words_seconds.scene_answer(a, RIG).endswith("But in 60 of 200 runs it drags you to a stop.")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"ends": "asleep", "served_time": 0.0, "happenings": ()},
            "Nothing flows: the board never wakes, and the saw gets nothing.",
        ),
        ({"ends": "stopped", "happenings": ()}, "You stop, the rig comes to rest"),
        ({"ends": "hiccups", "happenings": ()}, "It never settles"),
        ({"ends": "stalled", "happenings": ()}, "It stands still in the end"),
        (
            {"ends": "stalled", "happenings": (Happening(at=6.0, key="fuse_opens", says=""),)},
            "a fuse opens 1.0 s later",
        ),
        ({"happenings": (Happening(at=6.0, key="load_quits", says=""),)}, "the saw quits for want of volts"),
        (
            {"happenings": (Happening(at=6.0, key="battery_drives", says=""),)},
            "the battery drives the machine",
        ),
    ],
)
def test_every_ending_has_words(change: dict[str, object], words: str) -> None:
    """How it stands at the end, and single things that matter, are said."""
    a = dataclasses.replace(scene_samples.holds(), **change)  # type: ignore[arg-type]
    assert words in spoken(words_seconds.scene_answer(a, RIG))


def test_a_beat_of_the_legs_is_not_at_first() -> None:
    """A swing within the turn is averaged over a turn: a mean of 90 W stays 90 W. Hand: the cosine has no mean."""
    t = np.linspace(0, 10, 1000)
    beat = 90 * (1 + 0.7 * np.cos(4 * math.pi * t))
    mean = smoothed(t, beat)
    assert np.nanmax(mean) == pytest.approx(90, rel=0.01)
    assert np.isnan(mean[0])


# ---- what binds, chances, meter ----


def test_what_binds_is_the_worst_share() -> None:
    """52 of 45 V binds before 17 of 18 A; both within their ratings, the nearer one is named with its share."""
    volts = Peak(key="v", name="step-up board, input", unit="V", value=52, low=48, high=56, limit=45, at=20.0)
    amps = Peak(key="a", name="machine", unit="A", value=17, low=17, high=17, limit=18, at=3.0)
    a = dataclasses.replace(scene_samples.holds(), peaks=(amps, volts))
    assert words_seconds.scene_binds(a) == (
        "What binds: the step-up board sees 52 V at its input at 20.0 s and stands 45 V. Nine runs of ten reach 48 to 56 V."
    )
    within = dataclasses.replace(a, peaks=(amps,))
    assert "Nearest is the machine: 17 A at 3.0 s of the 18 A it stands, 94 %" in words_seconds.scene_binds(
        within
    )
    unknown = dataclasses.replace(a, peaks=())
    assert "No rating is known" in words_seconds.scene_binds(unknown)


def test_chances_are_counts_of_runs() -> None:
    """A share is told as runs of runs; played once there is nothing to tell."""
    a = dataclasses.replace(
        scene_samples.holds(),
        chances=tuple(
            Chance(key=k, says="the lamp goes out", share=s)
            for k, s in (("stall", 0.31), ("fuse", 0.0), ("served", 1.0), ("x", 0.5))
        ),
    )
    assert words_seconds.chances(a) == [
        "It drags you to a stop in 62 of 200 runs.",
        "The load gets what it asks for most of the time it is on in all 200 runs.",
        "The lamp goes out in 100 of 200 runs.",
        "Not once in 200 runs: an open fuse.",
    ]
    assert words_seconds.chances(dataclasses.replace(a, runs=1)) == []


def test_meter_against_true_watts() -> None:
    """187 W shown of 203 W is 8 % less (hand: 1 - 187/203 = 0.079)."""
    a = dataclasses.replace(scene_samples.holds(), meter=(187.0, 203.0))
    assert "187 W" in words_seconds.meter_line(a)
    assert "8 % less" in words_seconds.meter_line(a)
    assert "more" in words_seconds.meter_line(dataclasses.replace(a, meter=(203.0, 187.0)))
    assert "within 1 %" in words_seconds.meter_line(dataclasses.replace(a, meter=(187.0, 187.5)))
    assert words_seconds.meter_line(dataclasses.replace(a, meter=(math.nan, math.nan))) == ""


def test_the_map_in_words() -> None:
    """The steady point with its edge, or the reason there is none."""
    assert (
        words_seconds.steady_line(SCENES["holds"])
        == "Ridden evenly it holds at 82 turns a minute and tips over below 44."
    )
    none = Side(w_hold=math.nan, w_tip=math.nan, stop=Stop.STALLS)
    assert Stop.STALLS.value in words_seconds.steady_line(dataclasses.replace(SCENES["holds"], steady=none))


# ---- the list ----


@pytest.mark.parametrize("key", KEYS)
@pytest.mark.parametrize("value", [12.34, math.nan])
@pytest.mark.parametrize("unit_of", [0, 1])
def test_every_happening_has_words(key: str, value: float, unit_of: int) -> None:
    """Each key is a sentence, with its number or without, for the main rig and for another."""
    assert key in HAPPENING_WORDS
    h = Happening(at=1.0, key=key, says="", value=value, unit_of=unit_of)
    text = spoken(happening(h, SCENES["holds"]))
    assert ("rig 2" in text) == (unit_of == 1)
    if unit_of:
        assert not re.search(r"\b(you|your)\b", text)


def test_a_named_part_is_kept() -> None:
    """Only the study knows which fuse it was: its own sentence stands."""
    h = Happening(at=1.0, key="fuse_opens", says="the fuse at the battery post opens")
    assert happening(h, SCENES["holds"]) == "The fuse at the battery post opens."
    assert (
        happening(dataclasses.replace(h, key="some_new_key"), SCENES["holds"])
        == "The fuse at the battery post opens."
    )


def test_the_list_is_numbered_like_the_picture() -> None:
    """Row n of the list is ring or flag n: steps before what they bring about, in the order of time."""
    found = rows(SCENES["holds"])
    assert [row.number for row in found] == [1, 2, 3, 4, 5]
    assert [row.told for row in found] == [True, False, False, False, True]
    assert words_seconds.happenings(SCENES["holds"])[0] == ("5.0 s", "Switch the saw on.")
    assert words_seconds.happenings(SCENES["holds"])[3] == (
        "5.8 s",
        "The saw is up to speed, 19800 turns a minute.",
    )


def test_what_repeats_is_counted() -> None:
    """Of 23 sleeps and as many wakes the first two are told and the others counted, with their rhythm."""
    found = rows(SCENES["hiccup"])
    assert len(found) == 4
    assert "22 more times, about twice a second, until 15.0 s" in found[-1].says
    assert found[-1].until > found[-1].at


def test_a_series_told_in_one_happening() -> None:
    """Where the study has counted already, its sentence stands, and rhythm, bar and lane are read from it."""
    says = (
        "The board goes to sleep at 9 V. It comes and goes about 2.1 times a second, 23 times until 14.8 s."
    )
    a = dataclasses.replace(
        scene_samples.hiccup(), happenings=(Happening(at=4.2, key="sleeps", says=says, value=9.0),)
    )
    (_, row) = rows(a)
    assert (row.says, row.times, row.until) == (says, 23, 14.8)
    assert words_seconds.scene_answer(a, RIG) == HICCUP
    found = spells(a)
    assert len(found) == 23
    assert found[1].start - found[0].start == pytest.approx(1 / 2.1)


def test_a_step_starts_the_count_anew() -> None:
    """What follows a step is told again: it is the step's doing."""
    events = tuple(
        Happening(at=0.5 * k + 0.1, key="sleeps" if k % 2 else "wakes", says="") for k in range(40)
    )
    a = dataclasses.replace(
        scene_samples.hiccup(),
        happenings=events,
        steps=(StepRow(at=10.0, text="", understood="push harder"),),
        duration=20.0,
    )
    assert [(row.key, row.times) for row in rows(a)] == [
        ("wakes", 1),
        ("sleeps", 1),
        ("sleeps", 9),
        ("script", 1),
        ("wakes", 1),
        ("sleeps", 1),
        ("sleeps", 9),
    ]


@pytest.mark.parametrize(
    ("t", "duration", "said"),
    [
        (5.0, 30, "5.0 s"),
        (0.25, 2, "0.25 s"),
        (750, 3600, "12 min 30 s"),
        (120, 3600, "2 min"),
        (0, 3600, "0 s"),
        (3900, 9000, "1 h 5 min"),
        (7200, 9000, "2 h"),
        (math.nan, 9000, "not known"),
    ],
)
def test_moments(t: float, duration: float, said: str) -> None:
    """A time on the clock, in the unit of the scene."""
    assert moment(t, duration) == said


@pytest.mark.parametrize(
    ("period", "said"),
    [(0.5, "about twice a second"), (1.0, "about once a second"), (0.2, "about 5 times a second"),
     (3.0, "about every 3 seconds"), (math.nan, "")],
)  # fmt: skip
def test_rhythm(period: float, said: str) -> None:
    """A rhythm as people say it."""
    assert often(period) == said


def test_short_waits() -> None:
    """Tenths of a second below ten, then as everywhere."""
    assert [delay(x) for x in (0.04, 0.83, 7.24, 80.0)] == ["40 ms", "0.8 s", "7.2 s", "80 s"]


# ---- two designs ----


def test_what_differs_is_said() -> None:
    """The clamp keeps the volts below the rating: that is the difference, and the chance with it."""
    text = words_seconds.compare(
        scene_samples.rejection(), scene_samples.rejection(clamp=True), label="a clamp at 38 V"
    )
    assert "Its volts reach 46 V; with a clamp at 38 V they reach 39 V. The lowest rating is 45 V." in text
    assert "in 194 of 200 runs; with a clamp at 38 V in not one of 200 runs" in text
    ends = words_seconds.compare(scene_samples.stalls(), scene_samples.holds(), label="a flywheel")
    assert ends.startswith("This one drags you to a stop; a flywheel holds.")


def test_two_of_the_same_do_not_differ() -> None:
    """A design beside itself: there is nothing to tell."""
    a = scene_samples.holds()
    assert "no difference you would notice" in words_seconds.compare(a, a)


@settings(max_examples=40)
@given(a=answers(), b=answers())
def test_any_two_can_be_compared(a: SceneAnswer, b: SceneAnswer) -> None:
    """Whatever the two scenes, there is a sentence."""
    text = words_seconds.compare(a, b)
    assert text[-1] == "."
    assert not NEVER.search(text)


def test_the_end_is_a_mean() -> None:
    """The last tenth of the scene, so that a beat of the legs does not decide: 82 turns a minute."""
    assert mean_end(SCENES["holds"], "cadence") / scene_samples.TURN == pytest.approx(82, abs=0.3)
    assert math.isnan(mean_end(SCENES["holds"], "charge"))


# ---- ledger ----

KNOWN = set(re.findall(r"\.(d[tlfsw][a-z0-9-]*)", page_css())) | {"dw-wide", "dw-narrow", "dw"}
LEDGERS = {
    "short": scene_samples.holds(),
    "long": scene_samples.hour(),
    "a store gives": dataclasses.replace(scene_samples.holds(), ledger=scene_samples.ledger(gives=True)),
}


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("name", LEDGERS)
def test_the_ledger_keeps_the_house_rules(name: str, upright: bool) -> None:
    """Title and text with numbers, letters of 15 or more, known classes, nothing covers anything."""
    svg = ledger(LEDGERS[name], upright=upright)
    assert reading.tree(svg).find(f"{reading.SVG}title").text
    assert any(letter.isdigit() for letter in reading.desc(svg))
    assert min(w.size for w in reading.words(svg)) >= 15
    assert reading.classes(svg) <= KNOWN
    assert not re.search(r"[Gg]radient|\srx=|#[0-9a-f]{6}| style=", svg)
    assert reading.overlaps(svg) == []
    assert reading.outside(svg) == []


@pytest.mark.parametrize("upright", [False, True])
def test_ledger_numbers_add_up(upright: bool) -> None:
    """What goes in less every toll is what comes out, as far as the written digits go."""
    svg = ledger(LEDGERS["a store gives"], upright=upright)
    said = [w.words for w in reading.words(svg)]
    tolls = sum(float(w[1:]) for w in said if re.fullmatch("\u2212[\\d.]+", w))
    amounts = [float(w.partition("\u2009")[0]) for w in said if re.fullmatch("[\\d.]+\u2009J", w)]
    assert amounts[:2] == [4200, 430]
    assert sum(amounts[:2]) - tolls == pytest.approx(sum(amounts[2:]), rel=0.01)
    assert "out of what turns" in said


def test_ledger_colours_for_a_file() -> None:
    """Each palette inks the drawing without a property of the page."""
    for palette in (LIGHT, DARK, PRINT):
        svg = ledger(scene_samples.holds(), standalone=True, palette=palette)
        assert "var(" not in svg
        assert palette.ink in svg


entries = st.builds(
    Entry,
    key=st.just("k"),
    name=st.sampled_from(["legs", "a part with quite a long name of its own", "winding", "what turns"]),
    side=st.sampled_from(["in", "toll", "delivered", "store"]),
    joules=st.floats(-1e5, 1e7) | st.just(math.nan) | st.just(0.0),
)


@settings(max_examples=80)
@given(found=st.lists(entries, max_size=14), upright=st.booleans())
def test_any_ledger_can_be_drawn_and_told(found: list[Entry], upright: bool) -> None:
    """Whatever stands in it, the drawing stays on its sheet, the sentence is there, and only tiny tolls are left out."""
    a = dataclasses.replace(scene_samples.holds(), ledger=tuple(found))
    svg = ledger(a, upright=upright)
    assert reading.outside(svg) == []
    assert reading.overlaps(svg) == []
    assert not re.search(r'="[^"]*\b(nan|inf)\b', svg)
    assert caption(a)[-1] == "."
    shown, left_out = words_seconds.ledger_rows(a), len(found) - len(words_seconds.ledger_rows(a))
    total = sum(e.joules for e in found if e.side == "in" and e.joules > 0)
    assert left_out <= sum(e.side == "toll" and abs(e.joules) < 1e-3 * total for e in found)
    assert sum(row.side == "goes in" for row in shown) == sum(e.side == "in" for e in found)


def test_ledger_rows_have_units_and_shares() -> None:
    """4200 J from the legs are all of it, 410 J in the winding a tenth; what a store gives is taken out."""
    found = {row.name: row for row in words_seconds.ledger_rows(LEDGERS["a store gives"])}
    assert (found["legs"].amount, found["legs"].share, found["legs"].side) == ("4200 J", "100 %", "goes in")
    assert (found["machine winding"].amount, found["machine winding"].share) == ("410 J", "10 %")
    assert (found["what turns"].amount, found["what turns"].side) == ("430 J", "taken out")


def test_energy_digits() -> None:
    """Three digits at most. Hand: 334800 J is 93 Wh; 2475 J is told as 2480."""
    assert energy(334800.0, "Wh") == "93"
    assert energy(2475.0, "J") == "2480"
    assert energy(-3.04, "J") == "\u22123"


# ---- CSV ----


def test_csv_says_its_units_and_gives_back_the_numbers() -> None:
    """Every header ends in its unit; the numbers are those of the tracks; what happens stands on its row."""
    a = scene_samples.holds()
    table = list(csv.DictReader(io.StringIO(scene_csv(a))))
    assert len(table) == a.times.size
    heads = list(table[0])
    assert heads[0] == "time_s"
    assert heads[-1] == "what_happens"
    assert all(h.rpartition("_")[2] in ("s", "V", "A", "W", "K", "J", "share") for h in heads[:-1])
    values = [float(row["cadence_rad_s"]) for row in table]
    assert values == pytest.approx(a.track("cadence").values.tolist(), rel=1e-6)
    assert float(table[0]["cadence_low_rad_s"]) <= values[0] <= float(table[0]["cadence_high_rad_s"])
    assert "Switch the saw on." in table[100]["what_happens"]


def test_csv_leaves_out_what_is_not_there_and_runs_nothing() -> None:
    """A missing number is an empty cell; a step that looks like a formula is quoted by its time before it."""
    a = scene_samples.ripple()
    values = a.track("cadence").values.copy()
    values[3] = math.nan
    track = dataclasses.replace(a.track("cadence"), values=values)
    a = dataclasses.replace(a, tracks=(track,), steps=(StepRow(at=0.0, text="=1+1", understood="=1+1"),))
    table = list(csv.reader(io.StringIO(scene_csv(a))))
    assert table[4][1] == ""
    assert not any(cell[:1] in "=+@" for row in table for cell in row if cell)


@settings(max_examples=40)
@given(a=answers())
def test_any_scene_can_be_carried_away(a: SceneAnswer) -> None:
    """Whatever the scene, every row is as long as the head."""
    table = list(csv.reader(io.StringIO(scene_csv(a))))
    assert {len(row) for row in table} == {len(table[0])}
    assert len(table) == a.times.size + 1
