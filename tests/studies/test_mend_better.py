"""What would help most: every offer, written into the rig file and solved again, brings what it says."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from tests.studies.mend_rigs import hut

from sparewatt.files import demo_text, read_text, tried
from sparewatt.parts import Diode, Machine, Measured, Prices, Wire
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.fill import fill
from sparewatt.rig.operating import operate
from sparewatt.rig.outcome import Mode
from sparewatt.studies.mend.better import HOUR_COINS, improvements
from sparewatt.studies.tries import Try

DEMOS = ("skerry", "cellar", "schoolyard")


def delivered(filled, ask: Ask) -> float:  # type: ignore[no-untyped-def]
    """Watts into battery and load of the nominal rig, or the most that runs where a load or a screw sets the watts."""
    s = operate(filled, dataclasses.replace(ask, draws=0, cadence=None))
    g = s.gear
    if s.bound.hookup.battery is None or int(s.found.mode[g, 0]) == Mode.REGULATES:
        return float(edge_watts(s.bound, g, ask.effort)[0][0])
    i = float(s.found.i_battery[g, 0])
    return (float(s.found.v_out[g, 0]) - i * float(s.bound.extras["r_battery_wire"][0])) * i + float(
        s.found.p_load[g, 0]
    )


@pytest.mark.parametrize(
    "name", DEMOS[:2]
)  # the yard's riders do not share: what cures that is for `match` to say
def test_each_offer_written_into_the_file_brings_its_watts(name: str) -> None:
    """The edits of an offer, made in the rig file's own text and read again, give the watts it promised."""
    loaded = read_text(demo_text(name))
    ask = ask_for(loaded.rig)
    offers = improvements(loaded.rig, ask)
    assert offers
    before = delivered(fill(loaded.rig), ask)
    for offer in offers:
        changed = tried(loaded, offer.edits)
        gained = delivered(fill(changed.rig), ask) - before
        assert gained == pytest.approx(offer.watts.mid, rel=0.06, abs=0.15), offer


@pytest.mark.parametrize("name", DEMOS)
def test_offers_stand_by_watts_for_coin_and_work(name: str) -> None:
    """The first brings most watts for its coins and hours; what costs nothing has no end of watts for a coin."""
    rig = read_text(demo_text(name)).rig
    offers = improvements(rig, ask_for(rig))
    worth = [o.watts.mid / (0.5 + o.cost + HOUR_COINS * o.work / 3600) for o in offers]
    assert worth == sorted(worth, reverse=True)
    for o in offers:
        assert o.watts.mid > 0
        assert o.per_coin == (pytest.approx(o.watts.mid / o.cost) if o.cost > 0 else math.inf)
        assert o.per_hour == pytest.approx(o.watts.mid / (o.work / 3600))


def test_the_rigs_own_prices_count() -> None:
    """With dear pulleys a pulley stands further back, and its price is the file's."""
    rig = hut(
        wire=(
            Wire(
                run="machine",
                length=Measured(6.0),
                size=Measured(0.75e-6),
                contact_resistance=Measured(0.03, 0.01),
            ),
        )
    )
    ask = ask_for(rig, effort=110.0)
    plain = {o.key: o for o in improvements(rig, ask, most=30)}
    assert "wire machine" in plain
    assert plain["wire machine"].cost == pytest.approx(12.0)  # 6 m there and back at 1 coin a metre
    own = dataclasses.replace(rig, prices=Prices(wire_per_metre=Measured(3.0)))
    dear = {o.key: o for o in improvements(own, ask, most=30)}
    assert dear["wire machine"].cost == pytest.approx(36.0)


def test_thin_wire_and_an_old_diode_are_offered_better_ones() -> None:
    """6 m of 0.75 mm2 and a silicon diode on a 12 V rig: thicker wire and either better diode bring watts.

    By hand: 12 m of 0.75 mm2 at 0.0175 ohm*mm2/m is 0.28 ohm; at 4 A halving it gives back 0.56 V, about 2 W.
    """
    rig = hut(
        diode=Diode(kind="silicon"),
        wire=(
            Wire(
                run="machine",
                length=Measured(6.0),
                size=Measured(0.75e-6),
                contact_resistance=Measured(0.01, 0.003),
            ),
        ),
    )
    offers = {o.key: o for o in improvements(rig, ask_for(rig, effort=110.0), most=30)}
    assert offers["wire machine"].watts.mid == pytest.approx(2.2, abs=0.8)
    assert offers["diode ideal"].watts.mid > offers["diode schottky"].watts.mid > 0.5


def test_a_machine_that_makes_nothing_gets_no_offers() -> None:
    """Where the machine is refused, nothing is offered for it."""
    rig = hut(machine=Machine(kind="induction"))
    assert improvements(rig, Ask(rider="Ansa", load="charge", gear=None, effort=100.0, duration=3600.0)) == ()


def test_the_same_draws_go_with_a_changed_size() -> None:
    """A pulley that is changed keeps the spread of the old one as a share, so that bands are of the change alone."""
    from sparewatt.studies.mend.better import _same_spread

    filled = fill(hut())
    stage = filled.rig.stage[1]
    bare = dataclasses.replace(stage, driven_diameter=Measured(0.05, 0.0, "computed"))
    rig = dataclasses.replace(filled.rig, stage=(filled.rig.stage[0], bare))
    attempt = Try(kind="pulley", says="", rig=rig, ask=ask_for(rig), edits=(), cost=1.0, size=0.1)
    now = _same_spread(filled.rig, attempt).stage[1].driven_diameter
    assert now is not None
    assert now.sd == pytest.approx(0.0004 / 0.040 * 0.05)
    offers = improvements(hut(), ask_for(hut()), most=30)
    press = next(o for o in offers if o.key == "press 1")
    assert 0 < press.watts.low < press.watts.mid < press.watts.high
    assert np.isfinite([o.watts.low for o in offers]).all()
