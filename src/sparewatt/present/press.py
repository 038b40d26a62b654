"""Sets a sheet in a process of its own: the type setter's 80 MB come and go with the sheet, the pages stay small.

`Press` starts the child (this module run as a program) and talks to it in lines: one line of content in, its number of pages
out; an empty line asks for the last content as PDF.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

__all__ = ["Press"]

HERE = Path(__file__).resolve().parent


class Press:
    """One sheet being set. Use as a context; `pages` as often as needed, then `pdf` once."""

    def __init__(self, template: str) -> None:
        command = [sys.executable, "-m", "sparewatt.present.press", template]
        pipe = subprocess.PIPE
        self._child = subprocess.Popen(command, stdin=pipe, stdout=pipe, stderr=pipe)  # noqa: S603  (ourselves)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, bad: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._child.kill()
        self._child.communicate()

    def pages(self, content: str) -> int:
        """How many pages this content (one line of JSON) takes."""
        return int(self._ask(content.encode() + b"\n"))

    def pdf(self) -> bytes:
        """The content last asked about, as PDF."""
        size = int(self._ask(b"\n"))
        assert self._child.stdout is not None
        return self._child.stdout.read(size)

    def _ask(self, line: bytes) -> bytes:
        assert self._child.stdin is not None
        assert self._child.stdout is not None
        self._child.stdin.write(line)
        self._child.stdin.flush()
        reply = self._child.stdout.readline()
        if not reply:
            assert self._child.stderr is not None
            raise RuntimeError(
                "the sheet could not be set: " + self._child.stderr.read().decode(errors="replace")[-2000:]
            )
        return reply


def _inputs(template: str, told: str) -> dict[str, Any]:
    return {
        "input": HERE / template,
        "root": HERE,
        "font_paths": [HERE / "fonts"],
        "ignore_system_fonts": True,
        "sys_inputs": {"data": told},
    }


def _work(template: str, lines: BinaryIO, out: BinaryIO) -> None:
    """The child: sets what it is told until nothing more comes."""
    import typst

    told = ""
    for line in lines:
        if line.strip():
            told = line.decode().rstrip("\n")
            found = typst.query(**_inputs(template, told), selector="<pages>", field="value", one=True)
            out.write(b"%d\n" % int(json.loads(found)))
        else:
            pdf = typst.compile(**_inputs(template, told), format="pdf")
            if not isinstance(pdf, bytes):
                raise TypeError("the sheet came out in pieces")
            out.write(b"%d\n" % len(pdf) + pdf)
        out.flush()


if __name__ == "__main__":
    _work(sys.argv[1], sys.stdin.buffer, sys.stdout.buffer)
