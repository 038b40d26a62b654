"""What a fit is made of, and the residuals of a whole stack of guesses at once.

A reading gives one value y for some other values x read with it. Both carry a spread, so the true x is not known. It is
carried as a hidden unknown of each reading and eliminated on the spot: for each guess of the constants the x that fits
best is found by the linearised update x_hat = x + sd_x^2 * slope * r / sd^2, repeated until it stands still, with
r = y - f(x_hat) - slope*(x - x_hat) and sd^2 = sd_y^2 + (slope*sd_x)^2. At the fixed point r^2/sd^2 equals
(y - f(x_hat))^2/sd_y^2 + (x - x_hat)^2/sd_x^2 exactly, so this is orthogonal distance regression with as many unknowns
as there are constants, not one more for each reading. Plain effective variance is its first step, and is exact when the
model is a straight line in x.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Batch", "Data", "Gain", "Model", "Problem", "Unknown", "log_spread"]

F = NDArray[np.float64]
B = NDArray[np.bool_]
I64 = NDArray[np.int64]
Params = Mapping[str, F]
# model(p, *x): p gives each unknown as an array that broadcasts against the columns of x.
Model = Callable[..., F]

STEP = float(np.finfo(float).eps ** (1 / 3))  # of central differences, as a share
STEP_FINE = 1e-4  # of the four-point rule
X_STEP = 0.02  # of the spread of x, for the slope against x
X_ROUNDS = 8
FAR = 1e15


def log_spread(value: float, sd: float) -> float:
    """Spread of the logarithm of a quantity known as value +/- sd, as the rig's own draws take it."""
    return math.sqrt(math.log1p((sd / value) ** 2))


@dataclass(frozen=True, slots=True, kw_only=True)
class Unknown:
    """One constant to find. log: it is positive and is fitted as its logarithm, its prior then being log-normal.

    prior_mean, prior_sd: what is known before any reading (a nameplate); None: nothing.
    """

    name: str
    start: float
    low: float = -math.inf
    high: float = math.inf
    prior_mean: float | None = None
    prior_sd: float | None = None
    log: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """What one meter reads over what is true: 1 +/- sd, the same for all its readings, so it does not average down."""

    name: str
    sd: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Readings of one kind. y = model(p, *x), each value with its own standard deviation.

    gain, x_gain: name of the meter whose gain a value carries, one for all rows or one a row, "" for none.
    used: False where the reader has put a reading aside; it still gets a residual.
    """

    model: Model
    y: ArrayLike
    sd: ArrayLike
    x: Sequence[ArrayLike] = ()
    x_sd: Sequence[ArrayLike] = ()
    gain: str | Sequence[str] = ""
    x_gain: Sequence[str | Sequence[str]] = ()
    keys: Sequence[str] = ()
    used: ArrayLike | None = None
    name: str = ""


@dataclass(frozen=True, slots=True)
class _Block:
    """One batch as arrays; `cols` are the columns of x that carry a spread."""

    model: Model
    rows: slice
    x: tuple[F, ...]
    x_sd: tuple[F, ...]
    cols: tuple[int, ...]
    moves: dict[int, F]  # how far each of those is moved for its slope
    reach: dict[int, F]  # its spread, infinite where it has none
    gain: I64 | None  # which unknown is the gain of each row, -1 for none; None where no row has one
    x_gain: tuple[I64 | None, ...]


@dataclass(frozen=True, slots=True)
class Data:
    """The numbers that a bootstrap replaces: y (..., N), x by block and column, centres of the priors, row weights."""

    y: F
    x: tuple[tuple[F, ...], ...]
    centres: F
    weights: F

    def stacked(self) -> Data:
        """The same with an axis put in before the last, so that it meets a stack of guesses of each replicate."""
        return Data(
            self.y[..., None, :],
            tuple(tuple(c[..., None, :] for c in block) for block in self.x),
            self.centres[..., None, :],
            self.weights[..., None, :],
        )

    def part(self, rows: slice) -> Data:
        """Some of the replicates (first axis)."""
        return Data(
            self.y[rows],
            tuple(tuple(c[rows] if c.shape[0] > 1 else c for c in block) for block in self.x),
            self.centres[rows],
            self.weights[rows],
        )


class Problem:
    """Unknowns, gains and batches as arrays. Internally each unknown is u = log(p) or p; each gain is u = log(gain)."""

    def __init__(self, batches: Sequence[Batch], unknowns: Sequence[Unknown], gains: Sequence[Gain]) -> None:
        self.unknowns = tuple(unknowns)
        self.gains = tuple(gains)
        self.names = tuple(u.name for u in unknowns) + tuple(g.name for g in gains)
        self.p = len(self.names)
        self.n_unknowns = len(self.unknowns)
        self.log: B = np.array([u.log for u in unknowns] + [True] * len(gains), dtype=bool)
        self.low, self.high = self._bounds()
        self.start = self._start()
        self._lay_priors()
        self.scale = self.size_of(self.start)
        self._lay_rows(batches)

    # ---- laying out ----

    def _inner(self, k: int, value: float) -> float:
        if not self.log[k]:
            return value
        return math.log(value) if value > 0 else -math.inf

    def _bounds(self) -> tuple[F, F]:
        low = [self._inner(k, u.low) for k, u in enumerate(self.unknowns)] + [-0.7] * len(self.gains)
        high = [
            math.inf if math.isinf(u.high) else self._inner(k, u.high) for k, u in enumerate(self.unknowns)
        ]
        return np.array(low), np.array(high + [0.7] * len(self.gains))

    def _start(self) -> F:
        u = np.array([self._inner(k, x.start) for k, x in enumerate(self.unknowns)] + [0.0] * len(self.gains))
        width = np.where(np.isfinite(self.high - self.low), self.high - self.low, 1.0)
        room = np.minimum(1e-6 * np.maximum(1.0, np.abs(u)), 0.01 * width)
        start: F = np.clip(u, self.low + room, self.high - room)
        return start

    def _lay_priors(self) -> None:
        held: list[int] = []
        centre: list[float] = []
        spread: list[float] = []
        for k, u in enumerate(self.unknowns):
            if u.prior_mean is None or u.prior_sd is None or not u.prior_sd > 0:
                continue
            held.append(k)
            centre.append(self._inner(k, u.prior_mean))
            spread.append(log_spread(u.prior_mean, u.prior_sd) if u.log else u.prior_sd)
        for g, gain in enumerate(self.gains):
            held.append(self.n_unknowns + g)
            centre.append(0.0)
            spread.append(gain.sd)
        self.held: I64 = np.array(held, dtype=np.int64)
        self.prior_sd: F = np.array(spread, dtype=np.float64)
        self._centres: F = np.array(centre, dtype=np.float64)

    def _lay_rows(self, batches: Sequence[Batch]) -> None:
        index = {g.name: self.n_unknowns + k for k, g in enumerate(self.gains)}
        blocks: list[_Block] = []
        y: list[F] = []
        sd: list[F] = []
        used: list[B] = []
        keys: list[str] = []
        at = 0
        for b in batches:
            values = np.atleast_1d(np.asarray(b.y, dtype=np.float64))
            n = values.size
            x = tuple(_wide(c, n) for c in b.x)
            x_sd = tuple(_wide(c, n) for c in b.x_sd) if b.x_sd else tuple(np.zeros(n) for _ in x)
            x_gain = tuple(_indices(g, n, index) for g in b.x_gain) if b.x_gain else ()
            blocks.append(
                _Block(
                    b.model,
                    slice(at, at + n),
                    x,
                    x_sd,
                    tuple(k for k, s in enumerate(x_sd) if (s > 0).any()),
                    {k: X_STEP * np.where(s > 0, s, 1.0) for k, s in enumerate(x_sd) if (s > 0).any()},
                    {k: np.where(s > 0, s, np.inf) for k, s in enumerate(x_sd) if (s > 0).any()},
                    _indices(b.gain, n, index),
                    x_gain or (None,) * len(x),
                )
            )
            y.append(values)
            sd.append(np.maximum(np.abs(_wide(b.sd, n)), 1e-12 * np.maximum(np.abs(values), 1e-6)))
            used.append(np.ones(n, bool) if b.used is None else np.asarray(b.used, dtype=bool))
            keys += list(b.keys) or [f"{b.name or 'reading'} {k + 1}" for k in range(at, at + n)]
            at += n
        self.blocks = tuple(blocks)
        self.n = at
        self.sd = np.concatenate(sd) if sd else np.empty(0)
        self.used: B = np.concatenate(used) if used else np.empty(0, dtype=bool)
        self.keys = tuple(keys)
        self.block_names = tuple(b.name for b in batches)
        self.data = Data(
            np.concatenate(y) if y else np.empty(0),
            tuple(b.x for b in blocks),
            self._centres,
            self.used.astype(np.float64),
        )

    # ---- from inner to natural ----

    def natural(self, u: F) -> F:
        """Constants and gains from their inner values."""
        return np.where(self.log, np.exp(np.where(self.log, u, 0.0)), u)

    def params(self, u: F) -> dict[str, F]:
        """Each unknown by name, with an axis at the end for the rows."""
        p = self.natural(u)
        return {name: p[..., k, None] for k, name in enumerate(self.names)}

    # ---- residuals ----

    def fitted(self, u: F, data: Data | None = None) -> tuple[F, F, tuple[tuple[F, ...], ...]]:
        """(what each reading should show, its whole spread, the x that fit best) for guesses u of shape (..., p).

        What it should show is y - r, with r the residual against the line through the best x.
        """
        d = self.data if data is None else data
        p = self.params(u)
        lead = np.broadcast_shapes(u.shape[:-1], d.y.shape[:-1])
        value = np.empty((*lead, self.n))
        sd = np.empty((*lead, self.n))
        hats: list[tuple[F, ...]] = []
        for block, x in zip(self.blocks, d.x, strict=True):
            y = d.y[..., block.rows]
            value[..., block.rows], sd[..., block.rows], hat = self._block(block, p, u, y, x)
            hats.append(hat)
        return value, sd, tuple(hats)

    def read(self, block: _Block, u: F, x: Sequence[F]) -> F:
        """What the meters would show at guesses u when they show x for the rest, gains counted."""
        return _read(block, self.params(u), _gains(block, u), x)

    def _block(self, block: _Block, p: Params, u: F, y: F, x: tuple[F, ...]) -> tuple[F, F, tuple[F, ...]]:
        sd_y = self.sd[block.rows]
        gains = _gains(block, u)
        if not block.cols:
            value = _read(block, p, gains, x)
            return value, np.broadcast_to(sd_y, value.shape), x
        hat = x
        for turn in range(X_ROUNDS):
            value, slopes = _slopes(block, p, gains, u.ndim, hat)
            line, var = value, sd_y**2
            for k, s in slopes.items():
                line = line + s * (x[k] - hat[k]) if turn else line
                var = var + (s * block.x_sd[k]) ** 2
            pull = (y - line) / var
            new = list(x)
            for k, s in slopes.items():
                new[k] = x[k] + block.x_sd[k] ** 2 * s * pull
            if turn == 0:
                ahead = line + sum(s * (new[k] - x[k]) for k, s in slopes.items())
                gap = np.abs(_read(block, p, gains, new) - ahead)
                if bool(np.all(gap <= 1e-9 * np.sqrt(var))):  # straight in x: nothing left to find
                    return line, np.sqrt(var), tuple(new)
            moved = max(
                float(np.max(np.abs(new[k] - hat[k]) / block.reach[k], initial=0.0)) for k in block.cols
            )
            hat = tuple(new)
            if moved < 1e-9:
                break
        return line, np.sqrt(var), hat

    def plain(self, u: F, data: Data) -> F:
        """What each reading should show at x as read, without looking for the true x."""
        lead = np.broadcast_shapes(u.shape[:-1], data.y.shape[:-1])
        value = np.empty((*lead, self.n))
        for block, x in zip(self.blocks, data.x, strict=True):
            value[..., block.rows] = self.read(block, u, x)
        return value

    def residuals(self, u: F, data: Data | None = None, sd: F | None = None) -> F:
        """(..., N + priors): (y - f)/sd of each used reading (0 where left out), then how far each prior is strained.

        sd: a spread held fast, for the robust pass: where the spread of x is a share of x, a guess that is far too
        large would else excuse every reading by its own width.
        """
        d = self.data if data is None else data
        if sd is None:
            value, sd, _ = self.fitted(u, d)
        else:
            value = self.plain(u, d)
        rows = (d.y - value) / sd * np.sqrt(d.weights)
        priors = (u[..., self.held] - d.centres) / self.prior_sd
        return np.concatenate((rows, np.broadcast_to(priors, (*rows.shape[:-1], self.held.size))), axis=-1)

    def size_of(self, u: F) -> F:
        """What counts as a large move of each inner unknown: itself, its start or its prior; 1 for a logarithm."""
        prior = np.zeros(self.p)
        prior[self.held] = self.prior_sd
        size: F = np.where(self.log, 1.0, np.maximum(np.maximum(np.abs(u), np.abs(self.start)), prior))
        return np.where(size > 0, size, 1.0)

    def steps(self, u: F, share: float) -> F:
        """Step of each inner unknown for a difference."""
        floor = np.where(self.log, 1.0, 1e-3 * self.scale)
        return share * np.maximum(np.abs(u), floor)

    def jacobian(self, u: F, data: Data | None = None, sd: F | None = None, *, fine: bool = False) -> F:
        """(..., N + priors, p) by differences, all guesses in one call of each model. fine: the four-point rule."""
        h = self.steps(u, STEP_FINE if fine else STEP)
        offsets = (1.0, -1.0, 2.0, -2.0) if fine else (1.0, -1.0)
        eye = np.eye(self.p)
        moves = np.concatenate([o * eye for o in offsets])  # (k p, p)
        guesses = u[..., None, :] + moves * h[..., None, :]
        d = self.data.stacked() if data is None else data.stacked()
        r = self.residuals(guesses, d, sd)
        r = r.reshape(*r.shape[:-2], len(offsets), self.p, r.shape[-1])
        if fine:
            slope = (8 * (r[..., 0, :, :] - r[..., 1, :, :]) - (r[..., 2, :, :] - r[..., 3, :, :])) / 12
        else:
            slope = (r[..., 0, :, :] - r[..., 1, :, :]) / 2
        return np.swapaxes(slope / h[..., :, None], -1, -2)


Gains = tuple[F | None, tuple[F | None, ...]]


def _gains(block: _Block, u: F) -> Gains:
    """Gain of y and of each column of x for guesses u."""
    return _gain(u, block.gain), tuple(_gain(u, k) for k in block.x_gain)


def _read(block: _Block, p: Params, gains: Gains, x: Sequence[F]) -> F:
    """What the meters would show when they show x for the rest."""
    own, each = gains
    value = np.asarray(block.model(p, *(c if g is None else c / g for c, g in zip(x, each, strict=True))))
    if not np.isfinite(value).all():  # a guess so far off that the model has no number there
        value = np.nan_to_num(value, nan=FAR, posinf=FAR, neginf=-FAR)
    return value if own is None else value * own


def _slopes(block: _Block, p: Params, gains: Gains, depth: int, hat: tuple[F, ...]) -> tuple[F, dict[int, F]]:
    """Value and slope against each column that carries a spread, all from one call of the model."""
    depth = max(depth, *(c.ndim for c in hat))
    shift = np.zeros((1 + 2 * len(block.cols),) + (1,) * depth)
    columns = []
    for k, c in enumerate(hat):
        wide = c.reshape((1,) * (1 + depth - c.ndim) + c.shape)
        if k in block.moves:
            n = block.cols.index(k)
            sign = shift.copy()
            sign[2 * n + 1], sign[2 * n + 2] = 1.0, -1.0
            wide = wide + sign * block.moves[k]
        columns.append(wide)
    read = np.broadcast_to(_read(block, p, gains, columns), (shift.shape[0], *_shape(p, hat)))
    slopes = {k: (read[2 * n + 1] - read[2 * n + 2]) / (2 * block.moves[k]) for n, k in enumerate(block.cols)}
    return read[0], slopes


def _shape(p: Params, hat: tuple[F, ...]) -> tuple[int, ...]:
    some = next(iter(p.values())).shape if p else ()
    return np.broadcast_shapes(some, *(c.shape for c in hat))


def _wide(values: ArrayLike, n: int) -> F:
    return np.array(np.broadcast_to(np.asarray(values, dtype=np.float64), (n,)))


def _indices(gain: str | Sequence[str], n: int, index: Mapping[str, int]) -> I64 | None:
    names = [gain] * n if isinstance(gain, str) else list(gain)
    which = np.array([index.get(name, -1) if name else -1 for name in names], dtype=np.int64)
    return which if (which >= 0).any() else None


def _gain(u: F, which: I64 | None) -> F | None:
    """Gain of each row for guesses u, None where no row has one."""
    if which is None:
        return None
    return np.where(which >= 0, np.exp(u[..., which]), 1.0)
