"""The bench of the open rig as the pages handle it: answers kept by the text of both files, and the few writes.

Readings are read and written by `sparewatt.files`, answers come from the tasks. What is asked about a body is never
written down: only whether every answer was no, as a word in the address of the page.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from sparewatt.errors import ChangedElsewhere, NotFound, Problem
from sparewatt.studies.bench.procedures import Guide, Screening, screening
from sparewatt.tasks.answer import Answer
from sparewatt.web import rigfile
from sparewatt.web.bench_phone import Recordings
from sparewatt.web.desk import Desk
from sparewatt.web.question import HEALTH

if TYPE_CHECKING:
    from sparewatt.files.readings import Readings
    from sparewatt.files.readings_write import NewReading

__all__ = ["BenchDesk", "health_answers", "health_word"]

T = TypeVar("T")
KEPT = 24
KEEP = "What the bench made known stands in the rig file now."


def health_answers(word: str) -> dict[str, bool]:
    """The answers that a word in the address stands for; none of them for any other word."""
    return {q.key: word == "yes" for q in screening().questions} if word in HEALTH else {}


def health_word(given: Mapping[str, str]) -> str:
    """The word for a filled form; "" while a question is open."""
    answers = [given.get(q.key, "") for q in screening().questions]
    if any(answer not in HEALTH for answer in answers):
        return ""
    return "yes" if "yes" in answers else "no"


class BenchDesk:
    """See the module text. All methods may be called from several threads."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()
        self.recordings = Recordings()

    @property
    def place(self) -> Path:
        """The rig file; NotFound when none is open."""
        return self.desk.sheet().path

    def readings(self) -> Readings:
        """The readings beside the rig, those that cannot be read as problems."""
        from sparewatt.files.readings import read_readings

        return read_readings(self.place, partly=True)

    def ask(self, health: str = "", changes: tuple[tuple[str, str], ...] = ()) -> Answer:
        """What the readings make known; worked out once for the same two files."""
        sheet, mark = self.desk.sheet(), self.readings().digest
        return self._once(
            ("bench", sheet.path, sheet.seen, mark, health, changes),
            lambda: self.desk.tasks.bench(
                rigfile.loaded_of(sheet.text, sheet.path), answers=health_answers(health), changes=changes
            ),
        )

    def guides(self, health: str) -> tuple[tuple[Guide, str], ...]:
        """Every procedure with this rig's likely readings, and why some are not open."""
        sheet = self.desk.sheet()
        return self._once(
            ("guides", sheet.path, sheet.seen, health),
            lambda: self.desk.tasks.bench_guides(
                rigfile.loaded_of(sheet.text, sheet.path), health_answers(health)
            ),
        )

    def guide(self, key: str, health: str) -> Guide:
        """One procedure; BadRequest when the answers keep it back, NotFound when there is none by that name."""
        from sparewatt.studies.bench.procedures import ORDER

        if key not in ORDER:
            raise NotFound(
                Problem(key[:80], "There is no procedure by this name.", "choose one on the bench page")
            )
        sheet = self.desk.sheet()
        answer: Answer = self._once(
            ("guide", sheet.path, sheet.seen, key, health),
            lambda: self.desk.tasks.bench_guide(
                rigfile.loaded_of(sheet.text, sheet.path), key, health_answers(health)
            ),
        )
        guide = answer.study
        assert isinstance(guide, Guide)
        return guide

    def questions(self) -> Screening:
        """What is asked before any effort."""
        return screening()

    def _once(self, key: Hashable, work: Callable[[], T]) -> T:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                kept: T = self._kept[key]
                return kept
        found = work()
        with self._lock:
            self._kept[key] = found
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
        return found

    # writes ----

    def add(self, reading: NewReading, seen: str) -> tuple[str, tuple[int, ...], str]:
        """Write a reading down: (its mark, its lines, the new mark of the file)."""
        from sparewatt.files.readings_write import write_readings

        added = write_readings(self.place, [reading], digest=seen)
        return added.at, added.lines, added.readings.digest

    def aside(self, whys: Mapping[int, str], seen: str) -> str:
        """Leave readings out, each line with its reason; the new mark of the file."""
        from sparewatt.files.readings_write import aside_word, write_readings

        used = {line: aside_word(why) for line, why in whys.items()}
        return write_readings(self.place, used=used, digest=seen).readings.digest

    def back(self, lines: Sequence[int], seen: str) -> str:
        """Let readings count again; the new mark of the file."""
        from sparewatt.files.readings_write import take_back

        return take_back(self.place, *lines, digest=seen).digest

    def keep(self, seen: str, readings: str) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
        """Write what is known into the rig file, so that it can be taken back: (keys written, what was left and why)."""
        if self.readings().digest != readings:
            says = "There are other readings now than when this page was shown; nothing was written."
            raise ChangedElsewhere(
                Problem("readings.csv", says, "look at the page again, then press the button")
            )
        with self.desk.changing(seen, KEEP) as sheet:
            _answer, kept, left = self.desk.tasks.bench_keep(sheet.path)
        return kept, left

    def restore(self, text: str, where: str, seen: str) -> None:
        """Put the part of a label's text into the rig file, so that it can be taken back."""
        with self.desk.changing(seen, "A part came back from its label.") as sheet:
            self.desk.tasks.bench_restore(sheet.path, text, where)
