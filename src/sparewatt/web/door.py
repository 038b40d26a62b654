"""The door of the web app: who may knock, how much they may carry in, and what every answer says to the browser.

One ASGI middleware, outermost. It refuses, in this order: a foreign Host header (a page elsewhere pointing a name of its
own at this machine), a body that is too big, whatever another site sent (a read too: each may start minutes of work), a
stranger without the code when the app is shared, and anything that takes too long. Every answer, refusals too, leaves with
the same headers.
"""

from __future__ import annotations

import asyncio
import hmac
import logging
import secrets
import time
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.requests import ClientDisconnect

from sparewatt.errors import Problem
from sparewatt.web.lobby import LOOPBACK, Lobby, plain_address

__all__ = ["COOKIE", "SIGNS", "Code", "Door", "TooBig", "is_stranger", "new_code"]

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
STRANGERS_LIMIT = 4 * 1024  # bytes from somebody without the code: the form of the code is a tenth of it
TIME_LIMIT = 60.0  # s for one request, body and answer together
ALPHABET = "23456789ABCDEFGHJKLMNPQRTUVWXYZ"  # nothing that reads as something else
SIGNS = 10  # of a code: 31^10 = 8.2e14 codes
REMEMBERED = 10_000  # addresses whose wrong tries are counted
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
    """A fresh code of two groups of five signs, about 50 bits.

    That alone keeps guessers out: with addresses without end, so that no wait ever holds one up, and 2,000 tries a second,
    which is more than this app can answer, a week of guessing meets the code once in 680,000 such weeks.
    """
    signs = [secrets.choice(ALPHABET) for _ in range(SIGNS)]
    return "".join(signs[: SIGNS // 2]) + "-" + "".join(signs[SIGNS // 2 :])


def is_stranger(scope: Scope) -> bool:
    """Whether the door let this request through without knowing who asks: such an asker is shown nothing of the rig."""
    return bool(scope.get("state", {}).get("stranger"))


@dataclass
class Code:
    """The code that strangers on the local network must type once, and who has tried how often.

    Each address has `free` wrong tries; after every further one it waits, twice as long as before, at most `longest`
    seconds. One address never makes another wait, and what is forgotten after `forgiven` seconds starts anew.
    """

    text: str
    free: int = 5
    longest: float = 900.0
    forgiven: float = 3600.0
    clock: Callable[[], float] = time.monotonic
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _wrong: OrderedDict[str, tuple[int, float]] = field(default_factory=OrderedDict)

    def admits(self, cookie: str) -> bool:
        """Does this cookie come from a right code? Compared in constant time."""
        return hmac.compare_digest(cookie.encode(), self.token.encode())

    def wait(self, address: str) -> float:
        """Seconds until this address may try again; 0 when it may now."""
        count, last = self._wrong.get(address, (0, 0.0))
        if count < self.free:
            return 0.0
        return max(last + min(2.0 ** (count - self.free + 1), self.longest) - self.clock(), 0.0)

    def check(self, typed: str, address: str) -> bool:
        """Is the typed code right? A wrong one is counted; spaces, dashes and small letters are forgiven."""
        plain = "".join(c for c in typed.upper() if c.isalnum())
        right = hmac.compare_digest(plain.encode(), self.text.replace("-", "").encode())
        count, last = self._wrong.pop(address, (0, 0.0))
        if not right:
            count = 0 if self.clock() - last > self.forgiven else count
            self._wrong[address] = (count + 1, self.clock())
            if len(self._wrong) > REMEMBERED:
                self._wrong.popitem(last=False)
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


def _is_open(path: str) -> bool:
    """One of the few paths by which a stranger comes to the code."""
    return any(path == one or (one.endswith("/") and path.startswith(one)) for one in OPEN_PATHS)


class Door:
    """ASGI middleware: see the module text. `refuse` words a refusal for the asker (page or JSON)."""

    def __init__(
        self,
        app: App,
        *,
        refuse: Refuse,
        hosts: Iterable[str] = (),
        code: Code | None = None,
        lobby: Lobby | None = None,
        body_limit: int = BODY_LIMIT,
        time_limit: float = TIME_LIMIT,
    ) -> None:
        self.app = app
        self.refuse = refuse
        self.hosts = LOOPBACK | {h.lower() for h in hosts}
        self.code = code
        self.lobby = lobby or Lobby()
        self.body_limit = body_limit
        self.time_limit = time_limit

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or turn it away."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        known = self.code is None or self._known(scope, self.code)
        scope.setdefault("state", {})["stranger"] = not known
        with self.lobby.asking(scope.get("client"), known=known):
            await self._answer(scope, receive, send)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """The answer to a request, within its limits, or a refusal."""
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
        except (TooBig, ClientDisconnect):
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
        if not self._from_here(scope, host):
            return 403, Problem(
                "Origin",
                "Another site sent this, so nothing was read, worked out or changed.",
                "press Enter in the address bar, or start from this app's own first page",
            )
        if is_stranger(scope) and not _is_open(scope["path"]):
            return 401, Problem(
                "code", "This app is shared with a code.", "open /code and type the code the terminal shows"
            )
        return None

    def _limit(self, scope: Scope) -> int:
        """The most that this path takes in from this asker; a limit set low holds for all."""
        if is_stranger(scope):
            return min(STRANGERS_LIMIT, self.body_limit)
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
        """True unless the browser says that some other site sent this."""
        if any(site not in ("same-origin", "none") for site in _headers(scope, b"sec-fetch-site")):
            return False
        own = f"{scope.get('scheme', 'http')}://{host}".lower()
        return all(origin.lower() == own for origin in _headers(scope, b"origin"))

    @staticmethod
    def _known(scope: Scope, code: Code) -> bool:
        """True for the machine's own screen, and for a right cookie."""
        client, hosts = scope.get("client"), _headers(scope, b"host")
        if client and plain_address(client[0]) in LOOPBACK and hosts and _host_name(hosts[0]) in LOOPBACK:
            return True
        for header in _headers(scope, b"cookie"):
            try:
                morsel = SimpleCookie(header).get(COOKIE)
            except CookieError:
                continue
            if morsel is not None and code.admits(morsel.value):
                return True
        return False
