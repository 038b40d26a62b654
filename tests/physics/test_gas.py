"""Hydrogen, carbon dioxide, oxygen, warmth and noise in a room, against standards' figures and hand formulas."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparewatt.physics import gas as g

COVERS = ["L14", "L15", "L16", "L19", "L20", "L21", "L22", "V01", "V02", "V03", "V05", "V06", "V08", "V09"]

_ROOM = {"share_start": 6e-4, "share_out": 4e-4, "g_gas": 2.2e-5, "q_air": 1e-3, "volume_room": 60.0}
_MAGNUS = {"p_magnus": 611.2, "magnus_factor": 17.62, "t_magnus": 243.12, "t_ice": 273.15}
SAMPLES: dict[str, tuple[dict[str, Any], str]] = {
    "gas_per_charge": ({"t_air": 298.15, "pressure": 101325.0, "thermal_volts": g.THERMAL_VOLTS}, "m^3/C"),
    "hydrogen_flow": ({"i_gas": 20.0, "n_cells": 6.0, "h2_per_charge": 1.27e-7}, "m^3/s"),
    "gassing_current": ({"capacity": 720e3, "gassing": 5.6e-6}, "A"),
    "air_per_charge_for": ({"h2_per_charge": 1.17e-7, "share_limit": 0.04, "air_margin": 5.0}, "m^3/C"),
    "air_for_hydrogen": ({"i_gas": 4.0, "n_cells": 6.0, "air_per_charge": g.AIR_PER_CHARGE}, "m^3/s"),
    "vent_area": ({"q_air": 3.3e-4, "vent_speed": 0.0992}, "m^2"),
    "hydrogen_time": (
        {"i_gas": 5.0, "n_cells": 6.0, "volume_room": 20.0, "h2_per_charge": 1.27e-7, "share_limit": 0.01},
        "s",
    ),
    "water_lost": ({"charge_over": 3600.0, "n_cells": 6.0, "water_per_charge": g.WATER_PER_CHARGE}, "kg"),
    "gas_share_at": ({"duration": 7200.0, **_ROOM}, "1"),
    "gas_time_to": ({"share_limit": 0.005, **_ROOM}, "s"),
    "air_for_co2": ({"g_gas": 2.2e-5, "share_limit": 0.005, "share_out": 4e-4}, "m^3/s"),
    "oxygen_breath": ({"p_metabolic": 416.0, "energy_per_oxygen": 20.9e6}, "m^3/s"),
    "co2_breath": ({"p_metabolic": 416.0, "breath_quotient": 0.9, "energy_per_oxygen": 20.9e6}, "m^3/s"),
    "room_flow": (
        {
            "q_standard": 2.4e-5,
            "t_air": 298.15,
            "pressure": 95e3,
            "t_standard": 273.15,
            "pressure_standard": 101325.0,
        },
        "m^3/s",
    ),
    "room_temperature_settled": (
        {"p_heat": 1200.0, "t_out": 283.15, "q_air": 0.04, "ua_walls": 100.0, "heat_per_air": 1206.0},
        "K",
    ),
    "room_temperature_at": (
        {"duration": 3600.0, "t_start": 288.0, "t_settled": 298.0, "heat_capacity": 5e5, "ua_room": 150.0},
        "K",
    ),
    "vapour_flow": (
        {"water_rate": 1.4e-4, "t_air": 298.15, "pressure": 101325.0, "r_vapour": 461.5},
        "m^3/s",
    ),
    "saturation_pressure": ({"t_air": 298.15, **_MAGNUS}, "Pa"),
    "relative_humidity": ({"vapour_share": 0.0156, "p_saturated": 3161.0, "pressure": 101325.0}, "1"),
    "wet_bulb": (
        {"t_air": 303.15, "p_vapour": 1500.0, "pressure": 101325.0, "psychrometer": 6.62e-4, **_MAGNUS},
        "K",
    ),
    "heat_index_room": ({"t_air": 303.15, "t_wet": 298.15, "wet_weight": 0.7}, "K"),
    "fan_air_power": ({"q_air": 0.0417, "pressure_rise": 250.0}, "W"),
    "level_sum": ({"sound_levels": (80.0, 83.0, 70.0)}, "1"),
    "level_at_distance": ({"sound_level": 90.0, "distance_known": 8.0, "distance": 1.0}, "1"),
    "noise_time": (
        {"sound_level": 88.0, "level_day": 85.0, "level_exchange": 3.0, "duration_day": 28800.0},
        "s",
    ),
}

AH, HOUR, LITRE, MINUTE = 3600.0, 3600.0, 1e-3, 60.0
CFM = 0.3048**3 / 60.0
H2_WARM = float(g.gas_per_charge(298.15))


# ---- hydrogen -------------------------------------------------------------------------------------------------------


def test_hydrogen_for_each_ampere_and_cell() -> None:
    """L14: 0.127 mL/s (0.000269 ft3/min), 0.4564 L/h at 25 C; 0.418 L/h at 0 C (IEEE 484-2002 as quoted), 0.3 %."""
    flow = g.hydrogen_flow(1.0, n_cells=1.0, h2_per_charge=H2_WARM)
    assert flow * 1e6 == pytest.approx(0.127, rel=0.003)
    assert flow / CFM == pytest.approx(0.000269, rel=0.003)
    assert flow * HOUR / LITRE == pytest.approx(0.4564, rel=0.003)
    assert g.gas_per_charge(273.15) * HOUR / LITRE == pytest.approx(0.418, rel=0.003)


def test_the_thermal_voltage_is_gas_constant_over_faraday_constant() -> None:
    """Both constants are exact in the SI of 2019: 8.314462618 / 96485.33212 V/K."""
    assert pytest.approx(8.314462618 / 96485.33212, rel=1e-9) == g.THERMAL_VOLTS


def test_the_ventilation_constant_of_the_standard() -> None:
    """L15: v q s = 24 * 0.42e-3 * 5 = 0.0504 m3/(A h), used as 0.05 (EN 50272-2), exact."""
    constant = g.air_per_charge_for(0.42e-3 / AH, share_limit=0.04, air_margin=5.0)
    assert constant * AH == pytest.approx(0.0504, rel=1e-9)
    assert pytest.approx(0.05, rel=1e-12) == g.AIR_PER_CHARGE * AH


@pytest.mark.parametrize(
    ("kind", "stage", "milliamps"),
    [("flooded", 0, 5.0), ("flooded", 1, 20.0), ("valve-regulated", 0, 1.0), ("valve-regulated", 1, 8.0)],
)
def test_gassing_currents_of_the_standard(kind: str, stage: int, milliamps: float) -> None:
    """L16: float and boost, flooded and valve-regulated, mA for each Ah (EN 50272-2 table 1 as quoted), exact."""
    i_gas = g.gassing_current(100 * AH, gassing=g.GASSING[kind][stage])
    assert i_gas == pytest.approx(100 * milliamps * 1e-3, rel=1e-12)


def test_the_australian_form() -> None:
    """L19: 0.006 L/s for each ampere and cell: 24 cells at 25 A need 3.6 L/s (formula as quoted), exact."""
    assert g.air_for_hydrogen(25.0, n_cells=24.0, air_per_charge=6e-6) / LITRE == pytest.approx(
        3.6, rel=1e-12
    )


def test_the_swedish_form() -> None:
    """L20: 0.46 L/h, 26-fold dilution, margin 5: 0.0166 L/s for each ampere and cell (ventilation page), 3 %."""
    constant = g.air_per_charge_for(0.46e-3 / AH, share_limit=1 / 27, air_margin=5.0)
    assert constant / LITRE == pytest.approx(0.0166, rel=0.03)
    assert constant * 25 * 24 == pytest.approx(0.017e-3 * 25 * 24, rel=0.03)


def test_a_sealed_room_with_a_boiling_battery() -> None:
    """L21: 20 m3, 6 cells, 5 A of overcharge: 1 % after 14.6 h (from L14), 1 %."""
    t = g.hydrogen_time(5.0, n_cells=6.0, volume_room=20.0, h2_per_charge=H2_WARM)
    assert t / HOUR == pytest.approx(14.6, rel=0.01)


def test_water_lost() -> None:
    """L22: 18.015 / 2 F = 0.336 g for each Ah and cell (Faraday), 0.3 %."""
    assert g.water_lost(AH, n_cells=1.0) * 1e3 == pytest.approx(0.336, rel=0.003)


def test_a_cellar_with_a_large_flooded_bank() -> None:
    """12 m3, 20 A into six full cells: about 54 L/h and 1 % in about 2.2 h; 1.2 m3/h at 20 mA/Ah of 200 Ah (by hand)."""
    flow = g.hydrogen_flow(20.0, n_cells=6.0, h2_per_charge=H2_WARM)
    assert flow * HOUR / LITRE == pytest.approx(54, rel=0.02)
    t = g.hydrogen_time(20.0, n_cells=6.0, volume_room=12.0, h2_per_charge=H2_WARM)
    assert t / HOUR == pytest.approx(2.2, rel=0.02)
    i_gas = g.gassing_current(200 * AH, gassing=g.GASSING["flooded"][1])
    q = g.air_for_hydrogen(i_gas, n_cells=6.0)
    assert q * HOUR == pytest.approx(1.2, rel=1e-9)
    assert g.vent_area(q) * 1e4 == pytest.approx(28 * 1.2, rel=1e-9)


def test_hydrogen_in_a_room_that_leaks_takes_longer() -> None:
    """The general clock without leak is the sealed formula; with a leak it is later, or never."""
    flow = float(g.hydrogen_flow(5.0, n_cells=6.0, h2_per_charge=H2_WARM))
    sealed = g.hydrogen_time(5.0, n_cells=6.0, volume_room=20.0, h2_per_charge=H2_WARM)
    room = {"share_start": 0.0, "share_out": 0.0, "g_gas": flow, "volume_room": 20.0}
    assert g.gas_time_to(0.01, q_air=0.0, **room) == pytest.approx(sealed)
    assert g.gas_time_to(0.01, q_air=1e-4, **room) > sealed
    assert np.isinf(g.gas_time_to(0.01, q_air=flow / 0.01, **room))
    assert np.isinf(g.hydrogen_time(0.0, n_cells=6.0, volume_room=20.0, h2_per_charge=H2_WARM))


# ---- carbon dioxide -------------------------------------------------------------------------------------------------


def test_workplace_limits() -> None:
    """V01: 5000, 30000, 40000 ppm for 8 h, 15 min, immediate danger (OSHA, ACGIH, NIOSH as quoted), exact."""
    assert (g.CO2_8_HOURS, g.CO2_SHORT, g.CO2_DANGER) == (5000e-6, 30000e-6, 40000e-6)


def test_shelter_air_and_space() -> None:
    """V02: 5 cfm holds 0.25 %; 0.5 % preferred, 3 % at most; 65 ft3, 5 ft2 (FEMA 453 quoting ASHRAE 62-1981), exact."""
    assert pytest.approx(2.35974e-3, rel=1e-5) == g.SHELTER_AIR
    assert pytest.approx(1.84060, rel=1e-5) == g.SHELTER_VOLUME
    assert pytest.approx(0.464515, rel=1e-5) == g.SHELTER_FLOOR
    asked = g.air_for_co2(0.00519 * LITRE, share_limit=0.0025, share_out=0.0003)
    assert asked == pytest.approx(g.SHELTER_AIR, rel=0.01)
    assert g.CO2_8_HOURS == 0.005
    assert g.CO2_SHORT == 0.03


def test_the_source_behind_the_shelter_figure() -> None:
    """V03: 5 cfm times (0.25 - 0.03) % is 0.00519 L/s, about 0.3 L/min (from V02), 1 %."""
    asked = g.air_for_co2(0.00519 * LITRE, share_limit=0.0025, share_out=0.0003)
    assert asked == pytest.approx(5 * CFM, rel=0.01)
    about = g.air_for_co2(0.3 * LITRE / MINUTE, share_limit=0.0025, share_out=0.0003)
    assert about == pytest.approx(5 * CFM, rel=0.05)


def test_air_for_a_rider_and_one_who_sits() -> None:
    """V05: 1.44 + 0.31 L/min at 5000 ppm against 400 outdoors needs 6.34 L/s (from H20 and V03), 1 %."""
    source = (1.44 + 0.31) * LITRE / MINUTE
    assert g.air_for_co2(source, share_limit=0.005, share_out=4e-4) / LITRE == pytest.approx(6.34, rel=0.01)


def test_breath_at_75_watts() -> None:
    """416 W of metabolism takes 1.2 L/min of oxygen and gives 1.07 L/min of carbon dioxide (by hand)."""
    assert g.oxygen_breath(416.0) * MINUTE / LITRE == pytest.approx(1.2, rel=0.01)
    assert g.co2_breath(416.0) * MINUTE / LITRE == pytest.approx(1.07, rel=0.01)


SIX_AT_REST = {
    "share_start": 6e-4,
    "share_out": 4e-4,
    "g_gas": 6 * g.CO2_REST,
    "q_air": 0.0,
    "volume_room": 60.0,
}


@pytest.mark.parametrize(("share", "hours"), [(0.005, 3.33), (0.01, 7.12)])
def test_a_shut_room_with_nobody_riding_is_the_hand_formula(share: float, hours: float) -> None:
    """60 m3, six at rest at 0.22 L/min from 0.06 %: rise times volume over source, 3.33 h and 7.12 h (by hand)."""
    t = g.gas_time_to(share, **SIX_AT_REST)
    assert t == pytest.approx((share - 6e-4) * 60.0 / (6 * 0.22e-3 / 60), rel=1e-12)
    assert t / HOUR == pytest.approx(hours, rel=0.01)
    assert g.gas_share_at(t, **SIX_AT_REST) == pytest.approx(share, rel=1e-12)


def test_the_clock_against_a_step_by_step_room() -> None:
    """A ventilated room stepped in small time slices reaches the level when the closed form says."""
    room = {"share_start": 6e-4, "share_out": 4e-4, "g_gas": 4e-5, "q_air": 3e-3, "volume_room": 30.0}
    t = float(g.gas_time_to(0.01, **room))
    share, n = room["share_start"], 20000
    for _ in range(n):
        k1 = (room["g_gas"] - room["q_air"] * (share - room["share_out"])) / room["volume_room"]
        half = share + 0.5 * t / n * k1
        share += t / n * (room["g_gas"] - room["q_air"] * (half - room["share_out"])) / room["volume_room"]
    assert share == pytest.approx(0.01, rel=1e-7)


def test_the_clock_that_never_or_already_rings() -> None:
    """inf where the room settles below the level, 0 where it is there already, inf with no source."""
    room = {"share_start": 6e-4, "share_out": 4e-4, "g_gas": 2e-5, "volume_room": 60.0}
    assert np.isinf(g.gas_time_to(0.02, q_air=2e-3, **room))
    assert g.gas_time_to(5e-4, q_air=2e-3, **room) == 0.0
    assert np.isinf(g.gas_time_to(0.01, q_air=0.0, **{**room, "g_gas": 0.0}))


def test_air_asked_for_settles_at_the_level() -> None:
    """With the flow asked for a level the room ends at that level; shut, its share only rises."""
    room = {"share_start": 4e-4, "share_out": 4e-4, "g_gas": 2.9e-5, "volume_room": 30.0}
    q = g.air_for_co2(2.9e-5, share_limit=0.005)
    assert g.gas_share_at(1e7, q_air=q, **room) == pytest.approx(0.005)
    assert g.gas_share_at(1e7, q_air=0.0, **room) > 1.0


def test_oxygen_runs_down_with_the_signs_turned() -> None:
    """Shut room: oxygen reaches its floor after volume * fall / uptake, by the same clock with all signs turned."""
    uptake = 6 * 0.25e-3 / 60
    t = g.gas_time_to(
        -g.OXYGEN_FLOOR, share_start=-0.209, share_out=-0.2095, g_gas=uptake, q_air=0.0, volume_room=60.0
    )
    assert t == pytest.approx(60.0 * (0.209 - 0.195) / uptake)
    after = g.gas_share_at(t, share_start=0.209, share_out=0.2095, g_gas=-uptake, q_air=0.0, volume_room=60.0)
    assert after == pytest.approx(g.OXYGEN_FLOOR)


def test_carbon_dioxide_hurts_before_oxygen_runs_out() -> None:
    """In a shut room the planning level of carbon dioxide comes before the oxygen floor (uptake 1.1 times as much)."""
    uptake = 6 * 0.22e-3 / 60 * 1.1
    shut = {"q_air": 0.0, "volume_room": 60.0}
    oxygen = g.gas_time_to(-0.195, share_start=-0.2095, share_out=-0.2095, g_gas=uptake, **shut)
    assert g.gas_time_to(g.CO2_PLAN, **SIX_AT_REST) < oxygen


def test_a_warm_room_holds_the_same_gas_in_more_volume() -> None:
    """At 0 C and standard pressure nothing changes; at 25 C it is 298.15/273.15 as much (ideal gas)."""
    assert g.room_flow(1e-5, t_air=273.15) == pytest.approx(1e-5)
    assert g.room_flow(1e-5, t_air=298.15) == pytest.approx(1e-5 * 298.15 / 273.15)


# ---- warmth, fan, noise ---------------------------------------------------------------------------------------------


def test_a_room_warms_towards_where_it_settles() -> None:
    """At the start it is where it was, after long it is where it settles, and there the heat balance closes."""
    settled = float(g.room_temperature_settled(1200.0, t_out=283.15, q_air=0.04, ua_walls=100.0))
    assert 1206.0 * 0.04 * (settled - 283.15) + 100.0 * (settled - 283.15) == pytest.approx(1200.0)
    path = g.room_temperature_at(
        [0.0, 1e7], t_start=288.0, t_settled=settled, heat_capacity=5e5, ua_room=150.0
    )
    np.testing.assert_allclose(path, [288.0, settled])


@pytest.mark.parametrize(
    ("celsius", "pascal"), [(0.0, 611.2), (20.0, 2339.0), (25.0, 3169.0), (40.0, 7384.0)]
)
def test_vapour_pressure_against_steam_tables(celsius: float, pascal: float) -> None:
    """Saturation pressure at 0, 20, 25, 40 C (steam tables, from memory), 0.4 %."""
    assert g.saturation_pressure(celsius + 273.15) == pytest.approx(pascal, rel=0.004)


@pytest.mark.parametrize(
    ("celsius", "humidity", "wet"), [(20.0, 0.5, 13.7), (25.0, 0.5, 17.9), (30.0, 0.5, 22.0)]
)
def test_wet_bulb_against_a_psychrometric_chart(celsius: float, humidity: float, wet: float) -> None:
    """20, 25 and 30 C at half humidity (psychrometric chart at sea level, from memory), 0.3 K."""
    vapour = humidity * g.saturation_pressure(celsius + 273.15)
    assert g.wet_bulb(celsius + 273.15, p_vapour=vapour) - 273.15 == pytest.approx(wet, abs=0.3)


def test_wet_bulb_of_soaked_air_is_the_air() -> None:
    """At full humidity the cloth does not cool, and the heat index is the air's own temperature."""
    wet = g.wet_bulb(303.15, p_vapour=g.saturation_pressure(303.15))
    assert wet == pytest.approx(303.15, abs=1e-6)
    assert g.heat_index_room(303.15, t_wet=wet) == pytest.approx(303.15, abs=1e-6)


def test_vapour_in_a_room_closes_with_its_mass() -> None:
    """0.5 kg of sweat in 30 m3 at 25 C: the share that comes out holds exactly that mass (ideal gas)."""
    flow = g.vapour_flow(0.5 / 3600, t_air=298.15)
    share = g.gas_share_at(3600.0, share_start=0.0, share_out=0.0, g_gas=flow, q_air=0.0, volume_room=30.0)
    assert share * 101325.0 * 30.0 / (461.5 * 298.15) == pytest.approx(0.5)
    assert g.relative_humidity(share, p_saturated=g.saturation_pressure(298.15)) == pytest.approx(
        0.726, abs=0.005
    )


def test_power_of_a_shelter_fan() -> None:
    """150 m3/h against 250 Pa is 10.4 W in the air (by hand)."""
    assert g.fan_air_power(150 / 3600, pressure_rise=250.0) == pytest.approx(10.4, rel=0.005)


@pytest.mark.parametrize(("level", "minutes"), [(88.0, 240.0), (91.0, 120.0), (97.0, 30.0), (100.0, 15.0)])
def test_how_long_a_noise_may_last(level: float, minutes: float) -> None:
    """V06: 240, 120, 30, 15 min at 88, 91, 97, 100 dBA (CDC NIOSH noise page, mirrored), exact."""
    assert g.noise_time(level) == minutes * MINUTE


def test_level_closer_to_a_source() -> None:
    """V08: 90 dB at 8 m is 108.06 dB at 1 m (J. M. Jacob, Power Electronics, Ex 4.9 p 185), 0.05 dB."""
    assert g.level_at_distance(90.0, distance_known=8.0, distance=1.0) == pytest.approx(108.06, abs=0.05)


def test_two_equal_sources() -> None:
    """V09: 80 dB and 80 dB make 83.01 dB (definition), 0.02 dB."""
    assert g.level_sum([80.0, 80.0]) == pytest.approx(83.01, abs=0.02)
    np.testing.assert_allclose(g.level_sum([[80.0, 80.0], [60.0, 60.0]]), [83.01, 63.01], atol=0.02)


# ---- properties -----------------------------------------------------------------------------------------------------

flows = st.one_of(st.just(0.0), st.floats(1e-7, 1.0))


@given(flows, flows, st.floats(1e-7, 1e-3), st.floats(5.0, 500.0), st.floats(7e-4, 0.05))
def test_more_ventilation_never_shortens_the_air_clock(
    q_a: float, q_b: float, source: float, volume: float, level: float
) -> None:
    """With more fresh air from outside the level is reached later, or never."""
    low, high = sorted((q_a, q_b))
    room = {"share_start": 6e-4, "share_out": 4e-4, "g_gas": source, "volume_room": volume}
    assert g.gas_time_to(level, q_air=high, **room) >= g.gas_time_to(level, q_air=low, **room) * (1 - 1e-9)


@given(st.floats(1e-7, 1e-3), st.floats(1e-7, 1e-3), flows, st.floats(5.0, 500.0))
def test_one_more_rider_never_lengthens_the_air_clock(a: float, b: float, q: float, volume: float) -> None:
    """More breath, less time."""
    room = {"share_start": 6e-4, "share_out": 4e-4, "q_air": q, "volume_room": volume}
    alone = g.gas_time_to(0.01, g_gas=a, **room)
    assert g.gas_time_to(0.01, g_gas=a + b, **room) <= alone * (1 + 1e-9)


@given(flows, st.floats(1e-7, 1e-3), st.floats(5.0, 500.0), st.floats(7e-4, 0.05))
def test_when_the_clock_rings_the_level_is_there(
    q: float, source: float, volume: float, level: float
) -> None:
    """The time to a level, put into the share after a time, gives the level back."""
    room = {"share_start": 6e-4, "share_out": 4e-4, "g_gas": source, "q_air": q, "volume_room": volume}
    t = g.gas_time_to(level, **room)
    if np.isfinite(t):
        assert g.gas_share_at(t, **room) == pytest.approx(level, rel=1e-6)
    else:
        assert g.gas_share_at(1e12, **room) <= level * (1 + 1e-9)


@given(st.floats(1.0, 1e5), flows)
def test_a_room_can_be_taken_in_two_halves(duration: float, q: float) -> None:
    """Going on from halfway gives the same share as going in one piece."""
    room = {"share_out": 4e-4, "g_gas": 3e-5, "q_air": q, "volume_room": 40.0}
    half = g.gas_share_at(duration / 2, share_start=6e-4, **room)
    whole = g.gas_share_at(duration, share_start=6e-4, **room)
    assert g.gas_share_at(duration / 2, share_start=half, **room) == pytest.approx(whole, rel=1e-9)


@given(st.floats(275.0, 320.0), st.floats(0.05, 1.0), st.floats(0.05, 1.0))
def test_drier_air_never_raises_the_wet_bulb(t_air: float, a: float, b: float) -> None:
    """The wet cloth is never warmer than the air, and moister air never cools it more."""
    low, high = sorted((a, b))
    full = g.saturation_pressure(t_air)
    dry, moist = g.wet_bulb(t_air, p_vapour=low * full), g.wet_bulb(t_air, p_vapour=high * full)
    assert dry <= moist + 1e-9
    assert moist <= t_air + 1e-9


@pytest.mark.parametrize("name", sorted(set(SAMPLES) - {"level_sum"}))
def test_array_equals_scalar(name: str) -> None:
    """An array gives, place by place, what its numbers give one at a time."""
    function, (sample, _) = getattr(g, name), SAMPLES[name]
    stretch = np.array([0.9, 1.0, 1.2])
    many = function(**{k: v * stretch for k, v in sample.items()})
    each = [function(**{k: v * s for k, v in sample.items()}) for s in stretch]
    assert many.shape == (3,)
    assert all(type(x) is np.float64 for x in each)
    np.testing.assert_allclose(many, each, rtol=1e-14)


def test_every_function_has_a_sample() -> None:
    """The sample table leaves out none of the public functions."""
    assert set(SAMPLES) == {n for n in g.__all__ if callable(getattr(g, n))}
