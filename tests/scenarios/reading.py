"""Reads the rig files of this folder and asks them, with changes tried on them as a page would."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

from sparewatt.files import Loaded, read_rig, tried
from sparewatt.parts import Rig
from sparewatt.rig.asking import ask_for
from sparewatt.rig.operating import RPM
from sparewatt.studies.answers import GearRow, LoadAnswer, LoadsAnswer, LoadState, MatchAnswer, WorthAnswer
from sparewatt.studies.loads import loads
from sparewatt.studies.match import match
from sparewatt.studies.worth import worth

HERE = Path(__file__).parent
RPM = RPM
WH = 3600.0
AH = 3600.0
MINUTE = 60.0
HOUR = 3600.0
RANK = {"not by legs": 0, "hard work": 1, "good use of legs": 2}
Edits = tuple[tuple[str, str], ...]


@functools.cache
def loaded(name: str, edits: Edits = ()) -> Loaded:
    """The rig file of that name, with edits tried on it."""
    return tried(read_rig(HERE / f"{name}.toml"), edits)


def rig(name: str, edits: Edits = ()) -> Rig:
    """Its rig."""
    return loaded(name, edits).rig


@functools.cache
def asked(name: str, edits: Edits = (), *, nearest: bool = False, **ask: Any) -> MatchAnswer:
    """What `match` answers; what is not given is the file's own [ride]."""
    found = rig(name, edits)
    return match(found, ask_for(found, **ask), nearest=nearest)


@functools.cache
def run(name: str, edits: Edits = (), **ask: Any) -> LoadsAnswer:
    """What `loads` answers."""
    return loads(rig(name, edits), **ask)


@functools.cache
def priced(name: str, edits: Edits = (), **ask: Any) -> WorthAnswer:
    """What `worth` answers."""
    return worth(rig(name, edits), **ask)


def gear(answer: MatchAnswer) -> GearRow:
    """The row of the reported gear."""
    return next(row for row in answer.gears if row.gear == answer.gear)


def appliance(answer: LoadsAnswer, name: str) -> LoadAnswer:
    """The row of one load."""
    return next(row for row in answer.rows if row.load == name)


def state(row: LoadAnswer, name: str) -> LoadState:
    """One way of running of a load."""
    return next(s for s in row.states if s.state == name)


def holds(answer: MatchAnswer) -> list[float]:
    """Cadences (turns a minute) of the holding points of the nominal rig."""
    return [c.w_crank / RPM for c in answer.picture.crossings if c.kind == "holds"]


def tips(answer: MatchAnswer) -> list[float]:
    """Cadences (turns a minute) of the tipping points of the nominal rig."""
    return [c.w_crank / RPM for c in answer.picture.crossings if c.kind == "tips"]


def chatters(answer: MatchAnswer) -> list[float]:
    """Cadences (turns a minute) where the nominal rig only chatters."""
    return [c.w_crank / RPM for c in answer.picture.crossings if c.kind == "chatters"]
