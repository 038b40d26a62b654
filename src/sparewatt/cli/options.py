"""Options that several commands share. Names are those of the pages' addresses."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

__all__ = ["OPTIONS", "asks", "replies", "rig_argument", "tries_of"]

F = TypeVar("F", bound=Callable[..., Any])

OPTIONS: dict[str, tuple[str, dict[str, Any]]] = {
    "rider": ("--rider", {"metavar": "NAME", "help": "Who rides; the rig file's usual rider when left out."}),
    "load": ("--load", {"metavar": "NAME", "help": 'What to run, or "charge" for the battery.'}),
    "gear": (
        "--gear",
        {"metavar": "GEAR", "help": "Driver and driven teeth, as 42/18; the best one when left out."},
    ),
    "effort": (
        "--effort",
        {"metavar": "WATTS", "help": 'An effort worth this much at its best cadence: "100 W".'},
    ),
    "cadence": ("--cadence", {"metavar": "TURNS", "help": 'Look at this cadence: "65 rpm".'}),
    "duration": ("--duration", {"metavar": "TIME", "help": 'How long: "2 h" or "40 min".'}),
    "people": (
        "--people",
        {"type": int, "default": 1, "show_default": True, "help": "How many share the riding."},
    ),
    "draws": (
        "--draws",
        {"type": int, "default": 1024, "show_default": True, "help": "How many draws the bands come from."},
    ),
    "tries": (
        "--try",
        {
            "metavar": "KEY=TEXT",
            "multiple": True,
            "help": "Try a change without writing it; may be given several times.",
        },
    ),
}


def rig_argument(f: F) -> F:
    """The rig, first: its folder or file."""
    return click.argument("rig", type=click.Path())(f)


def asks(*names: str) -> Callable[[F], F]:
    """The named options, in this order."""

    def dress(f: F) -> F:
        for name in reversed(names):
            flag, settings = OPTIONS[name]
            f = click.option(flag, name, **settings)(f)
        return f

    return dress


def replies(f: F) -> F:
    """How the answer is given: --json, --strict, --units."""
    f = click.option(
        "--units",
        type=click.Choice(["metric", "inch"]),
        default="metric",
        show_default=True,
        help="Units to read.",
    )(f)
    f = click.option("--strict", is_flag=True, help="Exit code 1 when the answer is no.")(f)
    return click.option("--json", "as_json", is_flag=True, help="Print one JSON object and nothing else.")(f)


def tries_of(pairs: tuple[str, ...], option: str = "--try") -> tuple[tuple[str, str], ...]:
    """ "key = text" pairs as (key, text)."""
    from sparewatt.errors import BadRequest, Problem

    found, problems = [], []
    for pair in pairs:
        key, sign, text = pair.partition("=")
        if not sign or not key.strip():
            problems.append(
                Problem(option, "a change is written key=text.", "stage.1.driven_diameter=57 mm", pair)
            )
        found.append((key.strip(), text.strip()))
    if problems:
        raise BadRequest(*problems)
    return tuple(found)
