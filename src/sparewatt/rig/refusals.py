"""Reasons to refuse before any solving: a machine that makes nothing, a load not for DC, a life that hangs on it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparewatt.parts import Load, Measured, Rig
from sparewatt.physics import appliances
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Stop

__all__ = ["LIFE_DO", "Lifeline", "lifeline", "refusal"]

NIGHTS = 2.0
USABLE = 0.5  # share of a battery that is counted on for somebody's life; common practice, no source
LIFE_DO = (
    "keep a battery for two nights and a second way to charge it; ask the clinic what to do when both fail"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lifeline:
    """What stands behind a load that somebody depends on (J): what its battery gives, and what two nights of it take."""

    held: float
    wanted: float

    @property
    def enough(self) -> bool:
        """Whether the battery carries it without any legs; anything less is a stop."""
        return self.held >= self.wanted


def lifeline(rig: Rig, load: Load) -> Lifeline | None:
    """The back-up of a load that somebody depends on; None for a load that nobody does."""
    if not load.life_support:
        return None
    time = min(_value(load.use_time, 86400.0) * _value(load.uses_per_day, 1.0), 86400.0)
    battery, held = hookup(rig, load.name).battery, 0.0
    if battery is not None:
        held = USABLE * _value(battery.capacity) * _value(battery.health, 1.0) * _value(battery.voltage)
    return Lifeline(held=held, wanted=NIGHTS * _value(load.power) * time)


def _value(number: Measured | None, usual: float = math.nan) -> float:
    return usual if number is None else number.value


def refusal(rig: Rig, load_name: str) -> tuple[Stop, str] | None:
    """A reason to refuse before any solving: a machine that makes nothing, a load that must not be on DC."""
    machine = rig.machine
    if machine is not None and machine.kind in ("series", "induction"):
        return Stop.NO_MACHINE, appliances.MACHINE_REFUSALS[machine.kind]
    joined = hookup(rig, load_name)
    load = joined.load
    if load is None:
        return None
    feeding = joined.load_board or joined.board
    if feeding is not None and feeding.kind == "inverter":
        return None
    verdict = appliances.dc_suitability(load.kind, trigger=load.trigger)
    return (Stop.NOT_ON_DC, verdict.why) if verdict.check == "stop" else None
