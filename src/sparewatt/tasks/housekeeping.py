"""What is no study: the demo rigs, the check of a rig file, the summary on paper."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.files import RIG_FILE, write_demo
from sparewatt.files import demo_list as all_demos
from sparewatt.files.update import brought_up_to_date
from sparewatt.files.whole import write_out
from sparewatt.parts import Converter, Rig
from sparewatt.rig.circuit import set_out_of_reach
from sparewatt.rig.fill import fill
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import Where, open_place
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_more import CHECK, DEMO, SHEET

__all__ = [
    "Checked",
    "Demos",
    "Written",
    "check",
    "demo_home",
    "demo_list",
    "demo_write",
    "sheet",
    "sheet_written",
    "wiring_sheet",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Demos:
    """The demo rigs, and where one was written."""

    demos: tuple[Any, ...]
    file: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A rig file that was read without a problem: what is in it and what is left to typical values."""

    file: str
    parts: dict[str, int]
    numbers: int
    hows: dict[str, int]
    assumed: tuple[tuple[str, str], ...]
    updated: tuple[str, ...] = ()  # keys of what was brought up to date
    beyond: tuple[tuple[str, str], ...] = ()  # keys of set points that their board cannot make, and why


def demo_list() -> Answer:
    """Which demo rigs are there?"""
    found = Demos(demos=all_demos())
    names = ", ".join(demo.key for demo in found.demos)
    said = f"There are {len(found.demos)} demo rigs: {names}. Write one out with its word and a folder."
    return _plain("demo", said, found, flatten(DEMO, found), Rig(name=""))


def demo_write(name: str, folder: str | Path) -> Answer:
    """One demo rig as `folder`/rig.toml; a rig file that is there is left alone."""
    loaded = write_demo(name.strip(), folder)
    found = Demos(demos=tuple(d for d in all_demos() if d.key == name.strip()), file=str(loaded.path))
    said = f"{loaded.rig.name} is written to {loaded.path}. Ask it something: sparewatt match {Path(folder)}"
    return _plain("demo", said, found, flatten(DEMO, found), loaded.rig, str(loaded.path))


def demo_home(home: str | Path | None = None) -> Path:
    """Folder of your own copy of the first demo rig, written there when it is not there yet (~/sparewatt unless named)."""
    first = all_demos()[0].key
    folder = (Path(home) if home is not None else Path.home() / "sparewatt") / first
    if not (folder / RIG_FILE).is_file():
        write_demo(first, folder)
    return folder


def check(place: Where, *, write: bool = False) -> Answer:
    """Is the rig file in order? Every problem at once (as an error of the file) when it is not.

    write: bring an older file up to date, comments kept.
    """
    loaded, origin = open_place(place)
    updated: tuple[str, ...] = ()
    if write:
        edited, updated = brought_up_to_date(loaded)
        loaded = edited.loaded
    filled = fill(loaded.rig)
    parts = {}
    for name in (
        "rider",
        "stage",
        "machine",
        "converter",
        "battery",
        "load",
        "wire",
        "fuse",
        "switch",
        "socket",
        "neighbour",
    ):
        held = getattr(loaded.rig, name)
        parts[name] = len(held) if isinstance(held, tuple) else int(held is not None)
    hows = Counter(origin_of.how for origin_of in loaded.origins)
    found = Checked(
        file=origin,
        parts=parts,
        numbers=len(loaded.origins),
        hows=dict(sorted(hows.items())),
        assumed=filled.assumed,
        updated=updated,
        beyond=tuple((where, _beyond(board, volts)) for where, board, volts in set_out_of_reach(loaded.rig)),
    )
    right = " ".join(says for _where, says in found.beyond)
    said = (
        f"Nothing to put right in {origin or 'this text'}: {found.numbers} numbers, "
        f"{hows.get('measured', 0)} of them measured. "
        f"For {len(found.assumed)} more a typical value stands in."
    )
    if right:
        said = f"{right} {said.replace('Nothing to put right', 'Nothing else to put right', 1)}"
    if write:
        said += (
            f" Brought up to date: {', '.join(updated)}; each load now has its own."
            if updated
            else " It was up to date already."
        )
    return _plain("check", said, found, flatten(CHECK, found), filled.rig, origin)


def _beyond(board: Converter, volts: float) -> str:
    made = board.made(volts)
    end, way = ("most", "down") if volts > made else ("least", "up")
    return (
        f"The {board.name} is set to {volts:g} V and makes {made:g} V at {end}: turn its volts screw {way}."
    )


def sheet(
    place: Where, *, units: str = "metric", changes: Iterable[tuple[str, str]] = (), **asked: Any
) -> bytes:
    """The summary of a rig on paper, as PDF: the match, what it is worth, the loads, the hazards."""
    from sparewatt.present.sheet import summary_pdf
    from sparewatt.tasks import questions
    from sparewatt.tasks.sources import source_lines

    if units not in ("metric", "inch"):
        raise BadRequest(Problem("units", f'"{units}" is not one of the choices.', "metric or inch", units))
    loaded, _origin = open_place(place, changes)
    answers = {"match": questions.match(loaded, **asked)}
    rider = asked.get("rider")
    if loaded.rig.load:
        answers["worth"] = questions.worth(loaded, rider=rider)
        answers["loads"] = questions.loads(loaded, rider=rider)
    answers["guard"] = questions.guard(loaded, load=asked.get("load"))
    keys = [key for answer in answers.values() for key in answer.sources]
    paper, inch = ("letter", True) if units == "inch" else ("a4", False)
    return summary_pdf(
        answers, answers["match"].rig, paper=paper, inch=inch, references=dict(source_lines(keys))
    )


def wiring_sheet(
    place: Where, *, paper: str = "", units: str = "metric", changes: Iterable[tuple[str, str]] = ()
) -> bytes:
    """The wiring of a rig on one page, as PDF, for the inside of the box. paper: a4, or letter where inches are used."""
    from sparewatt.present.sheet import wiring_pdf

    loaded, _origin = open_place(place, changes)
    inch = units == "inch"
    return wiring_pdf(fill(loaded.rig).rig, paper=paper or ("letter" if inch else "a4"), inch=inch)


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """A sheet that was written."""

    file: str
    size: int


def sheet_written(path: Path, pdf: bytes) -> Answer:
    """Puts a sheet on the disk."""
    write_out(path, pdf, ".pdf")
    found = Written(file=str(path), size=len(pdf))
    return _plain(
        "sheet",
        f"The sheet is in {path}. Print it; in an outage the paper is what you have.",
        found,
        flatten(SHEET, found),
        Rig(name=""),
    )


def _plain(
    section: str, said: str, found: Any, results: dict[str, object], rig: Rig, origin: str = ""
) -> Answer:
    return Answer(
        section=section,
        answer=said,
        verdict=None,
        results=results,
        nearest_yes=(),
        caveats=(),
        sources=(),
        study=found,
        rig=rig,
        origin=origin,
    )
