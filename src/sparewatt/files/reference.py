"""The reference page of the rig file, made from the descriptions that the records carry."""

from __future__ import annotations

from sparewatt.files.values import THERMOMETER_SCALE, accepts
from sparewatt.files.walk import exact_and_plate, fields_of, part_title, parts_of
from sparewatt.parts.records import Rig
from sparewatt.parts.values import DEFAULT_SPREAD, HOWS, Spec
from sparewatt.quantities.units import accepted

__all__ = ["rig_reference_markdown"]

INTRO = """\
# The rig file

One file, `rig.toml`, is the whole build. You can write it by hand, copy it, print it and mail it. The pages edit this same
file and leave your comments where they are. This page is made from the program itself.

## Writing a number

Give the number and its unit in quotes:

```toml
resistance = "0.9 ohm"
plate_speed = "4000 rpm"
driven_diameter = "1 1/4 in"
emf_constant = "12 V per 1000 rpm"
```

- Use a point for decimals, and nothing between thousands.
- Fractions and mixed numbers are read: `3/16 in`, `1 1/4 in`.
- Units multiply with `*` or a space and divide with `/`. After a slash, put several factors in brackets: `W/(m^2*K)`.
- Only a number without a unit (a ratio, an efficiency, a price) may stand without quotes: `ratio = 12.5`, or `"93 %"`.
- Temperatures are `degC`, `degF` or `K`.

## Saying how sure you are

| you write | value | spread (one standard deviation) | known by |
|---|---|---|---|
| `"0.9 ohm +/- 0.05"` | 0.9 ohm | 0.05 ohm | measured |
| `"21 A +/- 5 %"` | 21 A | 1.05 A | measured |
| `"0.8 to 1.0 ohm"` | 0.9 ohm | 0.061 ohm: the range is taken to hold the truth 9 times in 10 | measured |
| `"0.9 ohm"` | 0.9 ohm | see below | guess |
| `{ value = "0.9 ohm", spread = "0.05 ohm", how = "measured", note = "drill test" }` | 0.9 ohm | 0.05 ohm | measured |

A percentage in the spread is a share of the value, except where the value itself is in %: then it means points.
With no spread given, a share of the value is taken, by how the number is known:
"""

AFTER_SHARES = f"""
Fields marked *set* are counted or set by you, and have no spread unless you write one. Fields marked *plate* are read off a
label, and count as `nameplate`. An efficiency or another share takes its default spread of the distance to its nearer end; a
temperature takes it of {THERMOMETER_SCALE:g} K.

"""


def rig_reference_markdown() -> str:
    """The whole page as Markdown."""
    shares = "\n".join(f"- `{how}`: {DEFAULT_SPREAD[how]:.0%}".replace("%", " %") for how in HOWS)
    pieces = [INTRO, shares, "\n", AFTER_SHARES, "## At the top of the file\n\n", _table(Rig)]
    pieces += [_section(name, spec, part) for name, spec, part in parts_of()]
    return "".join(pieces)


def _section(name: str, spec: Spec, part: type) -> str:
    title = part_title(name, spec)
    many = " One table for each." if spec.kind == "parts" else ""
    needed = " Needed." if spec.needed else ""
    head = f"\n## `{title}`\n\n{spec.says}{many}{needed}\n\n"
    if name.startswith("neighbour."):
        return head + f"The same keys as in {_twin(name)}.\n"
    return head + _table(part)


def _twin(name: str) -> str:
    own = name.removeprefix("neighbour.")
    title = part_title(own, next(its for other, its, _part in parts_of() if other == own))
    anchor = title.strip("[]").replace(".", "")
    return f"[`{title}`](#{anchor})"


def _table(record: type) -> str:
    exact, plate = exact_and_plate(record)
    rows = ["| key | what it is | takes | example |", "|---|---|---|---|"]
    for name, spec in fields_of(record).items():
        if spec.part is not None:
            continue
        mark = " *Set.*" if name in exact else " *Plate.*" if name in plate else ""
        needed = " **Needed.**" if spec.needed else ""
        rows.append(f"| `{name}` | {spec.says}{mark}{needed} | {_takes(spec)} | {_example(name, spec)} |")
    return "\n".join(rows) + "\n"


def _takes(spec: Spec) -> str:
    if spec.kind == "measured":
        return accepted(spec.unit)
    if spec.kind == "choice":
        return ", ".join(f"`{word}`" for word in spec.choices)
    words = {
        "text": "text",
        "flag": "`true` or `false`",
        "counts": "list of whole numbers",
        "curve": "list of pairs of numbers",
    }
    return words.get(spec.kind) or accepts(spec)


def _example(name: str, spec: Spec) -> str:
    if not spec.example:
        first = {
            "choice": f'"{spec.choices[0]}"' if spec.choices else "",
            "flag": "true",
            "count": str(int(spec.low or 1) or 1),
        }
        return f"`{name} = {first[spec.kind]}`" if spec.kind in first else ""
    quoted = spec.kind in ("text",) or (
        spec.kind == "measured" and not spec.example.replace(".", "").isdigit()
    )
    return f'`{name} = "{spec.example}"`' if quoted else f"`{name} = {spec.example}`"
