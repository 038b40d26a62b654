"""The moving rig against a real circuit simulator: boards that regulate, give up, sleep, wake, pass through and limit, and
what hangs on them.

Each netlist states the law of its board as one expression of the bus volts and, where the board remembers, of a capacitor
that stands for what it remembers. Half a percent of the range at any sampled time, the kernel at its usual tolerance.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from tests.circuit.moving_circuits import bus_side, clip, legs, simulate, step_at, train
from tests.circuit.test_motion_circuits import (
    BATTERY,
    DRIVE,
    HALF_PERCENT,
    MACHINE,
    PUSH,
    READS,
    WANT,
    played,
    same,
    start_of,
)
from tests.rig.movers import happened, mover, series, shared

from sparewatt.rig.layout import Kind
from sparewatt.rig.motion import TOLERANCE
from sparewatt.rig.motion_layout import Act, Chan, Event, Shared

F = NDArray[np.float64]
LOSS = {"loss_0": 0.5, "loss_1": 0.08, "loss_2": 2e-4}
LOW = "max(v(bus0),0.3)"
CALM = {"capacitance": 4e-3, "inductance": 3e-4}  # a node that does not swing by itself


def taken(watts: str) -> str:
    """Watts a board of `LOSS` takes in for watts out."""
    return f"(({watts})*1.08+0.5+2e-4*({watts})*({watts}))"


def remembers(name: str, wakes: float, sleeps: float, first: float, bus: str = "bus0") -> list[str]:
    """A node that is 1 while a board is awake and 0 while it sleeps. A capacitor that the bus charges or empties at once
    remembers; the node follows it a moment later, so that what the bus does then cannot undo it half way."""
    told = f"(v({bus})>{wakes} ? 1 : (v({bus})<{sleeps} ? 0 : (v({name}m)>0.5 ? 1 : 0)))"
    return [
        f"C{name}m {name}m 0 1e-6 ic={first}",
        f"B{name}m 0 {name}m i=({told}-v({name}m))*0.1",
        f"C{name} {name} 0 1e-6 ic={first}",
        f"B{name} 0 {name} i=((v({name}m)>0.5 ? 1 : 0)-v({name}))*0.1",
    ]


def rises(name: str, awake: str, time: float, first: float) -> list[str]:
    """A node that climbs to 1 in a time while a board is awake and falls at once when it sleeps: its soft start."""
    climbs = f"{1 / time:.9g}*{clip(f'(1-v({name}))*1e4')}"
    return [
        f"C{name} {name} 0 1 ic={first}",
        f"B{name} 0 {name} i=v({awake})>0.5 ? {climbs} : -1e4*v({name})",
    ]


def test_a_board_sinks_collapses_and_sleeps() -> None:
    """100 W on a board with losses: cadence and volts sink for seconds, the node falls over its edge within milliseconds,
    the board sleeps, lets its load go and the legs race."""
    m = mover(
        param=MACHINE | LOSS | {"kind": Kind.BUCK_BOOST, "v_sleep": 9.0, "v_set": 24.0},
        geo=DRIVE,
        move=CALM | {"ripple": 0.3, "v_wake": 26.0},
        output={"load_p": 100.0},
    )
    t = np.linspace(0, 3, 121)
    done = played(m, t, [(0.5, Act.ON, 0, 0.0)], w_crank=12.5)
    lines = [
        *legs(m, PUSH, 12.5),
        *train(m, 12.5),
        *bus_side(m, *start_of(done)),
        step_at("on", [(0.5, 100.0)], 0.0),
        *remembers("awake", 26.0, 9.0, 1.0),
        f"Bboard bus0 0 i=v(awake)*{taken('v(on)')}/{LOW}",
    ]
    assert len(happened(done, Event.SLEEPS)) == 1
    assert happened(done, Event.SLEEPS)[0] > 1.0
    same(done, simulate("a board collapses and sleeps", lines, t, READS, step=1e-3))


def test_a_board_hiccups() -> None:
    """A load beyond the legs on a board that wakes again by itself: it sleeps, the legs race, it wakes, starts softly, takes
    its load back and sags; four times over. Not sampled in the 4 ms around each, where the node leaps through its range."""
    m = mover(
        param=MACHINE | LOSS | {"kind": Kind.BUCK_BOOST, "v_sleep": 10.0, "v_set": 24.0},
        geo=DRIVE,
        move=CALM | {"ripple": 0.4, "v_wake": 16.0, "t_soft": 0.1},
        output={"load_p": 95.0},
    )
    t = np.linspace(0, 4, 401)
    leaps = played(m, t, w_crank=8.0, switched_on=True).events[:, 0]
    t = t[[k == 0 or float(np.min(np.abs(leaps - x))) > 4e-3 for k, x in enumerate(t)]]
    assert t.size > 380
    done = played(m, t, w_crank=8.0, switched_on=True)
    lines = [
        *legs(m, PUSH, 8.0),
        *train(m, 8.0),
        *bus_side(m, *start_of(done)),
        *remembers("awake", 16.0, 10.0, 1.0),
        *rises("soft", "awake", 0.1, 1.0),
        f"Bboard bus0 0 i=v(awake)*(v(soft)>0.9999 ? {taken('95')} : 0.5*v(soft))/{LOW}",
    ]
    assert len(happened(done, Event.SLEEPS)) >= 3
    same(done, simulate("a board hiccups", lines, t, READS, step=2e-4))


def test_a_step_up_board_passes_through() -> None:
    """Set to 14.4 V into a resistor: it steps up, then more push lifts the bus over its setting and it is a wire with a
    diode, then the push goes and it holds again."""
    m = mover(
        param=MACHINE | LOSS | {"kind": Kind.BOOST, "v_sleep": 6.0, "v_set": 14.4, "v_loss": 0.45},
        geo=DRIVE,
        move=CALM | {"ripple": 0.4, "reaction": 0.4, "v_wake": 8.0},
        output={"load_g": 0.12},
    )
    t = np.linspace(0, 6, 241)
    script = [(1.0, Act.EFFORT, 0, 200.0), (3.0, Act.EFFORT, 0, 25.0)]
    done = played(m, t, script, w_crank=5.5, want=70.0, switched_on=True)
    x, z = "max(0,(time-1)/0.2)", "max(0,(time-3)/0.2)"
    more, less = f"(1-(1+{x})*exp(-{x}))", f"(1-(1+{z})*exp(-{z}))"
    held = taken("14.4^2*0.12")
    lines = [
        *legs(m, f"4/15*(70+130*{more}-175*{less})", 5.5),
        *train(m, 5.5),
        *bus_side(m, *start_of(done)),
        f"Bboard bus0 0 i=v(bus0)>14.85 ? 0.12*(v(bus0)-0.45) : {held}/{LOW}",
        "Bout out 0 v=max(14.4,v(bus0)-0.45)",
        "Rout out 0 1e6",
    ]
    assert len(happened(done, Event.PASSES)) >= 1
    assert len(happened(done, Event.HOLDS_AGAIN)) >= 1
    found = simulate("a step-up board passes through", lines, t, READS | {"v_out": "v(out)"}, step=5e-4)
    same(done, found)
    volts = series(done, Shared.V_OUT)[1:]
    assert np.max(np.abs(volts - found["v_out"][1:])) < HALF_PERCENT * np.ptp(volts)


def test_a_step_down_board_runs_out_of_volts_and_hits_its_amps() -> None:
    """Set to 18 V into a resistor, 6 A at most on its input: it drops out while the bus is low, holds above, and its input
    is limited in between."""
    m = mover(
        param=MACHINE
        | LOSS
        | {"kind": Kind.BUCK, "v_sleep": 4.0, "v_set": 18.0, "v_loss": 0.6, "i_limit": 4.0},
        geo=DRIVE,
        move=CALM | {"ripple": 0.5, "v_wake": 5.0},
        output={"load_g": 0.24},
    )
    t = np.linspace(0, 6, 241)
    done = played(m, t, w_crank=3.0, want=190.0, switched_on=True)
    held = f"min(4,{taken('18^2*0.24')}/{LOW})"
    through = "min(4,0.24*(v(bus0)-0.6))"
    edge, top = 18.6, 1.002 * 18.6
    share = f"(v(bus0)-{edge})/{top - edge:.9g}"
    board = f"v(bus0)>{top:.9g} ? {held} : (v(bus0)>{edge} ? ({share})*{held}+(1-({share}))*{min(4, 18 * 0.24)} : {through})"
    lines = [
        *legs(m, "4/15*190", 3.0),
        *train(m, 3.0),
        *bus_side(m, *start_of(done)),
        f"Bboard bus0 0 i={board}",
    ]
    labels = set(series(done, Chan.LABEL))
    same(done, simulate("a step-down board out of volts", lines, t, READS, step=5e-4))
    assert labels >= {1.0, 2.0, 4.0}


def test_constant_amps_into_a_battery_from_rest() -> None:
    """From standstill a step-down board wakes at 16 V, starts softly and charges with 5 A wherever the bus is."""
    m = mover(
        param=MACHINE | LOSS | {"kind": Kind.BUCK_BOOST, "v_sleep": 10.0, "v_set": 14.4, "u_rest": 12.6},
        geo=DRIVE,
        move=CALM | {"ripple": 0.4, "v_wake": 16.0, "t_soft": 0.3, "i_set": 5.0},
        output=BATTERY,
    )
    t = np.linspace(0, 5, 201)
    done = played(m, t)
    watts = (12.6 + 0.05 * 5.0) * 5.0
    lines = [
        *legs(m, PUSH, 0.0),
        *train(m, 0.0),
        *bus_side(m, start_of(done)[0]),
        *remembers("awake", 16.0, 10.0, 0.0),
        *rises("soft", "awake", 0.3, 0.0),
        f"Bboard bus0 0 i=v(awake)*v(soft)*{taken(f'{watts:.9g}')}/{LOW}",
    ]
    assert len(happened(done, Event.WAKES)) == 1
    same(done, simulate("constant amps into a battery", lines, t, READS, step=1e-3))


def test_a_lamp_surges() -> None:
    """A filament eleven times its running current when cold, straight on the bus: the volts dip and come back."""
    m = mover(
        param=MACHINE,
        geo=DRIVE,
        move={"capacitance": 10e-3, "ripple": 0.3},
        output={"load_g": 0.25, "surge": 11.0, "t_surge": 0.06},
    )
    t = np.linspace(0, 2, 201)
    done = played(m, t, [(0.5, Act.ON, 0, 0.0)], w_crank=8.0)
    lines = [
        *legs(m, PUSH, 8.0),
        *train(m, 8.0),
        *bus_side(m, *start_of(done)),
        step_at("on", [(0.5, 1.0)], 0.0),
        "Blamp bus0 0 i=v(on)*0.25*(1+10*exp(-max(0,time-0.5)/0.06))*v(bus0)",
    ]
    same(done, simulate("a lamp surges", lines, t, READS, step=2e-4))


@pytest.mark.parametrize("i_sat", [1e12, 6.0])
def test_a_series_motor_starts_on_a_limited_board(i_sat: float) -> None:
    """A universal motor on a board of 48 V with an amps screw at 3 A: steady amps, then the board's volts, then the fan
    holds it; the legs feel it come on. At four seconds the blade bites.

    At a quarter of the usual tolerance: the knee of the amps screw is no happening, so the step across it is not cut there.
    """
    m = mover(
        param=MACHINE | LOSS | {"kind": Kind.BUCK_BOOST, "v_sleep": 8.0, "v_set": 48.0},
        geo=DRIVE,
        move=CALM | {"capacitance": 6e-3, "ripple": 0.3, "v_wake": 10.0, "i_set": 3.0},
        output={
            "motor": 1.0, "motor_k": 0.03, "motor_r": 4.0, "motor_l": 0.02, "motor_sat": i_sat, "motor_j": 1.2e-4,
            "motor_tc": 0.015, "motor_fan": 1e-7, "motor_tool": 0.06, "motor_brush": 1.0,
        },
    )  # fmt: skip
    t = np.linspace(0, 6, 241)
    script = [(0.5, Act.ON, 0, 0.0), (4.0, Act.WORK, 0, 0.3)]
    done = played(m, t, script, w_crank=9.0, want=170.0, work=0.0, tolerance=TOLERANCE / 4)
    flux = f"(0.03*i(Vtool)/(1+i(Vtool)/{i_sat:.9g}))"
    board = "v(on)*48*" + clip("(1.01-i(Vtool)/3)/0.02")
    lines = [
        *legs(m, "4/15*170", 9.0),
        *train(m, 9.0),
        *bus_side(m, *start_of(done)),
        step_at("on", [(0.5, 1.0)], 0.0),
        step_at("work", [(4.0, 0.3)], 0.0),
        f"Bboard feed 0 v={board}",
        "Lmotor feed turns 0.02 ic=0",
        "Rmotor turns brush 4",
        f"Bbrush brush arms v={clip('i(Vtool)/0.02')}",
        "Vtool arms spin 0",
        f"Bspin spin 0 v={flux}*v(wm)",
        "Cwm wm 0 1.2e-4 ic=0",
        f"Bpull 0 wm i={flux}*i(Vtool)",
        f"Bheld wm 0 i=(0.015+v(work)*0.06)*{clip('v(wm)/2')}+1e-7*v(wm)*v(wm)",
        f"Bdraw bus0 0 i={taken('v(feed)*i(Vtool)')}/{LOW}",
    ]
    found = simulate(
        "a series motor starts on a limited board", lines, t, READS | {"w_tool": "v(wm)"}, step=2e-4
    )
    same(done, found)
    tool = series(done, Shared.TOOL_SPEED)[1:]
    assert tool.max() > 300.0
    assert np.max(np.abs(tool - found["w_tool"][1:])) < HALF_PERCENT * np.ptp(tool)


def test_two_boards_share_a_battery_and_one_rider_leaves() -> None:
    """Two rigs on boards of 14.2 and 14.3 V, each behind its lead, on one battery and lamp. The second rider steps off: that
    bus sinks on what the machine's wheel still holds, its board sleeps, and the first has to carry what is left."""
    first = mover(
        param=MACHINE | LOSS | {"kind": Kind.BUCK_BOOST, "v_sleep": 8.0, "v_set": 14.2},
        geo=DRIVE,
        move=CALM | {"ripple": 0.4, "v_wake": 10.0},
        output={"has_battery": 1.0, "v_rest": 13.2, "r_store": 0.25, "load_g": 0.15},
    )
    second = mover(
        param=MACHINE | LOSS | {"kind": Kind.BUCK_BOOST, "v_sleep": 9.0, "v_set": 14.3},
        geo=DRIVE | {"j_shaft": 5e-3},
        move=CALM | {"ripple": 0.6, "v_wake": 11.0},
    )
    m = shared(first, second, (0.1, 0.2))
    t = np.linspace(0, 5, 201)
    script = [(2.0, Act.LEAVE, 1, 0.0)]
    done = played(m, t, script, w_crank=8.0, want=(WANT, 100.0), switched_on=True)
    amps = [f"max(0,({volts}-v(both))/{lead})" for volts, lead in ((14.2, 0.1), (14.3, 0.2))]
    asleep = happened(done, Event.SLEEPS, 1)
    assert len(asleep) == 1
    lines = [
        *legs(m, PUSH, 8.0),
        *train(m, 8.0),
        *bus_side(m, *start_of(done, 0)),
        *legs(m, "v(ride)*4/15*100", 8.0, 1),
        "Bstop wc1 0 i=(1-v(ride))*0.4*v(wc1)/0.25",
        *train(m, 8.0, 1),
        *bus_side(m, *start_of(done, 1), 1),
        step_at("ride", [(2.0, 0.0)], 1.0),
        *remembers("awake", 11.0, 9.0, 1.0, "bus1"),
        f"Bin0 bus0 0 i={taken(f'14.2*{amps[0]}')}/{LOW}",
        f"Bin1 bus1 0 i=v(awake)*{taken(f'14.3*{amps[1]}')}/max(v(bus1),0.3)",
        f"Bout0 0 both i={amps[0]}",
        f"Bout1 0 both i=v(awake)*{amps[1]}",
        "Bcell both 0 i=(v(both)-13.2)/0.25+0.15*v(both)",
        "Cboth both 0 1e-5 ic=13.9",
    ]
    reads = READS | {"w_other": "v(wc1)", "v_other": "v(bus1)", "v_both": "v(both)"}
    found = simulate("two boards on one battery", lines, t, reads, step=5e-4)
    same(done, found)
    same(done, {"w_crank": found["w_other"], "v_bus": found["v_other"]}, rig=1, names=("w_crank", "v_bus"))
    both = series(done, Shared.V_OUT)[1:]
    assert np.max(np.abs(both - found["v_both"][1:])) < HALF_PERCENT * np.ptp(both)
