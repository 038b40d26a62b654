"""`sparewatt worth RIG`: is it worth the legs?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command", "show_worth"]


@click.command("worth", help="Is it worth the legs?")
@rig_argument
@asks("rider", "people", "tries")
@replies
def command(
    rig: str, rider: str | None, people: int, tries: tuple[str, ...], as_json: bool, strict: bool, units: str
) -> None:  # fmt: skip
    """Is it worth the legs?"""
    from sparewatt import tasks

    answer = tasks.worth(rig, rider=rider, people=people, changes=tries_of(tries))
    give(answer, as_json=as_json, strict=strict, units=units, show=show_worth)


def show_worth(screen: Screen, answer: Answer) -> None:
    """One line a load, then the changes that turn a no."""
    from sparewatt.present import words, words_loads
    from sparewatt.studies.answers import WorthAnswer

    w = answer.study
    assert isinstance(w, WorthAnswer)
    screen.title("One use")
    screen.table(
        ("load", "verdict", "riding", "legs", "food above rest", "runs"),
        [
            (
                row.load, row.verdict, screen.number(row.minutes, "s"), screen.number(row.energy_legs, "J"),
                words_loads.kilocalories(row.food_above_rest), row.runs,
            )
            for row in w.rows
        ],
    )  # fmt: skip
    changes = [f"{row.load}: {words.change(c)}" for row in w.rows for c in row.nearest_yes[:1]]
    if changes:
        screen.title("Nearest yes")
        screen.lines(changes)
    if w.unknowns:
        screen.title("What to measure next")
        screen.lines([words.unknown(u) for u in w.unknowns[:3]])
