"""The seconds between steady states: filling and fading, coasting, running up, racing, fuses, flicker, late legs.

Closed forms only, each exact for the equation it names; they are what a simulation of the moving rig is held against.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out
from sparewatt.physics._shares import arccosh_share, fade_share, log_rest, log_share
from sparewatt.physics.appliances import bulb_light
from sparewatt.physics.converter import restart_voltage

__all__ = [
    "FUSE_CURVES", "FUSE_GATES", "ClampUse", "Decay", "FuseBand", "MeterRead", "PeakAmps", "Rhythm", "Ring", "RunUp",
    "bulb_flicker", "clamp_use", "coast_angle", "coast_speed", "coast_time", "dc_decay", "dc_peak_current",
    "dc_run_up", "fuse_band", "fuse_opening_time", "hiccup_rhythm", "hold_up_volts", "lag_share", "lag_step",
    "meter_samples", "percent_flicker", "race_speed", "race_time", "rc_volts", "rl_current", "sag_time",
    "strip_flicker",
]  # fmt: skip


class Ring(NamedTuple):
    """How a node of coil and capacitor swings: undamped speed (rad/s), damping, and swings in a second (0: none)."""

    w_natural: F
    damping: F
    frequency: F


class Decay(NamedTuple):
    """Rates (1/s) at which the two parts of a run-up die away, and how fast they swing meanwhile (rad/s, 0: not)."""

    slow: F
    fast: F
    w_ring: F


class RunUp(NamedTuple):
    """Speed and current of a motor some time after it was switched on."""

    w_shaft: F
    i_motor: F


class PeakAmps(NamedTuple):
    """The highest current of a run-up, and when it is reached (inf: never passed, only approached)."""

    i_motor: F
    duration: F


class FuseBand(NamedTuple):
    """The soonest and the latest a fuse of a kind may open."""

    earliest: F
    latest: F


class MeterRead(NamedTuple):
    """What two meters show, their product, the true mean power, and true over product (nan where that is 0)."""

    v_mean: F
    i_mean: F
    p_meter: F
    p_true: F
    factor: F


class ClampUse(NamedTuple):
    """How long a clamp works, the watts it takes meanwhile, and the joules in all."""

    duration: F
    p_clamp: F
    energy: F


class Rhythm(NamedTuple):
    """Seconds asleep while the legs race, seconds awake while the load drags them down, and both together."""

    race: F
    sag: F
    period: F


# ---- one resistor with a capacitor or a coil ------------------------------------------------------------------------


def rc_volts(
    duration: ArrayLike, *, v_start: ArrayLike, v_open: ArrayLike, r_path: ArrayLike, capacitance: ArrayLike
) -> F:
    """Volts of a capacitor some time after it was joined to a source through a resistor.

    v = v_open + (v_start - v_open)*exp(-duration/(r_path*capacitance))

    v_open 0: it empties. With no resistance or no capacitance it is at v_open as soon as time has passed.
    Worked: rc_volts(0.705, v_start=0.0, v_open=120.0, r_path=47e3, capacitance=15e-6) = 75.85
    Source: [dc_transients]
    """
    t, tau, end = arr(duration), arr(r_path) * arr(capacitance), arr(v_open)
    left = np.where(tau > 0.0, np.exp(-t / np.where(tau > 0.0, tau, 1.0)), np.where(t > 0.0, 0.0, 1.0))
    return out(end + (arr(v_start) - end) * left)


def rl_current(
    duration: ArrayLike, *, i_start: ArrayLike, v_open: ArrayLike, r_path: ArrayLike, inductance: ArrayLike
) -> F:
    """Current of a coil some time after it was joined to a source through a resistor.

    i = i_start*exp(-x) + (v_open/inductance)*duration*(1 - exp(-x))/x,  x = r_path*duration/inductance

    The same as v_open/r_path + (i_start - v_open/r_path)*exp(-x), written so that r_path may be 0: then it climbs
    steadily. inductance above 0. A diode in the way stops it at 0.
    Worked: rl_current(0.004, i_start=0.0, v_open=120.0, r_path=10.0, inductance=0.04) = 7.585
    Source: [dc_transients]
    """
    t, coil = arr(duration), arr(inductance)
    x = arr(r_path) * t / coil
    return out(arr(i_start) * np.exp(-x) + arr(v_open) / coil * t * fade_share(x))


# ---- coasting -------------------------------------------------------------------------------------------------------


def coast_speed(
    duration: ArrayLike, *, w_wheel: ArrayLike, inertia: ArrayLike, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Speed of a wheel that was let go, some time later.

    w = w_wheel*exp(-x) - (t_coulomb/inertia)*duration*(1 - exp(-x))/x,  x = b_viscous*duration/inertia

    0 from the standstill on. Either drag may be 0. w_wheel: the speed at which it was let go, not negative.
    Worked: coast_speed(30.0, w_wheel=41.888, inertia=0.16, t_coulomb=0.05, b_viscous=1e-3) = 26.18
    Source: [coast_down]
    """
    t, j = arr(duration), arr(inertia)
    x = arr(b_viscous) * t / j
    return out(np.maximum(arr(w_wheel) * np.exp(-x) - arr(t_coulomb) / j * t * fade_share(x), 0.0))


def coast_time(
    inertia: ArrayLike, *, w_high: ArrayLike, w_low: ArrayLike, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Seconds in which a coasting wheel falls from one speed to another.

    duration = (inertia/b_viscous)*ln((t_coulomb + b_viscous*w_high)/(t_coulomb + b_viscous*w_low)),
    and inertia*(w_high - w_low)/t_coulomb where b_viscous is 0

    w_low 0: to the standstill, as `flywheel.run_down_time`; inf with no constant drag.
    Worked: coast_time(0.16, w_high=41.888, w_low=20.944, t_coulomb=0.05, b_viscous=1e-3) = 41.39
    Source: [coast_down]
    """
    low, b = arr(w_low), arr(b_viscous)
    fall, drag = arr(w_high) - low, arr(t_coulomb) + b * low
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        y = b * fall / drag
        t = arr(inertia) * fall / drag * log_share(y)
    return out(np.where((drag > 0.0) & np.isfinite(y), t, np.where(fall > 0.0, np.inf, 0.0)))


def coast_angle(
    inertia: ArrayLike, *, w_high: ArrayLike, w_low: ArrayLike, t_coulomb: ArrayLike = 0.0,
    b_viscous: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Angle a coasting wheel turns while it falls from one speed to another.

    angle = (inertia/b_viscous)*(w_high - w_low - (t_coulomb/b_viscous)*ln((t_coulomb + b_viscous*w_high)/(t_coulomb +
    b_viscous*w_low))), and inertia*(w_high^2 - w_low^2)/(2*t_coulomb) where b_viscous is 0

    w_low 0: to the standstill. Finite with only viscous drag, though that takes for ever.
    Worked: coast_angle(0.16, w_high=41.888, w_low=0.0, t_coulomb=0.05, b_viscous=1e-3) = 1834
    Source: [coast_down]
    """
    j, low, b = arr(inertia), arr(w_low), arr(b_viscous)
    fall, drag = arr(w_high) - low, arr(t_coulomb) + b * low
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        y = b * fall / drag
        angle = j * fall / drag * (fall * log_rest(y) + low * log_share(y))
        alone = np.where(fall > 0.0, j * fall / b, 0.0)
    return out(np.where((drag > 0.0) & np.isfinite(y), angle, alone))


# ---- a motor on steady volts ----------------------------------------------------------------------------------------


def dc_decay(
    *,
    r_wind: ArrayLike,
    inductance: ArrayLike,
    k_emf: ArrayLike,
    inertia: ArrayLike,
    b_viscous: ArrayLike = 0.0,
) -> Decay:
    """The two roots of a permanent-magnet machine on steady volts: real, or a pair that swings.

    roots of s^2 + (r_wind/inductance + b_viscous/inertia)*s + (r_wind*b_viscous + k_emf^2)/(inductance*inertia)

    Given as rates of dying away. It swings where the electrical time constant is above about a quarter of the
    mechanical one. inductance above 0.
    Worked: dc_decay(r_wind=0.5, inductance=1.5e-3, k_emf=0.05, inertia=2.5e-4, b_viscous=1e-4) = (21.8, 311.9, 0)
    Source: [motor_run_up]
    """
    r, coil, k, j, b = arr(r_wind), arr(inductance), arr(k_emf), arr(inertia), arr(b_viscous)
    mid, det = 0.5 * (r / coil + b / j), (r * b + k * k) / (coil * j)
    square = (0.5 * (r / coil - b / j)) ** 2 - k * k / (coil * j)
    fast = mid + np.sqrt(np.maximum(square, 0.0))
    # By the product of the roots: their difference would lose digits.
    slow = np.where(square >= 0.0, det / fast, mid)
    return Decay(out(slow), out(fast), out(np.sqrt(np.maximum(-square, 0.0))))


def dc_run_up(
    duration: ArrayLike, *, v_bus: ArrayLike, r_wind: ArrayLike, inductance: ArrayLike, k_emf: ArrayLike,
    inertia: ArrayLike, t_coulomb: ArrayLike = 0.0, b_viscous: ArrayLike = 0.0,
) -> RunUp:  # fmt: skip
    """Speed and current of a permanent-magnet machine some time after steady volts were put on it at rest.

    inductance*di/dt = v_bus - r_wind*i - k_emf*w,  inertia*dw/dt = k_emf*i - b_viscous*w - t_coulomb, solved exactly

    It stands still until k_emf*i passes t_coulomb, and for ever where v_bus*k_emf/r_wind never does. No freewheel, no
    diode. inductance 0: the one-time-constant form, w = w_end*(1 - exp(-t/mechanical)). v_bus and r_wind above 0.
    Worked: dc_run_up(0.05, v_bus=8.0, r_wind=0.5, inductance=1.5e-3, k_emf=0.05, inertia=2.5e-4, b_viscous=1e-4)
    = (100.16, 6.381)
    Source: [motor_run_up]
    """
    names = (duration, v_bus, r_wind, inductance, k_emf, inertia, t_coulomb, b_viscous)
    t, v, r, coil, k, j, fixed, b = np.broadcast_arrays(*(arr(x) for x in names))
    spare, bare = np.maximum(k * v - r * fixed, 0.0), coil == 0.0
    henry = np.where(bare, 1.0, coil)
    # Until the torque passes the friction only the current grows.
    held = r * fixed / (k * v)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        dead = np.where(
            held < 1.0, coil * fixed / (k * v) * log_share(-np.where(held < 1.0, held, 0.0)), np.inf
        )
        since = np.where(t > dead, t - dead, 0.0)
    rates = dc_decay(r_wind=r, inductance=henry, k_emf=k, inertia=j, b_viscous=b)
    even, odd = _modes(since, *(arr(x) for x in rates))
    end, slow = spare / (r * b + k * k), j * r / (r * b + k * k)
    with_coil = end * (1.0 - even - 0.5 * (r / henry + b / j) * odd)
    w = np.where(bare, end * -np.expm1(-since / slow), with_coil)
    still = np.where(bare, v / r, v / henry * t * fade_share(r * t / henry))
    moving = np.where(bare, (v - k * w) / r, (fixed + b * w) / k + spare / (k * henry) * odd)
    return RunUp(out(w), out(np.where(t > dead, moving, still)))


def _modes(t: F, slow: F, fast: F, w_ring: F) -> tuple[F, F]:
    """The even and the odd part of two dying modes: exp(-mid t)*cosh(d t) and exp(-mid t)*sinh(d t)/d."""
    swings = w_ring > 0.0
    one, two = np.exp(-slow * t), np.exp(-fast * t)
    even = np.where(swings, one * np.cos(w_ring * t), 0.5 * (one + two))
    odd = one * t * np.where(swings, np.sinc(w_ring * t / np.pi), fade_share((fast - slow) * t))
    return even, odd


def dc_peak_current(
    *, v_bus: ArrayLike, r_wind: ArrayLike, inductance: ArrayLike, k_emf: ArrayLike, inertia: ArrayLike,
    t_coulomb: ArrayLike = 0.0, b_viscous: ArrayLike = 0.0,
) -> PeakAmps:  # fmt: skip
    """The highest current while a permanent-magnet machine runs up on steady volts, and when.

    the current of `dc_run_up` at t = arccosh(x)/sqrt(h^2 - w0^2), arccos for x below 1, after its first movement;
    h = (r_wind/inductance - b_viscous/inertia)/2, w0 = k_emf/sqrt(inductance*inertia), x = h/w0

    Below v_bus/r_wind, which it reaches at once where inductance is 0, and in the end where it never starts.
    Worked: dc_peak_current(v_bus=8.0, r_wind=0.5, inductance=1.5e-3, k_emf=0.05, inertia=2.5e-4, b_viscous=1e-4)
    = (14.04, 0.009231)
    Source: [motor_run_up]
    """
    names = (v_bus, r_wind, inductance, k_emf, inertia, t_coulomb, b_viscous)
    v, r, coil, k, j, fixed, b = np.broadcast_arrays(*(arr(x) for x in names))
    bare, held = coil == 0.0, r * fixed / (k * v)
    henry = np.where(bare, 1.0, coil)
    w0 = k / np.sqrt(henry * j)
    turn = arccosh_share(0.5 * (r / henry - b / j) / w0) / w0
    dead = coil * fixed / (k * v) * log_share(-np.where(held < 1.0, held, 0.0))
    when = np.where(held < 1.0, dead + turn, np.inf)
    at = np.where(np.isfinite(when), when, 0.0)
    run = dc_run_up(at, v_bus=v, r_wind=r, inductance=coil, k_emf=k, inertia=j, t_coulomb=fixed, b_viscous=b)
    settled = np.where(held < 1.0, (v * b + k * fixed) / (r * b + k * k), v / r)
    amps = np.where(bare, v / r, np.where(np.isfinite(when), run.i_motor, settled))
    return PeakAmps(out(amps), out(np.where(bare, 0.0, when)))


# ---- fuses ----------------------------------------------------------------------------------------------------------

# Gates of each kind: current over rating, soonest and latest opening (0: may open at any time; inf: need not open).
# blade, glass_quick, glass_slow as printed on makers' sheets; bolted from memory.
FUSE_GATES: Final[Mapping[str, tuple[tuple[float, float, float], ...]]] = MappingProxyType(
    {
        "blade": (
            (1.1, 360e3, math.inf), (1.35, 0.75, 600.0), (1.6, 0.25, 50.0), (2.0, 0.15, 5.0), (3.5, 0.08, 0.5),
            (6.0, 0.03, 0.1),
        ),
        "glass_quick": (
            (1.5, 3600.0, math.inf), (2.1, 0.0, 1800.0), (2.75, 0.05, 2.0), (4.0, 0.01, 0.3), (10.0, 0.0, 0.02),
        ),
        "glass_slow": (
            (1.5, 3600.0, math.inf), (2.1, 0.0, 120.0), (2.75, 0.6, 10.0), (4.0, 0.15, 3.0), (10.0, 0.02, 0.3),
        ),
        "bolted": (
            (1.0, 14400.0, math.inf), (1.35, 120.0, 1800.0), (2.0, 1.0, 15.0), (3.5, 0.3, 5.0), (6.0, 0.1, 1.0),
        ),
    }
)  # fmt: skip


def _log_line(multiple: F, xs: ArrayLike, ys: ArrayLike) -> F:
    """Straight lines on log-log paper between points; level beyond both ends."""
    return arr(np.exp(np.interp(np.log(multiple), np.log(xs), np.log(ys))))


def _earliest(multiple: F, fuse_kind: str) -> F:
    """Soonest opening at a multiple at or above the first gate."""
    xs, ys = arr([(m, low) for m, low, _high in FUSE_GATES[fuse_kind] if low > 0.0]).T
    return arr(_log_line(multiple, xs, ys) * np.minimum(xs[-1] / multiple, 1.0) ** 2)


def _middle(fuse_kind: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Multiples and seconds of the curve through the middle of the gates."""
    xs = tuple(m for m, _low, _high in FUSE_GATES[fuse_kind])
    soonest = [float(x) for x in _earliest(np.array(xs), fuse_kind)]
    pairs = zip(soonest, FUSE_GATES[fuse_kind], strict=True)
    return xs, tuple(math.sqrt(low * gate[2]) if math.isfinite(gate[2]) else low for low, gate in pairs)


# Kind -> (current over rating, seconds): the middle of the gates on log-log paper. Never below the first point; above
# the last one the seconds fall with the square of the current.
FUSE_CURVES: Final[Mapping[str, tuple[tuple[float, ...], tuple[float, ...]]]] = MappingProxyType(
    {kind: _middle(kind) for kind in FUSE_GATES}
)


def fuse_opening_time(overload: ArrayLike, *, fuse_kind: str) -> F:
    """How long a steady current takes to open a fuse, by the middle of the gates of its kind.

    straight lines on log-log paper through FUSE_CURVES; above its last point the same I^2 t; inf below its first

    Two fuses of a kind may open many times apart: see `fuse_band`. At room temperature. Where a
    gate has one side only, the other is read off the neighbouring gates. bolted: gates from memory.
    Worked: fuse_opening_time(2.0, fuse_kind="blade") = 0.866
    Source: [fuse_blade_gates] [iec60127_gates] [fuse_bolted_gates] [melting_integral]
    """
    m, (xs, ys) = arr(overload), FUSE_CURVES[fuse_kind]
    holds = m < xs[0]
    at = np.where(holds, xs[0], m)
    return out(np.where(holds, np.inf, _log_line(at, xs, ys) * np.minimum(xs[-1] / at, 1.0) ** 2))


def fuse_band(overload: ArrayLike, *, fuse_kind: str) -> FuseBand:
    """The soonest and the latest a steady current may open a fuse that keeps the gates of its kind.

    straight lines on log-log paper through each side of FUSE_GATES; above the last gate the soonest falls by the same
    I^2 t and the latest stays; both inf below the first gate, the latest up to the first gate that has one

    At room temperature and for a steady current. bolted: gates from memory.
    Worked: fuse_band(2.0, fuse_kind="blade") = (0.15, 5.0)
    Source: [fuse_blade_gates] [iec60127_gates] [fuse_bolted_gates] [melting_integral]
    """
    m, gates = arr(overload), FUSE_GATES[fuse_kind]
    holds = m < gates[0][0]
    at = np.where(holds, gates[0][0], m)
    xs, ys = arr([(x, high) for x, _low, high in gates if math.isfinite(high)]).T
    latest = np.where(at < xs[0], np.inf, _log_line(at, xs, ys))
    return FuseBand(out(np.where(holds, np.inf, _earliest(at, fuse_kind))), out(latest))


# ---- flicker --------------------------------------------------------------------------------------------------------


def percent_flicker(light_high: ArrayLike, light_low: ArrayLike) -> F:
    """How deep light swings, between 0 (steady) and 1 (dark once in each cycle).

    flicker = (light_high - light_low)/(light_high + light_low)

    The trade gives it in per cent. nan in the dark.
    Worked: percent_flicker(1.2, 0.8) = 0.2
    Source: [light_fluctuation]
    """
    high, low = arr(light_high), arr(light_low)
    with np.errstate(invalid="ignore"):
        return out((high - low) / (high + low))


def bulb_flicker(v_ripple: ArrayLike, *, v_bus: ArrayLike, exponent_light: ArrayLike = 3.4) -> F:
    """How deep the light of a filament lamp swings when its volts ripple slowly.

    `percent_flicker` of ((v_bus + v_ripple/2)/v_bus)^exponent_light and ((v_bus - v_ripple/2)/v_bus)^exponent_light

    v_ripple top to bottom. An upper bound: the filament stays warm between pulses, so multiply by `lag_share` of its
    own time constant (some hundredths to a few tenths of a second). Dark where the volts reach zero.
    Worked: bulb_flicker(1.2, v_bus=12.0) = 0.1685
    Source: [lamp_rerating] [light_fluctuation]
    """
    mean, half = arr(v_bus), 0.5 * arr(v_ripple)
    high, low = (
        bulb_light(v, v_rated=mean, exponent_light=exponent_light)
        for v in (mean + half, np.maximum(mean - half, 0.0))
    )
    return percent_flicker(high, low)


def strip_flicker(v_ripple: ArrayLike, *, v_bus: ArrayLike, v_knee: ArrayLike) -> F:
    """How deep the light of LEDs behind a bare resistor swings when their volts ripple.

    (v_ripple/2)/(v_bus - v_knee) while they conduct all the time, 1 where they go dark in each cycle

    Light in proportion to current. It has no warmth to smooth it. nan where it never lights.
    Worked: strip_flicker(1.2, v_bus=12.0, v_knee=9.6) = 0.25
    Source: [ohm_joule] [light_fluctuation]
    """
    mean, half, knee = arr(v_bus), 0.5 * arr(v_ripple), arr(v_knee)
    return percent_flicker(np.maximum(mean + half - knee, 0.0), np.maximum(mean - half - knee, 0.0))


def lag_share(frequency: ArrayLike, *, time_constant: ArrayLike) -> F:
    """Share of a small swing that one lag (a filament, a filter) lets through.

    share = 1/sqrt(1 + (2*pi*frequency*time_constant)^2)

    Worked: lag_share(3.0, time_constant=0.05) = 0.7277
    Source: [second_order]
    """
    return out(1.0 / np.hypot(1.0, 2.0 * np.pi * arr(frequency) * arr(time_constant)))


# ---- meters ---------------------------------------------------------------------------------------------------------


def meter_samples(v_samples: ArrayLike, *, i_samples: ArrayLike) -> MeterRead:
    """What slow meters make of pulsing volts and amps, against the true mean power.

    p_meter = mean(v)*mean(i),  p_true = mean(v*i),  factor = p_true/p_meter

    Samples at equal steps along the last axis, over whole cycles. `bus.meter_correction` is the case of a resistor.
    Worked: meter_samples([14.0, 10.0], i_samples=[3.0, 1.0]) = (12, 2, 24, 26, 1.0833)
    Source: [mean_power]
    """
    v, i = arr(v_samples), arr(i_samples)
    v_mean, i_mean, p_true = np.mean(v, axis=-1), np.mean(i, axis=-1), np.mean(v * i, axis=-1)
    p_meter = v_mean * i_mean
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        factor = np.where(p_meter == 0.0, np.nan, p_true / p_meter)
    return MeterRead(out(v_mean), out(i_mean), out(p_meter), out(p_true), out(factor))


# ---- the load drops off ---------------------------------------------------------------------------------------------


def race_speed(
    duration: ArrayLike, *, w_crank: ArrayLike, torque_start: ArrayLike, inertia: ArrayLike,
    w_top: ArrayLike = math.inf,
) -> F:  # fmt: skip
    """Crank speed some time after the load has gone, while the legs push on.

    w = w_crank + (w_top - w_crank)*(1 - exp(-duration*torque_start/(inertia*w_top)))

    torque_start, w_top: the rider's line; w_top infinite: the torque stays torque_start, and
    w = w_crank + torque_start*duration/inertia. inertia: all that turns, as felt at the crank. No drag, w_crank below w_top.
    Worked: race_speed(0.5, w_crank=6.2832, torque_start=30.0, inertia=1.5, w_top=13.614) = 10.1
    Source: [spin_up]
    """
    t, w, top, push = arr(duration), arr(w_crank), arr(w_top), arr(torque_start) / arr(inertia)
    return out(w + push * (1.0 - w / top) * t * fade_share(push * t / top))


def race_time(
    inertia: ArrayLike,
    *,
    w_low: ArrayLike,
    w_high: ArrayLike,
    torque_start: ArrayLike,
    w_top: ArrayLike = math.inf,
) -> F:
    """Seconds in which unloaded legs race from one crank speed to a higher one.

    duration = (inertia*w_top/torque_start)*ln((w_top - w_low)/(w_top - w_high)),
    and inertia*(w_high - w_low)/torque_start where w_top is infinite

    0 where they are there already; inf where the rider's line ends below. The inverse of `race_speed`.
    Worked: race_time(1.5, w_low=6.2832, w_high=10.1, torque_start=30.0, w_top=13.614) = 0.5005
    Source: [spin_up]
    """
    low, high, top = arr(w_low), arr(w_high), arr(w_top)
    rise, room = high - low, top - low
    goes = (rise > 0.0) & (high < top)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        y = np.where(goes, rise / room, 0.0)
        push = arr(torque_start) * (1.0 - low / top)
        t = arr(inertia) * rise / push * log_share(-y)
    return out(np.where(goes, t, np.where(rise > 0.0, np.inf, 0.0)))


def clamp_use(
    reaction_time: ArrayLike, *, v_clamp: ArrayLike, w_crank: ArrayLike, torque_start: ArrayLike, inertia: ArrayLike,
    ratio: ArrayLike, k_emf: ArrayLike, w_top: ArrayLike = math.inf,
) -> ClampUse:  # fmt: skip
    """What a clamp takes from when the volts reach it until the rider lets go.

    w_clamp = v_clamp/(k_emf*ratio),  duration = reaction_time - race_time(w_clamp),  energy = p_clamp*duration,
    p_clamp = torque_start*(1 - w_clamp/w_top)*w_clamp

    The clamp holds the speed where its volts are. Winding and drag are left out: they would only take heat off it.
    All 0 where the volts do not reach it in time. `protection.dump_resistance` sizes the resistor for p_clamp.
    Worked: clamp_use(1.0, v_clamp=32.0, w_crank=6.2832, torque_start=30.0, inertia=1.5, ratio=50.0, k_emf=0.075,
    w_top=13.614) = (0.7504, 95.54, 71.69)
    Source: [energy_balance] [spin_up]
    """
    w = arr(v_clamp) / (arr(k_emf) * arr(ratio))
    there = race_time(inertia, w_low=w_crank, w_high=w, torque_start=torque_start, w_top=w_top)
    works = np.maximum(arr(reaction_time) - there, 0.0)
    p = np.where(works > 0.0, arr(torque_start) * (1.0 - w / arr(w_top)) * w, 0.0)
    return ClampUse(out(works), out(p), out(p * works))


# ---- holding up and starting softly ---------------------------------------------------------------------------------


def hold_up_volts(duration: ArrayLike, *, capacitance: ArrayLike, v_bus: ArrayLike, p_load: ArrayLike) -> F:
    """Volts of a capacitor that alone has carried a constant-power load for some time.

    v = sqrt(v_bus^2 - 2*p_load*duration/capacitance)

    nan once it is empty. `store.capacitor_time` is the inverse.
    Worked: hold_up_volts(0.1, capacitance=0.01, v_bus=28.0, p_load=20.0) = 19.6
    Source: [capacitor_laws]
    """
    left = arr(v_bus) ** 2 - 2.0 * arr(p_load) * arr(duration) / arr(capacitance)
    return out(np.sqrt(np.where(left >= 0.0, left, np.nan)))


# ---- legs that answer late ------------------------------------------------------------------------------------------


def lag_step(duration: ArrayLike, *, reaction_time: ArrayLike) -> F:
    """Share of a wanted change that late legs have made some time after they felt the need for it.

    share = 1 - (1 + t/tau)*exp(-t/tau),  tau = reaction_time/2, two lags in a row

    0 before; half way at 0.84 of the reaction time; on the whole late by just the reaction time.
    Worked: lag_step(0.5, reaction_time=0.5) = 0.594
    Source: [two_lags]
    """
    t, tau = np.maximum(arr(duration), 0.0), 0.5 * arr(reaction_time)
    x = np.where(tau > 0.0, t / np.where(tau > 0.0, tau, 1.0), np.where(t > 0.0, np.inf, 0.0))
    finite = np.where(np.isfinite(x), x, 0.0)
    return out(np.where(np.isfinite(x), -np.expm1(-finite) - finite * np.exp(-finite), 1.0))


# ---- a board that wakes and sleeps ----------------------------------------------------------------------------------


def sag_time(
    inertia: ArrayLike,
    *,
    w_high: ArrayLike,
    w_low: ArrayLike,
    p_crank: ArrayLike,
    torque_mean: ArrayLike = 0.0,
) -> F:
    """Seconds in which a load of constant power drags the legs from one crank speed down to another.

    duration = integral of inertia*w/(p_crank - torque_mean*w) from w_low to w_high, in closed form;
    inertia*(w_high^2 - w_low^2)/(2*p_crank) where nobody pushes

    torque_mean: what the rider holds meanwhile. inf where that carries the load at w_high; 0 where w_high is not above
    w_low. Copper and drag belong into p_crank.
    Worked: sag_time(1.5, w_high=7.0, w_low=5.0, p_crank=150.0, torque_mean=15.0) = 0.3108
    Source: [spin_up]
    """
    high, low, p, torque = arr(w_high), arr(w_low), arr(p_crank), arr(torque_mean)
    short, fall = p - torque * high, high - low
    sags = (short > 0.0) & (fall > 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        q = np.where(sags, fall / short, 0.0)
        t = arr(inertia) * q * (high - p * q * log_rest(torque * q))
    return out(np.where(sags, t, np.where(fall > 0.0, np.inf, 0.0)))


def hiccup_rhythm(
    v_wake: ArrayLike, *, v_sleep: ArrayLike, r_source: ArrayLike, p_load: ArrayLike, p_crank: ArrayLike,
    torque_mean: ArrayLike, inertia: ArrayLike, ratio: ArrayLike, k_emf: ArrayLike, v_drop: ArrayLike = 0.0,
) -> Rhythm:  # fmt: skip
    """The on-off-on rhythm of a board whose load is more than the legs hold.

    w_drop = (restart_voltage(v_sleep) + v_drop)/(k_emf*ratio),  w_wake = (v_wake + v_drop)/(k_emf*ratio)
    race = inertia*(w_wake - w_drop)/torque_mean,  sag = sag_time from w_wake down to w_drop

    race and sag are 0 where v_wake is not above `converter.restart_voltage`: it rattles as fast as the board can. sag is
    inf where the legs carry the load at w_wake, race where nobody pushes. Soft start and the board's own waits come on
    top. p_load: watts the board takes in; p_crank: the same load as felt at the crank, losses and all; torque_mean held.
    Worked: hiccup_rhythm(16.0, v_sleep=10.0, r_source=0.9, p_load=40.0, p_crank=60.0, torque_mean=7.0,
    inertia=0.8, ratio=30.0, k_emf=0.075, v_drop=1.0) = (0.1219, 0.5813, 0.7032)
    Source: [brown_out] [spin_up]
    """
    pitch, drop = arr(k_emf) * arr(ratio), arr(v_drop)
    low = (restart_voltage(v_sleep, r_source=r_source, p_load=p_load) + drop) / pitch
    high = (arr(v_wake) + drop) / pitch
    race = race_time(inertia, w_low=low, w_high=high, torque_start=torque_mean)
    sag = sag_time(inertia, w_high=high, w_low=low, p_crank=p_crank, torque_mean=torque_mean)
    return Rhythm(out(race), out(sag), out(race + sag))
