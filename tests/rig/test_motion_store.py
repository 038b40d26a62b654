"""Both ends of a store in the moving rig: full, empty, gas, a pack's protection; and the law the steady answers share."""

from __future__ import annotations

import numpy as np
import pytest
from tests.rig.movers import happened, mover, ride

from sparewatt.files import read_text
from sparewatt.language.script import script_from_words
from sparewatt.parts import Battery
from sparewatt.physics import store
from sparewatt.rig import storing
from sparewatt.rig.fill import exact, fill
from sparewatt.rig.motion_layout import Act, Event
from sparewatt.studies.scenes.answers import SceneAnswer
from sparewatt.studies.scenes.seconds import play_scene

RIG = """
name = "x"
[[rider]]
name = "you"
[[stage]]
kind = "chain"
driver_teeth = [44]
driven_teeth = [16]
[[stage]]
kind = "flat_belt"
driver_diameter = "560 mm"
driven_diameter = "60 mm"
[machine]
kind = "pm_dc"
emf_constant = "0.075 V*s/rad"
resistance = "0.26 ohm"
[diode]
kind = "schottky"
[battery]
chemistry = "{chemistry}"
voltage = "12 V"
capacity = "10 Ah"
health = "100 %"
charge = "{charge}"
temperature = "{temperature}"
{more}
"""
LAMP = """
[[load]]
name = "lamp"
kind = "heater"
power = "60 W"
voltage = "12 V"
"""
STOP = "at 1 s stop pedalling"


def rode(
    chemistry: str,
    charge: str,
    words: str,
    *,
    load: str = "charge",
    hours: float,
    more: str = "",
    temperature: str = "25 degC",
) -> SceneAnswer:
    """One long scene of a bare machine on a battery."""
    text = RIG.replace("60 mm", "30 mm") if "buck" in more else RIG
    rig = fill(
        read_text(text.format(chemistry=chemistry, charge=charge, more=more, temperature=temperature)).rig
    )
    script = script_from_words(rig, words, load=load, duration=hours * 3600.0, effort=100.0)
    return play_scene(rig, script, runs=0)


def keys(a: SceneAnswer) -> list[str]:
    """What happens, in order."""
    return [h.key for h in a.happenings if not h.told]


@pytest.mark.parametrize("chemistry", ["flooded", "agm"])
def test_a_lead_battery_that_nothing_limits_fills_and_gasses(chemistry: str) -> None:
    """Charge ends at full, not beyond; amps go on as gas, at 2.6 to 3.0 V a cell (common practice, no source), and the
    ledger has what was lost."""
    a = rode(chemistry, "90 %", "riding", hours=12)
    soc, volts = a.track("charge").values, a.track("output_volts").values
    assert np.all((soc >= 0) & (soc <= 1))
    assert soc[-1] > 0.995
    assert a.track("battery_amps").values[-1] > 1
    assert 6 * 2.6 < volts[-1] < 6 * 3.0
    assert "battery_full" in keys(a)
    lost = {e.key: e.joules for e in a.ledger}
    assert lost["gas"] > lost["battery"] > 0
    assert a.closes < 1e-3
    assert any(p.key == "battery volts" and p.over for p in a.peaks)


def test_a_board_at_its_charging_volts_tapers() -> None:
    """At steady volts the amps die away, and the volts stay where the board holds them."""
    board = (
        "[[converter]]\nname = 'b'\nkind = 'buck'\nset_voltage = '14.4 V'\ninput_max = '60 V'\nat = 'rig'\n"
    )
    more = "through = 'b'\n" + board
    a = rode("agm", "75 %", "riding", hours=10, more=more)
    amps, volts, soc = (a.track(k).values for k in ("battery_amps", "output_volts", "charge"))
    assert amps[0] > 2
    assert amps[-1] < 0.1 * amps[0]
    assert volts.max() < 14.5
    assert 0.97 < soc[-1] <= 1
    late = soc > 0.9
    takes = store.acceptance_current(soc[late], capacity=36e3, tail_time=0.8 * 3600)  # [acceptance]
    assert np.all(amps[late] < takes + 0.1)


def test_a_full_lithium_pack_opens_and_the_bus_jumps() -> None:
    """Its protection opens at 3.65 V a cell (common practice, no source); the bus goes to
    what the machine makes unloaded."""
    a = rode("lifepo4", "95 %", "riding", hours=0.2)
    first = next(h for h in a.happenings if h.key == "protects_full")
    assert first.value > 20
    assert f"the bus jumps to {first.value:.3g} V" in first.says
    volts = next(p for p in a.peaks if p.key == "battery volts")
    assert volts.value == pytest.approx(4 * 3.65, rel=2e-3)
    assert a.track("charge").values.max() <= 1


def test_a_pack_that_says_it_has_no_protection_does_not_open() -> None:
    """Without the circuit the volts go on up, which is what hurts."""
    a = rode("lifepo4", "95 %", "riding", hours=0.5, more="protected = false")
    assert "protects_full" not in keys(a)
    assert next(p for p in a.peaks if p.key == "battery volts").over


@pytest.mark.parametrize(("chemistry", "told"), [("flooded", "battery_empty"), ("lifepo4", "protects_empty")])
def test_a_battery_runs_down_to_nothing_and_no_further(chemistry: str, told: str) -> None:
    """A heater left on empties it: told, volts gone, charge at nothing and not below, and the ledger closes."""
    a = rode(chemistry, "20 %", f"at 0.5 s switch the lamp on; {STOP}", load="lamp", hours=6, more=LAMP)
    soc = a.track("charge").values
    assert np.all((soc >= 0) & (soc <= 1))
    assert soc[-1] < 0.012
    assert told in keys(a)
    assert a.track("output_volts").values[-1] < 2
    assert a.closes < 1e-3


def test_too_many_amps_open_a_pack_for_a_while() -> None:
    """Three times the amps it allows open the protection within a quarter of a second; half a minute on it tries
    again."""
    battery = {"has_battery": 1.0, "v_rest": 13.0, "r_store": 0.05, "capacity": 36e3, "v_full": 14.4, "v_high": 14.6,
               "v_high_back": 13.3, "v_low": 5.0, "v_low_back": 12.8, "i_open": 20.0}  # fmt: skip
    moving = mover(output=battery | {"load_g": 5.0, "quit": 1.0}, param={"k_emf": 1e-3})
    run = ride(moving, np.linspace(0.0, 40.0, 81), script=[(0.1, Act.ON, 0, 0.0)])
    opened, closed = happened(run, Event.PROTECTS_AMPS), happened(run, Event.PROTECTION_CLOSES)
    assert opened[0] == pytest.approx(0.3, abs=0.01)
    assert closed[0] - opened[0] == pytest.approx(30, abs=0.01)


def test_the_law_is_that_of_the_published_charge() -> None:
    """Followed in small steps at steady amps, it fills as `store.charge_after` says [acceptance], within three points."""
    battery = Battery(
        voltage=exact(12.0), capacity=exact(36e3), charge_voltage=exact(14.7), chemistry="flooded"
    )
    law = storing.storing_of(battery, np.asarray(36e3))
    for amps in (1.0, 2.0, 4.0):
        soc = 0.5
        for n in range(1, 7201):
            most = storing.most_amps(soc, 36e3, law.tail_time)
            soc += storing.kept_amps(min(amps, most), most, law.eta_bulk, law.eta_tail) * 5.0 / 36e3
            if n % 720 == 0:
                said = store.charge_after(n * 5.0, soc=0.5, capacity=36e3, i_charge=amps, tail_time=3600.0)
                assert soc == pytest.approx(said, abs=0.03)


def test_a_cold_battery_takes_less() -> None:
    """The same battery at 5 degC takes half of what it takes at 25 (common practice, no source)."""
    tails = []
    for celsius in (25.0, 5.0):
        battery = Battery(
            voltage=exact(12.0), capacity=exact(36e3), charge_voltage=exact(14.7), chemistry="agm",
            temperature=exact(273.15 + celsius),
        )  # fmt: skip
        tails.append(storing.storing_of(battery, np.asarray(36e3)).tail_time)
    assert tails[1] == pytest.approx(2 * tails[0])


def test_numbers_and_arrays_follow_one_law() -> None:
    """The kernel's laws on numbers are the steady side's on arrays."""
    i = np.array([-3.0, 0.0, 0.5, 2.0, 9.0])
    most = storing.most_amps(np.full(5, 0.95), 36e3, 3600.0)
    kept, crowd = storing.kept_amps(i, most, 0.95, 0.8), storing.crowding(i, most, 1.2, 0.56, 0.04)
    assert kept[0] == -3.0
    assert np.all(np.diff(crowd) >= 0)
    for k in range(5):
        assert storing.kept_amps(i[k], most[k], 0.95, 0.8) == kept[k]
        assert storing.crowding(i[k], most[k], 1.2, 0.56, 0.04) == crowd[k]
