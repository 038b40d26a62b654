"""What is no study: the demos, the check of a file, the sheets."""

from __future__ import annotations

from pathlib import Path

from sparewatt import tasks


def test_your_own_copy_of_the_first_demo_is_written_once(tmp_path: Path) -> None:
    """`make run` opens a copy of the first demo; what you changed in it stays."""
    folder = tasks.demo_home(tmp_path)
    file = folder / "rig.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n# mine\n", encoding="utf-8")

    assert tasks.demo_home(tmp_path) == folder
    assert file.read_text(encoding="utf-8").endswith("# mine\n")
