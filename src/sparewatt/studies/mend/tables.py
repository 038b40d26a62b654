"""The rig as numbers that move smoothly with everything about it that is not known for sure.

Each number of a bound rig, or its logarithm, is a straight line in the standard normal scores of its inputs, learnt from
the draws of `bind`. So a few thousand slightly different rigs are made without binding each, and solved in one call.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.moment import Moment
from sparewatt.rig import solve
from sparewatt.rig.asking import Ask
from sparewatt.rig.bind import bind, reheat, scaled
from sparewatt.rig.endurance import power_for
from sparewatt.rig.fill import Filled
from sparewatt.rig.fill_motion import INNER_SHARE
from sparewatt.rig.layout import Bound, Param
from sparewatt.rig.swing import swing_at, turning
from sparewatt.rig.warming import Working, warm_up

__all__ = ["DRIVE", "PLAIN", "Tables", "tables_of"]

F = NDArray[np.float64]
DRAWS = 128
RISE_KNOWN, RISE_UNKNOWN, RISE_MOST = 0.35, 0.7, 120.0  # spreads (shares) of the warm-up, and most of it (K)
LEAST_RISE = 0.5  # K
UNTOLD = 0.5  # of the time in which a machine warms: so long a ride is taken to be where nobody says
DRIVE = ("ratio", "gain", "drag", "slope")
PLAIN = (
    "k", "r_wind", "r_rest", "r_speed", "v_brush", "v_diode", "t0", "b", "sleep", "v_loss", "v_set", "i_limit",
    "l0", "l1", "l2", "i_set", "quit", "load", "field", "v_back", "v_open", "r_cell", "r_bwire", "v_slope",
    "w_top", "cp",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Tables:
    """Lines in the scores for every moment: start (rows, moments), lean (rows, inputs, moments), log (rows,).

    drive_*: the same for the four numbers of the drive, with one more axis, the gear, behind the first. gear: as noted.
    cadence: middle of what is likely at each moment (of the shaft where a drill turns it). rise, rise_sd: winding over
    air, K, and the share by which it is known. case: case over air as a share of that. held: what the legs hold by then
    over their critical power. effort: W that the rider means to give.
    """

    bounds: tuple[Bound, ...]
    inputs: tuple[str, ...]
    start: F
    lean: F
    log: NDArray[np.bool_]
    drive_start: F
    drive_lean: F
    drive_log: NDArray[np.bool_]
    gears: tuple[str, ...]
    gear: NDArray[np.int64]
    cadence: F
    rise: F
    rise_sd: F
    case: F
    held: F
    effort: F
    air: float

    @property
    def moments(self) -> int:
        """How many moments there are."""
        return len(self.bounds)


def tables_of(filled: Filled, ask: Ask, moments: Sequence[Moment]) -> Tables:
    """Lines for every moment."""
    bounds = tuple(_bound(filled, ask, m) for m in moments)
    inputs = tuple(dict.fromkeys(key for b in bounds for key in b.scores))
    gears = bounds[0].gears
    plain = [np.stack([columns[name] for name in PLAIN]) for columns in map(_columns, bounds)]
    drive = [np.stack([getattr(b, name) for name in DRIVE]) for b in bounds]
    log = np.all([_above_zero(rows) for rows in plain], axis=0)
    drive_log = np.all([_above_zero(rows).all(axis=1) for rows in drive], axis=0)
    n, p = len(moments), len(inputs)
    start, lean = np.zeros((len(PLAIN), n)), np.zeros((len(PLAIN), p, n))
    drive_start, drive_lean = np.zeros((4, len(gears), n)), np.zeros((4, len(gears), p, n))
    for m, b in enumerate(bounds):
        scores = np.stack([*b.scores.values(), np.zeros(b.cols - 1)])[:-1]
        at = [inputs.index(key) for key in b.scores]
        start[:, m], lean[:, at, m] = _lines(plain[m], scores, log)
        for k in range(4):
            drive_start[k, :, m], drive_lean[k][:, at, m] = _lines(
                drive[m][k], scores, np.full(len(gears), drive_log[k])
            )
    felt = (np.abs(lean) > 1e-6).any(axis=(0, 2)) | (np.abs(drive_lean) > 1e-6).any(axis=(0, 1, 3))
    inputs, lean, drive_lean = tuple(np.array(inputs)[felt]), lean[:, felt], drive_lean[:, :, felt]
    gear = np.array([_gear(gears, m.gear or ask.gear or "") for m in moments], dtype=np.int64)
    rise, rise_sd, case = _warmth(filled, ask, bounds, moments, gear)
    return Tables(
        bounds=bounds, inputs=inputs, start=start, lean=lean, log=log, drive_start=drive_start,
        drive_lean=drive_lean, drive_log=drive_log, gears=gears, gear=gear, rise=rise, rise_sd=rise_sd, case=case,
        cadence=np.array([_middle(*each) for each in zip(bounds, moments, gear, strict=True)]),
        held=np.array([_held(b, m) for b, m in zip(bounds, moments, strict=True)]),
        effort=np.array([m.effort if m.effort > 0 else ask.effort for m in moments]), air=_air(filled),
    )  # fmt: skip


def _bound(filled: Filled, ask: Ask, moment: Moment) -> Bound:
    """The rig bound for one moment as every section binds it: its load, and the effort that was meant."""
    effort = moment.effort if moment.effort > 0 else ask.effort
    bound = bind(filled, moment.load or ask.load, ask.rider, effort=effort, draws=DRAWS, seed=ask.seed)
    if filled.rig.neighbour and bound.hookup.load is not None:
        bound = scaled(
            bound, 1 / (1 + len(filled.rig.neighbour))
        )  # an equal share: who carries what is for `match`
    return bound


def _columns(bound: Bound) -> dict[str, F]:
    """Every plain number by name, a column a draw."""
    q, x = bound.params, bound.extras
    none, endless = np.zeros(bound.cols), np.full(bound.cols, math.inf)
    return {
        "k": q[Param.K_EMF], "r_wind": x["r_wind"], "r_rest": q[Param.R_SOURCE] - x["r_wind"],
        "r_speed": q[Param.R_SPEED], "v_brush": x["v_brush"], "v_diode": x["v_diode"], "t0": q[Param.T_COULOMB],
        "b": q[Param.B_VISCOUS], "sleep": q[Param.V_SLEEP], "v_loss": q[Param.V_LOSS], "v_set": q[Param.V_SET],
        "i_limit": q[Param.I_LIMIT], "l0": q[Param.LOSS_0], "l1": q[Param.LOSS_1], "l2": q[Param.LOSS_2],
        "i_set": x.get("i_set", endless), "quit": q[Param.U_QUIT], "field": x.get("p_field", none),
        "load": x.get("p_load_board", x.get("p_load", none)), "v_back": x.get("v_back", none),
        "v_open": x.get("v_open", none), "r_cell": x.get("r_cell", none), "r_bwire": x.get("r_battery_wire", none),
        "v_slope": x.get("v_slope", none), "w_top": bound.w_top, "cp": bound.critical_power,
    }  # fmt: skip


def _above_zero(rows: F) -> NDArray[np.bool_]:
    """Rows that have a logarithm everywhere."""
    return np.asarray(np.all((rows > 0) & np.isfinite(rows), axis=-1))


def _lines(rows: F, scores: F, log: NDArray[np.bool_]) -> tuple[F, F]:
    """Start (rows,) and lean (rows, inputs) of rows (rows, cols), of which some are told as logarithms."""
    told = rows.copy()
    told[log] = np.log(rows[log])
    start = told[:, 0].copy()
    off = np.where(np.isfinite(told), told, 0.0)
    off = off[:, 1:] - off[:, :1]
    if not scores.size:
        return start, np.zeros((rows.shape[0], 0))
    return start, np.asarray(np.linalg.lstsq(scores.T, off.T, rcond=None)[0].T, dtype=np.float64)


def _gear(gears: tuple[str, ...], name: str) -> int:
    """Index of a gear by name; the only one, or the middle one, when none is named."""
    return gears.index(name) if name in gears else (len(gears) - 1) // 2


def _air(filled: Filled) -> float:
    place = filled.rig.place
    assert place is not None and place.temperature is not None
    return place.temperature.value


def _held(bound: Bound, moment: Moment) -> float:
    """What these legs hold by then, over their critical power."""
    cp, reserve, peak = (float(x[0]) for x in (bound.critical_power, bound.work_reserve, bound.p_peak))
    spell = max(2 * moment.ridden, 900.0) if math.isfinite(moment.ridden) else 1800.0
    return float(power_for(cp, reserve, spell, peak)) / cp


def _middle(bound: Bound, moment: Moment, gear: int) -> float:
    """A likely cadence: as read, from the shaft, else what the rider likes."""
    liked = bound.rider.cadence.value if bound.rider.cadence is not None else 6.8
    if moment.drill:
        return moment.speed if moment.speed > 0 else liked
    if moment.cadence > 0:
        return moment.cadence
    return moment.speed / float(bound.ratio[gear, 0]) if moment.speed > 0 else liked


def _warmth(
    filled: Filled, ask: Ask, bounds: Sequence[Bound], moments: Sequence[Moment], gear: NDArray[np.int64]
) -> tuple[F, F, F]:
    """Winding over air by the time ridden (K), the share by which that is known, and case over air as a share of it.

    Warmed as every ride is warmed, at a push that gives the cadence and the amps read; those of the hottest moment where it
    has none, and where none has any, those of the rig.
    """
    machine = filled.rig.machine
    assert machine is not None and machine.thermal_time is not None
    usual = max((a for a in map(_amps, moments) if math.isfinite(a)), default=math.nan)
    rows = []
    for k, (bound, m) in enumerate(zip(bounds, moments, strict=True)):
        known, cold = math.isfinite(m.ridden), bound.nominal()
        spell = 0.0 if m.drill else m.ridden if known else UNTOLD * machine.thermal_time.value
        ridden = _Ridden(
            cold, int(gear[k]), _middle(bound, m, int(gear[k])), m.effort if m.effort > 0 else ask.effort
        )
        warm = warm_up(cold, spell, ridden.working)
        hot = reheat(cold, warm.winding, warm.magnet)
        read = _amps(m) if math.isfinite(_amps(m)) else usual
        if spell > 0 and math.isfinite(read):
            warm = warm_up(cold, spell, ridden.as_read(hot, read).working)
        rise = min(warm.winding - warm.air, RISE_MOST)
        case = (warm.case - warm.air) / (warm.winding - warm.air) if rise > LEAST_RISE else 1 - INNER_SHARE
        rows.append((rise, RISE_KNOWN if known else RISE_UNKNOWN, case))
    rise, spread, case = np.array(rows).T
    return rise, spread, case


def _amps(m: Moment) -> float:
    """Amps read at the machine, behind a board where there are none; NaN where neither was."""
    return next((abs(x) for x in (m.amps, m.amps_out) if math.isfinite(x)), math.nan)


class _Ridden:
    """A rig ridden in one gear: at the cadence it holds, or `pace` times that; its amps `flow` times what it then makes."""

    def __init__(self, cold: Bound, gear: int, cadence: float, effort: float) -> None:
        self.gear, self.cadence, self.effort = gear, cadence, effort
        self.pace, self.flow, self.amps, self.inertias = 1.0, 1.0, math.nan, turning(cold)

    def _hold(self, bound: Bound) -> float:
        return float(solve.crossings(bound, self.effort)[0].w_hold[self.gear, 0])

    def as_read(self, hot: Bound, amps: float) -> _Ridden:
        """Ridden so that it has the cadence and these amps when it is this hot."""
        self.pace = self.cadence / self._hold(hot)
        own = solve.point(hot, self.gear, self.cadence).i_out
        self.flow = amps / own if own > 0 else 0.0
        self.amps = amps
        return self

    def working(self, warm: Bound) -> Working:
        """The running point of a rig that is as warm as this."""
        paced = self.pace * self._hold(warm)
        w = paced if math.isfinite(paced) else self.cadence
        here = solve.point(warm, self.gear, w)
        form = swing_at(warm, self.gear, w, self.effort, self.inertias).form
        return Working(self.flow * here.i_out if self.flow > 0 else self.amps, form, here.w_shaft)
