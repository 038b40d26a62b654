"""How the app answers when something is to be put right: one body for machines, one page for people."""

from __future__ import annotations

import json
from collections.abc import MutableMapping, Sequence
from typing import Any

from sparewatt.errors import (
    BadRequest,
    BadRig,
    CannotWrite,
    ChangedElsewhere,
    NotFound,
    Problem,
    SparewattError,
)

__all__ = ["body", "json_bytes", "status_of", "title_of", "wants_json"]

_STATUS: tuple[tuple[type[SparewattError], int], ...] = (
    (BadRequest, 400),
    (BadRig, 400),
    (NotFound, 404),
    (ChangedElsewhere, 409),
    (CannotWrite, 503),
    (SparewattError, 400),
)
_TITLES = {
    400: "That does not fit yet",
    401: "A code is needed",
    403: "Not from there",
    404: "Nothing here by that name",
    405: "Not this way",
    409: "The file changed while you were looking",
    413: "Too much at once",
    421: "Not this address",
    429: "Too many tries",
    500: "Something broke on our side",
    503: "Not now",
}
JSON_PATHS = ("/api/", "/match/part", "/scene/part", "/mend/part", "/scene.json", "/openapi.json")


def status_of(reason: SparewattError) -> int:
    """The HTTP status of an error of the tree."""
    return next(status for kind, status in _STATUS if isinstance(reason, kind))


def title_of(status: int) -> str:
    """The heading of the page that goes with a status."""
    return _TITLES.get(status, "That did not work")


def body(problems: Sequence[Problem]) -> dict[str, object]:
    """The one JSON body."""
    return {"ok": False, "problems": [p.as_dict() for p in problems]}


def json_bytes(content: object) -> bytes:
    """JSON that never carries a number JSON has no word for."""
    return json.dumps(content, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode()


def wants_json(scope: MutableMapping[str, Any]) -> bool:
    """Is the asker a program? By the path, or by an Accept header that names JSON and not HTML."""
    if str(scope["path"]).startswith(JSON_PATHS):
        return True
    accept = b",".join(value for key, value in scope["headers"] if key == b"accept")
    return b"application/json" in accept and b"text/html" not in accept
