"""Two ways to the same number: each bench ends with them. Apart by more than three standard deviations, something is off."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import bench as bench_physics
from sparewatt.physics import machine
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import CrossCheck
from sparewatt.studies.bench.known import Known, know_taken
from sparewatt.studies.bench.known_machine import hot_k, hot_r
from sparewatt.studies.bench.known_ridden import ride_checks
from sparewatt.studies.bench.known_taken import Taken
from sparewatt.studies.fit.next_reading import answer_of

__all__ = ["checks_of"]

F = NDArray[np.float64]
Z90 = 1.6448536269514722
APART = 3.0
BRAKE_SD = 0.05  # of watts by rope and scale, which jumps with each push (common practice, no source)
SHIFTED = 0.03


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def checks_of(known: Known) -> tuple[CrossCheck, ...]:
    """Every cross-check that the readings allow."""
    return tuple(
        c
        for c in (
            _volts_and_torque(known),
            _both_ways(known),
            *_brakes(known),
            *_boards(known),
            *ride_checks(known),
        )
        if c
    )


def _check(
    says: str, one: tuple[float, float], other: tuple[float, float], unit: str, hint: str
) -> CrossCheck:
    apart = abs(one[0] - other[0]) / max(math.hypot(one[1], other[1]), 1e-300)
    bands = [Band(v, v - Z90 * sd, v + Z90 * sd) for v, sd in (one, other)]
    return CrossCheck(
        says=says, one=bands[0], other=bands[1], unit=unit, agrees=apart <= APART, apart=apart,
        hint="" if apart <= APART else hint,
    )  # fmt: skip


def _volts_and_torque(known: Known) -> CrossCheck | None:
    """Volts per speed from volts, and torque per amp from a lever: one number, two ways."""
    levers = [t for t in known.taken if t.kind == "lever_torque" and t.used]
    others = [t for t in known.taken if t.kind != "lever_torque"]
    if not levers or not any(t.kind == "open_volts" for t in others):
        return None
    pair = [_constant(know_taken(known.bench, taken), "emf_constant") for taken in (others, levers)]
    return _check(
        "volts for each unit of speed, and torque for each amp", pair[0], pair[1], "V*s/rad",
        "The two must be one number. Look at the length of the lever, and whether the amps meter is the right one.",
    )  # fmt: skip


def _constant(known: Known, name: str) -> tuple[float, float]:
    return known.fit[name], known.fit.sd_of(name)


def _both_ways(known: Known) -> CrossCheck | None:
    """Volts per speed turned forward and back: apart by 3 % means the brushes sit off the middle."""
    names = ("emf_constant", "emf_constant_back")
    if any(n not in known.fit.names for n in names) or not any(t.kind == "open_volts" for t in known.taken):
        return None
    ratio = answer_of(known.fit, lambda p: p[names[1]] / p[names[0]])
    one, other = (_constant(known, n) for n in names)
    check = _check("volts for each unit of speed, forward and back", one, other, "V*s/rad", "")
    odd = abs(ratio.value - 1) > SHIFTED and abs(ratio.value - 1) > 2 * ratio.sd
    hint = "The brushes sit off the middle. Turn it the way that gives more." if odd else ""
    return CrossCheck(
        says=check.says, one=check.one, other=check.other, unit=check.unit, agrees=not odd,
        apart=abs(ratio.value - 1) / max(ratio.sd, 1e-300), hint=hint,
    )  # fmt: skip


def _brakes(known: Known) -> list[CrossCheck]:
    """Watts by rope and scale against volts, amps and tolls at the nearest cadence that was ridden."""
    rides = [t for t in known.taken if t.kind == "riding" and t.used]
    found = []
    for t in known.taken:
        if t.kind != "rope_brake" or not t.used or "cadence" not in t.values or not rides:
            continue
        near = min(rides, key=lambda r: abs(_v(r, "cadence") - _v(t, "cadence")))
        if abs(_v(near, "cadence") / _v(t, "cadence") - 1) > 0.1:
            continue
        brake = float(
            bench_physics.rope_brake_power(
                _v(t, "weight"), _v(t, "scale"), w_drum=_v(t, "speed"), radius_drum=_v(t, "radius"),
                radius_rope=0.5 * _v(t, "rope"),
            )
        )  # fmt: skip
        electric = answer_of(known.fit, lambda p, ride=near: _shaft_watts(known, p, ride))  # type: ignore[misc]
        found.append(
            _check(
                "watts by rope and scale, and by volts and amps with all tolls", (brake, BRAKE_SD * brake),
                (electric.value, math.hypot(electric.sd, 0.02 * electric.value)), "W",
                "Watts are missing on one side: slip, drag that was not measured, or a false volts for each turn.",
            )
        )  # fmt: skip
    return found


def _v(t: Taken, what: str) -> float:
    return float(t.values[what].value[0])


def _shaft_watts(known: Known, p: dict[str, F], ride: Taken) -> F:
    """Watts at the machine's shaft on a ride."""
    v, i, cold = _v(ride, "volts"), _v(ride, "amps"), np.zeros(1)
    whole = {n: np.full(1, u.start) for n, u in known.bench.unknowns.items()} | dict(p)
    r = hot_r(whole, cold, cold)
    w = machine.shaft_speed(
        v, i_out=i, k_emf=hot_k(known.bench, whole, cold, cold), r_wind=r, v_brush=whole["brush_drop"]
    )
    lost = machine.losses(
        w, i_out=i, r_wind=r, v_brush=whole["brush_drop"], t_coulomb=whole["friction"],
        b_viscous=whole["friction_slope"],
    )  # fmt: skip
    return np.asarray(v * i + lost.copper + lost.brush + lost.friction)


def _boards(known: Known) -> list[CrossCheck]:
    """No board gives out more than it takes in."""
    found = []
    for t in known.taken:
        if t.kind != "board_power" or not t.used:
            continue
        watts_in, watts_out = _v(t, "volts_in") * _v(t, "amps_in"), _v(t, "volts_out") * _v(t, "amps_out")
        if watts_out > watts_in:
            sd = 0.02 * watts_in
            check = _check("watts into the board, and out of it", (watts_in, sd), (watts_out, sd), "W", "")
            hint = "A board cannot give more than it takes. Move one meter through all four places."
            found.append(
                CrossCheck(
                    says=check.says, one=check.one, other=check.other, unit="W", agrees=False, apart=check.apart,
                    hint=hint,
                )
            )  # fmt: skip
    return found
