"""Rig files and rigs for the tests of reading and writing: invented builds, and any rig at all."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from sparewatt.errors import STRANGE
from sparewatt.files.values import POSITIVE
from sparewatt.files.walk import fields_of
from sparewatt.parts import HOWS, Measured, Rig, Spec

HUT = """\
# The rig in the hut above the lake.
name = "Lake hut"
story = \"\"\"
Wind on the roof,
two riders.\"\"\"

[[rider]]
name = "Ansa"   # rides mornings
mass = "70 kg"
critical_power = "170 W +/- 15 W"

  [[rider.effort]]
  power = "300 W +/- 3 %"
  time = "180 s"

[[rider]]
name = "Beno"
uses = "arms"

[[stage]]
kind = "chain"
driver_teeth = [42]
driven_teeth = [
  18,   # uphill
  21,
]

[[stage]]
kind = "roller"
tyre = "37-622"
driven_diameter = "1 1/4 in"

[machine] # from a walking machine
name = "walking-machine motor"
resistance = { value = "0.9 ohm", spread = "0.05 ohm", how = "measured", note = "four readings" }
emf_constant = "12 V per 1000 rpm"
plate_voltage = "95 V"
winding_limit = "130 degC"

[[wire]]
run = "machine"
length = "3 m"
size = "14 AWG"

[[converter]]
name = "step-down board"
kind = "buck"
set_voltage = "14.2 V"
efficiency_curve = [[5, 0.78], [50, 0.9]]

[battery]
chemistry = "agm"
voltage = "12 V"
capacity = "36 Ah"
through = "step-down board"
protected = false

[[load]]
name = "lamp"
kind = "led"
power = "5 W"

[ride]
rider = "Beno"
load = "charge"
gear = "42/18"
"""

TEXTS = st.text(
    st.characters(codec="utf-8").filter(lambda letter: not STRANGE.match(letter))
    | st.sampled_from('"\\\n\r\t#= '),
    max_size=12,
)


def _number(name: str, spec: Spec) -> st.SearchStrategy[float]:
    low = 1e-9 if name in POSITIVE and not spec.low else (-1e6 if spec.low is None else spec.low)
    high = 1e-3 if spec.unit == "wire_size" else 1e6 if spec.high is None else spec.high
    return st.floats(low, high, allow_subnormal=False)


@st.composite
def measured_values(draw: st.DrawFn, name: str, spec: Spec) -> Measured:
    """Any number that the field may hold, with any spread, origin and note."""
    value = draw(
        _number(name, spec)
        | st.sampled_from([1.0, 0.25]).filter(lambda x: spec.unit not in ("K", "wire_size"))
    )
    if spec.high is not None:
        value = min(value, spec.high)
    if spec.low is not None:
        value = max(value, spec.low)
    spread = draw(st.sampled_from([0.0, abs(value) * 0.05]) | st.floats(0.0, 1e6, allow_subnormal=False))
    return Measured(value, spread, draw(st.sampled_from(HOWS)), draw(st.just("") | TEXTS))


def _field(name: str, spec: Spec) -> st.SearchStrategy[Any]:
    match spec.kind:
        case "measured":
            return measured_values(name, spec)
        case "text":
            return TEXTS.filter(str.strip) if spec.needed else TEXTS
        case "choice":
            return st.sampled_from(spec.choices)
        case "flag":
            return st.booleans()
        case "count":
            return st.integers(int(spec.low or 0), int(spec.high or 1000))
        case "counts":
            return st.lists(st.integers(1, 200), min_size=1, max_size=4).map(tuple)
        case "curve":
            rows = st.dictionaries(st.floats(0, 1e4), st.floats(0.01, 1.0), min_size=2, max_size=4)
            return rows.map(lambda each: tuple(sorted(each.items())))
        case "part":
            assert spec.part is not None
            return records(spec.part)
        case _:
            assert spec.part is not None
            return st.lists(records(spec.part), min_size=int(spec.needed), max_size=2).map(tuple)


@st.composite
def records(draw: st.DrawFn, record: type = Rig) -> Any:
    """Any record of a part, with any of its fields left out that may be."""
    given = {
        name: spec for name, spec in fields_of(record).items() if spec.needed or draw(st.integers(0, 3)) == 0
    }
    return record(**{name: draw(_field(name, spec)) for name, spec in given.items()})
