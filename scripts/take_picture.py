"""Takes the picture of the README anew: the top of the match page of a demo, 1200 px wide, in a light room.

    python scripts/take_picture.py

It needs the package itself, playwright, and a Chromium of the system. Nothing but loopback is asked.
"""

from __future__ import annotations

import argparse
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

WHERE = Path(__file__).resolve().parents[1] / "docs" / "pictures" / "match.png"
WIDE, TALL = 1200, 1300
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]


def take(demo: str, page: str, where: Path) -> None:
    """Open the demo in a server of its own, and write the top of one page as PNG."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise SystemExit("Chromium is not installed on this machine.")
    where.parent.mkdir(parents=True, exist_ok=True)
    me = [sys.executable, "-m", "sparewatt"]
    with tempfile.TemporaryDirectory() as folder:
        rig = Path(folder) / demo
        subprocess.run([*me, "demo", demo, str(rig)], check=True, capture_output=True)
        server = subprocess.Popen([*me, "open", str(rig), "--no-browser"], stdout=subprocess.PIPE, text=True)
        try:
            assert server.stdout is not None
            told = "".join(server.stdout.readline() for _ in range(2))
            address = re.search(r"http://\S+", told)
            assert address is not None, told
            with sync_playwright() as drivers:
                browser = drivers.chromium.launch(executable_path=chromium, args=FLAGS)
                sheet = browser.new_page(
                    viewport={"width": WIDE, "height": TALL}, color_scheme="light", device_scale_factor=1
                )
                sheet.goto(address[0].rstrip("/") + f"/{page}")
                sheet.evaluate("document.fonts.ready")
                sheet.screenshot(path=where)
                browser.close()
        finally:
            server.terminate()
            server.wait(10)


def main() -> None:
    """Read what is wanted from the command line."""
    asked = argparse.ArgumentParser(description="Take the picture of the README anew.")
    asked.add_argument("--demo", default="skerry", help="which demo")
    asked.add_argument("--page", default="match", help="which page")
    asked.add_argument("--to", type=Path, default=WHERE, help="where the PNG goes")
    told = asked.parse_args()
    take(told.demo, told.page, told.to)
    print(told.to)


if __name__ == "__main__":
    main()
