"""Every hazard check fires on a planted case, with the right word, and the clean rig stays silent (see test_guard_cases)."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import pytest
from tests.studies.guard_rigs import AH, C0, RPM, clean_rig, clinic, m, with_part

from sparewatt.parts import Clamp, Converter, Diode, Fuse, Load, Neighbour, Ride, Rig, Switch
from sparewatt.studies.guard.findings import CHECKS, guard

Plant = Callable[[Rig], Rig]


def part(where: str, **fields: object) -> Plant:
    """Change fields of one part."""
    return lambda rig: with_part(rig, where, **fields)


def both(*plants: Plant) -> Plant:
    """Several changes, one after the other."""

    def change(rig: Rig) -> Rig:
        for plant in plants:
            rig = plant(rig)
        return rig

    return change


def whole(**fields: object) -> Plant:
    """Change fields of the rig itself."""
    return lambda rig: dataclasses.replace(rig, **fields)


def load(**fields: object) -> Plant:
    """Another load in place of the lamp."""
    return whole(
        load=(
            Load(**({"name": "thing", "kind": "electronics", "power": m(20.0), "voltage": m(12.0)} | fields)),
        )
    )  # type: ignore[arg-type]


INVERTER = Converter(name="inverter", kind="inverter", at="load", power_rating=m(300.0))
LOOK, STOP = "look again", "stop"
NO_BATTERY = whole(
    battery=None, fuse=(), converter=(), bus=None, ride=Ride(load="lamp", effort=m(100.0), duration=m(AH))
)
THING = whole(battery=None, ride=Ride(load="thing", effort=m(100.0), duration=m(AH)))

PLANTED: list[tuple[str, Plant, str]] = [
    ("over-volts: step-down board", part("converter.0", input_max=m(40.0)), STOP),
    ("over-volts: step-down board", part("converter.0", input_max=m(50.0)), LOOK),
    ("over-volts: step-down board", part("converter.0", input_max=None), LOOK),
    ("over-volts: bus capacitor", part("bus", capacitor_voltage=m(35.0)), STOP),
    ("load rejection", part("converter.0", input_max=m(40.0)), LOOK),
    ("passes through", part("converter.0", kind="boost"), LOOK),
    (
        "touch volts",
        both(part("machine", emf_constant=m(0.25)), part("converter.0", input_max=m(150.0))),
        LOOK,
    ),
    ("touch volts", both(part("machine", emf_constant=m(0.25)), part("place", wet=True)), STOP),
    ("touch volts", part("place", wet=True), LOOK),
    ("capacitor stays charged", both(part("machine", emf_constant=m(0.25)), part("bus", bleeder=None)), LOOK),
    ("capacitor energy", part("bus", capacitance=m(0.1)), LOOK),
    (
        "flicker: lamp",
        both(NO_BATTERY, part("load.0", power=m(80.0), kind="lamp", voltage=m(16.0), voltage_max=m(30.0))),
        LOOK,
    ),
    ("board and coil", part("bus", capacitance=m(3e-4)), LOOK),
    ("fuse in a sprint", part("fuse.0", rating=m(5.0)), LOOK),
    ("no diode", both(whole(diode=None), part("converter.0", kind="buck_boost")), LOOK),
    ("no fuse", whole(fuse=()), STOP),
    ("run without a fuse", part("fuse.0", run="board"), LOOK),
    ("fuse breaking", part("fuse.0", breaking_current=m(1000.0)), LOOK),
    ("fuse volts", part("fuse.0", dc_voltage=m(12.0)), LOOK),
    ("fuse place", part("fuse.0", from_post=m(1.0)), LOOK),
    ("fuse unread", part("fuse.0", breaking_current=None), LOOK),
    (
        "switch",
        part("switch.0", dc_voltage=None, dc_current=None, ac_voltage=m(250.0), ac_current=m(10.0)),
        "quiet",
    ),
    ("switch", part("switch.0", dc_voltage=None, dc_current=None), LOOK),
    ("switch", part("switch.0", dc_voltage=m(12.0), run="board"), LOOK),
    (
        "switch",
        whole(switch=(Switch(name="wall switch", run="machine", ac_voltage=m(250.0), ac_current=m(10.0)),)),
        STOP,
    ),
    ("switch", whole(switch=(Switch(name="old switch", run="machine"),)), LOOK),
    ("on dc: thing", load(kind="transformer"), STOP),
    ("on dc: thing", load(kind="universal_motor", trigger="electronic", voltage=m(110.0)), STOP),
    ("on dc: thing", load(kind="universal_motor", trigger="contact", voltage=m(110.0)), LOOK),
    ("on dc: thing", load(kind="unknown"), STOP),
    (
        "cold winding",
        load(kind="electronics", voltage=m(110.0), winding_resistance=m(8.0), plate_current=m(2.0)),
        STOP,
    ),
    (
        "stepped far",
        both(
            part("converter.0", kind="buck_boost", set_voltage=m(110.0), input_min=m(5.0)),
            part("machine", emf_constant=m(0.06)),
            THING,
            load(voltage=m(110.0), power=m(30.0), through="step-down board", without_battery=True),
        ),
        LOOK,
    ),
    ("printed watts", part("converter.0", power_rating=m(60.0)), LOOK),
    (
        "inverter alone",
        both(
            THING,
            whole(converter=(dataclasses.replace(INVERTER, at="rig"),)),
            load(kind="electronics", voltage=m(230.0), through="inverter", without_battery=True),
        ),
        LOOK,
    ),
    (
        "inverter cuts out",
        both(
            lambda r: dataclasses.replace(r, converter=(*r.converter, INVERTER)),
            load(voltage=m(230.0), power=m(200.0), through="inverter"),
            part("wire.2", length=m(8.0), size=m(2.5e-6)),
        ),
        LOOK,
    ),
    (
        "winding too hot",
        part("machine", thermal_resistance=m(4.0), thermal_time=m(9000.0), winding_limit=m(C0 + 75)),
        LOOK,
    ),
    ("hot case", part("machine", thermal_resistance=m(5.0), thermal_time=m(600.0)), LOOK),
    ("machine kind", part("machine", kind="series"), STOP),
    ("chatters", lambda _r: clinic(35.0, 60.0), LOOK),
    ("house wiring", part("place", house_wiring=True), STOP),
    (
        "house wiring",
        both(
            part("place", house_wiring=None),
            lambda r: dataclasses.replace(r, converter=(*r.converter, INVERTER)),
        ),
        LOOK,
    ),
    ("no diode", whole(diode=None), STOP),
    ("no diode", whole(diode=Diode(kind="none")), STOP),
    ("diode volts", part("diode", voltage_rating=m(40.0)), STOP),
    ("charging amps", part("battery", charge_current=m(2.0)), LOOK),
    ("charging amps", part("battery", charge_current=m(1.0), voltage_limited=False), STOP),
    ("no volts limit", part("battery", voltage_limited=False), LOOK),
    (
        "no volts limit",
        both(part("battery", voltage_limited=False, in_room=True), part("place", closed=True)),
        STOP,
    ),
    (
        "hydrogen",
        both(
            part("battery", voltage_limited=False, in_room=True), part("place", closed=True, volume=m(12.0))
        ),
        STOP,
    ),
    ("hydrogen", both(part("battery", in_room=True), part("place", closed=True, volume=m(12.0))), LOOK),
    ("lithium bare", part("battery", chemistry="lifepo4", protected=False), STOP),
    ("lithium bare", part("battery", chemistry="lifepo4", protected=None), LOOK),
    ("lithium cold", part("battery", chemistry="lifepo4", protected=True, temperature=m(C0 - 3)), STOP),
    (
        "lithium direct",
        both(
            part("battery", chemistry="lifepo4", protected=True, through="", voltage_limited=None),
            whole(converter=()),
        ),
        LOOK,
    ),
    ("set volts", part("converter.0", set_voltage=m(16.0)), LOOK),
    (
        "set volts",
        both(
            part("battery", chemistry="lifepo4", protected=True, charge_voltage=None),
            part("converter.0", set_voltage=m(15.0)),
        ),
        STOP,
    ),
    ("frozen battery", part("battery", temperature=m(C0 - 25), charge=m(0.2)), STOP),
    ("panel charger", part("converter.0", panel_tracker=True), LOOK),
    (
        "shared bus",
        both(
            part("converter.0", set_current=None),
            whole(
                neighbour=(
                    Neighbour(name="rig 2", converter=Converter(name="b", kind="buck", set_voltage=m(14.1))),
                )
            ),
        ),
        LOOK,
    ),
    ("rim speed", part("flywheel.0", after_stage=2, diameter=m(0.5), material="cast_iron"), STOP),
    (
        "rim speed",
        part("flywheel.0", drilled_or_welded=True, material="plywood", diameter=m(0.45), after_stage=1),
        STOP,
    ),
    ("unbalance", part("flywheel.0", after_stage=2, off_centre=m(10e-3)), STOP),
    ("wheel guard", part("flywheel.0", guarded=False, mass=m(15.0), diameter=m(0.5)), STOP),
    ("wheel guard", part("flywheel.0", guarded=None), LOOK),
    ("run-down", part("flywheel.0", mass=m(20.0), diameter=m(0.6)), LOOK),
    ("nip guards", part("stage.0", guarded=None), LOOK),
    ("nip guards", both(part("stage.0", guarded=False), part("place", children=True)), STOP),
    ("slips", part("stage.1", kind="flat_belt", tension=m(3.0), friction=m(0.3)), LOOK),
    ("machine speed", part("machine", speed_limit=m(1500 * RPM)), LOOK),
    ("jolt", part("machine", resistance=m(0.02)), LOOK),
    (
        "noise",
        both(
            part("stage.1", kind="roller", press_force=m(300.0), friction=m(0.7)),
            part("ride", duration=m(6 * AH)),
        ),
        LOOK,
    ),
    ("co2", part("place", closed=True, volume=m(5.0)), STOP),
    ("co2", part("place", closed=None, volume=m(10.0)), LOOK),
    ("oxygen", part("place", closed=True, volume=m(12.0)), LOOK),
    ("heat", part("place", temperature=m(C0 + 31)), LOOK),
    ("heat", part("place", temperature=m(C0 + 38)), STOP),
    (
        "life: lamp",
        both(
            part("load.0", life_support=True, power=m(80.0)),
        ),
        STOP,
    ),
    (
        "life: lamp",
        both(
            part("load.0", life_support=True, power=m(5.0)),
        ),
        LOOK,
    ),
    ("screening", part("rider.0", fitness="unwell"), LOOK),
    ("screening", part("rider.0", age=m(72.0)), LOOK),
    ("screening", part("ride", effort=m(240.0)), LOOK),
]


@pytest.mark.parametrize(
    ("key", "plant", "check"), PLANTED, ids=[f"{k}, {c}, {n}" for n, (k, _p, c) in enumerate(PLANTED)]
)
def test_a_planted_hazard_is_found(key: str, plant: Plant, check: str) -> None:
    """One change to the clean rig brings this finding with this word ("quiet": it stays away)."""
    findings = [f for f in guard(plant(clean_rig())).findings if f.key.startswith(key)]
    if check == "quiet":
        assert findings == []
        return
    assert [f.check for f in findings][:1] == [check], [
        (f.key, f.check) for f in guard(plant(clean_rig())).findings
    ]


def test_each_check_has_a_planted_case() -> None:
    """No check is left without a rig on which it fires."""
    fired = {key.split(":")[0] for key, _plant, word in PLANTED if word != "quiet"}
    expected = {
        "over-volts",
        "passes through",
        "load rejection",
        "touch volts",
        "capacitor stays charged",
        "capacitor energy",
        "flicker",
        "board and coil",
        "fuse in a sprint",
        "no fuse",
        "run without a fuse",
        "fuse breaking",
        "fuse volts",
        "fuse place",
        "fuse unread",
        "switch",
        "on dc",
        "cold winding",
        "stepped far",
        "printed watts",
        "inverter alone",
        "inverter cuts out",
        "winding too hot",
        "hot case",
        "chatters",
        "machine kind",
        "house wiring",
        "no diode",
        "diode volts",
        "charging amps",
        "no volts limit",
        "hydrogen",
        "lithium bare",
        "lithium cold",
        "lithium direct",
        "set volts",
        "frozen battery",
        "panel charger",
        "shared bus",
        "rim speed",
        "unbalance",
        "wheel guard",
        "run-down",
        "nip guards",
        "slips",
        "machine speed",
        "jolt",
        "noise",
        "co2",
        "oxygen",
        "heat",
        "life",
        "screening",
    }
    assert fired == expected
    assert len(CHECKS) <= len(expected)


def test_a_clamp_that_is_too_small_does_not_count() -> None:
    """A 50 W resistor does not hold a sprint."""
    rig = with_part(clean_rig(), "converter.0", input_max=m(40.0))
    small = dataclasses.replace(rig, clamp=Clamp(voltage=m(30.0), resistance=m(2.0), power=m(50.0)))
    assert any(f.key.startswith("over-volts") and f.check == "stop" for f in guard(small).findings)


def test_an_open_room_is_quiet_and_a_vented_one_too() -> None:
    """Fresh air enough for one rider takes the air clock away."""
    shut = with_part(clean_rig(), "place", closed=True, volume=m(30.0))
    vented = with_part(shut, "place", fresh_air=m(60 / 3600))
    assert any(f.key == "co2" for f in guard(shut).findings)
    assert not any(f.key in ("co2", "oxygen") for f in guard(vented).findings)


def test_a_fuse_at_the_post_guards_every_run() -> None:
    """One fuse named for the battery's own run counts for the charging run as well."""
    rig = clean_rig(
        fuse=(
            Fuse(
                run="battery",
                rating=m(15.0),
                dc_voltage=m(32.0),
                breaking_current=m(4000.0),
                from_post=m(0.1),
            ),
        )
    )
    rig = with_part(rig, "wire.3", size=m(4e-6))  # the lamp's lead, which it guards as well
    assert not any("fuse" in f.key for f in guard(rig).findings)


def test_a_neighbour_with_its_own_machine_is_looked_at() -> None:
    """A stronger machine on the second rig over-volts the same board."""
    strong = dataclasses.replace(clean_rig().machine or exit(), name="strong", emf_constant=m(0.4))
    rig = clean_rig(neighbour=(Neighbour(name="rig 2", machine=strong),))
    assert any(f.key.endswith("(rig 2)") and f.check == "stop" for f in guard(rig).findings)
