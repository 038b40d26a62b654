"""A known part as a short text for a label: every constant with its spread, how it is known and its note, bit for bit.

The text begins with "SPW:" and is made of digits, capitals and five signs. Line breaks, spaces and small letters do no
harm. Four bytes at its end tell a misread letter. Up to ROOM letters it fits the square code on a label.
"""

from __future__ import annotations

import dataclasses
import datetime
import math
import zlib
from dataclasses import dataclass
from typing import Any

from sparewatt.errors import BadRequest, Problem
from sparewatt.parts import (
    HOWS,
    Battery,
    Clamp,
    Converter,
    Diode,
    Effort,
    Flywheel,
    Fuse,
    Load,
    Machine,
    Measured,
    Rider,
    SetPoint,
    Socket,
    Spec,
    Stage,
    Switch,
    Wire,
    spec_of,
)  # fmt: skip
from sparewatt.present.label_code import Packer, Unpacker, letters, squeezed, unlettered, unsqueezed

__all__ = ["KINDS", "ROOM", "Label", "from_text", "rounded", "to_text"]

MARK = "SPW:"
VERSION = 1
SQUEEZED = 128  # added to the version when the rest is squeezed
ROOM = (
    311  # letters of the dense set in a QR code of version 10 at level M (ISO/IEC 18004, table of capacities)
)
END = 255
FINE = 2  # digits of a spread that a rounded constant keeps behind its first

# Kinds and fields by their place, which is their code on every label ever printed: new ones go at the end, none goes away.
KINDS: dict[str, type] = {
    "machine": Machine, "battery": Battery, "converter": Converter, "stage": Stage, "rider": Rider, "flywheel": Flywheel,
    "diode": Diode, "load": Load, "clamp": Clamp, "wire": Wire, "fuse": Fuse, "switch": Switch, "effort": Effort,
    "socket": Socket, "setting": SetPoint,
}  # fmt: skip
FIELDS: dict[str, tuple[str, ...]] = {
    kind: tuple(names.split())
    for kind, names in {
        "machine": "name kind plate_voltage plate_current plate_speed plate_power emf_constant resistance brush_drop "
        "friction friction_slope inertia inductance pole_pairs magnets current_limit current_limit_short speed_limit "
        "winding_limit thermal_resistance thermal_time mass field_voltage field_current price",
        "battery": "name chemistry voltage capacity resistance charge health charge_voltage charge_current low_voltage "
        "temperature through protected in_room voltage_limited price setting",
        "converter": "name kind at set_voltage set_current input_min restart input_max input_current "
        "input_current_short output_current output_min output_max power_rating efficiency efficiency_curve idle_power "
        "drop soft_start isolated panel_tracker price output_current_short enable_voltage enable_in_reach setting",
        "stage": "name kind driver_teeth driven_teeth ratio tyre driver_diameter driven_diameter centre_distance "
        "efficiency drag_torque drag_slope press_force friction rolling creep tension wedge_angle ribs tooth_pitch "
        "freewheel inertia guarded price",
        "rider": "name uses mass age fitness critical_power work_reserve cadence top_cadence sprint_cadence peak_power "
        "efficiency peak_to_mean push_curve reaction_time leg_inertia effort",
        "flywheel": "name after_stage mass diameter shape material drilled_or_welded off_centre guarded",
        "diode": "kind drop resistance current_rating voltage_rating thermal_resistance",
        "load": "name kind power voltage voltage_min voltage_max plate_voltage plate_current plate_power plate_speed "
        "winding_resistance idle_share start_factor input_text trigger inertia inductance use_time uses_per_day "
        "energy_per_use bout breather through without_battery life_support motion lights_people setting",
        "clamp": "voltage resistance power",
        "wire": "run length size contact_resistance bundled insulation to",
        "fuse": "run rating dc_voltage breaking_current from_post kind to",
        "switch": "name run dc_voltage dc_current ac_voltage ac_current poles to signal",
        "effort": "power time",
        "socket": "name run to kind dc_voltage dc_current",
        "setting": "name set_voltage set_current",
    }.items()
}
PLAIN = {kind: record() for kind, record in KINDS.items()}  # what a record holds when nothing is told
NO_NOTE, LABELS_NOTE, OWN_NOTE = range(3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A part as it stands on a label: its record (`sparewatt.parts`), when its constants were found, and a note."""

    part: Any
    date: str = ""
    note: str = ""

    @property
    def kind(self) -> str:
        """What kind of part: "machine", "battery" and so on."""
        return next(kind for kind, record in KINDS.items() if type(self.part) is record)


def to_text(label: Label) -> str:
    """The label as text; `from_text` gives it again exactly."""
    out = Packer()
    _put_date(out, label.date)
    out.text(label.note)
    _put_part(out, label.part, label.note)
    plain, short = bytes(out.out), squeezed(bytes(out.out))
    raw = bytes((VERSION, *plain)) if len(plain) <= len(short) else bytes((VERSION | SQUEEZED, *short))
    return MARK + letters(raw + zlib.crc32(raw).to_bytes(4, "big"))


def from_text(text: str) -> Label:
    """The label that a text holds; BadRequest when it is none, was misread, or comes from a newer Sparewatt."""
    plain = "".join(text.split()).upper()
    if not plain.startswith(MARK):
        raise _refused(
            "this is not the text of a label.", f'scan the square code again; its text begins with "{MARK}"'
        )
    try:
        raw = unlettered(plain.removeprefix(MARK))
        if len(raw) < 6 or zlib.crc32(raw[:-4]) != int.from_bytes(raw[-4:], "big"):
            raise ValueError("the check does not agree")
    except ValueError:
        says = "a letter was misread, or a piece is missing: the check at the end does not agree."
        raise _refused(says, "scan it again in better light, or copy the whole text") from None
    if raw[0] & ~SQUEEZED != VERSION:
        raise _refused("this label comes from a newer Sparewatt.", "bring Sparewatt up to date")
    try:
        taken = Unpacker(unsqueezed(raw[1:-4]) if raw[0] & SQUEEZED else raw[1:-4])
        date, note = _take_date(taken), taken.text()
        return Label(part=_take_part(taken, note), date=date, note=note)
    except (ValueError, LookupError, TypeError, OverflowError):
        raise _refused(
            "this label holds something that is not known here.", "bring Sparewatt up to date"
        ) from None


def rounded(label: Label) -> Label:
    """The same label with each constant rounded to a hundredth of its spread, so that its text is shorter."""
    return dataclasses.replace(label, part=_rounded(label.part))


def _refused(problem: str, hint: str) -> BadRequest:
    return BadRequest(Problem("label", problem, hint))


# ---- the date ----


def _put_date(out: Packer, date: str) -> None:
    """A day as a number, any other text as text."""
    try:
        day = datetime.date.fromisoformat(date).toordinal() if len(date) == 10 else 0
    except ValueError:
        day = 0
    if day and datetime.date.fromordinal(day).isoformat() == date:
        out.whole(day)
    else:
        out.whole(0)
        out.text(date)


def _take_date(taken: Unpacker) -> str:
    day = taken.whole()
    return datetime.date.fromordinal(day).isoformat() if day else taken.text()


# ---- a record, field by field ----


def _put_part(out: Packer, part: Any, note: str) -> None:
    kind = next(kind for kind, record in KINDS.items() if type(part) is record)
    out.byte(list(KINDS).index(kind))
    for code, name in enumerate(FIELDS[kind]):
        value = getattr(part, name)
        if value != getattr(PLAIN[kind], name):
            out.byte(code)
            _put(out, value, _spec(type(part), name), note)
    out.byte(END)


def _take_part(taken: Unpacker, note: str) -> Any:
    kind = list(KINDS)[taken.byte()]
    record, values = KINDS[kind], {}
    while (code := taken.byte()) != END:
        name = FIELDS[kind][code]
        values[name] = _take(taken, _spec(record, name), note)
    return record(**values)


def _spec(record: type, name: str) -> Spec:
    return next(spec_of(field) for field in dataclasses.fields(record) if field.name == name)


def _put(out: Packer, value: Any, spec: Spec, note: str) -> None:
    match spec.kind:
        case "measured":
            _put_measured(out, value, spec, note)
        case "text" | "choice":
            out.text(value)
        case "count":
            out.whole(value)
        case "flag":
            out.byte(int(value))
        case "counts":
            out.whole(len(value))
            for item in value:
                out.whole(item)
        case "curve":
            out.whole(len(value))
            for item in (number for pair in value for number in pair):
                out.number(item, "1")
        case _:
            out.whole(len(value))
            for item in value:
                _put_part(out, item, note)


def _take(taken: Unpacker, spec: Spec, note: str) -> Any:
    match spec.kind:
        case "measured":
            return _take_measured(taken, spec, note)
        case "text" | "choice":
            return taken.text()
        case "count":
            return taken.whole()
        case "flag":
            return bool(taken.byte())
        case "counts":
            return tuple(taken.whole() for _ in range(_few(taken.whole())))
        case "curve":
            return tuple((taken.number("1"), taken.number("1")) for _ in range(_few(taken.whole())))
        case _:
            return tuple(_take_part(taken, note) for _ in range(_few(taken.whole())))


def _few(count: int) -> int:
    if not 0 <= count <= 10_000:
        raise ValueError("a list of that length is on no label")
    return count


def _put_measured(out: Packer, value: Measured, spec: Spec, note: str) -> None:
    said = NO_NOTE if not value.note else LABELS_NOTE if value.note == note else OWN_NOTE
    out.byte(HOWS.index(value.how) * 4 + said)
    out.number(value.value, spec.unit)
    out.spread(value.sd, value.value, spec.unit)
    if said == OWN_NOTE:
        out.text(value.note)


def _take_measured(taken: Unpacker, spec: Spec, note: str) -> Measured:
    how, said = divmod(taken.byte(), 4)
    value = taken.number(spec.unit)
    sd = taken.spread(value, spec.unit)
    own = taken.text() if said == OWN_NOTE else note if said == LABELS_NOTE else ""
    return Measured(value, sd, HOWS[how], own)


# ---- rounding, only when asked ----


def _rounded(part: Any) -> Any:
    values: dict[str, Any] = {}
    for field in dataclasses.fields(part):
        value = getattr(part, field.name)
        if isinstance(value, Measured):
            values[field.name] = _round(value)
        elif isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
            values[field.name] = tuple(_rounded(item) for item in value)
    return dataclasses.replace(part, **values)


def _round(m: Measured) -> Measured:
    if not (math.isfinite(m.value) and math.isfinite(m.sd)) or m.sd <= 0:
        return m
    digits = FINE - math.floor(math.log10(m.sd))
    return dataclasses.replace(m, value=round(m.value, digits), sd=round(m.sd, digits))
