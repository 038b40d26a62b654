"""Reads and writes rig files: text with units becomes SI floats here, and nowhere else."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from sparewatt.files.demos import Demo, demo_list, demo_text, write_demo
from sparewatt.files.edit import Edited, add_part, remove_part, replace_text, set_value, tried, write_new
from sparewatt.files.read import RIG_FILE, Loaded, Origin, read_rig, read_text
from sparewatt.files.sources import Source, load_sources
from sparewatt.files.write import to_toml

if TYPE_CHECKING:
    from sparewatt.files.known import Known, read_known, write_known
    from sparewatt.files.readings import READINGS_FILE, Readings, read_readings
    from sparewatt.files.readings_write import Added, add_reading, set_aside, take_back

__all__ = [
    "READINGS_FILE",
    "RIG_FILE",
    "Added",
    "Demo",
    "Edited",
    "Known",
    "Loaded",
    "Origin",
    "Readings",
    "Source",
    "add_part",
    "add_reading",
    "demo_list",
    "demo_text",
    "load_sources",
    "read_known",
    "read_readings",
    "read_rig",
    "read_text",
    "remove_part",
    "replace_text",
    "set_aside",
    "set_value",
    "take_back",
    "to_toml",
    "tried",
    "write_demo",
    "write_known",
    "write_new",
]

# What the bench needs brings the numbers library along: it is loaded when it is first asked for.
_LATE = {
    **dict.fromkeys(("Known", "read_known", "write_known"), "known"),
    **dict.fromkeys(("READINGS_FILE", "Readings", "read_readings"), "readings"),
    **dict.fromkeys(("Added", "add_reading", "set_aside", "take_back"), "readings_write"),
}


def __getattr__(name: str) -> Any:
    """The rest of the public names, loaded when asked for."""
    if name not in _LATE:
        raise AttributeError(name)
    return getattr(import_module(f"sparewatt.files.{_LATE[name]}"), name)
