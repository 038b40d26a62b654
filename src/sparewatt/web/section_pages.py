"""What the other section pages show: results of the studies turned into the few texts and links their templates need."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from markupsafe import Markup

from sparewatt.present import words_guard, words_loads
from sparewatt.present import words_numbers as spoken
from sparewatt.present.numbers import look_of
from sparewatt.present.words_numbers import sentence
from sparewatt.rig.outcome import Band, Caveat
from sparewatt.studies.answers import (
    GuardAnswer,
    HeapAnswer,
    LoadAnswer,
    LoadsAnswer,
    LoadState,
    RunPlan,
    WorthAnswer,
    WorthRow,
)
from sparewatt.tasks.answer import Answer
from sparewatt.web import pictures, rigwords
from sparewatt.web.desk import Desk
from sparewatt.web.match_page import NO_SHOW, cited, load_choices, offers, short_source, shows, told
from sparewatt.web.question import Question
from sparewatt.web.speech import plain, say, share, turns, without

__all__ = ["FACTS", "first", "guard", "heap", "loads", "worth"]

FACTS = ("plate", "age", "mass", "fitness", "battery")  # what the first screen takes besides the sentence
NOTHING = dict.fromkeys(("On a full battery", "Stop at", "Riding to put it back"), "")
STATES = {"start": "Starting", "idle": "Running light", "light": "Light work", "rated": "Full work"}


def first(desk: Desk, sentence: str = "", **typed: str) -> dict[str, Any]:
    """The first screen: the demos with their stories, and what was typed so far."""
    return {
        "demos": desk.demos(),
        "folder": desk.where_new(),
        "sentence": sentence,
        "typed": dict.fromkeys(FACTS, "") | typed,
        "problems": (),
    }


def _common(answer: Answer, q: Question, title: str, said: tuple[Caveat, ...]) -> dict[str, Any]:
    lines, folded = rigwords.caveats(answer.rig, said)
    return {
        "title": title,
        "riders": [r.name for r in answer.rig.rider],
        "loads": load_choices(answer.rig),
        "inch": q.units == "inch",
        "caveats": lines,
        "folded_caveats": folded,
        "sources": cited(answer.sources),
        "say": say,
        "plain": plain,
        "sentence": sentence,
    }


def worth(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for worth.html."""
    study = answer.study
    assert isinstance(study, WorthAnswer)
    return _common(answer, q, "Worth", study.caveats) | {
        "w": study,
        "rows": [_worth_row(row, q, number) for number, row in enumerate(study.rows)],
    }


def _worth_row(row: WorthRow, q: Question, number: int) -> dict[str, Any]:
    return {
        "row": row,
        "picture": pictures.receipt_picture(row, number),
        "why": words_loads.worth_row(row),
        "yes": offers(row.nearest_yes, None, dataclasses.replace(q, load=row.load)),
        "facts": [
            ("At the thing itself, one use", say(row.energy_use, "J")),
            ("From the legs, one use", say(row.energy_legs, "J")),
            ("How it is run", row.runs),
            ("Riding a day", say(row.per_day, "s")),
            ("Food for one use", say(row.food, "kcal")),
            ("Food above sitting still", say(row.food_above_rest, "kcal")),
            ("Breath above sitting still, as CO2", say(row.co2_litres, "L")),
        ],
        "chain": [(name, share(passed)) for name, passed in row.chain],
    }


def loads(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for loads.html."""
    study = answer.study
    assert isinstance(study, LoadsAnswer)
    charge = study.charge
    seen = shows(answer, q, effort=q.effort)
    said = (*study.caveats, *(c for row in study.rows for c in row.caveats))
    facts = []
    if charge is not None:
        facts = [
            ("Stop or hold charging at", say(charge.set_voltage, "V", digits=3)),
            ("Most amps its case allows", say(charge.current_limit, "A")),
            ("Amps these legs give", say(charge.amps, "A")),
            ("Amps it takes of them", say(charge.accepted, "A")),
            ("Watts into it", say(charge.p_battery, "W")),
            ("Full enough to stop riding at", share(charge.useful_end)),
            ("Riding until then", say(charge.useful_time, "s")),
            ("What this ride puts in", say(charge.ride_gain, "%")),
            ("Keep it at, once full", say(charge.float_voltage, "V", digits=3)),
        ]
    return _common(answer, q, "Loads", said) | {
        "l": study,
        "head": without(answer.answer, _said_below(study)) or answer.answer,
        "rows": [
            _load_row(row, q, number) | {"seconds": seen.get(row.load, NO_SHOW)}
            for number, row in enumerate(study.rows)
        ],
        "charge": charge,
        "charge_seconds": seen.get("charge", NO_SHOW),
        "charge_says": words_loads.charge(charge) if charge is not None else "",
        "charge_facts": [(t, v) for t, v in facts if v],
        "charge_times": [(share(level), say(time, "s")) for level, time in charge.times]
        if charge is not None
        else [],
        "charge_picture": pictures.charge_picture(charge) if charge is not None and charge.curve else None,
    }


def _said_below(study: LoadsAnswer) -> list[str]:
    """What stands under each load's own name."""
    said = [words_loads.charge(study.charge)] if study.charge is not None else []
    for row in study.rows:
        said.append(sentence(row.dc_why))
        said += [words_loads.bout(row.bout)] if row.bout is not None else []
        said += [words_loads.run(row.run)] if row.run is not None else []
    return said


def _load_row(row: LoadAnswer, q: Question, number: int) -> dict[str, Any]:
    states = [_state(s, row) | {"seconds": q.seconds(s.seconds)} for s in row.states]
    heads = [head for head in (states[0]["cells"] if states else ()) if any(s["cells"][head] for s in states)]
    return {
        "row": row,
        "heads": heads,
        "answer": words_loads.load_answer(row, brief=True),
        "states": states,
        "yes": offers(row.nearest_yes, None, dataclasses.replace(q, load=row.load)),
        "dc_why": sentence(row.dc_why),
        "bout": words_loads.bout(row.bout) if row.bout else "",
        "bout_picture": pictures.bout_picture(row.bout, number) if row.bout else None,
        "facts": _load_facts(row),
    }


def _load_facts(row: LoadAnswer) -> list[tuple[str, Any]]:
    facts: list[tuple[str, Any]] = []
    if row.bout is not None:
        b = row.bout
        facts += [
            ("A bout", say(b.bout, "s")),
            ("The breather after it", say(b.breather, "s")),
            ("From the legs in a bout", say(b.p_bout, "W")),
            ("Longest bout without a breather", say(b.longest, "s")),
            ("Bouts before the reserve is gone", "no limit" if math.isinf(b.cycles) else say(b.cycles, "1")),
        ]
    if row.run is not None:
        facts += [
            ("From the battery alone", _spoken(row.run.time)),
            ("Amps it draws", say(row.run.amps, "A")),
            ("Stop at", say(row.run.cutoff, "V", digits=3)),
            (
                "Riding to put it back",
                _spoken(row.run.legs_time) if math.isfinite(row.run.legs_time.mid) else "",
            ),
        ]
    return [(t, v) for t, v in facts if v]


def _state(s: LoadState, row: LoadAnswer) -> dict[str, Any]:
    why = s.says if s.works else f"{s.stop.value}; {s.says}" if s.says else s.stop.value
    if s.works and s.state == "start" and math.isfinite(s.amps) and math.isfinite(s.volts):
        why = f"takes {plain(s.amps, 'A')} for a moment; {plain(s.volts, 'V', digits=3)} is left"
    return {
        "words": STATES.get(s.state, s.state),
        "ring": "solid" if s.works else "none",
        "works": "yes" if s.works else "no",
        "says": sentence(why),
        "cells": {
            "At the load": say(s.p_load, "W"),
            "From the legs": say(s.p_rider, "W"),
            "Turns a minute": turns(s.hold),
            "For how long": _held(s, row) if s.works else "",
            **(
                _stored(row.run)
                if row.run is not None and s.works and s.state == row.states[-1].state
                else NOTHING
            ),
        },
    }


def _stored(run: RunPlan) -> dict[str, Any]:
    """What one charge of the battery gives, and what it takes to put it back."""
    legs = run.legs_time
    return {
        "On a full battery": _spoken(run.time),
        "Stop at": say(run.cutoff, "V", digits=3),
        "Riding to put it back": _spoken(legs) if math.isfinite(legs.mid) else "",
    }


def _spoken(time: Band) -> Markup:
    """A length of time in the words the sentences use."""
    return Markup('<span class="n n-{}">{}</span>').format(look_of(time.how), spoken.time_span(time))


def _held(s: LoadState, row: LoadAnswer) -> Markup | str:
    """How long these legs hold it; a battery's own time has its own column."""
    if row.run is not None:
        return ""
    if math.isinf(s.time.mid):
        return "" if row.verdict == "not by legs" else "all day"
    return say(s.time, "s")


def guard(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for guard.html."""
    study = answer.study
    assert isinstance(study, GuardAnswer)
    inch = q.units == "inch"
    sizes = [
        {
            "s": s,
            "what": sentence(s.what).rstrip("."),
            "need": say(s.need, s.unit, inch=inch, digits=3 if s.unit == "V" else 2) if s.unit else "",
            "have": say(s.have, s.unit, inch=inch, digits=3 if s.unit == "V" else 2)
            or "the file does not say",
            "why": sentence(s.why),
            "source": short_source(s.source),
            "fine": s.check == "not refused" and math.isfinite(s.have),
        }
        for s in study.sizes
    ]
    return _common(answer, q, "Guard", study.caveats) | {
        "g": study,
        "findings": told(study.findings, q, shows(answer, q, load=q.load)),
        "said": [f"{f.says} {f.do}" for f in study.findings],
        "sizes": [s for s in sizes if not s["fine"]],
        "enough": [s for s in sizes if s["fine"]],
        "wiring": pictures.wiring_picture(answer.rig, inch=inch),
    }


def heap(answer: Answer, q: Question) -> dict[str, Any]:
    """Names for heap.html."""
    study = answer.study
    assert isinstance(study, HeapAnswer)
    machines = [
        {
            "m": m,
            "why": words_guard.machine(m),
            "odd": [sentence(o) for o in m.odd],
            "facts": [
                ("Volts per speed", say(m.k_emf, "V*s/rad")),
                ("Winding", say(m.r_wind, "ohm")),
                ("Brushes keep", say(m.brush_drop, "V")),
                ("Drag, open", say(m.friction, "N*m")),
                ("Board it wants", m.board),
            ],
            "best": [(say(p, "W"), say(w, "rad/s"), say(v, "V"), say(lost, "W")) for p, w, v, lost in m.best],
        }
        for m in study.machines
    ]
    combinations = [
        {
            "c": c,
            "hold": turns(c.hold),
            "delivered": say(c.delivered, "W"),
            "chance": spoken.chance(c.chance),
            "cost": plain(c.cost, "1"),
            "why": words_guard.combination(c),
        }
        for c in study.combinations
    ]
    return _common(answer, q, "Heap", study.caveats) | {
        "h": study,
        "machines": machines,
        "combinations": combinations,
    }
