"""How the pages ask the fault-finder: typed moments are worked out once; the readings file is read anew each time."""

from __future__ import annotations

from typing import Any

from sparewatt.tasks.answer import Answer
from sparewatt.web import rigfile
from sparewatt.web.site import Site

__all__ = ["mended"]


def mended(site: Site, readings: bool, well_until: str, **asked: Any) -> Answer:
    """The answer to typed moments, with the readings kept beside the rig where they are asked for."""
    if not readings and not well_until:
        return site.desk.ask("mend", **asked)
    sheet = site.desk.sheet()
    loaded = rigfile.loaded_of(sheet.text, sheet.path)
    answer: Answer = site.desk.tasks.mend(loaded, readings=readings, well_until=well_until, **asked)
    return answer
