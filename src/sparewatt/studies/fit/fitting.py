"""Joint robust fit of constants to readings with spread in both axes, priors and shared meter gains.

sum over readings of soft((y - f(x))/sd)^2 + sum over priors and gains of ((u - u_0)/s)^2, least over the constants

A robust pass finds which readings belong together; those far off are set aside and listed, and plain least squares on
the rest gives values and spreads, so that spreads mean what they should. Nothing is dropped in silence: a reading set
aside keeps its row, its residual and a sentence. Knows nothing of rigs: `known` turns readings of a rig into batches.
Source: [orthogonal_distance] [least_squares_spread]
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.fit.problem import Batch, Gain, Model, Problem, Unknown, log_spread
from sparewatt.studies.fit.report import Spread, flags_of, spread_of, together_words
from sparewatt.studies.fit.solve import over_own, split

__all__ = ["Batch", "Fit", "Gain", "Model", "Unknown", "fit", "log_spread", "meter_sd"]

F = NDArray[np.float64]
B = NDArray[np.bool_]
Z90 = 1.6448536269514722
VANISHED = 3.0  # e-folds below its start at which a constant counts as too small to see


def meter_sd(value: F | float, *, share: float = 0.0, digits: float = 0.0, step: float = 0.0) -> F:
    """Standard deviation of a meter's scatter: a share of the reading and a count of last digits, each a limit.

    sd = sqrt((share*value)^2 + (digits*step)^2 + step^2/4) / sqrt(3)

    The limits count as the half-width of an even chance (JCGM 100, 4.3.7), the rounding to one step as well. The
    percentage that a maker states is mostly the same for every reading on one range: give that to a `Gain` instead.
    """
    v = np.asarray(value, dtype=np.float64)
    half: F = np.asarray(np.sqrt((share * v) ** 2 + (digits * step) ** 2 + 0.25 * step**2) / math.sqrt(3))
    return half


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A frozen fit. names: unknowns, then gains. Arrays by name (values, sd, low, high) or by reading (the rest).

    low, high: the 90 % band. why_no_sd: "" or the sentence why a constant has no spread. together: groups of constants
    that the readings see only as one. told: share of the prior variance that the readings took away (1 without a prior).
    residual: (seen - fitted)/sd. deviate: the same over its own spread in the fit; its square is `chi2_drop`, what the
    sum falls by when the reading is taken out (or would rise by when one set aside is taken in).
    """

    names: tuple[str, ...]
    values: F
    sd: F
    low: F
    high: F
    covariance: F
    why_no_sd: tuple[str, ...]
    together: tuple[tuple[str, ...], ...]
    told: F
    keys: tuple[str, ...]
    seen: F
    fitted: F
    spread: F
    residual: F
    deviate: F
    leverage: F
    counts: B
    left_out: tuple[str, ...]
    x_best: tuple[tuple[F, ...], ...]
    chi2: float
    degrees: float
    chance: float
    flags: tuple[str, ...]
    widened: float
    problem: Problem
    inner: F
    inner_covariance: F

    def __getitem__(self, name: str) -> float:
        return float(self.values[self.names.index(name)])

    def sd_of(self, name: str) -> float:
        """Standard deviation of one constant, NaN when it has none."""
        return float(self.sd[self.names.index(name)])

    @property
    def chi2_drop(self) -> F:
        """What the sum of squares loses without each reading."""
        return self.deviate**2

    @property
    def chi2_per_degree(self) -> float:
        """NaN without spare readings."""
        return self.chi2 / self.degrees if self.degrees > 0 else math.nan

    @property
    def correlation(self) -> F:
        """Correlations of all names; NaN where there is no spread."""
        s = self.sd
        with np.errstate(invalid="ignore", divide="ignore"):
            r = self.covariance / np.outer(s, s)
        np.fill_diagonal(r, np.where(np.isfinite(s), 1.0, np.nan))
        return r

    def draws(self, number: int, seed: int = 1) -> dict[str, F]:
        """Seeded draws of every constant and gain with their correlations; one without a spread stays at its value."""
        rng = np.random.default_rng(seed)
        cov = np.nan_to_num(self.inner_covariance)
        w, v = np.linalg.eigh(cov)
        z = rng.standard_normal((number, w.size)) * np.sqrt(np.maximum(w, 0.0))
        u = self.problem.natural(self.inner + z @ v.T)
        return {name: u[:, k] for k, name in enumerate(self.names)}


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def fit(
    batches: Batch | Sequence[Batch],
    unknowns: Sequence[Unknown],
    *,
    gains: Sequence[Gain] = (),
    robust: bool = True,
    sd_known: bool = True,
    start: Sequence[float] | None = None,
) -> Fit:
    """Fit all batches at once.

    robust: find readings that do not belong before the spreads are taken. sd_known False: the given spreads only weigh
    the readings against each other, and their size is taken from the scatter. start: inner values of an earlier fit.
    """
    problem = Problem([batches] if isinstance(batches, Batch) else batches, unknowns, gains)
    begin = problem.start if start is None else np.clip(np.asarray(start), problem.low, problem.high)
    inner, counts, torn = split(problem, begin, robust=robust and sd_known)
    return _report(problem, inner, counts, torn, sd_known)


def _report(problem: Problem, inner: F, counts: B, torn: bool, sd_known: bool) -> Fit:
    value, sd, hats = problem.fitted(inner)
    y = problem.data.y
    residual = (y - value) / sd
    spread = spread_of(problem, inner, counts, _rough(problem, residual, counts, sd_known), fine=not sd_known)
    chi2, degrees = _sums(residual, counts, spread)
    flags, chance = flags_of(chi2, degrees, int(counts.sum()), torn) if sd_known else ((), math.nan)
    widened = 1.0
    if degrees > 0 and (not sd_known or (math.isfinite(chance) and chance < 0.01)):
        widened = math.sqrt(chi2 / degrees)
        spread = spread_of(problem, inner, counts, max(widened, 1e-12), fine=not sd_known)
    inner_cov = spread.covariance
    return replace(
        _named(problem, inner, inner_cov, spread),
        keys=problem.keys, seen=y, fitted=value, spread=sd, residual=residual,
        deviate=over_own(residual, spread.leverage),
        leverage=np.where(counts, spread.leverage, 0.0), counts=counts, x_best=hats,
        left_out=_left_out(problem, residual, counts), chi2=chi2, degrees=degrees, chance=chance, flags=flags,
        widened=widened,
    )  # fmt: skip


def _rough(problem: Problem, residual: F, counts: B, sd_known: bool) -> float:
    """A first guess of how far readings scatter beyond their given spreads, where those only weigh them."""
    if sd_known:
        return 1.0
    spare = max(1, int(counts.sum()) - problem.p)
    return max(math.sqrt(float(np.sum(residual[counts] ** 2)) / spare), 1e-12)


def _sums(residual: F, counts: B, spread: Spread) -> tuple[float, float]:
    """Sum of squares of the readings that count, and the readings to spare: their number less what they determine."""
    chi2 = float(np.sum(residual[counts] ** 2))
    return chi2, float(counts.sum() - spread.leverage[counts].sum())


def _left_out(problem: Problem, residual: F, counts: B) -> tuple[str, ...]:
    words = []
    for k in range(problem.n):
        if counts[k]:
            words.append("")
        elif not problem.used[k]:
            words.append("you put it aside")
        else:
            words.append(f"it lies {abs(residual[k]):.0f} standard deviations from the others; not counted")
    return tuple(words)


def _named(problem: Problem, inner: F, inner_cov: F, spread: Spread) -> Fit:
    """Values, spreads and bands in natural units, and the words for those without."""
    values = problem.natural(inner)
    slope = np.where(problem.log, values, 1.0)
    inner_sd = np.sqrt(np.diag(inner_cov))
    sd = slope * inner_sd
    low = problem.natural(inner - Z90 * inner_sd)
    high = problem.natural(inner + Z90 * inner_sd)
    vanished = problem.log & (inner < problem.start - VANISHED)
    why = [""] * problem.p
    groups = []
    for direction, members in spread.blind:
        sentence = together_words(problem.names, values, direction * slope, members, vanished)
        groups.append(tuple(problem.names[k] for k in members))
        for k in members:
            why[k] = why[k] or sentence
    empty = np.empty(0)
    return Fit(
        names=problem.names, values=values, sd=sd, low=low, high=high,
        covariance=inner_cov * np.outer(slope, slope), why_no_sd=tuple(why), together=tuple(groups),
        told=_told(problem, inner_sd), keys=(), seen=empty, fitted=empty, spread=empty, residual=empty, deviate=empty,
        leverage=empty, counts=np.empty(0, dtype=bool), left_out=(), x_best=(), chi2=0.0, degrees=0.0,
        chance=math.nan, flags=(), widened=1.0, problem=problem, inner=inner, inner_covariance=inner_cov,
    )  # fmt: skip


def _told(problem: Problem, inner_sd: F) -> F:
    told = np.where(np.isfinite(inner_sd), 1.0, 0.0)
    told[problem.held] = np.maximum(0.0, 1 - (inner_sd[problem.held] / problem.prior_sd) ** 2)
    return told
