"""What every test shares: kernels compiled beforehand, repeatable random tests, the programs found by name, no skips."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.internal.conjecture import providers

ROOT = Path(__file__).resolve().parents[1]

# The same examples on every run and every machine: a failure can be seen again. `more` is for a search by hand.
settings.register_profile(
    "ci",
    derandomize=True,
    deadline=None,
    max_examples=50,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("more", deadline=None, max_examples=2000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))
if os.environ.get("HYPOTHESIS_PROFILE", "ci") == "ci":
    # It mixes in numbers from the source of whatever modules are loaded, which hangs on how tests are dealt out.
    providers._get_local_constants = providers.Constants


def pytest_configure(config: pytest.Config) -> None:
    """Compile the kernels once, before the test processes part, so that none of them waits or answers the slow way."""
    from sparewatt.rig.compiling import is_cached

    if not hasattr(config, "workerinput") and not is_cached():
        subprocess.run([sys.executable, "-m", "sparewatt.rig.warm"], check=True)


def _program(*names: str) -> str:
    """The path of the first of these programs that is installed; a test that needs one fails without it."""
    for name in names:
        found = shutil.which(name)
        if found:
            return found
    pytest.fail(f"{names[0]} is not installed; `make needs` brings it")


@pytest.fixture(scope="session")
def root() -> Path:
    """The folder of the repository."""
    return ROOT


@pytest.fixture(scope="session")
def chromium_path() -> str:
    """The browser the page tests drive."""
    return _program("chromium", "chromium-browser", "google-chrome")


@pytest.fixture(scope="session")
def ngspice_path() -> str:
    """The circuit simulator the electrical tests check against."""
    return _program("ngspice")


@pytest.fixture(scope="session")
def pdftoppm_path() -> str:
    """The program that turns a sheet into a picture."""
    return _program("pdftoppm")


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A test that was skipped has shown nothing, so a run with one is not a pass."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if reporter is None or hasattr(session.config, "workerinput"):
        return
    waived = [*reporter.stats.get("skipped", []), *reporter.stats.get("xfailed", [])]
    if waived and session.exitstatus == pytest.ExitCode.OK:
        reporter.ensure_newline()
        reporter.write_line(f"{len(waived)} skipped or excused: that counts as failed here", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
