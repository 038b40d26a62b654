"""Machine code kept on disk is run as it lies there: only a folder of this user alone is believed; one process fills it."""

from __future__ import annotations

import os
import pickle
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from sparewatt.rig import compiling

KERNEL = """
from sparewatt.rig.compiling import cache_folder, jit

@jit
def one_more(x):
    return x + 1.0

print(one_more(1.0), cache_folder())
"""
ASIDE = """
import subprocess, sys
from sparewatt.rig import compiling, motion
start = subprocess.Popen
def instead(command, **how):
    assert command[1:] == ["-m", "sparewatt.rig.warm"], command
    print(start([sys.executable, "-c", "import time; time.sleep(60)"], **how).pid)
compiling.subprocess.Popen = instead
motion.compile_aside()
motion.compile_aside()
"""


class Planted:
    """Makes a file when it is read back from a pickle."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        """What the reader of the pickle is made to run."""
        return Path.touch, (self.mark,)


def in_a_process(code: Path, cache: Path, home: Path) -> list[str]:
    """What a script says that compiles for this folder."""
    env = {**os.environ, "NUMBA_CACHE_DIR": str(cache), "HOME": str(home)}
    done = subprocess.run(
        [sys.executable, str(code)], env=env, capture_output=True, text=True, timeout=120, check=False
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def script(tmp_path: Path, text: str) -> Path:
    """The text as a file."""
    code = tmp_path / "code.py"
    code.write_text(text, encoding="utf-8")
    return code


@pytest.mark.parametrize(
    ("mode", "believed"), [(0o700, True), (0o770, False), (0o707, False), (0o777, False)]
)
def test_code_planted_where_others_write_is_not_run(tmp_path: Path, mode: int, believed: bool) -> None:
    """The same planted file is run from a folder of one's own, and left alone in one that others can write into."""
    cache, mark = tmp_path / "cache", tmp_path / "mark"
    code = script(tmp_path, KERNEL)
    said, folder = in_a_process(code, cache, tmp_path)
    assert said == "2.0"
    assert Path(folder).parent == cache
    assert stat.S_IMODE(Path(folder).stat().st_mode) == 0o700
    listed = list(cache.rglob("*.nbi"))
    assert listed
    for index in listed:
        index.write_bytes(pickle.dumps(Planted(mark)))
    Path(folder).chmod(mode)
    said, other = in_a_process(code, cache, tmp_path)
    assert said == "2.0"
    assert (other == folder) == believed
    assert stat.S_IMODE(Path(other).stat().st_mode) == 0o700
    assert mark.exists() == believed


def test_a_folder_of_somebody_else_is_not_believed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not when it is theirs, and not when one above it is: they could put another in its place."""
    assert compiling._is_ours(tmp_path / "mine" / "code")
    monkeypatch.setattr(os, "geteuid", lambda: tmp_path.stat().st_uid + 1)
    assert not compiling._is_ours(tmp_path / "mine" / "code")


def test_a_folder_that_can_be_swapped_is_not_believed(tmp_path: Path) -> None:
    """A closed folder in one where all may write: only where each may take away no more than what is theirs."""
    above = tmp_path / "all"
    above.mkdir()
    for mode, believed in ((0o777, False), (0o775, False), (0o1777, True), (0o755, True)):
        above.chmod(mode)
        assert compiling._is_ours(above / "code") == believed, oct(mode)


def test_what_stands_open_to_read_is_closed(tmp_path: Path) -> None:
    """A folder of one's own that others could only look into is kept, and closed."""
    (tmp_path / "code").mkdir(mode=0o755)
    assert compiling._is_ours(tmp_path / "code")
    assert stat.S_IMODE((tmp_path / "code").stat().st_mode) == 0o700


def test_only_one_process_compiles(tmp_path: Path) -> None:
    """While one compiles nobody starts another, nor waits; when it is gone, whatever way, the next who asks starts one."""
    code, cache = script(tmp_path, ASIDE), tmp_path / "cache"
    first = in_a_process(code, cache, tmp_path)
    try:
        assert len(first) == 1
        assert in_a_process(code, cache, tmp_path) == []
        assert in_a_process(code, cache, tmp_path) == []
    finally:
        os.kill(int(first[0]), signal.SIGKILL)
    after = in_a_process(code, cache, tmp_path)
    assert len(after) == 1
    os.kill(int(after[0]), signal.SIGKILL)
