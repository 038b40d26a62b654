"""Hazards judged on rig files: a cast plate on the motor's own shaft, and thin wire between diode and battery."""

from __future__ import annotations

from tests.scenarios.reading import asked, rig

from sparewatt.studies.guard.findings import guard


def test_a_cast_plate_on_the_motor_shaft_is_stopped() -> None:
    """12 kg and 0.45 m at about 1450 turns: the rim passes 25 m/s of unknown casting; on the slow shaft it is not a stop."""
    found = guard(rig("garage_plate")).findings
    assert any(f.check == "stop" and "rim" in f.says for f in found)
    slow = guard(rig("garage_plate", (("flywheel.0.after_stage", "1"),))).findings
    assert not any(f.check == "stop" and "rim" in f.says for f in slow)


def test_wire_between_diode_and_battery_counts_without_a_board() -> None:
    """Thin wire on the run to the battery takes watts whether or not a board sits in between."""
    bare = asked("stilt_house")
    thin = asked("stilt_house", (("wire+", 'run = "board"\nlength = "10 m"\nsize = "0.75 mm2"'),))
    assert thin.delivered.mid < bare.delivered.mid - 3
