"""One or more readings put right in one value, and held against a fit that was made without them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.bench.known import Known
from sparewatt.studies.bench.known_equations import batches_of
from sparewatt.studies.bench.known_taken import Taken, Value
from sparewatt.studies.fit.fitting import Fit
from sparewatt.studies.fit.next_reading import Foretold, foretell
from sparewatt.studies.fit.problem import Data
from sparewatt.studies.fit.report import spread_of
from sparewatt.studies.fit.solve import moved_by

__all__ = ["Unit", "fits", "put_right", "replaced", "told", "without"]

F = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Unit:
    """Readings judged together: their rows in the fit. sample: which line of a series alone, None for all."""

    taken: tuple[Taken, ...]
    rows: tuple[int, ...]
    sample: int | None = None


def put_right(unit: Unit, what: str, factor: float, *, keeps_sd: bool = False) -> Unit:
    """The readings with one value divided by the factor; swapped turns change places."""

    def right(t: Taken) -> Taken:
        if what not in t.values:
            return t  # its speed, say, came from turns counted in a time
        v = t.values[what]
        values = dict(t.values)
        sd = v.sd if keeps_sd else np.abs(v.sd / factor)
        scaled = Value(value=v.value / factor, sd=sd, gain=v.gain, gain_sd=v.gain_sd)
        values[what] = _only(v, scaled, unit.sample)
        if what == "machine_turns" and "crank_turns" in values and _is_swap(t, factor):
            values["machine_turns"], values["crank_turns"] = (
                t.values["crank_turns"],
                t.values["machine_turns"],
            )
        return dataclasses.replace(t, values=values)

    return dataclasses.replace(unit, taken=tuple(right(t) for t in unit.taken))


def _is_swap(t: Taken, factor: float) -> bool:
    m, c = float(t.values["machine_turns"].value[0]), float(t.values["crank_turns"].value[0])
    return c > 0 and abs(factor / (m / c) - 1) < 1e-9


def replaced(unit: Unit, what: str, value: float) -> Unit:
    """The readings with one value set, as exactly as it can be read."""

    def right(t: Taken) -> Taken:
        if what not in t.values:
            return t
        v = t.values[what]
        new = Value(value=np.full(v.value.size, value), sd=np.full(v.value.size, 1e-4 * value))
        return dataclasses.replace(t, values={**t.values, what: _only(v, new, unit.sample)})

    return dataclasses.replace(unit, taken=tuple(right(t) for t in unit.taken))


def _only(old: Value, new: Value, sample: int | None) -> Value:
    """The new value, or the old one with one line of the series new."""
    if sample is None or old.value.size == 1:
        return new
    at = np.arange(old.value.size) == sample
    return dataclasses.replace(old, value=np.where(at, new.value, old.value), sd=np.where(at, new.sd, old.sd))


def fits(known: Known, base: Fit, unit: Unit) -> tuple[float, float] | None:
    """(chi2 of the readings, logarithm of their likelihood) by a fit without them; None where they make no sense."""
    with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
        shown = told(known, base, unit)
    r, cov = shown.seen - shown.value, shown.covariance
    if unit.sample is not None:
        r, cov = r[[unit.sample]], cov[np.ix_([unit.sample], [unit.sample])]
    if not (np.isfinite(r).all() and np.isfinite(cov).all()):
        return None
    sign, size = np.linalg.slogdet(cov)
    if sign <= 0:
        return None
    chi2 = float(r @ np.linalg.solve(cov, r))
    return chi2, -0.5 * (chi2 + float(size) + r.size * math.log(2 * math.pi))


def told(known: Known, base: Fit, unit: Unit) -> Foretold:
    """What the readings should show by a fit without them."""
    made = batches_of(known.bench, unit.taken)
    unknowns = [known.bench.unknowns[n] for n in made.names] + made.own
    return foretell(base, made.batches, unknowns=unknowns, gains=tuple(made.gains.values()))


def without(known: Known, rows: Sequence[int]) -> Fit:
    """The fit without some rows: as it is where they are set aside already, else one step on without them."""
    fit = known.fit
    counts = fit.counts.copy()
    counts[list(rows)] = False
    if (counts == fit.counts).all():
        return fit
    problem, data = fit.problem, fit.problem.data
    spread = spread_of(problem, fit.inner, counts)
    rest = Data(data.y, data.x, data.centres, counts.astype(np.float64))
    slope = problem.jacobian(fit.inner, rest).T @ problem.residuals(fit.inner, rest)
    inner = moved_by(problem, fit.inner, -np.nan_to_num(spread.covariance) @ slope)
    return dataclasses.replace(
        fit, inner=inner, values=problem.natural(inner), inner_covariance=spread.covariance,
        sd=np.sqrt(np.diag(spread.covariance)),
    )  # fmt: skip
