"""A moment of a ride: what was read at one time, and the words for it."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from sparewatt.language.vocabulary import vocabulary
from sparewatt.quantities.units import render

__all__ = ["FEELS", "JOINED", "STAMP", "Moment", "feel_of", "moment_text"]

NAN = float("nan")
STAMP = re.compile(r"\d[\dT:.+-]*:\d\d[\dT:.+Z-]*|\d{4}-\d\d-\d\d", re.ASCII)
FEELS = ("very easy", "easy", "as usual", "hard", "very hard")
JOINED = ("load", "nothing", "lamp")


def feel_of(spoken: str) -> str:
    """One of FEELS for what people say ("heavy", "Normal"); "" where it is none of them."""
    said = " ".join(spoken.casefold().split())
    return next((feel for feel, words in vocabulary().feels.items() if said == feel or said in words), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """What was read at one time; anything may be NaN or "". SI, volts and amps positive as pedalled forward.

    cadence: of the crank; speed: of the machine's shaft; volts, amps: at the machine's two wires; volts_out, amps_out:
    behind the board, or at the battery. heat: of the machine's case (K). feel: one of FEELS. effort: W at the pedals that
    the rider meant to give. ridden: s since setting off. gear, load: as in the rig file, "" what the rig is usually asked.
    joined: one of JOINED: the load, nothing at all, or a lamp whose watts nobody knows. drill: turned by a drill, no legs.
    fine: read when all was still well. spreads: what the reader wrote as the spread of a value.
    """

    at: str = ""
    cadence: float = NAN
    speed: float = NAN
    volts: float = NAN
    amps: float = NAN
    volts_out: float = NAN
    amps_out: float = NAN
    heat: float = NAN
    feel: str = ""
    effort: float = NAN
    ridden: float = NAN
    gear: str = ""
    load: str = ""
    joined: str = "load"
    drill: bool = False
    fine: bool = False
    volts_meter: str = ""
    amps_meter: str = ""
    spreads: tuple[tuple[str, float], ...] = ()
    lines: tuple[int, ...] = ()


_TELL = (("cadence", "rpm"), ("speed", "rpm"), ("volts", "V"), ("amps", "A"), ("volts_out", "V"), ("amps_out", "A"),
         ("heat", "degC"), ("effort", "W"), ("ridden", "min"))  # fmt: skip


def moment_text(m: Moment) -> str:
    """A moment as it could be typed; read again it is the same to the digits shown."""
    parts = [f"at={m.at}"] if STAMP.fullmatch(m.at) else []
    parts += ["by drill"] if m.drill else []
    parts += [f"{m.joined} joined"] if m.joined != "load" else []
    for what, unit in _TELL:
        value = getattr(m, what)
        if math.isfinite(value):
            parts.append(f"{what.replace('_', ' ')} {render(value, unit, 4)}")
    parts += [m.feel] if m.feel else []
    parts += [f'gear "{m.gear}"'] if m.gear else []
    parts += [f'load "{m.load}"'] if m.load else []
    parts += [
        f'{key.replace("_", " ")} "{getattr(m, key)}"'
        for key in ("volts_meter", "amps_meter")
        if getattr(m, key)
    ]
    return ", ".join(parts)
