"""Turn a measured constant into a column of draws: a seeded low-discrepancy sample, one dimension an input."""

from __future__ import annotations

import dataclasses

import numpy as np
from numpy.typing import NDArray

from sparewatt.parts import Measured
from sparewatt.parts.values import Spec

__all__ = ["Draws", "normal_scores"]

F = NDArray[np.float64]
MAX_INPUTS = 96


def normal_scores(draws: int, inputs: int, seed: int) -> F:
    """Standard normal scores of shape (inputs, draws) from a scrambled Sobol sequence.

    Source: Sobol points by scipy.stats.qmc; inverse normal by scipy.special.ndtri.
    """
    from scipy.special import ndtri
    from scipy.stats import qmc

    power = max(1, int(np.ceil(np.log2(max(draws, 2)))))
    unit = qmc.Sobol(inputs, scramble=True, rng=np.random.default_rng(seed)).random_base2(power)[:draws]
    return np.asarray(ndtri(np.clip(unit, 1e-6, 1 - 1e-6)).T)


@dataclasses.dataclass(slots=True)
class Draws:
    """Hands out one column (nominal first, then draws) per constant and remembers which score drove it.

    Constants that must be positive are drawn log-normal, shares below one with their complement log-normal, all else
    normal. The same key always gets the same scores.
    """

    draws: int
    seed: int
    scores: dict[str, F] = dataclasses.field(default_factory=dict)
    hows: dict[str, str] = dataclasses.field(default_factory=dict)
    _table: F | None = None
    _order: list[str] = dataclasses.field(default_factory=list)

    def column(self, key: str, known: Measured | None, spec: Spec | None = None, default: float = 0.0) -> F:
        """(draws + 1,) values of one constant; column 0 is its value."""
        value = default if known is None else known.value
        sd = 0.0 if known is None else known.sd
        if known is None or sd <= 0 or self.draws == 0:
            return np.full(self.draws + 1, value)
        z = self._score(key)
        self.hows[key] = known.how
        low = 0.0 if spec is None else spec.low
        share = spec is not None and spec.unit == "1" and spec.high == 1
        if share and 0 < value < 1:
            spread = np.sqrt(np.log1p((sd / (1 - value)) ** 2))
            drawn = np.maximum(1 - (1 - value) * np.exp(spread * z), 1e-3)
        elif low is not None and low >= 0 and value > 0:
            drawn = value * np.exp(np.sqrt(np.log1p((sd / value) ** 2)) * z)
        else:
            drawn = value + sd * z
        return np.concatenate(([value], drawn))

    def _score(self, key: str) -> F:
        if key not in self.scores:
            if self._table is None:
                self._table = normal_scores_cached(self.draws, self.seed)
            row = len(self.scores)
            self.scores[key] = self._table[row % MAX_INPUTS]
        return self.scores[key]


_CACHE: dict[tuple[int, int], F] = {}


def normal_scores_cached(draws: int, seed: int) -> F:
    """`normal_scores` for MAX_INPUTS inputs, kept for the next question (the page asks many times a minute)."""
    key = (draws, seed)
    if key not in _CACHE:
        if len(_CACHE) > 8:
            _CACHE.clear()
        _CACHE[key] = normal_scores(draws, MAX_INPUTS, seed)
    return _CACHE[key]
