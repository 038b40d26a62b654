"""Fabricated scenes to draw and to tell: true shapes from a line or two of algebra, invented numbers."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig.asking import Ask
from sparewatt.rig.outcome import Caveat, Stop
from sparewatt.studies.scenes.answers import (
    Chance,
    Entry,
    Happening,
    Peak,
    SceneAnswer,
    Side,
    StepRow,
    Track,
)

F = NDArray[np.float64]
TURN = 2 * math.pi / 60
NAN = float("nan")
NAMES = {
    "cadence": ("turns a minute at the crank", "rad/s"),
    "machine_speed": ("turns a minute at the machine", "rad/s"),
    "bus_volts": ("volts at the bus", "V"),
    "output_volts": ("volts after the board", "V"),
    "machine_amps": ("amps out of the machine", "A"),
    "output_amps": ("amps after the board", "A"),
    "battery_amps": ("amps into the battery", "A"),
    "tool_amps": ("amps of the tool", "A"),
    "rider_power": ("watts at the pedals", "W"),
    "load_power": ("watts the load gets", "W"),
    "clamp_power": ("watts in the clamp", "W"),
    "winding": ("warmth of the winding", "K"),
    "magnet": ("warmth of the magnets", "K"),
    "reserve": ("reserve left in your legs", "J"),
    "charge": ("how full the battery is", "1"),
    "tool_speed": ("turns a minute of the tool", "rad/s"),
    "crank_torque": ("push at the crank", "N*m"),
}


def track(key: str, t: F, values: F, *, ripple: float = 0.0, band: float = 0.0) -> Track:
    """A track; ripple: half of the swing between samples; band: half of the band as a share, widening with time."""
    plain = key.partition(" ")[0]
    name, unit = NAMES[plain]
    swing = ripple * np.clip(values / max(float(np.nanmax(np.abs(values))), 1e-9), 0, 1)
    spread = np.linspace(t[0], t[-1], 61)
    low = high = None
    if band:
        at = np.interp(spread, t, values)
        grow = band * (0.3 + 0.7 * (spread - t[0]) / (t[-1] - t[0]))
        low, high = at * (1 - grow), at * (1 + grow)
    return Track(
        key=key,
        name=name,
        unit=unit,
        values=values,
        least=values - swing,
        most=values + swing,
        low=low,
        high=high,
    )


def scene(t: F, tracks: list[Track], **given: object) -> SceneAnswer:
    """A scene with what the others do not say."""
    said: dict[str, object] = {
        "name": "saw in third gear",
        "ask": Ask(rider="Ansa", load="saw", gear="42/18", effort=150.0, duration=3600.0),
        "gear": "42/18",
        "start": "riding",
        "holds": "effort",
        "steps": (),
        "duration": float(t[-1]),
        "times": t,
        "tracks": tuple(tracks),
        "spread_times": np.linspace(t[0], t[-1], 61),
        "happenings": (),
        "ledger": ledger(),
        "closes": 0.0003,
        "chances": (
            Chance(key="stall", says="it stalls", share=0.02),
            Chance(key="served", says="", share=0.95),
        ),
        "peaks": (
            Peak(
                key="bus volts",
                name="step-up board, input",
                unit="V",
                value=31.0,
                low=29.0,
                high=34.0,
                limit=45.0,
                at=1.0,
            ),
        ),
        "served_time": 20.0,
        "ends": "holds",
        "runs": 200,
        "steady": Side(w_hold=82 * TURN, w_tip=44 * TURN, stop=Stop.FOUND),
        "meter": (141.0, 152.0),
        "limits": (("step-up board", 45.0), ("bus capacitor", 63.0)),
        "caveats": (Caveat("machine", "Its friction was read at one speed only."),),
        "sources": ("rodas3",),
    }
    said.update(given)
    return SceneAnswer(**said)  # type: ignore[arg-type]


def ledger(scale: float = 1.0, *, gives: bool = False) -> tuple[Entry, ...]:
    """An energy ledger that closes: in = delivered + tolls + change in stores."""
    rows = (
        ("rider", "legs", "in", 4200.0),
        ("drive", "drive", "toll", 320.0),
        ("friction", "turning the machine", "toll", 260.0),
        ("copper", "machine winding", "toll", 410.0),
        ("drops", "brushes and diode", "toll", 130.0),
        ("wire", "wire", "toll", 22.0),
        ("bleeder", "bleeder", "toll", 3.0),
        ("board", "step-up board", "toll", 380.0),
        ("load", "saw", "delivered", 2475.0 + (600.0 if gives else 0.0)),
        ("spin", "what turns", "store", 170.0 - (600.0 if gives else 0.0)),
        ("charge", "bus capacitor", "store", 30.0),
    )
    return tuple(Entry(key=k, name=n, side=s, joules=j * scale) for k, n, s, j in rows)


def saw_step(at: float = 5.0) -> StepRow:
    """The saw is switched on."""
    return StepRow(at=at, text=f"at {at:g} s switch the saw on", understood="switch the saw on")


def holds() -> SceneAnswer:
    """Thirty seconds in which a saw comes on and the rig settles lower, with leg ripple between the samples."""
    t = np.linspace(0, 30, 601)
    after = np.clip(t - 5, 0, None)
    drop = 1 - np.exp(-after / 1.6)
    turns = 96 - 14 * drop + 1.5 * np.sin(2 * math.pi * 2 * t * 1.4) * (t > 5)
    volts = 0.30 * turns
    speed = 19800 * (1 - np.exp(-after / 0.45)) * (t > 5)
    legs = 62 + (128 * drop + 190 * np.exp(-after / 2.0)) * (t > 5)
    load = 130 * drop + 60 * np.exp(-after / 0.5) * (t > 5)
    amps = 1.3 * drop + 2.4 * np.exp(-after / 0.3) * (t > 5)
    return scene(
        t,
        [
            track("cadence", t, turns * TURN, ripple=0.35, band=0.12),
            track("bus_volts", t, volts, ripple=1.1, band=0.1),
            track("output_volts", t, np.full_like(t, 19.0) - 0.8 * np.exp(-after / 0.4) * (t > 5)),
            track("rider_power", t, legs, ripple=40, band=0.15),
            track("load_power", t, load),
            track("machine_amps", t, legs / volts * 0.8, ripple=1),
            track("tool_amps", t, amps),
            track("tool_speed", t, speed * TURN),
        ],
        steps=(
            saw_step(),
            StepRow(at=18, text="lean on it", understood="lean on the saw, half its rated push"),
        ),
        happenings=(
            Happening(at=5.0, key="script", says="Switch the saw on.", told=True),
            Happening(at=5.05, key="limited", says="", value=6.0),
            Happening(at=5.6, key="unlimited", says=""),
            Happening(at=5.81, key="tool_at_speed", says="", value=19800 * TURN),
            Happening(at=18.0, key="script", says="Lean on it.", told=True),
        ),
        served_time=24.2,
    )


def stalls() -> SceneAnswer:
    """A load that is too much: the cadence sinks past the tipping point and stops."""
    t = np.linspace(0, 20, 801)
    after = np.clip(t - 4, 0, 7.2)
    turns = np.clip(88 - 5.2 * after - 0.9 * after**2, 0, None)
    turns = np.where(t > 11.2, 0.0, turns)
    volts = 0.32 * turns
    on = (t > 4) & (turns > 0)
    return scene(
        t,
        [
            track("cadence", t, turns * TURN, ripple=0.4, band=0.3),
            track("bus_volts", t, volts, ripple=0.8),
            track("rider_power", t, np.where(on, 95 + 15 * np.sin(after / 3), 40.0) * (turns > 0), band=0.1),
            track("load_power", t, np.where(on, 130.0, 0.0)),
        ],
        name="too much saw",
        steps=(saw_step(4.0),),
        happenings=(
            Happening(at=9.6, key="limited", says="", value=12.0),
            Happening(at=10.8, key="sleeps", says="", value=8.9),
            Happening(at=11.2, key="stalls", says=""),
        ),
        ends="stalled",
        steady=Side(w_hold=NAN, w_tip=NAN, stop=Stop.STALLS),
        chances=(Chance(key="stall", says="", share=0.83), Chance(key="served", says="", share=0.1)),
        served_time=5.6,
        limits=(("step-up board", 45.0),),
        meter=(NAN, NAN),
    )


def hiccup() -> SceneAnswer:
    """The board sleeps and wakes twice a second, twenty times."""
    t = np.linspace(0, 15, 3001)
    period = 0.48
    first = 4.2
    phase = np.where(t > first, ((t - first) % period) / period, 0.0)
    saw = np.where(t > first, np.where(phase < 0.55, 1 - phase / 0.55, (phase - 0.55) / 0.45), 1.0)
    on = t > 3
    volts = np.where(on, np.where(t > first, 9.0 + 6.0 * saw, 19 - 10 * (t - 3) / 1.2), 21.0)
    turns = np.where(on, 62 + 5 * saw, 70.0)
    events = []
    k = 0
    while first + k * period < 15:
        events.append(Happening(at=first + k * period, key="sleeps", says="", value=9.0))
        if first + (k + 0.45) * period < 15:
            events.append(Happening(at=first + (k + 0.45) * period, key="wakes", says="", value=11.2))
        k += 1
    return scene(
        t,
        [
            track("cadence", t, turns * TURN, band=0.05),
            track("bus_volts", t, volts, band=0.06),
            track("rider_power", t, np.where(on, 70 + 60 * (1 - saw), 30.0)),
            track("load_power", t, np.where(on & (phase < 0.55), 90.0, 0.0)),
        ],
        name="saw at once",
        steps=(saw_step(3.0),),
        happenings=tuple(events),
        ends="hiccups",
        steady=Side(w_hold=NAN, w_tip=NAN, stop=Stop.CHATTERS),
        chances=(Chance(key="hiccup", says="", share=0.9),),
        limits=(("step-up board", 30.0),),
        served_time=0.0,
    )


def rejection(*, clamp: bool = False) -> SceneAnswer:
    """The plug comes out at 12 s: the volts climb past what the board stands, or the clamp holds them."""
    t = np.linspace(0, 20, 2001)
    after = np.clip(t - 12, 0, None)
    free = 74 + 66 * (1 - np.exp(-after / 0.7)) * np.exp(-after / 9)
    turns = np.where(clamp, np.minimum(free, 104 + 1.5 * np.exp(-after / 3)), free)
    volts = 0.37 * turns
    burnt = np.where(t > 12.35, 150 * (1 - np.exp(-(t - 12.35) / 0.6)), 0.0) * float(clamp)
    tracks = [
        track("cadence", t, turns * TURN, band=0.07),
        track("bus_volts", t, volts, ripple=0.5, band=0.08),
        track("rider_power", t, np.where(t < 12, 140.0, 140 * np.exp(-after / 3) + burnt * 0.4), ripple=60),
        track("load_power", t, np.where(t < 12, 96.0, 0.0)),
    ]
    if clamp:
        tracks.append(track("clamp_power", t, burnt))
    most = float(volts.max())
    events: list[Happening] = [Happening(at=12.02, key="sleeps", says="", value=27.0)]
    if clamp:
        events = [Happening(at=12.35, key="clamp_starts", says="", value=38.0)]
    else:
        events.append(
            Happening(
                at=12.55, key="over_volts", says="The volts pass what the step-up board stands.", value=45.0
            )
        )
    return scene(
        t,
        tracks,
        name="the plug comes out",
        steps=(StepRow(at=12.0, text="at 12 s pull the plug", understood="pull the plug"),),
        happenings=tuple(events),
        limits=(("step-up board", 45.0), ("bus capacitor", 63.0)),
        peaks=(
            Peak(key="bus volts", name="step-up board, input", unit="V", value=most, low=most * 0.92, high=most * 1.07,
                 limit=45.0, at=float(t[int(np.argmax(volts))])),
            Peak(key="machine amps", name="machine", unit="A", value=5.2, low=4.9, high=5.6, limit=18.0, at=3.0),
        ),
        chances=(
            Chance(key="over volts", says="", share=0.0 if clamp else 0.97),
            Chance(key="stall", says="", share=0.0),
        ),
        ends="holds",
    )  # fmt: skip


def hour() -> SceneAnswer:
    """An hour of bouts and breathers: the reserve falls, the machine warms, the battery fills."""
    t = np.linspace(0, 3600, 1801)
    bout = (t % 300) < 120
    legs = np.where(bout, 210.0, 60.0)
    rate = np.where(bout, -60.0, 45.0)
    reserve = np.clip(14000 + np.cumsum(rate) * 2.0 * np.linspace(0.4, 1.05, t.size), 0, 14000)
    winding = 295 + 62 * (1 - np.exp(-t / 900)) + 4 * np.sin(2 * math.pi * t / 300)
    magnet = 295 + 30 * (1 - np.exp(-t / 1600))
    turns = np.where(bout, 78.0, 60.0) - 5 * t / 3600
    steps = tuple(
        StepRow(at=300.0 * k + d, text=w, understood=w)
        for k in range(12)
        for d, w in ((0.0, "hold 210 W"), (120.0, "hold 60 W"))
    )
    return scene(
        t,
        [
            track("cadence", t, turns * TURN, ripple=0.5),
            track("bus_volts", t, 0.19 * turns + 1, ripple=0.4),
            track("output_volts", t, 12.4 + 1.9 * t / 3600),
            track("rider_power", t, legs, ripple=90),
            track("load_power", t, np.zeros_like(t)),
            track("battery_amps", t, legs * 0.6 / 13),
            track("machine_amps", t, legs * 0.7 / 13),
            track("reserve", t, reserve, band=0.3),
            track("winding", t, winding, band=0.02),
            track("magnet", t, magnet),
            track("charge", t, 0.5 + 0.25 * t / 3600),
        ],
        name="an hour of bouts",
        ask=Ask(rider="Ansa", load="charge", gear="42/18", effort=210.0, duration=3600.0),
        steps=steps,
        happenings=(
            Happening(at=2480.0, key="reserve_empty", says=""),
            Happening(at=3300.0, key="full_volts", says="", value=14.3),
        ),
        limits=(("step-down board", 60.0),),
        chances=(),
        ledger=ledger(80.0),
    )


def two_rigs() -> SceneAnswer:
    """Two rigs on one bus; the second rider steps off at 10 s."""
    t = np.linspace(0, 25, 1001)
    gone = np.clip(t - 10, 0, None)
    one = 76 - 9 * (1 - np.exp(-gone / 1.2))
    two = 70 * np.exp(-gone / 2.5)
    amps_two = 3.1 * (t < 10) * 1.0
    return scene(
        t,
        [
            track("cadence", t, one * TURN, ripple=0.2, band=0.05),
            track("cadence 2", t, two * TURN),
            track("bus_volts", t, 13.9 - 0.8 * (1 - np.exp(-gone / 0.8)), ripple=0.1),
            track("bus_volts 2", t, 13.8 * np.exp(-gone / 4)),
            track("output_volts", t, 13.2 - 0.7 * (1 - np.exp(-gone / 0.8))),
            track("output_amps", t, 3.4 + 2.6 * (1 - np.exp(-gone / 0.8))),
            track("output_amps 2", t, amps_two),
            track("rider_power", t, 78 + 62 * (1 - np.exp(-gone / 1.0)), ripple=30),
            track("rider_power 2", t, 74.0 * (t < 10)),
            track("load_power", t, np.full_like(t, 82.0)),
        ],
        name="one steps off",
        ask=Ask(rider="Ansa", load="village radio", gear="42/18", effort=150.0, duration=3600.0),
        steps=(StepRow(at=10.0, text="at 10 s Beno steps off", understood="Beno steps off rig 2"),),
        happenings=(
            Happening(at=10.02, key="freewheel_opens", says="", unit_of=1),
            Happening(at=10.1, key="diode_blocks", says="", unit_of=1),
        ),
        limits=(("village radio", 15.0),),
        peaks=(),
        chances=(Chance(key="served", says="", share=0.61),),
    )


def ripple() -> SceneAnswer:
    """Three seconds, every turn seen, without a step and without a run beside the first."""
    t = np.linspace(0, 3, 900)
    turns = 60 + 6 * np.sin(2 * math.pi * 2 * t)
    return scene(
        t,
        [
            track("cadence", t, turns * TURN),
            track("bus_volts", t, 0.25 * turns),
            track("rider_power", t, 90 * (1 + 0.7 * np.cos(4 * math.pi * t))),
        ],
        name="three seconds",
        chances=(),
        runs=0,
        peaks=(),
        limits=(),
        happenings=tuple(
            Happening(at=0.25 * k + 0.05, key="freewheel_opens" if k % 2 else "freewheel_takes", says="")
            for k in range(11)
        ),
    )


ALL = {
    "holds": holds,
    "stalls": stalls,
    "hiccup": hiccup,
    "rejection": rejection,
    "rejection with a clamp": lambda: rejection(clamp=True),
    "hour": hour,
    "two rigs": two_rigs,
    "ripple": ripple,
}
