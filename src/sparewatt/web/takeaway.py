"""What can be carried away: the summary sheet, the rig file, the numbers as JSON and CSV, each picture as SVG."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparewatt.errors import NotFound, Problem
from sparewatt.studies.answers import MatchAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.web import pictures, replies
from sparewatt.web.pages import MATCH, question
from sparewatt.web.question import FULL_DRAWS, Question
from sparewatt.web.site import Site, site_of, work

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
# A drawing that is opened by itself carries its own colours; it may do nothing else.
SVG_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"


@router.get("/sheet.pdf")
async def sheet(request: Request) -> Response:
    """The summary sheet, for paper."""
    site, q = site_of(request), question(request)
    made = await work(
        lambda: site.desk.tasks.sheet(site.desk.sheet().path, **given(q), units=q.units, changes=q.tries)
    )
    return Response(
        made,
        media_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="sparewatt-sheet.pdf"'},
    )


@router.get("/wiring.pdf")
async def wiring(request: Request) -> Response:
    """The wiring on one page, for the inside of the box."""
    site, q = site_of(request), question(request)
    made = await work(
        lambda: site.desk.tasks.wiring_sheet(site.desk.sheet().path, units=q.units, changes=q.tries)
    )
    return Response(
        made,
        media_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="sparewatt-wiring.pdf"'},
    )


@router.get("/files")
async def files(request: Request) -> Response:
    """The list of what can be carried away."""
    site, q = site_of(request), question(request)

    def job() -> Response:
        answer = _match(site, q)
        return site.page(
            request,
            "files.html",
            q=q,
            title="Take it with you",
            answer=answer,
            drawings=pictures.names(_study(answer)),
        )

    return await work(job)


@router.get("/files/{name}")
async def one(request: Request, name: str) -> Response:
    """One of the files on the list."""
    site, q = site_of(request), question(request)
    kind, job = _maker(site, q, name)
    content = await work(job)
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    if name.endswith(".svg"):
        headers["Content-Security-Policy"] = SVG_POLICY
    return Response(content, media_type=kind, headers=headers)


def _maker(site: Site, q: Question, name: str) -> tuple[str, Callable[[], bytes]]:
    """The kind of a file on the list and the job that makes it."""
    if name == "rig.toml":
        return "application/toml", lambda: site.desk.sheet().text.encode()
    if name == "match.json":
        return "application/json", lambda: replies.json_bytes(_match(site, q).as_dict())
    if name in ("gears.csv", "legs.csv"):
        table = _gears if name == "gears.csv" else _legs
        return "text/csv; charset=utf-8", lambda: _csv(table(_match(site, q)))
    stem, dot, ending = name.partition(".")
    if dot and ending == "svg" and stem in pictures.ALL:
        return "image/svg+xml", lambda: _drawing(stem, _match(site, q))
    raise NotFound(
        Problem(name[:80], "There is no file by this name to take.", "choose one from the list at /files")
    )


def _drawing(stem: str, answer: Answer) -> bytes:
    study = _study(answer)
    if stem == "chain" and not study.chain:
        raise NotFound(
            Problem(
                "chain.svg",
                "Nothing flows for this question, so there is no chain to draw.",
                "ask another question",
            )
        )
    return pictures.standalone(stem, study, answer.rig).encode()


def _study(answer: Answer) -> MatchAnswer:
    assert isinstance(answer.study, MatchAnswer)
    return answer.study


def given(q: Question) -> dict[str, Any]:
    """What was asked, without what was left to the rig's habits."""
    return {k: v for k, v in q.asked(*MATCH).items() if v is not None}


def _match(site: Site, q: Question) -> Answer:
    return site.desk.ask("match", **q.asked(*MATCH), draws=FULL_DRAWS, changes=q.tries)


def _csv(rows: list[list[object]]) -> bytes:
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([_cell(x) for x in row] for row in rows)
    return out.getvalue().encode()


def _cell(x: object) -> object:
    """A number as it is, nothing for a number that is not there; a text that a spreadsheet would run is quoted."""
    if isinstance(x, float):
        return "" if x != x or x in (float("inf"), float("-inf")) else repr(x)
    return f"'{x}" if isinstance(x, str) and x[:1] in "=+-@\t\r" else x


def _gears(answer: Answer) -> list[list[object]]:
    head: list[object] = [
        "gear",
        "ratio",
        "outcome",
        "chance",
        "hold_rad_s",
        "hold_low_rad_s",
        "hold_high_rad_s",
        "tip_rad_s",
        "delivered_W",
        "delivered_low_W",
        "delivered_high_W",
        "rider_W",
        "bus_V",
        "wakes_rad_s",
        "passes_rad_s",
        "breaks_rad_s",
        "breaks_what",
        "open_at_120_rpm_V",
    ]
    study = _study(answer)
    return [head] + [
        [
            g.gear,
            g.ratio,
            g.stop.value,
            g.chance,
            g.hold.mid,
            g.hold.low,
            g.hold.high,
            g.tip.mid,
            g.delivered.mid,
            g.delivered.low,
            g.delivered.high,
            g.rider.mid,
            g.bus_volts.mid,
            g.wakes,
            g.passes,
            g.breaks,
            g.breaks_what,
            g.ceiling,
        ]
        for g in study.gears
    ]


def _legs(answer: Answer) -> list[list[object]]:
    study = _study(answer)
    p = study.picture
    head: list[object] = [
        "cadence_rad_s",
        "rider_Nm",
        "rider_low_Nm",
        "rider_high_Nm",
        "load_Nm",
        *(f"load_{g}_Nm" for g in p.other_loads),
    ]
    columns = [p.cadence, p.rider, p.rider_low, p.rider_high, p.load, *p.other_loads.values()]
    rows: list[list[object]] = [[float(x) for x in row] for row in zip(*columns, strict=True)]
    return [head, *rows]
