"""Body impedance, touch current and the extra-low-voltage limits, against the figures the standards give."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewatt.physics import shock as s

COVERS = ["F01", "F02", "F03", "F04"]

SAMPLES: dict[str, tuple[dict[str, Any], str]] = {
    "body_impedance": (
        {"v_touch": 110.0, "body_volts": s.BODY_VOLTS, "body_ohms": s.BODY_OHMS[5], "wet_factor": 0.8},
        "ohm",
    ),
    "touch_current": (
        {"v_touch": 110.0, "body_volts": s.BODY_VOLTS, "body_ohms": s.BODY_OHMS[5], "wet_factor": 0.8},
        "A",
    ),
    "touch_limit": ({"is_wet": 1.0, "v_limit_dry": 60.0, "v_limit_wet": 30.0}, "V"),
    "touch_stage": ({"v_touch": 110.0, "v_limit_wet": 30.0, "v_limit_dry": 60.0, "v_limit_elv": 120.0}, "1"),
    "ripple_share": ({"v_ripple": 14.0, "v_bus": 100.0}, "1"),
    "burn_stage": ({"t_surface": 330.0, "burn_temps": s.BURN_TEMPS}, "1"),
}

IEC_479 = "IEC 479-1 (1984), hand to hand, dry, large contact, as copied on a public page"
BODY_TABLE = [
    (25.0, 1750.0, 3250.0, 6100.0),
    (50.0, 1450.0, 2625.0, 4375.0),
    (75.0, 1250.0, 2200.0, 3500.0),
    (100.0, 1200.0, 1875.0, 3200.0),
    (125.0, 1125.0, 1625.0, 2875.0),
    (220.0, 1000.0, 1350.0, 2125.0),
]


def test_the_extra_low_voltage_limits() -> None:
    """F01: 50 V AC; 120 V ripple-free DC; peaks 140 and 70 V; ripple 10 % rms (IEV entry from IEC 61558-1), exact."""
    limits = (s.SELV_AC, s.SELV_DC, s.SELV_DC_PEAK, s.SELV_DC_PEAK_60, s.SELV_RIPPLE)
    assert limits == (50.0, 120.0, 140.0, 70.0, 0.10)
    assert s.touch_stage(120.0) == 2.0
    assert s.touch_stage(120.1) == 3.0


def test_the_dry_touch_limits() -> None:
    """F02: 25 V AC, 60 V DC dry indoors (EN 60204 clause as quoted; IEC 60598-1 8.2.3), exact."""
    assert s.TOUCH_AC_DRY == 25.0
    assert s.touch_limit(0.0) == 60.0
    assert s.touch_stage(60.0) == 1.0
    assert s.touch_stage(60.1) == 2.0


def test_the_wet_touch_limit() -> None:
    """Half the dry limit, 30 V, with damp or sweating hands (IEC 60364-4-41, from memory)."""
    assert s.touch_limit(1.0) == 30.0
    assert s.touch_stage(30.0) == 0.0
    assert s.touch_stage(30.1) == 1.0


@pytest.mark.parametrize(("volts", "low", "middle", "high"), BODY_TABLE)
def test_the_body_table(volts: float, low: float, middle: float, high: float) -> None:
    """F03: 5, 50 and 95 % of people at each volts of the table, exact."""
    for share, ohms in ((5, low), (50, middle), (95, high)):
        assert s.body_impedance(volts, body_ohms=s.BODY_OHMS[share]) == ohms, IEC_479


@pytest.mark.parametrize(("volts", "milliamps"), [(50.0, 34.5), (125.0, 111.0)])
def test_worst_touch_current(volts: float, milliamps: float) -> None:
    """F04: V over the 5 % impedance (arithmetic from F03), 0.5 %."""
    assert s.touch_current(volts) * 1e3 == pytest.approx(milliamps, rel=0.005)


def test_a_stepped_up_bus_is_past_harmless() -> None:
    """110 V over about 1.5 kohm is about 73 mA: past 30 mA (worked by hand), and worse for the 5 % body."""
    usual = s.touch_current(110.0, body_ohms=[1500.0] * 6)
    assert usual == pytest.approx(0.073, abs=0.0005)
    assert s.touch_current(110.0) > usual


def test_beyond_the_table_there_is_no_figure() -> None:
    """Above 220 V: nan. Below 25 V the table's first impedance is kept, which gives too much current, not too little."""
    assert np.isnan(s.touch_current(230.0))
    assert s.body_impedance(12.0) == 1750.0


def test_ripple_share_of_a_sine() -> None:
    """The rms of a sampled sine is what the closed form says."""
    wave = 100.0 + 7.0 * np.sin(np.linspace(0, 2 * np.pi, 4000, endpoint=False))
    assert s.ripple_share(14.0, 100.0) == pytest.approx(wave.std() / wave.mean(), rel=1e-9)


def test_burn_steps() -> None:
    """65 C burns within a second, 51 C within a minute, 43 C within eight hours (ISO 13732-1, from memory)."""
    celsius = np.array([40.0, 43.0, 48.0, 51.0, 65.0])
    np.testing.assert_array_equal(s.burn_stage(celsius + 273.15), [0, 1, 2, 3, 4])


@given(st.floats(1.0, 220.0), st.floats(1.0, 220.0))
def test_more_volts_never_less_current(a: float, b: float) -> None:
    """Touch current rises with the volts."""
    low, high = sorted((a, b))
    assert s.touch_current(low) <= s.touch_current(high) * (1 + 1e-12)


@given(st.floats(1.0, 220.0), st.floats(0.2, 1.0))
def test_wet_is_never_milder(volts: float, wet: float) -> None:
    """A wetter hand never lowers the current."""
    assert s.touch_current(volts, wet_factor=wet) >= s.touch_current(volts)


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    function, (sample, _) = getattr(s, name), SAMPLES[name]
    stretch = np.array([0.9, 1.0, 1.2])
    numbers = {k: v for k, v in sample.items() if isinstance(v, float)}
    fixed = {k: v for k, v in sample.items() if k not in numbers}
    many = function(**{k: v * stretch for k, v in numbers.items()}, **fixed)
    each = [function(**{k: v * f for k, v in numbers.items()}, **fixed) for f in stretch]
    assert many.shape == (3,)
    assert all(type(x) is np.float64 for x in each)
    np.testing.assert_allclose(many, each, rtol=1e-14)


def test_every_function_has_a_sample() -> None:
    """The sample table leaves out none of the public functions."""
    assert set(SAMPLES) == {n for n in s.__all__ if callable(getattr(s, n))}
