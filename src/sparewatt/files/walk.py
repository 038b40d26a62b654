"""The whole table of a rig file into a `Rig`, led by the descriptions that the records carry; every complaint at once."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

from sparewatt.errors import BadRig, Problem
from sparewatt.files.given import why_strange
from sparewatt.files.spots import Path, line_of, path_text
from sparewatt.files.values import accepts, nearest, read_value, shown
from sparewatt.parts.records import Rig
from sparewatt.parts.values import Spec, spec_of
from sparewatt.quantities.units import BadText, accepted

__all__ = ["Walk", "exact_and_plate", "fields_of", "part_title", "parts_of", "rig_from"]

# What people call a part, and what its table is called here.
OTHER_WORDS = {
    "motor": "machine", "generator": "machine", "dynamo": "machine", "alternator": "machine", "board": "converter",
    "regulator": "converter", "inverter": "converter", "appliance": "load", "device": "load", "gear": "stage",
    "drive": "stage", "chain": "stage", "belt": "stage", "roller": "stage", "person": "rider", "people": "rider",
    "gears": "stage", "cable": "wire", "capacitor": "bus", "accumulator": "battery", "room": "place",
    "cost": "prices", "price": "prices", "dump": "clamp",
}  # fmt: skip

MOST_TOLD = 60
MOST_PARTS = 200  # of one sort


@dataclasses.dataclass(slots=True)
class Walk:
    """What one pass over a file gathers: complaints, and where each field's text stands."""

    spots: dict[Path, int]
    file: str = ""
    problems: list[Problem] = dataclasses.field(default_factory=list)
    paths: list[Path] = dataclasses.field(default_factory=list)

    def complain(self, path: Path, problem: str, hint: str = "", read: str = "") -> None:
        """One thing to put right at `path`; after MOST_TOLD of them BadRig at once, since no person reads on."""
        if len(self.problems) == MOST_TOLD:
            says = f"there are more than {MOST_TOLD} things to put right in this file."
            raise BadRig(*self.problems, Problem("", says, "begin with these", file=self.file))
        self.paths.append(path)
        self.problems.append(
            Problem(path_text(path), problem, hint, read, self.file, line_of(self.spots, path))
        )

    def muddled(self, path: Path, key: str = "") -> bool:
        """Whether something at or below `path` (or only at its tables and the `key` of each) was complained of already.

        What hangs on it is then not complained of again.
        """
        below = [other for other in self.paths if other[: len(path)] == path]
        return any(not key or other[-1] == key or len(other) <= len(path) + 1 for other in below)


def fields_of(record: type) -> dict[str, Spec]:
    """Field name -> description, in the order of the record."""
    return {field.name: spec_of(field) for field in dataclasses.fields(record) if "spec" in field.metadata}


def exact_and_plate(record: type) -> tuple[frozenset[str], frozenset[str]]:
    """Fields that are counted or set exactly, and fields that are read off a label."""
    return getattr(record, "EXACT", frozenset()), getattr(record, "PLATE", frozenset())


def parts_of(record: type = Rig, above: str = "") -> Iterator[tuple[str, Spec, type]]:
    """Every table of the rig file, depth first: its dotted name, how it hangs in the file, its record."""
    for name, spec in fields_of(record).items():
        if spec.part is not None:
            yield above + name, spec, spec.part
            yield from parts_of(spec.part, f"{above}{name}.")


def part_title(name: str, spec: Spec) -> str:
    """A table's header as it stands in the file."""
    return f"[[{name}]]" if spec.kind == "parts" else f"[{name}]"


def rig_from(data: dict[str, Any], walk: Walk) -> Rig:
    """The rig that `data` describes; what had to be complained of (see `walk.problems`) is left out of it."""
    for path, text in _texts(data, ()):
        strange = why_strange(text)
        if strange:
            walk.complain(path, strange, "take it out")
    rig = _record(Rig, data, (), walk)
    assert isinstance(rig, Rig)
    return rig


def _texts(held: Any, path: Path) -> Iterator[tuple[Path, str]]:
    """Every key and text, with where it stands: an odd letter can also be written as an escape (\\u001b)."""
    if isinstance(held, str):
        yield path, held
    elif isinstance(held, dict):
        for key, inner in held.items():
            yield (*path, key), key
            yield from _texts(inner, (*path, key))
    elif isinstance(held, list):
        for index, inner in enumerate(held):
            yield from _texts(inner, (*path, index))


def _record(record: type, data: dict[str, Any], path: Path, walk: Walk) -> Any:
    specs = fields_of(record)
    exact, plate = exact_and_plate(record)
    found: dict[str, Any] = {}
    for key, value in data.items():
        spec = specs.get(key)
        if spec is None:
            _unknown(key, value, record, (*path, key), walk)
        elif spec.part is not None:
            found[key] = _nested(key, spec, value, (*path, key), walk)
        else:
            try:
                found[key] = read_value(value, key, spec, exact=key in exact, plate=key in plate)
            except BadText as bad:
                walk.complain((*path, key), bad.problem, _hint(bad, spec), shown(value))
    for key, spec in specs.items():
        if spec.needed and key not in data:
            _missing(key, spec, path, walk)
    return record(**found)


def _hint(bad: BadText, spec: Spec) -> str:
    """The nearest spelling first, then what the field takes."""
    takes = bad.accepted if bad.accepted and bad.accepted != accepted(spec.unit) else accepts(spec)
    return f'"{bad.nearest}"; this takes {takes}' if bad.nearest else takes


def _nested(key: str, spec: Spec, value: Any, path: Path, walk: Walk) -> Any:
    assert spec.part is not None
    dotted = ".".join(str(step) for step in path if isinstance(step, str))
    if spec.kind == "part":
        if isinstance(value, dict):
            return _record(spec.part, value, path, walk)
        many = " There can be only one." if isinstance(value, list) else ""
        walk.complain(
            path, f"this is not a table.{many}", f"write it under the header [{dotted}]", shown(value)
        )
        for index, item in enumerate(value if isinstance(value, list) else ()):
            _looked_over(spec.part, item, (*path, index), walk)
        return None
    if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
        header = f"write each one under its own header [[{dotted}]], in double brackets"
        walk.complain(
            path, "there can be several of these, so each is a table of a list.", header, shown(value)
        )
        _looked_over(spec.part, value, path, walk)
        return ()
    if len(value) > MOST_PARTS:
        walk.complain(path, f"there are {len(value)} of these.", f"at most {MOST_PARTS} are read")
        return ()
    if spec.needed and not value:
        _missing(key, spec, path[:-1], walk)
    return tuple(_record(spec.part, item, (*path, index), walk) for index, item in enumerate(value))


def _looked_over(record: type, value: Any, path: Path, walk: Walk) -> None:
    """Complaints about what stands inside a table that hangs in the wrong way."""
    if isinstance(value, dict):
        _record(record, value, path, walk)


def _missing(key: str, spec: Spec, path: Path, walk: Walk) -> None:
    if spec.part is not None:
        name = ".".join([*(str(step) for step in path if isinstance(step, str)), key])
        walk.complain(
            (*path, key), f"{part_title(name, spec)} is missing. {spec.says}", f"add {part_title(name, spec)}"
        )
    else:
        walk.complain((*path, key), f'"{key}" is missing. {spec.says}', f"{key} is {accepts(spec)}")


def _unknown(key: str, value: Any, record: type, path: Path, walk: Walk) -> None:
    """A key that no field has: the nearest one here, or the table where it belongs."""
    specs = fields_of(record)
    dotted = ".".join(str(step) for step in path[:-1] if isinstance(step, str))
    here = f"in [{dotted}]" if dotted else "at the top of the file"
    close = OTHER_WORDS.get(key.lower(), "") if not dotted else ""
    close = close or nearest(key, specs)
    elsewhere = [part_title(name, spec) for name, spec, part in parts_of() if key in fields_of(part)]
    if elsewhere and not (close and _much_alike(key, close)):
        shown_homes = ", ".join(dict.fromkeys(elsewhere[:4]))
        hint = f'"{key}" belongs in {shown_homes}'
    elif close:
        spec = specs[close]
        name = part_title(f"{dotted}.{close}".lstrip("."), spec) if spec.part else f'"{close}"'
        hint = f"did you mean {name}? {spec.says}"
        if spec.part is not None:
            for index, item in enumerate(value if isinstance(value, list) else [value]):
                _looked_over(spec.part, item, (*path, index) if isinstance(value, list) else path, walk)
    else:
        hint = "known here: " + ", ".join(specs)
    walk.complain(
        path,
        f'there is no "{key}" {here}.',
        hint,
        shown(value) if not isinstance(value, dict | list) else key,
    )


def _much_alike(key: str, close: str) -> bool:
    return (
        nearest(key, [close]) == close
        and abs(len(key) - len(close)) <= 2
        and key[:1].lower() == close[:1].lower()
    )
