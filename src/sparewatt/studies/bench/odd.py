"""Odd readings with the usual cause that would explain each.

A reading is odd when its standardised residual is beyond 3, so that taking it out lowers the sum by more than 9. Each
usual cause is then assumed in turn, the value put right, and the reading held against the fit made without it. A cause
is offered when the value put right fits (a chi2 of no more than 6.6 for each row, which a true cause passes 99 times in
100) and when it is likelier than no usual cause at all: an exact factor has to be met closely, a range only loosely, and
counts for less. Several readings of one kind that are all off in one way are judged together. Nothing is deleted.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sparewatt.studies.bench.answers import Suspect
from sparewatt.studies.bench.known import Known, know_taken
from sparewatt.studies.bench.known_taken import Taken
from sparewatt.studies.bench.odd_causes import OddCause, causes_for
from sparewatt.studies.bench.odd_extra import ohms_through_brushes, too_good
from sparewatt.studies.bench.odd_fit import Unit, fits, put_right, told, without
from sparewatt.studies.bench.odd_try import Tried, factors_of, ranked
from sparewatt.studies.bench.reading_kinds import KINDS
from sparewatt.studies.fit.fitting import Fit
from sparewatt.studies.fit.problem import Data
from sparewatt.studies.fit.solve import OUT

__all__ = ["suspects_of"]

ODD = 3.0
STRAIN = 4.0  # spreads from its prior that make a constant suspicious
MOST_KINDS, MOST_FITS = 3, 6  # kinds looked at for it, and fits made
WORTH = 20.0  # how much better the whole must fit with a kind put right
AGAIN = "Set it up anew and read it once more."


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def suspects_of(known: Known) -> tuple[Suspect, ...]:
    """Every odd reading, the worst first, each with its cause where one fits."""
    found = [*ohms_through_brushes(known), *too_good(known)]
    groups = _whole_kinds(known)
    found += groups
    named = {key for s in groups for key in s.rows}
    for unit in _odd_units(known, named):
        suspect = _judged(known, unit)
        if suspect is not None:
            found.append(suspect)
    return tuple(sorted(found, key=lambda s: -(s.chi2_before - s.chi2_after)))


def _odd_units(known: Known, named: set[str]) -> Iterable[Unit]:
    fit = known.fit
    done: set[int] = set()
    lines: dict[tuple[int, int], int] = {}
    for k in range(len(fit.keys)):
        batch, t = known.places[k]
        line = lines.get((batch, id(t)), 0)
        lines[(batch, id(t))] = line + 1
        odd = abs(fit.deviate[k]) > ODD and not fit.left_out[k].startswith("you")
        if not odd or fit.keys[k] in named or id(t) in done:
            continue
        mine = tuple(n for n, (_, other) in enumerate(known.places) if other is t)
        series = KINDS[t.kind].series and t.size > 1 and t.kind != "hard_effort"
        if series and sum(abs(fit.deviate[n]) > ODD for n in mine) <= max(1, len(mine) // 3):
            yield Unit((t,), (k,), line)
            continue
        done.add(id(t))
        yield Unit((t,), mine)


def _judged(known: Known, unit: Unit) -> Suspect | None:
    base = without(known, unit.rows)
    before = fits(known, base, unit)
    if before is None or before[0] <= ODD**2:
        return None
    best, share, others = ranked(known, base, unit)
    worst = max(unit.rows, key=lambda k: abs(known.fit.deviate[k]))
    total, drop = known.fit.chi2, float(before[0])
    counted = any(known.fit.counts[k] for k in unit.rows)
    return Suspect(
        row=known.fit.keys[worst], rows=tuple(known.fit.keys[k] for k in unit.rows),
        cause=best.cause.key if best else "", name=best.cause.name if best else "no usual cause fits",
        says=best.cause.says if best else "It does not go with the others, and none of the usual causes explains it.",
        redo=best.cause.redo if best else AGAIN, factor=best.factor if best else math.nan,
        residual=float(known.fit.deviate[worst]), chi2_before=total if counted else total + drop,
        chi2_after=total - drop if counted else total, chi2_left=best.chi2 if best else math.nan,
        likelihood=share, others=others,
    )  # fmt: skip


# ---- whole kinds ----------------------------------------------------------------------------------------------------


def _whole_kinds(known: Known) -> list[Suspect]:
    """Kinds of which every reading is off in one way: most set aside, or a constant driven far from what was known."""
    fit = known.fit
    strained = _strained(fit)
    found: list[Suspect | None] = []
    driving: list[Unit] = []
    for kind in dict.fromkeys(t.kind for t in known.taken):
        taken = tuple(t for t in known.taken if t.kind == kind and t.used)
        ids = {id(t) for t in taken}
        rows = tuple(k for k, (_, t) in enumerate(known.places) if id(t) in ids)
        if not rows:
            continue
        aside = sum(not fit.counts[k] for k in rows)
        if len(taken) > 1 and aside > len(rows) / 2:
            found.append(_set_aside_whole(known, Unit(taken, rows)))
        elif any(k in strained for k in rows):
            driving.append(Unit(taken, rows))
    found += _refitted_whole(known, driving[:MOST_KINDS])
    return [s for s in found if s is not None]


def _strained(fit: Fit) -> set[int]:
    """Rows that bear on a constant which lies more than STRAIN spreads from what was known of it before."""
    p = fit.problem
    strain = np.abs(fit.inner[p.held] - p.data.centres) / p.prior_sd
    columns = p.held[(strain > STRAIN) & (p.held < p.n_unknowns)]
    if not columns.size:
        return set()
    j = p.jacobian(fit.inner, Data(p.data.y, p.data.x, p.data.centres, np.ones(p.n)))[: p.n, columns]
    return {int(k) for k in np.flatnonzero((np.abs(j) * p.size_of(fit.inner)[columns] > 1.0).any(axis=1))}


def _set_aside_whole(known: Known, unit: Unit) -> Suspect | None:
    """A kind that the other readings leave out: against the fit without it."""
    base = without(known, unit.rows)
    before = fits(known, base, unit)
    n = len(unit.rows)
    if before is None or before[0] <= n + 3 * math.sqrt(2 * n) + ODD**2:
        return None
    best, share, others = ranked(known, base, unit, exact=True)
    if best is None:
        return None
    return _whole(known, unit, best, share, others, before[0], best.chi2 * n)


@dataclass(frozen=True, slots=True)
class _Guess:
    """One cause for all readings of a kind: the readings put right, and how far off they then are in ratio."""

    unit: Unit
    cause: OddCause
    what: str
    factor: float
    right: Unit
    gap: float


def _refitted_whole(known: Known, driving: Sequence[Unit]) -> list[Suspect]:
    """Kinds that drive a constant far off: the causes that would bring it back are fitted, the best of each offered."""
    guesses = sorted((g for unit in driving for g in _guesses(known, unit)), key=lambda g: g.gap)
    before = _strain_sum(known)
    tried: list[tuple[float, _Guess, frozenset[str]]] = []
    for guess in guesses[:MOST_FITS]:
        swap = dict(zip(_ids(guess.unit.taken), guess.right.taken, strict=True))
        again = know_taken(known.bench, [swap.get(id(t), t) for t in known.taken])
        counted = frozenset(k for k, on in zip(again.fit.keys, again.fit.counts, strict=True) if on)
        tried.append((_strain_sum(again) - 2 * math.log(guess.cause.weight), guess, counted))
    found = []
    for unit in driving:
        mine = sorted((t for t in tried if t[1].unit is unit), key=lambda t: t[0])
        if mine and before - mine[0][0] >= WORTH:
            found.append(_offered(known, mine, before))
    return found


def _guesses(known: Known, unit: Unit) -> list[_Guess]:
    """Causes with one factor that bring all readings of a kind near to where a fit without them may put them."""
    ids = set(_ids(unit.taken))
    rest = [dataclasses.replace(t, used=False) if id(t) in ids else t for t in known.taken]
    base = know_taken(known.bench, rest).fit
    kind = KINDS[unit.taken[0].kind]
    found = []
    for what in unit.taken[0].values:
        unit_of = kind[what].unit if what in kind.whats else "rad/s"
        for cause in causes_for(kind.key, what, unit_of):
            if cause.special in ("gear", "swapped"):
                continue
            for factor in factors_of(known, unit, what, cause):
                right = put_right(unit, what, factor, keeps_sd=cause.keeps_sd)
                gap = _gap(known, base, right)
                if gap <= ODD:
                    found.append(_Guess(unit, cause, what, factor, right, gap))
    return found


def _offered(known: Known, mine: Sequence[tuple[float, _Guess, frozenset[str]]], before: float) -> Suspect:
    after, guess, counted = mine[0]
    weights = [math.exp(0.5 * (after - each)) for each, _, _ in mine]
    others = tuple(
        g.cause.key
        for (_, g, _), w in zip(mine, weights, strict=True)
        if w > 0.1 and g.cause.key != guess.cause.key
    )
    explained = tuple(k for k in guess.unit.rows if known.fit.keys[k] in counted)
    unit = dataclasses.replace(guess.unit, rows=explained or guess.unit.rows)
    best = Tried(guess.cause, guess.what, guess.factor, after / len(guess.unit.rows), 0.0)
    return _whole(known, unit, best, 1 / sum(weights), others, before, after)


def _ids(taken: Sequence[Taken]) -> list[int]:
    """Identity of each reading."""
    return [id(t) for t in taken]


def _strain_sum(known: Known) -> float:
    """Sum of squares of readings, priors and gains, a reading set aside counting as far off as it must be for that."""
    p, fit = known.fit.problem, known.fit
    priors = float(np.sum(((fit.inner[p.held] - p.data.centres) / p.prior_sd) ** 2))
    return fit.chi2 + priors + float(np.sum(~fit.counts & p.used)) * OUT**2


def _gap(known: Known, base: Fit, unit: Unit) -> float:
    """How far readings put right are in ratio from where a fit without them puts them, in spreads of that ratio."""
    with np.errstate(invalid="ignore", over="ignore", divide="ignore"):
        shown = told(known, base, unit)
        ratio = np.log(np.abs(shown.seen / shown.value))
        sd = np.sqrt(np.diag(shown.covariance)) / np.abs(shown.value)
    if not np.all(np.isfinite(ratio)):
        return math.inf
    return abs(float(np.median(ratio))) / (float(np.median(sd)) + 0.02)


def _whole(
    known: Known,
    unit: Unit,
    best: Tried,
    share: float,
    others: tuple[str, ...],
    before: float,
    after: float,
) -> Suspect:
    worst = max(unit.rows, key=lambda k: abs(known.fit.deviate[k]))
    many = (
        f"All {len(unit.taken)} readings of this kind are off in the same way. "
        if len(unit.taken) > 1
        else ""
    )
    return Suspect(
        row=known.fit.keys[worst], rows=tuple(known.fit.keys[k] for k in unit.rows), cause=best.cause.key,
        name=best.cause.name, says=f"{many}{best.cause.says}", redo=best.cause.redo, factor=best.factor,
        residual=math.sqrt(max(before, 0.0) / len(unit.rows)), chi2_before=before, chi2_after=after,
        chi2_left=best.chi2, likelihood=share, others=others,
    )  # fmt: skip
