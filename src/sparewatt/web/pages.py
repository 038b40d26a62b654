"""The pages people read. Each reads its question from the address, asks one task, and fills a template."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparewatt.errors import NotFound, Problem, SparewattError
from sparewatt.studies.answers import GuardAnswer
from sparewatt.tasks.answer import Answer
from sparewatt.web import match_page, replies, section_pages
from sparewatt.web.question import DRAG_DRAWS, FULL_DRAWS, Question
from sparewatt.web.site import SECTIONS, Site, site_of, work

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MATCH = ("rider", "load", "gear", "effort", "cadence", "duration")
DAY = "private, max-age=86400"
LASTING = "private, max-age=31536000, immutable"


def question(request: Request) -> Question:
    """The question in the address."""
    return Question.read(request.query_params.multi_items())


@router.get("/static/{name:path}")
async def static(request: Request, name: str) -> Response:
    """A file that goes with the pages: only those listed at the start exist."""
    file = site_of(request).files.get(name)
    if file is None:
        raise NotFound(Problem(name[:80], "There is no file by this name."))
    return Response(
        file.content,
        media_type=file.kind,
        headers={"Cache-Control": LASTING if request.query_params.get("v") == file.mark else DAY},
    )


@router.get("/favicon.ico")
async def favicon(request: Request) -> Response:
    """The same mark for browsers that ask by this name."""
    return await static(request, "favicon.svg")


@router.get("/")
async def first(request: Request) -> Response:
    """The first screen."""
    site, q = site_of(request), question(request)
    return site.page(
        request, "first.html", q=q, title="What do you want to run?", **section_pages.first(site.desk)
    )


@router.get("/match")
async def match(request: Request) -> Response:
    """The match page."""
    site, q = site_of(request), question(request)

    def job() -> Response:
        answer, names = match_names(site, q, FULL_DRAWS, "both")
        names |= match_page.rest(answer, q, findings(site, q, match_page.study_of(answer).ask.load))
        return site.page(request, "match.html", q=q, **names, **match_page.controls(answer, q))

    return await work(job)


@router.get("/match/part")
async def match_part(request: Request) -> Response:
    """The pieces of the match page that a control changes, in one answer.

    `quick` (wide or narrow) asks for what a moving slider shows, from few draws, in that width only; `show`, once for each,
    for those of its pieces that are on the screen.
    """
    site, q = site_of(request), question(request)
    see, seen = request.query_params.get("quick", ""), request.query_params.getlist("show")
    shown = match_page.QUICK if see else match_page.FRAGMENTS
    if see and seen:
        shown = {box: file for box, file in shown.items() if box in seen}
    if await request.is_disconnected():
        return Response(status_code=204)

    def job() -> bytes:
        answer, names = match_names(site, q, DRAG_DRAWS if see else FULL_DRAWS, see or "both", shown)
        if not see:
            names |= match_page.rest(answer, q, findings(site, q, match_page.study_of(answer).ask.load))
        return replies.json_bytes(
            {
                "ok": True,
                "title": f"{names['title']}: Sparewatt",
                "parts": {box: site.text(file, q=q, **names) for box, file in shown.items()},
                "links": match_page.links(q, SECTIONS),
                "fields": {"effort": names["effort_words"]},
            }
        )

    return Response(await work(job), media_type="application/json")


def match_names(
    site: Site, q: Question, draws: int, see: str, boxes: Collection[str] = match_page.FRAGMENTS
) -> tuple[Answer, dict[str, Any]]:
    """The answer, and what its quick fragments name. boxes: those that will be filled in."""
    # while a slider moves nobody reads what could be changed
    less = {} if "part-yes" in boxes else {"nearest": False}
    answer = site.desk.ask("match", **q.asked(*MATCH), draws=draws, changes=q.tries, **less)
    marks = site.desk.marks(answer.rig, match_page.study_of(answer).ask.rider)
    return answer, match_page.quick(answer, q, marks, see, boxes)


def findings(site: Site, q: Question, load: str) -> list[dict[str, Any]] | None:
    """The hazards that belong where the match is decided; None when the register could not be asked."""
    try:
        answer = site.desk.ask("guard", load=load, changes=q.tries)
    except SparewattError:
        return None
    study = answer.study
    assert isinstance(study, GuardAnswer)
    here = [f for f in study.findings if "match" in f.at]
    return match_page.told(here, q, match_page.shows(answer, q, load=load))


@router.get("/worth")
async def worth(request: Request) -> Response:
    """Is it worth the legs?"""
    return await _section(request, "worth", "worth.html", section_pages.worth, "rider", "people")


@router.get("/loads")
async def loads(request: Request) -> Response:
    """Will it run, and how long?"""
    return await _section(
        request, "loads", "loads.html", section_pages.loads, "rider", "load", "effort", "duration"
    )


@router.get("/guard")
async def guard(request: Request) -> Response:
    """What size, what fuse, what can hurt?"""
    return await _section(request, "guard", "guard.html", section_pages.guard, "load")


@router.get("/heap")
async def heap(request: Request) -> Response:
    """What have I got, and is it any good?"""
    return await _section(request, "heap", "heap.html", section_pages.heap, "load")


async def _section(request: Request, task: str, template: str, names: Any, *asked: str) -> Response:
    site, q = site_of(request), question(request)

    def job() -> Response:
        given = {k: v for k, v in q.asked(*asked).items() if v is not None}
        answer = site.desk.ask(task, **given, changes=q.tries)
        return site.page(request, template, q=q, answer=answer, **names(answer, q))

    return await work(job)
