"""Where a board goes over from one way of running to another: nothing rattles at the edge for ever, and nothing is fed from
nowhere. Each scene once hung there, or took watts from no source.

The outside here is the law of energy: what the legs and the battery give is what is used, lost or stored.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.rig.movers import happened, mover, ride, series, shared

from sparewatt.rig.layout import Kind
from sparewatt.rig.motion import TOLERANCE, Moving, Played
from sparewatt.rig.motion_layout import Act, Chan, Event, Shared, Sum

BATTERY = {"has_battery": 1.0, "v_rest": 12.4, "r_store": 0.25}
MACHINE = {"k_emf": 0.09, "r_source": 0.35, "v_drop": 1.1, "t_coulomb": 0.03, "loss_0": 0.8, "loss_1": 0.08}
CALM = {"inductance": 3e-4, "capacitance": 4e-3, "v_wake": 7.0, "ripple": 0.5}


def closed(moving: Moving, **scene: object) -> Played:
    """The scene at the usual tolerance: within a thousandth every joule is accounted for, and none is pushed out that
    nobody takes."""
    done = ride(moving, np.linspace(0, 5, 101), tolerance=TOLERANCE, **scene)  # type: ignore[arg-type]
    spent = done.sums[Sum.DRIVE :].sum() + done.stores[1] - done.stores[0]
    gross = np.abs(done.sums).sum() / 2
    assert abs(done.sums[Sum.RIDER] - spent) < 1e-3 * gross
    assert abs(done.sums[Sum.SWITCHED]) < 1e-3 * gross
    assert done.steps < 5000
    return done


@pytest.mark.parametrize("loss", [0.02, 0.9])
@pytest.mark.parametrize(("limit", "v_set"), [(4.0, 14.0), (np.inf, 12.8)])
def test_a_step_up_board_at_its_edge(limit: float, v_set: float, loss: float) -> None:
    """Set a little above a battery: below its setting the board limits, above it everything comes straight through, and the
    bus goes over and back as the legs push and rest."""
    m = mover(
        param=MACHINE
        | {
            "kind": Kind.BOOST,
            "v_sleep": 5.0,
            "v_set": v_set,
            "v_loss": loss,
            "i_limit": limit,
            "u_rest": 12.4,
        },
        move=CALM,
        output=BATTERY | {"load_p": 10.0, "quit": 8.0},
    )
    done = closed(
        m,
        script=[(1.0, Act.EFFORT, 0, 200.0), (2.5, Act.EFFORT, 0, 60.0)],
        w_crank=5.0,
        want=60.0,
        switched_on=True,
    )
    assert len(happened(done, Event.PASSES)) >= 1
    assert np.max(series(done, Chan.AMPS_OUT)) > 4.5  # no limit holds what comes straight through


def test_an_amps_screw_on_a_load_of_steady_watts() -> None:
    """3 A into something that wants 75 W at 20 V: the output falls in as soon as it is switched on, and the load quits; it
    is never carried on amps that are not there."""
    m = mover(
        param=MACHINE | {"kind": Kind.BUCK_BOOST, "v_sleep": 5.0, "v_set": 20.0},
        move=CALM | {"i_set": 3.0},
        output={"load_p": 75.0, "load_g": 0.01, "quit": 8.0},
    )
    done = closed(m, script=[(1.0, Act.ON, 0, 0.0)], w_crank=7.0, want=120.0)
    quits = happened(done, Event.LOAD_QUITS)
    assert quits[0] < 1.01
    np.testing.assert_allclose(np.diff(quits), 0.5, atol=0.02)  # it tries again as often as it may


def test_a_tool_on_a_battery_while_the_rigs_board_sleeps() -> None:
    """Nobody pedals; the tool's own board takes in 15 A at most, and the battery's volts are those at 15 A."""
    m = mover(
        param=MACHINE | {"kind": Kind.BUCK, "v_sleep": 6.0, "v_set": 14.0, "u_rest": 12.4},
        move=CALM,
        output=BATTERY
        | {
            "motor": 2.0, "motor_k": 0.035, "motor_r": 1.5, "motor_l": 0.01, "motor_j": 2e-3, "motor_tc": 0.02,
            "motor_on": 1.0, "own_set": 60.0, "own_in": 15.0, "own_l0": 2.0, "own_l1": 0.08, "quit": 6.0,
        },
    )  # fmt: skip
    done = closed(m, script=[(0.5, Act.ON, 0, 0.0)], want=0.0, work=0.0)
    assert series(done, Shared.V_OUT).min() == pytest.approx(12.4 - 0.25 * 15.0, abs=1e-3)
    assert series(done, Shared.AMPS_BATTERY).min() == pytest.approx(-15.0, abs=1e-3)


def test_a_battery_comes_back_through_a_step_down_board() -> None:
    """The blocking diode is bridged: through the board's body diode the battery turns the machine, and sags as it does."""
    m = mover(
        param=MACHINE | {"kind": Kind.BUCK, "v_sleep": 6.0, "v_set": 14.0, "u_rest": 12.4},
        move=CALM | {"v_back_feed": 0.7, "v_brush": 0.6, "v_wake": 20.0},
        output=BATTERY,
    )
    done = closed(m, script=[(0.5, Act.DIODE_SHORT, 0, 0.0)], want=0.0)
    amps, volts = series(done, Shared.AMPS_BATTERY), series(done, Shared.V_OUT)
    assert amps.min() < -1.0
    np.testing.assert_allclose(volts, 12.4 + 0.25 * amps, atol=1e-9)
    np.testing.assert_allclose(amps[8:], series(done, Chan.AMPS)[8:], rtol=0.02, atol=0.02)
    assert series(done, Chan.W_SHAFT)[-1] > 80.0


def test_a_motor_behind_an_amps_screw_when_the_battery_is_unhooked() -> None:
    """A motor on the battery's terminals is left to the board alone, whose screw holds 3 A: it runs on at what there is."""
    m = mover(
        param=MACHINE | {"kind": Kind.BUCK_BOOST, "v_sleep": 5.0, "v_set": 13.5, "u_rest": 12.4},
        move=CALM | {"i_set": 3.0},
        output=BATTERY
        | {
            "motor": 2.0, "motor_k": 0.03, "motor_r": 1.0, "motor_l": 5e-3, "motor_j": 5e-4, "motor_tc": 0.05,
            "motor_tool": 0.08, "motor_on": 2.0,
        },
    )  # fmt: skip
    done = closed(m, script=[(0.5, Act.ON, 0, 0.0), (2.0, Act.UNHOOK, 0, 0.0)], w_crank=7.0, want=120.0)
    assert series(done, Shared.TOOL_AMPS)[:40].max() > 3.2
    assert series(done, Shared.TOOL_AMPS)[60:].max() < 3.04


def test_two_step_down_boards_out_of_volts_on_one_bus() -> None:
    """At its edge each takes more amps as a board than as a wire: it rests between the two."""
    rigs = [
        mover(
            param=MACHINE | {"kind": Kind.BUCK, "v_sleep": 5.0, "v_set": v_set, "v_loss": 0.3},
            move=CALM,
            output=BATTERY | {"load_g": 0.4},
        )
        for v_set in (14.0, 14.2)
    ]
    m = shared(rigs[0], rigs[1], (0.1, 0.2))
    done = closed(m, w_crank=5.5, want=(90.0, 110.0), switched_on=True)
    assert len(happened(done, Event.DROPS_OUT)) >= 1


def test_each_machine_on_a_bus_is_warmed_by_its_own_friction() -> None:
    """A machine alone, and beside another that stands still: nothing flows, and its friction warms it by the same (with
    magnets as warm as the case)."""
    one = mover(
        param={"t_coulomb": 0.1, "b_viscous": 2e-4},
        move={"w_top": 1e12, "w_sprint": 1e12, "peak": 1e15, "c_case": 100.0, "magnet_share": 1.0},
        geo={"j_crank": 50.0},
    )
    still = mover(param={"t_coulomb": 0.1}, move={"freewheel": 1.0})
    t = np.linspace(0, 20, 21)
    alone = ride(one, t, w_crank=6.0, want=0.0, heats=True, tolerance=TOLERANCE)
    both = ride(
        shared(one, still, (0.1, 0.1)), t, w_crank=6.0, want=(0.0, 0.0), heats=True, tolerance=TOLERANCE,
        script=[(0.0, Act.DIODE_OPEN, 0, 0.0), (0.0, Act.DIODE_OPEN, 1, 0.0), (0.0, Act.LEAVE, 1, 0.0)],
    )  # fmt: skip
    warmed = series(alone, Chan.MAGNET)
    assert warmed[-1] > 293.15 + 2.0
    np.testing.assert_allclose(series(both, Chan.MAGNET, 0), warmed, atol=0.02)
