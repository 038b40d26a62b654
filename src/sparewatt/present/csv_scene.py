"""The tracks of a scene as a table: one row a sample, SI units in every header, what happens in the last column."""

from __future__ import annotations

import csv
import io
import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.present.words_seconds_rows import rows
from sparewatt.studies.scenes.answers import SceneAnswer, Track

__all__ = ["scene_csv"]

F = NDArray[np.float64]
_RISKY = "=+-@\t\r"  # a text that begins so would be run by a spreadsheet


def scene_csv(answer: SceneAnswer) -> str:
    """Every track with its lowest and highest since the row before, and the 5 % and 95 % edges of the runs if any.

    The edges are brought to the times of the rows by straight lines. A number that is not there is an empty cell.
    """
    heads, columns = ["time_s"], [np.asarray(answer.times, dtype=float)]
    for track in answer.tracks:
        for head, column in _columns(answer, track):
            heads.append(head)
            columns.append(column)
    happens = _happens(answer)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*heads, "what_happens"])
    for k in range(answer.times.size):
        writer.writerow([*(_cell(float(column[k])) for column in columns), _text(happens.get(k, ""))])
    return out.getvalue()


def _columns(answer: SceneAnswer, track: Track) -> list[tuple[str, F]]:
    """The columns of one track with their headers."""
    name = track.key.replace(" ", "_")
    unit = {"rad/s": "rad_s", "N*m": "Nm", "1": "share"}.get(
        track.unit, track.unit.replace("*", "").replace("/", "_")
    )
    found = [
        (f"{name}_{unit}", track.values),
        (f"{name}_least_{unit}", track.least),
        (f"{name}_most_{unit}", track.most),
    ]
    for word, edge in (("low", track.low), ("high", track.high)):
        if edge is not None and edge.size == answer.spread_times.size and edge.size > 0:
            found.append((f"{name}_{word}_{unit}", np.interp(answer.times, answer.spread_times, edge)))
    return [(head, column) for head, column in found if column.size == answer.times.size]


def _happens(answer: SceneAnswer) -> dict[int, str]:
    """What happens, on the row of the first sample after it."""
    found: dict[int, str] = {}
    for row in rows(answer):
        k = min(int(np.searchsorted(answer.times, row.at - 1e-12)), answer.times.size - 1)
        if k >= 0:
            text = f"{row.at:.3f} s: {row.says}"
            found[k] = f"{found[k]} {text}" if k in found else text
    return found


def _cell(value: float) -> str:
    return f"{value:.7g}" if math.isfinite(value) else ""


def _text(words: str) -> str:
    return f"'{words}" if words[:1] in _RISKY and words else words
