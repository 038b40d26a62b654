"""The full question: who, what, which gear, how hard, how long, from what was given, the rig's habits and plain defaults."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rider, Rig
from sparewatt.rig import solve
from sparewatt.rig.bind import bind, find_rider, scaled
from sparewatt.rig.edges import asked_watts, edge_watts
from sparewatt.rig.endurance import most_asked, power_for
from sparewatt.rig.fill import fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.layout import Bound
from sparewatt.rig.refusals import refusal

__all__ = ["Ask", "ask_for"]

F = NDArray[np.float64]
# A rider eases off to where the edge is this much of the load, and nearly surely (nine draws of ten) at least EASY_LEAST
EASY_SPARE, EASY_LEAST, EASY_DRAWS = 1.18, 1.05, 64
HOUR = 3600.0
SPELLS = (3600.0, 600.0, 120.0, 30.0)  # s: how long the efforts last that are tried, gentlest first
TOOL_BOUT = 25.0  # s a hand tool works at a time (common practice, no source)


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """The question: names from the rig file, SI numbers. gear None: look in every gear and take the best."""

    rider: str
    load: str  # name of a load, or "charge"
    gear: str | None
    effort: float  # W, the effort's worth at its best cadence
    duration: float  # s
    cadence: float | None = None  # rad/s: look at this cadence instead of where the effort settles
    draws: int = 1024
    seed: int = 1


def _serves(bound: Bound, gears: Sequence[int], effort: float) -> bool:
    """Whether the load gets what it asks for at this effort in one of the gears, in nine draws of ten."""
    found = solve.crossings(bound, effort)[0]
    served = found.served & np.isfinite(found.w_hold)
    return any(served[g, 0] and served[g, 1:].mean() > 0.9 for g in gears)


def _eased(rig: Rig, rider: str, load: str, gear: str | None, most: float, gentler: Sequence[float]) -> float:
    """The effort nobody needs to be told: `most`, or less when a lighter one runs the load with EASY_SPARE in hand.

    Where none leaves so much in hand, the gentlest of `gentler` (rising) that runs it all the same. A battery takes what
    comes, so charging is ridden at `most`.
    """
    if refusal(rig, load) is not None or hookup(rig, load).battery is not None:
        return most
    bound = bind(fill(rig), load, rider, effort=most, draws=EASY_DRAWS)
    if rig.neighbour:
        bound = scaled(bound, 1 / (1 + len(rig.neighbour)))
    asked = asked_watts(bound)
    if gear is not None and gear not in bound.gears:
        return most
    gears = range(len(bound.gears)) if gear is None else [bound.gears.index(gear)]

    def eases(effort: float) -> bool:
        for g in gears:
            room = edge_watts(bound, g, effort)[0] / asked
            if room[0] > EASY_SPARE and np.percentile(room[1:], 10) > EASY_LEAST:
                return True
        return False

    if not np.isfinite(asked).all():
        return most
    if not eases(most):
        return next((one for one in gentler if _serves(bound, gears, one)), most)
    low, high = 0.0, most
    for _ in range(12):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if eases(middle) else (middle, high)
    return high


def _usual_time(rig: Rig, wanted: str, *, habit: bool) -> float:
    """Seconds that are meant when nobody says. Straight off the rig: one bout, the ride's own habit, one use; else the usual
    ride."""
    usual = rig.ride.duration.value if rig.ride and rig.ride.duration else HOUR
    load = next((x for x in rig.load if x.name.casefold() == wanted.casefold()), None)
    if load is None or hookup(rig, wanted).battery is not None:
        return usual
    if load.bout is not None:
        return load.bout.value
    if habit and rig.ride and rig.ride.duration:
        return usual
    if load.use_time is not None:
        return load.use_time.value
    return TOOL_BOUT if load.kind == "universal_motor" else usual


def _held(rider: Rider, seconds: float) -> float:
    """Watts this rider holds so long, as far as they may be asked."""
    assert rider.critical_power and rider.work_reserve and rider.peak_power
    cp, reserve, peak = rider.critical_power.value, rider.work_reserve.value, rider.peak_power.value
    return min(float(power_for(cp, reserve, seconds, peak)), most_asked(rider))


def ask_for(
    rig: Rig,
    *,
    rider: str | None = None,
    load: str | None = None,
    gear: str | None = None,
    effort: float | None = None,
    duration: float | None = None,
    cadence: float | None = None,
    draws: int = 1024,
    seed: int = 1,
) -> Ask:
    """A full question from what was given, the rig's own [ride] habits, and plain defaults.

    Default effort: what this rider holds for the asked time.
    """
    if not rig.rider:
        rig = fill(rig).rig
    ride = rig.ride
    person = find_rider(rig, rider)
    wanted = load or (ride.load if ride else "")
    if not wanted:
        wanted = "charge" if rig.battery is not None else (rig.load[0].name if rig.load else "")
    if not wanted:
        raise BadRequest(
            Problem(
                where="load",
                problem="there is nothing to run",
                hint="add a [[load]] or a [battery] to the rig file",
            )
        )
    habit = ride is not None and wanted == (ride.load or wanted)
    usual = _usual_time(rig, wanted, habit=habit)
    seconds = duration if duration is not None else usual
    same = habit and person.name == find_rider(rig, None).name and seconds == usual
    if effort is None and ride and ride.effort and same:
        effort = ride.effort.value
    if gear is None and ride and ride.gear:
        gear = ride.gear if load is None else None
    if effort is None:
        legs = find_rider(fill(rig).rig, person.name)
        gentler = [_held(legs, t) for t in SPELLS if t > seconds]
        effort = _eased(rig, person.name, wanted, gear, _held(legs, seconds), gentler)
    return Ask(
        rider=person.name,
        load=wanted,
        gear=gear,
        effort=effort,
        duration=seconds,
        cadence=cadence,
        draws=draws,
        seed=seed,
    )
