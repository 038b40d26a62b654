"""What the print of a board says beyond its amps: a side that is tied to the other side."""

from __future__ import annotations

from sparewatt.parts import Converter
from sparewatt.physics import shock
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.words import finding, number, value

__all__ = ["CHECKS"]


def _tied(scene: Scene) -> list[Finding] | None:
    """Boards whose output hangs on their input: what is high on one side is in reach on the other."""
    known = [board for board in scene.rig.converter if board.isolated is not None]
    if not known:
        return None
    found = []
    for board in known:
        if board.isolated:
            continue
        high, where = _high_side(scene, board)
        limit = float(shock.touch_limit(float(bool(scene.place.wet))))
        if high <= limit:
            continue
        inverter = board.kind == "inverter"
        found.append(
            finding(
                f"not isolated: {board.name}",
                "One side of the board is live from the other",
                "stop" if inverter else "look again",
                f"The {board.name} is not isolated: both its sides share a conductor, so {number(high, 'V')} of {where} can "
                f"stand on what you hold at the other; above {number(limit, 'V')} no bare part may be in reach.",
                "Cover the battery posts and every bare end, keep machine and frame out of the circuit, or take an isolated "
                "board.",
                at=("match", "loads", "board"),
                severity=4 if inverter else 3,
                source="elv_touch",
                found=high,
                threshold=limit,
                unit="V",
            )
        )
    return found


def _high_side(scene: Scene, board: Converter) -> tuple[float, str]:
    """The higher volts of a board, and on which side."""
    made = value(board.set_voltage, 0.0)
    fed = (
        scene.ceiling
        if board in scene.boards()
        else value(scene.battery.voltage, 0.0)
        if scene.battery
        else 0.0
    )
    return (made, "its output") if made > fed else (fed, "its input")


CHECKS: tuple[Check, ...] = (("Boards whose two sides are tied together", _tied),)
