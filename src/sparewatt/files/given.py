"""Opens what a person names: a plain file of a sensible size, as UTF-8 text without letters that steer a terminal.

A pipe or a device is never opened (it may wait for ever), and nothing is read past the size that makes sense.
"""

from __future__ import annotations

import io
import os
import stat
from pathlib import Path

from sparewatt.errors import STRANGE, BadRig, NotFound, Problem

__all__ = ["cannot_read", "plain_file", "raw_of", "refuse_strange", "text_of", "why_strange"]

_WAIT_FOR_NOBODY = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_BINARY", 0)
_SORTS = (
    (stat.S_ISDIR, "a folder"),
    (stat.S_ISFIFO, "a pipe"),
    (stat.S_ISCHR, "a device"),
    (stat.S_ISBLK, "a device"),
    (stat.S_ISSOCK, "a socket"),
)
MOST_TOLD = 5


def plain_file(path: Path, mode: int) -> None:
    """NotFound when what has this mode is no plain file."""
    if stat.S_ISREG(mode):
        return
    sort = next((name for test, name in _SORTS if test(mode)), "something else")
    raise NotFound(Problem("", f"this is {sort}, not a file.", "name a file", file=str(path)))


def raw_of(path: Path, most: int, holds: str) -> bytes:
    """The bytes of a file of at most `most`; FileNotFoundError when it is not there, else NotFound or BadRig."""
    try:
        plain_file(path, path.stat().st_mode)
        handle = os.open(path, os.O_RDONLY | _WAIT_FOR_NOBODY)
        with io.FileIO(handle) as file:
            plain_file(path, os.fstat(handle).st_mode)
            raw = file.read(most + 1)
    except FileNotFoundError:
        raise
    except (OSError, ValueError) as bad:
        raise cannot_read(path, bad) from None
    if len(raw) > most:
        says = f"this file is larger than {most // 1_000_000} MB; it is {holds}."
        raise BadRig(Problem("", says, "look whether it is the right file", file=str(path)))
    return raw


def cannot_read(path: Path, bad: Exception) -> NotFound:
    """What to say of a file that the disk does not give out."""
    why = getattr(bad, "strerror", None) or "no file can have such a name"
    hint = "look at its name, and at who may read it"
    return NotFound(Problem("", f"the file cannot be read: {why}.", hint, file=str(path)))


def text_of(raw: bytes, path: Path) -> str:
    """The bytes as text; BadRig with the line where they are not UTF-8."""
    try:
        return raw.decode("utf-8")
    except UnicodeDecodeError as bad:
        line = raw.count(b"\n", 0, bad.start) + 1
        says = f"this line has a letter that is not UTF-8 (byte 0x{raw[bad.start]:02x})."
        hint = "save the file as UTF-8 text; until then it is left as it is"
        raise BadRig(Problem("", says, hint, file=str(path), line=line)) from None


def why_strange(text: str) -> str:
    """What is wrong with the first letter in a text that nobody can see; "" when there is none."""
    found = STRANGE.search(text)
    return f"there is a letter here that cannot be seen (U+{ord(found[0]):04X})." if found else ""


def refuse_strange(text: str, file: str) -> None:
    """BadRig with each line that holds such a letter, the first few of them."""
    lines = [line for line in enumerate(text.split("\n"), 1) if STRANGE.search(line[1])]
    if lines:
        told = lines[:MOST_TOLD]
        raise BadRig(*(Problem("", why_strange(one), "take it out", file=file, line=n) for n, one in told))
