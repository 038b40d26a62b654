"""A bench procedure on one page, blank, with a box for every reading: for a bench where no screen wants to be."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence

from sparewatt.errors import BadRequest, Problem
from sparewatt.present.numbers import raised
from sparewatt.present.press import Press
from sparewatt.present.sheet import PAPERS
from sparewatt.quantities import render
from sparewatt.rig.fill import Filled
from sparewatt.studies.bench.answers import Slot, Step
from sparewatt.studies.bench.procedures import Guide, for_rig, screening
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS
from sparewatt.studies.bench.reading_meters import METERS, range_for

__all__ = ["bench_sheet_data", "bench_sheet_pdf"]

TIGHTEST = 3
STRIP = 12  # boxes side by side
BESIDE = 4  # so many values, read fewer times than that, stand side by side
COUNTED = ("turns", "turn_time")  # written into the box of the speed: "24 in 5"
LEGS = "Answer for yourself, and do not write it down. One yes: only the gentle way, and ask a doctor."
Data = dict[str, object]


def bench_sheet_pdf(
    one: Guide, *, filled: Filled | None = None, paper: str = "a4", inch: bool = False
) -> bytes:
    """The procedure as one page of PDF. filled: the rig, so that each box says what it should show."""
    if paper not in PAPERS:
        raise BadRequest(Problem("paper", "this paper is not known", " or ".join(PAPERS), paper))
    with Press("bench_sheet.typ") as press:
        for tight in range(TIGHTEST + 1):
            content = {
                **bench_sheet_data(one, filled=filled),
                "paper": PAPERS[paper],
                "tight": tight,
            }
            if press.pages(raised(json.dumps(content, ensure_ascii=False, allow_nan=False))) == 1:
                break
        return press.pdf()


def bench_sheet_data(one: Guide, *, filled: Filled | None = None) -> Data:
    """Everything the template reads."""
    procedure = for_rig(one, filled) if filled is not None else one.procedure
    said: set[str] = set()
    rides = one.effort != "none"
    return {
        "title": procedure.title,
        "rig": filled.rig.name if filled is not None else "",
        "chapter": one.chapter,
        "minutes": f"{procedure.minutes:.0f} minutes",
        "why": procedure.why,
        "cautions": list(procedure.cautions),
        "needs": ", ".join(procedure.needs),
        "fixes": "; ".join(procedure.fixes),
        "typical": procedure.typical,
        "asks": [LEGS, *procedure.screens] if rides else [],
        "signs": list(screening().stop_signs) if rides else [],
        "stop": screening().stop if rides else "",
        "steps": [_step(step, filled is not None, said) for step in procedure.steps],
        "meters": _meters(procedure.steps),
    }


def _step(step: Step, ranged: bool, said: set[str]) -> Data:
    rows = _rows(step.slots, ranged, said)
    beside = (
        len(rows) >= BESIDE
        and all(row["boxes"] == rows[0]["boxes"] for row in rows)
        and step.slots[0].repeat < BESIDE
    )
    return {"says": step.says, "caution": step.caution, "rows": rows, "beside": beside}


def _rows(slots: Sequence[Slot], ranged: bool, said: set[str]) -> list[Data]:
    """One row for each value, with as many boxes as it is read; turns counted in a time share the box of the speed.

    Range and likely numbers stand where a value is first asked for; the moments of an effort go without their times.
    """
    rows: list[Data] = []
    whats = [READINGS[slot.what].what for slot in slots]
    for slot in slots:
        reading = READINGS[slot.what]
        series = KINDS[reading.kind].series
        if (reading.what in COUNTED and "speed" in whats) or (
            series and reading.what == "time" and not slot.needed
        ):
            continue
        counted = reading.what == "speed" and "turns" in whats
        once = reading.stays and any(not READINGS[other.what].stays for other in slots)
        boxes = 1 if once or (series and reading.what == "held_for") else slot.repeat
        rows.append(
            {
                "says": reading.says + (", or turns in seconds" if counted else ""),
                "hint": _hint(slot, ranged) if slot.what not in said else "",
                "unit": "" if reading.unit in ("1", "yes") else slot.unit,
                "needed": slot.needed or counted,
                "boxes": boxes,
                "strips": math.ceil(boxes / STRIP),
            }
        )
        said.add(slot.what)
    return rows


def _hint(slot: Slot, ranged: bool) -> str:
    """The range to start on, and what this rig should show; nothing where any number would do."""
    reading = READINGS[slot.what]
    scale = range_for(reading.unit, slot.high) if ranged else reading.scale
    told = [f"meter on {scale}"] if scale else []
    if (
        ranged
        and reading.unit not in ("yes", "1")
        and reading.low < slot.low
        and slot.high < reading.high
        and slot.low > 0
    ):
        low, high = (render(x, slot.unit, 2).partition(" ")[0] for x in (slot.low, slot.high))
        told.append(f"should be {low} to {high}")
    return ", ".join(told)


def _meters(steps: Sequence[Step]) -> list[str]:
    """The usual spread of each instrument that is read here."""
    used = dict.fromkeys(READINGS[slot.what].meter for step in steps for slot in step.slots)
    return [METERS[key].says for key in used if METERS[key].unit != "yes"]
