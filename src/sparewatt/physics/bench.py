"""The bench: rope brake, lever, falling weight, run-down, exchanged meters, battery, bulb, heat of a load, ear and film.

Each formula turns what is read with a meter, a scale, a tape, a clock or a phone into a constant of a part. A mass in
kilograms stands for what a scale shows; its pull is that times gravity.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out
from sparewatt.physics.appliances import BULB_EXPONENT, bulb_current

__all__ = [
    "ALPHA_NICHROME", "GRAVITY", "RHO_CONSTANTAN", "RHO_NICHROME", "TALK_SHARES", "TALK_SPREAD", "CoastRates", "Drag",
    "FallFit", "FreeRun", "LeverFit", "air_film", "apparent_speed", "arm_torque", "board_efficiency", "board_loss",
    "bulb_on_source", "bulb_volts", "capacity_from_discharge", "charge_drawn", "coast_power", "coast_rates",
    "critical_power_by_talk", "drag_line", "fall_acceleration", "fall_time", "film_speed", "free_run_drag",
    "friction_from_fall", "inertia_from_disc", "inertia_from_fall", "inertia_from_two_falls", "k_from_lever",
    "loss_spread", "mark_speed", "pass_speed_spread", "rope_brake_power", "rope_brake_torque", "step_resistance",
    "surface_heat", "surface_temperature", "swapped_efficiency", "swapped_gain",
]  # fmt: skip

# Standard pull of the earth, m/s^2, exact by definition.
GRAVITY: Final = 9.80665

# Resistivity of heater wire at 20 degC in ohm*m, and how it grows with each kelvin: nickel-chromium, copper-nickel.
RHO_NICHROME: Final = 1.08e-6
ALPHA_NICHROME: Final = 0.9e-4
RHO_CONSTANTAN: Final = 0.454e-6

# Power at which a sentence becomes hard to say over critical power: usual range, and the spread of the guess.
TALK_SHARES: Final = (0.8, 0.9)
TALK_SPREAD: Final = 0.15

# Exponents of temperature by which air conducts heat and resists flow, 250 to 1300 K.
_K_POWER, _NU_POWER = 0.81, 1.71

_HALVINGS = 80  # halves a bracket to the last digit


class FallFit(NamedTuple):
    """Inertia and steady friction torque, from two falls."""

    inertia: F
    t_coulomb: F


class CoastRates(NamedTuple):
    """Steady drag over inertia, and speed-proportional drag over inertia."""

    drag_rate: F
    damping_rate: F


class FreeRun(NamedTuple):
    """Speed of a machine that runs free as a motor, and the drag torque it then overcomes."""

    w_shaft: F
    torque: F


class Drag(NamedTuple):
    """The straight line of drag against speed: its value at rest and its slope."""

    t_coulomb: F
    b_viscous: F


class LeverFit(NamedTuple):
    """Torque for each amp, torque at no amps (a lever's own weight), and the sticking torque that always resists."""

    k_emf: F
    torque_offset: F
    torque_stiction: F


# ---- rope brake and lever arm ---------------------------------------------------------------------------------------


def rope_brake_torque(
    mass_hung: ArrayLike, mass_scale: ArrayLike, *, radius_drum: ArrayLike, radius_rope: ArrayLike = 0.0,
    gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Torque of a rope laid over a turning wheel, a weight on one end and a scale on the other.

    torque = (mass_hung - mass_scale) * gravity * (radius_drum + radius_rope)

    The scale jumps with each push of the legs: take its mean over many turns. Heat loosens the grip, not the sum.
    Worked: rope_brake_torque(25.0, 5.0, radius_drum=0.30, radius_rope=0.015, gravity=9.81) = 61.80
    Source: [brake_rope]
    """
    pull = (arr(mass_hung) - arr(mass_scale)) * arr(gravity)
    return out(pull * (arr(radius_drum) + arr(radius_rope)))


def rope_brake_power(
    mass_hung: ArrayLike, mass_scale: ArrayLike, *, w_drum: ArrayLike, radius_drum: ArrayLike,
    radius_rope: ArrayLike = 0.0, gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Power that a rope brake takes off a turning wheel.

    p = (mass_hung - mass_scale) * gravity * (radius_drum + radius_rope) * w_drum

    4 to 6 % with a kitchen scale. All of it becomes heat in the rope: wet it, change it, never leave it.
    Worked: rope_brake_power(25.0, 5.0, w_drum=41.888, radius_drum=0.30, radius_rope=0.015, gravity=9.81) = 2589
    Source: [brake_rope]
    """
    torque = rope_brake_torque(
        mass_hung, mass_scale, radius_drum=radius_drum, radius_rope=radius_rope, gravity=gravity
    )
    return out(torque * arr(w_drum))


def arm_torque(mass_scale: ArrayLike, *, length_lever: ArrayLike, gravity: ArrayLike = GRAVITY) -> F:
    """Torque of a shaft whose lever presses on a scale.

    torque = mass_scale * gravity * length_lever

    length_lever square to the press. The lever's own weight reads along: note the scale with no amps.
    Worked: arm_torque(0.5, length_lever=0.2) = 0.9807
    Source: [brake_rope]
    """
    return out(arr(mass_scale) * arr(gravity) * arr(length_lever))


def k_from_lever(i_points: ArrayLike, *, torque_rising: ArrayLike, torque_falling: ArrayLike) -> LeverFit:
    """Torque for each amp, from a lever on a scale, read with the amps turned up and turned down again.

    mean of the two against i_points: straight line, k_emf its slope, torque_offset its value at no amps
    torque_stiction = half the mean of (torque_falling - torque_rising)

    What sticks makes the scale read low on the way up and high on the way down by as much. NaN with one amps value.
    Worked: k_from_lever([1.0, 2.0, 3.0], torque_rising=[0.05, 0.13, 0.21], torque_falling=[0.09, 0.17, 0.25]) =
    (0.08, -0.01, 0.02)
    Source: [straight_line]
    """
    i, up, down = arr(i_points), arr(torque_rising), arr(torque_falling)
    mid = 0.5 * (up + down)
    off, lift = i - np.mean(i, axis=-1, keepdims=True), mid - np.mean(mid, axis=-1, keepdims=True)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.sum(off * lift, axis=-1) / np.sum(off * off, axis=-1)
    offset = np.mean(mid, axis=-1) - slope * np.mean(i, axis=-1)
    return LeverFit(out(slope), out(offset), out(0.5 * np.mean(down - up, axis=-1)))


# ---- falling weight -------------------------------------------------------------------------------------------------


def fall_acceleration(height_drop: ArrayLike, *, duration: ArrayLike) -> F:
    """How fast a weight gained speed, from the height it fell and the time it took.

    acceleration = 2 * height_drop / duration^2

    From rest, friction steady. An error in the time counts twice.
    Worked: fall_acceleration(1.0, duration=0.92) = 2.363
    Source: [falling_weight]
    """
    return out(2.0 * arr(height_drop) / arr(duration) ** 2)


def fall_time(
    height_drop: ArrayLike, *, mass: ArrayLike, radius_string: ArrayLike, inertia: ArrayLike,
    t_coulomb: ArrayLike = 0.0, gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Time a weight on a string takes to fall while it spins up a shaft.

    acceleration = radius_string*(mass*gravity*radius_string - t_coulomb)/(inertia + mass*radius_string^2)
    duration = sqrt(2*height_drop/acceleration); infinite where friction holds the weight

    Thin string, one layer. Drag that grows with speed is left out.
    Worked: fall_time(1.0, mass=2.0, radius_string=0.02, inertia=0.0025) = 0.9174
    Source: [falling_weight]
    """
    m, r = arr(mass), arr(radius_string)
    a = r * (m * arr(gravity) * r - arr(t_coulomb)) / (arr(inertia) + m * r * r)
    with np.errstate(divide="ignore", invalid="ignore"):
        return out(np.where(a > 0.0, np.sqrt(2.0 * arr(height_drop) / a), np.inf))


def inertia_from_fall(
    acceleration: ArrayLike, *, mass: ArrayLike, radius_string: ArrayLike, t_coulomb: ArrayLike = 0.0,
    gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Inertia of a shaft that a falling weight spins up.

    inertia = radius_string*(mass*(gravity - acceleration)*radius_string - t_coulomb)/acceleration

    Half the string's thickness belongs to radius_string, and an error in it counts twice.
    Worked: inertia_from_fall(2.3764, mass=2.0, radius_string=0.02) = 0.002501
    Source: [falling_weight]
    """
    a, r = arr(acceleration), arr(radius_string)
    return out(r * (arr(mass) * (arr(gravity) - a) * r - arr(t_coulomb)) / a)


def friction_from_fall(
    acceleration: ArrayLike, *, mass: ArrayLike, radius_string: ArrayLike, inertia: ArrayLike,
    gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Friction torque of a shaft of known inertia that a falling weight spins up.

    t_coulomb = mass*(gravity - acceleration)*radius_string - inertia*acceleration/radius_string

    A small difference of two large torques where the wheel is heavy.
    Worked: friction_from_fall(0.44444, mass=0.5, radius_string=0.3, inertia=0.13483, gravity=9.81) = 1.205
    Source: [falling_weight]
    """
    a, r = arr(acceleration), arr(radius_string)
    return out(arr(mass) * (arr(gravity) - a) * r - arr(inertia) * a / r)


def inertia_from_two_falls(
    acceleration_light: ArrayLike, acceleration_heavy: ArrayLike, *, mass_light: ArrayLike, mass_heavy: ArrayLike,
    radius_string: ArrayLike, gravity: ArrayLike = GRAVITY,
) -> FallFit:  # fmt: skip
    """Inertia and friction of a shaft from falls with two weights.

    f = mass*(gravity - acceleration)*radius_string for each
    inertia = radius_string*(f_heavy - f_light)/(acceleration_heavy - acceleration_light)
    t_coulomb = (f_light*acceleration_heavy - f_heavy*acceleration_light)/(acceleration_heavy - acceleration_light)

    Choose the heavy weight twice the light one or more. Equal accelerations: not finite.
    Worked: inertia_from_two_falls(2.0743, 3.5831, mass_light=2.0, mass_heavy=4.0, radius_string=0.02) = (0.0025, 0.05)
    Source: [falling_weight]
    """
    slow, fast, r, g = arr(acceleration_light), arr(acceleration_heavy), arr(radius_string), arr(gravity)
    light, heavy = arr(mass_light) * (g - slow) * r, arr(mass_heavy) * (g - fast) * r
    with np.errstate(divide="ignore", invalid="ignore"):
        inertia = r * (heavy - light) / (fast - slow)
        friction = (light * fast - heavy * slow) / (fast - slow)
    return FallFit(out(inertia), out(friction))


# ---- run-down and free run ------------------------------------------------------------------------------------------


def coast_rates(
    w_first: ArrayLike, w_middle: ArrayLike, w_last: ArrayLike, *, time_step: ArrayLike
) -> CoastRates:
    """Drag over inertia from three speeds at equal steps of time while a shaft runs down.

    q = (w_first - w_middle)/(w_middle - w_last),  damping_rate = ln(q)/time_step
    drag_rate = (w_first - w_middle)/time_step * ln(q)/(1 - 1/q) - damping_rate*w_first

    Exact for steady drag and drag in proportion to speed together; q = 1 means steady drag alone. Three readings show
    no spread: fit many where they can be had. NaN where it does not slow down.
    Worked: coast_rates(150.0, 107.177, 68.429, time_step=1.0) = (30.0, 0.1)
    Source: [coast_rates]
    """
    first, last, step = arr(w_first) - arr(w_middle), arr(w_middle) - arr(w_last), arr(time_step)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_q = np.log(first / last)
        tiny = np.abs(log_q) < 1e-8
        # ln(q)/(1 - 1/q) tends to 1 as q does: written so that steady drag alone is not 0/0.
        swell = np.where(tiny, 1.0 + 0.5 * log_q, log_q / np.where(tiny, 1.0, -np.expm1(-log_q)))
        damping = log_q / step
        drag = first / step * swell - damping * arr(w_first)
        good = (first > 0.0) & (last > 0.0)
    return CoastRates(out(np.where(good, drag, np.nan)), out(np.where(good, damping, np.nan)))


def inertia_from_disc(decel_bare: ArrayLike, decel_disc: ArrayLike, *, inertia_disc: ArrayLike) -> F:
    """Inertia of a shaft from two run-downs, bare and with a known disc, compared at one speed.

    inertia = inertia_disc * decel_disc / (decel_bare - decel_disc)

    Takes the drag as equal in both: a heavy disc loads the bearings and stirs the air, which makes the answer too large.
    Worked: inertia_from_disc(40.0, 20.0, inertia_disc=0.0025) = 0.0025
    Source: [coast_rates]
    """
    bare, disc = arr(decel_bare), arr(decel_disc)
    with np.errstate(divide="ignore", invalid="ignore"):
        return out(arr(inertia_disc) * disc / (bare - disc))


def coast_power(
    w_shaft: ArrayLike, *, inertia: ArrayLike, drag_rate: ArrayLike, damping_rate: ArrayLike = 0.0
) -> F:
    """Power that drag takes at a speed, from the rates of a run-down and the inertia.

    p = inertia * (drag_rate + damping_rate*w_shaft) * w_shaft

    The difference of two run-downs, tyre on and off the roller, is the toll of the tyre.
    Worked: coast_power(150.0, inertia=0.0025, drag_rate=40.0, damping_rate=0.1) = 20.63
    Source: [coast_rates]
    """
    w = arr(w_shaft)
    return out(arr(inertia) * (arr(drag_rate) + arr(damping_rate) * w) * w)


def free_run_drag(
    i_idle: ArrayLike, *, v_bus: ArrayLike, k_emf: ArrayLike, r_wind: ArrayLike, v_brush: ArrayLike = 0.0
) -> FreeRun:
    """Speed and drag of a machine that runs free as a motor.

    w_shaft = (v_bus - v_brush - i_idle*r_wind)/k_emf,  torque = k_emf*i_idle

    Nothing on the shaft, amps settled. Iron loss counts as drag.
    Worked: free_run_drag(0.6, v_bus=24.0, k_emf=0.11, r_wind=0.45, v_brush=1.0) = (206.6, 0.066)
    Source: [dc_machine]
    """
    i, k = arr(i_idle), arr(k_emf)
    return FreeRun(out((arr(v_bus) - arr(v_brush) - i * arr(r_wind)) / k), out(k * i))


def drag_line(*, w_low: ArrayLike, torque_slow: ArrayLike, w_high: ArrayLike, torque_fast: ArrayLike) -> Drag:
    """Drag as a straight line through two speeds.

    b_viscous = (torque_fast - torque_slow)/(w_high - w_low),  t_coulomb = torque_slow - b_viscous*w_low

    Far apart is better. Not finite when the speeds are equal.
    Worked: drag_line(w_low=100.0, torque_slow=0.055, w_high=200.0, torque_fast=0.065) = (0.045, 1e-4)
    Source: [dc_machine]
    """
    low, slow = arr(w_low), arr(torque_slow)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (arr(torque_fast) - slow) / (arr(w_high) - low)
    return Drag(out(slow - slope * low), out(slope))


# ---- boards, batteries, riders --------------------------------------------------------------------------------------


def board_loss(*, v_in: ArrayLike, i_in: ArrayLike, v_out: ArrayLike, i_out: ArrayLike) -> F:
    """Watts that stay in a board, from four readings.

    loss = v_in*i_in - v_out*i_out

    A small difference of two large numbers: see `loss_spread`. Below zero means a reading is wrong.
    Worked: board_loss(v_in=24.0, i_in=4.5, v_out=12.0, i_out=8.2) = 9.6
    Source: [energy_balance]
    """
    return out(arr(v_in) * arr(i_in) - arr(v_out) * arr(i_out))


def board_efficiency(*, v_in: ArrayLike, i_in: ArrayLike, v_out: ArrayLike, i_out: ArrayLike) -> F:
    """Watts out over watts in of a board, as read.

    eta = v_out*i_out/(v_in*i_in)

    Above 1, or rising with the amps up to the board's limit, means a reading is wrong.
    Worked: board_efficiency(v_in=24.0, i_in=4.5, v_out=12.0, i_out=8.2) = 0.9111
    Source: [energy_balance]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        return out(arr(v_out) * arr(i_out) / (arr(v_in) * arr(i_in)))


def swapped_efficiency(eta_first: ArrayLike, eta_swapped: ArrayLike) -> F:
    """Efficiency free of the scale errors of two meters, from two runs with the meters exchanged.

    eta = sqrt(eta_first * eta_swapped)

    Exact for errors in proportion to the reading, at the same operating point. Digits and drift remain.
    Worked: swapped_efficiency(0.930, 0.894) = 0.9118
    Source: [meter_swap]
    """
    return out(np.sqrt(arr(eta_first) * arr(eta_swapped)))


def swapped_gain(eta_first: ArrayLike, eta_swapped: ArrayLike) -> F:
    """How much more the meters that stood first at the output read than the ones that stood first at the input.

    gain = sqrt(eta_first / eta_swapped)

    1.02: they show 2 % more watts than the others for the same watts. Which of them is right stays open.
    Worked: swapped_gain(0.930, 0.894) = 1.0199
    Source: [meter_swap]
    """
    return out(np.sqrt(arr(eta_first) / arr(eta_swapped)))


def loss_spread(eta_board: ArrayLike, *, eta_sd: ArrayLike) -> F:
    """Spread of a board's loss, as a share of the loss, that a spread of its efficiency leaves.

    share = eta_sd / (1 - eta_board)

    0.03 on 0.90 is 30 % of the loss: do not read more out of it.
    Worked: loss_spread(0.90, eta_sd=0.03) = 0.3
    Source: [energy_balance]
    """
    return out(arr(eta_sd) / (1.0 - arr(eta_board)))


def step_resistance(*, v_before: ArrayLike, v_under: ArrayLike, v_back: ArrayLike, i_load: ArrayLike) -> F:
    """Resistance of a battery from a load put on and taken off.

    r = ((v_before - v_under) + (v_back - v_under)) / (2*i_load)

    Volts some 5 s after each step, leads on the posts. The mean of both steps cancels most of the slow sag.
    Worked: step_resistance(v_before=12.72, v_under=12.58, v_back=12.70, i_load=4.6) = 0.02826
    Source: [ohm]
    """
    under = arr(v_under)
    return out(0.5 * (arr(v_before) + arr(v_back) - 2.0 * under) / arr(i_load))


def charge_drawn(t_read: ArrayLike, i_points: ArrayLike) -> F:
    """Charge that flowed, from amps read now and then.

    charge = sum of (mean of two neighbouring amps) * (time between them), along the last axis

    Straight lines between the readings: read more often where the amps change.
    Worked: charge_drawn([0.0, 1800.0, 3600.0], [1.6, 1.5, 1.4]) = 5400
    Source: [interpolation]
    """
    t, i = arr(t_read), arr(i_points)
    return out(np.sum(0.5 * (i[..., 1:] + i[..., :-1]) * np.diff(t, axis=-1), axis=-1))


def capacity_from_discharge(
    charge_given: ArrayLike, *, duration: ArrayLike, peukert: ArrayLike, duration_rated: ArrayLike = 72000.0
) -> F:
    """Capacity at the rated time from a timed discharge at about steady amps.

    capacity = charge_given * (duration_rated/duration)^(1 - 1/peukert)

    `store.peukert_time` turned round. From full to the end volts of the rated discharge; 3 to 5 %.
    Worked: capacity_from_discharge(240.75e3, duration=9630.0, peukert=1.25) = 360.0e3
    Source: [peukert_inverse]
    """
    stretch = arr(duration_rated) / arr(duration)
    return out(arr(charge_given) * stretch ** (1.0 - 1.0 / arr(peukert)))


def critical_power_by_talk(p_talk: ArrayLike, *, share_talk: ArrayLike = 0.85) -> F:
    """Critical power guessed from the power at which a sentence becomes hard to say.

    critical_power = p_talk / share_talk

    Steps of 10 W, each 3 minutes. share_talk 0.8 to 0.9; the guess has a spread of 15 % and says nothing of a reserve.
    Worked: critical_power_by_talk(110.0) = 129.4
    Source: [talk_test]
    """
    return out(arr(p_talk) / arr(share_talk))


# ---- bulbs as loads -------------------------------------------------------------------------------------------------


def bulb_volts(
    i_load: ArrayLike, *, p_rated: ArrayLike, v_rated: ArrayLike, exponent_bulb: ArrayLike = BULB_EXPONENT
) -> F:
    """Volts across a filament lamp that carries a current.

    v = v_rated * (i_load*v_rated/p_rated)^(1/exponent_bulb)

    `appliances.bulb_current` turned round; from about a third of its volts up. A bulb in series holds amps fairly steady.
    Worked: bulb_volts(1.494, p_rated=21.0, v_rated=12.0) = 9.0
    Source: [lamp_rerating]
    """
    v = arr(v_rated)
    return out(v * (arr(i_load) * v / arr(p_rated)) ** (1.0 / arr(exponent_bulb)))


def bulb_on_source(
    v_emf: ArrayLike, *, r_source: ArrayLike, p_rated: ArrayLike, v_rated: ArrayLike,
    exponent_bulb: ArrayLike = BULB_EXPONENT,
) -> F:  # fmt: skip
    """Volts that a filament lamp settles at on a source with resistance.

    v + r_source * bulb_current(v) = v_emf, found between 0 and v_emf by halving

    v_emf less brush and diode drops. Its cold first moment is another matter.
    Worked: bulb_on_source(14.0, r_source=0.8, p_rated=21.0, v_rated=12.0) = 12.56
    Source: [lamp_rerating] [ohm]
    """
    e, r, p, v, n = np.broadcast_arrays(
        arr(v_emf), arr(r_source), arr(p_rated), arr(v_rated), arr(exponent_bulb)
    )
    low, high = np.zeros_like(e), e.copy()
    for _ in range(_HALVINGS):
        mid = 0.5 * (low + high)
        over = mid + r * bulb_current(mid, p_rated=p, v_rated=v, exponent_bulb=n) > e
        low, high = np.where(over, low, mid), np.where(over, mid, high)
    return out(0.5 * (low + high))


# ---- heat of a load in still air ------------------------------------------------------------------------------------


def air_film(
    t_surface: ArrayLike, *, d_body: ArrayLike, t_air: ArrayLike = 293.15, k_air: ArrayLike = 0.0263,
    nu_air: ArrayLike = 1.589e-5, prandtl: ArrayLike = 0.707, t_ref: ArrayLike = 300.0, gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Heat that still air takes from something round and level, for each area and kelvin.

    Nu = (0.60 + 0.387*(Ra/(1 + (0.559/prandtl)^(9/16))^(16/9))^(1/6))^2,  h = Nu*k/d_body
    Ra = gravity*(t_surface - t_air)*d_body^3*prandtl/(t_film*nu^2),  t_film the mean of both temperatures
    k = k_air*(t_film/t_ref)^0.81,  nu = nu_air*(t_film/t_ref)^1.71

    A level cylinder alone in a room, from thin wire to a bucket; a coil shades itself and runs hotter. In W/(m^2*K).
    Worked: air_film(773.15, d_body=0.813e-3) = 47.1
    Source: [air_film]
    """
    hot, air, d, pr = arr(t_surface), arr(t_air), arr(d_body), arr(prandtl)
    film = 0.5 * (hot + air)
    warm = film / arr(t_ref)
    k, nu = arr(k_air) * warm**_K_POWER, arr(nu_air) * warm**_NU_POWER
    rayleigh = arr(gravity) * np.abs(hot - air) * d**3 * pr / (film * nu**2)
    ease = (1.0 + (0.559 / pr) ** (9.0 / 16.0)) ** (16.0 / 9.0)
    return out((0.60 + 0.387 * (rayleigh / ease) ** (1.0 / 6.0)) ** 2 * k / d)


def surface_heat(
    t_surface: ArrayLike, *, area_surface: ArrayLike, d_body: ArrayLike, emissivity: ArrayLike = 0.85,
    t_air: ArrayLike = 293.15, sigma_radiation: ArrayLike = 5.670374419e-8, k_air: ArrayLike = 0.0263,
    nu_air: ArrayLike = 1.589e-5, prandtl: ArrayLike = 0.707, t_ref: ArrayLike = 300.0, gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Watts that a hot surface gives to a still room, by air and by radiation.

    p = area_surface*(h*(t_surface - t_air) + emissivity*sigma_radiation*(t_surface^4 - t_air^4)),  h from `air_film`

    Free on all sides; walls as warm as the air. Rust, paint, glass and oxide have emissivity 0.8 to 0.95, bright metal 0.1.
    Worked: surface_heat(773.15, area_surface=2.554e-3, d_body=0.813e-3, emissivity=0.8) = 98.3
    Source: [air_film] [grey_body]
    """
    hot, air = arr(t_surface), arr(t_air)
    gas = {"k_air": k_air, "nu_air": nu_air, "prandtl": prandtl, "t_ref": t_ref, "gravity": gravity}
    h = air_film(hot, d_body=d_body, t_air=air, **gas)
    radiated = arr(emissivity) * arr(sigma_radiation) * (hot**4 - air**4)
    return out(arr(area_surface) * (h * (hot - air) + radiated))


def surface_temperature(
    p_heat: ArrayLike, *, area_surface: ArrayLike, d_body: ArrayLike, emissivity: ArrayLike = 0.85,
    t_air: ArrayLike = 293.15, sigma_radiation: ArrayLike = 5.670374419e-8, k_air: ArrayLike = 0.0263,
    nu_air: ArrayLike = 1.589e-5, prandtl: ArrayLike = 0.707, t_ref: ArrayLike = 300.0, gravity: ArrayLike = GRAVITY,
) -> F:  # fmt: skip
    """Temperature at which a surface gives off its watts to a still room: `surface_heat` turned round.

    surface_heat(t_surface) = p_heat, found by halving between the air and what radiation alone would need

    A mean: the hottest place of a bulb or a coil is well above it. Never take a cool figure for leave to touch.
    Worked: surface_temperature(98.3, area_surface=2.554e-3, d_body=0.813e-3, emissivity=0.8) = 773.1
    Source: [air_film] [grey_body]
    """
    names = (
        p_heat, area_surface, d_body, emissivity, t_air, sigma_radiation, k_air, nu_air, prandtl, t_ref, gravity,
    )  # fmt: skip
    p, area, d, eps, air, sigma, k, nu, pr, ref, g = np.broadcast_arrays(*(arr(x) for x in names))
    low, high = air.copy(), (np.maximum(p, 0.0) / (area * eps * sigma) + air**4) ** 0.25
    for _ in range(_HALVINGS):
        mid = 0.5 * (low + high)
        gives = surface_heat(
            mid, area_surface=area, d_body=d, emissivity=eps, t_air=air, sigma_radiation=sigma, k_air=k, nu_air=nu,
            prandtl=pr, t_ref=ref, gravity=g,
        )  # fmt: skip
        low, high = np.where(gives > p, low, mid), np.where(gives > p, mid, high)
    return out(0.5 * (low + high))


# ---- by ear and by film ---------------------------------------------------------------------------------------------


def mark_speed(frequency: ArrayLike, *, marks: ArrayLike = 1.0) -> F:
    """Shaft speed from how often a flag, tooth or bar passes.

    w = 2*pi*frequency/marks

    A commutator with an odd number of bars on two brushes changes over twice as often as it has bars.
    Worked: mark_speed(20.0, marks=1.0) = 125.7
    Source: [film_rate]
    """
    return out(2.0 * np.pi * arr(frequency) / arr(marks))


def apparent_speed(w_shaft: ArrayLike, *, frame_rate: ArrayLike, marks: ArrayLike = 1.0) -> F:
    """The speed that a film seems to show of a turning mark, negative when it seems to turn backwards.

    w_seen = w_shaft - w_wrap*round(w_shaft/w_wrap),  w_wrap = 2*pi*frame_rate/marks

    Short exposure. With equal marks a film cannot tell one from the next.
    Worked: apparent_speed(345.6, frame_rate=60.0) = -31.39
    Source: [film_rate]
    """
    w, wrap = arr(w_shaft), 2.0 * np.pi * arr(frame_rate) / arr(marks)
    return out(w - wrap * np.round(w / wrap))


def film_speed(
    w_seen: ArrayLike, *, frame_rate: ArrayLike, n_wraps: ArrayLike = 0.0, marks: ArrayLike = 1.0
) -> F:
    """A speed that looks on film like the one seen: one for each number of turns hidden between two frames.

    w = |w_seen + n_wraps*2*pi*frame_rate/marks|

    A second frame rate, or a second speed in a known ratio, tells which.
    Worked: film_speed(-31.39, frame_rate=60.0, n_wraps=1.0) = 345.6
    Source: [film_rate]
    """
    return out(np.abs(arr(w_seen) + arr(n_wraps) * 2.0 * np.pi * arr(frame_rate) / arr(marks)))


def pass_speed_spread(
    w_shaft: ArrayLike, *, timing_sd: ArrayLike, duration: ArrayLike, n_passes: ArrayLike
) -> F:
    """Spread of a steady speed from evenly spread passes of a mark, each timed with a spread.

    sd = w_shaft * (timing_sd/duration) * sqrt(12*(n_passes - 1)/(n_passes*(n_passes + 1)))

    duration from first to last pass; straight line through all. timing_sd on film: a frame over the square root of 12.
    Worked: pass_speed_spread(125.7, timing_sd=2.406e-3, duration=5.0, n_passes=101.0) = 0.02064
    Source: [film_rate] [straight_line]
    """
    n = arr(n_passes)
    return out(arr(w_shaft) * arr(timing_sd) / arr(duration) * np.sqrt(12.0 * (n - 1.0) / (n * (n + 1.0))))
