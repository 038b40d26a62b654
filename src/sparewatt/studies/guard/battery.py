"""What a battery can do: drive the machine, gas, boil, burn, freeze; and what it must be charged with."""

from __future__ import annotations

import math

from sparewatt.physics import gas
from sparewatt.rig.operating import RPM
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.charging import FROZEN, LITHIUM, cells_of, limited
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.seconds import Drives, drives
from sparewatt.studies.guard.words import finding, number, spell, turns, value

__all__ = ["CHECKS"]

DIODE_NEAR = 0.97  # of twice the volts: near enough for a rule of thumb
LEAST_AMPS, LEAST_TURNS = 0.05, 0.3  # A and rad/s of the crank below which nothing flows and nothing turns
NO_DIODE_DO = "Fit a diode in the plus lead, its band towards the battery. Prove it: battery joined, rig still, no current."
ROOMY = 60.0  # m^3 above which one battery in an open room is not followed up; common practice, no source


def _no_diode(scene: Scene) -> list[Finding] | None:
    """Nothing keeps the battery from driving the machine."""
    battery, m, diode = scene.battery, scene.machine, scene.rig.diode
    if battery is None or m.kind in ("pm_three_phase", "alternator"):
        return None
    if diode is not None and diode.kind != "none":
        return []
    ran = None if scene.plays.quiet else drives(scene.plays)
    if (ran is not None and ran.surge < LEAST_AMPS) or (ran is None and scene.charger() is not None):
        return [_held_back(scene, ran)]
    surge = (
        ran.surge
        if ran is not None
        else max(0.0, (value(battery.voltage) - value(m.brush_drop, 0.0)) / value(m.resistance, 1.0))
    )
    return [
        finding(
            "no diode",
            "Nothing stops the battery from turning the rig",
            "stop",
            f"No diode stands between machine and battery. {_driven(scene, ran, surge)}",
            NO_DIODE_DO,
            at=("match", "diode"),
            severity=4,
            source="back_emf",
            found=surge,
            threshold=0.0,
            unit="A",
            seconds="" if ran is None else ran.shown.words,
        )
    ]


def _driven(scene: Scene, ran: Drives | None, surge: float) -> str:
    """What the battery does to the machine, as it was played."""
    if ran is None:
        return f"The battery can push {number(surge, 'A')} into the standing machine and drains itself turning it."
    freewheel = (
        "A freewheel hides it: the crank stands still, and it can start as you plug in."
        if ran.w_crank < LEAST_TURNS
        else f"No freewheel lets the crank stand: it goes round with it at {turns(ran.w_crank)}, and it can start as "
        "you plug in."
    )
    return (
        f"Played: the battery pushes {number(surge, 'A')} into the standing machine, has it at {turns(ran.w_shaft)} in "
        f"{spell(max(ran.takes, 0.1))} (as if you pedalled "
        f"{ran.w_shaft / float(scene.ratio[scene.solved.gear]) / RPM:.0f}) and drains at {number(ran.drain, 'A')} or more. "
        f"{freewheel}"
    )


def _held_back(scene: Scene, ran: Drives | None) -> Finding:
    """No diode, but a board between that lets nothing back."""
    board = scene.charger()
    return finding(
        "no diode",
        "Only a board stops the battery from turning the rig",
        "look again",
        f"No diode stands between machine and battery. Played, the {board.name if board is not None else 'board'} lets "
        "nothing back; but boards with transistors in place of diodes do, and then the battery drains and turns the rig.",
        NO_DIODE_DO,
        at=("match", "diode"),
        severity=3,
        source="back_emf",
        found=0.0 if ran is None else ran.surge,
        threshold=0.0,
        unit="A",
        seconds="" if ran is None else ran.shown.words,
    )


def _diode_volts(scene: Scene) -> list[Finding] | None:
    """Reverse volts the diode holds back with the machine still."""
    diode, battery = scene.rig.diode, scene.battery
    if diode is None or diode.kind == "none" or battery is None:
        return None
    # Behind a board the diode only sees what the bus capacitor was last filled to.
    held = value(battery.charge_voltage) if scene.charger() is None else scene.ceiling
    rated = value(diode.voltage_rating)
    if not math.isfinite(rated):
        return None
    if rated >= DIODE_NEAR * 2 * held:
        return []
    check = "stop" if rated < held else "look again"
    return [
        finding(
            "diode volts",
            "A diode for too few volts",
            check,
            f"With the machine still the diode holds back {number(held, 'V')}; it is marked "
            f"{number(rated, 'V')}.",
            f"Take one marked {number(2 * held, 'V')} or more.",
            at=("diode",),
            severity=3,
            source="diode_practice",
            found=rated,
            threshold=2 * held,
            unit="V",
        )
    ]


def _amps(scene: Scene) -> list[Finding] | None:
    """More charging amps than the case allows."""
    battery = scene.battery
    if battery is None:
        return None
    limit, amps = value(battery.charge_current), scene.charging
    if amps <= limit:
        return []
    typed = scene.written.battery is not None and scene.written.battery.charge_current is not None
    check = "stop" if amps > 2 * limit and limited(scene) is False else "look again"
    whose = "its case allows" if typed else "a battery of its size and kind usually allows"
    return [
        finding(
            "charging amps",
            "More amps than the battery should take",
            check,
            f"You push {number(amps, 'A')} into it; {whose} {number(limit, 'A')}. What it cannot store it "
            "turns into heat and gas.",
            f"Set the amps screw to {number(limit, 'A')}, ride easier, or look for the most charging amps "
            "on its case.",
            at=("loads", "battery"),
            severity=3,
            found=amps,
            threshold=limit,
            unit="A",
        )
    ]


def _volts_limit(scene: Scene) -> list[Finding] | None:
    """No volts limit on the charge."""
    battery = scene.battery
    if battery is None:
        return None
    if limited(scene):
        return []
    known = limited(scene) is False
    shut = bool(scene.place.closed) and battery.in_room is not False and battery.chemistry not in LITHIUM
    check = "stop" if shut and known else "look again"
    says = (
        "Nothing stops the charge at its volts: past full, every amp you push makes gas and heat."
        if known
        else "The file does not say what stops the charge at its volts."
    )
    return [
        finding(
            "no volts limit",
            "Charging without a volts limit",
            check,
            says,
            f"Set a limit of {number(value(battery.charge_voltage), 'V', 3)} at 25 degrees with a board, "
            "or read the battery's posts each few minutes and stop there.",
            at=("loads", "battery"),
            severity=4 if shut else 3,
            found=value(battery.charge_voltage),
            unit="V",
        )
    ]


def _hydrogen(scene: Scene) -> list[Finding] | None:
    """Gas of a lead battery against the room it stands in."""
    battery = scene.battery
    if battery is None or battery.chemistry in LITHIUM:
        return None
    if battery.in_room is False:
        return []
    room, n = value(scene.place.volume), cells_of(battery)
    per_charge = float(gas.gas_per_charge(max(scene.air, 273.15)))
    free = limited(scene) is False
    kind = "flooded" if battery.chemistry == "flooded" else "valve-regulated"
    capacity = value(battery.capacity)
    usual = float(gas.gassing_current(capacity, gassing=gas.GASSING[kind][1]))
    amps = scene.charging if free else min(usual, max(scene.charging, 0.0))
    if amps <= 0:
        return []
    flow = float(gas.hydrogen_flow(amps, n_cells=n, h2_per_charge=per_charge))
    rule = float(gas.air_for_hydrogen(usual, n_cells=n))
    needed = max(rule, float(gas.air_for_hydrogen(amps, n_cells=n))) if free else rule
    fresh = value(scene.place.fresh_air, 0.0) if scene.place.closed or scene.place.fresh_air else math.nan
    closed = bool(scene.place.closed)
    if not closed and not free and (scene.place.closed is False or not room < ROOMY):
        return []
    if closed and fresh >= needed:
        return []
    hours = (
        float(gas.hydrogen_time(amps, n_cells=n, volume_room=room, h2_per_charge=per_charge))
        if math.isfinite(room)
        else math.nan
    )
    return [_hydrogen_finding(scene, free, closed, amps, flow, hours, rule, needed, kind)]


def _hydrogen_finding(
    scene: Scene,
    free: bool,
    closed: bool,
    amps: float,
    flow: float,
    hours: float,
    rule: float,
    needed: float,
    kind: str,
) -> Finding:
    litres = flow * 3.6e6
    full = (
        f"{'Late in the charge' if free else 'On charge'} {number(amps, 'A')} of gassing make "
        f"{'up to ' if free else ''}{litres:.2g} L of hydrogen an hour"
    )
    sealed = (
        f"; a sealed room of {number(value(scene.place.volume), 'm^3')} is at 1 % after {spell(hours)}"
        if math.isfinite(hours)
        else ""
    )
    mass = 20 if kind == "flooded" else 8
    free_do = (
        f" With no volts limit it takes {number(needed, 'm^3/s')}." if free and needed > 1.01 * rule else ""
    )
    area = float(gas.vent_area(needed)) * 1e4
    board = value(scene.battery.charge_voltage) if scene.battery is not None else math.nan
    stop = (
        f"Set a limit of {number(board, 'V', 3)}, move the battery out, or open up. "
        if free
        else "Open up while it charges. "
    )
    return finding(
        "hydrogen",
        "Hydrogen where the battery stands",
        "stop" if free and closed else "look again",
        f"{full}{sealed}; it can explode from 4 % up, and sooner in the pocket above the cells.",
        f"{stop}Least fresh air {number(rule, 'm^3/s')} (at {mass} mA an amp-hour).{free_do} Openings low "
        f"and high of {area:.0f} cm2 each. "
        "Negative clamp last on, first off; wait ten minutes after the charge. No flame, no spark.",
        at=("loads", "battery"),
        severity=4,
        source="iec62485",
        found=hours if math.isfinite(hours) else flow,
        threshold=gas.HYDROGEN_PLAN,
        unit="s" if math.isfinite(hours) else "m^3/s",
    )


def _flat_or_frozen(scene: Scene) -> list[Finding] | None:
    """A lead battery that is frozen or flat."""
    battery = scene.battery
    if battery is None or battery.chemistry in LITHIUM:
        return None
    cold, charge = value(battery.temperature), value(battery.charge)
    # A half-charged lead battery freezes near -25 degC, a flat one near -10 degC (common practice, no source).
    ice = FROZEN - 10.0 - 30.0 * max(charge - 0.1, 0.0)
    if cold > ice:
        return []
    return [
        finding(
            "frozen battery",
            "A battery that may be frozen",
            "stop",
            f"At {number(cold, 'K')} and {number(charge, '%')} full its acid can be ice. Charged frozen it "
            "can burst and throw acid.",
            "Bring it in, let it thaw for a day, look for cracks, then charge slowly. Goggles on, five "
            "litres of water at hand.",
            at=("loads", "battery"),
            severity=4,
            found=cold,
            threshold=ice,
            unit="K",
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("A battery that drives the machine", _no_diode),
    ("Reverse volts of the diode", _diode_volts),
    ("Charging amps", _amps),
    ("A volts limit on the charge", _volts_limit),
    ("Hydrogen", _hydrogen),
    ("A frozen battery", _flat_or_frozen),
)
