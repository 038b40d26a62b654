"""What the file does not say is asked for, not stopped; and no silence breaks an answer."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterator
from typing import Any

import pytest
from tests.studies.guard_rigs import AH, RPM, clean_rig, m, with_part

from sparewatt.parts import Battery, Machine, Measured, Rig, Stage, spec_of
from sparewatt.studies.guard.findings import guard

# A battery without any fuse and a battery without a diode are stops even when the file only forgot them.
STOPS = {"no fuse", "no diode"}


def silences() -> Iterator[tuple[str, str]]:
    """Every field of every part of the clean rig that may be left out."""
    rig = clean_rig()
    for top in dataclasses.fields(rig):
        parts = getattr(rig, top.name)
        for index, part in enumerate(parts if isinstance(parts, tuple) else (parts,)):
            if not dataclasses.is_dataclass(part):
                continue
            where = f"{top.name}.{index}" if isinstance(parts, tuple) else top.name
            for field in dataclasses.fields(part):
                old = getattr(part, field.name)
                may_be_silent = isinstance(old, Measured | bool | int) and not spec_of(field).needed
                if (
                    may_be_silent
                    and (top.name, field.name) != ("stage", "driven_diameter")
                    and field.name != "driver_diameter"
                ):
                    yield where, field.name


@pytest.mark.parametrize(("where", "field"), list(silences()))
def test_one_silent_field_is_never_a_stop(where: str, field: str) -> None:
    """Leave one field out: nothing is stopped, and every sentence has its numbers."""
    answer = guard(with_part(clean_rig(), where, **{field: None}))
    stops = [f.key for f in answer.findings if f.check == "stop"] + [
        s.what for s in answer.sizes if s.check == "stop"
    ]
    assert stops == []
    for text in [f.says + f.do for f in answer.findings] + [s.pick + s.why for s in answer.sizes]:
        assert "nan" not in text
        assert "not known" not in text


@pytest.mark.parametrize("part", ["diode", "bus", "place", "clamp", "ride", "prices"])
def test_a_missing_part_does_not_break_the_answer(part: str) -> None:
    """Take one part out whole."""
    rig = dataclasses.replace(clean_rig(), **{part: None})
    if part == "ride":
        rig = dataclasses.replace(rig, battery=clean_rig().battery)
    stops = {f.key for f in guard(rig).findings if f.check == "stop"}
    assert stops <= STOPS
    assert ("no diode" in stops) == (part == "diode")


@pytest.mark.parametrize("part", ["wire", "fuse", "switch", "flywheel", "load", "converter"])
def test_a_missing_list_does_not_break_the_answer(part: str) -> None:
    """Take all wires, all fuses, all boards away."""
    changed: dict[str, Any] = {part: ()}
    rig = dataclasses.replace(clean_rig(), **changed)
    if part == "converter":
        rig = with_part(rig, "battery", through="")
    stops = {f.key for f in guard(rig).findings if f.check == "stop"}
    assert stops == ({"no fuse"} if part == "fuse" else set())


def test_the_least_rig_is_answered() -> None:
    """A plate, a battery and a drive: sizes, questions, and the two stops that silence cannot lift."""
    rig = Rig(
        name="least",
        machine=Machine(plate_voltage=m(24.0), plate_power=m(250.0)),
        stage=(Stage(kind="flat_belt", ratio=m(30.0)),),
        battery=Battery(chemistry="agm", voltage=m(12.0), capacity=m(20 * AH)),
    )
    answer = guard(rig)
    assert {f.key for f in answer.findings if f.check == "stop"} == STOPS
    assert all(math.isfinite(s.need) for s in answer.sizes)


def test_every_gear_is_looked_at() -> None:
    """Three sprockets: the two that pass the rating are named with their volts, the third is what is left."""
    rig = with_part(clean_rig(), "stage.0", driven_teeth=(11, 14, 28))
    rig = with_part(rig, "converter.0", input_max=m(52.0))
    over = next(f for f in guard(rig).findings if f.key.startswith("over-volts: step-down board"))
    fastest, middle = (0.15 * 42 / teeth * 10 * 120 * RPM for teeth in (11, 14))
    assert over.value == pytest.approx(fastest)
    assert "in 42/11" in over.says
    assert f"{middle:.0f} V in 42/14" in over.says
    assert "42/28" in over.do
    assert over.check == "stop"
