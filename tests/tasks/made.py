"""Invented answers of the right shape for the tests of words and keys. Nothing here is checked against the world."""

from __future__ import annotations

import dataclasses
import math

import numpy as np

from sparewatt.parts import Battery, Converter, Load, Machine, Measured, Rider, Rig, Stage
from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import Edges
from sparewatt.rig.fill import fill
from sparewatt.rig.outcome import Band, Link, Mode, Point, Stop
from sparewatt.studies.answers import (
    Bout,
    Change,
    ChargePlan,
    Combination,
    Finding,
    GearRow,
    GuardAnswer,
    HeapAnswer,
    JudgedMachine,
    LegPicture,
    LoadAnswer,
    LoadsAnswer,
    LoadState,
    MatchAnswer,
    Room,
    RunPlan,
    Setting,
    Shares,
    Sized,
    StationRow,
    Unknown,
    WorthAnswer,
    WorthRow,
)

RPM = 2 * math.pi / 60
NAN = float("nan")
NONE = Band(NAN, NAN, NAN)


def band(mid: float, share: float = 0.1) -> Band:
    """A band of so much either way."""
    return Band(mid, mid * (1 - share), mid * (1 + share))


def rig() -> Rig:
    """A shed with a scooter motor, a step-up board that takes 12 A, and a small battery."""
    m = Measured
    built = Rig(
        name="Apple shed",
        rider=(Rider(name="Bela", critical_power=m(170.0, 15.0)),),
        stage=(Stage(name="chain", kind="chain", driver_teeth=(42,), driven_teeth=(18, 21)),),
        machine=Machine(
            name="scooter motor", emf_constant=m(0.075, 0.002), resistance=m(0.25, 0.05, "typical")
        ),
        converter=(Converter(name="step-up board", kind="boost", at="rig", input_current=m(12.0)),),
        battery=Battery(
            name="shed battery", voltage=m(12.0), capacity=m(36 * 3600.0), through="step-up board"
        ),
        load=(
            Load(
                name="press",
                kind="electronics",
                power=m(120.0),
                voltage=m(28.0),
                through="step-up board",
                without_battery=True,
            ),
            Load(name="lamp", kind="led", power=m(8.0), voltage=m(12.0)),
        ),
    )
    return fill(built).rig


def point(*, served: bool = True, amps: float = 5.0, mode: Mode = Mode.REGULATES) -> Point:
    """A running point."""
    return Point(
        gear="42/18",
        mode=mode,
        w_crank=80 * RPM,
        torque_crank=14.0,
        p_rider=120.0,
        ratio=35.0,
        w_shaft=290.0,
        torque_shaft=0.4,
        emf=22.0,
        i_out=amps,
        v_machine=20.0,
        v_bus=19.8,
        v_out=13.6,
        i_board_out=5.2,
        p_board_in=99.0,
        p_board_out=86.0,
        i_battery=5.2,
        p_battery=70.0,
        p_load=8.0,
        i_load=0.6,
        served=served,
        temperature_winding=330.0,
        temperature_magnet=320.0,
    )


def links() -> tuple[Link, ...]:
    """A chain of five links."""
    return (
        Link(key="legs", name="legs", p_in=120, p_out=120, speed=80 * RPM, torque=14.3),
        Link(key="stage 1", name="chain", p_in=120, p_out=116.4, how="typical"),
        Link(
            key="machine",
            name="scooter motor",
            p_in=116.4,
            p_out=99.0,
            limit="amps it may carry for hours",
            used=0.9,
        ),
        Link(key="board", name="step-up board", p_in=99.0, p_out=86.0, binds=True),
        Link(key="battery", name="shed battery", p_in=86.0, p_out=70.0),
    )


def gear_row(**changes: object) -> GearRow:
    """One gear that holds."""
    row = GearRow(
        gear="42/18",
        ratio=35.0,
        stop=Stop.FOUND,
        chance=0.95,
        hold=Band(82 * RPM, 76 * RPM, 88 * RPM),
        tip=band(52 * RPM),
        delivered=Band(91, 78, 104),
        rider=band(150),
        mode=Mode.REGULATES,
        bus_volts=band(20),
        wakes=44 * RPM,
        passes=NAN,
        breaks=118 * RPM,
        breaks_what="bus capacitor",
        fastest=4 * math.pi,
        ceiling=42.0,
        best=True,
    )
    return dataclasses.replace(row, **changes)  # type: ignore[arg-type]


def room(codes: tuple[int, ...] = (1, 2, 0, 0), closing: tuple[str, str] | None = None) -> Room:
    """A room of two gears and four cadences."""
    return Room(
        cadence=np.array([50, 60, 70, 80]) * RPM,
        gears=("42/18", "42/21"),
        cells=np.array([codes, codes]),
        chosen=(0, 2),
        closing=closing,
        by_load=((0.5, 6), (1.0, 4)),
    )


def change(**changes: object) -> Change:
    """A change that sheds load."""
    made = Change(
        kind="shed",
        says="shed the press to 90 W",
        gives="it holds at 86 turns a minute",
        edits=(("load.0.power", "90 W"),),
        ask=Ask(rider="Bela", load="press", gear=None, effort=150, duration=3600),
        proven=True,
        cost=NAN,
        size=0.25,
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def picture() -> LegPicture:
    """A leg picture of five points."""
    w = np.linspace(20, 130, 5) * RPM
    return LegPicture(
        cadence=w,
        rider=40 - w,
        rider_low=36 - w,
        rider_high=44 - w,
        load=np.array([NAN, 30, 20, 15, 12]),
        other_loads={"42/21": w},
        crossings=(),
        passes=NAN,
        breaks=118 * RPM,
        breaks_what="bus capacitor",
        breaks_volts=50.0,
        wakes=44 * RPM,
        comfortable=65 * RPM,
    )


def match(**changes: object) -> MatchAnswer:
    """A yes by default; name what differs."""
    made = MatchAnswer(
        ask=Ask(rider="Bela", load="charge", gear=None, effort=150.0, duration=3600.0),
        verdict="good use of legs",
        stop=Stop.FOUND,
        gear="42/18",
        point=point(),
        chain=links(),
        binds="board",
        binds_says="the amps the board can take in",
        hold=Band(82 * RPM, 76 * RPM, 88 * RPM),
        tip=band(52 * RPM),
        chance=0.97,
        delivered=Band(91, 78, 104),
        rider=band(150),
        edges=Edges(legs=110.0, machine=200.0, board=math.inf, lowest="legs"),
        spare=Band(19, 8, 30),
        time_to_limit=Band(5000, 3700, 8000),
        hour_power=band(160),
        gears=(gear_row(), gear_row(gear="42/21", stop=Stop.NEVER_WAKES, hold=NONE)),
        picture=picture(),
        room=room(),
        settings=(Setting(what="volts screw", value=14.4, unit="V", why="it gases above", meter="14.4 V"),),
        unknowns=(
            Unknown(
                key="machine.resistance",
                name="winding resistance",
                share=0.6,
                how="typical",
                measure="hold the shaft",
                minutes=15,
            ),
        ),
        nearest_yes=(),
        shares=None,
        caveats=(),
        sources=("critical_power",),
        hot=(330.0, 340.0, 403.0),
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def refused(stop: Stop, **changes: object) -> MatchAnswer:
    """A no with this outcome, for the press."""
    made = match(
        ask=Ask(rider="Bela", load="press", gear=None, effort=150.0, duration=3600.0),
        verdict="not by legs",
        stop=stop,
        hold=NONE,
        tip=NONE,
        delivered=NONE,
        rider=NONE,
        spare=NONE,
        time_to_limit=NONE,
        point=None,
        chain=(),
        chance=0.02,
        edges=Edges(legs=130.0, machine=140.0, board=105.0, lowest="board"),
        nearest_yes=(change(),),
        binds_says="no brushes inside: direct current burns it",
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def shares(amps: tuple[float, ...] = (0.0, 0.3, 6.2)) -> Shares:
    """Three rigs on a bus."""
    rows = tuple(
        StationRow(
            name=f"frame {k + 1}",
            rider="Bela",
            amps=band(a),
            p_rider=40 * a,
            holds=a < 5,
            says="carries a share",
        )
        for k, a in enumerate(amps)
    )
    return Shares(
        rows=rows,
        bus_volts=28.2,
        wanted=sum(amps),
        watts=28.2 * sum(amps),
        fair_resistance=0.3,
        fair_rows=rows,
        limit_each=2.2,
        wire_length=6.0,
        wire_area=0.35e-6,
    )


def worth_row(load: str = "lamp", verdict: str = "good use of legs", minutes: float = 2400.0) -> WorthRow:
    """The price of one load."""
    return WorthRow(
        load=load,
        verdict=verdict,
        energy_use=144e3,
        energy_legs=band(260e3, 0.2),
        chain=(("rig", 0.6), ("battery", 0.85)),
        minutes=band(minutes, 0.25),
        food=band(1.2e6, 0.2),
        food_above_rest=1.0e6,
        co2_litres=0.025,
        per_day=band(minutes, 0.25),
        runs="through the battery",
        why="it asks for little",
        nearest_yes=() if verdict != "not by legs" else (change(),),
    )


def worth(*rows: WorthRow) -> WorthAnswer:
    """The price of some."""
    return WorthAnswer(
        rider="Bela",
        sustain=band(120),
        rows=rows,
        total_per_day=band(sum(r.minutes.mid for r in rows), 0.25),
        unknowns=(),
        caveats=(),
        sources=(),
    )


def state(name: str, *, works: bool = True, **changes: object) -> LoadState:
    """One way of running."""
    made = LoadState(
        state=name,
        works=works,
        chance=0.95 if works else 0.1,
        gear="42/18",
        stop=Stop.FOUND if works else Stop.STALLS,
        p_load=band(110) if works else NONE,
        p_rider=band(210) if works else NONE,
        hold=band(70 * RPM) if works else NONE,
        amps=1.5,
        volts=110.0,
        speed_share=0.84,
        torque_share=0.33,
        time=band(240, 0.3) if works else NONE,
        says="",
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def load_row(**changes: object) -> LoadAnswer:
    """A drill that does light work."""
    made = LoadAnswer(
        load="drill",
        verdict="hard work",
        dc="look again",
        dc_why="its trigger may latch on direct current",
        states=(state("start"), state("idle"), state("light"), state("rated", works=False)),
        bout=Bout(
            bout=25,
            breather=60,
            p_bout=270,
            p_rest=20,
            longest=band(200),
            cycles=math.inf,
            reserve_after=9e3,
            says="",
        ),
        run=None,
        stop=Stop.STALLS,
        why="its rated load asks for more than these legs have",
        nearest_yes=(change(),),
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def charge_plan(**changes: object) -> ChargePlan:
    """A charge."""
    made = ChargePlan(
        chemistry="flooded",
        set_voltage=14.5,
        set_voltage_25=14.4,
        current_limit=9.0,
        amps=band(5.0),
        accepted=band(5.0),
        p_battery=band(68),
        efficiency=0.85,
        times=((0.8, band(14e3)), (1.0, band(30e3))),
        useful_end=0.85,
        useful_time=band(15e3),
        ride_gain=Band(0.14, 0.12, 0.16),
        float_voltage=13.5,
        says="",
        curve=((0.0, 0.5, 5.0),),
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def loads(*rows: LoadAnswer, charge: ChargePlan | None = None) -> LoadsAnswer:
    """Some appliances."""
    return LoadsAnswer(rider="Bela", rows=rows, charge=charge, caveats=(), sources=())


def run_plan() -> RunPlan:
    """A lamp on the battery."""
    return RunPlan(load="lamp", amps=band(0.7), time=band(36e3), cutoff=11.5, legs_time=band(5400), says="")


def finding(check: str = "stop", **changes: object) -> Finding:
    """One hazard."""
    made = Finding(
        key="no_fuse",
        title="No fuse at the battery",
        check=check,
        says="A short gives about 800 A.",
        do="Fit 10 A at the post.",
        value=800.0,
        threshold=NAN,
        unit="A",
        source="common practice, no source",
        at=("guard", "battery"),
        severity=4,
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]


def guard(*findings: Finding, check: str = "stop") -> GuardAnswer:
    """Some hazards and one size."""
    size = Sized(
        what="wire, board to battery",
        need=1.5e-6,
        have=2.5e-6,
        unit="m^2",
        check="not refused",
        pick="1.5 mm2 or 16 AWG",
        why="3 % of 12 V over 3 m",
        source="iec_60228",
    )
    return GuardAnswer(
        check=check, sizes=(size,), findings=findings, quiet=("Flywheel too fast",), sources=("iec_60228",)
    )


def heap(**changes: object) -> HeapAnswer:
    """Two machines, one way to join them."""
    judged = JudgedMachine(
        name="scooter motor",
        kind="pm_dc",
        refused="",
        k_emf=band(0.075),
        r_wind=band(0.25, 0.3),
        brush_drop=band(1.1, 0.3),
        friction=band(0.05, 0.4),
        stiffness=0.022,
        best=((75.0, 250.0, 18.0, 15.0),),
        board="a step-up board to 14.4 V",
        call="buy",
        why="it brakes stiffly and drags little",
        odd=("its amps and watts do not agree",),
    )
    poor = dataclasses.replace(judged, name="fridge motor", refused="it has no magnets", call="leave", odd=())
    joined = Combination(
        machine="scooter motor",
        drive="rim belt",
        board="none",
        gear="42/18",
        hold=band(60 * RPM, 0.03),
        delivered=band(66),
        spare=NAN,
        chance=0.97,
        cost=10.0,
        verdict="good use of legs",
        why="the battery pins you at a pace legs like",
    )
    made = HeapAnswer(
        machines=(judged, poor), combinations=(joined,), purchase=change(cost=6.0), caveats=(), sources=()
    )
    return dataclasses.replace(made, **changes)  # type: ignore[arg-type]
