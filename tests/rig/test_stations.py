"""Several rigs on one node: who carries what, who is dragged to a stop, and that every section tells the same of it."""

from __future__ import annotations

import dataclasses
from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.circuit.circuits import sources_share_power
from tests.circuit.ngspice import measure
from tests.scenarios.reading import RPM, Edits, rig

from sparewatt.files import read_text
from sparewatt.files.demos import demo_text
from sparewatt.language.script import script_from_words
from sparewatt.parts import Rig
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.motion import channel, play
from sparewatt.rig.motion_layout import Chan, Shared
from sparewatt.rig.operating import State, operate
from sparewatt.rig.outcome import Stop
from sparewatt.rig.stations import Joined, stations_of
from sparewatt.studies.match import match
from sparewatt.studies.scenes.seconds import stage_scene
from sparewatt.studies.shares import shares_of

EVEN = (("bus.lead_resistance", "0.35 ohm"),)
ALIKE = tuple((f"neighbour.{k}.converter.set_voltage", "27.4 V") for k in range(3))


@lru_cache(maxsize=32)
def solved(name: str, edits: Edits = (), draws: int = 0, **ask: float) -> State:
    """A scenario with edits, asked."""
    found = rig(name, edits)
    return operate(fill(found), dataclasses.replace(ask_for(found, **ask), draws=draws))  # type: ignore[arg-type]


def joined(state: State) -> Joined:
    """Its rigs together."""
    assert state.joined is not None
    return state.joined


def amps(state: State) -> list[float]:
    """What each rig is asked at first, nominal."""
    return [float(c.first[0]) for c in joined(state).carriers]


# ---- what a practitioner would accept -------------------------------------------------------------------------------


def test_boards_a_little_apart_drag_one_after_another_to_a_stop() -> None:
    """28.0, 28.3 and 28.6 V behind 0.05 ohm: 0, 0.2 to 0.3 and 6.2 A; the third stalls, and then its load stops the others.

    Source: hand sums of sources behind resistors, (28.6 - u) / 0.05 and so on, at 6.5 A.
    """
    state = solved("alpine_three")
    assert amps(state) == pytest.approx([0.0, 0.25, 6.2], abs=0.06)
    assert [c.order for c in joined(state).carriers] == [3, 2, 1]
    assert state.stop is Stop.UNFAIR
    assert not joined(state).carried[0]


def test_wire_in_the_leads_lets_all_three_hold() -> None:
    """With 0.3 ohm more in each lead 1.3, 2.2 and 3.0 A. Source: the same hand sums at 0.35 ohm."""
    state = solved("alpine_three", EVEN)
    assert amps(state) == pytest.approx([1.3, 2.2, 3.0], abs=0.09)
    assert joined(state).all_hold[0]
    assert joined(state).watts[0] == pytest.approx(182.0, rel=1e-6)
    assert state.stop is Stop.FOUND


def test_bare_machines_on_one_battery_add_what_the_legs_push() -> None:
    """140 W and 60 W on twin rigs: 7.0 and 2.9 A at 61 and 57.5 turns, and the battery takes the sum.

    Source: hand sums at 13.5 V with no drags; the drags of this file take a fifth of an amp from the lighter rider.
    """
    state = solved("twin_riders", (("rider.1.critical_power", "52.5 W"),), effort=140.0)
    one, two = joined(state).carriers
    assert amps(state) == pytest.approx([7.0, 2.9], abs=0.25)
    assert [c.w_hold[0] / RPM for c in (one, two)] == pytest.approx([61.0, 57.5], abs=2.5)
    assert state.found.i_battery[state.gear, 0] == pytest.approx(sum(amps(state)), rel=1e-6)
    shares = shares_of(state)
    assert shares is not None and shares.bare
    assert {row.says for row in shares.rows} == {"adds what the legs push"}


def test_a_load_of_more_watts_than_one_rig() -> None:
    """Four like rigs set alike run a load that one alone cannot."""
    school = read_text(demo_text("schoolyard")).rig
    one = dataclasses.replace(school, neighbour=())
    alone = operate(fill(one), dataclasses.replace(ask_for(one, effort=120.0), draws=0))
    together = _school(effort=120.0)
    assert alone.stop not in (Stop.FOUND, Stop.PINNED)
    assert together.stop is Stop.FOUND
    assert joined(together).watts[0] > 150.0


# ---- laws ---------------------------------------------------------------------------------------------------------------


def test_two_like_rigs_share_equally() -> None:
    """The same board, lead, rider and effort: the same amps and the same cadence."""
    found = rig("alpine_three", (*_screws(28.3, 28.3, 28.3), ("load.0.power", "60 W")))
    twin = dataclasses.replace(found.neighbour[0], name="twin", machine=None, rider="Ana")
    state = operate(
        fill(dataclasses.replace(found, neighbour=(twin,))),
        dataclasses.replace(ask_for(found, effort=120.0), draws=0),
    )
    one, two = joined(state).carriers
    assert one.amps[0] == pytest.approx(two.amps[0], rel=1e-9)
    assert one.w_hold[0] == pytest.approx(two.w_hold[0], rel=1e-9)


def _screws(a: float, b: float, c: float) -> Edits:
    return (
        ("converter.0.set_voltage", f"{a:.9g} V"),
        ("neighbour.0.converter.set_voltage", f"{b:.9g} V"),
        ("neighbour.1.converter.set_voltage", f"{c:.9g} V"),
    )


volts, ohms = st.floats(27.0, 29.0), st.floats(0.02, 0.8)


@settings(max_examples=25)
@given(
    sets=st.tuples(volts, volts, volts),
    leads=st.tuples(ohms, ohms, ohms),
    watts=st.floats(20.0, 220.0),
    limit=st.floats(1.0, 8.0),
)
def test_the_shares_are_what_is_asked(
    sets: tuple[float, float, float], leads: tuple[float, float, float], watts: float, limit: float
) -> None:
    """Whoever is left carries all of it: amps add up at the node, nobody gives more than screw and lead allow."""
    edits = (
        *_screws(*sets),
        ("bus.lead_resistance", f"{leads[0]:.9g} ohm"),
        ("neighbour.0.lead_resistance", f"{leads[1]:.9g} ohm"),
        ("neighbour.1.lead_resistance", f"{leads[2]:.9g} ohm"),
        ("converter.0.set_current", f"{limit:.9g} A"),
        ("load.0.power", f"{watts:.9g} W"),
    )
    found = rig("alpine_three", edits)
    state = operate(fill(found), dataclasses.replace(ask_for(found, effort=120.0), draws=0))
    j = joined(state)
    if j.carried[0]:
        assert j.watts[0] == pytest.approx(watts, rel=1e-5)
    for c, volt in zip(j.carriers, sets, strict=True):
        assert 0 <= c.amps[0] <= min(limit, max((volt - j.volts[0]) / c.station.lead, 0)) * (1 + 1e-6) + 1e-6
        assert c.holds[0] == (c.order == 0)


def test_beside_a_rig_that_gives_nothing_a_rig_is_alone() -> None:
    """Boards set far below add nothing: the first rig stands where it would without them."""
    low = (*_screws(28.0, 15.0, 15.0), ("bus.lead_resistance", "0.001 ohm"), ("load.0.power", "50 W"))
    state = solved("alpine_three", low, effort=120.0)
    found = dataclasses.replace(rig("alpine_three", low), neighbour=())
    alone = operate(fill(found), state.ask)
    assert state.found.w_hold[0, 0] == pytest.approx(alone.found.w_hold[0, 0], rel=1e-4)
    assert state.found.p_rider[0, 0] == pytest.approx(alone.found.p_rider[0, 0], rel=1e-4)


def test_another_order_of_the_rigs_is_the_same_answer() -> None:
    """Neighbours told in another order carry the same."""
    found = rig("alpine_three", EVEN)
    turned = dataclasses.replace(found, neighbour=found.neighbour[::-1])
    ask = dataclasses.replace(ask_for(found), draws=0)
    first, second = (joined(operate(fill(r), ask)).carriers for r in (found, turned))
    for a, b in zip(first, (second[0], second[2], second[1]), strict=True):
        assert a.amps[0] == pytest.approx(b.amps[0], rel=1e-6)
        assert a.p_rider[0] == pytest.approx(b.p_rider[0], rel=1e-6)


@pytest.mark.parametrize("lead", [0.05, 0.35])
def test_a_circuit_simulator_finds_the_same_shares(lead: float) -> None:
    """Three set volts behind leads on a load of steady watts, in an open circuit simulator."""
    edits = (("bus.lead_resistance", f"{lead} ohm"),)
    read = measure(sources_share_power(v_set=(28.0, 28.3, 28.6), r_lead=(lead,) * 3, p_load=182.0))
    state = solved("alpine_three", edits)
    assert amps(state) == pytest.approx([read[f"i_{k}"] for k in (1, 2, 3)], rel=1e-3, abs=0.02)
    assert joined(state).first_volts[0] == pytest.approx(read["v_bus"], rel=1e-4)


# ---- one truth ----------------------------------------------------------------------------------------------------------


def _school(edits: Edits = ALIKE, **ask: float) -> State:
    from sparewatt.files import tried

    found = tried(read_text(demo_text("schoolyard")), edits).rig
    return operate(fill(found), dataclasses.replace(ask_for(found, **ask), draws=0))  # type: ignore[arg-type]


def _moved(filled: Filled, ask: dict[str, object]) -> tuple[list[float], list[float], float]:
    """Watts at the pedals and amps of each rider, and watts of the load, once the moving rigs have come to rest."""
    words = "" if ask["load"] == "charge" else f"with the {ask['load']} on"
    script = script_from_words(filled, words, duration=60.0, **ask)  # type: ignore[arg-type]
    scored = stage_scene(filled, script, runs=0)
    start = dataclasses.replace(scored.start, even=True, tires=False, heats=False)
    n = scored.moving.rigs
    rows = play(
        scored.moving, scored.acts, start, duration=60.0, times=np.array([59.0, 59.5, 60.0]), tolerance=1e-6
    )[0].rows[-1]
    legs = [float(rows[channel(Chan.P_RIDER, n, k)]) for k in range(n)]
    out = [float(rows[channel(Chan.AMPS_OUT, n, k)]) for k in range(n)]
    return legs, out, float(rows[channel(Shared.P_LOAD, n)])


@pytest.mark.parametrize("which", ["alpine", "school", "twins"])
def test_the_moving_rigs_come_to_rest_on_the_joint_state(which: str) -> None:
    """Watts at the pedals and amps of every rider within 0.5 % of where the rigs in motion settle."""
    found: Rig
    if which == "school":
        found = _school().filled.rig
    else:
        found = rig(*{"alpine": ("alpine_three", EVEN), "twins": ("twin_riders", ())}[which])
    filled = fill(found)
    ask = dataclasses.replace(ask_for(found, effort=120.0), draws=0)
    state = operate(filled, dataclasses.replace(ask, duration=60.0))
    legs, out, _load = _moved(filled, {"effort": 120.0, "load": ask.load})
    for c, watts, flows in zip(joined(state).carriers, legs, out, strict=True):
        assert c.p_rider[0] == pytest.approx(watts, rel=5e-3), c.station.name
        assert c.amps[0] == pytest.approx(flows, rel=5e-3, abs=5e-3), c.station.name


def test_match_tells_of_the_joint_state() -> None:
    """The watts of a rider in the shares, in the chain and in the joint state are one number."""
    found = rig("alpine_three", EVEN)
    ask = dataclasses.replace(ask_for(found), draws=0)
    state = operate(fill(found), ask)
    answer = match(found, ask, nearest=False)
    assert answer.shares is not None and answer.point is not None
    for row, c in zip(answer.shares.rows, joined(state).carriers, strict=True):
        assert row.p_rider == pytest.approx(c.p_rider[0], rel=1e-9)
    assert answer.point.p_rider == pytest.approx(answer.shares.rows[0].p_rider, rel=1e-3)


@pytest.mark.parametrize("rider", ["Ana", "Bo", "Cem"])
def test_whoever_asks_gets_the_own_rig(rider: str) -> None:
    """A rider that the file puts on another rig is solved on that one, with its share."""
    state = solved("alpine_three", EVEN, rider=rider, effort=160.0)  # type: ignore[arg-type]
    me = joined(state).me
    assert me.station.rider == rider
    assert state.found.p_rider[state.gear, 0] == pytest.approx(me.p_rider[0], rel=1e-3)
    machine = next(s for s in stations_of(state.filled) if s.rider == rider).rig.machine
    assert state.bound.rig.machine == machine
