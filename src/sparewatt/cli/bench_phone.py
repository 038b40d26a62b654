"""Options of `sparewatt bench` for what a phone hears and films, for long lists, and for dummy loads from the drawer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from sparewatt.cli.reply import give
from sparewatt.files.given import raw_of
from sparewatt.files.given import text_of as given_text

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["asked_of_phone", "dummy", "phone", "phone_options", "show_dummy", "show_phone", "text_of"]

F = TypeVar("F", bound=Callable[..., Any])
LONGEST_NAME = 250  # letters of a file's name; what is longer is a list
LARGEST_LIST, LARGEST_SOUND = 2_000_000, 200_000_000  # bytes
PHONE = ("sound", "film", "volts")  # any of these asks the phone
_OPTIONS: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("--sound", "sound", {"type": click.Path(dir_okay=False), "metavar": "FILE",
                          "help": "Speed from a sound recording (WAV): a flag that ticks, or a tone."}),
    ("--flags", "flags", {"type": click.IntRange(1, 60), "default": 1, "show_default": True,
                          "help": "How many flags tick or pass in a turn."}),
    ("--tone", "tone", {"type": click.IntRange(1, 400), "metavar": "N",
                        "help": "Listen to the tone of so many teeth, bars or poles in a turn."}),
    ("--film", "film", {"metavar": "LIST",
                        "help": "Speed from a film: frames or times of a flag's passes, '0 12 23 35', or their file."}),
    ("--rate", "rate", {"metavar": "FRAMES", "default": "", "help": "Frames a second of the film."}),
    ("--film-again", "again", {"metavar": "LIST", "default": "",
                               "help": "A second film, at another frame rate or speed, that settles which speed is true."}),
    ("--rate-again", "again_rate", {"metavar": "FRAMES", "default": "", "help": "Its frames a second."}),
    ("--ratio", "ratio", {"metavar": "TIMES", "default": "",
                          "help": "Open volts at the second film over those at the first, when the speeds differ."}),
    ("--volts", "volts", {"metavar": "LIST",
                          "help": "A run-down from typed volts: seconds and open volts, a pair a line, or a file of them."}),
    ("--counted", "counted", {"metavar": "SPEED", "default": "",
                              "help": 'Turns counted by eye, "600 rpm"; settles which speed is true.'}),
    ("--between", "between", {"metavar": "SPEEDS", "default": "",
                              "help": 'Between which speeds to look: "300 to 2000 rpm".'}),
    ("--seems", "seems", {"type": click.Choice(["forwards", "backwards"]),
                          "help": "Which way the film seems to turn, against the true way."}),
    ("--falls", "falls", {"is_flag": True, "help": "It was let go and runs down."}),
    ("--goes-to", "goes_to", {"metavar": "READING",
                              "help": 'Write it down with what was read beside it: "open_volts volts=8.9V", "run_down".'}),
    ("--series", "series", {"metavar": "READING",
                             "help": 'Write a whole list down: its kind and its file, "run_down times.csv".'}),
    ("--dummy", "dummy", {"metavar": "LOAD", "help": 'A dummy load from the junk drawer: "50 W at 12 V".'}),
    ("--drawer", "drawer", {"metavar": "LIST", "default": "",
                            "help": 'What is in it: "8 x 12 V 21 W bulb; 230 V 1000 W heater", or a file of it.'}),
)  # fmt: skip


def phone_options(f: F) -> F:
    """All of them, in this order."""
    for flag, name, settings in reversed(_OPTIONS):
        f = click.option(flag, name, **settings)(f)
    return f


def asked_of_phone(asked: dict[str, Any]) -> bool:
    """Whether a recording, film or list of volts is given."""
    return any(asked[name] for name in PHONE)


def text_of(given: str | None) -> str:
    """What was typed, or what stands in the file of that name."""
    if not given:
        return ""
    path = Path(given)
    if len(given) >= LONGEST_NAME or "\n" in given or not path.exists():
        return given
    return given_text(raw_of(path, LARGEST_LIST, "no list"), path)


def phone(rig: str, asked: dict[str, Any], kept: dict[str, Any], said: dict[str, Any]) -> None:
    """Hear or look, say what was found, and write it down where that was asked."""
    from sparewatt import tasks
    from sparewatt.cli.bench_command import reading_text, show_bench

    sound = _bytes(asked["sound"]) if asked["sound"] else b""
    names = ("flags", "rate", "again_rate", "ratio", "counted", "between", "falls")
    answer = tasks.phone(
        rig, sound=sound, name=Path(asked["sound"] or "recording").name, tone=asked["tone"] or 0,
        film=text_of(asked["film"]), again=text_of(asked["again"]), volts=text_of(asked["volts"]),
        seems=asked["seems"] or "", **{name: asked[name] for name in names},
    )  # fmt: skip
    if not asked["goes_to"]:
        give(answer, show=show_phone, **said)
        return
    kind, values = reading_text(asked["goes_to"], "--goes-to", none_too=True)
    found: Any = answer.study
    if not said["as_json"]:
        click.echo(answer.answer + "\n")
    give(tasks.phone_keep(rig, found, kind, values, **kept), show=show_bench, **said)


def _bytes(name: str) -> bytes:
    from sparewatt.errors import NotFound, Problem

    try:
        return raw_of(Path(name), LARGEST_SOUND, "no recording of one machine")
    except FileNotFoundError:
        says = "there is no file of this name."
        raise NotFound(Problem("--sound", says, "the WAV file's name", name, file=name)) from None


def show_phone(screen: Screen, answer: Answer) -> None:
    """What a run-down says, and how to keep it."""
    from sparewatt.present import words_phone
    from sparewatt.studies.phone.phoned import Phoned

    found = answer.study
    assert isinstance(found, Phoned)
    lines = words_phone.coast_lines(found)
    if lines:
        screen.title("The run-down")
        screen.lines(lines)
    if found.clear:
        screen.title("To keep it")
        kind = "run_down" if found.falls else "open_volts volts=8.9V"
        screen.command("  Once more, with ", f'--goes-to "{kind}"')


def dummy(rig: str, asked: dict[str, Any], said: dict[str, Any]) -> None:
    """What in the drawer eats so many watts at so many volts."""
    from sparewatt import tasks

    give(tasks.dummy(rig, asked["dummy"], text_of(asked["drawer"])), show=show_dummy, **said)


def show_dummy(screen: Screen, answer: Answer) -> None:
    """Every way to join them, stand and guard before the watts."""
    from sparewatt.present import words_dummy

    found: Any = answer.study
    screen.title("Ways to join them, best first")
    for number, one in enumerate(found.found, 1):
        screen.lines([f"{one.says[:1].upper()}{one.says[1:]}."], mark=f"{number}. ")
        screen.lines(words_dummy.dummy_lines(one), mark="   - ")
