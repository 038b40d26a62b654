"""`sparewatt open [FOLDER]`: the pages."""

from __future__ import annotations

import importlib
from pathlib import Path

import click

__all__ = ["command"]


@click.command("open", help="Start the pages on this machine, with a rig folder if you have one.")
@click.argument("folder", required=False, type=click.Path())
@click.option(
    "--port", type=click.IntRange(0, 65535), default=0, help="Port to listen on; a free one when left out."
)
@click.option("--share", is_flag=True, help="Let phones on the same local network in, with a code.")
@click.option("--no-browser", is_flag=True, help="Do not open the browser.")
def command(folder: str | None, port: int, share: bool, no_browser: bool) -> None:
    """Start the pages."""
    # The terminal and the pages are twins that do not know each other; this one line names the other by text
    serve = importlib.import_module("sparewatt.web.serve").serve
    serve(Path(folder) if folder else None, port=port, share=share, open_browser=not no_browser)
