"""What the match page shows: the study's result turned into the few texts and links its templates need."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any

from markupsafe import Markup

from sparewatt.files import load_sources
from sparewatt.parts import Rig
from sparewatt.present import words, words_guard
from sparewatt.present import words_numbers as spoken
from sparewatt.present.numbers import THIN
from sparewatt.present.words_numbers import sentence
from sparewatt.rig.asking import Ask
from sparewatt.rig.outcome import Band, Point, Stop
from sparewatt.studies.answers import Change, Finding, GearRow, MatchAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.scene_words import scenes_of_answer
from sparewatt.tasks.sources import source_lines
from sparewatt.web import pictures, rigwords
from sparewatt.web.question import Question
from sparewatt.web.speech import plain, say, tied, turns

__all__ = [
    "FRAGMENTS",
    "NO_SHOW",
    "QUICK",
    "cited",
    "controls",
    "links",
    "load_choices",
    "offers",
    "quick",
    "rest",
    "short_source",
    "shows",
    "source_text",
    "study_of",
    "told",
]

# id on the page -> template; everything that a new answer replaces
FRAGMENTS = {
    "part-answer": "match/answer.html",
    "part-shares": "match/shares.html",
    "part-yes": "match/yes.html",
    "part-chain": "match/chain.html",
    "part-marks": "match/marks.html",
    "part-legs": "match/legs.html",
    "part-edges": "match/edges.html",
    "part-room": "match/room.html",
    "part-gears": "match/gears.html",
    "part-settings": "match/settings.html",
    "part-measure": "match/measure.html",
    "part-hazards": "match/hazards.html",
    "part-details": "match/details.html",
    "part-foot": "ending.html",
}
_MOVING = ("part-answer", "part-chain", "part-marks", "part-legs", "part-room", "part-gears")
QUICK = {box: FRAGMENTS[box] for box in _MOVING}  # what is redrawn while a slider moves
SLIDER_TOP = 400
NO_SHOW = {"says": "", "href": ""}
PRACTICE = "common practice, no source"
HOLDS = (Stop.FOUND, Stop.PINNED)


def quick(
    answer: Answer,
    q: Question,
    marks: list[tuple[str, float]],
    see: str = "both",
    boxes: Collection[str] = _MOVING,
) -> dict[str, Any]:
    """Names for the fragments that a slider moves.

    marks: (words, watts) this rider holds; see: which drawings, wide or narrow; boxes: the fragments that will be filled in.
    """
    m = study_of(answer)
    return {
        "answer": answer,
        "m": m,
        "title": "Match",
        "runs": m.stop in HOLDS,
        "charging": m.ask.load == "charge",
        "stop_says": sentence(m.stop.value),
        "binds": tied(words.match_binds(m, answer.rig)),
        "seconds": shows(answer, q).get("", NO_SHOW),
        "gear_rows": [_gear(g, m, q) for g in m.gears],
        "pics": pictures.match_pictures(m, answer.rig, inch=q.units == "inch", see=see, drawn=_drawn(boxes)),
        **_effort(m, q, marks),
    }


def _drawn(boxes: Collection[str]) -> list[str]:
    return [box.removeprefix("part-") for box in boxes]


def rest(answer: Answer, q: Question, hazards: list[dict[str, Any]] | None) -> dict[str, Any]:
    """Names for the fragments that can wait until a slider is let go. hazards: as `told` makes them, or None."""
    m = study_of(answer)
    lines, folded = rigwords.caveats(answer.rig, m.caveats)
    return {
        "offers": offers(m.nearest_yes, m.ask, q),
        "edges_picture": pictures.edges_picture(m),
        "share_rows": _stations(m),
        "shares_picture": pictures.shares_picture(m.shares) if m.shares is not None else None,
        "settings": [
            {
                "what": sentence(s.what).rstrip("."),
                # nobody rides to a tenth of a turn a minute
                "value": say(s.value, s.unit, inch=q.units == "inch", digits=2 if s.unit == "rad/s" else 3),
                "meter": sentence(s.meter),
                "why": sentence(s.why),
            }
            for s in m.settings
        ],
        "measure": [
            {
                "measure": sentence(u.measure),
                "doubt": words.unknown(u).replace(sentence(u.measure), "").strip(),
            }
            for u in m.unknowns[:3]
            if u.measure
        ],
        "hazards": hazards,
        "facts": _facts(m, q.units == "inch"),
        "caveats": lines,
        "folded_caveats": folded,
        "sources": cited(answer.sources),
    }


def controls(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for the controls, which stay as they are while the page is open."""
    m = study_of(answer)
    return {
        "riders": [r.name for r in answer.rig.rider],
        "loads": load_choices(answer.rig),
        "gears": [g.gear for g in m.gears],
        "cadence_now": (q.cadence or "").removesuffix(" rpm"),
        "duration_now": q.duration or plain(m.ask.duration, "s", digits=3).replace(THIN, " "),
        "changeable": rigwords.changeable(answer.rig, q.units == "inch"),
    }


def study_of(answer: Answer) -> MatchAnswer:
    """The study of a match answer."""
    assert isinstance(answer.study, MatchAnswer)
    return answer.study


def cited(keys: tuple[str, ...]) -> list[str]:
    """Sources as lines for the foot of a page; what is common practice stands beside its number already."""
    lines = [sentence(line) for key, line in source_lines(keys) if key != PRACTICE]
    return list(dict.fromkeys(lines))


def shows(
    answer: Answer, q: Question, *, effort: str | None = None, load: str | None = None
) -> dict[str, dict[str, str]]:
    """The scenes that show the seconds of a steady answer, by what they belong to: what is seen, and where it is played."""
    found = scenes_of_answer(answer, effort=effort, load=load)
    return {show.of: {"says": show.says, "href": q.seconds(show.words)} for show in found}


def told(
    findings: Iterable[Finding], q: Question, seen: Mapping[str, dict[str, str]]
) -> list[dict[str, Any]]:
    """Hazards with the full text of where their limit comes from, worst first; seen: scenes that show them, by key."""
    return [
        {
            "f": f,
            "title": sentence(f.title),
            "says": sentence(f.says),
            "do": sentence(f.do),
            "source": source_text(f.source),
            "seconds": q.seconds(getattr(f, "seconds", "")) or seen.get(f.key, NO_SHOW)["href"],
        }
        for f in words_guard.worst_first(tuple(findings))
    ]


def source_text(key: str) -> str:
    """One source key as the line it stands for."""
    return source_lines([key])[0][1] if key else ""


def short_source(key: str) -> str:
    """The title of a source, for a table; words that stand for themselves stay."""
    known = load_sources()
    return known[key].title if key in known else key


def links(q: Question, sections: tuple[tuple[str, str, str], ...]) -> dict[str, str]:
    """Where the other pages stand for the same question."""
    return {path: q.link(path) for path in (*(s[0] for s in sections), "/rig", "/files")}


def load_choices(rig: Rig) -> list[tuple[str, str]]:
    """What can be run: the battery, and each load by its own name."""
    first = [("charge", "charge the battery")] if rig.battery is not None else []
    return first + [(load.name, load.name) for load in rig.load]


def offers(changes: tuple[Change, ...], asked: Ask | None, q: Question) -> list[dict[str, str]]:
    """Each change: what to do, what it gives, and the match page that tries it (empty when no page can try it)."""
    return [
        {
            "says": tied(sentence(c.says)),
            "gives": tied(words.change(c).removeprefix(sentence(c.says)).strip()),
            "href": try_link(c, asked, q),
        }
        for c in changes
    ]


def try_link(change: Change, asked: Ask | None, q: Question) -> str:
    """The match page with this change tried; empty when the change is not one a page can try."""
    new: dict[str, Any] = {}
    if change.ask is not None and asked is not None:
        writers: dict[str, Callable[[Any], str]] = {
            "rider": str,
            "load": str,
            "gear": str,
            "effort": _watts,
            "duration": _seconds,
        }
        for name, text in writers.items():
            value = getattr(change.ask, name)
            if value != getattr(asked, name):
                new[name] = None if value is None else text(value)
    if not new and not change.edits:
        return ""
    return q.link("/match", tries=q.with_try(change.edits), **new)


def _watts(value: float) -> str:
    return f"{value:.4g} W"


def _seconds(value: float) -> str:
    return f"{value:.6g} s"


def _effort(m: MatchAnswer, q: Question, marks: list[tuple[str, float]]) -> dict[str, Any]:
    now = round(m.ask.effort)
    shown = [
        {
            "words": said,
            "watts": round(watts / 5) * 5,
            "text": plain(watts, "W"),
            "now": round(watts / 5) * 5 == round(now / 5) * 5,
            "href": q.link("/match", effort=_watts(round(watts / 5) * 5)),
        }
        for said, watts in marks
    ]
    top = max([SLIDER_TOP, now, *(5 * round(watts / 5) for _, watts in marks)])
    return {
        "effort_now": now,
        "effort_words": plain(m.ask.effort, "W", digits=3),
        "effort_top": top,
        "marks": shown,
        "effort_hint": _held(m),
    }


def _held(m: MatchAnswer) -> str:
    """What this ride takes from the legs, and how long they can give it."""
    if math.isnan(m.time_to_limit.mid) or math.isnan(m.rider.mid):
        return ""
    held = "all day" if math.isinf(m.time_to_limit.mid) else f"for {spoken.time_span(m.time_to_limit)}"
    return tied(f"This takes {spoken.about(m.rider, 'W')} from {m.ask.rider}, who can hold it {held}.")


def _stations(m: MatchAnswer) -> list[dict[str, Any]]:
    """The rigs on a shared bus, each with its amps as they are and with the wire that makes it fair."""
    if m.shares is None:
        return []
    fair = {row.name: row.amps for row in m.shares.fair_rows}
    return [
        {
            "name": row.name,
            "rider": row.rider,
            "amps": say(row.amps, "A"),
            "fair": say(fair.get(row.name), "A"),
            "ring": "solid" if row.holds else "",
            "says": sentence(row.says),
        }
        for row in m.shares.rows
    ]


def _gear(g: GearRow, m: MatchAnswer, q: Question) -> dict[str, Any]:
    holds = g.stop in HOLDS
    watch = []
    if math.isfinite(g.wakes):
        watch.append(Markup("Nothing flows below {}.").format(turns(g.wakes)))
    if math.isfinite(g.passes):
        watch.append(Markup("Above {} the board passes the volts straight through.").format(turns(g.passes)))
    if math.isfinite(g.breaks):
        watch.append(Markup("Above {} this may break: {}.").format(turns(g.breaks), g.breaks_what))
    if math.isfinite(g.ceiling):
        watch.append(Markup("Unhooked at 120 it makes {}.").format(say(g.ceiling, "V")))
    return {
        "name": g.gear,
        "href": q.link("/match", gear=g.gear),
        "chosen": g.gear == m.gear,
        "ring": "solid" if holds else "none" if math.isnan(g.tip.mid) else "",
        "says": sentence(g.stop.value),
        "hold": turns(g.hold),
        "tip": turns(g.tip),
        "delivered": say(g.delivered, "W") if holds else "",
        "watch": Markup(" ").join(watch),
    }


def _facts(m: MatchAnswer, inch: bool) -> list[tuple[str, Any]]:
    def put(words: str, value: Band | float, unit: str, digits: int = 2) -> None:
        shown = say(value, unit, inch=inch, digits=digits)
        if shown:
            rows.append((words, shown))

    rows: list[tuple[str, Any]] = [
        ("Gear", m.gear),
        ("How likely it holds, with what is known", spoken.chance(m.chance)),
    ]
    put("Turns a minute where it holds", m.hold, "rad/s")
    put("Tips over below", m.tip, "rad/s")
    put("From the legs", m.rider, "W")
    put("Delivered", m.delivered, "W")
    put("Most that can be delivered, by the legs", m.edges.legs, "W")
    put("Most that can be delivered, by the machine", m.edges.machine, "W")
    put("Most that can be delivered, by the board", m.edges.board, "W")
    put("Spare", m.spare, "W")
    put("These legs can hold this for", m.time_to_limit, "s")
    put("These legs can hold for an hour", m.hour_power, "W")
    if m.point is not None:
        _point(m.point, put)
    put("Winding after this ride", m.hot[0], "K")
    put("Winding in the long run", m.hot[1], "K")
    put("Winding limit", m.hot[2], "K")
    return rows


def _point(p: Point, put: Any) -> None:
    put("Torque at the crank", p.torque_crank, "N*m")
    put("Turns of the machine for one of the crank", p.ratio, "1", 3)
    put("Machine", p.w_shaft, "rad/s", 3)
    put("Machine volts", p.v_machine, "V", 3)
    put("Machine amps", p.i_out, "A")
    put("Volts at the board, or at the battery when there is none", p.v_bus, "V", 3)
    put("Volts out", p.v_out, "V", 3)
    put("Amps into the battery", p.i_battery, "A")
