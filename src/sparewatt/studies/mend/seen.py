"""Moments of a ride as readings with their spreads, from what was typed or from lines of the readings file.

A meter's digits are its own error; its percentage is a gain that all its readings share. On top comes what a reading of a
live ride is worth: needles swing with every push, and the model is no more than a model.
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sparewatt.errors import BadRequest, Problem
from sparewatt.language.moment import FEELS, JOINED, Moment, feel_of
from sparewatt.studies.bench.answers import Entry
from sparewatt.studies.bench.known_taken import taken_of
from sparewatt.studies.bench.reading_groups import settled
from sparewatt.studies.bench.reading_meters import last_digit, meter_for
from sparewatt.studies.mend.tables import Tables

__all__ = ["UNITS", "VALUES", "Seen", "checked", "moments_of", "seen_of"]

F = NDArray[np.float64]
NAN = math.nan
UNITS = {
    "cadence": "rad/s",
    "speed": "rad/s",
    "volts": "V",
    "amps": "A",
    "volts_out": "V",
    "amps_out": "A",
    "heat": "K",
}
VALUES = tuple(UNITS)
_METER = {"cadence": "counted_speed", "speed": "filmed_speed", "volts": "volts", "amps": "amps", "volts_out": "volts",
          "amps_out": "amps", "heat": "hand"}  # fmt: skip
# Beside the meter's own error, what a reading of a live ride is worth: a share, and a fixed part in SI (common practice)
_LIVE = {"cadence": (0.0, 0.08), "speed": (0.005, 0.0), "volts": (0.01, 0.05), "amps": (0.03, 0.06),
         "volts_out": (0.01, 0.06), "amps_out": (0.03, 0.06), "heat": (0.0, 6.0)}  # fmt: skip
# Legs' watts over what they hold by then, as people say it, and how loosely (common practice, no source)
_FELT = {"very easy": 0.25, "easy": 0.5, "as usual": 0.75, "hard": 1.0, "very hard": 1.3}
FEEL_SD, EFFORT_SD, TOLD_EFFORT_SD = 0.25, 0.35, 0.15
_ENDLESS = {
    "very easy": (FEEL_SD, 20.0),
    "very hard": (20.0, FEEL_SD),
}  # below the first and above the last: no end
FELT = ("heat", "feel", "effort")
TAIL_READ, TAIL_FELT = 4.0, 12.0  # a figure is mistyped sooner than a feel is
LESS_SD = 0.6  # below the usual effort: nobody always pushes as hard
# Kinds of reading that can stand for a moment -> (values taken over, what is joined, turned by a drill)
_KINDS: dict[str, tuple[dict[str, str], str, bool]] = {
    "riding": ({"cadence": "cadence", "volts": "volts", "amps": "amps", "speed": "speed", "volts_out": "volts_out",
                "amps_out": "amps_out", "machine_heat": "heat"}, "load", False),
    "group_share": ({"cadence": "cadence", "volts": "volts", "amps": "amps"}, "load", False),
    "edge_ride": ({"cadence": "cadence", "volts": "volts", "amps": "amps"}, "load", False),
    "load_drop": ({"cadence": "cadence", "volts_before": "volts", "amps_before": "amps"}, "load", False),
    "hard_effort": ({"cadence": "cadence", "volts": "volts", "amps": "amps", "held_for": "ridden"}, "load", False),
    "gentle_step": ({"cadence": "cadence", "volts": "volts", "amps": "amps"}, "load", False),
    "top_volts": ({"cadence": "cadence", "volts": "volts"}, "nothing", False),
    "first_turn": ({"cadence": "cadence", "volts": "volts"}, "nothing", False),
    "open_volts": ({"speed": "speed", "volts": "volts"}, "nothing", True),
    "loaded_volts": ({"speed": "speed", "volts": "volts", "amps": "amps"}, "lamp", True),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Readings in one row: moment, what, value, spread; gain: index of the shared gain or -1, gains: their spreads.

    legs: rows of feel and effort, which are logarithms; they lie above the meters' rows in the same arrays.
    """

    moment: NDArray[np.int64]
    what: tuple[str, ...]
    value: F
    sd: F
    less: F  # spread where what is predicted is below what was said
    tail: F  # degrees of freedom: how readily a value this far off was mistyped
    gain: NDArray[np.int64]
    gains: F

    @property
    def size(self) -> int:
        """How many readings there are."""
        return len(self.what)

    def only(self, keep: Sequence[int]) -> Seen:
        """Some of the readings."""
        at = np.array(keep, dtype=np.int64)
        return dataclasses.replace(
            self, moment=self.moment[at], what=tuple(self.what[k] for k in keep), value=self.value[at],
            sd=self.sd[at], less=self.less[at], gain=self.gain[at], tail=self.tail[at],
        )  # fmt: skip


def checked(moments: Iterable[Moment], gears: Sequence[str]) -> tuple[Moment, ...]:
    """The moments that say something; BadRequest for a word that is not known."""
    kept = []
    for m in moments:
        where = f"moment {m.at}" if m.at else "a moment"
        feel = feel_of(m.feel)
        if m.feel and not feel:
            hint = ", ".join(f"'{word}'" for word in FEELS)
            raise BadRequest(Problem(where, f"'{m.feel}' is no feel that is known here", hint, m.feel))
        if m.joined not in JOINED:
            raise BadRequest(Problem(where, f"joined must be one of {', '.join(JOINED)}", "", m.joined))
        if m.gear and m.gear not in gears:
            raise BadRequest(
                Problem(where, f"this rig has no gear '{m.gear}'", f"gears: {', '.join(gears)}", m.gear)
            )
        if m.joined == "lamp" and not math.isfinite(m.amps):
            continue
        if feel or any(math.isfinite(getattr(m, what)) for what in VALUES):
            kept.append(dataclasses.replace(m, feel=feel))
    return tuple(kept)


def seen_of(moments: Sequence[Moment], tables: Tables) -> Seen:
    """Every reading with its spread."""
    rows: list[tuple[int, str, float, float, float, str, float]] = []
    for n, m in enumerate(moments):
        written = dict(m.spreads)
        for what in VALUES:
            value = float(getattr(m, what))
            if math.isfinite(value) and not (m.drill and what == "cadence"):
                own, gain, share = _spread(m, what, value, written.get(what, NAN))
                rows.append((n, what, value, own, own, gain, share))
        if m.drill:
            continue
        if m.feel:
            level = math.log(_FELT[m.feel] * float(tables.held[n]))
            more, less = _ENDLESS.get(m.feel, (FEEL_SD, FEEL_SD))
            rows.append((n, "feel", level, more, less, "", 0.0))
        if m.joined == "load":
            told = m.effort > 0
            sd = TOLD_EFFORT_SD if told else EFFORT_SD
            usual = math.log(float(tables.effort[n]))
            rows.append((n, "effort", usual, sd, 2 * sd if told else LESS_SD, "", 0.0))
    names = list(dict.fromkeys(row[5] for row in rows if row[5]))
    return Seen(
        moment=np.array([row[0] for row in rows], dtype=np.int64), what=tuple(row[1] for row in rows),
        value=np.array([row[2] for row in rows]), sd=np.array([row[3] for row in rows]),
        less=np.array([row[4] for row in rows]),
        tail=np.array([TAIL_FELT if row[1] in FELT else TAIL_READ for row in rows]),
        gain=np.array([names.index(row[5]) if row[5] else -1 for row in rows], dtype=np.int64),
        gains=np.array([next(row[6] for row in rows if row[5] == name) for name in names]),
    )  # fmt: skip


def _spread(m: Moment, what: str, value: float, written: float) -> tuple[float, str, float]:
    """(own spread, name of the shared gain, its share)."""
    unit = UNITS[what]
    name = m.amps_meter if unit == "A" else m.volts_meter if unit == "V" else ""
    share_live, fixed_live = _LIVE[what]
    live = math.hypot(share_live * value, fixed_live)
    if math.isfinite(written):
        return math.hypot(written, live), "", 0.0
    meter = meter_for(unit, name, _METER[what])
    step = last_digit(value, "", unit) if meter.digits else 0.0
    own = math.hypot(meter.digits * step / math.sqrt(3), step / math.sqrt(12), meter.fixed, live)
    if unit in ("V", "A"):
        return own, f"{unit} {name.casefold().strip()}", meter.share
    return math.hypot(own, meter.share * value), "", 0.0


def moments_of(entries: Iterable[Entry], *, load: str = "", fine: Iterable[str] = ()) -> tuple[Moment, ...]:
    """Moments from lines of the readings file, of the kinds that are read on a ride or at a drill.

    load: what was joined. fine: marks (`at`) of those that were read when all was still well.
    """
    taken, _unusable = taken_of(settled(entries))
    well, found = set(fine), []
    for t in taken:
        if t.kind not in _KINDS or not t.used:
            continue
        over, joined, drill = _KINDS[t.kind]
        values = {new: float(np.median(t.values[old].value)) for old, new in over.items() if old in t.values}
        meters = {e.what: e.meter for e in t.entries}
        spreads = tuple((over[e.what], e.sd) for e in t.entries if e.what in over and math.isfinite(e.sd))
        spreads += tuple(
            (w, float(t.values[w].sd[0])) for w in ("speed", "cadence") if w in over and w in t.values
        )
        kind_gear = t.part if t.kind in ("riding", "top_volts", "first_turn", "edge_ride") else ""
        found.append(
            Moment(
                at=t.at, gear=kind_gear, load=load if joined == "load" else "", joined=joined, drill=drill,
                fine=t.at in well, volts_meter=meters.get("volts", ""), amps_meter=meters.get("amps", ""),
                spreads=spreads, lines=t.lines, **values,  # type: ignore[arg-type]
            )
        )  # fmt: skip
    return tuple(found)
