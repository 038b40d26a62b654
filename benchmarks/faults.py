"""How often the fault-finder is right, over hundreds of synthetic rides on seven rigs, three of them demos.

Each ride plants one fault on a rig drawn from its file's spreads and reads it with cheap meters (`tests.studies.mend_rigs`,
which uses nothing of the fault-finder). `python -m benchmarks.faults` runs the large set and prints every cause's share.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Iterator
from typing import TextIO

import numpy as np
from tests.studies.mend_plants import PLANTS, cases, planted
from tests.studies.mend_rigs import RIGS

from sparewatt.rig import fast
from sparewatt.studies.mend.causes import mend

Row = tuple[str, float, str, str]
FAULTS = tuple(key for key in PLANTS if key != "normal")


def ranked(
    rounds: int, keys: tuple[str, ...], *, rich: bool = True
) -> Iterator[tuple[str, str, bool, list[str], float]]:
    """(planted, rig, readings from before, causes in order, seconds of the processor) of every case."""
    for key, name, seed, before in cases(rounds, keys=keys):
        one = planted(key, name, seed, before=before, rich=rich)
        start = time.process_time()
        found = mend(one.filled, one.moments, better=False)
        yield key, name, before, [c.key for c in found.answer.causes], time.process_time() - start


def measure(rounds: int = 1, healthy: int = 3, out: TextIO | None = None) -> list[Row]:
    """Shares of planted faults ranked first and among the first three, of healthy rides called ill, and the time taken."""
    fast.warm()
    first: Counter[str] = Counter()
    three: Counter[str] = Counter()
    asked: Counter[str] = Counter()
    times = []
    for key, name, before, order, seconds in ranked(rounds, FAULTS):
        asked[key] += 1
        first[key] += order[0] == key
        three[key] += key in order[:3]
        times.append(seconds)
        if out is not None and order[0] != key:
            print(f"{key} on {name}{' (with readings from before)' if before else ''}: {order[:4]}", file=out)
    if out is not None:
        for key in asked:
            print(
                f"{key:20s} first {first[key]}/{asked[key]}, among three {three[key]}/{asked[key]}", file=out
            )
    called = [order[0] for _k, _n, _b, order, _s in ranked(healthy, ("normal",))]
    ill = float(np.mean([key != "normal" for key in called]))
    total = asked.total()
    return [
        (f"planted faults ranked first, {total} rides", first.total() / total, "share", ">= 0.8"),
        ("the same, among the first three", three.total() / total, "share", ">= 0.95"),
        (f"healthy rides called ill, {len(called)} on {len(RIGS)} rigs", ill, "share", "<= 0.05"),
        ("causes ranked for a handful of readings, median", float(np.median(times)), "s", "<= 0.5"),
    ]


if __name__ == "__main__":
    for what, value, unit, bound in measure(4, 20, sys.stderr):
        print(f"{what:64s} {value:10.4g} {unit:6s} {bound}")
