"""What is wrong, and what would help most? Causes ranked from a few moments of a ride, and improvements ranked."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sparewatt.errors import BadRequest, Problem, SparewattError
from sparewatt.files import Loaded, tried
from sparewatt.language.moment import Moment
from sparewatt.language.moment_reader import EXAMPLE, moments_told
from sparewatt.present import words_mend
from sparewatt.quantities.units import natural_unit, render
from sparewatt.rig.bind import gear_names
from sparewatt.rig.fill import fill
from sparewatt.studies.bench.answers import MendAnswer
from sparewatt.studies.mend.answers import CauseMore, Mended
from sparewatt.tasks.answer import Answer
from sparewatt.tasks.ask import CHARGE, Given, Where, ask_from, load_named, open_place
from sparewatt.tasks.keys import flatten
from sparewatt.tasks.keys_mend import MEND, Ranked
from sparewatt.tasks.proving import brought
from sparewatt.tasks.questions import Changes, answered

if TYPE_CHECKING:
    from sparewatt.parts import Rig
    from sparewatt.rig.asking import Ask
    from sparewatt.rig.fill import Filled

__all__ = ["mend", "mend_moments", "mend_right"]

Told = Iterable[str | Moment]


def mend(
    place: Where,
    *,
    moments: Told = (),
    well: Told = (),
    readings: bool = False,
    well_until: str = "",
    rider: str | None = None,
    load: str | None = None,
    gear: str | None = None,
    effort: Given = None,
    better: bool = True,
    changes: Changes = (),
) -> Answer:
    """What is wrong, and what would help most?

    moments: what was read on the ride, typed ("cadence 62, 11.4 V, 3.1 A, heavy"); well: the same from when all was still
    well. readings: also the lines of the readings file beside the rig that were taken riding or with a drill; well_until: a
    date up to which those count as well. gear, load: where a moment does not say. better: also what would help most.
    """
    from sparewatt.studies.mend.causes import mend as study

    loaded, origin = open_place(place, changes)
    filled = fill(loaded.rig)
    ask = ask_from(filled.rig, rider=rider, load=load, gear=gear, effort=effort)
    told = moments_told(moments, well, gears=gear_names(filled.rig), loads=_loads(filled.rig))
    if readings or well_until:
        told = (*_kept(origin, filled.rig, load, well_until), *told)
    if not told and readings:
        hint = "ride, and write it down: bench lists the procedures"
        raise BadRequest(
            Problem("readings", "no line of the readings file was taken riding or with a drill.", hint)
        )
    if not told:
        return _nothing_read(loaded, filled, origin, ask, better)
    if all(m.fine for m in told):
        hint = f"type what you see now: {EXAMPLE}"
        raise BadRequest(Problem("moments", "every moment is from when all was well.", hint))
    told = tuple(_filled_in(m, ask.gear) for m in _named(told))
    ask = dataclasses.replace(ask, cadence=None)
    found = study(filled, told, ask=ask, better=better)
    offers = brought(loaded, filled, ask, found.answer.improvements)
    found = dataclasses.replace(found, answer=dataclasses.replace(found.answer, improvements=offers))
    right = tuple(mend_right(loaded, more) for more in found.more)
    ranked = Ranked(found=found, right=right, against=_against(found))
    said = answered(
        "mend", filled, origin, found.answer, flatten(MEND, ranked), answer=words_mend.mend_answer(found),
        verdict=_verdict(found), caveats=found.answer.caveats,
    )  # fmt: skip
    return dataclasses.replace(said, study=ranked)


def _nothing_read(loaded: Loaded, filled: Filled, origin: str, ask: Ask, better: bool) -> Answer:
    """No reading yet: only what would help most."""
    from sparewatt.studies.mend.causes import improvements

    ask = dataclasses.replace(ask, cadence=None)
    rows = brought(loaded, filled, ask, improvements(filled, ask)) if better else ()
    answer = MendAnswer(
        rig=filled.rig.name,
        signs=(),
        causes=(),
        healthy=math.nan,
        improvements=rows,
        says="",
        sources=("dc_machine",),
    )
    found = Mended(answer=answer, moments=(), more=())
    ranked = Ranked(found=found, right=(), against=())
    says = words_mend.nothing_read(answer, EXAMPLE)
    said = answered("mend", filled, origin, answer, flatten(MEND, ranked), answer=says, verdict=None)
    return dataclasses.replace(said, study=ranked)


def mend_moments(place: Where, *, changes: Changes = (), well_until: str = "") -> tuple[Moment, ...]:
    """The moments in the readings file beside a rig that the fault-finder can use."""
    loaded, origin = open_place(place, changes)
    return _kept(origin, loaded.rig, None, well_until)


def _loads(rig: Rig) -> tuple[str, ...]:
    return (*(x.name for x in rig.load), *([CHARGE] if rig.battery is not None else []))


def _kept(origin: str, rig: Rig, load: str | None, well_until: str) -> tuple[Moment, ...]:
    """Moments of the readings file, those up to a date as well."""
    from sparewatt.studies.mend.seen import moments_of
    from sparewatt.tasks.benching import bench_readings

    found = bench_readings(origin, partly=True)
    joined = load_named(rig, load) or ""
    every = moments_of(found.ready, load=joined)
    fine = [m.at for m in every if well_until and m.at[: len(well_until)] <= well_until]
    known = gear_names(rig)
    return tuple(
        dataclasses.replace(m, fine=m.fine or m.at in fine, gear=m.gear if m.gear in known else "")
        for m in every
    )


def _named(moments: tuple[Moment, ...]) -> tuple[Moment, ...]:
    """A name for each, where there are several."""
    sick = [m for m in moments if not m.fine]
    found = []
    for m in moments:
        same = sick if not m.fine else [x for x in moments if x.fine]
        number = 1 + next(n for n, x in enumerate(same) if x is m)
        name = "when well" if m.fine else "now" if len(moments) > len(sick) and len(sick) == 1 else "moment"
        plain = "" if len(moments) == 1 else name if len(same) == 1 else f"{name} {number}"
        found.append(dataclasses.replace(m, at=m.at or plain))
    return tuple(found)


def _filled_in(m: Moment, gear: str | None) -> Moment:
    return dataclasses.replace(m, gear=m.gear or gear or "") if not m.drill else m


def _verdict(found: Mended) -> str:
    """A word of the checks: whether to ride on."""
    if words_mend.stops(found.answer):
        return "stop"
    return "not refused" if found.answer.causes[0].key == "normal" else "look again"


def _against(found: Mended) -> tuple[str, ...]:
    """What speaks against riding on as it is: the first cause, and every likely one that stops."""
    first = found.answer.causes[0]
    keys = [first.key] if first.key != "normal" else []
    return tuple(dict.fromkeys([*keys, *(c.key for c in words_mend.stops(found.answer))]))


def mend_right(loaded: Loaded, more: CauseMore) -> tuple[tuple[str, str], ...]:
    """The edit of the rig file that puts a wrong number right; none where no number is wrong."""
    if not more.number:
        return ()
    if more.number.endswith("driven_teeth"):
        edits = _swapped(loaded.rig, more.number)
    else:
        unit = natural_unit(more.value, more.value_unit) if more.value_unit != "1" else "1"
        edits = ((more.number, render(more.value, unit, 3) if unit != "1" else f"{more.value:.3g}"),)
    try:
        tried(loaded, edits)
    except SparewattError:
        return ()
    return edits


def _swapped(rig: Rig, key: str) -> tuple[tuple[str, str], ...]:
    """Teeth the other way round."""
    stage = rig.stage[int(key.split(".")[1])]
    place = key.removesuffix("driven_teeth")
    (front,), (back,) = stage.driver_teeth, stage.driven_teeth
    return ((f"{place}driver_teeth", f"[{back}]"), (f"{place}driven_teeth", f"[{front}]"))
