"""Everything that writes: a new rig from a sentence, a demo, changes kept, boxes and the text edited, and taking back."""

from __future__ import annotations

import math
import re
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from sparewatt.errors import BadRequest, BadRig, ChangedElsewhere, NotFound, Problem
from sparewatt.web import replies, rig_page, rigfile, section_pages
from sparewatt.web.door import COOKIE, is_stranger
from sparewatt.web.lobby import plain_address
from sparewatt.web.question import Question
from sparewatt.web.site import Site, plain_question, site_of, work

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
BACK_LIMIT = 17_000  # letters of the address a write goes back to: the words of a scene are part of one
_LOCAL = re.compile(
    r"/(bench/)?[a-z_]{0,20}(\?[!-\[\]-~]{0,16000})?"
)  # a page of this app with its question, nothing else


def local(address: str, otherwise: str = "/match") -> str:
    """The address when it is a page of this app, else the other."""
    return address if _LOCAL.fullmatch(address) else otherwise


def go(address: str) -> Response:
    """Send the browser on after a write."""
    return RedirectResponse(address, 303)


async def form_of(request: Request, fields: int = 600) -> dict[str, list[str]]:
    """The fields of a posted form, at most so many; files are refused."""
    form = await request.form(max_files=0, max_fields=fields)
    found: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        found.setdefault(name, []).append(value if isinstance(value, str) else "")
    return found


def only(form: dict[str, list[str]], name: str, most: int = 2000) -> str:
    """The one value of a field, empty when it is not there."""
    value = form.get(name, [""])[-1]
    if len(value) > most:
        raise BadRequest(Problem(name, f"This is more than {most} letters.", "say it shorter", value[:60]))
    return value.replace("\r\n", "\n")


@router.post("/start")
async def start(request: Request) -> Response:
    """From one sentence to a rig file and its first verdict."""
    site, form = site_of(request), await form_of(request)
    q = Question.read([("units", only(form, "units") or "metric")])
    typed = {name: only(form, name, 200).strip() for name in section_pages.FACTS}
    sentence = only(form, "sentence", 600).strip()

    def job() -> Response:
        try:
            answer = site.desk.begin(sentence, typed, inch=q.units == "inch")
        except (BadRequest, BadRig) as reason:
            names: dict[str, Any] = section_pages.first(site.desk, sentence, **typed) | {
                "problems": reason.problems
            }
            return site.page(
                request, "first.html", q=q, status=400, title="What do you want to run?", **names
            )
        ridden = getattr(answer.study, "match", None) is not None
        return go(
            q.link("/match" if ridden else "/worth")
        )  # what no rig should be asked for has only a price

    return await work(job)


@router.post("/open")
async def open_demo(request: Request) -> Response:
    """Copy a demo to a folder of one's own and open it."""
    site, form = site_of(request), await form_of(request)
    name = only(form, "demo", 80)

    def job() -> Response:
        site.desk.open_demo(name)
        return go("/match")

    return await work(job)


@router.get("/rig")
async def rig(request: Request) -> Response:
    """The rig file as a form, and as the text it is."""
    site = site_of(request)
    q = plain_question(request)
    return await work(
        lambda: site.page(request, "rig.html", q=q, **rig_page.context(site.desk, q.units == "inch"))
    )


@router.post("/rig/keep")
async def keep(request: Request) -> Response:
    """Write the tried changes to the rig file."""
    site, form = site_of(request), await form_of(request)
    return await _change(request, site, form, [rig_page.split_edit(text) for text in form.get("edit", [])])


@router.post("/rig/fields")
async def fields(request: Request) -> Response:
    """Write the boxes of the form that differ from the file."""
    site, form = site_of(request), await form_of(request)
    boxes = [name for name in form if "." in name or name in ("name", "story")]
    edits = rig_page.differing(site.desk.sheet(), {name: form[name][-1].strip() for name in boxes})
    if not edits:  # nothing differs from the file, whoever wrote it
        return go(local(only(form, "back", BACK_LIMIT), "/rig"))
    return await _change(request, site, form, edits)


@router.post("/rig/raw")
async def raw(request: Request) -> Response:
    """Write the whole text, if it reads as a rig."""
    site, form = site_of(request), await form_of(request)
    return await _change(request, site, form, only(form, "text", rigfile.TEXT_LIMIT))


@router.post("/rig/undo")
async def undo(request: Request) -> Response:
    """Take the last change back."""
    site, form = site_of(request), await form_of(request)
    await work(site.desk.undo)
    return go(local(only(form, "back", BACK_LIMIT)))


async def _change(
    request: Request, site: Site, form: dict[str, list[str]], wanted: str | list[tuple[str, str]]
) -> Response:
    """Write a whole text or some values; else show the page again with what is to be put right, or with both versions."""
    back = local(only(form, "back", BACK_LIMIT), "/rig")
    q = plain_question(request)

    def new(text: str) -> str:
        return rigfile.checked(wanted) if isinstance(wanted, str) else rigfile.edited(text, wanted)

    def job() -> Response:
        desk = site.desk
        sheet = desk.sheet()
        try:
            words = "You edited the file as text." if isinstance(wanted, str) else rig_page.says(desk, wanted)
            desk.write(new, seen=only(form, "seen"), says=words)
        except ChangedElsewhere:
            names = rig_page.both(sheet, wanted) | {"title": replies.title_of(409), "back": back}
            return site.page(request, "both.html", q=q, status=409, **names)
        except (BadRig, BadRequest) as reason:
            names = rig_page.context(desk, q.units == "inch", problems=reason.problems, typed=form)
            return site.page(request, "rig.html", q=q, status=400, **names)
        return go(back)

    return await work(job)


@router.get("/code")
async def code_page(request: Request) -> Response:
    """Where a stranger types the code that the terminal shows."""
    return _code_page(request, "", 200)


@router.post("/code")
async def code_try(request: Request) -> Response:
    """A try at the code: right ones get a cookie, wrong ones are counted. Who is in already is never counted."""
    site, form = site_of(request), await form_of(request)
    if site.code is None:
        raise NotFound(Problem("code", "This app is not shared, so there is no code."))
    if not is_stranger(request.scope):
        return go("/")
    address = plain_address(request.client.host) if request.client else ""
    wait = math.ceil(site.code.wait(address))
    if wait:
        says = f"Too many wrong tries from here. Wait {wait} s, then try again."
        return _code_page(request, says, 429, {"Retry-After": str(wait)})
    if not site.code.check(only(form, "code", 40), address):
        return _code_page(request, "That is not the code the terminal shows.", 401)
    reply = go("/")
    reply.set_cookie(COOKIE, site.code.token, httponly=True, samesite="strict", path="/")
    return reply


def _code_page(
    request: Request, problem: str, status: int, headers: dict[str, str] | None = None
) -> Response:
    reply = site_of(request).page(
        request, "code.html", q=plain_question(request), title="The code", problem=problem, status=status
    )
    reply.headers.update(headers or {})
    return reply
