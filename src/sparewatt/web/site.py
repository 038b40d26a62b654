"""What every page shares: the desk, the templates, the files that go with them, and the way work is done off the loop."""

from __future__ import annotations

import hashlib
import mimetypes
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from importlib import resources
from typing import Any, TypeVar

import anyio
import jinja2
from fastapi import Request
from fastapi.responses import HTMLResponse, Response

from sparewatt.errors import Problem, SparewattError
from sparewatt.parts import Rig
from sparewatt.present import palette
from sparewatt.web import replies, rigwords
from sparewatt.web.bench_desk import BenchDesk
from sparewatt.web.desk import Desk
from sparewatt.web.door import Code, is_stranger
from sparewatt.web.question import Question
from sparewatt.web.speech import headline, tied, verdict_class

__all__ = ["SECTIONS", "Site", "StaticFile", "site_of", "work"]

T = TypeVar("T")

# path, word on the strip, the question it answers
SECTIONS = (
    ("/worth", "Worth", "Is it worth the legs?"),
    ("/heap", "Heap", "What have I got, and is it any good?"),
    ("/bench", "Bench", "What is it really?"),
    ("/match", "Match", "What ratio, volts and settings?"),
    ("/loads", "Loads", "Will it run, and how long?"),
    ("/guard", "Guard", "What size, what fuse, what can hurt?"),
    ("/mend", "Mend", "What is wrong, and what would help most?"),
)
# What a page tells somebody without the code: nothing of the rig, whatever went wrong.
STRANGERS = {"rig_name": "", "told": None, "undo": "", "seen": "", "key_words": str, "was": lambda _key: ""}
_KINDS = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".woff2": "font/woff2",
    ".svg": "image/svg+xml",
}
_SHOWN = (".css", ".js", ".svg", ".woff2", ".ttf", ".txt")


@dataclass(frozen=True, slots=True)
class StaticFile:
    """One file served as it is, read once at the start; its mark makes the address change with the content."""

    content: bytes
    kind: str
    mark: str


def _static_files() -> dict[str, StaticFile]:
    found = {"drawings.css": palette.page_css().encode()}
    for folder, prefix in (
        (resources.files("sparewatt.web") / "static", ""),
        (resources.files("sparewatt.present") / "fonts", "fonts/"),
    ):
        found |= {
            prefix + item.name: item.read_bytes() for item in folder.iterdir() if item.name.endswith(_SHOWN)
        }
    return {
        name: StaticFile(content, _kind(name), hashlib.sha256(content).hexdigest()[:12])
        for name, content in found.items()
    }


def _kind(name: str) -> str:
    ending = name[name.rfind(".") :]
    return _KINDS.get(ending) or mimetypes.guess_type(name)[0] or "application/octet-stream"


class Site:
    """See the module text."""

    def __init__(self, desk: Desk, code: Code | None) -> None:
        self.desk = desk
        self.code = code
        self.bench = BenchDesk(desk)
        self.files = _static_files()
        self.templates = jinja2.Environment(
            loader=jinja2.PackageLoader("sparewatt.web"),
            autoescape=True,
            undefined=jinja2.StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.templates.globals.update(
            value_words=rigwords.value_words,
            static=self.static,
            sections=SECTIONS,
            verdict_class=verdict_class,
            tied=tied,
            headline=headline,
        )

    def static(self, name: str) -> str:
        """The address of a file that goes with the pages."""
        return f"/static/{name}?v={self.files[name].mark}"

    def text(self, template: str, **names: Any) -> str:
        """A template filled in."""
        return self.templates.get_template(template).render(**names)

    def page(
        self, request: Request, template: str, *, q: Question, status: int = 200, **names: Any
    ) -> Response:
        """A whole page. `answer`, if given, names the rig in the head."""
        answer = names.get("answer")
        common = {
            "q": q,
            "page_path": request.url.path,
            "section": request.url.path,
            "title": "Sparewatt",
            **(
                STRANGERS
                if is_stranger(request.scope)
                else self._desk(answer.rig if answer is not None else None)
            ),
        }
        return HTMLResponse(self.text(template, **(common | names)), status)

    def _desk(self, rig: Rig | None) -> dict[str, Any]:
        """What the head of a page tells of the rig: this one, or the open one."""
        return {
            "rig_name": rig.name if rig is not None else self.desk.name(),
            "told": self.desk.told(),
            "undo": self.desk.undo_says(),
            "seen": self.desk.seen(),
            **self.common(rig),
        }

    def common(self, rig: Rig | None) -> dict[str, Any]:
        """What the templates ask about keys of the rig file: their words, and what stands there."""
        return {"key_words": self._key_words(rig), "was": self.desk.was}

    def _key_words(self, rig: Rig | None) -> Callable[[str], str]:
        """Key paths in words, by the names of the parts of this rig, or of the open one."""
        known = rig or (self.desk.rig() if self.desk.place is not None else None)
        return partial(rigwords.key_words, known) if known is not None else str

    def problem_page(
        self, request: Request, status: int, problems: tuple[Problem, ...] | list[Problem]
    ) -> Response:
        """The page that says what to put right."""
        q = plain_question(request)
        back = request.url.path if request.method == "GET" and q.pairs() else ""
        return self.page(
            request,
            "problem.html",
            q=q,
            status=status,
            title=replies.title_of(status),
            problems=problems,
            status_code=status,
            back=back,
        )


def plain_question(request: Request) -> Question:
    """Only how pages are shown, whatever else the address says."""
    shown = [(k, v) for k, v in request.query_params.multi_items() if k in ("units", "room")]
    try:
        return Question.read(shown)
    except SparewattError:
        return Question()


def site_of(request: Request) -> Site:
    """The site a request came to."""
    site = request.app.state.site
    assert isinstance(site, Site)
    return site


async def work(job: Callable[[], T]) -> T:
    """Run a job in a thread; when the asker is gone or the time is up, nobody waits for it."""
    return await anyio.to_thread.run_sync(job, abandon_on_cancel=True)
