"""How long a whole `match` answer takes: the demo rig, every gear, 1,024 draws, warm."""

from __future__ import annotations

import statistics
import time
from pathlib import Path

from sparewatt.files import read_rig
from sparewatt.files.demos import demo_folder, demo_names
from sparewatt.rig import fast
from sparewatt.studies.core import ask_for
from sparewatt.studies.match import match


def measure() -> list[tuple[str, float, str, str]]:
    """Median seconds of a full answer."""
    fast.warm()
    rig = read_rig(Path(demo_folder(demo_names()[0]))).rig
    ask = ask_for(rig, draws=1024)
    match(rig, ask)
    times = []
    for _ in range(15):
        start = time.perf_counter()
        match(rig, ask)
        times.append(time.perf_counter() - start)
    return [("full match answer, 1,024 draws, all gears", statistics.median(times), "s", "<= 0.15")]
