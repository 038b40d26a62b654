"""The machine as a generator, and by accident as a motor: volts, torque, tolls, the plate, the bridge, the alternator.

Signs: the current is positive out of the + terminal, torque is positive when it must be pushed, speed when pedalled
forward. Friction holds what brushes, bearings and iron take: hysteresis in the constant part, eddy currents in the
part that grows with speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "ALTERNATOR_USUAL", "BRIDGE_FACTOR", "BRUSH_USUAL", "COPPER_SHARE", "Alternator", "BridgeSource", "Losses",
    "Nameplate", "alternator_point", "best_speed_with_drag", "bridge_source", "drain_current", "emf",
    "figure_of_merit", "friction_torque", "from_nameplate", "loss_at_power", "losses", "runaway_speed", "shaft_speed",
    "shaft_torque", "standstill_current", "terminal_voltage",
]  # fmt: skip


RPM: Final = 2 * math.pi / 60

# Mean of a six-pulse bridge over the line-to-line rms volts, 3 sqrt(2) / pi = 1.3505.
BRIDGE_FACTOR: Final = 3 * math.sqrt(2) / math.pi

# Copper loss over electrical input of a small motor at its plate: middle and one standard deviation of "8 to 15 %".
COPPER_SHARE: Final = (0.115, 0.021)

# Volts lost at both brushes together: carbon 0.8 to 1.6 V, metal-loaded carbon 0.3 to 0.6 V. Middle and one sd.
BRUSH_USUAL: Final = {"carbon": (1.2, 0.3), "metal-loaded": (0.45, 0.1)}

# A middling car alternator: field amps, field ohms, phase peak volts per (rad/s and field amp), phase inductance,
# phase ohms, pole pairs. Makes about 90 A at high speed, wakes at about 1,000 turns a minute.
ALTERNATOR_USUAL: Final = {
    "i_field": 3.0, "r_field": 4.0, "k_field": 0.0324, "l_phase": 1.7e-4, "r_phase": 0.05, "pole_pairs": 6.0,
}  # fmt: skip


class Losses(NamedTuple):
    """Where the watts between shaft and terminals go."""

    copper: F
    brush: F
    friction: F


class BridgeSource(NamedTuple):
    """A three-phase machine with its bridge, seen as a source of direct current (two diode drops apart).

    k_emf: direct volts per shaft speed; r_wind: ohm; r_per_speed: ohm for each rad/s, a drop that makes no heat.
    """

    k_emf: F
    r_wind: F
    r_per_speed: F


class Alternator(NamedTuple):
    """An alternator on a battery: amps out, field watts, watts left over, shaft torque, efficiency (all arrays)."""

    i_out: F
    p_field: F
    p_net: F
    torque_shaft: F
    efficiency: F


@dataclass(frozen=True, slots=True, kw_only=True)
class Nameplate:
    """Constants guessed from a plate, each with one standard deviation, in SI.

    from_plate: volts, speed, and amps or watts were on the plate. problems: what on it cannot be true.
    assumed: what was put in for missing lines.
    """

    k_emf: float
    k_emf_sd: float
    r_wind: float
    r_wind_sd: float
    v_brush: float
    v_brush_sd: float
    t_coulomb: float
    t_coulomb_sd: float
    b_viscous: float
    b_viscous_sd: float
    i_continuous: float
    p_rated: float
    from_plate: bool
    problems: tuple[str, ...]
    assumed: tuple[str, ...]


# ---- volts and amps -------------------------------------------------------------------------------------------------


def emf(w_shaft: ArrayLike, *, k_emf: ArrayLike) -> F:
    """Volts made inside the machine.

    v_emf = k_emf * w_shaft

    Permanent magnets at one temperature (see `heat.magnet_factor`), iron not saturated by the current.
    Worked: emf(250.0, k_emf=0.065) = 16.25
    Source: [dc_machine]
    """
    return out(arr(k_emf) * arr(w_shaft))


def terminal_voltage(
    w_shaft: ArrayLike, *, i_out: ArrayLike, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0
) -> F:
    """Volts at the terminals of a brushed machine.

    v = k_emf * w_shaft - r_wind * i_out - v_brush * sign(i_out)

    Both signs of current: below zero the machine is a motor. Put in r_wind at the temperature of the copper.
    Worked: terminal_voltage(250.0, i_out=5.0, k_emf=0.065, r_wind=0.31, v_brush=1.2) = 13.5
    Source: [dc_machine]
    """
    i = arr(i_out)
    return out(arr(k_emf) * arr(w_shaft) - arr(r_wind) * i - arr(v_brush) * np.sign(i))


def shaft_speed(
    v_bus: ArrayLike, *, i_out: ArrayLike, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0
) -> F:
    """Speed that belongs to some terminal volts and current, either as generator or as motor.

    w_shaft = (v_bus + r_wind*i_out + v_brush*sign(i_out)) / k_emf

    Worked: shaft_speed(13.2, i_out=2.3, k_emf=0.075, r_wind=0.25, v_brush=1.2) = 199.7
    Source: [dc_machine]
    """
    i = arr(i_out)
    return out((arr(v_bus) + arr(r_wind) * i + arr(v_brush) * np.sign(i)) / arr(k_emf))


# ---- torque, power, tolls -------------------------------------------------------------------------------------------


def friction_torque(w_shaft: ArrayLike, *, t_coulomb: ArrayLike, b_viscous: ArrayLike = 0.0) -> F:
    """Torque that keeps the open machine turning, against the motion.

    torque = t_coulomb + b_viscous * w_shaft   (mirrored when it turns backward)

    At standstill the value is the torque needed to break away forward. Hysteresis belongs to t_coulomb, eddy currents
    (loss with the square of speed) and windage near its working speed to b_viscous.
    Worked: friction_torque(300.0, t_coulomb=0.05, b_viscous=5e-5) = 0.065
    Source: [dc_machine]
    """
    w = arr(w_shaft)
    return out(np.where(w < 0.0, -arr(t_coulomb), arr(t_coulomb)) + arr(b_viscous) * w)


def shaft_torque(
    w_shaft: ArrayLike,
    *,
    i_out: ArrayLike,
    k_emf: ArrayLike,
    t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:
    """Torque the machine asks of its shaft.

    torque_shaft = k_emf*i_out + t_coulomb + b_viscous*w_shaft

    The same constant makes volts and torque (energy balance), so k_emf in V*s/rad is also N*m/A.
    Worked: shaft_torque(250.0, i_out=5.0, k_emf=0.065, t_coulomb=0.05, b_viscous=4e-5) = 0.385
    Source: [dc_machine]
    """
    drag = friction_torque(w_shaft, t_coulomb=t_coulomb, b_viscous=b_viscous)
    return out(arr(k_emf) * arr(i_out) + drag)


def losses(
    w_shaft: ArrayLike, *, i_out: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> Losses:  # fmt: skip
    """The machine's toll, by cause.

    copper = r_wind*i_out^2, brush = v_brush*|i_out|, friction = (t_coulomb + b_viscous*w_shaft)*w_shaft

    Worked: losses(250.0, i_out=5.0, r_wind=0.31, v_brush=1.2, t_coulomb=0.05, b_viscous=4e-5) = (7.75, 6.0, 15.0)
    Source: [dc_machine]
    """
    w, i = arr(w_shaft), arr(i_out)
    drag = friction_torque(w, t_coulomb=t_coulomb, b_viscous=b_viscous)
    return Losses(out(arr(r_wind) * i * i), out(arr(v_brush) * np.abs(i)), out(drag * w))


def loss_at_power(
    w_shaft: ArrayLike, *, p_emf: ArrayLike, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0,
    t_coulomb: ArrayLike = 0.0, b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """The whole toll at some speed while p_emf watts cross from shaft to windings.

    p_loss = t_coulomb*w + b_viscous*w^2 + r_wind*(p_emf/(k_emf*w))^2 + v_brush*p_emf/(k_emf*w)

    Infinite as the speed goes to zero: the same watts then need boundless amps.
    Worked: loss_at_power(125.7, p_emf=75.0, k_emf=0.22, r_wind=1.2, v_brush=1.2, t_coulomb=0.08) = 22.14
    Source: [loss_map]
    """
    w = arr(w_shaft)
    with np.errstate(divide="ignore", invalid="ignore"):
        i = arr(p_emf) / (arr(k_emf) * w)
        total = (arr(t_coulomb) + arr(b_viscous) * w) * w + arr(r_wind) * i * i + arr(v_brush) * i
    return out(np.where(w == 0.0, np.inf, total))


def best_speed_with_drag(
    p_emf: ArrayLike, *, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Speed of least toll with every term of `loss_at_power`.

    the one positive root of 2*b*w^4 + t*w^3 - (v_brush*p/k)*w - 2*r*(p/k)^2 = 0

    Found by halving, to the last digit. Some drag is needed; without any the answer is infinite.
    Worked: best_speed_with_drag(75.0, k_emf=0.22, r_wind=1.2, v_brush=1.2, t_coulomb=0.1, b_viscous=1e-4) = 138.0
    Source: [loss_map]
    """
    p, k, r, v, t, b = np.broadcast_arrays(
        arr(p_emf), arr(k_emf), arr(r_wind), arr(v_brush), arr(t_coulomb), arr(b_viscous)
    )
    c0, c1 = 2.0 * r * (p / k) ** 2, v * p / k
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # Each term alone bounds the root: with t, w <= cbrt(2 c0/t) or sqrt(2 c1/t); with b likewise.
        with_t = np.maximum(np.cbrt(2 * c0 / t), np.sqrt(2 * c1 / t))
        with_b = np.maximum((c0 / b) ** 0.25, np.cbrt(c1 / b))
        high = np.where(t > 0, with_t, np.inf)
        high = np.minimum(high, np.where(b > 0, with_b, np.inf))
    low, top = np.zeros_like(high), np.where(np.isfinite(high), high, 0.0)
    for _ in range(70):
        mid = 0.5 * (low + top)
        above = (2.0 * b * mid + t) * mid**3 - c1 * mid - c0 >= 0.0
        low, top = np.where(above, low, mid), np.where(above, mid, top)
    return out(np.where(np.isfinite(high), 0.5 * (low + top), np.inf))


def figure_of_merit(*, k_emf: ArrayLike, r_wind: ArrayLike) -> F:
    """How stiffly the machine brakes when shorted, which ranks machines of any voltage: bigger is better.

    merit = k_emf^2 / r_wind

    Rewinding or a gear in front changes k_emf and r_wind but not the ranking at one shaft.
    Worked: figure_of_merit(k_emf=0.22, r_wind=1.2) = 0.04033
    Source: [dc_machine]
    """
    return out(arr(k_emf) ** 2 / arr(r_wind))


# ---- motoring by accident -------------------------------------------------------------------------------------------


def standstill_current(
    v_bus: ArrayLike, *, r_wind: ArrayLike, v_brush: ArrayLike = 0.0, r_path: ArrayLike = 0.0
) -> F:
    """Current a battery pushes into the machine at rest, where no diode stops it.

    i = (v_bus - v_brush) / (r_wind + r_path), 0 below the brush drop

    r_path: battery and leads. Positive into the machine.
    Worked: standstill_current(12.6, r_wind=0.25, v_brush=1.0) = 46.4
    Source: [dc_machine]
    """
    return out(np.maximum(arr(v_bus) - arr(v_brush), 0.0) / (arr(r_wind) + arr(r_path)))


def runaway_speed(
    v_bus: ArrayLike, *, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Speed at which a battery spins the free machine as a motor.

    w = (v_bus - v_brush - r_wind*t_coulomb/k_emf) / (k_emf + r_wind*b_viscous/k_emf)

    0 where the battery cannot overcome the friction (it then feeds the standstill current all the time).
    Worked: runaway_speed(12.6, k_emf=0.075, r_wind=0.25, v_brush=1.2, t_coulomb=0.05) = 149.8
    Source: [dc_machine]
    """
    k, r = arr(k_emf), arr(r_wind)
    w = (arr(v_bus) - arr(v_brush) - r * arr(t_coulomb) / k) / (k + r * arr(b_viscous) / k)
    return out(np.where(w > 0.0, w, 0.0))


def drain_current(
    v_bus: ArrayLike, *, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Amps a battery loses for hours into a machine it spins, or fails to spin.

    i = (t_coulomb + b_viscous*w)/k_emf at the runaway speed w; the standstill current where it does not turn

    Worked: drain_current(12.6, k_emf=0.075, r_wind=0.25, v_brush=1.2, t_coulomb=0.05) = 0.6667
    Source: [dc_machine]
    """
    w = runaway_speed(
        v_bus, k_emf=k_emf, r_wind=r_wind, v_brush=v_brush, t_coulomb=t_coulomb, b_viscous=b_viscous
    )
    turning = (arr(t_coulomb) + arr(b_viscous) * w) / arr(k_emf)
    return out(np.where(w > 0.0, turning, standstill_current(v_bus, r_wind=r_wind, v_brush=v_brush)))


# ---- three phases and a bridge --------------------------------------------------------------------------------------


def bridge_source(
    *, k_line: ArrayLike, r_line: ArrayLike, inductance: ArrayLike = 0.0, pole_pairs: ArrayLike = 1.0
) -> BridgeSource:
    """A three-phase machine behind six diodes as one direct-current source.

    k_emf = (3 sqrt(2)/pi)*k_line (1.35 times the line rms); r_wind = r_line (two windings in series)
    r_per_speed = 3*pole_pairs*(inductance/2)/pi, so that the commutation drop is r_per_speed*w_shaft*i_out

    k_line: line-to-line rms volts per shaft speed; r_line, inductance: between two of the three wires. Two diode drops
    come off besides. Sine-shaped volts, smooth current, overlap below 60 degrees.
    Worked: bridge_source(k_line=0.8, r_line=0.3, inductance=1e-3, pole_pairs=10.0) = (1.0804, 0.3, 0.004775)
    Source: [three_phase_bridge]
    """
    per_speed = 3.0 * arr(pole_pairs) * 0.5 * arr(inductance) / math.pi
    return BridgeSource(out(BRIDGE_FACTOR * arr(k_line)), out(arr(r_line)), out(per_speed))


# ---- the vehicle alternator -----------------------------------------------------------------------------------------


def alternator_point(
    w_shaft: ArrayLike, *, i_field: ArrayLike, k_field: ArrayLike, l_phase: ArrayLike, r_phase: ArrayLike,
    pole_pairs: ArrayLike, v_bus: ArrayLike, v_diode: ArrayLike, r_field: ArrayLike, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> Alternator:  # fmt: skip
    """What an alternator gives a battery at one speed and field current, and what that costs.

    Peak phase current I from (Vb + r_phase*I)^2 + (w_el*l_phase*I)^2 = (k_field*i_field*w)^2, Vb = 2*(v_bus + 2*v_diode)/pi
    i_out = (3/pi)*I; p_field = r_field*i_field^2; p_net = v_bus*i_out - p_field

    The published constant-voltage-load solution (fundamental of the bridge's volts): the current rises from the
    waking speed and levels off at (3/pi)*k_field*i_field/(pole_pairs*l_phase), however fast it turns. Field current is
    constant here, whatever the speed: it is paid before the first useful watt. Iron saturation only through k_field.
    Efficiency is p_net over shaft watts, negative while the field takes more than comes out.
    Worked: alternator_point(209.4, v_bus=14.0, v_diode=1.0, **ALTERNATOR_USUAL).i_out = 67.27
    Source: [constant_voltage_rectifier]
    """
    w, v = arr(w_shaft), arr(v_bus)
    v_phase = arr(k_field) * arr(i_field) * w
    v_bridge = 2.0 * (v + 2.0 * arr(v_diode)) / math.pi
    x, r = arr(pole_pairs) * w * arr(l_phase), arr(r_phase)
    a, b, c = r * r + x * x, v_bridge * r, v_bridge**2 - v_phase**2
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(np.maximum(b * b - a * c, 0.0))
        peak = np.where(c < 0.0, -c / (b + root), 0.0)
        i = 3.0 / math.pi * peak
        field = arr(r_field) * arr(i_field) ** 2 + np.zeros_like(i)
        p_air = 1.5 * (v_bridge * peak + r * peak * peak)
        torque = np.where(w > 0.0, p_air / w, 0.0) + friction_torque(
            w, t_coulomb=t_coulomb, b_viscous=b_viscous
        )
        net = v * i - field
        share = net / (torque * w)
    return Alternator(out(i), out(field), out(net), out(torque), out(share))


# ---- the plate ------------------------------------------------------------------------------------------------------

# What stands in for a missing line of the plate, with a relative standard deviation. Common practice, no source.
_USUAL = {"voltage": (24.0, 0.6), "speed": (2900.0 * RPM, 0.35), "power": (200.0, 0.6)}
_EFFICIENCY = (0.76, 0.06)  # mechanical over electrical, small brushed motor at its plate
_DRAG = (0.045, 0.5)  # constant friction over rated torque
_DRAG_SLOPE = (0.02, 0.6)  # speed-dependent friction at rated speed over rated torque


def from_nameplate(
    *, voltage: float | None = None, current: float | None = None, speed: float | None = None,
    power: float | None = None,
) -> Nameplate:  # fmt: skip
    """Constants of a permanent-magnet motor from what its plate says, with the spread such a guess deserves.

    r_wind = 0.115*voltage/current (copper takes 8 to 15 % of the input), v_brush = 1.2 V
    k_emf = (voltage - r_wind*current - v_brush)/speed
    t_coulomb = 4.5 % and b_viscous*speed = 2 % of rated torque

    Missing lines are put in from the others (efficiency about 0.76) or from a middling machine, and widen the spread.
    A plate whose watts exceed volts times amps shows a peak figure: its watts are then left out and it is said.
    The plate's speed may be for full load or none, which is inside the spread of k_emf.
    Worked: from_nameplate(voltage=24.0, current=13.4, speed=288.0, power=250.0).k_emf = 0.0696
    Source: [nameplate_guess]
    """
    problems: list[str] = []
    assumed: list[str] = []
    volts, amps, turns, watts = (_usable(x) for x in (voltage, current, speed, power))
    watts = _plate_power(volts, amps, watts, problems)
    spread_v = spread_a = 0.05
    complete = volts is not None and turns is not None and (amps is not None or watts is not None)
    if watts is None and (volts is None or amps is None):
        watts = _USUAL["power"][0]
        assumed.append("no watts on the plate: 200 W stands in")
        spread_a = _USUAL["power"][1]
    if volts is None:
        volts = (
            watts / (_EFFICIENCY[0] * amps)
            if amps is not None and watts is not None
            else _USUAL["voltage"][0]
        )
        spread_v = 0.12 if amps is not None and power is not None else _USUAL["voltage"][1]
        assumed.append("no volts on the plate")
    if amps is None:
        assert watts is not None
        amps = watts / (_EFFICIENCY[0] * volts)
        spread_a = max(spread_a, 0.12)
        assumed.append("no amps on the plate: taken from watts, volts and a usual efficiency")
    spread_w = 0.06
    if turns is None:
        turns, spread_w = _USUAL["speed"]
        assumed.append("no speed on the plate: 2,900 turns a minute stands in")
    return _plate_constants(
        volts, amps, turns, watts, (spread_v, spread_a, spread_w), complete, tuple(problems), tuple(assumed)
    )


def _usable(x: float | None) -> float | None:
    """The number, or None where the plate says nothing that can be used."""
    return x if x is not None and math.isfinite(x) and x > 0 else None


def _plate_power(
    volts: float | None, amps: float | None, watts: float | None, problems: list[str]
) -> float | None:
    """The watts of the plate where volts and amps allow them, else None and a sentence."""
    if volts is None or amps is None or watts is None:
        return watts
    if watts > volts * amps:
        problems.append(
            f"the plate says {watts:.0f} W, more than volts times amps ({volts * amps:.0f} W): that is a peak figure"
        )
        return None
    if watts < 0.35 * volts * amps:
        problems.append(
            f"the plate says {watts:.0f} W from {volts * amps:.0f} W of volts times amps: the amps look like a peak figure"
        )
        return watts
    return watts


def _plate_constants(
    volts: float, amps: float, turns: float, watts: float | None, spreads: tuple[float, float, float], complete: bool,
    problems: tuple[str, ...], assumed: tuple[str, ...],
) -> Nameplate:  # fmt: skip
    """Constants and spreads once volts, amps and speed all have a value."""
    spread_v, spread_a, spread_w = spreads
    share, share_sd = COPPER_SHARE
    brush, brush_sd = BRUSH_USUAL["carbon"]
    brush = min(brush, 0.1 * volts)
    r = share * volts / amps
    k = (volts * (1 - share) - brush) / turns
    # Plate rounding, copper share, brushes, and full-load against no-load speed (about 6 %) each add to the spread.
    k_sd = k * math.hypot(spread_v, spread_w, 0.06, share_sd / (1 - share), brush_sd / (volts * (1 - share)))
    r_sd = r * math.hypot(share_sd / share, spread_v, spread_a, 0.15)
    torque = k * amps
    return Nameplate(
        k_emf=k,
        k_emf_sd=k_sd,
        r_wind=r,
        r_wind_sd=r_sd,
        v_brush=brush,
        v_brush_sd=brush_sd,
        t_coulomb=_DRAG[0] * torque,
        t_coulomb_sd=_DRAG[0] * torque * _DRAG[1],
        b_viscous=_DRAG_SLOPE[0] * torque / turns,
        b_viscous_sd=_DRAG_SLOPE[0] * torque / turns * _DRAG_SLOPE[1],
        i_continuous=amps,
        p_rated=watts if watts is not None else _EFFICIENCY[0] * volts * amps,
        from_plate=complete,
        problems=problems,
        assumed=assumed,
    )
