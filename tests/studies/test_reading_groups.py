"""Lines of the readings file put together again into readings."""

from __future__ import annotations

from sparewatt.studies.answers_bench import Entry
from sparewatt.studies.reading_groups import taken


def lines(kind: str, at: str, *pairs: tuple[str, float], **more) -> list[Entry]:
    """Lines of one reading."""
    return [Entry(procedure=kind, at=at, what=what, value=value, **more) for what, value in pairs]


def test_lines_with_one_mark_are_one_reading():
    """Volts and speed under one mark belong together; another mark, or another part, is another reading."""
    found = taken(
        [
            *lines("open_volts", "10:00", ("volts", 12.0), ("speed", 150.0)),
            *lines("open_volts", "10:05", ("volts", 6.0), ("speed", 75.0)),
            *lines("board_power", "10:05", ("volts_in", 12.0), part="one"),
            *lines("board_power", "10:05", ("volts_in", 24.0), part="two"),
        ]
    )
    assert [dict(one.values) for one in found] == [
        {"volts": 12.0, "speed": 150.0}, {"volts": 6.0, "speed": 75.0}, {"volts_in": 12.0}, {"volts_in": 24.0},
    ]  # fmt: skip
    assert found[0].missing == ()
    assert found[2].missing == ("amps_in", "volts_out", "amps_out")


def test_repeats_count_by_their_middle():
    """Of three fall times under one mark the middle one counts, and one that is not used does not count at all."""
    times = lines("falling_weight", "a", ("fall_time", 0.9), ("fall_time", 1.4), ("fall_time", 0.95))
    assert taken(times)[0].values["fall_time"] == 0.95
    times += lines("falling_weight", "a", ("fall_time", 9.0), ("fall_time", 9.1), used=False)
    assert taken(times)[0].values["fall_time"] == 0.95
    assert len(taken(times)[0].entries) == 5


def test_what_stays_is_taken_over():
    """The height and the radius given with the first weight hold for the second one too, until given anew."""
    found = taken(
        [
            *lines(
                "falling_weight",
                "a",
                ("height", 1.0),
                ("string_radius", 0.02),
                ("mass", 2.0),
                ("fall_time", 0.9),
            ),
            *lines("falling_weight", "b", ("mass", 4.0), ("fall_time", 0.7)),
            *lines("falling_weight", "c", ("mass", 4.0), ("height", 0.5), ("fall_time", 0.5)),
        ]
    )
    assert [one.values["height"] for one in found] == [1.0, 1.0, 0.5]
    assert [one.values["mass"] for one in found] == [2.0, 4.0, 4.0]
    assert all(one.missing == () for one in found)


def test_a_series_pairs_in_order():
    """The first time goes with the first volts; a moment with a line set aside falls out and the rest stay paired."""
    run = lines("run_down_disc", "a", ("disc_mass", 1.0), ("disc_diameter", 0.2))
    for n in range(4):
        run += lines("run_down_disc", "a", ("time", 0.5 * n), ("volts", 24.0 - n), used=n != 1)
    (one,) = taken(run)
    assert [dict(row) for row in one.rows] == [
        {"time": 0.0, "volts": 24.0}, {"time": 1.0, "volts": 22.0}, {"time": 1.5, "volts": 21.0},
    ]  # fmt: skip
    assert one.values["disc_mass"] == 1.0


def test_a_value_read_once_in_a_series_is_not_a_moment():
    """How long an effort was held stands beside its half minutes, not among them."""
    effort = lines("hard_effort", "a", ("held_for", 180.0))
    for n in range(3):
        effort += lines(
            "hard_effort", "a", ("time", 30.0 * n), ("volts", 24.0), ("amps", 8.0), ("cadence", 7.0)
        )
    (one,) = taken(effort)
    assert len(one.rows) == 3
    assert "held_for" not in one.rows[0]
    assert one.values["held_for"] == 180.0


def test_a_speed_may_be_counted():
    """Turns in a time stand in for the speed; with neither, the speed is missing."""
    counted = taken(lines("open_volts", "a", ("volts", 12.0), ("turns", 24.0), ("turn_time", 5.0)))
    assert counted[0].missing == ()
    assert taken(lines("open_volts", "a", ("volts", 12.0)))[0].missing == ("speed or turns",)
