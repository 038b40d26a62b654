"""Synthetic rides for the fault-finder: rigs drawn from their files' spreads, one fault planted, meters that err.

Nothing of `mend_*` is used. Faults are planted in the records of the rig, or in a few lines here; each point is the plain
solver's, found by halving. Meters read with the errors of a cheap one, needles swing, and feel is a rider's word.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sparewatt.files import demo_text, read_text
from sparewatt.language.moment import Moment
from sparewatt.parts import Battery, Converter, Diode, Load, Machine, Measured, Rider, Rig, Stage
from sparewatt.rig import steady
from sparewatt.rig.asking import ask_for
from sparewatt.rig.bind import bind, hold_board, scaled
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.layout import Bound, Kind, Param
from sparewatt.rig.outcome import Mode

RPM = 2 * math.pi / 60
ALPHA, BETA = 0.00393, {"ferrite": -0.002, "rare_earth": -0.0011, "unknown": -0.0017}
WORDS = ((0.35, "very easy"), (0.62, "easy"), (0.87, "as usual"), (1.14, "hard"), (9.0, "very hard"))


# ---- rigs -----------------------------------------------------------------------------------------------------------


def hut(**edits: object) -> Rig:
    """A scooter motor on a roller, straight through a diode onto a 12 V battery, three gears; measured at a bench."""
    parts: dict[str, Any] = {
        "name": "hut",
        "rider": (Rider(name="Ansa", mass=Measured(70.0), age=Measured(34.0), fitness="active",
                        critical_power=Measured(170.0, 13.0), work_reserve=Measured(15e3, 2e3)),),
        "stage": (
            Stage(name="chain", kind="chain", driver_teeth=(42,), driven_teeth=(16, 18, 21)),
            Stage(name="tyre", kind="roller", driver_diameter=Measured(0.600, 0.003),
                  driven_diameter=Measured(0.040, 0.0004)),
        ),
        "machine": Machine(
            name="scooter motor", emf_constant=Measured(0.075, 0.0015), resistance=Measured(0.25, 0.025),
            brush_drop=Measured(1.1, 0.2), friction=Measured(0.045, 0.008), friction_slope=Measured(5e-5, 1e-5),
            mass=Measured(2.2), magnets="ferrite",
        ),
        "diode": Diode(kind="schottky"),
        "battery": Battery(
            name="battery", chemistry="flooded", voltage=Measured(12.0), capacity=Measured(36 * 3600.0),
            resistance=Measured(0.02, 0.005), charge=Measured(0.5, 0.1),
        ),
    }  # fmt: skip
    return Rig(**{**parts, **edits})


def bench_top() -> Rig:
    """The same with a step-down board between, which fills the battery."""
    rig = hut()
    assert rig.battery is not None and rig.machine is not None
    return dataclasses.replace(
        rig, name="bench top", battery=dataclasses.replace(rig.battery, through="board"),
        machine=dataclasses.replace(rig.machine, emf_constant=Measured(0.14, 0.003), resistance=Measured(0.7, 0.06)),
        converter=(Converter(name="board", kind="buck", set_voltage=Measured(14.2, 0.05), set_current=Measured(6.0),
                             input_max=Measured(80.0), efficiency=Measured(0.92, 0.015)),),
    )  # fmt: skip


def laptop() -> Rig:
    """A step-up board to 19 V for 45 W, no battery."""
    return hut(
        name="laptop", battery=None,
        converter=(Converter(name="step-up board", kind="boost", at="rig", set_voltage=Measured(24.0, 0.05),
                             input_current=Measured(10.0, 0.5), input_min=Measured(9.0, 0.3),
                             efficiency=Measured(0.87, 0.015)),),
        load=(Load(name="laptop", kind="electronics", power=Measured(45.0, 2.0), voltage=Measured(24.0),
                   voltage_min=Measured(17.0), voltage_max=Measured(27.0), through="step-up board"),),
    )  # fmt: skip


def lamp_rig() -> Rig:
    """A heater wire as a lamp straight on the machine: nothing between."""
    return hut(
        name="lamp", battery=None, diode=None,
        load=(Load(name="wire lamp", kind="heater", power=Measured(60.0, 2.0), voltage=Measured(14.0)),),
    )  # fmt: skip


RIGS: dict[str, Callable[[], Rig]] = {
    "hut": hut,
    "bench top": bench_top,
    "laptop": laptop,
    "lamp": lamp_rig,
    "skerry": lambda: read_text(demo_text("skerry")).rig,
    "cellar": lambda: read_text(demo_text("cellar")).rig,
    "schoolyard": lambda: read_text(demo_text("schoolyard")).rig,
}


def drawn(part: Any, rng: np.random.Generator) -> Any:
    """The part with every number that has a spread drawn from it."""
    new: dict[str, Any] = {}
    for each in dataclasses.fields(part):
        value = getattr(part, each.name)
        if isinstance(value, Measured) and value.sd > 0:
            if value.value > 0:
                share = math.sqrt(math.log1p((value.sd / value.value) ** 2))
                v = value.value * math.exp(share * rng.standard_normal())
            else:
                v = value.value + value.sd * rng.standard_normal()
            high = 0.995 if each.metadata["spec"].high == 1 else math.inf
            new[each.name] = Measured(min(v, high), 0.0, value.how)
        elif dataclasses.is_dataclass(value) and not isinstance(value, type):
            new[each.name] = drawn(value, rng)
        elif isinstance(value, tuple) and value and dataclasses.is_dataclass(value[0]):
            new[each.name] = tuple(drawn(v, rng) for v in value)
    return dataclasses.replace(part, **new)


# ---- a ride ---------------------------------------------------------------------------------------------------------


@dataclass
class Fault:
    """A planted fault. rig: changes records; the rest are what records cannot say."""

    key: str = "normal"
    rig: Callable[[Rig], Rig] = lambda rig: rig
    slip: float = 0.0  # share at a usual pull
    hotter: float = 0.0  # K
    ohms: float = 0.0  # in the line behind the machine's wires
    board_ohms: float = 0.0
    drag: float = 0.0  # N*m at the crank
    shut: bool = False
    backward: bool = False
    through: bool = False
    legs: float = 1.0
    battery_ohms: float = 0.0
    battery_volts: float = 0.0
    gear: Mapping[str, str] = field(default_factory=dict)  # noted -> ridden
    meters: Callable[[dict[str, float]], None] = lambda seen: None
    fuse: bool = False


@dataclass
class Ride:
    """One true rig with its fault and its meters, and the moments written so far."""

    filled: Filled  # as the file says
    fault: Fault
    rng: np.random.Generator
    load: str
    effort: float
    moments: list[Moment] = field(default_factory=list)
    bounds: dict[int, Bound] = field(default_factory=dict)

    def __post_init__(self) -> None:
        true = drawn(self.filled.rig, self.rng)
        self.well = true
        self.ill = self.fault.rig(true)
        self.volts_gain, self.amps_gain = np.exp(self.rng.normal(0, (0.008, 0.02)))
        self.warmth = math.exp(self.rng.normal(0, 0.3))
        bound = self._bound(self.well)
        self.liked = bound.rider.cadence.value if bound.rider.cadence else 65 * RPM

    def _bound(self, rig: Rig) -> Bound:
        if id(rig) not in self.bounds:
            self.bounds[id(rig)] = self._bind(rig)
        return self.bounds[id(rig)]

    def _bind(self, rig: Rig) -> Bound:
        bound = bind(Filled(rig=rig, assumed=()), self.load, effort=self.effort, draws=0)
        if rig.neighbour and bound.hookup.load is not None:
            bound = scaled(bound, 1 / (1 + len(rig.neighbour)))
        return bound

    def point(
        self, gear: str, w: float, rise: float, fine: bool, joined: str, meter_in: bool
    ) -> dict[str, float]:
        """Everything at one cadence."""
        fault = Fault() if fine else self.fault
        rig = self.well if fine and fault.key == "normal" and self.since else self.ill
        fault = self.fault if not fine or not self.since else fault
        bound = self._bound(rig)
        g = bound.gears.index(fault.gear.get(gear, gear))
        q = bound.params[:, :1].copy()
        hot = rise + fault.hotter
        machine = rig.machine
        assert machine is not None and rig.place is not None and rig.place.temperature is not None
        air = rig.place.temperature.value
        copper = float(bound.extras["r_wind_cold"][0]) * (1 + ALPHA * (air + hot - 293.15))
        q[Param.K_EMF] *= 1 + BETA[machine.magnets or "unknown"] * (air + 0.325 * hot - 293.15)
        q[Param.R_SOURCE] += copper - float(bound.extras["r_wind"][0]) + fault.ohms
        if bound.hookup.battery is not None:
            back = float(bound.extras["v_back"][0]) + fault.battery_volts
            r = float(bound.extras["r_store"][0]) + fault.battery_ohms + fault.board_ohms
            load = float(bound.extras.get("load_p", np.zeros(1))[0])
            q[Param.A], q[Param.G], q[Param.P] = -back / r, 1 / r, load
            q[Param.U_REST] = 0.5 * (back + math.sqrt(back**2 - 4 * load * r)) if load else back
            if bound.hookup.board is None:
                q[Param.V_HELD] = q[Param.U_REST]
        if fault.through and bound.hookup.board is not None:
            q[Param.KIND], q[Param.V_SET], q[Param.V_LOSS] = Kind.BOOST, 1.0, 0.4
        if bound.hookup.board is not None:
            hold_board(q, np.full(1, math.inf) if fault.through else bound.extras["i_set"][:1])
        shut = (
            fault.shut
            or joined == "nothing"
            or (fault.fuse and meter_in)
            or (fault.backward and not self._direct(bound))
        )
        if shut:
            q[Param.V_DROP] += 1e5
        if fault.backward:
            q[Param.HAS_DIODE] = 0.0
        return self._solve(bound, q, g, w, fault, copper)

    def _direct(self, bound: Bound) -> bool:
        return bound.hookup.battery is not None and bound.hookup.board is None

    def _solve(self, bound: Bound, q: Any, g: int, w: float, fault: Fault, copper: float) -> dict[str, float]:
        gain, drag, slope = (float(a[g, 0]) for a in (bound.gain, bound.drag, bound.slope))
        low, high = 0.0, 0.9
        for _ in range(20 if fault.slip else 1):
            slip = 0.5 * (low + high) if fault.slip else 0.0
            speed = w * float(bound.ratio[g, 0]) * (1 - slip)
            s = steady.operate(q, speed)
            i = min(float(s.i_out[0]), 0.0) if fault.backward else float(s.i_out[0])
            torque = gain * (
                float(q[Param.K_EMF, 0]) * i
                + float(q[Param.T_COULOMB, 0])
                + float(q[Param.B_VISCOUS, 0]) * speed
            )
            torque += drag + slope * w + fault.drag
            more = fault.slip * torque / (self.effort / self.liked) > slip
            low, high = (slip, high) if more else (low, slip)
        emf = float(q[Param.K_EMF, 0]) * speed
        flows = abs(i) > 1e-9
        inside = math.copysign(1, i) * float(bound.extras["v_brush"][0]) + i * (
            copper + float(q[Param.R_SPEED, 0]) * speed
        )
        out = float(s.v_out[0])
        if bound.hookup.battery is not None and not flows:
            out = float(bound.extras["v_open"][0]) + fault.battery_volts
        if s.mode[0] == Mode.CHATTERS:
            i, out = (
                float(self.rng.uniform(0, 0.5) * q[Param.P_HELD, 0] / emf),
                0.5 * float(q[Param.V_HELD, 0]),
            )
        return {
            "cadence": w, "speed": speed, "volts": emf - inside if flows else emf, "amps": i, "volts_out": out,
            "amps_out": float(s.i_demand[0]) if flows else 0.0, "torque": torque, "w_top": float(bound.w_top[0]),
            "legs": torque * w / float(bound.critical_power[0]), "mode": float(s.mode[0]),
        }  # fmt: skip

    @property
    def since(self) -> bool:
        """Whether the fault came after the moments at which all was well."""
        return self.fault.key not in ("wrong_winding", "wrong_number", "board_limit")

    def settle(self, gear: str, effort: float, steps: int = 20, **how: Any) -> dict[str, float]:
        """Where a rider who means to push `effort` ends up: the fastest crossing, or as fast as anybody likes."""
        top = 1.45 * self.liked

        def excess(w: float) -> float:
            at = self.point(gear, w, **how)
            return 4 * effort / at["w_top"] * (1 - w / at["w_top"]) - at["torque"]

        grid = np.linspace(top, 0.3 * self.liked, 22)
        if excess(float(grid[0])) >= 0:
            return self.point(
                gear, self.liked * float(self.rng.uniform(0.6 if self.fault.backward else 0.95, 1.4)), **how
            )
        high = float(grid[0])
        for w in grid[1:]:
            if excess(float(w)) > 0:
                low = float(w)
                for _ in range(steps):
                    middle = 0.5 * (low + high)
                    low, high = (middle, high) if excess(middle) > 0 else (low, middle)
                return self.point(gear, low, **how)
            high = float(w)
        return self.point(gear, 0.5 * self.liked, **how)

    # ---- reading it ----

    def _digits(self, v: float, gain: float, digits: float, live: float) -> float:
        v = v * gain * (1 + live * self.rng.standard_normal()) + 0.03 * self.rng.standard_normal()
        top = 2 * 10.0 ** math.ceil(math.log10(max(abs(v), 0.2) / 2) - 1e-12)
        step = top / 2000
        return round((v + self.rng.uniform(-digits, digits) * step) / step) * step

    def read(
        self,
        share: float,
        gear: str,
        *,
        whats: tuple[str, ...],
        minutes: float = math.nan,
        fine: bool = False,
        joined: str = "load",
        feel: bool = True,
        at: str = "",
    ) -> None:
        """Ride at a share of the usual effort and write down what is asked for."""
        meter_in = "amps" in whats or "amps_out" in whats
        usual = 12.0 if not math.isfinite(minutes) else minutes
        how: dict[str, Any] = {"fine": fine, "joined": joined, "meter_in": meter_in}
        cold = self.settle(gear, self.effort * share, steps=5, rise=0.0, **how)
        machine = self.well.machine
        assert (
            machine is not None
            and machine.thermal_resistance is not None
            and machine.thermal_time is not None
        )
        watts = (
            cold["amps"] ** 2 * float(self._bound(self.well).extras["r_wind_cold"][0])
            + 1.1 * abs(cold["amps"])
            + 4
        )
        warm = (
            machine.thermal_resistance.value
            * watts
            * (1 - math.exp(-usual * 60 / machine.thermal_time.value))
        )
        rise = min(self.warmth * warm, 90.0)
        legs = self.fault.legs if not fine else 1.0
        effort = self.effort * share * legs * math.exp(self.rng.normal(0, 0.12))
        true = self.settle(gear, effort, rise=rise, **how)
        hot = rise + (0 if fine else self.fault.hotter)
        assert self.well.place is not None and self.well.place.temperature is not None
        seen = {
            "cadence": true["cadence"] * (1 + self.rng.normal(0, 0.02)),
            "speed": true["speed"] * (1 + self.rng.normal(0, 0.006)),
            "volts": self._digits(true["volts"], self.volts_gain, 2, 0.007),
            "volts_out": self._digits(true["volts_out"], self.volts_gain, 2, 0.007),
            "amps": self._digits(true["amps"], self.amps_gain, 3, 0.02),
            "amps_out": self._digits(true["amps_out"], self.amps_gain, 3, 0.02),
            "heat": self.well.place.temperature.value + 0.65 * hot + self.rng.normal(0, 7.0),
        }  # fmt: skip
        if not fine:
            self.fault.meters(seen)
        word = ""
        if feel:
            level = true["legs"] / legs / 0.98 * math.exp(self.rng.normal(0, 0.18))
            word = next(w for limit, w in WORDS if level < limit)
        self.moments.append(
            Moment(
                at=at, gear=gear, load=self.load if joined == "load" else "", joined=joined, fine=fine, feel=word,
                ridden=60 * minutes, **{w: seen[w] for w in whats},  # type: ignore[arg-type]
            )
        )  # fmt: skip


def ride(name: str, fault: Fault, seed: int) -> Ride:
    """A ride on one of RIGS."""
    rig = RIGS[name]()
    ask = ask_for(rig, draws=0)
    return Ride(fill(rig), fault, np.random.default_rng(seed), ask.load, ask.effort)


def gears_of(one: Ride) -> tuple[str, ...]:
    """The gears of the rig."""
    return one._bound(one.well).gears


def handful(one: Ride, *, before: bool, rich: bool = True) -> None:
    """A handful of readings as people take them: turned with nothing joined, then lightly, as usual and hard."""
    rng, gears = one.rng, gears_of(one)
    bound = one._bound(one.well)
    gear = best_gear(one)
    sides: tuple[str, ...] = ("cadence", "volts", "amps")
    if rich:
        sides = (*sides, "volts_out")
    if rich and bound.hookup.board is not None and rng.random() < 0.6:
        sides = (*sides, "amps_out")
    spells = [True, False] if before else [False]
    for fine in spells:
        if rich:
            rest = ("volts_out",) if bound.hookup.battery is not None else ()
            one.read(0.5, gear, whats=("cadence", "volts", *rest), fine=fine, joined="nothing", minutes=1)
        for n, share in enumerate((0.6, 1.0, 1.35) if bound.hookup.battery is not None else (1.0, 1.2, 1.45)):
            extra: tuple[str, ...] = ()
            if rich and not fine and n > 0 and rng.random() < 0.5:
                extra = ("speed",)
            if rich and not fine and n == 2:
                extra = (*extra, "heat")
            if fine and n == 0:
                continue
            one.read(share, gear, whats=sides + extra, minutes=4 + 8 * n, fine=fine)
        if rich and not fine:
            plain = tuple(w for w in sides if w not in ("amps", "amps_out"))
            one.read(1.0, gear, whats=plain, minutes=32)
    _ = gears


def best_gear(one: Ride) -> str:
    """The gear a rider would use: the one that holds nearest to the cadence liked."""
    found = []
    how: dict[str, Any] = {"rise": 15.0, "fine": True, "joined": "load", "meter_in": False}
    keep = one.fault
    one.fault = Fault()
    for gear in gears_of(one):
        at = one.settle(gear, one.effort, **how)
        found.append((abs(at["cadence"] / one.liked - 1) + (5 if at["amps"] <= 0.05 else 0), gear))
    one.fault = keep
    return min(found)[1]
