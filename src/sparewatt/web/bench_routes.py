"""The pages of the bench: the whole of it, one procedure, and the few writes that belong to them."""

from __future__ import annotations

import datetime
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparewatt.errors import BadRequest, BadRig, ChangedElsewhere, Problem, SparewattError
from sparewatt.present.words_numbers import sentence
from sparewatt.studies.bench import procedures
from sparewatt.studies.bench.reading_kinds import KINDS
from sparewatt.web import bench_boxes, bench_form, bench_page, replies
from sparewatt.web.bench_desk import health_word
from sparewatt.web.edits import form_of, go, only
from sparewatt.web.question import Question
from sparewatt.web.site import Site, site_of, work

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
LIVE = "x-live"  # a header of the script that redraws the page in place
LABEL_LIMIT = 4000  # letters of a label's text


def asked(request: Request) -> tuple[Question, str]:
    """How the page is shown and what is tried, and the word about the health questions."""
    q = Question.read(request.query_params.multi_items())
    return q, q.health


def bench_page_of(
    request: Request, site: Site, *, status: int = 200, given: dict[str, str] | None = None, **told: Any
) -> Response:
    """The whole page. given: answers of a health form that lacks some; told: what is to be put right, by its place."""
    q, health = asked(request)
    link = bench_page.linker(q, health)
    answer = site.bench.ask(health, q.tries)
    names: dict[str, Any] = {
        "problem": None,
        "aside_told": {},
        "label": "",
        "label_told": None,
        "health_told": "",
        "list_text": "",
        "list_kind": "run_down",
        "list_told": [],
        "list_kinds": bench_page.list_kinds(),
        "sentence": sentence,
    }
    names |= bench_page.whole(answer, q, link, site.bench.readings())
    names |= {
        "chapters": bench_page.procedures(site.bench.guides(health), link),
        "asked": site.bench.questions(),
        "health": health,
        "given": given or {},
        "want": "",
    } | told
    return site.page(
        request,
        "bench.html",
        q=q,
        status=status,
        page_path="/bench",
        section="/bench",
        answer=answer,
        **names,
    )


@router.get("/bench")
async def bench(request: Request) -> Response:
    """What is it really?"""
    site = site_of(request)
    return await work(lambda: bench_page_of(request, site))


@router.post("/bench/health")
async def health(request: Request) -> Response:
    """The questions before any effort: only whether every answer was no goes on, as a word in the address."""
    site, form = site_of(request), await form_of(request)
    q, _ = asked(request)
    given = {question.key: only(form, question.key, 10) for question in procedures.screening().questions}
    word = health_word(given)
    want = only(form, "want", 40)
    link = bench_page.linker(q, word)
    if word:
        return go(link(f"/bench/{want}") if want in procedures.ORDER else link("/bench") + "#procedures")
    says = "Answer every question; those still open are marked."
    return await work(lambda: bench_page_of(request, site, status=400, given=given, health_told=says))


@router.post("/bench/aside")
async def aside(request: Request) -> Response:
    """Leave a reading out, with its reason; it stays in the file."""
    site, form = site_of(request), await form_of(request)
    line = _line(form)

    def job() -> Response:
        try:
            site.bench.aside({line: only(form, "why", 200)}, only(form, "seen", 100))
        except BadRequest as reason:
            told = {line: reason.problems[0]}
            return bench_page_of(request, site, status=400, aside_told=told)
        except ChangedElsewhere as reason:
            return bench_page_of(request, site, status=409, problem=reason.problems[0])
        return go(_back(request))

    return await work(job)


@router.post("/bench/back")
async def back(request: Request) -> Response:
    """Let a reading that was left out count again."""
    site, form = site_of(request), await form_of(request)

    def job() -> Response:
        try:
            lines = bench_form.lines_aside(site.bench.readings(), _line(form))
            site.bench.back(lines, only(form, "seen", 100))
        except (BadRequest, ChangedElsewhere) as reason:
            return bench_page_of(request, site, status=replies.status_of(reason), problem=reason.problems[0])
        return go(_back(request))

    return await work(job)


@router.post("/bench/keep")
async def keep(request: Request) -> Response:
    """Write what is known now into the rig file."""
    site, form = site_of(request), await form_of(request)

    def job() -> Response:
        try:
            site.bench.keep(only(form, "seen", 100), only(form, "seen_readings", 100))
        except (BadRequest, BadRig, ChangedElsewhere) as reason:
            return bench_page_of(request, site, status=replies.status_of(reason), problem=reason.problems[0])
        return go(_back(request))

    return await work(job)


@router.post("/bench/label")
async def label(request: Request) -> Response:
    """Put the part that a label's text holds into the rig file."""
    site, form = site_of(request), await form_of(request)
    text, where = only(form, "label", LABEL_LIMIT).strip(), only(form, "where", 40)

    def job() -> Response:
        try:
            site.bench.restore(text, where, only(form, "seen", 100))
        except ChangedElsewhere as reason:
            return bench_page_of(request, site, status=409, problem=reason.problems[0], label=text)
        except SparewattError as reason:
            status = replies.status_of(reason)
            return bench_page_of(request, site, status=status, label=text, label_told=reason.problems[0])
        return go(_back(request))

    return await work(job)


@router.get("/bench/labels.pdf")
async def labels(request: Request) -> Response:
    """Labels of the parts, for paper."""
    site, (q, _) = site_of(request), asked(request)
    today = datetime.datetime.now(tz=datetime.UTC).astimezone().date().isoformat()
    made = await work(
        lambda: site.desk.tasks.bench_labels(site.bench.place, date=today, inch=q.units == "inch")
    )
    return _pdf(made, "sparewatt-labels")


@router.get("/bench/{key}.pdf")
async def blank(request: Request, key: str) -> Response:
    """A procedure printed blank."""
    site, (q, word) = site_of(request), asked(request)

    def job() -> bytes:
        site.bench.guide(key, word)
        return site.desk.tasks.bench_blank(site.bench.place, key, inch=q.units == "inch")

    return _pdf(await work(job), f"sparewatt-{key}")


@router.get("/bench/{key}")
async def procedure(request: Request, key: str) -> Response:
    """One procedure, step by step."""
    site = site_of(request)

    def job() -> Response:
        _, word = asked(request)
        try:
            guide = site.bench.guide(key, word)
        except BadRequest as reason:
            return _closed(request, site, key, reason.problems[0])
        return _guide_page(request, site, bench_form.fresh(guide))

    return await work(job)


@router.post("/bench/{key}")
async def write(request: Request, key: str) -> Response:
    """Write the rows that are whole; whatever is not stays typed."""
    site, form = site_of(request), await form_of(request, fields=FIELDS)

    def job() -> Response:
        _, word = asked(request)
        try:
            guide = site.bench.guide(key, word)
        except BadRequest as reason:
            return _closed(request, site, key, reason.problems[0], status=400)
        return _guide_page(request, site, bench_form.write(site.bench, guide, bench_form.read(form)))

    return await work(job)


FIELDS = 1500  # the longest procedure has some 210 boxes, each with its unit and its line


def _guide_page(request: Request, site: Site, sheet: bench_form.Sheet) -> Response:
    q, word = asked(request)
    link = bench_page.linker(q, word)
    readings = site.bench.readings()
    answer = site.bench.ask(word, q.tries)
    told = sheet.guide.procedure
    names = bench_page.panel(answer, sheet.guide, link, readings)
    names |= bench_boxes.names(sheet, answer.rig, readings)
    status = 409 if sheet.elsewhere else 400 if sheet.wrong else 200
    if (
        LIVE in request.headers
    ):  # the script shows what is to be put right; a browser would note a fault besides
        status = 200
    return site.page(
        request, "guide.html", q=q, status=status, section="/bench", title=told.title, answer=answer,
        link=link, told_by=told, guide=sheet.guide, minutes=f"{told.minutes:.0f}",
        effort=bench_page.EFFORT_WORDS[sheet.guide.effort], health=word, sentence=sentence,
        phone=any("speed" in KINDS[kind].whats for kind in told.readings), **names,
    )  # fmt: skip


def _closed(request: Request, site: Site, key: str, problem: Problem, status: int = 200) -> Response:
    """A procedure that the answers keep back: why, and the questions."""
    q, word = asked(request)
    guide = procedures.guide(key)
    return site.page(
        request, "guide_closed.html", q=q, status=status, section="/bench", title=guide.procedure.title,
        guide=guide, problem=problem, link=bench_page.linker(q, word), asked=site.bench.questions(), health=word,
        given={}, health_told="", want=key,
    )  # fmt: skip


def _back(request: Request) -> str:
    q, word = asked(request)
    return bench_page.linker(q, word)("/bench")


def _line(form: dict[str, list[str]]) -> int:
    text = only(form, "line", 12)
    if not text.isdecimal():
        raise BadRequest(Problem("line", "This is no number of a line.", "press a button of the list", text))
    return int(text)


def _pdf(content: bytes, stem: str) -> Response:
    return Response(
        content,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{stem}.pdf"'},
    )
