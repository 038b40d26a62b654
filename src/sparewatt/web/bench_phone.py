"""What a page asks of a phone: a recording sent up, passes or volts pasted; and the page's names for what came of it.

A recording is kept in memory, the last few only, so that a count typed afterwards needs no second sending. What is written
down is worked out anew from the same recording or list, never taken from the page.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from sparewatt.errors import BadRequest, NotFound, Problem
from sparewatt.present import words_phone
from sparewatt.present.drawings import fit
from sparewatt.studies.bench.reading_kinds import KINDS
from sparewatt.web.pictures import NARROW
from sparewatt.web.speech import tied

if TYPE_CHECKING:
    from sparewatt.studies.phone.phoned import Phoned
    from sparewatt.tasks.answer import Answer

__all__ = ["BESIDE", "SAYS", "Asked", "Recordings", "found_names", "page_names"]

WHATS = ("sound", "film", "volts")
# What a reading may need besides what the phone says: kind -> the boxes to show.
BESIDE = {
    "open_volts": ("volts",),
    "open_volts_back": ("volts",),
    "loaded_volts": ("volts", "amps"),
    "run_free": ("volts", "amps"),
    "run_down": (),
    "run_down_rig": (),
    "run_down_disc": ("disc_mass", "disc_diameter"),
}
BOXES = {
    "volts": ("Volts read meanwhile", "V"),
    "amps": ("Amps read meanwhile, if any", "A"),
    "disc_mass": ("Mass of the disc, if one was on", "g"),
    "disc_diameter": ("Disc, across", "mm"),
}
SAYS = {key: KINDS[key].says for key in BESIDE}
LONG = 40_000  # letters of a pasted list
FIELDS = (
    "what", "heard", "flags", "teeth", "film", "rate", "again", "again_rate", "ratio", "volts", "counted", "between",
    "seems", "falls", "name",
)  # fmt: skip


class Recordings:
    """The last few recordings that were sent, by their fingerprint."""

    MOST = 3

    def __init__(self) -> None:
        self._held: OrderedDict[str, tuple[str, bytes]] = OrderedDict()

    def put(self, name: str, sound: bytes) -> str:
        """Keep a recording; its fingerprint."""
        mark = hashlib.sha256(sound).hexdigest()[:32]
        self._held[mark] = (name, sound)
        self._held.move_to_end(mark)
        while len(self._held) > self.MOST:
            self._held.popitem(last=False)
        return mark

    def get(self, mark: str) -> tuple[str, bytes]:
        """Name and bytes of a recording; NotFound when it is no longer here."""
        try:
            return self._held[mark]
        except KeyError:
            says = "This recording is no longer held here."
            raise NotFound(Problem("recording", says, "choose the file again")) from None


@dataclass(frozen=True, slots=True)
class Asked:
    """One question to the phone, as the form holds it."""

    typed: dict[str, str] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        return self.typed.get(name, "")

    @staticmethod
    def read(form: dict[str, list[str]]) -> Asked:
        """From a posted form; BadRequest when a box holds far too much."""
        typed = {}
        for name in FIELDS:
            text = form.get(name, [""])[-1].replace("\r\n", "\n").strip()
            if len(text) > (LONG if name in ("film", "again", "volts") else 200):
                raise BadRequest(
                    Problem(name, "this is longer than any film or run-down.", "take every tenth line")
                )
            if text:
                typed[name] = text
        return Asked(typed)

    def words(self, recordings: Recordings) -> dict[str, Any]:
        """Keyword arguments for the task."""
        what = self["what"]
        if what not in WHATS:
            raise BadRequest(
                Problem("what", "this says neither sound nor film nor volts.", " or ".join(WHATS), what)
            )
        given: dict[str, Any] = {name: self[name] for name in ("counted", "between")} | {
            "falls": bool(self["falls"])
        }
        given["flags"] = _count("flags", self["flags"] or "1", 60)
        if what == "volts":
            return {"volts": self["volts"] or "\n"}
        if what == "film":
            return given | {
                name: self[name] for name in ("film", "rate", "again", "again_rate", "ratio", "seems")
            }
        if not self["heard"]:
            raise BadRequest(Problem("recording", "No recording is chosen yet.", "a WAV file from the phone"))
        name, sound = recordings.get(self["heard"])
        return given | {"sound": sound, "name": name, "tone": _count("teeth", self["teeth"] or "0", 400)}


def _count(where: str, text: str, most: int) -> int:
    if not (text.isascii() and text.isdigit() and int(text) <= most):
        raise BadRequest(Problem(where, f"this is no whole number up to {most}.", "1", text[:20]))
    return int(text)


def page_names(asked: Asked, problem: Problem | None) -> dict[str, Any]:
    """Names of the form, with or without an answer."""
    return {
        "typed": asked, "fields": FIELDS, "problem": problem, "title": "Your phone as a speedometer", "found": None,
        "kinds": [], "boxes": [], "lines": [], "pictures": [], "more": {}, "kind": "",
    }  # fmt: skip


def found_names(answer: Answer, found: Phoned, kind: str, more: dict[str, str]) -> dict[str, Any]:
    """Names for what was heard or seen, and how to keep it."""
    from sparewatt.studies.phone.phoned import picture_of

    fitting = [key for key in BESIDE if KINDS[key].series == found.falls]
    boxes = dict.fromkeys(what for key in fitting for what in BESIDE[key])
    drawn = picture_of(found)
    pictures = []
    if drawn is not None:
        svg = fit.fit_picture(drawn, odd={}, key="p") + fit.fit_picture(
            drawn, odd={}, wide=NARROW, key="pn", cls="dw-narrow"
        )
        says = (
            "Dots: what the phone says. The line runs down through them; the band holds it nine times in ten."
        )
        pictures = [{"head": "Speed against time", "svg": Markup(svg), "says": says}]  # noqa: S704  (escapes its texts)
    return {
        "found": found,
        "answer": answer,
        "kinds": [(key, SAYS[key]) for key in fitting],
        "boxes": [(what, *BOXES[what]) for what in boxes],
        "lines": [tied(line) for line in words_phone.coast_lines(found)],
        "pictures": pictures,
        "kind": kind,
        "more": more,
    }
