"""One value of the rig file into what a field of a part holds; raises BadText with what was read and what is accepted."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Iterable
from typing import Any

from sparewatt.parts.values import DEFAULT_SPREAD, HOWS, How, Measured, Spec
from sparewatt.quantities.units import BadText, Parsed, accepted, factor, parse, parse_wire_size

__all__ = [
    "MEASURED_KEYS",
    "POSITIVE",
    "accepts",
    "default_spread",
    "nearest",
    "read_measured",
    "read_value",
    "shown",
]

MEASURED_KEYS = ("value", "spread", "how", "note")
THERMOMETER_SCALE = (
    20.0  # kelvin; the default spread of a temperature is a share of this, not of its height above -273 degC
)
SHARE_LIMIT = (
    1.2  # a plain number that cannot pass this is a share; its default spread shrinks towards both ends
)
FLAG_WORDS = {"yes": True, "no": False, "on": True, "off": False, "true": True, "false": False}

# Fields that cannot be zero: a formula divides by them, or a part with zero of it is no part.
POSITIVE = frozenset(
    {
        "age",
        "bleeder",
        "bout",
        "cadence",
        "capacitor_voltage",
        "capacity",
        "centre_distance",
        "charge_voltage",
        "critical_power",
        "current_limit",
        "current_limit_short",
        "current_rating",
        "diameter",
        "driven_diameter",
        "driver_diameter",
        "efficiency",
        "emf_constant",
        "health",
        "input_current",
        "input_max",
        "mass",
        "output_current",
        "output_max",
        "peak_power",
        "plate_current",
        "plate_power",
        "plate_speed",
        "plate_voltage",
        "power",
        "power_rating",
        "rating",
        "ratio",
        "set_current",
        "set_voltage",
        "size",
        "speed_limit",
        "sprint_cadence",
        "thermal_resistance",
        "thermal_time",
        "time",
        "tooth_pitch",
        "top_cadence",
        "use_time",
        "voltage",
        "voltage_rating",
        "volume",
        "winding_resistance",
        "work_reserve",
    }
)


def read_value(value: Any, name: str, spec: Spec, *, exact: bool = False, plate: bool = False) -> Any:
    """What the field `name` holds when the file says `value` (anything but a part)."""
    if spec.kind == "measured":
        return read_measured(value, name, spec, exact=exact, plate=plate)
    reader = {
        "count": _count,
        "text": _text,
        "choice": _choice,
        "flag": _flag,
        "curve": _curve,
        "counts": _counts,
    }
    return reader[spec.kind](value, spec)


def read_measured(value: Any, name: str, spec: Spec, *, exact: bool = False, plate: bool = False) -> Measured:
    """A number with its spread and how it is known, from a text, a plain number or a table of value, spread, how, note."""
    note, how, spread = "", None, None
    if isinstance(value, dict):
        value, spread, how, note = _taken_apart(value)
    read = _number(value, spec, spread)
    if how is None:
        how = "measured" if read.sd is not None or exact else "nameplate" if plate else "guess"
    sd = read.sd
    if sd is None:
        sd = 0.0 if exact and how == "measured" else default_spread(read.value, how, spec)
    _within(value, name, spec, read.value)
    return Measured(read.value, sd, how, note)


def default_spread(value: float, how: How, spec: Spec) -> float:
    """Standard deviation taken when the file gives none: a share of the value that depends on how it is known.

    Shares (efficiency, charge) take it of the nearer of their two ends, temperatures of 20 K.
    """
    size = abs(value)
    if spec.unit == "K":
        size = THERMOMETER_SCALE
    elif spec.unit == "1" and spec.high is not None and spec.high <= SHARE_LIMIT:
        size = max(min(size, spec.high - size), 0.0)
    return DEFAULT_SPREAD[how] * size


def nearest(word: str, known: Iterable[str]) -> str:
    """The known spelling closest to `word`, capitals and dashes apart; empty when none is close."""
    plain = {_plain(name): name for name in known}
    close = difflib.get_close_matches(_plain(word), plain, n=1, cutoff=0.6)
    return plain[close[0]] if close else ""


def accepts(spec: Spec) -> str:
    """What a field takes, in words."""
    example = f", such as {_quoted(spec)}" if spec.example else ""
    match spec.kind:
        case "measured" if spec.unit == "1":
            return f"a plain number{example}"
        case "measured":
            return f"a number with a unit ({accepted(spec.unit)}){example}"
        case "count":
            low, high = spec.low, spec.high
            limits = (
                "" if low is None else f" from {low:g} up" if high is None else f" from {low:g} to {high:g}"
            )
            return f"a whole number{limits}"
        case "text":
            return f"a text in quotes{example}"
        case "choice":
            return "one of " + ", ".join(f'"{word}"' for word in spec.choices)
        case "flag":
            return "true or false, without quotes"
        case "counts":
            return f"a list of whole numbers{example}"
        case "curve":
            return f"a list of pairs of plain numbers, the first of each pair rising{example}"
        case _:
            return "a table" if spec.kind == "part" else "one or more tables"


def shown(value: Any) -> str:
    """A value as it might stand in the file, cut short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    text = value if isinstance(value, str) else repr(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _plain(word: str) -> str:
    return word.lower().replace("-", "_").replace(" ", "_")


def _quoted(spec: Spec) -> str:
    return f'"{spec.example}"' if spec.kind in ("measured", "text") else spec.example


def _taken_apart(table: dict[str, Any]) -> tuple[Any, Any, How | None, str]:
    for key in table:
        if key not in MEASURED_KEYS:
            raise BadText(
                key, f'a value written as a table has no key "{key}".', accepted="value, spread, how, note",
                nearest=nearest(key, MEASURED_KEYS),
            )  # fmt: skip
    if "value" not in table:
        raise BadText(
            shown(table),
            'a value written as a table needs the key "value".',
            accepted="value, spread, how, note",
        )
    how, note = table.get("how"), table.get("note", "")
    if how is not None and how not in HOWS:
        raise BadText(
            shown(how),
            f'"{shown(how)}" is not a way of knowing a number.',
            accepted=", ".join(HOWS),
            nearest=nearest(str(how), HOWS),
        )
    if not isinstance(note, str):
        raise BadText(shown(note), "a note is a text in quotes.")
    return table["value"], table.get("spread"), how, note


def _number(value: Any, spec: Spec, spread: Any) -> Parsed:
    """SI value and spread; the spread may stand in the text or beside it."""
    text = _as_text(value, spec)
    if spread is not None:
        if "+/-" in text or "\u00b1" in text or " to " in text:
            raise BadText(
                text, "the spread is given twice: in the value and beside it.", accepted="one of the two"
            )
        text = f"{text} +/- {_as_text(spread, spec, spread_of=True).replace('+/-', '').replace(chr(0xB1), '').strip()}"
    return _wire(text) if spec.unit == "wire_size" else parse(text, spec.unit)


def _as_text(value: Any, spec: Spec, *, spread_of: bool = False) -> str:
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadText(shown(value), "this is not a number.", accepted=accepts(spec))
    if not _is_finite(value):
        raise BadText(shown(value), "this is not a number that can be used.", accepted=accepts(spec))
    if spec.unit != "1" and not spread_of:
        raise BadText(
            shown(value),
            "the unit is missing: write the number and its unit in quotes.",
            accepted=accepts(spec),
        )
    return repr(value)


def _wire(text: str) -> Parsed:
    head, mark, tail = text.replace("\u00b1", "+/-").partition("+/-")
    area = parse_wire_size(head)
    if not mark:
        return Parsed(area, None, head.strip())
    if tail.rstrip().endswith("%"):
        share = parse(f"1 m^2 +/- {tail}", "m^2").sd
        return Parsed(area, area * (share or 0.0), head.strip())
    return Parsed(
        area, parse(f"1 m^2 +/- {tail} ", "m^2").sd if _has_unit(tail) else _unitless(text), head.strip()
    )


def _has_unit(text: str) -> bool:
    return any(letter.isalpha() and letter not in "eE" for letter in text)


def _unitless(text: str) -> float:
    raise BadText(text, "the spread of a wire size needs its unit.", accepted='"+/- 0.2 mm2" or "+/- 5 %"')


def _within(value: Any, name: str, spec: Spec, number: float) -> None:
    """Refuses what is physically impossible for this field."""
    read = shown(value)
    if name in POSITIVE and number <= 0.0:
        raise BadText(read, "this must be more than zero.", accepted=accepts(spec))
    if spec.low is not None and number < spec.low:
        least = "zero" if spec.low == 0 else f"{_limit(spec.low, spec)}"
        raise BadText(read, f"this cannot be below {least}.", accepted=accepts(spec))
    if spec.high is not None and number > spec.high * (1 + 1e-9):
        raise BadText(read, f"this cannot be above {_limit(spec.high, spec)}.", accepted=accepts(spec))


def _limit(number: float, spec: Spec) -> str:
    if spec.unit == "1":
        return f"{number:g}"
    if spec.unit in ("rad/s", "C", "K"):
        unit = {"rad/s": "rpm", "C": "Ah", "K": "degC"}[spec.unit]
        return f"{(number - (273.15 if unit == 'degC' else 0.0)) / factor(unit):.0f} {unit}"
    return f"{number:g} {spec.unit}"


def _count(value: Any, spec: Spec) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise BadText(
            shown(value), "this is not a whole number (and it stands without quotes).", accepted=accepts(spec)
        )
    if (spec.low is not None and value < spec.low) or (spec.high is not None and value > spec.high):
        raise BadText(shown(value), "this number is out of reach.", accepted=accepts(spec))
    return value


def _text(value: Any, spec: Spec) -> str:
    if not isinstance(value, str):
        raise BadText(shown(value), "this is not a text in quotes.", accepted=accepts(spec))
    if spec.needed and not value.strip():
        raise BadText(value, "this text is empty.", accepted=accepts(spec))
    return value


def _choice(value: Any, spec: Spec) -> str:
    if not isinstance(value, str) or value not in spec.choices:
        close = nearest(value, spec.choices) if isinstance(value, str) else ""
        raise BadText(
            shown(value),
            f'"{shown(value)}" is not one of the words for this.',
            accepted=accepts(spec),
            nearest=close,
        )
    return value


def _flag(value: Any, spec: Spec) -> bool:
    if not isinstance(value, bool):
        meant = FLAG_WORDS.get(value.lower()) if isinstance(value, str) else None
        close = "" if meant is None else shown(meant)
        raise BadText(shown(value), "this is neither true nor false.", accepted=accepts(spec), nearest=close)
    return value


def _counts(value: Any, spec: Spec) -> tuple[int, ...]:
    if not isinstance(value, list) or not value:
        raise BadText(
            shown(value), "this is not a list of whole numbers in square brackets.", accepted=accepts(spec)
        )
    for item in value:
        if isinstance(item, bool) or not isinstance(item, int) or not 1 <= item <= 10_000:
            raise BadText(
                shown(item), f"{shown(item)} is not a whole number from 1 up.", accepted=accepts(spec)
            )
    return tuple(value)


def _curve(value: Any, spec: Spec) -> tuple[tuple[float, float], ...]:
    if not isinstance(value, list) or len(value) < 2:
        raise BadText(shown(value), "this is not a list of two or more pairs.", accepted=accepts(spec))
    pairs = []
    for pair in value:
        numbers = isinstance(pair, list) and len(pair) == 2 and all(_is_finite(x) for x in pair)
        if not numbers:
            raise BadText(
                shown(pair), f"{shown(pair)} is not a pair of plain numbers.", accepted=accepts(spec)
            )
        pairs.append((float(pair[0]), float(pair[1])))
    if any(later[0] <= earlier[0] for earlier, later in itertools.pairwise(pairs)):
        raise BadText(
            shown(value),
            "the first number of each pair must be more than the one before.",
            accepted=accepts(spec),
        )
    return tuple(pairs)


def _is_finite(x: Any) -> bool:
    if isinstance(x, bool) or not isinstance(x, int | float):
        return False
    return abs(x) < 1e300
