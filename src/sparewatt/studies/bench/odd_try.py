"""Each usual cause assumed in turn for each value of a reading, and how likely each is beside the others and none."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np

from sparewatt.studies.bench.known import Known
from sparewatt.studies.bench.odd_causes import COPIED, ROUNDED, OddCause, causes_for
from sparewatt.studies.bench.odd_extra import copied_from, rounded_to
from sparewatt.studies.bench.odd_fit import Unit, fits, put_right, replaced, told
from sparewatt.studies.bench.reading_kinds import KINDS
from sparewatt.studies.fit.fitting import Fit

__all__ = ["FITS", "Tried", "factors_of", "ranked"]

FITS = 6.6  # chi2 for each row once the cause is assumed; a true cause passes 99 times in 100
LIKELY = 0.5  # share that the usual causes together need against none
NONE_WEIGHT = 0.5  # how common an odd reading without a usual cause is beside one with a given cause
HALVINGS = 6
FREE = (0.2, 30.0)  # A that may have flowed when a meter showed none


@dataclass(frozen=True, slots=True)
class Tried:
    """One cause assumed for one value."""

    cause: OddCause
    what: str
    factor: float
    chi2: float
    log_share: float


def ranked(
    known: Known, base: Fit, unit: Unit, *, exact: bool = False
) -> tuple[Tried | None, float, tuple[str, ...]]:
    """(the best cause if it may be named, its share, keys of causes nearly as good)."""
    tried = list(_tries(known, base, unit, exact))
    none = _unexplained(known, base, unit)
    pool = [t for t in tried if t.chi2 <= FITS]
    if not pool:
        return None, 0.0, ()
    top = max(t.log_share for t in pool)
    by_key: dict[str, float] = {}
    for t in pool:
        by_key[t.cause.key] = by_key.get(t.cause.key, 0.0) + math.exp(t.log_share - top)
    total = sum(by_key.values()) + math.exp(min(none - top, 50.0))
    best = max(pool, key=lambda t: (by_key[t.cause.key], t.log_share))
    share = by_key[best.cause.key] / total
    others = tuple(k for k, v in by_key.items() if k != best.cause.key and v > 0.1 * by_key[best.cause.key])
    alone = sum(by_key.values()) / total  # that it is one of the usual causes at all
    return (best if alone > LIKELY else None), share, others


def _tries(known: Known, base: Fit, unit: Unit, exact: bool) -> Iterable[Tried]:
    first = unit.taken[0]
    kind = KINDS[first.kind]
    answers = {known.made.shows[known.places[k][0]][0] for k in unit.rows}
    for what in first.values:
        unit_of = kind[what].unit if what in kind.whats else "rad/s"
        for cause in causes_for(first.kind, what, unit_of):
            if exact and not cause.factors and not cause.special:
                continue
            yield from _assume(known, base, unit, what, cause, what in answers)
    if not exact and len(unit.rows) == 1:
        yield from _written_loosely(known, base, unit)


def _written_loosely(known: Known, base: Fit, unit: Unit) -> Iterable[Tried]:
    """A value rounded by hand, or copied from another line."""
    shown = told(known, base, unit)
    k = unit.sample or 0
    seen, off = float(shown.seen[k]), float(shown.seen[k] - shown.value[k])
    var = float(shown.covariance[k, k])
    if shown.value[k] == 0:
        return
    what = known.made.shows[known.places[unit.rows[0]][0]][0]
    step = rounded_to(seen, math.sqrt(var))
    if step:
        wide = var + step**2 / 12
        chi2 = off * off / wide
        rare = min(step / (4 * float(known.fit.problem.sd[unit.rows[0]])), 50.0)  # to stand there by chance
        log_share = -0.5 * (chi2 + math.log(2 * math.pi * wide)) + math.log(ROUNDED.weight * max(rare, 1.0))
        yield Tried(ROUNDED, what, seen / float(shown.value[k]), chi2, log_share)
    if copied_from(known, unit.rows[0], math.sqrt(var)):
        size = max(abs(float(shown.value[k])), 1e-12)
        yield Tried(COPIED, what, seen / float(shown.value[k]), 0.0, math.log(COPIED.weight / size))


def _assume(
    known: Known, base: Fit, unit: Unit, what: str, cause: OddCause, answers: bool
) -> Iterable[Tried]:
    """The cause with each factor it may have."""
    weight = math.log(cause.weight)
    if cause.special or cause.factors:
        for factor in factors_of(known, unit, what, cause):
            right = put_right(unit, what, factor, keeps_sd=cause.keeps_sd)
            judged = fits(known, base, right)
            if judged is not None:
                stretched = (
                    math.log(abs(factor)) * len(unit.rows) if answers and cause.special != "gear" else 0.0
                )
                yield Tried(cause, what, factor, judged[0] / len(unit.rows), judged[1] - stretched + weight)
        return
    if cause.high <= 0.1 and answers:
        yield from _near_nothing(known, base, unit, what, cause, weight)
        return
    if cause.high <= 0.1:
        most = float(np.max(np.abs(unit.taken[0].values[what].value)))
        low, high = max(FREE[0], most / cause.high), FREE[1]
        if low < high and (most == 0.0) == (cause.low < 0):
            for value, *rest in _range(known, base, unit, low, high, lambda v: replaced(unit, what, v)):
                yield Tried(cause, what, most / value, rest[0], rest[1] + weight)
        return
    for factor, *rest in _range(known, base, unit, cause.low, cause.high, lambda f: put_right(unit, what, f)):
        yield Tried(cause, what, factor, rest[0], rest[1] + weight)


def _range(
    known: Known, base: Fit, unit: Unit, low: float, high: float, make: Callable[[float], Unit]
) -> Iterable[tuple[float, float, float]]:
    """(the number between low and high that fits, chi2 a row, logarithm of the mean likelihood over the range).

    Each number is as likely as the next on a scale of ratios. The one that fits is where the worst row's residual
    changes sign; how much of the range does as well follows from the slope there. Nothing where it does not change.
    """
    lead = 0 if unit.sample is not None else max(
        range(len(unit.rows)), key=lambda n: abs(known.fit.deviate[unit.rows[n]])
    )  # fmt: skip
    at = unit.sample if unit.sample is not None else lead

    def off(q: float) -> float:
        shown = told(known, base, make(math.exp(q)))
        return float((shown.seen[at] - shown.value[at]) / math.sqrt(shown.covariance[at, at]))

    a, b = math.log(low), math.log(high)
    span = b - a
    z_a, z_b = off(a), off(b)
    if not z_a * z_b < 0:
        return
    slope = (z_b - z_a) / span
    q = a
    for _ in range(HALVINGS):
        q = a - z_a * (b - a) / (z_b - z_a)
        z = off(q)
        slope = (z - z_a) / (q - a) if q - a > b - q else (z_b - z) / (b - q)
        if abs(z) < 0.1:
            break
        if z * z_a < 0:
            b, z_b, z_a = q, z, 0.5 * z_a
        else:
            a, z_a, z_b = q, z, 0.5 * z_b
    judged = fits(known, base, make(math.exp(q)))
    if judged is not None and slope != 0:
        share = min(math.sqrt(2 * math.pi) / abs(slope) / span, 1.0)
        yield math.exp(q), judged[0] / len(unit.rows), judged[1] + math.log(share)


def _near_nothing(
    known: Known, base: Fit, unit: Unit, what: str, cause: OddCause, weight: float
) -> Iterable[Tried]:
    """A meter that shows next to nothing: any share of the true value below the cause's limit is as likely."""
    shown = told(known, base, unit)
    if not (shown.value != 0).all():
        return
    share = float(np.max(np.abs(shown.seen / shown.value)))
    if not max(cause.low, 0.0) <= share <= cause.high:
        return
    width = (cause.high - max(cause.low, 0.0)) * float(np.max(np.abs(shown.value)))
    yield Tried(cause, what, share, 0.0, -math.log(width) + weight)


def factors_of(known: Known, unit: Unit, what: str, cause: OddCause) -> tuple[float, ...]:
    """The factors a cause may have for one reading."""
    t = unit.taken[0]
    if cause.special == "per_thousand":
        speed = float(t.values["speed"].value[0]) if "speed" in t.values else math.nan
        return (1000 * 2 * math.pi / 60 / speed,) if speed > 0 else ()
    if cause.special == "swapped":
        both = float(t.values["machine_turns"].value[0]), float(t.values["crank_turns"].value[0])
        return (both[0] / both[1],) if both[1] > 0 and both[0] > 0 else ()
    if cause.special == "gear":
        teeth = known.bench.teeth
        mine = float(teeth[known.bench.gear(t.part)])
        other = [float(x) for x in teeth] + [1 / mine]
        return tuple(mine / x for x in other if abs(mine / x - 1) > 0.01)
    return cause.factors


def _unexplained(known: Known, base: Fit, unit: Unit) -> float:
    """Logarithm of the likelihood with no usual cause: anything of the size of what it should be, mostly near it."""
    shown = told(known, base, unit)
    rows = [unit.sample] if unit.sample is not None else range(shown.seen.size)
    total = math.log(NONE_WEIGHT)
    for k in rows:
        size = max(abs(float(shown.value[k])), 1e-12)
        sd = math.sqrt(float(shown.covariance[k, k]))
        off = float(shown.seen[k] - shown.value[k])
        heavy = 1 / (math.pi * size * (1 + (off / size) ** 2))
        near = math.exp(-0.5 * min((off / sd) ** 2, 1400.0)) / (sd * math.sqrt(2 * math.pi))
        total += math.log(0.5 * heavy + 0.5 * near)
    return total
