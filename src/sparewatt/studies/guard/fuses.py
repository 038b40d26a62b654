"""Fuses at the battery and switches on direct current."""

from __future__ import annotations

import math

from sparewatt.parts import Fuse, Switch
from sparewatt.physics import protection
from sparewatt.rig.motion_layout import Event
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import MARGIN, Check, Flow, Scene
from sparewatt.studies.guard.seconds import SPRINT_AT, sprinted, usual
from sparewatt.studies.guard.words import PRACTICE, finding, listed, number, spell, value

__all__ = ["CHECKS", "RUN_WORDS", "battery_fuses", "fault_amps", "judge_switch", "post_runs"]

PLACES = ("machine", "board", "battery", "load")  # runs of the fuses, in the order of the moving rig
POST_REACH = 0.2  # m of wire from the post to its fuse; common practice, no source


RUN_WORDS = {
    "machine": "from the machine",
    "board": "between board and battery",
    "battery": "from the battery",
    "load": "to the load",
}


def post_runs(scene: Scene) -> tuple[str, ...]:
    """Runs of wire that start at the battery's posts."""
    if scene.battery is None:
        return ()
    charging = "machine" if scene.charger() is None else "board"
    return (charging, "battery") if "battery" in scene.flows else (charging,)


def battery_fuses(scene: Scene) -> dict[str, Fuse | None]:
    """The fuse that guards each run at the battery: one in that run, or one at the post itself."""
    at_post = next((f for f in scene.rig.fuse if f.run == "battery"), None)
    return {
        run: next((f for f in scene.rig.fuse if f.run == run), None if run == "battery" else at_post)
        for run in post_runs(scene)
    }


def fault_amps(scene: Scene) -> float:
    """What a dead short close to the battery draws (A)."""
    battery = scene.battery
    assert battery is not None
    volts = value(battery.charge_voltage, value(battery.voltage))
    return float(protection.prospective_current(volts, value(battery.resistance) + 0.002))


def _no_fuse(scene: Scene) -> list[Finding] | None:
    """A battery without a fuse, or a run of wire at its posts without one."""
    if scene.battery is None:
        return None
    fault = fault_amps(scene)
    do = (
        "Fit one within 200 mm of the battery's plus post, for direct current, before you join anything else."
    )
    if not scene.rig.fuse:
        return [
            finding(
                "no fuse",
                "The battery has no fuse",
                "stop",
                f"A short here draws about {number(fault, 'A')}. You cannot blow a fuse by pedalling, but the "
                "battery can set the wire alight.",
                do,
                at=("battery", "battery wire"),
                severity=4,
                source=PRACTICE,
                found=fault,
                unit="A",
            )
        ]
    bare = [run for run, fuse in battery_fuses(scene).items() if fuse is None]
    if not bare:
        return []
    where = " and ".join(RUN_WORDS[run] for run in bare)
    return [
        finding(
            "run without a fuse",
            "A wire at the battery has no fuse",
            "look again",
            f"No fuse is named for the wire {where}, and a short there draws about {number(fault, 'A')}.",
            do,
            at=("battery", "battery wire"),
            severity=4,
            found=fault,
            unit="A",
        )
    ]


def _fuse_breaks(scene: Scene) -> list[Finding] | None:
    """Breaking current and volts of the battery's fuses, and where they sit."""
    fuses = {id(f): f for f in battery_fuses(scene).values() if f is not None}
    if not fuses or scene.battery is None:
        return None
    fault, volts = fault_amps(scene), value(scene.battery.charge_voltage)
    return [
        f
        for fuse in fuses.values()
        for f in (*_fuse_bad(fuse, fault, volts), *_fuse_silent(fuse, fault, volts))
    ]


def _fuse_bad(fuse: Fuse, fault: float, volts: float) -> list[Finding]:
    """What is known of a fuse and not enough."""
    found, name = [], f"{number(value(fuse.rating), 'A')} fuse"
    if value(fuse.breaking_current) < fault:
        found.append(
            finding(
                f"fuse breaking: {name}",
                "A fuse that may burn instead of opening",
                "look again",
                f"A dead short draws about {number(fault, 'A')} through the {name}; it breaks "
                f"{number(value(fuse.breaking_current), 'A')}.",
                "Take one that breaks more (blade fuses about 1 kA, bolt-down ones 2 kA and more), or two "
                "small batteries each with its own.",
                at=("battery",),
                severity=4,
                source="fuse_breaking",
                found=value(fuse.breaking_current),
                threshold=fault,
                unit="A",
            )
        )
    if value(fuse.dc_voltage) < volts:
        found.append(
            finding(
                f"fuse volts: {name}",
                "A fuse not marked for these direct volts",
                "look again",
                f"The {name} is marked {number(value(fuse.dc_voltage), 'V')}; the battery is charged at "
                f"{number(volts, 'V')}.",
                "Take one with more direct volts on its print.",
                at=("battery",),
                severity=3,
                source="fuse_breaking",
                found=value(fuse.dc_voltage),
                threshold=volts,
                unit="V",
            )
        )
    if value(fuse.from_post) > POST_REACH:
        found.append(
            finding(
                f"fuse place: {name}",
                "A fuse far from the battery post",
                "look again",
                f"The {name} sits {number(value(fuse.from_post), 'm')} from the post; the wire before it "
                "has nothing to stop a short.",
                "Move it to within 200 mm of the post, or sleeve the wire before it.",
                at=("battery",),
                severity=4,
                found=value(fuse.from_post),
                threshold=POST_REACH,
                unit="m",
            )
        )
    return found


def _fuse_silent(fuse: Fuse, fault: float, volts: float) -> list[Finding]:
    """What the file does not say of a fuse, in one finding."""
    asks = []
    if fuse.breaking_current is None:
        asks.append(
            f"what it can break (a dead short here draws about {number(fault, 'A')}; blade fuses break "
            "about 1 kA, bolt-down ones 2 kA and more)"
        )
    if fuse.dc_voltage is None:
        asks.append(f"its direct volts ({number(volts, 'V')} or more)")
    if fuse.from_post is None:
        asks.append("how far from the battery's post it sits (200 mm at most)")
    if not asks:
        return []
    name = f"{number(value(fuse.rating), 'A')} fuse"
    return [
        finding(
            f"fuse unread: {name}",
            "A fuse that nobody has read",
            "look again",
            f"The file does not say all of the {name}.",
            f"Look for {listed(asks)}, on the fuse, its sheet or with a tape.",
            at=("battery",),
            severity=3,
            source="fuse_breaking",
            found=fault,
            unit="A",
        )
    ]


def _fuse_sprints(scene: Scene) -> list[Finding] | None:
    """A fuse that opens while somebody sprints: everything behind it then races."""
    if not any(f.rating is not None for f in scene.rig.fuse):
        return None
    ridden = usual(scene.plays)
    if ridden is None:
        return None
    ran = sprinted(scene.plays, ridden.ask.load, ridden.solved.gear)
    blown = ran.shown.played.events[ran.shown.played.events[:, 1] == Event.FUSE_OPENS]
    if not blown.size:
        return []
    at, _code, which, amps = (float(x) for x in blown[0])
    run = PLACES[int(which)]
    fuse = min((f for f in scene.rig.fuse if f.run == run), key=lambda f: value(f.rating))
    battery = " The volts then are no longer held by the battery." if run in post_runs(scene) else ""
    return [
        finding(
            f"fuse in a sprint: {number(value(fuse.rating), 'A')} fuse",
            "A fuse that opens in a sprint",
            "look again",
            f"Played, a sprint {scene.gear(ridden.solved.gear)} pushes {number(amps, 'A')} through the "
            f"{number(value(fuse.rating), 'A')} fuse {RUN_WORDS[run]}, and it opens after "
            f"{spell(at - SPRINT_AT)}.{battery} The bus goes to {number(ran.v_bus, 'V')}.",
            "Do not sprint on this rig; or fit the next size of fuse where the wire carries it, and a clamp.",
            at=("battery", "battery wire"),
            severity=2,
            source="fuse_blade_gates",
            found=amps,
            threshold=value(fuse.rating),
            unit="A",
            seconds=ran.shown.words,
        )
    ]


def _switches(scene: Scene) -> list[Finding] | None:
    """Contacts made for alternating current, or for fewer volts than they may have to break."""
    if not scene.rig.switch:
        return None
    found = []
    for switch in scene.rig.switch:
        flow = scene.flows.get(switch.run)
        if flow is not None:
            found += judge_switch(switch, flow)
    return found


def judge_switch(switch: Switch, flow: Flow) -> list[Finding]:
    """What speaks against one switch where it sits: at most one finding."""
    volts, amps = flow.ceiling, flow.amps
    need = MARGIN * volts
    name = switch.name or f"switch {RUN_WORDS[switch.run]}"
    stage = int(protection.arc_stage(volts, amps))
    rated_v, rated_i = value(switch.dc_voltage), value(switch.dc_current)
    if rated_v >= need and (rated_i >= amps or math.isnan(rated_i)):
        return []
    do = (
        "Use a breaker or switch marked for direct current, or stop the board before you unplug; never "
        "open it under load."
    )
    if switch.dc_voltage is not None or switch.dc_current is not None:
        marked = f"{number(rated_v, 'V')} DC" if switch.dc_voltage else "no direct volts"
        amps_marked = f" {number(rated_i, 'A')}" if switch.dc_current else ""
        says = (
            f"The {name} is marked {marked}{amps_marked}; here it may have to break {number(volts, 'V')} "
            f"and {number(amps, 'A')}, "
            f"and should be marked {number(need, 'V')} or more."
        )
        check = "stop" if stage == 2 and (rated_v < volts or rated_i < amps) else "look again"
    elif switch.ac_voltage is not None or switch.ac_current is not None:
        can = float(protection.switch_amps_on_dc(volts))
        if stage == 0 or (stage == 1 and can >= 2 * amps):
            return []
        guess = (
            f" A contact of that sort is often good for {number(can, 'A')} here."
            if math.isfinite(can)
            else ""
        )
        says = (
            f"The {name} is marked for alternating current only. At {number(volts, 'V')} and "
            f"{number(amps, 'A')} of direct current "
            f"the arc does not go out by itself: a wall switch burns on this.{guess}"
        )
        check = "stop" if stage == 2 and not can >= amps else "look again"
    else:
        if stage == 0:
            return []
        says = (
            f"The file does not say what the {name} is marked; it may have to break "
            f"{number(volts, 'V')} and {number(amps, 'A')} DC."
        )
        check, do = "look again", f"Look for {number(need, 'V')} DC or more printed on it. {do}"
    return [
        finding(
            f"switch: {name}",
            "A switch that may not break direct current",
            check,
            says,
            do,
            at=("loads", "wire"),
            severity=4 if stage == 2 else 3,
            source="switch_dc_sheet",
            found=rated_v,
            threshold=need,
            unit="V",
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("A fuse on every wire at the battery", _no_fuse),
    ("What the fuses can break, and where they sit", _fuse_breaks),
    ("Fuses in a sprint", _fuse_sprints),
    ("Switches on direct current", _switches),
)
