"""Turns of a shaft from chains of ticks: how many ticks make a turn, and pieces of a recording brought to one octave."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.studies.phone import sound_octave, sound_ticks
from sparewatt.studies.phone.film import Passes
from sparewatt.studies.phone.speed_fit import even_out, local_rates

__all__ = ["JOIN", "SAME", "Piece", "joined", "piece_of"]

F = NDArray[np.float64]

STRETCH = 0.25  # s of ticks that make one speed, where there are enough of them
LEAST_TICKS, MOST_TICKS = 5, 30  # in one speed
STRETCHES = 8  # that a short run is at least cut into
JUMPS = 0.08  # share by which a speed may be off the line between its neighbours
ENOUGH = 0.7  # share of a piece's speeds that must be left
JOIN = 1.5  # s between pieces that may be one run
SAME = 0.15  # difference of the logarithms of their speeds where they join
CELLS = 64  # into which a beat is cut to count the knocks in it
FIRM, PERHAPS = 0.5, 0.2  # height over the highest of a knock that is one, and of one that may be


@dataclass(frozen=True, slots=True)
class Piece:
    """Turns in a second along one chain, and factors by which they may be off."""

    time: F
    rate: F
    sd: F
    passes: Passes
    other: tuple[float, ...]

    @property
    def ticks(self) -> int:
        """How many ticks it rests on."""
        return self.passes.time.size

    def times(self, factor: float) -> Piece:
        """The same, so many times as fast."""
        passes = dataclasses.replace(self.passes, turns=self.passes.turns * factor)
        return dataclasses.replace(self, rate=self.rate * factor, sd=self.sd * factor, passes=passes)


def piece_of(env: sound_ticks.Envelope, chain: sound_ticks.Chain, marks: int) -> Piece:
    """Turns in a second along a chain of ticks; empty where they follow no smooth speed."""
    turn, other = _turns_per_tick(env, chain, marks)
    count = even_out(chain.time, chain.count, marks)
    size = min(STRETCH / chain.gap, chain.time.size / STRETCHES)
    rates = local_rates(chain.time, count, size=round(min(max(size, LEAST_TICKS), MOST_TICKS)))
    smooth = _smooth(rates.time, rates.rate)
    if smooth.sum() < ENOUGH * rates.rate.size:
        smooth[:] = False
    fits = (rates.stretch >= 0) & np.append(smooth, False)[rates.stretch]
    turns = (count[fits] - count[fits][0]) * turn if fits.any() else count[fits]
    passes = Passes(time=chain.time[fits], turns=turns, timing=rates.jitter, marks=marks)
    return Piece(rates.time[smooth], rates.rate[smooth] * turn, rates.sd[smooth] * turn, passes, other)


def _smooth(time: F, rate: F) -> NDArray[np.bool_]:
    """Which rates lie on a straight line between their neighbours; the one furthest off goes first."""
    kept = np.arange(rate.size)
    while kept.size >= 3:
        t, f = time[kept], rate[kept]
        share = (t[1:-1] - t[:-2]) / (t[2:] - t[:-2])
        off = np.abs(f[1:-1] - f[:-2] - share * (f[2:] - f[:-2])) / f[1:-1]
        worst = int(np.argmax(off))
        if off[worst] < JUMPS:
            break
        kept = np.delete(kept, worst + 1)
    mask = np.zeros(rate.size, dtype=bool)
    mask[kept] = True
    return mask


def joined(pieces: list[Piece], marks: int) -> tuple[list[Piece], tuple[float, ...]]:
    """The pieces with their octaves made to fit where they join, from the longest settled one outwards.

    An unsettled piece that joins nothing is dropped.
    """
    anchor = max(range(len(pieces)), key=lambda k: pieces[k].ticks * (0.25 if pieces[k].other else 1.0))
    kept = {anchor: pieces[anchor]}
    steps = {1.0, 0.5, 2.0, 1 / 3, 3.0, float(marks), 1.0 / marks}
    for way in (1, -1):
        last = anchor
        k = anchor + way
        while 0 <= k < len(pieces):
            own, beside = pieces[k], kept[last]
            near, far = (0, -1) if way > 0 else (-1, 0)
            apart = abs(float(own.time[near] - beside.time[far]))
            miss = math.log(float(own.rate[near] / beside.rate[far]))
            step = min(steps, key=lambda x: abs(miss + math.log(x)))
            joins = apart < JOIN and abs(miss + math.log(step)) < SAME
            if joins:
                kept[k] = own.times(step)
            elif not own.other:
                kept[k] = own
            if k in kept:
                last = k
            k += way
    return [kept[k] for k in sorted(kept)], pieces[anchor].other


def _turns_per_tick(
    env: sound_ticks.Envelope, chain: sound_ticks.Chain, marks: int
) -> tuple[float, tuple[float, ...]]:
    """Turns of the shaft for each tick of the chain, and factors by which that may be off."""
    at = env.start + np.arange(env.value.size) / env.rate
    inside = (at >= chain.time[0] - 0.5 * chain.gap) & (at <= chain.time[-1] + 0.5 * chain.gap)
    count = np.interp(at[inside], chain.time, chain.count)
    power, ground = sound_octave.orders_of_ticks(env.value[inside], count)
    beat = sound_octave.beat(power, ground=ground, single=False, expected=marks)
    if marks == 1:
        return beat.factor, beat.other
    # A chain may hold every flag, or one of two, or one a turn: the knocks in its mean beat say which.
    mean = _mean_beat(env.value[inside], count * beat.factor)
    firm, perhaps = (_knocks(mean, share) for share in (FIRM, PERHAPS))
    options = [k for k in range(1, marks + 1) if marks % k == 0 and firm <= k <= perhaps] or [1]
    others = {k / options[0] for k in options[1:]} if firm in options else {float(marks)}
    return beat.factor * options[0] / marks, tuple(sorted({*beat.other, *others}))


def _mean_beat(value: F, count: F) -> F:
    """The mean sound of one beat, in cells."""
    cell = np.floor((count % 1.0) * CELLS).astype(int) % CELLS
    heard = np.bincount(cell, minlength=CELLS)
    mean = np.bincount(cell, weights=value, minlength=CELLS) / np.maximum(heard, 1)
    return np.convolve(np.concatenate((mean[-2:], mean, mean[:2])), np.ones(3) / 3, mode="same")[2:-2]


def _knocks(mean: F, share: float) -> int:
    """How many knocks of the mean beat stand out by a share of the loudest."""
    level = float(np.median(mean))
    high = mean - level > share * (float(mean.max()) - level)
    tops = np.flatnonzero((mean > np.roll(mean, 1)) & (mean >= np.roll(mean, -1)) & high)
    near = np.diff(np.concatenate((tops, tops[:1] + CELLS))) < 5
    return max(1, int(tops.size - near.sum()))
