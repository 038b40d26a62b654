"""The moving rig against a real circuit simulator: legs, drive, machine, diode, battery, capacitor and clamp.

Both take the same arrays. The kernel runs at the tolerance everybody gets; the simulator knows nothing of ways of being or
happenings. Bus volts and speed may differ by half a percent of their range at any of the sampled times.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.circuit.moving_circuits import battery, bus_side, legs, power_load, simulate, step_at, train
from tests.rig.movers import Scene, happened, mover, ride, series, shared

from sparewatt.rig.motion import TOLERANCE, Moving, Played
from sparewatt.rig.motion_layout import Act, Chan, Event, Shared

F = NDArray[np.float64]
HALF_PERCENT = 5e-3
DRIVE = {
    "ratio": 30.0, "gain": 34.0, "j_crank": 0.4, "j_shaft": 2e-3, "drag_before": 0.3, "slope_before": 0.02,
    "drag_after": 0.005, "slope_after": 1e-5,
}  # fmt: skip
MACHINE = {"k_emf": 0.075, "r_source": 0.3, "v_drop": 1.2, "t_coulomb": 0.03, "b_viscous": 1e-4}
BATTERY = {"has_battery": 1.0, "v_rest": 12.6, "r_store": 0.05}
WANT = 120.0  # W the rider is good for at the best cadence of a line to 15 rad/s
PUSH = f"{4 * WANT / 15.0:.12g}"
READS = {"w_crank": "v(wc0)", "w_shaft": "v(wg0)", "v_bus": "v(bus0)"}
CHANNELS = {"w_crank": Chan.W_CRANK, "w_shaft": Chan.W_SHAFT, "v_bus": Chan.V_BUS}


def played(
    moving: Moving, times: F, script: Scene = (), *, tolerance: float = TOLERANCE, **start: object
) -> Played:
    """The kernel, at its usual tolerance unless a test says why not."""
    return ride(moving, times, script=script, tolerance=tolerance, **({"want": WANT} | start))


def same(done: Played, found: dict[str, F], *, rig: int = 0, names: tuple[str, ...] = tuple(READS)) -> None:
    """Every named quantity within half a percent of its range at every sampled time but the first."""
    for name in names:
        ours, theirs = series(done, CHANNELS[name], rig)[1:], found[name][1:]
        reach = np.ptp(np.concatenate([ours, theirs]))
        assert np.max(np.abs(ours - theirs)) < HALF_PERCENT * reach, name


def start_of(done: Played, rig: int = 0) -> tuple[float, float]:
    """Bus volts and machine amps at the start, as the kernel has them."""
    return float(series(done, Chan.V_BUS, rig)[0]), float(series(done, Chan.AMPS, rig)[0])


def test_spin_up_from_rest_into_a_battery() -> None:
    """Legs on a chain, a freewheel and losses, a machine with all its drags, a diode and a battery: from standstill to
    where it settles."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6},
        geo=DRIVE,
        move={"capacitance": 1e-3, "ripple": 0.62},
        output=BATTERY,
    )
    t = np.linspace(0, 6, 61)
    lines = [*legs(m, PUSH, 0.0), *train(m, 0.0), *bus_side(m, 12.6), *battery(m)]
    done = played(m, t)
    assert len(happened(done, Event.DIODE_CONDUCTS)) == 1
    same(done, simulate("spin-up from rest into a battery", lines, t, READS, step=2e-3))


def test_pulses_of_the_legs_on_a_battery() -> None:
    """A light train on a battery: the diode conducts in each push and blocks in each dead centre."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6, "k_emf": 0.06, "r_source": 0.12},
        geo=DRIVE | {"j_shaft": 2e-4, "j_crank": 0.15},
        move={"capacitance": 1e-3, "ripple": 0.95},
        output=BATTERY,
    )
    t = np.linspace(0, 3, 121)
    done = played(m, t, w_crank=7.6)
    lines = [*legs(m, PUSH, 7.6), *train(m, 7.6), *bus_side(m, *start_of(done)), *battery(m)]
    assert len(happened(done, Event.DIODE_BLOCKS)) > 5
    same(done, simulate("pulses on a battery", lines, t, READS, step=1e-3))


@pytest.mark.parametrize("wheel", [1.0, 0.0])
def test_pulses_of_light_legs_before_a_heavy_machine(wheel: float) -> None:
    """Light legs before a heavy machine: with a freewheel it opens in each dead centre; without one the machine drives the
    crank through it, and the losses turn round."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6, "k_emf": 0.06, "r_source": 0.12},
        geo=DRIVE | {"j_shaft": 3e-3, "j_crank": 0.05, "drag_before": 1.5},
        move={"capacitance": 1e-3, "ripple": 0.95, "freewheel": wheel},
        output=BATTERY,
    )
    t = np.linspace(0, 3, 121)
    done = played(m, t, w_crank=7.8)
    lines = [*legs(m, PUSH, 7.8), *train(m, 7.8), *bus_side(m, *start_of(done)), *battery(m)]
    assert (len(happened(done, Event.FREEWHEEL_OPENS)) > 5) == (wheel > 0)
    same(done, simulate("pulses before a heavy machine", lines, t, READS, step=2e-4, tol=1e-6))


def test_pulses_behind_a_capacitor_and_a_resistor() -> None:
    """0.2 F carry a resistor through the trough of each push: the diode blocks and conducts twice a turn."""
    m = mover(
        param=MACHINE,
        geo=DRIVE | {"j_shaft": 2e-4, "j_crank": 0.1},
        move={"capacitance": 0.2, "ripple": 0.95, "g_bleed": 1 / 8.0},
    )
    t = np.linspace(0, 3, 121)
    done = played(m, t, w_crank=7.6)
    lines = [*legs(m, PUSH, 7.6), *train(m, 7.6), *bus_side(m, *start_of(done))]
    assert len(happened(done, Event.DIODE_BLOCKS)) > 5
    same(done, simulate("pulses behind a capacitor and a resistor", lines, t, READS, step=1e-3))


def test_a_load_of_steady_watts_stalls_the_legs() -> None:
    """120 W straight on the bus, more than the legs can carry: a slow sink, the collapse, and a crawl with the machine as
    good as shorted. Below three tenths of a volt the load fades in proportion, in both."""
    m = mover(
        param=MACHINE,
        geo=DRIVE,
        move={"capacitance": 5e-3, "ripple": 0.3},
        output={"load_p": 140.0},
    )
    t = np.linspace(0, 8, 161)
    script = [(0.5, Act.ON, 0, 0.0)]
    done = played(m, t, script, w_crank=11.0)
    load = "v(on)*140*v(bus0)/max(v(bus0),0.3)"
    lines = [
        *legs(m, PUSH, 11.0),
        *train(m, 11.0),
        *bus_side(m, *start_of(done)),
        step_at("on", [(0.5, 1.0)], 0.0),
        power_load(load),
    ]
    assert series(done, Chan.V_BUS).max() > 20.0
    assert series(done, Chan.V_BUS)[-1] < 0.2
    same(done, simulate("steady watts stall the legs", lines, t, READS, step=1e-3))


@pytest.mark.parametrize("clamp", [False, True])
def test_the_load_is_thrown_off(clamp: bool) -> None:
    """A resistor and a battery are unplugged in full ride: the bus races, and with a clamp it is held at 22 V while the
    clamp burns what the legs push."""
    limit = {"v_clamp": 22.0, "r_clamp": 3.0} if clamp else {}
    m = mover(
        param=MACHINE | {"u_rest": 12.6},
        geo=DRIVE,
        move={"capacitance": 2e-3, "ripple": 0.5, "g_bleed": 1 / 1000.0} | limit,
        output=BATTERY | {"load_g": 0.15},
    )
    t = np.linspace(0, 4, 161)
    done = played(m, t, [(1.0, Act.UNPLUG, 0, 0.0)], w_crank=6.5, switched_on=True)
    lines = [
        *legs(m, PUSH, 6.5),
        *train(m, 6.5),
        *bus_side(m, *start_of(done)),
        step_at("plug", [(1.0, 0.0)], 1.0),
        *battery(m, switch="plug"),
        "Blamp bus0 0 i=v(plug)*0.15*v(bus0)",
    ]
    top = series(done, Chan.V_BUS).max()
    assert 22.0 < top < 22.45 if clamp else top > 28.0
    same(done, simulate("the load is thrown off", lines, t, READS, step=5e-4))


def test_a_missing_diode_lets_the_battery_turn_the_machine() -> None:
    """The rider stops on a drive without a freewheel: current turns round, the battery drives machine, chain and pedals."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6, "has_diode": 0.0, "v_drop": 0.8},
        geo=DRIVE,
        move={"capacitance": 1e-3, "freewheel": 0.0, "ripple": 0.4, "v_brush": 0.8},
        output=BATTERY,
    )
    t = np.linspace(0, 5, 101)
    done = played(m, t, [(1.5, Act.STOP, 0, 0.0)], w_crank=7.5)
    lines = [
        *legs(m, f"v(ride)*{PUSH}", 7.5),
        *train(m, 7.5),
        *bus_side(m, *start_of(done)),
        *battery(m),
        step_at("ride", [(1.5, 0.0)], 1.0),
    ]
    assert len(happened(done, Event.BATTERY_DRIVES)) >= 1
    assert series(done, Chan.AMPS)[-1] < -0.8
    same(done, simulate("a missing diode", lines, t, READS, step=1e-3))


def test_a_battery_starts_a_machine_that_stands_still() -> None:
    """Behind a freewheel the machine runs up alone: its current peaks, its speed settles, the crank stands."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6, "has_diode": 0.0, "v_drop": 0.8},
        geo=DRIVE,
        move={"capacitance": 1e-3, "inductance": 5e-3, "v_brush": 0.8},
        output=BATTERY,
    )
    t = np.linspace(0, 1.5, 151)
    done = played(m, t, [(0.0, Act.STOP, 0, 0.0)])
    lines = [*train(m, 0.0), *bus_side(m, 12.6), *battery(m), "Vwc0 wc0 0 0"]
    found = simulate("a battery starts a machine", lines, t, READS, step=2e-4)
    same(done, found, names=("w_shaft", "v_bus"))
    assert series(done, Chan.AMPS).min() < -20.0


def test_the_machine_overruns_legs_that_stop() -> None:
    """Legs stop in a quarter of a second and the freewheel opens; two seconds later they push again, slowly at first, and it
    takes hold where crank and machine meet."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6},
        geo=DRIVE | {"j_shaft": 6e-3},
        move={"capacitance": 1e-3, "ripple": 0.5, "reaction": 0.6},
        output=BATTERY,
    )
    t = np.linspace(0, 5, 201)
    script = [(1.0, Act.STOP, 0, 0.0), (3.0, Act.PEDAL, 0, 0.0)]
    done = played(m, t, script, w_crank=7.0)
    late = "max(0,(time-3)/0.3)"
    again = f"(1-(1+{late})*exp(-{late}))"
    lines = [
        *legs(m, f"(v(ride)>0.5 ? (time<2 ? 1 : {again})*{PUSH} : 0)", 7.0),
        # what brings the legs to rest: their own inertia over a quarter of a second
        "Bstop wc0 0 i=(1-v(ride))*0.4*v(wc0)/0.25",
        *train(m, 7.0),
        *bus_side(m, *start_of(done)),
        *battery(m),
        step_at("ride", [(1.0, 0.0), (3.0, 1.0)], 1.0),
    ]
    assert len(happened(done, Event.FREEWHEEL_OPENS)) >= 1
    assert len(happened(done, Event.FREEWHEEL_TAKES)) >= 1
    same(done, simulate("freewheel overrun", lines, t, READS, step=1e-3))


def test_one_of_two_riders_steps_off() -> None:
    """Two rigs, each through its diode and lead onto one bus with a resistor; at two seconds the second rider's legs go.

    The shared bus has no capacitor in the kernel; the simulator's is a thousandth of each rig's own.
    """
    first = mover(
        param=MACHINE, geo=DRIVE, move={"capacitance": 5e-3, "ripple": 0.5}, output={"load_g": 0.25}
    )
    second = mover(
        param=MACHINE | {"k_emf": 0.08},
        geo=DRIVE | {"ratio": 28.0, "gain": 31.0},
        move={"capacitance": 4e-3, "ripple": 0.6},
    )
    m = shared(first, second, (0.15, 0.3))
    t = np.linspace(0, 5, 101)
    script = [(2.0, Act.LEAVE, 1, 0.0)]
    done = played(m, t, script, w_crank=6.0, want=(WANT, 90.0), switched_on=True)
    other = f"{4 * 90.0 / 15.0:.12g}"
    lines = [
        *legs(m, PUSH, 6.0),
        *train(m, 6.0),
        *bus_side(m, *start_of(done, 0)),
        *legs(m, f"v(ride)*{other}", 6.0, 1),
        "Bstop wc1 0 i=(1-v(ride))*0.4*v(wc1)/0.25",
        *train(m, 6.0, 1),
        *bus_side(m, *start_of(done, 1), 1),
        step_at("ride", [(2.0, 0.0)], 1.0),
        "Rlead0 bus0 both 0.15",
        "Rlead1 bus1 both 0.3",
        "Cboth both 0 5e-6 ic=12",
        "Rlamp both 0 4",
    ]
    reads = READS | {"w_other": "v(wc1)", "v_other": "v(bus1)", "v_both": "v(both)"}
    found = simulate("two riders on one bus", lines, t, reads, step=1e-3)
    same(done, found)
    same(done, {"w_crank": found["w_other"], "v_bus": found["v_other"]}, rig=1, names=("w_crank", "v_bus"))
    both = series(done, Shared.V_OUT)[1:]
    assert np.max(np.abs(both - found["v_both"][1:])) < HALF_PERCENT * np.ptp(both)
    assert series(done, Chan.W_CRANK, 1)[-1] < 0.5
