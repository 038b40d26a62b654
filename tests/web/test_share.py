"""A shared app as its neighbours on the network meet it: a real server, asked over sockets from several addresses.

All of 127.0.0.0/8 is this machine, but only 127.0.0.1 is its own screen: whoever asks from another of them is a stranger.
"""

from __future__ import annotations

import contextlib
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from tests.web import fake_tasks
from tests.web.conftest import RIG, served

from sparewatt.web.door import COOKIE, Code
from sparewatt.web.lobby import ALL, EACH, Lobby

OWNER, STRANGER, HOLDER = "127.0.0.1", "127.0.0.2", "127.0.0.3"
SECRETS = ("House on stilts", "stilts", "Lan", "Bao", "scooter", "house battery")


@contextlib.contextmanager
def line(port: int, address: str) -> Iterator[socket.socket]:
    """A connection from an address."""
    with socket.create_connection(("127.0.0.1", port), timeout=20, source_address=(address, 0)) as one:
        yield one


def ask(
    port: int, address: str, path: str, method: str = "GET", body: str = "", **headers: str
) -> tuple[int, str]:
    """Status and everything else of an answer, head included."""
    told = {
        "Host": f"127.0.0.1:{port}",
        "Connection": "close",
        **{k.replace("_", "-"): v for k, v in headers.items()},
    }
    if body:
        told |= {"Content-Type": "application/x-www-form-urlencoded", "Content-Length": str(len(body))}
    head = "".join(f"{name}: {value}\r\n" for name, value in told.items())
    with line(port, address) as one:
        one.sendall(f"{method} {path} HTTP/1.1\r\n{head}\r\n{body}".encode())
        text = b"".join(iter(lambda: one.recv(65536), b"")).decode("utf-8", "replace")
    return int(text.split(" ", 2)[1]), text


def is_open(one: socket.socket) -> bool:
    """Whether the other side has not hung up."""
    one.setblocking(False)
    try:
        return one.recv(1, socket.MSG_PEEK) != b""
    except BlockingIOError:
        return True
    except ConnectionError:
        return False


def port_of(address: str) -> int:
    """The port in an address."""
    return int(address.rsplit(":", 1)[1])


@pytest.fixture(scope="module")
def sharing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[int, str]]:
    """The command as a person types it: port and code."""
    place = tmp_path_factory.mktemp("share")
    (place / "rig.toml").write_text(RIG, encoding="utf-8")
    command = [sys.executable, "-m", "sparewatt", "open", str(place), "--share", "--no-browser"]
    run = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        assert run.stdout is not None
        said = ""
        while "Ctrl-C" not in said:
            more = run.stdout.readline()
            assert more, said
            said += more
        port, code = re.search(r"127\.0\.0\.1:(\d+)/", said), re.search(r"once: (\S+)", said)
        assert port is not None
        assert code is not None
        yield int(port[1]), code[1]
    finally:
        run.terminate()
        run.communicate(timeout=20)


def test_half_sent_requests_starve_nobody(sharing: tuple[int, str]) -> None:
    """Two hundred strangers' connections that each say half a head: the owner, a holder and a new stranger get answers."""
    port, code = sharing
    _, told = ask(port, HOLDER, "/code", "POST", f"code={code}")
    cookie = re.search(rf"{COOKIE}=[^;]+", told)
    assert cookie is not None
    assert ask(port, OWNER, "/rig")[0] == 200  # the first answer of all loads what it needs
    with contextlib.ExitStack() as kept:
        lines = [kept.enter_context(line(port, f"127.0.0.{10 + k % 4}")) for k in range(200)]
        for one in lines:
            with contextlib.suppress(ConnectionError):  # hung up on already
                one.sendall(b"GET /match HTTP/1.1\r\nHost: 127.0.0.1")
        for _ in range(5):
            for address, path, extra in (
                (OWNER, "/rig", {}),
                (HOLDER, "/rig", {"Cookie": cookie[0]}),
                ("127.0.0.99", "/code", {}),
            ):
                started = time.monotonic()
                assert ask(port, address, path, **extra)[0] == 200
                assert time.monotonic() - started < 5.0
        still = [one for one in lines if is_open(one)]
        assert len(still) <= ALL
        assert 4 * EACH >= len(still) > 0  # those who came last still have their time


def test_an_open_line_says_what_it_wants_or_is_hung_up_on(
    folder: Path, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Half a head, a body that never comes, an answer nobody reads, a second half head after an answer: each ends."""
    lobby = Lobby(say_time=0.6, stay=1.2)
    with served(folder, tmp_path, tasks=fake_tasks, code=Code("ABCDE-23456"), lobby=lobby) as address:
        port = port_of(address)
        form = f"Host: 127.0.0.1:{port}\r\nContent-Type: application/x-www-form-urlencoded"
        head = f"POST /code HTTP/1.1\r\n{form}\r\nContent-Length: 900\r\n\r\ncode=".encode()
        whole = f"GET /code HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()
        with (
            line(port, STRANGER) as half,
            line(port, STRANGER) as body,
            line(port, STRANGER) as deaf,
            line(port, OWNER) as own,
            line(port, OWNER) as second,
        ):
            half.sendall(b"GET / HT")
            body.sendall(head)
            deaf.sendall(whole * 40)
            own.sendall(b"GET / HT")
            second.sendall(whole + b"GET / HT")
            time.sleep(0.3)
            assert all(is_open(one) for one in (half, body, own, second))
            time.sleep(0.7)
            assert not is_open(half)
            assert not is_open(own)
            assert is_open(body)
            time.sleep(0.8)
            assert not is_open(body)
            for one in (deaf, second):
                one.setblocking(True)
                one.settimeout(5)
                with contextlib.suppress(ConnectionResetError):
                    while one.recv(65536):
                        pass
        assert ask(port, OWNER, "/")[0] == 200
    assert not lobby._here
    assert caplog.text == ""  # nor does any of it fill the owner's terminal


def test_a_long_answer_is_not_hung_up_on(folder: Path, tmp_path: Path) -> None:
    """The time to speak is the asker's: while the app works nobody hangs up on a caller it knows."""

    def slow(*given: object, **asked: object) -> object:
        time.sleep(1.5)
        return fake_tasks.guard(*given, **asked)

    tasks = SimpleNamespace(**{**vars(fake_tasks), "guard": slow})
    with served(folder, tmp_path, tasks=tasks, lobby=Lobby(say_time=0.4, stay=0.8)) as address:
        assert ask(port_of(address), OWNER, "/guard")[0] == 200
        assert (
            ask(port_of(address), HOLDER, "/guard")[0] == 200
        )  # not shared with a code: nobody is a stranger


@pytest.mark.parametrize(
    "path",
    ["/match", "/match/part", "/scene", "/bench", "/guard", "/api/match?draws=4096", "/sheet.pdf", "/"],
)
@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "iframe"},
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Host": "evil.example"},
    ],
)
def test_another_site_starts_no_work(
    folder: Path, tmp_path: Path, headers: dict[str, str], path: str
) -> None:
    """What a page elsewhere asks of the owner's browser is refused before any task, and the file, is touched."""
    touched: list[str] = []

    class Watched:
        def __getattr__(self, name: str) -> object:
            touched.append(name)
            return getattr(fake_tasks, name)

    with served(folder, tmp_path, tasks=Watched()) as address:
        status, text = ask(port_of(address), OWNER, path, **headers)
        assert status == (421 if "Host" in headers else 403)
        assert touched == []
        assert not any(word in text for word in SECRETS)
        assert ask(port_of(address), OWNER, "/match", Sec_Fetch_Site="same-origin")[0] == 200
        assert ask(port_of(address), OWNER, "/match", Sec_Fetch_Site="none")[0] == 200
        assert touched


def test_a_stranger_reads_nothing_of_the_rig(sharing: tuple[int, str]) -> None:
    """Whatever is asked without the code, and whatever goes wrong with it, no word of the rig file is in the answer."""
    port, _ = sharing
    assert "House on stilts" in ask(port, OWNER, "/match")[1]
    found = {}
    for path in (
        "/", "/match", "/rig", "/files/rig.toml", "/api/rig", "/openapi.json", "/static/nothing.css", "/static/",
        "/static/../rig", "/static/%2e%2e/rig.toml", "/code", "/code/",
        "/code?units=furlong", "/code?room=dark&units=inch", "/favicon.ico/x",
        "/code?load=" + "x" * 300, "/code?try=broken", "//rig", "/nope", "/bench", "/scene.json", "/match/part",
    ):  # fmt: skip
        for method, body in (
            ("GET", ""),
            ("POST", "code=WRONG"),
            ("POST", "x" * 5000),
            ("DELETE", ""),
            ("PUT", "a=b"),
            ("HEAD", ""),
        ):
            for accept in ("text/html", "application/json"):
                status, text = ask(port, "127.0.0.50", path, method, body, Accept=accept)
                found[method, path, accept, len(body)] = status
                assert not any(word in text for word in SECRETS), (method, path, accept)
                assert status != 500, (method, path)
    assert found["GET", "/static/nothing.css", "text/html", 0] == 404
    assert found["POST", "/code", "text/html", 5000] == 413
    assert found["DELETE", "/code", "text/html", 0] == 405


def test_wrong_codes_shut_out_nobody_else(sharing: tuple[int, str]) -> None:
    """Seventy wrong codes: their address waits; the owner, a holder, and another stranger with the code do not."""
    port, code = sharing
    _, told = ask(port, HOLDER, "/code", "POST", f"code={code}")
    cookie = re.search(rf"{COOKIE}=[^;]+", told)
    assert cookie is not None
    tried = [ask(port, STRANGER, "/code", "POST", "code=WRONG")[0] for _ in range(70)]
    assert tried.count(401) == 5
    assert tried.count(429) == 65
    assert ask(port, STRANGER, "/code", "POST", f"code={code}")[0] == 429
    assert ask(port, OWNER, "/match")[0] == 200
    assert ask(port, HOLDER, "/match", Cookie=cookie[0])[0] == 200
    assert ask(port, "127.0.0.4", "/code", "POST", f"code={code}")[0] == 303
