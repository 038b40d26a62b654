"""The moving rig on the demo rigs: energy closes, the map's holding point stands still, both ways of running agree."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from sparewatt.files import demo_text, read_text
from sparewatt.parts import Measured
from sparewatt.rig import solve
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import fill
from sparewatt.rig.motion import Moving, Start, bind_motion, channel, play
from sparewatt.rig.motion_layout import Act, Chan, Move, Out, Sum

CASES = [("skerry", "charge", 125.0, 3), ("cellar", "charge", 60.0, 0), ("skerry", "chart lamp", 60.0, 4)]


def moving(demo: str, load: str, effort: float, *, even: bool = False) -> tuple[Moving, np.ndarray]:
    """A demo rig in motion, with every push even over the turn if asked, and the holding cadence of each gear."""
    rig = read_text(demo_text(demo)).rig
    if even:
        flat = Measured(1.0, 0.0, "measured")
        rig = dataclasses.replace(
            rig, rider=tuple(dataclasses.replace(r, peak_to_mean=flat) for r in rig.rider)
        )
    filled = fill(rig)
    bound = bind(filled, load, effort=effort, draws=0)
    found, _w, _kind = solve.crossings(bound, effort)
    return bind_motion(filled, bound), found.w_hold[:, 0]


@pytest.mark.parametrize(("demo", "load", "effort", "gear"), CASES)
def test_the_holding_point_of_the_map_stands_still(demo: str, load: str, effort: float, gear: int) -> None:
    """Started at the map's holding point, an evenly pushed rig stays there within 0.2 % (its bleeder and the crowding
    of a battery near full, which the map leaves out, taken off)."""
    m, hold = moving(demo, load, effort, even=True)
    m.mv[:, :, Move.G_BLEED], m.oc[:, Out.TAIL] = 0.0, 1.0
    w = float(hold[gear])
    start = Start(gear=gear, w_crank=w, want=effort, switched_on=True, tires=False, heats=False)
    done = play(m, (), start, duration=20.0, times=np.array([0.0, 20.0]))[0]
    assert done.status == 0
    assert done.rows[-1, channel(Chan.W_CRANK)] == pytest.approx(w, rel=2e-3)


@pytest.mark.parametrize(("demo", "load", "effort", "gear"), CASES)
def test_energy_closes_through_shift_plug_and_stop(demo: str, load: str, effort: float, gear: int) -> None:
    """Work of the legs equals tolls, what is delivered and what is stored, within 0.1 %."""
    m, hold = moving(demo, load, effort)
    script = [
        (4.0, Act.UNPLUG, 0, 0.0),
        (6.0, Act.PLUG, 0, 0.0),
        (9.0, Act.STOP, 0, 0.0),
        (12.0, Act.PEDAL, 0, 0.0),
    ]
    start = Start(gear=gear, w_crank=float(hold[gear]), want=effort, switched_on=True)
    done = play(m, script, start, duration=20.0, times=np.linspace(0, 20, 21))[0]
    spent = done.sums[Sum.DRIVE :].sum() + done.stores[1] - done.stores[0]
    assert done.sums[Sum.RIDER] == pytest.approx(spent, rel=1e-3)
    assert abs(done.sums[Sum.SWITCHED]) < 1e-3 * done.sums[Sum.RIDER]


def test_the_plain_twin_gives_the_same_ride() -> None:
    """The same source run as plain Python gives the same numbers."""
    m, hold = moving("skerry", "charge", 125.0)
    start = Start(gear=2, w_crank=float(hold[2]), want=125.0, switched_on=True)
    script = [(1.0, Act.UNPLUG, 0, 0.0)]
    times = np.linspace(0, 2, 21)
    fast, plain = (play(m, script, start, duration=2.0, times=times, plain=p)[0] for p in (False, True))
    np.testing.assert_allclose(fast.rows, plain.rows, rtol=1e-7, atol=1e-9)
    np.testing.assert_allclose(fast.sums, plain.sums, rtol=1e-7, atol=1e-9)
