"""Reads and writes rig files: text with units becomes SI floats here, and nowhere else."""

from __future__ import annotations

from sparewatt.files.demos import Demo, demo_list, demo_text, write_demo
from sparewatt.files.edit import Edited, add_part, remove_part, replace_text, set_value, tried, write_new
from sparewatt.files.read import RIG_FILE, Loaded, Origin, find_rig, read_rig, read_text
from sparewatt.files.sources import Source, load_sources
from sparewatt.files.write import to_toml

__all__ = [
    "RIG_FILE",
    "Demo",
    "Edited",
    "Loaded",
    "Origin",
    "Source",
    "add_part",
    "demo_list",
    "demo_text",
    "find_rig",
    "load_sources",
    "read_rig",
    "read_text",
    "remove_part",
    "replace_text",
    "set_value",
    "to_toml",
    "tried",
    "write_demo",
    "write_new",
]
