"""What size, what fuse, what can hurt: sizes with reasons, and every hazard this rig can be judged on."""

from __future__ import annotations

import dataclasses
import math
from functools import lru_cache

from sparewatt.parts import Rig
from sparewatt.rig.asking import Ask
from sparewatt.rig.fill import Filled
from sparewatt.rig.outcome import Caveat
from sparewatt.rig.stations import stations_of
from sparewatt.studies.answers import Finding, GuardAnswer, Sized
from sparewatt.studies.guard import battery as guard_battery
from sparewatt.studies.guard import boards as guard_boards
from sparewatt.studies.guard import charging as guard_charging
from sparewatt.studies.guard import fire as guard_fire
from sparewatt.studies.guard import fuses as guard_fuses
from sparewatt.studies.guard import motion as guard_motion
from sparewatt.studies.guard import past as guard_past
from sparewatt.studies.guard import people as guard_people
from sparewatt.studies.guard import ripple as guard_ripple
from sparewatt.studies.guard import stop as guard_stop
from sparewatt.studies.guard import touch as guard_touch
from sparewatt.studies.guard import volts as guard_volts
from sparewatt.studies.guard.scene import Check, Scene, scene_of
from sparewatt.studies.guard.sizes import sizes
from sparewatt.studies.guard.wires import wires_and_fuses
from sparewatt.studies.guard.words import PRACTICE, finding, listed, number

__all__ = ["CHECKS", "guard", "put_first"]

# What the numbers of the rig say by themselves, and what only shows when its seconds are played.
STATED: tuple[Check, ...] = (
    *guard_volts.CHECKS,
    *guard_touch.CHECKS,
    *guard_boards.CHECKS,
    *guard_fuses.CHECKS,
    *guard_fire.CHECKS,
    *guard_battery.CHECKS,
    *guard_charging.CHECKS,
    *guard_past.CHECKS,
    *guard_motion.CHECKS,
    *guard_people.CHECKS,
)
CHECKS: tuple[Check, ...] = (*STATED, *guard_ripple.CHECKS, *guard_stop.CHECKS)
RANK = {"not refused": 0, "look again": 1, "stop": 2}
NEIGHBOUR_CHECKS = guard_volts.CHECKS[:3]


def guard(rig: Rig | Filled, load: str | None = None, ask: Ask | None = None) -> GuardAnswer:
    """Sizes and hazards of one rig.

    Give the rig as it was written: where the file is silent the answer is "look again", with what to measure or read.
    load and ask only choose the usual ride; every load of the file is looked at.
    """
    scene = scene_of(rig, load, ask)
    rows = (*wires_and_fuses(scene), *sizes(scene))
    findings, quiet = _looked(scene, CHECKS, rows)
    findings.sort(key=lambda f: (-RANK[f.check], -f.severity))
    # a board that is asked at several settings, or two nameless switches in one lead, are told of once, by the worst
    once: dict[str, Finding] = {}
    for one in findings:
        once.setdefault(one.key, one)
    findings = list(once.values())
    return GuardAnswer(
        check=_worst(findings, rows),
        sizes=rows,
        findings=tuple(findings),
        quiet=tuple(quiet),
        caveats=_standing(scene),
        sources=tuple(sorted({*(f.source for f in findings), *(s.source for s in rows)} - {PRACTICE})),
    )


def _looked(
    scene: Scene, checks: tuple[Check, ...], rows: tuple[Sized, ...]
) -> tuple[list[Finding], list[str]]:
    """Everything that was found, and the titles of what was looked at and not found."""
    findings: list[Finding] = []
    quiet: list[str] = []
    for title, check in checks:
        found = check(scene)
        if found is None:
            continue
        findings += found
        if not found:
            quiet.append(title)
    findings += _sizes_that_stop(rows, findings)
    return [*findings, *_neighbours(scene)], quiet


@lru_cache(maxsize=64)
def put_first(filled: Filled, ask: Ask) -> tuple[Finding, ...]:
    """What must be put right before anybody rides this: every stop, the worst first. The same checks, not played."""
    scene = scene_of(filled, ask=ask, quiet=True)
    findings, _quiet = _looked(scene, STATED, tuple(wires_and_fuses(scene)))
    stops = {f.key: f for f in findings if f.check == "stop"}.values()
    return tuple(sorted(stops, key=lambda f: -f.severity))


def _worst(findings: list[Finding], rows: tuple[Sized, ...]) -> str:
    words = [f.check for f in findings] + [s.check for s in rows]
    return max(words, key=lambda word: RANK[word], default="not refused")


# Sizes that are a stop for a reason that has a finding of its own: how the row begins, how that finding's key begins
TOLD = (
    ("diode", "no diode"),
    ("diode", "diode volts"),
    ("switch", "switch"),
    ("socket", "socket"),
    ("top speed", "rim speed"),
    ("fuse", "no fuse"),
)


def _sizes_that_stop(rows: tuple[Sized, ...], findings: list[Finding]) -> list[Finding]:
    """A finding for each size that is a stop and that nothing else tells of: why, and what to do."""
    told = [f.key for f in findings if f.check == "stop"]
    found = []
    for row in rows:
        said = any(row.what.startswith(a) and key.startswith(b) for a, b in TOLD for key in told)
        if row.check != "stop" or said:
            continue
        what, yours = row.what[0].upper() + row.what[1:], number(row.have, row.unit)
        has = f"yours is {yours}" if math.isfinite(row.have) else "there is none"
        found.append(
            finding(
                f"size: {row.what}",
                f"{what}: it cannot stay as it is",
                "stop",
                f"{what}: {has}. It is reckoned by {row.why}.",
                f"Take {row.pick}."
                if not row.pick.startswith("none")
                else f"{row.pick[0].upper()}{row.pick[1:]}.",
                at=("battery wire", "wire"),
                severity=4,
                source=row.source,
                found=row.have,
                threshold=row.need,
                unit=row.unit,
            )
        )
    return found


def _neighbours(scene: Scene) -> list[Finding]:
    """Over-volts of every other rig on the bus that differs from this one."""
    if not scene.rig.neighbour:
        return []
    found = []
    stations = stations_of(scene.filled)
    for other, station in zip(scene.rig.neighbour, stations[1:], strict=True):
        name = station.name
        if other.machine is None and not other.stage and other.converter is None:
            continue
        ask = dataclasses.replace(scene.ask, rider=other.rider or scene.ask.rider, gear=None, cadence=None)
        there = scene_of(Filled(rig=station.rig, assumed=()), ask=ask, quiet=scene.plays.quiet)
        for _title, check in NEIGHBOUR_CHECKS:
            found += [
                dataclasses.replace(
                    f, key=f"{f.key} ({name})", title=f"{name}: {f.title[0].lower()}{f.title[1:]}"
                )
                for f in check(there) or []
            ]
    return found


def _standing(scene: Scene) -> tuple[Caveat, ...]:
    """The usual cautions, which no file field can lift."""
    found = [
        Caveat(
            "guard",
            "these checks are a list, not a promise; local codes decide, and mains work is for a licensed "
            "electrician",
        ),
        Caveat(
            "machine",
            "prove plus and minus with a meter by a hand turn before any board: wire colour tells nothing, "
            "and turning the machine the other way swaps them",
        ),
        Caveat(
            "legs",
            "no number here says who is fit to ride: with chest pain, faints, heart disease, pregnancy, "
            "fever or a recent operation ask a doctor first, and never ride alone",
        ),
        Caveat("base", "the width of the base is not in the file: measure it against the size given here"),
    ]
    return (*found, *_standing_parts(scene))


def _standing_parts(scene: Scene) -> list[Caveat]:
    """The usual cautions of the parts that are there."""
    found: list[Caveat] = []
    if scene.too_big:
        found.append(
            Caveat(
                "wire",
                f"wires and fuses leave out the {listed(list(scene.too_big))}: it would empty the battery "
                "within the hour",
            )
        )
    battery = scene.battery
    if battery is not None and battery.chemistry not in ("lifepo4", "lithium_other"):
        found.append(
            Caveat(
                "battery",
                "sulphuric acid: goggles on, five litres of water at hand, no rings or watches; also a "
                "sealed battery can gas; lift with two",
            )
        )
    if battery is not None:
        found.append(Caveat("fuse", "a fuse guards the wire, never a person"))
    if any(s.kind in ("roller", "rim_wheel") for s in scene.rig.stage):
        found.append(
            Caveat(
                "roller",
                "tyre on roller can make 75 to 88 dB at the ear: ear plugs, and rubber feet for the "
                "neighbours",
            )
        )
    if scene.rig.clamp is not None:
        found.append(
            Caveat(
                "clamp",
                "its resistor burns skin and paper when it works: on a fire-proof board, out of reach",
            )
        )
    if scene.machine.kind in ("pm_dc", "series"):
        found.append(
            Caveat("machine", "brush dust conducts and irritates: wipe it damp; magnets and springs pinch")
        )
    found.append(
        Caveat(
            "frame",
            "do not weld or burn parts that are zinc-plated, chromed, painted or cadmium-plated: bolt "
            "them, or strip 50 mm each side, outdoors, upwind",
        )
    )
    return found
