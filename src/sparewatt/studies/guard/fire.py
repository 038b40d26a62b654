"""What burns: loads on direct current, boards at their limits, hot parts, the house."""

from __future__ import annotations

import math

from sparewatt.parts import Converter, Load
from sparewatt.physics import appliances, converter, shock
from sparewatt.rig.layout import Param
from sparewatt.rig.operating import State
from sparewatt.rig.refusals import refusal
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.flows import MOST_SURGE, way_ohms
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.swings import starts
from sparewatt.studies.guard.words import finding, number, value

__all__ = ["CHECKS"]

# At or below these volts an LED lamp is made for direct current, and a heater's own switch breaks it (common practice).
LOW_VOLTS = {"led": 60.0, "heater": 14.0}
PLUG_CURRENT_MARGIN = (
    1.5  # cold current over plate amps above which a load must be a bare winding (common practice)
)


def _loads_on_dc(scene: Scene) -> list[Finding] | None:
    """Loads that must not be on direct current, and triggers that do not let go."""
    if not scene.rig.load:
        return None
    found = []
    for load in scene.rig.load:
        board = scene.feeding(load)
        if board is not None and board.kind == "inverter":
            continue
        if load.kind in LOW_VOLTS and value(load.voltage) <= LOW_VOLTS[load.kind]:
            continue
        verdict = appliances.dc_suitability(load.kind, trigger=load.trigger)
        if verdict.check != "not refused":
            found.append(_not_on_dc(load, verdict.check, verdict.why))
    return found


def _not_on_dc(load: Load, check: str, why: str) -> Finding:
    trigger = load.kind == "universal_motor"
    do = (
        "Switch it at a switch marked for direct current, not at its own trigger."
        if trigger and check != "stop"
        else "Leave it off this rig, or feed it from an inverter. Fit a connector that no house plug "
        "goes into."
    )
    return finding(
        f"on dc: {load.name}",
        "A load that direct current may harm"
        if check != "stop"
        else "A load that must not be on direct current",
        check,
        f"{load.name[0].upper()}{load.name[1:]}: {why[0].lower()}{why[1:]}",
        do,
        at=("loads", "load"),
        severity=4 if check == "stop" else 3,
        load=load.name,
    )


def _cold_winding(scene: Scene) -> list[Finding] | None:
    """A load whose cold resistance shows a bare winding."""
    judged = [
        x
        for x in scene.rig.load
        if x.winding_resistance is not None
        and x.plate_current is not None
        and x.kind in ("unknown", "switch_supply", "electronics")
    ]
    if not judged:
        return None
    found = []
    for load in judged:
        volts = value(load.voltage)
        amps = volts / value(load.winding_resistance)
        limit = PLUG_CURRENT_MARGIN * value(load.plate_current)
        if amps > limit:
            found.append(
                finding(
                    f"cold winding: {load.name}",
                    "A winding straight across the plug",
                    "stop",
                    f"{number(value(load.winding_resistance), 'ohm')} cold at {number(volts, 'V')} draws "
                    f"{number(amps, 'A')}, far above the "
                    f"{number(value(load.plate_current), 'A')} on its label: a transformer or motor "
                    "winding that will smoke on direct current.",
                    "Do not connect it.",
                    at=("loads", "load"),
                    severity=4,
                    found=amps,
                    threshold=limit,
                    unit="A",
                    load=load.name,
                )
            )
    return found


def _board_limits(scene: Scene) -> list[Finding] | None:
    """Boards stepped up too far, or trusted for the watts that are printed on them."""
    boards = [b for b in scene.boards() if b.kind != "inverter"]
    if not boards:
        return None
    found = []
    for board in boards:
        solved = next(s for s in (*scene.hard, scene.solved) if s.bound.hookup.board == board)
        found += _board_limit(board, solved) + _board_amps(scene, board, solved)
    return found


def _board_limit(board: Converter, solved: State) -> list[Finding]:
    g, found = solved.gear, []
    held = math.isfinite(float(solved.found.w_hold[g, 0]))
    v_in = float(solved.found.v_bus[g, 0]) if held else value(board.input_min)
    v_out = value(board.set_voltage)
    if board.kind != "buck" and v_in > 0 and v_out / v_in > converter.STEP_UP_FAR:
        found.append(
            finding(
                f"stepped far: {board.name}",
                "A board stepping up too far",
                "look again",
                f"From {number(v_in, 'V')} to {number(v_out, 'V')} is {v_out / v_in:.1f} times; beyond "
                "five times a fifth and more is lost as heat in the board.",
                "Raise the bus: a faster machine, or a smaller step.",
                at=("match", "board"),
                severity=2,
                found=v_out / v_in,
                threshold=converter.STEP_UP_FAR,
                unit="1",
            )
        )
    printed = value(board.power_rating)
    wanted = (
        float(solved.bound.params[Param.P_HELD, 0])
        if solved.bound.hookup.load is not None
        else float(solved.found.p_out[g, 0])
    )
    limit = value(board.input_current, math.inf)
    eta = value(board.efficiency, 0.87)
    if math.isfinite(printed) and math.isfinite(wanted):
        honest = float(
            converter.honest_power(
                v_in,
                i_limit=limit if math.isfinite(limit) else printed / v_in,
                eta_board=eta,
                p_print=printed,
            )
        )
        if wanted > honest:
            found.append(
                finding(
                    f"printed watts: {board.name}",
                    "More watts than the board gives for hours",
                    "look again",
                    f"The {board.name} says {number(printed, 'W')}, but from {number(v_in, 'V')} it gives "
                    f"about {number(honest, 'W')} for hours; "
                    f"you ask {number(wanted, 'W')}.",
                    "Raise the bus volts, blow air over it, or ask for less.",
                    at=("match", "board"),
                    severity=2,
                    found=wanted,
                    threshold=honest,
                    unit="W",
                )
            )
    return found


def _board_amps(scene: Scene, board: Converter, solved: State) -> list[Finding]:
    """Amps out for hours against the screw, and for seconds against what starts on the board."""
    found = []
    set_, hours = value(board.set_current), value(board.output_current)
    if set_ > hours:
        found.append(
            finding(
                f"amps screw: {board.name}",
                "An amps screw above what the board gives",
                "look again",
                f"The {board.name} is set to {number(set_, 'A')} and gives {number(hours, 'A')} for hours.",
                "Turn its amps screw down.",
                at=("match", "board"),
                severity=2,
                found=set_,
                threshold=hours,
                unit="A",
            )
        )
    load, most = solved.bound.hookup.load, value(board.output_current_short)
    lead = scene.circuit.lead(load).name if load is not None else ""
    if load is not None and solved.bound.hookup.battery is None and lead in scene.flows:
        first = scene.flows[lead].short / scene.rigs
        if first > most:
            found.append(
                finding(
                    f"first amps: {board.name}",
                    "A start that the board does not give",
                    "look again",
                    f"The {load.name} takes about {number(first, 'A')} as it starts; the {board.name} gives "
                    f"{number(most, 'A')} for seconds, so it limits, and the start is slow or fails.",
                    "Start it unloaded, or take a board with more amps for seconds.",
                    at=("loads", "board"),
                    severity=1,
                    found=first,
                    threshold=most,
                    unit="A",
                )
            )
    return found


def _inverter_cuts(scene: Scene) -> list[Finding] | None:
    """An inverter that quits early because cable and battery sag, or that hangs on the rig with no battery."""
    loads = [(x, scene.feeding(x)) for x in scene.rig.load]
    fed = [(x, board) for x, board in loads if board is not None and board.kind == "inverter"]
    if not fed or scene.plays.quiet:
        return None
    found = []
    for load, board in fed:
        solved = next(s for s in scene.hard if s.bound.hookup.load == load)
        if solved.bound.hookup.battery is None:
            found.append(
                finding(
                    f"inverter alone: {board.name}",
                    "An inverter with no battery behind it",
                    "look again",
                    f"The {board.name} cuts out below {number(value(board.input_min), 'V')}, at every "
                    "weak push.",
                    "Put a battery on the bus, or use a step-up board for direct current.",
                    at=("loads", "load board"),
                    severity=1,
                    found=value(board.input_min),
                    unit="V",
                )
            )
            continue
        if refusal(scene.rig, load.name) is None:
            found += _sags(scene, load, board)
    return found


def _sags(scene: Scene, load: Load, board: Converter) -> list[Finding]:
    """The battery's volts as the load is switched on and once it runs, with nobody riding."""
    surge = min(value(load.start_factor, 1.0), MOST_SURGE)
    ran = starts(scene.plays, load, surge, path=_supply_ohms(scene, load))
    cut = value(board.input_min)
    if ran.volts > cut:
        return []
    runs = ran.settled > cut
    drawn, left = (ran.amps, ran.volts) if runs else (ran.amps_settled, ran.settled)
    return [
        finding(
            f"inverter cuts out: {board.name}",
            "The inverter quits before the battery is empty",
            "look again",
            f"{number(drawn, 'A')} through battery and cable leaves {number(left, 'V')} "
            f"{'as it starts' if runs else 'while it runs'}; the {board.name} cuts out at {number(cut, 'V')}.",
            "Use shorter, thicker cable and tight clamps, or a bigger battery.",
            at=("loads", "load board"),
            severity=1,
            source="ohm",
            found=left,
            threshold=cut,
            unit="V",
            seconds=ran.shown.words,
        )
    ]


def _supply_ohms(scene: Scene, load: Load) -> float:
    """Both conductors and the contacts of the wires from the battery to a load's own board."""
    way = scene.circuit.path(load.name)
    first = next(k for k, b in enumerate(way) if b.kind == "outlets")
    board = next(k for k, b in enumerate(way) if b.kind == "board" and k > first)
    return way_ohms(way[first:board])


def _hot(scene: Scene) -> list[Finding] | None:
    """The winding's limit and the machine's skin."""
    warm = scene.solved.warmth
    after, longrun, limit, case = warm.winding, warm.longrun, warm.limit, warm.case
    found = []
    if longrun > limit:
        now = after > limit
        found.append(
            finding(
                "winding too hot",
                "The winding gets too hot",
                "stop" if now else "look again",
                f"It reaches {number(after, 'K')} on this ride and {number(longrun, 'K')} if you go on; it "
                f"may stand {number(limit, 'K')}.",
                "Ride with fewer amps, rest it, or open it to the air.",
                at=("match", "machine"),
                severity=3,
                source="heat_path",
                found=after if now else longrun,
                threshold=limit,
                unit="K",
            )
        )
    step = shock.BURN_TEMPS[2]
    if case >= step:
        found.append(
            finding(
                "hot case",
                "A machine too hot to touch",
                "look again",
                f"Its case reaches about {number(case, 'K')} on this ride; bare metal at "
                f"{number(step, 'K')} burns within a minute.",
                "Keep fingers, straps and children off it, and wait before you work on it.",
                at=("match", "machine"),
                severity=3,
                source="iso13732",
                found=case,
                threshold=step,
                unit="K",
            )
        )
    return found


def _house(scene: Scene) -> list[Finding] | None:
    """Any lead to the wiring of a house."""
    inverters = [b for b in scene.rig.converter if b.kind == "inverter"]
    if scene.place.house_wiring is None and not inverters:
        return None
    if scene.place.house_wiring is False:
        return []
    linked = bool(scene.place.house_wiring)
    says = (
        "A lead from this rig goes to the wiring of a house. It puts volts on a line that people believe "
        "is dead, and that kills line workers."
        if linked
        else "There is an inverter, and the file does not say whether any lead goes to the wiring of a house."
    )
    return [
        finding(
            "house wiring",
            "Feeding back into a house",
            "stop" if linked else "look again",
            says,
            "Never by a plug. Run appliances from the inverter's own socket and leave the house wiring "
            "alone; ask a licensed electrician.",
            at=("loads",),
            severity=4,
        )
    ]


def _machine_kind(scene: Scene) -> list[Finding] | None:
    """A machine that makes nothing when legs turn it."""
    why = appliances.MACHINE_REFUSALS.get(scene.machine.kind)
    if why is None:
        return []
    return [
        finding(
            "machine kind",
            "A machine that makes no volts",
            "stop",
            why,
            "Look for one with magnets: short its two wires, turn it by hand, and it pulls back.",
            at=("match", "machine"),
            severity=1,
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("The sort of machine", _machine_kind),
    ("Loads and triggers on direct current", _loads_on_dc),
    ("Bare windings across a plug", _cold_winding),
    ("Boards at their limits", _board_limits),
    ("Inverter and its cut-off", _inverter_cuts),
    ("Hot winding and hot case", _hot),
    ("Back-feeding a house", _house),
)
