"""The families of change that the nearest yes tries: each yields rigs and asks, smallest change first, unproven."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import TypeVar

import numpy as np

from sparewatt.parts import Load, Measured, Neighbour, Rig, Stage
from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import asked_watts, edge_watts
from sparewatt.rig.endurance import most_asked, power_for
from sparewatt.rig.fill import exact
from sparewatt.rig.hookup import turned
from sparewatt.rig.layout import Param
from sparewatt.rig.operating import State, ranked_gears
from sparewatt.rig.outcome import Stop

T = TypeVar("T")
SIZES = (0.95, 0.9, 0.85, 0.8, 0.75, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
PULLEYS = (
    1.1,
    0.9,
    1.2,
    0.8,
    1.35,
    0.75,
    1.5,
    0.67,
    1.75,
    0.57,
    2.0,
    0.5,
    2.5,
    0.4,
    3.0,
    0.33,
    3.5,
    0.28,
    0.22,
)
SPELLS = (0.5, 0.25, 0.1, 0.05, 0.02, 0.01)
COINS = {"pulley": 6.0, "board": 12.0, "battery": 40.0}


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Try:
    """One change to try: the rig and ask it makes, and how it is said."""

    kind: str
    says: str
    rig: Rig
    ask: Ask
    edits: tuple[tuple[str, str], ...]
    cost: float
    size: float


def efforts(solved: State) -> Iterator[Try]:
    """Ride for less time, at what the rider can then give; or ease off to what can be held."""
    ask, bound = solved.ask, solved.bound
    cp, reserve, peak = (float(x[0]) for x in (bound.critical_power, bound.work_reserve, bound.p_peak))
    held = float(power_for(cp, reserve, ask.duration, peak))
    if ask.effort > 1.05 * held:
        easier = dataclasses.replace(ask, effort=round(held, 0), cadence=None)
        yield Try(
            kind="effort",
            says=f"ease off to {held:.0f} W, which this rider can hold that long",
            rig=solved.filled.rig,
            ask=easier,
            edits=(),
            cost=0.0,
            size=0.1,
        )
    if (
        solved.stop == Stop.OVERFILLS
        and bound.hookup.battery is not None
        and bound.hookup.battery.charge_current is not None
    ):
        over = float(solved.found.i_battery[solved.gear, 0]) / bound.hookup.battery.charge_current.value
        for share in (1.0, 0.9, 0.8, 0.7, 0.6, 0.5):
            softer = float(np.floor(ask.effort * share / over / 5) * 5) or 5.0
            easier = dataclasses.replace(ask, effort=softer, cadence=None)
            yield Try(
                kind="effort",
                says=f"ride softer, worth about {softer:.0f} W, so that the battery gets no more than it may take",
                rig=solved.filled.rig,
                ask=easier,
                edits=(),
                cost=0.0,
                size=0.1,
            )
        return
    for share in SPELLS:
        seconds = round_time(ask.duration * share)
        if seconds < 15:
            return
        effort = min(float(power_for(cp, reserve, seconds, peak)), most_asked(bound.rider))
        if effort <= 1.03 * ask.effort:
            continue
        shorter = dataclasses.replace(ask, duration=seconds, effort=round(effort, 0), cadence=None, gear=None)
        yield Try(
            kind="shorter",
            says=f"ride it in bouts of {time_words(seconds)}, pushing worth {effort:.0f} W",
            rig=solved.filled.rig,
            ask=shorter,
            edits=(),
            cost=0.0,
            size=0.12 * math.log2(1 / share),
        )


def gears(solved: State) -> Iterator[Try]:
    """Another sprocket that is already there."""
    if solved.ask.gear is None:
        return
    for g in ranked_gears(solved):
        name = solved.bound.gears[g]
        if g != solved.gear:
            ask = dataclasses.replace(solved.ask, gear=name, cadence=None)
            yield Try(
                kind="gear",
                says=f"shift to {name}",
                rig=solved.filled.rig,
                ask=ask,
                edits=(),
                cost=0.0,
                size=0.05,
            )


def sheds(solved: State) -> Iterator[Try]:
    """A smaller load, or fewer charging amps."""
    bound, rig, ask = solved.bound, solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    load, board = bound.hookup.load, bound.hookup.board
    if load is not None and load.life_support:
        return
    if load is not None:
        k = rig.load.index(load)
        assert load.power is not None
        for m in SIZES:
            watts = round2(load.power.value * m)
            smaller = dataclasses.replace(
                load,
                power=dataclasses.replace(
                    load.power, value=watts, sd=max(load.power.sd * m, 0.001 * watts), how="measured"
                ),
            )
            yield Try(
                kind="shed",
                says=f"shed load: run no more than {watts:g} W of it",
                rig=swap_load(rig, k, smaller),
                ask=ask,
                edits=(
                    (f"load.{k}.power", f"{watts:g} W +/- {max(load.power.sd * m, 0.001 * watts):.3g} W"),
                ),
                cost=0.0,
                size=(1 - m) * 0.8,
            )
    elif board is not None:
        edge = float(edge_watts(bound.nominal(), solved.gear, ask.effort)[0][0])
        volts = float(bound.params[Param.V_HELD, 0])
        for m in (0.85, 0.7, 0.5):
            amps = round2(m * edge / max(volts, 1.0))
            if amps <= 0.05:
                continue
            changed, key = turned(rig, board, load, "set_current", exact(amps))
            yield Try(
                kind="shed",
                says=f"turn the amps screw of the {board.name} down to {amps:g} A",
                rig=changed,
                ask=ask,
                edits=((key, f"{amps:g} A"),),
                cost=0.0,
                size=0.08,
            )


def pulleys(solved: State) -> Iterator[Try]:
    """Another size of the last pulley, roller or lone sprocket, or another measured ratio."""
    rig, ask = solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    places = [
        k
        for k, s in enumerate(rig.stage)
        if s.ratio is not None or s.driven_diameter is not None or len(s.driven_teeth) == 1
    ]
    if not places:
        return
    k = places[-1]
    for f in PULLEYS:
        stage, says, edit = _resized(rig.stage[k], f)
        yield Try(
            kind="pulley",
            says=says,
            rig=dataclasses.replace(rig, stage=swap(rig.stage, k, stage)),
            ask=ask,
            edits=((f"stage.{k}.{edit[0]}", edit[1]),),
            cost=coins_for(rig, "pulley"),
            size=0.15 + 0.4 * abs(math.log(f)),
        )


def _resized(stage: Stage, f: float) -> tuple[Stage, str, tuple[str, str]]:
    """The step with its driven side f times as large, what to say, and the rig-file edit."""
    if stage.ratio is not None:
        ratio = round2(stage.ratio.value / f)
        part = dataclasses.replace(stage, ratio=Measured(ratio, 0.0, "computed"))
        return (
            part,
            f"change that step to a ratio of {ratio:g} instead of {stage.ratio.value:g}",
            ("ratio", f"{ratio:g}"),
        )
    if stage.driven_teeth:
        teeth, had = max(8, round(stage.driven_teeth[0] * f)), stage.driven_teeth[0]
        part = dataclasses.replace(stage, driven_teeth=(teeth,))
        return part, f"fit {teeth} teeth in place of the {had}", ("driven_teeth", f"[{teeth}]")
    old = stage.driven_diameter
    assert old is not None
    mm, what = float(round(old.value * f * 1000)), "roller" if stage.kind == "roller" else "pulley"
    part = dataclasses.replace(stage, driven_diameter=Measured(mm / 1000, 0.0, "computed"))
    return (
        part,
        f"fit a {mm:.0f} mm {what} in place of the {old.value * 1000:.0f} mm one",
        ("driven_diameter", f"{mm:.0f} mm"),
    )


def riders(solved: State) -> Iterator[Try]:
    """More riders on like rigs, sharing the load."""
    bound, rig, ask = solved.bound, solved.filled.rig, dataclasses.replace(solved.ask, cadence=None)
    if bound.hookup.load is None:
        return
    edge, asked = edge_watts(bound.nominal(), solved.gear, ask.effort)[0][0], asked_watts(bound)[0]
    if not (math.isfinite(edge) and edge > 1 and math.isfinite(asked)):
        return
    have = 1 + len(rig.neighbour)
    first = max(have + 1, math.ceil(1.15 * have * asked / edge))
    for n in range(first, min(first + 2, 7)):
        new = tuple(Neighbour(name=f"rig {k + 1}") for k in range(have, n))
        edits = tuple(("neighbour+", f'name = "{x.name}"') for x in new)
        yield Try(
            kind="riders",
            says=f"share it between {n} riders on like rigs",
            rig=dataclasses.replace(rig, neighbour=(*rig.neighbour, *new)),
            ask=ask,
            edits=edits,
            cost=math.nan,
            size=0.45 + 0.25 * (n - have),
        )


def swap_load(rig: Rig, k: int, load: Load) -> Rig:
    """The rig with its k-th load replaced."""
    return dataclasses.replace(rig, load=swap(rig.load, k, load))


def swap(parts: tuple[T, ...], k: int, part: T) -> tuple[T, ...]:
    """The parts with the k-th replaced."""
    return (*parts[:k], part, *parts[k + 1 :])


def coins_for(rig: Rig, what: str) -> float:
    """What such a part costs in the rig's own coin, or a plain guess."""
    given = getattr(rig.prices, what, None) if rig.prices is not None else None
    return float(given.value) if given is not None else COINS.get(what, math.nan)


def round2(x: float) -> float:
    """Two significant digits."""
    if x <= 0 or not math.isfinite(x):
        return x
    digits = 1 - math.floor(math.log10(x))
    return float(np.round(x, digits))


def round_time(seconds: float) -> float:
    """A time a person would say, s."""
    for step in (3600, 600, 300, 60, 30, 10):
        if seconds >= 2 * step:
            return float(round(seconds / step) * step)
    return float(round(seconds))


def time_words(seconds: float) -> str:
    """A time in words."""
    if seconds >= 5400:
        return f"{seconds / 3600:.1f} h".replace(".0 h", " h")
    return f"{seconds / 60:.0f} min" if seconds >= 90 else f"{seconds:.0f} s"
