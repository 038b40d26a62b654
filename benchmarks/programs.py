"""Whole programs, as a person meets them: help, first page, sheet, memory, and a slider moved in a real browser."""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import tempfile
import time
import urllib.request
from pathlib import Path

from benchmarks.served import DEMO, FLAGS, ME, address_of, most, opened

MOVES = 40


def _seconds(command: list[str], times: int = 5, place: str | None = None) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        subprocess.run(command, check=True, capture_output=True, cwd=place)
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def measure() -> list[tuple[str, float, str, str]]:
    """Rows of (what, value, unit, bound)."""
    rows = [("sparewatt --help", _seconds([*ME, "--help"]), "s", "<= 0.2")]
    with tempfile.TemporaryDirectory() as folder:
        rig = Path(folder) / "rig"
        subprocess.run([*ME, "demo", DEMO, str(rig)], check=True, capture_output=True)
        rows.append(
            (
                "summary PDF, command from a cold start",
                _seconds([*ME, "sheet", str(rig)], 3, folder),
                "s",
                "<= 3",
            )
        )
        rows += _server(rig)
    return rows


def _server(rig: Path) -> list[tuple[str, float, str, str]]:
    start = time.perf_counter()
    server = opened(rig)
    try:
        address = address_of(server)
        urllib.request.urlopen(address, timeout=10).read()
        first = time.perf_counter() - start
        urllib.request.urlopen(address + "match", timeout=60).read()
        redraws = _slider(address + "match")
        memory = _resident_mb(server.pid)
    finally:
        server.terminate()
        server.wait(10)
    return [
        ("cold start to first page", first, "s", "<= 2"),
        ("slider to redraw in Chromium, median", statistics.median(redraws), "ms", ""),
        ("slider to redraw in Chromium, 95 %", most(redraws), "ms", "<= 100"),
        ("memory of the server after all that", memory, "MB", "<= 300"),
    ]


def _resident_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return float("nan")


def _slider(address: str) -> list[float]:
    """Milliseconds from the input event of the effort slider to the chain having changed on screen.

    40 moves to watts never asked before, so that no answer is kept from an earlier move; four more first, to warm up.
    """
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
        page.wait_for_timeout(1500)
        times = [page.evaluate(_MOVE, 60 + 5 * k) for k in range(MOVES + 4)]
        browser.close()
    if None in times:
        raise RuntimeError(f"the chain did not change within 3 s on {times.count(None)} moves")
    return times[4:]


_MOVE = """(value) => new Promise((resolve) => {
  const slider = document.querySelector('input[type=range][name=effort]');
  const chain = document.querySelector('#part-chain');
  if (+slider.value === value) throw new Error('the slider stands there already');
  const give_up = setTimeout(() => resolve(null), 3000);
  const seen = new MutationObserver(() => {
    seen.disconnect();
    requestAnimationFrame(() => { // a message is handled after the frame it was sent from has been painted
      const after = new MessageChannel();
      after.port1.onmessage = () => { clearTimeout(give_up); resolve(performance.now() - start); };
      after.port2.postMessage(0);
    });
  });
  seen.observe(chain, {childList: true, subtree: true, characterData: true});
  slider.value = value;
  if (+slider.value !== value) throw new Error('the slider does not take this value');
  const start = performance.now();
  slider.dispatchEvent(new Event('input', {bubbles: true}));
})"""

if os.environ.get("SPAREWATT_BENCH_DEBUG"):
    print(measure())
