"""The bench beside the stand-in tasks: the real one, which is quick, with papers that are not printed."""

from __future__ import annotations

from typing import Any

from sparewatt.tasks.benching import bench, bench_guide, bench_guides, bench_keep, bench_restore
from sparewatt.tasks.dummies import dummy
from sparewatt.tasks.phoning import bench_list, phone, phone_keep

__all__ = [
    "bench",
    "bench_blank",
    "bench_guide",
    "bench_guides",
    "bench_keep",
    "bench_labels",
    "bench_list",
    "bench_restore",
    "dummy",
    "phone",
    "phone_keep",
]


def bench_blank(place: Any, key: str, **kept: Any) -> bytes:
    """A sheet of paper."""
    return b"%PDF-1.7 " + key.encode()


def bench_labels(place: Any, parts: Any = (), **kept: Any) -> bytes:
    """A sheet of labels."""
    return b"%PDF-1.7 labels"
