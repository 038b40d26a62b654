"""The bench: rope brake, lever, falling weight, run-down, exchanged meters, battery, bulb, heat of a load, ear and film.

Each formula turns what is read with a meter, a scale, a tape, a clock or a phone into a constant of a part. A mass in
kilograms stands for what a scale shows; its pull is that times gravity.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "ALPHA_NICHROME", "GRAVITY", "RHO_CONSTANTAN", "RHO_NICHROME", "air_film", "apparent_speed", "charge_drawn",
    "fall_time", "film_speed", "mark_speed", "pass_speed_spread", "rope_brake_power",
    "rope_brake_torque", "surface_heat", "surface_temperature",
]  # fmt: skip

# Standard pull of the earth, m/s^2, exact by definition.
GRAVITY: Final = 9.80665

# Resistivity of heater wire at 20 degC in ohm*m, and how it grows with each kelvin: nickel-chromium, copper-nickel.
RHO_NICHROME: Final = 1.08e-6
ALPHA_NICHROME: Final = 0.9e-4
RHO_CONSTANTAN: Final = 0.454e-6

# Exponents of temperature by which air conducts heat and resists flow, 250 to 1300 K.
_K_POWER, _NU_POWER = 0.81, 1.71

_HALVINGS = 80  # halves a bracket to the last digit


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


# ---- falling weight -------------------------------------------------------------------------------------------------


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


# ---- run-down and free run ------------------------------------------------------------------------------------------


# ---- boards, batteries, riders --------------------------------------------------------------------------------------


def charge_drawn(t_read: ArrayLike, i_points: ArrayLike) -> F:
    """Charge that flowed, from amps read now and then.

    charge = sum of (mean of two neighbouring amps) * (time between them), along the last axis

    Straight lines between the readings: read more often where the amps change.
    Worked: charge_drawn([0.0, 1800.0, 3600.0], [1.6, 1.5, 1.4]) = 5400
    Source: [interpolation]
    """
    t, i = arr(t_read), arr(i_points)
    return out(np.sum(0.5 * (i[..., 1:] + i[..., :-1]) * np.diff(t, axis=-1), axis=-1))


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
