"""Doing what the answer says makes it no worse: offers, and the lines of the settings card, followed and asked again."""

from __future__ import annotations

import math

import pytest
from tests.agreement.rigs import any_rig, known_rigs

from sparewatt import tasks
from sparewatt.files import Loaded, tried
from sparewatt.rig.asking import ask_for
from sparewatt.rig.fill import fill
from sparewatt.studies.answers import MatchAnswer
from sparewatt.studies.guard.findings import put_first
from sparewatt.studies.judging import RANK, judge
from sparewatt.studies.match import match

KNOWN = known_rigs()
SEEDS = range(10)
RIGS = [pytest.param(loaded, id=name) for name, loaded in KNOWN] + [
    pytest.param(seed, id=f"seed {seed}") for seed in SEEDS
]


def loaded_of(rig: Loaded | int) -> Loaded:
    """The rig file."""
    return any_rig(rig) if isinstance(rig, int) else rig


@pytest.mark.parametrize("rig", RIGS)
def test_an_offer_that_is_followed_does_what_it_says(rig: Loaded | int) -> None:
    """Each offer of `match`, made on the file as the page makes it and asked again: a better word, no new stop."""
    loaded = loaded_of(rig)
    filled = fill(loaded.rig)
    for name in [x.name for x in filled.rig.load] + (["charge"] if filled.rig.battery is not None else []):
        answer = tasks.match(loaded, load=name, draws=256)
        found = answer.study
        assert isinstance(found, MatchAnswer)
        had = {f.key for f in put_first(filled, found.ask)}
        for change in found.nearest_yes:
            if not change.proven or not (change.edits or change.ask):
                continue
            now = fill(tried(loaded, change.edits).rig) if change.edits else filled
            ask = change.ask or found.ask
            again = tasks.match(
                tried(loaded, change.edits),
                rider=ask.rider,
                load=ask.load,
                gear=ask.gear,
                effort=ask.effort,
                duration=ask.duration,
                draws=256,
            )
            assert RANK[str(again.verdict)] > RANK[found.verdict], (change.says, again.answer)
            assert {f.key for f in put_first(now, judge(now, ask).ask)} <= had, change.says


@pytest.mark.parametrize("rig", RIGS)
def test_a_settings_card_that_is_followed_comes_back(rig: Loaded | int) -> None:
    """The amps screw set as the card says, asked again in the same gear: the same card, and the amps it promised."""
    loaded = loaded_of(rig)
    filled = fill(loaded.rig)
    if filled.rig.battery is None:
        return
    ask = ask_for(filled.rig, load="charge", draws=0)
    first = match(filled, ask, nearest=False)
    screws = {s.what: s.value for s in first.settings if s.what.endswith("amps screw")}
    if not screws or first.point is None:
        return
    ((what, amps),) = screws.items()
    board = what.removesuffix(": amps screw")
    k = next(n for n, one in enumerate(filled.rig.converter) if one.name == board)
    now = fill(tried(loaded, [(f"converter.{k}.set_current", f"{amps:.6g} A")]).rig)
    again = match(now, ask_for(now.rig, load="charge", gear=first.gear, draws=0), nearest=False)
    shown = [(s.what, s.unit, s.value) for s in again.settings]
    for was, unit, value in ((s.what, s.unit, s.value) for s in first.settings):
        same = next((x for w, u, x in shown if w == was and u == unit), math.nan)
        assert same == pytest.approx(value, rel=1e-3), was
