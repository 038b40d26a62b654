"""`sparewatt demo [NAME FOLDER]`: the demo rigs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sparewatt.cli.options import replies
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command"]


@click.command("demo", help="List the demo rigs, or write one out: sparewatt demo NAME FOLDER.")
@click.argument("name", required=False)
@click.argument("folder", required=False, type=click.Path())
@replies
def command(name: str | None, folder: str | None, as_json: bool, strict: bool, units: str) -> None:
    """List the demo rigs, or write one out."""
    from sparewatt import tasks
    from sparewatt.errors import BadRequest, Problem

    if name is not None and folder is None:
        raise BadRequest(Problem("FOLDER", "the folder is missing.", f"sparewatt demo {name} {name}"))
    answer = tasks.demo_list() if name is None or folder is None else tasks.demo_write(name, folder)
    give(answer, as_json=as_json, strict=strict, units=units, show=_show)


def _show(screen: Screen, answer: Answer) -> None:
    from sparewatt.tasks.housekeeping import Demos

    found = answer.study
    assert isinstance(found, Demos)
    for demo in found.demos:
        screen.title(f"{demo.key}: {demo.name}")
        screen.say(" ".join(demo.story.split()))
