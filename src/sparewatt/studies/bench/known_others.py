"""Readings of boards, battery, drive, rider and of the meters themselves as equations.

Source: [loss_polynomial] [peukert] [rest_volts] [critical_power] [dc_machine]
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import bench as bench_physics
from sparewatt.physics import converter, machine, store
from sparewatt.studies.bench.known_machine import DRAG, ELECTRIC, hot_k, hot_r
from sparewatt.studies.bench.known_rows import Made, P, Rows
from sparewatt.studies.fit.fitting import Gain, Unknown

__all__ = ["BUILDS", "EMPTY", "TALK_SHARE", "X", "teeth_of"]

F = NDArray[np.float64]
X = list[str | tuple[F, F]]
HOUR = 3600.0
# Noise of an effort, of the time it could be held, of the power scale all efforts share, of the talking test
# (the first three as `rider.fit_critical_power`; the last common practice, no source).
EFFORT_SD, TIME_SD, SCALE_SD, TALK_SD = 0.02, 0.08, 0.05, 0.15
TALK_SHARE = 0.85  # of critical power at which a sentence becomes hard to say
EMPTY = {
    "flooded": 1.80,
    "agm": 1.80,
    "gel": 1.80,
    "lifepo4": 2.9,
    "lithium_other": 3.2,
}  # V a cell, run down
RUN_SD, REST_SD = 0.01, 0.12  # of charge drawn, of charge read off rested volts


# ---- boards ---------------------------------------------------------------------------------------------------------


def _by_board(rows: Rows) -> dict[int, Rows]:
    """Rows of each board."""
    found: dict[int, list[int]] = {}
    for n, t in enumerate(rows.taken):
        k = rows.bench.board(t.part)
        if k is not None:
            found.setdefault(k, []).append(n)
    return {k: Rows(rows.bench, [rows.taken[n] for n in each]) for k, each in found.items()}


def _board_power(rows: Rows, made: Made, kind: str = "board_power") -> None:
    for k, own in _by_board(rows).items():
        _board_amps(kind, own, made, k, ("volts_in", "volts_out", "amps_out"), "amps_in")


def _board_amps(
    kind: str, rows: Rows, made: Made, k: int, x: tuple[str, str, str], y: str, tag: str = ""
) -> None:
    """Amps a board takes in for what it gives out."""
    losses = tuple(f"loss_{n}.{k}" for n in range(3))

    def model(p: P, v_in: F, v_out: F, i_out: F) -> F:
        q = {f"loss_{n}": p[losses[n]] for n in range(3)}
        return converter.input_power(v_out * i_out, **q) / v_in

    made.put(kind, rows, model, y, x, losses, tag=tag)


def _board_limit(rows: Rows, made: Made) -> None:
    _board_power(rows, made, "board_limit")
    for k, own in _by_board(rows).items():
        _direct(own, made, "board_limit", "amps_in", f"input_current.{k}", tag=" limit")


def _board_idle(rows: Rows, made: Made) -> None:
    for k, own in _by_board(rows).items():
        name = f"loss_0.{k}"

        def model(p: P, v: F, name: str = name) -> F:
            return p[name] / v

        made.put("board_idle", own, model, "amps_in", ["volts_in"], [name])


def _direct(
    rows: Rows, made: Made, kind: str, what: str, name: str, *, share: float = 0.01, tag: str = ""
) -> None:
    """A constant that is read as it is; it comes back a little different each time."""

    def model(p: P, one: F) -> F:
        return p[name] * one

    v = rows.value(what)
    made.put_gain(rows, what)
    sd = np.hypot(rows.sd(what), share * v)
    made.put(
        kind, rows, model, (v, sd, rows.gain(what)), [(np.ones(v.size), 0 * v)], [name], tag=tag, shows=what
    )


def _directly(field: str, what: str) -> Callable[[Rows, Made], None]:
    def build(rows: Rows, made: Made) -> None:
        kind = rows.taken[0].kind
        for k, own in _by_board(rows).items():
            _direct(own, made, kind, what, f"{field}.{k}")

    return build


def _board_set(rows: Rows, made: Made) -> None:
    for k, own in _by_board(rows).items():
        _direct(own, made, "board_set", "volts_out", f"set_voltage.{k}", share=0.002)
        both = own.only("amps_out")
        if both.taken:
            _direct(both, made, "board_set", "amps_out", f"set_current.{k}", tag=" amps")


# ---- battery --------------------------------------------------------------------------------------------------------


def _battery_dip(rows: Rows, made: Made) -> None:
    """Volts under a bulb; before it is the mean of before and after, where both were read."""
    if rows.bench.battery is None:
        return
    back = rows.has("recovered_volts")
    rest, after = rows.value("rest_volts"), rows.value("recovered_volts")
    before = np.where(back, 0.5 * (rest + np.where(back, after, rest)), rest)
    sd = rows.sd("rest_volts") / np.where(back, np.sqrt(2), 1.0)

    def model(p: P, i: F, v: F) -> F:
        return v - p["battery_resistance"] * i

    # One meter reads both volts, so its gain changes their small difference by no more than itself: left out.
    y = (rows.value("loaded_volts"), rows.sd("loaded_volts"), ("",) * before.size)
    made.put(
        "battery_dip", rows, model, y, ["amps", (before, sd)], ["battery_resistance"], shows="loaded_volts"
    )


def _battery_run(rows: Rows, made: Made) -> None:
    """Charge drawn from full to the low mark, against what the label promises at those amps."""
    battery = rows.bench.battery
    if battery is None or battery.capacity is None or battery.voltage is None:
        return
    label = battery.capacity.value
    whole = [t for t in rows.taken if _ran_down(rows, t.values["volts"].value)]
    if not whole:
        return
    own = Rows(rows.bench, whole, single=True)
    drawn = np.array(
        [float(bench_physics.charge_drawn(t.values["time"].value, t.values["amps"].value)) for t in whole]
    )
    lasted = np.array([float(np.ptp(t.values["time"].value)) for t in whole])
    gains = tuple(t.values["amps"].gain for t in whole)
    made.put_gain(own, "amps")

    def model(p: P, t: F) -> F:
        return p["health"] * label * (t / (20 * HOUR)) ** (1 - 1 / p["peukert"])

    made.put(
        "battery_run",
        own,
        model,
        (drawn, np.maximum(RUN_SD * np.abs(drawn), 1.0), gains),
        [(lasted, 0 * lasted)],
        ["health", "peukert"],
        shows="charge",
    )


def _ran_down(rows: Rows, volts: F) -> bool:
    """Whether the last volts of a run are down at the battery's low mark."""
    battery = rows.bench.battery
    assert battery is not None and battery.voltage is not None
    kind = battery.chemistry or "flooded"
    cells = float(store.cells_in_series(battery.voltage.value, chemistry=kind))
    return bool(volts[-1] <= cells * EMPTY.get(kind, 1.8) * 1.02)


def _battery_rest(rows: Rows, made: Made) -> None:
    battery = rows.bench.battery
    if battery is None or battery.voltage is None:
        return
    kind, name = battery.chemistry or "flooded", battery.voltage.value

    def model(p: P, one: F) -> F:
        return store.open_circuit_voltage(p["charge"] * one, v_name=name, chemistry=kind)

    volts = rows.value("volts")
    slope = store.open_circuit_voltage(0.7, v_name=name, chemistry=kind) - store.open_circuit_voltage(
        0.6, v_name=name, chemistry=kind
    )
    sd = np.hypot(rows.sd("volts"), REST_SD * abs(float(slope)) / 0.1)
    made.put(
        "battery_rest",
        rows,
        model,
        (volts, sd, rows.gain("volts")),
        [(np.ones(volts.size), 0 * volts)],
        ["charge"],
        shows="volts",
    )
    made.put_gain(rows, "volts")


# ---- drive and riding -----------------------------------------------------------------------------------------------


def teeth_of(rows: Rows) -> F:
    """Ratio of the toothed stages in the gear of each reading."""
    return np.array([rows.bench.teeth[rows.bench.gear(rows.taken[k].part)] for k in rows.index])


def _hand_turns(rows: Rows, made: Made) -> None:
    teeth = teeth_of(rows)

    def model(p: P, crank: F, teeth: F) -> F:
        return crank * teeth * p["ratio"]

    made.put("hand_turns", rows, model, "machine_turns", ["crank_turns", (teeth, 0 * teeth)], ["ratio"])


def _top_volts(rows: Rows, made: Made) -> None:
    teeth = teeth_of(rows)

    def model(p: P, w_c: F, teeth: F, t: F, told: F) -> F:
        return machine.emf(w_c * teeth * p["ratio"], k_emf=hot_k(rows.bench, p, t, told))

    x: X = ["cadence", (teeth, 0 * teeth)]
    made.put("top_volts", rows, model, "volts", x, ["emf_constant", "ratio"], warm=True)


def _riding(rows: Rows, made: Made) -> None:
    """Volts at a cadence; and where the shaft was filmed, volts at its speed and the ratio of the two speeds."""
    bench, teeth = rows.bench, teeth_of(rows)

    def at_crank(p: P, w_c: F, i: F, teeth: F, t: F, told: F) -> F:
        return machine.terminal_voltage(
            w_c * teeth * p["ratio"] * (1 - p["creep"]), i_out=i, k_emf=hot_k(bench, p, t, told),
            r_wind=hot_r(p, t, told), v_brush=p["brush_drop"],
        )  # fmt: skip

    def at_shaft(p: P, w: F, i: F, t: F, told: F) -> F:
        return machine.terminal_voltage(
            w, i_out=i, k_emf=hot_k(bench, p, t, told), r_wind=hot_r(p, t, told), v_brush=p["brush_drop"]
        )

    def turns(p: P, w_c: F, teeth: F) -> F:
        return w_c * teeth * p["ratio"] * (1 - p["creep"])

    x: X = ["cadence", "amps", (teeth, 0 * teeth)]
    made.put("riding", rows, at_crank, "volts", x, [*ELECTRIC, "ratio", "creep"], warm=True)
    filmed = rows.only("speed")
    if filmed.taken:
        own = teeth_of(filmed)
        made.put("riding", filmed, at_shaft, "volts", ["speed", "amps"], ELECTRIC, warm=True, tag=" shaft")
        both: X = ["cadence", (own, 0 * own)]
        made.put("riding", filmed, turns, "speed", both, ["ratio", "creep"], tag=" ratio")
    behind = rows.only("volts_out", "amps_out")
    k = bench.board("")
    if behind.taken and k is not None:
        _board_amps("riding", behind, made, k, ("volts", "volts_out", "amps_out"), "amps", tag=" board")


# ---- rider ----------------------------------------------------------------------------------------------------------


def _hard_effort(rows: Rows, made: Made) -> None:
    _effort(rows, made, "hard_effort")


def _gentle_step(rows: Rows, made: Made) -> None:
    _effort(rows, made, "gentle_step")


def _effort(rows: Rows, made: Made, kind: str) -> None:
    """Watts at the machine's wires in an effort: what the legs give, less the tolls of drive and machine."""
    bench, hard = rows.bench, kind == "hard_effort"
    whole = [t for t in rows.taken if t.values["amps"].value.size == t.values["volts"].value.size]
    by_rider: dict[int, list[int]] = {}
    for n, t in enumerate(whole):
        by_rider.setdefault(bench.rider(t.part), []).append(n)
    for r, at in by_rider.items():
        own = Rows(bench, [whole[n] for n in at], single=True)
        v, i = (np.array([float(np.mean(t.values[w].value)) for t in own.taken]) for w in ("volts", "amps"))
        w_c = np.array([float(np.mean(t.values["cadence"].value)) for t in own.taken])
        watts = np.array(
            [float(np.mean(t.values["volts"].value * t.values["amps"].value)) for t in own.taken]
        )
        held = np.array([float(t.values["held_for"].value[0]) if hard else np.inf for t in own.taken])
        g = bench.gear("")
        names = (f"critical_power.{r}", f"work_reserve.{r}")
        toll = bench.drag[g] + bench.drag_slope[g] * w_c

        def model(p: P, t: F, v: F, i: F, w_c: F, toll: F, names: tuple[str, str] = names, g: int = g) -> F:
            legs = p[names[0]] + p[names[1]] / t if hard else TALK_SHARE * p[names[0]]
            k, r_wind = hot_k(bench, p, 0 * v, 0 * v), hot_r(p, 0 * v, 0 * v)
            w = machine.shaft_speed(v, i_out=i, k_emf=k, r_wind=r_wind, v_brush=p["brush_drop"])
            lost = machine.losses(
                w, i_out=i, r_wind=r_wind, v_brush=p["brush_drop"], t_coulomb=p["friction"],
                b_viscous=p["friction_slope"],
            )  # fmt: skip
            share = bench.gain[g] * w_c / w  # torque at the crank per torque of the machine, as power
            left: F = (legs - toll * w_c) / share - lost.copper - lost.brush - lost.friction
            return left

        scale = f"power scale of rider {r + 1}"
        made.gains.setdefault(scale, Gain(name=scale, sd=SCALE_SD))
        spread = np.maximum((EFFORT_SD if hard else TALK_SD) * np.abs(watts), 1.0)
        time = np.where(np.isfinite(held), held, 1e9)
        x = [
            (time, TIME_SD * time if hard else 0 * time),
            (v, 0 * v),
            (i, 0 * v),
            (w_c, 0 * v),
            (toll, 0 * v),
        ]
        touched = [*ELECTRIC, *DRAG, "room", *(names if hard else names[:1])]
        made.put(kind, own, model, (watts, spread, (scale,) * v.size), x, touched, shows="watts")


# ---- meters ---------------------------------------------------------------------------------------------------------


def _same_battery(rows: Rows, made: Made) -> None:
    """Several meters on one battery: what each reads over the others."""
    marks = [t.at for t in rows.taken]
    names = {m: f"battery volts {m}" for m in dict.fromkeys(marks)}
    for mark, name in names.items():
        level = [float(t.values["volts"].value[0]) for t in rows.taken if t.at == mark]
        made.own.append(Unknown(name=name, start=float(np.median(level)), log=True))
    listed = list(names.values())
    pick = np.array([listed.index(names[m]) for m in marks])

    def model(p: P, one: F) -> F:
        return np.concatenate(np.broadcast_arrays(*(p[n] for n in listed)), axis=-1)[..., pick] * one

    n = rows.index.size
    made.put("same_battery", rows, model, "volts", [(np.ones(n), np.zeros(n))], [])


BUILDS: dict[str, Callable[[Rows, Made], None]] = {
    "board_power": _board_power,
    "board_limit": _board_limit,
    "board_idle": _board_idle,
    "board_sleeps": _directly("input_min", "volts_in"),
    "board_wakes": _directly("restart", "volts_in"),
    "board_set": _board_set,
    "battery_dip": _battery_dip,
    "battery_run": _battery_run,
    "battery_rest": _battery_rest,
    "hand_turns": _hand_turns,
    "top_volts": _top_volts,
    "riding": _riding,
    "hard_effort": _hard_effort,
    "gentle_step": _gentle_step,
    "same_battery": _same_battery,
}
