"""Speed by ear: WAV files read whole or refused by name, ticks and tones to half a percent, octaves said and settled."""

from __future__ import annotations

import io
import math
import struct
import wave

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.io import wavfile
from tests.studies.recordings import RPM, clock, run_down, sounding, ticking, wav

from sparewatt.errors import BadRequest
from sparewatt.studies.bench.answers import SpeedRun
from sparewatt.studies.phone.sound import settled, speed_from_sound
from sparewatt.studies.phone.sound_wav import read_wav

TEETH = (1.0, 0.5, 0.3, 0.2)
HALF_PERCENT = 5e-3


def mean_speed(run: SpeedRun) -> float:
    """The weighted mean of a steady run."""
    return float(np.average(run.speed, weights=1 / run.sd**2))


def ticks_at(rpm: float, *, rate: int = 16000, seconds: float = 6.0, marks: int = 1, **how: object) -> bytes:
    """A recording of flags at a steady speed."""
    t = clock(seconds, rate)
    return wav(ticking(rpm * RPM * t, t, rate, marks=marks, **how), rate)  # type: ignore[arg-type]


def tone_at(
    rpm: float, *, marks: int = 12, rate: int = 16000, lines: tuple[float, ...] = TEETH, **how: object
) -> bytes:
    """A recording of teeth at a steady speed."""
    t = clock(4.0, rate)
    return wav(sounding(rpm * RPM * t, t, marks, lines, **how), rate)  # type: ignore[arg-type]


def read_or_refuse(data: bytes) -> NDArray[np.float64] | str:
    """The sound, or the hint of the refusal."""
    try:
        return read_wav(data).sound
    except BadRequest as refused:
        return refused.problems[0].hint


# ---- WAV ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("code", "bits"), [(1, 8), (1, 16), (1, 24), (1, 32), (3, 32), (3, 64)])
@pytest.mark.parametrize("channels", [1, 2])
def test_every_plain_form_is_read(code: int, bits: int, channels: int) -> None:
    """Samples come back to the last bit of each form, whatever the channels; scipy reads the same file the same."""
    t = clock(1.0, 8000)
    sound = 0.7 * np.sin(2 * np.pi * 440 * t)
    data = wav(sound, 8000, bits=bits, channels=channels, code=code)
    got = read_wav(data)
    step = {8: 1 / 127, 16: 2**-15, 24: 2**-23, 32: 2**-23 if code == 3 else 2**-31, 64: 0.0}[bits]
    assert (got.rate, got.channels, got.bits, got.seconds) == (8000.0, channels, bits, 1.0)
    assert np.max(np.abs(got.sound - sound)) <= 1.6 * step
    rate, theirs = wavfile.read(io.BytesIO(data))
    column = theirs if channels == 1 else theirs[:, 0]
    scale = {"u": 128.0, "i": 2.0 ** (8 * column.dtype.itemsize - 1), "f": 1.0}[column.dtype.kind]
    ours = got.sound + (1.0 if bits == 8 else 0.0)
    assert rate == got.rate
    np.testing.assert_allclose(ours, column.astype(float) / scale, atol=1e-12)


def test_a_file_of_the_standard_library_is_read() -> None:
    """What Python's own writer writes is read back."""
    buffer = io.BytesIO()
    with wave.open(buffer, "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(11025)
        out.writeframes((1000 * np.sin(np.arange(11025))).astype("<i2").tobytes())
    got = read_wav(buffer.getvalue())
    assert got.rate == 11025
    np.testing.assert_allclose(got.sound * 32768, (1000 * np.sin(np.arange(11025))).astype("<i2"), atol=1e-9)


def test_the_louder_channel_is_heard() -> None:
    """Of two channels, one silent, the other is taken."""
    t = clock(1.0, 8000)
    both = np.stack([0.0 * t, 0.5 * np.sin(2 * np.pi * 300 * t)], axis=1)
    data = bytearray(wav(both.ravel(), 8000))
    struct.pack_into("<H", data, 22, 2)
    assert np.max(np.abs(read_wav(bytes(data)).sound)) == pytest.approx(0.5, abs=1e-3)


def test_odd_but_whole_files_are_read() -> None:
    """A length never filled in, an extra chunk of odd size, an extended header: all usual from phones."""
    t = clock(1.0, 8000)
    plain = wav(0.5 * np.sin(2 * np.pi * 300 * t), 8000)
    sound = read_wav(plain).sound
    open_end = plain[:40] + struct.pack("<I", 0xFFFFFFFF) + plain[44:]
    extra = plain[:36] + b"LIST" + struct.pack("<I", 3) + b"abc\0" + plain[36:]
    wide = (
        struct.pack("<HHIIHH", 0xFFFE, 1, 8000, 16000, 2, 16)
        + struct.pack("<HHIH", 22, 16, 4, 1)
        + b"\0" * 14
    )
    extended = plain[:12] + b"fmt " + struct.pack("<I", len(wide)) + wide + plain[36:]
    for data in (open_end, extra, extended):
        np.testing.assert_array_equal(read_wav(data).sound, sound)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"ID3\x04" + b"\0" * 40, "MP3"),
        (b"\0\0\0\x18ftypM4A " + b"\0" * 40, "M4A"),
        (b"OggS" + b"\0" * 40, "Ogg"),
        (b"fLaC" + b"\0" * 40, "FLAC"),
        (b"seconds, volts\n0, 14.2\n", "text"),
        (b"\x01\x02\x03" * 20, "not a WAV"),
        (b"RIFF\0\0\0\0WAVE", "no header"),
        (wav(np.zeros(8000), 8000), "silent"),
        (wav(np.ones(500), 8000), "too little"),
        (wav(np.ones(8000), 100), "samples in a second"),
        (wav(np.full(8000, np.nan), 8000, bits=32, code=3), "no numbers"),
    ],
)
def test_what_is_not_wav_is_named(data: bytes, says: str) -> None:
    """Each refusal says what was sent, and what to do instead."""
    with pytest.raises(BadRequest, match=says) as refused:
        read_wav(data, "drill.wav")
    problem = refused.value.problems[0]
    assert problem.where == "drill.wav"
    assert problem.hint


@pytest.mark.parametrize(("code", "kind"), [(2, "ADPCM"), (6, "A-law"), (85, "MP3")])
def test_packed_sound_is_refused(code: int, kind: str) -> None:
    """A WAV file may hold packed sound; it is named."""
    data = bytearray(wav(np.ones(8000), 8000))
    struct.pack_into("<H", data, 20, code)
    with pytest.raises(BadRequest, match=kind):
        read_wav(bytes(data))


def test_a_quarter_of_an_hour_is_too_long() -> None:
    """More than three minutes is refused before it is worked on."""
    data = wav(np.ones(4000 * 181), 4000, bits=8)
    with pytest.raises(BadRequest, match="longer than 3 minutes"):
        read_wav(data)


@given(head=st.binary(max_size=80), cut=st.integers(0, 300))
def test_no_bytes_break_the_reader(head: bytes, cut: int) -> None:
    """Anything at all is either read or refused in plain words."""
    whole = wav(0.5 * np.sin(np.arange(4100)), 8000)
    for data in (
        head,
        b"RIFF\0\0\0\0WAVE" + head,
        whole[:cut],
        whole[:cut] + head,
        whole[:20] + head + whole[20:],
    ):
        got = read_or_refuse(data)
        assert got if isinstance(got, str) else (got.size > 0 and np.isfinite(got).all())


# ---- ticks ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rpm", "rate", "noise"),
    [
        (180, 8000, 0.1),
        (400, 44100, 0.2),
        (1200, 16000, 0.05),
        (1200, 16000, 0.2),
        (2800, 48000, 0.1),
        (4500, 48000, 0.1),
    ],
)
def test_ticks_give_the_speed(rpm: float, rate: int, noise: float) -> None:
    """One flag in noise: within half a percent, the spread honest, the octave clear."""
    run = speed_from_sound(ticks_at(rpm, rate=rate, noise=noise, seconds=max(6.0, 1800 / rpm)))
    assert run.clear
    assert mean_speed(run) == pytest.approx(rpm * RPM, rel=HALF_PERCENT)
    off = (run.speed - rpm * RPM) / run.sd
    assert np.sqrt(np.mean(off**2)) < 2.5
    assert np.max(run.sd / run.speed) < 0.02


@pytest.mark.parametrize(
    "how",
    [
        {"missed": 0.15},
        {"knocks": 5.0},
        {"hum": 0.5, "noise": 0.05},
        {"where": [0.0, 1.2], "loud": [1.0, 0.5]},  # the card lifts off with a second, weaker sound
    ],
    ids=["missed", "knocks", "hum", "touch and release"],
)
def test_a_rough_recording_gives_the_same_speed(how: dict[str, object]) -> None:
    """Missed ticks, other knocks, hum, and a second sound in each turn change nothing."""
    run = speed_from_sound(ticks_at(900, **how))
    assert run.clear
    assert mean_speed(run) == pytest.approx(900 * RPM, rel=HALF_PERCENT)


@pytest.mark.parametrize(
    ("marks", "where", "loud"),
    [
        (2, None, None),
        (2, [0.0, 2.6], None),
        (2, [0.0, 1.6], None),
        (2, None, [1.0, 0.5]),
        (3, [0.0, 1.9, 4.1], [1.0, 0.8, 1.1]),
        (4, [0.0, 1.4, 3.2, 4.8], None),
    ],
)
def test_several_flags_stuck_on_by_eye(
    marks: int, where: list[float] | None, loud: list[float] | None
) -> None:
    """Two to four flags, evenly spread or not, alike or not, give the turns of the shaft."""
    run = speed_from_sound(ticks_at(600, marks=marks, where=where, loud=loud), marks=marks)
    assert run.clear
    assert mean_speed(run) == pytest.approx(600 * RPM, rel=HALF_PERCENT)
    assert np.std(run.speed) < 0.01 * 600 * RPM


def test_two_runs_in_one_recording() -> None:
    """The drill stops and runs again at another speed: both are there."""
    t = clock(9.0, 16000)
    w = np.where(t < 4, 600 * RPM, np.where(t < 5, 0.0, 1000 * RPM))
    angle = np.concatenate(([0.0], np.cumsum(w[:-1]) / 16000))
    run = speed_from_sound(wav(ticking(angle, t, 16000, noise=0.05), 16000))
    first, second = run.speed[run.time < 3.9], run.speed[run.time > 5.1]
    assert np.median(first) == pytest.approx(600 * RPM, rel=HALF_PERCENT)
    assert np.median(second) == pytest.approx(1000 * RPM, rel=HALF_PERCENT)


def test_every_second_tick_weaker_is_not_settled_by_ear() -> None:
    """One flag was said, but ticks alternate: one turn or two, the recording cannot say. A count of turns does."""
    data = ticks_at(900, where=[0.0, math.pi], loud=[1.0, 0.6])
    run = speed_from_sound(data)
    assert not run.clear
    assert 0.5 in run.other
    assert any("Count the turns" in x.text for x in run.caveats)
    assert any("half" in x.text for x in run.caveats)
    told = settled(run, 880 * RPM)
    assert told.clear
    assert told.other == ()
    assert mean_speed(told) == pytest.approx(900 * RPM, rel=HALF_PERCENT)
    assert mean_speed(speed_from_sound(data, counted=1850 * RPM)) == pytest.approx(
        1800 * RPM, rel=HALF_PERCENT
    )


def test_a_count_that_fits_nothing_is_refused() -> None:
    """Counted turns far from every reading of the recording: one of them is wrong, and it says both."""
    run = speed_from_sound(ticks_at(900))
    with pytest.raises(BadRequest, match="900 turns a minute"):
        settled(run, 1400 * RPM)
    with pytest.raises(BadRequest, match="above zero"):
        settled(run, 0.0)


@pytest.mark.parametrize("seed", [1, 2])
def test_no_rhythm_is_made_of_chance(seed: int) -> None:
    """Random knocks, or noise alone, are no turning."""
    t = clock(6.0, 16000)
    for knocks, noise in ((8.0, 0.1), (25.0, 0.1), (0.0, 1.0)):
        still = ticking(0.0 * t, t, 16000, knocks=knocks, noise=noise, seed=seed)
        with pytest.raises(BadRequest, match="no steady ticking"):
            speed_from_sound(wav(still, 16000))


@settings(max_examples=8, deadline=None)
@given(
    rpm=st.floats(200, 2200),
    seed=st.integers(0, 10**6),
    noise=st.floats(0.03, 0.12),
    rate=st.sampled_from([16000, 22050]),
)
def test_any_speed_any_noise(rpm: float, seed: int, noise: float, rate: int) -> None:
    """Whenever the ticks are called clear, the speed is right to half a percent."""
    run = speed_from_sound(ticks_at(rpm, rate=rate, noise=noise, seed=seed, seconds=max(5.0, 1800 / rpm)))
    if run.clear:
        assert mean_speed(run) == pytest.approx(rpm * RPM, rel=HALF_PERCENT)
    else:
        assert any(
            mean_speed(run) * x == pytest.approx(rpm * RPM, rel=HALF_PERCENT) for x in (1.0, *run.other)
        )


# ---- tone -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rpm", "marks", "noise"),
    [(150, 23, 0.1), (700, 12, 0.3), (1200, 12, 1.0), (1500, 12, 0.2), (2900, 9, 0.3)],
)
def test_teeth_give_the_speed(rpm: float, marks: int, noise: float) -> None:
    """The tone of so many teeth: within half a percent, at 1500 turns a minute too, where 12 teeth hum like the mains."""
    run = speed_from_sound(
        tone_at(rpm, marks=marks, noise=noise, sway=0.2, hum=0.1), heard="tone", marks=marks
    )
    assert run.clear
    assert mean_speed(run) == pytest.approx(rpm * RPM, rel=HALF_PERCENT)
    assert np.sqrt(np.mean(((run.speed - rpm * RPM) / run.sd) ** 2)) < 2.5


def test_a_plain_tone_has_no_octave() -> None:
    """One line alone may be the teeth, or twice them, or half: refused as clear, with the check that settles it."""
    run = speed_from_sound(tone_at(900, lines=(1.0,)), heard="tone", marks=12)
    assert not run.clear
    assert {0.5, 2.0} <= set(run.other)
    assert mean_speed(settled(run, 880 * RPM)) == pytest.approx(900 * RPM, rel=HALF_PERCENT)


@pytest.mark.parametrize(
    ("lines", "half", "factor"),
    [((0.15, 1.0, 0.1, 0.3), 0.0, 2.0), (TEETH, 0.3, 0.5), ((0.0, 1.0, 0.5, 0.3), 0.0, 2.0)],
    ids=["weak first line", "weak lines between", "no first line"],
)
def test_an_octave_in_doubt_is_said(lines: tuple[float, ...], half: float, factor: float) -> None:
    """Lines that fit one speed and twice it: not clear, and the truth is among the readings."""
    run = speed_from_sound(tone_at(840, lines=lines, half=half, noise=0.1), heard="tone", marks=12)
    assert not run.clear
    readings = [mean_speed(run) * x for x in (1.0, *run.other)]
    assert any(x == pytest.approx(840 * RPM, rel=HALF_PERCENT) for x in readings)
    ratios = {round(a / b, 2) for a in readings for b in readings if a != b}
    assert factor in ratios or 1 / factor in ratios


def test_hum_is_not_taken_for_teeth() -> None:
    """Mains hum alone stands still where hum does, and it is said."""
    t = clock(4.0, 16000)
    rng = np.random.default_rng(1)
    hum = sum(x * np.sin(2 * np.pi * 50 * k * t) for k, x in ((1, 0.5), (2, 1.0), (3, 0.4), (4, 0.3)))
    sound = 0.1 * hum + 0.02 * rng.normal(size=t.size)
    run = speed_from_sound(wav(sound, 16000), heard="tone", marks=5)
    assert any("mains hum" in x.text for x in run.caveats)


def test_noise_has_no_tone() -> None:
    """Nothing on a comb is nothing."""
    rng = np.random.default_rng(1)
    with pytest.raises(BadRequest, match="no steady tone"):
        speed_from_sound(wav(0.1 * rng.normal(size=64000), 16000), heard="tone", marks=12)


def test_a_tone_that_sinks_is_followed() -> None:
    """A run-down by its tone: each speed right to a percent while it is heard."""
    t = clock(12.0, 16000)
    angle, speed = run_down(t, 150.0, 8.0, 0.03)
    run = speed_from_sound(wav(sounding(angle, t, 12, TEETH), 16000), heard="tone", marks=12)
    assert run.clear
    assert run.time[-1] > 9.0
    np.testing.assert_allclose(run.speed, np.interp(run.time, t, speed), rtol=0.01)


# ---- what is asked --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"heard": "smell"}, "listen for"),
        ({"marks": 0}, "one mark or more"),
        ({"low": 50.0, "high": 20.0}, "below the higher"),
    ],
)
def test_what_cannot_be_asked(asked: dict[str, object], says: str) -> None:
    """A wrong question is answered with what would do."""
    with pytest.raises(BadRequest, match=says):
        speed_from_sound(wav(np.ones(8000), 8000), **asked)  # type: ignore[arg-type]


def test_the_same_bytes_give_the_same_numbers() -> None:
    """No chance in it: twice the same file, twice the same speeds."""
    data = ticks_at(700, seconds=5.0)
    one, two = speed_from_sound(data), speed_from_sound(data)
    np.testing.assert_array_equal(one.speed, two.speed)
    assert one.caveats == two.caveats


def test_overdriven_sound_is_said() -> None:
    """A recording at full scale for much of the time is called overdriven."""
    t = clock(5.0, 16000)
    sound = np.clip(20 * sounding(900 * RPM * t, t, 12, TEETH), -1, 1)
    run = speed_from_sound(wav(sound, 16000), heard="tone", marks=12)
    assert any("overdriven" in x.text for x in run.caveats)
