"""When the readings agree with each other and not with the rig file: the file's number is let go, and that is said.

A number that stands in the rig file as measured holds the fit. When the motor is another one, or the number was copied,
it would bend good readings; then the readings count, the number is held only loosely, and a flag asks which is true.
"""

from __future__ import annotations

import dataclasses

import numpy as np

from sparewatt.studies.bench.answers import Suspect
from sparewatt.studies.bench.known import Known, know_taken
from sparewatt.studies.bench.odd import suspects_of
from sparewatt.studies.fit.solve import OUT

__all__ = ["let_go"]

HINT = 3.0  # spreads from which it is looked at
FAR = 5.0  # spreads from its own number in the file
LOOSE = 0.6  # share of it that it is held by then
FEWEST = 2  # readings that must agree
BETTER = 20.0  # how much better the whole must fit


def let_go(known: Known, suspects: tuple[Suspect, ...]) -> tuple[Known, tuple[Suspect, ...]]:
    """The fit and its odd readings, made anew without numbers of the rig file that the readings speak against."""
    if any(s.cause and len(s.rows) > 1 for s in suspects):
        return known, suspects  # one slip in all readings of a kind explains it
    names = tuple(name for name in known.fit.names if name in known.bench.labels and name != "room")
    against = _rest(known) if _strained(known, suspects) else {}
    moved = [name for name in names if against.get(name, 0.0) > FAR and _readings(known, name) >= FEWEST]
    if not moved:
        return known, suspects
    unknowns = dict(known.bench.unknowns)
    for name in moved:
        u = unknowns[name]
        assert u.prior_mean is not None
        unknowns[name] = dataclasses.replace(u, prior_sd=LOOSE * abs(u.prior_mean))
    bench = dataclasses.replace(known.bench, unknowns=unknowns)
    again = know_taken(bench, known.taken, known.unusable)
    if _misfit(known) - _misfit(again) < BETTER:
        return known, suspects
    says = " and ".join(known.bench.labels[name].says for name in moved)
    flag = f"The readings agree with each other, and not with the rig file on {says}. They count: is it the same part?"
    fit = dataclasses.replace(again.fit, flags=(*again.fit.flags, flag))
    told = dataclasses.replace(again, fit=fit, bench=known.bench)
    return told, suspects_of(told)


def _strained(known: Known, suspects: tuple[Suspect, ...]) -> bool:
    """Whether it is worth a look: a constant lies far from its own number, or odd readings have no cause."""
    if sum(len(s.rows) for s in suspects if not s.cause) >= FEWEST:
        return True
    for k, name in enumerate(known.fit.names):
        u = known.bench.unknowns.get(name)
        if u is None or u.prior_mean is None or not u.prior_sd or name == "room":
            continue
        left = (
            u.prior_sd**2 - float(known.fit.sd[k]) ** 2
        )  # variance of the difference to what the readings alone say
        if left > 0 and (float(known.fit.values[k]) - u.prior_mean) ** 2 > HINT**2 * left:
            return True
    return False


def _readings(known: Known, name: str) -> int:
    """How many readings bear on a constant."""
    return len({id(t) for n, t in known.places if t.used and name in known.made.touches[n]})


def _rest(known: Known) -> dict[str, float]:
    """How far each constant lies from its number before, when that number alone is held loosely."""
    found: dict[str, float] = {}
    for name in known.fit.names:
        u = known.bench.unknowns.get(name)
        if u is None or u.prior_mean is None or not u.prior_sd or name == "room":
            continue
        if known.fit.told[known.fit.names.index(name)] <= 0 or u.prior_sd > 0.1 * abs(u.prior_mean):
            continue
        loose = dataclasses.replace(u, prior_sd=LOOSE * abs(u.prior_mean))
        bench = dataclasses.replace(known.bench, unknowns={**known.bench.unknowns, name: loose})
        fit = know_taken(bench, known.taken).fit
        k = fit.names.index(name)
        found[name] = abs(float(fit.values[k]) - u.prior_mean) / float(np.hypot(u.prior_sd, fit.sd[k]))
    return found


def _misfit(known: Known) -> float:
    """Sum of squares, a reading left out counting as far off as it must be for that; what is held counts too."""
    p, fit = known.fit.problem, known.fit
    priors = float(np.sum(((fit.inner[p.held] - p.data.centres) / p.prior_sd) ** 2))
    return fit.chi2 + priors + float(np.sum(~fit.counts & p.used)) * OUT**2
