"""Where each key of a TOML text stands: key path -> line, so that a complaint can point at its line.

A path is dotted, arrays of tables numbered from 0: "load.1.power". Keys inside an inline table and items of an array stand
on the line where their value begins. The reader itself is the standard library's; this scanner only looks for places.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

__all__ = ["Path", "line_of", "lines_of", "path_text", "spots"]

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_QUOTED = re.compile(r'"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'')
_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_VALUE = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|(?P<comment>#[^\n]*)'
    r"|(?P<open>[\[{])|(?P<close>[\]}])|(?P<end>\n)|[^\"'#\[\]{}\n]+",
    re.DOTALL,
)


def path_text(path: Path) -> str:
    """A path as one dotted text; a key that is not made of plain letters is quoted."""
    return ".".join(
        str(step) if isinstance(step, int) or _BARE.fullmatch(step) else f'"{step}"' for step in path
    )


def spots(text: str) -> dict[Path, int]:
    """Line of every table header and key assignment in a well-formed TOML text."""
    return _Scanner(text).scan()


def lines_of(data: dict[str, Any], text: str) -> dict[str, int]:
    """Line of every key in `data` (which is `text` read), by dotted path; an item with none has its parent's."""
    found = spots(text)
    return {path_text(path): line_of(found, path) or 1 for path in _paths(data, ())}


def line_of(found: dict[Path, int], path: Path) -> int | None:
    """Line of `path`, or of the nearest part above it that has one."""
    for length in range(len(path), 0, -1):
        if path[:length] in found:
            return found[path[:length]]
    return None


def _paths(value: Any, above: Path) -> Iterator[Path]:
    if above:
        yield above
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _paths(inner, (*above, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _paths(inner, (*above, index))


class _Scanner:
    """Walks once over the text, one statement at a time."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.counted = 0
        self.found: dict[Path, int] = {}
        self.arrays: dict[Path, int] = {}

    def scan(self) -> dict[Path, int]:
        table: Path = ()
        while True:
            self._skip(_BLANK)
            if self.at >= len(self.text):
                return self.found
            self.line += self.text.count("\n", self.counted, self.at)
            self.counted = self.at
            if self.text.startswith("[[", self.at):
                table = self._header(2, many=True)
            elif self.text[self.at] == "[":
                table = self._header(1, many=False)
            else:
                self._note((*table, *self._key()))
                self._value()

    def _skip(self, pattern: re.Pattern[str]) -> None:
        match = pattern.match(self.text, self.at)
        assert match is not None
        self.at = match.end()

    def _note(self, path: Path) -> None:
        for length in range(1, len(path) + 1):
            self.found.setdefault(path[:length], self.line)

    def _header(self, brackets: int, *, many: bool) -> Path:
        self.at += brackets
        path: Path = ()
        steps = self._key()
        for depth, step in enumerate(steps, 1):
            path = (*path, step)
            if many and depth == len(steps):
                self.arrays[path] = self.arrays.get(path, -1) + 1
            if path in self.arrays:
                self._note(path)
                path = (*path, self.arrays[path])
        if not many:
            self.found.pop(
                path, None
            )  # a header says where its table stands better than a header of a part of it
        self._note(path)
        self.at += brackets
        return path

    def _key(self) -> tuple[str, ...]:
        steps: list[str] = []
        while True:
            self._skip(_SPACE)
            match = _BARE.match(self.text, self.at) or _QUOTED.match(self.text, self.at)
            if match is None:  # not well-formed: move on, so that a scan always ends
                self.at += 1
                return tuple(steps) or ("",)
            self.at = match.end()
            word = match.group()
            steps.append(_unquoted(word) if word[0] in "\"'" else word)
            self._skip(_SPACE)
            if not self.text.startswith(".", self.at):
                return tuple(steps)
            self.at += 1

    def _value(self) -> None:
        """Moves past "= value" to the end of the statement."""
        depth = 0
        while self.at < len(self.text):
            match = _VALUE.match(self.text, self.at)
            if match is None:
                self.at += 1
                continue
            if match.lastgroup == "end" and depth == 0:
                return
            self.at = match.end()
            depth += (match.lastgroup == "open") - (match.lastgroup == "close")


def _unquoted(word: str) -> str:
    try:
        return str(tomllib.loads(f"k = {word}")["k"])
    except tomllib.TOMLDecodeError:  # not well-formed; the reader says so
        return word
