"""Whether what was taken for the beat of a sound is its beat, or every second, or twice or three times it.

The lines of a periodic sound stand at whole multiples of its beat. Strong lines half-way between mean that the beat is
slower; no strong line at the odd multiples means that it is faster; weak ones leave both possible.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["ORDERS", "Beat", "beat", "orders_of_ticks"]

F = NDArray[np.float64]

HARMONICS, BETWEEN = 12, 6  # how far whole multiples, and lines between them, are looked at
PLAIN = 0.40  # share of power from which lines between are no chance: the beat is another
FAINT = 0.01  # share below which they are nothing
BLOCK = 12  # ticks looked at together
BESIDE = 0.17  # where, beside a line, the ground under it is looked at
LONG, PERIODS, MOST_BLOCKS = 1.0, 40.0, 12  # s and periods of tone in a block, and how many blocks
NOISE = 5.0  # what the highest of a few steps is over the median where there is no line
HUM, HUM_LINES = (50.0, 60.0), 8  # Hz, and how many multiples
STILL = 0.01  # share within which a pitch does not move
HIDDEN = 0.3  # power of a line over the strongest, below which hum may make it up


def _between(part: int) -> tuple[float, ...]:
    return tuple(k / part for k in range(1, part * BETWEEN) if k % part)


WHOLE = tuple(float(k) for k in range(1, HARMONICS + 1))
ORDERS = tuple(sorted({*WHOLE, *_between(2), *_between(3)}))


@dataclass(frozen=True, slots=True)
class Beat:
    """factor: the beat over what was taken for it. other: what it may be besides, as factors of the true one."""

    factor: float
    other: tuple[float, ...]
    lines: int  # whole multiples that stand out


def beat(power: dict[float, float], *, ground: float, single: bool, expected: int = 1) -> Beat:
    """The beat, from the power at each order above the ground (NaN: not to be told). ground: what counts as nothing.

    single: one line alone leaves the octave open (a plain tone may be any multiple of the beat).
    expected: marks in a turn, so that lines at that fraction are no riddle.
    """
    strong = [k for k in WHOLE if power[k] > ground]
    whole = _sum(power, WHOLE)
    if whole <= 0:
        return Beat(1.0, (0.5, 2.0), 0)
    shares = {part: _share(power, _between(part), ground) / whole for part in (2, 3)}
    shares = {part: 0.0 if expected % part == 0 else share for part, share in shares.items()}
    slower = [part for part in (2, 3) if shares[part] > PLAIN]
    if slower:
        return Beat(1.0 / max(slower, key=lambda part: shares[part]), (), len(strong))
    other = [1.0 / part for part in (2, 3) if shares[part] > FAINT]
    factor = 1.0
    for part in (5, 4, 3, 2):
        beside = tuple(k for k in WHOLE if k % part)
        off = _sum(power, beside) / whole
        if not any(math.isfinite(power[k]) for k in beside[: 2 * part]):
            other.append(float(part))  # mains hum covers every line that would tell
        elif off < FAINT:
            factor = float(part)
            break
        if off < PLAIN / (1.0 + PLAIN):
            other.append(float(part))
    if single and len(strong) < 2:
        other += [0.5, 2.0]
    return Beat(factor, tuple(sorted({x / factor for x in other if x != factor})), len(strong))


def _sum(power: dict[float, float], orders: tuple[float, ...]) -> float:
    return sum(max(power[o], 0.0) for o in orders if math.isfinite(power[o]))


def _share(power: dict[float, float], orders: tuple[float, ...], ground: float) -> float:
    """Power of the lines between that stand out; one alone is somebody else's line."""
    lines = [power[o] for o in orders if power[o] > ground]
    return sum(lines) if len(lines) > 1 else 0.0


def orders_of_ticks(value: F, count: F) -> tuple[dict[float, float], float]:
    """Power of an envelope at each order of the count of ticks that runs along it, and the ground.

    Blocks of some ticks, each by itself, so that one miscounted tick spoils one block only.
    """
    blocks = np.floor((count - count[0]) / BLOCK).astype(np.int64)
    starts = np.flatnonzero(np.diff(blocks, prepend=-1))
    whole = starts[:-1] if starts.size > 1 else starts
    level = value - value.mean()

    def at(order: float) -> float:
        wave = level * np.exp(-2j * np.pi * order * count)
        each = np.add.reduceat(wave, starts)[: whole.size]
        return float(np.mean(np.abs(each) ** 2))

    power, grounds = {}, []
    for order in ORDERS:
        ground = 0.5 * (at(order - BESIDE) + at(order + BESIDE))
        power[order] = at(order) - ground
        grounds.append(ground)
    return power, (1.0 + 4.0 / math.sqrt(max(whole.size, 1))) * float(np.median(grounds))


def orders_of_tone(sound: F, rate: float, time: F, pitch: F) -> tuple[dict[float, float], float]:
    """Power of a sound at each order of a known pitch, over its ground, and what still counts as nothing.

    Blocks are stretched so that the pitch stands still in them, which makes every multiple of it a sharp line.
    """
    blocks = []
    middle = float(np.median(pitch))
    span = max(LONG, PERIODS / middle)
    still = float(np.median(np.abs(pitch / middle - 1.0))) < STILL
    for begin in np.linspace(time[0], max(time[0], time[-1] - span), MOST_BLOCKS):
        block = _stretched(sound, rate, time, pitch, float(begin), span, still)
        if block is not None and block.keys() == set(ORDERS):
            blocks.append(block)
    if not blocks:
        return dict.fromkeys(ORDERS, 0.0), 1.0
    power = {}
    for order in ORDERS:
        heights = np.array([block[order] for block in blocks])
        power[order] = (
            float(np.mean(heights[np.isfinite(heights)])) - NOISE if np.isfinite(heights).any() else math.nan
        )
    return power, NOISE * (0.5 + 2.0 / math.sqrt(len(blocks)))


def _stretched(
    sound: F, rate: float, time: F, pitch: F, begin: float, span: float, still: bool
) -> dict[float, float] | None:  # fmt: skip
    """Lines of one block, as power over the usual power; those that do not stand out from their surroundings are noise."""
    near = (time >= begin - 1e-9) & (time <= begin + span + 1e-9)
    if np.sum(near) < 2:
        return None
    first, last = float(time[near][0]), float(time[near][-1])
    at = np.arange(math.ceil(first * rate), min(math.floor(last * rate), sound.size - 1))
    if at.size < 64:
        return None
    # Speeds in between by a straight line, count of periods as its integral.
    f = np.interp(at / rate, time[near], pitch[near])
    count = np.concatenate(([0.0], np.cumsum(0.5 * (f[1:] + f[:-1])))) / rate
    samples = 1 << math.ceil(math.log2(at.size))
    even = np.interp(np.linspace(0.0, count[-1], samples, endpoint=False), count, sound[at])
    power = np.abs(np.fft.rfft((even - even.mean()) * np.hanning(samples))) ** 2
    fine = float(count[-1])  # bins in one order
    middle = float(np.mean(f))
    ground = float(np.median(power[: min(power.size, round((BETWEEN + 1) * fine))])) + 1e-30
    lines: dict[float, float] = {}
    hidden: dict[float, bool] = {}
    for order in ORDERS:
        bin_ = order * fine
        reach = max(2, round(0.02 * fine * min(order, 1.0)))
        a, b = round(bin_) - reach, round(bin_) + reach + 1
        wide = max(16, round(0.45 * fine))
        low, high = max(1, round(bin_) - wide), round(bin_) + wide + 1
        if a < 1 or high > power.size or order * middle > 0.45 * rate:
            lines[order] = 0.0
            continue
        height, around = float(np.max(power[a:b])), float(np.median(power[low:high])) + 1e-30
        lines[order] = height / ground if height > 2.0 * NOISE * around else NOISE
        hidden[order] = still and _hums(order * middle, (reach + 2) / (last - first))
    # Mains hum hides what lies between, and weak multiples; a strong one is the machine's own.
    most = max(lines[k] for k in WHOLE)
    return {
        order: math.nan if hidden.get(order) and (order % 1 or height < HIDDEN * most) else height
        for order, height in lines.items()
    }


def _hums(pitch: float, width: float) -> bool:
    """Whether mains hum or a multiple of it falls on a line between, so that the line says nothing."""
    return any(abs(pitch - hum * min(max(1, round(pitch / hum)), HUM_LINES)) < width for hum in HUM)
