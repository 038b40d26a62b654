"""What a played scene says: tracks with their bands, happenings in words, the energy ledger, chances and peaks."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.script import Script
from sparewatt.physics import transients
from sparewatt.quantities import render
from sparewatt.rig.motion import Moving, Played, channel
from sparewatt.rig.motion_layout import Chan, Event, Move, Out, Shared, Sum
from sparewatt.rig.outcome import Caveat, Mode
from sparewatt.rig.storing import volts_limit
from sparewatt.studies.scenes.answers import Chance, Entry, Peak, Track
from sparewatt.studies.scenes.seconds_events import list_ended

__all__ = [
    "caveats_of", "chances_of", "ending", "ledger_of", "limits_of", "meter_of", "peaks_of", "served_time", "sources_of",
    "tracks_of",
]  # fmt: skip

F = NDArray[np.float64]
UNIT = {
    "cadence": (Chan.W_CRANK, "turns a minute at the crank", "rad/s"),
    "machine_speed": (Chan.W_SHAFT, "turns a minute of the machine", "rad/s"),
    "machine_amps": (Chan.AMPS, "amps of the machine", "A"),
    "bus_volts": (Chan.V_BUS, "volts on the bus", "V"),
    "output_amps": (Chan.AMPS_OUT, "amps out", "A"),
    "rider_power": (Chan.P_RIDER, "watts of the legs", "W"),
    "crank_torque": (Chan.T_CRANK, "push at the crank", "N*m"),
    "reserve": (Chan.RESERVE, "reserve left", "J"),
    "winding": (Chan.WINDING, "winding", "K"),
    "magnet": (Chan.MAGNET, "magnets", "K"),
    "clamp_power": (Chan.P_CLAMP, "watts into the clamp", "W"),
}
SHARED = {
    "output_volts": (Shared.V_OUT, "volts at the output", "V"),
    "battery_amps": (Shared.AMPS_BATTERY, "amps into the battery", "A"),
    "load_power": (Shared.P_LOAD, "watts into the load", "W"),
    "charge": (Shared.CHARGE, "charge of the battery", "1"),
    "tool_amps": (Shared.TOOL_AMPS, "amps of the tool", "A"),
    "tool_speed": (Shared.TOOL_SPEED, "turns a minute of the tool's motor", "rad/s"),
}
OTHERS = ("cadence", "output_amps", "bus_volts", "rider_power")
BAD = (Event.SLEEPS, Event.LOAD_QUITS)
HICCUPS = 3  # times off in one scene that make it a hiccup
LATE = 6.0  # s before the end that tell how it ends
BURST = 5.0  # s, what a clamp's resistor is rated for
MOST_OFF = 0.6  # of the time it is asked for: what "served" takes


# ---- tracks ----------------------------------------------------------------------------------------------------------


def tracks_of(moving: Moving, main: Played, spread: list[Played], duration: float) -> tuple[Track, ...]:
    """Every quantity of the scene against time; those of parts the rig does not have are left out."""
    found = []
    for key, (chan, name, unit) in UNIT.items():
        if key == "clamp_power" and not math.isfinite(moving.mv[0, 0, Move.V_CLAMP]):
            continue
        found.append(_track(key, name, unit, channel(chan), main, spread))
    for key, (place, name, unit) in SHARED.items():
        battery, motor = moving.oc[0, Out.HAS_BATTERY] > 0, moving.oc[0, Out.MOTOR] > 0
        if (
            (key in ("battery_amps", "charge") and not battery)
            or (key.startswith("tool") and not motor)
            or (key == "load_power" and moving.bounds[0].hookup.load is None)
        ):
            continue
        found.append(_track(key, name, unit, channel(place, main.rigs), main, spread))
    for rig in range(1, moving.rigs):
        for key in OTHERS:
            chan, name, unit = UNIT[key]
            found.append(
                _track(
                    f"{key} {rig + 1}", f"{name}, rig {rig + 1}", unit, channel(chan, rig=rig), main, spread
                )
            )
    return tuple(found)


def _track(key: str, name: str, unit: str, column: int, main: Played, spread: list[Played]) -> Track:
    low = high = None
    if spread:
        rows = np.stack([s.rows[:, column] for s in spread])
        known = np.isfinite(rows).any(axis=0)  # runs that were given up have no end
        low, high = np.full(known.size, np.nan), np.full(known.size, np.nan)
        low[known], high[known] = np.nanpercentile(rows[:, known], (5, 95), axis=0)
    return Track(
        key=key,
        name=name,
        unit=unit,
        values=main.rows[:, column],
        least=main.least[:, column],
        most=main.most[:, column],
        low=low,
        high=high,
    )


# ---- energy ----------------------------------------------------------------------------------------------------------


_LEDGER = (
    (Sum.RIDER, "legs", "", "in"),
    (Sum.LOAD, "load", "into the load", "delivered"),
    (Sum.BATTERY, "battery", "into the battery", "delivered"),
    (Sum.DRIVE, "drive", "chain, belts and rollers", "toll"),
    (Sum.FRICTION, "friction", "drag of the machine", "toll"),
    (Sum.COPPER, "copper", "heat in the winding", "toll"),
    (Sum.DROPS, "drops", "brushes and diode", "toll"),
    (Sum.WIRE, "wire", "wire to the bus", "toll"),
    (Sum.BOARD, "board", "board", "toll"),
    (Sum.LEAD, "lead", "leads to the shared bus", "toll"),
    (Sum.GAS, "gas", "gas and heat in the battery", "toll"),
    (Sum.BATTERY_WIRE, "battery wire", "wire to the battery", "toll"),
    (Sum.FIELD, "field", "field coil", "toll"),
    (Sum.CLAMP, "clamp", "clamp", "toll"),
    (Sum.BLEEDER, "bleeder", "bleeder", "toll"),
    (Sum.CLUTCH, "clutch", "jolts of shifting and catching up", "toll"),
    (Sum.LEGS, "stopping", "legs stopping the pedals", "toll"),
    (Sum.SWITCHED, "switching", "sparks and starts", "toll"),
)


def ledger_of(main: Played) -> tuple[tuple[Entry, ...], float]:
    """Where the work went, and the share of all that went in which the sum leaves over."""
    legs = "work of all legs together" if main.rigs > 1 else "work of the legs"
    entries = [
        Entry(key=key, name=name or legs, side=side, joules=float(main.sums[row]))
        for row, key, name, side in _LEDGER
        if (side in ("in", "delivered") and row != Sum.BATTERY) or abs(main.sums[row]) > 1e-9
    ]
    stored = float(main.stores[1] - main.stores[0])
    entries.append(Entry(key="stored", name="in wheels and capacitors", side="store", joules=stored))
    put_in = float(main.sums[Sum.RIDER])
    left = put_in - float(main.sums[Sum.DRIVE :].sum()) - stored
    whole = put_in + max(-float(main.sums[Sum.BATTERY]), 0.0) + float(main.stores[0])
    return tuple(entries), abs(left) / max(whole, 1e-9)


def served_time(main: Played) -> float:
    """Seconds in which the load got what it asks for."""
    served = main.rows[:, channel(Shared.SERVED, main.rigs)]
    return float(np.trapezoid(np.nan_to_num(served), main.times))


def meter_of(main: Played) -> tuple[float, float]:
    """Mean volts times mean amps at the bus, and the true mean watts there, over the last whole turns."""
    if main.followed < main.times.size:
        return math.nan, math.nan
    keep = main.times >= main.times[-1] - 10.0
    if keep.sum() < 8:
        return math.nan, math.nan
    theta_turns = main.rows[keep, channel(Chan.W_CRANK)]
    dt = float(main.times[1] - main.times[0])
    if dt > 0.1:
        return math.nan, math.nan  # too few samples a push
    turned = np.cumsum(theta_turns[::-1]) * dt / math.pi  # half turns back from the end
    whole = int(np.floor(turned[-1]))
    if whole < 1:
        return math.nan, math.nan
    count = int(np.searchsorted(turned, whole))
    v = main.rows[-count:, channel(Chan.V_BUS)]
    i = main.rows[-count:, channel(Chan.AMPS)]
    read = transients.meter_samples(v, i_samples=i)
    return float(read.p_meter), float(read.p_true)


# ---- how it went -----------------------------------------------------------------------------------------------------


def ending(moving: Moving, main: Played, script: Script) -> str:
    """How it stands at the end: "holds", "free" (nothing is fed), "stalled", "stopped", "hiccups" or "asleep"."""
    last = main.followed - 1
    end = main.times[last]
    late = [Event(int(e[1])) for e in main.events if e[0] > end - LATE]
    kinds = [a.kind for a in script.steps]
    stopped = "stop" in kinds and "pedal" not in kinds[len(kinds) - kinds[::-1].index("stop") :]
    cadence = float(main.rows[last, channel(Chan.W_CRANK)])
    if stopped:
        return "stopped"
    if cadence < 0.4:
        return "stalled"
    if sum(e in BAD for e in late) >= 2 or _swamped(main):
        return "hiccups"
    asked = bool(asked_for(script, main.times[last : last + 1])[0])
    label = Mode(int(main.rows[last, channel(Chan.LABEL)]))
    served = main.rows[last, channel(Shared.SERVED, main.rigs)] > 0
    if asked and not served and label in (Mode.ASLEEP, Mode.DIRECT, Mode.REGULATES):
        return "asleep"
    return "holds" if asked else "free"


def _swamped(main: Played) -> bool:
    """Whether it went off so often that the list of happenings was full before the end."""
    codes = main.events[:, 1].astype(int)
    return list_ended(main) < main.times[-1] - LATE and bool(
        np.isin(codes[-50:], [int(e) for e in BAD]).any()
    )


def asked_for(script: Script, times: F) -> NDArray[np.bool_]:
    """Whether the load, or the battery, is meant to be fed by legs that push, at each time."""
    on, plugged, hooked, pushes = script.switched_on or script.ask.load == "charge", True, True, True
    asked = np.full(times.size, on)
    for act in script.steps:
        on = {"on": True, "off": False}.get(act.kind, on)
        plugged = {"plug": True, "unplug": False}.get(act.kind, plugged)
        hooked = {"hook": True, "unhook": False}.get(act.kind, hooked)
        pushes = {"pedal": True, "stop": False}.get(act.kind, pushes)
        asked[times >= act.at] = on and plugged and pushes and (hooked or script.ask.load != "charge")
    return asked


def chances_of(moving: Moving, spread: list[Played], script: Script) -> tuple[Chance, ...]:
    """Shares of the spread runs that stall, break something, hiccup, blow a fuse, or serve the load."""
    if not spread:
        return ()
    n = len(spread)

    def share(test: list[bool]) -> float:
        return sum(test) / n

    codes = [[Event(int(e[1])) for e in s.events] for s in spread]
    stalls = share([Event.STALLS in c for c in codes])
    hiccups = share([sum(e in BAD for e in c) >= HICCUPS for c in codes])
    over = share([Event.OVER_VOLTS in c or _over(moving, s) for s, c in zip(spread, codes, strict=True)])
    load_over = share([Event.OVER_LOAD_VOLTS in c for c in codes])
    found = [
        Chance(key="stall", says="the rider is dragged to a stop", share=stalls),
        Chance(key="hiccup", says="it goes off and on again and again", share=hiccups),
    ]
    if any(math.isfinite(v) for v in moving.mv[0, :, Move.V_RATED]):
        found.append(Chance(key="over volts", says="the bus passes what a part on it stands", share=over))
    if math.isfinite(moving.oc[0, Out.U_MAX]):
        found.append(
            Chance(key="over load volts", says="the load gets more volts than it stands", share=load_over)
        )
    if np.isfinite(moving.fuses[:, 0]).any():
        blown = share([Event.FUSE_OPENS in c for c in codes])
        found.append(Chance(key="fuse", says="a fuse opens", share=blown))
    asked = asked_for(script, spread[0].times)
    if asked.any():
        found.append(
            Chance(key="served", says="the load gets what it asks for most of the time", share=share(
                [_mostly_served(s, asked) for s in spread]
            ))
        )  # fmt: skip
    return tuple(found)


def _over(moving: Moving, run: Played) -> bool:
    return any(
        run.peaks[channel(Chan.V_BUS, rig=k), 0] > moving.mv[0, k, Move.V_RATED] for k in range(moving.rigs)
    )


def _mostly_served(run: Played, asked: NDArray[np.bool_]) -> bool:
    served = np.nan_to_num(run.rows[:, channel(Shared.SERVED, run.rigs)])[asked]
    return bool(served.mean() >= MOST_OFF)


def peaks_of(moving: Moving, main: Played, spread: list[Played]) -> tuple[Peak, ...]:
    """Highest values against what the parts stand."""
    bound = moving.bounds[0]
    rig, board, load = moving.filled.rig, bound.hookup.board, bound.hookup.load
    machine = rig.machine
    rows: list[tuple[str, str, str, int, float]] = []
    v_bus, v_out = channel(Chan.V_BUS), channel(Shared.V_OUT, main.rigs)
    if board is not None:
        rows.append(("bus volts", f"{board.name}, input", "V", v_bus, _or_inf(board.input_max)))
    if rig.bus is not None and rig.bus.capacitor_voltage is not None:
        rows.append(("bus volts", "bus capacitor", "V", v_bus, rig.bus.capacitor_voltage.value))
    if (board is None and rig.bus is None) or not rows:
        rows.append(("bus volts", "bus", "V", v_bus, math.inf))
    if load is not None and math.isfinite(moving.oc[0, Out.U_MAX]):
        rows.append(("output volts", load.name, "V", v_out, float(moving.oc[0, Out.U_MAX])))
    if machine is not None:
        short = machine.current_limit_short
        rows.append(("machine amps", machine.name or "machine", "A", channel(Chan.AMPS), _or_inf(short)))
        rows.append(
            (
                "machine speed",
                machine.name or "machine",
                "rad/s",
                channel(Chan.W_SHAFT),
                _or_inf(machine.speed_limit),
            )
        )
        rows.append(("winding", "winding", "K", channel(Chan.WINDING), _or_inf(machine.winding_limit)))
    if moving.oc[0, Out.HAS_BATTERY] > 0 and rig.battery is not None:
        chan = channel(Shared.AMPS_BATTERY, main.rigs)
        rows.append(
            ("battery amps", rig.battery.name or "battery", "A", chan, _or_inf(rig.battery.charge_current))
        )
        chan = channel(Shared.V_BATTERY, main.rigs)
        rows.append(("battery volts", rig.battery.name or "battery", "V", chan, volts_limit(rig.battery)))
    found = [_peak(key, name, unit, column, limit, main, spread) for key, name, unit, column, limit in rows]
    if rig.clamp is not None:
        stands = BURST * rig.clamp.power.value if rig.clamp.power is not None else math.inf
        each = np.array([_burst(s) for s in spread]) if spread else np.array([_burst(main)])
        low, high = np.percentile(each, (5, 95))
        found.append(
            Peak(key="clamp energy", name=f"clamp, in any {BURST:g} s", unit="J", value=_burst(main), low=float(low),
                 high=float(high), limit=stands, at=math.nan)
        )  # fmt: skip
    return tuple(found)


def _burst(run: Played) -> float:
    """Most joules the clamp burns in any BURST seconds (its resistor's rating is for so long)."""
    watts = np.nan_to_num(run.rows[:, channel(Chan.P_CLAMP)])
    if run.times[-1] <= BURST:
        return float(run.sums[Sum.CLAMP])
    burnt = np.concatenate(([0.0], np.cumsum(0.5 * (watts[1:] + watts[:-1]) * np.diff(run.times))))
    later = np.interp(np.minimum(run.times + BURST, run.times[-1]), run.times, burnt)
    return float(np.max(later - burnt))


def _or_inf(measured: object) -> float:
    return math.inf if measured is None else float(measured.value)  # type: ignore[attr-defined]


def _peak(
    key: str, name: str, unit: str, column: int, limit: float, main: Played, spread: list[Played]
) -> Peak:
    value, at = (float(x) for x in main.peaks[column])
    low = high = value
    if spread:
        low, high = (float(x) for x in np.percentile([s.peaks[column, 0] for s in spread], (5, 95)))
    return Peak(key=key, name=name, unit=unit, value=value, low=low, high=high, limit=limit, at=at)


def limits_of(moving: Moving) -> tuple[tuple[str, float], ...]:
    """Ratings of volts to be drawn beside the bus volts, lowest first."""
    bound = moving.bounds[0]
    rig, board = moving.filled.rig, bound.hookup.board
    found: list[tuple[str, float]] = []
    if board is not None and board.input_max is not None:
        found.append((f"{board.name}, input", board.input_max.value))
    if rig.bus is not None and rig.bus.capacitor_voltage is not None:
        found.append(("bus capacitor", rig.bus.capacitor_voltage.value))
    if board is None and math.isfinite(moving.oc[0, Out.U_MAX]) and bound.hookup.load is not None:
        found.append((bound.hookup.load.name, float(moving.oc[0, Out.U_MAX])))
    return tuple(sorted(found, key=lambda item: item[1]))


def caveats_of(moving: Moving, main: Played, spread: list[Played]) -> tuple[Caveat, ...]:
    """What a reader must know: what was assumed for the motion alone, and runs that were given up."""
    found = []
    if moving.capacitance_assumed:
        farads = moving.mv[0, 0, Move.CAPACITANCE]
        found.append(
            Caveat(
                where="bus.capacitance",
                text=f"No bus capacitor is in the rig file; {1e3 * farads:.2g} mF stands in, enough to keep board and coil "
                "from swinging against each other. With less it may pulse where this shows it steady.",
            )
        )
    given_up = sum(s.status != 0 for s in spread)
    if main.status == 1:
        found.append(
            Caveat(
                where="scene",
                text="It swings so fast that the end of the scene was not reached; what is shown is right up to there.",
            )
        )
    if (until := list_ended(main)) < main.times[-1]:
        found.append(
            Caveat(
                where="scene",
                text=f"So much happens that the list of it ends at {render(until, 's', 3)}; the picture and the sums go on.",
            )
        )
    if given_up:
        found.append(
            Caveat(
                where="scene",
                text=f"{given_up} of the {len(spread)} spread runs swing too fast to be followed to the end.",
            )
        )
    for key, says in moving.filled.assumed:
        found.append(Caveat(where=key, text=says))
    return tuple(found)


def sources_of(moving: Moving) -> tuple[str, ...]:
    """Keys of what the scene stands on."""
    keys = ["rodas", "critical_power"]
    if moving.mv[0, 0, Move.RIPPLE] > 0 and moving.table.shape[1] == 0:
        keys += ["pedal_shape", "pedal_peak"]
    if np.isfinite(moving.fuses[:, 0]).any():
        keys.append("fuse_blade_gates")
    if moving.oc[0, Out.MOTOR] == 1.0:
        keys += ["series_motor", "series_plate"]
    if moving.oc[0, Out.HAS_BATTERY] > 0:
        keys += ["acceptance", "tafel", "en50272", "battery_efficiency"]
    return tuple(keys)
