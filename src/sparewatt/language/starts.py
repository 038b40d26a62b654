"""What a typed script says of the start: who rides, from rest or already riding, what is on, which gear, how hard."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache

from sparewatt.language.lexer import Token, joined
from sparewatt.language.names import CHARGE, Look, Names, find, fold, gear_of
from sparewatt.language.phrases import compiled, encoded, slot
from sparewatt.language.times import Trouble
from sparewatt.language.vocabulary import vocabulary

__all__ = ["STARTS_LIKE", "start_said"]

STARTS_LIKE = '"from rest", "riding at 60 rpm", "with the load on", "in third gear", "at 100 W", "for 30 s"'


@cache
def _leads() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((kind, re.compile(compiled(text))) for kind, text in vocabulary().scene.leads)


def start_said(tokens: Sequence[Token], names: Names) -> tuple[dict[str, object], Trouble | None] | None:
    """What these marks say of the start, as fields of a Start, or one thing that cannot be used; None: they do not."""
    line, places = encoded(tokens)
    said: dict[str, object] = {}
    at = 0
    while at < len(line):
        got, end = _first(line, at, tokens, places, names)
        if got is None:
            return None
        if isinstance(got, Trouble):
            return said, got
        if _clash(said, got):
            return said, Trouble(tuple(tokens), "this says two things about the same.", "say it once")
        said |= got
        at = end
    return (said, None) if said else None


def _first(
    line: str, at: int, tokens: Sequence[Token], places: list[tuple[int, int]], names: Names
) -> tuple[dict[str, object] | Trouble | None, int]:
    """What the first phrase that fits here gives, and where it ends."""
    trouble: Trouble | None = None
    for kind, pattern in _leads():
        match = pattern.match(line, at)
        if match is None or match.end() == at:
            continue
        got = _taken(kind, match, tokens, places, names)
        if not isinstance(got, Trouble):
            return got, match.end()
        if (
            kind not in ("who", "along") or got.near or len(got.tokens) == 1
        ):  # any words may stand before "rides"
            trouble = trouble or got
    return trouble, at


def _clash(said: dict[str, object], more: dict[str, object]) -> bool:
    return any(key in said and said[key] != value for key, value in more.items())


def _taken(
    kind: str, match: re.Match[str], tokens: Sequence[Token], places: list[tuple[int, int]], names: Names
) -> dict[str, object] | Trouble:
    """The fields one phrase gives."""

    def said(*labels: str) -> tuple[Token, ...]:
        return next((got for label in labels if (got := slot(match, label, tokens, places))), ())

    plain: dict[str, dict[str, object]] = {
        "rest": {"start": "rest"},
        "riding": {"start": "riding"},
        "charge": {"load": CHARGE},
        "open": {},
    }
    if kind in plain:
        return plain[kind]
    if kind in ("along", "who"):
        person = find(joined(said("who", "one")), names.riders, "rider")
        return _named(
            "rider", person, said("who", "one"), names.riders, {"start": "riding"} if kind == "along" else {}
        )
    if kind in ("on", "off", "load"):
        load = find(joined(said("load")), names.loads, "load")
        return _named(
            "load", load, said("load"), names.loads, {} if kind == "load" else {"switched_on": kind == "on"}
        )
    if kind == "gear":
        return _gear(match, said("g", "o", "n"), tokens, names)
    value = said("w", "r", "s")[0].value
    amounts: dict[str, dict[str, object]] = {
        "cadence": {"cadence": value, "holds": "cadence"},
        "turns": {"cadence": value},
        "power": {"effort": value, "holds": "power"},
        "effort": {"effort": value, "holds": "effort"},
        "watts": {"effort": value},
        "time": {"duration": value},
    }
    return amounts[kind]


def _named(
    key: str, look: Look, said: tuple[Token, ...], known: Sequence[str], more: dict[str, object]
) -> dict[str, object] | Trouble:
    if look.name:
        return {key: look.name, **more}
    near = f'did you mean "{look.near}"? ' if look.near else ""
    return Trouble(said, look.why, f"{near}{key}s here: {', '.join(known)}", near=bool(near))


def _gear(
    match: re.Match[str], said: tuple[Token, ...], tokens: Sequence[Token], names: Names
) -> dict[str, object] | Trouble:
    words = frozenset(match.group().split())
    if "single" in words:
        ok = fold(names.gears[0]) == "single" or len(names.gears) == 1
        return {"gear": names.gears[0]} if ok else Trouble(tuple(tokens), "this rig has several gears.", "")
    look = gear_of({said[0].kind: said} if said else {}, words, names)
    return _named("gear", look, said or tuple(tokens), names.gears, {})
