"""Gives an answer: one JSON object, or words and bars on the terminal."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["REFUSALS", "give"]

REFUSALS = ("not by legs", "stop")


def give(
    answer: Answer, *, as_json: bool, strict: bool, units: str, show: Callable[[Screen, Answer], None]
) -> None:
    """Prints the answer and, with --strict, leaves with 1 when it is no. `show` prints the part of the section's own."""
    if as_json:
        click.echo(json.dumps(answer.as_dict(), ensure_ascii=False, allow_nan=False))
    else:
        from sparewatt.cli.screen import Screen

        screen = Screen(inch=units == "inch")
        screen.head(answer)
        show(screen, answer)
        screen.foot(answer)
    if strict and answer.verdict in REFUSALS:
        raise click.exceptions.Exit(1)
