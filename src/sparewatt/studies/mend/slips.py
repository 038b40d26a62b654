"""What can be wrong with meters, notes and the rig file: the rig is well, and what is written of it is not.

Sizes and odds are common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.moment import Moment
from sparewatt.rig.hookup import board_index
from sparewatt.rig.layout import Bound, Param
from sparewatt.studies.mend.faults import Change, Fault
from sparewatt.studies.mend.show import Numbers, Out
from sparewatt.studies.mend.tables import Tables

__all__ = ["paper_faults"]

F = NDArray[np.float64]
On = NDArray[np.int64]
HALF_WAVE = math.pi / math.sqrt(
    2
)  # a cheap meter on AC shows 2.22 times direct volts, its leads the right way round
NEAR_GEARS = 3
NOTHING = 0.02  # what a meter on AC, or a clamp for AC, shows of direct volts and amps


def paper_faults(tables: Tables, moments: Sequence[Moment]) -> Iterator[Fault]:
    """What can be wrong with meters, notes and the rig file."""
    yield from _meters(moments)
    yield from _gears(tables, moments)
    yield from _counts(moments)
    yield from _numbers(tables)


def _shown(factor: bool, *names: str) -> Change:
    def meters(out: Out, h: int, on: On, s: F) -> None:
        for name in names:
            out[name][h, on] *= s if factor else -1.0

    return meters


def _meters(moments: Sequence[Moment]) -> Iterator[Fault]:
    amps = [m for m in moments if math.isfinite(m.amps) or math.isfinite(m.amps_out)]
    volts = [m for m in moments if math.isfinite(m.volts) or math.isfinite(m.volts_out)]
    clamp = any("clamp" in m.amps_meter.casefold() for m in amps)
    named = all(m.amps_meter for m in amps)
    read = tuple(n for n, m in enumerate(moments) if m in amps and "clamp" not in m.amps_meter.casefold())
    if read:
        yield Fault(
            key="meter_fuse", name="the fuse in the amps meter has blown", weight=2.0, only=read,
            says="Where the meter sits in the line nothing flows at all: its own fuse is gone, and the line is open there.",
            change=_open,
        )  # fmt: skip
    if amps:
        yield Fault(
            key="ac_clamp", name="the amps meter sees AC only", weight=4.0 if clamp else 0.8 if named else 1.2,
            says="A clamp without DC in its name, or a meter on its AC range, shows next to nothing of a direct current.",
            middle=NOTHING, wide=0.9, meters=_shown(True, "amps", "amps_out"), unit="1",
        )  # fmt: skip
    if volts:
        says = "On its AC range a meter shows next to nothing of direct volts, or about 2.2 times as many."
        for way, factor, wide in (
            ("it shows nothing", NOTHING, 0.9),
            ("it shows 2.2 times", HALF_WAVE, 0.02),
        ):
            yield Fault(
                key="meter_on_ac", name="the volts meter stands on AC", weight=0.75, says=says, way=way, middle=factor,
                wide=wide, meters=_shown(True, "volts", "volts_out"), unit="1",
            )  # fmt: skip
        says = "The + lead sits on the - wire, or the machine turns the other way than it did on the bench."
        for way, names in (("volts", ("volts",)), ("volts and amps", ("volts", "amps"))):
            yield Fault(
                key="leads_swapped", name="the leads are swapped", weight=0.8, says=says, way=way, stops=True,
                meters=_shown(False, *names),
            )  # fmt: skip


def _open(x: Numbers, h: int, on: On, s: F) -> None:
    x["shut"][h, on] = 1.0


def _gears(tables: Tables, moments: Sequence[Moment]) -> Iterator[Fault]:
    """Another gear than the noted one, at all moments with that note or at one of them."""
    found: list[tuple[int, int, tuple[int, ...]]] = []
    for noted in sorted({int(g) for g, m in zip(tables.gear, moments, strict=True) if not m.drill}):
        at = tuple(n for n, m in enumerate(moments) if tables.gear[n] == noted and not m.drill)
        others = [g for g in range(len(tables.gears)) if g != noted]
        found += [(noted, g, at) for g in others]
        if len(at) > 1:  # one moment's note is likeliest off by a gear or two
            near = sorted(others, key=lambda g: abs(g - noted))[:NEAR_GEARS]
            found += [(noted, g, (n,)) for n in at for g in near]
    whole = sum(len(spell) > 1 or len(moments) == 1 for _n, _g, spell in found) or len(found)
    for noted, ridden, spell in found:
        alone = len(spell) == 1 and whole < len(found)
        yield Fault(
            key="wrong_gear", name="another gear was ridden than noted", way=tables.gears[ridden], only=spell,
            weight=(0.6 / (len(found) - whole) if alone else 1.6 / whole), gears=(noted, ridden), since=len(spell) > 1,
            says="The speeds belong to another pair of sprockets.",
        )  # fmt: skip


def _counts(moments: Sequence[Moment]) -> Iterator[Fault]:
    """One moment's turns counted wrongly: every second one missed, each twice, or a drill in its low gear."""
    for what, key in (("cadence", "cadence"), ("speed", "speed")):
        read = [n for n, m in enumerate(moments) if math.isfinite(getattr(m, what))]
        drills = [n for n in read if moments[n].drill]
        for n in read:
            if what == "cadence" and moments[n].drill:
                continue
            only = (n,)
            for factor, weight in ((2.0, 0.5), (0.5, 0.5)):
                yield _count(
                    key,
                    only,
                    factor,
                    0.02,
                    weight / len(read),
                    "each turn counted twice or every second missed",
                )
            if n in drills:
                yield _count(
                    key, only, 2.2, 0.22, 2.0 / len(drills), "the drill in its low gear, or the chuck slipped"
                )
            else:
                yield _count(key, only, 1.0, 0.3, 0.5 / len(read), "miscounted")


def _count(what: str, only: tuple[int, ...], factor: float, wide: float, weight: float, way: str) -> Fault:
    return Fault(
        key="miscount", name="the turns were counted wrongly", weight=weight, way=way, only=only, middle=factor, wide=wide,
        says="One speed that was written does not go with the others: it was counted, filmed or noted wrongly.",
        meters=_shown(True, what), since=False, stray=factor, unit="1",
    )  # fmt: skip


# ---- numbers in the rig file ----------------------------------------------------------------------------------------


def _wrong(
    key: str, value: float, unit: str, weight: float, change: Change, *, middle: float = 1.0, wide: float = 0.02,
    power: float = 1.0,
) -> Fault:  # fmt: skip
    return Fault(
        key="wrong_number", name="a number in the rig file is wrong", weight=weight, way=key, middle=middle, wide=wide,
        says="The rig is well, but the file says something else of it.", change=change, since=False, unit="1",
        number=(key, value, unit), power=power,
    )  # fmt: skip


def _by(power: float, *names: str) -> Change:
    """Rows times the size to a power."""

    def change(x: Numbers, h: int, on: On, s: F) -> None:
        for name in names:
            x[name][h, on] *= s**power

    return change


def _numbers(tables: Tables) -> Iterator[Fault]:
    """Keys that people write wrongly: halves and doubles, teeth swapped, screws turned since, an ohmmeter's ohms."""
    bound = tables.bounds[0]
    yield from _drive_numbers(bound)
    machine = bound.rig.machine
    assert machine is not None and machine.resistance is not None and machine.emf_constant is not None
    yield _wrong(
        "machine.resistance",
        machine.resistance.value,
        "ohm",
        0.35,
        _by(1, "r_wind"),
        middle=1 / 2.5,
        wide=0.4,
    )
    yield from _board_numbers(bound)
    battery = bound.hookup.battery
    if battery is not None and battery.voltage is not None:
        for factor in (2.0, 0.5):
            yield _wrong(
                "battery.voltage", battery.voltage.value, "V", 0.2, _by(1, "v_back", "v_open"), middle=factor
            )
    load = bound.hookup.load
    if load is not None and load.power is not None and bound.params[Param.HAS_STORE, 0] <= 0:
        key = f"load.{bound.rig.load.index(load)}.power"
        yield _wrong(key, load.power.value, "W", 0.7, _by(1, "load"), wide=0.5)


def _drive_numbers(bound: Bound) -> Iterator[Fault]:
    stages = bound.rig.stage
    for k, stage in enumerate(stages):
        turn = _by(1, "ratio", "gain")
        if stage.ratio is not None:
            yield _wrong(f"stage.{k}.ratio", stage.ratio.value, "1", 0.5 / len(stages), turn, wide=0.3)
        elif stage.driver_teeth and stage.driven_teeth:
            if len(stage.driver_teeth) == len(stage.driven_teeth) == 1:
                swapped = (stage.driven_teeth[0] / stage.driver_teeth[0]) ** 2
                if abs(math.log(swapped)) > 0.1:
                    yield _wrong(
                        f"stage.{k}.driven_teeth", stage.driven_teeth[0], "1", 0.3 / len(stages), turn,
                        middle=swapped, power=-0.5,
                    )  # fmt: skip
        elif stage.driven_diameter is not None and stage.driver_diameter is not None:
            for factor in (2.0, 0.5):
                yield _wrong(
                    f"stage.{k}.driven_diameter", stage.driven_diameter.value, "m", 0.25 / len(stages), turn,
                    middle=factor, power=-1.0,
                )  # fmt: skip
            yield _wrong(
                f"stage.{k}.driven_diameter", stage.driven_diameter.value, "m", 0.4 / len(stages), turn, wide=0.2,
                power=-1.0,
            )  # fmt: skip


def _board_numbers(bound: Bound) -> Iterator[Fault]:
    board = bound.hookup.board
    if board is None:
        return
    k = board_index(bound.rig, board)
    if board.set_voltage is not None:
        key = f"converter.{k}.set_voltage"
        yield _wrong(key, board.set_voltage.value, "V", 0.6, _by(1, "v_set"), wide=0.18)
    if board.set_current is not None:
        key = f"converter.{k}.set_current"
        yield _wrong(key, board.set_current.value, "A", 0.5, _by(1, "i_set"), wide=0.5)
