"""`sparewatt match RIG`: ratio, volts and settings."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from sparewatt.cli.options import asks, replies, rig_argument, tries_of
from sparewatt.cli.reply import give, seconds_of

if TYPE_CHECKING:
    from sparewatt.cli.screen import Screen
    from sparewatt.tasks import Answer

__all__ = ["command", "show_match"]


@click.command("match", help="What ratio, volts and settings?")
@rig_argument
@asks("rider", "load", "gear", "effort", "cadence", "duration", "draws", "tries")
@click.option("--picture", is_flag=True, help="Draw the leg picture and the room to ride in, in letters.")
@replies
def command(
    rig: str, tries: tuple[str, ...], picture: bool, as_json: bool, strict: bool, units: str, **asked: Any
) -> None:
    """What ratio, volts and settings?"""
    from sparewatt import tasks

    answer = tasks.match(rig, changes=tries_of(tries), **asked)
    give(
        answer,
        as_json=as_json,
        strict=strict,
        units=units,
        show=lambda s, a: show_match(s, a, picture=picture),
        seconds=seconds_of(rig, tries),
    )


def show_match(screen: Screen, answer: Answer, *, picture: bool = False) -> None:
    """What binds, what to do, the chain in watts, the gears, the settings card, what to measure next."""
    from sparewatt.present import words
    from sparewatt.present.drawings import plain
    from sparewatt.studies.answers import MatchAnswer

    m = answer.study
    assert isinstance(m, MatchAnswer)
    screen.say(words.match_binds(m, answer.rig))
    screen.say(words.match_do(m))
    for change in m.nearest_yes[1:]:
        screen.say(f"Or: {words.change(change)}")
    if m.chain and m.point is not None and m.point.i_out > 0:
        screen.block(
            plain.chain_text(m.chain, ascii_only=screen.ascii_only, colour=screen.console.is_terminal)
        )
    if picture and m.gears:
        screen.block(plain.leg_text(m, ascii_only=screen.ascii_only))
        screen.block(plain.room_text(m.room, ascii_only=screen.ascii_only))
    if len(m.gears) > 1:
        screen.title("Gears")
        screen.lines([words.gear(row) for row in m.gears])
        screen.say(words.room(m.room))
    if m.shares is not None:
        screen.title("Several rigs on one bus")
        screen.say(words.shares(m.shares))
        rows = [
            (r.name, r.rider, screen.number(r.amps, "A"), screen.number(r.p_rider, "W"), r.says)
            for r in m.shares.rows
        ]
        screen.table(("rig", "rider", "amps", "watts at the pedals", ""), rows)
    if m.settings:
        screen.title("Settings card")
        screen.lines([words.setting(s, inch=screen.inch) for s in m.settings])
    if m.unknowns:
        screen.title("What to measure next")
        screen.lines([words.unknown(u) for u in m.unknowns[:3]])
