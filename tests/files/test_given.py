"""What a person names is opened with care, and what is made from a rig never goes over what a person keeps."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest
from tests.files.samples import HUT

from sparewatt.errors import BadRequest, BadRig, CannotWrite, NotFound
from sparewatt.files import read_known, read_readings, read_rig, read_text
from sparewatt.files.edit import changed, made, tried
from sparewatt.files.whole import write_out

PDF = b"%PDF-1.7 a sheet"


@pytest.fixture(params=["pipe", "device", "folder", "socket"])
def no_file(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """Something that is there and is no file; a pipe and a device would wait for ever when opened."""
    path = tmp_path / "thing"
    if request.param == "pipe":
        os.mkfifo(path)
    elif request.param == "device":
        path.symlink_to("/dev/zero")
    elif request.param == "socket":
        import socket

        with socket.socket(socket.AF_UNIX) as here:
            here.bind(str(path))
    else:
        path.mkdir()
    return path


def test_only_a_file_is_opened(no_file: Path) -> None:
    """As rig file, readings, constants and as what is written over, each is refused at once and in words."""
    folder = no_file.parent
    for name, read in (("rig.toml", read_rig), ("readings.csv", read_readings), ("known.toml", read_known)):
        no_file.rename(folder / name)
        with pytest.raises(NotFound, match="not a file"):
            read(folder)
        (folder / name).rename(no_file)
    with pytest.raises(NotFound, match="not a file"):
        write_out(no_file, PDF, ".pdf")


@pytest.mark.parametrize(
    "text", ["a." * 50_000 + "a = 1", "[" + "a . " * 50_000 + "a]", "a = " + "[" * 300 + "]" * 300]
)
def test_what_is_too_deep_is_refused_before_it_takes_memory(text: str) -> None:
    """A key of 50,000 points once took 23 GB: in a file, as a change that is tried, and as a part that is added."""
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(BadRig, match=r"points|deep"):
        read_text(text)
    loaded = read_text(HUT)
    with pytest.raises(BadRequest):
        tried(loaded, [("converter+", text)])
    with pytest.raises(BadRequest):
        tried(loaded, [(text.partition("=")[0].strip(), "1")])
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000  # kB


def test_a_mountain_of_parts_or_faults_is_said_in_a_few_sentences() -> None:
    """Of 100,000 strange keys the first 60 are told; 5,000 loads are not read at all."""
    with pytest.raises(BadRig) as caught:
        read_text("\n".join(f"k{n} = 1" for n in range(100_000)))
    assert len(caught.value.problems) == 61
    with pytest.raises(BadRig, match="5000 of these"):
        read_text('name = "x"\n' + "[[load]]\n" * 5_000)


@pytest.mark.parametrize(
    ("letter", "written"),
    [
        ("\x1b", "\\u001b"),
        ("\x07", "\\u0007"),
        ("\x00", "\\u0000"),
        ("\x9b", "\\u009b"),
        ("\u202e", "\\u202e"),
    ],
)
def test_letters_that_steer_a_terminal_do_not_come_in(letter: str, written: str) -> None:
    """Bare or written as an escape, in a name, a key or a note, each is refused with its line; so is a change with one."""
    for text in (HUT.replace("Lake hut", f"Lake {written}hut"), HUT.replace("Lake hut", f"Lake {letter}hut")):
        with pytest.raises(BadRig) as caught:
            read_text(text)
        assert [problem.line for problem in caught.value.problems] == [2]
        assert letter not in str(caught.value)
    with pytest.raises(BadRig):
        tried(read_text(HUT), [("machine.name", f"motor {letter}[31m")])


# ---- all or nothing ----


def test_several_changes_are_one(tmp_path: Path) -> None:
    """Two limits that only fit together change together; with a third that does not fit, none is written."""
    path = tmp_path / "rig.toml"
    path.write_text(HUT)
    loaded = read_rig(path)
    both = [("converter.0.output_max", "60 V"), ("converter.0.output_min", "50 V")]
    for order in (both, both[::-1]):
        text = changed(loaded, order).text
        assert 'output_max = "60 V"' in text
        assert 'output_min = "50 V"' in text
    with pytest.raises(BadRig):
        made(loaded, [*both, ("machine.resistance", "soft")])
    assert path.read_text() == HUT
    made(loaded, [*both, ("load+", 'name = "stove fan"\npower = "5 W"\nvoltage = "12 V"\nkind = "led"')])
    assert [load.name for load in read_rig(path).rig.load][-1] == "stove fan"


# ---- what is made from a rig ----


@pytest.mark.parametrize(
    "name", ["rig.toml", "readings.csv", "known.toml", "notes.txt", "rig", "picture.pdf"]
)
def test_what_a_person_keeps_is_never_written_over(tmp_path: Path, name: str) -> None:
    """Whatever it is called: only an older sheet makes room for a sheet."""
    (tmp_path / name).write_text(HUT)
    with pytest.raises(CannotWrite):
        write_out(tmp_path / name, PDF, ".pdf")
    assert (tmp_path / name).read_text() == HUT
    link = tmp_path / "sheet.pdf"
    link.symlink_to(tmp_path / name)
    with pytest.raises(CannotWrite):
        write_out(link, PDF, ".pdf")
    assert (tmp_path / name).read_text() == HUT


def test_an_older_sheet_makes_room(tmp_path: Path) -> None:
    """A sheet is written again over itself; a name that a rig's own files have is refused even where none stands."""
    path = tmp_path / "sheet.pdf"
    write_out(path, b"%PDF-1.4 old", ".pdf")
    write_out(path, PDF, ".pdf")
    assert path.read_bytes() == PDF
    with pytest.raises(CannotWrite, match=r"\.csv"):
        write_out(tmp_path / "readings.csv", b"time_s,volts\n", ".csv")
    assert [entry.name for entry in tmp_path.iterdir()] == ["sheet.pdf"]


FULL = """
import resource, sys
from pathlib import Path
from sparewatt.errors import CannotWrite
from sparewatt.files.whole import write_out
resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))
try:
    write_out(Path(sys.argv[1]), b"%PDF-1.7 " + b"x" * 5000, ".pdf")
except CannotWrite as said:
    print(said)
"""


def test_a_full_disk_leaves_the_old_sheet(tmp_path: Path) -> None:
    """When the system stops the write half-way, the old sheet stands whole, nothing lies beside it, and it is said."""
    path = tmp_path / "sheet.pdf"
    path.write_bytes(PDF)
    told = subprocess.run([sys.executable, "-c", FULL, str(path)], capture_output=True, text=True, check=True)
    assert "the disk refused" in told.stdout
    assert path.read_bytes() == PDF
    assert [entry.name for entry in tmp_path.iterdir()] == ["sheet.pdf"]
