"""All readings of a rig as batches of the joint fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sparewatt.studies.bench import known_machine, known_others, known_rides
from sparewatt.studies.bench.known_rig import THREE, Bench
from sparewatt.studies.bench.known_rows import Made, Rows
from sparewatt.studies.bench.known_taken import Taken

__all__ = ["EQUATIONS", "batches_of", "why_silent"]

WITHOUT_MAGNETS = ("series", "induction")
# Readings that say something whatever the machine is.
NOT_OF_MACHINE = (
    "board_power", "board_idle", "board_sleeps", "board_wakes", "board_set", "board_limit", "battery_dip",
    "battery_run", "battery_rest", "hand_turns", "same_battery",
)  # fmt: skip
NOT_BEHIND_BRIDGE = ("run_free", "locked_volts", "lever_torque")
EQUATIONS: dict[str, Callable[[Rows, Made], None]] = {
    **known_machine.BUILDS,
    **known_others.BUILDS,
    **known_rides.BUILDS,
}


def why_silent(bench: Bench, kind: str) -> str:
    """Why a kind of reading says nothing on this machine; "" where it does."""
    if bench.machine.kind in WITHOUT_MAGNETS and kind not in NOT_OF_MACHINE:
        return "this equation is for machines with magnets, and this one has none"
    if bench.machine.kind in THREE and kind in NOT_BEHIND_BRIDGE:
        return "a bridge lets no current into a three-phase machine, so it cannot be read this way"
    return ""


def batches_of(bench: Bench, taken: Sequence[Taken]) -> Made:
    """Every reading that has an equation, with the gains and the unknowns of its own that it brings along."""
    made = Made()
    taken = [t for t in taken if not why_silent(bench, t.kind)]
    by_kind: dict[str, list[Taken]] = {}
    for t in taken:
        by_kind.setdefault(t.kind, []).append(t)
    for kind, each in by_kind.items():
        build = EQUATIONS.get(kind)
        if build is not None:
            build(Rows(bench, each), made)
    return made
