"""`sparewatt mend RIG --ride "cadence 62, 11.4 V, 3.1 A, heavy"`: what is wrong, and what would help most."""

from __future__ import annotations

import math
import shlex
from typing import TYPE_CHECKING, Any

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.studies.mend.answers import Foretold
    from sparewatt.tasks import Answer
    from sparewatt.tasks.keys_mend import Ranked

__all__ = ["command", "show_mend"]
TOLD, BESIDE = 4, 3  # causes told in full, and set beside each other
MOST_ROWS = 8  # readings set beside what the causes give
LEAST = 0.01  # share below which a cause is not told


@click.command("mend", help="What is wrong, and what would help most?")
@rig_argument
@click.option(
    "--ride",
    "moments",
    metavar="TEXT",
    multiple=True,
    help='What you read on the ride: "cadence 62, 11.4 V, 3.1 A, heavy"; once for each moment.',
)
@click.option(
    "--well",
    metavar="TEXT",
    multiple=True,
    help="The same from when all was still well; once for each moment.",
)
@click.option(
    "--readings",
    is_flag=True,
    help="Use the lines of readings.csv beside the rig that were taken riding too.",
)
@click.option(
    "--well-until",
    default="",
    metavar="DATE",
    help='All was well up to then: lines of readings.csv until "2026-05-02" count as well.',
)
@asks("rider", "load", "gear", "effort", "tries")
@replies
def command(
    rig: str, moments: tuple[str, ...], well: tuple[str, ...], tries: tuple[str, ...], as_json: bool, strict: bool,
    units: str, **asked: Any,
) -> None:  # fmt: skip
    """What is wrong, and what would help most?"""
    from functools import partial

    from sparewatt import tasks

    answer = tasks.mend(rig, moments=moments, well=well, changes=tries_of(tries), **asked)
    give(answer, as_json=as_json, strict=strict, units=units, show=partial(show_mend, rig=rig))


def show_mend(screen: Screen, answer: Answer, rig: str = "RIG") -> None:
    """Warnings first, then what is off, the causes with their checks, each reading under each cause, what would help."""
    from sparewatt.present import words_mend
    from sparewatt.tasks.keys_mend import Ranked

    ranked = answer.study
    assert isinstance(ranked, Ranked)
    a = ranked.found.answer
    screen.lines(words_mend.stop_lines(a), mark="! ")
    if a.signs:
        screen.title("What you read, against a rig with nothing wrong")
        screen.lines([words_mend.sign(s) for s in a.signs])
    told = [n for n, c in enumerate(a.causes) if n < TOLD and (n < 2 or c.likelihood >= LEAST)]
    if told:
        screen.title("What it can be")
    screen.lines_of([(f"{n + 1}", "", words_mend.cause(a, a.causes[n], ranked.found.more[n])) for n in told])
    _beside(screen, ranked, told[:BESIDE])
    screen.say(words_mend.missing(a))
    _right(screen, ranked, rig, told)
    _better(screen, answer, ranked)


def _beside(screen: Screen, ranked: Ranked, told: list[int]) -> None:
    """Each reading, and what each of the first causes gives for it."""
    from sparewatt.present import words_mend

    found = ranked.found
    columns = [found.more[n].foretold for n in told]
    if not columns or not columns[0]:
        return
    several = len(found.moments) > 1
    rows = []
    every = list(zip(*columns, strict=True))
    told_apart = [row for row in every if _differ(row)][:MOST_ROWS]
    for row in told_apart:
        what, read = words_mend.what_read(row[0])
        at = found.moments[row[0].moment].at
        cells = [words_mend.given(f) + ("" if words_mend.fits(f) else " (no)") for f in row]
        rows.append((f"{at}: {what.lower()}" if several and at else what, read, *cells))
    if not rows:
        return
    screen.title("What each of them gives")
    screen.table(("reading", "you read", *(f"{n + 1} gives" for n in told)), rows)
    if len(rows) < len(every):
        screen.say("The other readings go with all of them, or tell them apart less.")
    if any("(no)" in cell for row in rows for cell in row):
        screen.say("(no): that does not go with what you read.")


def _differ(row: tuple[Foretold, ...]) -> bool:
    """Whether a reading tells the causes apart, or does not fit all of them."""
    from sparewatt.present import words_mend

    mids = [f.band.mid for f in row]
    narrow = min(f.band.high - f.band.low for f in row)
    return any(not words_mend.fits(f) for f in row) or max(mids) - min(mids) > 0.5 * narrow


def _right(screen: Screen, ranked: Ranked, rig: str, told: list[int]) -> None:
    """The edit that would put a wrong number right, and how to see what it does."""
    for n in told:
        edits = ranked.right[n]
        if not edits or ranked.found.answer.causes[n].likelihood < 0.05:
            continue
        screen.title(f"If it is {n + 1}, this in the rig file puts it right")
        screen.lines([f"{key} = {text}" for key, text in edits])
        tries = "".join(f" --try {shlex.quote(f'{key}={text}')}" for key, text in edits)
        screen.command(
            "Measure it first. To see what it changes: ", f"sparewatt match {shlex.quote(rig)}{tries}"
        )


def _better(screen: Screen, answer: Answer, ranked: Ranked) -> None:
    """What would help most, the most for coin and work first."""
    from sparewatt.present import words_mend
    from sparewatt.present.words_numbers import sentence, time

    rows = ranked.found.answer.improvements
    screen.title("What would help most, with nothing wrong")
    if not rows:
        screen.say("Nothing here brings a rider more at the same effort.")
        return
    coin = coins(answer)
    screen.table(
        ("change", "brings", "costs", "takes", "for a coin", "for an hour"),
        [
            (
                sentence(i.says)[:-1], screen.number(i.watts, "W"),
                "nothing" if i.cost == 0 else f"{i.cost:.0f}" if math.isfinite(i.cost) else "",
                time(i.work) if i.work > 0 else "",
                screen.number(i.per_coin, "W") if math.isfinite(i.per_coin) else "",
                screen.number(i.per_hour, "W") if math.isfinite(i.per_hour) else "",
            )
            for i in rows
        ],
    )  # fmt: skip
    screen.say(f"Costs in {coin}.")
    screen.lines([words_mend.improvement(i, coin) for i in rows[:1]])


def coins(answer: Answer) -> str:
    """What the rig's own money is called."""
    prices = answer.rig.prices
    return prices.coin if prices is not None else "coins"
