"""Grip of belts and rollers at the peak of each push."""

from __future__ import annotations

import math

from sparewatt.parts import Stage
from sparewatt.parts.records import BELTS
from sparewatt.physics import belts
from sparewatt.studies.answers import Sized
from sparewatt.studies.guard.scene import Scene
from sparewatt.studies.guard.words import number, sized, value

__all__ = ["grips", "pulls"]


def pulls(scene: Scene) -> list[tuple[int, str, float, float]]:
    """(step, name, pull at the peak of a push, pull it can pass on) of every belt and roller whose grip is known."""
    peaks: dict[int, tuple[str, float, float]] = {}
    for state in (scene.solved, *scene.hard):
        for limit in state.limits:
            if limit.key == "grip":
                k = int(limit.link.split()[1]) - 1
                if k not in peaks or limit.found > peaks[k][1]:
                    peaks[k] = (limit.part, limit.found, limit.limit)
    return [(k, *row) for k, row in sorted(peaks.items())]


def grips(scene: Scene) -> list[Sized]:
    """Belt tension and roller press for the stroke's peak."""
    rows = []
    for k, name, peak, grip in pulls(scene):
        stage = scene.rig.stage[k]
        if stage.kind in BELTS:
            rows.append(_belt(stage, name, peak, grip))
            continue
        mu, have = value(stage.friction), value(stage.press_force)
        need = peak / mu
        rows.append(
            sized(
                f"press of the {name}",
                need,
                have,
                "N",
                "not refused" if have >= need else "look again",
                f"{number(need, 'N')} or a little more",
                f"the peak of a push pulls {number(peak, 'N')} and the faces grip with {number(mu, '1')}; "
                "wet or dusty ones grip half as well",
                "friction",
            )
        )
    return rows


def _belt(stage: Stage, name: str, peak: float, grip: float) -> Sized:
    """Tension each side, from the same grip the solver uses."""
    have = value(stage.tension)
    need = have * peak / grip
    big, small = sorted((value(stage.driver_diameter), value(stage.driven_diameter)), reverse=True)
    centre = value(stage.centre_distance, 1.2 * big)
    wrap = float(belts.wrap_angle(d_small=small, d_large=big, centre_distance=centre))
    return sized(
        f"tension of the {name}, each side",
        need,
        have,
        "N",
        "not refused" if have >= need else "look again",
        f"{number(need, 'N')}; both shafts then carry {number(2 * need, 'N')}",
        f"the peak of a push pulls {number(peak, 'N')} over {math.degrees(wrap):.0f} degrees of the small "
        "pulley",
        "euler_eytelwein",
    )
