"""Bringing an older file up to date: one piece for each load where one stood for all, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.rig.test_circuit import TWO_SIDES

from sparewatt.errors import CannotWrite
from sparewatt.files import demo_text, read_rig, read_text
from sparewatt.files.update import brought_up_to_date
from sparewatt.rig.asking import ask_for
from sparewatt.studies.guard.findings import guard
from sparewatt.studies.match import match


def test_comments_and_all_other_lines_stay() -> None:
    """Every line that was there stands there still, in its order; what is new is one table for each further load."""
    old = demo_text("skerry")
    edited, split = brought_up_to_date(read_text(old))
    new = edited.loaded.text.splitlines()
    assert split == ("wire.3",)
    left = iter(new)
    assert all(line in left for line in old.splitlines())
    added = len(new) - len(old.splitlines())
    assert added == 4 + 3 * 5  # a `to` for each of four loads; header, blank and three keys of three copies
    assert [w.to for w in edited.loaded.rig.wire][3:] == [
        "chart lamp",
        "watch radio",
        "phone",
        "electric kettle",
    ]


def test_twice_is_once(tmp_path: Path) -> None:
    """The second time nothing is written."""
    file = tmp_path / "rig.toml"
    file.write_text(demo_text("skerry"), encoding="utf-8")
    brought_up_to_date(read_rig(file))
    once = file.read_bytes()
    edited, split = brought_up_to_date(read_rig(file))
    assert split == ()
    assert file.read_bytes() == once == edited.before.encode()


def test_names_and_line_ends_and_comments_in_a_line() -> None:
    """Switches get names of their own; a comment stays with the first; the file's own line ends are kept."""
    old = TWO_SIDES.replace('dc_voltage = "24 V"', 'dc_voltage = "24 V" # worn # badly').replace("\n", "\r\n")
    edited, split = brought_up_to_date(read_text(old))
    text = edited.loaded.text
    assert split == ("wire.0", "switch.0")
    assert text.count("# worn # badly") == 1
    assert text.count("\r\n") == text.count("\n")
    assert [s.name for s in edited.loaded.rig.switch] == [
        "wall switch for the lamp", "wall switch for the phone", "wall switch for the drill",
    ]  # fmt: skip
    assert [w.to for w in edited.loaded.rig.wire] == ["lamp", "phone", "drill", "drill"]


@pytest.mark.parametrize("name", ["skerry", "cellar", "schoolyard"])
def test_the_answers_stay(name: str) -> None:
    """Sizes, findings and the match of every load are the same before and after, to the last digit."""
    old = read_text(demo_text(name))
    new = brought_up_to_date(old)[0].loaded
    a, b = guard(old.rig), guard(new.rig)
    assert [(s.what, s.need, s.check, s.pick, s.why) for s in a.sizes] == [
        (s.what, s.need, s.check, s.pick, s.why) for s in b.sizes
    ]
    assert [(f.key, f.check, f.says) for f in a.findings] == [(f.key, f.check, f.says) for f in b.findings]
    for load in old.rig.load:
        one, two = (match(x.rig, ask_for(x.rig, load=load.name, draws=128)) for x in (old, new))
        assert (one.verdict, one.hold, one.delivered) == (two.verdict, two.hold, two.delivered)


def test_a_file_laid_out_otherwise_is_left_alone(tmp_path: Path) -> None:
    """Tables on one line are not taken apart: it says so and writes nothing."""
    old = TWO_SIDES.split("[[wire]]")[0] + TWO_SIDES[TWO_SIDES.index("[[fuse]]") :]
    file = tmp_path / "rig.toml"
    file.write_text('wire = [{ run = "load", length = "2 m" }]\n' + old, encoding="utf-8")
    before = file.read_bytes()
    with pytest.raises(CannotWrite):
        brought_up_to_date(read_rig(file))
    assert file.read_bytes() == before
