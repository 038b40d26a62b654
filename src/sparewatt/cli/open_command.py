"""`sparewatt open [FOLDER]`: the pages."""

from __future__ import annotations

import contextlib
import io
import json
import re
import sys
from importlib import import_module
from pathlib import Path
from typing import TextIO

import click

__all__ = ["command"]


@click.command("open", help="Start the pages on this machine, with a rig folder if you have one.")
@click.argument("folder", required=False, type=click.Path())
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="Port to listen on; a free one when left out."
)
@click.option("--share", is_flag=True, help="Let phones on the same local network in, with a code.")
@click.option("--demo", is_flag=True, help="Open your own copy of the first demo rig.")
@click.option("--no-browser", is_flag=True, help="Do not open the browser.")
@click.option("--json", "as_json", is_flag=True, help="Print where the pages are as one JSON object.")
def command(folder: str | None, port: int, share: bool, demo: bool, no_browser: bool, as_json: bool) -> None:
    """Start the pages."""
    # The twins know nothing of each other but this one name.
    serve = import_module("sparewatt.web.serve")
    where = Path(folder) if folder else None
    if demo and where is None:
        from sparewatt.tasks import demo_home

        where = demo_home()
    told = contextlib.redirect_stdout(_AsJson(sys.stdout)) if as_json else contextlib.nullcontext()
    with told:
        serve.serve(where, port=port, share=share, open_browser=not no_browser)


class _AsJson(io.StringIO):
    """Takes what the server says when it starts, and says it once as an object."""

    def __init__(self, out: TextIO) -> None:
        super().__init__()
        self.out = out
        self.said = False

    def flush(self) -> None:
        text = self.getvalue()
        addresses = re.findall(r"https?://\S+", text)
        if self.said or not addresses:
            return
        self.said = True
        code = re.search(r"type once: (\S+)", text)
        results = {
            "address": addresses[0],
            "shared_address": addresses[-1] if code else None,
            "code": code and code.group(1),
        }
        if code is None:
            results |= {"shared_address_why": "it is not shared", "code_why": "it is not shared"}
        body = {
            "ok": True,
            "section": "open",
            "answer": f"The pages are at {addresses[0]}",
            "verdict": None,
            "results": results,
        }
        print(
            json.dumps({**body, "nearest_yes": [], "caveats": [], "sources": []}), file=self.out, flush=True
        )
