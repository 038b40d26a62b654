"""Every run of wire, and the fuses at the battery: sizes in metric and in gauge, with their reasons."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from sparewatt.parts import Fuse, Wire
from sparewatt.physics import protection, wire
from sparewatt.rig.circuit import Branch, Piece
from sparewatt.studies.answers import Sized
from sparewatt.studies.guard.flows import Flow, Guarded, battery_side, guarded
from sparewatt.studies.guard.fuses import AT_POST, branch_words, fuse_words
from sparewatt.studies.guard.scene import Scene
from sparewatt.studies.guard.words import number, value

__all__ = ["DROP_WANTED", "ampacity", "drop_share", "fuse_for", "pick_wire", "usual_wires", "wires_and_fuses"]

NEAR = 0.97  # of what is wanted: near enough that a little more current after a change asks for nothing new
DROP_WANTED = 0.03  # share of the working volts; common practice, no source
MM2 = 1e-6
METRIC = tuple(a for a in wire.METRIC_SIZES if a > 0.4 * MM2)  # thinner ones break where they bend
GAUGES = tuple(g for g in wire.AWG_SIZES[::-1] if g <= 20)
BUNDLE = 6  # conductors with current in one bundle: three pairs
SHED = 303.15  # K of air that a wire is sized for at least
WORKING_WARM = 333.15  # K of copper at which the drop is worked out: warm wire drops more
COLUMNS = {
    "60C": ("60 C", 333.15),
    "75C": ("75 C", 348.15),
    "90C": ("75 C", 348.15),
}  # clamps are rarely marked above 75


def wires_and_fuses(scene: Scene) -> list[Sized]:
    """Sizes of every branch that carries something, then of every fuse; all of them can be followed together."""
    guards = guarded(scene.written_circuit)
    behind = {b.name: _guard_amps(scene, g) for g in guards for b in g.branches}
    plans = [
        _plan(scene, branch, flow, piece, behind.get(branch.name, 0.0))
        for branch, flow in scene.carried()
        for piece in (branch.wires or ((None,) if _needs_wire(scene, branch) else ()))
    ]
    wanted: dict[
        str, float
    ] = {}  # what a piece that stands for several leads must be for the hardest of them
    for plan in plans:
        wanted[plan.where] = max(wanted.get(plan.where, 0.0), plan.need)
    rows = [_wire(scene, plan, wanted[plan.where]) for plan in plans]
    for one in guards:
        if one.fuse is not None or one.at.kind == "post":
            row = _fuse(scene, one, plans)
            rows += [row] if row is not None else []
    return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """One wire of one branch: what it must carry, what it is, and the size that does."""

    branch: Branch
    flow: Flow
    wire: Wire | None
    where: str
    fused: float  # A that the fuse before it must carry
    length: float
    need: float  # m^2
    fits: bool


def _needs_wire(scene: Scene, branch: Branch) -> bool:
    """Whether a branch is a run of wire even when the file gives none."""
    if branch.kind != "output":
        return branch.kind in ("machine", "outlets", "load")
    charger = scene.charger()
    return (charger is not None and branch.name == f"{charger.name} output") or (
        scene.battery is None and not branch.name.endswith("lead on")
    )


def _guard_amps(scene: Scene, one: Guarded) -> float:
    """Amps that a fuse must carry: what flows where it sits."""
    return scene.flows[one.at.name].amps if one.at.name in scene.flows else 0.0


def ampacity(area: float, *, insulation: str = "60C", t_air: float = SHED, bundled: bool = False) -> float:
    """Amps a copper wire carries for hours: the code's table by gauge, a straight line on log-log paper between gauges.

    Below 16 gauge the small-conductor limits, below 18 gauge in proportion to the copper. Air above 30 degC and a bundle
    of six take their share; cooler air gives nothing back.
    """
    column, limit = COLUMNS[insulation]
    small = {g: a for g, a in wire.SMALL_LIMIT.items() if g >= 16}
    table = dict(wire.AMPACITY[column]) | small
    carries = _between(area, table)
    air = float(wire.ambient_factor_exact(max(t_air, SHED), t_limit=limit)) if t_air < limit else 0.0
    bundle = float(wire.bundle_factor(BUNDLE)) if bundled else 1.0
    return float(wire.derated_ampacity(carries, factor_air=air, factor_bundle=bundle))


def fuse_limit(area: float, carries: float) -> float:
    """The largest fuse for a wire: what it carries, and for thin wire no more than the rule for small conductors."""
    thickest = float(wire.gauge_area(min(wire.SMALL_LIMIT)))
    return min(carries, _between(area, dict(wire.SMALL_LIMIT))) if area <= thickest * 1.001 else carries


def _between(area: float, table: Mapping[int, float]) -> float:
    """Amps of an area between the gauges of a table."""
    gauges = sorted(table, reverse=True)
    areas = np.asarray(wire.gauge_area(np.array(gauges, dtype=float)))
    amps = np.array([float(table[g]) for g in gauges])
    if area < areas[0]:
        return float(amps[0] * area / areas[0])
    return float(np.exp(np.interp(math.log(area), np.log(areas), np.log(amps))))


def drop_share(area: float, length: float, amps: float, volts: float) -> float:
    """Share of the working volts lost in both conductors, copper warm."""
    each = wire.resistance_per_length(area, t_wire=WORKING_WARM)
    return float(wire.drop_share(wire.voltage_drop(amps, length=length, r_per_length=each), v_bus=volts))


def fuse_for(amps: float, i_wire: float) -> float:
    """The fuse that carries the amps with a quarter in hand and is no more than the wire carries; NaN when none fits."""
    return float(protection.fuse_size(amps, i_wire))


def pick_wire(
    amps: float,
    volts: float,
    length: float,
    *,
    sizes: tuple[float, ...] = METRIC,
    insulation: str = "60C",
    t_air: float = SHED,
    bundled: bool = False,
    fused: float = 0.0,
) -> float:
    """The smallest area (m^2) that keeps the drop, carries the amps with a quarter in hand and can be fused; inf: none.

    fused: amps of the fuse before it, which other wires may share.
    """
    for area in sizes:
        carries = ampacity(area, insulation=insulation, t_air=t_air, bundled=bundled)
        fuse = fuse_for(max(amps, fused), fuse_limit(area, carries))
        if drop_share(area, length, amps, volts) <= DROP_WANTED and math.isfinite(fuse):
            return area
    return math.inf


def usual_wires(
    amps: float,
    volts: float,
    length: float,
    *,
    insulation: str = "60C",
    t_air: float = SHED,
    bundled: bool = False,
    fused: float = 0.0,
) -> str:
    """The thinnest metric size and the thinnest gauge that do: "2.5 mm2 or 14 AWG"."""
    areas = {float(wire.gauge_area(g)): g for g in GAUGES}
    metric, gauge = (
        pick_wire(
            amps, volts, length, sizes=sizes, insulation=insulation, t_air=t_air, bundled=bundled, fused=fused
        )
        for sizes in (METRIC, tuple(areas))
    )
    names = [f"{metric / MM2:g} mm2"] if math.isfinite(metric) else []
    names += [_gauge_name(areas[gauge])] if math.isfinite(gauge) else []
    return " or ".join(names) or "more than one wire: shorten the run or raise the volts"


def _gauge_name(gauge: int) -> str:
    return f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"


def _plan(scene: Scene, branch: Branch, flow: Flow, piece: Piece | None, fused: float) -> _Plan:
    """What one wire needs at its length."""
    written = piece.part if piece is not None and isinstance(piece.part, Wire) else None
    length = value(written.length if written is not None else None, 2.0)
    how = _lies(scene, written)
    have = value(written.size if written is not None else None)
    fits = False
    if math.isfinite(have):
        carries, lost = ampacity(have, **how), drop_share(have, length, flow.amps, flow.volts)
        fits = carries >= NEAR * 1.25 * flow.amps and lost <= DROP_WANTED * 1.001
        fits = fits and math.isfinite(
            fuse_for(NEAR * max(flow.amps, fused), fuse_limit(have, carries) * 1.001)
        )
    return _Plan(
        branch=branch,
        flow=flow,
        wire=written,
        where=piece.where if piece is not None else branch.name,
        fused=fused,
        length=length,
        need=pick_wire(flow.amps, flow.volts, length, **how, fused=fused),
        fits=fits,
    )


def _lies(scene: Scene, written: Wire | None) -> dict[str, Any]:
    """Cover, air and bundle of a wire."""
    kind = written.insulation if written is not None and written.insulation else "60C"
    bundled = bool(written.bundled) if written is not None else False
    return {"insulation": kind, "t_air": max(scene.air, SHED), "bundled": bundled}


def _wire(scene: Scene, plan: _Plan, wanted: float) -> Sized:
    """The row of one wire: what it needs, and what is there. wanted: size for the hardest lead that the piece is in."""
    flow, length, written = plan.flow, plan.length, plan.wire
    how = _lies(scene, written)
    have = value(written.size if written is not None else None)
    guess = "" if written is not None and written.length is not None else " (a guess: measure it)"
    why = f"{number(flow.amps, 'A')} at {number(flow.volts, 'V')} over {number(length, 'm')} one way{guess}"
    carries, lost = math.nan, math.nan
    if math.isfinite(have):
        carries, lost = ampacity(have, **how), drop_share(have, length, flow.amps, flow.volts)
        why += (
            f"; yours loses {number(lost, '%')} and carries "
            f"{number(carries, 'A')}{' in a bundle' if how['bundled'] else ''}"
        )
    else:
        why += (
            f"; at most {100 * DROP_WANTED:.0f} % lost; look for the size printed on the wire, or "
            "measure its strands"
        )
    own = pick_wire(flow.amps, flow.volts, length, **how)
    if own < plan.need and not plan.fits:
        size = fuse_for(flow.amps, math.inf)
        why += (
            f"; the fuse before it must carry {number(plan.fused, 'A')} of others too, so it has to be this thick, or get "
            f"a fuse of its own of {size:g} A where it parts"
        )
    check = "stop" if carries < flow.amps else "not refused" if plan.fits else "look again"
    sized_already = written is not None and written.size is not None
    edits = (
        ((f"{plan.where}.size", f"{1e6 * wanted:g} mm2"),) if sized_already and math.isfinite(wanted) else ()
    )
    return Sized(
        what=f"wire {branch_words(scene, plan.branch)}",
        need=plan.need,
        have=have,
        unit="m^2",
        check=check,
        pick=usual_wires(flow.amps, flow.volts, length, **how, fused=plan.fused),
        why=why,
        source="nec_310",
        edits=edits if check != "not refused" else (),
    )


def _fuse(scene: Scene, one: Guarded, plans: list[_Plan]) -> Sized | None:
    """A fuse, or the place of one that is missing: enough for the amps, no more than any wire behind it will carry."""
    flow = scene.flows.get(one.at.name)
    names = {b.name for b in one.branches}
    mine = [p for p in plans if p.branch.name in names]
    if flow is None or (one.fuse is None and not mine):
        return None
    now = [ampacity(value(p.wire.size), **_lies(scene, p.wire)) for p in mine if p.wire and p.wire.size]
    advised = []
    for p in mine:
        have = value(p.wire.size if p.wire is not None else None)
        area = have if p.fits else p.need
        if math.isfinite(area):
            advised.append(fuse_limit(area, ampacity(area, **_lies(scene, p.wire))))
    thin, thick = min(now, default=math.nan), min(advised, default=math.nan)
    changes = any(not p.fits and math.isfinite(value(p.wire.size if p.wire else None)) for p in mine)
    size = fuse_for(flow.amps, thick if math.isfinite(thick) else math.inf)
    floor = float(protection.fuse_floor(flow.amps))
    fuse = one.fuse.part if one.fuse is not None else None
    have = value(fuse.rating if isinstance(fuse, Fuse) else None)
    stays = 0.8 * floor <= have <= (thick if math.isfinite(thick) else math.inf)
    size = have if stays else size
    near = one.at.name in battery_side(scene.written_circuit) and one.at.kind in AT_POST
    if math.isfinite(size):
        place = ", within 200 mm of the battery's plus post" if near else ""
        kept = "yours of " if stays and changes else ""
        pick = f"{kept}{size:g} A, marked for {number(1.25 * flow.ceiling, 'V')} DC or more{place}"
        pick += ", for the wires as advised here" if changes else ""
        prices = scene.rig.prices
        if not math.isfinite(have) and prices is not None and prices.fuse is not None:
            pick += f"; {prices.fuse.value:g} {prices.coin}"
    else:
        pick = (
            f"none fits: the wire carries {number(thick, 'A')}; take "
            f"{usual_wires(flow.amps, flow.volts, 1.0)} first"
        )
    check = _fuse_check(scene, one, have, floor, thin)
    return Sized(
        what=f"fuse {fuse_words(scene, one)}",
        need=size if math.isfinite(size) else floor,
        have=have,
        unit="A",
        check=check,
        pick=pick,
        why=f"a quarter above the {number(flow.amps, 'A')} that flows, and no more than the "
        + (
            f"{number(thin, 'A')} the thinnest wire behind it carries"
            if math.isfinite(thin)
            else "wire carries (its size is not in the file)"
        ),
        source="continuous_load_rule",
        edits=() if stays or check == "not refused" else _fuse_edits(one, flow, size),
    )


def _fuse_edits(one: Guarded, flow: Flow, size: float) -> tuple[tuple[str, str], ...]:
    """Keys and texts that put the advised fuse in."""
    if not math.isfinite(size):
        return ()
    if one.fuse is not None:
        return ((f"{one.fuse.where}.rating", f"{size:g} A"),)
    volts = math.ceil(1.25 * flow.ceiling)
    lines = f'run = "battery"\nrating = "{size:g} A"\ndc_voltage = "{volts:g} V"\nfrom_post = "150 mm"'
    return (("fuse+", lines),)


def _fuse_check(scene: Scene, one: Guarded, have: float, floor: float, thin: float) -> str:
    if not math.isfinite(have):
        return "look again" if scene.rig.fuse else "stop"
    burns = one.at.name in battery_side(scene.written_circuit)
    if math.isfinite(thin) and have > thin:
        return "stop" if burns else "look again"
    return "not refused" if have >= 0.8 * floor and math.isfinite(thin) else "look again"
