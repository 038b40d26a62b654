"""A printed sheet of labels: each known part with its constants and their spread, and a square code that holds it all."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import Measured, Rig, spec_of
from sparewatt.present.label_text import ROOM, Label, rounded, to_text
from sparewatt.present.numbers import Shown, data, known, raised
from sparewatt.present.press import Press
from sparewatt.present.sheet import PAPERS

__all__ = ["HIGHEST", "label_code", "label_lines", "label_of", "labels_pdf"]

HIGHEST = 10  # version of the code: 57 squares a side, which a phone reads off 36 mm
LEVEL = "m"  # a seventh of the squares may be spoilt
MOST = 8  # lines of constants on one label
KIND_WORDS = {
    "machine": "machine", "battery": "battery", "converter": "board", "stage": "step of the drive", "rider": "rider",
    "flywheel": "flywheel", "diode": "diode", "load": "load", "clamp": "clamp", "wire": "wire", "fuse": "fuse",
    "switch": "switch", "socket": "socket",
}  # fmt: skip
SORT_WORDS = {
    "pm_dc": "magnets and brushes", "pm_three_phase": "magnets, three wires", "buck": "steps down", "boost": "steps up",
    "buck_boost": "steps up and down", "agm": "lead, mat", "flooded": "lead, caps off", "gel": "lead, gel",
    "lifepo4": "lithium iron", "lithium_other": "lithium",
}  # fmt: skip
# What is printed first, and what it is called on a label; the rest follows in the order of the record.
LINE_WORDS: dict[str, dict[str, str]] = {
    "machine": {
        "emf_constant": "volts per 1,000 turns", "resistance": "winding, cold", "brush_drop": "brushes keep",
        "friction": "friction", "friction_slope": "friction grows by", "inertia": "inertia", "plate_voltage": "label, volts",
        "plate_current": "label, amps", "plate_speed": "label, speed", "plate_power": "label, watts",
    },
    "battery": {
        "capacity": "holds, label", "health": "share it still holds", "resistance": "inside",
        "charge": "how full", "voltage": "its name", "charge_voltage": "charge to",
    },
    "converter": {
        "efficiency": "watts out of watts in", "input_min": "sleeps below", "restart": "wakes at",
        "input_current": "most amps in", "set_voltage": "volts set", "set_current": "amps set",
        "idle_power": "takes for itself", "input_max": "breaks above",
    },
    "stage": {"ratio": "turns for one turn", "creep": "lost to slip", "efficiency": "passes on"},
    "rider": {"critical_power": "holds for long", "work_reserve": "reserve", "cadence": "likes", "peak_power": "peak"},
}  # fmt: skip
LEFT_OUT = {"price", "age"}
WHOLE = "The code holds every number, its spread and its note."
ROUNDED = "In the code each number is rounded to a hundredth of its spread."


def label_of(rig: Rig, where: str, *, date: str = "", note: str = "") -> Label:
    """The label of the part at a key path ("machine", "battery", "converter.0") as it stands in the rig."""
    part: Any = rig
    for step in where.split("."):
        if isinstance(part, tuple):
            part = part[int(step)] if step.isdigit() and int(step) < len(part) else None
        else:
            part = getattr(part, step, None)
    if part is None or isinstance(part, tuple | str | Measured):
        there = [name for name in ("machine", "battery") if getattr(rig, name) is not None]
        there += [
            f"{name}.{k}" for name in ("converter", "stage", "rider") for k in range(len(getattr(rig, name)))
        ]
        raise BadRequest(Problem("label", "there is no such part in this rig.", ", ".join(there), where))
    return Label(part=part, date=date, note=note)


def label_code(label: Label) -> tuple[str, str, bool]:
    """The square code of a label as SVG, the text in it, and whether its numbers had to be rounded to fit."""
    import segno

    text, short = to_text(label), False
    if len(text) > ROOM:
        text, short = to_text(rounded(label)), True
    if len(text) > ROOM:
        over = len(text) - ROOM
        hint = f"shorten its notes by about {over * 2 // 3 + 1} letters"
        raise BadRequest(Problem(_name(label), "this holds more than a label can.", hint))
    code = segno.make(text, error=LEVEL, boost_error=False, micro=False)
    assert isinstance(code.version, int) and code.version <= HIGHEST
    picture = io.BytesIO()
    code.save(
        picture,
        kind="svg",
        xmldecl=False,
        border=4,
        dark="#000000",
        light="#ffffff",
        svgclass=None,
        lineclass=None,
    )
    return picture.getvalue().decode("ascii"), text, short


def label_lines(label: Label, *, inch: bool = False) -> list[tuple[str, Shown]]:
    """Each constant of a part in words and as it is shown, the ones that matter most first."""
    part = label.part
    first = LINE_WORDS.get(label.kind, {})
    rest = [name for name in part.__dataclass_fields__ if name not in first and name not in LEFT_OUT]
    lines = []
    for name in (*first, *rest):
        value = getattr(part, name)
        if isinstance(value, Measured):
            unit = spec_of(type(part).__dataclass_fields__[name]).unit
            shown = known(value, "m^2" if unit == "wire_size" else unit, inch=inch)
            if unit == "V*s/rad":
                shown = Shown(shown.number, "V", shown.look)
            lines.append((first.get(name, name.replace("_", " ")), shown))
    measured = [line for line in lines if line[1].look == "measured"]
    return measured + [line for line in lines if line[1].look != "measured"]


def labels_pdf(labels: Sequence[Label], *, paper: str = "a4", inch: bool = False) -> bytes:
    """A sheet of labels to cut out, eight to the page."""
    if paper not in PAPERS:
        raise BadRequest(Problem("paper", "this paper is not known", " or ".join(PAPERS), paper))
    if not labels:
        raise BadRequest(Problem("label", "there is nothing to print.", "name a part"))
    content = {"title": "Labels", "paper": PAPERS[paper], "labels": [_label(label, inch) for label in labels]}
    with Press("labels.typ") as press:
        press.pages(raised(json.dumps(content, ensure_ascii=False, allow_nan=False)))
        return press.pdf()


def _label(label: Label, inch: bool) -> dict[str, object]:
    svg, _, short = label_code(label)
    lines = label_lines(label, inch=inch)
    more = len(lines) - MOST
    return {
        "kind": _sort(label),
        "name": _name(label),
        "lines": [{"what": what, "value": data(shown)} for what, shown in lines[:MOST]],
        "more": f"and {more} more in the code" if more > 0 else "",
        "date": label.date,
        "note": label.note,
        "svg": svg,
        "code": ROUNDED if short else WHOLE,
    }


def _sort(label: Label) -> str:
    """What kind of part, which sort of it, and its teeth: what no number says."""
    part = label.part
    sort = getattr(part, "chemistry", "") or getattr(part, "kind", "")
    teeth = [", ".join(map(str, getattr(part, name, ()))) for name in ("driver_teeth", "driven_teeth")]
    words = [KIND_WORDS.get(label.kind, label.kind), SORT_WORDS.get(sort, sort.replace("_", " "))]
    return ": ".join(word for word in words if word) + (
        f", {teeth[0]} to {teeth[1]} teeth" if all(teeth) else ""
    )


def _name(label: Label) -> str:
    return (
        getattr(label.part, "name", "")
        or getattr(label.part, "run", "")
        or KIND_WORDS.get(label.kind, label.kind)
    )
