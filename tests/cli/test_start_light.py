"""The command line starts light: help comes before any numerics are loaded."""

from __future__ import annotations

import subprocess
import sys

HEAVY = ("numpy", "scipy", "numba", "fastapi", "typst")


def test_help_loads_no_numerics() -> None:
    """`python -m sparewatt --help` answers in a fresh process that has loaded no numerics, no web and no print engine."""
    code = (
        "import runpy, sys\n"
        "sys.argv = ['sparewatt', '--help']\n"
        "try:\n"
        "    runpy.run_module('sparewatt', run_name='__main__', alter_sys=True)\n"
        "except SystemExit as done:\n"
        "    assert done.code in (0, None), done.code\n"
        f"print('LOADED', *[m for m in {HEAVY!r} if m in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    assert "Usage" in done.stdout
    assert done.stdout.splitlines()[-1].strip() == "LOADED"
