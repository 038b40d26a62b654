"""Any rig that a person could write is answered, never with a crash, a promise or a number that is not one."""

from __future__ import annotations

import math

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sparewatt.errors import SparewattError
from sparewatt.files import read_text
from sparewatt.rig.asking import ask_for
from sparewatt.studies.answers import VERDICTS
from sparewatt.studies.guard.findings import guard
from sparewatt.studies.loads import loads
from sparewatt.studies.match import match
from sparewatt.studies.worth import worth

KINDS = ["electronics", "usb", "led", "lamp", "heater", "dc_motor", "universal_motor", "switch_supply", "transformer",
         "induction_motor", "unknown"]  # fmt: skip
BELTS = ["flat_belt", "v_belt", "ribbed_belt", "toothed_belt", "roller", "rim_wheel"]


@st.composite
def rig_texts(draw: st.DrawFn) -> str:
    """A rig file with most kinds of part, sizes from silly to sensible, and many silent fields."""

    def one_of(*lines: str) -> str:
        return draw(st.sampled_from(["", *lines]))

    teeth = draw(st.lists(st.integers(9, 60), min_size=1, max_size=4, unique=True))
    text = [
        'name = "any"',
        "[[rider]]",
        'name = "a"',
        one_of('fitness = "unwell"', 'fitness = "athlete"', 'uses = "arms"'),
    ]
    text += [one_of('mass = "45 kg"', 'critical_power = "90 W +/- 20 W"'), "[[stage]]", 'kind = "chain"']
    text += [f"driver_teeth = [{draw(st.integers(20, 60))}]", f"driven_teeth = {teeth}"]
    text += [
        "[[stage]]",
        f'kind = "{draw(st.sampled_from(BELTS))}"',
        f'driver_diameter = "{draw(st.integers(80, 700))} mm"',
    ]
    text += [f'driven_diameter = "{draw(st.integers(10, 300))} mm"', "[machine]"]
    text += [
        f'kind = "{draw(st.sampled_from(["pm_dc", "pm_dc", "pm_three_phase", "alternator", "series", "induction"]))}"'
    ]
    text += [
        one_of(
            'plate_voltage = "24 V"',
            'plate_voltage = "130 V"\nplate_current = "20 A"',
            'emf_constant = "0.3 V*s/rad"',
        )
    ]
    text += [one_of('[diode]\nkind = "schottky"', '[diode]\nkind = "none"', '[diode]\nkind = "ideal"')]
    boards = draw(st.lists(st.sampled_from(["buck", "boost", "buck_boost", "inverter"]), max_size=2))
    for k, kind in enumerate(boards):
        text += ["[[converter]]", f'name = "board {k}"', f'kind = "{kind}"']
        text += [
            one_of('set_voltage = "14 V"', 'set_voltage = "28 V"', 'set_voltage = "110 V"'),
            one_of('set_current = "3 A"'),
        ]
        text += [one_of('input_max = "60 V"', 'input_current = "5 A"', 'at = "load"', 'at = "rig"')]
    if draw(st.booleans()):
        chemistry = draw(st.sampled_from(["flooded", "agm", "gel", "lifepo4", "lithium_other"]))
        text += [
            "[battery]",
            f'chemistry = "{chemistry}"',
            f'voltage = "{draw(st.sampled_from([6, 12, 24]))} V"',
        ]
        text += [f'capacity = "{draw(st.integers(1, 200))} Ah"']
        text += (
            [f'through = "board {draw(st.integers(0, len(boards) - 1))}"']
            if boards and draw(st.booleans())
            else []
        )
    for k in range(draw(st.integers(1, 2))):
        text += ["[[load]]", f'name = "thing {k}"', f'kind = "{draw(st.sampled_from(KINDS))}"']
        text += [one_of('power = "5 W"', 'power = "300 W"', 'plate_power = "600 W"\nplate_voltage = "230 V"')]
        text += [
            one_of('voltage = "12 V"', 'voltage = "5 V"'),
            one_of("motion = true", "without_battery = true"),
        ]
        text += (
            [f'through = "board {draw(st.integers(0, len(boards) - 1))}"']
            if boards and draw(st.booleans())
            else []
        )
    text += ['[[neighbour]]\nname = "rig 2"'] if draw(st.integers(0, 5)) == 0 else []
    return "\n".join(line for line in text if line)


@settings(suppress_health_check=[HealthCheck.too_slow])
@given(text=rig_texts(), effort=st.sampled_from([None, 40.0, 150.0, 600.0]))
def test_any_rig_is_answered(text: str, effort: float | None) -> None:
    """Match for every load and the charge, loads, worth and guard: a verdict, bands in order, or a clear refusal."""
    try:
        rig = read_text(text).rig
    except SparewattError:
        return
    asked = [load.name for load in rig.load] + (["charge"] if rig.battery is not None else [])
    for name in asked:
        try:
            a = match(rig, ask_for(rig, load=name, effort=effort, draws=64))
        except SparewattError:
            continue
        assert a.verdict in VERDICTS
        assert a.verdict == "not by legs" or math.isfinite(a.hold.mid) or a.point is not None
        for band in (a.hold, a.delivered, a.rider):
            if math.isfinite(band.low) and math.isfinite(band.mid):
                assert band.low <= band.high
        if a.point is not None:
            arrived = sum(link.toll for link in a.chain)
            assert math.isfinite(arrived)
        assert all(change.says for change in a.nearest_yes)
    for study in (lambda: loads(rig), lambda: worth(rig), lambda: guard(rig)):
        try:
            study()
        except SparewattError:
            continue
