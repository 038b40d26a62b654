"""A healthy rig is never called ill: what `mend` expects to read is what `match` shows for the same moment."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator

import numpy as np
import pytest
from tests.agreement.rigs import any_rig, known_rigs

from sparewatt.files import Loaded, tried
from sparewatt.language.moment import Moment
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.operating import State, operate
from sparewatt.rig.outcome import Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.guard.findings import put_first
from sparewatt.studies.mend.better import DRAWS, gained, improvements
from sparewatt.studies.mend.causes import mend
from sparewatt.studies.mend.faults import healthy
from sparewatt.studies.mend.fit import Search
from sparewatt.studies.mend.seen import seen_of
from sparewatt.studies.mend.tables import tables_of
from sparewatt.tasks.proving import brought

KNOWN = known_rigs()
RIGS = [pytest.param(loaded, id=name) for name, loaded in KNOWN]
SEEDS = [pytest.param(seed, id=f"seed {seed}") for seed in range(30)]
NEAR = 0.005


def ridden(rig: Loaded | int) -> Iterator[tuple[Filled, Ask, State, Moment]]:
    """Every question of a rig that runs, and what its meters show in the state that `match` answers with."""
    filled = fill((any_rig(rig) if isinstance(rig, int) else rig).rig)
    if filled.rig.neighbour:
        return  # of several rigs on one battery `mend` reads each by its own leads, not by what the others lift
    for load in [x.name for x in filled.rig.load] + (["charge"] if filled.rig.battery is not None else []):
        ask = ask_for(filled.rig, load=load, draws=0)
        if refusal(filled.rig, load) is not None:
            continue
        state = operate(filled, ask)
        at = state.at
        if at is None or state.stop not in (Stop.FOUND, Stop.PINNED):
            continue
        moment = Moment(
            cadence=at.w_crank, volts=at.v_machine, amps=at.i_out, volts_out=at.v_out, gear=at.gear, load=load,
            ridden=ask.duration, effort=ask.effort,
        )  # fmt: skip
        yield filled, ask, state, moment


@pytest.mark.parametrize("rig", RIGS + SEEDS)
def test_a_healthy_rig_reads_as_the_answer_says(rig: Loaded | int) -> None:
    """Speed, volts and amps on both sides, watts of the legs and warmth of the case at the cadence of the answer."""
    for filled, ask, state, moment in ridden(rig):
        tables = tables_of(filled, ask, [moment])
        search = Search(tables, [moment], seen_of([moment], tables), 15.0)
        one = np.zeros((1, 1))
        out = search.outs([healthy()], np.zeros((1, search.p)), one, one, np.zeros((1, 1, 1)), tilted=False)
        at = state.at
        assert at is not None
        shown = {
            "speed": at.w_shaft, "volts": at.v_machine, "amps": at.i_out, "volts_out": at.v_out,
            "amps_out": at.i_board_out, "power": at.p_rider,
        }  # fmt: skip
        for what, value in shown.items():
            assert float(out[what][0, 0, 0]) == pytest.approx(value, rel=NEAR), (ask.load, what)
        assert float(out["heat"][0, 0, 0]) == pytest.approx(state.warmth.case, abs=1.0)


@pytest.mark.parametrize("rig", [*RIGS, *SEEDS[:12]])
def test_readings_of_a_healthy_rig_name_no_fault(rig: Loaded | int) -> None:
    """Readings that are the answer's own numbers: nothing is wrong, and none lies a spread off."""
    for filled, ask, _state, moment in ridden(rig):
        found = mend(filled, [moment], ask=ask, better=False).answer
        assert found.causes[0].key == "normal", (ask.load, found.causes[0].name)
        assert all(abs(sign.z) < 1 for sign in found.signs), ask.load


@pytest.mark.parametrize("rig", [*RIGS, *SEEDS[:12]])
def test_what_would_help_does_so_when_it_is_made(rig: Loaded | int) -> None:
    """Each improvement, its edits made in the file and the file asked again: its watts, and nothing new to put right."""
    loaded = any_rig(rig) if isinstance(rig, int) else rig
    filled = fill(loaded.rig)
    ask = ask_for(filled.rig)
    had = {f.key for f in put_first(filled, dataclasses.replace(ask, draws=DRAWS))}
    for offer in brought(loaded, filled, ask, improvements(filled, ask)):
        now = fill(tried(loaded, offer.edits).rig) if offer.edits else filled
        if offer.edits:
            more = gained(filled, ask, now, ask)
            assert more is not None
            assert float(more[0]) == pytest.approx(offer.watts.mid, rel=0.1), offer.says
        assert {f.key for f in put_first(now, dataclasses.replace(ask, draws=DRAWS))} <= had, offer.says
