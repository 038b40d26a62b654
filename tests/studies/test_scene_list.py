"""One scene for each thing that must come out right, told in words, held against a formula of one line or a textbook's.

The formulas are written out here and share nothing with the package. Sources are named at each test: "hand" is arithmetic
on the rig's own numbers, "from memory" a relation of any textbook.
"""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from tests.studies.scene_list_rigs import (
    BRUSH,
    IDEAL,
    J_LEGS,
    J_ROTOR,
    LAMP,
    LAMP_OHMS,
    RPM,
    W_TOP,
    J,
    K,
    N,
    R,
    a_board,
    bare,
    boxed,
    first,
    geared,
    keys,
    last,
    machine,
    play,
    push,
    stored,
    told,
)

from sparewatt.parts import Bus, Clamp, Flywheel, Load
from sparewatt.rig.fill import exact
from sparewatt.rig.fill_electric import tool_plate

GEARS = {"48/24": 16.0, "48/16": 24.0, "48/12": 32.0}


# ---- setting off, switching on ---------------------------------------------------------------------------------------


def test_from_rest_without_a_load_the_legs_run_up_as_an_exponential() -> None:
    """A push that falls in a straight line with speed, on a flywheel: 1 - exp(-t/tau), tau = J*w_top/T. From memory."""
    a = play(bare(), "from rest, at an effort worth 40 W, with the wire lamp off, for 8 s")
    late, tau = a.times > 0.5, J * W_TOP / push(40)
    assert a.track("cadence").values[late] == pytest.approx(
        W_TOP * (1 - np.exp(-a.times[late] / tau)), rel=0.01
    )
    assert last(a, "bus_volts") == pytest.approx(K * N * W_TOP - BRUSH, rel=0.01)
    assert "moves_again" in keys(a)
    assert a.ends == "free"


def test_a_lamp_switched_on_takes_its_amps_at_once_and_settles_where_push_meets_pull() -> None:
    """Ohm's law at the moment of switching; then T*(1 - w/w_top) = N*K*i. Hand."""
    a = play(
        bare(),
        "riding along, at an effort worth 60 W, with the wire lamp off; at 5 s switch the wire lamp on; for 20 s",
    )
    ohms = R + LAMP_OHMS
    open_volts = float(np.interp(4.99, a.times, a.track("bus_volts").values))
    assert open_volts == pytest.approx(K * N * 65 * RPM - BRUSH, rel=0.05)
    at_first = open_volts**2 / LAMP_OHMS
    assert a.track("load_power").most.max() == pytest.approx(at_first, rel=0.02)
    settles = (push(60) + K * N * BRUSH / ohms) / (push(60) / W_TOP + (K * N) ** 2 / ohms)
    assert last(a, "cadence") == pytest.approx(settles, rel=0.005)
    assert a.ends == "holds"
    assert "load_restarts" in keys(a)


# ---- steady watts: the sink, the hiccup, the way back ----------------------------------------------------------------


def seconds(effort: float, watts: float, high: float, low: float) -> float:
    """Time in which the bus goes from one voltage to the other, wheels and capacitor with it. Hand.

    d/dt (J*w^2/2 + C*v^2/2) = T*(1 - w/w_top)*w - P - i^2*R, with K*N*w = v + i*R and i = P/v.
    """
    ohms, farads = 0.03, 0.02

    def a_volt(v: float) -> float:
        i = watts / v
        w, slope = (v + i * ohms) / (K * N), (1 - watts / v**2 * ohms) / (K * N)
        gain = push(effort) * (1 - w / W_TOP) * w - watts - i**2 * ohms
        return (J * w * slope + farads * v) / gain

    return float(quad(a_volt, high, low)[0])


def test_a_load_beyond_these_legs_sinks_slowly_and_then_its_board_sleeps() -> None:
    """105 W of an effort worth 100 W at best has no holding point: it sinks in the time of the integral. Hand."""
    says, a = told(
        boxed(105.0, sleeps=9.0, wakes=9.5),
        "riding along, at an effort worth 100 W, with the cold box on; for 6 s",
    )
    assert math.isnan(a.steady.w_hold)
    v = a.track("bus_volts").values
    start = float(np.interp(0.2, a.times, v))
    assert first(a, "sleeps") - 0.2 == pytest.approx(seconds(100, 105, start, 9.0), rel=0.02)
    assert "deck board sleeps" in says


def test_a_load_within_these_legs_holds_at_the_faster_of_its_two_points() -> None:
    """T*w*(1 - w/w_top) = P + i^2*R has two roots; the faster one holds, the slower one is where it tips. Hand."""
    a = play(boxed(90.0), "riding along, at an effort worth 100 W, with the cold box on; for 20 s")

    def over(w: float) -> float:
        v = 0.5 * (K * N * w + math.sqrt((K * N * w) ** 2 - 4 * 0.03 * 90))
        return push(100) * w * (1 - w / W_TOP) - 90 - (90 / v) ** 2 * 0.03

    assert last(a, "cadence") == pytest.approx(brentq(over, W_TOP / 2, W_TOP), rel=0.003)
    assert a.steady.w_tip == pytest.approx(brentq(over, 0.2 * W_TOP, W_TOP / 2), rel=0.01)


def test_a_board_that_sleeps_and_wakes_has_the_rhythm_of_race_and_sag() -> None:
    """Race from 10 to 14 V without a load, then the sag from where the amps of the load take it. Hand, by integral."""
    says, a = told(boxed(140.0), "riding along, at an effort worth 100 W, with the cold box on; for 20 s")
    assert a.ends == "hiccups"
    slow, fast = (10 + 14 * 0.03) / (K * N), 14 / (K * N)
    race = quad(lambda w: (J + 0.02 * (K * N) ** 2) / (push(100) * (1 - w / W_TOP)), slow, fast)[0]
    loaded = brentq(lambda v: v + 140 / v * 0.03 - 14, 12, 14)
    sleeps, wakes = ([h.at for h in a.happenings if h.key == key] for key in ("sleeps", "wakes"))
    assert np.subtract(wakes[:5], sleeps[:5]) == pytest.approx(race, rel=0.03)
    assert np.diff(sleeps) == pytest.approx(race + seconds(100, 140, loaded, 10.0), rel=0.04)
    assert "about 4 times a second" in says
    assert "of the time" in says
    assert "never gets going" not in says


def test_a_rig_stalls_on_its_own_drag_and_starts_again_with_more_push() -> None:
    """Less push than drag stops it; with more it runs up as an exponential to w_top*(1 - drag/T). Hand."""
    says, a = told(
        bare(machine=machine(friction=0.3)),
        "riding along, at an effort worth 60 W, with the wire lamp off; at 1 s ride at 20 W; at 20 s ride at 60 W; for 40 s",
    )
    assert push(20) < 0.3 * N < push(60)
    assert [k for k in keys(a) if k in ("stalls", "moves_again")] == ["stalls", "moves_again"]
    assert last(a, "cadence") == pytest.approx(W_TOP * (1 - 0.3 * N / push(60)), rel=0.005)
    cadence, tau = a.track("cadence").values, J * W_TOP / push(60)
    left = 1 - np.interp([21.5, 21.5 + tau], a.times, cadence) / cadence[-1]
    assert left[1] / left[0] == pytest.approx(math.exp(-1), rel=0.02)
    assert "the rig's own drag drags you to a stop" in says


# ---- the plug is pulled ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("gear", GEARS)
def test_without_its_load_every_gear_races_to_its_own_volts(gear: str) -> None:
    """The legs end at their fastest; the bus at K*ratio*w_top less the brushes. Hand."""
    words = f"riding along in gear {gear}, at an effort worth 80 W, with the wire lamp on; at 5 s pull the plug; for 20 s"
    wired = Bus(capacitance=exact(1e-3), capacitor_voltage=exact(35.0))
    says, a = told(geared(bus=wired), words)
    volts = K * GEARS[gear] * W_TOP - BRUSH
    bus = next(p for p in a.peaks if p.name == "bus capacitor")
    assert bus.value == pytest.approx(volts, rel=0.01)
    assert bus.over is (volts > 35.0)
    assert ("the bus capacitor stands 35 V" in says) is (volts > 35.0)


@pytest.mark.parametrize("gear", ["48/16", "48/12"])
def test_a_clamp_burns_what_the_legs_go_on_giving(gear: str) -> None:
    """At its volts the legs give T*(1 - w/w_top)*w, and all of it but copper and brushes is for the resistor. Hand."""
    words = f"riding along in gear {gear}, at an effort worth 80 W, with the wire lamp on; at 5 s pull the plug; for 30 s"
    a = play(geared(clamp=Clamp(voltage=exact(24.0), resistance=exact(1.5), power=exact(300.0))), words)
    gain = K * GEARS[gear]

    def left(i: float) -> float:
        return push(80) * (1 - (24.0 + BRUSH + R * i) / gain / W_TOP) - gain * i

    watts = 24.0 * brentq(left, 0.0, 20.0)
    assert last(a, "clamp_power") == pytest.approx(watts, rel=0.01)
    assert a.track("bus_volts").most.max() == pytest.approx(24.0, rel=0.01)
    burnt = next(p for p in a.peaks if p.key == "clamp energy")
    assert burnt.value == pytest.approx(5 * watts, rel=0.01)
    assert burnt.limit == pytest.approx(5 * 300.0)


def test_a_shift_to_a_harder_gear_keeps_the_turning_of_all_that_turns() -> None:
    """Wheels that catch each other share their momentum: (J1*w + g2*g1*J2*w)/(J1 + g2^2*J2). From memory."""
    a = play(
        geared(),
        "riding along in gear 48/24, at an effort worth 80 W, with the wire lamp off; at 5 s shift to 48/12; for 8 s",
    )
    wanted = 65 * RPM * (J_LEGS + 32 * 16 * J_ROTOR) / (J_LEGS + 32**2 * J_ROTOR)
    assert float(np.interp(5.05, a.times, a.track("cadence").values)) == pytest.approx(wanted, rel=0.005)


def test_a_sprint_and_a_shift_down_are_felt_as_the_push_and_the_ratio_say() -> None:
    """Where 4*700 W/w_top*(1 - w/w_top) meets the lamp's pull in the gear; then the legs have to catch up. Hand."""
    a = play(
        geared(load=(dataclasses.replace(LAMP, voltage_max=exact(90.0)),)),
        "riding along in gear 48/16, at an effort worth 80 W, with the wire lamp on; at 5 s sprint; at 12 s shift down; "
        "for 20 s",
    )
    ohms = R + 1e-4 + LAMP_OHMS
    for at, gain in ((11.9, 24.0), (19.9, 16.0)):
        pull = (K * gain) ** 2 / ohms
        w = (push(700) + K * gain * BRUSH / ohms) / (push(700) / W_TOP + pull)
        assert float(np.interp(at, a.times, a.track("cadence").values)) == pytest.approx(w, rel=0.01)
    assert 12.0 < first(a, "freewheel_takes") < 12.5


# ---- boards at their edge --------------------------------------------------------------------------------------------


def test_a_step_up_board_that_passes_gives_an_appliance_all_the_machine_makes() -> None:
    """Out = E - brushes - i*R - the board's drop, once that is more than it is set to. Hand."""
    lamp = dataclasses.replace(LAMP, power=exact(20.0), voltage_max=exact(15.0), through="step-up")
    rig = bare(converter=(a_board("boost", "step-up", 14.4, drop=exact(0.5)),), load=(lamp,), diode=IDEAL)
    says, a = told(
        rig,
        "riding along, at an effort worth 60 W, holding 50 rpm, with the wire lamp on; at 5 s hold 90 rpm; for 40 s",
    )
    i = (K * N * 90 * RPM - BRUSH - 0.5) / (R + 12**2 / 20)
    assert last(a, "output_volts") == pytest.approx(i * 12**2 / 20, rel=0.01)
    assert keys(a)[keys(a).index("passes") :][:2] == ["passes", "over_load_volts"]
    assert "the wire lamp stands 15 V" in says


def test_a_step_up_board_that_passes_into_a_battery_lets_the_legs_set_the_amps() -> None:
    """Amps = (E - brushes - drop - volts of the battery)/R: no screw holds them. Hand."""
    rig = stored(board=a_board("boost", "step-up", 12.2, drop=exact(0.5), set_current=exact(1.0)))
    a = play(rig, "riding along, holding 70 rpm, charging the battery; for 10 s")
    amps, volts = last(a, "battery_amps"), last(a, "output_volts")
    cadence = last(a, "cadence")  # the volts run up, and a rider who holds 70 is a little late
    assert cadence == pytest.approx(70 * RPM, rel=0.025)
    assert amps == pytest.approx((K * N * cadence - BRUSH - 0.5 - volts) / (R + 1e-4), rel=0.02)
    assert amps > 4.5
    assert any(p.key == "battery amps" and p.over for p in a.peaks)


def test_a_tool_spins_up_at_the_amps_of_the_screw() -> None:
    """J*dw/dt = k*i^2/(1 + i/i_sat) - drag, V = k*i*w/(1 + i/i_sat) + i*R: the display shows steady amps and rising volts.

    A series motor as in any textbook, from memory; its constants are read off the plate elsewhere (`tool_plate`).
    """
    drill = Load(
        name="drill", kind="universal_motor", plate_voltage=exact(230.0), plate_current=exact(3.26),
        plate_power=exact(600.0), plate_speed=exact(30000 * RPM), winding_resistance=exact(12.0), inertia=exact(8e-5),
        inductance=exact(0.05),
        through="tool board", trigger="mechanical", power=exact(165.0),
    )  # fmt: skip
    rig = bare(
        converter=(a_board("buck_boost", "tool board", 110.0, input_min=exact(9.0), restart=exact(10.0),
                           set_current=exact(2.2)),),
        load=(drill,), diode=IDEAL, bus=Bus(capacitance=exact(0.05), capacitor_voltage=exact(80.0)),
        machine=machine(resistance=0.1),
        flywheel=(Flywheel(name="plate", after_stage=1, mass=exact(2.0), diameter=exact(0.2), material="steel_disc"),),
    )  # fmt: skip
    says, a = told(
        rig, "riding along, at an effort worth 400 W, with the drill off; at 4 s let go; at 5 s switch the drill on; "
        "at 12 s lean on it; at 15 s let go; for 20 s",
    )  # fmt: skip
    plate = tool_plate(drill)
    field = plate.k_series * 2.2 / (1 + 2.2 / plate.i_sat)  # V*s/rad
    early = (a.times > 5.15) & (a.times < 5.9)
    slope = np.polyfit(a.times[early], a.track("tool_speed").values[early], 1)[0]
    assert a.track("tool_amps").values[early] == pytest.approx(2.2, rel=0.02)
    assert slope == pytest.approx(
        (field * 2.2 - plate.t_coulomb) / 8e-5, rel=0.05
    )  # and a little for its fan
    speed = a.track("tool_speed").values
    assert speed[np.searchsorted(a.times, 14.9)] < 0.05 * speed[np.searchsorted(a.times, 11.9)]
    assert speed[-1] > 0.9 * speed[np.searchsorted(a.times, 11.9)]
    volts = a.track("output_volts").values[early]
    assert volts == pytest.approx(field * speed[early] + 2.2 * 12.0, rel=0.03)
    assert field * 2.2 < plate.torque_rated, "leaned on with its rated push it needs more than these amps"
    assert "the drill is brought to a stop by its work" in says


def test_a_charge_goes_on_at_steady_amps_to_the_charging_volts_and_then_dies_away() -> None:
    """Steady amps fill Q*ds = i*t to the set volts; then i dies away, tau 0.7 to 1.5 h. From memory."""
    board = a_board("buck_boost", "charge board", 14.4, set_current=exact(1.75))
    a = play(stored(board=board), "riding along, at an effort worth 60 W, charging the battery; for 3 h")
    full = first(a, "full_volts")
    amps, charge = a.track("battery_amps").values, a.track("charge").values
    steady = a.times < full - 10
    assert amps[steady] == pytest.approx(1.75, rel=1e-3)
    taken = charge[steady][-1] - 0.6
    assert taken == pytest.approx(1.75 * a.times[steady][-1] / (7 * 3600), rel=0.06)  # less what gasses
    i1, i2, i3 = np.interp([full + 900, full + 2700, full + 4500], a.times, amps)
    tau = 1800 / math.log(i1 / i2)
    assert tau == pytest.approx(1800 / math.log(i2 / i3), rel=0.15)
    assert 0.7 * 3600 < tau < 1.5 * 3600
    assert not any(p.over for p in a.peaks), "a screw set to what the battery stands is not over it"


# ---- the diode, the freewheel ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("does", ["the diode fails short", "the diode is in backwards"])
@pytest.mark.parametrize("free", [True, False])
def test_without_its_diode_the_battery_drives_the_machine_and_without_a_freewheel_the_pedals(
    does: str, free: bool
) -> None:
    """Running light: i = drag/K, w = (V - brushes - i*R)/K, and w/N at the pedals where nothing lets go. From memory."""
    stage = dataclasses.replace(bare().stage[0], freewheel=free)
    says, a = told(
        stored(machine=machine(friction=0.05), stage=(stage,)),
        f"riding along, at an effort worth 60 W, charging the battery; at 2 s {does}; at 4 s stop pedalling; for 30 s",
    )
    amps, speed = last(a, "machine_amps"), last(a, "machine_speed")
    assert amps == pytest.approx(-0.05 / K, rel=0.03)
    assert speed == pytest.approx((last(a, "bus_volts") - BRUSH - R * 0.05 / K) / K, rel=0.01)
    assert last(a, "cadence") == pytest.approx(0.0 if free else speed / N, abs=0.02)
    assert "the battery drives the machine" in says
    assert ("pedals and all" in says) is not free
    assert not any("diode blocks" in h.says for h in a.happenings if h.at > 2)


def test_a_wheel_behind_the_freewheel_feeds_the_load_after_the_legs_stop() -> None:
    """t = J*(w1^2 - w2^2)/(2*P), the capacitor beside it, a little copper. Hand."""
    plate = Flywheel(name="plate", after_stage=1, mass=exact(8.0), diameter=exact(0.4), material="steel_disc")
    first_stage = dataclasses.replace(bare().stage[0], ratio=exact(6.0))
    stages = (first_stage, dataclasses.replace(first_stage, ratio=exact(4.0), freewheel=False))
    says, a = told(
        boxed(60.0, 8.0, 10.0, flywheel=(plate,), stage=stages),
        "riding along, at an effort worth 100 W, with the cold box on; at 5 s stop pedalling; for 20 s",
    )
    w1 = float(np.interp(4.99, a.times, a.track("machine_speed").values))
    inertia = 0.5 * 8.0 * 0.2**2 / 4.0**2 + J_ROTOR
    stock = 0.5 * inertia * (w1**2 - (8.0 / K) ** 2) + 0.5 * 0.02 * ((w1 * K) ** 2 - 8.0**2)
    assert first(a, "freewheel_opens") == pytest.approx(5.0, abs=0.02)
    assert first(a, "sleeps") - 5.0 == pytest.approx(stock / (60.0 + 0.03 * 4.0**2), rel=0.02)
    assert "What still turns feeds the cold box for 6" in says
