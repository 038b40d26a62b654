"""What hurts within seconds, found by playing it: a plug pulled in every gear, a sprint, a board that lets volts through, a
battery that drives the rig, a wheel that runs on.

Each is one short nominal run on the rig at hand; its words are kept, so that it can be shown.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.names import CHARGE
from sparewatt.rig.layout import Kind, Param
from sparewatt.rig.motion import Moving
from sparewatt.rig.motion_layout import Act, Chan, Event, Geo, Move, Shared, Sum
from sparewatt.rig.outcome import Mode
from sparewatt.rig.refusals import refusal
from sparewatt.studies.scenes.plays import Plays, Ridden, Shown, Step

__all__ = [
    "Drives", "Raced", "RunOn", "Sprint", "drives", "giving", "let_through", "pulled", "runs_on", "sprinted", "strongest",
    "unhooked", "usual",
]  # fmt: skip

F = NDArray[np.float64]
SPRINT_AT, PULL_AT = 1.0, 3.0  # s: when the sprint starts, and when the plug goes while it lasts
PUSHING = 5.0  # s that a sprinting rider goes on pushing into the clamp
STILL = 0.5  # rad/s at the machine: it stands
LONGEST_RUN_ON = 600.0  # s that a run-on is followed


# ---- the plug pulled, a sprint -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Raced:
    """A load that drops off while the rider pushes, in one gear."""

    gear: int
    sprint: bool
    volts: float  # highest at the place that was looked at
    w_crank: float  # rad/s, highest
    joules: float  # into the clamp
    watts: float  # into the clamp, mean over the first seconds of pushing on
    shown: Shown
    at: float  # s, when the plug goes
    node: Chan | Shared

    def passes(self, volts: float) -> float:
        """Seconds from the plug until the volts pass a rating; NaN when they never do."""
        return _first_above(self.shown, self.node, volts, self.at)


def usual(plays: Plays) -> Ridden | None:
    """The usual ride; the next load, or the battery, when the usual one must not be played; None when none may."""
    if plays.quiet:
        return None
    rig, asked = plays.filled.rig, plays.usual.load
    names = [asked, *([CHARGE] if rig.battery is not None else []), *(load.name for load in rig.load)]
    for name in names:
        if refusal(rig, name) is None:
            return plays.ride(load=name)
    return None


def strongest(plays: Plays) -> tuple[str, float]:
    """Who sprints hardest, and with what (W)."""
    peaks = {r.name: r.peak_power.value if r.peak_power is not None else 0.0 for r in plays.filled.rig.rider}
    name = max(peaks, key=lambda one: peaks[one])
    return name, peaks[name]


def pulled(
    plays: Plays, *, sprint: bool, clamp: bool = True, fitted: tuple[float, float] | None = None
) -> tuple[Raced, ...]:  # fmt: skip
    """The plug pulled in every gear, at the usual effort or in a sprint of the strongest rider.

    clamp False: the clamp is off. fitted: volts and ohms of a clamp that is not in the file.
    """
    ridden = usual(plays)
    if ridden is None:
        return ()
    if sprint:
        ridden = plays.ride(load=ridden.ask.load, rider=strongest(plays)[0])
    has_clamp = math.isfinite(ridden.moving.mv[0, 0, Move.V_CLAMP])
    first = [] if clamp or not has_clamp else [Step(0.0, "the clamp goes off", Act.CLAMP_OFF)]
    gears = range(len(ridden.solved.bound.gears))
    moving = _clamped(plays, ridden, fitted)
    return tuple(
        _pulled(plays, ridden, g, first, Act.UNPLUG, Chan.V_BUS, sprint=sprint, moving=moving) for g in gears
    )


def _clamped(plays: Plays, ridden: Ridden, fitted: tuple[float, float] | None) -> Moving | None:
    """The rig with a clamp of these volts and ohms fitted."""
    if fitted is None:
        return None

    def fit() -> Moving:
        mv = ridden.moving.mv.copy()
        mv[:, :, Move.V_CLAMP], mv[:, :, Move.R_CLAMP] = fitted
        return dataclasses.replace(ridden.moving, mv=mv)

    return plays.changed((ridden.ask, "clamp", fitted), fit)


def unhooked(plays: Plays, load: str, gear: int, *, sprint: bool) -> Raced:
    """The battery's clip off with one load left on the bus, seen at the load."""
    ridden = plays.ride(load=load, rider=strongest(plays)[0] if sprint else None)
    return _pulled(plays, ridden, gear, [], Act.UNHOOK, Shared.V_OUT, sprint=sprint)


def reacted(plays: Plays, raced: Raced, *, fitted: tuple[float, float] | None = None) -> Raced:
    """The same sprint, but the rider stops pushing a reaction time after the plug has gone."""
    ridden = plays.ride(load=raced.shown.ask.load, rider=raced.shown.ask.rider)
    notice = float(ridden.moving.mv[0, 0, Move.REACTION])
    stop = Step(round(raced.at + notice, 2), "stop pedalling", Act.STOP)
    moving = _clamped(plays, ridden, fitted)
    return _pulled(
        plays, ridden, raced.gear, [], Act.UNPLUG, Chan.V_BUS, sprint=True, moving=moving, last=stop
    )


def _pulled(
    plays: Plays, ridden: Ridden, gear: int, first: Sequence[Step], kind: Act, node: Chan | Shared, *, sprint: bool,
    moving: Moving | None = None, last: Step | None = None,
) -> Raced:  # fmt: skip
    words = "unhook the battery" if kind == Act.UNHOOK else "pull the plug"
    at = PULL_AT if sprint else SPRINT_AT
    steps = [*first, Step(at, words, kind)]
    if sprint:
        steps.insert(len(first), Step(SPRINT_AT, "sprint", Act.EFFORT, strongest(plays)[1]))
    if last is not None:
        steps.append(last)
    shown = plays.play(ridden, gear, steps, duration=at + PUSHING, every=0.025, moving=moving)
    burnt = float(shown.played.sums[Sum.CLAMP])
    return Raced(
        gear=gear,
        sprint=sprint,
        volts=float(np.max(shown.most(node)[shown.times >= at - 1e-9], initial=0.0)),
        w_crank=shown.peak(Chan.W_CRANK),
        joules=burnt,
        watts=burnt / PUSHING,
        shown=shown,
        at=at,
        node=node,
    )


def _first_above(shown: Shown, node: Chan | Shared, level: float, since: float) -> float:
    most = np.where(shown.times >= since - 1e-9, shown.most(node), -np.inf)
    over = most > level
    if not over.any():
        return math.nan
    k = int(np.argmax(over))
    rows, t = shown.rows(node), shown.times
    if k == 0 or not rows[k] > level or not rows[k - 1] < level:
        return max(float(t[k]) - since, 0.0)
    share = (level - rows[k - 1]) / (rows[k] - rows[k - 1])
    return max(float(t[k - 1] + share * (t[k] - t[k - 1])) - since, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sprint:
    """A sprint with the load on, in one gear, perhaps shifted into from an easier one."""

    gear: int
    v_bus: float  # V, highest
    v_out: float  # V, highest at the output
    amps_battery: float  # A, highest
    w_crank: float
    passes: float  # rad/s at the crank where the board first lets the volts through; NaN when it does not
    shown: Shown


def sprinted(plays: Plays, load: str, gear: int, *, shift_from: int | None = None) -> Sprint:
    """The strongest rider sprints with the load on; with shift_from: in that gear, and then shifts into this one."""
    name, watts = strongest(plays)
    ridden = plays.ride(load=load, rider=name)
    steps = [Step(SPRINT_AT, "sprint", Act.EFFORT, watts)]
    if shift_from is not None and shift_from != gear:
        steps.append(Step(PULL_AT, f"shift to {ridden.solved.bound.gears[gear]}", Act.SHIFT, float(gear)))
    start = gear if shift_from is None else shift_from
    return _sprint(plays.play(ridden, start, steps, duration=7.0), gear)


def _sprint(shown: Shown, gear: int) -> Sprint:
    through = shown.rows(Chan.LABEL) == Mode.PASSES
    at = np.concatenate([shown.when(Event.PASSES), shown.times[through]])
    speed = math.nan
    if at.size:
        speed = float(np.interp(np.min(at), shown.times, shown.rows(Chan.W_CRANK)))
    return Sprint(
        gear=gear,
        v_bus=shown.peak(Chan.V_BUS),
        v_out=shown.peak(Shared.V_OUT),
        amps_battery=shown.peak(Shared.AMPS_BATTERY),
        w_crank=shown.peak(Chan.W_CRANK),
        passes=speed,
        shown=shown,
    )


def let_through(plays: Plays, load: str, gear: int) -> Sprint:
    """A sprint in which a step-up board may let the volts through; when the legs do not get there, the plug pulled."""
    found = sprinted(plays, load, gear)
    if math.isfinite(found.passes):
        return found
    ridden = plays.ride(load=load, rider=strongest(plays)[0])
    return _sprint(_pulled(plays, ridden, gear, [], Act.UNPLUG, Chan.V_BUS, sprint=True).shown, gear)


# ---- the battery drives the machine -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Drives:
    """A battery that turns the machine while the legs are still."""

    surge: float  # A, the most that flows back
    drain: float  # A at the end
    w_shaft: float  # rad/s of the machine at the end
    w_crank: float  # rad/s of the crank at the end: 0 with a freewheel
    takes: float  # s until nine tenths of that speed
    shown: Shown


def giving(ridden: Ridden) -> Moving:
    """The rig with its battery giving and nobody riding: a board between stays off."""
    mv = ridden.moving.mv.copy()
    mv[:, :, Move.V_WAKE] = np.where(
        ridden.moving.q[:, :, Param.KIND] == Kind.NONE, mv[:, :, Move.V_WAKE], 1e6
    )
    return dataclasses.replace(ridden.moving, mv=mv)


def drives(plays: Plays) -> Drives:
    """Battery joined, rig still, legs off the pedals: what flows back and what turns."""
    ridden = plays.ride(load=CHARGE)
    shown = plays.play(
        ridden, ridden.solved.gear, [Step(0.0, "stop pedalling", Act.STOP)], duration=10.0, rest=True, every=0.02,
        moving=giving(ridden),
    )  # fmt: skip
    w = shown.rows(Chan.W_SHAFT)
    end = float(w[-1])
    reached = np.argmax(w >= 0.9 * end) if end > STILL else 0
    return Drives(
        surge=max(0.0, -float(np.min(shown.least(Chan.AMPS)))),
        drain=max(0.0, -float(np.mean(shown.rows(Chan.AMPS)[-25:]))),
        w_shaft=end,
        w_crank=float(shown.rows(Chan.W_CRANK)[-1]),
        takes=float(shown.times[reached]),
        shown=shown,
    )


# ---- running on after the legs stop -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOn:
    """What goes on turning after the legs stop."""

    still: float  # s until the machine stands; inf when it still turns at the end of what was followed
    joules: float  # in all that turns and in coil and capacitor, as the legs stop
    amps: float  # A that go on flowing right after
    fed: float  # s for which amps go on flowing
    below: float  # s until the bus is below the volts asked about; inf when it is not by then
    shown: Shown


def runs_on(
    plays: Plays, guess: float, *, pulled: bool, volts: float = 60.0, sprint: bool = False, gear: int | None = None
) -> RunOn | None:  # fmt: skip
    """The legs stop, with the plug pulled at the same moment or with the load left on. guess: about how long it takes, s."""
    ridden = usual(plays)
    if ridden is None:
        return None
    steps = [Step(1.0, "pull the plug", Act.UNPLUG)] if pulled else []
    stop = 1.0
    if sprint:
        name, watts = strongest(plays)
        ridden, stop = plays.ride(load=ridden.ask.load, rider=name), 4.0
        steps = [Step(0.0, "sprint", Act.EFFORT, watts), *steps]
    steps.append(Step(stop, "stop pedalling", Act.STOP))
    longest = min(max(10.0, 5.0 * math.ceil(0.4 * guess)), LONGEST_RUN_ON)
    gear = ridden.solved.gear if gear is None else gear
    while True:
        shown = plays.play(ridden, gear, steps, duration=stop + longest)
        if shown.rows(Chan.W_SHAFT)[-1] < STILL or longest >= LONGEST_RUN_ON:
            break
        longest = min(4.0 * longest, LONGEST_RUN_ON)
    t, w, i = shown.times, shown.rows(Chan.W_SHAFT), shown.rows(Chan.AMPS)
    after = t >= stop
    slow, low = after & (w < STILL), after & (shown.rows(Chan.V_BUS) < volts)
    at = int(np.argmax(after))
    flows = after & (i > 0.01 * max(float(i[at]), 0.01))
    return RunOn(
        still=float(t[np.argmax(slow)]) - stop if slow.any() else math.inf,
        joules=_stored(shown, at),
        amps=float(np.max(i[at : at + 3], initial=0.0)),
        fed=float(t[flows][-1]) - stop if flows.any() and i[at] > 0.01 else 0.0,
        below=float(t[np.argmax(low)]) - stop if low.any() else math.inf,
        shown=shown,
    )


def _stored(shown: Shown, at: int) -> float:
    """Energy of all that turns behind the freewheel, J."""
    m = shown.moving
    w = float(shown.rows(Chan.W_SHAFT)[at])
    gear = min(range(m.geo.shape[2]), key=lambda g: abs(m.geo[0, 0, g, Geo.RATIO] * _crank(shown, at) - w))
    return 0.5 * float(m.geo[0, 0, gear, Geo.J_SHAFT]) * w**2


def _crank(shown: Shown, at: int) -> float:
    return float(shown.rows(Chan.W_CRANK)[at])
