"""Stand-in for `sparewatt.tasks`: quick answers of the right shape, so that the routes can be tested without the physics.

The numbers are a toy (a straight rider line, a flat load): nothing here is checked against the world.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
from tests.web.fake_bench import bench as bench
from tests.web.fake_bench import bench_blank as bench_blank
from tests.web.fake_bench import bench_guide as bench_guide
from tests.web.fake_bench import bench_guides as bench_guides
from tests.web.fake_bench import bench_keep as bench_keep
from tests.web.fake_bench import bench_labels as bench_labels
from tests.web.fake_bench import bench_list as bench_list
from tests.web.fake_bench import bench_restore as bench_restore
from tests.web.fake_bench import dummy as dummy
from tests.web.fake_bench import phone as phone
from tests.web.fake_bench import phone_keep as phone_keep
from tests.web.fake_mend import mend as mend
from tests.web.fake_mend import mend_moments as mend_moments
from tests.web.fake_scene import scene as scene

from sparewatt.errors import BadRequest, NotFound, Problem
from sparewatt.parts import Battery, Load, Machine, Measured, Rider, Rig, Stage
from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import Edges
from sparewatt.rig.outcome import Band, Caveat, Crossing, Link, Mode, Point, Stop
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
    Sized,
    Unknown,
    WorthAnswer,
    WorthRow,
)
from sparewatt.tasks.answer import Answer

RPM = 2 * math.pi / 60
NAN = float("nan")
GEARS = {"42/18": 35.0, "42/21": 30.0, "42/24": 26.0}
calls: list[tuple[str, dict[str, Any]]] = []


def band(mid: float, share: float = 0.1, how: str = "computed") -> Band:
    """A band of a given width."""
    return Band(mid, mid * (1 - share), mid * (1 + share), how)


def rig() -> Rig:
    """A small rig that charges a battery."""
    m = Measured
    return Rig(
        name="House on stilts",
        story="A house on stilts by a wide river. Evenings go dark at six.",
        rider=(
            Rider(name="Lan", mass=m(52.0, 0.0), age=m(30.0, 0.0), fitness="active"),
            Rider(name="Bao", fitness="fit"),
        ),
        stage=(
            Stage(name="chain", kind="chain", driver_teeth=(42,), driven_teeth=(18, 21, 24)),
            Stage(
                name="rim belt", kind="flat_belt", driver_diameter=m(0.6, 0.0), driven_diameter=m(0.04, 0.0)
            ),
        ),
        machine=Machine(
            name="scooter motor",
            emf_constant=m(0.075, 0.002, "measured", "drill test"),
            resistance=m(0.25, 0.06, "typical"),
        ),
        battery=Battery(name="house battery", voltage=m(12.0), capacity=m(36 * 3600.0, 0.0, "nameplate")),
        load=(
            Load(name="lamp", kind="led", power=m(10.0, 1.0, "nameplate")),
            Load(name="phone", kind="usb", power=m(7.0)),
        ),
    )


def watts(text: object) -> float:
    """Watts out of a text."""
    try:
        value = float(str(text).replace("W", "").strip())
    except ValueError:
        raise BadRequest(Problem("effort", f"{text!r} is not a power.", "100 W", str(text))) from None
    if not 0 < value <= 2500 or not math.isfinite(value):
        raise BadRequest(Problem("effort", "an effort lies between 1 and 2500 W", "100 W", str(text)))
    return value


def _chain(p: float, share: float) -> tuple[Link, ...]:
    steps = [
        ("legs", "legs", 1.0, "measured"),
        ("stage 1", "chain", 0.97, "typical"),
        ("stage 2", "rim belt", 0.94, "guess"),
        ("machine", "scooter motor", share, "measured"),
        ("diode", "diode", 0.96, "typical"),
        ("wire", "wire", 0.985, "computed"),
        ("battery", "house battery", 0.86, "guess"),
    ]
    links = []
    for key, name, passed, how in steps:
        links.append(
            Link(
                key=key,
                name=name,
                p_in=p,
                p_out=p * passed,
                binds=key == "machine",
                how=how,
                volts=13.4,
                amps=5.0,
                limit="amps it may carry for hours" if key == "machine" else "",
                used=0.6 if key == "machine" else NAN,
            )
        )
        p *= passed
    return tuple(links)


def match(
    place: Any,
    *,
    rider: str | None = None,
    load: str | None = None,
    gear: str | None = None,
    effort: Any = None,
    cadence: Any = None,
    duration: Any = None,
    draws: int = 1024,
    changes: tuple[tuple[str, str], ...] = (),
    nearest: bool = True,
) -> Answer:
    """A toy match."""
    calls.append(("match", {"gear": gear, "effort": effort, "draws": draws, "changes": changes}))
    _there(place)
    if gear is not None and gear not in GEARS:
        raise BadRequest(Problem("gear", f"There is no gear {gear!r} on this rig.", ", ".join(GEARS), gear))
    p = watts(effort) if effort is not None else 100.0
    chosen = gear or "42/18"
    ratio = GEARS[chosen]
    hold = 12.8 / (0.075 * ratio) + 0.004 * p
    chain = _chain(p, 0.88)
    out = chain[-1].p_in
    point = Point(
        gear=chosen,
        mode=Mode.DIRECT,
        w_crank=hold,
        torque_crank=p / hold,
        p_rider=p,
        ratio=ratio,
        w_shaft=hold * ratio,
        torque_shaft=0.3,
        emf=14.6,
        i_out=out / 13.4,
        v_machine=13.9,
        v_bus=13.4,
        v_out=13.4,
        i_board_out=out / 13.4,
        p_board_in=NAN,
        p_board_out=NAN,
        i_battery=out / 13.4,
        p_battery=out,
        p_load=0.0,
        i_load=0.0,
        served=True,
        temperature_winding=320.0,
        temperature_magnet=310.0,
    )
    rows = tuple(
        GearRow(
            gear=g,
            ratio=n,
            stop=Stop.PINNED if p < 300 else Stop.STALLS,
            chance=0.95,
            hold=band(12.8 / (0.075 * n) + 0.004 * p, 0.04),
            tip=Band(NAN, NAN, NAN),
            delivered=band(out),
            rider=band(p),
            mode=Mode.DIRECT,
            bus_volts=band(13.4, 0.02),
            wakes=52 * RPM * 35 / n,
            passes=NAN,
            breaks=NAN,
            breaks_what="",
            fastest=120 * RPM,
            ceiling=0.075 * n * 120 * RPM,
            best=g == "42/18",
        )
        for g, n in GEARS.items()
    )
    w = np.linspace(20, 130, 56) * RPM
    t0 = 4 * p / (130 * RPM)
    line = t0 * (1 - w / (130 * RPM))
    load_line = np.where(w > 52 * RPM, (w - 52 * RPM) * 22.0, np.nan)
    picture = LegPicture(
        cadence=w,
        rider=line,
        rider_low=0.85 * line,
        rider_high=1.15 * line,
        load=load_line,
        other_loads={"42/21": load_line * 0.8},
        crossings=(Crossing(kind="holds", w_crank=hold, torque_crank=p / hold),),
        passes=NAN,
        breaks=NAN,
        breaks_what="",
        breaks_volts=NAN,
        wakes=52 * RPM,
        comfortable=60 * RPM,
    )
    cells = np.zeros((3, 12), dtype=np.int64)
    cells[:, :3] = 1
    cells[:, 8:] = 2
    cells[0, 10:] = 5
    nearest = (
        Change(
            kind="pulley",
            says="A 57 mm pulley instead of 40 mm.",
            gives="You ride at 80 instead of 58.",
            edits=(("stage.1.driven_diameter", "57 mm"),),
            ask=Ask(rider="Lan", load="charge", gear="42/18", effort=p, duration=7200.0),
            proven=True,
            cost=6.0,
            size=0.3,
        ),
    )
    study = MatchAnswer(
        ask=Ask(
            rider=rider or "Lan", load=load or "charge", gear=gear, effort=p, duration=7200.0, draws=draws
        ),
        verdict="good use of legs" if p <= 120 else "hard work" if p < 300 else "not by legs",
        stop=Stop.PINNED,
        gear=chosen,
        point=point,
        chain=chain,
        binds="machine",
        binds_says="the winding keeps 12 W as heat",
        hold=band(hold, 0.04),
        tip=Band(NAN, NAN, NAN),
        chance=0.97,
        delivered=band(out),
        rider=band(p),
        edges=Edges(legs=180.0, machine=320.0, board=float("inf"), lowest="legs"),
        spare=Band(NAN, NAN, NAN),
        time_to_limit=band(5400.0 if p <= 150 else 90.0, 0.3),
        hour_power=band(118.0, 0.2, "guess"),
        gears=rows,
        picture=picture,
        room=Room(
            cadence=np.linspace(30, 120, 12) * RPM,
            gears=tuple(GEARS),
            cells=cells,
            chosen=(0, 4),
            closing=None,
            by_load=((0.5, 20), (1.0, 15)),
        ),
        settings=(
            Setting(
                what="stop charging above",
                value=14.4,
                unit="V",
                why="the battery gases above it",
                meter="14.4 V at the posts",
            ),
        ),
        unknowns=(
            Unknown(
                key="machine.resistance",
                name="winding resistance of the scooter motor",
                share=0.61,
                how="typical",
                measure="Turn it by drill with a lamp across it and read volts and amps.",
                minutes=15.0,
            ),
        ),
        nearest_yes=nearest,
        shares=None,
        caveats=(Caveat("battery", "Its resistance is a guess; warm it and the volts change."),),
        sources=("IEC60228",),
    )
    answer = f"Ride at about {hold / RPM:.0f} turns a minute on {chosen} and about {out:.0f} W goes into the battery."
    return Answer(
        section="match",
        answer=answer,
        verdict=study.verdict,
        results={"delivered_W": {"mid": out}},
        nearest_yes=({"kind": "pulley", "says": nearest[0].says},),
        caveats=("Its resistance is a guess.",),
        sources=("IEC60228",),
        study=study,
        rig=rig(),
        origin=str(place),
    )


def worth(
    place: Any, *, rider: str | None = None, people: int = 1, changes: tuple[tuple[str, str], ...] = ()
) -> Answer:
    """A toy price list."""
    _there(place)
    row = WorthRow(
        load="lamp",
        verdict="good use of legs",
        energy_use=180e3,
        energy_legs=band(330e3, 0.2),
        chain=(("drive", 0.9), ("machine", 0.85), ("battery", 0.8)),
        minutes=band(2400.0, 0.25),
        food=band(1.4e6, 0.2),
        food_above_rest=1.2e6,
        co2_litres=0.03,
        per_day=band(2400.0, 0.25),
        runs="through the battery",
        why="A lamp asks for little.",
        nearest_yes=(),
    )
    study = WorthAnswer(
        rider=rider or "Lan",
        sustain=band(118.0, 0.2),
        rows=(row,),
        total_per_day=band(2400.0, 0.25),
        unknowns=(),
        caveats=(),
        sources=(),
    )
    return Answer(
        section="worth",
        answer="Yes. An evening of light is about 40 minutes of easy riding.",
        verdict="good use of legs",
        results={},
        nearest_yes=(),
        caveats=(),
        sources=(),
        study=study,
        rig=rig(),
        origin=str(place),
    )


def loads(
    place: Any,
    *,
    rider: str | None = None,
    load: str | None = None,
    effort: Any = None,
    duration: Any = None,
    changes: tuple[tuple[str, str], ...] = (),
) -> Answer:
    """A toy load list."""
    _there(place)
    if effort is not None:
        watts(effort)
    state = LoadState(
        state="light",
        works=True,
        chance=0.98,
        gear="42/18",
        stop=Stop.FOUND,
        p_load=band(10.0),
        p_rider=band(25.0),
        hold=band(6.1),
        amps=0.8,
        volts=12.4,
        speed_share=NAN,
        torque_share=NAN,
        time=Band(math.inf, math.inf, math.inf),
        says="It runs all evening.",
    )
    bout = Bout(
        bout=25.0,
        breather=60.0,
        p_bout=260.0,
        p_rest=20.0,
        longest=band(200.0),
        cycles=12.0,
        reserve_after=4e3,
        says="25 s on, 60 s off.",
    )
    run = RunPlan(
        load="lamp",
        amps=band(0.85),
        time=band(36e3),
        cutoff=10.8,
        legs_time=band(5400.0),
        says="Ten hours on a full battery.",
    )
    row = LoadAnswer(
        load="lamp",
        verdict="good use of legs",
        dc="not refused",
        dc_why="It is a direct-current lamp.",
        states=(state,),
        bout=bout,
        run=run,
        stop=Stop.FOUND,
        why="It asks for less than an easy ride gives.",
        nearest_yes=(),
    )
    charge = ChargePlan(
        chemistry="flooded",
        set_voltage=14.5,
        set_voltage_25=14.4,
        current_limit=9.0,
        amps=band(5.0),
        accepted=band(5.0),
        p_battery=band(68.0),
        efficiency=0.85,
        times=((0.8, band(14e3)),),
        useful_end=0.85,
        useful_time=band(15e3),
        ride_gain=band(0.25),
        float_voltage=13.5,
        says="Two hours put back a quarter.",
        curve=((0.0, 0.5, 5.0), (7200.0, 0.75, 5.0), (20e3, 0.95, 1.0)),
    )
    study = LoadsAnswer(rider=rider or "Lan", rows=(row,), charge=charge, caveats=(), sources=())
    return Answer(
        section="loads",
        answer="The lamp runs all evening.",
        verdict="good use of legs",
        results={},
        nearest_yes=(),
        caveats=(),
        sources=(),
        study=study,
        rig=rig(),
        origin=str(place),
    )


def guard(place: Any, *, load: str | None = None, changes: tuple[tuple[str, str], ...] = ()) -> Answer:
    """A toy register with one finding."""
    _there(place)
    finding = Finding(
        key="no_fuse",
        title="No fuse at the battery post",
        check="stop",
        says="A short here gives 800 A and can set the lead alight.",
        do="Fit 10 A within 200 mm of the post.",
        value=800.0,
        threshold=NAN,
        unit="A",
        source="common practice, no source",
        at=("match", "battery"),
        severity=4,
    )
    size = Sized(
        what="wire, board to battery",
        need=1.5e-6,
        have=2.5e-6,
        unit="m^2",
        check="not refused",
        pick="1.5 mm2 or 16 AWG",
        why="3 % of 12 V over 3 m",
        source="IEC60228",
    )
    study = GuardAnswer(
        check="stop", sizes=(size,), findings=(finding,), quiet=("Flywheel too fast",), sources=("IEC60228",)
    )
    return Answer(
        section="guard",
        answer="Stop: fit a fuse at the battery post first.",
        verdict="stop",
        results={},
        nearest_yes=(),
        caveats=(),
        sources=("IEC60228",),
        study=study,
        rig=rig(),
        origin=str(place),
    )


def heap(place: Any, *, load: str | None = None, changes: tuple[tuple[str, str], ...] = ()) -> Answer:
    """A toy heap of one machine."""
    _there(place)
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
        board="straight to a 12 V battery",
        call="buy",
        why="It brakes stiffly and drags little.",
        odd=(),
    )
    combo = Combination(
        machine="scooter motor",
        drive="rim belt",
        board="none",
        gear="42/18",
        hold=band(6.2),
        delivered=band(66.0),
        spare=40.0,
        chance=0.97,
        cost=10.0,
        verdict="good use of legs",
        why="The battery pins you at a pace legs like.",
    )
    study = HeapAnswer(machines=(judged,), combinations=(combo,), purchase=None, caveats=(), sources=())
    return Answer(
        section="heap",
        answer="Use the scooter motor.",
        verdict="good use of legs",
        results={},
        nearest_yes=(),
        caveats=(),
        sources=(),
        study=study,
        rig=rig(),
        origin=str(place),
    )


def sheet(place: Any, **asked: Any) -> bytes:
    """A stand-in for the summary on paper."""
    calls.append(("sheet", asked))
    return b"%PDF-1.7 stand-in"


def wiring_sheet(place: Any, **asked: Any) -> bytes:
    """A stand-in for the wiring on paper."""
    calls.append(("wiring_sheet", asked))
    return b"%PDF-1.7 stand-in"


def _there(place: Any) -> None:
    path = Path(getattr(place, "path", place))
    path = path / "rig.toml" if path.is_dir() else path
    if not path.exists():
        raise NotFound(Problem("folder", "There is no rig.toml here.", "sparewatt demo", str(path)))
