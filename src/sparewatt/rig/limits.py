"""What each part may stand, held against what it sees at the running point: one list that every section reads."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Measured
from sparewatt.rig.fill import Filled
from sparewatt.rig.layout import Bound
from sparewatt.rig.outcome import Point
from sparewatt.rig.swing import Swing
from sparewatt.rig.warming import Heat

__all__ = ["HOURS", "SECONDS", "Limit", "for_seconds", "limits_at", "peaks_of", "pulls", "slips"]

F = NDArray[np.float64]
HOURS = 900.0  # s from which on amps are "for hours" and not "for a minute" (common practice, no source)
SECONDS = 60.0  # s up to which what a board stands "for seconds" counts (common practice, no source)
FAR = 1.25  # beyond a quarter over a limit nobody argues about how well the limit is known


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One limit of one part at the running point. link: key of the part in the chain; how: how the limit is known."""

    key: str
    link: str
    part: str
    found: float
    limit: float
    unit: str
    how: str
    start: float = 0.0  # where counting starts: the air for a temperature

    @property
    def used(self) -> float:
        """Share of the limit that is used, counted from where it starts; 1 is at it."""
        room = self.limit - self.start
        return (self.found - self.start) / room if room > 0 else math.inf

    @property
    def check(self) -> str:
        """One of the check words: past a limit that is known, or far past one that is only typical, is a stop."""
        if not self.used > 1.0:
            return "not refused"
        known = self.how in ("measured", "nameplate", "computed")
        return "stop" if self.used > FAR or (known and self.key in SURE) else "look again"


SURE = frozenset({"machine speed", "winding", "battery volts", "load volts", "board volts"})


def for_seconds(filled: Filled) -> Filled:
    """The rig with the amps its boards stand for seconds in place of those they stand for hours."""
    boards = tuple(
        dataclasses.replace(
            board,
            input_current=board.input_current_short or board.input_current,
            output_current=board.output_current_short or board.output_current,
        )
        for board in filled.rig.converter
    )
    if boards == filled.rig.converter:
        return filled
    return dataclasses.replace(filled, rig=dataclasses.replace(filled.rig, converter=boards))


def limits_at(bound: Bound, at: Point, swing: Swing, warmth: Heat, duration: float) -> tuple[Limit, ...]:
    """Every limit that can be judged at a running point of the nominal rig, the fullest first."""
    machine, joined = bound.rig.machine, bound.hookup
    assert machine is not None
    name = machine.name or "machine"
    short = duration < HOURS and machine.current_limit_short is not None
    rows = [
        _limit("machine speed", "machine", name, at.w_shaft, machine.speed_limit, "rad/s"),
        _limit("machine amps, short", "machine", name, at.i_out, machine.current_limit_short, "A")
        if short
        else _limit(
            "machine amps", "machine", name, at.i_out * math.sqrt(swing.form), machine.current_limit, "A"
        ),
        _limit("winding", "machine", name, warmth.winding, machine.winding_limit, "K", start=warmth.air),
    ]
    diode, board, battery = bound.rig.diode, joined.board, joined.battery
    if diode is not None and diode.kind != "none":
        rows.append(_limit("diode amps", "diode", "diode", at.i_out, diode.current_rating, "A"))
    if board is not None:
        rows += [
            _limit("board volts", "board", board.name, at.v_bus, board.input_max, "V"),
            _limit("board amps in", "board", board.name, at.i_out, board.input_current, "A"),
            _limit("board amps out", "board", board.name, at.i_board_out, board.output_current, "A"),
        ]
    if battery is not None:
        rows.append(
            _limit(
                "battery amps",
                "battery",
                battery.name or "battery",
                at.i_battery,
                battery.charge_current,
                "A",
            )
        )
    if joined.load is not None and joined.load_board is None and battery is None:
        rows.append(_limit("load volts", "load", joined.load.name, at.v_out, joined.load.voltage_max, "V"))
    found = [row for row in rows if row is not None]
    g = bound.gears.index(at.gear)
    one = bound.nominal()
    mean = pulls(
        one, np.full((len(bound.gears), 1), at.torque_crank), np.full((len(bound.gears), 1), at.w_crank)
    )
    for k, peak in enumerate(swing.peaks):
        grip, use = float(bound.stages.grip[k, 0]), float(mean[k, g, 0])
        if math.isfinite(grip) and math.isfinite(use):
            found.append(
                Limit(
                    key="grip", link=f"stage {k + 1}", part=bound.stages.names[k], found=use * peak, limit=grip, unit="N",
                    how=bound.stages.how[k],
                )
            )  # fmt: skip
    return tuple(sorted(found, key=lambda row: -row.used))


def pulls(bound: Bound, torque: F, w_crank: F) -> F:
    """(steps, gears, cols) mean pull at the driving surface of each step (N) for torques at the crank (gears, cols), walked
    down from the crank; NaN where a step has no surface."""
    s = bound.stages
    found = np.full((len(s.names), *torque.shape), np.nan)
    turns = np.ones_like(torque)
    for k, stage in enumerate(bound.rig.stage):
        found[k] = torque / s.surface[k]
        creep = stage.creep.value if stage.creep is not None else 0.0
        turns = turns * s.ratio[k]
        inner = torque * s.efficiency[k] * (1 - creep) / s.ratio[k]
        torque = inner - s.drag[k] - s.slope[k] * w_crank * turns
    return found


def peaks_of(bound: Bound, swings: Sequence[Swing]) -> F:
    """(steps, gears) hardest over mean pull of each step, from the swing in each gear; 1 where nothing runs."""
    steps = len(bound.stages.names)
    return np.array([one.peaks or (1.0,) * steps for one in swings]).reshape(len(swings), steps).T


def slips(bound: Bound, torque: F, w_crank: F, peaks: F) -> NDArray[np.bool_]:
    """(gears, cols): whether some step cannot pass on the peak of a push. peaks: (steps, gears) hardest over mean pull."""
    used = pulls(bound, torque, w_crank) * peaks[:, :, None] / bound.stages.grip[:, None, :]
    with np.errstate(invalid="ignore"):
        return np.asarray((used > 1.0).any(axis=0))


def _limit(
    key: str, link: str, part: str, found: float, limit: Measured | None, unit: str, *, start: float = 0.0
) -> Limit | None:
    if limit is None or not math.isfinite(found) or not limit.value > 0:
        return None
    return Limit(
        key=key, link=link, part=part, found=found, limit=limit.value, unit=unit, how=limit.how, start=start
    )
