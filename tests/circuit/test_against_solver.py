"""The project's own solver against the circuit simulator, which knows none of it: volts and amps within half a percent."""

from __future__ import annotations

import functools
from collections.abc import Mapping

import numpy as np
import pytest
from tests.circuit import circuits, solver_circuits
from tests.circuit.ngspice import measure
from tests.rig.rigs import RPM, regulated, table
from tests.scenarios.reading import Edits, rig

from sparewatt.rig import operating, solve
from sparewatt.rig.asking import ask_for
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import fill
from sparewatt.rig.layout import Bound, Kind, Param
from sparewatt.rig.outcome import Crossings, Mode
from sparewatt.rig.steady import Operation, operate
from sparewatt.studies.shares import shares_of

HALF_PERCENT = 5e-3
W = 400.0  # rad/s
K = 0.075
EMF = K * W
MACHINE = {"r_wind": 0.25, "v_brush": 1.0, "v_diode": 0.5}
OURS = {"k_emf": K, "r_source": 0.25, "v_drop": 1.5}
LEFT = EMF - 1.5


def same(state: Operation, read: Mapping[str, float], **names: str) -> None:
    """Volts and amps of the solver are the simulator's."""
    for field, name in names.items():
        assert float(getattr(state, field)) == pytest.approx(read[name], rel=HALF_PERCENT), field


def one(table_: np.ndarray, w: float = W) -> Operation:
    """The solver at one speed."""
    return operate(table_[:, 0], w)


# ---- parameter tables -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("r_load", [0.5, 4.0, 60.0])
def test_resistor(r_load: float) -> None:
    """A resistor straight on the machine."""
    read = measure(circuits.machine_into_resistor(emf=EMF, **MACHINE, r_load=r_load))
    state = one(table(**OURS, g=1 / r_load))
    assert state.mode == Mode.DIRECT
    same(state, read, v_bus="v_bus", i_out="i_out")


@pytest.mark.parametrize("share", [0.4, 0.97])
def test_constant_power_below_and_near_its_edge(share: float) -> None:
    """The upper of the two running points, up to three percent from the edge."""
    load = share * LEFT**2 / (4 * 0.25)
    read = measure(circuits.machine_into_constant_power(emf=EMF, **MACHINE, p_load=load, v_floor=5.0))
    state = one(regulated(load, kind=Kind.BUCK_BOOST, **OURS))
    assert state.mode == Mode.REGULATES
    same(state, read, v_bus="v_bus", i_out="i_out")


def test_constant_power_beyond_its_edge() -> None:
    """Two percent beyond it the circuit's bus collapses, and the solver says that there is no steady running."""
    load = 1.02 * LEFT**2 / (4 * 0.25)
    read = measure(circuits.machine_into_constant_power(emf=EMF, **MACHINE, p_load=load, v_floor=5.0))
    assert read["v_bus"] < LEFT / 2
    assert one(regulated(load, kind=Kind.BUCK_BOOST, **OURS)).mode == Mode.CHATTERS


def test_step_up_board_passes_to_a_resistor() -> None:
    """Set to 14.4 V with 28.5 V behind it, a step-up board is a coil and a diode. Its coil counts as wire."""
    read = measure(
        circuits.boost_passes_to_resistor(emf=EMF, **MACHINE, r_coil=0.05, v_boost_diode=0.45, r_load=6.0)
    )
    board = {"kind": float(Kind.BOOST), "v_loss": 0.45, "v_set": 14.4, "v_held": 14.4, "v_sleep": 8.0}
    state = one(table(**(OURS | {"r_source": 0.30}), **board, g=1 / 6.0, p_held=14.4**2 / 6.0))
    assert state.mode == Mode.PASSES
    same(state, read, v_out="v_out", i_out="i_out")


def test_step_up_board_passes_to_a_battery() -> None:
    """A battery on the same board gets whatever amps come, and its set volts mean nothing."""
    read = measure(
        circuits.boost_passes_to_battery(
            emf=0.05 * W, **MACHINE, r_coil=0.05, v_boost_diode=0.45, v_open=12.6, r_store=0.03
        )
    )
    board = {"kind": float(Kind.BOOST), "v_loss": 0.45, "v_set": 12.8, "v_held": 12.8, "v_sleep": 8.0}
    store = {"a": -12.6 / 0.03, "g": 1 / 0.03, "has_store": 1.0, "u_rest": 12.6}
    state = one(table(k_emf=0.05, r_source=0.30, v_drop=1.5, **board, **store, p_held=12.8 * 0.2 / 0.03))
    assert state.mode == Mode.PASSES
    same(state, read, v_out="v_store", i_out="i_out")


@pytest.mark.parametrize("w", [200.0, 380.0, 520.0])
def test_battery(w: float) -> None:
    """Nothing below cut-in, the straight line above it."""
    read = measure(circuits.machine_into_battery(emf=K * w, **MACHINE, v_open=12.9, r_store=0.03))
    state = one(table(**OURS, a=-12.9 / 0.03, g=1 / 0.03, has_store=1.0, u_rest=12.9), w)
    assert float(state.i_out) == pytest.approx(read["i_out"], rel=HALF_PERCENT, abs=3e-3)
    assert float(state.v_bus) == pytest.approx(read["v_bus"], rel=HALF_PERCENT)


@pytest.mark.parametrize("w", [40.0, 110.0, 260.0])
def test_no_diode(w: float) -> None:
    """Without a diode the battery drives a slow machine and a fast one charges it; drops left out on both sides."""
    read = measure(
        solver_circuits.machine_without_diode(emf=K * w, r_wind=0.25, v_drop=0.0, v_open=12.6, r_store=0.02)
    )
    state = one(
        table(k_emf=K, r_source=0.25, has_diode=0.0, a=-12.6 / 0.02, g=50.0, has_store=1.0, u_rest=12.6), w
    )
    assert state.mode == (Mode.DRIVEN if K * w < 12.6 else Mode.DIRECT)
    same(state, read, v_bus="v_bus", i_out="i_out")


@pytest.mark.parametrize("r_load", [1.5, 8.0])
def test_step_down_board_out_of_volts(r_load: float) -> None:
    """Set to 28 V with less behind it, its output is its input less what it keeps."""
    read = measure(
        solver_circuits.step_down_out_of_volts(emf=EMF, r_wind=0.25, v_drop=1.5, v_loss=0.6, r_load=r_load)
    )
    board = {"kind": float(Kind.BUCK), "v_loss": 0.6, "v_set": 28.0, "v_held": 28.0, "v_sleep": 6.0}
    state = one(table(**OURS, **board, g=1 / r_load, p_held=28.0**2 / r_load))
    assert state.mode == Mode.DROPS_OUT
    same(state, read, v_bus="v_bus", v_out="v_out", i_out="i_out")


# ---- whole rig files --------------------------------------------------------------------------------------------------


@functools.cache
def solved(name: str, edits: Edits, effort: float) -> tuple[Bound, Crossings]:
    """A rig file's nominal rig, copper cold, and where it holds."""
    filled = fill(rig(name, edits))
    ask = ask_for(filled.rig, effort=effort, draws=0)
    bound = bind(filled, ask.load, ask.rider, effort=effort, draws=0)
    return bound, solve.crossings(bound, effort)[0]


def as_circuit(bound: Bound, effort: float) -> dict[str, float]:
    """The legs, the drive and the machine of a bound rig as the simulator takes them: all drag on the machine's shaft."""
    q = {p.name: float(bound.params[p, 0]) for p in Param}
    ratio, gain = float(bound.ratio[0, 0]), float(bound.gain[0, 0])
    return {
        "torque_still": float(solve.rider_line(bound, effort)[0]),
        "w_free": float(bound.w_top[0]),
        "ratio": ratio,
        "efficiency": ratio / gain,
        "k_emf": q["K_EMF"],
        "r_wind": q["R_SOURCE"],
        "v_brush": q["V_DROP"],
        "v_diode": 0.0,
        "drag_fixed": q["T_COULOMB"] + float(bound.drag[0, 0]) / gain,
        "drag_viscous": q["B_VISCOUS"] + float(bound.slope[0, 0]) / (gain * ratio),
    }


@pytest.mark.parametrize(
    ("name", "effort"),
    [("stilt_house", 60.0), ("stilt_house", 140.0), ("arm_crank", 35.0), ("low_volts", 195.0)],
)
def test_a_rider_charges_a_battery(name: str, effort: float) -> None:
    """Cadence, amps, volts and watts of a whole rig that settles on a battery."""
    bound, found = solved(name, (), effort)
    store = {"v_open": float(bound.extras["v_back"][0]), "r_store": float(bound.extras["r_store"][0])}
    read = measure(circuits.rider_into_battery(**as_circuit(bound, effort), **store))
    assert found.w_hold[0, 0] == pytest.approx(read["w_crank"], rel=HALF_PERCENT)
    assert found.i_out[0, 0] == pytest.approx(read["i_out"], rel=HALF_PERCENT)
    assert found.v_bus[0, 0] == pytest.approx(read["v_bus"], rel=HALF_PERCENT)
    assert found.p_rider[0, 0] == pytest.approx(read["p_crank"], rel=HALF_PERCENT)


@pytest.mark.parametrize(
    ("name", "edits", "effort"),
    [
        ("clinic_store", (("load.0.power", "90 W +/- 1 W"),), 160.0),
        ("clinic_store", (("converter.0.kind", "buck_boost"), ("stage.1.driven_diameter", "28 mm")), 200.0),
        ("camp_laptop", (), 120.0),
        ("barn_drill", (), 300.0),
    ],
)
def test_a_rider_holds_a_regulated_load(name: str, edits: Edits, effort: float) -> None:
    """The fast holding point of a whole rig is where the circuit settles when the load comes on slowly."""
    bound, found = solved(name, edits, effort)
    assert found.mode[0, 0] == Mode.REGULATES
    load = float(bound.params[Param.P_HELD, 0])
    read = measure(circuits.rider_into_constant_power(**as_circuit(bound, effort), p_load=load, v_floor=6.0))
    assert found.w_hold[0, 0] == pytest.approx(read["w_crank"], rel=HALF_PERCENT)
    assert found.i_out[0, 0] == pytest.approx(read["i_out"], rel=HALF_PERCENT)
    assert found.v_bus[0, 0] == pytest.approx(read["v_bus"], rel=HALF_PERCENT)
    assert found.p_rider[0, 0] == pytest.approx(read["p_crank"], rel=HALF_PERCENT)


def test_a_load_beyond_these_legs_drags_the_circuit_to_a_stop() -> None:
    """Where the solver finds no holding point the circuit sinks to a crawl; where it finds one, it does not."""
    edits = (("converter.0.kind", "buck_boost"),)
    for effort, holds in ((180.0, False), (220.0, True)):
        bound, found = solved("clinic_store", edits, effort)
        assert bool(np.isfinite(found.w_hold[0, 0])) == holds
        load = float(bound.params[Param.P_HELD, 0])
        read = measure(
            circuits.rider_into_constant_power(**as_circuit(bound, effort), p_load=load, v_floor=6.0)
        )
        assert (read["w_crank"] > 60 * RPM) == holds


@pytest.mark.parametrize("lead", [0.05, 0.35])
def test_rigs_share_a_bus(lead: float) -> None:
    """Amps of every board of the shelter's bus, as they are and with the resistance that makes them fair."""
    found = rig("alpine_three", (("bus.lead_resistance", f"{lead} ohm"),))
    filled = fill(found)
    shares = shares_of(operating.operate(filled, ask_for(filled.rig)))
    assert shares is not None
    read = measure(
        circuits.sources_share_bus(
            v_set=[28.0, 28.3, 28.6], r_lead=[lead] * 3, v_diode=0.0, i_load=shares.wanted
        )
    )
    assert shares.bus_volts == pytest.approx(read["v_bus"], rel=HALF_PERCENT)
    for k, row in enumerate(shares.rows, start=1):
        assert row.amps.mid == pytest.approx(read[f"i_{k}"], rel=HALF_PERCENT, abs=1.5e-2)
