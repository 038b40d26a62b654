"""The readings file: read as people write it, added to without touching a byte, nothing ever lost."""

from __future__ import annotations

import datetime
import math
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sparewatt.errors import BadRequest, BadRig, CannotWrite, ChangedElsewhere, NotFound
from sparewatt.files import whole
from sparewatt.files.cells import cell_text, records, separator
from sparewatt.files.readings import COLUMNS, READINGS_FILE, read_readings, readings_path, readings_text
from sparewatt.files.readings_write import (
    NewReading,
    add_reading,
    blank,
    set_aside,
    take_back,
    write_readings,
)
from sparewatt.studies.bench.known_taken import taken_of
from sparewatt.studies.bench.procedures import guide, guides
from sparewatt.studies.bench.reading_kinds import KINDS, READINGS

BY_HAND = """\
# my readings, shed
at, procedure, what, value, unit, range, meter, temperature, who, note, used, lamp

10:05, open_volts, volts, 12.3, V, 20 V, yellow meter, 22 degC, Ansa, , ,
     ,           , speed, 1480 rpm, , , film, , , "flag, on the chuck", ,
 10:10, open_volts, volts, 12.9 V +/- 0.2, , , , warm, , , no: clip fell off, red
, , speed, 24.5, turn/s, , , , , , ,
10:20, falling_weight, mass, 2.0, kg,,kitchen scale,,,,yes,
, , height, 39 3/8, in
, , fall_time, 0.9 to 1.0 s
, , fall_time,
"""


def taken(found):
    """The whole readings that the lines of a file make up, and those that lack something."""
    return taken_of(found.ready)


def text_of(text: str, **more):
    """Readings of a text."""
    return readings_text(text, Path("readings.csv"), **more)


# ---- reading ----


def test_reads_what_people_write():
    """Spaces, comments, blank cells for "as above", units in either place, spreads, fractions, a feel, an unknown column."""
    found = text_of(BY_HAND)
    one, two, three, four, mass, height, fall = (row.entry for row in found.rows)
    assert (one.at, one.procedure, one.what, one.value, one.line) == ("10:05", "open_volts", "volts", 12.3, 4)
    assert one.scale == "20 V"
    assert (one.meter, one.who) == ("yellow meter", "Ansa")
    assert one.temperature == pytest.approx(295.15)
    assert math.isnan(one.sd)
    assert (two.at, two.procedure, two.note) == ("10:05", "open_volts", "flag, on the chuck")
    assert two.value == pytest.approx(1480 * 2 * math.pi / 60)
    assert (three.value, three.sd, three.used) == (12.9, pytest.approx(0.2), False)
    assert 300 < three.temperature < 320
    assert four.value == pytest.approx(24.5 * 2 * math.pi)
    assert (mass.value, mass.used) == (2.0, True)
    assert height.value == pytest.approx(39.375 * 0.0254)
    assert (fall.value, fall.sd) == (pytest.approx(0.95), pytest.approx(0.05 / 1.6449, rel=1e-4))
    assert found.rows[2].why == "clip fell off"
    assert dict(found.rows[2].extra) == {"lamp": "red"}
    assert [row.line for row in found.waiting] == [11]
    whole_ones, lacking = taken(found)
    assert [(one.at, one.used) for one in whole_ones] == [("10:05", True), ("10:10", False)]
    assert [one.at for one in lacking] == ["10:20"]  # nobody wrote the radius


def test_every_problem_at_once_with_its_line():
    """Five faults on five lines are five problems, each with its line, and the good line is still read."""
    text = (
        "at,procedure,what,value,unit\n"
        "1,open_volts,volts,12.3,V\n"
        "2,open_vots,volts,12.3,V\n"
        "3,open_volts,wolts,12.3,V\n"
        '4,open_volts,volts,"12,3",V\n'
        "5,open_volts,volts,12.3,\n"
        "6,falling_weight,mass,-2,kg\n"
    )
    with pytest.raises(BadRig) as caught:
        text_of(text)
    problems = caught.value.problems
    assert [problem.line for problem in problems] == [3, 4, 5, 6, 7]
    assert "open_volts" in problems[0].hint
    assert "volts" in problems[1].hint
    assert "point" in problems[2].problem
    assert "unit" in problems[3].problem
    assert [row.line for row in text_of(text, partly=True).rows] == [2]
    assert len(text_of(text, partly=True).problems) == 5


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("1,open_volts,volts,12,V\n", 1),
        ("at,procedure,what,value\n1,open_volts,volts,12 V,,,extra\n", 2),
        ("at,what,value\n1,volts,12 V\n", 1),
        ("at,procedure,what,value,value\n1,open_volts,volts,12 V,\n", 1),
        ("at,procedure,what,value\n,open_volts,volts,12 V\n", 2),
        ("at,procedure,what,value,used\n1,open_volts,volts,12 V,perhaps\n", 2),
        ("at,procedure,what,value,temperature\n1,open_volts,volts,12 V,30\n", 2),
        ("at,procedure,what,value\n1,appliance_look,dial,perhaps\n", 2),
    ],
)  # fmt: skip
def test_faults_are_named(text, line):
    """No header, too many cells, a missing or doubled column, no mark, an odd word: each is said with its line."""
    found = text_of(text, partly=True)
    assert found.problems[0].line == line


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_any_usual_table(mark, ending):
    """Commas, semicolons or tabs, any line break, with or without the mark at the start that some programs write."""
    text = BY_HAND.replace('"flag, on the chuck"', "flag").replace(",", mark).replace("\n", ending)
    plain = [(row.entry.what, row.entry.value) for row in text_of(BY_HAND).rows]
    for lead in ("", "\ufeff"):
        assert [(row.entry.what, row.entry.value) for row in text_of(lead + text).rows] == plain


def test_a_header_may_come_again():
    """A second header further down names the columns from there on."""
    text = (
        "at,procedure,what,value\n1,open_volts,volts,12 V\nvalue,what,at,procedure\n13 V,volts,2,open_volts\n"
    )
    assert [row.entry.value for row in text_of(text).rows] == [12.0, 13.0]


def test_part_holds_within_one_reading():
    """An empty part is that of the line above within one reading, none in the next, and "-" says none."""
    text = (
        "at,procedure,what,value,part\n1,board_power,volts_in,12 V,one\n,,amps_in,1 A,\n,,amps_in,1 A,-\n"
        "2,board_power,volts_in,12 V,\n2,board_power,amps_in,1 A,two\n,board_idle,amps_in,1 A,\n"
    )
    assert [row.entry.part for row in text_of(text).rows] == ["one", "one", "", "", "two", ""]


def test_no_file_is_no_reading(tmp_path):
    """A rig without readings has none; the file is found from folder, rig file or itself."""
    assert read_readings(tmp_path).rows == ()
    assert readings_path(tmp_path) == readings_path(tmp_path / "rig.toml") == tmp_path / READINGS_FILE
    assert readings_path(tmp_path / "other.csv") == tmp_path / "other.csv"


def test_not_text(tmp_path):
    """A file that is no UTF-8 says on which line."""
    (tmp_path / READINGS_FILE).write_bytes(b"at,procedure,what,value\n1,open_volts,volts,12\xff V\n")
    with pytest.raises(BadRig) as caught:
        read_readings(tmp_path)
    assert caught.value.problems[0].line == 2
    with pytest.raises(BadRig):
        add_reading(tmp_path, "open_volts", {"volts": "12 V"})


@given(st.text(max_size=400))
def test_any_text_is_read_or_said(text):
    """Whatever stands in the file, each row is a reading, a waiting place or a problem, and nothing else is raised."""
    found = text_of(text, partly=True)
    rows = list(records(text.removeprefix("\ufeff"), separator(text.removeprefix("\ufeff"))))
    told = {row.line for row in (*found.rows, *found.waiting)} | {problem.line for problem in found.problems}
    assert told <= {row.line for row in rows}


@given(
    st.lists(st.lists(st.text(max_size=12), min_size=1, max_size=5), min_size=1, max_size=5),
    st.sampled_from(",;\t"),
)
def test_cells_come_back(table, mark):
    """Any text written as a cell is read as the same text, line breaks, quotes and separators too."""
    text = "".join(mark.join(cell_text(value, mark) for value in row) + "\n" for row in table)
    wanted = [row for row in table if any(value.strip() for value in row) or len(row) > 1]
    found = [[cell.text for cell in row.cells] for row in records(text, mark)]
    if mark == "\t":  # a row of empty cells parted by tabs is an empty line
        wanted = [row for row in wanted if any(row)]
    assert found == wanted


def test_what_was_measured_once_holds_on():
    """A second fall without its height and radius takes them from the first, and both are whole readings."""
    text = (
        "at,procedure,what,value\n1,falling_weight,string_radius,20 mm\n,,height,1 m\n,,mass,2 kg\n,,fall_time,0.9 s\n"
        "2,falling_weight,fall_time,0.92 s\n"
    )
    whole_ones, lacking = taken(text_of(text))
    assert [one.values["height"].value[0] for one in whole_ones] == [1.0, 1.0]
    assert lacking == ()


# ---- adding ----


def test_adds_behind_what_is_there(tmp_path):
    """Every byte that was there stays; the new lines read back as typed; a file of its own gets a header."""
    added = add_reading(tmp_path, "open_volts", {"volts": "12.3 V", "speed": "1480 rpm"}, meter={"speed": "film"},
                        scale="20 V", temperature="22 degC", who="Ansa", note='flag, "new"')  # fmt: skip
    assert [row.entry.value for row in added.readings.rows] == [12.3, pytest.approx(154.985, abs=1e-3)]
    first = added.readings.rows[0].entry
    assert (first.scale, first.who, first.note, first.meter) == ("20 V", "Ansa", 'flag, "new"', "")
    assert added.readings.rows[1].entry.meter == "film"
    before = (tmp_path / READINGS_FILE).read_bytes()
    again = add_reading(tmp_path, "open_volts", {"volts": "6.1 V"}, at=added.at)
    assert (tmp_path / READINGS_FILE).read_bytes().startswith(before)
    assert {row.entry.at for row in again.readings.rows} == {added.at}
    assert again.lines == (len(before.splitlines()) + 1,)


def test_two_readings_in_one_second_keep_apart(tmp_path):
    """Readings of one kind taken within the same second get marks of their own."""
    now = datetime.datetime(2026, 5, 2, 10, 5, 0, tzinfo=datetime.UTC)
    marks = [add_reading(tmp_path, "open_volts", {"volts": "12 V"}, now=now).at for _ in range(3)]
    assert len(set(marks)) == 3
    found = read_readings(tmp_path)
    assert len({row.entry.at for row in found.rows}) == len(found.rows) == 3


def test_faults_are_all_said_and_nothing_is_written(tmp_path):
    """A reading with two faults names both, and the file is as it was."""
    with pytest.raises(BadRequest) as caught:
        add_reading(tmp_path, "open_volts", {"volts": "12", "wolts": "3 V"}, temperature="30")
    assert len(caught.value.problems) == 3
    assert not (tmp_path / READINGS_FILE).exists()
    with pytest.raises(BadRequest, match="open_volts"):
        add_reading(tmp_path, "open_vlts", {"volts": "12 V"})
    with pytest.raises(BadRequest, match="no value"):
        add_reading(tmp_path, "open_volts", {"volts": " "})


def test_part_is_not_taken_over_by_chance(tmp_path):
    """A value added without a part to a reading of a named part does not become that part's."""
    add_reading(tmp_path, "board_power", {"volts_in": "12 V"}, at="1", part="one")
    found = add_reading(tmp_path, "board_power", {"amps_in": "1 A"}, at="1").readings
    assert [row.entry.part for row in found.rows] == ["one", ""]


VALUES = st.one_of(
    st.floats(1e-6, 500, allow_nan=False).map(lambda x: f"{x!r} V"),
    st.tuples(st.integers(0, 99), st.integers(0, 9)).map(lambda pair: f"{pair[0]}.{pair[1]} V +/- 0.1"),
)
NOTES = st.text(st.characters(blacklist_categories=("Cs", "Cc")), max_size=20)
FILES = st.sampled_from(
    [
        b"",
        b"\xef\xbb\xbfat,procedure,what,value\r\n1,open_volts,volts,12 V\r\n",
        b"# only a remark",
        b"what;at;procedure;value;lamp\nvolts;1;open_volts;12 V;red\n\n  # end",
        b'at,procedure,what,value,note\n1,nonsense,"un closed, 12\n',
        BY_HAND.encode(),
    ]
)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(old=FILES, volts=st.lists(VALUES, min_size=1, max_size=3), note=NOTES, meter=NOTES, part=NOTES)
def test_adding_keeps_every_byte(tmp_path, old, volts, note, meter, part):
    """Whatever the file held, adding keeps all of it in front, and the new values come back exactly as typed."""
    path = tmp_path / READINGS_FILE
    path.write_bytes(old)
    before = read_readings(tmp_path, partly=True)
    added = add_reading(
        tmp_path, "open_volts", [("volts", text) for text in volts], note=note, meter=meter, part=part
    )
    assert path.read_bytes().startswith(old)
    assert added.readings.problems == before.problems
    assert added.readings.rows[: len(before.rows)] == before.rows
    new = added.readings.rows[len(before.rows) :]
    assert [row.entry.value for row in new] == [float(text.split()[0]) for text in volts]
    assert {row.entry.at for row in new} == {added.at}
    assert {(row.entry.note, row.entry.meter) for row in new} == {
        (" ".join(note.split()), " ".join(meter.split()))
    }
    assert tuple(row.line for row in new) == added.lines


def test_somebody_else_was_faster(tmp_path, monkeypatch):
    """When the file changes between reading and writing, or since the caller saw it, nothing is written."""
    add_reading(tmp_path, "open_volts", {"volts": "12 V"})
    path = tmp_path / READINGS_FILE
    seen = read_readings(tmp_path)
    path.write_bytes(path.read_bytes() + b"# by hand\n")
    theirs = path.read_bytes()
    with pytest.raises(ChangedElsewhere):
        add_reading(tmp_path, "open_volts", {"volts": "13 V"}, digest=seen.digest)
    with pytest.raises(ChangedElsewhere):
        set_aside(tmp_path, seen.rows[0].line, "why", digest=seen.digest)
    assert path.read_bytes() == theirs

    real = whole._same_as

    def late(target, before):
        target.write_bytes(theirs + b"# later still\n")
        real(target, before)

    monkeypatch.setattr(whole, "_same_as", late)
    with pytest.raises(ChangedElsewhere):
        add_reading(tmp_path, "open_volts", {"volts": "13 V"})
    assert path.read_bytes() == theirs + b"# later still\n"
    assert [entry.name for entry in tmp_path.iterdir()] == [READINGS_FILE]


def test_a_full_disk_leaves_the_file(tmp_path, monkeypatch):
    """When the disk refuses, the old file stands whole and the refusal is in plain words."""
    add_reading(tmp_path, "open_volts", {"volts": "12 V"})
    before = (tmp_path / READINGS_FILE).read_bytes()

    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CannotWrite, match="No space"):
        add_reading(tmp_path, "open_volts", {"volts": "13 V"})
    assert (tmp_path / READINGS_FILE).read_bytes() == before
    assert [entry.name for entry in tmp_path.iterdir()] == [READINGS_FILE]


WRITER = """
import sys
from sparewatt.files.readings_write import add_reading
for n in range(10_000):
    add_reading(sys.argv[1], "open_volts", {"volts": f"{n} V", "speed": "1000 rpm"}, at=f"{n}", note="x" * 3000)
    print(n, flush=True)
"""


def test_killed_in_the_middle_loses_nothing(tmp_path):
    """A writer killed at any moment leaves whole readings only: all that it reported, and never half of one."""
    for pause in (0.01, 0.03, 0.05):
        command = [sys.executable, "-c", WRITER, str(tmp_path)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as child:
            assert child.stdout is not None
            last = [child.stdout.readline() for _ in range(3)][-1]
            time.sleep(pause)
            child.send_signal(signal.SIGKILL)
            told = (child.stdout.read().split() or [last])[-1]
        found, lacking = taken(read_readings(tmp_path))
        assert lacking == ()
        assert int(found[-1].at) >= int(told)
        (tmp_path / READINGS_FILE).unlink()


ADDER = """
import sys
from sparewatt.files.readings_write import add_reading
for n in range(12):
    add_reading(sys.argv[1], "open_volts", {"volts": f"{n} V"}, at=f"{sys.argv[2]} {n}")
"""


def test_two_at_once_lose_nothing(tmp_path):
    """Two processes that add at the same time both find all their lines in the file."""
    commands = [[sys.executable, "-c", ADDER, str(tmp_path), name] for name in "ab"]
    children = [subprocess.Popen(command) for command in commands]
    assert [child.wait(60) for child in children] == [0, 0]
    marks = {row.entry.at for row in read_readings(tmp_path).rows}
    assert marks == {f"{name} {n}" for name in "ab" for n in range(12)}


# ---- all or nothing ----


def test_a_list_with_a_bad_row_is_not_written_at_all(tmp_path):
    """Of three readings the second cannot be: none stands in the file, and what is wrong is said."""
    new = [
        NewReading(kind="open_volts", values={"volts": volts, "speed": "900 rpm"})
        for volts in ("8 V", "8000 V", "9 V")
    ]
    with pytest.raises(BadRequest, match="no rig shows that"):
        write_readings(tmp_path, new)
    assert not (tmp_path / READINGS_FILE).exists()
    add_reading(tmp_path, "open_volts", {"volts": "7 V", "speed": "800 rpm"})
    with pytest.raises(BadRequest, match="no reading stands"):
        write_readings(tmp_path, [new[0]], used={99: "no: clip"})
    assert len(read_readings(tmp_path).rows) == 2
    assert len(set(write_readings(tmp_path, [new[0], new[2]]).marks)) == 2
    assert len(read_readings(tmp_path).rows) == 6


@pytest.mark.parametrize("missing", ["time", "volts"])
def test_a_moment_without_its_partner_is_not_written(tmp_path, missing):
    """A run-down whose third moment lacks its time, or its volts, is refused whole."""
    pairs = [(what, f"{3 - n} {unit}") for n in range(3) for what, unit in (("time", "s"), ("volts", "V"))]
    del pairs[4 if missing == "time" else 5]
    with pytest.raises(BadRequest, match="each moment needs all"):
        add_reading(tmp_path, "run_down", pairs)
    assert not (tmp_path / READINGS_FILE).exists()


def test_a_moment_without_its_partner_by_hand_is_said_with_its_line():
    """In a file written by hand the run-down is not used, and the line that stands alone is named."""
    head = "at,procedure,what,value\n"
    rows = ["time,0 s", "volts,9 V", "volts,8 V", "time,1 s", "volts,7 V"]
    whole_ones, lacking = taken(text_of(head + "".join(f"1,run_down,{row}\n" for row in rows)))
    assert whole_ones == ()
    assert "by line 4 there is no 'time'" in lacking[0].why


@pytest.mark.parametrize("text", ["1e9 V", "-600 V", "12 V +/- 0 V", "12 V +/- 1e-300 V", "12 V +/- 2000 V"])
def test_what_no_rig_shows_is_said_on_its_line(text):
    """A slipped point or unit, or a spread that no meter has, keeps its line out and no other."""
    found = text_of(f"at,procedure,what,value\n1,open_volts,volts,{text}\n,,speed,900 rpm\n", partly=True)
    assert [problem.line for problem in found.problems] == [2]
    assert [row.line for row in found.rows] == [3]


def test_a_letter_that_steers_a_terminal_keeps_its_line_out():
    """The line is named, the others are read."""
    text = "at,procedure,what,value,note\n1,open_volts,volts,12 V,\x1b[31m\n,,speed,900 rpm,\n"
    found = text_of(text, partly=True)
    assert [(problem.line, "\x1b" in problem.sentence()) for problem in found.problems] == [(2, False)]


# ---- setting aside ----


def test_setting_aside_changes_one_cell(tmp_path):
    """Only the `used` cell of that line changes, the reason is kept, and it can be taken back."""
    path = tmp_path / READINGS_FILE
    path.write_text(BY_HAND)
    found = set_aside(tmp_path, 4, "drill stalled, twice")
    row = next(row for row in found.rows if row.line == 4)
    assert (row.entry.used, row.why, row.entry.value) == (False, "drill stalled, twice", 12.3)
    assert len(found.rows) == len(text_of(BY_HAND).rows)
    changed = [
        (a, b) for a, b in zip(BY_HAND.splitlines(), path.read_text().splitlines(), strict=True) if a != b
    ]
    assert len(changed) == 1
    assert changed[0][1].replace('"no: drill stalled, twice"', "") == changed[0][0]
    back = take_back(tmp_path, 4)
    assert next(row for row in back.rows if row.line == 4).entry.used


def test_setting_aside_where_there_is_no_column(tmp_path):
    """A file without the column gets it, at the end of its header, and nothing else moves."""
    path = tmp_path / READINGS_FILE
    path.write_text(
        "at,procedure,what,value\n1,open_volts,volts,12 V\n2,open_volts,volts\n2,open_volts,volts,13 V"
    )
    found = set_aside(tmp_path, 4, "too low")
    assert [row.entry.used for row in found.rows] == [True, False]
    assert path.read_text() == (
        "at,procedure,what,value,used\n1,open_volts,volts,12 V\n2,open_volts,volts\n2,open_volts,volts,13 V,no: too low"
    )
    short = set_aside(tmp_path, 3, "never read")
    assert short.problems == ()
    assert [row.why for row in short.waiting] == ["never read"]


def test_setting_aside_wants_a_line_and_a_reason(tmp_path):
    """No reason, no such line, or no file: nothing changes and it is said."""
    with pytest.raises(NotFound):
        set_aside(tmp_path, 2, "why")
    add_reading(tmp_path, "open_volts", {"volts": "12 V"})
    before = (tmp_path / READINGS_FILE).read_bytes()
    with pytest.raises(BadRequest, match="Say why"):
        set_aside(tmp_path, 3, " ")
    for line in (1, 2, 99):
        with pytest.raises(BadRequest, match="no reading"):
            set_aside(tmp_path, line, "why")
    assert (tmp_path / READINGS_FILE).read_bytes() == before


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    why=st.text(st.characters(blacklist_categories=("Cs", "Cc")), min_size=1, max_size=30),
    line=st.sampled_from([4, 5, 6, 7, 8, 9, 10]),
)
def test_any_reason_comes_back(tmp_path, why, line):
    """Any reason is kept as written, and every other row stays as it was."""
    path = tmp_path / READINGS_FILE
    path.write_text(BY_HAND)
    if not why.split():
        return
    found = set_aside(tmp_path, line, why)
    for old, new in zip(text_of(BY_HAND).rows, found.rows, strict=True):
        if new.line == line:
            assert (new.why, new.entry.used) == (" ".join(why.split()), False)
        else:
            assert new == old


# ---- an empty sheet ----


@pytest.mark.parametrize("one", guides(), ids=lambda g: g.key)
def test_a_blank_sheet_waits_for_every_reading(one):
    """A blank file of a procedure has no problem, a waiting line for each value, and becomes whole readings once filled."""
    text = blank(one.procedure)
    found = text_of(text)
    assert found.rows == ()
    slots = {slot.what for step in one.procedure.steps for slot in step.slots}
    assert {f"{row.entry.procedure}.{row.entry.what}" for row in found.waiting} == slots
    lines = text.splitlines()
    for row in found.waiting:
        cells = lines[row.line - 1].split(",")
        reading = READINGS[f"{row.entry.procedure}.{row.entry.what}"]
        cells[COLUMNS.index("value")] = (
            "yes" if reading.unit == "yes" else "100" if reading.what == "arm" else "1"
        )
        lines[row.line - 1] = ",".join(cells)
    whole_ones, _ = taken(text_of("\n".join(lines)))
    assert {found.kind for found in whole_ones} == {READINGS[what].kind for what in slots}


def test_a_blank_sheet_repeats_as_the_step_says():
    """Three readings at one speed are three marks; a run-down is one mark with twelve moments."""
    spin, _ = taken(text_of(_filled(blank(guide("spin_open").procedure, day="2 May"))))
    assert [one.kind for one in spin].count("open_volts") == 10
    assert spin[0].at == "2 May 1"
    down, _ = taken(text_of(_filled(blank(guide("run_down").procedure))))
    assert [one.size for one in down] == [12, 12, 12]
    assert KINDS["run_down"].series


def _filled(text: str) -> str:
    """The sheet with a 1 in each place."""
    at = COLUMNS.index("value")
    rows = [
        line.split(",") if line and not line.startswith(("#", "at,")) else [line]
        for line in text.splitlines()
    ]
    return "\n".join(",".join([*row[:at], "1", *row[at + 1 :]]) if len(row) > 1 else row[0] for row in rows)
