"""Netlists of a moving rig, written from the very arrays that the kernel reads, as a circuit simulator understands them.

Mechanics stand in as a circuit: the voltage of a node is a speed in rad/s, the current into it a torque in N*m, its
capacitor an inertia in kg*m^2. Of rig k: `wc` crank, `wg` machine, `th` crank angle, `bus` bus. Nothing here switches
between ways of being as the kernel does: the freewheel is a very stiff one-way damper between crank and machine, the diode
a real exponential one with a knee of half a millivolt, and a board's sleep a capacitor that charges at once. What the kernel
does smoothly on purpose is copied: dry friction fades near standstill, the clamp works within two percent of its volts, an
amps screw within one percent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from tests.circuit.ngspice import measure

from sparewatt.rig.layout import Param
from sparewatt.rig.motion import Moving
from sparewatt.rig.motion_layout import Geo, Move, Out

__all__ = ["battery", "bus_side", "clip", "legs", "power_load", "simulate", "step_at", "train"]

F = NDArray[np.float64]
STIFF = 300.0  # N*m*s/rad between crank and machine, seen at the machine's shaft
_TAIL = ".model oneway d(is=1e-9 n=0.001)\n.options reltol={tol} abstol=1e-9 vntol=1e-7 method=gear maxord=2"


def _n(x: float) -> str:
    """A number as the simulator reads it, whole."""
    return f"{float(x):.12g}"


def clip(x: str, low: float = 0.0, high: float = 1.0) -> str:
    """An expression kept between two numbers."""
    return f"max({_n(low)},min({_n(high)},{x}))"


def step_at(name: str, times: Sequence[tuple[float, float]], first: float) -> str:
    """A source whose node jumps to a value at each time, so that the simulator stops there and sees it."""
    points, level = [f"0 {_n(first)}"], first
    for at, value in times:
        points += [f"{_n(at)} {_n(level)}", f"{_n(at + 1e-6)} {_n(value)}"]
        level = value
    return f"V{name} {name} 0 pwl({' '.join(points)})"


def _drag(name: str, node: str, dry: float, still: float, slope: float) -> str:
    """Dry friction that fades below a speed, and a drag that grows with speed."""
    return f"B{name} {node} 0 i={_n(dry)}*{clip(f'v({node})/{still}', -1)}+{_n(slope)}*v({node})"


def legs(m: Moving, push: str, w_crank: float, k: int = 0) -> list[str]:
    """Crank, its angle, and a rider who pushes a mean torque (an expression, at standstill) along a line to a cadence."""
    mv, geo = m.mv[0, k], m.geo[0, k, 0]
    wave = f"(1-{_n(mv[Move.RIPPLE])}*cos(2*v(th{k})))"
    line = f"max(0,1-max(v(wc{k}),0)/{_n(mv[Move.W_TOP])})"
    return [
        f"Cth{k} th{k} 0 1 ic={_n(math.pi / 4 + 0.9 * k)}",
        f"Bth{k} 0 th{k} i=v(wc{k})",
        f"Rth{k} th{k} 0 1e12",
        f"Cwc{k} wc{k} 0 {_n(geo[Geo.J_CRANK])} ic={_n(w_crank)}",
        f"Blegs{k} 0 wc{k} i=({push})*{line}*{wave}",
        _drag(f"ahead{k}", f"wc{k}", geo[Geo.DRAG_BEFORE], 0.02, geo[Geo.SLOPE_BEFORE]),
    ]


def train(m: Moving, w_crank: float, k: int = 0, *, stiff: float = STIFF) -> list[str]:
    """The drive and the machine's shaft: a one-way damper, or one that holds both ways without a freewheel; what it
    passes costs the crank gain times as much, and gets there as ratio^2/gain of it when the machine drives."""
    q, mv, geo = m.q[0, k], m.mv[0, k], m.geo[0, k, 0]
    ratio, gain = float(geo[Geo.RATIO]), float(geo[Geo.GAIN])
    dry, slope = q[Param.T_COULOMB] + geo[Geo.DRAG_AFTER], q[Param.B_VISCOUS] + geo[Geo.SLOPE_AFTER]
    slip = f"({_n(ratio)}*v(wc{k})-v(wg{k}))"
    passed = f"{_n(stiff)}*{slip}"
    if mv[Move.FREEWHEEL] > 0:
        passed = f"max(0,{passed})"
    return [
        f"Bpass{k} 0 tq{k} v={passed}",
        f"Rpass{k} tq{k} 0 1e9",
        f"Bfelt{k} wc{k} 0 i=-v(tq{k})*(v(tq{k})<0 ? {_n(gain)} : {_n(ratio**2 / gain)})",
        f"Cwg{k} wg{k} 0 {_n(geo[Geo.J_SHAFT])} ic={_n(ratio * w_crank)}",
        f"Bdriven{k} 0 wg{k} i=-v(tq{k})",
        _drag(f"drag{k}", f"wg{k}", dry, 0.5, slope),
        f"Bbrake{k} wg{k} 0 i={_n(q[Param.K_EMF])}*i(Vamps{k})",
    ]


def bus_side(m: Moving, v_bus: float, amps: float = 0.0, k: int = 0) -> list[str]:
    """Winding, coil, brushes and diode (or none), the bus capacitor, its bleeder and its clamp."""
    q, mv = m.q[0, k], m.mv[0, k]
    lines = [
        f"Bemf{k} emf{k} 0 v={_n(q[Param.K_EMF])}*v(wg{k})",
        f"Rwind{k} emf{k} coil{k} {_n(q[Param.R_SOURCE])}",
        f"Lwind{k} coil{k} knee{k} {_n(mv[Move.INDUCTANCE])} ic={_n(amps)}",
        f"Rcalm{k} coil{k} knee{k} 200",  # a way out for the coil's last microamps when the diode closes
        f"Cbus{k} bus{k} 0 {_n(mv[Move.CAPACITANCE])} ic={_n(v_bus)}",
    ]
    if q[Param.HAS_DIODE] > 0:
        lines += [
            f"Vdrop{k} knee{k} anode{k} {_n(q[Param.V_DROP])}",
            f"Dblock{k} anode{k} cath{k} oneway",
            f"Vamps{k} cath{k} bus{k} 0",
        ]
    else:
        way = f"i(Vamps{k})/2e-3"
        drops = f"{_n(q[Param.V_DROP])}*{clip(way)}+{_n(mv[Move.V_BRUSH])}*{clip(way, -1, 0)}"
        lines += [f"Bdrop{k} knee{k} cath{k} v={drops}", f"Vamps{k} cath{k} bus{k} 0"]
    if mv[Move.G_BLEED] > 0:
        lines.append(f"Rbleed{k} bus{k} 0 {_n(1 / mv[Move.G_BLEED])}")
    if mv[Move.V_CLAMP] < 1e9:
        share = clip(f"(v(bus{k})-{_n(mv[Move.V_CLAMP])})/{_n(0.02 * mv[Move.V_CLAMP])}")
        lines.append(f"Bclamp{k} bus{k} 0 i=v(bus{k})/{_n(mv[Move.R_CLAMP])}*{share}")
    return lines


def battery(m: Moving, node: str = "bus0", switch: str | None = None) -> list[str]:
    """A battery of steady volts behind its resistance at a node, behind a switch node if one is named."""
    oc = m.oc[0]
    amps = f"(v({node})-{_n(oc[Out.V_REST])})/{_n(oc[Out.R_STORE])}"
    return [f"Bcell {node} 0 i={amps}" + (f"*v({switch})" if switch else "")]


def power_load(watts: str, node: str = "bus0", floor: float = 0.3) -> str:
    """Something that takes watts (an expression) at any volts above a few tenths."""
    return f"Bload {node} 0 i=({watts})/max(v({node}),{_n(floor)})"


def simulate(
    title: str, lines: Sequence[str], times: F, reads: dict[str, str], *, step: float, tol: float = 1e-5
) -> dict[str, F]:
    """Run a circuit and read each quantity at each time (after the first, where it is what it was told)."""
    asked = [
        f".meas tran {name}_{n} find {what} at={_n(t)}"
        for name, what in reads.items()
        for n, t in enumerate(times)
        if t > 0
    ]
    end = float(times[-1])
    run = f".tran {_n(step)} {_n(end + 2 * step)} 0 {_n(step)} uic"
    deck = "\n".join([f"* {title}", *lines, _TAIL.format(tol=_n(tol)), run, *asked, ".end", ""])
    found = measure(deck)
    return {
        name: np.array([found[f"{name}_{n}"] if t > 0 else math.nan for n, t in enumerate(times)])
        for name in reads
    }
