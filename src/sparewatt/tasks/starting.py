"""From one sentence to a rig file and a first verdict, with what was understood, guessed and left unused said aloud."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from sparewatt.errors import CannotWrite, Problem
from sparewatt.files import RIG_FILE, Loaded, read_text, write_new
from sparewatt.language.sentence import Heard, read_sentence
from sparewatt.present.words_guard import rider_caution
from sparewatt.present.words_loads import worst_verdict, worth_answer
from sparewatt.rig.fill import fill
from sparewatt.studies.answers import LoadsAnswer, MatchAnswer, WorthAnswer, WorthRow
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.draft import draft_rig
from sparewatt.tasks.draft_text import with_stand_ins
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_more import START
from sparewatt.tasks.questions import loads, match_filled, worth_filled

__all__ = ["Started", "start"]

T = TypeVar("T")
HOPELESS = ("heater", "induction_motor", "transformer")  # not put to a rig at all: the price says it


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """What came of one sentence. match is None when nothing that was asked for is left to try on a rig."""

    sentence: str
    understood: tuple[str, ...]
    guessed: tuple[str, ...]
    not_used: tuple[str, ...]
    text: str
    file: str
    match: MatchAnswer | None
    loads: LoadsAnswer | None
    worth: WorthAnswer | None


def start(sentence: str, folder: str | Path | None = None, *, draws: int = 1024) -> Answer:
    """A rig file from one sentence, and the first verdict. Written to `folder`/rig.toml when a folder is given."""
    _look_where(folder)
    heard = read_sentence(sentence)
    drafted = draft_rig(heard, sentence)
    text = with_stand_ins(drafted.text)
    loaded = read_text(text)
    priced = _priced(heard, loaded)
    asked = None if _hopeless(heard) else match_filled(fill(loaded.rig), "", loaded, draws=draws)
    tool = (
        loads(loaded, load=drafted.primary)
        if asked is not None and _is_tool(heard, drafted.primary)
        else None
    )
    file = str(write_new(Path(folder) / RIG_FILE, text).path) if folder is not None else ""
    found = Started(
        sentence=sentence,
        understood=tuple(drafted.heard),
        guessed=tuple(drafted.guessed),
        not_used=tuple(heard.unused),
        text=text,
        file=file,
        match=_study(asked, MatchAnswer),
        loads=_study(tool, LoadsAnswer),
        worth=_study(priced, WorthAnswer),
    )
    first = tool or asked
    parts = [x for x in (first, priced) if x is not None]
    careful = rider_caution(loaded.rig.rider[0], ", ".join(dict.fromkeys(heard.ill)))
    said = [c for x in parts for c in x.caveats if "leaves out" not in c]
    said.append(
        "Nothing here is measured yet: the file says of each number what it is, and a guess is a guess."
    )
    return Answer(
        section="start",
        answer=f"{_said(found, first, drafted.primary)} {careful}".strip(),
        verdict=worst_verdict([x.verdict for x in parts if x.verdict]),
        results=flatten(START, found),
        nearest_yes=tuple(change for x in parts for change in x.nearest_yes),
        caveats=tuple(dict.fromkeys(said)),
        sources=tuple(dict.fromkeys(key for x in parts for key in x.sources)),
        study=found,
        rig=parts[0].rig,
        origin=file,
        first=tuple({f["key"]: f for x in parts for f in x.first}.values()),
    )


def _look_where(folder: str | Path | None) -> None:
    """A rig file that is there is left alone; say so before anything is worked out."""
    if folder is not None and (Path(folder) / RIG_FILE).exists():
        there = str(Path(folder) / RIG_FILE)
        raise CannotWrite(
            Problem(there, "there is a rig file here already, and it is left alone.", "name another folder")
        )


def _study(answer: Answer | None, kind: type[T]) -> T | None:
    if answer is None:
        return None
    assert isinstance(answer.study, kind)
    return answer.study


def _priced(heard: Heard, loaded: Loaded) -> Answer | None:
    """What each thing costs the legs; what is hopeless for one is not shared out among many."""
    if not loaded.rig.load:
        return None
    kinds = [x.thing.kind for x in heard.loads if x.thing is not None]
    people = 1 if any(kind in HOPELESS for kind in kinds) else heard.people
    return worth_filled(fill(loaded.rig), "", loaded, people=people)


def _hopeless(heard: Heard) -> bool:
    """Nothing is left to ask of a rig: everything named is a matter of its price alone."""
    return not heard.charge and all(x.thing is not None and x.thing.kind in HOPELESS for x in heard.loads)


def _is_tool(heard: Heard, primary: str) -> bool:
    return any(
        x.thing is not None and x.thing.kind == "universal_motor" for x in heard.loads if x.name == primary
    )


def _said(found: Started, first: Answer | None, primary: str) -> str:
    """The refusals first, then what the rig does, then the price of the rest."""
    study = found.worth
    rows = study.rows if study is not None else ()
    no = tuple(row for row in rows if row.verdict == "not by legs")
    refused = first is not None and first.verdict == "not by legs"
    answered = {primary} if refused or found.loads is not None else set()
    yes = tuple(row for row in rows if row.verdict != "not by legs" and row.load not in answered)
    said = [_worth(study, no), first.answer if first is not None else "", _worth(study, yes)]
    return " ".join(x for x in said if x)


def _worth(study: WorthAnswer | None, rows: tuple[WorthRow, ...]) -> str:
    return (
        worth_answer(dataclasses.replace(study, rows=rows), 1, total=False)
        if study is not None and rows
        else ""
    )
