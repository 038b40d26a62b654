"""`sparewatt check RIG`: everything to put right in a rig file."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sparewatt.cli.options import replies, rig_argument
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command"]


@click.command("check", help="Read a rig file and list everything to put right, all at once.")
@rig_argument
@click.option("--write", is_flag=True, help="Bring an older file up to date; comments stay where they are.")
@replies
def command(rig: str, write: bool, as_json: bool, strict: bool, units: str) -> None:
    """Read a rig file and list everything to put right."""
    from sparewatt import tasks

    give(tasks.check(rig, write=write), as_json=as_json, strict=strict, units=units, show=_show)


def _show(screen: Screen, answer: Answer) -> None:
    from sparewatt.tasks.housekeeping import Checked

    found = answer.study
    assert isinstance(found, Checked)
    screen.table(("part", "how many"), [(name, str(count)) for name, count in found.parts.items() if count])
    if found.assumed:
        screen.title("A typical value stands in for")
        screen.lines([f"{key}: {says}" if says else key for key, says in found.assumed], mark="~ ")
