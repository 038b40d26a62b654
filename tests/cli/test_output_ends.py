"""Output that ends early, has no room or is not there: the command leaves without a traceback."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from sparewatt.files import write_demo

FULL = Path("/dev/full")  # a device that has no room for anything


@pytest.fixture(scope="module")
def hut(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A demo rig."""
    folder = tmp_path_factory.mktemp("hut")
    write_demo("skerry", folder)
    return str(folder)


def said(*words: str, **how: object) -> subprocess.CompletedProcess[str]:
    """One command run to its end."""
    command = [sys.executable, "-m", "sparewatt", *words]
    return subprocess.run(command, text=True, stderr=subprocess.PIPE, check=False, timeout=100, **how)  # type: ignore[call-overload,no-any-return]


@pytest.mark.parametrize("more", [(), ("--json",)])
def test_a_reader_that_has_gone_is_no_matter(hut: str, more: tuple[str, ...]) -> None:
    """As with `| head -1`: nothing on stderr, and 0."""
    reader, writer = os.pipe()
    os.close(reader)
    ran = said("check", hut, *more, stdout=writer)
    os.close(writer)
    assert (ran.returncode, ran.stderr) == (0, "")


@pytest.mark.parametrize("words", [("check",), ("check", "--json"), ("--help",)])
def test_no_room_is_one_sentence(hut: str, words: tuple[str, ...]) -> None:
    """As with a full disk: one sentence, and 2; also where what is said is a complaint."""
    for place in ([hut], [hut + "/nowhere", "--json"]) if words[0] == "check" else ([],):
        with FULL.open("w") as out:
            ran = said(words[0], *place, *words[1:], stdout=out)
        assert ran.returncode == 2
        assert ran.stderr == "the output cannot be written: No space left on device.\n"


def test_a_syntax_slip_has_its_line_in_where(tmp_path: Path, hut: str) -> None:
    """A program that reads only `where` finds the line."""
    text = (Path(hut) / "rig.toml").read_text().splitlines()
    text[23] = 'name "no equals sign"'
    (tmp_path / "rig.toml").write_text("\n".join(text))
    ran = said("check", str(tmp_path), "--json", stdout=subprocess.PIPE)
    assert [problem["where"] for problem in json.loads(ran.stdout)["problems"]] == ["line 24"]


@pytest.mark.parametrize("letter", ["\x1b[31m", "\x07", "\x9b31m", "\u202e"])
def test_nothing_typed_steers_the_terminal(hut: str, letter: str) -> None:
    """A word with such letters comes back written out, in a complaint and in an answer."""
    for words in (
        ("match", hut, "--load", f"lamp{letter}"),
        ("start", f"run a 10 W lamp, said {letter} twice"),
    ):
        ran = said(*words, stdout=subprocess.PIPE)
        assert letter[0] not in ran.stdout + ran.stderr
