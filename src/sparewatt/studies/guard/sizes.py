"""Sizes with reasons: diode, switches, capacitor, bleeder, clamp, belts, rollers, flywheel, base."""

from __future__ import annotations

import math

import numpy as np

from sparewatt.parts import Socket, Switch
from sparewatt.physics import flywheel, protection, structure
from sparewatt.rig.operating import State
from sparewatt.studies.answers import Sized
from sparewatt.studies.guard.fuses import branch_words, judge_switch
from sparewatt.studies.guard.grip import grips
from sparewatt.studies.guard.inertia import (
    energy_swing,
    inertia_of,
    shaft_ratio,
    wheel_place,
)
from sparewatt.studies.guard.motion import rim_limit, wheel_speed
from sparewatt.studies.guard.ripple import at_board, quiet_capacitor
from sparewatt.studies.guard.scene import MARGIN, Scene
from sparewatt.studies.guard.seconds import pulled, reacted, usual
from sparewatt.studies.guard.swings import ripple
from sparewatt.studies.guard.touch import REST_SECONDS
from sparewatt.studies.guard.words import energy, number, sized, turns, value

__all__ = ["sizes"]

CAPACITOR_ROOM = 5.0  # times the least capacitor; common practice, no source
DIODE_LIMIT = 398.15  # K at the junction; common practice, no source
DIODE_NEAR = 0.97  # of twice the volts: near enough for a rule of thumb
RIPPLES = (0.05, 0.10)
DISC_MASSES, DISC_ACROSS = (
    (1.0, 2.0, 3.0, 5.0, 8.0, 12.0, 20.0),
    0.45,
)  # kg and m that are found and fit; common practice
SADDLE = 1.0  # m, height at which a sprinting rider pushes sideways; common practice, no source


def sizes(scene: Scene) -> list[Sized]:
    """Everything but wires and fuses, in the order of the chain."""
    found = _diode(scene) + _switches(scene) + _capacitor(scene) + _clamp(scene)
    found += grips(scene) + _flywheels(scene) + _rims(scene) + [_base(scene)]
    return found


def _check(have: float, fits: bool) -> str:
    return "not refused" if math.isfinite(have) and fits else "look again"


def _diode(scene: Scene) -> list[Sized]:
    """Amps, volts and warmth of the blocking diode."""
    diode, battery = scene.rig.diode, scene.battery
    if battery is None or scene.machine.kind in ("pm_three_phase", "alternator"):
        return []
    amps = scene.from_machine.amps
    need_i = float(protection.diode_amps_needed(amps))
    held = value(battery.charge_voltage) if scene.charger() is None else scene.ceiling
    need_v = float(protection.diode_volts_needed(held))
    there = diode is not None and diode.kind != "none"
    have_i = value(diode.current_rating) if there and diode else math.nan
    have_v = value(diode.voltage_rating) if there and diode else math.nan
    missing = "stop" if not there else "look again"
    rows = [
        sized(
            "diode, amps",
            need_i,
            have_i,
            "A",
            "not refused" if have_i >= need_i else missing,
            f"{number(need_i, 'A')} or more",
            f"twice the {number(amps, 'A')} it carries on average, for pulsing legs and a warm day",
            "diode_practice",
        ),
        sized(
            "diode, reverse volts",
            need_v,
            have_v,
            "V",
            "not refused" if have_v >= DIODE_NEAR * need_v else missing,
            f"{number(need_v, 'V')} or more",
            f"twice the {number(held, 'V')} it holds back with the machine still",
            "diode_practice",
        ),
    ]
    if there and diode is not None:
        heat = float(
            protection.diode_heat(amps, v_diode=value(diode.drop, 0.5), r_diode=value(diode.resistance, 0.0))
        )
        allowed = float(protection.heat_path_allowed(heat, t_limit=DIODE_LIMIT, t_air=scene.air + 15.0))
        have = value(diode.thermal_resistance)
        if heat > 1.0:
            rows.append(
                sized(
                    "diode, way for its heat",
                    allowed,
                    have,
                    "K/W",
                    "not refused" if have <= allowed else "look again",
                    f"a heat sink of {number(allowed, 'K/W')} or less",
                    f"it makes {number(heat, 'W')} at {number(amps, 'A')} and may not pass "
                    f"{number(DIODE_LIMIT, 'K')} inside",
                    "heat_path",
                )
            )
    return rows


def _switches(scene: Scene) -> list[Sized]:
    """Direct volts of each switch and socket where it sits."""
    rows = []
    for branch, flow in scene.carried():
        for piece in (*branch.switches, *branch.sockets):
            part = piece.part
            assert isinstance(part, Switch | Socket)
            kind = "switch" if isinstance(part, Switch) else "socket"
            need, have = MARGIN * flow.ceiling, value(part.dc_voltage)
            against = judge_switch(scene, branch, piece, flow)
            ac_only = isinstance(part, Switch) and part.dc_voltage is None and part.ac_voltage is not None
            rows.append(
                sized(
                    f"{kind}, {piece.name or branch_words(scene, branch)}",
                    need,
                    have,
                    "V",
                    against[0].check if against else "not refused",
                    f"marked {number(need, 'V')} DC and {number(flow.amps, 'A')} or more",
                    f"a quarter above the {number(flow.ceiling, 'V')} it may have to break"
                    + ("; its print is for alternating current only" if ac_only else ""),
                    "switch_dc_sheet",
                )
            )
    return rows


def _capacitor(scene: Scene) -> list[Sized]:
    """The capacitor at the board's input, its volts, and what empties it."""
    boards, rows = scene.boards(), []
    bus = scene.rig.bus
    have_c = value(bus.capacitance) if bus is not None else math.nan
    if boards:
        need, solved = _steady_capacitance(scene)
        watts, volts = at_board(solved)
        rows.append(
            sized(
                "bus capacitor",
                need,
                have_c,
                "F",
                "not refused" if have_c >= need else "look again",
                f"{number(CAPACITOR_ROOM * need, 'F')} or more, a low-loss kind",
                f"a board drawing {number(watts, 'W')} at {number(volts, 'V')} can swing against the "
                "machine's coil; five times the least gives room. "
                f"It does not smooth the legs: a tenth of ripple at {number(volts, 'V')} would need "
                f"{number(energy_swing(scene.p_rider, scene.w_work) / (0.1 * volts**2), 'F')}",
                "damping_band",
            )
        )
    return rows + _capacitor_ratings(scene)


def _capacitor_ratings(scene: Scene) -> list[Sized]:
    """Volts of the capacitor that is there, and what empties it."""
    bus, rows = scene.rig.bus, []
    if bus is None or bus.capacitance is None:
        return []
    need_v = float(protection.over_volts_needed(scene.ceiling))
    have_v = value(bus.capacitor_voltage)
    rows.append(
        sized(
            "bus capacitor, volts",
            need_v,
            have_v,
            "V",
            "not refused" if have_v >= need_v else "look again",
            f"{number(need_v, 'V')} or more",
            f"a quarter above the {number(scene.ceiling, 'V')} you can make with nothing drawing",
            "over_volts_practice",
        )
    )
    if scene.ceiling > 60.0:
        need_r = float(
            protection.bleeder_resistance(
                bus.capacitance.value, scene.ceiling, v_rest=60.0, duration=REST_SECONDS
            )
        )
        have_r = value(bus.bleeder)
        watts = float(protection.bleeder_power(scene.ceiling, r_bleed=need_r))
        rows.append(
            sized(
                "bleeder across the capacitor",
                need_r,
                have_r,
                "ohm",
                "not refused" if have_r <= need_r else "look again",
                f"{number(need_r, 'ohm')} or less, for {number(2 * watts, 'W')}",
                "below 60 V within five seconds of stopping",
                "capacitor_residual",
            )
        )
    return rows


def _steady_capacitance(scene: Scene) -> tuple[float, State]:
    """The least input capacitor over all loads through a board, and the load that asks for it."""
    rows = [(quiet_capacitor(scene, s), s) for s in scene.hard if s.bound.hookup.board is not None]
    return max(rows, key=lambda row: row[0])


def _clamp(scene: Scene) -> list[Sized]:
    """The switched dump resistor: where it cuts in, and what it must swallow."""
    from sparewatt.studies.guard.volts import ratings

    rated = [r for _name, r, _link, _look in ratings(scene) if math.isfinite(r)]
    if not rated and scene.rig.clamp is None:
        return []
    weakest = min(rated, default=math.inf)
    highest = scene.from_machine.volts if "machine lead" in scene.flows else 0.0
    volts = float(protection.clamp_volts(highest))
    if volts > weakest:
        volts = 0.5 * (highest + weakest) if weakest > highest else 0.9 * weakest
    needed = float(np.max(scene.ceilings)) * MARGIN > weakest
    clamp = scene.rig.clamp
    have_v, have_w = (value(clamp.voltage), value(clamp.power)) if clamp is not None else (math.nan, math.nan)
    fits = not needed or (have_v < weakest and have_v > highest)
    ohms = float(protection.dump_resistance(volts, p_clamp=scene.p_sprint))
    played = _clamp_played(scene, volts, ohms)
    below = f", below the {number(weakest, 'V')} of the weakest part" if math.isfinite(weakest) else ""
    why = "" if needed else "; with these ratings you can do without"
    return [
        sized(
            "clamp, volts",
            volts,
            have_v,
            "V",
            "not refused" if fits else "look again",
            f"{number(volts, 'V')}",
            f"12 % above the {number(highest, 'V')} you work at{below}{why}",
            "over_volts_practice",
        ),
        sized(
            "clamp, watts for five seconds",
            scene.p_sprint,
            have_w,
            "W",
            "not refused" if not needed or have_w >= scene.p_sprint else "look again",
            f"{number(ohms, 'ohm')} or less, on a fire-proof board, out of reach",
            f"the strongest rider gives {number(scene.p_sprint, 'W')} for ten seconds{played}",
            "energy_balance",
        ),
    ]


def _clamp_played(scene: Scene, volts: float, ohms: float) -> str:
    """What the clamp (the one that is there, else the one to fit) swallows when the plug goes in a sprint."""
    clamp = scene.rig.clamp
    fitted = None if clamp is not None else (volts, ohms)
    raced = pulled(scene.plays, sprint=True, fitted=fitted)
    if not raced:
        return ""
    most = max(raced, key=lambda one: one.joules)
    if most.joules < 1.0:
        return "; played, the plug pulled in a sprint does not bring it to work in any gear"
    soon = reacted(scene.plays, most, fitted=fitted)
    return (
        f"; played, the plug pulled in a sprint {scene.gear(most.gear)} puts {number(most.watts, 'W')} into it for as "
        f"long as you push on, {energy(most.joules)} in five seconds, {energy(soon.joules)} if you stop when you notice"
    )


# ---- grip -----------------------------------------------------------------------------------------------------------


# ---- turning masses, base -------------------------------------------------------------------------------------------


def _flywheels(scene: Scene) -> list[Sized]:
    """Inertia each shaft would need for a steady speed, and what is on it."""
    swing = energy_swing(scene.p_rider, scene.w_work)
    g, rows = scene.solved.gear, []
    n, swings = len(scene.rig.stage), _speed_played(scene)
    for place in range(1, n + 1):
        w = scene.w_work * shaft_ratio(scene, place, g)
        five, ten = (float(flywheel.inertia_for_ripple(swing, w_wheel=w, ripple_wanted=r)) for r in RIPPLES)
        have = sum(inertia_of(x) for x in scene.rig.flywheel if wheel_place(scene, x) == place)
        have += value(scene.machine.inertia, 0.0) if place == n else 0.0
        where = (
            "the machine's shaft"
            if place == n
            else f"the shaft after the {scene.solved.bound.stages.names[place - 1]}"
        )
        left = float(flywheel.speed_ripple(swing, inertia=max(have, 1e-9), w_wheel=w))
        there = (
            "what is on it does next to nothing"
            if not (have > 0 and left < 1)
            else (f"what is on it alone would leave {number(left, '%')}")
        )
        rows.append(
            sized(
                f"flywheel on {where}",
                five,
                have if have > 0 else math.nan,
                "kg*m^2",
                "not refused",
                _discs(five, ten),
                f"each push brings {energy(swing)} in surplus at {turns(w)}; {there}{swings}"
                + ("; the battery smooths the volts without any" if scene.battery is not None else ""),
                "turning_moment",
            )
        )
    return rows


def _speed_played(scene: Scene) -> str:
    """How far the machine's speed swings with each push of the usual ride, all that turns and the load counted."""
    ridden = usual(scene.plays)
    if ridden is None or not math.isfinite(ridden.hold(ridden.solved.gear)):
        return ""
    share = ripple(scene.plays, ridden, ridden.solved.gear).w_shaft
    return f"; played, everything together leaves {number(share, '%')}"


def _discs(five: float, ten: float) -> str:
    """Discs for both ripples, in words."""
    small, large = _disc(ten), _disc(five)
    if not small:
        return "no disc that fits does it on so slow a shaft"
    return f"{small} for a ripple of 10 %" + (f", {large} for 5 %" if large else "")


def _disc(inertia: float) -> str:
    """A disc that has an inertia: the lightest usual mass that stays within reach; "" when none does."""
    for mass in DISC_MASSES:
        across = 2 * math.sqrt(2 * inertia / mass)
        if across <= DISC_ACROSS:
            return f"a {mass:g} kg disc {number(across, 'm')} across"
    return ""


def _rims(scene: Scene) -> list[Sized]:
    """Fastest shaft speed a wheel may see."""
    rows = []
    for wheel in scene.rig.flywheel:
        limit, fast = rim_limit(wheel), MARGIN * wheel_speed(scene, wheel, scene.fastest)
        allowed = float(flywheel.speed_for_rim(limit, value(wheel.diameter) / 2))
        check = "not refused" if fast <= allowed else ("stop" if fast > MARGIN * allowed else "look again")
        rows.append(
            sized(
                f"top speed of the {wheel.name or 'flywheel'}",
                fast,
                allowed,
                "rad/s",
                check,
                f"{turns(allowed)} at most",
                f"in a sprint and a quarter more it would see {turns(fast)}; its rim should stay below "
                f"{number(limit, 'm/s')}",
                "rim_practice",
            )
        )
    return rows


def _base(scene: Scene) -> Sized:
    """Width of the base against a standing sprint."""
    mass = min(value(r.mass, 70.0) for r in scene.riders) + value(scene.machine.mass, 0.0)
    mass += sum(value(x.mass, 0.0) for x in scene.rig.flywheel)
    need = float(structure.base_width(mass, force_side=structure.SIDE_PUSH, height_force=SADDLE))
    return sized(
        "width of the base",
        need,
        math.nan,
        "m",
        "not refused",
        f"{number(need, 'm')} or more, measured between its outer feet",
        f"a standing sprint pushes {number(structure.SIDE_PUSH, 'N')} sideways at saddle height; "
        f"{number(mass, 'kg')} must hold it down",
        "statics",
    )
