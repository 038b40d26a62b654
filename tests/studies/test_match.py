"""The study behind "what ratio, volts and settings": what each part of its answer has to agree with."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.scenarios.reading import RANK, RPM, Edits, asked, gear, holds, rig, tips

from sparewatt.errors import BadRequest
from sparewatt.rig import solve
from sparewatt.rig.asking import ask_for
from sparewatt.rig.bind import bind
from sparewatt.rig.edges import edge_watts
from sparewatt.rig.fill import fill
from sparewatt.rig.operating import operate
from sparewatt.rig.outcome import Mode, Stop
from sparewatt.studies.answers import VERDICTS, Room
from sparewatt.studies.match import match

BOTH: Edits = (
    ("converter.0.kind", "buck_boost"),
    ("converter.0.drop", "0 V"),
    ("converter.0.input_max", "80 V"),
)


def load_of(watts: float) -> Edits:
    """The clinic's box at so many watts, on a board that steps both ways."""
    return (*BOTH, ("load.0.power", f"{watts:.9g} W +/- 0.1 W"))


@settings(max_examples=20)
@given(effort=st.floats(110.0, 350.0), share=st.floats(0.3, 0.97))
def test_below_the_edge_it_holds_and_above_it_stalls(effort: float, share: float) -> None:
    """The edge is what it says: a load a little under it has a holding point, one a little over it has none.

    A load far under it is held too, unless the volts of a slow crank do not wake the board.
    """
    filled = fill(rig("clinic_store", BOTH))
    ask = ask_for(filled.rig, effort=effort, draws=0)
    bound = bind(filled, ask.load, ask.rider, effort=effort, draws=0)
    edge = float(edge_watts(bound, 0, effort)[0][0])
    for watts, runs in ((edge * share, True), (edge * 1.03, False)):
        there = bind(fill(rig("clinic_store", load_of(watts))), ask.load, ask.rider, effort=effort, draws=0)
        found = solve.crossings(there, effort)[0]
        assert bool(np.isfinite(found.w_hold[0, 0]) and found.served[0, 0]) == runs


@pytest.mark.parametrize(
    ("name", "effort"), [("camp_laptop", 105.0), ("barn_drill", 300.0), ("clinic_store", 250.0)]
)
def test_the_picture_shows_where_the_lines_meet(name: str, effort: float) -> None:
    """Rider and load line meet at the solid ring (within a turn), and between the rings the rider has the upper hand."""
    a = asked(name, effort=effort)
    p = a.picture
    gap = p.rider - p.load
    signs = np.flatnonzero(np.diff(np.sign(gap[np.isfinite(gap)])))
    crossing = p.cadence[np.isfinite(gap)][signs] / RPM
    assert crossing[-1] == pytest.approx(holds(a)[-1], abs=1.2)
    if tips(a):
        middle = 0.5 * (tips(a)[-1] + holds(a)[-1]) * RPM
        assert np.interp(middle, p.cadence, p.rider) > np.interp(middle, p.cadence, p.load)
    # at half the top cadence the nominal line is the highest of all the draws, by a little
    assert np.all(p.rider_low <= p.rider + 1e-9)
    assert np.all(p.rider <= p.rider_high * 1.02)


def test_the_rider_line_has_its_worth_at_half_its_top_cadence() -> None:
    """An effort worth 150 W gives 150 W at half the top cadence and nothing at the top."""
    p = asked("clinic_store", effort=150.0).picture
    watts = p.rider * p.cadence
    assert watts.max() == pytest.approx(150.0, rel=1e-3)
    assert p.cadence[np.argmax(watts)] == pytest.approx(65 * RPM, rel=0.02)
    assert p.rider[-1] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", ["camp_laptop", "garden_pump", "hub_relay", "stilt_house", "barn_drill"])
def test_the_room_agrees_with_the_solver(name: str) -> None:
    """Cells asleep or chattering are asleep or chattering there, and the room holds the best gear's holding point."""
    a = asked(name)
    room = a.room
    assert room.cells.shape == (len(room.gears), room.cadence.size)
    assert set(np.unique(room.cells)) <= set(range(len(Room.CELLS)))
    bound = operate(rig(name), a.ask).bound
    modes = solve.lines(bound, room.cadence)[1, :, 0]
    asleep = room.cells == Room.CELLS.index("asleep")
    assert np.all(modes[asleep] == Mode.ASLEEP)
    assert room.chosen is not None
    chosen_gear, chosen_cadence = room.chosen
    assert room.gears[chosen_gear] == a.gear
    assert room.cadence[chosen_cadence] == pytest.approx(a.hold.mid, abs=2.6 * RPM)


def test_an_empty_room_names_two_limits() -> None:
    """Where nothing can be ridden, the two limits that close it are named."""
    a = asked("clinic_store", (("load.0.power", "400 W +/- 1 W"),))
    assert not (a.room.cells == 0).any()
    assert a.room.closing is not None
    assert set(a.room.closing) <= set(Room.CELLS)


def test_the_room_shrinks_with_the_load() -> None:
    """More load never makes more cells rideable."""
    counts = [n for _share, n in asked("clinic_store").room.by_load]
    assert counts == sorted(counts, reverse=True)


def test_a_gear_that_is_asked_for_is_the_one_reported() -> None:
    """And one that is not there is refused, with the ones there are."""
    assert asked("garden_pump", gear="44/22").gear == "44/22"
    assert asked("garden_pump", gear="44/14").gear == "44/14"
    with pytest.raises(BadRequest, match="44/14"):
        asked("garden_pump", gear="52/11")


def test_a_load_or_rider_that_is_not_there_is_refused_by_name() -> None:
    """With the names that are."""
    with pytest.raises(BadRequest, match="corded drill"):
        asked("barn_drill", load="toaster")
    with pytest.raises(BadRequest, match="Marek"):
        asked("barn_drill", rider="Nobody")


def test_a_cadence_that_is_asked_for_is_looked_at() -> None:
    """The point is there, and the torque at it is the load line's."""
    a = asked("camp_laptop", cadence=80 * RPM)
    assert a.point is not None
    assert a.point.w_crank == pytest.approx(80 * RPM)
    line = np.interp(80 * RPM, a.picture.cadence, a.picture.load)
    assert a.point.torque_crank == pytest.approx(line, rel=5e-3)


def test_each_gear_has_its_marks() -> None:
    """Ceiling is open volts at 120 turns, a higher ratio wakes at a slower crank, and exactly one row is best."""
    a = asked("garden_pump")
    rows = {row.gear: row for row in a.gears}
    high, low = rows["44/14"], rows["44/22"]
    assert high.ceiling == pytest.approx(low.ceiling * 22 / 14, rel=1e-6)
    assert high.wakes < low.wakes
    assert sum(row.best for row in a.gears) == 1
    assert gear(a).best


def test_over_speed_is_named_in_the_gear_that_reaches_it() -> None:
    """0.40 V*s/rad at N 12.6 passes 75 V at 143 turns; at N 8 not below 150."""
    rows = {row.gear: row for row in asked("garden_pump").gears}
    assert rows["44/14"].breaks / RPM == pytest.approx(75 / (0.40 * 12.571) / RPM, rel=0.01)
    assert rows["44/14"].breaks_what == "pump board, input"
    assert math.isnan(rows["44/22"].breaks)


@pytest.mark.parametrize("effort", [60.0, 100.0, 140.0, 200.0, 320.0])
def test_verdicts_are_the_three_words(effort: float) -> None:
    """Whatever is asked."""
    for name in ("stilt_house", "clinic_store", "camp_laptop", "hub_relay"):
        a = asked(name, effort=effort)
        assert a.verdict in VERDICTS
        assert isinstance(a.stop, Stop)
        assert 0.0 <= a.chance <= 1.0


def test_a_longer_ride_is_never_an_easier_one() -> None:
    """The same effort asked for longer never gets a better word."""
    words = [
        RANK[asked("stilt_house", effort=150.0, duration=t).verdict]
        for t in (600.0, 1800.0, 3600.0, 4 * 3600.0)
    ]
    assert words == sorted(words, reverse=True)
    assert words[0] > words[-1]


def test_settings_come_in_the_order_they_are_done() -> None:
    """Gear, volts, amps, pace, and the stop mark of the battery last."""
    what = [s.what for s in asked("hub_relay").settings]
    order = ["gear", "volts screw", "amps screw", "pace", "stop charging"]
    places = [next(k for k, line in enumerate(what) if word in line) for word in order]
    assert places == sorted(places)


def test_the_amps_screw_stays_below_what_tips() -> None:
    """It is never set above what legs, battery or board allow."""
    a = asked("hub_relay", (("converter.0.set_current", "12 A"),))
    screw = next(s for s in a.settings if "amps screw" in s.what)
    assert screw.value <= 10.0 + 1e-9
    assert screw.value * 13.4 < a.edges.legs


def test_unknowns_are_ranked_and_can_be_measured() -> None:
    """Largest share first, no more than the whole, and what is known only roughly comes first."""
    found = asked("stilt_house").unknowns
    shares = [u.share for u in found]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 1.0 + 1e-9
    assert found[0].measure
    plate = asked("stilt_house", (("machine.emf_constant", ""), ("machine.resistance", ""))).unknowns
    assert plate[0].key.startswith("machine.")


def test_measuring_the_first_unknown_narrows_the_answer_most() -> None:
    """Making the first of them well known narrows the band more than making a later one well known."""
    friction, ohms = ("machine.friction", "0.05 N*m +/- 0.02"), ("machine.resistance", "0.25 ohm +/- 0.04")

    def width(*edits: tuple[str, str]) -> float:
        band = asked("stilt_house", edits, effort=100.0).delivered
        return band.high - band.low

    keys = [u.key for u in asked("stilt_house", (friction, ohms), effort=100.0).unknowns]
    assert keys[0] == "machine.friction"
    assert keys.index("machine.resistance") > 0
    better_friction = width(("machine.friction", "0.05 N*m +/- 0.001"), ohms)
    better_ohms = width(friction, ("machine.resistance", "0.25 ohm +/- 0.002"))
    assert better_friction < 0.8 * better_ohms
    assert better_ohms <= width(friction, ohms) * 1.03  # the draws are a sample


def test_hot_copper_is_reported() -> None:
    """The longer the ride, the hotter the winding, up to what it settles at."""
    temperatures = [asked("low_volts", effort=195.0, duration=t).hot for t in (60.0, 600.0, 3600.0)]
    after = [t[0] for t in temperatures]
    assert after == sorted(after)
    assert all(t[0] <= t[1] + 1.0 for t in temperatures)


def test_leaving_out_the_search_leaves_the_rest() -> None:
    """Without the nearest yes everything else is the same."""
    found = rig("clinic_store")
    ask = ask_for(found, draws=64)
    a, b = match(found, ask, nearest=True), match(found, ask, nearest=False)
    assert a.nearest_yes
    assert b.nearest_yes == ()
    assert (a.verdict, a.stop, a.spare, a.hold) == (b.verdict, b.stop, b.spare, b.hold) or math.isnan(
        a.hold.mid
    )
