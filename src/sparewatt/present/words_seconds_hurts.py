"""What can go wrong in a scene, found in its happenings and peaks, and told with the step that brought it about."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from sparewatt.errors import SparewattError
from sparewatt.parts import Rig
from sparewatt.present import words_numbers as say
from sparewatt.present.words_numbers import sentence
from sparewatt.present.words_seconds_reading import delay, mean_end, track_of
from sparewatt.present.words_seconds_rows import board_name, load_name, moment, often, part_place, series
from sparewatt.rig.hookup import hookup
from sparewatt.studies.scenes.answers import Happening, Peak, SceneAnswer, StepRow

__all__ = ["Hurt", "caused", "ends_well", "hurts"]

SOON = 0.05  # s: sooner than this is at once
TURNS, STANDS = 0.05, 0.5  # of the speed on its plate, and s: slower for longer than that a tool stands still
CLOSE = 5.0  # s between two sleeps that belong together
BEFORE = 2.0  # s before a stall in which a load that takes nothing is not its cause
SCARCE, NEARLY = 0.1, 0.9  # shares of the time it is asked for: served hardly ever, and nearly always
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
    found = [*_over(a.peaks), *_hiccup(a, _board(a, rig)), *_stalls(a), *_single(a), *_standing(a, rig)]
    if not found and a.ends == "asleep":
        found = _asleep(a)
    return sorted(found, key=lambda h: h.at if math.isfinite(h.at) else math.inf)


def ends_well(found: Sequence[Hurt]) -> bool:
    """What went wrong is over when it holds in the end, so that this is worth saying."""
    return all(h.key in ("stalls", "hiccup", "load_quits", "tool stands") for h in found)


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
    """What a part has to swallow."""
    part, _, span = p.name.partition(", ")
    return f"{say.the(part)} has to burn {_amount(p.value, 'J')} {span or 'in all'}"


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
    """The board that sleeps and wakes: its rhythm, and whether the load is served all the same; then those of the others."""
    sleeps, wakes = _of(a, "sleeps"), _of(a, "wakes")
    runs = [run for h in sleeps if (run := series(h)) is not None]
    count = len(sleeps) - len(runs) + sum(run.times for run in runs)
    others = _others(a)
    if not sleeps or (count < 3 and a.ends not in ("hiccups", "asleep")):
        return _hiccup_elsewhere(a, others)
    first = sleeps[0]
    if count < 3 or not (wakes or runs):
        if a.ends == "asleep":
            return [Hurt(at=first.at, key="hiccup", says=f"{board} goes to sleep", rest=" and stays asleep")]
        return [Hurt(at=first.at, key="hiccup", says=f"{board} sleeps", rest=", wakes, and sleeps again")]
    gaps = [run.period for run in runs] or np.diff([h.at for h in sleeps]).tolist()
    rhythm = often(float(np.median(gaps)))
    goes_on = a.ends in ("hiccups", "asleep")
    counted = "" if goes_on else f", {count} times in all"
    again = f", wakes and sleeps again{' ' + rhythm if rhythm else ''}{counted}"
    too = f", and so do {_those(others)}" if others else ""
    return [Hurt(at=first.at, key="hiccup", says=f"{board} sleeps", rest=again + too + _all_the_same(a))]


def _hiccup_elsewhere(a: SceneAnswer, others: Sequence[int]) -> list[Hurt]:
    """The boards of other rigs that sleep and wake while that of the main rig does not."""
    if not others:
        return []
    first = next(h for h in a.happenings if h.key == "sleeps" and h.unit_of in others)
    does = "sleeps and wakes" if len(others) == 1 else "sleep and wake"
    says = f"{_those(others)} {does} again and again"
    return [Hurt(at=first.at, key="hiccup", says=says, rest=_all_the_same(a))]


def _others(a: SceneAnswer) -> list[int]:
    """The other rigs on the bus whose boards sleep again and again while their riders ride."""
    found = []
    for unit in sorted({h.unit_of for h in a.happenings if h.unit_of > 0}):
        sleeps = [
            h.at for h in a.happenings if h.key == "sleeps" and h.unit_of == unit and h.at < _gone(a, unit)
        ]
        if sum(after - before < CLOSE for before, after in pairwise(sleeps)) >= 2:
            found.append(unit)
    return found


def _gone(a: SceneAnswer, unit: int) -> float:
    """When the rider of another rig steps off: the freewheel lets go at a step that says so."""
    lets = [h.at for h in a.happenings if h.key == "freewheel_opens" and h.unit_of == unit]
    offs = [s.at for s in a.steps if s.understood.endswith("steps off")]
    return min((at for at in offs if any(abs(at - one) < SOON for one in lets)), default=math.inf)


def _those(units: Sequence[int]) -> str:
    """ "the board of rig 2", "the boards of rigs 2 and 4"."""
    several = len(units) > 1
    return f"the board{'s' * several} of rig{'s' * several} {say.and_list([str(k + 1) for k in units])}"


def _all_the_same(a: SceneAnswer) -> str:
    """How much of what it is meant to get the load gets while the board sleeps and wakes."""
    if not (a.asked > 0 and math.isfinite(a.served_time)):
        return ": it never gets going" if a.ends in ("hiccups", "asleep") else ""
    share = a.served_time / a.asked
    gets = "gets amps" if a.ask.load == "charge" else "gets what it asks for"
    if share < SCARCE:
        return ": it never gets going" if a.ends in ("hiccups", "asleep") else ""
    if share >= NEARLY:
        return f"; {load_name(a)} {gets} nearly all the time even so"
    return f"; {load_name(a)} {gets} {say.percent(share)} of the time"


def _stalls(a: SceneAnswer) -> list[Hurt]:
    """The crank that stands still, by the load or by the rig's own drag; then the riders of other rigs."""
    elsewhere = [
        Hurt(at=h.at, key="stalls", says=f"the rider of rig {h.unit_of + 1} is dragged to a stop")
        for h in {
            h.unit_of: h for h in reversed(a.happenings) if h.key == "stalls" and h.unit_of > 0
        }.values()
    ]
    stalls = _of(a, "stalls")
    if not stalls:
        return elsewhere
    again = ""
    if len(stalls) > 1:
        again = f", {len(stalls)} times in all"
    elif any(h.at > stalls[0].at for h in _of(a, "moves_again")):
        again = "; after that you get it moving again"
    who = (
        "the rig"
        if a.ask.load == "charge"
        else load_name(a)
        if _fed(a, stalls[0].at)
        else "the rig's own drag"
    )
    return [Hurt(at=stalls[0].at, key="stalls", says=f"{who} drags you to a stop", rest=again), *elsewhere]


def _fed(a: SceneAnswer, at: float) -> bool:
    """Whether the load took anything in the seconds before."""
    gets = track_of(a, "load_power")
    if gets is None:
        return True
    near = (a.times <= at) & (a.times >= at - BEFORE)
    return bool(near.any() and np.nanmax(gets.most[near]) > 0.5)


def _single(a: SceneAnswer) -> list[Hurt]:
    """What happens once and matters: a fuse, a battery that drives, a load that quits for good, an empty reserve."""
    found = []
    for key, words in (
        ("fuse_opens", "a fuse opens"),
        ("battery_drives", "the battery drives the machine, so the rig turns by itself"),
        ("reserve_empty", "your reserve is empty"),
    ):
        if members := _of(a, key):
            found.append(Hurt(at=members[0].at, key=key, says=words, rest=_after(a, key)))
    for unit in sorted({h.unit_of for h in a.happenings if h.key == "over_volts" and h.unit_of > 0}):
        first = next(h for h in a.happenings if h.key == "over_volts" and h.unit_of == unit)
        volts = f" at {say.amount(first.value, 'V')}" if math.isfinite(first.value) else ""
        says = f"the volts at rig {unit + 1} pass what a part there stands{volts}"
        found.append(Hurt(at=first.at, key="over", says=says))
    quits, starts = _of(a, "load_quits"), _of(a, "load_restarts")
    if quits and (not starts or starts[-1].at < quits[-1].at):
        found.append(Hurt(at=quits[-1].at, key="load_quits", says=f"{load_name(a)} quits for want of volts"))
    return found


def _standing(a: SceneAnswer, rig: Rig) -> list[Hurt]:
    """A tool that gets its amps and stands: from the start, or brought to a stop by its work."""
    speed, gets = track_of(a, "tool_speed"), track_of(a, "load_power")
    load = next((one for one in rig.load if one.name == a.ask.load), None)
    if speed is None or gets is None or load is None:
        return []
    slow = TURNS * load.plate_speed.value if load.plate_speed is not None else 1.0
    stands = (speed.most < slow) & (gets.least > 1.0)
    run = np.zeros(stands.size, dtype=int)
    for k in range(1, stands.size):
        run[k] = run[k - 1] + 1 if stands[k] and stands[k - 1] else 0
    long = np.flatnonzero(run * (a.duration / max(a.times.size - 1, 1)) >= STANDS)
    if not long.size:
        return []
    first = int(long[0] - run[long[0]])
    name, less = load_name(a), ": the amps that it gets push less than its work asks"
    turned = bool((speed.values[:first] > slow).any())
    says = f"{name} is brought to a stop by its work" if turned else f"{name} stands still"
    return [Hurt(at=float(a.times[first]), key="tool stands", says=says, rest=less)]


def _after(a: SceneAnswer, key: str) -> str:
    """What comes of it: pedals that turn by themselves, or what is left when the reserve is gone."""
    if key == "battery_drives" and a.ends == "stopped" and mean_end(a, "cadence") > 0.5:
        return ", pedals and all: keep hands and feet clear"
    watts = mean_end(a, "rider_power")
    if key == "reserve_empty" and a.ends == "holds" and math.isfinite(watts):
        gets = mean_end(a, "load_power")
        left = f", and {load_name(a)} gets {say.watts(gets)}" if gets > 0.5 else ""
        return f"; from then on {say.watts(watts)} is what your legs give{left}"
    return ""


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
