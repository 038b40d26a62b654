"""What hurts within seconds is played: it agrees with the closed form where one applies, its words show the same scene, and
it is silent where nothing is wrong."""

from __future__ import annotations

import dataclasses
import math
from functools import cache

import numpy as np
import pytest
from tests.studies.guard_rigs import AH, RPM, belt, cellar, clean_rig, clinic, garage, m, stage, with_part

from sparewatt.files import demo_text, read_text
from sparewatt.language.script import script_from_words
from sparewatt.parts import Bus, Clamp, Flywheel, Load, Ride, Rider, Rig
from sparewatt.physics import flywheel, machine, transients
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.layout import Param
from sparewatt.rig.motion_layout import Chan, Event, Geo, Move, Shared
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard import seconds, swings
from sparewatt.studies.guard.findings import guard
from sparewatt.studies.guard.inertia import inertia_of
from sparewatt.studies.guard.words import value
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.studies.scenes.plays import Plays
from sparewatt.studies.scenes.seconds import play_scene

TOP = 130 * RPM


def plays(rig: Rig, **ask: object) -> Plays:
    """The scenes of a rig at its usual question."""
    filled = fill(rig)
    return Plays(filled, ask_for(filled.rig, draws=0, **ask))  # type: ignore[arg-type]


def found(rig: Rig, key: str) -> Finding:
    """The finding whose key begins so."""
    return next(f for f in guard(rig).findings if f.key.startswith(key))


def keys(rig: Rig) -> set[str]:
    """What is found, by the first word of its key."""
    return {f.key.split(":")[0] for f in guard(rig).findings}


def replayed(rig: Rig, words: str) -> SceneAnswer:
    """The scene of these words as a page plays it."""
    filled = fill(rig)
    return play_scene(filled, script_from_words(filled, words), runs=0)


def slippery(**changes: object) -> Rig:
    """The clean rig with nothing lost on the way and an even push along a straight line: closed forms apply to it."""
    rig = clean_rig(
        rider=(
            Rider(
                name="Ansa", mass=m(70.0), critical_power=m(400.0), work_reserve=m(1e9), peak_power=m(2000.0),
                peak_to_mean=m(1.0), top_cadence=m(TOP), sprint_cadence=m(230 * RPM), leg_inertia=m(0.5),
            ),
        ),
        stage=(
            dataclasses.replace(stage((42, 18)), efficiency=m(1.0), drag_torque=m(0.0), inertia=m(1e-4)),
            belt(0.6, 0.06, efficiency=m(1.0), drag_torque=m(0.0), inertia=m(1e-5)),
        ),
        flywheel=(),
        bus=Bus(capacitance=m(1e-3), capacitor_voltage=m(200.0)),
    )  # fmt: skip
    rig = with_part(
        rig, "machine", friction=m(1e-6), friction_slope=m(1e-9), inertia=m(4e-3), brush_drop=m(0.01), resistance=m(0.02)
    )  # fmt: skip
    rig = with_part(rig, "converter.0", input_max=m(200.0), idle_power=m(0.001))
    return dataclasses.replace(rig, **changes)  # type: ignore[arg-type]


def felt_inertia(ran: Plays) -> float:
    """All that turns, as felt at the crank."""
    geo = ran.ride().moving.geo[0, 0, 0]
    return float(geo[Geo.J_CRANK] + geo[Geo.GAIN] * geo[Geo.RATIO] * geo[Geo.J_SHAFT])


# ---- closed forms ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("after", [0.25, 0.5, 1.0, 2.0, 4.0])
def test_legs_race_as_the_straight_line_says(after: float) -> None:
    """With the plug pulled, w = w0 + (w_top - w0)(1 - exp(-t T0/(J w_top))), the solution of J dw/dt = T0 (1 - w/w_top)."""
    ran = plays(slippery())
    raced = seconds.pulled(ran, sprint=False)[0]
    ridden = ran.ride()
    reached = float(np.interp(raced.at + after, raced.shown.times, raced.shown.rows(Chan.W_CRANK)))
    by_hand = transients.race_speed(
        after, w_crank=ridden.hold(0), torque_start=4 * ridden.ask.effort / TOP, inertia=felt_inertia(ran), w_top=TOP
    )  # fmt: skip
    assert reached == pytest.approx(float(by_hand), rel=0.01)


def test_a_clamp_swallows_what_the_legs_give_at_its_volts() -> None:
    """From when the volts reach it: P = T0 (1 - w/w_top) w at w = V/(K N), for as long as the push lasts."""
    clamp = Clamp(voltage=m(30.0), resistance=m(2.0), power=m(500.0))
    ran = plays(slippery(clamp=clamp))
    raced, ridden = seconds.pulled(ran, sprint=False)[0], ran.ride()
    k, ratio = float(ridden.moving.mv[0, 0, Move.K_COLD]), float(ridden.moving.geo[0, 0, 0, Geo.RATIO])
    use = transients.clamp_use(
        seconds.PUSHING, v_clamp=30.1, w_crank=ridden.hold(0), torque_start=4 * ridden.ask.effort / TOP,
        inertia=felt_inertia(ran), ratio=ratio, k_emf=k, w_top=TOP,
    )  # fmt: skip
    assert raced.joules == pytest.approx(float(use.energy), rel=0.05)
    assert 30.0 <= raced.volts <= 1.02 * 30.0 + 0.1


def test_a_battery_drives_the_machine_as_the_closed_forms_say() -> None:
    """The first amps stay below (V - V_br)/R and near it; it ends at the runaway speed; a freewheel lets the crank stand.

    Published forms: standstill current and runaway speed of a direct-current machine, `physics.machine`.
    """
    rig = dataclasses.replace(clean_rig(diode=None), converter=())
    rig = with_part(rig, "battery", through="")
    ran = plays(rig, load="charge")
    driven, x = seconds.drives(ran), ran.ride().solved.bound.extras
    volts, k = float(x["v_open"][0]), float(x["k_emf_cold"][0])
    lost = {"r_wind": float(x["r_wind_cold"][0]), "v_brush": value(rig.machine.brush_drop)}  # type: ignore[union-attr]
    path = float(ran.ride().solved.bound.params[Param.R_SOURCE, 0]) - float(x["r_wind"][0])
    most = float(machine.standstill_current(volts, r_path=path + float(x["r_cell"][0]), **lost))
    assert 0.8 * most < driven.surge <= most
    geo, q = ran.ride().moving.geo[0, 0, 0], ran.ride().moving.q[0, 0]
    drag = {
        "t_coulomb": float(q[Param.T_COULOMB] + geo[Geo.DRAG_AFTER]),
        "b_viscous": float(q[Param.B_VISCOUS] + geo[Geo.SLOPE_AFTER]),
    }
    runaway = machine.runaway_speed(volts, k_emf=k, **lost, **drag)
    assert driven.w_shaft == pytest.approx(float(runaway), rel=0.03)
    assert driven.drain == pytest.approx(
        (drag["t_coulomb"] + drag["b_viscous"] * driven.w_shaft) / k, rel=0.06
    )
    assert driven.w_crank == pytest.approx(0.0, abs=0.05)
    fixed = seconds.drives(plays(with_part(rig, "stage.0", freewheel=False), load="charge"))
    ratio = float(ran.ride().moving.geo[0, 0, 0, Geo.RATIO])
    assert fixed.w_crank == pytest.approx(fixed.w_shaft / ratio, rel=0.01)


def test_a_wheel_runs_down_in_the_time_its_drag_takes() -> None:
    """J dw/dt = -(T0 + b w): the heavy plate beside which nothing else counts, with the plug pulled."""
    rig = garage(1, guarded=True)
    rig = with_part(rig, "flywheel.0", mass=m(40.0), diameter=m(0.6))
    ran = plays(rig)
    rolled, ridden = seconds.runs_on(ran, 60.0, pulled=True), ran.ride()
    assert rolled is not None
    geo, q = ridden.moving.geo[0, 0, ridden.solved.gear], ridden.moving.q[0, 0]
    w = float(rolled.shown.rows(Chan.W_SHAFT)[np.argmax(rolled.shown.times >= 1.0)])
    still = flywheel.run_down_time(
        float(geo[Geo.J_SHAFT]), w, t_coulomb=float(q[Param.T_COULOMB] + geo[Geo.DRAG_AFTER]),
        b_viscous=float(q[Param.B_VISCOUS] + geo[Geo.SLOPE_AFTER]),
    )  # fmt: skip
    assert rolled.still == pytest.approx(float(still), rel=0.03)
    assert rolled.joules == pytest.approx(0.5 * float(geo[Geo.J_SHAFT]) * w**2, rel=1e-6)
    assert rolled.joules > 0.9 * 0.5 * inertia_of(rig.flywheel[0]) * (w / float(geo[Geo.RATIO]) * 40 / 6) ** 2


def test_speed_ripple_is_the_swing_of_energy_over_what_turns() -> None:
    """dE = a P/w and delta = dE/(J w^2) against an even load: a wheel heavy enough that nothing else gives way."""
    lamp = Load(
        name="box",
        kind="electronics",
        power=m(60.0),
        voltage=m(12.0),
        through="step-down board",
        without_battery=True,
    )
    rig = clean_rig(
        battery=None, fuse=(), load=(lamp,), ride=Ride(load="box", effort=m(100.0), duration=m(AH)),
        flywheel=(Flywheel(after_stage=2, mass=m(1.5), diameter=m(0.2), material="steel_disc", guarded=True),),
    )  # fmt: skip
    ran = plays(rig)
    ridden = ran.ride()
    seen = swings.ripple(ran, ridden, 0)
    w = ridden.hold(0)
    swing = flywheel.energy_swing_pedal(
        float(ridden.solved.found.p_rider[0, 0]), w_crank=w, torque_ripple=float(ridden.moving.mv[0, 0, Move.RIPPLE])
    )  # fmt: skip
    by_hand = flywheel.speed_ripple(float(swing), inertia=felt_inertia(ran), w_wheel=w)
    assert 0.01 < seen.w_shaft < 0.2
    assert seen.w_shaft == pytest.approx(float(by_hand), rel=0.08)
    assert seen.often == pytest.approx(w / math.pi, rel=0.02)


def test_a_short_draws_what_volts_and_ohms_allow() -> None:
    """With a wheel too heavy to slow down, amps rise to (E - drops)/R and brake the crank with K N times as much."""
    rig = with_part(clean_rig(), "flywheel.0", after_stage=2, mass=m(30.0), diameter=m(0.4))
    ran = plays(rig)
    hit, ridden = swings.shorted(ran, 60 * RPM, 0), ran.ride()
    assert hit is not None
    k, ratio = float(ridden.moving.mv[0, 0, Move.K_COLD]), float(ridden.moving.geo[0, 0, 0, Geo.RATIO])
    q = ridden.moving.q[0, 0]
    most = (k * ratio * 60 * RPM - q[Param.V_DROP]) / (q[Param.R_SOURCE] + swings.SHORT)
    assert hit.amps == pytest.approx(float(most), rel=0.05)
    assert hit.torque == pytest.approx(hit.amps * k * ratio)


def test_a_battery_sags_by_amps_times_ohms_when_a_load_starts() -> None:
    """Rested volts less what battery, wire and the surge take."""
    lamp = Load(name="lamp", kind="lamp", power=m(20.0), voltage=m(12.0), start_factor=m(8.0))
    ran = plays(clean_rig(load=(lamp,)))
    begun, x = swings.starts(ran, lamp, 8.0), ran.ride(load="lamp").solved.bound.extras
    ohms = float(x["r_cell"][0] + x["r_battery_wire"][0])
    assert begun.volts == pytest.approx(float(x["v_open"][0]) - begun.amps * ohms, rel=0.002)
    assert begun.amps > 6 * begun.amps_settled


def test_a_fuse_opens_in_a_sprint_when_its_curve_says_so() -> None:
    """Between the gates of the time-current curve at the amps that flow: 8 A through a 5 A fuse."""
    odd = found(with_part(clean_rig(), "fuse.0", rating=m(5.0)), "fuse in a sprint")
    played = seconds.sprinted(plays(with_part(clean_rig(), "fuse.0", rating=m(5.0))), "charge", 0)
    at = float(played.shown.when(Event.FUSE_OPENS)[0]) - seconds.SPRINT_AT
    assert odd.value == pytest.approx(8.0, rel=0.02)
    assert at == pytest.approx(
        float(transients.fuse_opening_time(odd.value / 5.0, fuse_kind="blade")), rel=0.25
    )
    assert "fuse in a sprint" not in keys(clean_rig())


# ---- the same scene on a page ----------------------------------------------------------------------------------------


def _shown() -> list[tuple[str, Rig]]:
    lamp = clean_rig(
        battery=None, fuse=(), converter=(), bus=None, ride=Ride(load="lamp", effort=m(100.0), duration=m(AH)),
        load=(Load(name="lamp", kind="lamp", power=m(80.0), voltage=m(16.0), voltage_max=m(30.0), lights_people=True),),
    )  # fmt: skip
    return [
        ("a weak board", with_part(clean_rig(), "converter.0", input_max=m(40.0))),
        ("a boost", clinic(50.0, 30.0)),
        ("a boost at its edge", clinic(35.0, 60.0)),
        ("a boost on a battery", with_part(clean_rig(), "converter.0", kind="boost")),
        ("a lamp on the machine", lamp),
        ("no diode", clean_rig(diode=None)),
        ("a plate", garage(1)),
        ("a small capacitor", with_part(clean_rig(), "bus", capacitance=m(3e-4))),
        ("a small fuse", with_part(clean_rig(), "fuse.0", rating=m(5.0))),
    ]


@cache
def told() -> tuple[tuple[str, Rig, Finding], ...]:
    """Every finding of these rigs that can be shown."""
    return tuple((name, rig, f) for name, rig in _shown() for f in guard(rig).findings if f.seconds)


def test_every_finding_of_seconds_can_be_shown() -> None:
    """Each sort occurs, and its words read as a scene of that rig."""
    seen = {f.key.split(":")[0] for _name, _rig, f in told()}
    assert seen >= {
        "over-volts", "load rejection", "passes through", "chatters", "flicker", "no diode", "run-down", "board and coil",
        "fuse in a sprint",
    }  # fmt: skip
    for _name, rig, f in told():
        script = script_from_words(fill(rig), f.seconds)
        assert script.duration > 0


def test_a_finding_that_is_no_matter_of_seconds_has_no_scene() -> None:
    """Guards, marks, air and gas have nothing to play."""
    still = {"nip guards", "hydrogen", "co2", "no fuse", "wheel guard", "rim speed", "switch", "hot case"}
    for rig in (cellar(), garage(), clean_rig(fuse=())):
        for f in guard(rig).findings:
            if f.key.split(":")[0] in still:
                assert f.seconds == ""


def test_the_words_of_a_dropped_load_show_its_volts() -> None:
    """Played from its words, the scene reaches the volts that the finding gives, to the digits it gives them in."""
    rig = with_part(clean_rig(), "converter.0", input_max=m(40.0))
    drop = found(rig, "load rejection")
    peak = next(p for p in replayed(rig, drop.seconds).peaks if p.key == "bus volts")
    assert peak.over
    assert f"sees {peak.value:.0f} V" in drop.says


def test_the_words_of_a_pulsing_board_show_its_rhythm() -> None:
    """The page's own count of times off agrees."""
    rig = clinic(35.0, 60.0)
    odd = found(rig, "chatters")
    scene = replayed(rig, odd.seconds)
    quits = [h.at for h in scene.happenings if h.key == "load_quits"]
    assert len(quits) >= 2
    assert odd.value == pytest.approx((len(quits) - 1) / (quits[-1] - quits[0]), rel=0.02)


def test_the_words_of_a_run_on_show_its_time() -> None:
    """When the page's machine stands."""
    rig = garage(1)
    odd = found(rig, "run-down")
    scene = replayed(rig, odd.seconds)
    speed = scene.track("machine_speed").values
    assert float(scene.times[np.argmax((scene.times > 1.0) & (speed < 0.5))]) - 1.0 == pytest.approx(
        odd.value, rel=0.02
    )


def test_the_words_of_flicker_show_its_ripple() -> None:
    """Most and least volts of the page's run over a turn."""
    _name, rig, odd = next(item for item in told() if item[2].key == "flicker: lamp")
    volts = replayed(rig, odd.seconds).track("bus_volts")
    late = slice(len(volts.values) // 2, None)
    share = (volts.most[late].max() - volts.least[late].min()) / volts.values[late].mean()
    ran = plays(rig)
    seen = swings.ripple(ran, ran.ride(load="lamp", effort=150.0), 0)
    assert seen.v_out == pytest.approx(float(share), rel=0.03)
    assert odd.value == pytest.approx(max(seen.v_out, seen.light), rel=1e-9)


# ---- fires where it should, silent where not ---------------------------------------------------------------------------


def test_volts_follow_the_gears() -> None:
    """Pulled in each of three gears, the hardest races to the most volts, nearly in the ratio of the gears."""
    ran = plays(with_part(clean_rig(), "stage.0", driven_teeth=(11, 18, 28)))
    raced = seconds.pulled(ran, sprint=False)
    ratio = ran.ride().moving.geo[0, 0, :, Geo.RATIO]
    volts = np.array([r.volts for r in raced])
    assert np.all(np.diff(volts[np.argsort(ratio)]) > 0)
    assert np.allclose(volts / ratio, np.mean(volts / ratio), rtol=0.12)


def test_a_sprint_never_ends_lower_than_the_usual_push() -> None:
    """In every gear of the hut."""
    ran = plays(read_text(demo_text("skerry")).rig)
    for calm, wild in zip(seconds.pulled(ran, sprint=False), seconds.pulled(ran, sprint=True), strict=True):
        assert wild.volts >= calm.volts
        assert wild.w_crank >= calm.w_crank


def test_without_its_clamp_the_hut_passes_what_its_board_stands() -> None:
    """60 V at the board: the clamp at 50 V holds, and with it off the hardest gears pass; guard says nothing as it is."""
    rig = read_text(demo_text("skerry")).rig
    ran = plays(rig)
    with_it, without = (
        max(r.volts for r in seconds.pulled(ran, sprint=True, clamp=c)) for c in (True, False)
    )
    assert with_it < 52
    assert without > 60
    assert "load rejection" not in keys(rig)
    bare = dataclasses.replace(rig, clamp=None)
    assert {"load rejection", "over-volts"} <= keys(bare)


def test_a_rider_who_notices_puts_less_into_the_clamp() -> None:
    """Stopping a reaction time later swallows less than pushing on, and not nothing."""
    ran = plays(read_text(demo_text("skerry")).rig)
    most = max(seconds.pulled(ran, sprint=True), key=lambda one: one.joules)
    soon = seconds.reacted(ran, most)
    assert 0.02 * most.joules < soon.joules < 0.6 * most.joules


def test_the_hut_shifts_up_in_a_sprint_below_what_its_board_stands() -> None:
    """From the easiest gear into the hardest with the load on: the clamp holds there too."""
    ran = plays(read_text(demo_text("skerry")).rig)
    shifted = seconds.sprinted(ran, "charge", 0, shift_from=4)
    plain = seconds.sprinted(ran, "charge", 4)
    assert shifted.v_bus > plain.v_bus
    assert shifted.v_bus < 60


@pytest.mark.parametrize("capacitance", [3e-4, 5e-4])
def test_a_capacitor_too_small_is_named_with_the_least(capacitance: float) -> None:
    """Below C = L P/(R V^2) the played bus swings; the clean rig's 10 mF and a little more than the least do not."""
    odd = found(with_part(clean_rig(), "bus", capacitance=m(capacitance)), "board and coil")
    assert odd.value == pytest.approx(capacitance)
    assert odd.threshold > capacitance
    enough = with_part(clean_rig(), "bus", capacitance=m(1.5 * odd.threshold))
    assert "board and coil" not in keys(enough)


def test_a_boost_lets_a_sprint_into_the_battery_and_into_the_load() -> None:
    """Into a battery: amps beyond what it may take. Into a load: volts beyond what it stands."""
    stored = found(with_part(clean_rig(), "converter.0", kind="boost", set_current=None), "passes through")
    assert "in a sprint" in stored.says
    ran = plays(clinic(50.0, 60.0))
    through = seconds.let_through(ran, "cold box", 0)
    assert through.v_out > value(fill(clinic()).rig.load[0].voltage_max)
    assert 70 * RPM < through.passes < 90 * RPM
    held = seconds.let_through(
        plays(with_part(clinic(50.0, 60.0), "converter.0", kind="buck_boost")), "cold box", 0
    )
    assert math.isnan(held.passes)
    assert held.v_out < 28.5


def test_a_board_that_lets_nothing_back_is_said_to_hold() -> None:
    """Without a diode, a step-up-and-down board between battery and machine: look again instead of stop."""
    rig = with_part(clean_rig(diode=None), "converter.0", kind="buck_boost")
    assert found(rig, "no diode").check == "look again"
    assert found(clean_rig(diode=None), "no diode").check == "stop"


def test_a_held_load_does_not_pulse() -> None:
    """Well inside its edge the same rig holds, and guard is silent about pulsing."""
    rig = with_part(clinic(35.0, 60.0), "load.0", power=m(60.0))
    assert "chatters" not in keys(rig)
    assert swings.pulses(plays(rig), plays(rig).ride(), 0).offs == 0


def test_a_clip_that_comes_off_in_the_cellar() -> None:
    """Straight on the battery, a lamp sees what the machine makes when the clip comes off, and its scene shows it."""
    rig = read_text(demo_text("cellar")).rig
    odd = found(rig, "load rejection")
    assert "clip" in odd.says
    scene = replayed(rig, odd.seconds)
    assert any(h.key == "over_load_volts" for h in scene.happenings)
    assert np.nanmax(scene.track("output_volts").values) > 15.1


def test_played_scenes_are_kept() -> None:
    """The same scene is played once."""
    ran = plays(clean_rig())
    assert seconds.pulled(ran, sprint=True)[0].shown is seconds.pulled(ran, sprint=True)[0].shown
    assert swings.ripple(ran, ran.ride(), 0).shown.rows(Shared.V_OUT).size > 100


def test_a_load_that_nobody_asked_about_is_looked_at_for_pulsing_too() -> None:
    """The cold box pulses whether it is the load asked about or one beside it; then the finding names it."""
    rig = clinic(35.0, 60.0)
    asked = [f.key for f in guard(rig).findings if f.key.startswith("chatters")]
    small = dataclasses.replace(rig.load[0], name="desk lamp", power=m(15.0))
    assert rig.ride is not None
    other = dataclasses.replace(
        rig, load=(small, rig.load[0]), ride=dataclasses.replace(rig.ride, load="desk lamp")
    )
    beside = [f for f in guard(other).findings if f.key.startswith("chatters")]
    assert asked == ["chatters"]
    assert [f.key for f in beside] == ["chatters: cold box"]
    assert "with the cold box on" in beside[0].says
    assert "cold box" in beside[0].seconds
