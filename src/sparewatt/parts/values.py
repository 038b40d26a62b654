"""A number with its spread and where it came from, and the descriptions that fields of parts carry."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any, Literal

__all__ = [
    "HOWS",
    "How",
    "Measured",
    "Spec",
    "choice",
    "count",
    "curve",
    "flag",
    "measured",
    "nested",
    "spec_of",
    "text",
]

How = Literal["measured", "computed", "nameplate", "typical", "guess"]
HOWS: tuple[How, ...] = ("measured", "computed", "nameplate", "typical", "guess")

# Spread assumed when the file gives none, as a share of the value (common practice, no source).
DEFAULT_SPREAD: dict[How, float] = {
    "measured": 0.02,
    "computed": 0.05,
    "nameplate": 0.10,
    "typical": 0.25,
    "guess": 0.35,
}


@dataclass(frozen=True, slots=True)
class Measured:
    """One constant of a part: value and standard deviation in SI, how it is known, and a note.

    A standard deviation of 0 means counted or set exactly (teeth, a set screw read on the same meter).
    """

    value: float
    sd: float = 0.0
    how: How = "measured"
    note: str = ""

    def scaled(self, factor: float) -> Measured:
        """The same knowledge of a quantity that is `factor` times this one."""
        return dataclasses.replace(self, value=self.value * factor, sd=self.sd * abs(factor))


@dataclass(frozen=True, slots=True)
class Spec:
    """What a field of a part accepts; drives the reader, the JSON Schema and the reference page.

    kind: "measured" (number with unit, spread, origin), "count" (whole number), "text", "choice", "flag", "curve"
    (list of pairs of numbers), "counts" (list of whole numbers), "part" (one table), "parts" (array of tables).
    low and high are in the SI unit and mark what is physically possible, not what is wise.
    """

    kind: str
    says: str
    unit: str = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    example: str = ""
    part: type | None = None
    needed: bool = False


def _field(spec: Spec, default: Any = None) -> Any:
    return dataclasses.field(default=default, metadata={"spec": spec})


def measured(
    unit: str,
    says: str,
    *,
    low: float | None = 0.0,
    high: float | None = None,
    example: str = "",
    needed: bool = False,
) -> Any:
    """A number with a unit, a spread and an origin; None when the file does not give it."""
    return _field(Spec("measured", says, unit=unit, low=low, high=high, example=example, needed=needed))


def text(says: str, *, default: str = "", example: str = "", needed: bool = False) -> Any:
    """Free text."""
    return _field(Spec("text", says, example=example, needed=needed), default)


def choice(says: str, choices: tuple[str, ...], *, default: str = "", needed: bool = False) -> Any:
    """One of a fixed list of words."""
    return _field(Spec("choice", says, choices=choices, needed=needed), default)


def flag(says: str, *, default: bool | None = None) -> Any:
    """true or false."""
    return _field(Spec("flag", says), default)


def count(says: str, *, low: float | None = 0, high: float | None = None, default: int | None = None) -> Any:
    """A whole number."""
    return _field(Spec("count", says, low=low, high=high), default)


def curve(says: str, *, example: str = "") -> Any:
    """A list of pairs of plain numbers, first column rising."""
    return _field(Spec("curve", says, example=example))


def counts(says: str, *, example: str = "", needed: bool = False) -> Any:
    """A list of whole numbers (tooth counts)."""
    return _field(Spec("counts", says, example=example, needed=needed), ())


def nested(part: type, says: str, *, many: bool = False, needed: bool = False) -> Any:
    """Another part, or an array of them."""
    spec = Spec("parts" if many else "part", says, part=part, needed=needed)
    return _field(spec, () if many else None)


def spec_of(field: dataclasses.Field[Any]) -> Spec:
    """The description a field carries."""
    spec = field.metadata["spec"]
    assert isinstance(spec, Spec)
    return spec
