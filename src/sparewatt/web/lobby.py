"""The lobby before the door: who is connected, and how long a caller may take to say what is wanted.

A connection costs something before a word of it can be judged, so whoever opens many of them and says half a sentence on
each could keep everybody else outside. Here a caller nobody knows yet gets little time and few places; this machine's own
screen and whoever has shown the code before are never counted.
"""

from __future__ import annotations

import asyncio
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

__all__ = ["LOOPBACK", "Lobby", "plain_address"]

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
EACH, ALL = 8, 48  # connections of strangers: from one address (a browser opens six), and from all together
SAY_TIME = 10.0  # s for the whole head of a request, from anybody
STAY = 20.0  # s that a stranger's connection lasts, whatever is said on it


def plain_address(host: str) -> str:
    """An address as it is written when it does not come through a socket for both kinds of the protocol."""
    return host.removeprefix("::ffff:")


class Caller(asyncio.Protocol):
    """One connection: passes everything on to the protocol that speaks HTTP, and hangs up when time or places run out."""

    def __init__(self, lobby: Lobby, speaks: asyncio.Protocol) -> None:
        self.lobby = lobby
        self.speaks = speaks
        self.known = False
        self.client = ("", 0)
        self.transport: asyncio.Transport | None = None
        self._timers: dict[str, asyncio.TimerHandle] = {}

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """A caller comes in."""
        assert isinstance(transport, asyncio.Transport)
        self.transport = transport
        peer = transport.get_extra_info("peername") or ("", 0)
        self.client = (str(peer[0]), int(peer[1]))
        self.known = plain_address(self.client[0]) in LOOPBACK
        self.speaks.connection_made(transport)
        self.waits()
        if not self.known:
            self._later("stay", self.lobby.stay, self._overstays)
        self.lobby.enter(self)

    def data_received(self, data: bytes) -> None:
        """Part of what is said."""
        self.speaks.data_received(data)

    def eof_received(self) -> bool | None:
        """The caller has said everything."""
        return self.speaks.eof_received()

    def pause_writing(self) -> None:
        """The caller does not listen fast enough."""
        self.speaks.pause_writing()

    def resume_writing(self) -> None:
        """The caller listens again."""
        self.speaks.resume_writing()

    def connection_lost(self, exc: Exception | None) -> None:
        """The caller is gone."""
        self.lobby.leave(self)
        for timer in self._timers.values():
            timer.cancel()
        self.speaks.connection_lost(exc)

    def asks(self) -> None:
        """The head of a request is whole: whoever answers it watches the time from here."""
        timer = self._timers.pop("say", None)
        if timer is not None:
            timer.cancel()

    def waits(self) -> None:
        """The next head has its time from here."""
        self.asks()
        self._later("say", self.lobby.say_time, self.hang_up)

    def hang_up(self) -> None:
        """End it at once, even if nobody reads what was sent."""
        self.lobby.leave(self)
        if self.transport is not None:
            self.transport.abort()

    def _overstays(self) -> None:
        if not self.known:
            self.hang_up()

    def _later(self, name: str, seconds: float, job: Callable[[], None]) -> None:
        self._timers[name] = asyncio.get_running_loop().call_later(seconds, job)


class Lobby:
    """See the module text. Everything happens in the one thread of the event loop."""

    def __init__(
        self, *, each: int = EACH, all_strangers: int = ALL, say_time: float = SAY_TIME, stay: float = STAY
    ) -> None:
        self.each = each
        self.all_strangers = all_strangers
        self.say_time = say_time
        self.stay = stay
        self._here: dict[tuple[str, int], Caller] = {}  # in the order in which they came

    def before(self, protocol: Callable[..., asyncio.Protocol]) -> Callable[..., asyncio.Protocol]:
        """A maker of protocols that stand behind this lobby."""

        def made(*given: Any, **named: Any) -> asyncio.Protocol:
            return Caller(self, protocol(*given, **named))

        return made

    def enter(self, caller: Caller) -> None:
        """One more; when there are too many strangers the one who has been longest goes, of the address that has most."""
        self._here[caller.client] = caller
        if caller.known:
            return
        strangers = Counter(host for (host, _port), one in self._here.items() if not one.known)
        if strangers[caller.client[0]] > self.each:
            self._longest(caller.client[0]).hang_up()
        elif strangers.total() > self.all_strangers:
            self._longest(strangers.most_common(1)[0][0]).hang_up()

    def leave(self, caller: Caller) -> None:
        """One less."""
        if self._here.get(caller.client) is caller:
            del self._here[caller.client]

    @contextmanager
    def asking(self, client: tuple[str, int] | None, *, known: bool) -> Iterator[None]:
        """While a request of this client is answered. known: it has shown that it may come in."""
        caller = self._here.get(tuple(client)) if client else None  # type: ignore[arg-type]
        if caller is None:
            yield
            return
        caller.known = caller.known or known
        caller.asks()
        try:
            yield
        finally:
            if self._here.get(caller.client) is caller:
                caller.waits()

    def _longest(self, address: str) -> Caller:
        return next(one for (host, _port), one in self._here.items() if host == address and not one.known)
