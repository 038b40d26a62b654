"""Too many volts: over-speed in every gear, boards that pass volts through, dropped loads, touch, stored charge, flicker."""

from __future__ import annotations

import math

import numpy as np

from sparewatt.parts import Converter
from sparewatt.physics import flywheel, protection, shock
from sparewatt.rig.outcome import Mode
from sparewatt.studies.answers import Finding
from sparewatt.studies.core import RPM
from sparewatt.studies.guard_inertia import energy_swing, inertia_at_machine, leg_inertia
from sparewatt.studies.guard_scene import MARGIN, OVERSPEED, Check, Scene
from sparewatt.studies.guard_words import energy, finding, listed, number, spell, turns, value

__all__ = ["CHECKS", "ratings"]

FLICKER_HERTZ, FLICKER_SHARE = (
    2.5,
    0.10,
)  # from memory: pulses seen from about 3 per second; ripple common practice
REST_SECONDS = 5.0
NEAR_WORK = 1.25  # a speed within a quarter of the usual one is met on every ride


def ratings(scene: Scene) -> list[tuple[str, float, str, str]]:
    """(part, rated volts or NaN, link key, what to look for) of everything the machine's open volts can reach."""
    found = [
        (
            board.name,
            value(board.input_max),
            "board",
            f"the most volts printed at the input of the {board.name}",
        )
        for board in scene.boards()
    ]
    bus = scene.rig.bus
    if bus is not None and bus.capacitance is not None:
        found.append(
            ("bus capacitor", value(bus.capacitor_voltage), "board", "the volts printed on the capacitor")
        )
    for load in scene.bare_loads():
        found.append((load.name, value(load.voltage_max), "load", f"the most volts the {load.name} may see"))
    return found


def _over_volts(scene: Scene) -> list[Finding] | None:
    """Open volts at over-speed in every gear against every rating."""
    parts = ratings(scene)
    if not parts:
        return None
    found = []
    for name, rated, link, look in parts:
        ceiling = min(float(np.max(scene.ceilings)), scene.clamped)
        needed = ceiling if math.isfinite(scene.clamped) and ceiling == scene.clamped else MARGIN * ceiling
        if math.isfinite(rated) and needed <= rated:
            continue
        check = "stop" if math.isfinite(rated) and ceiling > rated else "look again"
        found.append(
            finding(
                f"over-volts: {name}",
                "Too many volts when you spin free",
                check,
                _over_says(scene, name, rated),
                _over_do(scene, name, rated, look),
                at=("match", link),
                severity=3 if check == "stop" else 2,
                source="over_volts_practice",
                found=ceiling,
                threshold=rated,
                unit="V",
            )
        )
    return found


def _over_says(scene: Scene, name: str, rated: float) -> str:
    g = scene.top
    at_110 = float(scene.ceilings[g]) * 110 / 120
    makes = (
        f"At 110 turns {scene.gear(g)} the motor makes {number(at_110, 'V')} with nothing drawing, "
        f"at 120 turns {number(scene.ceilings[g], 'V')}"
    )
    if not math.isfinite(rated):
        return f"{makes}. The file does not say what volts the {name} stands."
    over = [k for k in range(len(scene.gears)) if scene.ceilings[k] > rated]
    if not over:
        return f"{makes}; the {name} is rated {number(rated, 'V')}, which leaves less than a quarter in hand."
    per_gear = listed(
        [
            f"{number(scene.ceilings[k], 'V')} {scene.gear(k)}"
            for k in np.argsort(-scene.ceilings)
            if k in over
        ]
    )
    first = turns(rated / (scene.k_emf * scene.ratio[g]))
    many = f" Gears that pass it at 120 turns: {per_gear}." if len(over) > 1 else ""
    return (
        f"{makes}; the {name} is rated {number(rated, 'V')}. You pass that at {first}.{many} One slip "
        "of a plug can kill it."
    )


def _over_do(scene: Scene, name: str, rated: float, look: str) -> str:
    need = number(MARGIN * float(np.max(scene.ceilings)), "V")
    if not math.isfinite(rated):
        return (
            f"Look for {look}: it should be {need} or more. Spin it up unloaded with only a meter on "
            "before you join it."
        )
    fits = [k for k in range(len(scene.gears)) if MARGIN * scene.ceilings[k] <= rated]
    gear = (
        f", lock out all gears above {scene.gears[max(fits, key=lambda k: scene.ceilings[k])]}"
        if fits
        else ""
    )
    return f"Take a part rated {need}{gear}, or fit a clamp that switches in below {number(rated, 'V')}."


def _passes(scene: Scene) -> list[Finding] | None:
    """Step-up boards cannot hold their output below their input."""
    boards = [b for b in scene.boards() if b.kind == "boost"]
    if not boards:
        return None
    found: list[Finding] = []
    for board in boards:
        found += _passes_one(scene, board)
    return found


def _passes_one(scene: Scene, board: Converter) -> list[Finding]:
    """Where one step-up board stops holding back the volts, gear by gear."""
    solved = next(s for s in (scene.solved, *scene.hard) if s.bound.hookup.board == board)
    limit = value(board.set_voltage, 0.0) + value(board.drop, 0.0)
    cadence = np.linspace(30 * RPM, 150 * RPM, 241)
    loaded = _passing_speeds(solved, cadence)
    asked = solved.gear
    opens = limit / (scene.k_emf * scene.ratio)
    if float(np.min(opens)) > OVERSPEED and not (loaded <= OVERSPEED).any():
        return []
    first = loaded[asked] if math.isfinite(loaded[asked]) else float(opens[asked])
    worst = int(np.argmin(opens))
    store = solved.bound.hookup.battery is not None
    high = scene.p_rider > 0 and first <= NEAR_WORK * max(scene.w_work, 65 * RPM)
    g = asked if first <= OVERSPEED else worst
    speed = first if g == asked else (loaded[g] if math.isfinite(loaded[g]) else float(opens[g]))
    where = "in this gear" if g == asked else scene.gear(g)
    after = (
        "the battery then gets every amp you can push, with no limit on volts or amps"
        if store
        else f"with nothing drawing that starts at {turns(opens[g])}, and the load sees whatever the "
        "machine makes"
    )
    return [
        finding(
            f"passes through: {board.name}",
            "The board passes the volts straight through",
            "stop" if high and not store else "look again",
            f"Above {turns(speed)} {where} the board can no longer hold back the voltage; {after}. Its "
            "amps limit does nothing there.",
            "Use a step-up-and-down board, or a lower gear.",
            at=("match", "board"),
            severity=3 if store else 2,
            source="back_emf",
            found=speed,
            threshold=OVERSPEED,
            unit="rad/s",
        )
    ]


def _passing_speeds(solved: object, cadence: np.ndarray) -> np.ndarray:
    """Lowest crank speed in each gear at which the loaded board passes straight through; inf where it never does."""
    from sparewatt.rig import solve
    from sparewatt.studies.core import Solved

    assert isinstance(solved, Solved)
    mode = solve.lines(solved.bound, cadence)[1, :, 0]
    through = mode == Mode.PASSES
    return np.where(through.any(axis=1), cadence[np.argmax(through, axis=1)], np.inf)


def _rejection(scene: Scene) -> list[Finding] | None:
    """What happens in the half second after the load is gone."""
    weakest = [(r, name, link) for name, r, link, _look in ratings(scene) if math.isfinite(r)]
    for load in scene.rig.load:
        if scene.on_battery(load) and scene.feeding(load) is None and scene.charger() is None:
            # The battery itself stands above some ratings while it is charged: nothing can be clamped below that.
            charged = value(scene.battery.charge_voltage) if scene.battery is not None else 0.0
            weakest.append((max(value(load.voltage_max), 1.05 * charged), load.name, "load"))
    weakest = [item for item in weakest if math.isfinite(item[0])]
    if not weakest:
        return None
    rated, name, link = min(weakest)
    if min(float(np.max(scene.ceilings)), scene.clamped) <= rated:
        return []
    torque = scene.p_rider / scene.w_work
    seconds = max(leg_inertia(scene) * max(OVERSPEED - scene.w_work, 0.0) / torque, 0.1)
    clamp = scene.rig.clamp
    weak = (
        f" The clamp is too small for a sprint of {number(scene.p_sprint, 'W')}." if clamp is not None else ""
    )
    return [
        finding(
            "load rejection",
            "The load drops off while you push",
            "look again",
            "If a plug slips or a fuse opens while you ride, you reach 120 turns in about "
            f"{spell(seconds)} and "
            f"the {name} sees {number(scene.ceilings[scene.top], 'V')}; it stands "
            f"{number(rated, 'V')}.{weak}",
            f"Fit a clamp: a resistor for {number(scene.p_sprint, 'W')} for five seconds that switches in "
            "below "
            f"{number(rated, 'V')}. Switch the load off only after you stop.",
            at=("match", link),
            severity=2,
            source="over_volts_practice",
            found=seconds,
            unit="s",
        )
    ]


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
    found = []
    if volts > 60.0:
        bleed = value(bus.bleeder, math.inf)
        wait = float(protection.discharge_time(c, volts, v_rest=60.0, r_bleed=bleed))
        if wait > REST_SECONDS:
            need = float(protection.bleeder_resistance(c, volts, v_rest=60.0, duration=REST_SECONDS))
            how = (
                "with no resistor across it the charge stays for hours"
                if math.isinf(wait)
                else f"it takes {spell(wait)}"
            )
            found.append(
                finding(
                    "capacitor stays charged",
                    "The bus stays charged after you stop",
                    "look again",
                    f"The bus can stand at {number(volts, 'V')} and must fall below 60 V within five "
                    f"seconds; {how}.",
                    f"Put {number(need, 'ohm')} or less across it, and prove it empty with a meter "
                    "each time.",
                    at=("board",),
                    severity=3,
                    source="capacitor_residual",
                    found=wait if math.isfinite(wait) else math.nan,
                    threshold=REST_SECONDS,
                    unit="s",
                )
            )
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
        joined = solved.bound.hookup
        if joined.battery is not None:
            continue
        g = solved.gear
        w = float(solved.found.w_hold[g, 0])
        dark = not math.isfinite(w) or not solved.found.v_bus[g, 0] > 0
        if dark or Mode(int(solved.found.mode[g, 0])) == Mode.REGULATES:
            continue
        share = _volts_ripple(scene, w, float(solved.found.p_rider[g, 0]), float(solved.found.v_bus[g, 0]), g)
        hertz = w / math.pi
        if share <= FLICKER_SHARE:
            continue
        fast = hertz >= FLICKER_HERTZ
        found.append(
            finding(
                f"flicker: {lamp.name}",
                "Light that pulses with every push",
                "look again",
                f"The {lamp.name} swings by {number(share, '%')} of its volts {number(hertz, '1')} times a "
                "second"
                + (
                    ", close to what can trouble people who are sensitive to flicker; moving blades can "
                    "seem to stand still."
                    if fast
                    else "."
                ),
                "Put a battery on the bus, or a heavier wheel on the middle shaft; ordinary capacitors do "
                "not cure it.",
                at=("loads", "load"),
                severity=3 if fast else 1,
                found=share,
                threshold=FLICKER_SHARE,
                unit="1",
            )
        )
    return found


def _volts_ripple(scene: Scene, w: float, p_rider: float, v_bus: float, g: int) -> float:
    """Ripple of the bus volts, top to bottom over the mean: all turning masses and the capacitor share the swing."""
    swing = energy_swing(p_rider, w)
    w_shaft = w * float(scene.ratio[g])
    turning = inertia_at_machine(scene, g) * w_shaft**2
    bus = scene.rig.bus
    charge = value(bus.capacitance, 0.0) * v_bus**2 if bus is not None else 0.0
    ripple = swing / max(turning + charge, 1e-9)
    return float(flywheel.volts_ripple_share(ripple, v_emf=scene.k_emf * w_shaft, v_bus=v_bus))


CHECKS: tuple[Check, ...] = (
    ("Over-speed volts against every rating", _over_volts),
    ("Volts passing straight through a step-up board", _passes),
    ("Volts when the load drops off", _rejection),
    ("Volts that may be touched", _touch),
    ("Charge left in the bus capacitor", _stored_charge),
    ("Flicker of lamps", _flicker),
)
