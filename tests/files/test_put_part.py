"""A part off a label goes into the rig file whole: every number as on the label, comments and all else as they were."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.files.samples import HUT
from tests.files.test_editing import difference

from sparewatt.errors import BadRequest, BadRig, CannotWrite, ChangedElsewhere, SparewattError
from sparewatt.files import Loaded, demo_list, demo_text, read_rig, read_text
from sparewatt.files.put_part import put_part
from sparewatt.parts import Battery, Effort, Machine, Measured, Rider

EXACT = (
    'value = "22.120432222260874 V/krpm", spread = "0.32898681336964525 V/krpm", how = "measured", '
    'note = "by a drill"'
)
DEMOS = [demo.key for demo in demo_list()]
MOTOR = Machine(
    name="walking-machine motor",
    emf_constant=Measured(0.21123456789012346, 0.0031415926535897933, "measured", "by a drill"),
    resistance=Measured(0.9, 0.05, "measured", "four readings"),
    brush_drop=Measured(1.2, 0.3, "typical", ""),
    magnets="ferrite",
)


@pytest.fixture
def hut(tmp_path: Path) -> Loaded:
    """The hut's rig file on disk, as read."""
    (tmp_path / "rig.toml").write_bytes(HUT.encode())
    return read_rig(tmp_path)


def test_a_machine_goes_in_key_by_key(hut):
    """What already says the same stays as written, the rest changes, what the label does not give goes; comments stay."""
    edited = put_part(hut, "machine", MOTOR)
    assert edited.loaded.rig.machine == MOTOR
    assert edited.before == HUT
    changed = difference(HUT, hut.path.read_text())
    assert changed == [
        '-emf_constant = "12 V per 1000 rpm"',
        '-plate_voltage = "95 V"',
        '-winding_limit = "130 degC"',
        "+emf_constant = { " + EXACT + " }",
        '+brush_drop = { value = "1.2 V", how = "typical" }',
        '+magnets = "ferrite"',
    ]
    assert "[machine] # from a walking machine" in hut.path.read_text()


@pytest.mark.parametrize("demo", DEMOS)
def test_every_part_of_every_demo_goes_in(hut, demo):
    """Each part of the demo rigs takes the place of the hut's, or goes behind it, and reads back just the same."""
    rig = read_text(demo_text(demo)).rig
    draft = dataclasses.replace(hut, path=None)
    for name in ("machine", "battery", "diode", "clamp"):
        part = getattr(rig, name)
        if part is not None:
            try:
                found = put_part(draft, name, part).loaded.rig
            except BadRig:  # a board that the battery names is not in the hut
                assert getattr(part, "through", "")
                continue
            assert getattr(found, name) == part
    for name in ("converter", "stage", "rider", "load", "flywheel"):
        for part in getattr(rig, name):
            if getattr(part, "through", ""):
                continue
            there = getattr(draft.rig, name)
            part = dataclasses.replace(part, name=f"{part.name} of {demo}")
            assert getattr(put_part(draft, name, part).loaded.rig, name) == (*there, part)


def test_a_rider_takes_timed_efforts_along(hut):
    """Efforts go in with their rider, in the place of those that were there; the other rider stays."""
    efforts = (
        Effort(power=Measured(310.0, 9.3, "measured", "2 May"), time=Measured(180.0, 1.0)),
        Effort(power=Measured(220.0, 6.6), time=Measured(720.0, 2.0, "measured", "")),
    )
    rider = Rider(name="Ansa", mass=Measured(70.0, 0.0), effort=efforts)
    found = put_part(hut, "rider.0", rider).loaded.rig
    assert found.rider == (rider, hut.rig.rider[1])
    assert found.stage == hut.rig.stage
    assert found.machine == hut.rig.machine


def test_what_does_not_belong_there_is_refused(hut):
    """A battery is no machine, a fifth board is not there, and a part that clashes with the rest says with what."""
    with pytest.raises(BadRequest, match="battery"):
        put_part(hut, "machine", Battery(name="b"))
    with pytest.raises(BadRequest, match="only"):
        put_part(hut, "rider.7", Rider(name="c"))
    with pytest.raises(BadRequest):
        put_part(hut, "nonsense", MOTOR)
    volts = Measured(12.0, 0.0)
    lost = Battery(
        name="b", voltage=volts, capacity=Measured(72e3, 7e3, "nameplate"), through="no such board"
    )
    with pytest.raises(BadRig, match="no such board"):
        put_part(hut, "battery", lost)
    assert hut.path.read_text() == HUT


def test_a_file_laid_out_oddly_is_left_alone(tmp_path):
    """Where the table is written in a way that cannot be changed, nothing is, and it is said."""
    odd = (
        'name = "r"\nmachine.name = "m"\nconverter = [{ name = "a", kind = "buck" }]\n[[rider]]\nname = "a"\n'
    )
    (tmp_path / "rig.toml").write_text(odd)
    loaded = read_rig(tmp_path)
    board = read_text(demo_text("skerry")).rig.converter[0]
    with pytest.raises((CannotWrite, BadRig)):
        put_part(loaded, "converter", board)
    assert (tmp_path / "rig.toml").read_text() == odd


def test_nobody_is_written_over(hut):
    """An edit by somebody else since the rig was read is not written over."""
    hut.path.write_text(HUT + "# by hand\n")
    with pytest.raises(ChangedElsewhere):
        put_part(hut, "machine", MOTOR)
    assert hut.path.read_text() == HUT + "# by hand\n"


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    name=st.text(max_size=12),
    value=st.floats(1e-3, 15.0),
    sd=st.floats(0.0, 3.0),
    how=st.sampled_from(("measured", "computed", "nameplate", "typical", "guess")),
    note=st.text(max_size=20),
)
def test_any_numbers_and_words_go_in_or_are_refused_whole(hut, name, value, sd, how, note):
    """Whatever the label holds, the rig then holds the same to the last bit, or nothing was written."""
    part = Machine(name=name, emf_constant=Measured(value, sd, how, note), kind="pm_dc")
    draft = dataclasses.replace(hut, path=None)
    try:
        found = put_part(draft, "machine", part).loaded.rig.machine
    except SparewattError:
        return
    assert found == part
