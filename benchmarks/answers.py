"""How long a whole `match` answer takes: the demo rig, every gear, 1,024 draws, warm."""

from __future__ import annotations

import statistics
import time

from sparewatt.files import demo_text, read_text
from sparewatt.rig import fast
from sparewatt.rig.asking import ask_for
from sparewatt.studies.match import match

DEMO = "skerry"


def measure() -> list[tuple[str, float, str, str]]:
    """Median seconds of a full answer."""
    fast.warm()
    rig = read_text(demo_text(DEMO)).rig
    ask = ask_for(rig, draws=1024)
    match(rig, ask)
    times = []
    for _ in range(15):
        start = time.perf_counter()
        match(rig, ask)
        times.append(time.perf_counter() - start)
    return [("full match answer, 1,024 draws, all gears", statistics.median(times), "s", "<= 0.15")]
