"""Reading a rig file: what it means, and every planted mistake named at once with its line."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.files.samples import HUT

from sparewatt.errors import BadRig, NotFound, Problem
from sparewatt.files import read_rig, read_text
from sparewatt.files.values import default_spread, read_measured
from sparewatt.files.walk import fields_of
from sparewatt.parts import Battery, Machine, Measured, Stage, Wire
from sparewatt.quantities import BadText

BEFORE_NOW = ("error", "invalid", "optimal", "guaranteed", "traceback", "none")


def problems(text: str) -> tuple[Problem, ...]:
    """Everything that is said of a text that cannot be used."""
    with pytest.raises(BadRig) as caught:
        read_text(text, Path("rig.toml"))
    return caught.value.problems


def changed(old: str, new: str) -> str:
    """The hut's file with one place changed."""
    assert HUT.count(old) == 1, old
    return HUT.replace(old, new)


def test_a_file_means_what_it_says(tmp_path: Path) -> None:
    """Units become SI, spreads and origins are kept, text and lists stand as written, what is not given is None."""
    (tmp_path / "rig.toml").write_text(HUT, encoding="utf-8")
    loaded = read_rig(tmp_path)
    rig = loaded.rig
    assert loaded == read_rig(str(tmp_path / "rig.toml"))
    assert loaded.text == HUT
    assert rig.story == "Wind on the roof,\ntwo riders."
    assert [rider.uses for rider in rig.rider] == ["legs", "arms"]
    assert rig.rider[0].critical_power == Measured(170.0, 15.0, "measured")
    assert rig.rider[0].effort[0].power == Measured(300.0, 9.0, "measured")
    assert rig.stage[0].driven_teeth == (18, 21)
    assert rig.stage[1].driven_diameter == Measured(0.03175, 0.0, "measured")  # set: no spread
    assert rig.machine is not None
    assert rig.machine.resistance == Measured(0.9, 0.05, "measured", "four readings")
    assert rig.machine.plate_voltage == Measured(95.0, 9.5, "nameplate")
    assert rig.machine.emf_constant is not None
    assert rig.machine.emf_constant.value == pytest.approx(12 / (1000 * 2 * math.pi / 60), rel=1e-12)
    assert rig.machine.emf_constant.how == "guess"
    assert rig.machine.winding_limit is not None
    assert rig.machine.winding_limit.value == pytest.approx(403.15)
    assert rig.machine.friction is None
    assert rig.wire[0].size is not None
    assert rig.wire[0].size.value == pytest.approx(2.0809e-6, rel=1e-4)  # 14 AWG, ASTM B258
    assert rig.converter[0].efficiency_curve == ((5.0, 0.78), (50.0, 0.9))
    assert rig.battery is not None
    assert rig.battery.capacity is not None
    assert rig.battery.capacity.value == 36 * 3600
    assert rig.battery.protected is False
    assert rig.battery.in_room is None


def test_where_each_number_came_from() -> None:
    """Every number of the file is listed as it was written, with how it is known and its line."""
    loaded = read_text(HUT)
    by_path = {origin.where: origin for origin in loaded.origins}
    origin = by_path["machine.resistance"]
    assert (origin.written, origin.how, origin.note) == ("0.9 ohm", "measured", "four readings")
    assert HUT.splitlines()[origin.line - 1].startswith("resistance")
    assert by_path["rider.0.effort.0.power"].written == "300 W +/- 3 %"
    assert by_path["machine.plate_voltage"].how == "nameplate"


MISTAKES: list[tuple[str, str, str, str, str, str]] = [
    # (what is planted, old, new, key path, row it stands on, piece of what is said)
    ("key", 'uses = "arms"', 'usse = "arms"', "rider.1.usse", "usse", '"uses"'),
    (
        "key of another part",
        'power = "5 W"',
        'emf_constant = "1 V*s/rad"',
        "load.0.emf_constant",
        "emf_constant",
        "[machine]",
    ),
    ("table", "[ride]", "[rids]", "rids", "[rids]", "[ride]"),
    ("word of the trade", "[machine] #", "[motor] #", "motor", "[motor]", "[machine]"),
    ("choice", 'chemistry = "agm"', 'chemistry = "AMG"', "battery.chemistry", "chemistry", '"agm"'),
    ("unit", 'voltage = "12 V"', 'voltage = "12 A"', "battery.voltage", "voltage", "measures something else"),
    ("spelling of a unit", 'power = "5 W"', 'power = "5 w"', "load.0.power", "power = ", '"W"'),
    (
        "comma",
        'set_voltage = "14.2 V"',
        'set_voltage = "14,2 V"',
        "converter.0.set_voltage",
        "set_voltage",
        "use a point",
    ),
    ("bare number", 'power = "5 W"', "power = 5", "load.0.power", "power = 5", "unit is missing"),
    ("not a number", 'power = "5 W"', "power = nan", "load.0.power", "power = nan", "not a number"),
    ("infinite", 'power = "5 W"', "power = inf", "load.0.power", "power = inf", "not a number"),
    ("too large", 'power = "5 W"', 'power = "1e999 W"', "load.0.power", "power = ", "too large"),
    ("impossible", 'power = "5 W"', 'power = "-5 W"', "load.0.power", "power = ", "more than zero"),
    (
        "zero",
        'emf_constant = "12 V per 1000 rpm"',
        'emf_constant = "0 V/rpm"',
        "machine.emf_constant",
        "emf_constant",
        "more than zero",
    ),
    ("above what can be", 'mass = "70 kg"', 'mass = "700 kg"', "rider.0.mass", "mass", "above 250 kg"),
    (
        "below what can be",
        'winding_limit = "130 degC"',
        'winding_limit = "1 degC"',
        "machine.winding_limit",
        "winding_limit",
        "below 27 degC",
    ),
    ("true or false", "protected = false", 'protected = "no"', "battery.protected", "protected", '"false"'),
    (
        "whole numbers",
        "driver_teeth = [42]",
        "driver_teeth = [42.5]",
        "stage.0.driver_teeth",
        "driver_teeth",
        "42.5",
    ),
    (
        "list",
        "driver_teeth = [42]",
        "driver_teeth = 42",
        "stage.0.driver_teeth",
        "driver_teeth",
        "square brackets",
    ),
    (
        "pairs",
        "[[5, 0.78], [50, 0.9]]",
        "[[5, 0.78], [5, 0.9]]",
        "converter.0.efficiency_curve",
        "efficiency_curve",
        "more than the one",
    ),
    (
        "pair",
        "[[5, 0.78], [50, 0.9]]",
        "[[5, 0.78], 50]",
        "converter.0.efficiency_curve",
        "efficiency_curve",
        "not a pair",
    ),
    (
        "share",
        "[[5, 0.78], [50, 0.9]]",
        "[[5, 0.78], [50, 90]]",
        "converter.0.efficiency_curve",
        "efficiency_curve",
        "efficiency",
    ),
    ("how", 'how = "measured"', 'how = "mesured"', "machine.resistance", "resistance", '"measured"'),
    (
        "key of a value",
        'spread = "0.05 ohm"',
        'sprad = "0.05 ohm"',
        "machine.resistance",
        "resistance",
        '"spread"',
    ),
    (
        "two spreads",
        'value = "0.9 ohm"',
        'value = "0.9 ohm +/- 0.1"',
        "machine.resistance",
        "resistance",
        "given twice",
    ),
    ("needed key", 'name = "Beno"\n', "", "rider.1.name", "[[rider]]", "missing"),
    ("text", 'name = "Beno"', "name = 7", "rider.1.name", "name = 7", "not a text"),
    ("empty name", 'name = "Beno"', 'name = " "', "rider.1.name", 'name = " "', "empty"),
    ("single table for many", "[[wire]]", "[wire]", "wire", "[wire]", "[[wire]]"),
    ("many for a single table", "[battery]", "[[battery]]", "battery", "[[battery]]", "[battery]"),
    (
        "name of a board",
        'through = "step-down board"',
        'through = "stepdown bord"',
        "battery.through",
        "through",
        '"step-down board"',
    ),
    ("name of a rider", 'rider = "Beno"', 'rider = "Bena"', "ride.rider", "rider = ", '"Beno"'),
    ("name of a load", 'load = "charge"', 'load = "drill"', "ride.load", "load = ", '"lamp"'),
    ("gear", 'gear = "42/18"', 'gear = "42/19"', "ride.gear", "gear", "42/21"),
    ("name twice", 'name = "Beno"', 'name = "ansa"', "rider.1.name", 'name = "ansa"', "name of its own"),
    ("no ratio", 'driven_diameter = "1 1/4 in"\n', "", "stage.1", "[[stage]]", "driven_diameter"),
    (
        "crossed",
        'set_voltage = "14.2 V"',
        'input_min = "30 V"\ninput_max = "20 V"',
        "converter.0.input_min",
        "input_min",
        "above",
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "path", "row", "says"), [m[1:] for m in MISTAKES], ids=[m[0] for m in MISTAKES]
)
def test_a_planted_mistake_is_named_with_its_place(
    old: str, new: str, path: str, row: str, says: str
) -> None:
    """Each kind of mistake is found where it was planted: file, line, key, what was read, what to write instead."""
    text = changed(old, new)
    (one,) = [problem for problem in problems(text) if problem.where == path]
    assert one.file == "rig.toml"
    assert one.line is not None
    assert text.splitlines()[one.line - 1].lstrip().startswith(row)
    assert says in one.problem + " " + one.hint
    assert not set(BEFORE_NOW) & set(one.sentence().lower().replace(",", " ").split())


def test_every_mistake_is_named_at_once() -> None:
    """All mistakes that can stand in one file together are found in one reading, in the order of the file."""
    text, planted = HUT, set()
    for _, old, new, path, _, _ in MISTAKES:
        if text.count(old) == 1 and path not in ("rids", "motor", "battery", "stage.0.driver_teeth"):
            text = text.replace(old, new)
            planted.add(path)
    found = problems(text)
    assert len(planted) >= 18
    assert {"battery.through", "ride.load", "ride.gear", "wire", "load.0.emf_constant"} <= planted
    hidden = {"ride.rider"}  # a rider without a name was planted too, and may be the one that is meant
    assert planted - hidden <= {problem.where for problem in found}
    assert [problem.line or 0 for problem in found] == sorted(problem.line or 0 for problem in found)


def test_disagreements_between_parts_are_named_at_once() -> None:
    """Four wrong references in one file give four complaints."""
    text = HUT
    for old, new in [
        ('through = "step', 'through = "x step'),
        ('rider = "Beno"', 'rider = "Q"'),
        ('"charge"', '"saw"'),
        ("42/18", "1/2"),
    ]:
        text = text.replace(old, new)
    assert {p.where for p in problems(text)} == {"battery.through", "ride.rider", "ride.load", "ride.gear"}


def test_mistakes_inside_a_misnamed_table_are_named_too() -> None:
    """A table under another word is looked over as what it was meant to be."""
    text = changed("[machine] #", "[motor] #").replace('plate_voltage = "95 V"', 'plate_voltage = "95 ohm"')
    assert {p.where for p in problems(text)} == {"motor", "motor.plate_voltage", "machine"}


def test_missing_parts() -> None:
    """An empty file is told what a rig file needs."""
    assert {p.where for p in problems("")} == {"name", "rider", "machine"}


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('name = "x"\nresistance = 0.9 ohm\n', 2, "in quotes"),
        ('name = "x"\nresistance = ohm\n', 2, "in quotes"),
        ('name = "x\n', 1, "quotes"),
        ('name = """x\n', 1, "closing quote"),
        ("name = 'x\n", 1, "quote"),
        ("\n\n[machine\n", 3, "[machine]"),
        ("\n[[machine]\n", 2, "[[load]]"),
        ("\nname\n", 2, "equals sign"),
        ("name = 1\nname = 2\n", 2, "twice"),
        ("[a]\n[a]\n", 2, "twice"),
        ("a = [1,\n2\n", 2, "bracket"),
        ("a = {b = 1\n", 1, "same line"),
        ('a = "\\q"\n', 1, "backslash"),
        ("a = 2020-99-99\n", 1, ""),
        ("\u00e4 = 1\n", 1, "accents"),
    ],
)
def test_a_broken_line_is_named_in_plain_words(text: str, line: int, says: str) -> None:
    """What the TOML reader cannot read gets its line and a sentence of ours."""
    (one,) = problems(text)
    assert one.line == line
    assert says in one.problem + " " + one.hint
    assert "(at line" not in one.problem


@given(st.text("[]{}=.,\"'#\n\\ ab1-_", max_size=60) | st.text(max_size=30))
def test_any_text_is_read_or_complained_of(text: str) -> None:
    """No text, however strange, leaks another kind of failure; a stray text never makes a rig."""
    with pytest.raises(BadRig) as caught:
        read_text(text)
    assert all(problem.problem for problem in caught.value.problems)


@pytest.mark.parametrize("text", ["a = " + "9" * 5000, "a = " + "[" * 100_000, "a = 1e400\n" + "b.c = 1\n"])
def test_oversized_texts_are_complained_of(text: str) -> None:
    """Endless digits and endless brackets come out as complaints."""
    assert problems(text)


def test_files_that_are_not_there_or_not_text(tmp_path: Path) -> None:
    """A missing file, a folder without one, other letters than UTF-8 and a mountain of bytes are each said plainly."""
    with pytest.raises(NotFound):
        read_rig(tmp_path)
    with pytest.raises(NotFound):
        read_rig(tmp_path / "nowhere")
    (tmp_path / "rig.toml").write_bytes(b'name = "x"\nstory = "caf\xe9"\n')
    with pytest.raises(BadRig) as caught:
        read_rig(tmp_path)
    assert caught.value.problems[0].line == 2
    (tmp_path / "rig.toml").write_bytes(b"#" * 2_000_001)
    with pytest.raises(BadRig):
        read_rig(tmp_path)


def test_a_byte_order_mark_and_windows_lines_do_no_harm(tmp_path: Path) -> None:
    """A file saved by a Windows editor means the same, and is kept as it stands."""
    text = "\ufeff" + HUT.replace("\n", "\r\n")
    (tmp_path / "rig.toml").write_bytes(text.encode())
    loaded = read_rig(tmp_path)
    assert loaded.text == text
    assert loaded.rig.machine == read_text(HUT).rig.machine


def _spec(record: type, name: str):  # type: ignore[no-untyped-def]
    return fields_of(record)[name]


def test_default_spreads() -> None:
    """A share of the value; of the nearer end for shares, of 20 K for temperatures (common practice, no source)."""
    assert default_spread(2.0, "guess", _spec(Machine, "resistance")) == pytest.approx(0.7)
    assert default_spread(2.0, "nameplate", _spec(Machine, "resistance")) == pytest.approx(0.2)
    assert default_spread(0.97, "guess", _spec(Stage, "efficiency")) == pytest.approx(0.35 * 0.03)
    assert default_spread(0.01, "guess", _spec(Stage, "creep")) == pytest.approx(0.0035)
    assert default_spread(288.15, "guess", _spec(Battery, "temperature")) == pytest.approx(7.0)


@pytest.mark.parametrize(
    ("value", "record", "name", "expected"),
    [
        (12.5, Stage, "ratio", Measured(12.5, 12.5 * 0.35, "guess")),
        ({"value": 12.5, "spread": 0.5}, Stage, "ratio", Measured(12.5, 0.5, "measured")),
        ({"value": "93 %", "spread": "2 %"}, Stage, "efficiency", Measured(0.93, 0.02, "measured")),
        ({"value": "0.9 ohm", "spread": "+/- 5 %"}, Machine, "resistance", Measured(0.9, 0.045, "measured")),
        ({"value": "0.9 ohm", "how": "nameplate"}, Machine, "resistance", Measured(0.9, 0.09, "nameplate")),
        (
            {"value": "0.9 ohm", "spread": "0", "how": "typical", "note": "n"},
            Machine,
            "resistance",
            Measured(0.9, 0.0, "typical", "n"),
        ),
        ("2.5 mm2 +/- 0.1 mm2", Wire, "size", Measured(2.5e-6, 1e-7, "measured")),
        ("2.5 mm2 +/- 10 %", Wire, "size", Measured(2.5e-6, 2.5e-7, "measured")),
    ],
)
def test_ways_of_writing_a_number(value: object, record: type, name: str, expected: Measured) -> None:
    """Plain numbers, texts and tables give value, spread and origin worked out by hand."""
    read = read_measured(value, name, _spec(record, name))
    assert read.value == pytest.approx(expected.value, rel=1e-12)
    assert read.sd == pytest.approx(expected.sd, rel=1e-9)
    assert (read.how, read.note) == (expected.how, expected.note)


@pytest.mark.parametrize(
    "value",
    [True, [1], tomllib.loads("d = 1979-05-27")["d"], 10**400, {}, {"value": []}, {"value": "1", "note": 3}],
)
def test_things_that_are_no_number(value: object) -> None:
    """Dates, lists, true and monsters are complained of."""
    with pytest.raises(BadText):
        read_measured(value, "ratio", _spec(Stage, "ratio"))


@pytest.mark.parametrize(
    ("ratios", "fits"),
    [((12, 12, 11), True), ((200, 200, 200), False), ((12, 12, 12), False), ((0.05, 0.1), False)],
)
def test_all_steps_together_can_be_built(ratios: tuple[float, ...], fits: bool) -> None:
    """Above 1,600 it passes 96,000 turns a minute at 60 of the crank: no winding holds that (common practice, no source)."""
    text = 'name = "x"\n[[rider]]\nname = "a"\n[machine]\n' + "".join(
        f'[[stage]]\nkind = "v_belt"\nratio = {ratio}\n' for ratio in ratios
    )
    if fits:
        read_text(text)
        return
    with pytest.raises(BadRig, match="for one turn of the crank") as caught:
        read_text(text)
    assert caught.value.problems[0].line == 5


def test_a_drive_has_no_more_gears_than_can_be_told_apart() -> None:
    """Three steps of ten by ten gears are a slip of the pen."""
    teeth = ", ".join(str(n) for n in range(20, 30))
    step = f'[[stage]]\nkind = "chain"\ndriver_teeth = [{teeth}]\ndriven_teeth = [{teeth}]\n'
    with pytest.raises(BadRig, match="1000000 gears"):
        read_text('name = "x"\n[[rider]]\nname = "a"\n[machine]\n' + step * 3)
