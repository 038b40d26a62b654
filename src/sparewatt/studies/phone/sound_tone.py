"""The tone of teeth, commutator bars or poles in a recording: its pitch against time.

Each moment's spectrum is laid against a comb of whole multiples: what stands on the comb's teeth counts for a pitch, what
stands half-way between counts against it. Of the pitches at each moment the path with the most comb and the least jumping
is taken, then each pitch is read between the steps of the spectrum from all its lines together.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

__all__ = ["Tone", "hear"]

F = NDArray[np.float64]
N = NDArray[np.int64]

PERIODS = 12.0  # of the lowest pitch of an octave that a stretch of sound must hold
SHORTEST, LONGEST = 0.08, 1.0  # s of sound in one stretch
STEP = 0.04  # s between two looks
PER_OCTAVE = 48
COMB = 6
TALLEST = 6.0  # height of a line counts on a logarithm, up to this
HEARD = 4.0  # comb that a pitch must have to count as heard
LEAP = 0.15  # change of the logarithm of pitch between two looks that ends a run
LEAST_RUN = 0.4  # s
BLURRED = 0.15  # share of itself by which a pitch may change within one stretch
MOST_LOOKS = 1500
JUMP = 0.02  # spread of the change of pitch between two looks, as a share
PAD = 4  # zeros added to a stretch, so that a peak falls between close steps
FEWEST = 5  # pitches that make a run


@dataclass(frozen=True, slots=True, kw_only=True)
class Tone:
    """Pitch against time, stretches far enough apart to be independent.

    time: s; pitch: Hz; sd: Hz. longest: the part of them that is the longest run without a break.
    """

    time: F
    pitch: F
    sd: F
    longest: slice


@dataclass(frozen=True, slots=True, kw_only=True)
class _Looks:
    """Spectra of one octave of pitches: power over the ground, a row for each of its moments."""

    span: float  # s of sound in a stretch
    bin: float  # Hz
    power: NDArray[np.float32]
    row: N  # which row stands for each moment of the whole


def hear(sound: F, rate: float, low: float, high: float) -> Tone | None:
    """The tone between two pitches; None where nothing on a comb is heard for long enough."""
    step = max(STEP, sound.size / rate / MOST_LOOKS)
    moments = np.arange(0.5 * SHORTEST, sound.size / rate - 0.5 * SHORTEST, step)
    octaves = max(1, math.ceil(math.log2(high / low)))
    grid = np.geomspace(low, high, max(2, round(PER_OCTAVE * math.log2(high / low))))
    which = np.minimum(np.log2(grid / low).astype(int), octaves - 1)
    score = np.empty((moments.size, grid.size))
    looks = []
    for k in range(octaves):
        bottom, top = low * 2**k, min(low * 2 ** (k + 1), high)
        look = _look(*_thinned(sound, rate, top), moments, min(max(PERIODS / bottom, SHORTEST), LONGEST))
        columns = np.flatnonzero(which == k)
        score[:, columns] = _combed(look, grid[columns])[look.row]
        looks.append(look)
    path = _path(score)
    heard = score[np.arange(moments.size), path]
    runs = _runs(grid[path], heard, step)
    return _read(looks, which, grid, moments, path, runs) if runs else None


def _thinned(sound: F, rate: float, high: float) -> tuple[F, float]:
    """The sound with fewer samples, as many as the comb of the highest pitch needs."""
    factor = int(rate / (2.6 * (COMB + 0.5) * high))
    if factor < 2:
        return sound, rate
    from scipy.signal import firwin, oaconvolve

    taps = firwin(16 * factor + 1, 0.85 / factor)
    return oaconvolve(sound, taps, mode="same")[::factor], rate / factor


def _look(sound: F, rate: float, moments: F, span: float) -> _Looks:
    width = min(round(span * rate), sound.size)
    size = 1 << math.ceil(math.log2(PAD * width))
    own = np.arange(moments[0], moments[-1] + 1e-9, max(span / 6, moments[1] - moments[0]))
    begins = np.clip((own * rate - 0.5 * width).round().astype(int), 0, sound.size - width)
    shape = np.hanning(width)
    frames = sliding_window_view(sound, width)[begins]
    rows = []
    for k in range(0, len(begins), 256):
        spectrum = np.fft.rfft(frames[k : k + 256] * shape, n=size, axis=1)
        power = (spectrum.real**2 + spectrum.imag**2).astype(np.float32)
        rows.append(power / _ground(power, size // width))
    row = np.clip(np.round((moments - own[0]) / (own[1] - own[0])).astype(int), 0, own.size - 1)
    return _Looks(span=width / rate, bin=rate / size, power=np.concatenate(rows), row=row)


def _ground(power: NDArray[np.float32], fine: int) -> NDArray[np.float32]:
    """The usual power around each pitch: the median of stretches that widen with pitch, joined by straight lines."""
    n = power.shape[1]
    edges = [0]
    while edges[-1] < n:
        edges.append(min(n, edges[-1] + max(24 * fine, round(0.35 * edges[-1]))))
    if len(edges) > 2 and edges[-1] - edges[-2] < 12 * fine:
        edges.pop(-2)
    mids = [0.5 * (a + b) for a, b in itertools.pairwise(edges)]
    medians = np.stack([np.median(power[:, a:b], axis=1) for a, b in itertools.pairwise(edges)], axis=1)
    medians = np.maximum(medians, 1e-12 * np.max(power, axis=1, keepdims=True) + 1e-30)
    at = np.arange(n)
    column = np.clip(np.searchsorted(mids, at) - 1, 0, max(len(mids) - 2, 0))
    if len(mids) == 1:
        return np.repeat(medians, n, axis=1)
    mid = np.asarray(mids)
    share = np.clip((at - mid[column]) / (mid[column + 1] - mid[column]), 0.0, 1.0)
    ground: NDArray[np.float32] = (medians[:, column] * (1 - share) + medians[:, column + 1] * share).astype(
        np.float32
    )
    return ground


def _combed(look: _Looks, pitches: F) -> F:
    """How well each pitch's comb fits at each moment."""
    height = np.minimum(np.log1p(look.power), TALLEST)
    # A line is as wide as the stretch makes it: the highest point near the tooth counts.
    total = np.zeros((height.shape[0], pitches.size))
    for k in range(1, COMB + 1):
        for order, sign in ((k, 1.0), (k - 0.5, -1.0)):
            at = order * pitches / look.bin
            inside = at < height.shape[1] - 2
            if not inside.any():
                continue
            index = np.minimum(at.round().astype(int), height.shape[1] - 2)
            value = np.maximum(np.maximum(height[:, index - 1], height[:, index]), height[:, index + 1])
            total += np.where(inside, sign / math.sqrt(k) * value, 0.0)
    return total


def _path(score: F) -> N:
    """The path of pitches with the most comb in sum, less what its jumps cost."""
    n, m = score.shape
    spread = JUMP * PER_OCTAVE / math.log(2)  # in steps of the grid
    reach = max(2, math.ceil(4 * spread))
    steps = np.arange(-reach, reach + 1)
    cost = 0.5 * (steps / spread) ** 2
    best = score[0].copy()
    came = np.zeros((n, m), dtype=np.int64)
    for k in range(1, n):
        padded = np.pad(best, reach, constant_values=-np.inf)
        options = sliding_window_view(padded, 2 * reach + 1) - cost
        choice = np.argmax(options, axis=1)
        stay = options[np.arange(m), choice]
        leap = float(best.max()) - 0.5 * 16.0
        jump = stay < leap
        came[k] = np.where(jump, int(np.argmax(best)), np.arange(m) + choice - reach)
        best = np.where(jump, leap, stay) + score[k]
    path = np.zeros(n, dtype=np.int64)
    path[-1] = int(np.argmax(best))
    for k in range(n - 1, 0, -1):
        path[k - 1] = came[k, path[k]]
    return path


def _runs(pitch: F, heard: F, step: float) -> list[slice]:
    """Stretches of moments over which one pitch is heard without a leap, weak or short ones left out."""
    leaps = np.abs(np.diff(np.log(pitch))) > LEAP
    edges = [0, *(np.flatnonzero(leaps) + 1).tolist(), pitch.size]
    found = []
    for a, b in itertools.pairwise(edges):
        loud = np.flatnonzero(heard[a:b] > HEARD)
        if loud.size < 2:
            continue
        first, last = a + int(loud[0]), a + int(loud[-1]) + 1
        if (last - first) * step >= LEAST_RUN and float(np.mean(heard[first:last])) > HEARD:
            found.append(slice(first, last))
    return found


def _read(looks: list[_Looks], which: N, grid: F, moments: F, path: N, runs: list[slice]) -> Tone | None:
    """Pitches read from the lines themselves, at moments that share little sound; spread from how they scatter."""
    time, pitch, sd = [], [], []
    for run in runs:
        t, f, spans, last = [], [], [], -math.inf
        for k in range(run.start, run.stop):
            look = looks[int(which[path[k]])]
            if moments[k] - last < 0.5 * look.span - 1e-9:
                continue
            exact, firm = _between_steps(look, int(look.row[k]), float(grid[path[k]]))
            if firm <= 0:
                continue
            last = float(moments[k])
            t.append(last)
            f.append(exact)
            spans.append(look.span)
        kept, spread = _scatter(np.array(t), np.array(f), np.array(spans))
        time.append(np.array(t)[kept])
        pitch.append(np.array(f)[kept])
        sd.append(spread[kept])
    sizes = [x.size for x in time]
    if sum(sizes) < FEWEST:
        return None
    most = int(np.argmax(sizes))
    longest = slice(sum(sizes[:most]), sum(sizes[: most + 1]))
    return Tone(
        time=np.concatenate(time), pitch=np.concatenate(pitch), sd=np.concatenate(sd), longest=longest
    )  # fmt: skip


def _between_steps(look: _Looks, row: int, near: float) -> tuple[float, float]:
    """Pitch from all lines of the comb, each at its own peak between two steps, the firmer the more."""
    power = look.power[row]
    top, bottom = 0.0, 0.0
    for k in range(1, COMB + 1):
        middle = k * near / look.bin
        reach = max(2, round(min(0.25 * near, 2.0 / look.span) / look.bin))
        a, b = int(middle) - reach, int(middle) + reach + 1
        if a < 1 or b >= power.size - 1:
            break
        peak = a + int(np.argmax(power[a:b]))
        if power[peak] < 6.0 or not (power[peak] >= power[peak - 1] and power[peak] >= power[peak + 1]):
            continue
        left, mid, right = (math.log(max(float(power[peak + d]), 1e-30)) for d in (-1, 0, 1))
        shift = 0.5 * (left - right) / min(left - 2 * mid + right, -1e-12)
        firm = min(float(power[peak]), 1e4)
        top += firm * k * (peak + shift) * look.bin
        bottom += firm * k * k
    return (top / bottom, bottom) if bottom > 0 else (near, 0.0)


def _scatter(time: F, pitch: F, span: F) -> tuple[NDArray[np.bool_], F]:
    """Which pitches to keep, and one standard deviation for each from how it stands off a parabola through its neighbours.

    Dropped: those that change too much within one stretch to be one pitch, and those far off the others.
    """
    n = time.size
    if n < FEWEST:
        return np.zeros(n, dtype=bool), np.zeros(n)
    off, slope = np.empty(n), np.empty(n)
    for k in range(n):
        a = min(max(k - 3, 0), max(n - 7, 0))
        near = slice(a, min(a + 7, n))
        table = np.vander(time[near] - time[k], 3, increasing=True)
        coef = np.linalg.lstsq(table, pitch[near], rcond=None)[0]
        off[k] = (pitch[near] - table @ coef)[k - a] / pitch[k]
        slope[k] = coef[1] / pitch[k]
    share = max(1.4826 * math.sqrt(7 / 4) * float(np.median(np.abs(off))), 1e-5)
    local = np.sqrt(np.convolve(np.minimum(np.abs(off), 6 * share) ** 2, np.ones(7) / 4, mode="same"))
    kept = (np.abs(slope) * span < BLURRED) & (np.abs(off) < 6 * share)
    return kept, np.asarray(np.maximum(share, local) * pitch)
