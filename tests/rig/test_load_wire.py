"""The wire to a load: what it keeps, what the load has left, and that the chain, the map and the motion agree on it."""

from __future__ import annotations

import numpy as np
import pytest

from sparewatt.parts import Battery, Diode, Load, Machine, Ride, Rider, Rig, Stage, Wire
from sparewatt.physics import wire
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import Filled, exact, fill
from sparewatt.rig.motion import Start, bind_motion, channel, play
from sparewatt.rig.motion_layout import Act, Shared
from sparewatt.rig.solve import chain, point

LENGTH, AREA, CONTACT = 12.0, 2.5e-6, 0.01


def _filled(kind: str, *, stored: bool, wired: bool = True) -> Filled:
    runs = (Wire(run="load", length=exact(LENGTH), size=exact(AREA), contact_resistance=exact(CONTACT)),)
    return fill(
        Rig(
            name="orchard",
            rider=(Rider(name="you"),),
            stage=(Stage(kind="chain", driver_teeth=(42,), driven_teeth=(18,)), Stage(kind="direct", ratio=exact(12.0))),
            machine=Machine(emf_constant=exact(0.075), resistance=exact(0.25)),
            diode=Diode(kind="schottky"),
            battery=Battery(voltage=exact(12.0), capacity=exact(36e4), chemistry="agm") if stored else None,
            load=(Load(name="it", kind=kind, voltage=exact(12.0), power=exact(48.0)),),
            wire=runs if wired else (),
            ride=Ride(),
        )
    )  # fmt: skip


def _ohms() -> float:
    return float(2 * wire.conductor_resistance(length=LENGTH, area=AREA)) + CONTACT


@pytest.mark.parametrize("kind", ["heater", "electronics", "lamp"])
@pytest.mark.parametrize("stored", [True, False])
def test_ohms_law_along_the_wire(kind: str, stored: bool) -> None:
    """Watts ahead of the wire less amps squared times ohms reach the load; the wire's link says so. 12 m of 2.5 mm2 there
    and back keep 0.17 ohm of copper (IEC 60228's ohms at 20 degC, resistivity of copper by hand), some 5 % of 48 W."""
    bound = bind(_filled(kind, stored=stored), "it", draws=0)
    at = point(bound, 0, 7.5)
    links = {link.key: link for link in chain(bound, at)}
    lead, load = links["load wire"], links["load"]
    kept = lead.p_in - lead.p_out
    amps = lead.p_in / at.v_out
    assert 0.13 < _ohms() < 0.19
    assert kept == pytest.approx(_ohms() * amps**2, rel=0.12 if kind == "electronics" else 1e-9)
    assert lead.p_out == pytest.approx(load.p_in, rel=1e-9)
    assert load.p_in == pytest.approx(at.p_load, rel=1e-9)
    assert load.volts == pytest.approx(at.v_out - _ohms() * amps, abs=2e-3 * at.v_out)
    if kind == "heater":
        r = 12.0**2 / 48.0
        assert at.p_load == pytest.approx((at.v_out / (r + _ohms())) ** 2 * r, rel=1e-9)
    if kind == "electronics":
        assert at.p_load == pytest.approx(48.0, rel=1e-9)


@pytest.mark.parametrize("kind", ["heater", "electronics", "lamp"])
def test_no_named_wire_keeps_nothing(kind: str) -> None:
    """Where the file names no wire to the load, the chain has none, and all watts at the output are the load's."""
    bound = bind(_filled(kind, stored=True, wired=False), "it", draws=0)
    at = point(bound, 0, 7.5)
    assert "load wire" not in {link.key for link in chain(bound, at)}
    amps = (
        bound.extras["load_a"][0]
        + bound.extras["load_g"][0] * at.v_out
        + bound.extras["load_p"][0] / at.v_out
    )
    assert at.p_load == pytest.approx(at.v_out * amps, rel=1e-12)


@pytest.mark.parametrize("kind", ["heater", "electronics", "lamp"])
def test_the_motion_brings_as_many_watts_to_the_load(kind: str) -> None:
    """The load on the battery alone: watts at the load are those ahead of the wire less what it keeps."""
    filled = _filled(kind, stored=True)
    moving = bind_motion(filled, bind(filled, "it", draws=0))
    acts = [(0.0, Act.STOP, 0, 0.0), (0.5, Act.ON, 0, 0.0)]
    (done,) = play(moving, acts, Start(want=50.0), duration=20.0, times=np.array([0.0, 20.0]))
    u, i = done.rows[-1, channel(Shared.V_OUT)], -done.rows[-1, channel(Shared.AMPS_BATTERY)]
    assert done.rows[-1, channel(Shared.P_LOAD)] == pytest.approx(
        u * i - _ohms() * i * i, rel=0.01 if kind == "electronics" else 1e-3
    )
