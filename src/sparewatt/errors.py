"""Everything that can go wrong, as one tree.

    SparewattError                something a person can put right; carries a list of Problem
    |-- BadRig                    the rig file (or a form) says something that cannot be used; all problems at once
    |-- BadRequest                a question was asked with words or numbers that cannot be used
    |-- NotFound                  a file, folder, demo or part that is not there
    |-- ChangedElsewhere          the file on disk is not the one that was read; nothing was written
    `-- CannotWrite               the disk refused; nothing was half-written

Each problem says where, what was read, what is wrong with it, and what to try.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = [
    "STRANGE",
    "BadRequest",
    "BadRig",
    "CannotWrite",
    "ChangedElsewhere",
    "NotFound",
    "Problem",
    "SparewattError",
    "visible",
]

# Control letters other than tab and line breaks, those that turn the direction of writing, and halves of letters.
STRANGE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ufeff\ud800-\udfff]")


def visible(text: str) -> str:
    """The text with each letter that nobody sees, but a terminal or a drawing may obey, written out."""
    return STRANGE.sub(lambda found: f"\\u{ord(found[0]):04x}", text)


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to put right.

    where: key path or part ("machine.resistance"); file and line: where it stands, if it stands in a file;
    read: the text that was read; problem: one sentence; hint: what would be accepted or what to try. begin, end: the first
    and last letter of typed words that it is about, from 1, or the number of a step; 0 where it is about neither.
    """

    where: str
    problem: str
    hint: str = ""
    read: str = ""
    file: str = ""
    line: int | None = None
    begin: int = 0
    end: int = 0

    def sentence(self) -> str:
        """The problem as one printable line, place first."""
        place = self.file
        if self.line is not None:
            place = f"{place or 'line'}:{self.line}" if self.file else f"line {self.line}"
        head = ": ".join(part for part in (place, self.where) if part)
        tail = f" Try: {self.hint}" if self.hint else ""
        return visible(f"{head}: {self.problem}{tail}" if head else f"{self.problem}{tail}")

    def as_dict(self) -> dict[str, object]:
        """The three published keys, and the finer ones beside them."""
        return {
            "where": self.where or ("" if self.line is None else f"line {self.line}") or self.file,
            "problem": self.problem,
            "try": self.hint,
            "read": self.read,
            "file": self.file,
            "line": self.line,
        }


class SparewattError(Exception):
    """Base of the tree: one or more problems, each with where, what and what to try."""

    def __init__(self, *problems: Problem) -> None:
        self.problems: tuple[Problem, ...] = problems
        super().__init__("\n".join(p.sentence() for p in problems))


class BadRig(SparewattError):
    """The rig file, or what a form would make of it, cannot be used as it stands."""


class BadRequest(SparewattError):
    """A question was asked with words or numbers that cannot be used."""


class NotFound(SparewattError):
    """A file, folder, demo rig or part that is not there."""


class ChangedElsewhere(SparewattError):
    """The file was edited by somebody else since it was read; nothing was written."""


class CannotWrite(SparewattError):
    """The disk refused a write; the old file still stands whole."""
