"""Made-up recordings of turning things, for the tests of speed by ear: flags that tick, tones of teeth, run-downs."""

from __future__ import annotations

import struct
from typing import Any

import numpy as np
from numpy.typing import NDArray

F = NDArray[np.float64]

RPM = 2 * np.pi / 60


def wav(sound: F, rate: int, *, bits: int = 16, channels: int = 1, code: int = 1) -> bytes:
    """A WAV file, written by the letter of the format."""
    samples = np.repeat(sound[:, None], channels, axis=1).ravel()
    full = 2.0 ** (bits - 1) - 1
    if code == 3:
        body = samples.astype("<f4" if bits == 32 else "<f8").tobytes()
    elif bits == 8:
        body = np.round(samples * 127 + 128).astype(np.uint8).tobytes()
    elif bits == 24:
        wide = np.round(samples * full).astype("<i4")
        body = wide.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    else:
        body = np.round(samples * full).astype("<i2" if bits == 16 else "<i4").tobytes()
    width = channels * bits // 8
    head = struct.pack("<IHHIIHH", 16, code, channels, rate, rate * width, width, bits)
    return (
        b"RIFF"
        + struct.pack("<I", 36 + len(body))
        + b"WAVEfmt "
        + head
        + b"data"
        + struct.pack("<I", len(body))
        + body
    )


def clock(seconds: float, rate: int) -> F:
    """The moments of the samples."""
    return np.arange(int(seconds * rate)) / rate


def run_down(t: F, w: float, a: float, c: float) -> tuple[F, F]:
    """Angle and speed of a shaft that runs down: J dw/dt = -(T0 + b w) with a = T0/J and c = b/J."""
    k = a / c
    speed = (w + k) * np.exp(-c * t) - k
    angle = (w + k) / c * -np.expm1(-c * t) - k * t
    stands = speed <= 0
    if stands.any():
        at = int(np.argmax(stands))
        angle[at:], speed[at:] = angle[max(at - 1, 0)], 0.0
    return angle, speed


def ticking(
    angle: F, t: F, rate: int, *, marks: int = 1, where: Any = None, loud: Any = None, noise: float = 0.1,
    seed: int = 0, missed: float = 0.0, knocks: float = 0.0, hum: float = 0.0,
) -> F:  # fmt: skip
    """A card that slaps flags at some angles: short bursts of uneven loudness in noise, other knocks and mains hum."""
    rng = np.random.default_rng(seed)
    places = np.arange(marks) / marks if where is None else np.asarray(where) / (2 * np.pi)
    strengths = np.ones(len(places)) if loud is None else np.asarray(loud)
    sound = np.zeros(t.size)
    moves = np.concatenate(([True], np.diff(angle) > 0))
    turns = angle / (2 * np.pi)
    moments: list[tuple[float, float]] = []
    for place, strength in zip(places, strengths, strict=True):
        count = np.arange(np.ceil(turns[0] - place), np.floor(turns[-1] - place) + 1)
        times = np.interp(count, (turns - place)[moves], t[moves])
        moments += [(x, strength * (1 + 0.2 * rng.normal())) for x in times if rng.random() >= missed]
    moments += [(x, 0.8) for x in rng.uniform(0, t[-1], int(knocks * t[-1]))]
    long = int(0.03 * rate)
    for moment, strength in moments:
        k = int(np.ceil(moment * rate))
        since = (np.arange(long) + k) / rate - moment
        pitch = min(2500.0, 0.3 * rate) * (1 + 0.2 * rng.normal())
        burst = np.exp(-since / 0.004) * (
            0.6 * np.sin(2 * np.pi * pitch * since + rng.uniform(0, 6.28)) + 0.4 * rng.normal(size=long)
        )
        end = min(k + long, sound.size)
        sound[k:end] += strength * burst[: end - k]
    sound += noise * rng.normal(size=t.size) + hum * np.sin(2 * np.pi * 50 * t)
    return 0.3 * sound / np.max(np.abs(sound))


def sounding(
    angle: F, t: F, marks: int, lines: tuple[float, ...], *, noise: float = 0.2, seed: int = 0, half: float = 0.0,
    sway: float = 0.0, hum: float = 0.0,
) -> F:  # fmt: skip
    """The tone of teeth: lines at multiples of their rate, weaker ones half-way when every second tooth differs."""
    rng = np.random.default_rng(seed)
    sound = np.zeros(t.size)
    for k, line in enumerate(lines, 1):
        sound += line * np.sin(marks * k * angle + rng.uniform(0, 6.28))
    for k in (0.5, 1.5):
        sound += half * np.sin(marks * k * angle + rng.uniform(0, 6.28))
    sound *= 1 + sway * np.sin(angle)
    sound += noise * rng.normal(size=t.size) + hum * np.sin(2 * np.pi * 50 * t)
    return 0.3 * sound / np.max(np.abs(sound))
