"""Dummy loads: the right bulbs for the watts, every part within its limits, nothing bare without stand and cage."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sparewatt.errors import BadRequest
from sparewatt.files import load_sources
from sparewatt.physics import shock
from sparewatt.studies.bench.dummy import NEAR, SOURCES, dummy_loads, over_volts
from sparewatt.studies.bench.dummy_drawer import (
    BARE,
    DRAWER,
    GUARDS,
    KINDS,
    STANDS,
    Junk,
    amps,
    bulb,
    element,
    highest_volts,
    lowest_volts,
    resistor,
    surface,
    wire_of,
)

CELSIUS = 273.15
BIG = (
    *DRAWER,
    bulb(60.0, 230.0, 2, kind="house_lamp"),
    bulb(500.0, 230.0, kind="halogen"),
    element(1000.0, 230.0),
    element(2000.0, 230.0, kind="kettle"),
    element(1100.0, 230.0, kind="iron"),
    resistor(4.7, 50.0, 4),
    resistor(1.0, 100.0, 2),
    wire_of(20.0, diameter=8e-4),
    wire_of(8.0, gauge=22, metal="copper-nickel"),
)


def kinds_of(found_items: tuple[tuple[str, int], ...], drawer: tuple[Junk, ...]) -> set[str]:
    """The kinds in an answer; whatever is not in the drawer by name is wire cut from it."""
    known = {item.name: item.kind for item in drawer}
    return {known.get(name, "wire") for name, _ in found_items}


# ---- worked by hand -------------------------------------------------------------------------------------------------


def test_two_bulbs_in_a_row_on_24_volts() -> None:
    """100 W at 24 V from 12 V 55 W bulbs alone: two in a row take 110 W, 4.58 A, and gulp 12 times that cold (by hand)."""
    best = dummy_loads(100.0, 24.0, (bulb(55.0, 12.0, 4),))[0]
    assert (best.series, best.parallel, best.items) == (2, 1, (("12 V 55 W bulb", 2),))
    assert best.watts == pytest.approx(110.0)
    assert best.amps == pytest.approx(110 / 24)
    assert best.cold_amps == pytest.approx(12 * 55 / 12)
    assert best.off == pytest.approx(0.10)
    assert best.says == "2 × 12 V 55 W bulb, in a row"


def test_the_nearest_comes_first() -> None:
    """42 W at 12 V: two 21 W bulbs, before one of 55 W and before seven small ones."""
    found = dummy_loads(
        42.0, 12.0, (bulb(21.0, 12.0, 4), bulb(55.0, 12.0, 2), bulb(5.0, 12.0, 8), bulb(10.0, 12.0, 4))
    )
    assert found[0].items == (("12 V 21 W bulb", 2),)
    assert found[0].off == 0.0


def test_a_few_parts_beat_a_little_nearness() -> None:
    """110 W at 12 V: two 55 W bulbs, not three kinds that hit it to a watt."""
    assert dummy_loads(110.0, 12.0)[0].items == (("12 V 55 W bulb", 2),)


def test_bulbs_at_charging_volts() -> None:
    """21 W at 12 V is 26.7 W at 14 V by the power law: 21*(14/12)^1.55 (by hand)."""
    best = dummy_loads(27.0, 14.0, (bulb(21.0, 12.0, 2),))[0]
    assert best.watts == pytest.approx(21 * (14 / 12) ** 1.55)
    assert best.cold_amps == pytest.approx(12 * 1.75 * 14 / 12)


def test_wire_is_cut_to_the_watts() -> None:
    """100 W at 24 V is 5.76 ohm: 2.6 m of 0.8 mm nickel-chromium (2.15 ohm/m, 2.4 % more when hot; by hand)."""
    best = dummy_loads(100.0, 24.0, (wire_of(20.0, diameter=8e-4),))[0]
    assert best.watts == 100.0
    assert best.off == 0.0
    length = float(best.items[0][0].split()[0])
    assert length == pytest.approx(5.76 / (1.08e-6 / (math.pi / 4 * 0.64e-6)) / 1.024, abs=0.02)
    assert best.surface.high < 620.0


def test_thin_wire_is_doubled_before_it_glows() -> None:
    """Where one strand would pass 600 K several share the watts, and short wire is refused."""
    thin = wire_of(50.0, diameter=3e-4)
    best = dummy_loads(60.0, 24.0, (thin,))[0]
    assert best.parallel > 1
    assert best.surface.mid <= 600.0
    with pytest.raises(BadRequest, match="comes near"):
        dummy_loads(60.0, 24.0, (wire_of(1.0, diameter=3e-4),))


def test_a_heater_at_few_volts() -> None:
    """A 1000 W 230 V element on 110 V takes 229 W (the square of the volts; by hand), with its own AC switch named."""
    best = dummy_loads(230.0, 110.0, (element(1000.0, 230.0),))[0]
    assert best.watts == pytest.approx(1000 * (110 / 230) ** 2)
    assert best.cold_amps == pytest.approx(best.amps)
    assert any("made for AC" in x.text for x in best.caveats)


def test_nothing_near_says_what_would_do() -> None:
    """An empty or poor drawer is refused with what to look for, which then is an answer."""
    with pytest.raises(BadRequest, match="look for 10 bulbs of 12 V 21 W, in a row") as refused:
        dummy_loads(150.0, 96.0, ())
    assert refused.value.problems[0].read == "150 W at 96 V"
    assert dummy_loads(150.0, 96.0, (bulb(21.0, 12.0, 10),))[0].series == 10
    with pytest.raises(BadRequest, match="4 bulbs of 12 V 55 W, 2 in a row, 2 such rows"):
        dummy_loads(220.0, 24.0, ())
    assert dummy_loads(220.0, 24.0, (bulb(55.0, 12.0, 4),))[0].items == (("12 V 55 W bulb", 4),)
    with pytest.raises(BadRequest, match="above zero"):
        dummy_loads(0.0, 12.0)


def test_what_a_span_of_volts_does() -> None:
    """Two 21 W bulbs in a row: 42 W at 24 V, 14 W at 12 V, marked where the law or the bulbs end."""
    drawer = (bulb(21.0, 12.0, 2),)
    found = dummy_loads(42.0, 24.0, drawer)[0]
    curve = over_volts(found, drawer, [4.0, 12.0, 24.0, 28.8, 33.0])
    np.testing.assert_allclose(curve.watts[1:3], [42 * 0.5**1.55, 42.0])
    assert curve.within.tolist() == [False, True, True, True, False]
    wire = dummy_loads(100.0, 24.0, (wire_of(20.0, diameter=8e-4),))[0]
    half = over_volts(wire, (), [12.0])
    assert half.watts[0] == pytest.approx(25.0)


# ---- heat -----------------------------------------------------------------------------------------------------------


def test_glass_as_hot_as_people_find_it() -> None:
    """A small halogen reaches 540 to 650 degC, a household lamp of some 60 to 100 W 65 to 150 degC: inside the bands.

    Source: two public pages (1000 to 1200 degF; 150 to over 250 degF), seen.
    """
    halogen = dummy_loads(55.0, 12.0, (bulb(55.0, 12.0),))[0].surface
    assert halogen.low < 540 + CELSIUS < halogen.high
    lamp = dummy_loads(60.0, 230.0, (bulb(60.0, 230.0, kind="house_lamp"),))[0].surface
    assert lamp.low < 121 + CELSIUS < lamp.high
    assert lamp.how == "typical"


def test_too_hot_to_touch_is_said_with_how_soon() -> None:
    """Every dummy whose surface may burn says so, in the steps of the burn table."""
    for found in dummy_loads(50.0, 12.0, BIG):
        stage = int(shock.burn_stage(found.surface.high))
        texts = " ".join(x.text for x in found.caveats)
        assert ("too hot to touch" in texts) == (stage >= 1)
        if stage == 4:
            assert "within a second" in texts


def test_water_never_boils_dry_unsaid() -> None:
    """A kettle element goes under water, and says what happens dry."""
    found = dummy_loads(180.0, 70.0, (element(2000.0, 230.0, kind="kettle"),))[0]
    assert "under water" in found.stands
    assert found.surface.high <= 373.15
    assert any("Dry it burns out" in x.text for x in found.caveats)


@pytest.mark.parametrize(("volts", "words"), [(24.0, ""), (48.0, "Above 30 V"), (110.0, "Above 60 V")])
def test_high_volts_are_said(volts: float, words: str) -> None:
    """The cautions of direct current come with the volts that call for them, and not before."""
    texts = [x.text for x in dummy_loads(100.0, volts, (wire_of(100.0, diameter=6e-4),))[0].caveats]
    assert (
        any(text.startswith(words) for text in texts) if words else not any("Above" in text for text in texts)
    )


# ---- whatever the drawer --------------------------------------------------------------------------------------------

WATTS = st.sampled_from([5.0, 10.0, 15.0, 21.0, 35.0, 55.0, 60.0, 100.0])
THINGS = st.one_of(
    st.builds(bulb, WATTS, st.sampled_from([6.0, 12.0, 24.0]), st.integers(1, 8)),
    st.builds(
        bulb, WATTS, st.sampled_from([120.0, 230.0]), st.integers(1, 4), st.sampled_from(["house_lamp", "halogen"])
    ),
    st.builds(
        element, st.sampled_from([500.0, 1000.0, 2000.0]), st.sampled_from([120.0, 230.0]),
        st.sampled_from(["heater", "kettle", "iron"]), st.integers(1, 2),
    ),
    st.builds(resistor, st.floats(0.2, 100.0), st.sampled_from([10.0, 50.0, 100.0]), st.integers(1, 6)),
    st.builds(wire_of, st.floats(0.5, 60.0), diameter=st.floats(2e-4, 2e-3)),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(
    drawer=st.lists(THINGS, min_size=1, max_size=5, unique_by=lambda item: item.name), w=st.floats(5, 400),
    v=st.floats(5, 250),
)  # fmt: skip
def test_every_answer_holds(drawer: list[Junk], w: float, v: float) -> None:
    """Within the watts, within the drawer, each part within its limits, guarded and stood, cold at least as warm."""
    try:
        found = dummy_loads(w, v, drawer)
    except BadRequest as refused:
        found = ()
        hint = refused.problems[0].hint
    else:
        hint = "-"
    assert hint
    known = {item.name: item for item in drawer}
    for one in found:
        assert abs(one.watts / w - 1) <= NEAR + 1e-9
        assert one.off == pytest.approx(one.watts / w - 1)
        assert one.amps == pytest.approx(one.watts / v)
        assert one.cold_amps >= one.amps * (1 - 1e-9)
        assert sum(count for _, count in one.items) == one.series * one.parallel
        assert one.surface.low <= one.surface.mid <= one.surface.high
        assert one.guard
        assert one.stands
        for name, count in one.items:
            if name not in known:
                continue
            item, each = known[name], v / one.series
            assert count <= item.count
            assert lowest_volts(item) <= each <= highest_volts(item) * (1 + 1e-12)
            if item.kind == "resistor":
                assert each * float(amps(item, each)) <= 0.6 * item.watts * (1 + 1e-9)
        curve = over_volts(one, drawer, [v])
        assert curve.watts[0] == pytest.approx(one.watts, rel=1e-9)
        assert curve.within[0]
        if kinds_of(one.items, tuple(drawer)) & set(BARE):
            assert "cage on all sides" in one.guard
            assert "tile" in one.stands
            assert any("live as well as hot" in x.text for x in one.caveats)


def test_answers_come_nearest_first_and_differ() -> None:
    """No two answers are the same, none has more kinds of the same things than two, and the first is nearly exact."""
    found = dummy_loads(100.0, 12.0, BIG)
    assert len({one.says for one in found}) == len(found)
    assert abs(found[0].off) < 0.05
    sets = [tuple(sorted(name for name, _ in one.items)) for one in found]
    assert all(len(list(same)) <= 2 for _, same in itertools.groupby(sorted(sets)))


def test_the_same_drawer_gives_the_same_answers() -> None:
    """Nothing in it is left to chance."""
    assert dummy_loads(75.0, 14.0, BIG) == dummy_loads(75.0, 14.0, BIG)


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_its_stand_and_guard(kind: str) -> None:
    """No kind of thing is without a stand and a guard, and each has a surface."""
    assert STANDS[kind]
    assert GUARDS[kind]
    item = next(x for x in BIG if x.kind == kind)
    body = surface(item)
    assert body.area > 0
    assert body.diameter > 0
    assert body.share[0] <= body.share[1] <= body.share[2]


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "toaster", "volts": 230.0, "watts": 800.0},
        {"kind": "car_bulb", "volts": 12.0},
        {"kind": "resistor", "watts": 50.0},
        {"kind": "wire", "length": 3.0, "diameter": 1e-3, "metal": "string"},
    ],
)
def test_a_thing_that_cannot_be_reckoned_with(wrong: dict[str, object]) -> None:
    """What has no plate, or is no load, is refused with what is needed."""
    with pytest.raises(BadRequest, match="reckoned"):
        Junk(name="thing", **wrong)  # type: ignore[arg-type]


def test_sources_exist() -> None:
    """Every source that a dummy's numbers rest on is in the tables."""
    assert set(SOURCES) <= set(load_sources())
