"""Turns of drives as published, asked for through a rig: what teeth, diameters and creep make of a crank's speed."""

from __future__ import annotations

import math

import pytest

from sparewatt.parts import Measured, Rider, Rig, Stage
from sparewatt.rig.bind_drive import bind_drive
from sparewatt.rig.columns import Columns
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import fill

COVERS = ["B01", "C05", "C06"]

KHURMI = "Khurmi & Gupta, Theory of Machines, 14th ed. 2009, Ex 11.1 p 333"


def exact(value: float) -> Measured:
    """A number without doubt."""
    return Measured(value, 0.0, "measured")


def turns(*stages: Stage) -> float:
    """Turns of the last shaft for each turn of the crank."""
    rig = fill(Rig(name="drive", rider=(Rider(name="Ansa"),), stage=stages)).rig
    ratio = bind_drive(rig, Columns(Draws(2, 1)))[1]
    return float(ratio[0, 0])


def belt(driver: float, driven: float, creep: float) -> Stage:
    """A flat belt between two pulleys."""
    return Stage(
        kind="flat_belt", driver_diameter=exact(driver), driven_diameter=exact(driven), creep=exact(creep)
    )


@pytest.mark.parametrize(("creep", "rpm"), [(0.0, 1500.0), (0.02, 1440.6)])
def test_two_belts_to_a_dynamo(creep: float, rpm: float) -> None:
    """B01: 150 rpm over 750/450 and 900/150 mm: 1500 rpm, 1440.6 with 2 % slip each, 0.05 %."""
    got = 150 * turns(belt(0.750, 0.450, creep), belt(0.900, 0.150, creep))
    assert got == pytest.approx(rpm, rel=5e-4), KHURMI


def test_development() -> None:
    """C05: 48/16 and 2.111 m round make 6.333 m a turn (definition), 0.1 %."""
    chain = Stage(kind="chain", driver_teeth=(48,), driven_teeth=(16,))
    assert turns(chain) * 2.111 == pytest.approx(6.333, rel=1e-3)


def test_step_up_by_a_roller() -> None:
    """C06: 60 rpm, 48/16, a wheel of 672 mm on 30 mm, no creep: 4032 rpm (definition), 0.1 %."""
    chain = Stage(kind="chain", driver_teeth=(48,), driven_teeth=(16,))
    roller = Stage(
        kind="roller", driver_diameter=exact(0.672), driven_diameter=exact(0.030), creep=exact(0.0)
    )
    assert 60 * turns(chain, roller) == pytest.approx(4032, rel=1e-3)
    assert math.isclose(turns(chain), 3.0)
