"""A `sparewatt` for the pages' shell that starts at once: one process has everything loaded, and forks for each command.

The stand-in at the head of PATH hands over its words, folder, surroundings and streams, and leaves with the code it gets
back. That a fresh process prints the same is for the tests of the command line.
"""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

__all__ = ["surroundings"]

STAND_IN = """#!{python} -IS
import json, os, socket, sys
with socket.socket(socket.AF_UNIX) as asks:
    asks.connect({address!r})
    words = json.dumps([*sys.argv[1:]]), os.getcwd(), json.dumps(dict(os.environ))
    told = json.dumps([os.path.basename(sys.argv[0]), *words]).encode()
    socket.send_fds(asks, [len(told).to_bytes(8, "big")], [0, 1, 2])
    asks.sendall(told)
    os._exit((asks.recv(1) or b"\\x01")[0])
"""


@contextlib.contextmanager
def surroundings() -> Iterator[dict[str, str]]:
    """The environment in which a page's blocks run: `sparewatt` and `page-python` are forked from what is loaded."""
    with tempfile.TemporaryDirectory() as place:
        address = str(Path(place) / "asks")
        stand_in = Path(place) / "sparewatt"
        stand_in.write_text(STAND_IN.format(python=sys.executable, address=address), encoding="utf-8")
        stand_in.chmod(0o755)
        (Path(place) / "page-python").symlink_to(stand_in)
        path = os.pathsep.join((place, str(Path(sys.executable).parent), os.environ.get("PATH", "")))
        own = {**os.environ, "PATH": path, "COLUMNS": "80", "NO_COLOR": "1", "PYTHONIOENCODING": "utf-8"}
        with subprocess.Popen([sys.executable, __file__, address], env=own, stdout=subprocess.PIPE) as loaded:
            assert loaded.stdout is not None
            loaded.stdout.readline()  # it listens now
            try:
                yield own
            finally:
                loaded.terminate()


def _load() -> None:
    """Ask for what every page asks for, so that the kernels are there before the first fork."""
    from sparewatt import tasks
    from sparewatt.cli import COMMANDS, root

    for name in COMMANDS:
        root.get_command(None, name)  # type: ignore[arg-type]
    with tempfile.TemporaryDirectory() as place:
        rig = str(Path(place) / "rig")
        tasks.demo_write("skerry", rig)
        tasks.match(rig)
        tasks.scene(rig)


def _serve(address: str) -> None:
    with socket.socket(socket.AF_UNIX) as door:
        door.bind(address)
        door.listen()
        print("ready", flush=True)
        signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # each answers for itself; nobody waits for it
        while True:
            asks, _ = door.accept()
            if os.fork() == 0:
                door.close()
                _answer(asks)
            asks.close()


def _answer(asks: socket.socket) -> None:
    """In the fork: become the command that was asked for."""
    code = 1
    try:
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        size, streams, _flags, _from = socket.recv_fds(asks, 8, 3)
        told = b""
        while len(told) < int.from_bytes(size, "big"):
            told += asks.recv(65536)
        name, words, folder, around = json.loads(told)
        for k, stream in enumerate(streams):
            os.dup2(stream, k)
            os.close(stream)
        sys.stdin, sys.stdout, sys.stderr = (os.fdopen(k, "r" if k == 0 else "w") for k in range(3))
        os.chdir(folder)
        os.environ.clear()
        os.environ.update(json.loads(around))
        code = _become(name, json.loads(words))
        sys.stdout.flush()
    except Exception:  # noqa: BLE001
        import traceback

        traceback.print_exc()
    finally:
        asks.sendall(bytes([code]))
        os._exit(code)


def _become(name: str, words: list[str]) -> int:
    if name == "page-python":
        exec(compile(words[0], "<page>", "exec"), {"__name__": "__main__"})  # noqa: S102
        return 0
    from sparewatt.cli import main

    return main(words)


if __name__ == "__main__":
    _load()
    _serve(sys.argv[1])
