"""`sparewatt bench` from the outside: what it prints, writes and refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sparewatt.cli import main
from sparewatt.files import demo_text


@pytest.fixture
def rig(tmp_path: Path) -> str:
    """A rig folder of its own."""
    (tmp_path / "rig.toml").write_text(demo_text("skerry"), encoding="utf-8")
    return str(tmp_path)


def test_readings_are_written_down_and_told_back(rig: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A reading on the command line goes into the file and into the answer."""
    words = [
        "bench",
        rig,
        "--read",
        "open_volts volts=13.7V speed=620rpm",
        "--read",
        "open_volts volts=24V speed=1080rpm",
    ]
    assert main([*words, "--meter", "yellow", "--range", "200 V"]) == 0
    shown = capsys.readouterr().out
    assert "2 readings make known" in shown and "Every reading" in shown
    assert (Path(rig) / "readings.csv").read_text(encoding="utf-8").count("open_volts") == 4


def test_the_json_is_one_object_with_units_beside(rig: str, capsys: pytest.CaptureFixture[str]) -> None:
    """--json prints exactly one object of the published shape."""
    assert main(["bench", rig, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["ok"] and told["section"] == "bench"
    assert {"constants", "readings", "odd_readings", "next_readings"} <= set(told["results"])


def test_a_procedure_shows_its_cautions_before_its_steps(
    rig: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Cautions come first, then the steps with a place for each reading."""
    assert main(["bench", rig, "spin_open"]) == 0
    shown = capsys.readouterr().out
    assert shown.index("First of all") < shown.index("Steps") < shown.index("____")


def test_hard_efforts_are_kept_back(rig: str, capsys: pytest.CaptureFixture[str]) -> None:
    """With a yes to any question the procedure to the limit is refused with a reason."""
    assert main(["bench", rig, "hard_efforts", "--health", "yes"]) == 2
    assert "hard_efforts" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("open_volts", "--read"),
        ("open_wolts volts=8V speed=3rpm", "open_volts"),
        ("open_volts volts=8foo speed=3rpm", "foo"),
    ],
)
def test_a_reading_that_cannot_be_read_is_said_so_and_not_written(
    rig: str, text: str, says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2, what was read and what would be accepted; the file stays as it was."""
    assert main(["bench", rig, "--read", text]) == 2
    assert says in capsys.readouterr().err
    assert not (Path(rig) / "readings.csv").exists()


def test_keep_writes_the_rig_file(rig: str, capsys: pytest.CaptureFixture[str]) -> None:
    """--keep puts the constant into rig.toml and says which."""
    main(
        [
            "bench",
            rig,
            "--read",
            "open_volts volts=13.7V speed=620rpm",
            "--read",
            "open_volts volts=24V speed=1080rpm",
        ]
    )
    assert main(["bench", rig, "--keep"]) == 0
    assert "machine.emf_constant" in capsys.readouterr().out
    assert "bench, 2 readings" in (Path(rig) / "rig.toml").read_text(encoding="utf-8")


def test_a_film_is_read_and_written_down(rig: str, capsys: pytest.CaptureFixture[str]) -> None:
    """--film with --goes-to says the speed and puts it beside the volts; a slow film is refused with exit code 2."""
    film = ["bench", rig, "--film", "0 12 24 36 48 60", "--rate", "120"]
    assert main([*film, "--goes-to", "open_volts volts=13.2V"]) == 0
    shown = capsys.readouterr().out
    assert "turns a minute" in shown and "1 reading makes known" in shown
    slow = ["bench", rig, "--film", "0 12 23 35 46 58", "--rate", "30"]
    assert main([*slow, "--goes-to", "open_volts volts=3V"]) == 2
    assert "not settled" in capsys.readouterr().err
    assert main([*slow, "--strict", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["results"]["clear"] is False and told["results"]["other_rad_per_s"]


def test_a_list_and_a_drawer_come_from_files(
    rig: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """--series writes a file of moments down; --drawer reads what is in the drawer from a file."""
    times, drawer = tmp_path / "times.csv", tmp_path / "drawer.txt"
    times.write_text("time;volts\n0;12,0\n0,5;10,9\n1;9,8\n", encoding="utf-8")
    drawer.write_text("8 x 12 V 21 W bulb\n", encoding="utf-8")
    assert main(["bench", rig, "--series", f"run_down {times}"]) == 0
    assert (Path(rig) / "readings.csv").read_text(encoding="utf-8").count("run_down,volts") == 3
    capsys.readouterr()
    assert main(["bench", rig, "--dummy", "42 W at 12 V", "--drawer", str(drawer)]) == 0
    shown = capsys.readouterr().out
    assert "Ways to join them" in shown and "guard" in shown
    assert main(["bench", rig, "--series", "run_down"]) == 2
    assert main(["bench", rig, "--sound", str(tmp_path / "none.wav")]) == 2
