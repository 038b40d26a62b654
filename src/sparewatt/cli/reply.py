"""Gives an answer: one JSON object, or words and bars on the terminal."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["REFUSALS", "give", "seconds_of"]

REFUSALS = ("not by legs", "stop")


def give(
    answer: Answer,
    *,
    as_json: bool,
    strict: bool,
    units: str,
    show: Callable[[Screen, Answer], None],
    seconds: Callable[[Screen, Answer], None] | None = None,
) -> None:
    """Prints the answer and, with --strict, leaves with 1 when it is no.

    show: prints the section's own part; seconds: prints how its seconds are seen, last.
    """
    if as_json:
        click.echo(json.dumps(answer.as_dict(), ensure_ascii=False, allow_nan=False))
    else:
        from sparewatt.cli.screen import Screen

        screen = Screen(inch=units == "inch")
        screen.head(answer)
        show(screen, answer)
        screen.foot(answer)
        if seconds is not None:
            seconds(screen, answer)
    if strict and (answer.verdict in REFUSALS or answer.check == "stop" or answer.results.get("against")):
        raise click.exceptions.Exit(1)


def seconds_of(
    rig: str, tries: tuple[str, ...], *, load: str | None = None, effort: str | None = None
) -> Callable[[Screen, Answer], None]:
    """Prints the commands that play what a steady answer tells of, with the changes that were tried."""

    def show(screen: Screen, answer: Answer) -> None:
        from sparewatt.tasks import scenes_of_answer

        shows = {s.words: s.says for s in reversed(scenes_of_answer(answer, load=load, effort=effort))}
        if not shows:
            return
        tried = "".join(f" --try {shlex.quote(pair)}" for pair in tries)
        lines = [
            (says, f"sparewatt scene {shlex.quote(rig)}{tried} --words {shlex.quote(words)}")
            for words, says in reversed(shows.items())
        ]
        screen.title("Second by second")
        if len(lines) == 1:
            screen.command("To see its seconds: ", lines[0][1])
        else:
            screen.say("To see the seconds of each:")
            for says, line in lines:
                screen.command(f"{says}: ", line)

    return show
