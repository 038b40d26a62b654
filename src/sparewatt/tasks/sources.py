"""The full text behind source keys."""

from __future__ import annotations

from collections.abc import Sequence

from sparewatt.files import load_sources

__all__ = ["source_lines"]

NO_SOURCE = ", common practice, no source"


def source_lines(keys: Sequence[str]) -> list[tuple[str, str]]:
    """(key, one line) of each source; a key that is words of its own ("common practice, no source") stands for itself."""
    known = load_sources()
    return [(key, _once(known[key].sentence()) if key in known else key) for key in keys]


def _once(text: str) -> str:
    """A habit of the trade says so once, even where its title says it too."""
    return text.removesuffix(NO_SOURCE) if NO_SOURCE in text[: -len(NO_SOURCE)] else text
