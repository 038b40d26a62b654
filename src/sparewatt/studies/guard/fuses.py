"""Fuses at the battery and switches on direct current."""

from __future__ import annotations

import math

from sparewatt.parts import Converter, Fuse, Socket, Switch
from sparewatt.physics import protection
from sparewatt.rig.circuit import Branch, Piece, set_out_of_reach
from sparewatt.rig.hookup import path_fuses
from sparewatt.rig.motion_layout import Event
from sparewatt.rig.netlist import JUNCTION, SHARED
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.flows import Flow, Guarded, battery_side, guarded
from sparewatt.studies.guard.scene import MARGIN, Check, Scene
from sparewatt.studies.guard.seconds import SPRINT_AT, sprinted, usual
from sparewatt.studies.guard.words import PRACTICE, finding, listed, number, spell, value

__all__ = ["CHECKS", "branch_words", "fuse_words", "judge_switch", "post_guards"]

POST_REACH = 0.2  # m of wire from the post to its fuse; common practice, no source
AT_POST = ("post", "output", "machine")  # where a fuse guards what comes straight from the battery's post


def branch_words(scene: Scene, branch: Branch) -> str:
    """A branch in words: "from the machine", "to the lamp"."""
    if branch.kind == "output":
        boards = sum(b.kind == "output" and b.station == 0 for b in scene.circuit.branches)
        charges = branch.end in (JUNCTION, SHARED) and scene.battery is not None
        board = branch.name.removesuffix(" output")
        bare = branch.name.endswith("lead on")
        if charges:
            return "on to the battery" if bare else "between board and battery"
        return "on to the shared bus" if bare else "from the board" if boards == 1 else f"from the {board}"
    known = {"machine": "from the machine", "outlets": "from the battery", "post": "at the battery post"}
    if branch.kind in known:
        return known[branch.kind]
    return f"to the {branch.end.removeprefix('load ').removesuffix(' in')}"


def fuse_words(scene: Scene, one: Guarded) -> str:
    """A fuse by where it sits."""
    return "at the battery post" if one.at.kind == "post" else branch_words(scene, one.at)


def post_guards(scene: Scene) -> tuple[Guarded, ...]:
    """The fuses of what the battery can burn, and the place of one that is missing, where something flows behind it."""
    reached = battery_side(scene.written_circuit)
    return tuple(
        g
        for g in guarded(scene.written_circuit)
        if g.at.name in reached and any(b.name in scene.flows and b.kind != "post" for b in g.branches)
    )


def _fault(scene: Scene) -> float:
    """What a dead short at the battery's own posts draws (A)."""
    return scene.flows["battery post"].fault if "battery post" in scene.flows else 0.0


def _no_fuse(scene: Scene) -> list[Finding] | None:
    """A battery without a fuse, or a run of wire at its posts without one."""
    if scene.battery is None:
        return None
    fault = _fault(scene)
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
    bare = [b for g in post_guards(scene) if g.fuse is None for b in g.branches if b.name in scene.flows]
    words = list(
        dict.fromkeys(
            branch_words(scene, b) for b in bare if b.kind in ("output", "machine", "outlets", "load", "feed")
        )
    )
    if not words:
        return []
    where = listed(words)
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
    """Breaking current and volts of every fuse where it sits, and how near the battery's own are to its post."""
    found: list[Finding] = []
    seen = set()
    guards = guarded(scene.written_circuit)
    reached = battery_side(scene.written_circuit)
    for one in guards:
        flow = scene.flows.get(one.at.name)
        if one.fuse is None or flow is None or (one.fuse.where, flow.ceiling) in seen:
            continue
        seen.add((one.fuse.where, flow.ceiling))
        fuse = one.fuse.part
        assert isinstance(fuse, Fuse)
        near = one.at.name in reached and one.at.kind in AT_POST
        found += _fuse_bad(fuse, flow, fuse_words(scene, one), near=near)
        found += _fuse_silent(fuse, flow.fault, flow.ceiling) if near else []
    return found if seen else None


def _fuse_bad(fuse: Fuse, flow: Flow, where: str, *, near: bool) -> list[Finding]:
    """What is known of a fuse and not enough; near: it must sit at the battery's post."""
    found, name = [], f"{number(value(fuse.rating), 'A')} fuse"
    fault, volts = flow.fault, flow.ceiling
    marked = value(fuse.dc_voltage)
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
    if marked < volts:
        always = marked < flow.volts
        found.append(
            finding(
                f"fuse volts: {name} {where}",
                "A fuse not marked for these direct volts",
                "stop" if always else "look again",
                f"The {name} {where} is marked {number(marked, 'V')}; there "
                + (
                    f"{number(flow.volts, 'V')} stand all the time: when it opens, the arc in it burns on."
                    if always
                    else f"the volts can come to {number(volts, 'V')}."
                ),
                f"Take one marked for {number(MARGIN * volts, 'V')} of direct current or more.",
                at=("battery", "loads"),
                severity=3,
                source="fuse_breaking",
                found=marked,
                threshold=volts,
                unit="V",
            )
        )
    if near and value(fuse.from_post) > POST_REACH:
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
    joined = ridden.solved.bound.hookup
    fuses = path_fuses(scene.rig, joined)[int(which)]
    fuse, felt = min(fuses, key=lambda pair: pair[1])
    amps *= value(fuse.rating) / felt  # as it flows where the fuse sits
    branch = next(b for b in scene.circuit.branches if any(p.part is fuse for p in b.fuses))
    where = branch_words(scene, branch)
    held = joined.battery is not None and int(which) in (1, 2)
    battery = " The volts then are no longer held by the battery." if held else ""
    return [
        finding(
            f"fuse in a sprint: {number(value(fuse.rating), 'A')} fuse",
            "A fuse that opens in a sprint",
            "look again",
            f"Played, a sprint {scene.gear(ridden.solved.gear)} pushes {number(amps, 'A')} through the "
            f"{number(value(fuse.rating), 'A')} fuse {where}, and it opens after "
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
    """Contacts made for alternating current, or for fewer volts than they may have to break; a signal contact is none."""
    if not scene.rig.switch and not scene.rig.socket:
        return None
    found = []
    for branch, flow in scene.carried():
        for piece in (*branch.switches, *branch.sockets):
            found += judge_switch(scene, branch, piece, flow)
    return found


def judge_switch(scene: Scene, branch: Branch, piece: Piece, flow: Flow) -> list[Finding]:
    """What speaks against one switch or socket where it sits: at most one finding."""
    switch = piece.part
    assert isinstance(switch, Switch | Socket)
    kind = "switch" if isinstance(switch, Switch) else "socket"
    for_ac = isinstance(switch, Switch) and (switch.ac_voltage is not None or switch.ac_current is not None)
    volts, amps = flow.ceiling, flow.amps
    need = MARGIN * volts
    name = piece.name or f"{kind} {branch_words(scene, branch)}"
    stage = int(protection.arc_stage(volts, amps))
    rated_v, rated_i = value(switch.dc_voltage), value(switch.dc_current)
    if rated_v >= need and (rated_i >= amps or math.isnan(rated_i)):
        return []
    do = (
        "Use a breaker or switch marked for direct current, or stop the board before you unplug; never "
        "open it under load."
    )
    if any(
        isinstance(b.part, Converter) and b.part.enable_voltage is not None for b in scene.circuit.branches
    ):
        do += " The run contact of the board, within your reach, stops it with no arc."
    elif stage == 2:
        do += " A board with a run contact, put within the rider's reach, stops it with no arc."
    if switch.dc_voltage is not None or switch.dc_current is not None:
        marked = f"{number(rated_v, 'V')} DC" if switch.dc_voltage else "no direct volts"
        amps_marked = f" {number(rated_i, 'A')}" if switch.dc_current else ""
        says = (
            f"The {name} is marked {marked}{amps_marked}; here it may have to break {number(volts, 'V')} "
            f"and {number(amps, 'A')}, "
            f"and should be marked {number(need, 'V')} or more."
        )
        check = "stop" if stage == 2 and (rated_v < volts or rated_i < amps) else "look again"
    elif for_ac:
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
            f"{kind}: {name}",
            f"A {kind} that may not break direct current",
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


def _run_contacts(scene: Scene) -> list[Finding] | None:
    """A board that can be stopped by a small contact, which nobody on the saddle reaches."""
    boards = [b for b in scene.rig.converter if b.enable_voltage is not None]
    if not boards:
        return None
    return [
        finding(
            f"run contact: {board.name}",
            "A run contact out of the rider's reach",
            "look again",
            f"A small contact of {number(value(board.enable_voltage), 'V')} stops the {board.name}"
            + (
                ", but not from the saddle."
                if board.enable_in_reach is False
                else "; the file does not say who reaches it."
            ),
            "Put it where a rider's hand finds it without looking: it carries no power, so thin wire and a small button do.",
            at=("loads", "board"),
            severity=3,
        )
        for board in boards
        if not board.enable_in_reach
    ]


def _set_out_of_reach(scene: Scene) -> list[Finding] | None:
    """A board set beyond the volts it can make."""
    if not any(b.output_max is not None or b.output_min is not None for b in scene.rig.converter):
        return None
    return [
        finding(
            f"set beyond: {board.name} at {volts:g} V",
            "A board set beyond what it makes",
            "stop",
            f"The {board.name} is set to {number(volts, 'V')} and makes {number(board.made(volts), 'V')} "
            f"at {'most' if volts > board.made(volts) else 'least'}.",
            "Turn its volts screw to what it makes, or take another board.",
            at=("match", "board"),
            severity=3,
            found=volts,
            threshold=board.made(volts),
            unit="V",
        )
        for _where, board, volts in set_out_of_reach(scene.written)
    ]


CHECKS: tuple[Check, ...] = (
    ("A fuse on every wire at the battery", _no_fuse),
    ("What the fuses can break, and where they sit", _fuse_breaks),
    ("Fuses in a sprint", _fuse_sprints),
    ("Switches on direct current", _switches),
    ("Run contacts within reach", _run_contacts),
    ("Boards set beyond what they make", _set_out_of_reach),
)
