"""Colours and the few classes that every drawing is made of: warm paper, the dark room, and one-colour print.

A drawing carries class names only. On a page the stylesheet of `page_css` gives them their colours from custom
properties, so one drawing serves light, dark and print. A drawing that leaves the page (file, PDF) carries its own
`file_css`, with the colours written out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields

__all__ = ["DARK", "FONT", "LIGHT", "PRINT", "Palette", "file_css", "page_css", "room_class"]

FONT = "Atkinson Hyperlegible Next"
WIDER, WIDEST = 40, 1280  # px: steps of the widths a drawing may grow to on a page, and the last of them
FALLBACK = "'Segoe UI', 'DejaVu Sans', Verdana, sans-serif"


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """One way to ink a drawing. Every value is a CSS colour."""

    paper: str
    ink: str
    soft: str  # second voice: axis words, facts
    rule: str  # hairlines that only divide
    accent: str  # what binds, what is chosen, what can hurt
    toll: str  # the watts a link keeps
    sand: str  # what flows or is allowed
    band: str  # the legs' 90 % band, under a line


LIGHT = Palette(
    paper="#f7f2e7", ink="#1d2a30", soft="#546164", rule="#c9bfa9",
    accent="#b8401c", toll="#c8694a", sand="#e2d3ab", band="#e2d3ab",
)  # fmt: skip
DARK = Palette(
    paper="#14110d", ink="#f0c98d", soft="#b8986a", rule="#4a3c28",
    accent="#ff7a4d", toll="#c4552e", sand="#44341a", band="#3a2d18",
)  # fmt: skip
PRINT = Palette(
    paper="#ffffff", ink="#000000", soft="#000000", rule="#9a9a9a",
    accent="#000000", toll="#000000", sand="#d4d4d4", band="#d4d4d4",
)  # fmt: skip

# class -> declarations; {name} stands for a colour of the palette.
_RULES = {
    "dt": "fill:{ink}",
    "dt-soft": "fill:{soft}",
    "dt-acc": "fill:{accent}",
    "dt-paper": "fill:{paper}",
    "dl": "stroke:{ink};fill:none",
    "dl-soft": "stroke:{soft};fill:none",
    "dl-rule": "stroke:{rule};fill:none",
    "dl-acc": "stroke:{accent};fill:none",
    "dl-toll": "stroke:{toll};fill:none",
    "dl-paper": "stroke:{paper};fill:none",
    "df-ink": "fill:{ink};stroke:none",
    "df-soft": "fill:{soft};stroke:none",
    "df-paper": "fill:{paper};stroke:none",
    "df-sand": "fill:{sand};stroke:none",
    "df-band": "fill:{band};stroke:none",
    "df-acc": "fill:{accent};stroke:none",
    "df-toll": "fill:{toll};stroke:none",
    "ds-ring": "fill:{paper};stroke:{ink}",
    "ds-box": "fill:{paper};stroke:{ink}",
    "ds-boxacc": "fill:{paper};stroke:{accent}",
}


def _names() -> tuple[str, ...]:
    return tuple(f.name for f in fields(Palette))


def variables(palette: Palette) -> str:
    """The palette as CSS custom properties, without a selector."""
    return "".join(f"--{name}:{getattr(palette, name)};" for name in _names())


def page_css() -> str:
    """Stylesheet of a page with drawings: properties for light, `data-room="dark"`, a dark system setting, and print."""
    as_variables = {name: f"var(--{name})" for name in _names()}
    rules = "\n".join(f".{name}{{{body.format(**as_variables)}}}" for name, body in _RULES.items())
    rooms = "".join(f".{room_class(wide)}{{--dw-room:{wide}px}}" for wide in range(WIDER, WIDEST + 1, WIDER))
    return (
        f":root{{{variables(LIGHT)}color-scheme:light}}\n"
        f"@media (prefers-color-scheme:dark){{:root:not([data-room=light]){{{variables(DARK)}color-scheme:dark}}}}\n"
        f":root[data-room=dark]{{{variables(DARK)}color-scheme:dark}}\n"
        # paper is white whatever the room: this outweighs the rules for a dark system and a dark room
        f"@media print{{:root:root:root{{{variables(PRINT)}color-scheme:light}}}}\n"
        f".dw{{display:block;width:100%;max-width:var(--dw-room,none);height:auto;font-family:'{FONT}',{FALLBACK}}}\n"
        ".dw-inline{display:inline-block;vertical-align:-0.1em;width:auto}\n"
        ".dw-narrow{display:none;max-width:27rem}\n"
        "@media (max-width:56rem){.dw-wide{display:none}.dw-narrow{display:block}}\n"
        f"{rooms}\n{rules}\n"
    )


def room_class(wide: float) -> str:
    """The class that says how wide a drawing of this many px may grow on a page; there may be no inline style there."""
    return f"dw-{min(math.ceil(wide / WIDER), WIDEST // WIDER)}"


def file_css(palette: Palette) -> str:
    """Stylesheet carried inside one drawing: no properties, so that any SVG program can read it."""
    colours = {name: getattr(palette, name) for name in _names()}
    rules = "".join(f".{name}{{{body.format(**colours)}}}" for name, body in _RULES.items())
    return f".dw{{font-family:'{FONT}',{FALLBACK}}}{rules}"
