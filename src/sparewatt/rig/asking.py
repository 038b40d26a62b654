"""The full question: who, what, which gear, how hard, how long, from what was given, the rig's habits and plain defaults."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rider, Rig
from sparewatt.rig.bind import bind, find_rider, scaled
from sparewatt.rig.edges import asked_watts, edge_watts
from sparewatt.rig.endurance import most_asked, power_for
from sparewatt.rig.fill import fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.refusals import refusal

__all__ = ["Ask", "ask_for"]

F = NDArray[np.float64]
# A rider eases off to where the edge is this much of the load, and nearly surely (nine draws of ten) at least EASY_LEAST
EASY_SPARE, EASY_LEAST, EASY_DRAWS = 1.18, 1.05, 64


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


def _eased(rig: Rig, rider: str, load: str, gear: str | None, most: float) -> float:
    """The effort nobody needs to be told: `most`, or less when a lighter one runs the load with EASY_SPARE in hand.

    A battery takes what comes, so charging is ridden at `most`.
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

    if not np.isfinite(asked).all() or not eases(most):
        return most
    low, high = 0.0, most
    for _ in range(12):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if eases(middle) else (middle, high)
    return high


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
    usual = ride.duration.value if ride and ride.duration else 3600.0
    seconds = duration if duration is not None else usual
    same = (
        ride is not None
        and person.name == find_rider(rig, None).name
        and seconds == usual
        and wanted == (ride.load or wanted)
    )
    if effort is None and ride and ride.effort and same:
        effort = ride.effort.value
    if gear is None and ride and ride.gear:
        gear = ride.gear if load is None else None
    if effort is None:
        effort = _held(find_rider(fill(rig).rig, person.name), seconds)
        effort = _eased(rig, person.name, wanted, gear, effort)
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
