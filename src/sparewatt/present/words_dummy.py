"""Dummy loads in sentences: what is joined how, what it takes, its first gulp, how hot it gets, what has to be round it."""

from __future__ import annotations

from collections.abc import Sequence

from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import sentence
from sparewatt.studies.bench.answers import Dummy

__all__ = ["dummy_answer", "dummy_lines", "guard_line"]

GULP = 1.5  # times its warm amps from which a first gulp is told
EXACT = 0.03  # share by which watts may miss before it is told


def dummy_answer(watts: float, volts: float, found: Sequence[Dummy]) -> str:
    """The one sentence at the top: the best way, its watts, and what must be round it before it is switched on."""
    best = found[0]
    more = (
        f" {len(found) - 1} other ways are listed."
        if len(found) > 2
        else " Another way is listed."
        if len(found) > 1
        else ""
    )
    return f"For {say.watts(watts)} at {say.amount(volts, 'V')}: {best.says}. {_takes(best)} {guard_line(best)}{more}"


def _takes(one: Dummy) -> str:
    text = f"That takes {say.watts(one.watts)}, {say.amount(one.amps, 'A')}"
    if abs(one.off) > EXACT:
        text += f", {say.percent(abs(one.off))} {'more' if one.off > 0 else 'less'} than wanted"
    if one.cold_amps > GULP * one.amps:
        text += f"; cold it gulps up to {say.amount(one.cold_amps, 'A')} at first"
    return sentence(text)


def guard_line(one: Dummy) -> str:
    """Stand and guard come before the volts."""
    return sentence(f"First its stand and guard: {one.stands}; {one.guard}")


def dummy_lines(one: Dummy) -> list[str]:
    """Everything to know of one way."""
    heat = f"surface {say.span(one.surface, 'K')}: keep hands and all that burns away"
    return [_takes(one), sentence(heat), guard_line(one)]
