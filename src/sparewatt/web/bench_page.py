"""What the bench pages show of an answer: constants, odd readings, what to read next, pictures, every reading."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from sparewatt.present import words_bench
from sparewatt.present.drawings import fit
from sparewatt.present.words_numbers import amount, sentence
from sparewatt.studies.bench.answers import BenchAnswer, Constant, Entry, FittedPicture, ReadingRow, Suspect
from sparewatt.studies.bench.procedures import EFFORTS, Guide
from sparewatt.studies.bench.reading_kinds import KINDS, Kind
from sparewatt.tasks.answer import Answer
from sparewatt.web import rigwords
from sparewatt.web.match_page import cited
from sparewatt.web.pictures import NARROW
from sparewatt.web.question import Question
from sparewatt.web.speech import say, tied

if TYPE_CHECKING:
    from sparewatt.files.readings import Readings

__all__ = ["linker", "list_kinds", "panel", "procedures", "study_of", "whole"]

EFFORT_WORDS = dict(zip(EFFORTS, ("no effort", "easy riding", "steady riding", "to the limit"), strict=True))
SHORT = {"too_good": "rounded?", "unnamed": "odd"}
_AT = re.compile(r"^\((.*?)\): ")  # where a reading is to be taken, as it stands behind its name
FEW = 6  # an odd cause that takes in more readings than this is told once, not at each of them
Link = Callable[[str], str]


def study_of(answer: Answer) -> BenchAnswer:
    """The frozen result of a bench answer."""
    study = answer.study
    assert isinstance(study, BenchAnswer)
    return study


def linker(q: Question, health: str) -> Link:
    """Addresses of pages of the bench that carry how pages are shown, and the word about the health questions."""
    return lambda path: q.link(path, health=health)


def whole(answer: Answer, q: Question, link: Link, readings: Readings) -> dict[str, Any]:
    """Names for bench.html."""
    a = study_of(answer)
    lines, folded = rigwords.caveats(answer.rig, a.caveats)
    told = [problem.sentence() for problem in readings.problems]
    return {
        "title": "Bench",
        "b": a,
        "link": link,
        "known": [known_row(c) for part in a.parts for c in part.constants],
        "unknown": [
            sentence(words_bench.constant_line(c)) for c in a.fitted.constants if not math.isfinite(c.sd)
        ],
        "odd": odd_rows(a),
        "flags": [sentence(flag) for flag in a.fitted.flags],
        "next": next_rows(a, link),
        "pictures": pictures(a, a.pictures, "p"),
        "besides": besides(a),
        "checks": [(words_bench.check_line(c), c.agrees) for c in a.checks],
        "readings": reading_rows(a, readings),
        "unread": told,
        "seen_readings": readings.digest,
        "caveats": [line for line in lines if line not in told],
        "folded_caveats": folded,
        "sources": cited(answer.sources),
        "where": rig_places(answer),
    }


def list_kinds() -> list[dict[str, str]]:
    """What a whole list can be pasted of, the series first, each with its columns."""
    from sparewatt.files.lists import usual_columns

    asked = sorted((k for k in KINDS.values() if not _needs_sizes(k)), key=lambda k: not k.series)
    return [
        {
            "key": k.key,
            "says": sentence(k.says).rstrip("."),
            "columns": ", ".join(usual_columns(k)).replace("_", " "),
        }
        for k in asked
        if len(usual_columns(k)) > 1
    ]


def _needs_sizes(kind: Kind) -> bool:
    """A kind that needs a size read once besides: that goes in box by box."""
    return any((v.stays and v.needed) or v.what == "held_for" for v in kind.values)


def rig_places(answer: Answer) -> list[tuple[str, str]]:
    """Where a part from a label may go: (place in the rig file, its words)."""
    return [
        (path, rigwords.part_words(kind, part))
        for path, kind, part in rigwords.parts_of(answer.rig)
        if kind in ("machine", "battery", "converter", "rider", "stage")
    ]


def panel(answer: Answer, guide: Guide, link: Link, readings: Readings) -> dict[str, Any]:
    """What a procedure's page shows beside its steps: pictures, bands, what is odd, what to read next, its readings."""
    a = study_of(answer)
    kinds = guide.procedure.readings
    mine = [c for c in a.fitted.constants if c.key and _stem(c.key) in {_stem(k) for k in guide.keys}]
    rows = reading_rows(a, readings)
    return {
        "b": a,
        "head": answer.answer,
        "known": [known_row(c) for c in mine if math.isfinite(c.sd)],
        "unknown": [words_bench.constant_line(c) for c in mine if not math.isfinite(c.sd)],
        "odd": [row for row in odd_rows(a) if set(row["kinds"]) & set(kinds)],
        "flags": [sentence(flag) for flag in a.fitted.flags],
        "besides": besides(a),
        "checks": [(words_bench.check_line(c), c.agrees) for c in a.checks],
        "next": next_rows(a, link)[:3],
        "asked": a.asked,
        "asked_band": say(a.asked_band, "W"),
        "pictures": pictures(a, [p for p in a.pictures if p.procedure in kinds], "g"),
        "readings": [row for row in rows if row["kind"] in kinds],
    }


def _stem(key: str) -> str:
    """A key of the rig file without its numbers: "rider.0.reserve" is "rider.reserve"."""
    return ".".join(step for step in key.split(".") if not step.isdigit())


def besides(a: BenchAnswer) -> list[tuple[str, bool]]:
    """What readings say that is no constant, and whether it is a matter to stop at."""
    return [(tied(words_bench.told_line(one)), one.stops) for one in a.told]


def known_row(c: Constant) -> dict[str, Any]:
    """One constant: its words, its band in the look that says how it is known, how much narrower it is now."""
    says = c.says or c.name
    return {
        "says": tied(says[:1].upper() + says[1:]),
        "band": say(c.band, c.unit),
        "narrower": words_bench.tightened(c),
        "key": c.key,
    }


def odd_rows(a: BenchAnswer) -> list[dict[str, Any]]:
    """Readings that do not fit, the cause that would explain each, and what to do."""
    rows = {row.key: row for row in a.fitted.rows}
    found = []
    for s in a.suspects:
        held = [rows[key] for key in (s.row, *s.rows) if key in rows]
        line = next((line for row in held for line in row.lines), 0)
        found.append(
            {
                "s": s,
                "says": tied(words_bench.suspect_line(s, rows)),
                "name": s.name if s.cause else "not like the others",
                "line": line if len(s.rows) <= FEW else 0,
                "kinds": {row.procedure for row in held},
            }
        )
    return found


def odd_words(suspects: Sequence[Suspect]) -> dict[str, str]:
    """Key of a reading -> its likely cause in a few words, for the drawing."""
    return {
        key: SHORT.get(s.cause or "unnamed", s.name) if len(s.name) > 34 or not s.cause else s.name
        for s in suspects
        if len(s.rows) <= FEW
        for key in (s.row, *s.rows)
    }


def next_rows(a: BenchAnswer, link: Link) -> list[dict[str, str]]:
    """What to read next, best first, each with the page of its procedure."""
    found = []
    for n in words_bench.each_once(a.next_readings):
        gives = words_bench.next_line(n).removeprefix(n.what).lstrip(" :")
        gives = _AT.sub(r"\1: ", gives)
        href = link(f"/bench/{n.procedure}")
        found.append({"says": tied(gives[:1].upper() + gives[1:]), "what": n.what, "href": href})
    return found


def pictures(a: BenchAnswer, drawn: Iterable[FittedPicture], key: str) -> list[dict[str, Any]]:
    """The fits, wide and narrow, each with its heading and sentence."""
    odd = odd_words(a.suspects)
    found = []
    for k, picture in enumerate(p for p in drawn if fit.drawable(p)):
        svg = fit.fit_picture(picture, odd=odd, key=f"{key}{k}")
        svg += fit.fit_picture(picture, odd=odd, wide=NARROW, key=f"{key}{k}n", cls="dw-narrow")
        found.append(
            {
                "head": fit.heading(picture) + (f" ({picture.says})" if picture.says else ""),
                "svg": Markup(svg),  # noqa: S704  (the drawing escapes every text it draws)
                "says": tied(fit.caption(picture, odd)),
            }
        )
    return found


# ---- every reading ----


def reading_rows(a: BenchAnswer, readings: Readings) -> list[dict[str, Any]]:
    """Every reading of the file in order, whether it counts or not, with how it sits with the fit."""
    fitted: dict[tuple[int, ...], list[ReadingRow]] = {}
    for row in a.fitted.rows:
        fitted.setdefault(row.lines, []).append(row)
    by_line = {line: rows for lines, rows in fitted.items() for line in lines}
    taken: dict[int, int] = {}
    found = []
    for moment in moments(readings):
        used = all(entry.used for entry, _ in moment)
        mine = by_line.get(moment[0][0].line, [])
        series = KINDS[moment[0][0].procedure].series
        turn = 0
        if series and used:
            turn = taken.get(id(mine), 0)
            taken[id(mine)] = turn + 1
        at = mine[turn] if mine and (used or not series) and turn < len(mine) else None
        found.append(_reading_row(moment, used, at))
    return found


def moments(readings: Readings) -> list[list[tuple[Entry, str]]]:
    """The lines of the file, those read together in one list, each with the reason it is left out."""
    groups: dict[tuple[str, str, str, int], list[tuple[Entry, str]]] = {}
    turns: dict[tuple[str, str, str, str], int] = {}
    for row in readings.rows:
        e = row.entry
        of = (e.procedure, e.part, e.at)
        turn = 0
        if KINDS[e.procedure].series and not KINDS[e.procedure][e.what].stays:
            turn = turns[(*of, e.what)] = turns.get((*of, e.what), -1) + 1
        groups.setdefault((*of, turn), []).append((e, row.why))
    return list(groups.values())


def _reading_row(moment: list[tuple[Entry, str]], used: bool, at: ReadingRow | None) -> dict[str, Any]:
    first = moment[0][0]
    kind = KINDS[first.procedure]
    why = next((why for _, why in moment if why), "")
    values = ", ".join(_value(entry) for entry, _ in moment)
    return {
        "line": first.line,
        "lines": ", ".join(str(entry.line) for entry, _ in moment),
        "kind": kind.key,
        "says": sentence(kind.says).rstrip("."),
        "part": first.part,
        "read": tied(values),
        "used": used,
        "out": next((entry.line for entry, _ in moment if not entry.used), first.line),
        "why": why,
        "fits": tied(_fits(at)) if used else "",
        "odd": used and at is not None and not at.used,
        "more": ", ".join(text for text in (first.meter, first.scale, first.who, first.note) if text),
    }


def _value(entry: Entry) -> str:
    reading = KINDS[entry.procedure][entry.what]
    if reading.unit == "yes":
        return f"{entry.what.replace('_', ' ')}: {'yes' if entry.value else 'no'}"
    said = amount(entry.value, reading.unit, digits=4)
    return f"{entry.what.replace('_', ' ')} {said}" if reading.unit in ("1", "kg", "m", "s", "K") else said


def _fits(at: ReadingRow | None) -> str:
    """How a reading sits with the fit."""
    if at is None:
        return "no constant rests on it"
    if not at.used:
        return sentence(at.left_out).rstrip(".")
    if not math.isfinite(at.residual):
        return ""
    fitted = amount(at.fitted, at.unit, digits=3)
    side = "above" if at.residual > 0 else "below"
    return f"the fit says {fitted}; it lies {abs(at.residual):.1f} usual errors {side}"


# ---- procedures ----


def procedures(found: Sequence[tuple[Guide, str]], link: Link) -> list[dict[str, Any]]:
    """Every procedure by chapter, those that are closed with the reason."""
    chapters: dict[str, list[dict[str, Any]]] = {}
    for guide, closed in found:
        told = guide.procedure
        chapters.setdefault(guide.chapter, []).append(
            {
                "title": told.title,
                "why": told.why,
                "minutes": f"{told.minutes:.0f}",
                "effort": EFFORT_WORDS[guide.effort],
                "href": "" if closed else link(f"/bench/{told.key}"),
                "closed": closed,
                "key": told.key,
            }
        )
    return [{"title": name[:1].upper() + name[1:], "rows": rows} for name, rows in chapters.items()]
