"""Happenings of a scene as sentences about the rig."""

from __future__ import annotations

from sparewatt.quantities import render
from sparewatt.rig.motion import Moving
from sparewatt.rig.motion_layout import Event

__all__ = ["sentence_of"]

FUSED = ("machine's run", "run from the board", "battery's run", "run to the load")


def sentence_of(event: Event, moving: Moving, rig: int, value: float) -> str:
    """One located event in plain words."""
    bound = moving.bounds[rig] if rig < len(moving.bounds) and event != Event.FUSE_OPENS else moving.bounds[0]
    board = bound.hookup.board.name if bound.hookup.board is not None else "board"
    load = bound.hookup.load.name if bound.hookup.load is not None else "battery"
    volts = render(value, "V", digits=3)
    whose = "" if moving.rigs == 1 else f" of rig {rig + 1}"
    table = {
        Event.FREEWHEEL_OPENS: f"The wheel{whose} runs on faster than the legs turn: the freewheel lets go.",
        Event.FREEWHEEL_TAKES: f"The legs{whose} catch up and push again.",
        Event.DIODE_CONDUCTS: f"The machine's volts{whose} rise above the bus: current flows.",
        Event.DIODE_BLOCKS: f"The machine's volts{whose} fall below the bus: the diode blocks.",
        Event.BATTERY_DRIVES: f"Nothing blocks: current runs backwards and drives the machine{whose}.",
        Event.SLEEPS: f"The {board}{whose} goes to sleep at {volts}.",
        Event.WAKES: f"The {board}{whose} wakes at {volts}.",
        Event.LIMITED: f"The {board}{whose} takes in all the amps it can.",
        Event.UNLIMITED: f"The {board}{whose} is below its amps limit again.",
        Event.PASSES: f"The {board}{whose} can no longer hold back the volts: they pass straight through at {volts}.",
        Event.HOLDS_AGAIN: f"The {board}{whose} holds its setting again.",
        Event.DROPS_OUT: f"The {board}{whose} has too few volts at its input; its output sags.",
        Event.CLAMP_STARTS: f"The clamp switches in at {volts}.",
        Event.CLAMP_ENDS: "The clamp lets go.",
        Event.LOAD_QUITS: f"The {load} has too few volts and goes off.",
        Event.LOAD_RESTARTS: f"The {load} comes on.",
        Event.FUSE_OPENS: f"The fuse in the {FUSED[rig % 4]} opens.",
        Event.STALLS: f"The rider{whose} is dragged to a stop.",
        Event.MOVES_AGAIN: f"The crank{whose} turns.",
        Event.RESERVE_EMPTY: f"The reserve of the rider{whose} is used up; only steady power is left.",
        Event.OVER_VOLTS: f"The bus{whose} passes {volts}, more than a part on it stands.",
        Event.OVER_LOAD_VOLTS: f"The {load} gets {volts}, more than it stands.",
        Event.FULL_VOLTS: f"The battery reaches its charging volts, {volts}: from here on it takes less and less.",
        Event.BATTERY_FULL: "The battery is full: what still goes in makes gas and heat, not charge.",
        Event.BATTERY_EMPTY: "The battery is empty: its volts fall away.",
        Event.PROTECTS_FULL: f"The pack is full and its protection opens: the bus jumps to {volts}.",
        Event.PROTECTS_EMPTY: "The pack is empty and its protection opens: nothing comes out any more.",
        Event.PROTECTS_AMPS: "The pack's protection opens: too many amps for it.",
        Event.PROTECTION_CLOSES: "The pack's protection closes again.",
    }
    return table[event]
