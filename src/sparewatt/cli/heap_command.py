"""`sparewatt heap RIG`: the parts ranked for one load."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command", "show_heap"]


@click.command("heap", help="What have I got, and is it any good?")
@rig_argument
@asks("load", "tries")
@replies
def command(
    rig: str, load: str | None, tries: tuple[str, ...], as_json: bool, strict: bool, units: str
) -> None:
    """What have I got, and is it any good?"""
    from sparewatt import tasks

    answer = tasks.heap(rig, load=load, changes=tries_of(tries))
    give(answer, as_json=as_json, strict=strict, units=units, show=show_heap)


def show_heap(screen: Screen, answer: Answer) -> None:
    """Each machine with its call, then the best ways to join the parts."""
    from sparewatt.present import words_guard
    from sparewatt.studies.answers import HeapAnswer

    found = answer.study
    assert isinstance(found, HeapAnswer)
    screen.title("Machines")
    screen.lines([words_guard.machine(m) for m in found.machines])
    rows = []
    for m in found.machines:
        for delivered, speed, volts, lost in m.best:
            cells = (
                screen.number(delivered, "W"),
                screen.number(speed, "rad/s"),
                screen.number(volts, "V"),
                screen.number(lost, "W"),
            )
            rows.append((m.name, *cells))
    if rows:
        screen.table(("machine", "for", "best at", "makes", "keeps"), rows)
    if found.combinations:
        screen.title("Ways to join them")
        screen.lines([words_guard.combination(c) for c in found.combinations])
