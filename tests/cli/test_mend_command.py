"""`sparewatt mend`: what stands on the terminal and in the JSON, the order it stands in, exit codes, and bad words."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from sparewatt.cli import main

Run = Callable[..., tuple[int, str, str]]
HUT = str(Path(__file__).parents[1] / "scenarios" / "ferry_hut.toml")
SWAPPED = ("--ride", "48 rpm in 42/18, nothing joined, -13.2 V")
CONTACT = (
    "--ride", "62 rpm 42/18, 15.2 V, 4.1 A, 12.6 V out, as usual", "--ride", "68 rpm 42/18, 16.2 V, 5.6 A, 12.7 V out, hard",
    "--well", "58 rpm, 13.4 V, 4.8 A, 12.9 V out, as usual, 42/18",
)  # fmt: skip
NUMBER = ("--ride", "58 rpm, 1015 rpm at the machine, 7.95 V, nothing joined, 42/18",
          "--ride", "74 rpm, 1295 rpm at the machine, 10.2 V, nothing joined")  # fmt: skip
FINE = ("--ride", "57.5 rpm, 13.4 V, 4.6 A, 12.9 V out, as usual, 42/18")


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """One command line: (exit code, stdout, stderr)."""

    def go(*words: str) -> tuple[int, str, str]:
        code = main(["mend", HUT, *words])
        out, err = capsys.readouterr()
        return code, out, err

    return go


def flat(text: str) -> str:
    """On one line."""
    return " ".join(text.split())


def test_the_warning_stands_before_everything_else(run: Run) -> None:
    """The word, the sentence, the warning with its reason, and only then what was read."""
    code, out, err = run(*SWAPPED)
    assert (code, err) == (0, "")
    order = [
        "stop",
        "Stop riding until you have looked. Most likely",
        "! Stop riding",
        "What you read, against",
    ]
    places = [flat(out).index(piece) for piece in order]
    assert places == sorted(places)
    assert "Disconnect the battery before you touch a wire." in flat(out)


def test_causes_checks_and_what_each_gives_are_shown(run: Run) -> None:
    """Numbered causes with their check, a table of what each gives, what does not fit marked, improvements last."""
    _, out, _ = run(*CONTACT)
    for piece in (
        "look again", "Most likely a contact is loose", "What it can be", "What each of them gives", "1 gives", "2 gives",
        "(no): that does not go with what you read.", "What would help most", "Keep in mind", "Sources",
    ):  # fmt: skip
        assert piece in flat(out), piece


def test_a_wrong_number_comes_with_its_line_and_the_command_that_tries_it(run: Run) -> None:
    """The command can be copied; run, it answers."""
    _, out, _ = run(*NUMBER)
    assert "stage.1.driven_diameter = " in out
    line = next(line for line in out.splitlines() if "sparewatt match" in line)
    assert f"sparewatt match {HUT} --try 'stage.1.driven_diameter=" in line


def test_strict_says_no_by_exit_code(run: Run) -> None:
    """1 when something is likely wrong, 0 when the rig is well, 2 when nothing could be read."""
    assert run(*CONTACT, "--strict")[0] == 1
    assert run(*SWAPPED, "--strict")[0] == 1
    assert run(*FINE, "--strict")[0] == 0
    assert run("--ride", "cadence sixty", "--strict")[0] == 2


def test_json_is_the_published_object(run: Run) -> None:
    """One object on stdout, the same answer as on the terminal."""
    code, out, err = run(*CONTACT, "--json")
    body: dict[str, Any] = json.loads(out)
    assert (code, err, body["ok"], body["section"], body["verdict"]) == (0, "", True, "mend", "look again")
    assert flat(body["answer"]) in flat(run(*CONTACT)[1])
    assert body["results"]["causes"][0]["key"] == "loose_contact"


def test_with_nothing_typed_it_says_what_to_type_and_what_would_help(run: Run) -> None:
    """No verdict and no causes."""
    code, out, _ = run()
    assert code == 0
    assert 'as in "cadence 62, 11.4 V, 3.1 A, heavy"' in flat(out)
    assert "What it can be" not in out


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--ride", "cadance 60 rpm"), 'did you mean "cadence"?'),
        (("--ride", "62 rpm, 12 V", "--ride", "62 rpm, x"), "moment 2"),
        (("--well", "62 rpm, 12 V"), "when all was well"),
        (("--readings",), "readings file"),
        (("--ride", "62 rpm, 12 V", "--gear", "9/9"), "gear"),
    ],
)
def test_bad_words_leave_with_2_and_say_what_to_type(run: Run, words: tuple[str, ...], says: str) -> None:
    """On stderr for people, as the one problem object for programs."""
    code, out, err = run(*words)
    assert (code, out) == (2, "")
    assert says in err
    code, out, err = run(*words, "--json")
    assert (code, err) == (2, "")
    body = json.loads(out)
    assert body["ok"] is False
    assert body["problems"][0]["try"]
