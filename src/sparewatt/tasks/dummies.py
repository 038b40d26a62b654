"""Dummy loads from the junk drawer: a drawer told in words, and what of it eats so many watts at so many volts."""

from __future__ import annotations

import re
from dataclasses import dataclass

from sparewatt.errors import BadRequest, Problem
from sparewatt.present import words_dummy
from sparewatt.quantities import BadText, parse, parse_wire_size
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Caveat
from sparewatt.studies.bench.answers import Dummy
from sparewatt.studies.bench.dummy import SOURCES, dummy_loads
from sparewatt.studies.bench.dummy_drawer import DRAWER, Junk, bulb, element, resistor, wire_of
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import Where, open_place
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_bench import DUMMY
from sparewatt.tasks.questions import answered

__all__ = ["Dummies", "drawer_of", "dummy"]

USUAL = "This counts on a drawer as many a workshop has; tell what is in yours."
_COUNT = re.compile(r"^\s*(?:(\d{1,3})\s*(?:x|×|times)\s+|(\d{1,3})\s+(?=\d))", re.IGNORECASE)
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_BULBS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("halogen",), "halogen"),
    (("house", "lamp", "incandescent"), "house_lamp"),
    (("bulb", "headlight", "car", "filament"), "car_bulb"),
)
_ELEMENTS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("kettle", "immersion"), "kettle"),
    (("iron",), "iron"),
    (("heater", "element", "toaster"), "heater"),
)
_METALS: tuple[tuple[tuple[str, ...], str], ...] = (
    (("nickel-chromium", "nichrome", "chromium", "heater"), "nickel-chromium"),
    (("copper-nickel", "constantan"), "copper-nickel"),
)
EXAMPLE = "8 x 12 V 21 W bulb; 230 V 1000 W heater; 4.7 ohm 50 W resistor; 3 m of 0.5 mm nickel-chromium wire"


@dataclass(frozen=True, slots=True, kw_only=True)
class Dummies:
    """What was wanted, what is in the drawer, and the ways to join it, best first."""

    watts: float
    volts: float
    drawer: tuple[Junk, ...]
    found: tuple[Dummy, ...]
    caveats: tuple[Caveat, ...] = ()
    sources: tuple[str, ...] = SOURCES


def dummy(place: Where, wanted: str, drawer: str = "") -> Answer:
    """What in the drawer eats so many watts at so many volts? wanted: "50 W at 12 V"; drawer: one thing a line."""
    loaded, origin = open_place(place)
    filled = fill(loaded.rig)
    watts, volts = _wanted(wanted)
    things = drawer_of(drawer) if drawer.strip() else DRAWER
    loads = dummy_loads(watts, volts, things)
    own = () if drawer.strip() else (Caveat(where="drawer", text=USUAL),)
    found = Dummies(
        watts=watts, volts=volts, drawer=things, found=loads,
        caveats=(*own, *dict.fromkeys(c for one in loads[:1] for c in one.caveats)),
    )  # fmt: skip
    return answered(
        "bench", filled, origin, found, flatten(DUMMY, found), answer=words_dummy.dummy_answer(watts, volts, loads),
        verdict=None,
    )  # fmt: skip


def _wanted(text: str) -> tuple[float, float]:
    """Watts and volts from "50 W at 12 V", in either order."""
    found: dict[str, float] = {}
    for piece in re.split(r"\bat\b|,|;|@", text):
        for unit in ("W", "V"):
            try:
                found[unit] = parse(piece.strip(), unit).value
            except BadText:
                continue
    if set(found) != {"W", "V"}:
        raise BadRequest(
            Problem("dummy load", "this says no watts at some volts.", "50 W at 12 V", text[:60])
        )
    return found["W"], found["V"]


def drawer_of(text: str) -> tuple[Junk, ...]:
    """What a drawer holds: one thing a line or between semicolons; every fault at once."""
    pieces = [piece.strip() for piece in re.split(r"[;\n]", text)]
    made = [_thing(piece) for piece in pieces if piece and not piece.startswith("#")]
    problems = [one for one in made if isinstance(one, Problem)]
    if problems:
        raise BadRequest(*problems)
    return tuple(one for one in made if isinstance(one, Junk))


def _thing(text: str) -> Junk | Problem:
    counted = _COUNT.match(text)
    count = int(counted[1] or counted[2]) if counted else 1
    rest = text[counted.end() :] if counted else text
    plain = rest.casefold().replace(",", ".")
    volts, watts, ohms = (_first(plain, unit) for unit in ("v", "w", "ohms?|Ω|r"))
    if "wire" in plain and not volts:
        return _wire(text, plain, count)
    if "resistor" in plain or (ohms and not volts):
        return (
            resistor(ohms, watts, count)
            if ohms and watts
            else _lacks(text, "a resistor needs its ohms and its watts")
        )
    if not (volts and watts):
        return _lacks(text, "a bulb or element needs its volts and its watts")
    for names, kind in _ELEMENTS:
        if any(name in plain for name in names):
            return element(watts, volts, kind, count)
    for words, kind in _BULBS:
        if any(word in plain for word in words):
            car = kind == "house_lamp" and volts < 50
            return bulb(watts, volts, count, "car_bulb" if car else kind)
    return _lacks(
        text, "it does not say whether this is a bulb, a heater, a kettle, an iron, a resistor or a wire"
    )


def _wire(text: str, plain: str, count: int) -> Junk | Problem:
    length = re.search(_NUMBER + r"\s*(m|cm|ft)\b", plain)
    thick = re.search(_NUMBER + r"\s*mm\b", plain)
    gauge = re.search(r"(?:gauge|awg)\s*(\d{1,2})|(\d{1,2})\s*(?:gauge|awg)", plain)
    metal = next((name for words, name in _METALS if any(word in plain for word in words)), "")
    if not length or not (thick or gauge) or not metal:
        return _lacks(
            text, "a wire needs its length, its thickness and its metal (nickel-chromium or copper-nickel)"
        )
    metres = parse(f"{length[1]} {length[2]}", "m").value * count
    if thick:
        return wire_of(metres, diameter=parse(f"{thick[1]} mm", "m").value, metal=metal)
    number = gauge[1] or gauge[2] if gauge else ""
    try:
        parse_wire_size(f"{number} AWG")
    except BadText as bad:
        return Problem("drawer", bad.problem, bad.hint, bad.read)
    return wire_of(metres, gauge=float(number), metal=metal)


def _first(text: str, unit: str) -> float:
    """The number before a unit; 0 when there is none."""
    found = re.search(_NUMBER + rf"\s*(k?)(?:{unit})\b", text)
    return float(found[1]) * (1000 if found[2] else 1) if found else 0.0


def _lacks(text: str, says: str) -> Problem:
    return Problem("drawer", f"{says}.", EXAMPLE, text[:60])
