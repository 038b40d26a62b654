"""How a load starts, played second by second: a tool runs up, a lamp or heater takes its first amps, a motor its surge.

The gentlest effort that brings it up is taken; how sure that is comes from spread runs of the same scene.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sparewatt.errors import BadRequest
from sparewatt.language.script import script_from_words
from sparewatt.parts import Converter, Load
from sparewatt.rig.asking import ask_for
from sparewatt.rig.endurance import time_for
from sparewatt.rig.fill import Filled
from sparewatt.rig.fill_electric import tool_plate
from sparewatt.rig.fitting import misfit
from sparewatt.rig.hookup import hookup
from sparewatt.rig.motion import at_once, channel, play
from sparewatt.rig.motion_layout import Act, Chan, Event, Shared
from sparewatt.rig.operating import LIKELY, PASSABLE, RPM
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.guard.seconds import giving
from sparewatt.studies.scenes.plays import Plays, Ridden, Shown, Step
from sparewatt.studies.scenes.seconds import stage_scene
from sparewatt.studies.tools import locked_amps, tool_state

__all__ = ["Started", "start_of"]

NAN = math.nan
SPELLS = (3600.0, 600.0, 120.0, 30.0, 10.0)  # s: efforts tried, gentlest first
ON_AT, WITHIN = 2.0, 8.0  # s: when it is switched on, and in how long it must be up
UP = 0.9  # of its own idle speed: a tool is up
RUNS = 12  # spread runs behind the chance
BITES, FREE = 1.5, 1.0  # of its rated push that stops a tool; s after which it is let go again


@dataclass(frozen=True, slots=True, kw_only=True)
class _Up:
    """One start as it was played."""

    seconds: float  # from the switch until it is up; NaN when it never is
    offs: int  # times it goes off on the way
    amps: float  # A of the load, the highest
    v_low: float  # V at the output, lowest while it is on
    v_bus: tuple[float, float]  # V on the bus: before, and the lowest
    w_crank: tuple[float, float]  # rad/s: before, and the lowest
    torque: float  # N*m of push at the crank, the highest
    p_load: float  # W into the load, the highest
    p_rider: float  # W of the legs, mean over the start
    stalls: bool
    limited: bool  # the board gave all the amps it may
    shown: Shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """Whether and how a load starts. kind: "played", or "as it runs" where nothing about the start is special.

    chance: share of spread runs in which it comes up; able: s the effort behind it can be held; seconds: words of the scene.
    """

    kind: str = "played"
    works: bool = True
    chance: float = 1.0
    gear: str = ""
    stop: Stop = Stop.FOUND
    p_load: float = NAN
    p_rider: float = NAN
    w_crank: float = NAN
    amps: float = NAN
    volts: float = NAN
    able: float = NAN
    says: str = ""
    seconds: str = ""


AS_IT_RUNS = Started(kind="as it runs")


@lru_cache(maxsize=64)
def start_of(filled: Filled, load_name: str, rider: str) -> Started:
    """How the load starts: a tool let run up, a lamp or heater with its first amps, from legs or from the battery."""
    load = next(x for x in filled.rig.load if x.name == load_name)
    if refusal(filled.rig, load_name) is not None or misfit(filled.rig, load_name) is not None:
        return AS_IT_RUNS
    if load.kind == "universal_motor":
        return _tool(filled, load, rider)
    if hookup(filled.rig, load_name).battery is not None:
        return _from_battery(filled, load, rider)
    return _plain(filled, load, rider)


def _tool(filled: Filled, load: Load, rider: str) -> Started:
    """A tool let run up, nothing to work on."""
    board = _feeding(filled, load)
    volts = load.voltage.value if load.voltage else 110.0
    speed = UP * tool_state(load, board, 0.0, volts).speed_share * tool_plate(load).w_rated
    limit, locked = locked_amps(load, board, volts)
    if not speed > 0:  # not even its own drag within the amps it gets
        says = f"it never runs up: held back to {limit:.2g} A (it would take {locked:.1f} A standing still)"
        return Started(works=False, chance=0.0, stop=Stop.EDGE_BOARD, amps=limit, volts=volts, says=says)
    ran, up, share = _gentlest(filled, load, rider, speed)
    if not math.isfinite(up.seconds) or share < PASSABLE:
        return _fails(up, share, Stop.TOO_FEW_VOLTS, amps=limit, volts=volts, says=_never(up, limit, locked))
    back = _let_go_again(filled, ran, up, speed)
    says = f"runs up in about {up.seconds:.1f} s{_held(up, limit, locked)}{_on_the_way(up)}{_felt(up)}{back}"
    return _works(ran, up, share, amps=limit, volts=volts, says=says)


def _plain(filled: Filled, load: Load, rider: str) -> Started:
    """The first amps of a load that is no tool, from legs, wheel and capacitor."""
    ran, up, share = _gentlest(filled, load, rider, NAN)
    if not math.isfinite(up.seconds) or share < PASSABLE:
        dips = f"{up.v_bus[0]:.3g} V to {up.v_bus[1]:.3g} V"
        says = f"its first {up.amps:.2g} A pull the bus from {dips}, and it does not stay on"
        return _fails(up, share, Stop.CHATTERS, amps=up.amps, volts=up.v_low, says=says)
    again = f" goes off {_times(up.offs)} and then stays on;" if up.offs else ""
    says = f"takes {up.amps:.2g} A at most;{again} the bus dips from {up.v_bus[0]:.3g} V to {up.v_bus[1]:.3g} V{_felt(up)}"
    return _works(ran, up, share, amps=up.amps, volts=up.v_low, says=says)


def _fails(up: _Up, share: float, other: Stop, *, amps: float, volts: float, says: str) -> Started:
    stop = Stop.STALLS if up.stalls else (Stop.EDGE_BOARD if up.limited else other)
    return Started(
        works=False, chance=share, stop=stop, amps=amps, volts=volts, says=says, seconds=up.shown.words
    )


def _works(ran: Ridden, up: _Up, share: float, *, amps: float, volts: float, says: str) -> Started:
    bound = ran.solved.bound
    able = time_for(np.asarray(ran.ask.effort), bound.critical_power, bound.work_reserve)
    return Started(
        chance=share,
        gear=bound.gears[ran.solved.gear],
        p_load=up.p_load,
        p_rider=up.p_rider,
        w_crank=up.w_crank[0],
        amps=amps,
        volts=volts,
        able=min(float(np.asarray(able).flat[0]), 86400.0),
        says=says,
        seconds=up.shown.words,
    )


def _feeding(filled: Filled, load: Load) -> Converter | None:
    joined = hookup(filled.rig, load.name)
    return joined.load_board or joined.board


# ---- playing ---------------------------------------------------------------------------------------------------------


def _gentlest(filled: Filled, load: Load, rider: str, speed: float) -> tuple[Ridden, _Up, float]:
    """The gentlest effort at which it comes up, and the share of spread runs in which it does; else the hardest."""
    plays: Plays | None = None
    tried: set[float] = set()
    for seconds in SPELLS:
        ask = ask_for(filled.rig, rider=rider, load=load.name, duration=seconds, draws=0)
        plays = plays or Plays(filled, ask)
        ran = plays.ride(effort=ask.effort)
        if ran.ask.effort in tried and seconds != SPELLS[-1]:
            continue
        tried.add(ran.ask.effort)
        up = _played(plays, ran, load, speed)
        share = _share(filled, up, speed) if math.isfinite(up.seconds) else 0.0
        if math.isfinite(up.seconds) and (share >= LIKELY or seconds == SPELLS[-1]):
            break
    return ran, up, share


def _played(plays: Plays, ran: Ridden, load: Load, speed: float) -> _Up:
    """Riding along with the load off, switched on; or from the battery with nobody riding."""
    tool = math.isfinite(speed)
    stored = ran.solved.bound.hookup.battery is not None
    steps = [Step(0.0, "let go of it", Act.WORK, 0.0)] if tool else []
    if stored:
        steps.append(Step(0.0, "stop pedalling", Act.STOP))
    steps.append(Step(ON_AT, f"switch the {load.name} on", Act.ON))
    moving = plays.changed((ran.ask, "giving"), lambda: giving(ran)) if stored else None
    shown = plays.play(
        ran, ran.solved.gear, steps, duration=ON_AT + WITHIN, on=False, rest=stored, every=0.02, moving=moving
    )  # fmt: skip
    return _read(shown, speed)


def _read(shown: Shown, speed: float) -> _Up:
    t = shown.times
    after = t >= ON_AT
    at = int(np.argmax(after)) if after.any() else t.size - 1
    took = _up_after(shown, speed, at)
    until = after & (t <= ON_AT + (took if math.isfinite(took) else WITHIN) + 0.1)
    offs = shown.when(Event.SLEEPS, Event.LOAD_QUITS)
    offs = np.unique(np.round(offs[offs > ON_AT], 1))
    served = until & (shown.rows(Shared.SERVED) > 0)
    bus, cadence = shown.rows(Chan.V_BUS), shown.rows(Chan.W_CRANK)
    amps = shown.most(Shared.TOOL_AMPS) if math.isfinite(speed) else _amps(shown)
    return _Up(
        seconds=took,
        offs=int(offs.size),
        amps=float(np.max(amps[until], initial=0.0)),
        v_low=float(np.min(shown.least(Shared.V_OUT)[served], initial=np.inf)) if served.any() else 0.0,
        v_bus=(float(bus[max(at - 1, 0)]), float(np.min(shown.least(Chan.V_BUS)[until]))),
        w_crank=(float(np.mean(cadence[: max(at, 1)])), float(np.min(cadence[until]))),
        torque=float(np.max(shown.most(Chan.T_CRANK)[until])),
        p_load=float(np.max(shown.most(Shared.P_LOAD)[until])),
        p_rider=float(np.mean(shown.rows(Chan.P_RIDER)[until])),
        stalls=bool(shown.when(Event.STALLS).size),
        limited=bool(shown.when(Event.LIMITED).size),
        shown=shown,
    )


def _amps(shown: Shown) -> np.ndarray:
    """Amps into a load that is no motor, from its watts and volts."""
    volts = np.maximum(shown.rows(Shared.V_OUT), 1e-3)
    amps: np.ndarray = np.maximum(shown.most(Shared.P_LOAD), shown.most(Shared.TOOL_AMPS) * volts) / volts
    return amps


def _up_after(shown: Shown, speed: float, at: int) -> float:
    """Seconds from the switch until it is up and stays so: at speed, or fed; NaN when it is not at the end."""
    t = shown.times
    good = shown.rows(Shared.TOOL_SPEED) >= speed if math.isfinite(speed) else shown.rows(Shared.SERVED) > 0
    if not shown.whole or not good[-1] or (not math.isfinite(speed) and not good[-50:].all()):
        return NAN
    bad = np.flatnonzero(~good[at:])
    first = at + (int(bad[-1]) + 1 if bad.size else 0)
    if math.isfinite(speed):
        first = at + int(np.argmax(good[at:]))
    return max(float(t[first]) - ON_AT, 0.0)


def _share(filled: Filled, up: _Up, speed: float) -> float:
    """Share of spread runs of the same scene in which it comes up; the nominal run alone while nothing is compiled yet."""
    if not at_once():
        return 1.0
    scored = stage_scene(filled, script_from_words(filled, up.shown.words), runs=RUNS)
    times = np.linspace(0.0, ON_AT + WITHIN, 251)
    runs = play(
        scored.moving, scored.acts, scored.start, duration=ON_AT + WITHIN, times=times,
        columns=tuple(range(1, scored.moving.cols)), tolerance=1e-3, budget=40_000,
    )  # fmt: skip
    column = Shared.TOOL_SPEED if math.isfinite(speed) else Shared.SERVED
    ends = [one.rows[-25:, channel(column, one.rigs)] for one in runs]
    least = speed if math.isfinite(speed) else 0.5
    return float(np.mean([bool(np.all(np.nan_to_num(end) >= least)) for end in ends]))


def _from_battery(filled: Filled, load: Load, rider: str) -> Started:
    """Switched on with nobody riding: how far the battery sags, and whether board and load stand that."""
    ask = ask_for(filled.rig, rider=rider, load=load.name, effort=100.0, duration=3600.0, draws=0)
    plays = Plays(filled, ask)
    try:
        up = _played(plays, plays.ride(), load, NAN)
    except BadRequest:
        return AS_IT_RUNS
    works = math.isfinite(up.seconds)
    low = (
        f"the battery's volts dip to about {up.v_low:.3g} V"
        if works
        else "its volts dip too low and it goes off again"
    )
    return Started(
        works=works, chance=float(works), stop=Stop.FOUND if works else Stop.TOO_FEW_VOLTS,
        amps=up.amps, volts=up.v_low, says=f"takes {up.amps:.2g} A for a moment; {low}", seconds=up.shown.words,
    )  # fmt: skip


def _let_go_again(filled: Filled, ran: Ridden, up: _Up, speed: float) -> str:
    """The work stops the tool and it is let go: how long until it is up again."""
    if ran.solved.bound.hookup.battery is not None:
        return ""
    plays = Plays(filled, ran.ask)
    bites = ON_AT + up.seconds + 2.0
    bites = round(bites, 1)
    free = round(bites + FREE, 1)
    steps = [
        Step(0.0, "let go of it", Act.WORK, 0.0),
        Step(ON_AT, f"switch the {ran.ask.load} on", Act.ON),
        Step(bites, f"work at {100 * BITES:.0f} %", Act.WORK, BITES),
        Step(free, "let go of it", Act.WORK, 0.0),
    ]
    shown = plays.play(ran, ran.solved.gear, steps, duration=math.ceil(free + WITHIN), on=False, every=0.02)
    t, w = shown.times, shown.rows(Shared.TOOL_SPEED)
    late = t >= free
    if not late.any() or not w[late][-1] >= speed:
        return (
            "; stopped by its work and let go it does not come back by itself: switch it off and start again"
        )
    slow = float(np.min(w[(t >= bites) & (t <= free + 0.5)])) < 0.5 * speed
    again = float(t[late][int(np.argmax(w[late] >= speed))]) - free
    return f"; slowed by its work and let go, it is back in about {max(again, 0.1):.1f} s" if slow else ""


# ---- saying ----------------------------------------------------------------------------------------------------------


def _held(up: _Up, limit: float, locked: float) -> str:
    """What holds its amps back, and what it takes all the same in the first moment."""
    more = f", {up.amps:.1f} A at most" if up.amps > 1.05 * limit else ""
    return f", held back to {limit:.1f} A{more} (it would take {locked:.1f} A standing still)"


def _on_the_way(up: _Up) -> str:
    """What the display reads on the way."""
    climbs = f"; the board's display climbs from {up.v_low:.2g} V" if math.isfinite(up.v_low) else ""
    return f"{climbs} and goes off {_times(up.offs)}" if up.offs else climbs


def _felt(up: _Up) -> str:
    """What the legs feel."""
    before, low = (w / RPM for w in up.w_crank)
    if low > 0.95 * before:
        return "; your legs hardly notice"
    return (
        f"; your legs slow from {before:.0f} to {low:.0f} turns a minute and push up to {up.torque:.0f} N·m"
    )


def _never(up: _Up, limit: float, locked: float) -> str:
    what = "it drags your legs to a stop" if up.stalls else "it never runs up"
    if math.isfinite(up.seconds):
        what = "with the doubts of this rig it runs up less than every second time"
    often = f", the board going off {_times(up.offs)}" if up.offs else ""
    return f"{what}{often}: held back to {limit:.1f} A (it would take {locked:.1f} A standing still)"


def _times(n: int) -> str:
    return "once" if n == 1 else "twice" if n == 2 else f"{n} times"
