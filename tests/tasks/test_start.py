"""The start sentence: thirty ways to say it, what is understood, guessed and left over, and where it leads."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewatt import tasks
from sparewatt.errors import BadRequest, CannotWrite
from sparewatt.files import read_text
from sparewatt.language.sentence import LONGEST, Heard, read_sentence
from sparewatt.rig.fill import fill
from sparewatt.tasks.draft import draft_rig
from sparewatt.tasks.draft_text import with_stand_ins
from sparewatt.tasks.starting import Started

# sentence -> what must stand in the rig file, as dotted paths and texts (a value table stands for its value)
SENTENCES: list[tuple[str, dict[str, Any]]] = [
    (
        "charge a 12 V 36 Ah battery and run a 10 W lamp; I am 34, fairly fit; motor label 24 V 250 W 2650 rpm 13.5 A",
        {
            "battery.capacity": "36 Ah",
            "load.0.power": "10 W",
            "rider.0.age": 34,
            "rider.0.fitness": "active",
            "machine.plate_speed": "2650 rpm",
        },
    ),
    (
        "I want to run two phones and a laptop, my son is 14",
        {"load.0.kind": "usb", "load.0.uses_per_day": 2, "rider.0.age": 14},
    ),
    (
        "motor: 1/3 hp, 90 V, 1,750 rpm. 26 inch wheel on a 40 mm roller, 42/18. Charge a 12V 7Ah sealed battery in 2 hours",
        {
            "machine.plate_power": "1/3 hp",
            "machine.plate_speed": "1750 rpm",
            "stage.1.kind": "roller",
            "stage.1.driver_diameter": "26 in",
            "stage.1.driven_diameter": "40 mm",
            "stage.0.driver_teeth": [42],
            "battery.chemistry": "agm",
            "ride.duration": "2 h",
        },
    ),
    (
        "lamp 10 W radio 5 W, not very fit, 70 kg, 52 years old",
        {
            "load.0.power": "10 W",
            "load.1.power": "5 W",
            "rider.0.fitness": "not fit",
            "rider.0.mass": "70 kg",
        },
    ),
    (
        "6V12Ah sealed battery full in 30 min; strong pupil, 100 W",
        {
            "battery.voltage": "6 V",
            "battery.capacity": "12 Ah",
            "ride.effort": "100 W",
            "ride.duration": "30 min",
        },
    ),
    (
        "three 10 W lamps for 4 hours and a phone",
        {"load.0.power": "30 W", "load.0.use_time": "4 h", "load.1.kind": "usb"},
    ),
    ("Laptop 60 W; I can hold 150 W; 300 W inverter", {"load.0.power": "60 W", "ride.effort": "150 W"}),
    (
        "24 volt 2 amp-hour battery, hand crank, cellar 30 m3",
        {
            "battery.voltage": "24 V",
            "battery.capacity": "2 Ah",
            "rider.0.uses": "arms",
            "place.volume": "30 m3",
        },
    ),
    (
        "I weigh 180 lb and am 29 years old, active. Run a 12 volt fan 20 watts. Motor plate: 36 V, 350 W, 3000 rpm, 13 A",
        {
            "rider.0.mass": "180 lb",
            "rider.0.age": 29,
            "load.0.power": "20 W",
            "machine.plate_voltage": "36 V",
            "machine.plate_current": "13 A",
        },
    ),
    (
        "we are four people, film night with a projector 120 W for 2 hours",
        {"load.0.power": "120 W", "load.0.use_time": "2 h", "converter.0.kind": "inverter"},
    ),
    (
        "pedal at 65 rpm for 90 minutes to charge a 12 V 100 Ah car battery, alternator",
        {"machine.kind": "alternator", "ride.duration": "90 min"},
    ),
    ("Water pump 2,5 A 12 V for half an hour a day", {"load.0.power": "30 W", "load.0.use_time": "0.5 h"}),
    (
        "power our 600W 230V drill in the barn, I'm 45 and very fit, treadmill motor 130V 11A 4500rpm, boost board 12 A",
        {
            "load.0.kind": "universal_motor",
            "load.0.plate_voltage": "230 V",
            "converter.0.input_current": "12 A",
            "machine.plate_voltage": "130 V",
        },
    ),
    (
        "charge my e-bike battery 500 Wh with a hub motor",
        {"load.0.energy_per_use": "500 Wh", "machine.kind": "pm_three_phase"},
    ),
    ("a 40 W frobnicator", {"load.0.name": "frobnicator", "load.0.power": "40 W"}),
    ("radio", {"load.0.kind": "electronics", "rider.0.fitness": "active"}),
    ("RUN A RADIO, 4 WATTS, 12 VOLTS!", {"load.0.power": "4 W", "load.0.voltage": "12 V"}),
    (
        "I'm an athlete, 25, and want light: 20 W of LED",
        {"rider.0.fitness": "athlete", "rider.0.age": 25, "load.0.power": "20 W"},
    ),
    ("my grandmother will pedal for the radio", {"rider.0.age": 70, "load.0.name": "radio"}),
    (
        "12 V 18 Ah gel battery. 10 A fuse. scooter motor.",
        {"fuse.0.rating": "10 A", "battery.chemistry": "agm", "machine.name": "scooter motor"},
    ),
    (
        "battery 12V 50Ah, lamp 8W, radio 3W, phone, I am 60 and unfit",
        {"load.0.power": "8 W", "load.1.power": "3 W", "rider.0.fitness": "not fit"},
    ),
    (
        "motor 36 V 500 W 2500 rpm, ratio 1:28, charge a 24 V 20 Ah lithium battery",
        {"stage.0.ratio": 28, "battery.chemistry": "lifepo4"},
    ),
    (
        "a sewing machine 90 W on 120 V and I am fit",
        {"load.0.kind": "universal_motor", "load.0.plate_voltage": "120 V", "load.0.motion": True},
    ),
    ("breathing machine 40 W 12 V all night", {"load.0.life_support": True, "load.0.power": "40 W"}),
    ("induction motor 400 W, charge a 12 V battery", {"machine.kind": "induction"}),
    ("fridge and freezer for the cabin, 4 of us", {"load.0.kind": "induction_motor"}),
    ("kettle 2 kW, 230 V", {"load.0.power": "2 kW", "load.0.kind": "heater"}),
    (
        "light the shed with two lamps\nI am 41\nmotor 24 V",
        {"load.0.power": "20 W", "rider.0.age": 41, "machine.plate_voltage": "24 V"},
    ),
    ("please could somebody tell me whether it makes sense to charge my phone", {"load.0.name": "phone"}),
    ("lamp " * 300, {"load.0.name": "lamp"}),
]


def at(data: Any, path: str) -> Any:
    """What stands in the file at a dotted path; the value of a table that has one."""
    for step in path.split("."):
        data = data[int(step)] if step.isdigit() else data[step]
    return data["value"] if isinstance(data, dict) else data


@pytest.mark.parametrize(("sentence", "wanted"), SENTENCES, ids=[s[:40] for s, _ in SENTENCES])
def test_what_was_said_stands_in_the_file(sentence: str, wanted: dict[str, Any]) -> None:
    """Each number lands at its part, and the file reads back without a problem."""
    text = with_stand_ins(draft_rig(read_sentence(sentence), sentence).text)
    data = tomllib.loads(text)
    for path, value in wanted.items():
        assert at(data, path) == value, path
    rig = read_text(text).rig
    assert rig.machine is not None
    assert fill(rig).rig.machine is not None
    assert 'how = "guess"' in text or "guess" in text


@pytest.mark.parametrize(
    "sentence",
    ["", "   ", "asdf qwer zxcv", "blue monday", "12 V", "!!!???", "I am 34 and very fit", "a b c d e"],
)
def test_nonsense_is_refused_with_an_example(sentence: str) -> None:
    """Nothing to run and nothing to charge: it says so and shows a sentence that works."""
    with pytest.raises(BadRequest) as caught:
        read_sentence(sentence)
    assert "run a 10 W lamp" in caught.value.problems[0].hint


def test_a_book_is_not_a_sentence() -> None:
    """Past some length it is refused unread."""
    with pytest.raises(BadRequest, match="letters long"):
        read_sentence("lamp and " * LONGEST)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused_never_worse(text: str) -> None:
    """Whatever is typed gives a file that reads back, or a refusal in our words."""
    try:
        heard = read_sentence(text)
    except BadRequest:
        return
    read_text(draft_rig(heard, text).text)


@given(
    st.lists(
        st.sampled_from(
            [
                "lamp",
                "10 W",
                "12 V",
                "36 Ah",
                "battery",
                "motor",
                "2650 rpm",
                "1/3 hp",
                "I am 34",
                "fit",
                "kettle",
                ",",
                ";",
                "and",
                "for 2 hours",
                "42/18",
                "26 inch wheel",
                "40 mm roller",
                "two",
                "phones",
                "boost",
                "12 A",
                "drill",
                "230 V",
                "0 W",
                "1/0 hp",
            ]
        ),
        max_size=14,
    )
)
def test_any_order_of_known_words_is_read_or_refused(words: list[str]) -> None:
    """Order and doubling do no harm."""
    sentence = " ".join(words)
    try:
        heard = read_sentence(sentence)
        read_text(draft_rig(heard, sentence).text)
    except BadRequest as bad:
        assert bad.problems  # noqa: PT017


def test_the_order_of_the_pieces_does_not_matter() -> None:
    """Label first or last, rider first or last: the same file."""
    pieces = [
        "charge a 12 V 36 Ah battery",
        "motor label 24 V 250 W 2650 rpm 13.5 A",
        "I am 34, fairly fit",
        "run a 10 W lamp",
    ]
    texts = []
    for k in range(4):
        sentence = "; ".join(pieces[k:] + pieces[:k])
        texts.append(draft_rig(read_sentence(sentence), "x").text)
    assert len(set(texts)) == 1


def test_what_was_not_used_is_said() -> None:
    """Words and numbers that came to nothing are listed, not dropped."""
    heard: Heard = read_sentence("run a lamp in the barn with 7 teeth and a unicorn")
    assert "barn" in heard.unused
    assert "unicorn" in heard.unused


def test_start_says_understood_guessed_and_the_verdict() -> None:
    """The model sentence: a yes with a band, the price of the lamp, and what was guessed."""
    answer = tasks.start(SENTENCES[0][0], draws=256)
    found = answer.study
    assert isinstance(found, Started)
    assert answer.verdict == "good use of legs"
    assert "turns a minute" in answer.answer
    assert " to " in answer.answer
    assert "battery: 12 V, 36 Ah" in found.understood
    assert any("pulley" in line for line in found.guessed)
    assert found.not_used == ()
    assert answer.results["rig_toml"] == found.text
    assert "stands in" in found.text


@pytest.mark.parametrize(
    "sentence",
    ["kettle", "a fridge, 120 V, four of us", "heater 1500 W on 230 V", "washing machine", "electric oven"],
)
def test_what_is_not_by_legs_is_answered_straight(sentence: str) -> None:
    """Heat, cold and big motors: no first, with the riding it would take and another way."""
    answer = tasks.start(sentence, draws=64)
    assert answer.verdict == "not by legs"
    assert answer.answer.startswith("Not by legs")
    assert "of riding" in answer.answer
    assert answer.nearest_yes
    assert answer.results["match"] is None


def test_a_mixed_wish_is_answered_no_first_then_yes() -> None:
    """Kettle and phone: the kettle is refused first, the phone still gets its answer."""
    answer = tasks.start("kettle and a phone", draws=64)
    assert answer.verdict == "not by legs"
    assert answer.answer.index("kettle") < answer.answer.index("phone")
    assert answer.results["match"] is not None


def test_a_machine_without_magnets_is_refused() -> None:
    """An induction motor makes nothing when turned."""
    answer = tasks.start("turn an induction motor 400 W to charge a 12 V battery", draws=64)
    assert answer.verdict == "not by legs"
    assert "magnets" in answer.answer


def test_a_drill_is_judged_as_a_tool() -> None:
    """Light work in bouts, with what it will not do; the trigger is warned of."""
    answer = tasks.start("drill 600 W 230 V; I am 40 and fit", draws=256)
    assert answer.results["loads"] is not None
    assert "light work" in answer.answer
    assert "trigger" in answer.answer


def test_a_high_volt_motor_gets_a_board_and_something_in_hand() -> None:
    """A walking-machine motor is run at the volts it likes and stepped down, with amps that leave the legs a spare."""
    answer = tasks.start(
        "treadmill motor 130 V 11 A 4500 rpm, charge a 12 V 100 Ah battery, I am 50", draws=256
    )
    data = tomllib.loads(str(answer.results["rig_toml"]))
    assert data["converter"][0]["kind"] == "buck"
    assert "set_current" in data["converter"][0]
    assert answer.verdict == "good use of legs"
    assert answer.results["match"]["spare_W"] > 0  # type: ignore[index]


def test_a_file_is_written_once(tmp_path: Path) -> None:
    """The folder gets a rig.toml that reads back; a second start leaves it alone."""
    tasks.start("run a lamp", tmp_path / "new", draws=16)
    assert read_text((tmp_path / "new" / "rig.toml").read_text()).rig.load[0].name == "lamp"
    with pytest.raises(CannotWrite):
        tasks.start("run a radio", tmp_path / "new")


def test_the_drive_is_laid_out_for_a_comfortable_pace() -> None:
    """Without sizes in the sentence, the chosen pulley brings a 12 V battery to 50 to 75 turns a minute."""
    for plate in ("24 V 250 W 2650 rpm 13.5 A", "12 V 150 W 3000 rpm", "36 V 500 W 2800 rpm"):
        answer = tasks.start(f"charge a 12 V 36 Ah battery; motor {plate}", draws=64)
        pace = answer.results["match"]["cadence_rad_per_s"]  # type: ignore[index]
        assert 50 < pace * 60 / 6.2832 < 75, plate


def test_a_motor_named_inside_a_tool_is_not_the_machine_on_the_heap() -> None:
    """ "A sewing machine, 90 W universal motor" is one thing to run; it is a yes for legs."""
    answer = tasks.start("run a sewing machine, 90 W universal motor 230 V; I am 40 and fit", draws=256)
    assert answer.rig.machine is not None
    assert answer.rig.machine.kind == "pm_dc"
    assert answer.rig.load[0].plate_power is not None
    assert answer.rig.load[0].plate_power.value == 90.0
    assert answer.verdict != "not by legs"


# ---- age and illness ----

# what is typed -> age and fitness in the draft; every word of illness sets the rider down as unwell
BODIES: list[tuple[str, dict[str, Any]]] = [
    ("run a lamp; I am 71 and had a heart operation", {"age": 71, "fitness": "unwell"}),
    ("charge a phone, pregnant", {"fitness": "unwell"}),
    ("my 9 year old son rides for the radio", {"age": 9, "fitness": "active"}),
    ("radio; my daughter, 9", {"age": 9}),
    ("radio, bad knee", {"fitness": "unwell"}),
    ("radio, I have a fever", {"fitness": "unwell"}),
    ("radio; asthma", {"fitness": "unwell"}),
    ("I am very fit but have high blood pressure; a lamp", {"fitness": "unwell"}),
    ("radio, I'm 80 and take blood pressure tablets", {"age": 80, "fitness": "unwell"}),
    ("lamp; diabetic, unfit, 52 years old", {"age": 52, "fitness": "unwell"}),
    ("lamp. I had a stroke last year", {"fitness": "unwell"}),
    ("phone, chest pain", {"fitness": "unwell"}),
    ("phone; my back hurts", {"fitness": "unwell"}),
    ("lamp; just out of hospital", {"fitness": "unwell"}),
    ("lamp, my mother is 82", {"age": 82}),
    ("laptop, seventy-one years old", {"age": 71}),
    ("radio, I am seventy", {"age": 70}),
    ("lamp, 71-year-old", {"age": 71}),
    ("lamp; in my sixties", {"age": 65}),
    ("lamp for a pensioner", {"age": 70}),
    ("lamp, I am 40, not pregnant and never ill, fit", {"age": 40, "fitness": "fit"}),
    ("charge the medicine fridge battery 12 V 40 Ah", {"fitness": "active"}),
    ("charge my heart rate watch battery 12 V 7 Ah", {"fitness": "active"}),
]


@pytest.mark.parametrize(("sentence", "wanted"), BODIES, ids=[s[:40] for s, _ in BODIES])
def test_age_and_illness_land_in_the_rider(sentence: str, wanted: dict[str, Any]) -> None:
    """What is said of the body stands in the draft, and nothing of it is left over or turns into a thing to run."""
    heard = read_sentence(sentence)
    rider = tomllib.loads(draft_rig(heard, sentence).text)["rider"][0]
    assert {key: rider.get(key) for key in wanted} == wanted
    assert (rider["fitness"] == "unwell") == bool(heard.ill)
    assert not [load.name for load in heard.loads if load.name == "tablet"]


def test_illness_is_told_back_with_the_caution_and_no_diagnosis() -> None:
    """The very words come back, a doctor comes first, and a sentence can be said (common practice, no source)."""
    answer = tasks.start("charge a 12 V 7 Ah battery; I am 71 and had a heart operation", draws=64)
    found = answer.study
    assert isinstance(found, Started)
    assert "rider: 71 years, unwell (had a heart operation)" in found.understood
    assert "doctor first" in answer.answer
    assert "no efforts to the limit" in answer.answer
    assert found.not_used == ()


def test_nobody_healthy_and_grown_is_cautioned() -> None:
    """At 40 and fit the answer speaks of no doctor; a child and an old rider are told to go gently."""
    said = {n: tasks.start(f"charge a 12 V 7 Ah battery; I am {n}", draws=64).answer for n in (40, 12, 70)}
    assert "sentence" not in said[40]
    assert "no efforts to the limit" in said[12]
    assert "doctor" in said[70]


def test_a_load_somebody_depends_on_is_a_stop_before_all_else() -> None:
    """Said first, with what has to stand behind it; never with a share of its time that legs could give."""
    answer = tasks.start("a 40 W breathing machine at 12 V all night; charge a 12 V 36 Ah battery", draws=64)
    assert answer.answer.startswith("Stop")
    assert "back-up to the back-up" in answer.answer
    assert not [change for change in answer.nearest_yes if "%" in str(change["says"])]
    assert any("two nights" in str(change["says"]) for change in answer.nearest_yes)
