"""The line through each kind of reading with its band, and the readings as points, as data."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.physics import converter, machine, transients
from sparewatt.studies.bench.answers import FittedPicture, ReadingRow
from sparewatt.studies.bench.known import Known
from sparewatt.studies.bench.known_machine import hot_k, hot_r
from sparewatt.studies.bench.known_taken import Taken
from sparewatt.studies.fit.next_reading import curve_of

__all__ = ["pictures_of"]

F = NDArray[np.float64]
P = Mapping[str, F]
POINTS = 41
COLD = np.zeros(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Axes:
    """What one picture shows: names and units of both axes, the line, and where each reading stands on it."""

    x: str
    x_unit: str
    y: str
    y_unit: str
    line: Callable[[Known, P, F, Sequence[Taken]], F]
    point: Callable[[Known, Taken, int], tuple[float, float]]
    from_zero: bool = True


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def pictures_of(known: Known) -> tuple[FittedPicture, ...]:
    """One picture for each kind of reading that has a line; a run-down has one for each time it was let go."""
    pictures = []
    for kind, axes in _AXES.items():
        mine = [t for t in known.taken if t.kind == kind]
        groups = [[t] for t in mine] if kind.startswith("run_down") else [mine] if mine else []
        pictures += [_picture(known, kind, axes, group) for group in groups]
    return tuple(pictures)


def _picture(known: Known, kind: str, axes: _Axes, taken: Sequence[Taken]) -> FittedPicture:
    points = _points(known, kind, axes, taken)
    right = max((p.x for p in points), default=1.0)
    left = 0.0 if axes.from_zero else min((p.x for p in points), default=0.0)
    x = np.linspace(left, max(right * 1.1, left + 1e-9), POINTS)
    drawn = curve_of(known.fit, lambda p: axes.line(known, _whole(known, p), x, taken))
    return FittedPicture(
        procedure=kind, says=taken[0].at if len(taken) == 1 else "", x_name=axes.x, x_unit=axes.x_unit,
        y_name=axes.y, y_unit=axes.y_unit, x=x, y=drawn.value, low=drawn.low, high=drawn.high, points=points,
    )  # fmt: skip


def _whole(known: Known, p: P) -> dict[str, F]:
    """The constants, those that no reading touches at what was known before."""
    filled = {name: np.full((1, 1), u.start) for name, u in known.bench.unknowns.items()}
    return filled | dict(p)


def _points(known: Known, kind: str, axes: _Axes, taken: Sequence[Taken]) -> tuple[ReadingRow, ...]:
    found, points = known.fit, []
    seen: dict[int, dict[int, int]] = {}
    for k, key in enumerate(found.keys):
        batch, t = known.places[k]
        within = seen.get(batch, {}).get(id(t), 0)
        seen.setdefault(batch, {})[id(t)] = within + 1
        if t not in taken or known.made.kinds[batch] != kind or key.endswith((" speed", " limit")):
            continue
        x, y = axes.point(known, t, within)
        points.append(
            ReadingRow(
                key=key, says="", procedure=kind, at=t.at, x=x, seen=y, fitted=float("nan"),
                sd=float(found.spread[k]), residual=float(found.deviate[k]), unit=axes.y_unit,
                used=bool(found.counts[k]), left_out=found.left_out[k], lines=t.lines,
            )
        )  # fmt: skip
    return tuple(points)


def _one(t: Taken, what: str, n: int = 0) -> float:
    v = t.values[what].value
    return float(v[n if v.size > 1 else 0])


def _open_line(known: Known, p: P, x: F, taken: Sequence[Taken]) -> F:
    return machine.emf(x, k_emf=hot_k(known.bench, p, COLD, COLD))


def _lost_line(known: Known, p: P, x: F, taken: Sequence[Taken]) -> F:
    return hot_r(p, COLD, COLD) * x + p["brush_drop"]


def _lost_point(known: Known, t: Taken, n: int) -> tuple[float, float]:
    k = known.now["emf_constant"] * known.bench.volts_factor
    return _one(t, "amps"), k * _one(t, "speed") - _one(t, "volts")


def _free_line(known: Known, p: P, x: F, taken: Sequence[Taken]) -> F:
    return machine.drain_current(
        x, k_emf=hot_k(known.bench, p, COLD, COLD), r_wind=hot_r(p, COLD, COLD), v_brush=p["brush_drop"],
        t_coulomb=p["friction"], b_viscous=p["friction_slope"],
    )  # fmt: skip


def _down_line(known: Known, p: P, x: F, taken: Sequence[Taken]) -> F:
    t = taken[0]
    inertia, drag, slope = p["inertia"], p["friction"], p["friction_slope"]
    if t.kind == "run_down_disc":
        inertia = inertia + _one(t, "disc_mass") * _one(t, "disc_diameter") ** 2 / 8
    if t.kind == "run_down_rig":
        inertia, drag = inertia + p["drive_inertia"], drag + p["drive_drag"]
        slope = slope + p["drive_drag_slope"]
    w = transients.coast_speed(
        x, w_wheel=p[f"start of {t.key}"], inertia=inertia, t_coulomb=drag, b_viscous=slope
    )
    return w * hot_k(known.bench, p, COLD, COLD) if "volts" in t.values else w


def _down_point(known: Known, t: Taken, n: int) -> tuple[float, float]:
    return _one(t, "time", n), _one(t, "volts" if "volts" in t.values else "speed", n)


def _board_line(known: Known, p: P, x: F, taken: Sequence[Taken]) -> F:
    k = known.bench.board(taken[0].part)
    lost: F = converter.board_loss(x, **{f"loss_{n}": p[f"loss_{n}.{k}"] for n in range(3)})
    return lost


def _board_point(known: Known, t: Taken, n: int) -> tuple[float, float]:
    out = _one(t, "volts_out") * _one(t, "amps_out")
    return out, _one(t, "volts_in") * _one(t, "amps_in") - out


def _turn_line(known: Known, p: P, x: F, taken: Sequence[Taken]) -> F:
    teeth = float(known.bench.teeth[known.bench.gear(taken[0].part)])
    return np.asarray(x * teeth * p["ratio"])


def _same(x: str, y: str) -> Callable[[Known, Taken, int], tuple[float, float]]:
    return lambda known, t, n: (_one(t, x), _one(t, y))


_DOWN = _Axes(x="time", x_unit="s", y="volts", y_unit="V", line=_down_line, point=_down_point)
_AXES: dict[str, _Axes] = {
    "open_volts": _Axes(
        x="speed", x_unit="rad/s", y="volts", y_unit="V", line=_open_line, point=_same("speed", "volts")
    ),
    "loaded_volts": _Axes(x="amps", x_unit="A", y="volts lost inside", y_unit="V", line=_lost_line, point=_lost_point),
    "locked_volts": _Axes(
        x="amps", x_unit="A", y="volts lost inside", y_unit="V", line=_lost_line, point=_same("amps", "volts")
    ),
    "run_free": _Axes(
        x="volts", x_unit="V", y="amps", y_unit="A", line=_free_line, point=_same("volts", "amps"), from_zero=False
    ),
    "run_down": _DOWN,
    "run_down_disc": _DOWN,
    "run_down_rig": _DOWN,
    "board_power": _Axes(
        x="watts out", x_unit="W", y="watts lost", y_unit="W", line=_board_line, point=_board_point
    ),
    "hand_turns": _Axes(
        x="crank_turns", x_unit="1", y="machine_turns", y_unit="1", line=_turn_line,
        point=_same("crank_turns", "machine_turns"),
    ),
}  # fmt: skip
