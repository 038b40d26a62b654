"""Scenes played on the demo rigs and on planted ones: what happens, where the work went, how sure it is."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from sparewatt.errors import BadRequest
from sparewatt.files import demo_text, read_text
from sparewatt.language.script import script_from_words
from sparewatt.parts import Measured
from sparewatt.rig.fill import Filled, fill
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.studies.scenes.seconds import play_scene, scene_named

RPM = 2 * math.pi / 60


def filled(demo: str) -> Filled:
    """A demo rig, filled in."""
    return fill(read_text(demo_text(demo)).rig)


def played(demo: str | Filled, words: str, *, runs: int = 0, **given: object) -> SceneAnswer:
    """A scene told in words, played on a demo rig."""
    rig = filled(demo) if isinstance(demo, str) else demo
    return play_scene(rig, script_from_words(rig, words, **given), runs=runs)  # type: ignore[arg-type]


def keys(answer: SceneAnswer) -> list[str]:
    """What happens, in order, the script's own steps left out."""
    return [h.key for h in answer.happenings if not h.told]


def test_a_pulled_plug_races_the_legs_into_the_clamp() -> None:
    """With the plug out the legs speed up and the clamp holds the volts at its own setting, below every rating."""
    a = played("skerry", "at 5 s pull the plug", load="charge", duration=12.0)
    bus = a.track("bus_volts")
    assert "clamp_starts" in keys(a)
    first = next(h for h in a.happenings if h.key == "clamp_starts")
    assert 5.1 < first.at < 7
    assert np.max(bus.values) == pytest.approx(50, rel=0.02)
    assert not any(p.over for p in a.peaks)
    assert a.track("battery_amps").values[-1] == pytest.approx(0, abs=1e-6)


def test_without_the_clamp_the_same_plug_breaks_the_board() -> None:
    """The same scene with the clamp off passes the board's rating, and says when."""
    a = played(
        "skerry",
        "at 4 s the clamp goes off; at 5 s pull the plug; at 6 s shift to 42/14",
        load="charge",
        duration=14.0,
    )
    assert "over_volts" in keys(a)
    assert any(p.over and p.key == "bus volts" for p in a.peaks)


def test_from_rest_the_rig_gets_stuck_at_its_slower_holding_point() -> None:
    """Coming up from rest with the battery hooked up it stays far below where it holds when it is brought there."""
    a = played("skerry", "from rest", load="charge", duration=20.0, gear="42/18", effort=125.0)
    riding = played("skerry", "riding", load="charge", duration=20.0, gear="42/18", effort=125.0)
    slow, fast = (x.track("cadence").values[-100:].mean() / RPM for x in (a, riding))
    assert slow < 55 < 75 < fast
    assert fast == pytest.approx(a.steady.w_hold / RPM, rel=0.03)


def test_legs_that_stop_leave_the_wheel_running_and_the_diode_blocks() -> None:
    """The freewheel lets go, the volts sink, the diode blocks, and nothing is taken out of the battery by the machine."""
    a = played("cellar", "at 3 s stop pedalling", load="charge", duration=10.0)
    assert a.ends == "stopped"
    assert "diode_blocks" in keys(a)
    assert np.min(a.track("machine_amps").values) >= -1e-9


def test_a_missing_diode_lets_the_battery_drive_the_rig() -> None:
    """With the diode shorted and the legs still, current runs backwards and the machine goes on turning."""
    a = played("cellar", "at 3 s the diode is missing; at 5 s stop pedalling", load="charge", duration=20.0)
    assert a.track("machine_amps").values[-1] < -0.3
    assert a.track("machine_speed").values[-1] > 100
    assert a.track("battery_amps").values[-1] < -0.3


def test_a_diode_the_wrong_way_round_gives_nothing_and_takes() -> None:
    """Reversed, it blocks what the legs make and lets the battery through backwards."""
    a = played(
        "cellar",
        "at 3 s the diode is the wrong way round; at 5 s stop pedalling",
        load="charge",
        duration=20.0,
    )
    after = a.times > 3.2
    assert np.max(a.track("machine_amps").values[after]) <= 1e-9
    assert a.track("machine_amps").values[-1] < -0.3


def test_one_rider_stepping_off_leaves_the_others_with_more() -> None:
    """On a shared bus the amps of those who stay rise when one steps off."""
    rig = filled("schoolyard")
    even = dataclasses.replace(
        rig.rig,
        load=tuple(dataclasses.replace(x, power=Measured(60.0, 0.0, "measured")) for x in rig.rig.load),
        neighbour=tuple(
            dataclasses.replace(
                n,
                lead_resistance=Measured(0.6, 0.0, "measured"),
                converter=dataclasses.replace(n.converter, set_voltage=Measured(27.4, 0.0, "measured")),
            )
            for n in rig.rig.neighbour
            if n.converter is not None
        ),
    )
    even = dataclasses.replace(
        even, bus=dataclasses.replace(even.bus, lead_resistance=Measured(0.6, 0.0, "measured"))
    )
    a = played(fill(even), "with the pump on; at 6 s rider 4 steps off", duration=16.0, cadence=75 * RPM)
    first = a.track("output_amps").values
    before, after = first[(a.times > 3) & (a.times < 6)].mean(), first[a.times > 11].mean()
    assert after == pytest.approx(before * 4 / 3, rel=0.12)
    assert a.track("output_amps 4").values[-1] == pytest.approx(0, abs=0.05)


def test_the_ledger_closes_and_the_bands_hold_the_nominal_run() -> None:
    """Energy closes within 0.1 %; most of the nominal run lies inside its own 90 % band."""
    a = played(
        "skerry", "at 4 s pull the plug; at 6 s plug it back in", runs=24, load="charge", duration=15.0
    )
    assert a.closes < 1e-3
    assert a.runs == 24
    t = a.track("cadence")
    assert t.low is not None and t.high is not None
    mid = np.interp(a.spread_times, a.times, t.values)
    inside = (mid >= t.low * 0.97) & (mid <= t.high * 1.03)
    assert inside.mean() > 0.8
    assert all(0 <= c.share <= 1 for c in a.chances)


def test_an_hour_warms_the_winding_and_fills_the_battery() -> None:
    """Over an hour the winding warms towards what the thermal model settles at, and charge goes in as amps times time."""
    a = played("skerry", "riding", load="charge", duration=3600.0)
    charge, amps = a.track("charge").values, a.track("battery_amps").values
    put_in = np.trapezoid(amps, a.times)
    capacity = 75 * 3600 * 0.8
    assert (charge[-1] - charge[0]) * capacity == pytest.approx(0.95 * put_in, rel=0.02)
    winding = a.track("winding").values
    assert winding[0] == pytest.approx(284.15, abs=0.5) and winding[-1] > winding[0] + 5
    assert a.closes < 1e-3


def test_a_load_that_must_not_be_on_dc_is_not_played() -> None:
    """A refused load is refused here too, with the reason."""
    rig = filled("skerry")
    kettle = dataclasses.replace(rig.rig.load[0], kind="induction_motor", name="old fridge")
    bad = fill(dataclasses.replace(rig.rig, load=(*rig.rig.load, kettle)))
    with pytest.raises(BadRequest, match="not played"):
        played(bad, "at 2 s switch the old fridge on", load="old fridge")


def test_an_unknown_scene_names_those_there_are() -> None:
    """A scene that is not in the file is said so, with what there is."""
    with pytest.raises(BadRequest, match="no scene called 'flight'"):
        scene_named(filled("cellar"), "flight")


@pytest.mark.parametrize(("demo", "load"), [("skerry", "chart lamp"), ("cellar", "charge")])
@pytest.mark.parametrize("days", [1, 30])
def test_a_scene_of_days_runs_to_its_end(demo: str, load: str, days: int) -> None:
    """A day and a month of riding end in an answer whose energy closes, whatever the rig does meanwhile."""
    a = played(demo, "riding", load=load, duration=days * 86400.0, switched_on=True)
    assert np.isfinite(a.track("cadence").values).all()
    assert a.closes < 1e-3


def test_work_of_several_riders_is_said_of_all_of_them() -> None:
    """Four frames on one bus: the first line of the ledger is the work of all legs; of one rider, of the legs."""
    names = [played(demo, "riding", load=load, duration=1.0).ledger[0].name for demo, load in
             (("schoolyard", "garden pump"), ("skerry", "charge"))]  # fmt: skip
    assert names == ["work of all legs together", "work of the legs"]
