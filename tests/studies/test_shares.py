"""Several rigs on one bus: amps add up, the higher screw carries more, resistance evens out, limits hold."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.scenarios.reading import Edits, asked, rig

from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.rig.operating import operate
from sparewatt.studies.answers import Shares
from sparewatt.studies.shares import shares_of


def shared(edits: Edits = (), *, name: str = "alpine_three", **ask: float) -> Shares:
    """How the rigs of a file share."""
    found = rig(name, edits)
    shares = shares_of(operate(fill(found), ask_for(found, **ask)))
    assert shares is not None
    return shares


def screws(a: float, b: float, c: float) -> Edits:
    """Set volts of the three boards."""
    return (
        ("converter.0.set_voltage", f"{a:.9g} V"),
        ("neighbour.0.converter.set_voltage", f"{b:.9g} V"),
        ("neighbour.1.converter.set_voltage", f"{c:.9g} V"),
    )


volts = st.floats(27.5, 29.0)


@settings(max_examples=15)
@given(a=volts, b=volts, c=volts, watts=st.floats(30.0, 250.0))
def test_amps_add_up_and_follow_the_screws(a: float, b: float, c: float, watts: float) -> None:
    """Kirchhoff: the amps of all boards are what the bus takes; nobody gives negative; a higher screw never gives less."""
    s = shared((*screws(a, b, c), ("load.0.power", f"{watts:.9g} W")))
    amps = np.array([row.amps.mid for row in s.rows])
    assert amps.sum() == pytest.approx(s.wanted, rel=1e-6)
    assert np.all(amps >= 0)
    order = np.argsort([a, b, c])
    assert np.all(np.diff(amps[order]) >= -1e-9)
    assert s.bus_volts <= max(a, b, c)


@settings(max_examples=15)
@given(a=volts, b=volts, c=volts)
def test_the_fair_resistance_is_fair(a: float, b: float, c: float) -> None:
    """With it in every lead nobody differs from the mean by more than 40 % of it; without need it is nothing."""
    s = shared(screws(a, b, c))
    fair = np.array([row.amps.mid for row in s.fair_rows])
    mean = fair.mean()
    assert np.max(np.abs(fair - mean)) / mean <= 0.4 + 1e-6
    if s.fair_resistance == 0:
        assert [r.amps.mid for r in s.rows] == pytest.approx([r.amps.mid for r in s.fair_rows])
    assert s.wire_length == pytest.approx(s.fair_resistance * 0.35 / (2 * 0.01724), rel=0.02)


def test_more_resistance_is_more_even() -> None:
    """The spread between boards falls as the leads get longer."""
    spreads = []
    for ohms in (0.05, 0.15, 0.35, 0.8):
        amps = [r.amps.mid for r in shared((("bus.lead_resistance", f"{ohms} ohm"),)).rows]
        spreads.append(max(amps) - min(amps))
    assert spreads == sorted(spreads, reverse=True)


def test_amps_limits_share_without_resistance() -> None:
    """Each board at its limit gives that and no more, and then the wire is not needed."""
    s = shared((("converter.0.set_current", "2.21 A"),))
    assert all(row.amps.mid <= 2.21 + 1e-9 for row in s.rows)
    assert sum(row.amps.mid for row in s.rows) == pytest.approx(s.wanted, rel=0.01)


def test_the_crushed_rider_is_told() -> None:
    """Rows that do not hold say why, rows that hold do not."""
    rows = shared().rows
    assert "dragged to a stop" in rows[2].says
    assert "dragged" not in rows[0].says
    assert [r.rider for r in rows] == ["Ana", "Bo", "Cem"]


def test_a_rig_alone_has_nothing_to_share() -> None:
    """Match leaves the section out."""
    assert asked("camp_laptop").shares is None


def test_like_rigs_on_one_battery_add_their_amps() -> None:
    """Bare machines on one battery: no screws, no resistor, the sum is what flows."""
    s = shared(name="twin_riders", effort=140.0)
    assert s.wanted == pytest.approx(sum(row.amps.mid for row in s.rows), rel=1e-9)
    assert s.fair_resistance == 0.0
    assert all(row.holds for row in s.rows)
