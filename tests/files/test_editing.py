"""Changing a rig file in place: comments stay, nothing unchecked or half is written, nobody is overwritten."""

from __future__ import annotations

import difflib
import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.files.samples import HUT

from sparewatt.errors import BadRequest, BadRig, CannotWrite, ChangedElsewhere, SparewattError
from sparewatt.files import (
    Loaded,
    add_part,
    read_rig,
    read_text,
    remove_part,
    replace_text,
    set_value,
    tried,
    write_new,
)
from sparewatt.parts import Measured


@pytest.fixture
def hut(tmp_path: Path) -> Loaded:
    """The hut's rig file on disk, as read."""
    (tmp_path / "rig.toml").write_bytes(HUT.encode())
    return read_rig(tmp_path)


def on_disk(loaded: Loaded) -> str:
    """What stands in the file now."""
    assert loaded.path is not None
    return loaded.path.read_bytes().decode()


def difference(before: str, after: str) -> list[str]:
    """The lines taken out and put in."""
    lines = difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0)
    return [line for line in lines if line[0] in "+-" and not line.startswith(("+++", "---"))]


@pytest.mark.parametrize(
    ("where", "text", "lines"),
    [
        ("rider.0.name", "Anso", ['-name = "Ansa"   # rides mornings', '+name = "Anso"   # rides mornings']),
        ("load.0.power", "6 W", ['-power = "5 W"', '+power = "6 W"']),
        ("load.lamp.power", " 6 W +/- 1 ", ['-power = "5 W"', '+power = "6 W +/- 1"']),
        ("battery.protected", "yes", ["-protected = false", "+protected = true"]),
        ("machine.plate_voltage", "", ['-plate_voltage = "95 V"']),
        ("machine.pole_pairs", "4", ["+pole_pairs = 4"]),
        ("stage.0.driver_teeth", "42, 34", ["-driver_teeth = [42]", "+driver_teeth = [42, 34]"]),
        ("stage.1.efficiency", "0.97", ["+efficiency = 0.97"]),
        ("stage.1.efficiency", "97 %", ['+efficiency = "97 %"']),
        ("battery.price", "40", ["+price = 40"]),
        (
            "converter.0.efficiency_curve",
            "[[1, 0.5], [2, 0.6]]",
            ["-efficiency_curve = [[5, 0.78], [50, 0.9]]", "+efficiency_curve = [[1, 0.5], [2, 0.6]]"],
        ),
        ("load.0.power.how", "nameplate", ['-power = "5 W"', '+power = {value = "5 W", how = "nameplate"}']),
    ],
)
def test_one_value_changes_one_line(hut: Loaded, where: str, text: str, lines: list[str]) -> None:
    """Only the line of the key changes; its comment and every other byte stay; the new rig is what a fresh reading gives."""
    edited = set_value(hut, where, text)
    assert difference(HUT, on_disk(edited.loaded)) == lines
    assert edited.before == HUT
    assert edited.loaded == read_rig(hut.path or "")


def test_keys_of_a_number_written_as_a_table(hut: Loaded) -> None:
    """How, note and spread can be changed on their own; a new value drops what was known of the old one."""
    step = set_value(hut, "machine.resistance.how", "computed").loaded
    step = set_value(step, "machine.resistance.note", "").loaded
    assert step.rig.machine is not None
    assert step.rig.machine.resistance == Measured(0.9, 0.05, "computed")
    step = set_value(step, "machine.resistance", "1 ohm").loaded
    assert step.rig.machine is not None
    assert step.rig.machine.resistance == Measured(1.0, 0.35, "guess")


def test_values_in_parts_that_are_not_there_yet(hut: Loaded) -> None:
    """The part is made; a long text is written on its own lines."""
    step = set_value(hut, "place.wet", "yes").loaded
    assert step.rig.place is not None
    assert step.rig.place.wet is True
    assert on_disk(step).startswith(HUT)
    story = 'First line, with "quotes" and a \\ in it.\nSecond line.'
    assert set_value(step, "story", story).loaded.rig.story == story


def test_parts_are_added_and_taken_out(hut: Loaded) -> None:
    """Tables come and go, other lines stay, and a part can be named instead of counted."""
    step = add_part(
        hut, "load", {"name": "corded drill", "kind": "universal_motor", "power": "300 W", "use_time": ""}
    ).loaded
    assert [load.name for load in step.rig.load] == ["lamp", "corded drill"]
    assert all(line.startswith("+") for line in difference(HUT, on_disk(step)))
    step = set_value(step, "load.corded drill.power", "310 W").loaded
    step = remove_part(step, "load.lamp").loaded
    step = remove_part(step, "load.0").loaded
    assert step.rig.load == ()
    step = add_part(step, "clamp", {"voltage": "34 V", "resistance": "3 ohm"}).loaded
    step = add_part(step, "rider.1.effort", {"power": "100 W", "time": "5 min"}).loaded
    assert step.rig.rider[1].effort[0].time == Measured(300.0, 105.0, "guess")
    step = remove_part(step, "clamp").loaded
    assert step.rig.clamp is None
    assert "# from a walking machine" in on_disk(step)


def test_undo_puts_the_text_back(hut: Loaded) -> None:
    """The text before the change, put back, is the file byte for byte."""
    edited = set_value(hut, "machine.resistance", "1 ohm")
    assert on_disk(hut) != HUT
    undone = replace_text(edited.loaded, edited.before)
    assert on_disk(hut) == HUT
    assert undone.before == edited.loaded.text
    assert undone.loaded == hut


@pytest.mark.parametrize("text", [HUT, HUT.rstrip("\n"), HUT.replace("\n", "\r\n"), "\ufeff" + HUT])
def test_setting_what_already_stands_there_writes_nothing(tmp_path: Path, text: str) -> None:
    """The same value again leaves every byte, and the file's time, alone."""
    path = tmp_path / "rig.toml"
    path.write_bytes(text.encode())
    os.utime(path, (1, 1))
    edited = set_value(read_rig(path), "rider.0.mass", "70 kg")
    assert path.read_bytes() == text.encode()
    assert path.stat().st_mtime == 1
    assert edited.loaded.text == text


@pytest.mark.parametrize("text", [HUT.replace("\n", "\r\n"), "\ufeff" + HUT])
def test_other_line_ends_and_marks_stay(tmp_path: Path, text: str) -> None:
    """A file of another editor keeps its line ends and its first mark."""
    path = tmp_path / "rig.toml"
    path.write_bytes(text.encode())
    set_value(read_rig(path), "rider.0.mass", "71 kg")
    assert path.read_bytes() == text.replace("70 kg", "71 kg").encode()


@pytest.mark.parametrize(
    ("where", "text"),
    [
        ("load.0.power", "6 V"),
        ("load.0.power", "6"),
        ("load.0.kind", "ledd"),
        ("battery.through", "x"),
        ("name", ""),
    ],
)
def test_what_would_not_be_usable_is_not_written(hut: Loaded, where: str, text: str) -> None:
    """A change that the check refuses says so at its key and leaves the file alone."""
    with pytest.raises(BadRig) as caught:
        set_value(hut, where, text)
    assert where in {problem.where for problem in caught.value.problems}
    assert on_disk(hut) == HUT


@pytest.mark.parametrize(
    "where",
    [
        "",
        "lod.0.power",
        "load.0.powr",
        "load.7.power",
        "load.drill.power",
        "load.0",
        "name.x",
        "machine.resistance.sprad",
        "load",
    ],
)
def test_keys_that_are_not_there(hut: Loaded, where: str) -> None:
    """A key path that names nothing is refused with the nearest right one."""
    with pytest.raises(BadRequest) as caught:
        set_value(hut, where, "1")
    assert caught.value.problems[0].hint
    assert on_disk(hut) == HUT


@pytest.mark.parametrize("where", ["load.7", "load", "clamp", "name", "battery.voltage"])
def test_parts_that_are_not_there_cannot_be_taken_out(hut: Loaded, where: str) -> None:
    """Only a part that stands in the file can be taken out."""
    with pytest.raises(BadRequest):
        remove_part(hut, where)


def test_a_second_battery_is_refused(hut: Loaded) -> None:
    """A part of which there can be only one is not added twice."""
    with pytest.raises(BadRequest):
        add_part(hut, "battery", {"chemistry": "agm", "voltage": "12 V", "capacity": "7 Ah"})


def test_somebody_elses_edit_is_never_overwritten(hut: Loaded) -> None:
    """When the file was changed, or is gone, since it was read, nothing is written."""
    assert hut.path is not None
    theirs = HUT.replace("70 kg", "72 kg")
    hut.path.write_text(theirs, encoding="utf-8")
    for change in (
        lambda: set_value(hut, "load.0.power", "6 W"),
        lambda: set_value(hut, "load.0.power", "5 W"),
        lambda: replace_text(hut, HUT + "#\n"),
    ):
        with pytest.raises(ChangedElsewhere):
            change()
    assert on_disk(hut) == theirs
    hut.path.unlink()
    with pytest.raises(ChangedElsewhere):
        set_value(hut, "load.0.power", "6 W")
    assert not hut.path.exists()


@pytest.mark.parametrize("step", ["replace", "fsync", "fchmod", "fdopen"])
def test_a_disk_that_refuses_leaves_the_old_file_whole(
    hut: Loaded, step: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A failure at any step before the swap leaves the old file whole and no spare file behind."""

    def refuse(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, refuse)
    with pytest.raises(CannotWrite) as caught:
        set_value(hut, "load.0.power", "6 W")
    assert "No space left" in caught.value.problems[0].problem
    assert on_disk(hut) == HUT
    assert hut.path is not None
    assert [entry.name for entry in hut.path.parent.iterdir()] == ["rig.toml"]


def test_the_new_file_is_on_disk_before_it_takes_the_old_ones_place(
    hut: Loaded, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Forced to the disk, then swapped in, then the folder forced: in that order."""
    calls: list[str] = []
    fsync, replace = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (calls.append("fsync"), fsync(handle))[1])
    monkeypatch.setattr(os, "replace", lambda a, b: (calls.append("replace"), replace(a, b))[1])
    set_value(hut, "load.0.power", "6 W")
    assert calls == ["fsync", "replace", "fsync"]


def test_rights_and_links_stay(hut: Loaded, tmp_path: Path) -> None:
    """A file keeps its permissions, and a link to it stays a link."""
    assert hut.path is not None
    hut.path.chmod(0o640)
    link = tmp_path / "here.toml"
    link.symlink_to(hut.path)
    set_value(read_rig(link), "load.0.power", "6 W")
    assert link.is_symlink()
    assert hut.path.stat().st_mode & 0o777 == 0o640
    assert 'power = "6 W"' in on_disk(hut)


def test_a_new_file_is_written_once(tmp_path: Path) -> None:
    """Folders are made, the text is checked first, and what stands there already is left alone."""
    path = tmp_path / "a" / "b" / "rig.toml"
    with pytest.raises(BadRig):
        write_new(path, "name = 3")
    assert not path.parent.exists()
    assert write_new(path, HUT) == read_rig(path)
    with pytest.raises(CannotWrite):
        write_new(path, HUT)
    with pytest.raises(CannotWrite):
        write_new(path / "rig.toml", HUT)


def test_changes_are_tried_without_writing(hut: Loaded) -> None:
    """What-if: the rig changes, the file and the text as read do not; a bad change is refused as in the file."""
    what_if = tried(
        hut, [("load.lamp.power", "50 W"), ("stage.1.driven_diameter", "40 mm"), ("place.closed", "yes")]
    )
    assert what_if.rig.load[0].power == Measured(50.0, 17.5, "guess")
    assert what_if.rig.place is not None
    assert what_if.text == HUT == on_disk(hut)
    assert what_if.path == hut.path
    assert what_if.lines == hut.lines
    assert hut.rig.load[0].power == Measured(5.0, 1.75, "guess")
    with pytest.raises(BadRig):
        tried(hut, [("load.0.power", "50 V")])


def test_text_in_no_file_can_be_edited_too() -> None:
    """A rig that came from a form is changed in memory."""
    edited = set_value(read_text(HUT), "load.0.power", "6 W")
    assert edited.loaded.path is None
    assert edited.loaded.text == HUT.replace('"5 W"', '"6 W"')


KEYS = [
    "name",
    "story",
    "rider.0.mass",
    "rider.1.uses",
    "stage.0.driven_teeth",
    "machine.resistance",
    "machine.resistance.note",
    "machine.pole_pairs",
    "battery.protected",
    "converter.0.efficiency_curve",
    "load.0.name",
    "ride.gear",
    "place.volume",
    "neighbour.0.name",
]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(KEYS),
            st.text(max_size=8)
            | st.sampled_from(["1", "70 kg", "yes", "[1]", "arms", "30 m3", '"""', "a\nb"]),
        ),
        max_size=4,
    )
)
def test_any_typing_is_written_or_complained_of(changes: list[tuple[str, str]]) -> None:
    """Whatever is typed, the outcome is a usable rig or problems to read; tried and written mean the same."""
    loaded = read_text(HUT)
    for where, text in changes:
        try:
            after = set_value(loaded, where, text).loaded
        except SparewattError as refused:
            assert refused.problems  # noqa: PT017  (most typings are refused, and that is fine)
            continue
        assert after.rig == tried(loaded, [(where, text)]).rig
        loaded = after
