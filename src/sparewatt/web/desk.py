"""What the app has open: one rig folder, the answers already worked out for it, and what can be undone.

A page asks the desk; the desk asks a task. The same question about the same file text is asked once.
"""

from __future__ import annotations

import threading
from collections import OrderedDict, deque
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

from sparewatt.errors import ChangedElsewhere, NotFound, Problem, SparewattError
from sparewatt.parts import Rig
from sparewatt.present.words_numbers import sentence as full
from sparewatt.tasks.answer import Answer
from sparewatt.web import rigfile
from sparewatt.web.rigfile import Sheet

__all__ = ["Desk", "Tasks"]

KEPT_ANSWERS = 96
KEPT_SCENES = 8
KEPT_STEPS = 50
HOLDS = (("all day", 8 * 3600.0), ("an hour", 3600.0), ("ten minutes", 600.0), ("a minute", 60.0))


class Tasks(Protocol):
    """The tasks the pages ask; `sparewatt.tasks` is one."""

    worth: Callable[..., Answer]
    heap: Callable[..., Answer]
    match: Callable[..., Answer]
    loads: Callable[..., Answer]
    guard: Callable[..., Answer]
    scene: Callable[..., Answer]
    compare: Callable[..., tuple[Answer, Answer]]
    start: Callable[..., Answer]
    demo_list: Callable[..., Answer]
    demo_write: Callable[..., Answer]
    sheet: Callable[..., bytes]
    wiring_sheet: Callable[..., bytes]
    mend: Callable[..., Answer]
    mend_moments: Callable[..., Any]
    bench: Callable[..., Answer]
    bench_guides: Callable[..., Any]
    bench_guide: Callable[..., Answer]
    bench_keep: Callable[..., Any]
    bench_restore: Callable[..., Answer]
    bench_blank: Callable[..., bytes]
    bench_labels: Callable[..., bytes]
    bench_list: Callable[..., Answer]
    dummy: Callable[..., Answer]
    phone: Callable[..., Answer]
    phone_keep: Callable[..., Answer]


@dataclass(frozen=True, slots=True)
class Step:
    """One change that can be taken back: the file, its text before and after, and what was changed in words."""

    path: Path
    before: str
    after: str
    says: str


class Desk:
    """See the module text. All methods may be called from several threads."""

    def __init__(self, folder: Path | None, tasks: Callable[[], Tasks], home: Path) -> None:
        self.folder = folder
        self.home = home
        self._tasks = tasks
        self._answers: OrderedDict[tuple[Hashable, ...], Answer] = OrderedDict()
        self._steps: deque[Step] = deque(maxlen=KEPT_STEPS)
        self._lock = threading.RLock()
        self._started: tuple[Answer, str] | None = None
        self._fresh = False
        self.place = (
            folder / rigfile.NAME if folder is not None and (folder / rigfile.NAME).is_file() else None
        )

    @property
    def tasks(self) -> Tasks:
        """The tasks, imported on first use: they are slow to load and the first page does not need them."""
        return self._tasks()

    def open(self, path: Path) -> None:
        """Work on this rig file from now on."""
        with self._lock:
            self.place = path / rigfile.NAME if path.is_dir() else path
            self._steps.clear()

    def name(self) -> str:
        """What the open rig is called; empty when none is open."""
        there = self.there()
        return rigfile.name_of(there.text) if there is not None else ""

    def seen(self) -> str:
        """The mark of the open file's text; empty when none is open."""
        there = self.there()
        return there.seen if there is not None else ""

    def where_new(self, name: str = "") -> Path:
        """The folder a new rig goes to: the project folder while it is empty, else one of its own that is not there yet."""
        if self.folder is not None and not (self.folder / rigfile.NAME).exists():
            return self.folder
        above = self.folder or self.home
        wanted = "".join(c if c.isalnum() else "-" for c in name.lower()).strip("-")[:40] or "rig"
        names = (wanted if k == 1 else f"{wanted}-{k}" for k in range(1, 1000))
        return next(above / n for n in names if not (above / n).exists())

    def sheet(self) -> Sheet:
        """The open rig file as it is on disk now."""
        if self.place is None:
            raise NotFound(
                Problem(
                    "rig",
                    "No rig is open yet.",
                    "tell what you want to run on the first page, or open a demo",
                )
            )
        return rigfile.read(self.place)

    def there(self) -> Sheet | None:
        """The same, None when none is open or it cannot be read now: what every page asks, also the one that says so."""
        try:
            return self.sheet()
        except SparewattError:
            return None

    def rig(self) -> Rig | None:
        """The open rig as its file says; None while the file cannot be used."""
        there = self.there()
        return rigfile.rig_of(there) if there is not None else None

    def filled(self, rig: Rig) -> Rig:
        """The same with typical values where the file is silent."""
        from sparewatt.rig.fill import fill

        return fill(rig).rig

    def was(self, key: str) -> str:
        """What the file says at a key; empty when it says nothing."""
        there = self.there()
        return rigfile.written(there).get(key, "") if there is not None else ""

    def marks(self, rig: Rig, rider: str) -> list[tuple[str, float]]:
        """(words, watts) this rider can hold for four lengths of time."""
        from sparewatt.rig.asking import ask_for

        return [(words, ask_for(rig, rider=rider, duration=time).effort) for words, time in HOLDS]

    def demos(self) -> list[dict[str, str]]:
        """The demo rigs: word, title, one-line story."""
        from sparewatt.files import demo_list

        return [{"name": d.key, "title": d.name, "story": _first_sentence(d.story)} for d in demo_list()]

    def open_demo(self, key: str) -> None:
        """Copy a demo to a folder of one's own and open it."""
        where = self.where_new(key)
        self.tasks.demo_write(key, where)
        self.open(where)

    def begin(self, sentence: str, typed: dict[str, str], *, inch: bool) -> Answer:
        """A new rig file from one sentence and what was typed besides; it is opened, and the first answer given."""
        where = self.where_new()
        answer: Answer = self.tasks.start(_whole(sentence, typed, inch), where)
        with self._lock:
            self.open(where)
            self._started, self._fresh = (answer, sentence), True
        return answer

    def told(self) -> dict[str, Any] | None:
        """How the sentence of the open rig was read; None when it did not come from one here."""
        if self._started is None or self.place is None:
            return None
        answer, sentence = self._started
        heard = answer.study
        if Path(answer.origin) != self.place:
            return None
        fresh, self._fresh = self._fresh, False
        return {
            "sentence": sentence,
            "understood": [full(line) for line in getattr(heard, "understood", ())],
            "guessed": [full(line) for line in getattr(heard, "guessed", ())],
            "not_used": list(getattr(heard, "not_used", ())),
            "fresh": fresh,
        }

    def ask(self, name: str, /, **asked: Any) -> Answer:
        """The answer of the task `name` about the open rig; the same question about the same text is worked out once."""
        sheet = self.sheet()
        key = (name, str(sheet.path), sheet.seen, tuple(sorted(asked.items())))
        with self._lock:
            if key in self._answers:
                self._answers.move_to_end(key)
                return self._answers[key]
        loaded = rigfile.loaded_of(sheet.text, sheet.path)
        answer: Answer = getattr(self.tasks, name)(loaded, **asked)
        if asked.get("runs") and not getattr(answer.study, "runs", 1):
            return answer  # the quick way of playing is not ready yet: ask again for the bands
        with self._lock:
            self._answers[key] = answer
            while len(self._answers) > KEPT_ANSWERS:
                self._answers.popitem(last=False)
            played = [k for k in self._answers if k[0] == "scene"]
            for old in played[
                :-KEPT_SCENES
            ]:  # every number of every moment: a thousand times what another answer holds
                del self._answers[old]
        return answer

    def ask_both(self, changes: tuple[tuple[str, str], ...], **asked: Any) -> Answer:
        """The answer about a scene as the rig is, with what differs in the design that has these changes too."""
        sheet = self.sheet()
        return self.tasks.compare(rigfile.loaded_of(sheet.text, sheet.path), changes, **asked)[0]

    def write(self, new: Callable[[str], str], *, seen: str, says: str) -> None:
        """Put what `new` makes of the open file's text in its place; remember how to take it back.

        Refused when the file is not the one that was seen.
        """
        with self._lock:
            sheet = self.sheet()
            if sheet.seen != seen:
                says = "The file on disk is not the one this page showed."
                raise ChangedElsewhere(
                    Problem(rigfile.NAME, says, "compare both, then choose", file=str(sheet.path))
                )
            text = new(sheet.text)
            if text != sheet.text:
                rigfile.write(sheet, text)
                self._steps.append(Step(sheet.path, sheet.text, text, says))

    @contextmanager
    def changing(self, seen: str, says: str) -> Iterator[Sheet]:
        """Inside, a task writes the open file; remember how to take that back. Refused as in `write`."""
        with self._lock:
            before = self.sheet()
            if before.seen != seen:
                told = "The file on disk is not the one this page showed."
                raise ChangedElsewhere(Problem(rigfile.NAME, told, "look at both", file=str(before.path)))
            yield before
            after = self.sheet()
            if after.text != before.text:
                self._steps.append(Step(before.path, before.text, after.text, says))

    def undo_says(self) -> str:
        """What the next undo takes back, in words; empty when there is nothing, or the file was changed elsewhere since."""
        with self._lock:
            if not self._steps or self.place is None:
                return ""
            step = self._steps[-1]
            there = self.there()
            return (
                step.says if there is not None and (there.path, there.text) == (step.path, step.after) else ""
            )

    def undo(self) -> str:
        """Take the last change back; says what was taken back."""
        with self._lock:
            if not self.undo_says():
                raise ChangedElsewhere(
                    Problem(
                        "undo",
                        "There is nothing to take back, or the file was changed elsewhere since.",
                        "edit it here",
                    )
                )
            step = self._steps[-1]
            rigfile.write(rigfile.read(step.path), step.before)
            self._steps.pop()
            return step.says


def _whole(sentence: str, typed: dict[str, str], inch: bool) -> str:
    """The sentence with the three optional facts said after it, each as a sentence of its own."""
    said = [sentence.strip()]
    if typed.get("plate"):
        said.append(f"The motor says {typed['plate']}")
    rider = [f"{typed['age']} years old" if typed.get("age") else "", typed.get("fitness", "")]
    mass = typed.get("mass", "")
    if mass:
        rider.insert(1, f"{mass} {'lb' if inch else 'kg'}" if mass.replace(".", "", 1).isdigit() else mass)
    if any(rider):
        said.append("The rider is " + ", ".join(word for word in rider if word))
    if typed.get("battery"):
        said.append(f"The battery is {typed['battery']}")
    return ". ".join(part.rstrip(". ") for part in said) + "."


def _first_sentence(text: str) -> str:
    """The first sentence of a story."""
    plain = " ".join(text.split())
    end = plain.find(". ")
    return plain if end < 0 else plain[: end + 1]
