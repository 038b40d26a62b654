"""The drawings of `present.drawings`, ready to stand in a page or to leave it as a file. Only names are joined here."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import partial
from html import escape
from importlib import import_module
from typing import Any

from markupsafe import Markup

from sparewatt.parts import Rig
from sparewatt.present.drawings import chain, leg, room
from sparewatt.present.numbers import rpm
from sparewatt.studies.answers import MatchAnswer, Room

__all__ = ["ALL", "charge_curve", "match_pictures", "names", "receipt", "standalone"]

NARROW = 344  # px: a phone held upright, less its margins
ALL = {"chain": "Where the watts go", "legs": "Leg picture", "room": "Room to ride in"}
_STYLE = re.compile(r'(<svg [^>]*?) style="[^"]*"')


def _inked(svg: str) -> Markup:
    """A drawing without inline style, which the page's policy forbids; its classes carry everything."""
    return Markup(_STYLE.sub(r"\1", svg, count=1))  # noqa: S704  (present.drawings escapes every text it draws)


def match_pictures(study: MatchAnswer, rig: Rig, *, inch: bool = False) -> dict[str, Any]:
    """The drawings of the match page, wide and narrow, each with its sentence; no chain when nothing flows."""
    links = study.chain
    return {
        "chain": _inked(chain.chain(links, rig=rig, inch=inch))
        + _inked(chain.chain_upright(links, rig=rig, inch=inch))
        if links
        else Markup(""),
        "chain_says": chain.caption(links) if links else "",
        "legs": _inked(leg.leg_picture(study, inch=inch))
        + _inked(leg.leg_picture(study, inch=inch, wide=NARROW, key="leg-n", cls="dw-narrow")),
        "legs_says": leg.caption(study),
        "room": _room(study.room, 520, "room", "dw-wide") + _room(study.room, NARROW, "room-n", "dw-narrow"),
        "room_says": room.caption(study.room),
    }


def _room(r: Room, wide: float, key: str, cls: str) -> Markup:
    """The room with a place to press over every cell."""
    svg = room.room_to_ride(r, wide=wide, key=key, cls=cls)
    if r.cells.size:
        seats = room._Room(r, wide, key)
        cells = "".join(
            f'<rect class="press-cell" x="{seats.x(k):.1f}" y="{seats.y(g):.1f}"'
            f' width="{seats.cell:.1f}" height="{seats.row:.1f}"'
            f' data-gear="{escape(gear)}" data-cadence="{rpm(float(w))}"{" data-chosen" if r.chosen == (g, k) else ""}/>'
            for g, gear in enumerate(r.gears)
            for k, w in enumerate(r.cadence)
        )
        svg = svg.replace("</svg>", f"{cells}</svg>")
    return _inked(svg)


def receipt(row: Any) -> Markup:
    """The food-to-light receipt of one load."""
    return _optional("receipt", "receipt", row)


def charge_curve(plan: Any) -> Markup:
    """How a battery fills while legs charge it."""
    return _optional("charge", "charge_curve", plan)


def _optional(module: str, function: str, result: Any) -> Markup:
    try:
        draw: Callable[..., str] = getattr(import_module(f"sparewatt.present.drawings.{module}"), function)
    except (ImportError, AttributeError):
        return Markup("")
    return _inked(draw(result))


def names(study: MatchAnswer) -> list[tuple[str, str]]:
    """(stem of the file, what it is) of every drawing there is for an answer."""
    return [(stem, words) for stem, words in ALL.items() if stem != "chain" or study.chain]


def standalone(stem: str, study: MatchAnswer, rig: Rig) -> str:
    """A drawing with its own colours, for paper or another program."""
    draw: dict[str, Callable[[], str]] = {
        "chain": partial(chain.chain, study.chain, rig=rig, standalone=True),
        "legs": partial(leg.leg_picture, study, standalone=True),
        "room": partial(room.room_to_ride, study.room, standalone=True),
    }
    return draw[stem]()
