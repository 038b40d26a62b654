"""Records into numbers: the one place where parts meet formulas.

`bind` reads a filled rig and gives `Bound`: one column for the nominal rig and one for each draw of what is uncertain.
"""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rider, Rig
from sparewatt.physics import heat
from sparewatt.physics import machine as machine_physics
from sparewatt.rig.bind_drive import bind_drive, gear_names
from sparewatt.rig.bind_output import bind_board, bind_output, hold_board, scaled, source_ohms
from sparewatt.rig.columns import Columns
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import as_asked, hookup
from sparewatt.rig.layout import Bound, Hookup, Param

__all__ = ["bind", "find_rider", "gear_names", "hold_board", "reheat", "scaled"]

F = NDArray[np.float64]


def find_rider(rig: Rig, name: str | None) -> Rider:
    """The rider of that name; the usual one, else the first, when no name is given."""
    wanted = name or (rig.ride.rider if rig.ride else "") or rig.rider[0].name
    for rider in rig.rider:
        if rider.name.casefold() == wanted.casefold():
            return rider
    known = ", ".join(f"'{r.name}'" for r in rig.rider)
    raise BadRequest(
        Problem(
            where="rider",
            read=wanted,
            problem=f"there is no rider called '{wanted}'",
            hint=f"riders: {known}",
        )
    )


def bind(
    filled: Filled,
    load: str,
    rider: str | None = None,
    *,
    effort: float = 100.0,
    draws: int = 1024,
    seed: int = 1,
) -> Bound:
    """Numbers for one rig, load and rider.

    effort (W) only places the tangent of the battery's charge curve. Cold winding and magnets: see `reheat`.
    """
    rig = as_asked(filled.rig, load)
    joined = hookup(rig, load)
    columns = Columns(Draws(draws, seed))
    params = np.zeros((len(Param), draws + 1))
    extras: dict[str, F] = {}
    _bind_source(rig, joined, columns, params, extras)
    bind_output(rig, joined, columns, params, extras, effort)
    bind_board(joined, rig, columns, params, extras)
    gears, ratio, gain, drag, slope, stages = bind_drive(rig, columns)
    person = find_rider(rig, rider)
    where = f"rider.{rig.rider.index(person)}"
    return Bound(
        rig=rig,
        hookup=joined,
        rider=person,
        gears=gears,
        params=params,
        ratio=ratio,
        gain=gain,
        drag=drag,
        slope=slope,
        stages=stages,
        w_top=columns.get(person, where, "top_cadence"),
        critical_power=columns.get(person, where, "critical_power"),
        work_reserve=columns.get(person, where, "work_reserve"),
        p_peak=columns.get(person, where, "peak_power"),
        extras=extras,
        scores=dict(columns.draws.scores),
        hows=dict(columns.draws.hows),
        assumed=tuple(sorted({f"{key}: {says}" for key, says in filled.assumed})),
    )


def reheat(bound: Bound, winding: float, magnet: float) -> Bound:
    """The same rig with its copper and magnets at these temperatures (K)."""
    params = bound.params.copy()
    magnets = bound.rig.machine.magnets if bound.rig.machine else "unknown"
    r = bound.extras["r_wind_cold"] * heat.copper_factor(winding)
    k = bound.extras["k_emf_cold"] * heat.magnet_factor(magnet, magnets=magnets)
    params[Param.R_SOURCE] += r - bound.extras["r_wind"]
    params[Param.K_EMF] = k
    return dataclasses.replace(bound, params=params, extras={**bound.extras, "r_wind": r})


def _bind_source(rig: Rig, joined: Hookup, columns: Columns, params: F, extras: dict[str, F]) -> None:
    """Machine, diode and the wire up to the board (or battery, or load)."""
    machine, diode = rig.machine, rig.diode
    assert machine is not None and diode is not None
    k = columns.get(machine, "machine", "emf_constant")
    r = columns.get(machine, "machine", "resistance")
    r_speed = np.zeros_like(k)
    v_diode = columns.get(diode, "diode", "drop")
    if machine.kind in ("pm_three_phase", "alternator"):
        source = machine_physics.bridge_source(
            k_line=k,
            r_line=r,
            inductance=columns.get(machine, "machine", "inductance"),
            pole_pairs=float(machine.pole_pairs or 4),
        )
        k, r, r_speed = source.k_emf, source.r_wind, source.r_per_speed
    blocks = diode.kind != "none" or machine.kind in ("pm_three_phase", "alternator")
    r_wire = source_ohms(rig, joined, columns)
    extras |= {
        "k_emf_cold": k,
        "r_wind_cold": r,
        "r_wind": r,
        "r_diode": columns.get(diode, "diode", "resistance"),
        "v_diode": v_diode,
        "v_brush": columns.get(machine, "machine", "brush_drop"),
        "r_wire": r_wire,
    }
    params[Param.K_EMF] = k
    params[Param.R_SOURCE] = r + extras["r_diode"] + r_wire
    params[Param.R_SPEED] = r_speed
    params[Param.V_DROP] = extras["v_brush"] + v_diode
    params[Param.T_COULOMB] = columns.get(machine, "machine", "friction")
    params[Param.B_VISCOUS] = columns.get(machine, "machine", "friction_slope")
    params[Param.HAS_DIODE] = float(blocks)
