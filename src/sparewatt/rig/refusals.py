"""Reasons to refuse before any solving: a machine that makes nothing, a load that must not be on direct current."""

from __future__ import annotations

from sparewatt.parts import Rig
from sparewatt.physics import appliances
from sparewatt.rig.hookup import hookup
from sparewatt.rig.outcome import Stop

__all__ = ["refusal"]


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
