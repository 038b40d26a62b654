"""Which unknown makes the band wide, and the reading that would narrow it most for the minutes it takes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.edges import edge_watts
from sparewatt.rig.layout import Bound
from sparewatt.rig.operating import State, works
from sparewatt.studies.answers import Unknown

__all__ = ["unknowns_of", "variance_shares"]

F = NDArray[np.float64]
KEEP = 6

# field -> (name in words, what to do, minutes). Common practice, no source.
READINGS: dict[str, tuple[str, str, float]] = {
    "emf_constant": (
        "the machine's volts per turn",
        "spin it with a drill at two filmed speeds and read the open volts",
        15,
    ),
    "resistance": (
        "the winding's resistance",
        "spin it steadily, put on a car bulb, read volts and amps",
        15,
    ),
    "brush_drop": ("the volts lost at the brushes", "read volts at two loads at one steady speed", 15),
    "friction": (
        "the machine's own drag",
        "run it as a motor from the battery with nothing joined and read the amps",
        10,
    ),
    "friction_slope": (
        "how its drag grows with speed",
        "run it as a motor at two voltages and read the amps",
        10,
    ),
    "drag_torque": (
        "the drag of the drive",
        "let the wheel run down with and without the belt and time it",
        15,
    ),
    "efficiency": (
        "the losses of the drive or the board",
        "read volts and amps on both sides of the board at working load",
        30,
    ),
    "rolling": (
        "the drag of the tyre on the roller",
        "let the wheel run down with and without the tyre on the roller",
        15,
    ),
    "press_force": ("how hard the tyre is pressed", "pull the roller off the tyre with a kitchen scale", 5),
    "creep": ("slip on the roller or belt", "count turns of both shafts at working load", 10),
    "driver_diameter": (
        "the size of the driving wheel",
        "roll it one turn on the floor and tape the distance",
        3,
    ),
    "driven_diameter": (
        "the size of the small pulley",
        "wrap a strip of paper round it and tape the length",
        3,
    ),
    "critical_power": (
        "what the rider can hold",
        "ride two timed efforts on different days, three and twelve minutes",
        45,
    ),
    "work_reserve": (
        "the rider's reserve",
        "ride two timed efforts on different days, three and twelve minutes",
        45,
    ),
    "top_cadence": ("the rider's fastest easy cadence", "ride with no load and count turns in a minute", 5),
    "charge": ("how full the battery is", "let it rest four hours and read its volts", 2),
    "health": (
        "what the battery still holds",
        "run a bulb from full to its low mark and add up the amp-hours",
        60,
    ),
    "contacts": ("clips and screws", "read the volts lost along each lead at working amps", 10),
    "contact_resistance": ("clips and screws", "read the volts lost along each lead at working amps", 10),
    "input_current": (
        "the most amps the board takes",
        "turn the load up until its output sags and read the amps in",
        15,
    ),
    "input_min": (
        "where the board goes to sleep",
        "lower its input through a bulb until it drops out and read the volts",
        10,
    ),
    "power": ("what the appliance really takes", "read its volts and amps while it works", 5),
    "energy_per_use": ("the energy one use takes", "time one use and read its watts", 20),
    "energy": (
        "what the battery gives back",
        "run a bulb from full to its low mark and add up the amp-hours",
        60,
    ),
    "typical": ("the rig's losses", "build it, ride it and read volts and amps at both ends", 60),
    "idle_power": ("what the board takes idle", "read its amps with nothing connected", 5),
    "drop": ("the diode's volts", "read the volts across it at working amps", 5),
}


def variance_shares(y: F, scores: dict[str, F]) -> dict[str, float]:
    """First-order share of the variance of y (draws,) that each input carries: squared correlation with its scores."""
    kept = np.isfinite(y)
    if kept.sum() < 16 or np.ptp(y[kept]) < 1e-12:
        return {}
    centred = y[kept] - y[kept].mean()
    norm = float(centred @ centred)
    shares = {}
    for key, z in scores.items():
        x = z[kept] - z[kept].mean()
        shares[key] = float((x @ centred) ** 2 / (norm * float(x @ x)))
    total = sum(shares.values())
    return {key: share / max(total, 1.0) for key, share in shares.items()}


def unknowns_of(solved: State) -> tuple[Unknown, ...]:
    """The few inputs that make the answer uncertain, largest share first."""
    bound, g = solved.bound, solved.gear
    if bound.cols <= 2:
        return ()
    ok = works(solved.found)[g, 1:]
    if ok.mean() > 0.5:
        y = solved.found.p_out[g, 1:] if bound.hookup.load is None else solved.found.p_rider[g, 1:]
        y = np.where(ok, y, np.nan)
    else:
        y = edge_watts(bound, g, solved.ask.effort)[0][1:]
    shares = variance_shares(y, bound.scores)
    ranked = sorted(shares.items(), key=lambda item: -item[1])[:KEEP]
    return tuple(_unknown(bound, key, share) for key, share in ranked if share >= 0.02)


def _unknown(bound: Bound, key: str, share: float) -> Unknown:
    field = key.rsplit(".", 1)[-1]
    name, measure, minutes = READINGS.get(field, (field.replace("_", " "), "", 10.0))
    return Unknown(
        key=key,
        name=f"{name}{_which(bound, key)}",
        share=share,
        how=bound.hows.get(key, "typical"),
        measure=measure,
        minutes=minutes,
    )


def _which(bound: Bound, key: str) -> str:
    """Name of the part the key belongs to, when there are several of its kind."""
    parts = key.split(".")
    if parts[0] == "stage" and parts[1].isdigit():
        return f" ({bound.stages.names[int(parts[1])]})"
    if parts[0] == "converter" and parts[1].isdigit():
        return f" ({bound.rig.converter[int(parts[1])].name})"
    return ""
