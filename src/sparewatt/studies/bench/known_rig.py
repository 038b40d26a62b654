"""What is known of a rig's constants before any reading, as unknowns of the joint fit, and where each goes in the rig file.

Priors come from the filled rig: nameplate, typical part, or earlier readings. Health of a battery, its resistance and
the slip of a drive are held loosely, since a worn part lies far from a typical one (common practice, no source).
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Battery, Converter, Machine, Measured, Rig
from sparewatt.physics import machine as machine_physics
from sparewatt.physics import rider as rider_physics
from sparewatt.rig.bind_drive import bind_drive, stage_gears
from sparewatt.rig.columns import Columns
from sparewatt.rig.draws import Draws
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.hookup import boards_on_rig
from sparewatt.studies.fit.fitting import Unknown

__all__ = ["THREE", "Bench", "Label", "bench_of", "forget"]

F = NDArray[np.float64]
T = TypeVar("T")
THREE = ("pm_three_phase", "alternator")
BENCH_NOTE = "bench"
LOOSE = 0.8  # least spread, as a share, of constants that wear far from typical
PEUKERT = (1.2, 0.05)  # lead-acid, 1.15 to 1.3: common practice, no source
PEUKERT_LITHIUM = (1.03, 0.02)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """One constant: key in the rig file ("" for none), SI unit, words, how its prior is known."""

    key: str
    unit: str
    says: str
    how: str = "typical"
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A filled rig seen from the bench. gears, teeth, drag_*: by gear, in one order; drag at the crank.

    volts_factor: direct volts over volts per speed (1.35 behind a bridge).
    """

    filled: Filled
    unknowns: dict[str, Unknown]
    labels: dict[str, Label]
    boards: tuple[Converter, ...]
    gears: tuple[str, ...]
    teeth: F
    gain: F
    drag: F
    drag_slope: F
    volts_factor: float
    room: float

    @property
    def rig(self) -> Rig:
        """The filled rig."""
        return self.filled.rig

    @property
    def machine(self) -> Machine:
        """Its machine."""
        assert self.rig.machine is not None
        return self.rig.machine

    @property
    def battery(self) -> Battery | None:
        """Its battery, if any."""
        return self.rig.battery

    def gear(self, name: str) -> int:
        """Index of a gear by name; the only one, or the middle one, when the reading names none."""
        return self.gears.index(name) if name in self.gears else (len(self.gears) - 1) // 2

    def board(self, name: str) -> int | None:
        """Index in the rig file of the board a reading names, or of the only board."""
        for k, board in enumerate(self.rig.converter):
            if name and board.name.casefold() == name.casefold():
                return k
        if name or not self.rig.converter:
            return None
        first = self.boards[0] if self.boards else self.rig.converter[0]
        return self.rig.converter.index(first)

    def rider(self, name: str) -> int:
        """Index of the rider a reading names; the first without a name."""
        for k, rider in enumerate(self.rig.rider):
            if name and rider.name.casefold() == name.casefold():
                return k
        return 0


def forget(rig: Rig) -> Rig:
    """The rig without the constants that a bench has written into it, so that no reading counts twice.

    The bench marks what it writes by a note that begins with "bench"; a plate or a typical part stands in again.
    """
    return _forgotten(rig)


def _forgotten(part: T) -> T:
    new: dict[str, object] = {}
    for field in dataclasses.fields(part):  # type: ignore[arg-type]
        value = getattr(part, field.name)
        if isinstance(value, Measured):
            if value.how in ("measured", "computed") and value.note.casefold().startswith(BENCH_NOTE):
                new[field.name] = None
        elif dataclasses.is_dataclass(value) and not isinstance(value, type):
            again = _forgotten(value)
            if again is not value:
                new[field.name] = again
        elif isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
            each = tuple(_forgotten(v) for v in value)
            if any(a is not b for a, b in zip(each, value, strict=True)):
                new[field.name] = each
    return dataclasses.replace(part, **new) if new else part  # type: ignore[type-var]


def bench_of(filled: Filled) -> Bench:
    """Everything the bench needs to know of a rig before the first reading. What an earlier bench wrote is forgotten."""
    before = forget(filled.rig)
    filled = filled if before is filled.rig else fill(before)
    rig = filled.rig
    assert rig.machine is not None and rig.place is not None and rig.place.temperature is not None
    unknowns: dict[str, Unknown] = {}
    labels: dict[str, Label] = {}
    _machine(rig, unknowns, labels)
    _drive_alone(rig, unknowns, labels)
    for k, board in enumerate(rig.converter):
        _board(board, k, unknowns, labels)
    if rig.battery is not None:
        _battery(rig.battery, unknowns, labels)
    for k in range(len(rig.rider)):
        _rider(rig, k, unknowns, labels)
    gears, _, gain, drag, slope, _ = bind_drive(rig, Columns(Draws(0, 1)))
    teeth = _ratios(rig, unknowns, labels)
    unknowns["room"] = Unknown(
        name="room", start=rig.place.temperature.value, prior_mean=rig.place.temperature.value,
        prior_sd=max(rig.place.temperature.sd, 3.0),
    )  # fmt: skip
    labels["room"] = Label(key="place.temperature", unit="K", says="where you measured")
    return Bench(
        filled=filled, unknowns=unknowns, labels=labels, boards=boards_on_rig(rig), gears=gears, teeth=teeth,
        gain=gain[:, 0], drag=drag[:, 0], drag_slope=slope[:, 0],
        volts_factor=machine_physics.BRIDGE_FACTOR if rig.machine.kind in THREE else 1.0,
        room=rig.place.temperature.value,
    )  # fmt: skip


def _prior(name: str, known: Measured, *, log: bool = True, least: float = 0.0) -> Unknown:
    """A positive constant with what is known of it; `least`: smallest spread, as a share. An exact 0 stays free of it."""
    sd = max(known.sd, least * abs(known.value))
    if known.value <= 0 or not log:
        return Unknown(
            name=name, start=known.value, low=0.0, prior_mean=known.value, prior_sd=sd if sd > 0 else None
        )
    if sd <= 0:
        sd = 0.02 * known.value
    return Unknown(name=name, start=known.value, prior_mean=known.value, prior_sd=sd, log=True)


def _machine(rig: Rig, unknowns: dict[str, Unknown], labels: dict[str, Label]) -> None:
    machine = rig.machine
    assert machine is not None
    words = {
        "emf_constant": ("V*s/rad", "volts for each unit of speed, and torque for each amp"),
        "resistance": ("ohm", "winding resistance at 20 degC, through the brushes"),
        "brush_drop": ("V", "volts lost at both brushes"),
        "friction": ("N*m", "torque to keep it turning slowly"),
        "friction_slope": ("N*m*s/rad", "how that torque grows with speed"),
        "inertia": ("kg*m^2", "inertia of the rotor"),
    }
    for name, (unit, says) in words.items():
        known = getattr(machine, name)
        assert isinstance(known, Measured)
        key = f"machine.{name}"
        if (
            name == "brush_drop" and machine.kind in THREE
        ):  # what is lost behind a bridge is lost at its diodes
            known = rig.diode.drop if rig.diode and rig.diode.drop else Measured(1.8, 0.2, "typical")
            key, says = "", "volts lost at the two diodes of the bridge"
        unknowns[name] = _prior(name, known, log=name != "brush_drop")
        labels[name] = Label(key=key, unit=unit, says=says, how=known.how, part="machine")
    back = unknowns["emf_constant"]
    unknowns["emf_constant_back"] = Unknown(name="emf_constant_back", start=back.start, log=True)
    labels["emf_constant_back"] = Label(
        key="", unit="V*s/rad", says="the same, turned the other way", part="machine"
    )


def _drive_alone(rig: Rig, unknowns: dict[str, Unknown], labels: dict[str, Label]) -> None:
    """Drag and inertia of the drive as the machine's shaft feels them: known only from a run-down of the whole rig."""
    last = len(rig.stage) - 1
    plain = last >= 0 and rig.stage[last].kind not in ("roller", "rim_wheel")
    for name, start, field, unit, says in (
        ("drive_drag", 0.03, "drag_torque", "N*m", "drag of the drive at the machine's shaft"),
        ("drive_drag_slope", 5e-5, "drag_slope", "N*m*s/rad", "how the drag of the drive grows with speed"),
        ("drive_inertia", 2e-3, "inertia", "kg*m^2", "inertia of the drive at the machine's shaft"),
    ):
        unknowns[name] = Unknown(name=name, start=start, log=True)
        key = f"stage.{last}.{field}" if plain else ""
        labels[name] = Label(key=key, unit=unit, says=says, part=f"stage.{last}" if last >= 0 else "")


def _board(board: Converter, k: int, unknowns: dict[str, Unknown], labels: dict[str, Label]) -> None:
    eta = board.efficiency.value if board.efficiency else 0.9
    if board.efficiency_curve:
        eta = float(np.median([share for _, share in board.efficiency_curve]))
    lost = 1 / eta - 1
    middle = _middle_watts(board)
    idle = board.idle_power or Measured(0.5, 0.25, "typical")
    part = f"converter.{k}"
    rows: tuple[tuple[str, Measured, str, str, str], ...] = (
        ("loss_0", idle, f"{part}.idle_power", "W", "watts the board takes with nothing behind it"),
        ("loss_1", Measured(0.5 * lost, 0.4 * lost, "typical"), "", "1", "watts lost for each watt out"),
        ("loss_2", Measured(0.5 * lost / middle, 0.5 * lost / middle, "typical"), "", "1/W",
         "watts lost for each watt out, squared"),
    )  # fmt: skip
    for name, known, key, unit, says in rows:
        unknowns[f"{name}.{k}"] = _prior(f"{name}.{k}", known, least=0.5)
        labels[f"{name}.{k}"] = Label(key=key, unit=unit, says=says, how=known.how, part=part)
    for name, unit, says in (
        ("input_min", "V", "input volts at which it drops out"),
        ("restart", "V", "input volts at which it comes back"),
        ("input_current", "A", "most amps it takes in"),
        ("set_voltage", "V", "where its volts screw is set"),
        ("set_current", "A", "where its amps screw is set"),
    ):
        held = getattr(board, name)
        unknowns[f"{name}.{k}"] = Unknown(name=f"{name}.{k}", start=held.value if held else 10.0, log=True)
        labels[f"{name}.{k}"] = Label(key=f"{part}.{name}", unit=unit, says=says, part=part)


def _middle_watts(board: Converter) -> float:
    """Watts at which a board is usually worked: a quarter of its print, else 60 W."""
    return 0.25 * board.power_rating.value if board.power_rating else 60.0


def _battery(battery: Battery, unknowns: dict[str, Unknown], labels: dict[str, Label]) -> None:
    assert battery.resistance is not None and battery.health is not None
    unknowns["battery_resistance"] = _prior("battery_resistance", battery.resistance, least=LOOSE)
    labels["battery_resistance"] = Label(
        key="battery.resistance", unit="ohm", says="internal resistance, posts to posts",
        how=battery.resistance.how, part="battery",
    )  # fmt: skip
    unknowns["health"] = _prior("health", battery.health, least=LOOSE)
    labels["health"] = Label(
        key="battery.health", unit="1", says="share of its label that it still holds",
        how=battery.health.how, part="battery",
    )  # fmt: skip
    mean, sd = PEUKERT_LITHIUM if battery.chemistry in ("lifepo4", "lithium_other") else PEUKERT
    unknowns["peukert"] = Unknown(name="peukert", start=mean, low=1.0, high=1.6, prior_mean=mean, prior_sd=sd)
    labels["peukert"] = Label(key="", unit="1", says="how fast discharge costs capacity", part="battery")
    unknowns["charge"] = Unknown(name="charge", start=0.6, low=-0.2, high=1.2, prior_mean=0.6, prior_sd=0.5)
    labels["charge"] = Label(key="battery.charge", unit="1", says="how full it is", part="battery")


def _rider(rig: Rig, k: int, unknowns: dict[str, Unknown], labels: dict[str, Label]) -> None:
    """A rider before any effort: as people of that body and training are, whatever timed efforts the file holds."""
    rider = rig.rider[k]
    assert rider.mass is not None and rider.age is not None
    guess = rider_physics.typical_rider(
        mass=rider.mass.value, age=rider.age.value, fitness=rider.fitness or "not fit", uses=rider.uses
    )
    part = f"rider.{k}"
    for name, mean, sd, unit, says in (
        ("critical_power", guess.critical_power, guess.critical_power_sd, "W", "what the legs hold for about half an hour"),
        ("work_reserve", guess.work_reserve, guess.work_reserve_sd, "J", "work left above that"),
    ):  # fmt: skip
        unknowns[f"{name}.{k}"] = _prior(f"{name}.{k}", Measured(mean, sd, "typical"), least=0.5)
        labels[f"{name}.{k}"] = Label(key=f"{part}.{name}", unit=unit, says=says, part=part)


def _ratios(rig: Rig, unknowns: dict[str, Unknown], labels: dict[str, Label]) -> F:
    """Turns of the machine for one of the crank by teeth alone, gear by gear; what rests on diameters is named."""
    teeth = np.ones(1)
    loose, share2, creep, creep2 = 1.0, 0.0, 1.0, 0.0
    at_ratio: list[int] = []
    at_creep: list[int] = []
    for k, stage in enumerate(rig.stage):
        if stage.creep is not None and stage.creep.value > 0:
            creep *= 1 - stage.creep.value
            creep2 += stage.creep.sd**2
            at_creep.append(k)
        if stage.ratio is None and stage.driver_teeth and stage.driven_teeth:
            own = np.array([a / b for a in stage.driver_teeth for b in stage.driven_teeth])
            assert own.size == len(stage_gears(stage))
            teeth = np.outer(teeth, own).ravel()
            continue
        if stage.ratio is not None:
            value, share = stage.ratio.value, stage.ratio.sd / stage.ratio.value
        elif stage.driver_diameter is not None and stage.driven_diameter is not None:
            value = stage.driver_diameter.value / stage.driven_diameter.value
            share = math.hypot(*(d.sd / d.value for d in (stage.driver_diameter, stage.driven_diameter)))
        else:
            continue
        loose *= value
        share2 += share**2
        at_ratio.append(k)
    _name_ratio(loose, math.sqrt(share2), at_ratio, unknowns, labels)
    _name_creep(1 - creep, math.sqrt(creep2), at_creep, unknowns, labels)
    return teeth


def _name_ratio(
    loose: float, share: float, stages: list[int], unknowns: dict[str, Unknown], labels: dict[str, Label]
) -> None:
    unknowns["ratio"] = _prior("ratio", Measured(loose, loose * share), least=0.01 if stages else 1e-6)
    at = stages[0] if len(stages) == 1 else None
    labels["ratio"] = Label(
        key="" if at is None else f"stage.{at}.ratio", unit="1", how="measured",
        says="turns for one turn, of what is not counted in teeth", part="" if at is None else f"stage.{at}",
    )  # fmt: skip


def _name_creep(
    creep: float, sd: float, stages: list[int], unknowns: dict[str, Unknown], labels: dict[str, Label]
) -> None:
    if not stages:
        unknowns["creep"] = Unknown(
            name="creep", start=0.0, low=0.0, high=0.5, prior_mean=0.0, prior_sd=0.002
        )
    else:
        unknowns["creep"] = _prior("creep", Measured(creep, sd), least=LOOSE)
    at = stages[0] if len(stages) == 1 else None
    labels["creep"] = Label(
        key="" if at is None else f"stage.{at}.creep", unit="1", says="share of speed lost to slip at working load",
        part="" if at is None else f"stage.{at}",
    )  # fmt: skip
