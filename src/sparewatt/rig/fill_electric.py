"""Typical values of boards, batteries and loads, with a wide spread. Common practice, no source, unless a line names one."""

from __future__ import annotations

import dataclasses
import re
from typing import Literal

from sparewatt.parts import (
    Battery,
    Converter,
    Load,
    Measured,
    Place,
    Rig,
)
from sparewatt.physics import appliances, store
from sparewatt.rig.notes import Notes, exact, typical, value_of

__all__ = ["fill_battery", "fill_converter", "fill_load", "light_torque", "tool_plate"]

LEAD_ACID, LEAD_VOLTS = (
    ("flooded", "agm", "gel"),
    2.40,
)  # V a cell where lead-acid is usually charged (common practice)
LIGHT_SPEED = 0.8  # of rated-load speed, about where light work ends up on 110 V
LIGHT_TORQUE = 1 / 3  # of rated: what "light work" means for a tool


_BOARD = {
    # kind: efficiency, its spread, idle W, sleeps below V, loss V, amps in
    "buck": (0.93, 0.008, 0.4, 6.0, 0.6, 10.0),
    "boost": (0.865, 0.012, 0.5, 9.0, 0.5, 10.0),
    "buck_boost": (0.85, 0.015, 0.6, 6.0, 0.0, 8.0),
    "inverter": (0.88, 0.02, 8.0, 10.5, 0.0, 30.0),
}


# "100-240 V", "230V", "12 - 24 volts" on a label, and how far mains may stand from the one number on it (common practice)
LABEL_VOLTS = re.compile(
    r"(?P<low>\d+(?:[.,]\d+)?)(?:\s*V)?\s*(?:(?:-|to|–|…)\s*(?P<high>\d+(?:[.,]\d+)?))?\s*V", re.IGNORECASE
)
MAINS_WANDERS = 0.1

WAKES = (
    0.7  # of the volts a step-up board makes: the most at which one still works (common practice, no source)
)


def fill_converter(
    board: Converter, where: str, rig: Rig, battery: Battery | None, notes: Notes
) -> Converter:
    """Efficiency, wake-up volts, limits and settings of a board.

    Step-down 92 to 94 %, step-up 85 to 88 %: common practice, no source.
    """
    eta, sd, idle, sleep, loss, amps = _BOARD[board.kind]
    if board.kind == "inverter" and battery is not None and battery.voltage is not None:
        sleep = 10.5 * battery.voltage.value / 12
    if board.kind == "inverter" and board.power_rating is not None:
        amps = board.power_rating.value / sleep
    wanted = _set_voltage(board, rig, battery)
    made = board.set_voltage or wanted
    if board.kind == "boost" and made is not None:  # none is built that wakes only above what it makes
        sleep = min(sleep, WAKES * made.value)
    board = notes.put(
        board,
        where,
        idle_power=typical(idle, 0.3),
        input_min=typical(sleep, 0.1),
        drop=typical(loss, 0.2) if loss else exact(0.0),
        efficiency=Measured(eta, sd, "typical") if board.efficiency_curve is None else None,
    )
    if board.input_current is None and board.output_current is None:
        board = notes.put(
            board,
            where,
            "no amps limit in the rig file; a typical one stands in",
            input_current=typical(amps, 0.25),
        )
    assert board.input_min is not None
    restart = board.input_min.scaled(1.12)
    return notes.put(
        board,
        where,
        "no setting in the rig file",
        restart=dataclasses.replace(restart, how="computed"),
        set_voltage=wanted,
    )


def _set_voltage(board: Converter, rig: Rig, battery: Battery | None) -> Measured | None:
    """Where the volts screw would be set for what hangs on the board."""
    for load in rig.load:
        if load.through == board.name:
            if board.kind == "inverter":
                return exact(load.plate_voltage.value if load.plate_voltage else 230.0)
            if load.voltage is not None:
                return exact(load.voltage.value)
    if battery is not None and battery.charge_voltage is not None:
        return exact(battery.charge_voltage.value)
    volts = {"buck": 13.8, "boost": 28.0, "buck_boost": 13.8, "inverter": 230.0}
    return typical(volts[board.kind], 0.02)


def fill_load(load: Load, where: str, rig: Rig, notes: Notes) -> Load:
    """Volts, watts and range of one load; a plate is usually the most, not what it takes."""
    if load.kind == "universal_motor":
        load = _fill_tool(load, where, rig, notes)
    plate_watts = load.plate_power.value if load.plate_power else None
    if plate_watts is None and load.plate_voltage and load.plate_current:
        plate_watts = load.plate_voltage.value * load.plate_current.value
    steady = load.kind in ("heater", "lamp", "led")
    power_law = {"heater": 2.0, "lamp": 1 + appliances.BULB_EXPONENT}.get(load.kind)
    if plate_watts is not None and power_law and load.plate_voltage and load.voltage:
        plate_watts *= (load.voltage.value / load.plate_voltage.value) ** power_law
    watts = (
        None if plate_watts is None else (exact(plate_watts) if steady else typical(0.65 * plate_watts, 0.25))
    )
    default_volts = {"usb": 5.0, "universal_motor": 110.0, "switch_supply": 230.0}.get(load.kind, 12.0)
    volts = (
        load.plate_voltage
        if load.plate_voltage and load.kind not in ("universal_motor",)
        else typical(default_volts, 0.02)
    )
    load = notes.put(
        load, where, power=watts or typical(20.0, 0.5), voltage=dataclasses.replace(volts, sd=0.0)
    )
    assert load.voltage is not None
    named = _named_range(load, rig)
    low, high = {"usb": (0.95, 1.1), "electronics": (0.87, 1.12), "switch_supply": (0.42, 1.1)}.get(
        load.kind, (0.0, 1.15)
    )
    how: Literal["nameplate", "computed"] = "nameplate" if named else "computed"
    return notes.put(
        load,
        where,
        voltage_min=Measured(named[0] if named else load.voltage.value * low, 0.0, how),
        voltage_max=Measured(named[1] if named else load.voltage.value * high, 0.0, how),
        start_factor=typical(
            {
                "heater": 1.05,
                "lamp": 10.0,
                "dc_motor": 4.0,
                "universal_motor": 6.0,
                "induction_motor": 6.0,
            }.get(load.kind, 1.5),
            0.25,
        ),
    )


def _named_range(load: Load, rig: Rig) -> tuple[float, float] | None:
    """Volts it runs on by the words of its label: as they stand on what it is made for; a switching supply for AC on direct
    current by `appliances.supply_range`."""
    found = LABEL_VOLTS.search(load.input_text)
    if found is None:
        return None
    low, high = sorted(float(v.replace(",", ".")) for v in (found["low"], found["high"] or found["low"]))
    if low == high:
        low, high = (1 - MAINS_WANDERS) * low, (1 + MAINS_WANDERS) * high
    rest = load.input_text[found.end() :].upper()
    feeding = next((b for b in rig.converter if b.name == load.through), None)
    if "DC" in rest or (feeding is not None and feeding.kind == "inverter"):
        return low, high
    if load.kind != "switch_supply":
        return None
    direct = appliances.supply_range(v_ac_low=low, v_ac_high=high)
    return float(direct.low), float(direct.high)


def light_torque(
    torque_rated: float, torque_inside: float, w_motor: float, *, t_coulomb: float, t_fan: float
) -> float:
    """Torque at the tool in light work (N*m): what a third of the motor's rated torque leaves beyond its own drag, and at
    least a tenth of what it is rated for at the tool.

    torque_inside: at rated amps, its own drag included. Common practice, no source.
    """
    drag = t_coulomb + t_fan * (LIGHT_SPEED * w_motor) ** 2
    return max(LIGHT_TORQUE * torque_inside - drag, 0.1 * torque_rated)


def tool_plate(load: Load) -> appliances.SeriesPlate:
    """Constants of a tool's series motor from its label, its cold ohms and what it takes running light, if that is known."""
    light = load.idle_share if load.idle_share is not None and load.idle_share.how != "typical" else None
    return appliances.series_from_plate(
        voltage=value_of(load.plate_voltage),
        current=value_of(load.plate_current),
        speed=value_of(load.plate_speed),
        power=value_of(load.plate_power),
        resistance=value_of(load.winding_resistance),
        idle_share=value_of(light),
    )


def _fill_tool(load: Load, where: str, rig: Rig, notes: Notes) -> Load:
    """Volts of a tool's board and the watts of light work on it: a third of its rated torque."""
    feeding = next((b for b in rig.converter if b.name == load.through), None)
    on_ac = feeding is not None and feeding.kind == "inverter"
    if on_ac:
        volts = load.plate_voltage.value if load.plate_voltage else 230.0
    elif feeding is not None and feeding.set_voltage is not None:
        volts = feeding.set_voltage.value
    else:
        volts = load.voltage.value if load.voltage else 110.0
    plate = tool_plate(load)
    iron = {"k_series": plate.k_series, "i_sat": plate.i_sat}
    own = {"t_coulomb": plate.t_coulomb, "t_fan": plate.t_fan}
    torque = light_torque(
        plate.torque_rated, float(appliances.series_torque(plate.i_rated, **iron)), plate.w_rated, **own
    )
    amps = appliances.series_operating_point(
        torque, v_bus=volts * (0.95 if on_ac else 1.0), r_motor=plate.r_motor, **iron, **own
    ).i_motor
    watts = float(amps) * volts
    return notes.put(
        load,
        where,
        "light work: a third of the torque its motor is rated for",
        voltage=exact(volts),
        power=typical(watts, 0.12),
    )


def fill_battery(battery: Battery, place: Place, notes: Notes) -> Battery:
    """Internal resistance, charge state, limits and set-points of a battery."""
    assert battery.voltage is not None and battery.capacity is not None
    amp_hours, volts = battery.capacity.value / 3600, battery.voltage.value
    kind = battery.chemistry or "flooded"
    r = float(store.typical_resistance(capacity=battery.capacity.value, v_name=volts, chemistry=kind))
    points = store.set_points(chemistry=kind, v_name=volts)
    usual = LEAD_VOLTS * float(store.cells_in_series(volts, chemistry=kind))
    limit = float(store.charge_current_limit(capacity=battery.capacity.value, chemistry=kind))
    battery = notes.put(
        battery,
        "battery",
        resistance=typical(r, 0.35, f"typical for {amp_hours:.0f} Ah"),
        charge=typical(0.5, 0.2),
        health=typical(0.85, 0.1),
        charge_current=typical(limit, 0.15),
        temperature=place.temperature,
    )
    return notes.put(
        battery,
        "battery",
        charge_voltage=exact(min(float(points.absorb), usual) if kind in LEAD_ACID else float(points.absorb)),
        low_voltage=exact(float(points.cutoff)),
    )
