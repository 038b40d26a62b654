"""The bench as a task: readings go into the file beside the rig, come back as constants, and nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from sparewatt import tasks
from sparewatt.errors import BadRequest
from sparewatt.files import demo_text, read_rig
from sparewatt.studies.bench.answers import BenchAnswer

DRILL = (
    ("13.7 V", "620 rpm"),
    ("24.0 V", "1080 rpm"),
    ("19.1 V", "1490 rpm"),
)  # invented; the third in low gear


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A rig folder of its own, no readings yet."""
    (tmp_path / "rig.toml").write_text(demo_text("skerry"), encoding="utf-8")
    return tmp_path


def drilled(place: Path) -> BenchAnswer:
    """The three drill readings written down."""
    for volts, speed in DRILL:
        answer = tasks.bench_add(
            place, "open_volts", {"volts": volts, "speed": speed}, meter="yellow", scale="200 V"
        )
    found = answer.study
    assert isinstance(found, BenchAnswer)
    return found


def test_a_bench_with_no_readings_says_what_to_read_first(place: Path) -> None:
    """Nothing measured: nothing known, and a first reading is named."""
    answer = tasks.bench(place)
    assert answer.answer.startswith("Nothing is measured yet")
    assert answer.results["next_readings"]
    assert not (place / "readings.csv").exists()


def test_an_odd_reading_is_named_and_kept(place: Path) -> None:
    """The reading in low gear does not spoil the constant, is named with its cause, and stays in the file."""
    found = drilled(place)
    k = found.fitted["emf_constant"]
    assert k.value == pytest.approx(13.7 / 64.93, rel=0.02)
    assert [s.cause for s in found.suspects] == ["low_gear"]
    assert "19.1 V" in (place / "readings.csv").read_text(encoding="utf-8")


def test_setting_aside_and_taking_back_leaves_every_line(place: Path) -> None:
    """A reading set aside is marked, not removed, and counts again when taken back."""
    drilled(place)
    before = (place / "readings.csv").read_text(encoding="utf-8").count("\n")
    aside = tasks.bench_write(place, aside={8: "low gear"})
    assert isinstance(aside.study, BenchAnswer) and not aside.study.suspects
    assert (place / "readings.csv").read_text(encoding="utf-8").count("\n") == before
    back = tasks.bench_write(place, back=[8])
    assert isinstance(back.study, BenchAnswer) and back.study.suspects


def test_keeping_writes_the_constant_and_its_spread_into_the_rig(place: Path) -> None:
    """What is known goes into rig.toml as measured, and fitting again gives the same, not twice as sure."""
    found = drilled(place)
    _answer, kept, _left = tasks.bench_keep(place)
    assert "machine.emf_constant" in kept
    machine = read_rig(place).rig.machine
    assert machine is not None and machine.emf_constant is not None
    assert machine.emf_constant.how == "measured"
    assert machine.emf_constant.value == pytest.approx(found.fitted["emf_constant"].value, rel=1e-3)
    again = tasks.bench(place).study
    assert isinstance(again, BenchAnswer)
    assert again.fitted["emf_constant"].sd > 0.7 * found.fitted["emf_constant"].sd


def test_no_effort_is_offered_before_the_questions_and_none_to_the_limit_after_a_yes(place: Path) -> None:
    """Open questions leave only procedures without effort; one yes leaves the gentle ones; the maximal is refused."""
    questions = [q.key for q in tasks.bench_questions().questions]
    offered = {g.procedure.key: no for g, no in tasks.bench_guides(place)}
    assert not offered["spin_open"] and offered["gentle_steps"] and offered["hard_efforts"]
    yes = {key: key == questions[0] for key in questions}
    offered = {g.procedure.key: no for g, no in tasks.bench_guides(place, yes)}
    assert not offered["gentle_steps"] and offered["hard_efforts"]
    with pytest.raises(BadRequest):
        tasks.bench_guide(place, "hard_efforts", yes)


def test_a_label_gives_its_part_back_into_another_rig(place: Path, tmp_path: Path) -> None:
    """The text of a label puts the same machine into another rig file."""
    from sparewatt.present.label_text import to_text
    from sparewatt.present.labels import label_of

    other = tmp_path / "other"
    other.mkdir()
    (other / "rig.toml").write_text(demo_text("cellar"), encoding="utf-8")
    text = to_text(label_of(read_rig(place).rig, "machine", date="2026-11-25"))
    tasks.bench_restore(other, text)
    assert read_rig(other).rig.machine == read_rig(place).rig.machine


def test_sheets_and_labels_are_pdfs(place: Path) -> None:
    """A blank procedure and a sheet of labels come as PDF."""
    assert tasks.bench_blank(place, "spin_open").startswith(b"%PDF")
    assert tasks.bench_labels(place).startswith(b"%PDF")
