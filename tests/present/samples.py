"""Fabricated answers to draw: a net loft on a north shore with a walking-machine motor. Invented numbers, true shapes.

The lines come from two lines of algebra (a straight rider line, a load of constant power), so that crossings, edge and
spare agree with each other as they would in a real answer.
"""

from __future__ import annotations

import math

import numpy as np

from sparewatt.parts import (
    Battery,
    Bus,
    Clamp,
    Converter,
    Diode,
    Fuse,
    Load,
    Machine,
    Measured,
    Rider,
    Rig,
    Stage,
    Switch,
    Wire,
)
from sparewatt.rig.asking import Ask
from sparewatt.rig.edges import Edges
from sparewatt.rig.outcome import Band, Caveat, Crossing, Link, Mode, Point, Stop
from sparewatt.studies.answers import (
    Bout,
    Change,
    ChargePlan,
    Finding,
    GearRow,
    GuardAnswer,
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

TURN = 2 * math.pi / 60
NAN = float("nan")
NONE = Band(NAN, NAN, NAN)


def band(mid: float, share: float = 0.08, how: str = "computed") -> Band:
    """A band of so many percent either side."""
    return Band(mid, mid * (1 - share), mid * (1 + share), how)


def chain() -> tuple[Link, ...]:
    """Legs to battery, eight links; the board binds."""
    at = 1.0
    return (
        Link(
            key="legs",
            name="Ansa",
            p_in=150,
            p_out=150,
            speed=84 * TURN,
            torque=17.1,
            limit="can hold this for an hour",
            used=0.82,
        ),
        Link(
            key="stage 1",
            name="chain to the hub",
            p_in=150,
            p_out=147,
            speed=187 * TURN,
            torque=7.5,
            limit="chain pull, 1.2 kN",
            used=0.2,
            how="typical",
        ),
        Link(
            key="stage 2",
            name="tyre on roller",
            p_in=147,
            p_out=126,
            speed=2310 * TURN,
            torque=0.52,
            limit="grip of the tyre",
            used=0.71,
            how="guess",
        ),
        Link(
            key="machine",
            name="walking-machine motor",
            p_in=126,
            p_out=106,
            volts=24.3,
            amps=4.36,
            temperature=331,
            limit="winding 130 °C",
            used=0.55,
            how="measured",
        ),
        Link(
            key="diode",
            name="diode",
            p_in=106,
            p_out=103.9,
            volts=23.8,
            amps=4.36,
            temperature=322,
            limit="15 A on its label",
            used=0.29,
            how="nameplate",
        ),
        Link(
            key="wire",
            name="wire to the board",
            p_in=103.9,
            p_out=103.3,
            volts=23.7,
            amps=4.36,
            limit="fuse 10 A",
            used=0.44,
            how="computed",
        ),
        Link(
            key="board",
            name="step-down board",
            p_in=103.3,
            p_out=92.6,
            volts=14.2,
            amps=6.52,
            temperature=335,
            limit="set to 6.5 A, the most it gives",
            used=at,
            binds=True,
            how="measured",
        ),
        Link(
            key="battery",
            name="loft battery",
            p_in=92.6,
            p_out=88.9,
            volts=14.1,
            amps=6.5,
            limit="9 A on its case",
            used=0.72,
            how="nameplate",
        ),
    )


def long_chain() -> tuple[Link, ...]:
    """Ten links with a zero toll, a tiny one, one that gives, and one that is not known."""
    return (
        *chain()[:2],
        Link(key="stage 2", name="toothed belt", p_in=147, p_out=146.8, speed=1650 * TURN, torque=0.85),
        Link(key="flywheel", name="plate on the middle shaft", p_in=146.8, p_out=146.8, speed=1650 * TURN),
        Link(
            key="machine",
            name="scooter motor",
            p_in=146.8,
            p_out=121,
            volts=27.4,
            amps=4.4,
            temperature=360,
            limit="winding 130 °C",
            used=0.8,
            binds=True,
        ),
        Link(key="diode", name="diode", p_in=121, p_out=119, volts=26.9, amps=4.4),
        Link(key="board", name="step-down board", p_in=119, p_out=NAN, volts=NAN, amps=NAN, how="guess"),
        Link(
            key="battery",
            name="battery gives the rest",
            p_in=104,
            p_out=164,
            volts=12.4,
            amps=-4.8,
            how="typical",
        ),
        Link(key="load board", name="inverter", p_in=164, p_out=140, volts=230, amps=0.61, how="nameplate"),
        Link(
            key="load", name="glue kettle with a name that goes on", p_in=140, p_out=140, volts=230, amps=0.61
        ),
    )


def short_chain() -> tuple[Link, ...]:
    """Five links, battery driving the machine backwards: watts are negative."""
    return (
        Link(key="legs", name="Beno", p_in=12, p_out=12, speed=40 * TURN, torque=2.9),
        Link(key="stage 1", name="belt", p_in=12, p_out=9, speed=800 * TURN, torque=0.1),
        Link(key="machine", name="fan motor", p_in=9, p_out=-18, volts=11.8, amps=-1.5),
        Link(
            key="wire",
            name="wire",
            p_in=-18,
            p_out=-19,
            volts=11.9,
            amps=-1.6,
            binds=True,
            limit="there is no diode",
            used=1.2,
        ),
        Link(key="battery", name="car battery", p_in=-19, p_out=-20, volts=12.1, amps=-1.6),
    )


GEARS = ("42/12", "42/14", "42/16", "42/18", "42/21", "42/24", "42/28")


def _gear_rows(chosen: int, hold: float, tip: float) -> tuple[GearRow, ...]:
    rows = []
    for k, gear in enumerate(GEARS):
        ratio = 42 / float(gear.split("/")[1])
        holds = 1 <= k <= 5
        ceiling = 20.5 * ratio
        wakes = 11.5 / ceiling * 120 * TURN
        breaks = 105 * 2.625 / ratio * TURN
        rows.append(
            GearRow(
                gear=gear,
                ratio=ratio * 11,
                stop=Stop.FOUND if holds else Stop.BREAKS if k == 0 else Stop.EDGE_MACHINE,
                chance=0.97 if holds else 0.1,
                hold=band(hold * (1 + 0.01 * (k - chosen)), 0.06) if holds else NONE,
                tip=band(tip, 0.1) if holds else NONE,
                delivered=band(88.9 - 2 * abs(k - chosen), 0.06) if holds else NONE,
                rider=band(150, 0.07),
                mode=Mode.REGULATES,
                bus_volts=band(24, 0.05),
                wakes=wakes,
                passes=NAN,
                breaks=breaks if breaks < 150 * TURN else NAN,
                breaks_what="step-down board",
                fastest=120 * TURN,
                ceiling=ceiling,
                best=k == chosen,
            )
        )
    return tuple(rows)


def picture(
    *,
    best: float = 165.0,
    top: float = 132.0,
    load: float = 146.0,
    wakes: float = 28.0,
    passes: float = NAN,
    breaks: float = 105.0,
    comfortable: float = 66.0,
    spread: float = 0.12,
) -> tuple[LegPicture, float, float]:
    """Leg picture of a rider whose best is `best` W and a load of `load` W at the crank; holding and tipping cadence."""
    w = np.linspace(5, 140, 136) * TURN
    w_top = top * TURN
    push = 4 * best / w_top
    rider = np.clip(push * (1 - w / w_top), 0, None)
    pull = np.where(w > wakes * TURN, load / w, np.nan)
    pull[pull > 3 * push] = np.nan
    crossings: tuple[Crossing, ...] = ()
    hold = tip = NAN
    if load < best:
        root = math.sqrt(1 - load / best)
        hold, tip = w_top / 2 * (1 + root), w_top / 2 * (1 - root)
        crossings = (Crossing(kind="holds", w_crank=hold, torque_crank=load / hold),)
        if tip > wakes * TURN:
            crossings += (Crossing(kind="tips", w_crank=tip, torque_crank=load / tip),)
        else:
            tip = NAN
    return (
        LegPicture(
            cadence=w,
            rider=rider,
            rider_low=rider * (1 - spread),
            rider_high=rider * (1 + spread),
            load=pull,
            other_loads={g: pull * 1.02 for g in GEARS if g != "42/16"},
            crossings=crossings,
            passes=passes * TURN,
            breaks=breaks * TURN,
            breaks_what="step-down board",
            breaks_volts=60.0,
            wakes=wakes * TURN,
            comfortable=comfortable * TURN,
        ),
        hold,
        tip,
    )


def room(*, empty: bool = False) -> Room:
    """A field of ride-able cells with asleep on the left, hatch bottom right, tips over on the low flank."""
    turns = np.arange(32.5, 120, 5.0)
    cells = np.full((len(GEARS), turns.size), 2, dtype=np.int64)
    for k, gear in enumerate(GEARS):
        ratio = 42 / float(gear.split("/")[1])
        ceiling = 20.5 * ratio / 120 * turns
        cells[k, (turns > 52 - k) & (turns < 92)] = 0
        cells[k, (turns <= 52 - k)] = 3
        cells[k, ceiling < 7.6] = 1
        cells[k, ceiling > 50] = 5
        if k >= 5:
            cells[k, (turns > 70) & (turns < 92)] = 4
    if empty:
        cells[cells == 0] = 2
    return Room(
        cadence=turns * TURN,
        gears=GEARS,
        cells=cells,
        chosen=None if empty else (2, 10),
        closing=("tips over", "not enough legs") if empty else None,
        by_load=((0.5, 61), (0.75, 52), (1.0, int((cells == 0).sum())), (1.25, 0)),
    )


def _change(says: str, gives: str) -> Change:
    return Change(kind="pulley", says=says, gives=gives, edits=(), ask=None, proven=True, cost=6, size=0.3)


def match(*, stalls: bool = False) -> MatchAnswer:
    """The whole answer of match."""
    pic, hold, tip = picture(load=186.0) if stalls else picture()
    point = Point(
        gear="42/16",
        mode=Mode.REGULATES,
        w_crank=86 * TURN,
        torque_crank=17.1,
        p_rider=150,
        ratio=28,
        w_shaft=2310 * TURN,
        torque_shaft=0.52,
        emf=26,
        i_out=4.36,
        v_machine=24.3,
        v_bus=23.7,
        v_out=14.2,
        i_board_out=6.5,
        p_board_in=103,
        p_board_out=92.6,
        i_battery=6.5,
        p_battery=92,
        p_load=0,
        i_load=0,
        served=True,
        temperature_winding=331,
        temperature_magnet=325,
    )
    return MatchAnswer(
        ask=Ask(rider="Ansa", load="charge", gear=None, effort=150.0, duration=3600.0),
        verdict="not by legs" if stalls else "good use of legs",
        stop=Stop.STALLS if stalls else Stop.FOUND,
        gear="42/16",
        point=None if stalls else point,
        chain=chain(),
        binds="board",
        binds_says="the step-down board gives no more than the 6.5 A it is set to",
        hold=NONE if stalls else band(hold, 0.06),
        tip=NONE if stalls else band(tip, 0.1),
        chance=0.96,
        delivered=NONE if stalls else band(88.9, 0.06),
        rider=band(150, 0.07),
        edges=Edges(legs=101.0, machine=140.0, board=92.6, lowest="board"),
        spare=Band(-21, -35, -8) if stalls else Band(19, 8, 30),
        time_to_limit=Band(4700, 3600, 6100),
        hour_power=band(160, 0.1),
        gears=_gear_rows(2, hold if hold == hold else 80 * TURN, tip if tip == tip else 40 * TURN),
        picture=pic,
        room=room(empty=stalls),
        settings=settings(),
        unknowns=(
            Unknown(
                key="stage.2.rolling",
                name="rolling drag of the tyre",
                share=0.61,
                how="guess",
                measure="Spin it up, let go and time how long it runs.",
                minutes=10,
            ),
            Unknown(
                key="rider.critical_power",
                name="what Ansa can hold",
                share=0.22,
                how="typical",
                measure="Hold 160 W for 20 minutes.",
                minutes=40,
            ),
        ),
        nearest_yes=(
            _change("Take the tyre off and belt the rim to the machine", "14 W more into the battery"),
            _change("Set the board to 7.5 A", "11 W more, if the case allows 9 A"),
        ),
        shares=None,
        caveats=(
            Caveat(
                "machine",
                "Friction was read at one speed only; at twice that speed it may be a fifth higher.",
            ),
        ),
        sources=("morton_1996", "iec_60269"),
        hot=(331.0, 348.0, 403.0),
    )


def settings() -> tuple[Setting, ...]:
    """A settings card of three lines."""
    return (
        Setting(
            what="current screw",
            value=6.5,
            unit="A",
            why="with the battery off; short the output through the meter",
            meter="6.5 A on the 10 A socket",
        ),
        Setting(
            what="volts screw",
            value=14.2,
            unit="V",
            why="battery still off, pedal slowly in 42/24",
            meter="14.2 V at the board's output",
        ),
        Setting(
            what="join the battery",
            value=NAN,
            unit="",
            why="red first, through the fuse",
            meter="12.3 to 12.6 V before you pedal",
        ),
    )


def worth_row() -> WorthRow:
    """One use of a hand lamp."""
    shares = (
        ("legs to chain", 0.98),
        ("tyre on roller", 0.857),
        ("machine", 0.84),
        ("diode and wire", 0.97),
        ("board", 0.896),
        ("battery, in and out", 0.82),
    )
    total = math.prod(s for _, s in shares)
    use = 11.0 * 3600
    return WorthRow(
        load="hand lamp",
        verdict="good use of legs",
        energy_use=use,
        energy_legs=band(use / total, 0.12),
        chain=shares,
        minutes=band(620, 0.15),
        food=band(use / total / 0.22, 0.2, "typical"),
        food_above_rest=use / total / 0.25,
        co2_litres=0.0073,
        per_day=band(1240, 0.15),
        runs="through the battery",
        why="little energy, long light",
        nearest_yes=(),
    )


def worth() -> WorthAnswer:
    """The lamp alone."""
    return WorthAnswer(
        rider="Ansa",
        sustain=band(120, 0.15),
        rows=(worth_row(),),
        total_per_day=band(1240, 0.15),
        unknowns=(),
        caveats=(),
        sources=(),
    )


def charge_plan() -> ChargePlan:
    """Six hours of charging."""
    t = np.linspace(0, 6 * 3600, 80)
    soc = np.where(t < 9000, 0.5 + 0.35 * t / 9000, 1 - 0.15 * np.exp(-(t - 9000) / 5000))
    amps = np.where(t < 9000, 6.5, 6.5 * np.exp(-(t - 9000) / 5000))
    return ChargePlan(
        chemistry="agm",
        set_voltage=14.3,
        set_voltage_25=14.1,
        current_limit=9.0,
        amps=band(6.5),
        accepted=band(6.4),
        p_battery=band(89),
        efficiency=0.85,
        times=((0.8, band(7700)), (0.9, band(11000))),
        useful_end=0.85,
        useful_time=band(9000, 0.1),
        ride_gain=band(0.14),
        float_voltage=13.6,
        says="Stop riding for it at 85 %.",
        curve=tuple(zip(t.tolist(), soc.tolist(), amps.tolist(), strict=True)),
    )


def reserve_curve() -> tuple[tuple[float, float], ...]:
    """Work reserve against time for bouts of 25 s at 420 W and breathers of 60 s; (s, J)."""
    level, t, out = 14000.0, 0.0, [(0.0, 14000.0)]
    for _ in range(8):
        for seconds, power in ((25, 420.0), (60, 40.0)):
            for _ in range(seconds // 5):
                level += 5 * ((170 - power) if power > 170 else (170 - power) * (1 - level / 14000))
                t += 5
                out.append((t, level))
                if level <= 0:
                    return tuple(out)
    return tuple(out)


def bout() -> Bout:
    """Drilling in bouts."""
    return Bout(
        bout=25,
        breather=60,
        p_bout=420,
        p_rest=40,
        longest=band(56, 0.2),
        cycles=5.0,
        reserve_after=0.0,
        says="Five cuts of 25 s with a minute between; then rest ten minutes.",
        full=14000.0,
        points=reserve_curve(),
    )


def loads() -> LoadsAnswer:
    """A drill and a lamp."""
    state = lambda name, works, watts, says: LoadState(  # noqa: E731
        state=name,
        works=works,
        chance=0.95 if works else 0.02,
        gear="42/16",
        stop=Stop.FOUND if works else Stop.STALLS,
        p_load=band(watts),
        p_rider=band(watts * 1.6),
        hold=band(80 * TURN),
        amps=watts / 110,
        volts=110,
        speed_share=0.9,
        torque_share=0.5,
        time=band(900 if works else 4),
        says=says,
    )
    drill = LoadAnswer(
        load="corded drill",
        verdict="hard work",
        dc="look again",
        dc_why="look for brushes and an electronic trigger",
        states=(
            state("start", True, 40, "starts from rest"),
            state("idle", True, 70, "turns freely at nine tenths"),
            state("light", True, 130, "small holes in wood"),
            state("rated", False, 420, "stalls when it cuts hard"),
        ),
        bout=bout(),
        run=None,
        stop=Stop.FOUND,
        why="yes for small holes; cutting hard it stalls",
        nearest_yes=(),
    )
    lamp = LoadAnswer(
        load="hand lamp",
        verdict="good use of legs",
        dc="not refused",
        dc_why="made for 12 V",
        states=(state("rated", True, 6, "runs"),),
        bout=None,
        run=RunPlan(
            load="hand lamp",
            amps=band(0.5),
            time=band(50 * 3600),
            cutoff=11.8,
            legs_time=band(4 * 3600),
            says="Runs for two days.",
        ),
        stop=Stop.FOUND,
        why="runs from the battery for about two days",
        nearest_yes=(),
    )
    return LoadsAnswer(rider="Ansa", rows=(drill, lamp), charge=charge_plan(), caveats=(), sources=())


def guard() -> GuardAnswer:
    """One stop, one look again."""
    find = lambda check, title, says, do, severity: Finding(  # noqa: E731
        key=title,
        title=title,
        check=check,
        says=says,
        do=do,
        value=NAN,
        threshold=NAN,
        unit="",
        source="common practice, no source",
        at=("guard",),
        severity=severity,
    )
    return GuardAnswer(
        check="stop",
        sizes=(
            Sized(
                what="wire, machine to board",
                need=1.4e-6,
                have=2.5e-6,
                unit="m^2",
                check="not refused",
                pick="2.5 mm2 or 14 AWG",
                why="3 % drop over 3 m at 4.4 A",
                source="iec_60228",
            ),
            Sized(
                what="fuse at the battery post",
                need=10.0,
                have=NAN,
                unit="A",
                check="stop",
                pick="10 A, for 32 V direct current",
                why="the wire carries 18 A, the rig gives 6.5 A",
                source="common practice, no source",
            ),
        ),
        findings=(
            find(
                "look again",
                "Volts in the fastest gear",
                "In 42/12 at 120 turns the machine makes 72 V; the board is rated 60 V.",
                "Lock out the two fastest gears, or fit a clamp at 55 V.",
                2,
            ),
            find(
                "stop",
                "No fuse at the battery post",
                "A short here gives 400 to 900 A and can set the lead alight.",
                "Fit 10 A within 200 mm of the post before you join anything.",
                4,
            ),
        ),
        quiet=("Drive guarded", "Flywheel speed"),
    )


def shares() -> Shares:
    """Three rigs on one bus."""
    rows = (
        StationRow(
            name="rig 1", rider="Ansa", amps=band(5.9), p_rider=170, holds=True, says="carries most of it"
        ),
        StationRow(
            name="rig 2",
            rider="Beno",
            amps=band(2.1, 0.3),
            p_rider=70,
            holds=True,
            says="hardly feels a load",
        ),
        StationRow(
            name="rig 3", rider="Cela", amps=band(0.0), p_rider=20, holds=False, says="its board stays idle"
        ),
    )
    fair = (
        StationRow(name="rig 1", rider="Ansa", amps=band(2.9), p_rider=95, holds=True, says=""),
        StationRow(name="rig 2", rider="Beno", amps=band(2.6), p_rider=88, holds=True, says=""),
        StationRow(name="rig 3", rider="Cela", amps=band(2.4), p_rider=84, holds=True, says=""),
    )
    return Shares(
        rows=rows,
        bus_volts=14.1,
        wanted=8.0,
        watts=113.0,
        fair_resistance=0.11,
        fair_rows=fair,
        limit_each=2.8,
        wire_length=9.0,
        wire_area=1.5e-6,
    )


def m(value: float, how: str = "measured", share: float = 0.02) -> Measured:
    """A constant with a spread of so many percent."""
    return Measured(value, value * share, how)  # type: ignore[arg-type]


def rig(*, name: str = "Net loft") -> Rig:
    """The parts of the invented rig, with one fuse missing at the battery post."""
    return Rig(
        name=name,
        rider=(Rider(name="Ansa"),),
        stage=(
            Stage(
                name="chain to the hub",
                kind="chain",
                driver_teeth=(42,),
                driven_teeth=(12, 14, 16, 18, 21, 24, 28),
            ),
            Stage(name="tyre on roller", kind="roller"),
        ),
        machine=Machine(name="walking-machine motor", resistance=m(0.62), emf_constant=m(0.11)),
        diode=Diode(kind="schottky", current_rating=m(15, "nameplate"), drop=m(0.5, "typical")),
        wire=(
            Wire(run="machine", length=m(3), size=m(2.5e-6)),
            Wire(run="battery", length=m(1.2), size=m(2.5e-6)),
            Wire(run="load", length=m(4), size=m(1.5e-6)),
        ),
        fuse=(Fuse(run="machine", rating=m(10)), Fuse(run="load", rating=m(5), from_post=m(0.12))),
        switch=(Switch(name="bench switch", run="load", dc_voltage=m(30), dc_current=m(10)),),
        clamp=Clamp(voltage=m(55), resistance=m(6), power=m(400)),
        bus=Bus(capacitance=m(4.7e-3), capacitor_voltage=m(63), bleeder=m(4700)),
        converter=(Converter(name="step-down board", kind="buck", set_voltage=m(14.2), set_current=m(6.5)),),
        battery=Battery(
            name="loft battery",
            chemistry="agm",
            voltage=m(12),
            capacity=m(36 * 3600),
            through="step-down board",
        ),
        load=(Load(name="hand lamp", kind="led"),),
    )
