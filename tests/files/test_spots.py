"""Places of keys: the scanner's keys against the standard library's reader, and lines against files laid out by the test."""

from __future__ import annotations

import json
import tomllib
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from tests.files.samples import HUT, TEXTS

from sparewatt.files.spots import lines_of, path_text, spots

KEYS = st.text("abcdefgh_-0123", min_size=1, max_size=4)
QUOTED_KEYS = KEYS | TEXTS.filter(
    lambda text: not set(text) & set('\n\r"\\\x7f') and all(letter >= " " for letter in text)
)
SCALARS = st.sampled_from(
    [
        "1",
        "true",
        '"a # b"',
        "'c [ d'",
        '"x \\" = y"',
        '"""\nmany\n"quoted" lines = 1\n[not.a.header]\n"""',
        "'''\nraw\n[[x]]\n'''",
        "1979-05-27",
        '""',
        "''",
    ]
)
LISTS = st.lists(SCALARS, max_size=3).map(lambda items: '[\n  # note ] "\n  ' + ",\n  ".join(items) + "\n]")
TABLES = st.dictionaries(KEYS, st.sampled_from(["1", '"}"', "[1, [2, 3]]", "{ deep = 1 }"]), max_size=2).map(
    lambda each: "{ " + ", ".join(f"{key} = {value}" for key, value in each.items()) + " }"
)


def _leaves(value: Any, above: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    """Paths of every table and value, items of plain lists and keys of inline tables included."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = {above} if above else set()
    for key, item in inner:
        found |= _leaves(item, (*above, key))
    return found


@st.composite
def documents(draw: st.DrawFn) -> tuple[str, dict[tuple[str | int, ...], int]]:
    """A TOML text of tables, arrays of tables, quoted keys and values over many lines; and where each key was put."""
    lines: list[str] = []
    put: dict[tuple[str | int, ...], int] = {}

    def key_lines(above: tuple[str | int, ...]) -> None:
        for key in draw(st.lists(QUOTED_KEYS, max_size=3, unique=True)):
            if draw(st.booleans()):
                lines.append("  # a note [x] = \"'")
            put[(*above, key)] = sum(line.count("\n") + 1 for line in lines) + 1
            shown = (
                key
                if key and all(letter in "abcdefgh_-0123" for letter in key)
                else json.dumps(key, ensure_ascii=False)
            )
            lines.append(f"{shown} = {draw(SCALARS | LISTS | TABLES)}  # tail")

    key_lines(())
    names = [name for name in draw(st.lists(KEYS, max_size=4, unique=True)) if (name,) not in put]
    for name in names:
        many = draw(st.integers(0, 2))
        for index in range(max(many, 1)):
            lines.append("")
            above: tuple[str | int, ...] = (name, index) if many else (name,)
            here = sum(line.count("\n") + 1 for line in lines) + 1
            put[above] = here
            put.setdefault((name,), here)
            lines.append(f"[[ {name} ]]" if many else f"[{name}] # head")
            key_lines(above)
    return "\n".join(lines) + draw(st.sampled_from(["", "\n", "\n\n# end"])), put


@given(documents())
def test_every_key_is_found_on_the_line_where_it_was_put(
    document: tuple[str, dict[tuple[str | int, ...], int]],
) -> None:
    """The scanner's keys are exactly those laid out, on their lines, and every one exists in what tomllib reads."""
    text, put = document
    found = spots(text)
    assert found == put
    assert set(found) <= _leaves(tomllib.loads(text))


@given(documents())
def test_every_value_that_the_reader_sees_has_a_line(
    document: tuple[str, dict[tuple[str | int, ...], int]],
) -> None:
    """Items of lists and keys of inline tables stand on their parent's line; nothing that tomllib reads is without one."""
    text, put = document
    data = tomllib.loads(text)
    lines = lines_of(data, text)
    assert set(lines) == {path_text(path) for path in _leaves(data)}
    for path in _leaves(data):
        nearest = next(path[:n] for n in range(len(path), 0, -1) if path[:n] in put)
        assert lines[path_text(path)] == put[nearest]


@settings(max_examples=500)
@given(st.text("[]{}=.\"'#\n\\ ab1", max_size=40))
def test_a_scan_of_any_text_ends(text: str) -> None:
    """Even a text that is no TOML is walked to its end, and no place lies past it."""
    assert all(1 <= line <= text.count("\n") + 1 for line in spots(text).values())


def test_dotted_keys_and_sub_tables() -> None:
    """Dotted keys, headers with dots and tables below an array land on the item they belong to."""
    text = (
        'a.b = 1\n\n[[load]]\nx = 1\n[load.inner]\ny = 2\n[[load]]\n[[load.inner]]\ny = 3\n["q.r".s]\nz = 4\n'
    )
    found = {path_text(path): line for path, line in spots(text).items()}
    expected = {
        "a": 1,
        "a.b": 1,
        "load": 3,
        "load.0": 3,
        "load.0.x": 4,
        "load.0.inner": 5,
        "load.0.inner.y": 6,
        "load.1": 7,
        "load.1.inner": 8,
        "load.1.inner.0": 8,
        "load.1.inner.0.y": 9,
        '"q.r"': 10,
        '"q.r".s': 10,
        '"q.r".s.z': 11,
    }
    assert found == expected


def test_lines_of_a_rig_file() -> None:
    """Lines counted by hand in a file with comments, many-line text and many-line lists; with Windows line ends too."""
    for text in (HUT, HUT.replace("\n", "\r\n")):
        lines = lines_of(tomllib.loads(text), text)
        rows = text.splitlines()
        for path, row in [
            ("story", "story"),
            ("rider.0.effort.0.power", "  power"),
            ("rider.1", "[[rider]]"),
            ("stage.0.driven_teeth.1", "driven_teeth"),
            ("machine", "[machine]"),
            ("machine.resistance.note", "resistance"),
            ("ride.gear", "gear"),
        ]:
            assert rows[lines[path] - 1].startswith(row)
