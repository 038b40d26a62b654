"""`sparewatt loads RIG`: will it run, and how long?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give, seconds_of

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command", "show_loads"]


@click.command("loads", help="Will it run, and how long?")
@rig_argument
@asks("rider", "load", "effort", "duration", "tries")
@replies
def command(rig: str, tries: tuple[str, ...], as_json: bool, strict: bool, units: str, **asked: Any) -> None:
    """Will it run, and how long?"""
    from sparewatt import tasks

    answer = tasks.loads(rig, changes=tries_of(tries), **asked)
    seconds = seconds_of(rig, tries, effort=asked["effort"])
    give(answer, as_json=as_json, strict=strict, units=units, show=show_loads, seconds=seconds)


def show_loads(screen: Screen, answer: Answer) -> None:
    """Per appliance: start, idle, light, rated; bouts; run time; then the charge."""
    from sparewatt.present import words, words_loads
    from sparewatt.studies.answers import LoadsAnswer

    found = answer.study
    assert isinstance(found, LoadsAnswer)
    for row in found.rows:
        screen.title(f"{row.load}: {row.verdict}")
        screen.lines([words_loads.load_state(s) for s in row.states])
        if row.dc != "not refused":
            screen.say(f"On direct current: {row.dc}. {row.dc_why}")
        if row.bout is not None:
            screen.say(words_loads.bout(row.bout))
        if row.run is not None:
            screen.say(words_loads.run(row.run))
        for change in row.nearest_yes:
            screen.say(f"Nearest yes: {words.change(change)}")
    if found.charge is not None:
        screen.title("The battery")
        screen.say(words_loads.charge(found.charge))
        rows = [(f"{100 * level:.0f} % full", screen.number(time, "s")) for level, time in found.charge.times]
        screen.table(("charged to", "after"), rows)
