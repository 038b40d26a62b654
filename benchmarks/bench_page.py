"""The bench in a real browser: from Enter in a box to the new fit on screen, one reading after the other."""

from __future__ import annotations

import shutil
import statistics
import tempfile
import urllib.request
from typing import Any

from benchmarks.served import FLAGS, most, served

WARM, READINGS = 6, 36  # written before it counts, and counted
ROWS = 11  # rows of the page in which a reading may be typed; then it is opened anew
K = 0.0221  # V for each turn a minute of the demo's machine


def measure() -> list[tuple[str, float, str, str]]:
    """Rows of (what, value, unit, bound)."""
    with served() as address:
        urllib.request.urlopen(address + "bench/spin_open", timeout=300).read()
        took = _in_browser(address + "bench/spin_open")
    return [
        ("bench: reading typed to redraw, median", statistics.median(took), "ms", ""),
        ("bench: reading typed to redraw, 95 %", most(took), "ms", "<= 150"),
    ]


def _in_browser(address: str) -> list[float]:
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise RuntimeError(
            "chromium is not installed; run `make test` once, it installs what it needs by name"
        )
    took: list[float | None] = []
    with sync_playwright() as play, tempfile.TemporaryDirectory() as profile:
        browser = play.chromium.launch_persistent_context(
            profile, executable_path=chromium, args=FLAGS, headless=True
        )
        page = browser.new_page()
        for n in range(WARM + READINGS):
            if n % ROWS == 0:
                page.goto(address)
                page.wait_for_timeout(4000 if n == 0 else 300)
            rpm = 300 + 37 * (n * 7 % 40)
            wobble = 1 + 0.004 * ((n * 5) % 7 - 3)
            took.append(page.evaluate(_TYPE, [f"{K * rpm * wobble:.2f}", f"{rpm}"]))
        browser.close()
    counted = took[WARM:]
    if None in counted:
        raise RuntimeError("the fit did not change in time")
    return [t for t in counted if t is not None]


_TYPE: Any = """([volts, speed]) => new Promise((resolve) => {
  const open = 'input[name^="v."]:not([type=hidden])';
  const row = [...document.querySelectorAll('#steps .row')].find((r) => r.querySelector(open));
  const boxes = [...row.querySelectorAll(open)];
  boxes[0].value = volts;
  boxes[1].value = speed;
  const give_up = setTimeout(() => resolve(null), 10000);
  const seen = new MutationObserver(() => {
    if (!document.querySelector('#panel figure svg')) return;
    seen.disconnect();
    requestAnimationFrame(() => { // a message is handled after the frame it was sent from has been painted
      const after = new MessageChannel();
      after.port1.onmessage = () => { clearTimeout(give_up); resolve(performance.now() - start); };
      after.port2.postMessage(0);
    });
  });
  seen.observe(document.querySelector('#live'), {childList: true});
  const start = performance.now();
  row.querySelector('button[type=submit]').click();
})"""
