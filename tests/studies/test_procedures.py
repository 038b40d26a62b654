"""The bench procedures: all there, short enough for dirty hands, cautions before effort, a place for every reading."""

from __future__ import annotations

import itertools
import math
import re

import pytest

from sparewatt.errors import BadRequest
from sparewatt.files import demo_list, demo_text, load_sources, read_text
from sparewatt.parts import Measured, Rider
from sparewatt.quantities import parse
from sparewatt.rig.fill import fill
from sparewatt.studies.bench import procedures, reading_meters
from sparewatt.studies.bench.procedures import (
    EFFORTS,
    ORDER,
    expected,
    for_rig,
    guide,
    guides,
    offered,
    screening,
)
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS, speed_of

# What the bench must be able to tell, and the procedures that do (the list of everything a build needs to know).
WANTED = {
    "how to read a meter at all": {"rules"},
    "volts for each turn": {"spin_open"},
    "hot resistance and brush drop, by two ways": {"spin_loaded", "locked_shaft"},
    "friction, by two ways": {"run_free", "run_down"},
    "inertia": {"falling_weight"},
    "what a board keeps, its limits, its screws": {"board_power", "board_limits", "board_screws"},
    "ohms of a battery": {"battery_dip"},
    "amp-hours of a battery": {"battery_run"},
    "ratio and slip": {"ratio_and_slip"},
    "what a rider holds": {"gentle_steps", "hard_efforts"},
    "power at the shaft and torque for each amp": {"rope_brake", "lever_torque"},
    "what an appliance is": {"appliance_look"},
    "over-speed": {"top_speed"},
    "first rides": {"first_turn", "dummy_ride", "step_ride", "edge_ride", "load_drop", "hour_ride", "group_ride"},
    "how readings settle": {"settle"},
}  # fmt: skip
ALL = guides()
YES_TO_ONE = [{q.key: q.key == yes.key for q in screening().questions} for yes in screening().questions]
NO_TO_ALL = {q.key: False for q in screening().questions}


def texts(one) -> list[str]:
    """Everything of a procedure that a person reads."""
    p = one.procedure
    inner = [text for step in p.steps for text in (step.says, step.caution)]
    return [p.title, p.why, p.typical, *p.needs, *p.fixes, *p.cautions, *p.screens, *p.stop_signs, *inner]


def test_every_procedure_is_there():
    """Each thing the bench must tell has its procedure, and there is none that nobody asked for."""
    wanted = set().union(*WANTED.values())
    assert wanted == set(ORDER)
    assert [one.key for one in ALL] == list(ORDER)


@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_is_whole(one):
    """A procedure has title, reason, minutes, tools, what it makes known, cautions and steps."""
    p = one.procedure
    assert all((p.title, p.why, p.needs, p.fixes, p.cautions, p.steps, p.typical, one.chapter))
    assert 2 <= p.minutes <= 90
    assert one.effort in EFFORTS
    assert set(p.sources) <= set(load_sources())


@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_steps_are_short(one):
    """Each step is one short sentence or two, 190 letters at most; each caution is shorter still."""
    for step in one.procedure.steps:
        assert len(re.findall(r"[.?!](?= |$)", step.says)) <= 2, step.says
        assert len(step.says) <= 190, step.says
        assert len(step.caution) <= 125, step.caution
    assert all(len(text) <= 150 for text in one.procedure.cautions)


@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_words_are_ours(one):
    """No word that a page never says, and nobody's unit or brand letters."""
    for text in texts(one):
        assert not re.search(
            r"(?i)\b(error|invalid|optimal|safe|safely|guaranteed|ensure|utili[sz]e)\b", text
        ), text
        assert text == text.strip()
        assert "  " not in text


def test_every_kind_of_reading_is_asked_for():
    """Every kind is asked for by just the procedures that it names, and every value of it has its place."""
    asked = {
        (one.key, READINGS[slot.what].kind)
        for one in ALL
        for step in one.procedure.steps
        for slot in step.slots
    }
    assert asked == {(key, kind.key) for kind in KINDS.values() for key in kind.procedures}
    places = {slot.what for one in ALL for step in one.procedure.steps for slot in step.slots}
    assert places == set(READINGS)


@pytest.mark.parametrize("key", READINGS)
def test_every_reading_has_unit_and_meter(key):
    """A reading has words, a unit with spellings that are understood, and a meter whose usual spread is known."""
    reading = READINGS[key]
    assert key == f"{reading.kind}.{reading.what}"
    assert reading.says
    assert reading.low < reading.high
    if reading.unit != "yes":
        for unit in reading.units:
            assert math.isfinite(parse("1" if unit == "1" else f"1 {unit}", reading.unit).value)
        own, share = reading_meters.reading_sd(1.0, reading.unit, usual=reading.meter)
        assert own + share > 0
    assert reading_meters.METERS[reading.meter].unit == reading.unit


def test_usual_spreads_of_meters():
    """Volts 0.8 % and 2 digits, amps 2 % and 3 digits, ohms 1 % and leads, scale 2 g and 0.3 %, tape 1 mm,
    watch 0.15 s, film 0.02 s, filmed speed 0.5 %: the usual table of cheap tools (common practice, no source)."""
    sd = reading_meters.reading_sd
    assert sd(12.3, "V", scale="200 V DC") == pytest.approx((2 * 0.1, 0.008))
    assert sd(12.3, "V") == pytest.approx((2 * 0.01, 0.008))
    assert sd(0.065, "V", scale="200 mV") == pytest.approx((2 * 0.0001, 0.008))
    assert sd(4.6, "A", scale="20 A") == pytest.approx((3 * 0.01, 0.02))
    assert sd(1.2, "ohm") == pytest.approx((0.3, 0.01))
    assert sd(2.0, "kg") == pytest.approx((0.002, 0.003))
    assert sd(1.0, "m") == pytest.approx((0.001, 0.0))
    assert sd(0.92, "s", name="old stopwatch") == pytest.approx((0.15, 0.0))
    assert sd(0.92, "s", name="phone film") == pytest.approx((0.02, 0.0))
    assert sd(150.0, "rad/s") == pytest.approx((0.0, 0.005))
    plate = reading_meters.meter_for("rad/s", "drill plate")
    assert plate.mean_factor == pytest.approx(1 / 0.9)
    low, high = (1 / plate.mean_factor + z * plate.share for z in (-1.6449, 1.6449))
    assert (low, high) == pytest.approx((0.75, 1.05), abs=1e-3)


def test_range_to_turn_to():
    """24 V is read on 200 V, 1.9 V on 2 V, 3 A on 10 A; a tape has no range."""
    found = [reading_meters.range_for(*ask) for ask in (("V", 24.0), ("V", 1.9), ("A", 3.0), ("m", 1.0))]
    assert found == ["200 V", "2 V", "10 A", ""]


def test_counted_turns_are_a_speed():
    """24 turns in 5 s are 288 turns a minute; a speed that was read goes first; nothing read is not known."""
    assert speed_of({"turns": 24.0, "turn_time": 5.0}) == pytest.approx(288 * 2 * math.pi / 60)
    assert speed_of({"speed": 3.0, "turns": 24.0, "turn_time": 5.0}) == 3.0
    assert math.isnan(speed_of({"turns": 24.0}))


# ---- who may do what ----


@pytest.mark.parametrize("answers", YES_TO_ONE, ids=lambda a: next(k for k, yes in a.items() if yes))
def test_one_yes_takes_every_hard_effort_away(answers):
    """After a yes to any question nothing steady or maximal is offered, the gentle way still is, and a reason is given."""
    keys = {one.key for one in offered(answers)}
    assert {one.effort for one in offered(answers)} == {"none", "gentle"}
    assert "gentle_steps" in keys
    assert "hard_efforts" not in keys
    assert "doctor" in procedures.why_not(guide("hard_efforts"), answers)


def test_no_effort_before_the_questions():
    """With no answers, or any one of them missing, nothing is offered that a body works for."""
    for missing in (None, *[{k: v for k, v in NO_TO_ALL.items() if k != key} for key in NO_TO_ALL]):
        assert {one.effort for one in offered(missing)} == {"none"}
    most = dict.fromkeys(NO_TO_ALL, True)
    most.pop("chest")
    assert {one.effort for one in offered(most)} == {"none"}


def test_a_clear_adult_is_offered_everything():
    """A no to each question leaves every procedure."""
    assert [one.key for one in offered(NO_TO_ALL)] == list(ORDER)


@pytest.mark.parametrize(
    "rider",
    [
        Rider(name="Ulla", fitness="unwell"),
        Rider(name="Tim", age=Measured(17.0)),
        Rider(name="Ida", age=Measured(9.0)),
    ],
)
def test_a_rider_down_as_unwell_or_not_grown_up_gets_the_gentle_way(rider):
    """Whatever was answered: nothing to the limit, no steady ride, but the steps at which one talks (18: as asked)."""
    keys = {one.key for one in offered(NO_TO_ALL, rider)}
    assert {one.effort for one in offered(NO_TO_ALL, rider)} == {"none", "gentle"}
    assert "gentle_steps" in keys
    assert "hard_efforts" not in keys
    assert "doctor" in procedures.why_not(guide("hard_efforts"), NO_TO_ALL, rider)
    assert {one.effort for one in offered(None, rider)} == {"none"}
    grown = Rider(name="Bo", fitness="not fit", age=Measured(18.0))
    assert [one.key for one in offered(NO_TO_ALL, grown)] == list(ORDER)


def test_every_mix_of_answers():
    """Whatever the mix of yes and no, a maximal effort is offered only for a no to each."""
    asked = list(NO_TO_ALL)
    for mix in itertools.product((False, True), repeat=len(asked)):
        hard = [one for one in offered(dict(zip(asked, mix, strict=True))) if one.effort == "maximal"]
        assert bool(hard) == (not any(mix))


@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_questions_and_stop_signs_stand_before_any_effort(one):
    """Whatever a body works for carries the questions and the stop signs; what asks no effort carries neither."""
    p = one.procedure
    assert bool(p.screens) == bool(p.stop_signs) == (one.effort != "none")
    if p.screens:
        assert len(p.screens) == len(screening().questions)
        assert any("chest" in sign for sign in p.stop_signs)
        assert p.stop_signs[-1].startswith("Stop at once")


def test_stop_signs_name_what_they_must():
    """Chest, jaw and arm; faint; a stumbling heart; cold sweat: the usual list (common practice, from memory)."""
    told = " ".join(screening().stop_signs).lower()
    for word in ("chest", "jaw", "arm", "faint", "heart", "cold sweat"):
        assert word in told
    asked = " ".join(q.asks for q in screening().questions).lower()
    for word in ("chest", "faint", "heart", "medicine", "pregnant", "operation", "fever", "under 18"):
        assert word in asked


def test_maximal_efforts_are_only_the_timed_ones():
    """The one effort to the limit is the timed one, for adults, with a second person."""
    hard = [one for one in ALL if one.effort == "maximal"]
    assert [one.key for one in hard] == ["hard_efforts"]
    told = " ".join(hard[0].procedure.cautions)
    assert "adults" in told
    assert "nobody alone" in told


# ---- cautions where they belong ----


@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_cautions_fit_what_is_used(one):
    """Fed from a battery: a fuse at its post. A lead-acid battery itself: goggles, gas, ten minutes. A spinning
    chuck, wheel or belt: hair and cuffs or fingers, and children. Volts that can bite: said."""
    p = one.procedure
    cautions = " ".join([*p.cautions, *(step.caution for step in p.steps)])
    if any("fuse" in need for need in p.needs):
        assert "Fuse" in cautions
        assert re.search(r"rings", cautions, re.IGNORECASE)
    if one.chapter == "battery":
        for word in ("oggles", "en minutes after charging", "frozen"):
            assert word in cautions
    if any("drill" in need for need in p.needs):
        assert re.search(r"hair|fingers", cautions, re.IGNORECASE)
    if one.key in ("spin_open", "spin_loaded", "run_free", "dummy_ride", "ratio_and_slip"):
        assert "Children" in cautions or "children" in cautions
    if one.key == "top_speed":
        assert "60 V" in cautions
        assert "30 V" in cautions


@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_the_lead_leaves_the_amps_socket(one):
    """Whoever reads amps is told afterwards to put the lead back into the volts socket."""
    steps = one.procedure.steps
    amps = [n for n, step in enumerate(steps) if any(READINGS[slot.what].unit == "A" for slot in step.slots)]
    if amps:
        assert any("back in the volts socket" in step.says for step in steps[amps[-1] :])


# ---- what this rig should show ----


@pytest.mark.parametrize("demo", [demo.key for demo in demo_list()])
@pytest.mark.parametrize("one", ALL, ids=lambda g: g.key)
def test_every_place_has_a_range(one, demo):
    """For each value of each procedure there is a range on this rig, inside what any rig could show."""
    filled = fill(read_text(demo_text(demo)).rig)
    likely = expected(filled, one.procedure)
    for step in for_rig(one, filled).steps:
        for slot in step.slots:
            reading = READINGS[slot.what]
            assert reading.low <= slot.low < slot.high <= reading.high
            assert likely[slot.what] == (slot.low, slot.high)
            assert slot.repeat >= 1


def test_ranges_hold_what_the_rig_shows():
    """A machine of 0.08 V s/rad and 0.5 ohm with 0.04 N m of friction, read by hand: 12 V at 150 rad/s open, 11.2 V
    less 0.9 V of brushes at 1.6 A (hand: 0.08*150 - 0.5*1.6 - 0.9), 0.5 A running free (hand: 0.04/0.08)."""
    rig = read_text(
        'name = "r"\n[[rider]]\nname = "a"\n[[stage]]\nkind = "chain"\nratio = "20"\n'
        '[machine]\nemf_constant = "0.08 V*s/rad +/- 0.008"\nresistance = "0.5 ohm +/- 0.1"\n'
        'friction = "0.04 N*m +/- 0.01"\n'
    ).rig
    filled = fill(rig)
    for key, told in {
        "spin_open": {"open_volts.volts": 12.0, "open_volts.speed": 150.0},
        "spin_loaded": {"loaded_volts.volts": 10.3, "loaded_volts.amps": 1.6},
        "run_free": {"run_free.amps": 0.5, "run_free.volts": 12.2},
        "first_turn": {"first_turn.volts": 0.08 * 20 * 2 * math.pi},
    }.items():
        likely = expected(filled, guide(key).procedure)
        for reading, value in told.items():
            low, high = likely[reading]
            assert low < value < high, (reading, low, high)
    low, high = expected(filled, guide("first_turn").procedure)["first_turn.volts"]
    assert high < 5 * low  # narrow enough to be of use


def test_a_wrong_name_gets_the_nearest():
    """A misspelt procedure names the one that was probably meant."""
    with pytest.raises(BadRequest, match="spin_open"):
        guide("spin_opn")
