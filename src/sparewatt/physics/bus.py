"""The node where sources and loads meet: running points, edges, pinned speed, fair shares, ripple.

A source here is a straight line: open volts (drops already off) behind a resistance. Anything that hangs on the node
draws a + g*v + p/v: a constant current, a resistor, a regulated load.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from sparewatt.physics._arrays import F, arr, out

__all__ = [
    "Roots", "Shares", "constant_power_roots", "constant_power_voltage", "cut_in_speed", "edge_power",
    "meter_correction", "node_voltage", "pinned_current", "pinned_slope", "pinned_speed", "share_currents",
    "stability_resistance",
]  # fmt: skip


class Roots(NamedTuple):
    """The two running points of a constant-power load: `high` is the one it settles at; nan where there is none."""

    high: F
    low: F


class Shares(NamedTuple):
    """Volts of a shared node, and the amps of each source (last axis)."""

    v_bus: F
    i_out: F


# ---- one source, one constant-power load ----------------------------------------------------------------------------


def constant_power_roots(v_open: ArrayLike, *, r_source: ArrayLike, p_load: ArrayLike) -> Roots:
    """Both bus voltages at which a resistive source feeds a constant-power load.

    v = (v_open +/- sqrt(v_open^2 - 4*r_source*p_load))/2

    nan above the edge. The high one holds; at the low one more current means less power and it collapses.
    Worked: constant_power_roots(24.0, r_source=0.5, p_load=100.0) = (21.695, 2.305)
    Source: [constant_power_load]
    """
    e, rp = arr(v_open), arr(r_source) * arr(p_load)
    disc = e * e - 4.0 * rp
    with np.errstate(invalid="ignore", divide="ignore"):
        high = 0.5 * (e + np.sqrt(np.where(disc >= 0.0, disc, np.nan)))
        high = np.where(high > 0.0, high, np.nan)
        low = rp / high  # the product of the roots: exact where the difference of the sum is not
    return Roots(out(high), out(low))


def constant_power_voltage(v_open: ArrayLike, *, r_source: ArrayLike, p_load: ArrayLike) -> F:
    """The holding bus voltage of a constant-power load; nan above the edge.

    v = (v_open + sqrt(v_open^2 - 4*r_source*p_load))/2

    Worked: constant_power_voltage(24.0, r_source=0.5, p_load=100.0) = 21.695
    Source: [constant_power_load]
    """
    return constant_power_roots(v_open, r_source=r_source, p_load=p_load).high


def edge_power(v_open: ArrayLike, *, r_source: ArrayLike) -> F:
    """The electrical edge: most power a resistive source can give anything.

    p_edge = v_open^2 / (4*r_source), at half the open volts; 0 where v_open is not above zero

    v_open: after brush and diode drops. It grows with the square of the speed.
    Worked: edge_power(30.0 - 1.5, r_source=0.9) = 225.6
    Source: [max_power_transfer]
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        edge = np.maximum(arr(v_open), 0.0) ** 2 / (4.0 * arr(r_source))
    return out(np.where(arr(v_open) > 0.0, edge, 0.0))


def stability_resistance(v_bus: ArrayLike, *, p_load: ArrayLike) -> F:
    """Most source resistance at which a running point of a constant-power load holds.

    r < v_bus^2 / p_load

    The load's own slope resistance, taken positive.
    Worked: stability_resistance(21.695, p_load=100.0) = 4.707
    Source: [constant_power_load]
    """
    return out(arr(v_bus) ** 2 / arr(p_load))


def node_voltage(
    v_open: ArrayLike, *, r_source: ArrayLike, i_constant: ArrayLike = 0.0, g_load: ArrayLike = 0.0,
    p_load: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """The highest volts at which a straight-line source and everything on the node agree; nan when there are none.

    (v_open - v)/r_source = i_constant + g_load*v + p_load/v

    A battery is i_constant = -v_open_battery/r, g_load = 1/r. r_source may be 0 (a stiff source).
    Worked: node_voltage(24.0, r_source=0.5, i_constant=1.0, g_load=0.1, p_load=50.0) = 21.26
    Source: [constant_power_load]
    """
    r, p = arr(r_source), arr(p_load)
    a = 1.0 + arr(g_load) * r
    b = arr(v_open) - arr(i_constant) * r
    disc = b * b - 4.0 * a * p * r
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(np.where(disc >= 0.0, disc, np.nan))
        # Two forms of the same root; each is used where it does not subtract nearly equal numbers.
        v = np.where(b >= 0.0, (b + root) / (2.0 * a), 2.0 * p * r / (b - root))
        return out(np.where(v > 0.0, v, np.nan))


# ---- pinned by a battery --------------------------------------------------------------------------------------------


def cut_in_speed(
    v_open: ArrayLike, *, k_emf: ArrayLike, v_brush: ArrayLike = 0.0, v_diode: ArrayLike = 0.0
) -> F:
    """Shaft speed at which current starts to flow into a store.

    w = (v_open + v_diode + v_brush) / k_emf

    Worked: cut_in_speed(12.6, k_emf=0.075, v_brush=1.2, v_diode=0.5) = 190.7
    Source: [dc_machine]
    """
    return out((arr(v_open) + arr(v_diode) + arr(v_brush)) / arr(k_emf))


def pinned_current(
    w_shaft: ArrayLike, *, k_emf: ArrayLike, r_wind: ArrayLike, v_open: ArrayLike, r_store: ArrayLike = 0.0,
    v_brush: ArrayLike = 0.0, v_diode: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Current into a store behind a blocking diode.

    i_out = max(0, (k_emf*w_shaft - v_open - v_diode - v_brush)/(r_wind + r_store))

    Worked: pinned_current(206.4, k_emf=0.075, r_wind=0.25, v_open=13.2, v_brush=1.2, v_diode=0.5) = 2.32
    Source: [dc_machine]
    """
    gap = arr(k_emf) * arr(w_shaft) - arr(v_open) - arr(v_diode) - arr(v_brush)
    return out(np.maximum(gap, 0.0) / (arr(r_wind) + arr(r_store)))


def pinned_speed(
    i_out: ArrayLike, *, k_emf: ArrayLike, r_wind: ArrayLike, v_open: ArrayLike, r_store: ArrayLike = 0.0,
    v_brush: ArrayLike = 0.0, v_diode: ArrayLike = 0.0,
) -> F:  # fmt: skip
    """Shaft speed at which a store holds the machine while it takes some current.

    w = (v_open + v_diode + v_brush + i_out*(r_wind + r_store)) / k_emf

    Effort changes the amps, hardly the speed.
    Worked: pinned_speed(7.6, k_emf=0.075, r_wind=0.25, v_open=13.2, v_brush=1.2, v_diode=0.5) = 224.0
    Source: [dc_machine]
    """
    cut_in = cut_in_speed(v_open, k_emf=k_emf, v_brush=v_brush, v_diode=v_diode)
    return out(cut_in + pinned_slope(k_emf=k_emf, r_wind=r_wind, r_store=r_store) * arr(i_out))


def pinned_slope(*, k_emf: ArrayLike, r_wind: ArrayLike, r_store: ArrayLike = 0.0) -> F:
    """How much faster the shaft must turn for one more amp into a store.

    dw/di = (r_wind + r_store)/k_emf

    Worked: pinned_slope(k_emf=0.075, r_wind=0.25) = 3.333
    Source: [dc_machine]
    """
    return out((arr(r_wind) + arr(r_store)) / arr(k_emf))


# ---- several sources on one node ------------------------------------------------------------------------------------


def share_currents(
    v_sources: ArrayLike, *, r_sources: ArrayLike, i_constant: ArrayLike = 0.0, g_load: ArrayLike = 0.0,
    p_load: ArrayLike = 0.0,
) -> Shares:  # fmt: skip
    """How sources with a diode each share one node.

    sum over k of max(0, (v_sources_k - v)/r_sources_k) = i_constant + g_load*v + p_load/v, the highest such v

    Sources run along the last axis; load figures broadcast over the axes before it. Exact: the sources that carry are
    always those with the highest open volts, so each such set is solved in closed form and the one that fits is kept.
    Where nothing carries the node floats at its highest open volts with no load, nan with a load that cannot be met.
    Every resistance must be above zero.
    Worked: share_currents([28.0, 28.3, 28.6], r_sources=0.05, i_constant=6.5) = (28.2875, [0, 0.25, 6.25])
    Source: [node_sharing]
    """
    v, r = np.broadcast_arrays(arr(v_sources), arr(r_sources))
    a, g, p = (arr(x)[..., np.newaxis] for x in (i_constant, g_load, p_load))
    shape = np.broadcast_shapes(v.shape, (*a.shape[:-1], 1), (*g.shape[:-1], 1), (*p.shape[:-1], 1))
    v, r = np.broadcast_to(v, shape), np.broadcast_to(r, shape)
    order = np.argsort(-v, axis=-1, kind="stable")
    v_sorted = np.take_along_axis(v, order, axis=-1)
    conductance = 1.0 / np.take_along_axis(r, order, axis=-1)
    total_g = np.cumsum(conductance, axis=-1)
    total_i = np.cumsum(conductance * v_sorted, axis=-1)
    # The m highest sources together are one source: open volts total_i/total_g behind 1/total_g.
    found = node_voltage(total_i / total_g, r_source=1.0 / total_g, i_constant=a, g_load=g, p_load=p)
    below = np.concatenate([v_sorted[..., 1:], np.full((*shape[:-1], 1), -np.inf)], axis=-1)
    slack = 1e-12 * np.abs(v_sorted)
    with np.errstate(invalid="ignore"):
        fits = (found <= v_sorted + slack) & (found >= below - slack)
    node = np.max(np.where(fits, found, -np.inf), axis=-1)
    idle = np.broadcast_to((a == 0.0) & (g == 0.0) & (p == 0.0), (*shape[:-1], 1))[..., 0]
    node = np.where(idle, v_sorted[..., 0], np.where(np.isfinite(node), node, np.nan))
    amps = np.maximum(v - node[..., np.newaxis], 0.0) / r
    return Shares(out(node), np.where(np.isnan(node)[..., np.newaxis], np.nan, amps))


# ---- ripple ---------------------------------------------------------------------------------------------------------


def meter_correction(torque_ripple: ArrayLike) -> F:
    """True watts over mean volts times mean amps on a resistor whose volts pulse with the pushes.

    factor = 1 + torque_ripple^2/2

    For volts and amps both swinging by torque_ripple about their means (a resistor). On a battery, whose volts stand
    still, the factor is 1.
    Worked: meter_correction(0.6) = 1.18
    Source: [ripple_energy]
    """
    return out(1.0 + 0.5 * arr(torque_ripple) ** 2)
