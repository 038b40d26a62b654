"""Volts in reach of a hand, and charge that stays in the bus capacitor after the legs stop."""

from __future__ import annotations

import math

from sparewatt.physics import protection, shock
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.seconds import runs_on
from sparewatt.studies.guard.words import energy, finding, number, spell, value

__all__ = ["CHECKS", "REST_SECONDS"]

REST_SECONDS = 5.0


def _touch(scene: Scene) -> list[Finding] | None:
    """Direct volts above the touch limits, open machine included."""
    wet = bool(scene.place.wet)
    limit = float(shock.touch_limit(float(wet)))
    nodes = [("the machine's leads", scene.ceiling, "machine")]
    for board in scene.rig.converter:
        if board.kind != "inverter" and board.set_voltage is not None:
            nodes.append((f"the output of the {board.name}", board.set_voltage.value, "board"))
    if scene.battery is not None and scene.battery.charge_voltage is not None:
        nodes.append(("the battery", scene.battery.charge_voltage.value, "battery"))
    over = [n for n in nodes if n[1] > limit]
    if not over:
        return []
    name, volts, link = max(over, key=lambda n: n[1])
    amps = float(shock.touch_current(min(volts, 220.0), wet_factor=0.5 if wet else 1.0))
    reach = wet or bool(scene.place.children)
    stepped = link == "board" and volts > limit
    check = "stop" if reach and (stepped or volts > 60.0) else "look again"
    two_pole = any((s.poles or 0) >= 2 and s.dc_voltage is not None for s in scene.rig.switch)
    pole = "" if two_pole else " a two-pole switch marked for direct current,"
    return [
        finding(
            "touch volts",
            "Volts that can hold your hand",
            check,
            f"{name[0].upper()}{name[1:]} can reach {number(volts, 'V')} DC; above {number(limit, 'V')} "
            f"{'with damp or sweating hands' if wet else 'with dry hands'} no bare part may be in reach. "
            "Hand to hand that is up to "
            f"{number(amps, 'A')}. Direct current grips the hand and does not let go by itself.",
            f"Use{pole} double-insulated tools only, no bare terminals and no outlet of the house pattern; "
            "keep the frame out of "
            "the circuit and read above 1 Mohm from each pole to the frame first. A residual-current "
            "switch made for AC only does not see this.",
            at=("match", "loads", link),
            severity=4,
            source="elv_wet" if wet else "elv_touch",
            found=volts,
            threshold=limit,
            unit="V",
        )
    ]


def _stored_charge(scene: Scene) -> list[Finding] | None:
    """Energy in the bus capacitor, and how long it stays."""
    bus = scene.rig.bus
    if bus is None or bus.capacitance is None:
        return None
    c, volts = bus.capacitance.value, scene.ceiling
    joules = float(protection.capacitor_energy(c, volts))
    found = [] if volts <= 60.0 else _stays_charged(scene, c, volts, value(bus.bleeder, math.inf))
    if joules >= shock.CAPACITOR_JOLT:
        found.append(
            finding(
                "capacitor energy",
                "A capacitor that welds and burns",
                "look again",
                f"At {number(volts, 'V')} the capacitor holds {energy(joules)}; {shock.CAPACITOR_JOLT:.0f} "
                "J and more counts as a hazard: "
                "it can weld a contact, burn a finger, and throw metal.",
                "Fill it through a resistor, cover its posts, and short nothing across it until a meter "
                "shows it empty.",
                at=("board",),
                severity=3,
                source="capacitor_laws",
                found=joules,
                threshold=shock.CAPACITOR_JOLT,
                unit="J",
            )
        )
    return found


def _stays_charged(scene: Scene, c: float, volts: float, bleed: float) -> list[Finding]:
    """How long the bus stays above 60 V after the legs stop: the wheels run down and the bleeder empties it."""
    alone = float(protection.discharge_time(c, volts, v_rest=60.0, r_bleed=bleed))
    if alone <= REST_SECONDS:
        return []
    ran = None
    if math.isfinite(alone):
        ran = runs_on(scene.plays, min(alone, 120.0), pulled=True, sprint=True, volts=60.0, gear=scene.top)
    wait = alone if ran is None else ran.below
    if wait <= REST_SECONDS:
        return []
    need = float(protection.bleeder_resistance(c, volts, v_rest=60.0, duration=REST_SECONDS))
    how = (
        "with no resistor across it the charge stays for hours"
        if math.isinf(wait)
        else f"it takes {spell(wait)} after your legs stop, played from a sprint with the plug pulled"
    )
    return [
        finding(
            "capacitor stays charged",
            "The bus stays charged after you stop",
            "look again",
            f"The bus can stand at {number(volts, 'V')} and must fall below 60 V within five seconds; {how}.",
            f"Put {number(need, 'ohm')} or less across it, and prove it empty with a meter each time.",
            at=("board",),
            severity=3,
            source="capacitor_residual",
            found=wait if math.isfinite(wait) else math.nan,
            threshold=REST_SECONDS,
            unit="s",
            seconds="" if ran is None else ran.shown.words,
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("Volts that may be touched", _touch),
    ("Charge left in the bus capacitor", _stored_charge),
)
