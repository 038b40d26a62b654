"""The JSON twins: every section with the query names of the command line, and the few writes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict, Field

from sparewatt.web import replies, rig_page, rigfile
from sparewatt.web.mend_ask import mended
from sparewatt.web.question import (
    FULL_DRAWS,
    FULL_RUNS,
    TEXT_LIMIT,
    TRY_LIMIT,
    TRY_TEXT,
    WORDS_LIMIT,
    Question,
)
from sparewatt.web.site import Site, site_of, work

__all__ = ["router"]


class ProblemBody(BaseModel):
    """One thing to put right: where, what is wrong, what to try."""

    model_config = ConfigDict(populate_by_name=True)
    where: str
    problem: str
    hint: str = Field(alias="try")
    read: str
    file: str
    line: int | None


class Refusal(BaseModel):
    """The one body of everything that did not work."""

    ok: bool
    problems: list[ProblemBody]


class AnswerBody(BaseModel):
    """The one body of every section."""

    ok: bool
    section: str
    answer: str
    verdict: str | None
    put_right_first: list[dict[str, Any]]
    results: dict[str, Any]
    nearest_yes: list[dict[str, Any]]
    caveats: list[str]
    sources: list[str]


class EditBody(BaseModel):
    """Changes to the rig file: key path to text, and the mark of the text they were made for (see /api/rig)."""

    model_config = ConfigDict(extra="forbid")
    edits: dict[Annotated[str, Field(max_length=TEXT_LIMIT)], Annotated[str, Field(max_length=2000)]] = Field(
        min_length=1, max_length=100
    )
    seen: str = Field(max_length=100)


class StartBody(BaseModel):
    """One sentence, and what is known besides."""

    model_config = ConfigDict(extra="forbid")
    sentence: str = Field(min_length=1, max_length=600)
    plate: str = Field("", max_length=200)
    age: str = Field("", max_length=20)
    mass: str = Field("", max_length=20)
    fitness: str = Field("", max_length=20)
    battery: str = Field("", max_length=200)


class Written(BaseModel):
    """The file after a change: its text and its new mark."""

    ok: bool
    seen: str
    text: str
    changed: str


REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": Refusal, "description": replies.title_of(status)}
    for status in (400, 401, 403, 404, 405, 409, 413, 421, 503)
}
router = APIRouter(prefix="/api", tags=["sections"], responses=REFUSALS)
Words = Annotated[str | None, Query(max_length=TEXT_LIMIT)]
Tries = Annotated[
    tuple[Annotated[str, Field(max_length=TRY_TEXT)], ...],
    Query(alias="try", max_length=TRY_LIMIT, description="key = text, tried without being written"),
]
Besides = Annotated[
    tuple[Annotated[str, Field(max_length=TRY_TEXT)], ...],
    Query(max_length=TRY_LIMIT, description="key = text of a second design in the same scene"),
]
Script = Annotated[
    str | None, Query(max_length=WORDS_LIMIT, description="at 5 s switch the saw on; at 12 s shift up")
]
Runs = Annotated[int, Query(ge=0, le=1000, description="how many runs the bands are made of")]
Health = Annotated[
    Literal["", "no", "yes"],
    Query(
        description="the questions before any effort: no to every one, a yes to at least one, or not answered"
    ),
]
Moments = Annotated[
    tuple[Annotated[str, Field(max_length=400)], ...],
    Query(max_length=40, description="what was read at one moment: cadence 62, 11.4 V, 3.1 A, heavy"),
]
NONE: tuple[str, ...] = ()
Draws = Annotated[int, Query(ge=1, le=4096, description="how many draws the bands are made of")]
People = Annotated[int, Query(ge=1, le=1000)]


def as_json(content: object, status: int = 200) -> Response:
    """A JSON answer."""
    return Response(replies.json_bytes(content), status, media_type="application/json")


def asked(read: Callable[..., Question] = Question.read, **given: str | None) -> dict[str, Any]:
    """What was given, through the same reader as the pages' addresses."""
    q = read((k, v) for k, v in given.items() if v is not None)
    return {k: v for k, v in q.asked(*given).items() if v is not None}


async def _answer(request: Request, task: str, tries: tuple[str, ...], **given: Any) -> Response:
    site = site_of(request)
    changes = Question.read(("try", text) for text in tries).tries
    return as_json(await work(lambda: site.desk.ask(task, **given, changes=changes).as_dict()))


@router.get("/worth", response_model=AnswerBody)
async def worth(request: Request, rider: Words = None, people: People = 1, tries: Tries = NONE) -> Response:
    """Is it worth the legs?"""
    return await _answer(request, "worth", tries, **asked(rider=rider), people=people)


@router.get("/heap", response_model=AnswerBody)
async def heap(request: Request, load: Words = None, tries: Tries = NONE) -> Response:
    """What have I got, and is it any good?"""
    return await _answer(request, "heap", tries, **asked(load=load))


@router.get("/match", response_model=AnswerBody)
async def match(
    request: Request,
    rider: Words = None,
    load: Words = None,
    gear: Words = None,
    effort: Words = None,
    cadence: Words = None,
    duration: Words = None,
    draws: Draws = FULL_DRAWS,
    tries: Tries = NONE,
) -> Response:
    """What ratio, volts and settings?"""
    given = asked(rider=rider, load=load, gear=gear, effort=effort, cadence=cadence, duration=duration)
    return await _answer(request, "match", tries, **given, draws=draws)


@router.get("/loads", response_model=AnswerBody)
async def loads(
    request: Request,
    rider: Words = None,
    load: Words = None,
    effort: Words = None,
    duration: Words = None,
    tries: Tries = NONE,
) -> Response:
    """Will it run, and how long?"""
    given = asked(rider=rider, load=load, effort=effort, duration=duration)
    return await _answer(request, "loads", tries, **given)


@router.get("/guard", response_model=AnswerBody)
async def guard(request: Request, load: Words = None, tries: Tries = NONE) -> Response:
    """What size, what fuse, what can hurt?"""
    return await _answer(request, "guard", tries, **asked(load=load))


@router.get("/bench", response_model=AnswerBody)
async def bench(request: Request, health: Health = "", tries: Tries = NONE) -> Response:
    """What is it really?"""
    site = site_of(request)
    changes = Question.read(("try", text) for text in tries).tries
    return as_json(await work(lambda: site.bench.ask(health, changes).as_dict()))


@router.get("/mend", response_model=AnswerBody)
async def mend(
    request: Request,
    ride: Moments = NONE,
    well: Moments = NONE,
    readings: bool = False,
    well_until: Words = None,
    rider: Words = None,
    load: Words = None,
    gear: Words = None,
    effort: Words = None,
    tries: Tries = NONE,
) -> Response:
    """What is wrong, and what would help most?"""
    site, given = site_of(request), asked(rider=rider, load=load, gear=gear, effort=effort)
    changes = Question.read(("try", text) for text in tries).tries
    given |= {"moments": ride, "well": well, "changes": changes}
    return as_json(await work(lambda: mended(site, readings, well_until or "", **given).as_dict()))


@router.get("/scene", response_model=AnswerBody)
async def scene(
    request: Request,
    name: Words = None,
    words: Script = None,
    rider: Words = None,
    load: Words = None,
    gear: Words = None,
    effort: Words = None,
    cadence: Words = None,
    holds: Words = None,
    start: Words = None,
    duration: Words = None,
    runs: Runs = FULL_RUNS,
    tries: Tries = NONE,
    beside: Besides = NONE,
) -> Response:
    """What happens second by second?"""
    given = asked(
        Question.of_a_scene, name=name, words=words, rider=rider, load=load, gear=gear, effort=effort,
        cadence=cadence, holds=holds, start=start, duration=duration,
    )  # fmt: skip
    others = Question.read(("beside", text) for text in beside).beside
    if not others:
        return await _answer(request, "scene", tries, **given, runs=runs)
    site = site_of(request)
    changes = Question.read(("try", text) for text in tries).tries
    return as_json(
        await work(lambda: site.desk.ask_both(others, **given, tried=changes, runs=runs).as_dict())
    )


@router.get("/demos", response_model=AnswerBody)
async def demos(request: Request) -> Response:
    """The demo rigs."""
    site = site_of(request)
    return as_json(await work(lambda: site.desk.tasks.demo_list().as_dict()))


def _written(site: Site, changed: str) -> dict[str, object]:
    sheet = site.desk.sheet()
    return {"ok": True, "seen": sheet.seen, "text": sheet.text, "changed": changed}


@router.get("/rig", response_model=Written)
async def rig(request: Request) -> Response:
    """The rig file as text, and the mark that a change must carry."""
    site = site_of(request)
    return as_json(await work(lambda: _written(site, "")))


@router.post("/edit", response_model=Written)
async def edit(request: Request, wanted: EditBody) -> Response:
    """Change values of the rig file; refused when the file is not the one that was seen."""
    site = site_of(request)

    def job() -> dict[str, object]:
        desk, pairs = site.desk, list(wanted.edits.items())
        says = rig_page.says(desk, pairs)
        desk.write(lambda text: rigfile.edited(text, pairs), seen=wanted.seen, says=says)
        return _written(site, says)

    return as_json(await work(job))


@router.post("/undo", response_model=Written)
async def undo(request: Request) -> Response:
    """Take the last change back."""
    site = site_of(request)
    return as_json(await work(lambda: _written(site, site.desk.undo())))


@router.post("/start", response_model=AnswerBody)
async def start(request: Request, wanted: StartBody) -> Response:
    """From one sentence to a rig file of one's own and its first verdict."""
    site = site_of(request)

    def job() -> dict[str, object]:
        typed = {k: v for k, v in wanted.model_dump().items() if k != "sentence"}
        return site.desk.begin(wanted.sentence, typed, inch=False).as_dict()

    return as_json(await work(job))
