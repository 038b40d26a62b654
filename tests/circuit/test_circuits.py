"""The circuit simulator against hand formulas: so that later the project's solver can be held against the simulator."""

from __future__ import annotations

import math

import pytest
from tests.circuit import circuits
from tests.circuit.ngspice import CircuitRefused, SimulatorMissing, measure, simulator

MACHINE = {"emf": 30.0, "r_wind": 0.25, "v_brush": 1.0, "v_diode": 0.5}
LEFT = 30.0 - 1.0 - 0.5  # what is left of the machine's volts after brushes and diode
EDGE = LEFT**2 / (4 * 0.25)
CLOSE = 5e-4
KNEE = 6.5e-4  # volts the simulator's one-way diodes keep for themselves, which the hand formulas leave out


# ---- the harness ----------------------------------------------------------------------------------------------------


def test_a_plain_divider() -> None:
    """10 V over 1 kohm and 3 kohm: 7.5 V and 2.5 mA (Ohm's law)."""
    read = measure(circuits.resistor_divider(v_in=10.0, r_top=1e3, r_bottom=3e3))
    assert read == {"v_out": pytest.approx(7.5, rel=1e-6), "i_in": pytest.approx(2.5e-3, rel=1e-6)}


def test_a_missing_simulator_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing on the search path the message names the program and the way to it."""
    monkeypatch.setenv("PATH", "")
    with pytest.raises(SimulatorMissing, match="ngspice is not installed; `make needs`"):
        simulator()


def test_a_broken_netlist_is_refused_with_what_the_simulator_said() -> None:
    """A part that cannot be read is no result, and the simulator's own words come along."""
    netlist = (
        "* broken\nV1 in 0 10\nR1 in 0 nonsense(\n.tran 1m 10m\n.meas tran v_in find v(in) at=5m\n.end\n"
    )
    with pytest.raises(CircuitRefused, match="nonsense"):
        measure(netlist)


def test_a_measurement_that_comes_to_nothing_is_refused_by_name() -> None:
    """One that asks past the end of the run is named; the others do not hide it."""
    netlist = (
        "* late\nV1 in 0 10\nR1 in 0 1k\n.tran 1m 10m\n"
        ".meas tran early find v(in) at=5m\n.meas tran late find v(in) at=20m\n.end\n"
    )
    with pytest.raises(CircuitRefused, match="not measured: late;"):
        measure(netlist)


def test_a_netlist_that_asks_nothing_is_refused() -> None:
    """No measurement, nothing to read."""
    with pytest.raises(CircuitRefused, match="nothing to read"):
        measure("* silent\nV1 in 0 10\nR1 in 0 1k\n.tran 1m 10m\n.end\n")


# ---- the machine at a steady speed ----------------------------------------------------------------------------------


@pytest.mark.parametrize("r_load", [0.5, 5.0, 50.0])
def test_machine_into_a_resistor(r_load: float) -> None:
    """i = (E - brushes - diode) / (R + R_load)."""
    read = measure(circuits.machine_into_resistor(**MACHINE, r_load=r_load))
    i = LEFT / (0.25 + r_load)
    assert read["i_out"] == pytest.approx(i, rel=CLOSE)
    assert read["v_bus"] == pytest.approx(i * r_load, rel=CLOSE)


@pytest.mark.parametrize("share", [0.2, 0.8, 0.98])
def test_constant_power_settles_on_the_upper_running_point(share: float) -> None:
    """v = (V + sqrt(V^2 - 4 P R)) / 2, right up to the edge V^2 / 4 R."""
    load = share * EDGE
    read = measure(circuits.machine_into_constant_power(**MACHINE, p_load=load, v_floor=5.0))
    v = (LEFT + math.sqrt(LEFT**2 - 4 * load * 0.25)) / 2
    assert read["v_bus"] == pytest.approx(v, rel=CLOSE)
    assert read["p_bus"] == pytest.approx(load, rel=CLOSE)


@pytest.mark.parametrize("share", [1.02, 1.3])
def test_constant_power_beyond_the_edge_collapses(share: float) -> None:
    """There is no running point: the bus falls through to where the load is a plain resistor."""
    load, floor = share * EDGE, 5.0
    read = measure(circuits.machine_into_constant_power(**MACHINE, p_load=load, v_floor=floor))
    r_floor = floor**2 / load
    assert read["v_bus"] == pytest.approx(LEFT * r_floor / (0.25 + r_floor), rel=CLOSE)
    assert read["p_bus"] < 0.5 * load


def test_step_up_board_passes_through_to_a_resistor() -> None:
    """Coil and diode are a straight wire with a drop: i = (V - drop) / (R + coil + load)."""
    read = measure(circuits.boost_passes_to_resistor(**MACHINE, r_coil=0.05, v_boost_diode=0.45, r_load=20.0))
    i = (LEFT - 0.45) / (0.25 + 0.05 + 20.0)
    assert read["i_out"] == pytest.approx(i, rel=CLOSE)
    assert read["v_out"] == pytest.approx(20.0 * i, rel=CLOSE)
    assert read["v_bus"] == pytest.approx(LEFT - 0.25 * i, rel=CLOSE)


def test_step_up_board_passes_through_to_a_battery() -> None:
    """i = (V - drop - V_battery) / (R + coil + R_battery): nothing but resistance limits it."""
    read = measure(
        circuits.boost_passes_to_battery(
            **MACHINE, r_coil=0.05, v_boost_diode=0.45, v_open=12.8, r_store=0.03
        )
    )
    i = (LEFT - 0.45 - 12.8) / (0.25 + 0.05 + 0.03)
    assert read["i_out"] == pytest.approx(i, rel=CLOSE)
    assert read["v_store"] == pytest.approx(12.8 + 0.03 * i, rel=CLOSE)


@pytest.mark.parametrize("emf", [15.0, 28.0, 30.0, 40.0])
def test_machine_into_a_battery(emf: float) -> None:
    """i = max(0, (E - drops - V_battery) / (R + R_battery)); below cut-in the diode holds."""
    read = measure(
        circuits.machine_into_battery(
            emf=emf, r_wind=0.25, v_brush=1.0, v_diode=0.5, v_open=25.6, r_store=0.03
        )
    )
    i = max(0.0, (emf - 1.5 - 25.6) / 0.28)
    assert read["i_out"] == pytest.approx(i, rel=1e-6, abs=KNEE / 0.28 if i else 1e-6)
    assert read["v_bus"] == pytest.approx(25.6 + 0.03 * i, rel=CLOSE)


# ---- several on one bus ---------------------------------------------------------------------------------------------


def _shares(v_set: list[float], r_lead: list[float], i_load: float) -> tuple[float, list[float]]:
    """Bus volts and amps by hand: solve with everyone on, drop whoever would take current in, and again."""
    on = list(range(len(v_set)))
    while True:
        g = sum(1 / r_lead[k] for k in on)
        v = (sum(v_set[k] / r_lead[k] for k in on) - i_load) / g
        still = [k for k in on if v_set[k] > v]
        if still == on:
            return v, [(v_set[k] - v) / r_lead[k] if k in on else 0.0 for k in range(len(v_set))]
        on = still


@pytest.mark.parametrize(
    ("v_set", "r_lead"),
    [
        ([28.0, 28.6], [0.05, 0.2]),
        ([28.0, 28.1], [0.1, 0.35]),
        ([28.0, 28.3, 28.6], [0.05, 0.05, 0.05]),
        ([28.0, 28.3, 28.6], [0.35, 0.35, 0.35]),
    ],
)
def test_sources_on_one_bus_share_by_their_leads(v_set: list[float], r_lead: list[float]) -> None:
    """i_k = max(0, (V_k - v) / r_k), summing to the load."""
    read = measure(circuits.sources_share_bus(v_set=v_set, r_lead=r_lead, v_diode=0.4, i_load=6.5))
    v, amps = _shares([x - 0.4 for x in v_set], r_lead, 6.5)
    assert read["v_bus"] == pytest.approx(v, rel=CLOSE)
    for k, i in enumerate(amps, start=1):
        assert read[f"i_{k}"] == pytest.approx(i, rel=1e-6, abs=KNEE / min(r_lead))


def test_three_boards_of_unequal_setting() -> None:
    """28.0, 28.3, 28.6 V through 0.05 ohm at 6.5 A: 0, 0.25, 6.25 A; through 0.35 ohm: 1.3, 2.2, 3.0 A (by hand)."""
    short = measure(
        circuits.sources_share_bus(v_set=[28.0, 28.3, 28.6], r_lead=[0.05] * 3, v_diode=0.0, i_load=6.5)
    )
    assert [short[f"i_{k}"] for k in (1, 2, 3)] == pytest.approx([0.0, 0.25, 6.25], abs=0.005)
    long = measure(
        circuits.sources_share_bus(v_set=[28.0, 28.3, 28.6], r_lead=[0.35] * 3, v_diode=0.0, i_load=6.5)
    )
    assert [long[f"i_{k}"] for k in (1, 2, 3)] == pytest.approx([1.31, 2.17, 3.02], abs=0.01)


# ---- with the shaft in it -------------------------------------------------------------------------------------------

BACKWARDS = {"v_open": 12.6, "r_store": 0.02, "r_wind": 0.25, "v_brush": 1.0, "k_emf": 0.075}


@pytest.mark.parametrize("drag_fixed", [0.02, 0.08])
def test_without_a_diode_the_battery_drives_the_machine(drag_fixed: float) -> None:
    """k i = T + b w and V - brushes - k w = i R give speed and drain; the first surge is near (V - brushes) / R."""
    b, k, r = 1e-4, BACKWARDS["k_emf"], 0.27
    read = measure(
        circuits.battery_drives_machine(
            **BACKWARDS, l_wind=2e-4, inertia=2e-3, drag_fixed=drag_fixed, drag_viscous=b
        )
    )
    w = (k * (12.6 - 1.0) / r - drag_fixed) / (b + k**2 / r)
    assert read["w_shaft"] == pytest.approx(w, rel=CLOSE)
    assert read["i_drain"] == pytest.approx((drag_fixed + b * w) / k, rel=2e-3)
    assert 0.9 * 11.6 / r < read["i_first"] < 11.6 / r


def _series_motor(v: float, r: float, k: float, fixed: float, square: float) -> tuple[float, float]:
    """Speed and current by halving: torque k i^2 with i = V / (r + k w) against dry friction and fan."""
    low, high = 0.0, 1e5
    for _ in range(200):
        w = 0.5 * (low + high)
        spare = k * (v / (r + k * w)) ** 2 - fixed - square * w * w
        low, high = (w, high) if spare > 0 else (low, w)
    return low, v / (r + k * low)


def test_series_motor_with_friction_and_fan() -> None:
    """On direct current it settles where its torque meets friction and fan; the first surge stays below V / R."""
    motor = {"v_bus": 110.0, "r_motor": 12.0, "k_series": 0.05, "drag_fixed": 0.03, "drag_square": 2e-8}
    read = measure(circuits.series_motor_with_fan(**motor, l_motor=0.1, inertia=2e-4))
    w, i = _series_motor(110.0, 12.0, 0.05, 0.03, 2e-8)
    assert read["w_shaft"] == pytest.approx(w, rel=CLOSE)
    assert read["i_motor"] == pytest.approx(i, rel=CLOSE)
    assert i < read["i_first"] < 110.0 / 12.0


@pytest.mark.parametrize(("volts", "rpm", "amps"), [(400.0, 250.0, 20.0), (772.8, 350.0, 28.0)])
def test_series_motor_against_a_textbook(volts: float, rpm: float, amps: float) -> None:
    """M10: 400 V, 20 A, 250 rpm, 1 ohm, torque as speed squared; 350 rpm takes 28 A and 772.8 V, 0.1 %.

    D. C. Kulshreshtha, Basic Electrical Engineering, Ex 16.32 p 548.
    """
    w0 = 250.0 * 2 * math.pi / 60
    k = (400.0 - 20.0) / (20.0 * w0)
    read = measure(
        circuits.series_motor_with_fan(
            v_bus=volts,
            r_motor=1.0,
            l_motor=0.05,
            k_series=k,
            inertia=3.0,
            drag_fixed=0.0,
            drag_square=k * 20.0**2 / w0**2,
        )
    )
    assert read["w_shaft"] * 60 / (2 * math.pi) == pytest.approx(rpm, rel=1e-3)
    assert read["i_motor"] == pytest.approx(amps, rel=1e-3)


W_FREE = 130 * 2 * math.pi / 60
RIG = {"ratio": 35.0, "efficiency": 0.95, "k_emf": 0.075, "r_wind": 0.25, "v_brush": 1.0, "v_diode": 0.45}
DRAG = {"drag_fixed": 0.05, "drag_viscous": 5e-5}


def test_a_rider_pinned_by_a_battery() -> None:
    """Rider line, machine and battery are three straight lines: their meeting point in closed form."""
    still = 4 * 150.0 / W_FREE
    read = measure(
        circuits.rider_into_battery(
            torque_still=still, w_free=W_FREE, **RIG, **DRAG, v_open=13.2, r_store=0.03
        )
    )
    k, n, r = 0.075, 35.0, 0.28
    push = still * 0.95 / n
    # push (1 - w / (n w_free)) = k (k w - v) / r + T + b w
    v = 13.2 + 1.45
    w = (push + k * v / r - 0.05) / (push / (n * W_FREE) + k**2 / r + 5e-5)
    assert read["w_crank"] == pytest.approx(w / n, rel=CLOSE)
    assert read["i_out"] == pytest.approx((k * w - v) / r, rel=2e-3)
    assert read["p_crank"] == pytest.approx(w / n * still * (1 - w / n / W_FREE), rel=CLOSE)


def _spare_torque(w: float, still: float, load: float) -> float:
    """Torque left over at the shaft by hand: rider line less drag less what the load's current needs."""
    k, n, r = 0.075, 35.0, 0.25
    v = k * w - 1.45
    if v * v < 4 * load * r:
        return -math.inf
    i = (v - math.sqrt(v * v - 4 * load * r)) / (2 * r)
    return still * 0.95 / n * (1 - w / n / W_FREE) - 0.05 - 5e-5 * w - k * i


def test_a_rider_holds_a_regulating_load() -> None:
    """It settles on the fast crossing of rider line and load line, found here by halving from above."""
    still, load = 4 * 150.0 / W_FREE, 90.0
    read = measure(
        circuits.rider_into_constant_power(
            torque_still=still, w_free=W_FREE, **RIG, **DRAG, p_load=load, v_floor=8.0
        )
    )
    low, high = 0.5 * 35.0 * W_FREE, 35.0 * W_FREE
    for _ in range(100):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if _spare_torque(middle, still, load) > 0 else (low, middle)
    assert read["w_crank"] == pytest.approx(low / 35.0, rel=CLOSE)
    assert read["v_bus"] * read["i_out"] == pytest.approx(load, rel=CLOSE)


def test_a_rider_below_the_edge_stalls() -> None:
    """Where no speed leaves torque to spare, the run falls through: cadence and volts collapse."""
    still, load = 4 * 150.0 / W_FREE, 125.0
    assert max(_spare_torque(w, still, load) for w in range(1, int(35 * W_FREE))) < 0
    read = measure(
        circuits.rider_into_constant_power(
            torque_still=still, w_free=W_FREE, **RIG, **DRAG, p_load=load, v_floor=8.0
        )
    )
    assert read["v_bus"] < 8.0
    assert read["w_crank"] < 0.4 * W_FREE
    assert read["v_bus"] * read["i_out"] < 0.8 * load
