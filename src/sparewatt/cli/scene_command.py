"""`sparewatt scene RIG [NAME]`: a ride second by second."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command", "show_scene"]
SHORT = 18  # letters that have room beside a line of the picture


@click.command("scene", help="What happens second by second?")
@rig_argument
@click.argument("name", required=False)
@click.option("--words", metavar="TEXT", help='Tell it: "at 5 s switch the saw on; at 20 s pull the plug".')
@asks("rider", "load", "gear", "effort", "cadence")
@click.option(
    "--hold",
    "holds",
    type=click.Choice(["effort", "cadence", "power"]),
    help="What the rider keeps even at first.",
)
@click.option("--from-rest", is_flag=True, help="Start from standstill.")
@asks("duration")
@click.option("--runs", type=int, default=200, show_default=True, help="How many runs the bands come from.")
@click.option(
    "--beside",
    metavar="KEY=TEXT",
    multiple=True,
    help="Play it beside with this change; may be given several times.",
)
@asks("tries")
@click.option(
    "--csv", metavar="FILE", type=click.Path(dir_okay=False), help="Write every number against time."
)
@click.option("--svg", metavar="FILE", type=click.Path(dir_okay=False), help="Write the picture.")
@replies
def command(
    rig: str, tries: tuple[str, ...], beside: tuple[str, ...], from_rest: bool, csv: str | None, svg: str | None,
    as_json: bool, strict: bool, units: str, **asked: Any,
) -> None:  # fmt: skip
    """What happens second by second?"""
    from sparewatt import tasks

    asked["start"] = "rest" if from_rest else None
    changes, edits = tries_of(tries), tries_of(beside, "--beside")
    other = None
    if edits:
        answer, other = tasks.compare(rig, edits, tried=changes, **asked)
    else:
        answer = tasks.scene(rig, changes=changes, **asked)
    written = _written(answer, other, edits, csv, svg, units)
    answer = dataclasses.replace(answer, results=answer.results | {"files": written})
    give(answer, as_json=as_json, strict=strict, units=units, show=show_scene)


def _written(
    answer: Answer, other: Answer | None, edits: tuple[tuple[str, str], ...], csv: str | None, svg: str | None, units: str
) -> list[str]:  # fmt: skip
    """Writes what was asked for; gives the names."""
    from sparewatt.files.whole import write_out
    from sparewatt.present.csv_scene import scene_csv
    from sparewatt.present.drawings.seconds import seconds

    if csv:
        write_out(Path(csv), scene_csv(answer.study).encode(), ".csv")  # type: ignore[arg-type]
    if svg:
        told = " and ".join(f"{key} = {text}" for key, text in edits)
        label = told if len(told) <= SHORT else "the changed one"
        picture = seconds(
            answer.study, beside=None if other is None else other.study, beside_label=label,  # type: ignore[arg-type]
            inch=units == "inch", standalone=True, cls="",
        )  # fmt: skip
        write_out(Path(svg), picture.encode(), ".svg")
    return [name for name in (csv, svg) if name]


def show_scene(screen: Screen, answer: Answer) -> None:
    """What binds, the scene in letters, what happens, how sure, ratings, the ledger, the meter, and the design beside it."""
    from sparewatt.present import words_seconds
    from sparewatt.present.drawings.spark import spark_text
    from sparewatt.present.words_numbers import sentence
    from sparewatt.studies.scenes.answers import SceneAnswer

    a = answer.study
    assert isinstance(a, SceneAnswer)
    screen.say(words_seconds.scene_binds(a))
    screen.say(words_seconds.steady_line(a))
    for k, change in enumerate(answer.nearest_yes):
        offer = f"{sentence(str(change['says']))} {sentence(str(change['gives']))}"
        screen.say(f"{'Or' if k else 'Nearest yes'}: {offer}")
    screen.title(f"The scene: {a.name}")
    screen.say(f"{answer.results['told']}.")
    screen.block(spark_text(a, ascii_only=screen.ascii_only))
    screen.title("What happens")
    happens = words_seconds.happenings(a)
    screen.lines_of([(f"{k}", at, says) for k, (at, says) in enumerate(happens, 1)])
    told = words_seconds.chances(a)
    if told:
        screen.title("How sure")
        screen.lines(told)
    _numbers(screen, a)
    screen.say(words_seconds.meter_line(a))
    beside: Any = answer.results["beside"]
    if beside:
        screen.title("Beside it: " + " and ".join(f"{key} = {text}" for key, text in beside["changes"]))
        screen.say(beside["differs"])
        screen.say(f"With the change: {beside['answer']}")
    files: Any = answer.results["files"]
    if files:
        screen.title("Written")
        screen.lines(files)


def _numbers(screen: Screen, a: Any) -> None:
    """The most of everything against what the parts stand, and where the work goes."""
    from sparewatt.present import words_seconds
    from sparewatt.rig.outcome import Band

    screen.title("The most of everything")
    screen.table(
        ("part", "most", "nine runs of ten", "stands", ""),
        [
            (
                p.name, screen.number(p.value, p.unit),
                screen.number(Band(p.value, p.low, p.high), p.unit) if a.runs > 1 else "",
                screen.number(p.limit, p.unit), "too much" if p.over else "",
            )
            for p in a.peaks
        ],
    )  # fmt: skip
    screen.title("Where the work goes")
    screen.table(
        ("", "", "", "of what goes in"),
        [(row.side, row.name, row.amount, row.share) for row in words_seconds.ledger_rows(a)],
    )
    screen.say(words_seconds.ledger_sentence(a))
