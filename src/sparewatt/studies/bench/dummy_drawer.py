"""What lies in a junk drawer that can eat watts: what each thing takes, how hot it gets, what it must stand on and behind.

Sizes of glass, elements and resistors are typical ones, from memory; a band of surface temperature covers them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics import appliances, bench, wire

__all__ = [
    "BARE", "COLD_CAR", "COLD_MAINS", "DRAWER", "FILAMENTS", "GUARDS", "KINDS", "METALS", "STANDS", "THERMOSTAT",
    "Junk", "Surface", "amps", "bulb", "element", "highest_volts", "lowest_volts", "resistor", "surface", "wire_of",
]  # fmt: skip

F = NDArray[np.float64]
NAN = math.nan

KINDS = ("car_bulb", "house_lamp", "halogen", "heater", "kettle", "iron", "wire", "resistor")
FILAMENTS = ("car_bulb", "house_lamp", "halogen")
BARE = ("heater", "wire")  # live metal that glows in the open
THERMOSTAT = ("heater", "kettle", "iron")  # have switches of their own, made for AC

# First amps of a cold filament over its amps at full volts: 8 to 12 for car bulbs, 10 to 15 for mains lamps; the upper
# part is counted, because a fuse or a board must stand it. One tenth of the hot resistance is what a car workshop says.
COLD_CAR, COLD_MAINS = 12.0, appliances.BULB_COLD

# Resistivity at 20 degC and its growth for each kelvin.
METALS = {
    "nickel-chromium": (bench.RHO_NICHROME, bench.ALPHA_NICHROME),
    "copper-nickel": (bench.RHO_CONSTANTAN, 0.0),
}

LEAST_SHARE = 1 / 3  # of its volts below which the law of a filament does not hold
CAR_OVER, MAINS_OVER = 1.2, 1.1  # of its volts that a thing stands for a bench run: 14.4 V on a 12 V bulb
OPEN_AIR = 0.6  # of a resistor's watts that it stands without a plate to cool it

STANDS = {
    "car_bulb": "in holders, or soldered to wires, on a tile or a tin plate, the glass clear of it",
    "house_lamp": "upright in its own lamp holder on a tile",
    "halogen": "in its own holder on a tile, nothing above it",
    "heater": "hung on ceramic beads or between two bricks, on a tile, a forearm from anything that burns",
    "kettle": "with its whole element under water, in a bucket that cannot tip",
    "iron": "on its heel on a tile, dial at the hottest",
    "wire": "stretched between ceramic or brick posts over a tile, turns a finger apart, a forearm from anything that burns",
    "resistor": "on a brick or a metal plate, ends free",
}
GUARDS = {
    "car_bulb": "a tin with holes, or a wire cage",
    "house_lamp": "a wire cage that keeps hands and cloth off the glass",
    "halogen": "a closed lantern or a tin with holes: the glass can burst, and its light harms eyes",
    "heater": "a wire cage on all sides that no finger reaches through, fixed to the stand and clear of the wire",
    "kettle": "a lid, and a rule that no hand goes into the water while it is on",
    "iron": "a cage or a fence around it, its plate facing away from people",
    "wire": "a wire cage on all sides that no finger reaches through, fixed to the stand and clear of the wire",
    "resistor": "a cage or a tin with holes",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Junk:
    """One kind of thing in the drawer. count: how many there are. volts, watts: on its plate.

    ohms: of a resistor, whose watts are its rating. length, diameter, metal: of a wire, which can be cut.
    """

    name: str
    kind: str
    count: int = 1
    volts: float = NAN
    watts: float = NAN
    ohms: float = NAN
    length: float = NAN
    diameter: float = NAN
    metal: str = ""

    def __post_init__(self) -> None:
        """Refuse what can mean nothing."""
        plate = (self.volts, self.watts)
        needed = {"wire": (self.length, self.diameter), "resistor": (self.ohms, self.watts)}.get(
            self.kind, plate
        )
        fits = self.kind in KINDS and self.count >= 0 and all(math.isfinite(x) and x > 0 for x in needed)
        if not fits or (self.kind == "wire" and self.metal not in METALS):
            raise BadRequest(
                Problem(
                    where=self.name or "drawer",
                    read=self.kind,
                    problem="this cannot be reckoned with",
                    hint="a bulb or element needs its volts and watts, a resistor its ohms and watts, "
                    f"a wire its length, thickness and metal ({' or '.join(METALS)})",
                )
            )


@dataclass(frozen=True, slots=True)
class Surface:
    """area: m2; diameter: of something as round; share: low, middle and high of the watts that heat it."""

    area: float
    diameter: float
    share: tuple[float, float, float]


def bulb(watts: float, volts: float, count: int = 1, kind: str = "car_bulb") -> Junk:
    """A filament bulb by its print."""
    names = {"car_bulb": "bulb", "house_lamp": "household lamp", "halogen": "halogen lamp"}
    return Junk(
        name=f"{volts:g} V {watts:g} W {names.get(kind, kind)}",
        kind=kind,
        count=count,
        volts=volts,
        watts=watts,
    )


def element(watts: float, volts: float, kind: str = "heater", count: int = 1) -> Junk:
    """A heater element, kettle element or iron by its plate."""
    names = {"heater": "open heater element", "kettle": "kettle element", "iron": "iron"}
    return Junk(
        name=f"{volts:g} V {watts:g} W {names.get(kind, kind)}",
        kind=kind,
        count=count,
        volts=volts,
        watts=watts,
    )


def resistor(ohms: float, watts: float, count: int = 1) -> Junk:
    """A power resistor by its print."""
    return Junk(
        name=f"{ohms:g} ohm {watts:g} W resistor", kind="resistor", count=count, ohms=ohms, watts=watts
    )


def wire_of(
    length: float, *, diameter: float = NAN, gauge: float = NAN, metal: str = "nickel-chromium"
) -> Junk:
    """Resistance wire by its length and its thickness, or its American gauge."""
    d = float(wire.gauge_diameter(gauge)) if math.isfinite(gauge) else diameter
    return Junk(name=f"{1000 * d:.2f} mm {metal} wire", kind="wire", length=length, diameter=d, metal=metal)


# What a drawer near a workshop usually holds; common practice, no source.
DRAWER: tuple[Junk, ...] = (
    *(bulb(watts, 12.0, count) for watts, count in ((5.0, 6), (10.0, 4), (21.0, 8), (55.0, 4), (60.0, 2))),
    *(bulb(watts, 24.0, count) for watts, count in ((5.0, 4), (21.0, 4), (70.0, 2))),
    *(bulb(watts, 6.0, count) for watts, count in ((5.0, 2), (10.0, 2), (21.0, 2))),
)


# ---- what each takes ------------------------------------------------------------------------------------------------


def amps(item: Junk, volts: ArrayLike) -> F:
    """Current of one of them at volts across it, warm."""
    v = np.asarray(volts, dtype=np.float64)
    if item.kind in FILAMENTS:
        return np.asarray(appliances.bulb_current(v, p_rated=item.watts, v_rated=item.volts))
    if item.kind == "resistor":
        return np.asarray(v / item.ohms)
    return np.asarray(
        appliances.resistive_power(v, p_rated=item.watts, v_rated=item.volts) / np.maximum(v, 1e-12)
    )


def highest_volts(item: Junk) -> float:
    """The most volts one of them may get on the bench."""
    if item.kind == "resistor":
        return math.sqrt(OPEN_AIR * item.watts * item.ohms)
    return (CAR_OVER if item.kind == "car_bulb" else MAINS_OVER) * item.volts


def lowest_volts(item: Junk) -> float:
    """The least volts at which what is said here of it holds."""
    return LEAST_SHARE * item.volts if item.kind in FILAMENTS else 0.0


# ---- how hot it gets ------------------------------------------------------------------------------------------------

# Watts on a car bulb -> diameter and area of its glass, m and m2; from memory.
_GLASS = (
    (5.0, 0.010, 7e-4),
    (10.0, 0.015, 1.0e-3),
    (21.0, 0.025, 2.2e-3),
    (55.0, 0.012, 1.6e-3),
    (70.0, 0.013, 1.8e-3),
)
_GLOW = (
    0.25,
    0.45,
    0.9,
)  # share of a filament's watts that its glass takes up; the rest is light and heat rays
_ALL = (0.8, 1.0, 1.3)  # a still corner or a coil that shades itself makes it hotter than a free surface


def surface(item: Junk) -> Surface:
    """The surface of one of them (a wire: of its whole length)."""
    if item.kind == "car_bulb":
        watts, wide, areas = (np.array(column) for column in zip(*_GLASS, strict=True))
        return Surface(
            float(np.interp(item.watts, watts, areas)), float(np.interp(item.watts, watts, wide)), _GLOW
        )
    if item.kind == "house_lamp":
        return Surface(1.2e-2, 0.06, _GLOW)
    if item.kind == "halogen":  # a quartz rod or capsule, 11 W on each square centimetre at full watts
        return Surface(max(item.watts / 11e4, 6e-4), 0.012, _GLOW)
    if item.kind == "iron":
        return Surface(0.05, 0.12, (0.6, 1.0, 1.3))
    if item.kind == "wire":
        return Surface(math.pi * item.diameter * item.length, item.diameter, _ALL)
    # Watts on each square centimetre at full rating: open coil, rod in water, resistor.
    load, thick = {"heater": (4e4, 0.001), "kettle": (10e4, 0.008), "resistor": (1.5e4, 0.015)}[item.kind]
    return Surface(item.watts / load, thick, _ALL)
