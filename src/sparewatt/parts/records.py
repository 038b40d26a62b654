"""The parts of a rig as frozen records of what is known of each: nothing computed, nothing filled in.

A field that the rig file does not give is None (or empty); `sparewatt.rig.fill` puts a typical value with a wide spread
in its place, and says so. EXACT names fields that are counted or set (no spread unless written); PLATE names fields
that are read off a nameplate or a maker's print.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import ClassVar

from sparewatt.parts.values import Measured, choice, count, counts, curve, flag, measured, nested, text

__all__ = [
    "BELTS", "CONVERTER_KINDS", "FITNESS", "FUSE_KINDS", "HOLDS", "LOAD_KINDS", "MACHINE_KINDS", "STAGE_KINDS", "STARTS",
    "Battery", "Bus", "Clamp", "Converter", "Diode", "Effort", "Flywheel", "Fuse", "Load", "Machine", "Neighbour",
    "Place", "Prices", "Ride", "Rider", "Rig", "Scene", "SceneStep", "SetPoint", "Socket", "Stage", "Switch", "Wire",
]  # fmt: skip

FITNESS = ("unwell", "not fit", "active", "fit", "athlete")
BELTS = ("flat_belt", "v_belt", "ribbed_belt", "toothed_belt")
STAGE_KINDS = ("chain", "gears", "roller", "rim_wheel", *BELTS, "direct")
MACHINE_KINDS = ("pm_dc", "pm_three_phase", "alternator", "series", "induction")
CONVERTER_KINDS = ("buck", "boost", "buck_boost", "inverter")
CHEMISTRIES = ("flooded", "agm", "gel", "lifepo4", "lithium_other")
LOAD_KINDS = (
    "electronics", "usb", "led", "lamp", "heater", "dc_motor", "universal_motor", "switch_supply",
    "transformer", "induction_motor", "unknown",
)  # fmt: skip
FUSE_KINDS = ("blade", "glass_quick", "glass_slow", "bolted")
HOLDS = ("effort", "cadence", "power")
STARTS = ("riding", "rest")
WIRE_PLACES = ("machine", "board", "battery", "load")


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """One timed effort held to the limit on a known power."""

    power: Measured | None = measured("W", "Mean power held at the pedals.", example="300 W", needed=True)
    time: Measured | None = measured("s", "How long it could be held.", example="180 s", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rider:
    """Who turns the crank, with legs or arms."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"mass", "age", "cadence"})
    name: str = text("What you call this rider.", example="Ansa", needed=True)
    uses: str = choice("Legs on a pedal crank, or arms on a hand crank.", ("legs", "arms"), default="legs")
    mass: Measured | None = measured("kg", "Body mass.", high=250, example="70 kg")
    age: Measured | None = measured("1", "Age in years.", low=5, high=110, example="34")
    fitness: str = choice("A plain guess at training; sets typical power with a wide spread.", FITNESS)
    critical_power: Measured | None = measured(
        "W", "The power that can be held for about half an hour.", high=600, example="170 W +/- 15 W"
    )
    work_reserve: Measured | None = measured(
        "J",
        "The work available above the critical power before the legs give out.",
        high=80e3,
        example="14 kJ",
    )
    cadence: Measured | None = measured("rad/s", "Comfortable turns a minute.", high=21, example="65 rpm")
    top_cadence: Measured | None = measured(
        "rad/s",
        "Turns a minute where a held, easy effort has nothing left to push with.",
        high=32,
        example="130 rpm",
    )
    sprint_cadence: Measured | None = measured(
        "rad/s", "Fastest turns a minute with no load, for a moment.", high=32, example="150 rpm"
    )
    peak_power: Measured | None = measured("W", "Most power for a few seconds.", high=2500, example="600 W")
    efficiency: Measured | None = measured(
        "1", "Work at the pedals per food energy burnt.", high=0.35, example="0.22"
    )
    peak_to_mean: Measured | None = measured(
        "1", "Hardest push in a turn over the mean push.", low=1, high=2.5, example="1.62"
    )
    push_curve: tuple[tuple[float, float], ...] | None = curve(
        "Pairs of crank degrees and push, over one turn, instead of one number; only its shape counts.",
        example="[[0, 0.5], [90, 1.6], [180, 0.5], [270, 1.6]]",
    )
    reaction_time: Measured | None = measured(
        "s", "How late the legs answer to a change of feel.", high=3, example="0.5 s"
    )
    leg_inertia: Measured | None = measured(
        "kg*m^2", "Inertia of legs, crank and pedals, felt at the crank.", high=20, example="0.4 kg*m^2"
    )
    effort: tuple[Effort, ...] = nested(
        Effort, "Timed efforts held to the limit; two or more give the power and reserve.", many=True
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One step of the drive, in order from the crank to the machine."""

    EXACT: ClassVar[frozenset[str]] = frozenset(
        {"driver_diameter", "driven_diameter", "centre_distance", "ratio", "tooth_pitch"}
    )
    name: str = text("What you call this step.", example="chain to the hub")
    kind: str = choice("What passes the turning on.", STAGE_KINDS, needed=True)
    driver_teeth: tuple[int, ...] = counts("Teeth on the driving side; several make gears.", example="[42]")
    driven_teeth: tuple[int, ...] = counts(
        "Teeth on the driven side; several make gears.", example="[18, 21, 24]"
    )
    ratio: Measured | None = measured(
        "1",
        "Driven turns per driving turn, if you measured it instead of diameters or teeth.",
        high=200,
        example="12.5",
    )
    tyre: str = text("The size printed on the tyre (ISO 5775).", example="37-622")
    driver_diameter: Measured | None = measured(
        "m", "Driving wheel or pulley, across.", high=3, example="600 mm"
    )
    driven_diameter: Measured | None = measured(
        "m", "Driven roller or pulley, across.", high=3, example="40 mm"
    )
    centre_distance: Measured | None = measured("m", "Between the two shafts.", high=10, example="450 mm")
    efficiency: Measured | None = measured(
        "1", "Share of the torque passed on, drags apart.", high=1, example="97 %"
    )
    drag_torque: Measured | None = measured(
        "N*m", "Constant drag felt on the driven shaft, load or no load.", high=20, example="0.02 N*m"
    )
    drag_slope: Measured | None = measured(
        "N*m*s/rad", "Drag on the driven shaft that grows with speed.", high=1, example="1e-5 N*m*s/rad"
    )
    press_force: Measured | None = measured(
        "N", "How hard tyre or wheel is pressed on.", high=3000, example="200 N"
    )
    friction: Measured | None = measured(
        "1", "Grip coefficient between the two faces.", high=2, example="0.6"
    )
    rolling: Measured | None = measured(
        "1", "Rolling coefficient of the tyre on a flat road.", high=0.1, example="0.008"
    )
    creep: Measured | None = measured(
        "1", "Share of speed lost to creep at working load.", high=0.3, example="1 %"
    )
    tension: Measured | None = measured(
        "N", "Tension the belt is fitted with, each side.", high=5000, example="120 N"
    )
    wedge_angle: Measured | None = measured(
        "rad", "Included angle of the groove of a V belt.", high=1.6, example="38 deg"
    )
    ribs: int | None = count("Ribs of a V-ribbed belt.", low=1, high=60)
    tooth_pitch: Measured | None = measured(
        "m",
        "Pitch of chain or toothed belt; with the teeth it gives the size of the wheels.",
        high=0.1,
        example="12.7 mm",
    )
    freewheel: bool | None = flag("Its driven side may run on when the legs stop (a hub with a freewheel).")
    inertia: Measured | None = measured(
        "kg*m^2", "Inertia of wheel and pulleys on the driven shaft.", high=50, example="0.1 kg*m^2"
    )
    guarded: bool | None = flag("A fixed guard covers this step.")
    price: Measured | None = measured("1", "What it costs, in your own coin.", high=None, example="6")


@dataclass(frozen=True, slots=True, kw_only=True)
class Flywheel:
    """A spinning mass kept on one shaft to even out the legs."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"mass", "diameter", "off_centre"})
    name: str = text("What you call it.", example="plate on the middle shaft")
    after_stage: int | None = count(
        "On the shaft after which step of the drive; 0 is the crank.", low=0, high=10
    )
    mass: Measured | None = measured("kg", "Mass.", high=200, example="3 kg", needed=True)
    diameter: Measured | None = measured("m", "Across.", high=2, example="250 mm", needed=True)
    shape: str = choice("A solid disc, or most of the mass at the rim.", ("disc", "rim"), default="disc")
    material: str = choice(
        "Sets the rim speed that scrap of this sort may see.",
        ("cast_iron", "steel_disc", "plywood", "concrete", "bicycle_wheel", "unknown"), default="unknown",
    )  # fmt: skip
    drilled_or_welded: bool | None = flag("Somebody drilled or welded it.")
    off_centre: Measured | None = measured(
        "m", "Distance of its balance point from the shaft.", high=0.05, example="0.2 mm"
    )
    guarded: bool | None = flag("A fixed guard covers it.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """The motor turned by legs. plate_* is what its label says; the rest are constants of the machine itself."""

    PLATE: ClassVar[frozenset[str]] = frozenset(
        {"plate_voltage", "plate_current", "plate_speed", "plate_power", "speed_limit"}
    )
    EXACT: ClassVar[frozenset[str]] = frozenset({"mass"})
    name: str = text("What you call it.", example="walking-machine motor")
    kind: str = choice("What sort of machine it is.", MACHINE_KINDS, default="pm_dc")
    plate_voltage: Measured | None = measured("V", "Volts on the label.", high=500, example="95 V")
    plate_current: Measured | None = measured("A", "Amps on the label.", high=300, example="21 A")
    plate_speed: Measured | None = measured("rad/s", "Speed on the label.", high=4000, example="4000 rpm")
    plate_power: Measured | None = measured(
        "W", "Watts or horsepower on the label.", high=20e3, example="250 W"
    )
    emf_constant: Measured | None = measured(
        "V*s/rad",
        "Volts per speed, and torque per amp; three-phase: AC volts between two wires per speed.",
        high=20,
        example="0.075 V*s/rad",
    )
    resistance: Measured | None = measured(
        "ohm", "Winding resistance at 20 degC, through the brushes.", high=100, example="0.25 ohm"
    )
    brush_drop: Measured | None = measured(
        "V", "Volts lost at both brushes together.", high=5, example="1.2 V"
    )
    friction: Measured | None = measured(
        "N*m", "Torque to keep it turning slowly, open.", high=10, example="0.05 N*m"
    )
    friction_slope: Measured | None = measured(
        "N*m*s/rad", "How that torque grows with speed.", high=1, example="5e-5 N*m*s/rad"
    )
    inertia: Measured | None = measured("kg*m^2", "Inertia of the rotor.", high=5, example="0.0004 kg*m^2")
    inductance: Measured | None = measured(
        "H", "Winding inductance (line to line if three-phase).", high=1, example="1 mH"
    )
    pole_pairs: int | None = count("Pole pairs of a three-phase machine.", low=1, high=60)
    magnets: str = choice(
        "What the magnets are made of.", ("ferrite", "rare_earth", "alnico", "unknown"), default="unknown"
    )
    current_limit: Measured | None = measured("A", "Amps it may carry for hours.", high=300, example="14 A")
    current_limit_short: Measured | None = measured(
        "A", "Amps it may carry for a minute.", high=600, example="25 A"
    )
    speed_limit: Measured | None = measured("rad/s", "Fastest it may turn.", high=4000, example="5000 rpm")
    winding_limit: Measured | None = measured(
        "K", "Hottest the winding may get.", low=300, high=500, example="130 degC"
    )
    thermal_resistance: Measured | None = measured(
        "K/W", "Winding to air, warm-up per watt of heat.", high=50, example="1.4 K/W"
    )
    thermal_time: Measured | None = measured(
        "s", "Time constant of that warm-up.", high=20e3, example="30 min"
    )
    mass: Measured | None = measured("kg", "Mass.", high=100, example="2 kg")
    field_voltage: Measured | None = measured(
        "V", "Field supply of a vehicle alternator.", high=60, example="12 V"
    )
    field_current: Measured | None = measured(
        "A", "Field current of a vehicle alternator.", high=20, example="3 A"
    )
    price: Measured | None = measured("1", "What it costs, in your own coin.", example="15")


@dataclass(frozen=True, slots=True, kw_only=True)
class Diode:
    """What stops a battery from driving the machine."""

    PLATE: ClassVar[frozenset[str]] = frozenset({"current_rating", "voltage_rating"})
    kind: str = choice(
        "Which sort.", ("schottky", "silicon", "ideal", "none"), default="schottky", needed=True
    )
    drop: Measured | None = measured("V", "Volts it keeps.", high=2, example="0.5 V")
    resistance: Measured | None = measured(
        "ohm", "Resistance of an ideal-diode switch.", high=1, example="10 mohm"
    )
    current_rating: Measured | None = measured("A", "Amps on its label.", high=500, example="15 A")
    voltage_rating: Measured | None = measured("V", "Reverse volts on its label.", high=2000, example="45 V")
    thermal_resistance: Measured | None = measured(
        "K/W", "To air, with its heat sink.", high=200, example="10 K/W"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """One run of two conductors."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"length", "size"})
    run: str = choice(
        "Which run: machine to board, board to battery, battery to board, or to the load.",
        WIRE_PLACES,
        needed=True,
    )
    to: str = text(
        "Name of the load or board it leads to; without it, one like it is in the lead of each.",
        example="lamp",
    )
    length: Measured | None = measured("m", "One way.", high=200, example="3 m", needed=True)
    size: Measured | None = measured("wire_size", "Gauge or area of one conductor.", example="2.5 mm2")
    contact_resistance: Measured | None = measured(
        "ohm", "All clips and screws of this run together.", high=5, example="10 mohm"
    )
    bundled: bool | None = flag("Runs in a bundle or in a hot place.")
    insulation: str = choice("What its cover may stand.", ("60C", "75C", "90C"), default="60C")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fuse:
    """One fuse and where it sits."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"rating", "from_post"})
    PLATE: ClassVar[frozenset[str]] = frozenset({"dc_voltage", "breaking_current"})
    run: str = choice("In which run of wire.", WIRE_PLACES, needed=True)
    to: str = text(
        "Name of the load or board it leads to; without it, one like it is in the lead of each.",
        example="lamp",
    )
    rating: Measured | None = measured("A", "Amps on the fuse.", high=1000, example="10 A", needed=True)
    dc_voltage: Measured | None = measured("V", "DC volts it may break.", high=2000, example="32 V")
    breaking_current: Measured | None = measured(
        "A", "Short-circuit amps it may break.", high=100e3, example="1 kA"
    )
    from_post: Measured | None = measured(
        "m", "Wire between it and the battery post.", high=50, example="150 mm"
    )
    kind: str = choice("How it is made, which sets how fast it opens.", FUSE_KINDS, default="blade")


@dataclass(frozen=True, slots=True, kw_only=True)
class Switch:
    """One switch, and what its print says."""

    PLATE: ClassVar[frozenset[str]] = frozenset({"dc_voltage", "dc_current", "ac_voltage", "ac_current"})
    name: str = text("What you call it.", example="bench switch")
    run: str = choice("In which run of wire.", WIRE_PLACES, needed=True)
    to: str = text(
        "Name of the load or board it leads to; without it, one like it is in the lead of each.",
        example="lamp",
    )
    signal: bool | None = flag("It only tells a board to run: no power passes its contacts.")
    dc_voltage: Measured | None = measured("V", "DC volts printed on it.", high=2000, example="30 V")
    dc_current: Measured | None = measured("A", "DC amps printed on it.", high=500, example="10 A")
    ac_voltage: Measured | None = measured("V", "AC volts printed on it.", high=2000, example="250 V")
    ac_current: Measured | None = measured("A", "AC amps printed on it.", high=500, example="10 A")
    poles: int | None = count("How many conductors it breaks.", low=1, high=4)


@dataclass(frozen=True, slots=True, kw_only=True)
class Socket:
    """One plug and socket, and what its print says."""

    PLATE: ClassVar[frozenset[str]] = frozenset({"dc_voltage", "dc_current"})
    name: str = text("What you call it.", example="pump socket")
    run: str = choice("In which run of wire.", WIRE_PLACES, needed=True)
    to: str = text(
        "Name of the load or board it leads to; without it, one like it is in the lead of each.",
        example="lamp",
    )
    kind: str = text("What sort it is.", example="round, two pins, with a latch")
    dc_voltage: Measured | None = measured("V", "DC volts printed on it.", high=2000, example="48 V")
    dc_current: Measured | None = measured("A", "DC amps printed on it.", high=500, example="15 A")


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp:
    """A resistor switched in when the volts rise too far."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"voltage"})
    voltage: Measured | None = measured("V", "Where it switches in.", high=1000, example="34 V", needed=True)
    resistance: Measured | None = measured(
        "ohm", "The dump resistor.", high=1000, example="3 ohm", needed=True
    )
    power: Measured | None = measured(
        "W", "What the resistor stands for five seconds.", high=10e3, example="400 W"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Bus:
    """The pair of conductors that the machine feeds."""

    PLATE: ClassVar[frozenset[str]] = frozenset({"capacitor_voltage"})
    capacitance: Measured | None = measured("F", "Capacitor across it.", high=5000, example="10 mF")
    capacitor_voltage: Measured | None = measured(
        "V", "Volts printed on the capacitor.", high=2000, example="63 V"
    )
    bleeder: Measured | None = measured(
        "ohm", "Resistor that empties the capacitor.", high=10e6, example="4.7 kohm"
    )
    lead_resistance: Measured | None = measured(
        "ohm", "This rig's lead to a bus shared with other rigs, there and back.", high=10, example="0.05 ohm"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPoint:
    """One of several settings of a board, chosen by what hangs on it."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"set_voltage", "set_current"})
    name: str = text("What you call it.", example="29 V", needed=True)
    set_voltage: Measured | None = measured("V", "Volts of this setting.", high=1000, example="29 V")
    set_current: Measured | None = measured("A", "Amps limit of this setting.", high=500, example="4 A")


@dataclass(frozen=True, slots=True, kw_only=True)
class Converter:
    """A board that changes volts."""

    PLATE: ClassVar[frozenset[str]] = frozenset(
        {
            "input_max",
            "input_current",
            "output_current",
            "power_rating",
            "input_min",
            "output_max",
            "output_min",
            "output_current_short",
        }
    )
    EXACT: ClassVar[frozenset[str]] = frozenset({"set_voltage", "set_current", "enable_voltage"})
    name: str = text("What you call it.", example="step-up board", needed=True)
    kind: str = choice("Steps down, up, both, or makes mains AC.", CONVERTER_KINDS, needed=True)
    at: str = choice("On the rig (fed by the machine) or at a load (fed by the battery).", ("rig", "load"))
    set_voltage: Measured | None = measured("V", "Where the volts screw is set.", high=1000, example="14.2 V")
    set_current: Measured | None = measured(
        "A", "Where the amps screw is set; none means no current limit.", high=500, example="5 A"
    )
    input_min: Measured | None = measured(
        "V", "Input volts below which it goes to sleep.", high=500, example="10 V"
    )
    restart: Measured | None = measured(
        "V", "Input volts at which it wakes again.", high=500, example="11.5 V"
    )
    input_max: Measured | None = measured("V", "Input volts that break it.", high=1000, example="60 V")
    input_current: Measured | None = measured(
        "A", "Most amps it takes in, for hours.", high=500, example="12 A"
    )
    input_current_short: Measured | None = measured(
        "A", "Most amps it takes in, for seconds.", high=500, example="15 A"
    )
    output_current: Measured | None = measured(
        "A", "Most amps it gives, for hours.", high=500, example="10 A"
    )
    output_current_short: Measured | None = measured(
        "A", "Most amps it gives, for seconds.", high=500, example="15 A"
    )
    output_min: Measured | None = measured("V", "Lowest volts it can be set to.", high=1000, example="12 V")
    output_max: Measured | None = measured("V", "Highest volts it can be set to.", high=1000, example="80 V")
    power_rating: Measured | None = measured(
        "W", "Watts printed on it, rarely true for hours.", high=20e3, example="1200 W"
    )
    efficiency: Measured | None = measured("1", "Watts out over watts in.", high=1, example="0.87 +/- 0.02")
    efficiency_curve: tuple[tuple[float, float], ...] | None = curve(
        "Pairs of watts out and efficiency, instead of one number.",
        example="[[5, 0.78], [50, 0.9], [150, 0.87]]",
    )
    idle_power: Measured | None = measured(
        "W", "What it takes with nothing connected.", high=200, example="0.5 W"
    )
    drop: Measured | None = measured(
        "V",
        "Step-down: least volts lost; step-up: its diode when volts pass through.",
        high=10,
        example="0.5 V",
    )
    soft_start: Measured | None = measured(
        "s", "Time it takes to rise to its setting after waking.", high=30, example="20 ms"
    )
    isolated: bool | None = flag("Output is isolated from input.")
    panel_tracker: bool | None = flag("It hunts for the most power, as chargers made for sun panels do.")
    enable_voltage: Measured | None = measured(
        "V",
        "Volts at its remote contact, which a small switch closes to let it run.",
        high=100,
        example="3.3 V",
    )
    enable_in_reach: bool | None = flag("That small switch is within the rider's reach.")
    price: Measured | None = measured("1", "What it costs, in your own coin.", example="12")
    setting: tuple[SetPoint, ...] = nested(
        SetPoint, "Settings of this board, for what asks for one by name.", many=True
    )

    def made(self, volts: float) -> float:
        """The volts it makes when it is asked for some: within the reach of its screw."""
        low = self.output_min.value if self.output_min is not None else -math.inf
        high = self.output_max.value if self.output_max is not None else math.inf
        return min(max(volts, low), high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """What stores the ride for later."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"voltage", "charge_voltage", "low_voltage"})
    PLATE: ClassVar[frozenset[str]] = frozenset({"capacity", "charge_current"})
    name: str = text("What you call it.", example="hut battery")
    chemistry: str = choice("What it is made of.", CHEMISTRIES, default="flooded", needed=True)
    voltage: Measured | None = measured("V", "Its name: 6, 12, 24 V.", high=120, example="12 V", needed=True)
    capacity: Measured | None = measured(
        "C", "Amp-hours on the label (over 20 hours).", high=40e6, example="36 Ah", needed=True
    )
    resistance: Measured | None = measured(
        "ohm", "Internal resistance, posts to posts.", high=5, example="15 mohm"
    )
    charge: Measured | None = measured("1", "How full it is when you start.", high=1, example="50 %")
    health: Measured | None = measured("1", "Share of the label it still holds.", high=1.2, example="80 %")
    charge_voltage: Measured | None = measured(
        "V", "Where charging is stopped or held, at 25 degC.", high=150, example="14.4 V"
    )
    charge_current: Measured | None = measured(
        "A", "Most charging amps its case allows.", high=500, example="9 A"
    )
    low_voltage: Measured | None = measured("V", "Where you stop taking from it.", high=120, example="10.8 V")
    temperature: Measured | None = measured("K", "Its temperature.", low=230, high=340, example="15 degC")
    through: str = text(
        "Name of the board that charges it; none means straight from the diode.", example="step-down board"
    )
    setting: str = text("Name of that board's setting it asks for.", example="29 V")
    protected: bool | None = flag("It carries a protection circuit (lithium).")
    in_room: bool | None = flag("It stands in the room where people are.")
    voltage_limited: bool | None = flag("Something stops the charge at the charging volts.")
    price: Measured | None = measured("1", "What it costs, in your own coin.", example="40")


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One thing to run."""

    PLATE: ClassVar[frozenset[str]] = frozenset(
        {"plate_voltage", "plate_current", "plate_power", "plate_speed"}
    )
    EXACT: ClassVar[frozenset[str]] = frozenset(
        {"use_time", "bout", "breather", "uses_per_day", "voltage", "voltage_min", "voltage_max"}
    )
    name: str = text("What you call it.", example="corded drill", needed=True)
    kind: str = choice("What is inside.", LOAD_KINDS, needed=True)
    power: Measured | None = measured("W", "What it takes when running.", high=20e3, example="60 W")
    voltage: Measured | None = measured("V", "The volts it is run at.", high=400, example="19 V")
    voltage_min: Measured | None = measured("V", "Below this it quits.", high=400, example="17 V")
    voltage_max: Measured | None = measured("V", "Above this it may die.", high=500, example="21 V")
    plate_voltage: Measured | None = measured("V", "Volts on its label.", high=400, example="230 V")
    plate_current: Measured | None = measured("A", "Amps on its label.", high=100, example="2.6 A")
    plate_power: Measured | None = measured("W", "Watts on its label.", high=20e3, example="600 W")
    plate_speed: Measured | None = measured(
        "rad/s", "Speed on its label, no load, at its motor.", high=6000, example="20000 rpm"
    )
    winding_resistance: Measured | None = measured(
        "ohm", "Cold ohms across the plug, switch on.", high=5000, example="12 ohm"
    )
    idle_share: Measured | None = measured(
        "1", "Running light, share of its rated watts.", high=1, example="25 %"
    )
    start_factor: Measured | None = measured(
        "1", "Amps at the moment of starting over running amps.", high=20, example="6"
    )
    input_text: str = text("What the label says of its input, word for word.", example="100-240 V AC")
    trigger: str = choice(
        "How it is switched on.", ("contact", "electronic", "none", "unknown"), default="unknown"
    )
    inertia: Measured | None = measured(
        "kg*m^2", "Inertia of its motor and what it turns.", high=10, example="6e-5 kg*m^2"
    )
    inductance: Measured | None = measured("H", "Inductance of its motor.", high=20, example="60 mH")
    use_time: Measured | None = measured("s", "How long one use lasts.", high=864e3, example="2 h")
    uses_per_day: Measured | None = measured("1", "Uses a day.", high=1000, example="1")
    energy_per_use: Measured | None = measured(
        "J", "Energy one use takes, if you know it instead.", high=1e9, example="170 Wh"
    )
    bout: Measured | None = measured("s", "Short spell of work.", high=36e3, example="25 s")
    breather: Measured | None = measured("s", "Rest after it.", high=36e3, example="60 s")
    through: str = text("Name of the board that feeds it.", example="step-up board")
    setting: str = text("Name of that board's setting it asks for.", example="29 V")
    without_battery: bool | None = flag("Runs straight off the rig with the battery unhooked.")
    life_support: bool | None = flag("Somebody depends on it.")
    motion: bool | None = flag("Could be driven by a belt with no electricity at all.")
    lights_people: bool | None = flag("It is a lamp people sit under.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbour:
    """One more rig on the same bus. What is not given is as in the main rig."""

    name: str = text("What you call it.", example="rig 2", needed=True)
    rider: str = text("Name of its rider.", example="Beno")
    machine: Machine | None = nested(Machine, "Its machine.")
    stage: tuple[Stage, ...] = nested(Stage, "Its drive.", many=True)
    converter: Converter | None = nested(Converter, "Its board.")
    diode: Diode | None = nested(Diode, "Its diode.")
    lead_resistance: Measured | None = measured(
        "ohm", "Its lead to the shared bus, there and back.", high=10, example="0.05 ohm"
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where it stands."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"volume"})
    volume: Measured | None = measured("m^3", "Air in the room.", high=1e5, example="30 m3")
    fresh_air: Measured | None = measured("m^3/s", "Fresh air that comes in.", high=100, example="20 m3/h")
    temperature: Measured | None = measured("K", "Air temperature.", low=220, high=340, example="18 degC")
    closed: bool | None = flag("Doors and vents are shut.")
    wet: bool | None = flag("Damp, or hands are sweating.")
    children: bool | None = flag("Children can reach it.")
    people_resting: int | None = count("People in the room who are not riding.", low=0, high=1000)
    house_wiring: bool | None = flag("Some lead from the rig goes to the wiring of a house.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What changes cost, in your own coin; the tool's guesses are used for the rest."""

    EXACT: ClassVar[frozenset[str]] = frozenset(
        {"pulley", "board", "battery", "capacitor", "wire_per_metre", "flywheel", "clamp", "diode", "fuse"}
    )
    coin: str = text("Name of your coin.", default="coins", example="coins")
    pulley: Measured | None = measured("1", "A pulley or sprocket.", example="6")
    board: Measured | None = measured("1", "A converter board.", example="12")
    battery: Measured | None = measured("1", "A small battery.", example="40")
    capacitor: Measured | None = measured("1", "A bus capacitor.", example="4")
    wire_per_metre: Measured | None = measured("1", "Wire, a metre.", example="1")
    flywheel: Measured | None = measured("1", "A flywheel.", example="8")
    clamp: Measured | None = measured("1", "A switched dump resistor.", example="8")
    diode: Measured | None = measured("1", "A diode.", example="2")
    fuse: Measured | None = measured("1", "A fuse with its holder.", example="3")


@dataclass(frozen=True, slots=True, kw_only=True)
class Ride:
    """What you usually ask: who, what, which gear, how hard, how long."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"effort", "cadence", "duration"})
    rider: str = text("Name of the rider.", example="Ansa")
    load: str = text("Name of the load, or 'charge' for the battery.", example="charge")
    gear: str = text("Which gear, written driver/driven.", example="42/18")
    effort: Measured | None = measured(
        "W", "An effort worth this much at the pedals at its best cadence.", high=2500, example="100 W"
    )
    cadence: Measured | None = measured("rad/s", "Turns a minute to look at.", high=32, example="65 rpm")
    duration: Measured | None = measured("s", "How long.", high=864e3, example="2 h")


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneStep:
    """One thing that happens in a scene."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"at"})
    at: Measured | None = measured("s", "When, from the start.", high=864e3, example="5 s", needed=True)
    do: str = text("What happens, in plain words.", example="switch the saw on", needed=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """A short ride told step by step, to be played second by second."""

    EXACT: ClassVar[frozenset[str]] = frozenset({"effort", "cadence", "duration"})
    name: str = text("What you call it.", example="saw in third gear", needed=True)
    rider: str = text("Name of the rider.", example="Ansa")
    load: str = text("Name of the load that is hooked up, or 'charge'.", example="saw")
    gear: str = text("The gear it starts in, written driver/driven.", example="42/18")
    start: str = choice("Already riding along, or from standstill.", STARTS, default="riding")
    holds: str = choice(
        "What the rider keeps even: the effort, the cadence or the power.", HOLDS, default="effort"
    )
    effort: Measured | None = measured(
        "W", "The effort or the power, at the pedals.", high=2500, example="120 W"
    )
    cadence: Measured | None = measured(
        "rad/s", "The turns a minute to start at or to hold.", high=32, example="65 rpm"
    )
    duration: Measured | None = measured("s", "How long the scene lasts.", high=2.592e6, example="30 s")
    switched_on: bool | None = flag("The load is on from the start.")
    step: tuple[SceneStep, ...] = nested(SceneStep, "What happens when.", many=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rig:
    """The whole build, as written in rig.toml."""

    name: str = text("What you call the build.", example="Weather hut", needed=True)
    story: str = text("A paragraph about it.", example="A hut on a north shore.")
    rider: tuple[Rider, ...] = nested(Rider, "Who rides.", many=True, needed=True)
    stage: tuple[Stage, ...] = nested(Stage, "The drive, in order from the crank to the machine.", many=True)
    flywheel: tuple[Flywheel, ...] = nested(Flywheel, "Spinning masses.", many=True)
    machine: Machine | None = nested(Machine, "The machine.", needed=True)
    diode: Diode | None = nested(Diode, "The blocking diode.")
    wire: tuple[Wire, ...] = nested(Wire, "Wires.", many=True)
    fuse: tuple[Fuse, ...] = nested(Fuse, "Fuses.", many=True)
    switch: tuple[Switch, ...] = nested(Switch, "Switches.", many=True)
    socket: tuple[Socket, ...] = nested(Socket, "Plugs and sockets.", many=True)
    clamp: Clamp | None = nested(Clamp, "The over-voltage clamp.")
    bus: Bus | None = nested(Bus, "The bus between machine and boards.")
    converter: tuple[Converter, ...] = nested(Converter, "Boards.", many=True)
    battery: Battery | None = nested(Battery, "The battery.")
    load: tuple[Load, ...] = nested(Load, "What to run.", many=True)
    neighbour: tuple[Neighbour, ...] = nested(Neighbour, "More rigs on the same bus.", many=True)
    place: Place | None = nested(Place, "Where it stands.")
    prices: Prices | None = nested(Prices, "What changes cost.")
    ride: Ride | None = nested(Ride, "What you usually ask.")
    scene: tuple[Scene, ...] = nested(Scene, "Rides to be played second by second.", many=True)
