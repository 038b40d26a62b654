"""Pages beside the procedures: the phone as a speedometer, dummy loads from the drawer, a whole list pasted."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.datastructures import UploadFile

from sparewatt.errors import BadRequest, BadRig, ChangedElsewhere, NotFound, Problem
from sparewatt.present import words_dummy
from sparewatt.present.words_numbers import sentence
from sparewatt.web import bench_page, replies
from sparewatt.web.bench_phone import BESIDE, Asked, found_names, page_names
from sparewatt.web.bench_routes import asked, bench_page_of
from sparewatt.web.edits import form_of, go, only
from sparewatt.web.match_page import cited
from sparewatt.web.site import Site, site_of, work
from sparewatt.web.speech import tied

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
LIST_LIMIT = 40_000  # letters of a pasted list
DRAWER_LIMIT = 2000
PLAIN_DRAWER = "8 x 12 V 21 W bulb\n4 x 12 V 55 W bulb"


@router.get("/bench/phone")
async def phone(request: Request) -> Response:
    """The phone as a speedometer, nothing asked yet."""
    site = site_of(request)
    return await work(lambda: _phone_page(request, site, Asked()))


@router.post("/bench/phone")
async def listen(request: Request) -> Response:
    """Hear a recording, look at a film, follow typed volts."""
    site = site_of(request)
    form, sound, name = await _upload(request)

    def job() -> Response:
        if sound:
            form["heard"] = [site.bench.recordings.put(name, sound)]
            form["name"] = [name]
        return _phone_page(request, site, Asked.read(form), ask=True)

    return await work(job)


@router.post("/bench/phone/keep")
async def keep(request: Request) -> Response:
    """Write what the phone said down, worked out anew from the same recording or list."""
    site, form = site_of(request), await form_of(request)

    def job() -> Response:
        question = Asked.read(form)
        kind = only(form, "kind", 40)
        more = {
            what: only(form, f"v.{what}", 60).strip()
            for what in ("volts", "amps", "disc_mass", "disc_diameter")
        }
        try:
            found: Any = site.bench.desk.tasks.phone(
                site.bench.place, **question.words(site.bench.recordings)
            ).study
            given = [(what, _usual(what, more[what])) for what in BESIDE.get(kind, ()) if more[what]]
            site.bench.desk.tasks.phone_keep(
                site.bench.place, found, kind, given, meter=only(form, "meter", 60), who=only(form, "who", 60),
                note=only(form, "note", 200), digest=only(form, "seen", 100),
            )  # fmt: skip
        except (BadRequest, BadRig, NotFound, ChangedElsewhere) as reason:
            return _phone_page(
                request, site, question, ask=True, kind=kind, more=more, problem=reason.problems[0],
                status=replies.status_of(reason),
            )  # fmt: skip
        _q, word = asked(request)
        return go(bench_page.linker(_q, word)("/bench") + "#h-every")

    return await work(job)


def _usual(what: str, text: str) -> str:
    """A bare number in the unit that the box names."""
    from sparewatt.web.bench_phone import BOXES

    return text if any(c.isalpha() for c in text) else f"{text} {BOXES[what][1]}"


async def _upload(request: Request) -> tuple[dict[str, list[str]], bytes, str]:
    """The fields of the form, and the recording if one was sent."""
    found: dict[str, list[str]] = {}
    sound, name = b"", ""
    async with request.form(max_files=1, max_fields=60) as form:
        for key, value in form.multi_items():
            if isinstance(value, UploadFile):
                sound = await value.read()
                name = "".join(c for c in (value.filename or "recording") if c.isprintable())[:80]
            else:
                found.setdefault(key, []).append(value)
    return found, sound, name


def _phone_page(
    request: Request, site: Site, question: Asked, *, ask: bool = False, kind: str = "", problem: Problem | None = None,
    more: dict[str, str] | None = None, status: int = 200,
) -> Response:  # fmt: skip
    q, word = asked(request)
    names: dict[str, Any] = {}
    answer = None
    if ask:
        try:
            answer = site.bench.desk.tasks.phone(site.bench.place, **question.words(site.bench.recordings))
            names = found_names(answer, answer.study, kind, more or {})  # type: ignore[arg-type]
        except (BadRequest, NotFound) as reason:
            problem, status = problem or reason.problems[0], replies.status_of(reason)
    lines = [] if answer is None else list(dict.fromkeys(answer.caveats))
    return site.page(
        request, "phone.html", q=q, status=status, section="/bench", link=bench_page.linker(q, word),
        sentence=sentence, seen_readings=site.bench.readings().digest, caveats=lines, folded_caveats=[],
        sources=[] if answer is None else cited(answer.sources), **(page_names(question, problem) | names),
    )  # fmt: skip


@router.get("/bench/dummy")
async def dummy(request: Request) -> Response:
    """What in the drawer eats so many watts at so many volts?"""
    site = site_of(request)
    given = request.query_params
    wanted = given.get("wanted", "")[:60]
    drawer = given.get("drawer", "")[:DRAWER_LIMIT].replace("\r\n", "\n")

    def job() -> Response:
        q, word = asked(request)
        names: dict[str, Any] = {"ways": [], "answer": None, "problem": None, "caveats": [], "sources": []}
        status = 200
        if wanted:
            try:
                answer = site.bench.desk.tasks.dummy(site.bench.place, wanted, drawer)
                found: Any = answer.study
                names |= {
                    "answer": answer,
                    "ways": [_way(one) for one in found.found],
                    "caveats": list(answer.caveats),
                    "sources": cited(answer.sources),
                }
            except BadRequest as reason:
                names["problem"], status = reason.problems[0], 400
        return site.page(
            request, "dummy.html", q=q, status=status, section="/bench", title="Dummy loads from the drawer",
            link=bench_page.linker(q, word), wanted=wanted, drawer=drawer, sentence=sentence, folded_caveats=[],
            example=PLAIN_DRAWER, **names,
        )  # fmt: skip

    return await work(job)


def _way(one: Any) -> dict[str, Any]:
    says = one.says[:1].upper() + one.says[1:]
    return {"says": tied(says), "lines": [tied(line) for line in words_dummy.dummy_lines(one)]}


@router.post("/bench/list")
async def pasted(request: Request) -> Response:
    """Write a pasted list down, all of it or nothing."""
    site, form = site_of(request), await form_of(request)
    kind, text = only(form, "kind", 40), only(form, "list", LIST_LIMIT)

    def job() -> Response:
        try:
            site.bench.desk.tasks.bench_list(
                site.bench.place, kind, text, meter=only(form, "meter", 60), who=only(form, "who", 60),
                digest=only(form, "seen", 100),
            )  # fmt: skip
        except (BadRequest, ChangedElsewhere) as reason:
            status = replies.status_of(reason)
            return bench_page_of(
                request, site, status=status, list_text=text, list_kind=kind, list_told=list(reason.problems)
            )
        q, word = asked(request)
        return go(bench_page.linker(q, word)("/bench") + "#h-every")

    return await work(job)
