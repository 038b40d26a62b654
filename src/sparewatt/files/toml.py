"""TOML text into plain data: what cannot be read is said with its line, what is too deep or too odd is refused early."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from sparewatt.errors import BadRig, Problem
from sparewatt.files.given import refuse_strange
from sparewatt.files.values import shown

__all__ = ["BOM", "data_of"]

BOM = "\ufeff"
DEEPEST = 20  # lists and tables in each other; the deepest key of a rig stands in five
LONGEST_KEY = (
    100  # names joined by points, beyond which they are not even read: the work grows with their square
)
_PLACE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
# One key of so many names that reading it would take all memory; begins where a name begins, so that it is found at once.
_DEEP = re.compile(r"(?<![^\s.=\[\]{},#])(?:[^\s.=\[\]{},#]++[ \t]*+\.[ \t]*+){" + str(LONGEST_KEY) + "}")

# What the TOML reader says, in plain words: (piece of its message, what is the matter, what to try).
_BROKEN: tuple[tuple[str, str, str], ...] = (
    (
        "Expected newline or end of document",
        "something follows the value on this line.",
        'put a value with its unit in quotes: "0.9 ohm"',
    ),
    (
        "Expected '=' after a key",
        'this line is neither a header nor "key = value".',
        "write a key, an equals sign and a value",
    ),
    (
        "Invalid statement",
        'this line is neither a header nor "key = value".',
        "keys are letters without accents, digits and _",
    ),
    (
        "Invalid initial character",
        "this key has letters that a key cannot have.",
        "use letters, digits and _ only",
    ),
    (
        "Invalid value",
        "this value cannot be read.",
        'put texts and values with a unit in quotes: "0.9 ohm"; write true or false without',
    ),
    ("Unterminated string", "a text starts here and never ends.", "add the closing quote"),
    ('Expected "\'"', "a text starts here and never ends.", "add the closing quote"),
    (
        "Illegal character",
        "there is a letter here that a text on one line cannot hold.",
        "close the quotes at the end of the line",
    ),
    ("Unescaped", "a backslash stands in a text.", "write it twice, or use single quotes"),
    ("Unclosed array", "a list starts here and never ends.", "add the closing square bracket"),
    (
        "Unclosed inline table",
        "a table in curly brackets starts here and never ends.",
        "close it on the same line",
    ),
    (
        "at the end of a table declaration",
        "a header lacks its closing bracket.",
        "write [machine], or [[load]] for one of several",
    ),
    (
        "at the end of an array declaration",
        "a header lacks its closing brackets.",
        "write [[load]] with two on each side",
    ),
    ("Cannot overwrite a value", "this key is given twice.", "keep one of the two lines"),
    (
        "Cannot declare",
        "this header stands twice.",
        "keep one of the two, or use double brackets if there are several such parts",
    ),
    ("Cannot redefine", "this header stands twice.", "keep one of the two"),
    ("Cannot mutate", "this table is given in two ways.", "keep one of the two"),
    ("Duplicate inline table key", "a key is given twice in one table.", "keep one of the two"),
    ("Invalid date", "this looks like a date that does not exist.", "put it in quotes"),
)


def data_of(text: str, file: str = "") -> dict[str, Any]:
    """The table that a TOML text describes; BadRig with the line and what to try when it describes none."""
    plain = text.removeprefix(BOM)
    refuse_strange(plain, file)
    _refuse_deep(plain, file)
    try:
        data = tomllib.loads(plain)
    except tomllib.TOMLDecodeError as bad:
        raise BadRig(_broken(plain, str(bad), file)) from None
    except (ValueError, RecursionError):
        says = "the file holds a number or a nesting too large to read."
        raise BadRig(Problem("", says, "look for a stray run of digits or brackets", file=file)) from None
    if _depth(data) > DEEPEST:
        says = f"lists or tables stand in each other here, more than {DEEPEST} deep."
        raise BadRig(Problem("", says, "look for a stray run of brackets", file=file))
    return data


def _refuse_deep(text: str, file: str) -> None:
    found = _DEEP.search(text)
    if found:
        line = text.count("\n", 0, found.start()) + 1
        says = f"more than {LONGEST_KEY} names are joined by points here."
        raise BadRig(Problem("", says, "look for a stray run of points", shown(found[0]), file, line))


def _broken(text: str, message: str, file: str) -> Problem:
    """What the reader found, in plain words."""
    place = _PLACE.search(message)
    line = int(place.group(1)) if place and place.group(1) else text.rstrip().count("\n") + 1
    said = _PLACE.sub("", message)
    says, hint = next(
        ((says, hint) for piece, says, hint in _BROKEN if piece in said),
        ("this line cannot be read.", "look for a missing quote or bracket"),
    )
    lines = text.splitlines() or [""]
    return Problem("", says, hint, shown(lines[min(line, len(lines)) - 1].strip()), file, line)


def _depth(data: dict[str, Any]) -> int:
    """How many lists and tables stand in each other, counted no further than needed."""
    level: list[Any] = [data]
    depth = 0
    while level and depth <= DEEPEST:
        held = [x for one in level for x in (one.values() if isinstance(one, dict) else one)]
        depth, level = depth + 1, [x for x in held if isinstance(x, dict | list)]
    return depth
