"""The page of the fault-finder: its address is the form, and its pieces are asked for while somebody types."""

from __future__ import annotations

import dataclasses
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.moment import Moment
from sparewatt.rig.bind import gear_names
from sparewatt.rig.fill import Filled, fill
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import CHARGE, open_place
from sparewatt.web import mend_form, mend_page, replies, rigfile
from sparewatt.web.mend_ask import mended
from sparewatt.web.mend_form import Form
from sparewatt.web.question import Question
from sparewatt.web.site import Site, site_of, work

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
ASKED = ("rider", "load", "gear", "effort")


def _open(site: Site, q: Question) -> tuple[Filled, tuple[Moment, ...]]:
    """The open rig with the tried changes, and the moments that its readings file holds."""
    sheet = site.desk.sheet()
    loaded, _ = open_place(rigfile.loaded_of(sheet.text, sheet.path), q.tries)
    try:
        kept = site.desk.tasks.mend_moments(loaded)
    except BadRequest:
        kept = ()
    return fill(loaded.rig), kept


def _form(request: Request, filled: Filled) -> Form:
    rig = filled.rig
    loads = (*(x.name for x in rig.load), *([CHARGE] if rig.battery is not None else []))
    return mend_form.read(request.query_params.multi_items(), gear_names(rig), loads)


def _asked(site: Site, form: Form, q: Question, *, better: bool) -> Answer:
    """The answer to what stands in the form."""
    given = {k: v for k, v in q.asked(*ASKED).items() if v is not None}
    given |= {"moments": form.texts(well=False), "well": form.texts(well=True), "better": better}
    return mended(site, form.readings, form.well_until, **given, changes=q.tries)


def _judged(
    site: Site, form: Form, q: Question, *, better: bool
) -> tuple[Answer | None, tuple[Problem, ...]]:
    """(the answer or None, what is to be put right)."""
    if form.problems:
        return None, form.problems
    try:
        return _asked(site, form, q, better=better), ()
    except BadRequest as bad:
        return None, bad.problems


@router.get("/mend")
async def page(request: Request) -> Response:
    """What is wrong, and what would help most?"""
    site = site_of(request)
    q = Question.read(request.query_params.multi_items())

    def job() -> Response:
        filled, kept = _open(site, q)
        form = _form(request, filled)
        answer, problems = _judged(site, form, q, better=True)
        status = 400 if problems else 200
        if answer is None:
            plain = dataclasses.replace(q, **dict.fromkeys(ASKED, None))  # type: ignore[arg-type]
            answer = _asked(site, Form(()), plain, better=True)
        names = mend_page.controls(filled.rig, form, q, len(kept)) | {"problems": problems}
        names |= mend_page.shown(answer, q) | mend_page.better(answer, q)
        return site.page(request, "mend.html", q=q, status=status, **names)

    return await work(job)


@router.get("/mend/part")
async def part(request: Request) -> Response:
    """The pieces that a change of the readings replaces. What cannot be read yet is said beside the form, as 200."""
    site = site_of(request)
    q = Question.read(request.query_params.multi_items())
    if await request.is_disconnected():
        return Response(status_code=204)

    def job() -> bytes:
        filled, kept = _open(site, q)
        form = _form(request, filled)
        answer, problems = _judged(site, form, q, better=not form.asks)
        names: dict[str, Any] = mend_page.controls(filled.rig, form, q, len(kept)) | {"problems": problems}
        parts = {"part-wrong": site.text("mend/wrong.html", q=q, **names)}
        if answer is not None:
            names |= mend_page.shown(answer, q)
            common = site.common(answer.rig)
            parts |= {
                box: site.text(file, q=q, **common, **names) for box, file in mend_page.FRAGMENTS.items()
            }
        reply = {
            "ok": answer is not None,
            "problems": [p.as_dict() for p in problems],
            "parts": parts,
            "json": names["json_href"],
        }
        return replies.json_bytes(reply)

    return Response(await work(job), media_type="application/json")
