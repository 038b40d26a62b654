"""A real browser for the page tests: it notes every request and every message, and hands them over at the end."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Browser, Page, sync_playwright

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
AXE = Path(__file__).resolve().parents[1] / "vendor" / "axe.min.js"
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@dataclass
class Watch:
    """What one page did: hosts it asked, and messages that say something went wrong."""

    hosts: set[str] = field(default_factory=set)
    messages: list[str] = field(default_factory=list)

    def clean(self) -> None:
        """Nothing left loopback, and nothing went wrong."""
        assert self.hosts <= {"127.0.0.1"}, self.hosts
        assert self.messages == []


@contextmanager
def chromium(path: str) -> Iterator[Browser]:
    """The browser, closed in the end."""
    with sync_playwright() as drivers:
        browser = drivers.chromium.launch(executable_path=path, args=FLAGS)
        try:
            yield browser
        finally:
            browser.close()


def open_page(
    browser: Browser, *, wide: int = 1200, tall: int = 900, room: str = "light", script: bool = True
) -> tuple[Page, Watch]:
    """A fresh page in a context of its own, watched."""
    context = browser.new_context(
        viewport={"width": wide, "height": tall},
        color_scheme="dark" if room == "dark" else "light",
        java_script_enabled=script,
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    watch = Watch()
    page.on(
        "request", lambda r: watch.hosts.add(urlsplit(r.url).hostname or "") if r.url[:4] == "http" else None
    )
    page.on("console", lambda m: watch.messages.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: watch.messages.append(str(e)))
    page.on(
        "requestfailed",
        lambda r: (
            watch.messages.append(f"{r.url} {r.failure}") if "ERR_ABORTED" not in str(r.failure) else None
        ),
    )
    return page, watch


def axe(page: Page) -> list[str]:
    """What the accessibility checker holds against a page."""
    if page.evaluate("typeof axe") == "undefined":
        page.evaluate(
            AXE.read_text(encoding="utf-8")
        )  # not as a script tag: the page's policy forbids that, as it should
    found = page.evaluate(
        """levels => axe.run(document, {runOnly: {type: 'tag', values: levels}, resultTypes: ['violations']})
        .then(r => r.violations.map(v => v.id + ': ' +
          v.nodes.map(n => n.target.join(' ') + ' ' + (n.failureSummary || '')).join(' | ')))""",
        LEVELS,
    )
    return [str(line) for line in found]


def axe_in_both_rooms(page: Page) -> list[str]:
    """What the checker holds against a page by night and by day, loaded once; the page is light afterwards."""
    found: list[str] = []
    for room in ("dark", "light"):
        page.emulate_media(color_scheme=room)
        found += [f"{room}: {line}" for line in axe(page)]
    return found
