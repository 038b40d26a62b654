"""Small ink drawings of the parts, so that the chain looks like the rig on the floor. Each has its name beside it."""

from __future__ import annotations

import math
from collections.abc import Callable

from sparewatt.parts import Rig
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.rig.outcome import Link

__all__ = ["HIGH", "WIDE", "sketch", "sketch_kind"]

WIDE, HIGH = 52.0, 44.0  # the box a sketch stays in; it stands on its lower edge
Drawer = Callable[[Canvas, float, float], None]


def sketch(canvas: Canvas, kind: str, x: float, y: float) -> None:
    """Draw a part centred on x, standing on y."""
    _DRAWERS.get(kind, _box)(canvas, x, y)


def sketch_kind(link: Link, rig: Rig | None) -> str:
    """Which drawing fits a link: by the kind in the rig file, else by its key and name."""
    key = link.key
    if key.startswith("stage"):
        return _stage_kind(link, rig)
    if key == "load" and rig is not None:
        kinds = {load.name: load.kind for load in rig.load}
        return "lamp" if kinds.get(link.name) in ("led", "lamp") else "plug"
    if key in ("wire", "battery wire", "load wire"):
        return "wire"
    if key == "load board":
        return "inverter" if "invert" in link.name.casefold() else "board"
    return key


def _stage_kind(link: Link, rig: Rig | None) -> str:
    number = link.key.removeprefix("stage").strip()
    if rig is not None and number.isdigit() and 0 < int(number) <= len(rig.stage):
        kind = rig.stage[int(number) - 1].kind
        return "belt" if kind.endswith("belt") else kind
    name = link.name.casefold()
    for word, kind in (
        ("roller", "roller"),
        ("belt", "belt"),
        ("chain", "chain"),
        ("rim", "rim_wheel"),
        ("gear", "gears"),
    ):
        if word in name:
            return kind
    return "chain"


def _loop(c: Canvas, x: float, y: float, dash: str) -> None:
    """Two wheels and what runs round both."""
    big, small, apart = 14.0, 7.0, 24.0
    x1, x2, yc = x - 11, x - 11 + apart, y - big - 2
    lean = math.asin((big - small) / apart)
    c.ring(x1, yc, big - 3, "dl", 2)
    c.ring(x2, yc, small - 3, "dl", 2)
    for side in (-1, 1):
        dx, dy = math.sin(lean), side * math.cos(lean)
        c.line(x1 + big * dx, yc + big * dy, x2 + small * dx, yc + small * dy, "dl", 2, dash)
    sx, sy = math.sin(lean), math.cos(lean)
    c.path(
        f"M{x1 + big * sx:.1f} {yc - big * sy:.1f}A{big} {big} 0 1 0 {x1 + big * sx:.1f} {yc + big * sy:.1f}",
        "dl",
        2,
        dash,
    )
    c.path(
        f"M{x2 + small * sx:.1f} {yc - small * sy:.1f}A{small} {small} 0 0 1 {x2 + small * sx:.1f} {yc + small * sy:.1f}",
        "dl",
        2,
        dash,
    )


def _legs(c: Canvas, x: float, y: float) -> None:
    """A thigh, a shin and a foot on a crank."""
    xc, yc = x - 1, y - 12
    c.path(f"M{x - 24} {y - 40}H{x - 12}", "dl", 3.5)  # saddle
    c.ring(xc, yc, 10, "ds-ring", 2)
    c.line(xc, yc, xc + 12, yc - 5, "dl", 3)
    c.path(
        f"M{x - 16} {y - 38}L{x + 11} {y - 37}L{xc + 9} {yc - 8}L{xc + 19} {yc - 7}", "dl", 4, join="round"
    )


def _roller(c: Canvas, x: float, y: float) -> None:
    """A tyre pressed on a small roller."""
    xc, yc = x - 4, y - 26
    c.ring(xc, yc, 16, "dl", 4)
    for k in range(3):
        a = 0.3 + k * math.pi / 3
        dx, dy = 13 * math.cos(a), 13 * math.sin(a)
        c.line(xc - dx, yc - dy, xc + dx, yc + dy, "dl", 1.5)
    c.ring(x + 15, y - 7, 5.5, "ds-ring", 2.5)
    c.line(x + 15, y - 7, x + 26, y - 7, "dl", 2.5)


def _rim_wheel(c: Canvas, x: float, y: float) -> None:
    c.ring(x - 6, y - 19, 17, "dl", 2)
    for k in range(6):
        a = k * math.pi / 3
        c.line(x - 6, y - 19, x - 6 + 17 * math.cos(a), y - 19 + 17 * math.sin(a), "dl", 1.5)
    c.ring(x + 17, y - 19, 5, "ds-ring", 2.5)


def _gears(c: Canvas, x: float, y: float) -> None:
    for xc, radius in ((x - 9, 14.0), (x + 15, 8.0)):
        c.ring(xc, y - 19, radius - 2, "dl", 2)
        c.raw(
            f'<circle class="dl" cx="{xc:.1f}" cy="{y - 19:.1f}" r="{radius}" stroke-width="4" stroke-dasharray="3 2.9"/>'
        )


def _flywheel(c: Canvas, x: float, y: float) -> None:
    c.ring(x, y - 21, 16, "dl", 6)
    c.ring(x, y - 21, 3.5, "dl", 2)
    for side in (-1, 1):
        c.line(x, y - 21 + side * 4, x, y - 21 + side * 14, "dl", 2)


def _machine(c: Canvas, x: float, y: float) -> None:
    c.rect(x - 16, y - 34, 34, 28, "ds-box", 2.5)
    c.line(x - 26, y - 20, x - 16, y - 20, "dl", 4)
    c.line(x + 8, y - 34, x + 8, y - 6, "dl", 2)
    c.path(f"M{x - 12} {y - 6}L{x - 15} {y - 1}H{x - 5}M{x + 14} {y - 6}L{x + 17} {y - 1}H{x + 7}", "dl", 2.5)
    c.line(x - 11, y - 27, x + 3, y - 27, "dl", 1.5)
    c.line(x - 11, y - 20, x + 3, y - 20, "dl", 1.5)
    c.line(x - 11, y - 13, x + 3, y - 13, "dl", 1.5)


def _field(c: Canvas, x: float, y: float) -> None:
    """A coil round an iron core."""
    c.rect(x - 26, y - 25, 52, 10, "ds-box", 2.5)
    for k in range(4):
        at = x - 15 + 10 * k
        c.path(f"M{at:.1f} {y - 13:.1f}C{at - 7:.1f} {y - 4:.1f} {at - 7:.1f} {y - 36:.1f} {at:.1f} {y - 36:.1f}"
               f"S{at + 7:.1f} {y - 20:.1f} {at + 4:.1f} {y - 13:.1f}", "dl", 2.5)  # fmt: skip
    c.path(f"M{x - 17:.1f} {y - 12:.1f}V{y - 2:.1f}M{x + 17:.1f} {y - 12:.1f}V{y - 2:.1f}", "dl", 2.5)


def _diode(c: Canvas, x: float, y: float) -> None:
    yc = y - 20
    c.line(x - 25, yc, x - 9, yc)
    c.line(x + 9, yc, x + 25, yc)
    c.path(f"M{x - 9} {yc - 11}L{x + 9} {yc}L{x - 9} {yc + 11}Z", "ds-box", 2.5)
    c.line(x + 9, yc - 12, x + 9, yc + 12, "dl", 3)


def _wire(c: Canvas, x: float, y: float) -> None:
    for dy in (-25, -14):
        c.path(f"M{x - 19} {y + dy}C{x - 8} {y + dy - 9} {x + 8} {y + dy + 9} {x + 19} {y + dy}", "dl", 2.5)
        c.ring(x - 22, y + dy, 3, "dl", 2)
        c.ring(x + 22, y + dy, 3, "dl", 2)


def _board(c: Canvas, x: float, y: float) -> None:
    c.rect(x - 24, y - 34, 48, 30, "ds-box", 2.5)
    c.ring(x - 11, y - 19, 8, "dl", 3.5)
    c.rect(x + 3, y - 16, 14, 8, "df-ink")
    for dx in (6, 15):
        c.ring(x + dx, y - 26, 3.5, "dl", 1.5)
        c.line(x + dx - 3, y - 29, x + dx + 3, y - 23, "dl", 1.5)


def _inverter(c: Canvas, x: float, y: float) -> None:
    c.rect(x - 24, y - 34, 48, 30, "ds-box", 2.5)
    c.path(
        f"M{x - 15} {y - 19}C{x - 10} {y - 35} {x - 5} {y - 35} {x} {y - 19}S{x + 10} {y - 3} {x + 15} {y - 19}",
        "dl",
        2.5,
    )


def _battery(c: Canvas, x: float, y: float) -> None:
    c.rect(x - 23, y - 30, 46, 28, "ds-box", 2.5)
    c.rect(x - 16, y - 36, 9, 6, "df-ink")
    c.rect(x + 7, y - 36, 9, 6, "df-ink")
    c.line(x - 16, y - 20, x - 7, y - 20, "dl", 2)
    c.path(f"M{x + 7} {y - 20}H{x + 16}M{x + 11.5} {y - 24.5}V{y - 15.5}", "dl", 2)


def _lamp(c: Canvas, x: float, y: float) -> None:
    c.path(f"M{x - 6} {y - 13}C{x - 6} {y - 19} {x - 13} {y - 21} {x - 13} {y - 30}A13 13 0 0 1 {x + 13} {y - 30}"
           f"C{x + 13} {y - 21} {x + 6} {y - 19} {x + 6} {y - 13}Z", "ds-box", 2.5)  # fmt: skip
    c.rect(x - 6, y - 12, 12, 9, "df-ink")


def _plug(c: Canvas, x: float, y: float) -> None:
    c.path(f"M{x - 24} {y - 19}H{x - 12}", "dl", 3)
    c.path(f"M{x - 12} {y - 31}H{x + 4}L{x + 10} {y - 26}V{y - 12}L{x + 4} {y - 7}H{x - 12}Z", "ds-box", 2.5)
    for dy in (-24, -14):
        c.line(x + 10, y + dy, x + 22, y + dy, "dl", 3)


def _box(c: Canvas, x: float, y: float) -> None:
    c.rect(x - 18, y - 32, 36, 28, "ds-box", 2.5)


def _chain(c: Canvas, x: float, y: float) -> None:
    _loop(c, x, y, "4 2")


def _belt(c: Canvas, x: float, y: float) -> None:
    _loop(c, x, y, "")


def _direct(c: Canvas, x: float, y: float) -> None:
    c.line(x - 25, y - 20, x + 25, y - 20, "dl", 4)
    c.rect(x - 9, y - 29, 18, 18, "ds-box", 2.5)


_DRAWERS: dict[str, Drawer] = {
    "legs": _legs,
    "chain": _chain,
    "belt": _belt,
    "gears": _gears,
    "roller": _roller,
    "rim_wheel": _rim_wheel,
    "direct": _direct,
    "flywheel": _flywheel,
    "machine": _machine,
    "field": _field,
    "diode": _diode,
    "wire": _wire,
    "board": _board,
    "inverter": _inverter,
    "battery": _battery,
    "lamp": _lamp,
    "plug": _plug,
}
