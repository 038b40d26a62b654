"""What swings within seconds, found by playing it: volts, light and pull with each push, a board that pulses, board against
coil; and a short, and a load switched on.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Load
from sparewatt.physics import transients
from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.motion import Moving
from sparewatt.rig.motion_layout import Act, Chan, Event, Geo, Move, Out, Shared
from sparewatt.studies.guard.seconds import usual
from sparewatt.studies.scenes.plays import Plays, Ridden, Shown, Step

__all__ = [
    "Pulses",
    "Ripple",
    "Short",
    "Start",
    "pulses",
    "ripple",
    "shorted",
    "starts",
    "swings",
]

F = NDArray[np.float64]
OFFS = 2  # times off, with a restart between, that make it pulse
PULSES_FOR = 12.0  # s that a pulsing board is followed
SHORT = 0.005  # ohm of a dead short (common practice, no source)
FILAMENT = 0.06  # s, how long a filament of some ten watts stays warm (common practice, no source)
STRIP_KNEE = 0.75  # of its volts, where LEDs behind a resistor go dark (common practice, no source)
SWING_WINDOW = (
    0.02  # s: legs change the volts by a few per cent in so short a time; board and coil by much more
)


# ---- ripple and pulsing -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Ripple:
    """How much things swing with each push, top to bottom over the mean, over the last whole turns."""

    v_bus: float
    v_out: float
    w_shaft: float
    light: float  # of a lamp on the output: (most - least)/(most + least), an upper bound
    often: float  # pushes a second
    served: bool
    lit: bool  # something is fed at all
    shown: Shown


def ripple(plays: Plays, ridden: Ridden, gear: int) -> Ripple:
    """Some turns of an even ride."""
    shown = plays.play(ridden, gear, duration=4.0, every=SWING_WINDOW)
    w = shown.rows(Chan.W_CRANK)
    count = _whole_turns(w)
    lamp = ridden.solved.bound.hookup.load
    v_out, often = _swing(shown, Shared.V_OUT, count), float(np.mean(w[-count:])) / math.pi
    return Ripple(
        v_bus=_swing(shown, Chan.V_BUS, count),
        v_out=v_out,
        w_shaft=_swing(shown, Chan.W_SHAFT, count),
        light=light_swing(lamp, v_out, often),
        often=often,
        served=bool(np.mean(shown.rows(Shared.SERVED)[-count:]) > 0.9),
        lit=bool(np.mean(shown.rows(Shared.P_LOAD)[-count:]) > 0.1),
        shown=shown,
    )


def _whole_turns(w: F) -> int:
    """How many samples make the last two turns of the crank."""
    turned = np.cumsum(w[::-1]) * SWING_WINDOW / math.pi  # half turns, from the end
    return int(np.searchsorted(turned, 4.0)) if turned[-1] > 4.0 else int(w.size)


def _swing(shown: Shown, node: Chan | Shared, count: int) -> float:
    mean = float(np.mean(shown.rows(node)[-count:]))
    if not mean > 0:
        return 0.0
    return (float(np.max(shown.most(node)[-count:])) - float(np.min(shown.least(node)[-count:]))) / mean


def light_swing(lamp: Load | None, share: float, often: float) -> float:
    """How deep the light swings: a filament with its lag, LEDs behind a resistor with theirs."""
    if lamp is None or lamp.kind not in ("lamp", "led"):
        return math.nan
    if lamp.kind == "lamp":
        deep = float(transients.bulb_flicker(share, v_bus=1.0))
        return deep * float(transients.lag_share(often, time_constant=FILAMENT))
    return float(transients.strip_flicker(share, v_bus=1.0, v_knee=STRIP_KNEE))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pulses:
    """A load that goes off and on by itself."""

    offs: int
    often: float  # times a second; NaN with fewer than two
    off_share: float  # of the time it is without
    stalls: bool
    shown: Shown

    @property
    def again(self) -> bool:
        """Whether it goes off and comes back, and off again."""
        return self.offs >= OFFS


def pulses(plays: Plays, ridden: Ridden, gear: int) -> Pulses:
    """A dozen seconds of riding with the load on."""
    shown = plays.play(ridden, gear, duration=PULSES_FOR)
    offs = shown.when(Event.SLEEPS, Event.LOAD_QUITS)
    offs = (
        offs[np.concatenate([[True], np.diff(offs) > 0.02])] if offs.size else offs
    )  # the board and its load at once
    return Pulses(
        offs=int(offs.size),
        often=(offs.size - 1) / float(offs[-1] - offs[0]) if offs.size >= OFFS else math.nan,
        off_share=1.0 - float(np.mean(shown.rows(Shared.SERVED))),
        stalls=bool(shown.when(Event.STALLS).size),
        shown=shown,
    )


def swings(plays: Plays, ridden: Ridden, gear: int) -> tuple[float, Shown]:
    """How far the bus volts swing within a fiftieth of a second on an even ride, over their mean: board against coil.

    NaN where it swings so fast that it could not be followed.
    """
    shown = ripple(plays, ridden, gear).shown
    late = shown.times > (1.0 if shown.whole else 0.0)
    mean = float(np.mean(shown.rows(Chan.V_BUS)[late])) if late.any() else 0.0
    if not mean > 0:
        return math.nan, shown
    within = shown.most(Chan.V_BUS)[late] - shown.least(Chan.V_BUS)[late]
    return float(np.percentile(within, 80)) / mean, shown  # now and then is a board that wakes or sleeps


# ---- a short, and starting ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Short:
    """A dead short across the machine's leads while it turns."""

    amps: float
    torque: float  # N*m at the crank
    takes: float  # s to its peak


def shorted(plays: Plays, w_crank: float, gear: int) -> Short | None:
    """The machine's leads touch while the rider holds a cadence."""
    ridden = usual(plays)
    if ridden is None:
        return None
    moving = plays.changed((ridden.ask, "short"), lambda: _with_short(ridden.moving))
    ratio = float(moving.geo[0, 0, gear, Geo.RATIO])
    shown = plays.play(
        ridden, gear, [Step(0.5, "short the machine", Act.ON)], duration=1.5, on=False, moving=moving, cadence=w_crank,
        every=0.005,
    )  # fmt: skip
    amps, when = (float(x) for x in shown.played.peaks[Chan.AMPS])
    return Short(amps=amps, torque=amps * float(moving.mv[0, 0, Move.K_COLD]) * ratio, takes=when - 0.5)


def _with_short(moving: Moving) -> Moving:
    q, oc = moving.q.copy(), moving.oc.copy()
    q[:, :, Param.KIND] = float(Kind.NONE)
    for row in (Param.A, Param.G, Param.P):
        q[:, :, row] = 0.0
    oc[:, [Out.HAS_BATTERY, Out.LOAD_A, Out.LOAD_P, Out.QUIT, Out.MOTOR, Out.FIELD]] = 0.0
    oc[:, Out.LOAD_G], oc[:, Out.U_MAX], oc[:, Out.SURGE] = 1.0 / SHORT, math.inf, 1.0
    return dataclasses.replace(moving, q=q, oc=oc, fuses=np.full_like(moving.fuses, np.inf))


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """A load switched on, from the battery alone."""

    volts: float  # V, lowest at the output
    amps: float  # A, the most out of the battery
    settled: float  # V at the output once it runs
    amps_settled: float  # A out of the battery then
    shown: Shown


def starts(plays: Plays, load: Load, surge: float, *, path: float = 0.0) -> Start:
    """A load on a battery switched on with nobody riding, as if nothing cut it off.

    surge: its first amps over its running amps. path: ohms of the wire from the battery to it.
    """
    ridden = plays.ride(load=load.name)
    oc = ridden.moving.oc.copy()
    oc[:, Out.R_STORE] += path
    oc[:, Out.SURGE], oc[:, Out.QUIT] = np.maximum(oc[:, Out.SURGE], surge), 0.0
    moving = dataclasses.replace(ridden.moving, oc=oc, fuses=np.full_like(ridden.moving.fuses, np.inf))
    shown = plays.play(
        ridden, ridden.solved.gear,
        [Step(0.0, "stop pedalling", Act.STOP), Step(1.0, "switch it on", Act.ON)],
        duration=3.0, rest=True, on=False, moving=moving, every=0.01,
    )  # fmt: skip
    after = shown.times >= 1.0
    u, i = shown.least(Shared.V_OUT)[after], -shown.least(Shared.AMPS_BATTERY)[after]
    return Start(
        volts=float(np.min(u)),
        amps=max(0.0, float(np.max(i))),
        settled=float(u[-1]),
        amps_settled=max(0.0, float(i[-1])),
        shown=shown,
    )
