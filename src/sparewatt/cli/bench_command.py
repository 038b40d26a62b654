"""`sparewatt bench RIG [PROCEDURE]`: steps to follow, readings to keep, and what they make known."""

from __future__ import annotations

import json
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sparewatt.cli.bench_phone import asked_of_phone, dummy, phone, phone_options, text_of
from sparewatt.cli.options import replies, rig_argument
from sparewatt.cli.reply import give

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.files.readings_write import NewReading
    from sparewatt.tasks import Answer

__all__ = ["command", "reading_text", "show_bench", "show_guide"]


@click.command("bench", help="What is it really?")
@rig_argument
@click.argument("procedure", required=False)
@click.option(
    "--list", "listed", is_flag=True, help="List the procedures, and which of them are open to you."
)
@click.option(
    "--health",
    type=click.Choice(["no", "yes"]),
    help="Your answer to the questions before any effort: no to every one, or a yes to at least one.",
)
@click.option(
    "--read",
    "reads",
    multiple=True,
    metavar="READING",
    help='Write a reading down: "open_volts volts=8.9V speed=620rpm"; may be given several times.',
)
@click.option("--meter", default="", help="Which meter, by a name of your own.")
@click.option("--range", "scale", default="", help='The range it stood at: "20 V".')
@click.option("--warmth", default="", help='How warm the part is: "40 degC".')
@click.option("--who", default="", help="Who read it.")
@click.option("--note", default="", help="Anything worth remembering.")
@click.option("--part", default="", help="Which board or rider, when there are several.")
@click.option(
    "--set-aside",
    "aside",
    type=int,
    metavar="LINE",
    help="Leave the reading on this line out; it stays in the file.",
)
@click.option("--why", default="", help="The reason for leaving it out.")
@click.option(
    "--take-back", "back", type=int, metavar="LINE", help="Let the reading on this line count again."
)
@phone_options
@click.option("--keep", is_flag=True, help="Write what is known into the rig file.")
@click.option(
    "--blank", type=click.Path(dir_okay=False), metavar="FILE", help="Print the procedure blank, as a PDF."
)
@click.option(
    "--labels", type=click.Path(dir_okay=False), metavar="FILE", help="Print labels of the parts, as a PDF."
)
@click.option(
    "--label",
    "label",
    default="",
    metavar="TEXT",
    help="Put the part that a label's text holds into the rig file.",
)
@replies
def command(rig: str, procedure: str | None, as_json: bool, strict: bool, units: str, **asked: Any) -> None:
    """What is it really?"""
    from sparewatt import tasks

    said: dict[str, Any] = {"as_json": as_json, "strict": strict, "units": units}
    health = _health(asked["health"])
    if asked["blank"] or asked["labels"]:
        _print(rig, procedure, asked, as_json, units)
        return
    if asked["listed"]:
        _list(rig, health, as_json)
        return
    kept: dict[str, Any] = {"scale": asked["scale"], "temperature": asked["warmth"]} | {
        name: asked[name] for name in ("meter", "who", "note", "part")
    }
    if asked["dummy"]:
        dummy(rig, asked, said)
        return
    if asked_of_phone(asked):
        phone(rig, asked, kept, said)
        return
    if procedure and not asked["reads"]:
        give(tasks.bench_guide(rig, procedure, health), show=show_guide, **said)
        return
    _write(rig, asked, kept)
    if asked["keep"]:
        _keep(rig, said)
        return
    give(tasks.bench(rig, answers=health), show=show_bench, **said)


def _health(answer: str | None) -> dict[str, bool]:
    """The answers to all questions at once: one yes is as good as all."""
    if answer is None:
        return {}
    from sparewatt.tasks import bench_questions

    return {question.key: answer == "yes" for question in bench_questions().questions}


def reading_text(
    text: str, option: str = "--read", *, none_too: bool = False
) -> tuple[str, list[tuple[str, str]]]:
    """ "open_volts volts=8.9V speed=620rpm" as its kind and its values; none_too: the kind alone will do."""
    from sparewatt.errors import BadRequest, Problem

    try:
        kind, *pairs = shlex.split(text)
        values = [(what, value) for what, sign, value in (p.partition("=") for p in pairs) if sign]
    except ValueError:
        kind, pairs, values = "", [], []
    if not kind or not (pairs or none_too) or len(values) != len(pairs):
        says = "a reading is its kind, then what=value."
        raise BadRequest(Problem(option, says, "open_volts volts=8.9V speed=620rpm", text))
    return kind, values


def _write(rig: str, asked: dict[str, Any], kept: dict[str, Any]) -> None:
    """Everything that is to be written: all readings, lists and lines in one go, or nothing."""
    from sparewatt import tasks
    from sparewatt.errors import BadRequest, Problem

    new = [tasks.new_reading(*reading_text(text), **kept) for text in asked["reads"]]
    if asked["series"]:
        new += _series(asked["series"], kept)
    aside = {} if asked["aside"] is None else {asked["aside"]: asked["why"]}
    back = () if asked["back"] is None else (asked["back"],)
    writes = bool(new or aside or back)
    if writes and asked["label"]:
        says = "a label goes into the rig file by itself."
        raise BadRequest(Problem("--label", says, "ask for it in a second command"))
    if writes:
        tasks.bench_write(rig, new, aside=aside, back=back)
    if asked["label"]:
        tasks.bench_restore(rig, asked["label"])


def _series(text: str, kept: dict[str, Any]) -> list[NewReading]:
    """ "run_down times.csv": every line of the file."""
    from sparewatt import tasks
    from sparewatt.errors import BadRequest, Problem

    try:
        words = shlex.split(text)
    except ValueError:
        words = []
    values = [(what, value) for what, sign, value in (word.partition("=") for word in words[2:]) if sign]
    if len(words) < 2 or len(values) != len(words) - 2:
        raise BadRequest(
            Problem("--series", "a list is its kind, then its file.", "run_down times.csv", text[:60])
        )
    return tasks.list_readings(words[0], text_of(words[1]), values, **kept)


def _print(rig: str, procedure: str | None, asked: dict[str, Any], as_json: bool, units: str) -> None:
    """The procedure blank, or labels, on paper."""
    from sparewatt import tasks
    from sparewatt.tasks.housekeeping import sheet_written

    if asked["blank"]:
        pdf = tasks.bench_blank(rig, procedure or "rules", inch=units == "inch")
        answer = sheet_written(Path(asked["blank"]), pdf)
    else:
        answer = sheet_written(Path(asked["labels"]), tasks.bench_labels(rig, inch=units == "inch"))
    click.echo(json.dumps(answer.as_dict(), ensure_ascii=False) if as_json else answer.answer)


def _list(rig: str, health: dict[str, bool], as_json: bool) -> None:
    """Every procedure in order, and why some are not open."""
    from sparewatt import tasks

    found = tasks.bench_guides(rig, health)
    if as_json:
        rows = [
            {"procedure": g.procedure.key, "title": g.procedure.title, "time_s": 60 * g.procedure.minutes,
             "effort": g.effort, "open": not no, "why_not": no}
            for g, no in found
        ]  # fmt: skip
        whole = {"ok": True, "section": "bench", "answer": f"{len(rows)} procedures.", "verdict": None,
                 "results": {"procedures": rows}, "nearest_yes": [], "caveats": [], "sources": []}  # fmt: skip
        click.echo(json.dumps(whole, ensure_ascii=False))
        return
    from sparewatt.cli.screen import Screen

    screen = Screen()
    screen.title("Procedures, in the order of a good bench day")
    screen.table(
        ("key", "what is done", "min", "effort"),
        [
            (
                g.procedure.key,
                g.procedure.title,
                f"{g.procedure.minutes:.0f}",
                g.effort if not no else f"{g.effort}: not open yet",
            )
            for g, no in found
        ],
    )
    if any(no for _g, no in found):
        questions = tasks.bench_questions()
        screen.title("Before any effort")
        screen.say(questions.says)
        screen.lines([question.asks for question in questions.questions])
        screen.say(
            "No to every one: --health no. A yes to any: --health yes, and only gentle ways are offered."
        )


def _keep(rig: str, said: dict[str, Any]) -> None:
    from sparewatt import tasks

    answer, kept, left = tasks.bench_keep(rig)

    def show(screen: Screen, found: Answer) -> None:
        screen.title("Written into the rig file")
        screen.lines(kept or ("nothing new",))
        if left:
            screen.title("Not written")
            screen.lines([f"{key}: {why}" for key, why in left])
        show_bench(screen, found)

    give(answer, show=show, **said)


def show_bench(screen: Screen, answer: Answer) -> None:
    """Constants, odd readings, what to read next, cross-checks, and every reading."""
    from sparewatt.present import words_bench
    from sparewatt.studies.bench.answers import BenchAnswer

    found = answer.study
    assert isinstance(found, BenchAnswer)
    known = [c for part in found.parts for c in part.constants]
    if known:
        screen.title("Known now")
        screen.lines([words_bench.constant_line(c) for c in known])
    rows = {row.key: row for row in found.fitted.rows}
    if found.suspects:
        screen.title("Odd readings")
        screen.lines([words_bench.suspect_line(s, rows) for s in found.suspects])
    if found.fitted.flags:
        screen.lines(found.fitted.flags)
    if found.told:
        screen.title("What the readings say besides")
        screen.lines([words_bench.told_line(one) for one in found.told])
    if found.next_readings:
        screen.title("What to read next")
        screen.lines([words_bench.next_line(n) for n in words_bench.each_once(found.next_readings)])
    if found.checks:
        screen.title("Two ways to one number")
        screen.lines([words_bench.check_line(c) for c in found.checks])
    if found.fitted.rows:
        screen.title("Every reading")
        screen.lines([words_bench.reading_line(row) for row in found.fitted.rows])


def show_guide(screen: Screen, answer: Answer) -> None:
    """Cautions first, then the steps with the place for each reading."""
    from sparewatt.studies.bench.procedures import Guide

    guide = answer.study
    assert isinstance(guide, Guide)
    told = guide.procedure
    if told.cautions:
        screen.title("First of all")
        screen.lines(told.cautions)
    if told.stop_signs:
        screen.title("Stop at once at any of these")
        screen.lines(told.stop_signs)
    if told.needs:
        screen.title("You need")
        screen.say(", ".join(told.needs) + ".")
    screen.title("Steps")
    for number, step in enumerate(told.steps, 1):
        if step.caution:
            screen.say(f"   Mind: {step.caution}", style="bold")
        screen.lines([step.says], mark=f"{number}. ")
        screen.lines([words_of(slot) for slot in step.slots], mark="   ____ ")
    if told.readings:
        screen.title("Write them down")
        screen.say(f"Kinds of reading: {', '.join(told.readings)}. For instance:")
        screen.command("  ", f'sparewatt bench RIG --read "{told.readings[0]} what=value"')


def words_of(slot: Any) -> str:
    """A place for a reading, with what it is likely to be on this rig."""
    from sparewatt.present.words_numbers import span
    from sparewatt.rig.outcome import Band
    from sparewatt.studies.bench.reading_kinds import READINGS

    likely = ""
    if slot.low == slot.low and slot.high == slot.high:  # both known
        likely = f" (likely {span(Band((slot.low + slot.high) / 2, slot.low, slot.high), READINGS[slot.what].unit)})"
    what = slot.what.partition(".")[2] or slot.what
    return f"{slot.says}: {what}{likely}" + (f", {slot.repeat} times" if slot.repeat > 1 else "")
