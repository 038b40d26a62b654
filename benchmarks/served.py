"""A demo rig served as it is served to people, for figures taken in a real browser."""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["DEMO", "FLAGS", "ME", "address_of", "most", "opened", "served"]

ME = [sys.executable, "-m", "sparewatt"]
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
DEMO = "skerry"  # the one with the most gears and the fullest page


@contextmanager
def served() -> Iterator[str]:
    """The address of the app over a demo rig of its own."""
    with tempfile.TemporaryDirectory() as folder:
        rig = Path(folder) / "rig"
        subprocess.run([*ME, "demo", DEMO, str(rig)], check=True, capture_output=True)
        server = opened(rig)
        try:
            yield address_of(server)
        finally:
            server.terminate()
            server.wait(10)


def opened(rig: Path) -> subprocess.Popen[str]:
    """A server over a rig."""
    return subprocess.Popen(
        [*ME, "open", str(rig), "--no-browser"], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )


def address_of(server: subprocess.Popen[str]) -> str:
    """Where it says it is."""
    assert server.stdout is not None
    for line in server.stdout:
        found = re.search(r"http://\S+", line)
        if found:
            return found.group(0).rstrip("/.") + "/"
    raise RuntimeError("the server printed no address")


def most(times: list[float]) -> float:
    """What 95 of 100 stay below."""
    return sorted(times)[int(0.95 * len(times))]
