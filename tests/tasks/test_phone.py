"""The phone as an instrument, as a user asks it: sounds and films in, speeds and run-downs out, written down in one step."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from tests.studies.recordings import RPM, clock, run_down, ticking, wav

from sparewatt import tasks
from sparewatt.errors import BadRequest
from sparewatt.files import demo_text, read_readings
from sparewatt.studies.bench.answers import BenchAnswer
from sparewatt.studies.phone.phoned import Phoned

RATE = 16000


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A rig folder of its own, no readings yet."""
    (tmp_path / "rig.toml").write_text(demo_text("skerry"), encoding="utf-8")
    return tmp_path


def told(answer: tasks.Answer) -> Phoned:
    """The study behind an answer."""
    assert isinstance(answer.study, Phoned)
    return answer.study


def ticks(rpm: float) -> bytes:
    """Six seconds of one flag at a steady speed."""
    t = clock(6, RATE)
    return wav(ticking(rpm * RPM * t, t, RATE, seed=7), RATE)


def frames(rpm: float, rate: float, turns: int = 8) -> str:
    """The frames at which a flag passes."""
    return " ".join(str(round(n * 60 / rpm * rate)) for n in range(turns))


def test_a_sound_gives_the_speed_and_goes_into_the_readings(place: Path) -> None:
    """620 turns a minute by construction: heard within half a percent, kept with the volts, counted in the fit."""
    answer = tasks.phone(place, sound=ticks(620), name="drill.wav")
    found = told(answer)
    assert found.clear and answer.verdict is None
    assert found.speed.mid == pytest.approx(620 * RPM, rel=0.005)
    assert found.speed.low < 620 * RPM < found.speed.high
    bench = tasks.phone_keep(
        place, found, "open_volts", {"volts": "13.7 V"}, meter="yellow", who="Runa"
    ).study
    assert isinstance(bench, BenchAnswer)
    assert bench.fitted["emf_constant"].value == pytest.approx(13.7 / (620 * RPM), rel=0.03)
    volts, speed = (row.entry for row in read_readings(place).rows)
    assert (volts.value, volts.meter, volts.who) == (13.7, "yellow", "Runa")
    assert speed.meter == "sound" and speed.sd < 0.01 * speed.value


def test_a_run_down_by_ear_gives_drag_over_inertia(place: Path) -> None:
    """T0/J = 5, b/J = 0.05 by construction: both within 5 %; sixteen moments or fewer are kept, and they fit."""
    t = clock(14, RATE)
    angle, _ = run_down(t, 900 * RPM, 5.0, 0.05)
    found = told(tasks.phone(place, sound=wav(ticking(angle, t, RATE, seed=4), RATE), falls=True))
    assert found.coast is not None
    assert found.coast.decel(60.0)[0] == pytest.approx(5 + 0.05 * 60, rel=0.05)
    bench = tasks.phone_keep(place, found, "run_down").study
    assert isinstance(bench, BenchAnswer)
    down = [row for row in bench.fitted.rows if row.procedure == "run_down"]
    assert 8 <= len(down) <= 16 and not bench.suspects
    seen = {c.name: c.value for c in bench.fitted.constants}
    pull = (seen["friction"] + seen["friction_slope"] * 60.0) / seen["inertia"]
    assert pull == pytest.approx(8.0, rel=0.06)


def test_an_octave_is_said_and_not_written_down(place: Path) -> None:
    """Two equal flags, told as one: half the speed fits as well; nothing is written until a count settles it."""
    t = clock(6, RATE)
    sound = wav(ticking(500 * RPM * t, t, RATE, marks=2, seed=5), RATE)
    answer = tasks.phone(place, sound=sound, flags=2)
    if not told(answer).clear:
        with pytest.raises(BadRequest, match="not settled"):
            tasks.phone_keep(place, told(answer), "open_volts", {"volts": "11 V"})
        answer = tasks.phone(place, sound=sound, flags=2, counted="500 rpm")
    assert told(answer).clear
    assert told(answer).speed.mid == pytest.approx(500 * RPM, rel=0.01)
    assert not (place / "readings.csv").exists()


def test_a_slow_film_says_which_speeds_look_alike(place: Path) -> None:
    """1,955 turns a minute at 30 frames a second looks like 155: said, not kept; a range or a second film settles it."""
    slow = frames(155.0, 30)
    answer = tasks.phone(place, film=slow, rate="30")
    assert answer.verdict == "look again" and "1955" in answer.answer
    with pytest.raises(BadRequest, match="not settled"):
        tasks.phone_keep(place, told(answer), "open_volts", {"volts": "43 V"})
    ranged = told(tasks.phone(place, film=slow, rate="30", between="1900 to 2000 rpm"))
    assert ranged.clear and ranged.speed.mid == pytest.approx(1955 * RPM, rel=0.01)
    again = frames(1955.0, 240)
    two = told(tasks.phone(place, film=slow, rate="30", again=again, again_rate="240"))
    assert two.clear and two.speed.mid == pytest.approx(1955 * RPM, rel=0.015)


@pytest.mark.parametrize(
    "text", ["0:10.0 0:11.0 0:12.0 0:13.0 0:14.0", "10 11 12 13 14", "10,0\n11,0\n12,0\n13,0\n14,0"]
)
def test_passes_by_a_clock(place: Path, text: str) -> None:
    """One turn a second by a stopwatch: 60 a minute, as wide as a hand on a watch."""
    found = told(tasks.phone(place, film=text))
    assert found.how == "clock" and found.speed.mid == pytest.approx(60 * RPM, rel=0.02)
    assert found.speed_sd > 0.01 * found.speed.mid


def test_typed_volts_are_a_run_down(place: Path) -> None:
    """Volts each half second off a filmed meter, written with comma or point: the drag is that of their slope."""
    k, a = 0.211, 6.0
    rows = [f"{0.5 * n:.1f}; {k * (60 - a * 0.5 * n):.2f}".replace(".", ",") for n in range(14)]
    found = told(tasks.phone(place, volts="\n".join(rows)))
    assert found.coast is not None and found.coast.decel(30.0)[0] == pytest.approx(a, rel=0.05)
    bench = tasks.phone_keep(place, found, "run_down", scale="20 V").study
    assert isinstance(bench, BenchAnswer) and len(bench.fitted.rows) == 14


def test_a_long_list_is_one_series_or_one_reading_a_line(place: Path) -> None:
    """A run-down pasted is one reading with its moments in order; spins pasted are one reading each."""
    tasks.bench_list(place, "run_down", "time volts\n0 12.0\n0.5 10.9\n1 9.8\n1.5 8.8\n2 7.8")
    rows = [row.entry for row in read_readings(place).rows]
    assert len({e.at for e in rows}) == 1 and [e.value for e in rows[:4]] == [0, 12, 0.5, 10.9]
    tasks.bench_list(
        place, "open_volts", "8.9 620\n15.6 V 1080 rpm\n# a note\n22.1; 1,500".replace("1,500", "1500")
    )
    spins = [row.entry for row in read_readings(place).rows if row.entry.procedure == "open_volts"]
    assert len({e.at for e in spins}) == 3
    assert [e.value for e in spins if e.what == "speed"] == pytest.approx([620 * RPM, 1080 * RPM, 1500 * RPM])


@pytest.mark.parametrize(
    ("kind", "text", "says"),
    [
        ("run_down", "0 12\n0.5", "line 2 has 1"),
        ("run_down", "0 twelve", "line 1"),
        ("run_down", "time wolts\n0 12", "names a column"),
        ("run_town", "0 12", "no kind of reading"),
        ("run_down", "", "empty"),
    ],
)
def test_a_list_that_cannot_be_read_writes_nothing(place: Path, kind: str, text: str, says: str) -> None:
    """Every fault with its line, and no file."""
    with pytest.raises(BadRequest, match=says):
        tasks.bench_list(place, kind, text)
    assert not (place / "readings.csv").exists()


def test_what_does_not_belong_together_is_refused(place: Path) -> None:
    """A steady speed is no run-down, and two things are not looked at at once."""
    found = told(tasks.phone(place, film="0 12 24 36 48 60", rate="120"))
    with pytest.raises(BadRequest, match="does not belong"):
        tasks.phone_keep(place, found, "run_down")
    with pytest.raises(BadRequest, match="at a time"):
        tasks.phone(place, film="0 12", volts="0 12")
    with pytest.raises(BadRequest):
        tasks.phone(place, film="0 12 twelve", rate="120")
    with pytest.raises(BadRequest, match="frames a second"):
        tasks.phone(place, film="0 12 24", rate="many")
    with pytest.raises(BadRequest):
        tasks.phone(place, sound=b"ID3 no wave")


def test_a_dummy_load_from_the_drawer(place: Path) -> None:
    """Two 21 W bulbs at 12 V are 42 W; cold 8 to 12 times their amps; stand and guard stand in the first sentence."""
    answer = tasks.dummy(place, "45 W at 12 V", "8 x 12 V 21 W bulb")
    best = answer.results["loads"][0]  # type: ignore[index]
    assert best["power_W"] == pytest.approx(42, rel=0.01)
    assert 8 <= best["first_A"] / best["current_A"] <= 12.5
    assert "guard" in answer.answer and "tile" in answer.answer
    both = tasks.dummy(place, "42 W at 24 V", "8 x 12 V 21 W bulb").results["loads"][0]  # type: ignore[index]
    assert both["series"] == 2 and both["power_W"] == pytest.approx(42, rel=0.01)


def test_a_bare_element_never_comes_without_its_cage(place: Path) -> None:
    """Heater wire and open elements: cage and stand are told with each way, and the live wire in the cautions."""
    answer = tasks.dummy(place, "60 W at 24 V", "5 m of 0.5 mm nickel-chromium wire; 2 x 230 V 1000 W heater")
    for way in answer.results["loads"]:  # type: ignore[attr-defined]
        assert "cage" in way["guard"] and way["stands"]
        assert any("live" in text for text in way["cautions"])
    assert "cage" in answer.answer


@pytest.mark.parametrize(
    ("wanted", "drawer", "says"),
    [
        ("50 W", "", "watts at some volts"),
        ("50 W at 12 V", "a bulb", "volts and its watts"),
        ("50 W at 12 V", "12 V 21 W thing", "does not say"),
        ("50 W at 12 V", "3 m wire", "a wire needs"),
        ("900 W at 12 V", "1 x 12 V 5 W bulb", "comes near"),
    ],
)
def test_a_drawer_that_will_not_do_says_why(place: Path, wanted: str, drawer: str, says: str) -> None:
    """What is lacking, and what would do."""
    with pytest.raises(BadRequest, match=says):
        tasks.dummy(place, wanted, drawer)


def test_moments_keep_the_curve() -> None:
    """Hundreds of speeds of a run-down become sixteen that lie on the same curve within a thousandth."""
    from sparewatt.studies.bench.answers import SpeedRun
    from sparewatt.studies.phone.phoned import moments_of

    t = np.linspace(0, 10, 400)
    _, w = run_down(t, 150.0, 5.0, 0.05)
    run = SpeedRun(time=t, speed=w, sd=np.full(t.size, 0.2), origin="sound", clear=True, says="")
    for at, speed, sd in moments_of(run):
        assert speed == pytest.approx(float(np.interp(at, t, w)), rel=2e-3)
        assert math.isfinite(sd) and sd > 0


def test_the_picture_of_a_run_down_goes_through_its_moments(place: Path) -> None:
    """By ear and by typed volts: no moment lies more than a few usual errors off the line."""
    from sparewatt.studies.phone.phoned import picture_of

    t = clock(12, RATE)
    angle, _ = run_down(t, 900 * RPM, 5.0, 0.05)
    heard = told(tasks.phone(place, sound=wav(ticking(angle, t, RATE, seed=4), RATE), falls=True))
    typed = told(tasks.phone(place, volts="\n".join(f"{0.5 * n} {12 - 0.9 * n:.1f}" for n in range(11))))
    for found in (heard, typed):
        picture = picture_of(found)
        assert picture is not None
        assert max(abs(point.residual) for point in picture.points) < 4
        assert (picture.low <= picture.y).all() and (picture.y <= picture.high).all()
