"""The page of a scene in a real browser: from a change to the new picture on screen, and to the bands of all runs."""

from __future__ import annotations

import shutil
import statistics
import tempfile
import urllib.request
from typing import Any

from benchmarks.served import FLAGS, most, served

MOVES, WARM = 30, 6
WORDS = "at 5 s pull the plug; at 12 s plug it back in"  # 30 s on the demo rig


def measure() -> list[tuple[str, float, str, str]]:
    """Rows of (what, value, unit, bound)."""
    with served() as address:
        page = address + "scene?words=" + WORDS.replace(" ", "+").replace(";", "%3B")
        urllib.request.urlopen(page, timeout=300).read()
        found = _in_browser(page)
    return [
        ("scene: step moved to redraw, median", statistics.median(found["step"]), "ms", ""),
        ("scene: step moved to redraw, 95 %", most(found["step"]), "ms", "<= 150"),
        ("scene: slider to redraw, median", statistics.median(found["slider"]), "ms", ""),
        ("scene: slider to redraw, 95 %", most(found["slider"]), "ms", "<= 150"),
        ("scene: slider to the bands of 200 runs, median", statistics.median(found["bands"]), "ms", ""),
    ]


def _in_browser(address: str) -> dict[str, list[float]]:
    """Milliseconds of each move: every one asks what was never asked before, so that no answer is kept from earlier."""
    from playwright.sync_api import sync_playwright

    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise RuntimeError(
            "chromium is not installed; run `make test` once, it installs what it needs by name"
        )
    with sync_playwright() as play, tempfile.TemporaryDirectory() as profile:
        browser = play.chromium.launch_persistent_context(
            profile, executable_path=chromium, args=FLAGS, headless=True
        )
        page = browser.new_page()
        page.goto(address)
        page.wait_for_timeout(4000)  # the server gets its other pages ready meanwhile
        page.evaluate(_CLOCK)
        found = {
            # a step that goes to and fro meets its old places again: each time it is ridden a watt harder
            "step": [page.evaluate(_STEP, k) for k in range(MOVES + WARM)][WARM:],
            "slider": [page.evaluate(_SLIDER, 40 + 5 * k) for k in range(MOVES + WARM)][WARM:],
            "bands": [page.evaluate(_BANDS, 300 - 5 * k) for k in range(8)][2:],
        }
        browser.close()
    lost = {what: times.count(None) for what, times in found.items() if None in times}
    if lost:
        raise RuntimeError(f"the picture did not change in time: {lost}")
    return found


_CLOCK: Any = """() => {
  window.until = (change, shown, patience) => new Promise((resolve) => {
    const give_up = setTimeout(() => resolve(null), patience);
    const seen = new MutationObserver(() => {
      if (!shown()) return;
      seen.disconnect();
      requestAnimationFrame(() => { // a message is handled after the frame it was sent from has been painted
        const after = new MessageChannel();
        after.port1.onmessage = () => { clearTimeout(give_up); resolve(performance.now() - start); };
        after.port2.postMessage(0);
      });
    });
    seen.observe(document.querySelector('#part-picture'), {childList: true});
    const start = performance.now();
    change();
  });
  window.slide = (value) => {
    const slider = document.querySelector('#c-effort');
    if (+slider.value === value) throw new Error('the slider stands there already');
    slider.value = value;
    slider.dispatchEvent(new Event('input', {bubbles: true}));
  };
}"""
_STEP = """(k) => window.until(() => {
  Object.assign(document.querySelector('#c-effort').dataset, {exact: `${100 + k} W`, own: 'asked'});
  document.querySelector(`#part-steps li:last-child [data-edit=${k % 2 ? 'sooner' : 'later'}]`).click();
}, () => true, 5000)"""
_SLIDER = "(value) => window.until(() => window.slide(value), () => true, 5000)"
_BANDS = """(value) => window.until(() => window.slide(value),
  () => document.querySelector('#part-picture .df-band') !== null, 30000)"""
