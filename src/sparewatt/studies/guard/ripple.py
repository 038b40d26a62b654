"""What swings with every push or by itself: light, a board that pulses on and off, board against coil."""

from __future__ import annotations

import math

from sparewatt.physics import converter
from sparewatt.rig.layout import Param
from sparewatt.rig.operating import State
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.swings import Pulses, Ripple, pulses, ripple, swings
from sparewatt.studies.guard.words import PRACTICE, finding, number, spell, value

__all__ = ["CHECKS", "FLICKER_SHARE", "SWING_SHARE", "at_board", "quiet_capacitor"]

TROUBLES, NEAR = (
    3.0,
    2.5,
)  # pulses a second that can trouble people, and near to that (legs do not keep an even pace)
FLICKER_SHARE = 0.10  # of the light or the volts (common practice, no source)
QUICK = 4.0  # times a second above which legs no longer feel each one
SWING_SHARE = 0.08  # of the volts, within a fiftieth of a second: more is board against coil (common practice, no source)


def _flicker(scene: Scene) -> list[Finding] | None:
    """Light that pulses with the legs."""
    lamps = [
        x
        for x in scene.rig.load
        if x.lights_people or (x.lights_people is None and x.kind in ("led", "lamp"))
    ]
    if not lamps:
        return None
    found = []
    for lamp in lamps:
        solved = next(s for s in scene.hard if s.bound.hookup.load == lamp)
        held = math.isfinite(float(solved.found.w_hold[solved.gear, 0]))
        refused = refusal(scene.rig, lamp.name) is not None
        if solved.bound.hookup.battery is not None or refused or not held:
            continue
        ran = ripple(scene.plays, scene.plays.ride(load=lamp.name, effort=solved.ask.effort), solved.gear)
        if ran.lit and max(ran.v_out, ran.light) > FLICKER_SHARE:
            found.append(_flickers(lamp.name, ran))
    return found


def _flickers(name: str, ran: Ripple) -> Finding:
    fast = ran.often >= NEAR
    near = "as fast as" if ran.often >= TROUBLES else "close to"
    light = f", and its light by up to {number(ran.light, '%')} up and down," if ran.light > 0.01 else ""
    return finding(
        f"flicker: {name}",
        "Light that pulses with every push",
        "look again",
        f"The {name} swings by {number(ran.v_out, '%')} of its volts{light} {number(ran.often, '1')} times a "
        "second"
        + (
            f", {near} what can trouble people who are sensitive to flicker ({TROUBLES:g} a second and more); "
            "moving blades can seem to stand still."
            if fast
            else "."
        ),
        "Put a battery on the bus, or a heavier wheel on the middle shaft; ordinary capacitors do not cure it.",
        at=("loads", "load"),
        severity=3 if fast else 1,
        source="epilepsy_flashes" if fast else PRACTICE,
        found=max(ran.v_out, ran.light),
        threshold=FLICKER_SHARE,
        unit="1",
        seconds=ran.shown.words,
    )


def _pulses(scene: Scene) -> list[Finding] | None:
    """A board that wakes, sags and sleeps, or a load that quits and comes back: the asked one in its gear, then the others.

    The others at the most the strongest rider holds: what pulses then, pulses for everyone.
    """
    asked = scene.solved
    if not scene.boards():
        return None
    found: list[Finding] = []
    refused = refusal(scene.rig, asked.ask.load) is not None
    if not refused:
        ran = pulses(scene.plays, scene.plays.ride(), asked.gear)
        found += [_pulsing(scene, ran, asked.ask.effort, asked.gear)] if ran.again else []
    looked = [s for s in scene.hard if _may_pulse(scene, s)]
    for s in looked:
        ran = pulses(scene.plays, scene.plays.ride(load=s.ask.load, effort=s.ask.effort), s.gear)
        found += [_pulsing(scene, ran, s.ask.effort, s.gear, s.ask.load)] if ran.again else []
    return None if refused and not looked else found


def _may_pulse(scene: Scene, s: State) -> bool:
    """A load besides the asked one that hangs on the rig's own board with no battery, and is not too big anyway."""
    hooked = s.bound.hookup
    other = s.ask.load != scene.solved.ask.load and s.ask.load not in scene.too_big
    alone = hooked.load is not None and hooked.board is not None and hooked.battery is None
    return other and alone and refusal(scene.rig, s.ask.load) is None


def _pulsing(scene: Scene, ran: Pulses, effort: float, gear: int, load: str = "") -> Finding:
    every = (
        f"about every {spell(1 / ran.often)}" if ran.often < 0.7 else f"about {ran.often:.1f} times a second"
    )
    end = " until it drags you to a stop" if ran.stalls else ""
    what = f" with the {load} on" if load else ""
    pushing = f"Pushing {number(effort, 'W')} {scene.gear(gear)}{what},"
    says = (
        f"{pushing} the volts sag, it goes off, your legs race, it comes back, and again {every}{end}, with a jolt each "
        f"time; {number(ran.off_share, '%')} of the time it is off."
        if ran.often < QUICK
        else f"{pushing} the board asks for more than your legs give: the volts sag to where it sleeps, it wakes at once, "
        f"and again {every}{end}."
    )
    do = (
        "Start with the load off, get up to speed, then switch it on; shed load if it still pulses."
        if ran.often < QUICK
        else "Turn its amps screw down, push harder, or take an easier gear."
    )
    return finding(
        f"chatters: {load}" if load else "chatters",
        "The board pulses on and off",
        "look again",
        says,
        do,
        at=("match", "board"),
        severity=2,
        found=ran.often,
        unit="1/s",
        seconds=ran.shown.words,
    )


def quiet_capacitor(scene: Scene, s: State) -> float:
    """The least capacitor at the board's input that keeps board and coil from swinging (F); 0 without a board."""
    watts, volts = at_board(s)
    if s.bound.hookup.board is None or not (watts > 0 and volts > 0):
        return 0.0
    return float(
        converter.input_capacitance(
            volts,
            p_load=watts,
            inductance=value(scene.machine.inductance, 1e-3),
            r_source=float(s.bound.params[Param.R_SOURCE, 0]),
        )
    )


def at_board(s: State) -> tuple[float, float]:
    """Watts into the board and volts at its input."""
    watts = float(s.bound.params[Param.P_HELD, 0])
    volts = float(s.found.v_bus[s.gear, 0])
    held = math.isfinite(float(s.found.w_hold[s.gear, 0])) and volts > 0
    if held:
        return float(s.found.v_bus[s.gear, 0] * s.found.i_out[s.gear, 0]), volts
    board = s.bound.hookup.board
    return min(watts, s.ask.effort), value(board.input_min if board is not None else None, 10.0)


def _board_and_coil(scene: Scene) -> list[Finding] | None:
    """A capacitor too small to keep a board that draws even watts from swinging against the machine's coil."""
    bus = scene.rig.bus
    have = value(bus.capacitance) if bus is not None else math.nan
    rows = [s for s in (scene.solved, *scene.hard) if s.bound.hookup.board is not None]
    if not rows or not math.isfinite(have):
        return None
    small = [(quiet_capacitor(scene, s), s) for s in rows if quiet_capacitor(scene, s) > have]
    for need, s in sorted(small, key=lambda item: -item[0]):
        if refusal(scene.rig, s.ask.load) is not None:
            continue
        depth, shown = swings(scene.plays, scene.plays.ride(load=s.ask.load, effort=s.ask.effort), s.gear)
        if shown.whole and not depth > SWING_SHARE:
            continue
        board = s.bound.hookup.board
        assert board is not None
        moves = number(depth, "%") if depth > SWING_SHARE else "more than can be followed"
        return [
            finding(
                "board and coil",
                "Board and coil swing against each other",
                "look again",
                f"With {number(have, 'F')} at its input the {board.name} and the machine's coil swing against "
                f"each other: the bus moves by {moves} within a fiftieth of a second, and boards "
                "trip on that.",
                f"Put {number(5 * need, 'F')} or more there, a low-loss kind; {number(need, 'F')} is the least.",
                at=("match", "board"),
                severity=2,
                source="damping_band",
                found=have,
                threshold=need,
                unit="F",
                seconds=shown.words,
            )
        ]
    return []


CHECKS: tuple[Check, ...] = (
    ("Flicker of lamps", _flicker),
    ("A board that pulses", _pulses),
    ("Board and coil", _board_and_coil),
)
