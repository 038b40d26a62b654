"""A scene in letters, for a terminal: a line of small bars for the cadence, the volts and what the load gets.

Under the bars stand the numbers of what happens, as in the list below them.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.present import words_numbers as say
from sparewatt.present.words_seconds_rows import moment, rows
from sparewatt.studies.scenes.answers import SceneAnswer, Track

__all__ = ["spark_text"]

F = NDArray[np.float64]
_BARS, _ASCII = "\u2581\u2582\u2583\u2584\u2585\u2586\u2587\u2588", "_.-:=+*#"
_NAMES = {
    "cadence": "cadence",
    "bus_volts": "bus",
    "load_power": "load",
    "battery_amps": "battery",
    "tool_speed": "tool",
    "reserve": "reserve",
}
_HEAD, _TAIL = 9, 20  # letters before and after the bars
LONG = 600.0  # s: from here on the reserve of the legs is worth a line


def spark_text(a: SceneAnswer, *, ascii_only: bool = False, columns: int = 80) -> str:
    """One line a quantity: its name, bars from the lowest to the highest it reaches here, and these two; then the clock."""
    if a.times.size < 2:
        return "There is nothing to draw for this scene."
    wide = max(columns - _HEAD - _TAIL, 10)
    lines = []
    for key, name in _NAMES.items():
        track = next((t for t in a.tracks if t.key == key), None)
        if track is None or (key == "reserve" and a.duration < LONG):
            continue
        cells = _cells(a.times, track.values, wide)
        seen = cells[np.isfinite(cells)]
        if seen.size and not (key == "load_power" and float(np.max(np.abs(seen))) < 0.1):
            lines.append(f"{name:<{_HEAD}}{_line(cells, ascii_only)} {_range(track, seen)}".rstrip())
    return "\n".join([*lines, *_clock(a, wide)])


def _cells(times: F, values: F, wide: int) -> F:
    """The mean of the values in each of so many equal spans of time."""
    edges = np.linspace(times[0], times[-1], wide + 1)
    place = np.clip(np.searchsorted(edges, times, side="right") - 1, 0, wide - 1)
    known = np.isfinite(values)
    count = np.bincount(place[known], minlength=wide)
    total = np.bincount(place[known], weights=values[known], minlength=wide)
    middle = 0.5 * (edges[1:] + edges[:-1])
    between = np.interp(middle, times[known], values[known]) if known.any() else np.full(wide, np.nan)
    return np.where(count > 0, total / np.maximum(count, 1), between)


def _line(cells: F, ascii_only: bool) -> str:
    bars = _ASCII if ascii_only else _BARS
    seen = cells[np.isfinite(cells)]
    low, high = float(seen.min()), float(seen.max())
    low = min(low, 0.0) if low < 0.5 * high else low - 0.2 * max(high - low, 1e-9)
    span = max(high - low, 1e-9)
    return "".join(
        bars[min(int(len(bars) * (x - low) / span), len(bars) - 1)] if math.isfinite(x) else " "
        for x in cells.tolist()
    )


def _range(track: Track, seen: F) -> str:
    """From the lowest to the highest, in the unit people use."""
    low, high = float(seen.min()), float(seen.max())
    if track.key == "cadence":
        ends, unit = (say.whole_turns(low), say.whole_turns(high)), "a minute"
    else:
        least, most = (say.amount(x, track.unit).replace("turns a minute", "a minute") for x in (low, high))
        unit = most.partition(" ")[2]
        ends = (least.removesuffix(f" {unit}"), most.removesuffix(f" {unit}"))
    return f"{ends[0]} to {ends[1]} {unit}" if ends[0] != ends[1] else f"{ends[1]} {unit}"


def _clock(a: SceneAnswer, wide: int) -> list[str]:
    """The numbers of what happens under the moments they happen at, as far as there is room, and both ends of the clock."""
    marks = [" "] * wide
    for row in rows(a):
        text = str(row.number)
        k = min(int(wide * row.at / a.duration), wide - len(text))
        if all(letter == " " for letter in marks[max(k - 1, 0) : k + len(text) + 1]):
            marks[k : k + len(text)] = text
    end = moment(a.duration, a.duration)
    ends = f"0{end:>{wide - 1}}"
    line = "".join(marks).rstrip()
    return [f"{'':<{_HEAD}}{text}" for text in (line, ends) if text]
