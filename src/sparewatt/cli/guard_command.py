"""`sparewatt guard RIG`: sizes, fuses, hazards."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give, seconds_of

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command", "show_guard"]


@click.command("guard", help="What size, what fuse, what can hurt?")
@rig_argument
@asks("load", "tries")
@replies
def command(
    rig: str, load: str | None, tries: tuple[str, ...], as_json: bool, strict: bool, units: str
) -> None:
    """What size, what fuse, what can hurt?"""
    from sparewatt import tasks

    answer = tasks.guard(rig, load=load, changes=tries_of(tries))
    seconds = seconds_of(rig, tries, load=load)
    give(answer, as_json=as_json, strict=strict, units=units, show=show_guard, seconds=seconds)


def show_guard(screen: Screen, answer: Answer) -> None:
    """Findings worst first, then the sizes, then what was looked at and not found."""
    from sparewatt.present import words_guard
    from sparewatt.studies.answers import GuardAnswer
    from sparewatt.tasks import source_lines

    found = answer.study
    assert isinstance(found, GuardAnswer)
    ordered = words_guard.worst_first(found.findings)
    if ordered:
        screen.title("Found on this rig")
        known = dict(source_lines([f.source for f in ordered]))
        screen.lines([words_guard.finding(f, known[f.source]) for f in ordered])
    if found.sizes:
        screen.title("Sizes")
        screen.lines([words_guard.sized(s, inch=screen.inch) for s in found.sizes])
    if found.quiet:
        screen.title("Looked at and not found")
        screen.say("; ".join(found.quiet) + ".")
