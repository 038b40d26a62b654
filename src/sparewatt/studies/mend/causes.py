"""What is wrong, from a handful of readings taken while riding: causes ranked, and the check that settles the first two.

One thing at a time is taken to be wrong. Each cause is a small change of the rig's numbers with one unknown size; how well
it explains the readings is weighed with everything else that is not known for sure (`mend_fit`), and with how common it is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.moment import Moment
from sparewatt.parts import Rig
from sparewatt.rig.asking import Ask, ask_for
from sparewatt.rig.bind import gear_names
from sparewatt.rig.fill import Filled, fill
from sparewatt.rig.outcome import Band, Caveat, Mode, Stop
from sparewatt.rig.refusals import refusal
from sparewatt.studies.bench.answers import Cause, MendAnswer, Sign
from sparewatt.studies.mend.answers import CauseMore, Foretold, Mended, Trial
from sparewatt.studies.mend.better import improvements
from sparewatt.studies.mend.checks import HALF, Checks, between, next_readings
from sparewatt.studies.mend.faults import body_faults, healthy, scale_of
from sparewatt.studies.mend.fit import Found, Search, searched
from sparewatt.studies.mend.seen import UNITS, checked, seen_of
from sparewatt.studies.mend.slips import paper_faults
from sparewatt.studies.mend.tables import tables_of

__all__ = ["improvements", "mend"]

F = NDArray[np.float64]
SOURCES = ("dc_machine", "iec60028", "laplace_evidence", "student_t_tails", "expected_information")
ALIKE = 3.0  # times better one cause must explain the readings than another to be told apart
SHARE = 0.05  # below it a cause is not worth telling apart
MOST, MOST_FINE = 10, 4  # moments weighed: the last of them
ODD = 5.0  # spreads by which even the best cause leaves a reading
HELD = {
    Mode.LIMITED: "board",
    Mode.PASSES: "passes",
    Mode.DROPS_OUT: "sags",
    Mode.CHATTERS: "chatters",
    Mode.ASLEEP: "asleep",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ranked:
    """One cause with its best hypothesis. log: of evidence, with and without its odds."""

    key: str
    best: int
    share: float
    evidence: float
    weight: float


def mend(
    rig: Rig | Filled, moments: Sequence[Moment], *, ask: Ask | None = None, better: bool = True
) -> Mended:
    """Rank what can be wrong with a rig that was ridden like this. better: also what would help most.

    ask: who rides what and how hard, where the moments do not say; the rig's own habits without it.
    """
    filled = rig if isinstance(rig, Filled) else fill(rig)
    ask = ask or ask_for(filled.rig)
    refused = refusal(filled.rig, ask.load)
    if refused is not None:
        machine = refused[0] is Stop.NO_MACHINE
        hint = (
            "a machine with magnets: heap says which of yours is one"
            if machine
            else "another load, or charge"
        )
        raise BadRequest(
            Problem("machine" if machine else "load", refused[1], hint, "" if machine else ask.load)
        )
    read = checked(moments, gear_names(filled.rig))
    if not read:
        hint = "type at least volts, amps or how it feels, and the turns a minute"
        raise BadRequest(Problem("moments", "there is no reading to judge by", hint))
    read, left = _last(read)
    tables = tables_of(filled, ask, read)
    scale = scale_of(tables, read, ask.effort)
    seen = seen_of(read, tables)
    search = Search(tables, read, seen, scale.pull)
    found = searched(search, [healthy(), *body_faults(tables, scale), *paper_faults(tables, read)])
    ranked = _ranked(found)
    checks = Checks(bound=tables.bounds[0], moments=read, found=found, inputs=search.p, gains=search.g)
    more = tuple(_more(search, found, checks, ranked, n) for n in range(len(ranked)))
    causes = tuple(_cause(found, ranked, n, each.trial) for n, each in enumerate(more))
    shares = {r.key: r.share for r in ranked}
    leader = causes[0]
    answer = MendAnswer(
        rig=filled.rig.name, signs=_signs(search), causes=causes, healthy=shares.get("normal", 0.0),
        improvements=improvements(filled, ask) if better else (),
        says=f"Most likely {leader.name}.", missing=next_readings(checks, shares, {r.key: r.best for r in ranked}),
        caveats=_caveats(filled, read, left), sources=SOURCES,
    )  # fmt: skip
    return Mended(
        answer=answer, moments=read, more=more, alike=_alike(ranked), limited=_limited(found, ranked, read),
        odd=_odd(found, ranked[0]),
    )  # fmt: skip


def _last(moments: tuple[Moment, ...]) -> tuple[tuple[Moment, ...], int]:
    """The last moments of each sort, and how many were left out."""
    ill = [n for n, m in enumerate(moments) if not m.fine][-MOST:]
    well = [n for n, m in enumerate(moments) if m.fine][-MOST_FINE:]
    keep = sorted(ill + well)
    return tuple(moments[n] for n in keep), len(moments) - len(keep)


def _ranked(found: Found) -> list[_Ranked]:
    """Causes by their share of all, the most likely first."""
    keys = list(dict.fromkeys(fault.key for fault in found.faults))
    weighted = np.array([math.log(f.weight) + e for f, e in zip(found.faults, found.evidence, strict=True)])
    total = float(np.logaddexp.reduce(weighted))
    rows = []
    for key in keys:
        own = [k for k, fault in enumerate(found.faults) if fault.key == key]
        weight = sum(found.faults[k].weight for k in own)
        together = float(np.logaddexp.reduce(weighted[own]))
        best = max(own, key=lambda k: weighted[k])
        rows.append(
            _Ranked(
                key=key, best=best, share=math.exp(together - total), evidence=together - math.log(weight), weight=weight,
            )
        )  # fmt: skip
    return sorted(rows, key=lambda row: -row.share)


def _cause(found: Found, ranked: list[_Ranked], n: int, trial: Trial | None) -> Cause:
    row, fault = ranked[n], found.faults[ranked[n].best]
    if_so, if_not = _outcomes(trial)
    return Cause(
        key=row.key, name=fault.name, likelihood=row.share, explanation=fault.says, check=trial.do if trial else "",
        if_so=if_so, if_not=if_not, separates=_against(ranked, n).key if trial else "",
        minutes=trial.minutes if trial else math.nan, size=fault.way, factor=_size(found, row.best).mid, stops=fault.stops,
    )  # fmt: skip


def _against(ranked: list[_Ranked], n: int) -> _Ranked:
    """The cause to tell it from: the next one for the first, the first one for the rest."""
    return ranked[1 if n == 0 else 0]


def _outcomes(trial: Trial | None) -> tuple[str, str]:
    """What the check shows if the cause holds, and if the other one does."""
    if trial is None:
        return "", ""
    if trial.read:
        lower = trial.one.band.mid < trial.other.band.mid
        return ("it reads lower", "it reads higher") if lower else ("it reads higher", "it reads lower")
    return (trial.yes, trial.no) if trial.one.yes > trial.other.yes else (trial.no, trial.yes)


def _more(search: Search, found: Found, checks: Checks, ranked: list[_Ranked], n: int) -> CauseMore:
    row = ranked[n]
    fault, total = found.faults[row.best], sum(r.weight for r in ranked)
    against = _against(ranked, n)
    size = _size(found, row.best)
    key, value, unit = fault.number or ("", math.nan, "")
    return CauseMore(
        key=row.key, prior=row.weight / total, support=math.exp(row.evidence - ranked[0].evidence),
        foretold=_foretold(search, found, row.best), size=size, unit=fault.unit, number=key,
        value=value * size.mid**fault.power, value_unit=unit, way=fault.way, only=fault.only,
        trial=between(checks, (row.key, row.best), (against.key, against.best)),
    )  # fmt: skip


def _size(found: Found, h: int) -> Band:
    """How large a fault is, as a band."""
    fault, p = found.faults[h], found.inputs
    score, sd = float(found.u[h, p + 1]), math.sqrt(float(found.covariance[h, p + 1, p + 1]))
    low, mid, high = (float(x) for x in fault.size(np.array([score - HALF * sd, score, score + HALF * sd])))
    return Band(mid, low, high)


def _foretold(search: Search, found: Found, h: int) -> tuple[Foretold, ...]:
    seen = search.seen
    rows = []
    for k, what in enumerate(seen.what):
        if what in UNITS:
            half = HALF * math.hypot(float(found.shown_sd[h, k]), float(seen.sd[k]))
            mid = float(found.shown[h, k])
            rows.append(
                Foretold(
                    moment=int(seen.moment[k]), what=what, seen=float(seen.value[k]), unit=UNITS[what],
                    band=Band(mid, mid - half, mid + half), off=float(found.off[h, k]),
                )
            )  # fmt: skip
    return tuple(rows)


def _signs(search: Search) -> tuple[Sign, ...]:
    """Each reading against what a rig with nothing wrong shows at that cadence and push."""
    seen, moments = search.seen, search.moments
    given = [
        k for k, (what, m) in enumerate(zip(seen.what, seen.moment, strict=True))
        if moments[m].fine or what in ("cadence", "feel", "effort") or (what == "speed" and moments[m].drill)
    ]  # fmt: skip
    well = (healthy(),)
    u = np.zeros((1, search.d))
    covariance = np.eye(search.d)[None]
    if given:
        known = searched(Search(search.tables, moments, seen.only(given), search.pull), well)
        u, covariance = known.u, known.covariance
    shown, sd = search.predicted(well, u, covariance)
    rows = []
    for k, what in enumerate(seen.what):
        if k in given or what not in UNITS:
            continue
        spread = math.hypot(float(sd[0, k]), float(seen.sd[k]))
        mid, value = float(shown[0, k]), float(seen.value[k])
        rows.append(
            Sign(
                what=what, seen=value, expected=Band(mid, mid - HALF * spread, mid + HALF * spread), unit=UNITS[what],
                z=(value - mid) / spread, says=moments[int(seen.moment[k])].at,
            )
        )  # fmt: skip
    return tuple(rows)


def _alike(ranked: list[_Ranked]) -> tuple[tuple[str, str], ...]:
    """Pairs of likely causes that these readings cannot tell apart."""
    likely = [row for row in ranked if row.share >= SHARE][:4]
    return tuple(
        (a.key, b.key) for n, a in enumerate(likely) for b in likely[n + 1 :]
        if abs(a.evidence - b.evidence) < math.log(ALIKE)
    )  # fmt: skip


def _limited(found: Found, ranked: list[_Ranked], moments: Sequence[Moment]) -> str:
    """What holds a rig back that has nothing wrong; "" when something is, or nothing does."""
    if ranked[0].key != "normal":
        return ""
    modes = [int(found.outs["mode"][ranked[0].best, n]) for n, m in enumerate(moments) if m.joined == "load"]
    held = [HELD[Mode(mode)] for mode in modes if Mode(mode) in HELD]
    return max(set(held), key=held.count) if 2 * len(held) > len(modes) else ""


def _odd(found: Found, leader: _Ranked) -> float:
    """How many spreads the best cause leaves a meter's reading off; 0 when none is far."""
    far = float(np.max(np.abs(found.off[leader.best]), initial=0.0))
    return far if far > ODD else 0.0


def _caveats(filled: Filled, moments: Sequence[Moment], left: int) -> tuple[Caveat, ...]:
    rows = [
        Caveat("mend", "one thing at a time is taken to be wrong; two faults together can look like a third")
    ]
    if left:
        rows.append(
            Caveat("readings", f"the last {len(moments)} moments were weighed; {left} older ones were not")
        )
    loose = filled.rig.battery is None and any(
        load.kind in ("heater", "lamp") and not load.through for load in filled.rig.load
    )
    if loose and not filled.rig.flywheel:
        rows.append(
            Caveat(
                "meters",
                "with a lamp or heater straight on the machine, true watts are 15 to 30 in 100 above volts times amps",
            )
        )
    return tuple(rows)
