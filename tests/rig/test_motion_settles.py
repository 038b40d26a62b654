"""A steady state is where the moving rig ends: what the map says of each demo, found again by playing it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sparewatt.files import demo_text, read_text
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.motion import Start, bind_motion, channel, play
from sparewatt.rig.motion_layout import Chan, Move, Out, Shared
from sparewatt.rig.operating import operate

CASES = [("skerry", "charge"), ("skerry", "chart lamp"), ("cellar", "charge"), ("cellar", "radio")]


@pytest.mark.parametrize(("demo", "load"), CASES)
@pytest.mark.parametrize("off", [0.97, 1.03])
def test_a_demo_settles_where_the_map_holds(demo: str, load: str, off: float) -> None:
    """Started 3 % off, at the temperatures of the state, an even push ends within 0.5 % of its cadence, volts and amps in
    every gear that holds (its bleeder, its clamp and the crowding of a battery near full, which the map leaves out,
    taken off)."""
    filled = fill(read_text(demo_text(demo)).rig)
    solved = operate(filled, ask_for(filled.rig, load=load, draws=0))
    moving = bind_motion(filled, solved.bound)
    moving.oc[:, Out.TAIL], moving.mv[:, :, Move.G_BLEED], moving.mv[:, :, Move.V_CLAMP] = 1.0, 0.0, math.inf
    found, met = solved.found, 0
    for gear in range(len(solved.bound.gears)):
        w = float(found.w_hold[gear, 0])
        if not math.isfinite(w) or (off < 1 and float(found.w_tip[gear, 0]) > off * w):
            continue
        start = Start(
            gear=gear, w_crank=off * w, want=solved.ask.effort, switched_on=load != "charge", tires=False, heats=False,
            winding=solved.warmth.winding, even=True,
        )  # fmt: skip
        done = play(moving, (), start, duration=100.0, times=np.array([0.0, 100.0]))[0]
        last = done.rows[-1]
        assert last[channel(Chan.W_CRANK)] == pytest.approx(w, rel=5e-3)
        assert last[channel(Chan.AMPS)] == pytest.approx(float(found.i_out[gear, 0]), rel=5e-3)
        assert last[channel(Shared.V_OUT, 1)] == pytest.approx(float(found.v_out[gear, 0]), rel=5e-3)
        met += 1
    assert met
