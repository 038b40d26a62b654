"""Dummy loads from the junk drawer: which things, how many in a row and side by side, eat the wanted watts at some volts.

Small combinations are tried whole, each part within its volts and watts, and ranked by how near they come and how few parts
they take. Every one comes with its first gulp, its heat, and what it must stand on and behind.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.physics import bench, shock
from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.bench import dummy_drawer as drawer_of
from sparewatt.studies.bench.answers import Dummy
from sparewatt.studies.bench.dummy_drawer import DRAWER, Junk

__all__ = ["SOURCES", "DummyCurve", "dummy_loads", "over_volts"]

F = NDArray[np.float64]

SOURCES = (
    "lamp_rerating",
    "lamp_inrush",
    "ohm_joule",
    "air_film",
    "grey_body",
    "heater_wire_table",
    "iso13732",
    "elv_touch",
)

NEAR = 0.20  # share by which the watts may miss what is wanted
MOST_IN_ROW = 10
MOST_PARTS = 12
MOST_KINDS = 3
PER_PART, PER_KIND, PER_BARE = (
    0.015,
    0.03,
    0.06,
)  # what each further part, kind, or bare wire costs, in shares of the watts
ALIKE = 2  # answers shown with the same kinds of things
WIRE_HOT = 600.0  # K that open wire is kept below
WIRE_SHORT = 0.3  # m, shortest strand worth stretching
MOST_STRANDS = 4
AIR = 293.15
SLIGHT = 0.04  # share of the watts below which a kind of thing is not worth wiring

GULP = (
    "Cold bulbs take 8 to 12 times their amps for the first tenth of a second, mains lamps up to 15. "
    "Fuses and boards may trip, and the pedals feel a brake. Spin up first, or warm them through one more bulb in line."
)
OWN_SWITCH = (
    "Its own switch and thermostat are made for AC and may weld on direct current. "
    "Set them to full, and switch it at a switch marked for direct current."
)
DAMP_HANDS = "Above 30 V damp or sweaty hands feel it. Cover every joint."
HIGH_VOLTS = (
    "Above 60 V direct current a touch can kill, and an arc at an opened contact does not go out by itself. Cover every "
    "joint, break it only at a switch marked for these volts, and use no house plugs. Local rules come first."
)
LIVE_WIRE = "Its bare wire is live as well as hot. Cage and stand first, then the wires, then the volts."
NEVER_DRY = (
    "Dry it burns out in seconds, even at part of its watts. Water, then volts; volts off, then hands."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DummyCurve:
    """What a dummy takes over a span of volts. within: each part within its volts and watts, and its law trusted."""

    volts: F
    amps: F
    watts: F
    within: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class _Rows:
    """So many equal rows of so many equal things each, side by side."""

    item: Junk
    series: int
    parallel: int
    watts: float  # of all rows together

    @property
    def parts(self) -> int:
        return self.series * self.parallel


def dummy_loads(
    watts: float, volts: float, drawer: Sequence[Junk] = DRAWER, *, most: int = 6, air: float = AIR
) -> tuple[Dummy, ...]:
    """Dummy loads for so many watts at so many volts, best first; refused when nothing in the drawer comes near."""
    if not (math.isfinite(watts) and watts > 0 and math.isfinite(volts) and volts > 0):
        raise BadRequest(
            Problem(
                where="dummy load", read=f"{watts:g} W at {volts:g} V", problem="watts and volts must be above zero",
                hint="50 W at 12 V",
            )
        )  # fmt: skip
    tried = [*_of_parts(watts, volts, drawer), *_of_wire(watts, volts, drawer, air)]
    tried.sort(key=lambda rows: _cost(rows, watts))
    shown: list[tuple[_Rows, ...]] = []
    alike: dict[tuple[str, ...], int] = {}
    for rows in tried:
        kinds = tuple(sorted(row.item.name for row in rows))
        if len(shown) < most and alike.get(kinds, 0) < ALIKE:
            shown.append(rows)
            alike[kinds] = alike.get(kinds, 0) + 1
    if not shown:
        raise BadRequest(
            Problem(
                where="dummy load", read=f"{watts:g} W at {volts:g} V", problem="nothing in the drawer comes near that",
                hint=_would_do(watts, volts),
            )
        )  # fmt: skip
    return tuple(_told(rows, watts, volts, air) for rows in shown)


def over_volts(found: Dummy, drawer: Sequence[Junk], volts: ArrayLike) -> DummyCurve:
    """Amps and watts of a dummy over a span of volts."""
    v = np.atleast_1d(np.asarray(volts, dtype=np.float64))
    known = {item.name: item for item in drawer}
    amps, within = np.zeros_like(v), np.ones(v.shape, dtype=bool)
    for name, count in found.items:
        each = v / found.series
        item = known.get(name)
        if item is None:  # wire cut to length: its ohms are those of the whole
            amps = amps + v * found.amps / found.volts
            within &= v <= found.volts * 1.001
            continue
        amps = amps + drawer_of.amps(item, each) * (count / found.series)
        within &= (each >= drawer_of.lowest_volts(item)) & (each <= drawer_of.highest_volts(item) * 1.0001)
    return DummyCurve(volts=v, amps=amps, watts=v * amps, within=within)


# ---- the search -----------------------------------------------------------------------------------------------------


def _of_parts(watts: float, volts: float, drawer: Sequence[Junk]) -> Iterator[tuple[_Rows, ...]]:
    """All small combinations that come near: one row length for all, up to three kinds of things side by side."""
    for series in range(1, MOST_IN_ROW + 1):
        each = volts / series
        strings = []
        for item in drawer:
            many = min(item.count, MOST_PARTS) // series
            if item.kind == "wire" or many < 1:
                continue
            if drawer_of.lowest_volts(item) <= each <= drawer_of.highest_volts(item):
                strings.append((item, volts * float(drawer_of.amps(item, each)), many))
        for kinds in range(1, MOST_KINDS + 1):
            for chosen in itertools.combinations(strings, kinds):
                yield from _mixed(chosen, series, watts)


def _mixed(
    chosen: tuple[tuple[Junk, float, int], ...], series: int, watts: float
) -> Iterator[tuple[_Rows, ...]]:
    """All counts of rows of the chosen things that come near the watts."""
    if sum(one for _, one, _ in chosen) > (1 + NEAR) * watts or len(chosen) * series > MOST_PARTS:
        return
    for counts in itertools.product(*(range(1, many + 1) for _, _, many in chosen)):
        total = sum(n * one for n, (_, one, _) in zip(counts, chosen, strict=True))
        least = min(n * one for n, (_, one, _) in zip(counts, chosen, strict=True))
        if abs(total / watts - 1) <= NEAR and sum(counts) * series <= MOST_PARTS and least > SLIGHT * watts:
            yield tuple(
                _Rows(item, series, n, n * one) for n, (item, one, _) in zip(counts, chosen, strict=True)
            )


def _of_wire(watts: float, volts: float, drawer: Sequence[Junk], air: float) -> Iterator[tuple[_Rows, ...]]:
    """Strands of resistance wire cut to give just the watts, where there is enough of it and it stays below its heat."""
    for item in drawer:
        if item.kind != "wire":
            continue
        rho, alpha = drawer_of.METALS[item.metal]
        section = math.pi / 4 * item.diameter**2
        for strands in range(1, MOST_STRANDS + 1):
            warm, hot = 1.0, air
            for _ in range(8):  # warmer wire has more ohms, so a shorter piece does
                length = volts**2 * strands / watts * section / (rho * warm)
                hot = float(
                    bench.surface_temperature(
                        watts / strands,
                        area_surface=math.pi * item.diameter * length,
                        d_body=item.diameter,
                        t_air=air,
                    )
                )
                warm = 1 + alpha * (hot - 293.15)
            if length >= WIRE_SHORT and strands * length <= item.length and hot <= WIRE_HOT:
                name = f"{length:.2f} m of {item.name}"
                cut = Junk(
                    name=name,
                    kind="wire",
                    count=strands,
                    length=length,
                    diameter=item.diameter,
                    metal=item.metal,
                )
                yield (_Rows(cut, 1, strands, watts),)
                break


def _cost(rows: tuple[_Rows, ...], watts: float) -> float:
    off = abs(sum(row.watts for row in rows) / watts - 1)
    bare = any(row.item.kind in drawer_of.BARE for row in rows)
    return (
        off + PER_PART * (sum(row.parts for row in rows) - 1) + PER_KIND * (len(rows) - 1) + PER_BARE * bare
    )


def _would_do(watts: float, volts: float) -> str:
    """What to look for instead: car bulbs where some number of them does, else ohms."""
    options = []
    for one_watts in (5.0, 10.0, 21.0, 55.0):
        item = drawer_of.bulb(one_watts, 12.0)
        for series in range(1, math.ceil(volts / 8) + 1):
            each = volts / series
            if drawer_of.lowest_volts(item) <= each <= drawer_of.highest_volts(item):
                one = volts * float(drawer_of.amps(item, each))
                rows = max(1, round(watts / one))
                cost = abs(rows * one / watts - 1) + PER_PART * rows * series
                options.append((cost, abs(rows * one / watts - 1), item, series, rows))
    near = [option for option in options if option[1] <= NEAR]
    if not near:
        return f"a resistance of {volts**2 / watts:.2g} ohm that stands the heat, such as heater wire cut to length"
    _, _, item, series, rows = min(near, key=lambda option: option[0])
    return f"look for {rows * series} bulbs of 12 V {item.watts:g} W, {_arranged(series, rows)}"


# ---- what is said ---------------------------------------------------------------------------------------------------


def _told(rows: tuple[_Rows, ...], wanted: float, volts: float, air: float) -> Dummy:
    watts = sum(row.watts for row in rows)
    series = rows[0].series
    cold = sum(_cold(row, volts) for row in rows)
    surface = _hottest(rows, air)
    kinds = list(dict.fromkeys(row.item.kind for row in rows))
    return Dummy(
        says=_says(rows),
        items=tuple((row.item.name, row.parts) for row in rows),
        series=series,
        parallel=sum(row.parallel for row in rows),
        volts=volts,
        amps=watts / volts,
        watts=watts,
        cold_amps=cold,
        surface=surface,
        guard="; ".join(dict.fromkeys(drawer_of.GUARDS[kind] for kind in kinds)),
        stands="; ".join(dict.fromkeys(drawer_of.STANDS[kind] for kind in kinds)),
        off=watts / wanted - 1,
        caveats=_caveats(kinds, volts, surface, cold * volts / watts),
    )


def _arranged(series: int, rows: int) -> str:
    if series == 1:
        return "side by side"
    return "in a row" if rows == 1 else f"{series} in a row, {rows} such rows side by side"


def _says(rows: tuple[_Rows, ...]) -> str:
    return "; beside that ".join(
        row.item.name
        if row.parts == 1
        else f"{row.parts} × {row.item.name}, {_arranged(row.series, row.parallel)}"
        for row in rows
    )


def _cold(row: _Rows, volts: float) -> float:
    """First amps, all its filaments cold."""
    item = row.item
    if item.kind not in drawer_of.FILAMENTS:
        return row.watts / volts
    factor = drawer_of.COLD_CAR if item.kind == "car_bulb" else drawer_of.COLD_MAINS
    return row.parallel * factor * item.watts / item.volts * (volts / row.series) / item.volts


def _hottest(rows: tuple[_Rows, ...], air: float) -> Band:
    """The band of the hottest thing: its middle by the middle figures, its ends by the share of watts it may take up."""
    bands = []
    for row in rows:
        body = drawer_of.surface(row.item)
        shares = np.array(body.share) * row.watts / row.parts
        low, mid, high = bench.surface_temperature(
            shares, area_surface=body.area, d_body=body.diameter, t_air=air
        ).tolist()
        if row.item.kind == "kettle":  # under water
            low, mid, high = 300.0, 340.0, 373.15
        bands.append(Band(mid, low, high, "typical"))
    return max(bands, key=lambda band: band.mid)


def _caveats(kinds: list[str], volts: float, surface: Band, gulp: float) -> tuple[Caveat, ...]:
    texts = []
    stage = int(shock.burn_stage(surface.high))
    if stage >= 1:
        how = ("after hours", "after minutes", "within a minute", "within a second")[stage - 1]
        texts.append(f"It gets too hot to touch: skin may burn {how}. It stays hot after it is switched off.")
    if gulp > 2:
        texts.append(GULP)
    if any(kind in drawer_of.BARE for kind in kinds):
        texts.append(LIVE_WIRE)
    if "kettle" in kinds:
        texts.append(NEVER_DRY)
    if any(kind in drawer_of.THERMOSTAT for kind in kinds) and volts > 14.5:
        texts.append(OWN_SWITCH)
    touch = int(shock.touch_stage(volts))
    if touch >= 2:
        texts.append(HIGH_VOLTS)
    elif touch == 1:
        texts.append(DAMP_HANDS)
    return tuple(Caveat(where="dummy load", text=text) for text in texts)
