"""Bytes of a label: numbers in as few bytes as tell them exactly, and bytes as letters that a square code packs tightly.

Letters: two bytes as three of 41 letters that stand in the dense set of a QR code (ISO/IEC 18004: digits, capitals and a
few signs) without a space, so that line breaks, spaces and small letters do no harm.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field

from sparewatt.quantities.units import unit_of

__all__ = ["Packer", "Unpacker", "letters", "squeezed", "unit_choices", "unlettered", "unsqueezed"]

ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*+-./"
BASE = len(ALPHABET)
MOST = 50_000  # bytes; what a label may hold once it is unsqueezed

# Pieces of what people write on the bench, so that they take little room. It never changes: old labels need it. Pieces
# that are likeliest stand last (RFC 1951 reaches back over them as if they had just been written).
_OFTEN = (
    b"internal resistance of the cells by the falling weight by the rope brake by the lever from the load ladder from the "
    b"nameplate on the label from the shop counted turns of the wheel with chalk on the rim tyre pressed on the roller "
    b"toothed ribbed flat belt pulley sprocket teeth chain gear freewheel flywheel bearing magnets winding warm hot cold "
    b"by hand with a tape weighed on the kitchen scale on an arm with a stopwatch from a film from the sound "
    b"at two three four five six speeds meter on the two wires volts and amps read together current from the battery "
    b"the shaft held in eight places with bulbs of 21 W and 55 W set with the screw spun by a drill computed guess typical "
    b"pm_dc pm_three_phase ferrite rare_earth flooded agm gel lifepo4 buck boost buck_boost inverter roller direct legs "
    b"arms fit not fit active machine battery rider hub motor walking-machine motor step-up board step-down board "
    b"2025-2026-2027-shed bench, 12 readings, "
)
RAW, SI = (
    0,
    1,
)  # how a number is told: its eight bytes, or a decimal in SI; from 2 on a decimal in another unit
FROM_VALUE, PERCENT = 60, 61  # a spread told as a share of the value, or as per cent of it

# Units other than SI in which people state a constant, by its SI unit. New ones go at the end: the place is the code.
_UNITS: dict[str, tuple[str, ...]] = {
    "V": ("mV",), "A": ("mA",), "W": ("hp", "kW"), "ohm": ("mohm", "kohm"), "F": ("mF", "uF"), "H": ("mH", "uH"),
    "C": ("Ah", "mAh"), "J": ("kJ", "Wh", "kcal"), "K": ("degC", "degF"), "m": ("mm", "cm", "in", "ft"),
    "kg": ("g", "lb"), "s": ("min", "h", "ms"), "rad/s": ("rpm", "turn/s"), "rad": ("deg",),
    "V*s/rad": ("V/krpm", "mV/rpm"), "N": ("kgf", "lbf"), "N*m": ("lbf*ft",), "wire_size": ("mm2",), "1": ("%",),
    "m^3": ("L",), "m^3/s": ("m3/h", "cfm"),
}  # fmt: skip


def unit_choices(unit: str) -> tuple[str, ...]:
    """Units tried for a constant whose SI unit is `unit`, the SI unit first; the place of one is its code."""
    si = {"wire_size": "m^2"}.get(unit, unit)
    return (si, *_UNITS.get(unit, ()))


def letters(raw: bytes) -> str:
    """Bytes as letters: three for two bytes, two for a last single one."""
    out = []
    for at in range(0, len(raw), 2):
        pair = raw[at : at + 2]
        number, count = int.from_bytes(pair, "big"), 3 if len(pair) == 2 else 2
        for place in reversed(range(count)):
            out.append(ALPHABET[number // BASE**place % BASE])
    return "".join(out)


def unlettered(text: str) -> bytes:
    """The bytes again; ValueError when a letter does not belong or a group is none that `letters` makes."""
    out = bytearray()
    for at in range(0, len(text), 3):
        group = text[at : at + 3]
        number = 0
        for letter in group:
            number = number * BASE + ALPHABET.index(letter)
        if len(group) == 1:
            raise ValueError("a single letter is left over")
        out += number.to_bytes(len(group) - 1, "big") if number < 256 ** (len(group) - 1) else _overflow()
    return bytes(out)


def _overflow() -> bytes:
    raise ValueError("a group of letters is too large")


def squeezed(raw: bytes) -> bytes:
    """The same bytes with what people often write made short (RFC 1951, raw deflate)."""
    squeeze = zlib.compressobj(9, zlib.DEFLATED, -15, 9, zlib.Z_DEFAULT_STRATEGY, _OFTEN)
    return squeeze.compress(raw) + squeeze.flush()


def unsqueezed(raw: bytes) -> bytes:
    """The bytes that were squeezed; ValueError when they were not, or when there are too many."""
    loosen = zlib.decompressobj(-15, _OFTEN)
    try:
        out = loosen.decompress(raw, MOST)
    except zlib.error as bad:
        raise ValueError(str(bad)) from None
    if not loosen.eof or loosen.unused_data:
        raise ValueError("the end is missing")
    return out


@dataclass(slots=True)
class Packer:
    """Puts values one behind the other."""

    out: bytearray = field(default_factory=bytearray)

    def byte(self, value: int) -> None:
        """One byte, 0 to 255."""
        self.out.append(value)

    def whole(self, value: int) -> None:
        """A whole number of either sign, seven bits to the byte."""
        rest = value << 1 if value >= 0 else (-value << 1) - 1
        while rest > 127:
            self.out.append(rest & 127 | 128)
            rest >>= 7
        self.out.append(rest)

    def text(self, value: str) -> None:
        """Any text, its length first."""
        raw = value.encode("utf-8", "surrogatepass")
        self.whole(len(raw))
        self.out += raw

    def number(self, value: float, unit: str) -> None:
        """A number that comes back bit for bit, in the shortest of the forms."""
        best = _raw(value)
        for place, name in enumerate(unit_choices(unit), SI):
            packed = _decimal(value, name)
            if packed is not None and len(packed) + 1 < len(best):
                best = bytes((place, *packed))
        self.out += best

    def spread(self, sd: float, value: float, unit: str) -> None:
        """A spread in the shortest of: a decimal in some unit, a share or per cent of the value, its eight bytes."""
        best = _raw(sd)
        for place, name in enumerate(unit_choices(unit), SI):
            packed = _decimal(sd, name, zero=False)
            if packed is not None and len(packed) + 1 < len(best):
                best = bytes((place, *packed))
        for place in (FROM_VALUE, PERCENT):
            for digits in range(1, 5):
                ratio = sd / abs(value) * (1 if place == FROM_VALUE else 100) if value else 0.0
                told = _split(f"{ratio:.{digits}g}")
                if (
                    told
                    and _bits(_share(place, told, value)) == _bits(sd)
                    and len(_pair(told)) + 1 < len(best)
                ):
                    best = bytes((place, *_pair(told)))
        self.out += best


@dataclass(slots=True)
class Unpacker:
    """Takes values off again, in the same order; ValueError when they end too soon."""

    raw: bytes
    at: int = 0

    def byte(self) -> int:
        """What `Packer.byte` put."""
        return self._take(1)[0]

    def whole(self) -> int:
        """What `Packer.whole` put."""
        rest, shift = 0, 0
        while True:
            byte = self.byte()
            rest |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                break
            if shift > 700:
                raise ValueError("a number never ends")
        return rest >> 1 if rest & 1 == 0 else -((rest + 1) >> 1)

    def text(self) -> str:
        """What `Packer.text` put."""
        return self._take(self.whole()).decode("utf-8", "surrogatepass")

    def number(self, unit: str) -> float:
        """What `Packer.number` put."""
        place = self.byte()
        if place == RAW:
            return self._raw()
        return _joined((self.whole(), self.whole()), self._unit(place, unit), zero=True)

    def spread(self, value: float, unit: str) -> float:
        """What `Packer.spread` put."""
        place = self.byte()
        if place == RAW:
            return self._raw()
        told = self.whole(), self.whole()
        if place in (FROM_VALUE, PERCENT):
            return _share(place, told, value)
        return _joined(told, self._unit(place, unit), zero=False)

    def _unit(self, place: int, unit: str) -> str:
        return unit_choices(unit)[place - SI]

    def _raw(self) -> float:
        return float(struct.unpack(">d", self._take(8))[0])

    def _take(self, count: int) -> bytes:
        if count < 0 or self.at + count > len(self.raw):
            raise ValueError("the label ends too soon")
        piece = self.raw[self.at : self.at + count]
        self.at += count
        return piece


# ---- decimals ----


def _raw(value: float) -> bytes:
    return bytes((RAW,)) + struct.pack(">d", value)


def _bits(value: float) -> bytes:
    return struct.pack(">d", value)


def _decimal(value: float, unit: str, *, zero: bool = True) -> bytes | None:
    """The shortest decimal in `unit` that gives this very number again; None when there is none."""
    if not -1e300 < value < 1e300:
        return None
    known = unit_of(unit)
    number = (value - (known.offset if zero else 0.0)) / known.factor
    for text in _texts(number):
        told = _split(text)
        if told is not None and _bits(_joined(told, unit, zero=zero)) == _bits(value):
            return _pair(told)
    return None


def _texts(number: float) -> Iterator[str]:
    yield from (f"{number:.{digits}g}" for digits in range(1, 16))
    yield repr(number)


def _split(text: str) -> tuple[int, int] | None:
    """Digits and power of ten of a decimal; None when it is no finite number."""
    head, _, power = text.partition("e")
    whole, _, part = head.partition(".")
    try:
        digits, exponent = int(whole + part), int(power or 0) - len(part)
    except ValueError:
        return None
    while digits and digits % 10 == 0:
        digits, exponent = digits // 10, exponent + 1
    return digits, exponent if digits else 0


def _pair(told: tuple[int, int]) -> bytes:
    packer = Packer()
    packer.whole(told[0])
    packer.whole(told[1])
    return bytes(packer.out)


def _joined(told: tuple[int, int], unit: str, *, zero: bool) -> float:
    """The number that a person's text would give: digits times the unit, plus the zero of a thermometer."""
    known = unit_of(unit)
    number = _float(told) * known.factor
    return number + known.offset if zero else number


def _share(place: int, told: tuple[int, int], value: float) -> float:
    return _float(told) * abs(value) if place == FROM_VALUE else abs(value) * _float(told) / 100


def _float(told: tuple[int, int]) -> float:
    return float(f"{told[0]}e{told[1]}")
