"""Which panels a scene needs, and what stands in each: the lines in the units people read, ratings, and the scale."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.present import words_numbers as say
from sparewatt.quantities.units import unit_of
from sparewatt.studies.scenes.answers import SceneAnswer, Track

__all__ = ["Line", "Panel", "clock", "panels"]

F = NDArray[np.float64]
MOST_WIDE, MOST_UPRIGHT = 7, 6
LONG = 600.0  # s: from here on temperatures are worth a panel
_ORDER = ("cadence", "volts", "watts", "amps", "tool", "reserve", "heat", "charge")
_DROPPED_FIRST = ("charge", "amps", "heat", "reserve", "watts", "tool")
_UNITS = {"rad/s": "rpm", "J": "kJ", "1": "%"}
_NEAR = 1.7  # a rating further off than so many times the highest volts is told in words, not drawn


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a panel. band: times, lower and upper edge, or None. rank 0 is drawn heavy, the others lighter."""

    key: str
    words: str
    t: F
    v: F
    least: F
    most: F
    band: tuple[F, F, F] | None = None
    rank: int = 0
    other: bool = False  # of the second design: dashed


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """One quantity against time. unit: of the numbers shown; si: of the quantity; limits: drawn; beyond: only told."""

    key: str
    words: str
    unit: str
    si: str
    lines: tuple[Line, ...]
    low: float
    high: float
    limits: tuple[tuple[str, float], ...] = ()
    beyond: tuple[tuple[str, float], ...] = ()

    def shown(self, si_value: float) -> float:
        """An SI value in the unit of this panel."""
        return (si_value - unit_of(self.unit).offset) / unit_of(self.unit).factor

    def si_of(self, value: float) -> float:
        """A number of this panel in SI."""
        return value * unit_of(self.unit).factor + unit_of(self.unit).offset


def clock(duration: float) -> tuple[float, str]:
    """Seconds in one unit of the time axis, and its name."""
    if duration <= 180.0:
        return 1.0, "seconds"
    return (60.0, "minutes") if duration <= 7200.0 else (3600.0, "hours")


def panels(
    a: SceneAnswer, beside: SceneAnswer | None, *, upright: bool, inch: bool, label: str
) -> list[Panel]:
    """The panels that matter for this scene, top first; cadence is always there when it was recorded."""
    made = {key: panel for key, panel in _each(a, beside, inch, label) if panel is not None}
    most = MOST_UPRIGHT if upright else MOST_WIDE
    for key in _DROPPED_FIRST:
        if len(made) > most:
            made.pop(key, None)
    return [made[key] for key in _ORDER if key in made]


def _each(
    a: SceneAnswer, beside: SceneAnswer | None, inch: bool, label: str
) -> Iterable[tuple[str, Panel | None]]:
    warm = "degF" if inch else "degC"
    load = "the battery" if a.ask.load == "charge" else say.the(a.ask.load)
    has = {t.key: t for t in a.tracks}

    def panel(
        key: str, words: str, wanted: list[tuple[str, str]], unit: str = "", zero: bool = True
    ) -> Panel | None:
        lines = [
            line
            for k, (track, name) in enumerate(wanted)
            if (line := _line(a, has.get(track), name, unit, k))
        ]
        if not lines:
            return None
        extra = _rival(beside, lines[0].key, unit, label)
        si = has[lines[0].key].unit
        return _scaled(a, key, words, unit or _UNITS.get(si, si), si, [*lines, *extra], zero)

    rigs = [""] + [f" {k}" for k in range(2, 9) if f"cadence {k}" in has]
    several = len(rigs) > 1
    cadence = [(f"cadence{k}", _rig(k, "your legs") if several else "as it is") for k in rigs]
    yield "cadence", panel("cadence", _axis(has, "cadence", "turns a minute at the crank"), cadence)
    yield "volts", panel("volts", "volts", _volts(a, has, rigs))
    watts = [("rider_power", "your legs"), ("load_power", load), ("clamp_power", "the clamp")]
    if several:
        watts = [(f"rider_power{k}", _rig(k, "your legs")) for k in rigs] + [("load_power", load)]
    yield "watts", panel("watts", "watts", [w for w in watts if _alive(has, w[0], 0.5)])
    yield "amps", panel("amps", "amps", _amps(a, has, rigs, load))
    tool = [("tool_speed", "")] if _alive(has, "tool_speed", 1.0) else []
    yield "tool", panel("tool", f"turns a minute of {load}", tool)
    reserve = [("reserve", "")] if _moves(has, "reserve", 0.02) else []
    yield "reserve", panel("reserve", "reserve left in your legs, kJ", reserve)
    heat = [w for w in (("winding", "winding"), ("magnet", "magnets")) if _warms(a, has.get(w[0]))]
    yield "heat", panel("heat", f"warmth of the machine, {'°F' if inch else '°C'}", heat, warm, zero=False)
    charge = [("charge", "")] if _moves(has, "charge", 0.01) else []
    yield "charge", panel("charge", "how full the battery is, %", charge, zero=False)


def _axis(has: dict[str, Track], key: str, otherwise: str) -> str:
    """The words of the track itself, where there is one."""
    return has[key].name if key in has and has[key].name else otherwise


def _rig(suffix: str, main: str) -> str:
    return f"rig{suffix}" if suffix else main


def _volts(a: SceneAnswer, has: dict[str, Track], rigs: list[str]) -> list[tuple[str, str]]:
    """The bus, and the output behind the board where it tells something of its own."""
    bus, out = has.get("bus_volts"), has.get("output_volts")
    wanted = [(f"bus_volts{k}", _rig(k, "at the bus")) for k in rigs if f"bus_volts{k}" in has]
    if out is not None and (bus is None or _differ(bus, out)) and (len(rigs) == 1):
        wanted.append(("output_volts", "after the board"))
    elif out is not None and len(rigs) > 1:
        wanted.append(("output_volts", "at the load"))
    return wanted


def _differ(one: Track, other: Track) -> bool:
    """The two are not the same line, and the second is not just a flat one far off."""
    if one.values.shape != other.values.shape:
        return True
    both = np.isfinite(one.values) & np.isfinite(other.values)
    if not both.any():
        return False
    reach = max(float(np.abs(one.values[both]).max()), float(np.abs(other.values[both]).max()), 1e-9)
    return float(np.abs(one.values[both] - other.values[both]).max()) > 0.03 * reach


def _amps(a: SceneAnswer, has: dict[str, Track], rigs: list[str], load: str) -> list[tuple[str, str]]:
    """Amps where they tell more than the watts do: a tool's motor, a battery, rigs that share a bus."""
    if len(rigs) > 1:
        return [(f"output_amps{k}", _rig(k, "your rig")) for k in rigs]
    wanted = []
    if _alive(has, "tool_amps", 0.02):
        wanted.append(("tool_amps", load))
    if _alive(has, "battery_amps", 0.02):
        wanted.append(("battery_amps", "into the battery"))
    if wanted and _alive(has, "machine_amps", 0.02):
        wanted.append(("machine_amps", "the machine"))
    return wanted


def _alive(has: dict[str, Track], key: str, least: float) -> bool:
    """The track is there and at some time more than nothing."""
    track = has.get(key)
    return track is not None and bool((np.abs(_finite(track.values, track.most)) > least).any())


def _moves(has: dict[str, Track], key: str, share: float) -> bool:
    """The track is there and moves by more than a share of its highest value."""
    track = has.get(key)
    if track is None:
        return False
    seen = _finite(track.values)
    return seen.size > 0 and float(np.ptp(seen)) > share * max(float(np.abs(seen).max()), 1e-9)


def _warms(a: SceneAnswer, track: Track | None) -> bool:
    if track is None:
        return False
    seen = _finite(track.values)
    return seen.size > 0 and (a.duration >= LONG or float(np.ptp(seen)) > 5.0)


def _finite(*arrays: F) -> F:
    every = np.concatenate(arrays)
    return every[np.isfinite(every)]


def _to(values: F, unit: str) -> F:
    found = unit_of(unit)
    return (np.asarray(values, dtype=float) - found.offset) / found.factor


def _line(
    a: SceneAnswer, track: Track | None, words: str, unit: str, rank: int, *, other: bool = False
) -> Line | None:
    """A track in the unit shown; None when there is no number in it."""
    if track is None or track.values.size != a.times.size or not np.isfinite(track.values).any():
        return None
    unit = unit or _UNITS.get(track.unit, track.unit)
    band = None
    whole = track.low is not None and track.high is not None and not other
    if (
        whole
        and track.low is not None
        and track.high is not None
        and track.low.size == a.spread_times.size > 1
    ):
        band = (a.spread_times, _to(track.low, unit), _to(track.high, unit))
    v = _to(track.values, unit)
    return Line(
        key=track.key,
        words=words,
        t=a.times,
        v=v,
        least=np.fmin(_to(track.least, unit), v),
        most=np.fmax(_to(track.most, unit), v),
        band=band,
        rank=rank,
        other=other,
    )


def _rival(beside: SceneAnswer | None, key: str, unit: str, label: str) -> list[Line]:
    """The same quantity of the second design."""
    if beside is None:
        return []
    track = next((t for t in beside.tracks if t.key == key), None)
    line = _line(beside, track, label, unit, 0, other=True)
    return [line] if line is not None else []


def _scaled(a: SceneAnswer, key: str, words: str, unit: str, si: str, lines: list[Line], zero: bool) -> Panel:
    """The panel with a scale that shows every line, and the ratings that are near enough to be drawn."""
    seen = _finite(*(x for line in lines for x in (line.least, line.most)))
    bands = [x for line in lines if line.band is not None for x in line.band[1:]]
    spread = _finite(*bands) if bands else seen
    low, high = float(seen.min()), float(seen.max())
    if spread.size:
        low, high = min(low, float(spread.min())), max(high, float(spread.max()))
    limits: tuple[tuple[str, float], ...] = ()
    beyond: tuple[tuple[str, float], ...] = ()
    if key == "volts":
        rated = sorted(((n, v) for n, v in a.limits if math.isfinite(v) and v > 0), key=lambda x: x[1])
        limits = tuple(x for x in rated if x[1] <= _NEAR * max(high, 1e-9))
        beyond = tuple(x for x in rated if x not in limits)
        high = max([high, *(v * 1.08 for _, v in limits)])
    if key == "cadence":
        high = max(
            [
                high,
                *(
                    w / unit_of("rpm").factor
                    for w in (a.steady.w_hold,)
                    if w / unit_of("rpm").factor < 1.5 * high
                ),
            ]
        )
    if zero and low > 0:
        low = 0.0
    span = high - low
    if span <= 0 or not math.isfinite(span):
        span = max(abs(high), 1.0)
    top, bottom = high + 0.06 * span, low - (0.06 * span if low < 0 or not zero else 0.0)
    return Panel(
        key=key,
        words=words,
        unit=unit,
        si=si,
        lines=tuple(lines),
        low=bottom,
        high=top,
        limits=limits,
        beyond=beyond,
    )
