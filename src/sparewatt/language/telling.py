"""A script said back in words that read to the same script, and examples of what may be written on one rig."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from sparewatt.language.again import again_every
from sparewatt.language.names import CHARGE, Names, names_of
from sparewatt.language.phrases import reserved
from sparewatt.language.plan import LIGHT, Plan, Said, Start
from sparewatt.parts import Rig
from sparewatt.quantities import factor, parse, render
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import hookup

if TYPE_CHECKING:
    from sparewatt.language.script import Script

__all__ = [
    "TOOLS",
    "TOP",
    "amount",
    "asked_time",
    "examples",
    "plain_words",
    "plan_of",
    "quoted",
    "tell",
    "told",
    "told_step",
    "understood",
]

TOOLS = frozenset({"dc_motor", "universal_motor", "induction_motor"})
TOP = "top"  # the hardest gear there is, whatever it is called
_PLAIN_NAME = re.compile(r"[A-Za-z]{2,}(?: [A-Za-z]{2,})*")
_FIXED = {
    "unplug": "pull the plug", "plug": "plug it back in", "unhook": "unhook the battery", "hook": "hook the battery up",
    "stop": "stop pedalling", "pedal": "pedal again", "diode_short": "the diode fails short",
    "diode_open": "the diode fails open", "diode_good": "the diode is good again",
    "diode_back": "the diode is the wrong way round", "clamp_off": "the clamp goes off",
    "clamp_on": "the clamp goes back on", "sprint": "sprint", "ease": "ease off",
}  # fmt: skip


_WORK = {0.0: "let go", LIGHT: "light work", 1.0: "lean on it"}


def amount(value: float, units: tuple[str, ...], si: str, most: int | None = None) -> str:
    """The shortest text that reads to exactly this value, in the first of the units that needs few digits.

    most: so many digits at most, for reading by people; the text may then read to a value a little off.
    """
    if most is not None:
        return render(value, units[0], most)
    for unit in units:
        for digits in range(1, 8):
            number = repr(float(f"{value / factor(unit):.{digits}g}")).removesuffix(".0")
            text = number if unit == "1" else f"{number} {unit}"
            if parse(text, si).value == value:
                return text
    return f"{value!r} {si}" if si != "1" else repr(value)


def quoted(name: str) -> str:
    """A name as a script may write it: in quotes unless one of its words means nothing else."""
    plain = _PLAIN_NAME.fullmatch(name) is not None and not set(name.casefold().split()) <= reserved()
    return name if plain else f'"{_folded(name)}"'


def _folded(name: str) -> str:
    return " ".join(re.sub('["\u201c\u201d\u00ab\u00bb]', "'", name).split())


def _the(name: str) -> str:
    said = quoted(name)
    return said if said.casefold().startswith("the ") else f"the {said}"


def told_step(kind: str, target: str, value: float, most: int | None = None) -> str:
    """One act in words that read to the same act."""
    if kind in ("on", "off"):
        return f"switch {_the(target)} {kind}"
    if kind == "shift":
        return f"shift to {target}" if target[:1] not in "+-" else _relative(target)
    if kind == "effort":
        return f"ride at an effort worth {amount(value, ('W',), 'W', most)}"
    if kind == "cadence":
        return f"hold {amount(value, ('rpm',), 'rad/s', most)}"
    if kind == "power":
        return f"hold an even {amount(value, ('W',), 'W', most)}"
    if kind == "work":
        return _WORK.get(value) or f"work at {amount(value, ('%', '1'), '1', most)}"
    if kind in ("leave", "join"):
        return f"rig number {target} steps {'off' if kind == 'leave' else 'back on'}"
    return _FIXED[kind]


def _relative(target: str) -> str:
    way, by = "up" if target.startswith("+") else "down", int(target[1:])
    return f"shift {way} {by} gears" if by > 1 else f"shift {way} one gear"


def understood(rig: Rig, kind: str, target: str, value: float) -> str:
    """One act in short words for reading: rounded, and with the names of this rig."""
    if kind in ("on", "off"):
        return f"switch the {target} {kind}"
    if kind == "effort":
        return f"ride at an effort worth {render(value, 'W')}"
    if kind == "cadence":
        return f"hold {render(value, 'rpm')}"
    if kind == "power":
        return f"hold an even {render(value, 'W')}"
    if kind == "work":
        return _work(rig, target, value)
    if kind in ("leave", "join"):
        return _seat(rig, target, "off" if kind == "leave" else "back on")
    return told_step(kind, target, value)


def _work(rig: Rig, target: str, value: float) -> str:
    tool = any(load.name == target and load.kind in TOOLS for load in rig.load)
    share = render(value, "%")
    if not tool:
        return f"run the {target} at {share} of its watts"
    return f"lean on the {target} with {share} of its rated push" if value > 0 else f"let go of the {target}"


def _seat(rig: Rig, target: str, way: str) -> str:
    number = int(target)
    if number == 1:
        return f"the rider of the main rig steps {way}"
    other = rig.neighbour[number - 2]
    return (
        f"{other.rider} of {other.name} steps {way}"
        if other.rider
        else f"{other.name}: its rider steps {way}"
    )


def tell(script: Script, *, digits: int | None = None) -> str:
    """The script as words; read again on the same rig they give the same script (its name, draws and seed apart).

    digits: round the amounts to so many, for people to read; what is told may then differ by as much.

    "Runa rides along, at an effort worth 120 W, charging the battery, for 30 s; at 5 s shift to 42/14"
    """
    return told(plan_of(script), digits=digits)


def plan_of(script: Script) -> Plan:
    """The script as what is said of its start and its steps, nothing left to be guessed."""
    ask = script.ask
    start = Start(
        rider=ask.rider, load=ask.load, gear=ask.gear, effort=ask.effort, cadence=script.cadence, duration=ask.duration,
        holds=script.holds, start=script.start, switched_on=script.switched_on,
    )  # fmt: skip
    return Plan(start=start, steps=tuple((a.at, Said(a.kind, a.target, a.value)) for a in script.steps))


def told(plan: Plan, *, digits: int | None = None) -> str:
    """The plan as words that read to the same plan: its start, its steps, and how often they come again."""
    lasts = plan.start.duration
    size, every = again_every(plan.steps, lasts) if lasts is not None else (0, 0.0)
    often = _time(every) if size else ""
    if size and float(parse(often, "s").value) != every:  # it would not read to the same times
        size = 0
    steps = [
        f"at {_time(at)} {told_step(said.kind, said.target, said.value, digits)}"
        for at, said in (plan.steps[:size] if size else plan.steps)
    ]
    head = ", ".join(_head(plan.start, digits))
    return "; ".join([*([head] if head else []), *steps, *([f"again every {often}"] if size else [])])


def _head(start: Start, digits: int | None) -> Iterator[str]:
    """What is said of the start, piece by piece."""
    way = "from rest" if start.start == "rest" else "along"
    if start.rider is not None:
        yield f"{quoted(start.rider)} rides {way}"
    elif start.start is not None:
        yield way if start.start == "rest" else "riding along"
    if start.cadence is not None:
        yield f"{'holding' if start.holds == 'cadence' else 'at'} {amount(start.cadence, ('rpm',), 'rad/s', digits)}"
    if start.effort is not None:
        watts = amount(start.effort, ("W",), "W", digits)
        yield f"holding an even {watts}" if start.holds == "power" else f"at an effort worth {watts}"
    if start.gear is not None:
        yield "in the top gear" if start.gear == TOP else f"in gear {start.gear}"
    if start.load == CHARGE:
        yield "charging the battery"
    elif start.load is not None:
        yield f"with {_the(start.load)} {'on' if start.switched_on else 'off'}"
    if start.duration is not None:
        yield f"for {_time(start.duration)}"


def _time(value: float) -> str:
    """Seconds, or hours where they are whole or nearly so, in the unit in which the text is exact."""
    return amount(value, ("h", "min", "s") if value >= 3600 and value % 900 == 0 else ("s", "min", "h"), "s")


def plain_words(names: Names, rig: Rig, load: str, *, battery: bool) -> tuple[str, ...]:
    """Steps that may be written on this rig with this load hooked up, in the words the list of examples uses."""
    out: list[str] = []
    if load != CHARGE:
        tool = any(one.name == load and one.kind in TOOLS for one in rig.load)
        out += [f"switch {_the(load)} on", f"switch {_the(load)} off"]
        out += (
            ["lean on it", "let go", "light work", "work at 50 %"] if tool else [f"run {_the(load)} at 50 %"]
        )
    out += ["pull the plug", "plug it back in"]
    if battery:
        out += ["unhook the battery", "hook the battery up"]
    if len(names.gears) > 1:
        out += ["shift up", "shift down", "top gear", *(f"shift to {gear}" for gear in names.gears)]
    out += [
        "ride at 100 W",
        "hold 70 rpm",
        "hold an even 100 W",
        "stop pedalling",
        "pedal again",
        "sprint",
        "ease off",
    ]
    for number, (name, rider) in enumerate(names.beside, 2):
        out += [
            f"{who} steps {way}"
            for who in (rider, name or f"rig {number}")
            if who
            for way in ("off", "back on")
        ]
    if rig.diode is not None and rig.diode.kind != "none":
        out += ["the diode fails short", "the diode fails open", "the diode is good again"]
    if rig.clamp is not None:
        out += ["the clamp goes off", "the clamp goes back on"]
    return tuple(out)


def examples(filled: Filled, load: str) -> tuple[str, ...]:
    """Steps that may be written on this rig with this load (or "charge") hooked up."""
    rig = filled.rig
    return plain_words(names_of(rig), rig, load, battery=hookup(rig, load).battery is not None)


def asked_time(script: Script) -> float:
    """Seconds in which the load (or the battery) is switched on, joined up, and somebody pedals."""
    on, plugged, hooked, pedals = script.switched_on or script.ask.load == CHARGE, True, True, True
    total = last = 0.0
    for at, kind in [*((act.at, act.kind) for act in script.steps), (script.duration, "")]:
        if on and plugged and pedals and (hooked or script.ask.load != CHARGE):
            total += at - last
        last = at
        on = {"on": True, "off": False}.get(kind, on)
        plugged = {"plug": True, "unplug": False}.get(kind, plugged)
        hooked = {"hook": True, "unhook": False}.get(kind, hooked)
        pedals = {"pedal": True, "stop": False}.get(kind, pedals)
    return total
