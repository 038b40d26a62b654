"""From the joint fit to what a person gets: constants with their words, known parts, rows, and the whole answer."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sparewatt.physics import converter
from sparewatt.rig.fill import Filled
from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.bench.answers import (
    BenchAnswer,
    Constant,
    Entry,
    Fitted,
    KnownPart,
    ReadingRow,
    Suspect,
)
from sparewatt.studies.bench.known import Known, know, measure_next
from sparewatt.studies.bench.known_again import let_go
from sparewatt.studies.bench.known_asked import LEGS, delivered
from sparewatt.studies.bench.known_checks import checks_of
from sparewatt.studies.bench.known_equations import why_silent
from sparewatt.studies.bench.known_pictures import pictures_of
from sparewatt.studies.bench.known_rig import Bench, Label
from sparewatt.studies.bench.odd import suspects_of
from sparewatt.studies.bench.reading_kinds import KINDS
from sparewatt.studies.bench.told import Told, told_of
from sparewatt.studies.fit.fitting import Fit
from sparewatt.studies.fit.next_reading import answer_of
from sparewatt.studies.fit.problem import Data

__all__ = ["bench_answer", "fitted_of", "parts_of"]

F = NDArray[np.float64]
Z90 = 1.6448536269514722
TOLD = 0.2  # share of its former variance that readings must take off a constant before it counts as measured
SOURCES = ("dc_machine", "orthogonal_distance", "least_squares_spread", "gum")


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def bench_answer(
    filled: Filled,
    entries: Iterable[Entry],
    *,
    asked: Callable[[Mapping[str, F]], ArrayLike] | None = None,
    asked_says: str = "",
    hardest: str = "steady",
) -> BenchAnswer:
    """Everything the bench knows about a rig after these readings.

    asked: the answer that "next" is ranked for, a function of the constants; None: watts delivered for 75 W of legs.
    """
    known = know(filled, entries)
    known, suspects = let_go(known, suspects_of(known))
    told = told_of(known.taken)
    answered = answer_of(known.fit, asked or delivered(known.bench))
    return BenchAnswer(
        rig=known.bench.rig.name,
        fitted=fitted_of(known, suspects),
        parts=parts_of(known),
        suspects=suspects,
        next_readings=measure_next(known, asked, hardest=hardest),
        asked=asked_says or f"watts delivered for {LEGS:.0f} W of legs",
        asked_band=Band(
            answered.value, answered.value - Z90 * answered.sd, answered.value + Z90 * answered.sd
        ),
        pictures=pictures_of(known),
        checks=checks_of(known),
        caveats=_caveats(known),
        sources=SOURCES,
        gate=_gate(suspects, known, told),
        told=told,
    )


def _gate(suspects: Iterable[Suspect], known: Known, told: Iterable[Told]) -> str:
    """The check word of the whole."""
    if any(one.stops for one in told):
        return "stop"
    return "look again" if tuple(suspects) or known.fit.flags else "not refused"


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def fitted_of(known: Known, suspects: Iterable[Suspect] = ()) -> Fitted:
    """The joint fit with its constants, gains and rows in words."""
    found, bench = known.fit, known.bench
    constants = [k for k, n in enumerate(found.names) if n in bench.labels]
    gains = [k for k, n in enumerate(found.names) if n in known.made.gains]
    return Fitted(
        names=tuple(found.names[k] for k in constants),
        constants=tuple(_constant(bench, found, k) for k in constants),
        correlation=found.correlation[np.ix_(constants, constants)],
        covariance=found.covariance[np.ix_(constants, constants)],
        rows=_rows(known, suspects),
        chi2=found.chi2,
        degrees=found.degrees,
        flags=found.flags,
        gains=tuple(_gain(found, k) for k in gains),
    )


def _constant(bench: Bench, found: Fit, k: int) -> Constant:
    name = found.names[k]
    label, before = bench.labels[name], bench.unknowns[name]
    return Constant(
        name=name, value=float(found.values[k]), sd=float(found.sd[k]), low=float(found.low[k]),
        high=float(found.high[k]), unit=label.unit, how="measured" if found.told[k] >= TOLD else label.how,
        why_no_sd=_plain(bench.labels, found.why_no_sd[k]), key=label.key, says=label.says,
        before=math.nan if before.prior_mean is None else before.prior_mean,
        before_sd=math.nan if before.prior_sd is None else before.prior_sd,
    )  # fmt: skip


def _plain(labels: Mapping[str, Label], sentence: str) -> str:
    """The sentence with words instead of names."""
    words = sentence.split(" ")
    return " ".join(f"the {labels[w].says}" if w in labels else w for w in words)


def _gain(found: Fit, k: int) -> Constant:
    return Constant(
        name=found.names[k], value=float(found.values[k]), sd=float(found.sd[k]), low=float(found.low[k]),
        high=float(found.high[k]), says=f"what '{found.names[k]}' reads over what is true",
        before=1.0, before_sd=float(found.problem.prior_sd[list(found.problem.held).index(k)]),
    )  # fmt: skip


def _rows(known: Known, suspects: Iterable[Suspect]) -> tuple[ReadingRow, ...]:
    found = known.fit
    odd = {key: s.cause or "unnamed" for s in suspects for key in s.rows}
    pulls = _pulls(found)
    rows = []
    for k, key in enumerate(found.keys):
        batch, taken = known.places[k]
        shown, against = known.made.shows[batch]
        kind = KINDS[taken.kind]
        unit = kind[shown].unit if shown in kind.whats else {"watts": "W", "charge": "C"}.get(shown, "1")
        block = found.problem.blocks[batch]
        x = float(block.x[0][k - block.rows.start]) if against else math.nan
        rows.append(
            ReadingRow(
                key=key, says=kind.says, procedure=taken.kind, at=taken.at, x=x, seen=float(found.seen[k]),
                fitted=float(found.fitted[k]), sd=float(found.spread[k]), residual=float(found.deviate[k]),
                unit=unit, weight=float(found.counts[k]), used=bool(found.counts[k]), left_out=found.left_out[k],
                odd=odd.get(key, ""), chi2_drop=float(found.chi2_drop[k]), pull=float(pulls[k]), lines=taken.lines,
            )
        )  # fmt: skip
    return tuple(rows)


def _pulls(found: Fit) -> F:
    """How far each reading moves the constant it moves most, in standard deviations of that constant."""
    p = found.problem
    if not p.n:
        return np.empty(0)
    everyone = Data(p.data.y, p.data.x, p.data.centres, np.ones(p.n))
    j = p.jacobian(found.inner, everyone)[: p.n]
    cov = np.nan_to_num(found.inner_covariance)[: p.n_unknowns]
    sd = np.sqrt(np.maximum(np.diag(np.nan_to_num(found.inner_covariance))[: p.n_unknowns], 1e-300))
    room = np.maximum(1 - found.leverage, 1e-6)
    moves = (cov @ j.T) * (found.residual / room) / sd[:, None]
    return np.asarray(np.max(np.abs(np.where(np.isfinite(moves), moves, 0.0)), axis=0, initial=0.0))


@np.errstate(over="ignore", invalid="ignore", divide="ignore")
def parts_of(known: Known) -> tuple[KnownPart, ...]:
    """Parts with at least one constant that readings have narrowed."""
    found, bench = known.fit, known.bench
    by_part: dict[str, list[int]] = {}
    for k, name in enumerate(found.names):
        label = bench.labels.get(name)
        if label is not None and label.part and (found.told[k] >= TOLD or found.why_no_sd[k]):
            by_part.setdefault(label.part, []).append(k)
    parts = []
    for part, at in by_part.items():
        constants = [_constant(bench, found, k) for k in at]
        correlation = found.correlation[np.ix_(at, at)]
        if part.startswith("converter."):
            constants, correlation = _with_efficiency(known, part, constants, correlation)
        mine = {found.names[k] for k in at}
        read = [t for n, t in known.places if mine & set(known.made.touches[n]) and t.used]
        parts.append(
            KnownPart(
                part=part, name=_name(known, part), constants=tuple(constants), correlation=correlation,
                readings=len({id(t) for t in read}), at=read[-1].at if read else "",
            )
        )  # fmt: skip
    return tuple(parts)


def _name(known: Known, part: str) -> str:
    field, _, index = part.partition(".")
    holder = getattr(known.bench.rig, field)
    one = holder[int(index)] if index else holder
    return str(getattr(one, "name", "") or field)


def _with_efficiency(
    known: Known, part: str, constants: list[Constant], correlation: F
) -> tuple[list[Constant], F]:
    """The board's efficiency at the watts it was read at, beside its three loss numbers."""
    k = int(part.partition(".")[2])
    names = [f"loss_{n}.{k}" for n in range(3)]
    watts = [
        float(t.values["volts_out"].value[0] * t.values["amps_out"].value[0])
        for t in known.taken
        if {"volts_out", "amps_out"} <= set(t.values) and t.kind == "board_power"
    ]
    if not watts or any(n not in known.fit.names for n in names):
        return constants, correlation
    p_out = float(np.median(watts))

    def share(p: Mapping[str, F]) -> ArrayLike:
        losses = {f"loss_{n}": p[names[n]] for n in range(3)}
        return np.asarray(p_out / converter.input_power(p_out, **losses))

    eta = answer_of(known.fit, share)
    one = Constant(
        name=f"efficiency.{k}", value=eta.value, sd=eta.sd, low=eta.value - Z90 * eta.sd,
        high=min(eta.value + Z90 * eta.sd, 1.0),
        key="" if known.bench.rig.converter[k].efficiency_curve else f"{part}.efficiency",
        says=f"watts out over watts in, at {p_out:.0f} W out",
    )  # fmt: skip
    side = np.array([_between(known.fit, eta.slope, eta.sd, c.name) for c in constants])
    n = len(constants)
    wide = np.eye(n + 1)
    wide[:n, :n] = correlation
    wide[n, :n] = wide[:n, n] = side
    return [*constants, one], wide


def _between(found: Fit, slope: F, sd: float, name: str) -> float:
    k = found.names.index(name)
    inner = np.nan_to_num(found.inner_covariance)
    own = math.sqrt(max(inner[k, k], 0.0))
    return float(inner[k] @ slope / (own * sd)) if own > 0 and sd > 0 else 0.0


def _caveats(known: Known) -> tuple[Caveat, ...]:
    left = [
        Caveat(where=f"{u.kind} {u.at}".strip(), text=f"This reading is not used: {u.why}.")
        for u in known.unusable
    ]
    for t in known.taken:
        if t.kind == "winding_ohms":
            text = "An ohmmeter cannot read through brushes. It tells an open or a touching winding, nothing more."
            left.append(Caveat(where=t.key, text=text))
    for kind in dict.fromkeys(t.kind for t in known.taken):
        why = why_silent(known.bench, kind)
        if why:
            left.append(Caveat(where=kind, text=f"These readings are not used: {why}."))
    return tuple(left)
