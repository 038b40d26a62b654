"""Running points of a bound rig: crossings over gears and draws, one point in full, and its chain of tolls."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import rider
from sparewatt.rig import steady
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.outcome import Crossing, Crossings, Link, Mode, Point

__all__ = ["chain", "crossings", "lines", "point", "rider_line", "served"]

F = NDArray[np.float64]
NAN = float("nan")
ENOUGH = 0.6  # of its watts: below this an appliance is not really running (common practice, no source)


def rider_line(bound: Bound, effort: float) -> F:
    """Torque at standstill (cols,) of a held effort worth `effort` W at its best cadence."""
    return rider.torque_start_for_effort(effort, w_top=bound.w_top)


def served(mode: NDArray[np.int64], has_store: NDArray[np.bool_] | bool) -> NDArray[np.bool_]:
    """Whether the load gets what it asks for in this way of running (a battery is content with fewer amps)."""
    fine = np.isin(mode, (Mode.REGULATES, Mode.DIRECT, Mode.DROPS_OUT))
    # Limited or passing straight through, a battery takes what comes; an appliance gets too little, or volts nobody set
    return np.asarray(fine | (np.isin(mode, (Mode.LIMITED, Mode.PASSES)) & has_store))


def _content(bound: Bound, v_out: F, p_load: F) -> NDArray[np.bool_]:
    """Whether an appliance with no battery beside it gets volts it survives and most of the watts it is made for."""
    load = bound.hookup.load
    if load is None or bound.hookup.battery is not None:
        return np.ones(v_out.shape, dtype=bool)
    high = load.voltage_max.value if load.voltage_max is not None else math.inf
    with np.errstate(invalid="ignore"):
        return np.asarray((v_out <= high) & (p_load >= ENOUGH * bound.extras["p_load"]))


def _gains(bound: Bound, i_battery: F) -> NDArray[np.bool_]:
    """Whether a charge puts anything in: an alternator's field may take out more than the legs put in."""
    if bound.hookup.load is not None or bound.hookup.battery is None:
        return np.ones(i_battery.shape, dtype=bool)
    return np.asarray(i_battery > 0)


def crossings(bound: Bound, effort: float) -> tuple[Crossings, F, NDArray[np.int64]]:
    """Where the rider line of `effort` meets the load line, every gear and draw.

    Also returns all crossings of the nominal rig: cadences (gears, 8) and kinds (1 holds, 2 tips, 3 chatters).
    """
    from sparewatt.rig import fast

    w, kind, picked, state = fast.crossings(
        bound.params, bound.ratio, bound.gain, bound.drag, bound.slope, rider_line(bound, effort), bound.w_top
    )

    def take(which: int) -> F:
        index = picked[..., which]
        got = np.take_along_axis(w, np.maximum(index, 0)[..., None], axis=-1)[..., 0]
        return np.where(index >= 0, got, np.nan)

    mode = np.where(np.isfinite(state[..., 0]), state[..., 0], 0).astype(np.int64)
    store = bound.params[Param.HAS_STORE] > 0
    u, need = state[..., 3], state[..., 4]
    flows = mode != Mode.ASLEEP
    node = _node_volts(bound, u, need)
    i_battery = np.where(store, _battery_amps(bound, node), 0.0)
    p_load = _load_watts(bound, node, flows | store)
    answer = Crossings(
        w_hold=take(0),
        w_tip=take(1),
        mode=mode,
        served=np.asarray(
            served(mode, store)
            & (picked[..., 0] >= 0)
            & _content(bound, u, p_load)
            & _gains(bound, i_battery)
        ),
        p_rider=state[..., 5],
        p_out=np.where(flows, u * need, 0.0),
        p_load=p_load,
        i_out=state[..., 1],
        i_battery=i_battery,
        v_bus=state[..., 2],
        v_out=u,
    )
    return answer, w[:, 0], kind[:, 0]


def _node_volts(bound: Bound, u: F, need: F) -> F:
    """Volts where battery and load hang: behind this rig's own lead when several rigs feed them."""
    return np.asarray(u - bound.extras["r_lead"] * need) if "r_lead" in bound.extras else u


def _battery_amps(bound: Bound, u: F) -> F:
    x = bound.extras
    return np.asarray((u - x["v_back"]) / x["r_store"]) if "v_back" in x else np.zeros_like(u)


def _load_watts(bound: Bound, u: F, on: NDArray[np.bool_]) -> F:
    """Watts that reach the appliance itself."""
    x = bound.extras
    if bound.hookup.load is None:
        return np.zeros_like(u)
    if "p_load_board" in x:
        return np.where(on, x["p_load"], 0.0)
    with np.errstate(invalid="ignore"):
        amps = x["load_a"] + x["load_g"] * u
        return np.where(on, u * amps - x["r_load_wire"] * amps**2 + x["load_p"] - x["p_load_wire"], 0.0)


def lines(bound: Bound, cadence: F, columns: slice | None = None) -> F:
    """(6, gears, cols, cadences): crank torque, mode, machine amps, bus volts, output volts, output amps."""
    from sparewatt.rig import fast

    pick = columns or slice(0, 1)
    return fast.torques(
        np.ascontiguousarray(bound.params[:, pick]),
        cadence,
        *(np.ascontiguousarray(x[:, pick]) for x in (bound.ratio, bound.gain, bound.drag, bound.slope)),
    )


def all_crossings(bound: Bound, gear: int, w: F, kind: NDArray[np.int64]) -> tuple[Crossing, ...]:
    """The nominal crossings of one gear as records, rising cadence."""
    words = {1: "holds", 2: "tips", 3: "chatters"}
    found = []
    for value, code in zip(w[gear], kind[gear], strict=True):
        if code:
            torque = lines(bound, np.array([value]))[0, gear, 0, 0]
            found.append(Crossing(kind=words[int(code)], w_crank=float(value), torque_crank=float(torque)))
    return tuple(found)


def point(bound: Bound, gear: int, w_crank: float, *, winding: float = NAN, magnet: float = NAN) -> Point:
    """All states of the nominal rig at one crank speed, by the plain solver."""
    q = bound.params[:, 0]
    ratio, gain = float(bound.ratio[gear, 0]), float(bound.gain[gear, 0])
    w = w_crank * ratio
    state = steady.operate(q, w)
    torque = float(gain * state.torque_shaft + bound.drag[gear, 0] + bound.slope[gear, 0] * w_crank)
    i, v, u, need = (float(x) for x in (state.i_out, state.v_bus, state.v_out, state.i_demand))
    x = {key: float(column[0]) for key, column in bound.extras.items()}
    store = q[Param.HAS_STORE] > 0
    node = u - x.get("r_lead", 0.0) * need
    i_battery = (node - x["v_back"]) / x["r_store"] if store else 0.0
    p_battery = (node - i_battery * x.get("r_battery_wire", 0.0)) * i_battery if store else 0.0
    mode = Mode(int(state.mode))
    on = mode != Mode.ASLEEP or bool(store)
    p_load = float(_load_watts(bound, np.full(bound.cols, node), np.full(bound.cols, on))[0])
    flowing = mode not in (Mode.ASLEEP, Mode.CHATTERS)
    has_board = bound.hookup.board is not None
    p_in = v * i
    return Point(
        gear=bound.gears[gear],
        mode=mode,
        w_crank=w_crank,
        torque_crank=torque,
        p_rider=torque * w_crank,
        ratio=ratio,
        w_shaft=w,
        torque_shaft=float(state.torque_shaft),
        emf=float(q[Param.K_EMF] * w),
        i_out=i,
        v_machine=float(q[Param.K_EMF] * w)
        - (x["v_brush"] + i * (x["r_wind"] + float(q[Param.R_SPEED]) * w) if i else 0.0),
        v_bus=v,
        v_out=u,
        i_board_out=need,
        p_board_in=p_in,
        p_board_out=u * need if has_board else p_in,
        i_battery=i_battery,
        p_battery=p_battery,
        p_load=p_load,
        i_load=p_load / u if u > 0 and p_load else 0.0,
        served=bool(
            served(np.array(mode), bool(store))
            & _content(bound, np.full(bound.cols, u), np.full(bound.cols, p_load))[0]
        )
        or (bool(store) and bound.hookup.load is not None and flowing),
        temperature_winding=winding,
        temperature_magnet=magnet,
    )


def chain(bound: Bound, at: Point) -> tuple[Link, ...]:
    """The chain from legs to load at a point, link by link; tolls add up to what the legs give less what arrives."""
    gear = bound.gears.index(at.gear)
    links = [
        Link(
            key="legs",
            name=bound.rider.name,
            p_in=at.p_rider,
            p_out=at.p_rider,
            speed=at.w_crank,
            torque=at.torque_crank,
            how="computed",
        )
    ]
    links += _drive_links(bound, at, gear)
    links += _electric_links(bound, at)
    return tuple(links)


def _drive_links(bound: Bound, at: Point, gear: int) -> list[Link]:
    """One link a step of the drive; watts by walking back from the machine."""
    s = bound.stages
    n = len(s.names)
    speeds = [at.w_crank]
    for k in range(n):
        speeds.append(speeds[-1] * float(s.ratio[k, gear, 0]))
    torque = at.torque_shaft
    found = []
    for k in range(n - 1, -1, -1):
        geometric = float(s.ratio[k, gear, 0]) / (1 - _creep(bound, k, gear))
        inner = torque + float(s.drag[k, 0]) + float(s.slope[k, 0]) * speeds[k + 1]
        torque_in = geometric * inner / float(s.efficiency[k, 0])
        pull = torque_in / float(s.surface[k, 0]) if math.isfinite(float(s.surface[k, 0])) else NAN
        grip = float(s.grip[k, 0])
        used = pull / grip if math.isfinite(grip) else NAN
        found.append(
            Link(
                key=f"stage {k + 1}",
                name=s.names[k],
                p_in=torque_in * speeds[k],
                p_out=torque * speeds[k + 1],
                speed=speeds[k + 1],
                torque=torque,
                limit="grip" if math.isfinite(grip) else "",
                used=used,
                how=s.how[k],
            )
        )
        torque = torque_in
    return found[::-1]


def _creep(bound: Bound, stage: int, gear: int) -> float:
    part = bound.rig.stage[stage]
    return part.creep.value if part.creep is not None else 0.0


def _electric_links(bound: Bound, at: Point) -> list[Link]:
    """Machine, diode, wire, board, battery wire, battery, load wire, load board, load."""
    x = {key: float(column[0]) for key, column in bound.extras.items()}
    i, joined = at.i_out, bound.hookup
    machine = bound.rig.machine
    v_after_diode = at.v_machine - (x["v_diode"] + i * x["r_diode"] if i else 0.0)
    limit = machine.current_limit.value if machine and machine.current_limit else NAN
    links = [
        Link(
            key="machine",
            name=(machine.name if machine and machine.name else "machine"),
            p_in=at.torque_shaft * at.w_shaft,
            p_out=at.v_machine * i,
            speed=at.w_shaft,
            torque=at.torque_shaft,
            volts=at.v_machine,
            amps=i,
            temperature=at.temperature_winding,
            limit="amps it may carry for hours",
            used=i / limit if limit else NAN,
            how=_how(bound, "machine."),
        )
    ]
    if bound.rig.diode is not None and bound.rig.diode.kind != "none":
        rating = bound.rig.diode.current_rating
        links.append(
            Link(
                key="diode",
                name="bridge" if machine and machine.kind != "pm_dc" else "diode",
                p_in=at.v_machine * i,
                p_out=v_after_diode * i,
                volts=v_after_diode,
                amps=i,
                limit="amps on its label" if rating else "",
                used=i / rating.value if rating else NAN,
                how=_how(bound, "diode."),
            )
        )
    links.append(
        Link(
            key="wire",
            name="wire",
            p_in=v_after_diode * i,
            p_out=at.v_bus * i,
            volts=at.v_bus,
            amps=i,
            how=_how(bound, "wire."),
        )
    )
    if joined.board is not None:
        amps_in = joined.board.input_current
        links.append(
            Link(
                key="board",
                name=joined.board.name,
                p_in=at.p_board_in,
                p_out=at.p_board_out,
                volts=at.v_out,
                amps=at.i_board_out,
                limit="amps it takes in" if amps_in else "",
                used=i / amps_in.value if amps_in else NAN,
                how=_how(bound, "converter."),
            )
        )
    return links + _output_links(bound, at, x)


def _output_links(bound: Bound, at: Point, x: dict[str, float]) -> list[Link]:
    joined, out = bound.hookup, []
    arriving = at.p_board_out
    if x.get("p_field", 0.0) > 0 and at.i_out > 0:
        left = arriving - x["p_field"]
        out.append(
            Link(
                key="field",
                name="field coil",
                p_in=arriving,
                p_out=left,
                volts=at.v_out,
                how=_how(bound, "machine."),
            )
        )
        arriving = left
    if joined.battery is not None:
        i = at.i_battery
        if i >= 0:
            wire = i * i * x["r_battery_wire"]
            if joined.board is not None:
                out.append(
                    Link(
                        key="battery wire",
                        name="battery wire",
                        p_in=arriving,
                        p_out=arriving - wire,
                        volts=at.v_out,
                        amps=i,
                        how=_how(bound, "wire."),
                    )
                )
            out.append(
                Link(
                    key="battery",
                    name=joined.battery.name or "battery",
                    p_in=at.p_battery,
                    p_out=at.p_battery,
                    volts=at.v_out - i * x["r_battery_wire"],
                    amps=i,
                    how=_how(bound, "battery."),
                )
            )
        else:
            out.append(
                Link(
                    key="battery",
                    name=joined.battery.name or "battery",
                    p_in=arriving,
                    p_out=arriving - at.p_battery,
                    volts=at.v_out,
                    amps=i,
                    how=_how(bound, "battery."),
                )
            )
    if joined.load is not None and at.p_load > 0:
        amps = x["load_a"] + x["load_g"] * at.v_out
        lost = x["p_load_wire"] + x["r_load_wire"] * amps**2
        if lost > 0:
            asked = x.get("p_load_board", at.p_load + lost)
            out.append(
                Link(
                    key="load wire",
                    name="load wire",
                    p_in=asked,
                    p_out=asked - lost,
                    volts=at.v_out,
                    amps=asked / at.v_out if at.v_out else NAN,
                    how=_how(bound, "wire."),
                )
            )
        if joined.load_board is not None:
            out.append(
                Link(
                    key="load board",
                    name=joined.load_board.name,
                    p_in=x["p_load_board"] - lost,
                    p_out=at.p_load,
                    volts=x["v_load"],
                    amps=at.p_load / x["v_load"],
                    how=_how(bound, "converter."),
                )
            )
        drop = x["r_load_wire"] * (at.p_load + lost) / at.v_out if at.v_out else 0.0
        volts = x["v_load"] if joined.load_board is not None else at.v_out - drop
        out.append(
            Link(
                key="load",
                name=joined.load.name,
                p_in=at.p_load,
                p_out=at.p_load,
                volts=volts,
                amps=at.p_load / volts if volts else NAN,
                how=_how(bound, "load."),
            )
        )
    return out


def _how(bound: Bound, prefix: str) -> str:
    from sparewatt.rig.columns import WORST

    hows = {how for key, how in bound.hows.items() if key.startswith(prefix)}
    return next((how for how in WORST if how in hows), "measured")
