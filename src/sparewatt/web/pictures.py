"""The drawings of `present.drawings`, ready to stand in a page or to leave it as a file. Only names are joined here."""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import partial
from html import escape
from typing import Any

from markupsafe import Markup

from sparewatt.parts import Rig
from sparewatt.present.drawings import bouts, chain, charge, edges, leg, receipt, room, wiring
from sparewatt.present.drawings import shares as shares_bar
from sparewatt.present.numbers import rpm
from sparewatt.studies.answers import Bout, ChargePlan, MatchAnswer, Room, Shares, WorthRow

__all__ = [
    "ALL",
    "bout_picture",
    "charge_picture",
    "edges_picture",
    "match_pictures",
    "names",
    "receipt_picture",
    "shares_picture",
    "standalone",
    "wiring_picture",
]

NARROW = 344  # px: a phone held upright, less its margins
ALL = {"chain": "Where the watts go", "legs": "Leg picture", "room": "Room to ride in", "wiring": "Wiring"}


def _inked(svg: str) -> Markup:
    """A drawing for a page: `present.drawings` escapes every text it draws."""
    return Markup(svg)  # noqa: S704


def match_pictures(
    study: MatchAnswer,
    rig: Rig,
    *,
    inch: bool = False,
    see: str = "both",
    drawn: Collection[str] = ("chain", "legs", "room"),
) -> dict[str, Any]:
    """The drawings of the match page, each with its sentence; no chain when nothing flows.

    see: "wide", "narrow", or "both", of which the stylesheet shows the one that fits; drawn: which of them are wanted.
    """
    links = study.chain
    found: dict[str, Any] = {}
    if "chain" in drawn:
        along = _inked(chain.chain(links, rig=rig, inch=inch)) if links and see != "narrow" else ""
        upright = _inked(chain.chain_upright(links, rig=rig, inch=inch)) if links and see != "wide" else ""
        found |= {"chain": Markup("") + along + upright, "chain_says": chain.caption(links) if links else ""}
    if "legs" in drawn:
        wide = _inked(leg.leg_picture(study, inch=inch)) if see != "narrow" else ""
        how: dict[str, Any] = {"inch": inch, "wide": NARROW, "key": "leg-n", "cls": "dw-narrow"}
        narrow = _inked(leg.leg_picture(study, **how)) if see != "wide" else ""
        found |= {"legs": Markup("") + wide + narrow, "legs_says": leg.caption(study)}
    if "room" in drawn:
        wide = _room(study.room, 520, "room", "dw-wide") if see != "narrow" else ""
        narrow = _room(study.room, NARROW, "room-n", "dw-narrow") if see != "wide" else ""
        # where it is closed the drawing itself says so
        closed = study.room.cells.size > 0 and not (study.room.cells == 0).any()
        found |= {"room": Markup("") + wide + narrow, "room_says": "" if closed else room.caption(study.room)}
    return found


def _room(r: Room, wide: float, key: str, cls: str) -> Markup:
    """The room with a place to press over every cell."""
    svg = room.room_to_ride(r, wide=wide, key=key, cls=cls)
    names = [escape(gear) for gear in r.gears]
    turns = [rpm(float(w)) for w in r.cadence]
    cells = "".join(
        f'<rect class="press-cell" x="{x:.1f}" y="{y:.1f}" width="{across:.1f}" height="{tall:.1f}"'
        f' data-gear="{names[g]}" data-cadence="{turns[k]}"{" data-chosen" if r.chosen == (g, k) else ""}/>'
        for g, k, x, y, across, tall in room.cell_boxes(r, wide=wide)
    )
    return _inked(svg.replace("</svg>", f"{cells}</svg>"))


def shares_picture(shares: Shares) -> tuple[Markup, str]:
    """How rigs on one bus share, and its sentence."""
    return _inked(shares_bar.shares_bar(shares)), shares_bar.caption(shares)


def receipt_picture(row: WorthRow, number: int) -> tuple[Markup, str]:
    """What one use of a load costs the legs, and its sentence; `number` keeps the drawings of a page apart."""
    return _inked(receipt.worth_receipt(row, key=f"receipt-{number}")), receipt.caption(row)


def charge_picture(plan: ChargePlan) -> tuple[Markup, str]:
    """How a battery fills while legs charge it, wide and narrow, and its sentence."""
    narrow = charge.charge_curve(plan, wide=NARROW, key="charge-n", cls="dw-narrow")
    return _inked(charge.charge_curve(plan)) + _inked(narrow), charge.caption(plan)


def edges_picture(study: MatchAnswer) -> tuple[Markup, str] | None:
    """What legs, machine and board could each pass at every cadence; None where nothing comes through at any."""
    curves = study.edge_curves
    if curves is None or not edges.drawable(curves):
        return None
    narrow = edges.edges_picture(curves, wide=NARROW, key="edges-n", cls="dw-narrow")
    return _inked(edges.edges_picture(curves)) + _inked(narrow), edges.caption(curves)


def bout_picture(bout: Bout, number: int) -> tuple[Markup, str] | None:
    """The reserve over the first bouts and breathers; None when there is nothing to draw."""
    if len(bout.points) < 2:
        return None
    narrow = bouts.bout_saw(bout, wide=NARROW, key=f"bout-n{number}", cls="dw-narrow")
    return _inked(bouts.bout_saw(bout, key=f"bout-{number}")) + _inked(narrow), bouts.caption(bout)


def wiring_picture(rig: Rig, *, inch: bool = False) -> tuple[Markup, str]:
    """Two rails with every fuse where it belongs, wide and narrow, and its sentence."""
    along, upright = (
        wiring.wiring(rig, inch=inch, cls="dw-wide"),
        wiring.wiring(rig, upright=True, inch=inch, cls="dw-narrow"),
    )
    return _inked(along) + _inked(upright), wiring.caption(rig)


def names(study: MatchAnswer) -> list[tuple[str, str]]:
    """(stem of the file, what it is) of every drawing there is for an answer."""
    return [(stem, words) for stem, words in ALL.items() if stem != "chain" or study.chain]


def standalone(stem: str, study: MatchAnswer, rig: Rig) -> str:
    """A drawing with its own colours, for paper or another program."""
    draw: dict[str, Callable[[], str]] = {
        "chain": partial(chain.chain, study.chain, rig=rig, standalone=True),
        "legs": partial(leg.leg_picture, study, standalone=True),
        "room": partial(room.room_to_ride, study.room, standalone=True),
        "wiring": partial(wiring.wiring, rig, standalone=True),
    }
    return draw[stem]()
