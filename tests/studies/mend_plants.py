"""Planted faults for synthetic rides: which rigs each can be planted on, and how large it is."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator

import numpy as np
from tests.studies.mend_rigs import RIGS, Fault, Ride, best_gear, gears_of, handful, ride

from sparewatt.parts import Measured, Rig

Rng = np.random.Generator
BATTERY = ("hut", "bench top", "skerry", "cellar")
BOARDS = ("bench top", "laptop", "skerry", "schoolyard")
SLIPS = ("hut", "bench top", "laptop", "lamp", "skerry", "schoolyard")
DIODES = ("hut", "bench top", "laptop", "skerry", "cellar", "schoolyard")
GEARED = ("hut", "bench top", "laptop", "lamp", "skerry", "schoolyard")
ALL = tuple(RIGS)
# Ohms and volts that matter: volts at work and amps at work on the machine's side of each rig
WORK = {"hut": (13.5, 5.0), "bench top": (38.0, 2.0), "laptop": (24.0, 2.2), "lamp": (14.0, 4.5), "skerry": (40.0, 2.0),
        "cellar": (13.5, 2.8), "schoolyard": (22.0, 2.0)}  # fmt: skip


def machine(**factors: float) -> Callable[[Rig], Rig]:
    """The machine with some constants multiplied."""

    def change(rig: Rig) -> Rig:
        assert rig.machine is not None
        new = {name: getattr(rig.machine, name).scaled(f) for name, f in factors.items()}
        return dataclasses.replace(rig, machine=dataclasses.replace(rig.machine, **new))

    return change


def battery_cell(rig: Rig) -> float:
    """Volts of one lead-acid cell."""
    return -2.05


def _scaled(*names: str, by: float) -> Callable[[dict[str, float]], None]:
    def meters(seen: dict[str, float]) -> None:
        for name in names:
            seen[name] = round(seen[name] * by, 2)

    return meters


def _slip(name: str, rng: Rng) -> Fault:
    return Fault("slip", slip=float(rng.uniform(0.08, 0.3)))


def _drag(name: str, rng: Rng) -> Fault:
    pull = 10.0 if name in ("cellar", "schoolyard") else 14.0
    return Fault("drag", drag=float(rng.uniform(0.35, 0.7)) * pull)


def _hot(name: str, rng: Rng) -> Fault:
    return Fault("hot_copper", hotter=float(rng.uniform(50, 100)))


def _magnet(name: str, rng: Rng) -> Fault:
    return Fault("weak_magnet", rig=machine(emf_constant=1 - float(rng.uniform(0.12, 0.4))))


def _brush(name: str, rng: Rng) -> Fault:
    volts = float(rng.uniform(0.1, 0.22)) * WORK[name][0]
    return Fault("worn_brush", rig=lambda rig: _with_brush(rig, volts))


def _with_brush(rig: Rig, volts: float) -> Rig:
    assert rig.machine is not None and rig.machine.brush_drop is not None
    drop = Measured(rig.machine.brush_drop.value + volts)
    return dataclasses.replace(rig, machine=dataclasses.replace(rig.machine, brush_drop=drop))


def _winding(name: str, rng: Rng) -> Fault:
    f = float(rng.choice([rng.uniform(0.5, 0.75), rng.uniform(1.35, 1.8)]))
    return Fault(
        "wrong_winding", rig=machine(emf_constant=f, resistance=f**2 * float(rng.uniform(0.8, 1.25)))
    )


def _contact(name: str, rng: Rng) -> Fault:
    v, i = WORK[name]
    return Fault("loose_contact", ohms=float(rng.uniform(0.12, 0.35)) * v / i)


def _limit(name: str, rng: Rng) -> Fault:
    _volts, i = WORK[name]
    amps = float(rng.uniform(0.5, 0.8)) * i

    def change(rig: Rig) -> Rig:
        boards = tuple(
            dataclasses.replace(b, input_current=Measured(amps)) if b.at != "load" else b
            for b in rig.converter
        )
        return dataclasses.replace(rig, converter=boards)

    return Fault("board_limit", rig=change)


def _through(name: str, rng: Rng) -> Fault:
    return Fault("passes_through", through=True)


def _fuse(name: str, rng: Rng) -> Fault:
    return Fault("meter_fuse", fuse=True)


def _clamp(name: str, rng: Rng) -> Fault:
    return Fault("ac_clamp", meters=_scaled("amps", "amps_out", by=float(rng.uniform(0.0, 0.04))))


def _on_ac(name: str, rng: Rng) -> Fault:
    by = float(rng.choice([2.22, rng.uniform(0.0, 0.03)]))
    return Fault("meter_on_ac", meters=_scaled("volts", "volts_out", by=by))


def _open(name: str, rng: Rng) -> Fault:
    return Fault("open_diode", shut=True)


def _reversed(name: str, rng: Rng) -> Fault:
    return Fault("reversed_diode", backward=True)


def _tired(name: str, rng: Rng) -> Fault:
    return Fault("tired_rider", legs=float(rng.uniform(0.35, 0.55)))


def _worn_battery(name: str, rng: Rng) -> Fault:
    v, i = WORK[name]
    return Fault("battery_resistance", battery_ohms=float(rng.uniform(0.1, 0.3)) * 144 / (v * i))


def _full(name: str, rng: Rng) -> Fault:
    v, i = WORK[name]
    return Fault(
        "battery_full", battery_volts=float(rng.uniform(0.9, 1.7)), battery_ohms=0.03 * 144 / (v * i)
    )


def _cell(name: str, rng: Rng) -> Fault:
    return Fault("battery_cell", battery_volts=-2.05)


def _leads(name: str, rng: Rng) -> Fault:
    return Fault("leads_swapped", meters=_scaled("volts", by=-1.0))


def _number(name: str, rng: Rng) -> Fault:
    """A screw, a diameter or a load that is not what the file says."""
    choices: list[Callable[[Rig], Rig]] = []
    if name in ("bench top", "skerry"):
        choices += [lambda rig: _set(rig, "set_current", float(rng.uniform(0.35, 0.55)))]
    if name in ("laptop", "schoolyard"):
        choices += [lambda rig: _watts(rig, float(rng.choice([0.5, 1.6])))]
    if name in ("hut", "bench top", "laptop", "lamp", "skerry", "schoolyard"):
        f = float(rng.choice([0.5, 2.0])) if name in ("lamp", "skerry") else float(rng.choice([0.75, 1.3]))
        choices += [lambda rig: _diameter(rig, f)]
    return Fault("wrong_number", rig=choices[int(rng.integers(len(choices)))])


def _set(rig: Rig, field: str, by: float) -> Rig:
    first = rig.converter[0]
    changed = dataclasses.replace(first, **{field: getattr(first, field).scaled(by)})
    return dataclasses.replace(rig, converter=(changed, *rig.converter[1:]))


def _watts(rig: Rig, by: float) -> Rig:
    first = rig.load[0]
    assert first.power is not None
    return dataclasses.replace(
        rig, load=(dataclasses.replace(first, power=first.power.scaled(by)), *rig.load[1:])
    )


def _diameter(rig: Rig, by: float) -> Rig:
    last = rig.stage[-1]
    assert last.driven_diameter is not None
    changed = dataclasses.replace(last, driven_diameter=last.driven_diameter.scaled(by))
    return dataclasses.replace(rig, stage=(*rig.stage[:-1], changed))


PLANTS: dict[str, tuple[Callable[[str, Rng], Fault], tuple[str, ...]]] = {
    "slip": (_slip, SLIPS), "drag": (_drag, ALL), "hot_copper": (_hot, ALL), "weak_magnet": (_magnet, ALL),
    "worn_brush": (_brush, ALL), "wrong_winding": (_winding, ALL), "loose_contact": (_contact, ALL),
    "board_limit": (_limit, BOARDS), "passes_through": (_through, ("laptop", "schoolyard")), "meter_fuse": (_fuse, ALL),
    "ac_clamp": (_clamp, ALL), "meter_on_ac": (_on_ac, ALL), "open_diode": (_open, DIODES),
    "reversed_diode": (_reversed, ("hut", "cellar")), "tired_rider": (_tired, ALL),
    "battery_resistance": (_worn_battery, BATTERY), "battery_full": (_full, BATTERY), "battery_cell": (_cell, BATTERY),
    "leads_swapped": (_leads, ALL), "wrong_number": (_number, SLIPS), "wrong_gear": (_tired, GEARED),
    "normal": (lambda name, rng: Fault(), ALL),
}  # fmt: skip


def planted(key: str, name: str, seed: int, *, before: bool = False, rich: bool = True) -> Ride:
    """A ride with one fault, and a handful of readings."""
    rng = np.random.default_rng([seed, 17])
    fault = PLANTS[key][0](name, rng)
    one = ride(name, fault, seed)
    if key == "wrong_gear":
        gears = gears_of(one)
        one.fault = Fault("wrong_gear")
        noted = best_gear(one)
        others = [g for g in gears if g != noted]
        one.fault = Fault("wrong_gear", gear={noted: others[int(rng.integers(len(others)))]})
    handful(one, before=before, rich=rich)
    return one


def cases(rounds: int, *, keys: tuple[str, ...] = tuple(PLANTS)) -> Iterator[tuple[str, str, int, bool]]:
    """(fault, rig, seed, whether readings from before are there), every fault on every rig it can be on."""
    for turn in range(rounds):
        for n, key in enumerate(keys):
            for m, name in enumerate(PLANTS[key][1]):
                yield key, name, 10_000 * turn + 100 * n + m, turn % 2 == 1
