"""Every key of a rig file matters: there is a rig in which changing it changes what some section answers."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from tests.agreement.answering import answered

from sparewatt.files import Loaded, read_text, tried
from sparewatt.files.demos import demo_list, demo_text
from sparewatt.parts import Rig
from sparewatt.parts.values import spec_of

HERE = Path(__file__).parent
TOLD = ("Rig.story",)  # words that are shown and reckoned with nowhere
WHOLE = read_text((HERE / "whole.toml").read_text())


class Row(NamedTuple):
    """One key: the section whose answer it changes, where it stands, its other value, and what must be so first."""

    key: str
    section: str
    where: str
    value: str
    first: str


def rows() -> list[Row]:
    """The table beside this file."""
    lines = [x for x in (HERE / "every_key.txt").read_text().splitlines() if x and not x.startswith("#")]
    cells = ([cell.strip() for cell in line.split("|")] for line in lines)
    return [Row(*one, *[""] * (5 - len(one))) for one in cells]


def keys(record: type = Rig, seen: tuple[type, ...] = ()) -> Iterator[str]:
    """Every key of every record, by record and field."""
    for field in dataclasses.fields(record):
        part = spec_of(field).part
        if part is None:
            yield f"{record.__name__}.{field.name}"
        elif part not in seen:
            yield from keys(part, (*seen, part))


@lru_cache(maxsize=64)
def prepared(first: str) -> Loaded:
    """The rig in which a key acts."""
    loaded = WHOLE
    changes = [x.strip().partition("=") for x in first.split(";") if x.strip()]
    return tried(loaded, [(where.strip(), text.replace("\\n", "\n")) for where, _sign, text in changes])


@lru_cache(maxsize=64)
def before(first: str, section: str) -> Any:
    """What a section answers before the key is changed."""
    return answered(prepared(first), section)


@pytest.mark.parametrize("row", [pytest.param(row, id=row.key) for row in rows()])
def test_every_key_changes_an_answer(row: Row) -> None:
    """The section that reads it answers something else."""
    after = tried(prepared(row.first), [(row.where, row.value)])
    assert answered(after, row.section) != before(row.first, row.section)


def test_the_table_has_every_key_once() -> None:
    """A new key needs a line."""
    named = [row.key for row in rows()]
    assert sorted([*named, *TOLD]) == sorted(set(keys()))


def test_the_story_of_a_demo_is_told() -> None:
    """It is shown beside the demo before anybody writes it."""
    for demo in demo_list():
        assert demo.story in read_text(demo_text(demo.key)).rig.story.strip()
        assert len(demo.story) > 40


@pytest.mark.parametrize("section", sorted({row.section for row in rows()}))
def test_a_section_asked_again_answers_the_same(section: str) -> None:
    """What differs for no reason would let every key pass."""
    assert answered(read_text((HERE / "whole.toml").read_text()), section) == before("", section)
