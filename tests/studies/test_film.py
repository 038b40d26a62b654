"""Speed from a film: spread from the frame time, the speeds that look alike, and the second film that tells them apart."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from tests.studies.recordings import RPM

from sparewatt.errors import BadRequest
from sparewatt.physics.bench import apparent_speed, pass_speed_spread
from sparewatt.studies.phone.film import Passes, passes_of, speed_from_film, speed_from_two_films


def filmed(rpm: float, rate: float, *, seconds: float = 4.0) -> Passes:
    """A flag at a steady speed as a film shows it: the whole frames at which it seems to come round."""
    seen = abs(float(apparent_speed(rpm * RPM, frame_rate=rate))) / (2 * math.pi)
    frames = np.round(np.arange(0.0, seconds * seen) / seen * rate)
    return passes_of(np.unique(frames), frame_rate=rate)


def middle(speed: np.ndarray) -> float:
    """The middle speed in turns a minute."""
    return float(np.median(speed)) / RPM


def test_a_fast_camera_leaves_one_speed() -> None:
    """450 turns a minute at 240 frames a second: nothing else below 6000 looks like it, right within its spread."""
    run = speed_from_film(filmed(450.0, 240.0))
    assert run.clear
    assert run.other == ()
    assert middle(run.speed) == pytest.approx(450, rel=3e-3)
    assert np.all(np.abs(run.speed / RPM - 450) < 4 * run.sd / RPM)


def test_the_spread_is_that_of_the_frame_time() -> None:
    """A few passes on whole frames: the spread is the one of a line through timings known to a frame."""
    passes = passes_of([0, 37, 73, 110, 147], frame_rate=120.0)
    run = speed_from_film(passes, high=2000 * RPM)
    timing = 1 / (120 * math.sqrt(12))
    wanted = pass_speed_spread(run.speed[0], timing_sd=timing, duration=147 / 120, n_passes=5.0)
    assert run.sd[0] == pytest.approx(float(wanted), rel=0.5)
    assert run.speed[0] / RPM == pytest.approx(60 * 4 / (147 / 120), rel=5e-3)


def test_a_slow_camera_leaves_several() -> None:
    """1620 turns a minute at 30 frames a second looks like 180: it says 180, and 1620, 1980, 3420 as good."""
    run = speed_from_film(filmed(1620.0, 30.0), high=4000 * RPM)
    assert not run.clear
    looks = sorted(middle(run.speed) * np.array([1.0, *run.other]))
    np.testing.assert_allclose(looks, [180, 1620, 1980, 3420, 3780], rtol=0.01)
    assert any("another frame rate" in x.text for x in run.caveats)


def test_the_way_it_seems_to_turn_halves_the_choice() -> None:
    """Known to seem backwards: only the speeds just short of a frame are left."""
    film = filmed(1620.0, 30.0)
    backwards = passes_of(film.time * 30.0, frame_rate=30.0, seems="backwards")
    run = speed_from_film(backwards, high=4000 * RPM)
    looks = middle(run.speed) * np.array([1.0, *run.other])
    np.testing.assert_allclose(looks, [1620, 3420], rtol=0.01)


@pytest.mark.parametrize("rpm", [150.0, 1240.0, 2300.0])
def test_a_second_frame_rate_settles_it(rpm: float) -> None:
    """The same speed at 30 and at 24 frames a second: one speed fits both films below 3000."""
    one, two = speed_from_two_films(filmed(rpm, 30.0), filmed(rpm, 24.0), high=3000 * RPM)
    assert one.clear
    assert two.clear
    assert middle(one.speed) == pytest.approx(rpm, rel=0.01)
    assert middle(two.speed) == pytest.approx(rpm, rel=0.01)


def test_two_frame_rates_that_do_not_settle_it() -> None:
    """150 turns a minute at 30 and 25 frames a second: 1650 looks like it on both, and it is said."""
    one, _ = speed_from_two_films(filmed(150.0, 30.0), filmed(150.0, 25.0), high=3000 * RPM)
    assert not one.clear
    assert middle(one.speed) * np.array([1.0, *one.other]) == pytest.approx([150, 1650], rel=0.01)


def test_a_second_speed_settles_it() -> None:
    """Two drill speeds filmed at 30 frames a second, 8.9 and 15.6 V on the open machine: 620 and 1087 turns a minute."""
    second = 620 * 15.6 / 8.9
    one, two = speed_from_two_films(
        filmed(620.0, 30.0), filmed(second, 30.0), ratio=15.6 / 8.9, ratio_sd=0.005, high=3000 * RPM
    )
    assert middle(one.speed) * np.array([1.0, *one.other]) == pytest.approx([620], rel=0.01)
    assert middle(two.speed) == pytest.approx(second, rel=0.01)


def test_films_that_do_not_go_together() -> None:
    """Two films of speeds that share nothing are refused rather than averaged."""
    with pytest.raises(BadRequest, match="no speed fits both"):
        speed_from_two_films(filmed(300.0, 240.0), filmed(520.0, 240.0))
    with pytest.raises(BadRequest, match="above zero"):
        speed_from_two_films(filmed(300.0, 240.0), filmed(300.0, 120.0), ratio=0.0)


def test_seconds_by_a_clock_have_no_wraps() -> None:
    """Every tenth turn called out by stopwatch: one speed, with the spread of a hand."""
    run = speed_from_film(passes_of([0.0, 9.9, 20.1, 30.0], in_frames=False, turns_each=10.0))
    assert run.clear
    assert middle(run.speed) == pytest.approx(60.0, rel=0.01)
    assert run.sd[0] / run.speed[0] == pytest.approx(0.15 / 30 * math.sqrt(12 * 3 / 20), rel=0.3)


def test_a_missed_pass_is_seen_and_said() -> None:
    """A gap twice its neighbours' counts as two, and it is said."""
    frames = [0, 40, 80, 160, 200, 240, 280]
    passes = passes_of(frames, frame_rate=240.0)
    assert passes.filled == 1
    run = speed_from_film(passes)
    assert middle(run.speed) == pytest.approx(360, rel=1e-3)
    assert any("not noted" in x.text for x in run.caveats)


@pytest.mark.parametrize(
    ("readings", "how", "says"),
    [
        ([5.0], {"frame_rate": 30.0}, "two numbers"),
        ([5.0, 5.0, 9.0], {"frame_rate": 30.0}, "after the one before"),
        ([5.0, 8.0], {}, "above zero"),
        ([5.0, 8.0], {"frame_rate": 30.0, "marks": 0}, "above zero"),
        ([5.0, 8.0], {"frame_rate": 30.0, "seems": "sideways"}, "not a way"),
    ],
)
def test_what_cannot_be_read(readings: list[float], how: dict[str, object], says: str) -> None:
    """A wrong list is answered with what would do."""
    with pytest.raises(BadRequest, match=says):
        passes_of(readings, **how)  # type: ignore[arg-type]


def test_nothing_between_the_speeds_looked_for() -> None:
    """A range that holds no reading of the film is refused."""
    with pytest.raises(BadRequest, match="no speed that looks like this"):
        speed_from_film(filmed(450.0, 240.0), low=600 * RPM, high=700 * RPM)


@given(rpm=st.floats(40.0, 5500.0), rate=st.sampled_from([30.0, 60.0, 120.0, 240.0]))
def test_the_truth_is_always_among_the_readings(rpm: float, rate: float) -> None:
    """Whatever the speed and the camera, one of the readings is the true speed; a clear run is the true speed."""
    seen = abs(float(apparent_speed(rpm * RPM, frame_rate=rate))) / (2 * math.pi)
    assume(0.5 < seen < rate / 4)  # slower or faster than that nobody could note passes
    run = speed_from_film(filmed(rpm, rate, seconds=12.0))
    looks = middle(run.speed) * np.array([1.0, *run.other])
    off = np.min(np.abs(looks - rpm))
    assert off < max(0.01 * rpm, 0.02 * 60 * seen)
    if run.clear:
        assert looks.size == 1
