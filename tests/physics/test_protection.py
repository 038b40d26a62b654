"""Fuses, diodes, switches, capacitors and the clamp, against published figures and plain limits."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewatt.physics import converter, machine
from sparewatt.physics import protection as p

COVERS = ["F05", "F07", "F08", "F09", "F10", "F11", "W21"]

SAMPLES: dict[str, tuple[dict[str, Any], str]] = {
    "fuse_floor": ({"i_load": 16.0, "fuse_margin": 1.25}, "A"),
    "fuse_size": ({"i_load": 7.0, "i_wire": 15.0, "fuse_margin": 1.25, "fuse_sizes": p.FUSE_SIZES}, "A"),
    "prospective_current": ({"v_open": 12.6, "r_path": 0.02}, "A"),
    "adiabatic_area": ({"i_fault": 1000.0, "t_clear": 0.1, "k2_conductor": p.K2_PVC_COPPER}, "m^2"),
    "diode_amps_needed": ({"i_mean": 10.0, "diode_amps_margin": 2.0}, "A"),
    "diode_volts_needed": ({"v_reverse": 14.8, "diode_volts_margin": 2.0}, "V"),
    "diode_heat": ({"i_mean": 10.0, "v_diode": 0.45, "r_diode": 0.005, "form_factor": 1.1}, "W"),
    "heat_path_allowed": ({"p_heat": 5.0, "t_limit": 398.15, "t_air": 313.15}, "K/W"),
    "switch_amps_on_dc": (
        {"v_switch": 110.0, "switch_volts": p.SWITCH_VOLTS, "switch_amps": p.SWITCH_AMPS},
        "A",
    ),
    "arc_stage": (
        {
            "v_open": 110.0,
            "i_load": 2.0,
            "v_arc_lives": 12.0,
            "i_arc_lives": 0.5,
            "v_arc_grows": 30.0,
            "i_arc_grows": 1.0,
        },
        "1",
    ),
    "capacitor_energy": ({"capacitance": 470e-6, "v_bus": 110.0}, "J"),
    "bleeder_resistance": ({"capacitance": 4.7e-3, "v_bus": 100.0, "v_rest": 50.0, "duration": 60.0}, "ohm"),
    "discharge_time": ({"capacitance": 4.7e-3, "v_bus": 110.0, "v_rest": 60.0, "r_bleed": 1000.0}, "s"),
    "bleeder_power": ({"v_bus": 110.0, "r_bleed": 1000.0}, "W"),
    "balance_resistance": (
        {"v_bus": 16.0, "n_series": 7.0, "v_rated": 2.7, "i_leak_spread": 2e-3},
        "ohm",
    ),
    "volts_ceiling": ({"w_crank": 12.566, "ratio": 50.0, "k_emf": 0.075}, "V"),
    "over_volts_needed": ({"v_ceiling": 43.2, "volts_margin": 1.25}, "V"),
    "clamp_volts": ({"v_bus": 28.8, "clamp_margin": 1.12}, "V"),
    "dump_resistance": ({"v_clamp": 32.0, "p_clamp": 400.0}, "ohm"),
}

positive = st.floats(0.01, 1e4)


# ---- published figures ----------------------------------------------------------------------------------------------

SWITCH_SHEET = "limit switch data sheet, direct-current points, seen on a public manuals page"


@pytest.mark.parametrize(
    ("row", "volts", "amps", "source"),
    [
        ("F05", 14.0, 10.0, SWITCH_SHEET),
        ("F05", 30.0, 6.0, SWITCH_SHEET),
        ("F05", 125.0, 0.5, SWITCH_SHEET),
        ("F05", 250.0, 0.25, SWITCH_SHEET),
    ],
)
def test_a_switch_keeps_its_sheet_points(row: str, volts: float, amps: float, source: str) -> None:
    """On each point of the sheet the switch is worth exactly what the sheet says (10 A is also its 250 V AC figure)."""
    assert p.switch_amps_on_dc(volts) == pytest.approx(amps, rel=1e-12), (row, source)


def test_between_its_points_the_switch_agrees_with_another_makers_relay() -> None:
    """F05: a relay note seen beside the sheet gives 0.5 A at 110 V for a 10 A at 30 V contact; within a third of it."""
    assert p.switch_amps_on_dc(110.0) == pytest.approx(0.5, rel=0.34)


def test_a_switch_says_nothing_beyond_its_sheet() -> None:
    """Above the last point there is no figure; below the first the current stays level."""
    assert np.isnan(p.switch_amps_on_dc(300.0))
    assert p.switch_amps_on_dc(5.0) == 10.0


def test_the_residual_rule_gives_the_bleeder() -> None:
    """F07: 50 V within 60 s from 100 V on 4700 uF needs 18.4 kohm (NEC 460.6 rule; resistor by arithmetic), 0.5 %."""
    r = p.bleeder_resistance(4700e-6, 100.0, v_rest=50.0, duration=60.0)
    assert r == pytest.approx(18.4e3, rel=0.005)
    assert p.discharge_time(4700e-6, 100.0, v_rest=50.0, r_bleed=r) == pytest.approx(60.0)


def test_surge_factors_are_those_of_the_sheet() -> None:
    """F08: motor 6 times, lamp 10 times the steady current (note in the data sheet of F05)."""
    assert (p.SURGE_FACTOR["motor"], p.SURGE_FACTOR["lamp"]) == (6.0, 10.0)


def test_the_adiabatic_area_of_a_fault() -> None:
    """F09: 1000 A for 0.1 s in PVC copper, k 115, needs 2.75 mm2 (IEC 60364-4-43, k from memory), 0.5 %."""
    assert p.adiabatic_area(1000.0, 0.1) * 1e6 == pytest.approx(2.75, rel=0.005)


def test_the_fuse_sits_this_close_to_the_battery() -> None:
    """F10: 7 in unsheathed (178 mm), 72 in sheathed (boat wiring practice ABYC E-11, from memory)."""
    assert pytest.approx(7 * 0.0254, abs=0.0005) == p.FUSE_LEAD_BARE
    assert pytest.approx(72 * 0.0254, abs=0.002) == p.FUSE_LEAD_SHEATHED


def test_a_battery_without_a_diode_motors_the_machine() -> None:
    """F11: 12.8 V into k 0.22 V*s/rad turns it at 58.2 rad/s = 556 rpm (arithmetic), 0.2 %."""
    w = machine.runaway_speed(12.8, k_emf=0.22, r_wind=1.0)
    assert w == pytest.approx(58.2, rel=0.002)
    assert w * 60 / (2 * np.pi) == pytest.approx(556.0, rel=0.002)


def test_the_continuous_load_rule() -> None:
    """W21: 16 A for hours asks for 20 A (NEC 210.19(A) and 210.20(A), seen on a public wire chart), exact."""
    assert p.fuse_floor(16.0) == 20.0


# ---- worked by hand -------------------------------------------------------------------------------------------------

BY_HAND = [
    ("fuse of a 5.4 A charge on a 15 A wire", p.fuse_size(5.4, 15.0), 7.5, "6.75 A, next size up"),
    ("fuse of an exact size", p.fuse_size(8.0, 15.0), 10.0, "1.25 * 8 = 10 exactly"),
    ("battery short", p.prospective_current(12.0, 0.010), 1200.0, "12 V / 10 mohm"),
    ("energy in a capacitor", p.capacitor_energy(470e-6, 110.0), 2.8435, "0.5 * 470e-6 * 110^2"),
    ("energy in a 58 F bank", p.capacitor_energy(58.0, 16.0), 7424.0, "0.5 * 58 * 256"),
    ("ceiling of a wide gear", p.volts_ceiling(11.519, ratio=50.0, k_emf=0.075), 43.196, "0.075*50*11.519"),
    ("dump resistor", p.dump_resistance(32.0, p_clamp=400.0), 2.56, "1024/400"),
]


@pytest.mark.parametrize(("what", "got", "expected", "how"), BY_HAND)
def test_worked_by_hand(what: str, got: float, expected: float, how: str) -> None:
    """Each figure is what pencil and paper give."""
    assert got == pytest.approx(expected, rel=1e-4), (what, how)


# ---- limits and reversals -------------------------------------------------------------------------------------------


def test_no_fuse_fits_a_thin_wire() -> None:
    """A load that would need a fuse above the wire's own current gets no fuse at all, not the nearest one."""
    assert np.isnan(p.fuse_size(14.0, 15.0))
    assert np.isnan(p.fuse_size(1e4, 1e6))


def test_an_arc_needs_volts_and_current_together() -> None:
    """Below either number nothing stands; above both pairs it grows."""
    assert p.arc_stage(110.0, 0.1) == 0.0
    assert p.arc_stage(5.0, 50.0) == 0.0
    assert p.arc_stage(14.0, 5.0) == 1.0
    assert p.arc_stage(28.0, 0.6) == 1.0
    assert p.arc_stage(110.0, 2.0) == 2.0


def test_a_capacitor_at_rest_needs_no_bleeder() -> None:
    """At or below the resting volts the wait is nothing and any resistor will do."""
    assert p.discharge_time(1e-3, 40.0, v_rest=60.0, r_bleed=1e4) == 0.0
    assert np.isinf(p.bleeder_resistance(1e-3, 60.0, v_rest=60.0, duration=5.0))


def test_bleeding_follows_the_exponential() -> None:
    """After the time given, a step-by-step discharge stands at the resting volts."""
    c, v0, rest, wait = 2e-3, 110.0, 60.0, 5.0
    r = float(p.bleeder_resistance(c, v0, v_rest=rest, duration=wait))
    v, steps = v0, 20000
    for _ in range(steps):
        k1 = -v / (r * c)
        k2 = -(v + 0.5 * wait / steps * k1) / (r * c)
        v += wait / steps * k2
    assert v == pytest.approx(rest, rel=1e-6)


def test_the_damping_capacitor_is_where_the_oscillation_stops_growing() -> None:
    """The linearised source (R, L into C, load of -v^2/P ohm) has its eigenvalues on the axis at exactly this C."""
    load, v, coil, r = 136.0, 20.0, 1e-3, 0.25
    c = float(converter.input_capacitance(v, p_load=load, inductance=coil, r_source=r))
    for factor, grows in ((0.9, True), (1.1, False)):
        matrix = np.array([[-r / coil, -1 / coil], [1 / (factor * c), load / v**2 / (factor * c)]])
        assert (np.linalg.eigvals(matrix).real.max() > 0) == grows
    matrix = np.array([[-r / coil, -1 / coil], [1 / c, load / v**2 / c]])
    assert abs(np.linalg.eigvals(matrix).real.max()) < 1e-6 * np.linalg.norm(matrix)


def test_the_balancing_resistor_holds_the_worst_capacitor_at_its_rating() -> None:
    """One capacitor leaks nothing, the others the whole spread: the tight one stands at exactly its rated volts."""
    n, rated, bus, spread = 7, 2.7, 16.0, 2e-3
    r = float(p.balance_resistance(bus, n_series=n, v_rated=rated, i_leak_spread=spread))
    v_rest = (bus - rated) / (n - 1)
    assert rated / r == pytest.approx(v_rest / r + spread)


def test_the_clamp_resistor_takes_exactly_the_power_at_the_clamp_volts() -> None:
    """At its own volts the dump draws what it was sized for; a volt more draws more."""
    r = p.dump_resistance(32.0, p_clamp=400.0)
    assert 32.0**2 / r == pytest.approx(400.0)
    assert 33.0**2 / r > 400.0


def test_a_diode_without_slope_has_only_its_knee() -> None:
    """With r_diode 0 the heat is volts times mean current whatever the form of the current."""
    assert p.diode_heat(10.0, v_diode=0.5, form_factor=1.5) == pytest.approx(5.0)


def test_the_allowed_path_brings_a_part_to_its_limit() -> None:
    """5 W through the path that is allowed warm the part from 40 to 125 degC (by hand)."""
    assert 313.15 + 5.0 * p.heat_path_allowed(5.0, t_limit=398.15, t_air=313.15) == pytest.approx(398.15)


# ---- properties -----------------------------------------------------------------------------------------------------


@given(st.floats(0.0, 300.0), st.floats(1.0, 500.0))
def test_a_fuse_never_exceeds_its_wire_and_always_carries_its_load(i_load: float, i_wire: float) -> None:
    """Whatever the load and the wire, a size that is named lies between the two and is on the ladder."""
    size = float(p.fuse_size(i_load, i_wire))
    if not np.isnan(size):
        assert 1.25 * i_load <= size * (1 + 1e-9)
        assert size <= i_wire
        assert size in p.FUSE_SIZES


@given(st.floats(0.1, 100.0), st.floats(0.1, 100.0))
def test_more_load_never_gets_a_smaller_fuse(a: float, b: float) -> None:
    """On a wire that is never the limit, the fuse rises with the load."""
    low, high = sorted((a, b))
    assert p.fuse_size(low, 1e6) <= p.fuse_size(high, 1e6)


@given(st.floats(1.0, 250.0), st.floats(1.0, 250.0))
def test_more_volts_never_raise_what_a_switch_may_break(a: float, b: float) -> None:
    """The derating falls all the way."""
    low, high = sorted((a, b))
    assert p.switch_amps_on_dc(high) <= p.switch_amps_on_dc(low) * (1 + 1e-12)


@given(positive, positive, st.floats(61.0, 400.0))
def test_a_smaller_bleeder_never_takes_longer(c: float, r: float, v: float) -> None:
    """Half the resistance, half the wait."""
    whole = p.discharge_time(c, v, v_rest=60.0, r_bleed=r)
    assert p.discharge_time(c, v, v_rest=60.0, r_bleed=r / 2) == pytest.approx(whole / 2)


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    function, (sample, _) = getattr(p, name), SAMPLES[name]
    stretch = np.array([0.9, 1.0, 1.2])
    numbers = {k: v for k, v in sample.items() if isinstance(v, float)}
    fixed = {k: v for k, v in sample.items() if k not in numbers}
    many = function(**{k: v * stretch for k, v in numbers.items()}, **fixed)
    each = [function(**{k: v * s for k, v in numbers.items()}, **fixed) for s in stretch]
    assert many.shape == (3,)
    assert all(type(x) is np.float64 for x in each)
    np.testing.assert_allclose(many, each, rtol=1e-14)


def test_every_function_has_a_sample() -> None:
    """The sample table leaves out none of the public functions."""
    assert set(SAMPLES) == {n for n in p.__all__ if callable(getattr(p, n))}
