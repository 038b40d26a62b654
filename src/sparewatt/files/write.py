"""Writes a `Rig` as a fresh rig file with a comment at every key; reading it back gives the same rig, bit for bit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sparewatt.errors import STRANGE, BadRig, Problem
from sparewatt.files.values import read_measured
from sparewatt.files.walk import exact_and_plate, fields_of
from sparewatt.parts.records import Rig
from sparewatt.parts.values import Measured, Spec
from sparewatt.quantities.units import BadText, natural_unit, unit_of

__all__ = ["measured_text", "quoted", "quoted_line", "to_toml"]

HEAD = "# A rig file. Numbers carry their unit in quotes; a spread after +/- is one standard deviation.\n"


def to_toml(rig: Rig, *, comments: bool = True) -> str:
    """The rig as TOML text; with `comments`, each table and key is followed by what it is."""
    lines = list(_table(rig, "", comments))
    return (HEAD if comments else "") + "\n".join(lines).lstrip("\n") + "\n"


def measured_text(value: Measured, name: str, spec: Spec, *, exact: bool = False, plate: bool = False) -> str:
    """The shortest TOML value that reads back as exactly this number, spread, origin and note; BadRig if it cannot be."""
    refusal = BadText(repr(value.value), "this number cannot stand in a rig file.")
    for candidate, toml in _candidates(value, spec):
        try:
            back = read_measured(candidate, name, spec, exact=exact, plate=plate)
        except BadText as bad:
            refusal = bad
            continue
        if back == value:
            return toml
    raise BadRig(Problem(name, refusal.problem, refusal.accepted, refusal.read))


def quoted(text: str) -> str:
    """A TOML basic string; over several lines when the text has them."""
    many = "\n" in text
    out = []
    for letter in text:
        if letter == "\\" or letter == '"':
            out.append("\\" + letter)
        elif letter == "\t" or (letter == "\n" and many) or (letter >= " " and not STRANGE.match(letter)):
            out.append(letter)
        else:
            out.append(f"\\u{ord(letter):04x}")
    body = "".join(out)
    return f'"""\n{body}"""' if many else f'"{body}"'


def _table(part: Any, above: str, comments: bool) -> Iterator[str]:
    specs = fields_of(type(part))
    exact, plate = exact_and_plate(type(part))
    for name, spec in specs.items():
        value = getattr(part, name)
        if spec.part is None and _is_given(part, name, value, spec):
            text = _value(value, name, spec, exact=name in exact, plate=name in plate)
            yield f"{name} = {text}" + (f"  # {spec.says}" if comments and "\n" not in text else "")
    for name, spec in specs.items():
        value = getattr(part, name)
        if spec.kind == "part" and value is not None:
            yield from _headed(f"[{above}{name}]", value, f"{above}{name}.", spec, comments)
        elif spec.kind == "parts":
            for one in value:
                yield from _headed(f"[[{above}{name}]]", one, f"{above}{name}.", spec, comments)


def _headed(header: str, part: Any, above: str, spec: Spec, comments: bool) -> Iterator[str]:
    yield ""
    yield f"{header}  # {spec.says}" if comments else header
    yield from _table(part, above, comments)


def _is_given(part: Any, name: str, value: Any, spec: Spec) -> bool:
    default = type(part).__dataclass_fields__[name].default
    return spec.needed or (value is not None and value != () and value != default)


def _value(value: Any, name: str, spec: Spec, *, exact: bool, plate: bool) -> str:
    if isinstance(value, Measured):
        return measured_text(value, name, spec, exact=exact, plate=plate)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, tuple):
        inner = ", ".join(_value(item, name, spec, exact=exact, plate=plate) for item in value)
        return f"[{inner}]"
    return repr(value)


def _candidates(value: Measured, spec: Spec) -> Iterator[tuple[Any, str]]:
    """Ways of writing the number, friendliest first: (what the reader would see, the TOML text)."""
    texts = list(_texts(value, spec))
    if not value.note:
        for number, _ in texts:
            if spec.unit == "1":
                yield _plain(number), number
            yield number, quoted(number)
        for number, spread in texts:
            yield f"{number} +/- {spread}", quoted(f"{number} +/- {spread}")
    for number, spread in texts:
        for given in ("", spread):
            pairs = {"value": number, **({"spread": given} if given else {}), "how": value.how}
            table = {**pairs, **({"note": value.note} if value.note else {})}
            shown = {
                key: quoted(text).replace('"""\n', '"').replace('"""', '"')
                for key, text in table.items()
                if key != "note"
            }
            if value.note:
                shown["note"] = quoted_line(value.note)
            yield table, "{ " + ", ".join(f"{key} = {text}" for key, text in shown.items()) + " }"


def _plain(number: str) -> Any:
    try:
        return int(number)
    except ValueError:
        return number if "%" in number else float(number)


def quoted_line(text: str) -> str:
    """A TOML string on one line."""
    return '"' + "".join("\\n" if piece == "\n" else quoted(piece)[1:-1] for piece in text) + '"'


def _texts(value: Measured, spec: Spec) -> Iterator[tuple[str, str]]:
    """Number and spread as text, in the unit people use with few digits, then with all digits, then in the SI unit."""
    si = {"wire_size": "m2", "1": ""}.get(spec.unit, spec.unit)
    people = (
        {"wire_size": "mm2", "1": ""}.get(spec.unit)
        if spec.unit in ("wire_size", "1")
        else natural_unit(value.value, spec.unit)
    )
    for digits in (4, 6, 12, 17):
        for unit in dict.fromkeys((people or "", si)):
            known = unit_of(unit or "1")
            number, spread = (value.value - known.offset) / known.factor, value.sd / known.factor
            same = _join(value.sd, digits, "K") if known.offset else _join(spread, digits, unit)
            yield _join(number, digits, unit), same


def _join(number: float, digits: int, unit: str) -> str:
    text = repr(number) if digits == 17 else f"{number:.{digits}g}"
    text = text.removesuffix(".0")
    return f"{text} {unit}".strip()
