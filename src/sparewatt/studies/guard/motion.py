"""What turns, stores and tips: guards, flywheels, grip, shaking, noise."""

from __future__ import annotations

import math

import numpy as np

from sparewatt.parts import Flywheel
from sparewatt.physics import belts, flywheel, gas, structure
from sparewatt.rig.operating import RPM
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.inertia import energy_swing, inertia_of, shaft_ratio, wheel_place, wheel_radius
from sparewatt.studies.guard.scene import MARGIN, Check, Scene
from sparewatt.studies.guard.words import energy, finding, listed, number, spell, turns, value

__all__ = ["CHECKS", "MATERIALS", "rim_limit", "wheel_speed"]

MATERIALS = {
    "cast_iron": "unknown cast iron",
    "steel_disc": "machined steel disc",
    "plywood": "plywood or board",
    "concrete": "concrete or filled rim",
    "bicycle_wheel": "bicycle rim as built",
    "unknown": "unknown cast iron",
}
MATERIAL_WORDS = {
    "cast_iron": "a casting of unknown make",
    "steel_disc": "a machined steel disc",
    "plywood": "plywood or board",
    "concrete": "concrete or a filled rim",
    "bicycle_wheel": "a bicycle wheel as built",
    "unknown": "a wheel of unknown make",
}
GRIPPING = {
    "chain": "chain",
    "gears": "gears",
    "roller": "tyre and roller",
    "rim_wheel": "wheel on the rim",
    "flat_belt": "belt",
    "v_belt": "belt",
    "ribbed_belt": "belt",
    "toothed_belt": "belt",
}
SHAKE_LIMIT = (
    100.0  # N of turning force that loosens bolts and cracks brackets on a wooden frame; common practice
)
RIB_WATTS = 50.0  # W a narrow rib passes on at pedal speeds [rib_practice]
ROLLER_NOISE = 88.0  # dB at the ear, upper end of roller rigs; common practice


def rim_limit(wheel: Flywheel) -> float:
    """Rim speed not to pass (m/s)."""
    share = flywheel.RIM_DRILLED if wheel.drilled_or_welded else 1.0
    return float(
        flywheel.rim_ceiling(flywheel.RIM_CEILINGS[MATERIALS[wheel.material or "unknown"]], rim_share=share)
    )


def wheel_speed(scene: Scene, wheel: Flywheel, w_crank: float) -> float:
    """Speed of a wheel at a crank speed, in the gear that turns it fastest."""
    place = wheel_place(scene, wheel)
    return w_crank * max(shaft_ratio(scene, place, g) for g in range(len(scene.gears)))


def _rim(scene: Scene) -> list[Finding] | None:
    """Rim speed at over-speed and a quarter more, against the ceiling of the material."""
    if not scene.rig.flywheel:
        return None
    return [f for wheel in scene.rig.flywheel for f in _rim_one(scene, wheel)]


def _rim_one(scene: Scene, wheel: Flywheel) -> list[Finding]:
    radius, limit = wheel_radius(wheel), rim_limit(wheel)
    usual, sprint = wheel_speed(scene, wheel, scene.w_work), wheel_speed(scene, wheel, scene.fastest)
    fast = float(flywheel.rim_speed(MARGIN * sprint, radius))
    if fast <= limit:
        return []
    slow, top = (float(flywheel.rim_speed(w, radius)) for w in (usual, sprint))
    j = inertia_of(wheel)
    sizes = " and ".join(energy(float(flywheel.stored_energy(j, w))) for w in (usual, sprint))
    rpm = float(flywheel.speed_for_rim(limit, radius))
    sure = top > limit
    name = wheel.name or "flywheel"
    slower = listed(
        [
            f"{shaft_ratio(scene, k, 0) * scene.w_work / RPM:.0f} turns"
            for k in range(1, len(scene.rig.stage))
            if k != wheel_place(scene, wheel)
        ]
        or ["a slower shaft"]
    )
    return [
        finding(
            f"rim speed: {name}",
            "A flywheel that can burst",
            "stop" if sure else "look again",
            f"The rim of the {name} runs at {number(slow, 'm/s')} at {turns(usual)} and "
            f"{number(top, 'm/s')} in a sprint ({turns(sprint)}); "
            f"{MATERIAL_WORDS[wheel.material or 'unknown']} should stay below {number(limit, 'm/s')}. It "
            f"holds {sizes}.",
            f"Put it on a slower shaft ({slower}; at most {turns(rpm)} in a sprint). Each push needs it to "
            "carry only "
            f"{energy(energy_swing(scene.p_rider, scene.w_work))}.",
            at=("match", "flywheel"),
            severity=4,
            source="rim_practice",
            found=top,
            threshold=limit,
            unit="m/s",
        )
    ]


def _unbalance(scene: Scene) -> list[Finding] | None:
    """Shaking of a wheel that is off its centre."""
    wheels = [w for w in scene.rig.flywheel if w.off_centre is not None]
    if not wheels:
        return None
    found = []
    for wheel in wheels:
        usual, sprint = wheel_speed(scene, wheel, scene.w_work), wheel_speed(scene, wheel, scene.fastest)
        mass, off = value(wheel.mass), value(wheel.off_centre)
        force, top = (float(flywheel.unbalance_force(mass, offset=off, w_wheel=w)) for w in (usual, sprint))
        if top <= SHAKE_LIMIT:
            continue
        name = wheel.name or "flywheel"
        found.append(
            finding(
                f"unbalance: {name}",
                "A flywheel that shakes the frame",
                "stop" if force > 2 * SHAKE_LIMIT else "look again",
                f"{number(off, 'm')} off its centre, the {name} pulls round with {number(force, 'N', 3)} "
                f"at {turns(usual)} and {number(top, 'N')} in a sprint.",
                "Let it find its heavy side on a level shaft, take metal off there, or turn it slower.",
                at=("flywheel",),
                severity=3,
                source="rigid_body",
                found=force,
                threshold=SHAKE_LIMIT,
                unit="N",
            )
        )
    return found


def _wheel_guard(scene: Scene) -> list[Finding] | None:
    """Flywheels without a fixed guard."""
    if not scene.rig.flywheel:
        return None
    found = []
    for wheel in scene.rig.flywheel:
        if wheel.guarded:
            continue
        joules = float(flywheel.stored_energy(inertia_of(wheel), wheel_speed(scene, wheel, scene.fastest)))
        name = wheel.name or "flywheel"
        known = wheel.guarded is False
        children = bool(scene.place.children)
        missing = "has no guard" if known else "may have no guard: the file does not say"
        found.append(
            finding(
                f"wheel guard: {name}",
                "A flywheel without a guard",
                "stop" if known and (children or joules > 140.0) else "look again",
                f"The {name} {missing}. In a sprint it holds {energy(joules)}, enough to break a hand.",
                "Close it in with board or sheet all round, fixed with screws, before you ride.",
                at=("flywheel",),
                severity=3,
                found=joules,
                unit="J",
            )
        )
    return found


def _nips(scene: Scene) -> list[Finding] | None:
    """Belts, chains and rollers without guards."""
    stages = [(k, s) for k, s in enumerate(scene.rig.stage) if s.kind in GRIPPING]
    if not stages:
        return None
    bare = [(k, s) for k, s in stages if not s.guarded]
    if not bare:
        return []
    known = [s for _k, s in bare if s.guarded is False]
    children = bool(scene.place.children)
    names = listed([s.name or GRIPPING[s.kind] for _k, s in bare])
    speeds = [
        scene.w_work * shaft_ratio(scene, k, scene.solved.gear) * value(s.driver_diameter) / 2
        for k, s in bare
        if s.driver_diameter is not None
    ]
    quick = (
        f" At {number(max(speeds), 'm/s')} a belt draws a hand in within "
        f"{spell(float(structure.nip_time(0.3, v_belt=max(speeds))))}."
        if speeds
        else ""
    )
    says = (
        f"The {names} {'have' if len(bare) > 1 else 'has'} no guard."
        if known
        else f"The file names no guard on the {names}."
    )
    slot = structure.guard_distance(0.006)
    return [
        finding(
            "nip guards",
            "Fingers, hair and laces in the drive",
            "stop" if children and known else "look again",
            f"{says}{quick}",
            "Fix a guard over each place where belt, chain or tyre runs on; gaps up to 6 mm at least "
            f"{number(float(slot), 'm')} away from it. "
            "Where children can reach, close it all round.",
            at=tuple(f"stage {k + 1}" for k, _s in bare),
            severity=3,
            source="iso13857",
        )
    ]


def _grip(scene: Scene) -> list[Finding] | None:
    """Belts and rollers that slip at the peak of each push."""
    from sparewatt.studies.guard.grip import pulls

    rows = pulls(scene)
    if not rows:
        return None
    found = []
    for k, name, peak, grip in rows:
        if peak <= grip:
            continue
        found.append(
            finding(
                f"slips: {name}",
                "It slips on every push",
                "look again",
                f"At the peak of a push the {name} must pull {number(peak, 'N')}; it grips "
                f"{number(grip, 'N')}.",
                "Press harder, tighten the belt, or use a bigger roller or pulley; more pressure also "
                "costs watts.",
                at=("match", f"stage {k + 1}"),
                severity=1,
                source="friction",
                found=peak,
                threshold=grip,
                unit="N",
            )
        )
    return found


def _ribs(scene: Scene) -> list[Finding] | None:
    """Ribs of a belt that pass on the hardest watts that last."""
    known = [(k, s) for k, s in enumerate(scene.rig.stage) if s.ribs is not None]
    if not known:
        return None
    watts = max([scene.p_rider, *(value(r.critical_power, 0.0) for r in scene.riders)])
    need = int(belts.belt_ribs(watts, p_rib=RIB_WATTS))
    return [
        finding(
            f"ribs: {s.name or 'belt'}",
            "Too few ribs on the belt",
            "look again",
            f"{number(watts, 'W')} go through the {s.name or 'belt'}, which has {s.ribs} ribs; on a small pulley a narrow "
            f"rib passes on about {number(RIB_WATTS, 'W')}, so it takes {need}.",
            f"Take a belt with {need} ribs, or a larger small pulley, and read the belt maker's table.",
            at=("match", f"stage {k + 1}"),
            severity=1,
            source="rib_practice",
            found=float(s.ribs),
            threshold=float(need),
            unit="1",
        )
        for k, s in known
        if s.ribs is not None and s.ribs < need
    ]


def _machine_speed(scene: Scene) -> list[Finding] | None:
    """The machine's own speed limit."""
    limit = value(scene.written.machine.speed_limit if scene.written.machine else None)
    if not math.isfinite(limit):
        return None
    fast = scene.fastest * float(np.max(scene.ratio))
    if fast <= limit:
        return []
    return [
        finding(
            "machine speed",
            "The machine turns faster than it may",
            "look again",
            f"At {scene.fastest / RPM:.0f} turns {scene.gear(scene.top)} the machine runs at {turns(fast)}; it may turn "
            f"{turns(limit)}.",
            "Use a bigger pulley on it, or leave the fastest gears out.",
            at=("match", "machine"),
            severity=3,
            found=fast,
            threshold=limit,
            unit="rad/s",
        )
    ]


def _noise(scene: Scene) -> list[Finding] | None:
    """A roller loud enough to spend the day's allowance."""
    if not any(s.kind in ("roller", "rim_wheel") for s in scene.rig.stage):
        return None
    allowed = float(gas.noise_time(ROLLER_NOISE))
    if scene.ask.duration < allowed:
        return []
    return [
        finding(
            "noise",
            "Too loud for that long",
            "look again",
            f"A tyre on a roller makes up to {ROLLER_NOISE:.0f} dB at the ear; {spell(allowed)} of that is "
            "a day's allowance.",
            "Wear ear plugs, put rubber under the feet, or take turns.",
            at=("worth", "legs"),
            severity=1,
            source="niosh_noise",
            found=scene.ask.duration,
            threshold=allowed,
            unit="s",
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("Rim speed of the flywheel", _rim),
    ("Balance of the flywheel", _unbalance),
    ("Guard on the flywheel", _wheel_guard),
    ("Guards on the drive", _nips),
    ("Grip at the peak of each push", _grip),
    ("Ribs of the belt", _ribs),
    ("Speed of the machine", _machine_speed),
    ("Noise", _noise),
)
