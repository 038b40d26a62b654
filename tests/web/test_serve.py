"""Starting the app: the port, what the terminal says, the demo copies, and sharing with a code."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.web.conftest import RIG

from sparewatt.errors import BadRequest
from sparewatt.web.serve import FIRST_PORT, addresses, free_socket


@contextmanager
def started(*words: str, home: Path) -> Iterator[list[str]]:
    """The app in a process of its own; what it said first."""
    given = ", ".join([*words, "open_browser=False", f"home=Path({str(home)!r})"])
    code = f"from pathlib import Path; from sparewatt.web.serve import serve; serve({given})"
    run = subprocess.Popen(
        [sys.executable, "-c", code],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, "COLUMNS": "100"},
    )
    said: list[str] = []
    try:
        assert run.stdout is not None
        until = time.monotonic() + 30
        while time.monotonic() < until and not any("Ctrl-C" in line for line in said):
            said.append(run.stdout.readline().rstrip("\n"))
        yield said
    finally:
        run.send_signal(signal.SIGINT)
        out, problems = run.communicate(timeout=20)
        said += out.splitlines()
    assert "Traceback" not in problems, problems


def fetch(address: str, **headers: str) -> tuple[int, str]:
    """Status and text, waiting for the server to come up."""
    for _ in range(100):
        try:
            with urllib.request.urlopen(urllib.request.Request(address, headers=headers), timeout=5) as reply:
                return reply.status, reply.read().decode()
        except urllib.error.HTTPError as reply:
            with reply:
                return reply.code, reply.read().decode()
        except OSError:
            time.sleep(0.1)
    raise AssertionError("nobody answered")


def test_it_says_where_it_is_and_listens_on_loopback_alone(tmp_path: Path) -> None:
    """Without --share: 127.0.0.1, the address on the terminal, the rig folder named, a clean stop."""
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    with started(repr(str(tmp_path)), home=tmp_path) as said:
        address = re.search(r"http://127\.0\.0\.1:\d+/", "\n".join(said))
        assert address is not None
        assert str(tmp_path) in "\n".join(said)
        status, text = fetch(address[0] + "match")
        assert status == 200
        assert "House on stilts" in text
        port = int(address[0].rsplit(":", 1)[1].strip("/"))
        for other in (a for a in addresses() if a[:1].isdigit() and "." in a):
            with socket.socket() as probe:
                probe.settimeout(1)
                assert probe.connect_ex((other, port)) != 0, other


def test_without_a_folder_it_says_where_rigs_will_go(tmp_path: Path) -> None:
    """No folder: the first screen works, and the terminal says where demos are copied to."""
    with started("None", home=tmp_path / "mine") as said:
        assert str(tmp_path / "mine") in "\n".join(said)
        address = re.search(r"http://127\.0\.0\.1:\d+/", "\n".join(said))
        assert address is not None
        assert fetch(address[0])[0] == 200


def test_sharing_shows_a_code_and_a_square(tmp_path: Path) -> None:
    """With share: the network address, a square for a phone's camera, and a code; the machine's own screen is let in."""
    (tmp_path / "rig.toml").write_text(RIG, encoding="utf-8")
    with started(repr(str(tmp_path)), "share=True", home=tmp_path) as said:
        text = "\n".join(said)
        code = re.search(r"Code they type once: ([0-9A-Z]{5}-[0-9A-Z]{5})", text)
        assert code is not None
        assert "Others on this network: http://" in text
        local = re.search(r"http://127\.0\.0\.1:\d+/", text)
        assert local is not None
        assert fetch(local[0] + "match")[0] == 200
        assert fetch(local[0], Host="evil.example")[0] == 421
    assert any(set(line) & set("█▀▄") for line in said)


def test_a_taken_port_gives_the_next_free_one_and_a_wanted_one_is_named() -> None:
    """Port 0 takes the first free one of ours; a port somebody asked for and cannot have is a problem with a hint."""
    first = free_socket("127.0.0.1", 0)
    first.listen()
    second = free_socket("127.0.0.1", 0)
    try:
        assert first.getsockname()[1] != second.getsockname()[1]
        assert first.getsockname()[1] >= FIRST_PORT
        with pytest.raises(BadRequest, match="Nothing can listen"):
            free_socket("127.0.0.1", first.getsockname()[1])
        with pytest.raises(BadRequest):
            free_socket("127.0.0.1", 70_000)
        with pytest.raises(BadRequest):
            free_socket("192.0.2.55", 0)
    finally:
        first.close()
        second.close()


def test_answers_are_sent_at_once() -> None:
    """A socket that is not named as TCP gets no TCP_NODELAY from the event loop: every answer then ends 40 ms late."""
    with free_socket("127.0.0.1", 0) as listener:
        assert listener.proto == socket.IPPROTO_TCP


def test_addresses_are_those_of_this_machine() -> None:
    """Names and numbers, no loopback among the numbers."""
    found = addresses()
    assert socket.gethostname().lower() in found
    assert "127.0.0.1" not in found
