"""The fault-finder as a task: typed moments, readings of the bench, everything published, and what would help most."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from sparewatt import tasks
from sparewatt.errors import BadRequest
from sparewatt.files import demo_text, read_rig, read_text, tried
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import Improvement
from sparewatt.studies.mend.answers import CauseMore
from sparewatt.tasks import Answer
from sparewatt.tasks.keys_mend import Ranked
from sparewatt.tasks.mending import mend_right

WATCH = "cadence 62, 26.5 V, 3 A, as usual"


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A rig folder of its own, no readings yet."""
    (tmp_path / "rig.toml").write_text(demo_text("skerry"), encoding="utf-8")
    return tmp_path


def ranked(answer: Answer) -> Ranked:
    """The study of an answer."""
    assert isinstance(answer.study, Ranked)
    return answer.study


def improvements(answer: Answer) -> tuple[Improvement, ...]:
    """What would help most."""
    return ranked(answer).found.answer.improvements


def test_the_published_object_is_whole(place: Path) -> None:
    """Shares make one, every cause has its check with both outcomes and what it gives for each reading, strict JSON."""
    answer = tasks.mend(place, moments=[WATCH, "55 rpm, 18 V, 0.7 A, easy"], better=False)
    body: Any = json.loads(json.dumps(answer.as_dict(), allow_nan=False))
    assert (body["ok"], body["section"]) == (True, "mend")
    results = body["results"]
    assert math.isclose(sum(c["likelihood_share"] for c in results["causes"]), 1.0)
    assert results["causes"] == sorted(results["causes"], key=lambda c: -c["likelihood_share"])
    first = results["causes"][0]
    assert first["check"]["do"]
    assert first["check"]["separates"] == results["causes"][1]["key"]
    assert {g["moment"] for g in first["gives"]} == {"moment 1", "moment 2"}
    assert all(g["gives_p05"] <= g["gives"] <= g["gives_p95"] for g in first["gives"])
    assert [m["name"] for m in results["moments"]] == ["moment 1", "moment 2"]
    assert results["improvements"] == []


def test_readings_of_now_and_before_are_named(place: Path) -> None:
    """One of each is called by when it was."""
    found = ranked(tasks.mend(place, moments=["60 rpm, 20 V, 1 A"], well=[WATCH], better=False)).found
    assert [m.at for m in found.moments] == ["when well", "now"]
    assert [m.fine for m in found.moments] == [True, False]


def test_nothing_typed_still_says_what_would_help(place: Path) -> None:
    """No verdict, no cause, but the improvements, best first by coin and work, each with its edit."""
    answer = tasks.mend(place)
    assert answer.verdict is None
    assert "Type what you read" in answer.answer
    assert answer.results["causes"] == []
    assert answer.results["well_share"] is None
    rows = improvements(answer)
    assert rows
    for row in rows:
        assert row.watts.mid > 0
        assert tried(read_rig(place), row.edits).rig != read_rig(place).rig
    json.dumps(answer.as_dict(), allow_nan=False)


def test_only_readings_from_when_all_was_well_are_refused(place: Path) -> None:
    """Then nothing says what it does now."""
    with pytest.raises(BadRequest, match="when all was well"):
        tasks.mend(place, well=[WATCH])


def test_readings_kept_on_the_bench_count(place: Path) -> None:
    """Rides of readings.csv are moments; those up to a date are from when all was well; without any it is refused."""
    with pytest.raises(BadRequest, match="no line of the readings file"):
        tasks.mend(place, readings=True)
    for at, volts, amps in (("2026-03-01T10:00", "26.5 V", "3.0 A"), ("2026-05-01T10:00", "20.1 V", "0.9 A")):
        tasks.bench_add(place, "riding", {"cadence": "62 rpm", "volts": volts, "amps": amps}, at=at)
    assert len(tasks.mend_moments(place)) == 2
    found = ranked(tasks.mend(place, readings=True, well_until="2026-04-01", better=False)).found
    assert [m.fine for m in found.moments] == [True, False]
    assert len(ranked(tasks.mend(place, moments=[WATCH], readings=True, better=False)).found.moments) == 3


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"load": "gost"}, "there is no load"),
        ({"gear": "9/9"}, "there is no gear"),
        ({"rider": "nobody"}, "there is no rider"),
        ({"effort": "-5 W"}, "below zero"),
        ({"moments": ["cadence sixty"]}, "wants a number"),
    ],
)
def test_bad_words_are_refused_with_what_would_be_taken(
    place: Path, asked: dict[str, Any], says: str
) -> None:
    """As everywhere."""
    with pytest.raises(BadRequest) as caught:
        tasks.mend(place, **({"moments": [WATCH]} | asked))
    assert any(says in p.problem and p.hint for p in caught.value.problems)


def test_teeth_written_the_wrong_way_round_come_with_both_edits() -> None:
    """Swapped, both numbers are put right together, and the rig is then well."""
    loaded = read_text(demo_text("cellar"))
    stages = [
        (k, s) for k, s in enumerate(loaded.rig.stage) if len(s.driver_teeth) == len(s.driven_teeth) == 1
    ]
    k, stage = stages[0]
    (front,), (back,) = stage.driver_teeth, stage.driven_teeth
    place = f"stage.{k}"
    wrong = tried(loaded, [(f"{place}.driver_teeth", f"[{back}]"), (f"{place}.driven_teeth", f"[{front}]")])
    more = CauseMore(
        key="wrong_number", prior=0.1, support=1.0, foretold=(), size=Band(1.0, 1.0, 1.0), number=f"{place}.driven_teeth",
        value=float(back), value_unit="1",
    )  # fmt: skip
    assert tried(wrong, mend_right(wrong, more)).rig == loaded.rig
