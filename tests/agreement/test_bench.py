"""The bench takes for likely what the answer of the same ride shows."""

from __future__ import annotations

import pytest
from tests.agreement.test_mend import RIGS, SEEDS, ridden

from sparewatt.files import Loaded
from sparewatt.studies.bench.procedures import for_rig, guides
from sparewatt.studies.bench.procedures_expected import expected
from sparewatt.studies.bench.reading_kinds import KINDS


@pytest.mark.parametrize("rig", RIGS + SEEDS)
def test_the_answers_own_numbers_are_likely_readings(rig: Loaded | int) -> None:
    """Cadence, speed, volts, amps and warmth of each answer lie in the range that a riding procedure expects."""
    keys = {value.what: value.key for value in KINDS["riding"].values}
    riding = [one for one in guides() if "riding" in one.procedure.readings]
    for filled, ask, state, _moment in ridden(rig):
        at = state.at
        assert at is not None
        shown = {
            "cadence": at.w_crank, "speed": at.w_shaft, "volts": at.v_machine, "amps": at.i_out, "volts_out": at.v_out,
            "amps_out": at.i_board_out, "machine_heat": state.warmth.case,
        }  # fmt: skip
        for one in riding:
            spans = expected(filled, for_rig(one, filled))
            for what, value in shown.items():
                low, high = spans.get(keys[what], (value, value))
                assert low <= value <= high, (ask.load, one.procedure.key, what)
