"""What went wrong in one played run of a scene: the words that the nearest yes of a scene has to make untrue."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.names import CHARGE
from sparewatt.rig.motion import Played, channel
from sparewatt.rig.motion_layout import Act, Chan, Event, Move, Out, Shared
from sparewatt.studies.guard.ripple import FLICKER_SHARE, SWING_SHARE
from sparewatt.studies.guard.swings import SWING_WINDOW, light_swing
from sparewatt.studies.scenes.seconds import Scored

__all__ = ["GONE", "TROUBLES", "known_by", "troubles"]

B = NDArray[np.bool_]
TROUBLES = {
    "stall": "the rider is dragged to a stop",
    "pulses": "it goes off and on again and again",
    "over volts": "the bus passes what a part on it stands",
    "over load volts": "the load gets more volts than it stands",
    "fuse": "a fuse opens",
    "unserved": "the load does not get what it asks for",
    "swings": "board and coil swing against each other",
    "flicker": "the light pulses with every push",
}
GONE = {
    "stall": "you are no longer dragged to a stop",
    "pulses": "it no longer goes off and on",
    "over volts": "the bus stays below what its parts stand",
    "over load volts": "the load stays below the volts it stands",
    "fuse": "no fuse opens",
    "unserved": "the load gets what it asks for",
    "swings": "board and coil keep still",
    "flicker": "the light swings by less than a tenth",
}
OFFS = 3  # times off that make it pulse
GRACE = 1.0  # s after it comes on before a load must be fed
FED = 0.9  # of the time it is asked for, once that is over
LAST = 2.5  # s at the end of the time it is on over which its light is looked at


def troubles(scored: Scored, played: Played) -> frozenset[str]:
    """Every trouble of one run, by its key in TROUBLES."""
    codes = played.events[:, 1].astype(int)
    asked, pedals = _asked(scored, played)
    found = set()
    if Event.STALLS in codes or _never_moves(scored, played, pedals):
        found.add("stall")
    if _offs(played, asked) >= OFFS:
        found.add("pulses")
    if Event.OVER_VOLTS in codes or _over(scored, played):
        found.add("over volts")
    if Event.OVER_LOAD_VOLTS in codes:
        found.add("over load volts")
    if Event.FUSE_OPENS in codes:
        found.add("fuse")
    if _swings(scored, played):
        found.add("swings")
    if not _fed(scored, played, asked & pedals):
        found.add("unserved")
    elif _flickers(scored, played, asked & pedals):
        found.add("flicker")
    return frozenset(found)


def known_by(scored: Scored, played: Played) -> float:
    """When the first trouble that no later second can mend is there for good (s); infinity where there is none."""
    rows, codes = played.events, played.events[:, 1].astype(int)
    once = (Event.STALLS, Event.OVER_VOLTS, Event.OVER_LOAD_VOLTS, Event.FUSE_OPENS)
    found = [*rows[np.isin(codes, [int(e) for e in once]), 0]]
    rated = scored.moving.mv[0, :, Move.V_RATED]
    peaks = [played.peaks[channel(Chan.V_BUS, rig=k)] for k in range(played.rigs)]
    found += [float(at) for (most, at), limit in zip(peaks, rated, strict=True) if most > limit]
    offs = _off_times(played, _asked(scored, played)[0])
    found += [offs[OFFS - 1]] if offs.size >= OFFS else []
    return float(min(found, default=math.inf))


def _asked(scored: Scored, played: Played) -> tuple[B, B]:
    """At each sample: whether load or battery is meant to be fed, and whether the main rider is meant to pedal."""
    t, load = played.times, scored.script.ask.load
    on = np.full(t.size, scored.script.switched_on or load == CHARGE)
    plugged, hooked, pedals = np.ones_like(on), np.ones_like(on), np.ones_like(on)
    for at, kind, rig, _value in scored.acts:
        after = t >= at - 1e-9
        if kind in (Act.ON, Act.OFF):
            on[after] = kind == Act.ON
        elif kind in (Act.UNPLUG, Act.PLUG):
            plugged[after] = kind == Act.PLUG
        elif kind in (Act.UNHOOK, Act.HOOK):
            hooked[after] = kind == Act.HOOK
        elif kind in (Act.STOP, Act.PEDAL) or (kind in (Act.LEAVE, Act.JOIN) and rig == 0):
            pedals[after] = kind in (Act.PEDAL, Act.JOIN)
    asked = on & plugged & (hooked | (load != CHARGE))
    return asked, pedals


def _never_moves(scored: Scored, played: Played, pedals: B) -> bool:
    cadence = played.rows[:, channel(Chan.W_CRANK)]
    moving = np.isfinite(cadence)
    return bool(moving.any() and pedals[moving][-1] and cadence[moving][-1] < 0.4)


def _offs(played: Played, asked: B) -> int:
    """Times it goes off by itself; board and load that go together count once."""
    return int(_off_times(played, asked).size)


def _off_times(played: Played, asked: B) -> NDArray[np.float64]:
    """When it goes off by itself."""
    rows = played.events
    times = np.unique(rows[np.isin(rows[:, 1], (int(Event.SLEEPS), int(Event.LOAD_QUITS))), 0])
    meant = np.interp(times, played.times, asked.astype(float)) > 0.5
    times = times[meant]
    apart: NDArray[np.float64] = (
        times[np.concatenate([[True], np.diff(times) > 0.02])] if times.size else times
    )
    return apart


def _over(scored: Scored, played: Played) -> bool:
    rated = scored.moving.mv[0, :, Move.V_RATED]
    return any(played.peaks[channel(Chan.V_BUS, rig=k), 0] > rated[k] for k in range(played.rigs))


def _swings(scored: Scored, played: Played) -> bool:
    """Whether the bus moves by more than legs can move it, most of the time or so fast that it could not be followed."""
    if scored.moving.bounds[0].hookup.board is None or scored.start.even:
        return False
    if played.status == 1:
        return True
    column = channel(Chan.V_BUS)
    volts = played.rows[1:, column]
    on = np.isfinite(volts) & (volts > 0.1 * np.nanmax(volts, initial=0.0))
    if not on.any():
        return False
    within = (played.most[1:, column] - played.least[1:, column])[on]
    wide = float(played.times[1] - played.times[0]) / SWING_WINDOW
    return bool(np.percentile(within, 80) > wide * SWING_SHARE * np.mean(volts[on]))


def _fed(scored: Scored, played: Played, asked: B) -> bool:
    """Whether it is fed nearly all the time it is asked for, the first moments after it comes on left out."""
    t = played.times
    starts = t[1:][asked[1:] & ~asked[:-1]]
    if asked.size and asked[0]:
        starts = np.append(starts, t[0])
    wait = GRACE if scored.script.start == "riding" else 0.5 * scored.script.duration
    judged = asked.copy()
    for start in starts:
        judged &= ~((t >= start - 1e-9) & (t < start + (wait if start == t[0] else GRACE)))
    served = np.nan_to_num(played.rows[:, channel(Shared.SERVED, played.rigs)])[judged]
    return bool(served.size == 0 or served.mean() >= FED)


def _flickers(scored: Scored, played: Played, asked: B) -> bool:
    """Whether a lamp pulses over the last seconds it is lit; a step of the script among them is no flicker."""
    load = scored.moving.bounds[0].hookup.load
    if load is None or load.kind not in ("lamp", "led") or scored.start.even or not asked.any():
        return False
    end = float(played.times[asked][-1])
    since = max([end - LAST, *(at + GRACE for at, *_rest in scored.acts if at < end - 0.05)])
    window = asked & (played.times >= since)
    if end - since < 0.5 * LAST or scored.moving.oc[0, Out.HAS_BATTERY] > 0:
        return False
    column = channel(Shared.V_OUT, played.rigs)
    mean = float(np.mean(played.rows[window, column]))
    if not mean > 0:
        return False
    share = float(np.max(played.most[window, column]) - np.min(played.least[window, column])) / mean
    often = float(np.mean(played.rows[window, channel(Chan.W_CRANK)])) / math.pi
    return max(share, light_swing(load, share, often)) > FLICKER_SHARE
