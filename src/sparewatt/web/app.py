"""The web app, put together: one site, its routes, one way to say what is wrong, one door."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import Any, cast

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from sparewatt import __version__
from sparewatt.errors import Problem, SparewattError
from sparewatt.web import (
    api,
    bench_more,
    bench_routes,
    edits,
    mend_routes,
    pages,
    replies,
    scene_routes,
    takeaway,
)
from sparewatt.web.desk import Desk, Tasks
from sparewatt.web.door import Code, Door
from sparewatt.web.site import Site, site_of

__all__ = ["create_app"]


def create_app(
    folder: Path | str | None = None,
    *,
    tasks: Tasks | None = None,
    home: Path | None = None,
    hosts: Iterable[str] = (),
    code: Code | None = None,
    **limits: Any,
) -> FastAPI:
    """The app over one project folder.

    tasks: stands in for `sparewatt.tasks`; home: where rigs are put when there is no folder; hosts: names besides
    loopback that this machine answers to; code: asked of everybody who is not at this machine; limits: of
    the door, and its lobby.
    """
    site = Site(
        Desk(
            Path(folder) if folder is not None else None,
            lambda: tasks or _real_tasks(),
            home or Path.home() / "sparewatt",
        ),
        code,
    )
    app = FastAPI(
        title="Sparewatt",
        version=__version__,
        docs_url=None,
        redoc_url=None,
        openapi_url="/openapi.json",
        description="Every section of Sparewatt as JSON. Each number has its unit in its name.",
    )
    app.state.site = site
    for routes in (
        pages.router,
        scene_routes.router,
        bench_more.router,
        bench_routes.router,
        mend_routes.router,
        edits.router,
        takeaway.router,
        api.router,
    ):
        app.include_router(routes)
    _say_what_is_wrong(app)
    app.add_middleware(GZipMiddleware, minimum_size=2000, compresslevel=4)
    app.add_middleware(Door, refuse=_refuse(site), hosts=hosts, code=code, **limits)
    return app


def _real_tasks() -> Tasks:
    from sparewatt import tasks

    return cast(Tasks, tasks)


def _say_what_is_wrong(app: FastAPI) -> None:
    """One body for machines and one page for people, whatever went wrong."""

    @app.exception_handler(SparewattError)
    async def ours(request: Request, reason: Exception) -> Response:
        assert isinstance(reason, SparewattError)
        return _answer(request, replies.status_of(reason), reason.problems)

    @app.exception_handler(HTTPException)
    async def http(request: Request, reason: Exception) -> Response:
        assert isinstance(reason, HTTPException)
        says = {
            404: "There is no page or file by this name.",
            405: "This address does not take that kind of request.",
        }
        problem = Problem(
            request.url.path,
            says.get(reason.status_code, str(reason.detail)),
            "start again from the first page",
        )
        return _answer(request, reason.status_code, (problem,), dict(reason.headers or {}))

    @app.exception_handler(RequestValidationError)
    async def shape(request: Request, reason: Exception) -> Response:
        assert isinstance(reason, RequestValidationError)
        found = [
            Problem(".".join(str(p) for p in e["loc"]), str(e["msg"]), "see /openapi.json for what is taken")
            for e in reason.errors()
        ]
        return _answer(request, 400, tuple(found))


def _answer(
    request: Request, status: int, problems: tuple[Problem, ...], headers: dict[str, str] | None = None
) -> Response:
    if replies.wants_json(request.scope):
        return JSONResponse(replies.body(problems), status, headers)
    page = site_of(request).problem_page(request, status, problems)
    page.headers.update(headers or {})
    return page


def _refuse(site: Site) -> Any:
    """How the door words a refusal: without the shared head, since the asker may be a stranger."""

    def refuse(scope: Any, status: int, problem: Problem) -> tuple[bytes, str]:
        if replies.wants_json(scope):
            return replies.json_bytes(replies.body((problem,))), "application/json"
        text = site.text("refused.html", title=replies.title_of(status), problem=problem, status_code=status)
        page = HTMLResponse(text)
        return bytes(page.body), "text/html; charset=utf-8"

    return refuse
