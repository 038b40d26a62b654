"""The picture of a scene as text: its title, and all that stands in it with the numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sparewatt.present.drawings.seconds_panels import Line, Panel
from sparewatt.present.numbers import amount, rpm
from sparewatt.present.words_numbers import sentence
from sparewatt.present.words_seconds import chances, picture_sentence, steady_line
from sparewatt.present.words_seconds_rows import moment, rows
from sparewatt.studies.scenes.answers import SceneAnswer

__all__ = ["limit_words", "long_text", "most_of", "names", "peak", "say_in", "title"]

TOLD = 40  # rows of the list that are read out


def title(a: SceneAnswer, beside: SceneAnswer | None, label: str) -> str:
    """A short title for those who do not see the picture."""
    return f"Second by second: {a.name}" + (f", and {label}" if beside is not None else "")


def say_in(panel: Panel, value: float, inch: bool = False) -> str:
    """A number of a panel with its unit, rounded as everywhere."""
    if panel.si == "1":
        return f"{value:.0f}\u2009%"
    if panel.key == "reserve":
        return f"{value:.1f}\u2009kJ"
    if panel.si == "rad/s":
        return (
            rpm(panel.si_of(value))
            if abs(value) < 1000
            else amount(panel.si_of(value), "rad/s", inch=inch).number
        )
    return amount(panel.si_of(value), panel.si, inch=inch).text


def most_of(line: Line) -> tuple[float, float]:
    """The highest value of a line and when."""
    seen = np.where(np.isfinite(line.most), line.most, -math.inf)
    k = int(np.argmax(seen))
    return float(seen[k]), float(line.t[k])


def peak(panel: Panel) -> tuple[float, float, bool] | None:
    """The highest moment of a panel's main line (value, time, over the lowest rating), when it stands out.

    Volts are taken with their ripple, because a part dies of the highest; watts and amps without.
    """
    line = panel.lines[0]
    if panel.key not in ("volts", "watts", "amps", "tool") or line.other:
        return None
    known = np.flatnonzero(np.isfinite(line.v))
    if panel.key == "volts":
        most, at = most_of(line)
    else:
        k = int(known[np.argmax(line.v[known])])
        most, at = float(line.v[k]), float(line.t[k])
    over = bool(panel.limits) and most > panel.limits[0][1]
    if over:
        return most, at, True
    stands_out = 0.18 * (panel.high - panel.low)
    near = line.t[(line.most if panel.key == "volts" else line.v) > most - stands_out]
    once = near.size > 0 and float(near[-1] - near[0]) < 0.12 * float(line.t[-1] - line.t[0])
    ends = max(float(line.v[known[0]]), float(line.v[known[-1]]))
    return (most, at, False) if once and most - ends > stands_out else None


def limit_words(panel: Panel, name: str, value: float, inch: bool = False) -> str:
    """A rating as it stands beside its line."""
    return f"{name.partition(', ')[0]} stands {say_in(panel, value, inch)}"


def names(panel: Panel, line: Line) -> str:
    """What a line is called in the text."""
    head = panel.words if not line.words else f"{panel.words}, {line.words}"
    return head if not line.other else f"{panel.words}, {line.words} (dashed)"


def long_text(a: SceneAnswer, shown: Sequence[Panel], inch: bool = False) -> str:
    """Everything in the picture, with its numbers."""
    parts = [picture_sentence(a), steady_line(a)]
    for panel in shown:
        parts += [_line(panel, line, a.duration, inch) for line in panel.lines]
        if (found := peak(panel)) is not None:
            most, at, over = found
            past = ", over its rating" if over else ""
            parts.append(
                f"Highest of {panel.words}: {say_in(panel, most, inch)} at {moment(at, a.duration)}{past}."
            )
        parts += [
            sentence(limit_words(panel, name, value, inch)) for name, value in (*panel.limits, *panel.beyond)
        ]
    every = rows(a)
    parts += [f"{row.number}. {moment(row.at, a.duration)}: {row.says}" for row in every[:TOLD]]
    if len(every) > TOLD:
        parts.append(f"{len(every) - TOLD} more follow in the list.")
    parts += chances(a)
    return " ".join(part for part in parts if part)


def _line(panel: Panel, line: Line, duration: float, inch: bool) -> str:
    known = np.flatnonzero(np.isfinite(line.v))
    least = float(np.nanmin(line.least))
    most, at = most_of(line)
    ends = [say_in(panel, float(line.v[k]), inch) for k in (known[0], known[-1])]
    text = f"{names(panel, line)}: {ends[0]} at the start, {ends[1]} at the end, least {say_in(panel, least, inch)}"
    return sentence(f"{text}, most {say_in(panel, most, inch)} at {moment(at, duration)}")
