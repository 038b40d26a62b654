"""Synthetic rigs: constants drawn as a nameplate would have them, and readings made by formulas written out here.

Nothing of `known_machine` or `known_others` is used, so a slip in an equation there shows. Meters read with the error
that the bench assumes: one gain for each meter, digits as an even chance, filmed speeds half a percent off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from sparewatt.parts import Battery, Converter, Diode, Machine, Measured, Rider, Rig, Stage
from sparewatt.rig.fill import fill
from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.known_rig import Bench, bench_of

RPM = 2 * math.pi / 60
G = 9.80665


def bench(**edits: object) -> Bench:
    """A 24 V scooter motor from its plate on a roller and chain, a step-down board, a 36 Ah battery, one rider."""
    machine = Machine(
        name="scooter motor",
        plate_voltage=Measured(24.0, 0.0, "nameplate"),
        plate_current=Measured(13.4, 0.0, "nameplate"),
        plate_speed=Measured(2750 * RPM, 0.0, "nameplate"),
        plate_power=Measured(250.0, 0.0, "nameplate"),
        mass=Measured(2.0),
        magnets="ferrite",
    )
    parts: dict[str, object] = {
        "name": "synthetic",
        "rider": (Rider(name="Ansa", mass=Measured(70.0), age=Measured(34.0), fitness="active"),),
        "stage": (
            Stage(name="chain", kind="chain", driver_teeth=(42,), driven_teeth=(18, 21)),
            Stage(
                name="roller",
                kind="roller",
                driver_diameter=Measured(0.600, 0.002),
                driven_diameter=Measured(0.040, 0.0005),
            ),
        ),
        "machine": machine,
        "diode": Diode(kind="schottky"),
        "converter": (Converter(name="step-down board", kind="buck", power_rating=Measured(300.0)),),
        "battery": Battery(
            name="hut battery",
            chemistry="flooded",
            voltage=Measured(12.0),
            capacity=Measured(36 * 3600.0),
            through="step-down board",
        ),
    }
    return bench_of(fill(Rig(**{**parts, **edits})))  # type: ignore[arg-type]


@dataclass
class Truth:
    """The constants a rig really has (at 20 degC), and the temperature of the shed."""

    k: float = 0.078
    r: float = 0.26
    v_b: float = 1.1
    t0: float = 0.045
    b: float = 6e-5
    j: float = 9e-4
    losses: tuple[float, float, float] = (0.45, 0.03, 4e-4)
    r_b: float = 0.022
    health: float = 0.8
    peukert: float = 1.2
    ratio: float = 14.9
    creep: float = 0.02
    cp: float = 190.0
    reserve: float = 17e3
    room: float = 291.0
    drive_drag: float = 0.02
    drive_inertia: float = 3e-3

    @property
    def k_now(self) -> float:
        """Volts per speed at the temperature of the shed (ferrite, 0.2 % a kelvin)."""
        return self.k * (1 - 0.002 * (self.room - 293.15))

    @property
    def r_now(self) -> float:
        """Resistance at the temperature of the shed (copper)."""
        return self.r * (1 + 0.00393 * (self.room - 293.15))


def drawn(at: Bench, rng: np.random.Generator) -> Truth:
    """Constants drawn from what is known before any reading."""

    def one(name: str) -> float:
        u = at.unknowns[name]
        assert u.prior_mean is not None
        if u.prior_sd is None:
            return u.prior_mean
        if u.log:
            return float(
                u.prior_mean
                * np.exp(math.sqrt(math.log1p((u.prior_sd / u.prior_mean) ** 2)) * rng.standard_normal())
            )
        return float(max(u.prior_mean + u.prior_sd * rng.standard_normal(), 0.0))

    return Truth(
        k=one("emf_constant"), r=one("resistance"), v_b=one("brush_drop"), t0=one("friction"),
        b=one("friction_slope"), j=one("inertia"), losses=(one("loss_0.0"), one("loss_1.0"), one("loss_2.0")),
        r_b=one("battery_resistance"), health=one("health"), peukert=one("peukert"), ratio=one("ratio"),
        creep=one("creep"), cp=one("critical_power.0"), reserve=one("work_reserve.0"), room=one("room"),
    )  # fmt: skip


@dataclass
class Shed:
    """Meters with their own errors, and the readings written so far."""

    truth: Truth
    rng: np.random.Generator
    entries: list[Entry] = field(default_factory=list)
    noise: float = 1.0
    gains: dict[str, float] = field(default_factory=dict)

    def _gain(self, name: str, sd: float) -> float:
        if name not in self.gains:
            self.gains[name] = float(np.exp(self.noise * sd * self.rng.standard_normal()))
        return self.gains[name]

    def _digits(self, v: float, share_name: str, share: float, digits: float) -> float:
        """A reading of a three-and-a-half digit meter."""
        top = 2 * 10.0 ** math.ceil(math.log10(max(abs(v), 0.2) / 2) - 1e-12)
        step = top / 2000
        v = v * self._gain(share_name, share) + self.noise * self.rng.uniform(-digits, digits) * step
        return round(v / step) * step if self.noise else v

    def volts(self, v: float) -> float:
        """0.8 % and 2 digits."""
        return self._digits(v, "volts", 0.008, 2)

    def amps(self, i: float) -> float:
        """2 % and 3 digits."""
        return self._digits(i, "amps", 0.02, 3)

    def filmed(self, w: float) -> float:
        """Half a percent."""
        return w * (1 + 0.005 * self.noise * self.rng.standard_normal())

    def near(self, x: float, sd: float) -> float:
        """Anything else."""
        return x + sd * self.noise * self.rng.standard_normal()

    def write(
        self, kind: str, at: str, part: str = "", temperature: float = math.nan, **values: float
    ) -> None:
        """Write values read together."""
        for what, value in values.items():
            self.entries.append(
                Entry(
                    what=what, value=float(value), procedure=kind, at=at, part=part, temperature=temperature,
                    line=len(self.entries) + 2,
                )
            )  # fmt: skip

    # ---- readings ----

    def open_volts(self, speeds: tuple[float, ...]) -> None:
        """Open volts at speeds in rad/s."""
        for n, w in enumerate(speeds):
            self.write("open_volts", f"o{n}", volts=self.volts(self.truth.k_now * w), speed=self.filmed(w))

    def loaded(self, points: tuple[tuple[float, float], ...]) -> None:
        """Volts under load at (speed, amps)."""
        t = self.truth
        for n, (w, i) in enumerate(points):
            v = t.k_now * w - t.r_now * i - t.v_b
            self.write("loaded_volts", f"l{n}", volts=self.volts(v), amps=self.amps(i), speed=self.filmed(w))

    def run_free(self, volts: tuple[float, ...]) -> None:
        """No-load amps as a motor."""
        t = self.truth
        for n, v in enumerate(volts):
            # K i = T0 + b w and v = K w + R i + Vb
            w = (v - t.v_b - t.r_now * t.t0 / t.k_now) / (t.k_now + t.r_now * t.b / t.k_now)
            i = (t.t0 + t.b * w) / t.k_now
            self.write("run_free", f"f{n}", volts=self.volts(v), amps=self.amps(i))

    def run_down(
        self,
        kind: str = "run_down",
        w_0: float = 250.0,
        disc: tuple[float, float] | None = None,
        samples: int = 7,
    ) -> None:
        """Volts against time after letting go."""
        t = self.truth
        j, drag = t.j, t.t0
        sizes: dict[str, float] = {}
        if disc is not None:
            j += disc[0] * disc[1] ** 2 / 8
            sizes = {"disc_mass": self.near(disc[0], 0.002), "disc_diameter": self.near(disc[1], 0.001)}
        if kind == "run_down_rig":
            j, drag = j + t.drive_inertia, drag + t.drive_drag
        stop = j / t.b * math.log(1 + t.b * w_0 / drag)
        at = f"{kind} {len(self.entries)}"
        for x in np.linspace(0, 0.85 * stop, samples):
            w = (w_0 + drag / t.b) * math.exp(-t.b * x / j) - drag / t.b
            self.write(
                kind, at, time=self.near(x, 0.02), volts=self.volts(t.k_now * w), **(sizes if x == 0 else {})
            )

    def falling(self, masses: tuple[float, ...], radius: float = 0.02, height: float = 1.0) -> None:
        """Time of a fall."""
        t = self.truth
        taped = self.near(radius, 0.001)
        for n, m in enumerate(masses):
            drag = t.t0
            for _ in range(20):
                a = radius * (m * G * radius - drag) / (t.j + m * radius**2)
                time = math.sqrt(2 * height / a)
                drag = t.t0 + t.b * height / (radius * time)
            self.write(
                "falling_weight", f"w{n}", mass=self.near(m, 0.002) * self._gain("scale", 0.003),
                height=self.near(height, 0.001), string_radius=taped, fall_time=self.near(time, 0.02),
            )  # fmt: skip

    def board(self, watts: tuple[float, ...], v_in: float = 24.0, v_out: float = 13.8) -> None:
        """Volts and amps on both sides of the board."""
        p0, p1, p2 = self.truth.losses
        for n, p in enumerate(watts):
            i_in = (p + p0 + p1 * p + p2 * p * p) / v_in
            self.write(
                "board_power", f"b{n}", volts_in=self.volts(v_in), amps_in=self.amps(i_in),
                volts_out=self.volts(v_out), amps_out=self.amps(p / v_out),
            )  # fmt: skip

    def dips(self, times: int, amps: float = 4.6) -> None:
        """Battery volts before and under a bulb."""
        for n in range(times):
            v = 12.6 - 0.01 * n
            self.write(
                "battery_dip", f"d{n}", rest_volts=self.volts(v), loaded_volts=self.volts(v - self.truth.r_b * amps),
                amps=self.amps(amps),
            )  # fmt: skip

    def discharge(self, amps: float = 3.0) -> None:
        """A timed discharge to the low mark."""
        t = self.truth
        full = t.health * 36 * 3600.0
        hours = 20 * 3600 * (full / (amps * 20 * 3600)) ** t.peukert
        for x, v in ((0.0, 12.4), (0.5, 11.9), (1.0, 10.8)):
            self.write("battery_run", "r", time=x * hours, volts=v, amps=self.amps(amps))

    def turns(self, crank: float = 20.0, gear: str = "42/18", at: str = "t") -> None:
        """Machine turns for crank turns."""
        teeth = 42 / 18 if gear == "42/18" else 42 / 21
        self.write(
            "hand_turns",
            at,
            part=gear,
            crank_turns=crank,
            machine_turns=self.near(self.near(crank, 0.1) * teeth * self.truth.ratio, 0.1),
        )

    def riding(self, points: tuple[tuple[float, float], ...], gear: str = "42/18") -> None:
        """A ride at (cadence, amps) with the shaft filmed."""
        t, teeth = self.truth, 42 / 18 if gear == "42/18" else 42 / 21
        for n, (w_c, i) in enumerate(points):
            w = w_c * teeth * t.ratio * (1 - t.creep)
            v = t.k_now * w - t.r_now * i - t.v_b
            self.write(
                "riding", f"g{n}", part=gear, cadence=w_c * (1 + 0.005 * self.noise * self.rng.standard_normal()),
                volts=self.volts(v), amps=self.amps(i), speed=self.filmed(w),
            )  # fmt: skip
