"""Ticks in a recording: where something strikes, and which of those strikes follow one another like the turns of a shaft.

Two steps. The envelope rises wherever the sound of many pitches grows at once, so a steady hum leaves nothing in it.
Then the chain: of all its peaks, the sequence with the most strength whose gaps change slowly. A gap may hold a missed
tick, peaks between are passed over, and a recording may hold several chains (the drill stopped and ran again).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

__all__ = ["Chain", "Envelope", "chains", "envelope"]

F = NDArray[np.float64]
N = NDArray[np.int64]

STEP = 0.0005  # s between two values of the envelope
WINDOW = 0.0025  # s of sound that one value looks at
BANDS = 20
LOWEST_BAND = 200.0  # Hz; below this motors rumble
SMOOTH = 0.0008  # s

FAINT = 3.5  # peaks below so many spreads of the quiet half are not looked at
STRONG = 14.0  # and above so many all count alike
COST_OF_GAP = 0.85  # of taking a gap for one with a missed tick, in rewards of a usual tick: loud ones are seldom missed
COST_OF_START = 8.0
SLACK = (
    0.06,
    0.09,
)  # spread of the ratio of one gap to the one before: with one flag, with several stuck on by eye
JITTER = 0.0006  # s, spread of one gap besides
PREDECESSORS = 40
FEWEST = 8  # ticks that make a chain
MOST_STRAY = 6  # knocks that may be taken off either end of a chain
TOO_LOOSE = 1.7
TURNS_AROUND = 3  # turns over which the usual gap is taken
SLIP, SLIP_WINDOW = 0.15, 5  # leap of the logarithm of the usual gap, and the gaps that make it usual
TO_SPREAD = 1.4826  # median of absolute differences to standard deviation
BEND = 0.12  # change of the change of the logarithm of a gap that a run-down does not make


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelope:
    """How much is struck at each moment. rate: values in a second; start: time of the first, s."""

    rate: float
    start: float
    value: F


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """Ticks that follow one another. time: s; count: number of each, counted on over missed ones; strength: of each."""

    time: F
    count: N
    strength: F

    @property
    def gap(self) -> float:
        """Usual time from tick to tick."""
        return float(np.median(np.diff(self.time) / np.diff(self.count)))


def envelope(sound: F, rate: float) -> Envelope:
    """The onset envelope: growth of the loudness in each band of pitch, on a scale of the band's own usual loudness."""
    hop = max(1, round(rate * STEP))
    width = 1 << max(5, math.ceil(math.log2(rate * WINDOW)))
    loud = _loudness(sound.astype(np.float32), rate, hop, width)
    usual = np.median(loud, axis=0)
    floor = 1e-6 * float(np.max(loud)) + 1e-30
    level = np.log1p(loud / np.maximum(usual, floor))
    lag = max(1, round(0.5 * width / hop))
    rise = np.maximum(level[lag:] - level[:-lag], 0.0).sum(axis=1)
    smooth = _bump(SMOOTH * rate / hop)
    value = np.convolve(rise, smooth, mode="same")
    return Envelope(rate=rate / hop, start=(0.5 * width + 0.5 * lag * hop) / rate, value=value)


def _loudness(sound: NDArray[np.float32], rate: float, hop: int, width: int) -> F:
    """Power in each band (columns) at each step (rows)."""
    frames = sliding_window_view(sound, width)[::hop]
    shape = np.hanning(width).astype(np.float32)
    pitch = np.fft.rfftfreq(width, 1.0 / rate)
    low = int(np.searchsorted(pitch, LOWEST_BAND))
    edges = np.unique(np.geomspace(max(low, 1), pitch.size, BANDS + 1).round().astype(int))
    parts = []
    for k in range(0, frames.shape[0], 16384):
        spectrum = np.fft.rfft(frames[k : k + 16384] * shape, axis=1)
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float64)
        parts.append(np.add.reduceat(power, edges[:-1], axis=1) / np.diff(edges))
    return np.concatenate(parts)


def _bump(width: float) -> F:
    reach = max(1, math.ceil(3 * width))
    x = np.arange(-reach, reach + 1) / width
    bump = np.exp(-0.5 * x * x)
    return np.asarray(bump / bump.sum())


def chains(env: Envelope, shortest: float, longest: float, marks: int = 1) -> tuple[Chain, ...]:
    """Chains of ticks whose gaps lie between two times, in order of time, those that look like chance left out.

    marks: after how many ticks the pattern may repeat (flags stuck on by eye are not evenly spread).
    """
    time, strength = _peaks(env, shortest)
    if time.size < FEWEST:
        return ()
    found = []
    slack = SLACK[min(marks, 2) - 1]
    for whole, number in _linked(time, strength, shortest, longest, slack):
        for first, last in _unslipped(time[whole], number, marks):
            picked, count = whole[first:last], number[first:last]
            a, b = _ends(time[picked], count, marks)
            if b - a < FEWEST:
                continue
            part = picked[a:b]
            number_of, kept = _recounted(time[part], count[a:b], marks)
            part = part[kept]
            if part.size < FEWEST:
                continue
            chain = Chain(time=time[part], count=number_of, strength=strength[part])
            if _chance(chain, time, strength, marks) < TOO_LOOSE:
                found.append(chain)
    return tuple(found)


def _unslipped(time: F, count: N, marks: int) -> list[tuple[int, int]]:
    """Stretches of a chain between places where its gap leaps, as from every tick to every second one.

    Gaps over a whole turn of marks, so that uneven flags do not count; a run-down's own trend is taken off the leap.
    """
    m, w = marks, SLIP_WINDOW
    if time.size < m + 2 * w:
        return [(0, time.size)]
    turn = np.log((time[m:] - time[:-m]) / (count[m:] - count[:-m]))
    windows = sliding_window_view(turn, w)
    calm = np.median(windows, axis=1)
    trend = (windows[:, -2:].mean(axis=1) - windows[:, :2].mean(axis=1)) / (w - 2)
    leap = np.abs(calm[w:] - calm[:-w] - 0.5 * w * (trend[w:] + trend[:-w]))
    edges = [0]
    for k in np.flatnonzero(leap > SLIP).tolist():
        near = leap[max(0, k - w) : k + w + 1]
        at = k + w + m // 2
        if leap[k] == near.max() and at > edges[-1] and at < time.size:
            edges.append(at)
    return list(itertools.pairwise([*edges, time.size]))


def _ends(time: F, count: N, marks: int) -> tuple[int, int]:
    """Where the chain begins and ends once stray knocks at its ends are off: gaps there must bend like the next ones."""
    log_gap = np.log(np.diff(time) / np.diff(count))
    a, b, m = 0, time.size, marks
    while b - a > 2 * m + FEWEST and a < MOST_STRAY:
        if abs(log_gap[a] - 2 * log_gap[a + m] + log_gap[a + 2 * m]) <= BEND:
            break
        a += 1
    while b - a > 2 * m + FEWEST and time.size - b < MOST_STRAY:
        if abs(log_gap[b - 2] - 2 * log_gap[b - 2 - m] + log_gap[b - 2 - 2 * m]) <= BEND:
            break
        b -= 1
    return a, b


def _recounted(time: F, count: N, marks: int) -> tuple[N, NDArray[np.bool_]]:
    """The counts again, each gap against the usual gap of some turns around it; ticks too close to the last are dropped."""
    every = np.interp(np.arange(count[0], count[-1] + 1), count, time)
    turns = min(TURNS_AROUND * marks, every.size - 1)
    usual = (every[turns:] - every[:-turns]) / turns
    middle = 0.5 * (every[turns:] + every[:-turns])
    number, kept, last = [0], [0], 0
    for k in range(1, time.size):
        gap = float(time[k] - time[last])
        step = round(gap / float(np.interp(0.5 * (time[k] + time[last]), middle, usual)))
        if step < 1:
            continue
        number.append(number[-1] + step)
        kept.append(k)
        last = k
    mask = np.zeros(time.size, dtype=bool)
    mask[kept] = True
    return np.array(number, dtype=np.int64), mask


def _chance(chain: Chain, time: F, strength: F, marks: int) -> float:
    """How much a chain looks like one that could be picked out of any clicking: 0 a clockwork, 2 and more chance.

    Four signs in sum: gaps that waver, ticks that are missed, knocks as loud that it passes over, and few ticks.
    """
    every = np.interp(np.arange(chain.count[-1] + 1), chain.count, chain.time)
    m = min(marks, max(1, every.size // 4))
    turn = np.log(every[m:] - every[:-m])
    bend = turn[m:] - turn[:-m]
    wavers = TO_SPREAD * float(np.median(np.abs(bend - np.median(bend)))) if bend.size else 1.0
    missed = 1.0 - chain.time.size / (chain.count[-1] + 1)
    loud = strength >= 0.5 * float(np.median(chain.strength))
    within = loud & (time >= chain.time[0]) & (time <= chain.time[-1])
    passed = 1.0 - min(1.0, chain.time.size / max(int(np.sum(within)), 1))
    return float(wavers / (0.03 + 0.0003 / chain.gap) + missed / 0.25 + passed + 6.0 / chain.time.size)


def _peaks(env: Envelope, shortest: float) -> tuple[F, F]:
    """Times and strengths of the peaks: strength counts in spreads of the quiet half, above the middle."""
    v = env.value
    top = np.flatnonzero((v[1:-1] > v[:-2]) & (v[1:-1] >= v[2:])) + 1
    if top.size == 0:
        return np.zeros(0), np.zeros(0)
    usual = float(np.median(v))
    quiet = v[v < usual]
    spread = 1.4826 * float(np.median(usual - quiet)) + 1e-3 * float(np.max(v) - usual)
    strength = (v[top] - usual) / spread
    top, strength = top[strength > FAINT], strength[strength > FAINT]
    top, strength = _apart(top, strength, 0.4 * shortest * env.rate)
    # A parabola through three points places the peak between the steps.
    left, mid, right = v[top - 1], v[top], v[top + 1]
    shift = 0.5 * (left - right) / np.minimum(left - 2 * mid + right, -1e-12)
    return env.start + (top + shift) / env.rate, strength


def _apart(top: N, strength: F, distance: float) -> tuple[N, F]:
    """The stronger of peaks nearer than a distance."""
    kept = np.ones(top.size, dtype=bool)
    for k in np.argsort(-strength, kind="stable").tolist():
        if not kept[k]:
            continue
        low, high = np.searchsorted(top, (top[k] - distance, top[k] + distance), side="right")
        kept[low:high] = False
        kept[k] = True
    return top[kept], strength[kept]


def _linked(time: F, strength: F, shortest: float, longest: float, slack: float) -> list[tuple[N, N]]:
    """The best chains, going through the peaks once: score[k, s] is the best that ends with the gap from peak k-1-s to k.

    A chain may be broken off and another begun, at a cost.
    """
    n, reach = time.size, min(PREDECESSORS, time.size - 1)
    low, high = math.log(shortest), math.log(longest)
    reward = np.minimum(strength, STRONG) - FAINT
    usual = float(np.percentile(reward, 80))
    score = np.full((n, reach), -np.inf)
    gap = np.full((n, reach), np.inf)  # log of the time from tick to tick
    before = np.full(
        (n, reach, 2), -1, dtype=np.int64
    )  # slot of the gap before (-1: begun here), missed ticks
    best_end = np.zeros(n + 1)  # best of all that ends before peak k, nothing at all being 0
    missed = np.log(np.arange(1, 4))
    toll = COST_OF_GAP * usual * np.arange(3)[:, None]
    for k in range(1, n):
        slots = min(reach, k)
        back = k - 1 - np.arange(slots)
        whole = np.log(time[k] - time[back])
        fresh = np.where(
            (whole >= low) & (whole <= high), best_end[back] - COST_OF_START * usual + reward[back], -np.inf
        )
        options = whole[:, None, None] - missed[:, None]
        off = options - gap[back][:, None, :]
        cost = 0.5 * off * off / (slack**2 + (JITTER / np.exp(options)) ** 2) + toll
        total = np.where((options >= low) & (options <= high), score[back][:, None, :] - cost, -np.inf)
        total = total.reshape(slots, -1)
        choice = np.argmax(total, axis=1)
        best = total[np.arange(slots), choice]
        q, at = np.divmod(choice, reach)
        goes_on = best > fresh
        score[k, :slots] = np.maximum(best, fresh) + reward[k]
        gap[k, :slots] = whole - np.where(goes_on, missed[q], 0.0)
        before[k, :slots, 0] = np.where(goes_on, at, -1)
        before[k, :slots, 1] = np.where(goes_on, q, 0)
        best_end[k + 1] = max(best_end[k], float(np.max(score[k, :slots])))
    return _traced(score, before, best_end)


def _traced(score: F, before: N, best_end: F) -> list[tuple[N, N]]:
    """The peaks of each chain and their counts, from the last chain to the first and turned round."""
    found: list[tuple[N, N]] = []
    k = score.shape[0] - 1
    while k > 0:
        if best_end[k + 1] <= best_end[k]:
            k -= 1
            continue
        slot = int(np.argmax(score[k]))
        picked, skipped = [k], []
        while True:
            j = k - 1 - slot
            earlier, missed = before[k, slot]
            picked.append(j)
            skipped.append(int(missed) + 1)
            k = j
            if earlier < 0:
                break
            slot = int(earlier)
        order = np.array(picked[::-1], dtype=np.int64)
        found.append((order, np.concatenate(([0], np.cumsum(skipped[::-1]))).astype(np.int64)))
        k -= 1
    return found[::-1]
