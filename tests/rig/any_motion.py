"""Random rigs in motion and random scenes to play on them, for the properties that hold whatever the numbers."""

from __future__ import annotations

import dataclasses
import functools

import numpy as np
from hypothesis import assume
from hypothesis import strategies as st
from numpy.typing import NDArray

from sparewatt.errors import SparewattError
from sparewatt.files import read_text
from sparewatt.rig.bind import bind
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.layout import Bound
from sparewatt.rig.motion import Moving, Played, Start, bind_motion, join_rigs
from sparewatt.rig.motion_layout import Act, Sum
from sparewatt.rig.outcome import Crossings
from sparewatt.rig.refusals import refusal
from sparewatt.rig.solve import crossings

__all__ = ["BOARDS", "Ride", "bound_of", "moving_of", "rides", "shortfall", "texts", "throughput"]

F = NDArray[np.float64]
BATTERIES = {6: "flooded", 12: "agm", 24: "lifepo4"}
BOARDS = ("buck", "boost", "buck_boost")
LOADS = {
    "electronics": 'voltage = "{v} V"\npower = "{p} W"',
    "led": 'voltage = "{v} V"\npower = "{p} W"',
    "lamp": 'voltage = "{v} V"\npower = "{p} W"\nstart_factor = "8"',
    "heater": 'voltage = "{v} V"\npower = "{p} W"',
    "dc_motor": 'voltage = "{v} V"\npower = "{p} W"',
    "universal_motor": 'plate_voltage = "230 V"\nplate_power = "600 W"\nplate_speed = "20000 rpm"\n'
    'winding_resistance = "11 ohm"',
}


@st.composite
def texts(
    draw: st.DrawFn,
    *,
    battery: bool | None = None,
    tool: bool = True,
    plain: bool = False,
    boards: tuple[str, ...] = ("", *BOARDS),
) -> tuple[str, str]:
    """A rig file of a rig that somebody could build, with any board, and the name of what it feeds.

    plain: nothing that the steady map leaves out: no bleeder, no clamp, no fuse, an even push, a bus that does not swing.
    """

    def some(*lines: str) -> str:
        return draw(st.sampled_from(("", *lines)))

    def number(low: float, high: float) -> str:
        return f"{draw(st.floats(low, high)):.4g}"

    rows = ["name = 'any'", "[[rider]]", "name = 'a'", f"critical_power = '{number(80, 260)} W'"]
    rows += [
        f"work_reserve = '{number(2, 20)} kJ'",
        some("reaction_time = '0.3 s'", "reaction_time = '0.8 s'"),
    ]
    curve = "push_curve = [[0, 0.5], [80, 1.7], [180, 0.6], [260, 1.4]]"
    rows += ["peak_to_mean = 1"] if plain else [some("peak_to_mean = 1.9", "peak_to_mean = 1.2", curve)]
    teeth = draw(st.lists(st.integers(11, 34), min_size=1, max_size=3, unique=True))
    rows += ["[[stage]]", "kind = 'chain'", "driver_teeth = [42]", f"driven_teeth = {teeth}"]
    rows += [some("freewheel = true", "freewheel = false")]
    volts = draw(st.sampled_from([6, 12, 24]))
    has_battery = draw(st.booleans()) if battery is None else battery
    board = draw(st.sampled_from(boards))
    k, step = draw(st.floats(0.03, 0.3)), {"": 1.25, "buck": 1.8, "boost": 0.8, "buck_boost": 1.1}[board]
    turns = (
        volts * step * draw(st.floats(0.8, 1.5)) / k / 6.5 / (42 / 20)
    )  # the volts wanted near 62 turns a minute
    rows += ["[[stage]]", "kind = 'toothed_belt'", "driver_diameter = '500 mm'"]
    rows += [f"driven_diameter = '{500 / max(turns, 0.5):.5g} mm'"]
    rows += [
        "[machine]",
        f"kind = '{'pm_dc' if plain else draw(st.sampled_from(['pm_dc', 'pm_dc', 'pm_three_phase']))}'",
    ]
    rows += [f"emf_constant = '{k:.5g} V*s/rad'", f"resistance = '{number(0.05, 1.2)} ohm'"]
    rows += [f"friction = '{number(0.005, 0.1)} N*m'", some("inductance = '0.2 mH'", "inductance = '4 mH'")]
    rows += ["[diode]", f"kind = '{draw(st.sampled_from(['schottky', 'ideal', 'silicon', 'none']))}'"]
    bus = [some("capacitance = '47 mF'", "capacitance = '8 F'")]
    if not plain:
        small = some("capacitance = '1 mF'")
        bus = [small or bus[0], some("bleeder = '2 kohm'"), some("capacitor_voltage = '35 V'")]
    rows += ["[bus]", *bus] if any(bus) else []
    if draw(st.integers(0, 2)) == 0:
        rows += ["[[flywheel]]", f"mass = '{number(1, 15)} kg'", "diameter = '300 mm'"]
        rows += [f"after_stage = {draw(st.integers(0, 2))}", some("shape = 'rim'")]
    if not plain:
        rows += _guards(draw, volts)
    if board:
        rows += ["[[converter]]", "name = 'board'", f"kind = '{board}'", "at = 'rig'"]
        rows += [
            f"set_voltage = '{volts * (1.18 if has_battery else 1):.4g} V'",
            some("set_current = '3 A'", "set_current = '8 A'"),
        ]
        # a step-up board that sleeps above the volts it makes only rattles: it passes through, sags and sleeps
        rows += [f"input_min = '{0.6 * volts:.4g} V'"] if board == "boost" else []
        rows += [
            some("input_current = '6 A'"),
            some("efficiency = '97 %'"),
            some("soft_start = '20 ms'", "soft_start = '0.6 s'"),
        ]
    if has_battery:
        rows += ["[battery]", f"chemistry = '{BATTERIES[volts]}'", f"voltage = '{volts} V'"]
        rows += [f"capacity = '{number(4, 60)} Ah'", some("charge = '20 %'", "charge = '97 %'")]
        rows += ["through = 'board'"] if board else []
    kind = draw(st.sampled_from(["charge", *LOADS] if has_battery else [*LOADS]))
    if not tool and kind in ("dc_motor", "universal_motor"):
        kind = "led"
    if kind == "charge":
        return "\n".join(filter(None, rows)), "charge"
    if kind == "universal_motor":  # on mains volts, from an inverter or straight off a board that makes them
        rows += [
            "[[converter]]",
            "name = 'own'",
            "kind = 'boost'",
            "set_voltage = '110 V'",
            some("set_current = '2 A'"),
        ]
        rows += ["at = 'load'" if has_battery else "at = 'rig'"]
        rows = [row for row in rows if has_battery or row != "at = 'load'"]
    rows += ["[[load]]", "name = 'thing'", f"kind = '{kind}'"]
    rows += [LOADS[kind].format(v=volts, p=number(5, 160))]
    if kind == "universal_motor":
        rows += ["through = 'own'"]
    elif board and not has_battery:
        rows += ["through = 'board'"]
    return "\n".join(filter(None, rows)), "thing"


def _guards(draw: st.DrawFn, volts: int) -> list[str]:
    rows = []
    if draw(st.integers(0, 2)) == 0:
        rows += ["[clamp]", f"voltage = '{draw(st.floats(1.5, 3.0)) * volts:.4g} V'", "resistance = '3 ohm'"]
    if draw(st.integers(0, 3)) == 0:
        rows += ["[[fuse]]", f"run = '{draw(st.sampled_from(['machine', 'board', 'battery', 'load']))}'"]
        rows += [f"rating = '{draw(st.sampled_from([1, 3, 10]))} A'"]
    return rows


@functools.lru_cache(maxsize=4)
def bound_of(text: str, load: str, effort: float, draws: int = 0) -> Bound:
    """The numbers of a rig file, the nominal ones first."""
    filled = fill(read_text(text).rig)
    assume(refusal(filled.rig, load) is None)
    return bind(filled, load, effort=effort, draws=draws)


def moving_of(text: str, load: str, effort: float, draws: int = 0) -> tuple[Moving, Crossings]:
    """The rig in motion, and where it holds."""
    try:
        bound = bound_of(text, load, effort, draws)
        found = crossings(bound, effort)[0]
        return bind_motion(Filled(rig=bound.rig, assumed=()), bound), found
    except SparewattError:
        assume(False)
        raise


@dataclasses.dataclass(frozen=True, kw_only=True)
class Ride:
    """A rig and what is done to it."""

    text: str
    load: str
    effort: float
    rigs: int
    start: Start
    script: tuple[tuple[float, Act, int, float], ...]
    duration: float

    def moving(self) -> Moving:
        """Its numbers; several rigs are alike but for their riders' leads."""
        one, _found = moving_of(self.text, self.load, self.effort)
        if self.rigs == 1:
            return one
        return join_rigs(one, [one] * (self.rigs - 1), [0.03 + 0.02 * k for k in range(self.rigs)])


EVERYDAY = [Act.ON, Act.OFF, Act.UNPLUG, Act.PLUG, Act.UNHOOK, Act.HOOK, Act.SHIFT, Act.SHIFT, Act.EFFORT, Act.CADENCE,
            Act.POWER, Act.STOP, Act.PEDAL, Act.WORK, Act.LEAVE, Act.JOIN, Act.CLAMP_OFF, Act.CLAMP_ON]  # fmt: skip
FAULTS = [Act.DIODE_SHORT, Act.DIODE_OPEN, Act.DIODE_GOOD, Act.DIODE_BACK]
VALUES = {Act.EFFORT: (20.0, 400.0), Act.CADENCE: (2.0, 11.0), Act.POWER: (20.0, 300.0), Act.WORK: (0.0, 1.2)}


@st.composite
def rides(draw: st.DrawFn, *, most_rigs: int = 3, longest: float = 12.0) -> Ride:
    """Any rig, any start, any acts at any time."""
    text, load = draw(texts())
    effort = draw(st.floats(30.0, 300.0))
    rigs = draw(st.sampled_from([1, 1, 1, 1, *range(2, most_rigs + 1)]))
    one, found = moving_of(text, load, effort)
    gears = one.geo.shape[2]
    gear = draw(st.integers(0, gears - 1))
    hold = float(found.w_hold[gear, 0])
    begins = [0.0, draw(st.floats(1.0, 12.0)), *([hold] if np.isfinite(hold) else [])]
    duration = draw(st.floats(2.0, longest))
    script = []
    for _ in range(draw(st.integers(0, 8))):
        act = draw(st.sampled_from(EVERYDAY * 2 + FAULTS))
        low, high = VALUES.get(act, (0.0, 0.0))
        value = float(draw(st.integers(0, gears - 1))) if act == Act.SHIFT else draw(st.floats(low, high))
        script.append((draw(st.floats(0.0, duration)), act, draw(st.integers(0, rigs - 1)), value))
    holds = draw(st.integers(0, 2))
    start = Start(
        gear=gear,
        w_crank=draw(st.sampled_from(begins)),
        holds=holds,
        want=draw(st.floats(3.0, 9.0)) if holds == 1 else effort,
        switched_on=draw(st.booleans()),
        work=draw(st.sampled_from([0.0, 0.3, 1.0])),
        settle=draw(st.sampled_from([0.0, 0.0, 1.0])),
    )
    return Ride(
        text=text,
        load=load,
        effort=effort,
        rigs=rigs,
        start=start,
        script=tuple(sorted(script, key=lambda row: row[0])),
        duration=duration,
    )


def shortfall(done: Played) -> float:
    """Energy in less tolls, what is delivered and the change in what is stored, J: nothing, if the books balance."""
    return float(done.sums[Sum.RIDER] - done.sums[Sum.DRIVE :].sum() - done.stores[1] + done.stores[0])


def throughput(done: Played) -> float:
    """Everything that went in: the legs' work, what the battery gave, what wheels and coils gave up, J."""
    gave = -np.minimum(done.sums, 0.0).sum()
    return float(max(done.sums[Sum.RIDER], 0.0) + gave + max(done.stores[0] - done.stores[1], 0.0))
