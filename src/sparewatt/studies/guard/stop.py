"""How it stops: wheels that run on after the legs, and a short that stops the legs at once."""

from __future__ import annotations

import math

from sparewatt.parts import Flywheel
from sparewatt.physics import flywheel, structure
from sparewatt.rig.motion_layout import Move
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.inertia import inertia_of, shaft_ratio, wheel_place
from sparewatt.studies.guard.motion import wheel_speed
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.seconds import RunOn, runs_on
from sparewatt.studies.guard.swings import shorted
from sparewatt.studies.guard.words import energy, finding, number, spell, value

__all__ = ["CHECKS"]

WAIT_LIMIT, WAIT_ENERGY = 10.0, 50.0  # s and J above which a wheel is worth waiting for; common practice
CRANK = 0.17  # m, length of a crank; common practice
JOLTS = 3.0  # times the rider's weight on the pedal; common practice


def _run_down(scene: Scene) -> list[Finding] | None:
    """How long it goes on turning after you stop."""
    if not scene.rig.flywheel:
        return None
    found = []
    for wheel in scene.rig.flywheel:
        w = wheel_speed(scene, wheel, scene.w_work)
        joules = float(flywheel.stored_energy(inertia_of(wheel), w))
        if joules <= WAIT_ENERGY:
            continue
        ran = _ran_on(scene, wheel, w, pulled=True)
        if ran is not None and ran.still > WAIT_LIMIT:
            found.append(_runs_down(scene, wheel, w, joules, ran))
    return found


def _ran_on(scene: Scene, wheel: Flywheel, w: float, *, pulled: bool) -> RunOn | None:
    """The legs stop; followed for twice as long as the drag on the wheel alone would take."""
    drag, slope = _drag_at(scene, wheel)
    guess = float(flywheel.run_down_time(inertia_of(wheel), w, t_coulomb=max(drag, 1e-4), b_viscous=slope))
    return runs_on(scene.plays, guess, pulled=pulled)


def _runs_down(scene: Scene, wheel: Flywheel, w: float, joules: float, ran: RunOn) -> Finding:
    brake = float(flywheel.brake_torque(inertia_of(wheel), w, duration=5.0))
    name = wheel.name or "flywheel"
    fed = _ran_on(scene, wheel, w, pulled=False)
    wait = f"about {spell(ran.still)}" if math.isfinite(ran.still) else "more than ten minutes"
    amps = (
        f" With the load left on it goes on pushing {number(fed.amps, 'A')} at first, for {spell(fed.fed)}."
        if fed is not None and fed.fed > 0.5
        else ""
    )
    rigid = ran.shown.moving.mv[0, 0, Move.FREEWHEEL] == 0
    feet = "it takes your feet round with it" if rigid else "your feet cannot brake it through a freewheel"
    return finding(
        f"run-down: {name}",
        "It goes on turning after you stop",
        "look again",
        f"Played, with the plug pulled: the {name} turns on for {wait} with {energy(joules)} in it, and {feet}. "
        f"It goes on making volts meanwhile.{amps}",
        f"Wait until it is still, or fit a brake of {number(brake, 'N*m')} that stops it in five seconds.",
        at=("flywheel",),
        severity=3,
        source="rigid_body",
        found=ran.still if math.isfinite(ran.still) else math.nan,
        threshold=WAIT_LIMIT,
        unit="s",
        seconds=ran.shown.words,
    )


def _drag_at(scene: Scene, wheel: Flywheel) -> tuple[float, float]:
    """Fixed and growing drag of everything from the wheel to the machine, seen at the wheel."""
    bound, g = scene.solved.bound, scene.solved.gear
    place, here = wheel_place(scene, wheel), shaft_ratio(scene, wheel_place(scene, wheel), g)
    fixed = slope = 0.0
    s = bound.stages
    for k in range(place, len(s.names)):
        up = shaft_ratio(scene, k + 1, g) / here
        fixed += float(s.drag[k, 0]) * up
        slope += float(s.slope[k, 0]) * up**2
    up = float(scene.ratio[g]) / here
    m = scene.machine
    return fixed + value(m.friction, 0.0) * up, slope + value(m.friction_slope, 0.0) * up**2


def _jolt(scene: Scene) -> list[Finding] | None:
    """A short on the machine's side stops the crank at once."""
    if any(b.fuses for b in scene.circuit.branches if b.kind == "machine"):
        return []
    short = shorted(scene.plays, scene.w_work, scene.solved.gear)
    if short is None:
        return None
    mass = value(scene.solved.bound.rider.mass, 70.0)
    limit = JOLTS * mass * structure.GRAVITY * CRANK
    if short.torque <= limit:
        return []
    return [
        finding(
            "jolt",
            "A short that stops your legs",
            "look again",
            f"Played, a short on the machine's side draws {number(short.amps, 'A')} within "
            f"{spell(short.takes)} and brakes the crank with {number(short.torque, 'N*m')}, "
            f"more than {JOLTS:.0f} times your weight on the pedal: knees and chain take it.",
            "Put a fuse in the machine's own lead as well, guard the chain, and start sitting down.",
            at=("machine",),
            severity=3,
            found=short.torque,
            threshold=limit,
            unit="N*m",
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("Run-down after you stop", _run_down),
    ("Jolt from a short", _jolt),
)
