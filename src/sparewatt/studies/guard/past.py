"""Parts that are past what they may stand where this question is ridden: the same limits that the state of it carries."""

from __future__ import annotations

from sparewatt.rig.limits import Limit
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.words import finding, number, turns

__all__ = ["CHECKS"]

# key of a limit: title, what to do, how bad it is
PAST: dict[str, tuple[str, str, int]] = {
    "machine speed": (
        "The machine turns faster than it may",
        "Fit a bigger pulley on the machine or ride in a lower gear before you ride at all.",
        3,
    ),
    "machine amps": (
        "More amps than the machine carries for hours",
        "Turn the amps screw down, ride easier, or ride in bouts.",
        3,
    ),
    "machine amps, short": (
        "More amps than the machine carries for a minute",
        "Turn the amps screw down or ride easier.",
        3,
    ),
    "diode amps": (
        "More amps than the diode carries",
        "Take a diode for twice these amps, on a heat sink.",
        3,
    ),
    "board volts": (
        "More volts than the board stands",
        "Ride slower, in a lower gear, or take a board for more volts.",
        3,
    ),
    "board amps out": (
        "More amps than the board gives for hours",
        "Turn its amps screw down, or blow air over it.",
        2,
    ),
    "load volts": (
        "More volts than the load stands",
        "Put a board between, or turn its volts screw down.",
        3,
    ),
}


def _past(scene: Scene) -> list[Finding] | None:
    """Limits passed on the ride that was asked about. The battery's amps and the winding have checks of their own."""
    if not scene.solved.limits:
        return None
    over = [limit for limit in scene.solved.limits if limit.check != "not refused" and limit.key in PAST]
    return [_finding(scene, limit) for limit in over]


def _finding(scene: Scene, limit: Limit) -> Finding:
    title, do, severity = PAST[limit.key]

    def said(x: float) -> str:
        return turns(x) if limit.unit == "rad/s" else number(x, limit.unit)

    known = "" if limit.check == "stop" and limit.how != "typical" else " (a usual figure: look for its own)"
    gear = scene.gear(scene.solved.gear)
    return finding(
        f"past its limit: {limit.key}",
        title,
        limit.check,
        f"On this ride {gear} the {limit.part} is at {said(limit.found)}; it may be at {said(limit.limit)}{known}.",
        do,
        at=("match", limit.link),
        severity=severity,
        found=limit.found,
        threshold=limit.limit,
        unit=limit.unit,
    )


CHECKS: tuple[Check, ...] = (("Limits of the parts on this ride", _past),)
