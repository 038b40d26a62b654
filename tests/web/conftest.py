"""What the page tests share: a rig in a folder, the app over stand-in tasks, and over the real ones in a real server."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from fastapi.testclient import TestClient
from playwright.sync_api import Browser
from tests.web import fake_tasks
from tests.web.browser import chromium

from sparewatt.web.app import create_app
from sparewatt.web.lobby import Lobby
from sparewatt.web.serve import config_of, free_socket

RIG = """\
# The house by the river. This comment has to outlive every edit.
name = "House on stilts"

[[rider]]
name = "Lan"
mass = "52 kg"
age = 30
fitness = "active"

[[rider]]
name = "Bao"
fitness = "fit"

[[stage]]
name = "chain"
kind = "chain"
driver_teeth = [42]
driven_teeth = [18, 21, 24]

[[stage]]
name = "rim belt"
kind = "flat_belt"
driver_diameter = "600 mm"
driven_diameter = "40 mm"  # the small one from the printer

[machine]
name = "scooter motor"
kind = "pm_dc"
emf_constant = "0.075 V*s/rad +/- 0.002"
resistance = { value = "0.25 ohm", how = "typical", note = "like its neighbours on the heap" }

[diode]
kind = "schottky"

[battery]
name = "house battery"
chemistry = "flooded"
voltage = "12 V"
capacity = "36 Ah"
charge = "50 %"

[[load]]
name = "lamp"
kind = "led"
power = "10 W"
use_time = "4 h"
"""
HOME = "http://127.0.0.1:8770"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A project folder with one rig."""
    place = tmp_path / "stilts"
    place.mkdir()
    (place / "rig.toml").write_text(RIG, encoding="utf-8")
    return place


@pytest.fixture
def client(folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    """The app over stand-in tasks, asked from this machine."""
    app = create_app(folder, tasks=fake_tasks, home=tmp_path / "home")
    with TestClient(app, base_url=HOME, client=("127.0.0.1", 50000), follow_redirects=False) as one:
        yield one


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    """The app with no rig open yet."""
    app = create_app(None, tasks=fake_tasks, home=tmp_path / "home")
    with TestClient(app, base_url=HOME, client=("127.0.0.1", 50000), follow_redirects=False) as one:
        yield one


@contextmanager
def served(folder: Path | None, home: Path, **kept: Any) -> Iterator[str]:
    """The address of the app over the real tasks unless others are given, served as it is served to people."""
    listener, lobby = free_socket("127.0.0.1", 0), kept.pop("lobby", None) or Lobby()
    running = uvicorn.Server(config_of(create_app(folder, home=home, lobby=lobby, **kept), lobby))
    thread = threading.Thread(target=running.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not running.started:
        assert time.monotonic() < until, "the server did not start"
        time.sleep(0.02)
    yield f"http://127.0.0.1:{listener.getsockname()[1]}"
    running.should_exit = True
    thread.join(10)
    listener.close()


@pytest.fixture
def server(folder: Path, tmp_path: Path) -> Iterator[str]:
    """The app over a rig of its own, for tests that change it."""
    with served(folder, tmp_path / "home") as address:
        yield address


@pytest.fixture(scope="module")
def standing(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The app over one rig, for tests that only look."""
    place = tmp_path_factory.mktemp("stilts")
    (place / "rig.toml").write_text(RIG, encoding="utf-8")
    with served(place, place / "home") as address:
        yield address


@pytest.fixture(scope="module")
def browser(chromium_path: str) -> Iterator[Browser]:
    """One browser for a file of tests."""
    with chromium(chromium_path) as one:
        yield one
