"""The sources that formulas and limits name by key, from the tables in `sparewatt/references`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources
from types import MappingProxyType

__all__ = ["Source", "load_sources"]

# How a source is known: the figure was read there; exact arithmetic; remembered, not read again; a habit of the trade.
PRACTICE = "common practice, no source"
HOWS_SEEN = ("seen", "derived", "memory", "practice")


@dataclass(frozen=True, slots=True)
class Source:
    """One source: its key, title, author, year, where in it, and how it is known."""

    key: str
    title: str
    author: str = ""
    year: str = ""
    where: str = ""
    how: str = ""

    def sentence(self) -> str:
        """The source as one line for the foot of a page."""
        if self.how == "practice":
            detail = self.where if self.where not in ("", PRACTICE) else ""
            return "; ".join(piece for piece in (self.title, detail, PRACTICE) if piece)
        remembered = "from memory" if self.how == "memory" and "from memory" not in self.where else ""
        return ", ".join(
            piece for piece in (self.author, self.title, str(self.year), self.where, remembered) if piece
        )


@cache
def load_sources() -> MappingProxyType[str, Source]:
    """Key -> source, from every table in the references folder; a key may stand in several tables if they agree."""
    found: dict[str, Source] = {}
    folder = resources.files("sparewatt").joinpath("references")
    for entry in sorted(folder.iterdir(), key=lambda each: each.name):
        if not entry.name.endswith(".toml"):
            continue
        for key, row in tomllib.loads(entry.read_text(encoding="utf-8")).items():
            known = {
                name: str(row[name]) for name in ("title", "author", "year", "where", "how") if name in row
            }
            found.setdefault(key, Source(key=key, **{"title": key, **known}))
    return MappingProxyType(found)
