"""All readings of a rig as batches of the joint fit."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sparewatt.studies import known_machine, known_others
from sparewatt.studies.fit import Fit, Unknown, fit
from sparewatt.studies.known_rig import Bench
from sparewatt.studies.known_rows import Made, Rows
from sparewatt.studies.known_taken import Taken

__all__ = ["EQUATIONS", "batches_of", "joint_fit", "unknowns_of"]

EQUATIONS: dict[str, Callable[[Rows, Made], None]] = {**known_machine.BUILDS, **known_others.BUILDS}


def batches_of(bench: Bench, taken: Sequence[Taken]) -> Made:
    """Every reading that has an equation, with the gains and the unknowns of its own that it brings along."""
    made = Made()
    by_kind: dict[str, list[Taken]] = {}
    for t in taken:
        by_kind.setdefault(t.kind, []).append(t)
    for kind, each in by_kind.items():
        build = EQUATIONS.get(kind)
        if build is not None:
            build(Rows(bench, each), made)
    return made


def unknowns_of(bench: Bench, made: Made) -> list[Unknown]:
    """The constants that these batches touch, then those that belong to single readings."""
    return [bench.unknowns[name] for name in made.names] + made.own


def joint_fit(bench: Bench, made: Made) -> Fit:
    """One fit of all readings."""
    return fit(made.batches, unknowns_of(bench, made), gains=tuple(made.gains.values()))
