"""What each section answers of a rig, as plain numbers and words, so that two rigs can be told apart by their answers."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from enum import Enum
from typing import Any

import numpy as np

from sparewatt.files import Loaded
from sparewatt.present.drawings.wiring import wiring
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.circuit import set_out_of_reach
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.operating import State
from sparewatt.studies.charge import charge_plan
from sparewatt.studies.guard.findings import STATED, guard
from sparewatt.studies.guard.scene import scene_of
from sparewatt.studies.guard.sizes import sizes
from sparewatt.studies.guard.wires import wires_and_fuses
from sparewatt.studies.heap import heap
from sparewatt.studies.loads import loads
from sparewatt.studies.match import match
from sparewatt.studies.pricing import price
from sparewatt.studies.scenes.seconds import play_scene
from sparewatt.studies.tries import coins_for

__all__ = ["SECTIONS", "answered", "plain"]

# What offers of `match`, `scene` and `mend` put a price on
BOUGHT = ("pulley", "board", "battery", "capacitor", "clamp", "flywheel", "wire_per_metre", "diode")
# What only repeats the question or the file, which would make any two rigs differ
REPEATED = (Ask, Filled, State, Loaded)
LISTED = (
    "caveats",
    "unknowns",
    "assumed",
)  # what the file does not say: it would change with every key that is written


def plain(found: Any) -> Any:
    """Nested results as tuples of numbers and words, rounded to eight digits; what only repeats the question left out."""
    if isinstance(found, REPEATED) or callable(found):
        return None
    if isinstance(found, Enum):
        return found.name
    if isinstance(found, float):
        return f"{found:.8g}"
    if isinstance(found, np.ndarray | np.generic):
        return tuple(plain(x) for x in np.asarray(found, dtype=float).ravel().tolist())
    if dataclasses.is_dataclass(found) and not isinstance(found, type):
        return tuple(plain(getattr(found, f.name)) for f in dataclasses.fields(found) if f.name not in LISTED)
    if isinstance(found, Mapping):
        return tuple((k, plain(v)) for k, v in found.items())
    if isinstance(found, tuple | list):
        return tuple(plain(x) for x in found)
    return found


def _match(filled: Filled) -> Any:
    return match(filled, ask_for(filled.rig, draws=0), nearest=False)


def _offers(filled: Filled) -> Any:
    return match(filled, ask_for(filled.rig)).nearest_yes


def _loads(filled: Filled) -> Any:
    return loads(filled, only=filled.rig.ride.load if filled.rig.ride is not None else None)


def _charge(filled: Filled) -> Any:
    return charge_plan(filled, ask_for(filled.rig, load="charge", draws=0))


def _price(filled: Filled) -> Any:
    return price(filled, ask_for(filled.rig, load=filled.rig.load[0].name, draws=0), Draws(0, 1))


def _guard(filled: Filled) -> Any:
    scene = scene_of(filled, quiet=True)
    return [check(scene) for _title, check in STATED]


def _sizes(filled: Filled) -> Any:
    scene = scene_of(filled, quiet=True)
    return (*wires_and_fuses(scene), *sizes(scene))


def _scene(filled: Filled) -> Any:
    return play_scene(filled, filled.rig.scene[0], runs=0)


def _drawing(filled: Filled) -> Any:
    return wiring(filled.rig)


def _check(filled: Filled) -> Any:
    return [(where, volts) for where, _board, volts in set_out_of_reach(filled.rig)]


def _coins(filled: Filled) -> Any:
    return [coins_for(filled.rig, what) for what in BOUGHT]


def _played(filled: Filled) -> Any:
    return guard(filled).findings


def _heap(filled: Filled) -> Any:
    return heap(filled)


SECTIONS: dict[str, Callable[[Filled], Any]] = {
    "match": _match, "loads": _loads, "price": _price, "charge": _charge, "guard": _guard, "sizes": _sizes, "scene": _scene,
    "drawing": _drawing, "check": _check, "heap": _heap, "offers": _offers,
    "coins": _coins, "played": _played,
}  # fmt: skip


def answered(loaded: Loaded, section: str) -> Any:
    """What one section answers of a rig file."""
    return plain(SECTIONS[section](fill(loaded.rig)))
