"""`sparewatt sheet RIG --out FILE.pdf`: the summary on paper."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from sparewatt.cli.options import asks, replies, rig_argument

__all__ = ["command"]


@click.command("sheet", help="Write the summary of a rig as a PDF.")
@rig_argument
@click.option(
    "--out",
    type=click.Path(dir_okay=False),
    default="sheet.pdf",
    show_default=True,
    help="The file to write.",
)
@asks("rider", "load", "gear", "effort", "cadence", "duration")
@replies
def command(rig: str, out: str, as_json: bool, strict: bool, units: str, **asked: Any) -> None:
    """Write the summary of a rig as a PDF."""
    from sparewatt import tasks
    from sparewatt.tasks.housekeeping import sheet_written

    answer = sheet_written(Path(out), tasks.sheet(rig, units=units, **asked))
    click.echo(json.dumps(answer.as_dict(), ensure_ascii=False) if as_json else answer.answer)
    del strict  # a sheet is neither yes nor no
