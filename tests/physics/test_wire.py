"""Wire, against printed tables of gauges, cables and codes, and worked examples."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.physics.same import array_equals_scalar

from sparewatt.errors import BadRequest
from sparewatt.physics import wire as w

COVERS = [
    "W01", "W02", "W03", "W04", "W05", "W06", "W07", "W08", "W09", "W10", "W11", "W14", "W15", "W16", "W17", "W18",
    "W19", "W20",
]  # fmt: skip

FOOT, ICE = 0.3048, 273.15
GROB = "Grob's Basic Electronics (M. E. Schultz)"
TABLE = "printed table of ASTM B258 sizes"
NEC = "NFPA 70 (2023) tables 310.15 and 310.16"

_RUN = {"length": 5.0, "r_per_length": 4.95e-3}
_WARM = {"t_wire": 333.15, "resistivity": 1.7241e-8, "alpha_copper": 0.00393, "t_ref": 293.15}

SAMPLES: dict[str, tuple[dict[str, Any], Any]] = {
    "gauge_diameter": ({"gauge": 12.0}, "m"),
    "gauge_area": ({"gauge": 12.0}, "m^2"),
    "gauge_of_area": ({"area": 3.3e-6}, "1"),
    "copper_temperature_factor": ({"t_wire": 348.15}, "1"),
    "iec_temperature_factor": ({"t_wire": 343.15}, "1"),
    "resistance_per_length": ({"area": 2.5e-6, **_WARM}, "ohm/m"),
    "conductor_resistance": ({"length": 10.0, "area": 2.5e-6, **_WARM}, "ohm"),
    "voltage_drop": ({"i_wire": 20.0, **_RUN}, "V"),
    "drop_share": ({"v_lost": 0.36, "v_bus": 12.0}, "1"),
    "ambient_factor_exact": ({"t_air": 313.15, "t_limit": 363.15}, "1"),
    "derated_ampacity": ({"i_base": 35.0, "factor_air": 0.88, "factor_bundle": 0.8}, "A"),
    "bundle_factor": ({"n_carrying": 6.0}, "1"),
}  # fmt: skip


# ---- published figures ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "gauge", "mm", "share"), [("W01", 10, 2.5882, 5e-4), ("W02", -3, 11.684, 1e-4)]
)
def test_diameter_of_a_gauge(row: str, gauge: int, mm: float, share: float) -> None:
    """W01, W02: 10 AWG is 2.5882 mm, 4/0 AWG is 11.684 mm (printed table of ASTM B258 sizes)."""
    assert w.gauge_diameter(gauge) == pytest.approx(mm * 1e-3, rel=share), (row, TABLE)


def test_area_of_a_gauge() -> None:
    """W03: 12 AWG is 3.3088 mm2 (exact from the ASTM B258 formula), 0.1 %."""
    assert w.gauge_area(12) == pytest.approx(3.3088e-6, rel=1e-3)


def test_resistance_of_gauges() -> None:
    """W04: solid copper of 10, 14, 22 AWG has 3.277, 8.285, 52.96 ohm/km at 20 degC (printed table), 0.2 %."""
    got = w.resistance_per_length(w.gauge_area([10, 14, 22]))
    np.testing.assert_allclose(got, [3.277e-3, 8.285e-3, 52.96e-3], rtol=2e-3, err_msg=TABLE)


def test_resistance_of_a_hundred_feet() -> None:
    """W05: 100 ft of 1022 circular mils at 10.4 ohm per foot and mil is 1.018 ohm (Grob, Ex 11-3 p 340), 0.5 %."""
    got = w.conductor_resistance(
        length=100 * FOOT, area=1022 * w.CIRCULAR_MIL, resistivity=10.4 * w.CIRCULAR_MIL / FOOT
    )
    assert got == pytest.approx(1.018, rel=5e-3), GROB


def test_gauge_of_a_bundle() -> None:
    """W06: 16 strands of 27 AWG have 3224 circular mils, gauge 15.04 (Grob, Ex 11-2 p 335), 0.5 %."""
    area = 16 * w.gauge_area(27)
    assert area / w.CIRCULAR_MIL == pytest.approx(3224, rel=5e-3), GROB
    assert w.gauge_of_area(area) == pytest.approx(15.04, rel=5e-3)


def test_resistivity_of_copper() -> None:
    """W07: 17.241 ohm mm2/km, annealed copper at 20 degC (IEC 60028), 0.05 %."""
    assert w.resistance_per_length(1e-6) == pytest.approx(17.241e-3, rel=5e-4)


def test_warm_copper() -> None:
    """W08: 1.2162 times at 75 degC (IEC 60028 coefficient from memory), 0.2 %."""
    assert w.copper_temperature_factor(ICE + 75) == pytest.approx(1.2162, rel=2e-3)


def test_cable_standard() -> None:
    """W09, W10: largest resistances of class 5 and class 1/2 copper (IEC 60228:2004), exact."""
    five = w.iec_resistance(np.array([2.5, 4, 6, 10, 16, 25, 35, 50]) * 1e-6)
    np.testing.assert_allclose(five * 1e3, [7.98, 4.95, 3.30, 1.91, 1.21, 0.780, 0.554, 0.386], rtol=1e-12)
    two = w.iec_resistance(np.array([1.5, 2.5, 4, 6, 10, 16, 25]) * 1e-6, wire_class="2")
    np.testing.assert_allclose(two * 1e3, [12.1, 7.41, 4.61, 3.08, 1.83, 1.15, 0.727], rtol=1e-12)
    assert np.isnan(w.iec_resistance(3.3e-6))


def test_cable_standard_temperature_factor() -> None:
    """W11: factor to 20 degC at 5, 40, 70, 90 degC: 1.064, 0.926, 0.833, 0.781 (IEC 60228 table), 0.001."""
    got = w.iec_temperature_factor(ICE + np.array([5.0, 40.0, 70.0, 90.0]))
    np.testing.assert_allclose(got, [1.064, 0.926, 0.833, 0.781], atol=1e-3)


def test_feet_times_amps() -> None:
    """W14: 40 ft of circuit at 45 A, 10 % of 12 V: 1800 ft A, 16125 circular mils, 8 AWG with 16510 (chart), exact."""
    feet, amps = 40.0, 45.0
    assert feet * amps == 1800
    chart = {"t_wire": 293.15, "resistivity": 10.75 * w.CIRCULAR_MIL / FOOT}

    def lost(area: float) -> float:
        each = w.resistance_per_length(area, **chart)
        return float(w.voltage_drop(amps, length=feet / 2 * FOOT, r_per_length=each))

    assert lost(16125 * w.CIRCULAR_MIL) == pytest.approx(1.2, rel=1e-4)
    fitting = [gauge for gauge in w.AWG_SIZES if lost(float(w.gauge_area(gauge))) <= 1.2]
    assert max(fitting) == 8
    assert w.gauge_area(8) / w.CIRCULAR_MIL == pytest.approx(16510, abs=1)


def test_ampacity_tables() -> None:
    """W15, W16: copper amps of the 75 C and 60 C columns (NFPA 70, 2023, table 310.16), exact."""
    hot, cool = w.AMPACITY["75 C"], w.AMPACITY["60 C"]
    assert [hot[n] for n in (14, 12, 10, 8, 6, 4, 2, 0)] == [20, 25, 35, 50, 65, 85, 115, 150], NEC
    assert [cool[n] for n in (14, 12, 10, 8, 6)] == [15, 20, 30, 40, 55], NEC


def test_small_conductors() -> None:
    """W17: 14, 12, 10 AWG copper take fuses of at most 15, 20, 30 A (NEC 240.4(D)), exact; 8 AWG has no such rule."""
    assert [w.SMALL_LIMIT.get(n) for n in (14, 12, 10, 8)] == [15, 20, 30, None]


def test_warm_air() -> None:
    """W18: 12 AWG, 75 C column, air at 40 degC: 22 A (NEC table 310.15(B)(1), 0.88); the formula behind it agrees in 1 %."""
    factor = w.ambient_factor_exact(ICE + 40, t_limit=ICE + 75)
    assert factor == pytest.approx(0.88, rel=0.01)
    assert w.derated_ampacity(w.AMPACITY["75 C"][12], factor_air=factor) == pytest.approx(22.0, rel=0.01)


def test_bundles() -> None:
    """W19: six 10 AWG at 75 C (35 A) run together: 28 A (NEC, 0.80 for 4 to 6), exact."""
    assert w.derated_ampacity(35.0, factor_bundle=w.bundle_factor(6)) == pytest.approx(28.0, abs=1e-9)
    np.testing.assert_array_equal(
        w.bundle_factor([1, 3, 4, 7, 20, 21, 41]), [1, 1, 0.8, 0.7, 0.5, 0.45, 0.35]
    )


def test_volts_lost() -> None:
    """W20: 4 mm2 class 5, 5 m one way, 20 A: 0.990 V (from the cable standard), 0.1 %."""
    assert w.voltage_drop(20.0, length=5.0, r_per_length=w.iec_resistance(4e-6)) == pytest.approx(
        0.990, rel=1e-3
    )


# ---- limits and shapes ----------------------------------------------------------------------------------------------


@given(area=st.floats(1e-8, 1e-4))
def test_gauge_and_area_are_inverse(area: float) -> None:
    """Area to gauge and back."""
    assert w.gauge_area(w.gauge_of_area(area)) == pytest.approx(area, rel=1e-12)


@given(a=st.floats(1e-7, 1e-4), b=st.floats(1e-7, 1e-4))
def test_thicker_wire_never_loses_more(a: float, b: float) -> None:
    """More copper, less resistance."""
    thin, thick = sorted((a, b))
    assert w.conductor_resistance(length=3.0, area=thick) <= w.conductor_resistance(length=3.0, area=thin)


def test_words_that_are_not_in_the_tables() -> None:
    """A class that does not exist is named, with those that do."""
    with pytest.raises(BadRequest, match="'5' or '2'"):
        w.iec_resistance(4e-6, wire_class="9")


@pytest.mark.parametrize("name", sorted(set(SAMPLES) - {"bundle_factor"}))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    array_equals_scalar(getattr(w, name), SAMPLES[name][0])
