"""The door of the web app: who may knock, how much they may carry in, and what every answer says to the browser.

One ASGI middleware, outermost. It refuses, in this order: a foreign Host header (a page elsewhere pointing a name of its
own at this machine), a body that is too big, a write that another site sent, a stranger without the code when the app is
shared, and anything that takes too long. Every answer, refusals too, leaves with the same headers.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
import time
from collections import deque
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any

from sparewatt.errors import Problem

__all__ = ["COOKIE", "Code", "Door", "TooBig", "new_code"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]
Refuse = Callable[[Scope, int, Problem], tuple[bytes, str]]

log = logging.getLogger("sparewatt.web")
COOKIE = "sparewatt_code"
BODY_LIMIT = 256 * 1024  # bytes; a rig file is a few kB
LARGER = {"/bench/phone": 24 * 1024 * 1024}  # a sound recording: two minutes in stereo
TIME_LIMIT = 60.0  # s for one request, body and answer together
ALPHABET = "23456789ABCDEFGHJKLMNPQRTUVWXYZ"  # nothing that reads as something else
READS = frozenset({"GET", "HEAD", "OPTIONS"})
LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
OPEN_PATHS = ("/code", "/static/", "/favicon.ico")

# A page from here may use what this machine serves and nothing else: no inline script, no inline style, no frame.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    # Other sites learn nothing. Not "no-referrer": browsers then send "Origin: null" with our own forms.
    (b"referrer-policy", b"same-origin"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
    (b"cache-control", b"private, no-cache"),
)


class TooBig(Exception):
    """The body went past the limit while it was being read."""


def new_code() -> str:
    """A fresh code of two groups of four signs, about 40 bits."""
    signs = [secrets.choice(ALPHABET) for _ in range(8)]
    return "".join(signs[:4]) + "-" + "".join(signs[4:])


@dataclass
class Code:
    """The code that strangers on the local network must type once, and who has tried how often.

    Each address has `tries` wrong tries in `window` seconds; all addresses together have `all_tries` until the app restarts.
    """

    text: str
    tries: int = 6
    window: float = 600.0
    all_tries: int = 60
    clock: Callable[[], float] = time.monotonic
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _wrong: dict[str, deque[float]] = field(default_factory=dict)
    _wrong_in_all: int = 0

    def admits(self, cookie: str) -> bool:
        """Does this cookie come from a right code? Compared in constant time."""
        return hmac.compare_digest(cookie.encode(), self.token.encode())

    def may_try(self, address: str) -> bool:
        """Has this address tries left?"""
        recent = self._wrong.get(address)
        while recent and recent[0] < self.clock() - self.window:
            recent.popleft()
        return self._wrong_in_all < self.all_tries and len(recent or ()) < self.tries

    def check(self, typed: str, address: str) -> bool:
        """Is the typed code right? A wrong one is counted; spaces, dashes and small letters are forgiven."""
        plain = "".join(c for c in typed.upper() if c.isalnum())
        right = hmac.compare_digest(plain.encode(), self.text.replace("-", "").encode())
        if not right:
            self._wrong.setdefault(address, deque()).append(self.clock())
            self._wrong_in_all += 1
        return right


def _headers(scope: Scope, name: bytes) -> list[str]:
    return [value.decode("latin-1") for key, value in scope["headers"] if key == name]


def _host_name(host: str) -> str:
    """The name in a Host header, without its port and brackets; "" when it is not one."""
    host = host.strip().lower()
    if host.startswith("["):
        inner, bracket, rest = host[1:].partition("]")
        return inner if bracket and (rest == "" or (rest[0] == ":" and rest[1:].isdigit())) else ""
    name, colon, port = host.partition(":")
    return name if not colon or port.isdigit() else ""


class Door:
    """ASGI middleware: see the module text. `refuse` words a refusal for the asker (page or JSON)."""

    def __init__(
        self,
        app: App,
        *,
        refuse: Refuse,
        hosts: Iterable[str] = (),
        code: Code | None = None,
        body_limit: int = BODY_LIMIT,
        time_limit: float = TIME_LIMIT,
    ) -> None:
        self.app = app
        self.refuse = refuse
        self.hosts = LOOPBACK | {h.lower() for h in hosts}
        self.code = code
        self.body_limit = body_limit
        self.time_limit = time_limit

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or turn it away."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        started = over = False

        async def send_dressed(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                given = {key for key, _ in message["headers"]}
                message["headers"] = [*message["headers"], *((k, v) for k, v in HEADERS if k not in given)]
            await send(message)

        async def send_unless_over(message: Message) -> None:
            if (
                not over
            ):  # else the app took the broken-off body for something else; the refusal below stands instead
                await send_dressed(message)

        async def turn_away(status: int, problem: Problem) -> None:
            body, kind = self.refuse(scope, status, problem)
            head = [(b"content-type", kind.encode()), (b"content-length", str(len(body)).encode())]
            await send_dressed({"type": "http.response.start", "status": status, "headers": head})
            await send_dressed({"type": "http.response.body", "body": body})

        seen, limit = 0, self._limit(scope)

        async def counted() -> Message:
            """`receive` that gives up once more than the limit came in, whatever the headers promised."""
            nonlocal seen, over
            message = await receive()
            if message["type"] == "http.request":
                seen += len(message.get("body", b""))
                if seen > limit:
                    over = True
                    raise TooBig
            return message

        refusal = self._look(scope)
        if refusal is not None:
            await turn_away(*refusal)
            return
        try:
            async with asyncio.timeout(self.time_limit):
                await self.app(scope, counted, send_unless_over)
        except TooBig:
            pass
        except TimeoutError:
            if not started:
                await turn_away(
                    503,
                    Problem(
                        "request", "This took too long, so it was dropped.", "ask for less, or try again"
                    ),
                )
        except (
            Exception
        ):  # the one place where anything unforeseen ends: said plainly here, told in full on the terminal
            log.exception("%s %s", scope["method"], scope["path"])
            if not (started or over):
                await turn_away(
                    500,
                    Problem(
                        "app",
                        "Something broke on our side. Your rig file is as it was.",
                        "go back, or ask another way",
                    ),
                )
        if over and not started:
            await turn_away(413, self._too_big(limit))

    def _look(self, scope: Scope) -> tuple[int, Problem] | None:
        """The refusal this request earns before anything is read, or None."""
        hosts = _headers(scope, b"host")
        host = hosts[0] if len(hosts) == 1 else ""
        if _host_name(host) not in self.hosts:
            return 421, Problem(
                "Host",
                "This app answers only to this machine's own address.",
                "type the address the terminal shows",
                host,
            )
        lengths = _headers(scope, b"content-length")
        if lengths and lengths[0].isdigit() and int(lengths[0]) > self._limit(scope):
            return 413, self._too_big(self._limit(scope))
        if scope["method"] not in READS and not self._from_here(scope, host):
            return 403, Problem(
                "Origin",
                "Another site sent this change, so it was not made.",
                "make the change on this app's own page",
            )
        if self.code is not None and not self._known(scope, self.code):
            return 401, Problem(
                "code", "This app is shared with a code.", "open /code and type the code the terminal shows"
            )
        return None

    def _limit(self, scope: Scope) -> int:
        """The most that this path takes in; a limit set low holds for all."""
        return max(LARGER.get(scope["path"], 0) if self.body_limit >= BODY_LIMIT else 0, self.body_limit)

    @staticmethod
    def _too_big(limit: int) -> Problem:
        if limit > BODY_LIMIT:
            says = f"More than {limit // 1024**2} MB was sent."
            return Problem("request", says, "half a minute of sound is plenty; one channel will do")
        says = f"More than {limit // 1024} kB was sent."
        return Problem("request", says, "a rig file is a few kB; leave the rest out")

    @staticmethod
    def _from_here(scope: Scope, host: str) -> bool:
        """True unless the browser says that some other site sent this write."""
        if any(site not in ("same-origin", "none") for site in _headers(scope, b"sec-fetch-site")):
            return False
        own = f"{scope.get('scheme', 'http')}://{host}".lower()
        return all(origin.lower() == own for origin in _headers(scope, b"origin"))

    @staticmethod
    def _known(scope: Scope, code: Code) -> bool:
        """True for the machine's own screen, for the few paths that ask for the code, and for a right cookie."""
        client = scope.get("client")
        if client and client[0] in LOOPBACK and _host_name(_headers(scope, b"host")[0]) in LOOPBACK:
            return True
        if any(
            scope["path"] == path or (path.endswith("/") and scope["path"].startswith(path))
            for path in OPEN_PATHS
        ):
            return True
        for header in _headers(scope, b"cookie"):
            try:
                morsel = SimpleCookie(header).get(COOKIE)
            except CookieError:
                continue
            if morsel is not None and code.admits(morsel.value):
                return True
        return False
