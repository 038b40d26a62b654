"""Sizes: published tables, pencil sums, and what must hold for any rig."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.studies.guard_rigs import C0, RPM, clean_rig, clinic, garage, m, with_part

from sparewatt.physics import wire
from sparewatt.studies.answers import GuardAnswer, Sized
from sparewatt.studies.guard.findings import guard
from sparewatt.studies.guard.wires import (
    DROP_WANTED,
    METRIC,
    ampacity,
    drop_share,
    fuse_for,
    fuse_limit,
    pick_wire,
    usual_wires,
)

MM2 = 1e-6
amps = st.floats(0.05, 60.0)
volts = st.floats(4.0, 120.0)
metres = st.floats(0.1, 40.0)
areas = st.sampled_from(METRIC)
covers = st.sampled_from(("60C", "75C", "90C"))


def size(answer: GuardAnswer, what: str) -> Sized:
    """The size whose name begins so."""
    return next(s for s in answer.sizes if s.what.startswith(what))


# ---- published and by hand ----


@pytest.mark.parametrize(
    ("gauge", "cover", "published"), [(14, "60C", 15), (12, "60C", 20), (10, "75C", 35), (6, "75C", 65)]
)
def test_ampacity_at_a_gauge_is_the_table(gauge: int, cover: str, published: float) -> None:
    """NFPA 70 (2023) table 310.16, rows W15 and W16 of the checks."""
    assert ampacity(float(wire.gauge_area(gauge)), insulation=cover) == pytest.approx(published, rel=1e-6)


def test_ampacity_in_warm_air_and_in_a_bundle() -> None:
    """12 gauge, 75 C column: 22 A in air of 40 C (row W18); six 10 gauge wires: 35 A x 0.80 = 28 A (row W19)."""
    assert ampacity(float(wire.gauge_area(12)), insulation="75C", t_air=C0 + 40) == pytest.approx(
        22, rel=0.01
    )
    assert ampacity(float(wire.gauge_area(10)), insulation="75C", bundled=True) == pytest.approx(28, rel=1e-6)


def test_air_as_hot_as_the_cover_carries_nothing() -> None:
    """At 60 C a wire with a 60 C cover has no warmth left to give off."""
    assert ampacity(4 * MM2, t_air=C0 + 60) == 0.0


def test_drop_by_pencil() -> None:
    """2 x 5 m x 20 A x 1.7241e-8 x (1 + 0.00393 x 40) / 4 mm2 = 0.9975 V; of 12 V 8.3 %."""
    assert drop_share(4 * MM2, 5.0, 20.0, 12.0) == pytest.approx(0.9975 / 12, rel=1e-3)


def test_the_evening_light_rig_takes_a_ten_ampere_fuse() -> None:
    """A rider who holds 150 W puts about 7.6 A into 12 V: a quarter more is 9.5 A, the next size 10 A.

    Common practice, no source.
    """
    assert fuse_for(7.6, 15.0) == 10.0


def test_the_diode_is_sized_at_twice() -> None:
    """Twice the mean amps; twice the most volts it holds back: here the bus filled at over-speed, 44 V."""
    answer = guard(clean_rig())
    assert size(answer, "diode, reverse volts").need == pytest.approx(
        2 * 0.15 * (42 / 18) * 10 * 120 * RPM, rel=1e-6
    )
    got = size(answer, "diode, amps")
    assert f"{got.need / 2:.1f} A" in got.why


def test_the_clamp_stands_between_working_volts_and_the_weakest_part() -> None:
    """10 to 15 % above working volts where there is room, always below the rating; watts of the ten-second sprint."""
    answer = guard(with_part(clean_rig(), "converter.0", input_max=m(40.0)))
    clamp, watts = size(answer, "clamp, volts"), size(answer, "clamp, watts")
    assert clamp.check == "look again"
    assert clamp.need < 40.0
    assert f"{watts.need:.0f} W" in watts.why
    tight = size(guard(clinic(50.0, 30.0)), "clamp, volts")
    assert 29.0 < tight.need < 30.0


def test_the_bleeder_empties_the_bus_in_five_seconds() -> None:
    """R = t / (C ln(V/60)): 10 mF at 74 V needs 5 / (0.01 x ln(73.3/60)) = 2.5 kohm or less."""
    rig = with_part(with_part(clean_rig(), "machine", emf_constant=m(0.25)), "bus", bleeder=m(4700.0))
    row = size(guard(rig), "bleeder")
    volts_there = 0.25 * (42 / 18) * 10 * 120 * RPM
    assert row.need == pytest.approx(5 / (0.01 * math.log(volts_there / 60)), rel=1e-9)
    assert row.check == "look again"


def test_base_width_by_hand() -> None:
    """2 x 250 N x 1 m / (m g): rider 85 kg, motor and plate on it."""
    row = size(guard(garage()), "width of the base")
    assert 0.45 < row.need < 0.60


def test_the_base_narrows_with_weight() -> None:
    """A heavier rider holds the base down."""
    light, heavy = (
        size(guard(with_part(clean_rig(), "rider.0", mass=m(kg))), "width of the base").need
        for kg in (50.0, 100.0)
    )
    assert light > heavy


def test_names_are_given_in_metric_and_gauge() -> None:
    """Both names, each thick enough by itself: 7 A over 2 m lose 0.37 V in 1.5 mm2, 2.9 % of 13 V; over 3 m too much."""
    assert usual_wires(7.0, 13.0, 2.0) == "1.5 mm2 or 14 AWG"
    assert usual_wires(7.0, 13.0, 3.0) == "2.5 mm2 or 12 AWG"
    assert usual_wires(1.0, 12.0, 1.0) == "0.5 mm2 or 20 AWG"
    assert "shorten" in usual_wires(200.0, 12.0, 30.0)


def test_a_fuse_above_the_wire_is_a_stop() -> None:
    """A 40 A fuse before 1.5 mm2 lets the wire burn first."""
    rig = with_part(with_part(clean_rig(), "fuse.0", rating=m(40.0)), "wire.1", size=m(1.5 * MM2))
    row = size(guard(rig), "fuse at the battery post")
    assert row.check == "stop"
    assert row.need <= ampacity(1.5 * MM2)


def test_a_silent_file_is_asked_not_stopped() -> None:
    """No size, no length, no marks: look again, with what to look for."""
    rig = with_part(clean_rig(), "wire.0", size=None)
    row = size(guard(rig), "wire from the machine")
    assert row.check == "look again"
    assert math.isnan(row.have)
    assert "look for the size" in row.why


# ---- what must hold for any numbers ----


@given(i=amps, area=areas, cover=covers)
def test_a_fuse_never_exceeds_the_wire(i: float, area: float, cover: str) -> None:
    """Whatever the load, the fuse is at most what the wire carries, and at least a quarter above the load."""
    carries = ampacity(area, insulation=cover)
    fuse = fuse_for(i, fuse_limit(area, carries))
    if math.isfinite(fuse):
        assert 1.25 * i * (1 - 1e-9) <= fuse <= carries


@given(i=amps, more=st.floats(1.0, 4.0), v=volts, length=metres)
def test_more_load_never_asks_for_thinner_wire(i: float, more: float, v: float, length: float) -> None:
    """Monotone in the amps."""
    assert pick_wire(i * more, v, length) >= pick_wire(i, v, length)


@given(i=amps, v=volts, length=metres, longer=st.floats(1.0, 5.0), area=areas)
def test_longer_wire_never_drops_less(i: float, v: float, length: float, longer: float, area: float) -> None:
    """The drop grows in a straight line with length."""
    once, far = drop_share(area, length, i, v), drop_share(area, length * longer, i, v)
    assert far >= once
    assert far == pytest.approx(once * longer, rel=1e-9)


@given(i=amps, v=volts, length=metres)
def test_the_picked_wire_keeps_every_promise(i: float, v: float, length: float) -> None:
    """Drop, ampacity with a quarter in hand, and a fuse that fits."""
    area = pick_wire(i, v, length)
    if math.isfinite(area):
        assert drop_share(area, length, i, v) <= DROP_WANTED
        assert ampacity(area) >= 1.25 * i * (1 - 1e-9)
        assert math.isfinite(fuse_for(i, fuse_limit(area, ampacity(area))))


@given(a=st.floats(0.3, 100.0), b=st.floats(0.3, 100.0), cover=covers)
def test_thicker_wire_never_carries_less(a: float, b: float, cover: str) -> None:
    """Ampacity is monotone in the copper."""
    thin, thick = sorted((a, b))
    assert ampacity(thick * MM2, insulation=cover) >= ampacity(thin * MM2, insulation=cover)


@given(watts=st.floats(5.0, 120.0), more=st.floats(1.0, 2.0))
def test_a_bigger_load_never_lowers_the_wire_of_the_rig(watts: float, more: float) -> None:
    """On the whole rig: more watts at the lamp never make its wire, or the battery's, thinner."""
    small, large = (
        guard(with_part(clean_rig(), "load.0", power=m(w), kind="electronics")) for w in (watts, watts * more)
    )
    for what in ("wire to the lamp", "wire from the battery"):
        assert size(large, what).need >= size(small, what).need
