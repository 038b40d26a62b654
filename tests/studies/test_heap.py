"""The heap: plates judged against published figures and pencil sums, refusals, ranks, and combinations that were solved."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.studies.guard_rigs import AH, RPM, clean_rig, clinic, m

from sparewatt.parts import Battery, Converter, Machine, Measured, Neighbour
from sparewatt.studies.heap import POWERS, heap, judge_plate

WALKING = Machine(
    name="walking-machine motor",
    plate_voltage=m(130.0),
    plate_current=m(14.0),
    plate_speed=m(4000 * RPM),
    plate_power=Measured(1865.0, 0.0, "nameplate"),
    price=m(15.0),
)
SCOOTER = Machine(
    name="scooter motor",
    plate_voltage=m(24.0),
    plate_current=m(13.4),
    plate_speed=m(2750 * RPM),
    plate_power=m(250.0),
)
ALTERNATOR = Machine(name="car alternator", kind="alternator", plate_voltage=m(14.0), plate_current=m(55.0))
INDUCTION = Machine(name="pump motor", kind="induction")
SERIES = Machine(name="drill motor", kind="series")


def test_best_speed_of_a_known_machine_is_the_cube_root() -> None:
    """w = (2 R P^2 / (K^2 T0))^(1/3) with K 0.22, R 1.2, T0 0.1: 1345 turns for 75 W inside the machine.

    Brushes (1.2 V) and the watts lost on the way are counted here, which the short formula leaves out.
    """
    judged = judge_plate(
        Machine(
            name="x",
            emf_constant=m(0.22),
            resistance=m(1.2),
            friction=m(0.1),
            friction_slope=m(0.0),
            brush_drop=m(1.2),
        )
    )
    watts, speed, volts, lost = judged.best[1]
    assert watts == 75.0
    assert 1300 < speed / RPM < 1600
    assert 25 < volts < 33
    assert 22 < lost < 36
    inner = watts + lost - 0.1 * speed
    assert lost == pytest.approx(
        0.1 * speed + 1.2 * (inner / (0.22 * speed)) ** 2 + 1.2 * inner / (0.22 * speed), rel=1e-6
    )
    for factor in (0.9, 1.1):
        w = speed * factor
        off = 0.1 * w + 1.2 * (inner / (0.22 * w)) ** 2 + 1.2 * inner / (0.22 * w)
        assert off > lost


def test_a_walking_machine_motor_is_worth_having_and_wants_a_step_down_board() -> None:
    """130 V, 14 A, 4000 turns: K 0.15 to 0.30, R 0.6 to 1.8; 25 to 30 V near 1000 to 1300 turns (common practice)."""
    judged = judge_plate(WALKING)
    assert judged.call == "buy"
    assert 0.15 < judged.k_emf.mid < 0.30
    assert 0.6 < judged.r_wind.mid < 1.8
    assert judged.k_emf.low < judged.k_emf.mid < judged.k_emf.high
    assert 900 < judged.best[1][1] / RPM < 1400
    assert 22 < judged.best[1][2] < 32
    assert judged.board == "a step-down board"


def test_horsepower_on_the_plate_is_named_as_odd() -> None:
    """1865 W from 130 V x 14 A = 1820 W cannot be."""
    odd = " ".join(judge_plate(WALKING).odd)
    assert "1865 W" in odd
    assert "1820 W" in odd
    assert "peak" in odd


@pytest.mark.parametrize("machine", [INDUCTION, SERIES])
def test_machines_without_magnets_are_refused_with_the_reason(machine: Machine) -> None:
    """They make no volts when legs turn them."""
    judged = judge_plate(machine)
    assert judged.call == "leave"
    assert "no magnets" in judged.refused
    assert judged.best == ()


def test_an_alternator_is_left_for_its_field() -> None:
    """12 V x 3 A of field before the first useful watt."""
    judged = judge_plate(ALTERNATOR)
    assert judged.call == "leave"
    assert "36 W" in judged.why


def test_a_machine_of_which_nothing_is_known_is_not_bought() -> None:
    """No plate, no constants: only if free, and measure it."""
    judged = judge_plate(Machine(name="blank"))
    assert judged.call == "only if free"
    assert "drill" in judged.why
    assert judged.odd


def test_a_constant_that_does_not_match_its_plate_is_odd() -> None:
    """Ten times the plate's volts per turn: one of the two is in other units."""
    wrong = judge_plate(
        Machine(
            name="x",
            plate_voltage=m(24.0),
            plate_current=m(13.0),
            plate_speed=m(2750 * RPM),
            emf_constant=m(0.7),
            resistance=m(0.2),
        )
    )
    assert "times what the plate says" in " ".join(wrong.odd)


def test_the_figure_of_merit_ranks_as_by_hand() -> None:
    """K^2/R: 0.075^2/0.25 = 0.0225."""
    judged = judge_plate(Machine(name="x", emf_constant=m(0.075), resistance=m(0.25)))
    assert judged.stiffness == pytest.approx(0.0225, rel=1e-9)


@given(k=st.floats(0.02, 0.5), r=st.floats(0.05, 3.0), t0=st.floats(0.01, 0.2))
def test_more_power_never_costs_less_and_never_wants_a_slower_machine(k: float, r: float, t0: float) -> None:
    """Loss and best speed rise with the watts delivered, and watts out plus loss is more than watts out."""
    best = judge_plate(Machine(name="x", emf_constant=m(k), resistance=m(r), friction=m(t0))).best
    assert [row[0] for row in best] == list(POWERS)
    for low, high in pairwise(best):
        assert high[1] > low[1]
        assert high[3] > low[3] > 0


@given(scale=st.floats(0.3, 3.0))
def test_rewinding_changes_volts_and_not_the_watts(scale: float) -> None:
    """K times s, R times s^2, no brushes: the same loss at the same speed, s times the volts."""
    one = judge_plate(
        Machine(name="a", emf_constant=m(0.1), resistance=m(0.4), friction=m(0.05), brush_drop=m(0.0))
    ).best[1]
    two = judge_plate(
        Machine(
            name="b",
            emf_constant=m(0.1 * scale),
            resistance=m(0.4 * scale**2),
            friction=m(0.05),
            brush_drop=m(0.0),
        )
    ).best[1]
    assert two[1] == pytest.approx(one[1], rel=1e-6)
    assert two[3] == pytest.approx(one[3], rel=1e-6)
    assert two[2] == pytest.approx(one[2] * scale, rel=1e-6)


def test_the_whole_heap_is_ranked_and_joined() -> None:
    """Refused ones last, five explained ways at most, the best one works, each says why."""
    board = Converter(
        name="1200 W board", kind="boost", power_rating=m(1200.0), input_max=m(60.0), price=m(9.0)
    )
    answer = heap(clean_rig(machine=SCOOTER), bins=(WALKING, ALTERNATOR, INDUCTION, board))
    names = [x.name for x in answer.machines]
    assert set(names) == {"scooter motor", "walking-machine motor", "car alternator", "pump motor"}
    assert names[-1] == "pump motor"
    assert 1 <= len(answer.combinations) <= 5
    best = answer.combinations[0]
    assert best.verdict == "good use of legs"
    assert best.chance > 0.8
    assert 40 < best.hold.mid / RPM < 95
    assert 30 < best.delivered.mid < 65
    assert all(c.why for c in answer.combinations)
    assert all(c.machine != "pump motor" for c in answer.combinations)


def test_machines_of_neighbours_and_bins_are_on_the_heap() -> None:
    """Each once, with a name of its own."""
    rig = clean_rig(neighbour=(Neighbour(name="rig 2", machine=SCOOTER),))
    names = [x.name for x in heap(rig, bins=(SCOOTER,)).machines]
    assert sorted(names) == ["fan motor", "scooter motor", "scooter motor 2"]


def test_a_loose_battery_serves_a_rig_without_one() -> None:
    """With a battery on the heap the charge is asked."""
    import dataclasses

    bare = dataclasses.replace(clean_rig(battery=None, load=(), fuse=(), ride=None))
    answer = heap(
        bare,
        load="charge",
        bins=(Battery(name="old", chemistry="agm", voltage=m(12.0), capacity=m(20 * AH)),),
    )
    assert answer.combinations


def test_nothing_to_join_is_said() -> None:
    """Only machines that are refused: no combinations, no purchase."""
    answer = heap(clean_rig(machine=INDUCTION))
    assert answer.combinations == ()
    assert answer.purchase is None
    assert answer.machines[0].refused


def test_a_load_straight_on_the_machine_is_not_offered_too_many_volts() -> None:
    """A 28 V cold box with nothing between it and 40 V is no combination that works."""
    for c in heap(clinic(35.0, 60.0)).combinations:
        if c.board == "no board" and c.verdict != "not by legs":
            pytest.fail(f"{c.drive}: {c.why}")


def test_what_to_buy_is_the_cheapest_proven_change() -> None:
    """Where the best combination falls short, the purchase is proven and has a price."""
    answer = heap(clinic(35.0, 60.0))
    if answer.purchase is not None:
        assert answer.purchase.proven
        assert math.isfinite(answer.purchase.cost)
        assert answer.purchase.kind in ("pulley", "board", "battery")
    else:
        assert answer.combinations[0].verdict in ("good use of legs", "hard work")


def test_a_filled_rig_gives_the_same_heap() -> None:
    """Constants guessed from a plate do not pass for measured ones."""
    from sparewatt.rig.fill import fill

    rig = clean_rig(machine=SCOOTER)
    plain, filled = heap(rig), heap(fill(rig))
    assert filled.machines == plain.machines
    assert [c.drive for c in filled.combinations] == [c.drive for c in plain.combinations]
