"""Readings of the machine as equations in its constants.

Resistance and volts per speed are stated at 20 degC and taken to the temperature of the machine, which is the one
written beside the reading, or else that of the place, unknown by a few kelvin.
Source: [dc_machine] [coast_down] [iec60028] [magnet_temperature]
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import bench as bench_physics
from sparewatt.physics import heat, machine, transients
from sparewatt.studies.bench.known_rig import Bench
from sparewatt.studies.bench.known_rows import Made, P, Rows
from sparewatt.studies.fit.fitting import Unknown

__all__ = ["BUILDS", "GRAVITY", "hot_k", "hot_r"]

F = NDArray[np.float64]
GRAVITY = 9.80665
ELECTRIC = ("emf_constant", "resistance", "brush_drop")
DRAG = ("friction", "friction_slope")


def _warm(p: P, t: F, told: F) -> F:
    return t * told + p["room"] * (1 - told)


def hot_k(bench: Bench, p: P, t: F, told: F, constant: str = "emf_constant") -> F:
    """Direct volts per speed at the temperature of the machine."""
    factor = heat.magnet_factor(_warm(p, t, told), magnets=bench.machine.magnets)
    return np.asarray(p[constant] * bench.volts_factor * factor)


def hot_r(p: P, t: F, told: F) -> F:
    """Resistance at the temperature of the machine."""
    return np.asarray(p["resistance"] * heat.copper_factor(_warm(p, t, told)))


def _open(rows: Rows, made: Made, kind: str = "open_volts", constant: str = "emf_constant") -> None:
    def model(p: P, w: F, t: F, told: F) -> F:
        return machine.emf(w, k_emf=hot_k(rows.bench, p, t, told, constant))

    made.put(kind, rows, model, "volts", ["speed"], [constant], warm=True)


def _open_back(rows: Rows, made: Made) -> None:
    _open(rows, made, "open_volts_back", "emf_constant_back")


def _loaded(rows: Rows, made: Made) -> None:
    def model(p: P, w: F, i: F, t: F, told: F) -> F:
        return machine.terminal_voltage(
            w, i_out=i, k_emf=hot_k(rows.bench, p, t, told), r_wind=hot_r(p, t, told), v_brush=p["brush_drop"]
        )

    made.put("loaded_volts", rows, model, "volts", ["speed", "amps"], ELECTRIC, warm=True)


def _locked(rows: Rows, made: Made) -> None:
    def model(p: P, i: F, t: F, told: F) -> F:
        return hot_r(p, t, told) * i + p["brush_drop"]

    made.put("locked_volts", rows, model, "volts", ["amps"], ["resistance", "brush_drop"], warm=True)


def _run_free(rows: Rows, made: Made) -> None:
    def amps(p: P, v: F, t: F, told: F) -> F:
        return machine.drain_current(
            v, k_emf=hot_k(rows.bench, p, t, told), r_wind=hot_r(p, t, told), v_brush=p["brush_drop"],
            t_coulomb=p["friction"], b_viscous=p["friction_slope"],
        )  # fmt: skip

    def volts(p: P, w: F, i: F, t: F, told: F) -> F:
        return machine.terminal_voltage(
            w,
            i_out=-i,
            k_emf=hot_k(rows.bench, p, t, told),
            r_wind=hot_r(p, t, told),
            v_brush=p["brush_drop"],
        )

    made.put("run_free", rows, amps, "amps", ["volts"], [*ELECTRIC, *DRAG], warm=True)
    filmed = rows.only("speed")
    if filmed.taken:
        made.put("run_free", filmed, volts, "volts", ["speed", "amps"], ELECTRIC, warm=True, tag=" speed")


def _run_down(rows: Rows, made: Made, kind: str = "run_down") -> None:
    """Volts or speed against time after letting go; where each series starts is an unknown of its own."""
    bench, index = rows.bench, rows.index
    disc, whole = kind == "run_down_disc", kind == "run_down_rig"
    in_volts = rows.has("volts")
    y = np.where(in_volts, rows.value("volts"), rows.value("speed"))
    sd = np.where(in_volts, rows.sd("volts"), rows.sd("speed"))
    gain = tuple(g if on else "" for g, on in zip(rows.gain("volts"), in_volts, strict=True))
    starts = _starts(rows, made, y, in_volts)

    def model(p: P, t: F, volts: F, *size: F) -> F:
        w_0 = np.concatenate(np.broadcast_arrays(*(p[n] for n in starts)), axis=-1)[..., index]
        inertia, drag, slope = p["inertia"], p["friction"], p["friction_slope"]
        if disc:
            inertia = inertia + 0.5 * size[0] * (0.5 * size[1]) ** 2
        if whole:
            drag, slope = drag + p["drive_drag"], slope + p["drive_drag_slope"]
            inertia = inertia + p["drive_inertia"]
        w = transients.coast_speed(t, w_wheel=w_0, inertia=inertia, t_coulomb=drag, b_viscous=slope)
        k = hot_k(bench, p, np.zeros(1), np.zeros(1))
        return np.where(volts > 0, w * k, w)

    if in_volts.any():
        made.put_gain(rows, "volts")
    more = ("drive_drag", "drive_drag_slope", "drive_inertia") if whole else ()
    made.put(
        kind, rows, model, (y, sd, gain), ["time", (in_volts.astype(np.float64), np.zeros(y.size))],
        ["emf_constant", "room", *DRAG, "inertia", *more], tapes=("disc_mass", "disc_diameter") if disc else (),
        shows="volts" if in_volts.any() else "speed",
    )  # fmt: skip


def _starts(rows: Rows, made: Made, y: F, in_volts: NDArray[np.bool_]) -> tuple[str, ...]:
    """An unknown for the speed at which each series begins."""
    k = rows.bench.unknowns["emf_constant"].start * rows.bench.volts_factor
    names = []
    for n, t in enumerate(rows.taken):
        mine = rows.index == n
        first = float(np.nanmax(y[mine]))
        speed = first / k if in_volts[mine][0] else first
        made.own.append(Unknown(name=f"start of {t.key}", start=max(speed, 1.0), log=True))
        names.append(f"start of {t.key}")
    return tuple(names)


def _run_down_disc(rows: Rows, made: Made) -> None:
    _run_down(rows, made, "run_down_disc")


def _run_down_rig(rows: Rows, made: Made) -> None:
    _run_down(rows, made, "run_down_rig")


def _falling(rows: Rows, made: Made) -> None:
    """Time of a fall. The drag is taken at the mean speed of the shaft as it was seen."""

    def model(p: P, m: F, h: F, seen: F, r: F) -> F:
        drag = p["friction"] + p["friction_slope"] * h / (r * seen)
        return bench_physics.fall_time(h, mass=m, radius_string=r, inertia=p["inertia"], t_coulomb=drag)

    seen = rows.value("fall_time")
    made.put(
        "falling_weight", rows, model, "fall_time", ["mass", "height", (seen, np.zeros(seen.size))],
        [*DRAG, "inertia"], tapes=["string_radius"],
    )  # fmt: skip


def _lever(rows: Rows, made: Made) -> None:
    """Torque of the held shaft against amps: volts per speed a second way. One-sided readings carry the stiction."""
    bench = rows.bench
    both = rows.has("rising") & rows.has("falling")
    up, down = (
        np.where(rows.has(one), rows.value(one), rows.value(other))
        for one, other in (("rising", "falling"), ("falling", "rising"))
    )
    kilos = 0.5 * (up + down)
    scatter = np.where(rows.has("rising"), rows.sd("rising"), rows.sd("falling"))
    gains = [one or other for one, other in zip(rows.gain("rising"), rows.gain("falling"), strict=True)]
    stiction = bench.unknowns["friction"].start / (GRAVITY * rows.value("arm"))
    sd = np.hypot(scatter / np.where(both, math.sqrt(2), 1.0), np.where(both, 0.0, stiction))

    def model(p: P, i: F, arm: F, t: F, told: F) -> F:
        return hot_k(bench, p, t, told) / bench.volts_factor * i / (GRAVITY * arm)

    made.put_gain(rows, "rising")
    made.put_gain(rows, "falling")
    made.put(
        "lever_torque", rows, model, (kilos, sd, gains), ["amps"], ["emf_constant"],
        tapes=["arm"], warm=True, shows="rising",
    )  # fmt: skip


BUILDS: dict[str, Callable[[Rows, Made], None]] = {
    "open_volts": _open,
    "open_volts_back": _open_back,
    "loaded_volts": _loaded,
    "locked_volts": _locked,
    "run_free": _run_free,
    "run_down": _run_down,
    "run_down_disc": _run_down_disc,
    "run_down_rig": _run_down_rig,
    "falling_weight": _falling,
    "lever_torque": _lever,
}
