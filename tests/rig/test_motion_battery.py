"""A battery in motion: what answers at once, what settles within a minute, and that both ways end where the formulas say."""

from __future__ import annotations

import numpy as np
import pytest

from sparewatt.parts import Battery, Diode, Load, Machine, Ride, Rider, Rig, Stage
from sparewatt.physics import store
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import exact, fill
from sparewatt.rig.motion import Moving, Played, Start, bind_motion, channel, play
from sparewatt.rig.motion_layout import Act, Out, Shared

CAPACITY = 100 * 3600.0
MINUTES = 600.0


def _moving(chemistry: str, watts: float, charge: float) -> Moving:
    rig = Rig(
        name="shed",
        rider=(Rider(name="you"),),
        stage=(Stage(kind="chain", driver_teeth=(42,), driven_teeth=(18,)),),
        machine=Machine(emf_constant=exact(0.075), resistance=exact(0.25)),
        battery=Battery(
            voltage=exact(12.0),
            capacity=exact(CAPACITY),
            chemistry=chemistry,
            charge=exact(charge),
            resistance=exact(0.012),
        ),
        load=(Load(name="heater", kind="heater", voltage=exact(12.0), power=exact(watts)),),
        diode=Diode(kind="schottky"),
        ride=Ride(),
    )
    filled = fill(rig)
    return bind_motion(filled, bind(filled, "heater", draws=0))


def _warmth(moving: Moving) -> float:
    battery = moving.filled.rig.battery
    assert battery is not None and battery.temperature is not None
    return float(battery.temperature.value)


def _given(chemistry: str, watts: float, charge: float) -> tuple[Moving, Played]:
    """Nobody rides; the load comes on at one second."""
    moving = _moving(chemistry, watts, charge)
    times = np.array([0.0, 0.9, 1.2, 30.0, MINUTES])
    acts = [(0.0, Act.STOP, 0, 0.0), (1.0, Act.ON, 0, 0.0)]
    (done,) = play(moving, acts, Start(want=50.0), duration=MINUTES, times=times)
    return moving, done


@pytest.mark.parametrize("chemistry", ["flooded", "agm", "lifepo4"])
@pytest.mark.parametrize(("watts", "charge"), [(250.0, 0.8), (60.0, 0.5)])
def test_a_load_on_the_battery_alone_settles_where_the_formula_says(
    chemistry: str, watts: float, charge: float
) -> None:
    """Rested volts at first, the drop over cells and wire at once, the rest within minutes: `store.battery_voltage`."""
    moving, done = _given(chemistry, watts, charge)
    u = done.rows[:, channel(Shared.V_OUT)]
    i = done.rows[:, channel(Shared.AMPS_BATTERY)]
    soc = done.rows[:, channel(Shared.CHARGE)]
    kinds = {"v_name": 12.0, "chemistry": chemistry, "temperature": _warmth(moving)}
    rested = float(store.open_circuit_voltage(charge, **kinds))
    assert u[1] == pytest.approx(rested, abs=2e-3)
    at_once = float(moving.oc[0, Out.R_STORE])
    assert u[2] == pytest.approx(rested + at_once * i[2], abs=0.01)
    assert u[3] < u[2]
    wire = float(moving.oc[0, Out.R_BATTERY_WIRE])
    settled = float(
        store.battery_voltage(
            soc[-1], i_store=i[-1], r_store=at_once - wire, capacity=moving.oc[0, Out.CAPACITY], **kinds
        )
    )
    assert u[-1] == pytest.approx(settled + wire * i[-1], abs=3e-3)


def test_a_lead_battery_of_a_hundred_ampere_hours_holds_up_under_twenty_amps() -> None:
    """Two hours and more at a twentieth of the five-hour current: about 12 V half full, never the 11 V of a dying one
    (common practice, no source)."""
    done = _given("flooded", 250.0, 0.8)[1]
    assert 11.7 < done.rows[-1, channel(Shared.V_OUT)] < 12.4


def test_a_charge_begins_where_the_battery_rests_and_climbs_to_the_steady_map() -> None:
    """From a standstill the battery stands at its rested volts; the lift of the charge comes within minutes."""
    moving = _moving("flooded", 250.0, 0.5)
    moving = bind_motion(moving.filled, bind(moving.filled, "charge", draws=0))
    moving.geo[..., 0] *= 25.0
    moving.geo[..., 1] *= 25.0
    times = np.linspace(0, 400, 401)
    (done,) = play(
        moving, [], Start(want=120.0, heats=False, tires=False, even=True), duration=400, times=times
    )
    u, i = done.rows[:, channel(Shared.V_OUT)], done.rows[:, channel(Shared.AMPS_BATTERY)]
    rested = float(
        store.open_circuit_voltage(0.5, v_name=12.0, chemistry="flooded", temperature=_warmth(moving))
    )
    assert u[0] == pytest.approx(rested, abs=2e-3)
    assert i[-1] > 2.0
    oc = moving.oc[0]
    line = rested + oc[Out.RISE] + (oc[Out.RISE_SLOPE] + oc[Out.R_STORE]) * i[-1]
    filled_since = float(np.interp(done.rows[-1, channel(Shared.CHARGE)], *moving.ocv)) - rested
    assert u[-1] == pytest.approx(line + filled_since, abs=5e-3)
    early = int(np.argmax(i > 1.0)) + 2
    assert u[early] < u[-1] - 0.1
