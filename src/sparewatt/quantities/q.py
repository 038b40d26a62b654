"""One entry of the vocabulary: the unit of a quantity, and a sentence saying what it is and which sign it has."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Q"]


@dataclass(frozen=True, slots=True)
class Q:
    """unit: the SI unit its floats are in; says: what it is, and what a positive value means."""

    unit: str
    says: str
