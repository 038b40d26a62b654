"""What is built today stands on the heap's list as `match` tells it, and nothing worse stands above it."""

from __future__ import annotations

import pytest
from tests.agreement.rigs import any_rig, known_rigs

from sparewatt.files import Loaded
from sparewatt.parts import Rig
from sparewatt.physics import appliances
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.hookup import hookup
from sparewatt.rig.refusals import refusal
from sparewatt.studies.heap import heap
from sparewatt.studies.judging import RANK
from sparewatt.studies.match import match

RIGS = [pytest.param(loaded, id=name) for name, loaded in known_rigs()] + [
    pytest.param(seed, id=f"seed {seed}") for seed in range(12)
]


def rideable(rig: Rig) -> bool:
    """Whether its own machine makes volts when legs turn it."""
    return rig.machine is not None and rig.machine.kind not in appliances.MACHINE_REFUSALS


@pytest.mark.parametrize("rig", RIGS)
def test_what_is_built_is_told_as_match_tells_it(rig: Loaded | int) -> None:
    """The same word, cadence and watts, bands included, for the rig's own question."""
    written = (any_rig(rig) if isinstance(rig, int) else rig).rig
    filled = fill(written)
    ask = ask_for(filled.rig)
    if not rideable(filled.rig) or refusal(filled.rig, ask.load) is not None:
        return
    told = match(filled, ask, nearest=False)
    board = hookup(filled.rig, ask.load).board
    rows = heap(written).combinations
    name = board.name if board else "no board"
    ran = str((told.hold, told.delivered))  # a band of nothing is like itself so
    same = [n for n, row in enumerate(rows) if row.board == name and str((row.hold, row.delivered)) == ran]
    assert same, [(row.board, row.hold, row.delivered) for row in rows]
    own = rows[same[0]]
    assert (own.verdict, own.gear) == (told.verdict, told.gear)
    assert all(RANK[row.verdict] >= RANK[own.verdict] for row in rows[: same[0]])
