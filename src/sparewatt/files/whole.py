"""Writes a small file whole or not at all: a new one beside it, forced to the disk, then put in its place in one step.

Only one process at a time writes in a folder, and nobody's edit is written over: the file must still be as it was read.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sparewatt.errors import CannotWrite, ChangedElsewhere, Problem
from sparewatt.files.given import raw_of

__all__ = [
    "bytes_there",
    "changed_elsewhere",
    "digest_of_bytes",
    "only_one",
    "refused",
    "write_out",
    "write_whole",
]

KEPT = (
    "rig.toml",
    "readings.csv",
    "known.toml",
)  # what a person keeps: nothing that is made from it goes there
BEGINS = 7  # bytes by which a file tells its sort
LARGEST = 100_000_000  # bytes of a file that is written over
_ONE_AT_A_TIME = threading.RLock()


def digest_of_bytes(raw: bytes | None) -> str:
    """Fingerprint of a file's bytes; "" for a file that is not there."""
    return "" if raw is None else hashlib.sha256(raw).hexdigest()


@contextmanager
def only_one(folder: Path) -> Iterator[None]:
    """Inside, no other thread, and where the system can tell no other process of ours, writes in this folder."""
    with _ONE_AT_A_TIME:
        handle = _locked(folder)
        try:
            yield
        finally:
            if handle is not None:
                os.close(handle)  # which also lets go of the lock


def write_whole(path: Path, raw: bytes, before: bytes | None) -> None:
    """Puts `raw` in the place of the file, provided that it still holds `before` (None: is not there)."""
    target = path.resolve()
    spare = ""
    try:
        handle, spare = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".new", dir=target.parent)
        with os.fdopen(handle, "wb") as out:
            out.write(raw)
            out.flush()
            os.fchmod(out.fileno(), target.stat().st_mode & 0o777 if target.exists() else 0o644)
            os.fsync(out.fileno())
        _same_as(target, before)
        os.replace(spare, target)  # noqa: PTH105  (the one call that swaps files in a single step)
        spare = ""
        _settle(target.parent)
    except OSError as bad:
        raise refused(path, bad) from None
    finally:
        if spare:
            Path(spare).unlink(missing_ok=True)


def write_out(path: Path, raw: bytes, ending: str) -> None:
    """Puts something made from the rig where it was asked for; another sort of file that stands there is left alone.

    ending: of its name (".pdf"). What stands there already goes only when it begins as this does: an older one of the same.
    """
    begins = raw[:BEGINS]
    if path.suffix.lower() not in ("", ending) or path.name.lower() in KEPT:
        hint = f"name a file that ends in {ending}"
        raise CannotWrite(
            Problem(
                "",
                f"a {ending[1:].upper()} is not written into such a file; it was left alone.",
                hint,
                file=str(path),
            )
        )
    with only_one(path.resolve().parent):
        before = bytes_there(path)
        if before and not before.startswith(begins):
            says = "another file stands here, and it was left alone."
            raise CannotWrite(Problem("", says, "choose another name", file=str(path)))
        write_whole(path, raw, before)


def bytes_there(path: Path) -> bytes | None:
    """The bytes of the file of this name, None when there is none."""
    try:
        return raw_of(path, LARGEST, "not written over")
    except FileNotFoundError:
        return None


def changed_elsewhere(path: Path) -> ChangedElsewhere:
    """What to say when somebody else's edit stands in the file."""
    says = "the file was changed elsewhere since it was read; nothing was written."
    return ChangedElsewhere(Problem("", says, "read it again, then make the change", file=str(path)))


def _locked(folder: Path) -> int | None:
    """A handle that holds the folder's lock; None where there is no such thing (a network disk, another system)."""
    try:
        import fcntl
    except ImportError:
        return None
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
    except OSError:
        os.close(handle)
        return None
    return handle


def _same_as(target: Path, before: bytes | None) -> None:
    if bytes_there(target) != before:
        raise changed_elsewhere(target)


def _settle(folder: Path) -> None:
    """Forces the folder's entry to the disk, where the system can do that."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def refused(path: Path, bad: OSError) -> CannotWrite:
    """What to say when the disk would not have it."""
    why = bad.strerror or "no reason given"
    hint = "look at free space and at who may write there"
    return CannotWrite(Problem("", f"the disk refused: {why}. The file is as it was.", hint, file=str(path)))
