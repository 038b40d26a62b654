"""A tyre on a roller, or a friction wheel on a rim: how big the tyre really is, what it drags, when it slips."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "BEAD_SEATS", "FRICTION", "INCH_RIMS", "SMALLEST_ROLLER", "WET_SHARE", "TyreSize", "curvature_factor", "grip_limit",
    "outer_diameter", "roller_caveat", "rolling_force", "tyre_diameter", "tyre_sizes",
]  # fmt: skip

# Bead seat diameters in mm, with the names they are sold under.
BEAD_SEATS: Final = {
    203: "12 in", 305: "16 in", 349: "16 x 1 3/8", 355: "18 in", 390: "450A", 406: "20 in", 440: "500A", 451: "20 x 1 3/8",
    507: "24 in", 520: "24 x 1", 540: "24 x 1 3/8", 547: "24 x 1 1/4", 559: "26 in", 571: "26 x 1, 650C",
    584: "26 x 1 1/2, 650B, 27.5 in", 590: "26 x 1 3/8, 650A", 597: "26 x 1 1/4", 622: "28 in, 700C, 29 in",
    630: "27 in", 635: "28 x 1 1/2, 700B",
}  # fmt: skip

# Rims by inch size. The section as a fraction or as a decimal names different rims: "" is the decimal form.
INCH_RIMS: Final[dict[str, dict[str, int]]] = {
    "12": {"": 203},
    "12 1/2": {"": 203, "2 1/4": 203},
    "16": {"": 305, "1 3/8": 349},
    "18": {"": 355},
    "20": {"": 406, "1 1/8": 451, "1 3/8": 451},
    "24": {"": 507, "1": 520, "1 1/4": 547, "1 3/8": 540},
    "26": {"": 559, "1": 571, "1 1/2": 584, "1 1/4": 597, "1 3/8": 590},
    "27": {"1": 630, "1 1/8": 630, "1 1/4": 630, "1 3/8": 630},
    "27.5": {"": 584},
    "28": {"": 622, "1": 622, "1 1/2": 635, "1 1/8": 622, "1 3/8": 622, "1 5/8": 622, "7/8": 622},
    "29": {"": 622},
}
_FRENCH: Final = {
    ("650", "A"): 590, ("650", "B"): 584, ("650", "C"): 571, ("700", "A"): 642, ("700", "B"): 635, ("700", "C"): 622,
    ("600", "A"): 540, ("500", "A"): 440, ("450", "A"): 390,
}  # fmt: skip

# Grip of rubber on metal, low and high. Common practice, no source.
FRICTION: Final = {"dry": (0.6, 0.8), "wet or dusty": (0.3, 0.5)}

# Share of the dry grip that is left in the wet: the middles of both ranges.
WET_SHARE: Final = sum(FRICTION["wet or dusty"]) / sum(FRICTION["dry"])

# Below this roller over tyre diameter the small-roller law is stretched past where it was measured.
SMALLEST_ROLLER: Final = 0.1


class TyreSize(NamedTuple):
    """One tyre a printed size may stand for: bead seat and section in m (section NaN when it is not printed), its name."""

    bead_diameter: float
    section: float
    name: str


# ---- sizes ----------------------------------------------------------------------------------------------------------

_ISO = re.compile(r"(\d{2,3}(?:\.\d+)?)\s*[-x/]\s*(\d{3})(?!\d)\s*(?:\(.*\))?")
_METRIC = re.compile(r"(\d{3})\s*(?:x\s*(\d{2}(?:\.\d+)?))?\s*([abc])?")


def tyre_sizes(tyre: str) -> tuple[TyreSize, ...]:
    """Every tyre that a printed size may stand for: one for an ISO 5775 size, several for a bare inch size.

    Reads "37-622", "700 x 35C", "26 x 1 3/8" (not the same rim as 26 x 1.375), "26 x 1.75", "26". Empty when it is none.
    Worked: len(tyre_sizes("26")) = 5
    Source: [iso5775]
    """
    text = tyre.casefold().replace("×", "x").replace('"', "").replace("in.", "").replace("inch", "").strip()
    text = re.sub(r"\s*\bin\b\s*", " ", text).strip()
    if found := _ISO.fullmatch(text):
        bead, section = int(found[2]), float(found[1])
        return (_size(bead, section),) if bead > section and 18 <= section <= 125 else ()
    if (found := _METRIC.fullmatch(text)) and found[1] in ("450", "500", "600", "650", "700"):
        letters = (found[3] or "ABC").upper()
        rims = sorted(mm for (size, letter), mm in _FRENCH.items() if size == found[1] and letter in letters)
        return tuple(_size(mm, float(found[2]) if found[2] else math.nan) for mm in rims)
    return _inch_sizes(text)


def _inch_sizes(text: str) -> tuple[TyreSize, ...]:
    size, _, rest = (part.strip() for part in text.partition("x"))
    rims = INCH_RIMS.get(size, {})
    if not rest:
        return tuple(_size(mm, math.nan) for mm in sorted(set(rims.values())))
    first, *_, last = (*(part.strip() for part in rest.split("x")),) * 2
    width = _inches(last)
    key = "" if "." in first or first in "23" else first.replace("-", " ")
    if math.isnan(width) or key not in rims:
        return ()
    return (_size(rims[key], 25.4 * width),)


def _inches(section: str) -> float:
    """Inches of "1.75", "1 3/8", "1-3/8" or "2"; NaN for anything else."""
    found = re.fullmatch(r"(?:(\d)[ -])?(\d)/(\d)|(\d(?:\.\d+)?)", section)
    if found is None or found[3] == "0":
        return math.nan
    if found[4] is not None:
        return float(found[4])
    return float(int(found[1] or 0) + Fraction(int(found[2]), int(found[3])))


def _size(bead_mm: float, section_mm: float) -> TyreSize:
    return TyreSize(bead_mm / 1000, section_mm / 1000, BEAD_SEATS.get(int(bead_mm), ""))


def tyre_diameter(tyre: str) -> F:
    """Outer diameter of a tyre from the size printed on it: bead seat plus twice the section, not pressed.

    Refuses a size that may mean several rims, and names them: read the ISO 5775 size (two and three digits) instead.
    Under load a tyre rolls as if a little smaller, 0.3 to 1 %.
    Worked: tyre_diameter("37-622") = 0.696
    Source: [iso5775]
    """
    sizes = tyre_sizes(tyre)
    if len(sizes) == 1 and not math.isnan(sizes[0].section):
        return outer_diameter(sizes[0].bead_diameter, sizes[0].section)
    rims = ", ".join(f"{1000 * s.bead_diameter:.0f} mm ({s.name})" for s in sizes)
    if len(sizes) > 1:
        problem = f"'{tyre}' may mean any of these rims: {rims}"
    elif sizes:
        problem = f"'{tyre}' does not say how thick the tyre is"
    else:
        problem = f"'{tyre}' is not a tyre size that is known here"
    raise BadRequest(
        Problem(
            where="tyre",
            read=tyre,
            problem=problem,
            hint='the size like "37-622" on the side of the tyre, or measure across: driver_diameter',
        )
    )


def outer_diameter(bead_diameter: ArrayLike, section: ArrayLike) -> F:
    """Nominal outer diameter of a tyre.

    d = bead_diameter + 2 * section

    Worked: outer_diameter(0.622, 0.023) = 0.668
    Source: [iso5775]
    """
    return out(arr(bead_diameter) + 2 * arr(section))


# ---- drag -----------------------------------------------------------------------------------------------------------


def curvature_factor(d_tyre: ArrayLike, d_roller: ArrayLike) -> F:
    """How much more a tyre drags on a small roller than on a flat road.

    factor = sqrt(1 + d_tyre / d_roller)

    From the law of a contact that is small beside both curvatures; stretched when the roller is less than about a tenth
    of the tyre (see `roller_caveat`). A roller as wide as the road is long gives 1.
    Worked: curvature_factor(0.672, 0.030) = 4.837
    Source: [small_roller]
    """
    return out(np.sqrt(1 + arr(d_tyre) / arr(d_roller)))


def roller_caveat(d_tyre: float, d_roller: float) -> str:
    """A sentence when the roller is so small that its drag is a guess; empty when it is not.

    Worked: len(roller_caveat(0.672, 0.1)) = 0
    Source: [small_roller]
    """
    if d_roller >= SMALLEST_ROLLER * d_tyre:
        return ""
    return (
        f"the roller is {d_tyre / d_roller:.0f} times smaller than the tyre; "
        "drag on so small a roller is stretched from larger ones: measure it if you can"
    )


def rolling_force(*, rolling: ArrayLike, press_force: ArrayLike, d_tyre: ArrayLike, d_roller: ArrayLike) -> F:
    """Drag of a tyre pressed on a roller, at the surface of the roller.

    force = rolling * press_force * sqrt(1 + d_tyre / d_roller)

    rolling is the coefficient on a flat road (0.005 to 0.015, more when soft or worn). For a friction wheel pressed on a
    rim, its own diameter stands for the tyre.
    Worked: rolling_force(rolling=0.008, press_force=400.0, d_tyre=0.672, d_roller=0.030) = 15.48
    Source: [small_roller]
    """
    return out(arr(rolling) * arr(press_force) * curvature_factor(d_tyre, d_roller))


# ---- grip -----------------------------------------------------------------------------------------------------------


def grip_limit(*, press_force: ArrayLike, friction: ArrayLike) -> F:
    """Most pull that two pressed faces pass on.

    limit = friction * press_force

    Rubber on metal: 0.6 to 0.8 dry and smooth, 0.3 to 0.5 wet, dusty or glazed.
    Worked: grip_limit(press_force=80.0, friction=0.45) = 36.0
    Source: [friction]
    """
    return out(arr(friction) * arr(press_force))
