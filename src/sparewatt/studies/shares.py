"""Several rigs on one bus: who carries what, and the piece of wire that makes it fair."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import wire
from sparewatt.rig.operating import State
from sparewatt.rig.outcome import Band
from sparewatt.rig.stations import Carrier, Joined
from sparewatt.studies.answers import Shares, StationRow

__all__ = ["shares_of"]

F = NDArray[np.float64]
FAIR_SPREAD = 0.40  # largest share of the mean by which riders may still differ
LITTLE, MUCH = 0.15, 1.5  # of an equal share: hardly felt, and most of it (common practice, no source)
THIN_WIRE = 0.35e-6  # m^2
MOST_ADDED = 20.0  # ohm


def shares_of(solved: State) -> Shares | None:
    """How the rigs of a solved question share its bus; None when there is one rig only."""
    joined = solved.joined
    if joined is None:
        return None
    fair = _fair_resistance(joined)
    evened = joined if fair == 0 else joined.with_more_lead(fair)
    wanted = float(joined.wanted[0])
    per_metre = float(wire.conductor_resistance(length=1.0, area=THIN_WIRE))
    return Shares(
        rows=_rows(joined),
        bus_volts=float(joined.first_volts[0]),
        wanted=wanted,
        watts=float(joined.watts[0]),
        fair_resistance=fair,
        fair_rows=_rows(evened),
        limit_each=1.02 * wanted / len(joined.carriers),
        wire_length=fair / (2 * per_metre),
        wire_area=THIN_WIRE,
        bare=joined.bare,
    )


def _rows(joined: Joined) -> tuple[StationRow, ...]:
    return tuple(
        StationRow(
            name=c.station.name,
            rider=c.station.rider,
            amps=_band(c.first),
            p_rider=float(c.p_rider[0]),
            holds=bool(c.holds[0]),
            says=_feels(joined, c),
            order=c.order,
            watts=float(c.watts[0]),
        )
        for c in joined.carriers
    )


def _band(values: F) -> Band:
    mid = float(values[0])
    return Band.of(values[1:], mid) if values.size > 1 else Band(mid, math.nan, math.nan)


def _feels(joined: Joined, c: Carrier) -> str:
    """What a rider feels: at first, and when others have been dragged to a stop."""
    amps, equal = float(c.first[0]), float(joined.wanted[0]) / len(joined.carriers)
    if joined.bare and c.order == 0:
        return "adds what the legs push" if amps > 0 else "does not reach the volts of the bus"
    if c.order == 1:
        return "carries more than these legs have and is dragged to a stop"
    if amps < LITTLE * equal:
        feels = "feels nothing"
    elif amps > MUCH * equal:
        feels = "carries most of it"
    else:
        feels = "carries a fair share"
    if c.order == 0 and float(c.amps[0]) > amps + LITTLE * equal:
        return f"{feels}, and then carries what the others leave"
    return f"{feels}, until the load falls on these legs and drags them to a stop too" if c.order else feels


def _fair_resistance(joined: Joined) -> float:
    """Smallest resistance to add to every lead so that no rider differs from the mean by more than FAIR_SPREAD of it."""

    def uneven(extra: float) -> float:
        amps = joined.asked_with_more_lead(extra)
        return float(np.max(np.abs(amps - amps.mean())) / max(amps.mean(), 1e-9))

    if joined.bare or uneven(0.0) <= FAIR_SPREAD:
        return 0.0
    high = 0.05
    while uneven(high) > FAIR_SPREAD and high < MOST_ADDED:
        high *= 2
    low = high / 2
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if uneven(middle) > FAIR_SPREAD else (low, middle)
    return high
