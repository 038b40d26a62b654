"""The machine and the drive of a drafted rig: what was said, and the pulley that brings the pace out comfortable."""

from __future__ import annotations

import math
from typing import Any

from sparewatt.files.write import quoted
from sparewatt.language.sentence import Heard
from sparewatt.language.vocabulary import vocabulary
from sparewatt.parts import Machine, Measured, Rig
from sparewatt.quantities.units import parse, render
from sparewatt.rig.fill import fill
from sparewatt.tasks.draft_boards import load_volts
from sparewatt.tasks.draft_text import Draft, guess

__all__ = ["bus_target", "draft_drive", "draft_machine"]

RPM = 2 * math.pi / 60
PACE = {"legs": 62 * RPM, "arms": 52 * RPM}  # what the drive is laid out for when the sentence gives none
PULLEYS = (20.0, 300.0)  # mm, what can be made or found


def draft_machine(d: Draft, heard: Heard) -> Machine:
    """Writes [machine] and gives it with its constants, for laying out the drive."""
    word = heard.machine.machine if heard.machine else None
    kind = word.kind if word else "pm_dc"
    name = word.name if word else "motor"
    rows = [("name", quoted(name), ""), ("kind", quoted(kind), "")]
    usable = kind in ("pm_dc", "pm_three_phase", "alternator")
    said = dict(heard.plate)
    constants = {k: said.pop(k) for k in ("resistance", "mass") if k in said}
    plate = {k: v for k, v in said.items() if k.startswith("plate_")}
    if "plate_power" in plate and not usable:
        rows += [(k, quoted(v), "") for k, v in plate.items()]
    elif plate:
        rows += [(k, quoted(v), "") for k, v in plate.items()]
        d.heard.append(f"{name} label: {', '.join(plate.values())}")
    rows += [(k, quoted(v), "") for k, v in constants.items()]
    filled = _filled(kind, plate or dict(word.plate if word else ()), heard.machine is None)
    if not plate and usable:
        assert filled.emf_constant is not None and filled.resistance is not None
        usual = word.plate if word and word.plate else ()
        note = "no label given; usual for one" if word else "no motor named; a small scooter motor"
        rows += [(k, guess(v), "") for k, v in usual or _scooter_plate()]
        rows.append(("emf_constant", guess(render(filled.emf_constant.value, "V*s/rad", 2), note), ""))
        rows.append(("resistance", guess(render(filled.resistance.value, "ohm", 2), note), ""))
        d.guessed.append(
            f"{'the ' + name if word else 'no motor was named, so a small scooter motor'} has usual numbers; read its label"
        )
    if word and word.says:
        d.guessed.append(word.says)
    d.table("[machine]", rows)
    return filled


def _scooter_plate() -> tuple[tuple[str, str], ...]:
    """The label of the motor that stands in when none is named."""
    return vocabulary().machine("scooter motor").plate


def _filled(kind: str, plate: dict[str, str], none_named: bool) -> Machine:
    """The machine with the constants that the solver will take for this label."""
    units = {"plate_voltage": "V", "plate_current": "A", "plate_speed": "rad/s", "plate_power": "W"}
    given = plate or (dict(_scooter_plate()) if none_named else {})
    known: dict[str, Any] = {
        k: Measured(parse(v, units[k]).value, 0.0, "nameplate") for k, v in given.items() if k in units
    }
    machine = fill(Rig(name="draft", rider=(), machine=Machine(kind=kind, **known))).rig.machine
    assert machine is not None
    return machine


def bus_target(heard: Heard, volts: float, boards: dict[str, str], machine: Machine) -> float:
    """Volts the machine should make, after its own drops, at a comfortable pace; never more than its label has."""
    charger = boards.get("charger", "")
    if volts and not charger:
        return volts * 1.12 + 0.5
    if volts:
        return 0.85 * volts if charger == "step-up board" else max(2.4 * volts, volts + 10.0)
    if "step-up board" in boards.values():
        return 34.0
    wanted = max((load_volts(x, heard) for x in heard.loads), default=12.0)
    plate = machine.plate_voltage.value if machine.plate_voltage else 24.0
    return max(min(2.0 * wanted, plate), 12.0)


def draft_drive(d: Draft, heard: Heard, machine: Machine, bus: float) -> None:
    """Chain and belt (or what the sentence names); what is missing is chosen so that the pace comes out comfortable."""
    assert machine.emf_constant and machine.resistance
    arms = heard.rider.get("uses") == "arms"
    pace = PACE["arms" if arms else "legs"]
    drops = (machine.brush_drop.value if machine.brush_drop else 1.2) + 4.0 * machine.resistance.value * min(
        1.0, 14.0 / bus
    )
    wanted = (bus + drops) / (machine.emf_constant.value * pace)
    told = heard.drive
    if "ratio" in told:
        d.table(
            "[[stage]]",
            [("name", '"the whole drive"', ""), ("kind", '"gears"', ""), ("ratio", told["ratio"], "")],
        )
        d.heard.append(f"one turn of the crank makes {told['ratio']} of the machine")
        return
    front, rear = (int(x) for x in told.get("teeth", "42/14" if arms else "42/18").split("/"))
    front = int(told.get("front_teeth", front))
    rear = int(told.get("rear_teeth", rear))
    toothed = any(key in told for key in ("teeth", "front_teeth", "rear_teeth"))
    if toothed:
        d.heard.append(f"sprockets {front}/{rear}")
    else:
        d.guessed.append(f"a chain {front}/{rear}")
    teeth = [
        ("name", '"chain"', ""),
        ("kind", '"chain"', ""),
        ("driver_teeth", f"[{front}]", ""),
        ("driven_teeth", f"[{rear}]", ""),
    ]
    d.table("[[stage]]", teeth, "" if toothed else "A guess: count your teeth.")
    _second_stage(d, told, wanted / (front / rear), arms)


def _second_stage(d: Draft, told: dict[str, str], ratio: float, arms: bool) -> None:
    kind = "roller" if "roller" in told.get("words", "") else "flat_belt"
    small = told.get(
        "roller_size" if kind == "roller" else "pulley_size",
        told.get("pulley_size", told.get("roller_size", "")),
    )
    wheel = told.get("wheel_size", "400 mm" if arms else "600 mm")
    driver = parse(wheel, "m").value * 1000
    size = min(max(driver / ratio, PULLEYS[0]), PULLEYS[1])
    chosen = f"{5 * round(size / 5) if size > 60 else round(size)} mm"
    what = "roller" if kind == "roller" else "pulley"
    name = "tyre on the roller" if kind == "roller" else "belt from the rim"
    rows = [("name", quoted(name), ""), ("kind", quoted(kind), "")]
    rows.append(
        (
            "driver_diameter",
            quoted(wheel),
            "" if "wheel_size" in told else "a guess: measure across the wheel",
        )
    )
    rows.append(
        (
            "driven_diameter",
            quoted(small or chosen),
            "" if small else "chosen so that the pace comes out comfortable",
        )
    )
    d.table("[[stage]]", rows)
    if "wheel_size" in told:
        d.heard.append(f"wheel {wheel}")
    else:
        d.guessed.append(f"a wheel {wheel} across")
    if small:
        d.heard.append(f"{what} {small}")
    else:
        d.guessed.append(
            f"a {chosen} {what}, which is what to make or look for: with it the pace comes out comfortable"
        )
