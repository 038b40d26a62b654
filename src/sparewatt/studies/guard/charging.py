"""What a battery may be charged with: set volts, lithium, sun-panel chargers, several boards on one bus."""

from __future__ import annotations

from sparewatt.parts import Battery, Converter
from sparewatt.physics import store
from sparewatt.studies.answers import Finding
from sparewatt.studies.guard.scene import Check, Scene
from sparewatt.studies.guard.words import finding, number, value

__all__ = ["CHECKS", "LITHIUM", "cells_of", "limited"]

LITHIUM = ("lifepo4", "lithium_other")


VOLTS_SLACK = (
    0.03  # V a cell above the wanted setting before a screw is called too high; common practice, no source
)


FROZEN = 273.15


def cells_of(battery: Battery) -> int:
    """Lead cells in series."""
    return max(1, round(value(battery.voltage) / 2.0))


def limited(scene: Scene) -> bool | None:
    """Whether something stops the charge at its volts: True, False, or None where the file does not say."""
    battery = scene.written.battery
    assert battery is not None
    if battery.voltage_limited is not None:
        return battery.voltage_limited
    board = scene.charger()
    if board is None:
        return None
    written = next((b for b in scene.written.converter if b.name == board.name), None)
    return True if written is not None and written.set_voltage is not None and board.kind != "boost" else None


def _lithium(scene: Scene) -> list[Finding] | None:
    """Lithium: a protection circuit, steady volts, its own set points, and never below freezing."""
    battery = scene.battery
    if battery is None or battery.chemistry not in LITHIUM:
        return None
    written = scene.written.battery
    assert written is not None
    found = []
    if written.protected is not True:
        bare = written.protected is False
        found.append(
            finding(
                "lithium bare",
                "A lithium battery without its protection circuit",
                "stop" if bare else "look again",
                "A lithium battery charged past its volts burns, and water does not put it out."
                + ("" if bare else " The file does not say whether it carries a protection circuit."),
                "Do not charge it bare. Look for a circuit board on the pack and its print."
                if bare
                else "Look for the circuit's print on the pack, then put protected = true in the file.",
                at=("loads", "battery"),
                severity=4,
            )
        )
    temperature = value(battery.temperature)
    if temperature < FROZEN:
        found.append(
            finding(
                "lithium cold",
                "Lithium charged below freezing",
                "stop",
                f"At {number(temperature, 'K')} charging plates metal inside the cells and ruins them; "
                "later they can burn.",
                "Warm it above 5 degC first.",
                at=("loads", "battery"),
                severity=4,
                found=temperature,
                threshold=FROZEN,
                unit="K",
            )
        )
    if scene.charger() is None and limited(scene) is not True:
        found.append(
            finding(
                "lithium direct",
                "Lithium straight off the machine",
                "stop" if limited(scene) is False else "look again",
                "The machine's volts swing with your legs; a lithium pack wants steady volts that stop "
                "where it is full.",
                "Put a step-down or step-up-and-down board in between, set to the pack's own volts.",
                at=("loads", "battery"),
                severity=4,
            )
        )
    return found


def _set_points(scene: Scene) -> list[Finding] | None:
    """A volts screw turned higher than this chemistry and temperature allow."""
    battery, board = scene.battery, scene.charger()
    if battery is None:
        return None
    points = store.set_points(chemistry=battery.chemistry, v_name=value(battery.voltage))
    own = scene.written.battery
    set_to: list[tuple[str, float, str]] = []
    if own is not None and own.charge_voltage is not None:
        set_to.append(("the battery's charging volts in the file", own.charge_voltage.value, "battery"))
    written = _written(scene, board)
    if written is not None and written.set_voltage is not None:
        set_to.append((f"the volts screw of the {written.name}", written.set_voltage.value, "board"))
    if not set_to:
        return None
    best = float(points.absorb)
    lithium = battery.chemistry in LITHIUM
    n = cells_of(battery)
    over = [item for item in set_to if item[1] > best + (0.01 if lithium else VOLTS_SLACK * n + 0.012 * best)]
    if not over:
        return []
    name, volts, link = max(over, key=lambda item: item[1])
    return [
        finding(
            "set volts",
            "Charging volts too high for this battery",
            "stop" if lithium else "look again",
            f"{name[0].upper()}{name[1:]} stand at {number(volts, 'V', 3)}; this sort of battery is full "
            f"at {number(best, 'V', 3)}."
            + (
                " Lead-acid settings on lithium can set it alight."
                if lithium
                else " Above that it gasses and dries out."
            ),
            f"Set {number(best, 'V', 3)}, battery unhooked, with the meter at the board's output.",
            at=("match", link),
            severity=4 if lithium else 3,
            found=volts,
            threshold=best,
            unit="V",
        )
    ]


def _written(scene: Scene, board: Converter | None) -> Converter | None:
    return None if board is None else next((b for b in scene.written.converter if b.name == board.name), None)


def _tracker(scene: Scene) -> list[Finding] | None:
    """Chargers made for sun panels."""
    if not scene.rig.converter:
        return None
    found = []
    for board in scene.rig.converter:
        if board.panel_tracker:
            found.append(
                finding(
                    f"panel charger: {board.name}",
                    "A charger made for sun panels",
                    "look again",
                    "This charger will try to take all you have: it climbs until you stall, and at full "
                    "charge it may drop the load at once.",
                    "Use a fixed current limit instead.",
                    at=("match", "board"),
                    severity=2,
                )
            )
    return found


def _shared_bus(scene: Scene) -> list[Finding] | None:
    """Several regulated boards on one bus without amps limits."""
    if not scene.rig.neighbour:
        return None
    boards = [(scene.rig.name or "rig 1", b) for b in scene.boards()[:1]]
    boards += [(x.name, x.converter) for x in scene.rig.neighbour if x.converter is not None]
    if not boards:
        return []
    open_ended = [name for name, b in boards if b.set_current is None]
    if not open_ended:
        return []
    sets = [b.set_voltage.value for _n, b in boards if b.set_voltage is not None]
    gap = max(sets) - min(sets) if sets else 0.0
    return [
        finding(
            "shared bus",
            "Riders who do not share",
            "look again",
            f"{len(boards)} boards feed one bus, set {number(gap, 'V')} apart, and {len(open_ended)} of "
            "them have no amps limit: "
            "the highest one carries everyone and its rider is crushed.",
            "Set an amps limit on each board with a battery on the bus, or add resistance in each lead.",
            at=("match", "board"),
            severity=2,
            found=float(len(open_ended)),
            threshold=0.0,
            unit="1",
        )
    ]


CHECKS: tuple[Check, ...] = (
    ("Lithium", _lithium),
    ("Charging volts", _set_points),
    ("Chargers made for sun panels", _tracker),
    ("Sharing between rigs", _shared_bus),
)
