"""The wiring sketch of a rig, drawn from its circuit: boards side by side on the bus, each load on a line of its own.

A fuse that the file does not give, but a battery asks for, is drawn broken in accent. The sketch shows what hangs on what,
not where to drill; local codes and a licensed electrician come before it.
"""

from __future__ import annotations

import math

from sparewatt.parts import Rig, Wire
from sparewatt.present.drawings.canvas import Canvas, num
from sparewatt.present.drawings.symbols import Sheet
from sparewatt.present.drawings.wiring_parts import MISSING, Part, Sketch, sketch_of
from sparewatt.present.drawings.wiring_plan import BOARD, HANG, STUB, Placed, Plan, along, down_the_page
from sparewatt.present.numbers import amount
from sparewatt.present.palette import PRINT, Palette
from sparewatt.rig.circuit import MINUS, circuit_of

__all__ = ["caption", "fitted", "parts_of", "wiring"]

STEPS = (76.0, 112.0)  # px along, one part: least and most
ROOM = 1080.0  # px: as wide as a page lets it be drawn
PHONE = 344.0  # px: an upright sketch
TOP = 8.0
IN_LINE = ("diode", "fuse", "switch", "socket")
BOARDS = ("board", "inverter")


def wiring(
    rig: Rig,
    *,
    upright: bool = False,
    wide: float = ROOM,
    inch: bool = False,
    key: str = "",
    cls: str = "",
    standalone: bool = False,
    palette: Palette = PRINT,
) -> str:
    """The sketch, laid along for a desk or upright for a phone."""
    sketch = sketch_of(rig, inch=inch)
    key = key or ("wires-up" if upright else "wires")
    plan = down_the_page(sketch, PHONE) if upright else along(sketch, wide, STEPS)
    canvas = Canvas(
        max(plan.wide, PHONE if upright else 400.0), plan.high + TOP,
        key=key, title=f"Wiring of {rig.name}", desc=_long_text(sketch, rig, inch),
    )  # fmt: skip
    _draw(canvas, plan)
    return canvas.svg(
        standalone=standalone, palette=palette, cls=cls or ("dw-narrow" if upright else "dw-wide")
    )


def fitted(rig: Rig, across: float, down: float, *, inch: bool = False) -> str:
    """The sketch for a page, laid along or upright, whichever comes out larger on a space of these proportions."""
    sketch = sketch_of(rig, inch=inch)
    sizes = [(p.wide, p.high + TOP) for p in (along(sketch, ROOM, STEPS), down_the_page(sketch, PHONE))]
    laid, stood = (min(across / wide, down / high) for wide, high in sizes)
    return wiring(rig, upright=stood > laid, inch=inch, standalone=True)


def caption(rig: Rig) -> str:
    """The sentence under the sketch."""
    minus = "Each short thick bar is minus: one second wire joins them all."
    if any(part.kind == MISSING for part in parts_of(rig)):
        return f"A fuse is missing at the battery post: fit it before you join anything. The lines are plus. {minus}"
    fuses = (
        "Each fuse is drawn in the line where the file puts it." if rig.fuse else "The file gives no fuse."
    )
    return f"The lines are plus, and a dot is where they part. {minus} {fuses}"


def parts_of(rig: Rig, *, inch: bool = False) -> list[Part]:
    """Every part of the sketch, each once."""
    return list(sketch_of(rig, inch=inch).parts)


def _draw(canvas: Canvas, plan: Plan) -> None:
    for (x1, y1), (x2, y2) in plan.wires:
        canvas.open(wire=f"{num(x1)},{num(y1)} {num(x2)},{num(y2)}")
        canvas.line(x1, y1, x2, y2, "dl", 2.5)
        canvas.close()
    for x, y in sorted(set(plan.joints)):
        canvas.ring(x, y, 4, "df-ink", 0)
    for one in plan.placed:
        part = one.part
        canvas.open(
            ", ".join(part.words),
            part=part.key, branch=part.branch, net=" | ".join(part.nets),
            at=" ".join(f"{num(x)},{num(y)}" for x, y in one.at) if part.key else "",
            wire="" if part.key else " ".join(f"{num(x)},{num(y)}" for x, y in one.at),
        )  # fmt: skip
        _symbol(canvas, one)
        cls = "dt-acc" if part.accent else "dt"
        canvas.lines(*one.text, one.words, step=18, bold=part.accent, cls=cls, anchor=one.anchor)
        canvas.close()


def _symbol(canvas: Canvas, one: Placed) -> None:
    """The part between its terminals."""
    kind, (x, y) = one.part.kind, one.at[0]
    line = kind in (*IN_LINE, *BOARDS, MISSING)
    sheet = Sheet(canvas, one.down and line)
    if line:
        a, b = (y, x) if one.down else (x, y)
        long = abs(one.at[1][0] - x) + abs(one.at[1][1] - y)
        if kind in BOARDS:
            sheet.board(a, b, long, STUB, ac=kind == "inverter")
            sheet.minus(a + long / 2, b + BOARD + STUB, across=not one.down)
        elif kind in ("fuse", MISSING):
            sheet.fuse(a, b, long, missing=kind == MISSING)
        else:
            getattr(sheet, kind)(a, b, long)
        return
    if kind == "plug":
        sheet.plug(x, y)
        return
    _across(sheet, kind, x, y, y + HANG)
    sheet.minus(x, y + HANG)


def _across(sheet: Sheet, kind: str, a: float, b1: float, b2: float) -> None:
    if kind == "machine":
        sheet.machine(a, b1, b2)
        sheet.canvas.text(a, (b1 + b2) / 2 + 8, "G", size=23, bold=True, anchor="middle")
    elif kind in ("clamp", "resistor"):
        sheet.resistor(a, b1, b2, switched=kind == "clamp")
    else:
        {"battery": sheet.battery, "capacitor": sheet.capacitor, "lamp": sheet.lamp}.get(kind, sheet.load)(
            a, b1, b2
        )


def _long_text(sketch: Sketch, rig: Rig, inch: bool) -> str:
    """What hangs on what, in words: each line with its parts and what it ends in."""
    circuit = circuit_of(rig)
    said = []
    for branch in circuit.branches:
        wires = [_wire(p.part, inch) for p in branch.wires if isinstance(p.part, Wire)]
        parts = [", ".join(p.words) for p in sketch.parts if p.branch == branch.name]
        if parts or wires:
            said.append(f"{branch.start} to {branch.end}: {'; '.join([*parts, *wires])}")
    hung = [f"{', '.join(p.words)} at {p.nets[0]}" for p in sketch.parts if p.nets[1:] == (MINUS,)]
    missing = " A fuse is missing at the battery." if any(p.kind == MISSING for p in sketch.parts) else ""
    return f"{'. '.join(said)}. Between plus and minus: {'; '.join(hung)}.{missing}"


def _wire(wire: Wire, inch: bool) -> str:
    if wire.length is None or not math.isfinite(wire.length.value):
        return "wire"
    size = f" of {amount(wire.size.value, 'm^2').text}" if wire.size else ""
    return f"wire {amount(wire.length.value, 'm', inch=inch).text}{size}"
