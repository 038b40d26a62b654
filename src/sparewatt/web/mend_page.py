"""What the page of the fault-finder shows: causes with their checks, each reading under each cause, what would help most."""

from __future__ import annotations

import math
from typing import Any
from urllib.parse import urlencode

from markupsafe import Markup

from sparewatt.language.moment import FEELS
from sparewatt.parts import Rig
from sparewatt.present import words_mend
from sparewatt.present.drawings import readings
from sparewatt.present.words_numbers import clause, sentence, time
from sparewatt.rig.bind import gear_names
from sparewatt.studies.bench.answers import Improvement
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.keys_mend import Ranked
from sparewatt.web import rigwords
from sparewatt.web.match_page import cited, load_choices
from sparewatt.web.mend_form import BOXES, MOST_ROWS, Form, pairs_of
from sparewatt.web.pictures import NARROW
from sparewatt.web.question import Question
from sparewatt.web.speech import say, tied

__all__ = ["FRAGMENTS", "better", "controls", "shown", "study_of"]

# id on the page -> template; everything that a change replaces
FRAGMENTS = {
    "part-answer": "mend/answer.html",
    "part-causes": "mend/causes.html",
    "part-picture": "mend/picture.html",
    "part-signs": "mend/signs.html",
    "part-foot": "ending.html",
}
TOLD, LEAST = 5, 0.01
WORTH_AN_EDIT = 0.05  # share from which the edit that puts a number right is offered


def study_of(answer: Answer) -> Ranked:
    """The study of a fault-finder's answer."""
    assert isinstance(answer.study, Ranked)
    return answer.study


def shown(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for the fragments that change with the readings."""
    ranked = study_of(answer)
    a = ranked.found.answer
    lines, folded = rigwords.caveats(answer.rig, a.caveats)
    return {
        "answer": answer,
        "a": a,
        "says": answer.answer.removeprefix("Stop riding until you have looked. "),  # the warning says so
        "stops": [tied(line) for line in words_mend.stop_lines(a)],
        "signs": [tied(words_mend.sign(s)) for s in a.signs],
        "causes": [
            _cause(ranked, n, q)
            for n, c in enumerate(a.causes)
            if n < TOLD and (n < 2 or c.likelihood >= LEAST)
        ],
        "next": tied(words_mend.missing(a)),
        "picture": _pictures(ranked),
        "picture_says": tied(readings.caption(ranked.found)) if ranked.found.more else "",
        "caveats": lines,
        "folded_caveats": folded,
        "sources": cited(answer.sources),
    }


def _pictures(ranked: Ranked) -> Markup:
    m = ranked.found
    drawn = readings.readings(m) + readings.readings(m, upright=True, wide=NARROW) if m.more else ""
    return Markup(drawn)  # noqa: S704  (the drawings escape every text they draw)


def _cause(ranked: Ranked, n: int, q: Question) -> dict[str, Any]:
    a, more = ranked.found.answer, ranked.found.more[n]
    c, edits = a.causes[n], ranked.right[n]
    size = words_mend.cause_size(c, more)
    return {
        "name": sentence(c.name)[:-1],
        "odds": words_mend.odds(c.likelihood),
        "why": tied(sentence(c.explanation)),
        "size": tied(sentence(size)) if size else "",
        "check": tied(words_mend.check(a, c, more)),
        "gives": [tied(words_mend.foretold(f)) for f in more.foretold],
        "stops": c.stops and c.key in ranked.against,
        "edits": edits if c.likelihood >= WORTH_AN_EDIT else (),
        "try": q.link("/match", tries=q.with_try(edits)) if edits and c.likelihood >= WORTH_AN_EDIT else "",
    }


def better(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for what would help most."""
    prices = answer.rig.prices
    coin = prices.coin if prices is not None else "coins"
    return {"coin": coin, "better": [_better(i, coin, q) for i in study_of(answer).found.answer.improvements]}


def _better(i: Improvement, coin: str, q: Question) -> dict[str, Any]:
    return {
        "says": tied(sentence(i.says)[:-1]),
        "watts": say(i.watts, "W"),
        "cost": "nothing" if i.cost == 0 else say(i.cost, "1") if math.isfinite(i.cost) else "",
        "work": time(i.work) if i.work > 0 else "",
        "per_coin": say(i.per_coin, "W") if math.isfinite(i.per_coin) else "",
        "per_hour": say(i.per_hour, "W") if math.isfinite(i.per_hour) else "",
        "mind": tied(f"{clause(i.caveat)}.") if i.caveat else "",
        "href": q.link("/match", tries=q.with_try(i.edits)) if i.edits else "",
    }


def controls(rig: Rig, form: Form, q: Question, kept: int) -> dict[str, Any]:
    """Names for the form. kept: how many moments the readings file holds."""
    rows = [
        {"n": n, "boxes": {name: row.boxes.get(name, "") for name in (*BOXES, "feel", "gear", "when", "more")},
         "problems": row.problems}
        for n, row in enumerate(form.rows, 1)
    ]  # fmt: skip
    return {
        "title": "Mend",
        "form": form,
        "form_rows": rows,
        "form_boxes": [(name, words, example) for name, (words, _unit, example) in BOXES.items()],
        "feels": FEELS,
        "gears": gear_names(rig),
        "loads": load_choices(rig),
        "riders": [r.name for r in rig.rider],
        "kept": kept,
        "room_for_more": len(form.rows) < MOST_ROWS,
        "json_href": _json(form, q),
        "problems": form.problems,
    }


def _json(form: Form, q: Question) -> str:
    """The address of the same answer for programs."""
    names = ("rider", "load", "gear", "effort")
    pairs = pairs_of(form) + [(n, str(getattr(q, n))) for n in names if getattr(q, n) is not None]
    return f"/api/mend?{urlencode(pairs + [('try', f'{k} = {v}') for k, v in q.tries])}"
