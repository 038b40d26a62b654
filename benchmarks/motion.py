"""The moving rig: against a circuit simulator on one circuit in the same run, an hour of riding, and the spread runs."""

from __future__ import annotations

import time

import numpy as np
from tests.circuit.moving_circuits import battery, bus_side, legs, simulate, train
from tests.circuit.test_motion_circuits import BATTERY, CHANNELS, DRIVE, MACHINE, PUSH, READS, played
from tests.rig.movers import mover, series

from sparewatt.files import demo_text, read_text
from sparewatt.rig import warm
from sparewatt.rig.fill import fill
from sparewatt.rig.motion import play
from sparewatt.studies.scenes.script import script_from_words
from sparewatt.studies.scenes.seconds import stage_scene

__all__ = ["measure"]

SECONDS = 6.0  # of the circuit
ROUNDS = 20


def measure() -> list[tuple[str, float, str, str]]:
    """Rows of (what, value, unit, bound)."""
    warm.main()
    ratio, apart = _against_simulator()
    hour, spread = _long_and_many()
    return [
        ("moving rig, times faster than a circuit simulator", ratio, "x", ">= 1000"),
        ("apart from it, worst share of range of speed and volts", apart, "share", "<= 0.005"),
        ("one hour of riding, push by push", hour, "s", "<= 0.2"),
        ("200 spread runs of a 30 s scene", spread, "s", "<= 0.5"),
    ]


def _against_simulator() -> tuple[float, float]:
    """Legs, freewheel, losses, machine, diode and battery from standstill: time ratio, worst deviation over range."""
    m = mover(
        param=MACHINE | {"u_rest": 12.6},
        geo=DRIVE,
        move={"capacitance": 1e-3, "ripple": 0.62},
        output=BATTERY,
    )
    times = np.linspace(0, SECONDS, 61)
    lines = [*legs(m, PUSH, 0.0), *train(m, 0.0), *bus_side(m, 12.6), *battery(m)]
    began = time.perf_counter()
    theirs = simulate("spin-up from rest into a battery", lines, times, READS, step=2e-3)
    simulator = time.perf_counter() - began
    done = played(m, times)
    began = time.perf_counter()
    for _ in range(ROUNDS):
        done = played(m, times)
    ours = (time.perf_counter() - began) / ROUNDS
    worst = 0.0
    for name in READS:
        a, b = series(done, CHANNELS[name], 0)[1:], theirs[name][1:]
        worst = max(worst, float(np.max(np.abs(a - b)) / np.ptp(np.concatenate([a, b]))))
    return simulator / ours, worst


def _long_and_many() -> tuple[float, float]:
    """Seconds for an hour of riding with leg ripple, heat, charge and reserve; and for 200 spread runs of 30 s."""
    filled = fill(read_text(demo_text("skerry")).rig)
    best = []
    for words, duration, columns, tolerance in (
        ("riding", 3600.0, (0,), 2e-4),
        ("at 5 s pull the plug", 30.0, None, 1e-3),
    ):
        scored = stage_scene(
            filled, script_from_words(filled, words, load="charge", duration=duration), runs=200
        )
        picked = columns or tuple(range(1, scored.moving.cols))
        times = np.linspace(0, duration, 121)
        took = []
        for _ in range(4):
            began = time.perf_counter()
            play(
                scored.moving,
                scored.acts,
                scored.start,
                duration=duration,
                times=times,
                columns=picked,
                tolerance=tolerance,
            )
            took.append(time.perf_counter() - began)
        best.append(min(took))
    return best[0], best[1]
