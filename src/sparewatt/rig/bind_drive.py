"""The drive as numbers: speed ratio, torque gain, drag and grip of every gear, step by step and seen at the crank."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rig, Stage
from sparewatt.parts.records import BELTS
from sparewatt.physics import belts, roller
from sparewatt.rig.columns import Columns, worst_of
from sparewatt.rig.layout import Stages

__all__ = ["bind_drive", "gear_names"]

F = NDArray[np.float64]
_STAGE_WORDS = {
    "chain": "chain",
    "gears": "gears",
    "roller": "tyre on roller",
    "rim_wheel": "wheel on rim",
    "flat_belt": "flat belt",
    "v_belt": "V belt",
    "ribbed_belt": "ribbed belt",
    "toothed_belt": "toothed belt",
    "direct": "coupling",
}


def gear_names(rig: Rig) -> tuple[str, ...]:
    """Every gear as "driver/driven", in the order of the file; one gear called "single" when nothing shifts."""
    choices = [stage_gears(stage) for stage in rig.stage]
    shifting = [k for k, names in enumerate(choices) if len(names) > 1] or [
        k for k, s in enumerate(rig.stage) if s.driver_teeth
    ][:1]
    names = []
    for combination in itertools.product(*choices) if choices else [()]:
        label = " + ".join(combination[k] for k in shifting if combination[k])
        names.append(label or "single")
    return tuple(names)


def stage_gears(stage: Stage) -> list[str]:
    if stage.driver_teeth and stage.driven_teeth:
        return [f"{a}/{b}" for a in stage.driver_teeth for b in stage.driven_teeth]
    return [""]


def bind_drive(rig: Rig, columns: Columns) -> tuple[tuple[str, ...], F, F, F, F, Stages]:
    """Speed ratio, torque gain, drag and drag slope of every gear, all seen at the crank."""
    gears = gear_names(rig)
    cols, n = columns.draws.draws + 1, len(rig.stage)
    each = [_bind_stage(stage, f"stage.{k}", columns) for k, stage in enumerate(rig.stage)]
    choices = list(itertools.product(*[range(len(stage_gears(s))) for s in rig.stage])) if n else [()]
    ratio = np.ones((n, len(gears), cols))
    for row, combination in enumerate(choices):
        for k, pick in enumerate(combination):
            ratio[k, row] = each[k]["ratio"][pick]
    total = np.ones((len(gears), cols))
    gain, drag, slope = (
        np.ones((len(gears), cols)),
        np.zeros((len(gears), cols)),
        np.zeros((len(gears), cols)),
    )
    free = np.ones((len(gears), cols))  # speed ratio from the crank to the driven shaft of the stage at hand
    force = np.ones((len(gears), cols))  # torque at the crank per torque on that shaft
    for k in range(n):
        free = free * ratio[k]
        geometric = ratio[k] / (1 - each[k]["creep"])
        force = force * geometric / each[k]["efficiency"]
        drag = drag + force * each[k]["drag"]
        slope = slope + force * each[k]["slope"] * free
    total, gain = free, force
    how = tuple(worst_of(columns, f"stage.{k}.") for k in range(n))
    stack = {
        key: np.stack([e[key] for e in each]) if n else np.zeros((0, cols))
        for key in ("efficiency", "drag", "slope", "rolling", "surface", "grip")
    }
    stages = Stages(
        names=tuple(s.name or _STAGE_WORDS[s.kind] for s in rig.stage),
        kinds=tuple(s.kind for s in rig.stage),
        ratio=ratio,
        how=how,
        **stack,
    )
    return gears, total, gain, drag, slope, stages


def _bind_stage(stage: Stage, where: str, columns: Columns) -> dict[str, Any]:
    """One step of the drive as columns: ratios of its gears (creep included), losses, rolling and grip."""
    cols = columns.draws.draws + 1
    creep = columns.get(stage, where, "creep")
    driver, driven = (
        columns.get(stage, where, "driver_diameter", math.nan),
        columns.get(stage, where, "driven_diameter", math.nan),
    )
    if stage.ratio is not None:
        ratios = [columns.get(stage, where, "ratio")]
    elif stage.driver_teeth and stage.driven_teeth:
        ratios = [np.full(cols, a / b) for a in stage.driver_teeth for b in stage.driven_teeth]
    elif stage.kind == "direct":
        ratios = [np.ones(cols)]
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            ratios = [driver / driven]
    if not all(np.isfinite(r).all() and (r > 0).all() for r in ratios):
        raise BadRequest(
            Problem(
                where=where,
                problem=f"the step '{stage.name or stage.kind}' has no ratio",
                hint="give driver_teeth and driven_teeth, or driver_diameter and driven_diameter, or ratio",
            )
        )
    drag, rolling, grip = columns.get(stage, where, "drag_torque"), np.zeros(cols), np.full(cols, np.inf)
    if stage.kind in ("roller", "rim_wheel"):
        press, mu = columns.get(stage, where, "press_force"), columns.get(stage, where, "friction")
        grip = roller.grip_limit(press_force=press, friction=mu)
        rolling = roller.rolling_force(
            rolling=columns.get(stage, where, "rolling"),
            press_force=press,
            d_tyre=_or(driver, 0.67),
            d_roller=_or(driven, 0.04),
        )
        drag = drag + rolling * _or(driven, 0.04) / 2
    elif stage.kind in BELTS and stage.kind != "toothed_belt":
        grip = _belt_grip(stage, where, columns, driver, driven)
    return {
        "ratio": [r * (1 - creep) for r in ratios],
        "creep": creep,
        "efficiency": columns.get(stage, where, "efficiency", 1.0),
        "drag": drag,
        "slope": columns.get(stage, where, "drag_slope"),
        "rolling": rolling,
        "surface": driver / 2,
        "grip": grip,
    }


def _belt_grip(stage: Stage, where: str, columns: Columns, driver: F, driven: F) -> F:
    """Largest pull a belt passes on before it slips on its smaller pulley (N), inf where sizes are not known."""
    if stage.driver_diameter is None or stage.driven_diameter is None:
        return np.full(columns.draws.draws + 1, np.inf)
    big, small = np.maximum(driver, driven), np.minimum(driver, driven)
    centre = columns.get(stage, where, "centre_distance", float(1.2 * np.max(big)))
    wrap = belts.wrap_angle(d_small=small, d_large=big, centre_distance=centre)
    wedge = columns.get(stage, where, "wedge_angle", math.pi)
    tension = columns.get(stage, where, "tension")
    e = belts.tension_ratio(wrap=wrap, friction=columns.get(stage, where, "friction"), wedge_angle=wedge)
    return belts.pull_at_slip(tension, grip_ratio=e)


def _or(column: F, default: float) -> F:
    return np.where(np.isfinite(column), column, default)
