"""One function per question a person asks; the pages and the command line call nothing else.

The functions are loaded when first used, so that a command pays only for what it asks.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from sparewatt.tasks.answer import Answer
    from sparewatt.tasks.benching import (
        bench,
        bench_add,
        bench_blank,
        bench_guide,
        bench_guides,
        bench_keep,
        bench_labels,
        bench_questions,
        bench_readings,
        bench_restore,
        bench_write,
        new_reading,
    )
    from sparewatt.tasks.dummies import dummy
    from sparewatt.tasks.housekeeping import check, demo_home, demo_list, demo_write, sheet, wiring_sheet
    from sparewatt.tasks.mending import mend, mend_moments
    from sparewatt.tasks.phoning import bench_list, list_readings, phone, phone_keep
    from sparewatt.tasks.questions import guard, heap, loads, match, worth
    from sparewatt.tasks.scenes import (
        Show,
        compare,
        scene,
        scene_of_answer,
        scenes_of_answer,
    )
    from sparewatt.tasks.sources import source_lines
    from sparewatt.tasks.starting import start

__all__ = [
    "Answer",
    "Show",
    "bench",
    "bench_add",
    "bench_blank",
    "bench_guide",
    "bench_guides",
    "bench_keep",
    "bench_labels",
    "bench_list",
    "bench_questions",
    "bench_readings",
    "bench_restore",
    "bench_write",
    "check",
    "compare",
    "demo_home",
    "demo_list",
    "demo_write",
    "dummy",
    "guard",
    "heap",
    "list_readings",
    "loads",
    "match",
    "mend",
    "mend_moments",
    "new_reading",
    "phone",
    "phone_keep",
    "scene",
    "scene_of_answer",
    "scenes_of_answer",
    "sheet",
    "source_lines",
    "start",
    "wiring_sheet",
    "worth",
]

_HOMES = {
    "bench": "benching",
    "bench_add": "benching",
    "bench_blank": "benching",
    "bench_guide": "benching",
    "bench_guides": "benching",
    "bench_keep": "benching",
    "bench_labels": "benching",
    "bench_questions": "benching",
    "bench_readings": "benching",
    "bench_restore": "benching",
    "bench_write": "benching",
    "new_reading": "benching",
    "bench_list": "phoning",
    "list_readings": "phoning",
    "dummy": "dummies",
    "phone": "phoning",
    "phone_keep": "phoning",
    "Answer": "answer",
    "check": "housekeeping",
    "demo_home": "housekeeping",
    "demo_list": "housekeeping",
    "demo_write": "housekeeping",
    "sheet": "housekeeping",
    "wiring_sheet": "housekeeping",
    "mend": "mending",
    "mend_moments": "mending",
    "guard": "questions",
    "heap": "questions",
    "loads": "questions",
    "match": "questions",
    "worth": "questions",
    "Show": "scenes",
    "compare": "scenes",
    "scene": "scenes",
    "scene_of_answer": "scenes",
    "scenes_of_answer": "scenes",
    "source_lines": "sources",
    "start": "starting",
}


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"sparewatt.tasks has no {name!r}")
    return getattr(import_module(f"sparewatt.tasks.{home}"), name)
