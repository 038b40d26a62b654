"""Boards of the moving rig, one law at a time: what a board holds, what is left of its volts, what comes back through it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit, small

__all__ = ["conduct_load", "hold", "let_back", "own_board", "rest_volts", "sagged", "watts_out"]

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@small
def watts_out(p_in: float, l0: float, l1: float, l2: float) -> float:
    """Watts out of a board from watts in: the root of p_in = p + l0 + l1 p + l2 p^2."""
    c = p_in - l0
    if c <= 0.0:
        return 0.0
    b = 1.0 + l1
    value: float = 2.0 * c / (b + math.sqrt(b * b + 4.0 * l2 * c))
    return value


@jit
def hold(
    a: float, g: float, p: float, v_set: float, i_set: float, l0: float, l1: float, l2: float
) -> tuple[float, float]:
    """What a board on the rig holds at its output (V) and takes in meanwhile (W): `bind_output.hold_board` for one rig."""
    asked = a + g * v_set + p / v_set
    held, amps = v_set, asked
    if asked > i_set:
        amps = i_set
        c = a - i_set
        if g > 0.0:
            disc = c * c - 4.0 * g * p
            held = (-c + math.sqrt(disc)) / (2.0 * g) if disc >= 0.0 else 0.0
        else:
            held = 0.0
        if not ix.LEAST_VOLTS < held <= v_set:  # not to be carried: the output is as good as shorted
            low = g + p / ix.LEAST_VOLTS**2
            held = (i_set - a) / low if low > 0.0 and i_set > a else 0.0
            held = held if held > 1e-6 else 1e-6
    p_out = held * amps
    if p_out < 0.0:
        p_out = 0.0
    return held, p_out + l0 + l1 * p_out + l2 * p_out * p_out


@small
def sagged(a: float, g: float, p: float, p_out: float, held: float) -> float:
    """Output volts at which the demand takes p_out watts (`steady._output_volts`); where it cannot make do with them, the
    last few tenths of a volt at which such a load still conducts."""
    c = p - p_out
    u = 0.0
    if g > 0.0:
        disc = a * a - 4.0 * g * c
        if disc >= 0.0:
            root = math.sqrt(disc)
            u = (-a + root) / (2.0 * g) if a <= 0.0 else -2.0 * c / (a + root)
    elif a > 0.0:
        u = -c / a
    if not u > ix.LEAST_VOLTS:
        low = g + p / ix.LEAST_VOLTS**2
        u = (-a + math.sqrt(a * a + 4.0 * low * p_out)) / (2.0 * low) if low > 0.0 else 0.0
    return u if u < held else held


@small
def rest_volts(a: float, g: float, p: float) -> float:
    """Output volts with nothing from the rig (a battery behind g), 0 where it cannot carry the load."""
    if g <= 0.0:
        return 0.0
    disc = a * a - 4.0 * g * p
    if disc < 0.0:
        return 0.0
    value: float = (-a + math.sqrt(disc)) / (2.0 * g)
    return value


@small
def let_back(v: float, a: float, g: float, p: float, back: float) -> tuple[float, float]:
    """Output volts with nothing pushed out, and the amps (not above 0) a step-down board's body diode lets back."""
    u = rest_volts(a, g, p)
    if not u - v > back:
        return u, 0.0
    u = rest_volts(a - (v + back) / ix.BODY, g + 1.0 / ix.BODY, p)
    return u, (v + back - u) / ix.BODY


@jit
def own_board(u: float, i: float, oc: F) -> tuple[float, float]:
    """A tool behind a board of its own, fed at u: volts at the tool and watts drawn at u, for the tool's amps i."""
    set_v, cap = oc[ix.O_OSET], oc[ix.O_OAMPS]
    v = set_v
    if u < ix.LEAST_VOLTS:  # nothing to make volts from
        v = set_v * (u * u if u > 0.0 else 0.0) / ix.LEAST_VOLTS**2
    if cap < 1e9:
        share = (1.0 + ix.AMPS_BAND - i / cap) / (2.0 * ix.AMPS_BAND)
        v = v * (1.0 if share > 1.0 else (0.0 if share < 0.0 else share))
    if oc[ix.O_OIN] < 1e9 and i > 1e-6:
        most = watts_out(u * oc[ix.O_OIN], oc[ix.O_OL0], oc[ix.O_OL1], oc[ix.O_OL2]) / i
        if v > most:
            v = most
    p = v * i
    drawn: float = p + oc[ix.O_OL0] + oc[ix.O_OL1] * p + oc[ix.O_OL2] * p * p
    return v, drawn


@small
def conduct_load(u: float, a: float, g: float, p: float) -> float:
    """Amps a node at u feeds: a + g u + p/u, first and last fading below a few tenths of a volt."""
    low = u if u > ix.LEAST_VOLTS else ix.LEAST_VOLTS
    steady = a * u / low if a > 0.0 else a  # what a battery gives (below 0) does not fade
    value: float = steady + g * u + p * (u if u > 0.0 else 0.0) / (low * low)
    return value
