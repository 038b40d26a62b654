"""What each push of the legs makes swing at a running point: the pull in every step of the drive, and the machine's amps.

The legs push twice a turn. Around a running point everything is a straight line, so the swing is that of one turning mass on
the slope of its load: its size says how hard each step is pulled at the peak, and how much more the copper warms than the
mean amps would make it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sparewatt.physics.rider import PEAK_SHARE
from sparewatt.rig import solve
from sparewatt.rig.fill import Filled
from sparewatt.rig.fill_motion import fill_motion
from sparewatt.rig.inertia import shaft_inertias
from sparewatt.rig.layout import Bound
from sparewatt.rig.outcome import Mode

__all__ = ["STILL", "Swing", "push_ripple", "swing_at", "turning"]

NEAR = 1e-3  # of the cadence: how far to each side the slopes are taken


@dataclass(frozen=True, slots=True, kw_only=True)
class Swing:
    """Swings within one turn, as shares of the mean.

    speed: of the crank, up and down. form: mean square of the machine's amps over the square of their mean. peaks: for each
    step of the drive its hardest pull over its mean pull.
    """

    speed: float
    form: float
    peaks: tuple[float, ...]


STILL = Swing(speed=0.0, form=1.0, peaks=())


def push_ripple(bound: Bound) -> float:
    """How far the push of this rider swings up and down around its mean within a turn, as a share."""
    rider = bound.rider
    if rider.push_curve:
        push = np.asarray(rider.push_curve, dtype=float)[:, 1]
        return float(np.max(push) / np.mean(push)) - 1.0
    return max(rider.peak_to_mean.value - 1.0, 0.0) if rider.peak_to_mean is not None else PEAK_SHARE


def turning(bound: Bound) -> list[float]:
    """Inertia on every shaft (kg*m^2), crank first, with what only matters in motion filled in."""
    moved = fill_motion(Filled(rig=bound.rig, assumed=())).rig
    return shaft_inertias(moved, next(r for r in moved.rider if r.name == bound.rider.name))


def swing_at(bound: Bound, gear: int, w_crank: float, effort: float, inertias: list[float]) -> Swing:
    """The swing of the nominal rig at a running point: one mass, J dw/dt = T_push - D w, driven twice a turn.

    amplitude of speed: ripple*T / |D + i*2*w_crank*J|; D: slope of the load line and of the rider line. The pull that a
    step passes on swings with what turns behind it.
    inertias: from `turning`. Source: [turning_moment]
    """
    s, steps = bound.stages, len(bound.stages.names)
    turns = [1.0, *(float(np.prod(s.ratio[: k + 1, gear, 0])) for k in range(steps))]
    seen = [j * n**2 for j, n in zip(inertias, turns, strict=True)]
    near = w_crank * np.array([1 - NEAR, 1.0, 1 + NEAR])
    table = solve.lines(bound, near)[:, gear, 0]
    torque, amps = float(table[0, 1]), float(table[2, 1])
    same = table[1, 0] == table[1, 2]
    wide = float(near[2] - near[0])
    load_slope = float(table[0, 2] - table[0, 0]) / wide if same else 0.0
    amps_slope = float(table[2, 2] - table[2, 0]) / wide if same else 0.0
    if not torque > 0 or table[1, 1] in (Mode.ASLEEP, Mode.CHATTERS):
        return STILL
    legs_slope = 4 * effort / float(bound.w_top[0]) ** 2
    often = 2 * w_crank
    push = push_ripple(bound) * torque
    speed = push / abs(complex(load_slope + legs_slope, often * sum(seen)))
    behind = [sum(seen[k + 1 :]) for k in range(steps)]
    peaks = tuple(1 + speed * math.hypot(load_slope, often * j) / torque for j in behind)
    share = min(abs(amps_slope) * speed / amps, 1.0) if amps > 0 else 0.0
    return Swing(speed=speed / w_crank, form=1 + 0.5 * share**2, peaks=peaks)
