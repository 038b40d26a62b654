"""What must hold for a rig in motion whatever its numbers and whatever is done to it: energy, rest, scaling, order."""

from __future__ import annotations

import dataclasses
import math
import os
import re

import numpy as np
import pytest
from hypothesis import HealthCheck, Phase, assume, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from tests.rig.any_motion import BOARDS, Ride, moving_of, rides, shortfall, texts, throughput

from sparewatt.rig import steady
from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.motion import TOLERANCE, Moving, Played, Start, channel, join_rigs, play
from sparewatt.rig.motion_layout import Act, Chan, Event, Geo, Move, Out, Sum
from sparewatt.rig.outcome import Crossings, Mode

F = NDArray[np.float64]
RPM = 2 * math.pi / 60
MORE = os.environ.get("HYPOTHESIS_PROFILE") == "more"
SPEEDS_AND_VOLTS = (Chan.W_CRANK, Chan.W_SHAFT, Chan.V_BUS)
LOST = (Event.SLEEPS, Event.LOAD_QUITS, Event.STALLS)


def some(few: int, many: int = 1000) -> settings:
    """As many examples as the profile allows; a rig is often put aside, since not every one holds anywhere."""
    return settings(
        max_examples=many if MORE else few,
        deadline=None,
        phases=[Phase.explicit, Phase.generate] if os.environ.get("NOSHRINK") else list(Phase),
        suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow, HealthCheck.data_too_large],
    )


def played(
    ride: Ride, moving: Moving | None = None, *, plain: bool = False, samples: int = 41, **how: float
) -> Played:
    """The ride, played."""
    times = np.linspace(0.0, ride.duration, samples)
    return play(
        moving or ride.moving(),
        ride.script,
        ride.start,
        duration=ride.duration,
        times=times,
        plain=plain,
        **how,
    )[0]  # type: ignore[arg-type]


def arcs(ride: Ride, moving: Moving, done: Played) -> float:
    """The most that opening the machine's circuit can have cost: the energy of its coil, each time."""
    opened = int(ride.start.settle > 0) + sum(
        act in (Act.DIODE_OPEN, Act.DIODE_GOOD, Act.DIODE_BACK) for _t, act, _k, _v in ride.script
    )
    opened += int(np.sum((done.events[:, 1] == Event.FUSE_OPENS) & (done.events[:, 3] > 0)))
    sides = [np.where(np.isfinite(side), side, 0.0) for side in (done.least, done.most)]
    ways = [channel(Chan.AMPS, done.rigs, k) for k in range(done.rigs)]
    # what flows before the first act of all is seen in no row of the ride itself
    sides.append(played(dataclasses.replace(ride, script=(), duration=1e-3), moving, samples=2).rows)
    amps = max(float(np.abs(side[:, way]).max()) for side in sides for way in ways)
    return float(opened * 0.5 * moving.mv[0, :, Move.INDUCTANCE].max() * amps**2)


# ---- any rig, any scene ----------------------------------------------------------------------------------------------


@some(60)
@given(ride=rides())
def test_what_goes_in_comes_out(ride: Ride) -> None:
    """Energy in equals tolls, what is delivered and what is stored, within 0.1 %; nothing is lost but in arcs; every number
    is one, nothing gets stuck or gives up, and happenings come in order."""
    moving = ride.moving()
    done = played(ride, moving)
    assert done.status == 0
    assert np.isfinite(done.rows).all()
    assert np.isfinite(done.sums).all()
    through = max(throughput(done), 1.0)
    # a board that rattles a hundred times a second and more is switched thousands of times within steps of a hair's breadth
    rattles = len(done.events) > 100 * ride.duration
    assert abs(shortfall(done)) < (3e-3 if rattles else 1e-3) * through
    assert abs(done.sums[Sum.SWITCHED]) < 1e-3 * through + arcs(ride, moving, done)
    assert np.all(np.diff(done.events[:, 0]) >= 0)
    tolls = [Sum.COPPER, Sum.WIRE, Sum.BLEEDER, Sum.CLAMP, Sum.LEAD, Sum.BATTERY_WIRE, Sum.LOAD, Sum.FRICTION]
    assert {line.name: done.sums[line] for line in tolls if done.sums[line] < -1e-6 * through} == {}


@some(8, 60)
@given(ride=rides(longest=3.0))
def test_the_plain_twin_plays_the_same(ride: Ride) -> None:
    """The same source run as plain Python gives the same ride, or gives up at the same step."""
    fast, plain = (played(ride, plain=p, samples=11, budget=4000) for p in (False, True))
    assert fast.status == plain.status
    assert fast.events.shape == plain.events.shape
    # Machine code may keep a digit more than Python does; where that decides whether a step is tried again or halved, the
    # two differ by as much as two step sizes do, even where their steps number the same.
    assert abs(fast.steps - plain.steps) <= 0.01 * plain.steps
    np.testing.assert_allclose(fast.rows, plain.rows, rtol=TOLERANCE, atol=TOLERANCE)
    np.testing.assert_allclose(fast.sums, plain.sums, rtol=TOLERANCE, atol=TOLERANCE)


# ---- the map's points ------------------------------------------------------------------------------------------------


def frozen(moving: Moving) -> Moving:
    """What the map answers for: the battery's charge does not move, and its volts are on the map's line whichever way its
    amps go (in a scene they sink otherwise on load than a charge lifts them, and within minutes)."""
    oc, mv = moving.oc.copy(), moving.mv.copy()
    oc[:, Out.V_REST] += oc[:, Out.RISE]
    oc[:, Out.R_STORE] += oc[:, Out.RISE_SLOPE]
    oc[:, [Out.RISE, Out.RISE_SLOPE, Out.SAG, Out.TIRING]] = 0.0
    oc[:, Out.CAPACITY] = 1e12
    mv[:, :, Move.G_BLEED] = 0.0
    return dataclasses.replace(moving, oc=oc, mv=mv)


def stands(moving: Moving, found: Crossings, gear: int) -> bool:
    """Whether something flows at the map's point, at volts the load can live on.

    Where a board's amps screw or a battery cannot carry the load, the map only says that the output sags away; a machine
    that its battery drives has its brushes' drop the other way round here, and none in the map; and a step-up board that
    only just passes through is in the narrow band over which it goes over.
    """
    q, mode, u = moving.q[0, 0], found.mode[gear, 0], found.v_out[gear, 0]
    flows = mode not in (Mode.CHATTERS, Mode.ASLEEP, Mode.DRIVEN)
    sags = q[Param.KIND] != Kind.NONE and q[Param.V_HELD] < 0.3 * q[Param.V_SET]
    between = mode == Mode.PASSES and u < 1.003 * q[Param.V_HELD]
    return bool(flows and not sags and not between and u > max(moving.oc[0, Out.QUIT], 1.0))


@some(40)
@given(rig=texts(plain=True, tool=False), effort=st.floats(30.0, 220.0))
def test_the_holding_points_of_the_map_stand_still(rig: tuple[str, str], effort: float) -> None:
    """Started where the map says it holds, in any gear, an evenly pushed rig is there 15 s later, within 0.2 %."""
    moving, found = moving_of(*rig, effort)
    holds = [gear for gear in range(found.w_hold.shape[0]) if found.w_hold[gear, 0] > 1.0]
    gears = [gear for gear in holds if stands(moving, found, gear)]
    assume(gears)
    for gear in gears:
        w = float(found.w_hold[gear, 0])
        begin = Start(gear=gear, w_crank=w, want=effort, switched_on=True, tires=False, heats=False)
        done = play(frozen(moving), (), begin, duration=15.0, times=np.array([0.0, 15.0]))[0]
        assert done.status == 0
        assert done.rows[-1, channel(Chan.W_CRANK)] == pytest.approx(w, rel=2e-3)
        assert done.rows[-1, channel(Chan.AMPS)] == pytest.approx(found.i_out[gear, 0], rel=5e-3, abs=5e-3)


def tipping_gears(moving: Moving, found: Crossings) -> list[int]:
    """Gears that hold a board's load and tip clearly below that, where it is the legs that give way: the board runs the same
    way a turn a minute above and below.

    Without a board the bus itself gives way there, before the legs do; where the board would be asleep below the tipping
    point, the unburdened legs only race up again; and where a board that is out of volts comes to its most amps just there,
    the map lets its output fall to half at once, while in a scene it sags by and by.
    """
    gears, q = [], moving.q[0, 0]
    if q[Param.V_HELD] < 0.9 * q[Param.V_SET]:  # its amps screw cannot carry the load
        return gears
    for gear in range(found.w_hold.shape[0]):
        hold, tip = float(found.w_hold[gear, 0]), float(found.w_tip[gear, 0])
        if not (tip > 1.0 and hold - tip > 4 * RPM and found.served[gear, 0]):
            continue
        ratio = moving.geo[0, 0, gear, Geo.RATIO]
        below, above = (int(steady.operate(q, (tip + step) * ratio).mode) for step in (-RPM, RPM))
        at_work = below == above and below in (Mode.REGULATES, Mode.LIMITED, Mode.DROPS_OUT)
        if at_work and found.mode[gear, 0] == Mode.REGULATES:
            gears.append(gear)
    return gears


@some(30)
@given(rig=texts(plain=True, tool=False, battery=False, boards=BOARDS), share=st.floats(1.1, 2.5))
def test_it_sinks_where_the_map_says_so(rig: tuple[str, str], share: float) -> None:
    """Started one turn a minute above a tipping point it climbs from there; one below, it sinks away or is lost."""
    effort = share * float(re.findall(r'^power = "(.*) W"', rig[0], re.M)[-1])
    moving, found = moving_of(*rig, effort)
    gears = tipping_gears(moving, found)
    assume(gears)
    for gear in gears:
        for step in (RPM, -RPM):
            w = float(found.w_tip[gear, 0]) + step
            begin = Start(gear=gear, w_crank=w, want=effort, switched_on=True, tires=False, heats=False)
            done = play(moving, (), begin, duration=90.0, times=np.array([0.0, 90.0]), plain=False)[0]
            assert done.status == 0
            lost = np.isin(done.events[:, 1], LOST).any()
            end = done.rows[-1, channel(Chan.W_CRANK)]
            if step > 0:
                assert not lost and end > w
                assert end < found.w_hold[gear, 0] * 1.005
            else:
                assert lost or end < found.w_tip[gear, 0]


# ---- how it is reckoned ----------------------------------------------------------------------------------------------


def calm(done: Played) -> bool:
    """Whether a scene hangs on no moment: a rig that wakes and sleeps in turn, or whose load tries again and again, ends
    where it happens to be, and a last digit earlier on decides which."""
    own = done.events[done.events[:, 1] != Event.SCRIPT, 1]
    return done.status == 0 and own.size < 30 and not np.isin(own, (Event.SLEEPS, Event.LOAD_QUITS)).any()


def happenings(done: Played) -> dict[tuple[int, int], F]:
    """When each thing happened on each rig; what happens in one moment may be told in either order."""
    kinds = done.events[:, 1:3].astype(int)
    return {(c, k): done.events[(kinds == (c, k)).all(axis=1), 0] for c, k in kinds.tolist()}


def agree(a: Played, b: Played, within: float, names: tuple[Chan, ...], ratio: float) -> None:
    """Wheels at all times, volts and amps but for a sample beside a jump, and every line of the ledger.

    Within a share of the range, of a volt, an amp, or ten turns of the crank a minute where it hardly stirs.
    """
    least = {Chan.W_CRANK: 10 * RPM, Chan.W_SHAFT: 10 * RPM * ratio}
    for k in range(a.rigs):
        for name in names:
            x, y = a.rows[:, channel(name, a.rigs, k)], b.rows[:, channel(name, a.rigs, k)]
            off = np.abs(x - y) > within * max(float(np.abs(y).max()), least.get(name, 1.0))
            assert off.sum() <= (0 if name in least else 2), (name, k)
    np.testing.assert_allclose(a.sums, b.sums, atol=2 * within * max(throughput(b), 1.0))


def ratio_of(moving: Moving) -> float:
    """Machine turns for a turn of the crank, in the hardest gear."""
    return float(moving.geo[..., Geo.RATIO].max())


@some(25, 400)
@given(ride=rides(longest=5.0))
def test_a_finer_tolerance_says_the_same(ride: Ride) -> None:
    """Speeds and volts are within half a percent of their range of what a step two hundred times finer gives, at the
    tolerance of every scene and at half of it: the accuracy told."""
    moving = ride.moving()
    exact = played(ride, moving, tolerance=1e-6)
    assume(calm(exact))
    for tolerance in (TOLERANCE, TOLERANCE / 2):
        agree(played(ride, moving, tolerance=tolerance), exact, 5e-3, SPEEDS_AND_VOLTS, ratio_of(moving))


@some(25, 400)
@given(ride=rides(longest=5.0), share=st.floats(0.05, 0.5))
def test_happenings_do_not_hang_on_the_longest_step(ride: Ride, share: float) -> None:
    """The same things happen, in the same order and at the same moments, however short a step may be at most."""
    start = dataclasses.replace(ride.start, longest=ride.start.longest * share)
    short = dataclasses.replace(ride, start=start)
    a, b = (played(one, ride.moving(), tolerance=1e-6) for one in (ride, short))
    assume(calm(a))
    # what creeps up to its mark passes it a little sooner or later: a value within its accuracy is a moment within more
    for (code, rig), when in happenings(a).items():
        np.testing.assert_allclose(happenings(b)[code, rig], when, atol=max(5e-3, 3e-3 * ride.duration))
    assert a.events.shape == b.events.shape
    agree(a, b, 5e-3, (*SPEEDS_AND_VOLTS, Chan.AMPS), ratio_of(ride.moving()))


@some(12, 100)
@given(rig=texts(), effort=st.floats(40.0, 250.0), cadence=st.floats(2.0, 9.0))
def test_many_columns_are_many_single_rides(rig: tuple[str, str], effort: float, cadence: float) -> None:
    """Draws of a rig played together are, digit for digit, the draws played alone."""
    moving, _found = moving_of(*rig, effort, draws=6)
    begin = Start(w_crank=np.linspace(0.5, 1.0, moving.q.shape[0]) * cadence, want=effort)
    script = [(0.5, Act.ON, 0, 0.0), (1.5, Act.UNPLUG, 0, 0.0), (2.0, Act.PLUG, 0, 0.0)]
    times, columns = np.linspace(0.0, 2.5, 11), (0, 2, 3, 5, 6)
    together = play(moving, script, begin, duration=2.5, times=times, columns=columns)
    for column, one in zip(columns, together, strict=True):
        alone = play(moving, script, begin, duration=2.5, times=times, columns=(column,))[0]
        assert (one.status, one.steps) == (alone.status, alone.steps)
        assert np.array_equal(one.rows, alone.rows)
        assert np.array_equal(one.sums, alone.sums)
        assert np.array_equal(one.events, alone.events)


# ---- wheels, scaling, sharing ----------------------------------------------------------------------------------------


@some(20, 300)
@given(rig=texts(tool=False), effort=st.floats(50.0, 200.0), heavier=st.floats(1.2, 6.0))
def test_a_heavier_wheel_never_pulses_more(rig: tuple[str, str], effort: float, heavier: float) -> None:
    """The machine's speed swings no more within a turn when the wheel on its shaft has more inertia."""
    moving, found = moving_of(*rig, effort)
    w = float(found.w_hold[0, 0])
    assume(w > 2.0 and found.served[0, 0] and stands(moving, found, 0))
    swings = []
    for factor in (1.0, heavier):
        geo = moving.geo.copy()
        geo[..., Geo.J_SHAFT] *= factor
        begin = Start(w_crank=w, want=effort, switched_on=True, tires=False, heats=False)
        times = np.linspace(0.0, 40.0, 4001)
        done = play(frozen(dataclasses.replace(moving, geo=geo)), (), begin, duration=40.0, times=times)[0]
        assume(not np.isin(done.events[:, 1], (*LOST, Event.FUSE_OPENS)).any())
        speed = done.rows[times > 36.0, channel(Chan.W_SHAFT)]
        swings.append(
            float(
                np.ptp(speed - np.polyval(np.polyfit(np.arange(speed.size), speed, 1), np.arange(speed.size)))
            )
        )
    assert swings[1] <= swings[0] * 1.01 + 1e-6


def geared(moving: Moving, n: float) -> Moving:
    """n times the ratio, with a machine of K/n, friction/n, slope and inertia/n^2: the same rig at the crank."""
    q, mv, geo = moving.q.copy(), moving.mv.copy(), moving.geo.copy()
    geo[..., Geo.RATIO] *= n
    geo[..., Geo.GAIN] *= n
    geo[..., Geo.DRAG_AFTER] /= n
    geo[..., Geo.SLOPE_AFTER] /= n**2
    geo[..., Geo.J_SHAFT] /= n**2
    q[..., Param.K_EMF] /= n
    q[..., Param.R_SPEED] /= n
    q[..., Param.T_COULOMB] /= n
    q[..., Param.B_VISCOUS] /= n**2
    mv[..., Move.K_COLD] /= n
    return dataclasses.replace(moving, q=q, mv=mv, geo=geo)


@some(20, 300)
@given(ride=rides(most_rigs=1, longest=5.0), n=st.floats(1.3, 3.0))
def test_twice_the_ratio_is_twice_the_constant(ride: Ride, n: float) -> None:
    """Ratio and machine scaled against each other give the same ride, happening by happening, as long as it turns."""
    moving = ride.moving()
    assume(ride.start.w_crank > 2.0)
    a, b = (played(ride, m, tolerance=1e-6) for m in (moving, geared(moving, n)))
    stand = (
        a.rows[:, channel(Chan.W_SHAFT)] < 2.0 * n
    )  # the last of dry friction fades with the shaft's own speed
    last = int(np.argmax(stand)) if stand.any() else a.times.size
    assume(last > 3 and a.status == b.status == 0 and a.events.shape[0] < 200)
    until = a.times[last - 1]
    first, second = (np.sort(done.events[done.events[:, 0] < until, 1]) for done in (a, b))
    assert abs(first.size - second.size) <= 1  # one may fall on either side of the last sample
    if first.size == second.size:  # what happens in one moment may be told in either order
        assert np.array_equal(first, second)
    for name in (Chan.W_CRANK, Chan.AMPS, Chan.V_BUS, Chan.P_RIDER):
        x, y = a.rows[:last, channel(name)], b.rows[:last, channel(name)]
        off = np.abs(x - y) > 2e-3 * (np.abs(y) + float(np.ptp(y))) + 1e-3
        assert off.sum() <= (0 if name == Chan.W_CRANK else 2), name  # but for a sample beside a jump


@some(12, 100)
@given(
    rig=texts(plain=True), effort=st.floats(60.0, 200.0), rigs=st.integers(2, 3), lead=st.floats(0.01, 0.3)
)
def test_rigs_alike_share_alike(rig: tuple[str, str], effort: float, rigs: int, lead: float) -> None:
    """Rigs that are the same, on leads that are the same, turn and push the same."""
    one, found = moving_of(*rig, effort)
    w = float(found.w_hold[0, 0]) if math.isfinite(found.w_hold[0, 0]) else 6.0
    moving = join_rigs(one, [one] * (rigs - 1), [lead] * rigs)
    begin = Start(w_crank=w, want=effort, switched_on=True, tires=False, heats=False)
    script = [(1.0, Act.UNPLUG, 0, 0.0), (2.0, Act.PLUG, 0, 0.0)]
    done = play(moving, script, begin, duration=4.0, times=np.linspace(0.0, 4.0, 21))[0]
    assert done.status == 0
    assume(
        calm(done)
    )  # where boards sleep and wake in turn, one of them is the first, and the others carry its share
    for name in (Chan.W_CRANK, Chan.AMPS, Chan.V_BUS, Chan.AMPS_OUT):
        first, *others = (done.rows[:, channel(name, rigs, k)] for k in range(rigs))
        for other in others:
            np.testing.assert_allclose(other, first, rtol=1e-4, atol=1e-4)
