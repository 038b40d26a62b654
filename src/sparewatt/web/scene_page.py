"""What the page of a scene shows: the played scene turned into the few texts, pictures and links its templates need."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from markupsafe import Markup

from sparewatt.errors import Problem, SparewattError
from sparewatt.language.script import examples
from sparewatt.present import words_seconds
from sparewatt.present.drawings import ledger, seconds
from sparewatt.present.numbers import THIN
from sparewatt.present.words_numbers import sentence
from sparewatt.present.words_seconds_rows import moment, part_place
from sparewatt.rig.bind import gear_names
from sparewatt.rig.fill import Filled
from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.scenes.answers import Peak, SceneAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.web import rigwords
from sparewatt.web.match_page import SLIDER_TOP, cited, load_choices
from sparewatt.web.pictures import NARROW
from sparewatt.web.question import Question
from sparewatt.web.scene_data import read_out
from sparewatt.web.scene_words import Told, step_size
from sparewatt.web.speech import plain, say, tied

__all__ = [
    "FRAGMENTS", "QUICK", "Shown", "boxes", "controls", "files", "heard", "label", "played", "rest",
    "standalone", "steps_known", "study_of",
]  # fmt: skip

# id on the page -> template; everything that a change replaces
FRAGMENTS = {
    "part-answer": "scene/answer.html",
    "part-yes": "scene/yes.html",
    "part-picture": "scene/picture.html",
    "part-beside": "scene/beside.html",
    "part-wrong": "scene/wrong.html",
    "part-steps": "scene/steps.html",
    "part-happens": "scene/happens.html",
    "part-chances": "scene/chances.html",
    "part-peaks": "scene/peaks.html",
    "part-ledger": "scene/ledger.html",
    "part-foot": "ending.html",
}
_MOVING = ("part-answer", "part-picture", "part-beside", "part-wrong", "part-steps", "part-happens")
QUICK = {box: FRAGMENTS[box] for box in _MOVING}  # what is redrawn from one run while things change
HOLDS = (("effort", "how hard it feels"), ("cadence", "the turns a minute"), ("power", "the watts"))
STARTS = (("riding", "riding along"), ("rest", "from standstill"))
NARROWEST = 0.02  # of a value: a band that is no wider tells nothing
LENGTHS = ("10 s", "30 s", "1 min", "5 min", "1 h")


@dataclass(frozen=True, slots=True)
class Shown:
    """A scene that was played: the answer, the design set beside it with its words, and why there is none."""

    answer: Answer
    other: Answer | None = None
    label: str = ""
    problems: tuple[Problem, ...] = ()


def study_of(answer: Answer) -> SceneAnswer:
    """The study of a scene answer."""
    assert isinstance(answer.study, SceneAnswer)
    return answer.study


def played(shown: Shown, q: Question, see: str = "both") -> dict[str, Any]:
    """Names for the fragments that change while somebody types or drags. see: which of the two pictures."""
    a = _called(study_of(shown.answer))
    other = study_of(shown.other) if shown.other is not None else None
    ask = a.ask
    steady = q.link("/match", rider=ask.rider, load=ask.load, gear=a.gear, effort=f"{ask.effort:.4g} W", duration=None,
                    cadence=None)  # fmt: skip
    return {
        "answer": shown.answer,
        "a": a,
        "title": f"{a.name}, second by second",
        "binds": tied(_capital(words_seconds.scene_binds(a).removeprefix("What binds: "))),
        "steady_says": tied(words_seconds.steady_line(a)),
        "steady_href": steady,
        "picture": _pictures(a, other, shown.label, q.units == "inch", see),
        "picture_says": tied(words_seconds.picture_sentence(a)),
        "differs": tied(words_seconds.compare(a, other, label="the dashed one")) if other is not None else "",
        "beside_label": shown.label,
        "rows": [
            {"row": row, "when": moment(row.at, a.duration), "says": tied(row.says)}
            for row in words_seconds.rows(a)
        ],
        "data": read_out(a),
    }


def _called(a: SceneAnswer) -> SceneAnswer:
    """The scene under a name that can stand in a sentence; what is typed has none of its own."""
    return dataclasses.replace(a, name="your scene") if a.name == "in words" else a


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _pictures(a: SceneAnswer, other: SceneAnswer | None, label: str, inch: bool, see: str) -> Markup:
    """The picture for a wide page, for a phone, or both, of which the stylesheet shows the one that fits."""
    drawn = ""
    if see != "narrow":
        drawn += seconds.seconds(a, beside=other, inch=inch, beside_label=label)
    if see != "wide":
        drawn += seconds.seconds(a, beside=other, inch=inch, beside_label=label, upright=True, wide=NARROW)
    return Markup(drawn)  # noqa: S704  (the drawings escape every text they draw)


def standalone(shown: Shown, inch: bool) -> str:
    """The picture with its own colours, for paper or another program."""
    other = study_of(shown.other) if shown.other is not None else None
    return seconds.seconds(
        study_of(shown.answer), beside=other, beside_label=shown.label, inch=inch, standalone=True
    )


def rest(shown: Shown, q: Question) -> dict[str, Any]:
    """Names for the fragments that can wait until all runs are there."""
    a, answer = study_of(shown.answer), shown.answer
    lines, folded = rigwords.caveats(answer.rig, [_of_the_file(c) for c in a.caveats])
    return {
        "offers": _offers(answer.nearest_yes, q),
        "chances": [tied(line) for line in words_seconds.chances(a)],
        "peaks": [_peak(p, a, q.units == "inch") for p in a.peaks if math.isfinite(p.value)],
        "ledger_picture": Markup(ledger.ledger(a) + ledger.ledger(a, upright=True, wide=NARROW)),  # noqa: S704
        "ledger_says": tied(words_seconds.ledger_sentence(a)),
        "ledger_rows": words_seconds.ledger_rows(a),
        "meter": tied(words_seconds.meter_line(a)),
        "caveats": lines,
        "folded_caveats": folded,
        "sources": cited(answer.sources),
    }


def _of_the_file(c: Caveat) -> Caveat:
    """A caveat about one number of the rig file, told like those of the other pages."""
    keyed = "." in c.where and " " not in c.where
    return Caveat(where="rig file", text=f"{c.where}: {c.text}") if keyed else c


def _offers(changes: Sequence[Mapping[str, Any]], q: Question) -> list[dict[str, str]]:
    """Each nearest yes: what to do, what it gives, the page that tries it, and the one that sets it beside."""
    found = []
    for change in changes:
        edits = tuple((str(key), str(text)) for key, text in change.get("edits") or ())
        found.append(
            {
                "says": tied(sentence(str(change["says"]))),
                "gives": tied(sentence(str(change["gives"]))) if change.get("gives") else "",
                "href": q.link("/scene", tries=q.with_try(edits), beside=()) if edits else "",
                "beside": q.link("/scene", beside=edits) if edits else "",
            }
        )
    return found


def _peak(p: Peak, a: SceneAnswer, inch: bool) -> dict[str, Any]:
    part, where = part_place(p.name)
    band = Band(p.value, p.low, p.high)
    known = a.runs > 1 and math.isfinite(p.low) and math.isfinite(p.high)
    spread = known and p.high - p.low > NARROWEST * abs(p.value)
    return {
        "part": _capital(f"{part}{where}"),
        "most": _amount(p.value, p.unit, inch),
        "band": say(band, p.unit, inch=inch) if spread and p.unit else "",
        "stands": _amount(p.limit, p.unit, inch) if math.isfinite(p.limit) else "",
        "when": moment(p.at, a.duration) if math.isfinite(p.at) else "",
        "over": p.over,
    }


def _amount(value: float, unit: str, inch: bool) -> Markup | str:
    if unit == "J":  # beside one another, so in the same unit
        return f"{float(f'{value:.3g}'):.0f}{THIN}J"
    return say(value, unit, inch=inch, digits=3) if unit else f"{value:.3g}"


# ---- the controls ----------------------------------------------------------------------------------------------------


def boxes(told: Told | None, answer: Answer | None, q: Question) -> dict[str, dict[str, str]]:
    """What stands in each box now, and who filled it ("asked", "scene", "words", or "" for nobody)."""
    a = study_of(answer) if answer is not None else None
    script = told.script if told is not None else None
    ask = a.ask if a is not None else script.ask if script is not None else None
    own = told.own if told is not None else {box: "asked" for box in _TYPED if getattr(q, box) is not None}
    chosen = a.gear if a is not None and "gear" in own else q.gear or ""
    turns = a.ask.cadence if a is not None else script.cadence if script is not None else None
    now = {
        "rider": ask.rider if ask is not None else q.rider or "",
        "load": ask.load if ask is not None else q.load or "",
        "gear": chosen if a is None or "gear" in own else "",
        "effort": f"{ask.effort:.0f}" if ask is not None else (q.effort or "100").removesuffix(" W"),
        "cadence": plain(turns, "rad/s", digits=3).partition(THIN)[0] if turns is not None else "",
        "duration": (q.duration or _length(ask.duration if ask is not None else math.nan)),
        "holds": a.holds if a is not None else script.holds if script is not None else q.holds or "effort",
        "start": a.start if a is not None else script.start if script is not None else q.start or "riding",
    }
    if a is None and q.cadence is not None:
        now["cadence"] = q.cadence.removesuffix(" rpm")
    found = {box: {"now": text, "own": own.get(box, "")} for box, text in now.items()}
    found["effort"]["exact"] = (
        f"{ask.effort:.6g} W" if ask is not None else ""
    )  # a slider stands only at whole steps
    return found


_TYPED = ("rider", "load", "gear", "effort", "cadence", "duration", "holds", "start")


def _length(duration: float) -> str:
    return plain(duration, "s", digits=3).replace(THIN, " ") if math.isfinite(duration) else ""


def controls(filled: Filled, told: Told | None, shown: Shown | None, q: Question) -> dict[str, Any]:
    """Names for the controls, which stay as they are while the page is open."""
    rig = filled.rig
    answer = shown.answer if shown is not None else None
    now = boxes(told, answer, q)
    load = now["load"]["now"]
    return {
        "now": now,
        "top": max(SLIDER_TOP, _whole(now["effort"]["now"])),
        "scenes": [(scene.name, _scene_link(q, scene.name), _is(scene.name, told, q)) for scene in rig.scene],
        "riders": [r.name for r in rig.rider],
        "loads": load_choices(rig),
        "gears": list(gear_names(rig)),
        "holds": HOLDS,
        "starts": STARTS,
        "lengths": LENGTHS,
        "examples": steps_known(filled, load),
        "changeable": rigwords.changeable(rig, q.units == "inch"),
        "words": told.words if told is not None else q.words or "",
        "query": urlencode(q.pairs("/scene")),
    }


def _whole(text: str) -> int:
    try:
        return round(float(text))
    except ValueError:
        return 0


def _scene_link(q: Question, name: str) -> str:
    """The page of one scene of the rig file, with the tried changes kept."""
    return Question(name=name, tries=q.tries, beside=q.beside, units=q.units, room=q.room).link("/scene")


def _is(name: str, told: Told | None, q: Question) -> bool:
    return q.name is not None and q.name.casefold() == name.casefold() and (told is None or told.named)


def steps_known(filled: Filled, load: str) -> tuple[str, ...]:
    """Steps that may be told on this rig with this load; none where no load is known."""
    try:
        return examples(filled, load)
    except SparewattError:
        return ()


def heard(told: Told | None, problems: Sequence[Problem], q: Question) -> dict[str, Any]:
    """Names for what stands beside the box of words: the steps as they were understood, or what to put right."""
    words = q.words or ""
    return {
        "step_rows": list(told.rows) if told is not None else [],
        "lead": told.lead if told is not None else "",
        "by": step_size(told.script.duration) if told is not None else 1.0,
        "problems": problems,
        "marked": _marked(words, problems),
        "said": [_SAID[box] for box, who in told.own.items() if who == "words"] if told is not None else [],
    }


_SAID = {
    "rider": "who rides", "load": "what runs", "gear": "the gear", "effort": "how hard", "cadence": "the turns a minute",
    "duration": "how long", "holds": "what is kept even", "start": "how it starts",
}  # fmt: skip


def _marked(words: str, problems: Sequence[Problem]) -> list[tuple[str, bool]]:
    """The words in pieces, each with whether something is to be put right there; empty when nothing is."""
    spans = [(p.begin - 1, p.end) for p in problems if p.end]
    pieces: list[tuple[str, bool]] = []
    at = 0
    for begin, end in sorted(spans):
        if begin < at or end > len(words):
            continue
        pieces += [(words[at:begin], False), (words[begin:end], True)]
        at = end
    return [*pieces, (words[at:], False)] if pieces else []


def files(q: Question) -> dict[str, str]:
    """Where exactly what is shown can be taken away, and the dashed one."""
    found = {
        path: q.link(path)
        for path in ("/scene.csv", "/scene.svg", "/scene.json", "/match", "/loads", "/guard")
    }
    if q.beside:
        there = dataclasses.replace(q, tries=q.with_try(q.beside), beside=())
        found |= {f"beside {path}": there.link(path) for path in ("/scene.csv", "/scene.json")}
    return found


def label(beside: Sequence[tuple[str, str]]) -> str:
    """The design set beside, in as few words as fit at the end of a line: "driven diameter 57 mm"."""
    if len(beside) != 1 or beside[0][0].endswith("+"):
        return "changed"
    key, text = beside[0]
    return f"{rigwords.field_words(key.rpartition('.')[2])} {rigwords.value_words(key, text)}"[:40]
