"""Cheap checks, what each shows under each cause, and which tells two causes apart best for the minutes it takes.

A check is a matter of yes or no (with the share in which each cause says yes: common practice, no source) or a reading,
which each cause predicts with the spread it leaves. What a check tells is the information it is expected to give between
two causes held equally likely: 1 bit settles it. Source: [expected_information]
"""

from __future__ import annotations

import math
from collections.abc import Container, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from sparewatt.language.moment import Moment
from sparewatt.rig.layout import Bound
from sparewatt.rig.outcome import Band
from sparewatt.studies.bench.answers import NextReading
from sparewatt.studies.mend.answers import Told, Trial
from sparewatt.studies.mend.faults import slipping
from sparewatt.studies.mend.fit import STEP, Found

__all__ = ["Checks", "between", "next_readings"]

F = NDArray[np.float64]
HALF = 1.6448536269514722  # standard deviations in half of a 90 % band
RPM = 2 * math.pi / 60
HURRY = 20.0  # minutes that halve what a check is worth
LEAST = 0.02  # bits: below it a check tells nothing
BULB = 4.6  # A of a 55 W bulb on 12 V


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A check by looking or trying: yes by cause, `usual` for every other cause. For a few kinds of rig only (`on`)."""

    key: str
    do: str
    minutes: float
    yes: str
    no: str
    shares: Mapping[str, float]
    usual: float = 0.04
    on: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauge:
    """A check by a reading: which output of the model, times what, and the spread of the reading (share, fixed)."""

    key: str
    do: str
    minutes: float
    shows: str
    out: str
    unit: str
    share: float
    fixed: float
    times: float = 1.0
    on: str = ""
    procedure: str = ""


LOOKS: tuple[Look, ...] = (
    Look(
        key="chalk", minutes=5, on="slips",
        do="Chalk a mark on both of the wheels that rub, count turns by hand, then film as many at working load.",
        yes="under load the driven one makes fewer turns", no="both counts agree", shares={"slip": 0.95, "normal": 0.03},
    ),
    Look(
        key="cool", minutes=65, do="Let it stand for an hour, then ride the first five minutes as before.",
        yes="volts and amps are back", no="it is as it was",
        shares={"hot_copper": 0.93, "tired_rider": 0.5, "loose_contact": 0.2, "battery_full": 0.1},
    ),
    Look(
        key="brushes", minutes=10, on="brushes",
        do="Unhook the battery, take out a brush and look at it.", yes="it is short, burnt, greasy or stuck",
        no="it is long and slides freely", shares={"worn_brush": 0.88, "loose_contact": 0.12}, usual=0.1,
    ),
    Look(
        key="tug", minutes=3, do="Wiggle each clip, screw and plug in turn while somebody rides and watches the amps.",
        yes="the amps jump", no="nothing moves", shares={"loose_contact": 0.88, "worn_brush": 0.12, "open_line": 0.5},
    ),
    Look(
        key="diode", minutes=4, on="diode",
        do="Unhook the battery and put the meter on its diode range across the diode, first one way, then the other.",
        yes="it shows no volts either way, or the same both ways", no="it shows about half a volt one way only",
        shares={"open_diode": 0.92, "reversed_diode": 0.04},
    ),
    Look(
        key="band", minutes=1, on="diode", do="Unhook the battery and look at the band on the diode.",
        yes="the band points at the machine", no="the band points away from the machine",
        shares={"reversed_diode": 0.97, "open_diode": 0.06}, usual=0.02,
    ),
    Look(
        key="fuse", minutes=3, do="Put the amps meter in line with a car bulb on a battery.",
        yes="the bulb stays dark", no="the bulb lights", shares={"meter_fuse": 0.97}, usual=0.02,
    ),
    Look(
        key="known_amps", minutes=3, do="Put the amps meter on a car bulb on a battery, where you know the amps.",
        yes="the bulb is bright and the meter shows next to nothing", no="it shows the bulb's amps",
        shares={"ac_clamp": 0.96, "meter_fuse": 0.03}, usual=0.02,
    ),
    Look(
        key="dial", minutes=0.5, do="Look at the dial of the volts meter: DC is the sign with the straight line.",
        yes="it stands on the wave", no="it stands on the straight line", shares={"meter_on_ac": 0.95}, usual=0.01,
    ),
    Look(
        key="sign", minutes=1, do="Turn the crank forward by hand with the red lead on the wire marked +.",
        yes="the meter shows less than nothing", no="the meter shows more than nothing",
        shares={"leads_swapped": 0.97, "meter_on_ac": 0.2}, usual=0.01,
    ),
    Look(
        key="rested", minutes=10, do="Let somebody who is rested ride the same gear.", yes="the amps are as they used to be",
        no="it stays as it is", shares={"tired_rider": 0.9, "hot_copper": 0.08, "normal": 0.2}, usual=0.05,
    ),
    Look(
        key="hand_spin", minutes=3, do="Unhook the load and turn the rig by hand, step by step from the crank.",
        yes="a step turns hard, rubs or gets warm", no="it runs freely", shares={"drag": 0.9, "slip": 0.08}, usual=0.05,
    ),
    Look(
        key="label", minutes=2, do="Hold the machine's label against the rig file.", yes="they differ",
        no="they agree", shares={"wrong_winding": 0.85, "wrong_number": 0.05}, usual=0.03,
    ),
    Look(
        key="file", minutes=5, do="Measure the thing that this number stands for again.",
        yes="the file says something else", no="the file is right", shares={"wrong_number": 0.95, "board_limit": 0.06},
        usual=0.03,
    ),
    Look(
        key="sprocket", minutes=1, on="gears", do="Look which sprockets the chain lies on.",
        yes="it lies on others than you noted",
        no="it lies on those you noted", shares={"wrong_gear": 0.97}, usual=0.02,
    ),
    Look(
        key="recount", minutes=3, do="Count the turns again for half a minute, best from a film.",
        yes="it is another number",
        no="it is the same number", shares={"miscount": 0.96, "wrong_gear": 0.04}, usual=0.03,
    ),
    Look(
        key="load_up", minutes=8, on="board",
        do="Put an amps meter before the board and load the board more, bit by bit.",
        yes="the amps before it stop rising and its output sags", no="the amps before it go on rising",
        shares={"board_limit": 0.93, "wrong_number": 0.15, "normal": 0.08}, usual=0.08,
    ),
    Look(
        key="both_sides", minutes=2, on="board",
        do="Read the volts before and behind the board, riding slowly and then fast, with the battery or load unhooked.",
        yes="what is behind follows what is before", no="what is behind stays where it is set",
        shares={"passes_through": 0.96, "wrong_number": 0.03}, usual=0.02,
    ),
    Look(
        key="wire", minutes=4, do="With everything still, follow the line from the machine to what it feeds, meter on ohms.",
        yes="it is open somewhere", no="it goes through", shares={"open_line": 0.95, "loose_contact": 0.2}, usual=0.03,
        on="bare",
    ),
)  # fmt: skip

GAUGES: tuple[Gauge, ...] = (
    Gauge(key="open_volts", minutes=2, shows="the volts with nothing joined at 60 turns a minute", out="free",
          unit="V", share=0.03, fixed=0.05, times=60 * RPM, procedure="top_speed",
          do="Unhook the machine, ride at 60 turns a minute in that gear and read its volts."),
    Gauge(key="turns", minutes=5, shows="the turns of the machine for one of the crank, at working load", out="turns",
          unit="1", share=0.012, fixed=0.0, procedure="ratio_and_slip",
          do="Film crank and machine at working load and count both."),
    Gauge(key="across", minutes=4, shows="the volts lost between the machine's wires and the far end of that line",
          out="across", unit="V", share=0.01, fixed=0.05, procedure="",
          do="At working load put the meter from the machine's + wire to the far end of that wire; add the - side."),
    Gauge(key="lead", minutes=4, shows="the volts lost between the board and the battery posts", out="lead", unit="V",
          share=0.01, fixed=0.03, on="both", procedure="",
          do="At working load put the meter from the board's + to the battery's + post, and add the - side."),
    Gauge(key="other_amps", minutes=3, shows="the amps on another meter at the same ride", out="true_amps", unit="A",
          share=0.04, fixed=0.06, procedure="riding", do="Ride the same again with another amps meter."),
    Gauge(key="other_volts", minutes=2, shows="the volts on another meter at the same ride", out="true_volts", unit="V",
          share=0.01, fixed=0.06, procedure="riding", do="Ride the same again with another volts meter."),
    Gauge(key="volts_out", minutes=2, shows="the volts behind the board or at the battery, at the same ride",
          out="volts_out", unit="V", share=0.01, fixed=0.06, procedure="riding",
          do="Read the volts behind the board, or at the battery."),
    Gauge(key="rest", minutes=20, shows="the volts of the battery after a quarter of an hour with nothing joined",
          out="rest", unit="V", share=0.008, fixed=0.06, on="battery", procedure="battery_dip",
          do="Unhook the battery, wait a quarter of an hour and read its volts."),
    Gauge(key="dip", minutes=5, shows="the volts by which the battery falls under a 55 W bulb", out="cell", unit="V",
          share=0.05, fixed=0.015, times=BULB, on="battery", procedure="battery_dip",
          do="Unhook the rig, put a 55 W bulb on the battery and read by how many volts it falls in five seconds."),
    Gauge(key="heat", minutes=1, shows="how warm the machine's case is", out="heat", unit="K",
          share=0.0, fixed=6.0, procedure="hour_ride", do="Hold a thermometer to the machine's case right after the ride."),
)  # fmt: skip


@dataclass(slots=True)
class Checks:
    """Checks that this rig allows, and what each shows under each hypothesis of a search."""

    bound: Bound
    moments: Sequence[Moment]
    found: Found
    inputs: int
    gains: int
    looks: tuple[Look, ...] = field(init=False)
    gauges: tuple[Gauge, ...] = field(init=False)
    at: int = field(init=False)

    def __post_init__(self) -> None:
        can = _allows(self.bound)
        self.looks = tuple(look for look in LOOKS if not look.on or look.on in can)
        self.gauges = tuple(g for g in GAUGES if not g.on or g.on in can)
        after = [n for n, m in enumerate(self.moments) if m.joined == "load" and not m.fine]
        after = after or [n for n, m in enumerate(self.moments) if not m.fine] or [len(self.moments) - 1]
        flows = self.found.outs["true_amps"][:, after].mean(axis=0)
        self.at = after[int(np.argmax(np.abs(flows)))]

    def gauge(self, gauge: Gauge, h: int) -> tuple[float, float]:
        """(middle, spread) of a reading under one hypothesis, the reading's own spread in it."""
        m, p = self.at, self.inputs
        value = float(self.found.outs[gauge.out][h, m]) * gauge.times
        slope = (self.found.slopes[gauge.out][h, m] - self.found.outs[gauge.out][h, m]) / STEP * gauge.times
        rows = [*range(p + 2), p + 2 + self.gains + m]
        own = float(slope @ self.found.covariance[h][np.ix_(rows, rows)] @ slope)
        return value, math.hypot(math.sqrt(max(own, 0.0)), gauge.share * value, gauge.fixed)

    def free(self, gauge: Gauge, causes: Container[str]) -> bool:
        """Whether a reading makes sense between some causes: a meter in doubt settles nothing."""
        if gauge.key in ("open_volts", "turns") and self.moments[self.at].drill:
            return False
        if gauge.key == "other_amps":
            return "meter_fuse" in causes or "ac_clamp" in causes
        if gauge.key == "other_volts":
            return "meter_on_ac" in causes or "leads_swapped" in causes
        return not (gauge.key in ("volts_out", "across", "lead") and "meter_on_ac" in causes)


def _allows(bound: Bound) -> set[str]:
    """What kind of rig it is, as far as checks ask."""
    joined, rig = bound.hookup, bound.rig
    bridge = rig.machine is not None and rig.machine.kind in ("pm_three_phase", "alternator")
    diode = (rig.diode is not None and rig.diode.kind != "none") or bridge
    return {
        name for name, there in (
            ("slips", bool(slipping(bound))), ("brushes", not bridge), ("diode", diode), ("bare", not diode),
            ("gears", len(bound.gears) > 1), ("board", joined.board is not None),
            ("battery", joined.battery is not None),
            ("both", joined.board is not None and joined.battery is not None),
        ) if there
    }  # fmt: skip


def between(checks: Checks, one: tuple[str, int], other: tuple[str, int]) -> Trial | None:
    """The check that tells two causes (key, hypothesis) apart best for its minutes; None where none does."""
    trials = [_looked(look, one[0], other[0]) for look in checks.looks]
    trials += [
        _gauged(checks, g, one[1], other[1]) for g in checks.gauges if checks.free(g, (one[0], other[0]))
    ]
    best = max(trials, key=lambda t: t.bits / (1 + t.minutes / HURRY))
    return best if best.bits >= LEAST else None


def _looked(look: Look, one: str, other: str) -> Trial:
    a, b = (look.shares.get(key, look.usual) for key in (one, other))
    mixed = 0.5 * (a + b)
    bits = _entropy(mixed) - 0.5 * (_entropy(a) + _entropy(b))
    return Trial(
        key=look.key, do=look.do, minutes=look.minutes, bits=bits, yes=look.yes, no=look.no, one=Told(yes=a),
        other=Told(yes=b),
    )  # fmt: skip


def _entropy(p: float) -> float:
    """Bits of a yes or no."""
    return -sum(x * math.log2(x) for x in (p, 1 - p) if x > 0)


def _gauged(checks: Checks, gauge: Gauge, h: int, k: int) -> Trial:
    (a, sa), (b, sb) = checks.gauge(gauge, h), checks.gauge(gauge, k)
    bits = _gaussian_bits(np.array([a, b]), np.array([sa, sb]), np.array([0.5, 0.5]))
    return Trial(
        key=gauge.key, do=gauge.do, minutes=gauge.minutes, bits=bits, shows=gauge.shows, unit=gauge.unit,
        one=Told(band=Band(a, a - HALF * sa, a + HALF * sa)), other=Told(band=Band(b, b - HALF * sb, b + HALF * sb)),
    )  # fmt: skip


@lru_cache(maxsize=1)
def _quadrature() -> tuple[F, F]:
    """Points and weights for means over a standard normal distribution."""
    points, weights = np.polynomial.hermite_e.hermegauss(31)
    return points, weights / weights.sum()


def _gaussian_bits(middle: F, sd: F, share: F) -> float:
    """Information (bits) that a reading is expected to give about which of several normal distributions it came from."""
    points, weights = _quadrature()
    y = middle[:, None] + sd[:, None] * points
    each = np.exp(-0.5 * ((y[:, :, None] - middle) / sd) ** 2) / sd
    own = each[
        np.arange(middle.size)[:, None], np.arange(points.size)[None, :], np.arange(middle.size)[:, None]
    ]
    with np.errstate(divide="ignore", invalid="ignore"):
        told = np.log2(own / (each @ share))
    return float(np.sum(share[:, None] * weights * told))


def next_readings(
    checks: Checks, shares: Mapping[str, float], leaders: Mapping[str, int], most: int = 3
) -> tuple[NextReading, ...]:
    """Readings that would tell most about which cause it is. gain: share of the doubt they take away."""
    keys = [key for key, share in shares.items() if share > 0.01]
    weight = np.array([shares[key] for key in keys])
    weight = weight / weight.sum()
    doubt = float(-np.sum(weight * np.log2(weight)))
    if doubt < 0.05 or len(keys) < 2:
        return ()
    rows = []
    for g in checks.gauges:
        if not checks.free(g, keys[:3]):
            continue
        told = np.array([checks.gauge(g, leaders[key]) for key in keys])
        gain = min(_gaussian_bits(told[:, 0], told[:, 1], weight) / doubt, 1.0)
        rows.append(
            NextReading(
                what=g.do, procedure=g.procedure, why=g.shows, gain=gain, minutes=g.minutes,
                gain_per_minute=gain / g.minutes,
            )
        )  # fmt: skip
    rows.sort(key=lambda r: -r.gain / (1 + r.minutes / HURRY))
    return tuple(r for r in rows if r.gain > 0.05)[:most]
