"""The page that plays a scene second by second: its address, its pieces while somebody types, its files, and keeping it."""

from __future__ import annotations

import contextlib
import dataclasses
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, cast
from urllib.parse import parse_qsl

import anyio
from fastapi import APIRouter, Request
from fastapi.responses import Response

from sparewatt.errors import BadRequest, BadRig, NotFound, Problem
from sparewatt.files import remove_part
from sparewatt.language import telling
from sparewatt.present.csv_scene import scene_csv
from sparewatt.rig.fill import Filled, fill
from sparewatt.tasks.ask import open_place
from sparewatt.tasks.scene_words import usual_load, usual_plan
from sparewatt.web import replies, rigfile, scene_page, scene_words
from sparewatt.web.edits import form_of, go, only
from sparewatt.web.question import FULL_RUNS, TEXT_LIMIT, Question
from sparewatt.web.scene_page import Shown
from sparewatt.web.scene_words import BOXES, Told
from sparewatt.web.site import Site, site_of, work
from sparewatt.web.takeaway import SVG_POLICY

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
SOON = 0.25  # s for one run: where it takes longer, the page does not wait for all of them
JUST_RIDES = "riding along"  # what no words at all say


def filled_for(site: Site, q: Question) -> Filled:
    """The open rig with the tried changes, typical values where the file is silent."""
    sheet = site.desk.sheet()
    loaded, _ = open_place(rigfile.loaded_of(sheet.text, sheet.path), q.tries)
    return fill(loaded.rig)


def settled(filled: Filled, q: Question) -> Question:
    """The question with a scene in it: the one asked for, else the rig's first one, else the usual one of what is asked."""
    if q.name is not None or q.words is not None:
        return q
    if filled.rig.scene and q.load is None:
        return dataclasses.replace(q, name=filled.rig.scene[0].name)
    return dataclasses.replace(q, words=telling.told(usual_plan(filled.rig, usual_load(filled.rig, q.load))))


def asked(q: Question, told: Told) -> dict[str, Any]:
    """What the task is asked."""
    given = {k: v for k, v in q.asked(*BOXES).items() if v is not None}
    return given | ({"name": q.name} if told.named else {"words": told.words.strip() or JUST_RIDES})


def played(site: Site, q: Question, told: Told, runs: int) -> Shown:
    """The scene played, and the design set beside it."""
    given = asked(q, told)
    answer = site.desk.ask("scene", **given, runs=runs, changes=q.tries)
    if not q.beside:
        return Shown(answer)
    try:
        other = site.desk.ask("scene", **given, runs=runs, changes=q.with_try(q.beside))
    except (BadRequest, BadRig, NotFound) as reason:
        return Shown(answer, problems=reason.problems)
    return Shown(answer, other, scene_page.label(q.beside))


@dataclass(frozen=True, slots=True)
class _Look:
    """What became of a question: with its scene, as told, as played, and what is to be put right."""

    q: Question
    told: Told | None = None
    shown: Shown | None = None
    problems: tuple[Problem, ...] = ()

    def for_boxes(self, filled: Filled) -> Told | None:
        """What fills the boxes: the scene as told, else what the boxes alone say."""
        if self.told is not None:
            return self.told
        try:
            return scene_words.read(filled, dataclasses.replace(self.q, name=None, words=""))
        except (BadRequest, NotFound):
            return None


def _look(site: Site, filled: Filled, q: Question, runs: int | None) -> _Look:
    """Read the scene and play it; runs: None only reads it."""
    told: Told | None = None
    try:
        q = settled(filled, q)
        told = scene_words.read(filled, q)
        shown = played(site, q, told, runs) if runs is not None else None
        return _Look(q, told, shown, shown.problems if shown is not None else ())
    except (BadRequest, NotFound) as reason:
        return _Look(q, told, None, reason.problems)


def _names(filled: Filled, look: _Look) -> dict[str, Any]:
    """Everything the whole page names."""
    q, shown = look.q, look.shown
    names: dict[str, Any] = {
        "title": "Second by second",
        "files": scene_page.files(q),
        "a": None,
        "data": None,
        "together": bool(filled.rig.neighbour),
    }
    names |= scene_page.controls(filled, look.for_boxes(filled), shown, q)
    names |= scene_page.heard(look.told, look.problems, q)
    if look.told is None:
        names["words"] = q.words or ""
    if shown is not None:
        names |= scene_page.played(shown, q) | scene_page.rest(shown, q)
    return names


@router.get("/scene")
async def page(request: Request) -> Response:
    """The page: a scene told and played, or what is to be put right in its words.

    Several rigs on one bus take many seconds for all runs: then the page goes out with one, and the rest is asked for by its
    script, or by a link where there is none.
    """
    site, q = site_of(request), Question.of_a_scene(request.query_params.multi_items())
    edit, when, more = (
        request.query_params.get(n, "").strip()[:TEXT_LIMIT] for n in ("edit", "when", "more")
    )
    every = "all" in request.query_params

    def job() -> Response:
        filled = filled_for(site, q)
        began = time.monotonic()
        look = _look(site, filled, q, None if edit else 0)
        if look.shown is not None and (every or time.monotonic() - began < SOON):
            look = _look(site, filled, q, FULL_RUNS)
        if edit and look.told is not None:
            try:
                words = scene_words.edited(look.told, edit, when, more)
                return go(scene_words.with_boxes(look.told, look.q, words).link("/scene"))
            except BadRequest as reason:
                look = dataclasses.replace(look, problems=reason.problems)
        status = 400 if look.problems else 200
        return site.page(
            request, "scene.html", q=look.q, status=status, section="/match", **_names(filled, look)
        )

    return await work(job)


@router.get("/scene/part")
async def part(request: Request) -> Response:
    """The pieces of the page that a change replaces. `quick` (wide or narrow): from one run, in that width only.

    Words that cannot be read yet are no fault of the asker: the answer then holds only what to put right, as 200.
    """
    site, q = site_of(request), Question.of_a_scene(request.query_params.multi_items())
    see = request.query_params.get("quick", "")

    def job() -> bytes:
        filled = filled_for(site, q)
        look = _look(site, filled, q, 0 if see else FULL_RUNS)
        names = scene_page.heard(look.told, look.problems, look.q)
        reply: dict[str, Any] = {
            "ok": look.shown is not None,
            "problems": [p.as_dict() for p in look.problems],
        }
        if look.shown is None:
            reply["parts"] = {"part-wrong": site.text("scene/wrong.html", q=look.q, **names)}
            return replies.json_bytes(reply)
        names |= scene_page.played(look.shown, look.q, see or "both")
        if not see:
            names |= scene_page.rest(look.shown, look.q)
        pieces = scene_page.QUICK if see else scene_page.FRAGMENTS
        common = site.common(look.shown.answer.rig)
        reply |= {
            "title": f"{names['title']}: Sparewatt",
            "parts": {box: site.text(file, q=look.q, **common, **names) for box, file in pieces.items()},
            "links": scene_page.files(look.q),
            "boxes": scene_page.boxes(look.told, look.shown.answer, look.q),
            "examples": scene_page.steps_known(filled, scene_page.study_of(look.shown.answer).ask.load),
            "data": names["data"],
        }
        return replies.json_bytes(reply)

    # All runs of a scene take both hands of the machine: one such answer at a time, and none that nobody waits for.
    async with contextlib.nullcontext() if see else _one_at_a_time(request):
        if await request.is_disconnected():
            return Response(status_code=204)
        return Response(await work(job), media_type="application/json")


def _one_at_a_time(request: Request) -> anyio.Lock:
    """Held while all runs of a scene are played for somebody."""
    state = request.app.state
    if not hasattr(state, "all_runs"):
        state.all_runs = anyio.Lock()
    return cast(anyio.Lock, state.all_runs)


@router.get("/scene.{ending}")
async def file(request: Request, ending: str) -> Response:
    """What is shown, to be taken away: csv, svg or json."""
    site, q = site_of(request), Question.of_a_scene(request.query_params.multi_items())
    if ending not in _FILES:
        raise NotFound(
            Problem(f"scene.{ending}"[:80], "There is no file by this name.", "scene.csv, .svg or .json")
        )
    kind, make = _FILES[ending]

    def job() -> bytes:
        filled = filled_for(site, q)
        whole = settled(filled, q)
        return make(site, whole, scene_words.read(filled, whole))

    headers = {"Content-Disposition": f'attachment; filename="scene.{ending}"'}
    if ending == "svg":
        headers["Content-Security-Policy"] = SVG_POLICY
    return Response(await work(job), media_type=kind, headers=headers)


def _csv(site: Site, q: Question, told: Told) -> bytes:
    return scene_csv(scene_page.study_of(played(site, q, told, FULL_RUNS).answer)).encode()


def _svg(site: Site, q: Question, told: Told) -> bytes:
    return scene_page.standalone(played(site, q, told, FULL_RUNS), q.units == "inch").encode()


def _json(site: Site, q: Question, told: Told) -> bytes:
    if q.beside:
        both = site.desk.ask_both(q.beside, **asked(q, told), tried=q.tries, runs=FULL_RUNS)
        return replies.json_bytes(both.as_dict())
    return replies.json_bytes(played(site, q, told, FULL_RUNS).answer.as_dict())


_FILES: dict[str, tuple[str, Callable[[Site, Question, Told], bytes]]] = {
    "csv": ("text/csv; charset=utf-8", _csv),
    "svg": ("image/svg+xml", _svg),
    "json": ("application/json", _json),
}


@router.post("/scene/keep")
async def keep(request: Request) -> Response:
    """Write the scene to the rig file as a [[scene]]; one of the same name is replaced, and it can be taken back."""
    site, form = site_of(request), await form_of(request)
    q = Question.of_a_scene(parse_qsl(only(form, "query", 60_000)))
    name = " ".join(only(form, "name", 80).split())

    def job() -> Response:
        filled = filled_for(site, q)
        look = _look(site, filled, q, FULL_RUNS)
        try:
            if look.told is None:
                raise BadRequest(*look.problems)
            if not name:
                raise BadRequest(Problem("name", "a scene that is kept needs a name.", "saw in third gear"))
            edits = scene_words.kept(look.told, name, look.q)
            site.desk.write(
                lambda text: _with_scene(text, name, edits),
                seen=site.desk.sheet().seen,
                says=f'The scene "{name}" is in your rig file now.',
            )
        except (BadRequest, BadRig) as reason:
            names = _names(filled, dataclasses.replace(look, problems=reason.problems))
            return site.page(
                request, "scene.html", q=look.q, status=400, page_path="/scene", section="/match", **names
            )
        return go(look.q.link("/scene"))

    return await work(job)


def _with_scene(text: str, name: str, edits: list[tuple[str, str]]) -> str:
    """The text of the rig file with this scene in place of one of the same name, or behind the others."""
    loaded = rigfile.loaded_of(text)
    same = [k for k, scene in enumerate(loaded.rig.scene) if scene.name.casefold() == name.casefold()]
    for k in reversed(same):
        loaded = remove_part(loaded, f"scene.{k}").loaded
    number = len(loaded.rig.scene)
    return _aired(rigfile.edited(loaded.text, [(key.format(n=number), lines) for key, lines in edits]))


def _aired(text: str) -> str:
    """The text with an empty line before every scene and step that has neither that nor a comment before it."""
    lines: list[str] = []
    for line in text.split("\n"):
        if line in ("[[scene]]", "[[scene.step]]") and lines and lines[-1].strip() and lines[-1][:1] != "#":
            lines.append("")
        lines.append(line)
    return "\n".join(lines)
