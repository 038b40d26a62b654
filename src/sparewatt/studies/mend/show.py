"""What the meters show on many slightly different rigs at once, healthy or not: the compiled solver, read as readings.

Arrays are (hypotheses, moments, variants). `Numbers` holds every number of the rig by name, and what a fault adds to it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.moment import Moment
from sparewatt.physics import heat
from sparewatt.rig.bind import hold_board
from sparewatt.rig.bind_output import rest_voltage
from sparewatt.rig.fill_motion import MAGNET_SHARE
from sparewatt.rig.layout import Bound, Kind, Param
from sparewatt.rig.outcome import Mode
from sparewatt.studies.mend.tables import Tables

__all__ = ["EXTRA", "Numbers", "Out", "extras", "show"]

F = NDArray[np.float64]
Numbers = dict[str, F]
Out = dict[str, F]
SHUT = 1e4  # V: no machine pushes a current through that
HALVINGS = 44  # of the slip that goes with the pull
MOST_SLIP = 0.9
PULSE = 0.25  # of its amps that a board draws on average while it goes on and off (anything up to half)
THROUGH = 0.3  # V lost in a board that passes straight through
# What a healthy rig has none of: slip (share at a usual pull), K hotter than expected, ohms and volts in the way of the
# current, a way that is shut, a diode turned round, a board that passes, legs as a share of what they were
EXTRA = ("slip", "hotter", "r_add", "v_add", "shut", "backward", "through", "legs")
_ROWS = (
    (Param.V_SLEEP, "sleep"), (Param.V_LOSS, "v_loss"), (Param.V_SET, "v_set"), (Param.I_LIMIT, "i_limit"),
    (Param.LOSS_0, "l0"), (Param.LOSS_1, "l1"), (Param.LOSS_2, "l2"), (Param.T_COULOMB, "t0"), (Param.B_VISCOUS, "b"),
    (Param.R_SPEED, "r_speed"),
)  # fmt: skip


def extras(shape: tuple[int, ...]) -> Numbers:
    """`EXTRA` of a healthy rig."""
    made = {name: np.zeros(shape) for name in EXTRA}
    made["legs"] = np.ones(shape)
    return made


def show(tables: Tables, x: Numbers, w: F, moments: Sequence[Moment]) -> Out:
    """Readings at these cadences, arrays of the shape of `w`; `x` is used up.

    Besides what meters show: "feel" and "effort" are logarithms (legs' watts over critical power, W worth at the best
    cadence); "free" volts per cadence with nothing joined, "rest" and "cell" of the battery, "across" the line.
    """
    _apart(x, moments)
    rise = x["rise"] + x["hotter"]
    machine = tables.bounds[0].rig.machine
    magnets = machine.magnets if machine is not None and machine.magnets else "unknown"
    r = x["r_wind"] * heat.copper_factor(tables.air + rise)
    k = x["k"] * heat.magnet_factor(
        tables.air + MAGNET_SHARE * tables.case[None, :, None] * rise, magnets=magnets
    )
    q = _params(tables, x, k, r)
    ratio = x["ratio"] * (1 - _slip(q, x, w))
    state = _solved(q, x, ratio, w)
    return _read(tables, x, w, ratio, k, r, state.reshape(6, *w.shape))


def _apart(x: Numbers, moments: Sequence[Moment]) -> None:
    """Moments at which nothing is joined, a lamp is, or a drill turns the shaft."""
    for m, moment in enumerate(moments):
        if moment.drill:
            for name, value in (("ratio", 1.0), ("gain", 1.0), ("drag", 0.0), ("slope", 0.0), ("slip", 0.0)):
                x[name][:, m] = value
        if moment.joined == "nothing":
            x["shut"][:, m] = 1.0
        if moment.joined == "lamp":
            for name in ("v_diode", "r_rest", "backward", "shut"):
                x[name][:, m] = 0.0


def _params(tables: Tables, x: Numbers, k: F, r: F) -> F:
    """The solver's table with a column for every entry."""
    q = np.zeros((len(Param), *k.shape))
    for row, name in _ROWS:
        q[row] = x[name]
    q[Param.K_EMF] = k
    q[Param.R_SOURCE] = r + x["r_rest"] + x["r_add"]
    q[Param.V_DROP] = x["v_brush"] + x["v_add"] + x["v_diode"] + SHUT * x["shut"]
    q[Param.HAS_DIODE] = tables.bounds[0].params[Param.HAS_DIODE, 0]
    _output(tables, x, q)
    _wrongly(x, q)
    flat = np.ascontiguousarray(q.reshape(len(Param), -1))
    held = flat[Param.KIND] != Kind.NONE
    if held.any():
        some = np.ascontiguousarray(flat[:, held])
        with np.errstate(invalid="ignore", divide="ignore"):
            hold_board(some, x["i_set"].reshape(-1)[held])
        flat[:, held] = some
    x["p_held"], x["v_held"] = (flat[row].reshape(k.shape) for row in (Param.P_HELD, Param.V_HELD))
    return flat


def _output(tables: Tables, x: Numbers, q: F) -> None:
    """Battery, load or lamp behind it."""
    for m, b in enumerate(tables.bounds):
        share = x["load"][:, m] / _watts(b)
        for row, key in ((Param.A, "load_a"), (Param.G, "load_g"), (Param.P, "load_p")):
            q[row, :, m] = float(b.extras[key][0]) * share if key in b.extras else 0.0
        q[Param.P, :, m] += x["field"][:, m]
        q[Param.KIND, :, m] = b.params[Param.KIND, 0]
        if b.hookup.battery is not None:
            r = x["r_cell"][:, m] + x["r_bwire"][:, m] + x["v_slope"][:, m]
            q[Param.HAS_STORE, :, m] = 1.0
            q[Param.A, :, m] -= x["v_back"][:, m] / r
            q[Param.G, :, m] += 1 / r
            q[Param.U_REST, :, m] = rest_voltage(q[Param.A, :, m], q[Param.G, :, m], q[Param.P, :, m])
        else:
            q[Param.U_QUIT, :, m] = x["quit"][:, m]
        lamp = x["lamp"][0, m, 0]
        if math.isfinite(lamp):
            for row, value in ((Param.A, lamp), (Param.G, 0.0), (Param.P, 0.0), (Param.KIND, Kind.NONE),
                               (Param.HAS_STORE, 0.0), (Param.U_QUIT, 0.0)):  # fmt: skip
                q[row, :, m] = value
    q[Param.V_HELD] = np.maximum(q[Param.U_REST], 1.0)


def _watts(bound: Bound) -> float:
    """Watts of the load as bound, 1 without one."""
    x = bound.extras
    watts = float(x["p_load_board" if "p_load_board" in x else "p_load"][0]) if "p_load" in x else 0.0
    return watts if watts > 0 else 1.0


def _wrongly(x: Numbers, q: F) -> None:
    """Boards that pass straight through, diodes turned round."""
    board = q[Param.KIND] != Kind.NONE
    through = (x["through"] > 0) & board
    q[Param.KIND][through], q[Param.V_SET][through], q[Param.V_LOSS][through] = Kind.BOOST, 1.0, THROUGH
    x["i_set"] = np.where(through, math.inf, x["i_set"])
    backward = x["backward"] > 0
    q[Param.V_DROP][backward & (board | (q[Param.HAS_STORE] <= 0))] = SHUT
    q[Param.HAS_DIODE][backward] = 0.0


def _solved(q: F, x: Numbers, ratio: F, w: F) -> F:
    """(6, entries): torque at the crank, mode, machine amps, bus volts, output volts, output amps."""
    from sparewatt.rig import fast

    turned = w.reshape(1, -1)
    drag = x["drag"].reshape(1, -1) + x["slope"].reshape(1, -1) * turned
    gain = np.ascontiguousarray(x["gain"].reshape(1, -1))
    made = fast.torques(q, np.ones(1), ratio.reshape(1, -1) * turned, gain, drag, np.zeros_like(drag))
    return made[:, 0, :, 0]


def _slip(q: F, x: Numbers, w: F) -> F:
    """Share of speed lost where tyre or belt slips: it grows with the pull, and the pull falls as it slips."""
    some = np.flatnonzero(x["slip"].reshape(-1) > 0)
    slip = np.zeros(w.size)
    if not some.size:
        return slip.reshape(w.shape)
    few = {name: x[name].reshape(-1)[some] for name in ("slip", "pull", "gain", "drag", "slope", "ratio")}
    turned, table = w.reshape(-1)[some], np.ascontiguousarray(q[:, some])
    share = few["slip"] / few["pull"]
    low, high = np.zeros(some.size), np.full(some.size, MOST_SLIP)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        more = share * _solved(table, few, few["ratio"] * (1 - middle), turned)[0] > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    slip[some] = high  # where the pull lets go at once this is the side on which it has let go
    return slip.reshape(w.shape)


def _light(x: Numbers, w: F) -> F:
    """Torque at the crank with nothing joined."""
    return np.asarray(x["gain"] * (x["t0"] + x["b"] * x["ratio"] * w) + x["drag"] + x["slope"] * w)


def _read(tables: Tables, x: Numbers, w: F, ratio: F, k: F, r: F, state: F) -> Out:
    """States as readings."""
    torque, mode, i, v_bus, u, need = state
    stopped = (x["backward"] > 0) & (i > 0)
    if stopped.any():
        i, torque, u = (
            np.where(stopped, 0.0, i),
            np.where(stopped, _light(x, w), torque),
            np.where(stopped, x["v_back"], u),
        )
    flows = np.abs(i) > 1e-9
    pulse = mode == Mode.CHATTERS
    i = np.where(pulse, PULSE * x["p_held"] / np.maximum(k * ratio * w, 1.0), i)
    torque = np.where(pulse, torque + x["gain"] * k * i, torque)
    # A battery that nothing flows into comes back to its rested volts
    u = np.where(flows, u, u - (x["v_back"] - x["v_open"]))
    u = np.where(pulse & ~(x["v_back"] > 0), 0.5 * x["v_held"], u)
    emf = k * ratio * w
    inside = np.sign(i) * (x["v_brush"] + x["v_add"]) + i * (r + x["r_speed"] * ratio * w)
    volts = np.where(flows, emf - inside, emf)
    power = np.maximum(torque * w, 0.5)
    room = np.maximum(1 - w / x["w_top"], 0.03)
    worth = np.log(np.maximum(torque, 0.05) * x["w_top"] / (4 * room * x["legs"]))
    return {
        "cadence": w, "speed": ratio * w, "volts": volts, "amps": i, "volts_out": u,
        "amps_out": np.where(flows, np.where(mode == Mode.DRIVEN, i, need), 0.0),
        "heat": tables.air + tables.case[None, :, None] * (x["rise"] + x["hotter"]),
        "feel": np.log(power / (x["cp"] * x["legs"])),
        "effort": np.where(flows, worth, np.log(tables.effort)[None, :, None]),  # without a load nobody pushes
        "mode": mode, "free": k * x["ratio"] * (1 - np.minimum(x["slip"] * _light(x, w) / x["pull"], MOST_SLIP)),
        "rest": x["v_open"], "cell": x["r_cell"], "power": power,
        "turns": np.broadcast_to(ratio, w.shape), "lead": x["r_bwire"] * np.where(flows, need, 0.0),
        "across": np.where(flows, volts - np.where(np.isfinite(v_bus), v_bus, 0.0), 0.0),
    }  # fmt: skip
