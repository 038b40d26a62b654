"""Every run of wire, and the fuses at the battery: sizes in metric and in gauge, with their reasons."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from sparewatt.parts import Fuse, Wire
from sparewatt.physics import protection, wire
from sparewatt.studies.answers import Sized
from sparewatt.studies.guard.fuses import RUN_WORDS, battery_fuses
from sparewatt.studies.guard.scene import Flow, Scene
from sparewatt.studies.guard.words import number, value

__all__ = ["DROP_WANTED", "ampacity", "drop_share", "fuse_for", "pick_wire", "usual_wires", "wires_and_fuses"]

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
    """Sizes of every run that carries something, then of every fuse at the battery."""
    rows = []
    for run, flow in scene.flows.items():
        written = [w for w in scene.written.wire if w.run == run]
        rows += [_wire(scene, run, flow, w) for w in written] or [_wire(scene, run, flow, None)]
    for run, fuse in battery_fuses(scene).items():
        rows.append(_fuse(scene, run, fuse))
    return rows


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
) -> float:
    """The smallest area (m^2) that keeps the drop, carries the amps with a quarter in hand and can be fused; inf: none."""
    for area in sizes:
        carries = ampacity(area, insulation=insulation, t_air=t_air, bundled=bundled)
        fused = fuse_for(amps, fuse_limit(area, carries))
        if drop_share(area, length, amps, volts) <= DROP_WANTED and math.isfinite(fused):
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
) -> str:
    """The thinnest metric size and the thinnest gauge that do: "2.5 mm2 or 14 AWG"."""
    areas = {float(wire.gauge_area(g)): g for g in GAUGES}
    metric, gauge = (
        pick_wire(amps, volts, length, sizes=sizes, insulation=insulation, t_air=t_air, bundled=bundled)
        for sizes in (METRIC, tuple(areas))
    )
    names = [f"{metric / MM2:g} mm2"] if math.isfinite(metric) else []
    names += [_gauge_name(areas[gauge])] if math.isfinite(gauge) else []
    return " or ".join(names) or "more than one wire: shorten the run or raise the volts"


def _gauge_name(gauge: int) -> str:
    return f"{gauge} AWG" if gauge > 0 else f"{1 - gauge}/0 AWG"


def _run(scene: Scene, run: str) -> str:
    """A run in words; without a battery the board feeds the load."""
    return "from the board" if run == "board" and scene.battery is None else RUN_WORDS[run]


def _wire(scene: Scene, run: str, flow: Flow, written: Wire | None) -> Sized:
    """One run: what it needs at its length, and what is there."""
    length = value(written.length if written is not None else None, 2.0)
    kind = written.insulation if written is not None and written.insulation else "60C"
    bundled = bool(written.bundled) if written is not None else False
    air = max(scene.air, SHED)
    need = pick_wire(flow.amps, flow.volts, length, insulation=kind, t_air=air, bundled=bundled)
    pick = usual_wires(flow.amps, flow.volts, length, insulation=kind, t_air=air, bundled=bundled)
    have = value(written.size if written is not None else None)
    carries = ampacity(have, insulation=kind, t_air=air, bundled=bundled) if math.isfinite(have) else math.nan
    lost = drop_share(have, length, flow.amps, flow.volts) if math.isfinite(have) else math.nan
    check = _wire_check(flow, have, carries, lost)
    guess = "" if written is not None and written.length is not None else " (a guess: measure it)"
    why = f"{number(flow.amps, 'A')} at {number(flow.volts, 'V')} over {number(length, 'm')} one way{guess}"
    if math.isfinite(have):
        why += (
            f"; yours loses {number(lost, '%')} and carries "
            f"{number(carries, 'A')}{' in a bundle' if bundled else ''}"
        )
    else:
        why += (
            f"; at most {100 * DROP_WANTED:.0f} % lost; look for the size printed on the wire, or "
            "measure its strands"
        )
    return Sized(
        what=f"wire {_run(scene, run)}",
        need=need,
        have=have,
        unit="m^2",
        check=check,
        pick=pick,
        why=why,
        source="nec_310",
    )


def _wire_check(flow: Flow, have: float, carries: float, lost: float) -> str:
    if not math.isfinite(have):
        return "look again"
    if carries < flow.amps:
        return "stop"
    return "not refused" if carries >= 1.25 * flow.amps and lost <= DROP_WANTED * 1.001 else "look again"


def _thinnest(scene: Scene, run: str) -> float:
    """Least amps that any wire behind the fuse of this run may carry; NaN where no size is known."""
    runs = {run}
    if run == "battery" and _direct(scene) and all(f.run != "load" for f in scene.rig.fuse):
        runs.add("load")
    known = [
        ampacity(
            value(w.size),
            insulation=w.insulation or "60C",
            t_air=max(scene.air, SHED),
            bundled=bool(w.bundled),
        )
        for w in scene.written.wire
        if w.run in runs and w.size is not None
    ]
    return min(known, default=math.nan)


def _direct(scene: Scene) -> bool:
    """Whether some load hangs on the battery with no board between."""
    return any(scene.on_battery(x) and scene.feeding(x) is None for x in scene.rig.load)


def _carried(scene: Scene, run: str, fuse: Fuse | None) -> float:
    """Amps through the fuse of a run: a fuse at the post that guards several runs carries the most of them."""
    return max(
        scene.flows[other].amps
        for other, same in battery_fuses(scene).items()
        if other == run or (fuse is not None and same is fuse)
    )


def _fuse(scene: Scene, run: str, fuse: Fuse | None) -> Sized:
    """The fuse of one run at the battery: enough for the amps, no more than the wire."""
    assert scene.battery is not None
    amps, carries = _carried(scene, run, fuse), _thinnest(scene, run)
    volts = value(scene.battery.charge_voltage)
    size = fuse_for(amps, carries if math.isfinite(carries) else math.inf)
    floor = float(protection.fuse_floor(amps))
    have = value(fuse.rating if fuse is not None else None)
    if math.isfinite(size):
        pick = (
            f"{size:g} A, marked for {number(1.25 * volts, 'V')} DC or more, within 200 mm of the "
            "battery's plus post"
        )
    else:
        pick = (
            f"none fits: the wire carries {number(carries, 'A')}; take {usual_wires(amps, volts, 1.0)} first"
        )
    return Sized(
        what=f"fuse {RUN_WORDS[run]}, at the battery post",
        need=size if math.isfinite(size) else floor,
        have=have,
        unit="A",
        check=_fuse_check(scene, have, floor, carries),
        pick=pick,
        why=f"a quarter above the {number(amps, 'A')} that flows, and no more than the "
        + (
            f"{number(carries, 'A')} the wire carries"
            if math.isfinite(carries)
            else "wire carries (its size is not in the file)"
        ),
        source="continuous_load_rule",
    )


def _fuse_check(scene: Scene, have: float, floor: float, carries: float) -> str:
    if not math.isfinite(have):
        return "look again" if scene.rig.fuse else "stop"
    if math.isfinite(carries) and have > carries:
        return "stop"
    return "not refused" if have >= 0.8 * floor and math.isfinite(carries) else "look again"
