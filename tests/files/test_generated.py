"""The reference page and the schema are current, and say what the reader does; demos and sources load."""

from __future__ import annotations

import dataclasses
import json
import subprocess
import sys
import tomllib
from pathlib import Path

import jsonschema_rs
import pytest
from hypothesis import given, settings
from tests.files.samples import HUT, records

from sparewatt.errors import CannotWrite, NotFound
from sparewatt.files import demo_list, demo_text, load_sources, read_rig, to_toml, write_demo
from sparewatt.files.reference import rig_reference_markdown
from sparewatt.files.schema import json_schema
from sparewatt.files.sources import HOWS_SEEN
from sparewatt.files.walk import fields_of, part_title, parts_of
from sparewatt.parts import Rig

AGAIN = "call sparewatt.files.reference.write_reference on docs/reference"


def test_the_reference_page_and_schema_are_current(root: Path) -> None:
    """The files in docs/reference are what the program would write today."""
    assert (root / "docs/reference/rig-file.md").read_text(encoding="utf-8") == rig_reference_markdown(), (
        AGAIN
    )
    assert (
        json.loads((root / "docs/reference/rig.schema.json").read_text(encoding="utf-8")) == json_schema()
    ), AGAIN


def test_the_reference_page_names_every_table_and_key() -> None:
    """No table and no key of the rig file is left out."""
    page = rig_reference_markdown()
    for name, spec, part in parts_of():
        assert f"## `{part_title(name, spec)}`" in page
        for key, inner in fields_of(part).items():
            assert inner.part is not None or f"| `{key}` | {inner.says}" in page


def test_every_field_has_a_sentence() -> None:
    """Each table and key says what it is, as a sentence."""
    for _, spec, part in parts_of():
        for each in (spec, *fields_of(part).values()):
            assert each.says.endswith(".")


def test_the_schema_is_a_schema_and_takes_a_good_file() -> None:
    """The schema is well-formed by an independent validator (draft 2020-12), and the hut's file passes it."""
    jsonschema_rs.meta.validate(json_schema())
    assert jsonschema_rs.is_valid(json_schema(), tomllib.loads(HUT))


@settings(max_examples=30)
@given(records())
def test_the_schema_takes_any_rig(rig: Rig) -> None:
    """Whatever the reader takes, the schema takes."""
    assert jsonschema_rs.is_valid(json_schema(), tomllib.loads(to_toml(rig)))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('power = "5 W"', "power = 5"),
        ('power = "5 W"', 'powr = "5 W"'),
        ('chemistry = "agm"', 'chemistry = "AGM"'),
        ("protected = false", 'protected = "no"'),
        ("driver_teeth = [42]", "driver_teeth = 42"),
        ("driver_teeth = [42]", "driver_teeth = [42.5]"),
        ('how = "measured"', 'how = "seen"'),
        ('name = "Beno"\n', ""),
        ("[battery]", "[[battery]]"),
        ("[[wire]]", "[wire]"),
        ("[ride]", "[rides]"),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(old: str, new: str) -> None:
    """Mistakes of shape are caught by the schema as well."""
    assert HUT.count(old) == 1
    assert not jsonschema_rs.is_valid(json_schema(), tomllib.loads(HUT.replace(old, new)))


def test_every_demo_can_be_written_out_and_read(tmp_path: Path) -> None:
    """Each demo has a name and a story, is written once, and is a usable rig."""
    for demo in demo_list():
        assert demo.name
        assert demo.story
        loaded = write_demo(demo.key, tmp_path / demo.key)
        assert loaded == read_rig(tmp_path / demo.key)
        assert loaded.text == demo_text(demo.key)
        assert loaded.rig.name == demo.name
        with pytest.raises(CannotWrite):
            write_demo(demo.key, tmp_path / demo.key)


def test_demos_are_the_folders_that_hold_a_rig_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only folders with a rig file count; a demo is asked for by its folder's name, and a near miss is helped."""
    (tmp_path / "lake").mkdir()
    (tmp_path / "lake" / "rig.toml").write_text(HUT, encoding="utf-8")
    (tmp_path / "empty").mkdir()
    (tmp_path / "note.txt").write_text("x", encoding="utf-8")
    monkeypatch.setattr("sparewatt.files.demos._home", lambda: tmp_path)
    (demo,) = demo_list()
    assert (demo.key, demo.name, demo.story) == ("lake", "Lake hut", "Wind on the roof,\ntwo riders.")
    assert write_demo("lake", tmp_path / "out").text == HUT
    with pytest.raises(NotFound) as caught:
        demo_text("lakes")
    assert '"lake"' in caught.value.problems[0].hint


def test_a_demo_that_is_not_there(tmp_path: Path) -> None:
    """An unknown demo is refused with the ones there are."""
    with pytest.raises(NotFound):
        write_demo("no such demo", tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_sources_have_a_title_and_say_how_they_are_known() -> None:
    """Every source has what its line on a page needs; the table cannot be changed from outside."""
    sources = load_sources()
    assert sources
    for key, source in sources.items():
        assert source.key == key
        assert source.title
        assert source.how in HOWS_SEEN
        assert source.title in source.sentence()
    assert "common practice, no source" in dataclasses.replace(source, how="practice").sentence()
    with pytest.raises(TypeError):
        sources["x"] = source  # type: ignore[index]


def test_reading_loads_nothing_heavy() -> None:
    """Reading a rig file loads no numbers library and no editor of TOML, in a fresh process."""
    code = "import sys, sparewatt.files; print(sorted({'numpy', 'scipy', 'numba', 'tomlkit'} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
