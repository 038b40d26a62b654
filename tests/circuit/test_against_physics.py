"""The formulas of the bus, the machine and the boards against the circuit simulator, which knows none of them."""

from __future__ import annotations

import numpy as np
import pytest
from tests.circuit import circuits
from tests.circuit.ngspice import measure

from sparewatt.physics import bus, converter, machine

CLOSE = 5e-4
KNEE = 6.5e-4  # volts the simulator's one-way diodes keep for themselves
PARTS = {"r_wind": 0.25, "v_brush": 1.0, "v_diode": 0.5}


@pytest.mark.parametrize("share", [0.3, 0.9, 0.98])
def test_constant_power_below_the_edge(share: float) -> None:
    """The holding voltage is the one a circuit settles at when the load comes on slowly."""
    load = share * float(bus.edge_power(28.5, r_source=0.25))
    read = measure(circuits.machine_into_constant_power(emf=30.0, **PARTS, p_load=load, v_floor=5.0))
    assert bus.constant_power_voltage(28.5, r_source=0.25, p_load=load) == pytest.approx(
        read["v_bus"], rel=CLOSE
    )


def test_constant_power_past_the_edge() -> None:
    """Where the formula has no voltage the circuit's bus falls below half the open volts."""
    load = 1.02 * float(bus.edge_power(28.5, r_source=0.25))
    read = measure(circuits.machine_into_constant_power(emf=30.0, **PARTS, p_load=load, v_floor=5.0))
    assert np.isnan(bus.constant_power_voltage(28.5, r_source=0.25, p_load=load))
    assert read["v_bus"] < 28.5 / 2


@pytest.mark.parametrize("w_shaft", [200.0, 380.0, 450.0])
def test_current_into_a_battery(w_shaft: float) -> None:
    """Below cut-in nothing, above it the straight line."""
    k = 0.075
    read = measure(circuits.machine_into_battery(emf=k * w_shaft, **PARTS, v_open=25.6, r_store=0.03))
    i = bus.pinned_current(w_shaft, k_emf=k, v_open=25.6, r_store=0.03, **PARTS)
    assert i == pytest.approx(read["i_out"], rel=1e-6, abs=KNEE / 0.28)


@pytest.mark.parametrize("lead", [0.05, 0.35])
def test_shares_of_three_sources(lead: float) -> None:
    """The same amps from each, and the same bus volts."""
    volts = [28.0, 28.3, 28.6]
    read = measure(circuits.sources_share_bus(v_set=volts, r_lead=[lead] * 3, v_diode=0.0, i_load=6.5))
    node, amps = bus.share_currents(volts, r_sources=lead, i_constant=6.5)
    assert node == pytest.approx(read["v_bus"], rel=CLOSE)
    np.testing.assert_allclose(amps, [read[f"i_{k}"] for k in (1, 2, 3)], rtol=1e-6, atol=KNEE / lead)


@pytest.mark.parametrize("t_coulomb", [0.02, 0.08])
def test_a_battery_drives_the_machine(t_coulomb: float) -> None:
    """Runaway speed and drain are those of the mechanical stand-in."""
    parts = {"k_emf": 0.075, "v_brush": 1.0}
    read = measure(
        circuits.battery_drives_machine(
            v_open=12.6,
            r_store=0.02,
            r_wind=0.25,
            l_wind=2e-4,
            inertia=2e-3,
            drag_fixed=t_coulomb,
            drag_viscous=1e-4,
            **parts,
        )
    )
    drag = {"r_wind": 0.27, "t_coulomb": t_coulomb, "b_viscous": 1e-4, **parts}
    assert machine.runaway_speed(12.6, **drag) == pytest.approx(read["w_shaft"], rel=CLOSE)
    assert machine.drain_current(12.6, **drag) == pytest.approx(read["i_drain"], rel=2e-3)


def test_a_step_up_board_with_nothing_to_step() -> None:
    """Its output is its input less coil and diode, whatever it was set to."""
    read = measure(
        circuits.boost_passes_to_resistor(emf=30.0, **PARTS, r_coil=0.05, v_boost_diode=0.45, r_load=20.0)
    )
    loss = 0.45 + 0.05 * read["i_out"]
    assert converter.boost_output(read["v_bus"], v_set=14.4, v_loss=loss) == pytest.approx(
        read["v_out"], rel=CLOSE
    )


@pytest.mark.parametrize(("factor", "grows"), [(0.9, True), (1.1, False)])
def test_the_capacitor_that_keeps_a_board_from_ringing(factor: float, grows: bool) -> None:
    """Below the formula's capacitor a nudge grows, above it the nudge dies away."""
    load, v_open, r, coil = 136.0, 20.0, 0.25, 1e-3
    v = float(bus.constant_power_voltage(v_open, r_source=r, p_load=load))
    c = factor * float(converter.input_capacitance(v, p_load=load, inductance=coil, r_source=r))
    read = measure(
        circuits.constant_power_behind_a_coil(
            v_open=v_open, r_source=r, inductance=coil, capacitance=c, p_load=load, v_floor=6.0
        )
    )
    assert (read["swing_late"] > read["swing_early"]) == grows
