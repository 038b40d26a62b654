"""How well each cause explains the readings, with everything else that is not known for sure weighed in.

Unknowns are standard normal scores: of every input of the rig, of its warmth, of the size of the fault, of each meter's
gain, and of the true cadence at each moment. For every cause the most likely scores are sought by damped Gauss-Newton
steps, all causes side by side, and the chance of the readings follows from the peak and its width (Laplace's method).
Readings have long tails, so that one that was mistyped does not outvote the rest.

Source: [laplace_evidence] [student_t_tails]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.moment import Moment
from sparewatt.rig.outcome import Mode
from sparewatt.studies.mend.faults import Fault
from sparewatt.studies.mend.seen import Seen
from sparewatt.studies.mend.show import Numbers, Out, extras, show
from sparewatt.studies.mend.tables import DRIVE, PLAIN, Tables

__all__ = ["Found", "Search", "searched"]

F = NDArray[np.float64]
STEP = 1e-4  # of a score, for slopes
LONGEST = 1.5  # scores that one step may move
ROUNDS, AGAIN = 8, 7  # of steps, before and after a second look at the cadences
DROP_AFTER, DROP = 5, 14.0  # after so many rounds a start that is this much worse than the best is left
CADENCE_SD = 0.30  # of the logarithm of the cadence, before it is read
SPEED_SD = 0.5  # the same of a drill
JUMPS = 6.0  # times as wide: meters on a board that goes on and off
GRID = np.linspace(-0.28, 0.28, 29)  # of the logarithm of the cadence, where the search begins
NEAR = np.linspace(-0.07, 0.07, 15)  # the same about where it is


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The most likely state under each hypothesis. u (hypotheses, unknowns), cost, evidence; spread: their covariance.

    outs: what would be shown there, and slopes of each in the unknowns, by name: (hypotheses, moments) and
    (hypotheses, moments, unknowns). off: residuals (hypotheses, readings) in spreads.
    """

    faults: tuple[Fault, ...]
    inputs: int  # how many of the unknowns are inputs of the rig
    u: F
    cost: F
    evidence: F
    covariance: F
    outs: Out
    slopes: Out
    off: F
    shown: F  # what is predicted for each reading
    shown_sd: F  # how closely the cause fixes that, the meter's own spread left out


@dataclass(slots=True)
class _State:
    u: F
    cost: F
    r: F
    j: F
    outs: Out
    slopes: Out
    loose: F


class Search:
    """The search for one rig and one set of moments. Unknowns in order: inputs, warmth, size, gains, cadences."""

    def __init__(self, tables: Tables, moments: Sequence[Moment], seen: Seen, pull: float) -> None:
        self.tables, self.moments, self.seen, self.pull = tables, tuple(moments), seen, pull
        self.p, self.n, self.g = len(tables.inputs), len(moments), seen.gains.size
        self.d = self.p + 2 + self.g + self.n
        self.lam_sd = np.array([SPEED_SD if m.drill else CADENCE_SD for m in moments])
        self.lamp = np.array([m.amps if m.joined == "lamp" else np.nan for m in moments])
        wide = self.p + 4  # the point itself, then one step in each input, in warmth, in size, in cadence
        self.tilt = np.zeros((self.p, wide))
        self.tilt[np.arange(self.p), 1 + np.arange(self.p)] = STEP
        self.plain_tilt = _lifted(np.einsum("rpm,pd->rmd", tables.lean, self.tilt), tables.log[:, None, None])
        lifted = np.einsum("kgpm,pd->kgmd", tables.drive_lean, self.tilt)
        self.drive_tilt = _lifted(lifted, tables.drive_log[:, None, None, None])
        self.swings = np.array([what != "heat" for what in seen.what])

    def first(self) -> F:
        """Scores of the inputs to begin with: a board that was seen at work is awake at the volts it had."""
        z = np.zeros(self.p)
        awake = [m.volts for m in self.moments if m.joined == "load" and m.amps > 0.3 and m.volts > 0]
        row = PLAIN.index("sleep")
        if awake and self.tables.log[row] and self.p:
            lean = self.tables.lean[row, :, 0]
            k = int(np.argmax(np.abs(lean)))
            need = np.log(0.95 * min(awake)) - self.tables.start[row, 0]
            if lean[k] > 0 and need < 0:
                z[k] = max(need / lean[k], -3.0)
        return z

    # ---- numbers ----

    def on(self, fault: Fault) -> NDArray[np.int64]:
        """Moments a fault touches."""
        at = fault.only or range(self.n)
        return np.array([n for n in at if not (fault.since and self.moments[n].fine)], dtype=np.int64)

    def _gears(self, faults: Sequence[Fault]) -> NDArray[np.int64]:
        gear = np.tile(self.tables.gear, (len(faults), 1))
        for h, fault in enumerate(faults):
            if fault.gears is not None:
                gear[h, self.on(fault)] = fault.gears[1]
        return gear

    def _numbers(self, faults: Sequence[Fault], z: F, tilted: bool, size: tuple[int, int, int]) -> Numbers:
        """Every number (hypotheses, moments, variants) before faults."""
        t = self.tables
        plain = t.start[:, None, :] + np.einsum("rpm,hp->rhm", t.lean, z)
        log = t.log
        plain[log] = np.exp(plain[log])
        gear = self._gears(faults)
        at = (slice(None), gear, np.arange(self.n)[None, :])
        lean = t.drive_lean.transpose(0, 1, 3, 2)[at]  # (4, hypotheses, moments, inputs)
        drive = t.drive_start[at] + np.einsum("khmp,hp->khm", lean, z)
        drive[t.drive_log] = np.exp(drive[t.drive_log])
        x: Numbers = {}
        for k, name in enumerate(PLAIN):
            x[name] = _spread(plain[k], self.plain_tilt[k][None] if tilted else None, bool(log[k]), size)
        for k, name in enumerate(DRIVE):
            tilt = self.drive_tilt[k][gear, np.arange(self.n)[None, :]] if tilted else None
            x[name] = _spread(drive[k], tilt, bool(t.drive_log[k]), size)
        x |= extras(size)
        x["pull"] = np.full(size, self.pull)
        x["lamp"] = np.broadcast_to(self.lamp[None, :, None], size)
        return x

    def outs(self, faults: Sequence[Fault], z: F, warm: F, score: F, lam: F, *, tilted: bool) -> Out:
        """What is shown; z (hypotheses, inputs), warm and score (hypotheses, variants), lam by moments as well."""
        size = (len(faults), self.n, lam.shape[2])
        x = self._numbers(faults, z, tilted, size)
        x["rise"] = self.tables.rise[None, :, None] * np.exp(
            self.tables.rise_sd[None, :, None] * warm[:, None, :]
        )
        ons = [self.on(fault) for fault in faults]
        sizes = [fault.size(score[h]) for h, fault in enumerate(faults)]
        for h, fault in enumerate(faults):
            if fault.change is not None and ons[h].size:
                fault.change(x, h, ons[h], sizes[h])
        w = self.tables.cadence[None, :, None] * np.exp(self.lam_sd[None, :, None] * lam)
        out = show(self.tables, x, w, self.moments)
        for name in ("cadence", "speed", "volts", "amps", "volts_out", "amps_out"):
            out[name] = np.array(out[name])  # each its own, so that a meter's fault touches nothing else
        out["w"], out["true_amps"], out["true_volts"] = w, np.array(out["amps"]), np.array(out["volts"])
        for h, fault in enumerate(faults):
            if fault.meters is not None and ons[h].size:
                fault.meters(out, h, ons[h], sizes[h])
        return out

    # ---- readings against it ----

    def _picked(self, out: Out) -> F:
        """(hypotheses, readings, variants): what is predicted for each reading, gains apart."""
        rows = [out[what][:, m] for what, m in zip(self.seen.what, self.seen.moment, strict=True)]
        return np.stack(rows, axis=1)

    def _off(self, out: Out, shown: F) -> tuple[F, F, F]:
        """Residuals, the spread each is measured by, and by how much a board that goes on and off widens that."""
        value, sd, less = (a[None, :, None] for a in (self.seen.value, self.seen.sd, self.seen.less))
        far = shown - value
        jumps = (out["mode"][:, self.seen.moment] == Mode.CHATTERS) & self.swings[None, :, None]
        loose = np.where(jumps, JUMPS, 1.0)
        wide = np.where(far < 0, less, sd) * loose
        return far / wide, wide, loose

    def scan(self, faults: Sequence[Fault], u: F, grid: F = GRID, *, near: bool = False) -> F:
        """The scores with the cadence of each moment at the best of a grid, about what was read or `near` where it is."""
        h, p = len(faults), self.p
        now = u[:, p + 2 + self.g :, None]
        lam = np.tile(grid, (h, self.n, 1)) / self.lam_sd[None, :, None] + (now if near else 0.0)
        for k, fault in enumerate(faults):
            if fault.stray != 1.0 and fault.only and not near:
                lam[k, list(fault.only)] -= np.log(fault.stray) / self.lam_sd[list(fault.only)][:, None]
        lam = np.concatenate((now, lam), axis=2)
        warm, score = (np.repeat(u[:, k, None], lam.shape[2], axis=1) for k in (p, p + 1))
        out = self.outs(faults, u[:, :p], warm, score, lam, tilted=False)
        r, _wide, loose = self._off(out, self._picked(out))
        loss = _loss(r, self.seen.tail[None, :, None]) + np.log(loose)
        total = 0.5 * lam**2
        for k, m in enumerate(self.seen.moment):
            total[:, m] += loss[:, k]
        best = np.argmin(total, axis=2)
        found = np.take_along_axis(lam, best[..., None], axis=2)[..., 0]
        return np.concatenate((u[:, : p + 2 + self.g], found), axis=1)

    def state(self, faults: Sequence[Fault], u: F) -> _State:
        """Cost, residuals and slopes at some scores."""
        p, g, seen = self.p, self.g, self.seen
        h, wide = u.shape[0], p + 4
        z, warm, score = u[:, :p], u[:, p], u[:, p + 1]
        gains, lam = u[:, p + 2 : p + 2 + g], u[:, p + 2 + g :]
        warms, scores, lams = (np.repeat(a[..., None], wide, axis=-1) for a in (warm, score, lam))
        warms[:, p + 1] += STEP
        scores[:, p + 2] += STEP
        lams[:, :, p + 3] += STEP
        out = self.outs(faults, z, warms, scores, lams, tilted=True)
        shown = self._picked(out)
        gain = np.ones((h, seen.size))
        metered = seen.gain >= 0
        gain[:, metered] += gains[:, seen.gain[metered]] * seen.gains[seen.gain[metered]]
        shown = shown * gain[..., None]
        r, spread, loose = self._off(out, shown)
        r0 = r[..., 0]
        modes = out["mode"][:, seen.moment]
        same = modes[..., 1:] == modes[..., :1]  # across a jump there is no slope
        slope = np.where(same, shown[..., 1:] - shown[..., :1], 0.0) / STEP / spread[..., :1]
        j = np.zeros((h, seen.size, self.d))
        j[..., : p + 2] = slope[..., : p + 2]
        rows = np.arange(seen.size)
        j[:, rows, p + 2 + g + seen.moment] = slope[..., p + 2]
        at = rows[metered]
        j[:, at, p + 2 + seen.gain[metered]] = (
            shown[:, at, 0] / gain[:, at] * seen.gains[seen.gain[metered]] / spread[:, at, 0]
        )
        cost = (_loss(r0, seen.tail) + np.log(loose[..., 0])).sum(axis=1) + 0.5 * (u**2).sum(axis=1)
        cost = np.where(np.isfinite(cost), cost, np.inf)
        j = np.where(np.isfinite(j), j, 0.0)
        outs = {name: rows_[..., 0] for name, rows_ in out.items()}
        return _State(
            u=u, cost=cost, r=r0, j=j, outs=outs, slopes={n_: v[..., 1:] for n_, v in out.items()},
            loose=loose[..., 0],
        )  # fmt: skip

    def predicted(self, faults: Sequence[Fault], u: F, covariance: F) -> tuple[F, F]:
        """(hypotheses, readings): what is shown at some scores, and how closely their covariance fixes it."""
        return _shown(self.seen, self.state(faults, u), covariance)

    def climb(self, faults: Sequence[Fault], u: F) -> tuple[tuple[Fault, ...], _State]:
        """Damped steps from some scores; starts that fall far behind are left on the way."""
        faults, now = self._steps(tuple(faults), self.state(faults, self.scan(faults, u)), ROUNDS)
        again = self.state(faults, self.scan(faults, now.u))
        return self._steps(faults, _merged(now, again, again.cost < now.cost), AGAIN)

    def _steps(self, faults: tuple[Fault, ...], now: _State, rounds: int) -> tuple[tuple[Fault, ...], _State]:
        damp = np.full(now.u.shape[0], 1e-2)
        for turn in range(rounds):
            if turn == DROP_AFTER:
                keep = _worth(faults, now.cost)
                faults, now, damp = tuple(faults[k] for k in keep), _cut(now, keep), damp[keep]
            weight = _weight(now.r, self.seen.tail)
            a = _curvature(now.j, weight)
            b = np.matmul(now.j.transpose(0, 2, 1), (weight * now.r)[..., None]) + now.u[..., None]
            lift = np.diagonal(a, axis1=1, axis2=2) * damp[:, None]
            step = -np.linalg.solve(a + lift[:, :, None] * np.eye(self.d), b)[..., 0]
            step = np.clip(step, -LONGEST, LONGEST)
            u = now.u + step
            jumpy = np.flatnonzero((now.outs["mode"] == Mode.CHATTERS).any(axis=1))
            if jumpy.size:  # where a board lets go the cadence must follow at once
                u[jumpy] = self.scan([faults[k] for k in jumpy], u[jumpy], NEAR, near=True)
            then = self.state(faults, u)
            better = then.cost < now.cost
            gain = np.max(np.where(better, now.cost - then.cost, 0.0), initial=0.0)
            now = _merged(now, then, better)
            damp = np.where(better, np.maximum(damp / 4, 1e-6), np.minimum(damp * 6, 1e6))
            if gain < 1e-3 and damp.min() > 1e-2:
                break
        return faults, now


def searched(search: Search, faults: Sequence[Fault]) -> Found:
    """The most likely state of every fault, the best of its starts, with its evidence."""
    starts = [(fault, score) for fault in faults for score in fault.starts]
    many = tuple(fault for fault, _score in starts)
    u = np.zeros((len(many), search.d))
    u[:, : search.p] = search.first()
    u[:, search.p + 1] = [score for _fault, score in starts]
    left, state = search.climb(many, u)
    weight = _weight(state.r, search.seen.tail)
    a = _curvature(state.j, weight)
    evidence = -state.cost - 0.5 * np.linalg.slogdet(a)[1]
    best: dict[int, int] = {}
    for k, fault in enumerate(left):
        if id(fault) not in best or evidence[k] > evidence[best[id(fault)]]:
            best[id(fault)] = k
    keep = [best[id(fault)] for fault in faults if id(fault) in best]
    state = _cut(state, keep)
    covariance = np.asarray(np.linalg.inv(a[keep]), dtype=np.float64)
    shown, sd = _shown(search.seen, state, covariance)
    return Found(
        faults=tuple(left[k] for k in keep), inputs=search.p, u=state.u, cost=state.cost, evidence=evidence[keep],
        covariance=covariance, outs=state.outs, slopes=state.slopes, off=state.r, shown=shown, shown_sd=sd,
    )  # fmt: skip


def _shown(seen: Seen, state: _State, covariance: F) -> tuple[F, F]:
    """What is predicted for each reading, and its spread, the meter's own left out."""
    spread = np.where(state.r < 0, seen.less, seen.sd) * state.loose
    own = np.einsum("hrd,hde,hre->hr", state.j, covariance, state.j, optimize=True)
    return seen.value + state.r * spread, np.sqrt(np.maximum(own, 0.0)) * spread


def _curvature(j: F, weight: F) -> F:
    """Of the cost in the scores (hypotheses, unknowns, unknowns); the 1 on its diagonal is the prior."""
    return np.asarray(np.matmul((j * weight[..., None]).transpose(0, 2, 1), j) + np.eye(j.shape[2]))


def _lifted(tilt: F, log: NDArray[np.bool_]) -> F:
    return np.where(log, np.exp(np.where(log, tilt, 0.0)), tilt)


def _spread(row: F, tilt: F | None, log: bool, size: tuple[int, int, int]) -> F:
    """A row (hypotheses, moments) over the variants."""
    if tilt is None:
        return np.repeat(row[..., None], size[2], axis=2)
    return np.array(np.broadcast_to(row[..., None] * tilt if log else row[..., None] + tilt, size))


def _loss(r: F, tail: F) -> F:
    """Minus the logarithm of a reading's chance with long tails, 0 at its middle."""
    return np.asarray(0.5 * (tail + 1) * np.log1p(r**2 / tail))


def _weight(r: F, tail: F) -> F:
    return np.asarray((tail + 1) / (tail + r**2))


def _worth(faults: Sequence[Fault], cost: F) -> list[int]:
    """Starts still worth following: the best of each fault, and those not far behind it."""
    best: dict[int, float] = {}
    for fault, c in zip(faults, cost, strict=True):
        best[id(fault)] = min(best.get(id(fault), np.inf), float(c))
    least = min(best.values())
    return [
        k for k, (fault, c) in enumerate(zip(faults, cost, strict=True))
        if c == best[id(fault)] or (c <= best[id(fault)] + 3.0 and c <= least + DROP)
    ]  # fmt: skip


def _cut(state: _State, keep: Sequence[int]) -> _State:
    at = list(keep)
    return _State(
        u=state.u[at], cost=state.cost[at], r=state.r[at], j=state.j[at], loose=state.loose[at],
        outs={k: v[at] for k, v in state.outs.items()}, slopes={k: v[at] for k, v in state.slopes.items()},
    )  # fmt: skip


def _merged(now: _State, then: _State, better: NDArray[np.bool_]) -> _State:
    def pick(a: F, b: F) -> F:
        return np.where(better.reshape(-1, *([1] * (a.ndim - 1))), b, a)

    return _State(
        u=pick(now.u, then.u), cost=pick(now.cost, then.cost), r=pick(now.r, then.r), j=pick(now.j, then.j),
        loose=pick(now.loose, then.loose),
        outs={k: pick(v, then.outs[k]) for k, v in now.outs.items()},
        slopes={k: pick(v, then.slopes[k]) for k, v in now.slopes.items()},
    )  # fmt: skip
