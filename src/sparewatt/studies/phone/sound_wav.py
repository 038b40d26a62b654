"""A sound recording from the bytes of a WAV file: plain PCM of 8, 16, 24 or 32 bits, or float, any channels, any rate.

Read by hand in a page of code, because what a phone writes is often a little off: a length that was never filled in, odd
chunks, an extended header. Anything that is not WAV is refused by name.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem

__all__ = ["LONGEST", "Recording", "read_wav"]

F = NDArray[np.float64]

LONGEST = 180.0  # s; more than any run-down, and little enough to hold in memory
SHORTEST = 0.5  # s
RATES = (4000, 400_000)
MOST_CHANNELS = 8
CLIPPED = 0.99  # of full scale

PCM, FLOAT, EXTENDED = 1, 3, 0xFFFE
CONVERT = "save it as WAV in the recorder's settings, or convert it to WAV (16 bit, one channel is plenty)"
# First bytes of what people send instead, and its name.
OTHERS = (
    (b"ID3", 0, "MP3"), (b"\xff\xfb", 0, "MP3"), (b"\xff\xf3", 0, "MP3"), (b"\xff\xf1", 0, "AAC"),
    (b"\xff\xf9", 0, "AAC"), (b"ftyp", 4, "MP4 or M4A"), (b"OggS", 0, "Ogg"), (b"fLaC", 0, "FLAC"),
    (b"#!AMR", 0, "AMR"), (b"caff", 0, "CAF"), (b"FORM", 0, "AIFF"), (b"\x1a\x45\xdf\xa3", 0, "WebM or Matroska"),
    (b"0&\xb2u", 0, "WMA"), (b"PK\x03\x04", 0, "ZIP"), (b"%PDF", 0, "PDF"), (b"\x89PNG", 0, "PNG"),
    (b"\xff\xd8\xff", 0, "JPEG"), (b"RIFX", 0, "RIFX (bytes the other way round)"),
)  # fmt: skip
CODES = {2: "ADPCM", 6: "A-law", 7: "mu-law", 17: "ADPCM", 49: "GSM", 85: "MP3"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """One channel of sound between -1 and 1. rate: samples in a second. clipped: share of samples at full scale."""

    rate: float
    sound: F
    channels: int
    bits: int
    clipped: float

    @property
    def seconds(self) -> float:
        """How long it is."""
        return self.sound.size / self.rate


@dataclass(frozen=True, slots=True)
class _Form:
    """What the header says."""

    code: int
    channels: int
    rate: int
    bits: int


def read_wav(data: bytes, name: str = "recording") -> Recording:
    """The recording in the bytes of a WAV file; of several channels the loudest."""
    if len(data) < 12 or data[:4] not in (b"RIFF", b"RF64") or data[8:12] != b"WAVE":
        raise _refused(name, _what_it_is(data), CONVERT)
    form, body = _chunks(data, name)
    _check(form, name)
    width = form.channels * form.bits // 8
    body = body[: len(body) // width * width]
    if len(body) < SHORTEST * form.rate * width:
        raise _refused(
            name,
            f"it holds {len(body) / width / form.rate:.2f} s of sound, too little to hear a rhythm",
            "record 5 seconds or more",
        )
    if len(body) > LONGEST * form.rate * width:
        raise _refused(
            name,
            f"it is longer than {LONGEST / 60:.0f} minutes",
            "cut it to the part with the turning in it, or record again",
        )
    samples = _samples(body, form).reshape(-1, form.channels)
    if not np.isfinite(samples).all():
        raise _refused(name, "some of its samples are no numbers", "record again, or save it as 16 bit WAV")
    loudest = int(np.argmax(np.std(samples, axis=0)))
    sound = np.ascontiguousarray(samples[:, loudest])
    if float(np.std(sound)) == 0.0:
        raise _refused(name, "it is silent from end to end", "check the microphone, and record again")
    clipped = float(np.mean(np.abs(sound) >= CLIPPED))
    return Recording(
        rate=float(form.rate), sound=sound, channels=form.channels, bits=form.bits, clipped=clipped
    )


def _chunks(data: bytes, name: str) -> tuple[_Form, bytes]:
    """The header and the bytes of sound, past whatever else stands in the file."""
    form: _Form | None = None
    at = 12
    while at + 8 <= len(data):
        tag, size = data[at : at + 4], struct.unpack_from("<I", data, at + 4)[0]
        start = at + 8
        if tag == b"fmt ":
            form = _header(data[start : start + size], name)
        elif tag == b"data":
            if form is None:
                break
            # Recorders that were cut off leave 0 or all ones for the length: then the rest of the file is sound.
            end = start + size if 0 < size < 0xFFFF_FF00 else len(data)
            return form, data[start : min(end, len(data))]
        at = start + size + (size & 1)
    what = "no sound in it" if form is not None else "no header that says how the sound is written"
    raise _refused(name, f"it begins like a WAV file, but there is {what}", "record again, or copy it again")


def _header(chunk: bytes, name: str) -> _Form:
    if len(chunk) < 16:
        raise _refused(name, "its header is cut short", "copy it again, or record again")
    code, channels, rate, _per_second, _block, bits = struct.unpack_from("<HHIIHH", chunk)
    if code == EXTENDED and len(chunk) >= 26:
        code = struct.unpack_from("<H", chunk, 24)[0]
    return _Form(code=code, channels=channels, rate=rate, bits=bits)


def _check(form: _Form, name: str) -> None:
    if form.code not in (PCM, FLOAT):
        kind = CODES.get(form.code, f"code {form.code}")
        raise _refused(name, f"its sound is packed ({kind}), not plain samples", CONVERT)
    fits = (8, 16, 24, 32) if form.code == PCM else (32, 64)
    if form.bits not in fits:
        raise _refused(name, f"it has {form.bits} bits a sample, which is not read here", CONVERT)
    if not 1 <= form.channels <= MOST_CHANNELS:
        raise _refused(name, f"it says it has {form.channels} channels", "save it with one channel")
    if not RATES[0] <= form.rate <= RATES[1]:
        raise _refused(
            name,
            f"it says it has {form.rate} samples in a second",
            "record with 8,000 to 48,000 samples in a second",
        )


def _samples(body: bytes, form: _Form) -> F:
    """The samples as floats between -1 and 1."""
    if form.code == FLOAT:
        return np.frombuffer(body, dtype="<f4" if form.bits == 32 else "<f8").astype(np.float64)
    if form.bits == 8:  # the only size that counts from 0 to 255
        return (np.frombuffer(body, dtype=np.uint8).astype(np.float64) - 128.0) / 128.0
    if form.bits == 24:
        three = np.frombuffer(body, dtype=np.uint8).reshape(-1, 3)
        wide = np.zeros((three.shape[0], 4), dtype=np.uint8)
        wide[:, 1:] = three
        return wide.view("<i4").ravel().astype(np.float64) / 2.0**31
    kind = "<i2" if form.bits == 16 else "<i4"
    return np.frombuffer(body, dtype=kind).astype(np.float64) / 2.0 ** (form.bits - 1)


def _what_it_is(data: bytes) -> str:
    """What was sent instead of a WAV file, as far as its first bytes say."""
    if not data:
        return "it is empty"
    for mark, at, kind in OTHERS:
        if data[at : at + len(mark)] == mark:
            return f"it is not a WAV file but {kind}"
    head = data[:64]
    if all(byte in b"\t\n\r" or 32 <= byte < 127 for byte in head):
        return "it is not a WAV file but text"
    return "it is not a WAV file"


def _refused(name: str, problem: str, hint: str) -> BadRequest:
    return BadRequest(Problem(where=name, problem=problem, hint=hint))
