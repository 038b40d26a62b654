"""Lines of the readings file made ready: what stays is taken over, what lost its partner steps aside."""

from __future__ import annotations

from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.reading_groups import settled


def lines(kind: str, at: str, *pairs: tuple[str, float], **more) -> list[Entry]:
    """Lines of one reading."""
    return [Entry(procedure=kind, at=at, what=what, value=value, **more) for what, value in pairs]


def values(entries, at: str) -> dict[str, float]:
    """What the reading of one mark holds and uses."""
    return {entry.what: entry.value for entry in entries if entry.at == at and entry.used}


def test_what_stays_is_taken_over():
    """The height and the radius given with the first weight hold for the later ones too, until given anew."""
    ready = settled(
        [
            *lines(
                "falling_weight",
                "a",
                ("height", 1.0),
                ("string_radius", 0.02),
                ("mass", 2.0),
                ("fall_time", 0.9),
            ),
            *lines("falling_weight", "b", ("fall_time", 0.92)),
            *lines("falling_weight", "c", ("mass", 4.0), ("height", 0.5), ("fall_time", 0.5)),
            *lines("falling_weight", "d", ("fall_time", 0.51)),
        ]
    )
    assert values(ready, "b") == {"height": 1.0, "string_radius": 0.02, "mass": 2.0, "fall_time": 0.92}
    assert values(ready, "c") == {"height": 0.5, "string_radius": 0.02, "mass": 4.0, "fall_time": 0.5}
    assert values(ready, "d") == {"height": 0.5, "string_radius": 0.02, "mass": 4.0, "fall_time": 0.51}


def test_nothing_stays_across_parts_or_kinds_or_when_set_aside():
    """Another board's volts, another kind's mass, and a height that was set aside are not taken over."""
    ready = settled(
        [
            *lines("board_set", "a", ("volts_out", 14.0), part="one"),
            *lines("board_set", "b", ("amps_out", 5.0), part="two"),
            *lines("rope_brake", "c", ("radius", 0.3)),
            *lines("falling_weight", "d", ("height", 9.0), used=False),
            *lines("falling_weight", "e", ("fall_time", 0.5)),
        ]
    )
    assert values(ready, "b") == {"amps_out": 5.0}
    assert values(ready, "e") == {"fall_time": 0.5}


def test_a_moment_goes_as_a_whole():
    """When one volts of a run-down is set aside its time goes too, and the others stay paired; the disc stays."""
    run = lines("run_down_disc", "a", ("disc_mass", 1.0), ("disc_diameter", 0.2))
    for n in range(4):
        run += lines("run_down_disc", "a", ("time", 0.5 * n))
        run += lines("run_down_disc", "a", ("volts", 24.0 - n), used=n != 1)
    ready = settled(run)
    for what, wanted in (("time", [0.0, 1.0, 1.5]), ("volts", [24.0, 22.0, 21.0]), ("disc_mass", [1.0])):
        assert [entry.value for entry in ready if entry.what == what and entry.used] == wanted
    assert len(ready) == len(run)


def test_a_value_read_once_in_a_series_is_not_a_moment():
    """How long an effort was held stands beside its half minutes and is not set aside with one of them."""
    effort = lines("hard_effort", "a", ("held_for", 180.0))
    for n in range(3):
        effort += lines("hard_effort", "a", ("time", 30.0 * n), ("volts", 24.0), used=n > 0)
    assert values(settled(effort), "a")["held_for"] == 180.0


def test_all_else_passes_as_it_is():
    """Kinds that are not known, lines without a mark, and whole readings are left alone, in their order."""
    same = [
        *lines("nonsense", "a", ("x", 1.0)),
        *lines("open_volts", "b", ("volts", 12.0), ("speed", 150.0), used=False),
        *lines("falling_weight", "", ("fall_time", 1.0)),
    ]
    assert settled(same) == tuple(same)
