"""On a machine where nothing is compiled yet a scene is answered by the plain twin, and the compiling is sent aside."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

ASK = """
from sparewatt.files import demo_text, read_text
from sparewatt.rig import compiling
from sparewatt.rig.fill import fill
from sparewatt.language.script import script_from_words
from sparewatt.studies.scenes.seconds import NOT_READY, play_scene
import sys
sent = []
compiling.subprocess.Popen = lambda *a, **k: sent.append(a)
filled = fill(read_text(demo_text("cellar")).rig)
answer = play_scene(filled, script_from_words(filled, "at 3 s stop pedalling", load="charge", duration=6.0), runs=8)
print(answer.ends, answer.runs, NOT_READY in answer.caveats, len(sent), "sparewatt.rig.motion_step" in sys.modules)
"""


def test_nothing_waits_for_the_compiler(tmp_path: Path) -> None:
    """With an empty cache: the nominal run is answered plainly, without bands, it says so, one process compiles."""
    env = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    done = subprocess.run(
        [sys.executable, "-c", ASK], env=env, capture_output=True, text=True, timeout=300, check=False
    )
    assert done.stdout.split() == ["stopped", "0", "True", "1", "False"], done.stderr
