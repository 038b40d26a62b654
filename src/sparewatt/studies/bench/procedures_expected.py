"""What the meters should show on one rig, before anything is read: a wide range for each value, from what is known so far.

A reading outside is not refused; it is worth a second look. Ranges take each constant three standard deviations wide.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from sparewatt.parts import Battery, Converter, Machine, Measured, Rig
from sparewatt.physics import flywheel
from sparewatt.physics import machine as machine_physics
from sparewatt.rig.bind_drive import bind_drive
from sparewatt.rig.columns import Columns
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled
from sparewatt.rig.hookup import boards_on_rig
from sparewatt.rig.operating import RIDDEN
from sparewatt.studies.bench.answers import Procedure
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS

__all__ = ["expected"]

Range = tuple[float, float]
RPM = 2 * math.pi / 60
GRAVITY = 9.80665
WIDE = 3.0  # standard deviations

# What a drill, a string, a bottle and a bulb are like (common practice, no source).
DRILL: Range = (200 * RPM, 3000 * RPM)
HAND_TURN: Range = (45 * RPM, 80 * RPM)
BULB_21, BULB_BOTH = 21.0, 110.0  # W at 12 V
STRING: Range = (0.006, 0.06)
BOTTLE: Range = (0.4, 6.0)
FALL: Range = (0.4, 2.0)


@dataclass(frozen=True, slots=True)
class _Known:
    """The constants of a rig as ranges, seen from the two wires of the machine."""

    rig: Rig
    k: Range
    r: Range
    v_brush: Range
    friction: Range
    slope: Range
    inertia: Range
    ratio: Range
    w_limit: float
    v_store: float
    legs: float  # W, what the strongest rider holds
    riding: Range  # cadences at which anybody rides, as every answer takes them

    def volts(self, speed: Range) -> Range:
        """Open volts over a range of speeds."""
        return _times(self.k, speed)

    def shaft(self, cadence: Range) -> Range:
        """Speeds of the machine's shaft over a range of cadences."""
        return _times(self.ratio, cadence)

    @property
    def drill(self) -> Range:
        """Speeds at which a drill turns this machine."""
        return DRILL[0], max(min(DRILL[1], self.w_limit), 2 * DRILL[0])


def expected(filled: Filled, procedure: Procedure) -> dict[str, Range]:
    """Reading key -> (low, high) in SI for every value that the procedure asks for."""
    known = _known(filled)
    found: dict[str, Range] = {}
    for kind in procedure.readings:
        told = _OF_KIND[kind](known)
        for value in KINDS[kind].values:
            low, high = told.get(value.what, (value.low, value.high))
            found[value.key] = (max(low, value.low), min(high, value.high))
    asked = {slot.what for step in procedure.steps for slot in step.slots}
    return {key: span for key, span in found.items() if key in asked and key in READINGS}


# ---- constants as ranges ----


def _span(known: Measured | None, otherwise: Range = (0.0, math.inf)) -> Range:
    if known is None:
        return otherwise
    return max(known.value - WIDE * known.sd, 0.1 * known.value), known.value + WIDE * known.sd


def _times(one: Range, other: Range) -> Range:
    return one[0] * other[0], one[1] * other[1]


def _wider(span: Range, share: float) -> Range:
    return span[0] * (1 - share), span[1] * (1 + share)


def _known(filled: Filled) -> _Known:
    rig = filled.rig
    machine = rig.machine or Machine()
    k, r = _wires(machine)
    gears = bind_drive(rig, Columns(Draws(0, 1)))[1][:, 0] if rig.stage else None
    ratio = (float(gears.min()) * 0.85, float(gears.max()) * 1.1) if gears is not None else (1.0, 60.0)
    liked = [rider.cadence.value for rider in rig.rider if rider.cadence] or [65 * RPM]
    legs = max((rider.critical_power.value for rider in rig.rider if rider.critical_power), default=200.0)
    return _Known(
        rig=rig,
        k=k,
        r=r,
        v_brush=_span(machine.brush_drop, (0.0, 2.0)),
        friction=_span(machine.friction, (0.0, 1.0)),
        slope=_span(machine.friction_slope, (0.0, 1e-2)),
        inertia=_span(machine.inertia, (1e-6, 1.0)),
        ratio=ratio,
        w_limit=machine.speed_limit.value if machine.speed_limit else DRILL[1],
        v_store=_store_volts(rig.battery),
        legs=legs,
        riding=(RIDDEN[0] * min(liked), RIDDEN[1] * max(liked)),
    )


def _wires(machine: Machine) -> tuple[Range, Range]:
    """Direct volts per speed and ohms at the two wires: of the machine, or of the bridge behind three wires."""
    k, r = _span(machine.emf_constant, (0.005, 1.0)), _span(machine.resistance, (0.01, 10.0))
    if machine.kind not in ("pm_three_phase", "alternator"):
        return k, r
    bridged = [
        machine_physics.bridge_source(
            k_line=k_line,
            r_line=r_line,
            inductance=machine.inductance.value if machine.inductance else 0.0,
            pole_pairs=float(machine.pole_pairs or 4),
        )
        for k_line, r_line in zip(k, r, strict=True)
    ]
    low, high = bridged
    return (float(low.k_emf), float(high.k_emf)), (float(low.r_wind), float(high.r_wind))


def _store_volts(battery: Battery | None) -> float:
    return battery.voltage.value if battery is not None and battery.voltage is not None else 12.0


def _board(known: _Known) -> Converter | None:
    boards = boards_on_rig(known.rig) or known.rig.converter
    return boards[0] if boards else None


# ---- kind by kind ----


def _open(known: _Known) -> dict[str, Range]:
    turns = (2.0, 30.0 * known.drill[1] / (2 * math.pi))
    return {"volts": known.volts(known.drill), "speed": known.drill, "turns": turns, "turn_time": (1.0, 30.0)}


def _loaded(known: _Known) -> dict[str, Range]:
    volts = known.volts(known.drill)
    amps = (0.3 * BULB_21 / 12, min(1.5 * BULB_BOTH / 12, volts[1] / known.r[0]))
    return {**_open(known), "volts": (0.1 * volts[0], volts[1]), "amps": amps}


def _locked(known: _Known) -> dict[str, Range]:
    amps = (0.5, 1.2 * 55 / 12)
    return {"amps": amps, "volts": (amps[0] * known.r[0], amps[1] * known.r[1] + known.v_brush[1])}


def _ohms(known: _Known) -> dict[str, Range]:
    """An ohmmeter reads the film under the brushes too, and "open" to the case."""
    return {"ohms": (known.r[0], 5 * known.r[1] + 5), "case_ohms": (1e6, 50e6)}


def _run_free(known: _Known) -> dict[str, Range]:
    volts = (0.9 * known.v_store, 2.4 * known.v_store)
    speed = (0.6 * volts[0] / known.k[1], volts[1] / known.k[0])
    torque = (known.friction[0], known.friction[1] + known.slope[1] * speed[1])
    return {"volts": volts, "speed": speed, "amps": (torque[0] / known.k[1], torque[1] / known.k[0])}


def _run_down(known: _Known) -> dict[str, Range]:
    top = 1.5 * max(known.shaft(known.riding)[1], known.drill[1])
    disc = float(flywheel.disc_inertia(10.0, 0.25))
    longest = (known.inertia[1] + disc) * top / max(known.friction[0], 1e-6)
    speed = (0.0, top)
    return {
        "time": (0.0, min(longest, 3600.0)),
        "speed": speed,
        "volts": (0.0, known.k[1] * top),
        "disc_mass": (0.2, 10.0),
        "disc_diameter": (0.05, 0.5),
    }


def _fall(known: _Known) -> dict[str, Range]:
    """t = sqrt(2 h (J + m r^2)/(r (m g r - T))): fastest light rotor, heavy weight; slowest the other way round."""
    fast = _fall_time(known.inertia[0], BOTTLE[1], STRING[1], FALL[0], 0.0)
    slow = _fall_time(known.inertia[1] + _shaft_wheels(known), BOTTLE[0], STRING[0], FALL[1], 0.0)
    return {
        "mass": BOTTLE,
        "height": FALL,
        "string_radius": STRING,
        "fall_time": (fast, min(slow, 60.0)),
    }


def _fall_time(inertia: float, mass: float, radius: float, height: float, friction: float) -> float:
    push = radius * (mass * GRAVITY * radius - friction)
    return math.sqrt(2 * height * (inertia + mass * radius**2) / push)


def _shaft_wheels(known: _Known) -> float:
    """Inertia of flywheels, which may sit on the machine's shaft."""
    return sum(
        (1.0 if wheel.shape == "rim" else 0.5) * wheel.mass.value * (wheel.diameter.value / 2) ** 2
        for wheel in known.rig.flywheel
        if wheel.mass and wheel.diameter
    )


def _board_power(known: _Known) -> dict[str, Range]:
    board = _board(known)
    top_in = board.input_max.value if board is not None and board.input_max else 4 * known.v_store
    top_out = 1.3 * board.set_voltage.value if board is not None and board.set_voltage else 60.0
    amps = _board_amps(known, board)
    return {
        "volts_in": (0.7 * min(6.0, known.v_store), top_in),
        "amps_in": (0.02, amps),
        "volts_out": (1.0, max(top_out, 6.0)),
        "amps_out": (0.0, 2 * amps),
    }


def _board_amps(known: _Known, board: Converter | None) -> float:
    given = (board.input_current_short or board.input_current) if board is not None else None
    return 1.3 * given.value if given else 2 * known.legs / known.v_store


def _board_idle(known: _Known) -> dict[str, Range]:
    board = _board(known)
    watts = board.idle_power.value if board is not None and board.idle_power else 1.0
    span = _board_power(known)
    return {"volts_in": span["volts_in"], "amps_in": (0.0, 5 * watts / span["volts_in"][0])}


def _board_sleep(known: _Known) -> dict[str, Range]:
    board = _board(known)
    level = board.input_min if board is not None else None
    return {"volts_in": _wider(_span(level, (2.0, 12.0)), 0.3)}


def _board_heat(known: _Known) -> dict[str, Range]:
    air = known.rig.place.temperature.value if known.rig.place and known.rig.place.temperature else 293.15
    return {"heat": (air - 5, air + 90), "air": (air - 15, air + 15)}


def _board_set(known: _Known) -> dict[str, Range]:
    board = _board(known)
    volts = board.set_voltage.value if board is not None and board.set_voltage else 14.0
    amps = board.set_current.value if board is not None and board.set_current else known.legs / volts
    return {"volts_out": (0.8 * volts, 1.2 * volts), "amps_out": (0.3 * amps, 2 * amps)}


def _battery_dip(known: _Known) -> dict[str, Range]:
    v = known.v_store
    battery = known.rig.battery
    ohms = _span(battery.resistance if battery is not None else None, (0.0, 0.1))
    amps = (0.6 * 55 / v, 1.3 * 55 / v)
    rest = (0.97 * v, 1.12 * v)
    return {
        "rest_volts": rest,
        "amps": amps,
        "loaded_volts": (rest[0] - 3 * amps[1] * ohms[1] - 0.3, rest[1]),
        "recovered_volts": (rest[0] - 0.3, rest[1]),
    }


def _battery_run(known: _Known) -> dict[str, Range]:
    battery = known.rig.battery
    charge = battery.capacity.value if battery is not None and battery.capacity else 40 * 3600.0
    amps = (0.02 * charge / 3600, 0.4 * charge / 3600)
    return {
        "time": (0.0, 1.5 * charge / amps[0]),
        "volts": (0.85 * known.v_store, 1.1 * known.v_store),
        "amps": amps,
        "rested": (3600.0, 30 * 86400.0),
    }


def _hand_turns(known: _Known) -> dict[str, Range]:
    return {"crank_turns": (1.0, 50.0), "machine_turns": (known.ratio[0], 50.0 * known.ratio[1])}


def _riding(known: _Known) -> dict[str, Range]:
    speed = known.shaft(known.riding)
    volts = known.volts(speed)
    usual = known.volts(known.shaft(HAND_TURN))[0]
    bare = not boards_on_rig(known.rig) and known.rig.battery is None
    return {
        "cadence": known.riding,
        "speed": speed,
        "volts": (0.3 * volts[0], volts[1]),
        "amps": (0.0, 3 * known.legs / max(usual, 1.0)),
        "volts_out": (1.0, max(1.5 * known.v_store, _set_highest(known), volts[1] if bare else 0.0)),
        "amps_out": (0.0, 3 * known.legs / known.v_store),
        "machine_heat": (273.15, 400.0),
        "step": (1.0, 30.0),
    }


def _set_highest(known: _Known) -> float:
    """Volts that no board of the rig is set to, by far."""
    return max(
        (1.3 * each.set_voltage.value for each in known.rig.converter if each.set_voltage), default=0.0
    )


def _hard(known: _Known) -> dict[str, Range]:
    return {**_riding(known), "held_for": (60.0, 1800.0), "time": (0.0, 1800.0)}


def _rope(known: _Known) -> dict[str, Range]:
    wheel = (0.02, 0.8)
    speed = (5.0, max(known.shaft(known.riding)[1], 30.0))
    return {
        **_riding(known),
        "weight": (0.2, 20.0),
        "scale": (-2.0, 20.0),
        "radius": wheel,
        "rope": (0.002, 0.03),
        "speed": speed,
    }


def _lever(known: _Known) -> dict[str, Range]:
    amps, arm = (0.3, 12.0), (0.05, 0.6)
    stuck = known.friction[1] / (arm[0] * GRAVITY)
    top = known.k[1] * amps[1] / (arm[0] * GRAVITY) + stuck
    return {"amps": amps, "arm": arm, "rising": (0.0, top), "falling": (0.0, top)}


def _look(known: _Known) -> dict[str, Range]:
    ohms = [load.winding_resistance.value for load in known.rig.load if load.winding_resistance]
    return {"ohms": (0.3 * min(ohms), 3 * max(ohms)) if ohms else (1.0, 5e6)}


def _top(known: _Known) -> dict[str, Range]:
    cadence = (70 * RPM, 120 * RPM)
    return {"cadence": cadence, "volts": known.volts(known.shaft(cadence))}


def _first(known: _Known) -> dict[str, Range]:
    return {"cadence": HAND_TURN, "volts": known.volts(known.shaft(HAND_TURN))}


def _drop(known: _Known) -> dict[str, Range]:
    span = _riding(known)
    return {
        "cadence": known.riding,
        "volts_before": span["volts"],
        "amps_before": span["amps"],
        "peak_volts": (span["volts"][0], 1.5 * span["volts"][1]),
    }


def _same(known: _Known) -> dict[str, Range]:
    return {"volts": (0.95 * known.v_store, 1.15 * known.v_store)}


def _rest(known: _Known) -> dict[str, Range]:
    return {"volts": (0.95 * known.v_store, 1.12 * known.v_store), "rested": (3600.0, 30 * 86400.0)}


def _leads(known: _Known) -> dict[str, Range]:
    return {"ohms": (0.05, 1.5)}


def _cells(known: _Known) -> dict[str, Range]:
    return {"density": (1.08, 1.31)}


_OF_KIND: dict[str, Callable[[_Known], dict[str, Range]]] = {
    "lead_ohms": _leads,
    "same_battery": _same,
    "open_volts": _open,
    "open_volts_back": _open,
    "loaded_volts": _loaded,
    "locked_volts": _locked,
    "winding_ohms": _ohms,
    "run_free": _run_free,
    "run_down": _run_down,
    "run_down_disc": _run_down,
    "run_down_rig": _run_down,
    "falling_weight": _fall,
    "board_power": _board_power,
    "board_sleeps": _board_sleep,
    "board_wakes": _board_sleep,
    "board_limit": _board_power,
    "board_idle": _board_idle,
    "board_heat": _board_heat,
    "board_set": _board_set,
    "battery_dip": _battery_dip,
    "battery_rest": _rest,
    "battery_run": _battery_run,
    "cell_density": _cells,
    "hand_turns": _hand_turns,
    "riding": _riding,
    "hard_effort": _hard,
    "gentle_step": _riding,
    "rope_brake": _rope,
    "lever_torque": _lever,
    "appliance_look": _look,
    "top_volts": _top,
    "first_turn": _first,
    "edge_ride": _riding,
    "load_drop": _drop,
    "group_share": _riding,
}
