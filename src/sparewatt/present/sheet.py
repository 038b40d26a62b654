"""The printed sheet: the answers of a rig on two to four pages, for the wall of a place where nothing else may be running.

Words and numbers go to the template as data, never as markup, so no name in a rig file can change the page.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol, TypeVar

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rig
from sparewatt.present import words, words_guard, words_loads
from sparewatt.present.drawings import chain as chain_drawing
from sparewatt.present.drawings import leg, receipt, wiring
from sparewatt.present.drawings import room as room_drawing
from sparewatt.present.numbers import Shown, about, amount, band, data
from sparewatt.present.words_numbers import sentence
from sparewatt.rig.outcome import Band, Stop
from sparewatt.studies.answers import (
    GuardAnswer,
    LoadAnswer,
    LoadsAnswer,
    LoadState,
    MatchAnswer,
    Setting,
    Sized,
    WorthAnswer,
)  # fmt: skip

__all__ = ["PAPERS", "AnswerLike", "summary_pdf", "wiring_pdf"]

PAPERS = {"a4": "a4", "letter": "us-letter"}  # what a person says: what the typesetter says
MOST_PAGES = 4
BRIEFEST = 3
TALL = {"a4": 763.0, "letter": 713.0}  # points between the margins
COLUMN = {"a4": 242.0, "letter": 250.0}
HERE = Path(__file__).resolve().parent
TITLES = {"worth": "Is it worth the legs?", "heap": "What is on the heap"}
CAUTION = (
    "Nothing that was looked at is a promise. The sheet cannot see cracks, water in insulation, or a heart. "
    "Local codes and a licensed electrician come before it; so does your own sense that something is wrong."
)
Data = dict[str, object]
T = TypeVar("T")


class AnswerLike(Protocol):
    """What the sheet reads of an answer."""

    @property
    def answer(self) -> str:
        """The sentence."""

    @property
    def verdict(self) -> str | None:
        """One of the fixed words, or None."""

    @property
    def study(self) -> object:
        """The frozen result of the study."""

    @property
    def caveats(self) -> tuple[str, ...]:
        """Sentences."""

    @property
    def sources(self) -> tuple[str, ...]:
        """Keys."""


def summary_pdf(
    answers: Mapping[str, AnswerLike], rig: Rig, *, paper: str = "a4", inch: bool = False, made: str = "",
    references: Mapping[str, str] | None = None,
) -> bytes:  # fmt: skip
    """The summary sheet as PDF. made: a date or place to print; references: readable text of a source key."""
    for brief in range(BRIEFEST + 1):
        content = sheet_data(
            answers, rig, paper=paper, inch=inch, made=made, references=references or {}, brief=brief
        )
        if brief == BRIEFEST or _pages("sheet.typ", content) <= MOST_PAGES:
            break
    return _compiled("sheet.typ", content)


def _inputs(template: str, content: Data) -> dict[str, Any]:
    told = json.dumps(content, ensure_ascii=False, allow_nan=False)
    return {
        "input": HERE / template, "root": HERE, "font_paths": [HERE / "fonts"], "ignore_system_fonts": True,
        "sys_inputs": {"data": told},
    }  # fmt: skip


def _pages(template: str, content: Data) -> int:
    """How many pages it would take."""
    import typst

    found = typst.query(**_inputs(template, content), selector="<pages>", field="value", one=True)
    return int(json.loads(found))


def _compiled(template: str, content: Data) -> bytes:
    import typst  # 80 MB, so only when a sheet is wanted

    pdf = typst.compile(**_inputs(template, content), format="pdf")
    if not isinstance(pdf, bytes):
        raise TypeError("the sheet came out in pieces")
    return pdf


def sheet_data(
    answers: Mapping[str, AnswerLike],
    rig: Rig,
    *,
    paper: str,
    inch: bool,
    made: str,
    references: Mapping[str, str],
    brief: int = 0,
) -> Data:
    """Everything the template reads. brief: 0 all of it, 3 the shortest form; answers and stops are always whole."""
    paper = _paper(paper)
    match = _study(answers, "match", MatchAnswer)
    guard = _study(answers, "guard", GuardAnswer)
    loads = _study(answers, "loads", LoadsAnswer)
    worth = _study(answers, "worth", WorthAnswer)
    lead = answers.get("match") or next(iter(answers.values()), None)
    caveats = list(dict.fromkeys(text for one in answers.values() for text in one.caveats))
    sources = list(dict.fromkeys(key for one in answers.values() for key in one.sources))
    return {
        "title": f"{rig.name}: summary sheet",
        "rig": rig.name or "Your rig",
        "made": made,
        "paper": PAPERS[paper],
        "foot": f"{rig.name}. Sparewatt summary sheet.",
        "caution": CAUTION,
        "lead": _lead(lead, match, rig),
        "stops": _stops(guard),
        "leg": _leg(match, inch),
        "chain": _chain(match, rig, paper, inch),
        "room": _room(match),
        "receipt": _receipt(worth, match, paper),
        "brief": brief,
        "settings": [_setting(s) for s in match.settings] if match else [],
        "loads": _loads(answers["loads"].answer, loads, brief) if loads else None,
        "others": [
            {"title": TITLES.get(key, key), "answer": _split(one.answer), "verdict": one.verdict}
            for key, one in answers.items()
            if one is not lead and key not in ("match", "loads", "guard")
        ],
        "guard": _guard(answers["guard"].answer, guard, inch, brief) if guard else None,
        "unknowns": [words.unknown(u) for u in match.unknowns[:3]] if match else [],
        "caveats": caveats if brief < 2 else caveats[:4],
        "sources": [references.get(key, key) for key in sources],
    }


def _paper(paper: str) -> str:
    if paper not in PAPERS:
        raise BadRequest(
            Problem(where="paper", read=paper, problem="this paper is not known", hint=" or ".join(PAPERS))
        )
    return paper


def _study(answers: Mapping[str, AnswerLike], section: str, kind: type[T]) -> T | None:
    one = answers.get(section)
    return one.study if one is not None and isinstance(one.study, kind) else None


def _lead(lead: AnswerLike | None, match: MatchAnswer | None, rig: Rig) -> Data | None:
    if lead is None:
        return None
    more = []
    if match is not None and lead.study is match:
        more = [text for text in (words.match_binds(match, rig), words.match_do(match)) if text]
    return {"answer": _split(lead.answer), "verdict": lead.verdict, "more": more}


def _split(answer: str) -> list[str]:
    """First sentence, and what follows it."""
    head, stop, rest = answer.partition(". ")
    return [head + stop.rstrip(), rest]


def _leg(match: MatchAnswer | None, inch: bool) -> Data | None:
    if match is None or match.picture.cadence.size == 0:
        return None
    return {
        "svg": leg.leg_picture(match, wide=600, inch=inch, standalone=True),
        "caption": leg.caption(match),
    }


def _chain(match: MatchAnswer | None, rig: Rig, paper: str, inch: bool) -> Data | None:
    if match is None or not match.chain:
        return None
    svg = chain_drawing.chain_upright(match.chain, rig=rig, inch=inch, standalone=True)
    high = min(_tall(svg, paper), TALL[paper] - 130.0)
    return {"svg": svg, "caption": chain_drawing.caption(match.chain), "high": high}


def _tall(svg: str, paper: str) -> float:
    """Height of a drawing in points when it fills one of two columns."""
    wide, high = (float(svg.split(f'{name}="', 1)[1].split('"', 1)[0]) for name in ("width", "height"))
    return high / wide * COLUMN[paper]


def _room(match: MatchAnswer | None) -> Data | None:
    if match is None or match.room.cells.size == 0:
        return None
    return {
        "svg": room_drawing.room_to_ride(match.room, wide=344, standalone=True),
        "caption": room_drawing.caption(match.room),
    }


def _receipt(worth: WorthAnswer | None, match: MatchAnswer | None, paper: str) -> Data | None:
    if worth is None or not worth.rows:
        return None
    asked = match.ask.load if match else ""
    row = next((r for r in worth.rows if r.load == asked), worth.rows[0])
    if not row.chain:
        return None
    svg = receipt.worth_receipt(row, standalone=True)
    rest = TALL[paper] - 160.0 - (_tall(str(above["svg"]), paper) if (above := _room(match)) else 0.0)
    high = min(_tall(svg, paper) * 0.92, rest)
    return {"svg": svg, "high": high} if high > 0.6 * _tall(svg, paper) else None


def wiring_pdf(rig: Rig, *, paper: str = "a4", inch: bool = False) -> bytes:
    """One page with the wiring sketch upright, for the inside of the box."""
    svg = wiring.wiring(rig, upright=True, inch=inch, standalone=True)
    content: Data = {
        "title": f"{rig.name}: wiring",
        "rig": rig.name,
        "paper": PAPERS[_paper(paper)],
        "svg": svg,
        "caption": wiring.caption(rig),
        "caution": CAUTION,
    }
    return _compiled("wiring.typ", content)


def _setting(s: Setting) -> Data:
    value = data(amount(s.value, s.unit, "computed", digits=3)) if math.isfinite(s.value) else None
    return {"what": s.what, "value": value, "why": sentence(s.why), "meter": sentence(s.meter)}


def _stops(guard: GuardAnswer | None) -> list[dict[str, str]]:
    """What must be put right first, each once."""
    found = words_guard.worst_first(guard.findings) if guard else []
    stops = {f.title: f.do for f in found if f.check == "stop"}
    return [{"title": title, "do": do} for title, do in stops.items()]


def _loads(answer: str, loads: LoadsAnswer, brief: int) -> Data:
    charge = words_loads.charge(loads.charge) if loads.charge else ""
    return {"answer": _split(answer), "rows": [_load(row, brief) for row in loads.rows], "charge": charge}


def _load(row: LoadAnswer, brief: int) -> Data:
    why = row.why or row.stop.value
    dc = sentence(f"On direct current: {row.dc}; {row.dc_why}") if row.dc_why else ""
    if brief:
        dc = "" if row.dc == "not refused" else f"On direct current: {row.dc}."
    check = f" {dc}" if dc else ""
    run = f" {words_loads.run(row.run)}" if row.run else ""
    bout = f" {words_loads.bout(row.bout)}" if row.bout else ""
    return {
        "load": row.load, "brief": sentence(why), "verdict": row.verdict, "why": f"{sentence(why)}{check}{bout}{run}",
        "states": [_state(s) for s in row.states],
    }  # fmt: skip


def _state(s: LoadState) -> Data:
    says = s.stop.value if s.stop is not Stop.FOUND else s.says
    return {
        "state": s.state, "works": s.works, "takes": data(about(s.p_load, "W")), "legs": data(about(s.p_rider, "W")),
        "time": data(_time(s.time)), "says": says,
    }  # fmt: skip


def _time(t: Band) -> Shown:
    return Shown("as long as you like", "") if math.isinf(t.mid) or math.isinf(t.low) else band(t, "s")


def _guard(answer: str, guard: GuardAnswer, inch: bool, brief: int) -> Data:
    """Hazards and sizes; the briefer, the less is said twice, and what is large enough is only named."""
    found = [f for f in words_guard.worst_first(guard.findings) if f.check != "not refused"]
    fine = [s for s in guard.sizes if s.check == "not refused" and math.isfinite(s.have) and brief > 1]
    return {
        "answer": _split(answer),
        "quiet": ", ".join(guard.quiet),
        "sizes": [_size(s, inch) for s in guard.sizes if s not in fine],
        "enough": "; ".join(s.what for s in fine),
        "findings": [
            {"check": f.check, "title": f.title, "says": f.says, "do": f.do, "source": f.source}
            for f in found
            if not (brief and f.title in answer and f.says in answer and f.do in answer)
        ],
    }


def _size(s: Sized, inch: bool) -> Data:
    def say(value: float) -> dict[str, str]:
        return data(
            amount(value, s.unit, inch=inch) if s.unit and math.isfinite(value) else Shown("not given", "")
        )

    return {
        "what": s.what,
        "need": say(s.need),
        "have": say(s.have),
        "pick": s.pick,
        "why": s.why,
        "check": s.check,
    }
