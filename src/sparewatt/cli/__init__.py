"""The command line: reads a request, calls one task, prints its answer.

Nothing heavy is loaded here: a command is imported when it is asked for, and each imports what it needs when it runs.
"""

from __future__ import annotations

import contextlib
import difflib
import errno
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

import click

from sparewatt.errors import Problem, SparewattError

__all__ = ["COMMANDS", "main", "root"]

DONE, NO, BAD_INPUT = 0, 1, 2
OUT_OF_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)  # what writing an answer can end in

# In working order: the word, and what it does.
COMMANDS: dict[str, str] = {
    "start": "From one sentence to a rig file and a first verdict.",
    "demo": "List the demo rigs, or write one out.",
    "open": "Start the pages on this machine.",
    "check": "Read a rig file and list everything to put right.",
    "worth": "Is it worth the legs?",
    "heap": "What have I got, and is it any good?",
    "bench": "What is it really?",
    "match": "What ratio, volts and settings?",
    "loads": "Will it run, and how long?",
    "guard": "What size, what fuse, what can hurt?",
    "scene": "What happens second by second?",
    "mend": "What is wrong, and what would help most?",
    "sheet": "Write the summary of a rig as a PDF.",
}


class _Sections(click.Group):
    """Commands in working order, each imported on use; a wrong word gets the nearest right one."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        found = import_module(f"sparewatt.cli.{cmd_name}_command").command
        assert isinstance(found, click.Command)
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        if args and not args[0].startswith("-") and args[0] not in COMMANDS:
            close = difflib.get_close_matches(args[0], COMMANDS, n=1)
            hint = f'did you mean "{close[0]}"? ' if close else ""
            raise SparewattError(
                Problem(
                    "command",
                    f'there is no command "{args[0]}".',
                    f"{hint}commands: {', '.join(COMMANDS)}",
                    args[0],
                )
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=_Sections, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.version_option(package_name="sparewatt", message="%(version)s")
def root() -> None:
    """Spare parts and leg power into useful electricity.

    Every command takes the rig (its folder or file) first, and --json for programs. Ask a command for its own --help.
    """


def main(args: Sequence[str] | None = None) -> int:
    """Runs one command line; gives the exit code: 0 done, 1 the answer is no (with --strict), 2 bad input."""
    words = list(sys.argv[1:] if args is None else args)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:  # closed by whoever started us
            setattr(sys, name, Path(os.devnull).open("w", encoding="utf-8"))  # noqa: SIM115  (for as long as we run)
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    try:
        code = _run(words, "--json" in words)
        sys.stdout.flush()
    except (BrokenPipeError, SystemExit):  # so do click and rich leave when whoever read the output has gone
        _silence()
        return DONE
    except OSError as bad:
        if bad.errno not in OUT_OF_ROOM or os.environ.get("SPAREWATT_TRACE"):
            raise
        _silence()
        with contextlib.suppress(OSError):
            click.echo(f"the output cannot be written: {bad.strerror}.", err=True)
        return BAD_INPUT
    return code


def _run(words: list[str], wants_json: bool) -> int:
    """The command line with everything that can go wrong said."""
    try:
        return int(root.main(args=words, prog_name="sparewatt", standalone_mode=False) or DONE)
    except SparewattError as bad:
        return _refuse(bad.problems, wants_json)
    except click.ClickException as bad:
        return _refuse([_from_click(bad)], wants_json)
    except click.Abort:
        return _refuse([Problem("", "stopped.", "")], wants_json)
    except Exception as broken:
        told = isinstance(broken, OSError) and broken.errno in (*OUT_OF_ROOM, errno.EPIPE)
        if told or os.environ.get("SPAREWATT_TRACE"):
            raise
        says = f"something inside Sparewatt broke: {type(broken).__name__}: {broken}"
        hint = "set SPAREWATT_TRACE=1 to see where, and tell its makers"
        return _refuse([Problem("sparewatt", says, hint)], wants_json)


def _silence() -> None:
    """Sends what is still to be written nowhere, so that Python does not complain as it ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _refuse(problems: Sequence[Problem], wants_json: bool) -> int:
    """Says what to put right, on stderr or as the one JSON object on stdout."""
    if wants_json:
        import json

        print(json.dumps({"ok": False, "problems": [p.as_dict() for p in problems]}, ensure_ascii=False))  # noqa: T201
    else:
        for problem in problems:
            click.echo(problem.sentence(), err=True)
    return BAD_INPUT


def _from_click(bad: click.ClickException) -> Problem:
    """Click's complaint in our words."""
    if isinstance(bad, click.NoSuchOption):
        close = (
            f"did you mean {bad.possibilities[0]}?" if bad.possibilities else "ask the command for its --help"
        )
        return Problem(bad.option_name, f"there is no option {bad.option_name}.", close, bad.option_name)
    if isinstance(bad, click.MissingParameter):
        name = bad.param.human_readable_name if bad.param else "argument"
        return Problem(name, f"{name} is missing.", "ask the command for its --help")
    where = bad.param.opts[0] if isinstance(bad, click.BadParameter) and bad.param else "command line"
    return Problem(where, bad.format_message(), "ask the command for its --help")
