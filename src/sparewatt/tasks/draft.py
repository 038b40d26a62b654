"""Turns what was heard into a rig file: what was said as it was said, the rest as guesses that say so.

The text is written for a person to go on with: each table says where its numbers come from, and what `fill` will stand in
for is spelled out as a comment to be overwritten.
"""

from __future__ import annotations

from sparewatt.errors import BadRequest, BadRig, Problem
from sparewatt.files import read_text
from sparewatt.files.write import quoted
from sparewatt.language.sentence import Heard, HeardLoad
from sparewatt.quantities.units import parse, render
from sparewatt.tasks.draft_boards import (
    battery_volts,
    draft_battery,
    draft_boards,
    draft_wires,
    load_volts,
    low_volts,
    needs_inverter,
)
from sparewatt.tasks.draft_drive import bus_target, draft_drive, draft_machine
from sparewatt.tasks.draft_text import Draft, guess

__all__ = ["draft_rig"]


def draft_rig(heard: Heard, sentence: str) -> Draft:
    """The rig file for what was heard; it reads back without a problem, or what was said is refused."""
    d = Draft()
    inverted = [x for x in heard.loads if needs_inverter(x)]
    stores = heard.charge or bool(inverted)
    volts = battery_volts(heard) if stores else 0.0
    d.primary = _primary(heard, stores)
    d.lines += [
        "# Started from one sentence. Lines with a guess in them are guesses: replace each as you learn better.",
        "",
        f"name = {quoted(_rig_name(heard))}",
        f"story = {quoted('Started from: ' + ' '.join(sentence.split())[:400])}",
    ]
    _rider(d, heard)
    stages = len(d.lines)
    machine = draft_machine(d, heard)
    if stores and not (heard.machine is not None and heard.machine.key in ("hub motor", "car alternator")):
        d.table(
            "[diode]", [("kind", '"schottky"', "")], "Stops the battery from turning the machine. Fit one."
        )
    boards = draft_boards(d, heard, volts, machine, stores)
    draft_wires(d, stores, board="charger" in boards)
    if stores:
        draft_battery(d, heard, volts, boards)
    for load in heard.loads:
        _load(d, load, heard, boards)
    _place_and_ride(d, heard)
    drive = Draft(heard=d.heard, guessed=d.guessed)
    draft_drive(drive, heard, machine, bus_target(heard, volts, boards, machine))
    d.lines[stages:stages] = drive.lines
    _look_over(d)
    return d


def _look_over(d: Draft) -> None:
    """Refuses what was said when no rig can be like that."""
    try:
        read_text(d.text)
    except BadRig as bad:
        told = [Problem(f"sentence ({p.where})", p.problem, p.hint, p.read) for p in bad.problems]
        raise BadRequest(*told) from None


def _rig_name(heard: Heard) -> str:
    things = [x.name for x in heard.loads]
    words = "a battery" if not things else " and ".join(things[:2]) + (" and more" if len(things) > 2 else "")
    return f"Legs for {words}"


def _primary(heard: Heard, stores: bool) -> str:
    if heard.charge:
        return "charge"
    fit = [
        x
        for x in heard.loads
        if x.thing is None or x.thing.kind not in ("heater", "induction_motor", "transformer")
    ]
    return fit[0].name if fit else ("charge" if stores else heard.loads[0].name)


def _rider(d: Draft, heard: Heard) -> None:
    r = heard.rider
    rows = [("name", quoted(r.get("name", "you")), "")]
    if r.get("uses"):
        rows.append(("uses", quoted(r["uses"]), ""))
    if "age" in r:
        rows.append(("age", r["age"], ""))
    if "mass" in r:
        rows.append(("mass", quoted(r["mass"]), ""))
    fitness = r.get("fitness", "active")
    rows.append(
        (
            "fitness",
            quoted(fitness),
            "" if "fitness" in r else "a guess: say unwell, not fit, active, fit or athlete",
        )
    )
    d.table("[[rider]]", rows, "Unwell: only the gentle way, and ask a doctor first." if heard.ill else "")
    fit = f"unwell ({', '.join(dict.fromkeys(heard.ill))})" if heard.ill else fitness
    said = [
        f"{r['age']} years" if "age" in r else "",
        r.get("mass", ""),
        fit if "fitness" in r else "",
        "arms" if r.get("uses") else "",
    ]
    if any(said):
        d.heard.append(f"rider: {', '.join(x for x in said if x)}")
    if "fitness" not in r:
        d.guessed.append(
            f"the rider is taken as {fitness}; that sets the power, and it is the widest guess here"
        )
    if heard.people > 1:
        d.heard.append(f"{heard.people} people to share the riding")


def _load(d: Draft, load: HeardLoad, heard: Heard, boards: dict[str, str]) -> None:
    thing, f = load.thing, dict(load.fields)
    kind = thing.kind if thing else "electronics"
    rows = [("name", quoted(load.name), ""), ("kind", quoted(kind), "")]
    volts = load_volts(load, heard)
    many = load.count if thing is not None and not thing.stores else 1
    watts = f.get("power", "")
    if not watts and "current" in f:
        watts = render(parse(f["current"], "A").value * volts, "W", 3)
    tool = thing is not None and thing.kind == "universal_motor" and not low_volts(load)
    if watts:
        watts = render(parse(watts, "W").value * many, "W", 3) if many > 1 else watts
    if tool:
        pass  # its label is the most it takes on mains; what it takes on direct current follows from its motor
    elif watts:
        rows.append(("power", quoted(watts), ""))
    else:
        rows.append(("power", guess(f"{(thing.watts if thing else 20) * many:g} W", "usual for one"), ""))
    if tool:
        assert thing is not None
        plate = f.get("voltage", f"{heard.mains or 230:g} V")
        rows += [
            ("plate_voltage", quoted(plate), ""),
            ("plate_power", quoted(watts or f"{thing.watts:g} W"), ""),
        ]
        rows += [("voltage", '"110 V"', ""), ("without_battery", "true", "")]
    else:
        rows.append(("voltage", quoted(f"{volts:g} V"), "" if "voltage" in f else "a guess"))
        if volts >= 100:
            rows.append(("plate_voltage", quoted(f"{volts:g} V"), ""))
    if boards.get(load.name):
        rows.append(("through", quoted(boards[load.name]), ""))
    rows += _uses(load)
    d.table("[[load]]", rows)
    said = [
        x
        for k, x in load.fields.items()
        if k in ("power", "current", "voltage", "use_time", "energy_per_use")
    ]
    times = f"{load.count} of them, " if load.count > 1 else ""
    (d.heard if said or thing else d.guessed).append(f"{load.name}: {times}{', '.join(said)}".rstrip(", :"))
    if not watts:
        d.guessed.append(f"the {load.name} takes about {(thing.watts if thing else 20) * many:g} W")


def _uses(load: HeardLoad) -> list[tuple[str, str, str]]:
    thing, f = load.thing, load.fields
    if thing is None:
        return [("use_time", quoted(f.get("use_time", "1 h")), "" if "use_time" in f else "a guess")]
    rows: list[tuple[str, str, str]] = []
    if "energy_per_use" in f:
        rows.append(("energy_per_use", quoted(f["energy_per_use"]), ""))
    elif thing.energy and "use_time" not in f:
        rows.append(("energy_per_use", guess(thing.energy, "usual for one"), ""))
    else:
        time = f.get("use_time", f"{thing.hours:g} h" if thing.hours >= 1 else f"{60 * thing.hours:.0f} min")
        rows.append(("use_time", quoted(time), "" if "use_time" in f else "a guess"))
    uses = thing.uses * (load.count if thing.stores else 1)
    if uses != 1:
        rows.append(("uses_per_day", f"{uses:g}", "a guess" if thing.uses != 1 else ""))
    return rows + [(key, value, "") for key, value in thing.extra]


def _place_and_ride(d: Draft, heard: Heard) -> None:
    place = {k: v for k, v in heard.place.items() if k != "fuse"}
    if place:
        d.table("[place]", [(k, v if v == "true" else quoted(v), "") for k, v in place.items()])
        d.heard.append("place: " + ", ".join(k if v == "true" else v for k, v in place.items()))
    rows = [("load", quoted(d.primary), "")]
    names = {"effort": "effort", "duration": "duration"}
    rows += [(k, quoted(heard.ride[k]), "") for k in names if k in heard.ride]
    if "duration" not in heard.ride:
        rows.append(("duration", '"1 h"', "a guess"))
    if heard.ride:
        d.heard.append("ride: " + ", ".join(heard.ride.values()))
    d.table("[ride]", rows, "The usual question.")
