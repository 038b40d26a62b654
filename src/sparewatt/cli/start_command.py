"""`sparewatt start SENTENCE [FOLDER]`: from one sentence to a first verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sparewatt.cli.options import replies
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command"]


@click.command(
    "start",
    help='Say what to run and who rides: "run a 10 W lamp; I am 34, fairly fit; motor label 24 V 250 W".',
)
@click.argument("sentence")
@click.argument("folder", required=False, type=click.Path())
@replies
def command(sentence: str, folder: str | None, as_json: bool, strict: bool, units: str) -> None:
    """From one sentence to a rig file and a first verdict."""
    from sparewatt import tasks

    answer = tasks.start(sentence, folder)
    give(answer, as_json=as_json, strict=strict, units=units, show=_show)


def _show(screen: Screen, answer: Answer) -> None:
    from sparewatt.present import words, words_loads
    from sparewatt.present.drawings import plain
    from sparewatt.tasks.starting import Started

    found = answer.study
    assert isinstance(found, Started)
    if found.loads is not None:
        screen.lines([words_loads.load_state(s) for row in found.loads.rows for s in row.states])
    elif found.match is not None:
        screen.say(words.match_binds(found.match, answer.rig))
        screen.say(words.match_do(found.match))
        if found.match.chain and found.match.point is not None and found.match.point.i_out > 0:
            screen.block(
                plain.chain_text(
                    found.match.chain, ascii_only=screen.ascii_only, colour=screen.console.is_terminal
                )
            )
    elif answer.nearest_yes:
        first = answer.nearest_yes[0]
        screen.say(f"Nearest yes: {first['says']} {first['gives']}")
    screen.title("Understood")
    screen.lines(found.understood)
    if found.guessed:
        screen.title("Guessed")
        screen.lines(found.guessed, mark="~ ")
    if found.not_used:
        screen.title("Not understood")
        screen.say(", ".join(found.not_used))
    screen.console.print()
    if found.file:
        screen.say(
            f"Written to {found.file}. Go on with: sparewatt open {answer.origin.removesuffix('/rig.toml') or '.'}"
        )
    else:
        screen.say("Nothing was written. Name a folder after the sentence and the rig file goes there.")
