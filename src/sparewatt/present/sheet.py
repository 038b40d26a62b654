"""The printed sheet: the answers of a rig on two to four pages, for the wall of a place where nothing else may be running.

Words and numbers go to the template as data, never as markup, so no name in a rig file can change the page.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Protocol, TypeVar

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Rig
from sparewatt.present import words, words_guard, words_loads
from sparewatt.present.drawings import chain as chain_drawing
from sparewatt.present.drawings import edges, leg, receipt, wiring
from sparewatt.present.drawings import room as room_drawing
from sparewatt.present.numbers import Shown, about, amount, band, data, raised
from sparewatt.present.press import Press
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

SKETCH = (184.0, 225.0)  # mm on the page that are left for the wiring
PAPERS = {"a4": "a4", "letter": "us-letter"}  # what a person says: what the typesetter says
MOST_PAGES = 4
BRIEFEST = 3
HERE = Path(__file__).resolve().parent
TITLES = {"worth": "Is it worth the legs?", "heap": "What is on the heap"}
CAUTION = (
    "Nothing that was looked at is a promise. The sheet cannot see cracks, water in insulation, or a heart. "
    "Local codes and a licensed electrician come before it; so does your own sense that something is wrong."
)
PRACTICE = "common practice, no source"
SENTENCE = re.compile(r"(?<=[.?!]) (?=[A-Z0-9])")
LEFT_OUT = re.compile(r"The rig file leaves out (\d+) numbers?")
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
    with Press("sheet.typ") as press:
        for brief in range(BRIEFEST + 1):
            content = sheet_data(
                answers, rig, paper=paper, inch=inch, made=made, references=references or {}, brief=brief
            )
            if press.pages(_told(content)) <= MOST_PAGES:
                break
        return press.pdf()


def _told(content: Data) -> str:
    """The content as the one line the template reads."""
    return raised(json.dumps(content, ensure_ascii=False, allow_nan=False))


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
    caveats = _once([text for one in answers.values() for text in one.caveats])
    cited = [key for one in answers.values() for key in one.sources]
    if guard is not None:
        cited += [f.source for f in guard.findings if f.source]
    sources = [key for key in dict.fromkeys(cited) if key != PRACTICE]
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
        "chain": _chain(match, rig, inch),
        "room": _room(match),
        "receipt": _receipt(worth, match),
        "edges": _edges(match),
        "brief": brief,
        "settings": [_setting(s, inch) for s in match.settings] if match else [],
        "loads": _loads(answers["loads"].answer, loads, brief) if loads else None,
        "others": [
            {"title": TITLES.get(key, key), "answer": _split(one.answer), "verdict": one.verdict}
            for key, one in answers.items()
            if one is not lead and key not in ("match", "loads", "guard")
        ],
        "guard": _guard(answers["guard"].answer, guard, inch, brief, sources) if guard else None,
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


def _split(answer: str, said: Sequence[str] = ()) -> list[str]:
    """First sentence, and what follows it, without the sentences that stand in `said` right below."""
    head, *rest = SENTENCE.split(answer)
    if rest and len(head.split()) < 3:  # "No." alone is no answer
        head = f"{head} {rest.pop(0)}"
    return [head, " ".join(text for text in rest if not any(text in other for other in said))]


def _once(caveats: Sequence[str]) -> list[str]:
    """Each caveat once; of those that only count what the file leaves out, the one that counts most."""
    counted = {text: int(found[1]) for text in caveats if (found := LEFT_OUT.match(text))}
    most = max(counted, key=lambda text: counted[text], default="")
    return [text for text in dict.fromkeys(caveats) if text not in counted or text == most]


def _picture(svg: str, says: str) -> Data:
    """A drawing with its height over its width, so that the page can be laid out before it is drawn."""
    wide, high = (float(svg.split(f'{name}="', 1)[1].split('"', 1)[0]) for name in ("width", "height"))
    return {"svg": svg, "ratio": high / wide, "caption": says}


def _leg(match: MatchAnswer | None, inch: bool) -> Data | None:
    if match is None or match.picture.cadence.size == 0:
        return None
    return _picture(leg.leg_picture(match, wide=600, inch=inch, standalone=True), leg.caption(match))


def _chain(match: MatchAnswer | None, rig: Rig, inch: bool) -> Data | None:
    if match is None or not match.chain:
        return None
    svg = chain_drawing.chain_upright(match.chain, rig=rig, inch=inch, standalone=True)
    return _picture(svg, chain_drawing.caption(match.chain))


def _room(match: MatchAnswer | None) -> Data | None:
    if match is None or match.room.cells.size == 0:
        return None
    closed = not (match.room.cells == 0).any()  # then the drawing itself says so
    svg = room_drawing.room_to_ride(match.room, wide=344, standalone=True)
    return _picture(svg, "" if closed else room_drawing.caption(match.room))


def _receipt(worth: WorthAnswer | None, match: MatchAnswer | None) -> Data | None:
    if worth is None or not worth.rows:
        return None
    asked = match.ask.load if match else ""
    row = next((r for r in worth.rows if r.load == asked), worth.rows[0])
    return _picture(receipt.worth_receipt(row, standalone=True), "") if row.chain else None


def _edges(match: MatchAnswer | None) -> Data | None:
    if match is None or match.edge_curves is None or not edges.drawable(match.edge_curves):
        return None
    curves = match.edge_curves
    return _picture(edges.edges_picture(curves, wide=344, standalone=True), edges.caption(curves))


def wiring_pdf(rig: Rig, *, paper: str = "a4", inch: bool = False) -> bytes:
    """One page with the wiring sketch, for the inside of the box."""
    svg = wiring.fitted(rig, *SKETCH, inch=inch)
    content: Data = {
        "title": f"{rig.name}: wiring",
        "rig": rig.name,
        "paper": PAPERS[_paper(paper)],
        "svg": svg,
        "caption": wiring.caption(rig),
        "caution": CAUTION,
    }
    with Press("wiring.typ") as press:
        press.pages(_told(content))
        return press.pdf()


def _setting(s: Setting, inch: bool) -> Data:
    digits = 2 if s.unit == "rad/s" else 3  # nobody rides to a tenth of a turn a minute
    value = (
        data(amount(s.value, s.unit, "computed", digits=digits, inch=inch))
        if math.isfinite(s.value)
        else None
    )
    return {"what": s.what, "value": value, "why": sentence(s.why), "meter": sentence(s.meter)}


def _stops(guard: GuardAnswer | None) -> list[dict[str, str]]:
    """What must be put right first, each once."""
    found = words_guard.worst_first(guard.findings) if guard else []
    stops = {f.title: f.do for f in found if f.check == "stop"}
    return [{"title": title, "do": do} for title, do in stops.items()]


def _loads(answer: str, loads: LoadsAnswer, brief: int) -> Data:
    charge = words_loads.charge(loads.charge) if loads.charge else ""
    rows = [_load(row, brief) for row in loads.rows]
    said = [str(row["why"]) for row in rows] + [charge]
    return {"answer": _split(answer, said), "rows": rows, "charge": charge}


def _load(row: LoadAnswer, brief: int) -> Data:
    """The briefer, the less of why; what may not sit on direct current and how long a charge lasts are always said."""
    why = row.why or row.stop.value
    dc_why = "" if sentence(row.dc_why) in sentence(why) else f" {sentence(row.dc_why)}"
    dc = f"On direct current: {row.dc}.{dc_why}" if row.dc_why else ""
    if brief > 1:
        dc = "" if row.dc == "not refused" else f"On direct current: {row.dc}."
    run = words_loads.run(row.run) if row.run else ""
    bout = words_loads.bout(row.bout) if row.bout else ""
    parts = ["" if brief and run else sentence(why), dc, run, bout]
    return {
        "load": row.load, "verdict": row.verdict, "why": " ".join(part for part in parts if part),
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


def _guard(answer: str, guard: GuardAnswer, inch: bool, brief: int, sources: Sequence[str]) -> Data:
    """Hazards and sizes; nothing is said twice, and in brief what is large enough is only named."""
    found = [f for f in words_guard.worst_first(guard.findings) if f.check != "not refused"]
    fine = [s for s in guard.sizes if s.check == "not refused" and math.isfinite(s.have) and brief]
    said = [f"{f.says} {f.do}" for f in found if f.check == "stop" or not brief]
    return {
        "answer": _split(answer, said),
        "quiet": ", ".join(guard.quiet),
        "sizes": [_size(s, inch) for s in guard.sizes if s not in fine],
        "enough": "; ".join(s.what for s in fine),
        "findings": [
            {
                "check": f.check,
                "title": f.title,
                "says": f.says,
                "do": f.do,
                "source": _cite(f.source, sources),
            }
            for f in found
        ],
    }


def _cite(source: str, sources: Sequence[str]) -> str:
    """A source by its number in the list at the end; common practice by its words."""
    return f"source {sources.index(source) + 1}" if source in sources else source


def _size(s: Sized, inch: bool) -> Data:
    def say(value: float) -> dict[str, str]:
        return data(
            amount(value, s.unit, inch=inch, digits=3 if s.unit == "V" else 2)
            if s.unit and math.isfinite(value)
            else Shown("not given", "")
        )

    return {
        "what": s.what,
        "need": say(s.need),
        "have": say(s.have),
        "pick": s.pick,
        "why": s.why,
        "check": s.check,
    }
