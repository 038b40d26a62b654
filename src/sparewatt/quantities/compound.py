"""Unit texts: single spellings from the table, and products, quotients and powers of them.

After a slash, several factors need brackets: W/(m^2*K). What could be read in two ways is refused.
"""

from __future__ import annotations

import math
import re
from functools import lru_cache

from sparewatt.quantities.table import PHRASES, REFUSED, UNITS, Dimension, Unit

__all__ = ["NO_DIMENSION", "STRANGE", "BadText", "clean", "dimension", "factor", "unit_of"]

LONGEST = 200
_TOKEN = re.compile(r"\s*(?:([A-Za-z%]+)|(\^?[+-]?[0-9]+)|([*/()])|(\S))", re.ASCII)
_SIGNS = str.maketrans(
    {
        "\u00a0": " ", "\u2009": " ", "\u202f": " ", "\u2007": " ", "\u2212": "-", "\u00b1": "+/-",
        "\u00b5": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm", "\u00b0": "deg", "\u2103": "degC", "\u2109": "degF",
        "\u00b7": "*", "\u22c5": "*", "\u00d7": "*", "\u207b": "-", "\u00b9": "1", "\u00b2": "2", "\u00b3": "3",
        "\u2044": "/",
    }
)  # fmt: skip
STRANGE = "is not a unit that is known here."
NO_DIMENSION: Dimension = (0, 0, 0, 0, 0, 0, 0)


class BadText(ValueError):
    """A text that is not a number with a fitting unit: what was read, why not, what is accepted, the nearest spelling."""

    def __init__(self, read: str, problem: str, *, accepted: str = "", nearest: str = "") -> None:
        self.read = read
        self.problem = problem
        self.accepted = accepted
        self.nearest = nearest
        super().__init__(f"{problem} {self.hint}".strip())

    @property
    def hint(self) -> str:
        """What to write instead, as one sentence; empty when there is nothing to add."""
        near = f'Did you mean "{self.nearest}"?' if self.nearest else ""
        takes = f"Accepted: {self.accepted}." if self.accepted else ""
        return f"{near} {takes}".strip()


@lru_cache(maxsize=1024)
def unit_of(unit: str) -> Unit:
    """Size and dimension of a unit text, simple or made of products, quotients and powers; raises BadText."""
    spelled = clean(unit).strip()
    spelled = PHRASES.get(spelled, spelled)
    found = UNITS.get(spelled)
    return found if found is not None else _Compound(unit, spelled).read()


def factor(unit: str) -> float:
    """SI amount of one `unit` (a difference, for thermometer scales)."""
    return unit_of("m^2" if unit == "wire_size" else unit).factor


def dimension(unit: str) -> Dimension:
    """Powers of length, mass, time, current, temperature, angle and cycle in `unit`."""
    return unit_of("m^2" if unit == "wire_size" else unit).dimension


def clean(text: str) -> str:
    """The text in plain letters: thin spaces, the minus sign, degrees, ohms and raised digits replaced."""
    if len(text) > LONGEST:
        raise BadText(text[:40] + "...", f"this text is longer than {LONGEST} letters.")
    return text if text.isascii() else text.translate(_SIGNS)


class _Compound:
    """Reads products, quotients and powers: kg*m^2, V*s/rad, W/(m^2*K), m3/h, N m."""

    def __init__(self, whole: str, spelled: str) -> None:
        self.whole = whole
        spaced = re.sub(r"\bper\b", "/", spelled).replace("1000 rpm", "krpm")
        self.tokens: list[tuple[str, str, str, str]] = _TOKEN.findall(spaced.rstrip())
        self.at = 0

    def read(self) -> Unit:
        if not self.tokens:
            raise BadText(self.whole, "the unit is missing.")
        size, dims = self._quotient(0)
        if self.at < len(self.tokens):
            raise self._refuse()
        if not (0 < size < math.inf):
            raise BadText(self.whole, f'"{self.whole}" is not a unit of any use.')
        return Unit(size, dims)

    def _refuse(self) -> BadText:
        return BadText(self.whole, f'"{self.whole}" {STRANGE}')

    def _peek(self) -> tuple[str, str, str, str]:
        return self.tokens[self.at] if self.at < len(self.tokens) else ("", "", "", "")

    def _quotient(self, depth: int) -> tuple[float, Dimension]:
        size, dims = self._factor(depth)
        divided = False
        while self.at < len(self.tokens):
            word, _, mark, _ = self._peek()
            if mark == ")":
                break
            if divided and mark != "/":
                raise BadText(
                    self.whole,
                    f'"{self.whole}" can be read in two ways: put what is below the slash in brackets.',
                )
            divided = mark == "/"
            if mark in ("*", "/"):
                self.at += 1
            elif not word and mark != "(":
                raise self._refuse()
            more, more_dims = self._factor(depth)
            size, dims = _times(size, dims, more, more_dims, -1 if divided else 1)
        return size, dims

    def _factor(self, depth: int) -> tuple[float, Dimension]:
        word, number, mark, _ = self._peek()
        self.at += 1
        if mark == "(" and depth < 8:
            size, dims = self._quotient(depth + 1)
            if self._peek()[2] != ")":
                raise self._refuse()
            self.at += 1
        elif word:
            found = self._named(word)
            size, dims = found.factor, found.dimension
        elif number == "1":
            return 1.0, NO_DIMENSION
        else:
            raise self._refuse()
        return self._powered(size, dims)

    def _powered(self, size: float, dims: Dimension) -> tuple[float, Dimension]:
        number = self._peek()[1]
        if not number:
            return size, dims
        power = number.lstrip("^")
        if len(power) > 2 or not -6 <= int(power) <= 6 or power == "0":
            raise self._refuse()
        self.at += 1
        return _times(1.0, NO_DIMENSION, size, dims, int(power))

    def _named(self, word: str) -> Unit:
        found = UNITS.get(word) or UNITS.get(_UPPER.get(word.upper(), ""))
        if found is not None:
            return found
        if word in REFUSED:
            raise BadText(self.whole, REFUSED[word] + ".")
        close = _UPPER.get(word.upper(), "") if len(self.tokens) == 1 else ""
        raise BadText(self.whole, f'"{word}" {STRANGE}', nearest=close)


def _times(
    size: float, dims: Dimension, more: float, more_dims: Dimension, power: int
) -> tuple[float, Dimension]:
    a, b, c, d, e, f, g = (x + power * y for x, y in zip(dims, more_dims, strict=True))
    return size * more**power, (a, b, c, d, e, f, g)


# Spellings that mean the same in any mixture of capitals, because no prefix or other unit differs by case alone.
_UPPER = {
    name.upper(): name
    for name in UNITS
    if len(name) >= 2
    and sum(other.upper() == name.upper() for other in UNITS) == 1
    and name not in ("Nm", "Pa", "Wb", "mm", "kg")
}
