"""Runs what the pages show.

A fenced block behind `<!-- run -->` is run, in order, in one empty folder a page; the block behind `<!-- shows: N -->` holds
the first N lines that the block before it printed, and is written anew by `make docs`.
"""

from __future__ import annotations

import re
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path

__all__ = ["pages", "rewritten", "runnable"]

HERE = Path(__file__).resolve().parents[1]
BLOCK = re.compile(
    r"<!-- (run|shows): ?(\d+)? ?-->\n```(\w+)\n(.*?)```\n|<!-- (run) -->\n```(\w+)\n(.*?)```\n", re.DOTALL
)


def pages() -> list[Path]:
    """Every page that people read and that may have something to run."""
    return [
        HERE / "README.md",
        *sorted(
            p for name in ("tutorials", "how-to", "explanation") for p in (HERE / "docs" / name).glob("*.md")
        ),
    ]


def runnable(page: Path) -> list[tuple[str, str]]:
    """(language, code) of each block to run."""
    return [
        (lang, code) for what, _n, lang, code in _blocks(page.read_text(encoding="utf-8")) if what == "run"
    ]


def _blocks(text: str) -> Iterator[tuple[str, int, str, str]]:
    for m in BLOCK.finditer(text):
        what = m.group(1) or m.group(5)
        yield what, int(m.group(2) or 0), m.group(3) or m.group(6), m.group(4) if m.group(1) else m.group(7)


def rewritten(page: Path, around: Mapping[str, str]) -> str:
    """The page with every shown block as its command prints it now; raises when a block cannot be run.

    around: the environment to run in, from `page_shell.surroundings`.
    """
    text = page.read_text(encoding="utf-8")
    printed = ""

    def fill(m: re.Match[str]) -> str:
        nonlocal printed
        what, code = m.group(1) or m.group(5), m.group(4) if m.group(1) else m.group(7)
        if what == "run":
            printed = _run(m.group(3) or m.group(6), code, folder, page.name, around)
            return m.group(0)
        lines = printed.rstrip("\n").split("\n")[: int(m.group(2))]
        body = "\n".join(line.rstrip() for line in lines).rstrip()
        return f"<!-- shows: {m.group(2)} -->\n```{m.group(3)}\n{body}\n```\n"

    with tempfile.TemporaryDirectory() as folder:
        return BLOCK.sub(fill, text)


def _run(language: str, code: str, folder: str, name: str, around: Mapping[str, str]) -> str:
    """What one block prints, in the page's folder; shell lines stop at the first that fails."""
    words = ["page-python", code] if language == "python" else ["bash", "-eu", "-c", code]
    done = subprocess.run(
        words, cwd=folder, env=around, capture_output=True, text=True, timeout=120, check=False
    )
    if done.returncode:
        raise AssertionError(f"{name}: this block does not run\n{code}\n{done.stdout}{done.stderr}")
    return done.stdout
