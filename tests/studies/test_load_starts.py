"""How loads start, played: a tool's run-up against the closed form, first amps, and what is said of them."""

from __future__ import annotations

import dataclasses
import math
import re

import pytest
from tests.scenarios.reading import appliance, loaded, rig, run, state
from tests.studies.guard_rigs import AH, clean_rig, m, with_part

from sparewatt.language.script import script_from_words
from sparewatt.parts import Converter, Load, Ride, Rig
from sparewatt.physics import appliances
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.fill_electric import tool_plate
from sparewatt.rig.motion_layout import Act, Shared
from sparewatt.rig.outcome import Stop
from sparewatt.studies.answers import LoadState
from sparewatt.studies.loads import loads
from sparewatt.studies.scenes.plays import Plays, Step
from sparewatt.studies.scenes.seconds import play_scene
from sparewatt.studies.tools import locked_amps, tool_state


def started(rig_: Rig, name: str) -> LoadState:
    """The start of one load."""
    return state(loads(rig_, only=name).rows[0], "start")


def tool_rig(**board: object) -> Rig:
    """A drill on a board that a strong battery feeds: volts and amps stay what the board holds them at."""
    drill = Load(
        name="drill", kind="universal_motor", plate_voltage=m(230.0), plate_power=m(600.0), winding_resistance=m(12.0),
        trigger="contact", through="tool board",
    )  # fmt: skip
    given = {
        "set_voltage": m(110.0),
        "set_current": m(2.2),
        "input_min": m(8.0),
        "input_current": m(200.0),
    } | board
    tool_board = Converter(name="tool board", kind="boost", at="load", soft_start=m(1e-3), **given)  # type: ignore[arg-type]
    rig_ = clean_rig(load=(drill,), ride=Ride(load="drill", effort=m(80.0), duration=m(AH)))
    rig_ = dataclasses.replace(rig_, converter=(*rig_.converter, tool_board), fuse=())
    return with_part(rig_, "battery", resistance=m(1e-3), capacity=m(400 * AH))


def test_a_tool_runs_up_as_fast_as_the_closed_form_says() -> None:
    """On even volts and an amps limit: J dw/dt = k i^2 - drag, integrated (`appliances.spin_up_time`, source spin_up)."""
    filled = fill(tool_rig())
    drill, board = filled.rig.load[0], filled.rig.converter[-1]
    plate, volts = tool_plate(drill), 110.0
    speed = 0.9 * tool_state(drill, board, 0.0, volts).speed_share * plate.w_rated
    by_hand = appliances.spin_up_time(
        speed, v_bus=volts, i_limit=2.2, inertia=1.3e-7 * 600.0, k_series=plate.k_series, r_motor=plate.r_motor,
        i_sat=plate.i_sat, t_coulomb=plate.t_coulomb, t_fan=plate.t_fan,
    )  # fmt: skip
    plays = Plays(filled, ask_for(filled.rig, draws=0))
    steps = [
        Step(0.0, "let go of it", Act.WORK, 0.0), Step(0.0, "stop pedalling", Act.STOP), Step(1.0, "switch on", Act.ON),
    ]  # fmt: skip
    shown = plays.play(plays.ride(), 0, steps, duration=6.0, on=False, rest=True, every=0.01)
    w = shown.rows(Shared.TOOL_SPEED)
    played = float(shown.times[int((w >= speed).argmax())]) - 1.0
    assert w[-1] >= speed
    assert played == pytest.approx(float(by_hand), rel=0.06)


def test_the_drill_in_the_barn_starts_in_fits_and_the_legs_feel_it() -> None:
    """From legs alone the bus sags: it takes longer than on even volts, the board drops out on the way, the legs slow."""
    start = state(appliance(run("barn_drill"), "corded drill"), "start")
    filled = fill(rig("barn_drill"))
    drill = filled.rig.load[0]
    limit, locked = locked_amps(drill, filled.rig.converter[0], 110.0)
    assert (limit, locked) == (pytest.approx(2.2), pytest.approx(110.0 / 12.0, rel=0.01))
    seconds = float(re.search(r"runs up in about ([0-9.]+) s", start.says).group(1))  # type: ignore[union-attr]
    assert 1.0 < seconds < 4.0
    for words in ("held back to 2.2 A", "display climbs from", "your legs slow from", "it is back in about"):
        assert words in start.says
    assert start.works
    assert 0.5 <= start.chance <= 1.0


def test_the_words_of_a_start_show_it() -> None:
    """Played from its words the tool is up when the answer says so."""
    start = state(appliance(run("barn_drill"), "corded drill"), "start")
    filled = fill(rig("barn_drill"))
    scene = play_scene(filled, script_from_words(filled, start.seconds), runs=0)
    speed = scene.track("tool_speed").values
    seconds = float(re.search(r"about ([0-9.]+) s", start.says).group(1))  # type: ignore[union-attr]
    up = float(scene.times[int((speed >= 0.9 * speed.max()).argmax())]) - 2.0
    assert up == pytest.approx(seconds, abs=0.3)


def test_no_amps_screw_no_soft_start() -> None:
    """With the screw wide open the tool takes more at first than its run-up on 2.2 A."""
    held = started(rig("barn_drill"), "corded drill")
    free = started(rig("barn_drill", (("converter.0.set_current", ""),)), "corded drill")
    assert free.amps > 2 * held.amps


def test_a_tool_held_far_below_its_idle_amps_never_runs_up() -> None:
    """A tenth of an amp does not turn it."""
    start = started(rig("barn_drill", (("converter.0.set_current", "0.1 A"),)), "corded drill")
    assert not start.works
    assert start.stop == Stop.EDGE_BOARD
    assert "never runs up" in start.says


def test_a_cold_filament_takes_its_first_amps() -> None:
    """A lamp straight on the machine: ten times the amps for a moment, and the bus dips."""
    lamp = Load(
        name="lamp", kind="lamp", power=m(40.0), voltage=m(12.0), voltage_max=m(40.0), start_factor=m(10.0)
    )
    rig_ = clean_rig(
        battery=None, fuse=(), converter=(), bus=None, load=(lamp,), ride=Ride(load="lamp", effort=m(90.0), duration=m(AH))
    )  # fmt: skip
    start = started(rig_, "lamp")
    assert start.works
    assert start.amps > 2.5 * 40.0 / 12.0
    assert "the bus dips" in start.says
    warm = started(
        with_part(rig_, "load.0", kind="electronics", start_factor=m(1.0), voltage_min=m(4.0)), "lamp"
    )
    assert warm.amps < start.amps


def test_a_load_too_big_for_the_legs_does_not_stay_on() -> None:
    """A start that fails says what it does to the bus; the load is then no yes."""
    row = loads(rig("camp_laptop", (("load.0.power", "400 W +/- 5 W"),)), only="laptop on the board").rows[0]
    assert not state(row, "start").works
    assert row.verdict == "not by legs"


def test_a_battery_start_says_how_far_it_sags() -> None:
    """Amps times ohms below the rested volts: a lamp of 21 W and ten times its amps on 36 Ah."""
    edits = (("load.0.kind", "lamp"), ("load.0.power", "21 W +/- 1 W"))
    start = state(appliance(run("stilt_house", edits), "lamp"), "start")
    assert start.works
    assert start.amps > 5 * 21 / 12
    assert 10.0 < start.volts < 12.3
    assert "dip to about" in start.says


def test_every_start_can_be_shown() -> None:
    """Its words read as a scene of the rig."""
    for name in ("barn_drill", "camp_laptop", "stilt_house", "garden_pump", "phone_usb"):
        filled = fill(loaded(name).rig)
        for row in run(name).rows:
            for one in row.states:
                if one.state == "start" and one.seconds:
                    assert script_from_words(filled, one.seconds).duration > 0
                    assert math.isfinite(one.amps)
