"""What hangs on the bus: series motors on direct current, lamps, heaters, electronics, and what may sit on it at all.

The series (universal) motor carries one current through field and armature, so its flux grows with its own current and
levels off as the iron fills: flux*k = k_series*i/(1 + i/i_sat). With i_sat infinite it is the plain text-book motor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "BULB_COLD", "BULB_EXPONENT", "DC_RULES", "MACHINE_REFUSALS", "MotorPoint", "SeriesPlate", "Suitability", "SupplyRange",
    "bulb_current", "bulb_light", "dc_suitability", "locked_current", "locked_current_ac", "resistive_power",
    "series_constant", "series_current", "series_from_plate", "series_operating_point", "series_speed",
    "series_torque", "spin_up_time", "supply_range",
]  # fmt: skip


# Current of a filament lamp goes with volts to this power, its light with the 3.4th, its life with the -13th.
BULB_EXPONENT: Final = 0.55
# Current of a cold filament over its working current: 10 to 15.
BULB_COLD: Final = 14.0
MACHINE_REFUSALS: Final = {
    "series": (
        "This motor has no magnets: its field comes from its own current, so turned by legs it makes next to nothing. "
        "It is a tool to run, not a machine to pedal."
    ),
    "induction": (
        "This motor has no magnets and no brushes to make a field: turned by legs it makes no volts. "
        "Look for one that is hard to turn with its wires twisted together."
    ),
}


@dataclass(frozen=True, slots=True)
class Suitability:
    """check: "not refused", "look again" or "stop"; why: a reason in plain words."""

    check: str
    why: str


DC_RULES: Final = {
    "electronics": Suitability(
        "not refused", "It is made for direct current. Keep its volts within the label, and mind plus and minus."
    ),
    "usb": Suitability("not refused", "It runs from a 5 V socket. Use a board with a fixed 5 V output."),
    "led": Suitability(
        "look again",
        "A low-volt LED lamp is fine on its own volts. One made for mains may hold a capacitor in series, which passes "
        "no direct current, or a dimmer chip. Look at its label.",
    ),
    "lamp": Suitability(
        "not refused", "A filament glows on direct current as well. Its switch is made for AC: switch it elsewhere."
    ),
    "heater": Suitability(
        "look again",
        "The wire does not care, but its thermostat and switch are made for AC and can arc until they weld or burn. "
        "Switch it with a switch rated for direct current.",
    ),
    "dc_motor": Suitability("not refused", "It is made for direct current. Mind its volts and its starting amps."),
    "universal_motor": Suitability(
        "look again",
        "A motor with brushes runs on direct current, gently and in bursts. Its trigger is made for AC and may weld: "
        "switch it off at a switch rated for direct current.",
    ),
    "switch_supply": Suitability(
        "look again",
        "A supply marked 100 to 240 V usually starts from about 110 V of direct current. One with a 115/230 switch, a motor "
        "or a transformer behind it does not. Its fuse and switch are made for AC.",
    ),
    "transformer": Suitability(
        "stop", "A transformer on direct current passes nothing on and burns: only its wire limits the amps."
    ),
    "induction_motor": Suitability("stop", "It needs AC to turn. On direct current it stands still and burns."),
    "unknown": Suitability("stop", "Nobody has looked inside. Find out what is behind the plug first."),
}  # fmt: skip


class MotorPoint(NamedTuple):
    """Speed, current, torque at the tool, and whether it stands still with the current on (1 or 0)."""

    w_motor: F
    i_motor: F
    torque_tool: F
    stalled: F


class SupplyRange(NamedTuple):
    """Direct volts on which a mains supply runs: lowest and highest."""

    low: F
    high: F


@dataclass(frozen=True, slots=True, kw_only=True)
class SeriesPlate:
    """Constants of a series motor guessed from its plate, each with one standard deviation, in SI.

    i_rated, w_rated, torque_rated: at the plate's load on AC. assumed: what was put in for missing lines.
    """

    k_series: float
    k_series_sd: float
    r_motor: float
    r_motor_sd: float
    i_sat: float
    i_sat_sd: float
    t_coulomb: float
    t_coulomb_sd: float
    t_fan: float
    t_fan_sd: float
    i_rated: float
    w_rated: float
    torque_rated: float
    assumed: tuple[str, ...]


def _flux(i: F, k: ArrayLike, i_sat: ArrayLike) -> F:
    return np.asarray(arr(k) * i / (1.0 + i / arr(i_sat)))


# ---- the series motor -----------------------------------------------------------------------------------------------


def series_constant(
    v_emf: ArrayLike, *, i_motor: ArrayLike, w_motor: ArrayLike, i_sat: ArrayLike = math.inf
) -> F:
    """Constant of a series motor from one known point.

    k_series = v_emf*(1 + i_motor/i_sat)/(i_motor*w_motor)

    Worked: series_constant(195.0, i_motor=25.0, w_motor=31.416) = 0.2483
    Source: [series_motor]
    """
    i = arr(i_motor)
    return out(arr(v_emf) * (1.0 + i / arr(i_sat)) / (i * arr(w_motor)))


def series_torque(i_motor: ArrayLike, *, k_series: ArrayLike, i_sat: ArrayLike = math.inf) -> F:
    """Torque inside a series motor.

    torque = k_series*i^2/(1 + i/i_sat)

    Friction and fan come off it before the tool. For direct current, or the rms of AC.
    Worked: series_torque(16.667, k_series=0.2483) = 68.97
    Source: [series_motor]
    """
    i = arr(i_motor)
    return out(_flux(i, k_series, i_sat) * i)


def series_current(
    w_motor: ArrayLike, *, v_bus: ArrayLike, k_series: ArrayLike, r_motor: ArrayLike, i_sat: ArrayLike = math.inf,
    v_brush: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Current of a series motor at some speed on direct volts.

    i = 2*v/(b + sqrt(b^2 + 4*r_motor*v/i_sat)),  v = v_bus - v_brush,  b = r_motor + k_series*w_motor - v/i_sat

    The positive root of the volts' balance; v/(r_motor + k_series*w_motor) when the iron never fills. 0 below v_brush.
    Worked: series_current(2094.4, v_bus=110.0, k_series=0.03, r_motor=12.0) = 1.470
    Source: [series_motor]
    """
    v = np.maximum(arr(v_bus) - arr(v_brush), 0.0)
    r, sat = arr(r_motor), 1.0 / arr(i_sat)
    b = r + arr(k_series) * arr(w_motor) - v * sat
    root = np.sqrt(b * b + 4.0 * r * sat * v)
    with np.errstate(divide="ignore", invalid="ignore"):
        usual = 2.0 * v / (b + root)
        # b may be far below zero where the iron is full at standstill: the other form of the same root.
        other = np.where(sat > 0.0, (root - b) / (2.0 * r * np.where(sat > 0.0, sat, 1.0)), usual)
        i = np.where(b >= 0.0, usual, other)
    return out(np.where(v > 0.0, i, 0.0))


def locked_current(
    v_bus: ArrayLike, *, r_motor: ArrayLike, v_brush: ArrayLike = 0.0, r_path: ArrayLike = 0.0
) -> F:
    """Current of a motor held still on direct volts.

    i = (v_bus - v_brush)/(r_motor + r_path), 0 below v_brush

    On direct current nothing but resistance limits it: the source's own limit decides.
    Worked: locked_current(120.0, r_motor=20.0) = 6
    Source: [sen]
    """
    return out(np.maximum(arr(v_bus) - arr(v_brush), 0.0) / (arr(r_motor) + arr(r_path)))


def locked_current_ac(
    v_bus: ArrayLike, *, r_motor: ArrayLike, inductance: ArrayLike, frequency: ArrayLike
) -> F:
    """Current of the same motor held still on AC, for comparison.

    i = v/sqrt(r_motor^2 + (2*pi*frequency*inductance)^2), rms

    Worked: locked_current_ac(120.0, r_motor=20.0, inductance=0.25, frequency=60.0) = 1.245
    Source: [sen]
    """
    return out(arr(v_bus) / np.hypot(arr(r_motor), 2.0 * math.pi * arr(frequency) * arr(inductance)))


def series_speed(
    torque_tool: ArrayLike, *, v_bus: ArrayLike, k_series: ArrayLike, r_motor: ArrayLike, i_sat: ArrayLike = math.inf,
    v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0, t_fan: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Speed a series motor settles at under a tool's torque on direct volts.

    series_torque(series_current(w)) = torque_tool + t_coulomb + t_fan*w^2

    Torque falls with speed and the load does not, so there is one answer; found between bounds by halving, to the last
    digit. 0 when it stalls, infinite when nothing at all holds it back.
    Worked: series_speed(0.06, v_bus=110.0, k_series=0.03, r_motor=12.0) = 2193
    Source: [series_motor]
    """
    tool, v, k, r, sat, vb, tc, fan = np.broadcast_arrays(
        arr(torque_tool),
        arr(v_bus),
        arr(k_series),
        arr(r_motor),
        arr(i_sat),
        arr(v_brush),
        arr(t_coulomb),
        arr(t_fan),
    )

    def spare(w: F) -> F:
        i = series_current(w, v_bus=v, k_series=k, r_motor=r, i_sat=sat, v_brush=vb)
        return np.asarray(series_torque(i, k_series=k, i_sat=sat) - tool - tc - fan * w * w)

    still = spare(np.zeros_like(tool)) <= 0.0
    free = (tool + tc <= 0.0) & (fan <= 0.0)
    # Current never exceeds volts/(k*w)*(1 + i/i_sat), so torque is below (volts/w)*i and the bound below is above the root.
    volts = np.maximum(v - vb, 0.0)
    low, high = np.zeros_like(tool), np.ones_like(tool)
    for _ in range(60):
        short = (spare(high) > 0.0) & ~still & ~free
        if not np.any(short):
            break
        high = np.where(short, 4.0 * high, high)
    for _ in range(90):
        mid = 0.5 * (low + high)
        goes = spare(mid) > 0.0
        low, high = np.where(goes, mid, low), np.where(goes, high, mid)
    w = np.where(free & (volts > 0.0), np.inf, 0.5 * (low + high))
    return out(np.where(still & ~(free & (volts > 0.0)), 0.0, w))


def series_operating_point(
    torque_tool: ArrayLike, *, v_bus: ArrayLike, k_series: ArrayLike, r_motor: ArrayLike, i_sat: ArrayLike = math.inf,
    v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0, t_fan: ArrayLike = 0.0,
) -> MotorPoint:  # fmt: skip
    """Speed, current and torque of a series motor under a tool.

    the speed of `series_speed` and what follows; where it stalls: its locked current, and the torque it still pushes with

    Worked: series_operating_point(0.06, v_bus=110.0, k_series=0.03, r_motor=12.0).i_motor = 1.414
    Source: [series_motor]
    """
    w = series_speed(
        torque_tool, v_bus=v_bus, k_series=k_series, r_motor=r_motor, i_sat=i_sat, v_brush=v_brush,
        t_coulomb=t_coulomb, t_fan=t_fan,
    )  # fmt: skip
    i = series_current(w, v_bus=v_bus, k_series=k_series, r_motor=r_motor, i_sat=i_sat, v_brush=v_brush)
    stalled = (w == 0.0) & (arr(torque_tool) + arr(t_coulomb) > 0.0)
    push = series_torque(i, k_series=k_series, i_sat=i_sat) - arr(t_coulomb)
    torque = np.where(stalled, np.maximum(push, 0.0), arr(torque_tool))
    return MotorPoint(out(w), out(i), out(torque), out(stalled))


# ---- spinning up ----------------------------------------------------------------------------------------------------


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)


def spin_up_time(
    w_motor: ArrayLike, *, v_bus: ArrayLike, i_limit: ArrayLike, inertia: ArrayLike, k_series: ArrayLike,
    r_motor: ArrayLike, i_sat: ArrayLike = math.inf, v_brush: ArrayLike = 0.0, t_coulomb: ArrayLike = 0.0,
    t_fan: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Time for a series motor to run up from rest on a source with an amps limit and a volts limit.

    t = integral over w of inertia/(torque(min(i_limit, series_current(w))) - t_coulomb - t_fan*w^2)

    Steady amps first, then steady volts: two smooth parts, each by 48-point Gauss-Legendre. Slow parts of a load are
    assumed off. Infinite where the torque runs out before that speed. Near the settling speed the time grows without
    bound: ask for 90 % of it.
    Worked: spin_up_time(1570.8, v_bus=110.0, i_limit=2.5, inertia=8e-5, k_series=0.03, r_motor=12.0,
    t_coulomb=0.02) = 0.8605
    Source: [spin_up]
    """
    names = (w_motor, v_bus, i_limit, inertia, k_series, r_motor, i_sat, v_brush, t_coulomb, t_fan)
    w, v, lim, j, k, r, sat, vb, tc, fan = np.broadcast_arrays(*(arr(x) for x in names))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        # Up to this speed the amps limit binds; above it the volts do.
        flux = _flux(lim, k, sat)
        knee = np.where(np.isfinite(lim), np.maximum(v - vb - r * lim, 0.0) / flux, 0.0)
    knee = np.minimum(knee, w)
    total = np.zeros_like(w)
    never = np.zeros(w.shape, dtype=bool)
    for start, stop in ((np.zeros_like(w), knee), (knee, w)):
        half, middle = 0.5 * (stop - start), 0.5 * (stop + start)
        for node, weight in zip(_NODES, _WEIGHTS, strict=True):
            at = middle + half * node
            i = np.minimum(series_current(at, v_bus=v, k_series=k, r_motor=r, i_sat=sat, v_brush=vb), lim)
            push = series_torque(i, k_series=k, i_sat=sat) - tc - fan * at * at
            never |= (push <= 0.0) & (half > 0.0)
            total = total + np.where(half > 0.0, weight * half * j / np.where(push > 0.0, push, np.inf), 0.0)
    i_end = np.minimum(series_current(w, v_bus=v, k_series=k, r_motor=r, i_sat=sat, v_brush=vb), lim)
    never |= (series_torque(i_end, k_series=k, i_sat=sat) - tc - fan * w * w <= 0.0) & (w > 0.0)
    return out(np.where(never, np.inf, total))


# ---- the series motor's plate ---------------------------------------------------------------------------------------

# Copper loss over input, loaded speed over no-load speed, saturation over rated current; middle and one relative sd.
_SERIES_COPPER = (0.146, 0.25)
_SERIES_LOADED = (0.58, 0.12)
_SERIES_SAT = (3.0, 0.5)


def series_from_plate(
    *, voltage: float | None = None, current: float | None = None, speed: float | None = None,
    power: float | None = None, power_factor: float = 0.95, resistance: float | None = None,
    idle_share: float | None = None,
) -> SeriesPlate:  # fmt: skip
    """Constants of a series motor from a mains plate, with the spread such a guess deserves.

    i = power/(voltage*power_factor) unless given; r_motor = 0.146*power/i^2 unless measured (add nothing for warmth)
    E = voltage*power_factor - r_motor*i; k_series = E*(1 + i/i_sat)/(i*w_loaded), w_loaded = 0.58*speed, i_sat = 3*i
    friction: what it takes to settle at `speed` with nothing on it, half steady and half with the square of speed
    with idle_share measured: k_series from i_0 = idle_share*i at `speed`, and w_loaded from it

    speed: no-load speed at the motor's own shaft (turns of a chuck times the gear). The iron's filling is the least
    known: its spread is half its value.
    Worked: series_from_plate(voltage=230.0, power=600.0, speed=2513.0).r_motor = 11.62
    Source: [series_plate]
    """
    assumed: list[str] = []
    volts = voltage if voltage else 230.0
    if not voltage:
        assumed.append("no volts on the plate: 230 V stands in")
    if power is None:
        power = volts * current * power_factor if current else 600.0
        assumed.append(
            "no watts on the plate" + (": taken from volts and amps" if current else ": 600 W stands in")
        )
    i = current if current else power / (volts * power_factor)
    if not current:
        assumed.append("no amps on the plate: taken from watts, volts and power factor")
    if not speed:
        speed = 25000.0 * math.pi / 30
        assumed.append("no speed on the plate: 25,000 turns a minute stands in")
    share, share_sd = _SERIES_COPPER
    r = resistance if resistance else share * power / i**2
    r_sd = r * (0.08 if resistance else math.hypot(share_sd, 0.0 if current else 0.1))
    sat = _SERIES_SAT[0] * i
    w_loaded = _SERIES_LOADED[0] * speed
    v_active = volts * power_factor
    e = v_active - r * i
    k = float(series_constant(e, i_motor=i, w_motor=w_loaded, i_sat=sat))
    k_sd = k * math.hypot(_SERIES_LOADED[1], r_sd * i / e, 0.08)
    if idle_share:
        i_light = idle_share * i
        k = float(series_constant(v_active - r * i_light, i_motor=i_light, w_motor=speed, i_sat=sat))
        k_sd, w_loaded = 0.12 * k, e * (1 + i / sat) / (i * k)
    i_idle = float(series_current(speed, v_bus=v_active, k_series=k, r_motor=r, i_sat=sat))
    t_idle = float(series_torque(i_idle, k_series=k, i_sat=sat))
    t_loaded = float(series_torque(i, k_series=k, i_sat=sat))
    t_fan = 0.5 * t_idle / speed**2
    return SeriesPlate(
        k_series=k, k_series_sd=k_sd, r_motor=r, r_motor_sd=r_sd, i_sat=sat, i_sat_sd=sat * _SERIES_SAT[1],
        t_coulomb=0.5 * t_idle, t_coulomb_sd=0.25 * t_idle, t_fan=t_fan, t_fan_sd=0.5 * t_fan, i_rated=i,
        w_rated=w_loaded, torque_rated=t_loaded - 0.5 * t_idle - t_fan * w_loaded**2, assumed=tuple(assumed),
    )  # fmt: skip


# ---- heat and light -------------------------------------------------------------------------------------------------


def resistive_power(v_bus: ArrayLike, *, p_rated: ArrayLike, v_rated: ArrayLike) -> F:
    """Power of a heater at other volts than its own.

    p = p_rated*(v_bus/v_rated)^2

    A 230 V heater on 110 V gives 23 % of its plate. Resistance taken as constant (within 10 % for heater wire).
    Worked: resistive_power(110.0, p_rated=1000.0, v_rated=230.0) = 228.7
    Source: [ohm_joule]
    """
    return out(arr(p_rated) * (arr(v_bus) / arr(v_rated)) ** 2)


def bulb_current(
    v_bus: ArrayLike, *, p_rated: ArrayLike, v_rated: ArrayLike, exponent_bulb: ArrayLike = BULB_EXPONENT
) -> F:
    """Current of a filament lamp at other volts than its own.

    i = (p_rated/v_rated)*(v_bus/v_rated)^exponent_bulb

    From about a third of its volts to a little above them.
    Worked: bulb_current(9.0, p_rated=21.0, v_rated=12.0) = 1.494
    Source: [lamp_rerating]
    """
    rated = arr(v_rated)
    return out(arr(p_rated) / rated * (arr(v_bus) / rated) ** arr(exponent_bulb))


def bulb_light(v_bus: ArrayLike, *, v_rated: ArrayLike, exponent_light: ArrayLike = 3.4) -> F:
    """Light of a filament lamp over its light at its own volts.

    share = (v_bus/v_rated)^exponent_light

    Worked: bulb_light(10.8, v_rated=12.0) = 0.699
    Source: [lamp_rerating]
    """
    return out((arr(v_bus) / arr(v_rated)) ** arr(exponent_light))


# ---- mains supplies on direct current -------------------------------------------------------------------------------


def supply_range(*, v_ac_low: ArrayLike, v_ac_high: ArrayLike, share_low: ArrayLike = 1.1) -> SupplyRange:
    """Direct volts on which a switching supply for AC runs.

    low = share_low*v_ac_low, high = sqrt(2)*v_ac_high

    Behind its bridge it sees direct volts anyway, up to the peak of the AC. share_low is common practice, no source.
    Its fuse and switch are not made to break direct current.
    Worked: supply_range(v_ac_low=100.0, v_ac_high=240.0) = (110, 339.4)
    Source: [supply_on_dc]
    """
    return SupplyRange(out(arr(share_low) * arr(v_ac_low)), out(math.sqrt(2.0) * arr(v_ac_high)))


def dc_suitability(load_kind: str, *, trigger: str = "unknown") -> Suitability:
    """Whether a kind of load may sit on direct current at all, and why.

    a table of kinds; a tool's electronic trigger turns "look again" into "stop"

    Never says yes to a transformer, an induction motor, an electronic trigger or a thing nobody has looked into.
    Worked: dc_suitability("transformer").check = "stop"
    Source: [dc_rules]
    """
    if load_kind == "universal_motor" and trigger == "electronic":
        return Suitability(
            "stop",
            "Its electronic trigger needs the AC to pause a hundred times a second: on direct current it latches, "
            "and letting go does not stop the tool.",
        )
    return DC_RULES.get(load_kind, DC_RULES["unknown"])
