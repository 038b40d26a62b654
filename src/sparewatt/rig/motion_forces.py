"""Forces of the moving rig: what each state's rate of change is, and what can be read off at a moment.

State of rig k, five numbers from 5 k: crank angle, crank speed, machine speed, machine amps, bus volts; after the rigs the
tool's amps and speed. Ways of being (freewheel engaged, diode conducting, board awake...) are whole numbers in `du` and
`gi`, slow states (push, reserve, temperatures, charge) floats in `su` and `gf`. Compiled by `rig.compiling.jit`.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from sparewatt.rig import motion_slots as ix
from sparewatt.rig.compiling import jit, small

F = NDArray[np.float64]
I = NDArray[np.int64]  # noqa: E741


@small
def shape_at(k: int, theta: float, ripple: float, table: F) -> float:
    """Push at a crank angle over its mean of the turn: two lobes, or a table over one turn (straight lines, closed)."""
    n = table.shape[1]
    if n == 0:
        return 1.0 - ripple * math.cos(2.0 * theta)
    x = theta / (2.0 * math.pi)
    x = (x - math.floor(x)) * n
    at = int(x)
    if at >= n:
        at = n - 1
    left, right = table[k, at], table[k, at + 1 if at + 1 < n else 0]
    value: float = left + (right - left) * (x - at)
    return value


@small
def mean_torque(k: int, w: float, du: I, su: F, mv: F) -> float:
    """Mean push of the turn at a crank speed, N*m: what the rider means to push, within what the legs still have."""
    if du[k, ix.D_PEDALS] == 0 or du[k, ix.D_HERE] == 0:
        return 0.0
    speed = w if w > 0.0 else 0.0
    top = mv[k, ix.M_WTOP] if du[k, ix.D_HOLDS] == 0 else mv[k, ix.M_WSPRINT]
    torque = su[k, ix.U_PUSH] * (1.0 - speed / top)
    best = mv[k, ix.M_PEAK]
    if mv[k, ix.M_TIRES] > 0.0 and mv[k, ix.M_WORK] > 0.0:
        share = su[k, ix.U_LEFT] / mv[k, ix.M_WORK]
        share = 0.0 if share < 0.0 else (1.0 if share > 1.0 else share)
        best = mv[k, ix.M_CP] + (mv[k, ix.M_PEAK] - mv[k, ix.M_CP]) * share
    most = 4.0 * best / mv[k, ix.M_WSPRINT] * (1.0 - speed / mv[k, ix.M_WSPRINT])
    if torque > most:
        torque = most
    return torque if torque > 0.0 else 0.0


@small
def flux(i: float, oc: F) -> float:
    """Volts per speed (and torque per amp) of the tool's motor at a current."""
    if oc[ix.O_MOTOR] == 1.0:
        value: float = oc[ix.O_MK] * i / (1.0 + i / oc[ix.O_MSAT])
        return value
    return float(oc[ix.O_MK])


@small
def watts_out(p_in: float, l0: float, l1: float, l2: float) -> float:
    """Watts out of a board from watts in: the root of p_in = p + l0 + l1 p + l2 p^2."""
    c = p_in - l0
    if c <= 0.0:
        return 0.0
    b = 1.0 + l1
    value: float = 2.0 * c / (b + math.sqrt(b * b + 4.0 * l2 * c))
    return value


@jit
def hold(
    a: float, g: float, p: float, v_set: float, i_set: float, l0: float, l1: float, l2: float
) -> tuple[float, float]:
    """What a board on the rig holds at its output (V) and takes in meanwhile (W): `bind_output.hold_board` for one rig."""
    asked = a + g * v_set + p / v_set
    held, amps = v_set, asked
    if asked > i_set:
        amps = i_set
        c = a - i_set
        if g > 0.0:
            disc = c * c - 4.0 * g * p
            held = (-c + math.sqrt(disc)) / (2.0 * g) if disc >= 0.0 else 0.0
        else:
            held = 0.0
        if not ix.LEAST_VOLTS < held <= v_set:  # not to be carried: the output is as good as shorted
            low = g + p / ix.LEAST_VOLTS**2
            held = (i_set - a) / low if low > 0.0 and i_set > a else 0.0
            held = held if held > 1e-6 else 1e-6
    p_out = held * amps
    if p_out < 0.0:
        p_out = 0.0
    return held, p_out + l0 + l1 * p_out + l2 * p_out * p_out


@small
def sagged(a: float, g: float, p: float, p_out: float, held: float) -> float:
    """Output volts at which the demand takes p_out watts (`steady._output_volts`); where it cannot make do with them, the
    last few tenths of a volt at which such a load still conducts."""
    c = p - p_out
    u = 0.0
    if g > 0.0:
        disc = a * a - 4.0 * g * c
        if disc >= 0.0:
            root = math.sqrt(disc)
            u = (-a + root) / (2.0 * g) if a <= 0.0 else -2.0 * c / (a + root)
    elif a > 0.0:
        u = -c / a
    if not u > ix.LEAST_VOLTS:
        low = g + p / ix.LEAST_VOLTS**2
        u = (-a + math.sqrt(a * a + 4.0 * low * p_out)) / (2.0 * low) if low > 0.0 else 0.0
    return u if u < held else held


@small
def rest_volts(a: float, g: float, p: float) -> float:
    """Output volts with nothing from the rig (a battery behind g), 0 where it cannot carry the load."""
    if g <= 0.0:
        return 0.0
    disc = a * a - 4.0 * g * p
    if disc < 0.0:
        return 0.0
    value: float = (-a + math.sqrt(disc)) / (2.0 * g)
    return value


@small
def let_back(v: float, a: float, g: float, p: float, back: float) -> tuple[float, float]:
    """Output volts with nothing pushed out, and the amps (not above 0) a step-down board's body diode lets back."""
    u = rest_volts(a, g, p)
    if not u - v > back:
        return u, 0.0
    u = rest_volts(a - (v + back) / ix.BODY, g + 1.0 / ix.BODY, p)
    return u, (v + back - u) / ix.BODY


@jit
def own_board(u: float, i: float, oc: F) -> tuple[float, float]:
    """A tool behind a board of its own, fed at u: volts at the tool and watts drawn at u, for the tool's amps i."""
    set_v, cap = oc[ix.O_OSET], oc[ix.O_OAMPS]
    v = set_v
    if u < ix.LEAST_VOLTS:  # nothing to make volts from
        v = set_v * (u * u if u > 0.0 else 0.0) / ix.LEAST_VOLTS**2
    if cap < 1e9:
        share = (1.0 + ix.AMPS_BAND - i / cap) / (2.0 * ix.AMPS_BAND)
        v = v * (1.0 if share > 1.0 else (0.0 if share < 0.0 else share))
    if oc[ix.O_OIN] < 1e9 and i > 1e-6:
        most = watts_out(u * oc[ix.O_OIN], oc[ix.O_OL0], oc[ix.O_OL1], oc[ix.O_OL2]) / i
        if v > most:
            v = most
    p = v * i
    drawn: float = p + oc[ix.O_OL0] + oc[ix.O_OL1] * p + oc[ix.O_OL2] * p * p
    return v, drawn


@small
def conduct_load(u: float, a: float, g: float, p: float) -> float:
    """Amps a node at u feeds: a + g u + p/u, the last fading below a few tenths of a volt."""
    low = u if u > ix.LEAST_VOLTS else ix.LEAST_VOLTS
    value: float = a + g * u + p * (u if u > 0.0 else 0.0) / (low * low)
    return value


@small
def electric(y: F, rigs: int, q: F, mv: F, du: I, su: F, gi: I, gf: F, oc: F, res: F) -> None:
    """Output volts res[0], tool volts res[1], then for rig k from 2 + 3 k: amps into its board, amps out, way of running.

    `rates` adds for rig k, from 2 + 3 rigs + 2 k: the torque its drive passes on at the machine's shaft, the rider's push.
    A single rig's board adds how far it is from passing through (7, V) and the share of what is asked that it serves (8).
    """
    tool = oc[ix.O_MOTOR] > 0.0 and gi[ix.I_RUNS] == 1 and gi[ix.I_PLUGGED] == 1
    it = y[5 * rigs] if tool else 0.0
    a, g, p = gf[ix.F_A], gf[ix.F_G], gf[ix.F_P]
    res[1] = 0.0
    on = int(oc[ix.O_MON])
    if rigs > 1:
        if tool and on == 1:
            _v_tool, extra = own_board(1e9, it, oc)
            _shared_bus(y, rigs, q, mv, du, su, gi, a, g, p + extra, res)
            if extra > res[0] * oc[ix.O_OIN]:  # its board takes in all the amps it can
                _shared_bus(y, rigs, q, mv, du, su, gi, a + oc[ix.O_OIN], g, p, res)
            res[1], extra = own_board(res[0], it, oc)
            return
        _shared_bus(y, rigs, q, mv, du, su, gi, a + it, g, p, res)
        res[1] = res[0]
        return
    v = y[4]
    kind = int(q[0, ix.Q_KIND])
    if tool and on == 2:
        a = a + it
    held, p_held = su[0, ix.U_HELD], su[0, ix.U_PHELD]
    if kind == ix.NONE:
        u = v
        if tool and on == 1:
            res[1], extra = own_board(u, it, oc)
            p = p + extra
        res[0] = u
        i = conduct_load(u, a, g, p) if gi[ix.I_PLUGGED] == 1 else 0.0
        res[2], res[3], res[4] = i, i, float(ix.DIRECT)
        if tool and on != 1:
            res[1] = u
        return
    # With its blocking diode gone the battery comes back through a step-down board, awake or not
    back = mv[0, ix.M_BACKFEED] if du[0, ix.D_DIODE] == 1 or du[0, ix.D_DIODE] == 3 else math.inf
    if du[0, ix.D_AWAKE] == 0:
        if tool and on == 1:
            res[1], extra = own_board(1e9, it, oc)
            u = rest_volts(a, g, p + extra)
            if extra > u * oc[ix.O_OIN]:  # its board takes in all the amps it can
                u = rest_volts(a + oc[ix.O_OIN], g, p)
            res[1], extra = own_board(u, it, oc)
            p = p + extra
        u, i = let_back(v, a, g, p, back)
        res[0], res[2], res[3], res[4] = u, i, i, float(ix.ASLEEP)
        if tool and on == 2:
            res[1] = u
        return
    loss, limit, soft = q[0, ix.Q_LOSS], q[0, ix.Q_LIMIT], su[0, ix.U_SOFT]
    l0, l1, l2 = q[0, ix.Q_L0], q[0, ix.Q_L1], q[0, ix.Q_L2]
    if tool and (on == 0 or (on == 2 and g == 0.0 and p == 0.0 and a == it)):  # nothing else holds the output
        _tool_on_board(v, it, kind, loss, limit, soft, q, mv, res)
        return
    if tool:
        if on == 1:
            near = held if held > 1.0 else q[0, ix.Q_SET]
            res[1], extra = own_board(near, it, oc)
            p = p + extra
        held, p_held = hold(a, g, p, q[0, ix.Q_SET], mv[0, ix.M_ISET], l0, l1, l2)
        if on == 2:
            res[1] = held
    if soft < 1.0 and oc[ix.O_BATTERY] > 0.0 and gi[ix.I_HOOKED] == 1:
        # Beside a battery a rising board pushes its share of the amps, and the battery's volts follow
        amps = soft * (a + g * held + p / held)
        amps = amps if amps > 0.0 else 0.0
        held, soft = rest_volts(a - amps, g, p), 1.0
        watts = held * amps
        p_held = watts + l0 + l1 * watts + l2 * watts * watts
    i = p_held * soft / (v if v > ix.LEAST_VOLTS else ix.LEAST_VOLTS)
    label, u = ix.REGULATES, held
    if g > 0.0 and a + g * held + p / held < 0.0:  # a battery above the setting: nothing flows into it
        u = rest_volts(a, g, p)
    if i > limit:
        i, label = limit, ix.LIMITED
        u = sagged(a, g, p, watts_out(v * limit, l0, l1, l2), held)
    u_through, edge = v - loss, held + loss
    if kind == ix.BOOST:
        _pass_through(v, u_through, i, u, p_held, soft, label, l0, l1, l2, a, g, p, res)
        return
    if kind == ix.BUCK and v < ix.BLEND * edge:
        i_through = conduct_load(u_through, a, g, p) * soft
        if i_through < 0.0:
            u_through, i_through = let_back(v, a, g, p, back)
        if v > edge:
            share = (v - edge) / ((ix.BLEND - 1.0) * edge)
            i_edge = conduct_load(held, a, g, p) * soft
            i_edge = 0.0 if i_edge < 0.0 else (limit if i_edge > limit else i_edge)
            i, label = share * i + (1.0 - share) * i_edge, ix.DROPS_OUT
        elif i_through <= limit:
            i, u, label = i_through, u_through, ix.DROPS_OUT
        else:
            i, label = limit, ix.LIMITED
            u = sagged(a, g, p, watts_out(v * limit, l0, l1, l2), held)
    res[0], res[2], res[4] = u, i, float(label)
    if label == ix.DROPS_OUT:
        res[3], res[8] = i, soft
    else:
        _pushes(v, u, p_held, soft, label, i, l0, l1, l2, res)


@small
def _pushes(
    v: float,
    u: float,
    p_held: float,
    soft: float,
    label: int,
    i: float,
    l0: float,
    l1: float,
    l2: float,
    res: F,
) -> None:
    """Amps a board pushes out while it holds or is limited, and the share of what is asked that this serves."""
    if label == ix.LIMITED:
        watts, res[8] = watts_out(v * i, l0, l1, l2), 1.0
    else:
        watts, res[8] = soft * watts_out(p_held, l0, l1, l2), soft
    res[3] = watts / u if u > 1e-4 else 0.0


@small
def _pass_through(
    v: float, u_through: float, i: float, u: float, p_held: float, soft: float, label: int, l0: float, l1: float,
    l2: float, a: float, g: float, p: float, res: F,
) -> None:  # fmt: skip
    """A step-up board: with more volts behind it than it makes, what comes goes straight through its diode, whatever the
    board would limit. i, u, label: as long as it steps up. It goes over within a narrow band of volts."""
    res[7] = u - u_through
    if u_through <= u:
        res[0], res[2], res[4] = u, i, float(label)
        _pushes(v, u, p_held, soft, label, i, l0, l1, l2, res)
        return
    share = (u_through - u) / ((ix.BLEND - 1.0) * (u if u > ix.LEAST_VOLTS else ix.LEAST_VOLTS))
    share = share if share < 1.0 else 1.0
    passed = conduct_load(u_through, a, g, p)
    if passed < 0.0:  # the battery stands above what comes through
        passed, u_through = 0.0, rest_volts(a, g, p)
    served = share + (1.0 - share) * (1.0 if label == ix.LIMITED else soft)
    res[0], res[2], res[4] = u_through, share * passed + (1.0 - share) * i, float(ix.PASSES)
    res[3], res[8] = served * passed, served


@jit
def _tool_on_board(
    v: float, it: float, kind: int, loss: float, limit: float, soft: float, q: F, mv: F, res: F
) -> None:
    """A motor alone on the rig's board: its amps are a state, so the board's limits decide the volts."""
    l0, l1, l2 = q[0, ix.Q_L0], q[0, ix.Q_L1], q[0, ix.Q_L2]
    u, label = q[0, ix.Q_SET] * soft, ix.REGULATES
    cap = mv[0, ix.M_ISET]
    if cap < 1e9:
        share = (1.0 + ix.AMPS_BAND - it / cap) / (2.0 * ix.AMPS_BAND)
        u = u * (1.0 if share > 1.0 else (0.0 if share < 0.0 else share))
    if limit < 1e9 and it > 1e-6:
        most = watts_out(v * limit, l0, l1, l2) / it
        if u > most:
            u, label = most, ix.LIMITED
    p = u * it
    i = (p + l0 + l1 * p + l2 * p * p) / (v if v > ix.LEAST_VOLTS else ix.LEAST_VOLTS)
    # A wire at one end of its range, a board at the other; it goes over within a narrow band of volts
    res[7] = u - (v - loss)
    over = -res[7] / ((ix.BLEND - 1.0) * (u if u > ix.LEAST_VOLTS else ix.LEAST_VOLTS))
    share = 1.0 if over > 1.0 else (0.0 if over < 0.0 else over)
    if kind == ix.BUCK and share < 1.0:
        i, label = share * i + (1.0 - share) * it, ix.DROPS_OUT
        u = u if res[7] < 0.0 else v - loss
    if kind == ix.BOOST and over > 0.0:
        i, u, label = share * it + (1.0 - share) * i, v - loss, ix.PASSES
    if u < 0.0:
        u = 0.0
    res[0], res[1], res[2], res[3], res[4], res[8] = u, u, i, it, float(label), 1.0


@jit
def _unit_amps(k: int, u: float, v: float, q: F, mv: F, du: I, su: F) -> tuple[float, float, int, float]:
    """Amps one rig's board pushes into a shared bus at u, its own volts ahead of its lead, its way of running, and how far
    it is a wire (1) rather than a board (0): it goes over within a narrow band of volts."""
    kind = int(q[k, ix.Q_KIND])
    r = mv[k, ix.M_LEAD]
    if kind == ix.NONE:
        return (v - u) / r, v, ix.DIRECT, 1.0
    if du[k, ix.D_AWAKE] == 0:
        return 0.0, u, ix.ASLEEP, 1.0
    through, limit = v - q[k, ix.Q_LOSS], q[k, ix.Q_LIMIT]
    label, source = ix.REGULATES, q[k, ix.Q_SET] * su[k, ix.U_SOFT]
    if kind == ix.BUCK and through < source:
        label, source = ix.DROPS_OUT, through
    i = (source - u) / r
    if i > 0.0:
        cap = mv[k, ix.M_ISET]
        if cap < 1e9:  # an amps screw gives way a little as the volts sink, so that they can find their place
            cap = cap * (1.0 + ix.AMPS_BAND * (1.0 - u / q[k, ix.Q_SET]))
            i = i if i < cap else cap
        if limit < 1e9:
            most = watts_out(v * limit, q[k, ix.Q_L0], q[k, ix.Q_L1], q[k, ix.Q_L2]) / (u if u > 0.5 else 0.5)
            if i > most:
                i, label = most, ix.LIMITED
        source = u + r * i
    else:
        i = 0.0
    over = (through - source) / ((ix.BLEND - 1.0) * (source if source > ix.LEAST_VOLTS else ix.LEAST_VOLTS))
    wire = 0.0
    if kind == ix.BUCK:
        wire = 1.0 - over
    elif kind == ix.BOOST and over > 0.0:  # more comes straight through than the board would push
        label, source, wire = ix.PASSES, through, over
        i = (source - u) / r
        i = i if i > 0.0 else 0.0
    return i, source, label, (1.0 if wire > 1.0 else (0.0 if wire < 0.0 else wire))


@jit
def _surplus(u: float, y: F, rigs: int, q: F, mv: F, du: I, su: F, a: float, g: float, p: float) -> float:
    total = -conduct_load(u, a, g, p)
    for k in range(rigs):
        i, _source, _label, _wire = _unit_amps(k, u, y[5 * k + 4], q, mv, du, su)
        total += i
    return total


@jit
def _shared_bus(
    y: F, rigs: int, q: F, mv: F, du: I, su: F, gi: I, a: float, g: float, p: float, res: F
) -> None:
    """Highest volts of a bus shared by several rigs at which what they push equals what is asked."""
    if gi[ix.I_PLUGGED] == 0:
        a, g, p = 0.0, 0.0, 0.0
    high = 0.0
    for k in range(rigs):
        _i, source, _label, _wire = _unit_amps(k, 1e6, y[5 * k + 4], q, mv, du, su)
        if (du[k, ix.D_AWAKE] == 1 or int(q[k, ix.Q_KIND]) == ix.NONE) and source > high:
            high = source
    rest = rest_volts(a, g, p)
    high = (high if high > rest else rest) + 1e-9
    low, f_low, f_high = high, -1.0, _surplus(high, y, rigs, q, mv, du, su, a, g, p)
    found = f_high >= 0.0
    step = 0.01
    while not found and low > 0.05 * high:
        low = low - step * high
        step = step * 1.4
        f_low = _surplus(low, y, rigs, q, mv, du, su, a, g, p)
        if f_low > 0.0:
            break
        high, f_high = low, f_low
    u = 0.0 if high <= 0.01 else high
    if f_low > 0.0 and not found:
        side = 0
        for n in range(60):
            u = (low * f_high - high * f_low) / (f_high - f_low) if n < 40 else 0.5 * (low + high)
            f = _surplus(u, y, rigs, q, mv, du, su, a, g, p)
            if abs(f) < 1e-10 or high - low < 1e-12 * high:
                break
            if f > 0.0:
                low, f_low = u, f
                if side == 1:
                    f_high *= 0.5
                side = 1
            else:
                high, f_high = u, f
                if side == -1:
                    f_low *= 0.5
                side = -1
    elif not found:
        u = 0.25 * high if p > 0.0 else 0.0
    res[0] = u
    for k in range(rigs):
        v = y[5 * k + 4]
        i, source, label, wire = _unit_amps(k, u, v, q, mv, du, su)
        res[2 + 3 * k], res[3 + 3 * k], res[4 + 3 * k] = i, i, float(label)
        if wire < 1.0:
            p_out = i * source
            low_v = v if v > ix.LEAST_VOLTS else ix.LEAST_VOLTS
            board = (p_out + q[k, ix.Q_L0] + q[k, ix.Q_L1] * p_out + q[k, ix.Q_L2] * p_out * p_out) / low_v
            res[2 + 3 * k] = wire * i + (1.0 - wire) * board


@small
def clamp_amps(k: int, v: float, mv: F, du: I) -> float:
    """Amps of the over-voltage clamp at bus volts v."""
    v_on = mv[k, ix.M_VCLAMP]
    if not v_on < 1e9 or v <= v_on or du[k, ix.D_CLAMP] == 0:
        return 0.0
    share = (v - v_on) / (ix.CLAMP_BAND * v_on)
    value: float = (share if share < 1.0 else 1.0) * v / mv[k, ix.M_RCLAMP]
    return value


@small
def shaft_ask(k: int, w: float, i: float, k_emf: float, q: F) -> float:
    """Torque the machine asks of its shaft; negative where the battery drives it."""
    dry = w / ix.STILL if abs(w) < ix.STILL else (1.0 if w > 0.0 else -1.0)
    value: float = (k_emf - q[k, ix.Q_RSPEED] * i) * i + q[k, ix.Q_TC] * dry + q[k, ix.Q_B] * w
    return value


@small
def train(
    k: int, theta: float, w_c: float, w_g: float, i: float, du: I, su: F, mv: F, q: F, geo: F, table: F
) -> tuple[float, float, float, float]:
    """(crank acceleration, machine acceleration, torque passed at the machine's shaft, rider torque)."""
    j = du[k, ix.D_GEAR]
    push = mean_torque(k, w_c, du, su, mv) * shape_at(k, theta, mv[k, ix.M_RIPPLE], table)
    ahead = (
        geo[k, j, ix.G_DB] * (w_c / 0.02 if abs(w_c) < 0.02 else (1.0 if w_c > 0.0 else -1.0))
        + geo[k, j, ix.G_SB] * w_c
    )
    if du[k, ix.D_PEDALS] == 0 or du[k, ix.D_HERE] == 0:
        push = -geo[k, j, ix.G_JC] * w_c / ix.LEGS_STOP if (mv[k, ix.M_FREE] > 0.0 or w_c < 0.0) else 0.0
    dry = w_g / ix.STILL if abs(w_g) < ix.STILL else (1.0 if w_g > 0.0 else -1.0)
    ask = shaft_ask(k, w_g, i, su[k, ix.U_K], q) + geo[k, j, ix.G_DA] * dry + geo[k, j, ix.G_SA] * w_g
    if du[k, ix.D_ENGAGED] == 0:
        return (push - ahead) / geo[k, j, ix.G_JC], -ask / geo[k, j, ix.G_JS], 0.0, push
    n, gain = geo[k, j, ix.G_RATIO], geo[k, j, ix.G_GAIN]
    accel = (push - ahead - gain * ask) / (geo[k, j, ix.G_JC] + gain * n * geo[k, j, ix.G_JS])
    passed = ask + geo[k, j, ix.G_JS] * n * accel
    if passed < 0.0 and mv[k, ix.M_FREE] == 0.0:  # torque comes back from the machine: losses turn round
        gain = n * n / gain
        accel = (push - ahead - gain * ask) / (geo[k, j, ix.G_JC] + gain * n * geo[k, j, ix.G_JS])
        passed = ask + geo[k, j, ix.G_JS] * n * accel
    return accel, n * accel, passed, push


@small
def tool_torque(w: float, oc: F, gf: F) -> float:
    """Torque that holds the tool back: brushes and bearings, its fan, and the work."""
    dry = w / 2.0 if w < 2.0 else 1.0
    value: float = (oc[ix.O_MTC] + gf[ix.F_WORK] * oc[ix.O_MTOOL]) * dry + oc[ix.O_MFAN] * w * w
    return value


@small
def rates(
    y: F, rigs: int, q: F, mv: F, geo: F, table: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, dy: F
) -> None:
    """Rate of change of every fast state."""
    electric(y, rigs, q, mv, du, su, gi, gf, oc, res)
    for k in range(rigs):
        b = 5 * k
        j = du[k, ix.D_GEAR]
        w_c = y[b + 1]
        w_g = geo[k, j, ix.G_RATIO] * w_c if du[k, ix.D_ENGAGED] == 1 else y[b + 2]
        i = y[b + 3] if du[k, ix.D_CONDUCTS] != 0 else 0.0
        v = y[b + 4]
        a_c, a_g, passed, push = train(k, y[b], w_c, w_g, i, du, su, mv, q, geo, table)
        res[2 + 3 * rigs + 2 * k], res[3 + 3 * rigs + 2 * k] = passed, push
        dy[b] = w_c
        dy[b + 1] = a_c
        dy[b + 2] = a_g
        if du[k, ix.D_CONDUCTS] == 0:
            dy[b + 3] = 0.0
        else:
            drop = q[k, ix.Q_DROP] if du[k, ix.D_CONDUCTS] > 0 else -mv[k, ix.M_BRUSH]
            dy[b + 3] = (su[k, ix.U_K] * w_g - drop - (su[k, ix.U_R] + q[k, ix.Q_RSPEED] * w_g) * i - v) / mv[
                k, ix.M_IND
            ]
        out = res[2 + 3 * k] + clamp_amps(k, v, mv, du) + mv[k, ix.M_BLEED] * v
        dy[b + 4] = (i - out) / mv[k, ix.M_CAP]
    t = 5 * rigs
    dy[t], dy[t + 1] = 0.0, 0.0
    if oc[ix.O_MOTOR] > 0.0:
        i, w = y[t], y[t + 1]
        if gi[ix.I_RUNS] == 1 and gi[ix.I_PLUGGED] == 1:
            dy[t] = (
                res[1] - oc[ix.O_MBRUSH] * (i / 0.02 if i < 0.02 else 1.0) - oc[ix.O_MR] * i - flux(i, oc) * w
            ) / oc[ix.O_ML]
            if i <= 0.0 and dy[t] < 0.0:
                dy[t] = 0.0
        dy[t + 1] = (flux(i, oc) * i - tool_torque(w, oc, gf)) / oc[ix.O_MJ]
        if w <= 0.0 and dy[t + 1] < 0.0:
            dy[t + 1] = 0.0


@jit
def observe(
    y: F, rigs: int, q: F, mv: F, geo: F, du: I, su: F, gi: I, gf: F, oc: F, res: F, row: F, power: F
) -> None:
    """What can be read at a moment: channels into `row`, watts of every ledger line into `power`.

    Reads `res` as `rates` left it for the same states.
    """
    for n in range(ix.N_SUMS):
        power[n] = 0.0
    u = res[0]
    pushed = 0.0
    for k in range(rigs):
        b = 5 * k
        j = du[k, ix.D_GEAR]
        w_c, v = y[b + 1], y[b + 4]
        w_g = geo[k, j, ix.G_RATIO] * w_c if du[k, ix.D_ENGAGED] == 1 else y[b + 2]
        i = y[b + 3] if du[k, ix.D_CONDUCTS] != 0 else 0.0
        passed, push = res[2 + 3 * rigs + 2 * k], res[3 + 3 * rigs + 2 * k]
        i_in, i_out = res[2 + 3 * k], res[3 + 3 * k]
        i_clamp = clamp_amps(k, v, mv, du)
        if du[k, ix.D_PEDALS] == 1 and du[k, ix.D_HERE] == 1:
            power[ix.S_RIDER] += push * w_c
        else:
            power[ix.S_LEGS] -= push * w_c
            push = 0.0
        gain = geo[k, j, ix.G_GAIN]
        if passed < 0.0 and mv[k, ix.M_FREE] == 0.0:
            gain = geo[k, j, ix.G_RATIO] * geo[k, j, ix.G_RATIO] / gain
        through = (gain - geo[k, j, ix.G_RATIO]) * passed * w_c if du[k, ix.D_ENGAGED] == 1 else 0.0
        ahead = (
            geo[k, j, ix.G_DB] * (w_c / 0.02 if abs(w_c) < 0.02 else (1.0 if w_c > 0.0 else -1.0))
            + geo[k, j, ix.G_SB] * w_c
        )
        dry = w_g / ix.STILL if abs(w_g) < ix.STILL else (1.0 if w_g > 0.0 else -1.0)
        power[ix.S_DRIVE] += (
            through + ahead * w_c + (geo[k, j, ix.G_DA] * dry + geo[k, j, ix.G_SA] * w_g) * w_g
        )
        power[ix.S_FRICTION] += (q[k, ix.Q_TC] * dry + q[k, ix.Q_B] * w_g) * w_g
        r_wind = mv[k, ix.M_RNOW] + (su[k, ix.U_R] - q[k, ix.Q_R])
        power[ix.S_COPPER] += r_wind * i * i
        power[ix.S_WIRE] += (su[k, ix.U_R] - r_wind) * i * i
        drop = q[k, ix.Q_DROP] if du[k, ix.D_CONDUCTS] > 0 else -mv[k, ix.M_BRUSH]
        power[ix.S_DROPS] += drop * i
        power[ix.S_BLEED] += mv[k, ix.M_BLEED] * v * v
        power[ix.S_CLAMP] += i_clamp * v
        source = u + mv[k, ix.M_LEAD] * i_out if rigs > 1 else u
        label = int(res[4 + 3 * k])
        kind = int(q[k, ix.Q_KIND])
        if kind == ix.NONE and rigs > 1:
            source = v
        if i_in < 0.0 and kind != ix.NONE:
            power[ix.S_BOARD] += (v - u) * i_in
            pushed += i_in
        else:
            power[ix.S_BOARD] += v * i_in - source * i_out
            pushed += i_out
        power[ix.S_LEAD] += (source - u) * i_out
        c = 12 * k
        row[c + ix.C_WC], row[c + ix.C_WS], row[c + ix.C_AMPS], row[c + ix.C_VBUS] = w_c, w_g, i, v
        row[c + ix.C_AOUT], row[c + ix.C_PRIDER], row[c + ix.C_TCRANK] = i_out, push * w_c, push
        row[c + ix.C_RESERVE], row[c + ix.C_TW] = su[k, ix.U_LEFT], su[k, ix.U_TW]
        row[c + ix.C_TM] = mv[k, ix.M_AIR] + mv[k, ix.M_MSHARE] * (su[k, ix.U_TC] - mv[k, ix.M_AIR])
        row[c + ix.C_PCLAMP] = i_clamp * v
        row[c + ix.C_LABEL] = float(label)
    plugged = gi[ix.I_PLUGGED] == 1
    running = gi[ix.I_RUNS] == 1 and plugged
    i_batt = 0.0
    if oc[ix.O_BATTERY] > 0.0 and gi[ix.I_HOOKED] == 1 and plugged:
        i_batt = (u - gf[ix.F_OCV] - gf[ix.F_ETA]) / oc[ix.O_RSTORE]
        power[ix.S_BWIRE] = oc[ix.O_RBW] * i_batt * i_batt
        power[ix.S_BATTERY] = (u - oc[ix.O_RBW] * i_batt) * i_batt
    if plugged:
        power[ix.S_FIELD] = oc[ix.O_FIELD] if u > ix.LEAST_VOLTS else 0.0
    p_draw, p_load = 0.0, 0.0
    t = 5 * rigs
    if running:
        size = gf[ix.F_SURGE]
        if oc[ix.O_MOTOR] > 0.0:
            i = y[t]
            if int(oc[ix.O_MON]) == 1:
                p_load = res[1] * i
                p_draw = p_load + oc[ix.O_OL0] + oc[ix.O_OL1] * p_load + oc[ix.O_OL2] * p_load * p_load
                p_draw = conduct_load(u, 0.0, 0.0, p_draw) * u
            else:
                p_draw = p_load = u * i
        else:
            p_draw = (conduct_load(u, size * oc[ix.O_LA], size * oc[ix.O_LG], size * oc[ix.O_LP])) * u
            p_load = size * oc[ix.O_LWATTS] if oc[ix.O_LWATTS] > 0.0 else p_draw
            if u <= ix.LEAST_VOLTS:
                p_load = 0.0
    if (
        rigs == 1
        and du[0, ix.D_AWAKE] == 1
        and int(q[0, ix.Q_KIND]) != ix.NONE
        and (oc[ix.O_MOTOR] == 0.0 or int(oc[ix.O_MON]) != 0)
    ):
        ramp = res[8]  # behind a board that is still rising everything gets its share only
        p_draw, p_load, i_batt = ramp * p_draw, ramp * p_load, ramp * i_batt
        power[ix.S_BATTERY], power[ix.S_BWIRE] = ramp * power[ix.S_BATTERY], ramp * power[ix.S_BWIRE]
        power[ix.S_FIELD] = ramp * power[ix.S_FIELD]
    got = u * pushed - power[ix.S_FIELD]
    if (
        rigs > 1 and gf[ix.F_G] <= 0.0 and p_draw > got >= 0.0
    ):  # fixed watts that cannot be had: what there is
        p_draw, p_load = got, p_load * got / p_draw
    power[ix.S_LOAD] = p_draw
    # What is pushed out and not taken: nothing but what a switching costs; tests hold it near zero
    power[ix.S_SWITCHED] = u * pushed - (p_draw + u * i_batt + power[ix.S_FIELD])
    s = 12 * rigs
    row[s + ix.H_VOUT], row[s + ix.H_ABATT], row[s + ix.H_PLOAD], row[s + ix.H_SOC] = (
        u,
        i_batt,
        p_load,
        gf[ix.F_SOC],
    )
    row[s + ix.H_TAMPS], row[s + ix.H_TSPEED] = y[t], y[t + 1]
    row[s + ix.H_PBATT] = power[ix.S_BATTERY]
    row[s + ix.H_SERVED] = (
        1.0
        if (running and u >= oc[ix.O_QUIT] and u <= oc[ix.O_UMAX]) or (oc[ix.O_LWATTS] < 0.0 and i_batt > 0.0)
        else 0.0
    )
