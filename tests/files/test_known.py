"""What the bench made known goes into the rig file with its spread and its note, and comes back to the last digit."""

from __future__ import annotations

import dataclasses
import math
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.files.samples import HUT
from tests.files.test_editing import difference

from sparewatt.errors import BadRig, CannotWrite, ChangedElsewhere
from sparewatt.files import Loaded, read_rig, read_text
from sparewatt.files.known import (
    KNOWN_FILE,
    Known,
    known_path,
    known_text,
    read_known,
    write_known,
)
from sparewatt.studies.bench.answers import Constant, KnownPart

K, R = 0.1138423571, 0.8731
NOTE = "bench, 14 readings, 2026-05-02"


@pytest.fixture
def hut(tmp_path: Path) -> Loaded:
    """The hut's rig file on disk, as read."""
    (tmp_path / "rig.toml").write_bytes(HUT.encode())
    return read_rig(tmp_path)


def machine(**more) -> Known:
    """A machine of which volts per turn and ohms are known, and one more thing that has no place."""
    constants = (
        Constant(name="emf_constant", value=K, sd=0.00093, low=0.1123, high=0.1154, unit="V*s/rad",
                 key="machine.emf_constant", says="volts for each turn", before=0.1146, before_sd=0.011),
        Constant(name="resistance", value=R, sd=0.0712, low=0.76, high=0.99, unit="ohm", key="machine.resistance"),
        Constant(name="gain", value=1.01, sd=0.012, low=0.99, high=1.03),
        Constant(name="friction_slope", value=math.nan, sd=math.nan, low=math.nan, high=math.nan,
                 key="machine.friction_slope", why_no_sd="only one speed was read"),
    )  # fmt: skip
    correlation = np.full((4, 4), math.nan)
    correlation[:3, :3] = [[1.0, -0.8, 0.1], [-0.8, 1.0, 1 / 3], [0.1, 1 / 3, 1.0]]
    part = KnownPart(part="machine", name="walking-machine motor", constants=constants, correlation=correlation,
                     readings=14, at="2026-05-02", **more)  # fmt: skip
    return Known(part, ("open_volts 10:05", "loaded_volts 10:20"))


def same(one: Known, other: Known) -> bool:
    """Equal to the last bit, with NaN equal to NaN."""
    plain = [dataclasses.replace(known.part, correlation=None) for known in (one, other)]
    bits = [np.asarray(known.part.correlation, dtype=float) for known in (one, other)]
    return (
        repr(plain[0]) == repr(plain[1]) and one.used == other.used and np.array_equal(*bits, equal_nan=True)
    )


def test_constants_stand_in_the_rig_file(hut):
    """Each constant with a place and a spread is measured, in the unit that stood there, with a note; all else stays."""
    written = write_known(hut, [machine()])
    lines = difference(HUT, (hut.path.parent / "rig.toml").read_text())
    assert lines == [
        '-resistance = { value = "0.9 ohm", spread = "0.05 ohm", how = "measured", note = "four readings" }',
        '-emf_constant = "12 V per 1000 rpm"',
        '+resistance = {value = "0.8731 ohm +/- 0.0712 ohm", note = "' + NOTE + '"}',
        '+emf_constant = {value = "11.9215 V per 1000 rpm +/- 0.0974 V per 1000 rpm", note = "' + NOTE + '"}',
    ]
    found = written.edited.loaded.rig.machine
    assert found.emf_constant.how == found.resistance.how == "measured"
    assert found.emf_constant.value == pytest.approx(K, abs=0.00093 / 100)
    assert found.emf_constant.sd == pytest.approx(0.00093, rel=0.005)
    assert found.emf_constant.note == NOTE
    assert dict(written.left) == {
        "gain": "a rig file has no place for it.", "friction_slope": "only one speed was read",
    }  # fmt: skip
    assert written.edited.before == HUT


def test_known_comes_back_to_the_last_digit(hut, tmp_path_factory):
    """Every number of known.toml, NaN and a third included, comes back as it was, with the marks of its readings."""
    write_known(hut, [machine(note="in the shed")])
    (back,) = read_known(hut.path)
    assert same(back, machine(note="in the shed"))
    assert read_known(tmp_path_factory.mktemp("bare")) == ()


def test_a_new_fit_replaces_its_own_part_only(hut):
    """A second fit of the machine takes the place of the first; the battery stays as it was."""
    battery = Known(
        KnownPart(
            part="battery",
            name="hut battery",
            constants=(),
            correlation=np.zeros((0, 0)),
            readings=3,
            at="1 May",
        )
    )
    first = write_known(hut, [machine(), battery]).edited.loaded
    write_known(first, [machine(note="again")])
    kept = read_known(hut.path)
    assert [known.part.part for known in kept] == ["machine", "battery"]
    assert kept[0].part.note == "again"
    assert same(kept[1], battery)


def test_what_no_reading_touched_is_left(hut):
    """A constant that is still as typical as before is not passed off as measured; one that was computed says so."""
    one, other = machine().part.constants[:2]
    constants = (dataclasses.replace(one, how="typical"), dataclasses.replace(other, how="computed"))
    part = dataclasses.replace(machine().part, constants=constants, correlation=np.eye(2))
    written = write_known(hut, [Known(part)])
    assert dict(written.left) == {"emf_constant": "the readings tell no more of it than the rig file did."}
    found = written.edited.loaded.rig.machine
    assert found.emf_constant == hut.rig.machine.emf_constant
    assert (found.resistance.how, found.resistance.note) == ("computed", NOTE)


def test_more_changes_go_with_them(hut):
    """A curve is written in the same go."""
    curve = [("converter.0.efficiency_curve", "[[5, 0.78], [50, 0.9]]")]
    found = write_known(hut, [machine()], changes=curve).edited.loaded
    assert found.rig.converter[0].efficiency_curve == ((5.0, 0.78), (50.0, 0.9))


def test_what_cannot_stand_there_is_refused_whole(hut):
    """A constant that no rig can have, or a place that is not there, leaves both files as they were."""
    odd = dataclasses.replace(machine().part.constants[1], value=-0.3)
    bad = dataclasses.replace(
        machine().part, constants=(machine().part.constants[0], odd), correlation=np.eye(2)
    )
    with pytest.raises(BadRig, match="resistance"):
        write_known(hut, [Known(bad)])
    assert hut.path.read_text() == HUT
    assert not known_path(hut.path).exists()


def test_somebody_changed_the_rig_meanwhile(hut):
    """An edit by somebody else since the rig was read is not written over, and known.toml is not written either."""
    hut.path.write_text(HUT + "# by hand\n")
    with pytest.raises(ChangedElsewhere):
        write_known(hut, [machine()])
    assert hut.path.read_text() == HUT + "# by hand\n"
    assert not known_path(hut.path).exists()


def test_a_full_disk_leaves_both_files(hut, monkeypatch):
    """When the disk refuses, nothing is half-written."""
    real, calls = os.fsync, []

    def full(handle):
        calls.append(handle)
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotWrite):
        write_known(hut, [machine()])
    monkeypatch.setattr(os, "fsync", real)
    assert calls
    assert hut.path.read_text() == HUT
    assert sorted(path.name for path in hut.path.parent.iterdir()) == ["rig.toml"]


def test_a_rig_in_no_file_is_only_computed():
    """A rig that stands in no file gets its constants and writes nothing."""
    written = write_known(read_text(HUT), [machine()])
    assert written.edited.loaded.rig.machine.resistance.note.startswith("bench")


@pytest.mark.parametrize("text", ["[[part", "part = 3", "[[part]]\nname = 3", '[[part]]\npart = "m"\n'])
def test_a_spoilt_known_file_says_what_to_do(tmp_path, text):
    """A known.toml that cannot be read names itself and the way out."""
    (tmp_path / KNOWN_FILE).write_text(text)
    with pytest.raises(BadRig, match="out of the way"):
        read_known(tmp_path)


FLOATS = st.floats(allow_nan=True, allow_infinity=True)
WORDS = st.text(st.characters(blacklist_categories=("Cs",)), max_size=12)
CONSTANTS = st.builds(
    Constant, name=WORDS, value=FLOATS, sd=FLOATS, low=FLOATS, high=FLOATS, unit=WORDS, how=WORDS, why_no_sd=WORDS,
    key=WORDS, says=WORDS, before=FLOATS, before_sd=FLOATS,
)  # fmt: skip


@st.composite
def knowns(draw) -> Known:
    """Any known part at all."""
    constants = tuple(draw(st.lists(CONSTANTS, max_size=4)))
    n = len(constants)
    numbers = draw(st.lists(FLOATS, min_size=n * n, max_size=n * n))
    part = KnownPart(
        part=draw(WORDS), name=draw(WORDS), constants=constants, correlation=np.array(numbers).reshape(n, n),
        readings=draw(st.integers(0, 999)), at=draw(WORDS), note=draw(WORDS),
    )  # fmt: skip
    return Known(part, tuple(draw(st.lists(WORDS, max_size=3))))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(parts=st.lists(knowns(), max_size=3))
def test_any_known_part_comes_back(tmp_path, parts):
    """Whatever a part holds, it comes back bit for bit from the text of known.toml."""
    (tmp_path / KNOWN_FILE).write_bytes(known_text(parts).encode())
    back = read_known(tmp_path)
    assert len(back) == len(parts)
    assert all(same(*pair) for pair in zip(back, parts, strict=True))


@settings(max_examples=60, deadline=None)
@given(value=st.floats(1e-3, 5.0), share=st.floats(1e-4, 1.0))
def test_any_spread_is_kept(value, share):
    """The constant in the rig file is within a hundredth of its spread of the fitted one, and its spread within 1 %."""
    constant = dataclasses.replace(machine().part.constants[1], value=value, sd=share * value)
    part = dataclasses.replace(machine().part, constants=(constant,), correlation=np.eye(1))
    found = write_known(read_text(HUT), [Known(part)]).edited.loaded.rig
    assert abs(found.machine.resistance.value - value) <= 0.01 * share * value
    assert found.machine.resistance.sd == pytest.approx(share * value, rel=0.01)
