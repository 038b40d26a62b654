"""The demo rigs that come with the program: invented builds in invented places, each one rig file."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from sparewatt.errors import NotFound, Problem
from sparewatt.files.edit import write_new
from sparewatt.files.read import RIG_FILE, Loaded
from sparewatt.files.values import nearest

__all__ = ["Demo", "demo_list", "demo_text", "write_demo"]


FIRST = {"skerry": 0, "schoolyard": 1, "cellar": 2}  # the order they are met in


@dataclass(frozen=True, slots=True)
class Demo:
    """One demo rig: the word it is asked for by, the name of the build, and its story."""

    key: str
    name: str
    story: str


def demo_list() -> tuple[Demo, ...]:
    """Every demo rig: those of FIRST in that order, then the rest by their words."""
    return tuple(_demo(key) for key in sorted(_folders(), key=lambda key: (FIRST.get(key, len(FIRST)), key)))


def demo_text(key: str) -> str:
    """The rig file of one demo, as text."""
    folders = _folders()
    if key not in folders:
        close = nearest(key, folders)
        hint = f'did you mean "{close}"?' if close else "demos: " + ", ".join(sorted(folders))
        raise NotFound(Problem("demo", f'there is no demo called "{key}".', hint, key))
    return folders[key].joinpath(RIG_FILE).read_text(encoding="utf-8")


def write_demo(key: str, folder: str | Path) -> Loaded:
    """Writes one demo out as `folder`/rig.toml; an existing rig file is never overwritten."""
    return write_new(Path(folder) / RIG_FILE, demo_text(key))


def _home() -> Traversable:
    return resources.files("sparewatt").joinpath("files", "demos")


def _folders() -> dict[str, Traversable]:
    home = _home()
    if not home.is_dir():
        return {}
    return {entry.name: entry for entry in home.iterdir() if entry.joinpath(RIG_FILE).is_file()}


def _demo(key: str) -> Demo:
    data = tomllib.loads(demo_text(key))
    return Demo(key, str(data.get("name", key)), str(data.get("story", "")).strip())
