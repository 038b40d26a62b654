"""The parts of a rig file in words: which numbers there are, what they are called, what stands in them."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from sparewatt.errors import BadRig
from sparewatt.files.toml import data_of
from sparewatt.parts import Measured, Rig, Spec, spec_of
from sparewatt.present import words
from sparewatt.present.words_numbers import sentence
from sparewatt.rig.outcome import Caveat
from sparewatt.web.speech import plain

_KEYED = re.compile(r"([a-z_]+(?:\.\w+)+): (.+)", re.DOTALL)  # "battery.resistance: not in the rig file"
MANY = 3  # caveats of one wording from here on are said once

__all__ = [
    "Field",
    "caveats",
    "changeable",
    "field_words",
    "key_words",
    "part_words",
    "parts_of",
    "value_words",
]

_PARTS = {
    "rider": "rider",
    "stage": "drive",
    "flywheel": "flywheel",
    "machine": "machine",
    "diode": "diode",
    "wire": "wire",
    "fuse": "fuse",
    "switch": "switch",
    "socket": "socket",
    "setting": "setting",
    "clamp": "clamp",
    "bus": "bus",
    "converter": "board",
    "battery": "battery",
    "load": "load",
    "neighbour": "next rig",
    "place": "place",
    "prices": "prices",
    "ride": "usual question",
    "effort": "timed effort",
    "scene": "scene",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One number that can be changed."""

    key: str
    words: str
    text: str


def part_words(kind: str, part: Any) -> str:
    """A part by what it is and what it is called."""
    to = getattr(part, "to", "")
    name = getattr(part, "name", "") or getattr(part, "run", "") + (f" to the {to}" if to else "")
    words = _PARTS.get(kind, kind).capitalize()
    return f"{words}: {name}" if name else words


def field_words(name: str) -> str:
    """A key as words."""
    return name.replace("_", " ")


def parts_of(rig: Rig) -> list[tuple[str, str, Any]]:
    """(key path, kind, part) of every part a rig has, in the order of the file."""
    found: list[tuple[str, str, Any]] = []
    for field in dataclasses.fields(rig):
        spec: Spec = spec_of(field)
        value = getattr(rig, field.name)
        if spec.kind == "part" and value is not None:
            found.append((field.name, field.name, value))
        elif spec.kind == "parts":
            found += [(f"{field.name}.{k}", field.name, part) for k, part in enumerate(value)]
    return found


def _settings_of(rig: Rig) -> list[tuple[str, str, Any]]:
    """(key path, words, setting) of every setting of a board."""
    return [
        (f"converter.{k}.setting.{n}", f"{board.name} at {point.name}", point)
        for k, board in enumerate(rig.converter)
        for n, point in enumerate(board.setting)
    ]


def changeable(rig: Rig, inch: bool) -> list[tuple[str, list[Field]]]:
    """Every number of the rig, part by part, with what stands in it now."""
    groups = []
    parts = [
        (path, part_words(kind, part), part)
        for path, kind, part in parts_of(rig)
        if kind not in ("prices", "ride", "neighbour", "scene")
    ]
    for path, words_, part in (*parts, *_settings_of(rig)):
        fields = [
            Field(
                key=f"{path}.{f.name}",
                words=field_words(f.name),
                text=plain(value, spec_of(f).unit, inch=inch, digits=3),
            )
            for f in dataclasses.fields(part)
            if isinstance(value := getattr(part, f.name), Measured) and f.name != "price"
        ]
        if fields:
            groups.append((words_, fields))
    return groups


def key_words(rig: Rig, key: str) -> str:
    """A key path in words: "stage.1.driven_diameter" is "rim belt: driven diameter"."""
    if key.endswith("+"):
        return f"one more {_PARTS.get(key[:-1], key[:-1])}"
    for path, named, _point in _settings_of(rig):
        if key.startswith(f"{path}."):
            return f"{named}: {field_words(key.removeprefix(f'{path}.'))}"
    for path, kind, part in parts_of(rig):
        if key.startswith(f"{path}."):
            name = getattr(part, "name", "") or _PARTS.get(kind, kind)
            return f"{name}: {field_words(key.removeprefix(f'{path}.'))}"
    return field_words(key.replace(".", " "))


def value_words(key: str, text: str) -> str:
    """What a change puts there, on one line: a part that is added by its name."""
    if not key.endswith("+"):
        return text
    try:
        part = data_of(text)
    except BadRig:
        return " ".join(text.split())
    return str(part.get("name") or ", ".join(f"{field_words(k)} {v}" for k, v in part.items()))


def caveats(rig: Rig, found: Iterable[Caveat]) -> tuple[list[str], list[tuple[str, list[str]]]]:
    """Caveats as lines; what is said of many numbers alike is said once, with the numbers to unfold."""
    lines: list[str] = []
    by_text: dict[str, list[str]] = {}
    for c in found:
        keyed = _KEYED.fullmatch(c.text)
        if keyed:
            by_text.setdefault(keyed[2], []).append(key_words(rig, keyed[1]))
        else:
            lines.append(words.caveat(c))
    folded = []
    for text, places in by_text.items():
        if len(places) < MANY:
            lines += [sentence(f"{place}: {text}") for place in places]
        else:
            folded.append((f"{len(places)} numbers are {text}.", places))
    return list(dict.fromkeys(lines)), folded
