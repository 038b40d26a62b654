"""Boards, wires and battery of a drafted rig."""

from __future__ import annotations

from sparewatt.files.write import quoted
from sparewatt.language.sentence import Heard, HeardLoad
from sparewatt.parts import Machine
from sparewatt.quantities.units import parse, render
from sparewatt.tasks.draft_text import Draft, guess

__all__ = [
    "battery_volts",
    "draft_battery",
    "draft_boards",
    "draft_wires",
    "load_volts",
    "low_volts",
    "needs_inverter",
]

EASY_WATTS = {"legs": 55.0, "arms": 30.0}  # into the battery
HIGH_VOLTS = 60.0  # V on the label: from here up the machine is run slower than its label and stepped down


def needs_inverter(load: HeardLoad) -> bool:
    """Runs on mains volts and is no brushed tool, which takes direct current."""
    return (
        load.thing is not None
        and load.thing.volts == 0
        and load.thing.kind != "universal_motor"
        and not low_volts(load)
    )


def low_volts(load: HeardLoad) -> bool:
    """The sentence gives it volts that a battery has."""
    return "voltage" in load.fields and parse(load.fields["voltage"], "V").value < 60


def battery_volts(heard: Heard) -> float:
    """Volts of the battery; 12 when the sentence gives none."""
    return parse(heard.battery["voltage"], "V").value if "voltage" in heard.battery else 12.0


def draft_boards(d: Draft, heard: Heard, volts: float, machine: Machine, stores: bool) -> dict[str, str]:
    """Writes the boards; gives the board name by load name, and "charger" where one stands before the battery."""
    found: dict[str, str] = {}
    plate = machine.plate_voltage.value if machine.plate_voltage else 24.0
    told = heard.board.get("kind", "")
    charger = (
        told
        if told in ("buck", "boost", "buck_boost") and stores
        else ("buck" if stores and plate >= HIGH_VOLTS else "")
    )
    if charger:
        found["charger"] = _charging_board(d, heard, charger, volts)
    for load in heard.loads:
        _load_board(d, load, heard, volts, found, plate)
    if told and not any(f'kind = "{told}"' in line for line in d.lines):
        d.guessed.append(f"the {told.replace('_', '-')} is left out: joined directly, less is lost")
    return found


def _charging_board(d: Draft, heard: Heard, charger: str, volts: float) -> str:
    """Writes the board between machine and battery, and gives its name."""
    told = heard.board.get("kind", "")
    name = {
        "buck": "step-down board",
        "boost": "step-up board",
        "buck_boost": "step-up-and-down board",
    }[charger]
    rows = [("name", quoted(name), ""), ("kind", quoted(charger), ""), ("at", '"rig"', "")]
    rows += (
        _board_words(heard)
        if told == charger
        else [("output_current", guess("8 A"), "read it off the board")]
    )
    amps = _easy_amps(heard, volts)
    rows.append(
        (
            "set_current",
            guess(render(amps, "A", 2), "leaves the legs something in hand"),
            "where to set the screw",
        )
    )
    d.table("[[converter]]", rows, "Between machine and battery.")
    if told == charger:
        d.heard.append(f"a {name} {' '.join(v for k, v in heard.board.items() if k != 'kind')}".strip())
    else:
        d.guessed.append(
            "a step-down board between machine and battery, because this motor likes more volts than the battery has"
        )
    d.guessed.append(f"its amps screw set to {render(amps, 'A', 2)}, so that the legs keep something in hand")
    return name


def _easy_amps(heard: Heard, volts: float) -> float:
    """Charging amps that an ordinary rider keeps up for an hour, and no more than a fifth of the capacity."""
    watts = EASY_WATTS["arms" if heard.rider.get("uses") == "arms" else "legs"]
    if "effort" in heard.ride:
        watts = 0.5 * parse(heard.ride["effort"], "W").value
    amps = watts / (1.1 * volts)
    if "capacity" in heard.battery:
        amps = min(amps, 0.2 * parse(heard.battery["capacity"], "C").value / 3600)
    return amps


def _board_words(heard: Heard) -> list[tuple[str, str, str]]:
    return [(k, quoted(v), "") for k, v in heard.board.items() if k != "kind"]


def load_volts(load: HeardLoad, heard: Heard) -> float:
    """Volts the load is run at; mains, 12 or a tool's direct volts when the sentence gives none."""
    if "voltage" in load.fields:
        return parse(load.fields["voltage"], "V").value
    if load.thing is None:
        return 12.0
    if load.thing.kind == "universal_motor":
        return 110.0
    return load.thing.volts or heard.mains or 230.0


def _load_board(
    d: Draft, load: HeardLoad, heard: Heard, battery: float, found: dict[str, str], plate: float
) -> None:
    """The board one load needs, if it needs one; loads of the same volts share it. plate: volts the machine likes."""
    volts = load_volts(load, heard)
    if load.thing is not None and load.thing.kind == "universal_motor" and not low_volts(load):
        _one_board(
            d,
            load,
            heard,
            found,
            "step-up board" if found.get("charger") != "step-up board" else "tool board",
            "boost",
            "rig",
            110.0,
        )
    elif needs_inverter(load):
        _one_board(d, load, heard, found, "inverter", "inverter", "load", heard.mains or 230.0)
    elif battery and abs(volts - battery) > 0.15 * battery:
        kind = "buck" if volts < battery else "boost"
        _one_board(d, load, heard, found, f"{volts:g} V board", kind, "load", volts)
    elif not battery:
        kind = "buck" if 2 * volts <= plate else "buck_boost"
        _one_board(d, load, heard, found, f"{volts:g} V board", kind, "rig", volts)


def _one_board(
    d: Draft, load: HeardLoad, heard: Heard, found: dict[str, str], name: str, kind: str, at: str, volts: float
) -> None:  # fmt: skip
    have = name in found.values()
    found[load.name] = name
    if have:
        return
    rows = [
        ("name", quoted(name), ""),
        ("kind", quoted(kind), ""),
        ("at", quoted(at), ""),
        ("set_voltage", quoted(f"{volts:g} V"), ""),
    ]
    told = heard.board.get("kind") == kind
    if told:
        rows += [row for row in _board_words(heard) if row[0] != "set_voltage"]
        d.heard.append(f"a {name} {' '.join(v for k, v in heard.board.items() if k != 'kind')}".strip())
    elif kind == "inverter":
        rows.append(("power_rating", guess("300 W"), ""))
    else:
        rows.append(("input_current", guess("10 A"), "read it off the board"))
    if kind == "boost" and at == "rig":
        amps = 0.85 * parse(load.fields.get("power", "600 W"), "W").value / (heard.mains or 230.0)
        rows.append(("set_current", guess(render(amps, "A", 2), "a low amps limit starts a tool softly"), ""))
    d.table("[[converter]]", rows)
    if not told:
        d.guessed.append(f"{'an' if name[0] in 'aeiou' else 'a'} {name} for the {load.name}")


def draft_wires(d: Draft, stores: bool, *, board: bool = False) -> None:
    """Writes the wires."""
    rows = [("length", guess("3 m"), ""), ("size", guess("2.5 mm2"), "")]
    d.table("[[wire]]", [("run", '"machine"', ""), *rows], "A guess: measure with a tape.")
    if stores:
        run = "board" if board else "battery"
        size = [("length", guess("1 m"), ""), ("size", guess("2.5 mm2"), "")]
        d.table("[[wire]]", [("run", quoted(run), ""), *size])
    d.guessed.append(
        "wires of 2.5 mm2, 3 m from the machine and 1 m to the battery"
        if stores
        else "3 m of 2.5 mm2 wire from the machine"
    )


def draft_battery(d: Draft, heard: Heard, volts: float, boards: dict[str, str]) -> None:
    """Writes the battery, and the fuse when one was named."""
    b = heard.battery
    rows = [("name", '"battery"', ""), ("chemistry", quoted(b.get("chemistry", "flooded")), "")]
    rows.append(("voltage", quoted(f"{volts:g} V"), "" if "voltage" in b else "a guess"))
    capacity = b.get("capacity", "")
    if not capacity and "energy" in b:
        capacity = render(parse(b["energy"], "J").value / volts, "Ah", 3)
    rows.append(("capacity", quoted(capacity) if capacity else guess("36 Ah"), ""))
    if "charge_current" in b:
        rows.append(("charge_current", quoted(b["charge_current"]), ""))
    if boards.get("charger"):
        rows.append(("through", quoted(boards["charger"]), ""))
    d.table("[battery]", rows, "" if heard.charge else "No battery was named; a load like this needs one.")
    if "fuse" in heard.place:
        d.table("[[fuse]]", [("run", '"battery"', ""), ("rating", quoted(heard.place["fuse"]), "")])
        d.heard.append(f"a {heard.place['fuse']} fuse")
    said = [b[k] for k in ("voltage", "capacity", "energy", "charge_current") if k in b]
    if said:
        d.heard.append(f"battery: {', '.join(said)}")
    if not heard.charge:
        d.guessed.append("a 12 V 36 Ah battery and an inverter, because this runs on mains volts")
    elif not capacity:
        d.guessed.append(f"a {volts:g} V 36 Ah battery")
    if "chemistry" not in b:
        d.guessed.append("the battery is an ordinary flooded lead-acid one")
