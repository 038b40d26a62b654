"""How few watts still count as running, for a load straight on the machine."""

from __future__ import annotations

import pytest
from tests.studies.mend_rigs import lamp_rig

from sparewatt.rig import solve
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import fill


@pytest.mark.parametrize(("share", "runs"), [(0.58, False), (0.62, True), (0.72, True)])
def test_an_appliance_runs_from_six_tenths_of_its_watts(share: float, runs: bool) -> None:
    """A wire lamp of 60 W off the machine is told to run from 36 W on (common practice, no source)."""
    bound = bind(fill(lamp_rig()), "wire lamp", draws=0)
    low, high = 0.5, 30.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        enough = solve.point(bound, 0, middle).p_load > share * 60.0
        low, high = (low, middle) if enough else (middle, high)
    assert solve.point(bound, 0, high).p_load == pytest.approx(share * 60.0, rel=1e-3)
    assert solve.point(bound, 0, high).served is runs
