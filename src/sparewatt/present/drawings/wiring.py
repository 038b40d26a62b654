"""The wiring sketch of a rig: two rails from the machine to the loads, with every fuse where it belongs.

A fuse that the file does not give, but a battery asks for, is drawn broken in accent. The sketch shows the order of things,
not where to drill; local codes and a licensed electrician come before it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparewatt.parts import Converter, Fuse, Rig
from sparewatt.present.drawings.canvas import Canvas
from sparewatt.present.drawings.letters import wrap
from sparewatt.present.drawings.symbols import Sheet
from sparewatt.present.numbers import amount
from sparewatt.present.palette import PRINT, Palette

__all__ = ["caption", "parts_of", "wiring"]

STEPS = (76.0, 112.0)  # px along, one part: least and most
ROOM = 1080.0  # px: as wide as a page lets it be drawn
UP_STEP = 104.0
TOP, LOW = 92.0, 236.0  # the two rails when laid along
LEFT, RIGHT = 46.0, 166.0  # the two rails when upright


@dataclass(frozen=True, slots=True)
class Part:
    """One place along the rails: what stands there, and the words beside it."""

    kind: str  # a method of Sheet, or "fuse", "missing fuse"
    words: tuple[str, ...]
    accent: bool = False


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
    parts = parts_of(rig, inch=inch)
    key = key or ("wires-up" if upright else "wires")
    step = UP_STEP if upright else min(max((wide - 92) / len(parts), STEPS[0]), STEPS[1])
    long = 2 * 46 + step * len(parts)
    wide, high = (344.0, long) if upright else (max(long, 400.0), 366.0)
    canvas = Canvas(wide, high, key=key, title=f"Wiring of {rig.name}", desc=_long_text(parts, rig))
    _draw(Sheet(canvas, upright), parts, step)
    return canvas.svg(
        standalone=standalone, palette=palette, cls=cls or ("dw-narrow" if upright else "dw-wide")
    )


def caption(rig: Rig) -> str:
    """The sentence under the sketch."""
    missing = [part for part in parts_of(rig) if part.kind == "missing fuse"]
    if missing:
        return (
            "A fuse is missing at the battery post: fit it before you join anything. "
            "The sketch gives the order of the parts, plus on one rail, minus on the other."
        )
    order = "Plus on one rail, minus on the other, in the order in which the parts follow each other."
    fuses = (
        "Each fuse is drawn in the run of wire that the file gives it."
        if rig.fuse
        else "The file gives no fuse."
    )
    return f"{order} {fuses}"


def parts_of(rig: Rig, *, inch: bool = False) -> list[Part]:
    """The parts along the rails, in order from the machine to the loads."""
    found = [Part("machine", _named(rig.machine.name if rig.machine else "", "machine"))]
    if rig.diode is not None and rig.diode.kind != "none":
        rating = (amount(rig.diode.current_rating.value, "A").text,) if rig.diode.current_rating else ()
        found.append(Part("diode", (f"{rig.diode.kind} diode", *rating)))
    found += _in_wire(rig, "machine", inch)
    found += _bus(rig)
    found += [_board(board) for board in _boards(rig, at_load=False)]
    found += _in_wire(rig, "board", inch)
    if rig.battery is not None:
        own = [fuse for fuse in rig.fuse if fuse.run == "battery"]
        found += [_fuse(fuse, inch) for fuse in own] or [Part("missing fuse", ("fuse", "goes here"), True)]
        found += [part for part in _in_wire(rig, "battery", inch) if part.kind != "fuse"]
        found.append(Part("battery", (*_named(rig.battery.name, "battery"), _size(rig))))
    found += _in_wire(rig, "load", inch)
    found += [_board(board) for board in _boards(rig, at_load=True)]
    if rig.load:
        names = [load.name for load in rig.load]
        kind = "lamp" if all(load.kind in ("led", "lamp") for load in rig.load) else "load"
        found.append(
            Part(kind, tuple(names[:2]) + ((f"and {len(names) - 2} more",) if len(names) > 2 else ()))
        )
    return found


def _size(rig: Rig) -> str:
    battery = rig.battery
    if battery is None or battery.voltage is None or battery.capacity is None:
        return "size not known"
    return f"{amount(battery.voltage.value, 'V').text}, {amount(battery.capacity.value, 'C').text}"


def _named(name: str, plain: str) -> tuple[str, ...]:
    return (name or plain,)


def _in_wire(rig: Rig, run: str, inch: bool) -> list[Part]:
    """Fuses and switches of one run, fuse first."""
    found = [_fuse(fuse, inch) for fuse in rig.fuse if fuse.run == run]
    for switch in rig.switch:
        if switch.run == run:
            volts = (
                (f"{amount(switch.dc_voltage.value, 'V').text} direct",)
                if switch.dc_voltage
                else ("no DC volts printed",)
            )
            found.append(Part("switch", (switch.name or "switch", *volts)))
    return found


def _fuse(fuse: Fuse, inch: bool) -> Part:
    words = [f"fuse {amount(fuse.rating.value, 'A').text}" if fuse.rating else "fuse, amps not known"]
    if fuse.from_post is not None:
        words.append(f"{amount(fuse.from_post.value, 'm', inch=inch).text} from post")
    return Part("fuse", tuple(words))


def _bus(rig: Rig) -> list[Part]:
    found = []
    if rig.clamp is not None and rig.clamp.voltage is not None:
        words = [f"clamp at {amount(rig.clamp.voltage.value, 'V').text}"]
        words += [amount(rig.clamp.resistance.value, "ohm").text] if rig.clamp.resistance else []
        found.append(Part("clamp", tuple(words)))
    if rig.bus is not None and rig.bus.capacitance is not None:
        volts = f", {amount(rig.bus.capacitor_voltage.value, 'V').text}" if rig.bus.capacitor_voltage else ""
        found.append(Part("capacitor", (f"{amount(rig.bus.capacitance.value, 'F').text}{volts}",)))
    if rig.bus is not None and rig.bus.bleeder is not None:
        found.append(Part("resistor", (f"bleeder {amount(rig.bus.bleeder.value, 'ohm').text}",)))
    return found


def _boards(rig: Rig, *, at_load: bool) -> list[Converter]:
    return [
        board
        for board in rig.converter
        if (board.at == "load" or (not board.at and board.kind == "inverter")) == at_load
    ]


def _board(board: Converter) -> Part:
    words = [board.name]
    if board.set_voltage is not None:
        words.append(f"set to {amount(board.set_voltage.value, 'V', digits=3).text}")
    return Part("inverter" if board.kind == "inverter" else "board", tuple(words))


def _draw(sheet: Sheet, parts: list[Part], step: float) -> None:
    b1, b2 = (LEFT, RIGHT) if sheet.upright else (TOP, LOW)
    first, last = 46 + step / 2, 46 + step * (len(parts) - 0.5)
    sheet.line(first, b2, last, b2)
    for k in range(len(parts)):
        a = 46 + step * (k + 0.5)
        _one(sheet, parts[k], a, (b1, b2), step, k in (0, len(parts) - 1))
    for b, sign in ((b1, "+"), (b2, "\u2212")):
        x, y = sheet.at(first - 34, b)
        sheet.canvas.text(
            x if not sheet.upright else b,
            y + 7 if not sheet.upright else first - 34 + 7,
            sign,
            size=22,
            bold=True,
            anchor="middle",
        )


def _one(sheet: Sheet, part: Part, a: float, rails: tuple[float, float], step: float, is_end: bool) -> None:
    """One part with its piece of the plus rail, its joints and its words."""
    b1, b2 = rails
    sheet.canvas.open(", ".join(part.words))
    start, end = a - step / 2, a + step / 2
    in_wire = part.kind in ("diode", "fuse", "missing fuse", "switch")
    if in_wire:
        if part.kind == "diode":
            sheet.diode(start, b1, step)
        elif part.kind == "switch":
            sheet.switch(start, b1, step)
        else:
            sheet.fuse(start, b1, step, missing=part.kind == "missing fuse")
    else:
        first = part.kind == "machine"
        sheet.line(a if first else start, b1, end if not (is_end and not first) else a, b1)
        _across(sheet, part.kind, a, b1, b2)
        if not is_end and part.kind not in ("board", "inverter"):
            sheet.dot(a, b1)
            sheet.dot(a, b2)
    _words(sheet, part, a, rails, in_wire, step)
    sheet.canvas.close()


def _across(sheet: Sheet, kind: str, a: float, b1: float, b2: float) -> None:
    if kind in ("board", "inverter"):
        sheet.converter(a, b1, b2, ac=kind == "inverter")
    elif kind == "machine":
        sheet.machine(a, b1, b2)
        x, y = sheet.at(a, (b1 + b2) / 2)
        sheet.canvas.text(x, y + 8, "G", size=23, bold=True, anchor="middle")
    elif kind == "battery":
        sheet.battery(a, b1, b2)
    elif kind == "capacitor":
        sheet.capacitor(a, b1, b2)
    elif kind in ("clamp", "resistor"):
        sheet.resistor(a, b1, b2, switched=kind == "clamp")
    elif kind == "lamp":
        sheet.lamp(a, b1, b2)
    else:
        sheet.load(a, b1, b2)


def _words(
    sheet: Sheet, part: Part, a: float, rails: tuple[float, float], in_wire: bool, step: float
) -> None:
    """Words above the plus rail for what sits in it, below the minus rail for what stands between."""
    cls, c = ("dt-acc" if part.accent else "dt"), sheet.canvas
    if sheet.upright:
        x = rails[1] + (18 if part.kind not in ("board", "inverter") else 30)
        lines = [line for words in part.words for line in wrap(words, c.wide - x - 4, 16)]
        c.lines(x, a + 6 - 10 * (len(lines) - 1), lines, size=16, step=20, bold=part.accent, cls=cls)
        return
    lines = [line for words in part.words for line in wrap(words, step - 8, 15)]
    if in_wire:
        c.lines(
            a,
            rails[0] - 24 - 18 * (len(lines) - 1),
            lines,
            step=18,
            bold=part.accent,
            cls=cls,
            anchor="middle",
        )
    else:
        c.lines(
            a,
            rails[1] + (40 if part.kind in ("board", "inverter") else 28),
            lines,
            step=18,
            cls=cls,
            anchor="middle",
        )


def _long_text(parts: list[Part], rig: Rig) -> str:
    words = {"missing fuse": "a fuse is missing here", "machine": "machine"}
    order = "; ".join(f"{words.get(part.kind, part.kind)}: {', '.join(part.words)}" for part in parts)
    wires = [
        f"{w.run} run {amount(w.length.value, 'm').text}"
        + (f" of {amount(w.size.value, 'm^2').text}" if w.size else "")
        for w in rig.wire
        if w.length is not None and math.isfinite(w.length.value)
    ]
    return f"From the machine to the loads: {order}." + (f" Wires: {'; '.join(wires)}." if wires else "")
