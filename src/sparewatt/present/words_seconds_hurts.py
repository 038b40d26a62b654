"""What can go wrong in a scene, found in its happenings and peaks, and told with the step that brought it about."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sparewatt.errors import SparewattError
from sparewatt.parts import Rig
from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import sentence
from sparewatt.present.words_seconds_reading import delay
from sparewatt.present.words_seconds_rows import board_name, load_name, moment, often, part_place, series
from sparewatt.rig.hookup import hookup
from sparewatt.studies.scenes.answers import Happening, Peak, SceneAnswer, StepRow

__all__ = ["Hurt", "caused", "ends_well", "hurts"]

SOON = 0.05  # s: sooner than this is at once
_CLIMBS = {"V": "the volts climb to", "A": "the amps climb to", "W": "the watts climb to", "K": "it heats up to",
           "rad/s": "the machine races to"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Hurt:
    """One thing that goes wrong. says: subject and verb; rest: what follows the time ("; it never gets going")."""

    at: float
    key: str
    says: str
    rest: str = ""
    within: bool = False  # the time is how long it takes to get there


def hurts(a: SceneAnswer, rig: Rig) -> list[Hurt]:
    """Everything that goes wrong, in the order of time, one of a kind."""
    found = [*_over(a.peaks), *_hiccup(a, _board(a, rig)), *_stalls(a), *_single(a)]
    if not found and a.ends == "asleep":
        found = _asleep(a)
    return sorted(found, key=lambda h: h.at if math.isfinite(h.at) else math.inf)


def ends_well(found: Sequence[Hurt]) -> bool:
    """What went wrong is over when it holds in the end, so that this is worth saying."""
    return all(h.key in ("stalls", "hiccup", "load_quits") for h in found)


def caused(a: SceneAnswer, one: Hurt) -> str:
    """The first thing that matters, after the step that brought it about: "Pull the plug at 20 s and the volts climb..."."""
    if not math.isfinite(one.at):
        return f"{one.says}{one.rest}"
    step = _before(a, one.at)
    if step is None:
        if a.start == "rest":
            return f"you set off, and {one.says}{_later(one.at, one.within)}{one.rest}"
        if one.at <= SOON:
            return f"{one.says}{one.rest}"
        return f"{one.says} after {delay(one.at)}{one.rest}"
    words = sentence(step.understood or step.text)[:-1]
    at = f" at {_clock(step.at, a.duration)}" if step.at > SOON else ""
    return f"{words}{at} and {one.says}{_later(one.at - step.at, one.within)}{one.rest}"


def _clock(t: float, duration: float) -> str:
    """A time without a needless nought behind the point."""
    return moment(t, duration).replace(".00 s", " s").replace(".0 s", " s")


def _later(wait: float, within: bool) -> str:
    if not math.isfinite(wait) or wait <= SOON:
        return " at once"
    span = delay(wait)
    return f" within {span}" if within else f" {span} later"


def _before(a: SceneAnswer, at: float) -> StepRow | None:
    """The last step before something."""
    earlier = [s for s in a.steps if math.isfinite(s.at) and s.at <= at + 1e-6]
    return max(earlier, key=lambda s: s.at) if earlier else None


# ---- the kinds -------------------------------------------------------------------------------------------------------


def _over(peaks: Sequence[Peak]) -> list[Hurt]:
    """Every unit in which a rating is passed, by its worst case."""
    worst: dict[str, Peak] = {}
    for p in peaks:
        if (
            p.over
            and p.limit > 0
            and (p.unit not in worst or p.value / p.limit > worst[p.unit].value / worst[p.unit].limit)
        ):
            worst[p.unit] = p
    return [
        Hurt(at=p.at, key="over", says=_burns(p), rest=f" and stands {_amount(p.limit, p.unit)}")
        if p.unit == "J"
        else Hurt(
            at=p.at,
            key="over",
            says=f"{_CLIMBS.get(p.unit, 'it comes to')} {_amount(p.value, p.unit)}",
            rest=f": {_stands(p)}",
            within=True,
        )
        for p in worst.values()
    ]


def _burns(p: Peak) -> str:
    """What a part has swallowed by the end of the scene."""
    return f"{part_place(p.name)[0]} has to burn {_amount(p.value, 'J')} in all"


def _stands(p: Peak) -> str:
    """ "the step-up board stands 45 V at its input"."""
    part, where = part_place(p.name)
    return f"{part} stands {_amount(p.limit, p.unit)}{where}"


def _amount(value: float, unit: str) -> str:
    return say.amount(value, unit) if unit else f"{value:.3g}"


def _of(a: SceneAnswer, key: str) -> list[Happening]:
    return sorted(
        (h for h in a.happenings if h.key == key and h.unit_of == 0 and math.isfinite(h.at)),
        key=lambda h: h.at,
    )


def _hiccup(a: SceneAnswer, board: str) -> list[Hurt]:
    """The board that sleeps and wakes: its rhythm, and whether it ever gets going."""
    sleeps, wakes = _of(a, "sleeps"), _of(a, "wakes")
    runs = [run for h in sleeps if (run := series(h)) is not None]
    count = len(sleeps) - len(runs) + sum(run.times for run in runs)
    if not sleeps or (count < 3 and a.ends not in ("hiccups", "asleep")):
        return []
    first = sleeps[0]
    if count < 3 or not (wakes or runs):
        if a.ends == "asleep":
            return [Hurt(at=first.at, key="hiccup", says=f"{board} goes to sleep", rest=" and stays asleep")]
        return [Hurt(at=first.at, key="hiccup", says=f"{board} sleeps", rest=", wakes, and sleeps again")]
    gaps = [run.period for run in runs] or np.diff([h.at for h in sleeps]).tolist()
    rhythm = often(float(np.median(gaps)))
    goes_on = a.ends in ("hiccups", "asleep")
    after = ": it never gets going" if goes_on else f", {count} times in all"
    again = f", wakes and sleeps again{' ' + rhythm if rhythm else ''}{after}"
    return [Hurt(at=first.at, key="hiccup", says=f"{board} sleeps", rest=again)]


def _stalls(a: SceneAnswer) -> list[Hurt]:
    stalls = _of(a, "stalls")
    if not stalls:
        return []
    name = load_name(a)
    again = ""
    if len(stalls) > 1:
        again = f", {len(stalls)} times in all"
    elif any(h.at > stalls[0].at for h in _of(a, "moves_again")):
        again = "; after that you get it moving again"
    who = "the rig" if a.ask.load == "charge" else name
    return [Hurt(at=stalls[0].at, key="stalls", says=f"{who} drags you to a stop", rest=again)]


def _single(a: SceneAnswer) -> list[Hurt]:
    """What happens once and matters: a fuse, a battery that drives, a load that quits for good, an empty reserve."""
    found = []
    for key, words in (
        ("fuse_opens", "a fuse opens"),
        ("battery_drives", "the battery drives the machine, so the rig turns by itself"),
        ("reserve_empty", "your reserve is empty"),
    ):
        if members := _of(a, key):
            found.append(Hurt(at=members[0].at, key=key, says=words))
    quits, starts = _of(a, "load_quits"), _of(a, "load_restarts")
    if quits and (not starts or starts[-1].at < quits[-1].at):
        found.append(Hurt(at=quits[-1].at, key="load_quits", says=f"{load_name(a)} quits for want of volts"))
    return found


def _asleep(a: SceneAnswer) -> list[Hurt]:
    if a.served_time > 0 or not math.isfinite(a.served_time):
        return []
    return [
        Hurt(
            at=math.nan,
            key="asleep",
            says=f"nothing flows: the board never wakes, and {load_name(a)} gets nothing",
        )
    ]


def _board(a: SceneAnswer, rig: Rig) -> str:
    """The board of this load by its own name; just "the board" where the file does not say."""
    try:
        board = hookup(rig, a.ask.load).board
    except SparewattError:
        return "the board"
    return board_name(board.name if board is not None else "")
