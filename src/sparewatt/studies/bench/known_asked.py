"""The answer that the bench is for: what the rig hands on for some watts of legs, from whatever constants are known.

Legs are what is asked about, so drive and rider are taken as they stand in the rig file; machine and board come from
the readings. Source: [dc_machine] [loss_polynomial]
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import converter
from sparewatt.studies.bench.known_rig import Bench

__all__ = ["LEGS", "asked_names", "delivered", "single"]

F = NDArray[np.float64]
Asked = Callable[[Mapping[str, F]], F]
LEGS = 75.0  # W, what most adults hold for an hour
HALVINGS = 40


def asked_names(bench: Bench) -> tuple[str, ...]:
    """Constants that the delivered watts hang on."""
    names = ["emf_constant", "resistance", "brush_drop", "friction", "friction_slope", "room"]
    k = bench.board("") if bench.boards else None
    if k is not None:
        names += [f"loss_{n}.{k}" for n in range(3)]
    return tuple(names)


def single(name: str) -> Asked:
    """One constant as the answer."""
    return lambda p: p[name]


def delivered(bench: Bench, legs: float = LEGS) -> Asked:
    """Watts into the battery, or out of the board, for `legs` watts at the pedals at a comfortable cadence.

    Straight on to a battery its volts set the speed; with a board between, the legs do.
    """
    g = bench.gear("")
    ratio = float(bench.teeth[g]) * bench.unknowns["ratio"].start * (1 - bench.unknowns["creep"].start)
    share, drag, slope = float(bench.gain[g]) / ratio, float(bench.drag[g]), float(bench.drag_slope[g])
    rider = bench.rig.rider[0]
    cadence = rider.cadence.value if rider.cadence else 6.8
    board = bench.board("") if bench.boards else None
    battery = bench.battery
    diode = bench.rig.diode.drop.value if bench.rig.diode and bench.rig.diode.drop else 0.0

    def shaft(w: F) -> F:
        """Watts that reach the machine's shaft when it turns at w."""
        w_c = w / ratio
        return np.asarray((legs - (drag + slope * w_c) * w_c) / share)

    def asked(p: Mapping[str, F]) -> F:
        k = p["emf_constant"] * bench.volts_factor
        r, v_b, t_0, b = p["resistance"], p["brush_drop"], p["friction"], p["friction_slope"]
        if board is None and battery is not None and battery.voltage is not None:
            v_bus = 1.1 * battery.voltage.value + diode
            return _amps_pinned(v_bus, k, r, v_b, t_0, b, shaft) * (v_bus - diode)
        w = np.zeros_like(k) + cadence * ratio
        i = (shaft(w) / w - t_0 - b * w) / k
        watts = (k * w - r * i - v_b) * i
        if board is None:
            return watts
        losses = {f"loss_{n}": p[f"loss_{n}.{board}"] for n in range(3)}
        idle = losses[
            "loss_0"
        ]  # a machine that brings less than the board keeps for itself delivers nothing: below zero
        out = converter.output_power(np.maximum(watts, idle), **losses)
        return np.where(watts > idle, out, watts - idle)

    return asked


def _amps_pinned(v_bus: float, k: F, r: F, v_b: F, t_0: F, b: F, shaft: Callable[[F], F]) -> F:
    """Amps into a bus of fixed volts: where the machine takes what the shaft brings. By halving."""
    low, high = np.zeros_like(k), np.zeros_like(k) + 2 * LEGS / v_bus + 5.0
    for _ in range(HALVINGS):
        i = 0.5 * (low + high)
        w = (v_bus + v_b + r * i) / k
        short = (k * i + t_0 + b * w) * w < shaft(w)
        low, high = np.where(short, i, low), np.where(short, high, i)
    return np.asarray(0.5 * (low + high))
