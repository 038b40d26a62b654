"""First rides as readings: they count in the fit where they can, are held against what is reckoned, and are told."""

from __future__ import annotations

import numpy as np
import pytest
from tests.studies.bench_rigs import RPM, Shed, Truth, bench

from sparewatt.present.words_bench import bench_answer as said
from sparewatt.present.words_bench import told_line
from sparewatt.studies.bench.answers import BenchAnswer, Entry
from sparewatt.studies.bench.known_cards import bench_answer
from sparewatt.studies.bench.known_equations import EQUATIONS
from sparewatt.studies.bench.procedures import guides
from sparewatt.studies.bench.reading_kinds import KINDS

PLAIN = bench()
GEAR = "42/21"
TOLD_BESIDE = {  # kinds without an equation, each with where its readings show
    "lead_ohms": "told", "winding_ohms": "odd and caveat", "board_heat": "told", "cell_density": "told",
    "rope_brake": "cross-check", "appliance_look": "told", "group_share": "told",
}  # fmt: skip


def shed(**truth: float) -> Shed:
    """A shed with meters that read right."""
    return Shed(Truth(**truth), np.random.default_rng(1), noise=0.0)


def answer(entries: list[Entry]) -> BenchAnswer:
    """The bench's answer to a book of readings."""
    return bench_answer(PLAIN.filled, entries)


def at_crank(at: Shed, cadence: float, amps: float) -> float:
    """Volts of the machine on a ride, written out: k w - r i - v_b with w = cadence x ratio x (1 - creep)."""
    t = at.truth
    return t.k_now * cadence * (42 / 21) * t.ratio * (1 - t.creep) - t.r_now * amps - t.v_b


def test_no_procedure_is_dead() -> None:
    """Every kind of reading that a procedure asks for counts in the fit or has its place in the answer."""
    asked = {kind for one in guides() for kind in one.procedure.readings}
    assert asked <= set(KINDS)
    assert {kind for kind in KINDS if kind not in EQUATIONS} == set(TOLD_BESIDE)


def test_a_first_turn_counts_and_a_minus_stops() -> None:
    """The volts of a hand turn narrow the ratio; a minus is told first of all, as a stop, until the leads are swapped."""
    at = shed()
    at.open_volts((100.0, 150.0, 200.0))
    before = answer(at.entries)
    volts = at.truth.k_now * 60 * RPM * 2 * at.truth.ratio
    at.write("first_turn", "t1", part=GEAR, volts=-volts, cadence=60 * RPM)
    wrong = answer(at.entries)
    assert wrong.gate == "stop" and not wrong.suspects
    assert wrong.fitted["ratio"].sd < PLAIN.unknowns["ratio"].prior_sd  # type: ignore[operator]
    assert "swap the two machine wires now" in said(wrong, 8).partition(".")[0]
    at.write("first_turn", "t2", part=GEAR, volts=volts, cadence=60 * RPM)
    right = answer(at.entries)
    assert right.gate == before.gate == "not refused"
    assert [one.key for one in right.told] == ["right_way"]


def test_volts_before_an_edge_and_before_a_load_drops_count() -> None:
    """Both narrow what a steady ride narrows."""
    for kind, names in (("edge_ride", ("volts", "amps")), ("load_drop", ("volts_before", "amps_before"))):
        at = shed()
        at.open_volts((100.0, 150.0, 200.0))
        for n, (rpm, amps) in enumerate(((70, 2.0), (60, 3.0), (55, 4.0))):
            read = dict(zip(names, (at_crank(at, rpm * RPM, amps), amps), strict=True))
            more = {"peak_volts": at_crank(at, rpm * RPM, 0.0)} if kind == "load_drop" else {}
            at.write(kind, f"e{n}", part=GEAR, cadence=rpm * RPM, **read, **more)
        found = answer(at.entries)
        assert sum(row.procedure == kind for row in found.fitted.rows) == 3
        assert {s.cause for s in found.suspects} <= {"too_good"}  # no noise
        assert found.fitted["ratio"].value == pytest.approx(at.truth.ratio, rel=0.03)


def test_a_jump_above_the_open_machine_is_not_believed() -> None:
    """A peak at the machine's open volts agrees; one half as high again does not, and says what to look at."""
    for factor, agrees in ((1.0, True), (1.5, False)):
        at = shed()
        at.open_volts((100.0, 150.0, 200.0))
        at.turns()
        open_volts = at.truth.k_now * 60 * RPM * 2 * at.truth.ratio
        at.write(
            "load_drop", "d", part=GEAR, cadence=60 * RPM, volts_before=at_crank(at, 60 * RPM, 3.0), amps_before=3.0,
            peak_volts=factor * open_volts,
        )  # fmt: skip
        jumps = [c for c in answer(at.entries).checks if c.unit == "V"]
        assert [c.agrees for c in jumps] == [agrees]
        assert bool(jumps[0].hint) is not agrees


def test_shares_of_a_group_are_those_of_their_watts() -> None:
    """14 V x 6 A beside 14 V x 2 A: three quarters and one quarter; the last reading of each counts."""
    at = shed()
    for n, (who, amps) in enumerate((("Ansa", 9.0), ("Ansa", 6.0), ("Bo", 2.0))):
        at.write("group_share", f"g{n}", part=who, volts=14.0, amps=amps, cadence=60 * RPM)
    (shares,) = answer(at.entries).told
    assert dict(zip(shares.names, shares.values, strict=True)) == pytest.approx({"Ansa": 0.75, "Bo": 0.25})
    assert "Ansa 75 %" in told_line(shares)


@pytest.mark.parametrize(
    ("looks", "is_a", "stops"),
    [
        ({"ohms": 40.0}, "heater", False),
        ({"brushes": 1.0, "ohms": 12.0}, "series motor", False),
        ({"brushes": 1.0, "dial": 1.0}, "motor with a dial or trigger", True),
        ({"range": 1.0}, "switch-mode supply", False),
        ({"capacitor": 1.0, "iron": 1.0}, "induction motor", True),
        ({"iron": 1.0, "ohms": 30.0}, "transformer or induction motor", True),
        ({}, "unknown", True),
    ],
)
def test_an_appliance_is_told_by_its_looks(looks: dict[str, float], is_a: str, stops: bool) -> None:
    """Only heater, brushed motor and switch-mode supply may go on; whatever is not told stops."""
    at = shed()
    plain = dict.fromkeys(("brushes", "dial", "iron", "capacitor", "range"), 0.0)
    at.write("appliance_look", "a", part="the thing", **(plain | looks))
    (one,) = answer(at.entries).told
    assert (one.names[1], one.stops) == (is_a, stops)
    assert told_line(one).startswith("The thing is ")


def test_cells_leads_warm_boards_and_dark_clamps_are_told() -> None:
    """A cell 0.05 below the rest is weak; leads are to be taken off; a board's rise is told; a dark clamp is asked about."""
    at = shed()
    for n, density in enumerate((1.26, 1.21, 1.26), 1):
        at.write("cell_density", f"c{n}", part=str(n), density=density)
    at.write("lead_ohms", "l", ohms=0.4)
    at.write("board_heat", "h", part="step-down board", heat=340.0, air=293.0)
    at.write(
        "load_drop", "d", part=GEAR, cadence=60 * RPM, volts_before=at_crank(at, 60 * RPM, 3.0), amps_before=3.0,
        peak_volts=40.0, clamp=0.0,
    )  # fmt: skip
    lines = {one.key: told_line(one) for one in answer(at.entries).told}
    assert set(lines) == {"weak_cell", "leads", "warm_board", "dark_clamp"}
    assert "Cell 2" in lines["weak_cell"] and "47 K" in lines["warm_board"]
    assert all(line.endswith(".") for line in lines.values())


def test_a_number_of_the_file_that_all_readings_speak_against_is_let_go() -> None:
    """The file says 0.12 as measured, four spins say 0.078: the readings count, and the flag asks for the part."""
    from dataclasses import replace

    from sparewatt.parts import Measured

    machine = replace(PLAIN.filled.rig.machine, emf_constant=Measured(0.12, 0.001, "measured"))  # type: ignore[type-var]
    filled = replace(PLAIN.filled, rig=replace(PLAIN.filled.rig, machine=machine))
    at = shed()
    at.open_volts((90.0, 130.0, 170.0, 210.0))
    found = bench_answer(filled, at.entries)
    assert found.fitted["emf_constant"].value == pytest.approx(at.truth.k, rel=0.02)
    assert any("rig file" in flag for flag in found.fitted.flags) and found.gate == "look again"
    one = bench_answer(filled, at.entries[:2])  # a single reading is not believed against the file
    assert not any("rig file" in flag for flag in one.fitted.flags)
