"""More scenes that must come out right: the beat of the legs, an hour, several riders, each against a formula of one line.

The formulas are written out here and share nothing with the package. Sources are named at each test: "hand" is arithmetic
on the rig's own numbers, "from memory" a relation of any textbook.
"""

from __future__ import annotations

import dataclasses
import math
from typing import Any

import numpy as np
import pytest
from tests.studies.scene_list_rigs import (
    BRUSH,
    IDEAL,
    LAMP,
    LAMP_OHMS,
    W_TOP,
    J,
    K,
    N,
    R,
    a_board,
    bare,
    first,
    keys,
    last,
    machine,
    play,
    pulsing,
    push,
    spread,
    told,
)

from sparewatt.parts import Bus, Flywheel, Load, Neighbour, Rig
from sparewatt.rig.fill import exact

GEARS = {"48/24": 16.0, "48/16": 24.0, "48/12": 32.0}


# ---- the beat of the legs --------------------------------------------------------------------------------------------


def swing(torque: float, w: float, inertia: float, pull: float) -> float:
    """Highest less lowest speed over the mean: a push that beats twice a turn, on a wheel with a pull that grows with speed.

    2*a*T/(w*sqrt((2*w*J)^2 + D^2)): the linear answer to a sine. From memory.
    """
    return 2 * 0.62 * torque / (w * math.hypot(2 * w * inertia, pull))


@pytest.mark.parametrize(("after", "ratio"), [(0, 1.0), (1, 24.0), (None, 0.0)])
def test_a_flywheel_smooths_by_the_square_of_how_fast_it_turns(after: int | None, ratio: float) -> None:
    """The same plate at the crank does little; at the machine's speed it counts 24 * 24 times as much. From memory."""
    plate = Flywheel(
        name="plate", after_stage=after, mass=exact(3.0), diameter=exact(0.25), material="steel_disc"
    )
    a = play(
        pulsing(flywheel=(plate,) if ratio else ()),
        "riding along, at an effort worth 80 W, with the wire lamp on; for 20 s",
    )
    w = last(a, "cadence")
    pull = (K * N) ** 2 / (R + LAMP_OHMS) + push(80) / W_TOP
    inertia = J + 0.5 * 3.0 * 0.125**2 * ratio**2
    wanted = swing(push(80) * (1 - w / W_TOP), w, inertia, pull)
    assert spread(a, "cadence", since=12.0) == pytest.approx(wanted, rel=0.06)


def test_a_capacitor_smooths_the_lamp_as_a_flywheel_of_c_times_k_squared() -> None:
    """Through a winding of next to nothing C on the bus is C*(K*N)^2 at the crank: 1 F adds 5.8 kg*m^2. From memory."""
    rig = pulsing(
        bus=Bus(capacitance=exact(1.0), capacitor_voltage=exact(60.0)),
        machine=machine(resistance=0.004, inductance=1e-5, brush_drop=0.0),
    )
    a = play(rig, "riding along, at an effort worth 80 W, with the wire lamp on; for 20 s")
    w = last(a, "cadence")
    pull = (K * N) ** 2 / (0.004 + LAMP_OHMS) + push(80) / W_TOP
    wanted = swing(push(80) * (1 - w / W_TOP), w, J + 1.0 * (K * N) ** 2, pull)
    assert spread(a, "bus_volts", since=12.0) == pytest.approx(wanted, rel=0.06)


def test_the_light_beats_twice_a_turn() -> None:
    """Two legs, two pushes: at 60 turns a minute 2 Hz. Hand."""
    a = play(
        pulsing(), "riding along, holding 60 rpm, at an effort worth 80 W, with the wire lamp on; for 40 s"
    )
    late = a.times > 30
    watts = a.track("load_power").values[late]
    beats = np.abs(np.fft.rfft(watts - watts.mean()))
    rate = np.fft.rfftfreq(watts.size, float(a.times[1] - a.times[0]))[int(np.argmax(beats))]
    assert rate == pytest.approx(2.0, abs=0.11)


def test_mean_volts_times_mean_amps_is_less_than_the_true_watts() -> None:
    """Both follow the speed: true = shown*(1 + a^2/2), a the swing of the volts either way. Hand."""
    a = play(
        pulsing(machine=machine(inertia=1e-5)),
        "riding along, at an effort worth 80 W, with the wire lamp on; for 20 s",
    )
    shown, true = a.meter
    half = 0.5 * spread(a, "bus_volts", since=12.0)
    assert half > 0.1
    assert true / shown == pytest.approx(1 + half**2 / 2, rel=0.003)
    assert true == pytest.approx(last(a, "load_power", 200), rel=0.03)


# ---- an hour ---------------------------------------------------------------------------------------------------------


def test_a_reserve_lasts_as_long_as_the_work_above_steady_power() -> None:
    """t = W'/(P - CP): 14 kJ at 70 W over; then only the 170 W that can be held. Critical power, Monod and Scherrer."""
    rig = bare(load=(dataclasses.replace(LAMP, power=exact(200.0)),))
    says, a = told(rig, "riding along, holding an even 240 W, with the wire lamp on; for 20 min")
    assert first(a, "reserve_empty") == pytest.approx(14e3 / 70.0, rel=0.01)
    assert last(a, "rider_power") == pytest.approx(170.0, rel=0.01)
    assert "from then on 170 W is what your legs give" in says


def test_bouts_and_breathers_settle_where_what_is_spent_comes_back() -> None:
    """225 W for 25 s, 40 W for 60 s, CP 170 W, W' 14 kJ: spend 55 W, win back as 1 - exp(-130*60/14000). Hand."""
    rig = bare(load=(dataclasses.replace(LAMP, power=exact(150.0)),))
    a = play(
        rig,
        "riding along, with the wire lamp on; at 0.1 s hold an even 225 W; at 25.1 s hold an even 40 W; "
        "again every 85 s; for 1 h",
    )
    left = 14e3
    for _ in range(40):
        left -= 55.0 * 25.0
        left = 14e3 - (14e3 - left) * math.exp(-130.0 * 60.0 / 14e3)
    found = float(np.interp(0.1 + 40 * 85.0, a.times, a.track("reserve").values))
    assert found == pytest.approx(left, rel=0.01)
    assert sum(s.understood.startswith("hold an even 225") for s in a.steps) == 43
    assert "reserve_empty" not in keys(a)


def test_a_winding_warms_to_the_heat_it_has_to_lose() -> None:
    """After hours: rise = R_th*(i^2*R*(1 + 0.0039*rise) + brushes*i). Copper from any handbook; from memory."""
    rig = bare(load=(dataclasses.replace(LAMP, power=exact(150.0)),))
    a = play(rig, "riding along, at an effort worth 120 W, with the wire lamp on; for 4 h")
    i, rise = last(a, "machine_amps"), last(a, "winding") - 293.15
    heat = i**2 * R * (1 + 0.0039 * rise) + BRUSH * i
    assert rise == pytest.approx(1.5 * heat, rel=0.03)
    middle = float(np.interp(1800.0, a.times, a.track("winding").values)) - 293.15
    assert 0.5 * rise < middle < 0.85 * rise  # the case, with its 30 min, lags the winding


# ---- several riders --------------------------------------------------------------------------------------------------


def crew() -> Rig:
    """Three on one bus, boards set to 28.0, 28.3 and 28.6 V, a third of an ohm in each lead."""
    person = bare().rider[0]
    spare: dict[str, Any] = {"input_min": exact(8.0), "restart": exact(9.0), "drop": exact(0.5)}
    wheel = dataclasses.replace(bare().stage[0], inertia=exact(0.01))
    mates = tuple(
        Neighbour(
            name=f"{name} frame", rider=rider, machine=machine(), stage=(wheel,), diode=IDEAL,
            converter=a_board("boost", "board", volts, **spare), lead_resistance=exact(0.35),
        )
        for name, rider, volts in (("second", "Bodil", 28.3), ("third", "Carsten", 28.6))
    )  # fmt: skip
    pump = Load(name="pump", kind="heater", power=exact(120.0), voltage=exact(28.0), voltage_max=exact(40.0),
                through="board", trigger="mechanical", without_battery=True)  # fmt: skip
    return bare(
        rider=(person, *(dataclasses.replace(person, name=n, critical_power=exact(160.0)) for n in ("Bodil", "Carsten"))),
        neighbour=mates, converter=(a_board("boost", "board", 28.0, **spare),), diode=IDEAL, load=(pump,), stage=(wheel,),
        bus=Bus(capacitance=exact(0.02), capacitor_voltage=exact(80.0), lead_resistance=exact(0.35)),
    )  # fmt: skip


def test_riders_share_by_their_volts_and_leads_and_one_who_steps_off_leaves_the_rest_to_the_others() -> None:
    """Millman: v = sum(V/r)/(sum(1/r) + 1/R), i = (V - v)/r of each, and again with two. From memory."""
    a = play(
        crew(),
        "Ilse rides along, at an effort worth 120 W, with the pump off; at 5 s switch the pump on; "
        "at 9 s Carsten steps off; for 30 s",
    )
    ohms = 28.0**2 / 120.0
    assert not any(h.key == "passes" and h.at < 11.0 for h in a.happenings)
    for at, volts in ((8.9, (28.0, 28.3, 28.6)), (11.0, (28.0, 28.3))):
        bus = sum(v / 0.35 for v in volts) / (len(volts) / 0.35 + 1 / ohms)
        for name, v in zip(("output_amps", "output_amps 2", "output_amps 3"), volts, strict=False):
            amps = float(np.interp(at, a.times, a.track(name).values))
            assert amps == pytest.approx((v - bus) / 0.35, abs=0.05), name
    assert last(a, "output_amps 3") == pytest.approx(0.0, abs=0.01)
    assert any(h.told and "Carsten" in h.says for h in a.happenings)
