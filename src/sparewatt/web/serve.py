"""Start the web app: pick a port, say where it is, open the browser, and get the slow parts ready meanwhile."""

from __future__ import annotations

import contextlib
import shutil
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sparewatt.errors import BadRequest, Problem

if TYPE_CHECKING:
    import uvicorn

    from sparewatt.web.lobby import Lobby

__all__ = ["addresses", "config_of", "free_socket", "serve", "warm_up"]

LOOPBACK = "127.0.0.1"
FIRST_PORT, TRIED_PORTS = 8770, 20  # a number of its own, so that a bookmark keeps working


def serve(
    folder: Path | str | None = None,
    *,
    host: str = "",
    port: int = 0,
    share: bool = False,
    open_browser: bool = True,
    home: Path | None = None,
) -> None:
    """Serve until interrupted.

    folder: with the rig.toml to work on, or where one should go; None: rigs go to `home` (~/sparewatt).
    host: address to listen on (loopback unless shared); port: 0 takes a free one; share: let others on the local
    network in with a code; open_browser: show the page on this machine.
    """
    import uvicorn

    from sparewatt.web.app import create_app
    from sparewatt.web.door import Code, new_code
    from sparewatt.web.lobby import Lobby

    where = Path(folder).expanduser().resolve() if folder is not None else None
    listener = free_socket(host or ("0.0.0.0" if share else LOOPBACK), port)  # noqa: S104  (only when asked to share)
    bound = listener.getsockname()[1]
    code, lobby = Code(new_code()) if share else None, Lobby()
    own = addresses() if share else []
    home = home or Path.home() / "sparewatt"
    app = create_app(where, home=home, hosts=[*own, *([host] if host else [])], code=code, lobby=lobby)
    listener.listen()  # before the address is told: who asks at once waits, and is not turned away
    _say(where, home, bound, own, code.text if code else "")
    if open_browser:
        _later(0.4, lambda: webbrowser.open(f"http://{LOOPBACK}:{bound}/"))
    _later(0.8, warm_up)
    config = config_of(app, lobby)
    with contextlib.closing(listener), contextlib.suppress(KeyboardInterrupt):
        uvicorn.Server(config).run(sockets=[listener])


def config_of(app: Any, lobby: Lobby) -> uvicorn.Config:
    """How the app is served: behind its lobby, believing no header about who asks, and quiet about what strangers send."""
    import uvicorn
    from uvicorn.protocols.http.h11_impl import H11Protocol

    return uvicorn.Config(
        app,
        http=lobby.before(H11Protocol),  # type: ignore[arg-type]  # called like a class
        log_level="error",
        access_log=False,
        server_header=False,
        proxy_headers=False,
    )


def free_socket(host: str, port: int) -> socket.socket:
    """A socket bound to the wanted port, or to the first free one of ours, or to any."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    wanted = [port] if port else [*range(FIRST_PORT, FIRST_PORT + TRIED_PORTS), 0]
    for number in wanted:
        # named as TCP: only then does the event loop send the end of an answer without waiting 40 ms for more
        listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((host, number))
        except (OSError, OverflowError):
            listener.close()
            continue
        return listener
    raise BadRequest(
        Problem(
            "port",
            f"Nothing can listen on {host}, port {port}.",
            "leave the port out, and a free one is taken",
            str(port),
        )
    )


def addresses() -> list[str]:
    """The names and numbers by which others on the local network may know this machine. No packet is sent."""
    name = socket.gethostname().lower()
    found = [name, f"{name}.local"]
    for family, far in (
        (socket.AF_INET, "192.0.2.1"),
        (socket.AF_INET6, "2001:db8::1"),
    ):  # addresses kept for examples
        with contextlib.suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as probe:
            probe.connect((far, 9))
            found.insert(0, probe.getsockname()[0].partition("%")[0])
    with contextlib.suppress(OSError):
        found += [str(info[4][0]).partition("%")[0] for info in socket.getaddrinfo(name, None)]
    return [a for a in dict.fromkeys(found) if a not in ("127.0.0.1", "127.0.1.1", "::1")]


def warm_up() -> None:
    """Import what the first answer needs and compile what it runs, so that nobody waits for it later."""
    from sparewatt import tasks
    from sparewatt.files import demo_list, demo_text, read_text
    from sparewatt.rig.motion import at_once, compile_aside

    with contextlib.suppress(
        Exception
    ):  # a cold start is only slower; the first real question says what is wrong
        demo = read_text(demo_text(demo_list()[0].key))
        tasks.match(demo, draws=64)
        if at_once():
            tasks.scene(demo, runs=0)
        else:
            compile_aside()


def _say(folder: Path | None, home: Path, port: int, own: list[str], code: str) -> None:
    """What the terminal shows."""
    lines = [f"Sparewatt is at http://{LOOPBACK}:{port}/"]
    lines += [f"Rig folder: {folder}" if folder else f"New rigs and copies of demos go to {home}"]
    lan = next((a for a in own if a[:1].isdigit() and "." in a), own[0] if own else "")
    address = f"http://{lan}:{port}/"
    if code:
        lines += [f"Others on this network: {address}", f"Code they type once: {code}"]
    sys.stdout.write("\n".join([*lines, "Stop with Ctrl-C.", ""]))
    if code:
        _square(address)
    sys.stdout.flush()


def _square(address: str) -> None:
    """The address as a square of dots for a phone's camera."""
    import segno

    if sys.stdout.isatty() and shutil.get_terminal_size().columns < 40:
        return
    segno.make(address, error="m").terminal(compact=True)


def _later(seconds: float, job: Callable[[], object]) -> None:
    """Do a job in the background after a while."""

    def run() -> None:
        time.sleep(seconds)
        job()

    threading.Thread(target=run, daemon=True).start()
