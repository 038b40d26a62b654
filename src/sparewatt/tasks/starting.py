"""From one sentence to a rig file and a first verdict, with what was understood, guessed and left unused said aloud."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sparewatt.errors import BadRequest, CannotWrite, Problem
from sparewatt.files import RIG_FILE, read_text, write_new
from sparewatt.present.words_loads import worst_verdict, worth_answer
from sparewatt.present.words_numbers import sentence as full
from sparewatt.rig.fill import fill
from sparewatt.studies.answers import MatchAnswer, WorthAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.draft import draft_rig
from sparewatt.tasks.draft_text import with_stand_ins
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_more import START
from sparewatt.tasks.questions import match_filled, worth_filled
from sparewatt.tasks.sentence import Heard, read_sentence

__all__ = ["Started", "start"]


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
    worth: WorthAnswer | None


def start(sentence: str, folder: str | Path | None = None, *, draws: int = 1024) -> Answer:
    """A rig file from one sentence, and the first verdict. Written to `folder`/rig.toml when a folder is given."""
    if folder is not None and (Path(folder) / RIG_FILE).exists():
        raise CannotWrite(
            Problem(
                str(Path(folder) / RIG_FILE),
                "there is a rig file here already, and it is left alone.",
                "name another folder",
            )
        )
    heard = read_sentence(sentence)
    drafted = draft_rig(heard, sentence)
    text = with_stand_ins(drafted.text)
    loaded = read_text(text)
    filled = fill(loaded.rig)
    priced = worth_filled(filled, "", people=heard.people) if loaded.rig.load else None
    hopeless = _hopeless(heard)
    asked = None if hopeless else match_filled(filled, "", draws=draws)
    file = str(write_new(Path(folder) / RIG_FILE, text).path) if folder is not None else ""
    worth = priced.study if priced else None
    study = asked.study if asked else None
    assert worth is None or isinstance(worth, WorthAnswer)
    assert study is None or isinstance(study, MatchAnswer)
    found = Started(
        sentence=sentence,
        understood=tuple(drafted.heard),
        guessed=tuple(drafted.guessed),
        not_used=tuple(heard.unused),
        text=text,
        file=file,
        match=study,
        worth=worth,
    )
    parts = [x for x in (priced, asked) if x is not None]
    return Answer(
        section="start",
        answer=_said(heard, priced, asked),
        verdict=worst_verdict([x.verdict for x in parts if x.verdict]),
        results=flatten(START, found),
        nearest_yes=tuple(change for x in reversed(parts) for change in x.nearest_yes),
        caveats=tuple(
            dict.fromkeys(
                [full(x) for x in drafted.guessed]
                + [c for x in parts for c in x.caveats if "typical" not in c]
            )
        ),
        sources=tuple(dict.fromkeys(key for x in parts for key in x.sources)),
        study=found,
        rig=filled.rig,
        origin=file,
    )


def _hopeless(heard: Heard) -> bool:
    """Nothing is left to ask of a rig: everything named is a matter for worth alone."""
    return not heard.charge and all(
        x.thing is not None and x.thing.kind in ("heater", "induction_motor") for x in heard.loads
    )


def _said(heard: Heard, priced: Answer | None, asked: Answer | None) -> str:
    """The refusals first, then what the rig does, then the price of the rest."""
    refused, rest = "", ""
    if priced is not None and isinstance(priced.study, WorthAnswer):
        study = priced.study
        no = tuple(row for row in study.rows if row.verdict == "not by legs")
        yes = tuple(row for row in study.rows if row.verdict != "not by legs")
        refused = worth_answer(_with_rows(study, no), heard.people) if no else ""
        rest = worth_answer(_with_rows(study, yes), heard.people) if yes else ""
    said = [refused, asked.answer if asked else "", rest]
    if not any(said):
        raise BadRequest(
            Problem("sentence", "nothing could be worked out from it", "name a thing to run, and its watts")
        )
    return " ".join(x for x in said if x)


def _with_rows(study: WorthAnswer, rows: tuple[object, ...]) -> WorthAnswer:
    import dataclasses

    return dataclasses.replace(study, rows=rows)  # type: ignore[arg-type]
